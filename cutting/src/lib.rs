//! Sheet plans. Rectangles and the sheets to cut them from go in; where each
//! piece lies on which sheet comes out. Only guillotine cuts, edge to edge, as
//! a trimmer makes them. Knows rectangles, nothing of cards.
//!
//! This crate holds the vocabulary of that job; sizes are whole numbers of any
//! one unit, so no arithmetic here rounds.
//!
//! ```
//! use cutting::{Piece, Rect, Sheet};
//!
//! let mats = Piece { size: Rect { width: 32, height: 42 }, quantity: 4, may_turn: true };
//! let sheet = Sheet { size: Rect { width: 96, height: 96 }, count: Some(1) };
//! assert!(mats.fits(sheet.size));
//! ```

/// Width and height in whole units, both at least 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Rect {
    /// Extent along the sheet's first side.
    pub width: u32,
    /// Extent along the sheet's second side.
    pub height: u32,
}

impl Rect {
    /// The same rectangle turned by a quarter.
    #[must_use]
    pub const fn turned(self) -> Rect {
        Rect { width: self.height, height: self.width }
    }

    /// Its area in square units.
    pub const fn area(self) -> u64 {
        self.width as u64 * self.height as u64
    }

    /// Whether it holds `other` as it lies.
    pub const fn holds(self, other: Rect) -> bool {
        other.width <= self.width && other.height <= self.height
    }
}

/// A rectangle to cut, and how many of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Piece {
    /// Its size as written.
    pub size: Rect,
    /// How many are wanted.
    pub quantity: u32,
    /// Whether it may lie turned: false for paper whose print has a direction.
    pub may_turn: bool,
}

impl Piece {
    /// Whether one of it can be cut from a sheet of this size.
    pub const fn fits(&self, sheet: Rect) -> bool {
        sheet.holds(self.size) || (self.may_turn && sheet.holds(self.size.turned()))
    }
}

/// A kind of sheet in stock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sheet {
    /// Its size.
    pub size: Rect,
    /// How many there are; `None` for as many as needed.
    pub count: Option<u32>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_directional_piece_does_not_turn() {
        let sheet = Rect { width: 96, height: 48 };
        let upright = Piece { size: Rect { width: 32, height: 56 }, quantity: 1, may_turn: false };
        assert!(!upright.fits(sheet));
        assert!(Piece { may_turn: true, ..upright }.fits(sheet));
    }
}

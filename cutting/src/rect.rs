//! The one shape of this crate. Sizes are whole numbers of any one unit, so no
//! arithmetic here rounds.

/// Width and height in whole units, both at least 1 when they describe paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Rect {
    /// Extent along the sheet's first side.
    pub width: u32,
    /// Extent along the sheet's second side.
    pub height: u32,
}

impl Rect {
    /// A rectangle of these sides.
    pub const fn new(width: u32, height: u32) -> Rect {
        Rect { width, height }
    }

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

//! What is asked for: the pieces to cut, the sheets there are, what counts as
//! best, and what the trimmer can do.

use crate::Rect;

/// A rectangle to cut, and how many of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Piece {
    /// Its size as written.
    pub size: Rect,
    /// How many are wanted.
    pub quantity: u32,
    /// Whether it may lie turned: false for paper whose print has a direction.
    pub may_turn: bool,
    /// What one of it is worth; only [`Goal::MostValue`] asks.
    pub value: u64,
    /// The papers that may serve it ([`Face::paper`]); empty for any.
    pub papers: Vec<u32>,
}

impl Piece {
    /// A piece that any paper may serve, worth its area.
    pub const fn new(width: u32, height: u32, quantity: u32) -> Piece {
        let size = Rect::new(width, height);
        Piece { size, quantity, may_turn: false, value: size.area(), papers: Vec::new() }
    }

    /// The same piece, allowed to lie turned.
    #[must_use]
    pub const fn turning(mut self) -> Piece {
        self.may_turn = true;
        self
    }

    /// The same piece, served by these papers only.
    #[must_use]
    pub fn from_papers(mut self, papers: &[u32]) -> Piece {
        self.papers = papers.to_vec();
        self
    }

    /// Whether one of it can be cut from paper of this size.
    pub const fn fits(&self, sheet: Rect) -> bool {
        sheet.holds(self.size) || (self.may_turn && sheet.holds(self.size.turned()))
    }
}

/// Widths along the four sides of a sheet that a face cannot use: a printed
/// border, a bar of manufacturer's text.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Edges {
    /// Where x is 0.
    pub left: u32,
    /// Where x is the sheet's width.
    pub right: u32,
    /// Where y is 0.
    pub top: u32,
    /// Where y is the sheet's height.
    pub bottom: u32,
}

/// One side of a sheet of paper.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Face {
    /// The paper this face shows; pieces name the papers that may serve them.
    pub paper: u32,
    /// What of it no piece cut for this face may touch, seen from the same
    /// side for both faces of a sheet.
    pub unusable: Edges,
}

/// A kind of sheet in stock.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sheet {
    /// Its size.
    pub size: Rect,
    /// How many there are; `None` for as many as needed.
    pub count: Option<u32>,
    /// What one costs; only [`Goal::LeastCost`] asks. The area by default.
    pub cost: u64,
    /// Its faces, each of which may serve other pieces; empty for plain paper
    /// that serves every piece.
    pub faces: Vec<Face>,
}

impl Sheet {
    /// As many plain sheets of this size as are needed.
    pub const fn new(width: u32, height: u32) -> Sheet {
        let size = Rect::new(width, height);
        Sheet { size, count: None, cost: size.area(), faces: Vec::new() }
    }

    /// The same, but only so many.
    #[must_use]
    pub const fn at_most(mut self, count: u32) -> Sheet {
        self.count = Some(count);
        self
    }

    /// The same, with these faces.
    #[must_use]
    pub fn with_faces(mut self, faces: &[Face]) -> Sheet {
        self.faces = faces.to_vec();
        self
    }
}

/// What makes one plan better than another, after the pieces it leaves out.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Goal {
    /// As few sheets as can be.
    #[default]
    FewestSheets,
    /// Sheets that cost as little as can be.
    LeastCost,
    /// Pieces worth as much as can be, from the sheets there are.
    MostValue,
}

/// Pieces, sheets, and the goal.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Job {
    /// What to cut.
    pub pieces: Vec<Piece>,
    /// What to cut it from.
    pub stock: Vec<Sheet>,
    /// What counts as best.
    pub goal: Goal,
}

/// How often the direction of the cuts may change on the way from the sheet to
/// a piece. The last trim, which frees one piece of its waste, is not counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Stages {
    /// Strips, then pieces.
    Two,
    /// Bands, then strips, then pieces.
    Three,
    /// As often as it takes.
    #[default]
    Free,
}

impl Stages {
    pub(crate) const fn limit(self) -> u32 {
        match self {
            Stages::Two => 2,
            Stages::Three => 3,
            Stages::Free => u32::MAX,
        }
    }
}

/// What the trimmer can do, and how long to look for a better plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Options {
    /// Limit on the changes of direction.
    pub stages: Stages,
    /// What the blade turns to dust, in the job's unit: 0 for a trimmer's.
    pub kerf: u32,
    /// Least width, in the job's unit, that can be held while the blade runs:
    /// each cut has a part at least this wide on one of its sides. 0 for any.
    pub least_strip: u32,
    /// Rounds of search after the first plan. One round takes apart a bit of
    /// the plan and puts it together again; a thousand take some 5 ms.
    pub rounds: u64,
}

/// Enough for batches of cards: past this few plans get better.
const ROUNDS: u64 = 100_000;

impl Default for Options {
    fn default() -> Options {
        Options { stages: Stages::Free, kerf: 0, least_strip: 0, rounds: ROUNDS }
    }
}

/// Why a job cannot be planned.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum CutError {
    /// A size of nothing.
    #[error("{0} has a side of 0; give it a width and a height")]
    Flat(String),
    /// A size that arithmetic on areas could not carry.
    #[error("{0} has a side over {MOST_SIDE}; use a larger unit")]
    TooLarge(String),
    /// More than the planner keeps an overview of.
    #[error("{found} pieces are wanted, at most {MOST_PIECES} can be planned at once; split the job")]
    TooMany {
        /// How many there were.
        found: u64,
    },
    /// A worth or a cost that sums could not carry.
    #[error("{0} has a cost or value over {MOST_WORTH}; use a larger unit")]
    TooDear(String),
    /// A blade or strip wider than any sheet.
    #[error("{0} is over {MOST_SIDE}; no sheet is that wide")]
    TooWide(String),
}

/// Longest side in units: areas and their sums stay far below 2^63.
pub const MOST_SIDE: u32 = 10_000_000;

/// Most pieces of a job, copies counted.
pub const MOST_PIECES: u64 = 20_000;

/// Most that one piece or sheet is worth: sums over `MOST_PIECES` stay below 2^53, exact as floats.
pub const MOST_WORTH: u64 = 400_000_000_000;

impl Job {
    pub(crate) fn check(&self, options: &Options) -> Result<(), CutError> {
        for (name, width) in [("the blade's width", options.kerf), ("the least strip", options.least_strip)] {
            if width > MOST_SIDE {
                return Err(CutError::TooWide(name.to_owned()));
            }
        }
        for (i, face) in self.stock.iter().enumerate().flat_map(|(i, s)| s.faces.iter().map(move |f| (i, f)))
        {
            let Edges { left, right, top, bottom } = face.unusable;
            if [left, right, top, bottom].iter().any(|&e| e > MOST_SIDE) {
                return Err(CutError::TooWide(format!("an unusable edge of sheet {i}")));
            }
        }
        let value = |p: &Piece| if self.goal == Goal::MostValue { p.value } else { 0 };
        let cost = |s: &Sheet| if self.goal == Goal::LeastCost { s.cost } else { 0 };
        let sizes = self.pieces.iter().enumerate().map(|(i, p)| (format!("piece {i}"), p.size, value(p)));
        let sheets = self.stock.iter().enumerate().map(|(i, s)| (format!("sheet {i}"), s.size, cost(s)));
        for (name, size, worth) in sizes.chain(sheets) {
            if size.width == 0 || size.height == 0 {
                return Err(CutError::Flat(name));
            }
            if size.width > MOST_SIDE || size.height > MOST_SIDE {
                return Err(CutError::TooLarge(name));
            }
            if worth > MOST_WORTH {
                return Err(CutError::TooDear(name));
            }
        }
        let found = self.pieces.iter().map(|p| u64::from(p.quantity)).sum();
        if found > MOST_PIECES {
            return Err(CutError::TooMany { found });
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_directional_piece_does_not_turn() {
        let sheet = Rect::new(96, 48);
        let upright = Piece::new(32, 56, 1);
        assert!(!upright.fits(sheet));
        assert!(upright.turning().fits(sheet));
    }

    #[test]
    fn a_job_that_cannot_be_reckoned_with_says_why() {
        let check = |piece: Piece| {
            Job { pieces: vec![piece], stock: vec![Sheet::new(10, 10)], goal: Goal::FewestSheets }
                .check(&Options::default())
                .unwrap_err()
                .to_string()
        };
        assert_eq!(check(Piece::new(0, 1, 1)), "piece 0 has a side of 0; give it a width and a height");
        assert!(check(Piece::new(1, 20_000_000, 1)).contains("use a larger unit"));
        assert!(check(Piece::new(1, 1, 3_000_000)).contains("split the job"));
    }
}

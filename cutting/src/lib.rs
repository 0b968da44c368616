//! Sheet plans. Rectangles and the sheets to cut them from go in; where each
//! piece lies on which sheet comes out. Only guillotine cuts, edge to edge, as
//! a trimmer makes them. Knows rectangles, nothing of cards.
//!
//! ```
//! use cutting::{Goal, Job, Options, Piece, Sheet, plan};
//!
//! // Mats of 4 x 5 1/4 in from 12 x 12 in paper, in sixteenths of an inch.
//! let mats = Piece::new(64, 84, 6);
//! let job = Job { pieces: vec![mats], stock: vec![Sheet::new(192, 192)], goal: Goal::FewestSheets };
//! let plan = plan(&job, &Options::default(), &mut |_| true)?;
//! assert_eq!(plan.sheets.len(), 1);
//! assert!(plan.optimal());
//! # Ok::<(), cutting::CutError>(())
//! ```

mod bound;
mod build;
mod columns;
mod dice;
mod exact;
mod improve;
pub mod instance;
mod job;
mod limited;
mod plan;
mod rect;
mod run;
mod settings;
mod settle;
mod shop;
mod table;
mod tree;
mod verify;

pub use job::{CutError, Edges, Face, Goal, Job, Options, Piece, Sheet, Stages};
pub use job::{MOST_PIECES, MOST_SIDE, MOST_WORTH};
pub use plan::{Content, Cut, Part, Placed, Plan, SheetPlan};
pub use rect::Rect;
pub use run::plan;
pub use verify::{Flaw, verify};

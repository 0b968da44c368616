//! From layouts to cut paper: cards of several layouts made together from the
//! papers of the drawer. `record.rs` is what the maker asks for, `order.rs`
//! what each layout needs, `choose.rs` gives every part a paper, `plan.rs` has the sheets planned, `shortage.rs`
//! says what to do where paper runs short, `serving.rs` turns
//! the question round.

mod choose;
mod order;
mod plan;
mod record;
mod serving;
mod shortage;
#[cfg(test)]
mod tests;

pub(crate) use order::Order;
pub(crate) use plan::{BatchPlan, Ground, PlannedPiece, PlannedSheet, Rectangle, Totals, plan};
pub(crate) use record::{Batch, BatchJson};
pub(crate) use serving::servings;

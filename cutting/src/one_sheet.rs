//! What one sheet gives: which of the pieces, most value first. For questions
//! asked of many jobs at once, such as which layouts a leftover strip is enough
//! for: some milliseconds each.

use crate::{CutError, Goal, Job, Options, Piece, Plan, Sheet, plan};

/// Rounds of search that are enough for what fits on one sheet: a few milliseconds.
pub const QUICK: u64 = 500;

/// Plans one sheet for as much value as it gives: a piece is worth its area
/// unless its `value` says otherwise. [`Plan::complete`] tells whether all of
/// the pieces have a place, `missing` which do not, and [`Plan::optimal`]
/// whether it is proven that no plan does better.
///
/// ```
/// use cutting::{Options, Piece, QUICK, Sheet, from_one_sheet};
///
/// // A leftover strip of 2 1/2 x 12 in, in eighths of an inch: four borders and two squares?
/// let pieces = [Piece::new(10, 32, 4).turning(), Piece::new(16, 16, 2)];
/// let options = Options { rounds: QUICK, ..Options::default() };
/// let plan = from_one_sheet(&Sheet::new(20, 96), &pieces, &options)?;
/// assert!(plan.complete());
/// # Ok::<(), cutting::CutError>(())
/// ```
pub fn from_one_sheet(sheet: &Sheet, pieces: &[Piece], options: &Options) -> Result<Plan, CutError> {
    let stock = vec![sheet.clone().at_most(1)];
    let job = Job { pieces: pieces.to_vec(), stock, goal: Goal::MostValue };
    plan(&job, options, &mut |_| true)
}

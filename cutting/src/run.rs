//! From a job to a plan: a first plan, what no plan can beat, and rounds of
//! search while the caller gives time and the plan is not proven best.

use crate::bound::bound;
use crate::build::build;
use crate::dice::Dice;
use crate::improve::Search;
use crate::plan::{Plan, plan_of};
use crate::shop::Shop;
use crate::{CutError, Goal, Job, Options};

/// Any number: it only has to stay the same.
const SEED: u64 = 12;

/// Plans a job. `keep_going` is shown the best plan so far before every round
/// and ends the search by saying no. The same job, options and answers give
/// the same plan.
pub fn plan(
    job: &Job,
    options: &Options,
    keep_going: &mut dyn FnMut(&Plan) -> bool,
) -> Result<Plan, CutError> {
    job.check()?;
    let shop = Shop::new(job, options);
    let mut dice = Dice::new(SEED);
    let bound = bound(&shop);
    let first = build(&shop, &mut dice);
    let mut best = plan_of(&first, bound);
    if shop.wanted() == 0 {
        return Ok(best);
    }
    let mut least_lost = first.lost;
    let mut search = Search::new(first, u64::MAX, SEED);
    if shop.goal != Goal::MostValue && search.table.done() {
        search.aim(best.score - 1);
    }
    let mut rounds = 0;
    while rounds < options.rounds && !best.optimal() && keep_going(&best) {
        rounds += 1;
        let done = search.round();
        if search.table.lost < least_lost || done {
            least_lost = search.table.lost;
            best = plan_of(&search.table, bound);
        }
        if done && !best.optimal() && shop.goal != Goal::MostValue {
            search.aim(best.score - 1);
        }
    }
    Ok(best)
}

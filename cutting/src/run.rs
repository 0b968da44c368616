//! From a job to a plan: a first plan, what no plan can beat, and rounds of
//! search while the caller gives time and the plan is not proven best.

use crate::bound::{area_bound, bound};
use crate::build::build;
use crate::columns::{self, columns};
use crate::dice::Dice;
use crate::exact::Grid;
use crate::improve::Search;
use crate::limited::limited;
use crate::plan::{Plan, plan_of, whole};
use crate::settle::settle;
use crate::shop::Shop;
use crate::table::Table;
use crate::tree::Tree;
use crate::{CutError, Goal, Job, Options};

/// Any number: it only has to stay the same.
const SEED: u64 = 12;

/// One pricing of column generation takes as long as so many rounds.
const ROUNDS_A_PRICING: u64 = 500;

/// Rounds after which a goal that was not reached is brought nearer.
const PATIENCE: u32 = 4000;

/// Most additions the exact answer for one sheet may take: about a fifth of a second.
const EXACT_WORK: f64 = 3e8;

/// Plans a job. `keep_going` is shown the best plan so far before every round
/// and ends the search by saying no. The same job, options and answers give
/// the same plan.
pub fn plan(
    job: &Job,
    options: &Options,
    keep_going: &mut dyn FnMut(&Plan) -> bool,
) -> Result<Plan, CutError> {
    job.check(options)?;
    let shop = Shop::new(job, options);
    let mut run = Run { shop: &shop, bound: area_bound(&shop), rounds: options.rounds, keep_going };
    let first = build(&shop, &mut Dice::new(SEED));
    let mut best = plan_of(&shop, &first.sheets, run.bound);
    if !run.proven(&best) && (run.keep_going)(&best) {
        run.bound = bound(&shop, best.score).max(run.bound);
        best.bound = run.bound;
    }
    if shop.wanted() > 0 {
        if shop.goal == Goal::MostValue {
            run.most_value(first, &mut best);
        } else {
            run.least_cost(first, &mut best);
        }
    }
    best.bound = run.bound;
    Ok(best)
}

/// A round takes as long as so many additions: the exact answer takes no longer than the search may.
const ADDITIONS_A_ROUND: f64 = 20_000.0;

/// Rounds of search for a good sheet before the best one is looked for; half of them where there are few.
const BEFORE_PROOF: u64 = 20_000;

struct Run<'a> {
    shop: &'a Shop,
    bound: u64,
    rounds: u64,
    keep_going: &'a mut dyn FnMut(&Plan) -> bool,
}

impl Run<'_> {
    fn go_on(&mut self, best: &Plan, rounds: u64) -> bool {
        if self.rounds < rounds || self.proven(best) || !(self.keep_going)(best) {
            return false;
        }
        self.rounds -= rounds;
        true
    }

    fn proven(&self, best: &Plan) -> bool {
        best.cuts_wanted && best.score == self.bound
    }

    fn least_cost(&mut self, first: Table, best: &mut Plan) {
        if self.proven(best) {
            return self.settle(Some(first), &[], best);
        }
        if let Some(grid) = columns::grid(self.shop) {
            let score = best.score;
            let found = columns(self.shop, grid, &mut || self.go_on(best, ROUNDS_A_PRICING));
            if let Some(found) = found {
                self.bound = self.bound.max(found.bound);
                best.bound = self.bound;
                let mut rest = self.shop.clone();
                for (kind, &left) in rest.kinds.iter_mut().zip(&found.left) {
                    kind.quantity = left;
                }
                let rest = build(&rest, &mut Dice::new(SEED));
                self.take(&found.sheets, &rest, best);
                self.search(rest, &found.sheets, best);
                if best.score == score && first.done() {
                    self.settle(Some(first), &[], best);
                }
                return;
            }
        }
        self.search(first, &[], best);
    }

    /// Search among the sheets of a table; `kept` are sheets that stay as they are.
    fn search(&mut self, first: Table, kept: &[Tree], best: &mut Plan) {
        let kept_cost: u64 = kept.iter().map(|t| self.shop.boards[t.board].cost).sum();
        let mut least_lost = first.lost;
        // The best whole plan, until it has been settled.
        let mut unsettled = first.done().then(|| first.clone());
        let mut search = Search::new(first, u64::MAX, SEED);
        // A goal far off is tried first, and brought nearer while it is not reached.
        let mut step = self.step(best);
        let mut tried = 0;
        if unsettled.is_some() {
            match best.score.saturating_sub(step).checked_sub(kept_cost) {
                Some(limit) if !self.proven(best) => search.aim(limit),
                _ => return self.settle(unsettled, kept, best),
            }
        }
        while self.go_on(best, 1) {
            let done = search.round();
            tried += 1;
            if done {
                search.table.shrink();
                unsettled = Some(search.table.clone());
            }
            if done || search.table.lost < least_lost {
                least_lost = search.table.lost;
                self.take(kept, &search.table, best);
            }
            if done {
                step = step.min(self.step(best));
            } else if tried > PATIENCE && unsettled.is_some() {
                self.settle(unsettled.take(), kept, best);
                step = step.div_ceil(2);
            } else if tried > PATIENCE && step > 1 {
                step = step.div_ceil(2);
            } else {
                continue;
            }
            tried = 0;
            match best.score.saturating_sub(step).checked_sub(kept_cost) {
                Some(limit) if !self.proven(best) => search.aim(limit),
                _ => break,
            }
        }
        self.settle(unsettled, kept, best);
    }

    /// Makes the best plan nicer at the same cost.
    fn settle(&mut self, table: Option<Table>, kept: &[Tree], best: &mut Plan) {
        let Some(table) = table else { return };
        let settled = settle(table, SEED, &mut || {
            if self.rounds == 0 || !(self.keep_going)(best) {
                return false;
            }
            self.rounds -= 1;
            true
        });
        let sheets: Vec<Tree> = kept.iter().chain(&settled.sheets).cloned().collect();
        let found = plan_of(self.shop, &sheets, self.bound);
        if found.score <= best.score && found.missing == best.missing {
            *best = found;
        }
    }

    /// How much less the next plan is to cost.
    fn step(&self, best: &Plan) -> u64 {
        (best.score.saturating_sub(self.bound) / 8).max(1)
    }

    /// Keeps a plan if it is better than the best.
    fn take(&self, kept: &[Tree], table: &Table, best: &mut Plan) {
        let sheets: Vec<Tree> = kept.iter().chain(&table.sheets).cloned().collect();
        let found = plan_of(self.shop, &sheets, self.bound);
        let missing = |p: &Plan| -> u64 {
            p.missing.iter().zip(&self.shop.kinds).map(|(&n, k)| u64::from(n) * k.area).sum()
        };
        if (missing(&found), found.score) < (missing(best), best.score) {
            *best = found;
        }
    }

    /// Looks for the best sheet and for the proof that none is worth more.
    fn prove(&mut self, grid: Grid, best: &mut Plan) {
        let shop = self.shop;
        let known = best.score;
        let found = limited(shop, grid, known, &mut |rounds, bound| {
            self.bound = self.bound.min(bound);
            best.bound = self.bound;
            self.go_on(best, rounds)
        });
        let Some(found) = found else { return };
        self.bound = self.bound.min(found.bound);
        if let Some(tree) = found.tree {
            *best = plan_of(shop, &[tree], self.bound);
        }
        best.bound = self.bound;
    }

    fn most_value(&mut self, first: Table, best: &mut Plan) {
        let mut exact = None;
        if let [board] = self.shop.boards[..]
            && board.count > 0
            && let Some(mut grid) = Grid::new(
                self.shop,
                board.width,
                board.height,
                EXACT_WORK.min(self.rounds as f64 * ADDITIONS_A_ROUND),
            )
        {
            let prices: Vec<f64> = self.shop.kinds.iter().map(|k| k.worth).collect();
            grid.fill(self.shop, &prices);
            let most = grid.value(board.width, board.height) * f64::from(board.count);
            self.bound = self.bound.min(whole(most));
            let mut left: Vec<u32> = self.shop.kinds.iter().map(|k| k.quantity).collect();
            let sheets: Vec<Tree> = (0..board.count.min(self.shop.wanted()))
                .map(|_| grid.cut(self.shop, 0, &prices, &mut left))
                .filter(|t| t.pieces > 0)
                .collect();
            let found = plan_of(self.shop, &sheets, self.bound);
            if found.score > best.score {
                *best = found;
            }
            best.bound = self.bound;
            exact = (board.count == 1).then_some(grid);
        }
        let mut search = Search::new(first, u64::MAX, SEED);
        let (mut rounds, before_proof) = (0, BEFORE_PROOF.min(self.rounds / 2));
        while self.go_on(best, 1) {
            search.round();
            rounds += 1;
            if rounds >= before_proof
                && let Some(grid) = exact.take()
            {
                self.prove(grid, best);
            }
            if search.table.lost + (best.score as f64) < self.shop.wanted_worth() - 0.5 {
                *best = plan_of(self.shop, &search.table.sheets, self.bound);
            }
        }
    }
}

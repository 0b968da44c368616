//! Takes a bit of the plan apart and puts it together again, round after
//! round. Method: goal-driven ruin and recreate (Gardeyn & Wauters, "A
//! goal-driven ruin and recreate heuristic for the 2D variable-sized bin
//! packing problem with guillotine constraints", 2022): a whole plan that
//! costs less than the best one is the goal, pieces that found no place are
//! what is left to mend. Late acceptance (Burke & Bykov, 2017) decides.

use crate::Goal;
use crate::dice::Dice;
use crate::shop::Kind;
use crate::table::Table;

pub(crate) struct Search<'a> {
    pub(crate) table: Table<'a>,
    dice: Dice,
    /// Highest cost of sheets allowed.
    limit: u64,
    /// What was lost in each of the last rounds.
    past: Vec<f64>,
    round: usize,
    /// Least lost since the goal was set, and the rounds since then.
    least: f64,
    stuck: u32,
}

/// How many rounds ago a plan is compared with. Measured: 20 to 1000 do alike.
const PAST: usize = 200;

/// Rounds without a gain after which worse plans are let in again.
const STUCK: u32 = 4000;

/// How much worse, as a part of what waits; for value, of what is cut.
const HEAT: f64 = 0.5;
const HEAT_OF_VALUE: f64 = 0.03;

/// How often a place is passed over.
const PASS_OVER: f64 = 0.01;

/// How often whole sheets are taken apart, where all sheets are alike and where they differ.
const WHOLE_SHEETS: [f64; 2] = [0.1, 0.3];

/// Most whole sheets that are taken apart in one round, where they differ.
const MOST_WHOLE: usize = 6;

/// Most parts that are taken out in one round, and from how many sheets.
const MOST_PARTS: usize = 12;
const MOST_SPAN: usize = 4;

impl<'a> Search<'a> {
    pub(crate) fn new(table: Table<'a>, limit: u64, seed: u64) -> Search<'a> {
        Search {
            table,
            dice: Dice::new(seed),
            limit,
            past: vec![f64::INFINITY; PAST],
            round: 0,
            least: f64::INFINITY,
            stuck: 0,
        }
    }

    /// Sets the goal: sheets go, the emptiest first, until the rest is within `limit`.
    pub(crate) fn aim(&mut self, limit: u64) {
        self.limit = limit;
        while self.table.cost > limit {
            let Some(place) = (0..self.table.sheets.len())
                .filter(|&p| self.table.sheets[p].pieces > 0)
                .min_by_key(|&p| self.table.sheets[p].area)
            else {
                break;
            };
            self.table.remove(place, 0);
        }
        self.table.tidy();
        self.past.fill(self.table.lost);
        (self.least, self.stuck) = (self.table.lost, 0);
    }

    /// One round. True when every piece has a place.
    pub(crate) fn round(&mut self) -> bool {
        let before = self.table.lost;
        self.table.mark();
        self.ruin();
        self.recreate();
        let after = self.table.lost;
        let slot = self.round % self.past.len();
        self.round += 1;
        if after <= before || after < self.past[slot] {
            self.table.tidy();
        } else {
            self.table.take_back();
        }
        self.past[slot] = self.past[slot].min(self.table.lost);
        self.stuck += 1;
        if self.table.lost < self.least {
            (self.least, self.stuck) = (self.table.lost, 0);
        } else if self.stuck > STUCK {
            self.stuck = 0;
            let worst = self.table.lost + self.heat();
            self.past.fill(worst);
        }
        self.table.done()
    }

    /// How much worse a plan may get when the search is stuck.
    fn heat(&self) -> f64 {
        let shop = self.table.shop;
        if shop.goal != Goal::MostValue {
            return HEAT * self.table.lost;
        }
        HEAT_OF_VALUE * (shop.wanted_worth() - self.table.lost)
    }

    /// Takes parts or whole sheets apart.
    pub(crate) fn ruin(&mut self) {
        let sheets = self.table.sheets.len();
        if sheets == 0 {
            return;
        }
        let sizes = self.table.shop.boards.len();
        if self.dice.unit() < WHOLE_SHEETS[usize::from(sizes > 1)] {
            let many = if sizes > 1 { 1 + self.dice.below(MOST_WHOLE) } else { 1 };
            for _ in 0..many {
                let place = self.dice.below(sheets);
                self.table.remove(place, 0);
            }
            return;
        }
        let mut parts = 1 + self.dice.below(MOST_PARTS);
        let span = 1 + self.dice.below(MOST_SPAN);
        let places: Vec<usize> = (0..span).map(|_| self.dice.below(sheets)).collect();
        let mut tries = 4 * parts;
        while parts > 0 && tries > 0 {
            tries -= 1;
            let place = places[self.dice.below(places.len())];
            let tree = &self.table.sheets[place];
            let node = u32::try_from(self.dice.below(tree.nodes.len())).expect("a few nodes a piece");
            if tree.removable(node) {
                parts -= 1;
                self.table.remove(place, node);
            }
        }
    }

    /// Finds places for what waits, in an order thrown by dice.
    pub(crate) fn recreate(&mut self) {
        let mut queue = self.table.queue();
        let kinds = &self.table.shop.kinds;
        self.dice.shuffle(&mut queue);
        let key: fn(&Kind) -> u64 = match self.dice.below(10) {
            0..4 => |k| k.area,
            4..6 => |k| u64::from(k.ways[0].width.max(k.ways[0].height)),
            6 => |k| u64::from(k.ways[0].width),
            7 => |k| u64::from(k.ways[0].height),
            8 => |k| {
                // Worth for its size: all alike but for value.
                let rate = k.worth / k.area as f64;
                rate.to_bits()
            },
            _ => |_| 0,
        };
        queue.sort_by_key(|&k| std::cmp::Reverse(key(&kinds[k])));
        let mut failed = usize::MAX;
        for kind in queue {
            if kind != failed && !self.table.place(kind, self.limit, &mut self.dice, PASS_OVER) {
                failed = kind;
            }
        }
    }
}

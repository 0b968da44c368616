//! The most valuable way to cut one sheet when copies do run out. Method:
//! best-first search that builds larger and larger rectangles out of pieces,
//! two put side by side or one above the other at a time (Wang, "Two algorithms
//! for constrained two-dimensional cutting stock problems", 1983; Viswanathan &
//! Bagchi, "Best-first search methods for constrained two-dimensional cutting
//! stock problems", 1993). What the rest of the sheet may still give is bounded
//! by the recursion of [`crate::exact`] at prices from which a fee for each copy
//! was taken, the fee of a piece that runs out being the higher (Lagrangian
//! relaxation of the copies' limits: Christofides & Hadjiconstantinou, "An exact
//! algorithm for orthogonal 2-D cutting problems using guillotine cuts", 1995).

use std::collections::{BinaryHeap, HashMap};

use crate::exact::Grid;
use crate::plan::whole;
use crate::shop::Shop;
use crate::tree::{Spot, Tree, What};

/// Most kinds and most copies of one that are searched.
const MOST_KINDS: usize = 64;

/// Most rectangles kept: some 250 bytes each, 150 MB in all.
const MOST_BUILDS: usize = 600_000;

/// Steps of the descent to the best fees: measured, few gain after that.
const MOST_STEPS: usize = 150;

/// Most additions for all those steps: some two seconds.
const MOST_WORK: f64 = 4e9;

/// Steps without a lower bound after which the step is halved.
const PATIENCE: u32 = 8;

/// What a sum of floats may be off by.
const HAIR: f64 = 1e-6;

/// So many rectangles put together take as long as one round of the other search.
const JOINS_A_ROUND: u64 = 1000;

/// How the search ended.
pub(crate) struct Found {
    /// No way of cutting is worth more.
    pub(crate) bound: u64,
    /// The best sheet that was found, if it is worth more than what was known.
    pub(crate) tree: Option<Tree>,
}

/// A rectangle made of pieces.
#[derive(Clone, Copy, Debug)]
struct Build {
    width: u32,
    height: u32,
    value: u64,
    /// Its value less the fees.
    price: f64,
    from: From,
}

#[derive(Clone, Copy, Debug)]
enum From {
    Piece {
        kind: usize,
        way: usize,
    },
    /// Two builds, side by side or one above the other.
    Two {
        near: u32,
        far: u32,
        columns: bool,
    },
}

/// A build that waits for its turn: the one with the highest bound, then the latest.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Turn {
    bound: f64,
    build: u32,
}

impl Eq for Turn {}

impl Ord for Turn {
    fn cmp(&self, other: &Turn) -> std::cmp::Ordering {
        self.bound.total_cmp(&other.bound).then(self.build.cmp(&other.build))
    }
}

impl PartialOrd for Turn {
    fn partial_cmp(&self, other: &Turn) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

/// Looks for a way to cut the only board worth more than `known`, as long as
/// `go_on` (told how many rounds' work is next and the bound) says so. `None` for jobs it is not for.
pub(crate) fn limited(
    shop: &Shop,
    mut grid: Grid,
    known: u64,
    go_on: &mut dyn FnMut(u64, u64) -> bool,
) -> Option<Found> {
    let board = shop.boards[0];
    let limits: Vec<u8> = shop
        .kinds
        .iter()
        .map(|k| {
            let most = if k.ways.is_empty() { 0 } else { board.area() / k.area };
            u8::try_from(most.min(u64::from(k.quantity))).ok()
        })
        .collect::<Option<_>>()?;
    if limits.len() > MOST_KINDS {
        return None;
    }
    let fees = fees(shop, &mut grid, &limits, known, go_on);
    let prices: Vec<f64> = shop.kinds.iter().zip(&fees).map(|(k, fee)| k.worth - fee).collect();
    let owed: f64 = fees.iter().zip(&limits).map(|(fee, &n)| fee * f64::from(n)).sum();
    grid.fill(shop, &prices);
    let rest = grid.rest(board.width, board.height);
    let mut search = Search {
        shop,
        bound: Bound { grid: &grid, rest, owed },
        limits,
        known,
        best: None,
        builds: Vec::new(),
        counts: Vec::new(),
        alike: HashMap::new(),
        waiting: BinaryHeap::new(),
    };
    search.begin(&prices);
    let bound = search.run(go_on);
    let tree = search.best.map(|build| {
        let mut tree = Tree::new(0, board.width, board.height);
        search.lay(build, &mut tree, 0);
        tree.join_all(shop);
        tree
    });
    Some(Found { bound, tree })
}

/// Fees that make the bound for the whole sheet low: steps against the copies
/// that are cut too often or too seldom (Held, Wolfe & Crowder, "Validation of
/// subgradient optimization", 1974).
fn fees(
    shop: &Shop,
    grid: &mut Grid,
    limits: &[u8],
    known: u64,
    go_on: &mut dyn FnMut(u64, u64) -> bool,
) -> Vec<f64> {
    let board = shop.boards[0];
    let mut fees = vec![0.0; limits.len()];
    let (mut best, mut least) = (fees.clone(), f64::INFINITY);
    let (mut share, mut idle) = (1.0, 0);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small number above 0")]
    let steps = (MOST_WORK / grid.work()).clamp(1.0, MOST_STEPS as f64) as usize;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a small number above 0")]
    let rounds = (grid.work() / 4000.0) as u64;
    for _ in 0..steps {
        if !go_on(rounds, u64::MAX) {
            break;
        }
        let prices: Vec<f64> = shop.kinds.iter().zip(&fees).map(|(k, fee)| k.worth - fee).collect();
        grid.fill(shop, &prices);
        let owed: f64 = fees.iter().zip(limits).map(|(fee, &n)| fee * f64::from(n)).sum();
        let bound = grid.value(board.width, board.height) + owed;
        if bound < least - HAIR {
            (least, idle) = (bound, 0);
            best.clone_from(&fees);
            if bound < known as f64 + 1.0 - HAIR {
                break;
            }
        } else {
            idle += 1;
            if idle >= PATIENCE {
                (share, idle) = (share / 2.0, 0);
            }
        }
        let mut endless = vec![u32::MAX; limits.len()];
        grid.cut(shop, 0, &prices, &mut endless);
        let over: Vec<f64> =
            endless.iter().zip(limits).map(|(&left, &n)| f64::from(u32::MAX - left) - f64::from(n)).collect();
        // What is cut too seldom and costs nothing extra asks for no step.
        let square: f64 =
            over.iter().zip(&fees).filter(|&(&o, &fee)| o > 0.0 || fee > 0.0).map(|(o, _)| o * o).sum();
        if square == 0.0 {
            break;
        }
        let step = share * (bound - known as f64).max(1.0) / square;
        for (fee, over) in fees.iter_mut().zip(&over) {
            *fee = (*fee + step * over).max(0.0);
        }
    }
    best
}

/// What a build can at most become part of.
struct Bound<'a> {
    grid: &'a Grid,
    rest: Vec<f64>,
    owed: f64,
}

impl Bound<'_> {
    fn of(&self, width: u32, height: u32, price: f64) -> f64 {
        price + self.rest[self.grid.place(width, height)] + self.owed
    }
}

struct Search<'a> {
    shop: &'a Shop,
    bound: Bound<'a>,
    limits: Vec<u8>,
    known: u64,
    best: Option<u32>,
    builds: Vec<Build>,
    /// For each build, how many of each kind are in it.
    counts: Vec<u8>,
    /// The builds that are made of the same pieces.
    alike: HashMap<Box<[u8]>, Vec<u32>>,
    waiting: BinaryHeap<Turn>,
}

impl Search<'_> {
    fn begin(&mut self, prices: &[f64]) {
        let board = self.shop.boards[0];
        for (number, kind) in self.shop.kinds.iter().enumerate() {
            for (way_number, way) in kind.ways.iter().enumerate() {
                if self.limits[number] == 0 || way.width > board.width || way.height > board.height {
                    continue;
                }
                let build = Build {
                    width: way.width,
                    height: way.height,
                    value: whole(kind.worth),
                    price: prices[number],
                    from: From::Piece { kind: number, way: way_number },
                };
                let mut counts = vec![0; self.limits.len()];
                counts[number] = 1;
                self.add(build, &counts);
            }
        }
    }

    /// Takes builds by their bounds and puts each together with those before it.
    /// Gives the bound of what is left to look at.
    fn run(&mut self, go_on: &mut dyn FnMut(u64, u64) -> bool) -> u64 {
        let board = self.shop.boards[0];
        let kinds = self.limits.len();
        let mut done: Vec<u32> = Vec::new();
        let mut counts = vec![0_u8; kinds];
        while let Some(Turn { bound, build: taken }) = self.waiting.pop() {
            let bound = whole((bound + HAIR).floor());
            if bound <= self.known {
                break;
            }
            if self.builds.len() > MOST_BUILDS || !go_on(1 + done.len() as u64 / JOINS_A_ROUND, bound) {
                return bound;
            }
            done.push(taken);
            let one = self.builds[taken as usize];
            for &other in &done {
                let two = self.builds[other as usize];
                let (width, height) = (one.width + two.width, one.height + two.height);
                let price = one.price + two.price;
                let (wide, tall) = (one.width.max(two.width), one.height.max(two.height));
                let columns = width <= board.width && self.promises(width, tall, price);
                let rows = height <= board.height && self.promises(wide, height, price);
                if !(columns || rows) {
                    continue;
                }
                let of = |build: u32| &self.counts[build as usize * kinds..][..kinds];
                let mut within = true;
                for (((sum, a), b), limit) in
                    counts.iter_mut().zip(of(taken)).zip(of(other)).zip(&self.limits)
                {
                    *sum = a.saturating_add(*b);
                    within &= *sum <= *limit;
                }
                if !within {
                    continue;
                }
                let value = one.value + two.value;
                for (wanted, columns) in [(columns, true), (rows, false)] {
                    let (width, height) = if columns { (width, tall) } else { (wide, height) };
                    if wanted {
                        let from = From::Two { near: taken, far: other, columns };
                        self.add(Build { width, height, value, price, from }, &counts);
                    }
                }
            }
        }
        self.known
    }

    fn promises(&self, width: u32, height: u32, price: f64) -> bool {
        self.bound.of(width, height, price) + HAIR >= self.known as f64 + 1.0
    }

    /// Keeps a build unless one of the same pieces is no larger.
    fn add(&mut self, build: Build, counts: &[u8]) {
        let number = u32::try_from(self.builds.len()).expect("at most MOST_BUILDS and one turn's");
        let fits_in = |a: &Build, b: &Build| a.width <= b.width && a.height <= b.height;
        if let Some(alike) = self.alike.get_mut(counts) {
            if alike.iter().any(|&b| fits_in(&self.builds[b as usize], &build)) {
                return;
            }
            alike.retain(|&b| !fits_in(&build, &self.builds[b as usize]));
            alike.push(number);
        } else {
            self.alike.insert(counts.into(), vec![number]);
        }
        self.builds.push(build);
        self.counts.extend_from_slice(counts);
        if build.value > self.known {
            (self.known, self.best) = (build.value, Some(number));
        }
        self.waiting
            .push(Turn { bound: self.bound.of(build.width, build.height, build.price), build: number });
    }

    /// Cuts a build from a leaf that holds it.
    fn lay(&self, build: u32, tree: &mut Tree, leaf: u32) {
        let Build { width, height, from, .. } = self.builds[build as usize];
        match from {
            From::Piece { kind, way } => {
                let turned = self.shop.kinds[kind].ways[way].turned;
                let spot =
                    Spot { leaf, dx: 0, dy: 0, width, height, turned, columns_first: true, score: 0.0 };
                tree.insert(self.shop, kind, &spot);
            }
            From::Two { near, far, columns } => {
                let first = self.builds[near as usize];
                let (split, at) =
                    if columns { (What::Columns, first.width) } else { (What::Rows, first.height) };
                let (near_leaf, far_leaf) = tree.split(leaf, split, at);
                self.lay(near, tree, near_leaf);
                self.lay(far, tree, far_leaf);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::{Goal, Job, Options, Piece, Sheet};

    /// The most that guillotine cuts get from a sheet, by trying every cut and every way to deal out the
    /// pieces: slow and obvious.
    fn tried(pieces: &[Piece], width: usize, height: usize) -> u64 {
        let all = 1_usize << pieces.len();
        let at = |w: usize, h: usize, set: usize| (w * (height + 1) + h) * all + set;
        let mut most = vec![0; at(width, height, all)];
        for w in 1..=width {
            for h in 1..=height {
                for set in 0..all {
                    let fits = |p: &Piece| {
                        p.fits(crate::Rect::new(u32::try_from(w).unwrap(), u32::try_from(h).unwrap()))
                    };
                    let single = (0..pieces.len()).filter(|&i| set & (1 << i) != 0 && fits(&pieces[i]));
                    let mut here = single.map(|i| pieces[i].value).max().unwrap_or(0);
                    let mut part = set;
                    loop {
                        let rest = set ^ part;
                        for x in 1..w {
                            here = here.max(most[at(x, h, part)] + most[at(w - x, h, rest)]);
                        }
                        for y in 1..h {
                            here = here.max(most[at(w, y, part)] + most[at(w, h - y, rest)]);
                        }
                        if part == 0 {
                            break;
                        }
                        part = (part - 1) & set;
                    }
                    most[at(w, h, set)] = here;
                }
            }
        }
        most[at(width, height, all - 1)]
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(60))]

        #[test]
        fn the_best_sheet_is_as_good_as_trying_everything(
            pieces in prop::collection::vec((1_u32..7, 1_u32..7, 1_u64..50, any::<bool>()), 1..6),
            (width, height) in (4_usize..10, 4_usize..10),
        ) {
            let piece = |&(w, h, value, turns): &(u32, u32, u64, bool)| {
                let piece = Piece { value, ..Piece::new(w, h, 1) };
                if turns { piece.turning() } else { piece }
            };
            let pieces: Vec<Piece> = pieces.iter().map(piece).collect();
            let wanted = tried(&pieces, width, height);
            let (w, h) = (u32::try_from(width).unwrap(), u32::try_from(height).unwrap());
            let stock = vec![Sheet::new(w, h).at_most(1)];
            let job = Job { pieces, stock, goal: Goal::MostValue };
            let shop = Shop::new(&job, &Options::default());
            let grid = Grid::new(&shop, w, h, 1e9).unwrap();
            let found = limited(&shop, grid, 0, &mut |_, _| true).unwrap();
            prop_assert_eq!(found.bound, wanted);
            let cut = found.tree.map_or(0, |tree| crate::plan::plan_of(&shop, &[tree], wanted).score);
            prop_assert_eq!(cut, wanted);
        }
    }
}

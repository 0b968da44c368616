//! Many copies of few sizes: which ways of cutting a sheet are worth repeating,
//! and how often. Method: column generation (Gilmore & Gomory, "A linear
//! programming approach to the cutting-stock problem", 1961), each new way of
//! cutting the most valuable one at the prices of the last ([`crate::exact`]).
//! Whole sheets are what the rounded-down plan repeats; the rest is left to the
//! search. The prices prove a lower bound (Farley, 1990).

use crate::exact::Grid;
use crate::shop::{Board, Shop};
use crate::tree::{Tree, What};

/// What column generation finds.
pub(crate) struct Columns {
    /// No plan costs less.
    pub(crate) bound: u64,
    /// Sheets of the rounded-down plan.
    pub(crate) sheets: Vec<Tree>,
    /// Of each kind, how many they leave to cut.
    pub(crate) left: Vec<u32>,
}

/// Most additions that pricing may take each time: some 15 ms.
const MOST_WORK: f64 = 2e7;

/// Fewest copies of a size, on average, for which repeating sheets pays.
const FEW_COPIES: usize = 4;

/// Rounds of pricing after which the plan stands as it is.
const MOST_PRICINGS: u64 = 2000;

/// Smallest gain per sheet that is taken for a gain.
const GAIN: f64 = 1e-7;

/// A way of cutting a sheet: how many of each kind, at what cost.
struct Way {
    tree: Tree,
    cost: f64,
    counts: Vec<(usize, f64)>,
}

/// What fills a place of the basis.
#[derive(Clone, Copy)]
enum Column {
    Way(usize),
    /// More of this kind than wanted.
    Surplus,
}

/// Whether a job is one for column generation.
pub(crate) fn grid(shop: &Shop) -> Option<Grid> {
    let kinds = shop.kinds.iter().filter(|k| k.quantity > 0 && !k.ways.is_empty()).count();
    let wanted = shop.wanted();
    let endless = shop.boards.iter().all(|b| b.count >= wanted && b.cost > 0);
    let suits = (0..shop.boards.len()).all(|b| (0..shop.kinds.len()).all(|k| !shop.zones(b, k).is_empty()));
    if !endless || !suits || (wanted as usize) < FEW_COPIES * kinds || shop.boards.is_empty() {
        return None;
    }
    let width = shop.boards.iter().map(|b| b.width).max()?;
    let height = shop.boards.iter().map(|b| b.height).max()?;
    Grid::new(shop, width, height, MOST_WORK)
}

/// Finds ways of cutting and how often to repeat them, as long as `go_on` says so. `None` when there is no time to begin.
pub(crate) fn columns(shop: &Shop, mut grid: Grid, go_on: &mut dyn FnMut() -> bool) -> Option<Columns> {
    let kinds: Vec<usize> = (0..shop.kinds.len())
        .filter(|&k| shop.kinds[k].quantity > 0 && !shop.kinds[k].ways.is_empty())
        .collect();
    let rows = kinds.len();
    let wanted: Vec<f64> = kinds.iter().map(|&k| f64::from(shop.kinds[k].quantity)).collect();
    let mut ways: Vec<Way> = Vec::new();
    let mut inverse = vec![vec![0.0; rows]; rows];
    let mut basis = Vec::new();
    // To begin with, each kind has sheets of its own.
    for (row, &kind) in kinds.iter().enumerate() {
        let way = of_one_kind(shop, kind)?;
        let many = way.counts.first()?.1;
        inverse[row][row] = 1.0 / many;
        basis.push(Column::Way(ways.len()));
        ways.push(Way { counts: vec![(row, many)], ..way });
    }
    let mut amounts: Vec<f64> = (0..rows).map(|r| inverse[r][r] * wanted[r]).collect();
    let mut bound = 0_f64;
    for _ in 0..MOST_PRICINGS {
        if !go_on() {
            break;
        }
        let cost = |c: Column| if let Column::Way(w) = c { ways[w].cost } else { 0.0 };
        let mut prices = vec![0.0; rows];
        for (line, &column) in inverse.iter().zip(&basis) {
            let cost = cost(column);
            if cost > 0.0 {
                for (price, part) in prices.iter_mut().zip(line) {
                    *price += cost * part;
                }
            }
        }
        // A kind whose price is below nothing is cut too often.
        let cheapest = (0..rows).min_by(|&a, &b| prices[a].total_cmp(&prices[b]))?;
        let (column, entering) = if prices[cheapest] < -GAIN {
            (Column::Surplus, vec![(cheapest, -1.0)])
        } else {
            let mut all = vec![0.0; shop.kinds.len()];
            for (&kind, &price) in kinds.iter().zip(&prices) {
                all[kind] = price.max(0.0);
            }
            grid.fill(shop, &all);
            let rate = |b: usize| {
                let board = shop.boards[b];
                grid.value(board.width, board.height) / board.cost as f64
            };
            let board = (0..shop.boards.len()).max_by(|&a, &b| rate(a).total_cmp(&rate(b)))?;
            let worth: f64 = prices.iter().zip(&wanted).map(|(p, n)| p.max(0.0) * n).sum();
            bound = bound.max(worth / rate(board).max(1.0));
            if rate(board) < 1.0 + GAIN {
                break;
            }
            let mut endless = vec![u32::MAX; shop.kinds.len()];
            let tree = grid.cut(shop, board, &all, &mut endless);
            let counts = kinds
                .iter()
                .enumerate()
                .map(|(row, &k)| (row, f64::from(u32::MAX - endless[k])))
                .filter(|&(_, n)| n > 0.0)
                .collect::<Vec<_>>();
            ways.push(Way { tree, cost: shop.boards[board].cost as f64, counts: counts.clone() });
            (Column::Way(ways.len() - 1), counts)
        };
        let change: Vec<f64> =
            inverse.iter().map(|line| entering.iter().map(|&(row, n)| line[row] * n).sum()).collect();
        let leaving = (0..rows)
            .filter(|&r| change[r] > 1e-9)
            .min_by(|&a, &b| (amounts[a] / change[a]).total_cmp(&(amounts[b] / change[b])))?;
        let step = (amounts[leaving] / change[leaving]).max(0.0);
        let pivot: Vec<f64> = inverse[leaving].iter().map(|v| v / change[leaving]).collect();
        for row in (0..rows).filter(|&r| r != leaving) {
            amounts[row] = (amounts[row] - step * change[row]).max(0.0);
            for (value, p) in inverse[row].iter_mut().zip(&pivot) {
                *value -= change[row] * p;
            }
        }
        inverse[leaving] = pivot;
        amounts[leaving] = step;
        basis[leaving] = column;
    }
    let chosen = basis.iter().zip(&amounts).filter_map(|(c, &n)| match c {
        Column::Way(w) => Some((&ways[*w], n)),
        Column::Surplus => None,
    });
    Some(round_down(shop, chosen, bound))
}

/// The best sheet of one kind alone, filled from corner to corner.
fn of_one_kind(shop: &Shop, kind: usize) -> Option<Way> {
    let filled = |(number, board): (usize, &Board)| {
        let mut tree = Tree::new(number, board.width, board.height);
        while let Some(spot) = tree.best_spot(shop, kind, &mut || false) {
            tree.insert(shop, kind, &spot);
        }
        let many = f64::from(tree.pieces);
        (many > 0.0).then(|| Way { tree, cost: board.cost as f64, counts: vec![(kind, many)] })
    };
    let rate = |way: &Way| f64::from(way.tree.pieces) / way.cost;
    shop.boards.iter().enumerate().filter_map(filled).max_by(|a, b| rate(a).total_cmp(&rate(b)))
}

fn round_down<'w>(shop: &Shop, chosen: impl Iterator<Item = (&'w Way, f64)>, bound: f64) -> Columns {
    let mut left: Vec<u32> =
        shop.kinds.iter().map(|k| if k.ways.is_empty() { 0 } else { k.quantity }).collect();
    let mut sheets = Vec::new();
    for (way, amount) in chosen {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most MOST_PIECES")]
        let times = (amount + 1e-6).floor() as u32;
        for _ in 0..times {
            let mut tree = way.tree.clone();
            drop_surplus(shop, &mut tree, &mut left);
            if tree.pieces > 0 {
                sheets.push(tree);
            }
        }
    }
    // The bound is a sum of floats; what rounding could have added is taken off.
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "sums of costs stay below 2^53"
    )]
    let bound = (bound * (1.0 - 1e-9) - 1e-6).max(0.0).ceil() as u64;
    Columns { bound, sheets, left }
}

/// Takes out of a sheet what is not wanted any more, and counts the rest as cut.
fn drop_surplus(shop: &Shop, tree: &mut Tree, left: &mut [u32]) {
    for id in 0..tree.nodes.len() {
        if let What::Piece { kind, .. } = tree.nodes[id].what {
            if left[kind as usize] > 0 {
                left[kind as usize] -= 1;
            } else {
                tree.remove(shop, u32::try_from(id).expect("few nodes"), &mut |_| {});
            }
        }
    }
}

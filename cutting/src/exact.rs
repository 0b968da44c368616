//! The most valuable way to cut one sheet when there is no end of copies.
//! Method: the knapsack recursion of Gilmore & Gomory ("The theory and
//! computation of knapsack functions", 1966) over the places that sums of
//! piece sides can reach (Beasley, "Algorithms for unconstrained
//! two-dimensional guillotine cutting", 1985).

use crate::shop::Shop;
use crate::tree::{Spot, Tree, What};

/// Lengths, in order, that sums of piece sides can make along one side.
#[derive(Debug)]
struct Reach {
    lengths: Vec<u32>,
    /// For each pair of reach numbers `i` and `p <= i`, the number of the
    /// longest reach within what is left of `i` after `p`.
    left: Vec<Vec<u32>>,
    /// How many of the reaches are at most half of reach `i`.
    halves: Vec<usize>,
}

impl Reach {
    fn new(lengths: Vec<u32>) -> Reach {
        let number = |length: u32| lengths.partition_point(|&l| l <= length) - 1;
        let halves: Vec<usize> = lengths.iter().map(|&l| number(l / 2) + 1).collect();
        let left = lengths
            .iter()
            .zip(&halves)
            .map(|(&l, &half)| {
                let rest = |&p: &u32| u32::try_from(number(l - p)).expect("at most MOST_REACHES");
                lengths[..half].iter().map(rest).collect()
            })
            .collect();
        Reach { lengths, left, halves }
    }

    fn floor(&self, length: u32) -> usize {
        self.lengths.partition_point(|&l| l <= length) - 1
    }
}

/// Places a sheet can be cut at.
#[derive(Debug)]
pub(crate) struct Grid {
    across: Reach,
    along: Reach,
    values: Vec<f64>,
}

/// Most reaches along one side, so that they can be laid out at all.
const MOST_REACHES: usize = 6000;

/// Longest side whose reaches are looked for.
const LONGEST: u32 = 2_000_000;

impl Grid {
    /// The grid for sheets up to this size, unless filling it would take more additions than `most_work`.
    pub(crate) fn new(shop: &Shop, width: u32, height: u32, most_work: f64) -> Option<Grid> {
        if !shop.plain() || width > LONGEST || height > LONGEST {
            return None;
        }
        let sides = |pick: fn(&crate::shop::Way) -> u32| {
            let mut sides: Vec<u32> =
                shop.kinds.iter().filter(|k| k.quantity > 0).flat_map(|k| &k.ways).map(pick).collect();
            sides.sort_unstable();
            sides.dedup();
            sides
        };
        let across = reaches(&sides(|w| w.width), width);
        let along = reaches(&sides(|w| w.height), height);
        let (columns, rows) = (across.len(), along.len());
        let work = columns as f64 * rows as f64 * (columns + rows) as f64 / 4.0;
        if columns.max(rows) > MOST_REACHES || work > most_work {
            return None;
        }
        let (across, along) = (Reach::new(across), Reach::new(along));
        let values = vec![0.0; across.lengths.len() * along.lengths.len()];
        Some(Grid { across, along, values })
    }

    /// Fills the grid: for each size, the most that pieces of these prices can be worth.
    pub(crate) fn fill(&mut self, shop: &Shop, prices: &[f64]) {
        let rows = self.along.lengths.len();
        self.values.fill(0.0);
        for (kind, &price) in shop.kinds.iter().zip(prices) {
            if price <= 0.0 || kind.quantity == 0 {
                continue;
            }
            for way in &kind.ways {
                let from = self.along.lengths.partition_point(|&l| l < way.height);
                for (i, &length) in self.across.lengths.iter().enumerate() {
                    if length >= way.width {
                        for value in &mut self.values[i * rows + from..(i + 1) * rows] {
                            *value = value.max(price);
                        }
                    }
                }
            }
        }
        for i in 0..self.across.lengths.len() {
            let (done, here) = self.values.split_at_mut(i * rows);
            let here = &mut here[..rows];
            for p in 1..self.across.halves[i] {
                let q = self.across.left[i][p] as usize;
                let (a, b) = (&done[p * rows..(p + 1) * rows], &done[q * rows..(q + 1) * rows]);
                for ((value, a), b) in here.iter_mut().zip(a).zip(b) {
                    *value = value.max(a + b);
                }
            }
            for j in 0..rows {
                let left = &self.along.left[j];
                let mut most = here[j];
                for p in 1..self.along.halves[j] {
                    most = most.max(here[p] + here[left[p] as usize]);
                }
                here[j] = most;
            }
        }
    }

    /// The most that can come from a sheet of this size.
    pub(crate) fn value(&self, width: u32, height: u32) -> f64 {
        self.at(self.across.floor(width), self.along.floor(height))
    }

    fn at(&self, i: usize, j: usize) -> f64 {
        self.values[i * self.along.lengths.len() + j]
    }

    /// About how many additions it takes to fill.
    pub(crate) fn work(&self) -> f64 {
        let (columns, rows) = (self.across.lengths.len() as f64, self.along.lengths.len() as f64);
        columns * rows * (columns + rows) / 4.0
    }

    /// Where the longest reaches within these lengths stand in [`Grid::rest`].
    pub(crate) fn place(&self, width: u32, height: u32) -> usize {
        self.across.floor(width) * self.along.lengths.len() + self.along.floor(height)
    }

    /// For each size, the most that the rest of a sheet can be worth when a part
    /// of that size is taken from its corner: the part grows by one full-length
    /// strip after another (Viswanathan & Bagchi, 1993).
    pub(crate) fn rest(&self, width: u32, height: u32) -> Vec<f64> {
        let rows = self.along.lengths.len();
        let (last, top) = (self.across.floor(width), self.along.floor(height));
        let mut rest = vec![0.0_f64; self.values.len()];
        for i in (0..=last).rev() {
            for j in (0..=top).rev() {
                let mut most = 0.0_f64;
                for wider in i + 1..=last {
                    let strip = self.across.floor(self.across.lengths[wider] - self.across.lengths[i]);
                    most = most.max(rest[wider * rows + j] + self.at(strip, j));
                }
                for taller in j + 1..=top {
                    let strip = self.along.floor(self.along.lengths[taller] - self.along.lengths[j]);
                    most = most.max(rest[i * rows + taller] + self.at(i, strip));
                }
                rest[i * rows + j] = most;
            }
        }
        rest
    }

    /// A sheet cut in the most valuable way; of each kind at most `left`, which counts down.
    pub(crate) fn cut(&self, shop: &Shop, board: usize, prices: &[f64], left: &mut [u32]) -> Tree {
        let shape = shop.boards[board];
        let mut tree = Tree::new(board, shape.width, shape.height);
        let size = (self.across.floor(shape.width), self.along.floor(shape.height));
        self.cut_part(shop, prices, left, &mut tree, 0, size);
        tree.join_all(shop);
        tree
    }

    fn cut_part(
        &self,
        shop: &Shop,
        prices: &[f64],
        left: &mut [u32],
        tree: &mut Tree,
        leaf: u32,
        (i, j): (usize, usize),
    ) {
        let value = self.at(i, j);
        if value <= 0.0 {
            return;
        }
        let (width, height) = (self.across.lengths[i], self.along.lengths[j]);
        for (number, kind) in shop.kinds.iter().enumerate() {
            #[expect(clippy::float_cmp, reason = "the very same sum was stored")]
            let here = prices[number] == value && kind.quantity > 0;
            if let Some(way) = kind.ways.iter().find(|w| here && w.width <= width && w.height <= height) {
                if left[number] > 0 {
                    left[number] -= 1;
                    let (width, height, turned) = (way.width, way.height, way.turned);
                    let spot =
                        Spot { leaf, dx: 0, dy: 0, width, height, turned, columns_first: true, score: 0.0 };
                    tree.insert(shop, number, &spot);
                }
                return;
            }
        }
        #[expect(clippy::float_cmp, reason = "the very same sum was stored")]
        let same = |sum: f64| sum == value;
        for p in 1..self.across.halves[i] {
            let q = self.across.left[i][p] as usize;
            if same(self.at(p, j) + self.at(q, j)) {
                let (near, far) = tree.split(leaf, What::Columns, self.across.lengths[p]);
                self.cut_part(shop, prices, left, tree, near, (p, j));
                self.cut_part(shop, prices, left, tree, far, (q, j));
                return;
            }
        }
        for p in 1..self.along.halves[j] {
            let q = self.along.left[j][p] as usize;
            if same(self.at(i, p) + self.at(i, q)) {
                let (near, far) = tree.split(leaf, What::Rows, self.along.lengths[p]);
                self.cut_part(shop, prices, left, tree, near, (i, p));
                self.cut_part(shop, prices, left, tree, far, (i, q));
                return;
            }
        }
    }
}

/// Lengths up to `full`, in order, that sums of sides can make.
fn reaches(sides: &[u32], full: u32) -> Vec<u32> {
    let mut made = vec![false; full as usize + 1];
    made[0] = true;
    for at in 0..=full as usize {
        if made[at] {
            for &side in sides {
                if let Some(there) = made.get_mut(at + side as usize) {
                    *there = true;
                }
            }
        }
    }
    (0..=full).filter(|&l| made[l as usize]).collect()
}

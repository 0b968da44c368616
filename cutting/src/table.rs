//! The sheets being cut and the pieces still waiting, with a memory of how
//! things were so that a round of the search can be taken back.

use crate::dice::{Dice, Now};
use crate::shop::Shop;
use crate::tree::{Spot, Tree};

/// A sheet without pieces is as good as none; `tidy` puts it away.
#[derive(Clone, Debug)]
pub(crate) struct Table<'a> {
    pub(crate) shop: &'a Shop,
    pub(crate) sheets: Vec<Tree>,
    /// How many of each kind wait.
    pub(crate) waiting: Vec<u32>,
    /// What one of each kind counts while it waits; see [`Table::reprice`].
    prices: Vec<f64>,
    /// What the waiting pieces count together.
    pub(crate) lost: f64,
    /// What the sheets with pieces cost together.
    pub(crate) cost: u64,
    taken: Vec<u32>,
    /// Sheets as they were, by place; see [`Table::mark`].
    saved: Vec<(usize, Tree)>,
    pool: Vec<Tree>,
    marked: Option<Mark>,
}

/// How often a new sheet is the dearest that may be had, which leaves least of the cost unused.
const DEAREST: f64 = 0.5;

#[derive(Clone, Debug)]
struct Mark {
    sheets: usize,
    waiting: Vec<u32>,
    lost: f64,
    cost: u64,
    taken: Vec<u32>,
}

/// A sheet for a piece: one that is being cut, or a new one.
#[derive(Clone, Copy, Debug)]
enum Home {
    Cut(usize),
    New(usize),
}

impl<'a> Table<'a> {
    /// Nothing cut, everything that fits some sheet waiting.
    pub(crate) fn new(shop: &'a Shop) -> Table<'a> {
        let waiting: Vec<u32> =
            shop.kinds.iter().map(|k| if k.ways.is_empty() { 0 } else { k.quantity }).collect();
        let lost = shop.kinds.iter().zip(&waiting).map(|(k, &n)| k.worth * f64::from(n)).sum();
        Table {
            shop,
            sheets: Vec::new(),
            waiting,
            prices: shop.kinds.iter().map(|k| k.worth).collect(),
            lost,
            cost: 0,
            taken: vec![0; shop.boards.len()],
            saved: Vec::new(),
            pool: Vec::new(),
            marked: None,
        }
    }

    /// Whether a sheet of this kind is left.
    pub(crate) fn has(&self, board: usize) -> bool {
        self.taken[board] < self.shop.boards[board].count
    }

    /// From here on what changes can be taken back.
    pub(crate) fn mark(&mut self) {
        self.pool.extend(self.saved.drain(..).map(|(_, tree)| tree));
        let mark = Mark {
            sheets: self.sheets.len(),
            waiting: self.waiting.clone(),
            lost: self.lost,
            cost: self.cost,
            taken: self.taken.clone(),
        };
        self.marked = Some(mark);
    }

    /// Takes back all that changed since the mark.
    pub(crate) fn take_back(&mut self) {
        let Some(mark) = self.marked.take() else { return };
        while let Some((place, tree)) = self.saved.pop() {
            let changed = std::mem::replace(&mut self.sheets[place], tree);
            self.pool.push(changed);
        }
        self.sheets.truncate(mark.sheets);
        self.waiting = mark.waiting;
        self.lost = mark.lost;
        self.cost = mark.cost;
        self.taken = mark.taken;
    }

    fn save(&mut self, place: usize) {
        let Some(mark) = &self.marked else { return };
        if place >= mark.sheets || self.saved.iter().any(|(p, _)| *p == place) {
            return;
        }
        let copy = if let Some(mut tree) = self.pool.pop() {
            tree.clone_from(&self.sheets[place]);
            tree
        } else {
            self.sheets[place].clone()
        };
        self.saved.push((place, copy));
    }

    /// Puts away the sheets without pieces. Ends what a mark remembers.
    pub(crate) fn tidy(&mut self) {
        self.marked = None;
        self.sheets.retain(|s| s.pieces > 0);
    }

    /// Sends a part of a sheet back to wait. Gives how many pieces that were.
    pub(crate) fn remove(&mut self, place: usize, node: u32) -> u32 {
        self.save(place);
        let tree = &mut self.sheets[place];
        let before = tree.pieces;
        let (shop, waiting, prices, lost) = (self.shop, &mut self.waiting, &self.prices, &mut self.lost);
        tree.remove(shop, node, &mut |kind| {
            waiting[kind] += 1;
            *lost += prices[kind];
        });
        if tree.pieces == 0 && before > 0 {
            self.cost -= shop.boards[tree.board].cost;
            self.taken[tree.board] -= 1;
        }
        before - tree.pieces
    }

    /// Puts one waiting piece where it leaves the best offcuts, on a new sheet
    /// only when there is no other place and it keeps the cost within `limit`.
    pub(crate) fn place(&mut self, kind: usize, limit: u64, dice: &mut Dice, pass_over: &mut Now) -> bool {
        let mut best: Option<(Home, Spot)> = None;
        for (place, tree) in self.sheets.iter().enumerate() {
            if tree.pieces == 0 || (self.shop.boards.len() > 1 && !self.shop.suits(tree.board, kind)) {
                continue;
            }
            let spot = tree.best_spot(self.shop, kind, &mut || pass_over.throw());
            if let Some(spot) = spot
                && best.as_ref().is_none_or(|(_, b)| spot.score > b.score)
            {
                best = Some((Home::Cut(place), spot));
            }
        }
        if best.is_none() {
            best = self.new_home(kind, limit, dice);
        }
        let Some((home, spot)) = best else { return false };
        let place = match home {
            Home::Cut(place) => {
                self.save(place);
                place
            }
            Home::New(board) => self.open(board),
        };
        self.put(place, kind, &spot);
        true
    }

    /// Swaps each sheet for the cheapest that is left and holds what is cut from it.
    pub(crate) fn shrink(&mut self) {
        let shop = self.shop;
        if shop.boards.len() == 1 || !shop.plain() {
            return;
        }
        for place in 0..self.sheets.len() {
            let tree = &self.sheets[place];
            let now = tree.board;
            let (width, height) = tree.used();
            let fits = |b: &usize| {
                let board = shop.boards[*b];
                self.has(*b) && board.width >= width && board.height >= height && self.same_papers(now, *b)
            };
            let cheapest = (0..shop.boards.len()).filter(fits).min_by_key(|&b| shop.boards[b].cost);
            if let Some(board) = cheapest
                && shop.boards[board].cost < shop.boards[now].cost
            {
                self.cost = self.cost - shop.boards[now].cost + shop.boards[board].cost;
                self.taken[now] -= 1;
                self.taken[board] += 1;
                self.sheets[place] = self.sheets[place].moved(shop, board);
            }
        }
    }

    fn same_papers(&self, a: usize, b: usize) -> bool {
        let shop = self.shop;
        (0..shop.kinds.len()).all(|k| shop.zones(a, k).is_empty() == shop.zones(b, k).is_empty())
    }

    /// A new sheet within the limit that suits the piece: any, or the dearest.
    fn new_home(&self, kind: usize, limit: u64, dice: &mut Dice) -> Option<(Home, Spot)> {
        let shop = self.shop;
        let mut found: Option<(Home, Spot)> = None;
        let mut seen = 0;
        let dearest = dice.unit() < DEAREST;
        let mut cost = 0;
        for (number, board) in shop.boards.iter().enumerate() {
            if !self.has(number) || self.cost + board.cost > limit || !shop.suits(number, kind) {
                continue;
            }
            if dearest && found.is_some() && board.cost < cost {
                continue;
            }
            if dearest && board.cost > cost {
                seen = 0;
            }
            seen += 1;
            if dice.once_in(seen) {
                cost = board.cost;
                found = Tree::new(number, board.width, board.height)
                    .best_spot(shop, kind, &mut || false)
                    .map(|spot| (Home::New(number), spot))
                    .or(found);
            }
        }
        found
    }

    /// Lays a new sheet on the table. It must get a piece before the next tidying.
    pub(crate) fn open(&mut self, board: usize) -> usize {
        let shape = self.shop.boards[board];
        self.cost += shape.cost;
        self.taken[board] += 1;
        self.sheets.push(Tree::new(board, shape.width, shape.height));
        self.sheets.len() - 1
    }

    /// Cuts a waiting piece from a spot.
    pub(crate) fn put(&mut self, place: usize, kind: usize, spot: &Spot) {
        self.sheets[place].insert(self.shop, kind, spot);
        self.waiting[kind] -= 1;
        self.lost -= self.prices[kind];
    }

    /// What one of a kind counts while it waits.
    pub(crate) fn price(&self, kind: usize) -> f64 {
        self.prices[kind]
    }

    /// Makes what waits count for more, so that it finds a place before other pieces do.
    pub(crate) fn reprice(&mut self, times: f64) {
        for (price, &waiting) in self.prices.iter_mut().zip(&self.waiting) {
            if waiting > 0 {
                *price *= times;
            }
        }
        self.lost = self.prices.iter().zip(&self.waiting).map(|(p, &n)| p * f64::from(n)).sum();
    }

    /// Whether every piece that fits a sheet is cut.
    pub(crate) fn done(&self) -> bool {
        self.waiting.iter().all(|&n| n == 0)
    }

    /// One entry for each waiting piece.
    pub(crate) fn queue(&self) -> Vec<usize> {
        let copies = |(kind, &n): (usize, &u32)| std::iter::repeat_n(kind, n as usize);
        self.waiting.iter().enumerate().flat_map(copies).collect()
    }
}

//! Which paper each part of a layout is cut from: what the maker chose by hand
//! stands, the rest is proposed. Rules of thumb, all common practice without a
//! source: bases and mats from plain cardstock, busy prints on large panels and
//! quiet ones on narrow strips, another paper for each letter, leftovers before
//! new sheets, all mats of one colour.

use layout::{Length, Pattern, Piece, Supply, Unit, Weight};

use super::order::Order;
use super::record::Batch;
use crate::store::StoredPaper;

/// Papers of the same stuff in different sizes: indices of a stock.
pub(crate) type Stuff = Vec<usize>;

/// Where one supply of one layout is cut from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Chosen {
    /// Which order.
    pub(crate) order: usize,
    /// Which of its papers.
    pub(crate) supply: Supply,
    /// The stuff and the face that is seen; none where no paper will do.
    pub(crate) from: Option<(usize, usize)>,
    /// The paper that stands for the stuff.
    pub(crate) paper: Option<i64>,
    /// Whether the maker chose it.
    pub(crate) by_hand: bool,
    /// Why this one, or why none.
    pub(crate) why: String,
}

/// A panel whose shorter side measures this much or more carries a busy print.
const LARGE: Length = Length::eighths(16);
/// A strip no wider than this wants a quiet one.
const NARROW: Length = Length::eighths(10);

/// Share of a sheet that becomes pieces, as a rule: 4 x 5 1/4 from 12 x 12, a
/// common one, leaves a tenth, most others more.
const YIELD: f64 = 0.8;

/// The stuffs of a stock, each with its papers.
pub(crate) fn stuffs(stock: &[StoredPaper]) -> Vec<Stuff> {
    let mut stuffs: Vec<Stuff> = Vec::new();
    for (index, one) in stock.iter().enumerate() {
        match stuffs.iter_mut().find(|stuff| stock[stuff[0]].paper.is_like(&one.paper)) {
            Some(stuff) => stuff.push(index),
            None => stuffs.push(vec![index]),
        }
    }
    stuffs
}

/// Chooses for every order and supply, in the order of the orders.
pub(crate) fn choose(
    batch: &Batch,
    orders: &[Order],
    stock: &[StoredPaper],
    stuffs: &[Stuff],
) -> Vec<Chosen> {
    let areas = |stuff: &Stuff| {
        let area = |&index: &usize| {
            let paper = &stock[index].paper;
            area_of(paper.width, paper.height) * f64::from(paper.count)
        };
        YIELD * stuff.iter().map(area).sum::<f64>()
    };
    let mut chooser =
        Chooser { stock, stuffs, left: stuffs.iter().map(areas).collect(), chosen: Vec::new(), orders };
    // What is fixed takes its paper first.
    for (order, one) in orders.iter().enumerate() {
        for supply in supplies(one, batch) {
            let by_hand = batch.choices.iter().find(|c| (c.layout, c.supply) == (one.layout, supply));
            if let Some(choice) = by_hand {
                chooser.by_hand(order, supply, choice.paper, choice.face);
            }
        }
    }
    for (order, one) in orders.iter().enumerate() {
        for supply in supplies(one, batch) {
            if !chooser.chosen.iter().any(|c| (c.order, c.supply) == (order, supply)) {
                chooser.propose(order, supply);
            }
        }
    }
    let mut chosen = chooser.chosen;
    chosen.sort_by_key(|one| (one.order, one.supply));
    chosen
}

/// The papers that an order needs.
fn supplies(order: &Order, batch: &Batch) -> Vec<Supply> {
    let mut supplies: Vec<Supply> = Vec::new();
    for piece in &order.pieces.pieces {
        let wanted = batch.cutting.bases || piece.supply != Supply::Base;
        if wanted && !supplies.contains(&piece.supply) {
            supplies.push(piece.supply);
        }
    }
    supplies
}

struct Chooser<'a> {
    stock: &'a [StoredPaper],
    stuffs: &'a [Stuff],
    orders: &'a [Order],
    /// Area of each stuff that nobody has yet.
    left: Vec<f64>,
    chosen: Vec<Chosen>,
}

impl Chooser<'_> {
    fn by_hand(&mut self, order: usize, supply: Supply, paper: i64, face: usize) {
        let stuff =
            self.stuffs.iter().position(|stuff| stuff.iter().any(|&index| self.stock[index].id == paper));
        let (from, why) = match stuff {
            None => (None, "the paper that was chosen is used up or gone: choose another one".to_owned()),
            Some(stuff) if face >= self.stock[self.stuffs[stuff][0]].paper.faces.len() => {
                (None, "the paper that was chosen has no second face".to_owned())
            }
            Some(stuff) if !self.holds(stuff, face, order, supply) => (
                Some((stuff, face)),
                "chosen by hand; some of its pieces are larger than the paper".to_owned(),
            ),
            Some(stuff) => (Some((stuff, face)), "chosen by hand".to_owned()),
        };
        self.take(Chosen { order, supply, from, paper: Some(paper), by_hand: true, why });
    }

    fn propose(&mut self, order: usize, supply: Supply) {
        let faces = self.stuffs.iter().enumerate().flat_map(|(stuff, papers)| {
            (0..self.stock[papers[0]].paper.faces.len()).map(move |face| (stuff, face))
        });
        let best = faces
            .filter(|&(stuff, face)| self.holds(stuff, face, order, supply))
            .min_by_key(|&(stuff, face)| self.marks(stuff, face, order, supply));
        let chosen = match best {
            None => Chosen {
                order,
                supply,
                from: None,
                paper: None,
                by_hand: false,
                why: "no paper of the drawer is large enough for its pieces".to_owned(),
            },
            Some((stuff, face)) => {
                let paper = &self.stock[self.stuffs[stuff][0]];
                let why = self.reason(stuff, face, order, supply);
                Chosen {
                    order,
                    supply,
                    from: Some((stuff, face)),
                    paper: Some(paper.id),
                    by_hand: false,
                    why,
                }
            }
        };
        self.take(chosen);
    }

    fn take(&mut self, chosen: Chosen) {
        if let Some((stuff, _)) = chosen.from {
            self.left[stuff] -= self.area(chosen.order, chosen.supply);
        }
        self.chosen.push(chosen);
    }

    fn pieces(&self, order: usize, supply: Supply) -> impl Iterator<Item = &Piece> {
        self.orders[order].pieces.pieces.iter().filter(move |piece| piece.supply == supply)
    }

    fn area(&self, order: usize, supply: Supply) -> f64 {
        self.pieces(order, supply)
            .map(|piece| area_of(piece.width, piece.height) * f64::from(piece.count))
            .sum()
    }

    /// Whether every piece fits a sheet of the stuff with this face up.
    fn holds(&self, stuff: usize, face: usize, order: usize, supply: Supply) -> bool {
        self.pieces(order, supply).all(|piece| {
            self.stuffs[stuff].iter().any(|&index| {
                let paper = &self.stock[index].paper;
                let face = &paper.faces[face];
                let edges = face.unusable;
                let room = [paper.width - edges.left - edges.right, paper.height - edges.top - edges.bottom];
                let fits = |[w, h]: [Length; 2]| w <= room[0] && h <= room[1];
                let may_turn = !(piece.upright && face.directional);
                fits([piece.width, piece.height]) || (may_turn && fits([piece.height, piece.width]))
            })
        })
    }

    /// What speaks against a face; the least is best. Ids settle ties.
    fn marks(&self, stuff: usize, face: usize, order: usize, supply: Supply) -> (u32, u32, i64, usize) {
        let paper = &self.stock[self.stuffs[stuff][0]].paper;
        let pattern = paper.faces[face].pattern;
        let mut against = 0;
        if self.left[stuff] < self.area(order, supply) {
            against += 40;
        }
        let taken = |other: &&Chosen| other.from == Some((stuff, face));
        match supply {
            Supply::Base | Supply::Mat(_) | Supply::Plain => {
                against += if pattern == Pattern::Plain { 0 } else { 20 };
                let heavy = paper.weight == Weight::Cardstock;
                against += match supply {
                    Supply::Plain => u32::from(!heavy),
                    _ => {
                        if heavy {
                            0
                        } else {
                            30
                        }
                    }
                };
                // One stuff for all bases, and one for all mats, that is not that of the base.
                let kind = |one: Supply| match one {
                    Supply::Mat(_) => Supply::Mat(1),
                    other => other,
                };
                let others = || self.chosen.iter().filter(taken);
                against += if others().any(|one| kind(one.supply) == kind(supply)) { 0 } else { 3 };
                // A mat shows against what lies on it, and a little against the base.
                let same = |one: &&Chosen| one.order == order && kind(one.supply) != kind(supply);
                against += others()
                    .filter(same)
                    .map(|one| if one.supply == Supply::Base { 4 } else { 8 })
                    .sum::<u32>();
            }
            Supply::Slot(_) => {
                against += match (pattern, self.widest(order, supply)) {
                    (Pattern::Plain, _) => 20,
                    (Pattern::Quiet, width) if width >= LARGE => 6,
                    (Pattern::Busy, width) if width <= NARROW => 12,
                    (Pattern::Busy, width) if width < LARGE => 2,
                    _ => 0,
                };
                against += if paper.weight == Weight::Cardstock { 10 } else { 0 };
                // Each letter of a layout stands for another paper.
                against +=
                    if self.chosen.iter().filter(taken).any(|one| one.order == order) { 25 } else { 0 };
                // Other layouts get other papers where there are enough.
                against += u32::from(self.chosen.iter().any(|one| one.from == Some((stuff, face)))) * 2;
            }
        }
        // Small leftovers are used up before a sheet is begun.
        let smallest = self.stuffs[stuff].iter().map(|&index| {
            let paper = &self.stock[index].paper;
            paper.width.in_units().unsigned_abs() / 1000 * (paper.height.in_units().unsigned_abs() / 1000)
        });
        (against, smallest.min().unwrap_or(u32::MAX), self.stock[self.stuffs[stuff][0]].id, face)
    }

    /// The widest piece's shorter side.
    fn widest(&self, order: usize, supply: Supply) -> Length {
        self.pieces(order, supply).map(|piece| piece.width.min(piece.height)).max().unwrap_or(Length::ZERO)
    }

    fn reason(&self, stuff: usize, face: usize, order: usize, supply: Supply) -> String {
        let paper = &self.stock[self.stuffs[stuff][0]].paper;
        let pattern = paper.faces[face].pattern;
        let mut why = match (supply, pattern) {
            (Supply::Base | Supply::Mat(_), Pattern::Plain) if paper.weight == Weight::Cardstock => {
                "plain cardstock".to_owned()
            }
            (Supply::Base, _) if paper.weight == Weight::Paper => {
                "there is no cardstock that fits: paper makes a thin card".to_owned()
            }
            (Supply::Slot(_), Pattern::Busy) if self.widest(order, supply) >= LARGE => {
                "a busy print looks well on a large panel".to_owned()
            }
            (Supply::Slot(_), Pattern::Quiet) if self.widest(order, supply) <= NARROW => {
                "a quiet print looks well on a narrow piece".to_owned()
            }
            _ => "the best that fits".to_owned(),
        };
        if self.left[stuff] < self.area(order, supply) {
            why.push_str("; there is not enough of it");
        }
        why
    }
}

/// Area in square inches.
pub(crate) fn area_of(width: Length, height: Length) -> f64 {
    width.value(Unit::Inch) * height.value(Unit::Inch)
}

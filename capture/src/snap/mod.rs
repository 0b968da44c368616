//! Stage 9: sizes and positions on the grid, all of a layout together.
//!
//! Model: a conditional random field (Lafferty, `McCallum` and Pereira,
//! "Conditional random fields", ICML 2001) over the lines that were drawn. A
//! line is shared by all the straight edges drawn on it; its value is the place
//! that was meant, in sixteenths of an inch or half millimetres. What was
//! measured pulls each line with a Gaussian of the measurement's and the hand's
//! own scatter; the habits makers draw by ([`Habit`]) pull lines together with
//! log-odds learned from layouts whose truth is known (`learned`, `study`).
//! Shared margins, diameters, borders of mats, and sizes and gaps of rows are
//! variables of their own.
//!
//! The most probable layout and the marginal of every size are found exactly,
//! by bucket elimination: see `graph`. How far the hand strays is not known, so
//! all of this is done for each hand of a fixed ladder, every one weighed by how
//! probable it makes the page; of the layouts that are best for some hand the
//! one most probable over all hands is chosen. What is wrong with the drawing as
//! a whole is taken out first: see `level`. Where the tables would not fit, the
//! least telling habits are left out one after another (`model::Thrift`), and
//! the smaller model is solved exactly.

mod again;
mod graph;
mod habits;
mod learned;
mod level;
mod model;
mod roles;
pub mod study;
#[cfg(test)]
mod tests;

use layout::{Alternative, Card, Frame, Length, Role, Shape, Side, Step, Unit, snap};

pub(crate) use again::measurements;
pub use again::{Decided, settle_again};
pub use habits::{Habit, Weights};
use model::{Model, Piece, Ruler, Span};

/// An element as the reading measured it, before anything is on the grid.
#[derive(Clone, Debug)]
pub struct Measured {
    /// What it is. A rectangle's corner radius is not looked at here: see
    /// `corner_radius_in`.
    pub shape: Shape,
    /// Left, top, right and bottom side of the box before turning, in inches
    /// from the card's top-left corner.
    pub sides: [Edge; 4],
    /// Degrees clockwise about the box's centre.
    pub rotation_deg: f64,
    /// Radius of a rectangle's corners in inches, 0 for sharp ones.
    pub corner_radius_in: f64,
    /// Width and height, where a person has fixed them: they are kept, and
    /// everything else is settled with them held.
    pub held: [Option<Length>; 2],
}

/// Where one side of a box was measured.
#[derive(Clone, Copy, Debug)]
pub struct Edge {
    /// Position in inches.
    pub at: f64,
    /// Standard deviation of the position in inches, from the fit to the
    /// ink; what the hand strayed comes on top.
    pub sd: f64,
    /// Share of the side that was seen, 0 to 1. A side that was not seen
    /// (hidden, or beyond the card) is a guess.
    pub seen: f64,
}

/// What is known about a layout besides its elements.
#[derive(Clone, Copy, Debug, Default)]
pub struct Options {
    /// How far a drawn side strays from what was meant, in inches (standard
    /// deviation): about 0.003 for print, 0.025 for a careful hand, 0.05 for
    /// a loose one. `None` to estimate it from the drawing.
    pub hand_sd_in: Option<f64>,
}

/// A layout on the grid: one entry per measured element, in the same order.
#[derive(Clone, Debug, Default)]
pub struct Snapped {
    /// Each element's box.
    pub elements: Vec<SnappedElement>,
    /// How far the drawing's sides stray, as given or estimated, inches.
    pub hand_sd_in: f64,
}

/// One element on the grid.
#[derive(Clone, Debug)]
pub struct SnappedElement {
    /// Its box.
    pub frame: Frame,
    /// What it seems to be for.
    pub role: Role,
    /// Radius of its corners.
    pub corner_radius: Length,
    /// Probability that width and height are what was meant.
    pub certainty: f64,
    /// Sizes that fit nearly as well.
    pub alternatives: Vec<Alternative>,
    /// How width and height came about.
    pub why: [Why; 2],
}

/// How one size came about.
#[derive(Clone, Debug, Default)]
pub struct Why {
    /// The size as measured, inches, and the standard deviation that the
    /// measurement and the hand give it.
    pub measured_in: f64,
    /// See `measured_in`.
    pub sd_in: f64,
    /// Probability of the size that was chosen.
    pub probability: f64,
    /// The habits that spoke for this choice, strongest first, with their
    /// log-odds.
    pub habits: Vec<(Habit, f64)>,
    /// Fixed by hand, or written on the drawing.
    pub held: bool,
    /// The writing that gave it, as it would be typed.
    pub written: Option<String>,
}

/// The ladder of hands tried when none is given, inches.
const HANDS_IN: [f64; 9] = [0.002, 0.005, 0.01, 0.016, 0.022, 0.028, 0.037, 0.05, 0.065];
/// Largest tables that are worked with.
const MOST_ENTRIES: usize = 80_000;
/// Larger tables are not worked with at all: no drawing of a card needs them,
/// and the elements are settled each by itself.
const TOO_MANY_ENTRIES: usize = 5 * MOST_ENTRIES;
/// Hands less probable than this are left out.
const NEGLIGIBLE: f64 = 0.01;
/// Hands less probable than the likeliest by this much at first look, nats, are
/// not looked at again.
const HOPELESS: f64 = 9.0;
/// Smallest side of a mark, in steps of size: a quarter inch or 2 mm.
const LEAST_MARK: i32 = 2;
/// An alternative is told from this probability up.
const WORTH_TELLING: f64 = 0.2;

/// Settles a layout on the grid of its card.
pub fn settle(card: &Card, elements: &[Measured], options: &Options) -> Snapped {
    settle_page(&[(card, elements)], options, &Weights::default()).pop().unwrap_or_default()
}

/// Settles the layouts of one page, which one hand has drawn: what each tells
/// of the hand helps with the others. In the order given. `weights` are the
/// learned ones by default.
///
/// A drawing of more than [`MOST_TOGETHER`] elements is no card front; its
/// elements are settled each by itself.
pub fn settle_page(drawings: &[(&Card, &[Measured])], options: &Options, weights: &Weights) -> Vec<Snapped> {
    let small = |elements: &[Measured]| elements.len() <= MOST_TOGETHER;
    let together: Vec<(&Card, &[Measured])> =
        drawings.iter().copied().filter(|(_, elements)| small(elements)).collect();
    let mut settled = settle_together(&together, options, weights).into_iter();
    drawings
        .iter()
        .map(|(card, elements)| {
            let apart = || Snapped {
                elements: elements.iter().map(|element| by_itself(card, element)).collect(),
                hand_sd_in: options.hand_sd_in.unwrap_or(HANDS_IN[0]),
            };
            if small(elements) { settled.next().unwrap_or_else(apart) } else { apart() }
        })
        .collect()
}

/// The most elements of one drawing that are settled together.
pub const MOST_TOGETHER: usize = 24;

fn settle_together(drawings: &[(&Card, &[Measured])], options: &Options, weights: &Weights) -> Vec<Snapped> {
    let told = options.hand_sd_in.filter(|hand| hand.is_finite()).map(|hand| hand.clamp(0.001, 0.2));
    let hands: Vec<f64> = told.map_or(HANDS_IN.to_vec(), |hand| vec![hand]);
    let drawings: Vec<Drawing> = drawings
        .iter()
        .map(|(card, elements)| {
            let ruler = Ruler::new(card);
            let pieces = model::pieces(ruler, elements);
            let drawing = Drawing { card, elements, ruler, pieces };
            let pieces = level::level(&drawing, told, weights);
            Drawing { pieces, ..drawing }
        })
        .collect();
    // A first look leaves out the hands that cannot have drawn the page.
    let look = |thrift: model::Thrift, hands: &[f64]| -> (Vec<Vec<Option<View>>>, Vec<f64>) {
        let views: Vec<Vec<Option<View>>> = drawings
            .iter()
            .map(|drawing| hands.iter().map(|hand| View::new(drawing, *hand, weights, thrift)).collect())
            .collect();
        let odds: Vec<f64> = hands
            .iter()
            .enumerate()
            .map(|(at, hand)| {
                // A drawing that is not looked at says nothing of the hand.
                let evidence =
                    |views: &Vec<Option<View>>| views[at].as_ref().map_or(0.0, |view| view.evidence);
                habitual(*hand) + views.iter().map(evidence).sum::<f64>()
            })
            .collect();
        (views, odds)
    };
    let hands = if hands.len() > 1 {
        let (_, odds) = look(model::Thrift::COARSE, &hands);
        let top = odds.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        hands.into_iter().zip(odds).filter(|(_, odds)| *odds > top - HOPELESS).map(|(hand, _)| hand).collect()
    } else {
        hands
    };
    let (views, odds) = look(model::Thrift::default(), &hands);
    let top = odds.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = odds.iter().map(|odds| (odds - top).exp()).sum();
    drawings
        .iter()
        .zip(views)
        .map(|(drawing, views)| {
            let mut kept = Vec::new();
            for (view, odds) in views.into_iter().zip(&odds) {
                let Some(mut view) = view else { continue };
                view.share = (odds - top).exp() / total;
                if view.share > NEGLIGIBLE && view.evidence.is_finite() {
                    kept.push(view.looked_at(weights));
                }
            }
            drawing.settle(&kept, weights)
        })
        .collect()
}

/// A measured layout.
struct Drawing<'a> {
    card: &'a Card,
    elements: &'a [Measured],
    ruler: Ruler,
    pieces: Vec<Piece>,
}

impl Drawing<'_> {
    fn settle(&self, views: &[View], weights: &Weights) -> Snapped {
        let mut out: Vec<SnappedElement> =
            self.elements.iter().map(|element| by_itself(self.card, element)).collect();
        let Some((view, sides)) = most_probable(views, weights) else {
            return Snapped { elements: out, hand_sd_in: HANDS_IN[0] };
        };
        let length = |steps: i32| Length::steps(steps, self.card.unit, Step::Position);
        for (number, piece) in self.pieces.iter().enumerate() {
            let [x, y] = sides[number];
            let element = &mut out[piece.index];
            element.frame = Frame {
                x: length(x[0]),
                y: length(y[0]),
                width: length(x[1] - x[0]),
                height: length(y[1] - y[0]),
            };
            element.certainty = 1.0;
            for (axis, side) in [(0, Side::Width), (1, Side::Height)] {
                let chosen = sides[number][axis][1] - sides[number][axis][0];
                let sizes = size_marginal(views, number, axis);
                let probability = sizes.iter().find(|(size, _)| *size == chosen).map_or(0.0, |(_, p)| *p);
                // The two sides of a circle are one.
                if !(piece.shape == Shape::Circle && axis == 1) {
                    element.certainty *= probability;
                }
                for (size, probability) in sizes {
                    if size != chosen && probability > WORTH_TELLING {
                        element.alternatives.push(Alternative { side, size: length(size), probability });
                    }
                }
                element.why[axis] = explain(view, weights, number, axis, piece);
                element.why[axis].probability = probability;
            }
        }
        roles::assign(self.card, &view.model.outer, &self.pieces, &mut out);
        let hand: f64 = views.iter().map(|view| view.share * view.hand).sum();
        let shares: f64 = views.iter().map(|view| view.share).sum();
        Snapped { elements: out, hand_sd_in: hand / shares / self.ruler.per_in }
    }
}

/// The drawing as one hand would have made it.
struct View {
    /// The hand's standard deviation, steps.
    hand: f64,
    model: Model,
    order: Vec<usize>,
    all: graph::Eliminated,
    /// Log-probability of the drawing, up to a constant.
    evidence: f64,
    /// Probability of this hand, given the page.
    share: f64,
    marginals: Vec<graph::Table>,
    /// The most probable layout, as places in the domains.
    best: Vec<usize>,
}

impl View {
    /// `None` where the tables would be too large, however much is left out.
    fn new(drawing: &Drawing, hand_in: f64, weights: &Weights, mut thrift: model::Thrift) -> Option<View> {
        let hand = hand_in * drawing.ruler.per_in;
        loop {
            let model = Model::new(drawing.ruler, &drawing.pieces, hand, thrift);
            let (order, entries) = model.graph.order();
            if let (true, Some(more)) = (entries > MOST_ENTRIES, thrift.more()) {
                thrift = more;
                continue;
            }
            if entries > TOO_MANY_ENTRIES {
                return None;
            }
            let all = model.graph.eliminate::<false>(&order, weights);
            let evidence = all.log_total;
            if let (false, Some(more)) = (evidence.is_finite(), thrift.more()) {
                thrift = more;
                continue;
            }
            let (share, marginals, best) = (0.0, Vec::new(), Vec::new());
            return Some(View { hand, model, order, all, evidence, share, marginals, best });
        }
    }

    /// With marginals and the most probable layout.
    fn looked_at(mut self, weights: &Weights) -> View {
        self.marginals = self.all.marginals();
        let count = self.model.graph.domains.len();
        self.best = self.model.graph.eliminate::<true>(&self.order, weights).best(count);
        self
    }
}

/// Sides of every piece on each axis, in steps.
type Sides = Vec<[[i32; 2]; 2]>;

/// Of the layouts that are best for some hand, the one most probable over all
/// hands; and the view that gave it. `None` without a view.
fn most_probable<'a>(views: &'a [View], weights: &Weights) -> Option<(&'a View, Sides)> {
    let mut found: Option<(f64, &View, Sides)> = None;
    for view in views {
        let value = |var: usize| view.model.graph.domains[var][view.best[var]];
        let sides: Sides = view.model.spans.iter().map(|spans| spans.map(|span| span.sides(value))).collect();
        if found.as_ref().is_some_and(|(_, _, other)| *other == sides) {
            continue;
        }
        let mut probability = 0.0;
        for other in views {
            let Some(held) = other.model.places_of(&sides) else { continue };
            let clamped = other.model.graph.clamped(&held);
            let (order, _) = clamped.order();
            let log = clamped.eliminate::<false>(&order, weights).log_total - other.evidence;
            probability += other.share * log.exp();
        }
        if found.as_ref().is_none_or(|(most, _, _)| probability > *most) {
            found = Some((probability, view, sides));
        }
    }
    found.map(|(_, view, sides)| (view, sides))
}

/// Log-probability of a hand before the drawing is seen, up to a constant:
/// half the drawings are printed, the others' scatter is about 0.03 inches
/// give or take half.
fn habitual(hand_in: f64) -> f64 {
    let bell = |hand: f64, spread: f64| (-0.5 * ((hand_in / hand).ln() / spread).powi(2)).exp() / spread;
    let print = if hand_in < 0.008 { 1.0 } else { 0.0 };
    (print + 0.2 * bell(0.034, 0.5) + 0.45 * bell(0.025, 0.15) + 0.35 * bell(0.05, 0.15)).ln()
}

/// Probability of each size of a piece, over all hands, most probable first.
fn size_marginal(views: &[View], number: usize, axis: usize) -> Vec<(i32, f64)> {
    let mut sizes: Vec<(i32, f64)> = Vec::new();
    let mut add = |size: i32, probability: f64| match sizes.iter_mut().find(|(other, _)| *other == size) {
        Some((_, sum)) => *sum += probability,
        None => sizes.push((size, probability)),
    };
    for view in views {
        let (domains, span) = (&view.model.graph.domains, view.model.spans[number][axis]);
        let vars = match span {
            Span::Lines(lines) => lines.to_vec(),
            Span::Middle([_, size]) => vec![size],
        };
        // What has one value only is in no clique.
        let free: Vec<usize> = vars.iter().copied().filter(|var| domains[*var].len() > 1).collect();
        let holds_all = |table: &&graph::Table| free.iter().all(|var| table.vars.contains(var));
        let Some(clique) = view.marginals.iter().find(holds_all) else { continue };
        let table = clique.onto(&free);
        let [low, high] = [&domains[vars[0]], &domains[vars[vars.len() - 1]]];
        for (entry, probability) in table.entries.iter().enumerate() {
            let size = match span {
                Span::Middle(_) => high[entry],
                Span::Lines(_) => high[entry % high.len()] - low[entry / high.len()],
            };
            add(size, probability * view.share);
        }
    }
    sizes.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    sizes
}

fn explain(view: &View, weights: &Weights, number: usize, axis: usize, piece: &Piece) -> Why {
    let mut habits: Vec<(Habit, f64)> = Vec::new();
    let graph = &view.model.graph;
    for factor in graph.factors.iter().filter(|factor| factor.about.contains(&(number, axis))) {
        for (habit, much) in factor.held(&view.best, &graph.domains) {
            let odds = weights.of(habit) * much;
            if odds > 0.1 && !habits.iter().any(|(other, _)| *other == habit) {
                habits.push((habit, odds));
            }
        }
    }
    habits.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let [low, high] = piece.at[axis];
    let spread = piece.sd[axis][0].hypot(piece.sd[axis][1]).hypot(model::hand::SIZE * view.hand);
    Why {
        measured_in: (high - low) / view.model.ruler.per_in,
        sd_in: spread / view.model.ruler.per_in,
        probability: 0.0,
        habits,
        held: piece.held[axis].is_some(),
        written: None,
    }
}

/// An element rounded by itself, but for what is fixed: what a mark gets, and
/// what cannot be measured.
fn by_itself(card: &Card, element: &Measured) -> SnappedElement {
    let unit = card.unit;
    let per_in = if unit == Unit::Millimetre { 25.4 } else { 1.0 };
    let [left, top, right, bottom] = element.sides.map(|side| side.at * per_in);
    let is_mark = matches!(element.shape, Shape::Mark { .. });
    let least = Length::steps(if is_mark { LEAST_MARK } else { 1 }, unit, Step::Size);
    let axis = |low: f64, high: f64, held: Option<Length>| {
        let size = snap(high - low, unit, Step::Size).map_or(least, |(size, _)| size).max(least);
        let size = held.filter(|held| held.is_positive()).unwrap_or(size);
        let start = f64::midpoint(low, high) - size.value(unit) / 2.0;
        (snap(start, unit, Step::Position).map_or(Length::ZERO, |(start, _)| start), size)
    };
    let ((x, width), (y, height)) = (axis(left, right, element.held[0]), axis(top, bottom, element.held[1]));
    SnappedElement {
        frame: Frame { x, y, width, height },
        role: if is_mark { Role::Embellishment } else { Role::Panel },
        corner_radius: corner_radius(card, element),
        // A mark's size is nominal: it is what it is called.
        certainty: if is_mark { 1.0 } else { 0.0 },
        alternatives: Vec::new(),
        why: [Why::default(), Why::default()],
    }
}

/// The radius of a rectangle's corners on the position grid. Corners rounder
/// than a pen's own are meant.
fn corner_radius(card: &Card, element: &Measured) -> Length {
    const PEN_IN: f64 = 0.05;
    let radius = element.corner_radius_in;
    if !matches!(element.shape, Shape::Rectangle { .. }) || radius.is_nan() || radius < PEN_IN {
        return Length::ZERO;
    }
    let [width, height] = [0, 1].map(|axis| (element.sides[axis + 2].at - element.sides[axis].at).abs());
    let radius = radius.min(width.min(height) / 2.0);
    let scale = if card.unit == Unit::Millimetre { 25.4 } else { 1.0 };
    snap(radius * scale, card.unit, Step::Position).map_or(Length::ZERO, |(radius, _)| radius)
}

//! From a measured drawing to the factor graph of what may have been meant.
//!
//! A line is shared by all straight edges that were drawn on it, and the card's
//! own edges are lines of known place. Variables are the shared lines, and the
//! centre and size of what shares none: seen so, most habits tie few variables
//! together and the graph stays thin. All lengths here are in steps of the
//! position grid: sixteenths of an inch or half millimetres.

use layout::{Card, Shape, Step, Unit};

use super::graph::{Graph, NEVER, Score};
use super::habits::Habit;
use super::{Edge, Measured};

/// How the strokes of a hand scatter, as multiples of its standard deviation
/// for one edge. Measured on the drawn boxes of the tuning half; print the
/// figures anew with `snap-learn`.
pub(super) mod hand {
    /// Centre of a straight element.
    pub(in crate::snap) const CENTRE: f64 = 0.97;
    /// Extent of a straight element.
    pub(in crate::snap) const SIZE: f64 = 1.68;
    /// Extent of a thin straight element, up to [`THIN_IN`](super::THIN_IN).
    pub(in crate::snap) const THIN: f64 = 1.35;
    /// One edge whose opposite is given by a line drawn before.
    pub(in crate::snap) const EDGE: f64 = 1.28;
    /// Centre of a circle or oval.
    pub(in crate::snap) const ROUND_CENTRE: f64 = 1.12;
    /// Diameter of a circle, or extent of an oval.
    pub(in crate::snap) const ROUND_SIZE: f64 = 1.8;
    /// Difference of a circle's two extents.
    pub(in crate::snap) const SQUASH: f64 = 1.4;
    /// A border of at most an eighth of an inch, as between a mat and what
    /// lies on it.
    pub(in crate::snap) const BORDER: f64 = 0.37;
    /// An edge drawn on a line that is there already.
    pub(in crate::snap) const RETRACED: f64 = 0.1;
}

/// Widest border that a hand draws by eye beside the line, inches: an eighth,
/// and what rounding may add.
const BORDER_IN: f64 = 0.13;
/// Widest even border that is taken for a mat, inches on each side.
const WIDEST_MAT_IN: f64 = 0.22;
/// What counts as a strip: so many times longer than wide.
const NARROW: f64 = 2.4;
/// What counts as thin, inches.
pub(super) const THIN_IN: f64 = 0.75;
/// A loose hand, inches.
const LOOSE_HAND_IN: f64 = 0.05;
/// Chance that a measurement is plainly wrong.
const BLUNDER: f64 = 1e-6;
/// Sides farther out than this are no measurements, inches.
const FARTHEST_IN: f64 = 100.0;
/// How alike two lines must lie to be one, in standard deviations of retracing.
const RETRACE_REACH: f64 = 3.5;
/// Lines farther apart than this are two, however badly they were measured,
/// inches: less than the least border of a mat.
const FARTHEST_RETRACE_IN: f64 = 0.05;
/// Most values that one line may take.
const MOST_VALUES: i32 = 41;
/// In place of a length where there is none in common.
const NONE: i32 = -100_000;
/// How many lengths a shared one is chosen among, before anything is seen.
const LIKELY_LENGTHS: f64 = 10.0;
/// Lines measured worse than this, in steps, are not taken for another's.
const VAGUE: f64 = 0.6;

/// An element that takes part: everything but marks.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    /// Its place in the list of measured elements.
    pub index: usize,
    pub shape: Shape,
    pub turn: f64,
    /// Measured low and high side of each axis, steps.
    pub at: [[f64; 2]; 2],
    /// Their standard deviations, steps.
    pub sd: [[f64; 2]; 2],
    /// By how much a circle was measured wider than high, steps; `None` if it
    /// was fitted as a circle, or its sides were not all seen.
    pub squash: Option<f64>,
    /// Sizes held by hand, steps.
    pub held: [Option<i32>; 2],
}

impl Piece {
    /// Upright with straight sides: its edges can share lines.
    pub(super) fn is_straight(&self) -> bool {
        matches!(self.shape, Shape::Rectangle { .. } | Shape::Banner { .. }) && self.turn.abs() < 0.5
    }

    pub(super) fn is_round(&self) -> bool {
        matches!(self.shape, Shape::Circle | Shape::Oval)
    }

    fn size(&self, axis: usize) -> f64 {
        self.at[axis][1] - self.at[axis][0]
    }

    pub(super) fn centre(&self, axis: usize) -> f64 {
        f64::midpoint(self.at[axis][1], self.at[axis][0])
    }
}

/// The grid and the card, in steps.
#[derive(Clone, Copy, Debug)]
pub(super) struct Ruler {
    pub unit: Unit,
    /// Steps in an inch.
    pub per_in: f64,
    /// The card's extents.
    pub card: [i32; 2],
}

impl Ruler {
    pub(super) fn new(card: &Card) -> Ruler {
        let per_in = if card.unit == Unit::Millimetre { 50.8 } else { 16.0 };
        Ruler {
            unit: card.unit,
            per_in,
            card: [card.width, card.height].map(|side| side.in_steps(card.unit, Step::Position)),
        }
    }

    /// Whether a length is a multiple of an eighth, quarter, half or whole
    /// inch (`eighths` 1, 2, 4, 8), or of 1, 5, 10 or 20 mm.
    fn is_round(self, steps: i32, eighths: i32) -> bool {
        let multiple = match (self.unit, eighths) {
            (Unit::Inch, _) | (Unit::Millimetre, 1) => 2 * eighths,
            (Unit::Millimetre, 2) => 10,
            (Unit::Millimetre, 4) => 20,
            (Unit::Millimetre, _) => 40,
        };
        steps % multiple == 0
    }

    /// The eighth-inch or three-millimetre margin.
    fn eighth(self) -> i32 {
        if self.unit == Unit::Inch { 2 } else { 6 }
    }

    /// The quarter-inch or five-millimetre gap.
    fn quarter(self) -> i32 {
        if self.unit == Unit::Inch { 4 } else { 10 }
    }
}

/// How much of the model is kept, from everything (0) to the least (4), for
/// drawings whose tables would not fit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Thrift(usize);

impl Thrift {
    /// For a first look.
    pub(super) const COARSE: Thrift = Thrift(3);
    /// For a second.
    pub(super) const FINE: Thrift = Thrift(1);

    /// One step more, if there is one.
    pub(super) fn more(self) -> Option<Thrift> {
        (self.0 < 4).then_some(Thrift(self.0 + 1))
    }

    /// How far sides may lie from where they were measured, standard deviations.
    fn reach(self) -> f64 {
        [2.6, 2.6, 2.2, 1.8, 1.5][self.0]
    }

    /// Most margins that are weighed for one element.
    fn margins(self) -> usize {
        [8, 5, 3, 0, 0][self.0]
    }

    /// Whether elements far from one another may be related.
    fn relates_others(self) -> bool {
        self.0 < 3
    }
}

/// A graph and where its variables are.
#[derive(Clone, Debug)]
pub(super) struct Model {
    pub graph: Graph,
    pub ruler: Ruler,
    /// Each piece's extent on each axis.
    pub spans: Vec<[Span; 2]>,
    /// The piece that each piece is the inner of, for mats.
    pub outer: Vec<Option<usize>>,
}

/// An extent on one axis, by its variables.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Span {
    /// Low and high line.
    Lines([usize; 2]),
    /// Centre and size.
    Middle([usize; 2]),
}

impl Span {
    /// Low and high side, given the value of each variable.
    pub(super) fn sides(self, value: impl Fn(usize) -> i32) -> [i32; 2] {
        match self {
            Span::Lines(lines) => lines.map(value),
            Span::Middle([centre, size]) => {
                let (centre, size) = (value(centre), value(size));
                [centre - size / 2, centre + size / 2]
            }
        }
    }
}

/// Half of a sum of variables: twice a line, or twice a centre and its size.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Place(Vec<(usize, i32)>);

impl Place {
    fn line(var: usize) -> Place {
        Place(vec![(var, 2)])
    }

    fn side([centre, size]: [usize; 2], side: usize) -> Place {
        Place(vec![(centre, 2), (size, if side == 0 { -1 } else { 1 })])
    }

    /// Twice the middle of two places: where one centre stands behind both, that alone.
    fn middle(low: &Place, high: &Place) -> Place {
        let mut terms: Vec<(usize, i32)> = Vec::new();
        for (var, much) in low.0.iter().chain(&high.0) {
            match terms.iter_mut().find(|(other, _)| other == var) {
                Some((_, sum)) => *sum += much,
                None => terms.push((*var, *much)),
            }
        }
        terms.retain(|(_, much)| *much != 0);
        Place(terms)
    }

    fn extent(low: &Place, high: &Place) -> Place {
        Place::middle(&Place(low.0.iter().map(|(var, much)| (*var, -much)).collect()), high)
    }
}

/// What is placed as one: an element, or a row or grid of equal ones.
struct Group {
    members: Vec<usize>,
    /// The topmost layer of each.
    tops: Vec<usize>,
    /// Low and high line on each axis, of the topmost layer.
    lines: [[usize; 2]; 2],
    /// Every line of the lowest layer.
    faces: Vec<usize>,
    /// Measured box, mats and all.
    at: [[f64; 2]; 2],
    /// The pairs of lines on each axis, first to last.
    spans: [Vec<[usize; 2]>; 2],
}

/// Pieces of a drawing, by steps.
pub(super) fn pieces(ruler: Ruler, elements: &[Measured]) -> Vec<Piece> {
    let mut out = Vec::new();
    for (index, element) in elements.iter().enumerate() {
        let readable = element.sides.iter().all(|side| side.at.abs() < FARTHEST_IN && side.sd.is_finite());
        if matches!(element.shape, Shape::Mark { .. }) || !readable {
            continue;
        }
        let [left, top, right, bottom] = element.sides;
        let steps = |low: Edge, high: Edge| {
            let (low_at, high_at) = (low.at.min(high.at), low.at.max(high.at));
            [low_at * ruler.per_in, high_at * ruler.per_in]
        };
        let spread =
            |low: Edge, high: Edge| [low.sd, high.sd].map(|sd| (sd.max(0.0005) * ruler.per_in).min(20.0));
        let held = element.held.map(|held| {
            // On the size grid, and never nothing.
            held.map(|size| size.in_steps(ruler.unit, Step::Size).max(1) * 2)
        });
        let mut piece = Piece {
            index,
            shape: element.shape,
            turn: element.rotation_deg,
            at: [steps(left, right), steps(top, bottom)],
            sd: [spread(left, right), spread(top, bottom)],
            squash: None,
            held,
        };
        if element.shape == Shape::Circle {
            let squash = piece.size(0) - piece.size(1);
            let seen = piece.sd.as_flattened().iter().all(|sd| *sd < VAGUE);
            piece.squash = (squash.abs() > 1e-6 && seen).then_some(squash);
            piece.round_off();
        }
        if piece.is_straight() {
            piece.cut_off(ruler);
        }
        out.push(piece);
    }
    out
}

impl Piece {
    /// What has straight upright sides ends at the card's edge.
    fn cut_off(&mut self, ruler: Ruler) {
        for axis in [0, 1] {
            let end = f64::from(ruler.card[axis]);
            let [low, high] = &mut self.at[axis];
            (*low, *high) = (low.clamp(0.0, end - 2.0), high.clamp(2.0, end));
        }
    }

    /// Gives both axes of a circle the same extent, the better measured
    /// counting more.
    pub(super) fn round_off(&mut self) {
        let variance: [f64; 2] = [0, 1].map(|axis| self.sd[axis].iter().map(|sd| sd * sd).sum::<f64>());
        let share = variance[1] / (variance[0] + variance[1]);
        let size = self.size(0) * share + self.size(1) * (1.0 - share);
        for axis in [0, 1] {
            // A side that was not seen gives way to the one that was.
            let [low, high] = self.sd[axis].map(|sd| sd * sd);
            let excess = size - self.size(axis);
            self.at[axis][0] -= excess * low / (low + high);
            self.at[axis][1] += excess * high / (low + high);
        }
        self.held[1] = self.held[1].or(self.held[0]);
        self.held[0] = self.held[0].or(self.held[1]);
    }
}

fn log_normal(off: f64, sd: f64) -> f64 {
    const HALF_LOG_TAU: f64 = 0.918_938_533_204_672_7;
    let z = off / sd;
    ((-0.5 * z * z).exp() + BLUNDER).ln() - sd.ln() - HALF_LOG_TAU
}

fn both(a: f64, b: f64) -> f64 {
    (a * a + b * b).sqrt()
}

struct Line {
    place: Place,
    axis: usize,
    at: f64,
    sd: f64,
    first: usize,
    straight: bool,
    card: bool,
}

/// The two sides of a piece, as lines of their own.
struct Edges {
    straight: bool,
    end: i32,
    widest: f64,
    hand: f64,
    lines: [(f64, f64); 2],
}

impl Edges {
    /// Whether a line so far from the card's edge was drawn by eye beside it.
    fn is_border(&self, at: i32) -> bool {
        let off = at.min(self.end - at);
        self.straight && off > 0 && f64::from(off) < self.widest
    }

    fn likelihood(&self, side: usize, at: i32) -> f64 {
        let ratio = if self.is_border(at) { hand::BORDER } else { hand::EDGE };
        let (measured, sd) = self.lines[side];
        log_normal(measured - f64::from(at), both(ratio * self.hand, sd))
    }
}

impl Model {
    /// Where in each domain a layout stands, its sides given by piece, axis and
    /// side. `None` if the model cannot reach it.
    pub(super) fn places_of(&self, sides: &[[[i32; 2]; 2]]) -> Option<Vec<Option<usize>>> {
        let mut held: Vec<Option<usize>> = vec![None; self.graph.domains.len()];
        let mut hold = |var: usize, meant: i32| -> Option<()> {
            let at = self.graph.domains[var].iter().position(|value| *value == meant)?;
            if held[var].is_some_and(|other| other != at) {
                return None;
            }
            held[var] = Some(at);
            Some(())
        };
        for (spans, sides) in self.spans.iter().zip(sides) {
            for (span, [low, high]) in spans.iter().zip(sides) {
                match *span {
                    Span::Lines([first, last]) => {
                        hold(first, *low)?;
                        hold(last, *high)?;
                    }
                    Span::Middle([centre, size]) => {
                        hold(centre, i32::midpoint(*low, *high))?;
                        hold(size, high - low)?;
                    }
                }
            }
        }
        Some(held)
    }

    /// Sets up the graph. `hand` is the hand's standard deviation in steps.
    pub(super) fn new(ruler: Ruler, pieces: &[Piece], hand: f64, thrift: Thrift) -> Model {
        let mut build = Build::new(ruler, pieces, hand, thrift);
        build.find_mats();
        build.find_lines();
        build.measure();
        let groups = build.find_groups();
        for group in &groups {
            build.graph.owner = group.tops[0];
            build.place(group);
            build.row(group);
        }
        build.keep_apart();
        Model { graph: build.graph, ruler, spans: build.spans, outer: build.outer }
    }
}

struct Build<'a> {
    ruler: Ruler,
    pieces: &'a [Piece],
    hand: f64,
    thrift: Thrift,
    graph: Graph,
    /// The first four are the card's left, right, top and bottom.
    lines: Vec<Line>,
    spans: Vec<[Span; 2]>,
    line_of: Vec<[[usize; 2]; 2]>,
    /// Whether a piece was the first to draw its line.
    owns: Vec<[[bool; 2]; 2]>,
    outer: Vec<Option<usize>>,
    /// Variable of the border of the mat under a piece.
    border_of: Vec<Option<usize>>,
}

impl<'a> Build<'a> {
    fn new(ruler: Ruler, pieces: &'a [Piece], hand: f64, thrift: Thrift) -> Self {
        let count = pieces.len();
        Build {
            ruler,
            pieces,
            hand,
            thrift,
            graph: Graph::default(),
            lines: Vec::new(),
            spans: vec![[Span::Lines([0, 1]), Span::Lines([2, 3])]; count],
            line_of: vec![[[0; 2]; 2]; count],
            owns: vec![[[false; 2]; 2]; count],
            outer: vec![None; count],
            border_of: vec![None; count],
        }
    }

    /// A loose hand, steps: what may be related is decided for it, so that
    /// drawings by all hands are judged by the same habits.
    fn loosest(&self) -> f64 {
        LOOSE_HAND_IN * self.ruler.per_in
    }

    fn inches(&self, steps: f64) -> f64 {
        steps / self.ruler.per_in
    }

    /// A mat is the nearest layer below of the same shape and turn whose four
    /// borders are alike and small.
    fn find_mats(&mut self) {
        for (above, piece) in self.pieces.iter().enumerate() {
            self.outer[above] = (0..above).rev().find(|below| {
                let under = &self.pieces[*below];
                if std::mem::discriminant(&under.shape) != std::mem::discriminant(&piece.shape)
                    || (under.turn - piece.turn).abs() > 1.0
                {
                    return false;
                }
                let gaps = [0, 1].map(|axis| {
                    [piece.at[axis][0] - under.at[axis][0], under.at[axis][1] - piece.at[axis][1]]
                });
                let gaps = gaps.as_flattened();
                let low = gaps.iter().copied().fold(f64::INFINITY, f64::min);
                let high = gaps.iter().copied().fold(NEVER, f64::max);
                let spread =
                    [piece.sd, under.sd].as_flattened().as_flattened().iter().copied().fold(0.0, f64::max);
                let alike = 4.5 * both(hand::BORDER * self.loosest(), 1.41 * spread) + 0.1;
                low > 0.25 && self.inches(high) < WIDEST_MAT_IN && high - low < alike
            });
        }
    }

    fn find_lines(&mut self) {
        for axis in [0, 1] {
            for at in [0, self.ruler.card[axis]] {
                let place = Place::line(self.graph.var(vec![at]));
                self.lines.push(Line {
                    place,
                    axis,
                    at: f64::from(at),
                    sd: 0.0,
                    first: usize::MAX,
                    straight: true,
                    card: true,
                });
            }
        }
        for (index, piece) in self.pieces.iter().enumerate() {
            for axis in [0, 1] {
                for side in [0, 1] {
                    let (at, sd) = (piece.at[axis][side], piece.sd[axis][side]);
                    let retraced = hand::RETRACED * self.hand;
                    let mut found = None;
                    if piece.is_straight() && piece.held[axis].is_none() && sd < VAGUE {
                        let mut nearest = f64::INFINITY;
                        for (number, line) in self.lines.iter().enumerate() {
                            let taken = side == 1 && self.line_of[index][axis][0] == number
                                || self.outer[index]
                                    .is_some_and(|mat| self.line_of[mat][axis].contains(&number));
                            if line.axis != axis || !line.straight || taken || line.sd > VAGUE {
                                continue;
                            }
                            let off = (line.at - at).abs();
                            let reach = (RETRACE_REACH * both(retraced * 1.41, both(sd, line.sd)))
                                .min(FARTHEST_RETRACE_IN * self.ruler.per_in);
                            if off < reach && off < nearest {
                                (nearest, found) = (off, Some(number));
                            }
                        }
                    }
                    if let Some(number) = found {
                        let line = &mut self.lines[number];
                        let scatter = both(retraced * 1.41, both(sd, line.sd));
                        self.graph.constant += log_normal(at - line.at, scatter);
                        if !line.card {
                            let (old, new) = (line.sd.powi(2), both(sd, retraced).powi(2));
                            line.at = (line.at * new + at * old) / (old + new);
                            line.sd = (old * new / (old + new)).sqrt();
                        }
                        self.line_of[index][axis][side] = number;
                    } else {
                        let number = self.lines.len();
                        self.lines.push(Line {
                            place: Place(Vec::new()),
                            axis,
                            at,
                            sd,
                            first: index,
                            straight: piece.is_straight() && piece.held[axis].is_none(),
                            card: false,
                        });
                        self.line_of[index][axis][side] = number;
                        self.owns[index][axis][side] = true;
                    }
                }
            }
        }
        self.name_variables();
    }

    /// Centre and size for what shares no line, else one variable a line.
    fn name_variables(&mut self) {
        let mut users = vec![0; self.lines.len()];
        for line in self.line_of.iter().flatten().flatten() {
            users[*line] += 1;
        }
        for (index, piece) in self.pieces.iter().enumerate() {
            self.graph.owner = index;
            let mut diameter = None;
            for axis in [0, 1] {
                let lines = self.line_of[index][axis];
                if self.owns[index][axis] == [true, true] && lines.iter().all(|line| users[*line] == 1) {
                    let [low, high] = lines.map(|line| &self.lines[line]);
                    let (middle, extent) = (f64::midpoint(low.at, high.at), high.at - low.at);
                    let sd = both(low.sd, high.sd);
                    let (centre_sd, size_sd) = self.spread(piece, extent);
                    let mut centres = self.centres(middle, both(centre_sd, sd / 2.0));
                    if piece.is_straight() {
                        self.keep_inside(&mut centres, piece, axis);
                    }
                    let centre = self.graph.var(centres);
                    let shared = diameter.filter(|_| piece.shape == Shape::Circle);
                    let size = shared.unwrap_or_else(|| {
                        let sizes = piece.held[axis].map_or_else(
                            || self.sizes(extent, both(size_sd, sd), piece, axis),
                            |held| vec![held],
                        );
                        self.graph.var(sizes)
                    });
                    diameter = Some(size);
                    self.spans[index][axis] = Span::Middle([centre, size]);
                    for side in [0, 1] {
                        self.lines[lines[side]].place = Place::side([centre, size], side);
                    }
                } else {
                    for line in lines {
                        if self.lines[line].place.0.is_empty() {
                            let domain = self.domain(&self.lines[line]);
                            self.lines[line].place = Place::line(self.graph.var(domain));
                        }
                    }
                    self.spans[index][axis] = Span::Lines(lines.map(|line| self.lines[line].place.0[0].0));
                }
            }
        }
    }

    /// Centres that let at least the held size, or the smallest there is, lie
    /// on the card.
    fn keep_inside(&self, centres: &mut Vec<i32>, piece: &Piece, axis: usize) {
        let end = self.ruler.card[axis];
        let half = piece.held[axis].unwrap_or(2).clamp(2, end) / 2;
        let (low, high) = (half, end - half);
        let near = centres[centres.len() / 2].clamp(low, high);
        let (first, last) = (centres[0].min(near).max(low), centres[centres.len() - 1].max(near).min(high));
        *centres = (first..=last).collect();
    }

    /// How far the hand strays in centre and in size.
    fn spread(&self, piece: &Piece, extent: f64) -> (f64, f64) {
        if piece.is_round() {
            (hand::ROUND_CENTRE * self.hand, hand::ROUND_SIZE * self.hand)
        } else {
            let size = if self.inches(extent) < THIN_IN + 0.03 { hand::THIN } else { hand::SIZE };
            (hand::CENTRE * self.hand, size * self.hand)
        }
    }

    /// Where a centre may have been meant.
    #[expect(clippy::cast_possible_truncation, reason = "a few hundred steps at most")]
    fn centres(&self, at: f64, sd: f64) -> Vec<i32> {
        let reach = (self.thrift.reach() * sd).clamp(1.01, f64::from(MOST_VALUES) / 2.0);
        ((at - reach).ceil() as i32..=(at + reach).floor() as i32).collect()
    }

    /// What size may have been meant.
    #[expect(clippy::cast_possible_truncation, reason = "a few hundred steps at most")]
    fn sizes(&self, at: f64, sd: f64, piece: &Piece, axis: usize) -> Vec<i32> {
        let reach = (self.thrift.reach() * sd).clamp(2.01, f64::from(MOST_VALUES) / 2.0);
        let most = if piece.is_straight() { self.ruler.card[axis] } else { i32::MAX };
        let (low, high) = ((at - reach) * 0.5, (at + reach) * 0.5);
        let low = (low.ceil() as i32 * 2).clamp(2, most.max(2));
        let high = (high.floor() as i32 * 2).clamp(low, most.max(low));
        (low..=high).step_by(2).collect()
    }

    /// Smallest and largest value of a place.
    fn range(&self, place: &Place) -> (i32, i32) {
        let (mut low, mut high) = (0, 0);
        for (var, much) in &place.0 {
            let domain = &self.graph.domains[*var];
            let (a, b) = (domain[0] * much, domain[domain.len() - 1] * much);
            (low, high) = (low + a.min(b), high + a.max(b));
        }
        (low.div_euclid(2), (high + 1).div_euclid(2))
    }

    fn place_of(&self, line: usize) -> Place {
        self.lines[line].place.clone()
    }

    /// A factor over places: the rule sees the value of each.
    fn relate(&mut self, places: &[Place], about: &[(usize, usize)], rule: impl Fn(&[i32], &mut Score)) {
        let vars: Vec<usize> = places.iter().flat_map(|place| place.0.iter().map(|(var, _)| *var)).collect();
        let lengths: Vec<usize> = places.iter().map(|place| place.0.len()).collect();
        let much: Vec<i32> = places.iter().flat_map(|place| place.0.iter().map(|(_, much)| *much)).collect();
        self.graph.factor(&vars, about, |values, score| {
            let mut found = [0; 5];
            let mut at = 0;
            for (found, length) in found.iter_mut().zip(&lengths) {
                let twice: i32 = (at..at + length).map(|k| values[k] * much[k]).sum();
                *found = twice.div_euclid(2);
                at += length;
            }
            rule(&found[..lengths.len()], score);
        });
    }

    /// Where a line may have been meant.
    #[expect(clippy::cast_possible_truncation, reason = "a few hundred steps at most")]
    fn domain(&self, line: &Line) -> Vec<i32> {
        let piece = &self.pieces[line.first];
        let reach = (self.thrift.reach() * both(hand::EDGE * self.hand, line.sd)).max(1.01);
        let (mut low, mut high) = ((line.at - reach).ceil() as i32, (line.at + reach).floor() as i32);
        if high - low >= MOST_VALUES {
            low = line.at.round() as i32 - MOST_VALUES / 2;
            high = low + MOST_VALUES - 1;
        }
        if piece.is_straight() {
            let end = self.ruler.card[line.axis];
            (low, high) = (low.clamp(0, end), high.clamp(0, end));
            // Never fewer than three, so that a size on its grid can be made.
            if high - low < 2 {
                let middle = (line.at.round() as i32).clamp(1, end - 1);
                (low, high) = (low.min(middle - 1), high.max(middle + 1));
            }
        }
        (low..=high).collect()
    }

    /// Likelihood of what was measured, and what sizes there are.
    fn measure(&mut self) {
        let mut borders_done: Vec<[usize; 2]> = Vec::new();
        for index in 0..self.pieces.len() {
            for axis in [0, 1] {
                match self.spans[index][axis] {
                    Span::Lines(_) => self.measure_lines(index, axis),
                    Span::Middle(span) => self.measure_middle(index, axis, span),
                }
            }
            if let Some(under) = self.outer[index] {
                self.mat(index, under, &mut borders_done);
            }
            self.squash(index);
        }
    }

    /// What the roundness of a circle tells of the hand.
    fn squash(&mut self, index: usize) {
        let piece = &self.pieces[index];
        let Some(squash) = piece.squash else { return };
        let sd = piece.sd.as_flattened().iter().map(|sd| sd * sd).sum::<f64>().sqrt();
        let under = self.outer[index].and_then(|under| self.pieces[under].squash);
        // A border of even width carries the squash of the mat over.
        self.graph.constant += match under {
            Some(under) => log_normal(squash - under, both(2.0 * hand::BORDER * self.hand, 1.41 * sd)),
            None => log_normal(squash, both(hand::SQUASH * self.hand, sd)),
        };
    }

    /// The habits of sizes.
    fn size_habits(&self, index: usize) -> impl Fn(i32, &mut Score) + use<> {
        let ruler = self.ruler;
        let piece = &self.pieces[index];
        let (short, long) = (piece.size(0).min(piece.size(1)), piece.size(0).max(piece.size(1)));
        let (quarter, half) = if piece.is_round() {
            (Habit::RoundQuarter, Habit::RoundHalf)
        } else if long > NARROW * short {
            (Habit::StripQuarter, Habit::StripHalf)
        } else {
            (Habit::SizeQuarter, Habit::SizeHalf)
        };
        move |size, score| {
            score.holds_if(ruler.is_round(size, 2), quarter);
            score.holds_if(ruler.is_round(size, 4), half);
        }
    }

    /// A piece of which at least one line is another's too.
    fn measure_lines(&mut self, index: usize, axis: usize) {
        let lines = self.line_of[index][axis];
        let (owns, inner) = (self.owns[index][axis], self.outer[index].is_some());
        let fresh = owns == [true, true];
        let habits = self.size_habits(index);
        let edges = self.edges(index, axis);
        let middle = self.middle(index, axis);
        let about = [(index, axis)];
        let places = lines.map(|line| self.place_of(line));
        self.relate(&places, &about, move |v, score| {
            let size = v[1] - v[0];
            if size < 2 || size % 2 != 0 {
                score.add(NEVER);
                return;
            }
            if !inner {
                let near = [0, 1].map(|side| edges.is_border(v[side]));
                if fresh && near == [false, false] {
                    let (centre, extent) = middle(v[0] + v[1], size);
                    score.add(centre + extent);
                } else {
                    for side in [0, 1] {
                        if owns[side] {
                            score.add(edges.likelihood(side, v[side]));
                        }
                    }
                }
            }
            if owns[0] || owns[1] {
                habits(size, score);
            }
        });
    }

    /// A piece that shares no line.
    fn measure_middle(&mut self, index: usize, axis: usize, [centre, size]: [usize; 2]) {
        let piece = &self.pieces[index];
        let inner = self.outer[index].is_some();
        let habits = self.size_habits(index);
        let edges = self.edges(index, axis);
        let middle = self.middle(index, axis);
        let about = [(index, axis)];
        let (straight, end) = (piece.is_straight(), self.ruler.card[axis]);
        // A circle's one size is measured once, for both axes.
        let again = piece.shape == Shape::Circle && axis == 1;
        let both_axes = [(index, 0), (index, 1)];
        let about_size = if piece.shape == Shape::Circle { &both_axes[..] } else { &about[..] };
        if !again {
            self.graph.factor(&[size], about_size, |v, score| habits(v[0], score));
        }
        if straight {
            let [low, high] = self.line_of[index][axis].map(|line| self.range(&self.lines[line].place));
            let near = (low.0..=low.1).chain(high.0..=high.1).any(|at| edges.is_border(at));
            if near || low.0 < 0 || high.1 > end {
                self.graph.factor(&[centre, size], &about, move |v, score| {
                    let sides = [v[0] - v[1] / 2, v[0] + v[1] / 2];
                    if (sides[0] < 0 || sides[1] > end) && v[1] <= end {
                        score.add(NEVER);
                    }
                    if !inner {
                        if sides.iter().any(|at| edges.is_border(*at)) {
                            score.add(edges.likelihood(0, sides[0]) + edges.likelihood(1, sides[1]));
                        } else {
                            let (centre, extent) = middle(2 * v[0], v[1]);
                            score.add(centre + extent);
                        }
                    }
                });
                return;
            }
        }
        if !inner {
            self.graph.factor(&[centre], &about, |v, score| score.add(middle(2 * v[0], 0).0));
            if !again {
                self.graph.factor(&[size], about_size, |v, score| score.add(middle(0, v[0]).1));
            }
        }
    }

    /// Likelihoods of twice a centre and of a size, as drawn afresh.
    fn middle(&self, index: usize, axis: usize) -> impl Fn(i32, i32) -> (f64, f64) + use<> {
        let piece = &self.pieces[index];
        let [low, high] = self.line_of[index][axis].map(|line| &self.lines[line]);
        let (at, extent) = (f64::midpoint(low.at, high.at), high.at - low.at);
        let sd = both(low.sd, high.sd);
        let (centre_sd, size_sd) = self.spread(piece, extent);
        let size_sd = if piece.shape == Shape::Circle {
            let sd = |axis: usize| both(piece.sd[axis][0], piece.sd[axis][1]);
            both(size_sd, 1.0 / (sd(0).powi(-2) + sd(1).powi(-2)).sqrt())
        } else {
            both(size_sd, sd)
        };
        let centre_sd = both(centre_sd, sd / 2.0);
        move |twice, size| {
            (
                log_normal(at - f64::from(twice) / 2.0, centre_sd),
                log_normal(extent - f64::from(size), size_sd),
            )
        }
    }

    fn edges(&self, index: usize, axis: usize) -> Edges {
        Edges {
            straight: self.pieces[index].is_straight(),
            end: self.ruler.card[axis],
            widest: BORDER_IN * self.ruler.per_in,
            hand: self.hand,
            lines: self.line_of[index][axis].map(|line| (self.lines[line].at, self.lines[line].sd)),
        }
    }

    /// The border between a piece and the mat under it.
    #[expect(clippy::cast_possible_truncation, reason = "a mat's border is a few steps")]
    fn mat(&mut self, index: usize, under: usize, done: &mut Vec<[usize; 2]>) {
        let widest = (WIDEST_MAT_IN * self.ruler.per_in).floor() as i32;
        let ruler = self.ruler;
        // Mats of one row are alike.
        let known = (0..index).find_map(|other| {
            let same = self.outer[other].is_some_and(|outer| {
                (0..2).any(|axis| {
                    self.line_of[outer][axis] == self.line_of[under][axis]
                        && self.line_of[other][axis] == self.line_of[index][axis]
                })
            });
            if same { self.border_of[other] } else { None }
        });
        self.graph.owner = index;
        let border = known.unwrap_or_else(|| {
            let border = self.graph.var((1..=widest).collect());
            let (eighth, quarter) = if ruler.unit == Unit::Inch { (1, 2) } else { (2, 6) };
            self.graph.factor(&[border], &[(under, 0), (under, 1), (index, 0), (index, 1)], |v, score| {
                score.holds_if(v[0] == eighth, Habit::MatEighth);
                score.holds_if(v[0] == quarter, Habit::MatQuarter);
            });
            border
        });
        self.border_of[index] = Some(border);
        for axis in [0, 1] {
            let about = [(under, axis), (index, axis)];
            let sd = |side: usize| {
                let (out, into) = (self.line_of[under][axis][side], self.line_of[index][axis][side]);
                both(hand::BORDER * self.hand, both(self.lines[into].sd, self.lines[out].sd))
            };
            let off = |side: usize| {
                let (out, into) = (self.line_of[under][axis][side], self.line_of[index][axis][side]);
                self.lines[into].at - self.lines[out].at
            };
            let ((low, high), (low_sd, high_sd)) = ((off(0), off(1)), (sd(0), sd(1)));
            if let (Span::Middle(outer), Span::Middle(own)) =
                (self.spans[under][axis], self.spans[index][axis])
            {
                let sd = both(low_sd, high_sd);
                let (moved, grown) = (f64::midpoint(low, high), high - low);
                self.graph.factor(&[outer[0], own[0]], &about, |v, score| {
                    score.add(log_normal(moved - f64::from(v[1] - v[0]), sd / 2.0));
                    score.holds_if(v[0] == v[1], Habit::MatEven);
                });
                let again = self.pieces[index].shape == Shape::Circle && axis == 1;
                if !again {
                    let sd = if self.pieces[index].shape == Shape::Circle { sd / 1.41 } else { sd };
                    self.graph.factor(&[outer[1], own[1], border], &about, |v, score| {
                        score.add(log_normal(grown - f64::from(v[1] - v[0]), sd));
                        score.holds_if(v[0] - v[1] == 2 * v[2], Habit::MatEven);
                    });
                }
                continue;
            }
            for side in [0, 1] {
                let (out, into) = (self.line_of[under][axis][side], self.line_of[index][axis][side]);
                if done.contains(&[out, into]) {
                    continue;
                }
                done.push([out, into]);
                let sign = if side == 0 { 1 } else { -1 };
                let (measured, sd) = if side == 0 { (low, low_sd) } else { (-high, high_sd) };
                let owns = self.owns[index][axis][side];
                let places = [self.place_of(out), self.place_of(into), Place::line(border)];
                self.relate(&places, &about, |v, score| {
                    let meant = (v[1] - v[0]) * sign;
                    if owns {
                        score.add(log_normal(measured - f64::from(meant), sd));
                    }
                    score.holds_if(meant == v[2], Habit::MatEven);
                });
            }
        }
    }

    /// Elements placed by themselves, and rows and grids of equal ones.
    fn find_groups(&self) -> Vec<Group> {
        let mut used = vec![false; self.pieces.len()];
        let mut groups = Vec::new();
        for first in 0..self.pieces.len() {
            if used[first] || self.outer[first].is_some() {
                continue;
            }
            let mut members = vec![first];
            for (other, used) in used.iter().enumerate().skip(first + 1) {
                if !used && self.outer[other].is_none() && self.are_kin(first, other, &members) {
                    members.push(other);
                }
            }
            for member in &members {
                used[*member] = true;
            }
            groups.push(self.group(members));
        }
        groups
    }

    fn are_kin(&self, first: usize, other: usize, members: &[usize]) -> bool {
        let (a, b) = (&self.pieces[first], &self.pieces[other]);
        if std::mem::discriminant(&a.shape) != std::mem::discriminant(&b.shape)
            || matches!(a.shape, Shape::Banner { .. })
            || (a.turn - b.turn).abs() > 1.0
        {
            return false;
        }
        let alike = (0..2).all(|axis| {
            let sd = both(both(a.sd[axis][0], a.sd[axis][1]), both(b.sd[axis][0], b.sd[axis][1]));
            (a.size(axis) - b.size(axis)).abs() < 2.5 * both(hand::SIZE * self.loosest() * 1.41, sd)
        });
        let apart = members.iter().all(|member| {
            let c = &self.pieces[*member];
            (0..2).any(|axis| b.at[axis][0] > c.at[axis][1] - 0.6 || b.at[axis][1] < c.at[axis][0] + 0.6)
        });
        let in_line = members.iter().any(|member| {
            (0..2).any(|axis| {
                if a.is_straight() {
                    self.line_of[*member][axis] == self.line_of[other][axis]
                } else {
                    let c = &self.pieces[*member];
                    (c.centre(axis) - b.centre(axis)).abs() < 4.0 * self.loosest()
                }
            })
        });
        alike && apart && in_line
    }

    /// The topmost layer of the nest of mats that begins with a piece: the one
    /// that is placed, its mats being drawn around it.
    fn top(&self, piece: usize) -> usize {
        (piece + 1..self.pieces.len())
            .find(|other| self.outer[*other] == Some(piece))
            .map_or(piece, |above| self.top(above))
    }

    fn group(&self, members: Vec<usize>) -> Group {
        let mut spans: [Vec<[usize; 2]>; 2] = [Vec::new(), Vec::new()];
        let mut at = [[f64::INFINITY, NEVER]; 2];
        let mut lines = self.line_of[self.top(members[0])];
        let mut faces: Vec<usize> = Vec::new();
        for axis in [0, 1] {
            for member in &members {
                faces.extend(self.line_of[*member][axis]);
                let span = self.line_of[self.top(*member)][axis];
                if !spans[axis].contains(&span) {
                    spans[axis].push(span);
                }
                let [low, high] = self.pieces[*member].at[axis];
                at[axis] = [at[axis][0].min(low), at[axis][1].max(high)];
            }
            spans[axis].sort_by(|a, b| self.lines[a[0]].at.total_cmp(&self.lines[b[0]].at));
            // Only a chain of spans clear of one another is a row.
            let clear = spans[axis]
                .windows(2)
                .all(|pair| self.lines[pair[0][1]].at < self.lines[pair[1][0]].at + 0.6);
            if clear {
                lines[axis] = [spans[axis][0][0], spans[axis][spans[axis].len() - 1][1]];
            } else {
                spans[axis].truncate(1);
            }
        }
        let tops = members.iter().map(|member| self.top(*member)).collect();
        Group { members, tops, lines, faces, at, spans }
    }

    /// Equal sizes and gaps within a row.
    fn row(&mut self, group: &Group) {
        for axis in [0, 1] {
            let spans = &group.spans[axis];
            let about: Vec<(usize, usize)> = group.tops.iter().map(|member| (*member, axis)).collect();
            if spans.len() > 1 {
                let sizes = self.shared_values(spans, 2);
                if !sizes.is_empty() {
                    let size = self.shared(sizes, Habit::SizeShared);
                    for [low, high] in spans {
                        let extent = self.extent(*low, *high);
                        self.relate(&[extent, Place::line(size)], &about, |v, score| {
                            score.holds_if(v[0] == v[1], Habit::SameSize);
                        });
                    }
                }
            }
            let gaps: Vec<[usize; 2]> = spans.windows(2).map(|pair| [pair[0][1], pair[1][0]]).collect();
            for gap in &gaps {
                self.gap(*gap, &about);
            }
            if gaps.len() > 1 && self.thrift.relates_others() {
                let values = self.shared_values(&gaps, 0);
                if !values.is_empty() {
                    let shared = self.shared(values, Habit::GapShared);
                    for [low, high] in &gaps {
                        let gap = self.extent(*low, *high);
                        self.relate(&[gap, Place::line(shared)], &about, |v, score| {
                            score.holds_if(v[0] == v[1], Habit::SameGap);
                        });
                    }
                }
            }
        }
    }

    /// A variable for a length that several have in common, or `NONE`.
    fn shared(&mut self, mut values: Vec<i32>, habit: Habit) -> usize {
        values.insert(0, NONE);
        let var = self.graph.var(values);
        self.graph.factor(&[var], &[], |v, score| {
            if v[0] != NONE {
                score.add(-LIKELY_LENGTHS.ln());
                score.holds(habit);
            }
        });
        var
    }

    fn gap(&mut self, [low, high]: [usize; 2], about: &[(usize, usize)]) {
        if low == high {
            return;
        }
        let ruler = self.ruler;
        let gap = self.extent(low, high);
        self.relate(&[gap], about, |v, score| {
            score.holds_if(ruler.is_round(v[0], 1), Habit::GapEighth);
            score.holds_if(v[0] == ruler.quarter(), Habit::GapQuarter);
        });
    }

    /// The distance between two lines.
    fn extent(&self, low: usize, high: usize) -> Place {
        Place::extent(&self.lines[low].place, &self.lines[high].place)
    }

    /// Twice the middle between two lines.
    fn centre(&self, low: usize, high: usize) -> Place {
        Place::middle(&self.lines[low].place, &self.lines[high].place)
    }

    /// Distances that at least two of the pairs of lines can have, from `least` up.
    fn shared_values(&self, pairs: &[[usize; 2]], least: i32) -> Vec<i32> {
        let mut counts: Vec<(i32, usize)> = Vec::new();
        for [low, high] in pairs {
            let (low, high) = self.range(&self.extent(*low, *high));
            for value in (low..=high).filter(|value| *value >= least) {
                match counts.iter_mut().find(|(other, _)| *other == value) {
                    Some((_, count)) => *count += 1,
                    None => counts.push((value, 1)),
                }
            }
        }
        let mut values: Vec<i32> =
            counts.into_iter().filter(|(_, count)| *count > 1).map(|(value, _)| value).collect();
        if least == 2 {
            values.retain(|value| value % 2 == 0);
        }
        values.sort_unstable();
        values
    }

    /// The line next outward from a side of a box, among what was drawn before:
    /// the inner face of what holds the box, or the outer face of a neighbour.
    fn wall(&self, group: &Group, axis: usize, side: usize) -> usize {
        let across = 1 - axis;
        let mut best = axis * 2 + side;
        let outward = |at: f64| if side == 0 { group.at[axis][0] - at } else { at - group.at[axis][1] };
        let mut nearest = outward(self.lines[best].at);
        for before in 0..group.members[0] {
            let piece = &self.pieces[before];
            if !piece.is_straight() {
                continue;
            }
            let overlap =
                piece.at[across][1].min(group.at[across][1]) - piece.at[across][0].max(group.at[across][0]);
            let share = overlap / (group.at[across][1] - group.at[across][0]);
            let holds =
                piece.at[axis][0] < group.at[axis][0] + 0.6 && piece.at[axis][1] > group.at[axis][1] - 0.6;
            let facing = if holds && share > 0.9 {
                side
            } else if !holds && share > 0.5 {
                1 - side
            } else {
                continue;
            };
            let line = self.line_of[before][axis][facing];
            let off = if group.faces.contains(&line) { 0.0 } else { outward(self.lines[line].at) };
            if off > -0.6 && off < nearest {
                (nearest, best) = (off, line);
            }
        }
        best
    }

    /// The smallest straight element below that holds the box, or the card.
    fn container(&self, group: &Group) -> [[usize; 2]; 2] {
        let mut best = ([[0, 1], [2, 3]], f64::INFINITY);
        for before in 0..group.members[0] {
            let piece = &self.pieces[before];
            let holds = (0..2).all(|axis| {
                piece.at[axis][0] < group.at[axis][0] + 1.0 && piece.at[axis][1] > group.at[axis][1] - 1.0
            });
            let area = piece.size(0) * piece.size(1);
            if piece.is_straight() && holds && area <= best.1 {
                best = (self.line_of[before], area);
            }
        }
        best.0
    }

    /// Where a box stands between its neighbours.
    fn place(&mut self, group: &Group) {
        let about = |axis: usize| group.tops.iter().map(|member| (*member, axis)).collect::<Vec<_>>();
        let first = &self.pieces[group.members[0]];
        let (round, straight) = (first.is_round(), first.is_straight());
        let walls = [0, 1].map(|axis| [0, 1].map(|side| self.wall(group, axis, side)));
        let container = self.container(group);
        let ruler = self.ruler;
        for axis in [0, 1] {
            let [low, high] = group.lines[axis];
            let row = group.spans[axis].len() > 1;
            let kinds = if row {
                [Habit::RowBetween, Habit::RowOnPanel, Habit::RowOnCard]
            } else if round {
                [Habit::RoundBetween, Habit::RoundOnPanel, Habit::RoundOnCard]
            } else {
                [Habit::CentredBetween, Habit::CentredOnPanel, Habit::CentredOnCard]
            };
            let card = [axis * 2, axis * 2 + 1];
            let mut known: Vec<[usize; 2]> = Vec::new();
            let mut centres: Vec<f64> = Vec::new();
            for (span, kind) in [(card, kinds[2]), (container[axis], kinds[1]), (walls[axis], kinds[0])] {
                if !known.contains(&span) {
                    known.push(span);
                    centres.push(f64::midpoint(self.lines[span[0]].at, self.lines[span[1]].at));
                    self.centred([low, high], span, kind, &about(axis));
                }
            }
            if !row && self.thrift.relates_others() {
                self.aligned(group, axis, &mut centres, round, &about(axis));
            }
            if straight {
                for side in [0, 1] {
                    let (wall, own) = (walls[axis][side], group.lines[axis][side]);
                    if group.faces.contains(&wall) {
                        continue;
                    }
                    let sign = if side == 0 { 1 } else { -1 };
                    let facing = self.faces(group, axis, side, wall);
                    let off = self.extent(wall, own);
                    self.relate(&[off], &about(axis), |v, score| {
                        let margin = v[0] * sign;
                        if facing {
                            score.holds_if(ruler.is_round(margin, 1), Habit::MarginEighth);
                            score.holds_if(ruler.is_round(margin, 2), Habit::MarginQuarter);
                        } else {
                            score.holds_if(ruler.is_round(margin, 1), Habit::GapEighth);
                            score.holds_if(margin == ruler.quarter(), Habit::GapQuarter);
                        }
                    });
                }
            }
            // Of a row the two ends may differ, and neither is the first.
            if !row {
                let start = self.place_of(low);
                self.relate(&[start], &about(axis), |v, score| {
                    score.holds_if(ruler.is_round(v[0], 1), Habit::OnEighth);
                });
            }
        }
        if straight {
            self.margins(group, walls);
            self.square(group);
        }
    }

    /// Whether a wall is the inner face of what holds the box.
    fn faces(&self, group: &Group, axis: usize, side: usize, wall: usize) -> bool {
        wall < 4 || (0..group.members[0]).any(|before| self.line_of[before][axis][side] == wall)
    }

    fn centred(&mut self, [low, high]: [usize; 2], span: [usize; 2], habit: Habit, about: &[(usize, usize)]) {
        if span == [low, high] {
            return;
        }
        let (own, others) = (self.centre(low, high), self.centre(span[0], span[1]));
        let ((a, b), (c, d)) = (self.range(&own), self.range(&others));
        if a > d || b < c {
            return;
        }
        let even = Place::middle(&Place(own.0.iter().map(|(var, much)| (*var, -much)).collect()), &others);
        self.relate(&[even], about, |v, score| score.holds_if(v[0] == 0, habit));
    }

    /// Centred on another element, or a circle on a side of one.
    fn aligned(
        &mut self,
        group: &Group,
        axis: usize,
        centres: &mut Vec<f64>,
        round: bool,
        about: &[(usize, usize)],
    ) {
        let own = group.lines[axis];
        let centre = f64::midpoint(group.at[axis][0], group.at[axis][1]);
        let near = 3.0 * hand::ROUND_CENTRE * self.loosest();
        let clear = 0.75 * self.loosest();
        for before in 0..group.members[0] {
            let lines = self.line_of[before][axis];
            if self.outer[before].is_some() || lines == own {
                continue;
            }
            let other = f64::midpoint(self.lines[lines[0]].at, self.lines[lines[1]].at);
            if (other - centre).abs() < near && centres.iter().all(|known| (known - other).abs() > clear) {
                centres.push(other);
                let habit = if round { Habit::RoundOnOther } else { Habit::CentredOnOther };
                self.centred(own, lines, habit, about);
            }
            if round && self.pieces[before].is_straight() {
                for line in lines {
                    let at = self.lines[line].at;
                    if line >= 4
                        && (at - centre).abs() < near
                        && centres.iter().all(|known| (known - at).abs() > clear)
                    {
                        centres.push(at);
                        self.centred(own, [line, line], Habit::RoundOnSide, about);
                    }
                }
            }
        }
    }

    /// One margin on as many sides as have it.
    fn margins(&mut self, group: &Group, walls: [[usize; 2]; 2]) {
        let mut sides: Vec<([usize; 2], (usize, usize))> = Vec::new();
        for axis in [0, 1] {
            let [low, high] = group.lines[axis];
            for (pair, own, wall) in
                [([walls[axis][0], low], low, walls[axis][0]), ([high, walls[axis][1]], high, walls[axis][1])]
            {
                if own != wall && !group.faces.contains(&wall) {
                    sides.push((pair, (group.tops[0], axis)));
                }
            }
        }
        for axis in [0, 1] {
            for pair in group.spans[axis].windows(2) {
                sides.push(([pair[0][1], pair[1][0]], (group.tops[0], axis)));
            }
        }
        let pairs: Vec<[usize; 2]> = sides.iter().map(|(pair, _)| *pair).collect();
        let mut values = self.shared_values(&pairs, 1);
        // Only the likeliest by what was measured.
        let support = |value: &i32| {
            let mut off: Vec<f64> = pairs
                .iter()
                .map(|[low, high]| (self.lines[*high].at - self.lines[*low].at - f64::from(*value)).abs())
                .collect();
            off.sort_by(f64::total_cmp);
            off[1]
        };
        values.retain(|value| support(value) < self.thrift.reach() * hand::EDGE * self.hand + 0.5);
        values.sort_by(|a, b| support(a).total_cmp(&support(b)).then(a.cmp(b)));
        values.truncate(self.thrift.margins());
        values.sort_unstable();
        if values.is_empty() {
            return;
        }
        let margin = self.shared(values, Habit::MarginShared);
        let ruler = self.ruler;
        self.graph.factor(&[margin], &[], |v, score| {
            if v[0] != NONE {
                score.holds_if(ruler.is_round(v[0], 1), Habit::SharedEighth);
                score.holds_if(ruler.is_round(v[0], 2), Habit::SharedQuarter);
                score.holds_if(v[0] == ruler.eighth(), Habit::SharedOneEighth);
            }
        });
        let margins = sides.len() - group.spans.iter().map(|spans| spans.len() - 1).sum::<usize>();
        for (number, ([low, high], about)) in sides.into_iter().enumerate() {
            let habit = if number < margins { Habit::MarginSame } else { Habit::GapIsMargin };
            let off = self.extent(low, high);
            self.relate(&[off, Place::line(margin)], &[about], |v, score| {
                score.holds_if(v[0] == v[1], habit);
            });
        }
    }

    fn square(&mut self, group: &Group) {
        let index = group.tops[0];
        let piece = &self.pieces[index];
        let off = (piece.size(0) - piece.size(1)).abs();
        if off > 3.0 * hand::SIZE * 1.41 * self.loosest() {
            return;
        }
        let [[left, right], [top, bottom]] = self.line_of[index];
        let sides = [self.extent(left, right), self.extent(top, bottom)];
        self.relate(&sides, &[(index, 0), (index, 1)], |v, score| {
            score.holds_if(v[0] == v[1], Habit::Square);
        });
    }

    /// Lines close by but not drawn as one were not meant as one.
    fn keep_apart(&mut self) {
        for a in 0..self.lines.len() {
            for b in a.max(3) + 1..self.lines.len() {
                let (one, two) = (&self.lines[a], &self.lines[b]);
                let held = [a, b].iter().any(|line| {
                    let line = &self.lines[*line];
                    !line.card && !line.straight && self.pieces[line.first].is_straight()
                });
                if one.axis != two.axis || one.sd > VAGUE || two.sd > VAGUE {
                    continue;
                }
                if !(held || one.straight && two.straight) {
                    continue;
                }
                let off = (one.at - two.at).abs();
                let ((c, d), (e, f)) = (self.range(&one.place), self.range(&two.place));
                let overlap = c <= f && e <= d;
                let same_piece = !one.card && one.first == two.first;
                let mat = !one.card && self.outer[two.first] == Some(one.first);
                let wide = one.place.0.len() + two.place.0.len() > 3;
                // Farther apart than this they could not be meant as one.
                let apart = 2.0 * both(hand::EDGE * self.hand, both(one.sd, two.sd));
                let reach = if held { 4.0 } else { apart.min(if wide { 1.3 } else { 2.0 }) };
                if overlap && !same_piece && !mat && off < reach {
                    let off = Place::extent(&one.place, &two.place);
                    self.relate(&[off], &[], |v, score| {
                        if held {
                            score.holds_if(v[0] == 0, Habit::Flush);
                        } else {
                            score.holds_if(v[0] != 0, Habit::Apart);
                        }
                    });
                }
            }
        }
    }
}

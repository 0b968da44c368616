//! One layout on its way to the page: its shapes, how they were drawn, the
//! papers or fillings they have, and what is written in and around it.

use super::canvas::{Colour, single};
use super::compose::{Part, Pattern, compose};
use super::dice::Dice;
use super::hand::{DrawnPart, draw, draw_card};
use super::plane::{Point, bounds, turned};
use super::profile::{Order, Plan, Tool};
use super::words::write;

/// A layout on its way to the page.
pub(super) struct Sheet {
    pub(super) parts: Vec<Part>,
    pub(super) drawn: Vec<DrawnPart>,
    pub(super) outline: DrawnPart,
    /// Page inches per card inch.
    pub(super) scale: f64,
    /// Where the card's top-left corner is on the page, inches.
    pub(super) origin: Point,
    /// Turn of the card on the page, degrees.
    pub(super) turn_deg: f64,
    pub(super) labels: Vec<Label>,
    pub(super) edge: CardEdge,
    /// The card's own colour.
    pub(super) base: Colour,
}

/// What shows where the card ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum CardEdge {
    /// A drawn line.
    Outline,
    /// The paper's own edge.
    Paper,
    /// White, with a soft shadow.
    WhiteShadow,
    /// White, with a fine grey line.
    WhiteHairline,
    /// The card's own colour.
    Tint,
    /// The card's own colour, with a soft shadow.
    TintShadow,
}

impl CardEdge {
    pub(super) const fn word(self) -> &'static str {
        match self {
            CardEdge::Outline => "outline",
            CardEdge::Paper => "paper",
            CardEdge::WhiteShadow => "white-shadow",
            CardEdge::WhiteHairline => "white-hairline",
            CardEdge::Tint => "tint",
            CardEdge::TintShadow => "tint-shadow",
        }
    }
}

/// Something written, in card inches.
pub(super) struct Label {
    pub(super) text: String,
    pub(super) kind: &'static str,
    pub(super) element: Option<usize>,
    pub(super) middle: Point,
    pub(super) height: f64,
    pub(super) turn_deg: f64,
    /// Lines that go with it: leader or dimension line.
    pub(super) lines: Vec<Vec<Point>>,
}

impl Sheet {
    pub(super) fn to_page(&self, p: Point) -> Point {
        turned(
            [self.origin[0] + p[0] * self.scale, self.origin[1] + p[1] * self.scale],
            self.origin,
            self.turn_deg,
        )
    }
}

/// Invents and draws one layout, in card inches.
pub(super) fn sheet(dice: &mut Dice, order: &Order, plan: &Plan, origin: Point, scale: f64) -> Sheet {
    let mut parts = compose(dice, &plan.card, plan.wishes);
    let mut edge = if plan.paper_card { CardEdge::Paper } else { CardEdge::Outline };
    let mut base = [0.99; 3];
    if plan.filled {
        edge = *dice.pick(&[
            CardEdge::Outline,
            CardEdge::WhiteShadow,
            CardEdge::WhiteShadow,
            CardEdge::WhiteHairline,
            CardEdge::Tint,
            CardEdge::TintShadow,
        ]);
        if matches!(edge, CardEdge::Tint | CardEdge::TintShadow) {
            base = from_hsv(dice.range(0.0, 360.0), dice.range(0.1, 0.4), dice.range(0.6, 0.95));
        }
        colour(dice, &mut parts, base);
    } else {
        shade(dice, plan, &mut parts);
    }
    let outline = draw_card(dice, &plan.hand, &plan.card);
    let mut drawn: Vec<DrawnPart> = Vec::new();
    for part in &parts {
        let mat = part.mat.map(|under| drawn[under].strayed);
        drawn.push(draw(dice, &plan.hand, part, &plan.card, mat));
    }
    let turn_deg = match plan.tool {
        _ if plan.paper_card => 0.0,
        Tool::Print => 0.0,
        _ => dice.steady(0.7),
    };
    let mut sheet = Sheet { parts, drawn, outline, scale, origin, turn_deg, labels: Vec::new(), edge, base };
    sheet.labels = write(dice, order, plan, &sheet);
    sheet
}

/// Hatching and other fillings of line drawings.
pub(super) fn shade(dice: &mut Dice, plan: &Plan, parts: &mut [Part]) {
    let printed = plan.tool == Tool::Print;
    if plan.drawn_through {
        return;
    }
    for part in parts.iter_mut().filter(|part| !part.shape.is_mark() && part.role != "mat") {
        let chance = match (plan.wishes.easy, printed) {
            (true, _) => 0.08,
            (false, true) => 0.32,
            (false, false) => 0.09,
        };
        if part.role == "background" && dice.chance(0.7) || !dice.chance(chance) {
            continue;
        }
        if printed {
            if dice.chance(0.45) {
                let grey = single(dice.range(0.72, 0.88));
                part.fill = Some([grey; 3]);
            } else {
                part.pattern =
                    Some(*dice.pick(&[Pattern::Stripes, Pattern::Dots, Pattern::Gingham, Pattern::Hatching]));
            }
        } else {
            part.pattern = Some(*dice.pick(&[Pattern::Hatching, Pattern::Hatching, Pattern::Stripes]));
        }
    }
    if dice.chance(0.35) {
        // Filled marks.
        for part in parts.iter_mut().filter(|part| part.shape.is_mark()) {
            part.fill = Some([0.1; 3]);
        }
    }
}

/// Papers for printed colour layouts, on a card of colour `base`.
pub(super) fn colour(dice: &mut Dice, parts: &mut [Part], base: Colour) {
    let family = dice.range(0.0, 360.0);
    let subtle = dice.chance(0.35);
    let outlined = dice.chance(0.35);
    let lines: Vec<Vec<Point>> = parts.iter().map(Part::outline).collect();
    for index in 0..parts.len() {
        let alike = (0..index)
            .rev()
            .find(|&other| parts[index].group.is_some() && parts[other].group == parts[index].group)
            .filter(|_| dice.chance(0.5));
        let fill = if let Some(other) = alike {
            parts[other].fill
        } else {
            // What it is seen against: the lower shapes that it touches, and the card.
            let mut below = vec![base];
            let (low, high) = bounds(&lines[index]);
            below.extend((0..index).filter_map(|other| {
                let (from, to) = bounds(&lines[other]);
                let meets = from[0] < high[0] && to[0] > low[0] && from[1] < high[1] && to[1] > low[1];
                parts[other].fill.filter(|_| meets)
            }));
            Some(apart_from(dice, family, subtle, &below))
        };
        let part = &mut parts[index];
        part.fill = fill;
        part.outlined = outlined && !part.shape.is_mark();
        if !part.shape.is_mark() && !matches!(part.role, "mat" | "background-mat") && dice.chance(0.25) {
            part.pattern = Some(*dice.pick(&[Pattern::Stripes, Pattern::Dots, Pattern::Gingham]));
        }
    }
}

/// A paper of a colour family that can be told from those below it, not
/// always by much.
pub(super) fn apart_from(dice: &mut Dice, family: f64, subtle: bool, below: &[Colour]) -> Colour {
    let wanted = if subtle { 0.3 } else { 0.7 };
    let mut best = (f64::MIN, [1.0; 3]);
    for _ in 0..12 {
        let hue = family + *dice.pick(&[0.0, 0.0, 25.0, -25.0, 160.0, 190.0]) + dice.range(-10.0, 10.0);
        let (chroma, value) = match dice.int(0, 5) {
            // White and kraft, pastels, middle and dark papers.
            0 => (dice.range(0.0, 0.05), dice.range(0.9, 0.99)),
            1..=3 => (dice.range(0.08, 0.3), dice.range(0.78, 0.96)),
            4 => (dice.range(0.25, 0.5), dice.range(0.5, 0.82)),
            _ => (dice.range(0.2, 0.5), dice.range(0.22, 0.42)),
        };
        let fill = from_hsv(hue, chroma, value);
        let nearest = below
            .iter()
            .map(|other| (0..3).map(|c| f64::from((fill[c] - other[c]).abs())).sum::<f64>())
            .fold(f64::MAX, f64::min);
        let score = -(nearest - wanted).abs() - if nearest < 0.15 { 1.0 } else { 0.0 };
        if score > best.0 {
            best = (score, fill);
        }
    }
    best.1
}

pub(super) fn from_hsv(hue: f64, chroma: f64, value: f64) -> Colour {
    let channel = |n: f64| {
        let k = (n + hue / 60.0).rem_euclid(6.0);
        single(value - value * chroma * k.min(4.0 - k).clamp(0.0, 1.0))
    };
    [channel(5.0), channel(3.0), channel(1.0)]
}

//! How a hand draws what was meant: sides that miss, bow and tremble, corners
//! that overrun or stay open, ovals that do not close. Proportions measured on
//! 727 rectangles and 726 ellipses of the Hand-drawn Shapes (HDS) Dataset,
//! (c) 2022 Francois Robert, CC BY 4.0. Those were drawn small and fast on a
//! touch screen; a maker with a pen on paper and an eye on the eighths is
//! steadier, which `slack` says.

use super::compose::{Card, Frame, Part, Shape};
use super::dice::{Dice, noise};
use super::plane::{Point, between, closed, deep_inside, dense, distance, inside, turned};

/// How far a side bows out, as a share of its length: the quantiles 5, 25,
/// 50, 75 and 95 % in the HDS rectangles.
const BOW: [f64; 5] = [-0.073, -0.019, 0.0, 0.017, 0.072];
/// How far a side runs on past its corner (below zero: stops short), as a
/// share of its length: quantiles 5, 25, 50, 75 and 95 % in HDS.
const OVERRUN: [f64; 5] = [-0.123, 0.001, 0.027, 0.052, 0.124];
/// What is left of a side's course after line and bow are taken out, as a
/// share of its length: the median of HDS.
const TREMBLE: f64 = 0.0025;
/// Share of HDS ellipses that stay open.
const OPEN_OVALS: f64 = 0.06;
/// Opening of those, degrees: the quartiles are 12, 21 and 41.
const OPENING_DEG: (f64, f64) = (12.0, 41.0);
/// How far an HDS ellipse is off, as a share of its radius: the median
/// strength of two and of three waves to the turn.
const TWO_WAVES: f64 = 0.029;
const THREE_WAVES: f64 = 0.039;
/// The step where an HDS ellipse's end meets its start, share of the radius:
/// the median.
const MEETING: f64 = 0.053;

/// Longest bow, overrun and gap on paper, inches: an eye on the edge of the
/// card stops a long side from going further than a short one.
const MOST_BOW: f64 = 0.045;
const MOST_OVERRUN: f64 = 0.1;
/// From this size on, inches, a shape's two sides stray apart from each other.
const ALONE: f64 = 2.0;
/// Distance of the points of a drawn line, inches.
pub(super) const STEP: f64 = 0.025;

/// A hand, or a printer.
#[derive(Clone, Copy, Debug)]
pub(super) struct Hand {
    /// How far drawn edges stray, sd in card inches; 0 for print.
    pub(super) sd: f64,
    /// Share of HDS looseness.
    pub(super) slack: f64,
    /// Share of sides gone over twice.
    pub(super) doubled: f64,
    /// Share of corners turned without lifting the pen.
    pub(super) joined: f64,
}

impl Hand {
    /// Drawn by a machine: everything where it is meant.
    pub(super) const PRINTED: Hand = Hand { sd: 0.0, slack: 0.0, doubled: 0.0, joined: 1.0 };

    /// Whether this is a printer.
    pub(super) fn exact(&self) -> bool {
        self.sd == 0.0
    }
}

/// A shape as it was drawn.
pub(super) struct DrawnPart {
    /// The outline as drawn, without overruns: what hides lower shapes.
    pub(super) outline: Vec<Point>,
    /// The strokes, before anything hides them.
    pub(super) strokes: Vec<Vec<Point>>,
    /// Where its box went, before turning.
    pub(super) frame: Frame,
    /// How far its sides went: left, top, right, bottom, inches.
    pub(super) strayed: [f64; 4],
}

/// Draws one shape. A shape on a mat follows the mat as it was drawn.
pub(super) fn draw(
    dice: &mut Dice,
    hand: &Hand,
    part: &Part,
    card: &Card,
    mat: Option<[f64; 4]>,
) -> DrawnPart {
    let frame = part.frame;
    let strayed: [f64; 4] = if hand.exact() {
        [0.0; 4]
    } else {
        let at = [frame.x, frame.y, frame.right(), frame.bottom()];
        let limits = [0.0, 0.0, card.width, card.height];
        let extent = [frame.width, frame.height];
        // A small shape is misplaced rather than misshapen: its sides go together.
        let shift = [dice.steady(hand.sd), dice.steady(hand.sd)];
        std::array::from_fn(|side| {
            if let Some(mat) = mat {
                return mat[side] + dice.steady(hand.sd * 0.25);
            }
            // A flush side is hardly missed, one far from the card's edge is.
            let away = (at[side] - limits[side]).abs().min((at[side] - limits[(side + 2) % 4]).abs());
            let own = (extent[side % 2] / ALONE).min(1.0).sqrt();
            let both = shift[side % 2] * (1.0 - own * own).sqrt() + dice.steady(hand.sd) * own;
            both * (0.15 + away / 0.25).min(1.0)
        })
    };
    stray(dice, hand, part, strayed)
}

/// Draws the card's own outline: it sets the scale, so it is drawn with care.
pub(super) fn draw_card(dice: &mut Dice, hand: &Hand, card: &Card) -> DrawnPart {
    let part = Part::new(
        Shape::Rectangle { corner_radius: 0.0 },
        Frame::new(0.0, 0.0, card.width, card.height),
        "card",
    );
    let strayed = std::array::from_fn(|_| if hand.exact() { 0.0 } else { dice.steady(hand.sd * 0.2) });
    stray(dice, hand, &part, strayed)
}

fn stray(dice: &mut Dice, hand: &Hand, part: &Part, strayed: [f64; 4]) -> DrawnPart {
    let frame = part.frame;
    let [left, top, right, bottom] = strayed;
    let meant = super::compose::outline(part.shape, frame, 0.0);
    let corner = 0.3 * (frame.width.min(frame.height) / ALONE).min(1.0).sqrt();
    // Each corner goes its own way; points between follow in proportion.
    let corners = [[left, top], [right, top], [right, bottom], [left, bottom]]
        .map(|c: Point| if hand.exact() { c } else { c.map(|v| v + dice.steady(hand.sd * corner)) });
    let moved = |p: Point| {
        let (u, v) = ((p[0] - frame.x) / frame.width, (p[1] - frame.y) / frame.height);
        let shift = between(between(corners[0], corners[1], u), between(corners[3], corners[2], u), v);
        turned([p[0] + shift[0], p[1] + shift[1]], frame.centre(), part.rotation)
    };
    let polygon: Vec<Point> = meant.iter().map(|&p| moved(p)).collect();
    let drawn =
        Frame::new(frame.x + left, frame.y + top, frame.width + right - left, frame.height + bottom - top);
    let (outline, strokes) = if hand.exact() {
        (polygon.clone(), vec![dense(&closed(&polygon), STEP)])
    } else if polygon.len() > 6 {
        round(dice, hand, &polygon, part)
    } else {
        straight(dice, hand, &polygon)
    };
    DrawnPart { outline, strokes, frame: drawn, strayed }
}

/// A value whose quantiles 5, 25, 50, 75 and 95 % are given.
fn from_quantiles(dice: &mut Dice, quantiles: [f64; 5]) -> f64 {
    const AT: [f64; 5] = [0.05, 0.25, 0.5, 0.75, 0.95];
    let u = dice.range(0.02, 0.98);
    let i = AT[1..4].iter().filter(|at| u > **at).count();
    let t = (u - AT[i]) / (AT[i + 1] - AT[i]);
    quantiles[i] + (quantiles[i + 1] - quantiles[i]) * t
}

/// The sides of a polygon, each with its bow, tremble and ends.
fn straight(dice: &mut Dice, hand: &Hand, polygon: &[Point]) -> (Vec<Point>, Vec<Vec<Point>>) {
    let n = polygon.len();
    let mut outline = Vec::new();
    let mut strokes: Vec<Vec<Point>> = Vec::new();
    for i in 0..n {
        let (a, b) = (polygon[i], polygon[(i + 1) % n]);
        let course = side(dice, hand, a, b);
        let mut line = course.clone();
        line.pop();
        outline.extend(&line);
        let joined = i > 0 && dice.chance(hand.joined);
        if !joined && let Some(previous) = strokes.last_mut() {
            end(dice, hand, previous);
        }
        if joined && let Some(previous) = strokes.last_mut() {
            previous.pop();
            previous.extend(&course);
        } else {
            let mut stroke = course.clone();
            stroke.reverse();
            end(dice, hand, &mut stroke);
            stroke.reverse();
            strokes.push(stroke);
        }
        if dice.chance(hand.doubled) {
            // Gone over once more, a little beside itself.
            let aside = [dice.steady(0.018), dice.steady(0.018)];
            let from = dice.range(0.0, 0.25);
            let to = dice.range(0.7, 1.02);
            let again = side(dice, hand, between(a, b, from), between(a, b, to));
            strokes.push(again.iter().map(|p| [p[0] + aside[0], p[1] + aside[1]]).collect());
        }
    }
    if let Some(last) = strokes.last_mut() {
        end(dice, hand, last);
    }
    (outline, strokes)
}

/// One side from corner to corner.
fn side(dice: &mut Dice, hand: &Hand, a: Point, b: Point) -> Vec<Point> {
    let length = distance(a, b).max(1e-6);
    let bow = (from_quantiles(dice, BOW) * hand.slack * length).clamp(-MOST_BOW, MOST_BOW);
    let tremble = TREMBLE * (hand.slack + 0.2) * length.min(3.0) * 2.0;
    let (seed, phase) = (dice.seed(), dice.range(0.0, 100.0));
    let normal = [(b[1] - a[1]) / length, (a[0] - b[0]) / length];
    let mut line = dense(&[a, b], STEP);
    let last = (line.len() - 1).max(1) as f64;
    for (k, p) in line.iter_mut().enumerate() {
        let t = k as f64 / last;
        // The hand drifts over an inch and shakes over a quarter.
        let along = t * length;
        let shake = noise(seed, phase + along, 0.5) + 0.35 * noise(seed ^ 1, phase + along * 4.0, 0.5);
        let off = bow * 4.0 * t * (1.0 - t) + tremble * shake;
        *p = [p[0] + normal[0] * off, p[1] + normal[1] * off];
    }
    line
}

/// Lets a stroke run on past its last point, or stop short of it.
fn end(dice: &mut Dice, hand: &Hand, stroke: &mut Vec<Point>) {
    let length = distance(stroke[0], stroke[stroke.len() - 1]).min(1.5);
    let over = (from_quantiles(dice, OVERRUN) * hand.slack * length).clamp(-MOST_OVERRUN, MOST_OVERRUN);
    if over < 0.0 {
        let mut left = -over;
        while left > 0.0 && stroke.len() > 4 {
            let last = stroke.pop().expect("longer than four");
            left -= distance(last, stroke[stroke.len() - 1]);
        }
    } else if stroke.len() > 3 {
        let (before, last) = (stroke[stroke.len() - 4], stroke[stroke.len() - 1]);
        let length = distance(before, last).max(1e-6);
        stroke.push([
            last[0] + (last[0] - before[0]) / length * over,
            last[1] + (last[1] - before[1]) / length * over,
        ]);
    }
}

/// A closed curve drawn in one go from some point round to itself.
fn round(dice: &mut Dice, hand: &Hand, polygon: &[Point], part: &Part) -> (Vec<Point>, Vec<Vec<Point>>) {
    let middle = part.frame.centre();
    let radius = part.frame.width.min(part.frame.height) / 2.0;
    let round = part.shape.is_round();
    let slack = if round { hand.slack } else { 0.0 };
    // Low waves are held to what the sd allows: the eye sees a lopsided circle.
    let most = hand.sd / radius.max(0.1);
    let (two, three) = ((TWO_WAVES * slack).min(most), (THREE_WAVES * slack).min(most));
    let phases = [dice.range(0.0, 6.3), dice.range(0.0, 6.3)];
    let (seed, tremble) = (dice.seed(), TREMBLE * (hand.slack + 0.2) * 2.0);
    let warped: Vec<Point> = polygon
        .iter()
        .map(|&p| {
            let angle = (p[1] - middle[1]).atan2(p[0] - middle[0]);
            let wave = two * (2.0 * angle + phases[0]).cos()
                + three * (3.0 * angle + phases[1]).cos()
                + tremble * noise(seed, angle.cos() * 2.0, angle.sin() * 2.0);
            between(middle, p, 1.0 + wave)
        })
        .collect();
    let n = warped.len();
    let start = dice.index(n);
    let open = round && dice.chance(OPEN_OVALS);
    let extra_deg = if open {
        -dice.range(OPENING_DEG.0, OPENING_DEG.1)
    } else {
        dice.range(0.0, 30.0) * hand.slack.min(1.0) + 4.0
    };
    let count = (n as f64 * (1.0 + extra_deg / 360.0)).round();
    let meeting = (MEETING * slack).min(0.05 / radius.max(0.1)) * if dice.chance(0.5) { 1.0 } else { -1.0 };
    let mut line = Vec::new();
    let mut k = 0.0;
    let mut at = start;
    while k <= count {
        // The radius drifts from start to end by the step they meet with.
        let drift = if round { meeting * (k / count - 0.5) } else { 0.0 };
        line.push(between(middle, warped[at % n], 1.0 + drift));
        at += 1;
        k += 1.0;
    }
    (warped, vec![dense(&line, STEP)])
}

/// The parts of a stroke that are left when other shapes lie over it and the
/// card ends: `above` are their outlines as drawn.
pub(super) fn shown(
    dice: &mut Dice,
    hand: &Hand,
    stroke: &[Point],
    above: &[&Vec<Point>],
    within: Option<&[Point]>,
) -> Vec<Vec<Point>> {
    // A line right on the upper shape's own line belongs to both.
    let depth = if hand.exact() { 0.004 } else { 0.012 };
    let seen: Vec<bool> = stroke
        .iter()
        .map(|&p| {
            within.is_none_or(|area| inside(area, p))
                && !above.iter().any(|outline| deep_inside(outline, p, depth))
        })
        .collect();
    let mut runs = Vec::new();
    let mut from = 0;
    while from < seen.len() {
        if !seen[from] {
            from += 1;
            continue;
        }
        let mut to = from;
        while to + 1 < seen.len() && seen[to + 1] {
            to += 1;
        }
        let (mut first, mut last) = (from, to);
        if !hand.exact() {
            // The hand stops a little before or after the shape on top.
            let mut miss = || dice.index(3);
            if first > 0 {
                first = if miss() == 2 { first.saturating_sub(miss()) } else { first + miss() / 2 };
            }
            if last + 1 < seen.len() {
                last = if miss() == 2 {
                    (last + miss()).min(seen.len() - 1)
                } else {
                    last.saturating_sub(miss() / 2)
                };
            }
        }
        if last > first + 1 {
            runs.push(stroke[first..=last].to_vec());
        }
        from = to + 1;
    }
    runs
}

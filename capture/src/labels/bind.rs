//! Says which element a written size belongs to, and what it says: place,
//! leader and dimension line, words, and above all whether the element has
//! about that size. The writing's own probabilities and the measurement are
//! multiplied, so that pixels and writing vote.
//! Method: maximum a posteriori over readings and elements together; the
//! measurement is Gaussian with some outliers (Box and Tiao, "A Bayesian
//! approach to some outlier problems", Biometrika 55, 1968). Labels are given
//! out one after another, the surest first.

use layout::{Length, Shape, Unit};

use super::ReadLine;
use super::find::Rule;
use super::sizes::{Candidate, Direction, Named};
use crate::geometry::{Point, distance};

/// An element as the labels see it; lengths in inches on the card.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Thing {
    /// What it is.
    pub(crate) shape: Shape,
    /// Left, top, right, bottom.
    pub(crate) bounds: [f64; 4],
    /// Width and height as measured.
    pub(crate) size: [f64; 2],
    /// Their standard deviations, from the fit to the ink.
    pub(crate) sd: [f64; 2],
}

/// What a label is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Target {
    /// The element at this place of the list.
    Element(usize),
    /// The card itself.
    Card,
}

/// A label with its meaning.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Bound {
    /// Which line of writing.
    pub(crate) line: usize,
    /// What it is about; none where nothing fits.
    pub(crate) target: Option<Target>,
    /// How it would be typed.
    pub(crate) text: String,
    /// Width and height that it gives.
    pub(crate) sides: [Option<Length>; 2],
    /// Probability of this reading among all, given what it is about.
    pub(crate) probability: f64,
    /// It contradicts the drawing grossly: measured sizes.
    pub(crate) contradicts: Option<[f64; 2]>,
}

/// Ways of a single length or two to lie on width and height.
type Sides = [Option<Length>; 2];

/// Scatter of a hand about what is meant, inches: a loose hand's two sides.
const HAND_IN: f64 = 0.07;
/// Scale and perspective errors that are left, per length.
const SCALE: f64 = 0.02;
/// Log-probability density of a size that has nothing to do with what was
/// measured, against the peak of one that has.
const OUTLIER: f64 = -7.0;
/// From this difference on, a label contradicts the drawing: inches, and per
/// length.
const GROSS: [f64; 2] = [0.35, 0.2];
/// Odds that the first length is along the writing.
const FIRST_ALONG: f64 = 1.1;
/// What another full size for the same element costs.
const TWICE: f64 = -4.0;
/// What a word that does not go with the shape costs.
const WRONG_WORD: f64 = -2.5;
/// Cost per inch between a label outside and its element.
const PER_INCH: f64 = -4.0;
/// Cost of lying beside, not inside.
const BESIDE: f64 = -1.0;
/// Cost of being far away and told by a word alone.
const NAMED: f64 = -3.0;
/// Cost of each element that lies on top at the label's place.
const UNDER: f64 = -1.2;
/// What a label without a leader costs on an element it is not near.
const FARTHEST_IN: f64 = 0.6;
/// Least worth of a pair that is kept.
const LEAST: f64 = -9.0;

/// Binds the lines that are sizes. `things` bottom of the stack first; `card`
/// is the card's size in inches.
pub(super) fn bind(lines: &[ReadLine], rules: &[Rule], things: &[Thing], card: [f64; 2]) -> Vec<Bound> {
    let asked: Vec<Asked> = lines
        .iter()
        .enumerate()
        .filter(|(_, line)| line.is_size())
        .map(|(number, line)| Asked::new(number, line, rules))
        .collect();
    let mut out = Vec::new();
    let mut open: Vec<&Asked> = asked.iter().collect();
    let mut given: Vec<[bool; 2]> = vec![[false; 2]; things.len()];
    while !open.is_empty() {
        let mut best: Option<(f64, usize, Target)> = None;
        for (place, label) in open.iter().enumerate() {
            for (target, worth) in label.worths(things, card) {
                let twice = match target {
                    Target::Element(i) if given[i] == [true; 2] => TWICE,
                    _ => 0.0,
                };
                if best.is_none_or(|(most, ..)| worth + twice > most) {
                    best = Some((worth + twice, place, target));
                }
            }
        }
        let Some((_, place, target)) = best.filter(|(worth, ..)| *worth > LEAST) else { break };
        let label = open.remove(place);
        let bound = label.meaning(things, card, target);
        if let (Target::Element(i), None) = (target, bound.contradicts) {
            for (given, side) in given[i].iter_mut().zip(bound.sides) {
                *given |= side.is_some();
            }
        }
        out.push(bound);
    }
    // What is left over is about nothing that was found, or contradicts it.
    for label in open {
        out.push(label.contradiction(things));
    }
    out.sort_by_key(|bound| bound.line);
    out
}

/// A label that looks for its element.
struct Asked<'a> {
    number: usize,
    line: &'a ReadLine,
    /// Where the label points: the tip of its leader, or its middle.
    at: Point,
    led: bool,
    /// The dimension line it stands at: the axis and the two ends on it.
    dimension: Option<(usize, [f64; 2])>,
}

impl<'a> Asked<'a> {
    fn new(number: usize, line: &'a ReadLine, rules: &[Rule]) -> Asked<'a> {
        let dimension = dimension_of(line, rules);
        let tip = if dimension.is_none() { leader_tip(line, rules) } else { None };
        Asked { number, line, at: tip.unwrap_or(line.line.centre), led: tip.is_some(), dimension }
    }

    /// How well each target goes with the label, nats.
    fn worths(&self, things: &[Thing], card: [f64; 2]) -> Vec<(Target, f64)> {
        let mut out = Vec::new();
        for (i, thing) in things.iter().enumerate() {
            if matches!(thing.shape, Shape::Mark { .. }) {
                continue;
            }
            let size = self.readings(thing).into_iter().map(|(_, _, worth)| worth).fold(f64::MIN, f64::max);
            out.push((Target::Element(i), self.place(i, things) + size));
        }
        let whole = whole_card(card);
        // The card is as large as it is: what does not fit is about something else.
        let size = self
            .readings(&whole)
            .into_iter()
            .filter(|(_, sides, _)| {
                !(0..2).any(|axis| sides[axis].is_some_and(|l| is_gross(l, &whole, axis)))
            })
            .map(|(_, _, worth)| worth)
            .fold(f64::MIN, f64::max);
        let place = match self.dimension {
            Some((axis, ends)) => ends_apart(ends, [whole.bounds[axis], whole.bounds[axis + 2]]),
            // On the card's own ground, or outside it, without a leader.
            None if !self.led => 2.0 * BESIDE,
            None => f64::MIN,
        };
        if place > f64::MIN && size > f64::MIN {
            out.push((Target::Card, place + size));
        }
        out
    }

    /// How well an element's place goes with the label's.
    fn place(&self, i: usize, things: &[Thing]) -> f64 {
        let thing = &things[i];
        if let Some((axis, ends)) = self.dimension {
            let [low, high] = [thing.bounds[axis], thing.bounds[axis + 2]];
            let beside = gap(thing.bounds, self.line.line.centre);
            return ends_apart(ends, [low, high]) - 0.3 * beside.min(3.0);
        }
        let apart = gap(thing.bounds, self.at);
        let inside = apart <= 0.0 && in_figure(thing, self.at);
        if inside {
            let above = things[i + 1..]
                .iter()
                .filter(|other| !matches!(other.shape, Shape::Mark { .. }) && in_figure(other, self.at))
                .count();
            return UNDER * above as f64;
        }
        let reach = if self.led { 0.4 } else { FARTHEST_IN };
        if apart > reach {
            // "circle" is about a circle wherever it stands.
            let words =
                self.line.candidates.first().map(|candidate| candidate.size.words).unwrap_or_default();
            let named = words.named.is_some_and(|named| named.is(thing.shape));
            return if named { NAMED - 0.3 * apart } else { f64::MIN };
        }
        BESIDE + PER_INCH * apart.max(0.02)
    }

    /// Every way to read the label for an element, with its worth in nats.
    fn readings(&self, thing: &Thing) -> Vec<(&Candidate, Sides, f64)> {
        let top = self.line.candidates.first().map_or(0.0, |candidate| candidate.log_p);
        let mut out = Vec::new();
        for candidate in &self.line.candidates {
            let words = candidate.size.words;
            let wrong = words.named.is_some_and(|named| !named.may_be(thing.shape));
            let base = candidate.log_p - top + if wrong { WRONG_WORD } else { 0.0 };
            for (sides, prior) in self.ways(candidate, thing.shape) {
                let fit: f64 =
                    (0..2).filter_map(|axis| sides[axis].map(|length| agreement(length, thing, axis))).sum();
                out.push((candidate, sides, base + prior + fit));
            }
        }
        out
    }

    /// How the lengths of a reading may lie on width and height, and the
    /// log-odds of each way.
    fn ways(&self, candidate: &Candidate, shape: Shape) -> Vec<(Sides, f64)> {
        let words = candidate.size.words;
        // Axis along the writing: 0 for level lines.
        let along = usize::from(self.line.line.along[0].abs() < self.line.line.along[1].abs());
        match *candidate.size.lengths.as_slice() {
            [one] => {
                if matches!(shape, Shape::Circle)
                    || matches!(words.named, Some(Named::Circle | Named::Square))
                {
                    return vec![([Some(one), Some(one)], 0.0)];
                }
                let on = |axis: usize| if axis == 0 { [Some(one), None] } else { [None, Some(one)] };
                if let Some((axis, _)) = self.dimension {
                    return vec![(on(axis), 0.0)];
                }
                match words.first_is {
                    Some(Direction::Wide) => vec![(on(along), 0.0)],
                    Some(Direction::High) => vec![(on(1 - along), 0.0)],
                    None => vec![(on(along), -0.5), (on(1 - along), -1.0)],
                }
            }
            [first, second] => {
                let on = |axis: usize| {
                    if axis == 0 { [Some(first), Some(second)] } else { [Some(second), Some(first)] }
                };
                match words.first_is {
                    Some(Direction::Wide) => vec![(on(along), 0.0)],
                    Some(Direction::High) => vec![(on(1 - along), 0.0)],
                    None => vec![(on(along), 0.0), (on(1 - along), -FIRST_ALONG)],
                }
            }
            _ => Vec::new(),
        }
    }

    fn meaning(&self, things: &[Thing], card: [f64; 2], target: Target) -> Bound {
        let whole = whole_card(card);
        let thing = match target {
            Target::Element(i) => &things[i],
            Target::Card => &whole,
        };
        let readings = self.readings(thing);
        let top = readings.iter().map(|(_, _, worth)| *worth).fold(f64::MIN, f64::max);
        let total: f64 = readings.iter().map(|(_, _, worth)| (worth - top).exp()).sum();
        let Some((candidate, sides, _)) = readings.iter().find(|(_, _, worth)| *worth >= top) else {
            return self.contradiction(things);
        };
        let gross = (0..2).any(|axis| sides[axis].is_some_and(|length| is_gross(length, thing, axis)));
        // Ways that give the same sizes count together.
        let same: f64 = readings
            .iter()
            .filter(|(_, other, _)| other == sides)
            .map(|(_, _, worth)| (worth - top).exp())
            .sum();
        Bound {
            line: self.number,
            target: Some(target),
            text: candidate.text.clone(),
            sides: *sides,
            probability: same / total,
            contradicts: gross.then_some(thing.size),
        }
    }

    /// A label that no element goes with: about the one it lies on, if any.
    fn contradiction(&self, things: &[Thing]) -> Bound {
        let nearest = (0..things.len())
            .filter(|&i| !matches!(things[i].shape, Shape::Mark { .. }))
            .map(|i| (i, self.place(i, things)))
            .filter(|(_, place)| *place > BESIDE + PER_INCH * 0.1)
            .max_by(|a, b| a.1.total_cmp(&b.1));
        let first = self.line.candidates.first();
        let sides = first.map_or([None, None], |candidate| match *candidate.size.lengths.as_slice() {
            [one, other] => [Some(one), Some(other)],
            _ => [None, None],
        });
        Bound {
            line: self.number,
            target: nearest.map(|(i, _)| Target::Element(i)),
            text: first.map_or_else(String::new, |candidate| candidate.text.clone()),
            sides,
            probability: 0.0,
            contradicts: nearest.map(|(i, _)| things[i].size),
        }
    }
}

fn whole_card([width, height]: [f64; 2]) -> Thing {
    Thing { shape: Shape::SHARP, bounds: [0.0, 0.0, width, height], size: [width, height], sd: [0.0; 2] }
}

/// Log-probability of a written length, given what was measured, against a
/// measurement that is exactly it.
fn agreement(length: Length, thing: &Thing, axis: usize) -> f64 {
    let (written, measured) = (length.value(Unit::Inch), thing.size[axis]);
    let sd = thing.sd[axis].hypot(HAND_IN).hypot(SCALE * measured);
    let off = (written - measured) / sd;
    let bell = (-0.5 * off * off).exp();
    (bell + OUTLIER.exp()).ln()
}

fn is_gross(length: Length, thing: &Thing, axis: usize) -> bool {
    let (written, measured) = (length.value(Unit::Inch), thing.size[axis]);
    (written - measured).abs() > GROSS[0].max(GROSS[1] * measured)
}

/// Distance of a point from a box, 0 inside.
fn gap([left, top, right, bottom]: [f64; 4], [x, y]: Point) -> f64 {
    let dx = (left - x).max(x - right).max(0.0);
    let dy = (top - y).max(y - bottom).max(0.0);
    dx.hypot(dy)
}

/// Whether a point is inside an element, with a little to spare.
fn in_figure(thing: &Thing, p: Point) -> bool {
    if gap(thing.bounds, p) > 0.0 {
        return false;
    }
    let [left, top, right, bottom] = thing.bounds;
    if !matches!(thing.shape, Shape::Circle | Shape::Oval) {
        return true;
    }
    let (a, b) = ((right - left) / 2.0, (bottom - top) / 2.0);
    let (u, v) = ((p[0] - left - a) / a, (p[1] - top - b) / b);
    u * u + v * v <= 1.1
}

/// How well a dimension line's ends lie at an element's two sides, nats.
fn ends_apart(ends: [f64; 2], sides: [f64; 2]) -> f64 {
    let off = (ends[0] - sides[0]).abs().max((ends[1] - sides[1]).abs());
    if off > 0.35 { f64::MIN } else { -0.5 * (off / 0.1).powi(2) }
}

/// The dimension line that a label stands at: straight, along the writing or
/// nearly so, longer than it, and the label at its middle.
fn dimension_of(label: &ReadLine, rules: &[Rule]) -> Option<(usize, [f64; 2])> {
    let line = &label.line;
    rules
        .iter()
        .filter_map(|rule| {
            let [a, b] = rule.ends;
            let length = distance(a, b);
            let u = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
            let axis = usize::from(u[0].abs() < u[1].abs());
            let parallel = u[axis].abs() > 0.97;
            // Arrowheads stand out by a tenth of an inch.
            let straight = rule.bow < 0.12 + 0.02 * length;
            let (dx, dy) = (line.centre[0] - a[0], line.centre[1] - a[1]);
            let (s, t) = (dx * u[0] + dy * u[1], (dx * u[1] - dy * u[0]).abs());
            let middle = (s / length - 0.5).abs() < 0.2;
            let near = t < 0.25 + line.size[1];
            let fine = parallel && straight && middle && near && length > line.size[0].min(0.9);
            let ends = [a[axis].min(b[axis]), a[axis].max(b[axis])];
            fine.then_some((t, axis, ends))
        })
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, axis, ends)| (axis, ends))
}

/// Where the leader of a label points: from a stroke that starts at the label,
/// on over the pieces that outlines have cut it into.
fn leader_tip(label: &ReadLine, rules: &[Rule]) -> Option<Point> {
    /// A leader starts this near to its label.
    const START_IN: f64 = 0.22;
    /// Its other end is farther away by this.
    const AWAY_IN: f64 = 0.08;
    /// Pieces of it are this far apart.
    const JUMP_IN: f64 = 0.3;
    /// Pieces straight ahead may be farther away.
    const LEAP_IN: f64 = 1.0;
    /// Length of stroke that tells its direction.
    const HEADING_IN: f64 = 0.4;
    let outside = |p: Point| {
        let line = &label.line;
        let d = [p[0] - line.centre[0], p[1] - line.centre[1]];
        let s = (d[0] * line.along[0] + d[1] * line.along[1]).abs() - line.size[0] / 2.0;
        let t = (d[1] * line.along[0] - d[0] * line.along[1]).abs() - line.size[1] / 2.0;
        s.max(0.0).hypot(t.max(0.0))
    };
    let (mut used, start, mut tip, _) = rules
        .iter()
        .enumerate()
        .flat_map(|(i, rule)| {
            let [a, b] = rule.ends;
            [(i, a, b, outside(a)), (i, b, a, outside(b))]
        })
        .filter(|(_, _, far, near)| *near < START_IN && outside(*far) > *near + AWAY_IN)
        .min_by(|a, b| a.3.total_cmp(&b.3))
        .map(|(i, near, far, gap)| (vec![i], near, far, gap))?;
    // The places it has come by, to tell where it is heading.
    let mut path = vec![start];
    loop {
        let from = path.iter().rev().find(|p| distance(**p, tip) > HEADING_IN).copied().unwrap_or(start);
        let heading = distance(from, tip);
        let u = [(tip[0] - from[0]) / heading, (tip[1] - from[1]) / heading];
        let next = rules
            .iter()
            .enumerate()
            .filter(|(i, _)| !used.contains(i))
            .flat_map(|(i, rule)| {
                let [a, b] = rule.ends;
                [(i, a, b), (i, b, a)]
            })
            .filter(|(_, near, far)| {
                let jump = distance(tip, *near);
                let on = [far[0] - near[0], far[1] - near[1]];
                let length = on[0].hypot(on[1]);
                let ahead = (on[0] * u[0] + on[1] * u[1]) / length;
                let step = [near[0] - tip[0], near[1] - tip[1]];
                let forward = step[0] * u[0] + step[1] * u[1];
                let near_by = jump < JUMP_IN
                    && ahead > 0.85
                    && forward > -0.05
                    && (jump < 0.08 || forward / jump > 0.8);
                near_by || (jump < LEAP_IN && ahead > 0.9 && forward / jump > 0.98)
            })
            .min_by(|a, b| distance(tip, a.1).total_cmp(&distance(tip, b.1)));
        let Some((i, near, far)) = next else { return Some(tip) };
        used.push(i);
        path.extend([tip, near]);
        tip = far;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::labels::find::TextLine;
    use crate::labels::sizes::parse;

    /// A line that may be read in several ways, all equally likely.
    fn line(centre: Point, readings: &[&str]) -> ReadLine {
        let candidates = readings
            .iter()
            .flat_map(|text| parse(text, Unit::Inch))
            .map(|(size, text)| Candidate { size, text, log_p: -0.1 })
            .collect();
        ReadLine {
            line: TextLine { centre, along: [1.0, 0.0], size: [0.8, 0.2], pieces: 5 },
            text: readings[0].to_owned(),
            confidence: 0.95,
            candidates,
            size_odds: 0.0,
        }
    }

    fn thing(shape: Shape, [left, top, right, bottom]: [f64; 4]) -> Thing {
        let size = [right - left, bottom - top];
        Thing { shape, bounds: [left, top, right, bottom], size, sd: [0.01; 2] }
    }

    fn panel(bounds: [f64; 4]) -> Thing {
        thing(Shape::SHARP, bounds)
    }

    const CARD: [f64; 2] = [4.25, 5.5];

    fn only(lines: &[ReadLine], rules: &[Rule], things: &[Thing]) -> Bound {
        let got = bind(lines, rules, things, CARD);
        assert_eq!(got.len(), 1, "{got:?}");
        got[0].clone()
    }

    #[test]
    fn pixels_and_writing_vote() {
        // 1 3/8 and 1 7/8 were equally well read; the strip is 1.42 in high.
        let strip = panel([0.0, 1.0, 4.25, 2.42]);
        let got = only(&[line([2.0, 1.7], &["4 1/4 x 1 3/8", "4 1/4 x 1 7/8"])], &[], &[strip]);
        assert_eq!(got.target, Some(Target::Element(0)));
        assert_eq!(got.sides, [Some(Length::eighths(34)), Some(Length::eighths(11))]);
        assert!(got.probability > 0.9 && got.contradicts.is_none(), "{got:?}");
    }

    #[test]
    fn two_lengths_lie_as_they_fit() {
        // Written height first.
        let got = only(&[line([2.0, 2.0], &["3 x 1 1/2"])], &[], &[panel([1.2, 0.5, 2.75, 3.45])]);
        assert_eq!(got.sides, [Some(Length::eighths(12)), Some(Length::inches(3))]);
    }

    #[test]
    fn the_inner_of_two_nested_panels_is_meant_unless_the_size_says_otherwise() {
        let things = [panel([0.5, 0.5, 3.5, 4.5]), panel([0.6, 0.6, 3.4, 4.4])];
        let inner = only(&[line([2.0, 2.0], &["2 3/4 x 3 3/4"])], &[], &things);
        assert_eq!(inner.target, Some(Target::Element(1)));
        let outer = only(&[line([2.0, 2.0], &["3 x 4"])], &[], &things);
        assert_eq!(outer.target, Some(Target::Element(0)));
    }

    #[test]
    fn a_leader_points_at_its_element() {
        let things = [panel([0.25, 0.5, 4.0, 1.5]), panel([0.25, 3.0, 4.0, 4.0])];
        let label = line([2.0, 6.0], &["3 3/4 x 1"]);
        // It is cut where it crosses the card's edge and the lower panel.
        let rules = [([2.0, 5.8], [2.05, 4.1]), ([2.06, 3.9], [2.08, 3.1]), ([2.09, 2.9], [2.15, 1.0])]
            .map(|(a, b)| Rule { ends: [a, b], bow: 0.0 });
        assert_eq!(only(std::slice::from_ref(&label), &rules, &things).target, Some(Target::Element(0)));
        assert_eq!(only(&[label], &rules[..1], &things).target, Some(Target::Element(1)));
    }

    #[test]
    fn a_length_at_a_dimension_line_is_the_side_between_its_ends() {
        let things = [panel([0.5, 0.5, 3.75, 2.0]), panel([0.5, 2.5, 2.0, 4.0])];
        let rule = Rule { ends: [[0.52, 5.8], [3.7, 5.82]], bow: 0.0 };
        let got = only(&[line([2.1, 6.0], &["3 1/4"])], &[rule], &things);
        assert_eq!((got.target, got.sides), (Some(Target::Element(0)), [Some(Length::eighths(26)), None]));
        let whole = Rule { ends: [[0.0, 5.8], [4.24, 5.82]], bow: 0.0 };
        let got = only(&[line([2.1, 6.0], &["4 1/4"])], &[whole], &things);
        assert_eq!(got.target, Some(Target::Card));
    }

    #[test]
    fn a_named_circle_is_found_from_afar() {
        let things = [panel([0.5, 0.5, 3.75, 4.0]), thing(Shape::Circle, [1.0, 1.0, 2.4, 2.4])];
        let got = only(&[line([2.1, 6.0], &["1 3/8 circle"])], &[], &things);
        assert_eq!((got.target, got.sides), (Some(Target::Element(1)), [Some(Length::eighths(11)); 2]));
    }

    #[test]
    fn a_gross_contradiction_is_no_size() {
        let got = only(&[line([2.0, 2.0], &["1 x 1 1/2"])], &[], &[panel([0.5, 0.5, 3.5, 4.5])]);
        assert_eq!(got.target, Some(Target::Element(0)));
        assert_eq!(got.contradicts, Some([3.0, 4.0]));
    }

    #[test]
    fn twins_get_a_label_each() {
        let things = [panel([0.25, 1.0, 1.75, 2.0]), panel([2.5, 1.0, 4.0, 2.0])];
        let labels = [line([1.0, 1.5], &["1 1/2 x 1"]), line([3.2, 1.5], &["1 1/2 x 1"])];
        let targets: Vec<_> = bind(&labels, &[], &things, CARD).iter().map(|bound| bound.target).collect();
        assert_eq!(targets, [Some(Target::Element(0)), Some(Target::Element(1))]);
    }
}

//! Large rectangles from their four sides. A frame around many figures is
//! seldom closed: its sides are long, stop short of each other, and arrows run
//! through them; so it is put together from straight strokes of the page.
//! Method: quadrilaterals from pairs of level and pairs of upright lines that
//! end near their crossings, as in rectangle detection by perceptual grouping
//! (Lowe, "Perceptual Organization and Visual Recognition", 1985); the ink
//! along the sides decides.

use super::figures::{Figure, Kind};
use super::mask::Near;
use crate::geometry::Point;
use crate::lines::Line;
use crate::page::Page;
use crate::rectify::{Rectified, to_px};

/// Shortest side of a frame, as a share of the longer side of the page.
const SHORTEST: f64 = 0.035;
/// Shortest pair of long sides of a frame, likewise.
const LONG: f64 = 0.2;
/// Lines of one direction that are tried, the longest first.
const MOST_LINES: usize = 60;
/// Least drawn share of a side from end to end: arrows run through it, but
/// letters and sides of other figures that lie in line are not one.
const COVERED: f32 = 0.7;
/// How far from a corner a side may end, as a share of the page's longer side.
const CORNER: f64 = 0.02;
/// Least inked share of a frame's outline.
const LEAST_INKED: f64 = 0.85;
/// Departure that a frame counts for: its sides are lines already.
const OFF: f64 = 0.012;
/// Weakest side, as a share of the pen.
const WEAKEST: f64 = 0.4;

/// A straight stroke on the drawing.
struct Stroke {
    from: Point,
    to: Point,
}

impl Stroke {
    fn length(&self) -> f64 {
        crate::geometry::distance(self.from, self.to)
    }

    /// How far a place lies beyond the stroke's ends: 0 along it.
    fn beyond(&self, axis: usize, at: f64) -> f64 {
        (self.from[axis] - at).max(at - self.to[axis]).max(0.0)
    }

    /// Whether the stroke ends near a place.
    fn ends(&self, axis: usize, at: f64, reach: f64) -> bool {
        (self.from[axis] - at).abs() <= reach || (self.to[axis] - at).abs() <= reach
    }
}

/// Frames of a drawing.
pub(super) fn propose(page: &Page, drawing: &Rectified, near: &Near) -> Vec<Figure> {
    let long = f64::from(drawing.picture.width().max(drawing.picture.height()));
    // From the page's pixels to the drawing's: the photo is the drawing.
    let scale = drawing.to_photo.apply([1.0, 0.0])[0] - drawing.to_photo.apply([0.0, 0.0])[0];
    let at = |p: Point| page.to_photo(p).map(|v| to_px(v / scale));
    let strokes = |lines: &[Line]| {
        let mut all: Vec<Stroke> = lines
            .iter()
            .filter(|line| line.length() >= COVERED * (line.end - line.start))
            .map(|line| {
                let end = |u: f32| at(line.axis.join(u, line.across(u)).map(f64::from));
                Stroke { from: end(line.start), to: end(line.end) }
            })
            .filter(|stroke| stroke.length() >= SHORTEST * long && seen(stroke, near))
            .collect();
        all.sort_by(|a, b| b.length().total_cmp(&a.length()));
        all.truncate(MOST_LINES);
        all
    };
    let (level, upright) = (strokes(&page.level), strokes(&page.upright));
    let reach = CORNER * long;
    let mut out = Vec::new();
    for (i, a) in level.iter().enumerate() {
        for b in &level[i + 1..] {
            let (top, bottom) = if a.from[1] + a.to[1] < b.from[1] + b.to[1] { (a, b) } else { (b, a) };
            for (j, c) in upright.iter().enumerate() {
                // Each upright has to span both level lines.
                if !spans(c, top, bottom, reach) {
                    continue;
                }
                for d in &upright[j + 1..] {
                    let (left, right) =
                        if c.from[0] + c.to[0] < d.from[0] + d.to[0] { (c, d) } else { (d, c) };
                    if spans(d, top, bottom, reach)
                        && let Some(figure) = frame([left, top, right, bottom], long, reach, near)
                    {
                        out.push(figure);
                    }
                }
            }
        }
    }
    out
}

/// Whether an upright stroke reaches from one level one to the other.
fn spans(upright: &Stroke, top: &Stroke, bottom: &Stroke, reach: f64) -> bool {
    [top, bottom].iter().all(|level| {
        let [x, y] = crossing(upright, level);
        upright.beyond(1, y) <= reach && level.beyond(0, x) <= reach
    })
}

/// Where an upright and a level stroke meet.
fn crossing(upright: &Stroke, level: &Stroke) -> Point {
    let b = (upright.to[0] - upright.from[0]) / (upright.to[1] - upright.from[1]).abs().max(1.0);
    let d = (level.to[1] - level.from[1]) / (level.to[0] - level.from[0]).abs().max(1.0);
    let a = upright.from[0] - b * upright.from[1];
    let c = level.from[1] - d * level.from[0];
    let x = (a + b * c) / (1.0 - b * d);
    [x, c + d * x]
}

/// The frame of four sides (left, top, right, bottom), if it is one.
fn frame(sides: [&Stroke; 4], long: f64, reach: f64, near: &Near) -> Option<Figure> {
    let [left, top, right, bottom] = sides;
    let corners =
        [crossing(left, top), crossing(right, top), crossing(right, bottom), crossing(left, bottom)];
    let (width, height) = (corners[1][0] - corners[0][0], corners[3][1] - corners[0][1]);
    if width.min(height) < SHORTEST * long || width.max(height) < LONG * long {
        return None;
    }
    // At a corner at least one of both sides ends.
    let ended = [(left, top), (right, top), (right, bottom), (left, bottom)].iter().zip(&corners).all(
        |((upright, level), corner)| upright.ends(1, corner[1], reach) || level.ends(0, corner[0], reach),
    );
    if !ended || !crate::geometry::convex(&corners) {
        return None;
    }
    let figure = Figure::of(Kind::Rectangle { corners, radius: 0.0 }, OFF, near);
    (figure.inked >= LEAST_INKED && figure.weakest >= WEAKEST).then_some(figure)
}

/// Whether a stroke is as strong as the pen: rulings are not.
fn seen(stroke: &Stroke, near: &Near) -> bool {
    let mut strengths: Vec<f64> = (0..21)
        .map(|k| {
            let t = f64::from(k) / 20.0;
            let at = [0, 1].map(|axis| stroke.from[axis] + t * (stroke.to[axis] - stroke.from[axis]));
            near.strongest(at, 3.0)
        })
        .collect();
    strengths.sort_by(f64::total_cmp);
    strengths[10] >= WEAKEST
}

//! Regions of a card: shapes as polygons, and what is left of one under
//! another. Straight shapes are exact; a curve is a polygon of the same area
//! that strays from it by less than a thousandth of an inch. The Boolean
//! operations are those of the crate `i_overlay` on whole numbers.

use std::f64::consts::{PI, TAU};

use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::core::single::SingleIntOverlay;
use i_overlay::i_float::int::point::IntPoint;

use crate::drawing::banner_outline;
use crate::element::{Frame, Shape};
use crate::length::Unit;

/// How far a polygon may stray from its curve, in inches: a hundredth of the
/// finest step there is.
const TOLERANCE_IN: f64 = 0.001;
/// Whole numbers of one inch. A multiple of what a [`crate::Length`] counts
/// in, so that sixteenths and half millimetres are whole; 1000 inches stay
/// far inside 30 bits.
const PER_IN: f64 = 2032.0 * 64.0;

/// A part of the plane, in inches from the card's top-left corner, y down.
///
/// ```
/// # use layout::{Frame, Length, Region, Shape};
/// let side = Length::inches(2);
/// let frame = Frame { x: Length::ZERO, y: Length::ZERO, width: side, height: side };
/// let (square, circle) = (Region::of(Shape::SHARP, frame, 0.0), Region::of(Shape::Circle, frame, 0.0));
/// assert_eq!(square.area_in(), 4.0);
/// assert!((circle.area_in() - std::f64::consts::PI).abs() < 1e-4);
/// assert!((square.minus(&circle).area_in() - (4.0 - std::f64::consts::PI)).abs() < 0.01);
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Region {
    /// Each with its outside first, then its holes.
    shapes: Vec<Vec<Vec<IntPoint<i32>>>>,
}

impl Region {
    /// What a shape covers in its frame, turned about the frame's centre.
    pub fn of(shape: Shape, frame: Frame, rotation_deg: f64) -> Region {
        let [x, y, width, height] =
            [frame.x, frame.y, frame.width, frame.height].map(|length| length.value(Unit::Inch));
        let (cx, cy) = (x + width / 2.0, y + height / 2.0);
        let outline = match shape {
            Shape::Rectangle { corner_radius } if corner_radius.is_positive() => {
                rounded([x, y, width, height], corner_radius.value(Unit::Inch))
            }
            Shape::Rectangle { .. } => vec![[x, y], [x + width, y], [x + width, y + height], [x, y + height]],
            Shape::Circle | Shape::Oval | Shape::Mark { .. } => {
                let circle = arc([0.0, TAU], width.max(height) / 2.0);
                let [across, down] = [width, height].map(|side| side / 2.0);
                circle.into_iter().map(|[ux, uy]| [cx + across * ux, cy + down * uy]).collect()
            }
            Shape::Banner { ends } => banner_outline(x, y, width, height, ends),
        };
        Region::closed(&turned(&outline, [cx, cy], rotation_deg))
    }

    /// Inside of one outline.
    fn closed(outline: &[[f64; 2]]) -> Region {
        let points: Vec<IntPoint<i32>> = outline.iter().map(|&point| whole(point)).collect();
        // Shapes without corners in common have no winding to agree on.
        Region { shapes: vec![vec![points]] }.with(&Region::default(), OverlayRule::Subject)
    }

    /// What is in either.
    #[must_use]
    pub fn and(&self, other: &Region) -> Region {
        self.with(other, OverlayRule::Union)
    }

    /// What is in this one and not in the other.
    #[must_use]
    pub fn minus(&self, other: &Region) -> Region {
        if self.meets(other) { self.with(other, OverlayRule::Difference) } else { self.clone() }
    }

    /// What is in both.
    #[must_use]
    pub fn shared(&self, other: &Region) -> Region {
        if self.meets(other) { self.with(other, OverlayRule::Intersect) } else { Region::default() }
    }

    /// Its area in square inches.
    pub fn area_in(&self) -> f64 {
        let contours = self.shapes.iter().flatten();
        contours.map(|contour| twice_area(contour) as f64).sum::<f64>().abs() / 2.0 / (PER_IN * PER_IN)
    }

    /// Length of all its outlines, in inches.
    pub fn outline_in(&self) -> f64 {
        self.edges_in().into_iter().map(|[[ax, ay], [bx, by]]| (bx - ax).hypot(by - ay)).sum()
    }

    /// The sides of all its outlines, in inches.
    pub fn edges_in(&self) -> Vec<[[f64; 2]; 2]> {
        let contours = self.contours_in();
        let edges = contours.iter().flat_map(|contour| {
            let next = contour.iter().cycle().skip(1);
            contour.iter().zip(next).map(|(&from, &to)| [from, to])
        });
        edges.collect()
    }

    /// How wide it is where it is narrow: its area over half its outline, less
    /// than the shorter side of a rectangle.
    pub fn width_in(&self) -> f64 {
        let outline = self.outline_in();
        if outline > 0.0 { 2.0 * self.area_in() / outline } else { 0.0 }
    }

    /// Whether there is nothing in it.
    pub fn is_empty(&self) -> bool {
        self.shapes.is_empty()
    }

    /// Its separate parts, the largest first.
    pub fn parts(&self) -> Vec<Region> {
        let mut parts: Vec<Region> =
            self.shapes.iter().map(|shape| Region { shapes: vec![shape.clone()] }).collect();
        parts.sort_by(|a, b| b.area_in().total_cmp(&a.area_in()));
        parts
    }

    /// Left, top, right and bottom in inches; none of nothing.
    pub fn bounds_in(&self) -> Option<[f64; 4]> {
        self.bounds().map(|bounds| bounds.map(|side| f64::from(side) / PER_IN))
    }

    /// Its outlines in inches: outsides and holes turn opposite ways.
    pub fn contours_in(&self) -> Vec<Vec<[f64; 2]>> {
        let inches = |point: &IntPoint<i32>| [f64::from(point.x) / PER_IN, f64::from(point.y) / PER_IN];
        self.shapes.iter().flatten().map(|contour| contour.iter().map(inches).collect()).collect()
    }

    fn with(&self, other: &Region, rule: OverlayRule) -> Region {
        Region { shapes: self.shapes.overlay(&other.shapes, rule, FillRule::NonZero) }
    }

    fn bounds(&self) -> Option<[i32; 4]> {
        let mut points = self.shapes.iter().flatten().flatten();
        let first = points.next()?;
        Some(points.fold([first.x, first.y, first.x, first.y], |[l, t, r, b], point| {
            [l.min(point.x), t.min(point.y), r.max(point.x), b.max(point.y)]
        }))
    }

    fn meets(&self, other: &Region) -> bool {
        match (self.bounds(), other.bounds()) {
            (Some(a), Some(b)) => (0..2).all(|axis| a[axis] < b[axis + 2] && b[axis] < a[axis + 2]),
            _ => false,
        }
    }
}

/// Points turned by so many degrees, clockwise as seen with y down.
pub(crate) fn turned(points: &[[f64; 2]], [cx, cy]: [f64; 2], rotation_deg: f64) -> Vec<[f64; 2]> {
    if rotation_deg == 0.0 {
        return points.to_vec();
    }
    let (sin, cos) = rotation_deg.to_radians().sin_cos();
    let turn = |&[x, y]: &[f64; 2]| {
        let (x, y) = (x - cx, y - cy);
        [cx + x * cos - y * sin, cy + x * sin + y * cos]
    };
    points.iter().map(turn).collect()
}

/// Points on the unit circle from one angle to another, or a little outside
/// of it: the polygon has the area of the circle's sector. Its corners lie
/// outside by a twelfth, its sides inside by a twenty-fourth of the squared
/// step.
fn arc([from, to]: [f64; 2], radius_in: f64) -> Vec<[f64; 2]> {
    let finest = (12.0 * TOLERANCE_IN / radius_in.max(TOLERANCE_IN)).sqrt().min(PI / 4.0);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a few thousand at 1000 inches"
    )]
    let steps = ((to - from) / finest).ceil() as u32;
    let step = (to - from) / f64::from(steps);
    let reach = (step / step.sin()).sqrt();
    // A closed circle ends one step before its first point.
    let last = if to - from >= TAU { steps - 1 } else { steps };
    (0..=last)
        .map(|k| {
            let (sin, cos) = (from + step * f64::from(k)).sin_cos();
            [reach * cos, reach * sin]
        })
        .collect()
}

/// A rectangle with rounded corners: the quarter arcs keep their ends on the
/// sides.
fn rounded([x, y, width, height]: [f64; 4], radius: f64) -> Vec<[f64; 2]> {
    let (left, right) = (x + radius, x + width - radius);
    let (top, bottom) = (y + radius, y + height - radius);
    let mut outline = Vec::new();
    for (quarter, [cx, cy]) in (0u32..).zip([[right, bottom], [left, bottom], [left, top], [right, top]]) {
        let from = f64::from(quarter) * PI / 2.0;
        outline.extend(arc([from, from + PI / 2.0], radius).into_iter().map(|[ux, uy]| {
            // Not over the sides by the little that corners stand out.
            [(cx + radius * ux).clamp(x, x + width), (cy + radius * uy).clamp(y, y + height)]
        }));
    }
    outline
}

/// Nearest whole point; beyond a thousand inches it stays there.
fn whole(point: [f64; 2]) -> IntPoint<i32> {
    const FARTHEST: f64 = 2000.0 * PER_IN;
    #[expect(clippy::cast_possible_truncation, reason = "held within 29 bits")]
    let [x, y] = point.map(|value| (value * PER_IN).round().clamp(-FARTHEST, FARTHEST) as i32);
    IntPoint::new(x, y)
}

fn twice_area(contour: &[IntPoint<i32>]) -> i128 {
    let next = contour.iter().cycle().skip(1);
    let cross = |(a, b): (&IntPoint<i32>, &IntPoint<i32>)| {
        i128::from(a.x) * i128::from(b.y) - i128::from(b.x) * i128::from(a.y)
    };
    contour.iter().zip(next).map(cross).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::length::Length;

    fn frame([x, y, width, height]: [i32; 4]) -> Frame {
        let [x, y, width, height] = [x, y, width, height].map(Length::eighths);
        Frame { x, y, width, height }
    }

    fn near(got: f64, meant: f64, by: f64) {
        assert!((got - meant).abs() <= by, "{got} is not {meant}");
    }

    /// Areas of geometry: a circle, an ellipse, a rounded and a turned
    /// rectangle.
    #[test]
    fn areas_are_those_of_geometry() {
        let area = |shape, at, turn| Region::of(shape, frame(at), turn).area_in();
        near(area(Shape::SHARP, [1, 1, 32, 42], 0.0), 21.0, 0.0);
        near(area(Shape::SHARP, [1, 1, 32, 42], 33.3), 21.0, 1e-4);
        near(area(Shape::Circle, [8, 8, 16, 16], 0.0), PI, 1e-4);
        near(area(Shape::Oval, [8, 8, 16, 24], 12.0), PI * 1.5, 1e-4);
        let round = Shape::Rectangle { corner_radius: Length::eighths(4) };
        near(area(round, [0, 0, 16, 16], 0.0), 4.0 - (4.0 - PI) / 4.0, 1e-3);
    }

    /// The two segments that a circle of radius 1 keeps outside of a strip
    /// through its middle, 1 high: twice r² acos(d/r) - d √(r² - d²).
    #[test]
    fn what_a_strip_leaves_of_a_circle_is_two_segments() {
        let circle = Region::of(Shape::Circle, frame([8, 8, 16, 16]), 0.0);
        let strip = Region::of(Shape::SHARP, frame([0, 12, 40, 8]), 0.0);
        let left = circle.minus(&strip);
        near(left.area_in(), 2.0 * (0.5_f64.acos() - 0.5 * 0.75_f64.sqrt()), 1e-3);
        assert_eq!(left.parts().len(), 2);
    }

    #[test]
    fn a_frame_around_a_hole_is_one_part() {
        let outside = Region::of(Shape::SHARP, frame([0, 0, 32, 32]), 0.0);
        let inside = Region::of(Shape::SHARP, frame([8, 8, 16, 16]), 0.0);
        let left = outside.minus(&inside);
        assert_eq!((left.area_in(), left.parts().len(), left.outline_in()), (12.0, 1, 24.0));
        assert_eq!(left.and(&inside), outside);
        assert!(inside.minus(&outside).is_empty());
        assert_eq!(left.bounds_in(), Some([0.0, 0.0, 4.0, 4.0]));
    }
}

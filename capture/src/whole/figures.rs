//! A region compared with the figures that people draw: a rectangle with sharp
//! or rounded corners, a little turned or bowed; a circle or oval; a diamond.
//! Method: each side of a rectangle is a line fitted to the middle of the
//! region's profile with trimmed residuals (Rousseeuw and Leroy, "Robust
//! Regression and Outlier Detection", 1987); the ellipse is a direct least
//! squares fit, trimmed likewise. The figure that the profile departs from
//! least is the region's. Diamonds are told apart only to be left out: a
//! rectangle on its corner is no layer of a card.

use std::ops::Range;

use super::Seen;
use super::mask::Near;
use super::regions::Profile;
use crate::geometry::{self, Homography, Point};
use crate::shapes::{Geometry, Hypothesis, Sample, SampleInk, SideFit};

/// Steepest side of a rectangle, across per along: about 17 degrees.
const STEEPEST: f64 = 0.3;
/// Part of a side that is fitted, from and to: corners are round.
const MIDDLE: [f64; 2] = [0.12, 0.88];
/// Slopes tried to either side of level.
const SLOPES: i32 = 8;
/// Points of a side that are looked at.
const SIDE_POINTS: usize = 90;
/// What a slope of 1 costs a side, in shares of its points.
const STEEP_COST: f64 = 0.3;
/// What a rectangle turned by a slope of 1 costs, in departure.
const TURN_COST: f64 = 0.03;
/// What sides at a slope of 1 to each other cost, in departure.
const SKEW_COST: f64 = 0.06;
/// What wholly round corners cost, in departure.
const ROUND_COST: f64 = 0.02;
/// Corner radii tried, as shares of the shorter side.
const ROUNDINGS: [f64; 7] = [0.0, 0.08, 0.16, 0.24, 0.32, 0.4, 0.5];
/// Most mean departure of a profile from its figure, as a share of its size.
const MOST_OFF: f64 = 0.035;
/// The same of circles, which hands draw less even.
const MOST_OFF_ROUND: f64 = 0.05;
/// Longer radius per shorter one of a long round figure.
const LONG_ROUND: f64 = 1.3;
/// How much better than a box an oval must fit where it is long.
const LONG_ROUND_OFF: f64 = 1.7;
/// Departures above this share of the size count as this much: writing that
/// runs into the outline is not the outline.
const FAR_OFF: f64 = 0.1;
/// A diamond fits at least this much worse than the figure.
const DIAMOND_OFF: f64 = 1.1;
/// Departures below this many pixels are the picture's grain.
const GRAIN_PX: f64 = 0.7;
/// Ink is near an outline within this share of the figure's size.
const NEAR: f64 = 0.025;
/// Least and most distance at which ink is near, in pixels.
const NEAR_PX: [f64; 2] = [3.0, 7.0];
/// Least share of the pen's answer that speaks for an outline.
const FAINT: f64 = 0.25;
/// What an outline as strong as the pen is worth beside one that is all seen.
const STRENGTH_WORTH: f64 = 0.3;
/// Least inked share of an outline.
const LEAST_INKED: f64 = 0.88;
/// Samples of an outline that are looked at.
const SAMPLES: usize = 160;
/// The same, of a short side.
const FEWEST_SAMPLES: f64 = 12.0;

/// A figure on the drawing.
#[derive(Clone, Debug)]
pub(super) struct Figure {
    pub(super) kind: Kind,
    /// Outline, clockwise.
    pub(super) outline: Vec<Point>,
    /// Left, top, right and bottom.
    pub(super) bounds: [f64; 4],
    /// Mean departure of the profile from the figure, as a share of its size.
    pub(super) off: f64,
    /// The places of each side in the outline; an ellipse has four.
    pub(super) sides: [Range<usize>; 4],
    /// Typical strength of its weakest side, as a share of the pen.
    pub(super) weakest: f64,
    /// Share of the outline that is inked.
    pub(super) inked: f64,
}

#[derive(Clone, Debug)]
pub(super) enum Kind {
    /// Corners from the top-left clockwise and the radius of the corners.
    Rectangle {
        corners: [Point; 4],
        radius: f64,
    },
    Ellipse {
        centre: Point,
        radii: Point,
    },
}

/// The figure that a region is, if it is any.
pub(super) fn fit(profile: &Profile, near: &Near) -> Option<Figure> {
    let points = profile.points();
    let rectangle = rectangle(profile, &points);
    let ellipse = ellipse(&points);
    let diamond = diamond(&points);
    let off = |fit: &Option<(Kind, f64)>| fit.as_ref().map_or(f64::MAX, |f| f.1);
    // A long round figure is a box drawn in one go more often than an oval.
    let long =
        matches!(&ellipse, Some((Kind::Ellipse { radii: [a, b], .. }, _)) if (a / b).max(b / a) > LONG_ROUND);
    let handicap = if long { LONG_ROUND_OFF } else { 1.0 };
    let best = if handicap * off(&ellipse) < off(&rectangle) { ellipse } else { rectangle };
    let (kind, off) = best?;
    let most = if matches!(kind, Kind::Ellipse { .. }) { MOST_OFF_ROUND } else { MOST_OFF };
    if off > most || diamond < DIAMOND_OFF * off {
        return None;
    }
    let figure = Figure::of(kind, off, near);
    (figure.inked >= LEAST_INKED).then_some(figure)
}

impl Figure {
    /// A figure looked up in the ink.
    pub(super) fn of(kind: Kind, off: f64, near: &Near) -> Figure {
        let (outline, sides) = outline_of(&kind);
        let low = |k: usize| outline.iter().map(|p| p[k]).fold(f64::MAX, f64::min);
        let high = |k: usize| outline.iter().map(|p| p[k]).fold(f64::MIN, f64::max);
        let bounds = [low(0), low(1), high(0), high(1)];
        let mut figure = Figure { kind, outline, bounds, off, inked: 0.0, sides, weakest: 0.0 };
        figure.look(near);
        figure
    }

    /// Geometric mean of width and height, in pixels.
    pub(super) fn size(&self) -> f64 {
        ((self.bounds[2] - self.bounds[0]) * (self.bounds[3] - self.bounds[1])).sqrt()
    }

    /// Longer side per shorter side.
    pub(super) fn proportion(&self) -> f64 {
        let (w, h) = (self.bounds[2] - self.bounds[0], self.bounds[3] - self.bounds[1]);
        (w / h).max(h / w)
    }

    pub(super) fn round(&self) -> bool {
        matches!(self.kind, Kind::Ellipse { .. })
    }

    /// How good a figure it is: seen all round and even.
    pub(super) fn quality(&self) -> f64 {
        self.inked - 10.0 * self.off + STRENGTH_WORTH * self.weakest.min(1.0)
    }

    /// Looks along the outline: its inked share and the strength of its ink.
    fn look(&mut self, near: &Near) {
        let reach = (NEAR * self.size()).clamp(NEAR_PX[0], NEAR_PX[1]);
        let strengths: Vec<f64> = self.outline.iter().map(|p| near.strongest(*p, reach)).collect();
        self.inked = strengths.iter().filter(|s| **s > FAINT).count() as f64 / strengths.len() as f64;
        self.weakest = self
            .sides
            .iter()
            .map(|range| {
                let mut side = strengths[range.clone()].to_vec();
                side.sort_by(f64::total_cmp);
                side.get(side.len() / 2).copied().unwrap_or(1.0)
            })
            .fold(f64::MAX, f64::min);
    }

    /// The figure as the other stages know it.
    pub(super) fn seen(&self) -> Seen {
        let single = |p: Point| {
            #[expect(clippy::cast_possible_truncation, reason = "picture coordinates")]
            p.map(|v| v as f32)
        };
        #[expect(clippy::cast_possible_truncation, reason = "a share")]
        let inked = self.inked as f32;
        let geometry = match &self.kind {
            Kind::Rectangle { corners, radius } => {
                let corners = corners.map(single);
                let middle = |a: usize, b: usize, k: usize| 0.5 * (corners[a][k] + corners[b][k]);
                let side = |at: f32| SideFit { at, spread: 2.0, inked, on_edge: false };
                #[expect(clippy::cast_possible_truncation, reason = "picture coordinates")]
                Geometry::Box {
                    corners,
                    sides: [
                        side(middle(0, 3, 0)),
                        side(middle(0, 1, 1)),
                        side(middle(1, 2, 0)),
                        side(middle(2, 3, 1)),
                    ],
                    turned_deg: 0.0,
                    radius_px: *radius as f32,
                    notch: None,
                }
            }
            Kind::Ellipse { centre, radii } => {
                Geometry::Ellipse { centre: single(*centre), radii: single(*radii) }
            }
        };
        let samples =
            self.outline.iter().map(|p| Sample { at: single(*p), ink: SampleInk::Seen(0) }).collect();
        #[expect(clippy::cast_possible_truncation, reason = "log-odds are small")]
        let odds = (12.0 * (self.quality() - 0.9)) as f32;
        Seen {
            shape: Hypothesis { geometry, samples, corners: Vec::new(), against: Vec::new(), inked },
            odds,
        }
    }
}

impl Profile {
    /// All points of the profile, some hundreds.
    fn points(&self) -> Vec<Point> {
        let step = ((self.rows.len() + self.columns.len()) / 200).max(1);
        let rows = self.rows.iter().enumerate().step_by(step).flat_map(|(i, [low, high])| {
            let y = f64::from(self.origin[1]) + i as f64;
            [[f64::from(*low), y], [f64::from(*high), y]]
        });
        let columns = self.columns.iter().enumerate().step_by(step).flat_map(|(i, [low, high])| {
            let x = f64::from(self.origin[0]) + i as f64;
            [[x, f64::from(*low)], [x, f64::from(*high)]]
        });
        rows.chain(columns).collect()
    }
}

/// Mean departure, far ones cut off.
fn mean_off(departures: impl Iterator<Item = f64>, size: f64) -> f64 {
    let (sum, count) = departures.fold((0.0, 0usize), |(sum, count), d| {
        (sum + ((d.abs() - GRAIN_PX).max(0.0) / size).min(FAR_OFF), count + 1)
    });
    sum / count.max(1) as f64
}

/// A side of a rectangle: across = offset + slope * along, through the place
/// where most points lie, the outer one of equals. `outward` is -1 for left and
/// top sides, 1 for right and bottom ones.
fn side(ends: &[[f32; 2]], origin: f32, which: usize, reach: f64) -> Option<[f64; 2]> {
    let outward = if which == 0 { -1.0 } else { 1.0 };
    let n = ends.len() as f64;
    let step = (ends.len() / SIDE_POINTS).max(1);
    let points: Vec<Point> = ends
        .iter()
        .enumerate()
        .step_by(step)
        .filter(|(i, _)| {
            let at = (*i as f64 + 0.5) / n;
            (MIDDLE[0]..=MIDDLE[1]).contains(&at)
        })
        .map(|(i, pair)| [i as f64 - 0.5 * n, outward * f64::from(pair[which])])
        .collect();
    if points.len() < 4 {
        return None;
    }
    let mut best: Option<(f64, f64, f64)> = None;
    for k in -SLOPES..=SLOPES {
        let slope = f64::from(k) * STEEPEST / f64::from(SLOPES);
        let mut across: Vec<f64> = points.iter().map(|p| p[1] - slope * p[0]).collect();
        across.sort_by(f64::total_cmp);
        let mut low = 0;
        for high in 0..across.len() {
            while across[high] - across[low] > 2.0 * reach {
                low += 1;
            }
            let score = (high - low + 1) as f64 / points.len() as f64 - STEEP_COST * slope.abs();
            if best.is_none_or(|(most, _, _)| score >= most) {
                best = Some((score, slope, 0.5 * (across[high] + across[low])));
            }
        }
    }
    let (_, mut slope, mut offset) = best?;
    // Fit again through what lies there.
    for _ in 0..2 {
        let kept = points.iter().filter(|p| (p[1] - offset - slope * p[0]).abs() <= 1.2 * reach);
        let (mut n, mut u, mut v, mut uu, mut uv) = (0.0, 0.0, 0.0, 0.0, 0.0);
        for p in kept {
            n += 1.0;
            u += p[0];
            v += p[1];
            uu += p[0] * p[0];
            uv += p[0] * p[1];
        }
        let spread = n * uu - u * u;
        if n < 4.0 || spread <= 0.0 {
            break;
        }
        slope = (n * uv - u * v) / spread;
        offset = (v - slope * u) / n;
    }
    let (slope, offset) = (outward * slope, outward * offset);
    Some([offset - slope * (f64::from(origin) + 0.5 * n), slope])
}

/// The rectangle of a profile and how far the profile is off it.
fn rectangle(profile: &Profile, points: &[Point]) -> Option<(Kind, f64)> {
    let (rows, columns) = (profile.rows.len() as f64, profile.columns.len() as f64);
    let reach = |along: f64| (0.012 * along).max(0.015 * rows.min(columns)).max(1.5);
    let left = side(&profile.rows, profile.origin[1], 0, reach(rows))?;
    let right = side(&profile.rows, profile.origin[1], 1, reach(rows))?;
    let top = side(&profile.columns, profile.origin[0], 0, reach(columns))?;
    let bottom = side(&profile.columns, profile.origin[0], 1, reach(columns))?;
    // Turned as a whole, and each side by itself.
    let turns = [-left[1], -right[1], top[1], bottom[1]];
    let turn = turns.iter().sum::<f64>() / 4.0;
    let skew = turns.iter().map(|t| (t - turn).abs()).sum::<f64>() / 4.0;
    let cost = TURN_COST * turn.abs() + SKEW_COST * skew;
    // x = a + b y meets y = c + d x.
    let meet = |[a, b]: [f64; 2], [c, d]: [f64; 2]| {
        let x = (a + b * c) / (1.0 - b * d);
        [x, c + d * x]
    };
    let corners = [meet(left, top), meet(right, top), meet(right, bottom), meet(left, bottom)];
    if !geometry::convex(&corners) {
        return None;
    }
    let width =
        0.5 * (geometry::distance(corners[0], corners[1]) + geometry::distance(corners[3], corners[2]));
    let height =
        0.5 * (geometry::distance(corners[0], corners[3]) + geometry::distance(corners[1], corners[2]));
    if width.min(height) < 8.0 {
        return None;
    }
    let straight = Homography::between(corners, [[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])?;
    let inside: Vec<Point> = points.iter().map(|p| straight.apply(*p)).collect();
    let size = (width * height).sqrt();
    ROUNDINGS
        .iter()
        .map(|share| {
            let radius = share * width.min(height);
            let off = mean_off(inside.iter().map(|p| off_box(*p, width, height, radius)), size);
            (Kind::Rectangle { corners, radius }, off + cost + ROUND_COST * share)
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

/// Signed distance of a place from a box with rounded corners at the origin.
fn off_box([x, y]: Point, width: f64, height: f64, radius: f64) -> f64 {
    let u = (x - 0.5 * width).abs() - (0.5 * width - radius);
    let v = (y - 0.5 * height).abs() - (0.5 * height - radius);
    u.max(0.0).hypot(v.max(0.0)) + u.max(v).min(0.0) - radius
}

/// The upright ellipse through most of the points.
fn ellipse(points: &[Point]) -> Option<(Kind, f64)> {
    let bounds =
        |k: usize| points.iter().fold((f64::MAX, f64::MIN), |(low, high), p| (low.min(p[k]), high.max(p[k])));
    let ((left, right), (top, bottom)) = (bounds(0), bounds(1));
    let middle = [0.5 * (left + right), 0.5 * (top + bottom)];
    let unit = 0.5 * (right - left).max(bottom - top).max(1.0);
    let mut kept: Vec<Point> =
        points.iter().map(|p| [(p[0] - middle[0]) / unit, (p[1] - middle[1]) / unit]).collect();
    let all = kept.clone();
    let mut best = None;
    for _ in 0..3 {
        // a x2 + c y2 + d x + e y = 1.
        let mut normal = [[0.0f64; 5]; 4];
        for [x, y] in &kept {
            let row = [x * x, y * y, *x, *y];
            for i in 0..4 {
                for j in 0..4 {
                    normal[i][j] += row[i] * row[j];
                }
                normal[i][4] += row[i];
            }
        }
        let [a, c, d, e] = geometry::solve(normal, 1e-9)?;
        if a <= 0.0 || c <= 0.0 {
            return None;
        }
        let centre = [-d / (2.0 * a), -e / (2.0 * c)];
        let k = 1.0 + d * d / (4.0 * a) + e * e / (4.0 * c);
        let radii = [(k / a).sqrt(), (k / c).sqrt()];
        let off = |p: &Point| {
            let (x, y) = (p[0] - centre[0], p[1] - centre[1]);
            let level = (x / radii[0]).hypot(y / radii[1]);
            if level < 1e-6 { radii[0].min(radii[1]) } else { x.hypot(y) * (1.0 - 1.0 / level) }
        };
        let mean = mean_off(all.iter().map(|p| unit * off(p)), 2.0 * unit * (radii[0] * radii[1]).sqrt());
        best = Some((centre, radii, mean));
        let mut sorted: Vec<f64> = all.iter().map(|p| off(p).abs()).collect();
        sorted.sort_by(f64::total_cmp);
        let most = (2.5 * sorted[sorted.len() / 2]).max(0.02);
        kept = all.iter().filter(|p| off(p).abs() <= most).copied().collect();
    }
    let (centre, radii, off) = best?;
    let centre = [middle[0] + unit * centre[0], middle[1] + unit * centre[1]];
    Some((Kind::Ellipse { centre, radii: radii.map(|r| r * unit) }, off))
}

/// How far the points are off the diamond in their box.
fn diamond(points: &[Point]) -> f64 {
    let bounds =
        |k: usize| points.iter().fold((f64::MAX, f64::MIN), |(low, high), p| (low.min(p[k]), high.max(p[k])));
    let ((left, right), (top, bottom)) = (bounds(0), bounds(1));
    let (a, b) = ((0.5 * (right - left)).max(1.0), (0.5 * (bottom - top)).max(1.0));
    let centre = [0.5 * (left + right), 0.5 * (top + bottom)];
    let height = a * b / a.hypot(b);
    mean_off(
        points
            .iter()
            .map(|p| (((p[0] - centre[0]) / a).abs() + ((p[1] - centre[1]) / b).abs() - 1.0) * height),
        2.0 * (a * b).sqrt(),
    )
}

/// Places all along a figure's outline, and which of them each side has.
fn outline_of(kind: &Kind) -> (Vec<Point>, [Range<usize>; 4]) {
    match kind {
        Kind::Ellipse { centre, radii } => {
            let outline = (0..SAMPLES)
                .map(|i| {
                    let (sin, cos) = (i as f64 / SAMPLES as f64 * std::f64::consts::TAU).sin_cos();
                    [centre[0] + radii[0] * cos, centre[1] + radii[1] * sin]
                })
                .collect();
            (outline, [0, 1, 2, 3].map(|k| k * SAMPLES / 4..(k + 1) * SAMPLES / 4))
        }
        Kind::Rectangle { corners, radius } => {
            let perimeter: f64 = (0..4).map(|i| geometry::distance(corners[i], corners[(i + 1) % 4])).sum();
            let mut out = Vec::with_capacity(SAMPLES + 4);
            let sides = [0, 1, 2, 3].map(|i| {
                let first = out.len();
                let (a, b) = (corners[i], corners[(i + 1) % 4]);
                let length = geometry::distance(a, b);
                let count = (length / perimeter * SAMPLES as f64).ceil().max(FEWEST_SAMPLES);
                let count = crate::raster::round_px(count);
                for k in 0..count {
                    let t = (f64::from(k) + 0.5) / f64::from(count);
                    // Rounded corners cut the corner itself off.
                    if t * length >= 0.6 * radius && (1.0 - t) * length >= 0.6 * radius {
                        out.push([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
                    }
                }
                first..out.len()
            });
            (out, sides)
        }
    }
}

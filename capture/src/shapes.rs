//! Stage 7: every shape that the strokes could support, hidden parts
//! completed. There are many more than are really drawn; the next stage
//! chooses. A shape carries its outline as samples, each with the ink it
//! would account for.

#![expect(clippy::inline_always, reason = "what is not inlined is not widened")]

mod banners;
mod ellipses;
mod rectangles;
mod rounding;
mod turned;

use crate::strokes::{Strokes, on_outline};
use crate::wide::{Work, wide};

pub(crate) use rounding::round_corners;

/// A shape that may be drawn.
#[derive(Clone, Debug)]
pub(crate) struct Hypothesis {
    /// What and where it is.
    pub(crate) geometry: Geometry,
    /// Its outline, a sample every few pixels.
    pub(crate) samples: Vec<Sample>,
    /// Corners of the strokes that are its own, each with the sample it is at.
    pub(crate) corners: Vec<(u32, u32)>,
    /// Corners of the strokes in the middle of its sides: something else ends there.
    pub(crate) against: Vec<[f32; 2]>,
    /// Share of its outline that is inked, card edges left out.
    pub(crate) inked: f32,
}

/// The figure of a shape, in pixels of the rectified picture.
#[derive(Clone, Debug)]
pub(crate) enum Geometry {
    /// Four corners clockwise from the top-left, and the two opposite pairs
    /// of sides as left, top, right, bottom positions.
    Box {
        /// Corners.
        corners: [[f32; 2]; 4],
        /// How each of the four sides (left, top, right, bottom) was measured.
        sides: [SideFit; 4],
        /// Degrees clockwise.
        turned_deg: f32,
        /// Radius of rounded corners, 0 for sharp ones.
        radius_px: f32,
        /// Cut ends: none for a plain rectangle.
        notch: Option<Notch>,
    },
    /// An upright ellipse.
    Ellipse {
        /// Middle.
        centre: [f32; 2],
        /// Half the width and half the height.
        radii: [f32; 2],
    },
}

/// Which ends of a strip are notched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Notch {
    /// Whether the strip runs left to right.
    pub(crate) level: bool,
    /// Notched at its left or top end, and at its right or bottom end.
    pub(crate) at: [bool; 2],
}

/// Where a side was measured.
#[derive(Clone, Copy, Debug)]
pub(crate) struct SideFit {
    /// Position across, in pixels.
    pub(crate) at: f32,
    /// Standard deviation of the ink about the side, in pixels.
    pub(crate) spread: f32,
    /// Inked share.
    pub(crate) inked: f32,
    /// Whether it is the card's own edge.
    pub(crate) on_edge: bool,
}

/// One place of an outline.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sample {
    /// Where, in pixels.
    pub(crate) at: [f32; 2],
    /// What is seen there.
    pub(crate) ink: SampleInk,
}

/// What the strokes say about one place of an outline.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum SampleInk {
    /// Ink, belonging to this cluster.
    Seen(u32),
    /// No ink.
    Missing,
    /// On the card's own edge: says nothing.
    Edge,
}

/// The inked share of an outline, the card's own edge left out.
fn inked_share(samples: &[Sample]) -> f32 {
    let count = |ink: fn(&SampleInk) -> bool| samples.iter().filter(|s| ink(&s.ink)).count() as f32;
    let seen = count(|ink| matches!(ink, SampleInk::Seen(_)));
    seen / (seen + count(|ink| *ink == SampleInk::Missing)).max(1.0)
}

/// An ellipse this near to round is a circle: nobody means an oval of 1 : 1.14.
pub(crate) const ROUND: f32 = 1.14;
/// Distance between samples in pixels: less than a cluster is long.
pub(crate) const STEP_PX: f32 = 4.0;
/// Most hypotheses handed on.
const MOST: usize = 700;

/// All shapes the strokes could support, the best supported first.
pub(crate) fn propose(strokes: &Strokes, clusters: &Clusters) -> Vec<Hypothesis> {
    let mut all = rectangles::propose(strokes, clusters);
    all.truncate(MOST);
    all.extend(ellipses::propose(strokes, clusters));
    all.extend(banners::propose(strokes, clusters));
    all.extend(turned::propose(strokes, clusters));
    all
}

/// Ink in small portions, so that each is accounted for once: cells of the
/// picture, by direction of the stroke.
pub(crate) struct Clusters {
    columns: usize,
    /// Ink of each cluster, in pixels of stroke.
    pub(crate) weights: Vec<f32>,
}

/// Side of a cluster's cell in pixels.
const CLUSTER_PX: f32 = 8.0;
/// Tangent of 22.5 degrees: half of an eighth of a turn.
const EIGHTH: f32 = 0.414;
/// Directions told apart: level, falling, upright, rising.
const DIRECTIONS: usize = 4;

impl Clusters {
    /// Sorts the ink into clusters.
    pub(crate) fn of(strokes: &Strokes) -> Clusters {
        let [_, _, right, bottom] = strokes.card_px;
        let margin = crate::strokes::margin_px();
        let cells = |extent: f32| crate::raster::floor_px((extent + margin) / CLUSTER_PX) + 2;
        let (columns, rows) = (cells(right), cells(bottom));
        let mut clusters = Clusters { columns, weights: vec![0.0; columns * rows * DIRECTIONS] };
        // The card's own outline says where the card is, nothing of what is on it.
        for p in strokes.points.iter().filter(|p| !on_outline(p, strokes.card_px)) {
            let id = clusters.id([p.x, p.y], [p.tx, p.ty]);
            // A doubled stroke is one stroke.
            let weight = &mut clusters.weights[id as usize];
            *weight = (*weight + 1.0).min(CLUSTER_PX * 1.25);
        }
        clusters
    }

    /// Clusters that all hold the same.
    #[cfg(test)]
    pub(crate) fn for_tests(count: usize, weight: f32) -> Clusters {
        Clusters { columns: 100, weights: vec![weight; count] }
    }

    /// The cluster of a place and direction.
    pub(crate) fn id(&self, at: [f32; 2], direction: [f32; 2]) -> u32 {
        let cell = |v: f32| crate::raster::floor_px(v.max(0.0) / CLUSTER_PX);
        let (tx, ty) = (direction[0], direction[1]);
        let bin = if ty.abs() <= EIGHTH * tx.abs() {
            0
        } else if tx.abs() <= EIGHTH * ty.abs() {
            2
        } else if tx * ty > 0.0 {
            1
        } else {
            3
        };
        let column = cell(at[0]).min(self.columns - 1);
        let row = cell(at[1]).min(self.weights.len() / DIRECTIONS / self.columns - 1);
        u32::try_from((row * self.columns + column) * DIRECTIONS + bin).unwrap_or(u32::MAX)
    }
}

impl Geometry {
    /// What lies inside, at least `depth` pixels from the outline.
    pub(crate) fn inside(&self, depth: f32) -> Inside {
        let [left, top, right, bottom] = self.bounds();
        let bounds = [left + depth, top + depth, right - depth, bottom - depth];
        let figure = match self {
            Geometry::Box { corners, notch, .. } => Figure::Sides {
                sides: std::array::from_fn(|i| {
                    let (a, b) = (corners[i], corners[(i + 1) % 4]);
                    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
                    let length = (dx * dx + dy * dy).sqrt().max(1e-6);
                    let normal = [-dy / length, dx / length];
                    [normal[0], normal[1], -(normal[0] * a[0] + normal[1] * a[1]) - depth]
                }),
                cut: notch.map(|notch| (*corners, notch)),
            },
            Geometry::Ellipse { centre, radii } => {
                Figure::Round { centre: *centre, radii: radii.map(|radius| radius - depth) }
            }
        };
        Inside { bounds, figure }
    }

    /// Whether it takes a number more to tell than a plain figure of its kind.
    pub(crate) fn is_turned_or_oval(&self) -> bool {
        match self {
            Geometry::Box { turned_deg, .. } => *turned_deg != 0.0,
            Geometry::Ellipse { radii: [rx, ry], .. } => (rx / ry).max(ry / rx) > ROUND,
        }
    }

    /// Length of the outline in pixels.
    pub(crate) fn perimeter(&self) -> f32 {
        match self {
            Geometry::Box { corners, .. } => (0..4).map(|i| distance(corners[i], corners[(i + 1) % 4])).sum(),
            // A circle's of the mean radius: a little short for an oval.
            Geometry::Ellipse { radii: [rx, ry], .. } => std::f32::consts::PI * (rx + ry),
        }
    }

    /// Left, top, right and bottom of the figure.
    pub(crate) fn bounds(&self) -> [f32; 4] {
        match self {
            Geometry::Box { corners, .. } => bounds_of(corners),
            Geometry::Ellipse { centre: [x, y], radii: [rx, ry] } => [x - rx, y - ry, x + rx, y + ry],
        }
    }
}

/// Left, top, right and bottom of four corners.
fn bounds_of(corners: &[[f32; 2]; 4]) -> [f32; 4] {
    let low = |k: usize| corners.iter().map(|c| c[k]).fold(f32::MAX, f32::min);
    let high = |k: usize| corners.iter().map(|c| c[k]).fold(f32::MIN, f32::max);
    [low(0), low(1), high(0), high(1)]
}

/// The inside of a figure, made ready to be asked about many places.
pub(crate) struct Inside {
    /// Left, top, right and bottom of it.
    pub(crate) bounds: [f32; 4],
    figure: Figure,
}

/// See [`Inside`].
enum Figure {
    /// To the right of four sides, each as factors of x, y and 1, and not in a
    /// cut end of these corners.
    Sides { sides: [[f32; 3]; 4], cut: Option<([[f32; 2]; 4], Notch)> },
    /// Within an upright ellipse.
    Round { centre: [f32; 2], radii: [f32; 2] },
}

impl Inside {
    /// Which of some samples it holds.
    pub(crate) fn of(&self, samples: &[Sample]) -> Vec<bool> {
        match &self.figure {
            Figure::Sides { sides, cut: None } => {
                let mut out = vec![false; samples.len()];
                wide(Within { bounds: self.bounds, sides, samples, out: &mut out });
                out
            }
            _ => samples.iter().map(|sample| self.holds(sample.at)).collect(),
        }
    }

    /// Whether it holds a place.
    pub(crate) fn holds(&self, at: [f32; 2]) -> bool {
        let [left, top, right, bottom] = self.bounds;
        if at[0] < left || at[0] > right || at[1] < top || at[1] > bottom {
            return false;
        }
        match &self.figure {
            Figure::Sides { sides, cut } => {
                sides.iter().all(|[a, b, c]| a * at[0] + b * at[1] + c >= 0.0)
                    && cut.is_none_or(|(corners, notch)| !in_notch(&corners, notch, at))
            }
            Figure::Round { centre, radii: [rx, ry] } => {
                *rx > 0.0
                    && *ry > 0.0
                    && ((at[0] - centre[0]) / rx).powi(2) + ((at[1] - centre[1]) / ry).powi(2) <= 1.0
            }
        }
    }
}

/// [`Inside::holds`] for a figure with four sides, asked about many samples.
struct Within<'a> {
    bounds: [f32; 4],
    sides: &'a [[f32; 3]; 4],
    samples: &'a [Sample],
    out: &'a mut [bool],
}

impl Work for Within<'_> {
    type Out = ();

    #[inline(always)]
    #[expect(clippy::needless_bitwise_bool, reason = "without an early end, for many at a time")]
    fn run(self) {
        let [left, top, right, bottom] = self.bounds;
        let [first, second, third, fourth] = *self.sides;
        for (out, sample) in self.out.iter_mut().zip(self.samples) {
            let [x, y] = sample.at;
            let beside = |[a, b, c]: [f32; 3]| a * x + b * y + c >= 0.0;
            *out = (x >= left)
                & (x <= right)
                & (y >= top)
                & (y <= bottom)
                & beside(first)
                & beside(second)
                & beside(third)
                & beside(fourth);
        }
    }
}

/// Whether a place lies in the V that is cut out of a banner's end.
fn in_notch(corners: &[[f32; 2]; 4], notch: Notch, at: [f32; 2]) -> bool {
    let [tl, tr, br, bl] = *corners;
    // Positions along and across the banner, 0 to 1 and -1 to 1.
    let (from, to, across) =
        if notch.level { (mid(tl, bl), mid(tr, br), tl) } else { (mid(tl, tr), mid(bl, br), tl) };
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let length = dx.hypot(dy).max(1.0);
    let half = distance(from, across).max(1.0);
    let along = ((at[0] - from[0]) * dx + (at[1] - from[1]) * dy) / length;
    let off = ((at[0] - from[0]) * -dy + (at[1] - from[1]) * dx).abs() / length;
    let depth = banners::DEPTH_PER_WIDTH * 2.0 * half;
    let cut = |inward: f32| inward < depth * (1.0 - off / half);
    (notch.at[0] && cut(along)) || (notch.at[1] && cut(length - along))
}

fn mid(a: [f32; 2], b: [f32; 2]) -> [f32; 2] {
    [0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1])]
}

fn distance(a: [f32; 2], b: [f32; 2]) -> f32 {
    let (dx, dy) = (a[0] - b[0], a[1] - b[1]);
    (dx * dx + dy * dy).sqrt()
}

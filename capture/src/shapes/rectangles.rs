//! Upright rectangles from every pair of upright lines with every pair of
//! level lines. The card's own edges are lines too, always covered and worth
//! nothing, so that flush panels and strips come free. Ranked by inked share
//! and own corners, never by length: small panels matter as much as large.

use super::{
    Clusters, Geometry, Hypothesis, STEP_PX, Sample, SampleInk, SideFit, bounds_of, inked_share, rounding,
};
use crate::lines::{Axis, Line};
use crate::rectify::px;
use crate::strokes::{Corner, Strokes};

/// Least inked share of one side: a side may hide almost wholly.
const LEAST_SIDE: f32 = 0.08;
/// Least inked share of all sides.
const LEAST_TOTAL: f32 = 0.34;
/// Smallest side in inches.
const SMALLEST_IN: f32 = 0.2;
/// How near the card's edge a line is the edge itself, in inches.
const EDGE_IN: f32 = 0.035;
/// How far beside it a hand's outline may lie, in inches.
const STRAYED_EDGE_IN: f32 = 0.065;
/// How near its corner a stroke's own corner lies, in inches.
const CORNER_IN: f32 = 0.06;

/// How far opposite sides may run apart, in inches, and how much more per length.
const SKEW_IN: f32 = 0.08;
/// See [`SKEW_IN`].
const SKEW: f32 = 0.02;

/// Difference of two sides' directions, as across per along.
fn lean(a: &Side<'_>, b: &Side<'_>) -> f32 {
    let slope = |side: &Side<'_>| side.line.map_or(0.0, |line| line.slope);
    (slope(a) - slope(b)).abs()
}

/// A line or an edge of the card.
struct Side<'a> {
    line: Option<&'a Line>,
    /// Position across for an edge.
    edge: f32,
    /// Gaps of the line that something seems to lie over: at both ends a stroke
    /// runs across (T-junctions).
    bridged: Vec<(f32, f32)>,
}

impl Side<'_> {
    fn across(&self, u: f32) -> f32 {
        self.line.map_or(self.edge, |line| line.across(u))
    }

    /// Where the side ends in a corner: on the fitted line, unless the stroke
    /// strays from it by more than a pen's waver.
    fn at_corner(&self, u: f32) -> f32 {
        const WAVER_PX: f32 = 2.5;
        self.line.map_or(self.edge, |line| {
            let (measured, fitted) = (line.across(u), line.straight(u));
            if (measured - fitted).abs() <= WAVER_PX { fitted } else { measured }
        })
    }

    fn middle(&self, from: f32, to: f32) -> f32 {
        self.line.map_or(self.edge, |line| line.straight(0.5 * (from + to)))
    }

    fn share(&self, from: f32, to: f32) -> f32 {
        self.line.map_or(1.0, |line| (line.covered(from, to) / (to - from).max(1.0)).min(1.0))
    }

    /// The share that is inked, gaps that something seems to lie over counting
    /// half.
    fn believed(&self, from: f32, to: f32) -> f32 {
        const HIDDEN: f32 = 0.5;
        let hidden: f32 = self.bridged.iter().map(|(a, b)| (b.min(to) - a.max(from)).max(0.0)).sum();
        (self.share(from, to) + HIDDEN * hidden / (to - from).max(1.0)).min(1.0)
    }
}

/// All rectangles, best first.
pub(super) fn propose(strokes: &Strokes, clusters: &Clusters) -> Vec<Hypothesis> {
    let [left, top, right, bottom] = strokes.card_px;
    let sides = |axis: usize, low: f32, high: f32| -> Vec<Side<'_>> {
        let mut sides: Vec<Side<'_>> = strokes.lines[axis]
            .iter()
            .filter(|line| ![low, high].iter().any(|&edge| is_edge(line, edge, &strokes.lines[axis])))
            .map(|line| Side { line: Some(line), edge: 0.0, bridged: bridged(line, strokes) })
            .collect();
        sides.truncate(MOST_LINES);
        sides.extend([low, high].map(|edge| Side { line: None, edge, bridged: Vec::new() }));
        let order = |side: &Side<'_>| {
            side.middle(side.line.map_or(0.0, |l| l.start), side.line.map_or(0.0, |l| l.end))
        };
        sides.sort_by(|a, b| order(a).total_cmp(&order(b)));
        sides
    };
    let level = sides(0, top, bottom);
    let upright = sides(1, left, right);
    let smallest = px(SMALLEST_IN);
    let mut found: Vec<(f32, [usize; 4])> = Vec::new();
    for l in 0..upright.len() {
        for r in l + 1..upright.len() {
            // Level sides that are inked somewhere between the two.
            let spans: Vec<(usize, f32, f32, f32)> = (0..level.len())
                .filter_map(|k| {
                    let y = level[k].middle(left, right);
                    let (x0, x1) = (upright[l].across(y), upright[r].across(y));
                    let y = level[k].middle(x0, x1);
                    let share = if x1 - x0 >= smallest { level[k].share(x0, x1) } else { 0.0 };
                    (share >= LEAST_SIDE).then(|| (k, y, x1 - x0, level[k].believed(x0, x1)))
                })
                .collect();
            for (i, &(t, y0, w0, top_share)) in spans.iter().enumerate() {
                for &(b, y1, w1, bottom_share) in &spans[i + 1..] {
                    let height = y1 - y0;
                    if height < smallest {
                        continue;
                    }
                    let left_share = upright[l].share(y0, y1);
                    let right_share = upright[r].share(y0, y1);
                    if left_share < LEAST_SIDE || right_share < LEAST_SIDE {
                        continue;
                    }
                    let total = (top_share * w0
                        + bottom_share * w1
                        + (upright[l].believed(y0, y1) + upright[r].believed(y0, y1)) * height)
                        / (w0 + w1 + 2.0 * height);
                    let edges = [l, r].iter().filter(|&&k| upright[k].line.is_none()).count()
                        + [t, b].iter().filter(|&&k| level[k].line.is_none()).count();
                    let parallel = lean(&upright[l], &upright[r]) * height <= px(SKEW_IN) + SKEW * height
                        && lean(&level[t], &level[b]) * w0 <= px(SKEW_IN) + SKEW * w0;
                    if total >= LEAST_TOTAL && edges < 4 && parallel {
                        found.push((total, [l, t, r, b]));
                    }
                }
            }
        }
    }
    // Own corners count for a quarter side each: they tell a panel from an accident.
    let mut ranked: Vec<(f32, Corners, [&Side<'_>; 4])> = found
        .into_iter()
        .map(|(total, [l, t, r, b])| (total, [&upright[l], &level[t], &upright[r], &level[b]]))
        .filter_map(|(total, sides)| {
            let at = crossings(&sides);
            let own = own_corners(&strokes.corners, &at);
            let against = corners_between(strokes, &at);
            let rank = total + 0.12 * (own.iter().flatten().count() as f32 - against.len() as f32);
            (rank >= LEAST_RANK && !is_outline(&at, strokes.card_px)).then_some((
                rank,
                Corners { at, own, against },
                sides,
            ))
        })
        .collect();
    ranked.sort_by(|a, b| b.0.total_cmp(&a.0));
    // Most are nearly the same as a better one: only what is kept is sampled.
    let mut bounds_of_kept: Vec<[f32; 4]> = Vec::new();
    let mut kept: Vec<Hypothesis> = Vec::new();
    for (_, corners, sides) in ranked {
        if kept.len() >= MOST_RECTANGLES {
            break;
        }
        let bounds = bounds_of(&corners.at);
        let same = |other: &[f32; 4]| other.iter().zip(bounds).all(|(a, b)| (a - b).abs() < SAME_PX);
        if !bounds_of_kept.iter().any(same) {
            bounds_of_kept.push(bounds);
            kept.push(build(&sides, corners, clusters));
        }
    }
    for shape in kept.iter_mut().filter(|shape| shape.inked < 1.0) {
        let sharp = |(id, _): &&(u32, u32)| !strokes.corners[*id as usize].round;
        if shape.corners.iter().filter(sharp).count() > MOST_SHARP {
            continue;
        }
        if let Some(round) = rounding::rounded(shape, strokes, clusters)
            && round.inked > shape.inked
        {
            *shape = round;
        }
    }
    kept
}

/// The corners of a rectangle: where they are, the strokes' own corners there,
/// and those in the middle of its sides.
struct Corners {
    at: [[f32; 2]; 4],
    own: [Option<u32>; 4],
    against: Vec<[f32; 2]>,
}

/// The gaps between a line's runs at both of whose ends a stroke runs across.
fn bridged(line: &Line, strokes: &Strokes) -> Vec<(f32, f32)> {
    /// How near to the run's end, in inches.
    const NEAR_IN: f32 = 0.06;
    /// Cosine of the least angle to the line: arcs run across at a slant.
    const ACROSS: f32 = 0.8;
    /// Shorter gaps are a pen's.
    const SHORTEST_IN: f32 = 0.12;
    let crossed = |u: f32| {
        let [x, y] = line.axis.join(u, line.across(u));
        strokes.index.near(x, y, px(NEAR_IN)).any(|i| {
            let p = &strokes.points[i];
            let (along, _) = line.axis.split(p.tx, p.ty);
            along.abs() < ACROSS && (p.x - x).hypot(p.y - y) <= px(NEAR_IN)
        })
    };
    let mut gaps = Vec::new();
    let mut end = f32::MIN;
    for run in &line.runs {
        if end > f32::MIN && run.start() - end >= px(SHORTEST_IN) && crossed(end) && crossed(run.start()) {
            gaps.push((end, run.start()));
        }
        end = end.max(run.end());
    }
    gaps
}

/// Most lines of one direction that make rectangles; the longest.
const MOST_LINES: usize = 70;
/// Most rectangles handed on.
const MOST_RECTANGLES: usize = 600;
/// A rectangle with more sharp corners of its own than this is not rounded.
const MOST_SHARP: usize = 2;
/// Least rank worth building.
const LEAST_RANK: f32 = 0.4;
/// Rectangles whose sides all lie this near are one.
const SAME_PX: f32 = 5.5;

/// Whether a line is the card's own outline: it lies on the edge, or, drawn a
/// little beside it by a hand, it is the nearest there is.
fn is_edge(line: &Line, edge: f32, lines: &[Line]) -> bool {
    let off = |line: &Line| (line.straight(0.5 * (line.start + line.end)) - edge).abs();
    let own = off(line);
    own <= px(EDGE_IN)
        || (own <= px(STRAYED_EDGE_IN)
            && !lines.iter().any(|other| off(other) < own && other.length() > 0.5 * line.length()))
}

/// Whether a rectangle is the card's own outline, drawn a little beside where
/// the card was taken to end: nearer to it than the narrowest border.
fn is_outline(corners: &[[f32; 2]; 4], [left, top, right, bottom]: [f32; 4]) -> bool {
    /// Largest gap at one side, and over all four, in inches; the narrowest
    /// border is a sixteenth wide at each.
    const GAPS_IN: [f32; 2] = [0.1, 0.17];
    let gaps = [
        0.5 * (corners[0][0] + corners[3][0]) - left,
        0.5 * (corners[0][1] + corners[1][1]) - top,
        0.5 * (corners[1][0] + corners[2][0]) - right,
        0.5 * (corners[2][1] + corners[3][1]) - bottom,
    ]
    .map(f32::abs);
    gaps.iter().all(|gap| *gap <= px(GAPS_IN[0])) && gaps.iter().sum::<f32>() <= px(GAPS_IN[1])
}

/// Where the four sides (left, top, right, bottom) cross: top-left, top-right,
/// bottom-right, bottom-left.
fn crossings(sides: &[&Side<'_>; 4]) -> [[f32; 2]; 4] {
    let cross = |upright: &Side<'_>, level: &Side<'_>| {
        let mut x = upright.line.map_or(upright.edge, |line| line.straight(0.5 * (line.start + line.end)));
        let mut y = level.at_corner(x);
        for _ in 0..3 {
            x = upright.at_corner(y);
            y = level.at_corner(x);
        }
        [x, y]
    };
    let [left, top, right, bottom] = sides;
    [cross(left, top), cross(right, top), cross(right, bottom), cross(left, bottom)]
}

/// For each corner of a rectangle the stroke corner at that place that opens
/// into it, if there is one.
pub(super) fn own_corners(drawn: &[Corner], corners: &[[f32; 2]; 4]) -> [Option<u32>; 4] {
    let near = px(CORNER_IN);
    let mut own = [None; 4];
    for (k, (corner, opens)) in
        corners.iter().zip([[true, true], [false, true], [false, false], [true, false]]).enumerate()
    {
        own[k] = (0..drawn.len())
            .filter(|&i| drawn[i].opens == opens)
            .map(|i| (super::distance(drawn[i].at, *corner), i))
            .filter(|(distance, _)| *distance <= near)
            .min_by(|a, b| a.0.total_cmp(&b.0))
            .and_then(|(_, i)| u32::try_from(i).ok());
    }
    own
}

/// The corners of the strokes on a rectangle's sides between its own corners:
/// there something else ends, or two things side by side were taken for one.
fn corners_between(strokes: &Strokes, corners: &[[f32; 2]; 4]) -> Vec<[f32; 2]> {
    /// How near to the side, and how far from its ends, in inches.
    const NEAR_IN: f32 = 0.04;
    const FAR_IN: f32 = 0.12;
    let between = |at: [f32; 2]| {
        (0..4).any(|k| {
            let (a, b) = (corners[k], corners[(k + 1) % 4]);
            let length = super::distance(a, b).max(1.0);
            let (dx, dy) = ((b[0] - a[0]) / length, (b[1] - a[1]) / length);
            let (x, y) = (at[0] - a[0], at[1] - a[1]);
            let along = x * dx + y * dy;
            (x * dy - y * dx).abs() <= px(NEAR_IN) && along >= px(FAR_IN) && along <= length - px(FAR_IN)
        })
    };
    strokes.corners.iter().map(|corner| corner.at).filter(|at| between(*at)).collect()
}

fn build(sides: &[&Side<'_>; 4], corners: Corners, clusters: &Clusters) -> Hypothesis {
    let Corners { at: corners, own, against } = corners;
    let mut samples = Vec::new();
    let mut fits = [SideFit { at: 0.0, spread: 0.0, inked: 0.0, on_edge: false }; 4];
    let mut first_of_corner = [0u32; 4];
    // In order along the outline: top, right, bottom, left, each from its first corner.
    for (k, (side, axis)) in
        [(1, Axis::Horizontal), (2, Axis::Vertical), (3, Axis::Horizontal), (0, Axis::Vertical)]
            .into_iter()
            .enumerate()
    {
        first_of_corner[k] = u32::try_from(samples.len()).unwrap_or(0);
        let (from, to) = (corners[k], corners[(k + 1) % 4]);
        let (u0, _) = axis.split(from[0], from[1]);
        let (u1, _) = axis.split(to[0], to[1]);
        fits[side] = sample_side(sides[side], axis, u0, u1, clusters, &mut samples);
    }
    let corners_of =
        own.iter().enumerate().filter_map(|(k, id)| id.map(|id| (id, first_of_corner[k]))).collect();
    let inked = inked_share(&samples);
    Hypothesis { geometry: turned(corners, fits), samples, corners: corners_of, against, inked }
}

/// The box of four corners: turned where all four sides lean alike and more
/// than a hand lets an upright one lean.
fn turned(corners: [[f32; 2]; 4], sides: [SideFit; 4]) -> Geometry {
    /// Least turn, about two degrees in radians.
    const LEAST: f32 = 0.035;
    /// How far the sides' turns may differ, in radians.
    const AGREE: f32 = 0.026;
    let plain = Geometry::Box { corners, sides, turned_deg: 0.0, radius_px: 0.0, notch: None };
    if sides.iter().any(|side| side.on_edge) {
        return plain;
    }
    // Top, right, bottom, left, each clockwise; a quarter turn is taken off each in order.
    let leans: [(f32, f32); 4] = std::array::from_fn(|k| {
        let (a, b) = (corners[k], corners[(k + 1) % 4]);
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let lean = match k {
            0 => dy.atan2(dx),
            1 => (-dx).atan2(dy),
            2 => (-dy).atan2(-dx),
            _ => dx.atan2(-dy),
        };
        (lean, (dx * dx + dy * dy).sqrt())
    });
    let around: f32 = leans.iter().map(|(_, length)| length).sum();
    let mean = leans.iter().map(|(lean, length)| lean * length).sum::<f32>() / around;
    // A short side's lean is less certain.
    let agree = leans.iter().all(|(lean, length)| (lean - mean).abs() <= AGREE.max(px(0.03) / length));
    if mean.abs() < LEAST || !agree {
        return plain;
    }
    let centre: [f32; 2] = std::array::from_fn(|k| corners.iter().map(|c| c[k]).sum::<f32>() / 4.0);
    let (width, height) = (0.5 * (leans[0].1 + leans[2].1), 0.5 * (leans[1].1 + leans[3].1));
    let mut sides = sides;
    for (side, at) in sides.iter_mut().zip([
        centre[0] - width / 2.0,
        centre[1] - height / 2.0,
        centre[0] + width / 2.0,
        centre[1] + height / 2.0,
    ]) {
        side.at = at;
        side.spread = 1.0;
    }
    Geometry::Box { corners, sides, turned_deg: mean.to_degrees(), radius_px: 0.0, notch: None }
}

/// Samples one side from `u0` to `u1` (which may run backwards) and measures it.
fn sample_side(
    side: &Side<'_>,
    axis: Axis,
    u0: f32,
    u1: f32,
    clusters: &Clusters,
    samples: &mut Vec<Sample>,
) -> SideFit {
    let count = crate::raster::floor_px((u1 - u0).abs() / STEP_PX).max(1);
    let direction = axis.join(1.0, 0.0);
    let (mut sum, mut squares, mut seen, mut all) = (0.0f32, 0.0f32, 0.0f32, 0.0f32);
    for k in 0..count {
        let u = u0 + (u1 - u0) * (k as f32 + 0.5) / count as f32;
        let v = side.across(u);
        let at = axis.join(u, v);
        let ink = match side.line {
            None => SampleInk::Edge,
            Some(line) if line.inked(u) => SampleInk::Seen(clusters.id(at, direction)),
            Some(_) => SampleInk::Missing,
        };
        if matches!(ink, SampleInk::Seen(_)) {
            sum += v;
            squares += v * v;
            seen += 1.0;
        }
        all += 1.0;
        samples.push(Sample { at, ink });
    }
    match side.line {
        Some(line) => {
            let at = if seen > 0.0 { sum / seen } else { line.straight(0.5 * (u0 + u1)) };
            // Where the side is seen only at one end its middle is the fit's.
            let at = if seen >= 0.6 * all { at } else { 0.5 * (at + line.straight(0.5 * (u0 + u1))) };
            let spread =
                if seen > 1.0 { (squares / seen - (sum / seen).powi(2)).max(0.0).sqrt() } else { 4.0 };
            SideFit { at, spread, inked: seen / all, on_edge: false }
        }
        None => SideFit { at: side.edge, spread: 0.0, inked: 1.0, on_edge: true },
    }
}

//! Banners: strips with a V cut into one end or both. A cut end is two long
//! sides that end opposite each other and two slanting strokes from there to
//! a point on the middle line.

use super::{Clusters, Geometry, Hypothesis, Notch, STEP_PX, Sample, SampleInk, SideFit};
use crate::lines::{Axis, Line};
use crate::rectify::px;
use crate::strokes::Strokes;

/// Depth of a cut per width of the strip, where only its corners are known:
/// common practice, no source.
pub(super) const DEPTH_PER_WIDTH: f32 = 0.5;
/// Depths tried, per width of the strip.
const DEPTHS: [f32; 5] = [0.3, 0.4, 0.5, 0.6, 0.75];
/// Narrowest and widest strip in inches.
const WIDTHS_IN: [f32; 2] = [0.25, 1.3];
/// How far apart the two long sides' ends may lie, in inches.
const OPPOSITE_IN: f32 = 0.13;
/// Least inked share of the two slanting strokes.
const LEAST_SLANTS: f32 = 0.55;
/// The same where only one of the long sides ends there.
const LEAST_SLANTS_ALONE: f32 = 0.8;
/// Least inked share of a side beyond a cut for it to run on.
const RUNS_ON: f32 = 0.6;
/// Least inked share of a long side, and of both.
const LEAST_SIDE: f32 = 0.2;
/// Most banners handed on.
const MOST: usize = 160;

/// A cut end of a pair of long sides.
struct Cut {
    /// Where the sides end, along.
    at: f32,
    /// Whether the body lies towards smaller positions.
    body_before: bool,
    samples: Vec<Sample>,
    share: f32,
}

/// All banners, best seen first.
pub(super) fn propose(strokes: &Strokes, clusters: &Clusters) -> Vec<Hypothesis> {
    let mut found = Vec::new();
    for axis in Axis::BOTH {
        along(axis, strokes, clusters, &mut found);
    }
    found.sort_by(|a, b| b.inked.total_cmp(&a.inked));
    let mut kept: Vec<Hypothesis> = Vec::new();
    for hypothesis in found {
        let bounds = hypothesis.geometry.bounds();
        let same = |other: &Hypothesis| {
            other.geometry.bounds().iter().zip(bounds).all(|(a, b)| (a - b).abs() < 5.0)
                && notch_of(other) == notch_of(&hypothesis)
        };
        if kept.len() < MOST && !kept.iter().any(same) {
            kept.push(hypothesis);
        }
    }
    kept
}

fn notch_of(hypothesis: &Hypothesis) -> Option<Notch> {
    match hypothesis.geometry {
        Geometry::Box { notch, .. } => notch,
        Geometry::Ellipse { .. } => None,
    }
}

fn along(axis: Axis, strokes: &Strokes, clusters: &Clusters, found: &mut Vec<Hypothesis>) {
    let (own, other) = match axis {
        Axis::Horizontal => (&strokes.lines[0], &strokes.lines[1]),
        Axis::Vertical => (&strokes.lines[1], &strokes.lines[0]),
    };
    let [left, top, right, bottom] = strokes.card_px;
    let edges = match axis {
        Axis::Horizontal => [left, right],
        Axis::Vertical => [top, bottom],
    };
    for a in own {
        for b in own {
            let (from, to) = (a.start.max(b.start), a.end.min(b.end));
            if to - from < px(0.3) {
                continue;
            }
            let gap = b.straight(0.5 * (from + to)) - a.straight(0.5 * (from + to));
            if gap < px(WIDTHS_IN[0]) || gap > px(WIDTHS_IN[1]) {
                continue;
            }
            let cuts = cuts(axis, a, b, gap, strokes, clusters);
            for (i, cut) in cuts.iter().enumerate() {
                // The other end: a side across, the card's edge, or another cut.
                let mut ends: Vec<(Option<&Line>, Option<&Cut>, f32)> =
                    edges.iter().map(|&e| (None, None, e)).collect();
                let middle = 0.5 * (a.straight(cut.at) + b.straight(cut.at));
                for line in other {
                    let share = line.covered(middle - gap / 2.0, middle + gap / 2.0) / gap;
                    if share >= 0.1 {
                        ends.push((Some(line), None, line.across(middle)));
                    }
                }
                ends.extend(
                    cuts[i + 1..]
                        .iter()
                        .filter(|o| o.body_before != cut.body_before)
                        .map(|o| (None, Some(o), o.at)),
                );
                for (line, second, at) in ends {
                    let length = if cut.body_before { cut.at - at } else { at - cut.at };
                    if length < 1.2 * gap || (second.is_some() && length < 1.6 * gap) {
                        continue;
                    }
                    found.extend(build(axis, a, b, cut, line, second, at, clusters));
                }
            }
        }
    }
}

/// The cut ends of two long sides. Where one side runs on, for it is in line with
/// the side of something else, the other's end tells where the cut is.
fn cuts(axis: Axis, a: &Line, b: &Line, gap: f32, strokes: &Strokes, clusters: &Clusters) -> Vec<Cut> {
    let reach = px(OPPOSITE_IN);
    let ends = |line: &Line| -> Vec<(f32, bool)> {
        line.runs.iter().flat_map(|run| [(run.start(), false), (run.end(), true)]).collect()
    };
    let (ends_a, ends_b) = (ends(a), ends(b));
    // Where each side ends, whether the body lies before, and the least share.
    let mut places: Vec<(f32, f32, bool, f32)> = Vec::new();
    for &(at_a, before) in &ends_a {
        for &(at_b, same) in &ends_b {
            if before == same && (at_a - at_b).abs() <= reach {
                places.push((at_a, at_b, before, LEAST_SLANTS));
            }
        }
    }
    let runs_on = |line: &Line, at: f32, ends: &[(f32, bool)], before: bool| {
        let beyond = if before { at + reach } else { at - reach };
        let (from, to) = (at.min(beyond), at.max(beyond));
        line.covered(from, to) >= RUNS_ON * (to - from)
            && !ends.iter().any(|(end, same)| *same == before && (end - at).abs() <= reach)
    };
    for (own, other, ends_of_other) in [(&ends_a, b, &ends_b), (&ends_b, a, &ends_a)] {
        let single = own.iter().filter(|(at, before)| runs_on(other, *at, ends_of_other, *before));
        places.extend(single.map(|&(at, before)| (at, at, before, LEAST_SLANTS_ALONE)));
    }
    let mut out: Vec<Cut> = Vec::new();
    for (at_a, at_b, before, least) in places {
        let at = 0.5 * (at_a + at_b);
        let inward = if before { -1.0 } else { 1.0 };
        let mut best: Option<(f32, Vec<Sample>)> = None;
        for depth in DEPTHS {
            let tip = at + inward * depth * gap;
            let middle = 0.5 * (a.across(tip) + b.across(tip));
            let mut samples = Vec::new();
            for (start, line) in [(at_a, a), (at_b, b)] {
                slant(axis, [start, line.across(start)], [tip, middle], strokes, clusters, &mut samples);
            }
            let seen = samples.iter().filter(|s| matches!(s.ink, SampleInk::Seen(_))).count();
            let share = seen as f32 / samples.len().max(1) as f32;
            if share >= least && best.as_ref().is_none_or(|(most, _)| share > *most) {
                best = Some((share, samples));
            }
        }
        if let Some((share, samples)) = best {
            out.push(Cut { at, body_before: before, samples, share });
        }
    }
    out.sort_by(|x, y| y.share.total_cmp(&x.share));
    out.truncate(8);
    out
}

/// Samples a slanting stroke between two (along, across) places.
fn slant(
    axis: Axis,
    from: [f32; 2],
    to: [f32; 2],
    strokes: &Strokes,
    clusters: &Clusters,
    samples: &mut Vec<Sample>,
) {
    /// How far a hand's slant may stray, in inches.
    const NEAR_IN: f32 = 0.045;
    let near = px(NEAR_IN);
    let length = (to[0] - from[0]).hypot(to[1] - from[1]).max(1.0);
    let direction = axis.join((to[0] - from[0]) / length, (to[1] - from[1]) / length);
    let count = crate::raster::floor_px(length / STEP_PX).max(2);
    for k in 0..count {
        let t = (k as f32 + 0.5) / count as f32;
        let at = axis.join(from[0] + (to[0] - from[0]) * t, from[1] + (to[1] - from[1]) * t);
        let nearest = strokes
            .index
            .near(at[0], at[1], near)
            .map(|i| &strokes.points[i])
            .filter(|p| (p.tx * direction[0] + p.ty * direction[1]).abs() > 0.8)
            .map(|p| ((p.x - at[0]).hypot(p.y - at[1]), p))
            .filter(|(distance, _)| *distance <= near)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let ink = nearest
            .map_or(SampleInk::Missing, |(_, p)| SampleInk::Seen(clusters.id([p.x, p.y], [p.tx, p.ty])));
        samples.push(Sample { at, ink });
    }
}

#[expect(clippy::too_many_arguments, reason = "the parts of one banner")]
fn build(
    axis: Axis,
    a: &Line,
    b: &Line,
    cut: &Cut,
    line: Option<&Line>,
    second: Option<&Cut>,
    at: f32,
    clusters: &Clusters,
) -> Option<Hypothesis> {
    let (from, to) = if cut.body_before { (at, cut.at) } else { (cut.at, at) };
    let length = to - from;
    let shares = [a.covered(from, to) / length, b.covered(from, to) / length];
    if shares.iter().any(|share| *share < LEAST_SIDE) {
        return None;
    }
    let mut samples = cut.samples.clone();
    let direction = axis.join(1.0, 0.0);
    let count = crate::raster::floor_px(length / STEP_PX).max(1);
    for side in [a, b] {
        for k in 0..count {
            let u = from + length * (k as f32 + 0.5) / count as f32;
            let place = axis.join(u, side.across(u));
            let ink = if side.inked(u) {
                SampleInk::Seen(clusters.id(place, direction))
            } else {
                SampleInk::Missing
            };
            samples.push(Sample { at: place, ink });
        }
    }
    let mut end_share = 1.0;
    match (line, second) {
        (_, Some(second)) => samples.extend(second.samples.iter().copied()),
        (Some(line), None) => {
            let (low, high) = (a.across(at), b.across(at));
            let across = axis.join(0.0, 1.0);
            let count = crate::raster::floor_px((high - low) / STEP_PX).max(1);
            let mut seen = 0.0;
            for k in 0..count {
                let v = low + (high - low) * (k as f32 + 0.5) / count as f32;
                let place = axis.join(line.across(v), v);
                let ink = if line.inked(v) {
                    SampleInk::Seen(clusters.id(place, across))
                } else {
                    SampleInk::Missing
                };
                if matches!(ink, SampleInk::Seen(_)) {
                    seen += 1.0;
                }
                samples.push(Sample { at: place, ink });
            }
            end_share = seen / count as f32;
        }
        (None, None) => {}
    }
    let seen = samples.iter().filter(|s| matches!(s.ink, SampleInk::Seen(_))).count();
    let inked = seen as f32 / samples.len().max(1) as f32;
    if inked < 0.4 {
        return None;
    }
    let fit = |across: f32, inked: f32, on_edge: bool| SideFit { at: across, spread: 1.0, inked, on_edge };
    let low_side = |side: &Line| {
        let seen: Vec<f32> = (0..count)
            .map(|k| from + length * (k as f32 + 0.5) / count as f32)
            .filter(|u| side.inked(*u))
            .map(|u| side.across(u))
            .collect();
        if seen.is_empty() {
            side.straight(0.5 * (from + to))
        } else {
            seen.iter().sum::<f32>() / seen.len() as f32
        }
    };
    let long = [fit(low_side(a), shares[0], false), fit(low_side(b), shares[1], false)];
    let plain_end = fit(at, end_share, line.is_none() && second.is_none());
    let cut_end = fit(cut.at, cut.share, false);
    let short = if cut.body_before { [plain_end, cut_end] } else { [cut_end, plain_end] };
    let corner = |u: f32, side: &Line| axis.join(u, side.across(u));
    let (corners, sides) = match axis {
        Axis::Horizontal => (
            [corner(from, a), corner(to, a), corner(to, b), corner(from, b)],
            [short[0], long[0], short[1], long[1]],
        ),
        Axis::Vertical => (
            [corner(from, a), corner(from, b), corner(to, b), corner(to, a)],
            [long[0], short[0], long[1], short[1]],
        ),
    };
    let both = second.is_some();
    let notch =
        Notch { level: axis == Axis::Horizontal, at: [both || !cut.body_before, both || cut.body_before] };
    Some(Hypothesis {
        geometry: Geometry::Box { corners, sides, turned_deg: 0.0, radius_px: 0.0, notch: Some(notch) },
        samples,
        corners: Vec::new(),
        against: Vec::new(),
        inked,
    })
}

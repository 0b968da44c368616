//! Rounded corners of a rectangle: where its sides stop short of the corner
//! and an arc goes between.

use super::{Clusters, Geometry, Hypothesis, STEP_PX, Sample, SampleInk, inked_share};
use crate::ink::RidgePoint;
use crate::rectify::px;
use crate::strokes::Strokes;

/// Radii tried, in inches.
const RADII_IN: [f32; 7] = [0.125, 0.1875, 0.25, 0.3125, 0.375, 0.4375, 0.5];
/// Least inked share of the arcs of a rounded corner.
const LEAST_ARC: f32 = 0.7;
/// Most inked share of what a sharp corner would have in their place.
const MOST_SHARP: f32 = 0.45;
/// Fewest corners that must be round: the others may be hidden.
const FEWEST: usize = 2;

/// Sets the radius of a rectangle whose corners are rounded.
pub(crate) fn round_corners(shape: &mut Hypothesis, strokes: &Strokes) {
    let Geometry::Box { corners, turned_deg, radius_px, notch: None, .. } = &mut shape.geometry else {
        return;
    };
    if turned_deg.abs() > 0.0 {
        return;
    }
    let mut best: Option<(f32, f32)> = None;
    for radius in RADII_IN.map(px) {
        let sides = (corners[1][0] - corners[0][0]).min(corners[3][1] - corners[0][1]);
        if 2.0 * radius > sides {
            break;
        }
        let shares: Vec<f32> = (0..4)
            .filter(|&k| sharp_share(corners, k, radius, strokes) <= MOST_SHARP)
            .map(|k| arc_share(corners, k, radius, strokes))
            .filter(|share| *share >= LEAST_ARC)
            .collect();
        if shares.len() >= FEWEST {
            let score = shares.iter().sum::<f32>();
            if best.is_none_or(|(most, _)| score > most) {
                best = Some((score, radius));
            }
        }
    }
    if let Some((_, radius)) = best {
        *radius_px = radius;
    }
}

/// The same rectangle with rounded corners, its outline running along their
/// arcs, and none but rounded corners its own; none where they are sharp.
pub(super) fn rounded(sharp: &Hypothesis, strokes: &Strokes, clusters: &Clusters) -> Option<Hypothesis> {
    let mut round = sharp.clone();
    round_corners(&mut round, strokes);
    let Geometry::Box { corners, radius_px: radius, .. } = &round.geometry else { return None };
    if *radius <= 0.0 {
        return None;
    }
    let cut = |at: [f32; 2]| {
        corners.iter().any(|c| (at[0] - c[0]).abs() < *radius && (at[1] - c[1]).abs() < *radius)
    };
    let mut own = Vec::new();
    let mut samples: Vec<Sample> =
        sharp.samples.iter().filter(|s| s.ink == SampleInk::Edge || !cut(s.at)).copied().collect();
    let steps = crate::raster::floor_px(std::f32::consts::FRAC_PI_2 * *radius / STEP_PX).max(2);
    for k in 0..4 {
        let round = sharp.corners.iter().map(|(id, _)| *id).find(|&id| {
            let corner = strokes.corners[id as usize];
            corner.round && super::distance(corner.at, corners[k]) < *radius
        });
        own.extend(round.map(|id| (id, u32::try_from(samples.len()).unwrap_or(0))));
        for i in 0..steps {
            let (at, along) = on_arc(corners, k, *radius, (i as f32 + 0.5) / steps as f32);
            let ink = nearest(at, along, strokes)
                .map_or(SampleInk::Missing, |p| SampleInk::Seen(clusters.id([p.x, p.y], [p.tx, p.ty])));
            samples.push(Sample { at, ink });
        }
    }
    let inked = inked_share(&samples);
    Some(Hypothesis { samples, corners: own, inked, ..round })
}

/// Directions from corner `k` along its two sides.
fn inward(corners: &[[f32; 2]; 4], k: usize) -> [[f32; 2]; 2] {
    [1, 3].map(|step| {
        let (a, b) = (corners[k], corners[(k + step) % 4]);
        let length = super::distance(a, b).max(1.0);
        [(b[0] - a[0]) / length, (b[1] - a[1]) / length]
    })
}

/// The stroke nearest to a place that runs in a direction.
fn nearest(at: [f32; 2], direction: [f32; 2], strokes: &Strokes) -> Option<&RidgePoint> {
    let near = px(0.025);
    let runs_so = |p: &&RidgePoint| {
        super::distance([p.x, p.y], at) <= near && (p.tx * direction[0] + p.ty * direction[1]).abs() > 0.8
    };
    let off = |p: &RidgePoint| super::distance([p.x, p.y], at);
    strokes
        .index
        .near(at[0], at[1], near)
        .map(|i| &strokes.points[i])
        .filter(runs_so)
        .min_by(|a, b| off(a).total_cmp(&off(b)))
}

/// Inked share of the outer part of a sharp corner.
fn sharp_share(corners: &[[f32; 2]; 4], k: usize, radius: f32, strokes: &Strokes) -> f32 {
    let steps = 6u8;
    let seen = inward(corners, k)
        .iter()
        .flat_map(|d| (0..steps).map(move |i| (*d, 0.7 * radius * (f32::from(i) + 0.5) / f32::from(steps))))
        .filter(|(d, along)| {
            nearest([corners[k][0] + d[0] * along, corners[k][1] + d[1] * along], *d, strokes).is_some()
        })
        .count();
    seen as f32 / (2.0 * f32::from(steps))
}

/// Inked share of the arc that would round a corner.
fn arc_share(corners: &[[f32; 2]; 4], k: usize, radius: f32, strokes: &Strokes) -> f32 {
    let steps = 9u8;
    let seen = (0..steps)
        .filter(|&i| {
            let (at, along) = on_arc(corners, k, radius, (f32::from(i) + 0.5) / f32::from(steps));
            nearest(at, along, strokes).is_some()
        })
        .count();
    seen as f32 / f32::from(steps)
}

/// A place on the arc that rounds corner `k`, and the arc's direction there;
/// `part` runs from 0 to 1 along it.
fn on_arc(corners: &[[f32; 2]; 4], k: usize, radius: f32, part: f32) -> ([f32; 2], [f32; 2]) {
    let [a, b] = inward(corners, k);
    let centre = [corners[k][0] + radius * (a[0] + b[0]), corners[k][1] + radius * (a[1] + b[1])];
    let (sin, cos) = (part * std::f32::consts::FRAC_PI_2).sin_cos();
    let normal = [-(cos * a[0] + sin * b[0]), -(cos * a[1] + sin * b[1])];
    ([centre[0] + radius * normal[0], centre[1] + radius * normal[1]], [-normal[1], normal[0]])
}

//! Stage 3, second part: the edges of filled areas and of paper, as points
//! like those of strokes, so that a panel without an outline is seen as well.
//! Method: maxima of the gradient along its own direction, to a fraction of a
//! pixel (Canny, "A computational approach to edge detection", IEEE PAMI 8,
//! 1986); of several colour planes the one with the steepest step speaks, so
//! that panels of equal brightness part. A stroke has two edges of its own:
//! they are dropped where its ridge has been found.

#![expect(clippy::inline_always, reason = "what is not inlined is not widened")]

use crate::ink::{Grain, RidgePoint, strong_enough};
use crate::raster::Plane;
use crate::strokes::PointIndex;
use crate::wide::{Work, wide};

/// How edges are looked for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EdgeOptions {
    /// Blur of the planes in pixels: it scales the strength, so that a step's
    /// compares with a stroke's of the same darkness.
    pub(crate) sigma_px: f32,
    /// Weakest strength kept, in multiples of the paper's grain (the median of
    /// all gradients): above 3, one edge point in a thousand is grain.
    pub(crate) over_grain: f32,
    /// Half the widest stroke, in pixels: edges this near to a ridge are its own.
    pub(crate) stroke_px: f32,
    /// Side of the blocks that grain is taken on, in pixels.
    pub(crate) grain_px: usize,
    /// A faint edge is kept from this many pixels on.
    pub(crate) faint_px: usize,
}

/// Weakest step, in scale-normalised darkness: below a step of three per cent
/// lie the traces of JPEG blocks.
const LEAST: f32 = 0.012;
/// From this strength on, a step of a tenth, an edge need not be long.
const CLEAR: f32 = 0.04;
/// A ridge owns edges up to this many times its strength.
const OWNED: f32 = 4.0;
/// Cosine of the largest angle between a stroke and its own edges.
const ALONG: f32 = 0.8;

/// The edge points of blurred planes that no ridge owns.
pub(crate) fn edge_points(
    planes: &[&Plane],
    ridges: &[RidgePoint],
    options: &EdgeOptions,
) -> Vec<RidgePoint> {
    let Some(first) = planes.first() else { return Vec::new() };
    let (width, height) = (first.width, first.height);
    let steepest = steepest(planes, options.sigma_px);
    let row_of = |y: usize| &steepest.data[y * width..(y + 1) * width];
    let grain = Grain::of([width, height], 0.5, options.grain_px, |y, row| row.copy_from_slice(row_of(y)));
    let owners = PointIndex::of(ridges, width, height);
    let mut points = Vec::new();
    let mut least = vec![0.0f32; width];
    for y in 3..height.saturating_sub(3) {
        grain.row(y, options.over_grain, LEAST, &mut least);
        for x in strong_enough(row_of(y), &least).filter(|x| *x >= 3 && x + 3 < width) {
            let strength = steepest.at(x, y);
            let Some(point) = on_edge(planes, &steepest, x, y) else { continue };
            let owned = owners.near(point.x, point.y, options.stroke_px).any(|i| {
                let ridge = &ridges[i];
                let (dx, dy) = (ridge.x - point.x, ridge.y - point.y);
                dx * dx + dy * dy <= options.stroke_px * options.stroke_px
                    && ridge.strength * OWNED >= strength
                    && (ridge.tx * point.tx + ridge.ty * point.ty).abs() > ALONG
            });
            if !owned {
                points.push(point);
            }
        }
    }
    clear_or_long(points, options.faint_px, width, height)
}

/// Keeps chains of edge points that are clear somewhere or long (thresholding
/// with hysteresis, Canny 1986; a long faint chain is no accident either).
pub(crate) fn clear_or_long(
    points: Vec<RidgePoint>,
    long: usize,
    width: usize,
    height: usize,
) -> Vec<RidgePoint> {
    /// Neighbours along a chain are at most a pixel apart in both directions,
    /// and each is off its pixel's middle by up to half of one.
    const REACH_PX: f32 = 1.7;
    let index = PointIndex::of(&points, width, height);
    let mut chain_of = vec![usize::MAX; points.len()];
    let mut keep: Vec<bool> = Vec::new();
    let mut open = Vec::new();
    for seed in 0..points.len() {
        if chain_of[seed] != usize::MAX {
            continue;
        }
        let chain = keep.len();
        chain_of[seed] = chain;
        open.push(seed);
        let (mut length, mut most) = (0, 0.0f32);
        while let Some(i) = open.pop() {
            let p = points[i];
            length += 1;
            most = most.max(p.strength);
            for j in index.near(p.x, p.y, REACH_PX) {
                let q = &points[j];
                if chain_of[j] == usize::MAX
                    && (q.x - p.x).abs() <= REACH_PX
                    && (q.y - p.y).abs() <= REACH_PX
                    && (q.tx * p.tx + q.ty * p.ty).abs() > ALONG
                {
                    chain_of[j] = chain;
                    open.push(j);
                }
            }
        }
        keep.push(most >= CLEAR || length >= long);
    }
    points.into_iter().zip(chain_of).filter(|(_, chain)| keep[*chain]).map(|(p, _)| p).collect()
}

/// The scale-normalised steepest gradient of each pixel.
fn steepest(planes: &[&Plane], sigma_px: f32) -> Plane {
    let (width, height) = (planes[0].width, planes[0].height);
    let mut out = Plane::new(width, height, 0.0);
    // Half a difference over two pixels is a gradient.
    let norm = 0.25 * sigma_px * sigma_px;
    for y in 1..height.saturating_sub(1) {
        let out = &mut out.data[y * width + 1..(y + 1) * width - 1];
        for plane in planes {
            let row = |y: usize| &plane.data[y * width..(y + 1) * width];
            let (above, own, below) = (&row(y - 1)[1..], row(y), &row(y + 1)[1..]);
            wide(Steps { across: [own, &own[2..]], down: [above, below], norm, out: &mut *out });
        }
        for value in out {
            *value = value.sqrt();
        }
    }
    out
}

/// A row of squared gradients, where they are steeper than what is there.
struct Steps<'a> {
    across: [&'a [f32]; 2],
    down: [&'a [f32]; 2],
    norm: f32,
    out: &'a mut [f32],
}

impl Work for Steps<'_> {
    type Out = ();

    #[inline(always)]
    fn run(self) {
        let count = self.out.len();
        let [left, right] = self.across.map(|row| &row[..count]);
        let [above, below] = self.down.map(|row| &row[..count]);
        for (i, out) in self.out.iter_mut().enumerate() {
            let (gx, gy) = (right[i] - left[i], below[i] - above[i]);
            *out = out.max(self.norm * (gx * gx + gy * gy));
        }
    }
}

/// The edge point of a pixel, if the gradient peaks within it.
fn on_edge(planes: &[&Plane], steepest: &Plane, x: usize, y: usize) -> Option<RidgePoint> {
    let gradient =
        |plane: &Plane| [plane.at(x + 1, y) - plane.at(x - 1, y), plane.at(x, y + 1) - plane.at(x, y - 1)];
    let [gx, gy] = planes
        .iter()
        .map(|plane| gradient(plane))
        .max_by(|a, b| (a[0] * a[0] + a[1] * a[1]).total_cmp(&(b[0] * b[0] + b[1] * b[1])))?;
    let length = (gx * gx + gy * gy).sqrt();
    if length <= 0.0 {
        return None;
    }
    let (nx, ny) = (gx / length, gy / length);
    let own = steepest.at(x, y);
    let (u, v) = (x as f32, y as f32);
    let (before, after) = (steepest.between(u - nx, v - ny), steepest.between(u + nx, v + ny));
    if own < before || own <= after {
        return None;
    }
    let t = (0.5 * (before - after) / (before - 2.0 * own + after).min(-1e-9)).clamp(-0.5, 0.5);
    Some(RidgePoint { x: u + t * nx, y: v + t * ny, tx: -ny, ty: nx, strength: own })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ink::{InkOptions, Smoothed, ridge_points};

    const OPTIONS: EdgeOptions =
        EdgeOptions { sigma_px: 1.5, over_grain: 3.1, stroke_px: 7.0, grain_px: 64, faint_px: 60 };

    #[test]
    fn a_filled_panel_has_an_edge_and_a_stroke_has_none() {
        // A panel from x = 40 on, and a stroke 3 px wide at x = 20.
        let mut plane = Plane::new(90, 60, 0.0);
        for y in 0..60 {
            for x in 0..90 {
                if x >= 40 || (19..=21).contains(&x) {
                    plane.data[y * 90 + x] = 0.5;
                }
            }
        }
        let smoothed = Smoothed::of(&plane, [1.5, 2.4]);
        let ridges = ridge_points(&smoothed, &InkOptions { over_grain: 2.2, grain_px: 64 });
        let edges = edge_points(&[&smoothed.fine], &ridges, &OPTIONS);
        assert!(ridges.iter().all(|p| (p.x - 20.0).abs() < 0.5), "{ridges:?}");
        assert!(edges.len() >= 50 && edges.iter().all(|p| (p.x - 39.5).abs() < 0.2), "{edges:?}");
    }
}

//! Stage 3: strokes as ridge points, each with a sub-pixel position, a
//! direction and a strength.
//! Method: curvilinear structures by the Hessian (Steger, "An unbiased
//! detector of curvilinear structures", IEEE PAMI 20, 1998) at two widths, the
//! stronger one kept (scale selection after Lindeberg, "Edge detection and
//! ridge detection with automatic scale selection", IJCV 30, 1998). Second
//! derivatives are differences of a blurred plane.

#![expect(clippy::inline_always, reason = "what is not inlined is not widened")]

use crate::raster::{Plane, floor_px};
use crate::wide::{Work, wide};

/// A point on the middle line of a stroke.
#[derive(Clone, Copy, Debug)]
pub(crate) struct RidgePoint {
    /// Position in pixels; pixel centres are whole numbers.
    pub(crate) x: f32,
    /// Position in pixels.
    pub(crate) y: f32,
    /// Unit vector along the stroke, x part.
    pub(crate) tx: f32,
    /// Unit vector along the stroke, y part.
    pub(crate) ty: f32,
    /// Curvature across the stroke, scale-normalised: darkness units.
    pub(crate) strength: f32,
}

/// A plane blurred to two widths of stroke.
pub(crate) struct Smoothed {
    /// Blurred a little.
    pub(crate) fine: Plane,
    /// Blurred more.
    wide: Plane,
    sigmas_px: [f32; 2],
}

impl Smoothed {
    /// Blurs a darkness plane. `sigmas_px`: the two blurs in pixels, the finer
    /// first; a stroke of width w answers most at about w/2.
    pub(crate) fn of(darkness: &Plane, sigmas_px: [f32; 2]) -> Smoothed {
        let fine = darkness.blurred(sigmas_px[0]);
        let wide = fine.blurred((sigmas_px[1] * sigmas_px[1] - sigmas_px[0] * sigmas_px[0]).sqrt());
        Smoothed { fine, wide, sigmas_px }
    }
}

/// How strokes are looked for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct InkOptions {
    /// Weakest strength kept, in multiples of the paper's grain (see
    /// [`Grain`]): below about 2, grain passes for ink.
    pub(crate) over_grain: f32,
    /// Side of the blocks that grain is taken on, in pixels.
    pub(crate) grain_px: usize,
}

/// Weakest strength of a stroke: nothing that the eye could see is fainter.
const LEAST: f32 = 0.002;

/// The ridge points of a blurred darkness plane.
pub(crate) fn ridge_points(smoothed: &Smoothed, options: &InkOptions) -> Vec<RidgePoint> {
    let Smoothed { fine, wide, sigmas_px } = smoothed;
    let (width, height) = (fine.width, fine.height);
    // On noisy paper half of all answers are positive, so this is their median;
    // on a clean scan it is next to nothing.
    let grain =
        Grain::of([width, height], 0.75, options.grain_px, |y, row| response_row(fine, sigmas_px[0], y, row));
    let mut points = Vec::new();
    // Only the rows at hand are kept of the answers.
    let [mut a, mut b, mut most, mut least] = [(); 4].map(|()| vec![0.0f32; width]);
    for y in 2..height.saturating_sub(2) {
        response_row(fine, sigmas_px[0], y, &mut a);
        response_row(wide, sigmas_px[1], y, &mut b);
        for ((most, a), b) in most.iter_mut().zip(&a).zip(&b) {
            *most = a.max(*b);
        }
        grain.row(y, options.over_grain, LEAST, &mut least);
        for x in strong_enough(&most, &least).filter(|x| *x >= 2 && x + 2 < width) {
            let plane = if a[x] >= b[x] { fine } else { wide };
            points.extend(on_ridge(plane, x, y, most[x]));
        }
    }
    points
}

/// Scale-normalised curvature across the darkest direction, zero where the
/// plane is not ridge-like.
pub(crate) fn response(plane: &Plane, sigma: f32) -> Plane {
    let mut out = Plane::new(plane.width, plane.height, 0.0);
    for (y, row) in out.data.chunks_exact_mut(plane.width).enumerate() {
        response_row(plane, sigma, y, row);
    }
    out
}

/// One row of [`response`].
fn response_row(plane: &Plane, sigma: f32, y: usize, out: &mut [f32]) {
    let (width, norm) = (plane.width, sigma * sigma);
    if y == 0 || y + 1 >= plane.height || width < 3 {
        out.fill(0.0);
        return;
    }
    let row = |y: usize| &plane.data[y * width..(y + 1) * width];
    let (above, own, below) = (row(y - 1), row(y), row(y + 1));
    out[0] = 0.0;
    out[width - 1] = 0.0;
    wide(Curvature { around: [above, own, below], norm, out: &mut out[1..width - 1] });
}

/// See [`response`]: the answers to three rows, those at their ends left out.
struct Curvature<'a> {
    around: [&'a [f32]; 3],
    norm: f32,
    out: &'a mut [f32],
}

impl Work for Curvature<'_> {
    type Out = ();

    #[inline(always)]
    fn run(self) {
        let count = self.out.len();
        let [above, own, below] = self.around.map(|row| {
            let from = |k: usize| &row[k..k + count];
            [from(0), from(1), from(2)]
        });
        for (i, out) in self.out.iter_mut().enumerate() {
            let xx = own[0][i] - 2.0 * own[1][i] + own[2][i];
            let yy = above[1][i] - 2.0 * own[1][i] + below[1][i];
            let xy = 0.25 * (below[2][i] + above[0][i] - above[2][i] - below[0][i]);
            let spread = (0.25 * (xx - yy) * (xx - yy) + xy * xy).sqrt();
            let low = 0.5 * (xx + yy) - spread;
            let high = 0.5 * (xx + yy) + spread;
            // Along a stroke nothing changes; a blob curves both ways.
            *out = self.norm * (-low - high.abs() * 0.5).max(0.0);
        }
    }
}

#[inline]
fn hessian(plane: &Plane, x: usize, y: usize) -> [f32; 3] {
    let centre = plane.at(x, y);
    let xx = plane.at(x - 1, y) - 2.0 * centre + plane.at(x + 1, y);
    let yy = plane.at(x, y - 1) - 2.0 * centre + plane.at(x, y + 1);
    let xy = 0.25
        * (plane.at(x + 1, y + 1) - plane.at(x - 1, y + 1) - plane.at(x + 1, y - 1) + plane.at(x - 1, y - 1));
    [xx, yy, xy]
}

/// The ridge point of a pixel, if the ridge's top lies within it (Steger's
/// test: the parabola across the stroke peaks inside the pixel).
fn on_ridge(plane: &Plane, x: usize, y: usize, strength: f32) -> Option<RidgePoint> {
    /// A little over half a pixel, so that no stroke has gaps between pixels.
    const WITHIN_PX: f32 = 0.6;
    let [xx, yy, xy] = hessian(plane, x, y);
    // The axis across the stroke belongs to the lower curvature.
    let spread = (0.25 * (xx - yy) * (xx - yy) + xy * xy).sqrt();
    let curvature = 0.5 * (xx + yy) - spread;
    let (nx, ny) = if xx <= yy { (curvature - yy, xy) } else { (xy, curvature - xx) };
    let length = (nx * nx + ny * ny).sqrt();
    if length < 1e-12 {
        return None;
    }
    let (nx, ny) = (nx / length, ny / length);
    if curvature >= 0.0 {
        return None;
    }
    let gx = 0.5 * (plane.at(x + 1, y) - plane.at(x - 1, y));
    let gy = 0.5 * (plane.at(x, y + 1) - plane.at(x, y - 1));
    let t = -(gx * nx + gy * ny) / curvature;
    let (dx, dy) = (t * nx, t * ny);
    (dx.abs() <= WITHIN_PX && dy.abs() <= WITHIN_PX).then_some(RidgePoint {
        x: x as f32 + dx,
        y: y as f32 + dy,
        tx: -ny,
        ty: nx,
        strength,
    })
}

/// What the paper answers by itself, round about each place: a quantile of the
/// answers on blocks of pixels. In a printed pattern it is the pattern, which
/// then has to be outdone.
pub(crate) struct Grain {
    blocks: Plane,
    block_px: usize,
}

impl Grain {
    /// `share`: the share of answers that grain stays above. `block_px`: side of
    /// the blocks; larger than the picture for one grain all over. `answers`
    /// gives a row of answers; only every third is asked for.
    pub(crate) fn of(
        [width, height]: [usize; 2],
        share: f32,
        block_px: usize,
        answers: impl Fn(usize, &mut [f32]),
    ) -> Grain {
        const EVERY: usize = 3;
        let (columns, rows) = (width.div_ceil(block_px), height.div_ceil(block_px));
        let mut blocks = Plane::new(columns, rows, 0.0);
        let mut row = vec![0.0f32; width];
        let mut samples: Vec<Vec<f32>> = vec![Vec::new(); columns];
        for (band, grains) in blocks.data.chunks_exact_mut(columns.max(1)).enumerate() {
            samples.iter_mut().for_each(Vec::clear);
            for y in (band * block_px..((band + 1) * block_px).min(height)).step_by(EVERY) {
                answers(y, &mut row);
                for (sample, row) in samples.iter_mut().zip(row.chunks(block_px)) {
                    sample.extend(row.iter().step_by(EVERY));
                }
            }
            for (sample, grain) in samples.iter_mut().zip(grains) {
                let at = floor_px(share * sample.len() as f32).min(sample.len() - 1);
                *grain = *sample.select_nth_unstable_by(at, f32::total_cmp).1;
            }
        }
        Grain { blocks: blocks.blurred(0.8), block_px }
    }

    /// `times` the grain along a row of pixels, and `least` where that is less.
    pub(crate) fn row(&self, y: usize, times: f32, least: f32, out: &mut [f32]) {
        let place = |v: usize| (v as f32 + 0.5) / self.block_px as f32 - 0.5;
        let v = place(y);
        if self.blocks.width == 1 {
            out.fill((times * self.blocks.between(0.0, v)).max(least));
            return;
        }
        // Straight from the middle of one block to the middle of the next.
        let middles: Vec<f32> = (0..self.blocks.width).map(|k| self.blocks.between(k as f32, v)).collect();
        let half = (self.block_px / 2).min(out.len());
        let (head, body) = out.split_at_mut(half);
        head.fill((times * middles[0]).max(least));
        let last = middles.len() - 1;
        for (block, cells) in body.chunks_mut(self.block_px).enumerate() {
            let (from, to) = (middles[block.min(last)], middles[(block + 1).min(last)]);
            let slope = (to - from) / self.block_px as f32;
            for (k, cell) in cells.iter_mut().enumerate() {
                *cell = (times * (from + slope * (k as f32 + 0.5))).max(least);
            }
        }
    }
}

/// The places of a row at which a strength reaches the least that counts there.
/// Most of a row does not: it is passed over many places at a time.
pub(crate) fn strong_enough<'a>(strength: &'a [f32], least: &'a [f32]) -> impl Iterator<Item = usize> + 'a {
    const TOGETHER: usize = 16;
    let together = strength.chunks(TOGETHER).zip(least.chunks(TOGETHER)).enumerate();
    let any = |strength: &[f32], least: &[f32]| {
        // A sum, for it has no early end.
        strength.iter().zip(least).map(|(s, l)| u8::from(s >= l)).sum::<u8>() > 0
    };
    together.filter(move |(_, (strength, least))| any(strength, least)).flat_map(
        |(chunk, (strength, least))| {
            let places = strength.iter().zip(least).enumerate();
            places.filter(|(_, (s, l))| s >= l).map(move |(k, _)| chunk * TOGETHER + k)
        },
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slanting_stroke_is_found_to_a_tenth_of_a_pixel() {
        // Darkness falls off like a pen's stroke around y = 20.3 + x / 4.
        let mut plane = Plane::new(80, 60, 0.0);
        for y in 0..60 {
            for x in 0..80 {
                let off = (y as f32 - 20.3 - x as f32 / 4.0) / (1.0f32 + 1.0 / 16.0).sqrt();
                plane.data[y * 80 + x] = (-0.5 * (off / 1.2).powi(2)).exp();
            }
        }
        let points =
            ridge_points(&Smoothed::of(&plane, [1.5, 2.4]), &InkOptions { over_grain: 2.2, grain_px: 64 });
        let inside: Vec<_> = points.iter().filter(|p| p.x > 10.0 && p.x < 70.0 && p.strength > 0.1).collect();
        assert!(inside.len() >= 60, "{}", inside.len());
        for p in inside {
            assert!((p.y - 20.3 - p.x / 4.0).abs() < 0.1, "{p:?}");
            assert!((p.ty / p.tx - 0.25).abs() < 0.05, "{p:?}");
        }
    }
}

//! Stage 3: strokes as ridge points, each with a sub-pixel position, a
//! direction and a strength.
//! Method: curvilinear structures by the Hessian (Steger, "An unbiased
//! detector of curvilinear structures", IEEE PAMI 20, 1998) at two widths, the
//! stronger one kept (scale selection after Lindeberg, "Edge detection and
//! ridge detection with automatic scale selection", IJCV 30, 1998). Second
//! derivatives are differences of a blurred plane.

use crate::raster::{Plane, floor_px};

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
    let responses = [response(fine, sigmas_px[0]), response(wide, sigmas_px[1])];
    // On noisy paper half of all answers are positive, so this is their median;
    // on a clean scan it is next to nothing.
    let grain = Grain::of(&responses[0], 0.75, options.grain_px);
    let (width, height) = (fine.width, fine.height);
    let mut points = Vec::new();
    for y in 2..height.saturating_sub(2) {
        for x in 2..width.saturating_sub(2) {
            let (a, b) = (responses[0].at(x, y), responses[1].at(x, y));
            let strength = a.max(b);
            if strength < LEAST || strength < options.over_grain * grain.at(x, y) {
                continue;
            }
            let plane = if a >= b { fine } else { wide };
            if let Some(point) = on_ridge(plane, x, y, strength) {
                points.push(point);
            }
        }
    }
    points
}

/// Scale-normalised curvature across the darkest direction, zero where the
/// plane is not ridge-like.
pub(crate) fn response(plane: &Plane, sigma: f32) -> Plane {
    let (width, height) = (plane.width, plane.height);
    let mut out = Plane::new(width, height, 0.0);
    let norm = sigma * sigma;
    for y in 1..height.saturating_sub(1) {
        let row = |y: usize| &plane.data[y * width..(y + 1) * width];
        let (above, own, below) = (row(y - 1), row(y), row(y + 1));
        let out = &mut out.data[y * width + 1..(y + 1) * width - 1];
        let around = above.windows(3).zip(own.windows(3)).zip(below.windows(3));
        for (((above, own), below), out) in around.zip(out) {
            let xx = own[0] - 2.0 * own[1] + own[2];
            let yy = above[1] - 2.0 * own[1] + below[1];
            let xy = 0.25 * (below[2] + above[0] - above[2] - below[0]);
            let spread = (0.25 * (xx - yy) * (xx - yy) + xy * xy).sqrt();
            let low = 0.5 * (xx + yy) - spread;
            let high = 0.5 * (xx + yy) + spread;
            // Along a stroke nothing changes; a blob curves both ways.
            *out = norm * (-low - high.abs() * 0.5).max(0.0);
        }
    }
    out
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
    /// the blocks; larger than the picture for one grain all over.
    pub(crate) fn of(answers: &Plane, share: f32, block_px: usize) -> Grain {
        let Plane { width, height, data } = answers;
        let (columns, rows) = (width.div_ceil(block_px), height.div_ceil(block_px));
        let mut blocks = Plane::new(columns, rows, 0.0);
        let mut sample = Vec::new();
        for (block, grain) in blocks.data.iter_mut().enumerate() {
            let (row, column) = (block / columns, block % columns);
            let from = column * block_px;
            let to = (from + block_px).min(*width);
            sample.clear();
            for y in (row * block_px..((row + 1) * block_px).min(*height)).step_by(3) {
                sample.extend(data[y * width + from..y * width + to].iter().step_by(3));
            }
            let at = floor_px(share * sample.len() as f32).min(sample.len() - 1);
            *grain = *sample.select_nth_unstable_by(at, f32::total_cmp).1;
        }
        Grain { blocks: blocks.blurred(0.8), block_px }
    }

    /// The grain at a pixel.
    pub(crate) fn at(&self, x: usize, y: usize) -> f32 {
        let place = |v: usize| (v as f32 + 0.5) / self.block_px as f32 - 0.5;
        self.blocks.between(place(x), place(y))
    }
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

//! Stage 3: strokes as ridge points, each with a sub-pixel position, a
//! direction and a strength.
//! Method: curvilinear structures by the Hessian (Steger, "An unbiased
//! detector of curvilinear structures", IEEE PAMI 20, 1998) at two widths, the
//! stronger one kept (scale selection after Lindeberg, "Edge detection and
//! ridge detection with automatic scale selection", IJCV 30, 1998). Second
//! derivatives are differences of a blurred plane.

use crate::raster::Plane;

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

/// How strokes are looked for.
#[derive(Clone, Copy, Debug)]
pub(crate) struct InkOptions {
    /// Blurs in pixels; a stroke of width w answers most at about w/2.
    pub(crate) sigmas_px: [f32; 2],
    /// Weakest strength kept, in multiples of the paper's grain (see
    /// [`grain`]): below about 2, grain passes for ink.
    pub(crate) over_grain: f32,
}

/// The ridge points of a darkness plane, and the noise level they stand over
/// (the paper's grain).
pub(crate) fn ridge_points(darkness: &Plane, options: &InkOptions) -> (Vec<RidgePoint>, f32) {
    let [fine, wide] = options.sigmas_px;
    let first = darkness.blurred(fine);
    let second = first.blurred((wide * wide - fine * fine).sqrt());
    let responses = [response(&first, fine), response(&second, wide)];
    let noise = grain(&responses[0]);
    let floor = (noise * options.over_grain).max(1e-4);
    let (width, height) = (darkness.width, darkness.height);
    let mut points = Vec::new();
    for y in 2..height - 2 {
        for x in 2..width - 2 {
            let (a, b) = (responses[0].at(x, y), responses[1].at(x, y));
            let strength = a.max(b);
            if strength < floor {
                continue;
            }
            let plane = if a >= b { &first } else { &second };
            if let Some(point) = on_ridge(plane, x, y, strength) {
                points.push(point);
            }
        }
    }
    (points, noise)
}

/// Scale-normalised curvature across the darkest direction, zero where the
/// plane is not ridge-like.
fn response(plane: &Plane, sigma: f32) -> Plane {
    let (width, height) = (plane.width, plane.height);
    let mut out = Plane::new(width, height, 0.0);
    let norm = sigma * sigma;
    for y in 1..height - 1 {
        for x in 1..width - 1 {
            let [xx, yy, xy] = hessian(plane, x, y);
            let spread = (0.25 * (xx - yy) * (xx - yy) + xy * xy).sqrt();
            let low = 0.5 * (xx + yy) - spread;
            let high = 0.5 * (xx + yy) + spread;
            // Along a stroke nothing changes; a blob curves both ways.
            out.data[y * width + x] = norm * (-low - high.abs() * 0.5).max(0.0);
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
    let angle = 0.5 * (2.0 * xy).atan2(xx - yy);
    let (sin, cos) = angle.sin_cos();
    // One of the two axes of the Hessian; the one across has the lower curvature.
    let along_first = xx * cos * cos + 2.0 * xy * sin * cos + yy * sin * sin;
    let along_second = xx * sin * sin - 2.0 * xy * sin * cos + yy * cos * cos;
    let (nx, ny, curvature) =
        if along_first < along_second { (cos, sin, along_first) } else { (-sin, cos, along_second) };
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

/// The level that three quarters of the plane stay under: on noisy paper half
/// of all responses are positive, so this is their median; on a clean scan it
/// is next to nothing.
fn grain(plane: &Plane) -> f32 {
    let mut sample: Vec<f32> = plane.data.iter().step_by(7).copied().collect();
    let at = sample.len() * 3 / 4;
    *sample.select_nth_unstable_by(at, f32::total_cmp).1
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
        let (points, _) = ridge_points(&plane, &InkOptions { sigmas_px: [1.5, 2.4], over_grain: 2.2 });
        let inside: Vec<_> = points.iter().filter(|p| p.x > 10.0 && p.x < 70.0 && p.strength > 0.1).collect();
        assert!(inside.len() >= 60, "{}", inside.len());
        for p in inside {
            assert!((p.y - 20.3 - p.x / 4.0).abs() < 0.1, "{p:?}");
            assert!((p.ty / p.tx - 0.25).abs() < 0.05, "{p:?}");
        }
    }
}

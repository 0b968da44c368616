//! Planes of numbers and the few filters that the stages share. All filters
//! are separable and run in one pass over rows and one over columns; beyond
//! the border the nearest value is repeated.

/// A grey picture of real numbers, row by row.
#[derive(Clone, Debug)]
pub(crate) struct Plane {
    /// Pixels in a row.
    pub(crate) width: usize,
    /// Rows.
    pub(crate) height: usize,
    /// Row after row.
    pub(crate) data: Vec<f32>,
}

impl Plane {
    /// A plane filled with one value.
    pub(crate) fn new(width: usize, height: usize, value: f32) -> Plane {
        Plane { width, height, data: vec![value; width * height] }
    }

    /// The value at a pixel.
    #[inline]
    pub(crate) fn at(&self, x: usize, y: usize) -> f32 {
        self.data[y * self.width + x]
    }

    /// The value between pixels, by the four around; the border repeats.
    /// Coordinates count pixel centres as whole numbers.
    #[inline]
    pub(crate) fn between(&self, x: f32, y: f32) -> f32 {
        let (x, y) = (x.clamp(0.0, (self.width - 1) as f32), y.clamp(0.0, (self.height - 1) as f32));
        let (x0, y0) = (floor_px(x), floor_px(y));
        let (x1, y1) = ((x0 + 1).min(self.width - 1), (y0 + 1).min(self.height - 1));
        let (fx, fy) = (x - x0 as f32, y - y0 as f32);
        let top = self.at(x0, y0) * (1.0 - fx) + self.at(x1, y0) * fx;
        let bottom = self.at(x0, y1) * (1.0 - fx) + self.at(x1, y1) * fx;
        top * (1.0 - fy) + bottom * fy
    }

    /// Blurred by a Gaussian of `sigma` pixels.
    pub(crate) fn blurred(&self, sigma: f32) -> Plane {
        let kernel = gaussian(sigma);
        let mut rows = Plane::new(self.width, self.height, 0.0);
        convolve_rows(self, &kernel, &mut rows);
        let mut out = Plane::new(self.width, self.height, 0.0);
        convolve_columns(&rows, &kernel, &mut out);
        out
    }

    /// The largest value within `radius` pixels in both directions.
    pub(crate) fn dilated(&self, radius: usize) -> Plane {
        self.extreme(radius, f32::max)
    }

    /// The smallest value within `radius` pixels in both directions.
    pub(crate) fn eroded(&self, radius: usize) -> Plane {
        self.extreme(radius, f32::min)
    }

    fn extreme(&self, radius: usize, pick: fn(f32, f32) -> f32) -> Plane {
        let mut rows = Plane::new(self.width, self.height, 0.0);
        let mut scratch = Scratch::default();
        for (from, to) in self.data.chunks_exact(self.width).zip(rows.data.chunks_exact_mut(self.width)) {
            scratch.window(from, radius, pick, to);
        }
        // Columns a block at a time, so that memory is read along its rows.
        let mut out = Plane::new(self.width, self.height, 0.0);
        let (mut column, mut result) = (vec![0.0; self.height], vec![0.0; self.height]);
        for x in 0..self.width {
            for (y, value) in column.iter_mut().enumerate() {
                *value = rows.data[y * self.width + x];
            }
            scratch.window(&column, radius, pick, &mut result);
            for (y, value) in result.iter().enumerate() {
                out.data[y * self.width + x] = *value;
            }
        }
        out
    }
}

/// Rounds a non-negative coordinate down to a pixel.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "callers clamp to the plane first"
)]
#[inline]
pub(crate) fn floor_px(v: f32) -> usize {
    v as usize
}

/// Rounds a coordinate to the nearest whole number.
#[expect(clippy::cast_possible_truncation, reason = "picture coordinates are far inside i32")]
#[inline]
pub(crate) fn round_px(v: f64) -> i32 {
    v.round() as i32
}

/// Running extremes by van Herk's and Gil and Werman's two-pass method: three
/// comparisons a value, whatever the radius.
#[derive(Default)]
struct Scratch {
    forward: Vec<f32>,
    backward: Vec<f32>,
}

impl Scratch {
    fn window(&mut self, line: &[f32], radius: usize, pick: fn(f32, f32) -> f32, out: &mut [f32]) {
        let (n, size) = (line.len(), 2 * radius + 1);
        let padded = n + 2 * radius;
        let value = |i: usize| line[i.saturating_sub(radius).min(n - 1)];
        self.forward.resize(padded, 0.0);
        self.backward.resize(padded, 0.0);
        for i in 0..padded {
            self.forward[i] = if i % size == 0 { value(i) } else { pick(self.forward[i - 1], value(i)) };
        }
        for i in (0..padded).rev() {
            let block_ends = i % size == size - 1 || i == padded - 1;
            self.backward[i] = if block_ends { value(i) } else { pick(self.backward[i + 1], value(i)) };
        }
        for (i, out) in out.iter_mut().enumerate() {
            *out = pick(self.backward[i], self.forward[i + size - 1]);
        }
    }
}

/// A Gaussian's weights out to three sigma, summing to one.
fn gaussian(sigma: f32) -> Vec<f32> {
    let radius = floor_px((3.0 * sigma).ceil()).max(1);
    let mut kernel: Vec<f32> =
        (0..=2 * radius).map(|i| (-0.5 * ((i as f32 - radius as f32) / sigma).powi(2)).exp()).collect();
    let total: f32 = kernel.iter().sum();
    for weight in &mut kernel {
        *weight /= total;
    }
    kernel
}

fn convolve_rows(from: &Plane, kernel: &[f32], to: &mut Plane) {
    let radius = kernel.len() / 2;
    let mut padded = vec![0.0f32; from.width + 2 * radius];
    for (row, out) in from.data.chunks_exact(from.width).zip(to.data.chunks_exact_mut(from.width)) {
        padded[..radius].fill(row[0]);
        padded[radius..radius + from.width].copy_from_slice(row);
        padded[radius + from.width..].fill(row[from.width - 1]);
        weigh(kernel, |k| &padded[k..k + from.width], out);
    }
}

fn convolve_columns(from: &Plane, kernel: &[f32], to: &mut Plane) {
    let radius = kernel.len() / 2;
    for (y, out) in to.data.chunks_exact_mut(from.width).enumerate() {
        let row = |k: usize| {
            let source = (y + k).saturating_sub(radius).min(from.height - 1);
            &from.data[source * from.width..(source + 1) * from.width]
        };
        weigh(kernel, row, out);
    }
}

/// Sums rows of values by the weights of a symmetric kernel, two rows of the
/// same weight at a time.
fn weigh<'a>(kernel: &[f32], row: impl Fn(usize) -> &'a [f32], out: &mut [f32]) {
    let radius = kernel.len() / 2;
    for (out, value) in out.iter_mut().zip(row(radius)) {
        *out = kernel[radius] * value;
    }
    for (k, weight) in kernel.iter().enumerate().take(radius) {
        for ((out, a), b) in out.iter_mut().zip(row(k)).zip(row(2 * radius - k)) {
            *out += weight * (a + b);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp() -> Plane {
        let data = (0..7 * 5).map(|i| ((i * 37) % 11) as f32).collect();
        Plane { width: 7, height: 5, data }
    }

    #[test]
    fn running_extremes_agree_with_looking_at_every_neighbour() {
        let plane = ramp();
        for radius in 1..5usize {
            let (high, low) = (plane.dilated(radius), plane.eroded(radius));
            for y in 0..plane.height {
                for x in 0..plane.width {
                    let around =
                        (y.saturating_sub(radius)..=(y + radius).min(plane.height - 1)).flat_map(|v| {
                            (x.saturating_sub(radius)..=(x + radius).min(plane.width - 1))
                                .map(move |u| (u, v))
                        });
                    let values: Vec<f32> = around.map(|(u, v)| plane.at(u, v)).collect();
                    let (most, least) =
                        values.iter().fold((f32::MIN, f32::MAX), |(m, l), v| (m.max(*v), l.min(*v)));
                    assert!((high.at(x, y) - most).abs() < 1e-6 && (low.at(x, y) - least).abs() < 1e-6);
                }
            }
        }
    }

    #[test]
    fn a_blur_keeps_a_flat_plane_flat() {
        let blurred = Plane::new(9, 6, 3.5).blurred(2.0);
        assert!(blurred.data.iter().all(|value| (value - 3.5).abs() < 1e-4));
    }
}

//! Planes of numbers and the few filters that the stages share. All filters
//! are separable and run in one pass over rows and one over columns; beyond
//! the border the nearest value is repeated.

use crate::wide::{Work, wide};

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

    /// Blurred by a Gaussian of `sigma` pixels. The rows that a row of the
    /// outcome needs are kept in a ring, so that no second plane is written.
    pub(crate) fn blurred(&self, sigma: f32) -> Plane {
        let kernel = gaussian(sigma);
        let radius = kernel.len() / 2;
        let (width, size, last) = (self.width, kernel.len(), self.height.saturating_sub(1));
        let mut out = Plane::new(width, self.height, 0.0);
        let mut ring = vec![0.0f32; size * width];
        let mut padded = vec![0.0f32; width + 2 * radius];
        let mut next = 0;
        for (y, to) in out.data.chunks_exact_mut(width.max(1)).enumerate() {
            while next <= (y + radius).min(last) {
                let slot = next % size * width;
                let row = &self.data[next * width..(next + 1) * width];
                padded[..radius].fill(row[0]);
                padded[radius..radius + width].copy_from_slice(row);
                padded[radius + width..].fill(row[width - 1]);
                weigh(&kernel, |k| &padded[k..k + width], &mut ring[slot..slot + width]);
                next += 1;
            }
            let row = |k: usize| {
                let slot = (y + k).saturating_sub(radius).min(last) % size * width;
                &ring[slot..slot + width]
            };
            weigh(&kernel, row, to);
        }
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

    /// Running extremes by van Herk's and Gil and Werman's two-pass method:
    /// three comparisons a value, whatever the radius.
    fn extreme(&self, radius: usize, pick: impl Fn(f32, f32) -> f32 + Copy) -> Plane {
        let (width, height, size) = (self.width, self.height, 2 * radius + 1);
        let mut rows = Plane::new(width, height, 0.0);
        let mut scratch = Scratch::default();
        for (from, to) in self.data.chunks_exact(width).zip(rows.data.chunks_exact_mut(width)) {
            scratch.window(from, radius, pick, to);
        }
        // Columns all at once: whole rows are compared with each other.
        let padded = height + 2 * radius;
        let row = |i: usize| {
            let y = i.saturating_sub(radius).min(height - 1);
            &rows.data[y * width..(y + 1) * width]
        };
        let mut backward = vec![0.0f32; padded * width];
        for i in (0..padded).rev() {
            let (head, tail) = backward.split_at_mut((i + 1) * width);
            let to = &mut head[i * width..];
            if i % size == size - 1 || i == padded - 1 {
                to.copy_from_slice(row(i));
            } else {
                for ((to, below), own) in to.iter_mut().zip(&tail[..width]).zip(row(i)) {
                    *to = pick(*below, *own);
                }
            }
        }
        let mut out = Plane::new(width, height, 0.0);
        let mut forward = vec![0.0f32; width];
        for i in 0..padded {
            if i % size == 0 {
                forward.copy_from_slice(row(i));
            } else {
                for (to, own) in forward.iter_mut().zip(row(i)) {
                    *to = pick(*to, *own);
                }
            }
            if let Some(y) = (i + 1).checked_sub(size) {
                let to = &mut out.data[y * width..(y + 1) * width];
                for ((to, a), b) in to.iter_mut().zip(&backward[y * width..]).zip(&forward) {
                    *to = pick(*a, *b);
                }
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

/// Running extremes along one line, see [`Plane::extreme`].
#[derive(Default)]
struct Scratch {
    forward: Vec<f32>,
    backward: Vec<f32>,
}

impl Scratch {
    fn window(&mut self, line: &[f32], radius: usize, pick: impl Fn(f32, f32) -> f32, out: &mut [f32]) {
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

/// Sums rows of values by the weights of a symmetric kernel, two rows of the
/// same weight at a time.
fn weigh<'a>(kernel: &[f32], row: impl Fn(usize) -> &'a [f32], out: &mut [f32]) {
    let radius = kernel.len() / 2;
    let pairs: Vec<(f32, &[f32], &[f32])> =
        (0..radius).map(|k| (kernel[k], row(k), row(2 * radius - k))).collect();
    wide(WeightedSum { middle: (kernel[radius], row(radius)), pairs: &pairs, out });
}

/// See [`weigh`].
struct WeightedSum<'a> {
    middle: (f32, &'a [f32]),
    pairs: &'a [(f32, &'a [f32], &'a [f32])],
    out: &'a mut [f32],
}

impl Work for WeightedSum<'_> {
    type Out = ();

    /// A few columns together, so that their sums stay in registers.
    #[inline(always)]
    fn run(self) {
        /// Columns taken together.
        const LANES: usize = 32;
        let (own, middle) = self.middle;
        let (chunks, rest) = self.out.as_chunks_mut::<LANES>();
        for (chunk, out) in chunks.iter_mut().enumerate() {
            let columns = chunk * LANES..(chunk + 1) * LANES;
            let mut sums = [0.0f32; LANES];
            for (sum, value) in sums.iter_mut().zip(&middle[columns.clone()]) {
                *sum = own * value;
            }
            for (weight, a, b) in self.pairs {
                for ((sum, a), b) in sums.iter_mut().zip(&a[columns.clone()]).zip(&b[columns.clone()]) {
                    *sum += weight * (a + b);
                }
            }
            out.copy_from_slice(&sums);
        }
        let first = chunks.len() * LANES;
        for (x, out) in rest.iter_mut().enumerate() {
            let mut sum = own * middle[first + x];
            for (weight, a, b) in self.pairs {
                sum += weight * (a[first + x] + b[first + x]);
            }
            *out = sum;
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

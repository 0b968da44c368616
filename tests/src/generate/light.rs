//! What happens between the page and the file: light and shadows, the lens,
//! the sensor, and what lies in the way.

use super::canvas::{Canvas, Colour, byte, single};
use super::dice::{Dice, mix};
use super::plane::{Point, distance, inside, to_segment};

/// How a picture was lit and taken.
#[derive(Clone, Debug)]
pub(super) struct Light {
    /// Colour and strength of the light, per channel.
    pub(super) tint: Colour,
    /// Brightness gain from one side to the other, share per picture width.
    pub(super) slope: Point,
    /// Loss in the corners, share.
    pub(super) vignette: f64,
    /// Shadows of a head, hand or phone: outline (pixels), softness (pixels), depth.
    pub(super) shadows: Vec<(Vec<Point>, f64, f64)>,
    /// Bright reflections: middle, radius (pixels), strength.
    pub(super) glare: Vec<(Point, f64, f64)>,
}

/// A field given on every 16th pixel, smooth between.
struct Field {
    columns: usize,
    values: Vec<f32>,
}

/// Distance of the field's points, pixels: shadows are softer than that.
const COARSE: usize = 16;

impl Field {
    fn new(width: usize, height: usize, mut value: impl FnMut(Point) -> f64) -> Field {
        let (columns, rows) = (width / COARSE + 2, height / COARSE + 2);
        let mut values = Vec::with_capacity(columns * rows);
        for row in 0..rows {
            for column in 0..columns {
                values.push(single(value([(column * COARSE) as f64, (row * COARSE) as f64])));
            }
        }
        Field { columns, values }
    }

    fn row(&self, y: usize, line: &mut [f32]) {
        let (j, v) = (y / COARSE, (y % COARSE) as f32 / COARSE as f32);
        for (x, out) in line.iter_mut().enumerate() {
            let (i, u) = (x / COARSE, (x % COARSE) as f32 / COARSE as f32);
            let at = j * self.columns + i;
            let (a, b) = (self.values[at], self.values[at + 1]);
            let (c, d) = (self.values[at + self.columns], self.values[at + self.columns + 1]);
            *out = (a + (b - a) * u) * (1.0 - v) + (c + (d - c) * u) * v;
        }
    }
}

/// Lights the picture.
pub(super) fn shine(canvas: &mut Canvas, light: &Light) {
    let (width, height) = (canvas.width as f64, canvas.height as f64);
    let middle = [width / 2.0, height / 2.0];
    let reach = middle[0].hypot(middle[1]);
    let field = Field::new(canvas.width, canvas.height, |p| {
        let away = distance(p, middle) / reach;
        let mut bright = 1.0 + light.slope[0] * (p[0] / width - 0.5) + light.slope[1] * (p[1] / height - 0.5);
        bright *= 1.0 - light.vignette * away * away;
        for (outline, soft, depth) in &light.shadows {
            let edge =
                super::plane::edges(outline).map(|(a, b)| to_segment(p, a, b)).fold(f64::MAX, f64::min);
            let signed = if inside(outline, p) { edge } else { -edge };
            bright *= 1.0 - depth / (1.0 + (-signed / soft * 2.0).exp());
        }
        bright
    });
    let shine = Field::new(canvas.width, canvas.height, |p| {
        light
            .glare
            .iter()
            .map(|(at, radius, strength)| {
                let t = distance(p, *at) / radius;
                strength * ((-t * t).exp() + 0.25 * (-t * 0.8).exp())
            })
            .sum()
    });
    let (mut brightness, mut glare) = (vec![0.0; canvas.width], vec![0.0; canvas.width]);
    for y in 0..canvas.height {
        field.row(y, &mut brightness);
        shine.row(y, &mut glare);
        for (x, pixel) in canvas.pixels[y * canvas.width..(y + 1) * canvas.width].iter_mut().enumerate() {
            for (c, value) in pixel.iter_mut().enumerate() {
                let lit = *value * brightness[x] * light.tint[c];
                *value = lit + (1.02 - lit) * glare[x].min(1.0);
            }
        }
    }
}

/// Blurs with a Gaussian of `sigma` pixels, both ways.
pub(super) fn defocus(canvas: &mut Canvas, sigma: f64) {
    if sigma < 0.2 {
        return;
    }
    let taps = gaussian(sigma);
    let (width, height) = (canvas.width, canvas.height);
    let reach = taps.len() - 1;
    let mut line: Vec<Colour> = vec![[0.0; 3]; width + 2 * reach];
    for row in canvas.pixels.chunks_exact_mut(width) {
        line[reach..reach + width].copy_from_slice(row);
        line[..reach].fill(row[0]);
        line[reach + width..].fill(row[width - 1]);
        for (x, out) in row.iter_mut().enumerate() {
            let mut sum = line[x + reach].map(|v| v * taps[0]);
            for (k, tap) in taps.iter().enumerate().skip(1) {
                let (before, after) = (line[x + reach - k], line[x + reach + k]);
                for c in 0..3 {
                    sum[c] += tap * (before[c] + after[c]);
                }
            }
            *out = sum;
        }
    }
    // Columns, row by row, so that memory is read in order.
    let source = canvas.pixels.clone();
    for y in 0..height {
        let out = &mut canvas.pixels[y * width..(y + 1) * width];
        for (pixel, from) in out.iter_mut().zip(&source[y * width..]) {
            *pixel = from.map(|v| v * taps[0]);
        }
        for (k, tap) in taps.iter().enumerate().skip(1) {
            let (up, down) = (y.saturating_sub(k) * width, (y + k).min(height - 1) * width);
            for (x, pixel) in out.iter_mut().enumerate() {
                let (a, b) = (source[up + x], source[down + x]);
                for c in 0..3 {
                    pixel[c] += tap * (a[c] + b[c]);
                }
            }
        }
    }
}

fn gaussian(sigma: f64) -> Vec<f32> {
    let mut taps = Vec::new();
    let mut k = 0.0;
    while k <= (sigma * 2.6).ceil() {
        taps.push((-0.5 * (k / sigma).powi(2)).exp());
        k += 1.0;
    }
    let total = 2.0 * taps.iter().sum::<f64>() - taps[0];
    taps.iter().map(|tap| single(tap / total)).collect()
}

/// Smears along a direction, `length` pixels long: a hand that moved.
pub(super) fn shake(canvas: &mut Canvas, length: f64, angle_deg: f64) {
    let (s, c) = angle_deg.to_radians().sin_cos();
    let taps = (length.ceil()).max(2.0);
    let (width, height) = (canvas.width, canvas.height);
    let source = canvas.pixels.clone();
    let mut offsets = Vec::new();
    let mut k = 0.0;
    while k < taps {
        let t = (k / (taps - 1.0) - 0.5) * length;
        offsets.push(((t * c).round(), (t * s).round()));
        k += 1.0;
    }
    let share = single(1.0 / taps);
    for y in 0..height {
        for x in 0..width {
            let mut sum = [0.0; 3];
            for (dx, dy) in &offsets {
                let from_x = super::canvas::pixel(x as f64 + dx, width - 1);
                let from_y = super::canvas::pixel(y as f64 + dy, height - 1);
                let from = source[from_y * width + from_x];
                for channel in 0..3 {
                    sum[channel] += from[channel] * share;
                }
            }
            canvas.pixels[y * width + x] = sum;
        }
    }
}

/// The picture as bytes, with the sensor's noise of `sd` (of 255).
pub(super) fn expose(dice: &mut Dice, canvas: &Canvas, sd: f64, grey: bool) -> Vec<u8> {
    let seed = dice.seed();
    // Four bytes' sum has an sd of 147.8; three channels share most of their noise.
    let scale = single(sd / 255.0 / 147.8);
    let bell = |bits: u64| {
        let four = bits.to_le_bytes();
        let sum: u16 = four[..4].iter().map(|b| u16::from(*b)).sum();
        f32::from(sum) - 510.0
    };
    let mut bytes = Vec::with_capacity(canvas.pixels.len() * 3);
    for (at, pixel) in canvas.pixels.iter().enumerate() {
        let shared = mix(seed ^ at as u64);
        let own = mix(shared);
        let noise = [
            bell(shared >> 32) + 0.4 * bell(shared),
            bell(shared >> 32) + 0.4 * bell(own),
            bell(shared >> 32) + 0.4 * bell(own >> 32),
        ];
        if grey {
            let value = byte(0.299 * pixel[0] + 0.587 * pixel[1] + 0.114 * pixel[2] + noise[0] * scale);
            bytes.extend([value; 3]);
        } else {
            bytes.extend([0, 1, 2].map(|c| byte(pixel[c] + noise[c] * scale)));
        }
    }
    bytes
}

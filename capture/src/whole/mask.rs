//! Ink told from paper on a whole drawing.
//! Method: a stroke answers the second derivative across it (Steger, "An
//! unbiased detector of curvilinear structures", IEEE PAMI 20, 1998); what
//! answers at least a share of what the drawing's pen does is ink. Printed
//! rulings answer less than the pen as a rule and fall below the higher levels.
//! The pen's own answer is the median of all answers weighted by their squares.

use crate::bits::Bits;
use crate::geometry::Point;
use crate::ink::response;
use crate::raster::{Plane, floor_px, round_px};
use crate::rectify::{MARGIN_IN, PX_PER_IN, Rectified};
use crate::tone::Tone;

/// Shares of the pen's own answer above which a pixel is ink.
pub(super) const LEVELS: [f32; 3] = [0.3, 0.45, 0.65];
/// Steps of strength that the pen's own answer counts for: what answers two
/// and a half times as much is as strong as can be.
const PEN_STEPS: f32 = 100.0;
/// Strokes up to twice this wide are ink, in pixels: the solid ring around a
/// small circle is a dozen pixels wide.
const REACH_PX: usize = 16;
/// Blurs in pixels at which strokes are looked for: pens and felt pens.
const SIGMAS_PX: [f32; 2] = [1.5, 2.4];

/// How strongly each pixel answers as a stroke, in [`PEN_STEPS`].
pub(super) struct Ink {
    width: usize,
    strength: Vec<u8>,
}

/// The strength that half of the squared answers stay below: paper, which is
/// most of the picture, has no say in it, and few blots have not much.
fn pen(strength: &Plane) -> f32 {
    /// Steps of strength told apart.
    const STEPS: f32 = 500.0;
    let mut sums = vec![0.0f64; 2001];
    for value in &strength.data {
        sums[floor_px((value * STEPS).min(2000.0))] += f64::from(value * value);
    }
    let half = 0.5 * sums.iter().sum::<f64>();
    let mut sum = 0.0;
    let at = sums.iter().position(|part| {
        sum += part;
        sum >= half
    });
    at.unwrap_or(0) as f32 / STEPS
}

impl Ink {
    /// The strokes of a drawing.
    pub(super) fn of(drawing: &Rectified) -> Ink {
        let darkness = Tone::of(&drawing.picture, REACH_PX).darkness();
        let [fine, wide] = SIGMAS_PX;
        let first = darkness.blurred(fine);
        let second = first.blurred((wide * wide - fine * fine).sqrt());
        let mut strength = response(&first, fine);
        for (value, other) in strength.data.iter_mut().zip(response(&second, wide).data) {
            *value = value.max(other);
        }
        // What lies beyond the photo is no drawing.
        let margin = usize::try_from(round_px(MARGIN_IN * PX_PER_IN)).unwrap_or(0) + 2;
        let (width, height) = (strength.width, strength.height);
        for (y, row) in strength.data.chunks_exact_mut(width).enumerate() {
            if y < margin || y + margin >= height {
                row.fill(0.0);
            } else {
                row[..margin].fill(0.0);
                row[width - margin..].fill(0.0);
            }
        }
        let scale = PEN_STEPS / pen(&strength).max(1e-3);
        let steps = |value: &f32| u8::try_from(floor_px((value * scale).min(255.0))).unwrap_or(u8::MAX);
        Ink { width, strength: strength.data.iter().map(steps).collect() }
    }

    /// The ink above a share of the pen's answer.
    pub(super) fn above(&self, level: f32) -> Bits {
        let least = u8::try_from(floor_px(level * PEN_STEPS)).unwrap_or(u8::MAX);
        Bits::at_least(&self.strength, self.width, least)
    }

    /// The strongest ink around every pixel.
    pub(super) fn nearness(self) -> Near {
        let width = self.width;
        let one = dilated(&self.strength, width, 1);
        let some = dilated(&one, width, 2);
        let more = dilated(&some, width, 3);
        Near { width, one, some, more }
    }
}

/// The largest value within `radius` pixels, at most 3, in both directions.
fn dilated(values: &[u8], width: usize, radius: usize) -> Vec<u8> {
    let mut rows = values.to_vec();
    for (row, out) in values.chunks_exact(width).zip(rows.chunks_exact_mut(width)) {
        for by in 1..=radius.min(width - 1) {
            most(&mut out[by..], row);
            most(out, &row[by..]);
        }
    }
    let mut out = rows.clone();
    for by in (1..=radius).map(|rows| rows * width).filter(|by| *by < values.len()) {
        most(&mut out[by..], &rows);
        most(&mut out, &rows[by..]);
    }
    out
}

/// Keeps the larger of each two values.
fn most(out: &mut [u8], other: &[u8]) {
    for (out, other) in out.iter_mut().zip(other) {
        *out = (*out).max(*other);
    }
}

/// The strongest ink within some distances of every pixel.
pub(super) struct Near {
    width: usize,
    one: Vec<u8>,
    some: Vec<u8>,
    more: Vec<u8>,
}

impl Near {
    /// The strongest ink about within `reach` pixels of a place, as a share of
    /// the pen.
    pub(super) fn strongest(&self, at: Point, reach: f64) -> f64 {
        let plane = if reach < 2.0 {
            &self.one
        } else if reach < 3.5 {
            &self.some
        } else {
            &self.more
        };
        let inside = |v: f64, most: usize| usize::try_from(round_px(v)).unwrap_or(0).min(most - 1);
        let height = plane.len() / self.width;
        let step = plane[inside(at[1], height) * self.width + inside(at[0], self.width)];
        f64::from(step) / f64::from(PEN_STEPS)
    }
}

//! Stage 5: the card square-on. A homography takes card inches to photo
//! pixels; the card is sampled at a fixed resolution with some page around it,
//! so from here on an inch is the same everywhere.
//! Method: inverse mapping with bilinear samples from the smallest picture
//! that still holds the detail (Wolberg, "Digital Image Warping", 1990).

use image::RgbImage;

use crate::geometry::{Homography, Point};

/// Pixels of an inch on the rectified card: a sixteenth is eight of them.
pub(crate) const PX_PER_IN: f64 = 128.0;
/// Page kept around the card, in inches.
pub(crate) const MARGIN_IN: f64 = 0.4;

/// A card seen square-on.
pub(crate) struct Rectified {
    /// Its picture: the card with a margin around it.
    pub(crate) picture: RgbImage,
    /// From inches on the card to the photo's pixels.
    pub(crate) to_photo: Homography,
    /// Width and height of the card in inches.
    pub(crate) size_in: [f64; 2],
}

/// Samples the card between four corners, given in the photo's upright pixels.
/// `sources` are copies of the photo, smallest first, each with its scale:
/// pixels of the photo per pixel of the copy.
pub(crate) fn square_on(
    sources: &[(&RgbImage, [f64; 2])],
    corners: [Point; 4],
    size_in: [f64; 2],
) -> Option<Rectified> {
    let [width, height] = size_in;
    let card = [[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]];
    let to_photo = Homography::between(card, corners)?;
    let across =
        crate::geometry::distance(corners[0], corners[2]) + crate::geometry::distance(corners[1], corners[3]);
    let photo_px_per_in = across / (2.0 * width.hypot(height));
    let around = Around {
        left_top_in: [-MARGIN_IN, -MARGIN_IN],
        size_in: [width + 2.0 * MARGIN_IN, height + 2.0 * MARGIN_IN],
        px_per_in: PX_PER_IN,
    };
    let picture = sample(sources, &to_photo, photo_px_per_in, around)?;
    Some(Rectified { picture, to_photo, size_in })
}

/// A part of the card's plane: where it starts, how large it is, and how fine
/// it is sampled.
#[derive(Clone, Copy, Debug)]
#[expect(clippy::struct_field_names, reason = "the unit is in the name")]
pub(crate) struct Around {
    /// Its left and top, inches from the card's top-left corner.
    pub(crate) left_top_in: [f64; 2],
    /// Its width and height in inches.
    pub(crate) size_in: [f64; 2],
    /// Pixels of an inch.
    pub(crate) px_per_in: f64,
}

/// A part of the card's plane as a picture; `photo_px_per_in` tells how fine
/// the photo is there.
pub(crate) fn sample(
    sources: &[(&RgbImage, [f64; 2])],
    to_photo: &Homography,
    photo_px_per_in: f64,
    around: Around,
) -> Option<RgbImage> {
    // Finer than nine tenths of the target is as good as it.
    let (source, scale) = sources
        .iter()
        .find(|(_, scale)| photo_px_per_in / scale[0].max(scale[1]) >= 0.9 * around.px_per_in)
        .or(sources.last())?;
    let side =
        |inches: f64| u32::try_from(crate::raster::round_px(inches * around.px_per_in).max(1)).unwrap_or(1);
    let mut picture = RgbImage::new(side(around.size_in[0]), side(around.size_in[1]));
    let h = to_photo.rows();
    let step = 1.0 / around.px_per_in;
    let width = picture.width() as usize;
    // Where a pixel of the part lies on the copy; pixel centres are whole numbers there.
    let place = |i: usize, j: usize| {
        let x = (i as f64 + 0.5) * step + around.left_top_in[0];
        let y = (j as f64 + 0.5) * step + around.left_top_in[1];
        let w = h[2][0] * x + h[2][1] * y + h[2][2];
        let at = |k: usize| (h[k][0] * x + h[k][1] * y + h[k][2]) / w / scale[k] - 0.5;
        [at(0), at(1)]
    };
    let source = Source::of(source);
    for (j, row) in picture.chunks_exact_mut(3 * width).enumerate() {
        let mut from = place(0, j);
        for (span, pixels) in row.chunks_mut(3 * SPAN_PX).enumerate() {
            let pixels = pixels.as_chunks_mut::<3>().0;
            let to = place(span * SPAN_PX + pixels.len(), j);
            if from.iter().chain(&to).all(|v| v.is_finite()) {
                source.along(from, to, pixels);
            }
            from = to;
        }
    }
    Some(picture)
}

/// A row is followed straight over so many pixels; a camera's view bends by less
/// than a hundredth of a pixel on the way.
const SPAN_PX: usize = 16;

/// A picture that is sampled between its pixels.
struct Source<'a> {
    raw: &'a [u8],
    width: usize,
    /// Right-most and lowest pixel.
    last: [f64; 2],
}

impl Source<'_> {
    fn of(picture: &RgbImage) -> Source<'_> {
        let last = [picture.width(), picture.height()].map(|side| f64::from(side.max(2) - 1));
        Source { raw: picture.as_raw(), width: picture.width() as usize, last }
    }

    /// Samples at even steps from one place towards another; beyond the border
    /// the nearest pixel is repeated.
    fn along(&self, from: [f64; 2], to: [f64; 2], pixels: &mut [[u8; 3]]) {
        let count = pixels.len() as f64;
        // A little less, for what rounding adds up to.
        let inside = (0..2).all(|k| from[k].min(to[k]) >= 0.01 && from[k].max(to[k]) < self.last[k] - 0.01);
        let mut at = from.map(fixed);
        let steps = [fixed((to[0] - from[0]) / count), fixed((to[1] - from[1]) / count)];
        let most = self.last.map(|last| fixed(last) - 1);
        for pixel in pixels {
            let [u, v] = if inside { at } else { [at[0].clamp(0, most[0]), at[1].clamp(0, most[1])] };
            *pixel = self.between(u, v);
            at = [at[0] + steps[0], at[1] + steps[1]];
        }
    }

    /// The mean of the four pixels around a place, weighted by nearness.
    #[inline]
    fn between(&self, u: i64, v: i64) -> [u8; 3] {
        #[expect(clippy::cast_sign_loss, reason = "inside the picture")]
        let (x, y) = ((u >> FIXED_BITS) as usize, (v >> FIXED_BITS) as usize);
        #[expect(clippy::cast_sign_loss, reason = "eight bits")]
        let part = |at: i64| (at >> (FIXED_BITS - 8) & 0xff) as u64;
        let (fx, fy) = (part(u), part(v));
        let first = 3 * (y * self.width + x);
        let (Some(above), Some(below)) = (self.pair(first), self.pair(first + 3 * self.width)) else {
            return [255; 3];
        };
        // All three at once: sums across take 16 bits, sums down 24.
        let across = |[left, right]: [u64; 2]| left * (256 - fx) + right * fx;
        let (top, bottom) = (across(above), across(below));
        let red_green = (top & RED_GREEN) * (256 - fy) + (bottom & RED_GREEN) * fy + HALVES;
        let blue = (top >> (2 * LANE)) * (256 - fy) + (bottom >> (2 * LANE)) * fy + 32_768;
        // A mean of bytes is a byte.
        [red_green >> 16, red_green >> (16 + LANE), blue >> 16].map(|mean| mean.to_le_bytes()[0])
    }

    /// Two pixels beside each other, the channels of each in lanes of a number.
    #[inline]
    fn pair(&self, first: usize) -> Option<[u64; 2]> {
        let bytes = if let Some(bytes) = self.raw.get(first..first + 8) {
            u64::from_le_bytes(bytes.try_into().ok()?)
        } else {
            // The last two of the picture.
            let mut last = [0; 8];
            last[..6].copy_from_slice(self.raw.get(first..first + 6)?);
            u64::from_le_bytes(last)
        };
        let lanes = |v: u64| v & 0xff | (v & 0xff00) << (LANE - 8) | (v & 0xff_0000) << (2 * LANE - 16);
        Some([lanes(bytes), lanes(bytes >> 24)])
    }
}

/// Bits of a lane in which a channel is summed.
const LANE: u32 = 24;
/// The lanes of red and green.
const RED_GREEN: u64 = (1 << (2 * LANE)) - 1;
/// A half in both, for rounding.
const HALVES: u64 = 32_768 | 32_768 << LANE;

/// Bits of a pixel in a place that is counted in whole numbers.
const FIXED_BITS: u32 = 20;

/// A place in pixels, counted in whole numbers.
#[expect(clippy::cast_possible_truncation, reason = "places are within thousands of pixels of the picture")]
fn fixed(px: f64) -> i64 {
    (px.clamp(-1e9, 1e9) * f64::from(1u32 << FIXED_BITS)) as i64
}

/// A length in inches as pixels of the rectified picture.
#[expect(clippy::cast_possible_truncation, reason = "a small whole number")]
pub(crate) fn px(inches: f32) -> f32 {
    inches * PX_PER_IN as f32
}

/// From a pixel of the rectified picture to inches on the card.
pub(crate) fn to_inches(px: f64) -> f64 {
    (px + 0.5) / PX_PER_IN - MARGIN_IN
}

/// From inches on the card to a pixel of the rectified picture.
pub(crate) fn to_px(inches: f64) -> f64 {
    (inches + MARGIN_IN) * PX_PER_IN - 0.5
}

//! Stage 5: the card square-on. A homography takes card inches to photo
//! pixels; the card is sampled at a fixed resolution with some page around it,
//! so from here on an inch is the same everywhere.
//! Method: inverse mapping with bilinear samples from the smallest picture
//! that still holds the detail (Wolberg, "Digital Image Warping", 1990).

use image::RgbImage;

use crate::geometry::{Homography, Point};
use crate::raster::floor_px;

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
    // Numerators and denominator of the map grow evenly along a row.
    let h = to_photo.rows();
    let step = 1.0 / around.px_per_in;
    let source_width = source.width() as usize;
    let (last_x, last_y) = (f64::from(source.width() - 1), f64::from(source.height() - 1));
    let raw = source.as_raw();
    let next_row = if source.height() > 1 { 3 * source_width } else { 0 };
    let (most_x, most_y) = (source_width.saturating_sub(2), (source.height() as usize).saturating_sub(2));
    for (j, row) in picture.rows_mut().enumerate() {
        let y = (j as f64 + 0.5) * step + around.left_top_in[1];
        let x = 0.5 * step + around.left_top_in[0];
        let mut u_w = h[0][0] * x + h[0][1] * y + h[0][2];
        let mut v_w = h[1][0] * x + h[1][1] * y + h[1][2];
        let mut w = h[2][0] * x + h[2][1] * y + h[2][2];
        for pixel in row {
            let one = 1.0 / w;
            // Pixel centres are whole numbers in the copy.
            let u = (u_w * one / scale[0] - 0.5).clamp(0.0, last_x);
            let v = (v_w * one / scale[1] - 0.5).clamp(0.0, last_y);
            (u_w, v_w, w) = (u_w + h[0][0] * step, v_w + h[1][0] * step, w + h[2][0] * step);
            if !(u.is_finite() && v.is_finite()) {
                continue;
            }
            #[expect(clippy::cast_possible_truncation, reason = "inside the picture")]
            let (u, v) = (u as f32, v as f32);
            let (x0, y0) = (floor_px(u).min(most_x), floor_px(v).min(most_y));
            // Weights of the four neighbours in parts of 65536.
            let (fx, fy) = (parts(u - x0 as f32), parts(v - y0 as f32));
            let first = 3 * (y0 * source_width + x0);
            let across = if source_width > 1 { 3 } else { 0 };
            let (above, below) = (&raw[first..], &raw[first + next_row..]);
            for (c, out) in pixel.0.iter_mut().enumerate() {
                let top = u32::from(above[c]) * (256 - fx) + u32::from(above[c + across]) * fx;
                let bottom = u32::from(below[c]) * (256 - fx) + u32::from(below[c + across]) * fx;
                #[expect(clippy::cast_possible_truncation, reason = "a mean of bytes is a byte")]
                let value = ((top * (256 - fy) + bottom * fy + 32_768) >> 16) as u8;
                *out = value;
            }
        }
    }
    Some(picture)
}

/// A part of a pixel in steps of a 256th.
fn parts(of_pixel: f32) -> u32 {
    u32::try_from(floor_px(of_pixel * 256.0 + 0.5)).unwrap_or(256).min(256)
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

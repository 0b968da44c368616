//! Stage 5: the card square-on. A homography takes card inches to photo
//! pixels; the card is sampled at a fixed resolution with some page around it,
//! so from here on an inch is the same everywhere.
//! Method: inverse mapping with bilinear samples from the smallest picture
//! that still holds the detail (Wolberg, "Digital Image Warping", 1990).

use image::{Rgb, RgbImage};

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
    // Finer than nine tenths of the target is as good as it.
    let across =
        crate::geometry::distance(corners[0], corners[2]) + crate::geometry::distance(corners[1], corners[3]);
    let photo_px_per_in = across / (2.0 * width.hypot(height));
    let (source, scale) = sources
        .iter()
        .find(|(_, scale)| photo_px_per_in / scale[0].max(scale[1]) >= 0.9 * PX_PER_IN)
        .or(sources.last())?;
    let side = |inches: f64| {
        u32::try_from(crate::raster::round_px((inches + 2.0 * MARGIN_IN) * PX_PER_IN).max(1)).unwrap_or(1)
    };
    let mut picture = RgbImage::new(side(width), side(height));
    // Numerators and denominator of the map grow evenly along a row.
    let h = to_photo.rows();
    let step = 1.0 / PX_PER_IN;
    let source_width = source.width() as usize;
    let (last_x, last_y) = (f64::from(source.width() - 1), f64::from(source.height() - 1));
    let raw = source.as_raw();
    for (j, row) in picture.rows_mut().enumerate() {
        let y = (j as f64 + 0.5) * step - MARGIN_IN;
        for (i, pixel) in row.enumerate() {
            let x = (i as f64 + 0.5) * step - MARGIN_IN;
            let w = h[2][0] * x + h[2][1] * y + h[2][2];
            // Pixel centres are whole numbers in the copy.
            let u = ((h[0][0] * x + h[0][1] * y + h[0][2]) / w / scale[0] - 0.5).clamp(0.0, last_x);
            let v = ((h[1][0] * x + h[1][1] * y + h[1][2]) / w / scale[1] - 0.5).clamp(0.0, last_y);
            if !(u.is_finite() && v.is_finite()) {
                continue;
            }
            #[expect(clippy::cast_possible_truncation, reason = "inside the picture")]
            let (u, v) = (u as f32, v as f32);
            let (x0, y0) = (floor_px(u), floor_px(v));
            let (x1, y1) = ((x0 + 1).min(source_width - 1), (y0 + 1).min(source.height() as usize - 1));
            let (fx, fy) = (u - x0 as f32, v - y0 as f32);
            let at = |x: usize, y: usize, c: usize| f32::from(raw[(y * source_width + x) * 3 + c]);
            let mut rgb = [0u8; 3];
            for (c, out) in rgb.iter_mut().enumerate() {
                let top = at(x0, y0, c) + (at(x1, y0, c) - at(x0, y0, c)) * fx;
                let bottom = at(x0, y1, c) + (at(x1, y1, c) - at(x0, y1, c)) * fx;
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "a mean of bytes is a byte"
                )]
                let value = (top + (bottom - top) * fy + 0.5) as u8;
                *out = value;
            }
            *pixel = Rgb(rgb);
        }
    }
    Some(Rectified { picture, to_photo, size_in })
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

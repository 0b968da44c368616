//! An upright picture, and what makes one of stored pixels: turning, and
//! white paper behind what is transparent. How files become pictures is told
//! in `document.rs`.

use image::metadata::Orientation;
use image::{DynamicImage, RgbImage, RgbaImage};

use crate::document::{Document, Limits};
use crate::error::CaptureError;

/// A picture the right way up.
#[derive(Clone, Debug)]
pub struct Photo {
    pixels: RgbImage,
}

impl Photo {
    /// Decodes the first page of a file in any format that is read (see
    /// [`Format`](crate::Format)), turned upright.
    ///
    /// # Errors
    /// Those of [`Document::open`] and [`Document::page`].
    pub fn decode(bytes: &[u8], limits: &Limits) -> Result<Photo, CaptureError> {
        Document::open(bytes, limits)?.page(0)
    }

    /// Takes pixels that are upright already.
    pub fn from_pixels(pixels: RgbImage) -> Photo {
        Photo { pixels }
    }

    /// The upright pixels.
    pub fn pixels(&self) -> &RgbImage {
        &self.pixels
    }

    /// Width and height of the upright picture, in pixels.
    pub fn size_px(&self) -> [u32; 2] {
        [self.pixels.width(), self.pixels.height()]
    }
}

/// The picture turned as `turn` says, in tiles, so that both pictures' rows stay
/// in the fast memory while pixels change between rows and columns.
pub(crate) fn turned(picture: RgbImage, turn: Orientation) -> RgbImage {
    /// Side of a tile in pixels.
    const TILE_PX: usize = 32;
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    // Where the first pixel is found, and the steps to the next in a row and in
    // a column of the turned picture, in pixels of the stored one.
    let (last_column, last_row) = (width - 1, (height - 1) * width);
    let (right, left) = (1isize, -1isize);
    let down = isize::try_from(width).unwrap_or(isize::MAX);
    let (first, across, along) = match turn {
        Orientation::NoTransforms => return picture,
        Orientation::FlipHorizontal => (last_column, left, down),
        Orientation::Rotate180 => (last_row + last_column, left, -down),
        Orientation::FlipVertical => (last_row, right, -down),
        Orientation::Rotate90FlipH => (0, down, right),
        Orientation::Rotate90 => (last_row, -down, right),
        Orientation::Rotate270FlipH => (last_row + last_column, -down, left),
        Orientation::Rotate270 => (last_column, down, left),
    };
    let changes_sides = across.unsigned_abs() == width && width > 1;
    let (columns, rows) = if changes_sides { (height, width) } else { (width, height) };
    let stored = picture.as_raw();
    let mut out = vec![0u8; stored.len()];
    for (band, lines) in out.chunks_mut(3 * columns * TILE_PX).enumerate() {
        for from in (0..columns).step_by(TILE_PX) {
            let to = (from + TILE_PX).min(columns);
            for (y, line) in lines.chunks_exact_mut(3 * columns).enumerate() {
                let row = first.wrapping_add_signed(along.wrapping_mul((band * TILE_PX + y).cast_signed()));
                let mut at = row.wrapping_add_signed(across.wrapping_mul(from.cast_signed()));
                for pixel in line[3 * from..3 * to].chunks_exact_mut(3) {
                    pixel.copy_from_slice(&stored[3 * at..3 * at + 3]);
                    at = at.wrapping_add_signed(across);
                }
            }
        }
    }
    let side = |v: usize| u32::try_from(v).unwrap_or(0);
    debug_assert_eq!(out.len(), 3 * columns * rows);
    RgbImage::from_raw(side(columns), side(rows), out).unwrap_or(picture)
}

/// Drops transparency onto white paper.
pub(crate) fn on_white(picture: DynamicImage) -> RgbImage {
    if !picture.color().has_alpha() {
        return picture.into_rgb8();
    }
    rgba_on_white(&picture.into_rgba8())
}

/// The same for pixels that have alpha.
pub(crate) fn rgba_on_white(rgba: &RgbaImage) -> RgbImage {
    let mut out = RgbImage::new(rgba.width(), rgba.height());
    for (to, from) in out.pixels_mut().zip(rgba.pixels()) {
        let [r, g, b, a] = from.0.map(u16::from);
        #[expect(clippy::cast_possible_truncation, reason = "a weighted mean of two bytes is a byte")]
        let blend = |c: u16| ((c * a + 255 * (255 - a) + 127) / 255) as u8;
        to.0 = [blend(r), blend(g), blend(b)];
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn a_picture_larger_than_a_tile_turns_as_the_decoder_turns_it() {
        let stored = RgbImage::from_fn(71, 45, |x, y| Rgb([x, y, x ^ y].map(|v| v.to_le_bytes()[0])));
        for value in 1..=8 {
            let turn = Orientation::from_exif(value).unwrap();
            let mut expected = DynamicImage::ImageRgb8(stored.clone());
            expected.apply_orientation(turn);
            assert_eq!(turned(stored.clone(), turn), expected.into_rgb8(), "EXIF {value}");
        }
    }
}

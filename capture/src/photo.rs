//! Stage 1: bytes to an upright picture. The format is sniffed by its first
//! bytes (WHATWG MIME Sniffing), limits are checked on the header before
//! anything is decoded, and the picture is turned as EXIF tag 0x0112 says
//! (TIFF 6.0, CIPA DC-008).

use std::io::Cursor;

use image::metadata::Orientation;
use image::{DynamicImage, ImageFormat, ImageReader, RgbImage};

use crate::error::CaptureError;

/// What a picture may cost before it is refused.
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// Most pixels of a picture, in millions. 64 covers every phone of
    /// today at its ordinary setting; decoding that takes 200 MB.
    pub megapixels: u32,
}

impl Default for Limits {
    fn default() -> Self {
        Limits { megapixels: 64 }
    }
}

/// A picture the right way up.
#[derive(Clone, Debug)]
pub struct Photo {
    pixels: RgbImage,
}

/// Shortest side of a picture that is looked at, in pixels.
const SHORTEST_SIDE_PX: u32 = 200;

impl Photo {
    /// Decodes a JPEG, PNG, WebP or TIFF and turns it upright.
    pub fn decode(bytes: &[u8], limits: &Limits) -> Result<Photo, CaptureError> {
        let format = sniff(bytes)?;
        let damaged = |error: image::ImageError| CaptureError::Damaged(error.to_string());
        let header = || ImageReader::with_format(Cursor::new(bytes), format);
        let (width, height) = header().into_dimensions().map_err(damaged)?;
        if u64::from(width) * u64::from(height) > u64::from(limits.megapixels) * 1_000_000 {
            return Err(CaptureError::TooManyPixels { width, height, limit_megapixels: limits.megapixels });
        }
        if width.min(height) < SHORTEST_SIDE_PX {
            return Err(CaptureError::TooSmall { width, height });
        }
        if format == ImageFormat::Jpeg && !jpeg_is_whole(bytes) {
            return Err(CaptureError::Damaged("it stops before its end".to_owned()));
        }
        let mut reader = header();
        let mut decoder_limits = image::Limits::default();
        decoder_limits.max_alloc = Some(u64::from(limits.megapixels) * 1_000_000 * 8 + (64 << 20));
        reader.limits(decoder_limits);
        let picture = on_white(reader.decode().map_err(damaged)?);
        Ok(Photo { pixels: turned(picture, orientation(bytes)) })
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

/// The format, by the first bytes alone: names and declared types lie.
fn sniff(bytes: &[u8]) -> Result<ImageFormat, CaptureError> {
    match bytes {
        [] => Err(CaptureError::Empty),
        [0xff, 0xd8, 0xff, ..] => Ok(ImageFormat::Jpeg),
        [0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a, ..] => Ok(ImageFormat::Png),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Ok(ImageFormat::WebP),
        [b'I', b'I', 0x2a, 0, ..] | [b'M', b'M', 0, 0x2a, ..] => Ok(ImageFormat::Tiff),
        [b'%', b'P', b'D', b'F', b'-', ..] => Err(CaptureError::UnsupportedFormat("PDF")),
        [_, _, _, _, b'f', b't', b'y', b'p', brand @ ..] if brand.len() >= 4 => match &brand[..4] {
            b"heic" | b"heix" | b"mif1" | b"msf1" => Err(CaptureError::UnsupportedFormat("HEIC")),
            _ => Err(CaptureError::UnknownFormat),
        },
        _ => Err(CaptureError::UnknownFormat),
    }
}

/// Whether a JPEG has its end-of-image marker (ITU-T T.81, B.1.1.3). Decoders
/// fill up what is missing with grey, which would be read as paper. What
/// stands before the first scan is skipped by its length, so that the end of
/// a thumbnail is not taken for the picture's.
fn jpeg_is_whole(bytes: &[u8]) -> bool {
    const START_OF_SCAN: u8 = 0xda;
    let mut at = 2;
    while let Some(&[0xff, marker, high, low]) = bytes.get(at..at + 4) {
        match marker {
            START_OF_SCAN => return bytes[at..].windows(2).any(|pair| pair == [0xff, 0xd9]),
            // A fill byte before a marker.
            0xff => at += 1,
            _ => at += 2 + usize::from(u16::from_be_bytes([high, low])),
        }
    }
    false
}

/// How the picture has to be turned; upright when nothing readable says so.
fn orientation(bytes: &[u8]) -> Orientation {
    let value = exif::Reader::new()
        .read_from_container(&mut Cursor::new(bytes))
        .ok()
        .and_then(|exif| exif.get_field(exif::Tag::Orientation, exif::In::PRIMARY)?.value.get_uint(0))
        .and_then(|value| u8::try_from(value).ok());
    value.and_then(Orientation::from_exif).unwrap_or(Orientation::NoTransforms)
}

/// The picture turned as `turn` says, in tiles, so that both pictures' rows stay
/// in the fast memory while pixels change between rows and columns.
fn turned(picture: RgbImage, turn: Orientation) -> RgbImage {
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
fn on_white(picture: DynamicImage) -> RgbImage {
    if !picture.color().has_alpha() {
        return picture.into_rgb8();
    }
    let rgba = picture.into_rgba8();
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

    /// Where stored pixel (0,0) of a 6x4 picture shows, by EXIF value: TIFF
    /// 6.0 and CIPA DC-008, as three independent EXIF tools turn it.
    #[test]
    fn all_eight_exif_turns_are_applied() {
        let expected: [(u8, [u32; 2], [u32; 2]); 8] = [
            (1, [0, 0], [6, 4]),
            (2, [5, 0], [6, 4]),
            (3, [5, 3], [6, 4]),
            (4, [0, 3], [6, 4]),
            (5, [0, 0], [4, 6]),
            (6, [3, 0], [4, 6]),
            (7, [3, 5], [4, 6]),
            (8, [0, 5], [4, 6]),
        ];
        for (value, [x, y], [width, height]) in expected {
            let mut stored = RgbImage::from_pixel(6, 4, Rgb([255, 255, 255]));
            stored.put_pixel(0, 0, Rgb([0, 0, 0]));
            let mut tiff = Cursor::new(Vec::new());
            DynamicImage::ImageRgb8(stored.clone()).write_to(&mut tiff, ImageFormat::Tiff).unwrap();
            let turned = turned(stored, orientation(&exif_only(value)));
            assert_eq!(turned.dimensions(), (width, height), "EXIF {value}");
            assert_eq!(turned.get_pixel(x, y).0, [0, 0, 0], "EXIF {value}");
        }
    }

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

    /// A JPEG that is only its EXIF segment, big-endian, one field.
    fn exif_only(orientation: u8) -> Vec<u8> {
        let mut tiff = b"MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
        tiff.extend([orientation, 0, 0, 0, 0, 0, 0]);
        let mut jpeg = vec![0xff, 0xd8, 0xff, 0xe1, 0, u8::try_from(tiff.len() + 8).unwrap()];
        jpeg.extend(b"Exif\0\0");
        jpeg.extend(tiff);
        jpeg.extend([0xff, 0xd9]);
        jpeg
    }

    fn check(bytes: &[u8], message: &str) {
        let error = Photo::decode(bytes, &Limits::default()).expect_err(message);
        assert!(error.to_string().contains(message), "{error}");
    }

    #[test]
    fn bad_files_are_refused_with_what_to_do() {
        check(b"", "the file is empty");
        check(b"Dear Edith, the cards are ready", "not a picture I can read");
        check(b"%PDF-1.7", "this is a PDF file");
        check(b"\0\0\0\x18ftypheic\0\0", "this is a HEIC file");
        check(b"\xff\xd8\xff\xe0\0\x10JFIF", "damaged or cut short");
        let mut jpeg = Cursor::new(Vec::new());
        DynamicImage::new_rgb8(300, 300).write_to(&mut jpeg, ImageFormat::Jpeg).unwrap();
        check(&jpeg.get_ref()[..jpeg.get_ref().len() - 2], "damaged or cut short");
        let mut one_pixel = Cursor::new(Vec::new());
        DynamicImage::new_rgb8(1, 1).write_to(&mut one_pixel, ImageFormat::Png).unwrap();
        check(one_pixel.get_ref(), "only 1 x 1 pixels");
    }

    #[test]
    fn a_huge_header_is_refused_before_decoding() {
        let mut png = Cursor::new(Vec::new());
        DynamicImage::new_rgb8(1, 1).write_to(&mut png, ImageFormat::Png).unwrap();
        let mut bytes = png.into_inner();
        bytes[16..24].copy_from_slice(&[0, 0, 0x75, 0x30, 0, 0, 0x75, 0x30]);
        // The header's checksum has to fit, or the header itself is refused.
        let crc = bytes[12..29].iter().fold(u32::MAX, |crc, byte| {
            (0..8)
                .fold(crc ^ u32::from(*byte), |crc, _| (crc >> 1) ^ (0xedb8_8320 & (crc & 1).wrapping_neg()))
        });
        bytes[29..33].copy_from_slice(&(!crc).to_be_bytes());
        check(&bytes, "30000 x 30000 pixels, over the limit of 64 megapixels");
    }
}

//! JPEG, PNG and WebP: one picture, turned as EXIF tag 0x0112 says (TIFF 6.0,
//! CIPA DC-008).

use std::io::Cursor;

use image::metadata::Orientation;
use image::{ImageFormat, ImageReader};

use super::{Format, Limits};
use crate::error::CaptureError;
use crate::photo::{Photo, on_white, turned};

/// Decodes the picture, after its header was held against the limits.
pub(super) fn decode(bytes: &[u8], format: Format, limits: &Limits) -> Result<Photo, CaptureError> {
    let decoder = match format {
        Format::Png => ImageFormat::Png,
        Format::WebP => ImageFormat::WebP,
        _ => ImageFormat::Jpeg,
    };
    let damaged = |error: image::ImageError| CaptureError::Damaged(error.to_string());
    let header = || ImageReader::with_format(Cursor::new(bytes), decoder);
    let (width, height) = header().into_dimensions().map_err(damaged)?;
    limits.check_size(width, height)?;
    if format == Format::Jpeg && !jpeg_is_whole(bytes) {
        return Err(CaptureError::Damaged("it stops before its end".to_owned()));
    }
    let mut reader = header();
    let mut decoder_limits = image::Limits::default();
    decoder_limits.max_alloc = Some(limits.decoder_bytes());
    reader.limits(decoder_limits);
    let picture = on_white(reader.decode().map_err(damaged)?);
    Ok(Photo::from_pixels(turned(picture, orientation(bytes))))
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

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, RgbImage};

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
            let turned = turned(stored, orientation(&exif_only(value)));
            assert_eq!(turned.dimensions(), (width, height), "EXIF {value}");
            assert_eq!(turned.get_pixel(x, y).0, [0, 0, 0], "EXIF {value}");
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
}

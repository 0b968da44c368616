//! Small pictures for the tests, good and bad, made on the spot.

#![expect(clippy::missing_panics_doc, reason = "it panics where a test cannot go on")]

use std::io::Cursor;

use image::{DynamicImage, ImageFormat, Rgb, RgbImage};

/// A picture in the bytes of a file.
pub fn encoded(picture: &RgbImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    DynamicImage::ImageRgb8(picture.clone())
        .write_to(&mut bytes, format)
        .expect("a small picture in memory can be written");
    bytes.into_inner()
}

/// White paper with nothing on it but a dot, `shade` dark, so that no two
/// shades give the same file.
pub fn blank_paper(shade: u8) -> RgbImage {
    let mut picture = RgbImage::from_pixel(400, 300, Rgb([250, 250, 250]));
    picture.put_pixel(3, 3, Rgb([shade; 3]));
    picture
}

/// The card outline of an A2 card, drawn upright on white paper, with one
/// panel: 100 px an inch, the card's corner at (100, 100), the panel 1/2 in
/// inside it on all sides.
pub fn card_with_a_panel() -> RgbImage {
    card_with_a_panel_of(325, 450)
}

/// The same card with a panel of so many pixels, at the same place.
pub fn card_with_a_panel_of(width: u32, height: u32) -> RgbImage {
    let mut picture = RgbImage::from_pixel(625, 750, Rgb([252, 252, 250]));
    for (x, y, width, height) in [(100, 100, 425, 550), (150, 150, width, height)] {
        frame(&mut picture, x, y, width, height);
    }
    picture
}

/// A rectangle drawn with a pen 4 px wide.
fn frame(picture: &mut RgbImage, x: u32, y: u32, width: u32, height: u32) {
    for (px, py, pixel) in picture.enumerate_pixels_mut() {
        let inside =
            |grow: u32| px + grow >= x && px < x + width + grow && py + grow >= y && py < y + height + grow;
        let hole = px >= x + 2 && px + 2 < x + width && py >= y + 2 && py + 2 < y + height;
        if inside(2) && !hole {
            *pixel = Rgb([30, 30, 34]);
        }
    }
}

/// A PNG whose header states a size that its one pixel does not have.
pub fn png_header_of(width: u32, height: u32) -> Vec<u8> {
    let mut bytes = encoded(&RgbImage::new(1, 1), ImageFormat::Png);
    bytes[16..20].copy_from_slice(&width.to_be_bytes());
    bytes[20..24].copy_from_slice(&height.to_be_bytes());
    // CRC-32 over the chunk's name and content (PNG, third edition, 5.5).
    let crc = bytes[12..29].iter().fold(u32::MAX, |crc, byte| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| (crc >> 1) ^ (0xedb8_8320 & (crc & 1).wrapping_neg()))
    });
    bytes[29..33].copy_from_slice(&(!crc).to_be_bytes());
    bytes
}

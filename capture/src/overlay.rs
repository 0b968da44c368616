//! What was read, drawn over the photo.

use image::{Rgb, RgbImage};
use imageproc::drawing::draw_antialiased_line_segment_mut;
use imageproc::pixelops::interpolate;
use layout::Layout;

use crate::photo::Photo;

const CARD_COLOUR: Rgb<u8> = Rgb([34, 139, 84]);
const SURE_COLOUR: Rgb<u8> = Rgb([26, 92, 200]);
const DOUBTFUL_COLOUR: Rgb<u8> = Rgb([222, 110, 20]);
/// Elements below this confidence are drawn in the colour of doubt.
const DOUBTFUL_BELOW: f64 = 0.6;

/// The photo with each card's outline in green, its elements in blue, the
/// doubtful ones in orange.
pub fn overlay(photo: &Photo, layouts: &[Layout]) -> RgbImage {
    let mut picture = photo.pixels().clone();
    let [width, height] = photo.size_px();
    // A line that stays visible when the picture is shown 1000 px wide.
    let thickness = i32::try_from(width.max(height) / 500).unwrap_or(1).max(1);
    for layout in layouts {
        if let Some(capture) = &layout.capture {
            polygon(&mut picture, &capture.card_corners_px, CARD_COLOUR, thickness);
        }
        for element in &layout.elements {
            let colour = if element.confidence < DOUBTFUL_BELOW { DOUBTFUL_COLOUR } else { SURE_COLOUR };
            polygon(&mut picture, &element.outline_px, colour, thickness);
        }
    }
    picture
}

/// Draws a closed outline.
pub(crate) fn polygon(picture: &mut RgbImage, outline: &[[f64; 2]], colour: Rgb<u8>, thickness: i32) {
    for (i, &from) in outline.iter().enumerate() {
        line(picture, from, outline[(i + 1) % outline.len()], colour, thickness);
    }
}

/// Draws a straight line as a bundle of thin ones.
pub(crate) fn line(picture: &mut RgbImage, from: [f64; 2], to: [f64; 2], colour: Rgb<u8>, thickness: i32) {
    #[expect(clippy::cast_possible_truncation, reason = "clamped to the picture's neighbourhood first")]
    let px = |v: f64| v.clamp(-10_000.0, 100_000.0).round() as i32;
    let ([x0, y0], [x1, y1]) = (from.map(px), to.map(px));
    let flat = (x1 - x0).abs() > (y1 - y0).abs();
    for offset in -(thickness / 2)..=(thickness - 1) / 2 {
        let (dx, dy) = if flat { (0, offset) } else { (offset, 0) };
        draw_antialiased_line_segment_mut(
            picture,
            (x0 + dx, y0 + dy),
            (x1 + dx, y1 + dy),
            colour,
            interpolate,
        );
    }
}

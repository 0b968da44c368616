//! What a person should look at, in plain sentences.

use image::{Rgb, RgbImage};

use crate::geometry;
use crate::read::Reading;

/// Everything that makes a reading doubtful as a whole.
pub(crate) fn of(reading: &Reading, photo_px: [u32; 2]) -> Vec<String> {
    let mut warnings = Vec::new();
    let [width, height] = reading.card.size_in();
    let corners = &reading.corners_px;
    let diagonal =
        0.5 * (geometry::distance(corners[0], corners[2]) + geometry::distance(corners[1], corners[3]));
    if let Some(outline) = &reading.outline {
        if outline.support < WELL_SEEN || outline.worst_side < WELL_SEEN_SIDE {
            warnings.push("Part of the card's outline was guessed: check the four corners.".to_owned());
        }
        if reading.rival {
            warnings.push("Two outlines fit about equally well: check the four corners.".to_owned());
        }
        let off = outline.aspect / (width / height);
        if off.max(1.0 / off) > PROPORTIONS {
            warnings.push(format!(
                "The outline's proportions do not fit a card of {} x {}: check the card or the corners.",
                reading.card.width.show(reading.card.unit),
                reading.card.height.show(reading.card.unit),
            ));
        }
        if outline.paper_edges >= 3 {
            warnings.push(
                "No card outline is drawn, so the edge of the paper was taken for the card.".to_owned(),
            );
        }
    }
    if reading.doubtful > 0 {
        warnings.push(
            "Some faint lines could be one more shape, but most likely are none: check what is missing."
                .to_owned(),
        );
    }
    if glare(&reading.square_on.picture) {
        warnings.push(
            "Glare washes out part of the card: what lies under it may be missing. Turn the lamp away."
                .to_owned(),
        );
    }
    let side = |i: usize| geometry::distance(corners[i], corners[(i + 1) % 4]);
    let tilt = (side(0) / side(2)).max(side(2) / side(0)).max((side(1) / side(3)).max(side(3) / side(1)));
    if tilt > STRONG_TILT {
        warnings.push("The photo was taken at a steep angle: sizes are less certain.".to_owned());
    }
    let px_per_in = diagonal / width.hypot(height);
    if px_per_in < PX_FOR_AN_EIGHTH && photo_px[0] > 0 {
        warnings.push(
            "The drawing is small on the photo, too small to tell an eighth of an inch: take it from nearer."
                .to_owned(),
        );
    }
    warnings
}

/// Whether a part of the card is blown out to white while the paper is not.
fn glare(card: &RgbImage) -> bool {
    /// Of 255: what a sensor gives when it is full.
    const FULL: u8 = 252;
    /// Paper above this is white all over, as on a scan.
    const WHITE: u8 = 236;
    /// Share of the picture that is darker than its paper at most.
    const DARKER: f64 = 0.8;
    /// Share of the picture that is worth a word: a fifth of an inch across.
    const PART: f64 = 0.015;
    let least = |pixel: &Rgb<u8>| pixel.0.into_iter().fold(u8::MAX, u8::min);
    let mut levels = [0u64; 256];
    for pixel in card.pixels() {
        levels[usize::from(least(pixel))] += 1;
    }
    let all: u64 = levels.iter().sum();
    let darker: u64 = levels[..usize::from(WHITE)].iter().sum();
    let full: u64 = levels[usize::from(FULL)..].iter().sum();
    darker as f64 > DARKER * all as f64 && full as f64 > PART * all as f64
}

/// Share of an outline that counts as well seen.
const WELL_SEEN: f64 = 0.95;
/// Share of the worst side that counts as well seen.
const WELL_SEEN_SIDE: f64 = 0.85;
/// Departure from the card's proportions that is worth a word: the camera's
/// focal length is a guess, and a hand's outline strays by a few percent.
const PROPORTIONS: f64 = 1.1;
/// Ratio of opposite sides of a steep view: about 25 degrees from near by.
const STRONG_TILT: f64 = 1.3;
/// Pixels of an inch below which an eighth is under six pixels.
const PX_FOR_AN_EIGHTH: f64 = 48.0;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lamp_on_grey_paper_is_glare_and_white_paper_is_not() {
        let lit = |paper: u8| {
            RgbImage::from_fn(100, 100, |x, y| {
                Rgb([if (30..50).contains(&x) && (30..50).contains(&y) { 255 } else { paper }; 3])
            })
        };
        assert!(glare(&lit(180)));
        assert!(!glare(&lit(250)));
    }
}

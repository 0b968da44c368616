//! Whether there is anything on a page at all: the back of a scanned sheet has
//! paper, its printed lines and perhaps the other side shining through, but no
//! stroke as dark as a pencil's.

use crate::geometry::{self, Point};
use crate::lines::Line;
use crate::page::Page;
use crate::photo::Photo;
use crate::trace::NoTrace;

/// Lines this near to the border of the picture or to the edge of the sheet, as
/// a share of the picture's longer side, are edges and shadows.
const BORDER: f64 = 0.03;
/// A line of a drawing is at least this long, in longer sides of the picture;
/// shorter ones are grain and dirt.
const SHORTEST: f32 = 0.05;
/// The faintest stroke, in natural logs of how much darker than its paper it is.
/// On both layout corpora the faintest pencil lines have 0.05; grain has 0.01, the
/// other side of a scanned sheet 0.003.
const FAINTEST: f32 = 0.03;
/// Length of lines that a drawing has at least, in longer sides of the picture:
/// the outline of a card that fills a tenth of the page.
const LEAST_DRAWN: f64 = 0.8;

/// Whether a page is blank: apart from the ruling of the paper and the edges of
/// the sheet there are fewer lines on it than the smallest drawing has. `sheet`:
/// the corners of the sheet in the photo's pixels, where it does not fill the
/// picture.
pub fn is_blank(photo: &Photo, sheet: Option<&[Point; 4]>) -> bool {
    let page = Page::of(photo, &mut NoTrace);
    let (width, height) = (f64::from(page.picture.width()), f64::from(page.picture.height()));
    let margin = BORDER * width.max(height);
    let sheet = match sheet {
        Some(corners) => corners.map(|corner| page.of_photo(corner)),
        None => [[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]],
    };
    let shortest = SHORTEST * page.picture.width().max(page.picture.height()) as f32;
    let drawn = |line: &&Line| {
        line.length() >= shortest
            && line.strength >= FAINTEST
            && geometry::holds(&sheet, line.middle().map(f64::from), -margin)
    };
    let lines = page.level.iter().chain(&page.upright).filter(drawn);
    f64::from(lines.map(Line::length).sum::<f32>()) < LEAST_DRAWN * width.max(height)
}

#[cfg(test)]
mod tests {
    use image::{Rgb, RgbImage};

    use super::*;

    /// Paper with a grain, and ruled where wanted.
    fn paper(ruled: bool) -> RgbImage {
        let mut seed = 1u32;
        RgbImage::from_fn(900, 1200, |_, y| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let grain = (seed >> 28).to_le_bytes()[0];
            if ruled && y % 50 < 2 { Rgb([170, 195, 225]) } else { Rgb([228 + grain; 3]) }
        })
    }

    fn frame(mut picture: RgbImage, grey: u8) -> RgbImage {
        for (x, y, pixel) in picture.enumerate_pixels_mut() {
            let inside = |inset: u32| {
                (200 + inset..700 - inset).contains(&x) && (250 + inset..900 - inset).contains(&y)
            };
            if inside(0) && !inside(3) {
                *pixel = Rgb([grey; 3]);
            }
        }
        picture
    }

    #[test]
    fn a_back_is_blank_and_a_page_with_a_faint_frame_is_not() {
        for ruled in [false, true] {
            assert!(is_blank(&Photo::from_pixels(paper(ruled)), None), "ruled {ruled}");
            assert!(!is_blank(&Photo::from_pixels(frame(paper(ruled), 190)), None), "ruled {ruled}");
        }
        // The other side, a fortieth darker than the paper.
        assert!(is_blank(&Photo::from_pixels(frame(paper(false), 229)), None));
    }
}

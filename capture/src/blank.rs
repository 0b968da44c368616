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
    let drawn = |line: &&Line| geometry::holds(&sheet, line.middle().map(f64::from), -margin);
    let lines = page.level.iter().chain(&page.upright).filter(drawn);
    f64::from(lines.map(Line::length).sum::<f32>()) < LEAST_DRAWN * width.max(height)
}

//! Reading a whole picture that is one drawing, with no card outline around
//! it: many small figures, nearly all of them closed and none hidden. Lines
//! that could be a side of something are legion there, closed regions are few,
//! so shapes are proposed from regions instead of from strokes: ink is told
//! from paper at several levels ([`mask`]), the regions that it closes off and
//! the figures that stand on a ground are collected ([`regions`]), each is
//! compared with the figures a person draws ([`figures`]), and of what is left
//! the best is kept of every place ([`choose`]).

mod choose;
mod figures;
mod frames;
mod mask;
mod regions;

use std::collections::BTreeSet;

use crate::page::Page;
use crate::rectify::Rectified;
use crate::shapes::Hypothesis;

/// A shape on the drawing and how well it is seen.
pub(crate) struct Seen {
    /// The shape.
    pub(crate) shape: Hypothesis,
    /// Log-odds that it is really drawn.
    pub(crate) odds: f32,
}

/// The shapes of a drawing, larger ones first.
pub(crate) fn find(drawing: &Rectified, page: &Page) -> Vec<Seen> {
    // Separate pen from paper, at several levels: a shape is whole at some of them.
    let ink = mask::Ink::of(drawing);
    // Collect what the ink closes off and what stands on a ground.
    let mut proposals = Vec::new();
    for level in mask::LEVELS {
        regions::propose(&ink.above(level), &mut proposals);
    }
    // What comes out alike at several levels is looked at once.
    let mut known = BTreeSet::new();
    proposals.retain(|profile| known.insert(profile.cell()));
    // Compare each with the figures that people draw.
    let near = ink.nearness();
    let mut figures: Vec<figures::Figure> =
        proposals.iter().filter_map(|profile| figures::fit(profile, &near)).collect();
    // Put frames together from their sides.
    figures.extend(frames::propose(page, drawing, &near));
    // Keep the best of every place.
    choose::choose(figures).iter().map(figures::Figure::seen).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::Photo;
    use crate::rectify::square_on;
    use crate::shapes::Geometry;
    use crate::trace::NoTrace;
    use image::{Rgb, RgbImage};

    /// What is found on a sheet of 1300 x 900 pixels where `inked` says where the pen was.
    fn check(inked: &dyn Fn(f64, f64) -> bool, expected: &[(bool, [f32; 4])]) {
        let picture = RgbImage::from_fn(1300, 900, |x, y| {
            Rgb(if inked(f64::from(x), f64::from(y)) { [40, 40, 60] } else { [230; 3] })
        });
        let photo = Photo::from_pixels(picture);
        let page = Page::of(&photo, &mut NoTrace);
        let corners = [[0.0, 0.0], [1300.0, 0.0], [1300.0, 900.0], [0.0, 900.0]];
        let drawing = square_on(&[(photo.pixels(), [1.0, 1.0])], corners, [13.0, 9.0]).unwrap();
        let seen = find(&drawing, &page);
        assert_eq!(
            seen.len(),
            expected.len(),
            "{:?}",
            seen.iter().map(|s| &s.shape.geometry).collect::<Vec<_>>()
        );
        for (seen, (round, bounds)) in seen.iter().zip(expected) {
            assert_eq!(matches!(seen.shape.geometry, Geometry::Ellipse { .. }), *round);
            let got = seen.shape.geometry.bounds();
            for (got, want) in got.iter().zip(bounds) {
                // 128 px an inch here, 100 px an inch on the photo, 0.4 in of margin.
                let want = (want / 100.0 + 0.4) * 128.0;
                assert!((got - want).abs() < 6.0, "{got} {want}");
            }
        }
    }

    /// Whether a place is on the outline of a box.
    fn on_box([left, top, right, bottom]: [f64; 4], x: f64, y: f64) -> bool {
        let inside = |by: f64| x > left - by && x < right + by && y > top - by && y < bottom + by;
        inside(2.0) && !inside(-2.0)
    }

    #[test]
    fn a_frame_with_a_box_and_a_circle_joined_by_an_arrow() {
        let inked = |x: f64, y: f64| {
            on_box([100.0, 100.0, 1200.0, 800.0], x, y)
                || on_box([300.0, 300.0, 540.0, 420.0], x, y)
                || ((x - 800.0).hypot(y - 360.0) - 50.0).abs() < 2.0
                || ((540.0..750.0).contains(&x) && (y - 360.0).abs() < 2.0)
        };
        check(
            &inked,
            &[
                (false, [100.0, 100.0, 1200.0, 800.0]),
                (false, [300.0, 300.0, 540.0, 420.0]),
                (true, [750.0, 310.0, 850.0, 410.0]),
            ],
        );
    }

    #[test]
    fn a_diamond_is_no_shape_and_a_circle_drawn_twice_is_one() {
        let inked = |x: f64, y: f64| {
            ((x - 400.0).abs() + (y - 400.0).abs() - 90.0).abs() < 3.0
                || ((x - 800.0).hypot(y - 400.0) - 70.0).abs() < 2.0
                || ((x - 800.0).hypot(y - 400.0) - 56.0).abs() < 2.0
        };
        check(&inked, &[(true, [730.0, 330.0, 870.0, 470.0])]);
    }

    #[test]
    fn squares_of_the_paper_are_no_shapes() {
        let picture = RgbImage::from_fn(1300, 900, |x, y| {
            let (u, v) = (f64::from(x), f64::from(y));
            let pen = on_box([300.0, 300.0, 620.0, 460.0], u, v);
            let printed = x % 50 < 2 || y % 50 < 2;
            Rgb(if pen {
                [40, 40, 60]
            } else if printed {
                [170; 3]
            } else {
                [230; 3]
            })
        });
        let photo = Photo::from_pixels(picture);
        let page = Page::of(&photo, &mut NoTrace);
        let corners = [[0.0, 0.0], [1300.0, 0.0], [1300.0, 900.0], [0.0, 900.0]];
        let drawing = square_on(&[(photo.pixels(), [1.0, 1.0])], corners, [13.0, 9.0]).unwrap();
        assert_eq!(find(&drawing, &page).len(), 1);
    }
}

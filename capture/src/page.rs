//! The page as a whole: a picture small enough to search for outlines in.

use image::RgbImage;
use image::imageops::thumbnail;
use layout::Card;

use crate::card::{Outline, OutlineOptions, outlines};
use crate::edges::{EdgeOptions, edge_points};
use crate::geometry::Point;
use crate::ink::{InkOptions, Smoothed, ridge_points};
use crate::lines::{Axis, Line, LineOptions, find};
use crate::photo::Photo;
use crate::pictures;
use crate::raster::{Plane, floor_px};
use crate::ruling::{self, Ruling};
use crate::tone::{log_light, tone};
use crate::trace::{Stage, Trace};

/// Longer side of the picture that outlines are searched in. At 1400 pixels
/// a sixteenth of an inch on a card that fills a third of the picture is still
/// more than a pixel, and a pencil line is not yet averaged away.
const LONG_SIDE_PX: u32 = 1400;

/// Blurs that strokes are looked for at, in pixels.
const SIGMAS_PX: [f32; 2] = [1.2, 2.0];

/// A page ready for outlines.
pub(crate) struct Page {
    /// Pixels of the photo per pixel of the page.
    pub(crate) scale: [f64; 2],
    /// The page's picture.
    pub(crate) picture: RgbImage,
    /// Brightness as natural logs.
    pub(crate) light: Plane,
    /// The paper's own level and upright rulings.
    pub(crate) ruled: [Vec<Ruling>; 2],
    /// Level lines.
    pub(crate) level: Vec<Line>,
    /// Upright lines.
    pub(crate) upright: Vec<Line>,
}

impl Page {
    /// Finds the lines of a page.
    pub(crate) fn of(photo: &Photo, trace: &mut dyn Trace) -> Page {
        let [width, height] = photo.size_px();
        let long = width.max(height);
        let picture = if long > LONG_SIDE_PX {
            let shrink = |side: u32| (u64::from(side) * u64::from(LONG_SIDE_PX)).div_ceil(u64::from(long));
            let side = |v: u32| u32::try_from(shrink(v)).unwrap_or(LONG_SIDE_PX).max(1);
            thumbnail(photo.pixels(), side(width), side(height))
        } else {
            photo.pixels().clone()
        };
        let scale =
            [f64::from(width) / f64::from(picture.width()), f64::from(height) / f64::from(picture.height())];
        let unit = picture.width().max(picture.height()) as f32 / 1400.0;
        let darkness = tone(&picture, floor_px(60.0 * unit).max(4)).darkness;
        trace.ended(Stage::Tone, 0);
        let smoothed = Smoothed::of(&darkness, SIGMAS_PX);
        let mut points = ridge_points(&smoothed, &InkOptions { over_grain: 2.2, grain_px: usize::MAX / 2 });
        let edges = edge_points(
            &[&smoothed.fine],
            &points,
            &EdgeOptions {
                sigma_px: SIGMAS_PX[0],
                over_grain: 3.1,
                stroke_px: 4.0 * unit,
                grain_px: 64,
                faint_px: floor_px(40.0 * unit),
            },
        );
        points.extend(edges);
        let options = LineOptions {
            steepest: 0.75,
            link_gap_px: 8.0 * unit,
            chord_px: 4.0 * unit,
            shortest_px: 14.0 * unit,
            join_px: 4.5 * unit,
            join_growth: 0.01,
            bow: 0.012,
            join_gap_px: 250.0 * unit,
        };
        let mut lines = Axis::BOTH.map(|axis| find(&points, axis, &options));
        let extent = [picture.width() as f32, picture.height() as f32];
        let ruled = [ruling::find(&lines[0], extent[0]), ruling::find(&lines[1], extent[1])];
        if ruled.iter().any(|family| !family.is_empty()) {
            ruling::set_aside(&mut points, &ruled);
            lines = Axis::BOTH.map(|axis| find(&points, axis, &options));
        }
        let [level, upright] = lines;
        let light = log_light(&picture);
        trace.ended(Stage::Ink, 0);
        if trace.wants_pictures() {
            trace.picture(Stage::Tone, 0, pictures::darkness(&darkness));
            trace.picture(Stage::Ink, 0, pictures::points(picture.width(), picture.height(), &points));
        }
        Page { scale, picture, light, ruled, level, upright }
    }

    /// From the page's pixels to the photo's; pixel centres are whole numbers
    /// in both.
    pub(crate) fn to_photo(&self, p: Point) -> Point {
        [(p[0] + 0.5) * self.scale[0], (p[1] + 0.5) * self.scale[1]]
    }

    /// From the photo's pixels to the page's.
    pub(crate) fn of_photo(&self, p: Point) -> Point {
        [p[0] / self.scale[0] - 0.5, p[1] / self.scale[1] - 0.5]
    }

    /// Every outline that the lines support, best first.
    pub(crate) fn outlines(&self, card: &Card) -> Vec<Outline> {
        let search = |options| outlines(&self.level, &self.upright, &self.light, card, &options);
        let found = search(OutlineOptions::default());
        if found.is_empty() {
            // Better an outline to check than none: its warning says what was guessed.
            return search(OutlineOptions::lenient());
        }
        found
    }
}

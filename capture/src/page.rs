//! The page as a whole: a picture small enough to search for outlines in.

#![expect(clippy::inline_always, reason = "what is not inlined is not widened")]

use image::RgbImage;
use layout::Card;

use crate::card::{Outline, OutlineOptions, outlines};
use crate::desk::without_desk;
use crate::edges::{EdgeOptions, edge_points};
use crate::geometry::Point;
use crate::ink::{InkOptions, Smoothed, ridge_points};
use crate::lines::{Axis, Line, LineOptions, find};
use crate::photo::Photo;
use crate::pictures;
use crate::raster::{Plane, floor_px};
use crate::ruling::{self, Ruling};
use crate::tone::{Tone, log_light};
use crate::trace::{Stage, Trace};
use crate::wide::{Work, wide};

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
            shrunk(photo.pixels(), side(width), side(height))
        } else {
            photo.pixels().clone()
        };
        let scale =
            [f64::from(width) / f64::from(picture.width()), f64::from(height) / f64::from(picture.height())];
        let unit = picture.width().max(picture.height()) as f32 / 1400.0;
        let darkness = Tone::of(&picture, floor_px(60.0 * unit).max(4)).darkness();
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
        let search = |options| {
            let found = outlines(&self.level, &self.upright, &self.light, card, &options);
            without_desk(found, &self.light)
        };
        let found = search(OutlineOptions::default());
        if found.is_empty() {
            // Better an outline to check than none: its warning says what was guessed.
            return search(OutlineOptions::lenient());
        }
        found
    }
}

/// A smaller copy of a picture, each pixel the mean of those it stands for.
fn shrunk(picture: &RgbImage, width: u32, height: u32) -> RgbImage {
    // The first pixel of each, and of the one beyond the last.
    let starts = |from: u32, to: u32| -> Vec<usize> {
        let ratio = from as f32 / to as f32;
        (0..=to).map(|k| floor_px((k as f32 * ratio).ceil()).min(from as usize)).collect()
    };
    let (columns, rows) = (starts(picture.width(), width), starts(picture.height(), height));
    let widest = columns.windows(2).map(|pair| pair[1] - pair[0]).max().unwrap_or(0);
    let stride = 3 * picture.width() as usize;
    let mut sums = vec![0u32; stride];
    let mut out = RgbImage::new(width, height);
    for (to, rows) in out.chunks_exact_mut(3 * width as usize).zip(rows.windows(2)) {
        // Down the columns first: whole rows are added to one another.
        let mut lines = picture.as_raw()[rows[0] * stride..rows[1] * stride].chunks_exact(stride);
        if let Some(line) = lines.next() {
            for (sum, value) in sums.iter_mut().zip(line) {
                *sum = u32::from(*value);
            }
        }
        for line in lines {
            wide(Added { line, sums: &mut sums });
        }
        let sums = sums.as_chunks::<3>().0;
        // Means of so many pixels across, by what one of them counts: exact for fewer than 2^20.
        let high = rows[1] - rows[0];
        let shares: Vec<u64> =
            (0..=widest).map(|across| (1u64 << 48).div_ceil((across * high).max(1) as u64)).collect();
        for (pixel, columns) in to.as_chunks_mut::<3>().0.iter_mut().zip(columns.windows(2)) {
            let mut sum = [0u32; 3];
            for each in &sums[columns[0]..columns[1]] {
                for (sum, value) in sum.iter_mut().zip(each) {
                    *sum += value;
                }
            }
            let across = columns[1] - columns[0];
            let half = across * high / 2;
            // A mean of bytes is a byte.
            *pixel =
                sum.map(|sum| (((u64::from(sum) + half as u64) * shares[across]) >> 48).to_le_bytes()[0]);
        }
    }
    out
}

/// A row of bytes added to sums.
struct Added<'a> {
    line: &'a [u8],
    sums: &'a mut [u32],
}

impl Work for Added<'_> {
    type Out = ();

    #[inline(always)]
    fn run(self) {
        for (sum, value) in self.sums.iter_mut().zip(self.line) {
            *sum += u32::from(*value);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn a_shrunk_picture_is_the_means_of_what_it_was() {
        let picture =
            RgbImage::from_fn(97, 53, |x, y| Rgb([x * 2, y * 4, (x * y) % 251].map(|v| v.to_le_bytes()[0])));
        for (width, height) in [(97, 53), (60, 33), (31, 17), (9, 5)] {
            let expected = image::imageops::thumbnail(&picture, width, height);
            let small = shrunk(&picture, width, height);
            let worst = small.as_raw().iter().zip(expected.as_raw()).map(|(a, b)| a.abs_diff(*b)).max();
            assert_eq!(worst, Some(0), "{width} x {height}");
        }
    }
}

//! Stage 2: the light divided out. What is left is how much darker each pixel
//! is than the paper around it, in natural-log units (0.1 is about a tenth
//! darker), whatever the lamp, shadow or vignette.
//! Method: the paper's brightness is the morphological closing of the log
//! picture, blurred (background division; Soille, "Morphological Image
//! Analysis", ch. 4 on top-hats); dividing is subtracting logs. Per colour
//! channel, then half the mean plus half the largest, so that a coloured pen
//! keeps its contrast.

use image::RgbImage;

use crate::raster::Plane;

/// What black counts for, of 255: it is not minus infinity, and the grain of
/// dark paper must not outweigh what is drawn on it.
const BLACK: f32 = 10.0;

/// A picture and the light on it.
pub(crate) struct Tone<'a> {
    picture: &'a RgbImage,
    /// Natural log of each value of a channel.
    log: [f32; 256],
    paper: PaperLevel,
}

impl Tone<'_> {
    /// Finds the light on a picture.
    ///
    /// `reach_px`: what is up to twice this wide counts as ink, not as paper.
    pub(crate) fn of(picture: &RgbImage, reach_px: usize) -> Tone<'_> {
        let log = std::array::from_fn(|v| ((v as f32 + BLACK) / (255.0 + BLACK)).ln());
        let paper = PaperLevel::of(picture, &log, reach_px);
        Tone { picture, log, paper }
    }

    /// How much darker each pixel is than the paper around it, all colours
    /// together.
    pub(crate) fn darkness(&self) -> Plane {
        let width = self.picture.width() as usize;
        let mut out = Plane::new(width, self.picture.height() as usize, 0.0);
        self.each_row(|y, darker| {
            let [red, green, blue] = darker;
            let row = &mut out.data[y * width..(y + 1) * width];
            for (((out, r), g), b) in row.iter_mut().zip(red).zip(green).zip(blue) {
                *out = (*r + *g + *b) / 6.0 + r.max(*g).max(*b) / 2.0;
            }
        });
        out
    }

    /// The same for red, green and blue alone.
    pub(crate) fn colours(&self) -> [Plane; 3] {
        let (width, height) = (self.picture.width() as usize, self.picture.height() as usize);
        let mut out = [(); 3].map(|()| Plane::new(width, height, 0.0));
        self.each_row(|y, darker| {
            for (out, darker) in out.iter_mut().zip(darker) {
                out.data[y * width..(y + 1) * width].copy_from_slice(darker);
            }
        });
        out
    }

    /// Hands on, row by row, how much darker than the paper each pixel's
    /// channels are.
    fn each_row(&self, mut row: impl FnMut(usize, &[Vec<f32>; 3])) {
        let width = self.picture.width() as usize;
        let mut levels = [(); 3].map(|()| vec![0.0f32; width]);
        for (y, pixels) in self.picture.as_raw().chunks_exact(3 * width).enumerate() {
            for (level, plane) in levels.iter_mut().zip(&self.paper.planes) {
                level_row(plane, y, level);
            }
            let [red, green, blue] = &mut levels;
            let out = red.iter_mut().zip(green).zip(blue);
            for (pixel, ((r, g), b)) in pixels.as_chunks::<3>().0.iter().zip(out) {
                let darker = |level: f32, value: u8| (level - self.log[usize::from(value)]).max(0.0);
                (*r, *g, *b) = (darker(*r, pixel[0]), darker(*g, pixel[1]), darker(*b, pixel[2]));
            }
            row(y, &levels);
        }
    }
}

/// The paper's own level, on a coarse grid of blocks: light changes slowly.
struct PaperLevel {
    planes: [Plane; 3],
}

/// How far the blurred level may lie below the closing's, in log units: the
/// closing takes the brightest grain of the paper.
const SUNK: f32 = 0.15;
/// Side of a block of [`PaperLevel`] in pixels.
const BLOCK_PX: usize = 8;

impl PaperLevel {
    fn of(picture: &RgbImage, log: &[f32], reach_px: usize) -> PaperLevel {
        let (width, height) = (picture.width() as usize, picture.height() as usize);
        let (columns, rows) = (width.div_ceil(BLOCK_PX), height.div_ceil(BLOCK_PX));
        // The brightest of each block, so that strokes vanish: down its rows
        // first, many columns at a time.
        let mut brightest = [(); 3].map(|()| vec![0u8; columns * rows]);
        let mut most = vec![0u8; 3 * width];
        for (row, band) in picture.as_raw().chunks(3 * width * BLOCK_PX).enumerate() {
            most.fill(0);
            for line in band.chunks_exact(3 * width) {
                for (most, value) in most.iter_mut().zip(line) {
                    *most = (*most).max(*value);
                }
            }
            for (block, pixels) in most.chunks(3 * BLOCK_PX).enumerate() {
                let brightest_of = |c: usize| pixels.iter().skip(c).step_by(3).copied().fold(0, u8::max);
                for (c, plane) in brightest.iter_mut().enumerate() {
                    plane[row * columns + block] = brightest_of(c);
                }
            }
        }
        // The blocks have widened what is bright by themselves already.
        let radius = reach_px.div_ceil(BLOCK_PX).max(1);
        let planes = brightest.map(|plane| {
            let plane = Plane {
                width: columns,
                height: rows,
                data: plane.iter().map(|v| log[usize::from(*v)]).collect(),
            };
            let closed = plane.dilated(radius).eroded(radius);
            let mut level = closed.blurred(radius as f32 / 2.0);
            // Beside a large dark panel the blur sinks below white paper.
            for (level, closed) in level.data.iter_mut().zip(&closed.data) {
                *level = level.max(*closed - SUNK);
            }
            level
        });
        PaperLevel { planes }
    }
}

/// The level along a row of pixels, straight between the blocks' middles.
fn level_row(plane: &Plane, y: usize, out: &mut [f32]) {
    const PER_PX: f32 = 1.0 / BLOCK_PX as f32;
    let v = ((y as f32 + 0.5) * PER_PX - 0.5).clamp(0.0, (plane.height - 1) as f32);
    let (y0, y1) = (crate::raster::floor_px(v), (crate::raster::floor_px(v) + 1).min(plane.height - 1));
    let part = v - y0 as f32;
    let level = |block: usize| {
        let (above, below) = (plane.at(block, y0), plane.at(block, y1));
        above + part * (below - above)
    };
    // From the middle of one block to the middle of the next.
    let steps: [f32; BLOCK_PX] = std::array::from_fn(|k| k as f32 + 0.5);
    let half = BLOCK_PX / 2;
    let (head, body) = out.split_at_mut(half.min(out.len()));
    head.fill(level(0));
    let ramp = |block: usize| {
        let from = level(block.min(plane.width - 1));
        let slope = (level((block + 1).min(plane.width - 1)) - from) * PER_PX;
        steps.map(|step| from + slope * step)
    };
    let (blocks, rest) = body.as_chunks_mut::<BLOCK_PX>();
    let end = ramp(blocks.len());
    for (block, cells) in blocks.iter_mut().enumerate() {
        *cells = ramp(block);
    }
    rest.copy_from_slice(&end[..rest.len()]);
}

/// Brightness as natural logs, a little blurred.
pub(crate) fn log_light(picture: &RgbImage) -> Plane {
    // Four times the brightness is a whole number.
    let log: Vec<f32> = (0..=1020u16).map(|v| (f32::from(v) / 4.0 + 2.0).ln()).collect();
    let mut light = Plane::new(picture.width() as usize, picture.height() as usize, 0.0);
    for (to, [r, g, b]) in light.data.iter_mut().zip(picture.as_raw().as_chunks::<3>().0) {
        *to = log[usize::from(*r) + 2 * usize::from(*g) + usize::from(*b)];
    }
    light.blurred(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn beside_a_large_dark_panel_a_hairline_is_still_darker_than_paper() {
        // White paper up to x = 100, a dark panel beyond; a pale line at x = 94.
        let picture = RgbImage::from_fn(300, 60, |x, _| {
            Rgb([if x >= 100 {
                30
            } else if x == 94 {
                200
            } else {
                250
            }; 3])
        });
        let dark = Tone::of(&picture, 24).darkness();
        assert!(dark.at(94, 30) > dark.at(97, 30) + 0.02, "{} {}", dark.at(94, 30), dark.at(97, 30));
    }

    #[test]
    fn a_stroke_is_as_dark_in_shadow_as_in_light() {
        // Light falls off from left to right; two strokes halve it.
        let picture = RgbImage::from_fn(200, 60, |x, _| {
            let light = 240.0 - 0.7 * f64::from(x);
            let grey = if x % 100 == 50 || x % 100 == 51 { light / 2.0 } else { light };
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 50 and 240")]
            Rgb([grey as u8; 3])
        });
        let dark = Tone::of(&picture, 12).darkness();
        let (lit, shaded) = (dark.at(50, 30), dark.at(150, 30));
        assert!((lit - 0.69).abs() < 0.1 && (shaded - 0.69).abs() < 0.1, "{lit} {shaded}");
        assert!(dark.at(100, 30) < 0.05, "{}", dark.at(100, 30));
    }
}

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

/// How much darker a picture is than its paper.
pub(crate) struct Tone {
    /// Darkness relative to the paper around each pixel, all colours together.
    pub(crate) darkness: Plane,
    /// The same for red, green and blue alone.
    pub(crate) colours: [Plane; 3],
}

/// What black counts for, of 255: it is not minus infinity, and the grain of
/// dark paper must not outweigh what is drawn on it.
const BLACK: f32 = 10.0;

/// Divides the light out of a picture.
///
/// `reach_px`: what is up to twice this wide counts as ink, not as paper.
pub(crate) fn tone(picture: &RgbImage, reach_px: usize) -> Tone {
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    let log: Vec<f32> = (0..256u16).map(|v| ((f32::from(v) + BLACK) / (255.0 + BLACK)).ln()).collect();
    let paper = PaperLevel::of(picture, &log, reach_px);
    let plane = || Plane::new(width, height, 0.0);
    let (mut darkness, mut colours) = (plane(), [plane(), plane(), plane()]);
    let mut levels = [vec![0.0f32; width], vec![0.0f32; width], vec![0.0f32; width]];
    for (y, pixels) in picture.as_raw().chunks_exact(3 * width).enumerate() {
        for (level, plane) in levels.iter_mut().zip(&paper.planes) {
            level_row(plane, y, level);
        }
        let row = y * width..(y + 1) * width;
        let [red, green, blue] = &mut colours;
        let out = darkness.data[row.clone()]
            .iter_mut()
            .zip(&mut red.data[row.clone()])
            .zip(&mut green.data[row.clone()])
            .zip(&mut blue.data[row])
            .map(|(((all, r), g), b)| (all, [r, g, b]));
        for ((x, pixel), (all, each)) in pixels.chunks_exact(3).enumerate().zip(out) {
            let (mut sum, mut most) = (0.0f32, 0.0f32);
            for (c, out) in each.into_iter().enumerate() {
                let darker = (levels[c][x] - log[usize::from(pixel[c])]).max(0.0);
                sum += darker;
                most = most.max(darker);
                *out = darker;
            }
            *all = sum / 6.0 + most / 2.0;
        }
    }
    Tone { darkness, colours }
}

/// The paper's own level, on a coarse grid of blocks: light changes slowly.
struct PaperLevel {
    planes: [Plane; 3],
}

/// Side of a block of [`PaperLevel`] in pixels.
const BLOCK_PX: usize = 8;

impl PaperLevel {
    fn of(picture: &RgbImage, log: &[f32], reach_px: usize) -> PaperLevel {
        let (width, height) = (picture.width() as usize, picture.height() as usize);
        let (columns, rows) = (width.div_ceil(BLOCK_PX), height.div_ceil(BLOCK_PX));
        // The brightest of each block, so that strokes vanish.
        let mut brightest = [(); 3].map(|()| vec![0u8; columns * rows]);
        for (y, pixels) in picture.as_raw().chunks_exact(3 * width).enumerate() {
            let row = y / BLOCK_PX * columns;
            for (block, pixels) in pixels.chunks(3 * BLOCK_PX).enumerate() {
                let mut most = [0u8; 3];
                for pixel in pixels.chunks_exact(3) {
                    for (most, value) in most.iter_mut().zip(pixel) {
                        *most = (*most).max(*value);
                    }
                }
                for (plane, value) in brightest.iter_mut().zip(most) {
                    let cell = &mut plane[row + block];
                    *cell = (*cell).max(value);
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
            plane.dilated(radius).eroded(radius).blurred(radius as f32 / 2.0)
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
    let half = BLOCK_PX / 2;
    let (head, body) = out.split_at_mut(half.min(out.len()));
    head.fill(level(0));
    for (block, cells) in body.chunks_mut(BLOCK_PX).enumerate() {
        let from = level(block.min(plane.width - 1));
        let slope = (level((block + 1).min(plane.width - 1)) - from) * PER_PX;
        for (k, cell) in cells.iter_mut().enumerate() {
            *cell = from + slope * (k as f32 + 0.5);
        }
    }
}

/// Brightness as natural logs, a little blurred.
pub(crate) fn log_light(picture: &RgbImage) -> Plane {
    let mut light = Plane::new(picture.width() as usize, picture.height() as usize, 0.0);
    for (to, from) in light.data.iter_mut().zip(picture.pixels()) {
        let [r, g, b] = from.0.map(f32::from);
        *to = ((r + 2.0 * g + b) / 4.0 + 2.0).ln();
    }
    light.blurred(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgb;

    #[test]
    fn a_stroke_is_as_dark_in_shadow_as_in_light() {
        // Light falls off from left to right; two strokes halve it.
        let picture = RgbImage::from_fn(200, 60, |x, _| {
            let light = 240.0 - 0.7 * f64::from(x);
            let grey = if x % 100 == 50 || x % 100 == 51 { light / 2.0 } else { light };
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 50 and 240")]
            Rgb([grey as u8; 3])
        });
        let dark = tone(&picture, 12).darkness;
        let (lit, shaded) = (dark.at(50, 30), dark.at(150, 30));
        assert!((lit - 0.69).abs() < 0.1 && (shaded - 0.69).abs() < 0.1, "{lit} {shaded}");
        assert!(dark.at(100, 30) < 0.05, "{}", dark.at(100, 30));
    }
}

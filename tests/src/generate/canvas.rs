//! The picture while it is being made: reflectance per pixel, and the few
//! ways to put something on it. Shapes come as outlines already in picture
//! coordinates; coverage is exact for areas and by distance for strokes, so
//! nothing is drawn large and scaled down.

use ab_glyph::Point as RasterPoint;
use ab_glyph_rasterizer::Rasterizer;

use super::plane::{Point, between, bounds, clipped, to_segment};

/// Red, green, blue, 0 to 1 (encoded as the file will be, not linear light).
pub(super) type Colour = [f32; 3];

/// A picture being made.
pub(super) struct Canvas {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) pixels: Vec<Colour>,
}

/// How much of each pixel of a box is covered.
pub(super) struct Mask {
    pub(super) left: usize,
    pub(super) top: usize,
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) cover: Vec<f32>,
}

/// One ink over the whole picture: strokes of it do not darken each other.
pub(super) struct Ink {
    width: usize,
    height: usize,
    pub(super) cover: Vec<f32>,
}

/// A point of a stroke on the picture.
#[derive(Clone, Copy, Debug)]
pub(super) struct Touch {
    pub(super) at: Point,
    /// Half the stroke's width, pixels.
    pub(super) half_px: f64,
    /// How much ink is left there, 0 to 1.
    pub(super) strength: f64,
}

/// A number as pixels are stored.
#[expect(clippy::cast_possible_truncation, reason = "pixel values need no more than single precision")]
pub(super) fn single(v: f64) -> f32 {
    v as f32
}

/// A coordinate as a pixel number, held inside 0 to `count`.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held to the picture first")]
pub(super) fn pixel(v: f64, count: usize) -> usize {
    v.clamp(0.0, count as f64) as usize
}

/// A value 0 to 1 as a byte.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held to a byte first")]
pub(super) fn byte(v: f32) -> u8 {
    (v.clamp(0.0, 1.0) * 255.0 + 0.5) as u8
}

/// `#rrggbb` of a colour.
pub(super) fn hex(colour: Colour) -> String {
    let [r, g, b] = colour.map(byte);
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// A colour part of the way to another.
pub(super) fn blend(a: Colour, b: Colour, t: f32) -> Colour {
    std::array::from_fn(|i| a[i] + (b[i] - a[i]) * t)
}

impl Canvas {
    pub(super) fn new(width: usize, height: usize, colour: Colour) -> Canvas {
        Canvas { width, height, pixels: vec![colour; width * height] }
    }

    /// The coverage of polygons taken together, each pixel's exact area.
    /// Polygons that overlap or run opposite ways add and subtract.
    pub(super) fn mask(&self, polygons: &[Vec<Point>]) -> Mask {
        let high = [self.width as f64, self.height as f64];
        let inner: Vec<Vec<Point>> = polygons
            .iter()
            .map(|polygon| clipped(polygon, [0.0; 2], high))
            .filter(|polygon| polygon.len() > 2)
            .collect();
        if inner.is_empty() {
            return Mask { left: 0, top: 0, width: 0, height: 0, cover: Vec::new() };
        }
        let (from, to) = bounds(inner.iter().flatten());
        let (left, top) = (pixel(from[0].floor(), self.width), pixel(from[1].floor(), self.height));
        let width = pixel(to[0].ceil(), self.width) - left;
        let height = pixel(to[1].ceil(), self.height) - top;
        // A rim of a pixel: the rasteriser drops what rounding puts outside, and
        // all that follows would be off by it.
        let mut raster = Rasterizer::new(width + 3, height + 3);
        let shifted = |p: Point| RasterPoint {
            x: single(p[0] - left as f64 + 1.0),
            y: single(p[1] - top as f64 + 1.0),
        };
        for polygon in &inner {
            for (a, b) in super::plane::edges(polygon) {
                raster.draw_line(shifted(a), shifted(b));
            }
        }
        let mut cover = vec![0.0; width * height];
        raster.for_each_pixel_2d(|x, y, alpha| {
            let (x, y) = ((x as usize).wrapping_sub(1), (y as usize).wrapping_sub(1));
            if x < width && y < height {
                cover[y * width + x] = alpha.min(1.0);
            }
        });
        Mask { left, top, width, height, cover }
    }

    /// Lays a colour on, as opaque as `alpha` where the mask is full.
    pub(super) fn fill(
        &mut self,
        mask: &Mask,
        alpha: f32,
        mut colour: impl FnMut(usize, usize, Colour) -> Colour,
    ) {
        for row in 0..mask.height {
            let start = (mask.top + row) * self.width + mask.left;
            for column in 0..mask.width {
                let cover = mask.cover[row * mask.width + column] * alpha;
                if cover > 0.0 {
                    let under = self.pixels[start + column];
                    let over = colour(mask.left + column, mask.top + row, under);
                    self.pixels[start + column] = blend(under, over, cover);
                }
            }
        }
    }

    /// Lays one ink's strokes on; `grain` says how much of the coverage the
    /// paper takes at a pixel.
    pub(super) fn ink(&mut self, ink: &Ink, colour: Colour, grain: impl Fn(usize, usize, f32) -> f32) {
        for y in 0..self.height {
            for x in 0..self.width {
                let at = y * self.width + x;
                if ink.cover[at] > 0.0 {
                    let cover = grain(x, y, ink.cover[at]);
                    self.pixels[at] = blend(self.pixels[at], colour, cover);
                }
            }
        }
    }
}

impl Ink {
    pub(super) fn new(canvas: &Canvas) -> Ink {
        Ink { width: canvas.width, height: canvas.height, cover: vec![0.0; canvas.pixels.len()] }
    }

    /// Draws a stroke with round ends.
    pub(super) fn stroke(&mut self, touches: &[Touch]) {
        for pair in touches.windows(2) {
            self.segment(pair[0], pair[1]);
        }
    }

    fn segment(&mut self, a: Touch, b: Touch) {
        let reach = a.half_px.max(b.half_px) + 1.0;
        let (low, high) = bounds(&[a.at, b.at]);
        if !(low[0].is_finite() && low[1].is_finite()) {
            return;
        }
        let (left, right) = (pixel(low[0] - reach, self.width), pixel(high[0] + reach + 1.0, self.width));
        let (top, bottom) = (pixel(low[1] - reach, self.height), pixel(high[1] + reach + 1.0, self.height));
        let half = f64::midpoint(a.half_px, b.half_px);
        // Thinner than a pixel: as wide as one, and paler.
        let pale = (2.0 * half).min(1.0);
        let strength = f64::midpoint(a.strength, b.strength) * pale;
        let half = half.max(0.5);
        for y in top..bottom {
            for x in left..right {
                let away = to_segment([x as f64 + 0.5, y as f64 + 0.5], a.at, b.at);
                let cover = single((half + 0.5 - away).clamp(0.0, 1.0) * strength);
                let held = &mut self.cover[y * self.width + x];
                *held = held.max(cover);
            }
        }
    }

    /// Draws filled outlines.
    pub(super) fn area(&mut self, mask: &Mask, strength: f32) {
        for row in 0..mask.height {
            for column in 0..mask.width {
                let held = &mut self.cover[(mask.top + row) * self.width + mask.left + column];
                *held = held.max(mask.cover[row * mask.width + column] * strength);
            }
        }
    }
}

/// A smooth curve through control points (quadratic), as a polyline.
pub(super) fn quadratic(a: Point, b: Point, c: Point, steps: usize) -> Vec<Point> {
    (1..=steps)
        .map(|k| {
            let t = k as f64 / steps as f64;
            between(between(a, b, t), between(b, c, t), t)
        })
        .collect()
}

//! One picture per stage, for the curious: drawn after a stage has ended, from
//! what it handed on.

use image::{Rgb, RgbImage};
use layout::{Layout, Shape, Unit};

use crate::geometry::Point;
use crate::ink::RidgePoint;
use crate::overlay::{line, polygon};
use crate::raster::Plane;
use crate::rectify::{Rectified, to_px};
use crate::shapes::{Hypothesis, SampleInk};
use crate::strokes::Strokes;

const GREEN: Rgb<u8> = Rgb([34, 139, 84]);
const RED: Rgb<u8> = Rgb([200, 40, 40]);
const BLUE: Rgb<u8> = Rgb([26, 92, 200]);
/// Colours that follow one another in a stack.
const STACK: [Rgb<u8>; 6] =
    [BLUE, Rgb([222, 110, 20]), Rgb([150, 40, 160]), Rgb([0, 140, 140]), RED, Rgb([110, 90, 20])];

/// Darkness as grey: paper white, the darkest ink black.
pub(crate) fn darkness(plane: &Plane) -> RgbImage {
    let most = plane.data.iter().copied().fold(0.05f32, f32::max);
    let mut out = RgbImage::new(1, 1);
    if let (Ok(width), Ok(height)) = (u32::try_from(plane.width), u32::try_from(plane.height)) {
        out = RgbImage::from_fn(width, height, |x, y| {
            let value = (plane.at(x as usize, y as usize) / most).clamp(0.0, 1.0).sqrt();
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 0 to 255")]
            Rgb([(255.0 * (1.0 - value)) as u8; 3])
        });
    }
    out
}

/// Stroke points on white.
pub(crate) fn points(width: u32, height: u32, points: &[RidgePoint]) -> RgbImage {
    let mut out = RgbImage::from_pixel(width, height, Rgb([255, 255, 255]));
    for p in points {
        let (x, y) = (crate::raster::round_px(f64::from(p.x)), crate::raster::round_px(f64::from(p.y)));
        if let (Ok(x), Ok(y)) = (u32::try_from(x), u32::try_from(y))
            && x < width
            && y < height
        {
            out.put_pixel(x, y, if p.tx.abs() > p.ty.abs() { RED } else { BLUE });
        }
    }
    out
}

/// Rival outlines on the page, the best in green.
pub(crate) fn outlines(page: &RgbImage, outlines: &[[Point; 4]]) -> RgbImage {
    let mut out = page.clone();
    for (i, corners) in outlines.iter().enumerate().rev() {
        polygon(&mut out, corners, if i == 0 { GREEN } else { STACK[i % STACK.len()] }, 3);
    }
    out
}

/// Straight strokes and their corners.
pub(crate) fn strokes(card: &RgbImage, strokes: &Strokes) -> RgbImage {
    let mut out = faded(card);
    for stroke in strokes.lines.iter().flatten() {
        for run in &stroke.runs {
            for pair in run.points.windows(2) {
                let from = stroke.axis.join(pair[0].u, pair[0].v).map(f64::from);
                let to = stroke.axis.join(pair[1].u, pair[1].v).map(f64::from);
                line(
                    &mut out,
                    from,
                    to,
                    if stroke.axis == crate::lines::Axis::Horizontal { RED } else { BLUE },
                    2,
                );
            }
        }
    }
    for corner in &strokes.corners {
        let [x, y] = corner.at.map(f64::from);
        line(&mut out, [x - 5.0, y - 5.0], [x + 5.0, y + 5.0], GREEN, 2);
        line(&mut out, [x - 5.0, y + 5.0], [x + 5.0, y - 5.0], GREEN, 2);
    }
    out
}

/// Every shape that was proposed.
pub(crate) fn shapes(card: &RgbImage, shapes: &[Hypothesis]) -> RgbImage {
    let mut out = faded(card);
    for (i, shape) in shapes.iter().enumerate() {
        let outline: Vec<Point> = shape.samples.iter().map(|s| s.at.map(f64::from)).collect();
        for p in outline.iter().step_by(2) {
            line(&mut out, [p[0] - 1.0, p[1]], [p[0] + 1.0, p[1]], STACK[i % STACK.len()], 1);
        }
    }
    out
}

/// The chosen shapes; where an outline is completed it is dotted.
pub(crate) fn stack(card: &RgbImage, chosen: &[&Hypothesis]) -> RgbImage {
    let mut out = faded(card);
    for (i, shape) in chosen.iter().enumerate() {
        for (k, sample) in shape.samples.iter().enumerate() {
            if sample.ink == SampleInk::Missing && k % 3 != 0 {
                continue;
            }
            let [x, y] = sample.at.map(f64::from);
            line(&mut out, [x - 1.5, y], [x + 1.5, y], STACK[i % STACK.len()], 3);
        }
    }
    out
}

/// The layout on the grid, over the card.
pub(crate) fn settled(card: &Rectified, layout: &Layout) -> RgbImage {
    let mut out = faded(&card.picture);
    let [width, height] = layout.card.size_in();
    let scale = [card.size_in[0] / width, card.size_in[1] / height];
    let at = |x: f64, y: f64| [to_px(x * scale[0]), to_px(y * scale[1])];
    polygon(&mut out, &[at(0.0, 0.0), at(width, 0.0), at(width, height), at(0.0, height)], GREEN, 3);
    for (i, element) in layout.elements.iter().enumerate() {
        let frame = element.frame;
        let [x, y, w, h] = [frame.x, frame.y, frame.width, frame.height].map(|l| l.value(Unit::Inch));
        let (cx, cy) = (x + w / 2.0, y + h / 2.0);
        let (sin, cos) = element.rotation_deg.to_radians().sin_cos();
        let turned = |u: f64, v: f64| at(cx + u * cos - v * sin, cy + u * sin + v * cos);
        let outline: Vec<Point> = match element.shape {
            Shape::Circle | Shape::Oval | Shape::Mark { .. } => (0..48)
                .map(|k| {
                    let (s, c) = (f64::from(k) * std::f64::consts::TAU / 48.0).sin_cos();
                    turned(w / 2.0 * c, h / 2.0 * s)
                })
                .collect(),
            _ => [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]
                .iter()
                .map(|[u, v]| turned(u * w / 2.0, v * h / 2.0))
                .collect(),
        };
        polygon(&mut out, &outline, STACK[i % STACK.len()], 2);
    }
    out
}

/// Lines of writing, given by their corners in inches on the card.
pub(crate) fn labels(card: &Rectified, lines: impl Iterator<Item = [Point; 4]>) -> RgbImage {
    let mut out = card.picture.clone();
    for corners in lines {
        let corners = corners.map(|corner| corner.map(to_px));
        polygon(&mut out, &corners, BLUE, 2);
        // Where it starts to be read.
        line(&mut out, corners[0], corners[3], RED, 4);
    }
    out
}

/// The picture paled, so that what is drawn over it stands out.
fn faded(picture: &RgbImage) -> RgbImage {
    let mut out = picture.clone();
    for pixel in out.pixels_mut() {
        pixel.0 = pixel.0.map(|c| 128 + c / 2);
    }
    out
}

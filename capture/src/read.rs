//! The story of a reading: from a photo to measured layouts, stage by stage.

use image::RgbImage;
use layout::{Capture, Card, Element, Layout, Shape, Unit};

use crate::card::{Outline, places};
use crate::error::CaptureError;
use crate::geometry::{self, Point};
use crate::page::Page;
use crate::photo::Photo;
use crate::rectify::{PX_PER_IN, Rectified, square_on, to_inches};
use crate::shapes::{Clusters, Geometry, Hypothesis, propose};
use crate::snap::{self, Edge, Measured};
use crate::stack::{StackOptions, Story, explain};
use crate::strokes::{StrokeOptions, Strokes, find_strokes};
use crate::trace::{Stage, Trace};
use crate::{Frame, Options};

/// Reads every layout on a photo, in reading order.
///
/// Same photo, same options: same answer.
pub fn read(photo: &Photo, options: &Options, trace: &mut dyn Trace) -> Result<Vec<Layout>, CaptureError> {
    trace.ended(Stage::Photo, 0);
    // Divide the light out and find the lines of the whole page.
    let page = Page::of(photo);
    trace.ended(Stage::Ink, 0);
    // Where are cards, and what are rival readings of their outlines?
    let rivals = match options.frame {
        Frame::Outline => places(&page.outlines(&options.card)),
        Frame::WholePhoto | Frame::Corners(_) => return Err(CaptureError::NoOutline),
    };
    trace.ended(Stage::Card, 0);
    // Read every rival and keep the one whose story explains its ink best.
    let mut readings: Vec<Reading> = rivals
        .iter()
        .filter_map(|rivals| {
            rivals
                .iter()
                .filter_map(|outline| read_card(photo, &page, outline, options, trace))
                .max_by(|a, b| a.worth.total_cmp(&b.worth))
        })
        .collect();
    if readings.is_empty() {
        return Err(CaptureError::NoOutline);
    }
    reading_order(&mut readings);
    // Settle every card's sizes on the grid.
    Ok(readings.iter().map(|reading| reading.settle(options)).collect())
}

/// One card as explained, before it is on the grid.
struct Reading {
    card: Card,
    corners_px: [Point; 4],
    square_on: Rectified,
    shapes: Vec<Hypothesis>,
    gains: Vec<f32>,
    worth: f64,
}

fn read_card(
    photo: &Photo,
    page: &Page,
    outline: &Outline,
    options: &Options,
    trace: &mut dyn Trace,
) -> Option<Reading> {
    let card = if outline.lying { options.card.lying() } else { options.card.upright() };
    let corners_px = outline.corners.map(|corner| page.to_photo(corner));
    // Look at the card square-on, so an inch means the same everywhere.
    let sources: [(&RgbImage, [f64; 2]); 2] = [(&page.picture, page.scale), (photo.pixels(), [1.0, 1.0])];
    let square_on = square_on(&sources, corners_px, card.size_in())?;
    // Separate pen from paper.
    let strokes = find_strokes(&square_on, &page.ruled, &|p| page.of_photo(p), &StrokeOptions::default());
    // Name the shapes the strokes could make, and choose.
    let shapes = propose(&strokes);
    let clusters = Clusters::of(&strokes);
    let story = explain(&shapes, &clusters, &StackOptions::default());
    let worth = total_worth(outline, &story, &card);
    if std::env::var("PROBE").is_ok() {
        eprintln!(
            "hyps {} pts {} story {} worth {:.0} support {:.3} worst {:.2} aspect {:.3} total {:.0} work {}",
            shapes.len(),
            strokes.points.len(),
            story.order.len(),
            story.worth,
            outline.support,
            outline.worst_side,
            outline.aspect,
            worth,
            story.work
        );
    }
    if trace.wants_pictures() {
        trace.picture(Stage::Stack, 0, debug_picture(&square_on, &strokes, &shapes, &story));
    }
    let chosen = story.order.iter().map(|&s| shapes[s].clone()).collect();
    Some(Reading { card, corners_px, square_on, shapes: chosen, gains: story.gains, worth })
}

fn debug_picture(card: &Rectified, strokes: &Strokes, shapes: &[Hypothesis], story: &Story) -> RgbImage {
    let mut pic = card.picture.clone();
    for lines in &strokes.lines {
        for line in lines {
            for run in &line.runs {
                let a = &run.points[0];
                let b = &run.points[run.points.len() - 1];
                let p = line.axis.join(a.u, a.v).map(f64::from);
                let q = line.axis.join(b.u, b.v).map(f64::from);
                crate::overlay::line(&mut pic, p, q, image::Rgb([230, 60, 60]), 1);
            }
        }
    }
    for corner in &strokes.corners {
        let [x, y] = corner.at.map(f64::from);
        crate::overlay::line(&mut pic, [x - 4.0, y - 4.0], [x + 4.0, y + 4.0], image::Rgb([0, 160, 0]), 2);
    }
    for (i, &s) in story.order.iter().enumerate() {
        let c = [[30, 30, 230], [20, 150, 20], [200, 120, 0], [160, 0, 160], [0, 150, 150]][i % 5];
        for sample in &shapes[s].samples {
            let [x, y] = sample.at.map(f64::from);
            crate::overlay::line(&mut pic, [x - 1.0, y], [x + 1.0, y], image::Rgb(c), 3);
        }
    }
    pic
}

/// The worth of a reading in pixels of the page: ink of the outline and of
/// what is on it, whatever size the outline takes the card to be.
fn total_worth(outline: &Outline, story: &Story, card: &Card) -> f64 {
    let [width, height] = card.size_in();
    let perimeter: f64 =
        (0..4).map(|i| geometry::distance(outline.corners[i], outline.corners[(i + 1) % 4])).sum();
    let px_per_in = perimeter / (2.0 * (width + height));
    let own = perimeter * (outline.support - 1.5 * (1.0 - outline.support));
    own + f64::from(story.worth) / PX_PER_IN * px_per_in
}

/// Rows from the top, each from the left.
fn reading_order(readings: &mut [Reading]) {
    let centre = |r: &Reading| {
        let sum = r.corners_px.iter().fold([0.0, 0.0], |s, c| [s[0] + c[0], s[1] + c[1]]);
        [sum[0] / 4.0, sum[1] / 4.0]
    };
    let height = |r: &Reading| geometry::distance(r.corners_px[0], r.corners_px[3]);
    readings.sort_by(|a, b| centre(a)[1].total_cmp(&centre(b)[1]));
    let mut start = 0;
    while start < readings.len() {
        let top = centre(&readings[start])[1];
        let reach = 0.5 * height(&readings[start]);
        let end = (start..readings.len())
            .find(|&i| centre(&readings[i])[1] > top + reach)
            .unwrap_or(readings.len());
        readings[start..end].sort_by(|a, b| centre(a)[0].total_cmp(&centre(b)[0]));
        start = end;
    }
}

impl Reading {
    fn settle(&self, options: &Options) -> Layout {
        let _ = options;
        let measured: Vec<Measured> = self.shapes.iter().map(measure).collect();
        let snapped = snap::settle(&self.card, &measured, &snap::Options { hand_sd_in: None });
        let mut layout = Layout::new("", self.card.clone());
        for (i, (shape, snapped)) in measured.iter().zip(&snapped.elements).enumerate() {
            let mut element = Element {
                id: u32::try_from(i + 1).unwrap_or(u32::MAX),
                shape: shape.shape,
                frame: snapped.frame,
                rotation_deg: shape.rotation_deg,
                role: snapped.role,
                slot: None,
                mats: Vec::new(),
                raised: false,
                confidence: f64::from((self.gains[i] / 300.0).clamp(0.1, 0.95)),
                alternatives: snapped.alternatives.clone(),
                outline_px: Vec::new(),
            };
            element.outline_px = self.outline_px(&element);
            layout.elements.push(element);
        }
        layout.capture =
            Some(Capture { photo: String::new(), card_corners_px: self.corners_px, warnings: Vec::new() });
        layout
    }

    /// An element's outline on the photo.
    fn outline_px(&self, element: &Element) -> Vec<Point> {
        let frame = element.frame;
        let [x, y, width, height] =
            [frame.x, frame.y, frame.width, frame.height].map(|l| l.value(Unit::Inch));
        let (cx, cy) = (x + width / 2.0, y + height / 2.0);
        let (sin, cos) = element.rotation_deg.to_radians().sin_cos();
        let at =
            |u: f64, v: f64| self.square_on.to_photo.apply([cx + u * cos - v * sin, cy + u * sin + v * cos]);
        match element.shape {
            Shape::Circle | Shape::Oval => (0..48)
                .map(|k| {
                    let angle = f64::from(k) * std::f64::consts::TAU / 48.0;
                    at(width / 2.0 * angle.cos(), height / 2.0 * angle.sin())
                })
                .collect(),
            _ => {
                let (w, h) = (width / 2.0, height / 2.0);
                vec![at(-w, -h), at(w, -h), at(w, h), at(-w, h)]
            }
        }
    }
}

/// A shape's sides in inches on the card.
fn measure(shape: &Hypothesis) -> Measured {
    let inches = |px: f32| to_inches(f64::from(px));
    match &shape.geometry {
        Geometry::Box { sides, turned_deg, notch, .. } => Measured {
            shape: match notch {
                None => Shape::SHARP,
                Some(notch) => {
                    let end = |cut: bool| if cut { layout::End::Fishtail } else { layout::End::Straight };
                    Shape::Banner { ends: layout::Ends { left: end(notch.at[0]), right: end(notch.at[1]) } }
                }
            },
            sides: sides.map(|side| Edge {
                at: inches(side.at),
                sd: if side.on_edge {
                    0.002
                } else {
                    0.003 + f64::from(side.spread) / PX_PER_IN / 3.0 + 0.02 * f64::from(1.0 - side.inked)
                },
                seen: f64::from(side.inked),
            }),
            rotation_deg: f64::from(*turned_deg),
            corner_radius_in: 0.0,
        },
        Geometry::Ellipse { centre, radii } => {
            let [w, h] = radii.map(f64::from);
            let round = (w / h).max(h / w) <= 1.14;
            let mean = (w + h) / 2.0;
            let [rx, ry] = if round { [mean, mean] } else { [w, h] }.map(|r| r / PX_PER_IN);
            let [cx, cy] = centre.map(inches);
            let edge = |at: f64| Edge { at, sd: 0.006, seen: f64::from(shape.inked) };
            Measured {
                shape: if round { Shape::Circle } else { Shape::Oval },
                sides: [edge(cx - rx), edge(cy - ry), edge(cx + rx), edge(cy + ry)],
                rotation_deg: 0.0,
                corner_radius_in: 0.0,
            }
        }
    }
}

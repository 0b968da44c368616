//! The story of a reading: from a photo to measured layouts, stage by stage.

use image::RgbImage;
use layout::{Capture, Card, Element, End, Ends, Layout, Shape};

use crate::card::{Outline, places, seen_aspect};
use crate::confidence;
use crate::error::CaptureError;
use crate::geometry::{self, Point};
use crate::labels::{self, Bound, Thing, Writing};
use crate::marks::{self, Mark};
use crate::page::Page;
use crate::photo::Photo;
use crate::pictures;
use crate::rectify::{PX_PER_IN, Rectified, px, square_on, to_inches};
use crate::shapes::{Clusters, Geometry, Hypothesis, ROUND, SampleInk, propose, round_corners};
use crate::sheet::sheet_is_card;
use crate::snap::{self, Edge, Measured, Snapped};
use crate::stack::{StackOptions, Story, explain};
use crate::strokes::{StrokeOptions, Strokes, find_strokes};
use crate::trace::{Stage, Trace};
use crate::warnings;
use crate::whole;
use crate::{Frame, Options};

/// Reads every layout on a photo, in reading order.
///
/// Same photo, same options: same answer.
pub fn read(photo: &Photo, options: &Options, trace: &mut dyn Trace) -> Result<Vec<Layout>, CaptureError> {
    trace.ended(Stage::Photo, 0);
    // Divide the light out and find the lines of the whole page.
    let page = Page::of(photo, trace);
    // Where are cards, and what are rival readings of their outlines?
    let Places { cards, sheets } = candidates(photo, &page, options)?;
    trace.ended(Stage::Card, 0);
    if trace.wants_pictures() {
        trace.picture(Stage::Photo, 0, page.picture.clone());
        let all = cards.iter().flatten().chain(sheets.iter().map(|(sheet, _)| sheet));
        let outlines: Vec<[Point; 4]> = all.map(|c| c.corners_px.map(|p| page.of_photo(p))).collect();
        trace.picture(Stage::Card, 0, pictures::outlines(&page.picture, &outlines));
    }
    // Read every rival and keep the one whose story explains its ink best.
    let mut readings: Vec<Option<Reading>> = Vec::new();
    for (number, rivals) in cards.iter().enumerate() {
        let read = |candidate| read_card(photo, &page, candidate, number, trace);
        let mut all: Vec<Reading> = rivals.iter().filter_map(read).collect();
        all.sort_by(|a, b| b.worth.total_cmp(&a.worth));
        let rival = all.get(1).is_some_and(|second| second.worth >= AS_GOOD * all[0].worth);
        let best = all.into_iter().next();
        readings.push(best.map(|best| Reading { rival, ..best }));
    }
    // A sheet is the card where it explains more than the outlines on it.
    for (sheet, on_it) in sheets {
        // Several outlines, each with a layout of its own on it: a page.
        let told = |&i: &usize| readings[i].as_ref().is_some_and(|r| r.shapes.len() >= LEAST_OF_LAYOUT);
        if on_it.len() > 1 && on_it.iter().all(told) {
            continue;
        }
        let Some(reading) = read_card(photo, &page, &sheet, readings.len(), trace) else { continue };
        let on_sheet: Vec<&Reading> = on_it.iter().filter_map(|&i| readings[i].as_ref()).collect();
        if sheet_is_card(&reading, &on_sheet, page_px_per_in(&sheet)) {
            for i in on_it {
                readings[i] = None;
            }
            readings.push(Some(reading));
        }
    }
    let mut readings: Vec<Reading> = readings.into_iter().flatten().collect();
    // An outline with nothing on it, beside others, is no layout.
    if readings.iter().any(|reading| !reading.shapes.is_empty()) {
        readings.retain(|reading| !reading.shapes.is_empty());
    }
    if readings.is_empty() {
        return Err(CaptureError::NoOutline);
    }
    reading_order(&mut readings);
    readings.iter_mut().for_each(Reading::finish);
    // Read what is written on and around each card.
    if options.labels {
        let cards: Vec<[Point; 4]> = readings.iter().map(|reading| reading.corners_px).collect();
        for (number, reading) in readings.iter_mut().enumerate().filter(|(_, reading)| !reading.whole) {
            reading.read_writing(photo, &page, &cards);
            trace.ended(Stage::Labels, number);
            if trace.wants_pictures() {
                let lines = reading.writing.lines.iter().map(|line| line.line.corners(0.0));
                let card = &reading.square_on;
                trace.picture(Stage::Labels, number, pictures::labels(card, lines));
            }
        }
    }
    // Settle every card's sizes on the grid.
    // One hand drew the page, so all its cards are settled together.
    let mut measured: Vec<Vec<Measured>> = readings.iter().map(Reading::measured).collect();
    // Where a size is written, it wins.
    let bound: Vec<Vec<Bound>> = readings
        .iter()
        .zip(&mut measured)
        .map(|(reading, measured)| reading.hold_written(measured))
        .collect();
    let drawings: Vec<(&Card, &[Measured])> = readings
        .iter()
        .zip(&measured)
        .map(|(reading, measured)| (&reading.card, measured.as_slice()))
        .collect();
    let mut settled = snap::settle_page(&drawings, &snap::Options::default(), &snap::Weights::default());
    for ((reading, settled), bound) in readings.iter().zip(&mut settled).zip(&bound) {
        for held in labels::held(bound, reading.card.unit) {
            if let Some(element) = settled.elements.get_mut(held.element) {
                element.why[held.axis].written = Some(held.text);
            }
        }
    }
    let mut layouts = Vec::with_capacity(readings.len());
    for (number, ((reading, measured), settled)) in readings.iter().zip(&measured).zip(&settled).enumerate() {
        let layout = reading.layout(photo, measured, settled, &bound[number]);
        trace.ended(Stage::Snap, number);
        if trace.wants_pictures() {
            trace.picture(Stage::Snap, number, pictures::settled(&reading.square_on, &layout));
        }
        layouts.push(layout);
    }
    Ok(layouts)
}

/// Where a card may lie, and what speaks for it before it is read.
pub(crate) struct Candidate {
    /// The card, standing or lying as the outline does.
    pub(crate) card: Card,
    /// Its corners in the photo's pixels.
    pub(crate) corners_px: [Point; 4],
    /// What is worked with: the card's own inches, or, where the whole photo is
    /// the card, inches of a size at which the drawing is looked at.
    pub(crate) working_in: [f64; 2],
    /// The outline's evidence; none where the corners were given.
    pub(crate) outline: Option<Outline>,
    /// Whether the whole picture is the card.
    pub(crate) whole: bool,
}

/// The rivals of each place, best first, and sheets that may be the card.
struct Places {
    cards: Vec<Vec<Candidate>>,
    sheets: Vec<(Candidate, Vec<usize>)>,
}

impl Places {
    fn one(candidate: Candidate) -> Places {
        Places { cards: vec![vec![candidate]], sheets: Vec::new() }
    }
}

/// Where cards may lie.
fn candidates(photo: &Photo, page: &Page, options: &Options) -> Result<Places, CaptureError> {
    let [width, height] = photo.size_px().map(f64::from);
    let standing = |lying: bool| if lying { options.card.lying() } else { options.card.upright() };
    match options.frame {
        Frame::Outline => {
            let found = places(&page.outlines(&options.card), &options.card);
            let candidate = |outline: Outline| {
                let card = standing(outline.lying);
                Candidate {
                    working_in: card.size_in(),
                    card,
                    corners_px: outline.corners.map(|corner| page.to_photo(corner)),
                    outline: Some(outline),
                    whole: false,
                }
            };
            let cards = found.cards.into_iter().map(|rivals| rivals.into_iter().map(candidate).collect());
            Ok(Places {
                cards: cards.collect(),
                sheets: found.sheets.into_iter().map(|(sheet, on_it)| (candidate(sheet), on_it)).collect(),
            })
        }
        Frame::Corners(corners_px) => {
            let inside = corners_px.iter().all(|[x, y]| {
                (-0.1 * width..=1.1 * width).contains(x) && (-0.1 * height..=1.1 * height).contains(y)
            });
            if !inside
                || !geometry::convex(&corners_px)
                || geometry::area(&corners_px) < SMALLEST_CARD * width * height
            {
                return Err(CaptureError::BadCorners);
            }
            let aspect = seen_aspect(&corners_px, [width, height]);
            let card = standing(aspect > 1.0);
            Ok(Places::one(Candidate {
                working_in: card.size_in(),
                card,
                corners_px,
                outline: None,
                whole: false,
            }))
        }
        Frame::WholePhoto => {
            let card = standing(width > height);
            let scale = WHOLE_PHOTO_IN / width.max(height);
            Ok(Places::one(Candidate {
                card,
                corners_px: [[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]],
                working_in: [width * scale, height * scale],
                outline: None,
                whole: true,
            }))
        }
    }
}

/// A picture that is all one drawing and has more figures than this is a page of
/// figures; a layout has fewer elements.
const MOST_OF_A_CARD: usize = 9;
/// From so many figures on, none of which is larger than [`LARGEST_SCATTERED`], a
/// picture is a page of figures: a card with as many elements has a large one.
const LEAST_SCATTERED: usize = 6;
/// Side of a square as large as the largest figure, as a share of that of the
/// picture. On generated cards cropped at their outline the largest of six or
/// more figures has 0.23 and more, on diagrams 0.19 and less.
const LARGEST_SCATTERED: f64 = 0.21;
/// Least that a layout explains, as a share of what the figures read from the
/// same picture do. On cards cropped at their outline a quarter more elements
/// are found with 0.7 than with 1.3; diagrams do not tell the two apart.
const LEAST_EXPLAINED: f64 = 0.7;
/// Smallest card that corners may enclose, as a share of the photo.
const SMALLEST_CARD: f64 = 0.002;
/// Longer side at which a photo that is all card is looked at, in working
/// inches: a drawing that fills a page has smaller shapes than a card has.
const WHOLE_PHOTO_IN: f64 = 13.0;

/// One card as explained, before it is on the grid.
pub(crate) struct Reading {
    /// Where it is.
    pub(crate) card: Card,
    /// Its corners in the photo's pixels.
    pub(crate) corners_px: [Point; 4],
    /// The card seen square-on.
    pub(crate) square_on: Rectified,
    /// The chosen shapes, bottom first.
    pub(crate) shapes: Vec<Hypothesis>,
    /// What the story loses without each.
    pub(crate) gains: Vec<f32>,
    /// Small embellishments, in reading order.
    pub(crate) marks: Vec<Mark>,
    /// How well the reading explains the page's ink.
    pub(crate) worth: f64,
    /// The outline's evidence.
    pub(crate) outline: Option<Outline>,
    /// Whether another outline explains about as much.
    pub(crate) rival: bool,
    /// Whether the whole picture is the card: gains are log-odds then.
    pub(crate) whole: bool,
    /// Darkness of the middle stroke.
    ink: f32,
    /// How many shapes were left out, for they are most likely none.
    pub(crate) doubtful: usize,
    /// Its strokes, until they have been looked through to the end.
    strokes: Option<Strokes>,
    /// What is written on and around it.
    writing: Writing,
}

fn read_card(
    photo: &Photo,
    page: &Page,
    candidate: &Candidate,
    number: usize,
    trace: &mut dyn Trace,
) -> Option<Reading> {
    // Look at the card square-on, so an inch means the same everywhere.
    let sources: [(&RgbImage, [f64; 2]); 2] = [(&page.picture, page.scale), (photo.pixels(), [1.0, 1.0])];
    let square_on = square_on(&sources, candidate.corners_px, candidate.working_in)?;
    trace.ended(Stage::Rectify, number);
    if candidate.whole {
        let figures = read_whole(page, candidate, square_on, number, trace);
        if figures.shapes.len() > MOST_OF_A_CARD || scattered(&figures, candidate.working_in) {
            return Some(figures);
        }
        // Few figures: a card with things on one another rather than a page.
        let card = Candidate {
            card: candidate.card.clone(),
            corners_px: candidate.corners_px,
            working_in: candidate.card.size_in(),
            outline: None,
            whole: false,
        };
        // The layout, unless the figures explain the ink far better.
        let scale = card.working_in[0] / candidate.working_in[0];
        let explained = LEAST_EXPLAINED * worth_of_figures(&figures, scale);
        let layout = read_card(photo, page, &card, number, trace).filter(|layout| layout.worth > explained);
        return Some(layout.unwrap_or(figures));
    }
    let outlined = candidate.outline.is_some();
    let mut told = tell(page, &square_on, outlined, number, trace);
    // A drawn outline with nothing drawn in it: its panels are colour alone.
    if told.story.order.is_empty() && outlined {
        told = tell(page, &square_on, false, number, trace);
    }
    let Told { strokes, shapes, story } = told;
    if trace.wants_pictures() {
        trace.picture(Stage::Rectify, number, square_on.picture.clone());
        trace.picture(Stage::Strokes, number, pictures::strokes(&square_on.picture, &strokes));
        trace.picture(Stage::Shapes, number, pictures::shapes(&square_on.picture, &shapes));
        let chosen: Vec<&Hypothesis> = story.order.iter().map(|&s| &shapes[s]).collect();
        trace.picture(Stage::Stack, number, pictures::stack(&square_on.picture, &chosen));
    }
    Some(Reading {
        card: candidate.card.clone(),
        corners_px: candidate.corners_px,
        square_on,
        shapes: story.order.iter().map(|&s| shapes[s].clone()).collect(),
        gains: story.gains,
        marks: Vec::new(),
        worth: worth_on_page(candidate, story.worth),
        outline: candidate.outline.clone(),
        rival: false,
        whole: false,
        ink: labels::ink_of(&strokes),
        doubtful: 0,
        strokes: Some(strokes),
        writing: Writing::default(),
    })
}

/// What the strokes of a card tell.
struct Told {
    strokes: Strokes,
    shapes: Vec<Hypothesis>,
    story: Story,
}

/// Stages 6 to 8 on a card seen square-on. `outlined`: whether the strength of
/// its drawn outline tells what counts as ink.
fn tell(page: &Page, square_on: &Rectified, outlined: bool, number: usize, trace: &mut dyn Trace) -> Told {
    // Separate pen from paper.
    let strokes =
        find_strokes(square_on, &page.ruled, &|p| page.of_photo(p), outlined, StrokeOptions::default());
    trace.ended(Stage::Strokes, number);
    // Name the shapes the strokes could make.
    let clusters = Clusters::of(&strokes);
    let shapes = propose(&strokes, &clusters);
    trace.ended(Stage::Shapes, number);
    // Choose the set and the order that explains the strokes best.
    let story = explain(&shapes, &clusters, &StackOptions::default());
    trace.ended(Stage::Stack, number);
    Told { strokes, shapes, story }
}

/// What figures are worth at a scale, in pixels: their outlines' ink less the
/// price of a shape, as in a story.
fn worth_of_figures(figures: &Reading, scale: f64) -> f64 {
    let price = f64::from(px(StackOptions::default().shape_in));
    let ink = |shape: &Hypothesis| f64::from(shape.geometry.perimeter() * shape.inked);
    figures.shapes.iter().map(|shape| ink(shape) * scale - price).sum()
}

/// Whether figures lie scattered over a page rather than on a card.
fn scattered(figures: &Reading, [width, height]: [f64; 2]) -> bool {
    let largest = figures.shapes.iter().map(|shape| {
        let [left, top, right, bottom] = shape.geometry.bounds();
        f64::from((right - left) * (bottom - top)).sqrt() / PX_PER_IN
    });
    figures.shapes.len() >= LEAST_SCATTERED
        && largest.fold(0.0, f64::max) < LARGEST_SCATTERED * (width * height).sqrt()
}

/// Reads a picture that is all one drawing.
fn read_whole(
    page: &Page,
    candidate: &Candidate,
    square_on: Rectified,
    number: usize,
    trace: &mut dyn Trace,
) -> Reading {
    let seen = whole::find(&square_on, page);
    trace.ended(Stage::Shapes, number);
    if trace.wants_pictures() {
        trace.picture(Stage::Rectify, number, square_on.picture.clone());
        let shapes: Vec<&Hypothesis> = seen.iter().map(|seen| &seen.shape).collect();
        trace.picture(Stage::Stack, number, pictures::stack(&square_on.picture, &shapes));
    }
    Reading {
        card: candidate.card.clone(),
        corners_px: candidate.corners_px,
        square_on,
        gains: seen.iter().map(|seen| seen.odds).collect(),
        shapes: seen.into_iter().map(|seen| seen.shape).collect(),
        marks: Vec::new(),
        worth: 0.0,
        outline: None,
        rival: false,
        whole: true,
        ink: 0.0,
        doubtful: 0,
        strokes: None,
        writing: Writing::default(),
    }
}

/// The worth of a reading in pixels of the page: ink of the outline and of
/// what is on it, whatever size the outline takes the card to be. A sheet's
/// edges are there in any case and tell nothing.
fn worth_on_page(candidate: &Candidate, story_px: f32) -> f64 {
    let Some(outline) = &candidate.outline else { return f64::from(story_px) };
    let own = if outline.paper_edges >= SHEET_EDGES {
        0.0
    } else {
        perimeter(outline) * (outline.support - 1.5 * (1.0 - outline.support))
    };
    own + f64::from(story_px) / PX_PER_IN * page_px_per_in(candidate)
}

/// Paper edges from which an outline is a sheet.
const SHEET_EDGES: usize = 3;
/// A rival outline that explains this share of what the best one does is about
/// as good.
const AS_GOOD: f64 = 0.97;
/// A panel seldom holds as many elements as this; outlines on a sheet that each
/// do are layouts, and the sheet is no card.
const LEAST_OF_LAYOUT: usize = 3;

fn perimeter(outline: &Outline) -> f64 {
    (0..4).map(|i| geometry::distance(outline.corners[i], outline.corners[(i + 1) % 4])).sum()
}

/// Pixels of the page per inch of the card.
fn page_px_per_in(candidate: &Candidate) -> f64 {
    let [width, height] = candidate.working_in;
    candidate.outline.as_ref().map_or(PX_PER_IN, |outline| perimeter(outline) / (2.0 * (width + height)))
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
    /// What a reading that is kept still asks of its strokes: marks in what is
    /// left over, and rounded corners. What is most likely no shape goes.
    fn finish(&mut self) {
        let Some(strokes) = self.strokes.take() else { return };
        let seen: Vec<&Hypothesis> = self.shapes.iter().collect();
        self.marks = marks::find(&strokes, &seen);
        let count = self.shapes.len();
        let known = std::mem::take(&mut self.shapes).into_iter().zip(std::mem::take(&mut self.gains));
        (self.shapes, self.gains) =
            known.filter(|(shape, gain)| confidence::is_likely(shape, *gain, count)).unzip();
        self.doubtful = count - self.shapes.len();
        for shape in &mut self.shapes {
            round_corners(shape, &strokes);
        }
    }

    /// What was measured, shapes first, then marks.
    fn measured(&self) -> Vec<Measured> {
        let shapes = self.shapes.iter().map(|shape| self.measure(shape));
        shapes.chain(self.marks.iter().map(|mark| self.measure_mark(mark))).collect()
    }

    /// Reads what is written on and around the card; what is in the writing is
    /// no mark.
    fn read_writing(&mut self, photo: &Photo, page: &Page, cards: &[[Point; 4]]) {
        let inches = |[x, y]: [f32; 2]| [to_inches(f64::from(x)), to_inches(f64::from(y))];
        let [width, height] = self.square_on.size_in;
        let mut known: Vec<Point> = self
            .shapes
            .iter()
            .flat_map(|shape| &shape.samples)
            .filter(|sample| matches!(sample.ink, SampleInk::Seen(_)))
            .map(|sample| inches(sample.at))
            .collect();
        if self.outline.is_some() {
            known.extend(labels::along_outline([width, height]));
        }
        let sources: [(&RgbImage, [f64; 2]); 2] = [(&page.picture, page.scale), (photo.pixels(), [1.0, 1.0])];
        self.writing = labels::read(&labels::Surroundings {
            sources: &sources,
            to_photo: self.square_on.to_photo,
            corners_px: self.corners_px,
            size_in: [width, height],
            ink: self.ink,
            known,
            others_px: cards.iter().copied().filter(|other| *other != self.corners_px).collect(),
            unit: self.card.unit,
        });
        let writing = &self.writing;
        self.marks.retain(|mark| !writing.covers(inches(mark.centre)));
    }

    /// Gives written sizes to the elements they are about, and holds them.
    fn hold_written(&self, measured: &mut [Measured]) -> Vec<Bound> {
        // Working inches per card inch.
        let [sx, sy] = {
            let [width, height] = self.card.size_in();
            [self.square_on.size_in[0] / width, self.square_on.size_in[1] / height]
        };
        let things: Vec<Thing> = measured
            .iter()
            .map(|element| {
                let [left, top, right, bottom] = element.sides;
                Thing {
                    shape: element.shape,
                    bounds: [left.at * sx, top.at * sy, right.at * sx, bottom.at * sy],
                    size: [right.at - left.at, bottom.at - top.at],
                    sd: [left.sd.hypot(right.sd), top.sd.hypot(bottom.sd)],
                }
            })
            .collect();
        let bound = self.writing.bind(&things, self.card.size_in());
        for held in labels::held(&bound, self.card.unit) {
            measured[held.element].held[held.axis] = Some(held.length);
        }
        bound
    }

    /// The layout on the grid of its card.
    fn layout(&self, photo: &Photo, measured: &[Measured], settled: &Snapped, bound: &[Bound]) -> Layout {
        let mut layout = Layout::new("", self.card.clone());
        for (i, (shape, snapped)) in measured.iter().zip(&settled.elements).enumerate() {
            let id = u32::try_from(i + 1).unwrap_or(u32::MAX);
            let kind = match shape.shape {
                Shape::Rectangle { .. } => Shape::Rectangle { corner_radius: snapped.corner_radius },
                other => other,
            };
            layout.elements.push(Element {
                rotation_deg: shape.rotation_deg,
                role: snapped.role,
                confidence: self.confidence(i),
                alternatives: snapped.alternatives.clone(),
                outline_px: self.outline_of(i),
                ..Element::new(id, kind, snapped.frame)
            });
        }
        layout.capture = Some(Capture {
            photo: String::new(),
            card_corners_px: self.corners_px,
            warnings: warnings::of(self, photo.size_px())
                .into_iter()
                .chain(labels::warnings(bound, self.card.unit))
                .collect(),
            labels: labels::records(&self.writing, bound, &self.square_on.to_photo, self.card.unit),
            measured: snap::measurements(&layout, measured, settled),
        });
        layout
    }

    /// An element's outline on the photo: the shapes come first, then the marks.
    fn outline_of(&self, i: usize) -> Vec<Point> {
        if let Some(shape) = self.shapes.get(i) {
            return self.outline_px(&shape.geometry);
        }
        let mark = &self.marks[i - self.shapes.len()];
        self.outline_px(&Geometry::Ellipse { centre: mark.centre, radii: mark.half })
    }

    /// A figure's outline on the photo, as it was measured.
    fn outline_px(&self, geometry: &Geometry) -> Vec<Point> {
        let at = |[x, y]: [f32; 2]| {
            let inches = [to_inches(f64::from(x)), to_inches(f64::from(y))];
            self.square_on.to_photo.apply(inches).map(|v| (v * 10.0).round() / 10.0)
        };
        match geometry {
            Geometry::Box { corners, .. } => corners.iter().map(|c| at(*c)).collect(),
            Geometry::Ellipse { centre, radii } => (0..48u8)
                .map(|k| {
                    let (sin, cos) = (f32::from(k) * std::f32::consts::TAU / 48.0).sin_cos();
                    at([centre[0] + radii[0] * cos, centre[1] + radii[1] * sin])
                })
                .collect(),
        }
    }

    /// Probability that an element is on the drawing; for a mark, from how
    /// closed it is.
    fn confidence(&self, i: usize) -> f64 {
        let sure = match self.shapes.get(i) {
            Some(_) if self.whole => confidence::probability(f64::from(self.gains[i])),
            Some(shape) => confidence::of_shape(shape, self.gains[i], self.shapes.len()),
            None => {
                let closed = f64::from(self.marks[i - self.shapes.len()].closed);
                confidence::probability(12.0 * closed - 9.5)
            }
        };
        (sure * 100.0).round() / 100.0
    }

    /// A mark's place in inches on the card; its size is nominal.
    fn measure_mark(&self, mark: &Mark) -> Measured {
        let [width, height] = self.card.size_in();
        let scale = [width / self.square_on.size_in[0], height / self.square_on.size_in[1]];
        let [cx, cy] = [0, 1].map(|k| to_inches(f64::from(mark.centre[k])) * scale[k]);
        let half = MARK_IN / 2.0;
        let edge = |at: f64| Edge { at, sd: ARC_SD_IN, seen: f64::from(mark.closed) };
        Measured {
            shape: Shape::Mark { kind: mark.kind },
            sides: [edge(cx - half), edge(cy - half), edge(cx + half), edge(cy + half)],
            rotation_deg: 0.0,
            corner_radius_in: 0.0,
            held: [None, None],
        }
    }

    /// A shape's sides in inches on the card.
    fn measure(&self, shape: &Hypothesis) -> Measured {
        let [width, height] = self.card.size_in();
        // Card inches per working inch.
        let scale = [width / self.square_on.size_in[0], height / self.square_on.size_in[1]];
        let place = |axis: usize, px: f32| to_inches(f64::from(px)) * scale[axis];
        let (kind, edges, rotation_deg, corner_radius_in) = match &shape.geometry {
            Geometry::Box { sides, turned_deg, notch, radius_px, .. } => {
                let kind = match notch {
                    None => Shape::SHARP,
                    Some(notch) => {
                        let end = |cut: bool| if cut { End::Fishtail } else { End::Straight };
                        Shape::Banner { ends: Ends::new(end(notch.at[0]), end(notch.at[1])) }
                    }
                };
                let edge = |k: usize| {
                    let side = &sides[k];
                    let sd = if side.on_edge {
                        EDGE_SD_IN
                    } else {
                        LEAST_SD_IN
                            + f64::from(side.spread) / PX_PER_IN / 3.0
                            + UNSEEN_SD_IN * f64::from(1.0 - side.inked)
                    };
                    Edge { at: place(k % 2, side.at), sd, seen: f64::from(side.inked) }
                };
                (
                    kind,
                    [edge(0), edge(1), edge(2), edge(3)],
                    f64::from(*turned_deg),
                    f64::from(*radius_px) / PX_PER_IN,
                )
            }
            Geometry::Ellipse { centre, radii } => {
                let [rx, ry] = radii.map(f64::from);
                let round = (rx / ry).max(ry / rx) <= f64::from(ROUND);
                let mean = f64::midpoint(rx, ry);
                let [rx, ry] = if round { [mean, mean] } else { [rx, ry] }.map(|r| r / PX_PER_IN);
                let (cx, cy) = (place(0, centre[0]), place(1, centre[1]));
                let edge = |at: f64| Edge { at, sd: ARC_SD_IN, seen: f64::from(shape.inked) };
                let sides = [
                    edge(cx - rx * scale[0]),
                    edge(cy - ry * scale[1]),
                    edge(cx + rx * scale[0]),
                    edge(cy + ry * scale[1]),
                ];
                (if round { Shape::Circle } else { Shape::Oval }, sides, 0.0, 0.0)
            }
        };
        Measured { shape: kind, sides: edges, rotation_deg, corner_radius_in, held: [None, None] }
    }
}

/// Nominal size of a mark, in inches.
const MARK_IN: f64 = 0.25;
/// Standard deviation of the card's own edge, in inches.
const EDGE_SD_IN: f64 = 0.002;
/// Standard deviation of a fully seen printed side, in inches.
const LEAST_SD_IN: f64 = 0.003;
/// What a wholly hidden side adds to it.
const UNSEEN_SD_IN: f64 = 0.02;
/// Standard deviation of an arc's extremes, in inches.
const ARC_SD_IN: f64 = 0.006;

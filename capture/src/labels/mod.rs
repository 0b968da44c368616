//! Written sizes: what is written on and around a card is found, read, and
//! given to the element it is about. Where a size is written it wins over what
//! was measured.
//!
//! 1. `find`: lines of writing in the ink that no shape accounts for;
//! 2. `recognise`: what each line may say, column by column;
//! 3. `sizes`: which of that are sizes, with their probabilities;
//! 4. `bind`: which element each size is about, by place, leader, dimension
//!    line and plausibility.

mod bind;
mod find;
mod recognise;
mod sizes;

use image::RgbImage;
use layout::{Label, Length, Step, Unit, snap};

pub(crate) use bind::{Bound, Target, Thing};
pub(crate) use find::{Rule, TextLine};

use crate::geometry::{Homography, Point, distance};
use crate::raster::Plane;
use crate::rectify::{Around, sample};
use crate::strokes::{Strokes, narrow};
use find::{FindOptions, View, find};
use recognise::{LINE_PX, NARROWEST_PX, Recogniser, WIDEST_PX};
use sizes::Candidate;

/// A card and its neighbourhood on the photo.
pub(crate) struct Surroundings<'a> {
    /// Copies of the photo, smallest first, each with its scale.
    pub(crate) sources: &'a [(&'a RgbImage, [f64; 2])],
    /// From inches on the card to the photo's pixels.
    pub(crate) to_photo: Homography,
    /// The card's corners on the photo.
    pub(crate) corners_px: [Point; 4],
    /// Its size in the same inches.
    pub(crate) size_in: [f64; 2],
    /// Darkness of the drawing's strokes.
    pub(crate) ink: f32,
    /// Places on outlines that are accounted for.
    pub(crate) known: Vec<Point>,
    /// Corners of the other cards on the photo.
    pub(crate) others_px: Vec<[Point; 4]>,
    /// What numbers without a unit are in.
    pub(crate) unit: Unit,
}

/// A line of writing as it was read.
#[derive(Clone, Debug)]
pub(crate) struct ReadLine {
    /// Where it is; it runs the way it is read.
    pub(crate) line: TextLine,
    /// The most probable text.
    pub(crate) text: String,
    /// Mean probability of its characters.
    pub(crate) confidence: f32,
    /// What sizes it may be, the most probable first.
    candidates: Vec<Candidate>,
    /// Log-probability of the best size against the best text, per character.
    size_odds: f64,
}

impl ReadLine {
    /// Whether it is writing at all: read with some confidence, and more than
    /// one letter over and over, for a row of dots or hearts reads `OOO`.
    pub(crate) fn is_writing(&self) -> bool {
        self.letters().len() >= 2 && self.confidence >= LEAST_CONFIDENCE || self.is_size()
    }

    /// Its different letters and digits; an O is as good as a zero.
    fn letters(&self) -> Vec<char> {
        let mut letters: Vec<char> = self.text.chars().filter(|c| c.is_alphanumeric()).collect();
        for letter in &mut letters {
            *letter = if *letter == '0' { 'o' } else { letter.to_ascii_lowercase() };
        }
        letters.sort_unstable();
        letters.dedup();
        letters
    }

    /// Whether it reads as one letter several times, as a row of dots does: it
    /// does so the other way up.
    fn is_ornament(&self) -> bool {
        let several = self.text.chars().filter(|c| c.is_alphanumeric()).count() >= 2;
        several && matches!(self.letters().as_slice(), [only] if only.is_alphabetic()) && !self.is_size()
    }

    /// Whether the other way up need not be tried: read with confidence, and
    /// long enough that it could not be read so well upside down, unless the
    /// page is known to be written this way.
    fn is_sure(&self, usual: bool) -> bool {
        let long = self.text.chars().count() >= 4;
        let plain_size =
            self.is_size() && self.size_odds > PLAIN_SIZE_ODDS && self.candidates[0].size.words.certain;
        if usual {
            self.confidence > SURE_AS_USUAL || plain_size
        } else {
            long && (self.confidence > SURE || plain_size)
        }
    }

    /// Whether it is a size. A bare whole number is one only if it is read with
    /// confidence: a stroke and a shadow make a 1 or an 11 any day.
    pub(crate) fn is_size(&self) -> bool {
        let Some(best) = self.candidates.first() else { return false };
        let bare = !best.size.words.certain && !best.text.contains(['/', '.']);
        let needed = if bare { LEAST_BARE_CONFIDENCE } else { LEAST_SIZE_CONFIDENCE };
        self.size_odds > LEAST_SIZE_ODDS && self.confidence > needed
    }
}

/// Mean probability of the characters of what counts as writing.
const LEAST_CONFIDENCE: f32 = 0.7;
/// Mean probability of the characters of what counts as a size.
const LEAST_SIZE_CONFIDENCE: f32 = 0.45;
/// The same for a whole number alone.
const LEAST_BARE_CONFIDENCE: f32 = 0.85;
/// Least log-odds per character of a size against any text.
const LEAST_SIZE_ODDS: f64 = -0.9;
/// With this confidence the other way up is not tried.
const SURE: f32 = 0.9;
/// Log-odds per character of a size against any text that leave no doubt.
const PLAIN_SIZE_ODDS: f64 = -0.2;
/// The same, where other lines were read this way up.
const SURE_AS_USUAL: f32 = 0.75;
/// How far around a card labels are looked for, inches.
const REACH_IN: f64 = 1.5;
/// Pixels of an inch in the search for writing: a small 1 is four wide.
const SEARCH_PX_PER_IN: f64 = 110.0;
/// Paper around a line, per height.
const PAD: f64 = 0.15;
/// Width of a line's picture, per its true width: of 40 lines in handwriting
/// faces 35 are read right at 0.9, 33 at 1 and 32 at 0.8.
const CONDENSED: f64 = 0.9;
/// The most lines that are read: a cap on work.
const MOST_LINES: usize = 14;
/// How much darker than the card's middle paper in shadow is, in natural logs.
const DIMMEST: f32 = 1.0;
/// A line of this few pieces that is read with less than this confidence is not
/// tried the other way up.
const FEW_PIECES: usize = 3;
/// See [`FEW_PIECES`].
const HOPELESS: f32 = 0.5;

/// What is written on and around a card.
#[derive(Clone, Debug, Default)]
pub(crate) struct Writing {
    /// The lines that are writing.
    pub(crate) lines: Vec<ReadLine>,
    /// Leaders and dimension lines.
    pub(crate) rules: Vec<Rule>,
}

impl Writing {
    /// Whether a place, in inches on the card, is in a line of writing.
    pub(crate) fn covers(&self, at: Point) -> bool {
        self.lines.iter().any(|line| crate::geometry::holds(&line.line.corners(0.02), at, 0.0))
    }

    /// What every written size is about.
    pub(crate) fn bind(&self, things: &[Thing], card: [f64; 2]) -> Vec<Bound> {
        bind::bind(&self.lines, &self.rules, things, card)
    }
}

/// Finds and reads what is written on and around a card.
pub(crate) fn read(card: &Surroundings) -> Writing {
    let Some(view) = view(card) else { return Writing::default() };
    let size = card.photo_px();
    let seen = |place: Point| {
        let [x, y] = card.to_photo.apply(place);
        x > 1.0 && y > 1.0 && x < size[0] - 1.0 && y < size[1] - 1.0
    };
    let mut found = find(&view, &card.known, card.ink, &seen, &FindOptions::default());
    found.lines.retain(|line| card.is_nearest(line.centre));
    if found.lines.is_empty() {
        return Writing::default();
    }
    let Some(recogniser) = Recogniser::shared() else { return Writing::default() };
    let mut lines: Vec<ReadLine> = Vec::new();
    // Whether level and upright lines are read from the far end, once known.
    let mut turned: [Option<bool>; 2] = [None; 2];
    for line in found.lines.iter().take(MOST_LINES) {
        let axis = usize::from(line.along[0].abs() < line.along[1].abs());
        // Upright writing mostly runs upwards.
        let usual = turned[axis].unwrap_or(axis == 1);
        let way = |turned: bool| if turned { line.reversed() } else { *line };
        let Some(first) = card.read_line(recogniser, &way(usual)) else { continue };
        // Where one way up shows nothing, neither does the other.
        let hopeless = first.text.is_empty()
            || first.is_ornament()
            || line.pieces <= FEW_PIECES && first.confidence < HOPELESS;
        let best = if hopeless || first.is_sure(turned[axis].is_some()) {
            first
        } else {
            match card.read_line(recogniser, &way(!usual)) {
                Some(other) if other.confidence > first.confidence + 0.05 => other,
                _ => first,
            }
        };
        let reversed = best.line.along[0] * line.along[0] + best.line.along[1] * line.along[1] < 0.0;
        let best = card.read_on(recogniser, best);
        if best.confidence > SURE && turned[axis].is_none() && best.text.chars().count() >= 4 {
            turned[axis] = Some(reversed);
        }
        if best.is_writing() {
            lines.push(best);
        }
    }
    Writing { lines, rules: found.rules }
}

impl Surroundings<'_> {
    fn photo_px(&self) -> [f64; 2] {
        self.sources.last().map_or([0.0; 2], |(picture, scale)| {
            [f64::from(picture.width()) * scale[0], f64::from(picture.height()) * scale[1]]
        })
    }

    fn px_per_in(&self) -> f64 {
        let [a, b, c, d] = self.corners_px;
        (distance(a, c) + distance(b, d)) / (2.0 * self.size_in[0].hypot(self.size_in[1]))
    }

    /// Whether a place is nearer to this card than to any other.
    fn is_nearest(&self, place: Point) -> bool {
        let at = self.to_photo.apply(place);
        let own = from_quad(&self.corners_px, at);
        self.others_px.iter().all(|other| own <= from_quad(other, at))
    }

    /// A line that begins or ends with a times sign has lost a number to some
    /// stroke that touches it: it is read again with more of the page.
    fn read_on(&self, recogniser: &Recogniser, read: ReadLine) -> ReadLine {
        let times = |c: char| matches!(c, 'x' | 'X' | '×');
        let ends = [read.text.starts_with(times), read.text.trim_end().ends_with(times)];
        if ends == [false, false] || !read.text.chars().any(|c| c.is_ascii_digit()) {
            return read;
        }
        // A whole number and a fraction are three heights long.
        let more = ends.map(|missing| if missing { 3.0 * read.line.size[1] } else { 0.0 });
        let shift = (more[1] - more[0]) / 2.0;
        let [ux, uy] = read.line.along;
        let longer = TextLine {
            centre: [read.line.centre[0] + shift * ux, read.line.centre[1] + shift * uy],
            size: [read.line.size[0] + more[0] + more[1], read.line.size[1]],
            ..read.line
        };
        match self.read_line(recogniser, &longer) {
            Some(other) if other.is_size() && !read.is_size() => other,
            _ => read,
        }
    }

    /// Reads one line, the way it runs.
    fn read_line(&self, recogniser: &Recogniser, line: &TextLine) -> Option<ReadLine> {
        let height = line.size[1] * (1.0 + 2.0 * PAD);
        let px_per_in = f64::from(LINE_PX) / height;
        let most = f64::from(WIDEST_PX) / px_per_in;
        let pad = PAD * line.size[1];
        let length = (line.size[0] + 2.0 * pad).max(f64::from(NARROWEST_PX) / px_per_in).min(most);
        // Writing is read a little better when it is condensed.
        let narrow = length * CONDENSED;
        let shown = TextLine { size: [length - 2.0 * pad, line.size[1]], ..*line };
        let corners = shown.corners(pad).map(|corner| self.to_photo.apply(corner));
        let own = [[0.0, 0.0], [narrow, 0.0], [narrow, height], [0.0, height]];
        let to_photo = Homography::between(own, corners)?;
        let around = Around { left_top_in: [0.0, 0.0], size_in: [narrow, height], px_per_in };
        let picture = sample(self.sources, &to_photo, self.px_per_in(), around)?;
        let columns = recogniser.read(&picture)?;
        let (text, confidence) = columns.best_text();
        let candidates = sizes::candidates(&columns, self.unit);
        let length = text.chars().count().max(1) as f64;
        let size_odds = candidates
            .first()
            .map_or(f64::MIN, |candidate| (candidate.log_p - columns.best_log_p()) / length);
        Some(ReadLine { line: *line, text, confidence, candidates, size_odds })
    }
}

/// The card with the page around it, as far as it is on the photo.
fn view(card: &Surroundings) -> Option<View> {
    let own = [[0.0, 0.0], [card.size_in[0], 0.0], card.size_in, [0.0, card.size_in[1]]];
    let to_card = Homography::between(card.corners_px, own)?;
    let [width, height] = card.photo_px();
    let ends = [[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]].map(|p| to_card.apply(p));
    let mut range = [[0.0; 2]; 2];
    for axis in 0..2 {
        let (low, high) =
            ends.iter().fold((f64::MAX, f64::MIN), |(low, high), p| (low.min(p[axis]), high.max(p[axis])));
        // A corner behind the camera says nothing.
        let low = if low.is_finite() && low < 0.0 { low.max(-REACH_IN) } else { -REACH_IN };
        let high = if high.is_finite() && high > card.size_in[axis] {
            high.min(card.size_in[axis] + REACH_IN)
        } else {
            card.size_in[axis] + REACH_IN
        };
        range[axis] = [low, high];
    }
    let left_top_in = [range[0][0], range[1][0]];
    let px_per_in = card.px_per_in().min(SEARCH_PX_PER_IN);
    let around =
        Around { left_top_in, size_in: [range[0][1] - range[0][0], range[1][1] - range[1][0]], px_per_in };
    let picture = sample(card.sources, &card.to_photo, card.px_per_in(), around)?;
    let reach = crate::raster::round_px(0.18 * px_per_in).max(4);
    let (dark, paper) = ink_and_paper(&picture, usize::try_from(reach).unwrap_or(4));
    // The card's own paper, at places spread over it.
    let mut levels: Vec<f32> = (0..400u16)
        .map(|k| {
            let (u, v) = (f64::from(k % 20) / 20.0 + 0.025, f64::from(k / 20) / 20.0 + 0.025);
            let [x, y] = [u * card.size_in[0] - left_top_in[0], v * card.size_in[1] - left_top_in[1]];
            paper.between(narrow(x * px_per_in / 2.0), narrow(y * px_per_in / 2.0))
        })
        .collect();
    let middle = *levels.select_nth_unstable_by(200, f32::total_cmp).1;
    Some(View { dark, paper, dimmest: middle - DIMMEST, left_top_in, px_per_in })
}

/// How much darker each pixel is than its paper, natural log, from the darkest
/// channel alone; and the paper's brightness at half the resolution. Strokes up to twice `reach_px`
/// wide count as ink. Method: as `tone`, the closing at half the resolution.
fn ink_and_paper(picture: &RgbImage, reach_px: usize) -> (Plane, Plane) {
    /// Black is not minus infinity, and the grain of a dark table is no ink.
    const BLACK: f32 = 10.0;
    let log: Vec<f32> = (0..256u16).map(|v| ((f32::from(v) + BLACK) / (255.0 + BLACK)).ln()).collect();
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    let mut dark = Plane::new(width, height, 0.0);
    for (to, from) in dark.data.iter_mut().zip(picture.pixels()) {
        let [r, g, b] = from.0;
        *to = log[usize::from(r.min(g).min(b))];
    }
    let mut half = Plane::new(width.div_ceil(2), height.div_ceil(2), f32::MIN);
    let columns = half.width;
    for (y, row) in dark.data.chunks_exact(width).enumerate() {
        let cells = &mut half.data[y / 2 * columns..(y / 2 + 1) * columns];
        for (cell, values) in cells.iter_mut().zip(row.chunks(2)) {
            *cell = values.iter().copied().fold(*cell, f32::max);
        }
    }
    let radius = (reach_px / 2).max(1);
    let closed = half.dilated(radius).eroded(radius).blurred(radius as f32 / 2.0);
    for (y, row) in dark.data.chunks_exact_mut(width).enumerate() {
        let levels = &closed.data[y / 2 * columns..(y / 2 + 1) * columns];
        for (values, level) in row.chunks_mut(2).zip(levels) {
            for value in values {
                *value = (level - *value).max(0.0);
            }
        }
    }
    (dark, closed)
}

/// Distance of a point from a quad, 0 inside.
fn from_quad(quad: &[Point; 4], p: Point) -> f64 {
    if crate::geometry::holds(quad, p, 0.0) {
        return 0.0;
    }
    (0..4)
        .map(|i| {
            let (a, b) = (quad[i], quad[(i + 1) % 4]);
            let length = distance(a, b).max(1e-9);
            let s = (((p[0] - a[0]) * (b[0] - a[0]) + (p[1] - a[1]) * (b[1] - a[1])) / (length * length))
                .clamp(0.0, 1.0);
            distance(p, [a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])])
        })
        .fold(f64::MAX, f64::min)
}

/// The darkness that the middle stroke of a drawing has.
pub(crate) fn ink_of(strokes: &Strokes) -> f32 {
    let mut levels: Vec<f32> =
        strokes.points.iter().map(|p| strokes.darkness.between(p.x.max(0.0), p.y.max(0.0))).collect();
    if levels.is_empty() {
        return f32::MAX;
    }
    let middle = levels.len() / 2;
    *levels.select_nth_unstable_by(middle, f32::total_cmp).1
}

/// Probability from which a written size is held.
const HELD: f64 = 0.6;

/// A written size that is held.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Held {
    /// Place of the element.
    pub(crate) element: usize,
    /// 0 for its width, 1 for its height.
    pub(crate) axis: usize,
    /// What is written.
    pub(crate) length: Length,
    /// The whole label.
    pub(crate) text: String,
}

/// Sizes that are held. Lengths off the grid of sizes are left to the snap.
pub(crate) fn held(bound: &[Bound], unit: Unit) -> Vec<Held> {
    let mut out: Vec<Held> = Vec::new();
    // The surest first, so that a second label on the same side changes nothing.
    let mut order: Vec<&Bound> = bound.iter().collect();
    order.sort_by(|a, b| b.probability.total_cmp(&a.probability).then(a.line.cmp(&b.line)));
    for bound in order {
        let Some(Target::Element(element)) = bound.target else { continue };
        if bound.contradicts.is_some() || bound.probability < HELD {
            continue;
        }
        for (axis, length) in bound.sides.iter().enumerate() {
            if let Some(length) = *length
                && Length::exact(length.value(unit), unit, Step::Size).is_ok()
                && !out.iter().any(|other| (other.element, other.axis) == (element, axis))
            {
                out.push(Held { element, axis, length, text: bound.text.clone() });
            }
        }
    }
    out
}

/// What contradicts the drawing, in plain sentences.
pub(crate) fn warnings(bound: &[Bound], unit: Unit) -> Vec<String> {
    let shown = |inches: f64| {
        let value = if unit == Unit::Millimetre { inches * 25.4 } else { inches };
        snap(value, unit, Step::Size).map_or_else(String::new, |(length, _)| length.show(unit))
    };
    bound
        .iter()
        .filter_map(|bound| {
            let ([width, height], Target::Element(element)) = (bound.contradicts?, bound.target?) else {
                return None;
            };
            Some(format!(
                "\"{}\" is written at element {}, which measures about {} x {}: check which is right.",
                bound.text,
                element + 1,
                shown(width),
                shown(height),
            ))
        })
        .collect()
}

/// What was read, for the record.
pub(crate) fn records(writing: &Writing, bound: &[Bound], to_photo: &Homography, unit: Unit) -> Vec<Label> {
    let on_grid = |length: Length| snap(length.value(unit), unit, Step::Position).map(|(length, _)| length);
    writing
        .lines
        .iter()
        .enumerate()
        .map(|(number, line)| {
            let bound = bound.iter().find(|bound| bound.line == number);
            let element = bound.and_then(|bound| match bound.target? {
                Target::Element(i) => u32::try_from(i + 1).ok(),
                Target::Card => None,
            });
            let side = |axis: usize| bound.and_then(|bound| bound.sides[axis]).and_then(on_grid);
            let box_px = line
                .line
                .corners(0.0)
                .map(|corner| to_photo.apply(corner).map(|v| (v * 10.0).round() / 10.0));
            Label {
                text: bound.map_or_else(|| line.text.clone(), |bound| bound.text.clone()),
                box_px,
                element,
                width: side(0),
                height: side(1),
            }
        })
        .collect()
}

/// Places along a card's own outline, which a hand draws a little beside it.
pub(crate) fn along_outline([width, height]: [f64; 2]) -> impl Iterator<Item = Point> {
    const STEP_IN: f64 = 0.03;
    const BESIDE_IN: [f64; 3] = [-0.04, 0.0, 0.04];
    let steps = |length: f64| (0..).map(|k| f64::from(k) * STEP_IN).take_while(move |at| *at <= length);
    let level =
        steps(width).flat_map(move |x| BESIDE_IN.into_iter().flat_map(move |d| [[x, d], [x, height + d]]));
    let upright =
        steps(height).flat_map(move |y| BESIDE_IN.into_iter().flat_map(move |d| [[d, y], [width + d, y]]));
    level.chain(upright)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_of_dots_is_no_writing() {
        let line = TextLine { centre: [1.0, 1.0], along: [1.0, 0.0], size: [1.0, 0.2], pieces: 4 };
        let read = |text: &str| ReadLine {
            line,
            text: text.to_owned(),
            confidence: 0.97,
            candidates: Vec::new(),
            size_odds: f64::MIN,
        };
        assert!(!read("O0oO").is_writing() && !read("").is_writing());
        assert!(read("O0oO").is_ornament() && !read("11").is_ornament() && !read("m").is_ornament());
        assert!(read("get well").is_writing());
    }

    fn bound(sides: [Option<Length>; 2], probability: f64, contradicts: Option<[f64; 2]>) -> Bound {
        let target = Some(Target::Element(2));
        Bound { line: 0, target, text: "1 3/8".to_owned(), sides, probability, contradicts }
    }

    #[test]
    fn what_is_sure_and_on_the_grid_is_held() {
        let size = Some(Length::eighths(11));
        let got = held(&[bound([size, None], 0.9, None)], Unit::Inch);
        assert_eq!(got.len(), 1);
        assert_eq!((got[0].element, got[0].axis, got[0].length), (2, 0, Length::eighths(11)));
        assert_eq!(got[0].text, "1 3/8");
        assert!(held(&[bound([size, None], 0.4, None)], Unit::Inch).is_empty(), "not sure");
        assert!(held(&[bound([size, None], 0.9, Some([3.0, 3.0]))], Unit::Inch).is_empty(), "contradicts");
        let odd = Some(Length::sixteenths(21));
        assert!(held(&[bound([None, odd], 0.9, None)], Unit::Inch).is_empty(), "between two eighths");
    }

    #[test]
    fn a_side_is_held_once_by_the_surest_label() {
        let one = bound([Some(Length::eighths(11)), None], 0.8, None);
        let other = bound([Some(Length::eighths(12)), None], 0.95, None);
        let got = held(&[one, other], Unit::Inch);
        assert_eq!(got.iter().map(|held| held.length).collect::<Vec<_>>(), [Length::eighths(12)]);
    }

    #[test]
    fn a_gross_contradiction_is_told_in_a_sentence() {
        let told = warnings(&[bound([None, None], 0.0, Some([2.03, 3.1]))], Unit::Inch);
        assert_eq!(
            told,
            ["\"1 3/8\" is written at element 3, which measures about 2 x 3 1/8: check which is right."]
        );
        assert!(warnings(&[bound([None, None], 0.9, None)], Unit::Inch).is_empty());
    }
}

//! Of many figures for the same place, the best one.
//! Method: greedy non-maximum suppression by overlap (as in Neubeck and Van
//! Gool, "Efficient Non-Maximum Suppression", ICPR 2006), with the ways in
//! which drawn figures may lie to each other: apart, or one well inside the
//! other.

use super::figures::Figure;
use crate::geometry::Point;

/// Rectangles that share more of their joint area than this are the same.
const SAME: f64 = 0.62;
/// A circle drawn twice, one inside the other, is one circle.
const SAME_ROUND: f64 = 0.35;
/// Share of the smaller figure that lies in the other: below it they are
/// apart, above the other bound one is inside.
const APART: f64 = 0.2;
/// See [`APART`].
const INSIDE: f64 = 0.8;

/// Sizes of squares of one paper differ by less than this factor.
const CELL_FACTOR: f64 = 1.15;
/// So many squares of one size are the paper's.
const CELLS: usize = 12;
/// Largest squares of a paper, in pixels.
const LARGEST_CELL_PX: f64 = 80.0;
/// Weakest side of a figure, as a share of the pen.
const FAINTEST: f64 = 0.4;
/// Smallest rectangle and smallest circle, as the geometric mean of width and
/// height in pixels: what is smaller on a picture that is all one drawing is
/// writing (0.38 and 0.17 in where the picture is 13 in wide).
const SMALLEST_PX: f64 = 48.0;
/// See [`SMALLEST_PX`].
const SMALLEST_ROUND_PX: f64 = 22.0;
/// Figures below this size hold writing and pictures, no other figures.
const FRAME_PX: f64 = 260.0;
/// What is smaller than this share of the figure around it is written in it.
const WRITING: f64 = 0.6;
/// The same of what is drawn in a circle.
const PICTURE: f64 = 0.85;
/// Outlines this near to each other are the same ink, in pixels.
const SHARED_PX: f64 = 8.0;
/// Share of its outline that a figure must have for itself.
const OWN_SHARE: f64 = 0.5;
/// The same as a length in pixels: a side of a lane.
const OWN_PX: f64 = 350.0;
/// The weakest side of what is drawn is stronger than the paper's squares by
/// this factor.
const OVER_PAPER: f64 = 1.4;
/// The same of what is no larger than a few squares.
const OVER_CELLS: f64 = 1.8;
/// Side of a few squares, in squares.
const FEW_CELLS: f64 = 3.6;

/// Figures whose longer sides differ by more than this share may cross.
const CROSSING: f64 = 0.4;

/// The figures that are on the drawing, larger ones first.
pub(super) fn choose(figures: Vec<Figure>) -> Vec<Figure> {
    let mut figures = figures;
    figures.retain(|figure| figure.weakest >= FAINTEST);
    // What is no stronger than the squares of the paper is the paper's.
    if let Some(paper) = paper(&figures) {
        figures.retain(|figure| {
            let over = if figure.size() < FEW_CELLS * paper.size { OVER_CELLS } else { OVER_PAPER };
            figure.weakest > over * paper.strength
        });
    }
    figures.retain(|figure| figure.size() >= if figure.round() { SMALLEST_ROUND_PX } else { SMALLEST_PX });
    let chosen = best_of(figures);
    let mut kept: Vec<Figure> = Vec::new();
    for figure in chosen {
        if kept.iter().all(|whole| !is_part(&figure, whole)) && new_ink(&figure, &kept) {
            kept.push(figure);
        }
    }
    kept
}

/// Whether a figure is writing or a remainder inside a small figure.
fn is_part(figure: &Figure, whole: &Figure) -> bool {
    let inside = common(figure, whole) > INSIDE * area(figure.bounds);
    let ratio = figure.size() / whole.size();
    inside && whole.size() < FRAME_PX && ratio < if whole.round() { PICTURE } else { WRITING }
}

/// Whether a figure accounts for ink that the larger ones do not: a lane in
/// its frame has one long side of its own, what writing leaves of a box has not.
fn new_ink(figure: &Figure, larger: &[Figure]) -> bool {
    let near = |p: &Point| {
        larger.iter().any(|other| {
            let b = other.bounds;
            p[0] > b[0] - SHARED_PX
                && p[0] < b[2] + SHARED_PX
                && p[1] > b[1] - SHARED_PX
                && p[1] < b[3] + SHARED_PX
                && other.outline.iter().zip(other.outline.iter().cycle().skip(1)).any(|(a, b)| {
                    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
                    let along = (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / (dx * dx + dy * dy).max(1e-9))
                        .clamp(0.0, 1.0);
                    (p[0] - a[0] - along * dx).hypot(p[1] - a[1] - along * dy) <= SHARED_PX
                })
        })
    };
    let own = figure.outline.iter().filter(|p| !near(p)).count() as f64 / figure.outline.len() as f64;
    let [left, top, right, bottom] = figure.bounds;
    let perimeter = 2.0 * (right - left + bottom - top);
    own >= OWN_SHARE || own * perimeter >= OWN_PX
}

/// The squares that are printed on the paper.
struct Paper {
    /// Side of a square in pixels.
    size: f64,
    /// Typical strength of their weakest side.
    strength: f64,
}

/// The squares that are printed on the paper, if there are any.
fn paper(figures: &[Figure]) -> Option<Paper> {
    let small = figures.iter().filter(|figure| !figure.round() && figure.size() < LARGEST_CELL_PX);
    let chosen = best_of(small.cloned().collect());
    let mut squares: Vec<(f64, f64)> = chosen
        .iter()
        .filter(|figure| !figure.round() && figure.proportion() < CELL_FACTOR * CELL_FACTOR)
        .map(|figure| (figure.size(), figure.weakest))
        .collect();
    squares.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut most = 0..0;
    let mut low = 0;
    for high in 0..squares.len() {
        while squares[high].0 > CELL_FACTOR * squares[low].0 {
            low += 1;
        }
        if high + 1 - low > most.len() {
            most = low..high + 1;
        }
    }
    if most.len() < CELLS {
        return None;
    }
    let size = squares[most.start].0;
    let mut strengths: Vec<f64> = squares[most].iter().map(|square| square.1).collect();
    strengths.sort_by(f64::total_cmp);
    Some(Paper { size, strength: strengths[strengths.len() / 2] })
}

/// The best figure of every place.
fn best_of(mut figures: Vec<Figure>) -> Vec<Figure> {
    figures.sort_by(|a, b| b.quality().total_cmp(&a.quality()).then(a.bounds[0].total_cmp(&b.bounds[0])));
    let mut chosen: Vec<Figure> = Vec::new();
    for figure in figures {
        if chosen.iter().all(|other| fits(&figure, other)) {
            chosen.push(figure);
        }
    }
    chosen.sort_by(|a, b| b.size().total_cmp(&a.size()));
    chosen
}

fn area(b: [f64; 4]) -> f64 {
    (b[2] - b[0]).max(0.0) * (b[3] - b[1]).max(0.0)
}

/// Whether both figures can be on one drawing.
fn fits(a: &Figure, b: &Figure) -> bool {
    let common = common(a, b);
    let smaller = area(a.bounds).min(area(b.bounds));
    let either = area(a.bounds) + area(b.bounds) - common;
    let same = if a.round() && b.round() { SAME_ROUND } else { SAME };
    if common > same * either {
        return false;
    }
    // What crosses the long side of a frame is on it.
    let longer = |f: &Figure| (f.bounds[2] - f.bounds[0]).max(f.bounds[3] - f.bounds[1]);
    if longer(a).min(longer(b)) < CROSSING * longer(a).max(longer(b)) {
        return true;
    }
    let share = common / smaller.max(1.0);
    share <= APART || share >= INSIDE
}

/// What the boxes of two figures share.
fn common(a: &Figure, b: &Figure) -> f64 {
    area([
        a.bounds[0].max(b.bounds[0]),
        a.bounds[1].max(b.bounds[1]),
        a.bounds[2].min(b.bounds[2]),
        a.bounds[3].min(b.bounds[3]),
    ])
}

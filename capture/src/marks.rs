//! Marks: small embellishments, found in the ink that the chosen shapes leave
//! over. A mark is a small figure by itself, closed all round or solid; writing
//! is told from it by its neighbours, for letters stand close.
//! Method: connected components of the ink mask (Rosenfeld and Pfaltz,
//! "Sequential operations in digital picture processing", JACM 13, 1966),
//! judged by how much of the full turn about their middle is inked.

use layout::MarkKind;

use crate::bits::{Bits, Neighbours};
use crate::raster::{Plane, floor_px};
use crate::rectify::px;
use crate::shapes::{Hypothesis, SampleInk};
use crate::strokes::Strokes;

/// A small embellishment.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mark {
    /// Its middle, in pixels.
    pub(crate) centre: [f32; 2],
    /// Half its width and height, in pixels.
    pub(crate) half: [f32; 2],
    /// What it looks like.
    pub(crate) kind: MarkKind,
    /// How much of the full turn about its middle is inked, 0 to 1.
    pub(crate) closed: f32,
}

/// Smallest and largest mark in inches: a pinhead and the end of a thumb.
const SIZES_IN: [f32; 2] = [0.11, 0.45];
/// Least inked share of the turn about the middle.
const LEAST_CLOSED: f32 = 0.8;
/// Darkness that counts as ink, as a share of what the strokes have.
const INK_SHARE: f32 = 0.4;
/// Parts of one figure may be this far apart, in inches, where a line crosses.
const PARTS_IN: f32 = 0.05;
/// Letters stand nearer than this to each other, per height.
const LETTER_GAP: f32 = 0.4;
/// Words and numbers of one line stand nearer than this, per height.
const WORD_GAP: f32 = 1.3;
/// Half the width of a stroke that is cleared away, in pixels.
const STROKE_PX: i32 = 4;
/// Half the width of a ruling.
const RULING_PX: i32 = 2;
/// Sectors of the turn.
const SECTORS: usize = 20;

/// A connected figure of left-over ink.
struct Figure {
    /// Left, top, right, bottom in pixels.
    bounds: [f32; 4],
    pixels: Vec<[f32; 2]>,
}

impl Figure {
    fn size(&self) -> [f32; 2] {
        [self.bounds[2] - self.bounds[0] + 1.0, self.bounds[3] - self.bounds[1] + 1.0]
    }

    fn near(&self, other: &Figure, reach: f32) -> bool {
        let (a, b) = (self.bounds, other.bounds);
        a[0] - reach <= b[2] && b[0] - reach <= a[2] && a[1] - reach <= b[3] && b[1] - reach <= a[3]
    }
}

/// The marks on a card, left to right within each row.
pub(crate) fn find(strokes: &Strokes, chosen: &[&Hypothesis]) -> Vec<Mark> {
    let figures = figures(&left_over(strokes, chosen), px(PARTS_IN), px(SIZES_IN[1]));
    let mut marks: Vec<Mark> = Vec::new();
    for (i, figure) in figures.iter().enumerate() {
        let [width, height] = figure.size();
        let (short, long) = (width.min(height), width.max(height));
        if short < px(SIZES_IN[0]) || long > px(SIZES_IN[1]) || long > 1.7 * short {
            continue;
        }
        let Some(mark) = judge(figure) else { continue };
        let written = figures.iter().enumerate().any(|(j, other)| j != i && stands_beside(figure, other));
        // Dots and checks of a printed paper come in crowds.
        let crowd = figures.iter().filter(|other| alike_near(figure, other)).count();
        if !written && crowd <= CROWD && !is_check(figure, i, &figures) {
            marks.push(mark);
        }
    }
    marks.sort_by(|a, b| a.centre[1].total_cmp(&b.centre[1]).then(a.centre[0].total_cmp(&b.centre[0])));
    marks
}

/// Most figures of a mark's size within reach of it, itself included.
const CROWD: usize = 6;

/// Whether other figures meet a figure at most of its corners, as the fields
/// of a check do.
fn is_check(figure: &Figure, number: usize, figures: &[Figure]) -> bool {
    /// How near to the corner, in inches.
    const NEAR_IN: f32 = 0.05;
    /// At how many corners: on the border one or two are cut off.
    const LEAST: usize = 3;
    let [left, top, right, bottom] = figure.bounds;
    let reach = px(NEAR_IN);
    let corners = [[left, top], [right, top], [right, bottom], [left, bottom]];
    let meets = |[x, y]: &[f32; 2]| {
        figures.iter().enumerate().filter(|(j, other)| *j != number && figure.near(other, reach)).any(
            |(_, other)| other.pixels.iter().any(|p| (p[0] - x).abs() <= reach && (p[1] - y).abs() <= reach),
        )
    };
    corners.iter().filter(|corner| meets(corner)).count() >= LEAST
}

/// Whether another figure is of the same size and within three of its own
/// widths.
fn alike_near(figure: &Figure, other: &Figure) -> bool {
    let size = |f: &Figure| f.size()[0].max(f.size()[1]);
    let ratio = size(other) / size(figure);
    (0.6..1.7).contains(&ratio) && figure.near(other, 2.5 * size(figure))
}

/// Whether another figure stands beside this one as letters do.
fn stands_beside(figure: &Figure, other: &Figure) -> bool {
    let (a, b) = (figure.bounds, other.bounds);
    let height = figure.size()[1].max(figure.size()[0]);
    let tall = other.size()[1].max(other.size()[0]);
    let gap = (b[0] - a[2]).max(a[0] - b[2]);
    let level = a[3].min(b[3]) - a[1].max(b[1]);
    let upright_gap = (b[1] - a[3]).max(a[1] - b[3]);
    let beside = a[2].min(b[2]) - a[0].max(b[0]);
    let alike = tall > 0.35 * height && tall < 2.6 * height;
    // What is no mark itself but stands on the same line is writing, blanks or not.
    let no_mark = judge(other).is_none();
    let in_line = gap < WORD_GAP * height && level > 0.4 * height.min(tall) && no_mark;
    // Marks are strewn above each other, closely at times.
    let below = upright_gap < 0.25 * height && beside > 0.4 * height.min(tall) && no_mark;
    alike && (in_line || below || (gap < LETTER_GAP * height && level > 0.4 * height.min(tall)))
}

/// What is up to twice this wide may be a figure, in inches; anything wider is
/// the ground that figures lie on.
const FIGURE_REACH_IN: f32 = 0.18;

/// Darkness over the ground: what a filled panel adds everywhere is taken off
/// (white top-hat by opening, on blocks of pixels; Soille, "Morphological Image
/// Analysis", ch. 4).
fn darker_than_around(dark: &Plane, reach_px: f32) -> Plane {
    const BLOCK_PX: usize = 4;
    let (columns, rows) = (dark.width.div_ceil(BLOCK_PX), dark.height.div_ceil(BLOCK_PX));
    let mut least = Plane::new(columns, rows, f32::MAX);
    for (y, row) in dark.data.chunks_exact(dark.width).enumerate() {
        let cells = &mut least.data[y / BLOCK_PX * columns..(y / BLOCK_PX + 1) * columns];
        for (cell, values) in cells.iter_mut().zip(row.chunks(BLOCK_PX)) {
            *cell = values.iter().copied().fold(*cell, f32::min);
        }
    }
    let radius = floor_px(reach_px) / BLOCK_PX;
    let ground = least.eroded(radius).dilated(radius);
    let mut out = dark.clone();
    for (y, row) in out.data.chunks_exact_mut(dark.width).enumerate() {
        for (x, value) in row.iter_mut().enumerate() {
            *value -= ground.at(x / BLOCK_PX, y / BLOCK_PX);
        }
    }
    out
}

/// Ink that no chosen outline and no card edge accounts for.
fn left_over(strokes: &Strokes, chosen: &[&Hypothesis]) -> Bits {
    let dark = &darker_than_around(&strokes.darkness, px(FIGURE_REACH_IN));
    let mut levels: Vec<f32> =
        strokes.points.iter().map(|p| dark.between(p.x.max(0.0), p.y.max(0.0))).collect();
    if levels.is_empty() {
        return Bits::new(dark.width, dark.height);
    }
    let middle = levels.len() / 2;
    let ink = INK_SHARE * *levels.select_nth_unstable_by(middle, f32::total_cmp).1;
    let mut mask = Bits::over(dark, ink);
    // Only what is well inside the card.
    let edge = px(0.05);
    let [left, top, right, bottom] = strokes.card_px;
    let first = |v: f32, extent: usize| floor_px((v + edge).max(0.0) + 1.0).min(extent);
    let end = |v: f32, extent: usize| floor_px((v - edge).max(0.0).ceil()).min(extent);
    let columns = first(left, dark.width)..end(right, dark.width);
    let rows = first(top, dark.height)..end(bottom, dark.height);
    for y in 0..dark.height {
        if rows.contains(&y) {
            mask.clear(y, 0..columns.start);
            mask.clear(y, columns.end..dark.width);
        } else {
            mask.clear(y, 0..dark.width);
        }
    }
    let clear = |mask: &mut Bits, at: [f32; 2], reach: i32| {
        mask.clear_around(at.map(|v| crate::raster::round_px(v.into())), reach);
    };
    // The paper's rulings, which join what lies on them.
    for p in &strokes.ruling {
        clear(&mut mask, [p.x, p.y], RULING_PX);
    }
    // Straight strokes longer than any mark, whatever they are.
    for line in strokes.lines.iter().flatten() {
        for run in line.runs.iter().filter(|run| run.length() > px(SIZES_IN[1])) {
            for p in &run.points {
                clear(&mut mask, line.axis.join(p.u, p.v), STROKE_PX);
            }
        }
    }
    // What is accounted for, with the width of a stroke.
    for sample in chosen.iter().flat_map(|shape| &shape.samples) {
        if matches!(sample.ink, SampleInk::Seen(_)) {
            clear(&mut mask, sample.at, STROKE_PX);
        }
    }
    mask
}

/// Connected figures, parts that lie close taken together; what is larger than
/// any mark comes as it is, for it may be writing.
fn figures(mask: &Bits, reach: f32, largest: f32) -> Vec<Figure> {
    /// Specks of fewer pixels are paper.
    const SPECK_PX: usize = 12;
    let regions = mask.regions(Neighbours::Eight);
    let part = |area: &usize| Figure {
        bounds: [f32::MAX, f32::MAX, f32::MIN, f32::MIN],
        pixels: Vec::with_capacity(*area),
    };
    let mut parts: Vec<Figure> = regions.areas.iter().map(part).collect();
    for run in &regions.runs {
        let part = &mut parts[run.region];
        let (x0, x1, y) = (run.start as f32, run.end as f32, run.y as f32);
        part.bounds =
            [part.bounds[0].min(x0), part.bounds[1].min(y), part.bounds[2].max(x1), part.bounds[3].max(y)];
        part.pixels.extend((run.start..=run.end).map(|x| [x as f32, y]));
    }
    parts.retain(|part| part.pixels.len() >= SPECK_PX);
    // Only parts of open figures are put together: a closed one is whole.
    let mut whole: Vec<Figure> = Vec::new();
    let mut open: Vec<Figure> = Vec::new();
    for part in parts {
        let [width, height] = part.size();
        if width.max(height) > largest || judge(&part).is_some() { whole.push(part) } else { open.push(part) }
    }
    let mut i = 0;
    while i < open.len() {
        let partner = (i + 1..open.len())
            .find(|&j| open[i].near(&open[j], reach) && joined_fits(&open[i], &open[j], largest));
        if let Some(j) = partner {
            let other = open.swap_remove(j);
            let figure = &mut open[i];
            let (a, b) = (figure.bounds, other.bounds);
            figure.bounds = [a[0].min(b[0]), a[1].min(b[1]), a[2].max(b[2]), a[3].max(b[3])];
            figure.pixels.extend(other.pixels);
        } else {
            i += 1;
        }
    }
    whole.extend(open);
    whole
}

fn joined_fits(a: &Figure, b: &Figure, largest: f32) -> bool {
    let width = a.bounds[2].max(b.bounds[2]) - a.bounds[0].min(b.bounds[0]);
    let height = a.bounds[3].max(b.bounds[3]) - a.bounds[1].min(b.bounds[1]);
    width.max(height) <= largest
}

/// A figure as a mark, if it is closed or solid.
fn judge(figure: &Figure) -> Option<Mark> {
    let [left, top, right, bottom] = figure.bounds;
    let centre = [0.5 * (left + right), 0.5 * (top + bottom)];
    let half = [0.5 * (right - left) + 0.5, 0.5 * (bottom - top) + 0.5];
    // The farthest ink of each sector, as a share of the box's half-size.
    let mut reach = [0.0f32; SECTORS];
    let mut near = 0usize;
    for [x, y] in &figure.pixels {
        let (u, v) = ((x - centre[0]) / half[0], (y - centre[1]) / half[1]);
        let radius = (u * u + v * v).sqrt();
        if radius < 0.3 {
            near += 1;
            continue;
        }
        let turn = v.atan2(u) / std::f32::consts::TAU + 0.5;
        let sector = floor_px(turn * SECTORS as f32).min(SECTORS - 1);
        reach[sector] = reach[sector].max(radius);
    }
    let closed = reach.iter().filter(|r| **r > 0.35).count() as f32 / SECTORS as f32;
    let area = std::f32::consts::PI * half[0] * half[1];
    let filled = figure.pixels.len() as f32 / area;
    // Strokes through the middle are letters, unless the figure is solid.
    let crossed = near as f32 / (0.09 * area).max(1.0);
    if closed < LEAST_CLOSED || (crossed > 0.45 && filled < 0.5) {
        return None;
    }
    let mean = reach.iter().sum::<f32>() / SECTORS as f32;
    let spread = (reach.iter().map(|r| (r - mean).powi(2)).sum::<f32>() / SECTORS as f32).sqrt();
    // A ring's reach is even; a star's goes up and down five times; a heart
    // dips once, at the top.
    let rises =
        (0..SECTORS).filter(|&k| reach[k] > mean && reach[(k + SECTORS - 1) % SECTORS] <= mean).count();
    let kind = if spread < 0.1 {
        MarkKind::Dot
    } else if rises >= 4 {
        MarkKind::Star
    } else {
        MarkKind::Heart
    };
    Some(Mark { centre, half, kind, closed })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A solid figure of a given box.
    fn solid([left, top, right, bottom]: [u16; 4]) -> Figure {
        Figure {
            bounds: [left, top, right, bottom].map(f32::from),
            pixels: (top..=bottom)
                .flat_map(|y| (left..=right).map(move |x| [f32::from(x), f32::from(y)]))
                .collect(),
        }
    }

    #[test]
    fn a_field_of_a_check_is_told_from_a_dot() {
        let check: Vec<Figure> = [[100, 100], [120, 120], [80, 120], [120, 80], [80, 80]]
            .map(|[x, y]| solid([x, y, x + 17, y + 17]))
            .into();
        assert!(is_check(&check[0], 0, &check));
        assert!(!is_check(&check[1], 1, &check), "it lies in a corner");
        let row = [[100, 100], [140, 100], [180, 100]].map(|[x, y]| solid([x, y, x + 17, y + 17]));
        assert!(!is_check(&row[1], 1, &row));
    }

    #[test]
    fn dots_strewn_above_each_other_are_not_writing() {
        let (dot, below) = (solid([100, 100, 130, 130]), solid([104, 136, 134, 166]));
        assert!(!stands_beside(&dot, &below));
        // A letter is open.
        let bar = solid([100, 136, 130, 140]);
        let letter = Figure {
            bounds: [100.0, 136.0, 130.0, 166.0],
            pixels: bar.pixels.into_iter().chain(solid([113, 136, 117, 166]).pixels).collect(),
        };
        assert!(judge(&letter).is_none() && stands_beside(&dot, &letter));
    }
}

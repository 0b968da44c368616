//! Stage 6: what is drawn on one card, square-on. Ridge points become level
//! and upright lines; line ends that meet become corners; printed rulings and
//! the inner lines of hatched fills are set apart.
//! The strength that counts as ink is taken from the card's own outline: same
//! pen, same light.

use crate::edges::{EdgeOptions, clear_or_long, edge_points};
use crate::geometry::Point;
use crate::ink::{InkOptions, RidgePoint, Smoothed, ridge_points};
use crate::lines::{Axis, Line, LineOptions, Run, join, runs};
use crate::raster::Plane;
use crate::rectify::{MARGIN_IN, PX_PER_IN, Rectified, px, to_px};
use crate::ruling::{Ruling, set_aside_on_card};
use crate::texture::{TextureOptions, inner_strokes};
use crate::tone::Tone;

/// The strokes of one card; positions in pixels of the rectified picture.
pub(crate) struct Strokes {
    /// All stroke points, rulings set aside.
    pub(crate) points: Vec<RidgePoint>,
    /// Where to find points by place.
    pub(crate) index: PointIndex,
    /// Lines by [`Axis`]: level, then upright.
    pub(crate) lines: [Vec<Line>; 2],
    /// Where a level and an upright stroke end together.
    pub(crate) corners: Vec<Corner>,
    /// The points of the paper's rulings.
    pub(crate) ruling: Vec<RidgePoint>,
    /// How dark each pixel is against the paper.
    pub(crate) darkness: Plane,
    /// The card's left, top, right and bottom in pixels.
    pub(crate) card_px: [f32; 4],
}

/// A place where one level and one upright stroke end.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Corner {
    /// Where, in pixels.
    pub(crate) at: [f32; 2],
    /// Whether the level stroke goes to the right from here, and the upright
    /// one downwards.
    pub(crate) opens: [bool; 2],
    /// Whether an arc goes between the two, from one end to the other.
    pub(crate) round: bool,
}

/// Which strokes are kept and how they are joined. Lengths in inches.
#[derive(Clone, Copy, Debug)]
pub(crate) struct StrokeOptions {
    /// Weakest ink, as a share of the median strength along the outline.
    pub(crate) of_outline: f32,
    /// Shortest straight stroke: half the smallest strip's end.
    pub(crate) shortest_in: f32,
}

impl Default for StrokeOptions {
    fn default() -> Self {
        StrokeOptions { of_outline: 0.22, shortest_in: 0.13 }
    }
}

/// What is up to twice this wide counts as ink, not as paper, in inches.
const PAPER_REACH_IN: f32 = 0.7;

/// Blurs that strokes are looked for at, in pixels.
const SIGMAS_PX: [f32; 2] = [1.5, 2.4];
/// Side of the blocks that grain is taken on, in pixels: half an inch, so that
/// a nest of mats does not fill one.
const GRAIN_PX: usize = 64;
/// A faint edge is kept from this length on, in inches.
const FAINT_IN: f32 = 0.5;
/// Weakest edge of a fill on a drawing with an outline, as a share of the
/// outline's strength: prints shade and stripe panels that are drawn anyway.
const FILL_OF_OUTLINE: f32 = 1.0;
/// The widest stroke, in inches: a marker's on a drawing of half the card's size.
const STROKE_IN: f32 = 0.11;

/// Finds the strokes of a card.
pub(crate) fn find_strokes(
    card: &Rectified,
    ruled: &[Vec<Ruling>; 2],
    page_of: &dyn Fn(Point) -> Point,
    outlined: bool,
    options: StrokeOptions,
) -> Strokes {
    let tone = Tone::of(&card.picture, crate::raster::floor_px(px(PAPER_REACH_IN)));
    let dark = tone.darkness();
    let smoothed = Smoothed::of(&dark, SIGMAS_PX);
    let mut points = ridge_points(&smoothed, &InkOptions { over_grain: 2.2, grain_px: GRAIN_PX });
    let ridges = points.clone();
    let [right, bottom] = card.size_in.map(|side| narrow(to_px(side)));
    let zero = narrow(to_px(0.0));
    let card_px = [zero, zero, right, bottom];
    let ruling = set_aside_on_card(&mut points, ruled, card, page_of);
    // A drawing with an outline has all its shapes drawn: fills have little say.
    let (typical, drawn) = match outline_strength(&points, card_px) {
        Some(strength) if outlined => (strength, true),
        _ => (strong_strokes(&points, card_px), false),
    };
    let floor = options.of_outline * typical;
    points.retain(|p| p.strength >= floor);
    let edge_options = EdgeOptions {
        sigma_px: SIGMAS_PX[0],
        over_grain: 3.1,
        stroke_px: px(STROKE_IN) / 2.0,
        grain_px: GRAIN_PX,
        faint_px: crate::raster::floor_px(px(FAINT_IN)),
    };
    let mut edges = if drawn {
        let mut edges = edge_points(&[&smoothed.fine], &ridges, &edge_options);
        edges.retain(|p| p.strength >= FILL_OF_OUTLINE * typical);
        edges
    } else {
        // Panels of equal brightness part by colour.
        let colours = tone.colours().map(|colour| colour.blurred(SIGMAS_PX[0]));
        edge_points(&colours.each_ref(), &ridges, &edge_options)
    };
    set_aside_on_card(&mut edges, ruled, card, page_of);
    if !drawn {
        let (width, height) = (dark.width, dark.height);
        points = clear_or_long(points, crate::raster::floor_px(px(FAINT_IN)), width, height);
    }
    points.extend(edges);
    // A caption or a neighbour in the margin is no part of this card.
    let reach = px(0.06);
    points.retain(|p| {
        p.x > card_px[0] - reach
            && p.x < card_px[2] + reach
            && p.y > card_px[1] - reach
            && p.y < card_px[3] + reach
    });
    let line_options = LineOptions {
        steepest: 0.15,
        link_gap_px: px(0.06),
        chord_px: px(0.03),
        shortest_px: px(options.shortest_in),
        join_px: px(0.03),
        join_growth: 0.008,
        bow: 0.006,
        join_gap_px: px(6.0),
    };
    let texture = TextureOptions { step_px: px(0.26), fewest: 7 };
    let mut runs = Axis::BOTH.map(|axis| runs(&points, axis, &line_options));
    let mut filling = vec![false; points.len()];
    let whole = PointIndex::of(&points, card.picture.width() as usize, card.picture.height() as usize);
    for (axis, runs) in Axis::BOTH.into_iter().zip(&mut runs) {
        let inner = inner_strokes(runs, &texture);
        for (run, _) in runs.iter().zip(&inner).filter(|(_, inner)| **inner) {
            mark_along(run, axis, &points, &whole, &mut filling);
        }
        let mut keep = inner.iter();
        runs.retain(|_| keep.next() != Some(&true));
    }
    let mut keep = filling.iter();
    points.retain(|_| keep.next() != Some(&true));
    let [level, upright] = runs;
    let lines = [join(level, Axis::Horizontal, &line_options), join(upright, Axis::Vertical, &line_options)];
    let index = PointIndex::of(&points, card.picture.width() as usize, card.picture.height() as usize);
    let mut corners = corners(&lines, px(0.1));
    corners.extend(round_corners(&lines, &points, &index));
    Strokes { points, index, lines, corners, ruling, darkness: dark, card_px }
}

/// Marks the points that a run is made of.
fn mark_along(run: &Run, axis: Axis, points: &[RidgePoint], index: &PointIndex, marked: &mut [bool]) {
    for p in &run.points {
        let [x, y] = axis.join(p.u, p.v);
        for i in index.near(x, y, 2.0) {
            let q = &points[i];
            let (tu, _) = axis.split(q.tx, q.ty);
            if (q.x - x).abs() <= 2.0 && (q.y - y).abs() <= 2.0 && tu.abs() > 0.9 {
                marked[i] = true;
            }
        }
    }
}

/// Positions are far inside f32's exact range.
#[expect(clippy::cast_possible_truncation, reason = "picture coordinates")]
pub(crate) fn narrow(v: f64) -> f32 {
    v as f32
}

/// Median strength of the strokes along the card's own outline; none where it
/// is not drawn, but the edge of paper.
fn outline_strength(points: &[RidgePoint], card_px: [f32; 4]) -> Option<f32> {
    /// Least share of the outline that strokes follow.
    const DRAWN: f32 = 0.5;
    let near = px(0.05);
    let [left, top, right, bottom] = card_px;
    let mut strengths: Vec<f32> = points
        .iter()
        .filter(|p| {
            let inside = p.x > left - near && p.x < right + near && p.y > top - near && p.y < bottom + near;
            let upright = (p.x - left).abs().min((p.x - right).abs()) < near && p.ty.abs() > 0.9;
            let level = (p.y - top).abs().min((p.y - bottom).abs()) < near && p.tx.abs() > 0.9;
            inside && (upright || level)
        })
        .map(|p| p.strength)
        .collect();
    if (strengths.len() as f32) < DRAWN * 2.0 * (right - left + bottom - top) {
        return None;
    }
    let middle = strengths.len() / 2;
    Some(*strengths.select_nth_unstable_by(middle, f32::total_cmp).1)
}

/// Whether a point runs along the card's outline, on it.
pub(crate) fn on_outline(p: &RidgePoint, [left, top, right, bottom]: [f32; 4]) -> bool {
    /// Half the width of an outline, in inches: less than the narrowest border.
    const NEAR_IN: f32 = 0.035;
    /// Cosine of the largest angle to it.
    const ALONG: f32 = 0.97;
    let near = |v: f32, low: f32, high: f32| (v - low).abs().min((v - high).abs()) <= px(NEAR_IN);
    (p.ty.abs() > ALONG && near(p.x, left, right)) || (p.tx.abs() > ALONG && near(p.y, top, bottom))
}

/// Where no outline is there to tell the pen: the strength that nine tenths of
/// all points on the card stay under.
fn strong_strokes(points: &[RidgePoint], [left, top, right, bottom]: [f32; 4]) -> f32 {
    let on_card = |p: &&RidgePoint| p.x > left && p.x < right && p.y > top && p.y < bottom;
    let mut strengths: Vec<f32> = points.iter().filter(on_card).map(|p| p.strength).collect();
    if strengths.is_empty() {
        return 0.0;
    }
    let at = strengths.len() * 9 / 10;
    *strengths.select_nth_unstable_by(at, f32::total_cmp).1
}

/// Pairs of ends, one level and one upright, that are mutually nearest within
/// `reach_px`: an L as a pen draws it, with its corner a little open or crossed.
pub(crate) fn corners(lines: &[Vec<Line>; 2], reach_px: f32) -> Vec<Corner> {
    let (level, upright) = (ends(&lines[0]), ends(&lines[1]));
    let distance = |a: [f32; 2], b: [f32; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let nearest = |from: [f32; 2], to: &[End]| {
        (0..to.len()).min_by(|&i, &j| distance(from, to[i].at).total_cmp(&distance(from, to[j].at)))
    };
    let mut out = Vec::new();
    for (i, own) in level.iter().enumerate() {
        let Some(j) = nearest(own.at, &upright) else { continue };
        let other = upright[j];
        if distance(own.at, other.at) <= reach_px && nearest(other.at, &level) == Some(i) {
            let opens = [own.onward, other.onward];
            out.push(Corner { at: [other.at[0], own.at[1]], opens, round: false });
        }
    }
    out
}

/// An end of a run.
#[derive(Clone, Copy)]
struct End {
    at: [f32; 2],
    /// Whether the stroke goes up along its axis from here.
    onward: bool,
    /// Where the line that the run belongs to lies across.
    across: f32,
    /// How long the run is.
    length: f32,
}

/// Both ends of every run.
fn ends(lines: &[Line]) -> Vec<End> {
    let mut out = Vec::new();
    for line in lines {
        for run in &line.runs {
            for (point, onward) in [(&run.points[0], true), (&run.points[run.points.len() - 1], false)] {
                out.push(End {
                    at: line.axis.join(point.u, point.v),
                    onward,
                    across: line.straight(0.5 * (run.start() + run.end())),
                    length: run.length(),
                });
            }
        }
    }
    out
}

/// Pairs of ends, one level and one upright, with an arc from one to the other:
/// the rounded corners of panels. Each is where the two would cross.
fn round_corners(lines: &[Vec<Line>; 2], points: &[RidgePoint], index: &PointIndex) -> Vec<Corner> {
    /// How far from the corner the straight parts may end, in inches.
    const RADII_IN: [f32; 2] = [0.06, 0.52];
    /// How unlike both distances may be: an arc's ends pass for straight.
    const UNLIKE: f32 = 1.6;
    /// Shortest straight part between two arcs, in inches.
    const STRAIGHT_IN: f32 = 0.25;
    /// Places looked at along the arc, and how many of them must be inked.
    const PLACES: u8 = 8;
    const INKED: usize = 7;
    /// How near the stroke must be, in inches.
    const NEAR_IN: f32 = 0.03;
    /// Corners nearer to each other than a narrow mat's are one, in inches.
    const APART_IN: f32 = 0.04;
    let upright = ends(&lines[1]);
    let mut out: Vec<Corner> = Vec::new();
    for level in ends(&lines[0]) {
        for other in &upright {
            let corner = [other.across, level.across];
            // From the corner inwards.
            let along = if level.onward { level.at[0] - corner[0] } else { corner[0] - level.at[0] };
            let down = if other.onward { other.at[1] - corner[1] } else { corner[1] - other.at[1] };
            let fits = |length: f32| length >= px(RADII_IN[0]) && length <= px(RADII_IN[1]);
            if !fits(along) || !fits(down) || along.max(down) > UNLIKE * along.min(down) {
                continue;
            }
            // A dot or a small circle passes for straight at its top for less.
            if level.length.min(other.length) < px(STRAIGHT_IN) {
                continue;
            }
            let way = |onward: bool| if onward { 1.0 } else { -1.0 };
            let (sx, sy) = (way(level.onward), way(other.onward));
            let seen = (0..PLACES).filter(|&i| {
                let (sin, cos) =
                    ((f32::from(i) + 0.5) / f32::from(PLACES) * std::f32::consts::FRAC_PI_2).sin_cos();
                let at = [corner[0] + sx * along * (1.0 - sin), corner[1] + sy * down * (1.0 - cos)];
                let length = (along * cos).hypot(down * sin);
                let direction = [-sx * along * cos / length, sy * down * sin / length];
                index.near(at[0], at[1], px(NEAR_IN)).map(|k| &points[k]).any(|p| {
                    (p.x - at[0]).hypot(p.y - at[1]) <= px(NEAR_IN)
                        && (p.tx * direction[0] + p.ty * direction[1]).abs() > 0.85
                })
            });
            let opens = [level.onward, other.onward];
            let known = |known: &Corner| {
                known.opens == opens
                    && (known.at[0] - corner[0]).hypot(known.at[1] - corner[1]) < px(APART_IN)
            };
            if !out.iter().any(known) && seen.count() >= INKED {
                out.push(Corner { at: corner, opens, round: true });
            }
        }
    }
    out
}

/// Finds points by place.
pub(crate) struct PointIndex {
    columns: usize,
    rows: usize,
    /// First place in `order` of each cell.
    starts: Vec<u32>,
    /// Points, cell after cell.
    order: Vec<u32>,
}

/// Side of an index cell in pixels.
const CELL_PX: f32 = 4.0;

impl PointIndex {
    pub(crate) fn of(points: &[RidgePoint], width: usize, height: usize) -> PointIndex {
        let (columns, rows) = (width / 4 + 1, height / 4 + 1);
        let cell = |p: &RidgePoint| {
            let x = crate::raster::floor_px(p.x.max(0.0) / CELL_PX).min(columns - 1);
            let y = crate::raster::floor_px(p.y.max(0.0) / CELL_PX).min(rows - 1);
            y * columns + x
        };
        let mut starts = vec![0u32; columns * rows + 1];
        for p in points {
            starts[cell(p) + 1] += 1;
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut next = starts.clone();
        let mut order = vec![0u32; points.len()];
        for (i, p) in points.iter().enumerate() {
            let slot = &mut next[cell(p)];
            order[*slot as usize] = u32::try_from(i).unwrap_or(u32::MAX);
            *slot += 1;
        }
        PointIndex { columns, rows, starts, order }
    }

    /// The points within about `reach_px` of a place (the cells it touches).
    pub(crate) fn near(&self, x: f32, y: f32, reach_px: f32) -> impl Iterator<Item = usize> {
        let cell = |v: f32, most: usize| crate::raster::floor_px(v.max(0.0) / CELL_PX).min(most - 1);
        let (x0, x1) = (cell(x - reach_px, self.columns), cell(x + reach_px, self.columns));
        let (y0, y1) = (cell(y - reach_px, self.rows), cell(y + reach_px, self.rows));
        (y0..=y1).flat_map(move |row| {
            let from = self.starts[row * self.columns + x0] as usize;
            let to = self.starts[row * self.columns + x1 + 1] as usize;
            self.order[from..to].iter().map(|&i| i as usize)
        })
    }
}

/// Page kept around the card, in pixels.
pub(crate) fn margin_px() -> f32 {
    narrow(MARGIN_IN * PX_PER_IN)
}

#[cfg(test)]
mod tests {
    use super::*;

    const OPTIONS: LineOptions = LineOptions {
        steepest: 0.15,
        link_gap_px: 8.0,
        chord_px: 4.0,
        shortest_px: 16.0,
        join_px: 4.0,
        join_growth: 0.008,
        bow: 0.006,
        join_gap_px: 700.0,
    };

    /// The round corners of a panel from (60, 50) to (360, 250) whose straight
    /// sides end `radius` before its corners, with arcs from one to the next or
    /// nothing.
    fn corners_of_panel(radius: f32, arcs: bool) -> Vec<Corner> {
        let [left, top, right, bottom] = [60.0f32, 50.0, 360.0, 250.0];
        let mut points = Vec::new();
        let point = |x: f32, y: f32, tx: f32, ty: f32| RidgePoint { x, y, tx, ty, strength: 1.0 };
        for y in [top, bottom] {
            (0..=300u16)
                .map(|x| left + f32::from(x))
                .filter(|x| *x >= left + radius && *x <= right - radius)
                .for_each(|x| points.push(point(x, y, 1.0, 0.0)));
        }
        for x in [left, right] {
            (0..=200u16)
                .map(|y| top + f32::from(y))
                .filter(|y| *y >= top + radius && *y <= bottom - radius)
                .for_each(|y| points.push(point(x, y, 0.0, 1.0)));
        }
        let straight = points.clone();
        for (x, y, from) in [(right, bottom, 0u16), (left, bottom, 90), (left, top, 180), (right, top, 270)] {
            let middle =
                [x + if x < right { radius } else { -radius }, y + if y < bottom { radius } else { -radius }];
            for degree in (from..from + 90).step_by(2) {
                let (sin, cos) = f32::from(degree).to_radians().sin_cos();
                points.push(point(middle[0] + radius * cos, middle[1] + radius * sin, -sin, cos));
            }
        }
        let points = if arcs { points } else { straight.clone() };
        let [level, upright] = Axis::BOTH.map(|axis| runs(&straight, axis, &OPTIONS));
        let lines = [join(level, Axis::Horizontal, &OPTIONS), join(upright, Axis::Vertical, &OPTIONS)];
        round_corners(&lines, &points, &PointIndex::of(&points, 420, 300))
    }

    #[test]
    fn a_rounded_panel_has_four_round_corners_where_its_sides_would_cross() {
        let corners = corners_of_panel(32.0, true);
        assert_eq!(corners.len(), 4, "{corners:?}");
        for [x, y] in [[60.0, 50.0], [360.0, 50.0], [360.0, 250.0], [60.0, 250.0]] {
            let opens = [x < 200.0, y < 150.0];
            let found = corners.iter().any(|c| {
                (c.at[0] - x).abs() < 5.0 && (c.at[1] - y).abs() < 5.0 && c.opens == opens && c.round
            });
            assert!(found, "{x} {y}: {corners:?}");
        }
    }

    #[test]
    fn without_an_arc_between_its_sides_a_corner_is_not_round() {
        assert!(corners_of_panel(32.0, false).is_empty());
        assert!(corners_of_panel(0.0, false).is_empty());
    }
}

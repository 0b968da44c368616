//! Paper that nobody sees: the largest upright rectangle that can be cut out
//! of a panel's hidden middle, and the strips that do instead of a panel of
//! which only strips show. Both leave a margin for glue: a hole keeps its
//! distance from all that is seen and from the panel's own edge, a strip
//! reaches so far under what covers it.
//!
//! The hole is exact on the grid of positions: a rectangle of grid cells may
//! be cut out if each of its cells may be, so the best is found by the
//! largest-rectangle sweep over the rows (a stack of rising heights; folklore
//! of the largest rectangle under a histogram). Its sides are cut down to the
//! grid of sizes.

use crate::element::{Element, Frame};
use crate::length::{Length, Step, Unit};
use crate::region::{Region, turned};

/// Paper to be saved: upright on the element before it is turned, measured from
/// the top-left corner of the element's own frame.
pub type OwnFrame = Frame;

/// What is held back when paper is saved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Margins {
    /// Paper that stays for glue, 1/16 in or more. 1/4 in (6 mm): room for a
    /// line of glue or tape under every edge that is seen. Common practice, no
    /// source.
    pub glue: Length,
    /// Shortest side of a piece that is worth saving. 1 in (25 mm): less is
    /// seldom used again. Common practice, no source.
    pub least: Length,
}

impl Margins {
    /// The usual ones in this system.
    pub const fn usual(unit: Unit) -> Margins {
        match unit {
            Unit::Inch => Margins { glue: Length::eighths(2), least: Length::inches(1) },
            Unit::Millimetre => Margins { glue: Length::millimetres(6), least: Length::millimetres(25) },
        }
    }
}

/// Most strips that are offered for a panel: with more, the panel is less work.
const MOST_STRIPS: usize = 4;
/// Parts that show less than this, in square inches, are no strips: an eighth
/// by an eighth.
const SLIVER_IN2: f64 = 1.0 / 64.0;
/// The strips together are no more than this share of the panel.
const WORTH_CUTTING: f64 = 0.75;
/// What turning and rounding may add to a distance, in grid cells: a
/// 16000th of an inch.
const NOTHING: f64 = 1e-3;

/// The largest rectangle that can be cut out of the hidden part of an element.
/// Of equal ones the highest, then the leftmost.
pub fn hole(element: &Element, hidden: &Region, unit: Unit, margins: Margins) -> Option<OwnFrame> {
    let grid = Grid::of(element, unit);
    let edges: Vec<[[f64; 2]; 2]> = hidden.edges_in().into_iter().map(|edge| grid.own(edge)).collect();
    let least = margins.least.in_steps(unit, Step::Position).max(2).unsigned_abs() as usize;
    let margin = f64::from(margins.glue.in_steps(unit, Step::Position).max(1));
    let free = free_cells(&edges, grid.size, margin);
    let [x, y, width, height] = largest(&free, grid.size[0], least)?;
    Some(grid.frame([x, y, x + width, y + height]))
}

/// The strips that show the same as a whole panel of which only separate parts
/// are seen; none where they would save too little.
pub fn strips(element: &Element, seen: &Region, unit: Unit, margins: Margins) -> Option<Vec<OwnFrame>> {
    let grid = Grid::of(element, unit);
    let parts: Vec<Region> = seen.parts().into_iter().filter(|part| part.area_in() >= SLIVER_IN2).collect();
    if parts.len() < 2 || parts.len() > MOST_STRIPS {
        return None;
    }
    let margin = f64::from(margins.glue.in_steps(unit, Step::Position));
    let mut strips: Vec<OwnFrame> = parts.iter().filter_map(|part| grid.strip(part, margin)).collect();
    strips.sort_by_key(|strip| (strip.y, strip.x));
    let apart = strips
        .iter()
        .enumerate()
        .all(|(index, one)| strips[index + 1..].iter().all(|other| one.shared(*other).is_none()));
    let area = |frame: &Frame| frame.width.value(unit) * frame.height.value(unit);
    let worth = strips.iter().map(area).sum::<f64>() <= WORTH_CUTTING * area(&element.frame);
    (apart && worth).then_some(strips)
}

/// The cells of an element's frame, a step of positions wide.
struct Grid<'e> {
    element: &'e Element,
    unit: Unit,
    /// Cells across and down.
    size: [usize; 2],
    cell_in: f64,
}

impl Grid<'_> {
    fn of(element: &Element, unit: Unit) -> Grid<'_> {
        let cells = |side: Length| side.in_steps(unit, Step::Position).unsigned_abs() as usize;
        let size = [cells(element.frame.width), cells(element.frame.height)];
        Grid { element, unit, size, cell_in: Length::steps(1, unit, Step::Position).value(Unit::Inch) }
    }

    /// Points on the card in cells from the element's own corner.
    fn own<const N: usize>(&self, points: [[f64; 2]; N]) -> [[f64; 2]; N] {
        let [left, top, right, bottom] = self.element.frame.reach_in(0.0, self.element.shape);
        let centre = [f64::midpoint(left, right), f64::midpoint(top, bottom)];
        let back = turned(&points, centre, -self.element.rotation_deg);
        let mut own = points;
        for (own, [x, y]) in own.iter_mut().zip(back) {
            *own = [(x - left) / self.cell_in, (y - top) / self.cell_in];
        }
        own
    }

    /// Between four lines of the grid, as a frame.
    fn frame(&self, [left, top, right, bottom]: [usize; 4]) -> OwnFrame {
        let steps =
            |cells: usize| Length::steps(i32::try_from(cells).unwrap_or(i32::MAX), self.unit, Step::Position);
        Frame { x: steps(left), y: steps(top), width: steps(right - left), height: steps(bottom - top) }
    }

    /// The strip that shows a part, with its margin under what covers it. It
    /// ends where the element does, and its sides are whole steps of sizes.
    fn strip(&self, part: &Region, margin: f64) -> Option<OwnFrame> {
        let points: Vec<[f64; 2]> =
            part.contours_in().into_iter().flatten().flat_map(|point| self.own([point])).collect();
        let mut sides = [0; 4];
        for axis in 0..2 {
            let along = points.iter().map(|point| point[axis]);
            let (from, to) =
                along.fold((f64::INFINITY, f64::NEG_INFINITY), |(from, to), at| (from.min(at), to.max(at)));
            let most = self.size[axis];
            let mut from = cell(from - margin + NOTHING, most);
            let mut to = cell((to + margin - NOTHING).ceil(), most);
            if (to - from) % 2 == 1 {
                if to < most { to += 1 } else { from -= 1 }
            }
            [sides[axis], sides[axis + 2]] = [from, to];
        }
        (sides[0] < sides[2] && sides[1] < sides[3]).then(|| self.frame(sides))
    }
}

/// The line of the grid at or before a place, kept inside.
fn cell(at: f64, most: usize) -> usize {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "held between nothing and the grid"
    )]
    let line = at.floor().clamp(0.0, most as f64) as usize;
    line
}

/// Which cells lie inside of the outlines and so far from them, row by row.
fn free_cells(edges: &[[[f64; 2]; 2]], [columns, rows]: [usize; 2], margin: f64) -> Vec<bool> {
    let mut free = vec![false; columns * rows];
    for row in 0..rows {
        let y = row as f64 + 0.5;
        let mut crossings: Vec<f64> = edges
            .iter()
            .filter(|[from, to]| (from[1] <= y) != (to[1] <= y))
            .map(|[from, to]| from[0] + (y - from[1]) / (to[1] - from[1]) * (to[0] - from[0]))
            .collect();
        crossings.sort_by(f64::total_cmp);
        for inside in crossings.chunks_exact(2) {
            let [from, to] = [inside[0], inside[1]].map(|x| cell((x - 0.5).ceil(), columns));
            free[row * columns + from..row * columns + to].fill(true);
        }
    }
    for [from, to] in edges {
        let [left, right] = [from[0].min(to[0]) - margin - 1.0, from[0].max(to[0]) + margin + 1.0];
        let [top, bottom] = [from[1].min(to[1]) - margin - 1.0, from[1].max(to[1]) + margin + 1.0];
        for row in cell(top, rows)..cell(bottom.ceil(), rows) {
            for column in cell(left, columns)..cell(right.ceil(), columns) {
                let corner = [column as f64, row as f64];
                if free[row * columns + column] && distance(corner, [*from, *to]) < margin - NOTHING {
                    free[row * columns + column] = false;
                }
            }
        }
    }
    free
}

/// From the cell at this corner to a side.
fn distance(corner: [f64; 2], [from, to]: [[f64; 2]; 2]) -> f64 {
    if crosses(corner, from, to) {
        return 0.0;
    }
    let to_cell = |point: [f64; 2]| {
        let [dx, dy] =
            [0, 1].map(|axis| (corner[axis] - point[axis]).max(point[axis] - corner[axis] - 1.0).max(0.0));
        dx.hypot(dy)
    };
    let [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    let length2 = dx * dx + dy * dy;
    let to_side = |[x, y]: [f64; 2]| {
        let along = if length2 > 0.0 { ((x - from[0]) * dx + (y - from[1]) * dy) / length2 } else { 0.0 };
        let along = along.clamp(0.0, 1.0);
        (x - from[0] - along * dx).hypot(y - from[1] - along * dy)
    };
    let corners = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [1.0, 1.0]]
        .map(|[x, y]| to_side([corner[0] + x, corner[1] + y]));
    corners.into_iter().chain([to_cell(from), to_cell(to)]).fold(f64::INFINITY, f64::min)
}

/// Whether a side runs through a cell (line clipping after Liang and Barsky,
/// 1984; from memory).
fn crosses(corner: [f64; 2], from: [f64; 2], to: [f64; 2]) -> bool {
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for axis in 0..2 {
        let along = to[axis] - from[axis];
        let [before, behind] = [corner[axis] - from[axis], corner[axis] + 1.0 - from[axis]];
        if along == 0.0 {
            if before > 0.0 || behind < 0.0 {
                return false;
            }
        } else {
            let (a, b) = (before / along, behind / along);
            enter = enter.max(a.min(b));
            leave = leave.min(a.max(b));
        }
    }
    enter <= leave
}

/// The largest rectangle of free cells whose sides are even numbers of cells
/// and no shorter than `least`, as left, top, width and height.
fn largest(free: &[bool], columns: usize, least: usize) -> Option<[usize; 4]> {
    let mut best: Option<[usize; 4]> = None;
    let mut heights = vec![0_usize; columns];
    for (row, cells) in free.chunks_exact(columns.max(1)).enumerate() {
        for (height, &is_free) in heights.iter_mut().zip(cells) {
            *height = if is_free { *height + 1 } else { 0 };
        }
        // Columns of rising heights, each from where it could begin.
        let mut rising: Vec<(usize, usize)> = Vec::new();
        for column in 0..=columns {
            let now = heights.get(column).copied().unwrap_or(0);
            let mut from = column;
            while let Some(&(begin, height)) = rising.last().filter(|(_, height)| *height >= now) {
                rising.pop();
                from = begin;
                let [width, high] = [column - begin, height].map(|side| side / 2 * 2);
                let found = [begin, row + 1 - height, width, high];
                if width >= least && high >= least && best.is_none_or(|best| better(found, best)) {
                    best = Some(found);
                }
            }
            rising.push((from, now));
        }
    }
    best
}

fn better(one: [usize; 4], other: [usize; 4]) -> bool {
    let rank = |[x, y, width, height]: [usize; 4]| (width * height, std::cmp::Reverse((y, x)));
    rank(one) > rank(other)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::Shape;
    use proptest::prelude::*;

    fn frame([x, y, width, height]: [i32; 4]) -> Frame {
        let [x, y, width, height] = [x, y, width, height].map(Length::sixteenths);
        Frame { x, y, width, height }
    }

    fn panel(at: [i32; 4]) -> Element {
        Element::new(1, Shape::SHARP, frame(at))
    }

    /// The hole in a panel under these shapes, in sixteenths.
    fn cut_out(panel: &Element, covers: &[(Shape, [i32; 4])]) -> Option<[i32; 4]> {
        let whole = Region::of(panel.shape, panel.frame, panel.rotation_deg);
        let cover = covers.iter().fold(Region::default(), |cover, &(shape, at)| {
            cover.and(&Region::of(shape, frame(at), panel.rotation_deg))
        });
        let found = hole(panel, &whole.shared(&cover), Unit::Inch, Margins::usual(Unit::Inch))?;
        Some(
            [found.x, found.y, found.width, found.height]
                .map(|side| side.in_steps(Unit::Inch, Step::Position)),
        )
    }

    /// A panel of 4 x 5 1/4 under one of 3 x 4 1/4: 1/4 less on each side.
    #[test]
    fn a_margin_for_glue_stays_all_round() {
        let panel = panel([2, 2, 64, 84]);
        assert_eq!(cut_out(&panel, &[(Shape::SHARP, [10, 10, 48, 68])]), Some([12, 12, 40, 60]));
        // Under two that meet, a hole reaches from one to the other.
        let halves = [(Shape::SHARP, [10, 10, 48, 30]), (Shape::SHARP, [10, 40, 48, 38])];
        assert_eq!(cut_out(&panel, &halves), Some([12, 12, 40, 60]));
        assert_eq!(cut_out(&panel, &[]), None);
        // Hidden up to its edges, it keeps a rim.
        assert_eq!(cut_out(&panel, &[(Shape::SHARP, [0, 0, 90, 90])]), Some([4, 4, 56, 76]));
    }

    #[test]
    fn less_than_an_inch_is_not_worth_a_hole() {
        assert_eq!(cut_out(&panel([2, 2, 64, 84]), &[(Shape::SHARP, [10, 10, 22, 68])]), None);
        assert_eq!(
            cut_out(&panel([2, 2, 64, 84]), &[(Shape::SHARP, [10, 10, 24, 68])]),
            Some([12, 12, 16, 60])
        );
    }

    /// The square in a circle of radius r has a side of r √2: under a circle of
    /// 3 in with a margin of 1/4 that is 1.77, and 1 3/4 on the grid.
    #[test]
    fn under_a_circle_a_square_can_be_cut_out() {
        let found = cut_out(&panel([0, 0, 64, 80]), &[(Shape::Circle, [8, 16, 48, 48])]).unwrap();
        assert_eq!(found, [18, 26, 28, 28]);
    }

    #[test]
    fn a_turned_panel_is_cut_along_its_own_sides() {
        let mut panel = panel([2, 2, 64, 84]);
        panel.rotation_deg = 20.0;
        // Covered by one of the same centre and turn.
        let found = cut_out(&panel, &[(Shape::SHARP, [10, 10, 48, 68])]);
        assert_eq!(found, Some([12, 12, 40, 60]));
    }

    #[test]
    fn a_panel_of_which_two_strips_show_can_be_two_strips() {
        let panel = panel([2, 2, 64, 84]);
        let whole = Region::of(panel.shape, panel.frame, 0.0);
        let offered = |cover: [i32; 4]| {
            let seen = whole.minus(&Region::of(Shape::SHARP, frame(cover), 0.0));
            strips(&panel, &seen, Unit::Inch, Margins::usual(Unit::Inch))
        };
        // 1 in shows above and below, 1/4 of each lies under the cover.
        let strips = offered([0, 18, 68, 52]).unwrap();
        assert_eq!(strips, [frame([0, 0, 64, 20]), frame([0, 64, 64, 20])]);
        assert_eq!(offered([0, 18, 60, 52]), None, "one part shows");
        assert_eq!(offered([0, 42, 68, 4]), None, "nearly all of it shows");
    }

    /// Every rectangle of even sides, one by one.
    fn slow(free: &[bool], columns: usize, rows: usize, least: usize) -> usize {
        let mut best = 0;
        for top in 0..rows {
            for left in 0..columns {
                for bottom in (top + 2..=rows).step_by(2) {
                    for right in (left + 2..=columns).step_by(2) {
                        let (width, height) = (right - left, bottom - top);
                        let whole = (top..bottom).all(|y| (left..right).all(|x| free[y * columns + x]));
                        if whole && width >= least && height >= least {
                            best = best.max(width * height);
                        }
                    }
                }
            }
        }
        best
    }

    proptest! {
        #[test]
        fn no_rectangle_of_free_cells_is_larger(
            columns in 1_usize..10, seed in prop::collection::vec(0_u8..4, 1..90), least in 1_usize..4,
        ) {
            let rows = seed.len() / columns;
            let free: Vec<bool> = seed[..rows * columns].iter().map(|&die| die > 0).collect();
            let found = largest(&free, columns, least);
            prop_assert_eq!(found.map_or(0, |[_, _, width, height]| width * height), slow(&free, columns, rows, least));
        }

        /// Grown by the margin, a hole is hidden everywhere.
        #[test]
        fn a_hole_keeps_its_distance_from_what_is_seen(
            covers in prop::collection::vec(([0_i32..60, 0_i32..80, 8_i32..50, 8_i32..50], any::<bool>()), 1..5),
        ) {
            let panel = panel([2, 2, 64, 84]);
            let whole = Region::of(panel.shape, panel.frame, 0.0);
            let cover = covers.iter().fold(Region::default(), |cover, &([x, y, width, height], round)| {
                let shape = if round { Shape::Oval } else { Shape::SHARP };
                cover.and(&Region::of(shape, frame([x, y, width, height]), 0.0))
            });
            let hidden = whole.shared(&cover);
            if let Some(hole) = hole(&panel, &hidden, Unit::Inch, Margins::usual(Unit::Inch)) {
                let on_card = Frame { x: hole.x + panel.frame.x, y: hole.y + panel.frame.y, ..hole };
                // The margin reaches around the corners in a quarter circle.
                let grown = Region::of(
                    Shape::Rectangle { corner_radius: Length::eighths(2) },
                    on_card.grown(Length::eighths(4)),
                    0.0,
                );
                prop_assert!(grown.minus(&hidden).area_in() < 1e-3, "{hole:?} of {covers:?}");
            }
        }
    }
}

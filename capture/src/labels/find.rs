//! Finds lines of writing on and around a card: ink that no chosen shape
//! accounts for falls into connected pieces; pieces of the size of letters
//! that stand beside each other make a line, level or upright.
//! Method: bottom-up grouping of connected components by nearness and a common
//! base line (O'Gorman, "The document spectrum for page layout analysis",
//! PAMI 15, 1993), with two directions tried instead of a spectrum, since the
//! card's own frame tells which way is level.

use crate::bits::{Bits, Neighbours};
use crate::geometry::Point;
use crate::raster::{Plane, round_px};
use crate::strokes::narrow;

/// The neighbourhood of a card, square-on, as the search for writing sees it.
pub(super) struct View {
    /// How dark each pixel is against the paper.
    pub(super) dark: Plane,
    /// Brightness of the paper, natural log, at half the resolution.
    pub(super) paper: Plane,
    /// Brightness below which it is no paper but the table.
    pub(super) dimmest: f32,
    /// Left and top of the plane, inches from the card's top-left corner.
    pub(super) left_top_in: Point,
    /// Pixels of an inch.
    pub(super) px_per_in: f64,
}

impl View {
    /// From inches on the card to pixels of the view.
    fn px_of(&self, [x, y]: Point) -> Point {
        [(x - self.left_top_in[0]) * self.px_per_in - 0.5, (y - self.left_top_in[1]) * self.px_per_in - 0.5]
    }

    /// Whether the card's own paper is at a pixel, lit or in shadow.
    fn on_paper(&self, x: u32, y: u32) -> bool {
        self.paper.at(x as usize / 2, y as usize / 2) >= self.dimmest
    }

    /// From pixels of the view to inches on the card.
    fn in_of(&self, [x, y]: Point) -> Point {
        [(x + 0.5) / self.px_per_in + self.left_top_in[0], (y + 0.5) / self.px_per_in + self.left_top_in[1]]
    }
}

/// A connected piece of ink: left, top, right, bottom in inches on the card.
#[derive(Clone, Copy, Debug)]
struct Piece {
    bounds: [f64; 4],
    /// Share of its box that is inked.
    filled: f64,
}

impl Piece {
    fn size(&self) -> [f64; 2] {
        [self.bounds[2] - self.bounds[0], self.bounds[3] - self.bounds[1]]
    }

    fn centre(&self) -> Point {
        [f64::midpoint(self.bounds[0], self.bounds[2]), f64::midpoint(self.bounds[1], self.bounds[3])]
    }

    /// A level stroke too long for a hyphen: a part of a leader or an outline.
    fn is_dash(&self) -> bool {
        let [width, height] = self.size();
        width > 0.13 && width > 3.5 * height
    }

    /// With x and y changed for each other.
    fn turned(&self) -> Piece {
        let [left, top, right, bottom] = self.bounds;
        Piece { bounds: [top, left, bottom, right], ..*self }
    }
}

/// A long thin stroke that no shape accounts for: a leader or a dimension
/// line, heads and all.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rule {
    /// Its two ends in inches on the card.
    pub(crate) ends: [Point; 2],
    /// Its largest distance from the straight line between them, inches.
    pub(crate) bow: f64,
}

/// What may be a line of writing, in inches on the card.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct TextLine {
    /// Its middle.
    pub(crate) centre: Point,
    /// Unit vector along the line, to the right or downwards.
    pub(crate) along: Point,
    /// Its length and height.
    pub(crate) size: [f64; 2],
    /// How many pieces it is made of.
    pub(crate) pieces: usize,
}

impl TextLine {
    /// Its corners, first the top-left one of the writing when it is read along
    /// `along`, then clockwise; wider by `pad` on every side.
    pub(crate) fn corners(&self, pad: f64) -> [Point; 4] {
        let [ux, uy] = self.along;
        let [a, b] = [self.size[0] / 2.0 + pad, self.size[1] / 2.0 + pad];
        let at = |s: f64, t: f64| {
            [self.centre[0] + s * a * ux - t * b * uy, self.centre[1] + s * a * uy + t * b * ux]
        };
        [at(-1.0, -1.0), at(1.0, -1.0), at(1.0, 1.0), at(-1.0, 1.0)]
    }

    /// The same line as it is read from the other end.
    pub(super) fn reversed(&self) -> TextLine {
        TextLine { along: self.along.map(|v| -v), ..*self }
    }
}

/// What the left-over ink is made of.
#[derive(Default)]
pub(super) struct Found {
    /// Lines that may be writing, those with most pieces first.
    pub(super) lines: Vec<TextLine>,
    /// Leaders and dimension lines.
    pub(super) rules: Vec<Rule>,
}

/// Lengths in inches of the card.
#[derive(Clone, Copy, Debug)]
pub(super) struct FindOptions {
    /// Smallest and largest letter: a comma in small print, a title's capital.
    pub(super) letter_in: [f64; 2],
    /// Least and largest height of a line.
    pub(super) line_in: [f64; 2],
    /// Largest gap between neighbours, per height of the taller.
    pub(super) gap: f64,
    /// Darkness that counts as ink, as a share of what the strokes have.
    pub(super) ink_share: f32,
    /// How far the ink of an outline is from where it was measured.
    pub(super) outline_in: f64,
    /// Shortest leader.
    pub(super) rule_in: f64,
}

impl Default for FindOptions {
    fn default() -> Self {
        FindOptions {
            letter_in: [0.03, 0.5],
            line_in: [0.08, 0.5],
            gap: 1.7,
            ink_share: 0.3,
            outline_in: 0.035,
            rule_in: 0.12,
        }
    }
}

/// Finds what may be writing. `known` are places on outlines that are accounted
/// for, in inches on the card; `ink` is the darkness of the drawing's strokes;
/// `seen` tells whether a place is on the photo.
pub(super) fn find(
    view: &View,
    known: &[Point],
    ink: f32,
    seen: &dyn Fn(Point) -> bool,
    options: &FindOptions,
) -> Found {
    let mask = left_over(view, known, ink * options.ink_share, options.outline_in);
    let (pieces, rules) = pieces(view, &mask, seen, options);
    if pieces.len() > MOST_PIECES {
        // A printed pattern, not writing.
        return Found { lines: Vec::new(), rules };
    }
    let mut groups: Vec<(bool, Vec<usize>)> = Vec::new();
    groups.extend(grouped(&pieces, options).into_iter().map(|group| (false, group)));
    let turned: Vec<Piece> = pieces.iter().map(Piece::turned).collect();
    groups.extend(grouped(&turned, options).into_iter().map(|group| (true, group)));
    groups.sort_by_key(|(upright, group)| (std::cmp::Reverse(group.len()), *upright, group[0]));
    let mut taken = vec![false; pieces.len()];
    let mut lines = Vec::new();
    for (upright, group) in groups {
        if group.iter().any(|&i| taken[i]) {
            continue;
        }
        let members: Vec<Piece> =
            group.iter().map(|&i| if upright { turned[i] } else { pieces[i] }).collect();
        let line = line_of(&members);
        let [length, height] = line.size;
        // Letters are as tall as their line; grain and hatching are not.
        let mut tall: Vec<f64> = members.iter().map(|piece| piece.size()[1]).collect();
        tall.sort_by(f64::total_cmp);
        if tall[tall.len() / 2] < LETTER_OF_LINE * height {
            continue;
        }
        if all_alike(&members)
            || length > SPARSEST * height * members.len() as f64
            || height < options.line_in[0]
            || height > options.line_in[1]
            || length < (LEAST_LENGTH * height).max(LEAST_LENGTH_IN)
        {
            continue;
        }
        for i in group {
            taken[i] = true;
        }
        lines.push(if upright { across(&line) } else { line });
    }
    // The strokes of letters are no leaders.
    let mut rules = rules;
    rules.retain(|rule| {
        !lines.iter().any(|line| {
            let corners = line.corners(0.02);
            rule.ends.iter().all(|end| crate::geometry::holds(&corners, *end, 0.0))
        })
    });
    Found { lines, rules }
}

/// Longest line per height and piece: letters stand closer.
const SPARSEST: f64 = 1.3;

/// Whether the pieces are one ornament over and over: letters that follow on
/// one another differ.
fn all_alike(pieces: &[Piece]) -> bool {
    /// Fewer may be a number such as 111.
    const FEWEST: usize = 4;
    /// How far the size of one may be from the first one's, as a share of it.
    const SAME: f64 = 0.09;
    let first = pieces[0].size();
    let same = |piece: &Piece| {
        piece.size().iter().zip(first).all(|(side, first)| (side - first).abs() <= SAME * first)
    };
    pieces.len() >= FEWEST && pieces.iter().all(same)
}

/// Least height of the middle letter, per height of the line.
const LETTER_OF_LINE: f64 = 0.35;
/// More pieces than this are a printed pattern.
const MOST_PIECES: usize = 1500;
/// Least length of a line, per height: two thin figures.
const LEAST_LENGTH: f64 = 0.7;
/// Least length of a line, inches.
const LEAST_LENGTH_IN: f64 = 0.13;

/// Ink that is not accounted for.
fn left_over(view: &View, known: &[Point], ink: f32, reach_in: f64) -> Bits {
    let mut mask = Bits::over(&view.dark, ink);
    let reach = round_px(reach_in * view.px_per_in).max(1);
    for place in known {
        mask.clear_around(view.px_of(*place).map(round_px), reach);
    }
    mask
}

/// The connected pieces of a mask: letters, and long thin strokes.
fn pieces(
    view: &View,
    mask: &Bits,
    seen: &dyn Fn(Point) -> bool,
    options: &FindOptions,
) -> (Vec<Piece>, Vec<Rule>) {
    let regions = mask.regions(Neighbours::Eight);
    let [width, height] = [mask.width, mask.height].map(|side| u32::try_from(side).unwrap_or(u32::MAX));
    // Left, top, right, bottom and how many pixels.
    let narrow = |v: usize| u32::try_from(v).unwrap_or(u32::MAX);
    let mut boxes: Vec<([u32; 4], u32)> =
        regions.areas.iter().map(|area| ([u32::MAX, u32::MAX, 0, 0], narrow(*area))).collect();
    for run in &regions.runs {
        let bounds = &mut boxes[run.region].0;
        let (x0, x1, y) = (narrow(run.start), narrow(run.end), narrow(run.y));
        *bounds = [bounds[0].min(x0), bounds[1].min(y), bounds[2].max(x1), bounds[3].max(y)];
    }
    let (mut pieces, mut rules) = (Vec::new(), Vec::new());
    for (i, ([left, top, right, bottom], size)) in boxes.into_iter().enumerate() {
        let [x0, y0] = view.in_of([f64::from(left) - 0.5, f64::from(top) - 0.5]);
        let [x1, y1] = view.in_of([f64::from(right) + 0.5, f64::from(bottom) + 0.5]);
        let long = (x1 - x0).max(y1 - y0);
        if size < SPECK_PX || long < options.letter_in[0] {
            continue;
        }
        // What touches the end of the photo or of the view is cut off.
        let whole = left > 0
            && top > 0
            && right + 1 < width
            && bottom + 1 < height
            && [[x0, y0], [x1, y0], [x1, y1], [x0, y1]].into_iter().all(seen);
        if !whole || !view.on_paper(left.midpoint(right), top.midpoint(bottom)) {
            continue;
        }
        let filled = f64::from(size) / (f64::from(right - left + 1) * f64::from(bottom - top + 1));
        if long <= options.letter_in[1] {
            pieces.push(Piece { bounds: [x0, y0, x1, y1], filled });
        }
        // Thin, or a large connected figure that may hold thin strokes.
        let slim = (x1 - x0).min(y1 - y0) < 0.06;
        if long >= options.rule_in && (slim || filled < 0.5) {
            let pixels: Vec<[u32; 2]> = regions
                .runs
                .iter()
                .filter(|run| run.region == i)
                .flat_map(|run| (run.start..=run.end).map(|x| [narrow(x), narrow(run.y)]))
                .collect();
            rules.extend(straight_strokes(view, &pixels, options.rule_in));
        }
    }
    (pieces, rules)
}

/// Specks of fewer pixels are paper.
const SPECK_PX: u32 = 5;
/// Most strokes of one connected piece: a dimension line, its heads, and the
/// leaders that cross it.
const MOST_STROKES: usize = 6;
/// Share of a stroke's length that is inked.
const STROKE_INKED: f64 = 0.85;
/// Bow of a leader that a hand swings, per length.
const SWING: f64 = 0.3;

/// The long strokes of a connected piece, longest first: pairs of points of its
/// convex hull with ink all the way between them. What is one bowed stroke is
/// taken as it is.
fn straight_strokes(view: &View, pixels: &[[u32; 2]], shortest_in: f64) -> Vec<Rule> {
    let mut left: Vec<[u32; 2]> = pixels.to_vec();
    let mut out = Vec::new();
    // Half the width of a stroke with what a hand shakes, in pixels.
    let reach = (0.03 * view.px_per_in).max(2.0);
    for _ in 0..MOST_STROKES {
        let corners = hull(&left);
        let mut pairs: Vec<(f64, Point, Point)> = Vec::new();
        for (i, a) in corners.iter().enumerate() {
            pairs.extend(corners[i + 1..].iter().map(|b| (crate::geometry::distance(*a, *b), *a, *b)));
        }
        pairs.retain(|(length, ..)| *length >= shortest_in * view.px_per_in);
        pairs.sort_by(|a, b| b.0.total_cmp(&a.0));
        pairs.truncate(MOST_PAIRS);
        let place = |p: [u32; 2], a: Point, b: Point, length: f64| {
            let u = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
            let d = [f64::from(p[0]) - a[0], f64::from(p[1]) - a[1]];
            (d[0] * u[0] + d[1] * u[1], (d[0] * u[1] - d[1] * u[0]).abs())
        };
        let straight = pairs.iter().find(|(length, a, b)| {
            let count = crate::raster::floor_px(narrow(*length) / 2.0).max(1);
            let mut inked = vec![false; count + 1];
            for p in &left {
                let (s, t) = place(*p, *a, *b, *length);
                if t <= reach && s >= 0.0 && s <= *length {
                    inked[crate::raster::floor_px(narrow(s) / 2.0).min(count)] = true;
                }
            }
            inked.iter().filter(|inked| **inked).count() as f64 > STROKE_INKED * inked.len() as f64
        });
        let Some((length, a, b)) = straight else {
            // A bowed leader?
            if let Some((length, a, b)) = pairs.first() {
                let bow = left.iter().map(|p| place(*p, *a, *b, *length).1).fold(0.0, f64::max);
                if bow < SWING * length && (left.len() as f64) < RULE_PX * length {
                    out.push(Rule { ends: [view.in_of(*a), view.in_of(*b)], bow: bow / view.px_per_in });
                }
            }
            break;
        };
        out.push(Rule { ends: [view.in_of(*a), view.in_of(*b)], bow: 0.0 });
        left.retain(|p| {
            let (s, t) = place(*p, *a, *b, *length);
            t > reach || s < -reach || s > length + reach
        });
    }
    out
}

/// Mean thickness of a bowed leader with its heads, in pixels of the view.
const RULE_PX: f64 = 9.0;
/// The most pairs of ends that are tried.
const MOST_PAIRS: usize = 60;

/// The corners of the convex hull (Andrew, "Another efficient algorithm for
/// convex hulls in two dimensions", 1979). The pixels come row by row.
fn hull(pixels: &[[u32; 2]]) -> Vec<Point> {
    let points: Vec<Point> = pixels.iter().map(|p| p.map(f64::from)).collect();
    let mut out: Vec<Point> = Vec::new();
    for half in 0..2 {
        let start = out.len();
        let mut add = |p: Point| {
            while out.len() >= start + 2 {
                let (a, b) = (out[out.len() - 2], out[out.len() - 1]);
                if (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]) > 0.0 {
                    break;
                }
                out.pop();
            }
            out.push(p);
        };
        if half == 0 {
            points.iter().copied().for_each(&mut add);
        } else {
            points.iter().rev().copied().for_each(&mut add);
        }
        out.pop();
    }
    out
}

/// Groups of two and more pieces that stand beside each other on a level line,
/// each from left to right.
fn grouped(pieces: &[Piece], options: &FindOptions) -> Vec<Vec<usize>> {
    let mut order: Vec<usize> = (0..pieces.len()).filter(|&i| !pieces[i].is_dash()).collect();
    order.sort_by(|&a, &b| pieces[a].bounds[0].total_cmp(&pieces[b].bounds[0]).then(a.cmp(&b)));
    let mut root: Vec<usize> = (0..pieces.len()).collect();
    for (k, &i) in order.iter().enumerate() {
        let a = &pieces[i];
        for &j in &order[k + 1..] {
            let b = &pieces[j];
            if b.bounds[0] > a.bounds[2] + options.gap * options.line_in[1] {
                break;
            }
            if beside(a, b, options.gap) {
                let (p, q) = (root_of(&mut root, i), root_of(&mut root, j));
                root[p.max(q)] = p.min(q);
            }
        }
    }
    let mut groups: Vec<Vec<usize>> = vec![Vec::new(); pieces.len()];
    for &i in &order {
        let r = root_of(&mut root, i);
        groups[r].push(i);
    }
    for group in &mut groups {
        without_strokes(group, pieces);
    }
    groups.retain(|group| group.len() >= 2);
    groups
}

/// The piece that stands for a group (union-find with path halving).
fn root_of(root: &mut [usize], mut i: usize) -> usize {
    while root[i] != i {
        root[i] = root[root[i]];
        i = root[i];
    }
    i
}

/// Drops the thin long strokes at the ends of a line: leaders start there.
fn without_strokes(group: &mut Vec<usize>, pieces: &[Piece]) {
    /// Share of its box that a slanted stroke inks, at most.
    const THIN: f64 = 0.25;
    /// How much longer than the middle letter it is.
    const LONG: f64 = 1.6;
    let long = |i: usize| {
        let [width, height] = pieces[i].size();
        width.hypot(height)
    };
    let mut lengths: Vec<f64> = group.iter().map(|&i| long(i)).collect();
    lengths.sort_by(f64::total_cmp);
    let Some(&middle) = lengths.get(lengths.len() / 2) else { return };
    let stroke = |i: usize| pieces[i].filled < THIN && long(i) > LONG * middle;
    while group.last().is_some_and(|&i| stroke(i)) {
        group.pop();
    }
    while group.first().is_some_and(|&i| stroke(i)) {
        group.remove(0);
    }
}

/// Whether two pieces, the first not right of the second, stand beside each
/// other as letters do.
fn beside(a: &Piece, b: &Piece, gap: f64) -> bool {
    let ([_, ha], [_, hb]) = (a.size(), b.size());
    let (tall, low) = (ha.max(hb), ha.min(hb));
    let apart = b.bounds[0] - a.bounds[2];
    let common = a.bounds[3].min(b.bounds[3]) - a.bounds[1].max(b.bounds[1]);
    // Letters of a line have their feet, their middle or their head in common.
    let feet = (a.bounds[3] - b.bounds[3]).abs();
    let head = (a.bounds[1] - b.bounds[1]).abs();
    let middle = (a.centre()[1] - b.centre()[1]).abs();
    let level = feet.min(head).min(middle);
    apart < gap * tall.min(1.6 * low) && level < 0.3 * tall && common > 0.3 * low
}

/// The level line that pieces make.
fn line_of(pieces: &[Piece]) -> TextLine {
    let count = pieces.len() as f64;
    let mean = |value: &dyn Fn(&Piece) -> f64| pieces.iter().map(value).sum::<f64>() / count;
    let (mx, my) = (mean(&|p| p.centre()[0]), mean(&|p| p.centre()[1]));
    // The slope of the line through the middles; a few letters tell no slope.
    let tall = mean(&|p| p.size()[1]);
    let spread = pieces.iter().map(|p| (p.centre()[0] - mx).powi(2)).sum::<f64>();
    let common = pieces.iter().map(|p| (p.centre()[0] - mx) * (p.centre()[1] - my)).sum::<f64>();
    // As if half a dozen letters more lay level, two heights away.
    let slope = (common / (spread + 6.0 * (1.0 * tall).powi(2))).clamp(-STEEPEST, STEEPEST);
    let length = slope.hypot(1.0);
    let (ux, uy) = (1.0 / length, slope / length);
    let mut reach = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
    for piece in pieces {
        let [left, top, right, bottom] = piece.bounds;
        // A letter's box is taken as it leans: its middle's place across the
        // line, and its own height and width.
        let [cx, cy] = piece.centre();
        let (s, t) = ((cx - mx) * ux + (cy - my) * uy, (cy - my) * ux - (cx - mx) * uy);
        let (w, h) = ((right - left) / 2.0, (bottom - top) / 2.0);
        reach = [reach[0].min(s - w), reach[1].min(t - h), reach[2].max(s + w), reach[3].max(t + h)];
    }
    let (s, t) = (f64::midpoint(reach[0], reach[2]), f64::midpoint(reach[1], reach[3]));
    TextLine {
        centre: [mx + s * ux - t * uy, my + s * uy + t * ux],
        along: [ux, uy],
        size: [reach[2] - reach[0], reach[3] - reach[1]],
        pieces: pieces.len(),
    }
}

/// Steepest slope of a line that is level or upright.
const STEEPEST: f64 = 0.3;

/// A line of turned pieces, turned back: it runs downwards.
fn across(line: &TextLine) -> TextLine {
    let swap = |[x, y]: Point| [y, x];
    TextLine { centre: swap(line.centre), along: swap(line.along), ..*line }
}

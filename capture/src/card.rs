//! Stage 4: the outlines of cards on the page, as rival hypotheses with the
//! evidence for each. Quads are made from pairs of nearly level and pairs of
//! nearly upright lines; each is judged by the ink all along its four sides,
//! not by four corner pixels, and by whether the card's proportions fit a
//! camera's view of it.
//! Sources: quads from line pairs and the proportions of a rectangle seen in
//! perspective after Zhang and He, "Whiteboard scanning and image enhancement"
//! (Digital Signal Processing 17, 2007).

use layout::Card;

use crate::geometry::{self, Point};
use crate::lines::{Axis, Line};
use crate::raster::Plane;

/// A card outline that the ink supports.
#[derive(Clone, Debug)]
pub(crate) struct Outline {
    /// Corners in pixels of the plane the lines are from: top-left,
    /// top-right, bottom-right, bottom-left as seen.
    pub(crate) corners: [Point; 4],
    /// Share of the four sides that is inked.
    pub(crate) support: f64,
    /// Share of the worst side that is inked.
    pub(crate) worst_side: f64,
    /// Width over height as the card itself has it, seen square-on.
    pub(crate) aspect: f64,
    /// Whether the card lies (wider than high).
    pub(crate) lying: bool,
    /// Lines it is made of: top, right, bottom, left, as places in the lists.
    sides: [usize; 4],
    /// How many of its sides are the edge of lighter paper on something
    /// darker: a sheet has three or four, a drawn card none.
    pub(crate) paper_edges: usize,
    /// Mean strength of its sides.
    strength: f64,
    /// How good a reading of the page it is on its own: larger is better.
    pub(crate) rank: f64,
}

/// What counts as an outline.
#[derive(Clone, Copy, Debug)]
pub(crate) struct OutlineOptions {
    /// Least inked share of one side. What runs off the card hides a part of
    /// it; a hand leaves corners open; pale paper on pale paper has no edge.
    pub(crate) least_side: f64,
    /// Least inked share of the four sides together.
    pub(crate) least_support: f64,
    /// Shortest side, as a share of the picture's longer side.
    pub(crate) shortest_side: f64,
    /// Largest departure from the card's proportions, as a factor. A drawn
    /// outline is a hand's work, and the camera's focal length is a guess.
    pub(crate) proportions: f64,
}

impl Default for OutlineOptions {
    fn default() -> Self {
        OutlineOptions { least_side: 0.75, least_support: 0.9, shortest_side: 0.07, proportions: 1.22 }
    }
}

impl OutlineOptions {
    /// For a page on which nothing passes: half of a side may be missing, as
    /// where pale paper lies on pale paper.
    pub(crate) fn lenient() -> OutlineOptions {
        OutlineOptions { least_side: 0.4, least_support: 0.66, ..OutlineOptions::default() }
    }
}

/// A first look at one line per side may see this part of what all lines
/// along the side make up.
const FIRST_LOOK: f64 = 0.35;
/// The same for the four sides together, of four.
const FIRST_LOOK_ALL: f64 = 2.8;
/// Most rival outlines that are read for one place.
const MOST_RIVALS: usize = 4;
/// Most lines of one direction that are paired; the longest and strongest.
const MOST_LINES: usize = 90;

/// All outlines the lines support, largest first.
pub(crate) fn outlines(
    level: &[Line],
    upright: &[Line],
    light: &Plane,
    card: &Card,
    options: &OutlineOptions,
) -> Vec<Outline> {
    let picture_px = [light.width as f64, light.height as f64];
    let long_side = picture_px[0].max(picture_px[1]);
    let shortest = options.shortest_side * long_side;
    let choose = |lines: &[Line]| -> Vec<usize> {
        let mut chosen: Vec<usize> =
            (0..lines.len()).filter(|&i| f64::from(lines[i].length()) >= 0.6 * shortest).collect();
        chosen.sort_by(|&a, &b| lines[b].length().total_cmp(&lines[a].length()).then(a.cmp(&b)));
        chosen.truncate(MOST_LINES);
        chosen
    };
    let (rows, columns) = (choose(level), choose(upright));
    let crossing = |r: usize, c: usize| cross(&level[rows[r]], &upright[columns[c]]);
    let crossings: Vec<Vec<Point>> =
        (0..rows.len()).map(|r| (0..columns.len()).map(|c| crossing(r, c)).collect()).collect();
    // The inked share of a line between two crossings.
    let share = |line: &Line, axis: Axis, a: Point, b: Point| -> f64 {
        let along = |p: Point| if axis == Axis::Horizontal { p[0] } else { p[1] };
        let (from, to) = (along(a), along(b));
        if to - from < shortest * 0.8 {
            return 0.0;
        }
        #[expect(clippy::cast_possible_truncation, reason = "picture coordinates")]
        let covered = line.covered(from as f32, to as f32);
        (f64::from(covered) / (to - from)).min(1.0)
    };
    // A side belongs to many quads: what is inked along it is found out once.
    let mut level_sides = Sides::new(level, rows.len(), columns.len(), 0.3 * shortest);
    let mut upright_sides = Sides::new(upright, columns.len(), rows.len(), 0.3 * shortest);
    let mut found = Vec::new();
    // For each pair of upright lines, the level lines that reach from one to the other.
    for left in 0..columns.len() {
        for right in 0..columns.len() {
            if left == right {
                continue;
            }
            let spans: Vec<(usize, f64)> = (0..rows.len())
                .map(|r| {
                    (r, share(&level[rows[r]], Axis::Horizontal, crossings[r][left], crossings[r][right]))
                })
                .filter(|(_, share)| *share >= FIRST_LOOK * options.least_side)
                .collect();
            for &(top, top_share) in &spans {
                for &(bottom, bottom_share) in &spans {
                    let corners = [
                        crossings[top][left],
                        crossings[top][right],
                        crossings[bottom][right],
                        crossings[bottom][left],
                    ];
                    if corners[3][1] - corners[0][1] < shortest || corners[2][1] - corners[1][1] < shortest {
                        continue;
                    }
                    let left_share = share(&upright[columns[left]], Axis::Vertical, corners[0], corners[3]);
                    let right_share = share(&upright[columns[right]], Axis::Vertical, corners[1], corners[2]);
                    let first_look = [top_share, right_share, bottom_share, left_share];
                    if first_look.into_iter().any(|share| share < FIRST_LOOK * options.least_side)
                        || first_look.into_iter().sum::<f64>() < FIRST_LOOK_ALL * options.least_support
                        || !roughly(&corners, card, options.proportions)
                        || !geometry::convex(&corners)
                    {
                        continue;
                    }
                    let aspect = seen_aspect(&corners, picture_px);
                    let Some(lying) = fits(aspect, card, options.proportions) else { continue };
                    // A side may be drawn in several strokes: all lines along it count.
                    let shares = [
                        level_sides.inked([top, left, right], corners[0], corners[1], first_look[0]),
                        upright_sides.inked([right, top, bottom], corners[1], corners[2], first_look[1]),
                        level_sides.inked([bottom, left, right], corners[3], corners[2], first_look[2]),
                        upright_sides.inked([left, top, bottom], corners[0], corners[3], first_look[3]),
                    ];
                    let worst_side = shares.into_iter().fold(1.0, f64::min);
                    let lengths: Vec<f64> =
                        (0..4).map(|i| geometry::distance(corners[i], corners[(i + 1) % 4])).collect();
                    let support = shares.iter().zip(&lengths).map(|(s, l)| s * l).sum::<f64>()
                        / lengths.iter().sum::<f64>();
                    if worst_side < options.least_side || support < options.least_support {
                        continue;
                    }
                    found.push(Outline {
                        corners,
                        support,
                        worst_side,
                        aspect,
                        lying,
                        paper_edges: 0,
                        strength: 0.25
                            * f64::from(
                                level[rows[top]].strength
                                    + upright[columns[right]].strength
                                    + level[rows[bottom]].strength
                                    + upright[columns[left]].strength,
                            ),
                        rank: rank(&corners, support, aspect, card, lying),
                        sides: [rows[top], columns[right], rows[bottom], columns[left]],
                    });
                }
            }
        }
    }
    found.sort_by(|a, b| b.rank.total_cmp(&a.rank).then(a.sides.cmp(&b.sides)));
    found.truncate(MOST_OUTLINES);
    for outline in &mut found {
        outline.paper_edges = paper_edges(&outline.corners, light);
    }
    found
}

/// Most outlines looked at closely.
const MOST_OUTLINES: usize = 1500;

/// Where cards may lie on a page.
#[derive(Debug, Default)]
pub(crate) struct Places {
    /// For each place rival outlines, best first.
    pub(crate) cards: Vec<Vec<Outline>>,
    /// Sheets that may be the card themselves, each with the places on it.
    pub(crate) sheets: Vec<(Outline, Vec<usize>)>,
}

/// The places of cards on the page. The outermost well-supported drawn outline
/// leads; what lies inside it is its contents, what overlaps it most are its
/// rivals. A sheet of paper is the card where no outline is drawn on it, or where
/// what is drawn leaves an even border so narrow that it must be the first
/// panel; where the sheet has the card's proportions, both are worth reading.
pub(crate) fn places(outlines: &[Outline], card: &Card) -> Places {
    let (sheets, drawn): (Vec<&Outline>, Vec<&Outline>) = outlines.iter().partition(|o| o.paper_edges >= 2);
    let mut cards: Vec<Vec<Outline>> = Vec::new();
    for outline in drawn {
        settle(&mut cards, outline);
    }
    let mut rivals: Vec<(Outline, Vec<usize>)> = Vec::new();
    for sheet in sheets.iter().filter(|sheet| sheet.paper_edges >= 3) {
        let sheet = firmest(sheet, &sheets);
        let on_it: Vec<usize> = (0..cards.len()).filter(|&i| overlap(&cards[i][0], sheet) > INSIDE).collect();
        match on_it.as_slice() {
            [] => settle(&mut cards, sheet),
            [only] if cards[*only][0].paper_edges >= 3 => {}
            [only] if narrow_border(&cards[*only][0].corners, &sheet.corners) => {
                cards[*only] = vec![sheet.clone()];
            }
            [only]
                if sheet.paper_edges == 4
                    && may_be_card(sheet, card)
                    && shares_side(&cards[*only][0].corners, &sheet.corners) =>
            {
                cards[*only] = vec![sheet.clone()];
            }
            _ if rivals.is_empty() && may_be_card(sheet, card) && on_it.len() <= MOST_ON_SHEET => {
                rivals.push((sheet.clone(), on_it));
            }
            _ => {}
        }
    }
    // All layouts of a page are drawn at about one size.
    let largest = cards.iter().map(|place| geometry::area(&place[0].corners)).fold(0.0, f64::max);
    let kept: Vec<usize> = (0..cards.len())
        .filter(|&i| geometry::area(&cards[i][0].corners) >= SMALLEST_OF_PAGE * largest)
        .collect();
    for (_, on_it) in &mut rivals {
        *on_it = on_it.iter().filter_map(|i| kept.iter().position(|kept| kept == i)).collect();
    }
    Places { cards: kept.iter().map(|&i| cards[i].clone()).collect(), sheets: rivals }
}

/// A layout smaller than this share of the page's largest is part of something
/// else.
const SMALLEST_OF_PAGE: f64 = 0.12;
/// A sheet with more outlines than this on it is a page.
const MOST_ON_SHEET: usize = 4;

/// Whether a sheet's proportions are the card's, as near as a camera shows them.
fn may_be_card(sheet: &Outline, card: &Card) -> bool {
    const NEAR: f64 = 0.1;
    let [width, height] = if sheet.lying { card.lying() } else { card.upright() }.size_in();
    (sheet.aspect / (width / height)).ln().abs() <= NEAR && sheet.support >= 0.9
}

/// Of sheets that are nearly the same the one with the firmest edges, for a
/// shadow has an edge of its own beside the paper's; and rather one that ends in
/// paper at all four sides than one that ends in something beyond it.
fn firmest<'a>(sheet: &'a Outline, sheets: &[&'a Outline]) -> &'a Outline {
    const SAME_IOU: f64 = 0.95;
    const NEAR_IOU: f64 = 0.75;
    const SUPPORT: f64 = 0.02;
    sheets
        .iter()
        .filter(|other| {
            let iou = geometry::iou(&other.corners, &sheet.corners);
            (iou >= SAME_IOU
                && other.paper_edges >= sheet.paper_edges
                && other.support >= sheet.support - SUPPORT)
                || (iou >= NEAR_IOU && other.paper_edges > sheet.paper_edges)
        })
        .max_by(|a, b| a.paper_edges.cmp(&b.paper_edges).then(a.strength.total_cmp(&b.strength)))
        .map_or(sheet, |firmest| firmest)
}

/// Share of an outline inside a leader that makes it part of that card.
const INSIDE: f64 = 0.3;

/// Shared area, as a share of the smaller outline.
fn overlap(a: &Outline, b: &Outline) -> f64 {
    let common = geometry::clip(&a.corners, &b.corners);
    let shared = if common.len() > 2 { geometry::area(&common) } else { 0.0 };
    shared / geometry::area(&a.corners).min(geometry::area(&b.corners))
}

/// Puts an outline with the place it belongs to, or makes it one.
fn settle(places: &mut Vec<Vec<Outline>>, outline: &Outline) {
    /// Overlap from which two outlines are readings of the same card.
    const SAME_CARD_IOU: f64 = 0.6;
    /// Outlines this alike read the same; only the better one is kept.
    const SAME_OUTLINE_IOU: f64 = 0.985;
    /// A leader this well inked has no rivals.
    const CERTAIN: f64 = 0.985;
    let mut taken = false;
    for place in places.iter_mut() {
        if overlap(outline, &place[0]) > INSIDE {
            taken = true;
            let rival = place[0].support < CERTAIN
                && geometry::iou(&outline.corners, &place[0].corners) >= SAME_CARD_IOU
                && place
                    .iter()
                    .all(|other| geometry::iou(&outline.corners, &other.corners) < SAME_OUTLINE_IOU);
            if rival && place.len() < MOST_RIVALS {
                place.push(outline.clone());
            }
        }
    }
    if !taken {
        places.push(vec![outline.clone()]);
    }
}

/// Whether the inner quad leaves a narrow, even border of the outer one:
/// at most a fourteenth of the card's width on each side.
fn narrow_border(inner: &[Point; 4], outer: &[Point; 4]) -> bool {
    const NARROW: f64 = 0.07;
    let side = |q: &[Point; 4], i: usize| geometry::distance(q[i], q[(i + 1) % 4]);
    let width = 0.25 * (0..4).map(|i| side(outer, i)).sum::<f64>();
    let inside = (0..4).all(|i| geometry::holds(outer, inner[i], 2.0));
    inside && (0..4).all(|i| geometry::distance(inner[i], outer[i]) <= NARROW * width * 1.5)
}

/// Whether a side of the inner quad lies on a side of the outer: a panel that
/// is flush with the card's edge. Nobody draws a card along the edge of its sheet.
fn shares_side(inner: &[Point; 4], outer: &[Point; 4]) -> bool {
    /// How near, per length of the outer side.
    const NEAR: f64 = 0.012;
    (0..4).any(|i| {
        let (a, b) = (outer[i], outer[(i + 1) % 4]);
        let length = geometry::distance(a, b).max(1.0);
        let off = |p: Point| ((b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])).abs() / length;
        off(inner[i]) <= NEAR * length && off(inner[(i + 1) % 4]) <= NEAR * length
    })
}

/// How many sides have light paper within and something darker without.
fn paper_edges(corners: &[Point; 4], light: &Plane) -> usize {
    /// A step of brightness, as a natural log: white paper on pale cloth
    /// differs by a fifth.
    const STEP: f32 = 0.15;
    /// How far from the edge brightness is taken, as shares of the picture:
    /// beyond the width of a drawn line.
    const REACH: [f64; 3] = [0.005, 0.007, 0.009];
    const PLACES: usize = 24;
    let long = light.width.max(light.height) as f64;
    (0..4)
        .filter(|&i| {
            let (a, b) = (corners[i], corners[(i + 1) % 4]);
            let length = geometry::distance(a, b).max(1.0);
            // Clockwise on the screen, so the inside is to the right of a to b.
            let inward = [-(b[1] - a[1]) / length, (b[0] - a[0]) / length];
            let at = |t: f64, off: f64| {
                let x = a[0] + (b[0] - a[0]) * t + inward[0] * off * long;
                let y = a[1] + (b[1] - a[1]) * t + inward[1] * off * long;
                #[expect(clippy::cast_possible_truncation, reason = "picture coordinates")]
                light.between(x as f32, y as f32)
            };
            let steps = (0..PLACES)
                .filter(|k| {
                    let t = (*k as f64 + 0.5) / PLACES as f64;
                    let least_in = REACH.iter().map(|r| at(t, *r)).fold(f32::MIN, f32::max);
                    let most_out = REACH.iter().map(|r| at(t, -r)).fold(f32::MIN, f32::max);
                    least_in - most_out > STEP
                })
                .count();
            steps * 10 >= PLACES * 6
        })
        .count()
}

/// What is inked along the sides between crossings, each found out once.
struct Sides<'a> {
    lines: Vec<&'a Line>,
    across: usize,
    /// For each line and pair of crossings; negative where not yet known.
    known: Vec<f64>,
}

impl Sides<'_> {
    fn new(lines: &[Line], along: usize, across: usize, shortest: f64) -> Sides<'_> {
        let lines = lines.iter().filter(|line| f64::from(line.length()) >= shortest).collect();
        Sides { lines, across, known: vec![-1.0; along * across * across] }
    }

    /// `side`: the line and the crossings it runs between.
    fn inked(&mut self, side: [usize; 3], from: Point, to: Point, at_least: f64) -> f64 {
        let known = &mut self.known[(side[0] * self.across + side[1]) * self.across + side[2]];
        if *known < 0.0 {
            *known = inked_along(&self.lines, from, to, at_least);
        }
        *known
    }
}

/// The inked share of a straight side, counting every line along it.
fn inked_along(lines: &[&Line], from: Point, to: Point, at_least: f64) -> f64 {
    /// How far a stroke may lie off the side, per length: a hand's bow.
    const OFF: f64 = 0.012;
    if at_least > 0.99 {
        return at_least;
    }
    let Some(axis) = lines.first().map(|line| line.axis) else { return at_least };
    let split = |p: Point| if axis == Axis::Horizontal { (p[0], p[1]) } else { (p[1], p[0]) };
    let ((u0, v0), (u1, v1)) = (split(from), split(to));
    let length = u1 - u0;
    let near = (OFF * length).max(3.0);
    let cells = 64;
    let mut inked = [false; 64];
    #[expect(clippy::cast_possible_truncation, reason = "picture coordinates")]
    for line in lines {
        if f64::from(line.end) < u0 || f64::from(line.start) > u1 {
            continue;
        }
        let middle = (0.5 * (line.start + line.end)).clamp(u0 as f32, u1 as f32);
        let off = f64::from(line.across(middle)) - (v0 + (f64::from(middle) - u0) / length * (v1 - v0));
        let swing =
            0.5 * f64::from(line.end - line.start) * (f64::from(line.slope) - (v1 - v0) / length).abs();
        if off.abs() > 4.0 * near + swing {
            continue;
        }
        for (cell, inked) in inked.iter_mut().enumerate() {
            let t = (cell as f64 + 0.5) / f64::from(cells);
            let (u, v) = (u0 + t * length, v0 + t * (v1 - v0));
            let half = (0.5 * length / f64::from(cells)) as f32;
            if !*inked
                && (f64::from(line.across(u as f32)) - v).abs() <= near
                && line.covered(u as f32 - half, u as f32 + half) >= 0.9 * half
            {
                *inked = true;
            }
        }
    }
    (inked.iter().filter(|inked| **inked).count() as f64 / f64::from(cells)).max(at_least)
}

/// Prefers large outlines, then true proportions; ink that is missing beyond
/// what open corners and crossing strips explain costs dearly: a twentieth of
/// the outline as much as a factor of three and a half in area.
fn rank(corners: &[Point; 4], support: f64, aspect: f64, card: &Card, lying: bool) -> f64 {
    const WHOLE: f64 = 0.985;
    let [width, height] = if lying { card.lying() } else { card.upright() }.size_in();
    let off = (aspect / (width / height)).ln().abs();
    geometry::area(corners).ln() - 25.0 * (WHOLE - support).max(0.0) - 0.5 * (off - 0.05).max(0.0)
}

/// Where a level and an upright line cross, following the fitted lines.
fn cross(level: &Line, upright: &Line) -> Point {
    // y = a + b x and x = c + d y.
    let (a, b) = (f64::from(level.offset), f64::from(level.slope));
    let (c, d) = (f64::from(upright.offset), f64::from(upright.slope));
    let y = (a + b * c) / (1.0 - b * d);
    [c + d * y, y]
}

/// Width over height of the rectangle behind a quad, for a camera whose axis
/// goes through the picture's middle. The focal length is taken as 0.85 of
/// the picture's longer side: phones' main cameras have 0.72 to 0.8
/// (26 to 28 mm on 36 mm film), a little zoom or cropping makes it longer.
pub(crate) fn seen_aspect(corners: &[Point; 4], picture_px: [f64; 2]) -> f64 {
    const FOCAL_PER_SIDE: f64 = 0.85;
    let focal = FOCAL_PER_SIDE * picture_px[0].max(picture_px[1]);
    let centred =
        corners.map(|[x, y]| [(x - picture_px[0] / 2.0) / focal, (y - picture_px[1] / 2.0) / focal]);
    let unit = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
    let Some(map) = geometry::Homography::between(unit, centred) else { return f64::NAN };
    let h = map.rows();
    let norm = |column: usize| (h[0][column].powi(2) + h[1][column].powi(2) + h[2][column].powi(2)).sqrt();
    norm(0) / norm(1)
}

/// Whether a quad could have the card's proportions, by the means of its opposite
/// sides: a tilt of 35 degrees shortens one direction by a fifth.
fn roughly(corners: &[Point; 4], card: &Card, factor: f64) -> bool {
    const TILTED: f64 = 1.35;
    let side = |i: usize| geometry::distance(corners[i], corners[(i + 1) % 4]);
    let aspect = (side(0) + side(2)) / (side(1) + side(3)).max(1.0);
    fits(aspect, card, factor * TILTED).is_some()
}

/// Whether the proportions fit the card upright or lying; `Some(lying)`.
fn fits(aspect: f64, card: &Card, factor: f64) -> Option<bool> {
    let [width, height] = card.upright().size_in();
    let upright = (aspect / (width / height)).ln().abs();
    let lying = (aspect / (height / width)).ln().abs();
    (upright.min(lying) <= factor.ln()).then_some(lying < upright)
}

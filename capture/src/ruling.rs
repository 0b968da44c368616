//! Ruled and squared paper set aside. Rulings are found on the whole page,
//! where they show what they are: many long lines a constant step apart. Only
//! what is clearly stronger than the ruling stays on its course.

use crate::geometry::{Homography, Point};
use crate::ink::RidgePoint;
use crate::lines::{Axis, Line, Run, RunPoint};
use crate::rectify::{MARGIN_IN, Rectified, to_px};

/// One line that was printed on the paper.
#[derive(Clone, Debug)]
pub(crate) struct Ruling {
    /// Across position at along 0.
    offset: f32,
    /// Across per along.
    slope: f32,
    /// Its measured course, where there is one.
    line: Option<Line>,
    /// Its strength.
    strength: f32,
}

/// A line this long, as a share of the picture, may be a ruling.
const LONG: f32 = 0.45;
/// Fewest lines of a family: a card with strips has long parallel lines too.
const FEWEST: usize = 8;
/// Share of the family's steps that must be single: a nest of mats has steps
/// of many sizes.
const SINGLE: f32 = 0.7;
/// A gap fits the family's step within this factor; perspective changes the
/// step slowly from line to line.
const STEP_FACTOR: f32 = 1.3;
/// Ink stronger than a ruling by this factor is a drawn line that runs along it.
const DRAWN_OVER: f32 = 1.6;

impl Ruling {
    fn across(&self, u: f32) -> f32 {
        match &self.line {
            Some(line) if u >= line.start && u <= line.end => line.across(u),
            Some(line) => {
                // Beyond the seen part: straight on from its end.
                let end = if u < line.start { line.start } else { line.end };
                line.across(end) + self.slope * (u - end)
            }
            None => self.offset + self.slope * u,
        }
    }
}

/// The rulings among the lines of one direction; `extent_px` is the picture's
/// size along them.
pub(crate) fn find(lines: &[Line], extent_px: f32) -> Vec<Ruling> {
    let middle = extent_px / 2.0;
    let mut long: Vec<&Line> = lines.iter().filter(|line| line.length() >= LONG * extent_px).collect();
    long.sort_by(|a, b| a.straight(middle).total_cmp(&b.straight(middle)));
    if long.len() < FEWEST {
        return Vec::new();
    }
    let mut gaps: Vec<f32> =
        long.windows(2).map(|pair| pair[1].straight(middle) - pair[0].straight(middle)).collect();
    let mut sorted = gaps.clone();
    sorted.sort_by(f32::total_cmp);
    let step = sorted[sorted.len() / 2];
    let fits = |gap: f32, step: f32| gap <= step * STEP_FACTOR && gap >= step / STEP_FACTOR;
    // Walk from the gap nearest the median outwards, letting the step drift.
    let seed = (0..gaps.len())
        .min_by(|&a, &b| (gaps[a] - step).abs().total_cmp(&(gaps[b] - step).abs()))
        .unwrap_or(0);
    let mut keep = vec![false; long.len()];
    keep[seed] = true;
    keep[seed + 1] = true;
    gaps.push(0.0);
    let (mut single, mut steps) = (1usize, 1usize);
    for forward in [true, false] {
        let mut local = gaps[seed];
        let mut last = if forward { seed + 1 } else { seed };
        let rest: Vec<usize> =
            if forward { (seed + 2..long.len()).collect() } else { (0..seed).rev().collect() };
        for i in rest {
            let gap = (long[i].straight(middle) - long[last].straight(middle)).abs();
            // One or two lines may be missing in between.
            let times = (gap / local).round().clamp(1.0, 4.0);
            if fits(gap / times, local) {
                keep[i] = true;
                steps += 1;
                single += usize::from(times < 1.5);
                last = i;
                local = 0.5 * local + 0.5 * gap / times;
            }
        }
    }
    let family: Vec<&Line> =
        long.iter().zip(&keep).filter(|(_, keep)| **keep).map(|(line, _)| *line).collect();
    if family.len() < FEWEST || family.len() * 10 < long.len() * 6 || (single as f32) < SINGLE * steps as f32
    {
        return Vec::new();
    }
    let mut strengths: Vec<f32> = family.iter().map(|line| line.strength).collect();
    strengths.sort_by(f32::total_cmp);
    let typical = strengths[strengths.len() / 2];
    let mut out: Vec<Ruling> = Vec::new();
    for (i, line) in family.iter().enumerate() {
        if let Some(before) = i.checked_sub(1).map(|before| family[before]) {
            // Rulings that were not found whole between two that were.
            let gap = line.straight(middle) - before.straight(middle);
            let local = gaps[seed].min(gap);
            let count = crate::raster::floor_px((gap / local).round().clamp(1.0, 4.0));
            for k in 1..count {
                let t = k as f32 / count as f32;
                out.push(Ruling {
                    offset: before.offset + t * (line.offset - before.offset),
                    slope: before.slope + t * (line.slope - before.slope),
                    line: None,
                    strength: typical,
                });
            }
        }
        out.push(Ruling {
            offset: line.offset,
            slope: line.slope,
            line: Some((*line).clone()),
            strength: line.strength.min(1.5 * typical),
        });
    }
    out
}

/// Takes out the points that lie on a ruling and are no stronger than it, and
/// returns them.
pub(crate) fn set_aside(points: &mut Vec<RidgePoint>, ruled: &[Vec<Ruling>; 2]) -> Vec<RidgePoint> {
    /// Half the width of a ruling, with the wavering of its points, in pixels.
    const NEAR_PX: f32 = 2.0;
    /// A point belongs to a ruling when it runs along it this closely (slope).
    const ALONG: f32 = 0.3;
    let mut aside = Vec::new();
    for (axis, family) in Axis::BOTH.into_iter().zip(ruled) {
        if family.is_empty() {
            continue;
        }
        aside.extend(points.extract_if(.., |p| {
            let (u, v) = axis.split(p.x, p.y);
            let (tu, tv) = axis.split(p.tx, p.ty);
            family.iter().any(|ruling| {
                let rough = ruling.offset + ruling.slope * u;
                (v - rough).abs() < 30.0
                    && (v - ruling.across(u)).abs() <= NEAR_PX
                    && (tv - ruling.slope * tu).abs() <= ALONG * tu.abs()
                    && p.strength <= DRAWN_OVER * ruling.strength
            })
        }));
    }
    aside
}

/// Takes out the points of one card that lie on the page's rulings, and returns
/// them. A ruling's strength on the card is what it has outside the outline, where nothing is
/// drawn over it.
pub(crate) fn set_aside_on_card(
    points: &mut Vec<RidgePoint>,
    ruled: &[Vec<Ruling>; 2],
    card: &Rectified,
    page_of: &dyn Fn(Point) -> Point,
) -> Vec<RidgePoint> {
    if ruled.iter().all(Vec::is_empty) {
        return Vec::new();
    }
    let [width, height] = card.size_in;
    // Corners of the rectified picture on the page tell which rulings cross it.
    let corners = [
        [-MARGIN_IN, -MARGIN_IN],
        [width + MARGIN_IN, -MARGIN_IN],
        [width + MARGIN_IN, height + MARGIN_IN],
        [-MARGIN_IN, height + MARGIN_IN],
    ];
    let on_page = corners.map(|corner| page_of(card.to_photo.apply(corner)));
    let Some(back) = Homography::between(on_page, corners) else { return Vec::new() };
    let mut on_card: [Vec<Ruling>; 2] = [Vec::new(), Vec::new()];
    for ((axis, family), out) in Axis::BOTH.into_iter().zip(ruled).zip(&mut on_card) {
        let along = |p: Point| if axis == Axis::Horizontal { p[0] } else { p[1] };
        let from = on_page.iter().map(|p| along(*p)).fold(f64::MAX, f64::min);
        let to = on_page.iter().map(|p| along(*p)).fold(f64::MIN, f64::max);
        for ruling in family {
            // The ruling's course on the card, as a chain of points a few pixels apart.
            let chain: Vec<RunPoint> = (0..=64)
                .filter_map(|k| {
                    #[expect(clippy::cast_possible_truncation, reason = "picture coordinates")]
                    let u = (from + (to - from) * f64::from(k) / 64.0) as f32;
                    let [x, y] = axis.join(u, ruling.across(u));
                    let [x, y] = back.apply([f64::from(x), f64::from(y)]);
                    let inside =
                        x > -MARGIN_IN && x < width + MARGIN_IN && y > -MARGIN_IN && y < height + MARGIN_IN;
                    #[expect(clippy::cast_possible_truncation, reason = "picture coordinates")]
                    let (x, y) = (to_px(x) as f32, to_px(y) as f32);
                    let (u, v) = axis.split(x, y);
                    inside.then_some(RunPoint { u, v, strength: 0.0 })
                })
                .collect();
            if chain.len() < 4 || chain.windows(2).any(|pair| pair[1].u <= pair[0].u) {
                continue;
            }
            let line = Line::of(axis, vec![Run { points: chain }]);
            out.push(Ruling { offset: line.offset, slope: line.slope, line: Some(line), strength: f32::MAX });
        }
    }
    measure(points, &mut on_card, card);
    set_aside(points, &on_card)
}

/// Takes each family's strength from its points in the margin around the card.
fn measure(points: &[RidgePoint], families: &mut [Vec<Ruling>; 2], card: &Rectified) {
    let [right, bottom] = card.size_in.map(to_px);
    let zero = to_px(0.0);
    for (axis, family) in Axis::BOTH.into_iter().zip(families) {
        let mut strengths: Vec<f32> = points
            .iter()
            .filter(|p| {
                let (x, y) = (f64::from(p.x), f64::from(p.y));
                let outside = x < zero - 4.0 || x > right + 4.0 || y < zero - 4.0 || y > bottom + 4.0;
                let (u, v) = axis.split(p.x, p.y);
                let (tu, _) = axis.split(p.tx, p.ty);
                outside && tu.abs() > 0.95 && family.iter().any(|ruling| (v - ruling.across(u)).abs() <= 2.0)
            })
            .map(|p| p.strength)
            .collect();
        if strengths.is_empty() {
            continue;
        }
        strengths.sort_by(f32::total_cmp);
        let typical = strengths[strengths.len() * 3 / 4];
        for ruling in family {
            ruling.strength = typical;
        }
    }
}

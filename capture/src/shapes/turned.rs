//! Turned rectangles, each looked for in the frame of its own turn: strokes that
//! run neither level nor upright vote for a turn, the points near that turn are
//! turned back, and there a rectangle is upright.
//! Method: a histogram of stroke directions modulo a quarter turn (the dominant
//! directions of a drawing, as in Kosecka and Zhang, "Video compass", ECCV
//! 2002), then pairs of lines as for upright rectangles.

use super::rectangles::own_corners;
use super::{Clusters, Geometry, Hypothesis, STEP_PX, Sample, SampleInk, SideFit};
use crate::ink::RidgePoint;
use crate::lines::{Axis, Line, LineOptions, find};
use crate::rectify::px;
use crate::strokes::{Corner, Strokes, corners};

/// Least turn in degrees: below it a rectangle is upright, drawn by a hand.
const LEAST_DEG: f32 = 2.5;
/// Steps of the histogram in a quarter turn.
const STEPS: usize = 180;
/// Strokes within so many steps of a turn speak for it.
const WINDOW: usize = 3;
/// Least stroke that speaks for a turn, in inches.
const LEAST_VOTE_IN: f32 = 1.2;
/// Most turns looked at.
const MOST_TURNS: usize = 3;
/// Points within so many degrees of a turn belong to its frame.
const NEAR_DEG: f32 = 6.0;
/// Smallest side in inches.
const SMALLEST_IN: f32 = 0.4;
/// Least inked share of a side, and of all four.
const LEAST_SIDE: f32 = 0.12;
/// See [`LEAST_SIDE`].
const LEAST_TOTAL: f32 = 0.5;
/// Most lines of one direction.
const MOST_LINES: usize = 24;
/// Most rectangles handed on.
const MOST: usize = 80;

/// All turned rectangles, best seen first.
pub(super) fn propose(strokes: &Strokes, clusters: &Clusters) -> Vec<Hypothesis> {
    let mut found: Vec<(f32, Hypothesis)> = Vec::new();
    let mut first_corner = strokes.corners.len();
    for turn_deg in turns(&strokes.points) {
        let frame = Frame::new(turn_deg, strokes);
        first_corner = frame.rectangles(strokes, clusters, first_corner, &mut found);
    }
    found.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut kept: Vec<Hypothesis> = Vec::new();
    for (_, hypothesis) in found {
        let bounds = hypothesis.geometry.bounds();
        let same =
            |other: &Hypothesis| other.geometry.bounds().iter().zip(bounds).all(|(a, b)| (a - b).abs() < 5.5);
        if kept.len() < MOST && !kept.iter().any(same) {
            kept.push(hypothesis);
        }
    }
    kept
}

/// Turns that strokes speak for, in degrees from -45 to 45, clockwise.
fn turns(points: &[RidgePoint]) -> Vec<f32> {
    let step_deg = 90.0 / STEPS as f32;
    let mut votes = vec![0.0f32; STEPS];
    for p in points {
        let angle = p.ty.atan2(p.tx).to_degrees().rem_euclid(90.0);
        votes[crate::raster::floor_px(angle / step_deg).min(STEPS - 1)] += 1.0;
    }
    // Arcs speak for all turns alike: what is common to all is taken off.
    let mut sorted = votes.clone();
    sorted.sort_by(f32::total_cmp);
    let common = sorted[STEPS / 2];
    let about = |k: usize| -> f32 {
        (0..=2 * WINDOW).map(|d| (votes[(k + STEPS + d - WINDOW) % STEPS] - common).max(0.0)).sum()
    };
    let mut tops: Vec<(f32, usize)> = (0..STEPS)
        .map(|k| (about(k), k))
        .filter(|(vote, k)| {
            let angle = (*k as f32 + 0.5) * step_deg;
            *vote >= px(LEAST_VOTE_IN) && angle.min(90.0 - angle) >= LEAST_DEG
        })
        .collect();
    tops.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let mut chosen: Vec<f32> = Vec::new();
    for (_, k) in tops {
        // The mean of what speaks for it.
        let (mut sum, mut weight) = (0.0, 0.0f32);
        for d in 0..=2 * WINDOW {
            let vote = (votes[(k + STEPS + d - WINDOW) % STEPS] - common).max(0.0);
            sum += vote * (k as f32 + 0.5 + d as f32 - WINDOW as f32);
            weight += vote;
        }
        let angle = sum / weight.max(1e-6) * step_deg;
        let turn = if angle > 45.0 { angle - 90.0 } else { angle };
        if chosen.len() < MOST_TURNS && chosen.iter().all(|other| (other - turn).abs() > 3.0) {
            chosen.push(turn);
        }
    }
    chosen
}

/// Where a turned rectangle is upright.
struct Frame {
    turn_deg: f32,
    sin: f32,
    cos: f32,
    centre: [f32; 2],
    lines: [Vec<Line>; 2],
    corners: Vec<Corner>,
}

impl Frame {
    fn new(turn_deg: f32, strokes: &Strokes) -> Frame {
        let [left, top, right, bottom] = strokes.card_px;
        let (sin, cos) = turn_deg.to_radians().sin_cos();
        // Far enough inside that turned points have no negative places.
        let far = right - left + bottom - top;
        let mut frame = Frame {
            turn_deg,
            sin,
            cos,
            centre: [0.5 * (left + right), 0.5 * (top + bottom)],
            lines: [Vec::new(), Vec::new()],
            corners: Vec::new(),
        };
        let points: Vec<RidgePoint> = strokes
            .points
            .iter()
            .filter_map(|p| {
                let [tx, ty] = frame.turned_back([p.tx, p.ty]);
                let off = ty.atan2(tx).to_degrees().rem_euclid(90.0);
                let [x, y] = frame.turned_back([p.x - frame.centre[0], p.y - frame.centre[1]]);
                (off.min(90.0 - off) <= NEAR_DEG).then_some(RidgePoint {
                    x: x + far,
                    y: y + far,
                    tx,
                    ty,
                    strength: p.strength,
                })
            })
            .collect();
        let options = LineOptions {
            steepest: 0.05,
            link_gap_px: px(0.06),
            chord_px: px(0.03),
            shortest_px: px(0.25),
            join_px: px(0.025),
            join_growth: 0.004,
            bow: 0.006,
            join_gap_px: px(4.0),
        };
        frame.lines = Axis::BOTH.map(|axis| {
            let mut lines = find(&points, axis, &options);
            lines.truncate(MOST_LINES);
            lines.sort_by(|a, b| middle(a).total_cmp(&middle(b)));
            lines
        });
        frame.corners = corners(&frame.lines, px(0.1));
        frame
    }

    fn turned_back(&self, [x, y]: [f32; 2]) -> [f32; 2] {
        [self.cos * x + self.sin * y, -self.sin * x + self.cos * y]
    }

    /// From the frame to the picture.
    fn place(&self, [x, y]: [f32; 2], far: f32) -> [f32; 2] {
        let (x, y) = (x - far, y - far);
        [self.centre[0] + self.cos * x - self.sin * y, self.centre[1] + self.sin * x + self.cos * y]
    }

    /// Finds the frame's rectangles; returns the number of the next free corner.
    fn rectangles(
        &self,
        strokes: &Strokes,
        clusters: &Clusters,
        first_corner: usize,
        found: &mut Vec<(f32, Hypothesis)>,
    ) -> usize {
        let smallest = px(SMALLEST_IN);
        let share = |line: &Line, from: f32, to: f32| line.covered(from, to) / (to - from).max(1.0);
        for (l, left) in self.lines[1].iter().enumerate() {
            for right in &self.lines[1][l + 1..] {
                let (x0, x1) = (middle(left), middle(right));
                if x1 - x0 < smallest {
                    continue;
                }
                for (t, top) in self.lines[0].iter().enumerate() {
                    let top_share = share(top, x0, x1);
                    if top_share < LEAST_SIDE {
                        continue;
                    }
                    for bottom in &self.lines[0][t + 1..] {
                        let (y0, y1) = (middle(top), middle(bottom));
                        let shares =
                            [share(left, y0, y1), top_share, share(right, y0, y1), share(bottom, x0, x1)];
                        if y1 - y0 < smallest || shares.iter().any(|share| *share < LEAST_SIDE) {
                            continue;
                        }
                        let sides = [left, top, right, bottom];
                        found.extend(self.build(sides, strokes, clusters, first_corner));
                    }
                }
            }
        }
        first_corner + self.corners.len()
    }

    fn build(
        &self,
        [left, top, right, bottom]: [&Line; 4],
        strokes: &Strokes,
        clusters: &Clusters,
        first_corner: usize,
    ) -> Option<(f32, Hypothesis)> {
        let [card_left, card_top, card_right, card_bottom] = strokes.card_px;
        let far = card_right - card_left + card_bottom - card_top;
        let cross = |upright: &Line, level: &Line| {
            let (mut x, mut y) = (middle(upright), middle(level));
            for _ in 0..3 {
                x = upright.straight(y);
                y = level.straight(x);
            }
            [x, y]
        };
        let own = [cross(left, top), cross(right, top), cross(right, bottom), cross(left, bottom)];
        let mut samples = Vec::new();
        let mut fits = [SideFit { at: 0.0, spread: 1.0, inked: 0.0, on_edge: false }; 4];
        let mut first_of_corner = [0u32; 4];
        for (k, (side, line)) in [(1, top), (2, right), (3, bottom), (0, left)].into_iter().enumerate() {
            first_of_corner[k] = u32::try_from(samples.len()).unwrap_or(0);
            let (from, to) = (own[k], own[(k + 1) % 4]);
            let length = super::distance(from, to);
            let count = crate::raster::floor_px(length / STEP_PX).max(1);
            let (mut seen, mut on_card) = (0.0f32, 0.0f32);
            for i in 0..count {
                let t = (i as f32 + 0.5) / count as f32;
                let at = [from[0] + (to[0] - from[0]) * t, from[1] + (to[1] - from[1]) * t];
                let (u, _) = line.axis.split(at[0], at[1]);
                let drawn = self.place(line.axis.join(u, line.across(u)), far);
                let inside = drawn[0] > card_left
                    && drawn[0] < card_right
                    && drawn[1] > card_top
                    && drawn[1] < card_bottom;
                let ink = if !inside {
                    SampleInk::Edge
                } else if line.inked(u) {
                    let [tx, ty] = line.axis.join(1.0, line.slope);
                    let direction = [self.cos * tx - self.sin * ty, self.sin * tx + self.cos * ty];
                    SampleInk::Seen(clusters.id(drawn, direction))
                } else {
                    SampleInk::Missing
                };
                on_card += f32::from(u8::from(inside));
                seen += f32::from(u8::from(matches!(ink, SampleInk::Seen(_))));
                samples.push(Sample { at: drawn, ink });
            }
            fits[side].inked = seen / on_card.max(1.0);
        }
        let inked = super::inked_share(&samples);
        if inked < LEAST_TOTAL {
            return None;
        }
        let corner_ids: Vec<(u32, u32)> = own_corners(&self.corners, &own)
            .iter()
            .zip(first_of_corner)
            .filter_map(|(id, first)| Some((u32::try_from(first_corner).ok()? + (*id)?, first)))
            .collect();
        let corners = own.map(|corner| self.place(corner, far));
        let centre: [f32; 2] = std::array::from_fn(|k| corners.iter().map(|c| c[k]).sum::<f32>() / 4.0);
        let width = 0.5 * (super::distance(own[0], own[1]) + super::distance(own[3], own[2]));
        let height = 0.5 * (super::distance(own[0], own[3]) + super::distance(own[1], own[2]));
        for (fit, at) in fits.iter_mut().zip([
            centre[0] - width / 2.0,
            centre[1] - height / 2.0,
            centre[0] + width / 2.0,
            centre[1] + height / 2.0,
        ]) {
            fit.at = at;
        }
        let rank = inked + 0.12 * corner_ids.len() as f32;
        let geometry =
            Geometry::Box { corners, sides: fits, turned_deg: self.turn_deg, radius_px: 0.0, notch: None };
        Some((rank, Hypothesis { geometry, samples, corners: corner_ids, against: Vec::new(), inked }))
    }
}

/// Where a line lies across, in its middle.
fn middle(line: &Line) -> f32 {
    line.straight(0.5 * (line.start + line.end))
}

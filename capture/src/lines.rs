//! Straight strokes of one direction: ridge points linked along an axis into
//! runs, runs that lie in line joined into lines. A line remembers its
//! measured course at every position, so a wobbling or tilted side is followed
//! and two mats a sixteenth apart stay apart.
//! Method: linking in order of position along the axis, splitting where a run
//! leaves its chord (Douglas and Peucker, "Algorithms for the reduction of the
//! number of points required to represent a digitized line", 1973), joining by
//! least-squares fit. We depart from edge-chain linking by following one
//! direction only: crossings then cost nothing.

use crate::ink::RidgePoint;

/// The direction a line mostly runs in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Axis {
    /// Left to right: along is x, across is y.
    Horizontal,
    /// Top to bottom: along is y, across is x.
    Vertical,
}

impl Axis {
    /// Both directions.
    pub(crate) const BOTH: [Axis; 2] = [Axis::Horizontal, Axis::Vertical];

    /// (along, across) of a position.
    pub(crate) fn split(self, x: f32, y: f32) -> (f32, f32) {
        match self {
            Axis::Horizontal => (x, y),
            Axis::Vertical => (y, x),
        }
    }

    /// The position of (along, across).
    pub(crate) fn join(self, along: f32, across: f32) -> [f32; 2] {
        match self {
            Axis::Horizontal => [along, across],
            Axis::Vertical => [across, along],
        }
    }
}

/// How points become lines. Lengths in pixels of the plane they came from.
#[derive(Clone, Copy, Debug)]
pub(crate) struct LineOptions {
    /// Steepest direction against the axis, as across per along.
    pub(crate) steepest: f32,
    /// Longest gap closed while linking: longer ones are real gaps between panels.
    pub(crate) link_gap_px: f32,
    /// A run is split where it leaves its chord by more than this.
    pub(crate) chord_px: f32,
    /// Shortest run kept.
    pub(crate) shortest_px: f32,
    /// Runs join one line if all stay this close to the common fit.
    pub(crate) join_px: f32,
    /// How much farther they may be apart per pixel of gap between them.
    pub(crate) join_growth: f32,
    /// How far a bowed side may stray from its chord, per length, where its
    /// runs follow on one another without a gap.
    pub(crate) bow: f32,
    /// Longest gap bridged when joining.
    pub(crate) join_gap_px: f32,
}

/// A point of a run: along, across, strength.
#[derive(Clone, Copy, Debug)]
pub(crate) struct RunPoint {
    /// Position along the axis.
    pub(crate) u: f32,
    /// Position across it.
    pub(crate) v: f32,
    /// Strength of the ridge.
    pub(crate) strength: f32,
}

/// A straight uninterrupted stroke.
#[derive(Clone, Debug)]
pub(crate) struct Run {
    /// In order of `u`.
    pub(crate) points: Vec<RunPoint>,
}

impl Run {
    /// First position along.
    pub(crate) fn start(&self) -> f32 {
        self.points[0].u
    }

    /// Last position along.
    pub(crate) fn end(&self) -> f32 {
        self.points[self.points.len() - 1].u
    }

    /// Extent along.
    pub(crate) fn length(&self) -> f32 {
        self.end() - self.start()
    }

    /// Mean strength.
    pub(crate) fn strength(&self) -> f32 {
        self.points.iter().map(|p| p.strength).sum::<f32>() / self.points.len() as f32
    }
}

/// Strokes that lie in line.
#[derive(Clone, Debug)]
pub(crate) struct Line {
    /// Direction.
    pub(crate) axis: Axis,
    /// In order of `u`; they may overlap a little where a stroke was doubled.
    pub(crate) runs: Vec<Run>,
    /// Across at along 0 of the common fit.
    pub(crate) offset: f32,
    /// Across per along of the common fit.
    pub(crate) slope: f32,
    /// First covered position along.
    pub(crate) start: f32,
    /// Last covered position along.
    pub(crate) end: f32,
    /// Mean strength, weighted by length.
    pub(crate) strength: f32,
    /// Covered length from `start` to each whole pixel after it.
    cumulative: Vec<f32>,
    /// Measured across position at each whole pixel after `start`.
    course: Vec<f32>,
}

impl Line {
    /// Joins runs into one line.
    pub(crate) fn of(axis: Axis, mut runs: Vec<Run>) -> Line {
        runs.sort_by(|a, b| a.start().total_cmp(&b.start()));
        let (offset, slope) = fit(runs.iter().flat_map(|run| &run.points));
        let start = runs[0].start();
        let end = runs.iter().map(Run::end).fold(start, f32::max);
        let cells = crate::raster::floor_px(end - start) + 2;
        let (mut sum, mut weight, mut covered) =
            (vec![0.0f32; cells], vec![0.0f32; cells], vec![false; cells]);
        for run in &runs {
            for pair in run.points.windows(2) {
                let (a, b) = (pair[0], pair[1]);
                let (first, last) =
                    (crate::raster::floor_px(a.u - start), crate::raster::floor_px(b.u - start));
                for (cell, covered) in covered.iter_mut().enumerate().take(last + 1).skip(first) {
                    *covered = true;
                    let t = if b.u > a.u {
                        ((start + cell as f32 - a.u) / (b.u - a.u)).clamp(0.0, 1.0)
                    } else {
                        0.0
                    };
                    sum[cell] += a.v + t * (b.v - a.v);
                    weight[cell] += 1.0;
                }
            }
        }
        let mut cumulative = Vec::with_capacity(cells);
        let mut total = 0.0;
        for covered in &covered {
            cumulative.push(total);
            total += f32::from(u8::from(*covered));
        }
        let course = fill_course(&sum, &weight);
        let length: f32 = runs.iter().map(Run::length).sum();
        let strength = runs.iter().map(|run| run.strength() * run.length()).sum::<f32>() / length.max(1e-3);
        Line { axis, runs, offset, slope, start, end, strength, cumulative, course }
    }

    /// Covered length between two positions along.
    pub(crate) fn covered(&self, from: f32, to: f32) -> f32 {
        (self.covered_until(to) - self.covered_until(from)).max(0.0)
    }

    fn covered_until(&self, u: f32) -> f32 {
        let cell = (u - self.start).clamp(0.0, (self.cumulative.len() - 1) as f32);
        let low = crate::raster::floor_px(cell);
        let high = (low + 1).min(self.cumulative.len() - 1);
        self.cumulative[low] + (self.cumulative[high] - self.cumulative[low]) * (cell - low as f32)
    }

    /// The point halfway between its ends, in pixels.
    pub(crate) fn middle(&self) -> [f32; 2] {
        let along = 0.5 * (self.start + self.end);
        self.axis.join(along, self.offset + self.slope * along)
    }

    /// Covered length of the whole line.
    pub(crate) fn length(&self) -> f32 {
        self.cumulative[self.cumulative.len() - 1]
    }

    /// Whether the line is inked at a position along.
    pub(crate) fn inked(&self, u: f32) -> bool {
        self.covered(u - 0.75, u + 0.75) >= 0.75
    }

    /// The fitted straight line's position across.
    pub(crate) fn straight(&self, u: f32) -> f32 {
        self.offset + self.slope * u
    }

    /// The measured position across: the stroke's own course where there is
    /// one, a straight bridge over gaps, the fit beyond the ends.
    pub(crate) fn across(&self, u: f32) -> f32 {
        let last = self.course.len() - 1;
        if u < self.start {
            return self.course[0] + self.slope * (u - self.start);
        }
        if u > self.start + last as f32 {
            return self.course[last] + self.slope * (u - self.start - last as f32);
        }
        let cell = u - self.start;
        let low = crate::raster::floor_px(cell).min(last);
        let high = (low + 1).min(last);
        self.course[low] + (self.course[high] - self.course[low]) * (cell - low as f32)
    }
}

/// The mean course per cell, straight over cells without any.
fn fill_course(sum: &[f32], weight: &[f32]) -> Vec<f32> {
    let known: Vec<usize> = (0..sum.len()).filter(|&i| weight[i] > 0.0).collect();
    let value = |i: usize| sum[i] / weight[i];
    let mut course = vec![0.0; sum.len()];
    let mut next = 0;
    for (i, out) in course.iter_mut().enumerate() {
        while next < known.len() && known[next] < i {
            next += 1;
        }
        let before = if next < known.len() && known[next] == i {
            Some(i)
        } else {
            next.checked_sub(1).map(|k| known[k])
        };
        let after = known.get(next).copied();
        *out = match (before, after) {
            (Some(a), Some(b)) if a < b => value(a) + (value(b) - value(a)) * (i - a) as f32 / (b - a) as f32,
            (Some(a), _) => value(a),
            (None, Some(b)) => value(b),
            (None, None) => 0.0,
        };
    }
    course
}

/// Least-squares straight line through points: (offset, slope).
fn fit<'a>(points: impl Iterator<Item = &'a RunPoint> + Clone) -> (f32, f32) {
    let (mut n, mut su, mut sv) = (0.0f64, 0.0f64, 0.0f64);
    for p in points.clone() {
        n += 1.0;
        su += f64::from(p.u);
        sv += f64::from(p.v);
    }
    let (mu, mv) = (su / n, sv / n);
    let (mut suu, mut suv) = (0.0, 0.0);
    for p in points {
        let du = f64::from(p.u) - mu;
        suu += du * du;
        suv += du * (f64::from(p.v) - mv);
    }
    let slope = if suu > 1e-9 { suv / suu } else { 0.0 };
    #[expect(clippy::cast_possible_truncation, reason = "back to picture precision")]
    let out = ((mv - slope * mu) as f32, slope as f32);
    out
}

/// All lines of one direction, longest first.
pub(crate) fn find(points: &[RidgePoint], axis: Axis, options: &LineOptions) -> Vec<Line> {
    let runs = runs(points, axis, options);
    join(runs, axis, options)
}

/// Links points along the axis and splits the chains into straight runs.
pub(crate) fn runs(points: &[RidgePoint], axis: Axis, options: &LineOptions) -> Vec<Run> {
    let mut chains = link(points, axis, options);
    let mut out = Vec::new();
    for chain in &mut chains {
        split(chain, options, &mut out);
    }
    out
}

/// Chains of points, each in order of `u`.
fn link(points: &[RidgePoint], axis: Axis, options: &LineOptions) -> Vec<Vec<RunPoint>> {
    /// Width of the strips that chains are looked up by, in pixels.
    const STRIP_PX: f32 = 4.0;
    struct Chain {
        points: Vec<RunPoint>,
        slope: f32,
    }
    let mut ordered: Vec<(RunPoint, f32)> = points
        .iter()
        .filter_map(|p| {
            let (u, v) = axis.split(p.x, p.y);
            let (tu, tv) = axis.split(p.tx, p.ty);
            // A little steeper than a line may be: points waver.
            (tv.abs() <= (options.steepest + 0.35) * tu.abs())
                .then(|| (RunPoint { u, v, strength: p.strength }, tv / tu))
        })
        .collect();
    ordered.sort_by(|(a, _), (b, _)| a.u.total_cmp(&b.u).then(a.v.total_cmp(&b.v)));
    let top = ordered.iter().map(|(p, _)| p.v).fold(0.0f32, f32::max);
    let mut strips: Vec<Vec<usize>> = vec![Vec::new(); crate::raster::floor_px(top / STRIP_PX) + 2];
    let mut chains: Vec<Chain> = Vec::new();
    for (point, slope) in ordered {
        let strip = crate::raster::floor_px(point.v.max(0.0) / STRIP_PX);
        let mut best: Option<(f32, usize)> = None;
        for s in strip.saturating_sub(1)..=(strip + 1).min(strips.len() - 1) {
            strips[s].retain(|&c| {
                let last = chains[c].points[chains[c].points.len() - 1];
                point.u - last.u <= options.link_gap_px
            });
            for &c in &strips[s] {
                let last = chains[c].points[chains[c].points.len() - 1];
                let du = point.u - last.u;
                let miss = (point.v - last.v - chains[c].slope * du).abs();
                if miss <= 1.2 + 0.2 * du && best.is_none_or(|(least, _)| miss + 0.1 * du < least) {
                    best = Some((miss + 0.1 * du, c));
                }
            }
        }
        let Some((_, c)) = best else {
            strips[strip].push(chains.len());
            chains.push(Chain { points: vec![point], slope });
            continue;
        };
        let chain = &mut chains[c];
        let last = chain.points.len() - 1;
        let before = chain.points[last];
        if point.u - before.u < 0.5 {
            // The same place seen twice: keep the stronger.
            if point.strength > before.strength {
                chain.points[last] = RunPoint { u: before.u, ..point };
            }
            continue;
        }
        chain.points.push(point);
        // The direction of the last few pixels, steadied by the point's own.
        let back = chain.points[chain.points.len().saturating_sub(9)];
        let course = (point.v - back.v) / (point.u - back.u).max(0.5);
        let trust = ((point.u - back.u) / 8.0).min(1.0) * 0.8;
        chain.slope =
            (trust * course + (1.0 - trust) * slope).clamp(-options.steepest - 0.3, options.steepest + 0.3);
        let old = crate::raster::floor_px(before.v.max(0.0) / STRIP_PX);
        if old != strip {
            strips[old].retain(|&other| other != c);
            strips[strip].push(c);
        }
    }
    chains.into_iter().map(|chain| chain.points).filter(|points| points.len() >= 3).collect()
}

/// Splits a chain where it leaves its chord; keeps pieces long and level enough.
fn split(chain: &[RunPoint], options: &LineOptions, out: &mut Vec<Run>) {
    let mut work = vec![(0, chain.len() - 1)];
    while let Some((a, b)) = work.pop() {
        let (first, last) = (chain[a], chain[b]);
        if last.u - first.u < options.shortest_px {
            continue;
        }
        let slope = (last.v - first.v) / (last.u - first.u);
        let (mut worst, mut at) = (0.0f32, a);
        for (i, p) in chain.iter().enumerate().take(b).skip(a + 1) {
            let off = (p.v - first.v - slope * (p.u - first.u)).abs();
            if off > worst {
                (worst, at) = (off, i);
            }
        }
        if worst > options.chord_px {
            work.push((at, b));
            work.push((a, at));
        } else if slope.abs() <= options.steepest {
            out.push(Run { points: chain[a..=b].to_vec() });
        }
    }
}

/// How far runs of a perfectly straight line may lie off it, in pixels.
const STEADY_PX: f32 = 1.2;
/// How much farther they may per pixel of the line's own waver.
const WAVERS: f32 = 4.0;

/// Root mean square distance of runs from their common fit, in pixels.
fn waver(runs: &[Run], members: &[usize], offset: f32, slope: f32) -> f32 {
    let (mut sum, mut count) = (0.0f32, 0.0f32);
    for p in members.iter().flat_map(|&m| &runs[m].points) {
        sum += (p.v - offset - slope * p.u).powi(2);
        count += 1.0;
    }
    (sum / count.max(1.0)).sqrt()
}

/// Joins runs that lie in line, the longest first.
pub(crate) fn join(mut runs: Vec<Run>, axis: Axis, options: &LineOptions) -> Vec<Line> {
    runs.sort_by(|a, b| {
        b.length()
            .total_cmp(&a.length())
            .then(a.start().total_cmp(&b.start()))
            .then(a.points[0].v.total_cmp(&b.points[0].v))
    });
    let mut used = vec![false; runs.len()];
    let mut lines = Vec::new();
    for seed in 0..runs.len() {
        if used[seed] {
            continue;
        }
        used[seed] = true;
        let mut members = vec![seed];
        let (mut offset, mut slope) = fit(runs[seed].points.iter());
        let (mut start, mut end) = (runs[seed].start(), runs[seed].end());
        loop {
            // What is ruled or printed is held to less than what wavers.
            let waver = waver(&runs, &members, offset, slope);
            let join_px = options.join_px.min(STEADY_PX + WAVERS * waver);
            // The smallest gap in relation to what lies beyond it goes first,
            // and of two as near the one that fits better.
            let mut best: Option<(f32, usize)> = None;
            for (i, run) in runs.iter().enumerate() {
                if used[i] {
                    continue;
                }
                let gap = (run.start() - end).max(start - run.end());
                if gap > options.join_gap_px {
                    continue;
                }
                // A long side drawn by hand bows; its runs follow on one another.
                let bow = if gap <= 2.0 * options.link_gap_px {
                    options.bow * (end.max(run.end()) - start.min(run.start()))
                } else {
                    0.0
                };
                let reach = join_px + options.join_growth * gap.max(0.0) + bow;
                // What costs little to ask comes first.
                let distance = gap.max(0.0) / run.length();
                if best.is_some_and(|(least, _)| distance >= least) {
                    continue;
                }
                let off = |p: &RunPoint| (p.v - offset - slope * p.u).abs();
                let (first, last) = (&run.points[0], &run.points[run.points.len() - 1]);
                if off(first) > 2.0 * reach || off(last) > 2.0 * reach {
                    continue;
                }
                if bow > 0.0 && !follows_on(&runs, &members, run, options) {
                    continue;
                }
                // A run beside the line is a doubled stroke only when very near.
                let overlap = (run.end().min(end) - run.start().max(start)).max(0.0);
                if overlap > 0.3 * run.length()
                    && off(&run.points[run.points.len() / 2]) > 0.6 * options.join_px
                {
                    continue;
                }
                // The common fit must hold for everyone.
                let together = members.iter().flat_map(|&m| &runs[m].points).chain(&run.points);
                let (o, s) = fit(together);
                let worst = ends(&runs, &members, i).map(|p| (p.v - o - s * p.u).abs()).fold(0.0, f32::max);
                let distance = distance + worst / options.join_px;
                if worst <= reach && best.is_none_or(|(least, _)| distance < least) {
                    best = Some((distance, i));
                }
            }
            let Some((_, i)) = best else { break };
            used[i] = true;
            members.push(i);
            (offset, slope) = fit(members.iter().flat_map(|&m| &runs[m].points));
            start = start.min(runs[i].start());
            end = end.max(runs[i].end());
        }
        lines.push(Line::of(axis, members.iter().map(|&m| runs[m].clone()).collect()));
    }
    lines.sort_by(|a, b| b.length().total_cmp(&a.length()).then(a.offset.total_cmp(&b.offset)));
    lines
}

/// Whether a run goes on where a member ends: near in place and direction.
fn follows_on(runs: &[Run], members: &[usize], run: &Run, options: &LineOptions) -> bool {
    /// Sharpest turn between a stroke's parts, as a slope; a corner turns more.
    const SHARPEST_TURN: f32 = 0.12;
    let heading = |run: &Run| {
        let (a, b) = (&run.points[0], &run.points[run.points.len() - 1]);
        (b.v - a.v) / (b.u - a.u)
    };
    members.iter().any(|&m| {
        let member = &runs[m];
        let (before, after) = if member.start() <= run.start() { (member, run) } else { (run, member) };
        let (a, b) = (&before.points[before.points.len() - 1], &after.points[0]);
        let gap = b.u - a.u;
        let expected = a.v + 0.5 * (heading(before) + heading(after)) * gap;
        gap.abs() <= 2.0 * options.link_gap_px
            && (b.v - expected).abs() <= options.join_px
            && (heading(before) - heading(after)).abs() <= SHARPEST_TURN
    })
}

/// Both ends and the middle of every member and of one more run.
fn ends<'a>(runs: &'a [Run], members: &'a [usize], more: usize) -> impl Iterator<Item = &'a RunPoint> {
    members.iter().copied().chain(std::iter::once(more)).flat_map(|m| {
        let points = &runs[m].points;
        [&points[0], &points[points.len() / 2], &points[points.len() - 1]]
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const OPTIONS: LineOptions = LineOptions {
        steepest: 0.15,
        link_gap_px: 6.0,
        chord_px: 3.0,
        shortest_px: 12.0,
        join_px: 3.0,
        join_growth: 0.01,
        bow: 0.01,
        join_gap_px: 1000.0,
    };

    fn stroke(from: (f32, f32), to: (f32, f32)) -> Vec<RidgePoint> {
        let length = (to.0 - from.0).hypot(to.1 - from.1);
        let (tx, ty) = ((to.0 - from.0) / length, (to.1 - from.1) / length);
        let count = crate::raster::floor_px(length);
        (0..=count)
            .map(|i| RidgePoint {
                x: from.0 + tx * i as f32,
                y: from.1 + ty * i as f32,
                tx,
                ty,
                strength: 1.0,
            })
            .collect()
    }

    #[test]
    fn two_panels_in_a_row_share_a_line_with_a_gap() {
        let points = [stroke((10.0, 20.0), (60.0, 20.5)), stroke((80.0, 20.4), (140.0, 21.0))].concat();
        let lines = find(&points, Axis::Horizontal, &OPTIONS);
        assert_eq!(lines.len(), 1);
        assert!((lines[0].covered(0.0, 200.0) - 110.0).abs() < 4.0, "{}", lines[0].covered(0.0, 200.0));
        assert!(lines[0].covered(62.0, 78.0) < 1.0);
        assert!((lines[0].across(70.0) - 20.45).abs() < 0.1);
    }

    #[test]
    fn mats_a_sixteenth_apart_stay_apart_and_crossings_do_not_matter() {
        // At 128 px per inch a sixteenth is 8 px.
        let points = [
            stroke((10.0, 20.0), (140.0, 20.0)),
            stroke((10.0, 28.0), (140.0, 28.0)),
            stroke((70.0, 0.0), (70.0, 60.0)),
        ]
        .concat();
        assert_eq!(find(&points, Axis::Horizontal, &OPTIONS).len(), 2);
        assert_eq!(find(&points, Axis::Vertical, &OPTIONS).len(), 1);
    }
}

//! Fills set apart: hatching, stripes and checks are many short parallel
//! strokes a small step apart. The inner ones are no sides of anything; the
//! outermost stay, for they may be the panel's own.

use crate::lines::Run;

/// When parallel strokes are a fill. Lengths in pixels.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TextureOptions {
    /// Largest step between neighbours.
    pub(crate) step_px: f32,
    /// Fewest strokes; a nest of mats has up to six sides this near.
    pub(crate) fewest: usize,
}

/// Which of the runs of one direction are inner strokes of a fill: members of
/// a large family of parallel neighbours with one more on either side, about
/// as far away on both.
pub(crate) fn inner_strokes(runs: &[Run], options: &TextureOptions) -> Vec<bool> {
    /// Share of the shorter of two neighbours that lies beside the other.
    const BESIDE: f32 = 0.6;
    /// Steps to either side of an inner stroke agree within this factor.
    const EVEN: f32 = 1.6;
    /// A stroke this much longer than its fill's strokes is a side, not filling.
    const LONGER: f32 = 1.3;
    let middle = |run: &Run| run.points[run.points.len() / 2].v;
    let mut order: Vec<usize> = (0..runs.len()).collect();
    order.sort_by(|&a, &b| middle(&runs[a]).total_cmp(&middle(&runs[b])).then(a.cmp(&b)));
    // The nearest neighbours beside each run, before and after it.
    let mut after: Vec<Option<(f32, usize)>> = vec![None; runs.len()];
    let mut before: Vec<Option<(f32, usize)>> = vec![None; runs.len()];
    let mut family = Families::new(runs.len());
    for (i, &a) in order.iter().enumerate() {
        for &b in &order[i + 1..] {
            let gap = middle(&runs[b]) - middle(&runs[a]);
            if gap > options.step_px {
                break;
            }
            let beside = runs[a].end().min(runs[b].end()) - runs[a].start().max(runs[b].start());
            if gap <= 2.0 || beside < BESIDE * runs[a].length().min(runs[b].length()) {
                continue;
            }
            if after[a].is_none() {
                after[a] = Some((gap, b));
                family.unite(a, b);
            }
            if before[b].is_none_or(|(least, _)| gap < least) {
                before[b] = Some((gap, a));
                family.unite(a, b);
            }
        }
    }
    let even = |r: usize| match (before[r], after[r]) {
        (Some((x, _)), Some((y, _))) => x.max(y) <= EVEN * x.min(y),
        _ => false,
    };
    let mut inner = vec![false; runs.len()];
    let mut members: Vec<Vec<usize>> = vec![Vec::new(); runs.len()];
    for r in 0..runs.len() {
        members[family.of(r)].push(r);
    }
    for group in members {
        if group.len() < options.fewest || group.iter().filter(|&&r| even(r)).count() * 2 < group.len() {
            continue;
        }
        let mut lengths: Vec<f32> = group.iter().map(|&r| runs[r].length()).collect();
        lengths.sort_by(f32::total_cmp);
        let long = lengths[lengths.len() * 3 / 4];
        for &r in &group {
            inner[r] = even(r) && runs[r].length() <= LONGER * long;
        }
    }
    inner
}

/// Groups that grow together (union-find).
struct Families(Vec<usize>);

impl Families {
    fn new(count: usize) -> Families {
        Families((0..count).collect())
    }

    fn of(&mut self, mut member: usize) -> usize {
        while self.0[member] != member {
            self.0[member] = self.0[self.0[member]];
            member = self.0[member];
        }
        member
    }

    fn unite(&mut self, a: usize, b: usize) {
        let (a, b) = (self.of(a), self.of(b));
        self.0[a.max(b)] = a.min(b);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lines::RunPoint;

    fn run(v: f32, from: f32, to: f32) -> Run {
        Run { points: [from, 0.5 * (from + to), to].map(|u| RunPoint { u, v, strength: 1.0 }).to_vec() }
    }

    #[test]
    fn stripes_are_filling_and_their_panels_sides_are_not() {
        let options = TextureOptions { step_px: 24.0, fewest: 7 };
        let stripes: Vec<Run> = (0..9).map(|k| run(20.0 * k as f32, 10.0, 200.0)).collect();
        let inner = inner_strokes(&stripes, &options);
        assert_eq!(inner.iter().filter(|inner| **inner).count(), 7);
        assert!(!inner[0] && !inner[8]);
        let nest: Vec<Run> = (0..5).map(|k| run(20.0 * k as f32, 10.0, 200.0)).collect();
        assert!(inner_strokes(&nest, &options).iter().all(|inner| !inner));
    }
}

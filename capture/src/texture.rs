//! Fills set apart: hatching, stripes and checks are many short parallel
//! strokes a small step apart. The inner ones are no sides of anything; the
//! outermost stay, for they may be the panel's own.

use crate::lines::Run;

/// When parallel strokes are a fill. Lengths in pixels.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TextureOptions {
    /// Largest step between neighbours.
    pub(crate) step_px: f32,
    /// Fewest strokes; a nest of mats has up to five sides this near.
    pub(crate) fewest: usize,
}

/// Which of the runs of one direction are inner strokes of a fill.
pub(crate) fn inner_strokes(runs: &[Run], options: &TextureOptions) -> Vec<bool> {
    /// Share of the shorter of two neighbours that lies beside the other.
    const BESIDE: f32 = 0.6;
    /// A stroke this much longer than its fill's strokes is a side, not filling.
    const LONGER: f32 = 1.25;
    let middle = |run: &Run| run.points[run.points.len() / 2].v;
    let mut order: Vec<usize> = (0..runs.len()).collect();
    order.sort_by(|&a, &b| middle(&runs[a]).total_cmp(&middle(&runs[b])).then(a.cmp(&b)));
    // The nearest neighbour beside each run, further along.
    let mut next: Vec<Option<usize>> = vec![None; runs.len()];
    let mut before: Vec<Option<usize>> = vec![None; runs.len()];
    for (i, &a) in order.iter().enumerate() {
        for &b in &order[i + 1..] {
            let gap = middle(&runs[b]) - middle(&runs[a]);
            if gap > options.step_px {
                break;
            }
            let beside = runs[a].end().min(runs[b].end()) - runs[a].start().max(runs[b].start());
            let (short, long) =
                (runs[a].length().min(runs[b].length()), runs[a].length().max(runs[b].length()));
            if gap > 2.0 && beside >= BESIDE * short && long <= 2.5 * short && before[b].is_none() {
                next[a] = Some(b);
                before[b] = Some(a);
                break;
            }
        }
    }
    let mut inner = vec![false; runs.len()];
    for &first in &order {
        if before[first].is_some() {
            continue;
        }
        let mut chain = vec![first];
        while let Some(following) = next[chain[chain.len() - 1]] {
            chain.push(following);
        }
        if chain.len() < options.fewest {
            continue;
        }
        let mut lengths: Vec<f32> = chain.iter().map(|&r| runs[r].length()).collect();
        lengths.sort_by(f32::total_cmp);
        let typical = lengths[lengths.len() / 2];
        for &r in &chain[1..chain.len() - 1] {
            inner[r] = runs[r].length() <= LONGER * typical;
        }
    }
    inner
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
        let options = TextureOptions { step_px: 24.0, fewest: 6 };
        let stripes: Vec<Run> = (0..9).map(|k| run(20.0 * k as f32, 10.0, 200.0)).collect();
        let inner = inner_strokes(&stripes, &options);
        assert_eq!(inner.iter().filter(|inner| **inner).count(), 7);
        assert!(!inner[0] && !inner[8]);
        let nest: Vec<Run> = (0..5).map(|k| run(20.0 * k as f32, 10.0, 200.0)).collect();
        assert!(inner_strokes(&nest, &options).iter().all(|inner| !inner));
    }
}

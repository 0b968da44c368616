//! Stage 8: the set and order of shapes that explains the ink best. For a
//! candidate stack, every shape's outline is predicted: what lies inside a
//! shape above is hidden, the rest must be inked. Ink that is accounted for
//! earns its length once; outline that should be seen but is not, and every
//! further shape, costs. The order of the stack comes out of the same sum: a
//! line that stops at another (a T-junction) is paid only by the right order.
//! Source of the principle: minimum description length (Rissanen, "Modeling by
//! shortest data description", Automatica 14, 1978); amodal completion as the
//! simplest story (van Lier, van der Helm and Leeuwenberg, "Integrating global
//! and local aspects of visual occlusion", Perception 23, 1994). The search is
//! greedy with removal, replacement and moves in depth, from several starts.

use crate::rectify::PX_PER_IN;
use crate::shapes::{Clusters, Hypothesis, STEP_PX, SampleInk};

/// What a story costs. Lengths in inches of outline.
#[derive(Clone, Copy, Debug)]
pub(crate) struct StackOptions {
    /// Cost per inch of outline that should be seen and is not, in inches of
    /// ink accounted for.
    pub(crate) missing: f32,
    /// Cost of one more shape.
    pub(crate) shape_in: f32,
    /// Worth of a stroke corner that is the corner of a shape.
    pub(crate) corner_in: f32,
    /// How far inside a shape above an outline is hidden.
    pub(crate) hidden_in: f32,
    /// Most evaluations of a stack: a cap on work, not on time.
    pub(crate) most_work: usize,
}

impl Default for StackOptions {
    fn default() -> Self {
        StackOptions { missing: 0.7, shape_in: 0.8, corner_in: 0.18, hidden_in: 0.035, most_work: 60_000 }
    }
}

/// A story about the ink.
#[derive(Clone, Debug)]
pub(crate) struct Story {
    /// Shapes of the list, bottom first.
    pub(crate) order: Vec<usize>,
    /// Its worth in pixels of ink.
    pub(crate) worth: f32,
    /// For each shape of `order`, what the story loses without it.
    pub(crate) gains: Vec<f32>,
}

/// Finds the best story.
pub(crate) fn explain(shapes: &[Hypothesis], clusters: &Clusters, options: &StackOptions) -> Story {
    let mut search = Search::new(shapes, clusters, options);
    let all: Vec<bool> = vec![true; shapes.len()];
    // One start from everything, one from fully seen shapes with own corners.
    let plain: Vec<bool> = shapes.iter().map(|shape| shape.inked > 0.92 && shape.corners.len() >= 3).collect();
    let mut best = search.improve(Vec::new(), &all);
    if plain.iter().any(|plain| *plain) {
        let start = search.improve(Vec::new(), &plain);
        let other = search.improve(start.0, &all);
        if other.1 > best.1 {
            best = other;
        }
    }
    // Ban each shape in turn and build again around the rest.
    let mut round = 0;
    while round < best.0.len() && search.work < options.most_work {
        let mut allowed = all.clone();
        allowed[best.0[round]] = false;
        let without: Vec<usize> = best.0.iter().copied().filter(|&s| s != best.0[round]).collect();
        let start = search.improve(without, &allowed);
        let other = search.improve(start.0, &all);
        if other.1 > best.1 + 0.5 {
            best = other;
            round = 0;
        } else {
            round += 1;
        }
    }
    let (order, worth) = best;
    let gains = (0..order.len())
        .map(|i| {
            let mut without = order.clone();
            without.remove(i);
            worth - search.worth(&without)
        })
        .collect();
    Story { order, worth, gains }
}

struct Search<'a> {
    shapes: &'a [Hypothesis],
    clusters: &'a Clusters,
    missing: f32,
    price: f32,
    corner: f32,
    hidden: f32,
    most_work: usize,
    /// For pairs (below, above): which samples of the one below are hidden.
    masks: Vec<Option<Box<[u64]>>>,
    bounds: Vec<[f32; 4]>,
    /// Clusters and corners paid in the evaluation numbered so.
    paid: Vec<u32>,
    paid_corners: Vec<u32>,
    stamp: u32,
    work: usize,
}

impl<'a> Search<'a> {
    fn new(shapes: &'a [Hypothesis], clusters: &'a Clusters, options: &StackOptions) -> Search<'a> {
        let px = |inches: f32| inches * PX_PER_IN as f32;
        let corners = shapes.iter().flat_map(|s| &s.corners).map(|(id, _)| *id as usize + 1).max().unwrap_or(0);
        Search {
            shapes,
            clusters,
            missing: options.missing * STEP_PX,
            price: px(options.shape_in),
            corner: px(options.corner_in),
            hidden: px(options.hidden_in),
            most_work: options.most_work,
            masks: vec![None; shapes.len() * shapes.len()],
            bounds: shapes.iter().map(|shape| shape.geometry.bounds()).collect(),
            paid: vec![0; clusters.weights.len()],
            paid_corners: vec![0; corners],
            stamp: 0,
            work: 0,
        }
    }

    fn overlap(&self, a: usize, b: usize) -> bool {
        let (a, b) = (self.bounds[a], self.bounds[b]);
        a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
    }

    /// Makes sure the masks of a pair are there.
    fn prepare(&mut self, below: usize, above: usize) {
        let at = below * self.shapes.len() + above;
        if self.masks[at].is_some() {
            return;
        }
        let samples = &self.shapes[below].samples;
        let mut mask = vec![0u64; samples.len().div_ceil(64)];
        if self.overlap(below, above) {
            let figure = &self.shapes[above].geometry;
            for (i, sample) in samples.iter().enumerate() {
                if figure.covers(sample.at, self.hidden) {
                    mask[i / 64] |= 1 << (i % 64);
                }
            }
        }
        self.masks[at] = Some(mask.into_boxed_slice());
    }

    /// The worth of a stack; afterwards `paid` holds what it accounts for.
    fn worth(&mut self, order: &[usize]) -> f32 {
        self.work += 1;
        for (i, &below) in order.iter().enumerate() {
            for &above in &order[i + 1..] {
                self.prepare(below, above);
            }
        }
        self.stamp += 1;
        let mut total = 0.0;
        let mut hidden: Vec<u64> = Vec::new();
        for (i, &below) in order.iter().enumerate() {
            let shape = &self.shapes[below];
            hidden.clear();
            hidden.resize(shape.samples.len().div_ceil(64), 0);
            for &above in &order[i + 1..] {
                if let Some(mask) = &self.masks[below * self.shapes.len() + above] {
                    for (hidden, mask) in hidden.iter_mut().zip(mask) {
                        *hidden |= mask;
                    }
                }
            }
            total -= self.price;
            for (k, sample) in shape.samples.iter().enumerate() {
                if hidden[k / 64] >> (k % 64) & 1 == 1 {
                    continue;
                }
                match sample.ink {
                    SampleInk::Seen(cluster) => {
                        let paid = &mut self.paid[cluster as usize];
                        if *paid != self.stamp {
                            *paid = self.stamp;
                            total += self.clusters.weights[cluster as usize];
                        }
                    }
                    SampleInk::Missing => total -= self.missing,
                    SampleInk::Edge => {}
                }
            }
            for &(corner, at) in &shape.corners {
                let visible = hidden[at as usize / 64] >> (at % 64) & 1 == 0;
                let paid = &mut self.paid_corners[corner as usize];
                if visible && *paid != self.stamp {
                    *paid = self.stamp;
                    total += self.corner;
                }
            }
        }
        total
    }

    /// Adds, removes, replaces and moves shapes until nothing gains.
    fn improve(&mut self, mut order: Vec<usize>, allowed: &[bool]) -> (Vec<usize>, f32) {
        let mut worth = self.worth(&order);
        loop {
            if self.work > self.most_work {
                return (order, worth);
            }
            if let Some((better, value)) = self.add(&order, worth, allowed) {
                (order, worth) = (better, value);
                continue;
            }
            if let Some((better, value)) = self.drop_or_move(&order, worth) {
                (order, worth) = (better, value);
                continue;
            }
            if let Some((better, value)) = self.replace(&order, worth, allowed) {
                (order, worth) = (better, value);
                continue;
            }
            return (order, worth);
        }
    }

    /// The best addition at its best depth.
    fn add(&mut self, order: &[usize], worth: f32, allowed: &[bool]) -> Option<(Vec<usize>, f32)> {
        /// Gains below this are noise, in pixels.
        const LEAST_GAIN: f32 = 1.0;
        self.worth(order);
        let stamp = self.stamp;
        // What each shape could bring at best: its unpaid ink and corners, and
        // missing outline of others that it would hide.
        let mut seen = vec![u32::MAX; 0];
        let mut hopes: Vec<(f32, usize)> = Vec::new();
        for (s, shape) in self.shapes.iter().enumerate() {
            if !allowed[s] || order.contains(&s) {
                continue;
            }
            seen.clear();
            let mut hope = -self.price;
            let mut last = u32::MAX;
            for sample in &shape.samples {
                if let SampleInk::Seen(cluster) = sample.ink
                    && cluster != last
                {
                    last = cluster;
                    if self.paid[cluster as usize] != stamp {
                        hope += self.clusters.weights[cluster as usize];
                    }
                }
            }
            hope += self.corner
                * shape.corners.iter().filter(|(id, _)| self.paid_corners[*id as usize] != stamp).count() as f32;
            for &other in order {
                if self.overlap(s, other) {
                    let covered = self.shapes[other]
                        .samples
                        .iter()
                        .filter(|sample| sample.ink == SampleInk::Missing && shape.geometry.covers(sample.at, self.hidden))
                        .count();
                    hope += self.missing * covered as f32;
                }
            }
            if hope > LEAST_GAIN {
                hopes.push((hope, s));
            }
        }
        hopes.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let mut best: Option<(Vec<usize>, f32)> = None;
        let mut trial = Vec::with_capacity(order.len() + 1);
        for (hope, s) in hopes {
            let so_far = best.as_ref().map_or(worth + LEAST_GAIN, |(_, value)| *value);
            if worth + hope <= so_far {
                break;
            }
            for depth in (0..=order.len()).rev() {
                // Moving past a shape it does not touch changes nothing.
                if depth < order.len() && !self.overlap(s, order[depth]) {
                    continue;
                }
                trial.clear();
                trial.extend_from_slice(&order[..depth]);
                trial.push(s);
                trial.extend_from_slice(&order[depth..]);
                let value = self.worth(&trial);
                if best.as_ref().map_or(value > worth + LEAST_GAIN, |(_, most)| value > *most) {
                    best = Some((trial.clone(), value));
                }
            }
        }
        best
    }

    /// The best removal or move in depth.
    fn drop_or_move(&mut self, order: &[usize], worth: f32) -> Option<(Vec<usize>, f32)> {
        let mut best: Option<(Vec<usize>, f32)> = None;
        for i in 0..order.len() {
            let mut without = order.to_vec();
            let s = without.remove(i);
            let mut consider = |trial: &[usize], value: f32| {
                if value > best.as_ref().map_or(worth + 0.5, |(_, most)| *most) {
                    best = Some((trial.to_vec(), value));
                }
            };
            let value = self.worth(&without);
            consider(&without, value);
            for depth in 0..=without.len() {
                if depth == i || (depth < without.len() && !self.overlap(s, without[depth])) {
                    continue;
                }
                let mut trial = without.clone();
                trial.insert(depth, s);
                let value = self.worth(&trial);
                consider(&trial, value);
            }
        }
        best
    }

    /// The best exchange of one shape for another.
    fn replace(&mut self, order: &[usize], worth: f32, allowed: &[bool]) -> Option<(Vec<usize>, f32)> {
        let mut best: Option<(Vec<usize>, f32)> = None;
        for i in 0..order.len() {
            let mut without = order.to_vec();
            let s = without.remove(i);
            let base = self.worth(&without);
            let mut others = allowed.to_vec();
            others[s] = false;
            if let Some((trial, value)) = self.add(&without, base, &others)
                && value > best.as_ref().map_or(worth + 0.5, |(_, most)| *most)
            {
                best = Some((trial, value));
            }
        }
        best
    }
}

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

use crate::rectify::px;
use crate::shapes::{Clusters, Hypothesis, STEP_PX, SampleInk};

/// What a story costs. Lengths in inches of outline.
#[derive(Clone, Copy, Debug)]
pub(crate) struct StackOptions {
    /// Cost per inch of outline that should be seen and is not, in inches of
    /// ink accounted for.
    pub(crate) missing: f32,
    /// Cost of one more shape.
    pub(crate) shape_in: f32,
    /// Cost per square inch, in inches: where one line parts a card in two,
    /// the smaller part is the piece that was laid on.
    pub(crate) area_per_in: f32,
    /// Worth of a stroke corner that is the corner of a shape.
    pub(crate) corner_in: f32,
    /// How far inside a shape above an outline is hidden.
    pub(crate) hidden_in: f32,
    /// Shapes whose sides all lie this near are the same shape.
    pub(crate) twin_in: f32,
    /// Most evaluations of a stack: a cap on work, not on time.
    pub(crate) most_work: usize,
}

impl Default for StackOptions {
    fn default() -> Self {
        StackOptions {
            missing: 0.7,
            shape_in: 0.8,
            area_per_in: 0.006,
            corner_in: 0.18,
            hidden_in: 0.035,
            twin_in: 0.045,
            most_work: 60_000,
        }
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
    let plain: Vec<bool> =
        shapes.iter().map(|shape| shape.inked > 0.92 && shape.corners.len() >= 3).collect();
    let mut best = search.improve(Vec::new(), &all);
    if plain.iter().any(|plain| *plain) {
        let start = search.improve(Vec::new(), &plain);
        let other = search.improve(start.0, &all);
        if other.1 > best.1 {
            best = other;
        }
    }
    // Ban each shape in turn and build again around the rest: a wrong pair, such
    // as a wide panel under a strip for two panels side by side, falls together.
    let mut banned: Vec<usize> = Vec::new();
    while search.work < options.most_work {
        let gains = search.gains(&best.0, best.1);
        let next = (0..best.0.len())
            .filter(|&i| !banned.contains(&best.0[i]))
            .min_by(|&a, &b| gains[a].total_cmp(&gains[b]));
        let Some(i) = next else { break };
        let shape = best.0[i];
        banned.push(shape);
        let mut allowed = all.clone();
        allowed[shape] = false;
        let without: Vec<usize> = best.0.iter().copied().filter(|&s| s != shape).collect();
        let start = search.grow(without, &allowed);
        let mut other = search.grow(start.0, &all);
        if other.1 > best.1 - search.price {
            other = search.improve(other.0, &all);
        }
        if other.1 > best.1 + 0.5 {
            best = other;
        }
    }
    let (order, worth) = best;
    let gains = search.gains(&order, worth);
    Story { order, worth, gains }
}

/// Gains below this are noise, in pixels.
const LEAST_GAIN: f32 = 1.0;

/// A shape as the search sees it.
struct Item {
    bounds: [f32; 4],
    /// Its price in pixels of ink.
    price: f32,
    /// Clusters of its inked samples, each once, with the first such sample.
    clusters: Vec<u32>,
}

/// What a stack accounts for.
#[derive(Default)]
struct Account {
    /// Which samples of each shape of the order are visible.
    visible: Vec<Vec<u64>>,
    /// Visible samples on each cluster, and on each corner.
    on_cluster: Vec<u16>,
    on_corner: Vec<u16>,
}

struct Search<'a> {
    shapes: &'a [Hypothesis],
    items: Vec<Item>,
    weights: &'a [f32],
    missing: f32,
    price: f32,
    corner: f32,
    hidden: f32,
    twin: f32,
    most_work: usize,
    /// For pairs (below, above): which samples of the one below are hidden;
    /// empty where none is.
    masks: Vec<Option<Box<[u64]>>>,
    account: Account,
    /// Changes of `on_cluster` and `on_corner` during a trial.
    change: Vec<i32>,
    corner_change: Vec<i32>,
    touched: Vec<u32>,
    corners_touched: Vec<u32>,
    work: usize,
}

/// The places of set bits.
fn bits(words: &[u64]) -> impl Iterator<Item = usize> {
    words.iter().enumerate().flat_map(|(w, &word)| {
        let mut rest = word;
        std::iter::from_fn(move || {
            (rest != 0).then(|| {
                let bit = rest.trailing_zeros() as usize;
                rest &= rest - 1;
                w * 64 + bit
            })
        })
    })
}

impl<'a> Search<'a> {
    fn new(shapes: &'a [Hypothesis], clusters: &'a Clusters, options: &StackOptions) -> Search<'a> {
        let corners =
            shapes.iter().flat_map(|s| &s.corners).map(|(id, _)| *id as usize + 1).max().unwrap_or(0);
        let items = shapes
            .iter()
            .map(|shape| {
                let seen = shape.samples.iter().filter_map(|sample| match sample.ink {
                    SampleInk::Seen(cluster) => Some(cluster),
                    _ => None,
                });
                let mut unique: Vec<u32> = seen.collect();
                unique.sort_unstable();
                unique.dedup();
                let bounds = shape.geometry.bounds();
                let area = (bounds[2] - bounds[0]) * (bounds[3] - bounds[1]);
                let price = px(options.shape_in) + options.area_per_in * area / px(1.0);
                Item { bounds, price, clusters: unique }
            })
            .collect();
        Search {
            shapes,
            items,
            weights: &clusters.weights,
            missing: options.missing * STEP_PX,
            price: px(options.shape_in),
            corner: px(options.corner_in),
            hidden: px(options.hidden_in),
            twin: px(options.twin_in),
            most_work: options.most_work,
            masks: vec![None; shapes.len() * shapes.len()],
            account: Account {
                visible: Vec::new(),
                on_cluster: vec![0; clusters.weights.len()],
                on_corner: vec![0; corners],
            },
            change: vec![0; clusters.weights.len()],
            corner_change: vec![0; corners],
            touched: Vec::new(),
            corners_touched: Vec::new(),
            work: 0,
        }
    }

    fn overlap(&self, a: usize, b: usize) -> bool {
        let (a, b) = (self.items[a].bounds, self.items[b].bounds);
        a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
    }

    /// Whether two shapes are one, read twice: nearer to each other all round
    /// than the narrowest mat, a sixteenth of an inch.
    fn twins(&self, a: usize, b: usize) -> bool {
        self.items[a].bounds.iter().zip(&self.items[b].bounds).all(|(a, b)| (a - b).abs() < self.twin)
    }

    /// Makes sure the mask of a pair is there.
    fn prepare(&mut self, below: usize, above: usize) {
        let at = below * self.shapes.len() + above;
        if self.masks[at].is_some() {
            return;
        }
        let mut mask = Vec::new();
        if self.overlap(below, above) {
            let figure = &self.shapes[above].geometry;
            let samples = &self.shapes[below].samples;
            mask.resize(samples.len().div_ceil(64), 0u64);
            for (i, sample) in samples.iter().enumerate() {
                if figure.covers(sample.at, self.hidden) {
                    mask[i / 64] |= 1 << (i % 64);
                }
            }
            if mask.iter().all(|word| *word == 0) {
                mask.clear();
            }
        }
        self.masks[at] = Some(mask.into_boxed_slice());
    }

    fn mask(&self, below: usize, above: usize) -> &[u64] {
        self.masks[below * self.shapes.len() + above].as_deref().unwrap_or(&[])
    }

    /// The samples of `shape` that the shapes of `above` leave visible.
    fn visible_under(&mut self, shape: usize, above: &[usize]) -> Vec<u64> {
        let count = self.shapes[shape].samples.len();
        let mut visible = vec![u64::MAX; count.div_ceil(64)];
        if !count.is_multiple_of(64)
            && let Some(last) = visible.last_mut()
        {
            *last = (1 << (count % 64)) - 1;
        }
        for &other in above {
            self.prepare(shape, other);
            for (visible, hidden) in visible.iter_mut().zip(self.mask(shape, other)) {
                *visible &= !hidden;
            }
        }
        visible
    }

    /// Takes account of a whole stack and returns its worth.
    fn settle(&mut self, order: &[usize]) -> f32 {
        self.work += 1;
        self.account.on_cluster.fill(0);
        self.account.on_corner.fill(0);
        self.account.visible.clear();
        let mut total = 0.0;
        for (i, &shape) in order.iter().enumerate() {
            let visible = self.visible_under(shape, &order[i + 1..]);
            total -= self.items[shape].price;
            for k in bits(&visible) {
                match self.shapes[shape].samples[k].ink {
                    SampleInk::Seen(cluster) => {
                        let count = &mut self.account.on_cluster[cluster as usize];
                        if *count == 0 {
                            total += self.weights[cluster as usize];
                        }
                        *count += 1;
                    }
                    SampleInk::Missing => total -= self.missing,
                    SampleInk::Edge => {}
                }
            }
            for &(corner, at) in &self.shapes[shape].corners {
                if visible[at as usize / 64] >> (at % 64) & 1 == 1 {
                    let count = &mut self.account.on_corner[corner as usize];
                    if *count == 0 {
                        total += self.corner;
                    }
                    *count += 1;
                }
            }
            self.account.visible.push(visible);
        }
        total
    }

    /// What inserting a shape at a depth adds to the settled stack.
    fn gain_of(&mut self, order: &[usize], shape: usize, depth: usize) -> f32 {
        self.work += 1;
        let mut total = -self.items[shape].price;
        let shapes = self.shapes;
        let visible = self.visible_under(shape, &order[depth..]);
        for k in bits(&visible) {
            match shapes[shape].samples[k].ink {
                SampleInk::Seen(cluster) => self.touch(cluster, 1),
                SampleInk::Missing => total -= self.missing,
                SampleInk::Edge => {}
            }
        }
        for &(corner, at) in &shapes[shape].corners {
            if visible[at as usize / 64] >> (at % 64) & 1 == 1 {
                self.touch_corner(corner, 1);
            }
        }
        for (i, &below) in order[..depth].iter().enumerate() {
            self.prepare(below, shape);
            let at = below * shapes.len() + shape;
            let Some(mask) = self.masks[at].take() else { continue };
            if !mask.is_empty() {
                for (w, hides) in mask.iter().enumerate() {
                    let newly = hides & self.account.visible[i][w];
                    for bit in bits(&[newly]) {
                        match shapes[below].samples[w * 64 + bit].ink {
                            SampleInk::Seen(cluster) => self.touch(cluster, -1),
                            SampleInk::Missing => total += self.missing,
                            SampleInk::Edge => {}
                        }
                    }
                }
                for &(corner, at) in &shapes[below].corners {
                    let newly = mask[at as usize / 64] & self.account.visible[i][at as usize / 64];
                    if newly >> (at % 64) & 1 == 1 {
                        self.touch_corner(corner, -1);
                    }
                }
            }
            self.masks[at] = Some(mask);
        }
        while let Some(cluster) = self.touched.pop() {
            let change = std::mem::take(&mut self.change[cluster as usize]);
            let before = i32::from(self.account.on_cluster[cluster as usize]);
            total += self.weights[cluster as usize] * paid(before, change);
        }
        while let Some(corner) = self.corners_touched.pop() {
            let change = std::mem::take(&mut self.corner_change[corner as usize]);
            let before = i32::from(self.account.on_corner[corner as usize]);
            total += self.corner * paid(before, change);
        }
        total
    }

    fn touch(&mut self, cluster: u32, by: i32) {
        let change = &mut self.change[cluster as usize];
        // A count that returns to zero is listed twice, which does no harm.
        if *change == 0 {
            self.touched.push(cluster);
        }
        *change += by;
    }

    fn touch_corner(&mut self, corner: u32, by: i32) {
        let change = &mut self.corner_change[corner as usize];
        if *change == 0 {
            self.corners_touched.push(corner);
        }
        *change += by;
    }

    /// What the stack loses without each of its shapes.
    fn gains(&mut self, order: &[usize], worth: f32) -> Vec<f32> {
        (0..order.len())
            .map(|i| {
                let mut without = order.to_vec();
                without.remove(i);
                worth - self.settle(&without)
            })
            .collect()
    }

    /// Adds, removes and moves shapes until nothing gains.
    fn grow(&mut self, mut order: Vec<usize>, allowed: &[bool]) -> (Vec<usize>, f32) {
        let mut worth = self.settle(&order);
        while self.work <= self.most_work {
            let step = self.add(&order, worth, allowed).or_else(|| self.drop_or_move(&order, worth));
            match step {
                Some((better, value)) => (order, worth) = (better, value),
                None => break,
            }
        }
        (order, worth)
    }

    /// Grows and exchanges shapes until nothing gains.
    fn improve(&mut self, order: Vec<usize>, allowed: &[bool]) -> (Vec<usize>, f32) {
        let (mut order, mut worth) = self.grow(order, allowed);
        while let Some((better, _)) = self.replace(&order, worth, allowed) {
            (order, worth) = self.grow(better, allowed);
            if self.work > self.most_work {
                break;
            }
        }
        (order, worth)
    }

    /// The best addition at its best depth.
    fn add(&mut self, order: &[usize], worth: f32, allowed: &[bool]) -> Option<(Vec<usize>, f32)> {
        self.settle(order);
        self.best_addition(order, allowed).map(|(shape, depth, gain)| {
            let mut better = order.to_vec();
            better.insert(depth, shape);
            (better, worth + gain)
        })
    }

    /// The best addition to the settled stack: shape, depth and gain.
    fn best_addition(&mut self, order: &[usize], allowed: &[bool]) -> Option<(usize, usize, f32)> {
        // What each shape could bring at best: its unpaid ink and corners, and
        // missing outline of others that it would hide.
        let mut hopes: Vec<(f32, usize)> = Vec::new();
        for (s, shape) in self.shapes.iter().enumerate() {
            if !allowed[s] || order.iter().any(|&other| other == s || self.twins(other, s)) {
                continue;
            }
            let unpaid = |cluster: &&u32| self.account.on_cluster[**cluster as usize] == 0;
            let mut hope = -self.items[s].price;
            hope +=
                self.items[s].clusters.iter().filter(unpaid).map(|c| self.weights[*c as usize]).sum::<f32>();
            let open =
                shape.corners.iter().filter(|(id, _)| self.account.on_corner[*id as usize] == 0).count();
            hope += self.corner * open as f32;
            if hope < -4.0 * self.price {
                continue;
            }
            for (i, &below) in order.iter().enumerate() {
                if !self.overlap(s, below) {
                    continue;
                }
                self.prepare(below, s);
                let samples = &self.shapes[below].samples;
                let mask = self.mask(below, s);
                let freed = mask
                    .iter()
                    .zip(&self.account.visible[i])
                    .enumerate()
                    .flat_map(|(w, (hides, visible))| {
                        bits(&[hides & visible]).map(move |b| w * 64 + b).collect::<Vec<_>>()
                    })
                    .filter(|&k| samples[k].ink == SampleInk::Missing)
                    .count();
                hope += self.missing * freed as f32;
            }
            if hope > LEAST_GAIN {
                hopes.push((hope, s));
            }
        }
        hopes.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let mut best: Option<(usize, usize, f32)> = None;
        for (hope, s) in hopes {
            if hope <= best.map_or(LEAST_GAIN, |(_, _, gain)| gain) {
                break;
            }
            for depth in (0..=order.len()).rev() {
                // Moving past a shape it does not touch changes nothing.
                if depth < order.len() && !self.overlap(s, order[depth]) {
                    continue;
                }
                let gain = self.gain_of(order, s, depth);
                if gain > best.map_or(LEAST_GAIN, |(_, _, most)| most) {
                    best = Some((s, depth, gain));
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
            let base = self.settle(&without);
            if base > best.as_ref().map_or(worth + 0.5, |(_, most)| *most) {
                best = Some((without.clone(), base));
            }
            for depth in 0..=without.len() {
                if depth == i || (depth < without.len() && !self.overlap(s, without[depth])) {
                    continue;
                }
                let value = base + self.gain_of(&without, s, depth);
                if value > best.as_ref().map_or(worth + 0.5, |(_, most)| *most) {
                    let mut trial = without.clone();
                    trial.insert(depth, s);
                    best = Some((trial, value));
                }
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
            let base = self.settle(&without);
            let others: Vec<bool> = allowed
                .iter()
                .enumerate()
                .map(|(k, allowed)| *allowed && k != s && self.overlap(k, s))
                .collect();
            if let Some((shape, depth, gain)) = self.best_addition(&without, &others)
                && base + gain > best.as_ref().map_or(worth + 0.5, |(_, most)| *most)
            {
                let mut trial = without;
                trial.insert(depth, shape);
                best = Some((trial, base + gain));
            }
        }
        best
    }
}

/// +1 when something becomes paid, -1 when it stops being, else 0.
fn paid(before: i32, change: i32) -> f32 {
    match (before > 0, before + change > 0) {
        (false, true) => 1.0,
        (true, false) => -1.0,
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shapes::{Geometry, Sample, SideFit};

    /// A rectangle whose sides are inked in the picture of `clusters` 8 px wide.
    fn rectangle(
        left: f32,
        top: f32,
        right: f32,
        bottom: f32,
        inked: impl Fn([f32; 2]) -> bool,
    ) -> Hypothesis {
        let corners = [[left, top], [right, top], [right, bottom], [left, bottom]];
        let mut samples = Vec::new();
        for k in 0..4 {
            let (a, b) = (corners[k], corners[(k + 1) % 4]);
            let count = crate::raster::floor_px(((b[0] - a[0]).abs() + (b[1] - a[1]).abs()) / STEP_PX);
            for i in 0..count {
                let t = (i as f32 + 0.5) / count as f32;
                let at = [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
                let cell = crate::raster::floor_px(at[1] / 8.0) * 100 + crate::raster::floor_px(at[0] / 8.0);
                let id = u32::try_from(cell * 2 + k % 2).unwrap();
                let ink = if inked(at) { SampleInk::Seen(id) } else { SampleInk::Missing };
                samples.push(Sample { at, ink });
            }
        }
        let side = SideFit { at: 0.0, spread: 0.0, inked: 1.0, on_edge: false };
        Hypothesis {
            geometry: Geometry::Box {
                corners,
                sides: [side; 4],
                turned_deg: 0.0,
                radius_px: 0.0,
                notch: None,
            },
            samples,
            corners: Vec::new(),
            inked: 1.0,
        }
    }

    #[test]
    fn gains_of_single_steps_agree_with_the_whole_account() {
        let shapes = [
            rectangle(40.0, 40.0, 400.0, 500.0, |p| !(p[0] > 120.0 && p[0] < 300.0 && p[1] < 100.0)),
            rectangle(120.0, 20.0, 300.0, 220.0, |_| true),
            rectangle(40.0, 40.0, 400.0, 260.0, |p| p[1] < 250.0),
            rectangle(200.0, 100.0, 520.0, 300.0, |p| p[0] > 210.0),
        ];
        let clusters = Clusters::for_tests(100 * 80 * 2, 8.0);
        let mut search = Search::new(&shapes, &clusters, &StackOptions::default());
        for order in [vec![], vec![0], vec![0, 1], vec![2, 0, 3], vec![3, 1, 0]] {
            for s in 0..shapes.len() {
                if order.contains(&s) {
                    continue;
                }
                for depth in 0..=order.len() {
                    let mut with = order.clone();
                    with.insert(depth, s);
                    let whole = search.settle(&with) - search.settle(&order);
                    let step = search.gain_of(&order, s, depth);
                    assert!((whole - step).abs() < 0.1, "{order:?} + {s} at {depth}: {whole} {step}");
                }
            }
        }
    }

    #[test]
    fn a_panel_cut_up_by_what_lies_over_it_is_one_panel() {
        // The wide strip hides the panel's middle; nothing is drawn there.
        let panel = rectangle(40.0, 40.0, 400.0, 500.0, |p| !(220.0..300.0).contains(&p[1]));
        let strip = rectangle(16.0, 220.0, 440.0, 300.0, |_| true);
        let upper = rectangle(40.0, 40.0, 400.0, 220.0, |p| p[1] < 219.0);
        let lower = rectangle(40.0, 300.0, 400.0, 500.0, |p| p[1] > 301.0);
        let shapes = [upper, lower, panel, strip];
        let clusters = Clusters::for_tests(100 * 80 * 2, 8.0);
        assert_eq!(explain(&shapes, &clusters, &StackOptions::default()).order, [2, 3]);
    }
}

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
use crate::shapes::{Clusters, Geometry, Hypothesis, Inside, STEP_PX, Sample, SampleInk};

/// What a story costs. Lengths in inches of outline.
#[derive(Clone, Copy, Debug)]
pub(crate) struct StackOptions {
    /// Cost per inch of outline that should be seen and is not, in inches of
    /// ink accounted for.
    pub(crate) missing: f32,
    /// Cost of one more shape.
    pub(crate) shape_in: f32,
    /// Cost of a number more than four that a shape is told by, in inches: the
    /// turn of a rectangle, the second radius of an oval. What one of the four
    /// numbers of a plain shape costs.
    pub(crate) number_in: f32,
    /// Cost per square inch, in inches: where one line parts a card in two,
    /// the smaller part is the piece that was laid on.
    pub(crate) area_per_in: f32,
    /// Worth of a stroke corner that is the corner of a shape.
    pub(crate) corner_in: f32,
    /// Cost of a stroke corner in the middle of a side that should be seen.
    pub(crate) against_in: f32,
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
            shape_in: 1.3,
            number_in: 0.3,
            area_per_in: 0.006,
            corner_in: 0.18,
            against_in: 0.4,
            hidden_in: 0.035,
            twin_in: 0.045,
            most_work: 250_000,
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
    // Ban each shape in turn and build again: a wrong pair, such as a wide panel
    // under a strip for two panels side by side, falls together.
    let mut banned: Vec<usize> = Vec::new();
    while search.work < options.most_work {
        let gains = search.gains(&best.0, best.1);
        let next = (0..best.0.len())
            .filter(|&i| !banned.contains(&best.0[i]))
            .min_by(|&a, &b| gains[a].total_cmp(&gains[b]));
        let Some(i) = next else { break };
        let shape = best.0[i];
        let better = search.ruins(&best.0, shape, &banned).into_iter().find_map(|ruin| {
            let start = search.grow(ruin.left, &ruin.allowed);
            let mut again = search.grow(start.0, &all);
            if again.1 > best.1 - search.price {
                again = search.improve(again.0, &all);
            }
            (again.1 > best.1 + 0.5).then_some(again)
        });
        if let Some(better) = better {
            best = better;
        }
        banned.push(shape);
    }
    let (order, worth) = search.smaller_part_on_top(best);
    let gains = search.gains(&order, worth);
    Story { order, worth, gains }
}

/// How far apart sides lie at most that were meant to be flush, in inches.
const LOOSE_IN: f32 = 0.1;
/// Gains below this are noise, in pixels.
const LEAST_GAIN: f32 = 1.0;

/// A shape as the search sees it. Evidence is a set of bits: one for each
/// cluster of ink and for each stroke corner, in words of 64.
struct Item {
    bounds: [f32; 4],
    /// Its price in pixels of ink.
    price: f32,
    /// The evidence it accounts for: words and their bits.
    evidence: Vec<(u32, u64)>,
    /// Which of its samples have no ink.
    missing: Vec<u64>,
    /// For each sample its evidence, as a word of `evidence` and a bit.
    places: Vec<Option<Place>>,
    /// The same for its corners, each with the sample it is at.
    corners: Vec<(Place, u32)>,
    /// Where it hides what lies below.
    inside: Inside,
}

/// A bit of an item's evidence.
#[derive(Clone, Copy)]
struct Place {
    word: u16,
    bit: u8,
}

/// What one shape hides of another: evidence (word for word as in
/// [`Item::evidence`]) and samples without ink.
struct Hidden {
    evidence: Box<[u64]>,
    missing: Box<[u64]>,
}

/// What a stack accounts for.
#[derive(Default)]
struct Account {
    /// For each shape of the order, the evidence and the missing samples that
    /// are visible.
    visible: Vec<(Vec<u64>, Vec<u64>)>,
    /// Evidence that is paid by one shape at least, and by two at least.
    paid: Vec<u64>,
    paid_twice: Vec<u64>,
}

/// Worth of pieces of evidence in pixels, as bit planes: plane k counts 2^k.
struct Worths {
    planes: Vec<[u64; PLANES]>,
}

/// A pair that has not been looked at yet.
const UNKNOWN: u32 = u32::MAX;
/// A pair of which nothing is hidden.
const NOTHING: u32 = u32::MAX - 1;

/// Bits of a piece of evidence's worth: up to 31 pixels.
const PLANES: usize = 5;

impl Worths {
    #[inline]
    fn of(&self, word: u32, bits: u64) -> f32 {
        if bits == 0 {
            return 0.0;
        }
        let total: u32 = self.planes[word as usize]
            .iter()
            .enumerate()
            .map(|(k, plane)| (plane & bits).count_ones() << k)
            .sum();
        total as f32
    }

    fn set(&mut self, place: usize, worth: f32) {
        let (word, bit) = (place / 64, place % 64);
        let worth = crate::raster::floor_px(worth + 0.5).min((1 << PLANES) - 1);
        for (k, plane) in self.planes[word].iter_mut().enumerate() {
            *plane |= ((worth >> k & 1) as u64) << bit;
        }
    }
}

/// What is left of a stack to build again on.
struct Ruin {
    left: Vec<usize>,
    /// Which shapes may come in at first: none like those that were taken out.
    allowed: Vec<bool>,
}

struct Search<'a> {
    shapes: &'a [Hypothesis],
    items: Vec<Item>,
    worths: Worths,
    missing: f32,
    /// A corner against a shape, in missing samples.
    against: usize,
    price: f32,
    twin: f32,
    most_work: usize,
    /// For pairs (below, above): which of the hidden parts.
    masks: Vec<u32>,
    hidden_parts: Vec<Hidden>,
    account: Account,
    work: usize,
}

impl<'a> Search<'a> {
    fn new(shapes: &'a [Hypothesis], clusters: &'a Clusters, options: &StackOptions) -> Search<'a> {
        // Number the evidence that any shape could account for.
        let mut number = vec![u32::MAX; clusters.weights.len()];
        let mut count = 0u32;
        let mut seen_weights = Vec::new();
        for sample in shapes.iter().flat_map(|shape| &shape.samples) {
            if let SampleInk::Seen(cluster) = sample.ink
                && number[cluster as usize] == u32::MAX
            {
                number[cluster as usize] = count;
                seen_weights.push(clusters.weights[cluster as usize]);
                count += 1;
            }
        }
        let corners = shapes.iter().flat_map(|s| &s.corners).map(|(id, _)| id + 1).max().unwrap_or(0);
        let words = (count + corners) as usize / 64 + 1;
        let mut worths = Worths { planes: vec![[0; PLANES]; words] };
        for (place, weight) in seen_weights.iter().enumerate() {
            worths.set(place, *weight);
        }
        for corner in 0..corners {
            worths.set((count + corner) as usize, px(options.corner_in));
        }
        let places: Vec<Vec<Option<u32>>> = shapes
            .iter()
            .map(|shape| {
                let place = |sample: &Sample| match sample.ink {
                    SampleInk::Seen(cluster) => Some(number[cluster as usize]),
                    _ => None,
                };
                shape.samples.iter().map(place).collect()
            })
            .collect();
        let missing = options.missing * STEP_PX;
        let against = crate::raster::floor_px(px(options.against_in) / missing + 0.5);
        let items = shapes
            .iter()
            .zip(&places)
            .map(|(shape, places)| {
                let own_corners = shape.corners.iter().map(|(id, _)| count + id);
                let mut all: Vec<u32> = places.iter().flatten().copied().chain(own_corners).collect();
                all.sort_unstable();
                let mut evidence: Vec<(u32, u64)> = Vec::new();
                for place in all {
                    match evidence.last_mut() {
                        Some((word, bits)) if *word == place / 64 => *bits |= 1 << (place % 64),
                        _ => evidence.push((place / 64, 1 << (place % 64))),
                    }
                }
                let last = shape.samples.len() + against * shape.against.len();
                let mut missing = vec![0u64; last.div_ceil(64)];
                for i in shape.samples.len()..last {
                    missing[i / 64] |= 1 << (i % 64);
                }
                for (i, sample) in shape.samples.iter().enumerate() {
                    if sample.ink == SampleInk::Missing {
                        missing[i / 64] |= 1 << (i % 64);
                    }
                }
                let bounds = shape.geometry.bounds();
                let area = (bounds[2] - bounds[0]) * (bounds[3] - bounds[1]);
                let more = if shape.geometry.is_turned_or_oval() { px(options.number_in) } else { 0.0 };
                let price = px(options.shape_in) + more + options.area_per_in * area / px(1.0);
                let place = |of: u32| {
                    let word = evidence.binary_search_by_key(&(of / 64), |(word, _)| *word).ok()?;
                    Some(Place { word: u16::try_from(word).ok()?, bit: u8::try_from(of % 64).ok()? })
                };
                let places = places.iter().map(|of| of.and_then(place)).collect();
                let corners =
                    shape.corners.iter().filter_map(|(id, at)| Some((place(count + id)?, *at))).collect();
                let inside = shape.geometry.inside(px(options.hidden_in));
                Item { bounds, price, evidence, missing, places, corners, inside }
            })
            .collect();
        Search {
            shapes,
            items,
            worths,
            missing,
            against,
            price: px(options.shape_in),
            twin: px(options.twin_in),
            most_work: options.most_work,
            masks: vec![UNKNOWN; shapes.len() * shapes.len()],
            hidden_parts: Vec::new(),
            account: Account { visible: Vec::new(), paid: vec![0; words], paid_twice: vec![0; words] },
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

    /// Whether two shapes take much the same place.
    fn alike(&self, a: usize, b: usize) -> bool {
        /// Least share of the larger box that they have in common.
        const COMMON: f32 = 0.6;
        let (a, b) = (self.items[a].bounds, self.items[b].bounds);
        let area = |[left, top, right, bottom]: [f32; 4]| (right - left).max(0.0) * (bottom - top).max(0.0);
        let common = area([a[0].max(b[0]), a[1].max(b[1]), a[2].min(b[2]), a[3].min(b[3])]);
        common > COMMON * area(a).max(area(b))
    }

    /// Makes sure the mask of a pair is there.
    fn prepare(&mut self, below: usize, above: usize) {
        let at = below * self.shapes.len() + above;
        if self.masks[at] == UNKNOWN {
            self.masks[at] = match self.hides(below, above) {
                None => NOTHING,
                Some(hidden) => {
                    self.hidden_parts.push(hidden);
                    u32::try_from(self.hidden_parts.len() - 1).unwrap_or(NOTHING)
                }
            };
        }
    }

    /// What `above` hides of `below`. A piece of evidence is hidden when all of
    /// the samples that see it are.
    fn hides(&self, below: usize, above: usize) -> Option<Hidden> {
        if !self.overlap(below, above) {
            return None;
        }
        let (shape, item) = (&self.shapes[below], &self.items[below]);
        let inside = &self.items[above].inside;
        let covered = inside.of(&shape.samples);
        if !covered.contains(&true) && !shape.against.iter().any(|at| inside.holds(*at)) {
            return None;
        }
        let mut seen: Vec<u64> = vec![0; item.evidence.len()];
        let mut missing = vec![0u64; item.missing.len()];
        for (i, (covered, place)) in covered.iter().zip(&item.places).enumerate() {
            match place {
                Some(place) if !covered => seen[usize::from(place.word)] |= 1 << place.bit,
                None if *covered => missing[i / 64] |= 1 << (i % 64),
                _ => {}
            }
        }
        for (place, at) in &item.corners {
            if !covered[*at as usize] {
                seen[usize::from(place.word)] |= 1 << place.bit;
            }
        }
        let evidence = item.evidence.iter().zip(&seen).map(|((_, bits), seen)| bits & !seen).collect();
        for k in (0..shape.against.len()).filter(|&k| inside.holds(shape.against[k])) {
            let first = shape.samples.len() + k * self.against;
            (first..first + self.against).for_each(|i| missing[i / 64] |= 1 << (i % 64));
        }
        for (missing, own) in missing.iter_mut().zip(&item.missing) {
            *missing &= own;
        }
        Some(Hidden { evidence, missing: missing.into_boxed_slice() })
    }

    fn mask(&self, below: usize, above: usize) -> Option<&Hidden> {
        match self.masks[below * self.shapes.len() + above] {
            UNKNOWN | NOTHING => None,
            part => self.hidden_parts.get(part as usize),
        }
    }

    /// The evidence and the missing samples of `shape` that the shapes of
    /// `above` leave visible.
    fn visible_under(&mut self, shape: usize, above: &[usize]) -> (Vec<u64>, Vec<u64>) {
        let item = &self.items[shape];
        let mut evidence: Vec<u64> = item.evidence.iter().map(|(_, bits)| *bits).collect();
        let mut missing = item.missing.clone();
        for &other in above {
            self.prepare(shape, other);
            if let Some(hidden) = self.mask(shape, other) {
                for (visible, hidden) in evidence.iter_mut().zip(&hidden.evidence) {
                    *visible &= !hidden;
                }
                for (visible, hidden) in missing.iter_mut().zip(&hidden.missing) {
                    *visible &= !hidden;
                }
            }
        }
        (evidence, missing)
    }

    /// Takes account of a whole stack and returns its worth.
    fn settle(&mut self, order: &[usize]) -> f32 {
        self.work += 1;
        self.account.paid.fill(0);
        self.account.paid_twice.fill(0);
        self.account.visible.clear();
        let mut total = 0.0;
        for (i, &shape) in order.iter().enumerate() {
            let (evidence, missing) = self.visible_under(shape, &order[i + 1..]);
            total -= self.items[shape].price + self.missing * count(&missing);
            for ((word, _), bits) in self.items[shape].evidence.iter().zip(&evidence) {
                let w = *word as usize;
                total += self.worths.of(*word, bits & !self.account.paid[w]);
                self.account.paid_twice[w] |= bits & self.account.paid[w];
                self.account.paid[w] |= bits;
            }
            self.account.visible.push((evidence, missing));
        }
        total
    }

    /// What inserting a shape at a depth adds to the settled stack. Evidence of
    /// two shapes that are both newly hidden counts as still paid: the sum is
    /// taken again when the step is made.
    fn gain_of(&mut self, order: &[usize], shape: usize, depth: usize) -> f32 {
        self.work += 1;
        let (evidence, missing) = self.visible_under(shape, &order[depth..]);
        for &below in &order[..depth] {
            self.prepare(below, shape);
        }
        let item = &self.items[shape];
        let account = &self.account;
        let mut total = -item.price - self.missing * count(&missing);
        for ((word, _), bits) in item.evidence.iter().zip(&evidence) {
            total += self.worths.of(*word, bits & !account.paid[*word as usize]);
        }
        for (&below, (visible, open)) in order[..depth].iter().zip(&account.visible) {
            let Some(hidden) = self.mask(below, shape) else { continue };
            for (((word, _), visible), hides) in
                self.items[below].evidence.iter().zip(visible).zip(&hidden.evidence)
            {
                let w = *word as usize;
                let lost = visible & hides & account.paid[w] & !account.paid_twice[w];
                if lost != 0 {
                    let own = item
                        .evidence
                        .binary_search_by_key(word, |(word, _)| *word)
                        .map_or(0, |k| evidence[k]);
                    total -= self.worths.of(*word, lost & !own);
                }
            }
            let freed: u32 = open.iter().zip(&hidden.missing).map(|(a, b)| (a & b).count_ones()).sum();
            total += self.missing * freed as f32;
        }
        total
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

    /// A stack without one of its shapes: with all others, with those that it
    /// does not touch, and without one more that it touches and that has not
    /// been taken out yet.
    fn ruins(&self, order: &[usize], shape: usize, done: &[usize]) -> Vec<Ruin> {
        let allowed = |like: &dyn Fn(usize) -> bool| (0..self.shapes.len()).map(|s| !like(s)).collect();
        let twins = |s: usize| s == shape || self.twins(s, shape);
        let others: Vec<usize> = order.iter().copied().filter(|&s| s != shape).collect();
        let (touched, apart): (Vec<usize>, Vec<usize>) =
            others.iter().copied().partition(|&s| self.overlap(s, shape));
        let mut ruins = vec![
            Ruin { left: others.clone(), allowed: allowed(&twins) },
            Ruin { left: apart, allowed: allowed(&twins) },
        ];
        // Of boxes alone two stand for two others.
        let pairs = |s: &usize| self.is_box(shape) && self.is_box(*s) && !done.contains(s);
        for also in touched.into_iter().filter(pairs) {
            ruins.push(Ruin {
                left: others.iter().copied().filter(|&s| s != also).collect(),
                allowed: allowed(&|s| self.alike(s, shape) || self.alike(s, also)),
            });
        }
        ruins
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
        loop {
            let step = self.replace(&order, worth, allowed).or_else(|| self.absorb(&order, worth, allowed));
            let Some((better, _)) = step else { break };
            (order, worth) = self.grow(better, allowed);
            if self.work > self.most_work {
                break;
            }
        }
        (order, worth)
    }

    /// The first addition that pays once the shapes it makes needless are gone:
    /// one panel under a strip for two panels beside it.
    fn absorb(&mut self, order: &[usize], worth: f32, allowed: &[bool]) -> Option<(Vec<usize>, f32)> {
        /// Shapes tried: the best ones by themselves.
        const MOST: usize = 80;
        let mut alone: Vec<(f32, usize)> = (0..self.shapes.len())
            .filter(|&s| allowed[s] && !order.iter().any(|&other| other == s || self.twins(other, s)))
            .map(|s| {
                let item = &self.items[s];
                let ink: f32 = item.evidence.iter().map(|(word, bits)| self.worths.of(*word, *bits)).sum();
                (ink - item.price - 0.5 * self.missing * count(&item.missing), s)
            })
            .filter(|(alone, _)| *alone > 0.0)
            .collect();
        alone.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        alone.truncate(MOST);
        for (_, s) in alone {
            let shares = |other: usize| {
                let own = &self.items[s].evidence;
                self.items[other].evidence.iter().any(|(word, bits)| {
                    own.binary_search_by_key(word, |(word, _)| *word).is_ok_and(|k| own[k].1 & bits != 0)
                })
            };
            let rivals: Vec<usize> = order.iter().copied().filter(|&other| shares(other)).collect();
            if rivals.is_empty() {
                continue;
            }
            // In the place of the lowest of its rivals, or of the highest.
            let places = order.iter().enumerate().filter(|(_, other)| rivals.contains(other)).map(|(i, _)| i);
            let (lowest, highest) =
                places.fold((order.len(), 0), |(low, high), i| (low.min(i), high.max(i + 1)));
            for depth in [lowest, highest] {
                let mut trial = order.to_vec();
                trial.insert(depth, s);
                let value = self.settle(&trial);
                let (trial, value) = self.without_needless(trial, value, &rivals);
                if value > worth + 0.5 {
                    return Some((trial, value));
                }
            }
            if self.work > self.most_work {
                break;
            }
        }
        None
    }

    /// Where one line parts a panel in two, the smaller part is the piece that
    /// was laid on, and the panel is there below it, unless it is the card
    /// (common practice, no source). The strokes tell little or nothing of it.
    fn smaller_part_on_top(&mut self, (mut order, mut worth): (Vec<usize>, f32)) -> (Vec<usize>, f32) {
        /// What may speak against it, of the price of a shape.
        const MOST_LOST: f32 = 0.5;
        for _ in 0..order.len() {
            let mut best: Option<(Vec<usize>, f32)> = None;
            for (large, other) in (0..order.len()).flat_map(|i| (0..order.len()).map(move |j| (i, j))) {
                let (part, beside) = (order[large], order[other]);
                let wanted = if large == other {
                    continue;
                } else if let Some(rest) = self.rest_of(beside, part) {
                    // Beside is the whole; the rest of it is less than the part.
                    rest
                } else if let Some(whole) = self.filled_by(part, beside) {
                    whole
                } else {
                    continue;
                };
                for s in self.plain_near(&wanted) {
                    let mut trial = order.clone();
                    trial[large] = s;
                    if self.area(s) > self.area(part) && large > other {
                        trial.swap(large, other);
                    }
                    let value = self.settle(&trial);
                    if value > best.as_ref().map_or(worth - MOST_LOST * self.price, |(_, most)| *most) {
                        best = Some((trial, value));
                    }
                }
            }
            let Some(better) = best else { break };
            (order, worth) = better;
        }
        (order, worth)
    }

    /// What a part that takes more than half of a whole, and ends with it on
    /// three sides, leaves of it.
    fn rest_of(&self, whole: usize, part: usize) -> Option<[f32; 4]> {
        if !self.is_box(whole) || !self.is_box(part) || self.area(part) <= 0.5 * self.area(whole) {
            return None;
        }
        let (whole, part) = (self.items[whole].bounds, self.items[part].bounds);
        let flush: Vec<usize> = (0..4).filter(|&k| (whole[k] - part[k]).abs() < px(LOOSE_IN)).collect();
        let open = (0..4).find(|k| !flush.contains(k)).filter(|_| flush.len() == 3)?;
        let mut rest = whole;
        // The side across from the open one goes to where the part ends.
        rest[(open + 2) % 4] = part[open];
        Some(rest)
    }

    /// The box that two boxes fill side by side, if the second is the smaller.
    fn filled_by(&self, large: usize, small: usize) -> Option<[f32; 4]> {
        if !self.is_box(large) || !self.is_box(small) || self.area(large) < self.area(small) {
            return None;
        }
        let (p, q) = (self.items[large].bounds, self.items[small].bounds);
        let near = |x: f32, y: f32| (x - y).abs() < px(LOOSE_IN);
        let side_by_side = |k: usize| {
            near(p[1 - k], q[1 - k])
                && near(p[3 - k], q[3 - k])
                && (near(p[k + 2], q[k]) || near(q[k + 2], p[k]))
        };
        (side_by_side(0) || side_by_side(1))
            .then(|| [p[0].min(q[0]), p[1].min(q[1]), p[2].max(q[2]), p[3].max(q[3])])
    }

    fn is_box(&self, s: usize) -> bool {
        matches!(self.shapes[s].geometry, Geometry::Box { notch: None, .. })
    }

    /// The upright rectangles that lie near these bounds.
    fn plain_near(&self, bounds: &[f32; 4]) -> Vec<usize> {
        let near =
            |s: usize| self.items[s].bounds.iter().zip(bounds).all(|(a, b)| (a - b).abs() < px(LOOSE_IN));
        let plain = |s: usize| matches!(self.shapes[s].geometry, Geometry::Box { turned_deg, notch: None, .. } if turned_deg == 0.0);
        (0..self.shapes.len()).filter(|&s| plain(s) && near(s)).collect()
    }

    fn area(&self, s: usize) -> f32 {
        let [left, top, right, bottom] = self.items[s].bounds;
        (right - left) * (bottom - top)
    }

    /// Drops those of some shapes that a stack is better without, the most
    /// needless first.
    fn without_needless(
        &mut self,
        mut order: Vec<usize>,
        mut worth: f32,
        some: &[usize],
    ) -> (Vec<usize>, f32) {
        loop {
            let mut best: Option<(f32, usize)> = None;
            for at in (0..order.len()).filter(|&at| some.contains(&order[at])).collect::<Vec<_>>() {
                let mut without = order.clone();
                without.remove(at);
                let value = self.settle(&without);
                if value > best.map_or(worth, |(most, _)| most) {
                    best = Some((value, at));
                }
            }
            let Some((value, at)) = best else { return (order, worth) };
            worth = value;
            order.remove(at);
        }
    }

    /// The best addition at its best depth.
    fn add(&mut self, order: &[usize], worth: f32, allowed: &[bool]) -> Option<(Vec<usize>, f32)> {
        self.settle(order);
        let (shape, depth, _) = self.best_addition(order, allowed)?;
        let mut better = order.to_vec();
        better.insert(depth, shape);
        let value = self.settle(&better);
        (value > worth + LEAST_GAIN / 2.0).then_some((better, value))
    }

    /// The best addition to the settled stack: shape, depth and gain.
    fn best_addition(&mut self, order: &[usize], allowed: &[bool]) -> Option<(usize, usize, f32)> {
        // What each shape could bring at best: its unpaid ink and corners, and
        // all missing outline of the others, as if it hid it.
        let open: f32 = self.account.visible.iter().map(|(_, missing)| count(missing)).sum();
        let mut hopes: Vec<(f32, f32, usize)> = Vec::new();
        for (s, allowed) in allowed.iter().enumerate() {
            if !allowed || order.iter().any(|&other| other == s || self.twins(other, s)) {
                continue;
            }
            let item = &self.items[s];
            let unpaid = item
                .evidence
                .iter()
                .map(|(word, bits)| self.worths.of(*word, bits & !self.account.paid[*word as usize]));
            let unpaid = unpaid.sum::<f32>() - item.price;
            let hope = unpaid + self.missing * open;
            if unpaid >= -4.0 * self.price && hope > LEAST_GAIN {
                hopes.push((hope, unpaid, s));
            }
        }
        hopes.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.2.cmp(&b.2)));
        let mut best: Option<(usize, usize, f32)> = None;
        for (hope, unpaid, s) in hopes {
            let most = best.map_or(LEAST_GAIN, |(_, _, gain)| gain);
            if hope <= most {
                break;
            }
            // Even at the bottom it must show what no shape above it hides, and
            // even at the top it frees only what it hides.
            let mut hope = unpaid - self.missing * count(&self.visible_under(s, order).1);
            for (i, &below) in order.iter().enumerate() {
                self.prepare(below, s);
                if let Some(hidden) = self.mask(below, s) {
                    let open = &self.account.visible[i].1;
                    let freed: u32 =
                        open.iter().zip(&hidden.missing).map(|(a, b)| (a & b).count_ones()).sum();
                    hope += self.missing * freed as f32;
                }
            }
            if hope <= most {
                continue;
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
                let mut value = base + self.gain_of(&without, s, depth);
                if value > best.as_ref().map_or(worth + 0.5, |(_, most)| *most) {
                    let mut trial = without.clone();
                    trial.insert(depth, s);
                    value = self.settle(&trial);
                    self.settle(&without);
                }
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
                let value = self.settle(&trial);
                if value > best.as_ref().map_or(worth + 0.5, |(_, most)| *most) {
                    best = Some((trial, value));
                }
            }
        }
        best
    }
}

/// How many bits are set, as a number of samples.
fn count(words: &[u64]) -> f32 {
    words.iter().map(|word| word.count_ones()).sum::<u32>() as f32
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
            against: Vec::new(),
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

    #[test]
    fn of_a_panel_that_a_line_parts_the_smaller_part_lies_on_top() {
        let whole = rectangle(40.0, 40.0, 400.0, 600.0, |_| true);
        let upper = rectangle(40.0, 40.0, 400.0, 240.0, |_| true);
        let lower = rectangle(40.0, 240.0, 400.0, 600.0, |_| true);
        let clusters = Clusters::for_tests(100 * 80 * 2, 8.0);
        for shapes in [[whole.clone(), upper.clone(), lower.clone()], [lower, upper, whole]] {
            let order = explain(&shapes, &clusters, &StackOptions::default()).order;
            let bottoms: Vec<f32> = order.iter().map(|&s| shapes[s].geometry.bounds()[3]).collect();
            assert_eq!(bottoms, [600.0, 240.0]);
        }
    }

    #[test]
    fn two_panels_side_by_side_are_no_wide_one_with_a_strip() {
        // What lies over both hides their middle, as it would the wide one's.
        let hidden = |p: [f32; 2]| !(p[1] > 200.0 && p[1] < 340.0 && p[0] > 150.0 && p[0] < 320.0);
        let mut left = rectangle(40.0, 40.0, 200.0, 500.0, hidden);
        let mut right = rectangle(240.0, 40.0, 440.0, 500.0, hidden);
        let gap = |p: [f32; 2]| p[0] < 200.0 || p[0] > 240.0;
        let mut wide = rectangle(40.0, 40.0, 440.0, 500.0, gap);
        let strip = rectangle(200.0, 40.0, 240.0, 500.0, |p| hidden(p) && p[1] > 40.0 && p[1] < 500.0);
        let over = rectangle(150.0, 200.0, 320.0, 340.0, |_| true);
        left.corners = vec![(0, 0), (1, 40)];
        right.corners = vec![(2, 0), (3, 40)];
        wide.against = vec![[200.0, 40.0], [240.0, 40.0]];
        let shapes = [wide, strip, over, left, right];
        let clusters = Clusters::for_tests(100 * 80 * 2, 8.0);
        let mut order = explain(&shapes, &clusters, &StackOptions::default()).order;
        order.sort_unstable();
        assert_eq!(order, [2, 3, 4]);
    }
}

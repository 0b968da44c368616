//! Exact inference in a small discrete factor graph.
//!
//! Method: bucket elimination (Dechter, "Bucket elimination: a unifying
//! framework for reasoning", Artificial Intelligence 113, 1999) along a greedy
//! least-table order. With maximisation it gives the most probable assignment
//! and so proves it; with summation, followed by one pass back down the tree
//! of buckets, it gives the exact marginal of every clique, as in the junction
//! tree algorithm (Lauritzen and Spiegelhalter, 1988).

use super::habits::{Habit, Weights};

/// Variables, each with the values it may take, and factors over them.
#[derive(Clone, Debug, Default)]
pub(super) struct Graph {
    /// The values of each variable.
    pub domains: Vec<Vec<i32>>,
    /// The piece that each variable was made for.
    owners: Vec<usize>,
    /// The piece that new variables are made for.
    pub owner: usize,
    /// What speaks for and against combinations of values.
    pub factors: Vec<Factor>,
    /// Log-probability that does not depend on any variable.
    pub constant: f64,
}

/// A log-linear term over a few variables, as a table in row-major order: the
/// last variable runs fastest.
#[derive(Clone, Debug)]
pub(super) struct Factor {
    /// Indices of its variables, each once.
    pub vars: Vec<usize>,
    /// Log-likelihood of each combination.
    pub base: Vec<f64>,
    /// Habits that hold in a combination: place in the table, which, how much.
    pub habits: Vec<(u32, Habit, f64)>,
    /// The element and axis the habits are about, for explanations.
    pub about: Vec<(usize, usize)>,
}

/// What one combination of values scores, filled in by a factor's rule.
#[derive(Default)]
pub(super) struct Score {
    base: f64,
    habits: Vec<(Habit, f64)>,
}

impl Score {
    /// Adds to the log-likelihood.
    pub(super) fn add(&mut self, log_likelihood: f64) {
        self.base += log_likelihood;
    }

    /// Says that a habit holds.
    pub(super) fn holds(&mut self, habit: Habit) {
        self.habits.push((habit, 1.0));
    }

    /// Says that a habit holds, if it does.
    pub(super) fn holds_if(&mut self, holds: bool, habit: Habit) {
        if holds {
            self.holds(habit);
        }
    }
}

/// Log-likelihood of what cannot be.
pub(super) const NEVER: f64 = f64::NEG_INFINITY;

impl Graph {
    /// A new variable.
    pub(super) fn var(&mut self, domain: Vec<i32>) -> usize {
        debug_assert!(!domain.is_empty());
        self.domains.push(domain);
        self.owners.push(self.owner);
        self.domains.len() - 1
    }

    /// A new factor by its rule. `vars` may repeat a variable; the rule sees
    /// one value for each entry of `vars`. Factors that say nothing are not kept.
    pub(super) fn factor(
        &mut self,
        vars: &[usize],
        about: &[(usize, usize)],
        rule: impl Fn(&[i32], &mut Score),
    ) {
        let mut own: Vec<usize> = vars.to_vec();
        own.sort_unstable();
        own.dedup();
        // What has one value only ties nothing together.
        own.retain(|var| self.domains[*var].len() > 1);
        let place: Vec<Option<usize>> =
            vars.iter().map(|var| own.iter().position(|other| other == var)).collect();
        let sizes: Vec<usize> = own.iter().map(|var| self.domains[*var].len()).collect();
        let total: usize = sizes.iter().product();
        let mut base = Vec::with_capacity(total);
        let mut habits = Vec::new();
        let mut digits = vec![0; own.len()];
        let mut values = vec![0; vars.len()];
        let mut score = Score::default();
        let mut says = false;
        for entry in 0..total {
            for ((value, at), var) in values.iter_mut().zip(&place).zip(vars) {
                *value = self.domains[*var][at.map_or(0, |at| digits[at])];
            }
            score.base = 0.0;
            score.habits.clear();
            rule(&values, &mut score);
            says |= score.base != 0.0 || !score.habits.is_empty();
            base.push(score.base);
            let entry = u32::try_from(entry).unwrap_or(u32::MAX);
            habits.extend(score.habits.iter().map(|(habit, much)| (entry, *habit, *much)));
            step(&mut digits, &sizes);
        }
        if says {
            self.factors.push(Factor { vars: own, base, habits, about: about.to_vec() });
        }
    }

    /// The same graph with some variables held at a place in their domain.
    pub(super) fn clamped(&self, at: &[Option<usize>]) -> Graph {
        let domains: Vec<Vec<i32>> = self
            .domains
            .iter()
            .zip(at)
            .map(|(domain, at)| at.map_or_else(|| domain.clone(), |at| vec![domain[at]]))
            .collect();
        let factors = self.factors.iter().map(|factor| factor.clamped(&self.domains, at)).collect();
        Graph { domains, factors, ..self.clone_without_tables() }
    }

    fn clone_without_tables(&self) -> Graph {
        Graph { owners: self.owners.clone(), owner: self.owner, constant: self.constant, ..Graph::default() }
    }

    /// A number for each variable that tells it from others by its owner, its
    /// domain and its neighbours' neighbours, but not by its index (colour
    /// refinement, Weisfeiler and Leman, 1968).
    fn marks(&self, near: &Ties) -> Vec<u64> {
        const ROUNDS: usize = 3;
        // FNV-1a over whole numbers.
        let mix = |mark: u64, other: u64| (mark ^ other).wrapping_mul(0x0000_0100_0000_01b3);
        let mut marks: Vec<u64> = self
            .owners
            .iter()
            .zip(&self.domains)
            .map(|(owner, domain)| mix(mix(0xcbf2_9ce4_8422_2325, *owner as u64), domain.len() as u64))
            .collect();
        for _ in 0..ROUNDS {
            marks = (0..marks.len())
                .map(|var| {
                    let mut around: Vec<u64> = near.of(var).map(|other| marks[other]).collect();
                    around.sort_unstable();
                    around.into_iter().fold(marks[var], mix)
                })
                .collect();
        }
        marks
    }

    /// How much of each habit is to be expected, given clique marginals.
    pub(super) fn expected(&self, order: &[usize], marginals: &[Table]) -> Vec<f64> {
        let mut rank = vec![0; self.domains.len()];
        for (at, var) in order.iter().enumerate() {
            rank[*var] = at;
        }
        let mut out = vec![0.0; Habit::ALL.len()];
        for factor in self.factors.iter().filter(|factor| !factor.habits.is_empty()) {
            let bucket = factor.vars.iter().map(|var| rank[*var]).min().unwrap_or(0);
            let marginal = marginals[bucket].onto(&factor.vars);
            for (entry, habit, much) in &factor.habits {
                out[*habit as usize] += much * marginal.entries[*entry as usize];
            }
        }
        out
    }

    /// An order of elimination and the number of entries in its tables
    /// together: the best of two greedy ones, by the least table and by the
    /// least weight of new ties.
    pub(super) fn order(&self) -> (Vec<usize>, usize) {
        let mut near = Ties::new(self.domains.len());
        for factor in &self.factors {
            for var in &factor.vars {
                for other in &factor.vars {
                    near.tie(*var, *other);
                }
            }
        }
        let marks = self.marks(&near);
        let size = |var: usize| self.domains[var].len();
        let table = |near: &Ties, var: usize| {
            near.of(var).fold(size(var), |product, other| product.saturating_mul(size(other)))
        };
        let new_ties = |near: &Ties, var: usize| {
            near.of(var).map(|a| size(a) * near.missing(var, a).map(size).sum::<usize>()).sum()
        };
        let by_table = self.greedy(near.clone(), &marks, table);
        let by_ties = self.greedy(near, &marks, new_ties);
        if by_ties.1 < by_table.1 { by_ties } else { by_table }
    }

    /// The order that always takes the variable of least cost. Equal costs go
    /// by what is around a variable and only then by its index, so that a
    /// drawing and its mirror image are solved alike.
    fn greedy(
        &self,
        mut near: Ties,
        marks: &[u64],
        cost: impl Fn(&Ties, usize) -> usize,
    ) -> (Vec<usize>, usize) {
        let count = self.domains.len();
        let mut left: Vec<(usize, u64, usize)> =
            (0..count).map(|var| (cost(&near, var), marks[var], var)).collect();
        let (mut order, mut entries) = (Vec::with_capacity(count), 0_usize);
        while let Some((at, (_, _, var))) = left.iter().copied().enumerate().min_by_key(|(_, key)| *key) {
            left.swap_remove(at);
            let table = near
                .of(var)
                .fold(self.domains[var].len(), |size, other| size.saturating_mul(self.domains[other].len()));
            entries = entries.saturating_add(table);
            let group: Vec<usize> = near.of(var).collect();
            near.join(var, &group);
            // Only what is near has changed.
            for (known, _, other) in &mut left {
                if group.contains(other) || near.touches(*other, &group) {
                    *known = cost(&near, *other);
                }
            }
            order.push(var);
        }
        (order, entries)
    }

    /// Eliminates every variable. With `MAX` the buckets hold the best
    /// completions, otherwise their sums.
    pub(super) fn eliminate<const MAX: bool>(&self, order: &[usize], weights: &Weights) -> Eliminated {
        let mut rank = vec![0; self.domains.len()];
        for (at, var) in order.iter().enumerate() {
            rank[*var] = at;
        }
        let mut waiting: Vec<Vec<Table>> = vec![Vec::new(); order.len()];
        let mut log_scale = self.constant;
        let first = |vars: &[usize]| vars.iter().map(|var| rank[*var]).min();
        for factor in &self.factors {
            let (table, top) = factor.table(weights);
            log_scale += top;
            if let Some(bucket) = first(&table.vars) {
                waiting[bucket].push(table);
            }
        }
        let mut buckets = Vec::with_capacity(order.len());
        for (at, var) in order.iter().enumerate() {
            let parts = std::mem::take(&mut waiting[at]);
            let clique = Table::product(*var, &parts, &self.domains);
            let mut message = clique.without_last::<MAX>();
            log_scale += message.normalise();
            let parent = first(&message.vars);
            if let Some(parent) = parent {
                waiting[parent].push(message.clone());
            } else {
                log_scale += message.entries.first().copied().unwrap_or(0.0).ln();
            }
            buckets.push(Bucket { clique, message, parent });
        }
        Eliminated { buckets, log_total: log_scale }
    }
}

/// The buckets of an elimination, in its order.
#[derive(Clone, Debug)]
pub(super) struct Eliminated {
    buckets: Vec<Bucket>,
    /// Log of the maximum or of the sum over all assignments.
    pub log_total: f64,
}

#[derive(Clone, Debug)]
struct Bucket {
    /// Product of all that mentions the variable, which stands last.
    clique: Table,
    /// The clique without its variable.
    message: Table,
    /// The bucket that takes the message.
    parent: Option<usize>,
}

impl Eliminated {
    /// The best assignment, as an index into each domain. Ties to the lower value.
    pub(super) fn best(&self, count: usize) -> Vec<usize> {
        let mut chosen = vec![0; count];
        for bucket in self.buckets.iter().rev() {
            let table = &bucket.clique;
            let (last, rest) = (table.vars[table.vars.len() - 1], &table.vars[..table.vars.len() - 1]);
            let width = table.sizes[table.sizes.len() - 1];
            let row = rest.iter().zip(&table.sizes).fold(0, |row, (var, size)| row * size + chosen[*var]);
            let row = &table.entries[row * width..(row + 1) * width];
            let mut best = 0;
            for (at, value) in row.iter().enumerate() {
                if *value > row[best] {
                    best = at;
                }
            }
            chosen[last] = best;
        }
        chosen
    }

    /// The marginal of every clique, each summing to one.
    pub(super) fn marginals(&self) -> Vec<Table> {
        let mut beliefs: Vec<Table> = vec![Table::one(); self.buckets.len()];
        for at in (0..self.buckets.len()).rev() {
            let bucket = &self.buckets[at];
            let mut belief = bucket.clique.clone();
            if let Some(parent) = bucket.parent {
                let mut down = beliefs[parent].onto(&bucket.message.vars);
                for (value, up) in down.entries.iter_mut().zip(&bucket.message.entries) {
                    *value = if *up > 0.0 { *value / *up } else { 0.0 };
                }
                let width = belief.sizes[belief.sizes.len() - 1];
                for (row, factor) in belief.entries.chunks_mut(width).zip(&down.entries) {
                    for value in row {
                        *value *= factor;
                    }
                }
            }
            let total: f64 = belief.entries.iter().sum();
            if total > 0.0 {
                for value in &mut belief.entries {
                    *value /= total;
                }
            }
            beliefs[at] = belief;
        }
        beliefs
    }
}

impl Factor {
    fn clamped(&self, domains: &[Vec<i32>], at: &[Option<usize>]) -> Factor {
        let sizes: Vec<usize> = self.vars.iter().map(|var| domains[*var].len()).collect();
        let mut digits = vec![0; sizes.len()];
        let mut renamed = vec![u32::MAX; self.base.len()];
        let mut base = Vec::new();
        for (entry, value) in self.base.iter().enumerate() {
            if self.vars.iter().zip(&digits).all(|(var, digit)| at[*var].is_none_or(|at| at == *digit)) {
                renamed[entry] = u32::try_from(base.len()).unwrap_or(u32::MAX);
                base.push(*value);
            }
            step(&mut digits, &sizes);
        }
        let habits = self
            .habits
            .iter()
            .filter(|(entry, _, _)| renamed[*entry as usize] != u32::MAX)
            .map(|(entry, habit, much)| (renamed[*entry as usize], *habit, *much))
            .collect();
        let vars = self.vars.iter().copied().filter(|var| at[*var].is_none()).collect();
        Factor { vars, base, habits, about: self.about.clone() }
    }

    fn table(&self, weights: &Weights) -> (Table, f64) {
        let mut entries = self.base.clone();
        for (entry, habit, much) in &self.habits {
            entries[*entry as usize] += weights.of(*habit) * much;
        }
        Table::from_logs(self.vars.clone(), entries)
    }

    /// The habits that hold when the variables take these values.
    pub(super) fn held<'a>(
        &'a self,
        chosen: &'a [usize],
        domains: &'a [Vec<i32>],
    ) -> impl Iterator<Item = (Habit, f64)> + 'a {
        let entry = self.vars.iter().fold(0, |entry, var| entry * domains[*var].len() + chosen[*var]);
        self.habits
            .iter()
            .filter(move |(at, _, _)| *at as usize == entry)
            .map(|(_, habit, much)| (*habit, *much))
    }
}

/// A table over some variables, row-major.
#[derive(Clone, Debug)]
pub(super) struct Table {
    pub vars: Vec<usize>,
    pub sizes: Vec<usize>,
    pub entries: Vec<f64>,
}

impl Table {
    fn one() -> Table {
        Table { vars: Vec::new(), sizes: Vec::new(), entries: vec![1.0] }
    }

    /// Probabilities of a table of logs, the largest 1; and its log.
    fn from_logs(vars: Vec<usize>, mut entries: Vec<f64>) -> (Table, f64) {
        let top = entries.iter().copied().fold(NEVER, f64::max);
        for value in &mut entries {
            *value = if top == NEVER { 0.0 } else { (*value - top).exp() };
        }
        (Table { vars, sizes: Vec::new(), entries }, top)
    }

    /// Scales the largest entry to 1; returns the log of what it was.
    fn normalise(&mut self) -> f64 {
        let top = self.entries.iter().copied().fold(0.0, f64::max);
        if top <= 0.0 || self.vars.is_empty() {
            return 0.0;
        }
        for value in &mut self.entries {
            *value /= top;
        }
        top.ln()
    }

    /// The product of tables that mention `last`, with `last` standing last.
    fn product(last: usize, parts: &[Table], domains: &[Vec<i32>]) -> Table {
        let mut vars: Vec<usize> =
            parts.iter().flat_map(|part| part.vars.iter().copied()).filter(|var| *var != last).collect();
        vars.sort_unstable();
        vars.dedup();
        vars.push(last);
        let sizes: Vec<usize> = vars.iter().map(|var| domains[*var].len()).collect();
        let total: usize = sizes.iter().product();
        let mut entries = vec![1.0; total];
        for part in parts {
            // Step of each variable of the product inside the part's table.
            let mut strides = vec![0; vars.len()];
            let mut stride = 1;
            for var in part.vars.iter().rev() {
                if let Some(at) = vars.iter().position(|other| other == var) {
                    strides[at] = stride;
                }
                stride *= domains[*var].len();
            }
            let mut walk = Walk::new(&sizes, &strides);
            for run in entries.chunks_mut(walk.width) {
                if walk.step == 0 {
                    let factor = part.entries[walk.at];
                    for value in run {
                        *value *= factor;
                    }
                } else {
                    let row = part.entries[walk.at..].iter().step_by(walk.step);
                    for (value, factor) in run.iter_mut().zip(row) {
                        *value *= factor;
                    }
                }
                walk.next();
            }
        }
        Table { vars, sizes, entries }
    }

    /// Maximum or sum over the last variable.
    fn without_last<const MAX: bool>(&self) -> Table {
        let width = self.sizes[self.sizes.len() - 1];
        let entries = self
            .entries
            .chunks(width)
            .map(|row| if MAX { row.iter().copied().fold(0.0, f64::max) } else { row.iter().sum() })
            .collect();
        let keep = self.vars.len() - 1;
        Table { vars: self.vars[..keep].to_vec(), sizes: self.sizes[..keep].to_vec(), entries }
    }

    /// The sum over everything but `vars`, which must all be in the table.
    pub(super) fn onto(&self, vars: &[usize]) -> Table {
        let sizes: Vec<usize> = vars
            .iter()
            .map(|var| self.vars.iter().position(|other| other == var).map_or(1, |at| self.sizes[at]))
            .collect();
        let mut strides = vec![0; self.vars.len()];
        let mut stride = 1;
        for (at, var) in vars.iter().enumerate().rev() {
            if let Some(place) = self.vars.iter().position(|other| other == var) {
                strides[place] = stride;
            }
            stride *= sizes[at];
        }
        let mut entries = vec![0.0; stride];
        let mut walk = Walk::new(&self.sizes, &strides);
        for run in self.entries.chunks(walk.width) {
            if walk.step == 0 {
                entries[walk.at] += run.iter().sum::<f64>();
            } else {
                let row = entries[walk.at..].iter_mut().step_by(walk.step);
                for (sum, value) in row.zip(run) {
                    *sum += value;
                }
            }
            walk.next();
        }
        Table { vars: vars.to_vec(), sizes, entries }
    }
}

/// A walk through a table in runs, with the place in a smaller table alongside.
struct Walk {
    /// Sizes and steps of all but the run, slowest first; neighbours that move
    /// as one are one.
    outer: Vec<(usize, usize)>,
    digits: Vec<usize>,
    /// Length of a run, and how far the place moves at each entry of it.
    width: usize,
    step: usize,
    /// Place at the run's beginning.
    at: usize,
}

impl Walk {
    fn new(sizes: &[usize], strides: &[usize]) -> Walk {
        let mut merged: Vec<(usize, usize)> = Vec::new();
        for (size, stride) in sizes.iter().zip(strides).rev() {
            match merged.last_mut() {
                Some((inner, step)) if *stride == *step * *inner || *size == 1 => *inner *= size,
                _ => merged.push((*size, *stride)),
            }
        }
        let (width, step) = if merged.is_empty() { (1, 0) } else { merged.remove(0) };
        merged.reverse();
        Walk { digits: vec![0; merged.len()], outer: merged, width, step, at: 0 }
    }

    fn next(&mut self) {
        for (digit, (size, step)) in self.digits.iter_mut().zip(&self.outer).rev() {
            *digit += 1;
            self.at += step;
            if *digit < *size {
                return;
            }
            self.at -= step * size;
            *digit = 0;
        }
    }
}

/// Which variables stand in a table together, as rows of bits.
#[derive(Clone)]
struct Ties {
    words: usize,
    rows: Vec<u64>,
}

impl Ties {
    fn new(count: usize) -> Ties {
        let words = count.div_ceil(64);
        Ties { words, rows: vec![0; words * count] }
    }

    fn row(&self, var: usize) -> &[u64] {
        &self.rows[var * self.words..(var + 1) * self.words]
    }

    fn tie(&mut self, var: usize, other: usize) {
        if var != other {
            self.rows[var * self.words + other / 64] |= 1 << (other % 64);
        }
    }

    /// The neighbours of a variable, lowest first.
    fn of(&self, var: usize) -> impl Iterator<Item = usize> + '_ {
        bits(self.row(var).iter().copied())
    }

    /// The neighbours of a variable above `a` that are none of `a`'s.
    fn missing(&self, var: usize, a: usize) -> impl Iterator<Item = usize> + '_ {
        bits(self.row(var).iter().zip(self.row(a)).map(|(around, known)| around & !known))
            .filter(move |b| *b > a)
    }

    fn touches(&self, var: usize, group: &[usize]) -> bool {
        let row = self.row(var);
        group.iter().any(|other| row[other / 64] >> (other % 64) & 1 == 1)
    }

    /// Takes a variable out and makes its neighbours neighbours of one another.
    fn join(&mut self, var: usize, group: &[usize]) {
        let around: Vec<u64> = self.row(var).to_vec();
        for other in group {
            let row = &mut self.rows[other * self.words..(other + 1) * self.words];
            for (word, more) in row.iter_mut().zip(&around) {
                *word |= more;
            }
            row[other / 64] &= !(1 << (other % 64));
            row[var / 64] &= !(1 << (var % 64));
        }
    }
}

/// Places of the bits that are set.
fn bits(words: impl Iterator<Item = u64>) -> impl Iterator<Item = usize> {
    words.enumerate().flat_map(|(at, word)| {
        std::iter::successors((word != 0).then_some(word), |word| {
            let rest = word & (word - 1);
            (rest != 0).then_some(rest)
        })
        .map(move |word| at * 64 + word.trailing_zeros() as usize)
    })
}

/// Counts one up, the last digit fastest.
fn step(digits: &mut [usize], sizes: &[usize]) {
    for (digit, size) in digits.iter_mut().zip(sizes).rev() {
        *digit += 1;
        if *digit < *size {
            return;
        }
        *digit = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Every assignment, one by one: maximum, its assignment, log of the sum.
    fn slowly(graph: &Graph, weights: &Weights) -> (f64, f64) {
        let sizes: Vec<usize> = graph.domains.iter().map(Vec::len).collect();
        let mut digits = vec![0; sizes.len()];
        let (mut best, mut sum) = (NEVER, 0.0);
        for _ in 0..sizes.iter().product() {
            let score: f64 = graph
                .factors
                .iter()
                .map(|factor| {
                    let entry = factor.vars.iter().fold(0, |entry, var| entry * sizes[*var] + digits[*var]);
                    factor.base[entry]
                })
                .sum();
            best = score.max(best);
            sum += score.exp();
            step(&mut digits, &sizes);
        }
        let _ = weights;
        (best, sum.ln())
    }

    proptest! {
        #[test]
        fn elimination_finds_what_trying_everything_finds(
            sizes in prop::collection::vec(1_i32..4, 2..7),
            scopes in prop::collection::vec((0_usize..64, 0_usize..64, 0_usize..64, -3.0_f64..3.0), 1..8),
        ) {
            let mut graph = Graph::default();
            for size in &sizes {
                graph.var((0..*size).collect());
            }
            for (a, b, c, pull) in scopes {
                let vars = [a % sizes.len(), b % sizes.len(), c % sizes.len()];
                graph.factor(&vars, &[], |v, score| {
                    score.add(pull * f64::from(v[0] - 2 * v[1]) + f64::from(v[2] * v[0]) * 0.3);
                });
            }
            let weights = Weights::default();
            let (order, _) = graph.order();
            let (best, sum) = slowly(&graph, &weights);
            let most = graph.eliminate::<true>(&order, &weights);
            prop_assert!((most.log_total - best).abs() < 1e-9, "{} {best}", most.log_total);
            let all = graph.eliminate::<false>(&order, &weights);
            prop_assert!((all.log_total - sum).abs() < 1e-9);
            // The assignment handed back has the maximum's score.
            let chosen = most.best(sizes.len());
            let score: f64 = graph.factors.iter().map(|factor| {
                let entry = factor.vars.iter()
                    .fold(0, |entry, var| entry * graph.domains[*var].len() + chosen[*var]);
                factor.base[entry]
            }).sum();
            prop_assert!((score - best).abs() < 1e-9);
            // Clique marginals agree with one another on every variable.
            let marginals = all.marginals();
            for var in 0..sizes.len() {
                let seen: Vec<Vec<f64>> = marginals.iter()
                    .filter(|table| table.vars.contains(&var))
                    .map(|table| table.onto(&[var]).entries)
                    .collect();
                for other in &seen {
                    for (a, b) in seen[0].iter().zip(other) {
                        prop_assert!((a - b).abs() < 1e-9);
                    }
                }
            }
        }
    }
}

//! Black and white pictures, 64 pixels a word, and their connected regions.
//! Method: growing by a square is growing along rows and then along columns,
//! each in doubling steps of words (van den Boomgaard and van Balen, "Methods
//! for fast morphological image transforms using bitmapped binary images",
//! CVGIP 54, 1992). Regions are found from the runs of each row, joined where
//! runs of neighbouring rows touch (He, Chao and Suzuki, "A run-based two-scan
//! labeling algorithm", IEEE TIP 17, 2008).

use std::ops::Range;

use crate::raster::Plane;

/// Pixels of a word.
const WORD: usize = 64;

/// A black and white picture.
#[derive(Clone)]
pub(crate) struct Bits {
    /// Pixels in a row.
    pub(crate) width: usize,
    /// Rows.
    pub(crate) height: usize,
    /// Words in a row.
    stride: usize,
    /// Row after row, the leftmost pixel lowest; what lies beyond the width is 0.
    words: Vec<u64>,
}

/// Pixels of a row that follow on one another.
#[derive(Clone, Copy)]
pub(crate) struct Run {
    pub(crate) y: usize,
    /// First and last pixel.
    pub(crate) start: usize,
    pub(crate) end: usize,
    /// The region it belongs to.
    pub(crate) region: usize,
}

/// Which neighbours of a pixel are connected with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Neighbours {
    /// Those above, below and beside.
    Four,
    /// Those at its corners too.
    Eight,
}

/// The connected regions of a picture.
pub(crate) struct Regions {
    /// In order of rows, then of columns.
    pub(crate) runs: Vec<Run>,
    /// Pixels of every region.
    pub(crate) areas: Vec<usize>,
}

impl Bits {
    /// A picture of no set pixel.
    pub(crate) fn new(width: usize, height: usize) -> Bits {
        let stride = width.div_ceil(WORD);
        Bits { width, height, stride, words: vec![0; stride * height] }
    }

    /// The pixels of at least some value. `values`: row after row.
    pub(crate) fn at_least(values: &[u8], width: usize, least: u8) -> Bits {
        let mut bits = Bits::new(width, values.len() / width);
        for (row, out) in values.chunks_exact(width).zip(bits.words.chunks_exact_mut(bits.stride)) {
            for (values, word) in row.chunks(WORD).zip(out) {
                for (i, value) in values.iter().enumerate() {
                    *word |= u64::from(*value >= least) << i;
                }
            }
        }
        bits
    }

    /// The words of a row.
    fn row(&self, y: usize) -> &[u64] {
        &self.words[y * self.stride..(y + 1) * self.stride]
    }

    /// Every pixel turned round.
    pub(crate) fn inverted(mut self) -> Bits {
        let beyond = self.stride * WORD - self.width;
        let last = u64::MAX >> beyond;
        for row in self.words.chunks_exact_mut(self.stride) {
            for word in row.iter_mut() {
                *word = !*word;
            }
            if let Some(word) = row.last_mut() {
                *word &= last;
            }
        }
        self
    }

    /// Set pixels grown by `radius` pixels to all sides and corners; at most 31.
    pub(crate) fn grown(&self, radius: usize) -> Bits {
        let mut out = self.clone();
        let last = u64::MAX >> (self.stride * WORD - self.width);
        let mut by = vec![0; self.stride];
        for row in out.words.chunks_exact_mut(self.stride) {
            for step in steps(radius) {
                by.copy_from_slice(row);
                for (i, word) in row.iter_mut().enumerate() {
                    let before = if i > 0 { by[i - 1] >> (WORD - step) } else { 0 };
                    let after = by.get(i + 1).map_or(0, |next| next << (WORD - step));
                    *word |= by[i] << step | by[i] >> step | before | after;
                }
            }
            if let Some(word) = row.last_mut() {
                *word &= last;
            }
        }
        for step in steps(radius) {
            let from = out.words.clone();
            let by = step * self.stride;
            if by >= from.len() {
                continue;
            }
            for (word, other) in out.words[by..].iter_mut().zip(&from) {
                *word |= other;
            }
            for (word, other) in out.words.iter_mut().zip(&from[by..]) {
                *word |= other;
            }
        }
        out
    }

    /// Calls for every set pixel of a part of a row, end included, whose
    /// neighbour above or below (`down`) is not set.
    pub(crate) fn edge(&self, run: Run, down: bool, mut found: impl FnMut(usize)) {
        let row = self.row(run.y);
        let beside = match (down, run.y) {
            (true, y) if y + 1 < self.height => Some(self.row(y + 1)),
            (false, y) if y > 0 => Some(self.row(y - 1)),
            _ => None,
        };
        for (i, word) in row.iter().enumerate().take(run.end / WORD + 1).skip(run.start / WORD) {
            let mut edge = word & !beside.map_or(0, |row| row[i]);
            if i == run.start / WORD {
                edge &= u64::MAX << (run.start % WORD);
            }
            if i == run.end / WORD {
                edge &= u64::MAX >> (WORD - 1 - run.end % WORD);
            }
            while edge != 0 {
                found(i * WORD + edge.trailing_zeros() as usize);
                edge &= edge - 1;
            }
        }
    }

    /// The pixels of a plane that are over some level.
    pub(crate) fn over(plane: &Plane, level: f32) -> Bits {
        let mut bits = Bits::new(plane.width, plane.height);
        for (row, out) in plane.data.chunks_exact(plane.width).zip(bits.words.chunks_exact_mut(bits.stride)) {
            for (values, word) in row.chunks(WORD).zip(out) {
                *word = values.iter().enumerate().fold(0, |word, (i, v)| word | u64::from(*v > level) << i);
            }
        }
        bits
    }

    /// Clears what lies within `reach` pixels of a place in both directions.
    pub(crate) fn clear_around(&mut self, [x, y]: [i32; 2], reach: i32) {
        let within = |v: i32, extent: usize| usize::try_from(v.max(0)).unwrap_or(0).min(extent);
        let columns = within(x - reach, self.width)..within(x + reach + 1, self.width);
        for row in within(y - reach, self.height)..within(y + reach + 1, self.height) {
            self.clear(row, columns.clone());
        }
    }

    /// Clears some columns of a row.
    pub(crate) fn clear(&mut self, y: usize, columns: Range<usize>) {
        let Some(last) = columns.end.checked_sub(1).filter(|last| *last >= columns.start) else { return };
        for i in columns.start / WORD..=last / WORD {
            let low = if i == columns.start / WORD { u64::MAX << (columns.start % WORD) } else { u64::MAX };
            let high = if i == last / WORD { u64::MAX >> (WORD - 1 - last % WORD) } else { u64::MAX };
            self.words[y * self.stride + i] &= !(low & high);
        }
    }

    /// The connected regions of the set pixels, in order of their first ones.
    pub(crate) fn regions(&self, neighbours: Neighbours) -> Regions {
        let slack = usize::from(neighbours == Neighbours::Eight);
        let mut runs: Vec<Run> = Vec::new();
        let mut forest: Vec<usize> = Vec::new();
        let mut above = 0..0;
        for y in 0..self.height {
            let first = runs.len();
            self.runs_of(y, &mut runs, &mut forest);
            let mut i = above.start;
            for j in first..runs.len() {
                while i < above.end && runs[i].end + slack < runs[j].start {
                    i += 1;
                }
                let mut k = i;
                while k < above.end && runs[k].start <= runs[j].end + slack {
                    unite(&mut forest, k, j);
                    k += 1;
                }
            }
            above = first..runs.len();
        }
        // Roots come before what belongs to them.
        let mut areas = Vec::new();
        for i in 0..runs.len() {
            let root = root(&mut forest, i);
            if root == i {
                runs[i].region = areas.len();
                areas.push(0);
            } else {
                runs[i].region = runs[root].region;
            }
            areas[runs[i].region] += runs[i].end - runs[i].start + 1;
        }
        Regions { runs, areas }
    }

    /// Adds the runs of a row.
    fn runs_of(&self, y: usize, runs: &mut Vec<Run>, forest: &mut Vec<usize>) {
        // Where a pixel differs from the one before, a run starts or has ended.
        let (mut before, mut start) = (0u64, None);
        let mut add = |start: usize, end: usize| {
            forest.push(runs.len());
            runs.push(Run { y, start, end, region: 0 });
        };
        for (i, word) in self.row(y).iter().enumerate() {
            let mut changes = word ^ (word << 1 | before);
            before = word >> (WORD - 1);
            while changes != 0 {
                let x = i * WORD + changes.trailing_zeros() as usize;
                changes &= changes - 1;
                start = match start {
                    None => Some(x),
                    Some(start) => {
                        add(start, x - 1);
                        None
                    }
                };
            }
        }
        if let Some(start) = start {
            add(start, self.width - 1);
        }
    }

    /// The pixels of some regions.
    pub(crate) fn of_regions(&self, regions: &Regions, wanted: &[bool]) -> Bits {
        let mut out = Bits::new(self.width, self.height);
        for run in regions.runs.iter().filter(|run| wanted[run.region]) {
            let row = &mut out.words[run.y * self.stride..(run.y + 1) * self.stride];
            let (first, last) = (run.start / WORD, run.end / WORD);
            for (i, word) in row.iter_mut().enumerate().take(last + 1).skip(first) {
                let low = if i == first { u64::MAX << (run.start % WORD) } else { u64::MAX };
                let high = if i == last { u64::MAX >> (WORD - 1 - run.end % WORD) } else { u64::MAX };
                *word |= low & high;
            }
        }
        out
    }
}

/// Steps that add up to a growth. A step is at most one longer than what has
/// grown to one side already: at the picture's border there is but that side,
/// and a longer step would leave a gap there.
fn steps(radius: usize) -> impl Iterator<Item = usize> {
    let mut grown = 0;
    std::iter::from_fn(move || {
        let step = (grown + 1).min(radius - grown);
        grown += step;
        (step > 0).then_some(step)
    })
}

fn root(forest: &mut [usize], mut i: usize) -> usize {
    while forest[i] != i {
        forest[i] = forest[forest[i]];
        i = forest[i];
    }
    i
}

/// Joins two trees under the earlier root.
fn unite(forest: &mut [usize], a: usize, b: usize) {
    let (a, b) = (root(forest, a), root(forest, b));
    forest[a.max(b)] = a.min(b);
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture of no order, two words and a bit wide.
    fn speckled(width: usize, height: usize, one_in: u32) -> Vec<u8> {
        let mut state = 12_345u32;
        (0..width * height)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                u8::from((state >> 16).is_multiple_of(one_in))
            })
            .collect()
    }

    fn set(bits: &Bits, x: usize, y: usize) -> bool {
        bits.row(y)[x / WORD] >> (x % WORD) & 1 == 1
    }

    #[test]
    fn growing_agrees_with_looking_at_every_neighbour() {
        let (width, height) = (137, 23);
        let values = speckled(width, height, 61);
        let bits = Bits::at_least(&values, width, 1);
        for radius in [0, 1, 2, 4, 7, 9] {
            let grown = bits.grown(radius);
            for y in 0..height {
                for x in 0..width {
                    let around = (y.saturating_sub(radius)..=(y + radius).min(height - 1)).any(|v| {
                        (x.saturating_sub(radius)..=(x + radius).min(width - 1))
                            .any(|u| values[v * width + u] == 1)
                    });
                    assert_eq!(set(&grown, x, y), around, "{radius} {x} {y}");
                }
            }
        }
    }

    #[test]
    fn regions_agree_with_filling_from_every_pixel() {
        let (width, height) = (137, 40);
        let values = speckled(width, height, 2);
        let bits = Bits::at_least(&values, width, 1).inverted();
        let regions = bits.regions(Neighbours::Four);
        let mut label = vec![usize::MAX; width * height];
        for run in &regions.runs {
            label[run.y * width + run.start..=run.y * width + run.end].fill(run.region);
        }
        let mut seen = vec![false; width * height];
        let mut areas = vec![0; regions.areas.len()];
        for from in 0..width * height {
            assert_eq!(label[from] == usize::MAX, values[from] == 1);
            if seen[from] || values[from] == 1 {
                continue;
            }
            seen[from] = true;
            let mut todo = vec![from];
            while let Some(at) = todo.pop() {
                assert_eq!(label[at], label[from]);
                areas[label[at]] += 1;
                let (x, y) = (at % width, at / width);
                let next = [
                    (x > 0).then(|| at - 1),
                    (x + 1 < width).then_some(at + 1),
                    (y > 0).then(|| at.wrapping_sub(width)),
                    (y + 1 < height).then_some(at + width),
                ];
                for other in next.into_iter().flatten() {
                    if values[other] == 0 && !seen[other] {
                        seen[other] = true;
                        todo.push(other);
                    }
                }
            }
        }
        // A region filled twice would count twice.
        assert_eq!(areas, regions.areas);
    }
}

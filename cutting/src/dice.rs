//! Seeded dice: the same seed gives the same throws on every machine.
//! Method: `SplitMix64` (Steele, Lea & Flood, "Fast splittable pseudorandom
//! number generators", 2014).

#[derive(Clone, Debug)]
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Dice {
        Dice(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A whole number below `end`, which is at least 1.
    pub(crate) fn below(&mut self, end: usize) -> usize {
        let high = (u128::from(self.next()) * end as u128) >> 64;
        usize::try_from(high).expect("smaller than `end`, which is a usize")
    }

    /// A number from 0 up to 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// True once in `times` throws on average.
    pub(crate) fn once_in(&mut self, times: usize) -> bool {
        self.below(times) == 0
    }

    pub(crate) fn shuffle<T>(&mut self, items: &mut [T]) {
        for i in (1..items.len()).rev() {
            items.swap(i, self.below(i + 1));
        }
    }
}

/// Says yes once in so many throws on average; how many are left until then is
/// thrown ahead, so that a no costs next to nothing.
#[derive(Clone, Debug)]
pub(crate) struct Now {
    dice: Dice,
    once_in: usize,
    left: usize,
}

impl Now {
    pub(crate) fn once_in(times: usize, seed: u64) -> Now {
        let mut dice = Dice::new(seed);
        let left = dice.below(2 * times - 1);
        Now { dice, once_in: times, left }
    }

    pub(crate) const fn never() -> Now {
        Now { dice: Dice(0), once_in: 1, left: usize::MAX }
    }

    pub(crate) fn throw(&mut self) -> bool {
        if self.left > 0 {
            self.left -= 1;
            return false;
        }
        self.left = self.dice.below(2 * self.once_in - 1);
        true
    }
}

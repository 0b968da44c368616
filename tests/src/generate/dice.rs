//! Seeded chance. One stream per picture, so that a picture depends on its
//! seed and number alone and not on what was made before it.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};

/// A seeded source of everything that is left to chance.
pub(super) struct Dice(ChaCha8Rng);

impl Dice {
    /// The stream of picture `number` under `seed`.
    pub(super) fn new(seed: u64, number: u64) -> Dice {
        let mut stream = ChaCha8Rng::seed_from_u64(seed);
        stream.set_stream(number);
        Dice(stream)
    }

    /// Evenly from 0 up to but not including 1.
    pub(super) fn unit(&mut self) -> f64 {
        // 53 bits fill a double's fraction.
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Evenly between two numbers.
    pub(super) fn range(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.unit()
    }

    /// A whole number between two, both possible.
    pub(super) fn int(&mut self, from: i64, to: i64) -> i64 {
        let span = u64::try_from(to - from).map_or(0, |span| span) + 1;
        from + i64::try_from(self.0.next_u64() % span).expect("a remainder of a small span is small")
    }

    /// Below `count`, which must not be zero.
    pub(super) fn index(&mut self, count: usize) -> usize {
        usize::try_from(self.0.next_u64() % count as u64).expect("an index below a length fits")
    }

    /// True with this probability.
    pub(super) fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// Normally distributed about zero (Box and Muller, 1958).
    pub(super) fn normal(&mut self, sd: f64) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        sd * radius * (std::f64::consts::TAU * self.unit()).cos()
    }

    /// Normally distributed, but never more than two sd out: a hand that goes
    /// further is corrected by the eye.
    pub(super) fn steady(&mut self, sd: f64) -> f64 {
        self.normal(sd).clamp(-2.0 * sd, 2.0 * sd)
    }

    /// One of these.
    pub(super) fn pick<'a, T>(&mut self, choices: &'a [T]) -> &'a T {
        &choices[self.index(choices.len())]
    }

    /// A number to seed pixel noise with.
    pub(super) fn seed(&mut self) -> u64 {
        self.0.next_u64()
    }
}

/// Splits the bits of a number beyond recognition (Steele, Lea and Flood,
/// "Fast splittable pseudorandom number generators", 2014, the mixer).
pub(super) fn mix(value: u64) -> u64 {
    let mut z = value.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// Smooth noise on a plane: random values on whole coordinates, blended
/// between (Perlin's value noise). From -1 to 1, features of size 1.
pub(super) fn noise(seed: u64, x: f64, y: f64) -> f64 {
    let corner = |cx: f64, cy: f64| {
        let key =
            seed ^ (lattice(cx).wrapping_mul(0x8da6_b343)) ^ lattice(cy).wrapping_mul(0xd816_3841_0000_0001);
        (mix(key) >> 40) as f64 / f64::from(1_u32 << 23) - 1.0
    };
    let (fx, fy) = (x.floor(), y.floor());
    let (u, v) = (x - fx, y - fy);
    let (u, v) = (u * u * (3.0 - 2.0 * u), v * v * (3.0 - 2.0 * v));
    let top = corner(fx, fy) * (1.0 - u) + corner(fx + 1.0, fy) * u;
    let low = corner(fx, fy + 1.0) * (1.0 - u) + corner(fx + 1.0, fy + 1.0) * u;
    top * (1.0 - v) + low * v
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "lattice coordinates are small; only their bits matter"
)]
fn lattice(v: f64) -> u64 {
    (v as i64) as u64
}

/// Noise of several sizes laid over each other, each half as large and half
/// as strong as the one before. About -1 to 1.
pub(super) fn cloud(seed: u64, x: f64, y: f64, octaves: u32) -> f64 {
    let (mut sum, mut size, mut strength) = (0.0, 1.0, 0.5);
    for octave in 0..octaves {
        sum += strength * noise(seed.wrapping_add(u64::from(octave)), x * size, y * size);
        size *= 2.0;
        strength *= 0.5;
    }
    sum
}

//! Repeatable random numbers for measurements.

/// splitmix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number
/// generators", 2014).
#[derive(Clone, Debug)]
pub struct Random(pub u64);

impl Random {
    /// From 0 up to 1.
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A whole number below `end`; 0 where there is none.
    pub fn below(&mut self, end: usize) -> usize {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 0 up to `end`")]
        let number = (self.uniform() * end as f64) as usize;
        number
    }

    /// Standard normal (Box and Muller, 1958).
    pub fn normal(&mut self) -> f64 {
        (-2.0 * (1.0 - self.uniform()).ln()).sqrt() * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

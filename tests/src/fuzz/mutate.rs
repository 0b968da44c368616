//! Bytes that are nearly right: seeds with something in them changed.

use crate::random::Random;

/// Changed seeds, the same ones every time.
pub struct Mutations<'a> {
    seeds: &'a [Vec<u8>],
    random: Random,
}

/// Words that formats give a meaning, at the ends of what numbers can hold.
const WORDS: [&[u8]; 8] = [
    &[0, 0, 0, 0],
    &[0xff, 0xff, 0xff, 0xff],
    &[0x7f, 0xff, 0xff, 0xff],
    &[0x80, 0, 0, 0],
    b"-1",
    b"99999999999",
    b"../",
    &[0xff],
];

impl<'a> Mutations<'a> {
    /// Endless changes of these seeds.
    pub fn of(seeds: &'a [Vec<u8>]) -> Mutations<'a> {
        Mutations { seeds, random: Random(7) }
    }

    fn change(&mut self, bytes: &mut Vec<u8>) {
        let place = self.random.below(bytes.len());
        let end = (place + 1 + self.random.below(64)).min(bytes.len());
        match self.random.below(6) {
            0 => {
                let bit = [1, 2, 4, 8, 16, 32, 64, 128][self.random.below(8)];
                if let Some(byte) = bytes.get_mut(place) {
                    *byte ^= bit;
                }
            }
            1 => bytes.truncate(place),
            2 => drop(bytes.drain(place..end)),
            3 => {
                let again = bytes[place..end].to_vec();
                bytes.splice(place..place, again);
            }
            4 => {
                let word = WORDS[self.random.below(WORDS.len())];
                bytes.splice(place..(place + word.len()).min(bytes.len()), word.iter().copied());
            }
            _ => {
                let other = &self.seeds[self.random.below(self.seeds.len())];
                let from = self.random.below(other.len());
                let part = other[from..].iter().copied().take(64).collect::<Vec<u8>>();
                bytes.splice(place..end, part);
            }
        }
    }
}

impl Iterator for Mutations<'_> {
    type Item = Vec<u8>;

    fn next(&mut self) -> Option<Vec<u8>> {
        if self.seeds.is_empty() {
            return None;
        }
        let mut bytes = self.seeds[self.random.below(self.seeds.len())].clone();
        for _ in 0..=self.random.below(4) {
            self.change(&mut bytes);
        }
        Some(bytes)
    }
}

//! What a reading measured: where the sides of an element were seen on the
//! card, and why its sizes are what they are. These are observations, not
//! sizes: numbers in the card's unit that lie on no grid.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::element::Side;

/// One element as it was measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Measurement {
    /// Id of the element.
    pub element: u32,
    /// Left, top, right and bottom side of its box before turning, from the
    /// card's top-left corner.
    pub sides: [f64; 4],
    /// Standard deviation of each side from the fit to its ink.
    pub spreads: [f64; 4],
    /// Share of each side that was seen, 0 to 1.
    pub seen: [f64; 4],
    /// Why its width is what it is.
    pub width: SizeReason,
    /// Why its height is what it is.
    pub height: SizeReason,
}

impl Measurement {
    /// Why a size is what it is.
    pub fn reason(&self, side: Side) -> &SizeReason {
        match side {
            Side::Width => &self.width,
            Side::Height => &self.height,
        }
    }

    /// Whether every number is one that a reading could give.
    pub(crate) fn is_sound(&self) -> bool {
        let share = |v: &f64| (0.0..=1.0).contains(v);
        let reasons = [&self.width, &self.height];
        self.sides.iter().all(|v| v.abs() <= FARTHEST)
            && self.sides[0] <= self.sides[2]
            && self.sides[1] <= self.sides[3]
            && self.spreads.iter().all(|v| (0.0..=FARTHEST).contains(v))
            && self.seen.iter().all(share)
            && reasons.iter().all(|reason| {
                let words = || reason.because.iter().chain(&reason.written);
                reason.measured.is_finite()
                    && (0.0..=FARTHEST).contains(&reason.spread)
                    && share(&reason.probability)
                    && words().count() <= MOST_REASONS
                    && words().all(|word| word.chars().count() <= LONGEST_REASON)
            })
    }
}

/// Farther than this from a card's corner nothing is measured, in any unit.
const FARTHEST: f64 = 100_000.0;
/// Most reasons for a size.
const MOST_REASONS: usize = 50;
/// Longest reason, characters.
const LONGEST_REASON: usize = 200;

/// Why a size is what it is.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SizeReason {
    /// The size as it was measured.
    pub measured: f64,
    /// Standard deviation that the ink and the hand together give it.
    pub spread: f64,
    /// Probability of the size that was chosen.
    pub probability: f64,
    /// What else spoke for it, strongest first: `centred on the card`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub because: Vec<String>,
    /// The writing that gave it, as it would be typed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub written: Option<String>,
}

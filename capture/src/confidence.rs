//! How sure a reading is of a shape: the probability that it is on the drawing,
//! from what its story says of it.
//! Method: logistic regression (Cox, "The regression analysis of binary
//! sequences", JRSS B 20, 1958) of whether a chosen shape is one of the
//! drawing's, fitted on the odd-numbered pictures of both layout corpora with a
//! little shrinking (ridge 1). How well it holds is a table of
//! `boards/reading.md`, for the even-numbered ones apart.

use crate::shapes::{Geometry, Hypothesis};

/// Log-odds to start with.
const BASE: f64 = 1.97;
/// Per share of the outline that only this shape accounts for.
const OWN_INK: f64 = 5.30;
/// For a wholly inked outline. Negative: of two with as much ink of their own
/// the one that is partly hidden has a reason for what is missing.
const INKED: f64 = -3.43;
/// Per corner of the strokes that is its own.
const CORNER: f64 = 0.27;
/// For circles and ovals: little else looks like them.
const ROUND: f64 = 2.37;
/// Per shape of the drawing: in a crowd more of them are accidents.
const EACH_SHAPE: f64 = -0.185;
/// A shape cannot account for much more than its outline.
const MOST_OWN: f64 = 1.5;

/// Probability that a chosen shape is on the drawing. `gain_px`: what the story
/// loses without it; `count`: how many shapes the story has.
pub(crate) fn of_shape(shape: &Hypothesis, gain_px: f32, count: usize) -> f64 {
    let own = f64::from(gain_px) / f64::from(shape.geometry.perimeter()).max(1.0);
    let round = matches!(shape.geometry, Geometry::Ellipse { .. });
    let odds = BASE
        + OWN_INK * own.clamp(0.0, MOST_OWN)
        + INKED * f64::from(shape.inked)
        + CORNER * shape.corners.len() as f64
        + if round { ROUND } else { 0.0 }
        + EACH_SHAPE * count as f64;
    probability(odds)
}

/// Whether a chosen shape is likely enough to be kept. `gain_px` and `count` as
/// in [`of_shape`].
pub(crate) fn is_likely(shape: &Hypothesis, gain_px: f32, count: usize) -> bool {
    /// Of the shapes below it, on odd-numbered pictures, seven in eight are
    /// none, and taking one away costs a person about as much as drawing one
    /// that is missing.
    const LEAST: f64 = 0.3;
    of_shape(shape, gain_px, count) >= LEAST
}

/// The probability of log-odds.
pub(crate) fn probability(odds: f64) -> f64 {
    1.0 / (1.0 + (-odds).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_shape_that_explains_its_whole_outline_is_surer_than_one_that_borrows_it() {
        let shape = Hypothesis {
            geometry: Geometry::Ellipse { centre: [100.0, 100.0], radii: [50.0, 50.0] },
            samples: Vec::new(),
            corners: Vec::new(),
            against: Vec::new(),
            inked: 1.0,
        };
        let around = shape.geometry.perimeter();
        let (own, borrowed) = (of_shape(&shape, around, 5), of_shape(&shape, 0.1 * around, 5));
        assert!(own > 0.95 && borrowed < 0.7, "{own} {borrowed}");
        assert!(of_shape(&shape, around, 30) < own);
        // Not worth keeping: in a crowd, with hardly any ink of its own.
        assert!(is_likely(&shape, 0.1 * around, 5) && !is_likely(&shape, 0.0, 30));
    }
}

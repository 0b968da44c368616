//! Learning the log-odds of the habits from layouts whose truth is known.
//!
//! Method: regularised maximum conditional likelihood. The gradient is what
//! the truth shows of each habit less what the model expects to see, both
//! exact; margins, borders and the sizes of rows are summed over.

use layout::{Card, Frame, Step};

use super::graph::Graph;
use super::model::{self, Model, Ruler, hand};
use super::{Measured, Weights};

/// Drawings with larger tables are left out, for time's sake.
const MOST_ENTRIES: usize = 400_000;

/// A drawing and what was meant by it.
#[derive(Debug)]
pub struct Lesson {
    free: Graph,
    free_order: Vec<usize>,
    truth: Graph,
    truth_order: Vec<usize>,
}

impl Lesson {
    /// Prepares a drawing for learning. `None` where the truth is out of reach
    /// of the model: farther than the hand strays, or with one drawn line
    /// meant as two.
    pub fn new(card: &Card, elements: &[Measured], truth: &[Frame], hand_sd_in: f64) -> Option<Lesson> {
        let ruler = Ruler::new(card);
        let pieces = model::pieces(ruler, elements);
        let model = Model::new(ruler, &pieces, hand_sd_in * ruler.per_in);
        let meant: Vec<[[i32; 2]; 2]> = pieces
            .iter()
            .map(|piece| {
                let frame = truth[piece.index];
                [[frame.x, frame.right()], [frame.y, frame.bottom()]]
                    .map(|axis| axis.map(|side| side.in_steps(card.unit, Step::Position)))
            })
            .collect();
        let held = model.places_of(&meant)?;
        let truth = model.graph.clamped(&held);
        let (free_order, entries) = model.graph.order();
        if entries > MOST_ENTRIES {
            return None;
        }
        let (truth_order, _) = truth.order();
        Some(Lesson { free: model.graph, free_order, truth, truth_order })
    }

    /// Log-probability of the truth given the drawing, and its gradient by
    /// the log-odds.
    pub fn learn(&self, weights: &Weights) -> (f64, Vec<f64>) {
        let truth = self.truth.eliminate::<false>(&self.truth_order, weights);
        let free = self.free.eliminate::<false>(&self.free_order, weights);
        let shown = self.truth.expected(&self.truth_order, &truth.marginals());
        let expected = self.free.expected(&self.free_order, &free.marginals());
        let gradient = shown.iter().zip(&expected).map(|(shown, expected)| shown - expected).collect();
        (truth.log_total - free.log_total, gradient)
    }
}

/// How a hand scatters, as multiples of its standard deviation for one edge:
/// what the likelihood assumes.
#[derive(Clone, Copy, Debug)]
pub struct Hand {
    /// Centre of a straight element.
    pub centre: f64,
    /// Extent of a straight element.
    pub size: f64,
    /// One edge whose opposite was there before.
    pub edge: f64,
    /// Centre of a circle or oval.
    pub round_centre: f64,
    /// Extent of a circle or oval.
    pub round_size: f64,
    /// A border of at most an eighth of an inch.
    pub border: f64,
    /// A line drawn over again.
    pub retraced: f64,
}

/// The scatter that the likelihood assumes.
pub const HAND: Hand = Hand {
    centre: hand::CENTRE,
    size: hand::SIZE,
    edge: hand::EDGE,
    round_centre: hand::ROUND_CENTRE,
    round_size: hand::ROUND_SIZE,
    border: hand::BORDER,
    retraced: hand::RETRACED,
};

//! Learning the log-odds of the habits from layouts whose truth is known.
//!
//! Method: regularised maximum conditional likelihood. The gradient is what
//! the truth shows of each habit less what the model expects to see, both
//! exact; margins, borders and the sizes of rows are summed over.

use layout::{Card, Frame, Step};

use super::graph::Graph;
use super::model::{self, Model, Ruler, hand};
use super::{Measured, Weights};

/// Views with larger tables are left out, for time's sake.
const MOST_ENTRIES: usize = 400_000;

/// A drawing and what was meant by it.
#[derive(Debug)]
pub struct Lesson {
    views: Vec<View>,
}

/// A drawing and its truth as one hand would have made it.
#[derive(Debug)]
struct View {
    habitual: f64,
    free: Graph,
    free_order: Vec<usize>,
    /// Missing where this hand could not have drawn so.
    truth: Option<(Graph, Vec<usize>)>,
}

impl Lesson {
    /// Prepares a drawing for learning, as one of the `hands_in` may have made
    /// it. `None` where the truth is out of reach of the model: farther than
    /// any hand strays, or with one drawn line meant as two.
    pub fn new(card: &Card, elements: &[Measured], truth: &[Frame], hands_in: &[f64]) -> Option<Lesson> {
        let ruler = Ruler::new(card);
        let pieces = model::pieces(ruler, elements);
        let meant: Vec<[[i32; 2]; 2]> = pieces
            .iter()
            .map(|piece| {
                let frame = truth[piece.index];
                [[frame.x, frame.right()], [frame.y, frame.bottom()]]
                    .map(|axis| axis.map(|side| side.in_steps(card.unit, Step::Position)))
            })
            .collect();
        let mut views = Vec::new();
        for hand_in in hands_in {
            let model = Model::new(ruler, &pieces, hand_in * ruler.per_in, model::Thrift::default());
            let (free_order, entries) = model.graph.order();
            if entries > MOST_ENTRIES {
                continue;
            }
            let truth = model.places_of(&meant).map(|held| {
                let truth = model.graph.clamped(&held);
                let (order, _) = truth.order();
                (truth, order)
            });
            views.push(View { habitual: super::habitual(*hand_in), free: model.graph, free_order, truth });
        }
        views.iter().any(|view| view.truth.is_some()).then_some(Lesson { views })
    }

    /// Log-probability of the truth given the drawing, over all hands, and its
    /// gradient by the log-odds.
    pub fn learn(&self, weights: &Weights) -> (f64, Vec<f64>) {
        let (mut shown, mut expected) = (Vec::new(), Vec::new());
        for view in &self.views {
            if let Some((truth, order)) = &view.truth {
                let sum = truth.eliminate::<false>(order, weights);
                shown.push((sum.log_total + view.habitual, truth.expected(order, &sum.marginals())));
            }
            let sum = view.free.eliminate::<false>(&view.free_order, weights);
            let counts = view.free.expected(&view.free_order, &sum.marginals());
            expected.push((sum.log_total + view.habitual, counts));
        }
        let ((shown_log, shown), (expected_log, expected)) = (mixed(&shown), mixed(&expected));
        let gradient = shown.iter().zip(&expected).map(|(shown, expected)| shown - expected).collect();
        (shown_log - expected_log, gradient)
    }
}

/// Log of a sum of probabilities, and the mean of what goes with them.
fn mixed(parts: &[(f64, Vec<f64>)]) -> (f64, Vec<f64>) {
    let top = parts.iter().map(|(log, _)| *log).fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = parts.iter().map(|(log, _)| (log - top).exp()).sum();
    let mut mean = vec![0.0; parts.first().map_or(0, |(_, counts)| counts.len())];
    for (log, counts) in parts {
        for (mean, count) in mean.iter_mut().zip(counts) {
            *mean += (log - top).exp() / total * count;
        }
    }
    (top + total.ln(), mean)
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

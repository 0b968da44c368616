//! What is wrong with the drawing as a whole: its scale on each axis, its
//! place and its skew, as left by the outline, which is a hand's work too.
//!
//! The errors are nuisance parameters with Gaussian priors, profiled: from
//! several starts, the most probable layout and the best errors for it (ridge
//! regression of the measured sides on the sides meant) are found in turn. The
//! errors are believed only where they make the drawing plainly more probable.

use super::model::{self, Piece, Ruler, Thrift, hand};
use super::{Drawing, View, Weights, habitual};

/// Scales tried first, each about the card's centre and about each corner.
const STARTS: [f64; 2] = [-0.009, 0.009];
/// A start so far behind none at all, nats, is not followed.
const BEHIND: f64 = 3.0;
/// How many starts are followed.
const FOLLOWED: usize = 3;
/// Hands that a drawing is tried with, inches.
const HANDS_IN: [f64; 3] = [0.004, 0.02, 0.045];
/// The hand that the starts are tried with, inches.
const FIRST_HAND_IN: f64 = 0.015;
/// What is expected of the errors (standard deviations): of the scale, of the
/// place in inches, and of the skew.
const SCALE_SD: f64 = 0.007;
const PLACE_SD_IN: f64 = 0.018;
const SKEW_SD: f64 = 0.003;
/// A drawing that fits the grid as if printed needs no levelling: the hand, inches.
const PRINTED_IN: f64 = 0.006;
/// How much more probable the drawing must become, nats.
const PLAINLY: f64 = 3.0;

/// The errors of one axis. A place meant at `m` was measured at
/// `m + place + scale * (m - middle) + skew * (across - middle across)`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Errors {
    scale: f64,
    place: f64,
    skew: f64,
}

impl Errors {
    fn log_prior(self, per_in: f64) -> f64 {
        let square = |value: f64| -0.5 * value * value;
        square(self.scale / SCALE_SD)
            + square(self.place / (PLACE_SD_IN * per_in))
            + square(self.skew / SKEW_SD)
    }
}

/// The pieces of a drawing, with the errors of the whole taken out.
pub(super) fn level(drawing: &Drawing, hand_in: Option<f64>, weights: &Weights) -> Vec<Piece> {
    let hands = hand_in.map_or(HANDS_IN.to_vec(), |hand| vec![hand]);
    let try_with = |errors: [Errors; 2], hands: &[f64], thrift: Thrift| {
        let pieces = corrected(drawing.ruler, &drawing.pieces, errors);
        let tried = Drawing { pieces, ..*drawing };
        hands
            .iter()
            .filter_map(|hand| {
                let view = View::new(&tried, *hand, weights, thrift)?;
                Some((view.evidence + habitual(*hand), view))
            })
            .reduce(|best, other| if other.0 > best.0 { other } else { best })
            .map(|(evidence, view)| {
                let prior: f64 = errors.iter().map(|errors| errors.log_prior(drawing.ruler.per_in)).sum();
                (evidence + prior, view)
            })
    };
    let none = [Errors::default(); 2];
    let Some((plain, plain_view)) = try_with(none, &hands, Thrift::FINE) else {
        return drawing.pieces.clone();
    };
    if plain_view.hand < PRINTED_IN * drawing.ruler.per_in {
        return drawing.pieces.clone();
    }
    let mut starts = vec![none];
    let middle = drawing.ruler.card.map(|extent| f64::from(extent) / 2.0);
    for scale in STARTS {
        for corner in [[0.0, 0.0], [1.0, 1.0], [1.0, -1.0], [-1.0, 1.0], [-1.0, -1.0]] {
            starts.push([0, 1].map(|axis| Errors {
                scale,
                place: corner[axis] * scale * middle[axis],
                skew: 0.0,
            }));
        }
    }
    let first_hand = [hand_in.unwrap_or(FIRST_HAND_IN)];
    let mut tried: Vec<(f64, View)> =
        starts.into_iter().filter_map(|errors| try_with(errors, &first_hand, Thrift::COARSE)).collect();
    // The first is without errors: what is far behind it is not worth following.
    let enough = tried.first().map_or(f64::NEG_INFINITY, |(evidence, _)| *evidence) - BEHIND;
    tried.retain(|(evidence, _)| *evidence >= enough);
    tried.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut best = (plain + PLAINLY, none);
    for (_, view) in tried.into_iter().take(FOLLOWED) {
        // Which hand, and then how much more probable.
        let errors = fitted(drawing, view, weights);
        let Some((_, view)) = try_with(errors, &hands, Thrift::COARSE) else { continue };
        let hand_in = view.hand / drawing.ruler.per_in;
        let errors = fitted(drawing, view, weights);
        let Some((evidence, _)) = try_with(errors, &[hand_in], Thrift::FINE) else { continue };
        if evidence > best.0 {
            best = (evidence, errors);
        }
    }
    corrected(drawing.ruler, &drawing.pieces, best.1)
}

fn corrected(ruler: Ruler, pieces: &[Piece], errors: [Errors; 2]) -> Vec<Piece> {
    let middle = ruler.card.map(|extent| f64::from(extent) / 2.0);
    pieces
        .iter()
        .map(|piece| {
            let mut out = piece.clone();
            for axis in [0, 1] {
                let Errors { scale, place, skew } = errors[axis];
                let across = piece.centre(1 - axis) - middle[1 - axis];
                for at in &mut out.at[axis] {
                    *at = middle[axis] + (*at - middle[axis] - place - skew * across) / (1.0 + scale);
                }
            }
            if out.shape == layout::Shape::Circle {
                out.round_off();
            }
            out
        })
        .collect()
}

/// The errors that explain best how the measured sides lie beside the most
/// probable layout.
fn fitted(drawing: &Drawing, view: View, weights: &Weights) -> [Errors; 2] {
    let ruler = drawing.ruler;
    let view = view.looked_at(weights);
    let value = |var: usize| view.model.graph.domains[var][view.best[var]];
    let middle = ruler.card.map(|extent| f64::from(extent) / 2.0);
    [0, 1].map(|axis| {
        // Normal equations for place, scale and skew.
        let place_sd = PLACE_SD_IN * ruler.per_in;
        let mut matrix =
            [[place_sd.powi(-2), 0.0, 0.0], [0.0, SCALE_SD.powi(-2), 0.0], [0.0, 0.0, SKEW_SD.powi(-2)]];
        let mut right = [0.0; 3];
        let mut seen = Vec::new();
        for (piece, spans) in drawing.pieces.iter().zip(&view.model.spans) {
            let sides = spans[axis].sides(value);
            for side in [0, 1] {
                if let model::Span::Lines(lines) = spans[axis] {
                    // A line counts once, however many edges lie on it; the
                    // card's own counts with each.
                    if lines[side] > 3 && seen.contains(&lines[side]) {
                        continue;
                    }
                    seen.push(lines[side]);
                }
                let meant = f64::from(sides[side]);
                let at_edge = sides[side] == 0 || sides[side] == ruler.card[axis];
                let stray = if at_edge { 1.41 * hand::RETRACED } else { hand::EDGE } * view.hand;
                let weight = stray.hypot(piece.sd[axis][side]).powi(-2);
                let row = [1.0, meant - middle[axis], piece.centre(1 - axis) - middle[1 - axis]];
                for (i, a) in row.iter().enumerate() {
                    for (j, b) in row.iter().enumerate() {
                        matrix[i][j] += weight * a * b;
                    }
                    right[i] += weight * a * (piece.at[axis][side] - meant);
                }
            }
        }
        let [place, scale, skew] = solved(matrix, right);
        Errors { scale, place, skew }
    })
}

/// Solves three equations by Gaussian elimination; the matrix is positive
/// definite, so no pivot is zero.
fn solved(mut matrix: [[f64; 3]; 3], mut right: [f64; 3]) -> [f64; 3] {
    for k in 0..3 {
        for row in k + 1..3 {
            let factor = matrix[row][k] / matrix[k][k];
            let upper = matrix[k];
            for (value, above) in matrix[row].iter_mut().zip(upper) {
                *value -= factor * above;
            }
            right[row] -= factor * right[k];
        }
    }
    let mut out = [0.0; 3];
    for k in (0..3).rev() {
        let known: f64 = (k + 1..3).map(|column| matrix[k][column] * out[column]).sum();
        out[k] = (right[k] - known) / matrix[k][k];
    }
    out
}

//! What each element seems to be for, by its shape, size and place in the stack.
//!
//! - **mat**: another element of the same shape lies on it with an even border;
//! - **background**: the lowest element, or the next in a nest of mats, that
//!   leaves only a border of the card;
//! - **sentiment**: a banner, or a small upright rectangle wider than high or
//!   the other way that lies on others and that nothing covers;
//! - **strip**: a rectangle much longer than wide;
//! - **focal**: circles and ovals, and the topmost small rectangle on a panel;
//! - **embellishment**: marks;
//! - **panel**: all the rest.

use layout::{Card, Frame, Role, Shape, Unit};

use super::SnappedElement;
use super::model::Piece;

/// Widest border of card around a background, inches.
const BORDER_IN: f64 = 0.55;
/// How many times longer than wide a strip is.
const NARROW: f64 = 3.0;
/// Largest share of the card that a sentiment or a focal rectangle covers.
const SMALL: f64 = 0.2;
/// Largest share of the card's longer side that a sentiment spans.
const SHORT: f64 = 0.75;

/// Sets every element's role. `outer` names the mat under each piece.
pub(super) fn assign(card: &Card, outer: &[Option<usize>], pieces: &[Piece], out: &mut [SnappedElement]) {
    let extent = card.size_in();
    let frames: Vec<[f64; 4]> = pieces.iter().map(|piece| box_in(out[piece.index].frame)).collect();
    let is_mat = |number: usize| outer.contains(&Some(number));
    // The nest that the lowest element begins.
    let mut nest = vec![0];
    while let Some(above) = outer.iter().position(|under| *under == nest.last().copied()) {
        nest.push(above);
    }
    for (number, piece) in pieces.iter().enumerate() {
        let [left, top, right, bottom] = frames[number];
        let (width, height) = (right - left, bottom - top);
        let (short, long) = (width.min(height), width.max(height));
        let share = width * height / (extent[0] * extent[1]);
        let borders = [left, top, extent[0] - right, extent[1] - bottom];
        let covers = |other: usize| {
            let o = frames[other];
            o[0] < right && o[2] > left && o[1] < bottom && o[3] > top
        };
        let on_another = (0..number).any(|other| covers(other) && outer[number] != Some(other));
        let uncovered = !(number + 1..pieces.len()).any(covers);
        let upright = piece.is_straight();
        out[piece.index].role = if is_mat(number) {
            Role::Mat
        } else if nest.contains(&number)
            && upright
            && borders.iter().all(|border| (0.0..=BORDER_IN).contains(border))
            && share < 1.0
        {
            Role::Background
        } else if matches!(piece.shape, Shape::Banner { .. }) {
            Role::Sentiment
        } else if piece.is_round() {
            Role::Focal
        } else if long > NARROW * short
            && (long > SHORT * extent[0].max(extent[1]) || !(on_another && uncovered))
        {
            Role::Strip
        } else if on_another && uncovered && share < SMALL && long > 1.5 * short {
            Role::Sentiment
        } else if on_another && uncovered && share < SMALL && number + 1 == pieces.len() {
            Role::Focal
        } else {
            Role::Panel
        };
    }
}

/// Left, top, right and bottom, inches.
fn box_in(frame: Frame) -> [f64; 4] {
    [frame.x, frame.y, frame.right(), frame.bottom()].map(|side| side.value(Unit::Inch))
}

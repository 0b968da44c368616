//! Stage 8, second part: whether a sheet of paper is the card itself or carries
//! cards drawn on it. Both are read; an outline on a sheet that is a card is one
//! of its panels. The two stories are compared at the same price: what is an
//! outline in the one is a shape in the other.

use crate::confidence;
use crate::geometry::{self, Point};
use crate::read::Reading;
use crate::rectify::to_inches;
use crate::shapes::Hypothesis;
use crate::stack::StackOptions;

/// What a sheet must explain more than the outlines on it, where nothing else
/// speaks for it: so many times as much, and so many inches of ink, for a sheet
/// has writing and stains beside the drawing.
const SHEET_TIMES: f64 = 1.3;
/// See [`SHEET_TIMES`].
const SHEET_IN: f64 = 1.5;
/// The same at one price, where a shape lies beside the outlines.
const SHEET_TIMES_BESIDE: f64 = 1.04;
/// A shape lies beside outlines that have no more than this share of it.
const BESIDE: f64 = 0.4;
/// How sure it must be.
const SURE: f64 = 0.7;

/// Whether a sheet, read as the card, is it, given the readings of the outlines
/// that lie on it. `px_per_in`: pixels of the page per inch of the sheet.
pub(crate) fn sheet_is_card(sheet: &Reading, on_it: &[&Reading], px_per_in: f64) -> bool {
    let others: f64 = on_it.iter().map(|reading| reading.worth).sum();
    if sheet.worth > SHEET_TIMES * others + SHEET_IN * px_per_in {
        return true;
    }
    let count = sheet.shapes.len();
    let beside = sheet.shapes.iter().zip(&sheet.gains).any(|(shape, gain)| {
        confidence::of_shape(shape, *gain, count) >= SURE && lies_beside(shape, sheet, on_it)
    });
    let price = f64::from(StackOptions::default().shape_in) * px_per_in * on_it.len() as f64;
    beside && sheet.worth > SHEET_TIMES_BESIDE * (others - price)
}

/// Whether most of a shape lies in none of the outlines.
fn lies_beside(shape: &Hypothesis, sheet: &Reading, on_it: &[&Reading]) -> bool {
    let [left, top, right, bottom] = shape.geometry.bounds().map(|v| to_inches(f64::from(v)));
    let corners: [Point; 4] = [[left, top], [right, top], [right, bottom], [left, bottom]]
        .map(|corner| sheet.square_on.to_photo.apply(corner));
    let shared: f64 = on_it
        .iter()
        .map(|reading| geometry::clip(&corners, &reading.corners_px))
        .filter(|common| common.len() > 2)
        .map(|common| geometry::area(&common).max(0.0))
        .sum();
    shared <= BESIDE * geometry::area(&corners)
}

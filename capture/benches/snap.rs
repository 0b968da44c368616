//! How long a layout takes to settle, marginals and all.

use capture::snap::{Edge, Measured, Options, settle};
use layout::{Card, Shape};

fn main() {
    divan::main();
}

/// A layout of twenty elements as a careful hand draws it: a matted background,
/// a grid of twelve squares, a strip, a matted panel and two matted circles
/// upon it.
fn twenty() -> (Card, Vec<Measured>) {
    let card: Card = "5x7".parse().expect("a named card");
    let mut boxes =
        vec![(Shape::SHARP, [0.0625, 0.0625, 4.9375, 6.9375]), (Shape::SHARP, [0.125, 0.125, 4.875, 6.875])];
    for row in 0..4 {
        for column in 0..3 {
            let (left, top) = (0.375 + 1.5 * f64::from(column), 0.375 + 1.625 * f64::from(row));
            boxes.push((Shape::SHARP, [left, top, left + 1.25, top + 1.375]));
        }
    }
    boxes.push((Shape::SHARP, [0.0, 3.0, 5.0, 3.75]));
    boxes.push((Shape::SHARP, [0.9375, 1.9375, 4.0625, 5.0625]));
    boxes.push((Shape::SHARP, [1.0, 2.0, 4.0, 5.0]));
    boxes.push((Shape::Circle, [1.4375, 2.4375, 3.5625, 4.5625]));
    boxes.push((Shape::Circle, [1.5, 2.5, 3.5, 4.5]));
    boxes.push((Shape::SHARP, [1.25, 5.5, 3.75, 6.25]));
    // Any strays will do, so long as they are always the same; equal lines
    // stray alike.
    let stray = |at: f64| 0.02 * (at * 37.0).sin();
    let elements = boxes
        .into_iter()
        .map(|(shape, sides)| Measured {
            shape,
            sides: sides.map(|at| Edge { at: at + stray(at), sd: 0.004, seen: 1.0 }),
            rotation_deg: 0.0,
            corner_radius_in: 0.0,
            held: [None; 2],
        })
        .collect();
    (card, elements)
}

#[divan::bench]
fn settle_twenty_elements(bencher: divan::Bencher) {
    let (card, elements) = twenty();
    bencher.bench_local(|| settle(&card, &elements, &Options::default()));
}

#[divan::bench]
fn settle_twenty_elements_of_a_known_hand(bencher: divan::Bencher) {
    let (card, elements) = twenty();
    let options = Options { hand_sd_in: Some(0.025) };
    bencher.bench_local(|| settle(&card, &elements, &options));
}

#[divan::bench]
fn settle_twenty_elements_of_a_loose_hand(bencher: divan::Bencher) {
    let (card, elements) = twenty();
    let options = Options { hand_sd_in: Some(0.05) };
    bencher.bench_local(|| settle(&card, &elements, &options));
}

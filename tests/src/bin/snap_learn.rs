//! Learns the log-odds of the snapper's habits.
//!
//!     snap-learn FOLDER... [--write capture/src/snap/learned.rs] [--drawings 8] [--rounds 60]
//!
//! From the odd-numbered pictures of each folder (the tuning half): every
//! layout as its hand drew it, and drawn again some times by a made-up hand
//! that scatters as the real ones do, so that printed layouts teach as well.
//! Each layout counts once. Maximises the log-probability of the truth less a
//! Gaussian penalty on the log-odds; prints that of the held-out half beside.
#![expect(clippy::print_stdout, reason = "a command that prints what it does")]

use std::error::Error;
use std::fmt::Write as _;
use std::path::Path;

use capture::snap::study::{HAND, Lesson};
use capture::snap::{Edge, Habit, Measured, Weights};
use layout::{Frame, Shape, Unit};

use tests::drawn::{Drawn, PERFECT_EYE_IN};
use tests::random::Random;

const USAGE: &str =
    "usage: snap-learn FOLDER... [--write FILE] [--drawings COUNT] [--rounds COUNT] [--spread ODDS]";

/// Hands that may have made a drawing, inches.
const HANDS_IN: [f64; 6] = [0.016, 0.022, 0.028, 0.037, 0.05, 0.065];
/// Step of the first round, in log-odds.
const STEP: f64 = 0.15;

/// A drawing and how much it counts.
struct Weighed {
    lesson: Lesson,
    share: f64,
}

fn main() -> Result<(), Box<dyn Error>> {
    let (mut file, mut drawings, mut rounds, mut folders) = (None, 8, 60, Vec::new());
    // Standard deviation that log-odds are expected to have.
    let mut spread = 1.5;
    let mut args = std::env::args().skip(1);
    while let Some(arg) = args.next() {
        let mut value = || args.next().ok_or(USAGE);
        match arg.as_str() {
            "--write" => file = Some(value()?),
            "--drawings" => drawings = value()?.parse()?,
            "--rounds" => rounds = value()?.parse()?,
            "--spread" => spread = value()?.parse()?,
            _ => folders.push(arg),
        }
    }
    if folders.is_empty() {
        return Err(USAGE.into());
    }
    let mut layouts = Vec::new();
    for folder in &folders {
        layouts.extend(tests::drawn::read(Path::new(folder))?);
    }
    let (tuning, held_out): (Vec<Drawn>, Vec<Drawn>) =
        layouts.into_iter().partition(|layout| layout.picture % 2 == 1);
    let mut random = Random(0x1ea5);
    let tuning_lessons = lessons(&tuning, drawings, &mut random);
    let held_out_lessons = lessons(&held_out, drawings, &mut random);
    println!("{} layouts tune, {} drawings", tuning.len(), tuning_lessons.len());

    let mut weights = Weights(vec![0.0; Habit::ALL.len()]);
    // Adam (Kingma and Ba, ICLR 2015), on the whole of the data each round.
    let (mut mean, mut square) = (vec![0.0; weights.0.len()], vec![0.0; weights.0.len()]);
    for round in 1..=rounds {
        let (sum, mut gradient) = learn(&tuning_lessons, &weights);
        for (slope, weight) in gradient.iter_mut().zip(&weights.0) {
            *slope -= weight / (spread * spread);
        }
        let slow = STEP / (1.0 + 4.0 * f64::from(round) / f64::from(rounds));
        for k in 0..gradient.len() {
            mean[k] = 0.9 * mean[k] + 0.1 * gradient[k];
            square[k] = 0.99 * square[k] + 0.01 * gradient[k] * gradient[k];
            let (m, v) = (mean[k] / (1.0 - 0.9_f64.powi(round)), square[k] / (1.0 - 0.99_f64.powi(round)));
            weights.0[k] += slow * m / (v.sqrt() + 1e-9);
        }
        if round % 20 == 0 || round == rounds {
            let (held_out_sum, _) = learn(&held_out_lessons, &weights);
            println!(
                "round {round}: log-probability of a layout {:.3} tune, {:.3} held out",
                sum / tuning.len() as f64,
                held_out_sum / held_out.len() as f64
            );
        }
    }
    let text = table(&weights, &folders, tuning.len(), drawings);
    println!("{text}");
    if let Some(file) = file {
        std::fs::write(file, text)?;
    }
    Ok(())
}

/// Log-probability of all drawings by their shares, and its gradient. Two
/// threads; the sum is in a fixed order.
fn learn(lessons: &[Weighed], weights: &Weights) -> (f64, Vec<f64>) {
    let one = |part: &[Weighed]| {
        let mut sum = 0.0;
        let mut gradient = vec![0.0; weights.0.len()];
        for Weighed { lesson, share } in part {
            let (log_probability, slopes) = lesson.learn(weights);
            sum += share * log_probability;
            for (total, slope) in gradient.iter_mut().zip(slopes) {
                *total += share * slope;
            }
        }
        (sum, gradient)
    };
    let (first, second) = lessons.split_at(lessons.len() / 2);
    let (a, b) = std::thread::scope(|scope| {
        let other = scope.spawn(|| one(second));
        (one(first), other.join().expect("learning does not panic"))
    });
    (a.0 + b.0, a.1.iter().zip(&b.1).map(|(a, b)| a + b).collect())
}

fn lessons(layouts: &[Drawn], drawings: u32, random: &mut Random) -> Vec<Weighed> {
    let mut out = Vec::new();
    for layout in layouts {
        let mut found = Vec::new();
        if layout.hand_sd_in > 0.0 {
            found.extend(Lesson::new(&layout.card, &layout.elements, &layout.meant, &HANDS_IN));
        }
        for _ in 0..drawings {
            // From a very careful hand to a loose one.
            let hand_sd_in = (0.034 * (0.4 * random.normal()).exp()).clamp(0.012, 0.065);
            let elements = draw(layout, hand_sd_in, random);
            found.extend(Lesson::new(&layout.card, &elements, &layout.meant, &HANDS_IN));
        }
        let share = 1.0 / found.len().max(1) as f64;
        out.extend(found.into_iter().map(|lesson| Weighed { lesson, share }));
    }
    out
}

/// Draws a layout anew, as a hand of this spread would.
fn draw(layout: &Drawn, hand_sd_in: f64, random: &mut Random) -> Vec<Measured> {
    let extent = layout.card.size_in();
    // Lines drawn so far on each axis: meant and drawn.
    let mut lines = [0, 1].map(|axis| vec![(0.0, 0.0), (extent[axis], extent[axis])]);
    let mut done: Vec<[[(f64, f64); 2]; 2]> = Vec::new();
    let mut out = Vec::new();
    for (index, (element, frame)) in layout.elements.iter().zip(&layout.meant).enumerate() {
        let meant = meant_in(frame);
        let round = matches!(element.shape, Shape::Circle | Shape::Oval);
        let straight = !round && !is_mark(element) && element.rotation_deg == 0.0;
        let under = (0..index).rev().find(|under| is_mat(layout, *under, index));
        let mut sides = [[0.0; 2]; 2];
        let size_error = random.normal();
        for axis in [0, 1] {
            let own_error = if element.shape == Shape::Circle { size_error } else { random.normal() };
            let (centre_sd, size_sd) =
                if round { (HAND.round_centre, HAND.round_size) } else { (HAND.centre, HAND.size) };
            let centre = centre_sd * random.normal();
            for side in [0, 1] {
                let at = meant[axis][side];
                let known =
                    lines[axis].iter().find(|(other, _)| (*other - at).abs() < 1e-6).filter(|_| straight);
                let opposite = meant[axis][1 - side];
                let half_fresh = lines[axis].iter().any(|(other, _)| (*other - opposite).abs() < 1e-6);
                let border = at.min(extent[axis] - at);
                let stray = if let Some((_, drawn)) = known {
                    drawn - at + hand_sd_in * HAND.retraced * random.normal()
                } else if let Some(under) = under {
                    let (other, drawn): (f64, f64) = done[under][axis][side];
                    drawn - other + hand_sd_in * HAND.border * random.normal()
                } else if straight && border > 0.0 && border < 0.13 {
                    hand_sd_in * HAND.border * random.normal()
                } else if straight && half_fresh {
                    hand_sd_in * HAND.edge * random.normal()
                } else {
                    let outward = if side == 0 { -0.5 } else { 0.5 };
                    hand_sd_in * (centre + outward * size_sd * own_error)
                };
                sides[axis][side] = at + stray;
            }
        }
        done.push([0, 1].map(|axis| [0, 1].map(|side| (meant[axis][side], sides[axis][side]))));
        if straight {
            for axis in [0, 1] {
                for side in [0, 1] {
                    lines[axis].push((meant[axis][side], sides[axis][side]));
                }
            }
        }
        let [[left, right], [top, bottom]] = sides;
        out.push(Measured {
            sides: [left, top, right, bottom].map(|at| Edge { at, sd: PERFECT_EYE_IN, seen: 1.0 }),
            ..element.clone()
        });
    }
    out
}

fn meant_in(frame: &Frame) -> [[f64; 2]; 2] {
    [[frame.x, frame.right()], [frame.y, frame.bottom()]].map(|axis| axis.map(|side| side.value(Unit::Inch)))
}

fn is_mark(element: &Measured) -> bool {
    matches!(element.shape, Shape::Mark { .. })
}

/// Whether one element is the mat right behind another.
fn is_mat(layout: &Drawn, under: usize, index: usize) -> bool {
    let (below, above) = (&layout.elements[under], &layout.elements[index]);
    let (outer, inner) = (meant_in(&layout.meant[under]), meant_in(&layout.meant[index]));
    let border = inner[0][0] - outer[0][0];
    let even = (0..2).all(|axis| {
        (inner[axis][0] - outer[axis][0] - border).abs() < 1e-6
            && (outer[axis][1] - inner[axis][1] - border).abs() < 1e-6
    });
    let alike = std::mem::discriminant(&below.shape) == std::mem::discriminant(&above.shape)
        && (below.rotation_deg - above.rotation_deg).abs() < 1.0;
    alike && even && border > 0.0 && border < 0.2 && !is_mark(below)
}

/// The learned table as a source file.
fn table(weights: &Weights, folders: &[String], layouts: usize, drawings: u32) -> String {
    let names: Vec<&str> =
        folders.iter().filter_map(|folder| Path::new(folder).file_name()?.to_str()).collect();
    let mut out = String::new();
    let _ = write!(
        out,
        "//! Log-odds of the habits, written by `cargo run --release -p tests --bin snap-learn`\n\
         //! from the {layouts} layouts on the odd-numbered pictures of the corpora {},\n\
         //! each as drawn and {drawings} times drawn again. Do not edit by hand.\n\n\
         /// Name of each habit and its log-odds.\n\
         pub(super) const LOG_ODDS: &[(&str, f64)] = &[\n",
        names.join(" and ")
    );
    for (habit, odds) in Habit::ALL.iter().zip(&weights.0) {
        let _ = writeln!(out, "    (\"{}\", {odds:.2}),", habit.name());
    }
    out.push_str("];\n");
    out
}

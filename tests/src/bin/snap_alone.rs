//! The snapper by itself, fed the edges as the hand drew them.
//!
//!     snap-alone FOLDER... [--noise INCHES] [--scale FACTOR] [--told] [--wrong]
//!
//! Prints per profile, hand and half of the corpus (odd pictures tune, even
//! pictures are held out) the share of elements with exact size and exact box
//! and of cards with every size right, beside rounding each size by itself;
//! then how well the certainties hold, and the time a layout takes. `--noise`
//! adds a measuring error to every side, `--scale` a wrong scale of the whole
//! drawing, `--told` tells the snapper how far the hand strayed (what there
//! would be to gain), `--wrong` lists what went wrong.
#![expect(clippy::print_stdout, reason = "a command that prints a table")]

use std::collections::BTreeMap;
use std::error::Error;
use std::path::Path;
use std::time::Instant;

use capture::snap::{self, Measured, Options, Snapped, Weights};
use layout::{Card, Frame, Length, Shape, Step, Unit};

use tests::drawn::Drawn;

const USAGE: &str = "usage: snap-alone FOLDER... [--noise INCHES] [--scale FACTOR] [--told] [--wrong]";

/// Counts of one row of the table.
#[derive(Default)]
struct Tally {
    elements: u32,
    cards: u32,
    /// Rounded by itself, then settled: exact sizes, exact boxes, whole cards.
    right: [[u32; 3]; 2],
}

/// One tenth of certainty.
#[derive(Clone, Copy, Default)]
struct Bin {
    elements: u32,
    certainty: f64,
    exact: u32,
}

fn main() -> Result<(), Box<dyn Error>> {
    let (mut noise, mut scale, mut told, mut list, mut folders) = (0.0, 1.0, false, false, Vec::new());
    let mut args = std::env::args().skip(1);
    while let Some(arg) = args.next() {
        let mut number = || -> Result<f64, Box<dyn Error>> { Ok(args.next().ok_or(USAGE)?.parse()?) };
        match arg.as_str() {
            "--noise" => noise = number()?,
            "--scale" => scale = number()?,
            "--told" => told = true,
            "--wrong" => list = true,
            _ => folders.push(arg),
        }
    }
    if folders.is_empty() {
        return Err(USAGE.into());
    }
    let mut tallies: BTreeMap<String, Tally> = BTreeMap::new();
    let mut bins = [Bin::default(); 10];
    let mut times = Vec::new();
    let mut random = tests::random::Random(0x5eed);
    for folder in &folders {
        let mut layouts = tests::drawn::read(Path::new(folder))?;
        for edge in layouts.iter_mut().flat_map(|layout| &mut layout.elements).flat_map(|e| &mut e.sides) {
            edge.at = edge.at * scale + noise * random.normal();
            edge.sd = edge.sd.hypot(noise);
        }
        // The layouts of one page come from one hand.
        for page in layouts.chunk_by(|a, b| a.picture == b.picture) {
            let options = Options { hand_sd_in: told.then_some(page[0].hand_sd_in) };
            let drawings: Vec<(&Card, &[Measured])> =
                page.iter().map(|layout| (&layout.card, &layout.elements[..])).collect();
            let started = Instant::now();
            let settled = snap::settle_page(&drawings, &options, &Weights::default());
            times.push(started.elapsed().as_secs_f64() * 1000.0 / page.len() as f64);
            for (layout, settled) in page.iter().zip(&settled) {
                count(layout, settled, &mut tallies, &mut bins);
                if list {
                    wrong(layout, settled);
                }
            }
        }
    }
    report(&tallies, &bins);
    times.sort_by(f64::total_cmp);
    println!(
        "\nmilliseconds a layout: median {:.1}, most {:.1}",
        times[times.len() / 2],
        times[times.len() - 1]
    );
    Ok(())
}

fn is_mark(element: &Measured) -> bool {
    matches!(element.shape, Shape::Mark { .. })
}

fn count(layout: &Drawn, settled: &Snapped, tallies: &mut BTreeMap<String, Tally>, bins: &mut [Bin; 10]) {
    let half = if layout.picture % 2 == 1 { "tune" } else { "held out" };
    let mut right = [[0, 0, 1]; 2];
    let mut elements = 0;
    for ((element, got), meant) in layout.elements.iter().zip(&settled.elements).zip(&layout.meant) {
        if is_mark(element) {
            continue;
        }
        elements += 1;
        for (right, frame) in right.iter_mut().zip([rounded(element), got.frame]) {
            let size = (frame.width, frame.height) == (meant.width, meant.height);
            right[0] += u32::from(size);
            right[1] += u32::from(frame == *meant);
            right[2] &= u32::from(size);
        }
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 0 to 9")]
        let bin = &mut bins[(got.certainty * 10.0).clamp(0.0, 9.0) as usize];
        bin.elements += 1;
        bin.certainty += got.certainty;
        bin.exact += u32::from((got.frame.width, got.frame.height) == (meant.width, meant.height));
    }
    // Sorted as printed: profiles, hands by half, halves, all.
    for key in [
        format!("1{} / {}", layout.profile, layout.neat),
        format!("2{} / {half}", layout.neat),
        format!("3{half}"),
        "4overall".to_owned(),
    ] {
        let tally = tallies.entry(key).or_default();
        tally.elements += elements;
        tally.cards += 1;
        for (sum, one) in tally.right.as_flattened_mut().iter_mut().zip(right.as_flattened()) {
            *sum += one;
        }
    }
}

fn wrong(layout: &Drawn, settled: &Snapped) {
    let eighths = |frame: Frame| {
        [frame.x, frame.y, frame.width, frame.height].map(|length| length.value(Unit::Inch) * 8.0)
    };
    for ((element, got), meant) in layout.elements.iter().zip(&settled.elements).zip(&layout.meant) {
        if is_mark(element) || got.frame == *meant {
            continue;
        }
        println!(
            "{:03} {} meant {:?} got {:?} drawn {:?} certainty {:.2} hand {:.3} (true {:.3}) turned {}",
            layout.picture,
            element.shape.word(),
            eighths(*meant),
            eighths(got.frame),
            element.sides.map(|side| (side.at * 800.0).round() / 100.0),
            got.certainty,
            settled.hand_sd_in,
            layout.hand_sd_in,
            element.rotation_deg,
        );
        for why in &got.why {
            let habits: Vec<&str> = why.habits.iter().map(|(habit, _)| habit.words()).collect();
            println!("      {:.3} +- {:.3}: {}", why.measured_in * 8.0, why.sd_in * 8.0, habits.join(", "));
        }
    }
}

fn report(tallies: &BTreeMap<String, Tally>, bins: &[Bin; 10]) {
    println!(
        "| what | elements | cards | size, rounded | size, settled | box, rounded | box, settled | card, rounded | card, settled |"
    );
    println!("|---|---:|---:|---:|---:|---:|---:|---:|---:|");
    for (key, tally) in tallies {
        let share = |way: usize, what: usize| {
            let of = if what == 2 { tally.cards } else { tally.elements };
            format!("{:.1}", 100.0 * f64::from(tally.right[way][what]) / f64::from(of.max(1)))
        };
        let cells: Vec<String> = (0..3).flat_map(|what| [share(0, what), share(1, what)]).collect();
        println!("| {} | {} | {} | {} |", &key[1..], tally.elements, tally.cards, cells.join(" | "));
    }
    println!("\n| certainty | elements | mean certainty | exact size |");
    println!("|---|---:|---:|---:|");
    for (tenth, bin) in bins.iter().enumerate().filter(|(_, bin)| bin.elements > 0) {
        let of = f64::from(bin.elements);
        println!(
            "| 0.{tenth} up | {} | {:.2} | {:.2} |",
            bin.elements,
            bin.certainty / of,
            f64::from(bin.exact) / of
        );
    }
}

/// Each size rounded to the nearest eighth by itself; a circle's the mean of both.
fn rounded(element: &Measured) -> Frame {
    let [left, top, right, bottom] = element.sides.map(|side| side.at);
    let (mut width, mut height) = (right - left, bottom - top);
    if element.shape == Shape::Circle {
        width = f64::midpoint(width, height);
        height = width;
    }
    let snap =
        |value: f64, step: Step| layout::snap(value, Unit::Inch, step).map_or(Length::ZERO, |(at, _)| at);
    let axis = |low: f64, high: f64, size: f64| {
        let size = snap(size, Step::Size);
        (snap(f64::midpoint(low, high) - size.value(Unit::Inch) / 2.0, Step::Position), size)
    };
    let ((x, width), (y, height)) = (axis(left, right, width), axis(top, bottom, height));
    Frame { x, y, width, height }
}

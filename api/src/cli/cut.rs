//! `eighths cut`: a cutting job in, sheet plans on the standard output.

use std::fmt::Write;
use std::fs;
use std::path::PathBuf;
use std::time::{Duration, Instant};

use clap::ValueEnum;
use cutting::{Options, Plan, Stages, instance};
use layout::Length;

use super::{Outcome, complain, open_sentence, say};

/// Plan how to cut rectangles from sheets, with cuts from edge to edge as a trimmer makes them.
///
/// The instance is JSON: {"objective": "sheets", "rotation": true,
/// "stock": [{"width": 12, "height": 12, "count": null}],
/// "pieces": [{"width": 4, "height": 5.25, "quantity": 4}]}. The objective is "sheets" (fewest),
/// "cost" (cheapest, by each sheet's "cost") or "value" (most, by each piece's "value").
/// A count of null is as many as needed.
#[derive(clap::Args)]
#[command(after_help = super::EXIT_CODES)]
pub(super) struct Args {
    /// File with the pieces and the sheets
    #[arg(long, value_name = "FILE")]
    instance: PathBuf,
    /// Look for a better plan for so many seconds
    #[arg(long, value_name = "SECONDS", default_value = "1", value_parser = seconds)]
    time: Duration,
    /// Look for so many rounds instead: the same plan on any machine
    #[arg(long, value_name = "N", conflicts_with = "time")]
    rounds: Option<u64>,
    /// How often the direction of the cuts may change on the way to a piece
    #[arg(long, value_enum, default_value_t)]
    stages: StagesArg,
    /// Print JSON: every sheet with its pieces in their places
    #[arg(long)]
    json: bool,
}

/// How often the direction of the cuts may change.
#[derive(Clone, Copy, Default, ValueEnum)]
enum StagesArg {
    /// Strips, then pieces
    #[value(name = "2")]
    Two,
    /// Bands, strips, pieces
    #[value(name = "3")]
    Three,
    /// As often as it takes
    #[default]
    Free,
}

/// Longest search that can be asked for, in seconds: a day.
const LONGEST: f64 = 86_400.0;

fn seconds(text: &str) -> Result<Duration, String> {
    let wrong = || format!("give seconds from 0 to {LONGEST}, such as 0.5");
    let seconds: f64 = text.parse().map_err(|_| wrong())?;
    if (0.0..=LONGEST).contains(&seconds) { Ok(Duration::from_secs_f64(seconds)) } else { Err(wrong()) }
}

/// Plans one instance.
pub(super) fn run(args: &Args) -> Outcome {
    let begin = Instant::now();
    let name = args.instance.display();
    let failed = |message: String| {
        complain(format_args!("{name}: {message}"));
        Outcome::Failed
    };
    let text = match fs::read_to_string(&args.instance) {
        Ok(text) => text,
        Err(error) => return failed(open_sentence(&error)),
    };
    let instance = match instance::read(&text) {
        Ok(instance) => instance,
        Err(error) => return failed(error.to_string()),
    };
    let options = Options {
        stages: match args.stages {
            StagesArg::Two => Stages::Two,
            StagesArg::Three => Stages::Three,
            StagesArg::Free => Stages::Free,
        },
        rounds: args.rounds.unwrap_or(u64::MAX),
        ..Options::default()
    };
    let time = args.rounds.is_none().then_some(args.time);
    let plan =
        cutting::plan(&instance.job, &options, &mut |_| time.is_none_or(|time| begin.elapsed() < time));
    let plan = match plan {
        Ok(plan) => plan,
        Err(error) => return failed(error.to_string()),
    };
    let answer = instance::answer(&instance, &plan);
    let text = if args.json {
        match serde_json::to_string(&answer) {
            Ok(json) => json + "\n",
            Err(error) => return failed(error.to_string()),
        }
    } else {
        told(&plan, &answer, instance.scale)
    };
    match say(&text) {
        Ok(()) => Outcome::Fine,
        Err(error) => {
            complain(format_args!("cannot write the result: {error}"));
            Outcome::Failed
        }
    }
}

/// The plan as a person reads it: each sheet's cuts in their order.
fn told(plan: &Plan, answer: &instance::Answer, scale: u32) -> String {
    let mut text = String::new();
    let real = |units: u32| shown(f64::from(units) / f64::from(scale));
    for (number, sheet) in plan.sheets.iter().enumerate() {
        let size = sheet.part.size;
        let _ = writeln!(
            text,
            "Sheet {}: stock {}, {} x {}",
            number + 1,
            sheet.sheet + 1,
            real(size.width),
            real(size.height)
        );
        for (order, cut) in sheet.cuts().iter().enumerate() {
            let side = if cut.columns { "width" } else { "height" };
            let held = format!("{} x {}", real(cut.size.width), real(cut.size.height));
            let setting = real(cut.setting);
            let _ = writeln!(text, "  {}. set {setting}: cut {setting} off the {side} of {held}", order + 1);
        }
        for placed in sheet.placed() {
            let turned = if placed.turned { ", turned" } else { "" };
            let _ = writeln!(
                text,
                "  piece {}: {} x {} at {}, {}{turned}",
                placed.piece + 1,
                real(placed.size.width),
                real(placed.size.height),
                real(placed.x),
                real(placed.y)
            );
        }
    }
    for (piece, missing) in answer.missing.iter().enumerate().filter(|(_, missing)| **missing > 0) {
        let _ = writeln!(text, "No room for {missing} of piece {}", piece + 1);
    }
    let proven = if answer.optimal {
        "no plan can do better".to_owned()
    } else {
        format!("no plan can do better than {}", shown(answer.bound))
    };
    let _ = writeln!(
        text,
        "{}, {} with {} of the trimmer; {} in all, {proven}",
        counted(plan.sheets.len(), "sheet"),
        counted(answer.cuts, "cut"),
        counted(answer.settings.len(), "setting"),
        shown(answer.score)
    );
    if !plan.sheets.is_empty() {
        text.push_str(CAUTION);
    }
    text
}

/// What goes with every list of cuts: safety notes for paper trimmers of two universities (2000, 2025) and a
/// school district (2018).
const CAUTION: &str = "Guard on, fingers behind it, blade down and latched when you stop; the trimmer's own \
                       instructions come first.\n";

/// `1 cut`, `12 cuts`.
fn counted(count: usize, thing: &str) -> String {
    format!("{count} {thing}{}", if count == 1 { "" } else { "s" })
}

/// A length as makers write it where it lies on sixteenths, else as a number.
fn shown(value: f64) -> String {
    let exact = Length::exact(value, layout::Unit::Inch, layout::Step::Position);
    exact.map_or_else(|_| value.to_string(), |length| length.to_string())
}

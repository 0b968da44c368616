//! `eighths cut`: a cutting job in, sheet plans on the standard output.

use std::fmt::Write;
use std::fs;
use std::path::PathBuf;
use std::time::{Duration, Instant};

use clap::ValueEnum;
use cutting::instance::{self, Trimmer};
use cutting::{Goal, Job, Options, Piece, Plan, Rect, Stages};
use layout::Length;

use super::{Outcome, complain, open_sentence, say};

/// Plan how to cut rectangles from sheets, with cuts from edge to edge as a trimmer makes them.
///
/// The instance is JSON: {"objective": "sheets", "rotation": true,
/// "stock": [{"width": 12, "height": 12, "count": null}],
/// "pieces": [{"width": 4, "height": 5.25, "quantity": 4}]}. The objective is "sheets" (fewest),
/// "cost" (cheapest, by each sheet's "cost") or "value" (most, by each piece's "value").
/// A count of null is as many as needed. Pieces may lie turned where "rotation" is true; a piece's
/// own "rotation" goes before that. Lengths are numbers of any one unit.
#[derive(clap::Args)]
#[command(after_help = EXIT_CODES)]
pub(super) struct Args {
    /// File with the pieces and the sheets
    #[arg(long, value_name = "FILE")]
    instance: PathBuf,
    /// Look for a better plan for so many seconds
    #[arg(long, value_name = "SECONDS", default_value = "1", value_parser = seconds, allow_negative_numbers = true)]
    time: Duration,
    /// Look for so many rounds instead: the same plan on any machine
    #[arg(long, value_name = "N", conflicts_with = "time", value_parser = rounds, allow_negative_numbers = true)]
    rounds: Option<u64>,
    /// Width that the blade turns to dust, in the unit of the sizes: 0 for a trimmer's
    #[arg(long, value_name = "WIDTH", default_value = "0", value_parser = width, allow_negative_numbers = true)]
    blade: f64,
    /// Least width the trimmer can hold, in the unit of the sizes: each cut leaves a part at least
    /// this wide on one of its sides
    #[arg(long, value_name = "WIDTH", default_value = "0", value_parser = width, allow_negative_numbers = true)]
    least_strip: f64,
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

const EXIT_CODES: &str = "Exit codes:
  0  every piece has its place (objective \"value\": as many as are worth most)
  1  the file could not be read, or the plan not be written
  2  the command line is wrong
  3  some pieces found no room: the plan for the others was printed";

/// Longest search that can be asked for, in seconds: a day.
const LONGEST: f64 = 86_400.0;

fn seconds(text: &str) -> Result<Duration, String> {
    let wrong = || format!("give seconds from 0 to {LONGEST}, such as 0.5");
    let seconds: f64 = text.parse().map_err(|_| wrong())?;
    if (0.0..=LONGEST).contains(&seconds) { Ok(Duration::from_secs_f64(seconds)) } else { Err(wrong()) }
}

fn rounds(text: &str) -> Result<u64, String> {
    text.parse().map_err(|_| "give a whole number of rounds, 0 or more, such as 20000".to_owned())
}

fn width(text: &str) -> Result<f64, String> {
    let width = text.parse().ok().filter(|width: &f64| width.is_finite() && *width >= 0.0);
    width.ok_or_else(|| "give a width of 0 or more in the unit of the sizes, such as 0.5".to_owned())
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
    let trimmer = Trimmer { kerf: args.blade, least_strip: args.least_strip };
    let instance = match instance::read_for(&text, trimmer) {
        Ok(instance) => instance,
        Err(error) => return failed(error.to_string()),
    };
    let options = Options {
        stages: match args.stages {
            StagesArg::Two => Stages::Two,
            StagesArg::Three => Stages::Three,
            StagesArg::Free => Stages::Free,
        },
        kerf: instance.kerf,
        least_strip: instance.least_strip,
        rounds: args.rounds.unwrap_or(u64::MAX),
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
    if let Err(error) = say(&text) {
        complain(format_args!("cannot write the result: {error}"));
        return Outcome::Failed;
    }
    if instance.job.goal == Goal::MostValue || plan.complete() {
        return Outcome::Fine;
    }
    complain(format_args!("{name}: {}", without_room(&instance.job, &plan, instance.scale)));
    Outcome::Partly
}

/// Which pieces found no room, why, and what helps.
fn without_room(job: &Job, plan: &Plan, scale: u32) -> String {
    let fits = |piece: &Piece| job.stock.iter().any(|s| s.count != Some(0) && piece.fits(s.size));
    let missing = |fitting: bool| -> Vec<String> {
        let pieces = job.pieces.iter().zip(&plan.missing).enumerate();
        pieces
            .filter(|(_, (piece, missing))| **missing > 0 && fits(piece) == fitting)
            .map(|(number, (piece, missing))| {
                format!("{missing} of piece {} ({})", number + 1, sized(piece.size, scale))
            })
            .collect()
    };
    let mut told = Vec::new();
    let (large, left) = (missing(false), missing(true));
    if !large.is_empty() {
        told.push(format!("no sheet is large enough for {}: add a larger one", large.join(", ")));
    }
    if !left.is_empty() {
        told.push(format!("no room was left for {}: add sheets or look longer", left.join(", ")));
    }
    told.join("; ")
}

/// `4 1/4 x 5 1/2`.
fn sized(size: Rect, scale: u32) -> String {
    let real = |units: u32| shown(f64::from(units) / f64::from(scale));
    format!("{} x {}", real(size.width), real(size.height))
}

/// The plan as a person reads it: each sheet's cuts in their order.
fn told(plan: &Plan, answer: &instance::Answer, scale: u32) -> String {
    let mut text = String::new();
    let real = |units: u32| shown(f64::from(units) / f64::from(scale));
    for (number, sheet) in plan.sheets.iter().enumerate() {
        let size = sized(sheet.part.size, scale);
        let _ = writeln!(text, "Sheet {}: stock {}, {size}", number + 1, sheet.sheet + 1);
        for (order, cut) in sheet.cuts().iter().enumerate() {
            let side = if cut.columns { "width" } else { "height" };
            let held = sized(cut.size, scale);
            let setting = real(cut.setting);
            let _ = writeln!(text, "  {}. set {setting}: cut {setting} off the {side} of {held}", order + 1);
        }
        for placed in sheet.placed() {
            let turned = if placed.turned { ", turned" } else { "" };
            let _ = writeln!(
                text,
                "  piece {}: {} at {}, {}{turned}",
                placed.piece + 1,
                sized(placed.size, scale),
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

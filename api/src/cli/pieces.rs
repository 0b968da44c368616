//! `eighths pieces`: a layout record in, what it takes to make it out: a table,
//! JSON, comma-separated values, or pages to print.

use std::fmt::Write;
use std::path::PathBuf;

use layout::{CAUTIONS, CHECK_AGAIN, CHECKED, Class, Layout, Making, capital};

use super::print::{read, write_file};
use super::table::aligned;
use super::{Outcome, complain, say};
use crate::making::Asked;
use crate::print::{self, Paper, card_words, title_words};

/// List what to cut for so many cards of a layout, with advice, the order of assembly and the envelope.
///
/// A LAYOUT.json is a record as the notebook gives it, or what `eighths
/// capture --json` prints.
#[derive(clap::Args)]
#[command(after_help = super::EXIT_CODES)]
pub(super) struct Args {
    /// The layout: a JSON file
    #[arg(value_name = "LAYOUT.json")]
    layout: PathBuf,
    #[command(flatten)]
    asked: Asked,
    /// Print JSON
    #[arg(long, conflicts_with_all = ["csv", "out"])]
    json: bool,
    /// Print comma-separated values for a spreadsheet: the pieces alone
    #[arg(long, conflicts_with = "out")]
    csv: bool,
    /// Write a PDF to print: the cut list and the order of assembly
    #[arg(long, value_name = "FILE.pdf")]
    out: Option<PathBuf>,
    /// Paper of the PDF: letter or a4; if left out, letter for inch cards and A4 for metric ones
    #[arg(long, value_name = "PAPER", value_parser = super::print::paper, requires = "out")]
    paper: Option<Paper>,
}

/// Lists what was asked for.
pub(super) fn run(args: &Args) -> Outcome {
    if args
        .out
        .as_ref()
        .is_some_and(|out| !out.extension().is_some_and(|end| end.eq_ignore_ascii_case("pdf")))
    {
        complain("--out is a file that ends in .pdf");
        return Outcome::WrongUsage;
    }
    let layouts = match read(&args.layout) {
        Ok(layouts) => layouts,
        Err(message) => {
            complain(message);
            return Outcome::Failed;
        }
    };
    let [layout] = &layouts[..] else {
        complain(format_args!(
            "{}: {} layouts in this file: give a file with one",
            args.layout.display(),
            layouts.len()
        ));
        return Outcome::Failed;
    };
    let making = match args.asked.making(layout) {
        Ok(making) => making,
        Err(error) => {
            complain(error);
            return Outcome::WrongUsage;
        }
    };
    if let Some(out) = &args.out {
        let paper = args.paper.unwrap_or(Paper::usual(layout.card.unit));
        let mut pages = print::pieces(layout, &making, paper);
        pages.extend(print::assembly(layout, &making, paper));
        return match print::pdf(&pages, &title_words(layout)) {
            Ok(bytes) => write_file(out, &bytes),
            Err(error) => {
                complain(error);
                Outcome::Failed
            }
        };
    }
    let text = if args.csv {
        making.pieces.csv()
    } else if args.json {
        match serde_json::to_string(&making.json(layout)) {
            Ok(json) => json + "\n",
            Err(error) => {
                complain(error);
                return Outcome::Failed;
            }
        }
    } else {
        told(layout, &making)
    };
    match say(&text) {
        Ok(()) => Outcome::Fine,
        Err(error) => {
            complain(format_args!("cannot write the result: {error}"));
            Outcome::Failed
        }
    }
}

/// The same as a person reads it.
fn told(layout: &Layout, making: &Making) -> String {
    let (pieces, unit) = (&making.pieces, making.pieces.unit);
    let mut text = String::new();
    let _ = writeln!(text, "{}: card {}", title_words(layout), card_words(layout));
    let _ = writeln!(text, "For {} card{}:", pieces.cards, if pieces.cards == 1 { "" } else { "s" });
    let mut rows = vec![["cut", "paper", "size", "then", "for"].map(String::from)];
    for piece in &pieces.pieces {
        let then = [piece.score_words(unit), piece.finish_words(unit)].concat();
        let uses: Vec<&str> = piece.uses.iter().map(|part| part.words.as_str()).collect();
        let count = piece.count.to_string();
        rows.push([count, piece.supply.to_string(), piece.size_words(unit), then, uses.join("; ")]);
    }
    for marks in &pieces.marks {
        let words = format!("to buy or punch: {}", marks.kind.words(marks.count > 1));
        rows.push([marks.count.to_string(), String::new(), String::new(), String::new(), words]);
    }
    aligned(&mut text, &rows);
    let left_out = pieces.left_out.iter().map(|left| capital(&left.words) + ".");
    let advice = making.advice.iter().map(|advice| advice.words(layout));
    let missing = making.no_advice.iter().map(|words| capital(words) + ".");
    part(&mut text, "Before you cut:", left_out.chain(advice).chain(missing));
    let steps = (1..).zip(&making.steps).map(|(number, step)| format!("{number}. {}", step.words));
    part(&mut text, "Put it together:", steps);
    let post = making.post.iter().map(Class::words);
    let checked = (!making.post.is_empty()).then(|| format!("{CHECK_AGAIN} Checked in {CHECKED}."));
    part(&mut text, "Envelope:", making.envelope_words(layout).into_iter().chain(post).chain(checked));
    part(&mut text, "With care:", CAUTIONS.map(str::to_owned).into_iter());
    text
}

/// A head and its lines; nothing where there are none.
fn part(text: &mut String, head: &str, lines: impl Iterator<Item = String>) {
    let mut lines = lines.peekable();
    if lines.peek().is_some() {
        let _ = writeln!(text, "\n{head}");
        for line in lines {
            let _ = writeln!(text, "  {line}");
        }
    }
}

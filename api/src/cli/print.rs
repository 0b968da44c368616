//! `eighths print`: a layout record in, its measured drawing out.

use std::fs;
use std::path::{Path, PathBuf};

use layout::Layout;
use serde_json::Value;

use super::{Outcome, complain, open_sentence};
use crate::body::layout_of;
use crate::print::{self, PER_PAGE, PNG_PX_PER_IN, Paper, PrintError};

/// Print layouts, measured, at true scale.
///
/// A LAYOUT.json is a record as the notebook gives it, or what `eighths
/// capture --json` prints.
#[derive(clap::Args)]
#[command(after_help = super::EXIT_CODES)]
pub(super) struct Args {
    /// Layouts: JSON files
    #[arg(required = true, value_name = "LAYOUT.json")]
    layouts: Vec<PathBuf>,
    /// Where it goes: PDF, SVG or PNG by the ending; SVG and PNG hold one layout
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// Paper of a PDF: letter or a4; if left out, letter for inch cards and A4 for metric ones
    #[arg(long, value_name = "PAPER", value_parser = paper)]
    paper: Option<Paper>,
    /// Layouts on a page of a PDF: 1 at true scale, or 2, 4, 6, 9 small ones
    #[arg(long, value_name = "COUNT", default_value_t = 1)]
    per_page: u32,
}

pub(super) fn paper(name: &str) -> Result<Paper, String> {
    Paper::named(name).ok_or_else(|| "a paper is letter or a4".to_owned())
}

/// Prints what was asked for.
pub(super) fn run(args: &Args) -> Outcome {
    let ending = args.out.extension().and_then(|end| end.to_str()).unwrap_or_default().to_ascii_lowercase();
    if !matches!(ending.as_str(), "pdf" | "svg" | "png") {
        complain("--out is a file that ends in .pdf, .svg or .png");
        return Outcome::WrongUsage;
    }
    let shape = PER_PAGE.into_iter().find(|(count, _)| *count == args.per_page);
    if args.per_page != 1 && shape.is_none() {
        complain("--per-page is 1, 2, 4, 6 or 9");
        return Outcome::WrongUsage;
    }
    let mut layouts = Vec::new();
    for path in &args.layouts {
        match read(path) {
            Ok(read) => layouts.extend(read),
            Err(message) => {
                complain(message);
                return Outcome::Failed;
            }
        }
    }
    let Some(first) = layouts.first() else {
        complain("there is no layout in these files: nothing is printed");
        return Outcome::Failed;
    };
    if layouts.len() > 1 && ending != "pdf" {
        complain("a .svg or .png holds one layout: give one, or print a .pdf");
        return Outcome::WrongUsage;
    }
    let title = print::title_words(first);
    let bytes: Result<Vec<u8>, PrintError> = match ending.as_str() {
        "svg" => print::svg(&print::picture(first), &title).map(String::into_bytes),
        "png" => print::png(&print::picture(first), PNG_PX_PER_IN),
        _ => {
            let paper = args.paper.unwrap_or(Paper::usual(first.card.unit));
            let pages = match shape {
                Some(shape) => print::booklet(&layouts, paper, shape),
                None => layouts.iter().flat_map(|layout| print::measured(layout, paper)).collect(),
            };
            print::pdf(&pages, &title)
        }
    };
    match bytes {
        Ok(bytes) => write_file(&args.out, &bytes),
        Err(error) => {
            complain(error);
            Outcome::Failed
        }
    }
}

/// Keeps a file that was made.
pub(super) fn write_file(out: &Path, bytes: &[u8]) -> Outcome {
    match fs::write(out, bytes) {
        Ok(()) => Outcome::Fine,
        Err(error) => {
            complain(format!("cannot write {} ({error}): give a place that can be written", out.display()));
            Outcome::Failed
        }
    }
}

/// The layouts of a file: one record, or several under `layouts`.
pub(super) fn read(path: &Path) -> Result<Vec<Layout>, String> {
    let told = |what: &str| format!("{}: {what}", path.display());
    let text = fs::read_to_string(path).map_err(|error| told(&open_sentence(&error)))?;
    let mut value: Value = serde_json::from_str(&text).map_err(|error| {
        let (line, column) = (error.line(), error.column());
        told(&format!("this is not JSON from line {line}, column {column} on: {FROM_THE_NOTEBOOK}"))
    })?;
    let records = match value.get_mut("layouts").map(Value::take) {
        Some(Value::Array(records)) => records,
        _ => vec![value],
    };
    let layout = |record: Value| {
        if !is_record(&record) {
            return Err(told(&format!("this is JSON, but no layout: {FROM_THE_NOTEBOOK}")));
        }
        layout_of(record).map_err(|faults| told(&format!("this layout cannot be used: {faults}")))
    };
    records.into_iter().map(layout).collect()
}

const FROM_THE_NOTEBOOK: &str =
    "give a layout as the notebook saves it, or what `eighths capture --json` prints";

/// Whether it is meant to be a layout at all: every one has a card.
fn is_record(value: &Value) -> bool {
    value.get("card").is_some_and(Value::is_object)
}

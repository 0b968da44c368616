//! `eighths capture`: photos in, layouts on the standard output.

use std::ffi::OsStr;
use std::fs;
use std::io;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};

use ::capture::{CaptureError, Document, Frame, Limits, NoTrace, Options, Trace};
use clap::ValueEnum;
use image::ImageFormat;
use layout::{Card, Layout};
use serde_json::{Value, json};

use super::stages::StageFolder;
use super::{Outcome, complain, open_sentence, say, table};
use crate::body::USUAL_CARD;

/// Read photos, scans and PDFs of layouts and print what was measured.
///
/// With --json one photo gives {"layouts": [LAYOUT, …]}; several photos give
/// one line each, {"photo": NAME, "layouts": [LAYOUT, …]} or
/// {"photo": NAME, "error": SENTENCE}. A document of several pages gives the
/// layouts of all of them, and "pages": [{"page": 1, "layouts": 2}, …] says
/// how many are of which; a page without any has "error" instead.
#[derive(clap::Args)]
#[command(after_help = super::EXIT_CODES)]
pub(super) struct Args {
    /// Layouts as JPEG, PNG, WebP, TIFF, HEIC or PDF
    #[arg(required = true, value_name = "PHOTO")]
    photos: Vec<PathBuf>,
    /// Page of a PDF or TIFF, from 1; all pages if left out
    #[arg(long, value_name = "N")]
    page: Option<NonZeroUsize>,
    /// Card the drawing is meant for: A1, A2, A6, A7 (5x7), A8, A9, A10, square, square-5, slimline,
    /// iso-a5, iso-a6, iso-dl, or a size like 4x6 or 100x150mm
    #[arg(long, value_name = "CARD", default_value = USUAL_CARD, allow_hyphen_values = true)]
    card: Card,
    /// Where the card is in the picture
    #[arg(long, value_enum, default_value_t)]
    frame: FrameArg,
    /// Do not read what is written: measure the drawing alone
    #[arg(long)]
    no_labels: bool,
    /// Tell of each size how it was measured and what spoke for it
    #[arg(long, conflicts_with = "json")]
    why: bool,
    /// Print JSON instead of a table; it has the reasons of each size in `capture.measured`
    #[arg(long)]
    json: bool,
    /// Write the photo with what was read drawn over it; PNG or JPEG by the file's ending (one page only)
    #[arg(long, value_name = "FILE")]
    overlay: Option<PathBuf>,
    /// Write a picture of each stage of the reading and their times into a folder (one page only)
    #[arg(long, value_name = "DIR")]
    stages: Option<PathBuf>,
}

/// Where the card is in the picture.
#[derive(Clone, Copy, Default, ValueEnum)]
enum FrameArg {
    /// Find every card outline on the page
    #[default]
    Outline,
    /// The whole picture is the card: for drawings with no outline
    Photo,
}

/// What was read on a page.
struct Page {
    /// Its number, from 1, where the document has several.
    number: Option<usize>,
    layouts: Result<Vec<Layout>, PhotoError>,
}

/// Why one photo gave nothing.
#[derive(Debug, thiserror::Error)]
enum PhotoError {
    #[error("{0}")]
    Open(String),
    #[error(transparent)]
    Capture(#[from] CaptureError),
    #[error("--overlay and --stages take one page, and there are {0}: say which with --page")]
    OnePage(usize),
    #[error("cannot write {} ({source}): give a place that can be written", path.display())]
    Write { path: PathBuf, source: io::Error },
}

/// Reads each photo; the others go on when one fails.
pub(super) fn run(args: &Args) -> Outcome {
    let overlay_format = match wrong_usage(args) {
        Ok(format) => format,
        Err(message) => {
            complain(message);
            return Outcome::WrongUsage;
        }
    };
    let several = args.photos.len() > 1;
    let mut outcome = Outcome::Fine;
    for (index, path) in args.photos.iter().enumerate() {
        let name = path.display().to_string();
        let pages = read(path, args, overlay_format).unwrap_or_else(|error| vec![Page::alone(Err(error))]);
        for Page { number, layouts } in &pages {
            let Err(error) = layouts else { continue };
            match number {
                Some(number) => complain(format_args!("{name}, page {number}: {error}")),
                None => complain(format_args!("{name}: {error}")),
            }
            outcome = Outcome::Failed;
        }
        // A photo alone that gave nothing is told above, and that is all.
        let nothing = pages.iter().all(|page| page.layouts.is_err());
        let name = several.then_some(name.as_str());
        let text = match (args.json, name) {
            (true, None) | (false, _) if nothing => continue,
            (true, name) => record(name, &pages).to_string() + "\n",
            (false, name) => {
                let gap = if index > 0 { "\n" } else { "" };
                gap.to_owned() + &blocks(name, &pages, args.why)
            }
        };
        if let Err(error) = say(&text) {
            complain(format_args!("cannot write the result: {error}"));
            return Outcome::Failed;
        }
    }
    outcome
}

/// A photo's line of JSON.
fn record(name: Option<&str>, pages: &[Page]) -> Value {
    let mut record = match pages {
        [Page { number: None, layouts: Err(error) }] => json!({"error": error.to_string()}),
        _ => {
            json!({"layouts": pages.iter().flat_map(|page| page.layouts.iter().flatten()).collect::<Vec<_>>()})
        }
    };
    let of_pages = pages.iter().filter_map(|Page { number, layouts }| {
        number.map(|number| match layouts {
            Ok(layouts) => json!({"page": number, "layouts": layouts.len()}),
            Err(error) => json!({"page": number, "error": error.to_string()}),
        })
    });
    let of_pages: Vec<Value> = of_pages.collect();
    if !of_pages.is_empty() {
        record["pages"] = of_pages.into();
    }
    if let Some(name) = name {
        record["photo"] = name.into();
    }
    record
}

/// A photo's tables, under its name and its pages' numbers where there are several.
fn blocks(name: Option<&str>, pages: &[Page], why: bool) -> String {
    let mut text = String::new();
    for Page { number, layouts } in pages {
        let Ok(layouts) = layouts else { continue };
        let heading = match (name, number) {
            (Some(name), Some(number)) => Some(format!("{name}, page {number}")),
            (None, Some(number)) => Some(format!("Page {number}")),
            (name, None) => name.map(str::to_owned),
        };
        if !text.is_empty() {
            text.push('\n');
        }
        text += &table::page(heading.as_deref(), layouts, why);
    }
    text
}

/// What clap cannot check; gives the overlay's format.
fn wrong_usage(args: &Args) -> Result<Option<ImageFormat>, String> {
    if args.photos.len() > 1 && (args.overlay.is_some() || args.stages.is_some()) {
        return Err("--overlay and --stages take one photo: give the photos one by one".to_owned());
    }
    let Some(overlay) = &args.overlay else { return Ok(None) };
    let ending = overlay.extension().and_then(OsStr::to_str).unwrap_or_default().to_ascii_lowercase();
    let format = match ending.as_str() {
        "png" => ImageFormat::Png,
        "jpg" | "jpeg" => ImageFormat::Jpeg,
        _ => return Err("--overlay writes a PNG or JPEG: let the name end in .png or .jpg".to_owned()),
    };
    let same = |photo: &PathBuf| match (fs::canonicalize(photo), fs::canonicalize(overlay)) {
        (Ok(photo), Ok(overlay)) => photo == overlay,
        _ => false,
    };
    if args.photos.iter().any(same) {
        return Err("--overlay would write over the photo: give another name".to_owned());
    }
    Ok(Some(format))
}

impl Page {
    /// The only page that there is.
    fn alone(layouts: Result<Vec<Layout>, PhotoError>) -> Page {
        Page { number: None, layouts }
    }
}

/// Reads the pages that were asked for; the others go on when one fails.
fn read(path: &Path, args: &Args, overlay_format: Option<ImageFormat>) -> Result<Vec<Page>, PhotoError> {
    let bytes = fs::read(path).map_err(|error| PhotoError::Open(open_sentence(&error)))?;
    let document = Document::open(&bytes, &Limits::default())?;
    let count = document.pages();
    let indices = match args.page {
        Some(page) => page.get() - 1..page.get(),
        None => 0..count,
    };
    if indices.len() > 1 && (args.overlay.is_some() || args.stages.is_some()) {
        return Err(PhotoError::OnePage(count));
    }
    let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let pages = indices.map(|index| {
        let number = (count > 1).then_some(index + 1);
        // As a link to a page of a PDF names it (RFC 8118, section 3).
        let name = number.map_or_else(|| name.clone(), |number| format!("{name}#page={number}"));
        Page { number, layouts: read_page(&document, index, &name, args, overlay_format) }
    });
    Ok(pages.collect())
}

fn read_page(
    document: &Document,
    index: usize,
    name: &str,
    args: &Args,
    overlay_format: Option<ImageFormat>,
) -> Result<Vec<Layout>, PhotoError> {
    // Opened first, so that decoding counts as the first stage.
    let mut stages = args.stages.as_deref().map(StageFolder::open).transpose().map_err(write_error)?;
    let photo = document.page(index)?;
    let frame = match args.frame {
        FrameArg::Outline => Frame::Outline,
        FrameArg::Photo => Frame::WholePhoto,
    };
    let options = Options { card: args.card.clone(), frame, labels: !args.no_labels };
    let trace: &mut dyn Trace = match &mut stages {
        Some(stages) => stages,
        None => &mut NoTrace,
    };
    let result = ::capture::read(&photo, &options, trace);
    // What the stages saw is wanted most when nothing was found.
    if let Some(stages) = stages {
        stages.close().map_err(write_error)?;
    }
    let mut layouts = result?;
    for capture in layouts.iter_mut().filter_map(|layout| layout.capture.as_mut()) {
        name.clone_into(&mut capture.photo);
    }
    if let (Some(overlay), Some(format)) = (&args.overlay, overlay_format) {
        ::capture::overlay(&photo, &layouts)
            .save_with_format(overlay, format)
            .map_err(|error| PhotoError::Write { path: overlay.clone(), source: io::Error::other(error) })?;
    }
    Ok(layouts)
}

fn write_error((path, source): (PathBuf, io::Error)) -> PhotoError {
    PhotoError::Write { path, source }
}

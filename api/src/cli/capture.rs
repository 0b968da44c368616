//! `eighths capture`: photos in, layouts on the standard output.

use std::ffi::OsStr;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use ::capture::{CaptureError, Frame, Limits, NoTrace, Options, Photo, Trace};
use clap::ValueEnum;
use image::ImageFormat;
use layout::{Card, Layout};
use serde_json::json;

use super::stages::StageFolder;
use super::{Outcome, complain, open_sentence, say, table};
use crate::body::USUAL_CARD;

/// Read photos of layouts and print what was measured.
///
/// With --json one photo gives {"layouts": [LAYOUT, …]}; several photos give
/// one line each, {"photo": NAME, "layouts": [LAYOUT, …]} or
/// {"photo": NAME, "error": SENTENCE}.
#[derive(clap::Args)]
#[command(after_help = super::EXIT_CODES)]
pub(super) struct Args {
    /// JPEG, PNG, WebP or TIFF pictures of layouts
    #[arg(required = true, value_name = "PHOTO")]
    photos: Vec<PathBuf>,
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
    /// Write the photo with what was read drawn over it; PNG or JPEG by the file's ending (one photo only)
    #[arg(long, value_name = "FILE")]
    overlay: Option<PathBuf>,
    /// Write a picture of each stage of the reading and their times into a folder (one photo only)
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

/// Why one photo gave nothing.
#[derive(Debug, thiserror::Error)]
enum PhotoError {
    #[error("{0}")]
    Open(String),
    #[error(transparent)]
    Capture(#[from] CaptureError),
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
        let text = match read(path, args, overlay_format) {
            Ok(layouts) if args.json && several => {
                json!({"photo": name, "layouts": layouts}).to_string() + "\n"
            }
            Ok(layouts) if args.json => json!({"layouts": layouts}).to_string() + "\n",
            Ok(layouts) => {
                let gap = if index > 0 { "\n" } else { "" };
                format!("{gap}{}", table::page(several.then_some(name.as_str()), &layouts, args.why))
            }
            Err(error) => {
                complain(format_args!("{name}: {error}"));
                outcome = Outcome::Failed;
                if !(args.json && several) {
                    continue;
                }
                json!({"photo": name, "error": error.to_string()}).to_string() + "\n"
            }
        };
        if let Err(error) = say(&text) {
            complain(format_args!("cannot write the result: {error}"));
            return Outcome::Failed;
        }
    }
    outcome
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

fn read(path: &Path, args: &Args, overlay_format: Option<ImageFormat>) -> Result<Vec<Layout>, PhotoError> {
    let mut stages = args.stages.as_deref().map(StageFolder::open).transpose().map_err(write_error)?;
    let bytes = fs::read(path).map_err(|error| PhotoError::Open(open_sentence(&error)))?;
    let photo = Photo::decode(&bytes, &Limits::default())?;
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
        capture.photo = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
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

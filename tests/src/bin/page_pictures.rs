//! Writes the pages of a document as the reader sees them, for the checks
//! against outside programs: `page-pictures FILE DIR` leaves `DIR/1.png`,
//! `DIR/2.png` and so on, and prints a line of JSON for each page, with what
//! is wrong where there is no picture, and how long it took to decode.
//! Without `DIR` nothing is written.

#![expect(clippy::print_stdout, reason = "the lines are what it is for")]

use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::Instant;
use std::{env, fs};

use capture::{Document, Limits};
use serde_json::json;

fn main() -> ExitCode {
    let mut arguments = env::args_os().skip(1).map(PathBuf::from);
    let Some(file) = arguments.next() else {
        eprintln!("page-pictures: say which file: page-pictures FILE [DIR]");
        return ExitCode::from(2);
    };
    match write_pages(&file, arguments.next().as_deref()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            println!("{}", json!({"error": error.to_string()}));
            ExitCode::FAILURE
        }
    }
}

fn write_pages(file: &Path, folder: Option<&Path>) -> Result<(), Box<dyn std::error::Error>> {
    let bytes = fs::read(file)?;
    let document = Document::open(&bytes, &Limits::default())?;
    let format = document.format().to_string();
    for index in 0..document.pages() {
        let start = Instant::now();
        let page = document.page(index);
        let seconds = start.elapsed().as_secs_f64();
        let line = match page {
            Ok(photo) => {
                let [width, height] = photo.size_px();
                if let Some(folder) = folder {
                    photo.pixels().save(folder.join(format!("{}.png", index + 1)))?;
                }
                json!({"format": format, "page": index + 1, "width": width, "height": height, "seconds": seconds})
            }
            Err(error) => json!({"format": format, "page": index + 1, "error": error.to_string()}),
        };
        println!("{line}");
    }
    Ok(())
}

//! `eighths export` and `eighths backup`: the whole notebook as one file.

use std::path::PathBuf;

use super::serve::usual_folder;
use super::{Outcome, complain, say};
use crate::archive::{self, ArchiveError};

/// Write the whole notebook to one file in open formats: JSON, and the pictures as they came.
///
/// `eighths import FILE` into an empty folder makes the same notebook of it again. May be used while
/// the notebook is served.
#[derive(clap::Args)]
#[command(after_help = super::EXIT_CODES)]
pub(super) struct ExportArgs {
    /// The zip archive to write; it must not be there yet
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Where the notebook is; the platform's place for data if left out
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
}

/// Write an exact copy of the data folder to one file, while the notebook is served or not.
///
/// It is a zip archive: unpack it into an empty folder and serve that with --data.
#[derive(clap::Args)]
#[command(after_help = super::EXIT_CODES)]
pub(super) struct BackupArgs {
    /// The zip archive to write; it must not be there yet
    #[arg(value_name = "FILE")]
    file: PathBuf,
    /// Where the notebook is; the platform's place for data if left out
    #[arg(long, value_name = "DIR")]
    data: Option<PathBuf>,
}

/// Writes the notebook in open formats.
pub(super) fn export(args: &ExportArgs) -> Outcome {
    write(args.data.clone(), |data| {
        let layouts = archive::export(data, &args.file)?;
        Ok(format!("{layouts} layouts with all their versions are in {}\n", args.file.display()))
    })
}

/// Writes a copy of the data folder.
pub(super) fn backup(args: &BackupArgs) -> Outcome {
    write(args.data.clone(), |data| {
        let photos = archive::backup(data, &args.file)?;
        Ok(format!("the notebook with {photos} photos is in {}\n", args.file.display()))
    })
}

fn write(
    data: Option<PathBuf>,
    job: impl FnOnce(&std::path::Path) -> Result<String, ArchiveError>,
) -> Outcome {
    let Some(data) = data.or_else(usual_folder) else {
        complain("this system has no place for data: say where the notebook is with --data DIR");
        return Outcome::WrongUsage;
    };
    match job(&data) {
        Ok(words) => {
            // Who does not read it has the exit code.
            let _ = say(&words);
            Outcome::Fine
        }
        Err(error) => {
            complain(error);
            Outcome::Failed
        }
    }
}

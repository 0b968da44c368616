//! What an archive of a notebook holds. It is a zip archive (APPNOTE 6.3) with
//! `manifest.json` first, which names every other file with its size and hash:
//!
//! - `layouts/12.json`, `papers/3.json`, `batches/2.json`: each with all its
//!   versions, in the records that the service's own description explains
//! - `photos.json`: which photo is which page of which file
//! - `photos/<sha256>.<ending>`: the files as they came

use std::io;
use std::path::PathBuf;

use serde::{Deserialize, Serialize};
use zip::result::ZipError;

use crate::store::{Noun, StoreError};

/// The first words of every manifest.
pub(super) const FORMAT: &str = "eighths notebook";
/// The form of archives that this program writes and reads.
pub(super) const FORM: u32 = 1;
/// The manifest's name in the archive.
pub(super) const MANIFEST: &str = "manifest.json";
/// The name of the list of photos.
pub(super) const PHOTOS: &str = "photos.json";

/// The manifest.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Manifest {
    /// Says what this is.
    pub(super) format: String,
    /// Its form.
    pub(super) form: u32,
    /// The program that wrote it.
    pub(super) program: String,
    /// Every other file, in the order they stand in the archive.
    pub(super) files: Vec<Listed>,
}

/// A file of the archive.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Listed {
    /// Its name.
    pub(super) name: String,
    /// Its size in bytes.
    pub(super) bytes: u64,
    /// Its SHA-256 in hexadecimal digits.
    pub(super) sha256: String,
}

/// Why an archive was not written or not taken in.
#[derive(Debug, thiserror::Error)]
pub(crate) enum ArchiveError {
    /// The notebook failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The archive's file cannot be written.
    #[error("cannot write {} ({source}): give a place that can be written and has room", path.display())]
    Write {
        /// The file.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// There is a file of that name.
    #[error("{} is there already: give another name, so that nothing is written over", .0.display())]
    Exists(PathBuf),
    /// A notebook that is not empty.
    #[error("this is a whole notebook: import it into an empty folder, with --data NEW_FOLDER")]
    NotEmpty,
    /// A photo's file is not there any more.
    #[error("the photo {0} is missing from the data folder: nothing was written; put a backup's copy back")]
    PhotoMissing(String),
    /// Not what an archive of a notebook is.
    #[error("this archive of a notebook cannot be used ({0}): nothing was taken in")]
    Unsound(String),
    /// An archive of a later program.
    #[error("this archive was written by a newer eighths (form {0}): use that program")]
    Newer(u32),
}

impl From<ZipError> for ArchiveError {
    fn from(error: ZipError) -> ArchiveError {
        ArchiveError::Unsound(error.to_string())
    }
}

/// The folder of a noun's files in the archive.
pub(super) fn folder(noun: Noun) -> &'static str {
    match noun {
        Noun::Layout => "layouts",
        Noun::Paper => "papers",
        Noun::Batch => "batches",
    }
}

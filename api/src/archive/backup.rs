//! An exact copy of the data folder, made while the service goes on: the
//! database as it was at one moment, and every photo it names. Unpacked into an
//! empty folder it is the notebook again.

use std::io::{self, BufWriter, Write};
use std::path::Path;

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::export::{add_file, written_whole};
use super::manifest::ArchiveError;
use crate::store::{Snapshot, StoreError};

/// Writes a copy of the data folder. Gives how many photos are in it.
pub(crate) fn backup(data: &Path, to: &Path) -> Result<usize, ArchiveError> {
    let failed = |source: io::Error| ArchiveError::Write { path: to.to_owned(), source };
    let made = tempfile::tempdir().map_err(failed)?;
    let copy = made.path().join("notebook.sqlite");
    Snapshot::of(data)?.copy_database(&copy)?;
    // Photos are named by the copy, so that none is missing that it has; files
    // are only ever added, so that all of them are there.
    let snapshot = Snapshot::of(made.path())?;
    let mut files: Vec<String> = snapshot.photos()?.into_iter().map(|photo| photo.file).collect();
    files.dedup();
    let sent = data.join("imports");
    drop(snapshot);
    written_whole(to, |file| {
        let mut zip = ZipWriter::new(BufWriter::new(file));
        let packed = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
        add_file(&mut zip, "notebook.sqlite", packed, &copy).map_err(failed)?;
        let stored = packed.compression_method(CompressionMethod::Stored);
        for name in &files {
            let from = data.join("photos").join(name);
            if !from.is_file() {
                return Err(ArchiveError::PhotoMissing(name.clone()));
            }
            add_file(&mut zip, &format!("photos/{name}"), stored, &from).map_err(failed)?;
        }
        // What waits for an import that goes on; it may have been read meanwhile.
        for name in waiting(&sent) {
            let from = sent.join(&name);
            if from.is_file() {
                add_file(&mut zip, &format!("imports/{name}"), stored, &from).map_err(failed)?;
            }
        }
        zip.finish().map_err(io::Error::other).map_err(failed)?.flush().map_err(failed)?;
        Ok(files.len())
    })
    .map_err(|error: ArchiveError| match error {
        ArchiveError::Store(StoreError::File(source)) => failed(source),
        error => error,
    })
}

/// Files of the folder of what was sent, within it.
fn waiting(sent: &Path) -> Vec<String> {
    let inside = walkdir::WalkDir::new(sent).min_depth(2).max_depth(2).sort_by_file_name();
    let names = inside.into_iter().filter_map(|entry| {
        let entry = entry.ok()?;
        let parent = entry.path().parent()?.file_name()?.to_str()?.to_owned();
        // What is being received is of no import yet.
        parent.parse::<i64>().ok()?;
        Some(format!("{parent}/{}", entry.file_name().to_str()?))
    });
    names.collect()
}

//! Photos: files in `photos/`, named by content, and a row for each page of one
//! that is kept. Pictures made for the screen lie in `screen/` and may be thrown
//! away at any time.

use std::fs::{self, File};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use rusqlite::{OptionalExtension, Row, Transaction};
use sha2::{Digest, Sha256};

use super::{Store, StoreError, sync_folder};

/// A photo that is kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct StoredPhoto {
    /// The SHA-256 of its file, 64 hexadecimal digits; for a page after the first
    /// a dash and its number follow.
    pub(crate) id: String,
    /// Width of the upright picture in pixels.
    pub(crate) width: u32,
    /// Height of the upright picture in pixels.
    pub(crate) height: u32,
}

const BEING_WRITTEN: &str = ".part";

impl Store {
    /// Keeps a page of a file, counted from 1. Keeping it again changes nothing.
    pub(crate) fn keep_photo(
        &self,
        bytes: &[u8],
        page: u32,
        size_px: [u32; 2],
    ) -> Result<StoredPhoto, StoreError> {
        let sha256 = hex(&Sha256::digest(bytes));
        // Even where it is known: its file may have been lost since.
        let file = self.keep_file(bytes, &sha256)?;
        if let Some(photo) = self.find_photo(&photo_id(&sha256, page))? {
            return Ok(photo);
        }
        self.writing(|transaction| put_photo(transaction, &file, page, size_px))
    }

    /// Writes a file into the folder of photos, under its hash, and syncs it,
    /// unless it is there as it should be.
    pub(crate) fn keep_file(&self, bytes: &[u8], sha256: &str) -> Result<PhotoFile, StoreError> {
        let folder = self.folder.join("photos");
        let name = format!("{sha256}.{}", extension(bytes));
        if !fs::read(folder.join(&name)).is_ok_and(|kept| kept == bytes) {
            write_whole(&folder, &name, bytes, Durable::Yes)?;
        }
        Ok(PhotoFile { sha256: sha256.to_owned(), name, bytes: bytes.len() })
    }

    /// The photo of this id.
    pub(crate) fn photo(&self, id: &str) -> Result<StoredPhoto, StoreError> {
        self.find_photo(id)?.ok_or_else(|| no_photo(id))
    }

    /// The bytes of the file that a photo is a page of, and which page, from 1.
    pub(crate) fn photo_file(&self, id: &str) -> Result<(Vec<u8>, u32), StoreError> {
        let found: Option<(String, u32)> = self.reading(|connection| {
            Ok(connection
                .query_row("SELECT file, page FROM photos WHERE id = ?1", [id], |row| {
                    Ok((row.get(0)?, row.get(1)?))
                })
                .optional()?)
        })?;
        let (file, page) = found.ok_or_else(|| no_photo(id))?;
        match fs::read(self.folder.join("photos").join(&file)) {
            Ok(bytes) => Ok((bytes, page)),
            Err(error) if error.kind() == ErrorKind::NotFound => Err(StoreError::PhotoGone(file)),
            Err(error) => Err(error.into()),
        }
    }

    /// A picture for the screen that was made before.
    pub(crate) fn screen_picture(&self, name: &str) -> Option<Vec<u8>> {
        fs::read(self.screen_path(name)).ok()
    }

    /// Keeps a picture for the screen for the next time.
    pub(crate) fn keep_screen_picture(&self, name: &str, bytes: &[u8]) -> Result<(), StoreError> {
        write_whole(&self.folder.join("screen"), name, bytes, Durable::No)
    }

    fn screen_path(&self, name: &str) -> PathBuf {
        self.folder.join("screen").join(name)
    }

    fn find_photo(&self, id: &str) -> Result<Option<StoredPhoto>, StoreError> {
        let from_row =
            |row: &Row<'_>| Ok(StoredPhoto { id: row.get(0)?, width: row.get(1)?, height: row.get(2)? });
        self.reading(|connection| {
            Ok(connection
                .query_row("SELECT id, width, height FROM photos WHERE id = ?1", [id], from_row)
                .optional()?)
        })
    }
}

/// A file that lies in the folder of photos.
#[derive(Debug)]
pub(crate) struct PhotoFile {
    sha256: String,
    name: String,
    bytes: usize,
}

/// The id of a page, counted from 1, of a file.
pub(super) fn photo_id(sha256: &str, page: u32) -> String {
    if page <= 1 { sha256.to_owned() } else { format!("{sha256}-{page}") }
}

/// Writes down that a page of a file is a photo of the notebook.
pub(super) fn put_photo(
    transaction: &Transaction<'_>,
    file: &PhotoFile,
    page: u32,
    [width, height]: [u32; 2],
) -> Result<StoredPhoto, StoreError> {
    let id = photo_id(&file.sha256, page);
    transaction.execute(
        "INSERT INTO photos (id, file, page, bytes, width, height, added_at)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, strftime('%Y-%m-%dT%H:%M:%SZ', 'now'))
         ON CONFLICT DO NOTHING",
        (&id, &file.name, page, i64::try_from(file.bytes).unwrap_or(i64::MAX), width, height),
    )?;
    Ok(StoredPhoto { id, width, height })
}

fn no_photo(id: &str) -> StoreError {
    StoreError::NoPhoto(id.chars().take(70).collect())
}

/// Whether a file has to survive a power cut.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Durable {
    Yes,
    No,
}

/// Writes a file so that its name only ever shows whole content.
pub(super) fn write_whole(
    folder: &Path,
    name: &str,
    bytes: &[u8],
    durable: Durable,
) -> Result<(), StoreError> {
    static COUNT: AtomicU64 = AtomicU64::new(0);
    let count = COUNT.fetch_add(1, Ordering::Relaxed);
    let part = folder.join(format!("{name}.{count}{BEING_WRITTEN}"));
    let written = (|| {
        let mut file = File::create(&part)?;
        file.write_all(bytes)?;
        if durable == Durable::Yes {
            file.sync_all()?;
        }
        fs::rename(&part, folder.join(name))
    })();
    if let Err(error) = written {
        // Best effort: what stays behind is swept at the next start.
        let _ = fs::remove_file(&part);
        return Err(error.into());
    }
    if durable == Durable::Yes { sync_folder(folder) } else { Ok(()) }
}

/// Removes what a killed process left half-written.
pub(super) fn sweep(folder: &Path) -> Result<(), StoreError> {
    for part in ["photos", "screen"] {
        for entry in fs::read_dir(folder.join(part))? {
            let path = entry?.path();
            if path.as_os_str().as_encoded_bytes().ends_with(BEING_WRITTEN.as_bytes()) {
                fs::remove_file(path)?;
            }
        }
    }
    Ok(())
}

/// The ending that lets other programs open the file.
fn extension(bytes: &[u8]) -> &'static str {
    image::guess_format(bytes)
        .ok()
        .and_then(|format| format.extensions_str().first().copied())
        .unwrap_or("bin")
}

/// Bytes as hexadecimal digits.
pub(crate) fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write;
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_photo_is_kept_once_under_the_hash_of_its_bytes() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(folder.path()).unwrap();
        let kept = store.keep_photo(b"abc", 1, [3, 1]).unwrap();
        // SHA-256 of "abc": FIPS 180-2, appendix B.1.
        assert_eq!(kept.id, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
        assert_eq!(store.keep_photo(b"abc", 1, [3, 1]).unwrap(), kept);
        assert_eq!(store.photo(&kept.id).unwrap(), kept);
        assert_eq!(store.photo_file(&kept.id).unwrap(), (b"abc".to_vec(), 1));
        let second = store.keep_photo(b"abc", 2, [4, 1]).unwrap();
        assert_eq!(second.id, format!("{}-2", kept.id));
        assert_eq!(store.photo_file(&second.id).unwrap(), (b"abc".to_vec(), 2));
        assert_eq!(fs::read_dir(folder.path().join("photos")).unwrap().count(), 1);
        assert!(matches!(store.photo("../lock"), Err(StoreError::NoPhoto(_))));
    }

    #[test]
    fn what_was_half_written_is_swept_at_the_next_start() {
        let folder = tempfile::tempdir().unwrap();
        drop(Store::open(folder.path()).unwrap());
        let half = folder.path().join("photos/abc.jpg.0.part");
        fs::write(&half, b"ab").unwrap();
        drop(Store::open(folder.path()).unwrap());
        assert!(!half.exists());
    }
}

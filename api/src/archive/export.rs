//! Writing a notebook in open formats.

use std::fs::{self, File};
use std::io::{self, BufWriter, Seek, Write};
use std::path::Path;

use sha2::{Digest, Sha256};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use super::manifest::{ArchiveError, FORM, FORMAT, Listed, MANIFEST, Manifest, PHOTOS, folder};
use crate::store::{NOUNS, Snapshot, hex};

/// Writes the notebook of a data folder, served or not, as it is at this moment.
/// Gives how many layouts are in it, those that were deleted among them.
pub(crate) fn export(data: &Path, to: &Path) -> Result<usize, ArchiveError> {
    let snapshot = Snapshot::of(data)?;
    snapshot.hold()?;
    written_whole(to, |file| write(&snapshot, file, to))
}

/// Calls `write` with a file beside `to`, and gives it that name when it is whole.
pub(super) fn written_whole<T>(
    to: &Path,
    write: impl FnOnce(&mut File) -> Result<T, ArchiveError>,
) -> Result<T, ArchiveError> {
    let failed = |source| ArchiveError::Write { path: to.to_owned(), source };
    if to.exists() {
        return Err(ArchiveError::Exists(to.to_owned()));
    }
    let folder = match to.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut part = tempfile::NamedTempFile::new_in(folder).map_err(failed)?;
    let result = write(part.as_file_mut())?;
    part.as_file().sync_all().map_err(failed)?;
    part.persist_noclobber(to).map_err(|error| failed(error.error))?;
    if cfg!(unix) {
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(failed)?;
    }
    Ok(result)
}

fn write(snapshot: &Snapshot, file: &mut File, to: &Path) -> Result<usize, ArchiveError> {
    let failed = |source: io::Error| ArchiveError::Write { path: to.to_owned(), source };
    let json = |error: serde_json::Error| ArchiveError::Store(error.into());
    // The manifest stands first, so everything is looked at twice: its hash, then its bytes.
    let photos = snapshot.photos()?;
    let mut files: Vec<&str> = photos.iter().map(|photo| photo.file.as_str()).collect();
    files.dedup();
    let mut listed = Vec::new();
    let mut list = |name: String, bytes: &[u8]| {
        listed.push(Listed { name, bytes: bytes.len() as u64, sha256: hex(&Sha256::digest(bytes)) });
    };
    let mut layouts = 0;
    for noun in NOUNS {
        for id in snapshot.ids(noun)? {
            layouts += usize::from(folder(noun) == "layouts");
            let text = serde_json::to_vec_pretty(&snapshot.history(noun, id)?).map_err(json)?;
            list(format!("{}/{id}.json", folder(noun)), &text);
        }
    }
    let photo_list = serde_json::to_vec_pretty(&photos).map_err(json)?;
    list(PHOTOS.to_owned(), &photo_list);
    for file in &files {
        list(format!("photos/{file}"), &photo(snapshot, file)?);
    }
    let mut zip = ZipWriter::new(BufWriter::new(file));
    let manifest = Manifest {
        format: FORMAT.to_owned(),
        form: FORM,
        program: concat!("eighths ", env!("CARGO_PKG_VERSION")).to_owned(),
        files: listed,
    };
    let texts = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    add(&mut zip, MANIFEST, texts, &serde_json::to_vec_pretty(&manifest).map_err(json)?).map_err(failed)?;
    for noun in NOUNS {
        for id in snapshot.ids(noun)? {
            let text = serde_json::to_vec_pretty(&snapshot.history(noun, id)?).map_err(json)?;
            add(&mut zip, &format!("{}/{id}.json", folder(noun)), texts, &text).map_err(failed)?;
        }
    }
    add(&mut zip, PHOTOS, texts, &photo_list).map_err(failed)?;
    // Pictures are packed already.
    let pictures = texts.compression_method(CompressionMethod::Stored);
    for file in files {
        add(&mut zip, &format!("photos/{file}"), pictures, &photo(snapshot, file)?).map_err(failed)?;
    }
    zip.finish().map_err(io::Error::other).map_err(failed)?.flush().map_err(failed)?;
    Ok(layouts)
}

fn photo(snapshot: &Snapshot, file: &str) -> Result<Vec<u8>, ArchiveError> {
    snapshot.photo_bytes(file).map_err(|_| ArchiveError::PhotoMissing(file.to_owned()))
}

pub(super) fn add<W: Write + Seek>(
    zip: &mut ZipWriter<W>,
    name: &str,
    options: SimpleFileOptions,
    bytes: &[u8],
) -> io::Result<()> {
    // Zip64 sizes only where they are needed.
    let options = options.large_file(bytes.len() as u64 >= u64::from(u32::MAX));
    zip.start_file(name, options).map_err(io::Error::other)?;
    zip.write_all(bytes)
}

/// Writes a file into the archive from the disk.
pub(super) fn add_file<W: Write + Seek>(
    zip: &mut ZipWriter<W>,
    name: &str,
    options: SimpleFileOptions,
    from: &Path,
) -> io::Result<()> {
    let length = fs::metadata(from)?.len();
    zip.start_file(name, options.large_file(length >= u64::from(u32::MAX))).map_err(io::Error::other)?;
    io::copy(&mut File::open(from)?, zip).map(drop)
}

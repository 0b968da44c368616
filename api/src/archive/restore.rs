//! Making a notebook of an archive again. Nothing in an archive is believed: it
//! is taken in only if every file is named by the manifest, has the size and
//! hash that stand there, and every record is a sound one. Names in it are never
//! paths: they are compared with what they have to be.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufReader, Read};
use std::path::Path;

use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};
use zip::ZipArchive;

use super::manifest::{ArchiveError, FORM, FORMAT, Listed, MANIFEST, Manifest, PHOTOS, folder};
use crate::store::{History, KeptPhoto, NOUNS, Store, StoreError, hex};
use crate::upload::FILE_LIMIT;

type Zip = ZipArchive<BufReader<File>>;

/// Largest manifest, and largest history of one thing, in bytes.
const JSON_LIMIT: u64 = 100_000_000;

/// Whether a file is an archive of a whole notebook.
pub(crate) fn is_notebook(path: &Path) -> bool {
    let Ok(file) = File::open(path) else { return false };
    let Ok(mut zip) = ZipArchive::new(BufReader::new(file)) else { return false };
    let Ok(mut entry) = zip.by_name(MANIFEST) else { return false };
    let mut start = Vec::new();
    // The format is the manifest's first word.
    entry.by_ref().take(200).read_to_end(&mut start).is_ok() && contains(&start, FORMAT.as_bytes())
}

fn contains(bytes: &[u8], part: &[u8]) -> bool {
    bytes.windows(part.len()).any(|window| window == part)
}

/// Takes the notebook in an archive into an empty one. Gives how many layouts
/// it has, those that were deleted among them.
pub(crate) fn restore(store: &Store, from: &Path) -> Result<usize, ArchiveError> {
    if !store.is_empty()? {
        return Err(ArchiveError::NotEmpty);
    }
    let unsound = |error: std::io::Error| ArchiveError::Unsound(error.to_string());
    let mut zip = ZipArchive::new(BufReader::new(File::open(from).map_err(unsound)?))?;
    let manifest: Manifest = parsed(MANIFEST, &entry(&mut zip, MANIFEST, JSON_LIMIT)?)?;
    if manifest.format != FORMAT {
        return Err(ArchiveError::Unsound("it does not say that it is one".to_owned()));
    }
    if manifest.form > FORM {
        return Err(ArchiveError::Newer(manifest.form));
    }
    let listed: BTreeMap<&str, &Listed> =
        manifest.files.iter().map(|listed| (listed.name.as_str(), listed)).collect();
    let photos: Vec<KeptPhoto> = parsed(PHOTOS, &checked(&mut zip, &listed, PHOTOS, JSON_LIMIT)?)?;
    let mut last = "";
    for photo in &photos {
        check_photo(photo)?;
        if photo.file != last {
            let bytes = checked(&mut zip, &listed, &format!("photos/{}", photo.file), FILE_LIMIT)?;
            if !photo.file.starts_with(&hex(&Sha256::digest(&bytes))) {
                return Err(ArchiveError::Unsound(format!("{} is not what its name says", photo.file)));
            }
            store.take_in_file(&photo.file, &bytes)?;
            last = &photo.file;
        }
    }
    let mut layouts = 0;
    let mut failed = None;
    let taken = store.take_in(&photos, |take| {
        for noun in NOUNS {
            let inside = format!("{}/", folder(noun));
            let of_noun = manifest.files.iter().filter(|listed| listed.name.starts_with(&inside));
            for file in of_noun {
                let history: Result<History, ArchiveError> =
                    checked(&mut zip, &listed, &file.name, JSON_LIMIT)
                        .and_then(|bytes| parsed(&file.name, &bytes));
                match history {
                    Ok(history) => take(noun, &history)?,
                    Err(error) => {
                        failed = Some(error);
                        return Err(StoreError::Record(serde::de::Error::custom("an unsound archive")));
                    }
                }
                layouts += usize::from(inside == "layouts/");
            }
        }
        Ok(())
    });
    match (failed, taken) {
        (Some(error), _) => Err(error),
        (None, Err(StoreError::Record(error))) => Err(ArchiveError::Unsound(error.to_string())),
        (None, Err(StoreError::Database(error))) => Err(ArchiveError::Unsound(error.to_string())),
        (None, Err(error)) => Err(error.into()),
        (None, Ok(())) => Ok(layouts),
    }
}

/// An id and a file's name have the forms that the program gives them.
fn check_photo(photo: &KeptPhoto) -> Result<(), ArchiveError> {
    let (hash, ending) = photo.file.split_once('.').unwrap_or_default();
    let is_hash = hash.len() == 64 && hash.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
    let is_ending = (1..=5).contains(&ending.len()) && ending.bytes().all(|b| b.is_ascii_alphanumeric());
    let id = if photo.page == 1 { hash.to_owned() } else { format!("{hash}-{}", photo.page) };
    if is_hash && is_ending && photo.id == id && photo.page > 0 {
        return Ok(());
    }
    let name: String = photo.file.chars().take(80).collect();
    Err(ArchiveError::Unsound(format!("“{name}” is no photo's name")))
}

/// A file of the archive that is as the manifest says.
fn checked(
    zip: &mut Zip,
    listed: &BTreeMap<&str, &Listed>,
    name: &str,
    limit: u64,
) -> Result<Vec<u8>, ArchiveError> {
    let listed =
        listed.get(name).ok_or_else(|| ArchiveError::Unsound(format!("{name} is not in its manifest")))?;
    let bytes = entry(zip, name, limit)?;
    if bytes.len() as u64 != listed.bytes || hex(&Sha256::digest(&bytes)) != listed.sha256 {
        return Err(ArchiveError::Unsound(format!("{name} is damaged")));
    }
    Ok(bytes)
}

fn entry(zip: &mut Zip, name: &str, limit: u64) -> Result<Vec<u8>, ArchiveError> {
    let mut bytes = Vec::new();
    let entry = zip.by_name(name).map_err(|error| ArchiveError::Unsound(format!("{name}: {error}")))?;
    entry
        .take(limit + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| ArchiveError::Unsound(format!("{name}: {error}")))?;
    if bytes.len() as u64 > limit {
        return Err(ArchiveError::Unsound(format!("{name} is too large")));
    }
    Ok(bytes)
}

fn parsed<T: DeserializeOwned>(name: &str, bytes: &[u8]) -> Result<T, ArchiveError> {
    serde_json::from_slice(bytes).map_err(|error| ArchiveError::Unsound(format!("{name}: {error}")))
}

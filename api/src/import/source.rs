//! Where the bytes of a file of an import are: a path of this machine, a file
//! that was sent and waits in the data folder, or an entry of a zip archive
//! that is either. Nothing is unpacked to disk, so no name in an archive is
//! ever a path here.

use std::cell::Cell;
use std::fs::File;
use std::io::{self, BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::rc::Rc;

use serde::{Deserialize, Serialize};
use zip::ZipArchive;
use zip::result::ZipError;

/// Where the bytes of a file are.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Source {
    /// A file of this machine, which is only read.
    Path(PathBuf),
    /// A file of the folder for what was sent, by its name there.
    Sent(String),
    /// An entry of an archive, by its place in the archive's directory.
    Entry(Box<Source>, usize),
}

/// Why a file of an import cannot be read.
#[derive(Debug, thiserror::Error)]
pub(crate) enum SourceError {
    /// The system refuses.
    #[error("{}", open_words(.0))]
    Io(#[from] io::Error),
    /// More bytes than are taken.
    #[error("it is over the limit of {} MB for one file: save it smaller", .0 / 1_000_000)]
    TooLarge(u64),
    /// The archive, or what is packed in it, is damaged.
    #[error("it cannot be unpacked ({0}): unpack the archive and import the files in it")]
    Archive(String),
    /// The entry is encrypted.
    #[error("it is locked with a password: unpack the archive and import the files in it")]
    Locked,
}

impl From<ZipError> for SourceError {
    fn from(error: ZipError) -> SourceError {
        match error {
            ZipError::Io(error) => SourceError::Io(error),
            ZipError::UnsupportedArchive(ZipError::PASSWORD_REQUIRED) => SourceError::Locked,
            error => SourceError::Archive(error.to_string()),
        }
    }
}

fn open_words(error: &io::Error) -> String {
    match error.kind() {
        io::ErrorKind::NotFound => "the file is gone: put it back and import it again".to_owned(),
        io::ErrorKind::PermissionDenied => "the file may not be read: check its permissions".to_owned(),
        io::ErrorKind::InvalidData | io::ErrorKind::InvalidInput | io::ErrorKind::UnexpectedEof => {
            "what is packed in it is damaged: unpack the archive and import the files in it".to_owned()
        }
        _ => format!("the file cannot be read ({error}): try again"),
    }
}

impl Source {
    /// Its bytes. `sent` is the folder of what was sent; more bytes than `limit`
    /// are refused before they are read.
    pub(crate) fn bytes(&self, sent: &Path, limit: u64) -> Result<Vec<u8>, SourceError> {
        match self {
            Source::Path(_) | Source::Sent(_) => {
                let mut file = self.open(sent)?;
                let length = file.metadata()?.len();
                if length > limit {
                    return Err(SourceError::TooLarge(limit));
                }
                whole(&mut file, length, limit)
            }
            Source::Entry(archive, index) => {
                let mut archive = archive.open_archive(sent)?;
                let mut entry = archive.by_index(*index)?;
                if entry.size() > limit {
                    return Err(SourceError::TooLarge(limit));
                }
                let length = entry.size();
                whole(&mut entry, length, limit)
            }
        }
    }

    /// The archive that it is.
    pub(super) fn open_archive(&self, sent: &Path) -> Result<ZipArchive<Bounded>, SourceError> {
        let left = Rc::new(Cell::new(LARGEST_DIRECTORY));
        let file = Bounded { file: BufReader::new(self.open(sent)?), left: Rc::clone(&left) };
        let archive = ZipArchive::new(file)?;
        left.set(u64::MAX);
        Ok(archive)
    }

    /// The file that it is, or that is the archive it is in.
    pub(super) fn open(&self, sent: &Path) -> Result<File, SourceError> {
        match self {
            Source::Path(path) => Ok(File::open(path)?),
            Source::Sent(name) => Ok(File::open(sent.join(name))?),
            Source::Entry(..) => Err(SourceError::Archive("an archive in an archive".to_owned())),
        }
    }
}

/// Bytes that are read to learn what is in an archive: ten thousand files with
/// long names. What is kept of them takes some times as much memory.
const LARGEST_DIRECTORY: u64 = 8 << 20;

/// A file of which so many bytes may be read.
pub(super) struct Bounded {
    file: BufReader<File>,
    left: Rc<Cell<u64>>,
}

impl Read for Bounded {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.file.read(buffer)?;
        match self.left.get().checked_sub(read as u64) {
            Some(left) => self.left.set(left),
            None => return Err(io::Error::other("its list of files is too long")),
        }
        Ok(read)
    }
}

impl Seek for Bounded {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.file.seek(to)
    }
}

/// Reads to the end; what an archive says of an entry's length may be a lie.
fn whole(from: &mut impl Read, length: u64, limit: u64) -> Result<Vec<u8>, SourceError> {
    let mut bytes = Vec::with_capacity(usize::try_from(length.min(limit)).unwrap_or(0));
    from.take(limit + 1).read_to_end(&mut bytes)?;
    if bytes.len() as u64 > limit {
        return Err(SourceError::TooLarge(limit));
    }
    Ok(bytes)
}

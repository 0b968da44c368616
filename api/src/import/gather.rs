//! The files of what was given to an import: folders with all that is in them,
//! zip archives, single files. Nothing is opened further than to see whether it
//! is an archive.

use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

use walkdir::WalkDir;

use super::{FoundFile, Source};

/// Most files of one import.
const MOST_FILES: usize = 20_000;
/// Most entries of an archive; one with more is told as one that cannot be read.
const MOST_ENTRIES: usize = 10_000;

/// Why the files of an import cannot be listed.
#[derive(Debug, thiserror::Error)]
pub(crate) enum GatherError {
    /// Something that was named is not there.
    #[error("{}: there is no such file or folder: check the name", .0.display())]
    Missing(PathBuf),
    /// A folder cannot be listed.
    #[error("{}: the folder cannot be listed ({reason}): check its permissions", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
        /// What the system says.
        reason: String,
    },
    /// Too much at once.
    #[error("there are more than {MOST_FILES} files: import them folder by folder")]
    TooMany,
}

/// Every file of what was given, in the order of the names. Files that systems
/// leave in folders for themselves are passed over.
pub(crate) fn gather(given: &[PathBuf]) -> Result<Vec<FoundFile>, GatherError> {
    let mut found = Vec::new();
    for root in given {
        let absolute = fs::canonicalize(root).map_err(|_| GatherError::Missing(root.clone()))?;
        let several = given.len() > 1;
        let walk = WalkDir::new(&absolute).sort_by_file_name().into_iter();
        for entry in walk.filter_entry(|entry| entry.depth() == 0 || !is_of_system(entry.file_name())) {
            let entry = entry.map_err(|error| GatherError::Folder {
                path: error.path().unwrap_or(&absolute).to_owned(),
                reason: error.into_io_error().map_or_else(|| "a loop".to_owned(), |error| error.to_string()),
            })?;
            // A link in a folder is followed to a file, never to a folder: no walk in circles.
            let Ok(facts) = fs::metadata(entry.path()) else { continue };
            if !facts.is_file() {
                continue;
            }
            let name = name_within(&absolute, entry.path(), several);
            let file = FoundFile { name, source: Source::Path(entry.into_path()), bytes: facts.len() };
            found.extend(unpacked(file, Path::new("")));
            if found.len() > MOST_FILES {
                return Err(GatherError::TooMany);
            }
        }
    }
    Ok(found)
}

/// What a file is called within what was given.
fn name_within(root: &Path, path: &Path, several: bool) -> String {
    let base = if several || path == root { root.parent().unwrap_or(root) } else { root };
    let parts = path.strip_prefix(base).unwrap_or(path).components();
    let parts: Vec<_> = parts.map(|part| part.as_os_str().to_string_lossy()).collect();
    parts.join("/").chars().filter(|&letter| is_shown(letter)).collect()
}

/// Letters of a name that are kept.
const LONGEST_NAME: usize = 300;

/// A name that came from elsewhere as it may be shown: folders and file, without
/// what points elsewhere.
pub(crate) fn shown_name(sent: &str, index: usize) -> String {
    let clean: String = sent.chars().filter(|&letter| is_shown(letter)).take(LONGEST_NAME).collect();
    let clean = clean.replace('\\', "/");
    let parts: Vec<&str> =
        clean.split('/').map(str::trim).filter(|part| !["", ".", ".."].contains(part)).collect();
    if parts.is_empty() { format!("file {}", index + 1) } else { parts.join("/") }
}

/// Whether a letter is one to be seen: not what tells a terminal to do something,
/// nor what turns the direction of writing (Unicode, annex 9).
fn is_shown(letter: char) -> bool {
    !letter.is_control() && !matches!(letter, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Files that systems keep in folders and archives for themselves.
fn is_of_system(name: &std::ffi::OsStr) -> bool {
    let name = name.to_string_lossy();
    name.starts_with('.') || ["Thumbs.db", "desktop.ini", "__MACOSX"].contains(&name.as_ref())
}

/// The files in an archive; the file itself where it is none, or cannot be
/// opened as one: reading it will say so. `sent` is the folder of what was sent.
pub(crate) fn unpacked(file: FoundFile, sent: &Path) -> Vec<FoundFile> {
    let mut start = [0; 4];
    let read = file.source.open(sent).and_then(|mut file: File| Ok(file.read_exact(&mut start)?));
    if read.is_err() || !is_archive(&start) {
        return vec![file];
    }
    match entries(&file, sent) {
        Some(entries) => entries,
        None => vec![file],
    }
}

fn entries(archive: &FoundFile, sent: &Path) -> Option<Vec<FoundFile>> {
    let mut zip = archive.source.open_archive(sent).ok()?;
    if zip.len() > MOST_ENTRIES {
        return None;
    }
    let mut found = Vec::new();
    for index in 0..zip.len() {
        let entry = zip.by_index_raw(index).ok()?;
        let Ok(name) = entry.name() else { continue };
        let name = shown_name(&name, index);
        if entry.is_dir() || name.split('/').any(|part| is_of_system(std::ffi::OsStr::new(part))) {
            continue;
        }
        found.push(FoundFile {
            name: format!("{}/{name}", archive.name),
            source: Source::Entry(Box::new(archive.source.clone()), index),
            bytes: entry.size(),
        });
    }
    found.sort_by(|a, b| a.name.cmp(&b.name));
    Some(found)
}

/// Whether a file begins as a zip archive does (APPNOTE 6.3.10, 4.3.7 and, for
/// an empty one, 4.3.16).
pub(crate) fn is_archive(start: &[u8]) -> bool {
    start.starts_with(b"PK\x03\x04") || start.starts_with(b"PK\x05\x06")
}

#[cfg(test)]
mod tests {
    use std::io::Write;

    use zip::ZipWriter;
    use zip::write::SimpleFileOptions;

    use super::super::source::SourceError;
    use super::*;

    fn names(found: &[FoundFile]) -> Vec<&str> {
        found.iter().map(|file| file.name.as_str()).collect()
    }

    fn archive(at: &Path, entries: &[(&str, &[u8])]) {
        let mut zip = ZipWriter::new(File::create(at).unwrap());
        for (name, bytes) in entries {
            zip.start_file(*name, SimpleFileOptions::default()).unwrap();
            zip.write_all(bytes).unwrap();
        }
        zip.finish().unwrap();
    }

    #[test]
    fn folders_and_archives_are_listed_by_name_without_what_systems_leave() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir_all(at("tall")).unwrap();
        for name in ["b.jpg", "a.jpg", ".hidden", "Thumbs.db", "tall/c.png"] {
            fs::write(at(name), name).unwrap();
        }
        archive(&at("more.zip"), &[("x/2.png", b"two"), ("x/1.png", b"one"), ("__MACOSX/x/1.png", b"?")]);
        let found = gather(&[folder.path().to_owned()]).unwrap();
        assert_eq!(names(&found), ["a.jpg", "b.jpg", "more.zip/x/1.png", "more.zip/x/2.png", "tall/c.png"]);
        let bytes = |index: usize| found[index].source.bytes(Path::new(""), 100).unwrap();
        assert_eq!((bytes(0), bytes(2), bytes(3)), (b"a.jpg".to_vec(), b"one".to_vec(), b"two".to_vec()));
        let top = folder.path().file_name().unwrap().to_string_lossy().into_owned();
        let both = gather(&[at("a.jpg"), folder.path().to_owned()]).unwrap();
        assert_eq!(names(&both)[..2], ["a.jpg".to_owned(), format!("{top}/a.jpg")]);
        assert!(matches!(gather(&[at("nowhere")]), Err(GatherError::Missing(_))));
    }

    #[test]
    fn an_archive_cannot_point_outside_or_unpack_without_end() {
        let folder = tempfile::tempdir().unwrap();
        let at = folder.path().join("sly.zip");
        archive(&at, &[("../../up.jpg", b"up"), ("/etc/root.jpg", b"root"), ("zeros.png", &[0; 5000])]);
        let found = gather(&[at]).unwrap();
        assert_eq!(names(&found), ["sly.zip/etc/root.jpg", "sly.zip/up.jpg", "sly.zip/zeros.png"]);
        assert!(matches!(found[2].source.bytes(Path::new(""), 4999), Err(SourceError::TooLarge(4999))));
    }

    #[test]
    fn what_only_looks_like_an_archive_is_a_file() {
        let folder = tempfile::tempdir().unwrap();
        let at = folder.path().join("cut short.zip");
        fs::write(&at, b"PK\x03\x04 and then nothing").unwrap();
        assert_eq!(names(&gather(&[at]).unwrap()), ["cut short.zip"]);
    }

    #[test]
    fn a_name_is_shown_without_what_points_elsewhere() {
        let check = |sent: &str, shown: &str| assert_eq!(shown_name(sent, 4), shown);
        check("scan.png", "scan.png");
        check("tall/scan 2.png", "tall/scan 2.png");
        check("../../etc/passwd", "etc/passwd");
        check("C:\\Pictures\\scan.png", "C:/Pictures/scan.png");
        check("/a//b/./c.png", "a/b/c.png");
        check("\u{0}\u{7}", "file 5");
        check("\u{1b}[31mscan\n\u{202e}gnp.png", "[31mscangnp.png");
        check("", "file 5");
    }
}

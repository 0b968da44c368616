//! Whether a notebook is whole: the database by its own check (`SQLite`'s
//! `integrity_check`), every record by being read, every photo by its hash.
//! Nothing is changed, and a notebook that is served can be looked at too.

use std::fs;
use std::path::Path;

use rusqlite::Connection;
use sha2::{Digest, Sha256};

use super::history::Noun;
use super::transfer::{NOUNS, Snapshot, canonical};
use super::{StoreError, hex};

/// Something that is not as it has to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Finding {
    /// What is wrong.
    pub(crate) what: String,
    /// What can be done about it.
    pub(crate) help: &'static str,
}

/// What was looked at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Looked {
    /// Layouts, deleted or not.
    pub(crate) layouts: usize,
    /// Papers, deleted or not.
    pub(crate) papers: usize,
    /// Batches, deleted or not.
    pub(crate) batches: usize,
    /// Versions of all of them.
    pub(crate) versions: usize,
    /// Photos.
    pub(crate) photos: usize,
}

const DATABASE_HELP: &str = "stop the program and put the folder back from a backup; `eighths export` first writes \
                             out what can still be read";
const RECORD_HELP: &str = "open it on the page and restore another of its versions";
const PHOTO_HELP: &str =
    "put the file back from a backup; the layouts that were read from it are not touched";

const CLOCK_HELP: &str =
    "set this machine's clock; nothing is lost, but lists by time are out of order until then";
/// Clocks that are set by the network differ by less, in `SQLite`'s words.
const CLOCK_SLACK: &str = "+1 hour";

/// What is wrong with the machine's clock, as far as a notebook tells: a change
/// of a time that is still to come.
pub(super) fn clock_fault(connection: &Connection) -> Result<Option<Finding>, StoreError> {
    let newest: Option<String> = connection.query_row(
        "SELECT max(saved_at) FROM (
             SELECT max(saved_at) AS saved_at FROM versions UNION ALL
             SELECT max(saved_at) FROM paper_versions UNION ALL
             SELECT max(saved_at) FROM batch_versions)
         WHERE saved_at > strftime('%Y-%m-%dT%H:%M:%SZ', 'now', ?1)",
        [CLOCK_SLACK],
        |row| row.get(0),
    )?;
    Ok(newest.map(|newest| Finding {
        what: format!("the newest change is of {newest}, which is still to come by this machine's clock"),
        help: CLOCK_HELP,
    }))
}

/// Looks at the notebook in a folder.
pub(crate) fn check(folder: &Path) -> Result<(Looked, Vec<Finding>), StoreError> {
    look(folder).map_err(|error| told(error, folder))
}

fn look(folder: &Path) -> Result<(Looked, Vec<Finding>), StoreError> {
    let mut findings = Vec::new();
    let mut looked = Looked::default();
    let snapshot = Snapshot::of(folder)?;
    snapshot.hold()?;
    for what in database_faults(snapshot.connection(), "integrity_check", MOST_FAULTS)? {
        findings.push(Finding { what: format!("the database is damaged: {what}"), help: DATABASE_HELP });
    }
    for noun in NOUNS {
        for id in snapshot.ids(noun)? {
            *count(&mut looked, noun) += 1;
            match snapshot.history(noun, id) {
                Ok(history) => {
                    looked.versions += history.versions.len();
                    for version in &history.versions {
                        let read = version.record.as_ref().map(|record| canonical(noun, record));
                        if let Some(Err(error)) = read {
                            let what = format!("{noun} {id}, version {}: {error}", version.version);
                            findings.push(Finding { what, help: RECORD_HELP });
                        }
                    }
                    let gapless =
                        history.versions.iter().zip(1..).all(|(version, place)| version.version == place);
                    if !gapless || history.versions.is_empty() {
                        let what = format!("{noun} {id}: its versions are not all there");
                        findings.push(Finding { what, help: DATABASE_HELP });
                    }
                }
                Err(error) => {
                    findings.push(Finding { what: format!("{noun} {id}: {error}"), help: DATABASE_HELP });
                }
            }
        }
    }
    findings.extend(clock_fault(snapshot.connection())?);
    let mut last = String::new();
    for photo in snapshot.photos()? {
        looked.photos += 1;
        if photo.file == last {
            continue;
        }
        let hash = photo.file.split('.').next().unwrap_or_default();
        let what = match fs::read(folder.join("photos").join(&photo.file)) {
            Ok(bytes) if hex(&Sha256::digest(&bytes)) == hash => None,
            Ok(_) => Some(format!("the photo {} is not what it was", photo.file)),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                Some(format!("the photo {} is missing", photo.file))
            }
            Err(error) => Some(format!("the photo {} cannot be read ({error})", photo.file)),
        };
        findings.extend(what.map(|what| Finding { what, help: PHOTO_HELP }));
        last.clone_from(&photo.file);
    }
    Ok((looked, findings))
}

fn count(looked: &mut Looked, noun: Noun) -> &mut usize {
    match noun {
        Noun::Layout => &mut looked.layouts,
        Noun::Paper => &mut looked.papers,
        Noun::Batch => &mut looked.batches,
    }
}

/// Faults told of one database at most.
const MOST_FAULTS: u32 = 20;

/// What the database says of itself by one of its own checks; nothing where it is sound.
fn database_faults(connection: &Connection, pragma: &str, most: u32) -> Result<Vec<String>, StoreError> {
    let mut query = connection.prepare(&format!("PRAGMA {pragma}({most})"))?;
    let rows = query.query_map([], |row| row.get::<_, String>(0))?;
    let said: Vec<String> = rows.collect::<Result<_, _>>()?;
    Ok(said.into_iter().filter(|said| said != "ok").collect())
}

/// A look that is quick enough for every start; a fault is an error.
pub(super) fn quick_look(connection: &Connection, folder: &Path) -> Result<(), StoreError> {
    match database_faults(connection, "quick_check", 1)?.into_iter().next() {
        Some(said) => Err(StoreError::Damaged { folder: folder.to_owned(), said }),
        None => Ok(()),
    }
}

/// Says of an error of the database that it is the damage of a file.
pub(super) fn told(error: StoreError, folder: &Path) -> StoreError {
    match error {
        StoreError::Database(error) if is_damage(&error) => {
            StoreError::Damaged { folder: folder.to_owned(), said: error.to_string() }
        }
        error => error,
    }
}

/// Whether the database's file is damaged, or none.
pub(crate) fn is_damage(error: &rusqlite::Error) -> bool {
    use rusqlite::ErrorCode::{DatabaseCorrupt, NotADatabase};
    matches!(error.sqlite_error_code(), Some(DatabaseCorrupt | NotADatabase))
}

#[cfg(test)]
mod tests {
    use super::super::{Store, database, opened, sample};
    use super::*;

    #[test]
    fn a_sound_notebook_is_told_with_what_is_in_it() {
        let (folder, store) = opened();
        store.create_layout(&sample("Thank you")).unwrap();
        store.delete_layout(1, &super::super::Expected::Any).unwrap();
        store.keep_photo(b"abc", 1, [3, 1]).unwrap();
        store.keep_photo(b"abc", 2, [3, 1]).unwrap();
        // While it is open, too.
        let (looked, findings) = check(folder.path()).unwrap();
        assert_eq!(findings, []);
        assert_eq!(looked, Looked { layouts: 1, versions: 2, photos: 2, ..Looked::default() });
    }

    #[test]
    fn photos_that_are_gone_or_changed_and_records_that_do_not_read_are_named() {
        let (folder, store) = opened();
        store.create_layout(&sample("Thank you")).unwrap();
        let gone = store.keep_photo(b"abc", 1, [3, 1]).unwrap();
        let changed = store.keep_photo(b"def", 1, [3, 1]).unwrap();
        drop(store);
        fs::remove_file(folder.path().join(format!("photos/{}.bin", gone.id))).unwrap();
        fs::write(folder.path().join(format!("photos/{}.bin", changed.id)), b"dex").unwrap();
        let connection = Connection::open(database(folder.path())).unwrap();
        connection.execute("UPDATE versions SET record = '{\"schema\": 1}'", []).unwrap();
        drop(connection);
        let (_, findings) = check(folder.path()).unwrap();
        let said: Vec<&str> = findings.iter().map(|finding| finding.what.as_str()).collect();
        assert_eq!(said.len(), 3, "{said:?}");
        assert!(said[0].starts_with("layout 1, version 1: "), "{said:?}");
        assert!(said.iter().any(|said| said.contains(&gone.id) && said.ends_with("is missing")), "{said:?}");
        assert!(
            said.iter().any(|said| said.contains(&changed.id) && said.ends_with("not what it was")),
            "{said:?}"
        );
    }

    #[test]
    fn a_clock_that_went_back_is_told() {
        let (folder, store) = opened();
        store.create_layout(&sample("Thank you")).unwrap();
        assert_eq!(check(folder.path()).unwrap().1, []);
        store.writer().execute("UPDATE versions SET saved_at = '2999-01-01T00:00:00Z'", []).unwrap();
        let (_, findings) = check(folder.path()).unwrap();
        assert!(findings[0].what.contains("2999") && findings[0].help.contains("clock"), "{findings:?}");
        assert_eq!(store.clock_fault().unwrap().as_ref(), Some(&findings[0]));
    }

    #[test]
    fn a_page_of_the_database_that_is_overwritten_is_found_at_the_start_and_on_demand() {
        let (folder, store) = opened();
        for count in 0..200 {
            store.create_layout(&sample(&format!("number {count}"))).unwrap();
        }
        drop(store);
        let file = database(folder.path());
        let mut bytes = fs::read(&file).unwrap();
        let page = usize::from(u16::from_be_bytes([bytes[16], bytes[17]]));
        let pages = bytes.len() / page;
        for place in [pages / 2, pages - 2] {
            bytes[place * page..(place + 1) * page].fill(0xa5);
        }
        fs::write(&file, &bytes).unwrap();
        let error = Store::open(folder.path()).err().expect("it is damaged");
        assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
        match check(folder.path()) {
            Ok((_, findings)) => {
                assert!(findings[0].what.starts_with("the database is damaged"), "{findings:?}");
            }
            Err(error) => assert!(matches!(error, StoreError::Damaged { .. }), "{error}"),
        }
        fs::write(&file, b"This is a letter to Edith, not a database, and long enough to be looked at.")
            .unwrap();
        let error = Store::open(folder.path()).err().expect("it is no database");
        assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
    }
}

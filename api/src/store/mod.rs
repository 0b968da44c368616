//! The notebook on disk: one `SQLite` file and a folder of photos named by the
//! hash of their content. A write that has returned is on disk: the database
//! runs in WAL mode with `synchronous = FULL`, photos are synced before they
//! are named. Nothing is ever overwritten: a save adds a version, a deletion
//! adds an empty one. Beside the versions stand what layouts are found by
//! (`index.rs`), derived in the same transaction, and what the maker does with
//! them (`shelf.rs`).

mod batches;
mod devices;
mod history;
mod imports;
mod index;
mod integrity;
mod layouts;
mod lock;
mod migrations;
mod papers;
mod photos;
mod search;
mod shelf;
mod transfer;

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags, OptionalExtension};

pub(crate) use batches::{Changes, StoredBatch};
pub(crate) use devices::{Device, MOST_DEVICES};
pub(crate) use history::{Expected, Noun, VersionEntry};
pub(crate) use imports::{Finished, NewImport, StoredImport};
pub(crate) use index::Kind;
pub(crate) use integrity::{Finding, check as check_notebook, is_damage};
pub(crate) use layouts::StoredLayout;
pub(crate) use migrations::first_form;
pub(crate) use papers::{PaperEntry, PaperFilter, StoredPaper, Taken};
pub(crate) use photos::{PhotoFile, StoredPhoto, hex};
pub(crate) use search::{Count, Filter, Order, Piece};
pub(crate) use shelf::{Changed, Shelf, Shelved, TagCount};
pub(crate) use transfer::{History, KeptPhoto, NOUNS, Snapshot};

/// Why the notebook could not do what was asked.
#[derive(Debug, thiserror::Error)]
pub(crate) enum StoreError {
    /// Nothing was ever saved under this id.
    #[error("no {0} has the id {1}")]
    Missing(Noun, String),
    /// It is gone, its versions are not.
    #[error("{noun} {id} was deleted: restore one of its versions to have it back")]
    Deleted {
        /// What it was.
        noun: Noun,
        /// Its id.
        id: i64,
        /// The version that deleted it.
        version: i64,
    },
    /// It has no such version, or the version is a deletion.
    #[error("{noun} {id} has no saved version {version}")]
    NoVersion {
        /// What it is.
        noun: Noun,
        /// Its id.
        id: i64,
        /// The version asked for.
        version: String,
    },
    /// Someone saved in between.
    #[error("{noun} {id} has been saved since you opened it: open it again and repeat your change")]
    Stale {
        /// What it is.
        noun: Noun,
        /// Its id.
        id: i64,
        /// Its present version.
        version: i64,
    },
    /// The tags would not fit the record.
    #[error("layout {0} would have more than 50 tags: take some away first")]
    TooManyTags(i64),
    /// The drawer has fewer sheets than are to be taken.
    #[error(
        "only {there} of the {wanted} sheets of “{name}” are in the drawer: plan again, or put the count right"
    )]
    TooFewSheets {
        /// The paper.
        name: String,
        /// Sheets there are.
        there: u32,
        /// Sheets wanted.
        wanted: u32,
    },
    /// The layout was never used.
    #[error("layout {0} has no use to take back")]
    NoUse(i64),
    /// The batch was cut already.
    #[error("batch {0} was cut: take the cutting back first, or begin a new batch")]
    BatchCut(i64),
    /// There is nothing to cut by.
    #[error("batch {0} has no plan for what it is now: plan it first")]
    NoPlan(i64),
    /// The paper is not what was planned with.
    #[error("“{0}” has another size now than in the plan: plan again")]
    PaperChanged(String),
    /// Taking the cutting back would lose paper.
    #[error(
        "an offcut of batch {0} has been used or changed since: put the counts right in the drawer instead"
    )]
    OffcutUsed(i64),
    /// No import has this id.
    #[error("no import has the id {0}")]
    NoImport(String),
    /// The import has come to its end.
    #[error("import {0} has ended: begin a new one")]
    ImportEnded(i64),
    /// No layout of the import looks like an earlier one in that way.
    #[error("layout {0} is not one that looks like an earlier one, or it was decided already")]
    NotAlike(i64),
    /// No device has this id.
    #[error("no paired device has the id {0}")]
    NoDevice(String),
    /// No more devices are taken.
    #[error("{MOST_DEVICES} devices are paired: end the pairing of one on the computer's page first")]
    TooManyDevices,
    /// No photo has this id.
    #[error("no photo has the id {0}")]
    NoPhoto(String),
    /// The folder was moved or deleted while the notebook was open.
    #[error(
        "the data folder is gone or was replaced while the program ran: nothing of this was saved; \
         stop the program, put the folder back and start it again"
    )]
    FolderGone,
    /// A photo's file is not in the folder any more.
    #[error(
        "the photo's file photos/{0} is gone from the data folder: put it back from a backup; \
         the layouts that were read from it are all there"
    )]
    PhotoGone(String),
    /// The database's file is damaged.
    #[error(
        "the notebook in {} is damaged ({said}): stop the program and put the folder back from a backup; \
         `eighths check` tells more, `eighths export` writes out what can still be read",
        folder.display()
    )]
    Damaged {
        /// The data folder.
        folder: PathBuf,
        /// What the database says.
        said: String,
    },
    /// There is nothing to be read.
    #[error("there is no notebook in {}: say where it is with --data DIR", .0.display())]
    NoNotebook(PathBuf),
    /// The database is of an earlier program.
    #[error(
        "the notebook in {} was written by an older eighths: serve it once with this one, then try again",
        .0.display()
    )]
    Older(PathBuf),
    /// Another server has the folder.
    #[error("another eighths is using the data folder {}: stop it, or give another folder with --data", .0.display())]
    InUse(PathBuf),
    /// The database is of a later program.
    #[error(
        "the notebook in {} was written by a newer eighths (form {found}, this program knows {known}): use that program",
        folder.display()
    )]
    Newer {
        /// The data folder.
        folder: PathBuf,
        /// The form found.
        found: i64,
        /// The newest form this program knows.
        known: i64,
    },
    /// The folder cannot be used.
    #[error("the data folder {} cannot be used ({source}): give another one with --data", folder.display())]
    Folder {
        /// The data folder.
        folder: PathBuf,
        /// What the system says.
        source: std::io::Error,
    },
    /// The database failed.
    #[error("the notebook's database failed: {0}")]
    Database(#[from] rusqlite::Error),
    /// A file failed.
    #[error("a file of the notebook failed: {0}")]
    File(#[from] std::io::Error),
    /// A saved record does not read any more.
    #[error("a saved record does not read: {0}")]
    Record(#[from] serde_json::Error),
}

/// How long a connection waits for another one's lock.
const BUSY_TIMEOUT: Duration = Duration::from_secs(5);
/// Idle reading connections that are kept for the next reader.
const MOST_IDLE_READERS: usize = 8;

/// The notebook. Its methods block; call them on a blocking thread.
pub(crate) struct Store {
    folder: PathBuf,
    writer: Mutex<Connection>,
    readers: Mutex<Vec<Connection>>,
    /// Held as long as the store lives; the system lets go of it with the process.
    lock: fs::File,
}

impl Store {
    /// Opens the notebook in `folder`, making what is missing.
    pub(crate) fn open(folder: &Path) -> Result<Store, StoreError> {
        let unusable = |source| StoreError::Folder { folder: folder.to_owned(), source };
        for part in [folder.to_owned(), folder.join("photos"), folder.join("screen"), folder.join("imports")]
        {
            fs::create_dir_all(part).map_err(unusable)?;
        }
        let lock = lock::take(folder)?;
        let writer = Store::open_database(folder).map_err(|error| integrity::told(error, folder))?;
        sync_folder(folder)?;
        photos::sweep(folder)?;
        imports::sweep(&writer, folder)?;
        Ok(Store {
            folder: folder.to_owned(),
            writer: Mutex::new(writer),
            readers: Mutex::new(Vec::new()),
            lock,
        })
    }

    /// The connection that writes, to a database of the newest form.
    fn open_database(folder: &Path) -> Result<Connection, StoreError> {
        let mut writer = Connection::open(database(folder))?;
        writer.busy_timeout(BUSY_TIMEOUT)?;
        writer.pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()))?;
        writer.pragma_update(None, "synchronous", "FULL")?;
        writer.pragma_update(None, "fullfsync", true)?;
        writer.pragma_update(None, "foreign_keys", true)?;
        integrity::quick_look(&writer, folder)?;
        migrations::apply(&mut writer, folder)?;
        index::refresh(&mut writer)?;
        Ok(writer)
    }

    /// The one connection that writes. A panic while it was held rolled its
    /// transaction back, so the connection is as good as before.
    fn writer(&self) -> MutexGuard<'_, Connection> {
        self.writer.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Runs `job` on a connection that only reads.
    fn reading<T>(&self, job: impl FnOnce(&Connection) -> Result<T, StoreError>) -> Result<T, StoreError> {
        let idle = self.readers.lock().unwrap_or_else(PoisonError::into_inner).pop();
        let connection = match idle {
            Some(connection) => connection,
            None => self.new_reader()?,
        };
        let result = job(&connection);
        let mut readers = self.readers.lock().unwrap_or_else(PoisonError::into_inner);
        if readers.len() < MOST_IDLE_READERS {
            readers.push(connection);
        }
        result
    }

    fn new_reader(&self) -> Result<Connection, StoreError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(database(&self.folder), flags)?;
        connection.busy_timeout(BUSY_TIMEOUT)?;
        connection.pragma_update(None, "query_only", true)?;
        Ok(connection)
    }

    /// What is wrong with the machine's clock, as far as the notebook tells.
    pub(crate) fn clock_fault(&self) -> Result<Option<Finding>, StoreError> {
        self.reading(integrity::clock_fault)
    }

    /// A word the program keeps about the notebook itself.
    pub(crate) fn setting(&self, key: &str) -> Result<Option<String>, StoreError> {
        self.reading(|connection| {
            Ok(connection
                .query_row("SELECT value FROM settings WHERE key = ?1", [key], |row| row.get(0))
                .optional()?)
        })
    }
}

fn put_setting(connection: &Connection, key: &str, value: &str) -> Result<(), StoreError> {
    connection.execute(
        "INSERT INTO settings (key, value) VALUES (?1, ?2) ON CONFLICT (key) DO UPDATE SET value = ?2",
        [key, value],
    )?;
    Ok(())
}

fn database(folder: &Path) -> PathBuf {
    folder.join("notebook.sqlite")
}

/// Makes the names in a folder durable, where the system can.
fn sync_folder(folder: &Path) -> Result<(), StoreError> {
    if cfg!(unix) {
        fs::File::open(folder)?.sync_all()?;
    }
    Ok(())
}

/// A store in a folder of its own for tests.
#[cfg(test)]
fn opened() -> (tempfile::TempDir, Store) {
    let folder = tempfile::tempdir().unwrap();
    let store = Store::open(folder.path()).unwrap();
    (folder, store)
}

/// A layout of a panel for tests of the store.
#[cfg(test)]
fn sample(title: &str) -> layout::Layout {
    serde_json::from_value(serde_json::json!({
        "schema": 1, "title": title, "unit": "in",
        "card": {"name": "A2", "width": 4.25, "height": 5.5},
        "elements": [{"id": 1, "shape": "rectangle", "x": 0.125, "y": 0.125, "width": 4.0, "height": 5.25}],
        "notes": "for the Thursday round", "tags": ["get well"]
    }))
    .unwrap()
}

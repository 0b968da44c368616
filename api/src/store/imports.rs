//! Imports: the files they are to read, and what came of each. A file, its
//! layouts, its photos and its outcome are written in one transaction, so that
//! an import that was cut off goes on with the first file that has no outcome.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use layout::{Layout, LayoutJson};
use rusqlite::{Connection, OptionalExtension, Transaction};
use tempfile::TempDir;

use super::history::{self, Noun};
use super::layouts::{self, parsed, put_version};
use super::photos::{PhotoFile, photo_id, put_photo};
use super::{Store, StoreError, sync_folder};
use crate::import::{
    CardRule, Counts, FileResult, FoundFile, Gallery, ImportState, LayoutRead, Outcome, PageRead, PageResult,
    WaitingFile,
};

/// An import as it is kept.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct StoredImport {
    /// Its number, never used again.
    pub(crate) id: i64,
    /// How far it is.
    pub(crate) state: ImportState,
    /// Whether more files may be sent.
    pub(crate) open: bool,
    /// Which card a file is for.
    pub(crate) rule: CardRule,
    /// When it began, in UTC, RFC 3339.
    pub(crate) made_at: String,
    /// When it ended, if it did.
    pub(crate) finished_at: Option<String>,
}

/// An import that is to begin.
#[derive(Clone, Copy, Debug)]
pub(crate) struct NewImport<'a> {
    /// Which card a file is for.
    pub(crate) rule: &'a CardRule,
    /// What was asked for, so that it is known again; empty where it cannot be.
    pub(crate) origin: &'a str,
    /// Whether more files may follow.
    pub(crate) open: bool,
}

/// What was found out about a file.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Finished<'a> {
    /// The hash of its bytes, where it has any.
    pub(crate) sha256: Option<&'a str>,
    /// Its file among the photos, where it is to be kept.
    pub(crate) photo: Option<&'a PhotoFile>,
    /// What was read; `None` where the file is known.
    pub(crate) pages: Option<&'a [PageRead]>,
}

const NOW: &str = "strftime('%Y-%m-%dT%H:%M:%SZ', 'now')";

impl Store {
    /// Begins an import. Its files are added by [`Store::add_import_files`].
    pub(crate) fn create_import(&self, new: NewImport<'_>) -> Result<StoredImport, StoreError> {
        let rule = serde_json::to_string(new.rule)?;
        self.writing(|transaction| {
            transaction.execute(
                &format!(
                    "INSERT INTO imports (state, open, rule, origin, made_at) VALUES ('running', ?1, ?2, ?3, {NOW})"
                ),
                (new.open, &rule, new.origin),
            )?;
            import(transaction, transaction.last_insert_rowid())
        })
    }

    /// Adds files to an import that has not ended; those it has already, by
    /// their sources, are passed over. Gives how many were new.
    pub(crate) fn add_import_files(
        &self,
        id: i64,
        files: &[FoundFile],
        open: bool,
    ) -> Result<usize, StoreError> {
        self.writing(|transaction| {
            if import(transaction, id)?.state.has_ended() {
                return Err(StoreError::ImportEnded(id));
            }
            let known: BTreeSet<String> = transaction
                .prepare("SELECT source FROM import_files WHERE import = ?1")?
                .query_map([id], |row| row.get(0))?
                .collect::<Result<_, _>>()?;
            let last: i64 = transaction.query_row(
                "SELECT coalesce(max(number), 0) FROM import_files WHERE import = ?1",
                [id],
                |row| row.get(0),
            )?;
            let mut added = 0;
            for file in files {
                let source = serde_json::to_string(&file.source)?;
                if known.contains(&source) {
                    continue;
                }
                added += 1;
                transaction
                    .prepare_cached(
                        "INSERT INTO import_files (import, number, name, source, bytes) VALUES (?1, ?2, ?3, ?4, ?5)",
                    )?
                    .execute((
                        id,
                        last + i64::try_from(added).unwrap_or(i64::MAX),
                        &file.name,
                        source,
                        i64::try_from(file.bytes).unwrap_or(i64::MAX),
                    ))?;
            }
            transaction.execute("UPDATE imports SET open = ?2 WHERE id = ?1", (id, open))?;
            Ok(added)
        })
    }

    /// The import of what was asked for, if one began and did not end.
    pub(crate) fn unfinished_import(&self, origin: &str) -> Result<Option<StoredImport>, StoreError> {
        self.reading(|connection| {
            let id = connection.query_row(
                "SELECT max(id) FROM imports WHERE origin = ?1 AND state IN ('running', 'paused')",
                [origin],
                |row| row.get::<_, Option<i64>>(0),
            )?;
            id.map(|id| import(connection, id)).transpose()
        })
    }

    /// The last import of what was asked for, ended or not.
    pub(crate) fn last_import(&self, origin: &str) -> Result<Option<StoredImport>, StoreError> {
        self.reading(|connection| {
            let id =
                connection.query_row("SELECT max(id) FROM imports WHERE origin = ?1", [origin], |row| {
                    row.get::<_, Option<i64>>(0)
                })?;
            id.map(|id| import(connection, id)).transpose()
        })
    }

    /// An import.
    pub(crate) fn import(&self, id: i64) -> Result<StoredImport, StoreError> {
        self.reading(|connection| import(connection, id))
    }

    /// The newest imports first, and how many there are in all.
    pub(crate) fn imports(&self, limit: u32) -> Result<(Vec<StoredImport>, i64), StoreError> {
        self.reading(|connection| {
            let ids: Vec<i64> = connection
                .prepare("SELECT id FROM imports ORDER BY id DESC LIMIT ?1")?
                .query_map([limit], |row| row.get(0))?
                .collect::<Result<_, _>>()?;
            let imports = ids.into_iter().map(|id| import(connection, id)).collect::<Result<_, _>>()?;
            Ok((imports, connection.query_row("SELECT count(*) FROM imports", [], |row| row.get(0))?))
        })
    }

    /// The first import that is to be run and has something to do.
    pub(crate) fn next_import(&self) -> Result<Option<StoredImport>, StoreError> {
        self.reading(|connection| {
            let id: Option<i64> = connection
                .query_row(
                    "SELECT min(id) FROM imports WHERE state = 'running' AND EXISTS
                     (SELECT 1 FROM import_files WHERE import = imports.id AND sequence IS NULL)",
                    [],
                    |row| row.get(0),
                )
                .optional()?
                .flatten();
            id.map(|id| import(connection, id)).transpose()
        })
    }

    /// Pauses, resumes or gives up an import.
    pub(crate) fn set_import_state(&self, id: i64, state: ImportState) -> Result<StoredImport, StoreError> {
        let stored = self.writing(|transaction| {
            let now = import(transaction, id)?;
            if now.state == state {
                return Ok(now);
            }
            if now.state.has_ended() {
                return Err(StoreError::ImportEnded(id));
            }
            set_state(transaction, id, state)?;
            import(transaction, id)
        })?;
        if stored.state == ImportState::Canceled {
            self.forget_sent(id);
        }
        Ok(stored)
    }

    /// Ends an import all of whose files have their outcome; one that may get
    /// more files, or is paused, stays as it is.
    pub(crate) fn end_import(&self, id: i64) -> Result<StoredImport, StoreError> {
        let (stored, waits) = self.writing(|transaction| {
            transaction.execute(
                &format!(
                    "UPDATE imports SET state = 'done', finished_at = {NOW}
                     WHERE id = ?1 AND state = 'running' AND open = 0 AND NOT EXISTS
                     (SELECT 1 FROM import_files WHERE import = ?1 AND sequence IS NULL)"
                ),
                [id],
            )?;
            let waits: bool = transaction.query_row(
                "SELECT EXISTS (SELECT 1 FROM import_pages WHERE import = ?1 AND outcome = 'which-card')",
                [id],
                |row| row.get(0),
            )?;
            Ok((import(transaction, id)?, waits))
        })?;
        if stored.state == ImportState::Done && !waits {
            self.forget_sent(id);
        }
        Ok(stored)
    }

    /// Says that no more files will come.
    pub(crate) fn close_import(&self, id: i64) -> Result<StoredImport, StoreError> {
        self.writing(|transaction| {
            transaction.execute("UPDATE imports SET open = 0 WHERE id = ?1", [id])?;
            import(transaction, id)
        })?;
        self.end_import(id)
    }

    /// The folder in which what was sent to an import waits.
    pub(crate) fn sent_folder(&self, id: i64) -> PathBuf {
        self.folder.join("imports").join(id.to_string())
    }

    /// A folder for what is being received; it goes with the value.
    pub(crate) fn receiving_folder(&self) -> Result<TempDir, StoreError> {
        Ok(tempfile::Builder::new().prefix("receiving-").tempdir_in(self.folder.join("imports"))?)
    }

    /// Moves what was received, files named from 0 on, to where the import's
    /// files wait. Gives their names there, and returns when they are durable.
    pub(crate) fn keep_sent(
        &self,
        id: i64,
        received: &TempDir,
        count: usize,
    ) -> Result<Vec<String>, StoreError> {
        let folder = self.sent_folder(id);
        fs::create_dir_all(&folder)?;
        let batch = received.path().file_name().unwrap_or_default().to_string_lossy().into_owned();
        let mut names = Vec::with_capacity(count);
        for index in 0..count {
            let name = format!("{}-{index}", batch.trim_start_matches("receiving-"));
            fs::rename(received.path().join(index.to_string()), folder.join(&name))?;
            names.push(name);
        }
        sync_folder(&folder)?;
        sync_folder(&self.folder.join("imports"))?;
        Ok(names)
    }

    /// Best effort: what stays behind is swept at the next start.
    fn forget_sent(&self, id: i64) {
        let _ = fs::remove_dir_all(self.sent_folder(id));
    }

    /// The files of an import that have no outcome yet, in their order.
    pub(crate) fn waiting_files(&self, id: i64) -> Result<Vec<WaitingFile>, StoreError> {
        self.reading(|connection| {
            let rows: Vec<(i64, String, String, Option<String>)> = connection
                .prepare(
                    "SELECT number, name, source, card FROM import_files
                     WHERE import = ?1 AND sequence IS NULL ORDER BY number",
                )?
                .query_map([id], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?
                .collect::<Result<_, _>>()?;
            rows.into_iter()
                .map(|(number, name, source, card)| {
                    Ok(WaitingFile { number, name, source: serde_json::from_str(&source)?, card })
                })
                .collect()
        })
    }

    /// Every layout of the notebook, to be looked through.
    pub(crate) fn gallery(&self) -> Result<Gallery, StoreError> {
        self.reading(|connection| {
            let mut gallery = Gallery::default();
            let mut query = connection.prepare(
                "SELECT layouts.id, record FROM layouts JOIN versions ON layout = id AND versions.version = layouts.version
                 WHERE deleted = 0 ORDER BY layouts.id",
            )?;
            let mut rows = query.query([])?;
            while let Some(row) = rows.next()? {
                let id = row.get(0)?;
                let record = serde_json::from_str(&row.get::<_, String>(1)?).map_err(StoreError::from);
                match record.and_then(|record: LayoutJson| parsed(record)) {
                    Ok(layout) => gallery.add(id, &layout),
                    // `eighths check` names it; the others can still be compared.
                    Err(error) => tracing::warn!(id, %error, "a layout is passed over"),
                }
            }
            Ok(gallery)
        })
    }

    /// Whether the same bytes have been read: for a layout of the notebook,
    /// deleted or not, or for an earlier file of the import.
    pub(crate) fn knows_file(&self, import: i64, number: i64, sha256: &str) -> Result<bool, StoreError> {
        self.reading(|connection| Ok(known_as(connection, import, number, sha256)?.is_some()))
    }

    /// Keeps what came of a file, whose bytes are among the photos already: its
    /// photos, its layouts and its outcome. New layouts are looked for in the gallery, and added to it.
    pub(crate) fn finish_file(
        &self,
        id: i64,
        file: &WaitingFile,
        done: Finished<'_>,
        gallery: &mut Gallery,
    ) -> Result<FileResult, StoreError> {
        self.writing(|transaction| {
            let known = match done.sha256 {
                Some(sha256) => known_as(transaction, id, file.number, sha256)?,
                None => None,
            };
            let known = known.map(|reason| {
                vec![PageRead {
                    page: 1,
                    outcome: Outcome::AlreadyThere,
                    reason,
                    size_px: None,
                    layouts: Vec::new(),
                }]
            });
            let pages = known.as_deref().or(done.pages).unwrap_or_default();
            // Never a number again that somebody has seen.
            let sequence: i64 = transaction.query_row(
                "UPDATE imports SET told = told + 1 WHERE id = ?1 RETURNING told",
                [id],
                |row| row.get(0),
            )?;
            transaction.execute(
                "UPDATE import_files SET sequence = ?3, sha256 = ?4 WHERE import = ?1 AND number = ?2",
                (id, file.number, sequence, done.sha256),
            )?;
            let mut results = Vec::with_capacity(pages.len());
            for page in pages {
                let kept = match (done.photo, page.size_px, done.sha256) {
                    (Some(photo), Some(size_px), Some(sha256)) => {
                        put_photo(transaction, photo, page.page, size_px)?;
                        Some(photo_id(sha256, page.page))
                    }
                    _ => None,
                };
                transaction.execute(
                    "INSERT INTO import_pages (import, number, page, outcome, reason, photo)
                     VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                    (id, file.number, page.page, page.outcome.word(), &page.reason, &kept),
                )?;
                let mut layouts = Vec::with_capacity(page.layouts.len());
                for layout in &page.layouts {
                    let mut layout = layout.clone();
                    if let (Some(capture), Some(kept)) = (&mut layout.capture, &kept) {
                        capture.photo.clone_from(kept);
                    }
                    layouts.push(put_layout(transaction, (id, file.number, page.page), &layout, gallery)?);
                }
                results.push(PageResult {
                    page: page.page,
                    outcome: page.outcome,
                    reason: page.reason.clone(),
                    photo: kept,
                    layouts,
                });
            }
            Ok(FileResult { sequence, number: file.number, name: file.name.clone(), pages: results })
        })
    }

    /// Outcomes of an import after the one with this sequence number, in order.
    pub(crate) fn import_results(
        &self,
        id: i64,
        after: i64,
        limit: u32,
    ) -> Result<Vec<FileResult>, StoreError> {
        self.reading(|connection| {
            import(connection, id)?;
            let mut files: Vec<FileResult> = connection
                .prepare_cached(
                    "SELECT sequence, number, name FROM import_files
                     WHERE import = ?1 AND sequence > ?2 ORDER BY sequence LIMIT ?3",
                )?
                .query_map((id, after, limit), |row| {
                    Ok(FileResult {
                        sequence: row.get(0)?,
                        number: row.get(1)?,
                        name: row.get(2)?,
                        pages: Vec::new(),
                    })
                })?
                .collect::<Result<_, _>>()?;
            for file in &mut files {
                file.pages = pages_of(connection, id, file.number)?;
            }
            Ok(files)
        })
    }

    /// Every outcome of an import so far, in the order of its files.
    pub(crate) fn all_import_results(&self, id: i64) -> Result<Vec<FileResult>, StoreError> {
        let mut all = self.import_results(id, 0, u32::MAX)?;
        // Files that were read again came last; a person looks for them where they stand.
        all.sort_by_key(|file| file.number);
        Ok(all)
    }

    /// How many pages of an import had which outcome.
    pub(crate) fn import_counts(&self, id: i64) -> Result<Counts, StoreError> {
        self.reading(|connection| {
            import(connection, id)?;
            let mut counts = Counts::default();
            (counts.files, counts.files_done) = connection.query_row(
                "SELECT count(*), count(sequence) FROM import_files WHERE import = ?1",
                [id],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )?;
            (counts.layouts, counts.alike) = connection.query_row(
                "SELECT count(*), count(alike) - count(verdict) FROM import_layouts WHERE import = ?1",
                [id],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )?;
            let mut query = connection.prepare_cached(
                "SELECT outcome, count(*) FROM import_pages WHERE import = ?1 GROUP BY outcome",
            )?;
            let mut rows = query.query([id])?;
            while let Some(row) = rows.next()? {
                if let Some(outcome) = Outcome::of_word(&row.get::<_, String>(0)?) {
                    *counts.of_mut(outcome) = row.get(1)?;
                }
            }
            Ok(counts)
        })
    }

    /// Says which card the files are for that wait for that; they are read next.
    /// Gives how many there were.
    pub(crate) fn say_card(&self, id: i64, card: &str) -> Result<usize, StoreError> {
        self.writing(|transaction| {
            let state = import(transaction, id)?.state;
            if state == ImportState::Canceled {
                return Err(StoreError::ImportEnded(id));
            }
            let numbers: Vec<i64> = transaction
                .prepare(
                    "SELECT DISTINCT number FROM import_pages WHERE import = ?1 AND outcome = 'which-card'",
                )?
                .query_map([id], |row| row.get(0))?
                .collect::<Result<_, _>>()?;
            for number in &numbers {
                // Other pages of the file may have been read: they are read once.
                let read: bool = transaction.query_row(
                    "SELECT EXISTS (SELECT 1 FROM import_layouts WHERE import = ?1 AND number = ?2)",
                    (id, number),
                    |row| row.get(0),
                )?;
                if read {
                    forget_layouts(transaction, id, *number)?;
                }
                transaction
                    .execute("DELETE FROM import_pages WHERE import = ?1 AND number = ?2", (id, number))?;
                transaction.execute(
                    "UPDATE import_files SET sequence = NULL, sha256 = NULL, card = ?3
                     WHERE import = ?1 AND number = ?2",
                    (id, number, card),
                )?;
            }
            // One that is paused stays so.
            if !numbers.is_empty() && state == ImportState::Done {
                set_state(transaction, id, ImportState::Running)?;
            }
            Ok(numbers.len())
        })
    }

    /// Says of a layout of an import whether it is the same as the earlier one
    /// it looks like. One that is the same is deleted; its versions stay.
    pub(crate) fn settle_alike(&self, id: i64, layout: i64, same: bool) -> Result<(), StoreError> {
        self.writing(|transaction| {
            import(transaction, id)?;
            let changed = transaction.execute(
                "UPDATE import_layouts SET verdict = ?3
                 WHERE import = ?1 AND layout = ?2 AND alike IS NOT NULL AND verdict IS NULL",
                (id, layout, if same { "same" } else { "different" }),
            )?;
            if changed == 0 {
                return Err(StoreError::NotAlike(layout));
            }
            if same {
                let head = history::head(transaction, Noun::Layout, layout)?;
                if !head.deleted {
                    layouts::delete(transaction, layout, head.version + 1)?;
                }
            }
            Ok(())
        })
    }
}

/// Deletes the layouts that came of a file which is to be read again.
fn forget_layouts(transaction: &Transaction<'_>, id: i64, number: i64) -> Result<(), StoreError> {
    let layouts: Vec<i64> = transaction
        .prepare("SELECT layout FROM import_layouts WHERE import = ?1 AND number = ?2")?
        .query_map((id, number), |row| row.get(0))?
        .collect::<Result<_, _>>()?;
    for layout in layouts {
        let head = history::head(transaction, Noun::Layout, layout)?;
        if !head.deleted {
            layouts::delete(transaction, layout, head.version + 1)?;
        }
        // It will not be found as one that was read from this file.
        transaction.execute("UPDATE layouts SET photo = '' WHERE id = ?1", [layout])?;
    }
    transaction.execute("DELETE FROM import_layouts WHERE import = ?1 AND number = ?2", (id, number))?;
    Ok(())
}

fn set_state(transaction: &Transaction<'_>, id: i64, state: ImportState) -> Result<(), StoreError> {
    transaction.execute(
        &format!("UPDATE imports SET state = ?2, finished_at = CASE WHEN ?3 THEN {NOW} END WHERE id = ?1"),
        (id, state.word(), state.has_ended()),
    )?;
    Ok(())
}

fn import(connection: &Connection, id: i64) -> Result<StoredImport, StoreError> {
    let row: Option<(String, bool, String, String, Option<String>)> = connection
        .prepare_cached("SELECT state, open, rule, made_at, finished_at FROM imports WHERE id = ?1")?
        .query_row([id], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?)))
        .optional()?;
    let (state, open, rule, made_at, finished_at) =
        row.ok_or_else(|| StoreError::NoImport(id.to_string()))?;
    let unknown = || serde_json::Error::io(std::io::Error::other(format!("an import in the state {state}")));
    Ok(StoredImport {
        id,
        state: ImportState::of_word(&state).ok_or_else(unknown)?,
        open,
        rule: serde_json::from_str(&rule)?,
        made_at,
        finished_at,
    })
}

/// What the same bytes are known as, in a sentence; `None` where they are new.
fn known_as(
    connection: &Connection,
    import: i64,
    number: i64,
    sha256: &str,
) -> Result<Option<String>, StoreError> {
    let twin: Option<String> = connection
        .prepare_cached(
            "SELECT name FROM import_files
             WHERE import = ?1 AND sha256 = ?2 AND number < ?3 AND sequence IS NOT NULL
             ORDER BY number LIMIT 1",
        )?
        .query_row((import, sha256, number), |row| row.get(0))
        .optional()?;
    if let Some(twin) = twin {
        return Ok(Some(format!("the same file as {twin}")));
    }
    // Ids of a file's pages after the first go on with a dash; what follows a dash comes before a dot.
    let layout: Option<(i64, bool)> = connection
        .prepare_cached(
            "SELECT id, deleted FROM layouts WHERE photo = ?1 OR (photo > ?1 || '-' AND photo < ?1 || '.')
             ORDER BY deleted, id LIMIT 1",
        )?
        .query_row([sha256], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    Ok(layout.map(|(id, deleted)| {
        if deleted {
            format!("it was read as layout {id}, which was deleted since")
        } else {
            format!("it was read as layout {id}")
        }
    }))
}

/// Saves a layout that came of a page.
fn put_layout(
    transaction: &Transaction<'_>,
    (import, number, page): (i64, i64, u32),
    layout: &Layout,
    gallery: &mut Gallery,
) -> Result<LayoutRead, StoreError> {
    transaction.execute("INSERT INTO layouts (version, card) VALUES (1, '')", [])?;
    let id = transaction.last_insert_rowid();
    put_version(transaction, id, 1, layout)?;
    let like = present_like(transaction, layout, gallery)?;
    gallery.add(id, layout);
    transaction.execute(
        "INSERT INTO import_layouts (import, number, page, layout, alike) VALUES (?1, ?2, ?3, ?4, ?5)",
        (import, number, page, id, like),
    )?;
    Ok(LayoutRead { id, like, verdict: None })
}

/// An earlier layout that looks the same and was not deleted meanwhile.
fn present_like(
    connection: &Connection,
    layout: &Layout,
    gallery: &mut Gallery,
) -> Result<Option<i64>, StoreError> {
    while let Some(like) = gallery.like(layout) {
        if !history::head(connection, Noun::Layout, like)?.deleted {
            return Ok(Some(like));
        }
        gallery.remove(like);
    }
    Ok(None)
}

fn pages_of(connection: &Connection, id: i64, number: i64) -> Result<Vec<PageResult>, StoreError> {
    let mut layouts: BTreeMap<u32, Vec<LayoutRead>> = BTreeMap::new();
    let mut query = connection.prepare_cached(
        "SELECT page, layout, alike, verdict FROM import_layouts
         WHERE import = ?1 AND number = ?2 ORDER BY page, layout",
    )?;
    let mut rows = query.query((id, number))?;
    while let Some(row) = rows.next()? {
        let layout = LayoutRead { id: row.get(1)?, like: row.get(2)?, verdict: row.get(3)? };
        layouts.entry(row.get(0)?).or_default().push(layout);
    }
    let mut query = connection.prepare_cached(
        "SELECT page, outcome, reason, photo FROM import_pages WHERE import = ?1 AND number = ?2 ORDER BY page",
    )?;
    let pages = query.query_map((id, number), |row| {
        let (page, outcome): (u32, String) = (row.get(0)?, row.get(1)?);
        Ok(PageResult {
            page,
            outcome: Outcome::of_word(&outcome).unwrap_or(Outcome::Unreadable),
            reason: row.get(2)?,
            photo: row.get(3)?,
            layouts: layouts.remove(&page).unwrap_or_default(),
        })
    })?;
    Ok(pages.collect::<Result<_, _>>()?)
}

/// Removes what was sent to imports that have no more use for it.
pub(super) fn sweep(connection: &Connection, folder: &Path) -> Result<(), StoreError> {
    for entry in fs::read_dir(folder.join("imports"))? {
        let path = entry?.path();
        let id: Option<i64> = path.file_name().and_then(|name| name.to_str()?.parse().ok());
        let wanted: bool = match id {
            Some(id) => connection.query_row(
                "SELECT EXISTS (SELECT 1 FROM imports WHERE id = ?1 AND (state IN ('running', 'paused') OR
                 (state = 'done' AND EXISTS (SELECT 1 FROM import_pages WHERE import = ?1 AND outcome = 'which-card'))))",
                [id],
                |row| row.get(0),
            )?,
            None => false,
        };
        if !wanted {
            fs::remove_dir_all(&path)?;
        }
    }
    Ok(())
}

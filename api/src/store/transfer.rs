//! The notebook as plain histories, to be written out whole and taken in whole.
//! It is read in one transaction, from another process if need be, while the
//! service goes on; and it is taken into an empty notebook in one transaction.

use std::fs;
use std::path::{Path, PathBuf};

use layout::{Layout, LayoutJson, Paper, PaperJson};
use rusqlite::{Connection, OpenFlags, OptionalExtension, Transaction};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::history::Noun;
use super::layouts::parsed;
use super::photos::{Durable, write_whole};
use super::{BUSY_TIMEOUT, Store, StoreError, database, index, integrity, migrations, papers, put_setting};

/// A version of anything that has versions.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct KeptVersion {
    /// From 1.
    pub(crate) version: i64,
    /// When it was saved: UTC, RFC 3339.
    pub(crate) saved_at: String,
    /// What happened, where that is kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) why: Option<String>,
    /// The record; none where this version deleted it.
    pub(crate) record: Option<Value>,
}

/// A plan that is kept for a batch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct KeptPlan {
    /// The version it was made for.
    pub(crate) version: i64,
    /// When: UTC, RFC 3339.
    pub(crate) made_at: String,
    /// The plan.
    pub(crate) plan: Value,
}

/// What cutting a batch did.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct KeptCut {
    /// When: UTC, RFC 3339.
    pub(crate) cut_at: String,
    /// What it did to the drawer.
    pub(crate) changes: Value,
}

/// A layout, a paper or a batch with all its versions.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub(crate) struct History {
    /// Its number in the notebook.
    pub(crate) id: i64,
    /// Whether a layout is a favourite.
    #[serde(default, skip_serializing_if = "is_false")]
    pub(crate) favourite: bool,
    /// When a layout was used.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(crate) uses: Vec<String>,
    /// The plan of a batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) plan: Option<KeptPlan>,
    /// The cutting of a batch.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) cut: Option<KeptCut>,
    /// Every version, oldest first.
    pub(crate) versions: Vec<KeptVersion>,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde asks for a reference")]
fn is_false(value: &bool) -> bool {
    !value
}

/// A page of a file that is a photo of the notebook.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct KeptPhoto {
    /// Its id.
    pub(crate) id: String,
    /// The file's name in the folder of photos: its SHA-256 and an ending.
    pub(crate) file: String,
    /// Which page of the file, from 1.
    pub(crate) page: u32,
    /// The file's size.
    pub(crate) bytes: i64,
    /// Width of the upright picture in pixels.
    pub(crate) width: u32,
    /// Height of the upright picture in pixels.
    pub(crate) height: u32,
    /// When it was added: UTC, RFC 3339.
    pub(crate) added_at: String,
}

/// What has histories.
pub(crate) const NOUNS: [Noun; 3] = [Noun::Layout, Noun::Paper, Noun::Batch];

/// The notebook as it was at one moment.
pub(crate) struct Snapshot {
    folder: PathBuf,
    connection: Connection,
}

impl Snapshot {
    /// The notebook in a folder as it is now, served or not. Nothing in the
    /// folder is changed.
    pub(crate) fn of(folder: &Path) -> Result<Snapshot, StoreError> {
        let missing = || StoreError::NoNotebook(folder.to_owned());
        if !database(folder).is_file() {
            return Err(missing());
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(database(folder), flags)?;
        connection.busy_timeout(BUSY_TIMEOUT)?;
        migrations::check(&connection, folder).map_err(|error| integrity::told(error, folder))?;
        Ok(Snapshot { folder: folder.to_owned(), connection })
    }

    /// Holds the moment: what is written from now on is not seen.
    pub(crate) fn hold(&self) -> Result<(), StoreError> {
        self.connection.execute_batch("BEGIN")?;
        // A reading transaction begins with its first question.
        self.connection.query_row("SELECT count(*) FROM settings", [], |_| Ok(()))?;
        Ok(())
    }

    /// The connection that it is read by.
    pub(super) fn connection(&self) -> &Connection {
        &self.connection
    }

    /// Writes a whole copy of the database to a file that is not there yet. Which
    /// devices are paired is left out: a copy that is put back must let nobody in
    /// whose pairing was ended meanwhile.
    pub(crate) fn copy_database(&self, to: &Path) -> Result<(), StoreError> {
        let name = to.to_str().ok_or_else(|| std::io::Error::other("a name that is no text"))?;
        self.connection.execute("VACUUM INTO ?1", [name])?;
        let copy = Connection::open(to)?;
        copy.pragma_update(None, "secure_delete", true)?;
        copy.execute("DELETE FROM devices", [])?;
        copy.close().map_err(|(_, error)| error)?;
        Ok(())
    }

    /// Every photo.
    pub(crate) fn photos(&self) -> Result<Vec<KeptPhoto>, StoreError> {
        photos(&self.connection)
    }

    /// The bytes of a file of the folder of photos.
    pub(crate) fn photo_bytes(&self, file: &str) -> Result<Vec<u8>, StoreError> {
        Ok(fs::read(self.folder.join("photos").join(file))?)
    }

    /// The numbers of everything of a kind, deleted or not.
    pub(crate) fn ids(&self, noun: Noun) -> Result<Vec<i64>, StoreError> {
        let sql = format!("SELECT id FROM {} ORDER BY id", noun.heads());
        let ids =
            self.connection.prepare(&sql)?.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?;
        Ok(ids)
    }

    /// The history of one.
    pub(crate) fn history(&self, noun: Noun, id: i64) -> Result<History, StoreError> {
        let why = if noun == Noun::Paper { "why" } else { "NULL" };
        let versions: Vec<(i64, String, Option<String>, Option<String>)> = self
            .connection
            .prepare_cached(&format!(
                "SELECT version, saved_at, {why}, record FROM {} WHERE {noun} = ?1 ORDER BY version",
                noun.versions()
            ))?
            .query_map([id], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?
            .collect::<Result<_, _>>()?;
        let versions = versions
            .into_iter()
            .map(|(version, saved_at, why, record)| {
                let record = record.as_deref().map(serde_json::from_str).transpose()?;
                Ok(KeptVersion { version, saved_at, why, record })
            })
            .collect::<Result<_, StoreError>>()?;
        let mut history = History { id, versions, ..History::default() };
        match noun {
            Noun::Layout => {
                history.favourite = self
                    .connection
                    .prepare_cached("SELECT favourite FROM layouts WHERE id = ?1")?
                    .query_row([id], |row| row.get(0))?;
                history.uses = self
                    .connection
                    .prepare_cached("SELECT used_at FROM uses WHERE layout = ?1 ORDER BY id")?
                    .query_map([id], |row| row.get(0))?
                    .collect::<Result<_, _>>()?;
            }
            Noun::Batch => {
                let plan: Option<(i64, String, String)> = self
                    .connection
                    .prepare_cached("SELECT version, made_at, plan FROM batch_plans WHERE batch = ?1")?
                    .query_row([id], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
                    .optional()?;
                if let Some((version, made_at, plan)) = plan {
                    history.plan = Some(KeptPlan { version, made_at, plan: serde_json::from_str(&plan)? });
                }
                let cut: Option<(String, String)> = self
                    .connection
                    .prepare_cached("SELECT cut_at, changes FROM batch_cuts WHERE batch = ?1")?
                    .query_row([id], |row| Ok((row.get(0)?, row.get(1)?)))
                    .optional()?;
                if let Some((cut_at, changes)) = cut {
                    history.cut = Some(KeptCut { cut_at, changes: serde_json::from_str(&changes)? });
                }
            }
            Noun::Paper => {}
        }
        Ok(history)
    }
}

fn photos(connection: &Connection) -> Result<Vec<KeptPhoto>, StoreError> {
    let mut query = connection
        .prepare("SELECT id, file, page, bytes, width, height, added_at FROM photos ORDER BY file, page")?;
    let photos = query.query_map([], |row| {
        Ok(KeptPhoto {
            id: row.get(0)?,
            file: row.get(1)?,
            page: row.get(2)?,
            bytes: row.get(3)?,
            width: row.get(4)?,
            height: row.get(5)?,
            added_at: row.get(6)?,
        })
    })?;
    Ok(photos.collect::<Result<_, _>>()?)
}

impl Store {
    /// Whether nothing was ever put into the notebook.
    pub(crate) fn is_empty(&self) -> Result<bool, StoreError> {
        self.reading(|connection| {
            let sql = "SELECT NOT EXISTS (SELECT 1 FROM layouts) AND NOT EXISTS (SELECT 1 FROM papers)
                       AND NOT EXISTS (SELECT 1 FROM batches) AND NOT EXISTS (SELECT 1 FROM photos)";
            Ok(connection.query_row(sql, [], |row| row.get(0))?)
        })
    }

    /// Writes a file into the folder of photos under the name it had.
    pub(crate) fn take_in_file(&self, name: &str, bytes: &[u8]) -> Result<(), StoreError> {
        write_whole(&self.folder.join("photos"), name, bytes, Durable::Yes)
    }

    /// Takes a whole notebook into an empty one, in one transaction. The photos'
    /// files are there already.
    pub(crate) fn take_in(
        &self,
        photos: &[KeptPhoto],
        histories: impl FnOnce(&mut dyn FnMut(Noun, &History) -> Result<(), StoreError>) -> Result<(), StoreError>,
    ) -> Result<(), StoreError> {
        self.writing(|transaction| {
            for photo in photos {
                transaction
                    .prepare_cached(
                        "INSERT INTO photos (id, file, page, bytes, width, height, added_at)
                         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                    )?
                    .execute((
                        &photo.id,
                        &photo.file,
                        photo.page,
                        photo.bytes,
                        photo.width,
                        photo.height,
                        &photo.added_at,
                    ))?;
            }
            histories(&mut |noun, history| take_in(transaction, noun, history))?;
            // What is here is its maker's: the demo stays away.
            put_setting(transaction, "demo", "done")
        })
    }
}

fn take_in(transaction: &Transaction<'_>, noun: Noun, history: &History) -> Result<(), StoreError> {
    let id = history.id;
    let unsound = |message: String| StoreError::Record(serde::de::Error::custom(message));
    let last = history.versions.last().ok_or_else(|| unsound(format!("{noun} {id} has no version")))?;
    let card = if noun == Noun::Layout { ", card" } else { "" };
    let no_card = if noun == Noun::Layout { ", ''" } else { "" };
    transaction.execute(
        &format!("INSERT INTO {} (id, version, deleted{card}) VALUES (?1, ?2, ?3{no_card})", noun.heads()),
        (id, last.version, last.record.is_none()),
    )?;
    for version in &history.versions {
        let record = version.record.as_ref().map(|record| canonical(noun, record)).transpose()?;
        transaction.execute(
            &format!(
                "INSERT INTO {} ({noun}, version, saved_at, record) VALUES (?1, ?2, ?3, ?4)",
                noun.versions()
            ),
            (id, version.version, &version.saved_at, record),
        )?;
        if let (Noun::Paper, Some(why)) = (noun, &version.why) {
            papers::note(transaction, id, version.version, why)?;
        }
    }
    match (noun, &last.record) {
        (Noun::Layout, Some(record)) => {
            index::write(transaction, id, &last.saved_at, &layout_of(record)?)?;
        }
        (Noun::Paper, Some(record)) => {
            papers::write_index(transaction, id, &last.saved_at, &paper_of(record)?)?;
        }
        _ => {}
    }
    match noun {
        Noun::Layout => {
            for used_at in &history.uses {
                transaction.execute("INSERT INTO uses (layout, used_at) VALUES (?1, ?2)", (id, used_at))?;
            }
            super::shelf::count_uses(transaction, id)?;
            transaction
                .execute("UPDATE layouts SET favourite = ?2 WHERE id = ?1", (id, history.favourite))?;
        }
        Noun::Batch => {
            transaction.execute("UPDATE batches SET changed_at = ?2 WHERE id = ?1", (id, &last.saved_at))?;
            if let Some(plan) = &history.plan {
                let _: crate::batch::BatchPlan = serde_json::from_value(plan.plan.clone())?;
                transaction.execute(
                    "INSERT INTO batch_plans (batch, version, made_at, plan) VALUES (?1, ?2, ?3, ?4)",
                    (id, plan.version, &plan.made_at, plan.plan.to_string()),
                )?;
            }
            if let Some(cut) = &history.cut {
                let _: super::Changes = serde_json::from_value(cut.changes.clone())?;
                transaction.execute(
                    "INSERT INTO batch_cuts (batch, cut_at, changes) VALUES (?1, ?2, ?3)",
                    (id, &cut.cut_at, cut.changes.to_string()),
                )?;
            }
        }
        Noun::Paper => {}
    }
    Ok(())
}

fn layout_of(record: &Value) -> Result<Layout, StoreError> {
    parsed(serde_json::from_value::<LayoutJson>(record.clone())?)
}

fn paper_of(record: &Value) -> Result<Paper, StoreError> {
    let record: PaperJson = serde_json::from_value(record.clone())?;
    Paper::try_from(record).map_err(|faults| StoreError::Record(serde::de::Error::custom(faults)))
}

/// A record as the notebook keeps it, if it is a sound one.
pub(super) fn canonical(noun: Noun, record: &Value) -> Result<String, StoreError> {
    Ok(match noun {
        Noun::Layout => serde_json::to_string(&LayoutJson::from(&layout_of(record)?))?,
        Noun::Paper => serde_json::to_string(&PaperJson::from(&paper_of(record)?))?,
        Noun::Batch => {
            use crate::batch::{Batch, BatchJson};
            let record: BatchJson = serde_json::from_value(record.clone())?;
            let batch = Batch::try_from(record)
                .map_err(|faults| StoreError::Record(serde::de::Error::custom(faults)))?;
            serde_json::to_string(&BatchJson::from(&batch))?
        }
    })
}

#[cfg(test)]
mod tests {
    use super::super::{opened, sample};
    use super::*;

    #[test]
    fn a_copy_has_the_layouts_and_no_paired_device() {
        let (folder, store) = opened();
        store.create_layout(&sample("Thank you")).unwrap();
        store.pair_device("Ruth's old phone", "a token", None).unwrap();
        let copied = folder.path().join("copy");
        fs::create_dir(&copied).unwrap();
        Snapshot::of(folder.path()).unwrap().copy_database(&database(&copied)).unwrap();
        assert_eq!(store.devices().unwrap().len(), 1);
        let bytes = fs::read(database(&copied)).unwrap();
        assert!(!bytes.windows(16).any(|part| part == b"Ruth's old phone"));
        let copy = Store::open(&copied).unwrap();
        assert_eq!(copy.devices().unwrap(), []);
        assert_eq!(copy.layout(1).unwrap(), store.layout(1).unwrap());
    }
}

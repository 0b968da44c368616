//! Layouts and their versions. Version numbers of a layout count from 1
//! without a gap; the newest is the present one.

use layout::{Layout, LayoutJson};
use rusqlite::{Connection, OptionalExtension, Row, Transaction, TransactionBehavior};

use super::{Store, StoreError, index, put_setting};

/// A layout as it was saved.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct StoredLayout {
    /// Its number in the notebook, never used again.
    pub(crate) id: i64,
    /// Which save of it this is, from 1.
    pub(crate) version: i64,
    /// When, in UTC, RFC 3339.
    pub(crate) saved_at: String,
    /// The record.
    pub(crate) record: LayoutJson,
}

/// One line of a layout's history.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct VersionEntry {
    /// From 1.
    pub(crate) version: i64,
    /// When, in UTC, RFC 3339.
    pub(crate) saved_at: String,
    /// The title it had; `None` for a deletion.
    pub(crate) title: Option<String>,
}

/// What the writer believes the present version to be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Expected {
    /// Any, as long as there is one.
    Any,
    /// One of these.
    OneOf(Vec<i64>),
}

impl Expected {
    fn check(&self, id: i64, version: i64) -> Result<(), StoreError> {
        match self {
            Expected::OneOf(versions) if !versions.contains(&version) => {
                Err(StoreError::Stale { id, version })
            }
            _ => Ok(()),
        }
    }
}

/// The present state of a layout.
pub(super) struct Head {
    pub(super) version: i64,
    pub(super) deleted: bool,
}

impl Store {
    /// Saves a new layout as its version 1.
    pub(crate) fn create_layout(&self, layout: &Layout) -> Result<StoredLayout, StoreError> {
        self.writing(|transaction| {
            transaction.execute("INSERT INTO layouts (version, card) VALUES (1, '')", [])?;
            let id = transaction.last_insert_rowid();
            put_version(transaction, id, 1, layout)
        })
    }

    /// Saves several new layouts and a setting that says so, all or nothing.
    pub(crate) fn create_layouts_noting(
        &self,
        layouts: &[Layout],
        key: &str,
        value: &str,
    ) -> Result<(), StoreError> {
        self.writing(|transaction| {
            for layout in layouts {
                transaction.execute("INSERT INTO layouts (version, card) VALUES (1, '')", [])?;
                let id = transaction.last_insert_rowid();
                put_version(transaction, id, 1, layout)?;
            }
            put_setting(transaction, key, value)
        })
    }

    /// Saves the next version of a layout.
    pub(crate) fn update_layout(
        &self,
        id: i64,
        expected: &Expected,
        layout: &Layout,
    ) -> Result<StoredLayout, StoreError> {
        self.writing(|transaction| {
            let head = live_head(transaction, id)?;
            expected.check(id, head.version)?;
            put_version(transaction, id, head.version + 1, layout)
        })
    }

    /// Deletes a layout; its versions stay. Gives the version that says so.
    pub(crate) fn delete_layout(&self, id: i64, expected: &Expected) -> Result<i64, StoreError> {
        self.writing(|transaction| {
            let head = live_head(transaction, id)?;
            expected.check(id, head.version)?;
            let version = head.version + 1;
            delete(transaction, id, version)?;
            Ok(version)
        })
    }

    /// Saves an earlier version again, as the newest one. `expected` may be
    /// left out only where nothing can be lost: when the layout is deleted.
    pub(crate) fn restore_layout(
        &self,
        id: i64,
        version: i64,
        expected: Option<&Expected>,
    ) -> Result<Option<StoredLayout>, StoreError> {
        self.writing(|transaction| {
            let head = head(transaction, id)?;
            match expected {
                Some(expected) => expected.check(id, head.version)?,
                None if head.deleted => {}
                None => return Ok(None),
            }
            restore(transaction, id, version, head.version + 1).map(Some)
        })
    }

    /// The present version of a layout.
    pub(crate) fn layout(&self, id: i64) -> Result<StoredLayout, StoreError> {
        self.reading(|connection| {
            let version = live_head(connection, id)?.version;
            version_of(connection, id, version)
        })
    }

    /// One version of a layout, present or not.
    pub(crate) fn layout_version(&self, id: i64, version: i64) -> Result<StoredLayout, StoreError> {
        self.reading(|connection| {
            head(connection, id)?;
            version_of(connection, id, version)
        })
    }

    /// The history of a layout, newest first, deleted or not.
    pub(crate) fn layout_versions(&self, id: i64) -> Result<Vec<VersionEntry>, StoreError> {
        self.reading(|connection| {
            head(connection, id)?;
            let mut query = connection.prepare_cached(
                "SELECT version, saved_at, record ->> '$.title' FROM versions
                 WHERE layout = ?1 ORDER BY version DESC",
            )?;
            let entries = query.query_map([id], |row| {
                Ok(VersionEntry { version: row.get(0)?, saved_at: row.get(1)?, title: row.get(2)? })
            })?;
            Ok(entries.collect::<Result<_, _>>()?)
        })
    }

    /// Whether no layout was ever saved.
    pub(crate) fn is_unused(&self) -> Result<bool, StoreError> {
        self.reading(|connection| {
            Ok(connection.query_row("SELECT NOT EXISTS (SELECT 1 FROM versions)", [], |row| row.get(0))?)
        })
    }

    /// Runs `job` in a transaction that is on disk when this returns `Ok`.
    pub(super) fn writing<T>(
        &self,
        job: impl FnOnce(&Transaction<'_>) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let mut writer = self.writer();
        let transaction = writer.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let result = job(&transaction)?;
        transaction.commit()?;
        Ok(result)
    }
}

pub(super) fn head(connection: &Connection, id: i64) -> Result<Head, StoreError> {
    connection
        .prepare_cached("SELECT version, deleted FROM layouts WHERE id = ?1")?
        .query_row([id], |row| Ok(Head { version: row.get(0)?, deleted: row.get(1)? }))
        .optional()?
        .ok_or_else(|| StoreError::NoLayout(id.to_string()))
}

pub(super) fn live_head(connection: &Connection, id: i64) -> Result<Head, StoreError> {
    let head = head(connection, id)?;
    if head.deleted { Err(StoreError::Deleted { id, version: head.version }) } else { Ok(head) }
}

pub(super) fn version_of(connection: &Connection, id: i64, version: i64) -> Result<StoredLayout, StoreError> {
    let row = connection
        .prepare_cached(
            "SELECT layout, version, saved_at, record FROM versions
             WHERE layout = ?1 AND version = ?2 AND record IS NOT NULL",
        )?
        .query_row((id, version), row_parts)
        .optional()?;
    saved(row.ok_or_else(|| StoreError::NoVersion { id, version: version.to_string() })?)
}

/// Deletes a layout as its next version.
pub(super) fn delete(transaction: &Transaction<'_>, id: i64, version: i64) -> Result<(), StoreError> {
    transaction.execute(
        "INSERT INTO versions (layout, version, saved_at)
         VALUES (?1, ?2, strftime('%Y-%m-%dT%H:%M:%SZ', 'now'))",
        (id, version),
    )?;
    transaction.execute("UPDATE layouts SET version = ?2, deleted = 1 WHERE id = ?1", (id, version))?;
    index::forget(transaction, id)
}

/// Saves an earlier version again, as the version `next`.
pub(super) fn restore(
    transaction: &Transaction<'_>,
    id: i64,
    version: i64,
    next: i64,
) -> Result<StoredLayout, StoreError> {
    let layout = parsed(version_of(transaction, id, version)?.record)?;
    put_version(transaction, id, next, &layout)
}

/// A record of the notebook as a layout.
pub(super) fn parsed(record: LayoutJson) -> Result<Layout, StoreError> {
    Layout::try_from(record).map_err(|faults| StoreError::Record(serde::de::Error::custom(faults)))
}

/// Writes a version and makes it the present one.
pub(super) fn put_version(
    transaction: &Transaction<'_>,
    id: i64,
    version: i64,
    layout: &Layout,
) -> Result<StoredLayout, StoreError> {
    let record = LayoutJson::from(layout);
    let saved_at: String = transaction.query_row(
        "INSERT INTO versions (layout, version, saved_at, record)
         VALUES (?1, ?2, strftime('%Y-%m-%dT%H:%M:%SZ', 'now'), ?3) RETURNING saved_at",
        (id, version, serde_json::to_string(&record)?),
        |row| row.get(0),
    )?;
    transaction.execute("UPDATE layouts SET version = ?2, deleted = 0 WHERE id = ?1", (id, version))?;
    index::write(transaction, id, &saved_at, layout)?;
    Ok(StoredLayout { id, version, saved_at, record })
}

pub(super) type RowParts = (i64, i64, String, String);

pub(super) fn row_parts(row: &Row<'_>) -> rusqlite::Result<RowParts> {
    Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
}

pub(super) fn saved((id, version, saved_at, record): RowParts) -> Result<StoredLayout, StoreError> {
    Ok(StoredLayout { id, version, saved_at, record: serde_json::from_str(&record)? })
}

#[cfg(test)]
mod tests {
    use super::super::{opened, sample};
    use super::*;

    #[test]
    fn every_version_is_kept() {
        let (_folder, store) = opened();
        let first = store.create_layout(&sample("Thank you")).unwrap();
        assert_eq!((first.id, first.version), (1, 1));
        let second = store.update_layout(1, &Expected::OneOf(vec![1]), &sample("Thank you, Edith")).unwrap();
        assert_eq!(second.version, 2);
        assert_eq!(store.delete_layout(1, &Expected::OneOf(vec![2])).unwrap(), 3);
        assert!(matches!(store.layout(1), Err(StoreError::Deleted { id: 1, version: 3 })));
        let restored = store.restore_layout(1, 1, None).unwrap().unwrap();
        assert_eq!((restored.version, restored.record), (4, first.record.clone()));
        let history: Vec<_> =
            store.layout_versions(1).unwrap().into_iter().map(|entry| (entry.version, entry.title)).collect();
        let title = |text: &str| Some(text.to_owned());
        assert_eq!(
            history,
            [(4, title("Thank you")), (3, None), (2, title("Thank you, Edith")), (1, title("Thank you"))]
        );
        assert_eq!(store.layout_version(1, 1).unwrap(), first);
        assert!(matches!(store.layout_version(1, 3), Err(StoreError::NoVersion { .. })));
    }

    #[test]
    fn a_stale_writer_changes_nothing() {
        let (_folder, store) = opened();
        store.create_layout(&sample("one")).unwrap();
        store.update_layout(1, &Expected::Any, &sample("two")).unwrap();
        let stale = Expected::OneOf(vec![1]);
        let is_stale = |error: &StoreError| matches!(error, StoreError::Stale { id: 1, version: 2 });
        assert!(is_stale(&store.update_layout(1, &stale, &sample("three")).unwrap_err()));
        assert!(is_stale(&store.delete_layout(1, &stale).unwrap_err()));
        assert!(is_stale(&store.restore_layout(1, 1, Some(&stale)).unwrap_err()));
        assert_eq!(store.restore_layout(1, 1, None).unwrap(), None);
        assert_eq!(store.layout(1).unwrap().record.title, "two");
        assert_eq!(store.layout_versions(1).unwrap().len(), 2);
    }

    #[test]
    fn a_notebook_opened_again_has_it_all() {
        let (folder, store) = opened();
        let saved = store.create_layout(&sample("one")).unwrap();
        drop(store);
        assert_eq!(Store::open(folder.path()).unwrap().layout(1).unwrap(), saved);
    }
}

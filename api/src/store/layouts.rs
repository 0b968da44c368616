//! Layouts and their versions.

use layout::{Layout, LayoutJson};
use rusqlite::{Connection, Transaction, TransactionBehavior};

use super::history::{self, Expected, Noun, Row, VersionEntry};
use super::{Store, StoreError, index, lock, put_setting};

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
            let version = history::next(transaction, Noun::Layout, id, expected)?;
            put_version(transaction, id, version, layout)
        })
    }

    /// Deletes a layout; its versions stay. Gives the version that says so.
    pub(crate) fn delete_layout(&self, id: i64, expected: &Expected) -> Result<i64, StoreError> {
        self.writing(|transaction| {
            let version = history::next(transaction, Noun::Layout, id, expected)?;
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
            let head = history::head(transaction, Noun::Layout, id)?;
            match expected {
                Some(expected) => expected.check(Noun::Layout, id, head.version)?,
                None if head.deleted => {}
                None => return Ok(None),
            }
            restore(transaction, id, version, head.version + 1).map(Some)
        })
    }

    /// The present version of a layout.
    pub(crate) fn layout(&self, id: i64) -> Result<StoredLayout, StoreError> {
        self.reading(|connection| saved(history::present(connection, Noun::Layout, id)?))
    }

    /// One version of a layout, present or not.
    pub(crate) fn layout_version(&self, id: i64, version: i64) -> Result<StoredLayout, StoreError> {
        self.reading(|connection| {
            history::head(connection, Noun::Layout, id)?;
            version_of(connection, id, version)
        })
    }

    /// The history of a layout, newest first, deleted or not.
    pub(crate) fn layout_versions(&self, id: i64) -> Result<Vec<VersionEntry>, StoreError> {
        self.reading(|connection| history::versions(connection, Noun::Layout, id, "$.title"))
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
        lock::held(&self.folder, &self.lock)?;
        let mut writer = self.writer();
        let transaction = writer.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let result = job(&transaction)?;
        transaction.commit()?;
        Ok(result)
    }
}

pub(super) fn version_of(connection: &Connection, id: i64, version: i64) -> Result<StoredLayout, StoreError> {
    saved(history::version_of(connection, Noun::Layout, id, version)?)
}

/// Deletes a layout as its next version.
pub(super) fn delete(transaction: &Transaction<'_>, id: i64, version: i64) -> Result<(), StoreError> {
    history::put(transaction, Noun::Layout, id, version, None)?;
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
    let text = serde_json::to_string(&record)?;
    let saved_at = history::put(transaction, Noun::Layout, id, version, Some(&text))?;
    index::write(transaction, id, &saved_at, layout)?;
    Ok(StoredLayout { id, version, saved_at, record })
}

pub(super) fn saved(row: Row) -> Result<StoredLayout, StoreError> {
    let Row { id, version, saved_at, record } = row;
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
        assert!(matches!(store.layout(1), Err(StoreError::Deleted { id: 1, version: 3, .. })));
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
        let is_stale = |error: &StoreError| matches!(error, StoreError::Stale { id: 1, version: 2, .. });
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

//! Layouts and their versions. Version numbers of a layout count from 1
//! without a gap; the newest is the present one.

use layout::{Card, Layout, LayoutJson};
use rusqlite::{Connection, OptionalExtension, Row, Transaction, TransactionBehavior};

use super::{Store, StoreError, put_setting};

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

/// Which layouts are looked for.
#[derive(Clone, Debug, Default)]
pub(crate) struct Filter {
    /// Words that all occur in title, notes or tags.
    pub(crate) text: String,
    /// The card they are for.
    pub(crate) card: Option<Card>,
    /// A tag they have.
    pub(crate) tag: Option<String>,
    /// Most layouts to give.
    pub(crate) limit: u32,
    /// Only layouts that come after this one.
    pub(crate) after: Option<i64>,
}

/// What was found: newest first.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Found {
    /// The layouts of this part of the list.
    pub(crate) layouts: Vec<StoredLayout>,
    /// How many there are in the whole list.
    pub(crate) total: i64,
}

/// The present state of a layout.
struct Head {
    version: i64,
    deleted: bool,
}

impl Store {
    /// Saves a new layout as its version 1.
    pub(crate) fn create_layout(&self, layout: &Layout) -> Result<StoredLayout, StoreError> {
        self.writing(|transaction| {
            transaction.execute("INSERT INTO layouts (version, card, words) VALUES (1, '', '')", [])?;
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
                transaction.execute("INSERT INTO layouts (version, card, words) VALUES (1, '', '')", [])?;
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
            transaction.execute(
                "INSERT INTO versions (layout, version, saved_at)
                 VALUES (?1, ?2, strftime('%Y-%m-%dT%H:%M:%SZ', 'now'))",
                (id, version),
            )?;
            transaction
                .execute("UPDATE layouts SET version = ?2, deleted = 1 WHERE id = ?1", (id, version))?;
            transaction.execute("DELETE FROM tags WHERE layout = ?1", [id])?;
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
            let earlier = version_of(transaction, id, version)?;
            let layout = Layout::try_from(earlier.record)
                .map_err(|faults| StoreError::Record(serde::de::Error::custom(faults)))?;
            put_version(transaction, id, head.version + 1, &layout).map(Some)
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

    /// The layouts that match, newest first.
    pub(crate) fn find_layouts(&self, filter: &Filter) -> Result<Found, StoreError> {
        // Every word of the text has to occur; no words match everything.
        const MATCHES: &str = "
            deleted = 0
            AND (?1 IS NULL OR card = ?1)
            AND (?2 IS NULL OR EXISTS (SELECT 1 FROM tags WHERE tag = ?2 AND layout = layouts.id))
            AND NOT EXISTS (SELECT 1 FROM json_each(?3) AS word WHERE instr(words, word.value) = 0)";
        let card = filter.card.as_ref().map(card_key);
        let tag = filter.tag.as_deref().map(folded);
        let wanted = folded(&filter.text);
        let wanted = serde_json::to_string(&wanted.split_whitespace().collect::<Vec<_>>())?;
        self.reading(|connection| {
            // One transaction, so that the total fits the list.
            let transaction = connection.unchecked_transaction()?;
            let total = transaction
                .prepare_cached(&format!("SELECT count(*) FROM layouts WHERE {MATCHES}"))?
                .query_row((&card, &tag, &wanted), |row| row.get(0))?;
            let mut query = transaction.prepare_cached(&format!(
                "SELECT layouts.id, versions.version, saved_at, record
                 FROM layouts JOIN versions ON layout = layouts.id AND versions.version = layouts.version
                 WHERE {MATCHES} AND (?4 IS NULL OR layouts.id < ?4)
                 ORDER BY layouts.id DESC LIMIT ?5"
            ))?;
            let rows = query.query_map((&card, &tag, &wanted, filter.after, filter.limit), row_parts)?;
            let layouts = rows.map(|row| saved(row?)).collect::<Result<_, _>>()?;
            Ok(Found { layouts, total })
        })
    }

    /// Whether no layout was ever saved.
    pub(crate) fn is_unused(&self) -> Result<bool, StoreError> {
        self.reading(|connection| {
            Ok(connection.query_row("SELECT NOT EXISTS (SELECT 1 FROM versions)", [], |row| row.get(0))?)
        })
    }

    /// Runs `job` in a transaction that is on disk when this returns `Ok`.
    fn writing<T>(
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

fn head(connection: &Connection, id: i64) -> Result<Head, StoreError> {
    connection
        .prepare_cached("SELECT version, deleted FROM layouts WHERE id = ?1")?
        .query_row([id], |row| Ok(Head { version: row.get(0)?, deleted: row.get(1)? }))
        .optional()?
        .ok_or_else(|| StoreError::NoLayout(id.to_string()))
}

fn live_head(connection: &Connection, id: i64) -> Result<Head, StoreError> {
    let head = head(connection, id)?;
    if head.deleted { Err(StoreError::Deleted { id, version: head.version }) } else { Ok(head) }
}

fn version_of(connection: &Connection, id: i64, version: i64) -> Result<StoredLayout, StoreError> {
    let row = connection
        .prepare_cached(
            "SELECT layout, version, saved_at, record FROM versions
             WHERE layout = ?1 AND version = ?2 AND record IS NOT NULL",
        )?
        .query_row((id, version), row_parts)
        .optional()?;
    saved(row.ok_or_else(|| StoreError::NoVersion { id, version: version.to_string() })?)
}

/// Writes a version and makes it the present one.
fn put_version(
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
    transaction.execute(
        "UPDATE layouts SET version = ?2, deleted = 0, card = ?3, words = ?4 WHERE id = ?1",
        (id, version, card_key(&layout.card), words(layout)),
    )?;
    transaction.execute("DELETE FROM tags WHERE layout = ?1", [id])?;
    for tag in &layout.tags {
        transaction.execute(
            "INSERT INTO tags (tag, layout) VALUES (?1, ?2) ON CONFLICT DO NOTHING",
            (folded(tag), id),
        )?;
    }
    Ok(StoredLayout { id, version, saved_at, record })
}

type RowParts = (i64, i64, String, String);

fn row_parts(row: &Row<'_>) -> rusqlite::Result<RowParts> {
    Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
}

fn saved((id, version, saved_at, record): RowParts) -> Result<StoredLayout, StoreError> {
    Ok(StoredLayout { id, version, saved_at, record: serde_json::from_str(&record)? })
}

/// A card by its size, whichever way it stands.
fn card_key(card: &Card) -> String {
    card.upright().name
}

/// What a layout is found by.
fn words(layout: &Layout) -> String {
    folded(&format!("{}\n{}\n{}", layout.title, layout.tags.join("\n"), layout.notes))
}

/// Text without the difference of capitals and of blanks around it.
fn folded(text: &str) -> String {
    text.trim().to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    fn open() -> (tempfile::TempDir, Store) {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::open(folder.path()).unwrap();
        (folder, store)
    }

    fn titles(store: &Store, filter: &Filter) -> (Vec<String>, i64) {
        let found = store.find_layouts(filter).unwrap();
        (found.layouts.into_iter().map(|saved| saved.record.title).collect(), found.total)
    }

    #[test]
    fn every_version_is_kept() {
        let (_folder, store) = open();
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
        let (_folder, store) = open();
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
    fn layouts_are_found_by_words_card_and_tag() {
        let (_folder, store) = open();
        let mut small = sample("Get well, Otis");
        small.card = "square".parse().unwrap();
        small.elements.clear();
        small.tags = vec!["Soup Day".to_owned()];
        store.create_layout(&sample("Thank you, Edith")).unwrap();
        store.create_layout(&small).unwrap();
        store.create_layout(&sample("Thank you, Ruth")).unwrap();
        let all = Filter { limit: 10, ..Filter::default() };
        assert_eq!(titles(&store, &all).0, ["Thank you, Ruth", "Get well, Otis", "Thank you, Edith"]);
        let page = Filter { limit: 1, after: Some(3), ..Filter::default() };
        assert_eq!(titles(&store, &page), (vec!["Get well, Otis".to_owned()], 3));
        let words = Filter { text: " EDITH thursday ".to_owned(), ..all.clone() };
        assert_eq!(titles(&store, &words).0, ["Thank you, Edith"]);
        let percent = Filter { text: "%".to_owned(), ..all.clone() };
        assert_eq!(titles(&store, &percent).1, 0);
        let card = Filter { card: Some("A2".parse().unwrap()), ..all.clone() };
        assert_eq!(titles(&store, &card).1, 2);
        let tag = Filter { tag: Some("soup day".to_owned()), ..all };
        assert_eq!(titles(&store, &tag).0, ["Get well, Otis"]);
    }

    #[test]
    fn a_notebook_opened_again_has_it_all() {
        let (folder, store) = open();
        let saved = store.create_layout(&sample("one")).unwrap();
        drop(store);
        assert_eq!(Store::open(folder.path()).unwrap().layout(1).unwrap(), saved);
    }
}

//! What layouts, papers and batches have in common: versions. Those of one of
//! them count from 1 without a gap; the newest is the present one, and one
//! without a record is a deletion. Every write gives the next version.

use std::fmt;

use rusqlite::{Connection, OptionalExtension, Transaction};

use super::StoreError;

/// What has versions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Noun {
    /// A layout of the notebook.
    Layout,
    /// A paper of the drawer.
    Paper,
    /// Some cards to be made together.
    Batch,
}

impl Noun {
    /// Its word.
    pub(crate) const fn word(self) -> &'static str {
        match self {
            Noun::Layout => "layout",
            Noun::Paper => "paper",
            Noun::Batch => "batch",
        }
    }

    /// The table with a row for each.
    pub(super) const fn heads(self) -> &'static str {
        match self {
            Noun::Layout => "layouts",
            Noun::Paper => "papers",
            Noun::Batch => "batches",
        }
    }

    /// The table with a row for each version.
    pub(super) const fn versions(self) -> &'static str {
        match self {
            Noun::Layout => "versions",
            Noun::Paper => "paper_versions",
            Noun::Batch => "batch_versions",
        }
    }
}

impl fmt::Display for Noun {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
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
    pub(super) fn check(&self, noun: Noun, id: i64, version: i64) -> Result<(), StoreError> {
        match self {
            Expected::OneOf(versions) if !versions.contains(&version) => {
                Err(StoreError::Stale { noun, id, version })
            }
            _ => Ok(()),
        }
    }
}

/// One line of a history.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct VersionEntry {
    /// From 1.
    pub(crate) version: i64,
    /// When, in UTC, RFC 3339.
    pub(crate) saved_at: String,
    /// The title or name it had; `None` for a deletion.
    pub(crate) title: Option<String>,
}

/// The present state of one.
pub(super) struct Head {
    pub(super) version: i64,
    pub(super) deleted: bool,
}

/// A version as it is kept.
pub(super) struct Row {
    pub(super) id: i64,
    pub(super) version: i64,
    pub(super) saved_at: String,
    pub(super) record: String,
}

/// A version from the first four columns of a row: its owner, number, time and record.
pub(super) fn row_of(row: &rusqlite::Row<'_>) -> rusqlite::Result<Row> {
    Ok(Row { id: row.get(0)?, version: row.get(1)?, saved_at: row.get(2)?, record: row.get(3)? })
}

pub(super) fn head(connection: &Connection, noun: Noun, id: i64) -> Result<Head, StoreError> {
    connection
        .prepare_cached(&format!("SELECT version, deleted FROM {} WHERE id = ?1", noun.heads()))?
        .query_row([id], |row| Ok(Head { version: row.get(0)?, deleted: row.get(1)? }))
        .optional()?
        .ok_or_else(|| StoreError::Missing(noun, id.to_string()))
}

pub(super) fn live_head(connection: &Connection, noun: Noun, id: i64) -> Result<Head, StoreError> {
    let head = head(connection, noun, id)?;
    if head.deleted { Err(StoreError::Deleted { noun, id, version: head.version }) } else { Ok(head) }
}

/// The number of the version that a change of what is there makes.
pub(super) fn next(
    connection: &Connection,
    noun: Noun,
    id: i64,
    expected: &Expected,
) -> Result<i64, StoreError> {
    let head = live_head(connection, noun, id)?;
    expected.check(noun, id, head.version)?;
    Ok(head.version + 1)
}

/// A version that has a record.
pub(super) fn version_of(
    connection: &Connection,
    noun: Noun,
    id: i64,
    version: i64,
) -> Result<Row, StoreError> {
    connection
        .prepare_cached(&format!(
            "SELECT {noun}, version, saved_at, record FROM {}
             WHERE {noun} = ?1 AND version = ?2 AND record IS NOT NULL",
            noun.versions()
        ))?
        .query_row((id, version), row_of)
        .optional()?
        .ok_or_else(|| StoreError::NoVersion { noun, id, version: version.to_string() })
}

/// The present version.
pub(super) fn present(connection: &Connection, noun: Noun, id: i64) -> Result<Row, StoreError> {
    let version = live_head(connection, noun, id)?.version;
    version_of(connection, noun, id, version)
}

/// The history, newest first, deleted or not; `title` is where the record has it.
pub(super) fn versions(
    connection: &Connection,
    noun: Noun,
    id: i64,
    title: &str,
) -> Result<Vec<VersionEntry>, StoreError> {
    head(connection, noun, id)?;
    let mut query = connection.prepare_cached(&format!(
        "SELECT version, saved_at, record ->> ?2 FROM {} WHERE {noun} = ?1 ORDER BY version DESC",
        noun.versions()
    ))?;
    let entries = query.query_map((id, title), |row| {
        Ok(VersionEntry { version: row.get(0)?, saved_at: row.get(1)?, title: row.get(2)? })
    })?;
    Ok(entries.collect::<Result<_, _>>()?)
}

/// Writes a version, a deletion where there is no record, and makes it the
/// present one. Gives the time of it.
pub(super) fn put(
    transaction: &Transaction<'_>,
    noun: Noun,
    id: i64,
    version: i64,
    record: Option<&str>,
) -> Result<String, StoreError> {
    let saved_at = transaction.query_row(
        &format!(
            "INSERT INTO {} ({noun}, version, saved_at, record)
             VALUES (?1, ?2, strftime('%Y-%m-%dT%H:%M:%SZ', 'now'), ?3) RETURNING saved_at",
            noun.versions()
        ),
        (id, version, record),
        |row| row.get(0),
    )?;
    transaction.execute(
        &format!("UPDATE {} SET version = ?2, deleted = ?3 WHERE id = ?1", noun.heads()),
        (id, version, record.is_none()),
    )?;
    Ok(saved_at)
}

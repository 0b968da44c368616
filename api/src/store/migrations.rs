//! The database's form, step by step. The pragma `user_version` holds how many
//! steps have been taken; each is taken whole or not at all.

use std::path::Path;

use rusqlite::Connection;

use super::StoreError;

/// One step a form. Steps that are out in the world never change.
const STEPS: [&str; 1] = ["
    CREATE TABLE settings (
        key   TEXT PRIMARY KEY,
        value TEXT NOT NULL
    ) STRICT, WITHOUT ROWID;

    -- Photos, named by the SHA-256 of their content; the bytes are in photos/<file>.
    CREATE TABLE photos (
        id       TEXT PRIMARY KEY,
        file     TEXT NOT NULL UNIQUE,
        bytes    INTEGER NOT NULL,
        width    INTEGER NOT NULL,
        height   INTEGER NOT NULL,
        added_at TEXT NOT NULL
    ) STRICT, WITHOUT ROWID;

    -- The present version of each layout, and what it is found by.
    CREATE TABLE layouts (
        id      INTEGER PRIMARY KEY AUTOINCREMENT,
        version INTEGER NOT NULL,
        deleted INTEGER NOT NULL DEFAULT 0 CHECK (deleted IN (0, 1)),
        card    TEXT NOT NULL,
        words   TEXT NOT NULL,
        FOREIGN KEY (id, version) REFERENCES versions (layout, version) DEFERRABLE INITIALLY DEFERRED
    ) STRICT;
    CREATE INDEX layouts_by_card ON layouts (card) WHERE deleted = 0;

    -- Every version ever saved; one without a record is a deletion.
    CREATE TABLE versions (
        layout   INTEGER NOT NULL REFERENCES layouts (id) DEFERRABLE INITIALLY DEFERRED,
        version  INTEGER NOT NULL CHECK (version > 0),
        saved_at TEXT NOT NULL,
        record   TEXT,
        PRIMARY KEY (layout, version)
    ) STRICT, WITHOUT ROWID;

    CREATE TABLE tags (
        tag    TEXT NOT NULL,
        layout INTEGER NOT NULL REFERENCES layouts (id),
        PRIMARY KEY (tag, layout)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX tags_by_layout ON tags (layout);
"];

/// Brings the database to the newest form.
pub(super) fn apply(connection: &mut Connection, folder: &Path) -> Result<(), StoreError> {
    let known = i64::try_from(STEPS.len()).unwrap_or(i64::MAX);
    let found: i64 = connection.pragma_query_value(None, "user_version", |row| row.get(0))?;
    if found > known {
        return Err(StoreError::Newer { folder: folder.to_owned(), found, known });
    }
    for (taken, step) in (1i64..).zip(STEPS) {
        if taken > found {
            let transaction = connection.transaction()?;
            transaction.execute_batch(step)?;
            transaction.pragma_update(None, "user_version", taken)?;
            transaction.commit()?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::{Store, StoreError, database};
    use super::*;

    #[test]
    fn a_newer_notebook_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        drop(Store::open(folder.path()).unwrap());
        let connection = Connection::open(database(folder.path())).unwrap();
        connection.pragma_update(None, "user_version", 99).unwrap();
        drop(connection);
        let error = Store::open(folder.path()).err().unwrap();
        assert!(matches!(error, StoreError::Newer { found: 99, .. }), "{error}");
    }
}

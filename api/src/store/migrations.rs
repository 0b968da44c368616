//! The database's form, step by step. The pragma `user_version` holds how many
//! steps have been taken; each is taken whole or not at all.

use std::cmp::Ordering;
use std::path::Path;

use layout::Layout;
use rusqlite::Connection;

use super::{StoreError, database};

/// One step a form. Steps that are out in the world never change.
const STEPS: [&str; 5] = [
    "
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
",
    "
    -- What layouts are found and sorted by, derived from the present version
    -- (see index.rs); favourites and uses are the notebook's own.
    ALTER TABLE layouts DROP COLUMN words;
    ALTER TABLE layouts ADD COLUMN title_key TEXT NOT NULL DEFAULT '';
    ALTER TABLE layouts ADD COLUMN changed_at TEXT NOT NULL DEFAULT '';
    ALTER TABLE layouts ADD COLUMN papers INTEGER NOT NULL DEFAULT 0;
    ALTER TABLE layouts ADD COLUMN shorter_mm REAL NOT NULL DEFAULT 0;
    ALTER TABLE layouts ADD COLUMN longer_mm REAL NOT NULL DEFAULT 0;
    ALTER TABLE layouts ADD COLUMN favourite INTEGER NOT NULL DEFAULT 0 CHECK (favourite IN (0, 1));
    ALTER TABLE layouts ADD COLUMN uses INTEGER NOT NULL DEFAULT 0;
    ALTER TABLE layouts ADD COLUMN last_used TEXT NOT NULL DEFAULT '';
    CREATE INDEX layouts_by_title ON layouts (title_key, id) WHERE deleted = 0;
    CREATE INDEX layouts_by_change ON layouts (changed_at, id) WHERE deleted = 0;
    CREATE INDEX layouts_by_uses ON layouts (uses, id) WHERE deleted = 0;
    CREATE INDEX layouts_by_last_use ON layouts (last_used, id) WHERE deleted = 0;

    -- One row a shape of the present version: its kind, and its sides.
    CREATE TABLE shapes (
        layout     INTEGER NOT NULL REFERENCES layouts (id),
        kind       TEXT NOT NULL,
        shorter_mm REAL NOT NULL,
        longer_mm  REAL NOT NULL
    ) STRICT;
    CREATE INDEX shapes_by_layout ON shapes (layout, kind, shorter_mm);

    -- Each time a layout was used for a set of cards.
    CREATE TABLE uses (
        id      INTEGER PRIMARY KEY AUTOINCREMENT,
        layout  INTEGER NOT NULL REFERENCES layouts (id),
        used_at TEXT NOT NULL
    ) STRICT;
    CREATE INDEX uses_by_layout ON uses (layout, used_at);

    -- Words of the present version; a symbol such as a heart is a word too.
    CREATE VIRTUAL TABLE words USING fts5 (
        body, tokenize = \"unicode61 remove_diacritics 2 categories 'L* N* Co So'\"
    );
",
    "
    -- The drawer: papers with what they are found by, and every version of each.
    CREATE TABLE papers (
        id         INTEGER PRIMARY KEY AUTOINCREMENT,
        version    INTEGER NOT NULL,
        deleted    INTEGER NOT NULL DEFAULT 0 CHECK (deleted IN (0, 1)),
        name_key   TEXT NOT NULL DEFAULT '',
        words      TEXT NOT NULL DEFAULT '',
        kind       TEXT NOT NULL DEFAULT '',
        weight     TEXT NOT NULL DEFAULT '',
        shorter_mm REAL NOT NULL DEFAULT 0,
        longer_mm  REAL NOT NULL DEFAULT 0,
        sheets     INTEGER NOT NULL DEFAULT 0,
        changed_at TEXT NOT NULL DEFAULT '',
        FOREIGN KEY (id, version) REFERENCES paper_versions (paper, version) DEFERRABLE INITIALLY DEFERRED
    ) STRICT;
    CREATE TABLE paper_versions (
        paper    INTEGER NOT NULL REFERENCES papers (id) DEFERRABLE INITIALLY DEFERRED,
        version  INTEGER NOT NULL CHECK (version > 0),
        saved_at TEXT NOT NULL,
        record   TEXT,
        -- What happened, in words.
        why      TEXT NOT NULL DEFAULT '',
        PRIMARY KEY (paper, version)
    ) STRICT, WITHOUT ROWID;

    -- Cards to be made together, the plan of the present version, and what
    -- cutting it did to the drawer.
    CREATE TABLE batches (
        id         INTEGER PRIMARY KEY AUTOINCREMENT,
        version    INTEGER NOT NULL,
        deleted    INTEGER NOT NULL DEFAULT 0 CHECK (deleted IN (0, 1)),
        changed_at TEXT NOT NULL DEFAULT '',
        FOREIGN KEY (id, version) REFERENCES batch_versions (batch, version) DEFERRABLE INITIALLY DEFERRED
    ) STRICT;
    CREATE TABLE batch_versions (
        batch    INTEGER NOT NULL REFERENCES batches (id) DEFERRABLE INITIALLY DEFERRED,
        version  INTEGER NOT NULL CHECK (version > 0),
        saved_at TEXT NOT NULL,
        record   TEXT,
        PRIMARY KEY (batch, version)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE batch_plans (
        batch   INTEGER PRIMARY KEY REFERENCES batches (id),
        version INTEGER NOT NULL,
        made_at TEXT NOT NULL,
        plan    TEXT NOT NULL
    ) STRICT;
    CREATE TABLE batch_cuts (
        batch   INTEGER PRIMARY KEY REFERENCES batches (id),
        cut_at  TEXT NOT NULL,
        changes TEXT NOT NULL
    ) STRICT;
",
    "
    -- A photo is a page of a file: the id of the first is the SHA-256 of the
    -- file, that of a further one has its number after a dash.
    CREATE TABLE pages (
        id       TEXT PRIMARY KEY,
        file     TEXT NOT NULL,
        page     INTEGER NOT NULL,
        bytes    INTEGER NOT NULL,
        width    INTEGER NOT NULL,
        height   INTEGER NOT NULL,
        added_at TEXT NOT NULL,
        UNIQUE (file, page)
    ) STRICT, WITHOUT ROWID;
    INSERT INTO pages SELECT id, file, 1, bytes, width, height, added_at FROM photos;
    DROP TABLE photos;
    ALTER TABLE pages RENAME TO photos;

    -- The photo that a layout was read from, deleted or not (see index.rs).
    ALTER TABLE layouts ADD COLUMN photo TEXT NOT NULL DEFAULT '';
    CREATE INDEX layouts_by_photo ON layouts (photo) WHERE photo <> '';

    -- Many files in one go; their outcomes are numbered as they come.
    CREATE TABLE imports (
        id          INTEGER PRIMARY KEY AUTOINCREMENT,
        state       TEXT NOT NULL,
        -- Whether more files may be sent.
        open        INTEGER NOT NULL CHECK (open IN (0, 1)),
        rule        TEXT NOT NULL,
        -- What was asked for, where the same can be asked for again.
        origin      TEXT NOT NULL DEFAULT '',
        made_at     TEXT NOT NULL,
        finished_at TEXT,
        -- Outcomes told so far, those among them that were taken back.
        told        INTEGER NOT NULL DEFAULT 0
    ) STRICT;
    CREATE INDEX imports_by_origin ON imports (origin) WHERE origin <> '';
    CREATE TABLE import_files (
        import   INTEGER NOT NULL REFERENCES imports (id),
        number   INTEGER NOT NULL CHECK (number > 0),
        name     TEXT NOT NULL,
        source   TEXT NOT NULL,
        bytes    INTEGER NOT NULL,
        card     TEXT,
        sha256   TEXT,
        sequence INTEGER,
        PRIMARY KEY (import, number)
    ) STRICT, WITHOUT ROWID;
    CREATE UNIQUE INDEX import_files_by_sequence ON import_files (import, sequence)
        WHERE sequence IS NOT NULL;
    CREATE INDEX import_files_by_content ON import_files (import, sha256) WHERE sha256 IS NOT NULL;
    CREATE TABLE import_pages (
        import  INTEGER NOT NULL,
        number  INTEGER NOT NULL,
        page    INTEGER NOT NULL CHECK (page > 0),
        outcome TEXT NOT NULL,
        reason  TEXT NOT NULL,
        photo   TEXT,
        PRIMARY KEY (import, number, page),
        FOREIGN KEY (import, number) REFERENCES import_files (import, number)
    ) STRICT, WITHOUT ROWID;
    CREATE TABLE import_layouts (
        import  INTEGER NOT NULL,
        number  INTEGER NOT NULL,
        page    INTEGER NOT NULL,
        layout  INTEGER NOT NULL REFERENCES layouts (id),
        -- An earlier layout that looks the same, and what a person said about it.
        alike   INTEGER REFERENCES layouts (id),
        verdict TEXT CHECK (verdict IN ('same', 'different')),
        PRIMARY KEY (import, number, page, layout),
        FOREIGN KEY (import, number, page) REFERENCES import_pages (import, number, page)
    ) STRICT, WITHOUT ROWID;
    CREATE UNIQUE INDEX import_layouts_by_layout ON import_layouts (layout);
",
    "
    -- Devices that may come in from the network, each known by the SHA-256 of its token.
    CREATE TABLE devices (
        id           INTEGER PRIMARY KEY AUTOINCREMENT,
        name         TEXT NOT NULL,
        token_sha256 BLOB NOT NULL CHECK (length(token_sha256) = 32),
        paired_at    TEXT NOT NULL,
        seen_at      TEXT NOT NULL
    ) STRICT;
",
];

/// Whether a database that is only read has the newest form.
pub(super) fn check(connection: &Connection, folder: &Path) -> Result<(), StoreError> {
    let known = i64::try_from(STEPS.len()).unwrap_or(i64::MAX);
    let found: i64 = connection.pragma_query_value(None, "user_version", |row| row.get(0))?;
    match found.cmp(&known) {
        Ordering::Less => Err(StoreError::Older(folder.to_owned())),
        Ordering::Equal => Ok(()),
        Ordering::Greater => Err(StoreError::Newer { folder: folder.to_owned(), found, known }),
    }
}

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

/// Makes a notebook as the first form kept it, with copies of one layout whose
/// titles end in their numbers.
pub(crate) fn first_form(folder: &Path, layout: &Layout, copies: u64) -> Result<(), StoreError> {
    let mut connection = Connection::open(database(folder))?;
    connection.execute_batch(STEPS[0])?;
    connection.pragma_update(None, "user_version", 1)?;
    let transaction = connection.transaction()?;
    for id in 1..=copies {
        let copy = Layout { title: format!("{} {id}", layout.title), ..layout.clone() };
        let words = copy.title.to_lowercase();
        transaction.execute(
            "INSERT INTO layouts (version, card, words) VALUES (1, ?1, ?2)",
            (&copy.card.name, &words),
        )?;
        let id = transaction.last_insert_rowid();
        transaction.execute(
            "INSERT INTO versions VALUES (?1, 1, '2025-11-05T10:00:00Z', ?2)",
            (id, serde_json::to_string(&copy)?),
        )?;
        for tag in &copy.tags {
            transaction.execute("INSERT INTO tags VALUES (?1, ?2)", (tag, id))?;
        }
    }
    transaction.commit()?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::{Filter, Kind, Piece, Store, StoreError};
    use super::*;

    /// A notebook as the first form kept it.
    #[test]
    fn an_older_notebook_is_found_by_everything_new() {
        let folder = tempfile::tempdir().unwrap();
        let layout = super::super::sample("Thank you, Edith");
        first_form(folder.path(), &layout, 3).unwrap();
        let store = Store::open(folder.path()).unwrap();
        let filter = Filter {
            text: "edith 2".to_owned(),
            pieces: vec![Piece { kind: Kind::Panel, ..Piece::default() }],
            limit: 5,
            ..Filter::default()
        };
        let found = store.find_layouts(&filter).unwrap();
        assert_eq!(found.total, 1);
        assert_eq!(found.layouts[0].saved.record.title, "Thank you, Edith 2");
    }

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

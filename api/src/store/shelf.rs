//! What the maker does with layouts beside editing them: favourites, uses,
//! tags for several at once, several deleted and brought back. Favourites and
//! uses are no versions of a layout: its record stays as it is.

use rusqlite::{Connection, Row, Transaction};

use super::history::{self, Head, Noun};
use super::layouts::{StoredLayout, delete, parsed, put_version, restore, version_of};
use super::{Store, StoreError};

/// How a layout stands in the notebook.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Shelf {
    /// Whether the maker marked it.
    pub(crate) favourite: bool,
    /// How often it was used.
    pub(crate) uses: u32,
    /// When last: UTC, RFC 3339.
    pub(crate) last_used: Option<String>,
}

/// A layout and how it stands.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Shelved {
    /// The layout as it was saved.
    pub(crate) saved: StoredLayout,
    /// How it stands.
    pub(crate) shelf: Shelf,
}

/// A layout that was changed with others, and its version since.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Changed {
    /// The layout.
    pub(crate) id: i64,
    /// Its version.
    pub(crate) version: i64,
}

/// A tag and how many layouts have it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct TagCount {
    /// The tag in small letters.
    pub(crate) tag: String,
    /// How many have it.
    pub(crate) layouts: u32,
}

impl Store {
    /// How a layout stands, deleted or not.
    pub(crate) fn shelf(&self, id: i64) -> Result<Shelf, StoreError> {
        self.reading(|connection| {
            history::head(connection, Noun::Layout, id)?;
            read(connection, id)
        })
    }

    /// Puts beside a layout how it stands.
    pub(crate) fn shelved(&self, saved: StoredLayout) -> Result<Shelved, StoreError> {
        Ok(Shelved { shelf: self.shelf(saved.id)?, saved })
    }

    /// Marks a layout as a favourite, or no longer.
    pub(crate) fn set_favourite(&self, id: i64, favourite: bool) -> Result<Shelf, StoreError> {
        self.writing(|transaction| {
            history::live_head(transaction, Noun::Layout, id)?;
            transaction.execute("UPDATE layouts SET favourite = ?2 WHERE id = ?1", (id, favourite))?;
            read(transaction, id)
        })
    }

    /// Notes that a layout was used now.
    pub(crate) fn use_layout(&self, id: i64) -> Result<Shelf, StoreError> {
        self.writing(|transaction| {
            history::live_head(transaction, Noun::Layout, id)?;
            add_use(transaction, id)?;
            read(transaction, id)
        })
    }

    /// Takes the last use of a layout back.
    pub(crate) fn unuse_layout(&self, id: i64) -> Result<Shelf, StoreError> {
        self.writing(|transaction| {
            history::live_head(transaction, Noun::Layout, id)?;
            if !take_use_back(transaction, id)? {
                return Err(StoreError::NoUse(id));
            }
            read(transaction, id)
        })
    }

    /// Every tag, the ones used most first.
    pub(crate) fn tags(&self) -> Result<Vec<TagCount>, StoreError> {
        self.reading(|connection| {
            let mut query = connection
                .prepare_cached("SELECT tag, count(*) FROM tags GROUP BY tag ORDER BY count(*) DESC, tag")?;
            let tags = query.query_map([], |row| Ok(TagCount { tag: row.get(0)?, layouts: row.get(1)? }))?;
            Ok(tags.collect::<Result<_, _>>()?)
        })
    }

    /// Gives layouts tags and takes others away; all of them or none. Each
    /// that this changes gets a new version.
    pub(crate) fn tag_layouts(
        &self,
        ids: &[i64],
        add: &[String],
        remove: &[String],
    ) -> Result<Vec<Changed>, StoreError> {
        let same = |one: &str, other: &str| one.trim().to_lowercase() == other.trim().to_lowercase();
        self.writing(|transaction| {
            ids.iter()
                .map(|&id| {
                    let version = history::live_head(transaction, Noun::Layout, id)?.version;
                    let record = version_of(transaction, id, version)?.record;
                    let mut tags = record.tags.clone();
                    tags.retain(|tag| !remove.iter().any(|gone| same(gone, tag)));
                    for new in add {
                        if !tags.iter().any(|tag| same(tag, new)) {
                            tags.push(new.trim().to_owned());
                        }
                    }
                    if tags == record.tags {
                        return Ok(Changed { id, version });
                    }
                    let layout = parsed(layout::LayoutJson { tags, ..record })
                        .map_err(|_| StoreError::TooManyTags(id))?;
                    put_version(transaction, id, version + 1, &layout)?;
                    Ok(Changed { id, version: version + 1 })
                })
                .collect()
        })
    }

    /// Deletes layouts; all of them or none. Their versions stay. What is
    /// deleted already stays so.
    pub(crate) fn delete_layouts(&self, ids: &[i64]) -> Result<Vec<Changed>, StoreError> {
        self.writing(|transaction| {
            let mut changed = Vec::new();
            for &id in ids {
                let Head { version, deleted } = history::head(transaction, Noun::Layout, id)?;
                if !deleted {
                    delete(transaction, id, version + 1)?;
                    changed.push(Changed { id, version: version + 1 });
                }
            }
            Ok(changed)
        })
    }

    /// Brings deleted layouts back as they last were; all of them or none.
    /// What is there stays as it is.
    pub(crate) fn bring_back_layouts(&self, ids: &[i64]) -> Result<Vec<Changed>, StoreError> {
        self.writing(|transaction| {
            let mut changed = Vec::new();
            for &id in ids {
                let Head { version, deleted } = history::head(transaction, Noun::Layout, id)?;
                if deleted {
                    restore(transaction, id, version - 1, version + 1)?;
                    changed.push(Changed { id, version: version + 1 });
                }
            }
            Ok(changed)
        })
    }
}

/// How a layout stands, from three columns of a row.
pub(super) fn shelf_of(row: &Row<'_>, first: usize) -> rusqlite::Result<Shelf> {
    let last_used: String = row.get(first + 2)?;
    Ok(Shelf {
        favourite: row.get(first)?,
        uses: row.get(first + 1)?,
        last_used: Some(last_used).filter(|time| !time.is_empty()),
    })
}

fn read(connection: &Connection, id: i64) -> Result<Shelf, StoreError> {
    Ok(connection
        .prepare_cached("SELECT favourite, uses, last_used FROM layouts WHERE id = ?1")?
        .query_row([id], |row| shelf_of(row, 0))?)
}

/// Notes a use now, in a transaction of more.
pub(super) fn add_use(transaction: &Transaction<'_>, id: i64) -> Result<(), StoreError> {
    transaction.execute(
        "INSERT INTO uses (layout, used_at) VALUES (?1, strftime('%Y-%m-%dT%H:%M:%SZ', 'now'))",
        [id],
    )?;
    count_uses(transaction, id)
}

/// Takes the last use back; whether there was one.
pub(super) fn take_use_back(transaction: &Transaction<'_>, id: i64) -> Result<bool, StoreError> {
    let gone = transaction
        .execute("DELETE FROM uses WHERE id = (SELECT max(id) FROM uses WHERE layout = ?1)", [id])?;
    count_uses(transaction, id)?;
    Ok(gone > 0)
}

pub(super) fn count_uses(transaction: &Transaction<'_>, id: i64) -> Result<(), StoreError> {
    transaction.execute(
        "UPDATE layouts SET (uses, last_used) =
             (SELECT count(*), coalesce(max(used_at), '') FROM uses WHERE layout = ?1)
         WHERE id = ?1",
        [id],
    )?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::{opened, sample};
    use super::*;

    fn open() -> (tempfile::TempDir, Store) {
        let (folder, store) = opened();
        for title in ["one", "two", "three"] {
            store.create_layout(&sample(title)).unwrap();
        }
        (folder, store)
    }

    #[test]
    fn favourites_and_uses_are_no_versions() {
        let (_folder, store) = open();
        assert!(store.set_favourite(1, true).unwrap().favourite);
        assert_eq!(store.use_layout(1).unwrap().uses, 1);
        let shelf = store.use_layout(1).unwrap();
        assert_eq!((shelf.favourite, shelf.uses), (true, 2));
        assert_eq!(store.layout(1).unwrap().version, 1);
        // A new version does not take them away.
        store.update_layout(1, &super::super::Expected::Any, &sample("one, again")).unwrap();
        assert_eq!(store.shelf(1).unwrap(), shelf);
        assert_eq!(store.unuse_layout(1).unwrap().uses, 1);
        let none = store.unuse_layout(1).unwrap();
        assert_eq!((none.uses, none.last_used), (0, None));
        assert!(matches!(store.unuse_layout(1), Err(StoreError::NoUse(1))));
        assert!(matches!(store.use_layout(9), Err(StoreError::Missing(Noun::Layout, _))));
    }

    #[test]
    fn several_are_tagged_together_or_not_at_all() {
        let (_folder, store) = open();
        let words = |words: &[&str]| words.iter().map(|&word| word.to_owned()).collect::<Vec<_>>();
        let changed = store.tag_layouts(&[1, 2], &words(&["Quick", "get WELL"]), &[]).unwrap();
        assert_eq!(changed.iter().map(|one| one.version).collect::<Vec<_>>(), [2, 2]);
        assert_eq!(store.layout(1).unwrap().record.tags, ["get well", "Quick"]);
        // What has the tag already gets no new version.
        assert_eq!(store.tag_layouts(&[1], &words(&["quick"]), &[]).unwrap()[0].version, 2);
        store.tag_layouts(&[2], &[], &words(&["QUICK"])).unwrap();
        assert_eq!(store.layout(2).unwrap().record.tags, ["get well"]);
        assert!(store.tag_layouts(&[3, 9], &words(&["quick"]), &[]).is_err());
        assert_eq!(store.layout(3).unwrap().version, 1);
        let tags = store.tags().unwrap();
        assert_eq!(tags[0], TagCount { tag: "get well".to_owned(), layouts: 3 });
        assert_eq!(tags[1], TagCount { tag: "quick".to_owned(), layouts: 1 });
    }

    #[test]
    fn several_are_deleted_and_brought_back() {
        let (_folder, store) = open();
        assert_eq!(store.delete_layouts(&[1, 3]).unwrap().len(), 2);
        assert_eq!(store.delete_layouts(&[1]).unwrap(), []);
        assert!(store.delete_layouts(&[2, 9]).is_err());
        assert!(store.layout(2).is_ok());
        assert_eq!(store.bring_back_layouts(&[1, 2, 3]).unwrap().len(), 2);
        assert_eq!(store.layout(3).unwrap().record.title, "three");
        assert_eq!(store.layout_versions(3).unwrap().len(), 3);
    }
}

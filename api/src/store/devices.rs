//! Devices that were paired: their name, the hash of their token, when they
//! were seen last. They are no part of the notebook and have no versions: a
//! pairing that is ended is gone.

use rusqlite::{OptionalExtension, Row};
use subtle::ConstantTimeEq;

use super::{Store, StoreError};
use crate::door::{Presented, hash_of};

/// A paired device.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Device {
    /// Its number, never used again.
    pub(crate) id: i64,
    /// What its owner calls it.
    pub(crate) name: String,
    /// When it was paired: UTC, RFC 3339.
    pub(crate) paired_at: String,
    /// When it was here last, to the minute: UTC, RFC 3339.
    pub(crate) seen_at: String,
}

/// Most devices at a time: more than a card table has, and few enough to look through.
pub(crate) const MOST_DEVICES: i64 = 50;

const COLUMNS: &str = "id, name, paired_at, seen_at";
const NOW: &str = "strftime('%Y-%m-%dT%H:%M:%SZ', 'now')";
const A_MINUTE_AGO: &str = "strftime('%Y-%m-%dT%H:%M:%SZ', 'now', '-60 seconds')";

impl Store {
    /// Keeps a new device under the hash of its token. Its earlier pairing
    /// ends, if it had one and proves it.
    pub(crate) fn pair_device(
        &self,
        name: &str,
        token: &str,
        earlier: Option<i64>,
    ) -> Result<Device, StoreError> {
        self.writing(|transaction| {
            if let Some(earlier) = earlier {
                transaction.execute("DELETE FROM devices WHERE id = ?1", [earlier])?;
            }
            let count: i64 = transaction.query_row("SELECT count(*) FROM devices", [], |row| row.get(0))?;
            if count >= MOST_DEVICES {
                return Err(StoreError::TooManyDevices);
            }
            let device = transaction.query_row(
                &format!(
                    "INSERT INTO devices (name, token_sha256, paired_at, seen_at) VALUES (?1, ?2, {NOW}, {NOW})
                     RETURNING {COLUMNS}"
                ),
                (name, hash_of(token)),
                device,
            )?;
            Ok(device)
        })
    }

    /// Whether a token is that of a device. The device was seen, then.
    pub(crate) fn knows_device(&self, id: i64, token: &str) -> Result<bool, StoreError> {
        let found: Option<([u8; 32], bool)> = self.reading(|connection| {
            Ok(connection
                .prepare_cached(&format!(
                    "SELECT token_sha256, seen_at < {A_MINUTE_AGO} FROM devices WHERE id = ?1"
                ))?
                .query_row([id], |row| Ok((row.get(0)?, row.get(1)?)))
                .optional()?)
        })?;
        let Some((kept, long_ago)) = found else { return Ok(false) };
        let known = bool::from(kept.ct_eq(&hash_of(token)));
        if known && long_ago {
            self.writing(|transaction| {
                transaction.execute(&format!("UPDATE devices SET seen_at = {NOW} WHERE id = ?1"), [id])?;
                Ok(())
            })?;
        }
        Ok(known)
    }

    /// The device that a request proves to be from.
    pub(crate) fn proven_device(&self, presented: Option<&Presented>) -> Result<Option<i64>, StoreError> {
        match presented {
            Some(Presented { device, token }) if self.knows_device(*device, token)? => Ok(Some(*device)),
            _ => Ok(None),
        }
    }

    /// The paired devices, the latest first.
    pub(crate) fn devices(&self) -> Result<Vec<Device>, StoreError> {
        self.reading(|connection| {
            let mut query =
                connection.prepare_cached(&format!("SELECT {COLUMNS} FROM devices ORDER BY id DESC"))?;
            let devices = query.query_map([], device)?.collect::<Result<_, _>>()?;
            Ok(devices)
        })
    }

    /// Ends the pairing of a device.
    pub(crate) fn forget_device(&self, id: i64) -> Result<(), StoreError> {
        self.writing(|transaction| match transaction.execute("DELETE FROM devices WHERE id = ?1", [id])? {
            0 => Err(StoreError::NoDevice(id.to_string())),
            _ => Ok(()),
        })
    }
}

fn device(row: &Row<'_>) -> rusqlite::Result<Device> {
    Ok(Device { id: row.get(0)?, name: row.get(1)?, paired_at: row.get(2)?, seen_at: row.get(3)? })
}

#[cfg(test)]
mod tests {
    use super::super::opened;
    use super::*;

    #[test]
    fn a_device_is_known_by_its_own_token_until_it_is_forgotten() {
        let (_folder, store) = opened();
        let ruth = store.pair_device("Ruth's phone", "one token", None).unwrap();
        let tomas = store.pair_device("Tomas's phone", "another", None).unwrap();
        assert!(store.knows_device(ruth.id, "one token").unwrap());
        assert!(!store.knows_device(ruth.id, "another").unwrap(), "a token of somebody else");
        assert!(!store.knows_device(ruth.id, "").unwrap());
        assert!(!store.knows_device(99, "one token").unwrap());
        let names: Vec<String> = store.devices().unwrap().into_iter().map(|one| one.name).collect();
        assert_eq!(names, ["Tomas's phone", "Ruth's phone"]);
        store.forget_device(ruth.id).unwrap();
        assert!(!store.knows_device(ruth.id, "one token").unwrap());
        assert!(store.knows_device(tomas.id, "another").unwrap());
        assert!(matches!(store.forget_device(ruth.id), Err(StoreError::NoDevice(_))));
        let again = store.pair_device("Ruth's phone", "one token", None).unwrap();
        assert!(again.id > tomas.id, "a number is never used again");
    }

    #[test]
    fn a_device_that_pairs_again_gives_up_its_earlier_pairing() {
        let (_folder, store) = opened();
        let before = store.pair_device("phone", "one", None).unwrap();
        let now = store.pair_device("phone", "two", Some(before.id)).unwrap();
        assert_eq!(store.devices().unwrap(), [now]);
        assert!(!store.knows_device(before.id, "one").unwrap());
    }

    #[test]
    fn the_tokens_are_nowhere_on_disk() {
        let (folder, store) = opened();
        let token = "5d1f".repeat(16);
        store.pair_device("phone", &token, None).unwrap();
        drop(store);
        for entry in walkdir::WalkDir::new(folder.path()) {
            let path = entry.unwrap().into_path();
            let bytes = if path.is_file() { std::fs::read(&path).unwrap() } else { Vec::new() };
            let found = bytes.windows(token.len()).any(|part| part == token.as_bytes());
            assert!(!found, "the token is in {}", path.display());
        }
    }

    #[test]
    fn a_device_that_comes_back_was_seen_again() {
        let (_folder, store) = opened();
        let device = store.pair_device("phone", "one", None).unwrap();
        store
            .writing(|transaction| {
                transaction.execute("UPDATE devices SET seen_at = '2025-11-05T10:00:00Z'", [])?;
                Ok(())
            })
            .unwrap();
        assert!(!store.knows_device(device.id, "two").unwrap());
        assert_eq!(store.devices().unwrap()[0].seen_at, "2025-11-05T10:00:00Z", "somebody else was here");
        assert!(store.knows_device(device.id, "one").unwrap());
        assert!(store.devices().unwrap()[0].seen_at >= device.paired_at);
    }

    #[test]
    fn there_are_not_more_devices_than_can_be_looked_through() {
        let (_folder, store) = opened();
        for number in 0..MOST_DEVICES {
            store.pair_device("phone", &number.to_string(), None).unwrap();
        }
        assert!(matches!(store.pair_device("one more", "x", None), Err(StoreError::TooManyDevices)));
        store.pair_device("the first again", "y", Some(1)).unwrap();
    }
}

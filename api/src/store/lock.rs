//! One server a data folder: a lock on a file in it, which the system drops
//! when the process ends, however it ends.

use std::fs::{File, OpenOptions, TryLockError};
use std::path::Path;
use std::thread;
use std::time::{Duration, Instant};

use super::StoreError;

/// The name of its file.
const LOCK: &str = "lock";
/// How long a lock that somebody has is waited for. A process that was killed
/// while it started another one leaves the lock with that one until it has
/// become another program, which is a moment later.
const PATIENCE: Duration = Duration::from_secs(2);
/// How often it is tried in that time.
const AGAIN: Duration = Duration::from_millis(20);

/// Takes the folder's lock, or says that another process has it.
pub(super) fn take(folder: &Path) -> Result<File, StoreError> {
    let unusable = |source| StoreError::Folder { folder: folder.to_owned(), source };
    let file = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(folder.join(LOCK))
        .map_err(unusable)?;
    let begun = Instant::now();
    loop {
        match file.try_lock() {
            Ok(()) => return Ok(file),
            Err(TryLockError::WouldBlock) if begun.elapsed() < PATIENCE => thread::sleep(AGAIN),
            Err(TryLockError::WouldBlock) => return Err(StoreError::InUse(folder.to_owned())),
            Err(TryLockError::Error(source)) => return Err(unusable(source)),
        }
    }
}

/// Says whether the lock that was taken is still that of this folder: what is
/// written into one that was deleted would be gone with the program.
pub(super) fn held(folder: &Path, lock: &File) -> Result<(), StoreError> {
    #[cfg(unix)]
    {
        use std::fs;
        use std::os::unix::fs::MetadataExt;
        let own = lock.metadata()?;
        let there = fs::metadata(folder.join(LOCK));
        if !there.is_ok_and(|there| (there.dev(), there.ino()) == (own.dev(), own.ino())) {
            return Err(StoreError::FolderGone);
        }
    }
    #[cfg(not(unix))]
    let _ = (folder, lock);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::{Store, StoreError};

    #[test]
    fn a_folder_is_open_once() {
        let folder = tempfile::tempdir().unwrap();
        let first = Store::open(folder.path()).unwrap();
        assert!(matches!(Store::open(folder.path()), Err(StoreError::InUse(_))));
        drop(first);
        Store::open(folder.path()).unwrap();
    }

    #[test]
    fn a_lock_that_is_let_go_of_soon_is_waited_for() {
        let folder = tempfile::tempdir().unwrap();
        let first = Store::open(folder.path()).unwrap();
        let leaving = std::thread::spawn(move || {
            std::thread::sleep(std::time::Duration::from_millis(200));
            drop(first);
        });
        Store::open(folder.path()).unwrap();
        leaving.join().unwrap();
    }
}

//! One server a data folder: a lock on a file in it, which the system drops
//! when the process ends, however it ends.

use std::fs::{File, OpenOptions, TryLockError};
use std::path::Path;

use super::StoreError;

/// Takes the folder's lock, or says that another process has it.
pub(super) fn take(folder: &Path) -> Result<File, StoreError> {
    let unusable = |source| StoreError::Folder { folder: folder.to_owned(), source };
    let file = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(folder.join("lock"))
        .map_err(unusable)?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(StoreError::InUse(folder.to_owned())),
        Err(TryLockError::Error(source)) => Err(unusable(source)),
    }
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
}

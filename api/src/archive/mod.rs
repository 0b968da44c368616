//! The whole notebook as one file. `manifest.rs` says what such a file holds,
//! `export.rs` writes it in open formats, `restore.rs` makes a notebook of it
//! again, `backup.rs` writes an exact copy of the data folder.

mod backup;
mod export;
mod manifest;
mod restore;

pub(crate) use backup::backup;
pub(crate) use export::export;
pub(crate) use manifest::ArchiveError;
pub(crate) use restore::{is_notebook, restore};

//! The places where foreign bytes come into the service without a decoder of
//! pictures between, for tests that throw bytes at them, and a notebook as the
//! first program left it, for tests that kill its bringing up to date. What each
//! must hold to is said here; a test asserts nothing but that nothing panics.

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};

use axum::body::Body;
use axum::extract::{FromRequest, Multipart, Request};
use axum::http::header::CONTENT_TYPE;
use layout::{Card, Element, Frame, Layout, Length, Shape};

use crate::archive;
use crate::import::{FoundFile, Source, unpacked};
use crate::store::{Store, first_form};
use crate::upload;

/// Sends a body to where files of an import are received, and keeps what comes.
/// `boundary` is the one its head would name.
///
/// # Panics
/// If a file was written outside the folder for it.
pub fn receive_upload(boundary: &str, body: &[u8]) {
    let Ok(runtime) = tokio::runtime::Builder::new_current_thread().enable_time().build() else { return };
    let Ok(folder) = tempfile::tempdir() else { return };
    let inside = folder.path().join("received");
    if fs::create_dir(&inside).is_err() {
        return;
    }
    let request = Request::builder()
        .header(CONTENT_TYPE, format!("multipart/form-data; boundary={boundary}"))
        .body(Body::from(body.to_vec()));
    let Ok(request) = request else { return };
    runtime.block_on(async {
        if let Ok(form) = Multipart::from_request(request, &()).await {
            upload::receive_into(form, &inside).await;
        }
    });
    assert!(only_inside(folder.path(), &inside), "an upload wrote beside its folder");
}

/// Opens bytes as an archive of pictures, as an import does, and reads every
/// picture in it.
///
/// # Panics
/// If an entry has a name that points elsewhere, or is larger than the limit for files.
pub fn unpack(bytes: &[u8]) {
    let Ok(folder) = tempfile::tempdir() else { return };
    if fs::write(folder.path().join("0"), bytes).is_err() {
        return;
    }
    let sent = FoundFile {
        name: "sent.zip".to_owned(),
        source: Source::Sent("0".to_owned()),
        bytes: bytes.len() as u64,
    };
    for file in unpacked(sent, folder.path()) {
        let parts: Vec<&str> = file.name.split('/').collect();
        assert!(!parts.contains(&".."), "{:?} points elsewhere", file.name);
        if let Ok(read) = file.source.bytes(folder.path(), MOST_UNPACKED) {
            assert!(read.len() as u64 <= MOST_UNPACKED, "{:?} is larger than it may be", file.name);
        }
    }
}

/// Most bytes of one picture of an archive here: small, so that many can be tried.
const MOST_UNPACKED: u64 = 1 << 20;

/// Takes bytes in as the archive of a notebook, into an empty one.
///
/// # Panics
/// If a file was written outside the notebook, or something stays of an archive
/// that was refused.
pub fn restore(bytes: &[u8]) {
    let Ok(folder) = tempfile::tempdir() else { return };
    let (data, file) = (folder.path().join("notebook"), folder.path().join("archive.zip"));
    if File::create(&file).and_then(|mut file| file.write_all(bytes)).is_err() {
        return;
    }
    // A machine that cannot hold a notebook tells nothing about the archive.
    let Ok(store) = Store::open(&data) else { return };
    let restored = archive::restore(&store, &file);
    if restored.is_err() {
        assert!(store.is_empty().unwrap_or(false), "a refused archive left something in the notebook");
    }
    drop(store);
    let _ = fs::remove_file(&file);
    assert!(only_inside(folder.path(), &data), "an archive wrote beside the notebook");
}

/// Makes a notebook in a folder as the first form of the database kept it, with
/// so many layouts.
///
/// # Errors
/// A folder that cannot be written.
pub fn first_notebook(folder: &Path, layouts: u64) -> Result<(), Box<dyn std::error::Error>> {
    let frame = Frame {
        x: Length::eighths(1),
        y: Length::eighths(1),
        width: Length::eighths(32),
        height: Length::eighths(42),
    };
    let mut layout = Layout::new("Thank you, Edith", "A2".parse::<Card>()?);
    layout.elements.push(Element::new(1, Shape::SHARP, frame));
    layout.tags.push("get well".to_owned());
    first_form(folder, &layout, layouts)?;
    Ok(())
}

/// Whether a folder has nothing but one folder.
fn only_inside(folder: &Path, one: &Path) -> bool {
    let Ok(entries) = fs::read_dir(folder) else { return true };
    let names: Vec<PathBuf> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
    names == [one]
}

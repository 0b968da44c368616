//! What a reading process is asked and what it answers: JSON after four bytes
//! of its length, then bytes to the end. What is asked carries a file there,
//! what is answered a picture, if anything.

use std::io::{self, Read, Write};

use capture::{CaptureError, Frame, Options};
use layout::{CardError, Layout};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use crate::import::{CardPlan, PageRead};

/// Something to be done with the bytes of a file.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) enum Task {
    /// Read one page.
    Read {
        /// Which page, from 1.
        page: u32,
        /// The card's name.
        card: String,
        /// The card's corners in the photo's upright pixels, where somebody said them.
        corners: Option<[[f64; 2]; 4]>,
        /// Whether the whole picture is the card.
        whole: bool,
        /// Whether writing is read.
        labels: bool,
    },
    /// Read one page for an import.
    Import {
        /// Which page, from 1.
        page: u32,
        /// Which card it is for.
        plan: CardPlan,
    },
    /// Make a JPEG of one page, at most so wide.
    Picture {
        /// Which page, from 1.
        page: u32,
        /// Largest width in pixels.
        width: u32,
    },
}

impl Task {
    /// The task of reading one page, counted from 1.
    pub(crate) fn read(page: u32, options: &Options) -> Task {
        let corners = match options.frame {
            Frame::Corners(corners) => Some(corners),
            Frame::Outline | Frame::WholePhoto => None,
        };
        Task::Read {
            page,
            card: options.card.name.clone(),
            corners,
            whole: options.frame == Frame::WholePhoto,
            labels: options.labels,
        }
    }
}

/// What came of a task.
#[derive(Debug, Serialize, Deserialize)]
pub(crate) enum Answer {
    /// A page that decoded.
    Page {
        /// Width and height of the upright picture.
        size_px: [u32; 2],
        /// How many pages its file has.
        pages: usize,
        /// Its layouts, or why there are none.
        layouts: Result<Vec<Layout>, Unread>,
    },
    /// A page of a file of an import.
    Imported {
        /// What was read.
        page: PageRead,
        /// How many pages its file has.
        pages: u32,
    },
    /// A picture; its bytes follow.
    Picture,
    /// A page that did not decode.
    Unread(Unread),
}

/// Why a file or a page was not read, as far as an answer over HTTP differs by it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) enum UnreadKind {
    /// It is of a kind that is not read.
    Format,
    /// More pixels than are taken.
    Pixels,
    /// More pages than are taken.
    Pages,
    /// More bytes than are taken.
    Bytes,
    /// No card was found.
    NoOutline,
    /// The corners make no card.
    BadCorners,
    /// Anything else.
    Unreadable,
}

/// Why a file or a page was not read.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Unread {
    /// What kind of fault it is.
    pub(crate) kind: UnreadKind,
    /// What happened and what to do, in a sentence.
    pub(crate) sentence: String,
}

impl From<CaptureError> for Unread {
    fn from(error: CaptureError) -> Unread {
        let kind = match error {
            CaptureError::UnknownFormat
            | CaptureError::UnsupportedFormat(_)
            | CaptureError::UnsupportedKind { .. } => UnreadKind::Format,
            CaptureError::TooManyPixels { .. } => UnreadKind::Pixels,
            CaptureError::TooManyPages { .. } => UnreadKind::Pages,
            CaptureError::TooManyBytes { .. } => UnreadKind::Bytes,
            CaptureError::NoOutline => UnreadKind::NoOutline,
            CaptureError::BadCorners => UnreadKind::BadCorners,
            _ => UnreadKind::Unreadable,
        };
        Unread { kind, sentence: error.to_string() }
    }
}

impl From<CardError> for Unread {
    fn from(error: CardError) -> Unread {
        Unread { kind: UnreadKind::Unreadable, sentence: error.to_string() }
    }
}

/// Writes a message and the bytes that go with it.
pub(super) fn write(to: &mut impl Write, message: &impl Serialize, bytes: &[u8]) -> io::Result<()> {
    let json = serde_json::to_vec(message)?;
    let length = u32::try_from(json.len()).map_err(io::Error::other)?;
    to.write_all(&length.to_le_bytes())?;
    to.write_all(&json)?;
    to.write_all(bytes)?;
    to.flush()
}

/// Reads a message and the bytes that go with it.
pub(super) fn read<T: DeserializeOwned>(from: &mut impl Read) -> io::Result<(T, Vec<u8>)> {
    let mut length = [0; 4];
    from.read_exact(&mut length)?;
    let mut json = Vec::new();
    from.take(u64::from(u32::from_le_bytes(length))).read_to_end(&mut json)?;
    let message = serde_json::from_slice(&json)?;
    let mut bytes = Vec::new();
    from.read_to_end(&mut bytes)?;
    Ok((message, bytes))
}

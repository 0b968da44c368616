//! Why a photo could not be read, and what would help.

use crate::document::Format;

/// Why a photo could not be read. Each message says what was found and what
/// to do about it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CaptureError {
    /// No bytes at all.
    #[error("the file is empty: send the picture again")]
    Empty,
    /// The bytes are of no picture format that is read here.
    #[error("this is no picture or PDF I can read: use JPEG, PNG, WebP, TIFF, HEIC or PDF")]
    UnknownFormat,
    /// A picture format that is recognised but not read.
    #[error("{0} files are not read: save this one as JPEG or PNG and send that")]
    UnsupportedFormat(&'static str),
    /// A format that is read, but not what this file makes of it.
    #[error("this {format} is of a kind that is not read ({what}): save it as JPEG or PNG and send that")]
    UnsupportedKind {
        /// The file's format.
        format: Format,
        /// What of it is not read.
        what: String,
    },
    /// The decoder gave up on the bytes.
    #[error("this {0} could not be read: save it again as {0}, or send a photo of the page")]
    Unreadable(Format),
    /// A document that asks for a password.
    #[error("this {0} is locked with a password: save it without one and send that")]
    Locked(Format),
    /// A document without a single page.
    #[error("this {0} has no page that can be shown: save it again, or send a photo of the page")]
    NoPages(Format),
    /// More pages than the limits allow; found before any is decoded.
    #[error("the document has more than {limit} pages: send it in parts")]
    TooManyPages {
        /// The most pages of one document.
        limit: usize,
    },
    /// A page that the document does not have.
    #[error("there is no page {page}: {}", pages_there_are(*.pages))]
    NoSuchPage {
        /// The page that was asked for, counted from 1.
        page: usize,
        /// How many pages there are.
        pages: usize,
    },
    /// A file longer than the limits allow.
    #[error(
        "the file has {megabytes} MB, over the limit of {limit_megabytes} MB: send a smaller one, or a part of it"
    )]
    TooManyBytes {
        /// Its length in millions of bytes, rounded up.
        megabytes: usize,
        /// The limit, in millions of bytes.
        limit_megabytes: u32,
    },
    /// A picture whose bytes do not decode.
    #[error("the picture is damaged or cut short and cannot be decoded ({0}): send it again")]
    Damaged(String),
    /// More pixels than the limits allow; found before decoding.
    #[error(
        "the picture is {width} x {height} pixels, over the limit of {limit_megapixels} megapixels: send a smaller one"
    )]
    TooManyPixels {
        /// Width the header states.
        width: u32,
        /// Height the header states.
        height: u32,
        /// The limit, in millions of pixels.
        limit_megapixels: u32,
    },
    /// Too few pixels to show anything.
    #[error("the picture is only {width} x {height} pixels: a layout needs at least 200 on its shorter side")]
    TooSmall {
        /// Width of the picture.
        width: u32,
        /// Height of the picture.
        height: u32,
    },
    /// Nothing on the picture looks like the outline of a card.
    #[error(
        "no card outline found: show all four sides of the card, or say that the whole photo is the card (--frame photo)"
    )]
    NoOutline,
    /// The corners that were given make no card.
    #[error(
        "these four corners make no card: give them in the order top-left, top-right, bottom-right, bottom-left, inside the picture"
    )]
    BadCorners,
}

fn pages_there_are(pages: usize) -> String {
    match pages {
        1 => "the file has one page".to_owned(),
        _ => format!("the file has pages 1 to {pages}"),
    }
}

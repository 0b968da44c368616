//! Why a photo could not be read, and what would help.

/// Why a photo could not be read. Each message says what was found and what
/// to do about it.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CaptureError {
    /// No bytes at all.
    #[error("the file is empty: send the picture again")]
    Empty,
    /// The bytes are of no picture format that is read here.
    #[error("this is not a picture I can read: use JPEG, PNG, WebP or TIFF")]
    UnknownFormat,
    /// A picture format that is recognised but not read.
    #[error("this is a {0} file, which is not read yet: save it as JPEG or PNG and send that")]
    UnsupportedFormat(&'static str),
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

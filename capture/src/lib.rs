//! Photos of card layouts in, measured layouts out. No HTTP, no SQL, no clock.

mod error;
mod overlay;
mod photo;
pub mod snap;
mod trace;

use layout::{Card, Layout};

pub use error::CaptureError;
pub use overlay::overlay;
pub use photo::{Limits, Photo};
pub use trace::{NoTrace, Stage, Trace};

/// What the reader is told about a photo.
#[derive(Clone, Debug)]
pub struct Options {
    /// The card the drawing is meant for. Which of its sides is upright
    /// follows the drawing.
    pub card: Card,
    /// Where the card is in the picture.
    pub frame: Frame,
}

/// Where the card is in the picture.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub enum Frame {
    /// Find every card outline on the page.
    #[default]
    Outline,
    /// The whole picture is the card: for drawings with no outline.
    WholePhoto,
    /// These four corners, in the photo's upright pixels, in the order
    /// top-left, top-right, bottom-right, bottom-left.
    Corners([[f64; 2]; 4]),
}

/// Reads every layout on a photo, in reading order.
///
/// Same photo, same options: same answer.
pub fn read(photo: &Photo, options: &Options, trace: &mut dyn Trace) -> Result<Vec<Layout>, CaptureError> {
    let _ = (photo, options, trace);
    Err(CaptureError::NoOutline)
}

//! Photos of card layouts in, measured layouts out. No HTTP, no SQL, no clock.

mod bits;
mod blank;
mod card;
mod confidence;
mod desk;
mod document;
mod edges;
mod error;
pub mod geometry;
mod ink;
mod labels;
mod lines;
mod marks;
mod overlay;
mod page;
mod photo;
mod pictures;
mod proportions;
mod raster;
mod read;
mod rectify;
mod ruling;
mod shapes;
mod sheet;
pub mod snap;
mod stack;
mod strokes;
mod texture;
mod tone;
mod trace;
mod warnings;
mod whole;
mod wide;

use layout::Card;

pub use blank::is_blank;
pub use document::{Document, Format, Limits};
pub use error::CaptureError;
pub use overlay::overlay;
pub use photo::Photo;
pub use proportions::proportions;
pub use read::read;
pub use trace::{NoTrace, Stage, Trace};

/// What the reader is told about a photo.
#[derive(Clone, Debug)]
pub struct Options {
    /// The card the drawing is meant for. Which of its sides is upright
    /// follows the drawing.
    pub card: Card,
    /// Where the card is in the picture.
    pub frame: Frame,
    /// Read what is written, and let written sizes win.
    pub labels: bool,
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

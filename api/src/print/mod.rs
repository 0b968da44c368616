//! Layouts on paper and as pictures: measured drawings at true scale with a
//! bar to check a printer by, sheets of many small ones, cut lists, the order
//! of assembly and cut sheets. `measured.rs`, `booklet.rs`, `pieces.rs`, `assembly.rs` and `sheets.rs` say
//! what stands on a page, `canvas.rs` draws it as SVG, and
//! `files.rs` makes PDF, SVG and PNG files of that, with the fonts of
//! `fonts.rs` inside.

mod assembly;
mod badges;
mod booklet;
mod canvas;
mod files;
mod fonts;
mod measured;
mod pieces;
mod sheets;

use layout::Unit;

pub(crate) use assembly::assembly;
pub(crate) use booklet::{PER_PAGE, booklet};
pub(crate) use files::{PrintError, pdf, png, small_png, svg};
pub(crate) use measured::{card_words, measured, picture, title_words};
pub(crate) use pieces::pieces;
pub(crate) use sheets::{sheet_picture, sheets};

/// Pixels of an inch in a picture: enough to read on a screen, small enough for
/// a message.
pub(crate) const PNG_PX_PER_IN: f64 = 150.0;

/// A page of a printer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Paper {
    /// 8 1/2 x 11 in.
    Letter,
    /// 210 x 297 mm (ISO 216).
    A4,
}

impl Paper {
    /// What lies in the printers where cards have this unit.
    pub(crate) fn usual(unit: Unit) -> Paper {
        match unit {
            Unit::Inch => Paper::Letter,
            Unit::Millimetre => Paper::A4,
        }
    }

    /// The paper of a name.
    pub(crate) fn named(name: &str) -> Option<Paper> {
        match name.to_ascii_lowercase().as_str() {
            "letter" => Some(Paper::Letter),
            "a4" => Some(Paper::A4),
            _ => None,
        }
    }

    /// Width and height, upright, in inches.
    fn size_in(self) -> [f64; 2] {
        match self {
            Paper::Letter => [8.5, 11.0],
            Paper::A4 => [210.0 / 25.4, 297.0 / 25.4],
        }
    }
}

/// A page as it is drawn: its size in inches, and what stands on it.
pub(crate) struct Page {
    size_in: [f64; 2],
    /// Inside of the SVG, in CSS pixels.
    body: String,
}

impl Page {
    /// The page as an SVG whose text is text.
    fn svg(&self) -> String {
        let [width, height] = self.size_in;
        let [across, down] = self.size_in.map(|side| layout::tidy(side * layout::PX_PER_IN));
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}in\" height=\"{height}in\" \
             viewBox=\"0 0 {across} {down}\">\n{}</svg>\n",
            self.body
        )
    }
}

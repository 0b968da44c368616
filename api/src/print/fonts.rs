//! The fonts that the program carries, and how wide text is in them.

use std::sync::{Arc, LazyLock};

use resvg::usvg::fontdb::{Database, Source};
use resvg::usvg::{FontResolver, Options};
use ttf_parser::Face;

/// In the order in which they are asked for a letter.
const FILES: [&[u8]; 4] = [
    include_bytes!("../../fonts/noto-sans.ttf"),
    include_bytes!("../../fonts/noto-sans-hebrew.ttf"),
    include_bytes!("../../fonts/noto-sans-arabic.ttf"),
    include_bytes!("../../fonts/noto-emoji.ttf"),
];
const FAMILY: &str = "Noto Sans";
/// Width of the box that stands for a letter no font has, of the text's height.
const BOX_EM: f64 = 1.0;

static DATABASE: LazyLock<Arc<Database>> = LazyLock::new(|| {
    let mut database = Database::new();
    for file in FILES {
        database.load_font_source(Source::Binary(Arc::new(file)));
    }
    Arc::new(database)
});
static FACES: LazyLock<Vec<Face<'static>>> =
    LazyLock::new(|| FILES.iter().filter_map(|file| Face::parse(file, 0).ok()).collect());

/// How the pages' SVG is read: with these fonts and no others, so that a print
/// is the same on every machine, and with no files or addresses.
pub(super) fn options() -> Options<'static> {
    Options {
        font_family: FAMILY.to_owned(),
        fontdb: Arc::clone(&DATABASE),
        font_resolver: FontResolver::default(),
        ..Options::default()
    }
}

/// How wide a text of this size is, without the joining of letters: at least
/// as wide as it is drawn.
pub(super) fn width(text: &str, size: f64) -> f64 {
    text.chars().map(advance_em).sum::<f64>() * size
}

fn advance_em(c: char) -> f64 {
    for face in FACES.iter() {
        if let Some(glyph) = face.glyph_index(c) {
            let advance = face.glyph_hor_advance(glyph).unwrap_or_default();
            return f64::from(advance) / f64::from(face.units_per_em());
        }
    }
    BOX_EM
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_font_is_read_and_has_its_letters() {
        assert_eq!((DATABASE.len(), FACES.len()), (4, 4));
        for (text, index) in [("Aß½ěЖω", 0), ("שלום", 1), ("مرحبا", 2), ("🌷❤", 3)] {
            for c in text.chars() {
                let first = FACES.iter().position(|face| face.glyph_index(c).is_some());
                assert_eq!(first, Some(index), "{c}");
            }
        }
    }

    /// `layout` keeps this room for labels without knowing the font.
    #[test]
    fn labels_fit_the_room_that_is_kept_for_them() {
        let tracks = layout::Tracks::default();
        let mut dimension = layout::Dimension {
            edge: layout::Edge::Top,
            track: 0,
            ends: [0.0, 1.0],
            places: Vec::new(),
            text: String::new(),
            room: [0.0, 1.0],
        };
        for text in ["3 15/16", "108.5 mm", "1", "8888", "10 1/2"] {
            text.clone_into(&mut dimension.text);
            assert!(width(text, tracks.text) <= dimension.label_width(tracks.text), "{text}");
        }
    }
}

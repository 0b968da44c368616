//! The layout record: a drawing of a card front, measured.

use crate::card::Card;
use crate::element::Element;
use crate::length::Length;
use crate::measurement::Measurement;

/// A drawing of a card front with its elements, bottom of the stack first.
/// Its JSON form is [`crate::LayoutJson`]; a value of this type has passed
/// every check of that form.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// What the maker calls it.
    pub title: String,
    /// The card it is measured for.
    pub card: Card,
    /// Its shapes, bottom of the stack first.
    pub elements: Vec<Element>,
    /// Free words.
    pub notes: String,
    /// Short words to find it by.
    pub tags: Vec<String>,
    /// Where it was read from, if it was read.
    pub capture: Option<Capture>,
}

/// How a layout was read from a photo.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Capture {
    /// The photo's name or id.
    pub photo: String,
    /// The card's corners in the photo's upright pixels: top-left, top-right,
    /// bottom-right, bottom-left.
    pub card_corners_px: [[f64; 2]; 4],
    /// What the reader should look at, in plain sentences.
    pub warnings: Vec<String>,
    /// What is written on and around the card, as far as it was read.
    pub labels: Vec<Label>,
    /// The elements as they were measured.
    pub measured: Vec<Measurement>,
}

/// A line of writing on or around a card.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Label {
    /// What was read, as it would be typed.
    pub text: String,
    /// Its corners in the photo's upright pixels, first the top-left one of the
    /// writing as it is read, then clockwise.
    pub box_px: [[f64; 2]; 4],
    /// Id of the element it is about; none where it is about the card, or is
    /// no size.
    pub element: Option<u32>,
    /// The width that it gives.
    pub width: Option<Length>,
    /// The height that it gives.
    pub height: Option<Length>,
}

impl Layout {
    /// An empty layout on `card`.
    pub fn new(title: impl Into<String>, card: Card) -> Layout {
        Layout {
            title: title.into(),
            card,
            elements: Vec::new(),
            notes: String::new(),
            tags: Vec::new(),
            capture: None,
        }
    }

    /// What the element at this index is called in a sentence: its name, its
    /// paper's letter, and its place in the stack as drawings number it, as
    /// in `panel A (2)`.
    ///
    /// # Panics
    ///
    /// Where there is no such element.
    pub fn called(&self, index: usize) -> String {
        let element = &self.elements[index];
        let letter = element.slot.map_or(String::new(), |slot| format!(" {}", slot.letter()));
        format!("{}{letter} ({})", element.name(), index + 1)
    }
}

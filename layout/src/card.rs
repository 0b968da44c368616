//! The cards makers fold, by name, and any other size written out.
//! Sizes of the named cards are the trade's: see the table's own comments.

use std::str::FromStr;

use crate::element::Frame;
use crate::length::{Length, LengthError, Step, Unit};

/// The front of a card.
///
/// ```
/// # use layout::{Card, Length};
/// let card: Card = "A2".parse()?;
/// assert_eq!((card.width, card.height), (Length::eighths(34), Length::eighths(44)));
/// assert_eq!(card.lying().width, Length::eighths(44));
/// # Ok::<(), layout::CardError>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Card {
    /// The name it was asked for by, in the table's spelling.
    pub name: String,
    /// The system the card is measured in.
    pub unit: Unit,
    /// Width of the front.
    pub width: Length,
    /// Height of the front.
    pub height: Length,
    /// Where the fold is.
    pub fold: Fold,
}

/// The edge of the front that is folded.
#[derive(
    Clone,
    Copy,
    Debug,
    Default,
    PartialEq,
    Eq,
    Hash,
    serde::Serialize,
    serde::Deserialize,
    schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Fold {
    /// A side-fold card, opened like a book.
    #[default]
    Left,
    /// A top-fold card, opened like a tent.
    Top,
}

/// Why a text does not name a card.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CardError {
    /// Neither a name nor a size.
    #[error(
        "no card is called \"{0}\": use A1, A2, A6, A7 (5x7), A8, A9, A10, square, square-5, slimline, \
         iso-a5, iso-a6, iso-dl, or a size like 4x6 or 100x150mm"
    )]
    Unknown(String),
    /// A side that cannot be read or is off the grid.
    #[error("card side: {0}")]
    Side(#[from] LengthError),
    /// A side that is no size for a card.
    #[error("a card side of {0} is out of range: sides are from 1 to 14 inches")]
    OutOfRange(String),
}

/// A card of the table: name, unit, upright width and height.
struct Named {
    name: &'static str,
    also: &'static [&'static str],
    width: Length,
    height: Length,
    unit: Unit,
}

const fn inches(name: &'static str, also: &'static [&'static str], width: i32, height: i32) -> Named {
    Named { name, also, width: Length::eighths(width), height: Length::eighths(height), unit: Unit::Inch }
}

const fn metric(name: &'static str, width: i32, height: i32) -> Named {
    Named {
        name,
        also: &[],
        width: Length::millimetres(width),
        height: Length::millimetres(height),
        unit: Unit::Millimetre,
    }
}

/// Inch cards: sizes as envelope makers' pages give them (trade, not a
/// standard); slimline and squares: common practice, no source. Metric cards:
/// ISO 216:2007 for A5 and A6; DL is A4 (210 x 297 mm) folded in thirds to fit
/// the DL envelope of ISO 269.
const TABLE: [Named; 12] = [
    inches("A1", &[], 28, 39),
    inches("A2", &[], 34, 44),
    inches("A6", &[], 36, 50),
    inches("A7", &["5x7"], 40, 56),
    inches("A8", &[], 42, 63),
    inches("A9", &[], 44, 68),
    inches("A10", &[], 46, 74),
    inches("square", &[], 34, 34),
    inches("slimline", &[], 28, 68),
    metric("iso-a5", 148, 210),
    metric("iso-a6", 105, 148),
    metric("iso-dl", 99, 210),
];

impl Card {
    /// The table of named cards, upright, smallest name first as listed.
    pub fn table() -> impl Iterator<Item = Card> {
        TABLE.iter().map(Named::card)
    }

    /// A card of any size. Sides must be on the size grid of `unit` and from
    /// 1 to 14 inches.
    pub fn custom(width: Length, height: Length, unit: Unit) -> Result<Card, CardError> {
        for side in [width, height] {
            if side < Length::inches(1) || side > Length::inches(14) {
                return Err(CardError::OutOfRange(side.show(unit)));
            }
            Length::exact(side.value(unit), unit, Step::Size)?;
        }
        let known = TABLE.iter().find(|named| {
            named.unit == unit
                && ((named.width, named.height) == (width, height)
                    || (named.height, named.width) == (width, height))
        });
        let name = match known {
            Some(named) => named.name.to_owned(),
            None if width == height && unit == Unit::Inch => format!("square-{}", plain(width, unit)),
            None => {
                let suffix = if unit == Unit::Millimetre { "mm" } else { "" };
                format!("{}x{}{suffix}", plain(width, unit), plain(height, unit))
            }
        };
        Ok(Card { name, unit, width, height, fold: Fold::Left }.refold())
    }

    /// The card standing up: width no longer than height.
    #[must_use]
    pub fn upright(&self) -> Card {
        if self.width > self.height { self.turned() } else { self.clone() }
    }

    /// The card lying down: height no longer than width.
    #[must_use]
    pub fn lying(&self) -> Card {
        if self.width < self.height { self.turned() } else { self.clone() }
    }

    /// The front as a frame.
    pub const fn frame(&self) -> Frame {
        Frame { x: Length::ZERO, y: Length::ZERO, width: self.width, height: self.height }
    }

    /// Width and height in inches.
    pub fn size_in(&self) -> [f64; 2] {
        [self.width.value(Unit::Inch), self.height.value(Unit::Inch)]
    }

    fn turned(&self) -> Card {
        Card { width: self.height, height: self.width, ..self.clone() }.refold()
    }

    /// An upright card folds at its left side, a lying one at its top.
    fn refold(self) -> Card {
        let fold = if self.width > self.height { Fold::Top } else { Fold::Left };
        Card { fold, ..self }
    }
}

impl Named {
    fn card(&self) -> Card {
        Card {
            name: self.name.to_owned(),
            unit: self.unit,
            width: self.width,
            height: self.height,
            fold: Fold::Left,
        }
        .refold()
    }
}

/// A length as it stands inside a card's name: decimals, no blanks.
fn plain(length: Length, unit: Unit) -> String {
    format!("{}", length.value(unit))
}

impl FromStr for Card {
    type Err = CardError;

    fn from_str(text: &str) -> Result<Card, CardError> {
        let unknown = || CardError::Unknown(text.trim().chars().take(40).collect());
        let asked = text.trim().to_lowercase();
        let named = TABLE.iter().find(|named| {
            named.name.eq_ignore_ascii_case(&asked)
                || named.also.iter().any(|also| also.eq_ignore_ascii_case(&asked))
        });
        if let Some(named) = named {
            return Ok(named.card());
        }
        if let Some(side) = asked.strip_prefix("square-") {
            let side: Length = side.parse()?;
            return Card::custom(side, side, Unit::Inch);
        }
        let (width, height) = asked.split_once(['x', '×']).ok_or_else(unknown)?;
        if !asked.contains(|c: char| c.is_ascii_digit()) {
            return Err(unknown());
        }
        let unit = if height.trim_end().ends_with("mm") { Unit::Millimetre } else { Unit::Inch };
        Card::custom(Length::parse(width, unit)?, Length::parse(height, unit)?, unit)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(name: &str, unit: Unit, width: f64, height: f64) {
        let card: Card = name.parse().unwrap_or_else(|error| panic!("{name}: {error}"));
        assert_eq!(
            (card.unit, card.width.value(unit), card.height.value(unit)),
            (unit, width, height),
            "{name}"
        );
        assert_eq!(
            card.name.parse::<Card>().unwrap().upright(),
            card.upright(),
            "the name {} names it again",
            card.name
        );
    }

    #[test]
    fn names_give_the_trades_sizes() {
        for (name, width, height) in [
            ("A1", 3.5, 4.875),
            ("A2", 4.25, 5.5),
            ("A6", 4.5, 6.25),
            ("A7", 5.0, 7.0),
            ("5x7", 5.0, 7.0),
            ("A8", 5.25, 7.875),
            ("A9", 5.5, 8.5),
            ("A10", 5.75, 9.25),
            ("square", 4.25, 4.25),
            ("square-5", 5.0, 5.0),
            ("square-6", 6.0, 6.0),
            ("slimline", 3.5, 8.5),
            ("4x6", 4.0, 6.0),
            ("6 1/2 x 4 1/8", 6.5, 4.125),
        ] {
            check(name, Unit::Inch, width, height);
        }
        for (name, width, height) in [
            ("iso-a5", 148.0, 210.0),
            ("iso-a6", 105.0, 148.0),
            ("iso-dl", 99.0, 210.0),
            ("100x150mm", 100.0, 150.0),
        ] {
            check(name, Unit::Millimetre, width, height);
        }
    }

    #[test]
    fn what_names_no_card_is_refused_in_a_sentence() {
        for (name, start) in [
            ("A3", "no card is called \"A3\": use A1, A2"),
            ("", "no card is called \"\""),
            ("xx", "no card is called \"xx\""),
            ("-4x6", "a card side of -4 is out of range"),
            ("0x6", "a card side of 0 is out of range"),
            ("4x60", "a card side of 60 is out of range"),
            ("4.3x6", "card side: 4.3 is not on the sixteenth-inch grid"),
            ("4 1/16x6", "card side: 4.0625 is not on the eighth-inch grid"),
            ("square-big", "card side: \"big\" is not a length"),
        ] {
            let error = name.parse::<Card>().expect_err(name).to_string();
            assert!(error.starts_with(start), "{name}: {error}");
        }
    }

    #[test]
    fn a_lying_card_folds_at_the_top() {
        let card: Card = "5.5x4.25".parse().unwrap();
        assert_eq!((card.name.as_str(), card.fold), ("A2", Fold::Top));
        assert_eq!(card.upright().fold, Fold::Left);
    }
}

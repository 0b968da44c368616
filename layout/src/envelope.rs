//! Which envelope a card goes into, and how thick it is. Envelope sizes are
//! the trade's pages' (A1 to A10, No. 10) and those of ISO 269:1985 (C6, C5,
//! C4, DL). Usual clearance is about a quarter of an inch over the card in
//! each direction; the commonest pair, A2, has an eighth on its short side, so
//! an eighth is the least that is taken.

use crate::card::Card;
use crate::length::{Length, Unit};
use crate::stack::{Calipers, Height};

/// An envelope, lying: its longer side first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Envelope {
    /// `A2`, `C6`, `square 5 1/4`.
    pub name: String,
    /// The system it is sold in.
    pub unit: Unit,
    /// Longer side.
    pub length: Length,
    /// Shorter side.
    pub height: Length,
}

/// The envelope of a card.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// The smallest that takes it.
    pub envelope: Envelope,
    /// What it is larger than the card, along both its sides.
    pub clearance: [Length; 2],
    /// Whether the card would slide about in it.
    pub is_loose: bool,
    /// The next larger one, where the card is so thick that it may need it.
    pub larger: Option<Envelope>,
}

/// Least clearance in each direction: what A1 and A2 have on their short side.
const LEAST: Length = Length::eighths(1);
/// Clearance of an envelope made for a square card (common practice: 1/4 or 1/2).
const SQUARE: Length = Length::eighths(2);
/// More clearance than the slimline card has in a No. 10, in either direction.
const LOOSE: Length = Length::inches(1);
/// From this thickness on, in inches, a larger envelope is named: two layers
/// of 1/16 foam, or one of 1/8. Common practice, no source.
const BULKY_IN: f64 = 0.125;

const fn inches(name: &'static str, height: i32, length: i32) -> (&'static str, Unit, Length, Length) {
    (name, Unit::Inch, Length::eighths(length), Length::eighths(height))
}

const fn metric(name: &'static str, height: i32, length: i32) -> (&'static str, Unit, Length, Length) {
    (name, Unit::Millimetre, Length::millimetres(length), Length::millimetres(height))
}

const TABLE: [(&str, Unit, Length, Length); 12] = [
    inches("A1", 29, 41),
    inches("A2", 35, 46),
    inches("A6", 38, 52),
    inches("A7", 42, 58),
    inches("A8", 44, 65),
    inches("A9", 46, 70),
    inches("A10", 48, 76),
    inches("No. 10", 33, 76),
    metric("C6", 114, 162),
    metric("C5", 162, 229),
    metric("C4", 229, 324),
    metric("DL", 110, 220),
];

impl Envelope {
    /// The envelopes that have a name.
    pub fn table() -> impl Iterator<Item = Envelope> {
        TABLE.iter().map(|&(name, unit, length, height)| Envelope {
            name: name.to_owned(),
            unit,
            length,
            height,
        })
    }

    /// A square one.
    pub fn square(side: Length, unit: Unit) -> Envelope {
        Envelope { name: format!("square {}", side.show(unit)), unit, length: side, height: side }
    }

    /// Both sides in words.
    pub fn size_words(&self) -> String {
        format!("{} x {}", self.height.show(self.unit), self.length.show(self.unit))
    }

    /// What it is larger than a card, along its longer and its shorter side;
    /// none where the card does not go in.
    fn clearance(&self, card: &Card) -> Option<[Length; 2]> {
        let upright = card.upright();
        let room = [self.length - upright.height, self.height - upright.width];
        room.iter().all(|&room| room >= LEAST).then_some(room)
    }
}

/// The smallest envelope that takes a card of this thickness: one sold in the
/// card's own system if there is one. None for a card that needs a box.
pub fn envelope(card: &Card, thickness_in: f64) -> Option<Choice> {
    if card.width == card.height {
        let made = |more: Length| Envelope::square(card.width + more, card.unit);
        return Some(Choice {
            envelope: made(SQUARE),
            clearance: [SQUARE; 2],
            is_loose: false,
            larger: (thickness_in >= BULKY_IN).then(|| made(SQUARE * 2)),
        });
    }
    let mut fitting: Vec<(Envelope, [Length; 2])> =
        Envelope::table().filter_map(|one| one.clearance(card).map(|room| (one, room))).collect();
    // Small before large, equal ones as the table has them.
    fitting.sort_by_key(|(one, _)| {
        let [length, height] = [one.length, one.height]
            .map(|side| i64::from(side.in_steps(Unit::Millimetre, crate::length::Step::Position)));
        (one.unit != card.unit, length * height)
    });
    let mut fitting = fitting.into_iter();
    let (envelope, clearance) = fitting.next()?;
    let larger = fitting.next().map(|(one, _)| one).filter(|_| thickness_in >= BULKY_IN);
    Some(Choice { is_loose: clearance.iter().any(|&room| room > LOOSE), envelope, clearance, larger })
}

/// How thick a card is, in inches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thickness {
    /// Folded, at its highest place. Marks are not counted: nobody knows how
    /// high they are.
    pub card_in: f64,
    /// The same in its envelope.
    pub posted_in: f64,
}

impl Thickness {
    /// Of a folded base with this on its front.
    pub fn of(height: Height, calipers: Calipers) -> Thickness {
        let card_in = 2.0 * calipers.cardstock + height.thickness_in(calipers);
        Thickness { card_in, posted_in: card_in + 2.0 * calipers.envelope }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The pairs of the trade's pages, and of ISO 269 with ISO 216.
    #[test]
    fn every_named_card_goes_into_the_envelope_of_its_name() {
        for (card, name, size) in [
            ("A1", "A1", "3 5/8 x 5 1/8"),
            ("A2", "A2", "4 3/8 x 5 3/4"),
            ("A6", "A6", "4 3/4 x 6 1/2"),
            ("A7", "A7", "5 1/4 x 7 1/4"),
            ("A8", "A8", "5 1/2 x 8 1/8"),
            ("A9", "A9", "5 3/4 x 8 3/4"),
            ("A10", "A10", "6 x 9 1/2"),
            ("slimline", "No. 10", "4 1/8 x 9 1/2"),
            ("iso-a5", "C5", "162 mm x 229 mm"),
            ("iso-a6", "C6", "114 mm x 162 mm"),
            ("iso-dl", "DL", "110 mm x 220 mm"),
            ("square-5", "square 5 1/4", "5 1/4 x 5 1/4"),
            ("square-6", "square 6 1/4", "6 1/4 x 6 1/4"),
        ] {
            let card: Card = card.parse().unwrap();
            for card in [card.upright(), card.lying()] {
                let choice = envelope(&card, 0.05).unwrap();
                assert_eq!(
                    (choice.envelope.name.as_str(), choice.envelope.size_words()),
                    (name, size.to_owned())
                );
                assert!(!choice.is_loose && choice.larger.is_none(), "{name}: {choice:?}");
            }
        }
    }

    #[test]
    fn other_sizes_go_into_the_smallest_that_takes_them() {
        let of = |card: &str, thick| envelope(&card.parse().unwrap(), thick);
        assert_eq!(of("4x6", 0.05).unwrap().envelope.name, "A6");
        // 4 3/4 wide, as some pages give the A6 card, cannot go into an A6 envelope.
        assert_eq!(of("4.75x6.25", 0.05).unwrap().envelope.name, "A7");
        assert!(of("2x3.5", 0.05).unwrap().is_loose);
        assert_eq!(of("12x13", 0.05), None);
        assert_eq!(of("A2", 0.2).unwrap().larger.unwrap().name, "A6");
        assert_eq!(of("square-5", 0.2).unwrap().larger.unwrap().name, "square 5 1/2");
    }

    /// Computed: folded base 2 x 0.012, two mats 0.024, foam, focal 0.012,
    /// envelope 2 x 0.0045. With 1/16 foam 0.1315 in = 3.34 mm, with 1/8 foam
    /// 0.194 in = 4.93 mm, two 1/8 foams 0.319 in.
    #[test]
    fn a_stack_is_as_thick_as_its_layers() {
        for (foam, count, inches, mm) in
            [(1.0 / 16.0, 1, 0.1315, 3.34), (0.125, 1, 0.194, 4.93), (0.125, 2, 0.319, 8.10)]
        {
            let calipers = Calipers { foam, ..Calipers::default() };
            let posted = Thickness::of(Height { layers: 3, foam: count }, calipers).posted_in;
            assert!((posted - inches).abs() < 1e-9, "{posted}");
            assert!((posted * 25.4 - mm).abs() < 0.005, "{posted}");
        }
    }
}

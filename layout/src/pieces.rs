//! What to cut: every rectangle of paper that so many cards of one layout
//! need, by the paper it comes from. A circle, an oval or a banner is told as
//! the rectangle it begins as; what runs off the card is cut to the card's
//! edge where one straight cut does it. Mats add to width and height overall,
//! so 1/8 leaves a border of 1/16. The card base is a piece with a score line.

use std::fmt::{self, Write};
use std::str::FromStr;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::card::{Card, Fold};
use crate::element::{Element, Frame, MarkKind, Role, Shape, Slot};
use crate::length::{Length, Step, Unit};
use crate::record::Layout;

/// Most cards that are made at a time: a thousand is a stall's whole season,
/// and keeps every count small.
pub const MOST_CARDS: u32 = 1000;

/// What a cut list is made for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PieceOptions {
    /// How many cards, 1 to [`MOST_CARDS`]. Makers make four at a time, so 4
    /// is what is taken if nothing is said.
    pub cards: u32,
    /// What is added to shapes that are not cut by a trimmer alone.
    pub allowances: Allowances,
}

/// What the first rectangle of a shape is larger than the shape itself, in
/// width and in height overall. All three: common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Allowances {
    /// Circles and ovals. 1/4 in (6 mm): an eighth on each side to hold while
    /// the scissors go round, or for the rim of a die.
    pub round: Length,
    /// A banner with a shaped end, in its length alone. 1/4 in (6 mm): a
    /// notch that slips can be cut again. Its long sides are cut straight.
    pub ends: Length,
    /// Rectangles with rounded corners. None: a corner punch and scissors both
    /// begin from the finished sides.
    pub corners: Length,
}

impl Allowances {
    /// The usual ones, on the grid of `unit`.
    pub const fn usual(unit: Unit) -> Allowances {
        let hold = match unit {
            Unit::Inch => Length::eighths(2),
            Unit::Millimetre => Length::millimetres(6),
        };
        Allowances { round: hold, ends: hold, corners: Length::ZERO }
    }
}

impl PieceOptions {
    /// So many cards with the usual allowances.
    pub const fn cards(cards: u32, unit: Unit) -> PieceOptions {
        PieceOptions { cards, allowances: Allowances::usual(unit) }
    }
}

/// Why there is no cut list.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum PiecesError {
    /// A number of cards that nobody makes.
    #[error("{0} cards cannot be planned: ask for 1 to 1000")]
    Cards(u32),
    /// An allowance that takes paper away.
    #[error("an allowance of {0} makes a piece smaller: give nothing or more, up to 2 inches")]
    Allowance(String),
}

/// All that is cut and bought for so many cards of a layout.
///
/// ```
/// # use layout::{Card, Element, Frame, Layout, Length, PieceOptions, Pieces, Shape, Unit};
/// let mut layout = Layout::new("Thank you", "A2".parse::<Card>()?);
/// let frame = Frame { x: Length::eighths(1), y: Length::eighths(1),
///                     width: Length::eighths(32), height: Length::eighths(42) };
/// layout.elements.push(Element::new(1, Shape::SHARP, frame));
/// let pieces = Pieces::of(&layout, &PieceOptions::cards(4, Unit::Inch)).unwrap();
/// // The card base, folded at its left side.
/// assert_eq!((pieces.pieces[0].width, pieces.pieces[0].height), ("8 1/2".parse()?, "5 1/2".parse()?));
/// assert_eq!(pieces.pieces[1].count, 4);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Pieces {
    /// How many cards they are for.
    pub cards: u32,
    /// The system they are measured in.
    pub unit: Unit,
    /// What is cut: the base first, then by paper, largest first.
    pub pieces: Vec<Piece>,
    /// What is punched, bought or made by hand: marks are no pieces of paper.
    pub marks: Vec<Marks>,
    /// What no piece is cut for, with the reason in a sentence.
    pub left_out: Vec<LeftOut>,
}

/// Equal rectangles of one paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Where its paper comes from.
    pub supply: Supply,
    /// Side along the element's own width, before any turning on the card.
    pub width: Length,
    /// Side along the element's own height.
    pub height: Length,
    /// How many for all the cards.
    pub count: u32,
    /// Whether it has to lie upright on a paper whose print has a direction.
    /// On any other paper it may turn. False for the base and for mats, which
    /// are plain cardstock, and for what is as high as wide once cut.
    pub upright: bool,
    /// The shape it gets in the end.
    pub finish: Shape,
    /// Width and height of that shape: smaller than the rectangle by the
    /// allowance.
    pub finished: [Length; 2],
    /// Where a card base is folded.
    pub score: Option<Score>,
    /// What it is for: one use for each of it on one card.
    pub uses: Vec<Use>,
}

/// Where the paper of a piece comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Supply {
    /// The cardstock that is folded to a card.
    Base,
    /// The paper that a letter of the layout stands for.
    Slot(Slot),
    /// An element without a letter: any paper that the maker likes.
    Plain,
    /// Cardstock of mats; 1 is the one right behind an element.
    Mat(u8),
}

impl fmt::Display for Supply {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Supply::Base => f.write_str("base"),
            Supply::Slot(slot) => write!(f, "{}", slot.letter()),
            Supply::Plain => f.write_str("plain"),
            Supply::Mat(1) => f.write_str("mat"),
            Supply::Mat(number) => write!(f, "mat-{number}"),
        }
    }
}

/// A text that names no supply.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is no paper of a layout: use base, plain, mat, mat-2 and so on, or a letter from A to Z")]
pub struct SupplyError(String);

impl FromStr for Supply {
    type Err = SupplyError;

    fn from_str(text: &str) -> Result<Supply, SupplyError> {
        let unknown = || SupplyError(text.chars().take(40).collect());
        match text {
            "base" => Ok(Supply::Base),
            "plain" => Ok(Supply::Plain),
            "mat" => Ok(Supply::Mat(1)),
            _ => {
                if let Some(number) = text.strip_prefix("mat-") {
                    let number: u8 = number.parse().map_err(|_| unknown())?;
                    return if number > 1 { Ok(Supply::Mat(number)) } else { Err(unknown()) };
                }
                let mut letters = text.chars();
                let slot = letters.next().and_then(Slot::new).filter(|_| letters.next().is_none());
                slot.map(Supply::Slot).ok_or_else(unknown)
            }
        }
    }
}

/// A fold line across a card base, parallel to one of its sides.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Score {
    /// How far from the piece's left side, or from its top for a top fold.
    pub at: Length,
    /// The edge of the front that it becomes.
    pub fold: Fold,
}

/// One thing that a piece is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Use {
    /// Id of the element; none for the card base.
    pub element: Option<u32>,
    /// The element's place in the stack, 1 at the bottom, as drawings number
    /// it; none for the card base.
    pub place: Option<usize>,
    /// Which mat behind the element, 1 the nearest; none for the element
    /// itself.
    pub mat: Option<usize>,
    /// What happens at the card's edge.
    pub trim: Trim,
    /// The same in words: `mat behind panel A (2), 1/8 larger`.
    pub words: String,
}

/// How a piece that reaches over the card's edge ends there.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Trim {
    /// It does not reach over.
    #[default]
    Inside,
    /// The piece is told as cut to the card's edge: one straight cut a side.
    Cut,
    /// It is cut whole, and trimmed along the card's edge once it is glued:
    /// curved or turned, it has no straight side there.
    AfterGluing,
}

/// Marks of one kind.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Marks {
    /// What they look like.
    pub kind: MarkKind,
    /// How many for all the cards.
    pub count: u32,
    /// Ids of the elements, bottom first.
    pub elements: Vec<u32>,
}

/// An element, or a mat, that nothing is cut for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// Id of the element.
    pub element: u32,
    /// Why, and what to do.
    pub words: String,
}

impl Pieces {
    /// The cut list of a layout.
    pub fn of(layout: &Layout, options: &PieceOptions) -> Result<Pieces, PiecesError> {
        if options.cards == 0 || options.cards > MOST_CARDS {
            return Err(PiecesError::Cards(options.cards));
        }
        let Allowances { round, ends, corners } = options.allowances;
        for allowance in [round, ends, corners] {
            if allowance < Length::ZERO || allowance > Length::inches(2) {
                return Err(PiecesError::Allowance(allowance.show(layout.card.unit)));
            }
        }
        let mut list = Pieces {
            cards: options.cards,
            unit: layout.card.unit,
            pieces: Vec::new(),
            marks: Vec::new(),
            left_out: Vec::new(),
        };
        list.add(base(&layout.card));
        for (index, element) in layout.elements.iter().enumerate() {
            if let Shape::Mark { kind } = element.shape {
                list.mark(kind, element, &layout.called(index));
            } else {
                list.element(layout, index, options.allowances);
            }
        }
        let unit = list.unit;
        list.pieces.sort_by_key(|piece| {
            let [width, height] =
                [piece.width, piece.height].map(|side| i64::from(side.in_steps(unit, Step::Position)));
            (piece.supply, -width * height, -height, piece.uses[0].place)
        });
        Ok(list)
    }

    fn mark(&mut self, kind: MarkKind, element: &Element, name: &str) {
        match self.marks.iter_mut().find(|marks| marks.kind == kind) {
            Some(marks) => {
                marks.count += self.cards;
                marks.elements.push(element.id);
            }
            None => self.marks.push(Marks { kind, count: self.cards, elements: vec![element.id] }),
        }
        if !element.mats.is_empty() {
            let words = format!("no mat is cut for {name}: the size of a mark does not count");
            self.left_out.push(LeftOut { element: element.id, words });
        }
    }

    fn element(&mut self, layout: &Layout, index: usize, allowances: Allowances) {
        let element = &layout.elements[index];
        let name = layout.called(index);
        if !layout.card.frame().meets(element.frame.reach_in(element.rotation_deg, element.shape)) {
            let words = format!("{name} lies beside the card: move it on to the card, or delete it");
            self.left_out.push(LeftOut { element: element.id, words });
            return;
        }
        let supply = match (element.slot, element.role) {
            (Some(slot), _) => Supply::Slot(slot),
            (None, Role::Mat) => Supply::Mat(1),
            (None, _) => Supply::Plain,
        };
        let size = match element.shape {
            Shape::Circle => format!(", {} across", element.frame.width.show(self.unit)),
            _ => String::new(),
        };
        self.add(cut(layout, index, None, supply, format!("{name}{size}"), allowances));
        for (number, &mat) in (1_u8..).zip(&element.mats) {
            let which = match number {
                1 => "mat".to_owned(),
                _ => format!("{} mat", ordinal(usize::from(number))),
            };
            let words = format!("{which} behind {name}, {} larger", mat.show(self.unit));
            self.add(cut(
                layout,
                index,
                Some((usize::from(number), mat)),
                Supply::Mat(number),
                words,
                allowances,
            ));
        }
    }

    /// One piece for each card, together with equal ones.
    fn add(&mut self, mut piece: Piece) {
        piece.count = self.cards;
        let same = self.pieces.iter_mut().find(|other| {
            (
                other.supply,
                other.width,
                other.height,
                other.upright,
                other.finish,
                other.finished,
                other.score,
            ) == (
                piece.supply,
                piece.width,
                piece.height,
                piece.upright,
                piece.finish,
                piece.finished,
                piece.score,
            )
        });
        match same {
            Some(same) => {
                same.count += piece.count;
                same.uses.append(&mut piece.uses);
            }
            None => self.pieces.push(piece),
        }
    }
}

impl Piece {
    /// Its size in words: `4 x 5 1/4`.
    pub fn size_words(&self, unit: Unit) -> String {
        format!("{} x {}", self.width.show(unit), self.height.show(unit))
    }

    /// What becomes of the rectangle, in words; empty where it is cut and done.
    pub fn finish_words(&self, unit: Unit) -> String {
        let [width, height] = self.finished.map(|side| side.show(unit));
        match self.finish {
            Shape::Circle => format!("a circle {width} across"),
            Shape::Oval => format!("an oval {width} x {height}"),
            Shape::Banner { ends } if ends.are_straight() => String::new(),
            Shape::Banner { .. } => format!("a banner {width} x {height}, ends shaped"),
            Shape::Rectangle { corner_radius } if corner_radius.is_positive() => {
                format!("corners rounded to {}", corner_radius.show(unit))
            }
            Shape::Rectangle { .. } | Shape::Mark { .. } => String::new(),
        }
    }

    /// Where it is scored, in words; empty for all but the card base.
    pub fn score_words(&self, unit: Unit) -> String {
        self.score.map_or(String::new(), |score| {
            let side = match score.fold {
                Fold::Left => "left",
                Fold::Top => "top",
            };
            format!("score {} from the {side}", score.at.show(unit))
        })
    }
}

impl MarkKind {
    /// What a maker calls so many of them.
    pub const fn words(self, several: bool) -> &'static str {
        match (self, several) {
            (MarkKind::Dot, false) => "button, gem or dot",
            (MarkKind::Dot, true) => "buttons, gems or dots",
            (MarkKind::Heart, false) => "heart",
            (MarkKind::Heart, true) => "hearts",
            (MarkKind::Star, false) => "star",
            (MarkKind::Star, true) => "stars",
            (MarkKind::Flower, false) => "flower",
            (MarkKind::Flower, true) => "flowers",
            (MarkKind::Other, false) => "small embellishment",
            (MarkKind::Other, true) => "small embellishments",
        }
    }
}

/// The base of a card: twice the front, scored in its middle.
fn base(card: &Card) -> Piece {
    let (width, height, at, words) = match card.fold {
        Fold::Left => (card.width * 2, card.height, card.width, "card base, folded at its left side"),
        Fold::Top => (card.width, card.height * 2, card.height, "card base, folded at its top"),
    };
    let part = Use { element: None, place: None, mat: None, trim: Trim::Inside, words: words.to_owned() };
    Piece {
        supply: Supply::Base,
        width,
        height,
        count: 0,
        upright: false,
        finish: Shape::SHARP,
        finished: [width, height],
        score: Some(Score { at, fold: card.fold }),
        uses: vec![part],
    }
}

/// The piece of an element, or of one of its mats with what that adds.
fn cut(
    layout: &Layout,
    index: usize,
    mat: Option<(usize, Length)>,
    supply: Supply,
    mut words: String,
    allowances: Allowances,
) -> Piece {
    let element = &layout.elements[index];
    let whole = mat.map_or(element.frame, |(_, adds)| element.frame.grown(adds));
    let card = layout.card.frame();
    let leaves = !card.covers(whole.reach_in(element.rotation_deg, element.shape));
    let (frame, trim) = match (leaves, element.is_straight()) {
        (false, _) => (whole, Trim::Inside),
        (true, true) => (card.shared(whole).unwrap_or(whole), Trim::Cut),
        (true, false) => (whole, Trim::AfterGluing),
    };
    match trim {
        Trim::Inside => {}
        Trim::Cut => words.push_str(", cut off where the card ends"),
        Trim::AfterGluing => words.push_str(", trimmed along the card's edge after gluing"),
    }
    if element.rotation_deg != 0.0 {
        let turned = crate::drawing::tidy((element.rotation_deg * 10.0).round() / 10.0);
        // Writing to a string cannot fail.
        let _ = write!(words, ", lies turned by {turned}°");
    }
    let finish = mat.map_or(element.shape, |(_, adds)| element.shape.grown(adds));
    let [more_width, more_height] = allowance(finish, frame, allowances);
    let (width, height) = (frame.width + more_width, frame.height + more_height);
    Piece {
        supply,
        width,
        height,
        count: 0,
        upright: mat.is_none() && supply != Supply::Mat(1) && width != height,
        finish,
        finished: [frame.width, frame.height],
        score: None,
        uses: vec![Use {
            element: Some(element.id),
            place: Some(index + 1),
            mat: mat.map(|(number, _)| number),
            trim,
            words,
        }],
    }
}

/// What the first rectangle adds to a shape.
fn allowance(shape: Shape, frame: Frame, allowances: Allowances) -> [Length; 2] {
    match shape {
        Shape::Circle | Shape::Oval => [allowances.round; 2],
        Shape::Banner { ends } if ends.are_straight() => [Length::ZERO; 2],
        Shape::Banner { .. } if frame.height > frame.width => [Length::ZERO, allowances.ends],
        Shape::Banner { .. } => [allowances.ends, Length::ZERO],
        Shape::Rectangle { corner_radius } if corner_radius.is_positive() => [allowances.corners; 2],
        Shape::Rectangle { .. } | Shape::Mark { .. } => [Length::ZERO; 2],
    }
}

/// `second`, `third` and so on.
fn ordinal(number: usize) -> String {
    const WORDS: [&str; 10] =
        ["first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth"];
    WORDS.get(number.wrapping_sub(1)).map_or_else(|| format!("{number}th"), |word| (*word).to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::{End, Ends};

    fn length(text: &str) -> Length {
        text.parse().unwrap()
    }

    fn frame([x, y, width, height]: [&str; 4]) -> Frame {
        let [x, y, width, height] = [x, y, width, height].map(length);
        Frame { x, y, width, height }
    }

    fn card(name: &str, fold: Fold) -> Layout {
        Layout::new("", Card { fold, ..name.parse::<Card>().unwrap() })
    }

    fn with(elements: Vec<Element>) -> Layout {
        Layout { elements, ..card("A2", Fold::Left) }
    }

    fn four(layout: &Layout) -> Pieces {
        Pieces::of(layout, &PieceOptions::cards(4, layout.card.unit)).unwrap()
    }

    /// Each piece as `paper count width x height: uses`.
    fn told(layout: &Layout) -> Vec<String> {
        let pieces = four(layout);
        pieces
            .pieces
            .iter()
            .map(|piece| {
                let uses: Vec<&str> = piece.uses.iter().map(|part| part.words.as_str()).collect();
                format!(
                    "{} {} {}: {}",
                    piece.supply,
                    piece.count,
                    piece.size_words(pieces.unit),
                    uses.join("; ")
                )
            })
            .collect()
    }

    fn panel(id: u32, slot: char, at: [&str; 4]) -> Element {
        Element { slot: Slot::new(slot), ..Element::new(id, Shape::SHARP, frame(at)) }
    }

    /// Blanks, computed: 4 1/4 x 5 1/2 top fold 4 1/4 x 11 scored at 5 1/2;
    /// side fold 8 1/2 x 5 1/2 scored at 4 1/4. 5 x 7 side fold 10 x 7 scored
    /// at 5; top fold 5 x 14.
    #[test]
    fn a_base_is_two_fronts_scored_between() {
        for (name, fold, size, score) in [
            ("A2", Fold::Left, "8 1/2 x 5 1/2", "score 4 1/4 from the left"),
            ("A2", Fold::Top, "4 1/4 x 11", "score 5 1/2 from the top"),
            ("5x7", Fold::Left, "10 x 7", "score 5 from the left"),
            ("5x7", Fold::Top, "5 x 14", "score 7 from the top"),
            ("iso-a6", Fold::Left, "210 mm x 148 mm", "score 105 mm from the left"),
        ] {
            let pieces = four(&card(name, fold));
            let [base] = &pieces.pieces[..] else { panic!("{pieces:?}") };
            let said = (base.size_words(pieces.unit), base.score_words(pieces.unit));
            assert_eq!((said.0.as_str(), said.1.as_str()), (size, score), "{name} {fold:?}");
            assert_eq!((base.supply, base.count), (Supply::Base, 4));
        }
    }

    /// Computed, after the trade's rule that 1/8 off overall leaves 1/16 each
    /// side: a mat of 4 1/8 x 5 3/8 behind 4 x 5 1/4 adds 1/8.
    #[test]
    fn mats_add_to_width_and_height_overall() {
        let mut one = panel(1, 'A', ["1/8", "1/8", "4", "5 1/4"]);
        one.mats = vec![length("1/8"), length("1/4")];
        assert_eq!(
            told(&with(vec![one])),
            [
                "base 4 8 1/2 x 5 1/2: card base, folded at its left side",
                "A 4 4 x 5 1/4: panel A (1)",
                "mat 4 4 1/8 x 5 3/8: mat behind panel A (1), 1/8 larger",
                "mat-2 4 4 1/4 x 5 1/2: second mat behind panel A (1), 1/4 larger",
            ]
        );
    }

    #[test]
    fn equal_pieces_of_a_paper_are_one_line() {
        let squares = vec![
            panel(1, 'B', ["1/4", "1/4", "1 1/2", "1 1/2"]),
            panel(2, 'A', ["2", "1/4", "1 1/2", "1 1/2"]),
            panel(3, 'B', ["1/4", "3", "1 1/2", "1 1/2"]),
            panel(4, 'B', ["1/4", "2", "3", "3/4"]),
        ];
        assert_eq!(
            told(&with(squares))[1..],
            [
                "A 4 1 1/2 x 1 1/2: panel A (2)",
                "B 8 1 1/2 x 1 1/2: panel B (1); panel B (3)",
                "B 4 3 x 3/4: panel B (4)"
            ]
        );
    }

    #[test]
    fn shapes_begin_as_rectangles_that_are_a_little_larger() {
        let shaped = |shape, at| with(vec![Element::new(1, shape, frame(at))]);
        let ends = Ends::new(End::Straight, End::Fishtail);
        let straight = Ends::new(End::Straight, End::Straight);
        let round = Shape::Rectangle { corner_radius: length("1/4") };
        for (shape, at, piece, finish) in [
            (Shape::Circle, ["1", "1", "2", "2"], "2 1/4 x 2 1/4", "a circle 2 across"),
            (Shape::Oval, ["1", "1", "2", "3"], "2 1/4 x 3 1/4", "an oval 2 x 3"),
            (Shape::Banner { ends }, ["1", "1", "3", "3/4"], "3 1/4 x 3/4", "a banner 3 x 3/4, ends shaped"),
            (Shape::Banner { ends }, ["1", "1", "3/4", "3"], "3/4 x 3 1/4", "a banner 3/4 x 3, ends shaped"),
            (Shape::Banner { ends: straight }, ["1", "1", "3", "3/4"], "3 x 3/4", ""),
            (round, ["1", "1", "2", "3"], "2 x 3", "corners rounded to 1/4"),
            (Shape::SHARP, ["1", "1", "2", "3"], "2 x 3", ""),
        ] {
            let pieces = four(&shaped(shape, at));
            let cut = &pieces.pieces[1];
            assert_eq!(
                (cut.size_words(pieces.unit), cut.finish_words(pieces.unit)),
                (piece.into(), finish.into())
            );
        }
    }

    #[test]
    fn only_what_a_letter_stands_for_minds_the_direction_of_a_print() {
        let mut one = panel(1, 'A', ["1/8", "1/8", "4", "5 1/4"]);
        one.mats = vec![length("1/8")];
        let pieces = four(&with(vec![one, panel(2, 'A', ["1", "1", "2", "2"])]));
        let upright: Vec<(String, bool)> =
            pieces.pieces.iter().map(|piece| (piece.size_words(pieces.unit), piece.upright)).collect();
        assert_eq!(upright.iter().filter(|(_, upright)| *upright).count(), 1, "{upright:?}");
        assert_eq!(upright[1], ("4 x 5 1/4".to_owned(), true));
    }

    #[test]
    fn what_runs_off_the_card_is_cut_to_its_edge_where_a_straight_cut_does_it() {
        let strip = panel(1, 'A', ["-1/4", "2", "5", "1"]);
        let circle = Element::new(2, Shape::Circle, frame(["3", "3", "2", "2"]));
        let mut turned = panel(3, 'B', ["1/8", "1/8", "4", "5 1/4"]);
        turned.rotation_deg = -10.0;
        let gone = panel(4, 'C', ["4 1/4", "1", "1", "1"]);
        let layout = with(vec![strip, circle, turned, gone]);
        assert_eq!(
            told(&layout)[1..],
            [
                "A 4 4 1/4 x 1: panel A (1), cut off where the card ends",
                "B 4 4 x 5 1/4: panel B (3), trimmed along the card's edge after gluing, lies turned by -10°",
                "plain 4 2 1/4 x 2 1/4: circle (2), 2 across, trimmed along the card's edge after gluing",
            ]
        );
        let pieces = four(&layout);
        assert_eq!(
            pieces.left_out[0].words,
            "panel C (4) lies beside the card: move it on to the card, or delete it"
        );
        assert_eq!(pieces.pieces[1].uses[0].trim, Trim::Cut);
    }

    #[test]
    fn marks_are_counted_and_not_cut() {
        let mark = |id, kind| Element::new(id, Shape::Mark { kind }, frame(["1", "1", "1/4", "1/4"]));
        let mut matted = mark(3, MarkKind::Dot);
        matted.mats = vec![length("1/8")];
        let pieces = four(&with(vec![mark(1, MarkKind::Dot), mark(2, MarkKind::Heart), matted]));
        assert_eq!(pieces.pieces.len(), 1);
        let counted: Vec<_> = pieces.marks.iter().map(|marks| (marks.kind, marks.count)).collect();
        assert_eq!(counted, [(MarkKind::Dot, 8), (MarkKind::Heart, 4)]);
        assert_eq!(pieces.left_out[0].words, "no mat is cut for mark (3): the size of a mark does not count");
    }

    #[test]
    fn numbers_of_cards_and_allowances_have_bounds() {
        let layout = with(Vec::new());
        for cards in [0, 1001, u32::MAX] {
            let error = Pieces::of(&layout, &PieceOptions::cards(cards, Unit::Inch)).unwrap_err();
            assert_eq!(error.to_string(), format!("{cards} cards cannot be planned: ask for 1 to 1000"));
        }
        let mut options = PieceOptions::cards(1, Unit::Inch);
        options.allowances.round = length("-1/8");
        assert!(Pieces::of(&layout, &options).is_err());
    }

    #[test]
    fn names_of_papers_round_trip() {
        let letter = Supply::Slot(Slot::new('Q').unwrap());
        for supply in [Supply::Base, Supply::Plain, Supply::Mat(1), Supply::Mat(2), Supply::Mat(10), letter] {
            assert_eq!(supply.to_string().parse(), Ok(supply));
        }
        for text in ["", "mat-1", "mat-", "AB", "7", "mat-300"] {
            assert!(text.parse::<Supply>().is_err(), "{text}");
        }
    }
}

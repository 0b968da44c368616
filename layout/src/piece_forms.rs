//! The cut list as JSON and as a table of comma-separated values (RFC 4180).
//! In both, lengths are plain numbers in the list's unit: a sixteenth of an
//! inch is exact, and a spreadsheet takes `1/8` for a date. Words say the same
//! in fractions.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::card::Fold;
use crate::element::{MarkKind, Shape};
use crate::json::ShapeJson;
use crate::length::{Length, Unit};
use crate::pieces::{Piece, Pieces, Trim};

/// All that is cut and bought for so many cards of a layout.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Pieces")]
pub struct PiecesJson {
    /// How many cards they are for.
    pub cards: u32,
    /// The unit of every length.
    pub unit: Unit,
    /// What is cut: the base first, then by paper, largest first.
    pub pieces: Vec<PieceJson>,
    /// What is punched, bought or made by hand.
    pub marks: Vec<MarksJson>,
    /// What no piece is cut for, and why.
    pub left_out: Vec<LeftOutJson>,
}

/// Equal rectangles of one paper.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Piece")]
pub struct PieceJson {
    /// Its number in the list, from 1.
    pub number: u32,
    /// Where its paper comes from: `base`, a letter of the layout, `plain` for
    /// an element without a letter, `mat`, `mat-2` and so on.
    pub paper: String,
    /// Side along the element's own width, before any turning on the card.
    pub width: f64,
    /// Side along the element's own height.
    pub height: f64,
    /// Both sides in words: `4 x 5 1/4`.
    pub size: String,
    /// How many for all the cards.
    pub count: u32,
    /// Whether it has to lie upright on a paper whose print has a direction;
    /// on any other paper it may turn.
    pub upright: bool,
    /// The shape that is made of the rectangle; null where it is cut and done.
    pub finish: Option<FinishJson>,
    /// Where a card base is folded; null for every other piece.
    pub score: Option<ScoreJson>,
    /// What it is for: one use for each of it on one card.
    pub uses: Vec<UseJson>,
}

/// A shape that is made of a rectangle.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Finish")]
pub struct FinishJson {
    /// The shape.
    pub shape: ShapeJson,
    /// Its width: less than the piece's by what scissors or a die need.
    pub width: f64,
    /// Its height.
    pub height: f64,
    /// Radius of a rectangle's corners.
    pub corner_radius: f64,
    /// The same in words.
    pub words: String,
}

/// A fold line across a piece.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Score")]
pub struct ScoreJson {
    /// How far from the piece's left side or top.
    pub at: f64,
    /// The edge that is folded.
    pub fold: Fold,
    /// The same in words.
    pub words: String,
}

/// One thing that a piece is for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Use")]
pub struct UseJson {
    /// Id of the element; null for the card base.
    pub element: Option<u32>,
    /// The element's place in the stack, 1 at the bottom; null for the base.
    pub place: Option<usize>,
    /// Which mat behind the element, 1 the nearest; null for the element.
    pub mat: Option<usize>,
    /// What happens at the card's edge.
    pub trim: Trim,
    /// The same in words.
    pub words: String,
}

/// Marks of one kind.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "Marks")]
pub struct MarksJson {
    /// What they look like.
    pub kind: MarkKind,
    /// How many for all the cards.
    pub count: u32,
    /// Ids of the elements, bottom first.
    pub elements: Vec<u32>,
    /// The same in words: `12 hearts`.
    pub words: String,
}

/// An element, or a mat, that nothing is cut for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[schemars(title = "LeftOut")]
pub struct LeftOutJson {
    /// Id of the element.
    pub element: u32,
    /// Why, and what to do.
    pub words: String,
}

impl From<&Pieces> for PiecesJson {
    fn from(list: &Pieces) -> PiecesJson {
        let pieces = (1..).zip(&list.pieces);
        PiecesJson {
            cards: list.cards,
            unit: list.unit,
            pieces: pieces.map(|(number, piece)| piece_json(number, piece, list.unit)).collect(),
            marks: list
                .marks
                .iter()
                .map(|marks| MarksJson {
                    kind: marks.kind,
                    count: marks.count,
                    elements: marks.elements.clone(),
                    words: format!("{} {}", marks.count, marks.kind.words(marks.count > 1)),
                })
                .collect(),
            left_out: list
                .left_out
                .iter()
                .map(|left| LeftOutJson { element: left.element, words: left.words.clone() })
                .collect(),
        }
    }
}

impl Pieces {
    /// The list as comma-separated values with a head, lines ending in CR LF.
    /// Marks follow the pieces, without sizes.
    pub fn csv(&self) -> String {
        const HEAD: [&str; 11] = [
            "number", "paper", "count", "width", "height", "unit", "size", "upright", "then", "score", "for",
        ];
        let mut rows = vec![HEAD.map(str::to_owned)];
        for (number, piece) in (1..).zip(&self.pieces) {
            let piece = piece_json(number, piece, self.unit);
            let uses: Vec<String> = piece.uses.into_iter().map(|part| part.words).collect();
            rows.push([
                number.to_string(),
                piece.paper,
                piece.count.to_string(),
                piece.width.to_string(),
                piece.height.to_string(),
                self.unit.to_string(),
                piece.size,
                if piece.upright { "yes" } else { "no" }.to_owned(),
                piece.finish.map_or(String::new(), |finish| finish.words),
                piece.score.map_or(String::new(), |score| score.words),
                uses.join("; "),
            ]);
        }
        for marks in &self.marks {
            let mut row: [String; 11] = Default::default();
            row[2] = marks.count.to_string();
            marks.kind.words(marks.count > 1).clone_into(&mut row[10]);
            rows.push(row);
        }
        let mut table = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
        for row in rows {
            // Every row has as many cells, and memory takes them all.
            let _ = table.write_record(row);
        }
        let bytes = table.into_inner().unwrap_or_default();
        String::from_utf8_lossy(&bytes).into_owned()
    }
}

fn piece_json(number: u32, piece: &Piece, unit: Unit) -> PieceJson {
    let corner_radius = match piece.finish {
        Shape::Rectangle { corner_radius } => corner_radius,
        _ => Length::ZERO,
    };
    let words = piece.finish_words(unit);
    PieceJson {
        number,
        paper: piece.supply.to_string(),
        width: piece.width.value(unit),
        height: piece.height.value(unit),
        size: piece.size_words(unit),
        count: piece.count,
        upright: piece.upright,
        finish: (!words.is_empty()).then(|| FinishJson {
            shape: piece.finish.into(),
            width: piece.finished[0].value(unit),
            height: piece.finished[1].value(unit),
            corner_radius: corner_radius.value(unit),
            words: words.clone(),
        }),
        score: piece.score.map(|score| ScoreJson {
            at: score.at.value(unit),
            fold: score.fold,
            words: piece.score_words(unit),
        }),
        uses: piece
            .uses
            .iter()
            .map(|part| UseJson {
                element: part.element,
                place: part.place,
                mat: part.mat,
                trim: part.trim,
                words: part.words.clone(),
            })
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::{Element, Frame, Slot};
    use crate::pieces::PieceOptions;
    use crate::record::Layout;

    fn pieces() -> Pieces {
        let mut layout = Layout::new("", "A2".parse().unwrap());
        let place = |x, y, width, height| Frame {
            x: Length::eighths(x),
            y: Length::eighths(y),
            width: Length::eighths(width),
            height: Length::eighths(height),
        };
        let mut panel = Element::new(7, Shape::SHARP, place(1, 1, 32, 42));
        panel.slot = Slot::new('A');
        panel.mats = vec![Length::eighths(1)];
        layout.elements.push(panel);
        layout.elements.push(Element::new(8, Shape::Circle, place(8, 8, 16, 16)));
        let mark = Shape::Mark { kind: MarkKind::Heart };
        layout.elements.push(Element::new(9, mark, place(4, 4, 2, 2)));
        Pieces::of(&layout, &PieceOptions::cards(4, Unit::Inch)).unwrap()
    }

    #[test]
    fn the_table_has_numbers_and_words() {
        let expected = "\
number,paper,count,width,height,unit,size,upright,then,score,for\r
1,base,4,8.5,5.5,in,8 1/2 x 5 1/2,no,,score 4 1/4 from the left,\"card base, folded at its left side\"\r
2,A,4,4,5.25,in,4 x 5 1/4,yes,,,panel A (1)\r
3,plain,4,2.25,2.25,in,2 1/4 x 2 1/4,no,a circle 2 across,,\"circle (2), 2 across\"\r
4,mat,4,4.125,5.375,in,4 1/8 x 5 3/8,no,,,\"mat behind panel A (1), 1/8 larger\"\r
,,4,,,,,,,,hearts\r
";
        assert_eq!(pieces().csv(), expected);
    }

    #[test]
    fn the_json_form_is_read_back_as_it_was() {
        let json = PiecesJson::from(&pieces());
        let text = serde_json::to_string(&json).unwrap();
        assert_eq!(serde_json::from_str::<PiecesJson>(&text).unwrap(), json);
        assert_eq!(json.marks[0].words, "4 hearts");
        let finish = json.pieces[2].finish.as_ref().unwrap();
        assert_eq!((finish.shape, finish.width), (ShapeJson::Circle, 2.0));
    }
}

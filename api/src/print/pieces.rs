//! The cut list on paper: every piece with its size, how many, from which
//! paper and what for; what to buy or punch; and what is worth knowing before
//! the paper is cut.

use layout::{Layout, Making, Piece, Supply};

use super::canvas::{Anchor, INK, LINE, SOFT, wrap};
use super::measured::{Flow, GAP_IN, LINE_IN, MARGIN_IN, SMALL_IN, TEXT_IN};
use super::{Page, Paper};

/// Where the columns begin, in inches from the margin.
const AT_IN: [f64; 5] = [0.0, 0.55, 1.35, 3.15, 4.85];
const HEADS: [&str; 5] = ["cut", "paper", "size", "then", "for"];

/// The cut list for so many cards.
pub(crate) fn pieces(layout: &Layout, making: &Making, paper: Paper) -> Vec<Page> {
    let mut flow = Flow::new(paper.size_in(), true);
    flow.head(layout);
    let cards = making.pieces.cards;
    flow.line(TEXT_IN, INK, &format!("What to cut for {cards} card{}", if cards == 1 { "" } else { "s" }));
    flow.row(&HEADS.map(str::to_owned), SOFT);
    for piece in &making.pieces.pieces {
        let unit = making.pieces.unit;
        let then = match piece.score {
            Some(_) => piece.score_words(unit),
            None => piece.finish_words(unit),
        };
        let uses: Vec<&str> = piece.uses.iter().map(|part| part.words.as_str()).collect();
        let count = piece.count.to_string();
        flow.row(&[count, paper_words(piece), piece.size_words(unit), then, uses.join("; ")], INK);
    }
    flow.y += GAP_IN / 2.0;
    if making.pieces.pieces.iter().any(|piece| piece.upright) {
        flow.paragraph("On paper whose print has a direction, pieces with a letter are cut upright: width across the print.");
    }
    if !making.pieces.marks.is_empty() {
        flow.heading("To buy or punch");
        for marks in &making.pieces.marks {
            flow.paragraph(&format!("{} {}", marks.count, marks.kind.words(marks.count > 1)));
        }
    }
    let left_out = making.pieces.left_out.iter().map(|left| layout::capital(&left.words) + ".");
    let advice = making.advice.iter().map(|advice| advice.words(layout));
    let missing = making.no_advice.iter().map(|words| layout::capital(words) + ".");
    let before: Vec<String> = left_out.chain(advice).chain(missing).collect();
    if !before.is_empty() {
        flow.heading("Before you cut");
        for words in before {
            flow.paragraph(&words);
        }
    }
    flow.done()
}

/// The paper of a piece as a maker looks for it.
fn paper_words(piece: &Piece) -> String {
    match piece.supply {
        Supply::Base => "base".to_owned(),
        Supply::Slot(slot) => format!("paper {}", slot.letter()),
        Supply::Plain => "any".to_owned(),
        Supply::Mat(1) => "mat".to_owned(),
        Supply::Mat(number) => format!("mat {number}"),
    }
}

impl Flow {
    /// One line of the table; long words go on below.
    fn row(&mut self, cells: &[String; 5], colour: &'static str) {
        const BETWEEN_IN: f64 = 0.1;
        let ends = AT_IN.iter().skip(1).copied().chain([self.room()]);
        let cells: Vec<Vec<String>> = cells
            .iter()
            .zip(AT_IN)
            .zip(ends)
            .map(|((cell, from), to)| wrap(cell, SMALL_IN, to - from - BETWEEN_IN, 12))
            .collect();
        let lines = cells.iter().map(Vec::len).max().unwrap_or(1).max(1);
        self.need(LINE_IN * lines as f64);
        for (cell, at) in cells.iter().zip(AT_IN) {
            for (number, line) in cell.iter().enumerate() {
                let place = [MARGIN_IN + at, self.y + SMALL_IN + LINE_IN * number as f64];
                self.canvas.text(place, SMALL_IN, Anchor::Start, colour, line);
            }
        }
        self.y += LINE_IN * lines as f64;
        self.canvas.line([[MARGIN_IN, self.y - 0.03], [MARGIN_IN + self.room(), self.y - 0.03]], LINE, 0.25);
    }

    /// The name of a part of the page.
    pub(super) fn heading(&mut self, words: &str) {
        self.need(3.0 * LINE_IN);
        self.y += GAP_IN / 2.0;
        self.line(TEXT_IN, INK, words);
    }

    /// Sentences, as many lines as they take.
    pub(super) fn paragraph(&mut self, words: &str) {
        for line in wrap(words, SMALL_IN, self.room(), usize::MAX) {
            self.line(SMALL_IN, INK, &line);
        }
        self.y += GAP_IN / 4.0;
    }
}

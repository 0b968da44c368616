//! An observer of the pipeline: one picture per stage for the curious. It
//! keeps its own clock, if it wants one; this crate has none.

use image::RgbImage;

/// The stages of a reading, in the order the picture travels.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stage {
    /// Decoded and turned upright.
    Photo,
    /// Light divided out.
    Tone,
    /// Strokes as an oriented evidence field.
    Ink,
    /// Outlines of cards.
    Card,
    /// A card seen square-on.
    Rectify,
    /// Segments and arcs.
    Strokes,
    /// Shapes the strokes could support.
    Shapes,
    /// The set and order of shapes that explains the ink best.
    Stack,
    /// What is written on and around a card.
    Labels,
    /// Sizes and positions on the grid.
    Snap,
}

impl Stage {
    /// All stages, in order.
    pub const ALL: [Stage; 10] = [
        Stage::Photo,
        Stage::Tone,
        Stage::Ink,
        Stage::Card,
        Stage::Rectify,
        Stage::Strokes,
        Stage::Shapes,
        Stage::Stack,
        Stage::Labels,
        Stage::Snap,
    ];

    /// The stage's word, as in file names.
    pub const fn word(self) -> &'static str {
        match self {
            Stage::Photo => "photo",
            Stage::Tone => "tone",
            Stage::Ink => "ink",
            Stage::Card => "card",
            Stage::Rectify => "rectify",
            Stage::Strokes => "strokes",
            Stage::Shapes => "shapes",
            Stage::Stack => "stack",
            Stage::Labels => "labels",
            Stage::Snap => "snap",
        }
    }
}

/// Watches a reading. The methods are called when a stage has ended; a stage
/// that runs once per card is told once per card, counted from 0.
pub trait Trace {
    /// Whether pictures are wanted; drawing them costs time.
    fn wants_pictures(&self) -> bool;
    /// A stage has ended.
    fn ended(&mut self, stage: Stage, card: usize);
    /// What the stage saw or made.
    fn picture(&mut self, stage: Stage, card: usize, picture: RgbImage);
}

/// Watches nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoTrace;

impl Trace for NoTrace {
    fn wants_pictures(&self) -> bool {
        false
    }
    fn ended(&mut self, _: Stage, _: usize) {}
    fn picture(&mut self, _: Stage, _: usize, _: RgbImage) {}
}

//! One shape on a card: where it is, what it is, and how sure we are.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::length::Length;

/// An upright box: the top-left corner and the two sides, origin at the
/// card's top-left, y down.
///
/// ```
/// # use layout::{Frame, Length};
/// let panel = Frame { x: Length::eighths(1), y: Length::eighths(1),
///                     width: Length::inches(4), height: Length::eighths(42) };
/// assert_eq!(panel.right(), Length::eighths(33));
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Frame {
    /// Left side.
    pub x: Length,
    /// Top side.
    pub y: Length,
    /// Extent to the right.
    pub width: Length,
    /// Extent downwards.
    pub height: Length,
}

impl Frame {
    /// The right side's position.
    pub fn right(&self) -> Length {
        self.x + self.width
    }

    /// The bottom side's position.
    pub fn bottom(&self) -> Length {
        self.y + self.height
    }

    /// The frame grown by `total` in width and in height about its centre.
    #[must_use]
    pub fn grown(&self, total: Length) -> Frame {
        Frame {
            x: self.x - total.half(),
            y: self.y - total.half(),
            width: self.width + total,
            height: self.height + total,
        }
    }
}

/// One shape on the card.
#[derive(Clone, Debug, PartialEq)]
pub struct Element {
    /// Its number in the layout, unique and positive.
    pub id: u32,
    /// What it is.
    pub shape: Shape,
    /// Its box before turning.
    pub frame: Frame,
    /// Degrees clockwise about the frame's centre, over -180 up to 180.
    pub rotation_deg: f64,
    /// What it does on the card.
    pub role: Role,
    /// The letter that stands for its paper.
    pub slot: Option<Slot>,
    /// What each mat adds to width and height, nearest mat first.
    pub mats: Vec<Length>,
    /// On foam adhesive.
    pub raised: bool,
    /// Probability, 0 to 1, that the element is on the drawing as given.
    pub confidence: f64,
    /// Sizes that the drawing supports nearly as well.
    pub alternatives: Vec<Alternative>,
    /// Its outline in the photo's upright pixels; empty when drawn by hand
    /// in the editor.
    pub outline_px: Vec<[f64; 2]>,
}

impl Element {
    /// An element of which nothing else is known: a panel that is there.
    pub const fn new(id: u32, shape: Shape, frame: Frame) -> Element {
        Element {
            id,
            shape,
            frame,
            rotation_deg: 0.0,
            role: Role::Panel,
            slot: None,
            mats: Vec::new(),
            raised: false,
            confidence: 1.0,
            alternatives: Vec::new(),
            outline_px: Vec::new(),
        }
    }
}

/// What an element is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Shape {
    /// A panel, square or strip.
    Rectangle {
        /// Radius of its corners; zero for sharp ones.
        corner_radius: Length,
    },
    /// A circle: width and height agree.
    Circle,
    /// An ellipse with upright axes before turning.
    Oval,
    /// A strip whose ends are cut.
    Banner {
        /// The two ends, along the longer side.
        ends: Ends,
    },
    /// A small embellishment: its position counts, its size is nominal.
    Mark {
        /// What it looks like.
        kind: MarkKind,
    },
}

impl Shape {
    /// A rectangle with sharp corners.
    pub const SHARP: Shape = Shape::Rectangle { corner_radius: Length::ZERO };

    /// The shape's word in the record.
    pub const fn word(self) -> &'static str {
        match self {
            Shape::Rectangle { .. } => "rectangle",
            Shape::Circle => "circle",
            Shape::Oval => "oval",
            Shape::Banner { .. } => "banner",
            Shape::Mark { .. } => "mark",
        }
    }
}

/// The two ends of a banner. For an upright banner (taller than wide) `left`
/// is its top end and `right` its bottom end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Ends {
    /// Left end, or the top end of an upright banner.
    pub left: End,
    /// Right end, or the bottom end of an upright banner.
    pub right: End,
}

/// How one end of a banner is cut.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum End {
    /// Square to the sides.
    #[default]
    Straight,
    /// A V notched into the strip.
    Fishtail,
    /// A V standing out of the strip.
    Point,
    /// One slanting cut.
    Angled,
}

/// What a mark looks like.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum MarkKind {
    /// A button, gem or dot.
    #[default]
    Dot,
    /// A heart.
    Heart,
    /// A star.
    Star,
    /// A flower.
    Flower,
    /// Anything else small.
    Other,
}

/// What an element does on the card.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    /// The first panel on the base, leaving a border of it.
    Background,
    /// A larger layer right behind another element.
    Mat,
    /// A flat piece.
    #[default]
    Panel,
    /// A long narrow piece.
    Strip,
    /// What the eye meets first.
    Focal,
    /// The worded piece.
    Sentiment,
    /// A small add-on.
    Embellishment,
}

/// The letter, A to Z, that stands for "some paper" in a layout.
///
/// ```
/// # use layout::Slot;
/// assert_eq!(Slot::new('b').map(Slot::letter), Some('B'));
/// assert_eq!(Slot::new('4'), None);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Slot(char);

impl Slot {
    /// The slot of a letter; small letters count as capitals.
    pub fn new(letter: char) -> Option<Slot> {
        let capital = letter.to_ascii_uppercase();
        capital.is_ascii_uppercase().then_some(Slot(capital))
    }

    /// Its capital letter.
    pub const fn letter(self) -> char {
        self.0
    }
}

/// A side of an element that could as well have another size.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alternative {
    /// Which side.
    pub side: Side,
    /// The other size.
    pub size: Length,
    /// Its probability, 0 to 1.
    pub probability: f64,
}

/// A side of a frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Side {
    /// The extent to the right.
    Width,
    /// The extent downwards.
    Height,
}

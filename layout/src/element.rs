//! One shape on a card: where it is, what it is, and how sure we are.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::length::{Length, Unit};

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

    /// What it has in common with another frame, if that is more than a line.
    pub fn shared(&self, other: Frame) -> Option<Frame> {
        let (x, y) = (self.x.max(other.x), self.y.max(other.y));
        let width = self.right().min(other.right()) - x;
        let height = self.bottom().min(other.bottom()) - y;
        (width.is_positive() && height.is_positive()).then_some(Frame { x, y, width, height })
    }

    /// Left, top, right and bottom in inches of what a shape in this frame
    /// covers when it is turned about the frame's centre.
    pub fn reach_in(&self, rotation_deg: f64, shape: Shape) -> [f64; 4] {
        let [x, y, width, height] =
            [self.x, self.y, self.width, self.height].map(|length| length.value(Unit::Inch));
        if rotation_deg == 0.0 || shape == Shape::Circle {
            return [x, y, x + width, y + height];
        }
        let (sin, cos) = rotation_deg.to_radians().sin_cos();
        let (across, down) = (width / 2.0, height / 2.0);
        let [across, down] = if shape == Shape::Oval {
            [(across * cos).hypot(down * sin), (across * sin).hypot(down * cos)]
        } else {
            let (sin, cos) = (sin.abs(), cos.abs());
            [across * cos + down * sin, across * sin + down * cos]
        };
        let [cx, cy] = [x + width / 2.0, y + height / 2.0];
        [cx - across, cy - down, cx + across, cy + down]
    }

    /// Whether a reach, as [`Frame::reach_in`] gives it, lies within the frame.
    pub fn covers(&self, reach: [f64; 4]) -> bool {
        let own = self.reach_in(0.0, Shape::SHARP);
        (0..2).all(|axis| {
            reach[axis] >= own[axis] - NOTHING_IN && reach[axis + 2] <= own[axis + 2] + NOTHING_IN
        })
    }

    /// Whether a reach has more than a line in common with the frame.
    pub fn meets(&self, reach: [f64; 4]) -> bool {
        let own = self.reach_in(0.0, Shape::SHARP);
        (0..2)
            .all(|axis| reach[axis] < own[axis + 2] - NOTHING_IN && reach[axis + 2] > own[axis] + NOTHING_IN)
    }
}

/// What arithmetic may add to a turned side, in inches: far below any step.
const NOTHING_IN: f64 = 1e-9;

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

    /// Whether straight cuts along the card's edges do for it: it has sides of
    /// its own there, and they are upright.
    pub fn is_straight(&self) -> bool {
        matches!(self.shape, Shape::Rectangle { .. } | Shape::Banner { .. }) && self.rotation_deg == 0.0
    }

    /// What a maker calls it.
    pub const fn name(&self) -> &'static str {
        match (self.shape, self.role) {
            (Shape::Circle, _) => "circle",
            (Shape::Oval, _) => "oval",
            (Shape::Banner { .. }, _) => "banner",
            (Shape::Mark { .. }, _) => "mark",
            (_, Role::Background) => "background",
            (_, Role::Mat) => "mat",
            (_, Role::Strip) => "strip",
            (_, Role::Sentiment) => "sentiment",
            (_, Role::Embellishment) => "small piece",
            (_, Role::Panel | Role::Focal) => "panel",
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

    /// The shape of a mat that is so much larger: round corners keep the width
    /// of their border.
    #[must_use]
    pub fn grown(self, total: Length) -> Shape {
        match self {
            Shape::Rectangle { corner_radius } if corner_radius.is_positive() => {
                Shape::Rectangle { corner_radius: corner_radius + total.half() }
            }
            shape => shape,
        }
    }

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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Ends {
    /// Left end, or the top end of an upright banner.
    pub left: End,
    /// Right end, or the bottom end of an upright banner.
    pub right: End,
    /// How deep ends that are not straight are cut, along the banner; none for
    /// half its width, at most a third of its length. Never over half of it,
    /// whatever is said here.
    pub depth: Option<Length>,
}

impl Ends {
    /// Ends that are cut as deep as usual.
    pub const fn new(left: End, right: End) -> Ends {
        Ends { left, right, depth: None }
    }

    /// Whether both ends are square to the sides.
    pub fn are_straight(self) -> bool {
        self.left == End::Straight && self.right == End::Straight
    }
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

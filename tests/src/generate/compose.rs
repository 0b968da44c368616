//! Invents card layouts: what a maker would draw, with exact sizes. Sizes
//! are multiples of 1/8 inch and positions of 1/16, as makers cut. Candidates
//! are drawn by chance and kept only if a person could read them: every shape
//! shows enough of itself, every overlap shows who is on top, and no two lines
//! run so close that they could be one.

use super::canvas::Colour;
use super::dice::Dice;
use super::plane::{
    Point, bounds, closed, deep_inside, dense, distance, edges, inside, same, to_segment, turned,
};

/// A card as a maker names it; sizes in inches, as drawn.
#[derive(Clone, Debug)]
pub(super) struct Card {
    pub(super) name: &'static str,
    pub(super) width: f64,
    pub(super) height: f64,
}

/// The cards the pictures show, upright, inches. A2, 5x7 and A6: envelope
/// makers' card sizes; square and slimline: common practice, no source.
const CARDS: [(&str, f64, f64); 5] =
    [("A2", 4.25, 5.5), ("5x7", 5.0, 7.0), ("square", 4.25, 4.25), ("A6", 4.5, 6.25), ("slimline", 3.5, 8.5)];

impl Card {
    /// The card of a name, upright or lying.
    pub(super) fn named(name: &str, lying: bool) -> Option<Card> {
        let &(name, short, long) = CARDS.iter().find(|card| card.0.eq_ignore_ascii_case(name))?;
        let (width, height) = if lying { (long, short) } else { (short, long) };
        Some(Card { name, width, height })
    }

    /// Any card: mostly A2, mostly upright.
    pub(super) fn any(dice: &mut Dice) -> Card {
        // Shares of makers' cards: A2 is the usual one by far.
        let name =
            *dice.pick(&["A2", "A2", "A2", "A2", "A2", "A2", "5x7", "square", "square", "A6", "slimline"]);
        let lying = dice.chance(0.3);
        Card::named(name, lying).expect("every name picked is in the table")
    }

    pub(super) fn orient(&self) -> &'static str {
        if same(self.width, self.height) {
            "square"
        } else if self.width > self.height {
            "landscape"
        } else {
            "portrait"
        }
    }

    pub(super) fn outline(&self) -> Vec<Point> {
        vec![[0.0, 0.0], [self.width, 0.0], [self.width, self.height], [0.0, self.height]]
    }
}

/// An upright box, inches from the card's top-left corner, y down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Frame {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) width: f64,
    pub(super) height: f64,
}

impl Frame {
    pub(super) fn new(x: f64, y: f64, width: f64, height: f64) -> Frame {
        Frame { x, y, width, height }
    }

    pub(super) fn centre(&self) -> Point {
        [self.x + self.width / 2.0, self.y + self.height / 2.0]
    }

    pub(super) fn right(&self) -> f64 {
        self.x + self.width
    }

    pub(super) fn bottom(&self) -> f64 {
        self.y + self.height
    }

    /// Larger by `total` both ways, about its middle.
    pub(super) fn grown(&self, total: f64) -> Frame {
        Frame::new(self.x - total / 2.0, self.y - total / 2.0, self.width + total, self.height + total)
    }

    /// Of this size, its middle at a point as near as sixteenths allow.
    fn about(centre: Point, width: f64, height: f64) -> Frame {
        Frame::new(sixteenth(centre[0] - width / 2.0), sixteenth(centre[1] - height / 2.0), width, height)
    }
}

/// The nearest eighth of an inch.
pub(super) fn eighth(v: f64) -> f64 {
    (v * 8.0).round() / 8.0
}

/// The nearest sixteenth of an inch.
pub(super) fn sixteenth(v: f64) -> f64 {
    (v * 16.0).round() / 16.0
}

/// Which end of a banner is notched; the other is straight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Tail {
    Left,
    Right,
    Up,
    Down,
}

impl Tail {
    pub(super) const fn word(self) -> &'static str {
        match self {
            Tail::Left => "left",
            Tail::Right => "right",
            Tail::Up => "up",
            Tail::Down => "down",
        }
    }
}

/// What a mark looks like.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Mark {
    Heart,
    Star,
    Dot,
    Flower,
}

impl Mark {
    pub(super) const fn word(self) -> &'static str {
        match self {
            Mark::Heart => "heart",
            Mark::Star => "star",
            Mark::Dot => "dot",
            Mark::Flower => "flower",
        }
    }
}

/// What a part is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Shape {
    Rectangle { corner_radius: f64 },
    Circle,
    Oval,
    Banner { tail: Tail },
    Mark { kind: Mark },
}

impl Shape {
    pub(super) const fn word(self) -> &'static str {
        match self {
            Shape::Rectangle { .. } => "rectangle",
            Shape::Circle => "circle",
            Shape::Oval => "oval",
            Shape::Banner { .. } => "banner",
            Shape::Mark { .. } => "mark",
        }
    }

    pub(super) const fn is_mark(self) -> bool {
        matches!(self, Shape::Mark { .. })
    }

    pub(super) const fn is_round(self) -> bool {
        matches!(self, Shape::Circle | Shape::Oval | Shape::Mark { kind: Mark::Dot })
    }
}

/// What fills a shape, if anything does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Pattern {
    Stripes,
    Dots,
    Gingham,
    Hatching,
}

impl Pattern {
    pub(super) const fn word(self) -> &'static str {
        match self {
            Pattern::Stripes => "stripes",
            Pattern::Dots => "dots",
            Pattern::Gingham => "gingham",
            Pattern::Hatching => "hatching",
        }
    }
}

/// One shape of a layout.
#[derive(Clone, Debug)]
pub(super) struct Part {
    pub(super) shape: Shape,
    pub(super) frame: Frame,
    /// Degrees clockwise about the frame's middle.
    pub(super) rotation: f64,
    pub(super) role: &'static str,
    /// Index of the mat that it lies on.
    pub(super) mat: Option<usize>,
    /// Name of the group of equals that it belongs to.
    pub(super) group: Option<&'static str>,
    pub(super) fill: Option<Colour>,
    pub(super) pattern: Option<Pattern>,
    pub(super) outlined: bool,
}

impl Part {
    pub(super) fn new(shape: Shape, frame: Frame, role: &'static str) -> Part {
        Part {
            shape,
            frame,
            rotation: 0.0,
            role,
            mat: None,
            group: None,
            fill: None,
            pattern: None,
            outlined: true,
        }
    }

    /// The outline of what is meant, in card inches.
    pub(super) fn outline(&self) -> Vec<Point> {
        outline(self.shape, self.frame, self.rotation)
    }
}

/// Points on a whole ellipse or mark.
const ROUND_POINTS: usize = 64;
/// Points on a rounded corner.
const CORNER_POINTS: usize = 9;

/// The outline of a shape in a frame, in the frame's unit.
pub(super) fn outline(shape: Shape, frame: Frame, rotation: f64) -> Vec<Point> {
    let Frame { x, y, width, height } = frame;
    let (right, bottom) = (frame.right(), frame.bottom());
    let middle = frame.centre();
    let around = |count: usize, from_deg: f64, radius: &dyn Fn(usize) -> f64| -> Vec<Point> {
        (0..count)
            .map(|k| {
                let angle = (from_deg + 360.0 * k as f64 / count as f64).to_radians();
                [
                    middle[0] + width / 2.0 * radius(k) * angle.cos(),
                    middle[1] + height / 2.0 * radius(k) * angle.sin(),
                ]
            })
            .collect()
    };
    let points = match shape {
        Shape::Rectangle { corner_radius } if corner_radius > 0.0 => {
            let r = corner_radius;
            let corners = [
                (x + r, y + r, 180.0),
                (right - r, y + r, 270.0),
                (right - r, bottom - r, 0.0),
                (x + r, bottom - r, 90.0),
            ];
            corners
                .iter()
                .flat_map(|&(cx, cy, from)| {
                    (0..CORNER_POINTS).map(move |k| {
                        let angle = (from + 90.0 * k as f64 / (CORNER_POINTS - 1) as f64).to_radians();
                        [cx + r * angle.cos(), cy + r * angle.sin()]
                    })
                })
                .collect()
        }
        Shape::Rectangle { .. } => vec![[x, y], [right, y], [right, bottom], [x, bottom]],
        Shape::Circle | Shape::Oval | Shape::Mark { kind: Mark::Dot } => around(ROUND_POINTS, 0.0, &|_| 1.0),
        Shape::Banner { tail } => {
            // The notch goes in by half the strip's breadth, a right angle.
            let notch = 0.5 * width.min(height);
            match tail {
                Tail::Right => {
                    vec![[x, y], [right, y], [right - notch, middle[1]], [right, bottom], [x, bottom]]
                }
                Tail::Left => vec![[x, y], [right, y], [right, bottom], [x, bottom], [x + notch, middle[1]]],
                Tail::Down => {
                    vec![[x, y], [right, y], [right, bottom], [middle[0], bottom - notch], [x, bottom]]
                }
                Tail::Up => vec![[x, y], [middle[0], y + notch], [right, y], [right, bottom], [x, bottom]],
            }
        }
        Shape::Mark { kind: Mark::Star } => around(10, -90.0, &|k| if k % 2 == 0 { 1.0 } else { 0.42 }),
        Shape::Mark { kind: Mark::Flower } => around(ROUND_POINTS, -90.0, &|k| {
            0.82 + 0.18 * (5.0 * std::f64::consts::TAU * k as f64 / ROUND_POINTS as f64).cos()
        }),
        Shape::Mark { kind: Mark::Heart } => {
            // The heart curve x = 16 sin^3 t, y = 13 cos t - 5 cos 2t - 2 cos 3t - cos 4t, fitted to the box.
            let curve: Vec<Point> = (0..ROUND_POINTS)
                .map(|k| {
                    let t = std::f64::consts::TAU * k as f64 / ROUND_POINTS as f64;
                    [
                        16.0 * t.sin().powi(3),
                        -(13.0 * t.cos() - 5.0 * (2.0 * t).cos() - 2.0 * (3.0 * t).cos() - (4.0 * t).cos()),
                    ]
                })
                .collect();
            let (low, high) = bounds(&curve);
            curve
                .iter()
                .map(|p| {
                    [
                        x + width * (p[0] - low[0]) / (high[0] - low[0]),
                        y + height * (p[1] - low[1]) / (high[1] - low[1]),
                    ]
                })
                .collect()
        }
    };
    points.into_iter().map(|p| turned(p, middle, rotation)).collect()
}

/// What a layout may be like.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wishes {
    /// Shapes may run off the card.
    pub(super) bleed: bool,
    /// Few shapes, lying clear of each other.
    pub(super) easy: bool,
    /// No layout with an even border round the card (where the paper's own
    /// edge is the card, such a border would be taken for the card).
    pub(super) no_background: bool,
}

/// The most candidates looked at before an easy one is taken.
const MOST_TRIES: usize = 400;

/// Invents a layout for a card.
pub(super) fn compose(dice: &mut Dice, card: &Card, wishes: Wishes) -> Vec<Part> {
    for attempt in 0..MOST_TRIES {
        let parts = candidate(dice, card, wishes);
        // Bare layouts are the easiest to come by, but makers draw richer ones.
        let bare = parts.iter().filter(|part| !part.shape.is_mark()).count() < 3;
        if !wishes.easy && bare && attempt % 4 != 0 {
            continue;
        }
        if readable(&parts, card) && (!wishes.bleed || parts.iter().any(|part| off_card(part, card) > 0.0)) {
            return parts;
        }
    }
    // A border and one panel in its middle is always readable.
    let area = Frame::new(0.0, 0.0, card.width, card.height);
    vec![Part::new(SHARP, area.grown(-0.25), "background"), Part::new(SHARP, area.grown(-1.5), "panel")]
}

const SHARP: Shape = Shape::Rectangle { corner_radius: 0.0 };

fn candidate(dice: &mut Dice, card: &Card, wishes: Wishes) -> Vec<Part> {
    let whole = Frame::new(0.0, 0.0, card.width, card.height);
    let mut parts: Vec<Part> = Vec::new();
    let mut area = whole.grown(-2.0 * *dice.pick(&[0.25, 0.375, 0.5, 0.5]));
    if !wishes.no_background && dice.chance(0.6) {
        // Twice the border comes off each side: an eighth all round is the usual one.
        let border = *dice.pick(&[0.125, 0.125, 0.125, 0.25, 0.25, 0.1875, 0.0625]);
        let mut frame = whole.grown(-2.0 * border);
        if dice.chance(0.15) {
            parts.push(Part::new(SHARP, frame, "background-mat"));
            frame = frame.grown(-*dice.pick(&[0.125, 0.25]));
        }
        let mut background = Part::new(SHARP, frame, "background");
        background.mat = parts.len().checked_sub(1);
        parts.push(background);
        area = frame.grown(-2.0 * *dice.pick(&[0.25, 0.25, 0.375, 0.5]));
    }
    let edge = parts.last().map_or(whole, |part| part.frame);
    let strip_first = dice.chance(0.6);
    let with_strip = dice.chance(if wishes.easy { 0.3 } else { 0.52 });
    if with_strip && strip_first {
        strip(dice, &mut parts, whole, edge);
    }
    main_panels(dice, &mut parts, whole, area);
    if with_strip && !strip_first {
        strip(dice, &mut parts, whole, edge);
    }
    if wishes.bleed {
        runs_off(dice, &mut parts, card);
    }
    if dice.chance(if wishes.easy { 0.6 } else { 0.66 }) {
        focal(dice, &mut parts, area);
    }
    if dice.chance(if wishes.easy { 0.35 } else { 0.65 }) {
        worded(dice, &mut parts, whole, area);
    }
    if dice.chance(0.5) {
        marks(dice, &mut parts, edge);
    }
    parts
}

/// Adds a part, sometimes on mats, and says where it is.
fn add_matted(dice: &mut Dice, parts: &mut Vec<Part>, part: &Part, mat_chance: f64) {
    let mut nest = 0;
    while nest < 2 && dice.chance(if nest == 0 { mat_chance } else { 0.15 }) {
        nest += 1;
    }
    let mut steps = Vec::new();
    for _ in 0..nest {
        // An eighth or a quarter overall: a sixteenth or an eighth each side.
        steps.push(*dice.pick(&[0.125, 0.25, 0.25]));
    }
    let mut total: f64 = steps.iter().sum();
    let mut under = None;
    for step in &steps {
        let mut mat = part.clone();
        mat.frame = part.frame.grown(total);
        mat.role = "mat";
        mat.mat = under;
        if let Shape::Rectangle { corner_radius } = &mut mat.shape
            && *corner_radius > 0.0
        {
            *corner_radius += total / 2.0;
        }
        under = Some(parts.len());
        parts.push(mat);
        total -= step;
    }
    parts.push(Part { mat: under, ..part.clone() });
}

fn main_panels(dice: &mut Dice, parts: &mut Vec<Part>, whole: Frame, area: Frame) {
    let centred = dice.chance(0.4);
    match dice.int(0, 8) {
        0..=2 => {
            let (width, height) =
                (eighth(area.width * dice.range(0.5, 0.95)), eighth(area.height * dice.range(0.45, 0.9)));
            let spare = [area.width - width, area.height - height];
            let at = if centred {
                [0.5, 0.5]
            } else {
                [*dice.pick(&[0.0, 0.5, 1.0]), *dice.pick(&[0.0, 0.3, 0.5, 1.0])]
            };
            let frame = Frame::new(
                sixteenth(area.x + spare[0] * at[0]),
                sixteenth(area.y + spare[1] * at[1]),
                width,
                height,
            );
            let mut part = Part::new(SHARP, frame, "panel");
            if dice.chance(0.08) {
                part.shape = Shape::Rectangle { corner_radius: *dice.pick(&[0.125, 0.25, 0.25, 0.375]) };
            }
            if dice.chance(0.15) {
                part.rotation = dice.range(2.5, 10.0).round() * if dice.chance(0.5) { 1.0 } else { -1.0 };
            }
            add_matted(dice, parts, &part, 0.35);
        }
        3 => {
            // Two panels that share the area, one above or beside the other.
            let gap = *dice.pick(&[0.125, 0.125, 0.25, 0.25]);
            let upright = dice.chance(0.5);
            let long = if upright { area.width } else { area.height };
            let first = eighth((long - gap) * dice.range(0.3, 0.7));
            let second = long - gap - first;
            if second < 0.5 || !same(eighth(second), second) {
                return;
            }
            let frames = if upright {
                [
                    Frame::new(area.x, area.y, first, area.height),
                    Frame::new(area.x + first + gap, area.y, second, area.height),
                ]
            } else {
                [
                    Frame::new(area.x, area.y, area.width, first),
                    Frame::new(area.x, area.y + first + gap, area.width, second),
                ]
            };
            parts.extend(frames.map(|frame| Part::new(SHARP, frame, "panel")));
        }
        4 => {
            // Three equal columns.
            let gap = *dice.pick(&[0.125, 0.25]);
            let width = ((area.width - 2.0 * gap) / 3.0 * 8.0).floor() / 8.0;
            let left = sixteenth(area.x + (area.width - 3.0 * width - 2.0 * gap) / 2.0);
            let height = eighth(area.height * dice.range(0.7, 1.0));
            let top = sixteenth(area.y + (area.height - height) / 2.0);
            for k in 0..3 {
                let mut part = Part::new(
                    SHARP,
                    Frame::new(left + f64::from(k) * (width + gap), top, width, height),
                    "panel",
                );
                part.group = Some("cols");
                parts.push(part);
            }
        }
        5 | 6 => {
            // A row of equal squares, lying or standing.
            let count = dice.int(2, 4) as f64;
            let gap = *dice.pick(&[0.125, 0.25, 0.25, 0.375]);
            let lying = dice.chance(0.6);
            let long = if lying { area.width } else { area.height };
            let across = if lying { area.height } else { area.width };
            let side = (((long - gap * (count - 1.0)) / count * dice.range(0.75, 1.0)).min(across) * 8.0)
                .floor()
                / 8.0;
            if side < 0.5 {
                return;
            }
            let start = sixteenth((long - side * count - gap * (count - 1.0)) / 2.0);
            let aside = sixteenth((across - side) * *dice.pick(&[0.1, 0.3, 0.5, 0.7]));
            let mut k = 0.0;
            while k < count {
                let along = start + k * (side + gap);
                let frame = if lying {
                    Frame::new(area.x + along, area.y + aside, side, side)
                } else {
                    Frame::new(area.x + aside, area.y + along, side, side)
                };
                let mut part = Part::new(SHARP, frame, "square");
                part.group = Some("row");
                parts.push(part);
                k += 1.0;
            }
        }
        7 => {
            // Four equal panels, two by two.
            let gap = *dice.pick(&[0.125, 0.25, 0.25]);
            let width = ((area.width - gap) / 2.0 * dice.range(0.75, 1.0) * 8.0).floor() / 8.0;
            let height = ((area.height - gap) / 2.0 * dice.range(0.6, 1.0) * 8.0).floor() / 8.0;
            let left = sixteenth(area.x + (area.width - 2.0 * width - gap) / 2.0);
            let top = sixteenth(area.y + (area.height - 2.0 * height - gap) / 2.0);
            for (column, row) in [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)] {
                let frame =
                    Frame::new(left + column * (width + gap), top + row * (height + gap), width, height);
                let mut part = Part::new(SHARP, frame, "square");
                part.group = Some("grid");
                parts.push(part);
            }
        }
        _ => {
            // A column over the card's whole height with a panel across it.
            let width = eighth(whole.width * dice.range(0.25, 0.5));
            let x = sixteenth(*dice.pick(&[0.0, 0.375, 0.5, 0.75]));
            parts.push(Part::new(SHARP, Frame::new(x, 0.0, width, whole.height), "panel"));
            let (wide, high) =
                (eighth(area.width * dice.range(0.5, 0.8)), eighth(area.height * dice.range(0.3, 0.6)));
            let frame = Frame::new(
                sixteenth(area.right() - wide),
                sixteenth(area.y + (area.height - high) * dice.range(0.2, 0.8)),
                wide,
                high,
            );
            add_matted(dice, parts, &Part::new(SHARP, frame, "panel"), 0.3);
        }
    }
}

fn strip(dice: &mut Dice, parts: &mut Vec<Part>, whole: Frame, edge: Frame) {
    let breadth = eighth(dice.range(0.375, 1.1));
    // Across the card, across the background, or part of the way.
    let reach = if dice.chance(0.55) { edge } else { whole };
    let short = dice.chance(0.2);
    let lying = dice.chance(0.65);
    let frame = if lying {
        let y = sixteenth(whole.height * dice.range(0.15, 0.8));
        let width = if short { eighth(reach.width * dice.range(0.5, 0.8)) } else { reach.width };
        let x = if dice.chance(0.5) { reach.x } else { reach.right() - width };
        Frame::new(x, y, width, breadth)
    } else {
        let x = sixteenth(whole.width * dice.range(0.15, 0.75));
        let height = if short { eighth(reach.height * dice.range(0.5, 0.8)) } else { reach.height };
        Frame::new(x, reach.y, breadth, height)
    };
    parts.push(Part::new(SHARP, frame, "strip"));
}

fn focal(dice: &mut Dice, parts: &mut Vec<Part>, area: Frame) {
    let short = area.width.min(area.height);
    let size = eighth(short * dice.range(0.35, 0.7)).max(0.75);
    let middle = [
        area.x + area.width * *dice.pick(&[0.3, 0.5, 0.5, 0.7]),
        area.y + area.height * *dice.pick(&[0.3, 0.4, 0.5, 0.6]),
    ];
    let part = match dice.int(0, 9) {
        0..=5 => Part::new(Shape::Circle, Frame::about(middle, size, size), "focal"),
        6..=8 => {
            let long = eighth(size * dice.range(1.25, 1.6));
            let (width, height) = if dice.chance(0.5) { (size, long) } else { (long, size) };
            Part::new(Shape::Oval, Frame::about(middle, width, height), "focal")
        }
        _ => Part::new(SHARP, Frame::about(middle, size, eighth(size * dice.range(0.8, 1.3))), "focal"),
    };
    add_matted(dice, parts, &part, 0.45);
}

fn worded(dice: &mut Dice, parts: &mut Vec<Part>, whole: Frame, area: Frame) {
    let breadth = *dice.pick(&[0.375, 0.5, 0.5, 0.625, 0.75]);
    if dice.chance(0.55) {
        let standing = dice.chance(0.15);
        let long = if standing { whole.height } else { whole.width };
        let length = eighth(long * dice.range(0.5, 0.78));
        if standing {
            let x = sixteenth(whole.width * dice.range(0.1, 0.75));
            let down = dice.chance(0.8);
            let y = if down { 0.0 } else { whole.height - length };
            let tail = if down { Tail::Down } else { Tail::Up };
            parts.push(Part::new(Shape::Banner { tail }, Frame::new(x, y, breadth, length), "banner"));
        } else {
            let right = dice.chance(0.6);
            let y = sixteenth(whole.height * dice.range(0.5, 0.82));
            let start = if dice.chance(0.6) { 0.0 } else { sixteenth(dice.range(0.1, 0.9)) };
            let x = if right { start } else { whole.width - length - start };
            let tail = if right { Tail::Right } else { Tail::Left };
            parts.push(Part::new(Shape::Banner { tail }, Frame::new(x, y, length, breadth), "banner"));
        }
    } else {
        let width = eighth(area.width * dice.range(0.4, 0.75));
        let middle =
            [area.x + area.width * *dice.pick(&[0.4, 0.5, 0.6]), area.y + area.height * dice.range(0.6, 0.9)];
        let part = Part::new(SHARP, Frame::about(middle, width, breadth), "sentiment");
        add_matted(dice, parts, &part, 0.15);
    }
}

/// A circle, oval or turned panel that crosses the card's edge. So much of it
/// stays on the card that its whole can be told (see the corpora's rule: 55 %
/// of a circle's outline, 65 % of an oval's, three corners of a turned panel).
fn runs_off(dice: &mut Dice, parts: &mut Vec<Part>, card: &Card) {
    let size = eighth(card.width.min(card.height) * dice.range(0.35, 0.6));
    let side = dice.int(0, 3);
    let (outward, along) = (dice.range(-0.12, 0.25) * size, dice.range(0.2, 0.8));
    let middle = match side {
        0 => [size / 2.0 - outward - size * 0.25, card.height * along],
        1 => [card.width - size / 2.0 + outward + size * 0.25, card.height * along],
        2 => [card.width * along, size / 2.0 - outward - size * 0.25],
        _ => [card.width * along, card.height - size / 2.0 + outward + size * 0.25],
    };
    let part = match dice.int(0, 3) {
        0 | 1 => Part::new(Shape::Circle, Frame::about(middle, size, size), "focal"),
        2 => Part::new(Shape::Oval, Frame::about(middle, size, eighth(size * 1.375)), "focal"),
        _ => {
            let mut part = Part::new(SHARP, Frame::about(middle, eighth(size * 1.25), size), "panel");
            part.rotation = dice.range(5.0, 14.0).round() * if dice.chance(0.5) { 1.0 } else { -1.0 };
            part
        }
    };
    add_matted(dice, parts, &part, 0.25);
}

fn marks(dice: &mut Dice, parts: &mut Vec<Part>, edge: Frame) {
    let kind = *dice.pick(&[Mark::Heart, Mark::Heart, Mark::Star, Mark::Dot, Mark::Dot, Mark::Flower]);
    let size = *dice.pick(&[0.1875, 0.25, 0.25, 0.3125]);
    // Odd numbers of embellishments: the trade's rule.
    let count = *dice.pick(&[1.0, 3.0, 3.0, 3.0, 5.0]);
    let step = sixteenth(size * dice.range(1.6, 2.4));
    for _ in 0..30 {
        let middle =
            [edge.x + edge.width * dice.range(0.1, 0.9), edge.y + edge.height * dice.range(0.1, 0.9)];
        let spread = dice.int(0, 2);
        let mut group: Vec<Part> = Vec::new();
        let mut k = 0.0;
        while k < count {
            let t = k - (count - 1.0) / 2.0;
            let at = match spread {
                0 => [middle[0] + t * step, middle[1]],
                1 => [middle[0], middle[1] + t * step],
                _ => [middle[0] + t * step * 0.8, middle[1] + if k % 2.0 == 0.0 { 0.0 } else { step * 0.7 }],
            };
            group.push(Part::new(Shape::Mark { kind }, Frame::about(at, size, size), "mark"));
            k += 1.0;
        }
        let lines: Vec<Vec<Point>> = parts.iter().map(Part::outline).collect();
        let clear = group.iter().all(|mark| {
            let at = mark.frame.centre();
            let reach = size * 0.5 + 0.09;
            at[0] - reach > edge.x
                && at[1] - reach > edge.y
                && at[0] + reach < edge.right()
                && at[1] + reach < edge.bottom()
                && lines.iter().all(|line| edges(line).all(|(a, b)| to_segment(at, a, b) > reach))
        });
        if clear {
            parts.extend(group);
            return;
        }
    }
}

/// Share of a part's area that lies beyond the card.
pub(super) fn off_card(part: &Part, card: &Card) -> f64 {
    let whole = card.outline();
    share(part, |p| !inside(&whole, p))
}

/// Share of a part's area that lies under later parts.
pub(super) fn hidden_share(parts: &[Part], index: usize, card: &Card) -> f64 {
    let whole = card.outline();
    let above: Vec<Vec<Point>> =
        parts[index + 1..].iter().filter(|part| !part.shape.is_mark()).map(Part::outline).collect();
    share(&parts[index], |p| inside(&whole, p) && above.iter().any(|line| inside(line, p)))
}

/// Share of a part's area where something holds, on a fine raster of points.
fn share(part: &Part, mut holds: impl FnMut(Point) -> bool) -> f64 {
    const ACROSS: u32 = 48; // two in a hundred: finer than any use of the figure
    let line = part.outline();
    let (low, high) = bounds(&line);
    let (mut all, mut held) = (0.0_f64, 0.0);
    for row in 0..ACROSS {
        for column in 0..ACROSS {
            let t = |k: u32, axis: usize| {
                low[axis] + (high[axis] - low[axis]) * (f64::from(k) + 0.5) / f64::from(ACROSS)
            };
            let p = [t(column, 0), t(row, 1)];
            if inside(&line, p) {
                all += 1.0;
                held += if holds(p) { 1.0 } else { 0.0 };
            }
        }
    }
    held / all.max(1.0)
}

/// The least of a side that must be seen, inches.
const LEAST_SEEN: f64 = 0.2;
/// Lines nearer than this are one line to the eye, unless they are a mat's.
const LEAST_APART: f64 = 0.16;

/// Whether a person could read the layout from its drawing.
fn readable(parts: &[Part], card: &Card) -> bool {
    let shapes: Vec<&Part> = parts.iter().filter(|part| !part.shape.is_mark()).collect();
    if shapes.len() < 2 || shapes.len() > 8 {
        return false;
    }
    let whole = card.outline();
    let lines: Vec<Vec<Point>> = shapes.iter().map(|part| part.outline()).collect();
    let fits = |part: &Part, line: &[Point]| {
        let on_card =
            line.iter().filter(|p| deep_inside(&whole, **p, -1e-9) || on_edge(card, **p)).count() as f64;
        let seen = on_card / line.len() as f64;
        match part.shape {
            Shape::Circle => seen >= 0.58,
            Shape::Oval => seen >= 0.68,
            Shape::Rectangle { .. } if part.rotation != 0.0 => seen >= 0.74,
            _ => same(seen, 1.0),
        }
    };
    for (i, part) in shapes.iter().enumerate() {
        if part.frame.width < 0.3 || part.frame.height < 0.3 || !fits(part, &lines[i]) {
            return false;
        }
        let above = &lines[i + 1..];
        let seen = |p: Point| inside_or_on(card, p) && !above.iter().any(|line| inside(line, p));
        // Each side of a straight-sided shape, or the whole of a round one.
        let mut shown = 0.0;
        let mut all = 0.0;
        let curved = lines[i].len() > 6;
        for (a, b) in edges(&lines[i]) {
            let points = dense(&[a, b], 0.02);
            let length = distance(a, b);
            let part_seen = points.iter().filter(|p| seen(**p)).count() as f64 / points.len() as f64 * length;
            shown += part_seen;
            all += length;
            if !curved && part_seen < LEAST_SEEN.min(length * 0.6) {
                return false;
            }
        }
        if shown < all * if curved { 0.5 } else { 0.4 } {
            return false;
        }
        for (j, other) in shapes.iter().enumerate().skip(i + 1) {
            if !tells_order(&lines, i, j) || too_near(part, other) {
                return false;
            }
        }
    }
    true
}

fn on_edge(card: &Card, p: Point) -> bool {
    const NEAR: f64 = 1e-6; // rounding of a turned point
    p[0] > -NEAR && p[1] > -NEAR && p[0] < card.width + NEAR && p[1] < card.height + NEAR
}

fn inside_or_on(card: &Card, p: Point) -> bool {
    on_edge(card, p)
}

/// Whether a drawing shows that `j` lies over `i` where they overlap.
fn tells_order(lines: &[Vec<Point>], i: usize, j: usize) -> bool {
    let points = dense(&closed(&lines[j]), 0.03);
    let over: Vec<&Point> = points.iter().filter(|p| deep_inside(&lines[i], **p, 0.02)).collect();
    let under = dense(&closed(&lines[i]), 0.03).iter().filter(|p| deep_inside(&lines[j], **p, 0.02)).count();
    if over.is_empty() && under == 0 {
        return true;
    }
    let seen = over.iter().filter(|p| !lines[j + 1..].iter().any(|line| inside(line, ***p))).count();
    // A third of an inch of the upper outline, seen inside the lower shape.
    seen >= 11
}

/// Whether two shapes have sides that nearly fall together.
fn too_near(a: &Part, b: &Part) -> bool {
    let nested = b.role != "strip" && (a.role == "mat" || a.role == "background-mat");
    if nested || a.rotation != 0.0 || b.rotation != 0.0 {
        return false;
    }
    if a.shape.is_round() && b.shape.is_round() {
        let away = distance(a.frame.centre(), b.frame.centre());
        return away < 0.3 && (a.frame.width - b.frame.width).abs() < 0.4;
    }
    let meet = |a0: f64, a1: f64, b0: f64, b1: f64| a0.max(b0) < a1.min(b1) + 0.1;
    let near = |p: f64, q: f64| !same(p, q) && (p - q).abs() < LEAST_APART;
    let mut close = false;
    if meet(a.frame.y, a.frame.bottom(), b.frame.y, b.frame.bottom()) {
        for p in [a.frame.x, a.frame.right()] {
            close |= near(p, b.frame.x) || near(p, b.frame.right());
        }
    }
    if meet(a.frame.x, a.frame.right(), b.frame.x, b.frame.right()) {
        for p in [a.frame.y, a.frame.bottom()] {
            close |= near(p, b.frame.y) || near(p, b.frame.bottom());
        }
    }
    // The even gaps of a row are meant, not chance.
    close
        && !(a.group.is_some() && a.group == b.group)
        && !(a.role == "panel" && b.role == "panel" && same(a.frame.width, b.frame.width))
        && !(a.role == "panel" && b.role == "panel" && same(a.frame.height, b.frame.height))
}

//! Where the dimension lines of a measured drawing go, so that none crosses
//! or covers another. Method: our own. Lines stand outside the card in tracks.
//! A dimension's extension lines run through every nearer track, so it has to
//! be nearer than each dimension whose room one of its ends lies in; these
//! demands make a directed graph, which has a drawing exactly when it has no
//! cycle. Dimensions are taken short ones first, each on the first of the two
//! opposite edges where the graph stays free of cycles; one that fits on
//! neither is left out, and the list of pieces has it. That the outcome is
//! free of crossings is tested against a slow, obvious check.

use crate::element::{Element, Shape};
use crate::length::{Length, Unit};
use crate::record::Layout;

/// How the dimensions are drawn, in inches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tracks {
    /// From one track to the next.
    pub pitch: f64,
    /// From the card to the first track.
    pub first: f64,
    /// Height of a label's letters.
    pub text: f64,
    /// Room between two neighbours in one track.
    pub gap: f64,
    /// Most tracks on one edge.
    pub most: usize,
}

impl Default for Tracks {
    /// Letters of 9 points, which read well at arm's length; the rest follows
    /// from them. Six tracks leave room for the card on a letter sheet.
    fn default() -> Tracks {
        Tracks { pitch: 0.24, first: 0.2, text: 0.125, gap: 0.08, most: 6 }
    }
}

/// The edge of the card that a dimension stands at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    /// Above the card: a width.
    Top,
    /// Below the card: a width.
    Bottom,
    /// Left of the card: a height.
    Left,
    /// Right of the card: a height.
    Right,
}

/// One dimension line with what is written at it.
#[derive(Clone, Debug, PartialEq)]
pub struct Dimension {
    /// Where it stands.
    pub edge: Edge,
    /// Its track, 0 nearest to the card.
    pub track: usize,
    /// Both ends along the edge, inches from the card's top-left corner.
    pub ends: [f64; 2],
    /// Places in the stack, from 1 at the bottom, of the elements it measures;
    /// none for the card.
    pub places: Vec<usize>,
    /// The size in words.
    pub text: String,
    /// The room along the edge that it needs with its label.
    pub room: [f64; 2],
}

/// The strokes of a dimension and the room of its label: inches from the
/// card's top-left corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drawn {
    /// From end to end.
    pub line: [[f64; 2]; 2],
    /// From the body to either end of the line.
    pub extensions: [[[f64; 2]; 2]; 2],
    /// Left, top, right and bottom of the label, which stands beyond the line;
    /// at the left and right edges it is read upwards.
    pub label: [f64; 4],
}

/// The dimensions of a layout. Extension lines run from `body` outwards.
#[derive(Clone, Debug, PartialEq)]
pub struct Dimensions {
    /// What is drawn.
    pub lines: Vec<Dimension>,
    /// Left, top, right and bottom, inches from the card's top-left corner:
    /// the card and the room of all labels. Tracks stand outside.
    pub body: [f64; 4],
    /// How the tracks stand.
    pub tracks: Tracks,
}

/// Widest a character of a label is, of its height, in the fonts that
/// drawings use.
fn char_em(c: char) -> f64 {
    match c {
        'm' => 0.95,
        ' ' | '/' | '.' => 0.4,
        _ => 0.6,
    }
}

/// Room that one number of an element takes before a size, of the text's height.
pub const BADGE_EM: f64 = 1.5;
/// Most sizes of one direction that are tried: more would not find room.
const MOST_SIZES: usize = 60;
/// Most elements that a dimension names; of more it says `…`.
pub const MOST_NAMED: usize = 4;

impl Dimension {
    /// Width of the label, in inches, when its text is `text` inches high.
    pub fn label_width(&self, text: f64) -> f64 {
        label_width(&self.places, &self.text, text)
    }
}

fn label_width(places: &[usize], words: &str, text: f64) -> f64 {
    let more = if places.len() > MOST_NAMED { 1.0 } else { 0.0 };
    let badges = places.len().min(MOST_NAMED) as f64 * BADGE_EM + more;
    (badges + words.chars().map(char_em).sum::<f64>()) * text
}

impl Dimensions {
    /// Lays out the dimensions of the card and of every straight element.
    pub fn of(layout: &Layout, tracks: Tracks) -> Dimensions {
        let unit = layout.card.unit;
        let across = sides(
            layout,
            tracks,
            layout.card.width,
            |element| (element.frame.x, element.frame.right(), element.frame.width),
            unit,
        );
        let down = sides(
            layout,
            tracks,
            layout.card.height,
            |element| (element.frame.y, element.frame.bottom(), element.frame.height),
            unit,
        );
        let mut lines = place(across, [Edge::Top, Edge::Bottom], tracks);
        lines.extend(place(down, [Edge::Left, Edge::Right], tracks));
        let [width, height] = layout.card.size_in();
        let mut body = [0.0, 0.0, width, height];
        for line in &lines {
            let side = usize::from(matches!(line.edge, Edge::Left | Edge::Right));
            body[side] = f64::min(body[side], line.room[0]);
            body[side + 2] = f64::max(body[side + 2], line.room[1]);
        }
        Dimensions { lines, body, tracks }
    }

    /// Left, top, right and bottom of all of it, tracks included.
    pub fn bounds(&self) -> [f64; 4] {
        let outside = |edge: Edge| {
            let deepest = self.lines.iter().filter(|line| line.edge == edge).map(|line| line.track).max();
            deepest.map_or(0.0, |track| self.distance(track) + self.tracks.pitch / 2.0)
        };
        let [left, top, right, bottom] = self.body;
        [
            left - outside(Edge::Left),
            top - outside(Edge::Top),
            right + outside(Edge::Right),
            bottom + outside(Edge::Bottom),
        ]
    }

    /// What is drawn for a dimension.
    pub fn drawn(&self, dimension: &Dimension) -> Drawn {
        let [left, top, right, bottom] = self.body;
        let away = self.distance(dimension.track);
        let (edge, middle, upright) = match dimension.edge {
            Edge::Top => (top, top - away, false),
            Edge::Bottom => (bottom, bottom + away, false),
            Edge::Left => (left, left - away, true),
            Edge::Right => (right, right + away, true),
        };
        // In its track the line stands near the card and the label beyond it,
        // where its own extension lines do not come.
        let outwards = if matches!(dimension.edge, Edge::Top | Edge::Left) { -1.0 } else { 1.0 };
        let line = middle - outwards * self.tracks.pitch * 0.3;
        let mut text = [0.15, 1.15].map(|off| line + outwards * off * self.tracks.text);
        text.sort_by(f64::total_cmp);
        let point = |along: f64, off: f64| if upright { [off, along] } else { [along, off] };
        let half = dimension.label_width(self.tracks.text) / 2.0;
        let centre = f64::midpoint(dimension.ends[0], dimension.ends[1]);
        let ([l, t], [r, b]) = (point(centre - half, text[0]), point(centre + half, text[1]));
        Drawn {
            line: dimension.ends.map(|end| point(end, line)),
            extensions: dimension.ends.map(|end| [point(end, edge), point(end, line)]),
            label: [l, t, r, b],
        }
    }

    /// From the body to the middle of a track.
    fn distance(&self, track: usize) -> f64 {
        self.tracks.first + track as f64 * self.tracks.pitch
    }
}

/// A size to be drawn.
#[derive(Clone, Debug)]
struct Side {
    from: Length,
    to: Length,
    ends: [f64; 2],
    room: [f64; 2],
    places: Vec<usize>,
    text: String,
}

impl Side {
    fn new(from: Length, to: Length, size: Length, unit: Unit) -> Side {
        Side {
            from,
            to,
            ends: [from, to].map(|length| length.value(Unit::Inch)),
            room: [0.0; 2],
            places: Vec::new(),
            text: size.show(unit),
        }
    }

    /// Whether one of its ends lies inside the room of `other`, so that its
    /// extension lines would cut through that.
    fn cuts(&self, other: &Side) -> bool {
        self.ends.iter().any(|end| *end > other.room[0] + CLEAR && *end < other.room[1] - CLEAR)
    }

    fn meets(&self, other: &Side) -> bool {
        self.room[0] < other.room[1] - CLEAR && other.room[0] < self.room[1] - CLEAR
    }
}

/// Ends that differ by less than this are the same end, in inches: far below a
/// half millimetre, far above rounding.
const CLEAR: f64 = 1e-6;

/// The sizes of one direction, equal ones as one, the card's own last.
fn sides(
    layout: &Layout,
    tracks: Tracks,
    card: Length,
    extent: impl Fn(&Element) -> (Length, Length, Length),
    unit: Unit,
) -> Vec<Side> {
    let mut sides: Vec<Side> = Vec::new();
    for (index, element) in layout.elements.iter().enumerate() {
        // A mark's size is nominal; a turned element's box is not its sides.
        if matches!(element.shape, Shape::Mark { .. }) || element.rotation_deg != 0.0 {
            continue;
        }
        let (from, to, size) = extent(element);
        match sides.iter_mut().find(|side| (side.from, side.to) == (from, to)) {
            Some(side) => side.places.push(index + 1),
            None => {
                sides.push(Side { places: vec![index + 1], ..Side::new(from, to, size, unit) });
            }
        }
    }
    sides.sort_by_key(|side| (side.to - side.from, side.places.first().copied()));
    // The card is measured whether or not a panel covers all of it.
    sides.push(Side::new(Length::ZERO, card, card, unit));
    for side in &mut sides {
        let half = f64::midpoint(label_width(&side.places, &side.text, tracks.text), tracks.gap);
        let middle = f64::midpoint(side.ends[0], side.ends[1]);
        side.room = [side.ends[0].min(middle - half), side.ends[1].max(middle + half)];
    }
    sides
}

/// Puts the sizes of one direction on two opposite edges.
fn place(mut sides: Vec<Side>, edges: [Edge; 2], tracks: Tracks) -> Vec<Dimension> {
    // The card's size always has its place: it stands first, on the first edge.
    let card = sides.pop();
    let mut taken: [(Vec<Side>, Vec<usize>); 2] = [card.into_iter().collect(), Vec::new()]
        .map(|sides: Vec<Side>| (sides.clone(), assign(&sides, tracks).unwrap_or_default()));
    for side in sides.into_iter().take(MOST_SIZES) {
        let tried = [0, 1].map(|edge: usize| {
            let mut all = taken[edge].0.clone();
            all.push(side.clone());
            assign(&all, tracks).map(|placed| (all, placed))
        });
        let depth = |edge: usize| {
            tried[edge].as_ref().and_then(|(_, placed)| placed.last().copied()).unwrap_or(usize::MAX)
        };
        let edge = usize::from(depth(1) < depth(0));
        let [first, second] = tried;
        if let Some(fits) = if edge == 0 { first } else { second } {
            taken[edge] = fits;
        }
    }
    let mut lines = Vec::new();
    for ((sides, placed), edge) in taken.into_iter().zip(edges) {
        lines.extend(sides.into_iter().zip(placed).map(|(side, track)| Dimension {
            edge,
            track,
            ends: side.ends,
            places: side.places,
            text: side.text,
            room: side.room,
        }));
    }
    lines
}

/// The track of each size on one edge, if there is an order without crossings
/// and enough tracks for it.
fn assign(sides: &[Side], tracks: Tracks) -> Option<Vec<usize>> {
    let count = sides.len();
    let others = |index: usize| (0..count).filter(move |&other| other != index);
    let mut placed: Vec<Option<usize>> = vec![None; count];
    for _ in 0..count {
        // The first for which all that have to be nearer have their places.
        let next = (0..count).find(|&index| {
            placed[index].is_none()
                && others(index).all(|other| placed[other].is_some() || !sides[other].cuts(&sides[index]))
        })?;
        let mut track = others(next)
            .filter(|&other| sides[other].cuts(&sides[next]))
            .filter_map(|other| placed[other].map(|at| at + 1))
            .max()
            .unwrap_or(0);
        while others(next).any(|other| placed[other] == Some(track) && sides[other].meets(&sides[next])) {
            track += 1;
        }
        if track >= tracks.most {
            return None;
        }
        placed[next] = Some(track);
    }
    placed.into_iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::Frame;
    use proptest::prelude::*;

    type Segment = [[f64; 2]; 2];

    fn upright(segment: Segment) -> bool {
        (segment[0][0] - segment[1][0]).abs() < (segment[0][1] - segment[1][1]).abs()
    }

    /// A layout with rectangles given in sixteenths: x, y, width, height.
    fn layout(boxes: &[[i32; 4]]) -> Layout {
        let mut layout = Layout::new("", "A2".parse().unwrap());
        layout.elements = (1..)
            .zip(boxes)
            .map(|(id, &[x, y, width, height])| {
                let [x, y, width, height] = [x, y, width, height].map(Length::sixteenths);
                Element::new(id, Shape::SHARP, Frame { x, y, width, height })
            })
            .collect();
        layout
    }

    /// Whether a level or upright segment has a point strictly inside a box.
    fn enters([[x0, y0], [x1, y1]]: Segment, [left, top, right, bottom]: [f64; 4]) -> bool {
        x0.min(x1) < right - CLEAR
            && x0.max(x1) > left + CLEAR
            && y0.min(y1) < bottom - CLEAR
            && y0.max(y1) > top + CLEAR
    }

    /// Whether a level and an upright segment, or two parallel ones, share more
    /// than a point that is an end of the first.
    fn crosses(first: Segment, second: Segment) -> bool {
        let span = |segment: Segment, axis: usize| {
            let [a, b] = segment.map(|point| point[axis]);
            [a.min(b), a.max(b)]
        };
        let shared = [0, 1].map(|axis| {
            let ([a0, a1], [b0, b1]) = (span(first, axis), span(second, axis));
            [a0.max(b0), a1.min(b1)]
        });
        if shared.iter().any(|[from, to]| from > &(to + CLEAR)) {
            return false;
        }
        let long = shared.iter().any(|[from, to]| to - from > CLEAR);
        let point = shared.map(|[from, _]| from);
        let is_end = first.iter().any(|end| (0..2).all(|axis| (end[axis] - point[axis]).abs() < 1e-5));
        long || !is_end
    }

    /// The slow, obvious check of everything that is drawn.
    fn check(dimensions: &Dimensions) -> Result<(), String> {
        let drawn: Vec<Drawn> = dimensions.lines.iter().map(|line| dimensions.drawn(line)).collect();
        let [left, top, right, bottom] = dimensions.bounds();
        for (index, one) in drawn.iter().enumerate() {
            let told = |what: &str, other: usize| {
                Err(format!("{what}: {:?} and {:?}", dimensions.lines[index], dimensions.lines[other]))
            };
            let inside = |[x, y]: [f64; 2]| {
                x >= left - CLEAR && x <= right + CLEAR && y >= top - CLEAR && y <= bottom + CLEAR
            };
            let [l, t, r, b] = one.label;
            if !(inside([l, t]) && inside([r, b]) && one.line.iter().all(|&point| inside(point))) {
                return told("out of bounds", index);
            }
            for (at, other) in drawn.iter().enumerate() {
                let strokes = other.extensions.iter().copied().chain([other.line]);
                for stroke in strokes {
                    if enters(stroke, one.label) {
                        return told("a line runs through a label", at);
                    }
                }
                if at == index {
                    continue;
                }
                let [ol, ot, or, ob] = other.label;
                if l < or - CLEAR && ol < r - CLEAR && t < ob - CLEAR && ot < b - CLEAR {
                    return told("labels cover each other", at);
                }
                if crosses(one.line, other.line) && crosses(other.line, one.line) {
                    return told("lines cross", at);
                }
                if other.extensions.iter().any(|&extension| crosses(one.line, extension)) {
                    return told("a line crosses an extension", at);
                }
                for extension in other.extensions {
                    for own in one.extensions {
                        let parallel = upright(own) == upright(extension);
                        if !parallel && crosses(own, extension) {
                            return told("extensions cross", at);
                        }
                    }
                }
            }
        }
        Ok(())
    }

    fn texts(dimensions: &Dimensions, edge: Edge) -> Vec<(&str, usize, &[usize])> {
        let lines = dimensions.lines.iter().filter(|line| line.edge == edge);
        lines.map(|line| (line.text.as_str(), line.track, line.places.as_slice())).collect()
    }

    #[test]
    fn nested_panels_are_measured_from_the_inside_out() {
        let dimensions = Dimensions::of(&layout(&[[2, 2, 64, 84], [10, 10, 48, 40]]), Tracks::default());
        assert_eq!(texts(&dimensions, Edge::Top), [("4 1/4", 1, &[][..]), ("3", 0, &[2])], "{dimensions:?}");
        assert_eq!(texts(&dimensions, Edge::Bottom), [("4", 0, &[1][..])]);
        assert_eq!(check(&dimensions), Ok(()));
    }

    #[test]
    fn equal_sizes_at_one_place_are_one_dimension() {
        let dimensions = Dimensions::of(&layout(&[[8, 4, 32, 16], [8, 40, 32, 16]]), Tracks::default());
        let widths = [texts(&dimensions, Edge::Top), texts(&dimensions, Edge::Bottom)].concat();
        assert!(widths.contains(&("2", 0, &[1, 2])), "{widths:?}");
    }

    /// Two that overlap in part cannot stand at one edge.
    #[test]
    fn sizes_that_overlap_in_part_stand_opposite() {
        let dimensions = Dimensions::of(&layout(&[[2, 2, 40, 16], [20, 30, 40, 16]]), Tracks::default());
        assert_eq!(texts(&dimensions, Edge::Top)[1..], [("2 1/2", 0, &[1][..])]);
        assert_eq!(texts(&dimensions, Edge::Bottom), [("2 1/2", 0, &[2][..])]);
        assert_eq!(check(&dimensions), Ok(()));
    }

    #[test]
    fn marks_and_turned_panels_have_no_dimension() {
        let mut tilted = layout(&[[2, 2, 40, 16], [20, 30, 4, 4]]);
        tilted.elements[0].rotation_deg = 5.0;
        tilted.elements[1].shape = Shape::Mark { kind: crate::element::MarkKind::Dot };
        let dimensions = Dimensions::of(&tilted, Tracks::default());
        assert_eq!(dimensions.lines.len(), 2, "the card's own");
    }

    proptest! {
        #[test]
        fn nothing_crosses_or_covers_anything(
            boxes in prop::collection::vec([-8i32..72, -8i32..92, 1i32..40, 1i32..40], 0..14),
        ) {
            // Sizes are on eighths.
            let boxes: Vec<[i32; 4]> = boxes.iter().map(|&[x, y, w, h]| [x, y, 2 * w, 2 * h]).collect();
            let dimensions = Dimensions::of(&layout(&boxes), Tracks::default());
            prop_assert_eq!(check(&dimensions), Ok(()));
            prop_assert!(dimensions.lines.iter().filter(|line| line.places.is_empty()).count() == 2);
        }
    }
}

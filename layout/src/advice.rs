//! What a maker would like to know before the paper is cut: what is hidden and
//! can be saved, what needs a shim, what does not fit. Each finding is a value,
//! and a plain sentence.

use crate::card::Card;
use crate::element::{Element, Frame, Role, Shape};
use crate::hollow::{Margins, OwnFrame, hole, strips};
use crate::length::{Length, Unit};
use crate::pieces::Trim;
use crate::record::Layout;
use crate::region::Region;
use crate::stack::{Calipers, Height, Layer, Stack, TooDeep};

/// What advice goes by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AdviceOptions {
    /// What stays for glue, and what is worth saving.
    pub margins: Margins,
    /// What of the base shows on each side of a background. 1/8 in (3 mm).
    pub border: Length,
    /// Thicknesses, to tell high from low.
    pub calipers: Calipers,
}

impl AdviceOptions {
    /// The usual ones in this system.
    pub fn usual(unit: Unit) -> AdviceOptions {
        let border = match unit {
            Unit::Inch => Length::eighths(1),
            Unit::Millimetre => Length::millimetres(3),
        };
        AdviceOptions { margins: Margins::usual(unit), border, calipers: Calipers::default() }
    }
}

/// An overhang narrower than this needs no shim, in inches: paper bridges it.
const SHIM_FROM_IN: f64 = 0.125;

/// One thing worth knowing. Elements are told by their index in the layout,
/// mats by their number, 1 the nearest.
#[derive(Clone, Debug, PartialEq)]
pub enum Advice {
    /// Nothing of an element is seen.
    Unseen {
        /// The element.
        index: usize,
    },
    /// A hidden middle that can be cut out and used again.
    CutOut {
        /// The element.
        index: usize,
        /// Where, from the top-left corner of the piece as it is cut.
        hole: OwnFrame,
        /// What stays for glue.
        margin: Length,
    },
    /// Strips that do instead of a panel.
    Strips {
        /// The element.
        index: usize,
        /// Their places on the element.
        strips: Vec<OwnFrame>,
        /// What of each lies under what covers it.
        margin: Length,
    },
    /// An element lies partly on something high, partly on something low.
    Shim {
        /// The element.
        index: usize,
        /// In how many places it hangs over so far.
        places: usize,
        /// What is to be put there.
        gap: Height,
    },
    /// An element runs off the card.
    LeavesCard {
        /// The element.
        index: usize,
        /// What becomes of it.
        trim: Trim,
    },
    /// A mat reaches over the card's edge although its element does not.
    MatLeavesCard {
        /// The element.
        index: usize,
        /// The mat.
        mat: usize,
    },
    /// A mat hides another element that its own element does not hide.
    MatCovers {
        /// The element.
        index: usize,
        /// The mat.
        mat: usize,
        /// What it hides.
        other: usize,
    },
    /// A mat is no larger than the one before it.
    MatUnseen {
        /// The element.
        index: usize,
        /// The mat.
        mat: usize,
    },
    /// An even number of marks.
    EvenMarks {
        /// How many.
        count: usize,
    },
    /// A background that leaves a border of the base, where there is none.
    Background {
        /// What shows on each side.
        border: Length,
        /// The panel.
        frame: Frame,
    },
}

/// The panel that leaves a border of the card's base all round: none where
/// nothing would be left.
///
/// ```
/// # use layout::{background, Card, Length};
/// let card: Card = "A2".parse()?;
/// let panel = background(&card, Length::eighths(1)).unwrap();
/// assert_eq!((panel.width.to_string(), panel.height.to_string()), ("4".into(), "5 1/4".into()));
/// # Ok::<(), layout::CardError>(())
/// ```
pub fn background(card: &Card, border: Length) -> Option<Frame> {
    let frame = card.frame().grown(-(border * 2));
    (frame.width.is_positive() && frame.height.is_positive() && border >= Length::ZERO).then_some(frame)
}

/// Whether an element is the background: it says so, or it is as large.
fn is_background(element: &Element, frame: Frame) -> bool {
    let own = element.frame;
    let upright = matches!(element.shape, Shape::Rectangle { .. }) && element.rotation_deg == 0.0;
    let as_large = own.x <= frame.x
        && own.y <= frame.y
        && own.right() >= frame.right()
        && own.bottom() >= frame.bottom();
    element.role == Role::Background || (upright && as_large)
}

/// All advice on a layout, bottom of the stack first.
pub fn advise(layout: &Layout, options: &AdviceOptions) -> Result<(Stack, Vec<Advice>), TooDeep> {
    let stack = Stack::of(layout, options.calipers)?;
    let mut advice = Vec::new();
    if let Some(frame) = background(&layout.card, options.border)
        && !layout.elements.iter().any(|element| is_background(element, frame))
    {
        advice.push(Advice::Background { border: options.border, frame });
    }
    for (index, element) in layout.elements.iter().enumerate() {
        advice.extend(leaving(&layout.card, index, element));
        if let Some(layer) = stack.layer(index) {
            advice.extend(mats(layout, &stack, index));
            advice.extend(hidden(layout, index, layer, options.margins));
            advice.extend(shims(&stack, index));
        }
    }
    let marks = layout.elements.iter().filter(|element| matches!(element.shape, Shape::Mark { .. })).count();
    if marks > 0 && marks % 2 == 0 {
        advice.push(Advice::EvenMarks { count: marks });
    }
    Ok((stack, advice))
}

/// How an element that runs off the card ends there. One that lies beside the
/// card altogether is told in the list of pieces.
fn leaving(card: &Card, index: usize, element: &Element) -> Option<Advice> {
    if matches!(element.shape, Shape::Mark { .. }) {
        return None;
    }
    let reach = element.frame.reach_in(element.rotation_deg, element.shape);
    if card.frame().covers(reach) || !card.frame().meets(reach) {
        return None;
    }
    let trim = if element.is_straight() { Trim::Cut } else { Trim::AfterGluing };
    Some(Advice::LeavesCard { index, trim })
}

fn mats(layout: &Layout, stack: &Stack, index: usize) -> Vec<Advice> {
    let element = &layout.elements[index];
    let card = layout.card.frame();
    let reach = |frame: Frame| frame.reach_in(element.rotation_deg, element.shape);
    let mut advice = Vec::new();
    let mut nearer = Length::ZERO;
    // What is hidden already by the element and its nearer mats.
    let mut own = stack.layer(index).map_or_else(Region::default, |layer| layer.region.clone());
    for (mat, &adds) in (1..).zip(&element.mats) {
        if adds <= nearer {
            advice.push(Advice::MatUnseen { index, mat });
            continue;
        }
        nearer = adds;
        if card.covers(reach(element.frame)) && !card.covers(reach(element.frame.grown(adds))) {
            advice.push(Advice::MatLeavesCard { index, mat });
        }
        let layer = stack.layers.iter().find(|layer| layer.index == index && layer.mat == Some(mat));
        let Some(layer) = layer else { continue };
        for (other, below) in layout.elements[..index].iter().enumerate() {
            let region = Region::of(below.shape, below.frame, below.rotation_deg).shared(&Region::of(
                Shape::SHARP,
                card,
                0.0,
            ));
            let is_new = !region.minus(&own).is_empty();
            if is_new && !region.is_empty() && region.minus(&layer.region).is_empty() {
                advice.push(Advice::MatCovers { index, mat, other });
            }
        }
        own = own.and(&layer.region);
    }
    advice
}

fn hidden(layout: &Layout, index: usize, layer: &Layer, margins: Margins) -> Vec<Advice> {
    let element = &layout.elements[index];
    if layer.region.is_empty() {
        return Vec::new();
    }
    if layer.seen.is_empty() {
        return vec![Advice::Unseen { index }];
    }
    let unit = layout.card.unit;
    let mut advice = Vec::new();
    // The piece as it is cut begins at the card's edge.
    let (x, y) = if element.is_straight() {
        ((-element.frame.x).max(Length::ZERO), (-element.frame.y).max(Length::ZERO))
    } else {
        (Length::ZERO, Length::ZERO)
    };
    let moved = |frame: OwnFrame| Frame { x: frame.x - x, y: frame.y - y, ..frame };
    let margin = margins.glue;
    if let Some(hole) = hole(element, &Stack::hidden(layer), unit, margins) {
        advice.push(Advice::CutOut { index, hole: moved(hole), margin });
    }
    if matches!(element.shape, Shape::Rectangle { .. })
        && let Some(strips) = strips(element, &layer.seen, unit, margins)
    {
        let strips = strips.into_iter().map(moved).collect();
        advice.push(Advice::Strips { index, strips, margin });
    }
    advice
}

/// One for each height that an element hangs over.
fn shims(stack: &Stack, index: usize) -> Vec<Advice> {
    // The lowest layer of the element is the one that can hang over.
    let Some(layer) = stack.layers.iter().find(|layer| layer.index == index) else { return Vec::new() };
    let mut gaps: Vec<(Height, usize)> = Vec::new();
    for (part, height) in &layer.overhangs {
        if part.width_in() < SHIM_FROM_IN {
            continue;
        }
        let gap = Height {
            layers: layer.rests_at.layers.saturating_sub(height.layers),
            foam: layer.rests_at.foam.saturating_sub(height.foam),
        };
        match gaps.iter_mut().find(|(other, _)| *other == gap) {
            Some((_, places)) => *places += 1,
            None => gaps.push((gap, 1)),
        }
    }
    gaps.into_iter().map(|(gap, places)| Advice::Shim { index, places, gap }).collect()
}

impl Advice {
    /// Index of the element that it is about; none for the whole card.
    pub const fn index(&self) -> Option<usize> {
        match *self {
            Advice::Unseen { index }
            | Advice::CutOut { index, .. }
            | Advice::Strips { index, .. }
            | Advice::Shim { index, .. }
            | Advice::LeavesCard { index, .. }
            | Advice::MatLeavesCard { index, .. }
            | Advice::MatCovers { index, .. }
            | Advice::MatUnseen { index, .. } => Some(index),
            Advice::EvenMarks { .. } | Advice::Background { .. } => None,
        }
    }

    /// The advice as a sentence or two.
    pub fn words(&self, layout: &Layout) -> String {
        let unit = layout.card.unit;
        let size = |frame: &Frame| format!("{} x {}", frame.width.show(unit), frame.height.show(unit));
        let mat_of = |index: usize, mat: usize| {
            let adds = layout.elements[index].mats[mat - 1].show(unit);
            format!("The mat behind {} that is {adds} larger", layout.called(index))
        };
        match self {
            Advice::Unseen { index } => format!(
                "Nothing of {} is seen: it lies under others. Check the order, or leave it out.",
                layout.called(*index)
            ),
            Advice::CutOut { index, hole, margin } => format!(
                "The middle of {} is hidden. Before it is glued, {} can be cut out of it and used again, \
                 beginning {} from its left side and {} from its top; at least {} stays for glue.",
                layout.called(*index),
                size(hole),
                hole.x.show(unit),
                hole.y.show(unit),
                margin.show(unit)
            ),
            Advice::Strips { index, strips, margin } => {
                let sizes: Vec<String> = strips.iter().map(size).collect();
                format!(
                    "Only {} strips of {} show. Instead of the whole panel you can cut {}: {} of each lies under \
                     what covers it. Fill the gap between them with scraps, so that what lies on top lies flat.",
                    strips.len(),
                    layout.called(*index),
                    listed(&sizes),
                    margin.show(unit)
                )
            }
            Advice::Shim { index, places, gap } => format!(
                "{} hangs over what it rests on{}. Put a shim of {} under {}, so that it lies flat.",
                capital(&layout.called(*index)),
                if *places == 1 { String::new() } else { format!(" in {places} places") },
                gap_words(*gap),
                if *places == 1 { "that part" } else { "each" },
            ),
            Advice::LeavesCard { index, trim: Trim::AfterGluing } => format!(
                "{} runs off the card and has no straight side there: glue it, then trim it along the card's edge.",
                capital(&layout.called(*index))
            ),
            Advice::LeavesCard { index, .. } => format!(
                "{} runs off the card: its piece is cut to the card's edge.",
                capital(&layout.called(*index))
            ),
            Advice::MatLeavesCard { index, mat } => format!(
                "{} has no room: it reaches over the edge of the card. Make it smaller, or trim it there.",
                mat_of(*index, *mat)
            ),
            Advice::MatCovers { index, mat, other } => format!(
                "{} has no room: it covers {} altogether. Make it smaller, or move one of them.",
                mat_of(*index, *mat),
                layout.called(*other)
            ),
            Advice::MatUnseen { index, mat } => format!(
                "{} is no larger than the mat before it: nothing of it is seen.",
                mat_of(*index, *mat)
            ),
            Advice::EvenMarks { count } => format!(
                "There are {count} marks. Many makers like an odd number, such as {} or {}: common practice, and \
                 a matter of taste.",
                count - 1,
                count + 1
            ),
            Advice::Background { border, frame } => format!(
                "There is no background panel: one of {} would leave {} of the base showing all round.",
                size(frame),
                border.show(unit)
            ),
        }
    }
}

/// What fills a gap: `2 layers of cardstock and 1 of foam`.
pub(crate) fn gap_words(gap: Height) -> String {
    let layers = |count: u32| format!("{count} layer{}", if count == 1 { "" } else { "s" });
    match gap {
        Height { layers: 0, foam } => format!("{} of foam", layers(foam)),
        Height { layers: paper, foam: 0 } => format!("{} of cardstock", layers(paper)),
        Height { layers: paper, foam } => {
            format!("{} of cardstock and {} of foam", layers(paper), layers(foam))
        }
    }
}

/// `a`, `a and b`, `a, b and c`.
pub(crate) fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// With a capital letter, as a sentence begins.
pub fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::element::{MarkKind, Slot};

    fn element(id: u32, shape: Shape, [x, y, width, height]: [i32; 4]) -> Element {
        let [x, y, width, height] = [x, y, width, height].map(Length::sixteenths);
        let frame = Frame { x, y, width, height };
        Element { slot: Slot::new('A'), ..Element::new(id, shape, frame) }
    }

    fn said(elements: Vec<Element>) -> Vec<String> {
        let layout = Layout { elements, ..Layout::new("", "A2".parse().unwrap()) };
        let (_, advice) = advise(&layout, &AdviceOptions::usual(Unit::Inch)).unwrap();
        advice.iter().map(|advice| advice.words(&layout)).collect()
    }

    /// A background that leaves an eighth, with these on it.
    fn on_background(elements: Vec<Element>) -> Vec<String> {
        let mut all = vec![element(1, Shape::SHARP, [2, 2, 64, 84])];
        all[0].role = Role::Background;
        all.extend(elements);
        said(all)
    }

    #[test]
    fn a_card_without_a_background_is_offered_one() {
        assert_eq!(
            said(Vec::new()),
            ["There is no background panel: one of 4 x 5 1/4 would leave 1/8 of the base showing all round."]
        );
        assert_eq!(on_background(Vec::new()), [""; 0]);
        // A panel of that size is one, whatever it is called.
        assert_eq!(said(vec![element(1, Shape::SHARP, [2, 2, 64, 84])]), [""; 0]);
        let card: Card = "5x7".parse().unwrap();
        // 5 x 7 less 1/8 each side is 4 3/4 x 6 3/4; less 1/16 each side, 4 7/8 x 6 7/8 (computed).
        for (border, width, height) in [(2, "4 3/4", "6 3/4"), (1, "4 7/8", "6 7/8")] {
            let frame = background(&card, Length::sixteenths(border)).unwrap();
            assert_eq!((frame.width.to_string(), frame.height.to_string()), (width.into(), height.into()));
        }
        assert_eq!(background(&card, Length::inches(3)), None);
    }

    #[test]
    fn a_hidden_middle_is_told_from_the_corner_of_the_piece() {
        assert_eq!(
            on_background(vec![element(2, Shape::SHARP, [10, 10, 48, 68])]),
            [
                "The middle of background A (1) is hidden. Before it is glued, 2 1/2 x 3 3/4 can be cut out of it and \
              used again, beginning 3/4 from its left side and 3/4 from its top; at least 1/4 stays for glue."
            ]
        );
        // It runs off the card by half an inch: the piece begins at the card's edge.
        let off =
            said(vec![element(1, Shape::SHARP, [-8, 2, 76, 84]), element(2, Shape::SHARP, [10, 10, 48, 68])]);
        assert!(off[0].contains("runs off the card: its piece is cut to the card's edge"), "{off:?}");
        assert!(off[1].contains("beginning 7/8 from its left side and 3/4"), "{off:?}");
    }

    #[test]
    fn a_panel_that_shows_in_strips_and_one_that_does_not_show() {
        let shown = on_background(vec![
            element(2, Shape::SHARP, [10, 30, 48, 30]),
            element(3, Shape::SHARP, [0, 18, 68, 52]),
        ]);
        assert!(shown[1].starts_with("Only 2 strips of background A (1) show."), "{shown:?}");
        assert!(shown[1].contains("you can cut 4 x 1 1/4 and 4 x 1 1/4: 1/4 of each"), "{shown:?}");
        assert!(shown[2].starts_with("Nothing of panel A (2) is seen"), "{shown:?}");
    }

    #[test]
    fn an_overhang_wants_as_many_layers_as_it_hangs_over() {
        let mut panel = element(2, Shape::SHARP, [10, 10, 40, 60]);
        panel.mats = vec![Length::eighths(1)];
        let strip = element(3, Shape::SHARP, [2, 30, 64, 12]);
        let shown = on_background(vec![panel.clone(), strip.clone()]);
        let shims: Vec<&String> = shown.iter().filter(|words| words.contains("hangs over")).collect();
        assert_eq!(
            shims,
            [
                "Panel A (3) hangs over what it rests on in 2 places. Put a shim of 2 layers of cardstock under each, \
              so that it lies flat."
            ]
        );
        panel.raised = true;
        let shown = on_background(vec![panel, strip]);
        assert!(
            shown.iter().any(|words| words.contains("2 layers of cardstock and 1 layer of foam")),
            "{shown:?}"
        );
    }

    #[test]
    fn a_mat_without_room_is_told_and_not_clipped() {
        let mut wide = element(2, Shape::SHARP, [4, 4, 60, 30]);
        wide.mats = vec![Length::eighths(1), Length::eighths(1), Length::eighths(8)];
        let shown = on_background(vec![element(9, Shape::SHARP, [6, 36, 6, 4]), wide]);
        let about: Vec<&String> = shown.iter().filter(|words| words.starts_with("The mat")).collect();
        assert_eq!(
            about,
            [
                "The mat behind panel A (3) that is 1/8 larger is no larger than the mat before it: nothing of it is seen.",
                "The mat behind panel A (3) that is 1 larger has no room: it reaches over the edge of the card. Make it smaller, or trim it there.",
                "The mat behind panel A (3) that is 1 larger has no room: it covers panel A (2) altogether. Make it smaller, or move one of them.",
            ]
        );
    }

    #[test]
    fn an_even_number_of_marks_is_a_matter_of_taste() {
        let mark = |id| element(id, Shape::Mark { kind: MarkKind::Dot }, [20, 20, 4, 4]);
        assert_eq!(on_background(vec![mark(2), mark(3), mark(4)]), [""; 0]);
        let shown = on_background((2..6).map(mark).collect());
        assert!(
            shown[0].starts_with("There are 4 marks. Many makers like an odd number, such as 3 or 5"),
            "{shown:?}"
        );
    }
}

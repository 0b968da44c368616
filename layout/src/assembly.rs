//! The order in which a card is put together: numbered steps from the base up,
//! in words, with the shims and trims where they come. Marks go on last.
//! Cautions are the usual ones for blades and glue, and defer to what their
//! makers say.

use crate::advice::{Advice, capital, gap_words, listed};
use crate::card::Fold;
use crate::element::{Element, Shape};
use crate::length::{Length, Unit};
use crate::pieces::{Pieces, Supply, Trim};
use crate::record::Layout;

/// One thing to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// Ids of the elements that it is about, bottom first.
    pub elements: Vec<u32>,
    /// What to do, in a few sentences.
    pub words: String,
}

/// What goes with every list of steps. The first after the safety notes for
/// paper trimmers of two universities (2000, 2025) and a school district
/// (2018); the rest is common practice, no source.
pub const CAUTIONS: [&str; 3] = [
    "Trimmer: guard on, fingers behind it, blade down and latched when you stop, out of children's reach.",
    "Craft knife: a fresh blade, a metal rule, cut away from yourself, cap it when you stop.",
    "Glue: read its label; for spray or solvent glue open a window and keep flames away. What the makers of your \
     tools and glue say comes first.",
];

/// The steps for one card, first to last.
pub fn steps(layout: &Layout, pieces: &Pieces, advice: &[Advice]) -> Vec<Step> {
    let mut steps = vec![fold(layout, pieces)];
    let mut marks: Vec<usize> = Vec::new();
    let left_out = |element: &Element| pieces.left_out.iter().any(|left| left.element == element.id);
    for (index, element) in layout.elements.iter().enumerate() {
        if matches!(element.shape, Shape::Mark { .. }) {
            marks.push(index);
        } else if !left_out(element) {
            let about: Vec<&Advice> = advice.iter().filter(|advice| advice.index() == Some(index)).collect();
            let words = lay(layout, pieces, index, &about);
            steps.push(Step { elements: vec![element.id], words });
        }
    }
    if !marks.is_empty() {
        steps.push(put_marks(layout, &marks));
    }
    steps.push(Step { elements: Vec::new(), words: finish(layout).to_owned() });
    steps
}

fn fold(layout: &Layout, pieces: &Pieces) -> Step {
    let unit = layout.card.unit;
    let base = pieces.pieces.iter().find(|piece| piece.supply == Supply::Base);
    let [size, score] =
        base.map_or_else(Default::default, |base| [base.size_words(unit), base.score_words(unit)]);
    let side = match layout.card.fold {
        Fold::Left => "left, like a book",
        Fold::Top => "top, like a tent",
    };
    let words = format!(
        "Card base, {size}: {score}, before you fold it. Fold it there, with the fold at the {side}, and press it flat. \
         Cardstock cracks least where the fold runs along its grain."
    );
    Step { elements: Vec::new(), words }
}

/// All that is done with one element.
fn lay(layout: &Layout, pieces: &Pieces, index: usize, advice: &[&Advice]) -> String {
    let element = &layout.elements[index];
    let unit = layout.card.unit;
    let name = layout.called(index);
    let mut words: Vec<String> = Vec::new();
    let finish = pieces
        .pieces
        .iter()
        .find(|piece| piece.uses.iter().any(|part| part.element == Some(element.id) && part.mat.is_none()))
        .map_or(String::new(), |piece| piece.finish_words(unit));
    if !finish.is_empty() {
        words.push(format!("cut the piece to shape, {finish}"));
    }
    for advice in advice {
        if let Advice::CutOut { hole, .. } = advice {
            let size = format!("{} x {}", hole.width.show(unit), hole.height.show(unit));
            words.push(format!("to save paper, cut {size} out of its middle"));
        }
    }
    if !element.mats.is_empty() {
        words.push(mat_words(element, unit));
    }
    for advice in advice {
        if let Advice::Shim { places, gap, .. } = advice {
            let behind = if *places == 1 {
                "the part that hangs over".to_owned()
            } else {
                format!("each of the {places} parts that hang over")
            };
            words.push(format!("glue a shim of {} behind {behind}", gap_words(*gap)));
        }
    }
    let how = if element.raised { "put it on foam adhesive" } else { "glue it flat" };
    words.push(format!("{how}, {}", place_words(layout, element, unit)));
    for advice in advice {
        match advice {
            Advice::LeavesCard { trim: Trim::AfterGluing, .. } => words.push(
                "when the glue is dry, open the card and trim what stands over, along the edge of the front"
                    .to_owned(),
            ),
            Advice::LeavesCard { .. } => words.push("its cut side lies on the card's edge".to_owned()),
            Advice::MatLeavesCard { .. } => {
                words.push("where its mat reaches over the card's edge, trim it once it is dry".to_owned());
            }
            _ => {}
        }
    }
    let sentences: Vec<String> = words.iter().map(|words| format!("{}.", capital(words))).collect();
    format!("{}: {}", capital(&name), sentences.join(" "))
}

/// `glue it in the middle of the mat of 4 1/8 x 5 3/8, with 1/16 showing all round`
fn mat_words(element: &Element, unit: Unit) -> String {
    let mut inner = Length::ZERO;
    let mats: Vec<String> = element
        .mats
        .iter()
        .map(|&adds| {
            let frame = element.frame.grown(adds);
            let size = format!("{} x {}", frame.width.show(unit), frame.height.show(unit));
            let border = (adds - inner).half();
            inner = adds;
            if border.is_positive() {
                format!("the mat of {size}, with {} showing all round", border.show(unit))
            } else {
                format!("the mat of {size}, which will not show")
            }
        })
        .collect();
    format!("glue it in the middle of {}", mats.join(", and that on "))
}

/// Where its outermost layer goes.
fn place_words(layout: &Layout, element: &Element, unit: Unit) -> String {
    let widest = element.mats.iter().copied().max().unwrap_or(Length::ZERO);
    let frame = element.frame.grown(widest);
    if element.rotation_deg == 0.0 || element.shape == Shape::Circle {
        let middle = |from: Length, size: Length, room: Length| from * 2 + size == room;
        let off = |at: Length, side: &str| {
            if element.is_straight() {
                format!("from the {side} edge on")
            } else {
                format!("running off the {side} edge by {}", at.abs().show(unit))
            }
        };
        let across = if middle(frame.x, frame.width, layout.card.width) {
            "in the middle from side to side".to_owned()
        } else if frame.x < Length::ZERO {
            off(frame.x, "left")
        } else {
            format!("{} from the left", frame.x.show(unit))
        };
        let down = if middle(frame.y, frame.height, layout.card.height) {
            "in the middle from top to bottom".to_owned()
        } else if frame.y < Length::ZERO {
            off(frame.y, "top")
        } else {
            format!("{} from the top", frame.y.show(unit))
        };
        return format!("{across}, {down}");
    }
    let turn = crate::drawing::tidy((element.rotation_deg.abs() * 10.0).round() / 10.0);
    let way = if element.rotation_deg > 0.0 { "clockwise" } else { "anticlockwise" };
    let [x, y] = centre(element);
    format!(
        "turned by {turn}° {way}, its middle {} from the left, {} from the top",
        x.show(unit),
        y.show(unit)
    )
}

fn centre(element: &Element) -> [Length; 2] {
    let frame = element.frame;
    [frame.x + frame.width.half(), frame.y + frame.height.half()]
}

fn put_marks(layout: &Layout, marks: &[usize]) -> Step {
    let unit = layout.card.unit;
    let places: Vec<String> = marks
        .iter()
        .map(|&index| {
            let element = &layout.elements[index];
            let kind = match element.shape {
                Shape::Mark { kind } => kind.words(false),
                _ => element.name(),
            };
            let [x, y] = centre(element).map(|length| length.show(unit));
            format!("a {kind} ({}) with its middle {x} from the left and {y} from the top", index + 1)
        })
        .collect();
    Step {
        elements: marks.iter().map(|&index| layout.elements[index].id).collect(),
        words: format!("Last of all put on {}.", listed(&places)),
    }
}

fn finish(layout: &Layout) -> &'static str {
    let raised = layout.elements.iter().any(|element| element.raised)
        || layout.elements.iter().any(|element| matches!(element.shape, Shape::Mark { .. }));
    if raised {
        "Let the glue dry before the card goes into its envelope. Do not press what lies on foam, nor the marks."
    } else {
        "Let the glue dry under a book before the card goes into its envelope."
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::advice::{AdviceOptions, advise};
    use crate::element::{Frame, MarkKind, Role, Slot};
    use crate::pieces::PieceOptions;

    fn element(id: u32, shape: Shape, [x, y, width, height]: [i32; 4]) -> Element {
        let [x, y, width, height] = [x, y, width, height].map(Length::sixteenths);
        Element { slot: Slot::new('A'), ..Element::new(id, shape, Frame { x, y, width, height }) }
    }

    #[test]
    fn steps_go_from_the_base_up() {
        let mut background = element(1, Shape::SHARP, [2, 2, 64, 84]);
        background.role = Role::Background;
        let mark = element(2, Shape::Mark { kind: MarkKind::Heart }, [8, 8, 4, 4]);
        let mut panel = element(3, Shape::SHARP, [10, 10, 48, 60]);
        panel.mats = vec![Length::eighths(1), Length::eighths(3)];
        let mut strip = element(4, Shape::SHARP, [-8, 30, 84, 12]);
        strip.raised = true;
        let mut circle = element(5, Shape::Circle, [54, 60, 24, 24]);
        circle.rotation_deg = -12.5;
        let mut layout = Layout::new("", "A2".parse().unwrap());
        layout.elements = vec![background, mark, panel, strip, circle];
        let pieces = Pieces::of(&layout, &PieceOptions::cards(4, Unit::Inch)).unwrap();
        let (_, advice) = advise(&layout, &AdviceOptions::usual(Unit::Inch)).unwrap();
        let steps = steps(&layout, &pieces, &advice);
        let words: Vec<&str> = steps.iter().map(|step| step.words.as_str()).collect();
        assert_eq!(
            words,
            [
                "Card base, 8 1/2 x 5 1/2: score 4 1/4 from the left, before you fold it. Fold it there, with the fold at \
                 the left, like a book, and press it flat. Cardstock cracks least where the fold runs along its grain.",
                "Background A (1): To save paper, cut 2 7/8 x 3 5/8 out of its middle. Glue it flat, in the middle from \
                 side to side, in the middle from top to bottom.",
                "Panel A (3): Glue it in the middle of the mat of 3 1/8 x 3 7/8, with 1/16 showing all round, and that on \
                 the mat of 3 3/8 x 4 1/8, with 1/8 showing all round. Glue it flat, in the middle from side to side, \
                 7/16 from the top.",
                "Panel A (4): Glue a shim of 3 layers of cardstock behind each of the 2 parts that hang over. Put it on \
                 foam adhesive, in the middle from side to side, 1 7/8 from the top. Its cut side lies on the card's edge.",
                "Circle A (5): Cut the piece to shape, a circle 1 1/2 across. Glue a shim of 3 layers of cardstock behind \
                 the part that hangs over. Glue it flat, 3 3/8 from the left, 3 3/4 from the top. When the glue is dry, \
                 open the card and trim what stands over, along the edge of the front.",
                "Last of all put on a heart (2) with its middle 5/8 from the left and 5/8 from the top.",
                "Let the glue dry before the card goes into its envelope. Do not press what lies on foam, nor the marks.",
            ]
        );
        assert_eq!(steps[5].elements, [2]);
    }
}

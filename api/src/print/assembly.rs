//! The order of assembly on paper: the front with its numbers, the layers
//! lifted off one by one, the steps from the base up, and the envelope.

use layout::{CAUTIONS, CHECK_AGAIN, CHECKED, Layout, Making, Shape, Unit, element_svg, front};

use super::badges::badges;
use super::canvas::{Anchor, INK, LINE, SOFT, wrap};
use super::fonts::width;
use super::measured::{Flow, GAP_IN, LINE_IN, LIST_RING_IN, MARGIN_IN, RING_IN, SMALL_IN};
use super::{Page, Paper};

/// Most layers that are drawn lifted: with more, each is a line.
const MOST_LIFTED: usize = 14;
/// Room of the two drawings, in inches.
const DRAWINGS_IN: f64 = 3.6;
/// How far a lying card leans, and how flat it looks.
const LYING: [f64; 2] = [0.35, 0.4];
/// Room for the words beside the lifted layers, in inches.
const WORDS_IN: f64 = 1.35;

/// Pages that tell how one card is put together.
pub(crate) fn assembly(layout: &Layout, making: &Making, paper: Paper) -> Vec<Page> {
    let mut flow = Flow::new(paper.size_in(), true);
    flow.head(layout);
    flow.drawings(layout);
    flow.heading("Put it together, from the base up");
    for (number, step) in making.steps.iter().enumerate() {
        flow.step(number + 1, &step.words);
    }
    flow.heading("With care");
    for words in CAUTIONS {
        flow.paragraph(words);
    }
    flow.heading("Envelope");
    for words in making.envelope_words(layout) {
        flow.paragraph(&words);
    }
    for class in &making.post {
        flow.paragraph(&class.words());
    }
    if !making.post.is_empty() {
        let sources: Vec<String> =
            making.post.iter().map(|class| format!("{}: {}", class.service, class.source)).collect();
        let words = format!("{CHECK_AGAIN} Limits checked in {CHECKED}. {}.", sources.join(". "));
        for line in wrap(&words, SMALL_IN, flow.room(), usize::MAX) {
            flow.line(SMALL_IN, SOFT, &line);
        }
    }
    flow.done()
}

impl Flow {
    /// A step with its number; its further lines stand under the first.
    fn step(&mut self, number: usize, words: &str) {
        const IN_IN: f64 = 0.3;
        let lines = wrap(words, SMALL_IN, self.room() - IN_IN, usize::MAX);
        self.need(LINE_IN * lines.len().min(3) as f64);
        for (index, line) in lines.iter().enumerate() {
            self.need(LINE_IN);
            let baseline = self.y + SMALL_IN;
            if index == 0 {
                let number = format!("{number}.");
                self.canvas.text([MARGIN_IN, baseline], SMALL_IN, Anchor::Start, INK, &number);
            }
            self.canvas.text([MARGIN_IN + IN_IN, baseline], SMALL_IN, Anchor::Start, INK, line);
            self.y += LINE_IN;
        }
        self.y += GAP_IN / 4.0;
    }

    /// The front with numbers, and beside it the same in layers.
    fn drawings(&mut self, layout: &Layout) {
        let half = (self.room() - GAP_IN) / 2.0;
        self.need(DRAWINGS_IN + LINE_IN);
        let top = self.y;
        let card = layout.card.size_in();
        let scale = (half / card[0]).min(DRAWINGS_IN / card[1]).min(1.0);
        let at = [MARGIN_IN + (half - card[0] * scale) / 2.0, top];
        self.canvas.drawing(at, scale, &front(layout, "front"));
        for (index, place) in badges(layout, RING_IN / scale).into_iter().enumerate() {
            if let Some([x, y]) = place {
                self.canvas.badge([at[0] + x * scale, at[1] + y * scale], RING_IN, index + 1);
            }
        }
        let below = self.lifted(layout, [MARGIN_IN + half + GAP_IN, top], half);
        self.y = top + (card[1] * scale).max(below) + GAP_IN / 2.0;
        let words = "Numbers in rings count from the bottom of the stack. Not to scale.";
        self.line(SMALL_IN, SOFT, words);
    }

    /// The layers one over the other, the base lowest. Gives the height.
    fn lifted(&mut self, layout: &Layout, [left, top]: [f64; 2], room: f64) -> f64 {
        let levels = levels(layout);
        if levels.is_empty() || levels.len() > MOST_LIFTED {
            return 0.0;
        }
        let card = layout.card.size_in();
        let [lean, flat] = LYING;
        let scale = ((room - WORDS_IN) / (card[0] + lean * card[1])).min(1.3 / (flat * card[1])).min(1.0);
        let lift = ((DRAWINGS_IN - flat * card[1] * scale) / levels.len() as f64).min(0.45);
        let height = flat * card[1] * scale + lift * levels.len() as f64;
        let corner =
            |level: usize| [left + lean * card[1] * scale, top + lift * (levels.len() - level) as f64];
        let words_at = left + room - WORDS_IN + 0.15;
        let base = Layout { elements: Vec::new(), ..layout.clone() };
        self.canvas.lying(corner(0), scale, LYING, &front(&base, "base"));
        let base_at = [corner(0)[0] + card[0] * scale, corner(0)[1] + 0.04];
        self.lifted_name(base_at, [words_at, base_at[1].max(top + height - 0.3)], None, "card base");
        for (level, indexes) in levels.iter().enumerate() {
            let from = corner(level + 1);
            for &index in indexes {
                self.canvas.lying(from, scale, LYING, &element_svg(&layout.elements[index]));
            }
            let Some(&last) = indexes.last() else { continue };
            let element = &layout.elements[last];
            let [x, y] = [element.frame.right(), element.frame.y].map(|length| length.value(Unit::Inch));
            let y = y + element.frame.height.value(Unit::Inch) / 2.0;
            let place = [from[0] + (x - lean * y) * scale, from[1] + flat * y * scale];
            let is_mark = matches!(element.shape, Shape::Mark { .. });
            let (number, name) = if is_mark {
                (None, if indexes.len() > 1 { "marks" } else { "mark" })
            } else {
                (Some(last + 1), element.name())
            };
            let foam = if element.raised { ", on foam" } else { "" };
            let words_y = top + lift * (levels.len() - level - 1) as f64 + flat * card[1] * scale / 2.0;
            self.lifted_name(place, [words_at, words_y], number, &format!("{name}{foam}"));
        }
        height
    }

    /// What a layer is, at the end of a thin line.
    fn lifted_name(&mut self, from: [f64; 2], [x, y]: [f64; 2], number: Option<usize>, words: &str) {
        self.canvas.line([from, [x - 0.04, y]], LINE, 0.5);
        let mut x = x;
        if let Some(number) = number {
            self.canvas.badge([x + LIST_RING_IN, y], LIST_RING_IN, number);
            x += 2.0 * LIST_RING_IN + 0.06;
        }
        debug_assert!(width(words, SMALL_IN) < 2.0 * WORDS_IN, "{words}");
        self.canvas.text([x, y + SMALL_IN * 0.36], SMALL_IN, Anchor::Start, INK, words);
    }
}

/// What is lifted together: each piece of paper by itself, the marks last and
/// all at once.
fn levels(layout: &Layout) -> Vec<Vec<usize>> {
    let (marks, papers): (Vec<usize>, Vec<usize>) = (0..layout.elements.len())
        .partition(|&index| matches!(layout.elements[index].shape, Shape::Mark { .. }));
    let mut levels: Vec<Vec<usize>> = papers.into_iter().map(|index| vec![index]).collect();
    if !marks.is_empty() {
        levels.push(marks);
    }
    levels
}

//! Which layouts look the same: another photo of a drawing, or another scan of
//! its page. They are compared by what was read, never by their pixels.
//! Method: shapes are paired greedily by the overlap of their boxes
//! (intersection over union, the measure of Jaccard 1901 on areas) on a card of
//! unit sides, and two layouts are alike where nearly every shape of each has a
//! partner of its own kind, whichever way up the two pages lay: a scanner does not
//! know which side of a drawing is its top.

use layout::{Layout, Shape, Unit};

/// Overlap of two boxes that may be one shape read twice: an eighth of an inch
/// each way on a shape of 1 x 2 inches.
const SAME_SHAPE: f64 = 0.75;
/// Share of the shapes of both that have a partner in layouts that are alike.
const ALIKE: f64 = 0.8;
/// Layouts of fewer shapes than this are too plain to be told apart.
const LEAST_SHAPES: usize = 2;
/// The same where one of them may have lain another way up.
const LEAST_TURNED: usize = 3;
/// Card proportions that differ by a larger factor are of different cards.
const SAME_CARD: f64 = 1.03;

/// A layout as it is compared.
struct Look {
    id: i64,
    /// Width over height of the card.
    card: f64,
    /// Kind, and left, top, right and bottom in units of the card.
    shapes: Vec<(u8, [f64; 4])>,
}

impl Look {
    fn of(id: i64, layout: &Layout) -> Look {
        let mm = |length: layout::Length| length.value(Unit::Millimetre);
        let (width, height) = (mm(layout.card.width), mm(layout.card.height));
        let shapes = layout.elements.iter().filter_map(|element| {
            let kind = match element.shape {
                // Marks come and go between photos of a drawing.
                Shape::Mark { .. } => return None,
                Shape::Rectangle { .. } => 0,
                Shape::Circle | Shape::Oval => 1,
                Shape::Banner { .. } => 2,
            };
            let frame = &element.frame;
            let (x, y) = (mm(frame.x) / width, mm(frame.y) / height);
            Some((kind, [x, y, x + mm(frame.width) / width, y + mm(frame.height) / height]))
        });
        Look { id, card: width / height, shapes: shapes.collect() }
    }

    /// The same drawing with its page turned by a quarter, clockwise.
    fn turned(&self) -> Look {
        let turn = |&[x, y, right, bottom]: &[f64; 4]| [1.0 - bottom, x, 1.0 - y, right];
        let shapes = self.shapes.iter().map(|(kind, shape)| (*kind, turn(shape))).collect();
        Look { id: self.id, card: 1.0 / self.card, shapes }
    }

    /// Share of the shapes of both that have a partner, 0 to 1.
    fn likeness(&self, other: &Look) -> f64 {
        let proportion = self.card / other.card;
        if proportion.max(1.0 / proportion) > SAME_CARD {
            return 0.0;
        }
        let (mine, theirs) = (self.shapes.len(), other.shapes.len());
        let most = 2.0 * mine.min(theirs) as f64 / (mine + theirs).max(1) as f64;
        if mine.min(theirs) < LEAST_SHAPES || most < ALIKE {
            return 0.0;
        }
        let mut pairs: Vec<(f64, usize, usize)> = Vec::new();
        for (i, (kind, a)) in self.shapes.iter().enumerate() {
            for (j, (other_kind, b)) in other.shapes.iter().enumerate() {
                let overlap = if kind == other_kind { overlap(a, b) } else { 0.0 };
                if overlap >= SAME_SHAPE {
                    pairs.push((overlap, i, j));
                }
            }
        }
        pairs.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.1, a.2).cmp(&(b.1, b.2))));
        let (mut taken, mut given, mut count) = (vec![false; mine], vec![false; theirs], 0);
        for (_, i, j) in pairs {
            if !taken[i] && !given[j] {
                (taken[i], given[j]) = (true, true);
                count += 1;
            }
        }
        2.0 * f64::from(count) / (mine + theirs) as f64
    }
}

fn overlap(a: &[f64; 4], b: &[f64; 4]) -> f64 {
    let side = |low: usize| (a[low + 2].min(b[low + 2]) - a[low].max(b[low])).max(0.0);
    let area = |r: &[f64; 4]| (r[2] - r[0]) * (r[3] - r[1]);
    let shared = side(0) * side(1);
    shared / (area(a) + area(b) - shared).max(f64::MIN_POSITIVE)
}

/// The layouts of a notebook, to be looked through for one that looks the same.
#[derive(Default)]
pub(crate) struct Gallery {
    looks: Vec<Look>,
}

impl Gallery {
    /// The layout that looks most like this one, if one does; the earliest of equals.
    pub(crate) fn like(&self, layout: &Layout) -> Option<i64> {
        let upright = Look::of(0, layout);
        let quarter = upright.turned();
        let half = quarter.turned();
        let turns = [half.turned(), half, quarter];
        let mut best: Option<(f64, i64)> = None;
        for other in &self.looks {
            let turns = if upright.shapes.len() < LEAST_TURNED { &[] } else { &turns[..] };
            let turned = turns.iter().map(|look| look.likeness(other));
            let likeness = turned.fold(upright.likeness(other), f64::max);
            if likeness >= ALIKE && best.is_none_or(|(most, _)| likeness > most) {
                best = Some((likeness, other.id));
            }
        }
        best.map(|(_, id)| id)
    }

    /// Adds a layout.
    pub(crate) fn add(&mut self, id: i64, layout: &Layout) {
        self.looks.push(Look::of(id, layout));
    }

    /// Takes a layout out, as when it was deleted.
    pub(crate) fn remove(&mut self, id: i64) {
        self.looks.retain(|look| look.id != id);
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn layout(card: &str, shapes: &[(&str, [f64; 4])]) -> Layout {
        let card: layout::Card = card.parse().unwrap();
        let [width, height] = card.size_in();
        let elements: Vec<_> = shapes
            .iter()
            .enumerate()
            .map(|(index, (shape, [x, y, width, height]))| {
                json!({"id": index + 1, "shape": shape, "x": x, "y": y, "width": width, "height": height})
            })
            .collect();
        serde_json::from_value(json!({
            "schema": 1, "unit": "in", "elements": elements,
            "card": {"name": card.name, "width": width, "height": height}
        }))
        .unwrap()
    }

    const PANEL: (&str, [f64; 4]) = ("rectangle", [0.25, 0.25, 3.75, 5.0]);
    const CIRCLE: (&str, [f64; 4]) = ("circle", [1.0, 1.5, 2.0, 2.0]);
    const STRIP: (&str, [f64; 4]) = ("rectangle", [0.25, 3.75, 3.75, 0.5]);

    #[test]
    fn another_photo_of_a_drawing_is_alike_and_another_drawing_is_not() {
        let mut gallery = Gallery::default();
        gallery.add(7, &layout("A2", &[PANEL, CIRCLE, STRIP]));
        let read_again = [
            ("rectangle", [0.25, 0.25, 3.75, 5.125]),
            ("circle", [1.0625, 1.5, 2.0, 2.0]),
            ("rectangle", [0.25, 3.6875, 3.75, 0.5]),
            ("mark", [3.0, 0.5, 0.25, 0.25]),
        ];
        assert_eq!(gallery.like(&layout("A2", &read_again)), Some(7));
        assert_eq!(gallery.like(&layout("A2", &[PANEL, STRIP])), Some(7));
        let moved = ("circle", [2.0, 0.5, 2.0, 2.0]);
        assert_eq!(gallery.like(&layout("A2", &[PANEL, moved, STRIP])), None);
        assert_eq!(gallery.like(&layout("A2", &[PANEL])), None);
        // The page upside down: 4 1/4 - 1 - 2 from the left, 5 1/2 - 1 1/2 - 2 from the top.
        let turned = [
            ("rectangle", [0.25, 0.25, 3.75, 5.0]),
            ("circle", [1.25, 2.0, 2.0, 2.0]),
            ("rectangle", [0.25, 1.25, 3.75, 0.5]),
        ];
        assert_eq!(gallery.like(&layout("A2", &turned)), Some(7));
        assert_eq!(gallery.like(&layout("square", &[PANEL, CIRCLE, STRIP])), None);
        gallery.remove(7);
        assert_eq!(gallery.like(&layout("A2", &[PANEL, CIRCLE, STRIP])), None);
    }

    #[test]
    fn of_two_that_are_alike_the_nearer_one_is_named() {
        let mut gallery = Gallery::default();
        gallery.add(1, &layout("A2", &[PANEL, CIRCLE]));
        gallery.add(2, &layout("A2", &[PANEL, CIRCLE, STRIP]));
        gallery.add(3, &layout("A2", &[PANEL, CIRCLE, STRIP]));
        assert_eq!(gallery.like(&layout("A2", &[PANEL, CIRCLE, STRIP])), Some(2));
        assert_eq!(gallery.like(&layout("A2", &[PANEL, CIRCLE])), Some(1));
    }
}

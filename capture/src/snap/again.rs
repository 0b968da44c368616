//! What a record keeps of a measuring, and settling a record again from it when
//! a person has fixed a size: the drawing is solved anew with that size held,
//! so that what was misread with it comes right too.

use std::array;

use layout::{Element, Layout, Measurement, Shape, Side, SizeReason, Unit};

use super::{Edge, Measured, Options, Snapped, Why, settle};

/// What a record keeps of its elements as they were measured, in the card's
/// unit; `measured` and `settled` go with the elements of `layout`.
pub(crate) fn measurements(layout: &Layout, measured: &[Measured], settled: &Snapped) -> Vec<Measurement> {
    let per_in = per_in(layout.card.unit);
    let elements = layout.elements.iter().zip(measured).zip(&settled.elements);
    elements
        .map(|((element, measured), settled)| Measurement {
            element: element.id,
            sides: measured.sides.map(|side| rounded(side.at * per_in)),
            spreads: measured.sides.map(|side| rounded(side.sd * per_in)),
            seen: measured.sides.map(|side| rounded(side.seen.clamp(0.0, 1.0))),
            width: reason(&settled.why[0], per_in),
            height: reason(&settled.why[1], per_in),
        })
        .collect()
}

/// What a person has decided about a record.
#[derive(Clone, Debug, Default)]
pub struct Decided {
    /// Sizes that are right as the record has them.
    pub sizes: Vec<(u32, Side)>,
    /// Ids of elements that lie right as the record has them.
    pub places: Vec<u32>,
}

/// Settles a record again from what was measured, with what a person decided
/// held fast, and what is written still winning. Elements that were never
/// measured stay as they are, as does everything of an element but its box and
/// the sizes it might have instead.
pub fn settle_again(layout: &Layout, decided: &Decided) -> Layout {
    let per_in = per_in(layout.card.unit);
    let kept = layout.capture.as_ref().map_or(&[][..], |capture| &capture.measured);
    let known = |element: &Element| {
        kept.iter().find(|m| m.element == element.id && !decided.places.contains(&element.id))
    };
    let measured: Vec<Measured> = layout
        .elements
        .iter()
        .map(|element| {
            let [left, top] = [element.frame.x, element.frame.y].map(|at| at.value(Unit::Inch));
            let size = [element.frame.width, element.frame.height];
            let corner_radius_in = match element.shape {
                Shape::Rectangle { corner_radius } => corner_radius.value(Unit::Inch),
                _ => 0.0,
            };
            let (sides, held) = if let Some(seen) = known(element) {
                let side = |i: usize| Edge {
                    at: seen.sides[i] / per_in,
                    sd: (seen.spreads[i] / per_in).clamp(FINEST_IN, VAGUEST_IN),
                    seen: seen.seen[i],
                };
                let written = |side| seen.reason(side).written.is_some();
                let held = |axis: usize| decided.holds(element, SIDES[axis]) || written(SIDES[axis]);
                (array::from_fn(side), array::from_fn(|axis| held(axis).then_some(size[axis])))
            } else {
                let [width, height] = size.map(|size| size.value(Unit::Inch));
                let sides = [left, top, left + width, top + height];
                (sides.map(|at| Edge { at, sd: SURE_IN, seen: 1.0 }), size.map(Some))
            };
            Measured {
                shape: element.shape,
                sides,
                rotation_deg: element.rotation_deg,
                corner_radius_in,
                held,
            }
        })
        .collect();
    let settled = settle(&layout.card, &measured, &Options::default());
    let mut layout = layout.clone();
    let stays: Vec<bool> = layout.elements.iter().map(|element| known(element).is_none()).collect();
    for ((element, snapped), stays) in layout.elements.iter_mut().zip(&settled.elements).zip(&stays) {
        if !stays {
            element.frame = snapped.frame;
            element.alternatives.clone_from(&snapped.alternatives);
        }
    }
    if let Some(capture) = &mut layout.capture {
        for (element, snapped) in layout.elements.iter().zip(&settled.elements) {
            if let Some(seen) = capture.measured.iter_mut().find(|seen| seen.element == element.id) {
                let reasons = [&mut seen.width, &mut seen.height].into_iter().zip(&snapped.why);
                for ((reason, why), side) in reasons.zip(SIDES) {
                    reason.probability = rounded(why.probability);
                    reason.because = words(why);
                    if decided.holds(element, side) {
                        reason.because.insert(0, "fixed by hand".to_owned());
                    }
                }
            }
        }
    }
    layout
}

/// What was placed by a person is known to this, inches: far finer than the grid.
const SURE_IN: f64 = 0.005;

/// No ink is measured finer than this, inches; a record may say so.
const FINEST_IN: f64 = 0.0005;
/// Nor so vaguely: a side that is wholly hidden has about half of this.
const VAGUEST_IN: f64 = 0.05;

const SIDES: [Side; 2] = [Side::Width, Side::Height];

impl Decided {
    /// Whether a size is decided; one side of a circle decides the other.
    fn holds(&self, element: &Element, side: Side) -> bool {
        let round = element.shape == Shape::Circle;
        self.sizes.iter().any(|&(id, other)| id == element.id && (other == side || round))
    }
}

fn reason(why: &Why, per_in: f64) -> SizeReason {
    SizeReason {
        measured: rounded(why.measured_in * per_in),
        spread: rounded(why.sd_in * per_in),
        probability: rounded(why.probability),
        because: words(why),
        written: why.written.clone(),
    }
}

fn words(why: &Why) -> Vec<String> {
    why.habits.iter().map(|(habit, _)| habit.words().to_owned()).collect()
}

fn per_in(unit: Unit) -> f64 {
    if unit == Unit::Millimetre { 25.4 } else { 1.0 }
}

/// To a ten-thousandth: finer than anything that is measured.
fn rounded(value: f64) -> f64 {
    (value * 10_000.0).round() / 10_000.0
}

#[cfg(test)]
mod tests {
    #![expect(clippy::float_cmp, reason = "places on the grid are exact in binary")]

    use layout::{Capture, Card, Frame, Length};

    use super::*;

    /// A record of three squares in a row, a background behind them, and a panel
    /// that was added by hand. The squares are drawn small: two read as 7/8.
    fn row() -> Layout {
        let card: Card = "A2".parse().unwrap();
        let side = |at: f64| Edge { at, sd: 0.004, seen: 1.0 };
        let boxes = [
            [0.13, 0.12, 4.12, 5.38],
            [0.44, 2.02, 1.35, 2.93],
            [1.66, 2.02, 2.56, 2.92],
            [2.89, 2.02, 3.80, 2.93],
        ];
        let measured: Vec<Measured> = boxes
            .iter()
            .map(|sides| Measured {
                shape: Shape::SHARP,
                sides: sides.map(side),
                rotation_deg: 0.0,
                corner_radius_in: 0.0,
                held: [None; 2],
            })
            .collect();
        let settled = settle(&card, &measured, &Options::default());
        let mut layout = Layout::new("", card);
        for (id, snapped) in (1..).zip(&settled.elements) {
            let alternatives = snapped.alternatives.clone();
            layout.elements.push(Element { alternatives, ..Element::new(id, Shape::SHARP, snapped.frame) });
        }
        let measured = measurements(&layout, &measured, &settled);
        layout.capture = Some(Capture { measured, ..Capture::default() });
        let added = Frame {
            x: Length::eighths(3),
            y: Length::eighths(30),
            width: Length::eighths(9),
            height: Length::eighths(5),
        };
        layout.elements.push(Element::new(9, Shape::SHARP, added));
        layout
    }

    fn widths(layout: &Layout) -> Vec<f64> {
        layout.elements.iter().map(|element| element.frame.width.value(Unit::Inch)).collect()
    }

    #[test]
    fn one_size_put_right_puts_its_row_right() {
        let mut layout = row();
        let before = widths(&layout);
        let other = if before[1] == 1.0 { Length::eighths(7) } else { Length::inches(1) };
        layout.elements[1].frame.width = other;
        layout.elements[1].frame.height = other;
        let sizes = vec![(2, Side::Width), (2, Side::Height)];
        let after = settle_again(&layout, &Decided { sizes, places: Vec::new() });
        let size = other.value(Unit::Inch);
        assert_eq!(widths(&after), [before[0], size, size, size, 1.125]);
        let reasons = &after.capture.unwrap().measured;
        assert_eq!(reasons[1].width.because[0], "fixed by hand");
        assert_eq!(reasons[1].width.measured, row().capture.unwrap().measured[1].width.measured);
    }

    #[test]
    fn a_written_size_wins_again() {
        let mut layout = row();
        layout.elements[3].frame.width = Length::eighths(10);
        if let Some(capture) = &mut layout.capture {
            capture.measured[3].width.written = Some("1 1/4".to_owned());
        }
        let after = settle_again(&layout, &Decided::default());
        assert_eq!(after.elements[3].frame.width, Length::eighths(10));
        let width = &after.capture.unwrap().measured[3].width;
        assert!(width.written.is_some() && !width.because.contains(&"fixed by hand".to_owned()));
    }

    #[test]
    fn a_record_that_knows_nothing_of_its_sides_is_answered_soon() {
        let mut layout = row();
        let element = layout.elements[1].clone();
        let measured = layout.capture.as_ref().unwrap().measured[1].clone();
        layout.elements = (1..=24).map(|id| Element { id, ..element.clone() }).collect();
        let vague = |id: u32| {
            let at = f64::from(id) / 10.0;
            let sides = [at, 1.0, at + 1.0, 2.0];
            Measurement { element: id, sides, spreads: [50.0; 4], seen: [0.0; 4], ..measured.clone() }
        };
        layout.capture.as_mut().unwrap().measured = (1..=24).map(vague).collect();
        let begin = std::time::Instant::now();
        assert_eq!(settle_again(&layout, &Decided::default()).elements.len(), 24);
        assert!(begin.elapsed() < std::time::Duration::from_secs(20), "{:?}", begin.elapsed());
    }

    #[test]
    fn with_nothing_decided_nothing_changes() {
        let mut measured = row();
        measured.elements.pop();
        assert_eq!(settle_again(&measured, &Decided::default()), measured);
    }

    #[test]
    fn what_was_placed_or_added_by_hand_stays() {
        let mut layout = row();
        layout.elements[2].frame.x = Length::eighths(11);
        layout.elements[2].frame.y = Length::eighths(3);
        let after = settle_again(&layout, &Decided { sizes: Vec::new(), places: vec![3] });
        assert_eq!(after.elements[2].frame, layout.elements[2].frame);
        assert_eq!(after.elements[4], layout.elements[4]);
    }
}

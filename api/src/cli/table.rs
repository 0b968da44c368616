//! What was read, as a person reads it: one block a layout, one line an element.

use std::fmt::Write;

use layout::{Element, Layout, Shape, Side, Unit};

/// From this confidence on an element is called certain.
const CERTAIN_FROM: f64 = 0.85;
/// From this one likely; the overlay draws what is below it in the colour of doubt.
const LIKELY_FROM: f64 = 0.6;

/// All layouts of a photo.
pub(super) fn page(photo: Option<&str>, layouts: &[Layout], why: bool) -> String {
    let mut text = String::new();
    if let Some(photo) = photo {
        let _ = writeln!(text, "{photo}");
    }
    for (index, layout) in layouts.iter().enumerate() {
        if index > 0 {
            text.push('\n');
        }
        block(&mut text, index + 1, layout, why);
    }
    text
}

fn block(text: &mut String, number: usize, layout: &Layout, why: bool) {
    let unit = layout.card.unit;
    let _ = writeln!(
        text,
        "Layout {number}: card {}, {} x {}",
        layout.card.name,
        layout.card.width.show(unit),
        layout.card.height.show(unit)
    );
    let mut rows =
        vec![["stack", "shape", "size", "from left", "from top", "turned", "sure?", ""].map(String::from)];
    rows.extend(layout.elements.iter().enumerate().map(|(index, element)| row(index + 1, element, layout)));
    aligned(text, &rows);
    if why {
        reasons(text, layout);
    }
    for warning in layout.capture.iter().flat_map(|capture| &capture.warnings) {
        let _ = writeln!(text, "  note: {warning}");
    }
}

/// Of each size one line: what was measured, and what spoke for what it is.
fn reasons(text: &mut String, layout: &Layout) {
    let unit = layout.card.unit;
    let measured = layout.capture.iter().flat_map(|capture| &capture.measured);
    let mut rows = vec![["stack", "side", "size", "measured", "sure", "because"].map(String::from)];
    for seen in measured {
        let Some(place) = layout.elements.iter().position(|element| element.id == seen.element) else {
            continue;
        };
        let element = &layout.elements[place];
        let sides: &[(Side, &str)] = match element.shape {
            Shape::Mark { .. } => &[],
            Shape::Circle => &[(Side::Width, "across")],
            _ => &[(Side::Width, "width"), (Side::Height, "height")],
        };
        for (side, word) in sides {
            let size = if *side == Side::Width { element.frame.width } else { element.frame.height };
            let reason = seen.reason(*side);
            let digits = if unit == Unit::Millimetre { 1 } else { 3 };
            let written = reason.written.iter().map(|text| format!("written “{text}”"));
            let because: Vec<String> = written.chain(reason.because.iter().cloned()).collect();
            rows.push([
                (place + 1).to_string(),
                (*word).to_owned(),
                size.show(unit),
                format!("{:.digits$} ± {:.digits$}", reason.measured, reason.spread),
                format!("{:.0} %", 100.0 * reason.probability),
                if because.is_empty() {
                    "nearest to what was measured".to_owned()
                } else {
                    because.join(", ")
                },
            ]);
        }
    }
    if rows.len() > 1 {
        aligned(text, &rows);
    }
}

fn row(place: usize, element: &Element, layout: &Layout) -> [String; 8] {
    let unit = layout.card.unit;
    let frame = element.frame;
    let place = match place {
        1 if layout.elements.len() > 1 => "1 bottom".to_owned(),
        last if last == layout.elements.len() && last > 1 => format!("{last} top"),
        between => between.to_string(),
    };
    // A mark's position counts, its size is nominal.
    let size = match element.shape {
        Shape::Mark { .. } => String::new(),
        _ => format!("{} x {}", frame.width.show(unit), frame.height.show(unit)),
    };
    let turned =
        if element.rotation_deg == 0.0 { String::new() } else { format!("{:.1}°", element.rotation_deg) };
    [
        place,
        element.shape.word().to_owned(),
        size,
        frame.x.show(unit),
        frame.y.show(unit),
        turned,
        confidence_word(element.confidence).to_owned(),
        alternatives(element, layout),
    ]
}

fn confidence_word(confidence: f64) -> &'static str {
    if confidence >= CERTAIN_FROM {
        "certain"
    } else if confidence >= LIKELY_FROM {
        "likely"
    } else {
        "doubtful"
    }
}

fn alternatives(element: &Element, layout: &Layout) -> String {
    let words: Vec<String> = element
        .alternatives
        .iter()
        .map(|other| {
            let side = match other.side {
                Side::Width => "width",
                Side::Height => "height",
            };
            format!("{side} may be {}", other.size.show(layout.card.unit))
        })
        .collect();
    words.join(", ")
}

/// Writes rows with each column as wide as its widest cell; a column without
/// content below its head is left out.
pub(super) fn aligned<const N: usize>(text: &mut String, rows: &[[String; N]]) {
    let used: Vec<usize> =
        (0..N).filter(|&column| rows.iter().skip(1).any(|row| !row[column].is_empty())).collect();
    let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
    for row in rows {
        let mut line = String::from(" ");
        for &column in &used {
            let _ = write!(line, " {:<width$} ", row[column], width = width(column));
        }
        let _ = writeln!(text, "{}", line.trim_end());
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_told_in_fractions() {
        let layout: Layout = serde_json::from_value(serde_json::json!({
            "schema": 1, "unit": "in", "card": {"name": "A2", "width": 4.25, "height": 5.5},
            "elements": [
                {"id": 1, "shape": "rectangle", "x": 0.125, "y": 0.125, "width": 4.0, "height": 5.25,
                 "confidence": 0.97},
                {"id": 2, "shape": "circle", "x": 1.0625, "y": 1.0, "width": 2.125, "height": 2.125,
                 "confidence": 0.5, "alternatives": [{"side": "width", "size": 2.25, "probability": 0.3}]},
                {"id": 3, "shape": "mark", "x": 3.5, "y": 0.5, "width": 0.25, "height": 0.25, "confidence": 0.7}
            ],
            "capture": {"photo": "", "card_corners_px": [[0, 0], [1, 0], [1, 1], [0, 1]],
                        "warnings": ["the lower edge is in shadow"]}
        }))
        .unwrap();
        let expected = "\
Layout 1: card A2, 4 1/4 x 5 1/2
  stack     shape      size           from left  from top  sure?
  1 bottom  rectangle  4 x 5 1/4      1/8        1/8       certain
  2         circle     2 1/8 x 2 1/8  1 1/16     1         doubtful  width may be 2 1/4
  3 top     mark                      3 1/2      1/2       likely
  note: the lower edge is in shadow
";
        assert_eq!(page(None, &[layout], false), expected);
    }

    #[test]
    fn every_size_has_a_line_that_tells_why() {
        let reason = |measured: f64, because: &[&str]| serde_json::json!({"measured": measured, "spread": 0.021, "probability": 0.934, "because": because});
        let mut height = reason(2.1, &[]);
        height["written"] = "2 1/8".into();
        let layout: Layout = serde_json::from_value(serde_json::json!({
            "schema": 1, "unit": "in", "card": {"name": "A2", "width": 4.25, "height": 5.5},
            "elements": [{"id": 7, "shape": "rectangle", "x": 0.125, "y": 0.125, "width": 4.0, "height": 2.125}],
            "capture": {"photo": "", "card_corners_px": [[0, 0], [1, 0], [1, 1], [0, 1]], "measured": [
                {"element": 7, "sides": [0.1, 0.1, 4.1, 2.2], "spreads": [0.01, 0.01, 0.01, 0.01],
                 "seen": [1, 1, 1, 1], "width": reason(4.03, &["a half-inch size", "centred on the card"]),
                 "height": height}]}
        }))
        .unwrap();
        let expected = "\
  stack  side    size   measured       sure  because
  1      width   4      4.030 ± 0.021  93 %  a half-inch size, centred on the card
  1      height  2 1/8  2.100 ± 0.021  93 %  written “2 1/8”
";
        assert!(page(None, std::slice::from_ref(&layout), true).ends_with(expected));
        assert!(!page(None, &[layout], false).contains("because"));
    }
}

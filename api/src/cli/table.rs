//! What was read, as a person reads it: one block a layout, one line an element.

use std::fmt::Write;

use layout::{Element, Layout, Shape, Side};

/// From this confidence on an element is called certain.
const CERTAIN_FROM: f64 = 0.85;
/// From this one likely; the overlay draws what is below it in the colour of doubt.
const LIKELY_FROM: f64 = 0.6;

/// All layouts of a photo.
pub(super) fn page(photo: Option<&str>, layouts: &[Layout]) -> String {
    let mut text = String::new();
    if let Some(photo) = photo {
        let _ = writeln!(text, "{photo}");
    }
    for (index, layout) in layouts.iter().enumerate() {
        if index > 0 {
            text.push('\n');
        }
        block(&mut text, index + 1, layout);
    }
    text
}

fn block(text: &mut String, number: usize, layout: &Layout) {
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
    for warning in layout.capture.iter().flat_map(|capture| &capture.warnings) {
        let _ = writeln!(text, "  note: {warning}");
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
fn aligned<const N: usize>(text: &mut String, rows: &[[String; N]]) {
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
        assert_eq!(page(None, &[layout]), expected);
    }
}

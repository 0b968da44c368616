//! Records that tests save and send.

use serde_json::{Value, json};

/// A thank-you layout of two elements.
pub fn thank_you(title: &str) -> Value {
    json!({
        "schema": 1, "title": title, "unit": "in",
        "card": {"name": "A2", "width": 4.25, "height": 5.5, "fold": "left"},
        "elements": [
            {"id": 1, "shape": "rectangle", "x": 0.125, "y": 0.125, "width": 4.0, "height": 5.25,
             "rotation": 0.0, "corner_radius": 0.0, "ends": null, "role": "background", "slot": "A",
             "mats": [0.125], "raised": false, "confidence": 0.97, "outline_px": []},
            {"id": 2, "shape": "circle", "x": 1.0625, "y": 1.0, "width": 2.125, "height": 2.125,
             "rotation": 0.0, "corner_radius": 0.0, "ends": null, "role": "focal", "slot": null,
             "mats": [], "raised": true, "confidence": 0.9, "outline_px": []}
        ],
        "notes": "For the Thursday round", "tags": ["thanks", "Edith"]
    })
}

/// The record inside what the service answers.
///
/// # Panics
/// Where something that the service adds is missing.
pub fn record(answer: &Value) -> Value {
    let mut record = answer.clone();
    for key in ["id", "version", "etag", "saved_at", "favourite", "uses", "last_used"] {
        let added = record.as_object_mut().and_then(|record| record.remove(key));
        assert!(added.is_some(), "{key} is missing: {answer}");
    }
    record
}

/// Three papers of a drawer: sheets, a sheet with two faces, a pad.
pub fn papers() -> [Value; 3] {
    [
        json!({"schema": 1, "name": "Kraft card", "width": 8.5, "height": 11, "count": 12, "weight": "cardstock",
               "faces": [{"colour": "brown"}]}),
        json!({"schema": 1, "name": "Ferns", "width": 12, "height": 12, "count": 2,
               "faces": [{"name": "Ferns", "colour": "green", "pattern": "busy", "unusable": {"bottom": 0.5}},
                         {"colour": "cream"}]}),
        json!({"schema": 1, "name": "Little dots", "kind": "pad", "width": 6, "height": 6, "count": 24,
               "faces": [{"colour": "rose", "pattern": "quiet"}]}),
    ]
}

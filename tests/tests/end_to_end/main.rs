//! The built program from outside: at the command line and over HTTP.

#![expect(clippy::unwrap_used, reason = "a test ends where it finds what it did not expect")]

mod archive;
mod bad_input;
mod command_line;
mod demo;
mod description;
mod documents;
mod drawer;
mod durability;
mod hostile;
mod imports;
mod notebook;
mod pairing;
mod photos;
mod pieces;
mod printing;
mod shelf;

use serde_json::{Value, json};
use tests::program::Answer;

/// A thank-you layout of two elements.
fn thank_you(title: &str) -> Value {
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
fn record(answer: &Value) -> Value {
    let mut record = answer.clone();
    for key in ["id", "version", "etag", "saved_at", "favourite", "uses", "last_used"] {
        assert!(record.as_object_mut().unwrap().remove(key).is_some(), "{key} is missing: {answer}");
    }
    record
}

/// An answer that is a problem with this status and these words.
fn check_problem(what: &str, answer: &Answer, status: u16, sentence: &str) {
    let problem = answer.json();
    assert_eq!(answer.status, status, "{what}: {problem}");
    assert_eq!(answer.header("content-type"), "application/problem+json", "{what}");
    assert_eq!(problem["status"], status, "{what}: {problem}");
    let detail = problem["detail"].as_str().unwrap_or_default();
    assert!(detail.contains(sentence), "{what}: expected {sentence:?} in {detail:?}");
    for field in ["type", "title", "instance"] {
        assert!(problem[field].as_str().is_some_and(|text| !text.is_empty()), "{what}: {field} in {problem}");
    }
}

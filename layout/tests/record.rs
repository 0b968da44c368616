//! The record's JSON form: round trips, the published schema, one message per fault.

use layout::{DrawingOptions, Layout, LayoutJson, svg};
use serde_json::{Value, json};

/// A thank-you card with a bit of everything.
fn thank_you() -> Value {
    json!({
        "schema": 1, "title": "Thank you, two strips", "unit": "in",
        "card": {"name": "A2", "width": 4.25, "height": 5.5, "fold": "left"},
        "elements": [
            {"id": 1, "shape": "rectangle", "x": 0.125, "y": 0.125, "width": 4.0, "height": 5.25,
             "rotation": 0.0, "corner_radius": 0.0, "ends": null, "role": "background", "slot": "A",
             "mats": [0.125], "raised": false, "confidence": 0.97, "outline_px": [[10.0, 12.5], [90.0, 12.5]]},
            {"id": 2, "shape": "circle", "x": 1.0625, "y": 1.0, "width": 2.125, "height": 2.125,
             "rotation": 0.0, "corner_radius": 0.0, "ends": null, "role": "focal", "slot": null,
             "mats": [], "raised": true, "confidence": 0.9,
             "alternatives": [{"side": "width", "size": 2.25, "probability": 0.3}], "outline_px": []},
            {"id": 3, "shape": "banner", "x": 0.0, "y": 3.75, "width": 3.0, "height": 0.75,
             "rotation": 0.0, "corner_radius": 0.0, "ends": {"left": "straight", "right": "fishtail", "depth": 0.4375},
             "role": "sentiment", "slot": "B", "mats": [], "raised": false, "confidence": 1.0, "outline_px": []},
            {"id": 4, "shape": "mark", "x": 3.5, "y": 0.5, "width": 0.25, "height": 0.25,
             "rotation": 0.0, "corner_radius": 0.0, "ends": null, "kind": "heart",
             "role": "embellishment", "slot": null, "mats": [], "raised": false, "confidence": 1.0, "outline_px": []}
        ],
        "notes": "For the Thursday round", "tags": ["thanks"],
        "capture": {"photo": "notebook.jpg",
                    "card_corners_px": [[1.0, 2.0], [3.0, 2.0], [3.0, 4.0], [1.0, 4.0]], "warnings": [],
                    "labels": [
                        {"text": "2 1/8 circle", "box_px": [[1.0, 1.0], [2.0, 1.0], [2.0, 1.5], [1.0, 1.5]],
                         "element": 2, "width": 2.125, "height": 2.125},
                        {"text": "for Nora", "box_px": [[1.0, 0.0], [2.0, 0.0], [2.0, 0.5], [1.0, 0.5]],
                         "element": null, "width": null, "height": null}]}
    })
}

#[test]
fn json_round_trips() {
    let layout: Layout = serde_json::from_value(thank_you()).unwrap();
    assert_eq!(serde_json::to_value(&layout).unwrap(), thank_you());
}

/// Records of before labels were read have none.
#[test]
fn a_record_without_labels_still_parses() {
    let mut old = thank_you();
    old["capture"].as_object_mut().unwrap().remove("labels");
    let layout: Layout = serde_json::from_value(old.clone()).unwrap();
    assert!(layout.capture.as_ref().unwrap().labels.is_empty());
    assert_eq!(serde_json::to_value(&layout).unwrap(), old);
}

#[test]
fn the_committed_schema_is_the_generated_one() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/layout.schema.json");
    let generated = serde_json::to_string_pretty(&layout::schema()).unwrap() + "\n";
    if std::env::var_os("UPDATE_REFERENCES").is_some() {
        std::fs::write(path, &generated).unwrap();
    }
    let committed = std::fs::read_to_string(path).unwrap_or_default();
    assert_eq!(committed, generated, "run the tests with UPDATE_REFERENCES=1 and commit layout.schema.json");
}

/// Changes one place of a good record and expects exactly the faults given.
#[expect(clippy::needless_pass_by_value, reason = "rows read better with plain values")]
fn check(pointer: &str, value: Value, faults: &[&str]) {
    let mut record = thank_you();
    *record.pointer_mut(pointer).expect("the place is in the record") = value.clone();
    let json: LayoutJson = serde_json::from_value(record).expect("the form allows the value");
    let got: Vec<String> = match Layout::try_from(json) {
        Ok(_) => Vec::new(),
        Err(faults) => faults.0.iter().map(ToString::to_string).collect(),
    };
    assert_eq!(got, faults, "{pointer} = {value}");
}

#[test]
fn each_fault_has_its_own_message() {
    check("/schema", json!(2), &["schema: this program reads version 1 of the layout form"]);
    check("/capture/labels/0/width", json!(-1.0), &["capture.labels[0].width: sizes are greater than zero"]);
    check("/card/width", json!(-4.25), &["card.width: -4.25 is not a size: sizes are greater than zero"]);
    check("/card/width", json!(4.5), &["card.name: the name is of a card of another size"]);
    check(
        "/card/height",
        json!(40.0),
        &["card: a card side of 40 is out of range: sides are from 1 to 14 inches"],
    );
    check(
        "/card/name",
        json!("A3"),
        &["card.name: use a known card's name, a size like 4x6, or leave it empty"],
    );
    check(
        "/elements/0/width",
        json!(4.03),
        &["elements[0].width: 4.03 is not on the eighth-inch grid: the nearest are 4 and 4 1/8"],
    );
    check(
        "/elements/0/height",
        json!(1e-9),
        &["elements[0].height: 0.000000001 is not a size: sizes are greater than zero"],
    );
    check(
        "/elements/0/height",
        json!(0.0),
        &["elements[0].height: 0 is not a size: sizes are greater than zero"],
    );
    check(
        "/elements/0/x",
        json!(0.1),
        &["elements[0].x: 0.1 is not on the sixteenth-inch grid: the nearest are 1/16 and 1/8"],
    );
    check("/elements/1/id", json!(1), &["elements[1].id: the id 1 is used twice"]);
    check(
        "/elements/1/height",
        json!(2.25),
        &["elements[1].height: a circle is as high as wide; call it an oval"],
    );
    check("/elements/0/slot", json!("4"), &["elements[0].slot: a slot is one letter from A to Z"]);
    check(
        "/elements/0/mats",
        json!([0.1]),
        &["elements[0].mats[0]: 0.1 is not on the eighth-inch grid: the nearest are 0 and 1/8"],
    );
    check("/elements/0/confidence", json!(1.5), &["elements[0].confidence: a confidence is from 0 to 1"]);
    check(
        "/elements/0/rotation",
        json!(270.0),
        &["elements[0].rotation: a rotation is over -180 and at most 180 degrees"],
    );
    check(
        "/elements/1/corner_radius",
        json!(0.125),
        &["elements[1].corner_radius: only a rectangle has a corner radius"],
    );
    check(
        "/elements/0/ends",
        json!({"left": "point", "right": "angled"}),
        &["elements[0].ends: only a banner has ends"],
    );
    check(
        "/elements/2/ends",
        json!({"left": "point", "right": "angled", "depth": 0.0}),
        &["elements[2].ends.depth: ends are cut deeper than nothing"],
    );
}

#[test]
fn all_faults_are_told_at_once() {
    let mut record = thank_you();
    record["elements"][0]["width"] = json!(4.03);
    record["elements"][2]["height"] = json!(-1.0);
    let error = serde_json::from_value::<Layout>(record).unwrap_err().to_string();
    assert!(error.contains("elements[0].width") && error.contains("elements[2].height"), "{error}");
}

#[test]
fn unknown_fields_are_refused() {
    let mut record = thank_you();
    record["colour"] = json!("red");
    assert!(
        serde_json::from_value::<Layout>(record).unwrap_err().to_string().contains("unknown field `colour`")
    );
}

#[test]
fn a_drawing_holds_every_element_and_no_markup_of_the_user() {
    let mut record = thank_you();
    record["title"] = json!("</title><script>alert('x')</script>");
    let layout: Layout = serde_json::from_value(record).unwrap();
    let drawing = svg(&layout, DrawingOptions { sizes: true });
    assert!(!drawing.contains("<script"), "{drawing}");
    for id in 1..=4 {
        assert_eq!(drawing.matches(&format!("data-id=\"{id}\"")).count(), 1, "{drawing}");
    }
    insta::assert_snapshot!(drawing);
}

//! Documents of several pages and photos as phones send them: the samples,
//! at the command line and over HTTP, against the answers beside them.

use std::fs;
use std::path::PathBuf;

use serde_json::{Value, json};
use tests::program::{self, Service};

fn sample(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../sample-images").join(name)
}

/// The answer beside a sample document, one value a page.
fn answers(name: &str) -> Vec<Value> {
    let answer = sample(name).with_extension("json");
    let answer: Value = serde_json::from_slice(&fs::read(answer).unwrap()).unwrap();
    match answer["pages"].as_array() {
        Some(pages) => pages.clone(),
        None => vec![answer],
    }
}

/// What `eighths capture --json` says of a sample; it has to succeed.
fn captured(name: &str, more: &[&str]) -> Value {
    let path = sample(name);
    let output = program::run(&[&["capture", path.to_str().unwrap(), "--json"], more].concat());
    assert_eq!(output.status.code(), Some(0), "{name}: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// Shape and size of everything on a layout but its marks, in order of their names and sizes.
fn shapes(layout: &Value) -> Vec<String> {
    let elements = layout["elements"].as_array().unwrap().iter();
    let told = elements.filter(|element| element["shape"] != "mark").map(|element| {
        let side = |name: &str| element[name].as_f64().unwrap();
        format!("{} {} x {}", element["shape"].as_str().unwrap(), side("width"), side("height"))
    });
    let mut told: Vec<String> = told.collect();
    told.sort();
    told
}

/// How many shapes of the answer's layout were read with exactly their size.
fn right(read: &Value, answer: &Value) -> (usize, usize) {
    let (read, answer) = (shapes(read), shapes(answer));
    (answer.iter().filter(|shape| read.contains(shape)).count(), answer.len())
}

#[test]
fn every_page_of_a_document_is_read_and_says_which_it_is() {
    for name in ["scan-and-lines.pdf", "fax-and-scan.tif"] {
        let read = captured(name, &[]);
        assert_eq!(read["pages"], json!([{"page": 1, "layouts": 1}, {"page": 2, "layouts": 1}]), "{name}");
        for (index, (layout, answer)) in
            read["layouts"].as_array().unwrap().iter().zip(answers(name)).enumerate()
        {
            assert_eq!(layout["capture"]["photo"], format!("{name}#page={}", index + 1));
            let (right, all) = right(layout, &answer["layouts"][0]);
            assert!(right >= all - 1, "{name}, page {}: {:?}", index + 1, shapes(layout));
        }
    }
}

#[test]
fn one_page_can_be_asked_for() {
    let read = captured("scan-and-lines.pdf", &["--page", "2"]);
    assert_eq!(read["pages"], json!([{"page": 2, "layouts": 1}]));
    // Drawn with a ruler: nothing in it is doubtful.
    assert_eq!(shapes(&read["layouts"][0]), shapes(&answers("scan-and-lines.pdf")[1]["layouts"][0]));
}

#[test]
fn pages_that_are_not_there_and_pictures_of_several_pages_are_refused() {
    let path = sample("scan-and-lines.pdf");
    let path = path.to_str().unwrap();
    for (more, code, sentence) in [
        (["--page", "3"], 1, "there is no page 3: the file has pages 1 to 2"),
        (["--page", "0"], 2, "--page"),
        (["--overlay", "out.png"], 1, "there are 2: say which with --page"),
    ] {
        let output = program::run(&[&["capture", path], &more[..]].concat());
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{more:?}: {said}");
        assert!(said.contains(sentence), "{more:?}: {said}");
        assert!(output.stdout.is_empty(), "{more:?}");
    }
}

#[test]
fn a_phones_heic_photo_is_kept_read_and_shown() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let answer = service.photo(&fs::read(sample("phone.heic")).unwrap(), &[("card", "A2")]);
    assert_eq!(answer.status, 201, "{}", answer.json());
    let reading = answer.json();
    assert_eq!((&reading["photo"]["width"], &reading["photo"]["height"]), (&json!(1600), &json!(1200)));
    let (right, all) = right(&reading["layouts"][0], &answers("phone.heic")[0]["layouts"][0]);
    assert!(2 * right >= all, "{:?}", shapes(&reading["layouts"][0]));

    // A browser gets a picture that it can show.
    let id = reading["photo"]["id"].as_str().unwrap();
    let shown = service.get(&format!("/api/photos/{id}?width=640"));
    assert_eq!((shown.status, &shown.body[..3]), (200, b"\xff\xd8\xff".as_slice()));
}

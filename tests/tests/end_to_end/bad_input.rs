//! Everything a user can get wrong: each has its sentence and its status or
//! exit code, and changes nothing.

use std::fs;
use std::path::Path;

use image::{ImageFormat, RgbImage};
use serde_json::{Value, json};
use tests::pictures::{blank_paper, card_with_a_panel, encoded, png_header_of};
use tests::program::{self, Service, files_form, photo_form};

use crate::{check_problem, thank_you};

/// Pictures that cannot be read: name, bytes, status over HTTP, sentence.
fn bad_pictures() -> Vec<(&'static str, Vec<u8>, u16, &'static str)> {
    let jpeg = encoded(&card_with_a_panel(), ImageFormat::Jpeg);
    vec![
        ("empty.jpg", Vec::new(), 422, "the file is empty: send the picture again"),
        (
            "letter.jpg",
            b"Dear Edith, the cards are ready".to_vec(),
            415,
            "use JPEG, PNG, WebP, TIFF, HEIC or PDF",
        ),
        ("leaflet.pdf", b"%PDF-1.7 and so on".to_vec(), 422, "this PDF could not be read: save it again"),
        ("cut.jpg", jpeg[..jpeg.len() / 3].to_vec(), 422, "damaged or cut short"),
        ("header.jpg", jpeg[..12].to_vec(), 422, "damaged or cut short"),
        ("dot.png", encoded(&RgbImage::new(1, 1), ImageFormat::Png), 422, "only 1 x 1 pixels"),
        ("huge.png", png_header_of(30_000, 30_000), 413, "over the limit of 64 megapixels"),
        ("blank.png", encoded(&blank_paper(0), ImageFormat::Png), 422, "no card outline found"),
    ]
}

#[test]
fn the_command_line_refuses_bad_pictures() {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes, _, sentence) in bad_pictures() {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        check_command(&["capture", path.to_str().unwrap(), "--json"], 1, &[name, sentence]);
    }
}

#[test]
fn the_command_line_refuses_wrong_usage() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("card.png");
    fs::write(&path, encoded(&card_with_a_panel(), ImageFormat::Png)).unwrap();
    let photo = path.to_str().unwrap();
    check_command(&["capture"], 2, &["PHOTO"]);
    check_command(&["capture", photo, "--card", "A3"], 2, &["no card is called \"A3\": use A1, A2"]);
    check_command(&["capture", photo, "--card", "-4x6"], 2, &["a card side of -4 is out of range"]);
    check_command(&["capture", photo, "--card", "4.3x6"], 2, &["4.3 is not on the", "grid"]);
    check_command(&["capture", photo, "--frame", "circle"], 2, &["possible values: outline, photo"]);
    check_command(&["capture", photo, "--overlay", "out.gif"], 2, &["end in .png or .jpg"]);
    check_command(&["capture", photo, "--overlay", photo], 2, &["would write over the photo"]);
    check_command(&["capture", photo, photo, "--stages", "out"], 2, &["take one photo"]);
    check_command(&["capture", "no-such.jpg"], 1, &["there is no such file: check the name"]);
    check_command(&["capture", folder.path().to_str().unwrap()], 1, &["this is a folder"]);
    check_command(&["polish"], 2, &["polish"]);
    let data = folder.path().to_str().unwrap();
    check_command(&["serve", "--data", data, "--listen", "here"], 1, &["here is no address to listen at"]);
    check_command(&["serve", "--data", photo], 1, &["cannot be used", "--data"]);
    assert!(fs::read(photo).unwrap().starts_with(b"\x89PNG"), "the photo is as it was");
}

/// Runs the program; it must print nothing as a result, and all words as its complaint.
fn check_command(args: &[&str], code: i32, words: &[&str]) {
    let output = program::run(args);
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(code), "{args:?}: {said}");
    assert_eq!(String::from_utf8(output.stdout).unwrap(), "", "{args:?}");
    for word in words {
        assert!(said.contains(word), "{args:?}: expected {word:?} in {said:?}");
    }
    assert!(!said.contains("panicked"), "{args:?}: {said}");
}

/// A problem: its status, its sentence, its form.
#[test]
fn the_service_refuses_bad_photos() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &["--photo-limit", "1"]);
    for (name, bytes, status, sentence) in bad_pictures() {
        check_problem(name, &service.photo(&bytes, &[]), status, sentence);
    }
    let good = encoded(&card_with_a_panel(), ImageFormat::Png);
    check_problem("card", &service.photo(&good, &[("card", "A3")]), 422, "no card is called \"A3\"");
    check_problem("card", &service.photo(&good, &[("card", "-4x6")]), 422, "out of range");
    check_problem("frame", &service.photo(&good, &[("frame", "round")]), 400, "`outline` or `photo`");
    let large = vec![0xff; 3_000_000];
    check_problem("large", &service.photo(&large, &[]), 413, "over the limit of 1 MB");
    let (kind, form) = photo_form(&good, &[]);
    let post = |kind: &str, body: &[u8]| service.send("POST", "/api/photos", &[("content-type", kind)], body);
    check_problem("no form", &post("image/png", &good), 415, "multipart/form-data");
    check_problem("cut form", &post(&kind, &form[..form.len() / 2]), 400, "send it again");
    check_problem("no boundary", &post("multipart/form-data", &form), 400, "send it again");
    let (kind, form) = photo_form(&good, &[]);
    let other_field = String::from_utf8_lossy(&form).replace("name=\"photo\"", "name=\"picture\"");
    check_problem("field", &post(&kind, other_field.as_bytes()), 400, "the form has no field `photo`");

    check_problem("photo", &service.get("/api/photos/abc"), 404, "no photo has the id abc");
    check_problem("photo", &service.get("/api/photos/..%2Flock"), 404, "no photo has the id ../lock");
    let read = |body: Value| service.json("POST", "/api/photos/abc/read", &[], &body);
    check_problem("read", &read(json!({})), 404, "no photo has the id abc");
    check_problem("read", &read(json!({"corners": [[1, 2]]})), 400, "corners");
    check_problem("read", &read(json!({"colour": "red"})), 400, "unknown field `colour`");

    let kept = service.photo(&good, &[]).json()["photo"]["id"].as_str().unwrap().to_owned();
    let corners = json!({"corners": [[5, 5], [5, 5], [5, 5], [5, 5]]});
    let read = service.json("POST", &format!("/api/photos/{kept}/read"), &[], &corners);
    check_problem("corners", &read, 422, "top-left, top-right, bottom-right, bottom-left");
    check_problem("width", &service.get(&format!("/api/photos/{kept}?width=-1")), 400, "width");
    nothing_lies_about(folder.path());
}

/// No half-written file is left behind.
fn nothing_lies_about(folder: &Path) {
    for part in ["photos", "screen"] {
        for entry in fs::read_dir(folder.join(part)).unwrap() {
            let path = entry.unwrap().path();
            assert!(path.extension().is_none_or(|ending| ending != "part"), "{}", path.display());
        }
    }
}

/// A layout with one place changed.
fn with(pointer: &str, value: Value) -> Value {
    let mut layout = thank_you("Thank you");
    *layout.pointer_mut(pointer).unwrap() = value;
    layout
}

#[test]
fn the_service_refuses_bad_layouts() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let post = |layout: &Value| service.json("POST", "/api/layouts", &[], layout);
    for (pointer, value, at, sentence) in [
        ("/card/name", json!("A3"), "card.name", "use a known card's name"),
        ("/card/width", json!(-4.25), "card.width", "sizes are greater than zero"),
        (
            "/elements/0/width",
            json!(-4),
            "elements[0].width",
            "-4 is not a size: sizes are greater than zero",
        ),
        ("/elements/0/width", json!(4.03), "elements[0].width", "the nearest are 4 and 4 1/8"),
        ("/elements/1/x", json!(0.1), "elements[1].x", "the nearest are 1/16 and 1/8"),
        ("/elements/1/shape", json!("blob"), "elements[1].shape", "unknown variant `blob`"),
        ("/elements/1/id", json!(1), "elements[1].id", "used twice"),
        ("/schema", json!(2), "schema", "version 1"),
    ] {
        let answer = post(&with(pointer, value));
        check_problem(pointer, &answer, 422, sentence);
        let faults = answer.json()["faults"].clone();
        assert_eq!(faults.as_array().map(Vec::len), Some(1), "{faults}");
        assert_eq!(faults[0]["at"], at, "{faults}");
    }
    let mut three = with("/elements/0/width", json!(4.03));
    three["elements"][0]["height"] = json!(0);
    three["elements"][1]["x"] = json!(0.1);
    assert_eq!(post(&three).json()["faults"].as_array().map(Vec::len), Some(3));

    let mut unknown = thank_you("Thank you");
    unknown["colour"] = json!("red");
    check_problem("field", &post(&unknown), 422, "unknown field `colour`");
    check_problem("array", &post(&json!([])), 422, "it was not saved");
    let raw = |kind: &str, body: &[u8]| service.send("POST", "/api/layouts", &[("content-type", kind)], body);
    check_problem(
        "no JSON",
        &raw("application/json", b"{\"schema\": 1"),
        400,
        "correct it and send it again",
    );
    check_problem("two", &raw("application/json", b"{} {}"), 400, "correct it and send it again");
    check_problem("kind", &raw("text/plain", thank_you("a").to_string().as_bytes()), 415, "application/json");
    let long = vec![b' '; 5_000_000];
    check_problem("large", &raw("application/json", &long), 413, "over the limit of 4 MB");
    let query = |query: &str| service.get(&format!("/api/layouts?{query}"));
    for (wrong, sentence) in [
        ("limit=0", "ask for 1 to 200 layouts at a time"),
        ("limit=many", "ask for 1 to 200 layouts at a time"),
        ("after=x", "give the `next` of the part before"),
        ("shapes=circle,blob", "a shape is a panel, strip, circle, oval, banner or mark"),
        (
            "piece=strip&at_most=4.3",
            "4.3 is not on the sixteenth-inch grid: the nearest are 4 1/4 and 4 5/16",
        ),
        ("at_most=-1", "a size is more than nothing: write it like 2 1/2"),
        ("fits=6", "write two sides, like 6x6 or 100x150mm"),
        ("slots=3-1", "write a number or a range, like 2, 1-3 or 3-"),
        ("uses=often", "write a number or a range, like 2, 1-3 or 3-"),
        ("unused_since=spring", "write a day like 2025-11-30"),
        ("favourite=perhaps", "say true or false"),
        ("order=random", "an order is newest, oldest, changed, title, most-used, last-used or forgotten"),
        ("colour=red", "there is no parameter `colour`"),
    ] {
        check_problem(wrong, &query(wrong), 400, sentence);
    }
    let prints = |query: &str| service.get(&format!("/api/layouts/print.pdf?{query}"));
    for (wrong, status, sentence) in [
        ("ids=", 400, "print 1 to 500 layouts at a time"),
        ("ids=one", 400, "give ids of layouts with commas between"),
        ("ids=99", 404, "no layout has the id 99"),
        ("ids=1&per_page=5", 400, "print 1, 2, 4, 6 or 9 layouts on a page"),
        ("ids=1&paper=a3", 400, "a paper is letter or a4"),
        ("per_page=4", 400, "missing field `ids`"),
    ] {
        check_problem(wrong, &prints(wrong), status, sentence);
    }
    for (path, body, status, sentence) in [
        ("deletions", json!({"ids": []}), 400, "name 1 to 10000 layouts"),
        ("deletions", json!({"ids": [99]}), 404, "no layout has the id 99"),
        ("restorations", json!({"ids": ["one"]}), 400, "ids"),
        ("tags", json!({"ids": [99], "add": [" "]}), 400, "each of 1 to 60 characters"),
        ("tags", json!({"ids": [99], "add": ["quick"]}), 404, "no layout has the id 99"),
    ] {
        let answer = service.json("POST", &format!("/api/layouts/{path}"), &[], &body);
        check_problem(path, &answer, status, sentence);
    }
    check_problem("card", &query("card=A3"), 422, "no card is called");
    assert_eq!(service.get("/api/layouts").json()["total"], 0, "nothing was saved");
}

#[test]
fn the_service_refuses_stale_and_blind_writes_and_unknown_places() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let created = service.json("POST", "/api/layouts", &[], &thank_you("Thank you"));
    let first = created.header("etag").to_owned();
    service.json("PUT", "/api/layouts/1", &[("if-match", &first)], &thank_you("Thank you, Ruth"));
    let present = service.get("/api/layouts/1");

    let put = |headers: &[(&str, &str)]| service.json("PUT", "/api/layouts/1", headers, &thank_you("late"));
    let delete = |headers: &[(&str, &str)]| service.send("DELETE", "/api/layouts/1", headers, b"");
    let stale = put(&[("if-match", &first)]);
    check_problem("stale", &stale, 412, "has been saved since you opened it: open it again");
    assert_eq!(
        (stale.header("etag"), &stale.json()["etag"]),
        (present.header("etag"), &present.json()["etag"])
    );
    check_problem("stale", &delete(&[("if-match", &first)]), 412, "has been saved since");
    check_problem("weak", &delete(&[("if-match", "W/\"1-2\"")]), 412, "has been saved since");
    check_problem("other", &put(&[("if-match", "\"2-2\"")]), 412, "has been saved since");
    check_problem("blind", &put(&[]), 428, "If-Match");
    check_problem("blind", &delete(&[]), 428, "If-Match");
    check_problem("unquoted", &delete(&[("if-match", "1-2")]), 400, "in double quotes");
    let restore =
        |headers: &[(&str, &str)]| service.send("POST", "/api/layouts/1/versions/1/restore", headers, b"");
    check_problem("stale", &restore(&[("if-match", &first)]), 412, "has been saved since");
    check_problem("blind", &restore(&[]), 428, "If-Match");

    for (path, sentence) in [
        ("/api/layouts/99", "no layout has the id 99"),
        ("/api/layouts/abc", "no layout has the id abc"),
        ("/api/layouts/99999999999999999999", "no layout has the id 9999"),
        ("/api/layouts/99/versions", "no layout has the id 99"),
        ("/api/layouts/1/versions/7", "layout 1 has no saved version 7"),
        ("/api/layouts/1/versions/x", "layout 1 has no saved version x"),
        ("/api/layouts/99/drawing.svg", "no layout has the id 99"),
        ("/api/cake", "there is nothing at /api/cake"),
        ("/../Cargo.toml", "there is nothing at"),
    ] {
        check_problem(path, &service.get(path), 404, sentence);
    }
    let any = [("if-match", "*")];
    check_problem(
        "id",
        &service.json("PUT", "/api/layouts/99", &any, &thank_you("a")),
        404,
        "no layout has the id 99",
    );
    check_problem(
        "id",
        &service.send("DELETE", "/api/layouts/99", &any, b""),
        404,
        "no layout has the id 99",
    );

    let patch = service.json("PATCH", "/api/layouts/1", &[], &json!({}));
    check_problem("method", &patch, 405, "PATCH cannot be used here");
    assert!(patch.header("allow").contains("PUT"), "{}", patch.header("allow"));
    assert_eq!(service.get("/api/layouts/1").json(), present.json(), "nothing was changed");
}

#[test]
fn who_sends_on_after_a_refusal_hears_it() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let (kind, body) = files_form(&[("scan.png".to_owned(), vec![7; 12_000_000])], &[("open", "maybe")]);
    let refused = service.send("POST", "/api/imports", &[("content-type", &kind)], &body);
    check_problem("an import", &refused, 400, "it is `true` or `false`");
    let page = service.send("POST", "/", &[], b"x");
    check_problem("the page", &page, 405, "POST cannot be used here");
    assert_eq!(page.header("allow"), "GET, HEAD");
}

#[test]
fn pages_of_other_sites_are_kept_out() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let post = |name, value| service.json("POST", "/api/layouts", &[(name, value)], &thank_you("Thank you"));
    let foreign = "comes from a page of another site";
    check_problem("origin", &post("origin", "http://cards.example"), 403, foreign);
    check_problem("origin", &post("origin", "null"), 403, foreign);
    check_problem("origin", &post("origin", "http://127.0.0.1:1"), 403, foreign);
    check_problem("site", &post("sec-fetch-site", "cross-site"), 403, foreign);
    let host = "does not answer to the name";
    check_problem("host", &post("host", "cards.example"), 421, host);
    check_problem(
        "host",
        &service.send("GET", "/api/layouts", &[("host", "cards.example:80")], b""),
        421,
        host,
    );
    assert_eq!(service.get("/api/layouts").json()["total"], 0, "nothing was saved");
    assert_eq!(post("origin", &service.url).status, 201);
    assert_eq!(post("sec-fetch-site", "same-origin").status, 201);
}

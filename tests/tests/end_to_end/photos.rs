//! Photos: kept, read, shown.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use image::ImageFormat;
use serde_json::{Value, json};
use tests::pictures::{blank_paper, card_with_a_panel, encoded};
use tests::program::{Service, photo_form};

#[test]
fn a_photo_is_read_kept_and_shown() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let answer = service.photo(&encoded(&card_with_a_panel(), ImageFormat::Png), &[("card", "A2")]);
    assert_eq!(answer.status, 201, "{}", answer.json());
    let reading = answer.json();
    let id = reading["photo"]["id"].as_str().unwrap().to_owned();
    assert_eq!(answer.header("location"), format!("/api/photos/{id}"));
    assert_eq!((&reading["photo"]["width"], &reading["photo"]["height"]), (&json!(625), &json!(750)));
    assert_eq!(service.get(&format!("/api/photos/{id}/size")).json(), reading["photo"]);
    assert_eq!(service.get("/api/photos/0123/size").status, 404);
    check_the_panel(&reading, &id);

    let corners = json!([[100, 100], [525, 100], [525, 650], [100, 650]]);
    let again = service.json("POST", &format!("/api/photos/{id}/read"), &[], &json!({"corners": corners}));
    assert_eq!(again.status, 200, "{}", again.json());
    check_the_panel(&again.json(), &id);

    // What was read can be saved as it is.
    let saved = service.json("POST", "/api/layouts", &[], &reading["layouts"][0]);
    assert_eq!(saved.status, 201, "{}", saved.json());
}

#[test]
fn a_size_put_right_is_held_and_the_rest_is_settled_again() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let answer = service.photo(&encoded(&card_with_a_panel(), ImageFormat::Png), &[]);
    let mut layout = answer.json()["layouts"][0].clone();
    let reason = &layout["capture"]["measured"][0]["width"];
    assert!((reason["measured"].as_f64().unwrap() - 3.25).abs() < 0.05, "{layout}");
    layout["elements"][0]["width"] = json!(3.0);
    let sizes = json!([{"element": 1, "side": "width"}]);
    let again = service.json("POST", "/api/settle", &[], &json!({"layout": layout, "sizes": sizes}));
    assert_eq!(again.status, 200, "{}", again.json());
    let settled = again.json();
    let panel = &settled["layout"]["elements"][0];
    assert_eq!((&panel["width"], &panel["height"]), (&json!(3.0), &json!(4.5)), "{panel}");
    assert_eq!(panel["x"], 0.625, "it stays in the middle of the card: {panel}");
    assert_eq!(settled["changed"], json!([1]));

    let wrong = json!([{"element": 7, "side": "width"}]);
    let refused = service.json("POST", "/api/settle", &[], &json!({"layout": layout, "sizes": wrong}));
    assert_eq!(refused.status, 400, "{}", refused.json());
    assert!(refused.json().to_string().contains("no element 7"), "{}", refused.json());
}

/// The picture shows an A2 card with a panel 1/2 in inside it.
fn check_the_panel(reading: &Value, photo: &str) {
    let layouts = reading["layouts"].as_array().unwrap();
    assert_eq!(layouts.len(), 1, "{reading}");
    let layout = &layouts[0];
    assert_eq!(layout["capture"]["photo"], photo);
    assert_eq!(layout["card"]["name"], "A2");
    let panel = &layout["elements"][0];
    let sizes: Vec<_> = ["x", "y", "width", "height"].map(|side| panel[side].as_f64().unwrap()).into();
    assert_eq!(sizes, [0.5, 0.5, 3.25, 4.5], "{layout}");
}

#[test]
fn a_photo_without_a_card_is_kept_so_that_its_corners_can_be_shown() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let answer = service.photo(&encoded(&blank_paper(9), ImageFormat::Png), &[]);
    assert_eq!(answer.status, 422);
    let photo = answer.json()["photo"].clone();
    assert_eq!((&photo["width"], &photo["height"]), (&json!(400), &json!(300)), "{}", answer.json());
    let place = format!("/api/photos/{}", photo["id"].as_str().unwrap());
    let shown = service.get(&place);
    assert_eq!((shown.status, shown.header("content-type")), (200, "image/jpeg"));
}

#[test]
fn a_photo_is_shown_in_the_size_of_the_screen() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let answer = service.photo(&encoded(&blank_paper(7), ImageFormat::Png), &[]);
    let id = answer.json()["photo"]["id"].as_str().unwrap().to_owned();
    for (asked, width, height) in [("?width=100", 160, 120), ("?width=320", 320, 240), ("", 400, 300)] {
        let shown = service.get(&format!("/api/photos/{id}{asked}"));
        let picture = image::load_from_memory_with_format(&shown.body, ImageFormat::Jpeg).unwrap();
        assert_eq!((picture.width(), picture.height()), (width, height), "{asked}");
        let known = [("if-none-match", shown.header("etag"))];
        assert_eq!(service.send("GET", &format!("/api/photos/{id}{asked}"), &known, b"").status, 304);
    }
}

/// One reader that a slow sender keeps busy, and no queue.
#[test]
fn a_full_queue_sends_away_for_a_while_and_serves_the_rest() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &["--workers", "1", "--queue", "0"]);
    let picture = encoded(&blank_paper(5), ImageFormat::Png);
    let (kind, body) = photo_form(&picture, &[]);
    let address = service.url.strip_prefix("http://").unwrap();
    let mut slow = TcpStream::connect(address).unwrap();
    write!(
        slow,
        "POST /api/photos HTTP/1.1\r\nhost: {address}\r\ncontent-type: {kind}\r\ncontent-length: {}\r\n\
         connection: close\r\n\r\n",
        body.len()
    )
    .unwrap();
    slow.write_all(&body[..body.len() / 2]).unwrap();
    slow.flush().unwrap();

    // The slow one has to come first: sent while another is read, it would be
    // the one that is turned away.
    std::thread::sleep(Duration::from_secs(1));
    let begun = Instant::now();
    let busy = loop {
        let answer = service.photo(&picture, &[]);
        // Until the slow request has arrived, this one may be served.
        if answer.status == 503 || begun.elapsed() > Duration::from_secs(10) {
            break answer;
        }
    };
    assert_eq!(busy.status, 503, "{}", busy.json());
    assert_eq!(busy.header("retry-after"), "2");
    assert_eq!(busy.header("content-type"), "application/problem+json");
    assert!(busy.json()["detail"].as_str().unwrap().contains("try again in a few seconds"));
    assert_eq!(service.get("/api/health").status, 200);
    assert_eq!(service.get("/api/layouts").status, 200);

    // The slow one is served to its end, and makes room.
    slow.write_all(&body[body.len() / 2..]).unwrap();
    let mut answer = String::new();
    slow.read_to_string(&mut answer).unwrap();
    assert!(answer.starts_with("HTTP/1.1 422"), "{answer}");
    assert_ne!(service.photo(&picture, &[]).status, 503);
}

#[test]
fn accepted_work_is_done_before_the_service_stops() {
    let folder = tempfile::tempdir().unwrap();
    let mut service = Service::start(folder.path(), &[]);
    let (kind, body) = photo_form(&encoded(&blank_paper(3), ImageFormat::Png), &[]);
    let address = service.url.strip_prefix("http://").unwrap();
    let mut slow = TcpStream::connect(address).unwrap();
    write!(
        slow,
        "POST /api/photos HTTP/1.1\r\nhost: {address}\r\ncontent-type: {kind}\r\ncontent-length: {}\r\n\r\n",
        body.len()
    )
    .unwrap();
    slow.write_all(&body[..20]).unwrap();
    std::thread::sleep(Duration::from_millis(200));
    let rest = std::thread::spawn(move || {
        std::thread::sleep(Duration::from_millis(300));
        slow.write_all(&body[20..]).unwrap();
        let mut answer = String::new();
        slow.read_to_string(&mut answer).unwrap();
        answer
    });
    assert_eq!(service.stop(), Some(0));
    let answer = rest.join().unwrap();
    assert!(answer.starts_with("HTTP/1.1 422") && answer.contains("\"photo\""), "{answer}");
}

//! Finding layouts over HTTP, favourites and uses, several at once, and the
//! time a search of a large notebook takes.

use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tests::program::Service;

use crate::{record, thank_you};

fn titles(service: &Service, query: &str) -> Vec<String> {
    let answer = service.get(&format!("/api/layouts?{query}"));
    assert_eq!(answer.status, 200, "{query}: {}", answer.json());
    let answer = answer.json();
    let layouts = answer["layouts"].as_array().unwrap();
    layouts.iter().map(|layout| layout["title"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn layouts_are_found_by_what_is_on_them() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let mut strip = thank_you("Get well, with a strip");
    strip["tags"] = json!(["quick"]);
    strip["elements"][1] =
        json!({"id": 2, "shape": "rectangle", "x": 0, "y": 2, "width": 4.25, "height": 1.25, "slot": "B"});
    service.json("POST", "/api/layouts", &[], &strip);
    service.json("POST", "/api/layouts", &[], &thank_you("Thank you, round"));
    let [strip, round] = ["Get well, with a strip", "Thank you, round"];
    for (query, expected) in [
        ("", &[round, strip][..]),
        ("order=oldest", &[strip, round]),
        ("order=title", &[strip, round]),
        ("shapes=circle", &[round]),
        ("shapes=circle,strip", &[]),
        ("text=strip", &[strip]),
        ("text=edith", &[round]),
        ("piece=strip&at_most=2%201/2", &[strip]),
        ("piece=strip&at_most=1", &[]),
        ("slots=2", &[strip]),
        ("slots=1-", &[round, strip]),
        ("fits=6x6", &[round, strip]),
        ("fits=4x4", &[]),
        ("tags=quick", &[strip]),
        ("tag=thanks&text=round", &[round]),
        ("uses=0&favourite=false&unused_since=2025-01-01", &[round, strip]),
        ("favourite=true", &[]),
    ] {
        assert_eq!(titles(&service, query), expected, "{query}");
    }
    assert_eq!(
        service.get("/api/tags").json(),
        json!({"tags": [{"tag": "edith", "layouts": 1}, {"tag": "quick", "layouts": 1}, {"tag": "thanks", "layouts": 1}]})
    );
}

#[test]
fn favourites_and_uses_leave_the_record_alone() {
    let folder = tempfile::tempdir().unwrap();
    let mut service = Service::start(folder.path(), &[]);
    let created = service.json("POST", "/api/layouts", &[], &thank_you("Thank you"));
    let place = created.header("location").to_owned();
    let marked = service.send("PUT", &format!("{place}/favourite"), &[], b"");
    assert_eq!(
        (marked.status, marked.json()),
        (200, json!({"favourite": true, "uses": 0, "last_used": null}))
    );
    let none = service.send("DELETE", &format!("{place}/uses"), &[], b"");
    assert_eq!(none.status, 404);
    assert!(none.json()["detail"].as_str().unwrap().contains("has no use to take back"));
    service.send("POST", &format!("{place}/uses"), &[], b"");
    let used = service.send("POST", &format!("{place}/uses"), &[], b"").json();
    assert_eq!(used["uses"], 2);
    assert_eq!(service.send("DELETE", &format!("{place}/uses"), &[], b"").json()["uses"], 1);
    // Answered means on disk: also here.
    service.kill();
    let service = Service::start(folder.path(), &[]);
    let shown = service.get(&place);
    assert_eq!((shown.header("etag"), &shown.json()["version"]), (created.header("etag"), &json!(1)));
    assert_eq!(record(&shown.json()), thank_you("Thank you"));
    assert_eq!((&shown.json()["favourite"], &shown.json()["uses"]), (&json!(true), &json!(1)));
    // What was shown, shelf and all, is still a record that can be sent.
    let again = service.json("PUT", &place, &[("if-match", shown.header("etag"))], &shown.json());
    assert_eq!((again.status, &again.json()["favourite"]), (200, &json!(true)));
    assert_eq!(service.send("DELETE", &format!("{place}/favourite"), &[], b"").json()["favourite"], false);
}

#[test]
fn several_are_tagged_deleted_and_brought_back_together() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    for title in ["one", "two", "three"] {
        service.json("POST", "/api/layouts", &[], &thank_you(title));
    }
    let post = |what: &str, body: Value| service.json("POST", &format!("/api/layouts/{what}"), &[], &body);
    let tagged = post("tags", json!({"ids": [1, 3], "add": ["quick"], "remove": ["edith"]}));
    assert_eq!((tagged.status, &tagged.json()["layouts"][1]["etag"]), (200, &json!("\"3-2\"")));
    assert_eq!(titles(&service, "tag=quick&order=oldest"), ["one", "three"]);
    assert_eq!(titles(&service, "tag=edith"), ["two"]);
    assert_eq!(post("deletions", json!({"ids": [1, 2]})).status, 200);
    assert_eq!(titles(&service, ""), ["three"]);
    // One that is not there stops all of it.
    assert_eq!(post("deletions", json!({"ids": [3, 99]})).status, 404);
    assert_eq!(titles(&service, ""), ["three"]);
    assert_eq!(post("restorations", json!({"ids": [1, 2]})).json()["layouts"].as_array().unwrap().len(), 2);
    assert_eq!(titles(&service, "order=oldest"), ["one", "two", "three"]);
}

/// What a search of 300 layouts may take over HTTP. The bench of 5,000 stands
/// beside the store; here the question is whether anything between it and the
/// client is slow.
#[test]
fn a_search_is_answered_in_a_moment() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    for number in 0..300 {
        service.json("POST", "/api/layouts", &[], &thank_you(&format!("Thank you {number}")));
    }
    let best = (0..5)
        .map(|_| {
            let begun = Instant::now();
            assert_eq!(titles(&service, "text=thank&shapes=circle&limit=60").len(), 60);
            begun.elapsed()
        })
        .min()
        .unwrap();
    assert!(best < Duration::from_millis(150), "{best:?}");
}

//! The demo notebook, read at the first start by the same pipeline as any photo.

use std::time::{Duration, Instant};

use serde_json::Value;
use tests::program::Service;

/// The notebook's layouts once there are as many as wanted, or as time allows.
fn layouts(service: &Service, wanted: usize) -> Vec<Value> {
    let begun = Instant::now();
    loop {
        let layouts = service.get("/api/layouts?limit=200").json()["layouts"].as_array().unwrap().clone();
        if layouts.len() >= wanted || begun.elapsed() > Duration::from_mins(1) {
            return layouts;
        }
        std::thread::sleep(Duration::from_millis(100));
    }
}

#[test]
fn the_demo_fills_an_empty_notebook_once() {
    let folder = tempfile::tempdir().unwrap();
    let mut service = Service::start(folder.path(), &["--demo"]);
    // Stopped half-way, it goes on at the next start.
    assert!(!layouts(&service, 1).is_empty());
    service.stop();
    let mut service = Service::start(folder.path(), &["--demo"]);
    let found = layouts(&service, 8);
    assert!(found.len() >= 8, "{} layouts", found.len());
    for layout in &found {
        assert!(!layout["title"].as_str().unwrap().is_empty(), "{layout}");
        assert!(!layout["elements"].as_array().unwrap().is_empty(), "{layout}");
        let photo = layout["capture"]["photo"].as_str().unwrap();
        assert_eq!(service.get(&format!("/api/photos/{photo}?width=160")).status, 200, "{layout}");
    }
    let mut titles: Vec<&str> = found.iter().map(|layout| layout["title"].as_str().unwrap()).collect();
    titles.sort_unstable();
    let count = titles.len();
    titles.dedup();
    assert_eq!(titles.len(), count, "no picture is read twice");
    assert_eq!(service.get("/api/papers").json()["total"], 7, "the card table's drawer, once");
    service.stop();
}

/// What the maker threw out of the demo stays out.
#[test]
fn a_notebook_in_use_is_not_filled() {
    let folder = tempfile::tempdir().unwrap();
    let mut service = Service::start(folder.path(), &[]);
    service.json("POST", "/api/layouts", &[], &crate::thank_you("my own"));
    service.stop();
    let service = Service::start(folder.path(), &["--demo"]);
    std::thread::sleep(Duration::from_secs(2));
    assert_eq!(service.get("/api/layouts").json()["total"], 1);
}

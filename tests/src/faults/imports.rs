//! An import of many files is killed again and again: it ends as one that
//! nobody killed, no file done twice and none left out.

use std::path::Path;
use std::time::{Duration, Instant};

use image::ImageFormat;
use serde_json::Value;

use super::{Survived, assert_whole, moment};
use crate::pictures::{card_with_a_panel_of, encoded};
use crate::program::{Service, files_form};
use crate::random::Random;

/// Files of one import.
const FILES: u32 = 40;
/// The service is killed before so long has passed.
const LATEST: Duration = Duration::from_millis(700);

/// Kills an import until it was killed so often; a new one begins when one ends.
pub fn imports(kills: u64) -> Survived {
    let files: Vec<(String, Vec<u8>)> = (0..FILES)
        .map(|index| {
            let picture = card_with_a_panel_of(200 + 4 * index, 300 + 5 * (index % 7));
            (format!("scan {index:02}.png"), encoded(&picture, ImageFormat::Png))
        })
        .collect();
    let expected = {
        let folder = tempfile::tempdir().expect("a folder can be made");
        let service = Service::start(folder.path(), &["--workers", "2"]);
        begin(&service, &files);
        ended(&service)
    };
    let mut random = Random(47);
    let mut survived = Survived::default();
    while survived.kills < kills {
        let folder = tempfile::tempdir().expect("a folder can be made");
        let mut service = Service::start(folder.path(), &["--workers", "2"]);
        begin(&service, &files);
        while survived.kills < kills && !is_done(&service) {
            std::thread::sleep(moment(&mut random, LATEST));
            service.kill();
            survived.kills += 1;
            service = Service::start(folder.path(), &["--workers", "2"]);
        }
        assert_eq!(ended(&service), expected, "an import that was killed ended otherwise");
        survived.acknowledged += u64::from(FILES);
        drop(service);
        assert_whole(folder.path());
        assert_none_twice(folder.path());
    }
    survived
}

fn begin(service: &Service, files: &[(String, Vec<u8>)]) {
    let (kind, body) = files_form(files, &[("card", "A2"), ("open", "false")]);
    let begun = service.send("POST", "/api/imports", &[("content-type", &kind)], &body);
    assert_eq!(begun.status, 202, "{}", begun.json());
}

fn is_done(service: &Service) -> bool {
    service.get("/api/imports/1").json()["state"] == "done"
}

/// Each file's name, and the outcome and the layouts' numbers of its pages.
fn ended(service: &Service) -> Vec<[Value; 2]> {
    let begun = Instant::now();
    while !is_done(service) {
        assert!(begun.elapsed() < Duration::from_mins(3), "the import does not end");
        std::thread::sleep(Duration::from_millis(50));
    }
    let files = service.get("/api/imports/1/files?limit=500").json();
    let list = files["files"].as_array().expect("files are listed");
    list.iter().map(|file| [file["name"].clone(), file["pages"].clone()]).collect()
}

/// No more layouts are kept than files came.
fn assert_none_twice(data: &Path) {
    let service = Service::start(data, &[]);
    let total = service.get("/api/layouts?limit=1").json()["total"].as_u64();
    assert_eq!(total, Some(u64::from(FILES)), "a file was done twice, or not at all");
}

//! Acknowledged means on disk: whatever was answered is there after `kill -9`.

use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use image::ImageFormat;
use serde_json::Value;

use super::{Survived, assert_whole};
use crate::pictures::{blank_paper, encoded};
use crate::program::{Client, Service};
use crate::records::{record, thank_you};

const UNPOISONED: &str = "a writer that panics ends the run";
const WRITERS: u64 = 3;

/// What a writer was told.
#[derive(Debug)]
enum Told {
    /// This version of this layout is saved.
    Saved { place: String, etag: String, record: Value },
    /// The layout is deleted.
    Deleted { place: String },
    /// The photo is kept.
    Photo { id: String },
}

/// Several writers save, change and delete layouts and send photos; the
/// service is killed in the middle of it.
pub fn saves(rounds: u64) -> Survived {
    let folder = tempfile::tempdir().expect("a folder can be made");
    let mut told = Vec::new();
    let mut service = Service::start(folder.path(), &[]);
    for round in 0..rounds {
        let before = told.len();
        told.extend(write_until_killed(&mut service, round));
        assert!(told.len() > before, "round {round} saved nothing");
        service = Service::start(folder.path(), &[]);
        for told in &told[before..] {
            check(&service, round, told);
        }
    }
    for told in &told {
        check(&service, rounds, told);
    }
    drop(service);
    assert_whole(folder.path());
    Survived { kills: rounds, acknowledged: told.len() as u64 }
}

/// Several writers at once; some time after the first answer the service is killed.
fn write_until_killed(service: &mut Service, round: u64) -> Vec<Told> {
    let (told, stop) = (Mutex::new(Vec::new()), AtomicBool::new(false));
    std::thread::scope(|scope| {
        // The service is killed through its own handle, so the writers get only what they need.
        let client = service.client();
        for writer in 0..WRITERS {
            let (client, told, stop) = (client.clone(), &told, &stop);
            scope.spawn(move || {
                let mut count = 0;
                while !stop.load(Ordering::Relaxed) {
                    count += 1;
                    let title = format!("round {round}, writer {writer}, {count}");
                    let Some(news) = write_one(&client, &title, round, count) else { return };
                    told.lock().expect(UNPOISONED).extend(news);
                }
            });
        }
        while told.lock().expect(UNPOISONED).is_empty() {
            std::thread::yield_now();
        }
        // Every other round right after the first answer, else somewhere in the stream of them.
        if round % 2 == 1 {
            std::thread::sleep(Duration::from_millis(round * 7 % 40));
        }
        service.kill();
        stop.store(true, Ordering::Relaxed);
    });
    told.into_inner().expect(UNPOISONED)
}

/// One new layout; now and then also a change, a deletion or a photo.
/// `None` when the connection broke: nothing was promised then.
fn write_one(client: &Client, title: &str, round: u64, count: u64) -> Option<Vec<Told>> {
    let mut news = Vec::new();
    if count % 3 == 2 {
        let shade = u8::try_from((round * 31 + count) % 256).unwrap_or(0);
        let kept = client.photo(&encoded(&blank_paper(shade), ImageFormat::Png), &[]).ok()?;
        let id = kept.json()["photo"]["id"].as_str().map(str::to_owned);
        news.push(Told::Photo { id: id.unwrap_or_else(|| panic!("{}", kept.json())) });
        return Some(news);
    }
    let created = client.json("POST", "/api/layouts", &[], &thank_you(title)).ok()?;
    assert_eq!(created.status, 201, "{}", created.json());
    let place = created.header("location").to_owned();
    let etag = created.header("etag").to_owned();
    if !count.is_multiple_of(4) {
        news.push(Told::Saved { place, etag, record: thank_you(title) });
        return Some(news);
    }
    let changed = thank_you(&format!("{title}, changed"));
    let updated = client.json("PUT", &place, &[("if-match", &etag)], &changed).ok()?;
    assert_eq!(updated.status, 200, "{}", updated.json());
    let etag = updated.header("etag").to_owned();
    if !count.is_multiple_of(8) {
        news.push(Told::Saved { place, etag, record: changed });
        return Some(news);
    }
    let deleted = client.send("DELETE", &place, &[("if-match", &etag)], b"").ok()?;
    assert_eq!(deleted.status, 204, "{}", deleted.json());
    news.push(Told::Deleted { place });
    Some(news)
}

fn check(service: &Service, round: u64, told: &Told) {
    match told {
        Told::Saved { place, etag, record: saved } => {
            let found = service.get(place);
            assert_eq!(found.status, 200, "after round {round}: {told:?}");
            assert_eq!((found.header("etag"), &record(&found.json())), (etag.as_str(), saved));
        }
        Told::Deleted { place } => {
            assert_eq!(service.get(place).status, 404, "after round {round}: {told:?}");
            let versions = service.get(&format!("{place}/versions")).json();
            assert_eq!(versions["versions"].as_array().map(Vec::len), Some(3), "{versions}");
        }
        Told::Photo { id } => {
            let found = service.get(&format!("/api/photos/{id}?width=160"));
            assert_eq!(found.status, 200, "after round {round}: {told:?}");
        }
    }
}

//! A batch is said to be cut, or a cutting is taken back, and the plug is
//! pulled: the drawer has all of it or nothing.

use std::time::Duration;

use serde_json::{Value, json};

use super::{Survived, assert_whole, moment};
use crate::program::Service;
use crate::random::Random;
use crate::records::{papers, thank_you};

/// Later than a cutting takes, so that about half of them are answered.
const LATEST: Duration = Duration::from_millis(40);

/// Cuts a batch, or takes its cutting back, while the service is killed.
pub fn batches(rounds: u64) -> Survived {
    let folder = tempfile::tempdir().expect("a folder can be made");
    let mut random = Random(31);
    let mut service = Service::start(folder.path(), &[]);
    let place = planned(&service);
    let before = drawer(&service);
    let cut_place = format!("{place}/cut");
    assert_eq!(cut(&service, &cut_place), 200);
    let after = drawer(&service);
    assert_ne!(before, after, "cutting takes paper");
    let mut is_cut = true;
    let mut survived = Survived::default();
    for round in 0..rounds {
        let wanted = !is_cut;
        let client = service.client();
        let wait = moment(&mut random, LATEST);
        let answered = std::thread::scope(|scope| {
            let asked = scope.spawn(|| {
                let sent = if wanted {
                    client.send("PUT", &cut_place, &[("if-match", "*")], b"")
                } else {
                    client.send("DELETE", &cut_place, &[], b"")
                };
                // A broken connection promised nothing.
                sent.ok().map(|answer| answer.status)
            });
            std::thread::sleep(wait);
            service.kill();
            asked.join().expect("a request does not panic")
        });
        service = Service::start(folder.path(), &[]);
        let now = drawer(&service);
        is_cut = now == after;
        assert!(is_cut || now == before, "round {round}: a cutting was half done: {now:?}");
        if let Some(status) = answered {
            assert!(status == 200 || status == 204, "round {round}: {status}");
            assert_eq!(is_cut, wanted, "round {round}: what was answered is lost");
            survived.acknowledged += 1;
        }
        let told = service.get(&place).json();
        assert_eq!(told["cut_at"].is_string(), is_cut, "round {round}: {told}");
        survived.kills += 1;
    }
    drop(service);
    assert_whole(folder.path());
    survived
}

/// A batch with a plan; its address.
fn planned(service: &Service) -> String {
    for paper in papers() {
        assert_eq!(service.json("POST", "/api/papers", &[], &paper).status, 201);
    }
    let layout =
        service.json("POST", "/api/layouts", &[], &thank_you("Thank you, Edith")).json()["id"].clone();
    let asked = json!({"schema": 1, "title": "Thursday round", "layouts": [{"layout": layout, "cards": 4}],
                       "papers": [{"layout": layout, "supply": "A", "paper": 2}]});
    let place = service.json("POST", "/api/batches", &[], &asked).header("location").to_owned();
    assert_eq!(service.send("POST", &format!("{place}/plan?rounds=100"), &[], b"").status, 200);
    place
}

fn cut(service: &Service, place: &str) -> u16 {
    service.send("PUT", place, &[("if-match", "*")], b"").status
}

/// Each paper's name, size and sheets, without those that are gone.
fn drawer(service: &Service) -> Vec<[Value; 4]> {
    let papers = service.get("/api/papers?limit=500").json();
    let list = papers["papers"].as_array().expect("papers are listed");
    let mut all: Vec<[Value; 4]> =
        list.iter().map(|paper| ["name", "width", "height", "count"].map(|key| paper[key].clone())).collect();
    all.sort_by_key(|paper| format!("{paper:?}"));
    all
}

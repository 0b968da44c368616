//! Leaving and coming back: the whole notebook as one file, and an exact copy
//! of the data folder while it is served.

use std::collections::BTreeMap;
use std::fs;
use std::io::{Cursor, Read, Write};
use std::path::Path;

use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use tests::program::{Service, run};
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

use crate::drawer::{batch, with_drawer};
use crate::thank_you;

/// A notebook with everything in it: versions, a deletion, a favourite, uses,
/// photos, papers that changed, a batch that was cut.
fn fill(service: &Service) {
    with_drawer(service);
    let place = batch(service, 4);
    assert_eq!(service.send("POST", &format!("{place}/plan?rounds=100"), &[], b"").status, 200);
    assert_eq!(service.send("PUT", &format!("{place}/cut"), &[("if-match", "*")], b"").status, 200);
    let picture = fs::read("../sample-images/pen-tilted.jpg").unwrap();
    let read = service.photo(&picture, &[("card", "A2")]).json();
    let saved = service.json("POST", "/api/layouts", &[], &read["layouts"][0]);
    assert_eq!(saved.status, 201, "{}", saved.json());
    let place = saved.header("location").to_owned();
    let mut next = saved.json();
    next["title"] = json!("Stars, second try");
    next["tags"] = json!(["thanks", "Nora"]);
    assert_eq!(service.json("PUT", &place, &[("if-match", "*")], &next).status, 200);
    assert_eq!(service.send("PUT", &format!("{place}/favourite"), &[], b"").status, 200);
    assert_eq!(service.send("POST", &format!("{place}/uses"), &[], b"").status, 200);
    let gone = service.json("POST", "/api/layouts", &[], &thank_you("Never again"));
    let gone = gone.header("location").to_owned();
    assert_eq!(service.send("DELETE", &gone, &[("if-match", "*")], b"").status, 204);
}

/// Everything that the service tells of its notebook, by address.
fn everything(service: &Service) -> BTreeMap<String, Value> {
    let mut told = BTreeMap::new();
    let mut ask = |place: String| -> Value {
        let answer = service.get(&place);
        let value = match answer.header("content-type") {
            "application/json" | "application/problem+json" => answer.json(),
            _ => json!([answer.status, answer.body.len(), answer.header("etag")]),
        };
        told.insert(place, value.clone());
        value
    };
    ask("/api/layouts?limit=200".to_owned());
    ask("/api/layouts?favourite=true".to_owned());
    ask("/api/tags".to_owned());
    ask("/api/papers?limit=200".to_owned());
    ask("/api/papers.csv".to_owned());
    ask("/api/batches".to_owned());
    for kind in ["layouts", "papers"] {
        for id in 1.. {
            let history = ask(format!("/api/{kind}/{id}/versions"));
            let Some(versions) = history["versions"].as_array() else { break };
            for version in versions {
                if kind == "layouts" {
                    ask(format!("/api/layouts/{id}/versions/{}", version["version"]));
                }
            }
            let record = ask(format!("/api/{kind}/{id}"));
            if let Some(photo) = record["capture"]["photo"].as_str() {
                ask(format!("/api/photos/{photo}?width=640"));
            }
        }
    }
    for what in ["", "/plan", "/sheets.json"] {
        ask(format!("/api/batches/1{what}"));
    }
    told
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn a_notebook_that_was_written_out_and_taken_in_is_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let (data, file) = (folder.path().join("data"), folder.path().join("notebook.zip"));
    let service = Service::start(&data, &[]);
    fill(&service);
    let before = everything(&service);
    assert!(before.len() > 25 && before.contains_key("/api/layouts/3/versions/1"), "{:?}", before.keys());
    // Served or not, it is written out.
    let export = run(&["export", text(&file), "--data", text(&data)]);
    assert_eq!(export.status.code(), Some(0), "{}", String::from_utf8_lossy(&export.stderr));
    let twice = run(&["export", text(&file), "--data", text(&data)]);
    assert_eq!(twice.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&twice.stderr).contains("is there already"));
    drop(service);
    let other = folder.path().join("other");
    let import = run(&["import", text(&file), "--data", text(&other)]);
    assert_eq!(import.status.code(), Some(0), "{}", String::from_utf8_lossy(&import.stderr));
    let after = everything(&Service::start(&other, &[]));
    for (place, told) in &before {
        assert_eq!(after.get(place), Some(told), "{place}");
    }
    assert_eq!(after.len(), before.len());
    // Written out again it is the same bytes but for the time in the archive's directory.
    let again = folder.path().join("again.zip");
    assert_eq!(run(&["export", text(&again), "--data", text(&other)]).status.code(), Some(0));
    assert_eq!(contents(&again), contents(&file));
    // A notebook that is not empty takes no other in.
    let full = run(&["import", text(&file), "--data", text(&data)]);
    assert_eq!(full.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&full.stderr).contains("empty folder"));
}

/// Files of an archive by their names.
type Contents = BTreeMap<String, Vec<u8>>;

fn contents(archive: &Path) -> Contents {
    let mut zip = ZipArchive::new(Cursor::new(fs::read(archive).unwrap())).unwrap();
    let mut all = BTreeMap::new();
    for index in 0..zip.len() {
        let mut entry = zip.by_index(index).unwrap();
        let mut bytes = Vec::new();
        entry.read_to_end(&mut bytes).unwrap();
        all.insert(entry.name().unwrap().into_owned(), bytes);
    }
    all
}

/// The SHA-256 of some bytes in hexadecimal digits.
fn sha256(bytes: &[u8]) -> String {
    use std::fmt::Write;
    Sha256::digest(bytes).iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}

fn archive(at: &Path, contents: &BTreeMap<String, Vec<u8>>) {
    let mut zip = ZipWriter::new(fs::File::create(at).unwrap());
    for (name, bytes) in contents {
        zip.start_file(name.as_str(), SimpleFileOptions::default()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap();
}

#[test]
fn an_archive_that_was_tampered_with_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let (data, file) = (folder.path().join("data"), folder.path().join("notebook.zip"));
    {
        let service = Service::start(&data, &[]);
        fill(&service);
    }
    assert_eq!(run(&["export", text(&file), "--data", text(&data)]).status.code(), Some(0));
    let good = contents(&file);
    let photo = good.keys().find(|name| name.starts_with("photos/")).unwrap().clone();
    let check = |what: &str, words: &str, change: &dyn Fn(&mut Contents)| {
        let mut bad = good.clone();
        change(&mut bad);
        let (at, into) = (folder.path().join("bad.zip"), folder.path().join(what));
        archive(&at, &bad);
        let import = run(&["import", text(&at), "--data", text(&into)]);
        let said = String::from_utf8_lossy(&import.stderr).into_owned();
        assert_eq!(import.status.code(), Some(1), "{what}: {said}");
        assert!(said.contains(words) && said.contains("nothing was taken in"), "{what}: {said}");
        let list = Service::start(&into, &[]).get("/api/layouts").json();
        assert_eq!(list["total"], 0, "{what}: {list}");
    };
    let manifest_with = |bad: &mut Contents, from: &str, to: &str| {
        let text = String::from_utf8(bad["manifest.json"].clone()).unwrap();
        assert!(text.contains(from), "{from}");
        bad.insert("manifest.json".to_owned(), text.replace(from, to).into_bytes());
    };
    check("one byte of a photo", "damaged", &|bad| bad.get_mut(&photo).unwrap()[1000] ^= 1);
    check("a photo that is not there", "photos/", &|bad| drop(bad.remove(&photo)));
    check("a record that was changed", "layouts/1.json is damaged", &|bad| {
        bad.get_mut("layouts/1.json").unwrap().push(b' ');
    });
    check("a record that the manifest does not name", "not in its manifest", &|bad| {
        manifest_with(bad, "photos.json", "photos.jsob");
    });
    check("a photo's name that is a path", "no photo's name", &|bad| {
        let list = String::from_utf8(bad["photos.json"].clone()).unwrap();
        let name = photo.trim_start_matches("photos/");
        let sly = list.replace(&format!("\"file\": \"{name}\""), "\"file\": \"../../../sly.jpg\"");
        assert_ne!(sly, list);
        let (old, new) = (sha256(list.as_bytes()), sha256(sly.as_bytes()));
        manifest_with(bad, &old, &new);
        manifest_with(bad, &format!("\"bytes\": {}", list.len()), &format!("\"bytes\": {}", sly.len()));
        bad.insert("photos.json".to_owned(), sly.into_bytes());
    });
    check("no manifest to speak of", "manifest.json", &|bad| {
        bad.insert("manifest.json".to_owned(), b"{\"format\": \"eighths notebook\"".to_vec());
    });
}

#[test]
fn a_backup_made_while_serving_is_the_notebook_of_one_moment() {
    let folder = tempfile::tempdir().unwrap();
    let (data, file) = (folder.path().join("data"), folder.path().join("backup.zip"));
    let service = Service::start(&data, &[]);
    fill(&service);
    // Somebody saves all the while: each layout with the one before it in its notes.
    let stop = std::sync::atomic::AtomicBool::new(false);
    let client = service.client();
    let copied = std::thread::scope(|scope| {
        scope.spawn(|| {
            for count in 0.. {
                if stop.load(std::sync::atomic::Ordering::Relaxed) {
                    return;
                }
                let layout = thank_you(&format!("number {count}"));
                assert_eq!(client.json("POST", "/api/layouts", &[], &layout).unwrap().status, 201);
            }
        });
        std::thread::sleep(std::time::Duration::from_millis(300));
        let backup = run(&["backup", text(&file), "--data", text(&data)]);
        stop.store(true, std::sync::atomic::Ordering::Relaxed);
        backup
    });
    assert_eq!(copied.status.code(), Some(0), "{}", String::from_utf8_lossy(&copied.stderr));
    let unpacked = folder.path().join("unpacked");
    for (name, bytes) in contents(&file) {
        let at = unpacked.join(name);
        fs::create_dir_all(at.parent().unwrap()).unwrap();
        fs::write(at, bytes).unwrap();
    }
    let restored = Service::start(&unpacked, &[]);
    let total = restored.get("/api/layouts").json()["total"].as_i64().unwrap();
    let now = service.get("/api/layouts").json()["total"].as_i64().unwrap();
    assert!(total > 2 && total <= now, "{total} of {now}");
    // What the backup has is a whole: every number up to the last.
    let list = restored.get("/api/layouts?limit=200&text=number").json();
    let mut numbers: Vec<i64> = list["layouts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|layout| layout["title"].as_str().unwrap().trim_start_matches("number ").parse().unwrap())
        .collect();
    numbers.sort_unstable();
    let count = i64::try_from(numbers.len()).unwrap();
    assert!(count == 200 || numbers == (0..count).collect::<Vec<_>>(), "{numbers:?}");
    assert_eq!(restored.get("/api/papers.csv").body, service.get("/api/papers.csv").body);
    let none =
        run(&["backup", text(&folder.path().join("none.zip")), "--data", text(&folder.path().join("none"))]);
    assert_eq!(none.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&none.stderr).contains("there is no notebook in"));
}

//! Many files in one go: at the command line and over HTTP, with the same
//! outcome, cut off at any moment and gone on with.

use std::collections::BTreeMap;
use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use image::ImageFormat;
use serde_json::{Value, json};
use tests::pictures::{blank_paper, encoded};
use tests::program::{Service, files_form, path, run};

use crate::check_problem;

/// A small drawer: pictures in folders, one twice, one in an archive, a blank
/// back, a picture cut short and a note.
fn drawer(folder: &Path) {
    let sample = |name: &str| fs::read(Path::new("../sample-images").join(name)).unwrap();
    let put = |name: &str, bytes: &[u8]| {
        let at = folder.join(name);
        fs::create_dir_all(at.parent().unwrap()).unwrap();
        fs::write(at, bytes).unwrap();
    };
    put("a scan.jpg", &sample("flat-scan.jpg"));
    put("b pen.jpg", &sample("pen-tilted.jpg"));
    put("c back.png", &encoded(&blank_paper(250), ImageFormat::Png));
    put("d cut short.jpg", &sample("thumb.jpg")[..9_000]);
    put("e note.txt", b"Cards for Edith and Walter");
    put("square/marker.jpg", &sample("marker-square.jpg"));
    put("square/page of six.jpg", &sample("notebook-six.jpg"));
    put("twice/scan again.jpg", &sample("flat-scan.jpg"));
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    zip.start_file("inside/turned.jpg", zip::write::SimpleFileOptions::default()).unwrap();
    zip.write_all(&sample("turned-by-exif.jpg")).unwrap();
    put("f more.zip", &zip.finish().unwrap().into_inner());
}

const RULE: [&str; 2] = ["--folder", "square=square"];

fn import(drawer: &Path, data: &Path, more: &[&str]) -> Vec<String> {
    let mut args = vec!["import".to_owned(), drawer.display().to_string()];
    args.extend(["--data".to_owned(), data.display().to_string()]);
    args.extend(RULE.iter().chain(more).map(|word| (*word).to_owned()));
    args
}

/// Runs an import to its end; its exit code and its report.
fn imported(drawer: &Path, data: &Path, more: &[&str]) -> (i32, Value) {
    let report = data.parent().unwrap().join("report.json");
    let args = import(drawer, data, &[more, &["--report", report.to_str().unwrap()]].concat());
    let output = run(&args.iter().map(String::as_str).collect::<Vec<_>>());
    let report = fs::read(&report).unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&output.stderr)));
    (output.status.code().unwrap(), serde_json::from_slice(&report).unwrap())
}

/// The outcomes of a report: file, page, outcome, reason.
fn outcomes(files: &Value) -> Vec<(String, u64, String, String)> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    let mut all = Vec::new();
    for file in files.as_array().unwrap() {
        for page in file["pages"].as_array().unwrap() {
            let number = page["page"].as_u64().unwrap();
            all.push((text(&file["name"]), number, text(&page["outcome"]), text(&page["reason"])));
        }
    }
    all
}

/// The layouts of a notebook: title and card, sorted.
fn layouts(data: &Path) -> Vec<(String, String)> {
    let service = Service::start(data, &[]);
    let list = service.get("/api/layouts?limit=200").json();
    let mut all: Vec<(String, String)> = list["layouts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|layout| {
            let text = |value: &Value| value.as_str().unwrap().to_owned();
            (text(&layout["title"]), text(&layout["card"]["name"]))
        })
        .collect();
    all.sort();
    all
}

#[test]
fn a_drawer_comes_in_with_every_file_named() {
    let folder = tempfile::tempdir().unwrap();
    let (drawer_at, data) = (folder.path().join("drawer"), folder.path().join("data"));
    drawer(&drawer_at);
    let (code, report) = imported(&drawer_at, &data, &[]);
    assert_eq!(code, 1, "two files are unreadable");
    let told: BTreeMap<String, (String, String)> = outcomes(&report["files"])
        .into_iter()
        .map(|(name, _, outcome, why)| (name, (outcome, why)))
        .collect();
    let check = |name: &str, outcome: &str, words: &str| {
        let (told, why) = &told[name];
        assert_eq!(told, outcome, "{name}: {why}");
        assert!(why.contains(words), "{name}: {why}");
    };
    check("c back.png", "blank", "");
    check("d cut short.jpg", "unreadable", "damaged or cut short");
    check("e note.txt", "unreadable", "no picture");
    check("twice/scan again.jpg", "already-there", "the same file as a scan.jpg");
    for name in [
        "a scan.jpg",
        "b pen.jpg",
        "square/marker.jpg",
        "square/page of six.jpg",
        "f more.zip/inside/turned.jpg",
    ] {
        let (outcome, why) = &told[name];
        assert!(["read", "doubtful"].contains(&outcome.as_str()), "{name}: {outcome}, {why}");
    }
    let kept = layouts(&data);
    assert_eq!(kept.len(), 4 + 6, "{kept:?}");
    assert!(kept.contains(&("marker".to_owned(), "square".to_owned())), "{kept:?}");
    assert!(kept.contains(&("page of six, layout 6".to_owned(), "square".to_owned())), "{kept:?}");
    assert!(kept.contains(&("turned".to_owned(), "A2".to_owned())), "{kept:?}");
    // Again: nothing comes twice.
    let (_, again) = imported(&drawer_at, &data, &[]);
    assert_eq!(again["counts"]["already_there"], 6);
    assert_eq!(again["counts"]["layouts"], 0);
    assert_eq!(layouts(&data), kept);
}

/// Moments at which an import is cut off, without pattern: the multiplicative
/// generator of Lewis, Goodman and Miller (1969).
fn moments() -> impl Iterator<Item = Duration> {
    let next = |seed: &u64| Some(seed * 16_807 % 2_147_483_647);
    std::iter::successors(Some(20_261_127), next).map(|seed| Duration::from_millis(20 + seed % 500))
}

/// What a report says of each file, whoever made it.
fn files(report: &Value) -> Vec<Value> {
    let files = report["files"].as_array().unwrap();
    files.iter().map(|file| json!([file["number"], file["name"], file["pages"]])).collect()
}

#[test]
fn an_import_that_is_killed_again_and_again_ends_as_one_that_is_not() {
    const KILLS: usize = 20;
    let folder = tempfile::tempdir().unwrap();
    let drawer_at = folder.path().join("drawer");
    drawer(&drawer_at);
    let whole = folder.path().join("whole/data");
    fs::create_dir_all(whole.parent().unwrap()).unwrap();
    let (_, expected) = imported(&drawer_at, &whole, &["--jobs", "1"]);
    let data = folder.path().join("cut/data");
    fs::create_dir_all(data.parent().unwrap()).unwrap();
    let report = folder.path().join("cut/cut.json");
    let args = import(&drawer_at, &data, &["--jobs", "2", "--report", report.to_str().unwrap()]);
    let mut killed = 0;
    for moment in moments().take(KILLS) {
        let mut command = Command::new(path());
        let mut child = command.args(&args).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
        std::thread::sleep(moment);
        if child.try_wait().unwrap().is_some() {
            break;
        }
        child.kill().unwrap();
        child.wait().unwrap();
        killed += 1;
    }
    assert!(killed >= 3, "it was cut off {killed} times only");
    if !report.exists() {
        run(&args.iter().map(String::as_str).collect::<Vec<_>>());
    }
    let report: Value = serde_json::from_slice(&fs::read(&report).unwrap()).unwrap();
    assert_eq!(files(&report), files(&expected));
    assert_eq!(layouts(&data), layouts(&whole));
}

/// The files of a folder with their names in it, sorted.
fn files_of(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut all = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        if path.is_dir() {
            all.extend(files_of(&path).into_iter().map(|(inner, bytes)| (format!("{name}/{inner}"), bytes)));
        } else {
            all.push((name, fs::read(&path).unwrap()));
        }
    }
    all.sort();
    all
}

/// Waits until an import has come to its end; its answer.
fn done(service: &Service, place: &str) -> Value {
    let begun = Instant::now();
    loop {
        let import = service.get(place).json();
        if import["state"] == "done" {
            return import;
        }
        assert!(begun.elapsed() < Duration::from_mins(2), "it does not end: {import}");
        std::thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn what_is_sent_has_the_outcome_of_what_is_named_and_survives_a_kill() {
    let folder = tempfile::tempdir().unwrap();
    let drawer_at = folder.path().join("drawer");
    drawer(&drawer_at);
    let (_, expected) = imported(&drawer_at, &folder.path().join("named"), &[]);
    let data = folder.path().join("sent");
    let mut service = Service::start(&data, &["--workers", "1"]);
    let all = files_of(&drawer_at);
    let (first, rest) = all.split_at(3);
    let send = |service: &Service, place: &str, files: &[(String, Vec<u8>)], open: &str| {
        let (kind, body) = files_form(files, &[("card", "A2"), ("folder", "square=square"), ("open", open)]);
        service.send("POST", place, &[("content-type", &kind)], &body)
    };
    let begun = send(&service, "/api/imports", first, "true");
    assert_eq!(begun.status, 202, "{}", begun.json());
    assert_eq!(begun.header("location"), "/api/imports/1");
    let more = send(&service, "/api/imports/1/files", rest, "false");
    assert_eq!(more.status, 202, "{}", more.json());
    let mut restarts = 0;
    for moment in moments().take(6) {
        std::thread::sleep(moment);
        service.kill();
        service = Service::start(&data, &["--workers", "1"]);
        restarts += 1;
        if service.get("/api/imports/1").json()["state"] == "done" {
            break;
        }
    }
    let import = done(&service, "/api/imports/1");
    assert!(restarts > 0 && import["counts"]["files"] == 9, "{import}");
    let answer = service.get("/api/imports/1/files?limit=500").json();
    assert_eq!(outcomes(&answer["files"]), outcomes(&expected["files"]));
    let table = String::from_utf8(service.get("/api/imports/1/report.csv").body).unwrap();
    assert_eq!(table.lines().count(), 1 + 9, "{table}");
    // What was sent is not kept twice.
    let begun = Instant::now();
    while data.join("imports/1").exists() {
        assert!(begun.elapsed() < Duration::from_secs(20), "what was sent stays");
        std::thread::sleep(Duration::from_millis(20));
    }
    let ended = send(&service, "/api/imports/1/files", first, "false");
    check_problem("files to an import that has ended", &ended, 409, "begin a new one");
    let none = service.get("/api/imports/7/files");
    check_problem("no such import", &none, 404, "no import has the id 7");
    drop(service);
    assert_eq!(layouts(&data), layouts(&folder.path().join("named")));
}

/// The events of an import: their names, ids and data.
fn events(service: &Service, place: &str, headers: &[(&str, &str)]) -> Vec<(String, String, Value)> {
    let answer = service.send("GET", place, headers, b"");
    assert_eq!(answer.header("content-type"), "text/event-stream");
    let text = String::from_utf8(answer.body).unwrap();
    let mut all = Vec::new();
    for event in text.split("\n\n").filter(|event| event.contains("event: ")) {
        let line = |name: &str| {
            event.lines().find_map(|line| line.strip_prefix(name)).unwrap_or_default().trim().to_owned()
        };
        all.push((line("event: "), line("id: "), serde_json::from_str(&line("data: ")).unwrap()));
    }
    all
}

#[test]
fn who_watches_an_import_goes_on_after_the_last_file_seen() {
    let folder = tempfile::tempdir().unwrap();
    let drawer_at = folder.path().join("drawer");
    drawer(&drawer_at);
    let service = Service::start(&folder.path().join("data"), &[]);
    let (kind, body) = files_form(&files_of(&drawer_at), &[("open", "false")]);
    assert_eq!(service.send("POST", "/api/imports", &[("content-type", &kind)], &body).status, 202);
    // The stream ends with the import.
    let all = events(&service, "/api/imports/1/events", &[]);
    let ids = |events: &[(String, String, Value)]| -> Vec<String> {
        events.iter().filter(|(name, ..)| name == "file").map(|(_, id, _)| id.clone()).collect()
    };
    assert_eq!(ids(&all), (1..=9).map(|id: u8| id.to_string()).collect::<Vec<_>>());
    let (name, _, last) = all.last().unwrap();
    assert_eq!((name.as_str(), &last["state"]), ("import", &json!("done")));
    let rest = events(&service, "/api/imports/1/events", &[("last-event-id", "7")]);
    assert_eq!(ids(&rest), ["8", "9"]);
}

#[test]
fn an_import_is_paused_resumed_and_given_up() {
    let folder = tempfile::tempdir().unwrap();
    let drawer_at = folder.path().join("drawer");
    drawer(&drawer_at);
    let service = Service::start(&folder.path().join("data"), &["--workers", "1"]);
    let (kind, body) = files_form(&files_of(&drawer_at), &[]);
    let begin = || service.send("POST", "/api/imports", &[("content-type", &kind)], &body);
    let say = |place: &str, change: Value| service.json("PATCH", place, &[], &change);
    assert_eq!(begin().status, 202);
    let paused = say("/api/imports/1", json!({"state": "paused"}));
    assert_eq!((paused.status, &paused.json()["state"]), (200, &json!("paused")));
    // What was being read may still come; then nothing does.
    std::thread::sleep(Duration::from_secs(4));
    let then = service.get("/api/imports/1").json();
    std::thread::sleep(Duration::from_secs(1));
    assert_eq!(service.get("/api/imports/1").json(), then);
    assert!(then["counts"]["files_done"].as_u64().unwrap() < 9, "{then}");
    assert_eq!(say("/api/imports/1", json!({"state": "running"})).status, 200);
    assert_eq!(done(&service, "/api/imports/1")["counts"]["files_done"], 9);
    assert_eq!(begin().status, 202);
    let given_up = say("/api/imports/2", json!({"state": "canceled"}));
    assert_eq!(given_up.json()["state"], "canceled");
    check_problem(
        "a change after the end",
        &say("/api/imports/2", json!({"state": "running"})),
        409,
        "ended",
    );
    for (change, words) in [
        (json!({"state": "done"}), "the state is"),
        (json!({"state": "asleep"}), "the state is"),
        (json!({"open": true}), "opened when it is begun"),
    ] {
        check_problem("a change that is none", &say("/api/imports/1", change), 400, words);
    }
    check_problem("no card", &say("/api/imports/1", json!({"card": "A3.7"})), 422, "no card is called");
}

#[test]
fn files_whose_outline_does_not_tell_wait_for_a_card_in_one_go() {
    let folder = tempfile::tempdir().unwrap();
    let (drawer_at, data) = (folder.path().join("drawer"), folder.path().join("data"));
    drawer(&drawer_at);
    let by_outline = |more: &[&str]| imported(&drawer_at, &data, &[&["--cards", "square,A2"], more].concat());
    let (_, report) = by_outline(&[]);
    let outcome = |report: &Value, name: &str| {
        outcomes(&report["files"]).into_iter().find(|(file, ..)| file == name).unwrap().2
    };
    // 4 1/4 x 5 1/2 is far from a square: the outline tells.
    assert!(["read", "doubtful"].contains(&outcome(&report, "a scan.jpg").as_str()), "{report}");
    assert!(layouts(&data).contains(&("a scan".to_owned(), "A2".to_owned())));
    // A6 and A7 have nearly the same proportions, and A2 is neither.
    let other = folder.path().join("other");
    let undecided = |more: &[&str]| imported(&drawer_at, &other, &[&["--cards", "A6,A7"], more].concat());
    let (_, report) = undecided(&[]);
    assert_eq!(outcome(&report, "a scan.jpg"), "which-card", "{report}");
    let before = report["counts"]["which_card"].as_u64().unwrap();
    assert!(before >= 2, "{report}");
    let last = |report: &Value| {
        report["files"]
            .as_array()
            .unwrap()
            .iter()
            .map(|file| file["sequence"].as_u64().unwrap())
            .max()
            .unwrap()
    };
    let told = last(&report);
    let (_, report) = undecided(&["--undecided", "A2"]);
    // Who has seen the outcomes so far sees the new ones as new.
    assert_eq!(last(&report), told + before);
    assert_eq!(report["counts"]["which_card"], 0, "{report}");
    assert!(layouts(&other).contains(&("a scan".to_owned(), "A2".to_owned())));
}

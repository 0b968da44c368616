//! A machine that fails its user: a disk that is full, read-only or damaged, a
//! photo that is gone, a clock that goes back, connections that never end.
//! Each gets its sentence, and what was saved stays.

use std::fs;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use serde_json::json;
use tests::pictures::{card_with_a_panel, encoded};
use tests::program::{Service, path, run};

use crate::{check_problem, thank_you};

/// A shell with mounts of its own, which need no rights that a user has not;
/// nothing where the system does not grant them.
fn own_mounts(script: &str, args: &[&str]) -> Option<Command> {
    let shell = |script: &str| {
        let mut command = Command::new("unshare");
        command.args(["--user", "--map-root-user", "--mount", "sh", "-c", script, "sh"]);
        command
    };
    if !shell("true").status().is_ok_and(|status| status.success()) {
        eprintln!("not tried: this system gives no mounts to users");
        return None;
    }
    let mut command = shell(script);
    command.args(args);
    Some(command)
}

fn program() -> &'static str {
    path().to_str().unwrap()
}

#[test]
fn a_full_disk_takes_nothing_and_loses_nothing() {
    const DISK: &str = "mount -t tmpfs -o size=3m none \"$1\" && head -c 1000000 /dev/zero > \"$1/other\" \
                        && exec \"$2\" serve --data \"$1/notebook\" --listen 127.0.0.1:0";
    let folder = tempfile::tempdir().unwrap();
    let Some(command) = own_mounts(DISK, &[folder.path().to_str().unwrap(), program()]) else { return };
    let mut service = Service::start_by(command);
    // What the service sees where only it has the disk.
    let disk = PathBuf::from(format!("/proc/{}/root{}", service.id(), folder.path().display()));
    let mut saved = Vec::new();
    let full = loop {
        let answer = service.json("POST", "/api/layouts", &[], &thank_you(&"for Edith ".repeat(19)));
        if answer.status != 201 {
            break answer;
        }
        saved.push(answer.header("location").to_owned());
        assert!(saved.len() < 5_000, "the disk is never full");
    };
    check_problem("a full disk", &full, 507, "the disk is full: nothing of this was saved");
    let png = encoded(&card_with_a_panel(), image::ImageFormat::Png);
    check_problem("a photo", &service.photo(&png, &[]), 507, "make room and try again");
    assert!(saved.len() > 20, "{} were saved before", saved.len());
    let all = |service: &Service| {
        let list = service.get("/api/layouts?limit=1").json();
        assert_eq!(list["total"].as_u64(), Some(saved.len() as u64), "{list}");
        assert_eq!(service.get(saved.last().unwrap()).status, 200);
    };
    all(&service);
    // Room is made: it goes on as if nothing had been.
    fs::remove_file(disk.join("other")).unwrap();
    let next = service.json("POST", "/api/layouts", &[], &thank_you("Room again"));
    assert_eq!(next.status, 201, "{}", next.json());
    assert_eq!(service.photo(&png, &[("card", "A2")]).status, 201);
    assert_eq!(service.stop(), Some(0));
}

#[test]
fn a_folder_that_cannot_be_written_is_named() {
    const DISK: &str =
        "mount --bind \"$1\" \"$1\" && mount -o remount,ro,bind \"$1\" && shift && exec \"$@\"";
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("notebook");
    let mut service = Service::start(&data, &[]);
    assert_eq!(service.json("POST", "/api/layouts", &[], &thank_you("Thank you, Edith")).status, 201);
    assert_eq!(service.stop(), Some(0));
    let disk = folder.path().to_str().unwrap();
    for data in [data.as_path(), &folder.path().join("new")] {
        let args = [disk, program(), "serve", "--data", data.to_str().unwrap(), "--listen", "127.0.0.1:0"];
        let Some(mut command) = own_mounts(DISK, &args) else { return };
        let output = command.output().unwrap();
        let said = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(1), "{said}");
        assert!(said.contains("cannot be used") && said.contains("--data"), "{said}");
    }
}

#[test]
fn damage_is_found_at_the_start_and_on_demand() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("notebook");
    let mut service = Service::start(&data, &[]);
    for number in 0..150 {
        let saved = service.json("POST", "/api/layouts", &[], &thank_you(&format!("Card {number}")));
        assert_eq!(saved.status, 201);
    }
    assert_eq!(service.stop(), Some(0));
    let file = data.join("notebook.sqlite");
    let mut bytes = fs::read(&file).unwrap();
    // The page's size stands at byte 16 of the file (SQLite's file format, 1.3).
    let page = usize::from(u16::from_be_bytes([bytes[16], bytes[17]]));
    let middle = bytes.len() / page / 2 * page;
    bytes[middle..middle + page].fill(0xa5);
    fs::write(&file, bytes).unwrap();
    let data = data.to_str().unwrap();
    let check = |args: &[&str], words: &str| {
        let output = run(args);
        let said = [output.stdout, output.stderr].concat();
        let said = String::from_utf8_lossy(&said);
        assert_eq!(output.status.code(), Some(1), "{args:?}: {said}");
        assert!(said.contains(words) && said.contains("backup"), "{args:?}: {said}");
    };
    check(&["serve", "--data", data, "--listen", "127.0.0.1:0"], "is damaged");
    check(&["check", "--data", data], "damaged");
}

#[test]
fn a_photo_that_is_gone_is_said_to_be_gone() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let kept = service.photo(&encoded(&card_with_a_panel(), image::ImageFormat::Png), &[("card", "A2")]);
    let id = kept.json()["photo"]["id"].as_str().unwrap().to_owned();
    let saved = service.json("POST", "/api/layouts", &[], &kept.json()["layouts"][0]);
    assert_eq!(saved.status, 201, "{}", saved.json());
    for part in ["photos", "screen"] {
        for entry in fs::read_dir(folder.path().join(part)).unwrap() {
            fs::remove_file(entry.unwrap().path()).unwrap();
        }
    }
    let gone = service.get(&format!("/api/photos/{id}?width=320"));
    check_problem("a picture", &gone, 500, "backup");
    let again = service.json("POST", &format!("/api/photos/{id}/read"), &[], &json!({"card": "A2"}));
    check_problem("another reading", &again, 500, "backup");
    assert_eq!(service.get(saved.header("location")).status, 200, "the layout does not need it");
    let checked = run(&["check", "--data", folder.path().to_str().unwrap()]);
    let said = String::from_utf8_lossy(&checked.stdout).into_owned();
    assert!(checked.status.code() == Some(1) && said.contains("is missing"), "{said}");
}

#[test]
fn a_photo_that_is_sent_again_is_whole_again() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let photo = encoded(&card_with_a_panel(), image::ImageFormat::Png);
    let send = || service.photo(&photo, &[("card", "A2")]).json()["photo"]["id"].as_str().unwrap().to_owned();
    let id = send();
    let file = fs::read_dir(folder.path().join("photos")).unwrap().next().unwrap().unwrap().path();
    for damage in [None, Some(&b"not a picture any more"[..])] {
        match damage {
            None => fs::remove_file(&file).unwrap(),
            Some(bytes) => fs::write(&file, bytes).unwrap(),
        }
        assert_eq!(send(), id);
        assert_eq!(fs::read(&file).unwrap(), photo);
    }
}

#[test]
fn a_folder_that_is_gone_takes_nothing_more() {
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("notebook");
    let service = Service::start(&data, &[]);
    let save = || service.json("POST", "/api/layouts", &[], &thank_you("Thank you, Edith"));
    assert_eq!(save().status, 201);
    fs::rename(&data, folder.path().join("moved")).unwrap();
    check_problem("moved away", &save(), 500, "the data folder is gone");
    fs::create_dir(&data).unwrap();
    fs::write(data.join("lock"), "").unwrap();
    check_problem("another one in its place", &save(), 500, "nothing of this was saved");
    fs::remove_dir_all(&data).unwrap();
    fs::rename(folder.path().join("moved"), &data).unwrap();
    assert_eq!(save().status, 201, "the same folder is back");
}

/// The library that gives a program another time (Debian's package faketime).
fn other_clock() -> Option<PathBuf> {
    let libraries = Path::new("/usr/lib");
    let inside = fs::read_dir(libraries).ok()?.filter_map(|entry| Some(entry.ok()?.path()));
    let found = inside.map(|path| path.join("faketime/libfaketimeMT.so.1")).find(|path| path.exists());
    if found.is_none() {
        eprintln!("not tried: the package faketime is not there");
    }
    found
}

#[test]
fn a_clock_that_goes_back_costs_nothing() {
    let Some(library) = other_clock() else { return };
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("notebook");
    let clock = folder.path().join("clock");
    let mut command = Command::new(program());
    command.args(["serve", "--listen", "127.0.0.1:0", "--data", data.to_str().unwrap()]);
    command.env("LD_PRELOAD", library).env("FAKETIME_TIMESTAMP_FILE", &clock).env("FAKETIME_NO_CACHE", "1");
    command.env("FAKETIME_DONT_FAKE_MONOTONIC", "1");
    fs::write(&clock, "+400d\n").unwrap();
    let mut service = Service::start_by(command);
    let first = service.json("POST", "/api/layouts", &[], &thank_you("Next year's"));
    let place = first.header("location").to_owned();
    fs::write(&clock, "-30d\n").unwrap();
    let etag = first.header("etag").to_owned();
    let changed = service.json("PUT", &place, &[("if-match", &etag)], &thank_you("Last month's"));
    assert_eq!(changed.status, 200, "{}", changed.json());
    let stamps = [first.json()["saved_at"].clone(), changed.json()["saved_at"].clone()];
    assert!(stamps[0].as_str() > stamps[1].as_str(), "the clock did not go back: {stamps:?}");
    let stale = service.json("PUT", &place, &[("if-match", &etag)], &thank_you("Lost"));
    assert_eq!(stale.status, 412, "versions go by number, not by time");
    let versions = service.get(&format!("{place}/versions")).json();
    let numbers: Vec<u64> =
        versions["versions"].as_array().unwrap().iter().map(|v| v["version"].as_u64().unwrap()).collect();
    assert!(numbers == [2, 1] || numbers == [1, 2], "{versions}");
    assert_eq!(service.get(&place).json()["title"], "Last month's");
    let photo = encoded(&card_with_a_panel(), image::ImageFormat::Png);
    assert_eq!(service.photo(&photo, &[("card", "A2")]).status, 201);
    assert_eq!(service.stop(), Some(0));
    let checked = run(&["check", "--data", data.to_str().unwrap()]);
    let said = String::from_utf8_lossy(&checked.stdout).into_owned();
    assert!(said.contains("still to come") && said.contains("clock"), "{said}");
    let service = Service::start(&data, &[]);
    assert_eq!(service.get(&place).json()["title"], "Last month's");
}

#[test]
fn a_head_that_never_ends_is_not_waited_for() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let address = service.url.strip_prefix("http://").unwrap();
    let mut stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(Duration::from_millis(500))).unwrap();
    stream.write_all(format!("GET / HTTP/1.1\r\nHost: {address}\r\nX-Slow: ").as_bytes()).unwrap();
    let begun = Instant::now();
    loop {
        let mut answer = [0; 512];
        match stream.read(&mut answer) {
            Ok(_) => break,
            Err(error) if error.kind() == std::io::ErrorKind::ConnectionReset => break,
            Err(_) if stream.write_all(b"x").is_err() => break,
            Err(_) => assert!(begun.elapsed() < Duration::from_secs(40), "it is still waited for"),
        }
    }
    assert!(begun.elapsed() > Duration::from_secs(10), "a slow line has its time");
    assert_eq!(service.get("/").status, 200);
}

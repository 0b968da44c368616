//! Devices of the network: a code lets them in, once; a pairing that is ended
//! keeps them out. A client that comes by the machine's own network address is
//! another machine to the service.

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{IpAddr, SocketAddr, TcpStream, UdpSocket};
use std::path::Path;
use std::time::{Duration, Instant};

use serde_json::{Value, json};
use tests::program::{Answer, Client, Service, photo_form};

use crate::{check_problem, thank_you};

/// The machine's address on its network; a machine without one cannot show this.
fn network_address() -> Option<IpAddr> {
    let found = || {
        let socket = UdpSocket::bind("0.0.0.0:0").ok()?;
        // Nothing is sent: only the way is looked up.
        socket.connect("203.0.113.1:9").ok()?;
        Some(socket.local_addr().ok()?.ip())
            .filter(|address| !address.is_loopback() && !address.is_unspecified())
    };
    let address = found();
    if address.is_none() {
        eprintln!("NOT TESTED: this machine is on no network, so nobody can come in by it");
    }
    address
}

/// A service with its door to the network, and the address of that.
fn open_door(data: &Path) -> Option<(Service, String)> {
    let address = network_address()?;
    let service = Service::start(data, &["--lan"]);
    let port = service.url.rsplit_once(':').unwrap().1;
    let url = format!("http://{address}:{port}");
    Some((service, url))
}

fn code_of(service: &Service) -> String {
    let standing = service.get("/api/pairing").json();
    standing["code"]["digits"].as_str().unwrap_or_else(|| panic!("no code in {standing}")).to_owned()
}

fn new_code(service: &Service) -> String {
    assert_eq!(service.send("POST", "/api/pairing/code", &[], b"").status, 200);
    code_of(service)
}

fn enter(client: &Client, code: &str) -> Answer {
    client.json("POST", "/api/pairing", &[], &json!({"code": code})).unwrap()
}

/// Pairs a phone and gives the cookie that its browser sends from then on.
fn pair(service: &Service, client: &Client, name: &str) -> String {
    let code = new_code(service);
    let answer = client.json("POST", "/api/pairing", &[], &json!({"code": code, "name": name})).unwrap();
    assert_eq!(answer.status, 201, "{}", answer.json());
    answer.header("set-cookie").split(';').next().unwrap().to_owned()
}

fn get(client: &Client, path: &str, cookie: &str) -> Answer {
    client.send("GET", path, &[("cookie", cookie)], b"").unwrap()
}

#[test]
fn a_stranger_gets_the_pairing_page_and_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let Some((service, url)) = open_door(folder.path()) else { return };
    service.json("POST", "/api/layouts", &[], &thank_you("Thank you, Edith"));
    let stranger = Client::at(&url);
    let page = get(&stranger, "/pair", "");
    assert_eq!((page.status, page.header("content-type")), (200, "text/html; charset=utf-8"));
    assert!(!page.header("content-security-policy").contains("unsafe"), "no script in the page itself");
    // All that the page is made of can be fetched, and it is made of nothing else.
    let mut files = vec!["pair.html".to_owned()];
    let mut seen = 0;
    while let Some(name) = files.get(seen).cloned() {
        seen += 1;
        let path = if name == "pair.html" { "/pair".to_owned() } else { format!("/{name}") };
        let answer = get(&stranger, &path, "");
        assert_eq!(answer.status, 200, "{path}");
        let text = String::from_utf8(answer.body).unwrap();
        for start in ["href=\"", "src=\"", "from './"] {
            for part in text.split(start).skip(1) {
                let other = part.split(['"', '\'']).next().unwrap().to_owned();
                if !files.contains(&other) {
                    files.push(other);
                }
            }
        }
    }
    assert!(files.len() >= 6, "{files:?}");

    for path in [
        "/",
        "/index.html",
        "/scan",
        "/app.js",
        "/scan.js",
        "/pair.html",
        "/pair/",
        "/%70air",
        "/pair/../index.html",
        "/cake",
        "//pair",
    ] {
        let answer = get(&stranger, path, "");
        assert_eq!((answer.status, answer.header("location")), (303, "/pair"), "{path}");
        assert!(answer.body.is_empty(), "{path}");
    }
    for path in ["/api/layouts", "/api/health", "/api/openapi.json", "/api/pairing", "/api/cake", "/api/"] {
        let answer = get(&stranger, path, "");
        check_problem(path, &answer, 401, "this device is not paired with the notebook: open /pair on it");
        assert!(!answer.header("www-authenticate").is_empty(), "{path}");
    }
    let forged = format!("eighths=1.{}", "0".repeat(64));
    for headers in [
        &[("cookie", forged.as_str())][..],
        &[("cookie", "eighths=1")],
        // What a browser's neighbour may say of itself is not believed.
        &[("x-forwarded-for", "127.0.0.1"), ("forwarded", "for=127.0.0.1"), ("x-real-ip", "::1")],
        &[("host", "127.0.0.1")],
        &[("host", "localhost")],
    ] {
        let answer = stranger.send("GET", "/api/layouts", headers, b"").unwrap();
        check_problem(&format!("{headers:?}"), &answer, 401, "not paired");
    }
    let (kind, form) = photo_form(&vec![0xff; 300_000], &[]);
    for (method, path, kind, body) in [
        ("POST", "/api/photos", kind.as_str(), form.as_slice()),
        ("POST", "/api/imports", kind.as_str(), form.as_slice()),
        ("POST", "/api/layouts", "application/json", b"{}"),
        ("DELETE", "/api/layouts/1", "application/json", b""),
        ("POST", "/api/pairing/code", "application/json", b"{}"),
        ("DELETE", "/api/pairing/devices/1", "application/json", b""),
        ("OPTIONS", "/api/layouts", "application/json", b""),
    ] {
        let answer = stranger.send(method, path, &[("content-type", kind)], body).unwrap();
        check_problem(&format!("{method} {path}"), &answer, 401, "not paired");
    }
    // The maker's own machine needs nothing.
    assert_eq!(service.get("/api/layouts").json()["total"], 1, "nothing was changed");
    assert_eq!(service.get("/").status, 200);
}

#[test]
fn a_code_pairs_one_device_which_then_reads_and_adds() {
    let folder = tempfile::tempdir().unwrap();
    let Some((service, url)) = open_door(folder.path()) else { return };
    let phone = Client::at(&url);
    let code = code_of(&service);
    let agent = "Mozilla/5.0 (Linux; Android 15; Handset) AppleWebKit/537.36 Mobile Safari/537.36";
    let paired =
        phone.json("POST", "/api/pairing", &[("user-agent", agent)], &json!({"code": code})).unwrap();
    assert_eq!((paired.status, &paired.json()["name"]), (201, &json!("Android phone")));
    let cookie = paired.header("set-cookie").to_owned();
    for part in ["HttpOnly", "SameSite=Strict", "Path=/", "Max-Age=34560000"] {
        assert!(cookie.split("; ").any(|one| one == part), "{part} in {cookie}");
    }
    let cookie = cookie.split(';').next().unwrap();
    let token = cookie.rsplit_once('.').unwrap().1;
    assert_eq!(token.len(), 64, "256 bits");
    check_problem("again", &enter(&Client::at(&url), &code), 409, "that code was used already");

    assert_eq!(get(&phone, "/api/layouts", cookie).json()["total"], 0);
    let saved = phone.json("POST", "/api/layouts", &[("cookie", cookie)], &thank_you("Thank you")).unwrap();
    assert_eq!(saved.status, 201);
    for page in ["/", "/scan"] {
        let page = get(&phone, page, cookie);
        assert_eq!(page.status, 200);
        assert!(page.header("set-cookie").starts_with(cookie), "the cookie's life begins anew");
    }
    for (method, path) in
        [("GET", "/api/pairing"), ("POST", "/api/pairing/code"), ("DELETE", "/api/pairing/devices/1")]
    {
        let answer = phone.send(method, path, &[("cookie", cookie)], b"").unwrap();
        check_problem(path, &answer, 403, "pairing is looked after at the computer that eighths runs on");
    }
    let other_site = [("cookie", cookie), ("origin", "http://cards.example")];
    let answer = phone.json("POST", "/api/layouts", &other_site, &thank_you("Thank you")).unwrap();
    check_problem("origin", &answer, 403, "a page of another site");

    let standing = service.get("/api/pairing").json();
    assert_eq!(standing["ended"], "used");
    assert_eq!(standing["devices"][0]["name"], "Android phone");
    for key in ["paired_at", "seen_at"] {
        assert!(standing["devices"][0][key].as_str().unwrap().ends_with('Z'), "{standing}");
    }
    assert!(!standing.to_string().contains(token), "a token is told to nobody");
    let said = service.said();
    assert!(!said.contains(token), "{said}");
    drop(service);
    for entry in fs::read_dir(folder.path()).unwrap() {
        let path = entry.unwrap().path();
        let bytes = if path.is_file() { fs::read(&path).unwrap() } else { Vec::new() };
        assert!(!bytes.windows(64).any(|part| part == token.as_bytes()), "{}", path.display());
    }
}

#[test]
fn wrong_codes_make_the_code_void_and_then_have_to_wait() {
    let folder = tempfile::tempdir().unwrap();
    let Some((service, url)) = open_door(folder.path()) else { return };
    let stranger = Client::at(&url);
    check_problem("short", &enter(&stranger, "1234"), 400, "a pairing code has 8 digits");
    let code = code_of(&service);
    let wrong = if code == "1234 5678" { "8765 4321" } else { "1234 5678" };
    for left in ["4 tries are", "3 tries are", "2 tries are", "one more try is"] {
        let answer = enter(&stranger, wrong);
        check_problem(left, &answer, 401, &format!("that is not the code: look again, {left} left"));
        assert_eq!(answer.header("set-cookie"), "");
    }
    check_problem("fifth", &enter(&stranger, wrong), 401, "5 wrong ones make it void");
    check_problem("void", &enter(&stranger, &code), 409, "the code is void after too many wrong ones");
    assert_eq!(service.get("/api/pairing").json()["ended"], "guessed");

    let mut refused = enter(&stranger, &code);
    for _ in 0..10 {
        if refused.status == 429 {
            break;
        }
        refused = enter(&stranger, &code);
    }
    check_problem("too many", &refused, 429, "too many codes were entered: wait");
    let wait: u64 = refused.header("retry-after").parse().unwrap();
    assert!((1..=60).contains(&wait), "{wait}");
    // Even the right code has to wait, and a new one helps only this machine.
    let code = new_code(&service);
    check_problem("right", &enter(&stranger, &code), 429, "wait");
    assert_eq!(code_of(&service), code, "it was not used up");
    assert_eq!(service.get("/api/pairing").json()["devices"], json!([]));
}

#[test]
fn a_pairing_that_is_ended_is_ended_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let Some((service, url)) = open_door(folder.path()) else { return };
    let (lost, kept) = (Client::at(&url), Client::at(&url));
    let lost_cookie = pair(&service, &lost, "Ruth’s old phone");
    let kept_cookie = pair(&service, &kept, "Ruth’s phone");
    let (kind, form) = form_of(&[("open", "true")], None);
    let headers = [("content-type", kind.as_str()), ("cookie", lost_cookie.as_str())];
    assert_eq!(lost.send("POST", "/api/imports", &headers, &form).unwrap().status, 202);
    let mut events = follow(&url, "/api/imports/1/events", &lost_cookie);

    let devices = service.get("/api/pairing").json()["devices"].clone();
    assert_eq!(devices[1]["name"], "Ruth’s old phone");
    let path = format!("/api/pairing/devices/{}", devices[1]["id"]);
    assert_eq!(service.send("DELETE", &path, &[], b"").status, 204);
    check_problem("lost", &get(&lost, "/api/layouts", &lost_cookie), 401, "not paired");
    assert_eq!(get(&lost, "/", &lost_cookie).header("location"), "/pair");
    assert_eq!(get(&kept, "/api/layouts", &kept_cookie).status, 200);
    check_problem("again", &service.send("DELETE", &path, &[], b""), 404, "no paired device has the id");
    check_problem("word", &service.send("DELETE", "/api/pairing/devices/x", &[], b""), 404, "has the id x");
    let begun = Instant::now();
    let mut rest = String::new();
    // Whether it ends or breaks off: nothing more is told.
    let _ = events.read_to_string(&mut rest);
    assert!(begun.elapsed() < Duration::from_secs(5), "what was being watched goes on: {rest}");

    // The pairing outlives the service, and a service without --lan is closed all the same.
    drop(service);
    let closed = Service::start(folder.path(), &[]);
    let own_port = closed.url.rsplit_once(':').unwrap().1.to_owned();
    let address: SocketAddr = format!("{}:{own_port}", network_address().unwrap()).parse().unwrap();
    assert!(TcpStream::connect_timeout(&address, Duration::from_secs(2)).is_err(), "loopback only");
    assert_eq!(closed.get("/api/pairing").json()["network"], false);
    check_problem("closed", &closed.send("POST", "/api/pairing/code", &[], b""), 409, "start it with --lan");
    drop(closed);
    let Some((service, url)) = open_door(folder.path()) else { return };
    let (lost, kept) = (Client::at(&url), Client::at(&url));
    assert_eq!(get(&kept, "/api/layouts", &kept_cookie).status, 200);
    check_problem("lost", &get(&lost, "/api/layouts", &lost_cookie), 401, "not paired");

    // A device that pairs again has one pairing, not two.
    let code = new_code(&service);
    let again =
        kept.json("POST", "/api/pairing", &[("cookie", &kept_cookie)], &json!({"code": code})).unwrap();
    assert_eq!(again.status, 201);
    assert_eq!(service.get("/api/pairing").json()["devices"].as_array().unwrap().len(), 1);
    check_problem("before", &get(&kept, "/api/layouts", &kept_cookie), 401, "not paired");
}

/// Begins to follow an event stream; gives it after the first event.
fn follow(url: &str, path: &str, cookie: &str) -> BufReader<TcpStream> {
    let host = url.strip_prefix("http://").unwrap();
    let mut stream = TcpStream::connect(host).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    write!(stream, "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nCookie: {cookie}\r\n\r\n")
        .unwrap();
    let mut reader = BufReader::new(stream);
    let mut line = String::new();
    while !line.starts_with("event: import") {
        line.clear();
        assert!(reader.read_line(&mut line).unwrap() > 0, "no event came");
    }
    reader
}

/// A form of an import, with or without a picture.
fn form_of(fields: &[(&str, &str)], picture: Option<(&str, &[u8])>) -> (String, Vec<u8>) {
    const BOUNDARY: &str = "5b7e-between-the-parts";
    let mut body = Vec::new();
    for (name, value) in fields {
        body.extend(
            format!("--{BOUNDARY}\r\ncontent-disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n")
                .bytes(),
        );
    }
    if let Some((name, bytes)) = picture {
        body.extend(
            format!(
                "--{BOUNDARY}\r\ncontent-disposition: form-data; name=\"file\"; filename=\"{name}\"\r\n\r\n"
            )
            .bytes(),
        );
        body.extend(bytes);
        body.extend(b"\r\n");
    }
    body.extend(format!("--{BOUNDARY}--\r\n").bytes());
    (format!("multipart/form-data; boundary={BOUNDARY}"), body)
}

#[test]
fn a_shot_whose_answer_was_lost_is_imported_once() {
    let folder = tempfile::tempdir().unwrap();
    let Some((service, url)) = open_door(folder.path()) else { return };
    let phone = Client::at(&url);
    let cookie = pair(&service, &phone, "");
    let picture = fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-images/flat-scan.jpg")).unwrap();
    let send = |path: &str, form: (String, Vec<u8>)| -> Value {
        let headers = [("content-type", form.0.as_str()), ("cookie", cookie.as_str())];
        let answer = phone.send("POST", path, &headers, &form.1).unwrap();
        assert_eq!(answer.status, 202, "{}", answer.json());
        answer.json()
    };
    let import = send("/api/imports", form_of(&[("open", "true"), ("card", "A2")], None))["id"].clone();
    let files = format!("/api/imports/{import}/files");
    let shot = || form_of(&[("open", "true")], Some(("Shot of 27 Nov 2026, 14.05.32.jpg", &picture)));
    send(&files, shot());
    send(&files, shot());
    let done = || service.get(&format!("/api/imports/{import}")).json();
    let begun = Instant::now();
    while done()["counts"]["files_done"] != 2 {
        assert!(begun.elapsed() < Duration::from_mins(2), "{}", done());
        std::thread::sleep(Duration::from_millis(200));
    }
    assert_eq!(done()["open"], true, "more shots may come");
    let told = get(&phone, &files, &cookie).json();
    assert_eq!(told["files"][0]["pages"][0]["layouts"].as_array().map(Vec::len), Some(1), "{told}");
    assert_eq!(told["files"][1]["pages"][0]["outcome"], "already-there", "{told}");
    let list = service.get("/api/layouts").json();
    assert_eq!(list["total"], 1, "{list}");
    assert_eq!(list["layouts"][0]["title"], "Shot of 27 Nov 2026, 14.05.32");
    let closed = phone.json(
        "PATCH",
        &format!("/api/imports/{import}"),
        &[("cookie", &cookie)],
        &json!({"open": false}),
    );
    assert_eq!(closed.unwrap().json()["state"], "done");
}

#[test]
fn the_service_answers_to_its_own_names_only() {
    let folder = tempfile::tempdir().unwrap();
    let Some((service, url)) = open_door(folder.path()) else { return };
    let phone = Client::at(&url);
    let cookie = pair(&service, &phone, "");
    let named = |client: &Client, host: &str| {
        client.send("GET", "/api/health", &[("host", host), ("cookie", &cookie)], b"").unwrap()
    };
    let own = url.strip_prefix("http://").unwrap();
    assert_eq!(named(&phone, own).status, 200);
    // A name that somebody pointed at this machine, seen from outside and from the maker's own browser.
    for host in ["cards.example", "cards.local", "kitchen", "8.8.8.8", "127.0.0.1.cards.example", "[fe80::1]"]
    {
        check_problem(host, &named(&phone, host), 421, "does not answer to the name");
        check_problem(host, &named(&service.client(), host), 421, "does not answer to the name");
        check_problem("/pair", &phone.send("GET", "/pair", &[("host", host)], b"").unwrap(), 421, "the name");
    }
    let entry = json!({"code": new_code(&service)});
    let foreign = phone.json("POST", "/api/pairing", &[("origin", "http://cards.example")], &entry).unwrap();
    check_problem("origin", &foreign, 403, "a page of another site");
}

#[test]
fn the_terminal_says_how_a_phone_comes_in() {
    let folder = tempfile::tempdir().unwrap();
    let Some((service, url)) = open_door(folder.path()) else { return };
    let begun = Instant::now();
    while !service.said().contains("Ctrl-C") {
        assert!(begun.elapsed() < Duration::from_secs(10), "{}", service.said());
        std::thread::sleep(Duration::from_millis(20));
    }
    let said = service.said();
    let code = code_of(&service);
    for words in [
        format!("or open {url}/pair on it and enter {code}"),
        "valid for 10 minutes".to_owned(),
        format!("{}/#/phone", service.url),
        "▀".to_owned(),
    ] {
        assert!(said.contains(&words), "{words:?} in {said}");
    }
    assert!(!said.contains('\u{1b}'), "what is no terminal gets no colours");
    let standing = service.get("/api/pairing").json();
    assert_eq!(standing["addresses"][0]["url"], format!("{url}/pair"));
    assert!(standing["addresses"][0]["qr"]["side"].as_u64().unwrap() >= 29, "{standing}");
    assert!(standing["code"]["seconds_left"].as_u64().unwrap() > 500, "{standing}");
}

#[test]
fn a_stranger_with_many_connections_locks_nobody_out() {
    let folder = tempfile::tempdir().unwrap();
    let Some((service, url)) = open_door(folder.path()) else { return };
    let host = url.strip_prefix("http://").unwrap();
    let mut held: Vec<TcpStream> = (0..60).filter_map(|_| TcpStream::connect(host).ok()).collect();
    std::thread::sleep(Duration::from_millis(500));
    let closed = held
        .iter_mut()
        .filter_map(|stream| {
            stream.set_read_timeout(Some(Duration::from_millis(20))).ok()?;
            // A closed connection ends or breaks; an open one has nothing to say.
            let answer = stream.read(&mut [0; 1]);
            (!answer.is_err_and(|error| {
                [std::io::ErrorKind::WouldBlock, std::io::ErrorKind::TimedOut].contains(&error.kind())
            }))
            .then_some(())
        })
        .count();
    assert!((30..60).contains(&closed), "{closed} of 60 connections were closed");
    assert_eq!(service.get("/api/health").status, 200, "the maker's own machine is not counted");
    drop(held);
    std::thread::sleep(Duration::from_millis(200));
    assert_eq!(get(&Client::at(&url), "/pair", "").status, 200, "there is room again");
}

//! Saving layouts, changing them, and getting back what was.

use serde_json::{Value, json};
use tests::program::Service;

use crate::{record, thank_you};

#[test]
fn a_layout_is_saved_changed_deleted_and_brought_back() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);

    let created = service.json("POST", "/api/layouts", &[], &thank_you("Thank you"));
    assert_eq!(created.status, 201);
    let place = created.header("location").to_owned();
    assert_eq!(record(&created.json()), thank_you("Thank you"));
    assert_eq!(created.json()["etag"], created.header("etag"));

    let shown = service.get(&place);
    assert_eq!((shown.status, shown.json()), (200, created.json()));
    assert_eq!(shown.header("etag"), created.header("etag"));

    // What was shown can be changed and sent back as it is.
    let mut changed = shown.json();
    changed["title"] = json!("Thank you, Otis");
    let updated = service.json("PUT", &place, &[("if-match", shown.header("etag"))], &changed);
    assert_eq!((updated.status, record(&updated.json())), (200, thank_you("Thank you, Otis")));
    assert_ne!(updated.header("etag"), shown.header("etag"));

    let deleted = service.send("DELETE", &place, &[("if-match", updated.header("etag"))], b"");
    assert_eq!((deleted.status, deleted.body.len()), (204, 0));
    let gone = service.get(&place);
    assert_eq!(gone.status, 404);
    assert!(
        gone.json()["detail"].as_str().unwrap().contains("restore one of its versions"),
        "{:?}",
        gone.json()
    );
    assert_eq!(service.get("/api/layouts").json()["total"], 0);

    let history = service.get(&format!("{place}/versions")).json();
    let lines: Vec<_> =
        history["versions"].as_array().unwrap().iter().map(|v| (&v["version"], &v["title"])).collect();
    assert_eq!(
        lines,
        [(&json!(3), &Value::Null), (&json!(2), &json!("Thank you, Otis")), (&json!(1), &json!("Thank you"))]
    );
    let first = service.get(&format!("{place}/versions/1"));
    assert_eq!((first.status, first.json()), (200, created.json()));

    // Nothing can be lost by bringing a deleted layout back, so no ETag is asked for.
    let restored = service.send("POST", &format!("{place}/versions/1/restore"), &[], b"");
    assert_eq!((restored.status, record(&restored.json())), (200, thank_you("Thank you")));
    // Over a live one it is.
    let blind = service.send("POST", &format!("{place}/versions/2/restore"), &[], b"");
    assert_eq!(blind.status, 428);
    let seen = [("if-match", restored.header("etag"))];
    let restored = service.send("POST", &format!("{place}/versions/2/restore"), &seen, b"");
    assert_eq!((restored.status, record(&restored.json())), (200, thank_you("Thank you, Otis")));
    assert_eq!(restored.json()["version"], 5);
}

#[test]
fn of_two_writers_one_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let created = service.json("POST", "/api/layouts", &[], &thank_you("Get well"));
    let place = created.header("location").to_owned();
    let statuses: Vec<u16> = std::thread::scope(|scope| {
        let writers: Vec<_> = ["one", "two", "three", "four"]
            .map(|title| {
                let (service, place, etag) = (&service, &place, created.header("etag"));
                scope.spawn(move || {
                    service.json("PUT", place, &[("if-match", etag)], &thank_you(title)).status
                })
            })
            .into_iter()
            .collect();
        writers.into_iter().map(|writer| writer.join().unwrap()).collect()
    });
    assert_eq!(statuses.iter().filter(|&&status| status == 200).count(), 1, "{statuses:?}");
    assert_eq!(statuses.iter().filter(|&&status| status == 412).count(), 3, "{statuses:?}");
    assert_eq!(service.get(&format!("{place}/versions")).json()["versions"].as_array().unwrap().len(), 2);
}

#[test]
fn the_list_comes_in_parts_and_is_searched() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    for title in ["Thank you", "Get well", "Happy birthday"] {
        service.json("POST", "/api/layouts", &[], &thank_you(title));
    }
    let titles = |query: &str| {
        let answer = service.get(&format!("/api/layouts?{query}")).json();
        let titles: Vec<String> = answer["layouts"]
            .as_array()
            .unwrap()
            .iter()
            .map(|l| l["title"].as_str().unwrap().to_owned())
            .collect();
        (titles, answer["total"].as_u64().unwrap(), answer["next"].clone())
    };
    let (first, total, next) = titles("limit=2");
    assert_eq!((first, total), (vec!["Happy birthday".to_owned(), "Get well".to_owned()], 3));
    let (rest, total, end) = titles(&format!("limit=2&after={next}"));
    assert_eq!((rest, total, end), (vec!["Thank you".to_owned()], 3, Value::Null));
    assert_eq!(titles("text=GET").0, ["Get well"]);
    assert_eq!(titles("text=thursday%20birthday").0, ["Happy birthday"]);
    assert_eq!(titles("tag=edith&card=a2").1, 3);
    assert_eq!(titles("card=square").1, 0);
}

#[test]
fn a_drawing_is_an_svg_that_browsers_keep() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let created = service.json("POST", "/api/layouts", &[], &thank_you("Thank you"));
    let place = format!("{}/drawing.svg", created.header("location"));
    let plain = service.get(&place);
    assert_eq!((plain.status, plain.header("content-type")), (200, "image/svg+xml"));
    let sized = service.get(&format!("{place}?sizes=true"));
    let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).unwrap();
    assert!(text(&sized.body).contains("2 1/8"), "{}", text(&sized.body));
    assert!(!text(&plain.body).contains("2 1/8"));
    assert_ne!(plain.header("etag"), sized.header("etag"));
    let again = service.send("GET", &place, &[("if-none-match", plain.header("etag"))], b"");
    assert_eq!((again.status, again.body.len()), (304, 0));
}

#[test]
fn every_answer_tells_browsers_to_be_careful() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    for path in ["/api/health", "/api/layouts/99", "/nothing"] {
        let answer = service.get(path);
        assert_eq!(answer.header("x-content-type-options"), "nosniff", "{path}");
        assert_eq!(answer.header("x-frame-options"), "DENY", "{path}");
        assert_eq!(answer.header("referrer-policy"), "no-referrer", "{path}");
        let policy = answer.header("content-security-policy");
        assert!(
            policy.contains("default-src 'none'") && !policy.contains("unsafe-inline"),
            "{path}: {policy}"
        );
    }
}

#[test]
fn one_folder_has_one_service_and_one_port_one_program() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let data = folder.path().to_str().unwrap();
    let second = tests::program::run(&["serve", "--data", data, "--listen", "127.0.0.1:0"]);
    let said = String::from_utf8(second.stderr).unwrap();
    assert_eq!(second.status.code(), Some(1), "{said}");
    assert!(said.contains("another eighths is using the data folder"), "{said}");

    let other = tempfile::tempdir().unwrap();
    let address = service.url.strip_prefix("http://").unwrap();
    let data = other.path().to_str().unwrap();
    let second = tests::program::run(&["serve", "--data", data, "--listen", address]);
    let said = String::from_utf8(second.stderr).unwrap();
    assert_eq!(second.status.code(), Some(1), "{said}");
    assert!(said.contains("is in use by another program") && said.contains("--listen"), "{said}");
}

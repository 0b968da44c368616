//! The description of the interface, and whether it is true.

use serde_json::{Value, json};
use tests::program::Service;

use crate::thank_you;

/// Every route with the statuses it can answer; 401, 421 and 500 come with each,
/// 403 and 507 with each that changes something.
const ROUTES: [(&str, &str, &str); 66] = [
    ("post", "/api/photos", "201 400 413 415 422 503"),
    ("get", "/api/photos/{id}", "200 400 404 503"),
    ("get", "/api/photos/{id}/size", "200 404"),
    ("post", "/api/photos/{id}/read", "200 400 404 413 415 422 503"),
    ("get", "/api/layouts", "200 400 422"),
    ("post", "/api/layouts", "201 400 413 415 422"),
    ("get", "/api/layouts/{id}", "200 404"),
    ("put", "/api/layouts/{id}", "200 400 404 412 413 415 422 428"),
    ("delete", "/api/layouts/{id}", "204 400 404 412 428"),
    ("get", "/api/layouts/{id}/versions", "200 404"),
    ("get", "/api/layouts/{id}/versions/{version}", "200 404"),
    ("post", "/api/layouts/{id}/versions/{version}/restore", "200 400 404 412 428"),
    ("get", "/api/layouts/{id}/drawing.svg", "200 400 404"),
    ("get", "/api/layouts/{id}/drawing.pdf", "200 400 404"),
    ("get", "/api/layouts/{id}/drawing.png", "200 400 404"),
    ("get", "/api/layouts/{id}/versions/{version}/drawing.svg", "200 400 404"),
    ("get", "/api/layouts/{id}/pieces", "200 400 404"),
    ("get", "/api/layouts/{id}/pieces.csv", "200 400 404"),
    ("get", "/api/layouts/{id}/pieces.pdf", "200 400 404"),
    ("get", "/api/layouts/{id}/assembly.pdf", "200 400 404"),
    ("get", "/api/layouts/print.pdf", "200 400 404"),
    ("post", "/api/settle", "200 400 413 415 422"),
    ("put", "/api/layouts/{id}/favourite", "200 404"),
    ("delete", "/api/layouts/{id}/favourite", "200 404"),
    ("post", "/api/layouts/{id}/uses", "200 404"),
    ("delete", "/api/layouts/{id}/uses", "200 404"),
    ("post", "/api/layouts/tags", "200 400 404 413 415 422"),
    ("post", "/api/layouts/deletions", "200 400 404 413 415"),
    ("post", "/api/layouts/restorations", "200 400 404 413 415"),
    ("get", "/api/layouts/{id}/versions/{version}/drawing.png", "200 400 404"),
    ("get", "/api/papers", "200 400"),
    ("post", "/api/papers", "201 400 413 415 422"),
    ("get", "/api/papers.csv", "200"),
    ("post", "/api/papers.csv", "201 413 415 422"),
    ("get", "/api/papers/{id}", "200 404"),
    ("put", "/api/papers/{id}", "200 400 404 412 413 415 422 428"),
    ("delete", "/api/papers/{id}", "204 400 404 412 428"),
    ("get", "/api/papers/{id}/versions", "200 404"),
    ("post", "/api/papers/{id}/versions/{version}/restore", "200 400 404 412 428"),
    ("post", "/api/papers/{id}/cuts", "200 400 404 409 412 413 415 428"),
    ("get", "/api/papers/{id}/layouts", "200 400 404"),
    ("get", "/api/batches", "200"),
    ("post", "/api/batches", "201 400 404 413 415 422"),
    ("get", "/api/batches/{id}", "200 404"),
    ("put", "/api/batches/{id}", "200 400 404 409 412 413 415 422 428"),
    ("delete", "/api/batches/{id}", "204 400 404 412 428"),
    ("get", "/api/batches/{id}/plan", "200 404 409"),
    ("post", "/api/batches/{id}/plan", "200 400 404 422 503"),
    ("get", "/api/batches/{id}/sheets.json", "200 404 409"),
    ("get", "/api/batches/{id}/sheets.pdf", "200 400 404 409"),
    ("get", "/api/batches/{id}/sheets.svg", "200 400 404 409"),
    ("put", "/api/batches/{id}/cut", "200 400 404 409 412 428"),
    ("delete", "/api/batches/{id}/cut", "204 404 409"),
    ("get", "/api/imports", "200"),
    ("post", "/api/imports", "202 400 413 415 422 503"),
    ("get", "/api/imports/{id}", "200 404"),
    ("patch", "/api/imports/{id}", "200 400 404 409 413 415 422"),
    ("get", "/api/imports/{id}/files", "200 400 404"),
    ("post", "/api/imports/{id}/files", "202 400 404 409 413 415 422 503"),
    ("get", "/api/imports/{id}/events", "200 400 404"),
    ("get", "/api/imports/{id}/report.csv", "200 404"),
    ("put", "/api/imports/{id}/alike/{layout}", "200 400 404 409 413 415"),
    ("get", "/api/tags", "200"),
    ("get", "/api/cards", "200"),
    ("get", "/api/health", "200"),
    ("get", "/api/openapi.json", "200"),
];

/// The routes of the door to the network, in the same way.
const DOOR_ROUTES: [(&str, &str, &str); 4] = [
    ("get", "/api/pairing", "200 403"),
    ("post", "/api/pairing", "201 400 409 413 415 429"),
    ("post", "/api/pairing/code", "200 409"),
    ("delete", "/api/pairing/devices/{id}", "204 404"),
];

#[test]
fn the_description_names_each_route_and_its_statuses() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let document = service.get("/api/openapi.json").json();
    let mut found = Vec::new();
    for (path, methods) in document["paths"].as_object().unwrap() {
        for (method, operation) in methods.as_object().unwrap() {
            let mut statuses: Vec<&str> =
                operation["responses"].as_object().unwrap().keys().map(String::as_str).collect();
            statuses.sort_unstable();
            assert!(!operation["summary"].as_str().unwrap().is_empty(), "{method} {path}");
            found.push((method.clone(), path.clone(), statuses.join(" ")));
        }
    }
    let mut expected: Vec<_> = ROUTES
        .iter()
        .chain(&DOOR_ROUTES)
        .map(|&(method, path, statuses)| {
            let common = if method == "get" { "401 421 500" } else { "401 403 421 500 507" };
            let mut statuses: Vec<&str> = statuses.split(' ').chain(common.split(' ')).collect();
            statuses.sort_unstable();
            (method.to_owned(), path.to_owned(), statuses.join(" "))
        })
        .collect();
    found.sort();
    expected.sort();
    assert_eq!(found, expected);
    no_dangling_references(&document, &document);
}

/// Each `$ref` of a document points at something in it.
fn no_dangling_references(document: &Value, part: &Value) {
    match part {
        Value::Object(object) => {
            if let Some(Value::String(reference)) = object.get("$ref") {
                let pointer = reference.strip_prefix('#').unwrap_or_else(|| panic!("{reference}"));
                assert!(document.pointer(pointer).is_some(), "{reference} points nowhere");
            }
            object.values().for_each(|inner| no_dangling_references(document, inner));
        }
        Value::Array(array) => array.iter().for_each(|inner| no_dangling_references(document, inner)),
        _ => {}
    }
}

#[test]
fn answers_have_the_fields_that_the_description_says() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    service.json("POST", "/api/layouts", &[], &thank_you("Thank you"));
    let paper =
        json!({"schema": 1, "name": "Ferns", "width": 12, "height": 12, "count": 9, "weight": "cardstock"});
    service.json("POST", "/api/papers", &[], &paper);
    service.json("POST", "/api/batches", &[], &json!({"schema": 1, "layouts": [{"layout": 1}]}));
    service.send("POST", "/api/batches/1/plan?rounds=0", &[], b"");
    let document = service.get("/api/openapi.json").json();
    for (path, route) in [
        ("/api/layouts", "/api/layouts"),
        ("/api/layouts/1", "/api/layouts/{id}"),
        ("/api/layouts/1/versions", "/api/layouts/{id}/versions"),
        ("/api/layouts/1/pieces", "/api/layouts/{id}/pieces"),
        ("/api/papers", "/api/papers"),
        ("/api/papers/1", "/api/papers/{id}"),
        ("/api/papers/1/versions", "/api/papers/{id}/versions"),
        ("/api/papers/1/layouts", "/api/papers/{id}/layouts"),
        ("/api/batches", "/api/batches"),
        ("/api/batches/1", "/api/batches/{id}"),
        ("/api/batches/1/plan", "/api/batches/{id}/plan"),
        ("/api/tags", "/api/tags"),
        ("/api/cards", "/api/cards"),
        ("/api/health", "/api/health"),
        ("/api/pairing", "/api/pairing"),
    ] {
        let schema =
            &document["paths"][route]["get"]["responses"]["200"]["content"]["application/json"]["schema"];
        let name = schema["$ref"].as_str().unwrap().strip_prefix('#').unwrap();
        let schema = document.pointer(name).unwrap();
        let answer = service.get(path).json();
        let said: Vec<&String> = schema["properties"].as_object().unwrap().keys().collect();
        for key in answer.as_object().unwrap().keys() {
            assert!(said.contains(&key), "{path} answers {key}, the description has {said:?}");
        }
        for key in schema["required"].as_array().unwrap() {
            assert!(answer.get(key.as_str().unwrap()).is_some(), "{path} does not answer {key}");
        }
    }
}

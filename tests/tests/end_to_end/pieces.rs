//! From a saved layout to what is cut and glued, over HTTP and at the command
//! line. `tests/outside/pieces.py` holds the areas against another program.

use std::fs;

use serde_json::{Value, json};
use tests::program::{self, Service};

use crate::thank_you;

#[test]
fn a_saved_layout_is_told_as_pieces() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let created = service.json("POST", "/api/layouts", &[], &thank_you("Thank you"));
    let place = created.header("location").to_owned();
    let answer = service.get(&format!("{place}/pieces?cards=6"));
    assert_eq!((answer.status, answer.header("content-type")), (200, "application/json"));
    let told = answer.json();
    let pieces = told["pieces"].as_array().unwrap();
    let listed: Vec<(&str, &str, u64)> = pieces
        .iter()
        .map(|piece| {
            let [paper, size] = ["paper", "size"].map(|key| piece[key].as_str().unwrap());
            (paper, size, piece["count"].as_u64().unwrap())
        })
        .collect();
    // Computed: 4 1/4 x 5 1/2 with a side fold is 8 1/2 x 5 1/2, scored at 4 1/4; an eighth more is 4 1/8 x 5 3/8.
    let expected = [
        ("base", "8 1/2 x 5 1/2", 6),
        ("A", "4 x 5 1/4", 6),
        ("plain", "2 3/8 x 2 3/8", 6),
        ("mat", "4 1/8 x 5 3/8", 6),
    ];
    assert_eq!(listed, expected);
    assert_eq!(pieces[0]["score"]["at"], 4.25);
    assert_eq!((&pieces[1]["upright"], &pieces[3]["upright"]), (&json!(true), &json!(false)));
    assert!(
        told["advice"]["findings"].as_array().unwrap().iter().any(|finding| finding["kind"] == "cut_out")
    );
    assert!(told["assembly"]["steps"][0]["words"].as_str().unwrap().contains("score 4 1/4 from the left"));
    assert_eq!(told["envelope"]["fits"]["name"], "A2");
    assert_eq!(told["envelope"]["post"].as_array().unwrap().len(), 4);
    // The same in other forms.
    for (address, media, start) in [
        ("pieces.csv?cards=6", "text/csv; charset=utf-8", &b"number,paper,count,"[..]),
        ("pieces?cards=6&format=csv", "text/csv; charset=utf-8", b"number,paper,count,"),
        ("pieces.pdf?cards=6", "application/pdf", b"%PDF-1."),
        ("pieces?format=pdf&paper=a4", "application/pdf", b"%PDF-1."),
        ("assembly.pdf?cards=6&foam=0.125", "application/pdf", b"%PDF-1."),
    ] {
        let answer = service.get(&format!("{place}/{address}"));
        assert_eq!((answer.status, answer.header("content-type")), (200, media), "{address}");
        assert!(answer.body.starts_with(start), "{address}");
        let known = [("if-none-match", answer.header("etag"))];
        assert_eq!(service.send("GET", &format!("{place}/{address}"), &known, b"").status, 304, "{address}");
        let others = service.send("GET", &format!("{place}/pieces?cards=7"), &known, b"");
        assert_eq!(others.status, 200, "another number of cards is another answer");
    }
}

#[test]
fn what_cannot_be_made_is_refused_in_a_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let place =
        service.json("POST", "/api/layouts", &[], &thank_you("Thank you")).header("location").to_owned();
    for (query, sentence) in [
        ("cards=0", "ask for 1 to 1000"),
        ("cards=1001", "ask for 1 to 1000"),
        ("cards=-4", "make 1 to 1000 cards"),
        ("cards=four", "make 1 to 1000 cards"),
        ("format=xml", "a format is json, csv or pdf"),
        ("format=pdf&paper=a3", "a paper is letter or a4"),
        ("margin=0", "leave 1/16 (0.5 mm) to 2 inches for glue"),
        ("margin=wide", "is not a length"),
        ("border=-1/8", "leave nothing to 2 inches"),
        ("allowance=-1/8", "makes a piece smaller"),
        ("cardstock=12", "give inches from 0.004 to 0.03"),
        ("foam=NaN", "give inches from 0.01 to 0.25"),
    ] {
        let answer = service.get(&format!("{place}/pieces?{query}"));
        let detail = answer.json()["detail"].as_str().unwrap_or_default().to_owned();
        assert_eq!(answer.status, 400, "{query}: {detail}");
        assert!(detail.contains(sentence), "{query}: {detail}");
    }
    assert_eq!(service.get("/api/layouts/99/pieces").status, 404);
    assert_eq!(service.get("/api/layouts/99/assembly.pdf").status, 404);
}

#[test]
fn the_command_line_tells_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    fs::write(path("layout.json"), thank_you("Thank you").to_string()).unwrap();
    let run = |more: &[&str]| {
        let layout = path("layout.json");
        let run = program::run(&[&["pieces", &layout], more].concat());
        let [out, err] = [run.stdout, run.stderr].map(|bytes| String::from_utf8(bytes).unwrap());
        (run.status.code(), out, err)
    };
    let (code, table, said) = run(&["--cards", "4"]);
    assert_eq!((code, said.as_str()), (Some(0), ""));
    for line in [
        "cut  paper  size",
        "4    A      4 x 5 1/4",
        "a circle 2 1/8 across",
        "Put it together:",
        "Envelope A2",
    ] {
        assert!(table.contains(line), "{line} is not in\n{table}");
    }
    let json: Value = serde_json::from_str(&run(&["--json", "--cards", "2"]).1).unwrap();
    assert_eq!(json["cards"], 2);
    assert!(run(&["--csv"]).1.starts_with("number,paper,count,"));
    assert_eq!(run(&["--out", &path("cut.pdf")]).0, Some(0));
    assert!(fs::read(path("cut.pdf")).unwrap().starts_with(b"%PDF-1."));
    for (more, code, sentence) in [
        (&["--cards", "0"][..], 2, "ask for 1 to 1000"),
        (&["--out", "cut.doc"], 2, "--out is a file that ends in .pdf"),
        (&["--json", "--csv"], 2, "cannot be used with"),
    ] {
        let (status, _, said) = run(more);
        assert_eq!(status, Some(code), "{more:?}: {said}");
        assert!(said.contains(sentence), "{more:?}: {said}");
    }
}

/// A list, a number and an object of something else are JSON, but no layouts.
#[test]
fn json_that_is_no_layout_is_called_that() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("other.json");
    for (text, sentence) in [
        ("[1, 2]", "this is JSON, but no layout"),
        ("4", "this is JSON, but no layout"),
        (r#"{"stock": [], "pieces": []}"#, "this is JSON, but no layout"),
        (r#"{"layouts": [{"title": "x"}]}"#, "this is JSON, but no layout"),
        ("{\"card\": ", "this is not JSON from line 1"),
        (
            r#"{"schema": 1, "card": {"width": 4.25, "height": "high"}}"#,
            "this layout cannot be used: card.height",
        ),
    ] {
        fs::write(&file, text).unwrap();
        for command in [&["print"][..], &["pieces"]] {
            let out = folder.path().join("out.pdf");
            let args = [command, &[file.to_str().unwrap(), "--out", out.to_str().unwrap()]].concat();
            let run = program::run(&args);
            let said = String::from_utf8(run.stderr).unwrap();
            assert_eq!(run.status.code(), Some(1), "{text}: {said}");
            assert!(said.contains(sentence), "{text}: {said}");
            assert!(!out.exists(), "{text}");
        }
    }
}

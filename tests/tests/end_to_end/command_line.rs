//! `eighths capture` as people and scripts use it.

use std::fs;
use std::io::Read;
use std::process::{Command, Stdio};

use image::ImageFormat;
use serde_json::Value;
use tests::pictures::{blank_paper, card_with_a_panel, encoded};
use tests::program;

#[test]
fn a_photo_becomes_a_table_json_an_overlay_and_stages() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    fs::write(at("card.png"), encoded(&card_with_a_panel(), ImageFormat::Png)).unwrap();

    let table = program::run(&["capture", &at("card.png"), "--card", "A2"]);
    let text = String::from_utf8(table.stdout).unwrap();
    assert_eq!(table.status.code(), Some(0), "{text}");
    assert!(text.starts_with("Layout 1: card A2, 4 1/4 x 5 1/2\n"), "{text}");
    assert!(text.contains("rectangle  3 1/4 x 4 1/2  1/2"), "{text}");

    let why = program::run(&["capture", &at("card.png"), "--why"]);
    let text = String::from_utf8(why.stdout).unwrap();
    for size in ["1      width   3 1/4  3.2", "1      height  4 1/2  4.5"] {
        assert!(text.contains(size), "{text}");
    }
    assert!(text.contains("centred on the card"), "{text}");

    let (overlay, stages) = (at("overlay.jpg"), at("stages"));
    let json =
        program::run(&["capture", &at("card.png"), "--json", "--overlay", &overlay, "--stages", &stages]);
    assert_eq!(json.status.code(), Some(0));
    let answer: Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!(answer.as_object().unwrap().keys().collect::<Vec<_>>(), ["layouts"]);
    assert_eq!(answer["layouts"][0]["elements"][0]["width"], 3.25, "{answer}");
    assert_eq!(answer["layouts"][0]["capture"]["photo"], "card.png");
    let drawn = image::load_from_memory_with_format(&fs::read(overlay).unwrap(), ImageFormat::Jpeg).unwrap();
    assert_eq!((drawn.width(), drawn.height()), (625, 750));
    let mut names: Vec<String> = fs::read_dir(&stages)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    for number in 1..=10 {
        assert!(names.iter().any(|name| name.starts_with(&format!("{number:02}-"))), "{names:?}");
    }
    let timings = fs::read_to_string(format!("{stages}/timings.txt")).unwrap();
    assert!(timings.lines().last().unwrap().starts_with("all "), "{timings}");
}

#[test]
fn a_picture_cropped_at_the_card_is_read_with_what_lies_on_what() {
    let folder = tempfile::tempdir().unwrap();
    let scan = concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-images/flat-scan.jpg");
    // Along the outline, which the truth beside the picture gives; the outline itself is left out.
    let card = image::open(scan).unwrap().crop_imm(427, 674, 434, 567);
    let path = folder.path().join("cropped.png").to_str().unwrap().to_owned();
    card.save(&path).unwrap();

    let output = program::run(&["capture", &path, "--card", "A2", "--frame", "photo", "--json"]);
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    let elements = answer["layouts"][0]["elements"].as_array().unwrap();
    let shapes: Vec<_> = elements.iter().filter_map(|element| element["shape"].as_str()).collect();
    assert_eq!(shapes[..3], ["rectangle", "rectangle", "circle"], "{answer}");
    for (element, size) in elements.iter().zip([[3.25, 2.375], [3.25, 2.0], [1.375, 1.375]]) {
        for (side, true_size) in ["width", "height"].into_iter().zip(size) {
            assert!((element[side].as_f64().unwrap() - true_size).abs() <= 0.125, "{element}");
        }
    }
}

#[test]
fn of_several_photos_each_has_its_line_and_one_that_fails_does_not_stop_the_rest() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    fs::write(at("blank.png"), encoded(&blank_paper(1), ImageFormat::Png)).unwrap();
    fs::write(at("card.png"), encoded(&card_with_a_panel(), ImageFormat::Png)).unwrap();
    let output = program::run(&["capture", "--json", &at("blank.png"), &at("card.png")]);
    assert_eq!(output.status.code(), Some(1));
    let lines: Vec<Value> = String::from_utf8(output.stdout)
        .unwrap()
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    assert_eq!(lines.len(), 2, "{lines:?}");
    assert_eq!(lines[0]["photo"], at("blank.png"));
    assert!(lines[0]["error"].as_str().unwrap().contains("no card outline found"), "{lines:?}");
    assert_eq!(lines[1]["layouts"][0]["card"]["name"], "A2", "{lines:?}");
}

#[test]
fn a_cutting_job_becomes_a_plan_with_its_cuts_in_order() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    // Nine panels of 4 x 4 in from a 12 x 12 in sheet: common practice, no source; area leaves no better plan.
    let job = r#"{"objective": "sheets", "rotation": true,
        "stock": [{"width": 12, "height": 12, "count": null}],
        "pieces": [{"width": 4, "height": 4, "quantity": 9}]}"#;
    fs::write(at("job.json"), job).unwrap();
    let told = program::run(&["cut", "--instance", &at("job.json")]);
    let text = String::from_utf8(told.stdout).unwrap();
    assert_eq!(told.status.code(), Some(0), "{text}");
    assert!(text.starts_with("Sheet 1: stock 1, 12 x 12\n  1. set 4: "), "{text}");
    assert!(
        text.contains("1 sheet, 8 cuts with 1 setting of the trimmer; 1 in all, no plan can do better\n"),
        "{text}"
    );
    // Where there are blades there is the caution: see `CAUTION` for its sources.
    assert!(text.ends_with("the trimmer's own instructions come first.\n"), "{text}");
    let json = program::run(&["cut", "--instance", &at("job.json"), "--rounds", "10", "--json"]);
    let answer: Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!(answer["sheets"][0]["pieces"].as_array().unwrap().len(), 9, "{answer}");

    fs::write(at("flat.json"), job.replace("\"width\": 4", "\"width\": 0")).unwrap();
    for (file, what) in [("flat.json", "lengths are above 0"), ("none.json", "there is no such file")] {
        let refused = program::run(&["cut", "--instance", &at(file)]);
        let text = String::from_utf8(refused.stderr).unwrap();
        assert_eq!(refused.status.code(), Some(1), "{text}");
        assert!(text.contains(what), "{text}");
    }
}

#[test]
fn a_cutting_job_without_room_prints_its_plan_and_says_what_is_left_out() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("job.json").to_str().unwrap().to_owned();
    // Three mats of 5 1/4 x 4 in lie on a 6 x 12 in strip, no more; nothing holds the 14 in banner.
    let job = r#"{"objective": "sheets", "rotation": true,
        "stock": [{"width": 6, "height": 12, "count": 1}],
        "pieces": [{"width": 4, "height": 5.25, "quantity": 4}, {"width": 14, "height": 1, "quantity": 1}]}"#;
    fs::write(&file, job).unwrap();
    let told = program::run(&["cut", "--instance", &file, "--rounds", "100", "--json"]);
    let error = String::from_utf8(told.stderr).unwrap();
    assert_eq!(told.status.code(), Some(3), "{error}");
    assert!(
        error.contains("no sheet is large enough for 1 of piece 2 (14 x 1): add a larger one"),
        "{error}"
    );
    assert!(error.contains("no room was left for 1 of piece 1 (4 x 5 1/4)"), "{error}");
    let answer: Value = serde_json::from_slice(&told.stdout).unwrap();
    assert_eq!(answer["missing"], serde_json::json!([1, 1]), "{answer}");
}

#[test]
fn the_blade_and_the_least_strip_are_told_in_the_unit_of_the_sizes() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("job.json").to_str().unwrap().to_owned();
    // Nine panels of 4 in fill a 12 in sheet to the edge; a blade that eats 1/8 in leaves room for four.
    let job = r#"{"objective": "sheets", "rotation": true,
        "stock": [{"width": 12, "height": 12, "count": null}],
        "pieces": [{"width": 4, "height": 4, "quantity": 9}]}"#;
    fs::write(&file, job).unwrap();
    let sheets = |more: &[&str]| {
        let args = [&["cut", "--instance", &file, "--rounds", "100", "--json"][..], more].concat();
        let told = program::run(&args);
        let error = String::from_utf8(told.stderr).unwrap();
        assert_eq!(told.status.code(), Some(0), "{error}");
        let answer: Value = serde_json::from_slice(&told.stdout).unwrap();
        answer["sheets"].as_array().unwrap().len()
    };
    assert_eq!(sheets(&[]), 1);
    assert_eq!(sheets(&["--blade", "0.125"]), 3);
    assert_eq!(sheets(&["--least-strip", "2"]), 1);

    for (option, what) in [
        ("--time=-1", "give seconds from 0 to 86400"),
        ("--rounds=-1", "give a whole number of rounds, 0 or more"),
        ("--blade=-1", "give a width of 0 or more"),
        ("--least-strip=wide", "give a width of 0 or more"),
    ] {
        let (name, value) = option.split_once('=').unwrap();
        for args in [&["cut", "--instance", &file, option][..], &["cut", "--instance", &file, name, value]] {
            let refused = program::run(args);
            let error = String::from_utf8(refused.stderr).unwrap();
            assert_eq!(refused.status.code(), Some(2), "{error}");
            assert!(error.contains(what), "{option}: {error}");
        }
    }
}

#[test]
fn help_tells_the_exit_codes() {
    for args in [&["--help"][..], &["capture", "--help"]] {
        let output = program::run(args);
        let text = String::from_utf8(output.stdout).unwrap();
        assert_eq!(output.status.code(), Some(0));
        assert!(text.contains("Exit codes:\n  0  all went well"), "{text}");
    }
}

/// A reader that goes away, as `head` does, is no error and no panic.
#[test]
fn a_closed_pipe_is_no_trouble() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("card.png");
    fs::write(&path, encoded(&card_with_a_panel(), ImageFormat::Png)).unwrap();
    for args in [&["capture", path.to_str().unwrap(), "--json"][..], &["--help"]] {
        let mut child = Command::new(program::path())
            .args(args)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let mut said = String::new();
        child.stderr.take().unwrap().read_to_string(&mut said).unwrap();
        assert_eq!((child.wait().unwrap().code(), said.as_str()), (Some(0), ""), "{args:?}");
    }
}

/// `pen-tilted.jpg` has the size of its upper panel written in it. What is
/// written is in the record and wins; with `--no-labels` nothing is read.
#[test]
fn a_written_size_is_read_unless_it_is_not_wanted() {
    let photo = concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-images/pen-tilted.jpg");
    let read = |more: &[&str]| -> Value {
        let output = program::run(&[&["capture", photo, "--card", "A2", "--json"], more].concat());
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let answer = read(&[]);
    let layout = &answer["layouts"][0];
    let labels = layout["capture"]["labels"].as_array().unwrap();
    let label = labels.iter().find(|label| label["text"] == "1 3/4 x 1 1/2").unwrap();
    assert_eq!((&label["width"], &label["height"]), (&1.75.into(), &1.5.into()), "{label}");
    let element =
        layout["elements"].as_array().unwrap().iter().find(|e| e["id"] == label["element"]).unwrap();
    assert_eq!((&element["width"], &element["height"]), (&1.75.into(), &1.5.into()), "{element}");
    // The writing's own corner on the photo, from the picture's answer.
    let truth = concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-images/pen-tilted.json");
    let truth: Value = serde_json::from_slice(&fs::read(truth).unwrap()).unwrap();
    let meant = &truth["layouts"][0]["labels"][0];
    assert_eq!(meant["text"], "1 3/4 x 1 1/2");
    let middle = |label: &Value| -> Vec<f64> {
        let at = |i: usize| (0..4).map(|k| label["box_px"][k][i].as_f64().unwrap()).sum::<f64>() / 4.0;
        vec![at(0), at(1)]
    };
    for (got, want) in middle(label).iter().zip(middle(meant)) {
        assert!((got - want).abs() < 12.0, "{label} {meant}");
    }
    let plain = read(&["--no-labels"]);
    assert!(plain["layouts"][0]["capture"].get("labels").is_none(), "{plain}");
}

/// A page of four layouts and a drawing with sizes written in it: everything that
/// could be shared out among threads.
#[test]
fn the_same_photo_gives_the_same_bytes_on_any_number_of_threads() {
    for name in ["notebook-four", "pen-tilted"] {
        let photo = format!("{}/../sample-images/{name}.jpg", env!("CARGO_MANIFEST_DIR"));
        let read = |threads: &str| {
            let output = Command::new(program::path())
                .args(["capture", &photo, "--card", "A2", "--json"])
                // What the thread pools of the libraries ask.
                .envs([("RAYON_NUM_THREADS", threads), ("RTEN_NUM_THREADS", threads)])
                .stdin(Stdio::null())
                .output()
                .unwrap();
            assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
            output.stdout
        };
        let one = read("1");
        for threads in ["2", "4"] {
            assert!(one == read(threads), "{name}: {threads} threads tell something else");
        }
    }
}

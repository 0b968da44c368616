//! Drawings as files, looked at as pictures. `tests/outside/prints.py` opens
//! the PDFs with another program and measures them.

use std::fs;

use image::{ImageFormat, RgbImage};
use serde_json::{Value, json};
use tests::program::{self, Service};

use crate::thank_you;

/// Titles that have broken pages before, everywhere.
const HOSTILE: [&str; 6] = [
    "</title><script>alert('x')</script>",
    "\" onload=\"alert(1)",
    "Donaudampfschifffahrtsgesellschaftskapitänsgeburtstagsglückwunschkartenvorlage",
    "Get well 🌷❤ soon",
    "תודה רבה לעדית",
    "&amp; <b>bold</b> %s ${x} \u{202e}txet",
];

fn hostile(title: &str) -> Value {
    let mut layout = thank_you(title);
    layout["notes"] = json!(format!("{title}\n{}", "W".repeat(500)));
    layout["tags"] = json!([title.chars().take(60).collect::<String>()]);
    layout
}

/// Number of pages and the boxes of a PDF, by its own objects.
fn boxes(pdf: &[u8]) -> Vec<String> {
    let text = String::from_utf8_lossy(pdf);
    text.match_indices("/MediaBox")
        .map(|(at, _)| text[at..].split_inclusive(']').next().unwrap_or_default().to_owned())
        .collect()
}

#[test]
fn drawings_are_pdf_png_and_svg() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let created = service.json("POST", "/api/layouts", &[], &thank_you("Thank you"));
    let place = format!("{}/drawing", created.header("location"));
    for (ending, media, start) in [
        ("pdf", "application/pdf", &b"%PDF-1."[..]),
        ("png", "image/png", b"\x89PNG"),
        ("svg?dimensions=true", "image/svg+xml", b"<svg "),
    ] {
        let answer = service.get(&format!("{place}.{ending}"));
        assert_eq!((answer.status, answer.header("content-type")), (200, media), "{ending}");
        assert!(answer.body.starts_with(start), "{ending}");
        let known = [("if-none-match", answer.header("etag"))];
        assert_eq!(service.send("GET", &format!("{place}.{ending}"), &known, b"").status, 304, "{ending}");
    }
    let letter = service.get(&format!("{place}.pdf")).body;
    let a4 = service.get(&format!("{place}.pdf?paper=a4")).body;
    assert_eq!(boxes(&letter), ["/MediaBox[0 0 612 792]"]);
    assert!(boxes(&a4)[0].starts_with("/MediaBox[0 0 595.2"), "{:?}", boxes(&a4));
    // Fonts are inside, and only the letters that are used.
    assert!(String::from_utf8_lossy(&letter).contains("/FontFile"), "no font inside");
    assert!(letter.len() < 200_000, "{} bytes", letter.len());
}

#[test]
fn many_layouts_share_pages() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    for number in 0..10 {
        service.json("POST", "/api/layouts", &[], &thank_you(&format!("Thank you {number}")));
    }
    let ids = (1..=10).map(|id| id.to_string()).collect::<Vec<_>>().join(",");
    for (per_page, pages) in [("1", 10), ("2", 5), ("4", 3), ("6", 2), ("9", 2)] {
        let answer = service.get(&format!("/api/layouts/print.pdf?ids={ids}&per_page={per_page}"));
        assert_eq!((answer.status, boxes(&answer.body).len()), (200, pages), "{per_page}");
    }
}

/// The card's white is where it should be in the picture, whatever the title.
#[test]
fn hostile_words_break_no_drawing() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let mut ids = Vec::new();
    for title in HOSTILE {
        let created = service.json("POST", "/api/layouts", &[], &hostile(title));
        let place = created.header("location").to_owned();
        ids.push(created.json()["id"].to_string());
        for address in ["drawing.svg", "drawing.svg?sizes=true", "drawing.svg?dimensions=true"] {
            let svg = String::from_utf8(service.get(&format!("{place}/{address}")).body).unwrap();
            assert!(!svg.contains("<script") && !svg.contains("<b>"), "{title}: {address}");
            let attributes = svg.split('<').filter_map(|tag| tag.split('>').next());
            assert!(attributes.clone().count() > 5);
            for tag in attributes {
                assert!(!tag.contains("onload") && !tag.contains("alert"), "{title}: {address}: {tag}");
            }
        }
        let png = service.get(&format!("{place}/drawing.png"));
        assert_eq!(png.status, 200, "{title}");
        let picture = image::load_from_memory_with_format(&png.body, ImageFormat::Png).unwrap().to_rgb8();
        assert!(share_of_ink(&picture) > 0.01, "{title}: something is drawn");
        // Long words stay on the page: its edges are white.
        let (width, height) = picture.dimensions();
        let edge = (0..height)
            .all(|y| picture.get_pixel(width - 1, y).0 == [255; 3] && picture.get_pixel(0, y).0 == [255; 3]);
        assert!(edge, "{title}: it runs off the page");
        assert_eq!(service.get(&format!("{place}/drawing.pdf")).status, 200, "{title}");
    }
    let all = service.get(&format!("/api/layouts/print.pdf?ids={}&per_page=6", ids.join(",")));
    assert_eq!((all.status, boxes(&all.body).len()), (200, 1));
}

fn share_of_ink(picture: &RgbImage) -> f64 {
    let dark = picture.pixels().filter(|pixel| pixel.0.iter().all(|&value| value < 128)).count();
    dark as f64 / f64::from(picture.width() * picture.height())
}

/// The bar of 4 inches and the card, measured in the pixels of the picture.
#[test]
fn the_picture_is_true_to_its_scale() {
    let folder = tempfile::tempdir().unwrap();
    let layout = folder.path().join("layout.json");
    fs::write(&layout, thank_you("Thank you").to_string()).unwrap();
    let out = folder.path().join("drawing.png");
    let run = program::run(&["print", layout.to_str().unwrap(), "--out", out.to_str().unwrap()]);
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    let picture = image::open(&out).unwrap().to_rgb8();
    // The bar is the one level line as thick as this; pictures have 150 pixels an inch.
    let dark = |y| longest_run(&picture, y, |p| p.iter().all(|&v| v < 90));
    let thick = (0..picture.height() - 4).find(|&y| (y..y + 4).all(|y| dark(y) > 300));
    assert!(thick.is_some_and(|y| dark(y + 1).abs_diff(600) <= 2), "{:?}", thick.map(|y| dark(y + 1)));
    // The background panel of 4 in, in the tint of slot A: above the circle.
    let tint = |p: [u8; 3]| p[0] > 240 && (215..232).contains(&p[1]) && (190..207).contains(&p[2]);
    let panel = (0..picture.height()).map(|y| longest_run(&picture, y, tint)).max();
    assert!(panel.is_some_and(|run| run.abs_diff(600) <= 3), "{panel:?}");
}

fn longest_run(picture: &RgbImage, y: u32, is_part: impl Fn([u8; 3]) -> bool) -> u32 {
    let (mut longest, mut run) = (0, 0);
    for x in 0..picture.width() {
        run = if is_part(picture.get_pixel(x, y).0) { run + 1 } else { 0 };
        longest = longest.max(run);
    }
    longest
}

#[test]
fn the_command_line_prints_what_the_notebook_gives() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &[]);
    let created = service.json("POST", "/api/layouts", &[], &thank_you("Thank you"));
    let layout = folder.path().join("layout.json");
    fs::write(&layout, service.get(created.header("location")).body).unwrap();
    let layout = layout.to_str().unwrap();
    let print = |more: &[&str]| {
        let run = program::run(&[&["print", layout], more].concat());
        (run.status.code(), String::from_utf8(run.stderr).unwrap())
    };
    let out = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    for name in ["a.pdf", "a.svg", "a.PNG"] {
        assert_eq!(print(&["--out", &out(name)]), (Some(0), String::new()), "{name}");
        assert!(fs::metadata(out(name)).unwrap().len() > 1000, "{name}");
    }
    assert_eq!(print(&["--out", &out("b.pdf"), "--paper", "a4", "--per-page", "9"]).0, Some(0));
    for (more, code, sentence) in [
        (&["--out", "a.doc"][..], 2, "ends in .pdf, .svg or .png"),
        (&["--out", "/nowhere/a.pdf"], 1, "give a place that can be written"),
        (&["--out", "a.pdf", "--per-page", "5"], 2, "--per-page is 1, 2, 4, 6 or 9"),
        (&["--out", "a.pdf", "--paper", "a3"], 2, "a paper is letter or a4"),
        (&[layout, "--out", "a.png"], 2, "holds one layout"),
        (&["missing.json", "--out", "a.pdf"], 1, "missing.json: there is no such file"),
    ] {
        let (status, said) = print(more);
        assert_eq!(status, Some(code), "{more:?}: {said}");
        assert!(said.contains(sentence), "{more:?}: {said}");
    }
}

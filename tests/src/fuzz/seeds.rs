//! Bytes that are right, for each place: what changed bytes start from.

use std::fs;
use std::io::{Cursor, Write};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageFormat};
use serde_json::json;
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use super::BOUNDARY;
use super::zipped::BETWEEN;
use crate::pictures::card_with_a_panel;

/// The longer and the shorter side of [`jpeg`].
pub(super) const JPEG_SIZE: [u32; 2] = [260, 200];

/// A small JPEG without EXIF.
pub(super) fn jpeg() -> &'static [u8] {
    static BYTES: OnceLock<Vec<u8>> = OnceLock::new();
    BYTES.get_or_init(|| {
        let mut bytes = Vec::new();
        let picture = small().to_luma8();
        JpegEncoder::new_with_quality(&mut bytes, 40)
            .encode_image(&picture)
            .expect("a small picture is encoded");
        bytes
    })
}

fn small() -> DynamicImage {
    let [width, height] = JPEG_SIZE;
    DynamicImage::ImageRgb8(card_with_a_panel()).resize_exact(
        width,
        height,
        image::imageops::FilterType::Triangle,
    )
}

/// The seeds of a target; those of `corpora`, the folder of open data, too
/// where it is there.
pub fn seeds(target: &str, corpora: Option<&Path>) -> Vec<Vec<u8>> {
    match target {
        "photo" => pictures(corpora),
        "exif" => vec![exif_block(), b"II*\0\x08\0\0\0\0\0\0\0\0\0".to_vec()],
        "heif" => files(&samples(), "heic"),
        "pdf" => pdfs(),
        "reading" => strokes(),
        "record" => records(corpora),
        "length" => lengths(),
        "cutting" => instances(corpora),
        "upload" => forms(),
        "zip" => zips(),
        "archive" => notebooks(),
        _ => Vec::new(),
    }
}

/// Largest file that serves as a seed.
const LONGEST: u64 = 100_000;
/// Most files of one kind.
const MOST: usize = 40;

fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-images")
}

/// The small files of a folder with this ending, in the order of their names.
fn files(folder: &Path, ending: &str) -> Vec<Vec<u8>> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let mut paths: Vec<PathBuf> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
    paths.sort();
    let fits = |path: &&PathBuf| {
        path.extension().is_some_and(|e| e == ending) && fs::metadata(path).is_ok_and(|m| m.len() < LONGEST)
    };
    paths.iter().filter(fits).take(MOST).filter_map(|path| fs::read(path).ok()).collect()
}

fn pictures(corpora: Option<&Path>) -> Vec<Vec<u8>> {
    let small = small();
    let encoded = |picture: &DynamicImage, format: ImageFormat| {
        let mut bytes = Cursor::new(Vec::new());
        picture.write_to(&mut bytes, format).expect("a small picture is encoded");
        bytes.into_inner()
    };
    let mut all = vec![
        jpeg().to_vec(),
        encoded(&small, ImageFormat::Jpeg),
        encoded(&small, ImageFormat::Png),
        encoded(&DynamicImage::ImageLuma16(small.to_luma16()), ImageFormat::Png),
        encoded(&DynamicImage::ImageLumaA8(small.to_luma_alpha8()), ImageFormat::Png),
        encoded(&small, ImageFormat::WebP),
        encoded(&DynamicImage::ImageRgba8(small.to_rgba8()), ImageFormat::WebP),
    ];
    for ending in ["tif", "heic", "pdf"] {
        all.extend(files(&samples(), ending));
    }
    if let Some(corpora) = corpora {
        all.extend(files(&corpora.join("hand-drawn"), "jpg"));
    }
    all
}

/// EXIF with an orientation, a thumbnail's place and a text (EXIF 2.32, 4.6).
fn exif_block() -> Vec<u8> {
    let mut block = b"MM\0*\0\0\0\x08".to_vec();
    let entry = |tag: u16, kind: u16, count: u32, value: [u8; 4]| {
        [&tag.to_be_bytes()[..], &kind.to_be_bytes(), &count.to_be_bytes(), &value].concat()
    };
    block.extend(3_u16.to_be_bytes());
    block.extend(entry(0x010e, 2, 12, [0, 0, 0, 50]));
    block.extend(entry(0x0112, 3, 1, [0, 6, 0, 0]));
    block.extend(entry(0x8769, 4, 1, [0, 0, 0, 8]));
    block.extend([0; 4]);
    block.extend(b"card table\0\0");
    block
}

/// Pages with a drawing, a form in a form, a picture and a wrong table.
fn pdfs() -> Vec<Vec<u8>> {
    let mut all = files(&samples(), "pdf");
    let page = |stream: &str, more: &str| {
        format!(
            "%PDF-1.4\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n\
             2 0 obj<</Type/Pages/Kids[3 0 R]/Count 1>>endobj\n\
             3 0 obj<</Type/Page/Parent 2 0 R/MediaBox[0 0 300 200]/Rotate 90/Contents 4 0 R/Resources<<{more}>>>>endobj\n\
             4 0 obj<</Length {}>>stream\n{stream}\nendstream endobj\n\
             5 0 obj<</Type/XObject/Subtype/Form/BBox[0 0 99 99]/Length 19>>stream\n0 0 50 50 re W n /X\nendstream endobj\n\
             6 0 obj<</Type/XObject/Subtype/Image/Width 4/Height 2/BitsPerComponent 8/ColorSpace/DeviceGray/Length 8>>\
             stream\nabcdefgh\nendstream endobj\ntrailer<</Root 1 0 R/Size 7>>\n%%EOF\n",
            stream.len()
        )
        .into_bytes()
    };
    all.push(page("2 w 10 10 280 180 re S 20 20 100 60 re f", ""));
    all.push(page("q /X Do Q 100 0 0 50 10 10 cm /Y Do", "/XObject<</X 5 0 R/Y 6 0 R>>"));
    all.push(page(
        "BT /F 12 Tf 10 10 Td (thank you) Tj ET",
        "/Font<</F<</Type/Font/Subtype/Type1/BaseFont/Helvetica>>>>",
    ));
    all.push(page("[4 2] 0 d 0 0 m 50 90 90 50 10 10 c h B*", ""));
    all
}

/// A card with panels, drawn by the rules of `reading`, read in three ways.
fn strokes() -> Vec<Vec<u8>> {
    let rectangle = |[left, top, right, bottom]: [u8; 4], shade: u8| {
        [
            [left, top, right, top],
            [right, top, right, bottom],
            [right, bottom, left, bottom],
            [left, bottom, left, top],
        ]
        .into_iter()
        .flat_map(move |side| side.into_iter().chain([shade]))
    };
    let mut card: Vec<u8> = vec![80, 140, 2];
    card.extend(rectangle([20, 20, 235, 235], 1));
    card.extend(rectangle([40, 40, 215, 120], 1));
    card.extend(rectangle([60, 90, 120, 200], 0));
    let mut whole = card.clone();
    whole[2] = 0;
    let mut labelled = card.clone();
    labelled[2] = 2 | 8;
    vec![card, whole, labelled]
}

/// A layout with everything that a record can carry.
fn records(corpora: Option<&Path>) -> Vec<Vec<u8>> {
    let layout = json!({
        "schema": 1, "title": "For Nora & the <b>Thursday</b> round", "unit": "in",
        "card": {"name": "A2", "width": 4.25, "height": 5.5, "fold": "left"},
        "elements": [
            {"id": 1, "shape": "rectangle", "x": 0.125, "y": 0.125, "width": 4.0, "height": 5.25,
             "rotation": 0, "corner_radius": 0.25, "role": "panel", "slot": "A", "mats": [0.125], "raised": true,
             "confidence": 0.97},
            {"id": 2, "shape": "banner", "x": 0.5, "y": 3, "width": 3, "height": 0.75, "rotation": 4,
             "ends": {"left": "straight", "right": "fishtail"}},
            {"id": 3, "shape": "circle", "x": 1, "y": 1, "width": 2, "height": 2, "outline_px": [[1, 2], [3, 4.5]]},
            {"id": 4, "shape": "mark", "x": 1, "y": 1, "width": 0.25, "height": 0.25},
        ],
        "notes": "two of each", "tags": ["get well"],
        "capture": {"photo": "a", "card_corners_px": [[0, 0], [10, 0], [10, 12], [0, 12]], "warnings": ["glare"]}
    });
    let metric = json!({
        "schema": 1, "title": "", "unit": "mm", "card": {"name": "iso-a6", "width": 105, "height": 148},
        "elements": [{"id": 1, "shape": "oval", "x": 10, "y": 10.5, "width": 50, "height": 30}]
    });
    let mut all = vec![layout.to_string().into_bytes(), metric.to_string().into_bytes()];
    all.extend(files(&samples(), "json"));
    if let Some(corpora) = corpora {
        all.extend(files(&corpora.join("layouts"), "json").into_iter().take(10));
    }
    all
}

fn lengths() -> Vec<Vec<u8>> {
    [
        "4 1/4",
        "4-1/4\"",
        "4.25",
        "4¼",
        "108 mm",
        "10.5cm",
        "⅞ in",
        "-1/16",
        "1 3/8 inches",
        "4 1/4 x 5 1/2",
        "A2",
        "iso-a5",
    ]
    .map(|text| text.as_bytes().to_vec())
    .to_vec()
}

fn instances(corpora: Option<&Path>) -> Vec<Vec<u8>> {
    let cards = json!({
        "name": "mats", "objective": "sheets", "rotation": true,
        "stock": [{"width": 12, "height": 12, "count": null, "cost": 144}, {"width": 6, "height": 6, "count": 3}],
        "pieces": [{"width": 4.125, "height": 5.375, "quantity": 4}, {"width": 3, "height": 0.75, "quantity": 8, "rotation": false}]
    });
    let value = json!({
        "name": "worth", "objective": "value", "rotation": false, "stock": [{"width": 20, "height": 14, "count": 1}],
        "pieces": [{"width": 7, "height": 4, "quantity": 9, "value": 29}, {"width": 5, "height": 5, "quantity": 3, "value": 26}]
    });
    let mut all = vec![cards.to_string().into_bytes(), value.to_string().into_bytes()];
    if let Some(corpora) = corpora {
        let mut folders: Vec<PathBuf> = fs::read_dir(corpora.join("cutting"))
            .map(|entries| entries.filter_map(|entry| Some(entry.ok()?.path())).collect())
            .unwrap_or_default();
        folders.sort();
        all.extend(folders.iter().flat_map(|folder| files(folder, "json").into_iter().take(4)));
    }
    all
}

/// Forms as browsers send them (RFC 7578).
fn forms() -> Vec<Vec<u8>> {
    let part = |head: &str, body: &str| {
        format!("--{BOUNDARY}\r\nContent-Disposition: form-data; {head}\r\n\r\n{body}\r\n")
    };
    let end = format!("--{BOUNDARY}--\r\n");
    let file =
        part("name=\"file\"; filename=\"../tall/scan.png\"\r\nContent-Type: image/png", "not a picture");
    vec![
        (part("name=\"card\"", "A2") + &file + &end).into_bytes(),
        (part("name=\"folder\"", "tall=slimline")
            + &part("name=\"cards\"", "A2, 5x7")
            + &part("name=\"open\"", "true")
            + &end)
            .into_bytes(),
        (file.clone() + &file + &end).into_bytes(),
    ]
}

fn zips() -> Vec<Vec<u8>> {
    let zipped = |files: &[(&str, &[u8])]| {
        let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
        for (name, bytes) in files {
            zip.start_file(*name, SimpleFileOptions::default()).expect("a name is taken");
            zip.write_all(bytes).expect("memory takes bytes");
        }
        zip.finish().expect("an archive is finished").into_inner()
    };
    let mut all = vec![
        zipped(&[("scan.jpg", jpeg()), ("tall/scan.jpg", jpeg()), ("__MACOSX/._scan.jpg", b"x")]),
        // A megabyte of nothing, packed to a kilobyte.
        zipped(&[("../../bomb.png", &[0; 1 << 20]), ("C:\\scan.png", b"y")]),
    ];
    all.extend(notebooks().iter().filter_map(|parts| super::zipped::around(parts)));
    all
}

/// Notebooks by the rules of `zipped::around`.
fn notebooks() -> Vec<Vec<u8>> {
    let layout: serde_json::Value = serde_json::from_slice(&records(None)[1]).expect("it is a record");
    let version = |number: u32, record: &serde_json::Value| json!({"version": number, "saved_at": "2026-03-01T10:00:00Z", "record": record});
    let history = json!({"id": 1, "versions": [version(1, &layout), version(2, &layout)], "favourite": true});
    let files = |files: &[(&str, String)]| {
        let mut bytes = Vec::new();
        for (name, content) in files {
            bytes.extend(name.as_bytes());
            bytes.push(BETWEEN);
            bytes.extend(content.as_bytes());
            bytes.push(BETWEEN);
        }
        bytes
    };
    let photos = "[]".to_owned();
    vec![
        files(&[("layouts/1.json", history.to_string()), ("photos.json", photos.clone())]),
        files(&[("photos.json", photos.clone())]),
        files(&[("../../layouts/1.json", history.to_string()), ("photos.json", photos)]),
    ]
}

//! The places where foreign bytes come in, each as a function of bytes that
//! must come back whatever they are, and that panics where something that
//! always holds does not. `cargo fuzz` calls them in `tests/fuzz`; a short run
//! of each is a test (`tests/tests/fuzz_smoke.rs`).

#![expect(clippy::missing_panics_doc, reason = "each panics where what always holds does not")]

mod mutate;
mod seeds;
mod zipped;

use capture::{Document, Format, Frame, Limits, NoTrace, Photo};
use image::{DynamicImage, GrayImage, Luma};
use imageproc::drawing::draw_line_segment_mut;
use layout::{Card, DrawingOptions, Layout, LayoutJson, Length, PieceOptions, Pieces, Unit};

pub use mutate::Mutations;
pub use seeds::seeds;

/// A place where bytes come in.
pub struct Target {
    /// Its name, which is that of its program in `tests/fuzz/fuzz_targets`.
    pub name: &'static str,
    /// What is done with bytes there.
    pub run: fn(&[u8]),
}

/// Every such place.
pub const TARGETS: [Target; 11] = [
    Target { name: "photo", run: photo },
    Target { name: "exif", run: exif },
    Target { name: "heif", run: heif },
    Target { name: "pdf", run: pdf },
    Target { name: "reading", run: reading },
    Target { name: "record", run: record },
    Target { name: "length", run: length },
    Target { name: "cutting", run: cutting },
    Target { name: "upload", run: upload },
    Target { name: "zip", run: zip },
    Target { name: "archive", run: archive },
];

/// Small pictures are enough to reach every branch, and many can be tried.
const LIMITS: Limits = Limits { megabytes: 1, pages: 50, megapixels: 2 };
/// Pages of a file that are decoded.
const MOST_DECODED: usize = 3;

/// Decodes the first pages of a file of any kind.
pub fn photo(bytes: &[u8]) {
    let Ok(document) = Document::open(bytes, &LIMITS) else { return };
    assert!(document.pages() > 0, "a document without pages");
    for index in 0..document.pages().min(MOST_DECODED) {
        if let Ok(photo) = document.page(index) {
            let [width, height] = photo.size_px().map(u64::from);
            assert!(width * height <= u64::from(LIMITS.megapixels) * 1_000_000, "{width} x {height}");
            assert_eq!(photo.pixels().as_raw().len() as u64, width * height * 3);
        }
    }
}

/// Decodes a small JPEG with these bytes as its EXIF.
pub fn exif(bytes: &[u8]) {
    /// A marker's length field counts itself and has two bytes.
    const MOST: usize = 0xffff - 8;
    let bytes = &bytes[..bytes.len().min(MOST)];
    let plain = seeds::jpeg();
    // Start of image, then the application segment (EXIF 2.32, 4.5.4), then the rest.
    let mut file = plain[..2].to_vec();
    file.extend([0xff, 0xe1]);
    file.extend(u16::try_from(bytes.len() + 8).unwrap_or(u16::MAX).to_be_bytes());
    file.extend(b"Exif\0\0");
    file.extend(bytes);
    file.extend(&plain[2..]);
    let document = Document::open(&file, &LIMITS);
    let read = document.and_then(|document| document.page(0)).expect("EXIF never makes a picture unreadable");
    let [width, height] = read.size_px();
    assert_eq!([width.max(height), width.min(height)], seeds::JPEG_SIZE, "only turned");
}

/// Decodes what says that it is HEIF.
pub fn heif(bytes: &[u8]) {
    if Format::of(bytes).is_ok_and(|format| format == Format::Heif) {
        photo(bytes);
    }
}

/// Draws the first pages of what says that it is a PDF.
pub fn pdf(bytes: &[u8]) {
    let mut file = b"%PDF-1.7\n".to_vec();
    file.extend(bytes);
    photo(if bytes.starts_with(b"%PDF-") { bytes } else { &file });
}

/// Reads a small picture: two bytes say its size, the third how it is to be
/// read, and each five after that are a stroke.
pub fn reading(bytes: &[u8]) {
    const LEAST: u32 = 120;
    let [width, height, how, strokes @ ..] = bytes else { return };
    let (width, height) = (LEAST + u32::from(*width), LEAST + u32::from(*height));
    let mut picture = GrayImage::from_pixel(width, height, Luma([255]));
    let place = |x: u8, y: u8| {
        (f32::from(x) / 255.0 * (width - 1) as f32, f32::from(y) / 255.0 * (height - 1) as f32)
    };
    for stroke in strokes.chunks_exact(5).take(60) {
        let (from, to) = (place(stroke[0], stroke[1]), place(stroke[2], stroke[3]));
        let shade = Luma([stroke[4] & 0xf0]);
        for thick in 0..=(stroke[4] & 3) {
            let aside = |(x, y): (f32, f32)| (x + f32::from(thick), y + f32::from(thick));
            draw_line_segment_mut(&mut picture, aside(from), aside(to), shade);
        }
    }
    let photo = Photo::from_pixels(DynamicImage::ImageLuma8(picture).to_rgb8());
    let card: Card = if how & 1 == 0 { "A2" } else { "slimline" }.parse().expect("a named card");
    let frame = match how >> 1 & 3 {
        0 => Frame::WholePhoto,
        _ => Frame::Outline,
    };
    let options = capture::Options { card, frame, labels: how & 8 != 0 };
    let Ok(layouts) = capture::read(&photo, &options, &mut NoTrace) else { return };
    for layout in layouts {
        let json = serde_json::to_string(&LayoutJson::from(&layout)).expect("a layout can be written");
        let again: LayoutJson = serde_json::from_str(&json).expect("what was written can be read");
        Layout::try_from(again).expect("what was read is a sound record");
    }
}

/// Checks a record, and makes of it what the program makes of records.
pub fn record(bytes: &[u8]) {
    let Ok(json) = serde_json::from_slice::<LayoutJson>(bytes) else { return };
    let Ok(layout) = Layout::try_from(json) else { return };
    let written = serde_json::to_value(LayoutJson::from(&layout)).expect("a layout can be written");
    let again: LayoutJson = serde_json::from_value(written.clone()).expect("what was written can be read");
    let again = Layout::try_from(again).expect("what was written is a sound record");
    assert_eq!(serde_json::to_value(LayoutJson::from(&again)).expect("the same"), written);
    let drawing = layout::svg(&layout, DrawingOptions::default());
    assert!(!drawing.contains("<script"), "what was written in a record became markup");
    let _ = Pieces::of(&layout, &PieceOptions::cards(4, layout.card.unit));
}

/// Parses a length; what is shown of it is the same length.
pub fn length(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    for unit in [Unit::Inch, Unit::Millimetre] {
        let Ok(length) = Length::parse(text, unit) else { continue };
        let shown = length.to_string();
        let again: Length = shown.parse().unwrap_or_else(|error| panic!("{shown:?} of {text:?}: {error}"));
        let apart = (again.value(Unit::Inch) - length.value(Unit::Inch)).abs();
        assert!(apart < 1e-3, "{text:?} is shown as {shown:?}");
    }
    let _ = text.parse::<Card>();
}

/// Plans a cutting instance, as far as a moment takes; the plan is sound.
pub fn cutting(bytes: &[u8]) {
    /// Rounds of search, and most pieces: enough for every branch.
    const ROUNDS: u64 = 50;
    const MOST_PIECES: u32 = 60;
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let Ok(instance) = cutting::instance::read(text) else { return };
    if instance.job.pieces.iter().map(|piece| u64::from(piece.quantity)).sum::<u64>() > MOST_PIECES.into() {
        return;
    }
    let options = cutting::Options { rounds: ROUNDS, ..cutting::Options::default() };
    let Ok(plan) = cutting::plan(&instance.job, &options, &mut |_| true) else { return };
    cutting::verify(&instance.job, &options, &plan).expect("a plan is sound");
}

/// The boundary of the forms that `upload` is given.
pub const BOUNDARY: &str = "eighths-form";

/// Sends a form with files.
pub fn upload(bytes: &[u8]) {
    api::ways_in::receive_upload(BOUNDARY, bytes);
}

/// Opens an archive that came from somewhere, as pictures and as a notebook.
pub fn zip(bytes: &[u8]) {
    api::ways_in::unpack(bytes);
    api::ways_in::restore(bytes);
}

/// Takes in a notebook whose archive is well made around these bytes, so that
/// no checksum keeps them from what reads the records.
pub fn archive(bytes: &[u8]) {
    if let Some(archive) = zipped::around(bytes) {
        api::ways_in::restore(&archive);
        api::ways_in::unpack(&archive);
    }
}

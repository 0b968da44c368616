//! How long a photo takes from its bytes to its layouts, beside the time it
//! takes to decode it; one photo of each kind. The stages' own times are on
//! the board (`boards/reading.md`) and in `--stages`.

use capture::{Frame, Limits, NoTrace, Options, Photo};
use layout::Card;

fn main() {
    divan::main();
}

/// A flat scan, a tilted photo in pen, pencil on ruled paper, and a page of six.
const PHOTOS: [&str; 4] = ["flat-scan", "pen-tilted", "pencil-ruled", "notebook-six"];

fn bytes(name: &str) -> Vec<u8> {
    let path = format!("{}/../sample-images/{name}.jpg", env!("CARGO_MANIFEST_DIR"));
    std::fs::read(path).expect("the sample images lie beside the crate")
}

#[divan::bench(args = PHOTOS)]
fn decode(bencher: divan::Bencher, name: &str) {
    let bytes = bytes(name);
    bencher.bench(|| image::load_from_memory(&bytes).expect("a sample is a picture").to_rgb8());
}

#[divan::bench(args = PHOTOS)]
fn bytes_to_layouts(bencher: divan::Bencher, name: &str) {
    let bytes = bytes(name);
    let card: Card = "A2".parse().expect("a named card");
    let options = Options { card, frame: Frame::Outline, labels: true };
    bencher.bench(|| {
        let photo = Photo::decode(&bytes, &Limits::default()).expect("a sample is a picture");
        capture::read(&photo, &options, &mut NoTrace).expect("a sample has a card")
    });
}

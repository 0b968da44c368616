//! Invents card layouts, draws them as a printer or a hand would, photographs
//! or scans them, and writes the exact answer beside each picture. Everything
//! comes from a seed: the same seed gives the same bytes. Outlines go to the
//! picture through the very map that the drawing goes through, so the answer
//! is exact however the page is tilted or curled.
//!
//! ```
//! use tests::generate::{Order, Profile, picture};
//!
//! let order = Order { long_side: Some(500), ..Order::new(Profile::PrintScan, 7, 1) };
//! assert_eq!(picture(&order).bytes, picture(&order).bytes);
//! ```

mod camera;
mod canvas;
mod compose;
mod dice;
mod hand;
mod light;
mod paint;
mod picture;
mod plane;
mod profile;
mod scene;
mod sheet;
mod spoil;
mod strokes;
mod text;
mod truth;
mod words;

pub use picture::{Picture, picture};
pub use profile::{Order, OrderError, Profile};
pub use truth::Truth;

#[cfg(test)]
mod tests {
    use std::ffi::OsStr;
    use std::path::Path;

    use serde_json::Value;

    /// The most bytes of a sample picture: the repository carries them all.
    const MOST_BYTES: u64 = 256_000;

    fn read(path: &Path) -> Value {
        serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
    }

    #[test]
    fn each_sample_picture_is_small_and_has_its_answer_beside_it() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-images");
        let mut pictures = 0;
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            if path
                .extension()
                .is_some_and(|kind| ["jpg", "heic", "pdf", "tif"].map(OsStr::new).contains(&kind))
            {
                pictures += 1;
                assert!(path.metadata().unwrap().len() <= MOST_BYTES, "{}", path.display());
                let truth = read(&path.with_extension("json"));
                assert_eq!(truth["photo"], path.file_name().unwrap().to_str().unwrap());
            }
        }
        assert!(pictures >= 10);
    }

    #[test]
    fn the_demo_names_each_layout_of_its_pictures_and_their_card() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-images");
        let mut layouts = 0;
        for entry in read(&folder.join("demo.json")).as_array().unwrap() {
            let file = entry["file"].as_str().unwrap();
            let truth = read(&folder.join(file).with_extension("json"));
            assert_eq!(
                entry["titles"].as_array().unwrap().len(),
                truth["layouts"].as_array().unwrap().len(),
                "{file}"
            );
            assert_eq!(entry["card"], truth["layouts"][0]["card"]["name"], "{file}");
            layouts += entry["titles"].as_array().unwrap().len();
        }
        assert!(layouts >= 8);
    }
}

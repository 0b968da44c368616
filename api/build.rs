//! Tells Cargo to embed the page and the demo pictures anew when they change.

fn main() {
    for folder in ["web", "../sample-images"] {
        // A missing path would make every build a fresh one.
        if std::path::Path::new(folder).exists() {
            println!("cargo::rerun-if-changed={folder}");
        }
    }
}

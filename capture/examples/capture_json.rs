//! scratch
struct T(String, usize);
impl capture::Trace for T {
    fn wants_pictures(&self) -> bool {
        !self.0.is_empty()
    }
    fn ended(&mut self, _: capture::Stage, _: usize) {}
    fn picture(&mut self, s: capture::Stage, _: usize, p: image::RgbImage) {
        p.save(format!("{}/{}-{}.png", self.0, s.word(), self.1)).unwrap();
        self.1 += 1;
    }
}
fn main() {
    let a: Vec<String> = std::env::args().collect();
    let photo = capture::Photo::decode(&std::fs::read(&a[1]).unwrap(), &capture::Limits::default()).unwrap();
    let frame = if a.get(3).is_some_and(|f| f == "photo") {
        capture::Frame::WholePhoto
    } else {
        capture::Frame::Outline
    };
    let options = capture::Options { card: a[2].parse().unwrap(), frame };
    match capture::read(&photo, &options, &mut T(std::env::var("PROBE_DIR").unwrap_or_default(), 0)) {
        Ok(layouts) => {
            println!("{}", serde_json::json!({ "layouts": layouts }));
            if let Some(out) = a.get(4) {
                capture::overlay(&photo, &layouts).save(out).unwrap();
            }
        }
        Err(e) => {
            println!("{}", serde_json::json!({ "layouts": [] }));
            eprintln!("{e}");
        }
    }
}

//! An address as a QR code (ISO/IEC 18004), for the terminal and for the page.

use std::fmt::Write;

use qrcodegen::{QrCode, QrCodeEcc};
use schemars::JsonSchema;
use serde::Serialize;

/// Light modules round a code, as the standard asks for.
const QUIET: i32 = 4;
/// Black on white, whatever colours the terminal has, and back.
const INK_ON_PAPER: &str = "\x1b[38;5;16;48;5;231m";
const PLAIN: &str = "\x1b[0m";

/// A QR code as a drawing: dark modules in a square whose light border belongs to it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[schemars(title = "Qr")]
pub(crate) struct Qr {
    /// Modules along a side, the light border with them.
    side: u32,
    /// The dark modules as the path of an SVG; a module is one unit.
    path: String,
}

/// The code of a text; `None` where it is too long for any.
fn code_of(text: &str) -> Option<QrCode> {
    QrCode::encode_text(text, QrCodeEcc::Medium).ok()
}

impl Qr {
    /// The code of a text; `None` where it is too long for any.
    pub(crate) fn of(text: &str) -> Option<Qr> {
        let code = code_of(text)?;
        let mut path = String::new();
        for y in 0..code.size() {
            let mut x = 0;
            while x < code.size() {
                let run = (x..code.size()).take_while(|&x| code.get_module(x, y)).count();
                let run = i32::try_from(run).unwrap_or(0);
                if run > 0 {
                    // Writing to a string cannot fail.
                    let _ = write!(path, "M{} {}h{run}v1h-{run}z", x + QUIET, y + QUIET);
                }
                x += run.max(1);
            }
        }
        Some(Qr { side: u32::try_from(code.size() + 2 * QUIET).unwrap_or(0), path })
    }

    /// The code of a text for a terminal, two modules a letter: black on white
    /// in colours where the terminal knows them, else for light letters on dark.
    pub(crate) fn for_terminal(text: &str, coloured: bool) -> Option<String> {
        let code = code_of(text)?;
        let mut lines = String::new();
        for y in (-QUIET..code.size() + QUIET).step_by(2) {
            if coloured {
                lines += INK_ON_PAPER;
            }
            for x in -QUIET..code.size() + QUIET {
                // Outside the code all is light; coloured letters are dark, plain ones light.
                let drawn = |y| code.get_module(x, y) == coloured;
                lines.push(match (drawn(y), drawn(y + 1)) {
                    (true, true) => '█',
                    (true, false) => '▀',
                    (false, true) => '▄',
                    (false, false) => ' ',
                });
            }
            if coloured {
                lines += PLAIN;
            }
            lines.push('\n');
        }
        Some(lines)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const URL: &str = "http://192.168.1.20:8118/pair#40718852";

    /// What a reader of QR codes by other people makes of modules, dark where true.
    fn read(dark: &[Vec<bool>]) -> String {
        const SCALE: usize = 4;
        let (width, height) = (dark[0].len() * SCALE, dark.len() * SCALE);
        let mut picture = rqrr::PreparedImage::prepare_from_greyscale(width, height, |x, y| {
            if dark[y / SCALE][x / SCALE] { 0 } else { 255 }
        });
        let grids = picture.detect_grids();
        assert_eq!(grids.len(), 1, "one code is found");
        grids[0].decode().unwrap().1
    }

    #[test]
    fn another_programs_reader_reads_the_terminals_code() {
        for coloured in [true, false] {
            let text = Qr::for_terminal(URL, coloured).unwrap();
            let text = text.replace(INK_ON_PAPER, "").replace(PLAIN, "");
            let mut dark = Vec::new();
            for line in text.lines() {
                let half = |upper: bool| {
                    let drawn =
                        move |letter: char| letter == '█' || letter == if upper { '▀' } else { '▄' };
                    line.chars().map(|letter| drawn(letter) == coloured).collect::<Vec<bool>>()
                };
                dark.extend([half(true), half(false)]);
            }
            assert_eq!(read(&dark), URL);
        }
    }

    #[test]
    fn another_programs_reader_reads_the_pages_code() {
        let Qr { side, path } = Qr::of(URL).unwrap();
        let svg = format!(
            "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {side} {side}' width='{side}' height='{side}'>\
             <rect width='{side}' height='{side}' fill='#fff'/><path d='{path}'/></svg>"
        );
        let tree = resvg::usvg::Tree::from_str(&svg, &resvg::usvg::Options::default()).unwrap();
        let mut picture = resvg::tiny_skia::Pixmap::new(side, side).unwrap();
        resvg::render(&tree, resvg::tiny_skia::Transform::identity(), &mut picture.as_mut());
        let dark: Vec<Vec<bool>> = (0..side)
            .map(|y| (0..side).map(|x| picture.pixel(x, y).unwrap().red() < 128).collect())
            .collect();
        assert_eq!(read(&dark), URL);
        assert!(side <= 41, "a phone reads it across a table: {side} modules");
    }
}

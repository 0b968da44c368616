//! A page that is being drawn: inches in, SVG in CSS pixels out. The maker's
//! words go in as character data only, never into an attribute.

use std::fmt::Write;

use layout::{PX_PER_IN, escape, tidy};

use super::Page;
use super::fonts::width;

/// Colours of print: ink, quiet ink, and lines.
pub(super) const INK: &str = "#2b2620";
pub(super) const SOFT: &str = "#5f564a";
pub(super) const LINE: &str = "#857a6b";

/// Where a text begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
}

/// A page that is being drawn.
pub(super) struct Canvas {
    size_in: [f64; 2],
    body: String,
}

impl Canvas {
    /// White paper of this size.
    pub(super) fn new(size_in: [f64; 2]) -> Canvas {
        let mut canvas = Canvas { size_in, body: String::new() };
        canvas.paper();
        canvas
    }

    /// Done, at another height.
    pub(super) fn cut_to(self, height: f64) -> Page {
        let mut cut = Canvas { size_in: [self.size_in[0], height], body: String::new() };
        cut.paper();
        // The first line is the taller paper.
        let rest = self.body.split_once('\n').map_or("", |(_, rest)| rest);
        Page { size_in: cut.size_in, body: cut.body + rest }
    }

    /// Done.
    pub(super) fn page(self) -> Page {
        Page { size_in: self.size_in, body: self.body }
    }

    fn paper(&mut self) {
        let [width, height] = self.size_in.map(px);
        self.put(format_args!("<rect width=\"{width}\" height=\"{height}\" fill=\"#ffffff\"/>\n"));
    }

    /// A straight line.
    pub(super) fn line(&mut self, [from, to]: [[f64; 2]; 2], colour: &'static str, width_px: f64) {
        let [[x1, y1], [x2, y2]] = [from, to].map(|point| point.map(px));
        self.put(format_args!(
            "<path d=\"M{x1} {y1}L{x2} {y2}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width_px}\"/>\n"
        ));
    }

    /// A filled triangle.
    pub(super) fn triangle(&mut self, corners: [[f64; 2]; 3], colour: &'static str) {
        let points = corners.map(|[x, y]| format!("{},{}", px(x), px(y))).join(" ");
        self.put(format_args!("<polygon points=\"{points}\" fill=\"{colour}\"/>\n"));
    }

    /// A box, filled.
    pub(super) fn rect(&mut self, [left, top, right, bottom]: [f64; 4], fill: &'static str) {
        let [x, y, width, height] = [left, top, right - left, bottom - top].map(px);
        self.put(format_args!(
            "<rect x=\"{x}\" y=\"{y}\" width=\"{width}\" height=\"{height}\" fill=\"{fill}\"/>\n"
        ));
    }

    /// A number in a ring.
    pub(super) fn badge(&mut self, [x, y]: [f64; 2], radius: f64, number: usize) {
        let [cx, cy, r] = [x, y, radius].map(px);
        self.put(format_args!(
            "<circle cx=\"{cx}\" cy=\"{cy}\" r=\"{r}\" fill=\"#ffffff\" stroke=\"{INK}\" stroke-width=\"0.75\"/>\n"
        ));
        let text = number.to_string();
        let size = radius * if text.len() > 2 { 0.95 } else { 1.3 };
        self.text([x, y + size * 0.36], size, Anchor::Middle, INK, &text);
    }

    /// A line of text; `at` is on its baseline.
    pub(super) fn text(
        &mut self,
        [x, y]: [f64; 2],
        size: f64,
        anchor: Anchor,
        colour: &'static str,
        text: &str,
    ) {
        self.words([x, y], size, anchor, colour, "", text);
    }

    /// A line of text that is read upwards.
    pub(super) fn text_upwards(&mut self, [x, y]: [f64; 2], size: f64, colour: &'static str, text: &str) {
        let turn = format!(" transform=\"rotate(-90 {} {})\"", px(x), px(y));
        self.words([x, y], size, Anchor::Start, colour, &turn, text);
    }

    fn words(&mut self, [x, y]: [f64; 2], size: f64, anchor: Anchor, colour: &str, turn: &str, text: &str) {
        let anchor = match anchor {
            Anchor::Start => "start",
            Anchor::Middle => "middle",
        };
        let [x, y, size] = [x, y, size].map(px);
        self.put(format_args!(
            "<text x=\"{x}\" y=\"{y}\" font-family=\"Noto Sans\" font-size=\"{size}\" text-anchor=\"{anchor}\" \
             fill=\"{colour}\"{turn}>{}</text>\n",
            escape(text)
        ));
    }

    /// A drawing in CSS pixels, moved to `at` and scaled.
    pub(super) fn drawing(&mut self, [x, y]: [f64; 2], scale: f64, svg: &str) {
        let [x, y] = [x, y].map(px);
        let scale = tidy(scale);
        self.put(format_args!("<g transform=\"translate({x} {y}) scale({scale})\">\n{svg}</g>\n"));
    }

    /// A drawing in CSS pixels as it looks lying on a table: level lines stay
    /// level, those down the page lean to the left and are `flat` as long.
    pub(super) fn lying(&mut self, [x, y]: [f64; 2], scale: f64, [lean, flat]: [f64; 2], svg: &str) {
        let [x, y] = [x, y].map(px);
        let [scale, across, down] = [scale, -lean * scale, flat * scale].map(tidy);
        self.put(format_args!("<g transform=\"matrix({scale} 0 {across} {down} {x} {y})\">\n{svg}</g>\n"));
    }

    fn put(&mut self, text: std::fmt::Arguments<'_>) {
        // Writing to a string cannot fail.
        let _ = self.body.write_fmt(text);
    }
}

fn px(inches: f64) -> String {
    tidy(inches * PX_PER_IN)
}

/// A text in lines no wider than `room`: broken between words, and inside a
/// word that is wider than a line. What has no room in the last line ends in
/// `…`.
pub(super) fn wrap(text: &str, size: f64, room: f64, most_lines: usize) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for paragraph in text.lines() {
        let mut line = String::new();
        // A blank that does not break (U+00A0) is part of its word.
        let blank = |c: char| c.is_whitespace() && c != '\u{a0}';
        for word in paragraph.split(blank).filter(|word| !word.is_empty()) {
            let joined = if line.is_empty() { word.to_owned() } else { format!("{line} {word}") };
            if width(&joined, size) <= room {
                line = joined;
                continue;
            }
            if !line.is_empty() {
                lines.push(std::mem::take(&mut line));
            }
            for c in word.chars() {
                line.push(c);
                if width(&line, size) > room && line.chars().count() > 1 {
                    line.pop();
                    lines.push(std::mem::replace(&mut line, c.to_string()));
                }
            }
            if lines.len() > most_lines {
                break;
            }
        }
        lines.push(line);
        if lines.len() > most_lines {
            break;
        }
    }
    if lines.len() > most_lines {
        lines.truncate(most_lines);
        if let Some(last) = lines.last_mut() {
            while !last.is_empty() && width(&format!("{last}…"), size) > room {
                last.pop();
            }
            last.push('…');
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_never_wider_than_their_room() {
        for text in [
            "Thank you, Edith, for the soup",
            &"W".repeat(300),
            "one\n\ntwo three",
            "🌷🌷🌷🌷🌷🌷🌷🌷🌷🌷🌷🌷🌷🌷🌷🌷🌷🌷",
            "שלום לכולם ותודה רבה על המרק הטעים",
            "漢字漢字漢字漢字漢字漢字漢字漢字",
            "",
        ] {
            for room in [0.3, 1.0, 4.0] {
                let lines = wrap(text, 0.2, room, 4);
                assert!(lines.len() <= 4, "{text}");
                for line in &lines {
                    assert!(width(line, 0.2) <= room || line.chars().count() == 1, "{line} in {room}");
                }
            }
        }
        assert_eq!(wrap("Thank you, Edith", 0.2, 0.8, 9), ["Thank", "you,", "Edith"]);
        assert_eq!(wrap("a b c d", 0.2, 0.4, 1).last().unwrap().chars().last(), Some('…'));
    }

    #[test]
    fn words_of_the_maker_are_no_markup() {
        let mut canvas = Canvas::new([1.0, 1.0]);
        canvas.text(
            [0.0, 0.5],
            0.1,
            Anchor::Start,
            INK,
            "</text><script>alert(\"x\")</script>&\u{8}\u{ffff}",
        );
        let svg = canvas.page().svg();
        assert!(!svg.contains("<script") && !svg.contains('\u{8}'), "{svg}");
        resvg::usvg::roxmltree::Document::parse(&svg).unwrap();
    }
}

//! Many layouts on few pages: small drawings with numbered pieces, each with
//! its title, card and sizes, as a notebook on paper.

use layout::{Layout, front};

use super::badges::badges;
use super::canvas::{Anchor, Canvas, INK, LINE, SOFT, wrap};
use super::measured::{card_words, piece_name, size_words, title_words};
use super::{Page, Paper};

/// How many layouts may stand on a page, with the columns each gives.
pub(crate) const PER_PAGE: [(u32, u32); 4] = [(2, 1), (4, 2), (6, 2), (9, 3)];

/// Free edge of a page, and between two layouts, in inches.
const MARGIN_IN: f64 = 0.5;
const GUTTER_IN: f64 = 0.3;
/// Text sizes, in inches: 11 and 8 points, smaller where nine share a page.
const TITLE_IN: f64 = 0.153;
const SMALL_IN: f64 = 0.111;
/// From one line to the next, of its size.
const LINE_EM: f64 = 1.4;
/// Most lines of sizes under a drawing.
const MOST_LINES: usize = 4;

/// Pages of `columns` and as many rows as `per_page` asks for.
pub(crate) fn booklet(layouts: &[Layout], paper: Paper, (per_page, columns): (u32, u32)) -> Vec<Page> {
    let size = paper.size_in();
    let rows = per_page / columns;
    let cell = [(0, columns), (1, rows)].map(|(axis, count): (usize, u32)| {
        (size[axis] - 2.0 * MARGIN_IN - GUTTER_IN * f64::from(count - 1)) / f64::from(count)
    });
    let pages = layouts.chunks(per_page as usize);
    let count = pages.len();
    pages
        .enumerate()
        .map(|(number, layouts)| {
            let mut canvas = Canvas::new(size);
            for (index, layout) in (0u32..).zip(layouts) {
                let left = MARGIN_IN + f64::from(index % columns) * (cell[0] + GUTTER_IN);
                let top = MARGIN_IN + f64::from(index / columns) * (cell[1] + GUTTER_IN);
                draw(&mut canvas, layout, [left, top], cell, &format!("front-{index}"));
            }
            let foot = [size[0] / 2.0, size[1] - MARGIN_IN / 2.0];
            let words = format!("Not to scale. Sizes in words count. Page {} of {count}", number + 1);
            canvas.text(foot, SMALL_IN, Anchor::Middle, SOFT, &words);
            canvas.page()
        })
        .collect()
}

/// One layout in its cell.
fn draw(canvas: &mut Canvas, layout: &Layout, [left, top]: [f64; 2], [width, height]: [f64; 2], name: &str) {
    let mut y = top;
    canvas.line([[left, y], [left + width, y]], LINE, 0.75);
    y += 0.05;
    for line in wrap(&title_words(layout), TITLE_IN, width, 1) {
        y += TITLE_IN * LINE_EM;
        canvas.text([left, y], TITLE_IN, Anchor::Start, INK, &line);
    }
    for line in wrap(&card_words(layout), SMALL_IN, width, 1) {
        y += SMALL_IN * LINE_EM;
        canvas.text([left, y], SMALL_IN, Anchor::Start, SOFT, &line);
    }
    y += 0.1;
    let unit = layout.card.unit;
    let pieces: Vec<String> = layout
        .elements
        .iter()
        .enumerate()
        .map(|(index, element)| {
            let size = size_words(element, unit);
            let name = piece_name(element);
            // Kept on one line: a number alone at a line's end is read wrongly.
            format!("{} {name} {size}", index + 1).trim_end().replace(' ', "\u{a0}")
        })
        .collect();
    let lines = wrap(&pieces.join("; "), SMALL_IN, width, MOST_LINES);
    let below = lines.len() as f64 * SMALL_IN * LINE_EM;
    let room = [width, top + height - y - below - 0.1];
    let card = layout.card.size_in();
    let scale = (room[0] / card[0]).min(room[1] / card[1]).clamp(0.01, 1.0);
    let at = [left + (width - card[0] * scale) / 2.0, y];
    canvas.drawing(at, scale, &front(layout, name));
    let radius = if room[1] < 2.5 { 0.065 } else { 0.08 };
    for (index, place) in badges(layout, radius / scale).into_iter().enumerate() {
        if let Some([x, py]) = place {
            canvas.badge([at[0] + x * scale, at[1] + py * scale], radius, index + 1);
        }
    }
    y += card[1] * scale + 0.1;
    for line in lines {
        y += SMALL_IN * LINE_EM;
        canvas.text([left, y], SMALL_IN, Anchor::Start, INK, &line);
    }
}

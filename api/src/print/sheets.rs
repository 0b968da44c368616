//! Cut sheets: a page for each way a sheet is cut, with the pieces in their
//! places, the cuts numbered in an order in which they can be made, what the
//! trimmer is set to for each, and what is left.

use layout::{CAUTIONS, Unit};

use super::canvas::{Anchor, Canvas, INK, LINE, SOFT};
use super::fonts::width;
use super::measured::{Flow, GAP_IN, LINE_IN, MARGIN_IN, SMALL_IN, TEXT_IN, bar_words};
use super::{Page, Paper};
use crate::batch::{BatchPlan, PlannedPiece, PlannedSheet, Rectangle};

/// Radius of the ring around a cut's number, in inches.
const RING_IN: f64 = 0.085;
/// Room that the list of cuts has on the page of its drawing, in inches.
const LIST_IN: f64 = 2.6;
/// Scales, the largest that fits first: a ruler of another scale measures on them too.
const SCALES: [(f64, &str); 4] = [
    (1.0, ""),
    (0.5, "half its size"),
    (0.375, "three eighths of its size"),
    (0.25, "a quarter of its size"),
];
/// Columns of the list of cuts, in inches from the margin.
const AT_IN: [f64; 4] = [0.0, 0.4, 1.6, 3.6];
/// Tints of pieces, one a letter; none is so dark that letters drown.
const TINTS: [&str; 6] = ["#f6dfc6", "#d7e5d4", "#d9e2ee", "#f2d9d9", "#e6dcf0", "#f4edc4"];
const OFFCUT: &str = "#ffffff";

/// Pages of all sheets of a plan: what is cut, then sheet by sheet.
pub(crate) fn sheets(plan: &BatchPlan, title: &str, paper: Paper) -> Vec<Page> {
    let mut pages = summary(plan, title, paper);
    for sheet in &plan.sheets {
        pages.extend(one_sheet(plan, sheet, title, paper));
    }
    pages
}

/// The drawing of one sheet alone, as large as it has to be.
pub(crate) fn sheet_picture(plan: &BatchPlan, sheet: &PlannedSheet) -> Page {
    let [across, down] = size_in(sheet);
    let scale = 1.0_f64.min(8.0 / across.max(down));
    let mut canvas = Canvas::new([across * scale + 2.0 * MARGIN_IN, down * scale + 2.0 * MARGIN_IN]);
    draw(&mut canvas, plan, sheet, [MARGIN_IN, MARGIN_IN], scale);
    canvas.page()
}

/// What all sheets together give.
fn summary(plan: &BatchPlan, title: &str, paper: Paper) -> Vec<Page> {
    let mut flow = Flow::new(paper.size_in(), true);
    flow.titled(title);
    let totals = &plan.totals;
    flow.line(
        TEXT_IN,
        SOFT,
        &format!(
            "{}, {}, {}",
            counted(totals.cards, "card"),
            counted(totals.pieces, "piece"),
            counted(totals.sheets, "sheet")
        ),
    );
    for layout in &plan.layouts {
        flow.heading(&format!("{} of “{}”", counted(layout.cards, "card"), layout.title));
        for one in plan.papers.iter().filter(|one| one.layout == layout.layout) {
            let name = if one.name.is_empty() { "no paper" } else { &one.name };
            let per_sheet = one.cards_per_sheet.map_or(String::new(), |cards| {
                format!("; one sheet is enough for {}", counted(cards, "card"))
            });
            flow.paragraph(&format!("{}: {name} ({}){per_sheet}", supply_words(&one.supply), one.why));
        }
    }
    if !plan.missing.is_empty() {
        flow.heading("Not enough paper");
        for one in &plan.missing {
            if let Some(piece) = piece_of(plan, &one.letter) {
                flow.paragraph(&format!("{} of piece {}: {}", one.count, one.letter, piece.words.join("; ")));
            }
        }
        for words in &plan.advice {
            flow.paragraph(words);
        }
    }
    flow.heading("With care");
    for words in CAUTIONS {
        flow.paragraph(words);
    }
    flow.done()
}

fn one_sheet(plan: &BatchPlan, sheet: &PlannedSheet, title: &str, paper: Paper) -> Vec<Page> {
    let size = paper.size_in();
    let mut flow = Flow::new(size, true);
    flow.titled(&format!("Sheet {}: {}", sheet.number, sheet.name));
    let many =
        if sheet.count == 1 { String::new() } else { format!("{} sheets are cut like this. ", sheet.count) };
    flow.line(TEXT_IN, SOFT, &format!("{many}{title}"));
    flow.y += GAP_IN / 2.0;
    let room = [flow.room() - 2.0 * RING_IN, size[1] - MARGIN_IN - flow.y - LIST_IN];
    let [across, down] = size_in(sheet);
    let (scale, words) = SCALES
        .into_iter()
        .find(|(scale, _)| across * scale <= room[0] && down * scale <= room[1])
        .unwrap_or(((room[0] / across).min(room[1] / down), "smaller than it is"));
    let at = [size[0] / 2.0 - across * scale / 2.0, flow.y + RING_IN];
    draw(&mut flow.canvas, plan, sheet, at, scale);
    flow.y += down * scale + 2.0 * RING_IN + GAP_IN / 2.0;
    let name = bar_words(sheet.unit);
    let said = if words.is_empty() {
        format!("True scale: this bar is {name} long. Hold a ruler to it before you cut.")
    } else {
        format!("The sheet is drawn at {words}. This bar is {name} long: hold a ruler to it.")
    };
    flow.bar(sheet.unit, &said);
    flow.cuts(sheet);
    flow.heading("Pieces of this sheet");
    for (letter, count) in letters(sheet) {
        if let Some(piece) = piece_of(plan, &letter) {
            flow.paragraph(&piece_words(piece, count));
        }
    }
    flow.done()
}

impl Flow {
    /// The cuts in order.
    fn cuts(&mut self, sheet: &PlannedSheet) {
        if sheet.cuts.is_empty() {
            self.paragraph("The whole sheet is the piece: nothing to cut.");
            return;
        }
        self.need(3.0 * LINE_IN);
        self.line(TEXT_IN, INK, "Cuts, in this order");
        let row = |flow: &mut Flow, colour: &'static str, cells: [&str; 4]| {
            flow.need(LINE_IN);
            for (cell, at) in cells.iter().zip(AT_IN) {
                flow.canvas.text([MARGIN_IN + at, flow.y + SMALL_IN], SMALL_IN, Anchor::Start, colour, cell);
            }
            flow.y += LINE_IN;
        };
        row(self, SOFT, ["cut", "set to", "blade", "in hand"]);
        for cut in &sheet.cuts {
            let way = if cut.upright { "top to bottom" } else { "left to right" };
            let show = |value: f64| length_words(value, sheet.unit);
            let part = format!("the part of {} x {}", show(cut.part.width), show(cut.part.height));
            row(self, INK, [&cut.number.to_string(), &cut.setting_words, way, &part]);
        }
        self.y += GAP_IN / 4.0;
    }
}

/// The sheet with its pieces, offcuts and cuts.
fn draw(canvas: &mut Canvas, plan: &BatchPlan, sheet: &PlannedSheet, [left, top]: [f64; 2], scale: f64) {
    let inch = inches(sheet.unit);
    let place = |at: &Rectangle| {
        let [x, y, w, h] = [at.x, at.y, at.width, at.height].map(|value| value * inch * scale);
        [left + x, top + y, left + x + w, top + y + h]
    };
    let whole = place(&Rectangle { x: 0.0, y: 0.0, width: sheet.width, height: sheet.height });
    canvas.rect(whole, OFFCUT);
    for offcut in &sheet.offcuts {
        let at = place(offcut);
        hatch(canvas, at);
        let words = format!(
            "{} x {}",
            length_words(offcut.width, sheet.unit),
            length_words(offcut.height, sheet.unit)
        );
        label(canvas, at, &["offcut", &words], SOFT);
    }
    let order: Vec<&str> = plan.pieces.iter().map(|piece| piece.letter.as_str()).collect();
    for piece in &sheet.pieces {
        let at = place(&piece.at);
        let tint = order.iter().position(|letter| *letter == piece.letter).unwrap_or(0);
        canvas.rect(at, TINTS[tint % TINTS.len()]);
        let size = format!(
            "{} x {}",
            length_words(piece.at.width, sheet.unit),
            length_words(piece.at.height, sheet.unit)
        );
        let behind = if piece.face == 1 { " (back)" } else { "" };
        let name = format!("{}{behind}", piece.letter);
        label(canvas, at, &[&name, &size], INK);
        outline(canvas, at, LINE, 0.5);
    }
    for cut in &sheet.cuts {
        let [x0, y0, x1, y1] = place(&cut.part);
        let at = cut.at * inch * scale;
        let (from, to) =
            if cut.upright { ([x0 + at, y0], [x0 + at, y1]) } else { ([x0, y0 + at], [x1, y0 + at]) };
        canvas.line([from, to], INK, 1.0);
    }
    outline(canvas, whole, INK, 1.25);
    // Numbers last, so that no line runs through them; each a little further along its cut than the one before.
    for cut in &sheet.cuts {
        let [x0, y0, x1, y1] = place(&cut.part);
        let at = cut.at * inch * scale;
        let number = cut.number as usize;
        let along = |from: f64, to: f64| (from + RING_IN * 1.2).min(f64::midpoint(from, to));
        let ring = if cut.upright { [x0 + at, along(y0, y1)] } else { [along(x0, x1), y0 + at] };
        canvas.badge(ring, RING_IN, number);
    }
}

fn outline(canvas: &mut Canvas, [left, top, right, bottom]: [f64; 4], colour: &'static str, width_px: f64) {
    let corners = [[left, top], [right, top], [right, bottom], [left, bottom]];
    for index in 0..4 {
        canvas.line([corners[index], corners[(index + 1) % 4]], colour, width_px);
    }
}

/// Slanting lines: this is no piece.
fn hatch(canvas: &mut Canvas, [left, top, right, bottom]: [f64; 4]) {
    const STEP_IN: f64 = 0.12;
    let (width, height) = (right - left, bottom - top);
    let mut along = STEP_IN;
    while along < width + height {
        let from = if along <= height { [left, top + along] } else { [left + along - height, bottom] };
        let to = if along <= width { [left + along, top] } else { [right, top + along - width] };
        canvas.line([from, to], "#d8d0c2", 0.5);
        along += STEP_IN;
    }
}

/// Lines of words in the middle of a box, as large as it has room for: fewer
/// before smaller ones.
fn label(canvas: &mut Canvas, [left, top, right, bottom]: [f64; 4], lines: &[&str], colour: &'static str) {
    const SIZES_IN: [f64; 4] = [0.16, 0.125, 0.1, 0.08];
    const LINE_EM: f64 = 1.25;
    let fits = |lines: &[&str], size: f64, across: f64, down: f64| {
        lines.iter().all(|line| width(line, size) <= across) && lines.len() as f64 * size * LINE_EM <= down
    };
    let [across, down] = [right - left - 0.05, bottom - top - 0.03];
    for count in (1..=lines.len()).rev() {
        let lines = &lines[..count];
        if let Some(size) = SIZES_IN.into_iter().find(|&size| fits(lines, size, across, down)) {
            let mut y =
                f64::midpoint(top, bottom) - (count as f64 - 1.0) * size * LINE_EM / 2.0 + size * 0.36;
            for line in lines {
                canvas.text([f64::midpoint(left, right), y], size, Anchor::Middle, colour, line);
                y += size * LINE_EM;
            }
            return;
        }
        // A strip that stands is read upwards.
        let joined = lines.join("  ");
        if let Some(size) = SIZES_IN.into_iter().find(|&size| fits(&[&joined], size, down, across)) {
            let y = f64::midpoint(top, bottom) + width(&joined, size) / 2.0;
            canvas.text_upwards([f64::midpoint(left, right) + size * 0.36, y], size, colour, &joined);
            return;
        }
    }
}

/// The letters on a sheet and how many of each, in order.
fn letters(sheet: &PlannedSheet) -> Vec<(String, u32)> {
    let mut letters: Vec<(String, u32)> = Vec::new();
    for piece in &sheet.pieces {
        match letters.iter_mut().find(|(letter, _)| *letter == piece.letter) {
            Some((_, count)) => *count += 1,
            None => letters.push((piece.letter.clone(), 1)),
        }
    }
    letters.sort_by(|one, other| (one.0.len(), &one.0).cmp(&(other.0.len(), &other.0)));
    letters
}

fn piece_of<'p>(plan: &'p BatchPlan, letter: &str) -> Option<&'p PlannedPiece> {
    plan.pieces.iter().find(|piece| piece.letter == letter)
}

/// `a: 4 of 4 x 5 1/4, the panel; then a circle 2 across`.
fn piece_words(piece: &PlannedPiece, count: u32) -> String {
    let show = |value: f64| length_words(value, piece.unit);
    let then = [&piece.finish, &piece.score].into_iter().find(|words| !words.is_empty());
    let then = then.map_or(String::new(), |words| format!("; then {words}"));
    format!(
        "{}: {count} of {} x {}, {}{then}",
        piece.letter,
        show(piece.width),
        show(piece.height),
        piece.words.join("; ")
    )
}

fn supply_words(supply: &str) -> String {
    match supply {
        "base" => "Card bases".to_owned(),
        "plain" => "Pieces without a letter".to_owned(),
        mat if mat.starts_with("mat") => "Mats".to_owned(),
        letter => format!("Paper {letter}"),
    }
}

/// A length of a plan in the maker's words; one that a blade put off every
/// grid, in decimals.
fn length_words(value: f64, unit: Unit) -> String {
    layout::snap(value, unit, layout::Step::Position)
        .filter(|(_, rest)| rest.abs() < 1e-6)
        .map_or_else(|| format!("{value:.3}"), |(length, _)| length.show(unit))
}

fn size_in(sheet: &PlannedSheet) -> [f64; 2] {
    [sheet.width, sheet.height].map(|side| side * inches(sheet.unit))
}

/// Inches of one unit.
fn inches(unit: Unit) -> f64 {
    match unit {
        Unit::Inch => 1.0,
        Unit::Millimetre => 1.0 / 25.4,
    }
}

fn counted(count: u32, word: &str) -> String {
    if count == 1 { format!("1 {word}") } else { format!("{count} {word}s") }
}

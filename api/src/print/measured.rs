//! The measured drawing of one layout: the card at true scale with its
//! dimensions, a bar to check the scale by, every piece with its size and
//! place, and the maker's notes.

use layout::{BADGE_EM, Dimensions, Edge, Element, Layout, MOST_NAMED, Shape, Tracks, Unit, front};

use super::badges::badges;
use super::canvas::{Anchor, Canvas, INK, LINE, SOFT, wrap};
use super::fonts::width;
use super::{Page, Paper};

/// Free edge of a page: what home printers leave white anyway, and a little.
pub(super) const MARGIN_IN: f64 = 0.5;
/// Text sizes, in inches: 18, 10 and 9 points.
pub(super) const TITLE_IN: f64 = 0.25;
pub(super) const TEXT_IN: f64 = 0.139;
pub(super) const SMALL_IN: f64 = 0.125;
/// From one line of text to the next.
pub(super) const LINE_IN: f64 = 0.2;
/// Between two parts of a page.
pub(super) const GAP_IN: f64 = 0.2;
/// Radius of the ring around an element's number.
pub(super) const RING_IN: f64 = 0.09;
/// The same in the list, where the next number is a line away.
pub(super) const LIST_RING_IN: f64 = 0.08;
/// Height of the bar with its words.
const BAR_IN: f64 = 0.5;
/// Thickness of the bar: more than any other line's, so that it is found at once.
const BAR_THICK_IN: f64 = 0.03;
/// A picture is at least so wide, that the list of pieces has room.
const NARROWEST_PICTURE_IN: f64 = 6.75;
/// Most lines of notes in a picture.
const MOST_NOTE_LINES: usize = 40;
/// Scales for cards that are larger than the paper.
const SCALES: [(f64, &str); 3] = [(1.0, ""), (0.5, "half size"), (0.25, "a quarter of its size")];

/// The drawing on pages of a printer.
pub(crate) fn measured(layout: &Layout, paper: Paper) -> Vec<Page> {
    let size = paper.size_in();
    let mut flow = Flow::new(size, true);
    flow.head(layout);
    // The bar stands on the same page as the drawing.
    let room = size[1] - MARGIN_IN - flow.y - BAR_IN - GAP_IN;
    flow.drawing(layout, [size[0] - 2.0 * MARGIN_IN, room]);
    flow.pieces(layout);
    flow.notes(layout, usize::MAX);
    flow.done()
}

/// The drawing as one picture, as large as it has to be.
pub(crate) fn picture(layout: &Layout) -> Page {
    let (dimensions, _) = fitted(layout, [f64::INFINITY; 2]);
    let [left, _, right, _] = dimensions.bounds();
    let width = (right - left + 2.0 * MARGIN_IN).max(NARROWEST_PICTURE_IN);
    let mut flow = Flow::new([width, f64::INFINITY], false);
    flow.head(layout);
    flow.drawing(layout, [f64::INFINITY; 2]);
    flow.pieces(layout);
    flow.notes(layout, MOST_NOTE_LINES);
    let height = flow.y + MARGIN_IN;
    flow.canvas.cut_to(height)
}

/// What an element is called in the list.
pub(super) fn piece_name(element: &Element) -> String {
    layout::capital(element.name())
}

/// Size of an element in words; a mark has none.
pub(super) fn size_words(element: &Element, unit: Unit) -> String {
    let frame = element.frame;
    match element.shape {
        Shape::Mark { .. } => String::new(),
        Shape::Circle => format!("{} across", frame.width.show(unit)),
        _ => format!("{} x {}", frame.width.show(unit), frame.height.show(unit)),
    }
}

/// `A2, 4 1/4 x 5 1/2`.
pub(crate) fn card_words(layout: &Layout) -> String {
    let (card, unit) = (&layout.card, layout.card.unit);
    format!("{}, {} x {}", card.name, card.width.show(unit), card.height.show(unit))
}

/// What a layout is called.
pub(crate) fn title_words(layout: &Layout) -> String {
    let title = layout.title.trim();
    if title.is_empty() { format!("Untitled {}", layout.card.name) } else { title.to_owned() }
}

/// The dimensions that have room, and the scale: fewer tracks before a smaller
/// drawing, since a drawing at true scale can be laid under the card.
fn fitted(layout: &Layout, room: [f64; 2]) -> (Dimensions, (f64, &'static str)) {
    let mut last = (Dimensions::of(layout, Tracks::default()), SCALES[0]);
    for (scale, words) in SCALES {
        for most in [6, 4, 2, 1] {
            // Letters keep their size on paper at every scale.
            let usual = Tracks::default();
            let tracks = Tracks {
                pitch: usual.pitch / scale,
                first: usual.first / scale,
                text: usual.text / scale,
                gap: usual.gap / scale,
                most,
            };
            let dimensions = Dimensions::of(layout, tracks);
            let [left, top, right, bottom] = dimensions.bounds();
            let fits = (right - left) * scale <= room[0] && (bottom - top) * scale <= room[1];
            last = (dimensions, (scale, words));
            if fits {
                return last;
            }
        }
    }
    last
}

/// Pages that fill from top to bottom.
pub(super) struct Flow {
    pub(super) size_in: [f64; 2],
    pub(super) canvas: Canvas,
    done: Vec<Page>,
    pub(super) y: f64,
    title: String,
    is_paged: bool,
}

impl Flow {
    pub(super) fn new(size_in: [f64; 2], is_paged: bool) -> Flow {
        let canvas = Canvas::new(size_in.map(|side| if side.is_finite() { side } else { 1.0 }));
        Flow { size_in, canvas, done: Vec::new(), y: MARGIN_IN, title: String::new(), is_paged }
    }

    pub(super) fn room(&self) -> f64 {
        self.size_in[0] - 2.0 * MARGIN_IN
    }

    /// Goes on to a new page where so much has no room any more.
    pub(super) fn need(&mut self, height: f64) {
        if self.is_paged && self.y + height > self.size_in[1] - MARGIN_IN {
            let full = std::mem::replace(&mut self.canvas, Canvas::new(self.size_in));
            self.done.push(full.page());
            self.y = MARGIN_IN;
            let title = wrap(&self.title, SMALL_IN, self.room() - 1.0, 1).pop().unwrap_or_default();
            self.line(SMALL_IN, SOFT, &format!("{title}, continued"));
            self.y += GAP_IN / 2.0;
        }
    }

    pub(super) fn line(&mut self, size: f64, colour: &'static str, text: &str) {
        self.need(LINE_IN);
        self.canvas.text([MARGIN_IN, self.y + size], size, Anchor::Start, colour, text);
        self.y += LINE_IN.max(size * 1.3);
    }

    /// The title of the pages, large.
    pub(super) fn titled(&mut self, title: &str) {
        title.clone_into(&mut self.title);
        for line in wrap(title, TITLE_IN, self.room(), 2) {
            self.line(TITLE_IN, INK, &line);
        }
    }

    pub(super) fn head(&mut self, layout: &Layout) {
        self.titled(&title_words(layout));
        let card = format!("Card {}", card_words(layout));
        self.line(TEXT_IN, SOFT, &card);
        if !layout.tags.is_empty() {
            for line in wrap(&layout.tags.join(", "), SMALL_IN, self.room(), 2) {
                self.line(SMALL_IN, SOFT, &line);
            }
        }
        self.y += GAP_IN / 2.0;
    }

    fn drawing(&mut self, layout: &Layout, room: [f64; 2]) {
        let (dimensions, (scale, words)) = fitted(layout, room);
        let [left, top, right, bottom] = dimensions.bounds();
        let origin = [self.size_in[0] / 2.0 - f64::midpoint(left, right) * scale, self.y - top * scale];
        self.canvas.drawing(origin, scale, &front(layout, "front"));
        let at = |[x, y]: [f64; 2]| [origin[0] + x * scale, origin[1] + y * scale];
        for (index, place) in badges(layout, RING_IN / scale).into_iter().enumerate() {
            if let Some(place) = place {
                self.canvas.badge(at(place), RING_IN, index + 1);
            }
        }
        for line in &dimensions.lines {
            let drawn = dimensions.drawn(line);
            for extension in drawn.extensions {
                self.canvas.line(extension.map(at), LINE, 0.5);
            }
            self.canvas.line(drawn.line.map(at), INK, 0.75);
            self.arrows(drawn.line.map(at));
            let label = drawn.label;
            let [l, t] = at([label[0], label[1]]);
            let [r, b] = at([label[2], label[3]]);
            self.label([l, t, r, b], line.edge, &line.places, &line.text);
        }
        self.y += (bottom - top) * scale + GAP_IN;
        let name = bar_words(layout.card.unit);
        let said = if words.is_empty() {
            format!("True scale: this bar is {name} long. Hold a ruler to it before you cut.")
        } else {
            format!("The card is drawn at {words}: it is larger than the page. This bar is {name} long.")
        };
        self.bar(layout.card.unit, &said);
    }

    /// Heads at both ends, where there is room for two.
    fn arrows(&mut self, [from, to]: [[f64; 2]; 2]) {
        const LENGTH_IN: f64 = 0.07;
        const HALF_IN: f64 = 0.022;
        let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
        let length = dx.hypot(dy);
        if length < 3.0 * LENGTH_IN {
            return;
        }
        let [ux, uy] = [dx / length, dy / length];
        for ([x, y], way) in [(from, 1.0), (to, -1.0)] {
            let (bx, by) = (x + ux * LENGTH_IN * way, y + uy * LENGTH_IN * way);
            let corners =
                [[x, y], [bx - uy * HALF_IN, by + ux * HALF_IN], [bx + uy * HALF_IN, by - ux * HALF_IN]];
            self.canvas.triangle(corners, INK);
        }
    }

    /// The numbers of the elements and their size, in the middle of its room.
    fn label(&mut self, [left, top, right, bottom]: [f64; 4], edge: Edge, places: &[usize], text: &str) {
        let size = SMALL_IN;
        let badge = BADGE_EM * size;
        let upright = matches!(edge, Edge::Left | Edge::Right);
        let named = &places[..places.len().min(MOST_NAMED)];
        let more = if places.len() > MOST_NAMED { "… " } else { "" };
        let words = format!("{more}{text}");
        let drawn = named.len() as f64 * badge + width(&words, size);
        let radius = size * 0.56;
        // Text is as high as its capitals: they stand in the middle.
        let baseline = size * 0.36;
        if upright {
            let (x, mut y) = (f64::midpoint(left, right), f64::midpoint(top, bottom) + drawn / 2.0);
            for &place in named {
                self.canvas.badge([x, y - badge / 2.0 + 0.02], radius, place);
                y -= badge;
            }
            self.canvas.text_upwards([x + baseline, y], size, INK, &words);
        } else {
            let (mut x, y) = (f64::midpoint(left, right) - drawn / 2.0, f64::midpoint(top, bottom));
            for &place in named {
                self.canvas.badge([x + badge / 2.0 - 0.02, y], radius, place);
                x += badge;
            }
            self.canvas.text([x, y + baseline], size, Anchor::Start, INK, &words);
        }
    }

    /// A bar of a known length, to hold a ruler against, and what is said of it.
    pub(super) fn bar(&mut self, unit: Unit, said: &str) {
        let (steps, step, marks) = match unit {
            Unit::Inch => (32_u32, 1.0 / 8.0, [8, 4, 2]),
            Unit::Millimetre => (100, 1.0 / 25.4, [10, 5, 1]),
        };
        let length = f64::from(steps) * step;
        let (x, y) = (MARGIN_IN, self.y);
        self.canvas.rect([x, y, x + length, y + BAR_THICK_IN], INK);
        for mark in 0..=steps {
            let height =
                marks.iter().position(|every| mark % every == 0).map_or(0.04, |rank| [0.15, 0.1, 0.06][rank]);
            let at = x + f64::from(mark) * step;
            self.canvas.line([[at, y], [at, y + height]], INK, 0.5);
        }
        self.canvas.text([x, y + 0.3], SMALL_IN, Anchor::Start, INK, said);
        self.y += BAR_IN;
    }

    /// Every piece, bottom of the stack first.
    fn pieces(&mut self, layout: &Layout) {
        const HEADS: [&str; 6] = ["", "", "size", "from left", "from top", "more"];
        const AT_IN: [f64; 6] = [0.09, 0.25, 1.3, 2.75, 3.65, 4.5];
        if layout.elements.is_empty() {
            return;
        }
        let unit = layout.card.unit;
        self.need(3.0 * LINE_IN);
        self.line(TEXT_IN, INK, "Pieces, bottom of the stack first");
        for (head, at) in HEADS.iter().zip(AT_IN) {
            self.canvas.text([MARGIN_IN + at, self.y + SMALL_IN], SMALL_IN, Anchor::Start, SOFT, head);
        }
        self.y += LINE_IN;
        for (index, element) in layout.elements.iter().enumerate() {
            let more = more_words(element, unit);
            let lines = wrap(&more, SMALL_IN, self.room() - AT_IN[5], 3);
            self.need(LINE_IN * lines.len().max(1) as f64);
            let baseline = self.y + SMALL_IN;
            self.canvas.badge([MARGIN_IN + AT_IN[0], baseline - 0.045], LIST_RING_IN, index + 1);
            let cells = [
                piece_name(element),
                size_words(element, unit),
                element.frame.x.show(unit),
                element.frame.y.show(unit),
            ];
            for (cell, at) in cells.iter().zip(&AT_IN[1..]) {
                self.canvas.text([MARGIN_IN + at, baseline], SMALL_IN, Anchor::Start, INK, cell);
            }
            for line in &lines {
                let at = [MARGIN_IN + AT_IN[5], self.y + SMALL_IN];
                self.canvas.text(at, SMALL_IN, Anchor::Start, INK, line);
                self.y += LINE_IN;
            }
            if lines.is_empty() {
                self.y += LINE_IN;
            }
        }
        self.y += GAP_IN / 2.0;
    }

    fn notes(&mut self, layout: &Layout, most: usize) {
        if layout.notes.trim().is_empty() {
            return;
        }
        self.need(2.0 * LINE_IN);
        self.line(TEXT_IN, INK, "Notes");
        for line in wrap(layout.notes.trim(), SMALL_IN, self.room(), most) {
            self.line(SMALL_IN, INK, &line);
        }
    }

    pub(super) fn done(mut self) -> Vec<Page> {
        self.done.push(self.canvas.page());
        self.done
    }
}

/// How long the bar is that is drawn for a unit.
pub(super) const fn bar_words(unit: Unit) -> &'static str {
    match unit {
        Unit::Inch => "4 inches",
        Unit::Millimetre => "100 mm",
    }
}

/// Paper, mats and the like of an element.
fn more_words(element: &Element, unit: Unit) -> String {
    let mut words = Vec::new();
    if let Some(slot) = element.slot {
        words.push(format!("paper {}", slot.letter()));
    }
    for mat in &element.mats {
        let grown = Element { frame: element.frame.grown(*mat), ..element.clone() };
        words.push(format!("mat {}", size_words(&grown, unit)));
    }
    if element.rotation_deg != 0.0 {
        words.push(format!("turned {}°", layout::tidy((element.rotation_deg * 10.0).round() / 10.0)));
    }
    if element.raised {
        words.push("on foam".to_owned());
    }
    words.join(", ")
}

//! One picture from an order: plan, layouts, page, camera, drawing, light,
//! file.

use image::{ExtendedColorType, ImageEncoder, codecs};

use super::camera::{Camera, Curl, Pose};
use super::canvas::{Canvas, Colour, Ink, Mask, Touch, blend, hex, single};
use super::compose::{Card, Frame, Part, Pattern, Shape, compose, hidden_share, off_card};
use super::dice::{Dice, noise};
use super::hand::{DrawnPart, draw, draw_card, shown};
use super::light::{Light, defocus, expose, shake, shine};
use super::plane::{Point, bounds, clipped, closed, dense, distance, inside, turned};
use super::profile::{Medium, Order, Plan, Profile, Tool, plan};
use super::scene::{Binding, Desk, Page, Ruling, desk, page as paint_page, page_shadow};
use super::text::{Face, inches, set, width as text_width};
use super::truth::{
    Drawn, TrueCapture, TrueCard, TrueElement, TrueLabel, TrueLayout, TrueMark, Truth, rounded,
    rounded_points,
};

/// A picture file and its answer.
#[derive(Debug)]
pub struct Picture {
    /// The file's bytes.
    pub bytes: Vec<u8>,
    /// `jpg` or `png`.
    pub extension: &'static str,
    /// The exact answer; `photo` in it is the file's name.
    pub truth: Truth,
}

/// Words on cards that a library's volunteers send with books to readers at
/// home.
const SENTIMENTS: [&str; 10] = [
    "get well",
    "thank you",
    "thanks",
    "hello",
    "get well soon",
    "thinking of you",
    "with love",
    "happy reading",
    "just a note",
    "rest up",
];
const TITLES: [&str; 9] = [
    "get well, no. {n}",
    "thank you, no. {n}",
    "card table, page {n}",
    "layout {n}",
    "{n}",
    "{n} of these",
    "for Nora",
    "for Emil",
    "home delivery {n}",
];

/// A layout on its way to the page.
struct Sheet {
    parts: Vec<Part>,
    drawn: Vec<DrawnPart>,
    outline: DrawnPart,
    /// Page inches per card inch.
    scale: f64,
    /// Where the card's top-left corner is on the page, inches.
    origin: Point,
    /// Turn of the card on the page, degrees.
    turn_deg: f64,
    labels: Vec<Label>,
    edge: CardEdge,
    /// The card's own colour.
    base: Colour,
}

/// What shows where the card ends.
#[derive(Clone, Copy, Debug, PartialEq)]
enum CardEdge {
    /// A drawn line.
    Outline,
    /// The paper's own edge.
    Paper,
    /// White, with a soft shadow.
    WhiteShadow,
    /// White, with a fine grey line.
    WhiteHairline,
    /// The card's own colour.
    Tint,
    /// The card's own colour, with a soft shadow.
    TintShadow,
}

impl CardEdge {
    const fn word(self) -> &'static str {
        match self {
            CardEdge::Outline => "outline",
            CardEdge::Paper => "paper",
            CardEdge::WhiteShadow => "white-shadow",
            CardEdge::WhiteHairline => "white-hairline",
            CardEdge::Tint => "tint",
            CardEdge::TintShadow => "tint-shadow",
        }
    }
}

/// The pen in the hand: half its width in inches on the page, its colour, and
/// the writing that goes with it.
#[derive(Clone, Copy)]
struct Held {
    half_in: f64,
    colour: Colour,
    face: Face,
}

/// Something written, in card inches.
struct Label {
    text: String,
    kind: &'static str,
    element: Option<usize>,
    middle: Point,
    height: f64,
    turn_deg: f64,
    /// Lines that go with it: leader or dimension line.
    lines: Vec<Vec<Point>>,
}

impl Sheet {
    fn to_page(&self, p: Point) -> Point {
        turned(
            [self.origin[0] + p[0] * self.scale, self.origin[1] + p[1] * self.scale],
            self.origin,
            self.turn_deg,
        )
    }
}

/// Makes one picture.
pub fn picture(order: &Order) -> Picture {
    // Profiles of one seed and number are different pictures.
    let mut dice = Dice::new(order.seed, order.number ^ (order.profile as u64) << 48);
    let dice = &mut dice;
    let plan = plan(dice, order);
    let (page, places, scale) = lay_out(dice, &plan);
    let mut sheets: Vec<Sheet> =
        places.iter().map(|&origin| sheet(dice, order, &plan, origin, scale)).collect();
    let curl = curl(dice, order, &plan, &page);
    let (camera, size) = aim(dice, face_of(&plan, order), &plan, &page, &sheets, curl);
    let mut canvas = Canvas::new(size[0], size[1], [0.97; 3]);
    lay_page(dice, &mut canvas, &camera, &page, &plan);
    let mut labels = Vec::new();
    let mut held = Held {
        half_in: nib(dice, &plan, order),
        colour: ink_colour(dice, &plan),
        face: face_of(&plan, order),
    };
    for sheet in &mut sheets {
        if dice.chance(0.06) {
            // Another pen was nearer.
            held.colour = ink_colour(dice, &plan);
        }
        if plan.effects.contains(&"show-through") || plan.effects.contains(&"rubbed-out") {
            ghost(dice, &mut canvas, &camera, &plan, sheet, held);
        }
        labels.push(draw_sheet(dice, &mut canvas, &camera, &plan, sheet, held));
    }
    take(dice, order, &plan, &mut canvas, &camera, &page, &sheets);
    let grey = plan.medium == Medium::Scan && !plan.filled && dice.chance(0.3);
    let bytes = expose(dice, &canvas, plan.noise, grey);
    let (bytes, extension) = encode(&plan, &bytes, size);
    let layouts =
        sheets.iter().zip(labels).map(|(sheet, labels)| answer(&plan, sheet, labels, &camera)).collect();
    let truth = Truth {
        photo: format!("{:03}.{extension}", order.number),
        unit: "in",
        profile: order.profile.word(),
        medium: plan.medium.word(),
        style: plan.tool.word(),
        drawing: match plan.tool {
            Tool::Print if plan.filled => "fill",
            Tool::Print => "line",
            tool => tool.word(),
        },
        neat: plan.neat,
        ruling: plan.ruling.word(),
        drawn_through: plan.drawn_through,
        scan: plan.medium != Medium::Photo,
        effects: plan.effects.clone(),
        tilt_deg: rounded(plan.pose.tilt_deg, 1),
        curl_in: rounded(curl.rise, 3),
        width_px: size[0],
        height_px: size[1],
        noise: rounded(plan.noise, 1),
        defocus_px: rounded(plan.defocus, 2),
        exif_orientation: plan.exif,
        jpeg_quality: plan.jpeg_quality,
        text_turned_deg: 0,
        seed: order.seed,
        number: order.number,
        layouts,
    };
    Picture { bytes, extension, truth }
}

/// Chooses a page, and where on it the cards are drawn: their top-left
/// corners (page inches) and their scale.
fn lay_out(dice: &mut Dice, plan: &Plan) -> (Page, Vec<Point>, f64) {
    let card = &plan.card;
    let notebook = plan.count > 1 || plan.ruling != Ruling::Plain;
    let colour: Colour = if plan.medium == Medium::Screen {
        *dice.pick(&[[1.0, 1.0, 1.0], [0.97, 0.97, 0.96], [0.86, 0.88, 0.91]])
    } else {
        *dice.pick(&[[0.95, 0.95, 0.94], [0.96, 0.95, 0.92], [0.93, 0.93, 0.93], [0.97, 0.96, 0.9]])
    };
    if plan.paper_card {
        let scale = *dice.pick(&[1.0, 1.0, 0.9]);
        let page = Page {
            width: card.width * scale,
            height: card.height * scale,
            colour,
            ruling: plan.ruling,
            binding: Binding::Loose,
        };
        return (page, vec![[0.0, 0.0]], scale);
    }
    let sizes: &[(f64, f64)] = if notebook {
        // Letter, A4, A5 and the 6 x 9 spiral book.
        &[(8.5, 11.0), (8.27, 11.69), (5.83, 8.27), (6.0, 9.0)]
    } else {
        &[(8.5, 11.0), (8.5, 11.0), (8.27, 11.69)]
    };
    let &(short, long) = dice.pick(sizes);
    let lying = if plan.count == 1 {
        card.width > card.height && dice.chance(0.5)
    } else {
        plan.count == 2 && dice.chance(0.5)
    };
    let (width, height) = if lying { (long, short) } else { (short, long) };
    let binding = if notebook && dice.chance(0.45) {
        *dice.pick(&[Binding::SpiralLeft, Binding::SpiralTop])
    } else {
        Binding::Loose
    };
    let page = Page { width, height, colour, ruling: plan.ruling, binding };
    // The grid of places that leaves the cards largest.
    let count = plan.count;
    let room = [width - 1.3, height - 1.4];
    let gap = if count > 1 { 0.55 } else { 0.0 };
    let (mut best, mut columns) = (0.0, 1);
    for across in 1..=count {
        let down = count.div_ceil(across);
        let fit = |space: f64, number: usize, side: f64| {
            (space - gap * (number as f64 - 1.0)) / number as f64 / side
        };
        let scale = fit(room[0], across, card.width).min(fit(room[1], down, card.height));
        if scale > best {
            (best, columns) = (scale, across);
        }
    }
    let wanted = if count > 1 { dice.range(0.82, 1.0) * best } else { dice.range(0.65, 1.2) };
    let scale = wanted.min(best).max(0.2);
    let rows = count.div_ceil(columns);
    let (w, h) = (card.width * scale, card.height * scale);
    let spare = [
        room[0] - w * columns as f64 - gap * (columns - 1) as f64,
        room[1] - h * rows as f64 - gap * (rows - 1) as f64,
    ];
    // Makers keep drawings together rather than spread them over the page.
    let spread = |spare: f64, number: usize| {
        if number > 1 { (spare / (number - 1) as f64).min(0.35) + gap } else { 0.0 }
    };
    let mut places = Vec::new();
    for k in 0..count {
        let (column, row) = ((k % columns) as f64, (k / columns) as f64);
        let wander = |dice: &mut Dice, spare: f64, number: usize| {
            if number == 1 { spare * dice.range(0.25, 0.75) } else { dice.steady(0.05) }
        };
        places.push([
            0.8 + column * (w + spread(spare[0], columns)) + wander(dice, spare[0], columns),
            0.75 + row * (h + spread(spare[1], rows)) + wander(dice, spare[1], rows),
        ]);
    }
    (page, places, rounded(scale, 4))
}

/// Invents and draws one layout, in card inches.
fn sheet(dice: &mut Dice, order: &Order, plan: &Plan, origin: Point, scale: f64) -> Sheet {
    let mut parts = compose(dice, &plan.card, plan.wishes);
    let mut edge = if plan.paper_card { CardEdge::Paper } else { CardEdge::Outline };
    let mut base = [0.99; 3];
    if plan.filled {
        edge = *dice.pick(&[
            CardEdge::Outline,
            CardEdge::WhiteShadow,
            CardEdge::WhiteShadow,
            CardEdge::WhiteHairline,
            CardEdge::Tint,
            CardEdge::TintShadow,
        ]);
        if matches!(edge, CardEdge::Tint | CardEdge::TintShadow) {
            base = from_hsv(dice.range(0.0, 360.0), dice.range(0.1, 0.4), dice.range(0.6, 0.95));
        }
        colour(dice, &mut parts, base);
    } else {
        shade(dice, plan, &mut parts);
    }
    let outline = draw_card(dice, &plan.hand, &plan.card);
    let mut drawn: Vec<DrawnPart> = Vec::new();
    for part in &parts {
        let mat = part.mat.map(|under| drawn[under].strayed);
        drawn.push(draw(dice, &plan.hand, part, &plan.card, mat));
    }
    let turn_deg = match plan.tool {
        _ if plan.paper_card => 0.0,
        Tool::Print => 0.0,
        _ => dice.steady(0.7),
    };
    let mut sheet = Sheet { parts, drawn, outline, scale, origin, turn_deg, labels: Vec::new(), edge, base };
    sheet.labels = write(dice, order, plan, &sheet);
    sheet
}

/// Hatching and other fillings of line drawings.
fn shade(dice: &mut Dice, plan: &Plan, parts: &mut [Part]) {
    let printed = plan.tool == Tool::Print;
    if plan.drawn_through {
        return;
    }
    for part in parts.iter_mut().filter(|part| !part.shape.is_mark() && part.role != "mat") {
        let chance = if plan.wishes.easy {
            0.08
        } else if printed {
            0.22
        } else {
            0.07
        };
        if part.role == "background" && dice.chance(0.7) || !dice.chance(chance) {
            continue;
        }
        if printed {
            if dice.chance(0.45) {
                let grey = single(dice.range(0.72, 0.88));
                part.fill = Some([grey; 3]);
            } else {
                part.pattern =
                    Some(*dice.pick(&[Pattern::Stripes, Pattern::Dots, Pattern::Gingham, Pattern::Hatching]));
            }
        } else {
            part.pattern = Some(*dice.pick(&[Pattern::Hatching, Pattern::Hatching, Pattern::Stripes]));
        }
    }
    if dice.chance(0.35) {
        // Filled marks.
        for part in parts.iter_mut().filter(|part| part.shape.is_mark()) {
            part.fill = Some([0.1; 3]);
        }
    }
}

/// Papers for printed colour layouts, on a card of colour `base`.
fn colour(dice: &mut Dice, parts: &mut [Part], base: Colour) {
    let family = dice.range(0.0, 360.0);
    let subtle = dice.chance(0.35);
    let outlined = dice.chance(0.35);
    let lines: Vec<Vec<Point>> = parts.iter().map(Part::outline).collect();
    for index in 0..parts.len() {
        let alike = (0..index)
            .rev()
            .find(|&other| parts[index].group.is_some() && parts[other].group == parts[index].group)
            .filter(|_| dice.chance(0.5));
        let fill = if let Some(other) = alike {
            parts[other].fill
        } else {
            // What it is seen against: the lower shapes that it touches, and the card.
            let mut below = vec![base];
            let (low, high) = bounds(&lines[index]);
            below.extend((0..index).filter_map(|other| {
                let (from, to) = bounds(&lines[other]);
                let meets = from[0] < high[0] && to[0] > low[0] && from[1] < high[1] && to[1] > low[1];
                parts[other].fill.filter(|_| meets)
            }));
            Some(apart_from(dice, family, subtle, &below))
        };
        let part = &mut parts[index];
        part.fill = fill;
        part.outlined = outlined && !part.shape.is_mark();
        if !part.shape.is_mark() && !matches!(part.role, "mat" | "background-mat") && dice.chance(0.25) {
            part.pattern = Some(*dice.pick(&[Pattern::Stripes, Pattern::Dots, Pattern::Gingham]));
        }
    }
}

/// A paper of a colour family that can be told from those below it, not
/// always by much.
fn apart_from(dice: &mut Dice, family: f64, subtle: bool, below: &[Colour]) -> Colour {
    let wanted = if subtle { 0.3 } else { 0.7 };
    let mut best = (f64::MIN, [1.0; 3]);
    for _ in 0..12 {
        let hue = family + *dice.pick(&[0.0, 0.0, 25.0, -25.0, 160.0, 190.0]) + dice.range(-10.0, 10.0);
        let (chroma, value) = match dice.int(0, 5) {
            // White and kraft, pastels, middle and dark papers.
            0 => (dice.range(0.0, 0.05), dice.range(0.9, 0.99)),
            1..=3 => (dice.range(0.08, 0.3), dice.range(0.78, 0.96)),
            4 => (dice.range(0.25, 0.5), dice.range(0.5, 0.82)),
            _ => (dice.range(0.2, 0.5), dice.range(0.22, 0.42)),
        };
        let fill = from_hsv(hue, chroma, value);
        let nearest = below
            .iter()
            .map(|other| (0..3).map(|c| f64::from((fill[c] - other[c]).abs())).sum::<f64>())
            .fold(f64::MAX, f64::min);
        let score = -(nearest - wanted).abs() - if nearest < 0.15 { 1.0 } else { 0.0 };
        if score > best.0 {
            best = (score, fill);
        }
    }
    best.1
}

fn from_hsv(hue: f64, chroma: f64, value: f64) -> Colour {
    let channel = |n: f64| {
        let k = (n + hue / 60.0).rem_euclid(6.0);
        single(value - value * chroma * k.min(4.0 - k).clamp(0.0, 1.0))
    };
    [channel(5.0), channel(3.0), channel(1.0)]
}

/// What is written in and around a card.
fn write(dice: &mut Dice, order: &Order, plan: &Plan, sheet: &Sheet) -> Vec<Label> {
    let card = &plan.card;
    let face = face_of(plan, order);
    // Handwriting is 1/6 to 1/4 in tall on paper, print a little less.
    let size = (if plan.tool == Tool::Print { dice.range(0.16, 0.24) } else { dice.range(0.24, 0.34) })
        / sheet.scale;
    let size = if plan.count > 1 { size * 0.75 } else { size };
    let mut labels = Vec::new();
    let sizes = dice.chance(0.35);
    for (index, part) in sheet.parts.iter().enumerate() {
        let worded = matches!(part.role, "banner" | "sentiment");
        let text = if worded && dice.chance(0.75) {
            (*dice.pick(&SENTIMENTS)).to_owned()
        } else if sizes && !part.shape.is_mark() && part.role != "mat" && dice.chance(0.45) {
            size_label(dice, part)
        } else {
            continue;
        };
        let kind = if SENTIMENTS.contains(&text.as_str()) { "sentiment" } else { "size" };
        let (w, h) = (part.frame.width, part.frame.height);
        let standing = h > 1.6 * w;
        let (along, across) = if standing { (h, w) } else { (w, h) };
        let height = size.min(across * 0.62).min(along * 0.78 / text_width(face, &text));
        if height * sheet.scale < 0.08 || part.pattern.is_some() {
            continue;
        }
        let (half_w, half_h) = (text_width(face, &text) * height / 2.0, height * 0.45);
        let half = if standing { [half_h, half_w] } else { [half_w, half_h] };
        let c = part.frame.centre();
        let clear = [
            c,
            [c[0] - half[0], c[1] - half[1]],
            [c[0] + half[0], c[1] - half[1]],
            [c[0] + half[0], c[1] + half[1]],
            [c[0] - half[0], c[1] + half[1]],
        ];
        // Room for it: no shape above, no line of one through it.
        let box_of = Frame::new(c[0] - half[0], c[1] - half[1], half[0] * 2.0, half[1] * 2.0);
        let free = sheet.drawn[index + 1..].iter().all(|other| {
            let (low, high) = bounds(&other.outline);
            high[0] < box_of.x || high[1] < box_of.y || low[0] > box_of.right() || low[1] > box_of.bottom()
        });
        if free
            && clear.iter().all(|p| inside(&sheet.drawn[index].outline, *p) && inside(&card.outline(), *p))
        {
            let turn = part.rotation + if standing { 90.0 } else { 0.0 };
            labels.push(Label {
                text,
                kind,
                element: Some(index),
                middle: c,
                height,
                turn_deg: turn,
                lines: Vec::new(),
            });
        }
    }
    if plan.paper_card {
        return labels;
    }
    if dice.chance(0.5) {
        let text = dice.pick(&TITLES).replace("{n}", &dice.int(2, 90).to_string());
        let above = dice.chance(0.7);
        let wide = text_width(face, &text) * size;
        let x = if dice.chance(0.5) { card.width / 2.0 } else { wide / 2.0 };
        let away = size * dice.range(0.85, 1.1);
        let middle = [x, if above { -away } else { card.height + away }];
        labels.push(Label {
            text,
            kind: "title",
            element: None,
            middle,
            height: size,
            turn_deg: 0.0,
            lines: Vec::new(),
        });
    }
    if plan.count == 1 && dice.chance(if plan.wishes.easy { 0.15 } else { 0.2 }) {
        dimension(dice, plan, face, size, card, &mut labels);
    }
    labels
}

fn size_label(dice: &mut Dice, part: &Part) -> String {
    let mark = if dice.chance(0.3) { "\"" } else { "" };
    let (w, h) = (inches(part.frame.width), inches(part.frame.height));
    match part.shape {
        Shape::Circle => format!("{w}{mark} circle"),
        Shape::Oval => format!("{w}{mark} x {h}{mark} oval"),
        _ => format!("{w}{mark} x {h}{mark}"),
    }
}

fn face_of(plan: &Plan, order: &Order) -> Face {
    match plan.tool {
        Tool::Print => Face::Inter,
        // One hand throughout a picture.
        _ if (order.seed ^ order.number).is_multiple_of(2) => Face::Caveat,
        _ => Face::PatrickHand,
    }
}

/// A line with two arrowheads beside the card, its length written at it.
fn dimension(dice: &mut Dice, plan: &Plan, face: Face, size: f64, card: &Card, labels: &mut Vec<Label>) {
    let upright = dice.chance(0.5);
    let long = if upright { card.height } else { card.width };
    let place = |along: f64, out: f64| if upright { [-out, along] } else { [along, card.height + out] };
    let away = size * 0.9;
    let text = inches(long) + if dice.chance(0.4) { "\"" } else { "" };
    let half = text_width(face, &text) * size * 0.62;
    let head = 0.09;
    let wobble = |dice: &mut Dice| if plan.hand.exact() { 0.0 } else { dice.steady(0.02) };
    let mut lines = Vec::new();
    for (from, to) in [(0.02, long / 2.0 - half), (long - 0.02, long / 2.0 + half)] {
        let way = if from < to { head } else { -head };
        lines.push(dense(&[place(from, away + wobble(dice)), place(to, away + wobble(dice))], 0.05));
        lines.push(dense(
            &[place(from + way, away + head * 0.6), place(from, away), place(from + way, away - head * 0.6)],
            0.03,
        ));
    }
    let kind = if upright { "height" } else { "width" };
    let turn_deg = if upright { -90.0 } else { 0.0 };
    labels.retain(|label| label.kind != "title" || label.middle[1] < 0.0);
    labels.push(Label {
        text,
        kind,
        element: None,
        middle: place(long / 2.0, away),
        height: size,
        turn_deg,
        lines,
    });
}

fn curl(dice: &mut Dice, order: &Order, plan: &Plan, page: &Page) -> Curl {
    if plan.medium != Medium::Photo || plan.paper_card || order.easy || !dice.chance(0.3) {
        return Curl::default();
    }
    let axis = dice.index(2);
    let reach = if axis == 0 { page.width } else { page.height };
    Curl { axis, spine: 0.0, reach, rise: dice.range(0.05, 0.2) }
}

/// Points the camera at the cards.
fn aim(
    dice: &mut Dice,
    face: Face,
    plan: &Plan,
    page: &Page,
    sheets: &[Sheet],
    curl: Curl,
) -> (Camera, [usize; 2]) {
    let corners: Vec<Point> = sheets
        .iter()
        .flat_map(|sheet| plan.card.outline().into_iter().map(|p| sheet.to_page(p)).collect::<Vec<_>>())
        .collect();
    if plan.medium == Medium::Photo {
        // Words round the card are in the picture too.
        let mut subject = corners.clone();
        for sheet in sheets {
            for label in sheet.labels.iter().filter(|label| label.element.is_none()) {
                let half = text_width(face, &label.text) * label.height / 2.0;
                let way = turned([half, 0.0], [0.0, 0.0], label.turn_deg);
                let [x, y] = label.middle;
                subject
                    .extend([[x - way[0], y - way[1]], [x + way[0], y + way[1]]].map(|p| sheet.to_page(p)));
            }
        }
        let corners = subject;
        let (low, high) = bounds(&corners);
        let target = [f64::midpoint(low[0], high[0]), f64::midpoint(low[1], high[1])];
        let fill = if plan.paper_card {
            dice.range(0.55, 0.8)
        } else if plan.count > 1 {
            dice.range(0.72, 0.9)
        } else {
            dice.range(0.5, 0.85)
        };
        let slack = (1.0 - fill) * 0.3;
        let shift = [dice.range(-slack, slack), dice.range(-slack, slack)];
        let pose = Pose { target, ..plan.pose };
        let size = [plan.size[0] as f64, plan.size[1] as f64];
        return (Camera::photo(pose, curl, size, &corners, fill, shift), plan.size);
    }
    // The glass shows the page; a screen shows the card and a little more.
    let long = plan.size[0].max(plan.size[1]) as f64;
    if plan.medium == Medium::Screen {
        let (low, high) = bounds(&corners);
        let rim = dice.range(0.05, 0.3) * (high[0] - low[0]);
        let size = [high[0] - low[0] + 2.0 * rim, high[1] - low[1] + 2.0 * rim];
        let px = dice.range(500.0, 1100.0).min(long) / size[0].max(size[1]);
        let whole = size.map(|v| super::canvas::pixel((v * px).ceil(), 6000));
        return (Camera::scanner(px, 0.0, [(rim - low[0]) * px, (rim - low[1]) * px]), whole);
    }
    let dpi = long / page.width.max(page.height);
    let size = [page.width, page.height].map(|v| super::canvas::pixel(v * dpi, 6000));
    let turn = dice.steady(0.7);
    (Camera::scanner(dpi, turn, [dice.range(-0.04, 0.04) * dpi, dice.range(-0.04, 0.04) * dpi]), size)
}

fn lay_page(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, page: &Page, plan: &Plan) {
    let outline: Vec<Point> = page.outline().iter().map(|&p| camera.project(p)).collect();
    if plan.medium == Medium::Photo {
        let mask = canvas.mask(&[outline]);
        let kind = Desk::any(dice);
        desk(dice, canvas, camera, kind, &mask);
        page_shadow(dice, canvas, camera, page);
        paint_page(dice, canvas, camera, page, &mask);
    } else {
        // The lid of a scanner is white; a screen goes on past the page.
        let size = [canvas.width as f64, canvas.height as f64];
        let all = [[0.0, 0.0], [size[0], 0.0], size, [0.0, size[1]]];
        let mask = canvas.mask(&[all.to_vec()]);
        paint_page(dice, canvas, camera, page, &mask);
    }
}

/// Half the line's width on the page, inches.
fn nib(dice: &mut Dice, plan: &Plan, order: &Order) -> f64 {
    match plan.tool {
        // Half a point to a point and a half.
        Tool::Print => dice.range(0.0045, 0.010),
        // 0.5 to 0.8 mm pens, 0.5 to 0.7 mm pencils, 1 to 2 mm markers.
        Tool::Pen => dice.range(0.010, 0.016),
        Tool::Pencil => dice.range(0.009, if order.easy { 0.016 } else { 0.014 }),
        Tool::Marker => dice.range(0.02, 0.036),
    }
}

fn ink_colour(dice: &mut Dice, plan: &Plan) -> Colour {
    *dice.pick(match plan.tool {
        Tool::Print => &[[0.08, 0.08, 0.08], [0.2, 0.2, 0.2], [0.35, 0.35, 0.36]],
        Tool::Pen => &[[0.08, 0.10, 0.35], [0.10, 0.10, 0.12], [0.12, 0.22, 0.55], [0.55, 0.12, 0.16]],
        Tool::Pencil => &[[0.32, 0.32, 0.33], [0.40, 0.40, 0.41], [0.26, 0.26, 0.27]],
        Tool::Marker => &[
            [0.78, 0.15, 0.25],
            [0.10, 0.45, 0.55],
            [0.15, 0.30, 0.70],
            [0.12, 0.12, 0.13],
            [0.42, 0.16, 0.50],
        ],
    })
}

/// What is left of another drawing: rubbed out here, or on the page's back.
fn ghost(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, plan: &Plan, sheet: &Sheet, held: Held) {
    let behind = plan.effects.contains(&"show-through");
    let parts = compose(dice, &plan.card, plan.wishes);
    let shift = [dice.range(-0.5, 0.5), dice.range(-0.5, 0.5)];
    let mut pen =
        PenStroke { half_in: held.half_in * 1.3, tool: plan.tool, seed: dice.seed(), firm: 1.0, count: 0.0 };
    let mut ink = Ink::new(canvas);
    for part in parts.iter().rev().take(if behind { parts.len() } else { 1 }) {
        for stroke in draw(dice, &plan.hand, part, &plan.card, None).strokes {
            let seen =
                |p: &Point| [if behind { plan.card.width - p[0] } else { p[0] } + shift[0], p[1] + shift[1]];
            let line: Vec<Point> = stroke.iter().map(seen).collect();
            pen.lay(&mut ink, camera, sheet, &line);
        }
    }
    let faint = single(dice.range(0.08, 0.2));
    canvas.ink(&ink, held.colour, |_, _, cover| cover * faint);
}

/// Draws one layout on the picture and says where its words are.
fn draw_sheet(
    dice: &mut Dice,
    canvas: &mut Canvas,
    camera: &Camera,
    plan: &Plan,
    sheet: &Sheet,
    held: Held,
) -> Vec<Vec<Point>> {
    let mut pen = PenStroke {
        half_in: held.half_in,
        tool: plan.tool,
        seed: dice.seed(),
        firm: firmness(dice, plan),
        count: 0.0,
    };
    let mut ink = Ink::new(canvas);
    let project = |p: Point| camera.project(sheet.to_page(p));
    let whole = plan.card.outline();
    if plan.filled {
        paint_card(dice, canvas, plan, sheet, &project);
    }
    paint_fills(dice, canvas, plan, sheet, &project);
    if sheet.edge == CardEdge::Outline {
        for stroke in &sheet.outline.strokes {
            pen.lay(&mut ink, camera, sheet, stroke);
        }
    }
    // A hand's line may go a little over the card's edge; a printer's never does.
    let margin = if plan.hand.exact() { 0.0 } else { 0.06 };
    let limits = super::plane::grown(&whole, margin + 1e-6);
    for (index, part) in sheet.parts.iter().enumerate() {
        let above: Vec<&Vec<Point>> = if plan.drawn_through {
            Vec::new()
        } else {
            sheet.drawn[index + 1..]
                .iter()
                .zip(&sheet.parts[index + 1..])
                .filter(|(_, part)| !part.shape.is_mark())
                .map(|(drawn, _)| &drawn.outline)
                .collect()
        };
        if part.outlined {
            for stroke in &sheet.drawn[index].strokes {
                for run in shown(dice, &plan.hand, stroke, &above, Some(&limits)) {
                    pen.lay(&mut ink, camera, sheet, &run);
                }
            }
        }
        if part.shape.is_mark() && part.fill.is_some() && !plan.filled {
            let area: Vec<Point> = sheet.drawn[index].outline.iter().map(|&p| project(p)).collect();
            let mask = canvas.mask(&[area]);
            ink.area(&mask, single(pen.firm * 0.95));
        }
        if let (Some(pattern), false) = (part.pattern, plan.filled) {
            let own = &sheet.drawn[index].outline;
            for line in pattern_lines(dice, part, pattern, plan) {
                let (low, high) = bounds(&whole);
                let on_card: Vec<Point> = line
                    .into_iter()
                    .filter(|p| p[0] > low[0] && p[1] > low[1] && p[0] < high[0] && p[1] < high[1])
                    .collect();
                if on_card.len() > 1 {
                    for run in shown(dice, &plan.hand, &dense(&on_card, 0.03), &above, Some(own)) {
                        pen.lay(&mut ink, camera, sheet, &run);
                    }
                }
            }
        }
    }
    let mut boxes = Vec::new();
    // On dark papers the words are light.
    let mut light_ink = Ink::new(canvas);
    for label in &sheet.labels {
        for line in &label.lines {
            pen.lay(&mut ink, camera, sheet, line);
        }
        let dance = if plan.tool == Tool::Print { 0.0 } else { 0.025 };
        let text = set(dice, held.face, &label.text, label.middle, label.height, label.turn_deg, dance);
        let outlines: Vec<Vec<Point>> =
            text.outlines.iter().map(|contour| contour.iter().map(|&p| project(p)).collect()).collect();
        let mask = canvas.mask(&outlines);
        let under = label.element.and_then(|index| sheet.parts[index].fill).unwrap_or([1.0; 3]);
        let dark = plan.filled && under.iter().sum::<f32>() < 1.35;
        let on = if dark { &mut light_ink } else { &mut ink };
        on.area(&mask, single(pen.firm.max(0.6)));
        boxes.push(text.corners.iter().map(|&p| project(p)).collect());
    }
    lay_ink(dice, canvas, camera, sheet, plan, &ink, held.colour);
    canvas.ink(&light_ink, [0.97; 3], |_, _, cover| cover);
    boxes
}

fn lay_ink(
    dice: &mut Dice,
    canvas: &mut Canvas,
    camera: &Camera,
    sheet: &Sheet,
    plan: &Plan,
    ink: &Ink,
    colour: Colour,
) {
    let seed = dice.seed();
    let per_inch = camera.scale(sheet.to_page([plan.card.width / 2.0, plan.card.height / 2.0]));
    if plan.tool == Tool::Pencil {
        // Graphite stays on the tops of the paper's tooth, about 1/110 in apart.
        let tooth = (per_inch / 110.0).max(1.0);
        canvas.ink(ink, colour, |x, y, cover| {
            let height = single(noise(seed, x as f64 / tooth, y as f64 / tooth));
            (cover * (1.0 + 0.6 * height) - 0.1 * (1.0 - cover)).clamp(0.0, 1.0)
        });
    } else if plan.tool == Tool::Marker {
        let streak = per_inch / 30.0;
        canvas.ink(ink, colour, |x, y, cover| {
            cover * single(0.93 + 0.07 * noise(seed, x as f64 / streak, y as f64 / streak))
        });
    } else {
        canvas.ink(ink, colour, |_, _, cover| cover);
    }
}

fn firmness(dice: &mut Dice, plan: &Plan) -> f64 {
    match plan.tool {
        Tool::Print => 1.0,
        Tool::Pen => dice.range(0.85, 1.0),
        Tool::Marker => dice.range(0.75, 0.95),
        Tool::Pencil if plan.wishes.easy => dice.range(0.65, 0.9),
        Tool::Pencil => dice.range(0.32, 0.78),
    }
}

/// A pen that leaves strokes of its own width and firmness.
struct PenStroke {
    half_in: f64,
    tool: Tool,
    seed: u64,
    firm: f64,
    count: f64,
}

impl PenStroke {
    /// Draws a stroke given in card inches.
    fn lay(&mut self, ink: &mut Ink, camera: &Camera, sheet: &Sheet, stroke: &[Point]) {
        self.count += 17.0;
        let (sway, press) = match self.tool {
            Tool::Print => (0.0, 0.0),
            Tool::Pen => (0.12, 0.06),
            Tool::Marker => (0.1, 0.08),
            Tool::Pencil => (0.18, 0.3),
        };
        let mut along = 0.0;
        let mut last = stroke[0];
        let touches: Vec<Touch> = stroke
            .iter()
            .map(|&p| {
                along += distance(last, p);
                last = p;
                let page = sheet.to_page(p);
                let wide = noise(self.seed, along * 1.7, self.count);
                let hard = noise(self.seed ^ 0x77, along * 1.1, self.count);
                Touch {
                    at: camera.project(page),
                    half_px: self.half_in * camera.scale(page) * (1.0 + sway * wide),
                    strength: (self.firm * (1.0 + press * hard)).clamp(0.0, 1.0),
                }
            })
            .collect();
        ink.stroke(&touches);
    }
}

/// Lines of a filling, in card inches, before they are cut to the shape.
fn pattern_lines(dice: &mut Dice, part: &Part, pattern: Pattern, plan: &Plan) -> Vec<Vec<Point>> {
    let (low, high) = bounds(&part.outline());
    let middle = [f64::midpoint(low[0], high[0]), f64::midpoint(low[1], high[1])];
    let reach = distance(low, high) / 2.0;
    let step = if plan.hand.exact() { dice.range(0.07, 0.15) } else { dice.range(0.12, 0.18) };
    let parallel = |dice: &mut Dice, angle: f64| {
        let mut lines = Vec::new();
        let mut off = -reach;
        while off < reach {
            let wander = |dice: &mut Dice| if plan.hand.exact() { 0.0 } else { dice.steady(0.02) };
            let ends = [
                [middle[0] - reach, middle[1] + off + wander(dice)],
                [middle[0] + reach, middle[1] + off + wander(dice)],
            ];
            lines.push(dense(&ends, 0.03).iter().map(|&p| turned(p, middle, angle)).collect::<Vec<Point>>());
            off += step;
        }
        lines
    };
    match pattern {
        Pattern::Hatching => parallel(dice, -45.0),
        Pattern::Stripes => {
            let angle = if dice.chance(0.5) { 90.0 } else { 0.0 };
            parallel(dice, angle)
        }
        Pattern::Gingham => [parallel(dice, 0.0), parallel(dice, 90.0)].concat(),
        Pattern::Dots => {
            let mut dots = Vec::new();
            let mut row = 0.0;
            let mut y = low[1] + step;
            while y < high[1] {
                let mut x = low[0] + step * (1.0 + 0.5 * (row % 2.0));
                while x < high[0] {
                    dots.push(
                        (0..=8)
                            .map(|k| {
                                let angle = f64::from(k) * std::f64::consts::FRAC_PI_4;
                                [x + 0.015 * angle.cos(), y + 0.015 * angle.sin()]
                            })
                            .collect(),
                    );
                    x += step;
                }
                y += step;
                row += 1.0;
            }
            dots
        }
    }
}

/// Paints the card itself below printed colour.
fn paint_card(
    dice: &mut Dice,
    canvas: &mut Canvas,
    plan: &Plan,
    sheet: &Sheet,
    project: &dyn Fn(Point) -> Point,
) {
    let whole = plan.card.outline();
    let to_picture = |points: &[Point]| -> Vec<Point> {
        dense(&closed(points), 0.3).iter().map(|&p| project(p)).collect()
    };
    if matches!(sheet.edge, CardEdge::WhiteShadow | CardEdge::TintShadow) {
        let fall = [dice.range(-0.02, 0.03), dice.range(0.01, 0.04)];
        let depth = single(dice.range(0.05, 0.11));
        for k in 0..6 {
            let wide = super::plane::grown(&whole, 0.01 * f64::from(k));
            let moved: Vec<Point> = wide.iter().map(|p| [p[0] + fall[0], p[1] + fall[1]]).collect();
            let mask = canvas.mask(&[to_picture(&moved)]);
            canvas.fill(&mask, depth, |_, _, _| [0.1; 3]);
        }
    }
    if sheet.edge == CardEdge::WhiteHairline {
        // A sixth of a point outside the card, grey.
        let mask = canvas.mask(&[to_picture(&super::plane::grown(&whole, 0.008))]);
        canvas.fill(&mask, 1.0, |_, _, _| [0.72; 3]);
    }
    let mask = canvas.mask(&[to_picture(&whole)]);
    canvas.fill(&mask, 1.0, |_, _, _| sheet.base);
}

/// Paints filled shapes bottom up, each over what lies below.
fn paint_fills(
    dice: &mut Dice,
    canvas: &mut Canvas,
    plan: &Plan,
    sheet: &Sheet,
    project: &dyn Fn(Point) -> Point,
) {
    let any_fill =
        sheet.parts.iter().any(|part| part.fill.is_some() && (plan.filled || !part.shape.is_mark()));
    if !any_fill {
        return;
    }
    let shadow = plan.filled && dice.chance(0.4);
    let fall = [dice.range(0.01, 0.03), dice.range(0.015, 0.04)];
    for (index, part) in sheet.parts.iter().enumerate() {
        if part.shape.is_mark() && !plan.filled {
            continue; // of ink, not of paper
        }
        let outline = &sheet.drawn[index].outline;
        let on_card = clipped(outline, [0.0, 0.0], [plan.card.width, plan.card.height]);
        if on_card.len() < 3 {
            continue;
        }
        let to_picture = |points: &[Point]| -> Vec<Point> {
            dense(&closed(points), 0.2).iter().map(|&p| project(p)).collect()
        };
        if shadow {
            for k in 0..4 {
                let wide = super::plane::grown(&on_card, 0.008 * f64::from(k));
                let moved: Vec<Point> = wide.iter().map(|p| [p[0] + fall[0], p[1] + fall[1]]).collect();
                let held = clipped(&moved, [0.0, 0.0], [plan.card.width, plan.card.height]);
                let mask = canvas.mask(&[to_picture(&held)]);
                canvas.fill(&mask, 0.1, |_, _, _| [0.05; 3]);
            }
        }
        let mask = canvas.mask(&[to_picture(&on_card)]);
        // A shape without a fill lies over a filled one as plain paper.
        let hand_made = plan.tool != Tool::Print;
        match part.fill {
            Some(fill) => {
                canvas.fill(&mask, 1.0, |_, _, _| fill);
                if let (Some(pattern), true) = (part.pattern, plan.filled) {
                    let second = if dice.chance(0.5) {
                        blend(fill, [1.0; 3], 0.75)
                    } else {
                        blend(fill, [0.1; 3], 0.55)
                    };
                    for area in pattern_areas(dice, part, pattern) {
                        let pieces: Vec<Vec<Point>> =
                            area.iter().map(|polygon| to_picture(polygon)).collect();
                        let only = product(&mask, &canvas.mask(&pieces));
                        canvas.fill(&only, if pattern == Pattern::Gingham { 0.5 } else { 1.0 }, |_, _, _| {
                            second
                        });
                    }
                }
            }
            None if hand_made => {}
            None => {
                let lower = sheet.parts[..index].iter().any(|other| other.fill.is_some());
                if lower {
                    canvas.fill(&mask, 1.0, |_, _, _| [0.95; 3]);
                }
            }
        }
    }
}

/// The coverage where both masks cover.
fn product(a: &Mask, b: &Mask) -> Mask {
    let mut cover = vec![0.0; a.cover.len()];
    for row in 0..a.height {
        for column in 0..a.width {
            let (x, y) = (a.left + column, a.top + row);
            if x >= b.left && y >= b.top && x < b.left + b.width && y < b.top + b.height {
                cover[row * a.width + column] =
                    a.cover[row * a.width + column] * b.cover[(y - b.top) * b.width + x - b.left].abs();
            }
        }
    }
    Mask { left: a.left, top: a.top, width: a.width, height: a.height, cover }
}

/// Areas of a printed pattern, in card inches: one list per layer.
fn pattern_areas(dice: &mut Dice, part: &Part, pattern: Pattern) -> Vec<Vec<Vec<Point>>> {
    let (low, high) = bounds(&part.outline());
    let step = dice.range(0.12, 0.26);
    let bands = |upright: bool| {
        let (from, to) = if upright { (low[0], high[0]) } else { (low[1], high[1]) };
        let mut at = from + step * 0.25;
        let mut list = Vec::new();
        while at < to {
            let end = (at + step / 2.0).min(to);
            list.push(if upright {
                vec![[at, low[1]], [end, low[1]], [end, high[1]], [at, high[1]]]
            } else {
                vec![[low[0], at], [high[0], at], [high[0], end], [low[0], end]]
            });
            at += step;
        }
        list
    };
    match pattern {
        Pattern::Stripes | Pattern::Hatching => vec![bands(dice.chance(0.5))],
        Pattern::Gingham => vec![bands(true), bands(false)],
        Pattern::Dots => {
            let mut dots = Vec::new();
            let (mut y, mut odd) = (low[1] + step / 2.0, false);
            while y < high[1] {
                let mut x = low[0] + step * if odd { 1.0 } else { 0.5 };
                while x < high[0] {
                    dots.push(
                        (0..16)
                            .map(|k| {
                                let angle = f64::from(k) / 16.0 * std::f64::consts::TAU;
                                [x + step * 0.22 * angle.cos(), y + step * 0.22 * angle.sin()]
                            })
                            .collect(),
                    );
                    x += step;
                }
                y += step * 0.87;
                odd = !odd;
            }
            vec![dots]
        }
    }
}

/// Light, things in the way, lens and hand.
fn take(
    dice: &mut Dice,
    order: &Order,
    plan: &Plan,
    canvas: &mut Canvas,
    camera: &Camera,
    page: &Page,
    sheets: &[Sheet],
) {
    if plan.medium == Medium::Screen {
        return;
    }
    let size = [canvas.width as f64, canvas.height as f64];
    let long = size[0].max(size[1]);
    let hard = |word: &str| plan.effects.contains(&word);
    if hard("coffee") {
        coffee(dice, canvas, camera, page);
    }
    if hard("crease") {
        crease(dice, canvas, camera, page);
    }
    if plan.medium == Medium::Scan {
        let white = single(dice.range(0.98, 1.03));
        let light = Light {
            tint: [white; 3],
            slope: [dice.range(-0.02, 0.02), 0.0],
            vignette: 0.0,
            shadows: Vec::new(),
            glare: Vec::new(),
        };
        shine(canvas, &light);
        defocus(canvas, plan.defocus);
        return;
    }
    if hard("finger") {
        finger(dice, canvas, camera, plan, &sheets[0]);
    }
    // Daylight and lamps lie close to white more often than far from it.
    let warm = dice.steady(0.5);
    let strong = if order.easy { 0.06 } else { 0.16 };
    let bright = dice.range(if order.easy { 0.82 } else { 0.64 }, 0.93);
    let tint = [bright * (1.0 + strong * warm), bright, bright * (1.0 - strong * warm)].map(single);
    let lean = if order.easy { 0.12 } else { 0.28 };
    let mut shadows = Vec::new();
    if !order.easy && dice.chance(0.35) {
        shadows.push(cast_shadow(dice, size));
    }
    let mut glare = Vec::new();
    if hard("glare") {
        // A lamp's reflection: a few spots that run into each other.
        let on = [plan.card.width * dice.range(0.1, 0.9), plan.card.height * dice.range(0.1, 0.9)];
        let strength = dice.range(0.4, 0.9);
        for _ in 0..dice.int(2, 5) {
            let at = [on[0] + dice.steady(0.35), on[1] + dice.steady(0.2)];
            let radius = long * dice.range(0.025, 0.07);
            glare.push((camera.project(sheets[0].to_page(at)), radius, strength * dice.range(0.5, 1.0)));
        }
    }
    let light = Light {
        tint,
        slope: [dice.range(-lean, lean), dice.range(-lean, lean)],
        vignette: dice.range(0.02, if order.easy { 0.15 } else { 0.3 }),
        shadows,
        glare,
    };
    shine(canvas, &light);
    defocus(canvas, plan.defocus);
    if hard("motion") || (!order.easy && order.profile != Profile::HardPhoto && dice.chance(0.12)) {
        shake(canvas, long / 1600.0 * dice.range(2.0, 6.0), dice.range(0.0, 180.0));
    }
}

/// The shadow of a head or a phone with an arm: outline, softness, depth.
fn cast_shadow(dice: &mut Dice, size: Point) -> (Vec<Point>, f64, f64) {
    let long = size[0].max(size[1]);
    // From one side of the picture inwards.
    let side = dice.index(4);
    let along = dice.range(0.15, 0.85);
    let at = match side {
        0 => [size[0] * along, 0.0],
        1 => [size[0], size[1] * along],
        2 => [size[0] * along, size[1]],
        _ => [0.0, size[1] * along],
    };
    let (rx, ry) = (long * dice.range(0.1, 0.24), long * dice.range(0.12, 0.28));
    let turn = dice.range(0.0, 360.0);
    let seed = dice.seed();
    let outline = (0..28)
        .map(|k| {
            let angle = f64::from(k) / 28.0 * std::f64::consts::TAU;
            let lump = 1.0 + 0.25 * noise(seed, angle.cos() * 1.5, angle.sin() * 1.5);
            turned([at[0] + rx * lump * angle.cos(), at[1] + ry * lump * angle.sin()], at, turn)
        })
        .collect();
    (outline, long * dice.range(0.006, 0.03), dice.range(0.15, 0.42))
}

/// A finger from the picture's edge over a corner of the card.
fn finger(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, plan: &Plan, sheet: &Sheet) {
    let corner = dice.index(4);
    let outline = plan.card.outline();
    let middle = [plan.card.width / 2.0, plan.card.height / 2.0];
    let tip_card = super::plane::between(outline[corner], middle, dice.range(0.02, 0.16));
    let tip = camera.project(sheet.to_page(tip_card));
    let from_middle = camera.project(sheet.to_page(middle));
    let per_inch = camera.scale(sheet.to_page(tip_card));
    let radius = 0.33 * per_inch; // a finger is about two thirds of an inch wide
    let away = distance(from_middle, tip).max(1.0);
    let way = turned(
        [(tip[0] - from_middle[0]) / away, (tip[1] - from_middle[1]) / away],
        [0.0, 0.0],
        dice.range(-20.0, 20.0),
    );
    let skin: Colour =
        *dice.pick(&[[0.86, 0.68, 0.58], [0.72, 0.52, 0.41], [0.48, 0.32, 0.24], [0.93, 0.77, 0.68]]);
    let root = [tip[0] + way[0] * 12.0 * radius, tip[1] + way[1] * 12.0 * radius];
    let side = [-way[1], way[0]];
    let mut shape: Vec<Point> = (0..=12)
        .map(|k| {
            let angle = (f64::from(k) / 12.0 - 0.5) * std::f64::consts::PI;
            let (s, c) = angle.sin_cos();
            [
                tip[0] + radius * (side[0] * s - way[0] * c) + way[0] * radius,
                tip[1] + radius * (side[1] * s - way[1] * c) + way[1] * radius,
            ]
        })
        .collect();
    shape.push([root[0] + side[0] * radius * 1.25, root[1] + side[1] * radius * 1.25]);
    shape.push([root[0] - side[0] * radius * 1.25, root[1] - side[1] * radius * 1.25]);
    for k in 0..5 {
        let shadow: Vec<Point> = super::plane::grown(&shape, f64::from(k) * radius * 0.06)
            .iter()
            .map(|p| [p[0] + radius * 0.12, p[1] + radius * 0.2])
            .collect();
        let mask = canvas.mask(&[shadow]);
        canvas.fill(&mask, 0.09, |_, _, _| [0.05; 3]);
    }
    let seed = dice.seed();
    let mask = canvas.mask(&[shape]);
    canvas.fill(&mask, 1.0, |x, y, _| {
        // Round: darker towards its sides.
        let p = [x as f64 - tip[0], y as f64 - tip[1]];
        let off = ((p[0] * side[0] + p[1] * side[1]) / (radius * 1.25)).clamp(-1.0, 1.0);
        let shade =
            (1.0 - 0.45 * off * off) * (1.0 + 0.04 * noise(seed, p[0] / radius * 5.0, p[1] / radius * 5.0));
        skin.map(|c| c * single(shade))
    });
    // The nail.
    let nail: Vec<Point> = (0..24)
        .map(|k| {
            let angle = f64::from(k) / 24.0 * std::f64::consts::TAU;
            let (u, v) = (0.55 * radius * angle.cos(), 0.62 * radius * angle.sin());
            let at = [tip[0] + way[0] * radius * 0.75, tip[1] + way[1] * radius * 0.75];
            [at[0] + side[0] * u + way[0] * v, at[1] + side[1] * u + way[1] * v]
        })
        .collect();
    let mask = canvas.mask(&[nail]);
    canvas.fill(&mask, 0.35, |_, _, _| [0.98, 0.86, 0.82]);
}

/// A fold across the page: one half darker, a bright and a dark line.
fn crease(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, page: &Page) {
    let at = dice.range(0.3, 0.7);
    let slant = dice.range(-0.08, 0.08);
    let (a, b) = if dice.chance(0.5) {
        ([page.width * at, 0.0], [page.width * (at + slant), page.height])
    } else {
        ([0.0, page.height * at], [page.width, page.height * (at + slant)])
    };
    let corner = [page.width, page.height];
    let other = if a[1] == 0.0 { [page.width, 0.0] } else { [0.0, page.height] };
    let half: Vec<Point> = dense(&[a, b, corner, other, a], 0.4).iter().map(|&p| camera.project(p)).collect();
    let mask = canvas.mask(&[half]);
    canvas.fill(&mask, single(dice.range(0.05, 0.14)), |_, _, _| [0.1; 3]);
    for (aside, colour) in [(-0.012, [1.0; 3]), (0.012, [0.35; 3])] {
        let mut ink = Ink::new(canvas);
        let touches: Vec<Touch> = dense(&[a, b], 0.2)
            .iter()
            .map(|&p| Touch {
                at: camera.project([p[0] + aside, p[1] + aside]),
                half_px: 0.012 * camera.scale(p),
                strength: 0.35,
            })
            .collect();
        ink.stroke(&touches);
        canvas.ink(&ink, colour, |_, _, cover| cover);
    }
}

/// The ring of a cup.
fn coffee(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, page: &Page) {
    let middle = [page.width * dice.range(0.3, 0.8), page.height * dice.range(0.3, 0.8)];
    let radius = dice.range(1.1, 1.5);
    let seed = dice.seed();
    let mut ink = Ink::new(canvas);
    let touches: Vec<Touch> = (0..=120)
        .map(|k| {
            let angle = f64::from(k) / 120.0 * std::f64::consts::TAU;
            let p = [middle[0] + radius * angle.cos(), middle[1] + radius * angle.sin()];
            let wet = 0.5 + 0.5 * noise(seed, angle.cos() * 2.0, angle.sin() * 2.0);
            Touch {
                at: camera.project(p),
                half_px: (0.02 + 0.04 * wet) * camera.scale(p),
                strength: 0.15 + 0.35 * wet,
            }
        })
        .collect();
    ink.stroke(&touches);
    canvas.ink(&ink, [0.5, 0.34, 0.2], |_, _, cover| cover);
}

/// The file's bytes: pixels turned as the EXIF flag undoes, and the flag.
fn encode(plan: &Plan, bytes: &[u8], size: [usize; 2]) -> (Vec<u8>, &'static str) {
    let side = |v: usize| u32::try_from(v).expect("a picture's side fits 32 bits");
    let upright = image::RgbImage::from_raw(side(size[0]), side(size[1]), bytes.to_vec())
        .expect("three bytes were written for each pixel");
    // Flag 6 says "turn a quarter clockwise to see it": store it turned back.
    let stored = match plan.exif {
        3 => image::imageops::rotate180(&upright),
        6 => image::imageops::rotate270(&upright),
        8 => image::imageops::rotate90(&upright),
        _ => upright,
    };
    let mut file = Vec::new();
    let (width, height) = stored.dimensions();
    if let Some(quality) = plan.jpeg_quality {
        let mut encoder = codecs::jpeg::JpegEncoder::new_with_quality(&mut file, quality);
        encoder.set_exif_metadata(exif(plan.exif)).expect("a JPEG holds EXIF");
        encoder.write_image(&stored, width, height, ExtendedColorType::Rgb8).expect("memory takes any file");
        (file, "jpg")
    } else {
        codecs::png::PngEncoder::new(&mut file)
            .write_image(&stored, width, height, ExtendedColorType::Rgb8)
            .expect("memory takes any file");
        (file, "png")
    }
}

/// An EXIF block with nothing but the orientation: a TIFF header (TIFF 6.0)
/// and one directory entry, tag 0x0112 of type SHORT.
fn exif(orientation: u8) -> Vec<u8> {
    let mut block = b"II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0".to_vec();
    block.extend([orientation, 0, 0, 0, 0, 0, 0, 0]);
    block
}

/// The exact answer of one layout.
fn answer(plan: &Plan, sheet: &Sheet, boxes: Vec<Vec<Point>>, camera: &Camera) -> TrueLayout {
    let card = &plan.card;
    let project = |p: Point| camera.project(sheet.to_page(p));
    let px = |points: &[Point], places: i32| -> Vec<Point> {
        let projected: Vec<Point> = points.iter().map(|&p| project(p)).collect();
        rounded_points(&projected, places)
    };
    let corners = px(&card.outline(), 2);
    let elements: Vec<TrueElement> = sheet
        .parts
        .iter()
        .enumerate()
        .map(|(index, part)| {
            let frame = part.frame;
            let drawn = sheet.drawn[index].frame;
            let off = rounded(off_card(part, card), 3);
            TrueElement {
                shape: part.shape.word(),
                x: frame.x,
                y: frame.y,
                width: frame.width,
                height: frame.height,
                rotation: part.rotation,
                role: part.role,
                occlusion: rounded(hidden_share(&sheet.parts, index, card), 3),
                drawn: Drawn {
                    x: rounded(drawn.x, 4),
                    y: rounded(drawn.y, 4),
                    width: rounded(drawn.width, 4),
                    height: rounded(drawn.height, 4),
                },
                outline_px: px(&part.outline(), 1),
                mat: part.mat,
                group: part.group,
                corner_radius: match part.shape {
                    Shape::Rectangle { corner_radius } if corner_radius > 0.0 => Some(corner_radius),
                    _ => None,
                },
                tail: if let Shape::Banner { tail } = part.shape { Some(tail.word()) } else { None },
                kind: if let Shape::Mark { kind } = part.shape { Some(kind.word()) } else { None },
                off_card: (off > 0.0).then_some(off),
                fill: if plan.filled { part.fill.map(hex) } else { None },
                pattern: part.pattern.map(Pattern::word),
                outlined: plan.filled.then_some(part.outlined),
            }
        })
        .collect();
    let marks = sheet
        .parts
        .iter()
        .filter_map(|part| match part.shape {
            Shape::Mark { kind } => {
                let at = part.frame.centre();
                Some(TrueMark { kind: kind.word(), x: at[0], y: at[1] })
            }
            _ => None,
        })
        .collect();
    let labels = sheet
        .labels
        .iter()
        .zip(boxes)
        .map(|(label, corners)| TrueLabel {
            text: label.text.clone(),
            kind: label.kind,
            element: label.element,
            leader: false,
            dimension_line: !label.lines.is_empty(),
            box_px: rounded_points(&corners, 1),
        })
        .collect();
    TrueLayout {
        unit: "in",
        card: TrueCard { name: card.name, width: card.width, height: card.height },
        orient: card.orient(),
        drawn_scale: sheet.scale,
        edge_sd_in: rounded(plan.hand.sd, 4),
        card_edge: sheet.edge.word(),
        elements,
        marks,
        labels,
        capture: TrueCapture { card_corners_px: corners.clone() },
        card_corners_px: corners,
    }
}

#[cfg(test)]
mod tests {
    use layout::{Layout, LayoutJson};
    use serde_json::{Value, json};

    use super::*;

    fn small(profile: Profile, seed: u64, number: u64) -> Order {
        Order { long_side: Some(900), ..Order::new(profile, seed, number) }
    }

    fn upright(picture: &Picture) -> image::GrayImage {
        let stored = image::load_from_memory(&picture.bytes).unwrap().to_luma8();
        match picture.truth.exif_orientation {
            3 => image::imageops::rotate180(&stored),
            6 => image::imageops::rotate90(&stored),
            8 => image::imageops::rotate270(&stored),
            _ => stored,
        }
    }

    /// The darkest of the pixels within `reach` of a point.
    fn darkest(picture: &image::GrayImage, at: Point, reach: i32) -> u8 {
        let mut dark = 255;
        for dy in -reach..=reach {
            for dx in -reach..=reach {
                let near = [at[0] + f64::from(dx), at[1] + f64::from(dy)];
                if near[0] >= 0.0 && near[1] >= 0.0 {
                    let (x, y) = (
                        super::super::canvas::pixel(near[0], 9000),
                        super::super::canvas::pixel(near[1], 9000),
                    );
                    if let (Ok(x), Ok(y)) = (u32::try_from(x), u32::try_from(y))
                        && x < picture.width()
                        && y < picture.height()
                    {
                        dark = dark.min(picture.get_pixel(x, y)[0]);
                    }
                }
            }
        }
        dark
    }

    /// Share of an outline's points on which the picture is darker than a
    /// few pixels to both sides of it.
    fn inked(picture: &image::GrayImage, outline: &[Point]) -> f64 {
        let line = dense(&closed(outline), 4.0);
        let hits = line
            .windows(2)
            .filter(|pair| {
                let length = distance(pair[0], pair[1]).max(1e-9);
                let normal = [(pair[1][1] - pair[0][1]) / length, (pair[0][0] - pair[1][0]) / length];
                let middle = super::super::plane::between(pair[0], pair[1], 0.5);
                let beside = |way: f64| [middle[0] + way * normal[0], middle[1] + way * normal[1]];
                let paper = darkest(picture, beside(5.0), 0).max(darkest(picture, beside(-5.0), 0));
                f64::from(darkest(picture, middle, 1)) < f64::from(paper) - 25.0
            })
            .count();
        hits as f64 / (line.len() - 1).max(1) as f64
    }

    #[test]
    fn printed_lines_lie_where_the_answer_says() {
        for number in 1..=4 {
            for profile in [Profile::PrintScan, Profile::PrintPhoto] {
                let order = Order { easy: true, long_side: Some(1600), ..Order::new(profile, 11, number) };
                let made = picture(&order);
                let seen = upright(&made);
                for layout in &made.truth.layouts {
                    let card = inked(&seen, &layout.card_corners_px);
                    assert!(card > 0.9, "{profile:?} {number}: card outline inked to {card}");
                    for element in layout.elements.iter().filter(|element| element.occlusion == 0.0) {
                        let share = inked(&seen, &element.outline_px);
                        assert!(share > 0.75, "{profile:?} {number}: {} inked to {share}", element.shape);
                    }
                }
            }
        }
    }

    #[test]
    fn an_outline_moved_by_a_few_pixels_is_not_on_ink() {
        let order = Order { easy: true, long_side: Some(1600), ..Order::new(Profile::PrintScan, 11, 1) };
        let made = picture(&order);
        let moved: Vec<Point> =
            made.truth.layouts[0].card_corners_px.iter().map(|p| [p[0] + 9.0, p[1] + 9.0]).collect();
        assert!(inked(&upright(&made), &moved) < 0.3);
    }

    #[test]
    fn the_same_seed_gives_the_same_bytes_and_another_seed_others() {
        for profile in Profile::ALL {
            let (first, again) = (picture(&small(profile, 5, 2)), picture(&small(profile, 5, 2)));
            assert!(first.bytes == again.bytes, "{profile:?}");
            assert_eq!(
                serde_json::to_string(&first.truth).unwrap(),
                serde_json::to_string(&again.truth).unwrap()
            );
            assert!(first.bytes != picture(&small(profile, 6, 2)).bytes, "{profile:?}");
        }
    }

    /// The record that an answer describes.
    fn record(layout: &Value) -> LayoutJson {
        let elements: Vec<Value> = layout["elements"]
            .as_array()
            .unwrap()
            .iter()
            .enumerate()
            .map(|(index, element)| {
                let role = match element["role"].as_str().unwrap() {
                    "background-mat" | "mat" => "mat",
                    "square" => "panel",
                    "banner" => "sentiment",
                    "mark" => "embellishment",
                    role => role,
                };
                let ends = match element.get("tail").and_then(Value::as_str) {
                    Some("left" | "up") => json!({"left": "fishtail", "right": "straight"}),
                    Some(_) => json!({"left": "straight", "right": "fishtail"}),
                    None => Value::Null,
                };
                let mut out = json!({
                    "id": index + 1, "shape": element["shape"], "x": element["x"], "y": element["y"],
                    "width": element["width"], "height": element["height"], "rotation": element["rotation"],
                    "ends": ends, "role": role, "outline_px": element["outline_px"],
                });
                for field in ["corner_radius", "kind"] {
                    if let Some(value) = element.get(field) {
                        out[field] = value.clone();
                    }
                }
                // A mark's size is nominal: the record wants it in eighths.
                if element["shape"] == "mark" {
                    out["width"] = json!(0.25);
                    out["height"] = json!(0.25);
                }
                out
            })
            .collect();
        serde_json::from_value(json!({
            "schema": 1, "unit": "in", "card": layout["card"], "elements": elements,
            "capture": {"photo": "", "card_corners_px": layout["card_corners_px"]},
        }))
        .unwrap()
    }

    #[test]
    fn every_answer_is_a_valid_record() {
        for profile in Profile::ALL {
            for number in 1..=6 {
                let made = picture(&Order { long_side: Some(400), ..Order::new(profile, 3, number) });
                let truth = serde_json::to_value(&made.truth).unwrap();
                for layout in truth["layouts"].as_array().unwrap() {
                    if let Err(faults) = Layout::try_from(record(layout)) {
                        panic!("{profile:?} {number}: {faults}");
                    }
                    assert!(layout["elements"].as_array().unwrap().len() >= 2);
                }
            }
        }
    }

    #[test]
    fn all_cards_lie_in_the_picture() {
        for profile in Profile::ALL {
            for number in 1..=6 {
                let made = picture(&Order { long_side: Some(400), ..Order::new(profile, 4, number) });
                let size = [made.truth.width_px as f64, made.truth.height_px as f64];
                for corner in made.truth.layouts.iter().flat_map(|layout| &layout.card_corners_px) {
                    let inside = (0..2).all(|axis| corner[axis] > 0.0 && corner[axis] < size[axis]);
                    assert!(inside, "{profile:?} {number}: {corner:?} of {size:?}");
                }
            }
        }
    }

    #[test]
    fn the_exif_flag_turns_the_stored_picture_upright() {
        for flag in [1, 3, 6, 8] {
            let order = Order { exif: Some(flag), easy: true, ..small(Profile::PrintPhoto, 2, 3) };
            let made = picture(&order);
            let seen = upright(&made);
            let size = (made.truth.width_px as u64, made.truth.height_px as u64);
            assert_eq!((u64::from(seen.width()), u64::from(seen.height())), size);
            assert!(inked(&seen, &made.truth.layouts[0].card_corners_px) > 0.85, "flag {flag}");
            let mut decoder = image::ImageReader::new(std::io::Cursor::new(&made.bytes))
                .with_guessed_format()
                .unwrap()
                .into_decoder()
                .unwrap();
            let turn = image::ImageDecoder::orientation(&mut decoder).unwrap();
            assert_eq!(turn.to_exif(), flag);
        }
    }
}

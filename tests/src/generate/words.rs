//! What is written in and around a card: sentiments, sizes with or without an
//! arrow, the title, a line with the card's measure.

use super::canvas::quadratic;
use super::compose::{Card, Frame, Part, Shape};
use super::dice::Dice;
use super::plane::{bounds, dense, distance, inside, turned};
use super::profile::{Order, Plan, Tool};
use super::sheet::{Label, Sheet};
use super::text::{Face, inches, width as text_width};

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

/// What is written in and around a card.
pub(super) fn write(dice: &mut Dice, order: &Order, plan: &Plan, sheet: &Sheet) -> Vec<Label> {
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
    if plan.count == 1 && !plan.wishes.easy && dice.chance(0.15) {
        leader(dice, plan, face, size, sheet, &mut labels);
    }
    labels
}

pub(super) fn size_label(dice: &mut Dice, part: &Part) -> String {
    let mark = if dice.chance(0.3) { "\"" } else { "" };
    let (w, h) = (inches(part.frame.width), inches(part.frame.height));
    match part.shape {
        Shape::Circle => format!("{w}{mark} circle"),
        Shape::Oval => format!("{w}{mark} x {h}{mark} oval"),
        _ => format!("{w}{mark} x {h}{mark}"),
    }
}

pub(super) fn face_of(plan: &Plan, order: &Order) -> Face {
    match plan.tool {
        Tool::Print => Face::Inter,
        // One hand throughout a picture.
        _ if (order.seed ^ order.number).is_multiple_of(2) => Face::Caveat,
        _ => Face::PatrickHand,
    }
}

/// A size below the card with an arrow to the shape it belongs to.
pub(super) fn leader(
    dice: &mut Dice,
    plan: &Plan,
    face: Face,
    size: f64,
    sheet: &Sheet,
    labels: &mut Vec<Label>,
) {
    let card = &plan.card;
    if labels.iter().any(|label| label.element.is_none() && label.middle[1] > card.height) {
        return; // the place is taken
    }
    let index = dice.index(sheet.parts.len());
    let part = &sheet.parts[index];
    let tip = part.frame.centre();
    let hidden = sheet.drawn[index + 1..].iter().any(|other| inside(&other.outline, tip));
    if part.shape.is_mark() || hidden || labels.iter().any(|label| label.element == Some(index)) {
        return;
    }
    let text = size_label(dice, part);
    let half = text_width(face, &text) * size / 2.0;
    let middle = [
        (tip[0] + dice.range(-0.6, 0.6)).clamp(half, (card.width - half).max(half)),
        card.height + size * 1.2,
    ];
    let start = [middle[0], middle[1] - size * 0.55];
    let bend = [f64::midpoint(start[0], tip[0]) + dice.steady(0.12), f64::midpoint(start[1], tip[1])];
    let mut shaft = vec![start];
    shaft.extend(quadratic(start, bend, tip, 20));
    let before = shaft[shaft.len() - 3];
    let away = distance(before, tip).max(1e-6);
    let back = [(before[0] - tip[0]) / away * 0.11, (before[1] - tip[1]) / away * 0.11];
    let barb = |angle: f64| {
        let p = turned(back, [0.0, 0.0], angle);
        [tip[0] + p[0], tip[1] + p[1]]
    };
    let lines = vec![dense(&shaft, 0.04), dense(&[barb(28.0), tip, barb(-28.0)], 0.03)];
    labels.push(Label {
        text,
        kind: "size",
        element: Some(index),
        middle,
        height: size,
        turn_deg: 0.0,
        lines,
    });
}

/// A line with two arrowheads beside the card, its length written at it.
pub(super) fn dimension(
    dice: &mut Dice,
    plan: &Plan,
    face: Face,
    size: f64,
    card: &Card,
    labels: &mut Vec<Label>,
) {
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

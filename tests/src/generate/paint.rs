//! Printed colour: cards, papers and their patterns, painted bottom up, each
//! over what lies below.

use super::canvas::{Canvas, Mask, blend, single};
use super::compose::{Part, Pattern};
use super::dice::Dice;
use super::plane::{Point, bounds, clipped, closed, dense};
use super::profile::{Plan, Tool};
use super::sheet::{CardEdge, Sheet};

/// Paints the card itself below printed colour.
pub(super) fn paint_card(
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
pub(super) fn paint_fills(
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
pub(super) fn product(a: &Mask, b: &Mask) -> Mask {
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
pub(super) fn pattern_areas(dice: &mut Dice, part: &Part, pattern: Pattern) -> Vec<Vec<Vec<Point>>> {
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

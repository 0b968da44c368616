//! Puts a layout's lines on the picture: which parts of each stroke are seen,
//! how wide and firm the pen is along it, what the paper takes of the ink.

use super::camera::Camera;
use super::canvas::{Canvas, Colour, Ink, Touch, single};
use super::compose::{Part, Pattern, compose};
use super::dice::{Dice, noise};
use super::hand::{draw, shown};
use super::paint::{paint_card, paint_fills};
use super::plane::{Point, bounds, dense, distance, turned};
use super::profile::{Order, Plan, Tool};
use super::sheet::{CardEdge, Sheet};
use super::text::{Face, set};

/// The pen in the hand: half its width in inches on the page, its colour, and
/// the writing that goes with it.
#[derive(Clone, Copy)]
pub(super) struct Held {
    pub(super) half_in: f64,
    pub(super) colour: Colour,
    pub(super) face: Face,
}

/// Half the line's width on the page, inches.
pub(super) fn nib(dice: &mut Dice, plan: &Plan, order: &Order) -> f64 {
    match plan.tool {
        // Half a point to a point and a half.
        Tool::Print => dice.range(0.0045, 0.010),
        // 0.5 to 0.8 mm pens, 0.5 to 0.7 mm pencils, 1 to 2 mm markers.
        Tool::Pen => dice.range(0.010, 0.016),
        Tool::Pencil => dice.range(0.009, if order.easy { 0.016 } else { 0.014 }),
        Tool::Marker => dice.range(0.02, 0.036),
    }
}

pub(super) fn ink_colour(dice: &mut Dice, plan: &Plan) -> Colour {
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

pub(super) fn firmness(dice: &mut Dice, plan: &Plan) -> f64 {
    match plan.tool {
        Tool::Print => 1.0,
        Tool::Pen => dice.range(0.85, 1.0),
        Tool::Marker => dice.range(0.75, 0.95),
        Tool::Pencil if plan.wishes.easy => dice.range(0.65, 0.9),
        Tool::Pencil => dice.range(0.32, 0.78),
    }
}

/// What is left of another drawing: rubbed out here, or on the page's back.
pub(super) fn ghost(
    dice: &mut Dice,
    canvas: &mut Canvas,
    camera: &Camera,
    plan: &Plan,
    sheet: &Sheet,
    held: Held,
) {
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
pub(super) fn draw_sheet(
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
        let within = label.element.filter(|_| label.lines.is_empty());
        let under = within.and_then(|index| sheet.parts[index].fill).unwrap_or([1.0; 3]);
        let dark = plan.filled && under.iter().sum::<f32>() < 1.35;
        let on = if dark { &mut light_ink } else { &mut ink };
        on.area(&mask, single(pen.firm.max(0.6)));
        boxes.push(text.corners.iter().map(|&p| project(p)).collect());
    }
    lay_ink(dice, canvas, camera, sheet, plan, &ink, held.colour);
    canvas.ink(&light_ink, [0.97; 3], |_, _, cover| cover);
    boxes
}

pub(super) fn lay_ink(
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

/// A pen that leaves strokes of its own width and firmness.
pub(super) struct PenStroke {
    pub(super) half_in: f64,
    pub(super) tool: Tool,
    pub(super) seed: u64,
    pub(super) firm: f64,
    pub(super) count: f64,
}

impl PenStroke {
    /// Draws a stroke given in card inches.
    pub(super) fn lay(&mut self, ink: &mut Ink, camera: &Camera, sheet: &Sheet, stroke: &[Point]) {
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
pub(super) fn pattern_lines(dice: &mut Dice, part: &Part, pattern: Pattern, plan: &Plan) -> Vec<Vec<Point>> {
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

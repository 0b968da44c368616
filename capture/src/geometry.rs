//! Plane geometry that the stages share: homographies, quads, polygons.

/// A point or vector in the plane.
pub(crate) type Point = [f64; 2];

/// A projective map of the plane, rows of a 3 x 3 matrix.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Homography([[f64; 3]; 3]);

impl Homography {
    /// The map that takes four points to four others; `None` when three of
    /// either lie on a line.
    /// Method: the eight linear equations of the direct linear transform with
    /// the last entry fixed to 1 (Hartley and Zisserman, "Multiple View
    /// Geometry", 4.1), by Gaussian elimination with row pivots.
    pub fn between(from: [Point; 4], to: [Point; 4]) -> Option<Homography> {
        let mut m = [[0.0f64; 9]; 8];
        for i in 0..4 {
            let ([x, y], [u, v]) = (from[i], to[i]);
            m[2 * i] = [x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, u];
            m[2 * i + 1] = [0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y, v];
        }
        let size = m.iter().flatten().fold(0.0f64, |most, v| most.max(v.abs()));
        let h = solve(m, size * 1e-12)?;
        let map = Homography([[h[0], h[1], h[2]], [h[3], h[4], h[5]], [h[6], h[7], 1.0]]);
        map.0.iter().flatten().all(|v| v.is_finite()).then_some(map)
    }

    /// Where a point goes.
    pub fn apply(&self, [x, y]: Point) -> Point {
        let h = &self.0;
        let w = h[2][0] * x + h[2][1] * y + h[2][2];
        [(h[0][0] * x + h[0][1] * y + h[0][2]) / w, (h[1][0] * x + h[1][1] * y + h[1][2]) / w]
    }

    /// The rows of the matrix.
    pub fn rows(&self) -> [[f64; 3]; 3] {
        self.0
    }
}

/// The solution of N linear equations, each a row of N factors and its right
/// side (M is N + 1), by elimination with row pivots; `None` when a pivot is
/// below `least_pivot`.
pub(crate) fn solve<const N: usize, const M: usize>(
    mut m: [[f64; M]; N],
    least_pivot: f64,
) -> Option<[f64; N]> {
    for column in 0..N {
        let pivot = (column..N).max_by(|&a, &b| m[a][column].abs().total_cmp(&m[b][column].abs()))?;
        if m[pivot][column].abs() < least_pivot {
            return None;
        }
        m.swap(column, pivot);
        let top = m[column];
        for (row, line) in m.iter_mut().enumerate() {
            if row != column {
                let factor = line[column] / top[column];
                for (value, above) in line.iter_mut().zip(top).skip(column) {
                    *value -= factor * above;
                }
            }
        }
    }
    Some(std::array::from_fn(|i| m[i][M - 1] / m[i][i]))
}

/// Distance of two points.
pub(crate) fn distance(a: Point, b: Point) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Signed area of a polygon: positive when it runs clockwise on the screen.
pub(crate) fn area(polygon: &[Point]) -> f64 {
    let turn = |i: usize| {
        let (a, b) = (polygon[i], polygon[(i + 1) % polygon.len()]);
        a[0] * b[1] - b[0] * a[1]
    };
    0.5 * (0..polygon.len()).map(turn).sum::<f64>()
}

/// Whether a convex clockwise polygon holds a point, up to `slack` outside.
pub(crate) fn holds(polygon: &[Point], p: Point, slack: f64) -> bool {
    (0..polygon.len()).all(|i| {
        let (a, b) = (polygon[i], polygon[(i + 1) % polygon.len()]);
        let side = (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
        side >= -slack * distance(a, b)
    })
}

/// Whether four corners make a convex quad, clockwise on the screen.
pub(crate) fn convex(quad: &[Point; 4]) -> bool {
    (0..4).all(|i| {
        let (a, b, c) = (quad[i], quad[(i + 1) % 4], quad[(i + 2) % 4]);
        (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]) > 1e-9
    })
}

/// The part of one convex clockwise polygon inside another (Sutherland and
/// Hodgman, "Reentrant polygon clipping", 1974).
pub(crate) fn clip(subject: &[Point], window: &[Point]) -> Vec<Point> {
    let mut out = subject.to_vec();
    for i in 0..window.len() {
        let (a, b) = (window[i], window[(i + 1) % window.len()]);
        let side = |p: Point| (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
        let input = std::mem::take(&mut out);
        for j in 0..input.len() {
            let (p, q) = (input[j], input[(j + 1) % input.len()]);
            let (sp, sq) = (side(p), side(q));
            if sp >= 0.0 {
                out.push(p);
            }
            if (sp > 0.0 && sq < 0.0) || (sp < 0.0 && sq > 0.0) {
                let t = sp / (sp - sq);
                out.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
            }
        }
        if out.is_empty() {
            break;
        }
    }
    out
}

/// Intersection over union of two convex clockwise polygons.
pub(crate) fn iou(a: &[Point], b: &[Point]) -> f64 {
    let common = clip(a, b);
    let both = if common.len() > 2 { area(&common).max(0.0) } else { 0.0 };
    let either = area(a) + area(b) - both;
    if either > 0.0 { both / either } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A4 1/4 x 5 1/2 card to four pixels: exact fractions, on which two
    /// independent numeric libraries agree to 1e-13.
    #[test]
    fn the_worked_homography_comes_out() {
        let card = [[0.0, 0.0], [4.25, 0.0], [4.25, 5.5], [0.0, 5.5]];
        let photo = [[412.0, 300.0], [1583.0, 356.0], [1490.0, 1902.0], [336.0, 1770.0]];
        let map = Homography::between(card, photo).unwrap();
        let expected = [
            [256.878_927_190_017, -13.164_748_916_495_8, 412.0],
            [8.982_173_362_341_89, 270.714_918_451_252, 300.0],
            [-0.011_781_733_780_599_5, 0.001_944_740_780_827_49, 1.0],
        ];
        for (row, want) in map.rows().iter().zip(expected) {
            for (value, want) in row.iter().zip(want) {
                assert!((value - want).abs() < 1e-9 * want.abs().max(1.0), "{value} {want}");
            }
        }
        let centre = map.apply([2.125, 2.75]);
        assert!(distance(centre, [940.174_963_784_637, 1_084.913_072_340_43]) < 1e-9, "{centre:?}");
        assert!(distance(map.apply([1.0, 1.0]), [662.228_515_546_526, 585.456_220_558_067]) < 1e-9);
        let back = Homography::between(photo, card).unwrap().apply([1000.0, 1000.0]);
        assert!(distance(back, [2.325_007_47, 2.424_836_59]) < 1e-7, "{back:?}");
        // A check that needs no homography: the centre is where the diagonals cross.
        let cross = |a: Point, b: Point| a[0] * b[1] - a[1] * b[0];
        let [p, q, r, s] = photo;
        let (d1, d2) = ([r[0] - p[0], r[1] - p[1]], [s[0] - q[0], s[1] - q[1]]);
        let t = cross([q[0] - p[0], q[1] - p[1]], d2) / cross(d1, d2);
        assert!(distance(centre, [p[0] + t * d1[0], p[1] + t * d1[1]]) < 1e-9);
    }

    #[test]
    fn three_points_on_a_line_make_no_map() {
        let flat = [[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [0.0, 1.0]];
        assert_eq!(Homography::between(flat, [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]), None);
    }

    #[test]
    fn overlap_of_shifted_squares() {
        let square = |x: f64| [[x, 0.0], [x + 2.0, 0.0], [x + 2.0, 2.0], [x, 2.0]];
        assert!((iou(&square(0.0), &square(1.0)) - 1.0 / 3.0).abs() < 1e-12);
        assert!(iou(&square(0.0), &square(3.0)).abs() < 1e-12);
    }
}

//! Plane geometry on points, in whatever unit the caller uses.

/// A point or a vector.
pub(super) type Point = [f64; 2];

/// Whether two lengths are the same but for rounding.
pub(super) fn same(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9
}

pub(super) fn distance(a: Point, b: Point) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// The point at share `t` of the way from `a` to `b`.
pub(super) fn between(a: Point, b: Point, t: f64) -> Point {
    [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t]
}

/// A point turned clockwise (y down) about a centre.
pub(super) fn turned(p: Point, centre: Point, degrees: f64) -> Point {
    let (s, c) = degrees.to_radians().sin_cos();
    let (u, v) = (p[0] - centre[0], p[1] - centre[1]);
    [centre[0] + u * c - v * s, centre[1] + u * s + v * c]
}

/// Area of a polygon, positive when it runs clockwise on the screen.
pub(super) fn area(polygon: &[Point]) -> f64 {
    edges(polygon).map(|(a, b)| a[0] * b[1] - b[0] * a[1]).sum::<f64>() / 2.0
}

/// The sides of a closed polygon.
pub(super) fn edges(polygon: &[Point]) -> impl Iterator<Item = (Point, Point)> + '_ {
    (0..polygon.len()).map(|i| (polygon[i], polygon[(i + 1) % polygon.len()]))
}

/// Whether a point lies in a polygon (crossing number).
pub(super) fn inside(polygon: &[Point], p: Point) -> bool {
    edges(polygon)
        .filter(|(a, b)| {
            (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
        })
        .count()
        % 2
        == 1
}

/// Whether a point lies in a polygon, at least `depth` from its sides.
pub(super) fn deep_inside(polygon: &[Point], p: Point, depth: f64) -> bool {
    inside(polygon, p) && edges(polygon).all(|(a, b)| to_segment(p, a, b) >= depth)
}

/// Distance of a point from a segment.
pub(super) fn to_segment(p: Point, a: Point, b: Point) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let length = dx * dx + dy * dy;
    let t = if length > 0.0 { ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length } else { 0.0 };
    distance(p, between(a, b, t.clamp(0.0, 1.0)))
}

/// A polyline with points at most `step` apart; the old points stay in it.
pub(super) fn dense(line: &[Point], step: f64) -> Vec<Point> {
    let mut out = Vec::new();
    for pair in line.windows(2) {
        let parts = (distance(pair[0], pair[1]) / step).ceil().max(1.0);
        let mut k = 0.0;
        while k < parts {
            out.push(between(pair[0], pair[1], k / parts));
            k += 1.0;
        }
    }
    out.extend(line.last());
    out
}

/// A closed polygon as a polyline that comes back to its first point.
pub(super) fn closed(polygon: &[Point]) -> Vec<Point> {
    let mut line = polygon.to_vec();
    line.extend(polygon.first());
    line
}

/// The part of a polygon inside an upright box (Sutherland and Hodgman, 1974).
pub(super) fn clipped(polygon: &[Point], low: Point, high: Point) -> Vec<Point> {
    let mut current = polygon.to_vec();
    for axis in 0..2 {
        for (bound, sign) in [(low[axis], 1.0), (high[axis], -1.0)] {
            let depth = |p: Point| (p[axis] - bound) * sign;
            let mut next = Vec::with_capacity(current.len() + 4);
            for (a, b) in edges(&current) {
                if depth(a) >= 0.0 {
                    next.push(a);
                }
                if (depth(a) >= 0.0) != (depth(b) >= 0.0) {
                    next.push(between(a, b, depth(a) / (depth(a) - depth(b))));
                }
            }
            current = next;
        }
    }
    current
}

/// The upright box around points: its low and its high corner.
pub(super) fn bounds<'a>(points: impl IntoIterator<Item = &'a Point>) -> (Point, Point) {
    points.into_iter().fold(([f64::MAX; 2], [f64::MIN; 2]), |(low, high), p| {
        ([low[0].min(p[0]), low[1].min(p[1])], [high[0].max(p[0]), high[1].max(p[1])])
    })
}

/// The outline moved outwards (or inwards, below zero) from its centre of
/// gravity's side: each corner along the mean normal of its two sides.
pub(super) fn grown(polygon: &[Point], by: f64) -> Vec<Point> {
    let n = polygon.len();
    let way = if area(polygon) > 0.0 { by } else { -by };
    (0..n)
        .map(|i| {
            let (a, p, b) = (polygon[(i + n - 1) % n], polygon[i], polygon[(i + 1) % n]);
            let normal = |u: Point, v: Point| {
                let length = distance(u, v).max(1e-9);
                [(v[1] - u[1]) / length, (u[0] - v[0]) / length]
            };
            let (first, second) = (normal(a, p), normal(p, b));
            let sum = [first[0] + second[0], first[1] + second[1]];
            let square = (sum[0] * sum[0] + sum[1] * sum[1]).max(0.2);
            [p[0] + 2.0 * way * sum[0] / square, p[1] + 2.0 * way * sum[1] / square]
        })
        .collect()
}

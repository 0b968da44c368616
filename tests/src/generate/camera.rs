//! Where a point of the page lands in the picture: a pinhole camera over a
//! page that may curl, or the flat glass of a scanner.
//! Method: the 3 x 4 projection matrix (Hartley and Zisserman, "Multiple View
//! Geometry in Computer Vision", 2003, chapter 6), so truth is exact: outlines
//! go through the very map that the drawing goes through.

use super::plane::Point;

/// A view of a page. Page coordinates are inches on the page; picture
/// coordinates are pixels of the upright picture, (0, 0) the outer corner of
/// the first pixel.
#[derive(Clone, Debug)]
pub(super) struct Camera {
    /// Rows of the projection matrix: columns for x, y, height and one.
    rows: [[f64; 4]; 3],
    /// The page rises by `curl.rise` inches at `curl.reach` inches from its
    /// spine at `curl.spine`, along the axis `curl.axis`.
    curl: Curl,
}

/// How a page bends up from the desk.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Curl {
    /// 0: along x, 1: along y.
    pub(super) axis: usize,
    /// Where the page touches the desk, inches.
    pub(super) spine: f64,
    /// Distance over which it rises, inches; 0 for a flat page.
    pub(super) reach: f64,
    /// How far it rises there, inches.
    pub(super) rise: f64,
}

/// Where the camera is held.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pose {
    /// The page point that it looks at, inches.
    pub(super) target: Point,
    /// Angle between its axis and the page's normal, degrees.
    pub(super) tilt_deg: f64,
    /// Direction on the page in which it leans, degrees.
    pub(super) lean_deg: f64,
    /// Turn of the picture about its axis, degrees clockwise.
    pub(super) roll_deg: f64,
    /// Focal length over the picture's longer side; a phone's main camera
    /// (26 mm equivalent) has 0.72.
    pub(super) focal: f64,
}

impl Camera {
    /// A flatbed scanner: `dpi` pixels per inch, turned a little about the
    /// page's own origin.
    pub(super) fn scanner(dpi: f64, turn_deg: f64, origin_px: Point) -> Camera {
        let (s, c) = turn_deg.to_radians().sin_cos();
        Camera {
            rows: [
                [dpi * c, -dpi * s, 0.0, origin_px[0]],
                [dpi * s, dpi * c, 0.0, origin_px[1]],
                [0.0, 0.0, 0.0, 1.0],
            ],
            curl: Curl::default(),
        }
    }

    /// A camera held at `pose`, `size_px` wide and high, placed so that all
    /// of `subject` (page points) fits into `fill` of the picture, with the
    /// subject's middle moved off the picture's by `shift` (share of its size).
    pub(super) fn photo(
        pose: Pose,
        curl: Curl,
        size_px: Point,
        subject: &[Point],
        fill: f64,
        shift: Point,
    ) -> Camera {
        let (st, ct) = pose.tilt_deg.to_radians().sin_cos();
        let (sl, cl) = pose.lean_deg.to_radians().sin_cos();
        let (sr, cr) = pose.roll_deg.to_radians().sin_cos();
        // Lean: turn the page about the axis (-sl, cl, 0), then roll in the picture.
        let lean = [
            [cl * cl * ct + sl * sl, cl * sl * (ct - 1.0), -cl * st],
            [cl * sl * (ct - 1.0), sl * sl * ct + cl * cl, -sl * st],
            [cl * st, sl * st, ct],
        ];
        let roll = [[cr, -sr, 0.0], [sr, cr, 0.0], [0.0, 0.0, 1.0]];
        let mut turn = [[0.0; 3]; 3];
        for i in 0..3 {
            for j in 0..3 {
                turn[i][j] = (0..3).map(|k| roll[i][k] * lean[k][j]).sum();
            }
        }
        let focal_px = pose.focal * size_px[0].max(size_px[1]);
        let build = |distance_in: f64, centre_px: Point| {
            let at = pose.target;
            let moved = |i: usize| -(turn[i][0] * at[0] + turn[i][1] * at[1]);
            let z = [turn[2][0], turn[2][1], turn[2][2], moved(2) + distance_in];
            let row = |i: usize, centre: f64| {
                let own = [turn[i][0], turn[i][1], turn[i][2], moved(i)];
                std::array::from_fn(|k| focal_px * own[k] + centre * z[k])
            };
            // A rise towards the camera is a smaller depth.
            let mut rows = [row(0, centre_px[0]), row(1, centre_px[1]), z];
            for row in &mut rows {
                row[2] = -row[2];
            }
            Camera { rows, curl }
        };
        // Move away until the subject fits, by halving.
        let middle = [size_px[0] / 2.0, size_px[1] / 2.0];
        let spread = |camera: &Camera| {
            let points: Vec<Point> = subject.iter().map(|&p| camera.project(p)).collect();
            let (low, high) = super::plane::bounds(&points);
            let share = ((high[0] - low[0]) / size_px[0]).max((high[1] - low[1]) / size_px[1]);
            (share, [f64::midpoint(low[0], high[0]), f64::midpoint(low[1], high[1])])
        };
        let (mut near, mut far) = (2.0, 200.0);
        for _ in 0..50 {
            let distance = f64::midpoint(near, far);
            let camera = build(distance, middle);
            let behind = subject.iter().any(|&p| camera.depth(p) < 1.0);
            if behind || spread(&camera).0 > fill { near = distance } else { far = distance }
        }
        let (_, centre) = spread(&build(far, middle));
        let aim = |axis: usize| middle[axis] + (middle[axis] - centre[axis]) + shift[axis] * size_px[axis];
        build(far, [aim(0), aim(1)])
    }

    fn height(&self, p: Point) -> f64 {
        if self.curl.reach == 0.0 {
            return 0.0;
        }
        let t = (p[self.curl.axis] - self.curl.spine) / self.curl.reach;
        self.curl.rise * t * t
    }

    fn depth(&self, p: Point) -> f64 {
        self.homogeneous(p, self.height(p))[2]
    }

    fn homogeneous(&self, p: Point, height: f64) -> [f64; 3] {
        self.rows.map(|row| row[0] * p[0] + row[1] * p[1] + row[2] * height + row[3])
    }

    /// The picture point of a page point.
    pub(super) fn project(&self, p: Point) -> Point {
        let [x, y, w] = self.homogeneous(p, self.height(p));
        [x / w, y / w]
    }

    /// Pixels per page inch at a page point.
    pub(super) fn scale(&self, p: Point) -> f64 {
        const STEP: f64 = 0.01; // inches: far below any curl, far above rounding
        let at = self.project(p);
        let right = self.project([p[0] + STEP, p[1]]);
        let down = self.project([p[0], p[1] + STEP]);
        let (a, b) = ([right[0] - at[0], right[1] - at[1]], [down[0] - at[0], down[1] - at[1]]);
        (a[0] * b[1] - a[1] * b[0]).abs().sqrt() / STEP
    }

    /// The map from the picture back to the flat desk, as a 3 x 3 matrix.
    pub(super) fn to_desk(&self) -> [[f64; 3]; 3] {
        let m = self.rows.map(|row| [row[0], row[1], row[3]]);
        let minor = |r: usize, c: usize| {
            let (r1, r2) = ((r + 1) % 3, (r + 2) % 3);
            let (c1, c2) = ((c + 1) % 3, (c + 2) % 3);
            m[r1][c1] * m[r2][c2] - m[r1][c2] * m[r2][c1]
        };
        // The adjugate: the scale of a homogeneous matrix does not count.
        std::array::from_fn(|i| std::array::from_fn(|j| minor(j, i)))
    }
}

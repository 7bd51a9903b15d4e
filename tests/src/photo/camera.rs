//! A pinhole camera with one coefficient of radial distortion, over a plane in mm.

use crate::rng::Rng;
use trued::{Point, Vec2};

/// A camera that looks at the plate.
#[derive(Clone, Copy, Debug)]
pub struct Camera {
    /// Width and height of the picture, pixels.
    pub size: (usize, usize),
    /// Focal length, pixels.
    pub focal: f64,
    /// Radial displacement at the picture's corner, as a share of the distance from its middle.
    pub bend: f64,
    /// A second term of it, with the fourth power of the distance.
    pub bend_again: f64,
    /// Where its axis meets the picture, off the middle, pixels.
    pub off: Vec2,
    /// Rows: the picture's right, down and ahead, in plate coordinates (z up).
    turn: [[f64; 3]; 3],
    /// Where the camera is, mm.
    pub eye: [f64; 3],
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

/// How the camera is held.
#[derive(Clone, Copy, Debug)]
pub struct Pose {
    /// The point of the plate in the middle of the picture.
    pub at: Point,
    /// From there, mm.
    pub distance: f64,
    /// Off the upright, radians.
    pub tilt: f64,
    /// In which direction it leans, radians.
    pub azimuth: f64,
    /// Turned about its own axis: 0 has the plate's x to the right, radians.
    pub roll: f64,
}

impl Camera {
    /// The camera of a pose.
    #[must_use]
    pub fn new(size: (usize, usize), focal: f64, bend: f64, pose: Pose) -> Self {
        let (s, c) = (libm::sin(pose.tilt), libm::cos(pose.tilt));
        let lean = Vec2::from_angle(pose.azimuth);
        let back = [s * lean.x, s * lean.y, c];
        let ahead = back.map(|v| -v);
        // The plate's x, as far as it is seen across, is the picture's right before the roll.
        let x = [1.0, 0.0, 0.0];
        let along = dot(x, ahead);
        let mut right = [
            x[0] - along * ahead[0],
            -along * ahead[1],
            -along * ahead[2],
        ];
        let length = libm::sqrt(dot(right, right));
        right = right.map(|v| v / length);
        let down = cross(ahead, right);
        let (rs, rc) = (libm::sin(pose.roll), libm::cos(pose.roll));
        let mix = |a: f64, b: f64, p: [f64; 3], q: [f64; 3]| {
            [
                a * p[0] + b * q[0],
                a * p[1] + b * q[1],
                a * p[2] + b * q[2],
            ]
        };
        let eye = [
            pose.at.x + pose.distance * back[0],
            pose.at.y + pose.distance * back[1],
            pose.distance * back[2],
        ];
        Self {
            size,
            focal,
            bend,
            bend_again: 0.0,
            off: Vec2::new(0.0, 0.0),
            turn: [mix(rc, rs, right, down), mix(-rs, rc, right, down), ahead],
            eye,
        }
    }

    /// The same with a lens that one coefficient about the picture's middle does not tell in full.
    #[must_use]
    pub fn with_odd_lens(self, rng: &mut Rng) -> Self {
        let far = 0.008 * self.size.0 as f64;
        Self {
            bend_again: rng.range(-0.002, 0.002),
            off: Vec2::new(rng.range(-far, far), rng.range(-far, far)),
            ..self
        }
    }

    fn middle(&self) -> Vec2 {
        Vec2::new(0.5 * self.size.0 as f64, 0.5 * self.size.1 as f64) + self.off
    }

    /// By how much a straight lens's distance from the middle is stretched, at a share of the reach.
    fn stretch(&self, r: f64) -> f64 {
        1.0 + self.bend * r * r + self.bend_again * r * r * r * r
    }

    /// Where a point at a height over the plate is seen, pixels (the first pixel's middle is at 0.5, 0.5).
    #[must_use]
    pub fn sees(&self, p: Point, height: f64) -> Point {
        let v = [p.x - self.eye[0], p.y - self.eye[1], height - self.eye[2]];
        let z = dot(self.turn[2], v);
        let flat = Vec2::new(dot(self.turn[0], v) / z, dot(self.turn[1], v) / z) * self.focal;
        let r = flat.length() / self.middle().length();
        let bent = flat * self.stretch(r);
        Point::new(bent.x + self.middle().x, bent.y + self.middle().y)
    }

    /// The point at a height over the plate that is seen at a place of the picture.
    #[must_use]
    pub fn point(&self, x: f64, y: f64, height: f64) -> Point {
        let bent = Vec2::new(x, y) - self.middle();
        let reach = self.middle().length();
        let mut flat = bent;
        for _ in 0..4 {
            let r = flat.length() / reach;
            flat = bent * (1.0 / self.stretch(r));
        }
        let ray = |i: usize| {
            (flat.x * self.turn[0][i] + flat.y * self.turn[1][i]) / self.focal + self.turn[2][i]
        };
        let s = (height - self.eye[2]) / ray(2);
        Point::new(self.eye[0] + s * ray(0), self.eye[1] + s * ray(1))
    }

    /// A hand-held camera by chance, so that a frame of `w` by `h` mm with its lower left corner at the
    /// origin fills most of the picture, all of it within.
    #[must_use]
    pub fn held(
        size: (usize, usize),
        frame: (f64, f64),
        room: f64,
        steepest: f64,
        rng: &mut Rng,
    ) -> Self {
        let long = size.0.max(size.1) as f64;
        loop {
            let (w, h) = frame;
            let focal = long * rng.range(0.68, 1.15);
            let pose = Pose {
                at: Point::new(w * rng.range(0.42, 0.58), h * rng.range(0.42, 0.58)),
                distance: rng.range(0.8, 2.6) * (w * w + h * h).sqrt(),
                tilt: steepest * libm::sqrt(rng.unit()),
                azimuth: rng.range(-3.2, 3.2),
                roll: rng.range(-0.45, 0.45),
            };
            let camera = Self::new(size, focal, rng.range(-0.006, 0.006), pose);
            let corners = [
                Point::new(-room, -room),
                Point::new(w + room, -room),
                Point::new(w + room, h + room),
                Point::new(-room, h + room),
            ]
            .map(|p| camera.sees(p, 0.0));
            let (sx, sy) = (size.0 as f64, size.1 as f64);
            let within = corners
                .iter()
                .all(|p| p.x > 0.0 && p.y > 0.0 && p.x < sx && p.y < sy);
            let area: f64 = (0..4)
                .map(|i| corners[i].to_vec().cross(corners[(i + 1) % 4].to_vec()))
                .sum::<f64>()
                .abs()
                * 0.5;
            let bottom = corners[1] - corners[0];
            let level = bottom.x.abs() > 1.15 * bottom.y.abs();
            if within && level && area > 0.42 * sx * sy {
                return camera;
            }
        }
    }
}

//! The camera behind a view: can any have seen a rectangle so, and where was it?
//!
//! Any four corners are seen as *some* rectangle by a homography; a camera with square pixels and its
//! axis through the picture's middle sees fewer. In `K⁻¹H` the first two columns are at right angles and
//! of one length (Zhang 2000), two conditions with one unknown, the focal length, of which it is known
//! besides that it is a lens people carry. What is left of the conditions is how far the four corners
//! are from any rectangle of these sides: a hole taken for a mark shows here.

use super::view::{Lens, View};
use crate::geom::Point;

/// What is known of the camera.
#[derive(Clone, Copy, Debug)]
pub(super) struct Camera {
    /// Focal length, pixels.
    pub focal: f64,
    /// By how much the plate's axes are off the square and of unequal scale: about relative error of form.
    pub misfit: f64,
    /// How far the focal length is from the usual, in standard deviations.
    pub unusual: f64,
}

/// What a misfit is by lens and marks alone.
const USUAL_MISFIT: f64 = 0.003;
/// The usual focal length in parts of the picture's long side, and how far others lie (natural log).
const USUAL_FOCAL: f64 = 0.85;
const FOCAL_SPREAD: f64 = 0.4;

impl Camera {
    /// The likeliest camera.
    pub fn of(view: &View, long_side: f64) -> Self {
        let (mut best, mut least) = (Self::at(view, long_side), f64::INFINITY);
        Self::each(view, long_side, |camera, cost| {
            if cost < least {
                (best, least) = (camera, cost);
            }
        });
        best
    }

    /// The least and the greatest height over the plate, mm, that are about as likely as the likeliest (one standard
    /// deviation): from straight above nothing but the usual focal length tells of it.
    pub fn heights(view: &View, long_side: f64) -> (f64, f64) {
        let mut least = f64::INFINITY;
        Self::each(view, long_side, |_, cost| least = least.min(cost));
        let (mut low, mut high) = (f64::INFINITY, 0.0_f64);
        Self::each(view, long_side, |camera, cost| {
            if cost <= least + 1.0 {
                let (_, height) = camera.stands(view);
                (low, high) = (low.min(height), high.max(height));
            }
        });
        (low, high)
    }

    /// Cameras of focal lengths from half to three and a half times the long side, and what each costs.
    fn each(view: &View, long_side: f64, mut call: impl FnMut(Self, f64)) {
        // In the plane's columns the focal length is a factor of two of three numbers: each product of columns is a sum of
        // two parts, one of them over its square.
        let [p, q, _] = columns(view, 1.0);
        let parts = |a: [f64; 3], b: [f64; 3]| {
            let ([a0, a1, a2], [b0, b1, b2]) = (a, b);
            (a0 * b0 + a1 * b1, a2 * b2)
        };
        let (pp, qq, pq) = (parts(p, p), parts(q, q), parts(p, q));
        const STEPS: i32 = 60;
        let (from, step) = (-0.7, 1.95 / f64::from(STEPS));
        let grows = libm::exp(step);
        let mut focal = long_side * libm::exp(from);
        for i in 0..=STEPS {
            let unusual = (from + f64::from(i) * step - libm::log(USUAL_FOCAL)) / FOCAL_SPREAD;
            let over = 1.0 / (focal * focal);
            let [pp, qq, pq] = [pp, qq, pq].map(|(a, b)| a * over + b);
            let mean = 0.5 * (pp + qq);
            let misfit = libm::hypot(pq / mean, 0.5 * (pp - qq) / mean);
            let m = misfit / USUAL_MISFIT;
            let camera = Self {
                focal,
                misfit,
                unusual,
            };
            call(camera, m * m + unusual * unusual);
            focal *= grows;
        }
    }

    fn at(view: &View, focal: f64) -> Self {
        let [p, q, _] = columns(view, focal);
        let dot = |a: [f64; 3], b: [f64; 3]| a.iter().zip(&b).map(|(x, y)| x * y).sum::<f64>();
        let (pp, qq, pq) = (dot(p, p), dot(q, q), dot(p, q));
        let mean = 0.5 * (pp + qq);
        Self {
            focal,
            misfit: libm::hypot(pq / mean, 0.5 * (pp - qq) / mean),
            unusual: 0.0,
        }
    }

    /// How far the camera's axis is off the upright on the plate, radians.
    pub fn tilt(&self, view: &View) -> f64 {
        let (foot, height) = self.stands(view);
        let middle = view.lens().middle;
        let aim = view.plate(Point::new(middle.x, middle.y));
        libm::atan2(aim.distance(foot), height)
    }

    /// The point of the plate under the camera, and its height over it, mm.
    pub fn stands(&self, view: &View) -> (Point, f64) {
        let [p, q, t] = columns(view, self.focal);
        let dot = |a: [f64; 3], b: [f64; 3]| a.iter().zip(&b).map(|(x, y)| x * y).sum::<f64>();
        let (pp, qq) = (dot(p, p), dot(q, q));
        let scale = libm::sqrt(0.5 * (pp + qq));
        // The camera's place solves R·c + t = 0; its foot is c's part in the plane.
        let foot = Point::new(-dot(p, t) / pp, -dot(q, t) / qq);
        let [p0, p1, p2] = p;
        let [q0, q1, q2] = q;
        let up = [p1 * q2 - p2 * q1, p2 * q0 - p0 * q2, p0 * q1 - p1 * q0];
        let height = dot(up, t) / (scale * scale * scale);
        (foot, height.abs())
    }
}

/// The columns of `K⁻¹H`, with pixels from the picture's middle.
fn columns(view: &View, focal: f64) -> [[f64; 3]; 3] {
    let Lens { middle, .. } = view.lens();
    let [[a, b, c], [d, e, f], [g, h, i]] = *view.matrix();
    let column =
        |x: f64, y: f64, z: f64| [(x - middle.x * z) / focal, (y - middle.y * z) / focal, z];
    [column(a, d, g), column(b, e, h), column(c, f, i)]
}

/// The focal length by which the camera would stand at a height said by the person, mm.
pub(super) fn focal_for_height(view: &View, height: f64, long_side: f64) -> Camera {
    let mut best = Camera::at(view, long_side);
    let mut least = f64::INFINITY;
    for step in 0..=300 {
        let camera = Camera::at(view, long_side * libm::exp(-1.2 + f64::from(step) * 0.01));
        let off = (camera.stands(view).1 / height - 1.0).abs();
        if off < least {
            (best, least) = (camera, off);
        }
    }
    best
}

//! How the plate is lit: unevenly, with a lamp mirrored in it, and with something's shadow over it.

use crate::rng::Rng;
use trued::{Point, Vec2};

/// Light over the plate.
#[derive(Clone, Copy, Debug)]
pub struct Light {
    middle: Point,
    slope: Vec2,
    glare: Option<(Point, f64, f64)>,
    shadow: Option<Shadow>,
}

#[derive(Clone, Copy, Debug)]
struct Shadow {
    at: Point,
    across: Vec2,
    soft: f64,
    left: f64,
    /// Wide as a hand's or a cable's where it has another side.
    wide: f64,
}

impl Light {
    /// Light by chance.
    pub fn draw(frame: (f64, f64), rng: &mut Rng) -> Self {
        let place = |rng: &mut Rng| Point::new(rng.range(0.0, frame.0), rng.range(0.0, frame.1));
        let glare = rng
            .chance(0.5)
            .then(|| (place(rng), rng.range(25.0, 90.0), rng.range(0.1, 0.6)));
        let shadow = rng.chance(0.5).then(|| Shadow {
            at: place(rng),
            across: Vec2::from_angle(rng.range(0.0, 6.2)),
            soft: rng.range(0.3, 8.0),
            left: rng.range(0.35, 0.75),
            wide: if rng.chance(0.3) {
                rng.range(8.0, 60.0)
            } else {
                1e6
            },
        });
        Self {
            middle: Point::new(0.5 * frame.0, 0.5 * frame.1),
            slope: Vec2::from_angle(rng.range(0.0, 6.2))
                * (rng.range(0.0, 0.45) / frame.0.max(frame.1)),
            glare,
            shadow,
        }
    }

    /// What falls on a place, and what is mirrored from it.
    #[must_use]
    pub fn at(&self, p: Point) -> (f64, f64) {
        let mut light = 1.0 + (p - self.middle).dot(self.slope);
        if let Some(s) = self.shadow {
            let d = (p - s.at).dot(s.across);
            let step = |d: f64| (0.5 + 0.5 * d / s.soft).clamp(0.0, 1.0);
            let inside = step(d) * step(s.wide - d);
            light *= 1.0 - (1.0 - s.left) * inside;
        }
        let glare = self.glare.map_or(0.0, |(at, size, strength)| {
            strength * libm::exp(-(p - at).length_squared() / (2.0 * size * size))
        });
        (light.max(0.05), glare)
    }
}

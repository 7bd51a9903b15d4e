//! Ways to change a trace that must not change what it means.

use crate::rng::Rng;
use trued::{Path, Point, Stroke, Trace};

/// A change of a trace and what it does to places.
pub struct Motion {
    /// What it is, for messages.
    pub name: String,
    /// Where a place goes.
    pub place: Box<dyn Fn(Point) -> Point + Send + Sync>,
    /// By how much lengths grow; settings must grow alike.
    pub scale: f64,
}

/// Moved 10 m, turned, mirrored, and scaled by 0.5 and 2.
#[must_use]
pub fn all() -> Vec<Motion> {
    let turned = |degrees: f64| {
        let (sin, cos) = libm::sincos(degrees.to_radians());
        move |p: Point| Point::new(cos * p.x - sin * p.y, sin * p.x + cos * p.y)
    };
    vec![
        motion("moved 10 m", 1.0, |p| Point::new(p.x + 1.0e4, p.y - 1.0e4)),
        motion("turned 33.7°", 1.0, turned(33.7)),
        motion("turned 90°", 1.0, |p| Point::new(-p.y, p.x)),
        motion("mirrored", 1.0, |p| Point::new(-p.x, p.y)),
        motion("halved", 0.5, |p| Point::new(0.5 * p.x, 0.5 * p.y)),
        motion("doubled", 2.0, |p| Point::new(2.0 * p.x, 2.0 * p.y)),
    ]
}

fn motion(
    name: &str,
    scale: f64,
    place: impl Fn(Point) -> Point + Send + Sync + 'static,
) -> Motion {
    Motion {
        name: name.to_owned(),
        place: Box::new(place),
        scale,
    }
}

impl Motion {
    /// The changed trace.
    #[must_use]
    pub fn of(&self, trace: &Trace) -> Trace {
        let strokes = trace.strokes.iter().map(|s| Stroke {
            points: s.points.iter().map(|&p| (self.place)(p)).collect(),
            times: s.times.clone(),
        });
        Trace {
            strokes: strokes.collect(),
            drawn: Vec::new(),
        }
    }
}

/// Every stroke backwards, in backward order.
#[must_use]
pub fn reversed(trace: &Trace) -> Trace {
    Trace {
        strokes: trace
            .strokes
            .iter()
            .rev()
            .map(|s| Stroke::new(s.points.iter().rev().copied().collect()))
            .collect(),
        drawn: Vec::new(),
    }
}

/// A trace of one closed stroke begun at another of its points.
#[must_use]
pub fn started_at(trace: &Trace, k: usize) -> Trace {
    let mut strokes = trace.strokes.clone();
    for s in &mut strokes {
        s.times.clear();
        if !s.points.is_empty() {
            let n = s.points.len();
            s.points.rotate_left(k % n);
        }
    }
    Trace {
        strokes,
        drawn: Vec::new(),
    }
}

/// A path once round, evenly sampled, each point off by normal chance of standard deviation `s`.
#[must_use]
pub fn evenly_sampled(path: &Path, spacing: f64, s: f64, rng: &mut Rng) -> Trace {
    let mut points = Vec::new();
    for e in path.edges() {
        let n = libm::ceil(e.length() / spacing).max(1.0) as usize;
        for i in 0..n {
            let p = e.point_at(i as f64 / n as f64);
            points.push(Point::new(p.x + s * rng.normal(), p.y + s * rng.normal()));
        }
    }
    Trace::from_strokes([points])
}

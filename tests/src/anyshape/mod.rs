//! Outlines from no list: made at random, feature by feature, so that whoever reads them can have learned nothing but
//! what outlines are like.
//!
//! The families of [`crate::shapes`] are 34; a reader fitted on them reads them. Each [`Kind`] here is a grammar of
//! its own, and what is fitted on some is judged on the others.

mod feature;
pub mod judge;
mod kinds;
mod narrow;
mod part;

use crate::rng::Rng;
use core::f64::consts::PI;
use trued::geom::turn_between;
use trued::outline::check;
use trued::{Chain, Edge, Loop, Outline, Path, Point, Role, Vec2};

/// How outlines are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Unions and cut-outs of rectangles, with fillets, chamfers and round bites at random corners.
    Orthogonal,
    /// Three to eight sides that turn by 15° to 150°, a quarter of the corners rounded.
    Polygon,
    /// Three to six arcs and lines that meet at visible corners.
    Chain,
    /// Things a shop makes: hulls of circles, plates with notches, lugs, slots, cut discs, brackets.
    Part,
    /// Free curves: ellipses, ovals, leaves, lobes, Fourier shapes; no edges to be found at all.
    Curve,
    /// Slits, slots, tabs, combs, gears, stars: edges so many or so narrow that they pass for the hand's error.
    Narrow,
}

impl Kind {
    /// All of them.
    pub const ALL: [Self; 6] = [
        Self::Orthogonal,
        Self::Polygon,
        Self::Chain,
        Self::Part,
        Self::Curve,
        Self::Narrow,
    ];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Orthogonal => "orthogonal",
            Self::Polygon => "polygon",
            Self::Chain => "chain",
            Self::Part => "part",
            Self::Curve => "curve",
            Self::Narrow => "narrow",
        }
    }

    /// An outline of this kind, turned and moved anyhow, counter-clockwise.
    #[must_use]
    pub fn draw(self, rng: &mut Rng) -> Path {
        loop {
            let made = match self {
                Self::Orthogonal => kinds::orthogonal(rng),
                Self::Polygon => kinds::polygon(rng),
                Self::Chain => kinds::chain(rng),
                Self::Part => part::part(rng),
                Self::Curve => kinds::curve(rng),
                Self::Narrow => narrow::narrow(rng),
            };
            let unfair = matches!(self, Self::Curve | Self::Narrow);
            let fair = |p: &Path| is_simple(p) && (unfair || is_fair(p));
            if let Some(path) = made.filter(fair) {
                return placed(&path, rng);
            }
        }
    }
}

/// Shortest edge and thinnest place, mm.
const LEAST: f64 = 8.0;

/// Crosses itself nowhere.
fn is_simple(path: &Path) -> bool {
    let outline = Outline {
        loops: vec![Loop {
            role: Role::Part,
            path: path.clone(),
            deviation: None,
        }],
        marks: Vec::new(),
    };
    path.area() > 0.0 && check::check(&outline).is_empty()
}

/// No edge too short to see, corners visible or smooth, nowhere thinner than an edge may be short.
fn is_fair(path: &Path) -> bool {
    let edges = path.edges();
    let n = edges.len();
    let long = edges.iter().all(|e| match e {
        Edge::Line(l) => l.length() >= LEAST,
        Edge::Arc(a) => a.length() >= LEAST && a.radius <= 400.0 && bow(a.radius, a.sweep) >= 2.0,
    });
    let turn = |i: usize| {
        let before = &edges[(i + n - 1) % n];
        turn_between(before.direction_at(1.0), edges[i].direction_at(0.0)).abs()
    };
    let visible = n == 1 || (0..n).all(|i| turn(i) < 1e-6 || turn(i) > 0.25);
    long && visible && thinnest(path) >= 0.8 * LEAST
}

/// How far an arc rises over its chord, mm.
fn bow(radius: f64, sweep: f64) -> f64 {
    radius * (1.0 - libm::cos(0.5 * sweep.abs().min(PI)))
}

/// The least distance between places of the outline that lie far apart along it, mm.
fn thinnest(path: &Path) -> f64 {
    let points = path.flatten(0.2);
    let mut along = vec![0.0];
    let spaced = resampled(&points, 2.0);
    for w in spaced.windows(2) {
        along.push(along.last().unwrap_or(&0.0) + w[0].distance(w[1]));
    }
    let total = along.last().copied().unwrap_or(0.0);
    let mut least = f64::INFINITY;
    for (i, p) in spaced.iter().enumerate() {
        for (j, q) in spaced.iter().enumerate().skip(i + 1) {
            let apart = along[j] - along[i];
            if apart.min(total - apart) > 3.0 * LEAST {
                least = least.min(p.distance(*q));
            }
        }
    }
    least
}

/// Points about `step` mm apart along a closed polyline.
#[must_use]
pub fn resampled(points: &[Point], step: f64) -> Vec<Point> {
    let mut out = Vec::new();
    for (i, &a) in points.iter().enumerate() {
        let b = points[(i + 1) % points.len()];
        let n = libm::ceil(a.distance(b) / step).max(1.0) as usize;
        out.extend((0..n).map(|k| a.lerp(b, k as f64 / n as f64)));
    }
    out
}

/// The path turned and moved anyhow.
fn placed(path: &Path, rng: &mut Rng) -> Path {
    let shift = Vec2::new(rng.range(-300.0, 300.0), rng.range(-300.0, 300.0));
    let turn = Vec2::from_angle(rng.range(-PI, PI));
    let place =
        |p: Point| Point::new(p.x * turn.x - p.y * turn.y, p.x * turn.y + p.y * turn.x) + shift;
    match path {
        Path::Circle(c) => Path::Circle(trued::Circle {
            center: place(c.center),
            ..*c
        }),
        Path::Chain(c) => Path::Chain(Chain {
            corners: c.corners.iter().copied().map(place).collect(),
            shapes: c.shapes.clone(),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_makes_outlines_that_are_whole_to_their_own_judge() {
        for kind in Kind::ALL {
            for k in 0..20 {
                let path = kind.draw(&mut Rng::named(k, kind.name()));
                assert!(path.is_closed() && is_simple(&path), "{kind:?} {k}");
                assert!(judge::is_whole(&path, &path), "{kind:?} {k}");
                assert!(judge::furthest(&path, &path) < 0.3, "{kind:?} {k}");
            }
        }
    }
}

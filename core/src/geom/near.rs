//! How near edges come to one another, where they cross, and which side of a loop a place is on.
//!
//! All exact for lines and arcs. Between two edges the least distance is 0 where they cross, or
//! belongs to an end of one of them, or to a place where the common perpendicular of line and
//! circle (or of two circles) meets both; those few places are simply tried.

use super::{Arc, Edge, Line, Point, Sorted as _};
use core::f64::consts::{FRAC_PI_2, TAU};

/// Where two edges come nearest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest {
    /// Distance, mm; 0 where they cross.
    pub distance: f64,
    /// The place on the first edge.
    pub at: Point,
}

/// The direction of `p` from the arc's centre lies within its sweep (ends included).
fn on_arc(a: &Arc, p: Point) -> bool {
    if a.is_full() {
        return true;
    }
    let turned = ((p - a.center).angle() - a.start_angle()) * a.sweep.signum();
    let turned = turned - TAU * libm::floor(turned / TAU);
    // A hair of slack: a missed end is caught by the ends themselves.
    turned <= a.sweep.abs() + 1e-12
}

/// Where `a` comes nearest to `b`.
#[must_use]
pub fn nearest(a: &Edge, b: &Edge) -> Nearest {
    if let Some(at) = crossings(a, b).into_iter().next() {
        return Nearest { distance: 0.0, at };
    }
    let mut best = Nearest {
        distance: f64::INFINITY,
        at: a.from(),
    };
    let mut try_at = |at: Point, distance: f64| {
        if distance < best.distance {
            best = Nearest { distance, at };
        }
    };
    for p in [a.from(), a.to()] {
        try_at(p, b.distance(p));
    }
    for p in [b.from(), b.to()] {
        let at = a.nearest(p).0;
        try_at(at, at.distance(p));
    }
    for p in perpendiculars(a, b) {
        try_at(p, b.distance(p));
    }
    best
}

/// Places on `a` that may lie on a common perpendicular of both.
fn perpendiculars(a: &Edge, b: &Edge) -> Vec<Point> {
    match (a, b) {
        (Edge::Line(_), Edge::Line(_)) => Vec::new(),
        (Edge::Line(l), Edge::Arc(c)) => vec![l.nearest(c.center).0],
        (Edge::Arc(c), Edge::Line(l)) => both_sides(c, l.nearest(c.center).0),
        (Edge::Arc(c), Edge::Arc(d)) => both_sides(c, d.center),
    }
}

/// The places of the arc towards and away from `p`.
fn both_sides(arc: &Arc, p: Point) -> Vec<Point> {
    let Some(way) = (p - arc.center).unit() else {
        return Vec::new();
    };
    [way, -way]
        .into_iter()
        .map(|w| arc.center + w * arc.radius)
        .filter(|&q| on_arc(arc, q))
        .collect()
}

/// All places where two edges cross or touch (not: run along one another).
#[must_use]
pub fn crossings(a: &Edge, b: &Edge) -> Vec<Point> {
    match (a, b) {
        (Edge::Line(l), Edge::Line(m)) => lines_cross(l, m).into_iter().collect(),
        (Edge::Line(l), Edge::Arc(c)) | (Edge::Arc(c), Edge::Line(l)) => line_meets_arc(l, c),
        (Edge::Arc(c), Edge::Arc(d)) => arcs_meet(c, d),
    }
}

fn lines_cross(l: &Line, m: &Line) -> Option<Point> {
    let (u, v) = (l.to - l.from, m.to - m.from);
    let span = u.cross(v);
    // Parallel lines do not cross; how near they come is found from their ends.
    if span.abs() <= 1e-12 * u.length() * v.length() {
        return None;
    }
    let w = m.from - l.from;
    let (s, t) = (w.cross(v) / span, w.cross(u) / span);
    ((0.0..=1.0).contains(&s) && (0.0..=1.0).contains(&t)).then(|| l.from.lerp(l.to, s))
}

fn line_meets_arc(l: &Line, c: &Arc) -> Vec<Point> {
    let Some(way) = (l.to - l.from).unit() else {
        return Vec::new();
    };
    let along = (c.center - l.from).dot(way);
    let foot = l.from + way * along;
    let off = (c.center - foot).length();
    if off > c.radius {
        return Vec::new();
    }
    let half = (c.radius * c.radius - off * off).max(0.0).sqrt();
    let length = l.length();
    [along - half, along + half]
        .into_iter()
        .filter(|s| (0.0..=length).contains(s))
        .map(|s| l.from + way * s)
        .filter(|&p| on_arc(c, p))
        .collect()
}

fn arcs_meet(c: &Arc, d: &Arc) -> Vec<Point> {
    let between = d.center - c.center;
    let apart = between.length();
    let Some(way) = between.unit() else {
        return Vec::new();
    };
    if apart > c.radius + d.radius || apart < (c.radius - d.radius).abs() {
        return Vec::new();
    }
    let along = 0.5 * (apart + (c.radius - d.radius) * (c.radius + d.radius) / apart);
    let across = (c.radius * c.radius - along * along).max(0.0).sqrt();
    [across, -across]
        .into_iter()
        .map(|h| c.center + way * along + way.left() * h)
        .filter(|&p| on_arc(c, p) && on_arc(d, p))
        .collect()
}

/// The place lies inside the closed run of edges (even-odd; on the edge itself either answer).
#[must_use]
pub fn inside(edges: &[Edge], p: Point) -> bool {
    // A ray to the right, counted where it passes an edge half-open in y. Arcs are cut where they
    // turn back in y, so that every piece passes any height at most once.
    let mut odd = false;
    let mut count = |from: Point, to: Point, x_at: &dyn Fn() -> f64| {
        if (from.y > p.y) != (to.y > p.y) && x_at() > p.x {
            odd = !odd;
        }
    };
    for edge in edges {
        match edge {
            Edge::Line(l) => count(l.from, l.to, &|| {
                l.from.x + (p.y - l.from.y) / (l.to.y - l.from.y) * (l.to.x - l.from.x)
            }),
            Edge::Arc(a) => {
                for (from, to, right) in rising_pieces(a) {
                    let dy = p.y - a.center.y;
                    let dx = (a.radius * a.radius - dy * dy).max(0.0).sqrt();
                    count(from, to, &|| {
                        if right {
                            a.center.x + dx
                        } else {
                            a.center.x - dx
                        }
                    });
                }
            }
        }
    }
    odd
}

/// The arc cut at its top and bottom; each piece with whether it lies right of the centre.
fn rising_pieces(a: &Arc) -> Vec<(Point, Point, bool)> {
    let start = a.start_angle();
    let mut cuts = vec![0.0, 1.0];
    for k in -4..=4 {
        let at = (FRAC_PI_2 + f64::from(k) * core::f64::consts::PI - start) / a.sweep;
        if at > 0.0 && at < 1.0 {
            cuts.push(at);
        }
    }
    cuts.order_by(f64::total_cmp);
    let place = |t: f64| match t {
        t if t <= 0.0 => a.from,
        t if t >= 1.0 => a.to,
        t => a.point_at(t),
    };
    cuts.windows(2)
        .filter_map(|w| match w {
            [s, t] => {
                let middle = libm::cos(start + 0.5 * (s + t) * a.sweep);
                Some((place(*s), place(*t), middle > 0.0))
            }
            _ => None,
        })
        .collect()
}

//! Slits: lines drawn from the rim into a part and back again, in the stroke of the rim.
//!
//! Both passes of one line lie within the hand's wander of one another, to this side and to that. As a part of the rim
//! they would bound a slot of no width, which no offset by half a kerf can follow; what was meant is a cut of its own
//! that begins at the rim. So it is taken out and goes on as an open line along the first pass; the second says once more
//! where it is.
//!
//! *How it is known.* About a reversal ([`retrace`]) both sides run together for longer than
//! any slip past a corner, and what they enclose, counted with its sign, is so little that it has no width: passes of
//! one line cross each other, sides of a slot do not. It must lie inside the rim that is left.
//!
//! *Fails* on slots narrower than [`WIDTH`], which any kerf fills, on slits that a shaky hand's passes part by more
//! (they stay in the rim and are doubted), and on slits that branch.

use super::measure::{self, at, lengths};
use super::retrace::{self, Cut, LONGEST_SPUR, Run};
use super::{CleanPath, Ends, PathKind};
use crate::geom::near::inside;
use crate::geom::{Edge, Line, Point};

/// Widest that two passes of one line lie apart on the whole, in units: no torch cuts a slot so narrow.
const WIDTH: f64 = 0.8;
/// What lies within so many units of a slit was drawn along it.
const REACH: f64 = 2.5;
/// Most slits in one stroke.
const MOST: usize = 64;

/// Takes the slits out of a closed path; each is an open path that begins at the rim.
pub(super) fn take(path: &mut CleanPath, unit: f64) -> Vec<CleanPath> {
    let mut out = Vec::new();
    if !path.closed || path.kind != PathKind::Sampled {
        return out;
    }
    while out.len() < MOST {
        // What lies furthest out is in no slit: with the seam there, none lies across it.
        let turned = turned(path);
        let Some((rim, slit)) = first(&turned, unit) else {
            break;
        };
        *path = rim;
        // What was gone over again there, or trimmed where the loop was begun in the slit, is of the slit.
        let reach = REACH * unit;
        let ends = [&mut path.ends.before, &mut path.ends.after];
        for piece in path.again.iter_mut().chain(ends) {
            piece.retain(|p| off(&slit.points, *p) > reach);
        }
        path.again.retain(|piece| piece.len() > 1);
        out.push(slit);
    }
    out
}

/// How far a place lies from a line.
fn off(line: &[Point], p: Point) -> f64 {
    let steps = line.windows(2).filter_map(|w| match w {
        &[from, to] => Some(Line { from, to }.nearest(p).0.distance(p)),
        _ => None,
    });
    steps.fold(f64::INFINITY, f64::min)
}

/// The path begun at the point furthest from its middle.
fn turned(path: &CleanPath) -> CleanPath {
    let n = path.points.len();
    let sum = path
        .points
        .iter()
        .fold((0.0, 0.0), |s, p| (s.0 + p.x, s.1 + p.y));
    let middle = Point::new(sum.0 / n.max(1) as f64, sum.1 / n.max(1) as f64);
    let far = |i: &usize| at(&path.points, *i).distance(middle);
    let start = (0..n).max_by(|a, b| far(a).total_cmp(&far(b))).unwrap_or(0);
    let mut turned = path.clone();
    turned.points.rotate_left(start);
    for i in &mut turned.bridged {
        *i = (*i + n - start) % n;
    }
    turned.bridged.sort_unstable();
    turned
}

/// The rim without its first slit, and the slit.
fn first(path: &CleanPath, unit: f64) -> Option<(CleanPath, CleanPath)> {
    let cum = lengths(&path.points);
    let lag = (2.5 * unit / path.step.max(0.1 * unit)).clamp(1.0, 25.0) as usize;
    let jitter = measure::deviation(&path.points, lag) / 1.44;
    let found = [1.0, 2.0, 3.5].into_iter().find_map(|scale| {
        let run = Run::new(&path.points, &cum, (unit, path.step, jitter), scale);
        let mut reversals = run.reversals().into_iter();
        reversals.find_map(|tip| run.passes(tip))
    });
    let Passes {
        rim: (first, last),
        from,
        tip,
        to,
    } = found?;
    let (there, back) = (path.points.get(from..=tip)?, path.points.get(tip..=to)?);
    let deep = measure::length(there);
    let width = measure::area(path.points.get(from..=to)?).abs() / deep;
    if width > WIDTH * unit {
        return None;
    }
    let mut rim = path.clone();
    let cut = Cut {
        from: first + 1,
        to: last,
        along: true,
    };
    retrace::drop_ranges(&mut rim.points, &mut rim.bridged, &[cut]);
    rim.bridged.push(first);
    rim.bridged.sort_unstable();
    rim.bridged.dedup();
    let ends = rim.points.iter().zip(rim.points.iter().cycle().skip(1));
    let sides: Vec<Edge> = ends
        .map(|(&from, &to)| Edge::Line(Line { from, to }))
        .collect();
    if !inside(&sides, at(&path.points, tip)) {
        return None;
    }
    let foot = at(&path.points, from).midpoint(at(&path.points, to));
    let points = core::iter::once(foot).chain(there.iter().copied());
    let slit = CleanPath {
        points: points.collect(),
        step: path.step,
        again: vec![back.to_vec()],
        ends: Ends {
            gap: deep,
            sureness: NEVER_CLOSED,
            ..Ends::default()
        },
        ..CleanPath::default()
    };
    Some((rim, slit))
}

/// What two passes are made of, by the numbers of points.
struct Passes {
    /// The way there begins, the tip, the way back ends.
    from: usize,
    tip: usize,
    to: usize,
    /// The last point of the rim before the hand turned in, and the first after it.
    rim: (usize, usize),
}

/// The hand turns from the rim into a slit within so many times what passes of one line lie apart.
const TURN: f64 = 0.75;
/// How sure it is that a slit is open.
const NEVER_CLOSED: f64 = -10.0;

impl Run<'_> {
    /// Between which points both sides of a reversal run together, where that is too long for a spur: the last places
    /// abreast of one another, before and after.
    fn passes(&self, tip: usize) -> Option<Passes> {
        let mut foot = None;
        let stride = 0.5 * self.unit;
        let mut s = stride;
        loop {
            let a = self.behind(tip, s);
            if a == 0 {
                return None;
            }
            let (b, off) = self.nearest(
                at(self.points, a),
                tip,
                self.ahead(tip, 1.2 * s + 2.0 * self.unit),
            );
            if b + 1 >= self.last() {
                return None;
            }
            if off > self.along {
                break;
            }
            foot = Some((a, b + 1, s));
            s += stride.max(self.cum(tip) - self.cum(a) - s + 1e-9 * self.unit);
        }
        let (a, b, s) = foot?;
        let turn = TURN * self.along;
        (s > LONGEST_SPUR * self.unit).then(|| Passes {
            from: a,
            tip,
            to: b,
            rim: (self.behind(a, turn), self.ahead(b, turn)),
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::{Point, Settings, Trace};

    /// Once round a plate of 120 x 80 begun on its left side, at (60, 0) in and back by sides so far apart, each bent
    /// by 0.2 mm.
    fn plate(apart: f64) -> Trace {
        let corners = [
            (0.0, 40.0),
            (0.0, 0.0),
            (60.0 - 0.5 * apart, 0.0),
            (60.0, 30.0),
            (60.0 + 0.5 * apart, 0.0),
            (120.0, 0.0),
            (120.0, 80.0),
            (0.0, 80.0),
            (0.0, 40.0),
        ];
        let mut points = Vec::new();
        for w in corners.windows(2) {
            let ((x0, y0), (x1, y1)) = (w[0], w[1]);
            let (dx, dy) = (x1 - x0, y1 - y0);
            let long = libm::hypot(dx, dy);
            let count = long as usize;
            points.extend((0..count).map(|k| {
                let t = k as f64 / count as f64;
                let bend = 0.2 * libm::sin(0.4 * long * t);
                Point::new(
                    x0 + t * dx - bend * dy / long,
                    y0 + t * dy + bend * dx / long,
                )
            }));
        }
        Trace::from_strokes([points])
    }

    #[test]
    fn a_line_in_and_back_is_a_slit() {
        let clean = super::super::clean(&plate(0.2), &Settings::default()).unwrap();
        let [rim, slit] = clean.paths.as_slice() else {
            panic!("{} paths", clean.paths.len());
        };
        assert!(
            rim.closed
                && rim
                    .points
                    .iter()
                    .all(|p| p.y < 2.0 || p.x < 1.0 || p.x > 119.0 || p.y > 78.0)
        );
        let (from, to) = (slit.points[0], slit.points[slit.points.len() - 1]);
        assert!(!slit.closed && from.distance(Point::new(60.0, 0.0)) < 1.0);
        assert!(to.distance(Point::new(60.0, 30.0)) < 1.0, "{to:?}");
    }

    #[test]
    fn what_has_a_width_is_none() {
        let clean = super::super::clean(&plate(6.0), &Settings::default()).unwrap();
        assert_eq!(clean.paths.len(), 1);
    }
}

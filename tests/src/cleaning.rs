//! How well a trace was cleaned, judged against the outline it was traced from.
//!
//! A clean path is *one*, *closed* as the truth is, *near* the truth along its whole length and the
//! truth near it, and *runs on*: followed along the truth it never goes back further than the
//! hand's own unsteadiness.

use crate::hand::Level;
use trued::trace::{CleanPath, CleanTrace, PathKind};
use trued::{Path, Point};

/// What was found of one cleaned trace.
#[derive(Clone, Copy, Debug, Default)]
pub struct Verdict {
    /// One path, no marks.
    pub one: bool,
    /// It closes.
    pub closed: bool,
    /// Farthest place of the path from the truth, mm; steps that were not traced left out.
    pub off: f64,
    /// Farthest place of the truth from the path, mm, less half of the bridged step nearest to it.
    pub missed: f64,
    /// Farthest the path goes back along the truth, mm.
    pub back: f64,
    /// All is well for the hand that traced it.
    pub clean: bool,
}

/// The truth as places about every half mm, with the length along it.
struct Course {
    points: Vec<Point>,
    step: f64,
}

impl Course {
    fn new(path: &Path) -> Self {
        let length = path.length();
        let n = (length / 0.5).ceil().max(8.0) as usize;
        let edges = path.edges();
        let mut points = Vec::with_capacity(n);
        let mut before = 0.0;
        for e in &edges {
            let l = e.length();
            while (points.len() as f64) * length / (n as f64) < before + l && points.len() < n {
                let s = points.len() as f64 * length / n as f64;
                points.push(e.point_at((s - before) / l));
            }
            before += l;
        }
        let step = length / points.len() as f64;
        Self { points, step }
    }

    /// Nearest place: its number and distance, looking only at numbers within `reach` of `around`.
    fn nearest(&self, p: Point, around: Option<(usize, usize)>) -> (usize, f64) {
        let n = self.points.len();
        let (first, count) = around.map_or((0, n), |(c, r)| {
            ((c + n - r.min(n / 2)) % n, 2 * r.min(n / 2) + 1)
        });
        (0..count.min(n))
            .map(|k| (first + k) % n)
            .map(|k| (k, self.points[k].distance(p)))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .unwrap_or((0, f64::INFINITY))
    }
}

/// Judges the cleaned trace of one closed outline.
#[must_use]
pub fn judge(truth: &Path, level: Level, cleaned: &CleanTrace) -> Verdict {
    let mut v = Verdict {
        one: cleaned.paths.len() == 1 && cleaned.marks.is_empty(),
        ..Verdict::default()
    };
    let Some(path) = cleaned.paths.iter().max_by_key(|p| p.points.len()) else {
        return v;
    };
    v.closed = path.closed;
    let course = Course::new(truth);
    if path.kind == PathKind::Touched {
        // Between touches on an arc the chord is far from it by right; only the touches count.
        v.off = path
            .points
            .iter()
            .map(|&p| course.nearest(p, None).1)
            .fold(0.0, f64::max);
    } else {
        v.off = off(&course, path);
        v.missed = missed(&course, path);
    }
    v.back = back(&course, path);
    let allowed = 3.0 * level.wander() + 2.0;
    v.clean = v.one
        && v.closed
        && v.off <= allowed
        && v.missed <= allowed
        && v.back <= 4.0 + 2.0 * level.wander();
    v
}

fn steps(path: &CleanPath) -> impl Iterator<Item = (usize, Point, Point)> + '_ {
    let n = path.points.len();
    let count = if path.closed { n } else { n.saturating_sub(1) };
    (0..count).map(move |i| (i, path.points[i], path.points[(i + 1) % n]))
}

fn off(course: &Course, path: &CleanPath) -> f64 {
    steps(path)
        .filter(|(i, _, _)| path.bridged.binary_search(i).is_err())
        .flat_map(|(_, a, b)| {
            let n = (a.distance(b)).ceil().max(1.0) as usize;
            (0..n).map(move |k| a.lerp(b, k as f64 / n as f64))
        })
        .map(|p| course.nearest(p, None).1)
        .fold(0.0, f64::max)
}

fn missed(course: &Course, path: &CleanPath) -> f64 {
    let to_step = |p: Point, a: Point, b: Point| {
        let d = b - a;
        let t = ((p - a).dot(d) / d.length_squared().max(1e-12)).clamp(0.0, 1.0);
        a.lerp(b, t).distance(p)
    };
    course
        .points
        .iter()
        .map(|&p| {
            steps(path)
                .map(|(i, a, b)| {
                    let bridged = path.bridged.binary_search(&i).is_ok();
                    let free = if bridged { 0.5 * a.distance(b) } else { 0.0 };
                    to_step(p, a, b) - free
                })
                .fold(f64::INFINITY, f64::min)
        })
        .fold(0.0, f64::max)
}

/// Farthest the path goes back along the truth, whichever way it runs.
fn back(course: &Course, path: &CleanPath) -> f64 {
    let n = course.points.len();
    let reach = (20.0 / course.step) as usize;
    let mut at: Option<usize> = None;
    let mut s = 0.0_f64;
    let mut way = vec![0.0];
    for &p in &path.points {
        let near = course.nearest(p, at.map(|k| (k, reach)));
        // Lost the thread (a long bridged step): find the place anew.
        let near = if near.1 > 8.0 {
            course.nearest(p, None)
        } else {
            near
        };
        if let Some(before) = at {
            let mut d = near.0 as f64 - before as f64;
            d -= n as f64 * (d / n as f64).round();
            s += d * course.step;
            way.push(s);
        }
        at = Some(near.0);
    }
    let sign = if s < 0.0 { -1.0 } else { 1.0 };
    let (mut most, mut worst) = (f64::MIN, 0.0_f64);
    for w in way {
        most = most.max(sign * w);
        worst = worst.max(most - sign * w);
    }
    worst
}

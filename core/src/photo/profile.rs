//! Along a chain: both edges of the line to a part of a pixel, and its middle.
//!
//! Every so often a profile is taken square to the line. The ground counts on each side by itself, so that a
//! shadow or a gradient of light does not push the middle aside; an edge is where the light passes half-way
//! between ink and that side's ground. Where one side shows no ground (a crossing, a corner, a blot, writing
//! that touches), or the width is not the line's, the place is left open.

use super::flat::Flat;
use super::grid::{Grid, quantile};
use crate::geom::{Point, Vec2};

/// A place along a line, mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Place {
    /// The middle of the line; where it could not be measured, where thinning left it.
    pub at: Point,
    /// The direction of the line.
    pub along: Vec2,
    /// Edges to the left and right of the way, mm from the middle; nothing where they could not be measured.
    pub half: Option<f64>,
}

/// A measured line.
#[derive(Clone, Debug)]
pub(super) struct Measured {
    pub places: Vec<Place>,
    pub closed: bool,
    /// Typical width, mm.
    pub width: f64,
    /// Share of places that were measured.
    pub share: f64,
    /// How far neighbouring middles scatter, mm.
    pub scatter: f64,
}

/// Light to be measured in: the flat picture's, signed so that ink is dark.
pub(super) struct Light<'a> {
    pub flat: &'a Flat,
    pub grid: &'a Grid,
    pub sign: f32,
}

impl Light<'_> {
    pub fn at(&self, p: Point) -> f32 {
        self.sign * self.grid.between(self.flat.pixel(p))
    }
}

/// Measures a chain of points (mm) of a line about `wide` mm wide.
pub(super) fn measure(light: &Light, chain: &[Point], closed: bool, wide: f64) -> Option<Measured> {
    let step = (0.2 * wide).clamp(0.25, 0.6);
    let chain = curved(chain, closed, wide);
    let mut path = even(&smooth(&chain, closed, 0.4 * wide), closed, step);
    if path.len() < 8 {
        return None;
    }
    let mut width = wide;
    let mut out = Vec::new();
    for round in 0..2 {
        let directions = directions(&path, closed, 0.7 * width.max(0.8), step);
        out = path
            .iter()
            .zip(&directions)
            .map(|(p, u)| place(light, *p, *u, width))
            .collect::<Vec<Place>>();
        let mut halves: Vec<f32> = out
            .iter()
            .filter_map(|p| p.half)
            .map(|h| h as f32)
            .collect();
        if halves.len() < 6 {
            return None;
        }
        width = 2.0 * f64::from(quantile(&mut halves, 0.5));
        for p in &mut out {
            if p.half.is_some_and(|h| (2.0 * h / width - 1.0).abs() > 0.3) {
                p.half = None;
            }
        }
        if round == 0 {
            path = out.iter().map(|p| p.at).collect();
            path = even(&smooth(&path, closed, 0.3 * width), closed, step);
        }
    }
    let known = out.iter().filter(|p| p.half.is_some()).count();
    let share = known as f64 / out.len() as f64;
    let scatter = scatter(&out);
    Some(Measured {
        places: out,
        closed,
        width,
        share,
        scatter,
    })
}

/// A chain whose leaps, over places at which no ink was seen, are bent as the line is on either side: what ink there is
/// after all lies there, not on the chord.
fn curved(chain: &[Point], closed: bool, wide: f64) -> Vec<Point> {
    let n = chain.len();
    let at = |i: usize| chain.get(i % n.max(1)).copied().unwrap_or_default();
    // The way a line runs at one of its points, by the next one that is two widths off, at most so many points away.
    let runs = |i: usize, back: bool| {
        let most = if closed {
            n
        } else if back {
            i
        } else {
            n - 1 - i
        };
        let other = |k: usize| at(if back { i + n - k } else { i + k });
        let far = (1..most)
            .map(other)
            .find(|p| p.distance(at(i)) > 2.0 * wide)?;
        if back {
            (at(i) - far).unit()
        } else {
            (far - at(i)).unit()
        }
    };
    let mut out = Vec::with_capacity(n);
    for i in 0..n {
        let (a, b) = (at(i), at(i + 1));
        out.push(a);
        let gap = a.distance(b);
        if gap < wide || (i + 1 == n && !closed) {
            continue;
        }
        let (Some(u), Some(v), Some(across)) =
            (runs(i, true), runs((i + 1) % n, false), (b - a).unit())
        else {
            continue;
        };
        // Beyond this they meet at a corner rather.
        if u.dot(across) < 0.7 || v.dot(across) < 0.7 {
            continue;
        }
        let steps = (gap / (0.2 * wide)) as i32;
        out.extend((1..steps).map(|k| {
            let t = f64::from(k) / f64::from(steps);
            let s = 1.0 - t;
            a.lerp(b, t * t * (3.0 - 2.0 * t)) + u * (gap * t * s * s) + v * (-gap * t * t * s)
        }));
    }
    out
}

/// One profile.
fn place(light: &Light, p: Point, along: Vec2, wide: f64) -> Place {
    let left = along.left();
    let reach = 1.5 * wide.max(0.8);
    let step = (wide / 24.0).max(0.4 * light.flat.step).min(0.15);
    let n = (reach / step) as i32;
    // A grainy line has holes: what lies a little before and after speaks too.
    let aside = along * (0.25 * wide).min(0.8);
    let value = |i: i32| {
        let q = p + left * (step * f64::from(i));
        (-2..=2)
            .map(|k| light.at(q + aside * f64::from(k)))
            .sum::<f32>()
            / 5.0
    };
    let values: Vec<f32> = (-n..=n).map(value).collect();
    let at = |i: i32| {
        usize::try_from(i + n)
            .ok()
            .and_then(|k| values.get(k))
            .copied()
            .unwrap_or(0.0)
    };
    let near = (0.45 * wide / step) as i32;
    // The ink itself, and the ground beyond an edge to either side.
    let core = (-near / 2..=near / 2).map(at).fold(0.0, |s, v| s + v) / (near / 2 * 2 + 1) as f32;
    let edge = |way: i32| -> Option<f64> {
        let (from, to) = (
            (0.85 * wide / step) as i32,
            (1.3 * wide.max(0.8) / step) as i32,
        );
        let mut ground: Vec<f32> = (from..=to.max(from + 2)).map(|i| at(way * i)).collect();
        let ground = quantile(&mut ground, 0.5);
        let rise = ground - core;
        if rise < 0.12 * ground.abs().max(core.abs()) {
            return None;
        }
        let level = core + 0.5 * rise;
        // The place that parts dark from bright best, whatever specks lie on either side of it.
        let (mut sum, mut most, mut best) = (0.0, 0.0, None);
        for i in 0..n {
            let (a, b) = (at(way * i), at(way * (i + 1)));
            sum += level - a;
            if sum > most && b >= level {
                most = sum;
                best = Some(
                    step * (f64::from(i)
                        + f64::from((level - a) / (b - a).max(1e-6)).clamp(0.0, 1.0)),
                );
            }
        }
        best
    };
    match (edge(1), edge(-1)) {
        (Some(l), Some(r)) => Place {
            at: p + left * (0.5 * (l - r)),
            along,
            half: Some(0.5 * (l + r)),
        },
        _ => Place {
            at: p,
            along,
            half: None,
        },
    }
}

/// Running means over a length.
pub(super) fn smooth(path: &[Point], closed: bool, over: f64) -> Vec<Point> {
    let n = path.len() as isize;
    let steps: f64 = path
        .iter()
        .zip(path.iter().skip(1))
        .map(|(a, b)| a.distance(*b))
        .sum();
    let step = steps / (n.max(2) - 1) as f64;
    let reach = libm::round(over / step.max(1e-6)).clamp(0.0, 200.0) as isize;
    if reach == 0 || n < 3 {
        return path.to_vec();
    }
    let at = |i: isize| {
        let k = if closed { i.rem_euclid(n) } else { i };
        usize::try_from(k)
            .ok()
            .and_then(|k| path.get(k))
            .map(|p| p.to_vec())
    };
    (0..n)
        .map(|i| {
            // Open ends stay: the window shrinks towards them.
            let r = if closed {
                reach
            } else {
                reach.min(i).min(n - 1 - i)
            };
            let (mut sum, mut count) = (Vec2::new(0.0, 0.0), 0.0);
            for v in (i - r..=i + r).filter_map(at) {
                sum += v;
                count += 1.0;
            }
            Point::new(sum.x / count, sum.y / count)
        })
        .collect()
}

/// Points evenly along a path.
pub(super) fn even(path: &[Point], closed: bool, step: f64) -> Vec<Point> {
    let first = path.first().copied();
    let ends = path.iter().copied().chain(first.filter(|_| closed));
    let mut out: Vec<Point> = Vec::new();
    let mut left = 0.0;
    let mut before: Option<Point> = None;
    for p in ends {
        let Some(a) = before else {
            out.push(p);
            before = Some(p);
            continue;
        };
        let length = a.distance(p);
        let mut at = step - left;
        while at < length {
            out.push(a.lerp(p, at / length));
            at += step;
        }
        left = length - (at - step);
        before = Some(p);
    }
    if closed
        && let (Some(a), Some(b)) = (out.first(), out.last())
        && a.distance(*b) < 0.5 * step
    {
        out.pop();
    }
    out
}

/// Directions along an even path, over a reach to both sides.
fn directions(path: &[Point], closed: bool, reach: f64, step: f64) -> Vec<Vec2> {
    let n = path.len() as isize;
    let r = libm::round(reach / step).max(1.0) as isize;
    let at = |i: isize| {
        let k = if closed {
            i.rem_euclid(n)
        } else {
            i.clamp(0, n - 1)
        };
        usize::try_from(k)
            .ok()
            .and_then(|k| path.get(k))
            .copied()
            .unwrap_or_default()
    };
    (0..n)
        .map(|i| {
            (at(i + r) - at(i - r))
                .unit()
                .unwrap_or(Vec2::new(1.0, 0.0))
        })
        .collect()
}

/// How far middles lie off the mean of their neighbours, turned into one place's standard deviation.
fn scatter(places: &[Place]) -> f64 {
    let mut offs: Vec<f32> = places
        .windows(3)
        .filter_map(|w| match w {
            [a, b, c] if a.half.is_some() && b.half.is_some() && c.half.is_some() => {
                Some((b.at - a.at.midpoint(c.at)).cross(b.along).abs() as f32)
            }
            _ => None,
        })
        .collect();
    // The variance of b - (a + c) / 2 is one and a half that of each; 1.4826 turns a median into a deviation.
    1.4826 / libm::sqrt(1.5) * f64::from(quantile(&mut offs, 0.5))
}

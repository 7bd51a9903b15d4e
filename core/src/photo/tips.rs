//! Corners: where the middle of the ink falls short of the line that was meant.
//!
//! A pen of width w that goes round a corner fills its inside: the middle of what it leaves passes inside of
//! the corner, by 0.12 w at a square one and by more than a width at a tip of 30°. Places at which a profile
//! has no ground on one side, or is too wide, come in runs; a run across which the line turns is a corner:
//!
//! 1. A line (or, where it plainly bows, a parabola) through the good middles on either side, carried on.
//! 2. Where they meet is the corner. Of a sharp tip that is well known across and badly along its own
//!    direction; along it the ink ends half a width beyond the corner, which is measured.
//!
//! A run across which the line hardly turns is a gap: a crossing, a blot, a scratch. It is left out.

use super::fits::least_squares;
use super::profile::{Light, Measured, Place};
use crate::geom::{Point, Vec2};

/// Least turn of a corner, radians.
const TURNS: f64 = 0.3;
/// Sharper than this (interior angle, radians), and the ink's end is asked.
const SHARP: f64 = 1.2;
/// A gap over which the line turns by more than this hides a corner, radians.
const TURNS_OVER: f64 = 1.0;
/// A gap with more than this length of it without ink is a guess, in widths of the line.
const BARE: f64 = 3.0;

/// Points of the finished line.
pub(super) type Run = Vec<Point>;

/// The line with its corners made; a closed one begun in the middle of a straight stretch, its end on its
/// start. `shift` is how far from the middle the wanted line lies, to the left, mm. `unsure` gets the places where it is
/// guessed.
pub(super) fn finish(light: &Light, line: &Measured, shift: f64, unsure: &mut Vec<Point>) -> Run {
    let places = if line.closed {
        begun_well(line)
    } else {
        line.places.clone()
    };
    let spans = good_spans(&places);
    let aside = |p: &Place| p.at + p.along.left() * shift;
    let mut run: Run = Vec::new();
    for (i, span) in spans.iter().enumerate() {
        let good = places.get(span.clone()).unwrap_or_default();
        run.extend(good.iter().map(aside));
        let Some(next) = spans.get(i + 1) else {
            continue;
        };
        let between = places.get(span.end..next.start).unwrap_or_default();
        let next = places.get(next.clone()).unwrap_or_default();
        let reach = (3.0 * line.width).max(4.0);
        let (mut made, mut turn) = corner(light, good, next, line.width, shift, reach);
        if made.is_none() {
            // Broken ink leaves short arms askew.
            let long = corner(light, good, next, line.width, shift, 2.5 * reach);
            turn = turn.min(long.1);
            made = long.0.filter(|_| turn > TURNS_OVER);
        }
        if let Some(points) = made {
            run.extend(points);
            continue;
        }
        let over = filled(good, between, next, line.width);
        if let Some(middle) = over.get(over.len() / 2)
            && (turn > TURNS_OVER || bare(light, good, &over, next, line.width) > BARE * line.width)
        {
            unsure.push(middle.at);
        }
        run.extend(over.iter().map(aside));
    }
    if line.closed {
        run.extend(run.first().copied());
    }
    run
}

/// A long gap keeps the places that thinning gave, drawn over to the good ones at its ends; a short one,
/// as crossings make, stays open.
fn filled(before: &[Place], between: &[Place], after: &[Place], width: f64) -> Vec<Place> {
    let (Some(a), Some(b)) = (before.last(), after.first()) else {
        return Vec::new();
    };
    let (Some(p), Some(q)) = (between.first(), between.last()) else {
        return Vec::new();
    };
    if a.at.distance(b.at) < 1.6 * width {
        return Vec::new();
    }
    let off =
        |good: &Place, thin: &Place| good.along.left() * (good.at - thin.at).dot(good.along.left());
    let (from, to) = (off(a, p), off(b, q));
    let n = between.len() as f64;
    let all = between.iter().enumerate().map(|(i, place)| {
        let t = (i as f64 + 0.5) / n;
        Place {
            at: place.at + from * (1.0 - t) + to * t,
            ..*place
        }
    });
    all.collect()
}

/// How much of a gap shows no ink, mm: light as on the ground beside the line before and after it.
fn bare(light: &Light, before: &[Place], over: &[Place], after: &[Place], width: f64) -> f64 {
    let ends = before.iter().rev().take(8).chain(after.iter().take(8));
    let (mut core, mut ground, mut n) = (0.0, 0.0, 0.0);
    for p in ends {
        let side = p.along.left() * (1.1 * width);
        core += light.at(p.at);
        ground += 0.5 * (light.at(p.at + side) + light.at(p.at + (-side)));
        n += 1.0;
    }
    let level = 0.5 * (core + ground) / n;
    let is_bare = |p: &&Place| {
        let side = p.along.left() * (0.35 * width);
        [p.at, p.at + side, p.at + (-side)]
            .iter()
            .all(|q| light.at(*q) > level)
    };
    let steps = over.iter().zip(over.iter().skip(1));
    let length: f64 = steps.map(|(a, b)| a.at.distance(b.at)).sum();
    length * over.iter().filter(is_bare).count() as f64 / over.len().max(1) as f64
}

/// The places of a closed line begun in the middle of its longest good stretch.
fn begun_well(line: &Measured) -> Vec<Place> {
    let n = line.places.len();
    let (mut best, mut length, mut run) = (0, 0, 0);
    for i in 0..2 * n {
        let good = line.places.get(i % n).is_some_and(|p| p.half.is_some());
        run = if good { run + 1 } else { 0 };
        if run > length && run <= n {
            (best, length) = (i + n - run / 2, run);
        }
    }
    let mut out = line.places.clone();
    out.rotate_left(best % n.max(1));
    out
}

/// Stretches of places that were measured, stragglers left out.
fn good_spans(places: &[Place]) -> Vec<core::ops::Range<usize>> {
    let mut out: Vec<core::ops::Range<usize>> = Vec::new();
    for (i, _) in places.iter().enumerate().filter(|(_, p)| p.half.is_some()) {
        match out.last_mut() {
            Some(run) if run.end == i => run.end = i + 1,
            _ => out.push(i..i + 1),
        }
    }
    out.retain(|r| r.len() >= 4);
    out
}

/// An end of a stretch: where it ends, the direction out of it, and how it bows (per mm).
struct Arm {
    at: Point,
    out: Vec2,
    bow: f64,
}

impl Arm {
    fn along(&self, t: f64) -> Point {
        self.at + self.out * t + self.out.left() * (self.bow * t * t)
    }

    /// The end of a stretch, by so much of it.
    fn of(span: &[Place], last: bool, reach: f64, shift: f64) -> Option<Self> {
        let order: Vec<&Place> = if last {
            span.iter().rev().collect()
        } else {
            span.iter().collect()
        };
        let end = order.first()?.at;
        let near: Vec<&Place> = order
            .iter()
            .take_while(|p| p.at.distance(end) < reach)
            .copied()
            .collect();
        let middle = near.get(near.len() / 2)?;
        let sign = if last { 1.0 } else { -1.0 };
        let axis = middle.along * sign;
        let rows = near.iter().map(|p| {
            let d = p.at + p.along.left() * shift - middle.at;
            (d.dot(axis), d.dot(axis.left()))
        });
        let rows: Vec<(f64, f64)> = rows.collect();
        let straight = least_squares(rows.iter().map(|(x, y)| ([1.0, *x], *y)))?;
        let bowed = least_squares(rows.iter().map(|(x, y)| ([1.0, *x, x * x], *y)));
        let off = |f: [f64; 3]| {
            let [a, b, c] = f;
            let all = rows.iter().map(|(x, y)| y - (a + b * x + c * x * x));
            libm::sqrt(all.map(|d| d * d).sum::<f64>() / rows.len() as f64)
        };
        let [a, b] = straight;
        let line = [a, b, 0.0];
        let form = match bowed {
            Some(f) if rows.len() > 8 && off(f) < 0.6 * off(line) && off(line) > 0.03 => f,
            _ => line,
        };
        let [a, b, c] = form;
        let x = rows.first()?.0;
        let slope = b + 2.0 * c * x;
        let out = (axis + axis.left() * slope).unit()?;
        Some(Self {
            at: middle.at + axis * x + axis.left() * (a + b * x + c * x * x),
            out,
            bow: c,
        })
    }
}

/// The corner between two stretches, by arms of so much of them, where there is one; and by how much the line turns.
fn corner(
    light: &Light,
    before: &[Place],
    after: &[Place],
    width: f64,
    shift: f64,
    reach: f64,
) -> (Option<Vec<Point>>, f64) {
    let arms = (
        Arm::of(before, true, reach, shift),
        Arm::of(after, false, reach, shift),
    );
    let (Some(a), Some(b)) = arms else {
        return (None, 0.0);
    };
    let turn = libm::acos((-a.out.dot(b.out)).clamp(-1.0, 1.0));
    let points = (turn >= TURNS).then(|| tip(light, &a, &b, turn, width, shift));
    (points.flatten(), turn)
}

/// The corner at which two arms meet: points from the one to the other.
fn tip(light: &Light, a: &Arm, b: &Arm, turn: f64, width: f64, shift: f64) -> Option<Vec<Point>> {
    let (mut at, s, t) = meet(a, b)?;
    let interior = core::f64::consts::PI - turn;
    let room = 0.5 * width / libm::tan(0.5 * interior).max(0.05);
    // Beyond what a corner of this angle hides there is no corner.
    let most = 2.0 * room + 1.5 * width + 1.5;
    if !(s > -width && t > -width && s < most && t < most) {
        return None;
    }
    if interior < SHARP
        && let Some(outward) = (a.out + b.out).unit()
        && let Some(end) = ink_ends(light, at, outward, width)
    {
        // Arms know the tip along its direction to their own error over the half angle's sine.
        let arms = 0.06 / libm::sin(0.5 * interior);
        let share = arms * arms / (arms * arms + 0.12 * 0.12);
        // The line wanted beside the middle keeps the middle's corner along its bisector but for its own shift.
        let inset = 0.5 * width - shift_along(a, shift, outward, interior);
        let by_ink = end - inset;
        if by_ink.abs() < 1.5 * width {
            at = at + outward * (share * by_ink);
        }
    }
    let mut points = Vec::new();
    carried(a, at, &mut points);
    points.push(at);
    let mut back = Vec::new();
    carried(b, at, &mut back);
    points.extend(back.into_iter().rev());
    Some(points)
}

/// How far beyond the middle's corner the wanted line's corner lies, along the bisector.
fn shift_along(a: &Arm, shift: f64, outward: Vec2, interior: f64) -> f64 {
    let side = if a.out.left().dot(outward) > 0.0 {
        1.0
    } else {
        -1.0
    };
    side * shift / libm::sin(0.5 * interior).max(0.1)
}

/// Points every half millimetre from an arm's end to the corner, bent to meet it.
fn carried(arm: &Arm, at: Point, out: &mut Vec<Point>) {
    let far = (at - arm.at).dot(arm.out);
    let miss = at - arm.along(far);
    let n = (far / 0.5) as i32;
    for i in 1..=n {
        let t = 0.5 * f64::from(i);
        if t < far - 0.2 {
            out.push(arm.along(t) + miss * (t / far));
        }
    }
}

/// Where two arms meet, and how far along each (Newton's steps from where their tangents do).
fn meet(a: &Arm, b: &Arm) -> Option<(Point, f64, f64)> {
    let sine = a.out.cross(b.out);
    let gap = b.at - a.at;
    let (mut s, mut t) = (gap.cross(b.out) / sine, gap.cross(a.out) / sine);
    for _ in 0..4 {
        let miss = b.along(t) - a.along(s);
        let u = a.out + a.out.left() * (2.0 * a.bow * s);
        let v = b.out + b.out.left() * (2.0 * b.bow * t);
        let below = u.cross(v);
        s += miss.cross(v) / below;
        t += miss.cross(u) / below;
    }
    let at = a.along(s);
    (at.is_finite() && s.is_finite() && t.is_finite()).then_some((at, s, t))
}

/// How far along a direction the ink reaches from a corner, mm.
fn ink_ends(light: &Light, at: Point, outward: Vec2, width: f64) -> Option<f64> {
    let step = 0.04;
    let core = (0..5)
        .map(|i| light.at(at + outward * (-0.3 * width * f64::from(i))))
        .fold(f32::INFINITY, f32::min);
    let ground = (0..5)
        .map(|i| light.at(at + outward * (1.2 * width + 0.2 * width * f64::from(i))))
        .sum::<f32>()
        / 5.0;
    let level = 0.5 * (core + ground);
    if ground - core < 0.12 * ground.abs().max(core.abs()) {
        return None;
    }
    let from = -1.5 * width;
    let n = (3.0 * width / step) as i32;
    let side = outward.left() * (0.1 * width);
    let value = |i: i32| {
        let p = at + outward * (from + step * f64::from(i));
        (light.at(p) + light.at(p + side) + light.at(p + (-side))) / 3.0
    };
    let mut end = None;
    for i in 0..n {
        let (a, b) = (value(i), value(i + 1));
        if a < level && b >= level {
            end = Some(from + step * (f64::from(i) + f64::from((level - a) / (b - a).max(1e-6))));
        }
    }
    end
}

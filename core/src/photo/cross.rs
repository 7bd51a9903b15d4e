//! A cross to a small part of a pixel: four arms that end, and where the lines through opposite ones meet.
//!
//! 1. By how much the light along each of many rays lies below both its sides, a mean over what the arms are long, is a
//!    curve over the directions: texture, scratches and edges of shadows hardly show in it, arms do. Its four
//!    highest peaks must be about as high, and nothing else nearly so.
//! 2. On circles about the middle each arm's own middle is measured; a line goes through those of opposite arms.
//!    Where the two lines meet is the cross; begun again from there.
//! 3. Each arm must end: where two scratches cross, or a line has a corner, there is no mark.

use super::fits::line;
use super::grid::quantile;
use super::mark::{GRAIN, MarkKind, Seen};
use super::picture::Picture;
use crate::geom::{Point, Sorted as _, Vec2};
use core::f64::consts::{PI, TAU};

/// Directions that are looked along.
const RAYS: usize = 120;
/// Circles on which arms are measured.
const CIRCLES: usize = 8;
/// Arms are at least so far apart, radians.
const APART: f64 = 0.55;
/// The shallowest arm is at least so deep as a share of the deepest.
const EVEN: f32 = 0.35;
/// An arm differs from its ground by this at least (logarithm of light).
const FAINT: f32 = 0.06;

/// A cross near `at`, of a thing of these second moments.
pub(super) fn cross(
    picture: &Picture,
    mut at: Point,
    radius: f64,
    solid: f64,
    dark: bool,
) -> Option<Seen> {
    let sign = if dark { 1.0 } else { -1.0 };
    let look = Look { picture, sign };
    // Strokes of length 2L have the variance L²/6 each way; their area tells how wide they are.
    let mut long = radius / 0.816;
    let area = solid * PI * radius * radius;
    let half = long - libm::sqrt((long * long - 0.25 * area).max(0.0));
    let mut last = None;
    for _ in 0..3 {
        let near = (0.32 * long).max(1.4 * half + 0.8);
        let far = 0.85 * long;
        if far < near + 1.0 {
            return None;
        }
        let seen = look.arms(at, near, far, half)?;
        let mut arms: [Vec<Point>; 4] = Default::default();
        for (arm, angle) in arms.iter_mut().zip(seen.angles) {
            for i in 0..CIRCLES {
                let r = near + (far - near) * i as f64 / (CIRCLES - 1) as f64;
                let reach = (2.0 * half + 1.5).min(0.45 * r);
                arm.extend(look.middle_of(at, angle, r, reach));
            }
        }
        if arms.iter().any(|a| a.len() < CIRCLES - 3) {
            return None;
        }
        let [a, b, c, d] = arms;
        let (one, two) = ([a, c].concat(), [b, d].concat());
        let ((p, u), (q, v)) = (line(&one)?, line(&two)?);
        let sine = u.cross(v);
        if sine.abs() < 0.35 {
            return None;
        }
        let off = |pts: &[Point], p: Point, u: Vec2| {
            pts.iter().map(|x| (*x - p).cross(u).abs()).sum::<f64>() / pts.len() as f64
        };
        let rough = off(&one, p, u).max(off(&two, q, v));
        let moved = p + u * ((q - p).cross(v) / sine);
        if moved.distance(at) > 0.5 * long {
            return None;
        }
        at = moved;
        let ends = look.ends(at, [u, v], long, 0.5 * seen.depth, half)?;
        let [e, f] = ends;
        long = 0.5 * (e.length() + f.length());
        last = Some(Seen {
            at,
            kind: MarkKind::Cross,
            dark,
            radius: long,
            oval: Vec2::new(0.0, 0.0),
            arms: ends,
            rough,
            stands_out: seen.stands_out,
            step: f64::from(seen.depth),
        });
    }
    last.filter(|s| s.rough < 0.06 * s.radius + 0.4)
}

/// What is seen of four arms.
struct Arms {
    angles: [f64; 4],
    /// How deep the shallowest is (logarithm of light).
    depth: f32,
    stands_out: f64,
}

/// A picture looked at so that arms are low.
struct Look<'a> {
    picture: &'a Picture,
    sign: f32,
}

impl Look<'_> {
    fn value(&self, p: Point) -> f32 {
        self.sign * self.picture.light(p)
    }

    /// By how much a place lies below both sides of it, `side` away (logarithm of light): the edge of a shadow is no arm.
    fn ridge(&self, p: Point, side: Vec2) -> f32 {
        let log = |p: Point| self.sign * libm::logf(self.picture.light(p) + 0.01);
        log(p + side).min(log(p + (-side))) - log(p)
    }

    /// Directions of four arms in turn, how deep the shallowest is, and what is seen between them.
    fn arms(&self, at: Point, near: f64, far: f64, half: f64) -> Option<Arms> {
        let angle = |i: usize| TAU * i as f64 / RAYS as f64;
        let along = |i: usize| {
            let ray = Vec2::from_angle(angle(i));
            let side = ray.left() * (1.7 * half + 1.5);
            let sum: f32 = (0..CIRCLES)
                .map(|k| {
                    let r = near + (far - near) * k as f64 / (CIRCLES - 1) as f64;
                    self.ridge(at + ray * r, side)
                })
                .sum();
            sum / CIRCLES as f32
        };
        let raw: Vec<f32> = (0..RAYS).map(along).collect();
        let get = |i: usize| raw.get(i % RAYS).copied().unwrap_or(0.0);
        let soft: Vec<f32> = (0..RAYS)
            .map(|i| 0.5 * get(i) + 0.25 * (get(i + 1) + get(i + RAYS - 1)))
            .collect();
        let at = |i: usize| soft.get(i % RAYS).copied().unwrap_or(0.0);
        let mut peaks: Vec<(f32, usize)> = (0..RAYS)
            .filter(|&i| at(i) >= at(i + 1) && at(i) > at(i + RAYS - 1))
            .map(|i| (at(i), i))
            .collect();
        peaks.order_by(|a, b| b.0.total_cmp(&a.0));
        let mut kept: Vec<(f32, usize)> = Vec::new();
        for d in peaks {
            let apart =
                |k: &(f32, usize)| libm::remainder(angle(k.1) - angle(d.1), TAU).abs() > APART;
            if kept.iter().all(apart) {
                kept.push(d);
            }
        }
        let deepest = kept.first()?.0;
        let depth = kept.get(3)?.0;
        let fifth = kept.get(4).map_or(0.0, |d| d.0);
        if depth < EVEN * deepest || depth < FAINT || fifth > 0.6 * depth {
            return None;
        }
        kept.truncate(4);
        kept.order_by(|a, b| a.1.cmp(&b.1));
        let angles: Vec<f64> = kept.iter().map(|k| angle(k.1)).collect();
        let angles = <[f64; 4]>::try_from(angles).ok()?;
        let [a, b, c, d] = angles;
        let opposite = |p: f64, q: f64| libm::remainder(q - p - PI, TAU).abs() < 0.6;
        let between = (0..RAYS).filter(|i| {
            let off = |a: &f64| libm::remainder(angle(*i) - a, TAU).abs();
            angles.iter().all(|a| off(a) > 0.4)
        });
        let mut between: Vec<f32> = between.map(|i| at(i).max(0.0)).collect();
        let usual = quantile(&mut between, 0.7);
        (opposite(a, c) && opposite(b, d)).then(|| Arms {
            angles,
            depth,
            stands_out: f64::from(depth / (usual + GRAIN)),
        })
    }

    /// The middle of an arm on a circle, near where it should be.
    fn middle_of(&self, at: Point, angle: f64, r: f64, reach: f64) -> Option<Point> {
        let across = Vec2::from_angle(angle).left();
        let from = at + Vec2::from_angle(angle) * r;
        const PLACES: i32 = 12;
        let offs: Vec<(f64, f32)> = (-PLACES..=PLACES)
            .map(|i| {
                let t = reach * f64::from(i) / f64::from(PLACES);
                (t, self.value(from + across * t))
            })
            .collect();
        let mut values: Vec<f32> = offs.iter().map(|o| o.1).collect();
        let (low, high) = (quantile(&mut values, 0.04), quantile(&mut values, 0.8));
        let level = 0.5 * (low + high);
        let (mut weight, mut sum) = (0.0, 0.0);
        for (t, v) in offs {
            let w = f64::from((level - v).max(0.0));
            weight += w;
            sum += w * t;
        }
        (weight > 0.0).then(|| from + across * (sum / weight))
    }

    /// Two arms, each as long as the mean of it and the opposite one; nothing where one does not end.
    fn ends(
        &self,
        at: Point,
        along: [Vec2; 2],
        long: f64,
        fall: f32,
        half: f64,
    ) -> Option<[Vec2; 2]> {
        let end = |u: Vec2| {
            let side = u.left() * (1.7 * half + 1.5);
            let mut r = 0.4 * long;
            let mut beyond = 0;
            while r < 1.9 * long + 2.0 {
                // Across the stroke, so that an arm that bends a little is not lost.
                let deep = [-0.5, 0.0, 0.5]
                    .iter()
                    .map(|t| self.ridge(at + u * r + u.left() * (t * (half + 0.5)), side))
                    .fold(f32::NEG_INFINITY, f32::max);
                beyond = if deep < fall { beyond + 1 } else { 0 };
                if beyond == 3 {
                    return Some(r - 1.5);
                }
                r += 0.75;
            }
            None
        };
        let [u, v] = along;
        let both = |u: Vec2| Some(u * (0.5 * (end(u)? + end(-u)?)));
        Some([both(u)?, both(v)?])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A bright ground with what a rule says is ink, each pixel the mean of sixteen places of it.
    fn picture(ink: impl Fn(Point) -> bool) -> Picture {
        const SIDE: usize = 260;
        let mut bytes = Vec::new();
        for i in 0..SIDE * SIDE {
            let (x, y) = ((i % SIDE) as f64, (i / SIDE) as f64);
            let part = |k: i32| (f64::from(k) - 1.5) / 4.0;
            let hits = (0..16)
                .filter(|k| ink(Point::new(x + part(k % 4), y + part(k / 4))))
                .count();
            bytes.extend([(200 - 10 * hits) as u8; 3]);
        }
        Picture::from_rgb(SIDE, SIDE, bytes).unwrap()
    }

    fn stroke(p: Point, a: Point, b: Point, half: f64) -> bool {
        let d = b - a;
        let t = ((p - a).dot(d) / d.length_squared()).clamp(0.0, 1.0);
        p.distance(a + d * t) < half
    }

    #[test]
    fn a_cross_of_unlike_arms_is_where_its_strokes_meet() {
        let at = Point::new(130.3, 128.6);
        let (u, v) = (Vec2::from_angle(0.3), Vec2::from_angle(0.3 + 1.45));
        let strokes = [(u, 30.0, 24.0), (v, 22.0, 31.0)];
        let p = picture(|p| {
            strokes
                .iter()
                .any(|(d, a, b)| stroke(p, at + *d * -a, at + *d * *b, 1.8))
        });
        // As its second moments tell it: a middle that is off, and a mean length.
        let seen = cross(&p, Point::new(131.5, 127.0), 22.0, 0.25, true).unwrap();
        assert!(seen.at.distance(at) < 0.1, "{:?}", seen.at);
        assert!((seen.radius - 27.0).abs() < 2.5, "{}", seen.radius);
    }

    #[test]
    fn scratches_that_cross_and_corners_are_no_marks() {
        let at = Point::new(130.0, 130.0);
        let (u, v) = (Vec2::from_angle(0.2), Vec2::from_angle(1.7));
        let scratches = picture(|p| {
            stroke(p, at + u * -300.0, at + u * 300.0, 1.8)
                || stroke(p, at + v * -300.0, at + v * 300.0, 1.8)
        });
        assert!(cross(&scratches, at, 22.0, 0.25, true).is_none());
        let corner =
            picture(|p| stroke(p, at, at + u * 30.0, 1.8) || stroke(p, at, at + v * 30.0, 1.8));
        assert!(cross(&corner, at, 22.0, 0.25, true).is_none());
    }
}

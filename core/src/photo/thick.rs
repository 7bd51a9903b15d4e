//! What the thickness of a part does to its silhouette, taken out.
//!
//! What is seen of a part's upper rim lies farther from the point under the camera than it should, by thickness
//! over height. Where the rim faces that point its lower edge is seen instead, in the plane of the frame, and
//! stays. Between the two the upright edge of a corner is seen; it is no rim, and the two sides are carried on to
//! where they meet.
//!
//! Fails where the camera's height is wrong, and on corners that are round where lower and upper rim meet.

use super::fits::line;
use super::part::{Rim, STEP};
use crate::geom::Point;

/// Sine of the angle within which a rim points at the camera's foot.
const GRAZES: f64 = 0.06;
/// Places of a rim beside such a stretch that are smoothed with it.
const MARGIN: usize = 3;
/// Off a straight line by less is straight, mm.
const STRAIGHT: f64 = 0.15;

/// The point under the camera, its height, and the part's thickness, mm.
#[derive(Clone, Copy, Debug)]
pub(super) struct Above {
    pub foot: Point,
    pub height: f64,
    pub thickness: f64,
}

impl Above {
    /// A rim brought down to the plane of the frame.
    pub fn lowered(&self, rim: &[Rim]) -> Vec<Point> {
        let n = rim.len();
        let share = self.thickness / self.height;
        let away = |r: &Rim| {
            let from = (r.at - self.foot).unit();
            from.is_some_and(|u| u.dot(r.outward) > GRAZES)
        };
        let away: Vec<bool> = rim.iter().map(away).collect();
        let votes = |i: usize| {
            let near = (0..=2 * MARGIN).filter_map(|k| away.get((i + n + k - MARGIN) % n));
            near.filter(|a| **a).count() > MARGIN
        };
        let upper: Vec<bool> = (0..n).map(|i| n > 2 * MARGIN && votes(i)).collect();
        let down = |(r, upper): (&Rim, &bool)| match upper {
            true => (self.foot + (r.at - self.foot) * (1.0 - share), true),
            false => (r.at, true),
        };
        let mut out: Vec<(Point, bool)> = rim.iter().zip(&upper).map(down).collect();
        // Between a side whose upper edge is seen and one whose lower edge is, the upright edge is seen as well, which is on
        // neither: it points at the camera's foot, and is so long as what it joins is lowered by.
        for (i, (r, is_upper)) in rim.iter().zip(&upper).enumerate() {
            let long = (share * r.at.distance(self.foot) / STEP) as usize + 2 * MARGIN;
            let (back, on) = match (is_upper, upper.get((i + 1) % n)) {
                (true, Some(false)) => (MARGIN, long),
                (false, Some(true)) => (long, MARGIN),
                _ => continue,
            };
            for k in (0..back + on).filter(|_| 2 * (back + on) < n) {
                if let Some(o) = out.get_mut((i + 1 + n - back + k) % n) {
                    o.1 = false;
                }
            }
        }
        cornered(&out)
    }
}

/// A closed run without the points that are not meant, with the corners that lie there.
fn cornered(run: &[(Point, bool)]) -> Vec<Point> {
    let n = run.len();
    let Some(start) = (0..n).find(|i| {
        run.get(*i).is_some_and(|p| p.1) && run.get((i + n - 1) % n).is_some_and(|p| !p.1)
    }) else {
        return run.iter().map(|p| p.0).collect();
    };
    let turned: Vec<(Point, bool)> = run.iter().cycle().skip(start).take(n).copied().collect();
    let mut spans: Vec<(bool, Vec<Point>)> = Vec::new();
    for (p, meant) in turned {
        match spans.last_mut() {
            Some((kind, span)) if *kind == meant => span.push(p),
            _ => spans.push((meant, vec![p])),
        }
    }
    let mut out = Vec::with_capacity(n);
    for (i, (meant, span)) in spans.iter().enumerate() {
        let beside = |k: usize| spans.get((i + k) % spans.len()).map(|s| s.1.as_slice());
        let at = match (meant, beside(spans.len() - 1), beside(1)) {
            (false, Some(before), Some(after)) => corner(before, after),
            _ => None,
        };
        match at {
            _ if *meant => out.extend(span),
            Some(at) => out.push(at),
            // On a curve the one side, lowered, ends where the other begins.
            None if ends_near(beside(spans.len() - 1), beside(1)) => {}
            None => out.extend(span),
        }
    }
    out
}

fn ends_near(before: Option<&[Point]>, after: Option<&[Point]>) -> bool {
    let ends = before
        .and_then(|b| b.last())
        .zip(after.and_then(|a| a.first()));
    ends.is_some_and(|(a, b)| a.distance(*b) < 8.0 * STEP)
}

/// Where the straight end of a run, carried on, meets the straight beginning of the next.
fn corner(before: &[Point], after: &[Point]) -> Option<Point> {
    const ARM: usize = 12;
    let arm = |points: &[Point]| {
        let (p, u) = line(points)?;
        let off = points.iter().map(|q| (*q - p).cross(u).abs());
        (points.len() >= ARM / 2 && off.fold(0.0, f64::max) < STRAIGHT).then_some((p, u))
    };
    let (a, u) = arm(before.get(before.len().saturating_sub(ARM)..)?)?;
    let (b, v) = arm(after.get(..ARM.min(after.len()))?)?;
    let sine = u.cross(v);
    let at = a + u * ((b - a).cross(v) / sine);
    let (end, start) = (before.last()?, after.first()?);
    let far = 2.0 * end.distance(*start) + 3.0;
    (sine.abs() > 0.2 && at.distance(*end) < far && at.distance(*start) < far).then_some(at)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Points every half millimetre along straight sides, with the way out of each.
    fn rim_of(corners: &[(f64, f64)]) -> Vec<Rim> {
        let ends = corners.iter().zip(corners.iter().cycle().skip(1));
        ends.flat_map(|(a, b)| {
            let (a, b) = (Point::new(a.0, a.1), Point::new(b.0, b.1));
            let n = (a.distance(b) / STEP) as i32;
            let outward = -(b - a).unit().unwrap().left();
            (0..n).map(move |i| Rim {
                at: a.lerp(b, f64::from(i) / f64::from(n)),
                outward,
                step: 1.0,
            })
        })
        .collect()
    }

    #[test]
    fn the_upright_edge_at_a_corner_of_a_thick_part_is_not_part_of_its_rim() {
        let above = Above {
            foot: Point::new(0.0, 0.0),
            height: 400.0,
            thickness: 10.0,
        };
        // A square from (50, 20) to (110, 80): its near sides are seen below, its far ones above, farther out.
        let grown = |x: f64, y: f64| (x / 0.975, y / 0.975);
        let seen = [
            (50.0, 20.0),
            (110.0, 20.0),
            grown(110.0, 20.0),
            grown(110.0, 80.0),
            grown(50.0, 80.0),
            (50.0, 80.0),
        ];
        // The way out is to the right of the way: these run clockwise as the rims of a mask do.
        let run = above.lowered(&rim_of(
            &seen
                .map(|(x, y)| (x, -y))
                .into_iter()
                .rev()
                .collect::<Vec<_>>(),
        ));
        for p in run {
            let off = ((p.x - 80.0).abs() - 30.0).max((-p.y - 50.0).abs() - 30.0);
            assert!(off.abs() < 0.05, "{p:?} {off}");
        }
    }
}

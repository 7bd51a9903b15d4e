//! Chords put back into the arcs they once were.
//!
//! *Problem.* Many programs write a circle as a polygon and a curve as many short lines. Cut as they stand
//! they leave facets and a program of thousands of moves. But a hexagon is no circle, and nobody may change
//! a drawing by more than was said.
//!
//! *Rule.* A run of straight pieces becomes one arc where
//!
//! 1. no corner lies in it: nowhere it turns by more than [`WIDEST`], nor suddenly more than beside it
//!    ([`SUDDEN`]); so a hexagon and an octagon stay, and a chamfer between two arcs does;
//! 2. it turns one way all along, and has at least [`LEAST`] pieces: an arc through given ends has one free
//!    number, and three places between say three times that it is right;
//! 3. **all** of the run lies within the tolerance of the arc: its corners, and the middles of its chords,
//!    where a chord is furthest from a circle through its ends. The arc then is no further from the run
//!    either, since over a chord it lies between that middle's distance and those of the ends.
//!
//! So a polygon of many sides becomes round only where its sides lie within the tolerance of the circle, and
//! there nobody can tell the two apart.
//!
//! *Steps.* First runs whose corners lie *on* a circle (within [`ON`] of the tolerance): what was an arc
//! comes back with its own ends. What is left of smooth runs, chords of a spline or an ellipse, is covered by
//! arcs within the whole tolerance ([`LEAST_LOOSE`], and neighbouring chords and turns that differ by no more
//! than [`UNEVEN`]). The longest arc from a place is found by doubling and halving, so the work is near linear.
//!
//! *Fails.* Where a straight edge as short as the chords runs on into an arc, it may become part of it,
//! within the tolerance.

use super::course::Course;
use crate::fit::fit_circle;
use crate::geom::{Arc, Point, Vec2, turn_between};
use core::f64::consts::TAU;

/// A turn of more than this, in radians (31°), is a corner. Twelve chords make the coarsest circle.
const WIDEST: f64 = 0.541;
/// A turn of more than this (6°) is a corner if it is [`SUDDEN`] times those beside it.
const SLIGHT: f64 = 0.105;
/// See [`SLIGHT`].
const SUDDEN: f64 = 2.5;
/// Fewest chords that are an arc.
const LEAST: usize = 4;
/// Fewest chords that an arc only comes near to.
const LEAST_LOOSE: usize = 6;
/// The part of the tolerance within which corners lie on the circle itself.
const ON: f64 = 0.15;
/// An arc that stays closer to its chord than this many times that is as good as straight.
const FLAT: f64 = 4.0;
/// Most chords that are looked at where all are as good as straight.
const MOST_FLAT: usize = 512;
/// How many times as long neighbouring chords may be, or turn, in a smooth run.
const UNEVEN: f64 = 3.0;

/// What became of a course.
pub(crate) enum Rounded {
    /// It is a whole circle.
    Circle(Arc),
    /// Chords were put back, or none were.
    Course(Course),
}

/// What was put back, in numbers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Count {
    pub(crate) chords: usize,
    pub(crate) arcs: usize,
}

/// A run of pieces: up to which corner, and by how much it turns where it is an arc.
type Run = (usize, f64);

/// Puts chords back, nowhere further than `tolerance` mm from the course.
pub(crate) fn put_back(course: Course, tolerance: f64) -> (Rounded, Count) {
    let pieces = course.points.len().saturating_sub(1);
    let none = Count::default();
    if tolerance <= 0.0 || course.stated.is_some() || pieces < LEAST {
        return (Rounded::Course(course), none);
    }
    let breaks = breaks(&course);
    let first = breaks.iter().position(|b| *b);
    if first.is_none()
        && course.is_closed()
        && let Some(circle) = ring(&course.points, tolerance)
    {
        let count = Count {
            chords: pieces,
            arcs: 1,
        };
        return (Rounded::Circle(circle), count);
    }
    // Begun at a corner, so that no run is cut by the place where the course happens to begin.
    let turned = match first {
        Some(at) if course.is_closed() && at > 0 => Some(begun_at(&course, at)),
        _ => None,
    };
    let shift = turned.as_ref().and(first).unwrap_or(0);
    let from = turned.as_ref().unwrap_or(&course);
    let is_break = |k: usize| {
        let at = if course.is_closed() {
            (k + shift) % pieces
        } else {
            k
        };
        k == 0 || k == pieces || breaks.get(at).copied().unwrap_or(true)
    };
    let (made, count) = covered(from, tolerance, is_break);
    // Untouched courses keep their start.
    (
        Rounded::Course(if count.arcs > 0 { made } else { course }),
        count,
    )
}

/// Which corners no arc may run through. A closed course has as many as it has pieces.
fn breaks(course: &Course) -> Vec<bool> {
    let pieces = course.points.len().saturating_sub(1);
    let mut bent = vec![false; pieces];
    for (piece, _) in &course.bends {
        if let Some(b) = bent.get_mut(*piece) {
            *b = true;
        }
    }
    let closed = course.is_closed();
    let corners = if closed { pieces } else { pieces + 1 };
    let ways: Vec<Vec2> = (course.points.iter().zip(course.points.iter().skip(1)))
        .map(|(p, q)| *q - *p)
        .collect();
    // The pieces before and after a corner.
    let sides = |k: usize| {
        let before = if k == 0 {
            closed.then_some(pieces.saturating_sub(1))
        } else {
            Some(k - 1)
        };
        (before, if k < pieces { Some(k) } else { None })
    };
    let turns: Vec<f64> = (0..corners)
        .map(|k| match sides(k) {
            (Some(a), Some(b)) => match (ways.get(a), ways.get(b)) {
                (Some(a), Some(b)) => turn_between(*a, *b).abs(),
                _ => f64::MAX,
            },
            _ => f64::MAX,
        })
        .collect();
    let turn = |k: usize| turns.get(k % corners.max(1)).copied().unwrap_or(0.0);
    (0..corners)
        .map(|k| {
            let (a, b) = sides(k);
            let arc = |s: Option<usize>| s.is_none_or(|s| bent.get(s).copied().unwrap_or(true));
            let beside = turn(k + corners - 1).max(turn(k + 1));
            arc(a) || arc(b) || turn(k) > WIDEST || (turn(k) > SLIGHT && turn(k) > SUDDEN * beside)
        })
        .collect()
}

/// A closed course begun at another of its corners.
fn begun_at(course: &Course, at: usize) -> Course {
    let pieces = course.points.len().saturating_sub(1);
    let mut turned = course.clone();
    let corners = course.points.iter().take(pieces);
    turned.points = corners.cycle().skip(at).take(pieces + 1).copied().collect();
    for (piece, _) in &mut turned.bends {
        *piece = (*piece + pieces - at) % pieces.max(1);
    }
    turned.bends.sort_unstable_by_key(|b| b.0);
    turned
}

/// The circle whose chords these are; the first point is the last one too.
fn ring(points: &[Point], tolerance: f64) -> Option<Arc> {
    let fit = fit_circle(points.get(1..)?)?;
    let turn = turn_about(points, fit.center)?;
    let whole = (turn.abs() - TAU).abs() < 1e-6;
    let circle = Arc::circle(fit.center, fit.radius, turn > 0.0);
    (whole && lies_on(points, &circle, ON * tolerance, tolerance)).then_some(circle)
}

/// How far a run turns about a centre; nothing where it does not go one way all along.
fn turn_about(points: &[Point], center: Point) -> Option<f64> {
    let pairs = points.iter().zip(points.iter().skip(1));
    let mut turns = pairs.map(|(p, q)| turn_between(*p - center, *q - center));
    let first = turns.next()?;
    let sound = |t: f64| t * first > 0.0 && t.abs() <= WIDEST;
    let mut sum = first;
    for turn in turns {
        sum += sound(turn).then_some(turn)?;
    }
    sound(first).then_some(sum)
}

/// Corners within `on` of the circle, and all of the chords within `tolerance`.
fn lies_on(points: &[Point], circle: &Arc, on: f64, tolerance: f64) -> bool {
    let off = |p: &Point| (p.distance(circle.center) - circle.radius).abs();
    let pairs = points.iter().zip(points.iter().skip(1));
    points.iter().all(|p| off(p) <= on)
        && pairs
            .into_iter()
            .all(|(p, q)| off(&p.midpoint(*q)) <= tolerance)
}

/// How a stretch of chords lies to the best arc over it.
enum Over {
    /// The arc covers it, and turns by so much.
    Arc(f64),
    /// It is as good as straight: a longer stretch may show an arc.
    Flat,
    /// No arc covers it.
    Off,
}

/// The arc from the first to the last of these points that covers all between, if one does.
fn arc_over(points: &[Point], on: f64, tolerance: f64) -> Over {
    let (Some(from), Some(to)) = (points.first(), points.last()) else {
        return Over::Off;
    };
    let chord = *to - *from;
    let Some(way) = chord.unit() else {
        return Over::Off;
    };
    let (middle, half) = (from.midpoint(*to), 0.5 * chord.length());
    // A circle through both ends has its centre at some height over the middle of the chord. A point
    // (x, y) in that frame lies on it where x² + y² − half² = 2 y·height: least squares over all.
    let (mut over, mut under, mut highest) = (0.0, 0.0, 0.0_f64);
    for p in points {
        let v = *p - middle;
        let (x, y) = (v.dot(way), way.cross(v));
        over += y * (x * x + y * y - half * half);
        under += 2.0 * y * y;
        highest = highest.max(y.abs());
    }
    if highest <= FLAT * on {
        return Over::Flat;
    }
    let center = middle + way.left() * (over / under);
    let arc = turn_about(points, center)
        .filter(|sweep| sweep.abs() < 0.99 * TAU)
        .and_then(|sweep| Arc::from_sweep(*from, *to, sweep));
    match arc {
        // The edge as it will be made, by its ends and its turn.
        Some(arc) if lies_on(points, &arc, on, tolerance) => Over::Arc(arc.sweep),
        _ => Over::Off,
    }
}

/// Chords and turns change slowly, and turn one way.
fn is_smooth(points: &[Point]) -> bool {
    let ways = points.iter().zip(points.iter().skip(1));
    let ways: Vec<Vec2> = ways.map(|(p, q)| *q - *p).collect();
    let pairs = || ways.iter().zip(ways.iter().skip(1));
    let even =
        |a: f64, b: f64| a * b > 0.0 && a.abs() <= UNEVEN * b.abs() && b.abs() <= UNEVEN * a.abs();
    let turns: Vec<f64> = pairs().map(|(a, b)| turn_between(*a, *b)).collect();
    pairs().all(|(a, b)| even(a.length(), b.length()))
        && (turns.iter().zip(turns.iter().skip(1))).all(|(a, b)| even(*a, *b))
}

/// What begins a run: pieces that one arc covers, as many as there can be, or chords that stay.
fn longest(points: &[Point], least: usize, covers: &impl Fn(&[Point]) -> Over) -> Run {
    let most = points.len().saturating_sub(1);
    let over = |n: usize| points.get(..=n).map_or(Over::Off, covers);
    let mut n = least.min(most);
    let mut best = loop {
        match over(n) {
            _ if most < least => return (1, 0.0),
            Over::Arc(sweep) => break (n, sweep),
            Over::Off => return (1, 0.0),
            // Half of what is flat stays: the other half may belong to an arc that begins there.
            Over::Flat if n == most || n >= MOST_FLAT => return (n.div_ceil(2), 0.0),
            Over::Flat => n = (2 * n).min(most),
        }
    };
    let mut beyond = most + 1;
    while beyond - best.0 > 1 {
        let next = if beyond > most {
            (2 * best.0).min(most)
        } else {
            best.0 + (beyond - best.0) / 2
        };
        match over(next) {
            Over::Arc(sweep) => best = (next, sweep),
            _ => beyond = next,
        }
    }
    best
}

/// A run cut into arcs and single chords; ends are counted from its start.
fn cut(points: &[Point], least: usize, covers: impl Fn(&[Point]) -> Over) -> Vec<Run> {
    let mut runs = Vec::new();
    let mut at = 0;
    while at + 1 < points.len() {
        let rest = points.get(at..).unwrap_or_default();
        match longest(rest, least, &covers) {
            (pieces, 0.0) => runs.extend((at + 1..=at + pieces).map(|end| (end, 0.0))),
            (pieces, sweep) => runs.push((at + pieces, sweep)),
        }
        at = runs.last().map_or(points.len(), |r: &Run| r.0);
    }
    runs
}

/// The course with all its runs between breaks covered.
fn covered(course: &Course, tolerance: f64, is_break: impl Fn(usize) -> bool) -> (Course, Count) {
    let mut made = Course {
        points: Vec::new(),
        bends: Vec::new(),
        ..course.clone()
    };
    made.points.extend(course.points.first());
    let mut count = Count::default();
    let pieces = course.points.len().saturating_sub(1);
    let mut bends = course.bends.iter().peekable();
    let mut from = 0;
    while from < pieces {
        let to = (from + 1..pieces).find(|k| is_break(*k)).unwrap_or(pieces);
        let run = course.points.get(from..=to).unwrap_or_default();
        let bend = bends.next_if(|(piece, _)| *piece == from).map(|b| b.1);
        let runs = match bend {
            Some(sweep) => vec![(1, sweep)],
            None => arcs_of(run, tolerance),
        };
        let mut before = 0;
        for (end, sweep) in runs {
            if sweep != 0.0 {
                made.bends.push((made.points.len() - 1, sweep));
            }
            if sweep != 0.0 && bend.is_none() {
                count.chords += end - before;
                count.arcs += 1;
            }
            before = end;
            made.points.extend(run.get(end));
        }
        from = to;
    }
    (made, count)
}

/// A run without corners as arcs and chords.
fn arcs_of(run: &[Point], tolerance: f64) -> Vec<Run> {
    let on = ON * tolerance;
    let exact = cut(run, LEAST, |p| arc_over(p, on, tolerance));
    let mut runs = Vec::new();
    let mut from = 0;
    let mut rest = exact.into_iter().peekable();
    while let Some((end, sweep)) = rest.next() {
        if sweep != 0.0 {
            runs.push((end, sweep));
            from = end;
            continue;
        }
        let mut last = end;
        while let Some((end, _)) = rest.next_if(|r| r.1 == 0.0) {
            last = end;
        }
        let chords = run.get(from..=last).unwrap_or_default();
        let loose = cut(chords, LEAST_LOOSE, |p| {
            if is_smooth(p) {
                arc_over(p, tolerance, tolerance)
            } else {
                Over::Off
            }
        });
        runs.extend(loose.into_iter().map(|(end, sweep)| (from + end, sweep)));
        from = last;
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Edge;

    fn polygon(n: usize, radius: f64) -> Course {
        let at = |i: usize| {
            Point::new(30.0, 40.0) + Vec2::from_angle(TAU * i as f64 / n as f64 + 0.3) * radius
        };
        let mut course = Course::at(at(0));
        (1..n).for_each(|i| course.line_to(at(i)));
        course.closed = true;
        course.settle();
        course
    }

    fn edges(rounded: Rounded) -> Vec<Edge> {
        match rounded {
            Rounded::Circle(arc) => vec![Edge::Arc(arc)],
            Rounded::Course(course) => course.edges(),
        }
    }

    #[test]
    fn a_polygon_is_a_circle_only_where_its_sides_lie_on_it() {
        // The middle of a side lies r (1 − cos(π/n)) inside: 0.0308 mm for 80 sides at 40 mm.
        let round = |n, r| matches!(put_back(polygon(n, r), 0.05).0, Rounded::Circle(_));
        assert!(round(80, 40.0) && round(400, 150.0) && round(12, 1.4));
        assert!(!round(80, 80.0) && !round(6, 0.2) && !round(8, 0.5) && !round(12, 2.0));
        let (kept, count) = put_back(polygon(36, 20.0), 0.05);
        assert_eq!((edges(kept).len(), count), (36, Count::default()));
        let (Rounded::Circle(arc), _) = put_back(polygon(80, 40.0), 0.05) else {
            panic!("a circle");
        };
        assert!((arc.radius - 40.0).abs() < 1e-9);
    }

    /// A plate with rounded corners in chords: the sides stay, the corners become four arcs.
    #[test]
    fn corners_and_sides_stay_between_arcs() {
        let corner = |x: f64, y: f64, from: f64| {
            (0..=12).map(move |i| {
                let a = (from + 90.0 * f64::from(i) / 12.0).to_radians();
                Point::new(x, y) + Vec2::from_angle(a) * 10.0
            })
        };
        let all = corner(90.0, 50.0, 0.0)
            .chain(corner(10.0, 50.0, 90.0))
            .chain(corner(10.0, 10.0, 180.0))
            .chain(corner(90.0, 10.0, 270.0));
        let points: Vec<Point> = all.collect();
        for start in [0, 5, 13, 20] {
            let mut course = Course::at(points[start]);
            (1..52).for_each(|i| course.line_to(points[(start + i) % 52]));
            course.closed = true;
            course.settle();
            let (rounded, count) = put_back(course, 0.05);
            let edges = edges(rounded);
            let arcs = edges
                .iter()
                .filter(|e| matches!(e, Edge::Arc(a) if (a.radius - 10.0).abs() < 1e-9));
            assert_eq!(
                (edges.len(), arcs.count(), count.chords),
                (8, 4, 48),
                "{start}: {edges:?}"
            );
        }
    }

    /// Whatever is put back lies within the tolerance, both ways.
    #[test]
    fn an_ellipse_in_chords_is_covered_within_the_tolerance() {
        for n in [40, 160, 700] {
            let at = |i: usize| {
                let a = TAU * i as f64 / n as f64;
                Point::new(60.0 * libm::cos(a), 25.0 * libm::sin(a))
            };
            let mut course = Course::at(at(0));
            (1..n).for_each(|i| course.line_to(at(i)));
            course.closed = true;
            course.settle();
            let before = course.edges();
            let (rounded, count) = put_back(course, 0.05);
            let after = edges(rounded);
            assert_eq!(
                n >= 160,
                count.arcs > 0 && after.len() < 60,
                "{n}: {}",
                after.len()
            );
            for (from, to) in [(&before, &after), (&after, &before)] {
                for e in from.iter() {
                    for i in 0..=20 {
                        let p = e.point_at(f64::from(i) / 20.0);
                        let off = to.iter().map(|f| f.distance(p)).fold(f64::MAX, f64::min);
                        assert!(off <= 0.05 + 1e-9, "{n}: {off}");
                    }
                }
            }
        }
    }

    #[test]
    fn gear_teeth_and_finger_joints_stay() {
        let mut gear = Course::at(Point::new(50.0, 0.0));
        for i in 1..80_u32 {
            let r = if i % 4 < 2 { 50.0 } else { 44.0 };
            let a = TAU * f64::from(i) / 80.0;
            gear.line_to(Point::default() + Vec2::from_angle(a) * r);
        }
        gear.closed = true;
        gear.settle();
        let before = gear.edges();
        let (kept, count) = put_back(gear, 0.05);
        assert_eq!((edges(kept), count), (before, Count::default()));
    }
}

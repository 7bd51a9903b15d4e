//! Lines and arcs that lie on others, taken once.
//!
//! Drawing programs leave an edge twice, whole or in part: two lines one over the other cut the plate twice.
//! Only loose pieces are looked at, never the edges of a polyline: a piece that lies on a longer one goes, one
//! that begins on it is cut short by it. Ends lie on a piece when they are within [`ON`] of it. Loops and
//! polylines go where another has the same corners in the same order, from whichever corner and either way round; and
//! once all is joined, a loop goes where another is the same line, of whatever pieces.

use super::course::Course;
use super::join::Cells;
use crate::geom::{Arc, Edge, Line, Point, Sorted as _};
use crate::outline::Bounds;
use crate::outline::nesting::index_of;
use core::cmp::Reverse;
use static_aabb2d_index::StaticAABB2DIndex;

/// How near to a piece, in mm, what lies on it must be.
const ON: f64 = 0.005;
/// Most pairs that are looked at. Lines that meet so many others are a pattern, not edges drawn twice, and
/// [`refuse_crowds`](crate::outline::crowd::refuse_crowds) says so.
const MOST_PAIRS: usize = 5_000_000;

/// How often lines that were cut short are looked at again.
const MOST_ROUNDS: usize = 4;

/// A loose line: its course and its ends.
#[derive(Clone, Copy)]
struct Loose {
    run: usize,
    line: Line,
}

/// The runs of which none lies on another, and how many went.
pub(crate) fn taken_once(runs: Vec<Course>) -> (Vec<Course>, usize) {
    let mut cut: Vec<Option<Option<Line>>> = vec![None; runs.len()];
    let mut twice = arcs(&runs, &mut cut) + whole(&runs, &mut cut);
    let mut runs = left_of(runs, cut);
    // What is left of one that was cut short may lie on another that is longer now.
    for _ in 0..MOST_ROUNDS {
        let mut cut = vec![None; runs.len()];
        let (went, all) = lines(&runs, &mut cut);
        twice += went;
        let again = all && cut.iter().any(|c| matches!(c, Some(Some(_))));
        runs = left_of(runs, cut);
        if !again {
            break;
        }
    }
    (runs, twice)
}

fn left_of(runs: Vec<Course>, cut: Vec<Option<Option<Line>>>) -> Vec<Course> {
    let kept = runs.into_iter().zip(cut).filter_map(|(mut run, cut)| {
        if let Some(left) = cut {
            run.points = vec![left?.from, left?.to];
        }
        Some(run)
    });
    kept.collect()
}

/// Loose straight pieces: marks what is left of each. How many were cut short or went, and whether all
/// were looked at.
fn lines(runs: &[Course], cut: &mut [Option<Option<Line>>]) -> (usize, bool) {
    let loose = runs
        .iter()
        .enumerate()
        .filter_map(|(run, c)| match c.points.as_slice() {
            [from, to] if c.bends.is_empty() && c.stated.is_none() => {
                let line = Line {
                    from: *from,
                    to: *to,
                };
                Some(Loose { run, line })
            }
            _ => None,
        });
    // The longest first: what lies on another is no longer.
    let mut all: Vec<Loose> = loose.collect();
    all.order_by(|a, b| b.line.length().total_cmp(&a.line.length()));
    let index = index_of(all.iter().map(|l| Bounds::of_edge(&Edge::Line(l.line))));
    let Some(index) = index else {
        return (0, true);
    };
    let mut twice = 0;
    let mut pairs = 0;
    for i in 0..all.len() {
        let Some(own) = all.get(i).copied() else {
            break;
        };
        let (near, seen) = near_ends(&index, &own.line, i);
        pairs += seen;
        if pairs > MOST_PAIRS {
            return (twice, false);
        }
        let mut left = Some(own.line);
        for other in near.iter().filter_map(|k| all.get(*k)) {
            let Some(line) = left else { break };
            // What went itself takes nothing away: what it lay on does.
            if cut.get(other.run).is_none_or(|c| *c != Some(None)) {
                left = beside(&line, &other.line);
            }
        }
        if left != Some(own.line) {
            twice += 1;
            if let (Some(slot), Some(place)) = (cut.get_mut(own.run), all.get_mut(i)) {
                *slot = Some(left);
                place.line = left.unwrap_or(own.line);
            }
        }
    }
    (twice, true)
}

/// Pieces before this one, which are longer, that may hold one of its ends, in their order; and how many
/// were seen.
fn near_ends(index: &StaticAABB2DIndex<f64>, line: &Line, i: usize) -> (Vec<usize>, usize) {
    let at = |p: Point| index.query(p.x - ON, p.y - ON, p.x + ON, p.y + ON);
    let mut near = at(line.from);
    near.extend(at(line.to));
    let seen = near.len();
    near.retain(|k| *k < i);
    near.sort_unstable();
    near.dedup();
    (near, seen)
}

/// What of a line does not lie on a longer one.
fn beside(line: &Line, other: &Line) -> Option<Line> {
    let along = other.to - other.from;
    let Some(way) = along.unit() else {
        return Some(*line);
    };
    let across = |p: Point| way.cross(p - other.from).abs();
    if across(line.from).max(across(line.to)) > ON {
        return Some(*line);
    }
    let length = along.length();
    let place = |p: Point| way.dot(p - other.from);
    let is_on = |p: Point| place(p) >= -ON && place(p) <= length + ON;
    let inside = |p: Point| place(p) > ON && place(p) < length - ON;
    match (is_on(line.from), is_on(line.to)) {
        (true, true) => None,
        // Ends that merely meet are a joint.
        (true, false) if inside(line.from) => Some(Line {
            from: if place(line.to) > length {
                other.to
            } else {
                other.from
            },
            to: line.to,
        }),
        (false, true) if inside(line.to) => Some(Line {
            from: line.from,
            to: if place(line.from) > length {
                other.to
            } else {
                other.from
            },
        }),
        _ => Some(*line),
    }
}

/// Loose arcs on an arc of the same circle.
fn arcs(runs: &[Course], cut: &mut [Option<Option<Line>>]) -> usize {
    let mut all: Vec<(usize, Arc)> = Vec::new();
    for (run, c) in runs.iter().enumerate() {
        if let ([from, to], [(_, sweep)], None) =
            (c.points.as_slice(), c.bends.as_slice(), &c.stated)
            && let Some(arc) = Arc::from_sweep(*from, *to, *sweep)
        {
            all.push((run, arc));
        }
    }
    all.order_by(|a, b| b.1.length().total_cmp(&a.1.length()));
    // Of one circle, arcs have one rightmost place.
    let mut cells: Cells<Arc> = Cells::new(2.0 * ON);
    let right = |arc: &Arc| Point::new(arc.center.x + arc.radius, arc.center.y);
    let mut twice = 0;
    for (run, arc) in all {
        let is_on = |other: &Arc| {
            let same =
                (arc.radius - other.radius).abs() <= ON && arc.center.distance(other.center) <= ON;
            let on = |p: Point| Edge::Arc(*other).distance(p) <= 2.0 * ON;
            same && on(arc.from) && on(arc.to) && on(arc.point_at(0.5))
        };
        if cells.around(right(&arc)).any(is_on) {
            twice += 1;
            if let Some(slot) = cut.get_mut(run) {
                *slot = Some(None);
            }
        } else {
            cells.put(right(&arc), arc);
        }
    }
    twice
}

/// Courses of several pieces that all are pieces of another with the same lowest corner. Of open ones drawn twice the
/// ends would meet, and be joined to a loop that goes out and back.
fn whole(runs: &[Course], cut: &mut [Option<Option<Line>>]) -> usize {
    let mut cells: Cells<usize> = Cells::new(ON);
    let mut twice = 0;
    let several = |c: &&Course| c.stated.is_none() && c.points.len() > 2;
    let all = runs.iter().enumerate().filter(|(_, c)| several(c));
    // The longest first: what lies on another has no more pieces.
    let mut all: Vec<(usize, &Course)> = all.collect();
    all.order_by_key(|(_, c)| Reverse(c.points.len()));
    for (run, course) in all {
        let Some(bounds) = Bounds::of_points(course.points.iter().copied()) else {
            continue;
        };
        let holds = |other: &usize| runs.get(*other).is_some_and(|o| lies_on(course, o));
        if cells.around(bounds.min).any(holds) {
            twice += 1;
            if let Some(slot) = cut.get_mut(run) {
                *slot = Some(None);
            }
        } else {
            cells.put(bounds.min, run);
        }
    }
    twice
}

/// All pieces of one are pieces of the other in the same order, from whichever corner and either way round.
fn lies_on(a: &Course, b: &Course) -> bool {
    let near = |p: &Point, q: &Point| p.distance(*q) <= ON;
    let middles = |c: &Course| -> Vec<Point> {
        c.edges()
            .iter()
            .flat_map(|e| [e.from(), e.point_at(0.5)])
            .collect()
    };
    let (mine, forth) = (middles(a), middles(b));
    let back = middles(&b.clone().reversed());
    [forth, back].iter().any(|other| {
        let starts = other
            .iter()
            .enumerate()
            .filter(|(_, q)| mine.first().is_some_and(|p| near(p, q)));
        // More than a few corners in one place are no loop that anybody cuts.
        starts.take(4).any(|(k, _)| {
            mine.len() <= other.len()
                && mine
                    .iter()
                    .zip(other.iter().cycle().skip(k))
                    .all(|(p, q)| near(p, q))
        })
    })
}

/// Loops of more edges are not held against others edge by edge.
const MOST_EDGES: usize = 100;

/// Takes closed chains once that are one line, however it is divided; says how many went.
pub(crate) fn loops_once(drawn: &mut Vec<Vec<Edge>>) -> usize {
    let closed = |c: &[Edge]| match c {
        [] => false,
        [first, .., last] => first.from().distance(last.to()) <= ON,
        [one] => matches!(one, Edge::Arc(a) if a.is_full()),
    };
    let mut cells: Cells<usize> = Cells::new(ON);
    let mut again = vec![false; drawn.len()];
    for (i, chain) in drawn.iter().enumerate() {
        let fits = closed(chain) && chain.len() <= MOST_EDGES;
        let Some(bounds) = Bounds::of_edges(chain).filter(|_| fits) else {
            continue;
        };
        let one = |other: &usize| {
            drawn
                .get(*other)
                .is_some_and(|o| runs_along(chain, o) && runs_along(o, chain))
        };
        let twice = cells.around(bounds.min).any(one);
        match again.get_mut(i).filter(|_| twice) {
            Some(slot) => *slot = true,
            None => cells.put(bounds.min, i),
        }
    }
    let count = again.iter().filter(|a| **a).count();
    let mut again = again.into_iter();
    drawn.retain(|_| again.next() != Some(true));
    count
}

/// Every edge of one lies on the other, as far as a few places along it tell.
fn runs_along(a: &[Edge], b: &[Edge]) -> bool {
    let places = a
        .iter()
        .flat_map(|e| (0..4).map(|k| e.point_at(0.25 * f64::from(k))));
    places
        .into_iter()
        .all(|p| b.iter().any(|e| e.distance(p) <= ON))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(a: (f64, f64), b: (f64, f64)) -> Course {
        let mut course = Course::at(Point::new(a.0, a.1));
        course.line_to(Point::new(b.0, b.1));
        course
    }

    fn ends(runs: Vec<Course>) -> (Vec<[f64; 4]>, usize) {
        let (runs, twice) = taken_once(runs);
        let ends = |c: &Course| [c.start().x, c.start().y, c.end().x, c.end().y];
        (runs.iter().map(ends).collect(), twice)
    }

    #[test]
    fn what_lies_on_a_longer_line_goes_and_what_sticks_out_stays() {
        let long = line((0.0, 0.0), (100.0, 50.0));
        let part = line((60.0, 30.0), (20.0, 10.0));
        let beyond = line((80.0, 40.0), (120.0, 60.0));
        let beside = line((0.0, 1.0), (100.0, 51.0));
        let on = line((100.0, 50.0), (130.0, 65.0));
        let (left, twice) = ends(vec![part, long.clone(), beyond, beside, on, long]);
        assert_eq!(twice, 4, "{left:?}");
        assert_eq!(left[0], [0.0, 0.0, 100.0, 50.0]);
        assert_eq!(left[1], [0.0, 1.0, 100.0, 51.0]);
        let length: f64 = left
            .iter()
            .map(|e| libm::hypot(e[2] - e[0], e[3] - e[1]))
            .sum();
        assert!(
            (length - libm::hypot(130.0, 65.0) - libm::hypot(100.0, 50.0)).abs() < 1e-9,
            "{left:?}"
        );
    }

    #[test]
    fn a_loop_of_other_pieces_is_one_line_with_its_like() {
        let corners = [(0.0, 0.0), (40.0, 0.0), (40.0, 20.0), (0.0, 20.0)];
        let ring = |corners: &[(f64, f64)]| -> Vec<Edge> {
            let points: Vec<Point> = corners.iter().map(|c| Point::new(c.0, c.1)).collect();
            let ends = points.iter().zip(points.iter().cycle().skip(1));
            ends.map(|(&from, &to)| Edge::Line(Line { from, to }))
                .collect()
        };
        let parted = [&corners[..2], &[(40.0, 11.0)], &corners[2..]].concat();
        let circle = |r: f64| vec![Edge::Arc(Arc::circle(Point::new(20.0, 10.0), r, true))];
        let halves: Vec<Edge> = [(28.0, 12.0), (12.0, 28.0)]
            .iter()
            .filter_map(|&(from, to)| {
                let at = |x: f64| Point::new(x, 10.0);
                Arc::from_sweep(at(from), at(to), core::f64::consts::PI).map(Edge::Arc)
            })
            .collect();
        let mut drawn = vec![
            ring(&corners),
            circle(8.0),
            ring(&parted),
            halves,
            circle(8.003),
            circle(8.5),
            ring(&corners)[..3].to_vec(),
        ];
        assert_eq!(loops_once(&mut drawn), 3);
        assert_eq!(drawn.len(), 4);
    }

    #[test]
    fn an_arc_on_its_own_circle_and_a_loop_drawn_again_go() {
        let arc = |from: f64, to: f64| {
            let at =
                |d: f64| Point::new(5.0, 5.0) + crate::geom::Vec2::from_angle(d.to_radians()) * 9.0;
            let mut course = Course::at(at(from));
            course.arc_to(at(to), (to - from).to_radians());
            course
        };
        let (left, twice) = taken_once(vec![
            arc(0.0, 90.0),
            arc(200.0, 20.0),
            arc(30.0, 60.0),
            arc(80.0, 100.0),
        ]);
        assert_eq!((left.len(), twice), (2, 2));
        let way = |corners: &[(f64, f64)]| {
            let mut course = Course::at(Point::new(corners[0].0, corners[0].1));
            corners[1..]
                .iter()
                .for_each(|c| course.line_to(Point::new(c.0, c.1)));
            course
        };
        let ring = |corners: &[(f64, f64)]| {
            let mut course = way(corners);
            course.closed = true;
            course.settle();
            course
        };
        let rings = vec![
            ring(&[(0.0, 0.0), (9.0, 0.0), (9.0, 5.0), (0.0, 5.0)]),
            ring(&[(9.0, 5.0), (9.0, 0.0), (0.0, 0.0), (0.0, 5.0)]),
            ring(&[(0.0, 0.0), (9.0, 0.0), (9.0, 5.0), (0.0, 4.0)]),
        ];
        assert_eq!(taken_once(rings).1, 1);
        let open = [(0.0, 0.0), (9.0, 0.0), (9.0, 5.0), (0.0, 5.0)];
        let back: Vec<(f64, f64)> = open.iter().rev().copied().collect();
        let other = [(0.0, 0.0), (9.0, 0.0), (7.0, 5.0)];
        let twice = |runs: Vec<Course>| taken_once(runs).1;
        assert_eq!(twice(vec![way(&open), way(&back), way(&other)]), 1);
        assert_eq!(twice(vec![way(&open[..3]), way(&open)]), 1);
        // A line around what is filled, drawn apart from it.
        assert_eq!(twice(vec![way(&back), ring(&open)]), 1);
    }
}

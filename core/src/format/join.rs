//! Runs of a drawing whose ends meet become one course: four lines, a rectangle.
//!
//! Where exactly two ends of open runs lie within [`JOIN`](super::course::JOIN) of each other they
//! are one corner. Where three or more meet nothing says which belong together, so none are joined
//! there. A run that lies on another, end on end, is taken once. What is as stated stays alone.

use super::course::{Course, JOIN};
use crate::geom::Point;
use crate::geom::Sorted as _;
use std::collections::BTreeMap;

/// One end of a run: its number and which end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct End {
    run: usize,
    last: bool,
}

/// What joining came to.
pub(crate) struct Joined {
    /// Courses in the order of their first runs.
    pub(crate) courses: Vec<Course>,
    /// Places where three or more ends meet.
    pub(crate) branches: usize,
    /// Runs left out because they lie on another.
    pub(crate) twice: usize,
}

/// Joins open runs end to end. Closed ones stay as they are.
pub(crate) fn joined(runs: Vec<Course>) -> Joined {
    let before = runs.len();
    let mut runs = without_doubles(runs);
    let twice = before - runs.len();
    let (links, branches) = links(&runs);
    let mut taken = vec![false; runs.len()];
    let mut courses: Vec<(usize, Course)> = Vec::new();
    // Chains with a loose end first, from that end; what is left then are rings.
    for loose in [true, false] {
        for i in 0..runs.len() {
            if taken.get(i).copied().unwrap_or(true) {
                continue;
            }
            let starts = [false, true].map(|last| End { run: i, last });
            let from = starts.into_iter().find(|e| !links.contains_key(e));
            let start = match (loose, from) {
                (true, None) => continue,
                (_, Some(end)) => end,
                (false, None) => End {
                    run: i,
                    last: false,
                },
            };
            let (first, course) = follow(start, &links, &mut runs, &mut taken);
            courses.push((first, course));
        }
    }
    courses.order_by_key(|(first, _)| *first);
    Joined {
        courses: courses.into_iter().map(|(_, c)| c).collect(),
        branches,
        twice,
    }
}

/// Walks from one end through all linked runs.
fn follow(
    start: End,
    links: &BTreeMap<End, End>,
    runs: &mut [Course],
    taken: &mut [bool],
) -> (usize, Course) {
    let mut first = start.run;
    let mut course: Option<Course> = None;
    let mut at = Some(start);
    while let Some(enter) = at {
        let (Some(run), Some(seen)) = (runs.get_mut(enter.run), taken.get_mut(enter.run)) else {
            break;
        };
        if *seen {
            break;
        }
        *seen = true;
        first = first.min(enter.run);
        let run = core::mem::replace(run, Course::at(Point::default()));
        let run = if enter.last { run.reversed() } else { run };
        match &mut course {
            None => course = Some(run),
            Some(course) => course.append(&run),
        }
        let leave = End {
            last: !enter.last,
            ..enter
        };
        at = links.get(&leave).copied();
    }
    let mut course = course.unwrap_or_else(|| Course::at(Point::default()));
    course.settle();
    (first, course)
}

/// Which end each end meets, where exactly two meet; and in how many places more do.
fn links(runs: &[Course]) -> (BTreeMap<End, End>, usize) {
    let mut cells: BTreeMap<(i64, i64), Vec<(End, Point)>> = BTreeMap::new();
    let ends: Vec<(End, Point)> = runs
        .iter()
        .enumerate()
        .filter(|(_, c)| c.stated.is_none() && !c.is_closed() && c.points.len() > 1)
        .flat_map(|(run, c)| {
            [
                (End { run, last: false }, c.start()),
                (End { run, last: true }, c.end()),
            ]
        })
        .collect();
    for (end, p) in &ends {
        cells.entry(cell(*p)).or_default().push((*end, *p));
    }
    let mut links = BTreeMap::new();
    let mut branch_ends = 0;
    let mut corners = 0;
    for (end, p) in &ends {
        let near = neighbours(&cells, *end, *p);
        match near.as_slice() {
            [] => {}
            [(other, q)] => {
                // The other must see only this one too.
                if neighbours(&cells, *other, *q).len() == 1 && other.run != end.run {
                    links.insert(*end, *other);
                }
            }
            many => {
                branch_ends += 1;
                // Count each place once: by the end that comes first there.
                corners += usize::from(many.iter().all(|(other, _)| end < other));
            }
        }
    }
    (links, if branch_ends > 0 { corners.max(1) } else { 0 })
}

fn cell(p: Point) -> (i64, i64) {
    (
        libm::floor(p.x / JOIN) as i64,
        libm::floor(p.y / JOIN) as i64,
    )
}

/// At most three ends near `p` other than `end`: more make no difference.
fn neighbours(
    cells: &BTreeMap<(i64, i64), Vec<(End, Point)>>,
    end: End,
    p: Point,
) -> Vec<(End, Point)> {
    let (cx, cy) = cell(p);
    let mut near = Vec::new();
    for x in cx - 1..=cx + 1 {
        for y in cy - 1..=cy + 1 {
            for (other, q) in cells.get(&(x, y)).into_iter().flatten() {
                if *other != end && p.distance(*q) <= JOIN {
                    near.push((*other, *q));
                    if near.len() == 3 {
                        return near;
                    }
                }
            }
        }
    }
    near
}

/// Runs of one piece that have the same ends and the same turn, once.
fn without_doubles(runs: Vec<Course>) -> Vec<Course> {
    let mut seen: BTreeMap<[u64; 5], ()> = BTreeMap::new();
    runs.into_iter()
        .filter(|run| {
            let ([a, b], false) = (run.points.as_slice(), run.stated.is_some()) else {
                return true;
            };
            let sweep = run.bends.first().map_or(0.0, |(_, s)| *s);
            let forward = (a.x, a.y) <= (b.x, b.y);
            let (a, b, sweep) = if forward {
                (a, b, sweep)
            } else {
                (b, a, -sweep)
            };
            // Adding 0 makes one zero of the two.
            let key = [a.x, a.y, b.x, b.y, sweep].map(|v| (v + 0.0).to_bits());
            seen.insert(key, ()).is_none()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(a: (f64, f64), b: (f64, f64)) -> Course {
        let mut course = Course::at(Point::new(a.0, a.1));
        course.line_to(Point::new(b.0, b.1));
        course
    }

    #[test]
    fn four_lines_in_any_order_and_direction_are_a_rectangle() {
        let runs = vec![
            line((0.0, 0.0), (80.0, 0.0)),
            line((0.0, 50.0), (80.0, 50.003)),
            line((80.0, 0.0), (80.0, 50.0)),
            line((0.0, 50.0), (0.0, 0.0)),
            line((80.0, 0.0), (0.0, 0.0)),
        ];
        let joined = joined(runs);
        assert_eq!((joined.twice, joined.branches), (1, 0));
        let [course] = joined.courses.as_slice() else {
            panic!("{:?}", joined.courses);
        };
        assert!(course.is_closed());
        assert_eq!(course.edges().len(), 4);
    }

    #[test]
    fn where_three_meet_nothing_is_joined() {
        let runs = vec![
            line((0.0, 0.0), (10.0, 0.0)),
            line((0.0, 0.0), (0.0, 10.0)),
            line((0.0, 0.0), (-10.0, 0.0)),
            line((10.0, 0.0), (20.0, 5.0)),
        ];
        let joined = joined(runs);
        assert_eq!((joined.courses.len(), joined.branches), (3, 1));
    }
}

//! Runs of a drawing whose ends meet become one course: four lines, a rectangle.
//!
//! Where exactly two ends of open runs meet they are one corner. Ends on one layer are looked at first, those
//! that agree to rounding before those within [`JOIN`], then ends on different layers; so a bend line that ends on an
//! outline takes no corner away from it. And ends from which a loop can come are looked at before those that lead
//! nowhere: a line that begins in a rectangle's corner takes no corner away either. Where three or more are left
//! nothing says which belong together, so none are joined there, and the place is told; it is doubted where a loop may
//! go through it, and elsewhere only counted, for all is cut as drawn whichever are joined. What is as stated stays alone.

use super::course::{Course, GAP, JOIN, ROUNDING};
use super::layers::Layer;
use crate::geom::{Point, Sorted as _};
use std::collections::{BTreeMap, BTreeSet};

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
    /// Places where three or more ends meet, and a loop may come of some of them.
    pub(crate) branches: Vec<Point>,
    /// Places where three or more meet of which no loop comes.
    pub(crate) stars: Vec<Point>,
}

/// Things at places, to be found again from near by.
pub(crate) struct Cells<T> {
    size: f64,
    cells: BTreeMap<(i64, i64), Vec<(Point, T)>>,
}

/// The last cell: numbers up to it are exact.
const LAST: f64 = 1e15;

impl<T> Cells<T> {
    /// For things that are near when they are no further apart than `size`.
    pub(crate) fn new(size: f64) -> Self {
        Self {
            size,
            cells: BTreeMap::new(),
        }
    }

    fn cell(&self, p: Point) -> (i64, i64) {
        // What lies beyond all numbers of cells lies in the last, which has neighbours too.
        let at = |v: f64| libm::floor(v / self.size).clamp(-LAST, LAST) as i64;
        (at(p.x), at(p.y))
    }

    pub(crate) fn put(&mut self, p: Point, thing: T) {
        self.cells.entry(self.cell(p)).or_default().push((p, thing));
    }

    /// What lies near a place.
    pub(crate) fn around(&self, p: Point) -> impl Iterator<Item = &T> {
        let (cx, cy) = self.cell(p);
        // The three cells above one another are neighbours in the map: three searches instead of nine.
        (cx - 1..=cx + 1)
            .flat_map(move |x| self.cells.range((x, cy - 1)..=(x, cy + 1)))
            .flat_map(|(_, things)| things)
            .filter(move |(q, _)| q.distance(p) <= self.size)
            .map(|(_, thing)| thing)
    }
}

/// Joins open runs end to end. Closed ones stay as they are.
pub(crate) fn joined(mut runs: Vec<Course>) -> Joined {
    let (links, branches, stars) = links(&runs);
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
        stars,
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

/// An end that may be joined, and where it is.
struct Loose {
    end: End,
    at: Point,
    layer: Layer,
}

/// Runs that lead nowhere: at one end they meet nothing within reach, or only others that lead nowhere.
fn leading_nowhere(ends: &[Loose], reach: f64) -> BTreeSet<usize> {
    let mut places: Cells<usize> = Cells::new(reach);
    let mut meeting: Vec<Vec<End>> = Vec::new();
    let mut place_of = BTreeMap::new();
    for e in ends {
        let known = places.around(e.at).next().copied();
        let place = known.unwrap_or(meeting.len());
        if known.is_none() {
            places.put(e.at, place);
            meeting.push(Vec::new());
        }
        place_of.insert(e.end, place);
        if let Some(there) = meeting.get_mut(place) {
            there.push(e.end);
        }
    }
    let mut left: Vec<usize> = meeting.iter().map(Vec::len).collect();
    let mut nowhere = BTreeSet::new();
    let mut lonely: Vec<usize> = (0..left.len())
        .filter(|p| left.get(*p) == Some(&1))
        .collect();
    while let Some(place) = lonely.pop() {
        let there = meeting.get(place).into_iter().flatten();
        let Some(end) = there.copied().find(|e| !nowhere.contains(&e.run)) else {
            continue;
        };
        nowhere.insert(end.run);
        let last = !end.last;
        let other = place_of.get(&End { last, ..end });
        if let Some((place, left)) = other.and_then(|p| Some((*p, left.get_mut(*p)?))) {
            *left -= 1;
            if *left == 1 {
                lonely.push(place);
            }
        }
    }
    nowhere
}

/// Which end each end meets, where exactly two meet; and the places where more do, with a loop and without.
fn links(runs: &[Course]) -> (BTreeMap<End, End>, Vec<Point>, Vec<Point>) {
    let open = |c: &Course| c.stated.is_none() && !c.is_closed() && c.points.len() > 1;
    let mut ends: Vec<Loose> = Vec::new();
    for (run, c) in runs.iter().enumerate().filter(|(_, c)| open(c)) {
        for (last, at) in [(false, c.start()), (true, c.end())] {
            let end = End { run, last };
            ends.push(Loose {
                end,
                at,
                layer: c.layer,
            });
        }
    }
    let mut links = BTreeMap::new();
    let (mut branches, mut stars) = (Vec::new(), Vec::new());
    let nowhere = leading_nowhere(&ends, JOIN);
    // What all but comes round was meant to.
    let far_from_round = leading_nowhere(&ends, GAP);
    // Where all lie on one layer the last two ways would find what the first two have.
    let layered = ends
        .iter()
        .any(|e| ends.first().is_some_and(|f| f.layer != e.layer));
    let ways = [
        (ROUNDING, true),
        (JOIN, true),
        (ROUNDING, false),
        (JOIN, false),
    ];
    let ways = ways.into_iter().filter(|w| w.1 || layered);
    let passes = [false, true]
        .into_iter()
        .flat_map(|all| ways.clone().map(move |w| (all, w)));
    for (all, (reach, one_layer)) in passes {
        let mut cells: Cells<usize> = Cells::new(reach);
        let free =
            |e: &&Loose| !links.contains_key(&e.end) && (all || !nowhere.contains(&e.end.run));
        for (i, e) in ends.iter().enumerate().filter(|(_, e)| free(e)) {
            cells.put(e.at, i);
        }
        // At most three others: more make no difference.
        let others = |e: &Loose| -> Vec<&Loose> {
            let near = cells.around(e.at).filter_map(|i| ends.get(*i));
            let apart = |o: &&Loose| o.end != e.end && (!one_layer || o.layer == e.layer);
            near.filter(apart).take(3).collect()
        };
        let mut found = Vec::new();
        branches.clear();
        stars.clear();
        for e in ends.iter().filter(free) {
            match others(e).as_slice() {
                [] => {}
                // The other must see only this one too.
                [o] => {
                    if o.end.run != e.end.run && others(o).len() == 1 {
                        found.push((e.end, o.end));
                    }
                }
                // Each place is told once: by the end that comes first there.
                many => {
                    if many.iter().all(|o| e.end < o.end) {
                        let mut there = cells.around(e.at).filter_map(|i| ends.get(*i));
                        let no_loop = there.all(|o| far_from_round.contains(&o.end.run));
                        let told = if no_loop { &mut stars } else { &mut branches };
                        told.push(e.at);
                    }
                }
            }
        }
        links.extend(found);
    }
    (links, branches, stars)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(a: (f64, f64), b: (f64, f64)) -> Course {
        let mut course = Course::at(Point::new(a.0, a.1));
        course.line_to(Point::new(b.0, b.1));
        course
    }

    /// A find of the fuzzer: beyond all numbers of cells a place still has neighbours.
    #[test]
    fn ends_as_far_away_as_numbers_go_are_looked_at() {
        for far in [1e30, -1e30, f64::MAX, f64::MIN] {
            let runs = vec![line((far, 0.0), (0.0, 0.0)), line((0.0, 0.0), (0.0, far))];
            assert_eq!(joined(runs).courses.len(), 1, "{far}");
        }
    }

    #[test]
    fn four_lines_in_any_order_and_direction_are_a_rectangle() {
        let runs = vec![
            line((0.0, 0.0), (80.0, 0.0)),
            line((0.0, 50.0), (80.0, 50.003)),
            line((80.0, 0.0), (80.0, 50.0)),
            line((0.0, 50.0), (0.0, 0.0)),
        ];
        let joined = joined(runs);
        assert!(joined.branches.is_empty());
        let [course] = joined.courses.as_slice() else {
            panic!("{:?}", joined.courses);
        };
        assert!(course.is_closed());
        assert_eq!(course.edges().len(), 4);
    }

    #[test]
    fn where_three_meet_nothing_is_joined() {
        let mut runs = vec![
            line((0.0, 0.0), (10.0, 0.0)),
            line((0.0, 0.0), (0.0, 10.0)),
            line((0.0, 0.0), (-10.0, 0.0)),
            line((10.0, 0.0), (20.0, 5.0)),
        ];
        let counts = |runs: &[Course]| {
            let joined = joined(runs.to_vec());
            let told = [joined.branches.len(), joined.stars.len()];
            (joined.courses.len(), told)
        };
        assert_eq!(counts(&runs), (3, [0, 1]));
        // Two of them come round, or all but do: there is a loop, and the third is a line that begins in its corner.
        runs.push(line((20.0, 5.0), (0.0, 12.0)));
        assert_eq!(counts(&runs), (3, [1, 0]));
        runs.push(line((0.0, 12.0), (0.0, 10.0)));
        assert_eq!(counts(&runs), (2, [0, 0]));
        // All three lie on loops.
        runs.push(line((-10.0, 0.0), (0.0, 10.0)));
        assert_eq!(counts(&runs), (3, [2, 0]));
    }
}

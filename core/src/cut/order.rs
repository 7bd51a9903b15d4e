//! The order of the cuts: holes before the part around them, little travel, heat in mind.
//!
//! A shortest tour with precedence (the sequential ordering problem, NP-hard). Built by nearest
//! neighbour over what is allowed next, then bettered by moving short runs elsewhere (Or 1976) and
//! turning runs round (Croes 1958), each only among near neighbours and only where no cut comes
//! before one it must follow; then shaken a fixed number of times (two neighbouring runs swapped,
//! bettered again, kept if shorter). All from a fixed seed and a fixed count of steps, so the same
//! cuts come in the same order on any machine.
//!
//! Heat: two cuts nearer than the heat distance in a row count as a fault worth some travel; the
//! tour is bettered once more under that price, and the result kept while the travel stays within
//! the allowed share over the shortest found. It is a compromise: on a crowded plate neighbours in a
//! row remain, and their number is told.
//!
//! [`bound`] says how short any order could be at best: Held and Karp's 1-tree bound (1970), without
//! the precedence, so the true best may lie above it.

use super::layout::Dice;
use crate::geom::Point;
use crate::geom::Sorted as _;
use core::cmp::Ordering;

/// Near neighbours looked at from each cut.
const NEIGHBOURS: usize = 10;
/// A change that saves less is none, mm.
const LEAST_GAIN: f64 = 1e-9;
/// Longest run that is moved as a whole.
const RUN: usize = 3;
/// Work of the shaking, in cuts times shakes.
const SHAKE_WORK: usize = 120_000;
/// More cuts than this are ordered by nearest neighbour and moves only.
const MOST_SHAKEN: usize = 3_000;

/// One cut as the order sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct Stop {
    /// Where it pierces.
    pub start: Point,
    /// Where the torch goes off.
    pub end: Point,
    /// Cuts that may come only after this one.
    pub before: Vec<usize>,
    /// Cuts that heat this one.
    pub warm: Vec<usize>,
}

/// An order and its figures.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Tour {
    /// Numbers of the stops in the order they are made.
    pub order: Vec<usize>,
    /// Travel with the torch off, from home through all, mm.
    pub travel: f64,
    /// Neighbours that heat one another, cut in a row.
    pub warm_in_a_row: usize,
}

struct Problem<'a> {
    stops: &'a [Stop],
    home: Point,
    /// Where stops begin and end, close together: legs are measured more often than all else.
    starts: Vec<Point>,
    ends: Vec<Point>,
    /// Stops that must be made before each.
    after: Vec<Vec<usize>>,
    /// Nearest stops to each, by start.
    near: Vec<Vec<usize>>,
    /// What a warm pair in a row costs, mm.
    price: f64,
}

/// The order in which to make the stops, starting from `home`.
///
/// `heat_share` is how much longer the travel may become for the sake of heat. Stops that wait
/// for one another in a ring (which nesting cannot make) are simply put last.
#[must_use]
pub fn order(stops: &[Stop], home: Point, heat_share: f64) -> Tour {
    let mut problem = Problem::new(stops, home);
    let mut best = Draft::new(&problem, problem.nearest_first());
    problem.better(&mut best);
    problem.shake(&mut best);
    let best = best.tour;
    let shortest = problem.travel(&best);
    let mut chosen = best.clone();
    let mean = shortest / stops.len().max(1) as f64;
    for price in [2.0, 1.0, 0.5, 0.25] {
        if heat_share <= 0.0 {
            break;
        }
        problem.price = price * mean;
        let mut cooler = Draft::new(&problem, best.clone());
        problem.better(&mut cooler);
        let cooler = cooler.tour;
        if problem.travel(&cooler) <= (1.0 + heat_share) * shortest
            && problem.warm(&cooler) < problem.warm(&chosen)
        {
            chosen = cooler;
            break;
        }
    }
    Tour {
        travel: problem.travel(&chosen),
        warm_in_a_row: problem.warm(&chosen),
        order: chosen,
    }
}

impl<'a> Problem<'a> {
    fn new(stops: &'a [Stop], home: Point) -> Self {
        let mut after = vec![Vec::new(); stops.len()];
        for (i, stop) in stops.iter().enumerate() {
            for &later in &stop.before {
                if let Some(list) = after.get_mut(later) {
                    list.push(i);
                }
            }
        }
        let near = (0..stops.len()).map(|i| nearest_to(stops, i)).collect();
        Self {
            stops,
            home,
            starts: stops.iter().map(|s| s.start).collect(),
            ends: stops.iter().map(|s| s.end).collect(),
            after,
            near,
            price: 0.0,
        }
    }

    fn start(&self, i: usize) -> Point {
        self.starts.get(i).copied().unwrap_or(self.home)
    }

    /// Cost of going from stop `a` (or home) to stop `b` (or nowhere).
    fn leg(&self, a: Option<usize>, b: Option<usize>) -> f64 {
        let Some(b) = b else { return 0.0 };
        let from = a.and_then(|a| self.ends.get(a)).copied();
        let way = (self.start(b) - from.unwrap_or(self.home))
            .length_squared()
            .sqrt();
        if self.price > 0.0 && a.is_some_and(|a| self.warms(a, b)) {
            way + self.price
        } else {
            way
        }
    }

    fn warms(&self, a: usize, b: usize) -> bool {
        let stop = self.stops.get(a);
        stop.is_some_and(|s| s.warm.binary_search(&b).is_ok())
    }

    fn travel(&self, tour: &[usize]) -> f64 {
        let mut from = self.home;
        let mut sum = 0.0;
        for stop in tour.iter().filter_map(|&i| self.stops.get(i)) {
            sum += from.distance(stop.start);
            from = stop.end;
        }
        sum
    }

    fn warm(&self, tour: &[usize]) -> usize {
        tour.windows(2)
            .filter(|w| match w {
                [a, b] => self.warms(*a, *b),
                _ => false,
            })
            .count()
    }

    fn nearest_first(&self) -> Vec<usize> {
        let n = self.stops.len();
        let mut waits: Vec<usize> = self.after.iter().map(Vec::len).collect();
        let mut left: Vec<usize> = (0..n).collect();
        let mut tour = Vec::with_capacity(n);
        let mut at = self.home;
        while !left.is_empty() {
            let ready = |i: &&usize| waits.get(**i).is_some_and(|w| *w == 0);
            let nearest = |a: &&usize, b: &&usize| {
                at.distance(self.start(**a))
                    .total_cmp(&at.distance(self.start(**b)))
            };
            let next = left.iter().filter(ready).min_by(nearest).or(left.first());
            let Some(&next) = next else { break };
            left.retain(|&i| i != next);
            tour.push(next);
            let Some(stop) = self.stops.get(next) else {
                continue;
            };
            at = stop.end;
            for &later in &stop.before {
                if let Some(w) = waits.get_mut(later) {
                    *w = w.saturating_sub(1);
                }
            }
        }
        tour
    }

    /// Moves and turns until nothing helps.
    fn better(&self, draft: &mut Draft) {
        let mut queue: Vec<usize> = draft.tour.clone();
        let mut waiting = vec![true; self.stops.len()];
        let mut steps = 200 * draft.tour.len() + 1000;
        while let Some(stop) = queue.pop() {
            waiting
                .iter_mut()
                .skip(stop)
                .take(1)
                .for_each(|w| *w = false);
            steps = steps.saturating_sub(1);
            if steps == 0 {
                break;
            }
            if let Some((low, high)) = self.improve_at(stop, draft) {
                let touched = [low.saturating_sub(1), low, high, high + 1];
                for s in touched
                    .into_iter()
                    .filter_map(|i| draft.tour.get(i))
                    .copied()
                    .chain([stop])
                {
                    if let Some(w) = waiting.get_mut(s).filter(|w| !**w) {
                        *w = true;
                        queue.push(s);
                    }
                }
            }
        }
    }

    /// The first move or turn at a stop that shortens the tour, made; the range it changed.
    fn improve_at(&self, stop: usize, draft: &mut Draft) -> Option<(usize, usize)> {
        let i = *draft.place.get(stop)?;
        for &other in self.near.get(stop)? {
            let j = *draft.place.get(other)?;
            // The stop comes to stand right behind its near neighbour,
            if let Some((low, middle, high)) = self.try_moves(draft, i, j) {
                draft.swap(self, (low, middle, high));
                return Some((low, high));
            }
            // or the run between them is turned round.
            let (low, high) = if i < j { (i, j) } else { (j, i) };
            for (a, b) in [(low + 1, high), (low, high.saturating_sub(1))] {
                if a < b && self.turn_gain(draft, a, b) > LEAST_GAIN && self.may_turn(draft, a, b) {
                    draft.turn(self, a, b);
                    return Some((a, b));
                }
            }
        }
        None
    }

    /// Runs of up to three stops that begin or end at place `i`, moved behind or before place `j`.
    /// The answer is (low, middle, high): the runs low..middle and middle..=high change places.
    fn try_moves(&self, draft: &Draft, i: usize, j: usize) -> Option<(usize, usize, usize)> {
        for run in 1..=RUN {
            // A run of one begins and ends at the same place.
            let ways = if run == 1 { 1 } else { 2 };
            for (from, to) in [(i, i + run - 1), ((i + 1).saturating_sub(run), i)]
                .into_iter()
                .take(ways)
            {
                if to >= draft.tour.len() || (from..=to).contains(&j) {
                    continue;
                }
                for behind in [true, false] {
                    let range = if j > to {
                        let last = if behind { j } else { j.saturating_sub(1) };
                        (from, to + 1, last)
                    } else {
                        let first = if behind { j + 1 } else { j };
                        (first, from, to)
                    };
                    let (low, middle, high) = range;
                    if low < middle
                        && middle <= high
                        && self.swap_gains(draft, range)
                        && self.may_swap(&draft.tour, range)
                    {
                        return Some(range);
                    }
                }
            }
        }
        None
    }

    /// Whether the runs low..middle and middle..=high in each other's place make the tour shorter.
    fn swap_gains(&self, draft: &Draft, (low, middle, high): (usize, usize, usize)) -> bool {
        let at = |i: usize| draft.tour.get(i).copied();
        let gone = draft.leg(low) + draft.leg(middle) + draft.leg(high + 1);
        // No leg is negative: most swaps are out before the third of the new legs is measured.
        let left = gone - self.leg(low.checked_sub(1).and_then(at), at(middle));
        if left <= LEAST_GAIN {
            return false;
        }
        let left = left - self.leg(at(high), at(low));
        left > LEAST_GAIN
            && left - self.leg(middle.checked_sub(1).and_then(at), at(high + 1)) > LEAST_GAIN
    }

    /// Nothing in middle..=high must come after something in low..middle.
    fn may_swap(&self, tour: &[usize], (low, middle, high): (usize, usize, usize)) -> bool {
        let (first, second) = (tour.get(low..middle), tour.get(middle..=high));
        let (Some(first), Some(second)) = (first, second) else {
            return false;
        };
        // Asked from the shorter run.
        if first.len() <= second.len() {
            let holds = |i: &usize| {
                self.stops
                    .get(*i)
                    .is_some_and(|s| s.before.iter().any(|l| second.contains(l)))
            };
            !first.iter().any(holds)
        } else {
            let waits = |i: &usize| {
                self.after
                    .get(*i)
                    .is_some_and(|a| a.iter().any(|e| first.contains(e)))
            };
            !second.iter().any(waits)
        }
    }

    /// By how much the tour grows shorter when the run a..=b is turned round.
    fn turn_gain(&self, draft: &Draft, a: usize, b: usize) -> f64 {
        let at = |i: usize| draft.tour.get(i).copied();
        let now = draft.leg(a) + draft.leg(b + 1) + way(&draft.forth, a, b);
        let then = self.leg(a.checked_sub(1).and_then(at), at(b)) + self.leg(at(a), at(b + 1));
        now - then - way(&draft.back, a, b)
    }

    fn may_turn(&self, draft: &Draft, a: usize, b: usize) -> bool {
        let within = |i: &usize| draft.place.get(*i).is_some_and(|p| (a..=b).contains(p));
        draft.tour.get(a..=b).is_some_and(|run| {
            !run.iter().any(|i| {
                self.stops
                    .get(*i)
                    .is_some_and(|s| s.before.iter().any(within))
            })
        })
    }

    /// Two neighbouring runs swapped at random, bettered, kept if shorter.
    fn shake(&self, best: &mut Draft) {
        let n = best.tour.len();
        if !(4..=MOST_SHAKEN).contains(&n) {
            return;
        }
        let mut dice = Dice(0x2545_F491_4F6C_DD1D);
        let mut length = self.travel(&best.tour);
        for _ in 0..(SHAKE_WORK / n).min(3000) {
            let low = dice.below(n - 1);
            let middle = low + 1 + dice.below((n - low - 1).min(30));
            let high = (middle + dice.below(30)).min(n - 1);
            if middle > high || !self.may_swap(&best.tour, (low, middle, high)) {
                continue;
            }
            let mut draft = best.clone();
            draft.swap(self, (low, middle, high));
            let ends = [
                low.saturating_sub(1),
                low,
                low + high - middle,
                low + high - middle + 1,
                high,
                high + 1,
            ];
            let tour = &draft.tour;
            let mut queue: Vec<usize> = ends.iter().filter_map(|&i| tour.get(i)).copied().collect();
            let mut steps = 60;
            while let (Some(stop), true) = (queue.pop(), steps > 0) {
                steps -= 1;
                if let Some((a, b)) = self.improve_at(stop, &mut draft) {
                    let touched = [a.saturating_sub(1), a, b, b + 1];
                    queue.extend(touched.iter().filter_map(|&i| draft.tour.get(i)).copied());
                    queue.push(stop);
                }
            }
            let new = self.travel(&draft.tour);
            if new < length - LEAST_GAIN {
                length = new;
                *best = draft;
            }
        }
    }
}

/// A tour while it is worked on. Its legs are kept, and their sums, so that what a change would
/// save is known without walking along the run it moves.
#[derive(Clone)]
struct Draft {
    tour: Vec<usize>,
    /// Where in the tour each stop stands.
    place: Vec<usize>,
    /// The leg to each place from the one before, the first from home.
    legs: Vec<f64>,
    /// The leg from each place back to the one before; none from the first.
    returns: Vec<f64>,
    /// Legs from the first place up to each, and the same way run backwards.
    forth: Vec<f64>,
    back: Vec<f64>,
}

impl Draft {
    fn new(problem: &Problem, tour: Vec<usize>) -> Self {
        let n = tour.len();
        let mut draft = Self {
            tour,
            place: vec![0; n],
            legs: vec![0.0; n],
            returns: vec![0.0; n],
            forth: vec![0.0; n],
            back: vec![0.0; n],
        };
        draft.renew(problem, 0, n);
        draft
    }

    fn leg(&self, i: usize) -> f64 {
        self.legs.get(i).copied().unwrap_or(0.0)
    }

    /// The runs low..middle and middle..=high change places.
    fn swap(&mut self, problem: &Problem, (low, middle, high): (usize, usize, usize)) {
        if let Some(run) = self.tour.get_mut(low..=high) {
            run.rotate_left(middle - low);
        }
        self.renew(problem, low, high);
    }

    /// The run a..=b is turned round.
    fn turn(&mut self, problem: &Problem, a: usize, b: usize) {
        if let Some(run) = self.tour.get_mut(a..=b) {
            run.reverse();
        }
        self.renew(problem, a, b);
    }

    /// Everything that depends on the stops at the places low..=high.
    fn renew(&mut self, problem: &Problem, low: usize, high: usize) {
        let n = self.tour.len();
        let mut before = low.checked_sub(1).and_then(|i| self.tour.get(i).copied());
        let (mut forth, mut back) = match low.checked_sub(1) {
            Some(i) => (at(&self.forth, i), at(&self.back, i)),
            None => (0.0, 0.0),
        };
        let rest = self.tour.iter().zip(&mut self.legs).zip(&mut self.returns);
        let sums = self.forth.iter_mut().zip(&mut self.back);
        for (i, (((&stop, leg), home), sum)) in rest.zip(sums).enumerate().take(n).skip(low) {
            if i <= high.saturating_add(1) {
                *leg = problem.leg(before, Some(stop));
                *home = if i > 0 {
                    problem.leg(Some(stop), before)
                } else {
                    0.0
                };
                if let Some(p) = self.place.get_mut(stop) {
                    *p = i;
                }
                before = Some(stop);
            }
            if i > 0 {
                forth += *leg;
                back += *home;
            }
            (*sum.0, *sum.1) = (forth, back);
        }
    }
}

/// The sum between two places.
fn way(sums: &[f64], a: usize, b: usize) -> f64 {
    at(sums, b) - at(sums, a)
}

fn nearest_to(stops: &[Stop], i: usize) -> Vec<usize> {
    let Some(own) = stops.get(i) else {
        return Vec::new();
    };
    let mut near: Vec<(f64, usize)> = stops
        .iter()
        .enumerate()
        .filter(|(j, _)| *j != i)
        .map(|(j, s)| (s.end.distance(own.start), j))
        .collect();
    let by = |a: &(f64, usize), b: &(f64, usize)| -> Ordering {
        a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))
    };
    if near.len() > NEIGHBOURS {
        near.select_nth_unstable_by(NEIGHBOURS, by);
        near.truncate(NEIGHBOURS);
    }
    near.order_by(by);
    near.into_iter().map(|(_, j)| j).collect()
}

/// No order whatever can travel less than this, mm.
#[must_use]
pub fn bound(stops: &[Stop], home: Point) -> f64 {
    let n = stops.len();
    if n == 0 {
        return 0.0;
    }
    let rounds = (8_000_000 / (n * n)).clamp(1, 60);
    let ways = Ways::new(stops, home);
    let way = |i: usize, j: usize| ways.between(i, j);
    let mut weight = vec![0.0_f64; n + 1];
    let mut best = 0.0_f64;
    let mut step = 0.0;
    for round in 0..rounds {
        let (tree, degree) =
            spanning_tree(n + 1, |i, j| way(i, j) + at(&weight, i) + at(&weight, j));
        // A ring is made of the path by a node without cost, tied to home and to the last stop.
        let last = weight.iter().skip(1).copied().fold(f64::INFINITY, f64::min);
        let sum: f64 = weight.iter().sum();
        let value = tree + at(&weight, 0) + last - 2.0 * sum;
        best = best.max(value);
        if round == 0 {
            step = 0.5 * value / (n + 1) as f64;
        }
        let end = weight
            .iter()
            .skip(1)
            .position(|w| *w == last)
            .map(|i| i + 1);
        for (i, (w, d)) in weight.iter_mut().zip(&degree).enumerate() {
            let ring = usize::from(i == 0) + usize::from(Some(i) == end);
            *w += step * (*d as f64 + ring as f64 - 2.0);
        }
        step *= 0.94;
    }
    best
}

/// Most stops whose legs are all worked out beforehand (18 MB).
const MOST_WAYS: usize = 1500;

/// Lengths of legs between nodes: node 0 is home, node i + 1 stop i. A leg is at least the shorter
/// of its two ways.
struct Ways<'a> {
    stops: &'a [Stop],
    home: Point,
    /// Row by row, for as many stops as are worth it; else empty.
    table: Vec<f64>,
}

impl<'a> Ways<'a> {
    fn new(stops: &'a [Stop], home: Point) -> Self {
        let mut ways = Self {
            stops,
            home,
            table: Vec::new(),
        };
        let n = stops.len() + 1;
        if n <= MOST_WAYS {
            let all = (0..n * n).map(|k| ways.measured(k / n, k % n));
            let all: Vec<f64> = all.collect();
            ways.table = all;
        }
        ways
    }

    fn between(&self, i: usize, j: usize) -> f64 {
        let k = i * (self.stops.len() + 1) + j;
        match self.table.get(k) {
            Some(&way) => way,
            None => self.measured(i, j),
        }
    }

    fn measured(&self, i: usize, j: usize) -> f64 {
        let stop = |k: usize| k.checked_sub(1).and_then(|k| self.stops.get(k));
        // Coordinates are bounded, so a plain root will do, and it is much quicker.
        let apart = |a: Point, b: Point| (b - a).length_squared().sqrt();
        match (stop(i), stop(j)) {
            (Some(a), Some(b)) => apart(a.end, b.start).min(apart(b.end, a.start)),
            (None, Some(s)) | (Some(s), None) => apart(self.home, s.start),
            (None, None) => 0.0,
        }
    }
}

fn at(weight: &[f64], i: usize) -> f64 {
    weight.get(i).copied().unwrap_or(0.0)
}

/// Length of the least spanning tree and the degree of each node (Prim 1957).
fn spanning_tree(n: usize, way: impl Fn(usize, usize) -> f64) -> (f64, Vec<usize>) {
    // Nodes not in the tree yet: number, distance from the tree, nearest node of the tree.
    let mut left: Vec<(usize, f64, usize)> = (1..n).map(|j| (j, way(0, j), 0)).collect();
    let mut degree = vec![0; n];
    let mut length = 0.0;
    let least = |best: (usize, f64), (k, x): (usize, &(usize, f64, usize))| {
        if x.1 < best.1 { (k, x.1) } else { best }
    };
    let (mut k, _) = left.iter().enumerate().fold((0, f64::INFINITY), least);
    while k < left.len() {
        let (next, w, from) = left.swap_remove(k);
        length += w;
        for i in [next, from] {
            degree.iter_mut().skip(i).take(1).for_each(|d| *d += 1);
        }
        let mut best = (0, f64::INFINITY);
        for (k, x) in left.iter_mut().enumerate() {
            let w = way(next, x.0);
            if w < x.1 {
                (x.1, x.2) = (w, next);
            }
            best = least(best, (k, x));
        }
        k = best.0;
    }
    (length, degree)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(places: &[(f64, f64)]) -> Vec<Stop> {
        places
            .iter()
            .map(|&(x, y)| Stop {
                start: Point::new(x, y),
                end: Point::new(x, y),
                before: Vec::new(),
                warm: Vec::new(),
            })
            .collect()
    }

    #[test]
    fn every_stop_once_and_none_before_what_it_waits_for() {
        let mut dice = Dice(7);
        let mut stops = row(&(0..120)
            .map(|_| (dice.below(1000) as f64, dice.below(600) as f64))
            .collect::<Vec<_>>());
        for (i, stop) in stops.iter_mut().enumerate().take(90) {
            stop.before = vec![90 + i % 30];
        }
        let tour = order(&stops, Point::default(), 0.05);
        let mut sorted = tour.order.clone();
        sorted.sort_unstable();
        assert_eq!(sorted, (0..120).collect::<Vec<_>>());
        let mut place = vec![0; stops.len()];
        for (i, &stop) in tour.order.iter().enumerate() {
            place[stop] = i;
        }
        for (i, s) in stops.iter().enumerate() {
            assert!(s.before.iter().all(|&l| place[i] < place[l]));
        }
        assert!(tour.travel >= bound(&stops, Point::default()));
    }

    #[test]
    fn a_grid_is_travelled_near_its_shortest() {
        // 15 x 10 places 20 mm apart: the shortest way through all is 149 steps of 20 mm.
        let places: Vec<(f64, f64)> = (0..150)
            .map(|i| {
                (
                    f64::from(i * 7 % 15) * 20.0,
                    f64::from(i * 7 % 150 / 15) * 20.0,
                )
            })
            .collect();
        let stops = row(&places);
        let tour = order(&stops, Point::default(), 0.0);
        assert!(tour.travel <= 1.05 * 149.0 * 20.0, "{}", tour.travel);
        let least = bound(&stops, Point::default());
        assert!(
            least > 0.9 * 149.0 * 20.0 && least <= 149.0 * 20.0 + 1e-6,
            "{least}"
        );
    }

    #[test]
    fn heat_is_spread_where_it_costs_little() {
        // Pairs 5 mm apart, pairs 6 mm from one another: skipping inside a pair is cheap.
        let mut stops = row(&[(0.0, 0.0), (5.0, 0.0), (0.0, 5.5), (5.0, 5.5)]);
        stops[0].warm = vec![1];
        stops[1].warm = vec![0];
        stops[2].warm = vec![3];
        stops[3].warm = vec![2];
        let tour = order(&stops, Point::new(-1.0, -1.0), 0.2);
        assert!(tour.warm_in_a_row <= 1, "{tour:?}");
    }
}

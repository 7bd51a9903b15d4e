//! The order of the cuts: holes before the part around them, little travel, heat in mind.
//!
//! A shortest tour with precedence (the sequential ordering problem, NP-hard). Built by nearest
//! neighbour over what is allowed next, then bettered by moving short runs elsewhere (Or 1976), by
//! turning runs round (Croes 1958) and by exchanging two long runs with their directions kept
//! (Gambardella and Dorigo 2000): each only where it brings two near neighbours together, and only
//! where no cut comes before one it must follow. Then it is shaken a fixed number of times: two
//! neighbouring runs swapped, the tour bettered about them, and the result gone on from where it is
//! shorter, or at first a little longer; the shortest is kept. All from a fixed seed and a fixed count
//! of steps, so the same cuts come in the same order on any machine. On plates of 60 to 200 parts with
//! holes the travel stays within 3 % of what minutes of annealing find; no such share is promised.
//!
//! Heat: two cuts nearer than the heat distance in a row count as a fault worth some travel; the
//! tour is bettered again under rising prices, and the coolest kept whose travel stays within the
//! allowed share over the shortest found. It is a compromise: on a crowded plate, where every piece
//! touches its neighbours and skipping one doubles the way, neighbours in a row remain unless the
//! share is large, and their number is told.
//!
//! [`bound`] says how short any order could be at best.

use super::layout::Dice;
use crate::geom::Point;
use crate::geom::Sorted as _;
use core::cmp::Ordering;

mod bound;
pub use bound::bound;

/// Near neighbours looked at from each cut.
const NEIGHBOURS: usize = 10;
/// Longest run that is moved as a whole.
const RUN: usize = 3;
/// Work of the shaking, in cuts times shakes,
const SHAKE_WORK: usize = 250_000;
/// and least and most shakes.
const SHAKES: (usize, usize) = (40, 12_000);
/// Longest run that a shake moves.
const LONGEST_SHAKEN: usize = 30;
/// How much longer a shaken tour may be and still be gone on from, at first, in mean legs.
const SLACK: f64 = 0.35;
/// Prices that are tried for a neighbour in a row,
const PRICES: usize = 6;
/// the dearest, in mean legs,
const DEAREST: f64 = 8.0;
/// and the one under which the rest of the travel is spent.
const LAST_PRICE: f64 = 3.0;
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
    /// Stops that must be made before each.
    after: Vec<Vec<usize>>,
    /// Stops whose ends lie nearest to the start of each,
    from: Vec<Vec<usize>>,
    /// and whose starts lie nearest to its end.
    to: Vec<Vec<usize>>,
    /// What a warm pair in a row costs, mm.
    price: f64,
}

/// The order in which to make the stops, starting from `home`.
///
/// `heat_share` is how much longer the travel may become for the sake of heat. Stops that wait
/// for one another in a ring (which nesting cannot make) are simply put last.
#[must_use]
pub fn order(stops: &[Stop], home: Point, heat_share: f64) -> Tour {
    order_with(stops, home, heat_share, SHAKE_WORK)
}

/// As [`order`], but shaken so much.
fn order_with(stops: &[Stop], home: Point, heat_share: f64, work: usize) -> Tour {
    let mut problem = Problem::new(stops, home);
    let mut best = problem.nearest_first();
    problem.better(&mut best);
    problem.shake(&mut best, work, f64::INFINITY);
    let shortest = problem.travel(&best);
    let chosen = problem.cooler(&best, (1.0 + heat_share) * shortest);
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
        let lists = |far: &dyn Fn(&Stop, &Stop) -> f64| {
            (0..stops.len())
                .map(|i| nearest_to(stops, i, far))
                .collect()
        };
        Self {
            stops,
            home,
            after,
            from: lists(&|own, other| other.end.distance(own.start)),
            to: lists(&|own, other| own.end.distance(other.start)),
            price: 0.0,
        }
    }

    /// The tour with the fewest neighbours in a row that travels no further than `most`: bettered
    /// under a price for each, the price raised while the travel allows it and lowered when not.
    fn cooler(&mut self, shortest: &[usize], most: f64) -> Vec<usize> {
        let mut chosen = shortest.to_vec();
        let mean = self.travel(shortest) / shortest.len().max(1) as f64;
        let (mut cheap, mut dear) = (0.0, DEAREST);
        for _ in 0..PRICES {
            if self.warm(&chosen) == 0 || self.travel(shortest) >= most {
                break;
            }
            let price = 0.5 * (cheap + dear);
            self.price = price * mean;
            let mut tour = shortest.to_vec();
            self.better(&mut tour);
            self.shake(&mut tour, SHAKE_WORK / 12, f64::INFINITY);
            if self.travel(&tour) > most {
                dear = price;
                continue;
            }
            cheap = price;
            if self.warm(&tour) < self.warm(&chosen) {
                chosen = tour;
            }
        }
        // One price for all pairs often makes all worth parting or none: the rest of what the travel
        // allows is spent pair by pair.
        if self.warm(&chosen) > 0 && self.travel(shortest) < most {
            self.price = LAST_PRICE * mean;
            self.shake(&mut chosen, SHAKE_WORK / 4, most);
        }
        chosen
    }

    fn start(&self, i: usize) -> Point {
        self.stops.get(i).map_or(self.home, |s| s.start)
    }

    /// Cost of going from stop `a` (or home) to stop `b` (or nowhere).
    fn leg(&self, a: Option<usize>, b: Option<usize>) -> f64 {
        let Some(b) = b else { return 0.0 };
        let from = a.and_then(|a| self.stops.get(a));
        let way = self.start(b).distance(from.map_or(self.home, |s| s.end));
        let warm = self.price > 0.0 && from.is_some_and(|s| s.warm.binary_search(&b).is_ok());
        if warm { way + self.price } else { way }
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

    /// Travel and the price of the neighbours in a row.
    fn cost(&self, tour: &[usize]) -> f64 {
        let warm = if self.price > 0.0 {
            self.warm(tour) as f64
        } else {
            0.0
        };
        self.travel(tour) + self.price * warm
    }

    fn warm(&self, tour: &[usize]) -> usize {
        tour.windows(2)
            .filter(|w| match w {
                [a, b] => self
                    .stops
                    .get(*a)
                    .is_some_and(|s| s.warm.binary_search(b).is_ok()),
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
    fn better(&self, tour: &mut [usize]) {
        let mut place = places(tour);
        let mut queue: Vec<usize> = tour.to_vec();
        let mut waiting = vec![true; self.stops.len()];
        let mut steps = 200 * tour.len() + 1000;
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
            if let Some((low, high, _)) = self.improve_at(stop, tour, &mut place) {
                let touched = [low.saturating_sub(1), low, high, high + 1];
                for s in touched
                    .into_iter()
                    .filter_map(|i| tour.get(i))
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

    /// The first move or turn that gives a stop a nearer neighbour and shortens the tour, made; the
    /// range it changed and what it gained.
    fn improve_at(
        &self,
        stop: usize,
        tour: &mut [usize],
        place: &mut [usize],
    ) -> Option<(usize, usize, f64)> {
        let i = *place.get(stop)?;
        let at = |tour: &[usize], i: usize| tour.get(i).copied();
        let coming = self.leg(i.checked_sub(1).and_then(|i| at(tour, i)), Some(stop));
        let going = self.leg(Some(stop), at(tour, i + 1));
        let from = self.from.get(stop)?.iter().map(|&o| (o, true));
        let to = self.to.get(stop)?.iter().map(|&o| (o, false));
        let (mut in_reach, mut out_reach) = (true, true);
        for (other, comes) in from.chain(to) {
            // A new leg no shorter than the one it replaces gains nothing here; the lists ascend.
            let (reach, new, old) = if comes {
                (&mut in_reach, self.leg(Some(other), Some(stop)), coming)
            } else {
                (&mut out_reach, self.leg(Some(stop), Some(other)), going)
            };
            if !*reach || new >= old {
                // A price on warm pairs spoils the ascent a little, so only price-free legs end it.
                *reach = *reach && self.price > 0.0;
                continue;
            }
            let j = *place.get(other)?;
            for (a, b) in [(i, j), (j, i)] {
                if let Some((range, gain)) = self.try_moves(tour, place, a, b) {
                    apply(tour, place, range);
                    return Some((range.0, range.2, gain));
                }
            }
            if comes && let Some((range, gain)) = self.try_long(tour, place, (i, j)) {
                apply(tour, place, range);
                return Some((range.0, range.2, gain));
            }
            // or the run between them is turned round.
            let (low, high) = if i < j { (i, j) } else { (j, i) };
            for (a, b) in [(low + 1, high), (low, high.saturating_sub(1))] {
                if a < b {
                    let gain = self.turn_gain(tour, a, b);
                    if gain > 1e-9 && self.may_turn(tour, place, a, b) {
                        tour.get_mut(a..=b)?.reverse();
                        renumber(tour, place, a, b);
                        return Some((a, b, gain));
                    }
                }
            }
        }
        None
    }

    /// Runs of up to three stops that begin or end at place `i`, moved behind or before place `j`.
    /// The answer is (low, middle, high): the runs low..middle and middle..=high change places.
    fn try_moves(
        &self,
        tour: &[usize],
        place: &[usize],
        i: usize,
        j: usize,
    ) -> Option<((usize, usize, usize), f64)> {
        for run in 1..=RUN {
            for (from, to) in [(i, i + run - 1), ((i + 1).saturating_sub(run), i)] {
                if to >= tour.len() || (from..=to).contains(&j) {
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
                    if !(low < middle && middle <= high) {
                        continue;
                    }
                    let gain = self.swap_gain(tour, range);
                    if gain > 1e-9 && self.may_swap(tour, place, range) {
                        return Some((range, gain));
                    }
                }
            }
        }
        None
    }

    /// Two neighbouring runs of any length swapped so that the stop at place `i` comes right behind the
    /// one at place `j` and a second new leg is one of the shortest there as well (the exchange that
    /// keeps all directions; Gambardella and Dorigo 2000).
    fn try_long(
        &self,
        tour: &[usize],
        place: &[usize],
        (i, j): (usize, usize),
    ) -> Option<((usize, usize, usize), f64)> {
        let near = |from: bool, at: Option<usize>| {
            let list = if from { &self.from } else { &self.to };
            let stop = at.and_then(|at| tour.get(at));
            stop.and_then(|s| list.get(*s)).into_iter().flatten()
        };
        let at = |stop: &usize| place.get(*stop).copied();
        // Runs low..middle and middle..=high change places.
        let mut tried: Vec<(usize, usize, usize)> = Vec::with_capacity(2 * NEIGHBOURS);
        if i < j {
            let middles = near(false, i.checked_sub(1)).filter_map(at);
            tried.extend(middles.filter(|m| i < *m && *m <= j).map(|m| (i, m, j)));
        } else {
            let highs = near(true, Some(j + 1)).filter_map(at);
            tried.extend(highs.filter(|h| *h >= i).map(|h| (j + 1, i, h)));
            let lows = near(false, i.checked_sub(1)).filter_map(at);
            tried.extend(
                lows.filter(|l| *l <= j && j + 1 < i)
                    .map(|l| (l, j + 1, i - 1)),
            );
        }
        tried.into_iter().find_map(|range| {
            let gain = self.swap_gain(tour, range);
            let good = range.0 < range.1 && gain > 1e-9 && self.may_swap(tour, place, range);
            good.then_some((range, gain))
        })
    }

    fn swap_gain(&self, tour: &[usize], (low, middle, high): (usize, usize, usize)) -> f64 {
        let at = |i: usize| tour.get(i).copied();
        let before = low.checked_sub(1).and_then(at);
        let (a, b, c, d) = (
            at(low),
            middle.checked_sub(1).and_then(at),
            at(middle),
            at(high),
        );
        let next = at(high + 1);
        self.leg(before, a) + self.leg(b, c) + self.leg(d, next)
            - self.leg(before, c)
            - self.leg(d, a)
            - self.leg(b, next)
    }

    /// Nothing in middle..=high must come after something in low..middle.
    fn may_swap(
        &self,
        tour: &[usize],
        place: &[usize],
        (low, middle, high): (usize, usize, usize),
    ) -> bool {
        let (first, second) = (tour.get(low..middle), tour.get(middle..=high));
        let (Some(first), Some(second)) = (first, second) else {
            return false;
        };
        let lies = |stop: &usize, from: usize, to: usize| {
            place.get(*stop).is_some_and(|p| (from..to).contains(p))
        };
        // Asked from the shorter run.
        if first.len() <= second.len() {
            let holds = |i: &usize| {
                self.stops
                    .get(*i)
                    .is_some_and(|s| s.before.iter().any(|l| lies(l, middle, high + 1)))
            };
            !first.iter().any(holds)
        } else {
            let waits = |i: &usize| {
                self.after
                    .get(*i)
                    .is_some_and(|a| a.iter().any(|e| lies(e, low, middle)))
            };
            !second.iter().any(waits)
        }
    }

    fn turn_gain(&self, tour: &[usize], a: usize, b: usize) -> f64 {
        let at = |i: usize| tour.get(i).copied();
        let before = a.checked_sub(1).and_then(at);
        let (mut now, mut then) = (self.leg(before, at(a)), self.leg(before, at(b)));
        for i in a..b {
            now += self.leg(at(i), at(i + 1));
            then += self.leg(at(i + 1), at(i));
        }
        now + self.leg(at(b), at(b + 1)) - then - self.leg(at(a), at(b + 1))
    }

    fn may_turn(&self, tour: &[usize], place: &[usize], a: usize, b: usize) -> bool {
        let within = |i: &usize| place.get(*i).is_some_and(|p| (a..=b).contains(p));
        tour.get(a..=b).is_some_and(|run| {
            !run.iter().any(|i| {
                self.stops
                    .get(*i)
                    .is_some_and(|s| s.before.iter().any(within))
            })
        })
    }

    /// Two neighbouring runs swapped at random and the tour about them bettered, again and again. A
    /// result a little longer is gone on from as well, less and less so; the shortest is kept. None may
    /// travel further than `most`.
    fn shake(&self, best: &mut Vec<usize>, work: usize, most: f64) {
        let n = best.len();
        if !(4..=MOST_SHAKEN).contains(&n) {
            return;
        }
        let mut dice = Dice(0x2545_F491_4F6C_DD1D);
        let mut length = self.cost(best);
        let slack = SLACK * length / n as f64;
        let mut tour = best.clone();
        let mut place = places(&tour);
        let mut now = length;
        let (mut tried, mut tried_place) = (tour.clone(), place.clone());
        let rounds = (work / n).clamp(SHAKES.0, SHAKES.1);
        for round in 0..rounds {
            let low = dice.below(n - 1);
            let middle = low + 1 + dice.below((n - low - 1).min(LONGEST_SHAKEN));
            let high = (middle + dice.below(LONGEST_SHAKEN)).min(n - 1);
            if middle > high || !self.may_swap(&tour, &place, (low, middle, high)) {
                continue;
            }
            tried.clone_from(&tour);
            tried_place.clone_from(&place);
            let mut new = now - self.swap_gain(&tried, (low, middle, high));
            apply(&mut tried, &mut tried_place, (low, middle, high));
            let ends = [
                low.saturating_sub(1),
                low,
                low + high - middle,
                low + high - middle + 1,
                high,
                high + 1,
            ];
            let mut queue: Vec<usize> =
                ends.iter().filter_map(|&i| tried.get(i)).copied().collect();
            // Under a limit a long repair would spend all that is left at once.
            let mut steps = if most.is_finite() { round % 8 } else { 60 };
            while let (Some(stop), true) = (queue.pop(), steps > 0) {
                steps -= 1;
                if let Some((a, b, gain)) = self.improve_at(stop, &mut tried, &mut tried_place) {
                    new -= gain;
                    let touched = [a.saturating_sub(1), a, b, b + 1];
                    queue.extend(touched.iter().filter_map(|&i| tried.get(i)).copied());
                    queue.push(stop);
                }
            }
            let cooled = 1.0 - round as f64 / rounds as f64;
            let short = most.is_infinite() || self.travel(&tried) <= most;
            if short && new < now + slack * cooled * cooled {
                core::mem::swap(&mut tour, &mut tried);
                core::mem::swap(&mut place, &mut tried_place);
                now = new;
                if now < length - 1e-9 {
                    length = now;
                    best.clone_from(&tour);
                }
            }
        }
    }
}

fn places(tour: &[usize]) -> Vec<usize> {
    let mut place = vec![0; tour.len()];
    renumber(tour, &mut place, 0, tour.len());
    place
}

fn renumber(tour: &[usize], place: &mut [usize], from: usize, to: usize) {
    for (i, &stop) in tour
        .iter()
        .enumerate()
        .skip(from)
        .take((to + 1).saturating_sub(from))
    {
        if let Some(p) = place.get_mut(stop) {
            *p = i;
        }
    }
}

fn apply(tour: &mut [usize], place: &mut [usize], (low, middle, high): (usize, usize, usize)) {
    if let Some(run) = tour.get_mut(low..=high) {
        run.rotate_left(middle - low);
    }
    renumber(tour, place, low, high);
}

fn nearest_to(stops: &[Stop], i: usize, far: &dyn Fn(&Stop, &Stop) -> f64) -> Vec<usize> {
    let Some(own) = stops.get(i) else {
        return Vec::new();
    };
    let mut near: Vec<(f64, usize)> = stops
        .iter()
        .enumerate()
        .filter(|(j, _)| *j != i)
        .map(|(j, s)| (far(own, s), j))
        .collect();
    let by = |a: &(f64, usize), b: &(f64, usize)| -> Ordering {
        a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))
    };
    if near.len() > NEIGHBOURS {
        near.select_nth_unstable_by(NEIGHBOURS, by);
        near.truncate(NEIGHBOURS);
    }
    near.order_by(by);
    // Collected in place these few would keep the room of all.
    near.iter().map(|(_, j)| *j).collect()
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
        let place = places(&tour.order);
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

    /// Parts on a grid, each with holes in it that come first.
    fn plate(dice: &mut Dice, across: usize, up: usize, holes: usize) -> Vec<Stop> {
        let mut stops = Vec::new();
        let mut place =
            |x: f64, y: f64| Point::new(x + dice.below(8) as f64, y + dice.below(8) as f64);
        for i in 0..across * up {
            let (x, y) = ((i % across) as f64 * 50.0, (i / across) as f64 * 35.0);
            let part = stops.len() + holes;
            for k in 0..=holes {
                let start = place(x + 14.0 * k as f64, y + if k == holes { -6.0 } else { 9.0 });
                stops.push(Stop {
                    start,
                    end: place(start.x - 4.0, start.y - 4.0),
                    before: if k < holes { vec![part] } else { Vec::new() },
                    warm: Vec::new(),
                });
            }
        }
        stops
    }

    #[test]
    fn travel_is_near_what_a_long_search_finds() {
        let mut dice = Dice(11);
        for (across, up, holes) in [(10, 10, 1), (20, 10, 1), (12, 8, 2), (20, 10, 0)] {
            let stops = plate(&mut dice, across, up, holes);
            let soon = order(&stops, Point::default(), 0.05).travel;
            let long = order_with(&stops, Point::default(), 0.0, 20 * SHAKE_WORK).travel;
            assert!(soon <= 1.1 * long, "{across} x {up}: {soon} and {long}");
        }
    }

    #[test]
    fn heat_is_spread_as_far_as_the_travel_may_grow() {
        // Two rows of ten, each piece warm to those beside it.
        let mut stops = row(&(0..20)
            .map(|i| (f64::from(i % 10) * 30.0, f64::from(i / 10) * 30.0))
            .collect::<Vec<_>>());
        for (i, stop) in stops.iter_mut().enumerate() {
            let beside = |j: &usize| {
                let (x, y) = ((i % 10).abs_diff(j % 10), (i / 10).abs_diff(j / 10));
                *j != i && x <= 1 && y <= 1
            };
            stop.warm = (0..20).filter(beside).collect();
        }
        let share = |s: f64| order(&stops, Point::default(), s);
        let (none, some, all) = (share(0.0), share(0.5), share(2.0));
        assert_eq!(none.warm_in_a_row, 19);
        assert!(some.warm_in_a_row < 19 && some.travel <= 1.5 * none.travel + 1e-9);
        assert_eq!(all.warm_in_a_row, 0);
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

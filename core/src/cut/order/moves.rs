//! How a tour is bettered: short runs moved elsewhere, runs turned round, long neighbouring runs exchanged, each
//! only where it brings two near neighbours together and keeps what waits behind what it waits for.

use super::problem::{NEIGHBOURS, Problem};

/// Longest run that is moved as a whole.
const RUN: usize = 3;
/// Stops that all moves of one order together may look at. A plate of 200 parts with two holes each takes less than a tenth of it.
pub(super) const MOST_WORK: usize = 40_000_000;

impl Problem<'_> {
    /// Moves and turns until nothing helps.
    pub(super) fn better(&self, tour: &mut [usize]) {
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
    pub(super) fn improve_at(
        &self,
        stop: usize,
        tour: &mut [usize],
        place: &mut [usize],
    ) -> Option<(usize, usize, f64)> {
        self.spend(1)?;
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
                    self.spend(b - a)?;
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

    /// Nothing once the work is used up.
    fn spend(&self, stops: usize) -> Option<()> {
        let left = self.work_left.get().checked_sub(stops);
        self.work_left.set(left.unwrap_or(0));
        left.map(drop)
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

    pub(super) fn swap_gain(
        &self,
        tour: &[usize],
        (low, middle, high): (usize, usize, usize),
    ) -> f64 {
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
    pub(super) fn may_swap(
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

    pub(super) fn turn_gain(&self, tour: &[usize], a: usize, b: usize) -> f64 {
        let at = |i: usize| tour.get(i).copied();
        let before = a.checked_sub(1).and_then(at);
        let (mut now, mut then) = (self.leg(before, at(a)), self.leg(before, at(b)));
        for i in a..b {
            now += self.leg(at(i), at(i + 1));
            then += self.leg(at(i + 1), at(i));
        }
        now + self.leg(at(b), at(b + 1)) - then - self.leg(at(a), at(b + 1))
    }

    pub(super) fn may_turn(&self, tour: &[usize], place: &[usize], a: usize, b: usize) -> bool {
        let within = |i: &usize| place.get(*i).is_some_and(|p| (a..=b).contains(p));
        tour.get(a..=b).is_some_and(|run| {
            !run.iter().any(|i| {
                self.stops
                    .get(*i)
                    .is_some_and(|s| s.before.iter().any(within))
            })
        })
    }
}

pub(super) fn places(tour: &[usize]) -> Vec<usize> {
    let mut place = vec![0; tour.len()];
    renumber(tour, &mut place, 0, tour.len());
    place
}

pub(super) fn renumber(tour: &[usize], place: &mut [usize], from: usize, to: usize) {
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

pub(super) fn apply(
    tour: &mut [usize],
    place: &mut [usize],
    (low, middle, high): (usize, usize, usize),
) {
    if let Some(run) = tour.get_mut(low..=high) {
        run.rotate_left(middle - low);
    }
    renumber(tour, place, low, high);
}

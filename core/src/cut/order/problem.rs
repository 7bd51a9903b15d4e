//! The stops as a problem: which lie near which, what a tour costs, and the tour to begin with.

use super::Stop;
use super::moves::MOST_WORK;
use crate::geom::{Point, Sorted as _};
use core::cell::Cell;
use core::cmp::Ordering;

/// Near neighbours looked at from each cut.
pub(super) const NEIGHBOURS: usize = 10;

pub(super) struct Problem<'a> {
    pub(super) stops: &'a [Stop],
    pub(super) home: Point,
    /// Stops that must be made before each.
    pub(super) after: Vec<Vec<usize>>,
    /// Stops whose ends lie nearest to the start of each,
    pub(super) from: Vec<Vec<usize>>,
    /// and whose starts lie nearest to its end.
    pub(super) to: Vec<Vec<usize>>,
    /// What a warm pair in a row costs, mm.
    pub(super) price: f64,
    /// Stops that moves may still look at.
    pub(super) work_left: Cell<usize>,
}

impl<'a> Problem<'a> {
    pub(super) fn new(stops: &'a [Stop], home: Point) -> Self {
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
            work_left: Cell::new(MOST_WORK),
        }
    }

    pub(super) fn start(&self, i: usize) -> Point {
        self.stops.get(i).map_or(self.home, |s| s.start)
    }

    /// Cost of going from stop `a` (or home) to stop `b` (or nowhere).
    pub(super) fn leg(&self, a: Option<usize>, b: Option<usize>) -> f64 {
        let Some(b) = b else { return 0.0 };
        let from = a.and_then(|a| self.stops.get(a));
        let way = self.start(b).distance(from.map_or(self.home, |s| s.end));
        let warm = self.price > 0.0 && from.is_some_and(|s| s.warm.binary_search(&b).is_ok());
        if warm { way + self.price } else { way }
    }

    pub(super) fn travel(&self, tour: &[usize]) -> f64 {
        let mut from = self.home;
        let mut sum = 0.0;
        for stop in tour.iter().filter_map(|&i| self.stops.get(i)) {
            sum += from.distance(stop.start);
            from = stop.end;
        }
        sum
    }

    /// Travel and the price of the neighbours in a row.
    pub(super) fn cost(&self, tour: &[usize]) -> f64 {
        let warm = if self.price > 0.0 {
            self.warm(tour) as f64
        } else {
            0.0
        };
        self.travel(tour) + self.price * warm
    }

    pub(super) fn warm(&self, tour: &[usize]) -> usize {
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

    pub(super) fn nearest_first(&self) -> Vec<usize> {
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

//! The order of the cuts: holes before the part around them, little travel, heat in mind.
//!
//! A shortest tour with precedence (the sequential ordering problem, NP-hard). Up to nine cuts are ordered
//! exactly ([`exact`]). More are built by nearest
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
//! [`bound()`] says how short any order could be at best.
//!
//! What moves cost grows with the tour, and thousands of cuts that wait for nothing (the open lines of a hatch) can be
//! moved for minutes. So the work of one order is counted and bounded ([`moves::MOST_WORK`]); plates that are cut
//! come to a tenth of that, and past it the tour is taken as it stands.

mod bound;
mod cool;
mod exact;
mod moves;
mod problem;
mod shake;
#[cfg(test)]
mod tests;

pub use bound::bound;

use crate::geom::Point;
use problem::Problem;
use shake::SHAKE_WORK;

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
    /// No order whatever could travel less than this, mm.
    pub bound: f64,
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
    let bound = bound(stops, home);
    let chosen = problem.exact(heat_share).unwrap_or_else(|| {
        let mut best = problem.nearest_first();
        problem.better(&mut best);
        // What is as short as any order could be is not shaken.
        if problem.travel(&best) > bound {
            problem.shake(&mut best, work, f64::INFINITY);
        }
        let shortest = problem.travel(&best);
        problem.cooler(&best, (1.0 + heat_share) * shortest)
    });
    Tour {
        travel: problem.travel(&chosen),
        warm_in_a_row: problem.warm(&chosen),
        order: chosen,
        bound,
    }
}

//! The readings of one path: candidates from all scales, and the neighbourhood of the best.
//!
//! A reading is held to the relations that people mean wherever they are nearly so. The best are read again
//! with those that the stations alone speak for ([`Leaning`]), and both compete: a corner five degrees off is
//! a right angle of a hand that errs by as much, and none of a steady one.

use super::moves::{self, Proposed};
use super::{Course, Reading, candidates, price, slow};
use crate::fit::partition::Partition;
use crate::geom::Sorted as _;
use crate::relate::ask::Ask;
use crate::relate::blocks::Noise;
use crate::relate::choose::Leaning;
use crate::relate::constraint::Condition;
use crate::relate::equations::Problem;
use crate::relate::find::{Found, find, proposals};
use crate::relate::round::solve_circle;
use crate::relate::solve::{Care, Solved, covers, slack, solve};
use crate::relate::start::start_figure;
use crate::report::Wander;
use crate::settings::Settings;
use crate::trace::{Stations, wander};
use core::f64::consts::TAU;
use std::collections::BTreeSet;

/// All readings of one path, cheapest first.
#[must_use]
pub fn read_path(stations: &Stations, noise: &Noise) -> Vec<Reading> {
    let problem = Problem::new(stations, noise);
    let mut out: Vec<Reading> = Vec::new();
    if stations.closed
        && let Some(c) = solve_circle(stations, noise, None)
        && was_traced(TAU * c.radius, stations, noise)
    {
        let measures = price::of_circle(&c, noise, problem.size);
        let course = Course::Circle(Box::new(c));
        out.push(Reading::new(course, Vec::new(), measures, Leaning::Meant));
    }
    let mut tried = Tried::default();
    let mut all = candidates::candidates(stations, noise.scale());
    // Few edges first, which cost least to solve; the others from the finest scale on, until two are so
    // far behind that others of their kind will not come to the front.
    let mut far = 0;
    all.order_by_key(|p| p.len() > MOST_VARIED);
    for p in all {
        let many = p.len() > MOST_VARIED;
        let free = Proposed::free(p);
        if !tried.is_new(&free) {
            continue;
        }
        let Some(reading) = read_new(&problem, &free, &mut tried, None) else {
            continue;
        };
        let measures = reading.measures;
        out.push(reading);
        if many {
            let bar = reprice(&mut out);
            far += usize::from(bar.is_some_and(|b| b.is_far(&measures)));
            if far > 1 {
                break;
            }
        }
    }
    let bar = reprice(&mut out);
    let tied: Vec<Proposed> = out
        .iter()
        .filter_map(|r| match &r.course {
            Course::Chain(s) if s.figure.len() <= MOST_VARIED => Some(moves::tied(s)),
            _ => None,
        })
        .flatten()
        .filter(|p| tried.is_new(p))
        .collect();
    let read = |p| read_new(&problem, p, &mut Tried::default(), bar.as_ref());
    out.extend(tied.iter().filter_map(read));
    search(&problem, &mut out, &mut tried);
    let strict: Vec<Reading> = out
        .iter()
        .take(VARIED)
        .filter_map(|r| strictly(r, &problem))
        .collect();
    out.extend(strict);
    reprice(&mut out);
    nearest_first(&mut out, stations.len());
    out
}

/// Of readings that are as good as one with the cheapest, their joints at other stations, the one that leaves
/// least goes first: which of several conditions that come to the same were taken tells in the price, and hangs
/// by a rounding.
fn nearest_first(readings: &mut [Reading], n: usize) {
    let Some((best, Course::Chain(first))) = readings.first().map(|r| (r, &r.course)) else {
        return;
    };
    let same = |r: &Reading| match &r.course {
        Course::Chain(s) => {
            alike(&s.partition(), &first.partition(), n)
                && s.normal.freedoms() == first.normal.freedoms()
        }
        Course::Circle(_) => false,
    };
    let price = best.price;
    let near = readings.iter().take_while(|r| r.price < price + AS_ONE);
    let equals = near.enumerate().filter(|(_, r)| same(r));
    let least =
        equals.min_by(|a, b| price::misfit(&a.1.measures).total_cmp(&price::misfit(&b.1.measures)));
    if let Some((i, _)) = least
        && let Some(front) = readings.get_mut(..=i)
    {
        front.rotate_right(1);
        if let Some(first) = front.first_mut() {
            first.price = price;
        }
    }
}

/// Readings whose joints alone differ are one within this, nats.
const AS_ONE: f64 = 3.0;

/// So much was traced, or more: a sliver is no bit of a circle that goes far out and comes back.
fn was_traced(length: f64, stations: &Stations, noise: &Noise) -> bool {
    let traced = stations.length();
    length - traced <= slack(length, traced, noise)
}

/// What was read already: partitions with the number of conditions held, as proposed (joints only
/// roughly) and as they came out of the solve.
#[derive(Default)]
pub(super) struct Tried {
    proposed: BTreeSet<(Partition, usize)>,
    solved: BTreeSet<(Partition, usize)>,
}

impl Tried {
    fn is_new(&mut self, p: &Proposed) -> bool {
        self.proposed.insert((coarse(&p.partition), p.held.len()))
    }

    fn is_new_solved(&mut self, s: &Solved, held: usize) -> bool {
        self.solved.insert((s.partition(), held))
    }
}

/// Prices all readings for the hand they show together, cheapest first. Returns what a new one has to come
/// near to.
pub(super) fn reprice(readings: &mut [Reading]) -> Option<Bar> {
    let context = price::Context::of(readings.iter().map(|r| &r.measures));
    for r in readings.iter_mut() {
        let unfavoured = if r.leaning == Leaning::Stations {
            UNFAVOURED
        } else {
            0.0
        };
        r.price = price::total(&r.measures, &context) + unfavoured + r.against;
    }
    readings.order_by(|a, b| a.price.total_cmp(&b.price));
    let price = readings.first().map(|r| r.price - r.against)?;
    Some(Bar { context, price })
}

/// How seldom something nearly square is meant to be off square, or nearly smooth to have a kink, nats. (At four,
/// one square corner in a thousand of the ordinary hand is left askew, and odd figures come out a hair nearer.)
const UNFAVOURED: f64 = 6.0;

/// A partition with its joints to the nearest few stations: two that agree in this end up the same.
fn coarse(p: &Partition) -> Partition {
    let starts = p.starts.iter().map(|s| (s + COARSE / 2) / COARSE).collect();
    Partition {
        starts,
        kinds: p.kinds.clone(),
    }
}

/// Stations within which two joints are the same for [`coarse`].
const COARSE: usize = 5;

/// A reading of more edges is not varied: each change costs a solve of all of them.
const MOST_VARIED: usize = 16;
/// A reading of more edges is not held to its relations while it competes: that costs the cube of them.
const MOST_HELD: usize = 60;
/// How many of the best readings are varied, and how often. (Three rounds find no more right readings than
/// two; two readings instead of three lose one trace in 300.)
const VARIED: usize = 3;
const ROUNDS: usize = 2;

/// Varies the best readings and keeps what comes of it, cheapest first.
fn search(problem: &Problem, out: &mut Vec<Reading>, tried: &mut Tried) {
    let n = problem.stations.len();
    let mut varied: Vec<Partition> = Vec::new();
    let mut bar = reprice(out);
    for _ in 0..ROUNDS {
        let mut fresh = Vec::new();
        for s in distinct(out, n) {
            let partition = s.partition();
            if varied.iter().any(|v| alike(v, &partition, n)) {
                continue;
            }
            varied.push(partition);
            for p in moves::neighbours(s, problem, problem.rounding()) {
                if tried.is_new(&p) {
                    fresh.push(p);
                }
            }
        }
        if fresh.is_empty() {
            return;
        }
        out.extend(
            fresh
                .iter()
                .filter_map(|p| read_new(problem, p, tried, bar.as_ref())),
        );
        bar = reprice(out);
    }
}

/// The best readings that differ in more than their relations or the last stations of their joints, of few
/// enough edges to be varied.
fn distinct(readings: &[Reading], n: usize) -> Vec<&Solved> {
    let mut out: Vec<(&Solved, Partition)> = Vec::new();
    let least = readings.first().map_or(0.0, |r| r.price);
    for r in readings.iter().take_while(|r| r.price < least + NEAR) {
        let Course::Chain(s) = &r.course else {
            continue;
        };
        let partition = s.partition();
        let small = s.figure.len() <= MOST_VARIED;
        if small && !out.iter().any(|(_, o)| alike(o, &partition, n)) {
            out.push((s, partition));
        }
        if out.len() == VARIED {
            break;
        }
    }
    out.into_iter().map(|o| o.0).collect()
}

/// The same kinds of edges, joints within a few stations of `n`.
fn alike(a: &Partition, b: &Partition, n: usize) -> bool {
    let near = |(s, t): (&usize, &usize)| {
        let apart = s.abs_diff(*t);
        apart.min(n - apart.min(n)) <= COARSE
    };
    a.kinds == b.kinds && a.starts.iter().zip(&b.starts).all(near)
}

/// What a new reading has to come near to be worth the trouble.
pub(super) struct Bar {
    context: price::Context,
    /// The cheapest so far, nats.
    price: f64,
}

impl Bar {
    /// A reading with such measures before it is held to its relations, which only adds to its price,
    /// may yet be the best or one whose neighbours are.
    fn is_near(&self, hoped: &price::Measures) -> bool {
        price::total(hoped, &self.context) < self.price + HOPED
    }

    fn is_far(&self, measures: &price::Measures) -> bool {
        price::total(measures, &self.context) > self.price + FAR
    }
}

/// No reading further behind the cheapest than this, nats, was ever one that the right one was near to.
const NEAR: f64 = 45.0;
/// A reading that is further behind than this, nats, before it is held to its relations does not come to the
/// front by them: of 123 that did one had been so far.
const HOPED: f64 = 25.0;
/// A reading of many edges that is further behind than this, nats, is not mended by some more or fewer.
const FAR: f64 = 150.0;

/// Solves one partition, finds its relations, solves again under them and prices the result.
pub(super) fn read_partition(problem: &Problem, p: &Proposed) -> Option<Reading> {
    read_new(problem, p, &mut Tried::default(), None)
}

/// As [`read_partition`]; nothing where a partition that was tried came out the same.
pub(super) fn read_new(
    problem: &Problem,
    p: &Proposed,
    tried: &mut Tried,
    bar: Option<&Bar>,
) -> Option<Reading> {
    let stations = problem.stations;
    let figure = start_figure(stations, &p.partition)?;
    let starts = p.partition.starts.clone();
    let solved = solve(problem, figure, starts, &p.held, Care::CANDIDATE)?;
    if !tried.is_new_solved(&solved, p.held.len()) {
        return None;
    }
    related(problem, solved, &p.held, Leaning::Meant, bar)
}

/// A reading again, with the relations that the stations alone speak for; nothing where they speak for all.
fn strictly(r: &Reading, problem: &Problem) -> Option<Reading> {
    let Course::Chain(s) = &r.course else {
        return None;
    };
    if r.conditions.is_empty() || s.figure.len() > MOST_VARIED {
        return None;
    }
    let free = hold(s, problem, &[], Care::CANDIDATE)?;
    let strict = related(problem, free, &[], Leaning::Stations, None)?;
    (strict.conditions.len() < r.conditions.len()).then_some(strict)
}

/// A figure with the relations that hold of it besides `held`, solved under them and measured. Nothing where
/// it does not come near to `bar`, or an edge runs away from its stations that nobody asked to.
fn related(
    problem: &Problem,
    mut solved: Solved,
    held: &[Condition],
    leaning: Leaning,
    bar: Option<&Bar>,
) -> Option<Reading> {
    let (stations, noise, size) = (problem.stations, problem.noise, problem.size);
    let mut conditions = held.to_vec();
    let mut found = Found::default();
    let mut evidence = slow::of_chain(&solved, noise, size);
    // From the free figure: a wrong relation must not excuse the next by its own misfit.
    let factor = evidence.factor;
    for _ in 0..RELATE_ROUNDS {
        let asked = proposals(&Ask::within(&solved.figure, size), false);
        let (figure, free) = (&solved.figure, &solved.free);
        found = find(figure, free, &asked, &conditions, factor, leaning);
        if found.conditions.len() == conditions.len() {
            break;
        }
        let hoped = || price::of_chain(&solved, &found, &evidence, noise, size);
        if bar.is_some_and(|b| !b.is_near(&hoped())) {
            return None;
        }
        conditions.clone_from(&found.conditions);
        if solved.figure.len() > MOST_HELD {
            // Held only if it is chosen.
            break;
        }
        solved = hold(&solved, problem, &conditions, Care::CANDIDATE)?;
        evidence = slow::of_chain(&solved, noise, size);
    }
    let said = held.iter().any(Condition::is_said);
    if !said && !covers(&solved.figure, &solved.starts, stations, noise, 1.0) {
        return None;
    }
    let mut measures = price::of_chain(&solved, &found, &evidence, noise, size);
    price::add_corner_distance(&mut measures, &solved.figure, &stations.points, noise);
    let course = Course::Chain(Box::new(solved));
    Some(Reading::new(course, conditions, measures, leaning))
}

/// How the hand errs, measured on the stations.
#[must_use]
pub fn hand_of(stations: &Stations, settings: &Settings) -> (Wander, Noise) {
    let unit = settings.station;
    let hand = wander::measure(stations, unit);
    let noise = Noise {
        size: hand.size,
        correlation: hand.correlation,
        unit,
        rounds_corners: true,
    };
    (hand, noise)
}

/// The conditions of a reading, solved anew, with those that the stations speak for besides.
pub(super) fn relate(s: &Solved, problem: &Problem, r: &Reading) -> Vec<Condition> {
    let factor = slow::of_chain(s, problem.noise, problem.size).factor;
    let all = proposals(&Ask::within(&s.figure, problem.size), true);
    find(&s.figure, &s.free, &all, &r.conditions, factor, r.leaning).conditions
}

/// Solves a reading again under other conditions, those that come first before those that follow;
/// what contradicts the earlier is left out. `None` as [`solve`].
#[must_use]
pub fn hold(s: &Solved, problem: &Problem, conditions: &[Condition], care: Care) -> Option<Solved> {
    let (figure, starts) = (s.figure.clone(), s.starts.clone());
    solve(problem, figure, starts, conditions, care)
}

/// How often relations are looked for, each time at the figure that the last ones gave.
const RELATE_ROUNDS: usize = 2;

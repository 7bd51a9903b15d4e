//! The readings of one path: candidates from all scales, and other ways through every stretch of the best.
//!
//! 1. Candidates ([`starts`]) are solved free of relations: a *glance*, which also says how large a slow error
//!    the hand made.
//! 2. Those that come near are solved again for a hand with such an error, held to the relations that the stations
//!    speak for, and priced ([`super::price`]).
//! 3. Every stretch of the best is read other ways ([`super::local`]) until none is better; of the next best, once.
//!
//! Every reading is held to the relations that people mean wherever they are nearly so.

use super::evidence::{Instrument, Under};
use super::local::Local;
use super::measures::Measures;
use super::proposed::{Proposed, as_meant, as_one, crooked, ended, is_sound, smooth_joints};
use super::starts::starts;
use super::{Course, Reading, price};
use crate::fit::partition::{Kind, Partition, SpanTable};
use crate::geom::{Point, Sorted as _};
use crate::relate::ask::Ask;
use crate::relate::blocks::{Noise, Slow};
use crate::relate::constraint::Condition;
use crate::relate::equations::{Problem, stretch};
use crate::relate::find::{Found, find, proposals};
use crate::relate::round::solve_circle;
use crate::relate::solve::{Care, Solved, covers, slack, solve};
use crate::relate::start::start_figure;
use crate::report::Wander;
use crate::settings::Settings;
use crate::trace::{Stations, wander};
use core::f64::consts::TAU;
use std::collections::BTreeSet;

/// A reading of more edges is not read other ways stretch by stretch: each costs a solve of all of them.
const MOST_VARIED: usize = 24;
/// A reading of more edges is not held to its relations while it competes: that costs the cube of them.
const MOST_HELD: usize = 60;
/// How often the best is read other ways, and how many of the next best once.
const ROUNDS: usize = 4;
const ALSO: usize = 1;
/// What relations may yet gain a candidate at each of its joints, nats, and what else may come of it.
const HOPED_EACH: f64 = 4.5;
const HOPED: f64 = 20.0;
/// So many go on however far behind: the one in front may fall apart under its relations.
const FEWEST: usize = 4;
/// No reading further behind the cheapest than this, nats, is worth reading other ways.
const NEAR: f64 = 20.0;
/// A candidate of many edges that is further behind than this, nats, is not mended by some more or fewer.
const FAR: f64 = 150.0;

/// How seldom the end of a slit or a tab is meant askew, nats.
const CROOKED: f64 = 9.0;

/// All readings of one path by one instrument, cheapest first, and the hand with the slow error it shows.
#[must_use]
pub fn read_path(
    stations: &Stations,
    noise: &Noise,
    instrument: Instrument,
) -> (Vec<Reading>, Noise) {
    let mut problem = Problem::new(stations, noise);
    let table = SpanTable::measure(stations, NODES, FINEST * noise.scale());
    let glanced = glance(&mut problem, &table, instrument);
    let mut tried = Tried::default();
    let mut out: Vec<Reading> = whole_circle(&problem, instrument).into_iter().collect();
    for (glanced, held) in &glanced {
        let again = (problem.noise.slow.size > 0.0)
            .then(|| hold(glanced, &problem, held, Care::CANDIDATE))
            .flatten();
        let solved = again.unwrap_or_else(|| glanced.clone());
        if let Some(p) = ended(&solved, noise.unit).filter(|_| solved.figure.len() <= MOST_VARIED) {
            out.extend(tried.read(&problem, &p, instrument));
        }
        if tried.is_new_solved(&solved, held.len()) {
            out.extend(related(&problem, solved, held, instrument, MOST_HELD));
        }
    }
    // Each fell apart under its relations or ran away from its stations: as they are, held to nothing.
    if out.iter().all(|r| r.chain().is_none()) {
        let again = glanced.iter().filter_map(|(s, held)| {
            let (figure, starts) = (s.figure.clone(), at_corners(s, stations)?);
            let solved = solve(&problem, figure, starts, held, Care::CANDIDATE)?;
            related(&problem, solved, held, instrument, 0)
        });
        out.extend(again);
    }
    let meant = |s| as_meant(s, noise.unit);
    let all_meant: Vec<Proposed> = out.iter().filter_map(varied).flat_map(meant).collect();
    for p in &all_meant {
        out.extend(tried.read(&problem, p, instrument));
    }
    in_order(&mut out);
    vary(&problem, &table, &mut out, &mut tried, instrument);
    for r in &mut out {
        let ends = r.chain().map_or(0, |s| crooked(&s.figure, noise.unit));
        r.against = CROOKED * ends as f64;
        r.price += r.against;
    }
    in_order(&mut out);
    let noise = problem.noise;
    (out, noise)
}

/// The readings of one partition, cheapest first, priced as [`read_path`] prices its own: what a partition costs that
/// was not among its candidates.
#[must_use]
pub fn read_as(
    partition: &Partition,
    stations: &Stations,
    noise: &Noise,
    instrument: Instrument,
) -> Vec<Reading> {
    let mut problem = Problem::new(stations, noise);
    let table = SpanTable::measure(stations, NODES, FINEST * noise.scale());
    glance(&mut problem, &table, instrument);
    let mut tried = Tried::default();
    let proposed = Proposed::free(partition.clone());
    let mut out: Vec<Reading> = tried
        .read(&problem, &proposed, instrument)
        .into_iter()
        .collect();
    let solved = out.iter().filter_map(varied);
    let meant: Vec<Proposed> = solved.flat_map(|s| as_meant(s, noise.unit)).collect();
    out.extend(
        meant
            .iter()
            .filter_map(|p| tried.read(&problem, p, instrument)),
    );
    in_order(&mut out);
    out
}

/// Nodes of the table of spans, and the misfit below which no arc is tried, against the wander's own scale.
pub(super) const NODES: usize = 90;
pub(super) const FINEST: f64 = 0.25;

fn in_order(readings: &mut [Reading]) {
    readings.order_by(|a, b| a.price.total_cmp(&b.price));
}

/// The candidates, solved free, that come near the cheapest of them. Takes the slow error that the cheapest shows
/// for known from here on.
fn glance(
    problem: &mut Problem<'_>,
    table: &SpanTable,
    instrument: Instrument,
) -> Vec<(Solved, Vec<Condition>)> {
    let stations = problem.stations;
    let mut seen: Vec<(f64, Solved, Vec<Condition>)> = Vec::new();
    let mut slow = Slow::default();
    let mut least = f64::INFINITY;
    if let Some(circle) = whole_circle(problem, instrument) {
        least = circle.price;
        slow = circle.slow;
    }
    let mut tried = Tried::default();
    let mut all = starts(stations, table, problem.noise.scale());
    // Few edges first, which cost least to solve; the others from the finest scale on, until two are so
    // far behind that others of their kind will not come to the front.
    all.order_by_key(|p| p.len() > MOST_VARIED);
    let mut far = 0;
    for p in all {
        let many = p.len() > MOST_VARIED;
        if !tried.is_new(&Proposed::free(p.clone())) {
            continue;
        }
        let Some((solved, held)) = first_look(problem, p) else {
            continue;
        };
        if !tried.is_new_solved(&solved, held.len()) {
            continue;
        }
        let under = under(problem, instrument);
        let e = under.of_chain(&solved);
        let noise = &problem.noise;
        let m = Measures::of_chain(&solved, &Found::default(), &e, noise, problem.size);
        let price = price::of(&m, instrument) - HOPED_EACH * solved.figure.len() as f64;
        if price < least {
            least = price;
            slow = Slow {
                size: e.slow,
                correlation: e.correlation,
            };
        }
        far += usize::from(many && price > least + FAR);
        seen.push((price, solved, held));
        if far > 1 {
            break;
        }
    }
    if slow.size > 0.0 {
        problem.with_slow(slow);
    }
    seen.order_by(|a, b| a.0.total_cmp(&b.0));
    let near = seen.iter().filter(|s| s.0 < least + HOPED).count();
    seen.truncate(near.max(FEWEST));
    seen.into_iter().map(|s| (s.1, s.2)).collect()
}

/// A partition solved free; one of arcs alone, which hold together only where they run into one another, without
/// kinks there.
fn first_look(problem: &Problem<'_>, p: Partition) -> Option<(Solved, Vec<Condition>)> {
    let figure = start_figure(problem.stations, &p)?;
    let held = if p.len() > 2 && p.kinds.iter().all(|k| *k == Kind::Arc) {
        smooth_joints(&figure)
    } else {
        Vec::new()
    };
    let solved = solve(problem, figure, p.starts, &held, Care::CANDIDATE)?;
    Some((solved, held))
}

/// The evidence that readings of a problem are judged by.
pub(super) fn under<'a>(problem: &'a Problem<'_>, instrument: Instrument) -> Under<'a> {
    Under {
        noise: &problem.noise,
        size: problem.size,
        instrument,
        thorough: problem.all,
    }
}

/// The path as a whole circle, where so much was traced of it.
fn whole_circle(problem: &Problem<'_>, instrument: Instrument) -> Option<Reading> {
    let (stations, noise) = (problem.stations, &problem.noise);
    let c = solve_circle(stations, noise, None).filter(|_| stations.closed)?;
    was_traced(TAU * c.radius, stations, noise).then(|| {
        let e = under(problem, instrument).of_circle(&c);
        let measures = Measures::of_circle(&c, &e, noise, problem.size);
        let course = Course::Circle(Box::new(c));
        Reading::new(course, Vec::new(), measures, instrument, &e)
    })
}

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

    /// The reading of a proposal that was not read yet.
    fn read(
        &mut self,
        problem: &Problem<'_>,
        p: &Proposed,
        instrument: Instrument,
    ) -> Option<Reading> {
        let new = self.is_new(p);
        new.then(|| read_new(problem, p, self, instrument))
            .flatten()
    }

    fn is_new_solved(&mut self, s: &Solved, held: usize) -> bool {
        self.solved.insert((coarse(&s.partition()), held))
    }
}

/// A partition with its joints to the nearest few stations: two that agree in this end up the same.
fn coarse(p: &Partition) -> Partition {
    let starts = p.starts.iter().map(|s| (s + COARSE / 2) / COARSE).collect();
    Partition {
        starts,
        kinds: p.kinds.clone(),
    }
}

/// Stations within which two joints are the same for [`coarse`].
const COARSE: usize = 4;

/// A reading of few enough edges to be read other ways.
fn varied(r: &Reading) -> Option<&Solved> {
    r.chain().filter(|s| s.figure.len() <= MOST_VARIED)
}

/// Reads the best other ways until that brings nothing better, and the next best once.
fn vary(
    problem: &Problem<'_>,
    table: &SpanTable,
    out: &mut Vec<Reading>,
    tried: &mut Tried,
    instrument: Instrument,
) {
    let n = problem.stations.len();
    let mut local = Local::new(problem, table, instrument);
    let mut done: Vec<Partition> = Vec::new();
    for round in 0..ROUNDS + ALSO {
        let least = out.first().map_or(0.0, |r| r.price);
        let looked_at = if round < ROUNDS { 1 } else { 1 + ALSO };
        let near = out.iter().take_while(|r| r.price < least + NEAR);
        let mut distinct: Vec<&Solved> = Vec::new();
        for s in near.filter_map(varied) {
            let p = s.partition();
            if !distinct.iter().any(|d| alike(&d.partition(), &p, n)) {
                distinct.push(s);
            }
            if distinct.len() == looked_at {
                break;
            }
        }
        let new = |s: &&Solved| !done.iter().any(|d| alike(d, &s.partition(), n));
        let Some(s) = distinct.into_iter().find(new) else {
            continue;
        };
        done.push(s.partition());
        let changes = local.changes(s);
        for p in &changes {
            let free = tried.read(problem, p, instrument);
            let meant = free.as_ref().and_then(varied);
            let meant = meant.map_or_else(Vec::new, |s| as_meant(s, problem.noise.unit));
            out.extend(free);
            for p in &meant {
                out.extend(tried.read(problem, p, instrument));
            }
        }
        in_order(out);
    }
}

/// The same kinds of edges, joints within a few stations of `n`.
fn alike(a: &Partition, b: &Partition, n: usize) -> bool {
    let near = |(s, t): (&usize, &usize)| {
        let apart = s.abs_diff(*t);
        apart.min(n - apart.min(n)) <= COARSE
    };
    a.kinds == b.kinds && a.starts.iter().zip(&b.starts).all(near)
}

/// Solves one partition, finds its relations and prices it as if it were held to them, to second order: what
/// is only compared with its neighbours need not be solved again.
pub(super) fn read_partition(
    problem: &Problem<'_>,
    p: &Proposed,
    instrument: Instrument,
) -> Option<Reading> {
    related(problem, as_proposed(problem, p)?, &p.held, instrument, 0)
}

/// Solves one partition, finds its relations, solves again under them and prices the result; nothing where a
/// partition that was tried came out the same.
pub(super) fn read_new(
    problem: &Problem<'_>,
    p: &Proposed,
    tried: &mut Tried,
    instrument: Instrument,
) -> Option<Reading> {
    let solved = as_proposed(problem, p)?;
    if !tried.is_new_solved(&solved, p.held.len()) {
        return None;
    }
    related(problem, solved, &p.held, instrument, MOST_HELD)
}

/// A proposal as it comes out of the solve, held to nothing else.
fn as_proposed(problem: &Problem<'_>, p: &Proposed) -> Option<Solved> {
    let figure = start_figure(problem.stations, &p.partition)?;
    let starts = p.partition.starts.clone();
    solve(problem, figure, starts, &p.held, Care::CANDIDATE)
}

/// A figure with the relations that hold of it besides `held`, solved under them if it has no more than
/// `most_held` edges, and measured. Nothing where an edge runs away from its stations that nobody asked to.
fn related(
    problem: &Problem<'_>,
    mut solved: Solved,
    held: &[Condition],
    instrument: Instrument,
    most_held: usize,
) -> Option<Reading> {
    let (stations, noise, size) = (problem.stations, &problem.noise, problem.size);
    let under = under(problem, instrument);
    let mut conditions = held.to_vec();
    let mut found = Found::default();
    let mut evidence = under.of_chain(&solved);
    // From the free figure: a wrong relation must not excuse the next by its own misfit.
    let factor = evidence.factor;
    for _ in 0..RELATE_ROUNDS {
        let asked = proposals(&Ask::within(&solved.figure, size), false);
        let (figure, free) = (&solved.figure, &solved.free);
        found = find(figure, free, &asked, &conditions, factor);
        if found.conditions.len() == conditions.len() {
            break;
        }
        conditions.clone_from(&found.conditions);
        if solved.figure.len() > most_held {
            // Held only if it is chosen.
            break;
        }
        solved = hold(&solved, problem, &conditions, Care::CANDIDATE)?;
        evidence = under.of_chain(&solved);
    }
    let said = held.iter().any(Condition::is_said);
    if let Some(fewer) = as_one(&solved).filter(|p| !said && is_sound(p, stations)) {
        let solved = as_proposed(problem, &Proposed::free(fewer))?;
        return related(problem, solved, &[], instrument, most_held);
    }
    if !said && !covers(&solved.figure, &solved.starts, stations, noise, 1.0) {
        return None;
    }
    let mut measures = Measures::of_chain(&solved, &found, &evidence, noise, size);
    measures.add_missed_corners(&solved, stations, noise);
    let course = Course::Chain(Box::new(solved));
    Some(Reading::new(
        course, conditions, measures, instrument, &evidence,
    ))
}

/// How the hand errs, measured on the stations.
#[must_use]
pub fn hand_of(stations: &Stations, settings: &Settings) -> (Wander, Noise) {
    let unit = settings.station;
    let hand = wander::measure(stations, unit);
    let noise = Noise {
        size: hand.size,
        correlation: hand.correlation,
        slow: Slow::default(),
        unit,
        rounds_corners: true,
    };
    (hand, noise)
}

/// The conditions of a reading, solved anew, with those that the stations speak for besides.
pub(super) fn relate(s: &Solved, problem: &Problem<'_>, r: &Reading) -> Vec<Condition> {
    let factor = under(problem, r.instrument).of_chain(s).factor;
    let all = proposals(&Ask::within(&s.figure, problem.size), true);
    find(&s.figure, &s.free, &all, &r.conditions, factor).conditions
}

/// Solves a reading again under other conditions, those that come first before those that follow;
/// what contradicts the earlier is left out. `None` as [`solve`].
#[must_use]
pub fn hold(
    s: &Solved,
    problem: &Problem<'_>,
    conditions: &[Condition],
    care: Care,
) -> Option<Solved> {
    let (figure, starts) = (s.figure.clone(), s.starts.clone());
    solve(problem, figure, starts, conditions, care)
}

/// Each edge's first station anew, the nearest to its corner: where edges run into one another the joint may have
/// gone far along them while it was looked for nearby only. Nothing where they are no longer in order.
fn at_corners(s: &Solved, stations: &Stations) -> Option<Vec<usize>> {
    let (n, m) = (stations.len(), s.starts.len());
    let corners = s.figure.corners.iter();
    let nearest = |e: usize, corner: Point| {
        if e == 0 && !stations.closed {
            return Some(0);
        }
        let (from, _) = stretch(&s.starts, (e + m - 1) % m, n);
        let (_, to) = stretch(&s.starts, e, n);
        // Both edges, the one before from its beginning on; counted so that they are in order.
        let count = if to > from { to - from } else { to + n - from };
        let all = (1..count).filter_map(|k| {
            let i = (from + k) % n;
            Some((stations.points.get(i)?.distance(corner), i))
        });
        all.min_by(|a, b| a.0.total_cmp(&b.0)).map(|b| b.1)
    };
    let starts: Option<Vec<usize>> = corners
        .take(m)
        .enumerate()
        .map(|(e, corner)| nearest(e, *corner))
        .collect();
    let starts = starts?;
    let first = *starts.first()?;
    let along: Vec<usize> = starts.iter().map(|i| (i + n - first) % n).collect();
    along.is_sorted_by(|a, b| a < b).then_some(starts)
}

/// How often relations are looked for, each time at the figure that the last ones gave.
const RELATE_ROUNDS: usize = 2;

//! Competing readings of each path; the cheapest wins.

mod candidates;
mod moves;
pub mod price;
mod slow;

use crate::fit::partition::{Kind, Partition};
use crate::geom::Point;
use crate::geom::Sorted as _;
use crate::outline::nesting::{assign_roles, path_of_drawn};
use crate::outline::{Circle, Loop, Mark, Path, Role};
use crate::relate::condition::Condition;
use crate::relate::find::{Found, find, proposals};
use crate::relate::round::{Round, solve_circle};
use crate::relate::solve::{Noise, Solved, solve, start_figure};
use crate::report::Wander;
use crate::trace::{CleanPath, Stations, clean, wander};
use crate::{Outline, Refusal, Report, Settings, Trace, hint::Hint};
use moves::Proposed;
use std::collections::BTreeSet;

/// The outline that was meant, and what is to be said of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trued {
    /// Loops, open paths and marks.
    pub outline: Outline,
    /// Relations, sizes, other readings, notes.
    pub report: Report,
}

/// One way of explaining a path.
#[derive(Clone, Debug)]
pub struct Reading {
    /// What the path is read as.
    pub course: Course,
    /// Conditions that hold.
    pub conditions: Vec<Condition>,
    /// What the price is made of.
    pub measures: price::Measures,
    /// The price, nats.
    pub price: f64,
}

/// What a path is read as.
#[derive(Clone, Debug)]
pub enum Course {
    /// A whole circle.
    Circle(Round),
    /// Edges meeting at corners.
    Chain(Box<Solved>),
}

impl Course {
    /// The outline path.
    #[must_use]
    pub fn path(&self, counter_clockwise: bool) -> Path {
        match self {
            Self::Circle(c) => Path::Circle(Circle {
                center: c.center,
                radius: c.radius,
                counter_clockwise,
            }),
            Self::Chain(s) => Path::Chain(s.figure.to_chain()),
        }
    }
}

/// Reads a trace and gives back the outline that was meant.
///
/// # Errors
/// Refuses, with a sentence, a trace that holds nothing to read or passes a documented limit.
pub fn true_up(trace: &Trace, settings: &Settings, hints: &[Hint]) -> Result<Trued, Refusal> {
    let _ = hints;
    let clean = clean(trace, settings)?;
    let mut out = Trued::default();
    out.report.notes = clean.notes.clone();
    out.outline.marks = clean.marks.iter().map(|&at| Mark { at }).collect();
    for path in &clean.paths {
        let (readings, hand) = read_clean(path, settings);
        let Some(best) = readings.first() else {
            continue;
        };
        let area = points_area(&path.points);
        let path = best.course.path(area > 0.0);
        let closed = path.is_closed();
        let role = if closed { Role::Part } else { Role::Open };
        let path = if closed && path.area() < 0.0 {
            path.reversed()
        } else {
            path
        };
        out.outline.loops.push(Loop {
            role,
            path,
            deviation: None,
        });
        out.report.wander.push(hand);
    }
    // What a drawing states exactly goes through as it is.
    for path in trace.drawn.iter().filter_map(|c| path_of_drawn(c)) {
        out.outline.loops.push(Loop {
            role: Role::Open,
            path,
            deviation: None,
        });
        out.report.wander.push(Wander::default());
    }
    out.outline.loops = assign_roles(std::mem::take(&mut out.outline.loops));
    if out.outline.loops.is_empty() && out.outline.marks.is_empty() {
        return Err(Refusal::Trace(
            "there is nothing to read an outline from".into(),
        ));
    }
    Ok(out)
}

/// Readings of a clean path, cheapest first: both closed and open where either is possible.
#[must_use]
pub fn read_clean(path: &CleanPath, settings: &Settings) -> (Vec<Reading>, Wander) {
    let stations =
        |p: &CleanPath| Stations::along(&p.points, p.closed, &p.bridged, p.step, settings.station);
    let (mut readings, hand) = read_path(&stations(path), settings);
    if path.ends.sureness.abs() < EVEN_SURENESS
        && let Some(other) = path.other_way()
    {
        let (others, _) = read_path(&stations(&other), settings);
        let against = 2.0 * NATS_PER_SURENESS * path.ends.sureness.abs();
        readings.extend(others.into_iter().map(|mut r| {
            r.price += against;
            r
        }));
        readings.order_by(|a, b| a.price.total_cmp(&b.price));
    }
    (readings, hand)
}

/// Below this sureness the other choice between closed and open is read as well.
const EVEN_SURENESS: f64 = 0.5;
/// What a unit of sureness is worth, nats.
const NATS_PER_SURENESS: f64 = 3.0;

fn points_area(points: &[Point]) -> f64 {
    let Some(&o) = points.first() else {
        return 0.0;
    };
    points
        .windows(2)
        .map(|w| 0.5 * (w[0] - o).cross(w[1] - o))
        .sum()
}

/// All readings of one path, cheapest first, and the hand's wander.
#[must_use]
pub fn read_path(stations: &Stations, settings: &Settings) -> (Vec<Reading>, Wander) {
    let unit = settings.station;
    let hand = wander::measure(stations, unit);
    let noise = Noise {
        size: hand.size,
        correlation: hand.correlation,
        unit,
        rounds_corners: true,
    };
    let scale = 4.0 * hand.size * hand.size * hand.correlation;
    let mut out: Vec<Reading> = Vec::new();
    if stations.closed
        && let Some(c) = solve_circle(stations, &noise, None)
    {
        let measures = price::of_circle(&c, &noise, stations.diagonal());
        out.push(Reading {
            course: Course::Circle(c),
            conditions: vec![],
            price: price::total(&measures),
            measures,
        });
    }
    let mut tried: BTreeSet<Partition> = BTreeSet::new();
    for p in candidates::candidates(stations, scale) {
        if tried.insert(coarse(&p)) {
            out.extend(read_partition(stations, &Proposed::free(p), &noise));
        }
    }
    out.order_by(|a, b| a.price.total_cmp(&b.price));
    search(stations, &noise, &mut out, &mut tried);
    (out, hand)
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
const COARSE: usize = 5;

/// How many of the best readings are varied, and how often.
const VARIED: usize = 3;
const ROUNDS: usize = 3;

/// Varies the best readings and keeps what comes of it, cheapest first.
fn search(
    stations: &Stations,
    noise: &Noise,
    out: &mut Vec<Reading>,
    tried: &mut BTreeSet<Partition>,
) {
    let rounding = 0.5 * noise.unit + noise.size;
    let mut varied: BTreeSet<Partition> = BTreeSet::new();
    for _ in 0..ROUNDS {
        let mut fresh = Vec::new();
        for r in out.iter().take(VARIED) {
            let Course::Chain(s) = &r.course else {
                continue;
            };
            let key = Partition {
                starts: s.starts.clone(),
                kinds: s.figure.kinds.clone(),
            };
            if !varied.insert(coarse(&key)) {
                continue;
            }
            for p in moves::neighbours(s, stations, rounding) {
                if tried.insert(coarse(&p.partition)) {
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
                .filter_map(|p| read_partition(stations, p, noise)),
        );
        out.order_by(|a, b| a.price.total_cmp(&b.price));
    }
}

/// Solves one partition, finds its relations, solves again under them and prices the result.
fn read_partition(stations: &Stations, p: &Proposed, noise: &Noise) -> Option<Reading> {
    let size = stations.diagonal();
    let figure = start_figure(stations, &p.partition)?;
    let mut solved = solve(
        stations,
        figure,
        p.partition.starts.clone(),
        noise,
        &p.held,
        12,
    )?;
    let mut conditions = p.held.clone();
    let mut found = Found::default();
    for _ in 0..RELATE_ROUNDS {
        let freedoms = solved.figure.parameters() as f64;
        let factor = slow::evidence(&solved.residuals, noise, freedoms, size).factor;
        found = find(&solved, &proposals(&solved, size), &conditions, factor);
        if found.conditions.len() == conditions.len() {
            break;
        }
        conditions.clone_from(&found.conditions);
        let (figure, starts) = (solved.figure.clone(), solved.starts.clone());
        solved = solve(stations, figure, starts, noise, &conditions, 12)?;
    }
    let mut measures = price::of_chain(&solved, &found, noise, size);
    price::add_corner_distance(&mut measures, &solved.figure, &stations.points, noise);
    Some(Reading {
        course: Course::Chain(Box::new(solved)),
        conditions,
        price: price::total(&measures),
        measures,
    })
}

/// How often relations are looked for, each time at the figure that the last ones gave.
const RELATE_ROUNDS: usize = 2;

/// Kinds of the edges of a reading, in order: `L` and `A`; a circle is `O`.
#[must_use]
pub fn kinds(reading: &Reading) -> String {
    match &reading.course {
        Course::Circle(_) => "O".into(),
        Course::Chain(s) => s
            .figure
            .kinds
            .iter()
            .map(|k| if *k == Kind::Line { 'L' } else { 'A' })
            .collect(),
    }
}

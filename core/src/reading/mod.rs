//! Competing readings of each path; the cheapest wins.

mod candidates;
pub mod price;

use crate::fit::partition::{Kind, Partition};
use crate::geom::Point;
use crate::outline::{Circle, Loop, Mark, Path, Role};
use crate::relate::condition::Condition;
use crate::relate::find::{find, proposals};
use crate::relate::round::{Round, solve_circle};
use crate::relate::solve::{Noise, Solved, solve, start_figure};
use crate::report::Wander;
use crate::trace::{Stations, wander};
use crate::{Outline, Refusal, Report, Settings, Trace, hint::Hint};

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
    let mut out = Trued::default();
    for stroke in &trace.strokes {
        let mut points = stroke.points.clone();
        points.dedup();
        if points.len() < 3 {
            if let Some(&at) = points.first() {
                out.outline.marks.push(Mark { at });
            }
            continue;
        }
        let closed = looks_closed(&points);
        let bridged: Vec<usize> = if closed {
            vec![points.len() - 1]
        } else {
            vec![]
        };
        let stations = Stations::along(&points, closed, &bridged, settings.station);
        let (readings, hand) = read_path(&stations, settings);
        let Some(best) = readings.first() else {
            continue;
        };
        let area = stations_area(&stations.points);
        let path = best.course.path(area > 0.0);
        let role = if path.is_closed() {
            Role::Part
        } else {
            Role::Open
        };
        let path = if path.is_closed() && path.area() < 0.0 {
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
    if out.outline.loops.is_empty() {
        return Err(Refusal::Trace(
            "there is nothing to read an outline from".into(),
        ));
    }
    Ok(out)
}

fn looks_closed(points: &[Point]) -> bool {
    let length: f64 = points.windows(2).map(|w| w[0].distance(w[1])).sum();
    match (points.first(), points.last()) {
        (Some(a), Some(b)) => a.distance(*b) < 0.1 * length,
        _ => false,
    }
}

fn stations_area(points: &[Point]) -> f64 {
    let Some(&o) = points.first() else { return 0.0 };
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
        let measures = price::of_circle(&c, stations.diagonal());
        out.push(Reading {
            course: Course::Circle(c),
            conditions: vec![],
            price: price::total(&measures),
            measures,
        });
    }
    for p in candidates::candidates(stations, scale) {
        out.extend(read_partition(stations, &p, &noise));
    }
    out.sort_by(|a, b| a.price.total_cmp(&b.price));
    (out, hand)
}

/// Solves one partition, finds its relations, solves again under them and prices the result.
fn read_partition(stations: &Stations, p: &Partition, noise: &Noise) -> Option<Reading> {
    let size = stations.diagonal();
    let figure = start_figure(stations, p)?;
    let free = solve(stations, figure, p.starts.clone(), noise, &[], 12)?;
    let factor = price::noise_factor(free.misfit, free.blocks);
    let asked = proposals(&free, size);
    let found = find(&free, &asked, &[], factor);
    let bound = if found.conditions.is_empty() {
        free.clone()
    } else {
        solve(
            stations,
            free.figure.clone(),
            free.starts.clone(),
            noise,
            &found.conditions,
            12,
        )?
    };
    let mut measures = price::of_chain(&bound, &free, found.gain, noise, size);
    price::add_corner_distance(&mut measures, &bound.figure, &stations.points, noise);
    Some(Reading {
        course: Course::Chain(Box::new(bound)),
        conditions: found.conditions,
        price: price::total(&measures),
        measures,
    })
}

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

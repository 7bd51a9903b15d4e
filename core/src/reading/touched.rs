//! A touched outline: each corner once, an arc by three or more touches.
//!
//! There is nothing between touches, so there is nothing to partition: an edge runs from touch to
//! touch. Touches no further than 45° apart on one circle, at least three of them, may be an arc;
//! wider apart they are corners (six touches are a hexagon). Which runs are arcs is decided by an
//! exact dynamic programme over the touches; the path is then drawn densely through lines and
//! arcs, and solved with its relations like any other, the error of a touch counting along the
//! whole edge it bounds.
//!
//! Fails where an arc was given by touches further apart than that, or by two.
#![allow(
    clippy::indexing_slicing,
    reason = "touches are counted modulo their number, tables have one place for each"
)]

use super::evidence::{Instrument, Under};
use super::measures::Measures;
use super::proposed::{Proposed, is_sound};
use super::search::{Tried, read_new};
use super::{Course, Reading, Study};
use crate::fit::partition::{Kind, Partition};
use crate::fit::{fit_circle, fit_line};
use crate::geom::{Arc, Edge, Line, Point, Sorted as _, Vec2, normalize_angle, turn_between};
use crate::relate::blocks::{Noise, Slow};
use crate::relate::equations::Problem;
use crate::relate::round::solve_circle;
use crate::report::Wander;
use crate::settings::Settings;
use crate::trace::{CleanPath, Stations};
use core::f64::consts::{FRAC_PI_2, FRAC_PI_4};

/// Standard deviation of a touch, in units.
const TOUCH: f64 = 0.5;
/// Price of an edge, nats.
const LINE_PRICE: f64 = 3.0;
const ARC_PRICE: f64 = 5.0;
/// Most turn between neighbouring touches of an arc, with room for their error.
const MOST_STEP: f64 = FRAC_PI_4 * 1.1;
/// Most touches the programme looks back over.
const LONGEST: usize = 48;

/// Readings of a touched path.
pub(super) fn study(path: &CleanPath, settings: &Settings) -> Study {
    let unit = settings.station;
    let spans = best_spans(&path.points, path.closed, TOUCH * unit);
    let read = study_spans(path, &spans, unit);
    if !read.readings.is_empty() {
        return read;
    }
    // Arcs that do not hold together: every touch a corner.
    let steps = path.points.len().saturating_sub(usize::from(!path.closed));
    let corners: Vec<Span> = (0..steps)
        .map(|from| Span {
            from,
            steps: 1,
            arc: false,
        })
        .collect();
    study_spans(path, &corners, unit)
}

fn study_spans(path: &CleanPath, spans: &[Span], unit: f64) -> Study {
    let edges: Vec<Edge> = spans
        .iter()
        .filter_map(|s| edge_of(&path.points, s))
        .collect();
    let length: f64 = edges.iter().map(Edge::length).sum();
    let stations = Stations::along(
        &dense(&edges, path.closed, unit),
        path.closed,
        &[],
        0.0,
        unit.max(length / 1500.0),
    );
    let typical = length / edges.len().max(1) as f64;
    let size = TOUCH * unit;
    let correlation = 0.25 * typical.max(unit);
    let noise = Noise {
        size,
        correlation,
        slow: Slow::default(),
        unit,
        rounds_corners: false,
    };
    let partition = partition_of(&edges, length, stations.len());
    let mut readings = Vec::new();
    if partition.len() == 1 && path.closed {
        readings.extend(whole_circle(&stations, &noise));
    } else if is_sound(&partition, &stations) {
        let problem = Problem::new(&stations, &noise);
        let free = Proposed::free(partition);
        let read = read_new(&problem, &free, &mut Tried::default(), Instrument::Traced);
        readings.extend(read);
    }
    let hand = Wander {
        size,
        correlation,
        slow: 0.0,
    };
    Study {
        readings,
        forms: vec![stations],
        hands: vec![(hand, noise)],
        besides: vec![Default::default()],
    }
}

/// Points along the edges, close together.
fn dense(edges: &[Edge], closed: bool, unit: f64) -> Vec<Point> {
    let length: f64 = edges.iter().map(Edge::length).sum();
    let spacing = (length / 600.0).max(0.5 * unit).max(1e-9);
    let mut out = Vec::new();
    for e in edges {
        let parts = (libm::ceil(e.length() / spacing) as usize).clamp(2, 4000);
        out.extend((0..parts).map(|i| e.point_at(i as f64 / parts as f64)));
    }
    if !closed {
        out.extend(edges.last().map(Edge::to));
    }
    out
}

/// The edges as a partition of `n` stations.
fn partition_of(edges: &[Edge], length: f64, n: usize) -> Partition {
    let mut run = 0.0;
    let mut out = Partition {
        starts: Vec::new(),
        kinds: Vec::new(),
    };
    for e in edges {
        let start = libm::round(run / length.max(1e-9) * n as f64) as usize;
        out.starts.push(start.min(n.saturating_sub(1)));
        out.kinds.push(if matches!(e, Edge::Arc(_)) {
            Kind::Arc
        } else {
            Kind::Line
        });
        run += e.length();
    }
    out
}

fn whole_circle(stations: &Stations, noise: &Noise) -> Option<Reading> {
    let round = solve_circle(stations, noise, None)?;
    let under = Under {
        noise,
        size: stations.diagonal(),
        instrument: Instrument::Traced,
        thorough: true,
    };
    let e = under.of_circle(&round);
    let measures = Measures::of_circle(&round, &e, noise, under.size);
    let course = Course::Circle(Box::new(round));
    Some(Reading::new(
        course,
        Vec::new(),
        measures,
        under.instrument,
        &e,
    ))
}

/// A run of touches explained by one edge: first touch, number of steps, kind.
#[derive(Clone, Copy, PartialEq)]
struct Span {
    from: usize,
    steps: usize,
    arc: bool,
}

/// Exact best spans. A closed path is begun at every touch in turn (few touches) or at the one that turns
/// most.
fn best_spans(p: &[Point], closed: bool, sigma: f64) -> Vec<Span> {
    let n = p.len();
    if n < 2 {
        return Vec::new();
    }
    if closed && is_circle(p, sigma) {
        return vec![Span {
            from: 0,
            steps: n,
            arc: true,
        }];
    }
    let from: Vec<Vec<Run>> = (0..n).map(|i| runs(p, closed, i, sigma)).collect();
    if !closed {
        return programme(&from, 0, n - 1, None).map_or(Vec::new(), |best| best.1);
    }
    let starts = if n <= FEW_TOUCHES {
        0..n
    } else {
        let sharp = sharpest(p);
        sharp..sharp + 1
    };
    let ways = starts.flat_map(|s| from[s].iter().map(move |first| (s, first)));
    let best = ways
        .filter_map(|(s, first)| programme(&from, s, n, Some(first)))
        .min_by(|a, b| a.0.total_cmp(&b.0));
    best.map_or(Vec::new(), |best| best.1)
}

/// A closed path of no more touches is begun at each of them.
const FEW_TOUCHES: usize = 24;

fn at(p: &[Point], i: usize) -> Point {
    p[i % p.len()]
}

/// A run of touches as one edge: what it costs, and which way it runs at its ends.
#[derive(Clone)]
struct Run {
    span: Span,
    price: f64,
    /// Direction where it starts, and where it ends.
    ways: (Vec2, Vec2),
    /// By how much those may be off for the touches' error, radians; nothing for a line, whose joints with
    /// other lines are corners of any kind.
    slip: Option<f64>,
}

/// The runs from a touch on that may be of use: no dearer than a line from touch to touch.
fn runs(p: &[Point], closed: bool, from: usize, sigma: f64) -> Vec<Run> {
    let most = if closed { p.len() } else { p.len() - 1 - from };
    let mut out = Vec::new();
    let mut touches = vec![at(p, from)];
    for steps in 1..=most.min(LONGEST) {
        touches.push(at(p, from + steps));
        let useful =
            |run: &Run| steps == 1 || run.price < LINE_PRICE * steps as f64 + 2.0 * SMOOTH_GAIN;
        let span = |arc| Span { from, steps, arc };
        out.extend(line(&touches, span(false), sigma).filter(useful));
        out.extend(arc(&touches, span(true), sigma).filter(useful));
    }
    out
}

/// The cheapest runs from touch `start` on over so many steps, a closed path beginning with `first`: a
/// shortest path whose places are runs, since what a joint says depends on both.
fn programme(
    from: &[Vec<Run>],
    start: usize,
    steps: usize,
    first: Option<&Run>,
) -> Option<(f64, Vec<Span>)> {
    // The runs that end after so many steps, each with the cheapest way there and the run before it.
    let mut ending: Vec<Vec<(&Run, f64, Option<usize>)>> = vec![Vec::new(); steps + 1];
    for i in 0..steps {
        let here = from.get((start + i) % from.len())?;
        for run in here.iter().filter(|r| i + r.span.steps <= steps) {
            let way = if i == 0 {
                first
                    .is_none_or(|f| f.span == run.span)
                    .then_some((0.0, None))
            } else {
                let ways = ending[i].iter().enumerate();
                ways.map(|(k, before)| (before.1 - joint(before.0, run), Some(k)))
                    .min_by(|a, b| a.0.total_cmp(&b.0))
            };
            if let Some((cost, before)) = way {
                ending[i + run.span.steps].push((run, cost + run.price, before));
            }
        }
    }
    let closing = |last: &Run| first.map_or(0.0, |first| joint(last, first));
    let last = ending[steps].iter().enumerate();
    let (cost, k) = last
        .map(|(k, (run, cost, _))| (cost - closing(run), k))
        .min_by(|a, b| a.0.total_cmp(&b.0))?;
    let (mut j, mut k) = (steps, Some(k));
    let mut spans = Vec::new();
    while let Some((run, _, before)) = k.and_then(|k| ending[j].get(k)) {
        j -= run.span.steps;
        k = *before;
        spans.push(run.span);
    }
    spans.reverse();
    spans.order_by_key(|s| s.from);
    Some((cost, spans))
}

/// What a joint says for its runs, nats: an arc that runs on without a kink, or squarely, is hardly chance.
fn joint(before: &Run, after: &Run) -> f64 {
    let turn = turn_between(before.ways.1, after.ways.0).abs();
    if before.slip.is_none() && after.slip.is_none() {
        return if turn < MOST_STEP { -BLUNT_PRICE } else { 0.0 };
    }
    let slip = before.slip.unwrap_or(0.0).max(after.slip.unwrap_or(0.0));
    let reach = TANGENT_KINK + 2.0 * slip;
    if turn < reach {
        SMOOTH_GAIN
    } else if (turn - FRAC_PI_2).abs() < reach {
        SQUARE_GAIN
    } else {
        0.0
    }
}

fn line(touches: &[Point], span: Span, sigma: f64) -> Option<Run> {
    let (&first, &last) = (touches.first()?, touches.last()?);
    let misfit = match touches.len() {
        2 => 0.0,
        n => fit_line(touches)?.mean_square * n as f64 / (2.0 * sigma * sigma),
    };
    Some(Run {
        span,
        price: LINE_PRICE + misfit,
        ways: (last - first, last - first),
        slip: None,
    })
}

/// Three touches always lie on a circle, so an arc must show itself otherwise: small and even steps,
/// and joints that run on into the neighbours without a kink or squarely.
fn arc(touches: &[Point], span: Span, sigma: f64) -> Option<Run> {
    let n = touches.len();
    let (&first, &last) = (touches.first()?, touches.last()?);
    if n < 3 {
        return None;
    }
    let fit = fit_circle(touches)?;
    let angles: Vec<f64> = touches.iter().map(|q| (*q - fit.center).angle()).collect();
    let turns: Vec<f64> = angles
        .windows(2)
        .map(|w| normalize_angle(w[1] - w[0]))
        .collect();
    let one_way = turns.iter().all(|t| *t > 0.0) || turns.iter().all(|t| *t < 0.0);
    let step = turns.iter().fold(0.0_f64, |a, t| a.max(t.abs()));
    let sweep: f64 = turns.iter().sum::<f64>();
    let mean = sweep.abs() / (n - 1) as f64;
    // An arc must bow by more than touches err.
    let bow = fit.radius * (1.0 - libm::cos(0.5 * sweep.abs().min(3.0)));
    let slip = sigma / (fit.radius * mean).max(1e-9);
    if !one_way || step > MOST_STEP + 2.0 * slip || sweep.abs() > 6.2 || bow < 3.0 * sigma {
        return None;
    }
    let spread = UNEVEN * UNEVEN + 2.0 * slip * slip;
    let uneven: f64 = turns
        .iter()
        .map(|t| (t.abs() / mean - 1.0) * (t.abs() / mean - 1.0))
        .sum();
    let tangent = |at: Point| (at - fit.center).left() * sweep.signum();
    let few = if n == 3 { THREE_PRICE } else { 0.0 };
    Some(Run {
        span,
        price: ARC_PRICE
            + few
            + uneven / (2.0 * spread)
            + fit.mean_square * n as f64 / (2.0 * sigma * sigma),
        ways: (tangent(first), tangent(last)),
        slip: Some(slip),
    })
}

/// Relative spread of the steps of an arc as a hand touches it.
const UNEVEN: f64 = 0.15;
/// A kink smaller than this is none, radians.
const TANGENT_KINK: f64 = 0.2;
/// What speaks against an arc of three touches only, and for each joint without a kink or at a right angle,
/// nats.
const THREE_PRICE: f64 = 3.8;
const SMOOTH_GAIN: f64 = 3.0;
const SQUARE_GAIN: f64 = 2.4;
/// What speaks against a corner between lines that turns by no more than two touches of an arc do, nats.
const BLUNT_PRICE: f64 = 0.8;

/// All touches on one circle, no further than 45° apart.
fn is_circle(p: &[Point], sigma: f64) -> bool {
    let Some(fit) = fit_circle(p) else {
        return false;
    };
    let n = p.len();
    let step = (0..n)
        .map(|i| {
            normalize_angle((at(p, i + 1) - fit.center).angle() - (p[i] - fit.center).angle()).abs()
        })
        .fold(0.0, f64::max);
    n >= 6 && step < MOST_STEP && fit.mean_square < 6.0 * sigma * sigma
}

fn sharpest(p: &[Point]) -> usize {
    let n = p.len();
    let turn = |i: usize| turn_between(p[i] - at(p, i + n - 1), at(p, i + 1) - p[i]).abs();
    (0..n).fold(0, |best, i| if turn(i) > turn(best) { i } else { best })
}

fn edge_of(p: &[Point], s: &Span) -> Option<Edge> {
    let (from, to) = (at(p, s.from), at(p, s.from + s.steps));
    if !s.arc {
        return (from != to).then_some(Edge::Line(Line { from, to }));
    }
    let touches: Vec<Point> = (s.from..=s.from + s.steps).map(|k| at(p, k)).collect();
    let fit = fit_circle(&touches)?;
    let angles: Vec<f64> = touches.iter().map(|q| (*q - fit.center).angle()).collect();
    let sweep: f64 = angles
        .windows(2)
        .map(|w| normalize_angle(w[1] - w[0]))
        .sum();
    if s.steps == p.len() {
        return Some(Edge::Arc(Arc::circle(fit.center, fit.radius, sweep > 0.0)));
    }
    Arc::from_sweep(from, to, sweep).map(Edge::Arc)
}

//! What is said of a reading: relations, sizes with their ±, how far it moved, what was close.
//!
//! The ± of a size is 1.96 standard deviations of that size under the solved figure's normal
//! equations with all conditions held (so a side of a squared figure is surer than a loose one), for
//! a wander of the measured size and correlation, and slow error where the reading has one.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure that is described"
)]

use super::evidence::Under;
use super::faith;
use super::{Course, Reading, Study, kinds, unsure};
use crate::fit::partition::Kind;
use crate::geom::{Edge, Point, normalize_angle};
use crate::hint::{EdgeKind, Hint, LoopKind, Says};
use crate::outline::{Deviation, Loop};
use crate::relate::ask::pairs;
use crate::relate::blocks::Noise;
use crate::relate::constraint::{Condition, Constraint, Member};
use crate::relate::equations::stretch;
use crate::relate::figure::Figure;
use crate::relate::kinds::Tells;
use crate::relate::measures::{self, Measure};
use crate::relate::quantity::{Bodies, Quantity, Side};
use crate::relate::solve::Solved;
use crate::report::{
    Alternative, Note, OfLoop, Relation, RelationKind, Report, Size, SizeKind, Wander,
};
use crate::trace::Stations;
use core::f64::consts::{FRAC_PI_2, PI};

/// Standard deviations in a ± at 95 %.
pub(super) const SPREAD_95: f64 = 1.96;
/// Readings dearer than the best by less than this are told of.
const CLOSE: f64 = 5.0;
/// Most other readings told of.
const MOST_OTHERS: usize = 4;
/// A size whose variance is below this part of its free variance is fixed by the conditions.
const FIXED: f64 = 1e-6;

/// Adds everything to be said of loop `index`, which was `made` and became `laid` in the outline. `known` is the
/// variance of a number of it, where other loops say more of it than its own stations.
pub(super) fn loop_report(
    index: usize,
    made: &Loop,
    laid: Option<&Loop>,
    told: Option<&(Study, Reading)>,
    known: impl Fn(&[f64]) -> Option<f64>,
    report: &mut Report,
) {
    let (Some(laid), Some((study, best))) = (laid, told) else {
        report.wander.push(Wander::default());
        report
            .moved
            .push(laid.map_or_else(Vec::new, |l| vec![0.0; l.path.edges().len()]));
        return;
    };
    let number = numbering(made, laid);
    let (Some(stations), Some((hand, noise))) =
        (study.forms.get(best.variant), study.hands.get(best.variant))
    else {
        return;
    };
    let mut moved = moved(best, stations);
    if is_turned(made, laid) {
        moved.reverse();
    }
    report.moved.push(moved);
    let slow = slow_of(best, noise, stations.diagonal());
    report.wander.push(Wander {
        slow: slow.0,
        ..*hand
    });
    report.relations.extend(relations(best, index, &number));
    let sizes = sizes(best, index, slow.1, &number, &known);
    let spread = unsure::Spread {
        best,
        factor: slow.1,
        known: &known,
    };
    let apart = faith::apart(study, best).unwrap_or_default();
    let unsure = unsure::of_sizes(&sizes, &number, &spread, apart);
    report.doubts.extend(unsure);
    for size in sizes {
        // A ± larger than the thing says that nothing is known of it.
        if size.plus_minus < size.value {
            report.sizes.push(size);
        } else {
            let text = format!("a size of loop {} is too unsure to be told", index + 1);
            report.notes.push(Note::at(text, size.at));
        }
    }
    let doubts = faith::doubts(study, best, index);
    report.doubts.extend(doubts);
    let others = others(study, best, index);
    if let Some(next) = others.first().filter(|o| o.price_above_best < CLOSE) {
        report.notes.push(Note::new(format!(
            "loop {} was nearly read otherwise: {}",
            index + 1,
            next.summary
        )));
    }
    report.readings.extend(others);
}

/// How far the stations lie from the reading.
pub(super) fn deviation(best: &Reading, stations: &Stations) -> Deviation {
    let distances = distances(best, stations);
    let (mut sum, mut weight, mut max) = (0.0, 0.0, 0.0_f64);
    for ((_, d), w) in distances.iter().zip(&stations.weights) {
        sum += w * d * d;
        weight += w;
        if *w > TRACED * stations.step {
            max = max.max(*d);
        }
    }
    Deviation {
        rms: (sum / weight.max(1e-12)).sqrt(),
        max,
    }
}

/// How far the line goes from the outline of a reading, mm, and where.
pub(super) fn furthest(best: &Reading, stations: &Stations) -> Option<(f64, Point)> {
    let distances = distances(best, stations).into_iter().map(|d| d.1);
    let all = distances.zip(&stations.weights).zip(&stations.points);
    let traced = all.filter(|((_, w), _)| **w > TRACED * stations.step);
    let most = traced.max_by(|a, b| a.0.0.total_cmp(&b.0.0));
    most.map(|((d, _), p)| (d, *p))
}

/// A station of less of the line than this part of a step was bridged.
const TRACED: f64 = 0.3;

/// For each station the edge it belongs to and its distance from it, or from one beside it where
/// that is nearer (where two edges meet at a flat angle, the corner may lie well past the last station).
fn distances(best: &Reading, stations: &Stations) -> Vec<(usize, f64)> {
    match &best.course {
        Course::Circle(c) => stations
            .points
            .iter()
            .map(|p| (0, (p.distance(c.center) - c.radius).abs()))
            .collect(),
        Course::Chain(s) => {
            let n = stations.len();
            let mut out = vec![(0, 0.0); n];
            let chain = s.figure.to_chain();
            for e in 0..s.figure.len() {
                let (from, to) = stretch(&s.starts, e, n);
                let Some(edge) = chain.edge(e) else { continue };
                let m = s.figure.len();
                let beside = [(e + 1) % m, (e + m - 1) % m].map(|b| chain.edge(b));
                for k in from..to {
                    if let (Some(slot), Some(p)) = (out.get_mut(k % n), stations.points.get(k % n))
                    {
                        let near = beside.iter().flatten().map(|b| b.distance(*p));
                        *slot = (e, near.fold(edge.distance(*p), f64::min));
                    }
                }
            }
            out
        }
    }
}

/// The largest distance of each edge from what was traced of it.
fn moved(best: &Reading, stations: &Stations) -> Vec<f64> {
    let edges = match &best.course {
        Course::Circle(_) => 1,
        Course::Chain(s) => s.figure.len(),
    };
    let mut out = vec![0.0_f64; edges];
    for ((e, d), w) in distances(best, stations).into_iter().zip(&stations.weights) {
        if let Some(m) = out.get_mut(e)
            && *w > TRACED * stations.step
        {
            *m = m.max(d);
        }
    }
    out
}

/// The factor on a reading's variances that comes with its slow error.
pub(super) fn factor_of(study: &Study, best: &Reading) -> Option<f64> {
    let stations = study.forms.get(best.variant)?;
    let (_, noise) = study.hands.get(best.variant)?;
    Some(slow_of(best, noise, stations.diagonal()).1)
}

/// A loop runs the other way round in the outline than it was made.
fn is_turned(made: &Loop, laid: &Loop) -> bool {
    made.path.area() * laid.path.area() < 0.0
}

/// Which edge of a loop as it lies in the outline an edge of the loop as made is.
pub(super) fn numbering(made: &Loop, laid: &Loop) -> impl Fn(usize) -> usize + use<> {
    let count = made.path.edges().len();
    let turned = is_turned(made, laid);
    move |e| {
        if turned {
            count - 1 - e.min(count - 1)
        } else {
            e
        }
    }
}

/// Slow error of the reading, mm, and the factor on variances that comes with it.
fn slow_of(best: &Reading, noise: &Noise, size: f64) -> (f64, f64) {
    let under = Under {
        noise,
        size,
        instrument: best.instrument,
        thorough: true,
    };
    let e = match &best.course {
        Course::Circle(c) => under.of_circle(c),
        Course::Chain(s) => under.of_chain(s),
    };
    (e.slow, e.factor)
}

fn relations(best: &Reading, index: usize, number: &impl Fn(usize) -> usize) -> Vec<Relation> {
    let Course::Chain(s) = &best.course else {
        return Vec::new();
    };
    let f = &s.figure;
    let place = |(_, edge): Member| {
        Ok(OfLoop {
            loop_index: index,
            edge: edge.map(number),
        })
    };
    // Where an edge lies is no size of it.
    let told = |c: &&Condition| c.kind != RelationKind::Size || c.constraints.len() == 1;
    let mut out: Vec<Relation> = (best.conditions.iter().filter(told))
        .map(|c| relation(c, f, place))
        .collect();
    // Corners that are square because of the others: told too, so that every squared corner shows.
    let mut squared = out.iter().filter(|r| r.kind == RelationKind::Square);
    let told: Vec<Vec<usize>> = squared.by_ref().map(|r| r.edges.clone()).collect();
    for e in f.joints() {
        let g = (e + 1) % f.len();
        let lines = f.kinds[e] == Kind::Line && f.kinds[g] == Kind::Line;
        let edges = [number(e), number(g)];
        let is_told = told
            .iter()
            .any(|t| *t == edges || *t == [edges[1], edges[0]]);
        if lines && !is_told && (f.turn_after(e).abs() - FRAC_PI_2).abs() < 1e-9 {
            let square = Condition::new(
                RelationKind::Square,
                &[Side::new(0, e), Side::new(0, g)],
                vec![],
            );
            out.push(relation(&square, f, place));
        }
    }
    out
}

/// A condition as it is told; `place` says where in the outline an edge of a body lies, or which mark it is.
pub(super) fn relation<B: Bodies>(
    c: &Condition,
    bodies: &B,
    place: impl Fn(Member) -> Result<OfLoop, usize>,
) -> Relation {
    let first = c.constraints.first();
    let quantity = first.and_then(|c| Some(c.terms.first()?.1));
    let value = match c.kind.row().tells {
        Tells::Nothing => None,
        Tells::Shared => quantity.and_then(|q| Constraint::at(q, 0.0).off(bodies)),
        Tells::Value => first.map(|c| {
            if c.is_angle() {
                normalize_angle(c.value).abs()
            } else {
                c.value.abs()
            }
        }),
    };
    let mut of = c.of.clone();
    // What is said of a joint is said of the edge after it too.
    if let Some(Quantity::Turn(e)) = quantity
        && let [(body, Some(_))] = c.of[..]
        && let Some((crate::relate::quantity::Shape::Chain(f), _)) = bodies.body(body)
    {
        of.push((body, Some((e.edge + 1) % f.len().max(1))));
    }
    let (mut with, mut marks) = (Vec::new(), Vec::new());
    for member in of {
        match place(member) {
            Ok(o) => with.push(o),
            Err(mark) => marks.push(mark),
        }
    }
    let loop_index = with
        .first()
        .map_or_else(|| marks.first().copied().unwrap_or(0), |f| f.loop_index);
    let own = |o: &&OfLoop| o.loop_index == loop_index && o.edge.is_some();
    let count = with.iter().take_while(own).count();
    let edges = with.drain(..count).filter_map(|o| o.edge).collect();
    Relation {
        kind: c.kind,
        loop_index,
        edges,
        value,
        with,
        marks,
    }
}

/// One measurable size of a figure: its condition at 0, which gives its gradient.
pub(super) struct Measured {
    /// Kind of size.
    pub kind: SizeKind,
    /// Edges it belongs to.
    pub edges: Vec<usize>,
    /// Its value, mm or radians.
    pub value: f64,
    /// What holds it at its value.
    pub constraint: Constraint,
    /// Standard deviation, before the slow error's factor.
    pub deviation: f64,
    /// Fixed by the conditions.
    pub fixed: bool,
    /// Where to write it.
    pub at: Point,
}

/// All sizes of a solved chain: lengths over all, radii and diameters, distances of parallel edges, angles.
pub(super) fn measure(s: &Solved, known: impl Fn(&[f64]) -> Option<f64>) -> Vec<Measured> {
    let f = &s.figure;
    // Of an outline of many edges nobody asks how far each is from every other.
    let few = f.len() <= ALL_DISTANCES;
    let asked = pairs(f);
    let asked = |e: usize, g: usize| (few || asked(e, g)) && parallel(f, e, g);
    let of = |m: Measure| {
        let linear = m.constraint.linear(f)?;
        let own = || s.normal.predict(&linear.gradient).0;
        let variance = known(&linear.gradient).unwrap_or_else(own);
        let free = s.free.free_variance(&linear.gradient);
        let value = match m.kind {
            // The inside of a loop lies to the left when it runs counter-clockwise.
            SizeKind::Angle if figure_area(f) >= 0.0 => PI - m.constraint.value,
            SizeKind::Angle => PI + m.constraint.value,
            _ => m.constraint.value.abs(),
        };
        Some(Measured {
            kind: m.kind,
            edges: m.edges,
            value,
            constraint: m.constraint,
            deviation: variance.max(0.0).sqrt(),
            fixed: variance < FIXED * free,
            at: m.at,
        })
    };
    measures::all(f, asked).into_iter().filter_map(of).collect()
}

/// Up to so many edges the distances of all parallel ones are told.
const ALL_DISTANCES: usize = 24;

/// Two straight edges have one direction.
pub(super) fn parallel(f: &Figure, e: usize, g: usize) -> bool {
    let turn = normalize_angle(f.start_direction(g) - f.start_direction(e)).abs();
    turn < 1e-9 || (turn - PI).abs() < 1e-9
}

/// Two straight edges stand at a right angle.
pub(super) fn square(f: &Figure, e: usize, g: usize) -> bool {
    let turn = normalize_angle(f.start_direction(g) - f.start_direction(e)).abs();
    (turn - FRAC_PI_2).abs() < 1e-9
}

fn figure_area(f: &Figure) -> f64 {
    crate::Path::Chain(f.to_chain()).area()
}

fn sizes(
    best: &Reading,
    index: usize,
    factor: f64,
    number: &impl Fn(usize) -> usize,
    known: &impl Fn(&[f64]) -> Option<f64>,
) -> Vec<Size> {
    let spread = SPREAD_95 * factor.sqrt();
    match &best.course {
        Course::Circle(c) => {
            let diameter = [0.0, 0.0, 2.0];
            let own = || c.normal.predict(&diameter).0;
            let variance = known(&diameter).unwrap_or_else(own);
            let fixed = !best.conditions.is_empty();
            vec![Size {
                kind: SizeKind::Diameter,
                loop_index: index,
                edges: vec![0],
                value: 2.0 * c.radius,
                plus_minus: if fixed {
                    0.0
                } else {
                    spread * variance.max(0.0).sqrt()
                },
                fixed,
                at: Point::new(c.center.x + c.radius, c.center.y),
                hole: None,
                mark: None,
            }]
        }
        Course::Chain(s) => measure(s, known)
            .into_iter()
            .map(|m| Size {
                kind: m.kind,
                loop_index: index,
                edges: m.edges.iter().map(|&e| number(e)).collect(),
                value: m.value,
                plus_minus: if m.fixed { 0.0 } else { spread * m.deviation },
                fixed: m.fixed,
                at: m.at,
                hole: None,
                mark: None,
            })
            .collect(),
    }
}

/// Other readings that were close: each kind of reading once. The one that was corrected is none: who takes the
/// correction back has it again.
fn others(study: &Study, best: &Reading, index: usize) -> Vec<Alternative> {
    let mut seen = vec![key(best)];
    seen.extend(faith::origin(study, best).map(key));
    let mut out = Vec::new();
    // Whether it was traced or drawn is a guess: the best of the other is always offered.
    let other = (study.readings.iter()).find(|r| r.instrument != best.instrument);
    let near = |r: &&Reading| r.price - best.price <= CLOSE;
    for r in other
        .into_iter()
        .chain(study.readings.iter().take_while(near))
    {
        let above = r.price - best.price;
        if out.len() == MOST_OTHERS {
            break;
        }
        if seen.contains(&key(r)) {
            continue;
        }
        seen.push(key(r));
        let path = r.course.path(true);
        let edges = path.edges();
        out.push(Alternative {
            loop_index: index,
            summary: summary(r),
            price_above_best: above.max(0.0),
            hints: hints_for(r, &edges),
            closed: path.is_closed(),
            edges,
        });
    }
    out
}

/// Readings of the same kinds in the same order are one to a person, wherever they start.
#[allow(clippy::string_slice, reason = "one ASCII letter for each edge")]
fn key(r: &Reading) -> String {
    let k = kinds(r);
    let turns = (0..k.len()).map(|i| format!("{}{}", &k[i..], &k[..i]));
    let open = matches!(&r.course, Course::Chain(s) if !s.figure.closed);
    format!(
        "{open}{}",
        if open {
            k.clone()
        } else {
            turns.min().unwrap_or_default()
        }
    )
}

fn summary(r: &Reading) -> String {
    let (lines, arcs, open) = match &r.course {
        Course::Circle(_) => return "a circle".into(),
        Course::Chain(s) => {
            let arcs = s.figure.kinds.iter().filter(|k| **k == Kind::Arc).count();
            (s.figure.len() - arcs, arcs, !s.figure.closed)
        }
    };
    let count = |n: usize, one: &str| match n {
        0 => None,
        1 => Some(format!("one {one}")),
        n => Some(format!("{n} {one}s")),
    };
    let parts: Vec<String> = [count(lines, "straight edge"), count(arcs, "arc")]
        .into_iter()
        .flatten()
        .collect();
    format!(
        "{}{}",
        parts.join(" and "),
        if open { ", open" } else { "" }
    )
}

/// Hints that bring this reading about.
fn hints_for(r: &Reading, edges: &[Edge]) -> Vec<Hint> {
    if let Course::Circle(c) = &r.course {
        let at = Point::new(c.center.x + c.radius, c.center.y);
        return vec![Hint {
            at,
            says: Says::Loop(LoopKind::Circle),
        }];
    }
    edges
        .iter()
        .map(|e| {
            let kind = match e {
                Edge::Line(_) => EdgeKind::Straight,
                Edge::Arc(_) => EdgeKind::Arc,
            };
            Hint {
                at: e.point_at(0.5),
                says: Says::Edge(kind),
            }
        })
        .collect()
}

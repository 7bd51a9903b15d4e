//! Hints: the person's corrections choose among the readings, or change the best of them.
//!
//! A hint about what an edge, corner or loop *is* is a filter on readings; where no reading passes,
//! the best one is changed as the hint asks and solved anew. A hint about a *size or relation* is a
//! condition, held before all that was found. What can't be met is told, with the reason.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure that follows the hint"
)]

use super::correct::refused;
use super::local::Local;
use super::search::{NODES, Tried, hold, read_new, relate, under};
use super::{Course, Reading, Study, faith, proposed};
use crate::fit::partition::{Kind, SpanTable};
use crate::geom::{Point, Sorted as _};
use crate::hint::{CornerKind, EdgeKind, Hint, LoopKind, Says};
use crate::outline::{Loop, Outline, Path, Role, check};
use crate::relate::ask::straight;
use crate::relate::constraint::{Condition, Constraint, constraints};
use crate::relate::equations::stretch;
use crate::relate::figure::Figure;
use crate::relate::kinds::{RelationKind, at_angle};
use crate::relate::quantity::Side;
use crate::relate::round::solve_circle;
use crate::relate::solve::{Care, Solved};
use crate::report::{About, Doubt, Note};
use crate::trace::CleanTrace;
use core::f64::consts::FRAC_PI_2;

/// The hints whose place is nearest to path `i` of all the paths (those of marks aside).
pub(super) fn hints_of<'a>(i: usize, clean: &CleanTrace, hints: &'a [Hint]) -> Vec<&'a Hint> {
    let distance = |k: usize, at: Point| {
        let points = clean.paths.get(k).map_or(&[][..], |p| p.points.as_slice());
        points
            .iter()
            .map(|p| p.distance(at))
            .fold(f64::INFINITY, f64::min)
    };
    hints
        .iter()
        .filter(|h| !matches!(h.says, Says::Hole(..) | Says::Loop(LoopKind::Alone)))
        .filter(|h| {
            let own = distance(i, h.at);
            (0..clean.paths.len())
                .all(|k| k == i || own < distance(k, h.at) || (own == distance(k, h.at) && i < k))
        })
        .collect()
}

/// The cheapest reading that follows the hints; what can't be followed is told.
pub(super) fn choose(
    study: &mut Study,
    hints: &[&Hint],
    doubts: &mut Vec<Doubt>,
) -> Option<Reading> {
    let shapes: Vec<&Hint> = hints
        .iter()
        .copied()
        .filter(|h| is_shape(&h.says))
        .collect();
    let mut followed: Vec<&Hint> = Vec::new();
    let round = matches!(study.readings.first()?.course, Course::Circle(_));
    let edges = shapes.iter().filter(|h| matches!(h.says, Says::Edge(_)));
    let alone = edges.count() <= FEW_EDGES;
    for h in shapes {
        followed.push(h);
        if let Some(flipped) = flipped(study, &followed, h).filter(|_| alone) {
            study.readings.insert(0, flipped);
        }
        if !study
            .readings
            .iter()
            .any(|r| followed.iter().all(|h| follows(r, h)))
        {
            make(study, &followed);
        }
        if !study
            .readings
            .iter()
            .any(|r| followed.iter().all(|h| follows(r, h)))
        {
            followed.pop();
            let why = "no reading of the trace here has it together with the other hints";
            doubts.push(refused(h, why));
        }
    }
    let fits = |r: &&Reading| followed.iter().all(|h| follows(r, h));
    let fitting = || study.readings.iter().filter(fits);
    // A closed loop that crosses itself can't be cut: the cheapest that does not, and does not when it is
    // solved to the end either, if there is one.
    let sound = |r: &Reading| crossing(&r.course.path(true)).is_none();
    let finished = |r: &Reading| {
        let mut r = r.clone();
        finish(study, &mut r);
        r
    };
    let first = fitting().next()?;
    let uncrossed = fitting().take(UNCROSSED).filter(|r| sound(r));
    // What was made with the other instrument may leave the line: only where there is nothing else.
    let (same, other): (Vec<_>, Vec<_>) = uncrossed.partition(|r| r.instrument == first.instrument);
    let mut tried = same.into_iter().chain(other).take(FINISHED).map(finished);
    let mut best = match tried.next() {
        None => finished(first),
        Some(first) if sound(&first) => first,
        Some(first) => tried.find(sound).unwrap_or(first),
    };
    doubts.extend(faith::instead(study, first, &best));
    let straight = |h: &&&Hint| h.says == Says::Edge(EdgeKind::Straight);
    if let (Some(h), Course::Chain(s)) = (
        followed.iter().find(straight).filter(|_| round),
        &best.course,
    ) {
        let text = format!(
            "what was traced here is round, and with a straight edge becomes {} edges: look whether it is so, or trace it \
             again",
            s.figure.len()
        );
        doubts.push(Doubt::at(About::Hint, text, h.at));
    }
    bind(study, &mut best, hints, doubts);
    Some(best)
}

/// So many edges are changed in the best reading alone; who names more names another reading, as its own hints do.
const FEW_EDGES: usize = 2;
/// The least bulge of an edge that is told to be an arc: a turn of 5°.
const LEAST_BULGE: f64 = 0.02;

/// The best reading with the one edge of a hint made straight or an arc, and all else as it was, where it is not so
/// already and follows the hints before it.
fn flipped(study: &Study, followed: &[&Hint], h: &Hint) -> Option<Reading> {
    let Says::Edge(kind) = h.says else {
        return None;
    };
    let (last, before) = followed.split_last()?;
    let best = study
        .readings
        .iter()
        .find(|r| before.iter().all(|h| follows(r, h)))?;
    if follows(best, last) {
        return None;
    }
    let (Course::Chain(s), Some(problem)) = (&best.course, study.problem(best.variant)) else {
        return None;
    };
    let e = nearest_edge(&s.figure, h.at)?;
    let count = s.figure.len();
    let mut start = s.clone();
    (start.figure.kinds[e], start.figure.bulges[e]) = match kind {
        EdgeKind::Straight => (Kind::Line, 0.0),
        EdgeKind::Arc => {
            let stations = problem.stations;
            let (from, to) = stretch(&s.starts, e, stations.len());
            let middle = stations
                .points
                .get(((from + to) / 2) % stations.len().max(1))?;
            let view = s.figure.view(e)?;
            let bulge = 2.0 * view.chord_distance(*middle) / view.chord();
            (Kind::Arc, bulge.abs().max(LEAST_BULGE).copysign(bulge))
        }
    };
    let about = [e, (e + count - 1) % count];
    let kept = |c: &&Condition| {
        let named = |k: usize| c.of.iter().any(|m| m.1 == Some(k) || m.1.is_none());
        let of_one = c.of.len() == 1;
        !(named(e) || of_one && about.iter().any(|k| named(*k)))
    };
    let conditions: Vec<Condition> = best.conditions.iter().filter(kept).cloned().collect();
    let solved = hold(&start, &problem, &conditions, Care::FINAL)?;
    let conditions = met(&conditions, &solved.figure);
    let out = Reading {
        course: Course::Chain(Box::new(solved)),
        conditions,
        ..best.clone()
    };
    let sound = crossing(&out.course.path(true)).is_none();
    (sound && followed.iter().all(|h| follows(&out, h))).then_some(out)
}

/// How many readings are looked at for one that does not cross itself, and how many of them are solved.
const UNCROSSED: usize = 16;
const FINISHED: usize = 4;

/// Where a closed path crosses itself.
pub(super) fn crossing(path: &Path) -> Option<Point> {
    if !path.is_closed() {
        return None;
    }
    let alone = Loop {
        role: Role::Part,
        path: path.clone(),
        deviation: None,
    };
    let problems = check::check(&Outline {
        loops: vec![alone],
        marks: Vec::new(),
    });
    let crossed = |p: &&check::Problem| matches!(p.reason, check::Reason::CrossesItself { .. });
    problems.iter().find(crossed).map(|p| p.at)
}

fn is_shape(says: &Says) -> bool {
    matches!(
        says,
        Says::Edge(_)
            | Says::Loop(
                LoopKind::Circle
                    | LoopKind::Rectangle
                    | LoopKind::Open
                    | LoopKind::Part
                    | LoopKind::Hole
            )
    )
}

/// Whether a reading is as a hint about shape says.
fn follows(r: &Reading, h: &Hint) -> bool {
    let figure = match &r.course {
        Course::Circle(_) => {
            return matches!(
                h.says,
                Says::Edge(EdgeKind::Arc)
                    | Says::Loop(LoopKind::Circle | LoopKind::Part | LoopKind::Hole)
            );
        }
        Course::Chain(s) => &s.figure,
    };
    match h.says {
        Says::Edge(kind) => nearest_edge(figure, h.at)
            .is_some_and(|e| (figure.kinds[e] == Kind::Arc) == (kind == EdgeKind::Arc)),
        Says::Loop(LoopKind::Circle) => false,
        Says::Loop(LoopKind::Rectangle) => is_rectangle(figure),
        Says::Loop(LoopKind::Open) => !figure.closed,
        Says::Loop(LoopKind::Part | LoopKind::Hole) => figure.closed,
        _ => true,
    }
}

/// Makes readings that follow the hints out of the best ones.
fn make(study: &mut Study, hints: &[&Hint]) {
    let best: Vec<Reading> = study.readings.iter().take(4).cloned().collect();
    for r in best {
        let Some(problem) = study.problem(r.variant) else {
            continue;
        };
        let Course::Chain(s) = &r.course else {
            // A circle that is to be something else: from scratch, four or more sides.
            continue;
        };
        let mut tries = Vec::new();
        for h in hints {
            if let Says::Edge(kind) = h.says
                && let Some(e) = nearest_edge(&s.figure, h.at)
            {
                let mut p = s.partition();
                p.kinds[e] = if kind == EdgeKind::Arc {
                    Kind::Arc
                } else {
                    Kind::Line
                };
                tries.push(proposed::Proposed::free(p));
            }
        }
        let table = SpanTable::measure(problem.stations, NODES, 0.0);
        tries.extend(Local::new(&problem, &table, r.instrument).changes(s));
        let mut tried = Tried::default();
        let made = tries
            .iter()
            .filter_map(|p| read_new(&problem, p, &mut tried, r.instrument));
        let made: Vec<Reading> = made
            .map(|m| Reading {
                variant: r.variant,
                price: m.price + r.against,
                against: r.against,
                ..m
            })
            .collect();
        study.readings.extend(made);
    }
    if hints.iter().any(|h| h.says == Says::Loop(LoopKind::Circle)) {
        let round = study.readings.first().and_then(|r| {
            let problem = study.problem(r.variant)?;
            let round = solve_circle(problem.stations, &problem.noise, None)?;
            Some(Reading {
                course: Course::Circle(Box::new(round)),
                conditions: Vec::new(),
                ..r.clone()
            })
        });
        study.readings.extend(round);
    }
    study.readings.order_by(|a, b| a.price.total_cmp(&b.price));
}

/// Solves the chosen reading to the last digits, with relations that only show there; what then
/// contradicts others is left out.
fn finish(study: &Study, best: &mut Reading) {
    let Some(problem) = study.problem(best.variant) else {
        return;
    };
    let Course::Chain(s) = &best.course else {
        return;
    };
    let under = under(&problem, best.instrument);
    let misfit = under.of_chain(s).misfit;
    let stays = |s: &Solved| under.of_chain(s).misfit < misfit + RUNS_AWAY;
    let Some(mut solved) = hold(s, &problem, &best.conditions, Care::FINAL).filter(stays) else {
        return;
    };
    let more = relate(&solved, &problem, best);
    if more.len() > best.conditions.len()
        && let Some(again) = hold(&solved, &problem, &more, Care::FINAL).filter(stays)
    {
        best.conditions = more;
        solved = again;
    }
    best.course = Course::Chain(Box::new(solved));
}

/// A reading that the stations speak against by so much more, nats, once it is solved to the last digits, has run
/// away from them: it is left as it was.
const RUNS_AWAY: f64 = 30.0;

/// Leaves out the conditions that the others contradict: they are not met, and must not be said to
/// hold.
pub(super) fn settle(study: &Study, best: &mut Reading) {
    let Some(problem) = study.problem(best.variant) else {
        return;
    };
    for _ in 0..3 {
        let Course::Chain(s) = &best.course else {
            return;
        };
        let kept = met(&best.conditions, &s.figure);
        if kept.len() == best.conditions.len() {
            return;
        }
        let Some(again) = hold(s, &problem, &kept, Care::FINAL) else {
            break;
        };
        best.conditions = kept;
        best.course = Course::Chain(Box::new(again));
    }
    if let Course::Chain(s) = &best.course {
        best.conditions = met(&best.conditions, &s.figure);
    }
}

/// Those of the conditions that the figure meets.
fn met(conditions: &[Condition], figure: &Figure) -> Vec<Condition> {
    conditions
        .iter()
        .filter(|c| c.is_met(figure))
        .cloned()
        .collect()
}

/// Holds the reading to what hints say of its kind: a rectangle is square all round, a corner that keeps its
/// angle is freed of what was found of it. Sizes come later ([`super::correct`]).
fn bind(study: &Study, best: &mut Reading, hints: &[&Hint], doubts: &mut Vec<Doubt>) {
    let Some(problem) = study.problem(best.variant) else {
        return;
    };
    let Course::Chain(s) = &best.course else {
        return;
    };
    let f = &s.figure;
    let mut said: Vec<Condition> = Vec::new();
    let mut dropped: Vec<usize> = Vec::new();
    for h in hints {
        match h.says {
            Says::Loop(LoopKind::Rectangle) if is_rectangle(f) => said.extend(squared(f)),
            Says::Loop(LoopKind::Rectangle) => {
                doubts.push(refused(
                    h,
                    "what was traced here has no four straight sides",
                ));
            }
            Says::Corner(CornerKind::Keep) => {
                if let Some((e, next)) = nearest_joint(f, h.at) {
                    dropped.extend([e, next]);
                }
            }
            _ => {}
        }
    }
    if said.is_empty() && dropped.is_empty() {
        return;
    }
    let angle = |c: &Condition| constraints(core::slice::from_ref(c)).all(Constraint::is_angle);
    let at_corner = |c: &Condition| {
        c.of.iter()
            .all(|m| m.1.is_some_and(|e| dropped.contains(&e)))
    };
    let freed = |c: &&Condition| c.of.len() == 2 && angle(c) && at_corner(c);
    let found = best.conditions.iter().filter(|c| !freed(c)).cloned();
    let count = said.len();
    let all: Vec<Condition> = said.into_iter().chain(found).collect();
    let solved = hold(s, &problem, &all, Care::FINAL)
        .filter(|solved| met(&all, &solved.figure).len() >= count);
    match solved {
        Some(solved) => {
            best.conditions = met(&all, &solved.figure);
            best.course = Course::Chain(Box::new(solved));
        }
        None => {
            let rectangle = |h: &&&Hint| h.says == Says::Loop(LoopKind::Rectangle);
            let why = "the outline falls apart under it";
            doubts.extend(hints.iter().filter(rectangle).map(|h| refused(h, why)));
        }
    }
}

fn is_rectangle(f: &Figure) -> bool {
    f.closed && f.len() == 4 && f.kinds.iter().all(|k| *k == Kind::Line)
}

/// Three right angles, which make the fourth.
fn squared(f: &Figure) -> impl Iterator<Item = Condition> + '_ {
    (0..3).map(|e| {
        let [a, b] = [e, e + 1].map(|e| straight(f, Side::new(0, e)));
        let turn = FRAC_PI_2.copysign(f.turn_after(e));
        at_angle(RelationKind::Square, &a, &b, turn)
    })
}

/// Loops that a hint calls a part or a hole.
pub(super) fn roles(outline: &mut Outline, hints: &[Hint], notes: &mut Vec<Note>) {
    for h in hints {
        let role = match h.says {
            Says::Loop(LoopKind::Part) => Role::Part,
            Says::Loop(LoopKind::Hole) => Role::Hole,
            _ => continue,
        };
        let distance = |l: &Loop| {
            l.path
                .edges()
                .iter()
                .map(|e| e.distance(h.at))
                .fold(f64::INFINITY, f64::min)
        };
        let near = outline
            .loops
            .iter_mut()
            .fold(None::<(f64, &mut Loop)>, |best, l| {
                let d = distance(l);
                match best {
                    Some(b) if b.0 <= d => Some(b),
                    _ => Some((d, l)),
                }
            });
        match near {
            Some((_, l)) if l.path.is_closed() => {
                l.role = role;
                if (l.path.area() > 0.0) != (role == Role::Part) {
                    l.path = l.path.reversed();
                }
            }
            _ => notes.push(Note::at("no closed loop here to be a part or a hole", h.at)),
        }
    }
}

/// The edge nearest to a place.
fn nearest_edge(f: &Figure, at: Point) -> Option<usize> {
    let chain = f.to_chain();
    let all = (0..f.len()).filter_map(|e| Some((e, chain.edge(e)?.distance(at))));
    all.fold(None, |best: Option<(usize, f64)>, next| match best {
        Some(b) if b.1 <= next.1 => Some(b),
        _ => Some(next),
    })
    .map(|b| b.0)
}

/// The joint nearest to a place: the edge before it and the edge after it.
fn nearest_joint(f: &Figure, at: Point) -> Option<(usize, usize)> {
    let m = f.len();
    let joints = if f.closed { 0..m } else { 1..m };
    let all = joints.map(|e| ((e + m - 1) % m, e, f.corners[e].distance(at)));
    all.fold(None, |best: Option<(usize, usize, f64)>, next| match best {
        Some(b) if b.2 <= next.2 => Some(b),
        _ => Some(next),
    })
    .map(|b| (b.0, b.1))
}

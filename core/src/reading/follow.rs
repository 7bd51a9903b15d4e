//! Hints: the person's corrections choose among the readings, or change the best of them.
//!
//! A hint about what an edge, corner or loop *is* is a filter on readings; where no reading passes,
//! the best one is changed as the hint asks and solved anew. A hint about a *size or relation* is a
//! condition, held before all that was found. What can't be met is told, with the reason.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure that follows the hint"
)]

use super::search::{Tried, hold, read_new, relate};
use super::{Course, Reading, Study, moves};
use crate::fit::partition::Kind;
use crate::geom::{Point, Vec2};
use crate::hint::{CornerKind, EdgeKind, Hint, LoopKind, Says};
use crate::outline::{Loop, Outline, Path, Role, check};
use crate::relate::ask::{Straight, straight};
use crate::relate::constraint::{Condition, Constraint, constraints};
use crate::relate::figure::Figure;
use crate::relate::kinds::{RelationKind, at_angle};
use crate::relate::quantity::{Axis, Place, Quantity, Side};
use crate::relate::round::solve_circle;
use crate::relate::solve::Care;
use crate::report::Note;
use crate::trace::CleanTrace;
use core::f64::consts::{FRAC_PI_2, PI};

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
        .filter(|h| !matches!(h.says, Says::Hole(_) | Says::Loop(LoopKind::Alone)))
        .filter(|h| {
            let own = distance(i, h.at);
            (0..clean.paths.len())
                .all(|k| k == i || own < distance(k, h.at) || (own == distance(k, h.at) && i < k))
        })
        .collect()
}

/// The cheapest reading that follows the hints; what can't be followed is told.
pub(super) fn choose(study: &mut Study, hints: &[&Hint], notes: &mut Vec<Note>) -> Option<Reading> {
    let shapes: Vec<&Hint> = hints
        .iter()
        .copied()
        .filter(|h| is_shape(&h.says))
        .collect();
    let mut followed: Vec<&Hint> = Vec::new();
    for h in shapes {
        followed.push(h);
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
            notes.push(Note::at(
                format!("{} can't be followed: no reading of the trace here has it together with the other hints", words(&h.says)),
                h.at,
            ));
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
    let candidates = fitting().take(UNCROSSED).filter(|r| sound(r));
    let mut tried = candidates.take(FINISHED).map(finished);
    let mut best = match tried.next() {
        None => finished(fitting().next()?),
        Some(first) if sound(&first) => first,
        Some(first) => tried.find(sound).unwrap_or(first),
    };
    bind(study, &mut best, hints, notes);
    Some(best)
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
            | Says::Corner(CornerKind::Sharp | CornerKind::Radius(_))
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
        Says::Corner(CornerKind::Sharp) => nearest_joint(figure, h.at).is_some_and(|(e, next)| {
            figure.turn_after(e).abs() > 0.05 && !is_fillet(figure, e) && !is_fillet(figure, next)
        }),
        Says::Corner(CornerKind::Radius(_)) => {
            nearest_edge(figure, h.at).is_some_and(|e| is_fillet(figure, e))
        }
        Says::Loop(LoopKind::Circle) => false,
        Says::Loop(LoopKind::Rectangle) => {
            figure.closed && figure.len() == 4 && figure.kinds.iter().all(|k| *k == Kind::Line)
        }
        Says::Loop(LoopKind::Open) => !figure.closed,
        Says::Loop(LoopKind::Part | LoopKind::Hole) => figure.closed,
        _ => true,
    }
}

/// An arc that turns like a rounded corner: tangent or nearly so at both ends, short of a half turn.
fn is_fillet(f: &Figure, e: usize) -> bool {
    let before = (e + f.len() - 1) % f.len().max(1);
    f.kinds[e] == Kind::Arc
        && f.sweep(e).abs() < 2.8
        && f.turn_after(e).abs() < 0.2
        && f.turn_after(before).abs() < 0.2
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
                tries.push(moves::Proposed::free(p));
            }
            if let Says::Corner(CornerKind::Radius(radius)) = h.says
                && let Some((_, next)) = nearest_joint(&s.figure, h.at)
            {
                tries.extend(moves::rounded(s, next, radius, problem.stations));
            }
        }
        tries.extend(moves::neighbours(s, &problem, 0.3 * problem.rounding()));
        let mut tried = Tried::default();
        let made = tries
            .iter()
            .filter_map(|p| read_new(&problem, p, &mut tried, None));
        let made: Vec<Reading> = made
            .map(|m| Reading {
                variant: r.variant,
                ..m
            })
            .collect();
        study.readings.extend(made);
    }
    super::search::reprice(&mut study.readings);
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
    let Some(mut solved) = hold(s, &problem, &best.conditions, Care::FINAL) else {
        return;
    };
    let more = relate(&solved, &problem, best);
    if more.len() > best.conditions.len()
        && let Some(again) = hold(&solved, &problem, &more, Care::FINAL)
    {
        best.conditions = more;
        solved = again;
    }
    best.course = Course::Chain(Box::new(solved));
}

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

/// Holds the reading to the hints that are conditions, before what was found.
fn bind(study: &Study, best: &mut Reading, hints: &[&Hint], notes: &mut Vec<Note>) {
    let Some(problem) = study.problem(best.variant) else {
        return;
    };
    if let Course::Circle(_) = best.course {
        let radius = hints.iter().rev().find_map(|h| match h.says {
            Says::Size(r) => Some(r),
            _ => None,
        });
        if let Some(r) = radius
            && let Some(round) = solve_circle(problem.stations, problem.noise, Some(r))
        {
            best.course = Course::Circle(Box::new(round));
            best.conditions = vec![Condition::radius(0, r)];
        }
        return;
    }
    let Course::Chain(s) = &best.course else {
        return;
    };
    let mut said: Vec<(Condition, &Hint)> = Vec::new();
    let mut dropped: Vec<usize> = Vec::new();
    for h in hints {
        match conditions_of(&s.figure, h) {
            Ok(list) => said.extend(list.into_iter().map(|c| (c, *h))),
            Err(why) => notes.push(Note::at(
                format!("{} can't be followed: {why}", words(&h.says)),
                h.at,
            )),
        }
        if let Says::Corner(CornerKind::Keep) = h.says
            && let Some((e, next)) = nearest_joint(&s.figure, h.at)
        {
            dropped.extend([e, next]);
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
    let freed = |c: &Condition| c.of.len() == 2 && angle(c) && at_corner(c);
    let keeps = |c: &&Condition| !freed(c) && !fights(c, &said);
    let found = best.conditions.iter().filter(keeps).cloned();
    let all: Vec<Condition> = said.iter().map(|s| s.0.clone()).chain(found).collect();
    let Some(solved) = hold(s, &problem, &all, Care::FINAL) else {
        for (_, h) in &said {
            notes.push(Note::at(
                format!(
                    "{} can't be followed: the outline falls apart under it",
                    words(&h.says)
                ),
                h.at,
            ));
        }
        return;
    };
    let met = |c: &Condition| {
        let near = |c: &Constraint| c.off(&solved.figure).is_some_and(|off| off.abs() < 1e-6);
        c.constraints.iter().all(near)
    };
    for (c, h) in &said {
        if !met(c) {
            notes.push(Note::at(
                format!(
                    "{} can't be followed: it contradicts the hints before it",
                    words(&h.says)
                ),
                h.at,
            ));
        }
    }
    best.conditions = all.into_iter().filter(met).collect();
    best.course = Course::Chain(Box::new(solved));
}

/// A found condition that hints about the same edges replace: two that are alike, both of which have a size.
fn fights(c: &Condition, said: &[(Condition, &Hint)]) -> bool {
    let alike = matches!(
        c.kind,
        RelationKind::EqualLength | RelationKind::EqualRadius
    );
    let sized = |m| {
        said.iter()
            .any(|(s, _)| s.kind == RelationKind::Size && s.of == [m])
    };
    alike && c.of.iter().all(|m| sized(*m))
}

/// The conditions a hint stands for at this figure.
fn conditions_of(f: &Figure, h: &Hint) -> Result<Vec<Condition>, &'static str> {
    let edge = |at: Point| nearest_edge(f, at).ok_or("there is no edge here");
    let lined = |e: usize| -> Straight { straight(f, Side::new(0, e)) };
    match h.says {
        Says::Size(value) => {
            if !(value.is_finite() && value > 0.0) {
                return Err("a size must be more than 0");
            }
            let e = edge(h.at)?;
            let side = Side::new(0, e);
            let quantity = match f.kinds[e] {
                Kind::Line => Quantity::Length(side),
                Kind::Arc => Quantity::Radius(side),
            };
            let sized = Constraint::at(quantity, value);
            Ok(vec![Condition::new(
                RelationKind::Size,
                &[side],
                vec![sized],
            )])
        }
        Says::Corner(CornerKind::Radius(value)) => {
            if !(value.is_finite() && value > 0.0) {
                return Err("a radius must be more than 0");
            }
            let e = edge(h.at)?;
            if f.kinds[e] != Kind::Arc {
                return Err("the corner here is not rounded");
            }
            Ok(vec![Condition::radius(e, value)])
        }
        Says::Parallel(other) => {
            let (e, g) = (edge(h.at)?, edge(other)?);
            if e == g || f.kinds[e] != Kind::Line || f.kinds[g] != Kind::Line {
                return Err("two straight edges are needed");
            }
            let [a, b] = [e, g].map(lined);
            let turn = libm::round((b.angle - a.angle) / PI) * PI;
            Ok(vec![at_angle(RelationKind::Parallel, &a, &b, turn)])
        }
        Says::Equal(other) => {
            let (e, g) = (edge(h.at)?, edge(other)?);
            match (f.kinds[e], f.kinds[g]) {
                _ if e == g => Err("two edges are needed"),
                (Kind::Line, Kind::Line) => {
                    let of = [e, g].map(|e| Side::new(0, e));
                    let [a, b] = of.map(Quantity::Length);
                    let alike = Constraint::difference(a, b, 0.0);
                    Ok(vec![Condition::new(
                        RelationKind::EqualLength,
                        &of,
                        vec![alike],
                    )])
                }
                (Kind::Arc, Kind::Arc) => Ok(vec![Condition::equal_radius(e, g)]),
                _ => Err("a straight edge and an arc can't be equal"),
            }
        }
        Says::Datum(to) => {
            let e = edge(h.at)?;
            let d = to - h.at;
            if f.kinds[e] != Kind::Line || d.length() < 1e-6 {
                return Err("a datum is said of a straight edge, by two places apart");
            }
            let n = Vec2::from_angle(d.angle()).left();
            let on_it = |c| {
                let at = |axis| Quantity::At(Place::Corner(Side::new(0, c)), axis);
                Constraint {
                    terms: vec![(n.x, at(Axis::X)), (n.y, at(Axis::Y))],
                    value: n.dot(h.at.to_vec()),
                }
            };
            let both = [e, f.end_corner(e)].map(on_it).to_vec();
            Ok(vec![Condition::new(
                RelationKind::Size,
                &[Side::new(0, e)],
                both,
            )])
        }
        Says::Loop(LoopKind::Rectangle)
            if !(f.closed && f.len() == 4 && f.kinds.iter().all(|k| *k == Kind::Line)) =>
        {
            Err("what was traced here has no four straight sides")
        }
        Says::Loop(LoopKind::Rectangle) => Ok((0..3)
            .map(|e| {
                let [a, b] = [e, e + 1].map(lined);
                at_angle(
                    RelationKind::Square,
                    &a,
                    &b,
                    FRAC_PI_2.copysign(f.turn_after(e)),
                )
            })
            .collect()),
        _ => Ok(Vec::new()),
    }
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

/// A hint in a few words, for a note.
fn words(says: &Says) -> String {
    match says {
        Says::Edge(EdgeKind::Straight) => "\"this edge is straight\"".into(),
        Says::Edge(EdgeKind::Arc) => "\"this edge is an arc\"".into(),
        Says::Size(v) => format!("\"this edge is {v} mm\""),
        Says::Corner(CornerKind::Sharp) => "\"this corner is sharp\"".into(),
        Says::Corner(CornerKind::Radius(r)) => format!("\"this corner has radius {r} mm\""),
        Says::Corner(CornerKind::Keep) => "\"this corner keeps its angle\"".into(),
        Says::Parallel(_) => "\"these two are parallel\"".into(),
        Says::Equal(_) => "\"these two are equal\"".into(),
        Says::Loop(LoopKind::Part) => "\"this loop is a part\"".into(),
        Says::Loop(LoopKind::Hole) => "\"this loop is a hole\"".into(),
        Says::Loop(LoopKind::Open) => "\"this loop is open\"".into(),
        Says::Loop(LoopKind::Circle) => "\"this loop is a circle\"".into(),
        Says::Loop(LoopKind::Rectangle) => "\"this loop is a rectangle\"".into(),
        Says::Loop(LoopKind::Alone) => "\"this stands alone\"".into(),
        Says::Hole(d) => format!("\"this mark is a hole of {d} mm\""),
        Says::Datum(_) => "\"the outline lies along this datum\"".into(),
    }
}

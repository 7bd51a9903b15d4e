//! What came of the corrections, written back where it was read from.
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are numbered by the joint they stand in"
)]

use super::Wanted;
use super::bodies::bodies;
use super::stand::{Moved, Stand, of_body};
use crate::outline::{Circle, Loop, Mark, Path};
use crate::reading::describe::{self};
use crate::reading::together::{Source, Span, Together};
use crate::reading::{Course, Taken};
use crate::relate::across::{Form, Joint};
use crate::relate::constraint::Condition;
use crate::relate::quantity::Side;
use crate::relate::solve::standing;
use crate::report::RelationKind;

impl Stand {
    pub(super) fn write_back(
        &self,
        done: &[Wanted<'_>],
        solved: &Moved,
        taken: &mut [Taken],
        holes: &mut [Loop],
        marks: &mut [Mark],
    ) {
        let asked = || done.iter().flat_map(|w| &w.asked.conditions);
        for (i, b) in solved.joint.bodies.iter().enumerate() {
            match (self.sources[i], &b.shape) {
                (Source::Loop(t), shape) => {
                    let own = asked().chain(&solved.found);
                    let own = own.filter(|c| c.of.iter().all(|m| m.0 == i));
                    let mut conditions: Vec<Condition> = Vec::new();
                    for c in own.map(|c| of_body(c, 0)) {
                        if !conditions.contains(&c) {
                            conditions.push(c);
                        }
                    }
                    moved(&mut taken[t], shape, conditions);
                }
                (Source::Hole(h), Form::Spot(at)) => {
                    if let Path::Circle(c) = &mut holes[h].path {
                        c.center = *at;
                    }
                }
                (Source::Mark(m), Form::Spot(at)) => marks[m].at = *at,
                _ => {}
            }
        }
    }

    /// What ties the loops together from now on.
    pub(super) fn tied(
        &self,
        done: &[Wanted<'_>],
        solved: &Moved,
        taken: &[Taken],
        holes: &[Loop],
        marks: &[Mark],
    ) -> Option<Together> {
        let asked = done.iter().flat_map(|w| &w.asked.conditions);
        let across = |c: &&Condition| c.of.iter().any(|m| Some(m.0) != c.of.first().map(|f| f.0));
        let of_circle = |c: &&Condition| {
            c.kind == RelationKind::Size
                && c.of
                    .first()
                    .is_some_and(|m| matches!(self.joint.bodies[m.0].shape, Form::Round { .. }))
        };
        let all: Vec<&Condition> = asked.chain(&solved.found).collect();
        let ties: Vec<Condition> = all
            .iter()
            .filter(|c| across(c) || of_circle(c))
            .map(|c| (*c).clone())
            .collect();
        let is_any = all.iter().any(across);
        let (sources, bodies, factors) = bodies(taken, holes, marks);
        if !is_any || sources != self.sources {
            return None;
        }
        let joint = Joint::new(bodies);
        let held = joint.held(&ties)?;
        let mut spans: Vec<Span> = Vec::new();
        for w in done.iter().filter(|w| w.asked.pattern) {
            let sides: Vec<Side> = match w.asked.conditions.first() {
                Some(c) => c.of.iter().map(|m| Side::new(m.0, 0)).collect(),
                None => continue,
            };
            let both = w.asked.conditions[0].kind == RelationKind::HoleRectangle;
            for pair in sides.windows(2).take(if both { 2 } else { 1 }) {
                let fixed = w.asked.conditions.iter().skip(1).any(|c| {
                    c.of.len() == 2 && c.of[0].0 == pair[0].body && c.of[1].0 == pair[1].body
                });
                spans.push(Span {
                    from: pair[0],
                    to: pair[1],
                    fixed,
                });
            }
        }
        let own = self.spans.iter().filter(|s| {
            let of = [s.from.body, s.to.body];
            !done.iter().any(|w| w.asked.pattern && w.asked.names(&of))
        });
        spans.extend(own.cloned());
        Some(Together {
            joint,
            held,
            sources,
            factors,
            ties,
            spans,
        })
    }
}

/// A loop where it stands now.
fn moved(t: &mut Taken, shape: &Form, conditions: Vec<Condition>) {
    let counter_clockwise = t.made.path.area() > 0.0;
    let Some((study, best)) = &mut t.told else {
        t.made.path = match shape {
            Form::Chain(f) => Path::Chain(f.to_chain()),
            Form::Round { center, radius } => Path::Circle(Circle {
                center: *center,
                radius: *radius,
                counter_clockwise,
            }),
            Form::Spot(_) => return,
        };
        return;
    };
    match (&mut best.course, shape) {
        (Course::Chain(s), Form::Chain(f)) => {
            let Some(problem) = study.problem(best.variant) else {
                return;
            };
            let (starts, width) = (s.starts.clone(), s.corner_width);
            match standing(&problem, f.clone(), starts, width, &conditions) {
                Some(mut now) => {
                    now.residuals = s.residuals.clone();
                    **s = now;
                }
                None => s.figure = f.clone(),
            }
        }
        (Course::Circle(c), Form::Round { center, radius }) => {
            (c.center, c.radius) = (*center, *radius);
        }
        _ => return,
    }
    best.conditions = conditions;
    if let Some(stations) = study.forms.get(best.variant) {
        t.made.deviation = Some(describe::deviation(best, stations));
    }
    t.made.path = best.course.path(counter_clockwise);
}

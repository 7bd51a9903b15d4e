//! Sizes on whole steps, where the step lies inside a size's ±.
//!
//! Sizes are taken one by one, the surest first, each set to its step under all conditions so far,
//! so that what a set size implies for the others is known before they are asked. They move by less
//! than their ±, over which the figure is as good as linear: it is solved once, when all are chosen. A
//! size whose nearest step lies outside its ± is left, and told.
//!
//! **Fails** where sizes depend on one another through a bend so sharp that they cannot all be held: then
//! some are left out.

use super::describe::{Measured, measure};
use super::search::hold;
use super::{Course, Reading, Study};
use crate::relate::condition::Condition;
use crate::relate::equations::Problem;
use crate::relate::round::solve_circle;
use crate::relate::solve::{Care, Solved};
use crate::relate::view::View;
use crate::report::{Note, SizeKind};

/// Half-width of the ±, standard deviations.
const SPREAD_95: f64 = 1.96;
/// A size of less than this part of its free variance is fixed by the others.
const FIXED: f64 = 1e-6;
/// A condition is held that is met this nearly, mm or radians.
const MET: f64 = 1e-6;

/// Rounds the sizes of a reading to multiples of `step` mm.
pub(super) fn round_sizes(study: &Study, best: &mut Reading, step: f64, notes: &mut Vec<Note>) {
    let Some(problem) = study.problem(best.variant) else {
        return;
    };
    if !(step.is_finite() && step > 0.0) {
        return;
    }
    match &best.course {
        Course::Circle(c) => {
            // A circle is drawn to its diameter.
            let whole = 0.5 * step * libm::round(2.0 * c.radius / step);
            let (variance, _) = c.normal.predict(&[0.0, 0.0, 1.0]);
            let inside = (whole - c.radius).abs() <= SPREAD_95 * variance.max(0.0).sqrt();
            if best.conditions.is_empty()
                && inside
                && whole > 0.0
                && let Some(round) = solve_circle(problem.stations, problem.noise, Some(whole))
            {
                best.course = Course::Circle(Box::new(round));
                best.conditions = vec![Condition::Radius { e: 0, value: whole }];
            }
        }
        Course::Chain(s) => {
            let sizes = whole_sizes(s, step, notes);
            if let Some(last) = held_to(s, &problem, &mut best.conditions, sizes) {
                best.course = Course::Chain(Box::new(last));
            }
        }
    }
}

/// The sizes to be held to their steps, in the order in which they were taken.
fn whole_sizes(s: &Solved, step: f64, notes: &mut Vec<Note>) -> Vec<Condition> {
    let view = |m: Measured| {
        let linear = m.condition.at(&s.figure, 1)?;
        Some((m, View::under(linear, &s.normal, 1.0)))
    };
    let mut left: Vec<(Measured, View)> = measure(s, |_| None)
        .into_iter()
        .filter(|m| m.kind != SizeKind::Angle)
        .filter_map(view)
        .collect();
    let mut out = Vec::new();
    loop {
        left.retain(|(_, v)| v.variance() >= FIXED * v.free_variance());
        let surest = left.iter().enumerate().min_by(|(_, a), (_, b)| {
            let (a, b) = (a.1.variance(), b.1.variance());
            a.total_cmp(&b)
        });
        let Some(i) = surest.map(|(i, _)| i) else {
            return out;
        };
        let (m, v) = left.swap_remove(i);
        let value = m.value + v.expected(s.normal.free_step());
        let whole = step * libm::round(value / step);
        if whole <= 0.0 || (whole - value).abs() > SPREAD_95 * v.variance().sqrt() {
            notes.push(Note::at(
                format!("{value:.2} mm is no whole step of {step} mm within its ±, and stays"),
                m.at,
            ));
            continue;
        }
        let condition = at_value(m.condition, whole);
        let Some(unit) = condition.at(&s.figure, 1).and_then(|l| v.held_to(l.value)) else {
            continue;
        };
        for (_, v) in &mut left {
            v.condition(&unit.0, unit.1);
        }
        out.push(condition);
    }
}

/// The figure held to as many of `sizes` as can be held together with `conditions`, which take them in:
/// those that are not met are left out, and the rest is solved again.
fn held_to(
    s: &Solved,
    problem: &Problem,
    conditions: &mut Vec<Condition>,
    mut sizes: Vec<Condition>,
) -> Option<Solved> {
    for _ in 0..TRIES {
        if sizes.is_empty() {
            return None;
        }
        let all = [conditions.as_slice(), &sizes].concat();
        let solved = hold(s, problem, &all, Care::FINAL)?;
        let off = |c: &Condition| c.value(&solved.figure).map_or(f64::INFINITY, f64::abs);
        if all.iter().all(|c| off(c) < MET) {
            *conditions = all;
            return Some(solved);
        }
        let before = sizes.len();
        sizes.retain(|c| off(c) < MET);
        if sizes.len() == before {
            sizes.truncate(before / 2);
        }
    }
    None
}

/// How often sizes that cannot be held together are thinned out.
const TRIES: usize = 4;

fn at_value(c: Condition, whole: f64) -> Condition {
    match c {
        Condition::Length { e, .. } => Condition::Length { e, value: whole },
        Condition::Radius { e, .. } => Condition::Radius { e, value: whole },
        Condition::Distance { e, f, value } => Condition::Distance {
            e,
            f,
            value: whole.copysign(value),
        },
        other => other,
    }
}

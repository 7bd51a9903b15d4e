//! Sizes on whole steps, where the step lies inside a size's ±.
//!
//! Sizes are taken one by one, those that a person measures first ([`Rank`]) and of these the surest, each set to its step under all conditions so far,
//! so that what a set size implies for the others is known before they are asked. They move by less
//! than their ±, over which the figure is as good as linear: it is solved once, when all are chosen. A
//! size whose nearest step lies outside its ± is left, and told.
//!
//! **Fails** where sizes depend on one another through a bend so sharp that they cannot all be held: then
//! some are left out.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure whose sizes are rounded"
)]

use super::describe::{Measured, factor_of, measure, parallel};
use super::search::hold;
use super::{Course, Reading, Study};
use crate::fit::partition::Kind;
use crate::relate::condition::Condition;
use crate::relate::equations::Problem;
use crate::relate::figure::Figure;
use crate::relate::round::solve_circle;
use crate::relate::solve::{Care, Solved};
use crate::relate::view::View;
use crate::report::{Note, SizeKind};
use core::f64::consts::FRAC_PI_2;

/// Half-width of the ±, standard deviations, before the slow error's factor.
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
    let Some(factor) = factor_of(study, best) else {
        return;
    };
    let spread = SPREAD_95 * factor.sqrt();
    match &best.course {
        Course::Circle(c) => {
            // A circle is drawn to its diameter.
            let whole = 0.5 * step * libm::round(2.0 * c.radius / step);
            let (variance, _) = c.normal.predict(&[0.0, 0.0, 1.0]);
            let inside = (whole - c.radius).abs() <= spread * variance.max(0.0).sqrt();
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
            let sizes = whole_sizes(s, step, spread, notes);
            if let Some(last) = held_to(s, &problem, &mut best.conditions, sizes) {
                best.course = Course::Chain(Box::new(last));
            }
        }
    }
}

/// Who measures a size first. A slanting edge has the length that the others leave it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    /// An edge that meets another at a right angle, and a radius.
    Square,
    /// An edge that has a parallel.
    Parallel,
    /// Between parallels.
    Between,
    /// Any other edge.
    Slanting,
}

fn rank(f: &Figure, m: &Measured) -> Rank {
    let n = f.len();
    let straight = |e: usize| f.kinds[e] == Kind::Line;
    let square_after = |e: usize| {
        let next = (e + 1) % n;
        let joined = f.closed || e + 1 < n;
        let off = libm::fabs(f.turn_after(e)) - FRAC_PI_2;
        joined && straight(e) && straight(next) && libm::fabs(off) < 1e-9
    };
    match (m.kind, m.edges.as_slice()) {
        (SizeKind::Length, &[e]) if square_after(e) || square_after((e + n - 1) % n) => {
            Rank::Square
        }
        (SizeKind::Length, &[e]) => {
            let twin = |g: usize| g != e && straight(g) && parallel(f, e, g);
            if (0..n).any(twin) {
                Rank::Parallel
            } else {
                Rank::Slanting
            }
        }
        (SizeKind::Distance, _) => Rank::Between,
        _ => Rank::Square,
    }
}

/// The sizes to be held to their steps, in the order in which they were taken; a ± is `spread` standard
/// deviations of the equations.
fn whole_sizes(s: &Solved, step: f64, spread: f64, notes: &mut Vec<Note>) -> Vec<Condition> {
    let view = |m: Measured| {
        let linear = m.condition.at(&s.figure, 1)?;
        Some((rank(&s.figure, &m), m, View::under(linear, &s.normal, 1.0)))
    };
    let mut left: Vec<(Rank, Measured, View)> = measure(s, |_| None)
        .into_iter()
        .filter(|m| m.kind != SizeKind::Angle)
        .filter_map(view)
        .collect();
    let mut out = Vec::new();
    loop {
        left.retain(|(_, _, v)| v.variance() >= FIXED * v.free_variance());
        let surest = left.iter().enumerate().min_by(|(_, a), (_, b)| {
            let by_rank = a.0.cmp(&b.0);
            by_rank.then(a.2.variance().total_cmp(&b.2.variance()))
        });
        let Some(i) = surest.map(|(i, _)| i) else {
            return out;
        };
        let (_, m, v) = left.swap_remove(i);
        let value = m.value + v.expected();
        let whole = step * libm::round(value / step);
        if whole <= 0.0 || (whole - value).abs() > spread * v.variance().sqrt() {
            notes.push(Note::at(
                format!("{value:.2} mm is no whole step of {step} mm within its ±, and stays"),
                m.at,
            ));
            continue;
        }
        let condition = at_value(m.condition, whole);
        let linear = condition.at(&s.figure, 1);
        let Some(plane) = linear.and_then(|l| v.held_to(l.value, s.normal.free_step())) else {
            continue;
        };
        for (_, _, v) in &mut left {
            v.condition(&plane);
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

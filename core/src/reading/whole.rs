//! Sizes on whole steps, where the step lies inside a size's ±.
//!
//! Sizes are taken one by one, the surest first, each set to its step under all conditions so far,
//! so that what a set size implies for the others is known before they are asked. A size whose
//! nearest step lies outside its ± is left, and told.

use super::describe::{Measured, measure};
use super::search::hold;
use super::{Course, Reading, Study};
use crate::geom::Sorted as _;
use crate::relate::condition::Condition;
use crate::relate::round::solve_circle;
use crate::relate::solve::Care;
use crate::report::{Note, SizeKind};

/// Half-width of the ±, standard deviations.
const SPREAD_95: f64 = 1.96;

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
            let mut held = best.conditions.clone();
            let mut solved = s.clone();
            let mut asked: Vec<(SizeKind, Vec<usize>)> = Vec::new();
            while let Some(m) = surest(&measure(&solved), &asked) {
                asked.push((m.kind, m.edges.clone()));
                let whole = step * libm::round(m.value / step);
                if whole <= 0.0 || (whole - m.value).abs() > SPREAD_95 * m.deviation {
                    notes.push(Note::at(
                        format!(
                            "{:.2} mm is no whole step of {step} mm within its ±, and stays",
                            m.value
                        ),
                        m.at,
                    ));
                    continue;
                }
                held.push(at_value(m.condition, whole));
                match hold(&solved, &problem, &held, Care::NEARLY) {
                    Some(next) if next.consistent && next.residual < 1e-6 => *solved = next,
                    _ => {
                        held.pop();
                    }
                }
            }
            if held.len() > best.conditions.len()
                && let Some(last) = hold(&solved, &problem, &held, Care::FINAL)
            {
                best.conditions = held;
                best.course = Course::Chain(Box::new(last));
            }
        }
    }
}

/// The surest free size that has not been asked yet. Lengths of edges between parallel ones follow
/// from distances; both are sizes a person reads.
fn surest(all: &[Measured], asked: &[(SizeKind, Vec<usize>)]) -> Option<Measured> {
    let mut free: Vec<&Measured> = all
        .iter()
        .filter(|m| !m.fixed && m.kind != SizeKind::Angle)
        .filter(|m| !asked.iter().any(|a| a.0 == m.kind && a.1 == m.edges))
        .collect();
    free.order_by(|a, b| a.deviation.total_cmp(&b.deviation));
    free.first().map(|m| Measured {
        edges: m.edges.clone(),
        ..**m
    })
}

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

//! Which relations the stations speak for.
//!
//! A relation is a condition that free bodies nearly meet. The rows of the table say what could be asked and how
//! seldom people mean it; [`super::choose`] says which of it holds.
#![allow(
    clippy::indexing_slicing,
    reason = "proposals are numbered by the list they were asked from"
)]

use super::ask::{Ask, Proposal};
use super::choose::{Asked, Choice, Terms};
use super::constraint::{Condition, constraints};
use super::kinds::When;
use super::normal::Normal;
use super::quantity::Bodies;
use super::view::View;
use crate::report::RelationKind;
use core::f64::consts::PI;

/// What was found.
#[derive(Clone, Debug, Default)]
pub struct Found {
    /// Conditions in the order taken.
    pub conditions: Vec<Condition>,
    /// Sum of the gains, nats, prices not yet taken off.
    pub gain: f64,
    /// Sum of the prices, nats.
    pub price: f64,
}

/// A proposal that would say less than this part of what it says now where it leads is refused.
const FADED: f64 = 0.8;

/// Everything that could be asked, row by row; of what is settled also what is only asked of that.
#[must_use]
pub(crate) fn proposals(ask: &Ask<'_>, settled: bool) -> Vec<Proposal> {
    let mut out = Vec::new();
    for row in RelationKind::ALL.iter().map(|k| k.row()) {
        if row.when == When::Competing || (settled && row.when == When::Settled) {
            (row.propose)(row, ask, &mut out);
        }
    }
    out
}

/// Takes the relations that the stations speak for, after `held`, which are to hold anyway.
///
/// The normal equations are those of the bodies wherever they stand, and what they are conditioned by is settled:
/// the value a condition would take in the free optimum is predicted from there. `noise_factor` multiplies all
/// variances (a hand that draws freely testifies less). The gain that is told leaves out `c²/2v`:
/// what holding the conditions costs is in the misfit of the bound figure.
#[must_use]
pub(crate) fn find<B: Bodies>(
    bodies: &B,
    free: &Normal,
    proposals: &[Proposal],
    held: &[Condition],
    noise_factor: f64,
) -> Found {
    let asked = |(index, p): (usize, &Proposal)| {
        let view = |c: &super::constraint::Constraint| {
            let range = if c.is_angle() { PI } else { p.range };
            View::under(c.linear(bodies)?, free, range).afresh()
        };
        Some(Asked {
            index,
            terms: Terms {
                price: p.prior,
                meant: p.meant,
                late: p.condition.kind.row().late,
            },
            views: p
                .condition
                .constraints
                .iter()
                .map(view)
                .collect::<Option<_>>()?,
        })
    };
    let left = proposals.iter().enumerate().filter_map(asked).collect();
    let mut state = State {
        bodies,
        free,
        proposals,
        choice: Choice {
            normal: free.clone(),
            left,
            noise_factor,
        },
        found: Found::default(),
    };
    for h in held {
        state.hold(h);
    }
    while let Some(best) = state.choice.best() {
        if state.fades(best) {
            state.choice.left.swap_remove(best);
        } else {
            state.take(best);
        }
    }
    state.prefer_tangents();
    state.found
}

struct State<'a, B> {
    bodies: &'a B,
    free: &'a Normal,
    proposals: &'a [Proposal],
    choice: Choice,
    found: Found,
}

impl<B: Bodies> State<'_, B> {
    fn condition(&self, asked: &Asked) -> &Condition {
        &self.proposals[asked.index].condition
    }

    /// Whether the proposal says less and less of what it asks for the nearer that comes: the first of
    /// many steps, each half of the one before.
    ///
    /// Two sides between parallels are equally long only where they are parallel themselves; the
    /// difference of their lengths goes with the square of how far they are from it, and holding it would
    /// turn them unasked.
    fn fades(&self, i: usize) -> bool {
        let Choice { normal, left, .. } = &self.choice;
        let Some(asked) = left.get(i) else {
            return false;
        };
        let condition = self.condition(asked);
        let ([view], [constraint], RelationKind::EqualLength) =
            (&*asked.views, &*condition.constraints, condition.kind)
        else {
            return false;
        };
        let mut held = normal.clone();
        held.condition(&view.linear.gradient, -view.linear.value, f64::INFINITY);
        let mut there = self.bodies.clone();
        there.shift(&held.step());
        let Some(linear) = constraint.linear(&there) else {
            return true;
        };
        normal.predict(&linear.gradient).0 < FADED * view.variance()
    }

    fn take(&mut self, i: usize) {
        let (asked, gain) = self.choice.take(i);
        self.found.gain += gain;
        self.found.price += asked.terms.price;
        let condition = self.condition(&asked).clone();
        self.found.conditions.push(condition);
    }

    /// Says tangent where one radius would say it: a line between two arcs of one radius, tangent at all joints
    /// but one, is tangent there too, but only by a square root, which no solve comes to the end of.
    fn prefer_tangents(&mut self) {
        for i in 0..self.found.conditions.len() {
            if self.found.conditions[i].kind != RelationKind::EqualRadius {
                continue;
            }
            let implied = |a: &Asked| {
                let tangent = self.condition(a).kind == RelationKind::Tangent;
                tangent && a.views.iter().all(View::is_implied)
            };
            let Some(place) = self.choice.left.iter().position(implied) else {
                return;
            };
            let tangent = self.condition(&self.choice.left[place]).clone();
            let mut others = self.free.clone();
            let (before, after) = self.found.conditions.split_at(i);
            let rest = constraints(before).chain(constraints(after.get(1..).unwrap_or_default()));
            for l in rest.filter_map(|c| c.linear(self.bodies)) {
                others.condition(&l.gradient, -l.value, f64::INFINITY);
            }
            let alone = |c: &super::constraint::Constraint| {
                Some(View::under(c.linear(self.bodies)?, &others, PI))
            };
            let alone = tangent.constraints.iter().find_map(alone);
            if alone.is_some_and(|v| !v.is_implied()) {
                self.found.conditions[i] = tangent;
                self.choice.left.remove(place);
            }
        }
    }

    /// Takes a condition that is to hold anyway, with the proposal that asks for it where there is one.
    fn hold(&mut self, h: &Condition) {
        if self.found.conditions.contains(h) {
            return;
        }
        if let Some(i) = (self.choice.left.iter()).position(|a| self.condition(a) == h) {
            self.take(i);
            return;
        }
        for l in h.constraints.iter().filter_map(|c| c.linear(self.bodies)) {
            self.choice.condition(&l);
        }
        self.found.conditions.push(h.clone());
    }
}

//! What was found of the edges and gives way to what is asked.
//!
//! Said otherwise of the same things it is replaced; else it gives way only where not all can hold: what makes things
//! alike and steps of an angle to sizes, every angle to a hint about an angle, of those first the angles of the edge
//! that is turned.
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are numbered by the joint they stand in"
)]

use super::Wanted;
use super::stand::Stand;
use crate::relate::across::Form;
use crate::relate::constraint::{Condition, Constraint};
use crate::relate::measures;
use crate::relate::quantity::Side;
use crate::report::RelationKind;

impl Stand {
    /// What a hint says otherwise of the same things. Things that are alike stay so where the size asked of one is
    /// hardly another than it had; else one is asked and the others stay what they are.
    pub(super) fn is_replaced(&self, found: &Condition, wanted: &[Wanted<'_>]) -> bool {
        let angle = found.constraints.iter().all(Constraint::is_angle);
        let pattern = matches!(
            found.kind,
            RelationKind::HoleRow | RelationKind::HoleCircle | RelationKind::HoleRectangle
        );
        let asked = || wanted.iter().flat_map(|w| w.asked.conditions.iter());
        let other = |c: &Constraint| c.off(&self.joint).is_some_and(|o| o.abs() > HARDLY);
        let sized = |m: &(usize, Option<usize>)| {
            let of = |a: &&Condition| a.kind == RelationKind::Size && a.of == [*m];
            asked().filter(of).any(|a| a.constraints.iter().any(other))
        };
        let named = |m: &(usize, Option<usize>)| {
            asked().any(|a| a.kind == RelationKind::Size && a.of == [*m])
        };
        let alike = is_alike(found.kind)
            && (found.of.iter().any(sized) || found.of.iter().all(named))
            && !self.is_slot(found);
        let same = |a: &Condition| {
            a.of.len() == found.of.len() && a.of.iter().all(|m| found.of.contains(m))
        };
        let one_size = found.kind == RelationKind::Size
            && asked().any(|a| a.kind == RelationKind::Size && a.of == found.of);
        alike
            || (angle && asked().any(|a| a.constraints.iter().all(Constraint::is_angle) && same(a)))
            || (pattern
                && wanted
                    .iter()
                    .any(|w| w.asked.pattern && found.of.iter().any(|m| w.asked.names(&[m.0]))))
            || one_size
    }

    /// The two round ends of a slot: one width.
    fn is_slot(&self, found: &Condition) -> bool {
        let [(body, Some(a)), (other, Some(b))] = found.of[..] else {
            return false;
        };
        match &self.joint.bodies[body].shape {
            Form::Chain(f) if body == other => (0..f.len())
                .any(|e| measures::slot(f, e).is_some_and(|ends| ends == [a, b] || ends == [b, a])),
            _ => false,
        }
    }
}

/// One thing is as large as another.
pub(super) const fn is_alike(kind: RelationKind) -> bool {
    matches!(kind, RelationKind::EqualLength | RelationKind::EqualRadius)
}

/// What was found that does not give way: a smooth joint, and to sizes a right angle and what is parallel.
pub(super) fn is_firm(c: &Condition, turns: bool) -> bool {
    match c.kind {
        RelationKind::Tangent => true,
        RelationKind::Square | RelationKind::Parallel => !turns,
        _ => false,
    }
}

/// How readily what was found of an angle gives way: of other edges last, of the edge that is turned first.
pub(super) fn gives_way(c: &Condition, wanted: &[Wanted<'_>]) -> usize {
    let turning = wanted.iter().filter(|w| w.asked.turns);
    let of = |s: &Side| c.of.contains(&(s.body, Some(s.edge)));
    let rank = |w: &Wanted<'_>| {
        let named = w.asked.conditions.iter().flat_map(|a| &a.of);
        match w.asked.turned.first().is_some_and(of) {
            true => 2,
            false => usize::from(named.clone().any(|m| c.of.contains(m))),
        }
    };
    turning.map(rank).max().unwrap_or(0)
}

/// A size that changes by no more than this hardly changes, mm.
const HARDLY: f64 = 0.6;

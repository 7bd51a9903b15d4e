//! Everything that can be wrong with an outline, from one visitor.
//!
//! [`visit`] walks an outline once and hands over each problem as it finds it, with a typed reason,
//! the loop and edge to blame, the place, and (by `Display`) a sentence a fabricator can act on.
//! [`check`] collects them all, [`first_problem`] stops at the first.
//!
//! Crossings with arcs are computed from the circles themselves; an index hands over the pairs of edges whose
//! boxes touch. What runs along something else has no places to compute, and whether two lines cross must not
//! hang by a rounding: so all edges are cut into chords within [`CHORD`] mm besides, and whether two of those meet
//! is decided by the exact sign of the area they span (Shewchuk's adaptive predicates, 1997, by crate `robust`). What it
//! can't see: two arcs that run along one another nearer than their chords' error.
//!
//! Loops that only touch, themselves or one another, are reported too: a torch cuts through there.

mod crossings;

use super::nesting;
use super::{Outline, Path, Role};
use crate::geom::{Edge, Point};
use core::fmt;
use core::ops::ControlFlow;
use crossings::crossings;

/// Edges shorter than this, in mm, are no edges: no machine led by hand can show one.
pub const RESOLUTION: f64 = 0.1;
/// Closed loops that hold less than this, in mm², hold nothing.
pub const LEAST_AREA: f64 = RESOLUTION * RESOLUTION;
/// How far chords may lie from their arcs, mm.
pub const CHORD: f64 = 0.01;
/// So many places where edges cross are told; who has mended those looks again.
pub const MOST_CROSSINGS: usize = 1000;

/// What is wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Reason {
    /// A coordinate, radius or turn is NaN or infinite.
    NotFinite,
    /// There are no edges.
    NoEdges,
    /// An edge is shorter than the resolution.
    ShortEdge {
        /// Its length, mm.
        length: f64,
    },
    /// A closed loop holds no area to speak of.
    NoArea,
    /// Two edges of one loop cross or touch away from their common corner.
    CrossesItself {
        /// The other edge.
        other_edge: usize,
    },
    /// Two loops cross or touch.
    CrossesLoop {
        /// The other loop.
        other_loop: usize,
        /// Its edge.
        other_edge: usize,
    },
    /// A hole lies in no part.
    HoleOutside,
    /// A part lies in another part's material.
    PartInside,
    /// A part runs clockwise or a hole counter-clockwise.
    WrongWay,
    /// The role does not go with a closed or an open course.
    WrongRole,
}

/// One thing that is wrong, and where.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Problem {
    /// What.
    pub reason: Reason,
    /// Number of the loop, from 0.
    pub loop_index: usize,
    /// Number of the edge, from 0, where one edge is to blame.
    pub edge: Option<usize>,
    /// The place.
    pub at: Point,
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        // People count from 1.
        write!(f, "loop {}", self.loop_index + 1)?;
        if let Some(edge) = self.edge {
            write!(f, ", edge {}", edge + 1)?;
        }
        write!(f, " at ({:.1}, {:.1}): ", self.at.x, self.at.y)?;
        match self.reason {
            Reason::NotFinite => write!(f, "a number there is not finite"),
            Reason::NoEdges => write!(f, "it has no edges"),
            Reason::ShortEdge { length } => write!(
                f,
                "the edge is {length:.3} mm long, under the resolution of {RESOLUTION} mm"
            ),
            Reason::NoArea => write!(f, "it holds no area"),
            Reason::CrossesItself { other_edge } => {
                write!(
                    f,
                    "it crosses or touches edge {} of the same loop",
                    other_edge + 1
                )
            }
            Reason::CrossesLoop {
                other_loop,
                other_edge,
            } => write!(
                f,
                "it crosses or touches edge {} of loop {}",
                other_edge + 1,
                other_loop + 1
            ),
            Reason::HoleOutside => write!(f, "the hole lies in no part"),
            Reason::PartInside => write!(f, "the part lies inside another part"),
            Reason::WrongWay => write!(f, "it runs the wrong way round for its role"),
            Reason::WrongRole => write!(f, "its role does not go with its being open or closed"),
        }
    }
}

/// All problems of an outline; none means that it can be cut out.
#[must_use]
pub fn check(outline: &Outline) -> Vec<Problem> {
    let mut problems = Vec::new();
    let _ = visit(outline, &mut |problem| {
        problems.push(problem);
        ControlFlow::Continue(())
    });
    problems
}

/// The first problem of an outline, found without looking for the others.
#[must_use]
pub fn first_problem(outline: &Outline) -> Option<Problem> {
    let mut first = None;
    let _ = visit(outline, &mut |problem| {
        first = Some(problem);
        ControlFlow::Break(())
    });
    first
}

/// Hands over each problem until told to stop.
pub fn visit<F>(outline: &Outline, found: &mut F) -> ControlFlow<()>
where
    F: FnMut(Problem) -> ControlFlow<()>,
{
    let mut finite = true;
    for (i, l) in outline.loops.iter().enumerate() {
        finite &= alone(i, &l.path, l.role, found)?;
    }
    if !finite {
        // Nothing can be said of how loops lie that are nowhere.
        return ControlFlow::Continue(());
    }
    crossings(outline, found)?;
    lying(outline, found)
}

/// What can be seen on one loop without the others; whether its numbers are finite.
fn alone<F>(i: usize, path: &Path, role: Role, found: &mut F) -> ControlFlow<(), bool>
where
    F: FnMut(Problem) -> ControlFlow<()>,
{
    let problem = |reason, edge, at| Problem {
        reason,
        loop_index: i,
        edge,
        at,
    };
    let edges = path.edges();
    let Some(first) = edges.first() else {
        found(problem(Reason::NoEdges, None, Point::default()))?;
        return ControlFlow::Continue(true);
    };
    for (k, edge) in edges.iter().enumerate() {
        let length = edge.length();
        if !(edge.from().is_finite() && edge.to().is_finite() && length.is_finite()) {
            found(problem(Reason::NotFinite, Some(k), edge.from()))?;
            return ControlFlow::Continue(false);
        }
        if length < RESOLUTION {
            found(problem(Reason::ShortEdge { length }, Some(k), edge.from()))?;
        }
    }
    let at = first.from();
    if path.is_closed() == (role == Role::Open) {
        found(problem(Reason::WrongRole, None, at))?;
    } else if path.is_closed() {
        let area = path.area();
        if area.abs() < LEAST_AREA {
            found(problem(Reason::NoArea, None, at))?;
        } else if (area > 0.0) != (role == Role::Part) {
            found(problem(Reason::WrongWay, None, at))?;
        }
    }
    ControlFlow::Continue(true)
}

/// Whether holes lie in parts and parts do not.
fn lying<F>(outline: &Outline, found: &mut F) -> ControlFlow<()>
where
    F: FnMut(Problem) -> ControlFlow<()>,
{
    let depths = nesting::depths(&outline.loops);
    for (i, (l, depth)) in outline.loops.iter().zip(depths).enumerate() {
        let reason = match (l.role, depth.map(|d| d % 2)) {
            (Role::Hole, Some(0)) => Reason::HoleOutside,
            (Role::Part, Some(1)) => Reason::PartInside,
            _ => continue,
        };
        let at = l.path.edges().first().map(Edge::from);
        found(Problem {
            reason,
            loop_index: i,
            edge: None,
            at: at.unwrap_or_default(),
        })?;
    }
    ControlFlow::Continue(())
}

#[cfg(test)]
mod tests;

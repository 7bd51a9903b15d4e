//! Everything that can be wrong with an outline, from one visitor.
//!
//! [`visit`] walks an outline once and hands over each problem as it finds it, with a typed reason,
//! the loop and edge to blame, the place, and (by `Display`) a sentence a fabricator can act on.
//! [`check`] collects them all, [`first_problem`] stops at the first.
//!
//! Crossings with arcs are computed from the circles themselves; an index hands over the pairs of edges whose
//! boxes touch. What runs along something else has no places to compute, and whether two lines cross must not
//! hang by a rounding: so all edges are cut into chords within [`CHORD`] mm besides, and whether two of those meet
//! is decided by the exact sign of the area they span (Shewchuk's adaptive predicates, 1997, by crate `geo`). What it
//! can't see: two arcs that run along one another nearer than their chords' error.
//!
//! Loops that only touch, themselves or one another, are reported too: a torch cuts through there.

use super::nesting::{self, index_of};
use super::{Bounds, Outline, Path, Role};
use crate::geom::{Edge, Point, Side, near, side_of};
use core::fmt;
use core::ops::ControlFlow;
use static_aabb2d_index::StaticAABB2DIndex;
use std::collections::BTreeSet;

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

/// A chord of an edge.
#[derive(Clone, Copy)]
struct Chord {
    loop_index: usize,
    edge: usize,
    from: Point,
    to: Point,
    /// Its number among the loop's chords, and how many those are.
    order: usize,
    count: usize,
}

impl Chord {
    fn bounds(&self) -> Bounds {
        Bounds::of_point(self.from).union(&Bounds::of_point(self.to))
    }

    /// The other follows this one round the loop.
    fn is_before(&self, other: &Self) -> bool {
        self.loop_index == other.loop_index && (self.order + 1) % self.count == other.order
    }
}

fn chords(outline: &Outline) -> Vec<Chord> {
    let mut chords = Vec::new();
    let closed = outline.loops.iter().enumerate();
    for (loop_index, l) in closed.filter(|(_, l)| l.path.is_closed()) {
        let first = chords.len();
        for (edge, e) in l.path.edges().iter().enumerate() {
            let points = e.flatten(CHORD);
            let pairs = points.iter().zip(points.iter().skip(1));
            chords.extend(pairs.filter(|(p, q)| p != q).map(|(from, to)| Chord {
                loop_index,
                edge,
                from: *from,
                to: *to,
                order: 0,
                count: 0,
            }));
        }
        let count = chords.len() - first;
        for (order, chord) in chords.iter_mut().skip(first).enumerate() {
            (chord.order, chord.count) = (order, count);
        }
    }
    chords
}

/// Where closed loops cross or touch themselves or each other, each pair of edges once, up to
/// [`MOST_CROSSINGS`] of them.
fn crossings<F>(outline: &Outline, found: &mut F) -> ControlFlow<()>
where
    F: FnMut(Problem) -> ControlFlow<()>,
{
    let mut said: BTreeSet<(usize, usize, usize, usize)> = BTreeSet::new();
    let mut asked_to_stop = false;
    let mut tell = |a: (usize, usize), b: (usize, usize), at: Point| {
        if !said.insert((a.0, a.1, b.0, b.1)) {
            return ControlFlow::Continue(());
        }
        let (other_loop, other_edge) = b;
        let reason = if a.0 == other_loop {
            Reason::CrossesItself { other_edge }
        } else {
            Reason::CrossesLoop {
                other_loop,
                other_edge,
            }
        };
        let next = found(Problem {
            reason,
            loop_index: a.0,
            edge: Some(a.1),
            at,
        });
        asked_to_stop = next.is_break();
        if said.len() >= MOST_CROSSINGS {
            return ControlFlow::Break(());
        }
        next
    };
    if with_arcs(outline, &mut tell).is_continue() {
        for (a, b) in touching(&chords(outline), Chord::bounds) {
            if let Some(at) = meet(a, b)
                && tell((a.loop_index, a.edge), (b.loop_index, b.edge), at).is_break()
            {
                break;
            }
        }
    }
    if asked_to_stop {
        ControlFlow::Break(())
    } else {
        ControlFlow::Continue(())
    }
}

/// Pairs of which the boxes touch, each once, in their order.
fn touching<T>(all: &[T], bounds: impl Fn(&T) -> Bounds) -> impl Iterator<Item = (&T, &T)> {
    let index = index_of(all.iter().map(&bounds));
    all.iter().enumerate().flat_map(move |(i, a)| {
        let Bounds { min, max } = bounds(a);
        let query = |index: &StaticAABB2DIndex<f64>| index.query(min.x, min.y, max.x, max.y);
        let mut near = index.as_ref().map(query).unwrap_or_default();
        near.retain(|j| *j > i);
        near.sort_unstable();
        near.into_iter().filter_map(move |j| Some((a, all.get(j)?)))
    })
}

/// Where edges of closed loops, one of them an arc, cross or touch; of edges that share a corner, further from it
/// than an edge is long. Tells the loop and the edge of both.
fn with_arcs<F>(outline: &Outline, tell: &mut F) -> ControlFlow<()>
where
    F: FnMut((usize, usize), (usize, usize), Point) -> ControlFlow<()>,
{
    let closed = outline.loops.iter().enumerate();
    let edges: Vec<((usize, usize), Edge)> = closed
        .filter(|(_, l)| l.path.is_closed())
        .flat_map(|(i, l)| {
            (l.path.edges().into_iter().enumerate()).map(move |(e, edge)| ((i, e), edge))
        })
        .collect();
    for ((name, a), (other, b)) in touching(&edges, |e| Bounds::of_edge(&e.1)) {
        if let (Edge::Line(_), Edge::Line(_)) = (a, b) {
            continue;
        }
        let corners = [(a.to(), b.from()), (a.from(), b.to())];
        let is_common = |p: &Point| {
            let mut corners = corners.iter().filter(|c| name.0 == other.0 && c.0 == c.1);
            corners.any(|c| c.0.distance(*p) <= RESOLUTION)
        };
        if let Some(at) = near::crossings(a, b).into_iter().find(|p| !is_common(p)) {
            tell(*name, *other, at)?;
        }
    }
    ControlFlow::Continue(())
}

/// Where two chords meet, other than neighbours in their common end.
fn meet(a: &Chord, b: &Chord) -> Option<Point> {
    let sides = (side_of(a.from, a.to, b.from), side_of(a.from, a.to, b.to));
    let back = (side_of(b.from, b.to, a.from), side_of(b.from, b.to, a.to));
    // Neighbours share an end; they meet elsewhere only when they lie on one line and one goes
    // back over the other.
    let common = if a.is_before(b) {
        Some((a.from, a.to, b.to))
    } else if b.is_before(a) {
        Some((b.from, b.to, a.to))
    } else {
        None
    };
    if let Some((before, at, after)) = common {
        let folded = side_of(before, at, after) == Side::On && (before - at).dot(after - at) > 0.0;
        // Two chords alone close a loop on themselves and share both ends.
        return (folded && a.count > 2).then_some(at);
    }
    if sides.0 == Side::On && sides.1 == Side::On {
        return a.bounds().touches(&b.bounds(), 0.0).then_some(b.from);
    }
    if sides.0 == sides.1 || back.0 == back.1 {
        return None;
    }
    let (d, e) = (a.to - a.from, b.to - b.from);
    // As good as on one line: anywhere along it.
    let t = (b.from - a.from).cross(e) / d.cross(e);
    let t = if t.is_finite() {
        t.clamp(0.0, 1.0)
    } else {
        0.0
    };
    Some(a.from.lerp(a.to, t))
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
mod tests {
    use super::*;
    use crate::outline::{Chain, Circle, Loop, Shape};

    fn polygon(corners: &[(f64, f64)]) -> Loop {
        Loop {
            role: Role::Part,
            path: Path::Chain(Chain {
                corners: corners.iter().map(|(x, y)| Point::new(*x, *y)).collect(),
                shapes: vec![Shape::Line; corners.len()],
            }),
            deviation: None,
        }
    }

    fn circle(x: f64, y: f64, radius: f64, role: Role) -> Loop {
        Loop {
            role,
            path: Path::Circle(Circle {
                center: Point::new(x, y),
                radius,
                counter_clockwise: role == Role::Part,
            }),
            deviation: None,
        }
    }

    fn reasons(loops: Vec<Loop>) -> Vec<Reason> {
        let outline = Outline {
            loops,
            marks: Vec::new(),
        };
        let problems = check(&outline);
        assert_eq!(problems.first().copied(), first_problem(&outline));
        problems.iter().map(|p| p.reason).collect()
    }

    const SQUARE: [(f64, f64); 4] = [(0.0, 0.0), (50.0, 0.0), (50.0, 50.0), (0.0, 50.0)];

    #[test]
    fn a_plate_with_holes_is_sound() {
        let loops = vec![
            polygon(&SQUARE),
            circle(15.0, 15.0, 5.0, Role::Hole),
            circle(35.0, 35.0, 8.0, Role::Hole),
        ];
        assert_eq!(reasons(loops), []);
    }

    #[test]
    fn a_figure_of_eight_is_named_with_its_place() {
        let eight = polygon(&[(0.0, 0.0), (40.0, 30.0), (40.0, 0.0), (0.0, 20.0)]);
        let problems = check(&Outline {
            loops: vec![eight],
            marks: Vec::new(),
        });
        let crossing = problems
            .iter()
            .find(|p| p.reason == Reason::CrossesItself { other_edge: 2 });
        let at = crossing.map(|p| p.at);
        // Where y = 3x/4 meets y = 20 - x/2.
        assert!(
            at.is_some_and(|p| p.distance(Point::new(16.0, 12.0)) < 1e-9),
            "{problems:?}"
        );
    }

    #[test]
    fn what_goes_back_over_itself_is_named() {
        let spike = polygon(&[
            (0.0, 0.0),
            (50.0, 0.0),
            (50.0, 50.0),
            (50.0, 20.0),
            (0.0, 50.0),
        ]);
        let found = reasons(vec![spike]);
        assert!(
            found.contains(&Reason::CrossesItself { other_edge: 2 }),
            "{found:?}"
        );
    }

    #[test]
    fn loops_that_cross_lie_wrong_or_run_wrong() {
        let crossing = reasons(vec![polygon(&SQUARE), circle(50.0, 25.0, 10.0, Role::Hole)]);
        assert!(crossing.contains(&Reason::CrossesLoop {
            other_loop: 1,
            other_edge: 0
        }));
        let outside = reasons(vec![polygon(&SQUARE), circle(80.0, 25.0, 10.0, Role::Hole)]);
        assert_eq!(outside, [Reason::HoleOutside]);
        let inside = reasons(vec![polygon(&SQUARE), circle(25.0, 25.0, 10.0, Role::Part)]);
        assert_eq!(inside, [Reason::PartInside]);
        let mut wrong_way = circle(0.0, 0.0, 5.0, Role::Part);
        wrong_way.path = wrong_way.path.reversed();
        assert_eq!(reasons(vec![wrong_way]), [Reason::WrongWay]);
    }

    #[test]
    fn short_edges_no_area_and_no_numbers() {
        let short = polygon(&[(0.0, 0.0), (50.0, 0.0), (50.0, 0.05), (50.0, 50.0)]);
        assert!(matches!(
            reasons(vec![short]).first(),
            Some(Reason::ShortEdge { .. })
        ));
        let flat = polygon(&[(0.0, 0.0), (50.0, 0.0), (25.0, 0.0)]);
        assert!(reasons(vec![flat]).contains(&Reason::NoArea));
        let nan = polygon(&[(0.0, 0.0), (f64::NAN, 0.0), (25.0, 5.0)]);
        assert_eq!(reasons(vec![nan]), [Reason::NotFinite]);
    }

    /// A circle that comes through the side of a square by five micrometres: half of what chords show.
    #[test]
    fn a_hole_that_comes_through_a_side_by_micrometres_is_named() {
        let through = circle(10.0 - 5e-3, 25.0, 10.0, Role::Hole);
        let found = reasons(vec![polygon(&SQUARE), through]);
        let crossed = |r: &Reason| matches!(r, Reason::CrossesLoop { other_loop: 1, .. });
        assert!(found.iter().any(crossed), "{found:?}");
        let inside = circle(10.0 + 5e-3, 25.0, 10.0, Role::Hole);
        assert_eq!(reasons(vec![polygon(&SQUARE), inside]), []);
    }

    /// An arc and a line that goes back along it, into the circle by a few micrometres and out again.
    #[test]
    fn an_edge_that_goes_back_through_the_one_before_is_named() {
        let mut cusp = polygon(&[
            (0.0, -20.0),
            (20.0, 0.0),
            (19.925, -3.0),
            (40.0, -3.0),
            (40.0, 40.0),
        ]);
        let quarter = Shape::Arc {
            sweep: core::f64::consts::FRAC_PI_2,
        };
        if let Path::Chain(chain) = &mut cusp.path {
            chain.shapes = vec![quarter, Shape::Line, Shape::Line, Shape::Line, Shape::Line];
        }
        let found = reasons(vec![cusp]);
        assert!(
            found.contains(&Reason::CrossesItself { other_edge: 1 }),
            "{found:?}"
        );
    }

    #[test]
    fn a_slot_of_two_lines_and_two_half_circles_is_sound() {
        let half = Shape::Arc {
            sweep: core::f64::consts::PI,
        };
        let mut slot = polygon(&[(0.0, 0.0), (40.0, 0.0), (40.0, 12.0), (0.0, 12.0)]);
        if let Path::Chain(chain) = &mut slot.path {
            chain.shapes = vec![Shape::Line, half, Shape::Line, half];
        }
        assert_eq!(reasons(vec![slot]), []);
        // A lens of two arcs shares both corners and nothing else.
        let mut lens = polygon(&[(0.0, 0.0), (40.0, 0.0)]);
        if let Path::Chain(chain) = &mut lens.path {
            chain.shapes = vec![Shape::Arc { sweep: 1.0 }; 2];
        }
        assert_eq!(reasons(vec![lens]), []);
    }
}

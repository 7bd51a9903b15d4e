//! Which loops bound pieces and which bound openings, told by how they lie in one another.
//!
//! A closed loop that lies in an even number of others bounds a part and runs counter-clockwise;
//! one that lies in an odd number bounds a hole and runs clockwise. Open paths stay as they are.
//!
//! A loop that crosses another lies in neither: its edges are asked at four places each, and between
//! any two places where they meet the other's. Arcs are looked at as chords within [`CHORD`]; the side of
//! a chord is told by an exact predicate. Boxes that hold the point are found through an index, so a sheet of
//! a thousand loops side by side costs little more than its reading.

use super::{Bounds, Circle, Loop, Path, Role};
use crate::geom::Sorted as _;
use crate::geom::near::crossings;
use crate::geom::{Edge, Line, Point, Side, side_of};
use static_aabb2d_index::{StaticAABB2DIndex, StaticAABB2DIndexBuilder};

/// How far, in mm, a chord may lie from its arc while loops are sorted into one another.
pub const CHORD: f64 = 0.005;

/// Where a point lies with respect to a closed loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Strictly inside.
    Inside,
    /// On the course itself, as far as chords can tell.
    On,
    /// Strictly outside.
    Outside,
}

/// A closed course in chords, ready to be asked about many points.
pub struct Region {
    chords: Vec<(Point, Point)>,
    chord_index: Option<StaticAABB2DIndex<f64>>,
    /// The edges themselves, and where they lie.
    edges: Vec<Edge>,
    index: Option<StaticAABB2DIndex<f64>>,
    bounds: Option<Bounds>,
    circle: Option<Circle>,
}

impl Region {
    /// The region that a course bounds, its arcs as chords within `tolerance` mm. An open course
    /// is closed by a straight edge.
    #[must_use]
    pub fn of(path: &Path, tolerance: f64) -> Self {
        let points = path.flatten(tolerance);
        let next = points.iter().cycle().skip(1);
        let chords: Vec<(Point, Point)> = points.iter().copied().zip(next.copied()).collect();
        let edges = path.edges();
        let of_chord = |(p, q): &(Point, Point)| Bounds::of_point(*p).union(&Bounds::of_point(*q));
        Self {
            chord_index: index_of(chords.iter().map(of_chord)),
            chords,
            index: index_of(edges.iter().map(Bounds::of_edge)),
            edges,
            bounds: Bounds::of_path(path),
            circle: match path {
                Path::Circle(circle) => Some(*circle),
                Path::Chain(_) => None,
            },
        }
    }

    /// Where a point lies: how often the course winds about it, by the chords that a ray to the right meets.
    #[must_use]
    pub fn place(&self, p: Point) -> Place {
        let (Some(index), Some(bounds)) = (&self.chord_index, self.bounds) else {
            return Place::Outside;
        };
        let right = (bounds.max.x + CHORD).max(p.x);
        let mut winding = 0;
        for (a, b) in (index.query(p.x, p.y, right, p.y).iter()).filter_map(|k| self.chords.get(*k))
        {
            let side = side_of(*a, *b, p);
            let ends = Bounds::of_point(*a).union(&Bounds::of_point(*b));
            if side == Side::On && ends.touches(&Bounds::of_point(p), 0.0) {
                return Place::On;
            }
            match (a.y > p.y, b.y > p.y) {
                (false, true) if side == Side::Left => winding += 1,
                (true, false) if side == Side::Right => winding -= 1,
                _ => {}
            }
        }
        if winding == 0 {
            Place::Outside
        } else {
            Place::Inside
        }
    }

    /// The course lies inside: some of its points do, and none outside.
    #[must_use]
    pub fn holds(&self, inner: &Path) -> bool {
        if let (Some(outer), Path::Circle(inner)) = (self.circle, inner) {
            return outer.center.distance(inner.center) + inner.radius <= outer.radius;
        }
        // What comes near no chord is inside with any of its points.
        if let (Some(index), Some(b)) = (&self.chord_index, Bounds::of_path(inner)) {
            let near = index.query(
                b.min.x - CHORD,
                b.min.y - CHORD,
                b.max.x + CHORD,
                b.max.y + CHORD,
            );
            if near.is_empty() {
                let first = points_of(inner).next();
                return first.is_some_and(|p| self.place(p) == Place::Inside);
            }
        }
        let mut inside = false;
        for p in points_of(inner) {
            match self.place(p) {
                Place::Inside => inside = true,
                Place::On => {}
                Place::Outside => return false,
            }
        }
        inside && !inner.edges().iter().any(|e| self.is_left_by(e))
    }

    /// The edge is outside, by more than a chord may be off, somewhere between the places where it meets
    /// the course.
    fn is_left_by(&self, edge: &Edge) -> bool {
        let Some(index) = &self.index else {
            return false;
        };
        let b = Bounds::of_edge(edge);
        let near = index.query(b.min.x, b.min.y, b.max.x, b.max.y);
        let mut cuts: Vec<f64> = (near.iter().filter_map(|i| self.edges.get(*i)))
            .flat_map(|other| crossings(edge, other))
            .map(|at| edge.nearest(at).1)
            .collect();
        if cuts.is_empty() {
            return false;
        }
        cuts.extend([0.0, 1.0]);
        cuts.order_by(f64::total_cmp);
        cuts.windows(2)
            .filter_map(|w| Some(0.5 * (w.first()? + w.last()?)))
            .map(|t| edge.point_at(t))
            .any(|p| self.place(p) == Place::Outside && !self.is_beside(index, p))
    }

    /// The place lies on the course as far as chords can tell.
    fn is_beside(&self, index: &StaticAABB2DIndex<f64>, p: Point) -> bool {
        let near = index.query(p.x - CHORD, p.y - CHORD, p.x + CHORD, p.y + CHORD);
        let mut near = near.iter().filter_map(|i| self.edges.get(*i));
        near.any(|e| e.distance(p) <= CHORD)
    }
}

/// Middles of the edges first, since corners are where loops touch; then points beside them.
fn points_of(path: &Path) -> impl Iterator<Item = Point> {
    let edges = path.edges();
    let at = move |t: f64| edges.iter().map(|e| e.point_at(t)).collect::<Vec<Point>>();
    [0.5, 0.25, 0.75, 0.0].into_iter().flat_map(at)
}

/// Gives every closed loop the role and the direction its nesting asks for. Loops keep their
/// order and first corner.
#[must_use]
pub fn assign_roles(loops: Vec<Loop>) -> Vec<Loop> {
    let depths = depths(&loops);
    let turned = loops.into_iter().zip(depths).map(|(l, depth)| {
        let Some(depth) = depth else {
            return Loop {
                role: Role::Open,
                ..l
            };
        };
        let role = if depth % 2 == 0 {
            Role::Part
        } else {
            Role::Hole
        };
        let ccw = l.path.area() > 0.0;
        let path = if ccw == (role == Role::Part) {
            l.path
        } else {
            l.path.reversed()
        };
        Loop { role, path, ..l }
    });
    turned.collect()
}

/// In how many others each closed loop lies; `None` for open ones.
#[must_use]
pub fn depths(loops: &[Loop]) -> Vec<Option<usize>> {
    parents(loops)
        .into_iter()
        .map(|p| p.map(|around| around.len()))
        .collect()
}

/// The closed loops around each closed loop, by number; `None` for open ones.
#[must_use]
pub fn parents(loops: &[Loop]) -> Vec<Option<Vec<usize>>> {
    let closed: Vec<(usize, Bounds)> = loops
        .iter()
        .enumerate()
        .filter(|(_, l)| l.path.is_closed())
        .filter_map(|(i, l)| Bounds::of_path(&l.path).map(|b| (i, b)))
        .collect();
    let mut around: Vec<Option<Vec<usize>>> = loops
        .iter()
        .map(|l| l.path.is_closed().then(Vec::new))
        .collect();
    let Some(index) = index_of(closed.iter().map(|(_, b)| *b)) else {
        return around;
    };
    let mut regions: Vec<Option<Region>> = closed.iter().map(|_| None).collect();
    for (i, bounds) in &closed {
        let Some(inner) = loops.get(*i) else { continue };
        let mut found: Vec<usize> = Vec::new();
        let near = index.query(bounds.min.x, bounds.min.y, bounds.max.x, bounds.max.y);
        for k in near {
            let Some((j, outer_bounds)) = closed.get(k) else {
                continue;
            };
            if i == j || !encloses(outer_bounds, bounds) {
                continue;
            }
            let (Some(outer), Some(region)) = (loops.get(*j), regions.get_mut(k)) else {
                continue;
            };
            // Of two that lie on one another neither is a hole.
            if encloses(bounds, outer_bounds) && are_one(&outer.path, &inner.path) {
                continue;
            }
            let region = region.get_or_insert_with(|| Region::of(&outer.path, CHORD));
            if region.holds(&inner.path) {
                found.push(*j);
            }
        }
        found.sort_unstable();
        if let Some(slot) = around.get_mut(*i) {
            *slot = Some(found);
        }
    }
    around
}

/// Two courses with one box bound the same, as far as chords can tell.
fn are_one(a: &Path, b: &Path) -> bool {
    (a.area().abs() - b.area().abs()).abs() <= CHORD * a.length()
}

/// A box around another, with room for the chords' error.
pub(super) fn encloses(outer: &Bounds, inner: &Bounds) -> bool {
    outer.min.x <= inner.min.x + CHORD
        && outer.min.y <= inner.min.y + CHORD
        && outer.max.x >= inner.max.x - CHORD
        && outer.max.y >= inner.max.y - CHORD
}

/// An index over boxes, numbered in their order; `None` where there are none.
pub(crate) fn index_of<I>(boxes: I) -> Option<StaticAABB2DIndex<f64>>
where
    I: ExactSizeIterator<Item = Bounds>,
{
    let mut builder = StaticAABB2DIndexBuilder::new(boxes.len());
    for b in boxes {
        builder.add(b.min.x, b.min.y, b.max.x, b.max.y);
    }
    builder.build().ok()
}

/// A closed course whose area is a smaller share of its length squared bounds nothing but rounding.
const FLAT: f64 = 1e-12;

/// The course of a chain of edges from a drawing, each starting where the one before ends; closed
/// when the last ends exactly where the first starts and there is something inside. `None` for no edges at all.
#[must_use]
pub fn path_of_drawn(edges: &[Edge]) -> Option<Path> {
    use super::{Chain, Shape};
    let (first, last) = (edges.first()?, edges.last()?);
    if let [Edge::Arc(arc)] = edges
        && arc.is_full()
    {
        return Some(Path::Circle(Circle {
            center: arc.center,
            radius: arc.radius,
            counter_clockwise: arc.sweep > 0.0,
        }));
    }
    let meets = first.from() == last.to();
    let mut corners: Vec<Point> = edges.iter().map(Edge::from).collect();
    let shape = |e: &Edge| match e {
        Edge::Line(Line { .. }) => Shape::Line,
        Edge::Arc(arc) => Shape::Arc { sweep: arc.sweep },
    };
    let shapes: Vec<Shape> = edges.iter().map(shape).collect();
    if meets {
        let round = Path::Chain(Chain {
            corners: corners.clone(),
            shapes: shapes.clone(),
        });
        if !is_flat(&round) {
            return Some(round);
        }
    }
    corners.push(last.to());
    Some(Path::Chain(Chain { corners, shapes }))
}

/// A closed course that goes out and back over the same line bounds nothing.
#[must_use]
pub fn is_flat(course: &Path) -> bool {
    let length = course.length();
    course.area().abs() <= FLAT * length * length
}

/// The loops of drawn chains with their roles.
#[must_use]
pub fn loops_of_drawn(chains: &[Vec<Edge>]) -> Vec<Loop> {
    assign_roles(drawn_loops(chains))
}

/// The loops of drawn chains, each the way round it was drawn.
pub(crate) fn drawn_loops(chains: &[Vec<Edge>]) -> Vec<Loop> {
    let loops = chains
        .iter()
        .filter_map(|c| path_of_drawn(c))
        .map(|path| Loop {
            role: if path.is_closed() {
                Role::Part
            } else {
                Role::Open
            },
            path,
            deviation: None,
        });
    loops.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outline::{Chain, Shape};

    fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Path {
        let corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)];
        Path::Chain(Chain {
            corners: corners.map(|(x, y)| Point::new(x, y)).to_vec(),
            shapes: vec![Shape::Line; 4],
        })
    }

    fn circle(x: f64, y: f64, radius: f64) -> Path {
        Path::Circle(Circle {
            center: Point::new(x, y),
            radius,
            counter_clockwise: true,
        })
    }

    /// A find of the soak: `M0 0L10 0Z` was a part of no area.
    #[test]
    fn out_and_back_is_no_part() {
        let line = |from, to| Edge::Line(Line { from, to });
        let (a, b) = (Point::new(1.0, 2.0), Point::new(11.3, 5.7));
        let made = loops_of_drawn(&[vec![line(a, b), line(b, a)]]);
        assert_eq!(made.len(), 1);
        assert!(
            made.iter()
                .all(|l| l.role == Role::Open && !l.path.is_closed())
        );
        assert!(made.iter().all(|l| l.path.edges().len() == 2));
    }

    fn loops(paths: Vec<Path>) -> Vec<Loop> {
        let part = |path| Loop {
            role: Role::Part,
            path,
            deviation: None,
        };
        assign_roles(paths.into_iter().map(part).collect())
    }

    #[test]
    fn an_island_in_a_hole_is_a_part() {
        let nested = loops(vec![
            circle(50.0, 50.0, 5.0),
            rectangle(0.0, 0.0, 100.0, 100.0),
            circle(50.0, 50.0, 30.0),
            rectangle(200.0, 0.0, 50.0, 50.0).reversed(),
        ]);
        let roles: Vec<Role> = nested.iter().map(|l| l.role).collect();
        assert_eq!(roles, [Role::Part, Role::Part, Role::Hole, Role::Part]);
        for l in &nested {
            assert_eq!(l.path.area() > 0.0, l.role == Role::Part);
        }
    }

    /// A find of the soak: asked at four places, the ring seemed to lie in what runs through it.
    #[test]
    fn a_ring_that_a_narrow_slot_runs_through_is_no_hole() {
        let corners = [
            (-60.0, -60.0),
            (60.0, -60.0),
            (60.0, 60.0),
            (15.5, 60.0),
            (12.0, 0.0),
            (8.5, 60.0),
            (-60.0, 60.0),
        ];
        let slotted = Path::Chain(Chain {
            corners: corners.map(|(x, y)| Point::new(x, y)).to_vec(),
            shapes: vec![Shape::Line; 7],
        });
        let nested = loops(vec![slotted, circle(0.0, 0.0, 40.0)]);
        assert!(nested.iter().all(|l| l.role == Role::Part));
    }

    /// A find of the soak: each lay in the other, and both were holes in nothing.
    #[test]
    fn of_two_that_lie_on_one_another_neither_is_a_hole() {
        let twice = loops(vec![circle(0.0, 0.0, 40.0), circle(1e-9, 0.0, 40.0)]);
        assert!(twice.iter().all(|l| l.role == Role::Part));
    }

    #[test]
    fn a_hole_that_touches_its_outline_in_a_corner_lies_in_it() {
        let nested = loops(vec![
            rectangle(0.0, 0.0, 100.0, 100.0),
            rectangle(0.0, 0.0, 40.0, 40.0),
        ]);
        assert_eq!(nested.get(1).map(|l| l.role), Some(Role::Hole));
    }

    #[test]
    fn a_thousand_holes_are_sorted_quickly() {
        let mut paths = vec![rectangle(0.0, 0.0, 1000.0, 1000.0)];
        for i in 0..1000 {
            let (col, row) = (f64::from(i % 32), f64::from(i / 32));
            paths.push(circle(15.0 + col * 30.0, 15.0 + row * 30.0, 10.0));
        }
        let nested = loops(paths);
        let holes = nested.iter().filter(|l| l.role == Role::Hole).count();
        assert_eq!(holes, 1000);
    }
}

//! The torch's path beside an outline: an offset by half the kerf that keeps lines lines and arcs
//! arcs.
//!
//! The jet takes away a strip as wide as the kerf. For the piece to come out to size the middle of
//! the torch must run half a kerf beside the outline, in the waste: outside a part, inside a hole.
//!
//! The work is done by the crate `cavalier_contours` (raw offset of every edge, slicing at the
//! crossings, keeping what is far enough from the source, stitching). It is exact to rounding for
//! lines and arcs but leaves some things to its caller, which this file minds:
//!
//! 1. a whole circle never goes through it: its radius grows or shrinks, nothing else;
//! 2. arcs over a half turn are cut in two before (a bulge may not pass 1) and joined after;
//! 3. corners closer than [`LEAST_EDGE`] are one corner;
//! 4. a loop that crosses itself is refused by name ([`Crossing`]): an offset of it means nothing;
//! 5. loops without area, left over where a hole just vanishes, are dropped.
//!
//! Outside a sharp corner the path is rounded about the corner (the torch keeps half a kerf from
//! it, and the corner of the piece stays sharp). Inside a sharp concave corner a fillet of half a
//! kerf must stay: no round jet can do better.
//!
//! Fails: where two edges meet at less than about a thousandth of a degree off a tangent, a tiny
//! joint arc appears in the path; [`LEAST_EDGE`] swallows it.

use crate::geom::Sorted as _;
use crate::geom::{Point, Vec2};
use crate::outline::{Chain, Circle, Path, Shape};
use cavalier_contours::core::math::Vector2;
use cavalier_contours::polyline::{
    PlineCreation, PlineIntersect, PlineOffsetOptions, PlineSource, PlineSourceMut, PlineVertex,
    Polyline, TouchingLoopBehavior,
};
use core::f64::consts::{PI, TAU};

/// Corners of an outline closer than this are taken as one, mm. A hundredth of what a torch can
/// follow, and ten times what the offset takes for one point.
pub const LEAST_EDGE: f64 = 1e-3;
/// A loop of the path with less area than this is nothing, mm².
const LEAST_AREA: f64 = 1e-6;
/// Centres or radii of two arcs closer than this belong to one circle, mm.
const SAME_ARC: f64 = 1e-6;

/// Which side of a closed loop.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Away from what the loop encloses.
    Outside,
    /// Into what the loop encloses.
    Inside,
}

/// What becomes of a closed loop when it is moved sideways.
#[derive(Clone, Debug, PartialEq)]
pub enum Offset {
    /// One loop, as before.
    One(Path),
    /// Several loops: a narrow place pinched it (inside), or a narrow mouth closed and left an
    /// opening behind it (outside; the enclosing loop comes first).
    Several(Vec<Path>),
    /// Nothing is left: the loop is nowhere wider than twice the distance.
    Vanished,
}

/// A loop that cannot be moved sideways, and where.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Crossing {
    /// It crosses or touches itself here.
    At(Point),
    /// It has no area, or coordinates that are not numbers; one of its places.
    Flat(Point),
}

impl Offset {
    /// All loops, none where it vanished.
    #[must_use]
    pub fn into_loops(self) -> Vec<Path> {
        match self {
            Self::One(path) => vec![path],
            Self::Several(paths) => paths,
            Self::Vanished => Vec::new(),
        }
    }
}

/// The loop moved sideways by `distance` mm (not negative). The direction of travel is kept, except
/// that an opening left behind a closed mouth runs against the rest.
///
/// # Errors
/// [`Crossing`] where the loop crosses itself or is no loop.
pub fn offset(path: &Path, side: Side, distance: f64) -> Result<Offset, Crossing> {
    match path {
        Path::Circle(circle) => offset_circle(circle, side, distance),
        Path::Chain(chain) => offset_chain(chain, side, distance),
    }
}

fn offset_circle(circle: &Circle, side: Side, distance: f64) -> Result<Offset, Crossing> {
    let sign = if side == Side::Outside { 1.0 } else { -1.0 };
    let radius = circle.radius + sign * distance;
    if !(circle.center.is_finite() && radius.is_finite() && circle.radius > 0.0) {
        return Err(Crossing::Flat(circle.center));
    }
    Ok(if radius > LEAST_EDGE {
        Offset::One(Path::Circle(Circle { radius, ..*circle }))
    } else {
        Offset::Vanished
    })
}

fn offset_chain(chain: &Chain, side: Side, distance: f64) -> Result<Offset, Crossing> {
    let first = chain.corners.first().copied().unwrap_or_default();
    let good = chain.is_closed()
        && chain
            .corners
            .iter()
            .all(|p| p.is_finite() && (*p - first).length() <= 1e6)
        && distance.is_finite()
        && distance >= 0.0;
    if !good {
        return Err(Crossing::Flat(first));
    }
    let line = to_polyline(chain, first);
    if line.vertex_count() < 2 || line.area().abs() < LEAST_AREA {
        return Err(Crossing::Flat(first));
    }
    if let Some(at) = self_crossing(&line) {
        return Err(Crossing::At(at + first.to_vec()));
    }
    if distance == 0.0 {
        return Ok(Offset::One(Path::Chain(chain.clone())));
    }
    let counter_clockwise = line.area() > 0.0;
    // The library's positive side is the left of travel: the inside when counter-clockwise.
    let left = (side == Side::Inside) == counter_clockwise;
    let mut options = PlineOffsetOptions::new();
    options.touching_loop_behavior = TouchingLoopBehavior::Separate;
    let distance = if left { distance } else { -distance };
    let mut loops: Vec<(f64, Path)> = line
        .parallel_offset_opt(distance, &options)
        .iter()
        .filter(|l| l.area().is_finite() && l.area().abs() > LEAST_AREA)
        .filter_map(|l| Some((l.area().abs(), from_polyline(l, first)?)))
        .collect();
    // The enclosing loop first.
    loops.order_by(|a, b| b.0.total_cmp(&a.0));
    let mut loops: Vec<Path> = loops.into_iter().map(|(_, p)| p).collect();
    Ok(match loops.len() {
        0 => Offset::Vanished,
        1 => loops.pop().map_or(Offset::Vanished, Offset::One),
        _ => Offset::Several(loops),
    })
}

/// Corners and bulges about `origin`, arcs over a half turn cut in two, near corners made one.
fn to_polyline(chain: &Chain, origin: Point) -> Polyline<f64> {
    let mut line = Polyline::with_capacity(chain.corners.len() + 4, true);
    let mut push = |at: Vec2, bulge: f64| {
        line.add_vertex(PlineVertex::new(at.x, at.y, bulge));
    };
    for (i, shape) in chain.shapes.iter().enumerate() {
        let Some(edge) = chain.edge(i) else { continue };
        let (from, to) = (edge.from() - origin, edge.to() - origin);
        let arc_is_whole_length = edge.length() > LEAST_EDGE;
        if (to - from).length() <= LEAST_EDGE
            && !matches!(shape, Shape::Arc { .. } if arc_is_whole_length)
        {
            continue;
        }
        match *shape {
            Shape::Line => push(from, 0.0),
            Shape::Arc { sweep } if sweep.abs() <= PI => push(from, libm::tan(0.25 * sweep)),
            Shape::Arc { sweep } => {
                push(from, libm::tan(0.125 * sweep));
                push(edge.point_at(0.5) - origin, libm::tan(0.125 * sweep));
            }
        }
    }
    line.remove_repeat_pos(0.1 * LEAST_EDGE).unwrap_or(line)
}

fn self_crossing(line: &Polyline<f64>) -> Option<Point> {
    let mut found = None;
    line.visit_self_intersects(&mut |hit: PlineIntersect<f64>| {
        let at: Vector2<f64> = match hit {
            PlineIntersect::Basic(b) => b.point,
            PlineIntersect::Overlapping(o) => o.point1,
        };
        found = Some(Point::new(at.x, at.y));
        cavalier_contours::core::Control::Break(())
    });
    found
}

/// Back to corners and shapes: arcs of one circle that meet are one arc, and a whole circle is a
/// circle.
fn from_polyline(line: &Polyline<f64>, origin: Point) -> Option<Path> {
    let mut corners: Vec<Point> = Vec::new();
    let mut shapes: Vec<Shape> = Vec::new();
    for (a, b) in line.iter_segments() {
        let from = Point::new(a.x, a.y);
        if !from.is_finite() || !a.bulge.is_finite() {
            return None;
        }
        let sweep = 4.0 * libm::atan(a.bulge);
        if from.distance(Point::new(b.x, b.y)) <= 1e-2 * LEAST_EDGE {
            continue;
        }
        corners.push(from + origin.to_vec());
        shapes.push(if sweep == 0.0 {
            Shape::Line
        } else {
            Shape::Arc { sweep }
        });
    }
    (corners.len() >= 2).then(|| joined(Chain { corners, shapes }))
}

/// Neighbouring arcs of one circle made one; all of them one circle made a [`Circle`].
#[must_use]
pub fn joined(chain: Chain) -> Path {
    let n = chain.shapes.len();
    let circle = |i: usize| match chain.edge(i) {
        Some(crate::geom::Edge::Arc(a)) => Some(a),
        _ => None,
    };
    let continues = |i: usize| match (circle((i + n - 1) % n), circle(i)) {
        (Some(a), Some(b)) => {
            a.center.distance(b.center) < SAME_ARC
                && (a.radius - b.radius).abs() < SAME_ARC
                && a.sweep.signum() == b.sweep.signum()
        }
        _ => false,
    };
    let Some(start) = (0..n).find(|&i| !continues(i)) else {
        return whole_circle(&chain);
    };
    let mut corners: Vec<Point> = Vec::with_capacity(n);
    let mut shapes: Vec<Shape> = Vec::with_capacity(n);
    for step in 0..n {
        let i = (start + step) % n;
        let (Some(&corner), Some(&shape)) = (chain.corners.get(i), chain.shapes.get(i)) else {
            continue;
        };
        match (shapes.last_mut(), shape) {
            (Some(Shape::Arc { sweep }), Shape::Arc { sweep: more })
                if continues(i) && (*sweep + more).abs() < TAU - 1e-9 =>
            {
                *sweep += more;
            }
            _ => {
                corners.push(corner);
                shapes.push(shape);
            }
        }
    }
    Path::Chain(Chain { corners, shapes })
}

fn whole_circle(chain: &Chain) -> Path {
    match chain.edge(0) {
        Some(crate::geom::Edge::Arc(a)) => Path::Circle(Circle {
            center: a.center,
            radius: a.radius,
            counter_clockwise: a.sweep > 0.0,
        }),
        _ => Path::Chain(chain.clone()),
    }
}

//! Pieces and plate as the layout sees them: polygons that enclose the grown piece, and the room
//! the plate leaves.

use super::cells::{Cell, cells};
use super::{Spacing, Turns, turn_sin_cos};
use crate::Refusal;
use crate::cut::kerf::{Crossing, Side, offset};
use crate::cut::stock::Stock;
use crate::geom::Sorted as _;
use crate::geom::near::inside;
use crate::geom::{Arc, Edge, Point, Vec2};
use crate::outline::Bounds;
use crate::outline::nesting::depths;
use crate::outline::{Chain, Outline, Path, Role};
use core::f64::consts::{FRAC_PI_2, TAU};

/// How far an enclosing polygon may stand off the true curve, mm.
const STAND_OFF: f64 = 0.1;
/// More cells than this in one piece and the curve is taken more coarsely.
const MOST_CELLS: usize = 16;

/// One piece in one turn.
#[derive(Clone, Debug)]
pub(super) struct Shape {
    pub(super) piece: usize,
    pub(super) turn: f64,
    /// Lower left corner of the turned, grown piece in its own frame.
    pub(super) base: Vec2,
    /// Convex cells, the lower left corner of their extent at the origin.
    pub(super) cells: Vec<Cell>,
    pub(super) width: f64,
    pub(super) height: f64,
}

/// What the plate leaves to the grown pieces.
#[derive(Clone, Debug)]
pub(super) struct Room {
    /// Grown pieces stay inside this rectangle,
    pub(super) extent: Bounds,
    /// and off these cells.
    pub(super) blocked: Vec<Cell>,
    /// Directions of the long straight sides of the border, radians.
    sides: Vec<f64>,
}

/// The room on the stock for pieces grown by half the spacing.
pub(super) fn room(stock: &Stock, spacing: Spacing) -> Result<Room, Refusal> {
    let margin = spacing.edge - 0.5 * spacing.between;
    let sides = long_sides(&stock.border.edges());
    if let Some(e) = stock.as_rectangle() {
        let step = Vec2::new(margin, margin);
        let extent = Bounds {
            min: e.min + step,
            max: e.max + (-step),
        };
        return Ok(Room {
            extent,
            blocked: Vec::new(),
            sides,
        });
    }
    let (inwards, outwards) = if margin >= 0.0 {
        (Side::Inside, Side::Outside)
    } else {
        (Side::Outside, Side::Inside)
    };
    let border = offset(&stock.border, inwards, margin.abs())
        .map_err(|c| crossed("the border of the stock", c))?;
    let loops: Vec<Vec<Point>> = border
        .into_loops()
        .iter()
        .map(|p| polygon(p, Enclose::FromInside, STAND_OFF))
        .collect();
    let all: Vec<Point> = loops.iter().flatten().copied().collect();
    let nothing = Bounds {
        min: Point::default(),
        max: Point::new(-1.0, -1.0),
    };
    let Some(extent) = Bounds::of_points(all.iter().copied()) else {
        return Ok(Room {
            extent: nothing,
            blocked: Vec::new(),
            sides,
        });
    };
    let mut outside = loops;
    outside.push(frame(extent));
    let mut blocked = cells(&outside);
    for opening in &stock.openings {
        let grown = offset(opening, outwards, margin.abs())
            .map_err(|c| crossed("an opening in the stock", c))?;
        for path in grown.into_loops().iter().take(1) {
            blocked.extend(cells(&[polygon(path, Enclose::FromOutside, STAND_OFF)]));
        }
    }
    Ok(Room {
        extent,
        blocked,
        sides,
    })
}

fn frame(e: Bounds) -> Vec<Point> {
    let (a, b) = (e.min + Vec2::new(-1.0, -1.0), e.max + Vec2::new(1.0, 1.0));
    vec![a, Point::new(b.x, a.y), b, Point::new(a.x, b.y)]
}

fn crossed(what: &str, crossing: Crossing) -> Refusal {
    Refusal::Trace(match crossing {
        Crossing::At(p) => format!("{what} crosses itself at ({:.1}, {:.1}) mm", p.x, p.y),
        Crossing::Flat(p) => format!("{what} at ({:.1}, {:.1}) mm encloses nothing", p.x, p.y),
    })
}

/// Every piece in every turn it may have; turns that come out alike are listed once.
pub(super) fn all_turns(
    pieces: &[(Outline, usize)],
    room: &Room,
    spacing: Spacing,
    turns: Turns,
) -> Result<Vec<Vec<Shape>>, Refusal> {
    let mut all = Vec::with_capacity(pieces.len());
    for (number, (outline, _)) in pieces.iter().enumerate() {
        let borders = envelopes(outline);
        if borders.is_empty() {
            return Err(Refusal::Trace(format!(
                "piece {} has nothing to lay out",
                number + 1
            )));
        }
        let mut grown = Vec::new();
        for border in &borders {
            let what = format!("piece {}", number + 1);
            let paths = offset(border, Side::Outside, 0.5 * spacing.between)
                .map_err(|c| crossed(&what, c))?;
            grown.extend(paths.into_loops().into_iter().take(1));
        }
        let mut shapes: Vec<Shape> = Vec::new();
        for turn in angles(&borders, room, turns) {
            let shape = turned(number, &grown, turn);
            if let Some(shape) = shape.filter(|s| !shapes.iter().any(|t| alike(s, t))) {
                shapes.push(shape);
            }
        }
        all.push(shapes);
    }
    Ok(all)
}

/// What a group takes of the plate: its outermost parts where all else lies in them; otherwise all that lies
/// between its things, for the metal around openings is what is kept of them.
fn envelopes(outline: &Outline) -> Vec<Path> {
    let depths = depths(&outline.loops);
    let outer: Vec<Path> = outline
        .loops
        .iter()
        .zip(&depths)
        .filter(|(l, depth)| **depth == Some(0) && l.role == Role::Part)
        .map(|(l, _)| l.path.clone())
        .collect();
    let borders: Vec<Vec<Edge>> = outer.iter().map(Path::edges).collect();
    let held = |p: Point| borders.iter().any(|b| inside(b, p));
    let loops = outline.loops.iter().zip(&depths);
    let whole = loops
        .filter(|(l, depth)| !(**depth == Some(0) && l.role == Role::Part))
        .flat_map(|(l, _)| l.path.edges())
        .all(|e| held(e.from()) && held(e.point_at(0.5)) && held(e.to()))
        && outline.marks.iter().all(|m| held(m.at));
    if whole {
        return outer;
    }
    let places = outline.loops.iter().flat_map(|l| l.path.flatten(STAND_OFF));
    let marks = outline.marks.iter().map(|m| m.at);
    // A lone mark or a straight line gets some width.
    let around = |p: Point| {
        [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
            .map(|(x, y)| p + Vec2::new(x, y) * STAND_OFF)
    };
    let corners = hull(places.chain(marks).flat_map(around).collect());
    match corners.len() {
        0..=2 => Vec::new(),
        n => vec![Path::Chain(Chain {
            corners,
            shapes: vec![crate::outline::Shape::Line; n],
        })],
    }
}

/// Directions of the straight sides at least half as long as the longest, longest first, three at most.
fn long_sides(edges: &[Edge]) -> Vec<f64> {
    let mut sides: Vec<(f64, f64)> = edges
        .iter()
        .filter(|e| matches!(e, Edge::Line(_)))
        .map(|e| (e.length(), (e.to() - e.from()).angle()))
        .collect();
    sides.order_by(|a, b| b.0.total_cmp(&a.0));
    let longest = sides.first().map_or(0.0, |s| s.0);
    sides
        .into_iter()
        .filter(|s| s.0 >= 0.5 * longest)
        .take(3)
        .map(|s| s.1)
        .collect()
}

fn angles(borders: &[Path], room: &Room, turns: Turns) -> Vec<f64> {
    let quarters: &[i32] = match turns {
        Turns::None => &[0],
        Turns::Half => &[0, 2],
        Turns::Quarter | Turns::QuarterAndEdges => &[0, 1, 2, 3],
    };
    let mut all: Vec<f64> = quarters.iter().map(|q| f64::from(*q) * FRAC_PI_2).collect();
    if turns == Turns::QuarterAndEdges {
        let own = borders.iter().flat_map(|b| long_sides(&b.edges())).next();
        for side in &room.sides {
            let Some(own) = own else { continue };
            let slant = libm::remainder(side - own, FRAC_PI_2);
            if slant.abs() > 1e-9 {
                all.extend(quarters.iter().map(|q| slant + f64::from(*q) * FRAC_PI_2));
            }
        }
    }
    all
}

fn turned(piece: usize, grown: &[Path], turn: f64) -> Option<Shape> {
    let (sin, cos) = turn_sin_cos(turn);
    let carry = |p: &Point| Point::new(cos * p.x - sin * p.y, sin * p.x + cos * p.y);
    let mut stand_off = STAND_OFF;
    loop {
        let loops: Vec<Vec<Point>> = grown
            .iter()
            .map(|p| {
                polygon(p, Enclose::FromOutside, stand_off)
                    .iter()
                    .map(carry)
                    .collect()
            })
            .collect();
        let all: Vec<Point> = loops.iter().flatten().copied().collect();
        let extent = Bounds::of_points(all.iter().copied())?;
        let base = extent.min.to_vec();
        // Several loops of one piece may overlap once grown; cells may, so each is cut alone.
        let mut found: Vec<Cell> = loops
            .iter()
            .flat_map(|l| cells(core::slice::from_ref(l)))
            .collect();
        if found.len() > MOST_CELLS && stand_off < 4.0 {
            stand_off *= 2.0;
            continue;
        }
        if found.len() > 3 * MOST_CELLS {
            found = Cell::new(hull(all)).into_iter().collect();
        }
        return Some(Shape {
            piece,
            turn,
            base,
            cells: found.iter().map(|c| c.moved(-base)).collect(),
            width: extent.width(),
            height: extent.height(),
        });
    }
}

/// The same cells to a hair: a square turned by a quarter.
fn alike(a: &Shape, b: &Shape) -> bool {
    let near = |p: &Point, q: &Point| p.distance(*q) < 1e-6;
    let same = |c: &Cell, d: &Cell| {
        c.corners.len() == d.corners.len()
            && c.corners
                .iter()
                .all(|p| d.corners.iter().any(|q| near(p, q)))
    };
    a.cells.len() == b.cells.len() && a.cells.iter().all(|c| b.cells.iter().any(|d| same(c, d)))
}

/// Which side of the curve the polygon must keep to.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Enclose {
    /// The polygon encloses the loop.
    FromOutside,
    /// The loop encloses the polygon.
    FromInside,
}

/// A polygon for a closed course, arcs by chords or tangents so that it errs to one side only.
fn polygon(path: &Path, side: Enclose, stand_off: f64) -> Vec<Point> {
    let counter_clockwise = path.area() > 0.0;
    let mut corners = Vec::new();
    for edge in path.edges() {
        corners.push(edge.from());
        if let Edge::Arc(arc) = edge {
            let bulges_out = (arc.sweep > 0.0) == counter_clockwise;
            if bulges_out == (side == Enclose::FromOutside) {
                corners.extend(tangents(&arc, stand_off));
            } else {
                corners.extend(chords(&arc, stand_off));
            }
        }
    }
    corners
}

fn pieces_of(arc: &Arc, stand_off: f64, most: f64) -> usize {
    let ratio = (1.0 - stand_off / (arc.radius + stand_off)).max(0.5);
    let step = (2.0 * libm::acos(ratio)).min(most);
    let n = libm::ceil(arc.sweep.abs() / step - 1e-9);
    // A whole circle in a multiple of four, so that quarter turns come out alike.
    let n = if arc.is_full() {
        4.0 * libm::ceil(n / 4.0)
    } else {
        n
    };
    (n as usize).clamp(1, 256)
}

/// Corners of the tangent polygon between the ends.
fn tangents(arc: &Arc, stand_off: f64) -> Vec<Point> {
    let n = pieces_of(arc, stand_off, FRAC_PI_2);
    let step = arc.sweep / n as f64;
    let reach = arc.radius / libm::cos(0.5 * step);
    let start = arc.start_angle();
    (0..n)
        .map(|i| arc.center + Vec2::from_angle(start + (i as f64 + 0.5) * step) * reach)
        .collect()
}

fn chords(arc: &Arc, stand_off: f64) -> Vec<Point> {
    let n = pieces_of(arc, stand_off, TAU / 3.0);
    (1..n).map(|i| arc.point_at(i as f64 / n as f64)).collect()
}

/// Convex hull, counter-clockwise (Andrew's chain, 1979).
fn hull(mut points: Vec<Point>) -> Vec<Point> {
    points.order_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    let half = |points: &mut dyn Iterator<Item = Point>| {
        let mut chain: Vec<Point> = Vec::new();
        for p in points {
            while let [.., a, b] = chain.as_slice() {
                if (*b - *a).cross(p - *b) > 0.0 {
                    break;
                }
                chain.pop();
            }
            chain.push(p);
        }
        chain.pop();
        chain
    };
    let mut all = half(&mut points.iter().copied());
    all.extend(half(&mut points.iter().rev().copied()));
    all
}

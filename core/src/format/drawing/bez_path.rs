//! A Bézier path of kurbo as a drawing: the same arcs a reader of files makes of its curves.

use super::arcs;
use super::course::Course;
use super::curve::{Bezier, Curve};
use crate::geom::Point;
use crate::limits::{self, MAX_COORDINATE, MAX_EDGES};
use crate::{Refusal, Trace};
use kurbo::{BezPath, PathEl};

impl Trace {
    /// A drawing made of a Bézier path, kept edge by edge: lines as they are, curves as arcs that leave them
    /// by no more than `tolerance` mm. Every subpath becomes a chain.
    ///
    /// # Errors
    /// Refuses places beyond [`MAX_COORDINATE`] or that are no numbers, and curves that take more than
    /// [`MAX_EDGES`] arcs to follow.
    pub fn from_bez_path(path: &BezPath, tolerance: f64) -> Result<Self, Refusal> {
        let mut courses: Vec<Course> = Vec::new();
        let mut start = Point::default();
        let mut room = MAX_EDGES;
        for element in path.elements() {
            if let PathEl::MoveTo(p) = element {
                start = placed(*p)?;
                courses.push(Course::at(start));
                continue;
            }
            // A path that goes on after it was closed goes on from its start.
            if courses.last().is_none_or(|c| c.closed) {
                courses.push(Course::at(start));
            }
            let Some(course) = courses.last_mut() else {
                continue;
            };
            let at = course.end();
            room = room.checked_sub(1).ok_or_else(too_many)?;
            let poles = match element {
                PathEl::MoveTo(p) | PathEl::LineTo(p) => {
                    course.line_to(placed(*p)?);
                    continue;
                }
                PathEl::ClosePath => {
                    course.line_to(start);
                    course.closed = true;
                    continue;
                }
                PathEl::QuadTo(a, to) => vec![at, placed(*a)?, placed(*to)?],
                PathEl::CurveTo(a, b, to) => vec![at, placed(*a)?, placed(*b)?, placed(*to)?],
            };
            let (Some(bezier), Some(to)) = (Bezier::new(&poles), poles.last().copied()) else {
                continue;
            };
            let mut pieces =
                arcs::along(&Curve::Bezier(bezier), tolerance, room).ok_or_else(too_many)?;
            room -= pieces.len().min(room);
            if let Some(last) = pieces.last_mut() {
                last.to = to;
            }
            for piece in pieces {
                course.arc_to(piece.to, piece.sweep);
            }
        }
        let chains = courses.iter().map(Course::edges);
        Ok(Self {
            strokes: Vec::new(),
            drawn: chains.filter(|edges| !edges.is_empty()).collect(),
        })
    }
}

fn placed(p: kurbo::Point) -> Result<Point, Refusal> {
    let place = Point::new(p.x, p.y);
    if limits::holds(place) {
        return Ok(place);
    }
    let Point { x, y } = place;
    Err(Refusal::Trace(format!(
        "({x}, {y}) is further from the origin than the limit of {MAX_COORDINATE} mm"
    )))
}

fn too_many() -> Refusal {
    Refusal::Limit {
        what: "the number of edges that follow the curves this closely",
        value: format!("more than {MAX_EDGES}"),
        limit: MAX_EDGES.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Edge;
    use crate::outline::{Chain, Path, Shape};

    /// A plate with one round corner of 10 mm, through Béziers and back.
    #[test]
    fn a_plate_comes_back_as_the_drawing_it_was() {
        let corners = [
            (0.0, 0.0),
            (60.0, 0.0),
            (60.0, 30.0),
            (50.0, 40.0),
            (0.0, 40.0),
        ];
        let mut shapes = vec![Shape::Line; 5];
        shapes[2] = Shape::Arc {
            sweep: core::f64::consts::FRAC_PI_2,
        };
        let plate = Path::Chain(Chain {
            corners: corners.map(|(x, y)| Point::new(x, y)).to_vec(),
            shapes,
        });
        let trace = Trace::from_bez_path(&plate.to_bez_path(1e-6), 0.01).expect("a drawing");
        let [chain] = trace.drawn.as_slice() else {
            panic!("{:?}", trace.drawn);
        };
        let length: f64 = chain.iter().map(Edge::length).sum();
        assert!((length - plate.length()).abs() < 0.01, "{length}");
        assert!(chain.windows(2).all(|w| w[0].to() == w[1].from()));
        assert_eq!(chain.last().map(Edge::to), chain.first().map(Edge::from));
    }

    #[test]
    fn places_that_are_none_are_refused() {
        let mut path = BezPath::new();
        path.move_to((0.0, 0.0));
        path.quad_to((f64::NAN, 1.0), (2.0, 0.0));
        let said = Trace::from_bez_path(&path, 0.01).unwrap_err().to_string();
        assert!(said.contains("NaN"), "{said}");
    }
}

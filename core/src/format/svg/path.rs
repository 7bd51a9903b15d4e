//! Path data: every command, as courses in mm. Refusals here leave the line to the caller, which
//! alone knows it.

use super::ellipse::{Elliptic, Piece, Stated, place};
use crate::Refusal;
use crate::format::course::Course;
use crate::format::sampling::{Collector, steps};
use crate::geom::{Point, Vec2};
use crate::limits::{self, MAX_COORDINATE};
use kurbo::{Affine, CubicBez, ParamCurve};
use svgtypes::{PathParser, PathSegment};

/// Draws path data, in user units, into courses in mm.
pub(super) struct Pen<'a> {
    map: &'a Affine,
    out: &'a mut Collector,
    /// User units.
    start: Point,
    at: Point,
    /// The last control point, for the commands that mirror it, and its degree.
    control: Option<(Point, u8)>,
    course: Option<Course>,
    /// What the file says of the first course: of how many pieces each of its edges is.
    stated: Option<Vec<usize>>,
}

impl<'a> Pen<'a> {
    pub(super) fn new(map: &'a Affine, out: &'a mut Collector) -> Self {
        Self {
            map,
            out,
            start: Point::default(),
            at: Point::default(),
            control: None,
            course: None,
            stated: None,
        }
    }

    /// The same, with what the file says of the first course.
    pub(super) fn stating(self, stated: Option<Vec<usize>>) -> Self {
        Self { stated, ..self }
    }

    /// A place in mm, within the limit.
    fn place(&self, p: Point) -> Result<Point, Refusal> {
        let q = place(self.map, p);
        within(q, p).map(|()| q)
    }

    /// Room for more points of curves on top of those under the pen.
    fn room_for(&self, more: usize) -> Result<(), Refusal> {
        let curved = self.course.as_ref().filter(|c| c.curved);
        let so_far = curved.map_or(0, |c| c.points.len());
        self.out.room_for(so_far.saturating_add(more))
    }

    /// Draws all the commands of a `d` attribute.
    pub(super) fn draw(mut self, data: &str) -> Result<(), Refusal> {
        for segment in PathParser::from(data) {
            match segment {
                Ok(segment) => self.command(segment)?,
                Err(e) => return Err(Refusal::File(format!("the path data is broken: {e}"))),
            }
        }
        self.lift()
    }

    fn command(&mut self, segment: PathSegment) -> Result<(), Refusal> {
        let at = self.at;
        let to = |abs: bool, x: f64, y: f64| {
            if abs {
                Point::new(x, y)
            } else {
                at + Vec2::new(x, y)
            }
        };
        match segment {
            PathSegment::MoveTo { abs, x, y } => self.move_to(to(abs, x, y)),
            PathSegment::LineTo { abs, x, y } => self.line_to(to(abs, x, y)),
            PathSegment::HorizontalLineTo { abs, x } => {
                let p = to(abs, x, 0.0);
                self.line_to(Point::new(p.x, at.y))
            }
            PathSegment::VerticalLineTo { abs, y } => {
                let p = to(abs, 0.0, y);
                self.line_to(Point::new(at.x, p.y))
            }
            PathSegment::CurveTo {
                abs,
                x1,
                y1,
                x2,
                y2,
                x,
                y,
            } => self.cubic(to(abs, x1, y1), to(abs, x2, y2), to(abs, x, y)),
            PathSegment::SmoothCurveTo { abs, x2, y2, x, y } => {
                self.cubic(self.mirrored(3), to(abs, x2, y2), to(abs, x, y))
            }
            PathSegment::Quadratic { abs, x1, y1, x, y } => {
                self.quadratic(to(abs, x1, y1), to(abs, x, y))
            }
            PathSegment::SmoothQuadratic { abs, x, y } => {
                self.quadratic(self.mirrored(2), to(abs, x, y))
            }
            PathSegment::EllipticalArc {
                abs,
                rx,
                ry,
                x_axis_rotation,
                large_arc,
                sweep,
                x,
                y,
            } => self.arc(&Stated {
                from: at,
                to: to(abs, x, y),
                radii: (rx, ry),
                rotation: x_axis_rotation,
                large: large_arc,
                positive: sweep,
            }),
            PathSegment::ClosePath { .. } => self.close(),
        }
    }

    /// The control point mirrored at the current point, after a curve of the same degree.
    fn mirrored(&self, degree: u8) -> Point {
        match self.control {
            Some((control, d)) if d == degree => self.at + (self.at - control),
            _ => self.at,
        }
    }

    pub(super) fn move_to(&mut self, p: Point) -> Result<(), Refusal> {
        self.lift()?;
        self.place(p)?;
        (self.start, self.at, self.control) = (p, p, None);
        Ok(())
    }

    /// The course under the pen, begun where the pen is.
    fn course(&mut self) -> Result<&mut Course, Refusal> {
        let start = self.place(self.at)?;
        Ok(self.course.get_or_insert_with(|| Course::at(start)))
    }

    pub(super) fn line_to(&mut self, p: Point) -> Result<(), Refusal> {
        let to = self.place(p)?;
        self.course()?.line_to(to);
        (self.at, self.control) = (p, None);
        Ok(())
    }

    fn quadratic(&mut self, c: Point, p: Point) -> Result<(), Refusal> {
        let third = |a: Point| a.lerp(c, 2.0 / 3.0);
        self.cubic(third(self.at), third(p), p)?;
        self.control = Some((c, 2));
        Ok(())
    }

    fn cubic(&mut self, c1: Point, c2: Point, p: Point) -> Result<(), Refusal> {
        let (a, b) = (self.place(self.at)?, self.place(c1)?);
        let (c, d) = (self.place(c2)?, self.place(p)?);
        // The control polygon is no shorter than the curve.
        let n = steps(a.distance(b) + b.distance(c) + c.distance(d)).max(2);
        self.room_for(n)?;
        let kurbo = |p: Point| kurbo::Point::new(p.x, p.y);
        let curve = CubicBez::new(kurbo(a), kurbo(b), kurbo(c), kurbo(d));
        let mut points: Vec<Point> = (1..n)
            .map(|i| curve.eval(i as f64 / n as f64))
            .map(|p| Point::new(p.x, p.y))
            .collect();
        points.push(d);
        self.course()?.curve_through(&points);
        (self.at, self.control) = (p, Some((c2, 3)));
        Ok(())
    }

    pub(super) fn arc(&mut self, stated: &Stated) -> Result<(), Refusal> {
        match stated.centered() {
            None => self.line_to(stated.to),
            Some(arc) => self.elliptic(&arc, stated.to),
        }
    }

    /// A piece of an ellipse that starts where the pen is.
    pub(super) fn elliptic(&mut self, arc: &Elliptic, p: Point) -> Result<(), Refusal> {
        let to = self.place(p)?;
        let arc = arc.mapped(self.map);
        self.room_for(arc.steps())?;
        match arc.piece(to) {
            Piece::Circle(circle) => self.out.circle(circle)?,
            Piece::Arc(sweep) => self.course()?.arc_to(to, sweep),
            // That it bulges out of the limit is seen where all curves are sampled.
            Piece::Samples(points) => self.course()?.curve_through(&points),
        }
        (self.at, self.control) = (p, None);
        Ok(())
    }

    pub(super) fn close(&mut self) -> Result<(), Refusal> {
        if let Some(course) = &mut self.course {
            course.closed = true;
        }
        self.lift()?;
        (self.at, self.control) = (self.start, None);
        Ok(())
    }

    /// Ends the course under the pen.
    pub(super) fn lift(&mut self) -> Result<(), Refusal> {
        match self.course.take() {
            None => Ok(()),
            Some(mut course) => {
                if let Some(pieces) = self.stated.take() {
                    course.state(&pieces);
                }
                self.out.add(course)
            }
        }
    }
}

/// Refuses a place in mm past the limit; it is named as the file says it.
fn within(mm: Point, said: Point) -> Result<(), Refusal> {
    if limits::holds(mm) {
        return Ok(());
    }
    let Point { x, y } = said;
    Err(Refusal::File(format!(
        "({x}, {y}) is further from the origin than the limit of {MAX_COORDINATE} mm"
    )))
}

//! The pen: what a reader of drawings draws with, in the lengths of the place where it stands.
//!
//! A pen knows the map from there to the plate. Circles and arcs go through a map that keeps shapes as
//! they are; through any other they become ellipses, and those chains of arcs.

use super::arcs;
use super::collector::{Collector, steps};
use super::course::{Course, Inside};
use super::curve::{Bezier, Curve};
use super::ellipse::{Elliptic, Round, place};
use super::layers::Layer;
use crate::Refusal;
use crate::geom::{Arc, Point};
use kurbo::Affine;

/// Draws on a layer through a map to mm.
pub(crate) struct Pen<'a> {
    map: Affine,
    out: &'a mut Collector,
    layer: Layer,
    /// Where the course under the pen began, and where the pen is.
    start: Point,
    at: Point,
    course: Option<Course>,
    /// What the file says of the first course: of how many pieces each of its edges is.
    stated: Option<Vec<usize>>,
    traced: bool,
    inside: Inside,
}

impl<'a> Pen<'a> {
    pub(crate) fn new(map: Affine, layer: Layer, out: &'a mut Collector) -> Self {
        Self {
            map,
            out,
            layer,
            start: Point::default(),
            at: Point::default(),
            course: None,
            stated: None,
            traced: false,
            inside: Inside::Clear,
        }
    }

    /// The same, with what the file says of the first course.
    pub(crate) fn stating(self, stated: Option<Vec<usize>>) -> Self {
        Self { stated, ..self }
    }

    /// The same; where `traced`, the file says that a hand left what is drawn.
    pub(crate) fn tracing(self, traced: bool) -> Self {
        Self { traced, ..self }
    }

    /// The same; what it draws is painted so.
    pub(crate) fn painting(self, inside: Inside) -> Self {
        Self { inside, ..self }
    }

    /// Where the pen is.
    pub(crate) fn at(&self) -> Point {
        self.at
    }

    /// A place in mm, within the limit.
    fn place(&mut self, p: Point) -> Result<Point, Refusal> {
        let q = place(&self.map, p);
        self.out.within(q)?;
        Ok(q)
    }

    pub(crate) fn move_to(&mut self, p: Point) -> Result<(), Refusal> {
        self.lift()?;
        self.place(p)?;
        (self.start, self.at) = (p, p);
        Ok(())
    }

    /// The course under the pen, begun where the pen is.
    fn course(&mut self) -> Result<&mut Course, Refusal> {
        let start = self.place(self.at)?;
        let layer = self.layer;
        Ok(self.course.get_or_insert_with(|| Course::on(layer, start)))
    }

    pub(crate) fn line_to(&mut self, p: Point) -> Result<(), Refusal> {
        let to = self.place(p)?;
        self.course()?.line_to(to);
        self.at = p;
        Ok(())
    }

    /// A circular arc that turns by `sweep`.
    pub(crate) fn turn_to(&mut self, p: Point, sweep: f64) -> Result<(), Refusal> {
        let [a, b, c, d, _, _] = self.map.as_coeffs();
        // A map that keeps shapes keeps turns, or turns them over: no digit is lost.
        if (a == d && b == -c) || (a == -d && b == c) {
            let to = self.place(p)?;
            let sweep = if a * d - b * c < 0.0 { -sweep } else { sweep };
            self.course()?.arc_to(to, sweep);
            self.at = p;
            return Ok(());
        }
        match Arc::from_sweep(self.at, p, sweep) {
            None => self.line_to(p),
            Some(arc) => self.elliptic(&Elliptic::of_arc(&arc), p),
        }
    }

    /// A piece of an ellipse from where the pen is to `p`.
    pub(crate) fn elliptic(&mut self, ellipse: &Elliptic, p: Point) -> Result<(), Refusal> {
        let to = self.place(p)?;
        let ellipse = ellipse.mapped(&self.map);
        match ellipse.round() {
            Some(Round::Circle(circle)) => self.out.circle(circle, self.layer)?,
            Some(Round::Arc(sweep)) => self.course()?.arc_to(to, sweep),
            None => self.curve(&Curve::Ellipse(ellipse), to)?,
        }
        self.at = p;
        Ok(())
    }

    /// A Bézier from where the pen is to `p`.
    pub(crate) fn bezier(&mut self, bezier: &Bezier, p: Point) -> Result<(), Refusal> {
        let to = self.place(p)?;
        for pole in bezier.hull() {
            self.place(pole)?;
        }
        self.curve(&Curve::Bezier(bezier.mapped(&self.map)), to)?;
        self.at = p;
        Ok(())
    }

    /// A curve on the plate: arcs, or samples where a hand left it.
    fn curve(&mut self, curve: &Curve, to: Point) -> Result<(), Refusal> {
        if self.traced || self.out.is_traced() {
            let curved = self.course.as_ref().filter(|c| c.curved);
            let n = steps(curve.longest()).max(8);
            self.out
                .room_for(curved.map_or(0, |c| c.points.len()) + n)?;
            let mut samples: Vec<Point> = (1..n).map(|i| curve.at(i as f64 / n as f64)).collect();
            samples.push(to);
            self.course()?.curve_through(&samples);
            return Ok(());
        }
        let mut pieces = arcs::along(curve, self.out.tolerance(), self.out.room())
            .ok_or_else(|| self.out.no_room())?;
        if let Some(last) = pieces.last_mut() {
            last.to = to;
        }
        self.out.curve_became(pieces.len());
        let course = self.course()?;
        for piece in pieces {
            course.arc_to(piece.to, piece.sweep);
        }
        Ok(())
    }

    pub(crate) fn close(&mut self) -> Result<(), Refusal> {
        if let Some(course) = &mut self.course {
            course.closed = true;
        }
        self.lift()?;
        self.at = self.start;
        Ok(())
    }

    /// Ends the course under the pen.
    pub(crate) fn lift(&mut self) -> Result<(), Refusal> {
        let Some(mut course) = self.course.take() else {
            return Ok(());
        };
        if let Some(pieces) = self.stated.take() {
            course.state(&pieces);
        }
        (course.traced, course.inside) = (self.traced, self.inside);
        self.out.add(course)
    }
}

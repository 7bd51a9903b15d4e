//! Path data: every command, put under the pen.

use crate::Refusal;
use crate::format::drawing::{Bezier, Pen, Stated};
use crate::geom::{Point, Vec2};
use svgtypes::{PathParser, PathSegment};

/// The last control point, for the commands that mirror it, and its degree.
type Control = Option<(Point, u8)>;

/// Draws path data with a pen.
pub(super) struct PathPen<'a> {
    pen: Pen<'a>,
    start: Point,
    control: Control,
}

impl<'a> PathPen<'a> {
    pub(super) fn new(pen: Pen<'a>) -> Self {
        Self {
            pen,
            start: Point::default(),
            control: None,
        }
    }

    /// Draws all the commands of a `d` attribute. Where they break off, what came before is drawn, as the
    /// standard asks, and what is wrong is given back.
    pub(super) fn draw(mut self, data: &str) -> Result<Option<String>, Refusal> {
        let mut broken = None;
        for segment in PathParser::from(data) {
            match segment {
                Ok(segment) => {
                    let control = self.command(segment)?;
                    self.control = control;
                }
                Err(e) => {
                    broken = Some(format!("the path data is broken: {e}"));
                    break;
                }
            }
        }
        self.pen.lift().map(|()| broken)
    }

    fn command(&mut self, segment: PathSegment) -> Result<Control, Refusal> {
        let at = self.pen.at();
        let to = |abs: bool, x: f64, y: f64| {
            if abs {
                Point::new(x, y)
            } else {
                at + Vec2::new(x, y)
            }
        };
        let mut control = None;
        match segment {
            PathSegment::MoveTo { abs, x, y } => {
                self.start = to(abs, x, y);
                self.pen.move_to(self.start)?;
            }
            PathSegment::LineTo { abs, x, y } => self.pen.line_to(to(abs, x, y))?,
            PathSegment::HorizontalLineTo { abs, x } => {
                self.pen.line_to(Point::new(to(abs, x, 0.0).x, at.y))?;
            }
            PathSegment::VerticalLineTo { abs, y } => {
                self.pen.line_to(Point::new(at.x, to(abs, 0.0, y).y))?;
            }
            PathSegment::CurveTo {
                abs,
                x1,
                y1,
                x2,
                y2,
                x,
                y,
            } => control = self.cubic(to(abs, x1, y1), to(abs, x2, y2), to(abs, x, y))?,
            PathSegment::SmoothCurveTo { abs, x2, y2, x, y } => {
                control = self.cubic(self.mirrored(3), to(abs, x2, y2), to(abs, x, y))?;
            }
            PathSegment::Quadratic { abs, x1, y1, x, y } => {
                control = self.quadratic(to(abs, x1, y1), to(abs, x, y))?;
            }
            PathSegment::SmoothQuadratic { abs, x, y } => {
                control = self.quadratic(self.mirrored(2), to(abs, x, y))?;
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
            } => arc(
                &mut self.pen,
                &Stated {
                    from: at,
                    to: to(abs, x, y),
                    radii: (rx, ry),
                    rotation: x_axis_rotation,
                    large: large_arc,
                    positive: sweep,
                },
            )?,
            PathSegment::ClosePath { .. } => self.pen.close()?,
        }
        Ok(control)
    }

    /// The control point mirrored at the current point, after a curve of the same degree.
    fn mirrored(&self, degree: u8) -> Point {
        let at = self.pen.at();
        match self.control {
            Some((control, d)) if d == degree => at + (at - control),
            _ => at,
        }
    }

    fn quadratic(&mut self, c: Point, p: Point) -> Result<Control, Refusal> {
        self.curve(&[self.pen.at(), c, p])?;
        Ok(Some((c, 2)))
    }

    fn cubic(&mut self, c1: Point, c2: Point, p: Point) -> Result<Control, Refusal> {
        self.curve(&[self.pen.at(), c1, c2, p])?;
        Ok(Some((c2, 3)))
    }

    fn curve(&mut self, poles: &[Point]) -> Result<(), Refusal> {
        match (Bezier::new(poles), poles.last()) {
            (Some(bezier), Some(to)) => self.pen.bezier(&bezier, *to),
            _ => Err(Refusal::File("a curve's points are not finite".into())),
        }
    }
}

/// An arc as path data state it; straight where a radius is 0.
pub(super) fn arc(pen: &mut Pen<'_>, stated: &Stated) -> Result<(), Refusal> {
    match stated.centered() {
        None => pen.line_to(stated.to),
        Some(ellipse) => pen.elliptic(&ellipse, stated.to),
    }
}

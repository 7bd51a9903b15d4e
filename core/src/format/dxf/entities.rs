//! Entities to courses.

use super::pairs::Pair;
use crate::Refusal;
use crate::format::course::Course;
use crate::format::sampling::Collector;
use crate::format::stated;
use crate::geom::{Arc, Point, Vec2};
use crate::limits::{self, MAX_COORDINATE};
use core::f64::consts::TAU;

/// A corner of a polyline, with the bulge of the edge that leaves it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Vertex {
    pub(super) at: Point,
    pub(super) bulge: f64,
}

/// The groups of one entity, read as numbers in mm.
pub(super) struct Entity<'a> {
    pub(super) kind: &'a [u8],
    /// Line at which it starts.
    pub(super) line: usize,
    pub(super) pairs: &'a [Pair<'a>],
    /// mm in one unit.
    pub(super) scale: f64,
}

/// Whether an entity lies in the plane of the drawing.
#[derive(Clone, Copy, PartialEq)]
pub(super) enum Facing {
    Up,
    /// Seen from below: x is mirrored.
    Down,
    Askew,
}

impl Entity<'_> {
    fn name(&self) -> String {
        crate::format::numbers::shown(self.kind)
    }

    fn refuse(&self, problem: String) -> Refusal {
        Refusal::Line {
            line: self.line,
            problem,
        }
    }

    fn find(&self, code: i16) -> Option<&Pair<'_>> {
        self.pairs.iter().find(|p| p.code == code)
    }

    /// A number that must be there.
    fn number(&self, code: i16) -> Result<f64, Refusal> {
        match self.find(code) {
            Some(pair) => pair.number(),
            None => Err(self.refuse(format!("this {} has no group {code}", self.name()))),
        }
    }

    fn number_or(&self, code: i16, default: f64) -> Result<f64, Refusal> {
        self.find(code).map_or(Ok(default), Pair::number)
    }

    pub(super) fn flags(&self) -> i64 {
        self.find(70).map_or(0, Pair::integer)
    }

    /// Its extended data say that its edges are as stated.
    pub(super) fn is_stated(&self) -> bool {
        let mut data = self
            .pairs
            .iter()
            .skip_while(|p| (p.code, p.value) != (1001, stated::APPLICATION.as_bytes()));
        data.nth(1)
            .is_some_and(|p| (p.code, p.value) == (1000, stated::EDGES.as_bytes()))
    }

    /// Drawn on a sheet rather than in the model.
    pub(super) fn is_on_sheet(&self) -> bool {
        self.find(67).is_some_and(|p| p.integer() == 1)
    }

    pub(super) fn facing(&self) -> Result<Facing, Refusal> {
        let x = self.number_or(210, 0.0)?;
        let y = self.number_or(220, 0.0)?;
        let z = self.number_or(230, 1.0)?;
        let across = x.abs().max(y.abs());
        Ok(if across > 1e-6 * z.abs() {
            Facing::Askew
        } else if z < 0.0 {
            Facing::Down
        } else {
            Facing::Up
        })
    }

    fn length(&self, code: i16) -> Result<f64, Refusal> {
        Ok(self.number(code)? * self.scale)
    }

    fn place(&self, x: f64, y: f64) -> Result<Point, Refusal> {
        let place = Point::new(x, y);
        if limits::holds(place) {
            return Ok(place);
        }
        Err(self.refuse(format!(
            "({x}, {y}) mm is further from the origin than the limit of {MAX_COORDINATE} mm"
        )))
    }

    fn point(&self, x: i16, y: i16) -> Result<Point, Refusal> {
        self.place(self.length(x)?, self.length(y)?)
    }

    fn radius(&self) -> Result<f64, Refusal> {
        let r = self.length(40)?;
        if r > 0.0 && r <= MAX_COORDINATE {
            return Ok(r);
        }
        Err(self.refuse(format!("this {} has the radius {r} mm", self.name())))
    }

    pub(super) fn draw_line(&self, out: &mut Collector) -> Result<(), Refusal> {
        let mut course = Course::at(self.point(10, 20)?);
        course.line_to(self.point(11, 21)?);
        // A line of no length is a dot somebody forgot, not a mark.
        if course.points.len() > 1 {
            out.add(course)?;
        }
        Ok(())
    }

    pub(super) fn draw_point(&self, out: &mut Collector) -> Result<(), Refusal> {
        out.mark(self.point(10, 20)?)
    }

    pub(super) fn draw_circle(&self, facing: Facing, out: &mut Collector) -> Result<(), Refusal> {
        let center = mirrored(self.point(10, 20)?, facing);
        out.circle(Arc::circle(center, self.radius()?, true))
    }

    /// Angles are degrees, always counter-clockwise from the first to the second.
    pub(super) fn draw_arc(&self, facing: Facing, out: &mut Collector) -> Result<(), Refusal> {
        let center = self.point(10, 20)?;
        let radius = self.radius()?;
        let start = self.number(50)?;
        let turn = self.number(51)? - start;
        let turn = turn - 360.0 * libm::floor(turn / 360.0);
        if turn == 0.0 {
            return out.circle(Arc::circle(mirrored(center, facing), radius, true));
        }
        let at = |degrees: f64| {
            let p = center + Vec2::from_angle(degrees.to_radians()) * radius;
            mirrored(p, facing)
        };
        let sweep = turn.to_radians().min(TAU);
        let mut course = Course::at(at(start));
        let sweep = if facing == Facing::Down {
            -sweep
        } else {
            sweep
        };
        course.arc_to(at(start + turn), sweep);
        out.add(course)
    }

    /// The corners of an LWPOLYLINE: each group 10 starts one.
    pub(super) fn light_vertices(&self) -> Result<Vec<Vertex>, Refusal> {
        let mut vertices: Vec<Vertex> = Vec::new();
        let mut x = None;
        for pair in self.pairs {
            match pair.code {
                10 if x.is_some() => {
                    return Err(self.refuse("a corner of this LWPOLYLINE has no group 20".into()));
                }
                10 => x = Some(pair.number()? * self.scale),
                20 => {
                    let Some(x) = x.take() else {
                        return Err(
                            self.refuse("a corner of this LWPOLYLINE has no group 10".into())
                        );
                    };
                    let at = self.place(x, pair.number()? * self.scale)?;
                    vertices.push(Vertex { at, bulge: 0.0 });
                }
                42 => {
                    if let Some(last) = vertices.last_mut() {
                        last.bulge = pair.number()?;
                    }
                }
                _ => {}
            }
        }
        let stated = self.find(90).map(Pair::integer);
        match stated {
            Some(n) if i64::try_from(vertices.len()).ok() != Some(n) => Err(self.refuse(format!(
                "this LWPOLYLINE says it has {n} corners and has {}",
                vertices.len()
            ))),
            _ => Ok(vertices),
        }
    }

    /// The corner that a VERTEX is.
    pub(super) fn vertex(&self) -> Result<Vertex, Refusal> {
        Ok(Vertex {
            at: self.point(10, 20)?,
            bulge: self.number_or(42, 0.0)?,
        })
    }
}

/// A polyline, whose edges are as stated if the file says so; on a closed one the last bulge shapes the closing edge.
pub(super) fn draw_polyline(
    vertices: &[Vertex],
    closed: bool,
    facing: Facing,
    stated: bool,
    out: &mut Collector,
) -> Result<(), Refusal> {
    let Some(first) = vertices.first() else {
        return Ok(());
    };
    let mut course = Course::at(mirrored(first.at, facing));
    let ends = vertices.iter().skip(1).chain(closed.then_some(first));
    for (from, to) in vertices.iter().zip(ends) {
        let to = mirrored(to.at, facing);
        let bulge = if facing == Facing::Down {
            -from.bulge
        } else {
            from.bulge
        };
        if bulge == 0.0 {
            course.line_to(to);
        } else {
            // The bulge is the tangent of a quarter of the included angle.
            course.arc_to(to, 4.0 * libm::atan(bulge));
        }
    }
    course.closed = closed;
    if stated {
        // Each edge is of one piece.
        let pieces = vertices.len() - usize::from(!closed);
        course.state(&vec![1; pieces]);
    }
    if course.points.len() > 1 {
        out.add(course)?;
    }
    Ok(())
}

fn mirrored(p: Point, facing: Facing) -> Point {
    match facing {
        Facing::Down => Point::new(-p.x, p.y),
        _ => p,
    }
}

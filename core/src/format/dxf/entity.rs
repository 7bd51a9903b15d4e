//! One entity: its groups, as numbers and places, and the simple ones drawn.

use super::file::name_of;
use super::pairs::Pair;
use crate::Refusal;
use crate::format::drawing::{Elliptic, Pen, stated};
use crate::format::numbers::shown;
use crate::geom::{Point, Vec2};
use core::f64::consts::TAU;
use kurbo::Affine;

/// A corner of a polyline, with the bulge of the edge that leaves it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Vertex {
    pub(super) at: Point,
    /// Its height over the plane.
    pub(super) z: f64,
    pub(super) bulge: f64,
}

/// The groups of one entity.
pub(super) struct Entity<'a> {
    pub(super) kind: &'a [u8],
    /// Line at which it starts.
    pub(super) line: usize,
    pub(super) pairs: &'a [Pair<'a>],
}

impl Entity<'_> {
    pub(super) fn refuse(&self, problem: String) -> Refusal {
        Refusal::Line {
            line: self.line,
            problem,
        }
    }

    fn find(&self, code: i16) -> Option<&Pair<'_>> {
        self.pairs.iter().find(|p| p.code == code)
    }

    /// A number that must be there.
    pub(super) fn number(&self, code: i16) -> Result<f64, Refusal> {
        match self.find(code) {
            Some(pair) => pair.number(),
            None => Err(self.refuse(format!("this {} has no group {code}", shown(self.kind)))),
        }
    }

    pub(super) fn number_or(&self, code: i16, default: f64) -> Result<f64, Refusal> {
        self.find(code).map_or(Ok(default), Pair::number)
    }

    pub(super) fn integer(&self, code: i16) -> i64 {
        self.find(code).map_or(0, Pair::integer)
    }

    /// All numbers of a code, in their order.
    pub(super) fn numbers(&self, code: i16) -> Result<Vec<f64>, Refusal> {
        let all = self.pairs.iter().filter(|p| p.code == code);
        all.map(Pair::number).collect()
    }

    /// All points whose x has this code and y the code ten higher.
    pub(super) fn points(&self, code: i16) -> Result<Vec<Point>, Refusal> {
        let (x, y) = (self.numbers(code)?, self.numbers(code + 10)?);
        if x.len() != y.len() {
            return Err(self.refuse(format!(
                "this {} has {} groups {code} and {} groups {}",
                shown(self.kind),
                x.len(),
                y.len(),
                code + 10
            )));
        }
        Ok(x.into_iter()
            .zip(y)
            .map(|(x, y)| Point::new(x, y))
            .collect())
    }

    pub(super) fn point(&self, code: i16) -> Result<Point, Refusal> {
        Ok(Point::new(self.number(code)?, self.number(code + 10)?))
    }

    pub(super) fn point_or_origin(&self, code: i16) -> Result<Point, Refusal> {
        Ok(Point::new(
            self.number_or(code, 0.0)?,
            self.number_or(code + 10, 0.0)?,
        ))
    }

    /// A text of a code, as it is; of the name of a layer or block, use [`Self::name`].
    pub(super) fn text(&self, code: i16) -> Option<&[u8]> {
        self.find(code).map(|p| p.value)
    }

    /// The name that a code holds, as it is looked up.
    pub(super) fn name(&self, code: i16) -> String {
        name_of(self.text(code).unwrap_or_default())
    }

    /// Its extended data bear this word under our own name.
    pub(super) fn says(&self, word: &str) -> bool {
        let own = |p: &&Pair<'_>| (p.code, p.value) == (1001, stated::APPLICATION.as_bytes());
        let mut data = self.pairs.iter().skip_while(|p| !own(p));
        data.nth(1)
            .is_some_and(|p| (p.code, p.value) == (1000, word.as_bytes()))
    }

    /// The map from the entity's own plane to that of the drawing; nothing where it is tilted out of it.
    /// Of the third axis a plane's own x runs square to z and this axis (published reference, arbitrary axis).
    pub(super) fn plane(&self) -> Result<Option<Affine>, Refusal> {
        let x = self.number_or(210, 0.0)?;
        let y = self.number_or(220, 0.0)?;
        let z = self.number_or(230, 1.0)?;
        Ok(if x.abs().max(y.abs()) > 1e-6 * z.abs() {
            None
        } else if z < 0.0 {
            Some(Affine::FLIP_X)
        } else {
            Some(Affine::IDENTITY)
        })
    }

    pub(super) fn draw_line(&self, pen: &mut Pen<'_>) -> Result<(), Refusal> {
        pen.move_to(self.point(10)?)?;
        let to = self.point(11)?;
        // A line of no length is a dot somebody forgot, not a mark.
        if to != pen.at() {
            pen.line_to(to)?;
        }
        pen.lift()
    }

    /// A circle or an arc. Angles are degrees, always counter-clockwise from the first to the second.
    pub(super) fn draw_round(&self, pen: &mut Pen<'_>) -> Result<(), Refusal> {
        let radius = self.number(40)?;
        let mut round = Elliptic::whole(self.point(10)?, radius, radius);
        if self.kind == b"ARC" {
            let start = self.number(50)?;
            round.start = start.to_radians();
            round.sweep = turn(start, self.number(51)?, 360.0).to_radians().min(TAU);
        }
        draw_elliptic(&round, pen)
    }

    /// The second radius is the given share of the first, square to it on the side the third axis says.
    pub(super) fn draw_ellipse(&self, pen: &mut Pen<'_>) -> Result<(), Refusal> {
        let major = self.point(11)? - Point::default();
        let up = if self.number_or(230, 1.0)? < 0.0 {
            -1.0
        } else {
            1.0
        };
        let start = self.number_or(41, 0.0)?;
        let ellipse = Elliptic {
            center: self.point(10)?,
            u: major,
            v: major.left() * (up * self.number(40)?),
            start,
            sweep: turn(start, self.number_or(42, TAU)?, TAU),
        };
        draw_elliptic(&ellipse, pen)
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
                10 => x = Some(pair.number()?),
                20 => {
                    let Some(x) = x.take() else {
                        return Err(
                            self.refuse("a corner of this LWPOLYLINE has no group 10".into())
                        );
                    };
                    let at = Point::new(x, pair.number()?);
                    vertices.push(Vertex {
                        at,
                        z: 0.0,
                        bulge: 0.0,
                    });
                }
                42 => {
                    if let Some(last) = vertices.last_mut() {
                        last.bulge = pair.number()?;
                    }
                }
                _ => {}
            }
        }
        Ok(vertices)
    }

    /// What is wrong with the number of corners that an LWPOLYLINE says it has.
    pub(super) fn miscounts(&self, vertices: usize) -> Option<String> {
        let n = self.find(90).map(Pair::integer)?;
        (i64::try_from(vertices).ok() != Some(n)).then(|| {
            format!(
                "line {}: this LWPOLYLINE says it has {n} corners and has {vertices}: drawn as they stand",
                self.line
            )
        })
    }

    /// How far its places rise and fall, where it may lean out of the plane.
    pub(super) fn rise(&self) -> Result<f64, Refusal> {
        let codes: &[i16] = match self.kind {
            b"LINE" => &[30, 31],
            b"SPLINE" if self.find(10).is_some() => &[30],
            b"SPLINE" => &[31],
            _ => &[],
        };
        let mut heights = Vec::new();
        for code in codes {
            heights.extend(self.numbers(*code)?);
        }
        // A height that is not said is none.
        if self.kind == b"LINE" && heights.len() == 1 {
            heights.push(0.0);
        }
        Ok(range(heights.into_iter()))
    }

    /// A polyline that is drawn as a band rather than a line.
    pub(super) fn is_wide(&self) -> Result<bool, Refusal> {
        if !matches!(self.kind, b"LWPOLYLINE" | b"POLYLINE") {
            return Ok(false);
        }
        let widths = [40, 41, 43].map(|code| self.numbers(code));
        let mut wide = false;
        for width in widths {
            wide |= width?.iter().any(|w| *w > 0.0);
        }
        Ok(wide)
    }

    /// The corner that a VERTEX is.
    pub(super) fn vertex(&self) -> Result<Vertex, Refusal> {
        Ok(Vertex {
            at: self.point(10)?,
            z: self.number_or(30, 0.0)?,
            bulge: self.number_or(42, 0.0)?,
        })
    }
}

/// How far values lie apart at most.
pub(super) fn range(values: impl Iterator<Item = f64>) -> f64 {
    let ends = values.fold((f64::MAX, f64::MIN), |(low, high), v| {
        (low.min(v), high.max(v))
    });
    (ends.1 - ends.0).max(0.0)
}

/// How far it is from one angle on to another; a whole turn where they agree.
fn turn(from: f64, to: f64, whole: f64) -> f64 {
    let turn = to - from;
    let turn = turn - whole * libm::floor(turn / whole);
    // An end that misses the start by rounding is the start.
    if turn <= 1e-9 * whole { whole } else { turn }
}

fn draw_elliptic(ellipse: &Elliptic, pen: &mut Pen<'_>) -> Result<(), Refusal> {
    let square = |v: Vec2| v.length_squared();
    // Without a radius it is not drawn.
    if !(square(ellipse.u) > 0.0 && square(ellipse.v) > 0.0) {
        return Ok(());
    }
    let (from, to) = ellipse.ends();
    let whole = ellipse.sweep.abs() >= TAU;
    pen.move_to(from)?;
    pen.elliptic(ellipse, if whole { from } else { to })?;
    if whole { pen.close() } else { pen.lift() }
}

/// A polyline, whose edges are as stated if the file says so; on a closed one the last bulge shapes the
/// closing edge.
pub(super) fn draw_polyline(
    vertices: &[Vertex],
    closed: bool,
    mut pen: Pen<'_>,
    is_stated: bool,
) -> Result<(), Refusal> {
    let Some(first) = vertices.first() else {
        return Ok(());
    };
    if is_stated {
        // Each edge is of one piece.
        let pieces = vertices.len() - usize::from(!closed);
        pen = pen.stating(Some(vec![1; pieces]));
    }
    pen.move_to(first.at)?;
    let ends = vertices.iter().skip(1).chain(closed.then_some(first));
    for (from, to) in vertices.iter().zip(ends) {
        if from.bulge == 0.0 {
            pen.line_to(to.at)?;
        } else {
            // The bulge is the tangent of a quarter of the included angle.
            pen.turn_to(to.at, 4.0 * libm::atan(from.bulge))?;
        }
    }
    if closed { pen.close() } else { pen.lift() }
}

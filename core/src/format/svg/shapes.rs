//! The shapes: where their lengths stand, and how the standard draws them.

use super::path::{PathPen, arc};
use super::style::Style;
use super::viewport::{self, Viewport};
use crate::Refusal;
use crate::format::drawing::{Elliptic, Pen, Stated, stated};
use crate::geom::Point;
use crate::limits::MAX_COORDINATE;
use roxmltree::Node;

/// Elements that are drawn.
pub(super) const SHAPES: [&str; 7] = [
    "path", "polyline", "polygon", "line", "rect", "circle", "ellipse",
];

/// A shape with all that is said of it.
pub(super) struct Shape<'s, 'a, 'input> {
    pub(super) node: &'s Node<'a, 'input>,
    pub(super) style: &'s Style<'a>,
    pub(super) viewport: &'s Viewport,
}

impl Shape<'_, '_, '_> {
    /// A length in user units, as a property or an attribute says it; a percentage is of `whole`.
    pub(super) fn length(&self, name: &str, whole: f64) -> Result<Option<f64>, Refusal> {
        let said = self.style.get(name).or_else(|| self.node.attribute(name));
        let Some(text) = said.filter(|t| t.trim() != "auto") else {
            return Ok(None);
        };
        let length = viewport::length(text).and_then(|l| self.viewport.user(l, whole));
        length
            .map(Some)
            .map_err(|problem| Refusal::File(format!("{name}: {problem}")))
    }

    fn length_or_zero(&self, name: &str, whole: f64) -> Result<f64, Refusal> {
        Ok(self.length(name, whole)?.unwrap_or(0.0))
    }

    /// Draws it; what is wrong with it where it had to be broken off.
    pub(super) fn draw(&self, pen: Pen<'_>) -> Result<Option<String>, Refusal> {
        match self.node.tag_name().name() {
            "path" => self.path(pen),
            "polyline" => self.points(pen, false),
            "polygon" => self.points(pen, true),
            "line" => self.line(pen).map(|()| None),
            "rect" => self.rectangle(pen).map(|()| None),
            _ => self.round(pen).map(|()| None),
        }
    }

    fn path(&self, pen: Pen<'_>) -> Result<Option<String>, Refusal> {
        let said = self.style.get("d").unwrap_or_default();
        // CSS writes path("M 0 0 …").
        let data = match said.strip_prefix("path(") {
            Some(inside) => inside
                .trim_end_matches(')')
                .trim()
                .trim_matches(['"', '\'']),
            None => said,
        };
        if data.is_empty() || data == "none" {
            return Ok(None);
        }
        let stated = self.node.attribute(stated::ATTRIBUTE);
        PathPen::new(pen.stating(stated.and_then(stated::pieces))).draw(data)
    }

    fn points(&self, mut pen: Pen<'_>, closed: bool) -> Result<Option<String>, Refusal> {
        let text = self.node.attribute("points").unwrap_or_default();
        let mut broken = None;
        let mut x = None;
        let mut count = 0;
        for number in svgtypes::NumberListParser::from(text) {
            let number = match number {
                Ok(number) => number,
                Err(e) => {
                    broken = Some(format!("the points are broken: {e}"));
                    break;
                }
            };
            let Some(x) = x.take() else {
                x = Some(number);
                continue;
            };
            count += 1;
            if count == 1 {
                pen.move_to(Point::new(x, number))?;
            } else {
                pen.line_to(Point::new(x, number))?;
            }
        }
        if x.is_some() && broken.is_none() {
            broken = Some("the points end with an x without its y".into());
        }
        if closed && count > 1 {
            pen.close()?;
        }
        pen.lift().map(|()| broken)
    }

    fn line(&self, mut pen: Pen<'_>) -> Result<(), Refusal> {
        let Viewport { width, height, .. } = *self.viewport;
        let end = |x, y| {
            Ok(Point::new(
                self.length_or_zero(x, width)?,
                self.length_or_zero(y, height)?,
            ))
        };
        let from: Result<Point, Refusal> = end("x1", "y1");
        pen.move_to(from?)?;
        let to: Result<Point, Refusal> = end("x2", "y2");
        pen.line_to(to?)?;
        pen.lift()
    }

    fn rectangle(&self, mut pen: Pen<'_>) -> Result<(), Refusal> {
        let Viewport { width, height, .. } = *self.viewport;
        let (x, y) = (
            self.length_or_zero("x", width)?,
            self.length_or_zero("y", height)?,
        );
        let w = self.length_or_zero("width", width)?;
        let h = self.length_or_zero("height", height)?;
        let rx = valid(self.length("rx", width)?);
        let ry = valid(self.length("ry", height)?);
        // A rectangle without width or height is not drawn.
        if !(w > 0.0 && h > 0.0) {
            return Ok(());
        }
        let rx_said = rx.or(ry).unwrap_or(0.0);
        let ry_said = ry.or(rx).unwrap_or(0.0);
        let radii = (rx_said.min(0.5 * w), ry_said.min(0.5 * h));
        rounded(&mut pen, (x, y, w, h), radii)
    }

    fn round(&self, mut pen: Pen<'_>) -> Result<(), Refusal> {
        let viewport = self.viewport;
        let cx = self.length_or_zero("cx", viewport.width)?;
        let cy = self.length_or_zero("cy", viewport.height)?;
        let (rx, ry) = if self.node.tag_name().name() == "circle" {
            let r = self.length("r", viewport.diagonal())?;
            (r, r)
        } else {
            let rx = valid(self.length("rx", viewport.width)?);
            let ry = valid(self.length("ry", viewport.height)?);
            (rx.or(ry), ry.or(rx))
        };
        let (rx, ry) = (rx.unwrap_or(0.0), ry.unwrap_or(0.0));
        // Without a radius it is not drawn.
        if !(rx > 0.0 && ry > 0.0) {
            return Ok(());
        }
        if rx.max(ry) > MAX_COORDINATE {
            return Err(Refusal::File(format!(
                "a radius of {} is too large",
                rx.max(ry)
            )));
        }
        let whole = Elliptic::whole(Point::new(cx, cy), rx, ry);
        let start = Point::new(cx + rx, cy);
        pen.move_to(start)?;
        pen.elliptic(&whole, start)?;
        pen.close()
    }
}

/// A radius; below 0 it is not valid, and the other one serves for both.
fn valid(radius: Option<f64>) -> Option<f64> {
    radius.filter(|r| *r >= 0.0)
}

/// A rectangle with corners rounded by quarter ellipses, in the direction the standard gives.
fn rounded(
    pen: &mut Pen<'_>,
    (x, y, w, h): (f64, f64, f64, f64),
    (rx, ry): (f64, f64),
) -> Result<(), Refusal> {
    let p = Point::new;
    let ends = [
        (p(x + rx, y), p(x + w - rx, y), p(x + w, y + ry)),
        (p(x + w, y + ry), p(x + w, y + h - ry), p(x + w - rx, y + h)),
        (p(x + w - rx, y + h), p(x + rx, y + h), p(x, y + h - ry)),
        (p(x, y + h - ry), p(x, y + ry), p(x + rx, y)),
    ];
    pen.move_to(p(x + rx, y))?;
    for (from, straight, turned) in ends {
        if from != straight {
            pen.line_to(straight)?;
        }
        if rx > 0.0 && ry > 0.0 {
            arc(
                pen,
                &Stated {
                    from: straight,
                    to: turned,
                    radii: (rx, ry),
                    rotation: 0.0,
                    large: false,
                    positive: true,
                },
            )?;
        }
    }
    pen.close()
}

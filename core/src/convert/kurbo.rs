//! To and from the shapes of kurbo. Angles run from +x towards +y on both sides, so a positive sweep
//! stays positive.

use crate::geom::{Arc, Edge, Line, Point, Vec2};
use crate::outline::{Circle, Path};
use kurbo::{BezPath, PathEl};

impl From<kurbo::Point> for Point {
    fn from(p: kurbo::Point) -> Self {
        Self::new(p.x, p.y)
    }
}

impl From<Point> for kurbo::Point {
    fn from(p: Point) -> Self {
        Self::new(p.x, p.y)
    }
}

impl From<kurbo::Vec2> for Vec2 {
    fn from(v: kurbo::Vec2) -> Self {
        Self::new(v.x, v.y)
    }
}

impl From<Vec2> for kurbo::Vec2 {
    fn from(v: Vec2) -> Self {
        Self::new(v.x, v.y)
    }
}

impl From<kurbo::Line> for Line {
    fn from(l: kurbo::Line) -> Self {
        Self {
            from: l.p0.into(),
            to: l.p1.into(),
        }
    }
}

impl From<Line> for kurbo::Line {
    fn from(l: Line) -> Self {
        Self::new(l.from, l.to)
    }
}

impl From<Arc> for kurbo::Arc {
    fn from(a: Arc) -> Self {
        Self::new(
            a.center,
            (a.radius, a.radius),
            a.start_angle(),
            a.sweep,
            0.0,
        )
    }
}

impl From<kurbo::Circle> for Circle {
    /// Travelled counter-clockwise, as the outside of a part is.
    fn from(c: kurbo::Circle) -> Self {
        Self {
            center: c.center.into(),
            radius: c.radius.abs(),
            counter_clockwise: true,
        }
    }
}

impl From<Circle> for kurbo::Circle {
    fn from(c: Circle) -> Self {
        Self::new(c.center, c.radius)
    }
}

impl Path {
    /// The course as a Bézier path: lines exactly, arcs as cubics that leave them by no more than `tolerance` mm.
    /// The path passes through every corner bit for bit; a closed course ends with
    /// [`PathEl::ClosePath`].
    #[must_use]
    pub fn to_bez_path(&self, tolerance: f64) -> BezPath {
        let mut out = BezPath::new();
        for edge in self.edges() {
            if out.elements().is_empty() {
                out.move_to(edge.from());
            }
            match edge {
                Edge::Line(line) => out.line_to(line.to),
                Edge::Arc(arc) => append_arc(&mut out, &arc, tolerance),
            }
        }
        if self.is_closed() && !out.elements().is_empty() {
            out.close_path();
        }
        out
    }
}

/// The arc's cubics; the last ends in the arc's own end, which angles alone would miss by a rounding.
fn append_arc(out: &mut BezPath, arc: &Arc, tolerance: f64) {
    let cubics = kurbo::Arc::from(*arc).append_iter(tolerance.max(1e-9 * arc.radius));
    let mut cubics: Vec<PathEl> = cubics.collect();
    if let Some(PathEl::CurveTo(_, _, end)) = cubics.last_mut() {
        *end = arc.to.into();
    }
    out.extend(cubics);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outline::{Chain, Shape};
    use kurbo::{ParamCurve as _, Shape as _};

    /// A plate with one round corner of 10 mm.
    fn plate() -> Path {
        Path::Chain(Chain {
            corners: [
                (0.0, 0.0),
                (60.0, 0.0),
                (60.0, 30.0),
                (50.0, 40.0),
                (0.0, 40.0),
            ]
            .map(|(x, y)| Point::new(x, y))
            .to_vec(),
            shapes: vec![
                Shape::Line,
                Shape::Line,
                Shape::Arc {
                    sweep: core::f64::consts::FRAC_PI_2,
                },
                Shape::Line,
                Shape::Line,
            ],
        })
    }

    #[test]
    fn a_path_keeps_its_corners_its_area_and_its_way_round() {
        let bez = plate().to_bez_path(1e-6);
        assert!((bez.area() - plate().area()).abs() < 1e-3, "{}", bez.area());
        assert!((bez.perimeter(1e-6) - plate().length()).abs() < 1e-4);
        let ends: Vec<Point> = bez.segments().map(|s| s.end().into()).collect();
        for corner in [(60.0, 0.0), (60.0, 30.0), (50.0, 40.0), (0.0, 40.0)] {
            assert!(ends.contains(&Point::from([corner.0, corner.1])));
        }
    }

    #[test]
    fn an_arc_goes_where_it_went() {
        let from = Point::new(3.0, 1.0);
        for sweep in [0.3, -2.0, 5.0] {
            let arc = Arc::from_sweep(from, Point::new(-4.0, 2.5), sweep).expect("an arc");
            for cubic in kurbo::Arc::from(arc).append_iter(1e-6) {
                let PathEl::CurveTo(_, _, end) = cubic else {
                    panic!("{cubic:?}");
                };
                let off = Edge::Arc(arc).distance(end.into());
                assert!(off < 1e-9, "{sweep}: {off}");
            }
        }
    }
}

//! To and from the shapes of geo-types, which the geo crates share.

use crate::geom::{Line, Point};
use crate::outline::nesting::parents;
use crate::outline::{Chain, Loop, Outline, Path, Role, Shape};
use crate::trace::{Stroke, Trace};
use geo_types::{Coord, LineString, MultiPolygon, Polygon};
use std::collections::BTreeMap;

impl From<Coord<f64>> for Point {
    fn from(c: Coord<f64>) -> Self {
        Self::new(c.x, c.y)
    }
}

impl From<Point> for Coord<f64> {
    fn from(p: Point) -> Self {
        Self { x: p.x, y: p.y }
    }
}

impl From<geo_types::Point<f64>> for Point {
    fn from(p: geo_types::Point<f64>) -> Self {
        p.0.into()
    }
}

impl From<Point> for geo_types::Point<f64> {
    fn from(p: Point) -> Self {
        Self(p.into())
    }
}

impl From<geo_types::Line<f64>> for Line {
    fn from(l: geo_types::Line<f64>) -> Self {
        Self {
            from: l.start.into(),
            to: l.end.into(),
        }
    }
}

impl From<Line> for geo_types::Line<f64> {
    fn from(l: Line) -> Self {
        Self::new(Coord::from(l.from), Coord::from(l.to))
    }
}

/// Points as a hand left them, still to be read.
impl From<&LineString<f64>> for Stroke {
    fn from(points: &LineString<f64>) -> Self {
        Self::new(points.coords().map(|c| (*c).into()).collect())
    }
}

/// A trace of one stroke, still to be read.
impl From<&LineString<f64>> for Trace {
    fn from(points: &LineString<f64>) -> Self {
        Self {
            strokes: vec![points.into()],
            drawn: Vec::new(),
        }
    }
}

/// Edge by edge as it is; one that ends where it starts is closed.
impl From<&LineString<f64>> for Path {
    fn from(points: &LineString<f64>) -> Self {
        let mut corners: Vec<Point> = points.coords().map(|c| (*c).into()).collect();
        // Neighbours in one place make no edge.
        corners.dedup();
        let closed = corners.len() > 2 && corners.first() == corners.last();
        if closed {
            corners.pop();
        }
        let edges = corners.len().saturating_sub(usize::from(!closed));
        Self::Chain(Chain {
            corners,
            shapes: vec![Shape::Line; edges],
        })
    }
}

/// One part with its holes, each running the way its role asks.
impl From<&Polygon<f64>> for Outline {
    fn from(polygon: &Polygon<f64>) -> Self {
        let course = |ring: &LineString<f64>, role: Role| {
            let path = Path::from(ring);
            let runs_well = (path.area() > 0.0) == (role == Role::Part);
            Loop {
                role,
                path: if runs_well { path } else { path.reversed() },
                deviation: None,
            }
        };
        let holes = polygon.interiors().iter();
        let rings = core::iter::once(course(polygon.exterior(), Role::Part))
            .chain(holes.map(|ring| course(ring, Role::Hole)));
        Self {
            loops: rings.filter(|l| l.path.is_closed()).collect(),
            marks: Vec::new(),
        }
    }
}

/// All parts, one after the other.
impl From<&MultiPolygon<f64>> for Outline {
    fn from(polygons: &MultiPolygon<f64>) -> Self {
        let loops = polygons.iter().flat_map(|p| Self::from(p).loops).collect();
        Self {
            loops,
            marks: Vec::new(),
        }
    }
}

impl Path {
    /// The course in chords, none further from it than `tolerance` mm; a closed one ends where it starts.
    #[must_use]
    pub fn to_line_string(&self, tolerance: f64) -> LineString<f64> {
        self.flatten(tolerance)
            .into_iter()
            .map(Coord::from)
            .collect()
    }
}

impl Outline {
    /// Parts with the holes that lie in them, in chords no further from them than `tolerance` mm. Open
    /// paths and marks bound nothing and are left out. A hole belongs to the smallest part it lies in.
    #[must_use]
    pub fn to_multi_polygon(&self, tolerance: f64) -> MultiPolygon<f64> {
        let around = parents(&self.loops);
        // Of the parts around a hole, the one that lies in most others is the nearest.
        let depth = |i: usize| around.get(i).and_then(Option::as_ref).map_or(0, Vec::len);
        let is_part = |i: &usize| self.loops.get(*i).is_some_and(|l| l.role == Role::Part);
        let chords = |l: &Loop| l.path.to_line_string(tolerance);
        let mut holes: BTreeMap<usize, Vec<LineString<f64>>> = BTreeMap::new();
        for (hole, around) in self.loops.iter().zip(&around) {
            let parts = around.iter().flatten().copied().filter(is_part);
            if let Some(part) = parts
                .max_by_key(|i| depth(*i))
                .filter(|_| hole.role == Role::Hole)
            {
                holes.entry(part).or_default().push(chords(hole));
            }
        }
        let loops = self.loops.iter().enumerate();
        let parts = loops.filter(|(_, l)| l.role == Role::Part);
        let polygon = |(i, part): (usize, &Loop)| {
            Polygon::new(chords(part), holes.remove(&i).unwrap_or_default())
        };
        parts.map(polygon).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outline::Circle;
    use geo_types::polygon;

    #[test]
    fn a_polygon_with_a_hole_goes_there_and_back() {
        // Both rings run the wrong way round for their roles.
        let plate = polygon!(
            exterior: [(x: 0.0, y: 0.0), (x: 0.0, y: 40.0), (x: 60.0, y: 40.0), (x: 60.0, y: 0.0)],
            interiors: [[(x: 10.0, y: 10.0), (x: 20.0, y: 10.0), (x: 20.0, y: 20.0)]],
        );
        let outline = Outline::from(&plate);
        outline.check_invariants().expect("sound");
        let areas: Vec<f64> = outline.loops.iter().map(|l| l.path.area()).collect();
        assert_eq!(areas, [2400.0, -50.0]);
        let back = outline.to_multi_polygon(0.01);
        assert_eq!(back.0.len(), 1);
        assert_eq!(back.0[0].interiors().len(), 1);
        assert_eq!(Outline::from(&back), outline);
    }

    #[test]
    fn a_circle_becomes_chords_within_the_tolerance() {
        let circle = Circle {
            center: Point::new(5.0, 5.0),
            radius: 20.0,
            counter_clockwise: true,
        };
        let chords = Path::Circle(circle).to_line_string(0.05);
        assert!(chords.is_closed() && chords.coords().count() > 20);
        for chord in chords.lines() {
            let middle = Point::from(chord.start_point()).midpoint(chord.end_point().into());
            let off = (middle.distance(circle.center) - 20.0).abs();
            assert!(off <= 0.05, "{off}");
        }
    }
}

//! How far geometry reaches, exactly: arcs by their quadrant points, not by samples.

use super::{Outline, Path};
use crate::geom::{Arc, Edge, Point, Vec2};
use crate::limits;
use core::f64::consts::{FRAC_PI_2, TAU};

/// The upright rectangle that just holds something, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Lower left corner.
    pub min: Point,
    /// Upper right corner.
    pub max: Point,
}

impl Bounds {
    /// The rectangle of one point.
    #[must_use]
    pub const fn of_point(p: Point) -> Self {
        Self { min: p, max: p }
    }

    /// The rectangle of points, or `None` where there are none.
    #[must_use]
    pub fn of_points<I: IntoIterator<Item = Point>>(points: I) -> Option<Self> {
        points
            .into_iter()
            .map(Self::of_point)
            .reduce(|a, b| a.union(&b))
    }

    /// The rectangle of an edge.
    #[must_use]
    pub fn of_edge(edge: &Edge) -> Self {
        let ends = Self::of_point(edge.from()).union(&Self::of_point(edge.to()));
        match edge {
            Edge::Line(_) => ends,
            Edge::Arc(arc) => quadrants(arc).fold(ends, |b, p| b.union(&Self::of_point(p))),
        }
    }

    /// The rectangle of a whole course; `None` where it has no edges.
    #[must_use]
    pub fn of_path(path: &Path) -> Option<Self> {
        Self::of_edges(&path.edges())
    }

    /// The rectangle of some edges; `None` of none.
    #[must_use]
    pub fn of_edges(edges: &[Edge]) -> Option<Self> {
        edges.iter().map(Self::of_edge).reduce(|a, b| a.union(&b))
    }

    /// The rectangle of all loops and marks; `None` where there are none.
    #[must_use]
    pub fn of_outline(outline: &Outline) -> Option<Self> {
        let loops = outline.loops.iter().filter_map(|l| Self::of_path(&l.path));
        let marks = outline.marks.iter().map(|m| Self::of_point(m.at));
        loops.chain(marks).reduce(|a, b| a.union(&b))
    }

    /// The rectangle that holds both.
    #[must_use]
    pub fn union(&self, other: &Self) -> Self {
        Self {
            min: Point::new(self.min.x.min(other.min.x), self.min.y.min(other.min.y)),
            max: Point::new(self.max.x.max(other.max.x), self.max.y.max(other.max.y)),
        }
    }

    /// A corner of it beyond [`limits::MAX_COORDINATE`].
    #[must_use]
    pub fn beyond_limits(&self) -> Option<Point> {
        [self.min, self.max]
            .into_iter()
            .find(|p| !limits::holds(*p))
    }

    /// The two have a point in common, with `gap` mm to spare.
    #[must_use]
    pub fn touches(&self, other: &Self, gap: f64) -> bool {
        self.min.x <= other.max.x + gap
            && other.min.x <= self.max.x + gap
            && self.min.y <= other.max.y + gap
            && other.min.y <= self.max.y + gap
    }

    /// Across, mm.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.max.x - self.min.x
    }

    /// Up, mm.
    #[must_use]
    pub fn height(&self) -> f64 {
        self.max.y - self.min.y
    }

    /// From corner to corner, mm.
    #[must_use]
    pub fn diagonal(&self) -> f64 {
        self.min.distance(self.max)
    }
}

/// The points of an arc that lie straight right, above, left or below its centre.
fn quadrants(arc: &Arc) -> impl Iterator<Item = Point> {
    let arc = *arc;
    let start = arc.start_angle();
    (0..4).filter_map(move |i| {
        let toward = f64::from(i) * FRAC_PI_2;
        let turned = (toward - start) * arc.sweep.signum();
        let turned = turned - TAU * libm::floor(turned / TAU);
        let axis = [
            Vec2::new(1.0, 0.0),
            Vec2::new(0.0, 1.0),
            Vec2::new(-1.0, 0.0),
            Vec2::new(0.0, -1.0),
        ];
        let axis = axis.get(usize::try_from(i).ok()?)?;
        (turned <= arc.sweep.abs()).then(|| arc.center + *axis * arc.radius)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_half_circle_reaches_as_far_as_its_top() {
        let arc = Arc::from_sweep(
            Point::new(10.0, 0.0),
            Point::new(-10.0, 0.0),
            core::f64::consts::PI,
        );
        let b = Bounds::of_edge(&Edge::Arc(arc.expect("ends differ")));
        assert!((b.max.y - 10.0).abs() < 1e-12, "{b:?}");
        assert!(b.min.y.abs() < 1e-12 && (b.width() - 20.0).abs() < 1e-12);
    }
}

//! What a clip path, a picture within the picture and the page leave to be seen: whether they take anything away.
//!
//! Programs put a clip as large as the page around everything, which means nothing. So a clip that is a
//! single upright rectangle is held against what is drawn under it; any other clip, and every mask, is
//! taken to hide something.

use super::shapes::{SHAPES, Shape};
use super::style::Sheet;
use super::transform;
use super::viewport::Viewport;
use crate::format::drawing::{Collector, Layer, Pen};
use crate::format::{Content, Wanted};
use crate::geom::{Edge, Point};
use crate::outline::Bounds;
use kurbo::Affine;
use roxmltree::Node;

/// What may be seen of a group or shape.
#[derive(Clone, Copy)]
pub(super) enum Clip {
    /// All that lies in this rectangle, which is upright after a map from mm.
    Within(Affine, Bounds),
    /// It is not known how much.
    Unknown,
}

/// What is left to be seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Leaves {
    All,
    Part,
    Nothing,
}

/// Longest path data that may be an upright rectangle, bytes.
const LONGEST: usize = 500;
/// Room for rounding, mm.
const ROOM: f64 = 0.01;

impl Clip {
    /// The clip that a `clipPath` element makes at a place.
    pub(super) fn of(
        node: &Node<'_, '_>,
        sheet: &Sheet<'_>,
        map: Affine,
        viewport: &Viewport,
    ) -> Self {
        let found = rectangle(node, sheet, map, viewport);
        found.map_or(Self::Unknown, |b| Self::Within(Affine::IDENTITY, b))
    }

    /// What shows of a picture that lies so.
    pub(super) fn page(to_mm: Affine, shows: Bounds) -> Option<Self> {
        let is_plain = to_mm.determinant() != 0.0 && to_mm.is_finite();
        is_plain.then(|| Self::Within(to_mm.inverse(), shows))
    }

    /// What it leaves of what was drawn since.
    pub(super) fn leaves(&self, out: &Collector, since: [usize; 3]) -> Leaves {
        let Self::Within(map, b) = self else {
            return match out.bounds_since(since, &Affine::IDENTITY) {
                Some(_) => Leaves::Part,
                None => Leaves::All,
            };
        };
        let Some(d) = out.bounds_since(since, map) else {
            return Leaves::All;
        };
        // Room for rounding, in the lengths of the rectangle.
        let room = ROOM * map.determinant().abs().sqrt();
        let within =
            |low: f64, high: f64, from: f64, to: f64| low >= from - room && high <= to + room;
        let beside =
            |low: f64, high: f64, from: f64, to: f64| high < from - room || low > to + room;
        if within(d.min.x, d.max.x, b.min.x, b.max.x) && within(d.min.y, d.max.y, b.min.y, b.max.y)
        {
            Leaves::All
        } else if beside(d.min.x, d.max.x, b.min.x, b.max.x)
            || beside(d.min.y, d.max.y, b.min.y, b.max.y)
        {
            Leaves::Nothing
        } else {
            Leaves::Part
        }
    }
}

/// The upright rectangle that the only shape of a clip path is.
fn rectangle(
    node: &Node<'_, '_>,
    sheet: &Sheet<'_>,
    map: Affine,
    viewport: &Viewport,
) -> Option<Bounds> {
    if node.tag_name().name() != "clipPath"
        || node.attribute("clipPathUnits") == Some("objectBoundingBox")
    {
        return None;
    }
    let mut shapes = node.children().filter(Node::is_element);
    let (shape, None) = (shapes.next()?, shapes.next()) else {
        return None;
    };
    // A rectangle is told in few words, and the clip is looked at wherever it is used.
    let is_long = |name: &str| shape.attribute(name).is_some_and(|v| v.len() > LONGEST);
    if !SHAPES.contains(&shape.tag_name().name()) || is_long("d") || is_long("points") {
        return None;
    }
    let mut map = map;
    for said in [node, &shape] {
        let style = sheet.of_element(said);
        if let Some(text) = style.get("transform") {
            map *= transform::of(text, style.get("transform-origin"), viewport).ok()?;
        }
    }
    let mut scratch = Collector::for_file(0, &Wanted::default());
    let pen = Pen::new(map, Layer::default(), &mut scratch);
    let drawn = Shape {
        node: &shape,
        style: &sheet.of_element(&shape),
        viewport,
    };
    drawn.draw(pen).ok()?;
    let Content::Trace(trace) = scratch.finish().ok()?.content else {
        return None;
    };
    let [chain] = trace.drawn.as_slice() else {
        return None;
    };
    let bounds = chain
        .iter()
        .map(Bounds::of_edge)
        .reduce(|a, b| a.union(&b))?;
    let on_side = |p: Point| {
        let near = |a: f64, b: f64| (a - b).abs() <= ROOM;
        near(p.x, bounds.min.x)
            || near(p.x, bounds.max.x)
            || near(p.y, bounds.min.y)
            || near(p.y, bounds.max.y)
    };
    let upright = chain
        .iter()
        .all(|e| matches!(e, Edge::Line(_)) && on_side(e.from()) && on_side(e.point_at(0.5)));
    upright.then_some(bounds)
}

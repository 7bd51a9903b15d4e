//! What a clip path leaves to be seen: whether it takes anything away.
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
    /// All that lies in this rectangle, mm.
    Within(Bounds),
    /// It is not known how much.
    Unknown,
}

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
        rectangle(node, sheet, map, viewport).map_or(Self::Unknown, Self::Within)
    }

    /// It takes nothing away from what reaches so far.
    pub(super) fn leaves(&self, drawn: Option<&Bounds>) -> bool {
        match (self, drawn) {
            (_, None) => true,
            (Self::Unknown, _) => false,
            (Self::Within(b), Some(d)) => {
                d.min.x >= b.min.x - ROOM
                    && d.min.y >= b.min.y - ROOM
                    && d.max.x <= b.max.x + ROOM
                    && d.max.y <= b.max.y + ROOM
            }
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
    if !SHAPES.contains(&shape.tag_name().name()) {
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

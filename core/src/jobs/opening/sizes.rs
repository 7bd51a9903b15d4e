//! The sizes of what was made: exact, and as a rule would measure them.

use crate::fit::partition::Kind;
use crate::outline::{Loop, Path, Shape};
use crate::relate::constraint::Constraint;
use crate::relate::figure::Figure;
use crate::relate::measures::of_edge;
use crate::report::{Size, SizeKind};

/// Every edge of a loop over all, a round opening and round ends by their diameter.
pub(super) fn of(loop_index: usize, l: &Loop) -> Vec<Size> {
    let edges = l.path.edges();
    let size = |kind, e: usize, value, t| Size {
        kind,
        loop_index,
        edges: vec![e],
        value,
        plus_minus: 0.0,
        fixed: true,
        at: edges
            .get(e)
            .map(|edge| edge.point_at(t))
            .unwrap_or_default(),
        hole: None,
        mark: None,
    };
    let chain = match &l.path {
        Path::Circle(c) => return vec![size(SizeKind::Diameter, 0, 2.0 * c.radius, 0.125)],
        Path::Chain(chain) => chain,
    };
    let bulge = |s: &Shape| match *s {
        Shape::Line => (Kind::Line, 0.0),
        Shape::Arc { sweep } => (Kind::Arc, libm::tan(0.25 * sweep)),
    };
    let (kinds, bulges) = chain.shapes.iter().map(bulge).unzip();
    let figure = Figure {
        corners: chain.corners.clone(),
        bulges,
        kinds,
        closed: chain.is_closed(),
    };
    let measured = |e: usize| {
        let (kind, terms) = of_edge(&figure, 0, e);
        let value = Constraint { terms, value: 0.0 }.off(&figure)?;
        Some(size(kind, e, value, 0.5))
    };
    (0..chain.shapes.len()).filter_map(measured).collect()
}

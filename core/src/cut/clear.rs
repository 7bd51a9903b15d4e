//! Asking quickly what lies near an edge: a packed tree of boxes (crate `static_aabb2d_index`) in
//! front of the exact distances of [`near`](crate::geom::near).

use crate::geom::near::{Nearest, nearest};
use crate::geom::{Edge, Line, Point};
use crate::outline::Bounds;
use static_aabb2d_index::{StaticAABB2DIndex, StaticAABB2DIndexBuilder};

/// Edges that know whose they are, ready to be asked.
pub struct Near {
    edges: Vec<(usize, Edge)>,
    tree: Option<StaticAABB2DIndex<f64>>,
}

/// One answer: whose edge, how near, where on the edge that asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hit {
    /// Owner of the edge found.
    pub owner: usize,
    /// Distance and place.
    pub nearest: Nearest,
}

impl Near {
    /// Of edges with their owners.
    #[must_use]
    pub fn new(edges: Vec<(usize, Edge)>) -> Self {
        let mut builder = StaticAABB2DIndexBuilder::new(edges.len());
        for (_, edge) in &edges {
            let e = Bounds::of_edge(edge);
            builder.add(e.min.x, e.min.y, e.max.x, e.max.y);
        }
        Self {
            tree: builder.build().ok().filter(|_| !edges.is_empty()),
            edges,
        }
    }

    /// Everything nearer to `edge` than `distance`, in a fixed order.
    #[must_use]
    pub fn within(&self, edge: &Edge, distance: f64) -> Vec<Hit> {
        let Some(tree) = &self.tree else {
            return Vec::new();
        };
        let e = Bounds::of_edge(edge);
        let mut found = tree.query(
            e.min.x - distance,
            e.min.y - distance,
            e.max.x + distance,
            e.max.y + distance,
        );
        found.sort_unstable();
        found
            .into_iter()
            .filter_map(|i| self.edges.get(i))
            .map(|(owner, other)| Hit {
                owner: *owner,
                nearest: nearest(edge, other),
            })
            .filter(|hit| hit.nearest.distance < distance)
            .collect()
    }

    /// Everything nearer to a place than `distance`, in a fixed order.
    #[must_use]
    pub fn within_of(&self, place: Point, distance: f64) -> Vec<Hit> {
        let (from, to) = (place, place);
        self.within(&Edge::Line(Line { from, to }), distance)
    }

    /// All edges with their owners.
    #[must_use]
    pub fn edges(&self) -> &[(usize, Edge)] {
        &self.edges
    }

    /// Edges of others near a box around `edge`, themselves.
    #[must_use]
    pub fn around(&self, edge: &Edge, distance: f64) -> Vec<(usize, Edge)> {
        let Some(tree) = &self.tree else {
            return Vec::new();
        };
        let e = Bounds::of_edge(edge);
        let mut found = tree.query(
            e.min.x - distance,
            e.min.y - distance,
            e.max.x + distance,
            e.max.y + distance,
        );
        found.sort_unstable();
        found
            .into_iter()
            .filter_map(|i| self.edges.get(i))
            .copied()
            .collect()
    }
}

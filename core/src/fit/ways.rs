//! The exact best ways through one stretch of a path.
//!
//! **Problem.** A partition is nearly right, and somewhere between two of its edges it has an edge too few or too
//! many, an arc for two lines, a chamfer for a fillet. **Idea.** From the middle of the one edge to the middle of the
//! other the best ways with every number of lines and arcs between them are found by the same programme as for
//! whole paths ([`super::partition`]), in the same table; whoever asks solves and prices them.
//!
//! **Fails** where a joint lies between nodes: the solve cuts joints again.
#![allow(
    clippy::indexing_slicing,
    reason = "tables are laid out for the stretch that is asked for"
)]

use super::partition::{Kind, SpanTable};

/// Most edges between the two that bound a stretch.
pub const BETWEEN: usize = 4;

/// A way through a stretch of a path: see [`SpanTable::ways`].
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Station and kind of each edge after the first.
    pub edges: Vec<(usize, Kind)>,
    /// mm³ of squared distance along the path.
    pub misfit: f64,
}

impl SpanTable {
    /// The node nearest to a station.
    #[must_use]
    pub fn node_near(&self, station: usize) -> usize {
        let after = self.nodes.partition_point(|&s| s < station);
        let n = self.nodes.len().max(1);
        let far = |k: usize| {
            let apart = self
                .nodes
                .get(k)
                .map_or(usize::MAX, |s| s.abs_diff(station));
            apart.min(self.stations.abs_diff(apart))
        };
        let (a, b) = ((after + n - 1) % n, after % n);
        if far(a) <= far(b) { a } else { b }
    }

    /// The station of a node.
    #[must_use]
    pub fn station_of(&self, node: usize) -> usize {
        self.nodes.get(node).copied().unwrap_or(0)
    }

    /// The exact best ways from node `from` to node `to` on a stretch that begins with an edge of the first kind
    /// and ends with one of the second: with every number of lines and arcs between these two, up to
    /// [`BETWEEN`] together; and as one edge where both kinds are one. Each is told by the nodes where its edges
    /// begin, the first aside.
    #[must_use]
    pub fn ways(&self, from: usize, to: usize, ends: (Kind, Kind)) -> Vec<Way> {
        let n = self.nodes.len();
        let steps = (to + n - from) % n.max(1);
        if steps == 0 || steps >= self.stride || (!self.closed && to < from) {
            return Vec::new();
        }
        let of = |i: usize, j: usize, kind: Kind| {
            let (line, arc) = self.span(from, i, j);
            if kind == Kind::Line { line } else { arc }
        };
        let mut least = vec![[[f64::INFINITY; BETWEEN + 1]; BETWEEN + 1]; steps + 1];
        for j in 1..=steps {
            least[j][0][0] = of(0, j, ends.0);
            for i in 1..j {
                let (line, arc) = self.span(from, i, j);
                for l in 0..=BETWEEN {
                    for a in 0..=BETWEEN - l {
                        let there = least[i][l][a];
                        if l + a < BETWEEN {
                            let (x, y) = (there + line, there + arc);
                            least[j][l + 1][a] = least[j][l + 1][a].min(x);
                            least[j][l][a + 1] = least[j][l][a + 1].min(y);
                        }
                    }
                }
            }
        }
        let mut out = Vec::new();
        if ends.0 == ends.1 {
            let misfit = of(0, steps, ends.0);
            out.push(Way {
                edges: Vec::new(),
                misfit,
            });
        }
        for l in 0..=BETWEEN {
            for a in 0..=BETWEEN - l {
                let last = (1..steps)
                    .map(|i| (least[i][l][a] + of(i, steps, ends.1), i))
                    .fold((f64::INFINITY, 0), |b, v| if v.0 < b.0 { v } else { b });
                if last.0.is_finite() {
                    let node = |i: usize| (from + i) % n;
                    let mut edges = vec![(self.nodes[node(last.1)], ends.1)];
                    self.back(&least, from, (last.1, l, a), &mut edges);
                    edges.reverse();
                    out.push(Way {
                        edges,
                        misfit: last.0,
                    });
                }
            }
        }
        out
    }

    /// Back from a node to the end of the first edge: the edge before each joint is the one whose sum comes out.
    fn back(
        &self,
        least: &[[[f64; BETWEEN + 1]; BETWEEN + 1]],
        from: usize,
        (mut j, mut l, mut a): (usize, usize, usize),
        edges: &mut Vec<(usize, Kind)>,
    ) {
        while l + a > 0 {
            let goal = least[j][l][a];
            let before = (1..j).find_map(|i| {
                let (line, arc) = self.span(from, i, j);
                if l > 0 && least[i][l - 1][a] + line <= goal {
                    Some((i, Kind::Line))
                } else if a > 0 && least[i][l][a - 1] + arc <= goal {
                    Some((i, Kind::Arc))
                } else {
                    None
                }
            });
            let Some((i, kind)) = before else { return };
            edges.push((self.nodes[(from + i) % self.nodes.len()], kind));
            match kind {
                Kind::Line => l -= 1,
                Kind::Arc => a -= 1,
            }
            j = i;
        }
    }
}

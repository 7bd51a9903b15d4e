//! Open lines that close an area between them by crossing, and run on beyond.
//!
//! *Problem.* Four lines that overrun a rectangle's corners are a common way to draw one, and are cut as four open lines:
//! the part falls out with a slit at every corner. Nothing in the file says whether that was meant.
//!
//! *Idea.* Lines that meet are of one group. One that meets a group it is of already closes something. Ends that meet
//! ends count for nothing: they were joined, or told where they could not be.

use super::course::JOIN;
use crate::geom::near::crossings;
use crate::geom::{Edge, Point};
use crate::outline::Bounds;
use crate::outline::nesting::index_of;
use crate::report::{About, Doubt};
use std::collections::BTreeSet;

/// Most groups that are told one by one.
const MOST_TOLD: usize = 3;

/// An edge, the number of its line, whether it is the first or the last of it, and how long the line is before it.
struct Piece<'a> {
    edge: &'a Edge,
    line: usize,
    ends: [bool; 2],
    before: f64,
}

impl Piece<'_> {
    fn is_end(&self, p: Point) -> bool {
        let [first, last] = self.ends;
        let near = |q: Point| q.distance(p) <= JOIN;
        (first && near(self.edge.from())) || (last && near(self.edge.to()))
    }

    /// Where its line ends on the other or crosses it.
    fn meets(&self, other: &Self) -> Option<Point> {
        let crossed = crossings(self.edge, other.edge);
        let ends = |a: &Self, b: &Self| {
            let [first, last] = a.ends;
            let ends = [first.then(|| a.edge.from()), last.then(|| a.edge.to())];
            ends.into_iter()
                .flatten()
                .find(|p| b.edge.distance(*p) <= JOIN)
        };
        let touched = ends(self, other).or_else(|| ends(other, self));
        let mut places = crossed.into_iter().chain(touched);
        // A corner within a line is met once, by the edge that leaves it.
        let again = |a: &Self, p: Point| !a.ends[1] && a.edge.to().distance(p) <= JOIN;
        places.find(|p| {
            let ends_meet = self.is_end(*p) && other.is_end(*p);
            !(ends_meet || again(self, *p) || again(other, *p))
        })
    }
}

/// One place of every group of open lines that encloses something.
pub(super) fn enclosing(lines: &[&[Edge]]) -> Vec<Point> {
    let mut pieces: Vec<Piece<'_>> = Vec::new();
    for (line, edges) in lines.iter().enumerate() {
        let last = edges.len().saturating_sub(1);
        let mut before = 0.0;
        for (i, edge) in edges.iter().enumerate() {
            pieces.push(Piece {
                edge,
                line,
                ends: [i == 0, i == last],
                before,
            });
            before += edge.length();
        }
    }
    let bounds: Vec<Bounds> = pieces.iter().map(|p| Bounds::of_edge(p.edge)).collect();
    let Some(index) = index_of(bounds.iter().copied()) else {
        return Vec::new();
    };
    let mut group: Vec<usize> = (0..lines.len()).collect();
    let mut closed: Vec<(usize, Point)> = Vec::new();
    for (i, (piece, b)) in pieces.iter().zip(&bounds).enumerate() {
        let near = index.query(
            b.min.x - JOIN,
            b.min.y - JOIN,
            b.max.x + JOIN,
            b.max.y + JOIN,
        );
        for (k, other) in near.into_iter().filter_map(|k| Some((k, pieces.get(k)?))) {
            // Each pair once; what follows at once shares a corner.
            let between = other.before - piece.before - piece.edge.length();
            if k <= i || (other.line == piece.line && between <= 4.0 * JOIN) {
                continue;
            }
            let Some(at) = piece.meets(other) else {
                continue;
            };
            let (a, b) = (root(&mut group, piece.line), root(&mut group, other.line));
            if a == b {
                closed.push((a, at));
            } else if let Some(slot) = group.get_mut(b) {
                *slot = a;
            }
        }
    }
    let mut told = BTreeSet::new();
    let first = closed
        .into_iter()
        .filter(|(a, _)| told.insert(root(&mut group, *a)));
    first.map(|(_, at)| at).collect()
}

/// The line that stands for the group of another.
fn root(group: &mut [usize], line: usize) -> usize {
    let mut at = line;
    while let Some(next) = group.get(at).copied().filter(|next| *next != at) {
        // Shorter from now on.
        let further = group.get(next).copied().unwrap_or(next);
        if let Some(slot) = group.get_mut(at) {
            *slot = further;
        }
        at = further;
    }
    at
}

/// What to know of them.
pub(super) fn doubts(places: &[Point]) -> Vec<Doubt> {
    let text = "open lines cross here, enclose an area between them and run on beyond it: all are cut as drawn, open; \
                if an outline is meant, end each line where it meets the next";
    Doubt::first_of(About::Closing, places, MOST_TOLD, text, |n| {
        format!("open lines enclose areas by crossing at {n} more places")
    })
}

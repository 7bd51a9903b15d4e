//! Numbers that a person can name things by: edges and their corners through all loops, and holes.
//!
//! An edge of a loop that is no circle has a number, and the corner where it starts has the same. Circles and marks have
//! numbers of their own. They change when the trace is read again in another way; a place does not.

use super::{Outline, Path};
use crate::geom::{Edge, Point};

/// What a number names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Numbered {
    /// An edge.
    Edge,
    /// The corner where the edge of this number starts.
    Corner,
    /// A whole circle or a mark.
    Hole,
}

/// A thing with its number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Number {
    /// What it is.
    pub what: Numbered,
    /// Its number among those, from 1.
    pub number: usize,
    /// The loop it belongs to; of a mark none.
    pub loop_index: Option<usize>,
    /// Its number in that loop, from 0; of a mark its number among marks.
    pub index: usize,
    /// A place that names it to a hint.
    pub at: Point,
}

/// All numbers of an outline.
#[must_use]
pub fn numbers(outline: &Outline) -> Vec<Number> {
    let mut out = Vec::new();
    let (mut edges, mut holes) = (0, 0);
    for (loop_index, l) in outline.loops.iter().enumerate() {
        let all = l.path.edges();
        if let (Path::Circle(c), [_]) = (&l.path, all.as_slice()) {
            holes += 1;
            out.push(Number {
                what: Numbered::Hole,
                number: holes,
                loop_index: Some(loop_index),
                index: 0,
                at: Point::new(c.center.x + c.radius, c.center.y),
            });
            continue;
        }
        for (index, edge) in all.iter().enumerate() {
            edges += 1;
            let of = |what, at| Number {
                what,
                number: edges,
                loop_index: Some(loop_index),
                index,
                at,
            };
            out.push(of(Numbered::Edge, edge.point_at(0.5)));
            if index > 0 || l.path.is_closed() {
                out.push(of(Numbered::Corner, Edge::from(edge)));
            }
        }
    }
    for (index, m) in outline.marks.iter().enumerate() {
        holes += 1;
        out.push(Number {
            what: Numbered::Hole,
            number: holes,
            loop_index: None,
            index,
            at: m.at,
        });
    }
    out
}

//! Whether more lies over one another than anybody cuts.
//!
//! Who crosses whom and what lies in what costs time by the number of pairs that come near one another. For
//! things that are cut these are few, a small multiple of the edges. A star of twenty thousand crossing edges has two
//! hundred million. Such a drawing is refused before anything is asked of it; counting stops at the limit.

use super::Bounds;
use super::nesting::{encloses, index_of};
use crate::Refusal;
use crate::geom::Edge;
use crate::limits::{MAX_MEETINGS, MAX_NESTED};

/// Counts pairs of boxes up to a limit; the number of the box at which the limit is passed.
fn passed(
    boxes: &[Bounds],
    most: usize,
    counts: impl Fn(&Bounds, &Bounds) -> bool,
) -> Option<usize> {
    let index = index_of(boxes.iter().copied())?;
    let mut pairs = 0;
    for (i, a) in boxes.iter().enumerate() {
        let near = index.query(a.min.x, a.min.y, a.max.x, a.max.y);
        let others = near
            .iter()
            .filter(|j| **j != i)
            .filter_map(|j| boxes.get(*j));
        pairs += others.filter(|b| counts(a, b)).count();
        if pairs > most {
            return Some(i);
        }
    }
    None
}

/// Refuses chains of edges that meet in more pairs, or lie in one another more deeply, than the limits.
///
/// # Errors
/// Names the limit that is passed and a place.
pub fn refuse_crowds<'a, I>(chains: I) -> Result<(), Refusal>
where
    I: Iterator<Item = &'a [Edge]> + Clone,
{
    let edges: Vec<Bounds> = chains.clone().flatten().map(Bounds::of_edge).collect();
    // Each pair is seen from both sides.
    if let Some(at) = passed(&edges, 2 * MAX_MEETINGS, |_, _| true).and_then(|i| edges.get(i)) {
        return Err(Refusal::File(format!(
            "its edges lie over one another in more than {MAX_MEETINGS} pairs, the first near ({:.1}, {:.1}) mm: \
             that is a pattern or a fill, and nothing that can be cut",
            at.min.x, at.min.y
        )));
    }
    let is_closed =
        |c: &&[Edge]| matches!((c.first(), c.last()), (Some(a), Some(b)) if a.from() == b.to());
    let bounds = |c: &[Edge]| c.iter().map(Bounds::of_edge).reduce(|a, b| a.union(&b));
    let loops: Vec<Bounds> = chains.filter(is_closed).filter_map(bounds).collect();
    if let Some(at) = passed(&loops, MAX_NESTED, |a, b| encloses(b, a)).and_then(|i| loops.get(i)) {
        return Err(Refusal::File(format!(
            "its outlines lie in one another in more than {MAX_NESTED} pairs, the first near ({:.1}, {:.1}) mm: \
             that is a pattern or a fill, and nothing that can be cut",
            at.min.x, at.min.y
        )));
    }
    Ok(())
}

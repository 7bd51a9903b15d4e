//! One thing said twice: two sizes of it cannot both be meant.
//!
//! A page that says a size anew means the later one. On one command line and in one file of hints nobody does:
//! one of the two is a slip, and which one cannot be known.

use std::collections::BTreeMap;
use trued::geom::{Edge, Point};
use trued::hint::{CornerKind, Hint, Says};
use trued::outline::numbers::{Number, Numbered, numbers};
use trued::{Outline, Refusal, Units};

/// Sizes nearer than this to one another are one, mm.
const SAME: f64 = 1e-6;

/// What is said of a thing.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Of {
    Length,
    /// By its diameter.
    Round,
    Corner,
    Distance,
}

/// How a hint could be said twice: of what, and its size, mm.
fn sized(says: &Says) -> Option<(Of, f64)> {
    match says {
        Says::Size(v) | Says::Scale(v) => Some((Of::Length, *v)),
        Says::Diameter(v) | Says::Hole(v, _) => Some((Of::Round, *v)),
        Says::Radius(v) => Some((Of::Round, 2.0 * v)),
        Says::Corner(CornerKind::Radius(v)) => Some((Of::Corner, *v)),
        Says::Distance(v, _) => Some((Of::Distance, *v)),
        _ => None,
    }
}

/// Whether any two of these hints could say different sizes of one thing.
pub fn may_differ(hints: &[Hint]) -> bool {
    let all: Vec<f64> = hints
        .iter()
        .filter_map(|h| sized(&h.says))
        .map(|s| s.1)
        .collect();
    all.iter().any(|v| all.iter().any(|w| (v - w).abs() > SAME))
}

/// Refuses two sizes of one thing; places are those of the outline.
///
/// # Errors
/// Names the thing and both sizes.
pub fn check(hints: &[Hint], outline: &Outline, units: Units) -> Result<(), Refusal> {
    let all = numbers(outline);
    let mut known: BTreeMap<(Of, usize, usize), (f64, f64)> = BTreeMap::new();
    for hint in hints {
        let Some((of, v)) = sized(&hint.says) else {
            continue;
        };
        let wanted = |n: &&Number| match of {
            Of::Corner => n.what == Numbered::Corner,
            Of::Round => {
                n.what == Numbered::Hole || (n.what == Numbered::Edge && is_arc(outline, n))
            }
            _ => n.what != Numbered::Corner,
        };
        let nearest = |at: Point| {
            let near = all.iter().enumerate().filter(|(_, n)| wanted(n));
            near.map(|(i, n)| (i, far(outline, n, at)))
                .min_by(|a, b| a.1.total_cmp(&b.1))
                .map(|(i, _)| i)
        };
        let Some(first) = nearest(hint.at) else {
            continue;
        };
        let second = match &hint.says {
            Says::Distance(_, to) => nearest(*to).unwrap_or(first),
            _ => first,
        };
        let thing = |i: usize| all.get(i).map(|n| name(outline, n)).unwrap_or_default();
        // The size of a circle is its diameter.
        let round = all.get(first).is_some_and(|n| n.what == Numbered::Hole);
        let of = if of == Of::Length && round {
            Of::Round
        } else {
            of
        };
        let halves = matches!(hint.says, Says::Radius(_));
        let said = if halves { 0.5 * v } else { v };
        let key = (of, first.min(second), first.max(second));
        match known.get(&key) {
            Some((other, other_said)) if (other - v).abs() > SAME => {
                let what = match of {
                    Of::Distance => {
                        format!("the distance of {} from {}", thing(first), thing(second))
                    }
                    _ => thing(first),
                };
                return Err(Refusal::File(units.said(&format!(
                    "{what} is given as {other_said} mm and as {said} mm: say one"
                ))));
            }
            Some(_) => {}
            None => {
                known.insert(key, (v, said));
            }
        }
    }
    Ok(())
}

fn edge_of(outline: &Outline, n: &Number) -> Option<Edge> {
    let l = outline.loops.get(n.loop_index?)?;
    l.path.edges().get(n.index).copied()
}

fn is_arc(outline: &Outline, n: &Number) -> bool {
    matches!(edge_of(outline, n), Some(Edge::Arc(_)))
}

/// How far a place is from a thing with a number.
fn far(outline: &Outline, n: &Number, at: Point) -> f64 {
    match edge_of(outline, n).filter(|_| n.what != Numbered::Corner) {
        Some(edge) => edge.distance(at),
        None => n.at.distance(at),
    }
}

fn name(outline: &Outline, n: &Number) -> String {
    match n.what {
        Numbered::Edge if is_arc(outline, n) => format!("edge {}", n.number),
        Numbered::Edge => format!("side {}", n.number),
        Numbered::Corner => format!("corner c{}", n.number),
        Numbered::Hole => format!("hole h{}", n.number),
    }
}

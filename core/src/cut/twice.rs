//! Lines that lie on one another: the same piece given twice.
//!
//! A torch that runs round a piece once more burns its edge. The paths of two such pieces keep half a kerf from
//! either line, so nothing else sees them.

use super::clear::Near;
use super::plan::{Warning, WarningKind, name};
use super::settings::CutSettings;
use crate::geom::near::inside;
use crate::geom::{Edge, Point, Sorted as _};
use crate::outline::{Bounds, Loop, Outline, Role};

/// So many places of an edge are looked at.
const PLACES: u32 = 8;

/// Names every two loops that are the same one at one place, and gives their numbers.
pub(super) fn find(
    outline: &Outline,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) -> Vec<(usize, usize)> {
    let near = 0.5 * settings.kerf;
    let boxed = |(i, l): (usize, &Loop)| Bounds::of_path(&l.path).map(|b| (i, b));
    let mut all: Vec<(usize, Bounds)> =
        outline.loops.iter().enumerate().filter_map(boxed).collect();
    all.order_by(|a, b| a.1.min.x.total_cmp(&b.1.min.x));
    let mut pairs = Vec::new();
    for (k, (i, a)) in all.iter().enumerate() {
        let rest = all.iter().skip(k + 1);
        for (j, b) in rest.take_while(|(_, b)| b.min.x - a.min.x <= near) {
            let alike = a.min.distance(b.min).max(a.max.distance(b.max)) <= near;
            if alike && is_one(outline, *i, *j, near) {
                pairs.push((*i.min(j), *i.max(j)));
            }
        }
    }
    pairs.order_by(|a, b| a.cmp(b));
    tell(outline, &pairs, warnings);
    pairs
}

/// Each lies on the other all along.
fn is_one(outline: &Outline, i: usize, j: usize, near: f64) -> bool {
    let (Some(a), Some(b)) = (outline.loops.get(i), outline.loops.get(j)) else {
        return false;
    };
    a.role == b.role && lies_on(a, b, near) && lies_on(b, a, near)
}

fn lies_on(a: &Loop, b: &Loop, near: f64) -> bool {
    let line = Near::new(b.path.edges().into_iter().map(|e| (0, e)).collect());
    let places = a.path.edges().into_iter();
    let mut places = places
        .flat_map(|e| (0..=PLACES).map(move |k| e.point_at(f64::from(k) / f64::from(PLACES))));
    places.all(|p| !line.within_of(p, near).is_empty())
}

/// What lies in a piece that is told twice goes with it.
fn tell(outline: &Outline, pairs: &[(usize, usize)], warnings: &mut Vec<Warning>) {
    let of = |i: usize| outline.loops.get(i);
    let is_part = |i: usize| of(i).is_some_and(|l| l.role == Role::Part);
    let edges = |i: usize| of(i).map(|l| l.path.edges()).unwrap_or_default();
    let parts: Vec<Vec<Edge>> = pairs
        .iter()
        .filter(|p| is_part(p.0))
        .map(|p| edges(p.0))
        .collect();
    for &(i, j) in pairs {
        let at = edges(i).first().map_or(Point::default(), Edge::from);
        if !is_part(i) && parts.iter().any(|p| inside(p, at)) {
            continue;
        }
        let (what, else_do) = match of(i).map(|l| l.role) {
            Some(Role::Part) => (
                "piece",
                "leave one out, or say --copies 2 and a stock if two are wanted",
            ),
            Some(Role::Hole) => ("hole", "leave one out"),
            _ => ("line", "leave one out"),
        };
        warnings.push(Warning {
            kind: WarningKind::Crossed,
            text: format!(
                "{} and {} are the same {what} at one place, ({:.1}, {:.1}) mm, which would be cut twice: {else_do}",
                name(outline, i),
                name(outline, j),
                at.x,
                at.y
            ),
            at: Some(at),
            size: None,
        });
    }
}

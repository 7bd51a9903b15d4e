//! Open cuts that go across a part from edge to edge: it falls into two.
//!
//! *Idea.* Places a quarter of a kerf apart are looked at along the cut, each one of three: clear of the part, at its
//! rim (so near that what is left of the metal burns through), or in its metal. Metal between two times at the rim, or
//! outside, is a stretch that severs. A slit from the rim inwards touches it once, and severs nothing.
//!
//! *Fails* on what two open cuts sever together, and on a cut that closes with itself inside the part.

use super::plan::{Cut, Warning, WarningKind, name};
use super::settings::CutSettings;
use crate::geom::near::inside;
use crate::geom::{Edge, Point};
use crate::outline::{Bounds, Outline, Role};

/// Most places of an edge that are looked at.
const MOST_LOOKS: f64 = 500.0;

/// One warning for each part that an open cut severs.
pub(super) fn all(
    cuts: &[Cut],
    outline: &Outline,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) {
    let near = 0.5 * settings.kerf + settings.least_web();
    let parts = outline.loops.iter().enumerate();
    let parts = parts.filter(|(_, l)| l.role == Role::Part);
    let rims: Vec<(usize, Bounds, Vec<Edge>)> = parts
        .filter_map(|(i, l)| Some((i, Bounds::of_path(&l.path)?, l.path.edges())))
        .collect();
    for cut in cuts.iter().filter(|c| c.role == Role::Open) {
        let Some(reach) = Bounds::of_edges(&cut.path) else {
            continue;
        };
        for (index, _, rim) in rims.iter().filter(|(_, b, _)| b.touches(&reach, 0.0)) {
            let Some((at, long)) = across(&cut.path, rim, near, settings.kerf) else {
                continue;
            };
            let text = format!(
                "{} goes across {} from edge to edge and cuts it in two, {long:.1} mm of it from ({:.1}, {:.1}) mm on: leave \
                 it out, or cut the pieces as parts of their own",
                name(outline, cut.loop_index),
                name(outline, *index),
                at.x,
                at.y
            );
            warnings.push(Warning {
                kind: WarningKind::Severed,
                text,
                at: Some(at),
                size: Some(long),
            });
        }
    }
}

/// Where a stretch begins that goes through metal from edge to edge, and how long it is, mm.
fn across(path: &[Edge], rim: &[Edge], near: f64, kerf: f64) -> Option<(Point, f64)> {
    // Since when, and where, the cut has been in metal after it was at the rim or outside.
    let mut entered: Option<(Point, f64)> = None;
    let mut was_out = false;
    let mut along = 0.0;
    for edge in path {
        let parts = (edge.length() / (0.25 * kerf))
            .ceil()
            .clamp(1.0, MOST_LOOKS);
        for k in 0..=parts as usize {
            let share = k as f64 / parts;
            let (at, way) = (edge.point_at(share), along + share * edge.length());
            let metal = inside(rim, at) && rim.iter().all(|e| e.distance(at) > near);
            match (metal, entered) {
                (true, None) if was_out => entered = Some((at, way)),
                (false, Some((from, since))) => return Some((from, way - since)),
                _ => {}
            }
            was_out = !metal;
        }
        along += edge.length();
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Line;

    fn polyline(points: &[(f64, f64)]) -> Vec<Edge> {
        let ends = points.iter().zip(points.iter().skip(1));
        let edge = |(a, b): (&(f64, f64), &(f64, f64))| {
            let (from, to) = (Point::new(a.0, a.1), Point::new(b.0, b.1));
            Edge::Line(Line { from, to })
        };
        ends.map(edge).collect()
    }

    #[test]
    fn across_from_edge_to_edge_and_not_into_it() {
        let rim = polyline(&[
            (0.0, 0.0),
            (120.0, 0.0),
            (120.0, 80.0),
            (0.0, 80.0),
            (0.0, 0.0),
        ]);
        let severs = |points: &[(f64, f64)]| across(&polyline(points), &rim, 2.0, 1.5).is_some();
        assert!(severs(&[(60.0, -10.0), (60.0, 90.0)]));
        // From rim to rim, in two legs, ending a little short.
        assert!(severs(&[(0.0, 40.0), (60.0, 20.0), (119.0, 40.0)]));
        // A slit from the rim, a line within, one beside, one along the rim.
        assert!(!severs(&[(60.0, -1.0), (60.0, 50.0)]));
        assert!(!severs(&[(20.0, 40.0), (100.0, 40.0)]));
        assert!(!severs(&[(-20.0, 40.0), (-5.0, 90.0)]));
        assert!(!severs(&[(0.0, 1.0), (120.0, 1.0)]));
    }
}

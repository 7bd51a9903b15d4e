//! Bridges: stretches left uncut so that a part stays in the plate until it is broken out.

use super::course;
use crate::geom::near::nearest;
use crate::geom::{Edge, Point, Sorted as _};

/// Part of the spacing by which a bridge may move off its even place to keep from corners.
const MAY_MOVE: f64 = 0.3;

/// A closed path parted by bridges.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Parted {
    /// What is cut; the whole path where there is no room for a bridge.
    pub stretches: Vec<Vec<Edge>>,
    /// What is not, edge by edge.
    pub gaps: Vec<Edge>,
}

/// A closed path cut into stretches with `count` gaps between them, each `gap` mm of path long: the metal
/// that is to stay and a kerf, for the torch takes away half a kerf beyond each end of a stretch.
///
/// The gaps lie evenly along the path, each moved by up to three tenths of the spacing, or as far as stretches of
/// that length are left, to where a corner, or a mouth of a slit (mm from the start), is furthest. Fewer are made where the path is too short to leave each stretch at least
/// as long as a gap; none at all leaves the path whole (one stretch, closed).
#[must_use]
pub fn stretches(edges: &[Edge], count: usize, gap: f64, mouths: &[f64]) -> Parted {
    let whole = course::length(edges);
    let room = if gap > 0.0 {
        libm::floor(whole / (2.0 * gap))
    } else {
        0.0
    };
    let count = count.min(room as usize);
    if count == 0 {
        return Parted {
            stretches: vec![edges.to_vec()],
            gaps: Vec::new(),
        };
    }
    let mut corners = corners(edges);
    corners.extend_from_slice(mouths);
    let spacing = whole / count as f64;
    // Two that move towards one another still leave a stretch as long as a gap between them.
    let reach = (MAY_MOVE * spacing).min(0.5 * spacing - gap).max(0.0);
    let mut middles: Vec<f64> = (0..count)
        .map(|k| quiet(&corners, whole, (k as f64 + 0.5) * spacing, reach))
        .collect();
    middles.order_by(f64::total_cmp);
    let mut all = Parted::default();
    for (k, &middle) in middles.iter().enumerate() {
        let next = middles
            .get(k + 1)
            .copied()
            .or(middles.first().map(|m| m + whole))
            .unwrap_or(whole);
        let (from, to) = (middle - 0.5 * gap, next - 0.5 * gap);
        let (index, t) = course::place(edges, from);
        let turned = course::started_at(edges, index, t);
        all.gaps.extend(course::between(&turned, 0.0, gap));
        all.stretches.push(course::between(&turned, gap, to - from));
    }
    all
}

/// Where open cuts come within `near` of a path, mm from its start: the nearest place.
#[must_use]
pub fn mouths(edges: &[Edge], open: &[Edge], near: f64) -> Vec<f64> {
    let mut found = Vec::new();
    let mut passed = 0.0;
    for edge in edges {
        for cut in open {
            let at = nearest(edge, cut);
            if at.distance < near {
                let (_, share) = edge.nearest(at.at);
                found.push(passed + share * edge.length());
            }
        }
        passed += edge.length();
    }
    found
}

/// Where an open cut goes through a bridge or so near that it is no bridge any more.
#[must_use]
pub fn cut_by(gap: &Edge, open: &[Edge], kerf: f64) -> Option<Point> {
    let near = open.iter().map(|cut| nearest(gap, cut));
    near.filter(|n| n.distance < kerf).map(|n| n.at).next()
}

/// Distances from the start at which edges meet; a whole circle has none.
fn corners(edges: &[Edge]) -> Vec<f64> {
    if edges.len() < 2 {
        return Vec::new();
    }
    let mut passed = 0.0;
    edges
        .iter()
        .map(|e| {
            passed += e.length();
            passed
        })
        .collect()
}

/// The place within `reach` of `wanted` that is furthest from a corner; the nearer one of equals.
fn quiet(corners: &[f64], whole: f64, wanted: f64, reach: f64) -> f64 {
    let room = |s: f64| {
        corners
            .iter()
            .map(|c| {
                let d = libm::fabs(s - c);
                d.min(whole - d).max(0.0)
            })
            .fold(f64::INFINITY, f64::min)
    };
    let mut best = (wanted, room(wanted));
    for k in 1..=10 {
        for way in [-1.0, 1.0] {
            let s = wanted + way * f64::from(k) * 0.1 * reach;
            if room(s) > best.1 + 1e-9 {
                best = (s, room(s));
            }
        }
    }
    best.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Arc, Line};

    #[test]
    fn two_gaps_leave_the_rest() {
        let c = [(0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0)].map(|(x, y)| Point::new(x, y));
        let edges: Vec<Edge> = (0..4)
            .map(|i| {
                Edge::Line(Line {
                    from: c[i],
                    to: c[(i + 1) % 4],
                })
            })
            .collect();
        let all = stretches(&edges, 2, 3.0, &[]).stretches;
        assert_eq!(all.len(), 2);
        let left: f64 = all.iter().map(|s| course::length(s)).sum();
        assert!((left - (200.0 - 6.0)).abs() < 1e-9);
        // No gap begins or ends within 3 mm of a corner.
        for s in &all {
            for p in [s[0].from(), s[s.len() - 1].to()] {
                assert!(c.iter().all(|q| q.distance(p) > 3.0));
            }
        }
    }

    #[test]
    fn however_many_gaps_are_asked_for_what_is_cut_is_never_shorter() {
        for (w, h, gap) in [(30.0, 20.0, 7.5), (60.0, 12.0, 3.5), (160.0, 100.0, 3.0)] {
            let c = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)].map(|(x, y)| Point::new(x, y));
            let side = |i: usize| {
                let (from, to) = (c[i], c[(i + 1) % 4]);
                Edge::Line(Line { from, to })
            };
            let edges: Vec<Edge> = (0..4).map(side).collect();
            for count in 1..100 {
                let parted = stretches(&edges, count, gap, &[]);
                for stretch in &parted.stretches {
                    let long = course::length(stretch);
                    assert!(long > gap - 1e-9, "{w} x {h}, {count}: {long}");
                }
            }
        }
    }

    #[test]
    fn gaps_keep_from_the_mouths_of_slits() {
        let c = [(0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0)].map(|(x, y)| Point::new(x, y));
        let side = |i: usize| {
            let (from, to) = (c[i], c[(i + 1) % 4]);
            Edge::Line(Line { from, to })
        };
        let edges: Vec<Edge> = (0..4).map(side).collect();
        // One up from the middle of each long side.
        let slit = |from: (f64, f64), to: (f64, f64)| {
            let (from, to) = (Point::new(from.0, from.1), Point::new(to.0, to.1));
            Edge::Line(Line { from, to })
        };
        let open = [
            slit((30.0, -1.0), (30.0, 15.0)),
            slit((30.0, 40.0), (30.0, 25.0)),
        ];
        let found = mouths(&edges, &open, 3.0);
        assert_eq!(found, [30.0, 130.0]);
        let blind = stretches(&edges, 4, 3.0, &[]);
        assert!(blind.gaps.iter().any(|g| cut_by(g, &open, 1.5).is_some()));
        let seeing = stretches(&edges, 4, 3.0, &found);
        assert_eq!(seeing.gaps.len(), 4);
        assert!(seeing.gaps.iter().all(|g| cut_by(g, &open, 1.5).is_none()));
    }

    #[test]
    fn a_short_circle_gets_fewer_or_none() {
        let ring = [Edge::Arc(Arc::circle(Point::default(), 2.0, true))];
        assert_eq!(stretches(&ring, 4, 3.0, &[]).stretches.len(), 2);
        assert!(stretches(&ring, 4, 30.0, &[]).gaps.is_empty());
    }
}

//! HATCH, SOLID and their like: where the rim of a filled area runs.
//!
//! Only places of it are told, to be held against what is drawn: corners, ends, and the middles of straight edges.

use super::entity::{Entity, Vertex};
use super::pairs::Pair;
use crate::Refusal;
use crate::format::drawing::Elliptic;
use crate::geom::Point;

/// Group that says how many paths a rim has, and one after all of them (published reference, HATCH).
const PATHS: i16 = 91;
const STYLE: i16 = 75;
/// Group that starts a path; its bit that says the path is a polyline.
const PATH: i16 = 92;
const POLYLINE: i64 = 2;
/// Group that starts an edge of any other path, and names its kind.
const EDGE: i16 = 72;

impl Entity<'_> {
    /// Places of the rim of a filled area; none where it cannot be read.
    pub(super) fn rim(&self) -> Result<Vec<Point>, Refusal> {
        if matches!(self.kind, b"SOLID" | b"TRACE") {
            // The third and the fourth corner are written crosswise.
            let corners = [10, 11, 13, 12].map(|code| self.point(code));
            let [a, b, d, c] = corners;
            let c = c?;
            return Ok(with_middles(&[a?, b?, d.unwrap_or(c), c], true));
        }
        let from = self.pairs.iter().position(|p| p.code == PATHS);
        let rim = self.pairs.get(from.unwrap_or(self.pairs.len())..);
        let rim = rim.and_then(|r| r.split(|p| p.code == STYLE).next());
        let mut places = Vec::new();
        for path in pieces(rim.unwrap_or_default(), PATH) {
            let path = Entity {
                pairs: path,
                ..*self
            };
            if path.integer(PATH) & POLYLINE != 0 {
                places.extend(path.of_polyline()?);
                continue;
            }
            for edge in pieces(path.pairs, EDGE) {
                let edge = Entity {
                    pairs: edge,
                    ..*self
                };
                places.extend(edge.of_edge()?);
            }
        }
        Ok(places)
    }

    fn of_polyline(&self) -> Result<Vec<Point>, Refusal> {
        let corners = self.light_vertices()?;
        let at: Vec<Point> = corners.iter().map(|v| v.at).collect();
        let straight = |v: &Vertex| v.bulge == 0.0;
        Ok(if corners.iter().all(straight) {
            with_middles(&at, true)
        } else {
            at
        })
    }

    /// An edge: straight, a piece of a circle or of an ellipse, or a spline.
    fn of_edge(&self) -> Result<Vec<Point>, Refusal> {
        // Clockwise pieces count their angles clockwise.
        let way = if self.integer(73) == 0 { -1.0 } else { 1.0 };
        let ends = |round: Elliptic| -> Result<Vec<Point>, Refusal> {
            let start = way * self.number(50)?.to_radians();
            let sweep = way * self.number(51)?.to_radians() - start;
            let (from, to) = Elliptic {
                start,
                sweep,
                ..round
            }
            .ends();
            Ok(vec![from, to])
        };
        match self.integer(EDGE) {
            1 => Ok(with_middles(&[self.point(10)?, self.point(11)?], false)),
            2 => {
                let radius = self.number(40)?;
                ends(Elliptic::whole(self.point(10)?, radius, radius))
            }
            3 => {
                let u = self.point(11)? - Point::default();
                let round = Elliptic::whole(self.point(10)?, 1.0, 1.0);
                let v = u.left() * self.number(40)?;
                ends(Elliptic { u, v, ..round })
            }
            _ => {
                let poles = self.points(10)?;
                Ok(poles
                    .first()
                    .into_iter()
                    .chain(poles.last())
                    .copied()
                    .collect())
            }
        }
    }
}

/// Runs of groups that each start with this one.
fn pieces<'p>(pairs: &'p [Pair<'p>], code: i16) -> impl Iterator<Item = &'p [Pair<'p>]> {
    let starts = pairs.chunk_by(move |_, next| next.code != code);
    starts.filter(move |run| run.first().is_some_and(|p| p.code == code))
}

/// Corners, and the middles of the straight edges between them.
fn with_middles(corners: &[Point], closed: bool) -> Vec<Point> {
    let ends = corners
        .iter()
        .cycle()
        .skip(1)
        .take(corners.len() - usize::from(!closed && !corners.is_empty()));
    let middles = corners.iter().zip(ends).map(|(p, q)| p.midpoint(*q));
    corners.iter().copied().chain(middles).collect()
}

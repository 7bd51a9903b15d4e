//! A plate of numbers: what a machine program leaves of it.
//!
//! Every move with the torch on is flattened to 0.002 mm and swept by a disc as wide as the kerf, with the
//! polygon operations of crate `geo`, which the planning does not use. Shared by path with the core's own
//! tests of the program.
#![allow(
    dead_code,
    reason = "each test that shares this file uses a part of it"
)]

use super::rs274::Program;
use geo::algorithm::buffer::{Buffer, BufferStyle, LineCap, LineJoin};
use geo::{Area, BooleanOps, BoundingRect, Contains, MultiPolygon, Polygon, unary_union};
use geo_types::{Coord, LineString, Point as GeoPoint, Rect};
use trued::{Arc, Edge, Line};

const FINE: f64 = 0.002;

/// What is left of a plate that reaches 30 mm beyond all moves with the torch on, piece by piece.
pub struct Plate {
    /// The pieces.
    pub pieces: Vec<Polygon<f64>>,
    /// Where the torch is lit.
    pub pierces: Vec<(f64, f64)>,
    outer: Rect<f64>,
}

/// Cuts the program in the plate.
pub fn cut(program: &Program, kerf: f64) -> Plate {
    let mut runs: Vec<Vec<Coord<f64>>> = Vec::new();
    let mut lit = false;
    for m in &program.moves {
        if m.lit {
            if !lit {
                runs.push(Vec::new());
            }
            let edge = match m.arc {
                None => Edge::Line(Line {
                    from: m.from,
                    to: m.to,
                }),
                Some((center, sweep)) => Edge::Arc(Arc {
                    from: m.from,
                    to: m.to,
                    center,
                    radius: m.from.distance(center),
                    sweep,
                }),
            };
            let run = runs.last_mut().expect("a run was begun");
            for p in edge.flatten(FINE) {
                let c = Coord { x: p.x, y: p.y };
                if run.last() != Some(&c) {
                    run.push(c);
                }
            }
        }
        lit = m.lit;
    }
    let style = BufferStyle::new(0.5 * kerf)
        .line_join(LineJoin::Round(0.04))
        .line_cap(LineCap::Round(0.04));
    let gone: Vec<Polygon<f64>> = runs
        .iter()
        .flat_map(|r| LineString(r.clone()).buffer_with_style(style.clone()).0)
        .collect();
    let all = LineString(runs.iter().flatten().copied().collect());
    let b = all.bounding_rect().expect("something is cut");
    let far = Coord { x: 30.0, y: 30.0 };
    let outer = Rect::new(b.min() - far, b.max() + far);
    let left: MultiPolygon<f64> = outer.to_polygon().difference(&unary_union(&gone));
    Plate {
        pieces: left.0,
        pierces: runs
            .iter()
            .filter_map(|r| r.first())
            .map(|c| (c.x, c.y))
            .collect(),
        outer,
    }
}

impl Plate {
    /// The piece that a place lies on; none where it was cut away.
    pub fn at(&self, x: f64, y: f64) -> Option<&Polygon<f64>> {
        let p = GeoPoint::new(x, y);
        self.pieces.iter().find(|piece| piece.contains(&p))
    }

    /// The place lies on what still hangs on the rim of the plate.
    pub fn hangs(&self, x: f64, y: f64) -> bool {
        let corner = self.outer.min();
        let rim = |piece: &Polygon<f64>| {
            piece
                .exterior()
                .0
                .iter()
                .any(|c| libm::hypot(c.x - corner.x, c.y - corner.y) < 1e-6)
        };
        self.at(x, y).is_some_and(rim)
    }

    /// Width and height of the piece there.
    pub fn size(&self, x: f64, y: f64) -> Option<(f64, f64)> {
        let b = self.at(x, y)?.bounding_rect()?;
        Some((b.width(), b.height()))
    }

    /// Area of the piece there, mm².
    pub fn area(&self, x: f64, y: f64) -> f64 {
        self.at(x, y).map_or(0.0, |p| p.unsigned_area())
    }
}

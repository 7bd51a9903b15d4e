//! The torch's path beside an outline of lines and arcs: what does keeping arcs and minding bad
//! loops cost, beside general-purpose offsets?
//!
//! The polygon library gets the outline in chords, 0.01 mm off its arcs, and gives chords back.

use super::print;
use cavalier_contours::polyline::{PlineSource as _, PlineSourceMut as _, Polyline};
use geo::algorithm::Buffer as _;
use geo_types::{Coord, LineString, Polygon};
use trued::cut::kerf::{self, Side};
use trued::{Path, Shape};
use trued_tests::pace::{Timed, scalloped, take_turns};

const DISTANCE: f64 = 0.75;
const CHORDS: f64 = 0.01;

pub fn table() {
    for edges in [12, 100, 1000] {
        one(edges);
    }
}

fn one(edges: usize) {
    let path = scalloped(edges);
    let Path::Chain(chain) = &path else { return };
    let mut line = Polyline::new_closed();
    for (p, s) in chain.corners.iter().zip(&chain.shapes) {
        let bulge = match s {
            Shape::Line => 0.0,
            Shape::Arc { sweep } => libm::tan(0.25 * sweep),
        };
        line.add(p.x, p.y, bulge);
    }
    let chords = path.edges().into_iter().flat_map(|e| {
        let mut run = e.flatten(CHORDS);
        run.pop();
        run
    });
    let ring: LineString<f64> = chords.map(|p| Coord { x: p.x, y: p.y }).collect();
    let polygon = Polygon::new(ring, Vec::new());
    let mut cases = [
        Timed::new("**the torch's path, arcs kept, bad loops refused**", || {
            kerf::offset(&path, Side::Outside, DISTANCE)
        }),
        Timed::new("cavalier_contours alone", || {
            line.parallel_offset(-DISTANCE)
        }),
        Timed::new("geo Buffer, in chords", || polygon.buffer(DISTANCE)),
    ];
    take_turns(&mut cases, 0.5, 2001);
    print(
        &format!("An outline of {edges} edges moved by half a kerf"),
        &cases,
    );
}

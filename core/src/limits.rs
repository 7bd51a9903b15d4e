//! Documented limits of what is accepted. Anything past one is refused with a sentence.

use crate::geom::Point;

/// Largest coordinate, mm either way from the origin (100 m; smaller than any drawing in µm is wide).
pub const MAX_COORDINATE: f64 = 1.0e5;
/// A place within [`MAX_COORDINATE`]; what is no number is nowhere.
#[must_use]
pub fn holds(p: Point) -> bool {
    p.x.abs() <= MAX_COORDINATE && p.y.abs() <= MAX_COORDINATE
}

/// Most points in one trace.
pub const MAX_POINTS: usize = 20_000_000;
/// Most strokes in one trace.
pub const MAX_STROKES: usize = 10_000;
/// Largest input file, bytes.
pub const MAX_FILE_BYTES: usize = 1 << 30;
/// Deepest nesting of groups or elements in a file.
pub const MAX_NESTING: usize = 64;
/// Most edges in one drawing or outline document.
pub const MAX_EDGES: usize = 1_000_000;
/// Most pairs of edges in one drawing or outline document whose upright boxes touch. A chain of a million
/// edges has a million such pairs; a sheet where each edge comes near four others, four million.
pub const MAX_MEETINGS: usize = 5_000_000;
/// Most pairs of closed loops of which one lies in the box of the other. Eighty thousand holes in a plate
/// within a frame are a hundred and sixty thousand pairs.
pub const MAX_NESTED: usize = 200_000;

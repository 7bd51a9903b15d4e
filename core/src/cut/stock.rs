//! The plate to cut from: a rectangle, or a scrap with its own outline and openings.

use super::lead::on_plate;
use crate::Refusal;
use crate::geom::Sorted as _;
use crate::geom::near::inside;
use crate::geom::{Edge, Point};
use crate::limits::MAX_COORDINATE;
use crate::outline::{Bounds, Chain, Circle, Outline, Path, Shape};
use serde::{Deserialize, Serialize};

/// Width of a hole in a scrap that was touched, not traced, where nobody says it, mm: no bolt of a small shop
/// is thicker.
pub const TOUCHED_HOLE: f64 = 12.0;
/// Half the width of a slit in a scrap, mm; and how far its arcs may lie from their chords.
const SLIT: f64 = 0.2;

/// The plate: one closed border and the openings already in it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stock {
    /// The border.
    pub border: Path,
    /// Openings inside the border: nothing can be cut from them.
    #[serde(default)]
    pub openings: Vec<Path>,
}

impl Stock {
    /// A rectangle with its lower left corner at the origin, mm.
    ///
    /// # Errors
    /// Refuses sides that are not positive or pass [`MAX_COORDINATE`].
    pub fn rectangle(width: f64, height: f64) -> Result<Self, Refusal> {
        for side in [width, height] {
            if !(side > 0.0 && side <= MAX_COORDINATE) {
                return Err(Refusal::Setting(format!(
                    "the stock is {width} x {height} mm: both sides must be over 0 and at most {MAX_COORDINATE} mm"
                )));
            }
        }
        let corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)];
        Ok(Self {
            border: Path::Chain(Chain {
                corners: corners.iter().map(|&(x, y)| Point::new(x, y)).collect(),
                shapes: vec![Shape::Line; 4],
            }),
            openings: Vec::new(),
        })
    }

    /// A traced scrap: its largest closed loop is the border, every other closed loop an opening. Holes that
    /// were touched rather than traced are openings `touched` mm wide, and open paths are slits.
    ///
    /// # Errors
    /// Refuses an outline without a closed loop, and one with a loop beside the largest.
    pub fn from_outline(outline: &Outline, touched: f64) -> Result<Self, Refusal> {
        let (mut closed, open): (Vec<&Path>, Vec<&Path>) = outline
            .loops
            .iter()
            .map(|l| &l.path)
            .partition(|p| p.is_closed() && p.area() != 0.0);
        closed.order_by(|a, b| b.area().abs().total_cmp(&a.area().abs()));
        let mut closed = closed.into_iter().cloned();
        let border = closed.next().ok_or_else(|| {
            Refusal::Trace(
                "the stock has no closed outline: trace its edge all the way round".into(),
            )
        })?;
        let edges = border.edges();
        let mut openings: Vec<Path> = closed.collect();
        let beside = |p: &&Path| {
            let mut places = p.edges().into_iter().map(|e| e.point_at(0.5));
            !places.any(|at| inside(&edges, at))
        };
        if let Some(at) = openings
            .iter()
            .find(beside)
            .and_then(|p| p.edges().first().map(Edge::from))
        {
            return Err(Refusal::Trace(format!(
                "the stock has a second loop beside its edge at ({:.1}, {:.1}) mm: give one piece of stock a file",
                at.x, at.y
            )));
        }
        openings.extend(outline.marks.iter().map(|mark| {
            Path::Circle(Circle {
                center: mark.at,
                radius: 0.5 * touched,
                counter_clockwise: false,
            })
        }));
        openings.extend(open.into_iter().flat_map(slit));
        Ok(Self { border, openings })
    }

    /// The whole edge lies on the plate, `margin` from its border and openings.
    #[must_use]
    pub fn holds(&self, edge: &Edge, margin: f64) -> bool {
        let mut border = self.border.edges();
        border.extend(self.openings.iter().flat_map(Path::edges));
        on_plate(edge, self, &border, margin)
    }

    /// Width and height when the stock is an upright rectangle without openings.
    #[must_use]
    pub fn as_rectangle(&self) -> Option<Bounds> {
        let Path::Chain(chain) = &self.border else {
            return None;
        };
        let upright = chain.corners.len() == 4
            && self.openings.is_empty()
            && chain.shapes.iter().all(|s| *s == Shape::Line)
            && self.border.edges().iter().all(|e| {
                let d = e.to() - e.from();
                d.x == 0.0 || d.y == 0.0
            });
        if upright {
            Bounds::of_points(chain.corners.iter().copied())
        } else {
            None
        }
    }

    /// Area of the plate itself, mm².
    #[must_use]
    pub fn area(&self) -> f64 {
        let openings: f64 = self.openings.iter().map(|p| p.area().abs()).sum();
        (self.border.area().abs() - openings).max(0.0)
    }
}

/// A line that was cut into the plate, as narrow openings along its chords.
fn slit(path: &Path) -> Vec<Path> {
    let points = path.flatten(SLIT);
    let chord = |w: &[Point]| {
        let [a, b] = w else { return None };
        let along = (*b - *a).unit()? * SLIT;
        let across = along.left();
        let (a, b) = (*a + (-along), *b + along);
        Some(Path::Chain(Chain {
            corners: vec![a + across, a + (-across), b + (-across), b + across],
            shapes: vec![Shape::Line; 4],
        }))
    };
    points.windows(2).filter_map(chord).collect()
}

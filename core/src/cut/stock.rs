//! The plate to cut from: a rectangle, or a scrap with its own outline and openings.

use crate::Refusal;
use crate::geom::Point;
use crate::geom::Sorted as _;
use crate::limits::MAX_COORDINATE;
use crate::outline::{Bounds, Chain, Outline, Path, Shape};

/// The plate: one closed border and the openings already in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Stock {
    /// The border.
    pub border: Path,
    /// Openings inside the border: nothing can be cut from them.
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

    /// A traced scrap: its largest closed loop is the border, every other closed loop an opening.
    ///
    /// # Errors
    /// Refuses an outline without a closed loop.
    pub fn from_outline(outline: &Outline) -> Result<Self, Refusal> {
        let mut closed: Vec<&Path> = outline
            .loops
            .iter()
            .map(|l| &l.path)
            .filter(|p| p.is_closed() && p.area() != 0.0)
            .collect();
        closed.order_by(|a, b| b.area().abs().total_cmp(&a.area().abs()));
        let mut closed = closed.into_iter().cloned();
        let border = closed.next().ok_or_else(|| {
            Refusal::Trace(
                "the stock has no closed outline: trace its edge all the way round".into(),
            )
        })?;
        Ok(Self {
            border,
            openings: closed.collect(),
        })
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

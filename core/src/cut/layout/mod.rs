//! Where the pieces lie on the stock: copied, turned, spaced, as many as fit.
//!
//! **The problem.** Place as many copies of some outlines as will go on a plate, no two nearer than
//! a spacing, none nearer to the border or an opening than another. The best answer is out of reach
//! (the problem is NP-hard); a good one in moments is what a shop needs.
//!
//! **The idea.** Every piece is grown by half the spacing and taken as a polygon that encloses it
//! ([`shape`]), cut into convex cells ([`cells`]). Two shapes overlap exactly when the place of the
//! one, seen from the other, lies inside the sum of the one's cells and the other's cells turned
//! half round (Minkowski; the *no-fit* region: Art 1966). For convex cells that sum is a merge of
//! their sides by direction, so a no-fit region is a list of convex polygons and needs no union.
//! A piece pushed as low and then as far left as it goes stands at a corner of the free places:
//! a corner of a no-fit polygon, a crossing of two, or a corner of the room left by the border
//! ([`place`]). All such places are kept and the lowest, leftmost one is taken, so a placement is
//! exact, not on a grid. Which order and which turns serve best is not known beforehand: the
//! usual orders (largest first, longest first…) with every rule for turns are tried, then shuffles
//! from a fixed seed until a fixed amount of work is done, and the best is kept ([`search`]): the one with
//! most pieces, and of those the one that leaves the largest piece of plate whole.
//!
//! **Sources.** R. C. Art, 1966 (no-fit region); B. S. Baker, E. G. Coffman, R. L. Rivest, 1980
//! (bottom-left placement).
//!
//! **Where it fails.** The enclosing polygons are larger than the pieces by up to a tenth of a
//! millimetre; small pieces are not put into the holes of large ones; the answer is a good one,
//! not the best. The one general packing engine for irregular shapes on the registry tests
//! collisions in single precision, knows no pieces in several loops and leaves the placing to its
//! caller, so it would not have saved this file.

mod cells;
mod place;
mod search;
pub(crate) use search::Dice;
mod shape;
#[cfg(test)]
mod tests;

use super::stock::Stock;
use crate::Refusal;
use crate::geom::{Point, Vec2};
use crate::outline::Bounds;
use crate::outline::{Chain, Circle, Loop, Mark, Outline, Path};
use serde::{Deserialize, Serialize};

/// Most pieces that are laid out at once.
pub const MAX_PIECES: usize = 5_000;

/// Least distances on the stock, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spacing {
    /// Between two pieces: kerf and gap together.
    pub between: f64,
    /// From a piece to the border of the stock and its openings.
    pub edge: f64,
}

/// Which turns a piece may be given.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum Turns {
    /// None: pieces lie as they are (grain or a sheared side matters).
    None,
    /// A half turn.
    Half,
    /// Quarter turns.
    #[default]
    Quarter,
    /// Quarter turns, and a long side laid along each of the stock's long sides.
    #[serde(rename = "edges")]
    QuarterAndEdges,
}

/// Where one copy lies: turned about the origin, then moved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placement {
    /// Which of the outlines handed in, from 0.
    pub piece: usize,
    /// Which copy of it, from 0.
    pub copy: usize,
    /// Turn about the origin, radians, counter-clockwise.
    pub turn: f64,
    /// Move after the turn, mm.
    pub shift: Vec2,
}

/// What fits and where.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Layout {
    /// Copies that fit, in the order they were placed.
    pub placements: Vec<Placement>,
    /// Copies asked for, outline by outline.
    pub asked: Vec<usize>,
    /// Copies that fit, outline by outline.
    pub fits: Vec<usize>,
    /// Width and height of each outline as handed in, mm.
    pub sizes: Vec<(f64, f64)>,
    /// Width and height of the stock, mm.
    pub stock_size: (f64, f64),
    /// Share of the stock's area that becomes pieces (holes not counted as piece), 0 to 1.
    pub use_of_stock: f64,
    /// Outlines of which none fits, though one would if the others were not there.
    pub crowded_out: Vec<usize>,
}

impl Layout {
    /// Copies asked for, all outlines together.
    #[must_use]
    pub fn asked_in_all(&self) -> usize {
        self.asked.iter().sum()
    }

    /// Copies that fit, all outlines together.
    #[must_use]
    pub fn fits_in_all(&self) -> usize {
        self.fits.iter().sum()
    }

    /// A sentence for each outline of which not all copies fit, and how many do not.
    #[must_use]
    pub fn left_out(&self) -> Vec<(String, usize)> {
        let all = 0..self.asked.len();
        all.filter_map(|piece| self.left_out_of(piece)).collect()
    }

    /// The same of one outline; nothing where all its copies fit.
    #[must_use]
    pub fn left_out_of(&self, piece: usize) -> Option<(String, usize)> {
        let (asked, fits) = (*self.asked.get(piece)?, *self.fits.get(piece)?);
        let missing = asked.checked_sub(fits).filter(|n| *n > 0)?;
        let ((w, h), (across, up)) = (self.sizes.get(piece)?, self.stock_size);
        let stock = format!("the stock of {across:.1} x {up:.1} mm");
        let full = self.crowded_out.contains(&piece);
        let text = match asked {
            1 if full => {
                format!("{stock} is full: the piece of {w:.1} x {h:.1} mm has no room on it")
            }
            _ if full => format!("{stock} is full: no piece of {w:.1} x {h:.1} mm has room on it"),
            1 => format!("the piece of {w:.1} x {h:.1} mm does not fit on {stock}"),
            _ if fits == 0 => format!("no piece of {w:.1} x {h:.1} mm fits on {stock}"),
            _ => format!("{fits} of {asked} pieces of {w:.1} x {h:.1} mm fit on {stock}"),
        };
        Some((text, missing))
    }
}

impl Placement {
    /// A piece where it was.
    #[must_use]
    pub const fn of(piece: usize) -> Self {
        Self {
            piece,
            copy: 0,
            turn: 0.0,
            shift: Vec2 { x: 0.0, y: 0.0 },
        }
    }

    /// A place of the piece, on the stock.
    #[must_use]
    pub fn carry(&self, p: Point) -> Point {
        let (sin, cos) = turn_sin_cos(self.turn);
        let turned = Vec2::new(cos * p.x - sin * p.y, sin * p.x + cos * p.y);
        Point::new(turned.x, turned.y) + self.shift
    }

    /// The whole outline, on the stock.
    #[must_use]
    pub fn apply(&self, outline: &Outline) -> Outline {
        let moved = |path: &Path| match path {
            Path::Circle(c) => Path::Circle(Circle {
                center: self.carry(c.center),
                ..*c
            }),
            Path::Chain(c) => Path::Chain(Chain {
                corners: c.corners.iter().map(|&p| self.carry(p)).collect(),
                shapes: c.shapes.clone(),
            }),
        };
        Outline {
            loops: outline
                .loops
                .iter()
                .map(|l| Loop {
                    path: moved(&l.path),
                    ..l.clone()
                })
                .collect(),
            marks: outline
                .marks
                .iter()
                .map(|m| Mark {
                    at: self.carry(m.at),
                })
                .collect(),
        }
    }
}

/// Sine and cosine, exact for quarter turns, so that squares stay upright bit for bit.
pub(crate) fn turn_sin_cos(turn: f64) -> (f64, f64) {
    let quarters = turn / core::f64::consts::FRAC_PI_2;
    let whole = libm::round(quarters);
    if (quarters - whole).abs() < 1e-15 {
        return match (whole as i64).rem_euclid(4) {
            0 => (0.0, 1.0),
            1 => (1.0, 0.0),
            2 => (0.0, -1.0),
            _ => (-1.0, 0.0),
        };
    }
    libm::sincos(turn)
}

/// Lays out copies of outlines on the stock. Each outline is one rigid piece, whatever it holds.
///
/// The same input gives the same layout. Copies that do not fit are simply not placed:
/// [`Layout::fits`] says how many of how many.
///
/// # Errors
/// Refuses spacings that are not numbers or negative, more than [`MAX_PIECES`] copies, an outline
/// without a closed loop, and a stock whose border crosses itself.
pub fn layout(
    pieces: &[(Outline, usize)],
    stock: &Stock,
    spacing: Spacing,
    turns: Turns,
) -> Result<Layout, Refusal> {
    layout_with_effort(pieces, stock, spacing, turns, 1)
}

/// As [`layout`], but looks so many times as long where not all fit at once. With no effort the first
/// layout that holds all copies will do, however much plate it spoils.
///
/// # Errors
/// As [`layout`].
pub fn layout_with_effort(
    pieces: &[(Outline, usize)],
    stock: &Stock,
    spacing: Spacing,
    turns: Turns,
    effort: u32,
) -> Result<Layout, Refusal> {
    for (what, value) in [
        ("the gap between pieces", spacing.between),
        ("the gap to the edge of the stock", spacing.edge),
    ] {
        if !(0.0..=1e4).contains(&value) {
            return Err(Refusal::Setting(format!(
                "{what} is {value} mm: it must be between 0 and 10000 mm"
            )));
        }
    }
    let count: usize = pieces
        .iter()
        .fold(0, |n, (_, copies)| n.saturating_add(*copies));
    if count > MAX_PIECES {
        return Err(Refusal::Limit {
            what: "the number of copies to lay out",
            value: count.to_string(),
            limit: MAX_PIECES.to_string(),
        });
    }
    let room = shape::room(stock, spacing)?;
    let shapes = shape::all_turns(pieces, &room, spacing, turns)?;
    let found = search::best(&shapes, &room, pieces, effort);
    Ok(finish(found, pieces, stock))
}

fn finish(placements: Vec<Placement>, pieces: &[(Outline, usize)], stock: &Stock) -> Layout {
    let mut fits = vec![0; pieces.len()];
    let mut covered = 0.0;
    let mut numbered = Vec::with_capacity(placements.len());
    for placement in placements {
        let Some((outline, _)) = pieces.get(placement.piece) else {
            continue;
        };
        let Some(fit) = fits.get_mut(placement.piece) else {
            continue;
        };
        covered += net_area(outline);
        numbered.push(Placement {
            copy: *fit,
            ..placement
        });
        *fit += 1;
    }
    let area = stock.area();
    let size = |e: Option<Bounds>| e.map_or((0.0, 0.0), |e| (e.width(), e.height()));
    Layout {
        placements: numbered,
        sizes: pieces
            .iter()
            .map(|(o, _)| size(Bounds::of_outline(o)))
            .collect(),
        stock_size: size(Bounds::of_path(&stock.border)),
        asked: pieces.iter().map(|(_, copies)| *copies).collect(),
        fits,
        crowded_out: Vec::new(),
        use_of_stock: if area > 0.0 { covered / area } else { 0.0 },
    }
}

/// Area of what is left as piece: parts less holes, mm².
#[must_use]
pub fn net_area(outline: &Outline) -> f64 {
    outline
        .loops
        .iter()
        .map(|l| match l.role {
            crate::Role::Part => l.path.area().abs(),
            crate::Role::Hole => -l.path.area().abs(),
            crate::Role::Open => 0.0,
        })
        .sum()
}

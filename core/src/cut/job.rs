//! From several outlines to one that lies on the stock.

use super::layout::{Layout, Spacing, Turns, layout};
use super::settings::CutSettings;
use super::stock::Stock;
use crate::Refusal;
use crate::geom::near::inside;
use crate::geom::{Edge, Point};
use crate::outline::nesting::parents;
use crate::outline::{Bounds, Outline};

/// The pieces of an outline: each outermost loop with all that lies inside it. Open paths and marks
/// outside every loop belong to no piece and are handed back last, as an outline of their own.
#[must_use]
pub fn pieces(outline: &Outline) -> (Vec<Outline>, Outline) {
    let around = parents(&outline.loops);
    let outermost: Vec<usize> = (0..outline.loops.len())
        .filter(|&i| {
            around
                .get(i)
                .and_then(Option::as_ref)
                .is_some_and(Vec::is_empty)
        })
        .collect();
    let mut all: Vec<Outline> = outermost.iter().map(|_| Outline::default()).collect();
    let mut rest = Outline::default();
    let borders: Vec<Vec<Edge>> = outermost
        .iter()
        .filter_map(|&i| outline.loops.get(i).map(|l| l.path.edges()))
        .collect();
    let owner = |p: Point| borders.iter().position(|b| inside(b, p));
    for (i, l) in outline.loops.iter().enumerate() {
        let own = outermost.iter().position(|&o| o == i);
        let by_nesting = around
            .get(i)
            .and_then(Option::as_ref)
            .and_then(|a| outermost.iter().position(|o| a.contains(o)));
        let by_place = || l.path.edges().first().and_then(|e| owner(e.point_at(0.5)));
        let piece = own.or(by_nesting).or_else(by_place);
        match piece.and_then(|k| all.get_mut(k)) {
            Some(piece) => piece.loops.push(l.clone()),
            None => rest.loops.push(l.clone()),
        }
    }
    for mark in &outline.marks {
        match owner(mark.at).and_then(|k| all.get_mut(k)) {
            Some(piece) => piece.marks.push(*mark),
            None => rest.marks.push(*mark),
        }
    }
    (all, rest)
}

/// How copies are to lie.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lay {
    /// Copies of every piece.
    pub copies: usize,
    /// Metal between two pieces besides the kerf, mm; `None` leaves room for the leads, and less where
    /// a piece would otherwise have no place at all.
    pub gap: Option<f64>,
    /// Which turns are allowed.
    pub turns: Turns,
}

/// All pieces of all outlines laid out, as one outline, with what fits.
///
/// Without a stock in the settings the pieces go on a square large enough for all of them. Open paths
/// and marks that belong to no piece are left out and handed back in the layout; where there are no
/// pieces at all they stay where they were traced.
///
/// # Errors
/// What [`layout`] refuses.
pub fn lay_out(
    outlines: &[Outline],
    lay: Lay,
    settings: &CutSettings,
) -> Result<(Outline, Layout), Refusal> {
    let mut all: Vec<(Outline, usize)> = Vec::new();
    let mut rest = Outline::default();
    for outline in outlines {
        let (found, mut loose) = pieces(outline);
        all.extend(found.into_iter().map(|p| (p, lay.copies)));
        rest.loops.append(&mut loose.loops);
        rest.marks.append(&mut loose.marks);
    }
    if all.is_empty() {
        // Nothing that could be moved: it is cut where it was traced.
        return Ok((rest, Layout::default()));
    }
    let leads = settings.lead_length();
    let gaps = match lay.gap {
        Some(gap) => vec![gap],
        None => vec![leads, 0.5 * leads, 0.25 * leads, 0.0],
    };
    let mut found = Layout::default();
    for gap in gaps {
        let room = settings.kerf + gap;
        let spacing = Spacing {
            between: room,
            edge: room,
        };
        found = match &settings.stock {
            Some(stock) => layout(&all, stock, spacing, lay.turns)?,
            None => on_a_square(&all, spacing, lay.turns)?,
        };
        if found.fits.iter().all(|fits| *fits > 0) {
            break;
        }
    }
    found.loose = rest;
    let mut laid = Outline::default();
    for placement in &found.placements {
        if let Some((piece, _)) = all.get(placement.piece) {
            let mut moved = placement.apply(piece);
            laid.loops.append(&mut moved.loops);
            laid.marks.append(&mut moved.marks);
        }
    }
    Ok((laid, found))
}

fn on_a_square(
    all: &[(Outline, usize)],
    spacing: Spacing,
    turns: Turns,
) -> Result<Layout, Refusal> {
    let room = |o: &Outline| {
        let b = o
            .loops
            .iter()
            .filter_map(|l: &crate::Loop| Bounds::of_path(&l.path))
            .reduce(|a, b| a.union(&b));
        b.map_or((0.0, 0.0), |b| {
            (b.width() + spacing.between, b.height() + spacing.between)
        })
    };
    let area: f64 = all
        .iter()
        .map(|(o, n)| room(o).0 * room(o).1 * *n as f64)
        .sum();
    let largest = all
        .iter()
        .map(|(o, _)| room(o).0.max(room(o).1))
        .fold(0.0, f64::max);
    let mut side = area.sqrt().max(largest) + 2.0 * spacing.edge;
    loop {
        let found = layout(all, &Stock::rectangle(side, side)?, spacing, turns)?;
        if found.fits_in_all() == found.asked_in_all() {
            return Ok(found);
        }
        side *= 1.15;
    }
}

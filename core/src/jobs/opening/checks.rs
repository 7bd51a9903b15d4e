//! What a made opening is refused for, and what is noted of it: metal that is missing or thin, between holes and
//! opening, between holes, and to the edges of the stock.

use super::OpeningSettings;
use crate::Refusal;
use crate::fit::pattern::Pattern;
use crate::geom::{Arc, Edge, Point, near};
use crate::outline::Loop;
use crate::report::Note;

/// Metal between each hole and the opening.
pub(super) fn webs(
    loops: &[Loop],
    pattern: &Pattern,
    s: &OpeningSettings,
    notes: &mut Vec<Note>,
) -> Result<Vec<f64>, Refusal> {
    let edges = loops.first().map(|l| l.path.edges()).unwrap_or_default();
    let mut webs = Vec::with_capacity(pattern.holes.len());
    for (i, &hole) in pattern.holes.iter().enumerate() {
        let to_edge = edges
            .iter()
            .map(|e| e.distance(hole))
            .fold(f64::INFINITY, f64::min);
        let inside = near::inside(&edges, hole);
        let web = if inside { -to_edge } else { to_edge } - 0.5 * s.hole;
        if web <= 0.0 {
            let how = if inside {
                "lies in the opening".to_owned()
            } else {
                format!("runs {:.2} mm into the opening", -web)
            };
            return Err(Refusal::Setting(format!(
                "hole {} at ({:.1}, {:.1}) {how}: make the opening or the holes smaller",
                i + 1,
                hole.x,
                hole.y
            )));
        }
        if web < s.web() {
            notes.push(Note::at(
                format!(
                    "the web between hole {} and the opening is {web:.2} mm, thinner than {} mm",
                    i + 1,
                    s.web()
                ),
                hole,
            ));
        }
        webs.push(web);
    }
    Ok(webs)
}

pub(super) fn between_holes(
    pattern: &Pattern,
    s: &OpeningSettings,
    notes: &mut Vec<Note>,
) -> Result<(), Refusal> {
    for (i, &a) in pattern.holes.iter().enumerate() {
        for (j, &b) in pattern.holes.iter().enumerate().skip(i + 1) {
            let web = a.distance(b) - s.hole;
            if web <= 0.0 {
                return Err(Refusal::Setting(format!(
                    "holes {} and {} run into each other: their centres are {:.2} mm apart",
                    i + 1,
                    j + 1,
                    a.distance(b)
                )));
            }
            if web < s.web() {
                notes.push(Note::at(
                    format!(
                        "the web between holes {} and {} is {web:.2} mm, thinner than {} mm",
                        i + 1,
                        j + 1,
                        s.web()
                    ),
                    a.midpoint(b),
                ));
            }
        }
    }
    Ok(())
}

pub(super) fn against_thickness(s: &OpeningSettings, notes: &mut Vec<Note>) {
    if let Some(t) = s.thickness.filter(|t| s.hole < s.hole_ratio * t) {
        notes.push(Note::new(format!(
            "holes of {} mm are small for a plate of {t} mm: under {} thicknesses a plasma hole comes out tapered; consider drilling",
            s.hole, s.hole_ratio
        )));
    }
}

/// Everything on the plate, off its edges and the openings it has.
pub(super) fn on_stock(
    loops: &[Loop],
    s: &OpeningSettings,
    notes: &mut Vec<Note>,
) -> Result<(), Refusal> {
    let Some(stock) = &s.stock else {
        return Ok(());
    };
    let border = stock.border.edges();
    for (i, l) in loops.iter().enumerate() {
        let name = if i == 0 {
            "the opening".to_owned()
        } else {
            format!("hole {i}")
        };
        let edges = l.path.edges();
        let Some(at) = edges.first().map(Edge::from) else {
            continue;
        };
        let mut room = distance(&edges, &border);
        let mut off = !near::inside(&border, at);
        for opening in &stock.openings {
            let opening = opening.edges();
            room = room.min(distance(&edges, &opening));
            off |= near::inside(&opening, at);
            off |= opening
                .first()
                .is_some_and(|e| near::inside(&edges, e.from()));
        }
        if off || room <= 0.0 {
            return Err(Refusal::Setting(format!(
                "{name} at ({:.1}, {:.1}) does not fit the stock",
                at.x, at.y
            )));
        }
        if room < s.web() {
            notes.push(Note::at(
                format!("{name} comes within {room:.2} mm of the edge of the stock"),
                at,
            ));
        }
    }
    Ok(())
}

fn distance(a: &[Edge], b: &[Edge]) -> f64 {
    // A whole circle in halves, so that every edge is a plain arc.
    let plain = |edges: &[Edge]| -> Vec<Edge> { edges.iter().flat_map(halves).collect() };
    let (a, b) = (plain(a), plain(b));
    let pairs = a
        .iter()
        .flat_map(|x| b.iter().map(move |y| near::nearest(x, y).distance));
    pairs.fold(f64::INFINITY, f64::min)
}

fn halves(edge: &Edge) -> Vec<Edge> {
    match edge {
        Edge::Arc(a) if a.is_full() => {
            let middle = a.point_at(0.5);
            let half = |from: Point, to: Point| {
                Edge::Arc(Arc {
                    from,
                    to,
                    sweep: 0.5 * a.sweep,
                    ..*a
                })
            };
            vec![half(a.from, middle), half(middle, a.to)]
        }
        e => vec![*e],
    }
}

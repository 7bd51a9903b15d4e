//! Where open cuts end that were traced up to a rim or a hole.
//!
//! A hand that cuts a slit begins it at the rim, give or take its error; where the outline leaves a web between
//! the two, the torch would too, and the slit would not open. So the end of a traced line is carried on to a traced
//! loop within that hand's error, straight on where that meets it. What a drawing states is exact: there a web
//! is a web, and is told where it is thinner than it should be.

use super::{Warning, WarningKind, name};
use crate::cut::settings::CutSettings;
use crate::geom::near::{crossings, inside};
use crate::geom::{Edge, Line, Point, Vec2};
use crate::outline::{Loop, Outline, Role};

/// An end within so many times what the lines lie off their traces, rms, and so many mm more, was meant to meet.
const MEETS: (f64, f64) = (4.0, 1.0);
/// Straight on it may be so many times as far as the nearest place.
const STRAIGHT_ON: f64 = 2.0;

/// The cut along an open line, carried on at either end to what it all but meets.
pub(super) fn carried_on(
    index: usize,
    l: &Loop,
    outline: &Outline,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) -> Vec<Edge> {
    let mut edges = l.path.edges();
    for at_end in [false, true] {
        let Some(end) = outward(&edges, at_end) else {
            continue;
        };
        let Some(found) = beside(end.0, l, outline) else {
            continue;
        };
        let half = 0.5 * settings.kerf;
        let (text, kind) = if found.off <= found.reach {
            let to = straight_on(end, &found).unwrap_or(found.at);
            extend(&mut edges, at_end, to);
            let text = format!(
                "{} is carried on by {:.1} mm to {}, where it was traced to",
                name(outline, index),
                end.0.distance(to),
                name(outline, found.of)
            );
            (text, WarningKind::OpenPath)
        } else if found.off - half < settings.least_web() && found.off > half {
            let text = format!(
                "the web between the end of {} and {} at ({:.1}, {:.1}) mm is {:.2} mm: under {} mm it may burn away",
                name(outline, index),
                name(outline, found.of),
                found.at.x,
                found.at.y,
                found.off - half,
                settings.least_web()
            );
            (text, WarningKind::ThinWeb)
        } else {
            continue;
        };
        warnings.push(Warning {
            kind,
            text,
            at: Some(end.0),
            size: Some(found.off),
        });
    }
    edges
}

/// A loop that an end lies beside, in metal.
struct Beside {
    of: usize,
    rim: Vec<Edge>,
    at: Point,
    off: f64,
    /// Within this the end was meant to meet it, mm; nothing for what a drawing states.
    reach: f64,
}

/// The closed loop nearest to the end of an open line, if metal lies between the two.
fn beside(end: Point, l: &Loop, outline: &Outline) -> Option<Beside> {
    let closed = outline.loops.iter().enumerate();
    let all = closed
        .filter(|(_, o)| o.role != Role::Open)
        .filter_map(|(of, other)| {
            let rim = other.path.edges();
            let near = rim.iter().map(|e| e.nearest(end).0);
            let near = near.min_by(|a, b| a.distance(end).total_cmp(&b.distance(end)))?;
            let reach = match (l.deviation, other.deviation) {
                (Some(a), Some(b)) => MEETS.0 * a.rms.max(b.rms) + MEETS.1,
                _ => 0.0,
            };
            Some(Beside {
                of,
                at: near,
                off: near.distance(end),
                reach,
                rim,
            })
        });
    let found = all.min_by(|a, b| a.off.total_cmp(&b.off))?;
    let metal = inside(&found.rim, end) == (outline.loops.get(found.of)?.role == Role::Part);
    (metal && found.off > 0.0).then_some(found)
}

/// The end of a path, and the way it points there.
fn outward(edges: &[Edge], at_end: bool) -> Option<(Point, Vec2)> {
    let edge = if at_end { edges.last() } else { edges.first() }?;
    Some(match at_end {
        true => (edge.to(), edge.direction_at(1.0)),
        false => (edge.from(), edge.direction_at(0.0) * -1.0),
    })
}

/// Where the end, carried straight on, meets the loop.
fn straight_on((end, way): (Point, Vec2), found: &Beside) -> Option<Point> {
    let ray = Edge::Line(Line {
        from: end,
        to: end + way * (STRAIGHT_ON * found.off),
    });
    let met = found.rim.iter().flat_map(|e| crossings(&ray, e));
    met.min_by(|a, b| a.distance(end).total_cmp(&b.distance(end)))
}

fn extend(edges: &mut Vec<Edge>, at_end: bool, to: Point) {
    let from = if at_end {
        edges.last().map(Edge::to)
    } else {
        edges.first().map(Edge::from)
    };
    let Some(from) = from.filter(|f| f.distance(to) > 0.0) else {
        return;
    };
    match at_end {
        true => edges.push(Edge::Line(Line { from, to })),
        false => edges.insert(0, Edge::Line(Line { from: to, to: from })),
    }
}

#[cfg(test)]
mod tests {
    use crate::cut::{CutSettings, plan::plan};
    use crate::geom::{Edge, Point};
    use crate::outline::{Chain, Deviation, Loop, Outline, Path, Role, Shape};

    /// A plate of 120 x 80 and a line up from (60, `from`), as traced or as drawn.
    fn plate(from: f64, traced: bool) -> Outline {
        let chain = |corners: &[(f64, f64)], role: Role| Loop {
            role,
            path: Path::Chain(Chain {
                corners: corners.iter().map(|&(x, y)| Point::new(x, y)).collect(),
                shapes: vec![Shape::Line; corners.len() - usize::from(role == Role::Open)],
            }),
            deviation: traced.then_some(Deviation { rms: 0.2, max: 0.5 }),
        };
        let rim = [(0.0, 0.0), (120.0, 0.0), (120.0, 80.0), (0.0, 80.0)];
        Outline {
            loops: vec![
                chain(&rim, Role::Part),
                chain(&[(60.0, from), (64.0, 40.0)], Role::Open),
            ],
            marks: Vec::new(),
        }
    }

    fn lowest(outline: &Outline) -> f64 {
        let plan = plan(outline, &CutSettings::new(1.5, 2000.0, 0.5)).unwrap();
        let open = plan.cuts.iter().find(|c| c.role == Role::Open).unwrap();
        let ends = open.path.iter().flat_map(|e: &Edge| [e.from().y, e.to().y]);
        ends.fold(f64::INFINITY, f64::min)
    }

    #[test]
    fn a_traced_slit_meets_its_rim_and_a_drawn_one_is_as_drawn() {
        assert!(lowest(&plate(1.2, true)).abs() < 1e-9);
        assert!((lowest(&plate(1.2, false)) - 1.2).abs() < 1e-9);
        // Meant to end there, and begun outside.
        assert!((lowest(&plate(8.0, true)) - 8.0).abs() < 1e-9);
        assert!((lowest(&plate(-2.0, true)) + 2.0).abs() < 1e-9);
    }
}

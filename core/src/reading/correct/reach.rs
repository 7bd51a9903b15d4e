//! Which hints have something near enough to be about.
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are numbered by the joint they stand in"
)]

use super::refused;
use crate::geom::Point;
use crate::hint::{CornerKind, Hint, LoopKind, Says};
use crate::outline::{Bounds, Path};
use crate::report::Doubt;
use crate::trace::CleanTrace;

/// The hints that name something near them; the others are refused with the distance. Of corners, sizes and holes it
/// is told once it is known what was read.
pub(in crate::reading) fn in_reach(
    clean: &CleanTrace,
    drawn: &[Path],
    hints: &[Hint],
) -> (Vec<Hint>, Vec<Doubt>) {
    let lines = clean.paths.iter().map(|p| p.points.as_slice());
    let drawn: Vec<Vec<Point>> = drawn.iter().map(|p| p.flatten(0.1)).collect();
    let lines: Vec<&[Point]> = lines.chain(drawn.iter().map(Vec::as_slice)).collect();
    let all = lines.iter().flat_map(|l| l.iter()).chain(&clean.marks);
    let bounds = Bounds::of_points(all.copied());
    let reach = super::asked::reach(bounds.map_or(0.0, |b| b.diagonal()));
    let to_line = |at: Point| {
        let far = |l: &&[Point]| {
            let steps = l.windows(2).map(|w| distance_to_step(at, w[0], w[1]));
            steps.fold(f64::INFINITY, f64::min)
        };
        lines.iter().map(far).fold(f64::INFINITY, f64::min)
    };
    let to_mark = |at: Point| {
        let far = clean.marks.iter().map(|m| m.distance(at));
        far.fold(f64::INFINITY, f64::min)
    };
    let (mut near, mut doubts) = (Vec::new(), Vec::new());
    for h in hints {
        // A mark that has a diameter is a hole.
        let made_hole = match h.says {
            Says::Diameter(d) => Some(d),
            Says::Radius(r) => Some(2.0 * r),
            _ => None,
        };
        let is_mark = || {
            let far = to_mark(h.at);
            far <= reach && far < to_line(h.at)
        };
        if let Some(d) = made_hole.filter(|d| d.is_finite() && *d > 0.0 && is_mark()) {
            near.push(Hint {
                at: h.at,
                says: Says::Hole(d, Vec::new()),
            });
            continue;
        }
        let (what, far) = match &h.says {
            Says::Edge(_) => ("edge", to_line(h.at)),
            Says::Loop(LoopKind::Alone) => ("line or mark", to_line(h.at).min(to_mark(h.at))),
            Says::Loop(_) if lines.iter().any(|l| winds(l, h.at)) => ("line", 0.0),
            Says::Loop(_) => ("line", to_line(h.at)),
            Says::Corner(CornerKind::Keep) => ("line", to_line(h.at)),
            Says::Hole(_, with) => {
                let all = with.iter().map(|p| to_mark(*p));
                ("mark", all.fold(to_mark(h.at), f64::max))
            }
            _ => ("", 0.0),
        };
        if far.is_infinite() {
            doubts.push(refused(h, &format!("there is no {what} here")));
        } else if far > reach {
            doubts.push(refused(
                h,
                &format!("the nearest {what} is {far:.0} mm away"),
            ));
        } else {
            near.push(h.clone());
        }
    }
    (near, doubts)
}

fn distance_to_step(at: Point, a: Point, b: Point) -> f64 {
    let d = b - a;
    let part = (at - a).dot(d) / d.length_squared().max(1e-300);
    at.distance(a + d * part.clamp(0.0, 1.0))
}

/// Whether a line goes round a place (even–odd rule), closed by the way from its end to its start.
fn winds(line: &[Point], at: Point) -> bool {
    let mut inside = false;
    let ends = line.iter().skip(1).chain(line.first());
    for (a, b) in line.iter().zip(ends) {
        if (a.y > at.y) != (b.y > at.y) && at.x < a.x + (at.y - a.y) / (b.y - a.y) * (b.x - a.x) {
            inside = !inside;
        }
    }
    inside
}

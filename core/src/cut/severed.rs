//! Open cuts that close round a piece of metal: a part falls into two, or a piece falls out.
//!
//! *Idea.* Loops and open cuts are the nodes of a graph. Each stretch on which an open cut has no metal between itself
//! and another one (it crosses it, ends at it, runs along it so near that what is left burns through, or lies where
//! that one leaves none: in a hole, outside a part) is a link. As long as the links make a forest, all metal hangs
//! together; a link between two that are joined already closes a ring of cuts, and what it goes round falls. So a
//! line from rim to rim is found, one from rim to hole and another from there to the rim, and four that cross. A slit
//! from the rim inwards is one link, and severs nothing. (That a graph's rings are counted so is Euler's formula; the
//! sets are merged as in any textbook on spanning trees.)
//!
//! *Fails* on a cut that closes with itself, which [`roles`](super::plan) tells, and on rings that only webs between
//! holes close, which are told as webs.

use super::clear::Near;
use super::course;
use super::plan::{Cut, Warning, WarningKind, name};
use super::settings::CutSettings;
use crate::geom::near::inside;
use crate::geom::{Edge, Point};
use crate::outline::{Outline, Role};

/// Most places of an edge that are looked at.
const MOST_LOOKS: f64 = 2000.0;

/// A stretch of an open cut with no metal between it and another: where it begins and ends, mm along the cut.
#[derive(Clone, Copy)]
struct Stretch {
    other: usize,
    from: f64,
    to: f64,
    at: Point,
    /// The place where it ends.
    left: Point,
}

/// One warning for each ring of cuts that an open one closes.
pub(super) fn all(
    cuts: &[Cut],
    outline: &Outline,
    settings: &CutSettings,
    warnings: &mut Vec<Warning>,
) {
    let open = |c: &&Cut| c.role == Role::Open;
    if !cuts.iter().any(|c| open(&c)) {
        return;
    }
    let paths: Vec<(Role, Vec<Edge>)> = outline
        .loops
        .iter()
        .map(|l| (l.role, l.path.edges()))
        .collect();
    let owned = paths.iter().enumerate();
    let all = Near::new(
        owned
            .flat_map(|(i, (_, edges))| edges.iter().map(move |e| (i, *e)))
            .collect(),
    );
    let mut sets: Vec<usize> = (0..paths.len()).collect();
    // Cuts that cross like a grid close many rings: the first tells of them all.
    let mut rings: Vec<Warning> = Vec::new();
    for cut in cuts.iter().filter(open) {
        let own = cut.loop_index;
        let met = stretches(cut, &all, &paths, settings);
        for (k, stretch) in met.iter().enumerate() {
            if joined(&mut sets, own, stretch.other) {
                continue;
            }
            let is_part = |s: &&Stretch| paths.get(s.other).is_some_and(|p| p.0 == Role::Part);
            let mut before = met.iter().take(k).rev();
            let last = before.find(|s| s.other == stretch.other);
            match last.filter(is_part) {
                Some(last) => warnings.push(across(outline, own, last, stretch)),
                None => rings.push(ring(outline, own, stretch)),
            }
        }
    }
    let more = rings.len().saturating_sub(1);
    warnings.extend(rings.into_iter().take(1).map(|mut first| {
        if more > 0 {
            first.text.push_str(&format!(" ({more} more such places)"));
        }
        first
    }));
}

/// A cut that leaves the rim of a part at `from` and comes to it again at `to`.
fn across(outline: &Outline, own: usize, from: &Stretch, to: &Stretch) -> Warning {
    let (cut, part) = (name(outline, own), name(outline, to.other));
    let (at, long) = (from.left, to.from - from.to);
    let text = format!(
        "{cut} goes across {part} from edge to edge and cuts it in two, {long:.1} mm of it from ({:.1}, {:.1}) mm on: leave \
         it out, or cut the pieces as parts of their own",
        at.x, at.y
    );
    Warning {
        kind: WarningKind::Severed,
        text,
        at: Some(at),
        size: Some(long),
    }
}

/// A cut that comes to another with which it hangs together already.
fn ring(outline: &Outline, own: usize, stretch: &Stretch) -> Warning {
    let (cut, other, at) = (name(outline, own), name(outline, stretch.other), stretch.at);
    let text = format!(
        "{cut} meets {other} at ({:.1}, {:.1}) mm and closes a ring of cuts: the piece in it falls out, cut along the middle \
         of the lines; leave one of them out, or draw that piece as one closed line",
        at.x, at.y
    );
    Warning {
        kind: WarningKind::Severed,
        text,
        at: Some(at),
        size: None,
    }
}

/// The stretches of a cut, in order along it; those with open cuts are found from the later of the two alone.
fn stretches(
    cut: &Cut,
    all: &Near,
    paths: &[(Role, Vec<Edge>)],
    settings: &CutSettings,
) -> Vec<Stretch> {
    let near = 0.5 * settings.kerf + settings.least_web();
    // Another open cut takes half its own kerf as well.
    let reach = |other: usize| match paths.get(other) {
        Some((Role::Open, _)) => near + 0.5 * settings.kerf,
        _ => near,
    };
    let of_interest = |other: usize| match paths.get(other) {
        Some((Role::Open, _)) => other < cut.loop_index,
        _ => true,
    };
    let mut met: Vec<Stretch> = Vec::new();
    let mut along = 0.0;
    for edge in &cut.path {
        let widest = near + 0.5 * settings.kerf;
        let looks = match all.around(edge, widest).is_empty() {
            true => 0.0,
            false => (edge.length() / (0.5 * settings.kerf)).ceil(),
        };
        let looks = looks.clamp(1.0, MOST_LOOKS);
        for k in 0..=looks as usize {
            let share = k as f64 / looks;
            let (at, way) = (edge.point_at(share), along + share * edge.length());
            let mut others: Vec<usize> = all
                .within_of(at, widest)
                .iter()
                .filter(|h| of_interest(h.owner) && h.nearest.distance < reach(h.owner))
                .map(|h| h.owner)
                .collect();
            others.sort_unstable();
            others.dedup();
            for other in others {
                extend(&mut met, other, (at, way), edge.length() / looks);
            }
        }
        along += edge.length();
    }
    let place = |way: f64| {
        let (index, t) = course::place(&cut.path, way);
        cut.path
            .get(index)
            .map_or(Point::default(), |e| e.point_at(t))
    };
    let metal = |other: usize, way: f64| match paths.get(other) {
        Some((Role::Part, rim)) => inside(rim, place(way)),
        Some((Role::Hole, rim)) => !inside(rim, place(way)),
        _ => true,
    };
    let mut merged: Vec<Stretch> = Vec::new();
    for s in met {
        let mut same = merged.iter_mut().rev();
        match same.find(|m| m.other == s.other) {
            Some(m) if !metal(s.other, 0.5 * (m.to + s.from)) => (m.to, m.left) = (s.to, s.left),
            _ => merged.push(s),
        }
    }
    merged
}

/// Adds a place to the stretch that ends one look before it, or begins another.
fn extend(met: &mut Vec<Stretch>, other: usize, (at, way): (Point, f64), look: f64) {
    let mut last = met.iter_mut().rev();
    match last.find(|s| s.other == other) {
        Some(s) if way - s.to < 1.5 * look => (s.to, s.left) = (way, at),
        _ => met.push(Stretch {
            other,
            from: way,
            to: way,
            at,
            left: at,
        }),
    }
}

/// Puts two into one set; `false` where they were in one already.
fn joined(sets: &mut [usize], a: usize, b: usize) -> bool {
    let root = |sets: &[usize], mut i: usize| {
        while let Some(up) = sets.get(i).filter(|up| **up != i) {
            i = *up;
        }
        i
    };
    let (a, b) = (root(sets, a), root(sets, b));
    if let Some(up) = sets.get_mut(a.max(b)) {
        *up = a.min(b);
    }
    a != b
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cut::plan::plan;
    use crate::outline::{Chain, Circle, Loop, Path, Shape};

    fn chain(points: &[(f64, f64)], role: Role) -> Loop {
        let sides = points.len() - usize::from(role == Role::Open);
        let path = Path::Chain(Chain {
            corners: points.iter().map(|&(x, y)| Point::new(x, y)).collect(),
            shapes: vec![Shape::Line; sides],
        });
        let deviation = None;
        Loop {
            role,
            path,
            deviation,
        }
    }

    /// How many such warnings a plate of 120 x 80 with a hole of 24 in its middle gets by these lines.
    fn told(lines: &[&[(f64, f64)]]) -> usize {
        let rim = [(0.0, 0.0), (120.0, 0.0), (120.0, 80.0), (0.0, 80.0)];
        let hole = Path::Circle(Circle {
            center: Point::new(60.0, 40.0),
            radius: 12.0,
            counter_clockwise: false,
        });
        let hole = Loop {
            path: hole,
            ..chain(&[], Role::Hole)
        };
        let mut loops = vec![chain(&rim, Role::Part), hole];
        loops.extend(lines.iter().map(|l| chain(l, Role::Open)));
        let outline = Outline {
            loops,
            marks: Vec::new(),
        };
        let plan = plan(&outline, &CutSettings::new(1.5, 2000.0, 0.5)).unwrap();
        let severed = |w: &&Warning| w.kind == WarningKind::Severed;
        plan.warnings.iter().filter(severed).count()
    }

    #[test]
    fn what_falls_out_is_told() {
        assert_eq!(told(&[&[(90.0, -10.0), (90.0, 90.0)]]), 1);
        // From rim to rim, in two legs, ending a little short; through the hole; from it to itself.
        assert_eq!(told(&[&[(0.0, 20.0), (60.0, 10.0), (119.0, 20.0)]]), 1);
        assert_eq!(told(&[&[(-3.0, 40.0), (123.0, 40.0)]]), 1);
        assert_eq!(
            told(&[&[(60.0, 40.0), (90.0, 40.0), (60.0, 70.0), (60.0, 51.0)]]),
            1
        );
        // From the rim to the hole on either side of it.
        assert_eq!(
            told(&[&[(0.0, 40.0), (48.0, 40.0)], &[(72.0, 40.0), (120.0, 40.0)]]),
            1
        );
        // Four that cross within the part: one piece falls out.
        let cross: [&[(f64, f64)]; 4] = [
            &[(85.0, 20.0), (115.0, 20.0)],
            &[(85.0, 60.0), (115.0, 60.0)],
            &[(90.0, 15.0), (90.0, 65.0)],
            &[(110.0, 15.0), (110.0, 65.0)],
        ];
        assert_eq!(told(&cross), 1);
    }

    #[test]
    fn what_hangs_together_is_not() {
        // Slits from the rim and from the hole, one between them, a line within, one beside, one along the rim.
        assert_eq!(
            told(&[&[(30.0, -1.0), (30.0, 50.0)], &[(90.0, 81.0), (90.0, 30.0)]]),
            0
        );
        assert_eq!(told(&[&[(60.0, 45.0), (60.0, 65.0)]]), 0);
        assert_eq!(told(&[&[(-5.0, 40.0), (60.0, 40.0)]]), 0);
        assert_eq!(told(&[&[(20.0, 15.0), (100.0, 15.0)]]), 0);
        assert_eq!(told(&[&[(-20.0, 40.0), (-5.0, 90.0)]]), 0);
        assert_eq!(told(&[&[(0.0, 1.0), (120.0, 1.0)]]), 0);
        // Three that cross one another once each beside the part hang together at two places only.
        assert_eq!(
            told(&[
                &[(-60.0, 0.0), (-20.0, 0.0)],
                &[(-40.0, -20.0), (-40.0, 20.0)]
            ]),
            0
        );
    }
}

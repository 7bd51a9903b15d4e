//! What else moved when a correction was followed, and by how much.
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are numbered by the joint they stand in"
)]

use super::Wanted;
use super::stand::{HOLE_STAYS, Moved, Stand};
use super::{near, wishes};
use crate::fit::partition::Kind;
use crate::geom::Point;
use crate::outline::numbers::{Number, Numbered, numbers};
use crate::outline::{Outline, Path};
use crate::reading::describe::{self, Measured, SPREAD_95};
use crate::reading::together::Source;
use crate::reading::{Course, Taken};
use crate::relate::across::Form;
use crate::relate::constraint::{Condition, Constraint};
use crate::relate::figure::Figure;
use crate::relate::measures::of_edge;
use crate::relate::quantity::{Quantity, Side};
use crate::report::{Also, Note, Size, SizeKind};

impl Stand {
    /// The sizes of every loop before it is changed, and the ± of each.
    pub(super) fn sizes(&self, taken: &[Taken]) -> Vec<Vec<(Measured, f64)>> {
        let of = |(i, s): (usize, &Source)| match s {
            Source::Loop(t) => {
                let told = taken[*t].told.as_ref();
                let Some(Course::Chain(solved)) = told.map(|t| &t.1.course) else {
                    return Vec::new();
                };
                let spread = SPREAD_95 * self.factors[i].sqrt();
                let all = describe::measure(solved, |_| None).into_iter();
                all.map(|m| {
                    let sure = if m.fixed { 0.0 } else { spread * m.deviation };
                    (m, sure)
                })
                .collect()
            }
            _ => Vec::new(),
        };
        self.sources.iter().enumerate().map(of).collect()
    }

    /// What nobody asked for and moved by more than its ±.
    pub(super) fn also(
        &self,
        before: &[Vec<(Measured, f64)>],
        done: &[Wanted<'_>],
        solved: &Moved,
        taken: &[Taken],
    ) -> Vec<Also> {
        let mut out = Vec::new();
        for (i, sizes) in before.iter().enumerate() {
            let (Source::Loop(index), Form::Chain(f)) =
                (self.sources[i], &solved.joint.bodies[i].shape)
            else {
                continue;
            };
            let turn = if taken[index].made.path.area() >= 0.0 {
                1.0
            } else {
                -1.0
            };
            for (m, sure) in sizes {
                let asked = m.constraint.of_body(i);
                let said = |c: &Constraint| c.terms == asked.terms;
                let is_asked = done.iter().any(|w| {
                    w.asked
                        .conditions
                        .iter()
                        .flat_map(|c| &c.constraints)
                        .any(said)
                });
                let Some(by) = as_measured(m, f).off(f).filter(|_| !is_asked) else {
                    continue;
                };
                let (by, least) = match m.kind {
                    SizeKind::Angle => (-turn * by, LEAST_TOLD_ANGLE),
                    SizeKind::Distance => (by * m.constraint.value.signum(), LEAST_TOLD),
                    _ => (by, LEAST_TOLD),
                };
                if by.abs() > sure.max(least) {
                    out.push(Also {
                        kind: m.kind,
                        loop_index: index,
                        edges: m.edges.clone(),
                        from: m.value,
                        to: m.value + by,
                        plus_minus: *sure,
                        at: m.at,
                    });
                }
            }
        }
        out.extend(self.moved_holes(done, solved));
        out
    }

    /// Holes that came to lie elsewhere in their part.
    pub(super) fn moved_holes(&self, done: &[Wanted<'_>], solved: &Moved) -> Vec<Also> {
        let mut out = Vec::new();
        for (body, line, across) in self.edges_about_holes() {
            let c = Constraint::at(across, 0.0);
            let asked = done.iter().any(|w| w.asked.names(&[body, line.body]));
            let (Some(from), Some(to)) = (c.off(&self.joint), c.off(&solved.joint)) else {
                continue;
            };
            let Source::Loop(index) = self.sources[line.body] else {
                continue;
            };
            if (to - from).abs() > HOLE_STAYS && !asked {
                out.push(Also {
                    kind: SizeKind::ToEdge,
                    loop_index: index,
                    edges: vec![line.edge],
                    from: from.abs(),
                    to: to.abs(),
                    plus_minus: HOLE_STAYS,
                    at: crate::reading::together::place_of(&solved.joint.bodies[body]),
                });
            }
        }
        out
    }

    /// Of each hole and mark the nearest edge of each direction of the part about it.
    pub(super) fn edges_about_holes(&self) -> Vec<(usize, Side, Quantity)> {
        let mut out = Vec::new();
        for (body, holder) in self.holders.iter().enumerate() {
            let b = &self.joint.bodies[body];
            let (Some(holder), false) = (*holder, matches!(b.shape, Form::Chain(_))) else {
                continue;
            };
            let Form::Chain(f) = &self.joint.bodies[holder].shape else {
                continue;
            };
            let lines: Vec<Side> = (0..f.len())
                .filter(|e| f.kinds[*e] == Kind::Line)
                .map(|e| Side::new(holder, e))
                .collect();
            let at = crate::reading::together::place_of(b);
            let near = wishes::lines_about(f, &lines, at);
            let nearest = near.into_iter().filter(|(_, k)| *k <= 1.0 + 1e-9);
            out.extend(
                nearest.map(|(line, _)| (body, line, Quantity::Offset(line, near::middle(body)))),
            );
        }
        out
    }

    /// What was found and could not go on.
    pub(super) fn undone(&self, solved: &Moved) -> Vec<Note> {
        let said = |c: &Condition| {
            let at =
                c.of.first()
                    .and_then(|m| match &self.joint.bodies.get(m.0)?.shape {
                        Form::Chain(f) => f.corners.get(m.1.unwrap_or(0)).copied(),
                        Form::Round { center, .. } | Form::Spot(center) => Some(*center),
                    });
            let text = format!("this gave way to a correction: {}", c.kind.row().counted[0]);
            match at {
                Some(at) => Note::at(text, at),
                None => Note::new(text),
            }
        };
        solved.dropped.iter().map(said).collect()
    }
}

/// Smaller changes are not worth telling, mm and radians.
pub(super) const LEAST_TOLD: f64 = 0.01;

const LEAST_TOLD_ANGLE: f64 = 1e-4;

/// Which hole or mark lies at a place.
fn hole_at(outline: &Outline, all: &[Number], at: Point) -> String {
    let far = |n: &&Number| {
        let l = n.loop_index.and_then(|l| outline.loops.get(l));
        match l.map(|l| &l.path) {
            Some(Path::Circle(c)) => c.center.distance(at),
            _ => n.at.distance(at),
        }
    };
    let holes = all.iter().filter(|n| n.what == Numbered::Hole);
    let nearest = holes.min_by(|a, b| far(a).total_cmp(&far(b)));
    nearest.map_or("a hole".into(), |n| format!("hole {}", n.number))
}

/// A size as a rule measures it now: a side may end at a virtual corner where it did not before.
fn as_measured(m: &Measured, f: &Figure) -> Constraint {
    match (m.kind, m.edges.as_slice()) {
        (SizeKind::Length, &[e]) => Constraint {
            terms: of_edge(f, 0, e).1,
            value: m.constraint.value,
        },
        _ => m.constraint.clone(),
    }
}

/// Another sentence says it already: two edges are as far apart as a side between them is long, which is told too
/// or was asked.
pub(in crate::reading) fn is_said(also: &Also, told: &[Also], sizes: &[Size]) -> bool {
    let near = |a: f64, b: f64| (a - b).abs() < 1e-6;
    let mut sides = told.iter().filter(|a| a.kind == SizeKind::Length);
    let mut asked = sizes
        .iter()
        .filter(|s| s.fixed && s.kind == SizeKind::Length);
    also.kind == SizeKind::Distance
        && (sides.any(|a| {
            a.loop_index == also.loop_index && near(a.from, also.from) && near(a.to, also.to)
        }) || asked.any(|s| s.loop_index == also.loop_index && near(s.value, also.to)))
}

/// What is said of a size that moved along.
pub(in crate::reading) fn sentence(also: &Also, outline: &Outline) -> String {
    let all = numbers(outline);
    let number = |e: &usize| {
        let mut own = all.iter().filter(|n| n.loop_index == Some(also.loop_index));
        own.find(|n| n.index == *e && n.what != Numbered::Corner)
            .map_or(e + 1, |n| n.number)
    };
    let named: Vec<String> = also.edges.iter().map(|e| number(e).to_string()).collect();
    let of = match named.as_slice() {
        [one] => format!("edge {one}"),
        more => format!("edges {}", more.join(" and ")),
    };
    let (from, to, by, unit) = match also.kind {
        SizeKind::Angle => {
            let [a, b] = [also.from, also.to].map(f64::to_degrees);
            (a, b, b - a, "°")
        }
        _ => (also.from, also.to, also.to - also.from, " mm"),
    };
    let what = match also.kind {
        SizeKind::Length => "",
        SizeKind::Radius => "the radius of ",
        SizeKind::Diameter => "the diameter of ",
        SizeKind::Angle => "the angle of ",
        SizeKind::ToEdge => &format!("the distance of {} from ", hole_at(outline, &all, also.at)),
        SizeKind::Distance | SizeKind::Centers | SizeKind::Spacing => "the distance of ",
    };
    format!("{what}{of} went from {from:.2} to {to:.2}{unit} ({by:+.2}) with it")
}

//! Which side of each line is kept, and where that may have been guessed wrongly.
//!
//! A line alone says nothing of its sides. A closed loop that lies in no other bounds a part, its inside is
//! kept: so most traces are meant, and the screen and the picture say it. [`Keep`] turns that over for
//! openings in a sheet. What speaks against the guess is told: marks beside the loop rather than in it (an
//! opening with its bolt holes), a part on the metal of another, a hole in no metal, an open path that goes
//! all but round or has a part within it.

use super::{CutSettings, Warning, WarningKind, name};
use crate::geom::near::{crossings, inside};
use crate::geom::{Edge, Line, Point};
use crate::outline::nesting::parents;
use crate::outline::{Bounds, Loop, Mark, Outline, Role};
use crate::report::{About, Doubt};
use serde::{Deserialize, Serialize};

/// Which side of the outermost loops is kept, where the person says so.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum Keep {
    /// What they enclose: parts.
    Inside,
    /// The sheet around them: they are openings.
    Outside,
}

/// An open path that turns by this much, radians, or whose ends lie within this share of its length goes all
/// but round: three quarters of a turn are more than a hook or a slit has.
const ALL_BUT_ROUND: f64 = 1.4 * core::f64::consts::PI;
const ALL_BUT_CLOSED: f64 = 0.2;
/// Paths of more edges are not looked at for crossings with themselves.
const MOST_CROSSED: usize = 500;

impl Keep {
    /// The outline with every closed loop of the role that this side and its nesting ask for. Loops that
    /// bound an opening already, whatever lies around them, stay so.
    #[must_use]
    pub fn apply(self, outline: &Outline) -> Outline {
        let around = parents(&outline.loops);
        let roles = outline.loops.iter().zip(&around).map(|(l, around)| {
            let odd = around.as_ref().map(|a| a.len() % 2 == 1);
            match odd {
                None => l.clone(),
                Some(odd) if odd == (self == Self::Inside) => with_role(l, Role::Hole),
                Some(_) => with_role(l, Role::Part),
            }
        });
        Outline {
            loops: roles.collect(),
            marks: outline.marks.clone(),
        }
    }
}

/// The loop with a role, running the way that role asks for.
fn with_role(l: &Loop, role: Role) -> Loop {
    let right = (l.path.area() > 0.0) == (role == Role::Part);
    Loop {
        role,
        path: if right {
            l.path.clone()
        } else {
            l.path.reversed()
        },
        deviation: l.deviation,
    }
}

/// The first part that lies where an open path would close straight across: what goes round it was hardly meant open.
fn first_within(outline: &Outline, open: &[Edge]) -> Option<usize> {
    let (from, to) = (open.last()?.to(), open.first()?.from());
    let across = Edge::Line(Line { from, to });
    let around: Vec<Edge> = open.iter().copied().chain([across]).collect();
    let reach = Bounds::of_edges(&around)?;
    let mut parts = outline.loops.iter().enumerate();
    let found = parts.find(|(_, l)| {
        let edges = l.path.edges();
        let near = || Bounds::of_edges(&edges).is_some_and(|b| b.touches(&reach, 0.0));
        l.role == Role::Part && near() && edges.iter().all(|e| inside(&around, e.point_at(0.5)))
    });
    found.map(|(i, _)| i)
}

/// What speaks against the roles as they are.
pub(super) fn check(outline: &Outline, warnings: &mut Vec<Warning>) {
    let around = parents(&outline.loops);
    let role = |i: usize| outline.loops.get(i).map(|l| l.role);
    let mut warn = |kind, text: String, at: Point| {
        warnings.push(Warning {
            kind,
            text,
            at: Some(at),
            size: None,
        });
    };
    for (i, l) in outline.loops.iter().enumerate() {
        let Some(at) = l.path.edges().first().map(Edge::from) else {
            continue;
        };
        let Some(own) = around.get(i).and_then(Option::as_ref) else {
            if let Some(text) = all_but_closed(&l.path.edges()) {
                warn(WarningKind::AllButClosed, text, at);
            } else if let Some(j) = first_within(outline, &l.path.edges()) {
                let text = format!(
                    "{} lies within {}, which is cut along itself: if that is its rim, trace the side that is missing; if \
                     not, cut them one at a time",
                    name(outline, j),
                    name(outline, i)
                );
                warn(WarningKind::AllButClosed, text, at);
            }
            continue;
        };
        let depth = |j: &usize| around.get(*j).and_then(Option::as_ref).map_or(0, Vec::len);
        let innermost = own.iter().copied().max_by_key(depth);
        let (a, b) = (name(outline, i), innermost.map(|j| name(outline, j)));
        match (l.role, innermost.and_then(role), b) {
            (Role::Part, Some(Role::Part), Some(b)) => warn(
                WarningKind::Misplaced,
                format!(
                    "{a} lies on the metal of {b}: cutting it spoils {b}; move one of them, or say that {a} is a hole"
                ),
                at,
            ),
            (Role::Hole, Some(Role::Hole), Some(b)) => warn(
                WarningKind::Misplaced,
                format!(
                    "{a} lies in {b}, where no metal is: leave it out, or say that it is a part"
                ),
                at,
            ),
            _ => {}
        }
    }
}

/// Marks beside the parts rather than in them: an opening and its bolt holes look so.
#[must_use]
pub fn marks_beside(outline: &Outline) -> Option<Doubt> {
    let parts: Vec<Vec<Edge>> = outline
        .loops
        .iter()
        .filter(|l| l.role == Role::Part)
        .map(|l| l.path.edges())
        .collect();
    let beside = |m: &&Mark| !parts.iter().any(|p| inside(p, m.at));
    let mut lone = outline.marks.iter().filter(beside);
    let first = lone.next().filter(|_| !parts.is_empty())?;
    let (what, lie) = match lone.count() {
        0 => ("a mark".to_owned(), "lies"),
        more => (format!("{} marks", more + 1), "lie"),
    };
    let text = format!(
        "{what} {lie} outside every part, as the bolt holes of an opening do, and what is inside the line was taken as the \
         part: say which side is kept (--keep inside or --keep outside)"
    );
    Some(Doubt::at(About::Role, text, first.at))
}

/// A mark in a part whose hole would be larger than the part about it: nothing of that hole would be in the part.
#[must_use]
pub fn marks_swallowing(outline: &Outline, settings: &CutSettings) -> Option<Doubt> {
    let radius = 0.5 * settings.hole?;
    let reach = |p: &[Edge], m: &Mark| {
        let places = p.iter().flat_map(|e| [e.from(), e.point_at(0.5)]);
        places.map(|q| q.distance(m.at)).fold(0.0, f64::max)
    };
    outline.loops.iter().enumerate().find_map(|(i, l)| {
        let edges = l.path.edges();
        let mut marks = outline.marks.iter();
        let mark = marks.find(|m| {
            l.role == Role::Part && inside(&edges, m.at) && reach(&edges, m) < radius
        })?;
        let text = format!(
            "the hole of {} mm at a mark in {} is larger than {}, which would come out without it: look whether the \
             figure is right (--hole)",
            2.0 * radius,
            name(outline, i),
            name(outline, i)
        );
        Some(Doubt::at(About::Plan, text, mark.at))
    })
}

/// Holes that lie in no part, though there are parts: about one of them, so that it is the larger, or beside them.
/// One that breaks out of a rim is told where the two lines cross.
#[must_use]
pub fn holes_astray(outline: &Outline) -> Vec<Doubt> {
    let around = parents(&outline.loops);
    let around = |i: usize| around.get(i).and_then(Option::as_ref);
    let of_role = |role: Role| {
        outline
            .loops
            .iter()
            .enumerate()
            .filter(move |(_, l)| l.role == role)
    };
    let parts: Vec<(usize, Vec<Edge>)> = of_role(Role::Part)
        .map(|(i, l)| (i, l.path.edges()))
        .collect();
    if parts.is_empty() {
        return Vec::new();
    }
    let mut astray = Vec::new();
    for (i, l) in of_role(Role::Hole).filter(|(i, _)| around(*i).is_some_and(Vec::is_empty)) {
        let Some(b) = Bounds::of_path(&l.path) else {
            continue;
        };
        let (hole, at) = (name(outline, i), b.min.midpoint(b.max));
        let inner = parts
            .iter()
            .find(|p| around(p.0).is_some_and(|a| a.contains(&i)));
        let edges = l.path.edges();
        let mut places = edges
            .iter()
            .flat_map(|e| (0..8).map(|k| e.point_at(f64::from(k) / 8.0)));
        if let Some((part, _)) = inner {
            let text = format!(
                "{hole} of {:.1} x {:.1} mm is larger than {}, which lies in it: look whether its size is right, and which \
                 of the two is the hole",
                b.width(),
                b.height(),
                name(outline, *part)
            );
            astray.push(Doubt::at(About::Role, text, at));
        } else if !places.any(|p| parts.iter().any(|(_, part)| inside(part, p))) {
            let text = format!(
                "{hole} at ({:.1}, {:.1}) mm lies outside every part: move it into its part, leave it out, or say which \
                 side is kept (--keep inside or --keep outside)",
                at.x, at.y
            );
            astray.push(Doubt::at(About::Role, text, at));
        }
    }
    astray
}

/// Whether edges that do not follow one another cross.
fn crossed(edges: &[Edge]) -> bool {
    edges.iter().enumerate().any(|(i, a)| {
        let mut others = edges.iter().skip(i + 2);
        others.any(|b| !crossings(a, b).is_empty())
    })
}

/// Why an open path looks as if it were meant to be closed.
fn all_but_closed(edges: &[Edge]) -> Option<String> {
    let (first, last) = (edges.first()?, edges.last()?);
    let length: f64 = edges.iter().map(Edge::length).sum();
    let gap = first.from().distance(last.to());
    let turn = |a: f64| libm::remainder(a, core::f64::consts::TAU);
    let along: f64 = edges
        .iter()
        .map(|e| match e {
            Edge::Line(_) => 0.0,
            Edge::Arc(a) => a.sweep,
        })
        .sum();
    let at_corners: f64 = edges
        .windows(2)
        .filter_map(|w| {
            Some(turn(
                w.last()?.direction_at(0.0).angle() - w.first()?.direction_at(1.0).angle(),
            ))
        })
        .sum();
    let round = libm::fabs(along + at_corners) > ALL_BUT_ROUND;
    // What turns as much to the one side as to the other and crosses itself is no loop, however near its ends lie.
    let crosses = edges.len() <= MOST_CROSSED && crossed(edges);
    if crosses && !round {
        return Some(format!(
            "the open path of {length:.0} mm crosses itself, and is cut along its line: trace each of its loops by itself"
        ));
    }
    let why = if gap < ALL_BUT_CLOSED * length && edges.len() > 1 {
        format!("its ends lie {gap:.1} mm apart")
    } else if round {
        "it goes all but round".to_owned()
    } else {
        return None;
    };
    Some(format!(
        "the open path of {length:.0} mm is cut along its line, without the kerf taken off, though {why}: if it is to be \
         closed say so (a hint {{\"loop\": \"part\"}} or \"hole\") or trace it anew"
    ))
}

/// Which side is kept, in a sentence: a kerf too large or too small lies in it.
#[must_use]
pub fn kept(outline: &Outline) -> String {
    let around = parents(&outline.loops);
    let count = |role: Role, lone: bool| {
        let loops = outline.loops.iter().zip(&around);
        loops
            .filter(|(l, a)| l.role == role && a.as_ref().is_none_or(|a| a.is_empty()) == lone)
            .count()
    };
    let s = |n: usize| if n == 1 { "" } else { "s" };
    let parts = count(Role::Part, true) + count(Role::Part, false);
    let (openings, lines) = (count(Role::Hole, true), count(Role::Open, true));
    let mut said = Vec::new();
    if parts > 0 {
        said.push(format!(
            "what is inside the line of {parts} part{} is kept",
            s(parts)
        ));
    }
    if openings > 0 {
        said.push(format!(
            "the sheet around {openings} opening{} is kept",
            s(openings)
        ));
    }
    if lines > 0 {
        said.push(format!(
            "{lines} open line{} cut along the middle",
            if lines == 1 { " is" } else { "s are" }
        ));
    }
    said.join("; ")
}

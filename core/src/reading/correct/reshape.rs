//! Corners rounded, and corners made sharp again, on a figure that is solved already.
//!
//! Nothing else moves: a fillet takes its two sides up to where it touches them, and a sharp corner gives them
//! back up to where they meet. So nobody gets a radius who named none, and no side grows. What was found of the edges
//! goes on to hold; of a side that lost a piece to a fillet it is said of the side over all.
#![allow(
    clippy::indexing_slicing,
    reason = "edges and corners are counted by the figure that is changed"
)]

use super::super::{Course, Reading, Study};
use super::asked::reach;
use super::near::{Corner, Ends, corner, virtual_corner};
use crate::fit::partition::Kind;
use crate::geom::{Edge, normalize_angle};
use crate::hint::{CornerKind, Hint, Says};
use crate::relate::constraint::{Condition, Constraint};
use crate::relate::equations::Problem;
use crate::relate::figure::Figure;
use crate::relate::kinds::RelationKind;
use crate::relate::measures::{fillet, over_all};
use crate::relate::quantity::{Place, Quantity, Side};
use crate::relate::solve::{Solved, standing};
use crate::report::Note;

/// Rounds and sharpens the corners of a reading as its hints say; gives back what could not be done, and why. Of sides
/// that a fillet makes shorter for a rule, which ends them where it meets an arc, it is told.
pub(in super::super) fn reshape<'a>(
    study: &Study,
    best: &mut Reading,
    hints: &[&'a Hint],
    notes: &mut Vec<Note>,
) -> Vec<(&'a Hint, String)> {
    let mut refused = Vec::new();
    let Some(problem) = study.problem(best.variant) else {
        return refused;
    };
    for h in hints {
        let Course::Chain(s) = &best.course else {
            continue;
        };
        let found = corner(&s.figure, h.at, Ends::of(&h.says));
        let reach = reach(problem.stations.diagonal());
        if let (Says::Corner(CornerKind::Sharp), Some(far)) = (&h.says, found.map(|f| f.far))
            && far > reach
        {
            refused.push((*h, format!("the nearest corner is {far:.0} mm away")));
        }
        // What is out of reach of a radius is told once all loops are there.
        let found = found.filter(|f| f.far <= reach);
        let edit = match (&h.says, found) {
            (Says::Corner(CornerKind::Radius(r)), Some(found)) => match found.what {
                // Rounded already: its radius is a size.
                Corner::Soft(e, _) if fillet(&s.figure, e).is_some() => continue,
                Corner::Soft(e, _) => match Edit::sharp(&s.figure, e) {
                    Ok(sharp) => apply(s, &problem, &best.conditions, &sharp)
                        .ok_or_else(|| FALLS_APART.to_owned())
                        .and_then(|(solved, conditions)| {
                            let edit = Edit::round(&solved.figure, sharp.corner, *r)?;
                            let done = apply(&solved, &problem, &conditions, &edit);
                            done.ok_or_else(|| FALLS_APART.to_owned())
                        }),
                    Err(why) => Err(why),
                },
                Corner::Plain(_, next) => made(
                    s,
                    &problem,
                    &best.conditions,
                    Edit::round(&s.figure, next, *r),
                ),
            },
            (Says::Corner(CornerKind::Sharp), Some(found)) => match found.what {
                Corner::Soft(e, _) => {
                    made(s, &problem, &best.conditions, Edit::sharp(&s.figure, e))
                }
                Corner::Plain(..) => continue,
            },
            _ => continue,
        };
        match edit {
            Ok((solved, conditions)) => {
                notes.extend(shortened(&s.figure, &solved.figure));
                best.course = Course::Chain(Box::new(solved));
                best.conditions = conditions;
            }
            Err(why) => refused.push((*h, why)),
        }
    }
    refused
}

/// Sides that a rule measures otherwise on another figure that differs at one corner.
fn shortened(before: &Figure, now: &Figure) -> Vec<Note> {
    let sides = |f: &Figure| -> Vec<(Edge, f64)> {
        let chain = f.to_chain();
        let lines = (0..f.len()).filter(|e| f.kinds[*e] == Kind::Line);
        let of = |e| {
            let terms = over_all(f, 0, e);
            Some((chain.edge(e)?, Constraint { terms, value: 0.0 }.off(f)?))
        };
        lines.filter_map(of).collect()
    };
    let (old, new) = (sides(before), sides(now));
    let told = |(edge, long): &(Edge, f64)| {
        let at = edge.point_at(0.5);
        let same = old.iter().find(|(o, _)| {
            o.distance(at) < STILL_SO
                && o.direction_at(0.5).cross(edge.direction_at(0.5)).abs() < STILL_SO
        });
        let (_, was) = same.filter(|(_, was)| (was - long).abs() > super::also::LEAST_TOLD)?;
        let by = long - was;
        let text = format!(
            "a side went from {was:.2} to {long:.2} mm ({by:+.2}), up to the fillet beside it"
        );
        Some(Note::at(text, at))
    };
    new.iter().filter_map(told).collect()
}

const FALLS_APART: &str = "the outline falls apart under it";

fn made(
    s: &Solved,
    problem: &Problem<'_>,
    conditions: &[Condition],
    edit: Result<Edit, String>,
) -> Result<(Solved, Vec<Condition>), String> {
    apply(s, problem, conditions, &edit?).ok_or_else(|| FALLS_APART.to_owned())
}

/// A figure with an edge more or less.
struct Edit {
    figure: Figure,
    /// The corner that was rounded or is sharp now; of the one before, by its number in the old figure.
    corner: usize,
    /// The arc that is new and its radius.
    arc: Option<(usize, f64)>,
    /// What each edge of the old figure became.
    edges: Vec<Option<usize>>,
}

impl Edit {
    /// The corner where edge `next` starts, rounded.
    fn round(f: &Figure, next: usize, radius: f64) -> Result<Self, String> {
        let m = f.len();
        let before = (next + m - 1) % m;
        let turn = f.turn_after(before);
        if !(radius.is_finite() && radius > 0.0) {
            return Err("a radius must be more than 0".into());
        }
        if !(0.1..3.0).contains(&turn.abs()) {
            return Err("the edges here hardly make a corner".into());
        }
        let chain = f.to_chain();
        let (Some(a), Some(b)) = (chain.edge(before), chain.edge(next)) else {
            return Err(FALLS_APART.into());
        };
        let Some(Touch { parts, sweep }) = touching(&a, &b, turn, radius) else {
            let most = largest(|r| touching(&a, &b, turn, r).is_some(), radius);
            return Err(format!(
                "there is room for a radius of {most:.1} mm at most"
            ));
        };
        let [part_a, part_b] = parts;
        let mut figure = f.clone();
        figure.corners[next] = a.point_at(1.0 - part_a);
        figure.corners.insert(next + 1, b.point_at(part_b));
        for (e, part) in [(before, part_a), (next, part_b)] {
            figure.bulges[e] = libm::tan(0.25 * f.sweep(e) * (1.0 - part));
        }
        figure.bulges.insert(next, libm::tan(0.25 * sweep));
        figure.kinds.insert(next, Kind::Arc);
        Ok(Self {
            figure,
            corner: next,
            arc: Some((next, radius)),
            edges: (0..m)
                .map(|e| Some(if e < next { e } else { e + 1 }))
                .collect(),
        })
    }

    /// The corner that edge `e` rounds or clips, sharp.
    fn sharp(f: &Figure, e: usize) -> Result<Self, String> {
        let m = f.len();
        let sides = crate::relate::measures::softened(f, e);
        let meet = sides.and_then(|sides| virtual_corner(f, sides));
        let Some(meet) = meet.filter(|_| m > 3 || !f.closed) else {
            return Err("the edges beside it do not meet".into());
        };
        let mut figure = f.clone();
        figure.corners.remove(e);
        let corner = if f.closed && e + 1 == m { 0 } else { e };
        figure.corners[corner] = meet;
        figure.bulges.remove(e);
        figure.kinds.remove(e);
        let became = |g: usize| (g != e).then(|| if g < e { g } else { g - 1 });
        Ok(Self {
            figure,
            corner,
            arc: None,
            edges: (0..m).map(became).collect(),
        })
    }

    /// First stations of the edges.
    fn starts(&self, s: &Solved, stations: usize, step: f64) -> Vec<usize> {
        let mut starts = s.starts.clone();
        match self.arc {
            Some((arc, _)) => {
                let half = 0.5 * self.figure.edge_length(arc) / step;
                let half = (libm::round(half) as usize).max(1);
                let count = s.figure.len();
                let stretch = |e: usize| {
                    let (a, b) = crate::relate::equations::stretch(&s.starts, e, stations);
                    b.saturating_sub(a)
                };
                let [before, next] = [(arc + count - 1) % count, arc].map(|e| stretch(e) / 2);
                let joint = starts[arc];
                starts[arc] = (joint + stations - half.min(before).min(stations)) % stations;
                starts.insert(arc + 1, (joint + half.min(next)) % stations);
            }
            None => {
                let gone = self.edges.iter().position(Option::is_none).unwrap_or(0);
                let (a, b) = crate::relate::equations::stretch(&s.starts, gone, stations);
                let count = starts.len();
                starts[(gone + 1) % count] = ((a + b) / 2) % stations;
                starts.remove(gone);
            }
        }
        starts
    }

    /// A condition on the old figure, said of the new one; nothing where it is not so any more.
    fn renamed(&self, c: &Condition) -> Option<Condition> {
        let f = &self.figure;
        let side = |s: Side| Some(Side::new(s.body, (*self.edges.get(s.edge)?)?));
        let count = self.edges.len();
        // The corner where an edge started, which may be gone.
        let start = |s: Side| -> Option<Place> {
            if s.edge >= count {
                return Some(Place::Corner(Side::new(s.body, f.corners.len() - 1)));
            }
            match (self.edges[s.edge], self.arc) {
                (Some(e), Some((arc, _))) if e == arc + 1 => {
                    let before = side(Side::new(s.body, (s.edge + count - 1) % count))?;
                    Some(Place::Meeting(before, Side::new(s.body, e)))
                }
                (Some(e), _) => Some(Place::Corner(Side::new(s.body, e))),
                (None, _) => Some(Place::Corner(Side::new(s.body, self.corner))),
            }
        };
        let place = |p: Place| match p {
            Place::Corner(s) => start(s),
            Place::Center(s) => side(s).map(Place::Center),
            Place::Meeting(s, t) => Some(Place::Meeting(side(s)?, side(t)?)),
        };
        let mut out = c.renamed(side, place)?;
        for c in &mut out.constraints {
            c.terms = c
                .terms
                .iter()
                .flat_map(|t| measured_over_all(f, *t))
                .collect();
        }
        match c.kind {
            // A figure with a corner rounded has its sides alike over all, but is not regular.
            RelationKind::Regular => {
                out.kind = RelationKind::EqualLength;
                out.constraints.retain(|c| !c.is_angle());
            }
            RelationKind::Mirrored => return None,
            _ => {}
        }
        let near = |c: &Constraint| c.off(f).is_some_and(|off| off.abs() < STILL_SO);
        out.constraints.iter().all(near).then_some(out)
    }
}

/// Where a fillet touches the edges that it rounds the corner of.
struct Touch {
    /// Parts of the first, from its end, and of the second, from its start, that it takes.
    parts: [f64; 2],
    sweep: f64,
}

/// The arc of `radius` that touches both edges where they turn by `turn`: its centre lies so far from either on the
/// inner side. Found by Newton's steps along both; nothing where there is no room.
fn touching(a: &Edge, b: &Edge, turn: f64, radius: f64) -> Option<Touch> {
    let inner = radius.copysign(turn);
    let [long_a, long_b] = [a, b].map(Edge::length);
    let bend = |e: &Edge, long: f64| match e {
        Edge::Arc(arc) => arc.sweep / long,
        Edge::Line(_) => 0.0,
    };
    let [bend_a, bend_b] = [bend(a, long_a), bend(b, long_b)];
    let reach = radius * libm::tan(0.5 * turn.abs());
    let (mut s, mut t) = (reach, reach);
    for _ in 0..STEPS {
        let [from, to] = [1.0 - s / long_a, t / long_b];
        let [u, v] = [a.direction_at(from), b.direction_at(to)];
        let center_a = a.point_at(from) + u.left() * inner;
        let center_b = b.point_at(to) + v.left() * inner;
        let (u, v) = (u * (inner * bend_a - 1.0), v * (inner * bend_b - 1.0));
        let off = center_b - center_a;
        // center_a moves by u as s grows, center_b by -v as t does.
        let sine = u.cross(v);
        let (ds, dt) = (off.cross(v) / sine, u.cross(off) / sine);
        (s, t) = (s + ds, t + dt);
        if !(s.is_finite() && t.is_finite()) || s.max(t) > 2.0 * long_a.max(long_b) {
            return None;
        }
        if ds.abs().max(dt.abs()) < 1e-12 * long_a.max(long_b) {
            let [from, to] = [1.0 - s / long_a, t / long_b];
            let sweep = normalize_angle(b.direction_at(to).angle() - a.direction_at(from).angle());
            let fits = |part: f64| part > 0.0 && part < ROOM;
            let parts = [s / long_a, to];
            let touches = parts.into_iter().all(fits) && sweep * turn > 0.0;
            return touches.then_some(Touch { parts, sweep });
        }
    }
    None
}

const STEPS: usize = 40;

/// The largest length up to `most` that fits, if none smaller does not.
fn largest(fits: impl Fn(f64) -> bool, most: f64) -> f64 {
    let (mut least, mut most) = (0.0, most);
    for _ in 0..STEPS {
        let middle = 0.5 * (least + most);
        if fits(middle) {
            least = middle;
        } else {
            most = middle;
        }
    }
    least
}

/// A fillet takes no more than this part of either side.
const ROOM: f64 = 0.98;
/// A condition holds still when it is off by no more than this, mm or radians.
const STILL_SO: f64 = 1e-6;

/// A straight side's length, as a rule measures it.
pub(super) fn measured_over_all(f: &Figure, (k, q): (f64, Quantity)) -> Vec<(f64, Quantity)> {
    match q {
        Quantity::Length(s) if f.kinds.get(s.edge) == Some(&Kind::Line) => {
            over_all(f, s.body, s.edge)
                .into_iter()
                .map(|(part, q)| (k * part, q))
                .collect()
        }
        _ => vec![(k, q)],
    }
}

fn apply(
    s: &Solved,
    problem: &Problem<'_>,
    conditions: &[Condition],
    edit: &Edit,
) -> Option<(Solved, Vec<Condition>)> {
    let stations = problem.stations;
    let mut kept: Vec<Condition> = conditions.iter().filter_map(|c| edit.renamed(c)).collect();
    if let Some((arc, radius)) = edit.arc {
        let count = edit.figure.len();
        let before = (arc + count - 1) % count;
        kept.extend([Condition::tangent(before), Condition::tangent(arc)]);
        kept.push(Condition::radius(arc, radius));
    }
    let starts = edit.starts(s, stations.len(), stations.step);
    let figure = edit.figure.clone();
    let mut solved = standing(problem, figure, starts, s.corner_width, &kept)?;
    // How the hand erred shows where it was traced, not where a person says otherwise.
    let mut residuals = s.residuals.clone();
    match edit.arc {
        Some((arc, _)) => residuals.insert(arc.min(residuals.len()), Default::default()),
        None => {
            if let Some(gone) = edit.edges.iter().position(Option::is_none)
                && gone < residuals.len()
            {
                residuals.remove(gone);
            }
        }
    }
    solved.residuals = residuals;
    Some((solved, kept))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::{Arc, Line, Point};
    use core::f64::consts::{FRAC_PI_2, PI};

    #[test]
    fn a_fillet_touches_lines_and_arcs() {
        let line = Edge::Line(Line {
            from: Point::new(-50.0, 0.0),
            to: Point::new(0.0, 0.0),
        });
        let up = Edge::Line(Line {
            from: Point::new(0.0, 0.0),
            to: Point::new(0.0, 50.0),
        });
        let plain = touching(&line, &up, FRAC_PI_2, 5.0).unwrap();
        assert!(plain.parts.into_iter().all(|p| (p - 0.1).abs() < 1e-12));
        assert!((plain.sweep - FRAC_PI_2).abs() < 1e-12);
        // Half a circle of 20 above the line from its end on: the fillet lies outside of it.
        let half = Edge::Arc(Arc {
            from: Point::new(0.0, 0.0),
            to: Point::new(40.0, 0.0),
            center: Point::new(20.0, 0.0),
            radius: 20.0,
            sweep: -PI,
        });
        let Touch { parts, sweep } = touching(&line, &half, FRAC_PI_2, 5.0).unwrap();
        let center = Point::new(-50.0 * parts[0], 5.0);
        assert!((center.distance(Point::new(20.0, 0.0)) - 25.0).abs() < 1e-9);
        let touch = half.point_at(parts[1]);
        assert!((touch.distance(center) - 5.0).abs() < 1e-9);
        assert!(sweep > 0.0 && sweep < FRAC_PI_2);
        assert!(touching(&line, &up, FRAC_PI_2, 60.0).is_none());
        let most = largest(|r| touching(&line, &up, FRAC_PI_2, r).is_some(), 60.0);
        assert!((most - 49.0).abs() < 1e-6, "{most}");
    }
}

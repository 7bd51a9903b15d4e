//! All bodies of an outline as they stand, and what is solved of them: what is asked held, everything else a wish.
//!
//! What was found goes on to hold; [`super::gives`] says what gives way to what.
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are numbered by the joint they stand in"
)]

use super::asked::{Asked, asked};
use super::bodies::bodies;
use super::gives::{gives_way, is_alike, is_firm};
use super::{Wanted, refused, reshape};
use super::{near, wishes};
use crate::geom::Sorted as _;
use crate::outline::{Loop, Mark, Path};
use crate::reading::Taken;
use crate::reading::describe::{self};
use crate::reading::follow::crossing;
use crate::reading::together::{Source, Span, Together};
use crate::relate::across::{Form, Joint};
use crate::relate::ask::{Straight, pairs, straight};
use crate::relate::change::{Wish, least_change};
use crate::relate::constraint::{Condition, Constraint};
use crate::relate::kinds::at_angle;
use crate::relate::measures::{self, Measure};
use crate::relate::quantity::{Bodies as _, Place, Quantity, Side};
use crate::relate::solve::lost;
use crate::report::{Doubt, RelationKind};
use core::f64::consts::FRAC_PI_2;

/// All bodies where they stand, and what was found of them.
pub(super) struct Stand {
    pub(super) sources: Vec<Source>,
    pub(super) factors: Vec<f64>,
    pub(super) joint: Joint,
    pub(super) found: Vec<Condition>,
    /// So many of these are said of one body.
    pub(super) own: usize,
    pub(super) spans: Vec<Span>,
    pub(super) holders: Vec<Option<usize>>,
}

/// Bodies moved, and what was found that still holds.
pub(super) struct Moved {
    pub(super) joint: Joint,
    pub(super) found: Vec<Condition>,
    pub(super) dropped: Vec<Condition>,
}

impl Stand {
    pub(super) fn of(
        taken: &[Taken],
        holes: &[Loop],
        marks: &[Mark],
        together: Option<&Together>,
    ) -> Self {
        let (sources, bodies, factors) = bodies(taken, holes, marks);
        let joint = Joint::new(bodies);
        let mut found = Vec::new();
        for (i, b) in joint.bodies.iter().enumerate() {
            let given = match (sources[i], &b.shape) {
                (Source::Loop(t), Form::Round { .. }) => {
                    taken[t].told.as_ref().map(|t| t.1.conditions.clone())
                }
                _ => None,
            };
            let own = b.own.iter().chain(given.iter().flatten());
            found.extend(own.map(|c| over_all(&joint, &of_body(c, i))));
        }
        let (mut spans, mut ties) = (Vec::new(), Vec::new());
        if let Some(t) = together {
            let at = |body: usize| {
                let source = t.sources.get(body)?;
                sources.iter().position(|s| s == source)
            };
            let side = |s: Side| Some(Side::new(at(s.body)?, s.edge));
            let place = |p: Place| {
                Some(match p {
                    Place::Corner(s) => Place::Corner(side(s)?),
                    Place::Center(s) => Place::Center(side(s)?),
                    Place::Meeting(s, t) => Place::Meeting(side(s)?, side(t)?),
                })
            };
            // The given size of a circle is among its own conditions.
            let across = |c: &&Condition| c.kind != RelationKind::Size || c.of.len() > 1;
            let all = t.ties.iter().filter(across);
            ties.extend(all.filter_map(|c| c.renamed(side, place)));
            spans.extend(t.spans.iter().filter_map(|s| {
                Some(Span {
                    from: side(s.from)?,
                    to: side(s.to)?,
                    fixed: s.fixed,
                })
            }));
        }
        let own = found.len();
        found.extend(ties);
        let holders = wishes::holders(&joint);
        Self {
            sources,
            factors,
            joint,
            found,
            own,
            spans,
            holders,
        }
    }

    /// As many of the hints as can hold, in their order; why others cannot is told.
    pub(super) fn follow<'a>(
        &self,
        wanted: Vec<Wanted<'a>>,
        doubts: &mut Vec<Doubt>,
    ) -> Option<(Vec<Wanted<'a>>, Moved)> {
        if let Ok(moved) = self.solved(&wanted) {
            return Some((wanted, moved));
        }
        let mut done: Vec<Wanted<'a>> = Vec::new();
        let mut solved = None;
        for next in wanted {
            let mut all = done.clone();
            all.push(next.clone());
            match self.solved(&all) {
                Ok(moved) => (done, solved) = (all, Some(moved)),
                Err(why) => {
                    let few = self.joint.numbers() <= MOST_TRIED && done.len() <= MOST_RIVALS;
                    let rivals: Vec<String> = (0..if few { done.len() } else { 0 })
                        .filter(|j| {
                            let mut others = all.clone();
                            others.remove(*j);
                            self.solved(&others).is_ok()
                        })
                        .map(|j| {
                            let h = done[j].hint;
                            format!("{} at ({:.0}, {:.0}) mm", h.words(), h.at.x, h.at.y)
                        })
                        .collect();
                    let why = match rivals.as_slice() {
                        [] if done.is_empty() => why,
                        [] => format!("{why}, together with the corrections before it"),
                        rivals => format!("it fights {}", rivals.join(" and ")),
                    };
                    doubts.push(refused(next.hint, &why));
                }
            }
        }
        Some((done, solved?))
    }

    /// As [`Self::solve`], and what was asked is still measured as it was: a short side between two others that has
    /// grown is no clipped corner any more, and the sides beside it end at it.
    pub(super) fn solved(&self, wanted: &[Wanted<'_>]) -> Result<Moved, String> {
        let moved = self.solve(wanted)?;
        let is_other = |w: &Wanted<'_>| match asked(&moved.joint, w.hint) {
            Some(Ok(again)) => (w.asked.conditions.iter().zip(&again.conditions))
                .any(|(a, b)| a.kind == b.kind && a.of == b.of && !b.is_met(&moved.joint)),
            _ => false,
        };
        if wanted.iter().any(is_other) {
            return Err(TOO_LONG_TO_CLIP.into());
        }
        Ok(moved)
    }

    /// All bodies moved so that this holds, or why they cannot be.
    pub(super) fn solve(&self, wanted: &[Wanted<'_>]) -> Result<Moved, String> {
        let asked: Vec<Condition> = wanted
            .iter()
            .flat_map(|w| w.asked.conditions.iter().cloned())
            .collect();
        let wishes = self.wishes(wanted);
        let turns = wanted.iter().any(|w| w.asked.turns);
        let (found, mut dropped): (Vec<Condition>, Vec<Condition>) = self
            .found
            .iter()
            .cloned()
            .partition(|c| !self.is_replaced(c, wanted));
        // What a hint says anew of the same things is not undone.
        dropped.retain(|c| is_alike(c.kind));
        let all = |found: &[Condition]| [asked.as_slice(), found].concat();
        let with = |found: &[Condition]| self.held(&wishes, &all(found));
        let square = self.square_patterns(wanted);
        if !square.is_empty() {
            let found = [found.as_slice(), &square].concat();
            if let Ok(joint) = with(&found) {
                return Ok(Moved {
                    joint,
                    found,
                    dropped,
                });
            }
        }
        if let Ok(joint) = with(&found) {
            return Ok(Moved {
                joint,
                found,
                dropped,
            });
        }
        let (firm, mut soft): (Vec<_>, Vec<_>) = found.into_iter().partition(|c| is_firm(c, turns));
        soft.order_by_key(|c| gives_way(c, wanted));
        let (wishes, mut best) = match with(&firm) {
            Ok(best) => (wishes, best),
            // What changes by far more than anything is unsure of is shared out by how large things are.
            Err(why) => {
                let shared: Vec<Wish> = wishes.iter().map(wishes::in_proportion).collect();
                let best = self.held(&shared, &all(&firm));
                let fought = |_| self.fought(&wishes, &asked, &firm).unwrap_or(why);
                (shared, best.map_err(fought)?)
            }
        };
        let with = |found: &[Condition]| self.held(&wishes, &all(found));
        let mut kept = firm;
        for c in soft {
            if self.joint.numbers() > MOST_TRIED {
                dropped.push(c);
                continue;
            }
            kept.push(c);
            match with(&kept) {
                Ok(joint) => best = joint,
                Err(_) => dropped.extend(kept.pop()),
            }
        }
        Ok(Moved {
            joint: best,
            found: kept,
            dropped,
        })
    }

    /// The bodies where all of this holds, if they are sound there, or why not.
    fn held(&self, wishes: &[Wish], all: &[Condition]) -> Result<Joint, String> {
        let joint = least_change(&self.joint, wishes, all).ok_or(NO_OUTLINE)?;
        match self.unsound(&joint) {
            None => Ok(joint),
            Some(why) => Err(why),
        }
    }

    /// What was found that does not go together with what is asked.
    fn fought(&self, wishes: &[Wish], asked: &[Condition], firm: &[Condition]) -> Option<String> {
        if self.joint.numbers() > MOST_TRIED {
            return None;
        }
        let kinds = [
            (RelationKind::Square, "right angles"),
            (RelationKind::Parallel, "parallel sides"),
            (RelationKind::Tangent, "smooth joints"),
        ];
        let without = |kind| {
            let others = firm.iter().filter(|c| c.kind != kind).cloned();
            let all: Vec<Condition> = asked.iter().cloned().chain(others).collect();
            self.held(wishes, &all).is_ok()
        };
        let mut there = kinds.iter().filter(|k| firm.iter().any(|c| c.kind == k.0));
        let (_, what) = there.find(|k| without(k.0))?;
        Some(format!("it does not go together with the {what} here"))
    }

    /// A pattern of which one hole is placed by its distance from an edge is meant along that edge, if it was touched
    /// nearly so. Where two of its holes are placed by one edge, that has been said already.
    pub(super) fn square_patterns(&self, wanted: &[Wanted<'_>]) -> Vec<Condition> {
        let mut out = Vec::new();
        for pattern in wanted.iter().filter(|w| w.asked.pattern) {
            let Some(holes) = pattern.asked.conditions.first().map(|c| &c.of) else {
                continue;
            };
            let round = pattern.asked.conditions[0].kind == RelationKind::HoleCircle;
            let [Some(a), Some(b)] = [0, 1].map(|k| holes.get(k).map(|m| m.0)) else {
                continue;
            };
            let placed = wanted
                .iter()
                .filter_map(|w| match w.asked.conditions.as_slice() {
                    [c] => match c.of.as_slice() {
                        [hole, (body, Some(edge))] if holes.contains(hole) => {
                            Some(Side::new(*body, *edge))
                        }
                        _ => None,
                    },
                    _ => None,
                });
            let lines: Vec<Side> = placed.collect();
            let Some(line) = lines.first().filter(|_| !round) else {
                continue;
            };
            let Form::Chain(f) = &self.joint.bodies[line.body].shape else {
                continue;
            };
            if lines.iter().skip(1).any(|l| l == line) {
                continue;
            }
            let [p, q] = [a, b].map(|h| crate::reading::together::place_of(&self.joint.bodies[h]));
            let row = Straight {
                of: holes.clone(),
                direction: Quantity::Heading(near::middle(a), near::middle(b)),
                angle: (q - p).angle(),
                ends: None,
            };
            let edge = straight(f, *line);
            let quarter = libm::round((edge.angle - row.angle) / FRAC_PI_2);
            let off = (edge.angle - row.angle - quarter * FRAC_PI_2).abs();
            if off > TOUCHED_OFF / p.distance(q).max(1.0) {
                continue;
            }
            let kind = if libm::fabs(quarter) % 2.0 == 1.0 {
                RelationKind::Square
            } else {
                RelationKind::Parallel
            };
            out.push(at_angle(kind, &row, &edge, quarter * FRAC_PI_2));
        }
        out
    }

    /// Everything that should stay.
    pub(super) fn wishes(&self, wanted: &[Wanted<'_>]) -> Vec<Wish> {
        let along = |m: &Measure, body: usize| {
            let mut all = wanted.iter().flat_map(|w| &w.asked.along);
            all.any(|(kind, b, edges)| (*kind, *b) == (m.kind, body) && *edges == m.edges)
        };
        let mut out = Vec::new();
        let mut turned: Vec<Vec<f64>> = Vec::new();
        for (i, b) in self.joint.bodies.iter().enumerate() {
            let factor = self.factors[i];
            let mut of_edges = Vec::new();
            match &b.shape {
                Form::Chain(f) => {
                    let mut held = b.normal.clone();
                    for own in b.own.iter().flat_map(|c| &c.constraints) {
                        if let Some(own) = own.linear(f) {
                            held.condition(&own.gradient, 0.0, f64::INFINITY);
                        }
                    }
                    let known = |c: &Constraint| {
                        let linear = c.linear(f)?;
                        Some((factor * held.predict(&linear.gradient).0.max(0.0)).sqrt())
                    };
                    let asked = pairs(f);
                    let parallel = |e, g| asked(e, g) && describe::parallel(f, e, g);
                    for m in measures::all(f, parallel) {
                        if along(&m, i) {
                            continue;
                        }
                        let sure = known(&m.constraint).unwrap_or(0.3);
                        out.push(wishes::size(m.constraint.of_body(i), sure));
                    }
                    for e in 0..f.len() {
                        let way = Constraint::at(Quantity::Direction(Side::new(0, e)), 0.0);
                        of_edges.push(known(&way).unwrap_or(1e-3));
                    }
                }
                Form::Round { radius, .. } => {
                    let c = Constraint::at(Quantity::Radius(Side::new(i, 0)), *radius);
                    let sure = (factor * b.normal.free_variance(&[0.0, 0.0, 1.0])).sqrt();
                    out.push(wishes::size(c, sure));
                }
                Form::Spot(_) => {}
            }
            turned.push(of_edges);
        }
        let sure = |s: Side| {
            let turns = wanted.iter().any(|w| w.asked.turned.contains(&s));
            (!turns).then(|| turned[s.body].get(s.edge).copied().unwrap_or(1e-3))
        };
        out.extend(wishes::places(&self.joint, sure));
        let moves = |body: usize| wanted.iter().any(|w| w.asked.moves.contains(&body));
        out.extend(wishes::beside(&self.joint, &self.holders, moves));
        let patterned = |s: &Span| {
            let of = [s.from.body, s.to.body];
            wanted.iter().any(|w| w.asked.pattern && w.asked.names(&of))
        };
        let spans = self.spans.iter().filter(|s| !patterned(s));
        out.extend(spans.filter_map(|s| wishes::spaced(&self.joint, s.quantity())));
        out
    }

    /// What is wrong with the bodies there: a loop crosses itself that did not, turned over or lost an edge.
    fn unsound(&self, joint: &Joint) -> Option<String> {
        let pairs = joint.bodies.iter().zip(&self.joint.bodies);
        let mut all = pairs.map(|(now, before)| match (&now.shape, &before.shape) {
            (Form::Chain(f), Form::Chain(g)) => {
                let [now, before] = [f, g].map(|f| Path::Chain(f.to_chain()));
                if let Some(e) = lost(f, LEAST_EDGE) {
                    let edge = g.to_chain().edge(e)?.point_at(0.5);
                    let (x, y) = (edge.x, edge.y);
                    return Some(format!(
                        "nothing would be left of the edge at ({x:.0}, {y:.0}) mm"
                    ));
                }
                let turned = now.is_closed() && now.area() * before.area() <= 0.0;
                let crosses = crossing(&now).is_some() && crossing(&before).is_none();
                (turned || crosses).then(|| "the outline would cross itself".into())
            }
            (Form::Round { radius, .. }, _) => {
                (*radius <= 0.0).then(|| "nothing would be left of a circle".into())
            }
            _ => None,
        });
        all.find_map(|why| why)
    }
}

const NO_OUTLINE: &str = "no outline is so and keeps what was found of it";

const TOO_LONG_TO_CLIP: &str =
    "with it the short side beside it would be too long for a clipped corner";

/// Of more free numbers, it is not tried one by one what gives way and what a hint fights; nor of more hints.
const MOST_TRIED: usize = 240;

const MOST_RIVALS: usize = 12;

/// An edge shorter than a twentieth of this is none, mm.
const LEAST_EDGE: f64 = 0.2;

/// By how much two touches may lie askew that are meant along an edge, mm.
const TOUCHED_OFF: f64 = 8.0;

/// A hole that comes to lie no further off than this has stayed, mm.
pub(super) const HOLE_STAYS: f64 = 0.3;

impl Asked {
    /// It is about all these bodies.
    pub(super) fn names(&self, bodies: &[usize]) -> bool {
        let of = |b: &usize| {
            self.conditions
                .iter()
                .flat_map(|c| &c.of)
                .any(|m| m.0 == *b)
        };
        bodies.iter().all(of)
    }
}

/// The same said of one body among others, or of the only one.
pub(super) fn of_body(c: &Condition, body: usize) -> Condition {
    Condition {
        kind: c.kind,
        of: c.of.iter().map(|m| (body, m.1)).collect(),
        constraints: c.constraints.iter().map(|c| c.of_body(body)).collect(),
    }
}

/// What is said of the lengths of sides, said of them over all where that is so too.
pub(super) fn over_all(joint: &Joint, c: &Condition) -> Condition {
    let mut out = c.clone();
    for c in &mut out.constraints {
        let of = |t: &(f64, Quantity)| match t.1 {
            Quantity::Length(s) => match &joint.bodies[s.body].shape {
                Form::Chain(f) => reshape::measured_over_all(f, *t),
                _ => vec![*t],
            },
            _ => vec![*t],
        };
        c.terms = c.terms.iter().flat_map(of).collect();
    }
    let so = |c: &Constraint| c.off(joint).is_some_and(|off| off.abs() < 1e-6);
    if out.constraints.iter().all(so) {
        out
    } else {
        c.clone()
    }
}

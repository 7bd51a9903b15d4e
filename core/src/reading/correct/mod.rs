//! Corrections: what a person asks for holds, and as little else changes as can be.
//!
//! 1. Corners are rounded and made sharp on each figure where it stands ([`mod@reshape`]).
//! 2. Once all loops stand together, what hints ask for ([`asked`]) becomes conditions, and every size, direction and
//!    place that was read a wish ([`wishes`]); all bodies move by the least change ([`crate::relate::change`]).
//!    The trace itself is not asked again: it would pull at what the person just told better.
//! 3. What was found of the edges goes on to hold. It gives way only where a hint says otherwise: what makes things
//!    alike or steps of an angle to sizes, every angle to a hint about an angle.
//! 4. A hint that cannot hold is refused, and told with what it fights; what else moved by more than its ± is told
//!    with its amount.
//! 5. Scale, level and zero move everything as one ([`frame`]).
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are numbered by the joint they stand in"
)]

mod asked;
pub(super) mod frame;
mod near;
mod reshape;
mod wishes;

pub(super) use reshape::reshape;

use self::asked::{Asked, asked};
use super::describe::{self, Measured, SPREAD_95};
use super::follow::crossing;
use super::together::{Source, Span, TOUCH, Together, body_of, spot};
use super::{Course, Taken};
use crate::fit::partition::Kind;
use crate::geom::Point;
use crate::hint::{CornerKind, Hint, LoopKind, Says};
use crate::outline::numbers::{Numbered, numbers};
use crate::outline::{Bounds, Chain, Circle, Loop, Mark, Outline, Path, Shape};
use crate::relate::across::{Body, Form, Joint};
use crate::relate::ask::{Straight, pairs, straight};
use crate::relate::change::{Wish, least_change};
use crate::relate::constraint::{Condition, Constraint};
use crate::relate::figure::Figure;
use crate::relate::kinds::at_angle;
use crate::relate::normal::Normal;
use crate::relate::quantity::{Bodies as _, Place, Quantity, Side};
use crate::relate::solve::{is_whole, standing};
use crate::report::{About, Also, Doubt, Note, RelationKind, Size, SizeKind};
use crate::trace::CleanTrace;
use core::f64::consts::{FRAC_PI_2, PI};

/// More free numbers of all bodies are not moved together.
const MOST_NUMBERS: usize = 900;

/// What came of the corrections.
#[derive(Default)]
pub(super) struct Corrected {
    pub together: Option<Together>,
    /// Hints that were refused.
    pub doubts: Vec<Doubt>,
    pub notes: Vec<Note>,
    /// What else moved by more than its ±; edges as the loops were made.
    pub also: Vec<Also>,
}

/// A hint refused, as a doubt.
pub(super) fn refused(hint: &Hint, why: &str) -> Doubt {
    Doubt::at(
        About::Hint,
        format!("{} can't be followed: {why}", hint.words()),
        hint.at,
    )
}

/// Moves everything so that what the hints ask for holds.
pub(super) fn apply(
    taken: &mut [Taken],
    holes: &mut [Loop],
    marks: &mut [Mark],
    together: Option<Together>,
    hints: &[Hint],
) -> Corrected {
    let mut out = Corrected::default();
    if hints.is_empty() {
        out.together = together;
        return out;
    }
    if places(taken, holes, marks) > MOST_NUMBERS {
        out.doubts = hints.iter().map(|h| refused(h, TOO_MANY)).collect();
        out.together = together;
        return out;
    }
    let stand = Stand::of(taken, holes, marks, together.as_ref());
    let mut wanted: Vec<Wanted<'_>> = Vec::new();
    for hint in hints {
        if given_diameter(&stand, holes, hint) {
            continue;
        }
        match asked(&stand.joint, hint) {
            None => {}
            Some(Err(why)) => out.doubts.push(refused(hint, &why)),
            Some(Ok(asked)) if asked.conditions.is_empty() => {}
            // Said again of one thing, the last word counts.
            Some(Ok(asked)) => {
                wanted.retain(|w| !w.asked.is_replaced_by(&asked));
                wanted.push(Wanted { hint, asked });
            }
        }
    }
    if wanted.is_empty() {
        out.together = together;
        return out;
    }
    if stand.joint.numbers() > MOST_NUMBERS {
        let all = wanted.iter().map(|w| refused(w.hint, TOO_MANY));
        out.doubts.extend(all);
        out.together = together;
        return out;
    }
    let Some((done, solved)) = stand.follow(wanted, &mut out.doubts) else {
        out.together = together;
        return out;
    };
    let before = stand.sizes(taken);
    stand.write_back(&done, &solved, taken, holes, marks);
    out.also = stand.also(&before, &done, &solved, taken);
    out.notes.extend(stand.undone(&solved));
    out.together = stand.tied(&done, &solved, taken, holes, marks);
    out
}

const TOO_MANY: &str = "the drawing has more edges than are corrected together";

/// How many corners, holes and marks there are: no more numbers than these are ever free to be corrected.
fn places(taken: &[Taken], holes: &[Loop], marks: &[Mark]) -> usize {
    let corners = |l: &Loop| match &l.path {
        Path::Chain(c) => c.corners.len(),
        Path::Circle(_) => 1,
    };
    let made = taken.iter().map(|t| corners(&t.made));
    made.sum::<usize>() + holes.iter().map(corners).sum::<usize>() + marks.len()
}

/// The diameter of a hole that was made of a mark is what a hint says.
fn given_diameter(stand: &Stand, holes: &mut [Loop], hint: &Hint) -> bool {
    let diameter = match hint.says {
        Says::Diameter(d) | Says::Size(d) => d,
        Says::Radius(r) => 2.0 * r,
        _ => return false,
    };
    let (hole, edge) = (
        near::hole(&stand.joint, hint.at),
        near::edge(&stand.joint, hint.at),
    );
    let Some(hole) = hole.filter(|h| edge.is_none_or(|e| h.far < e.far)) else {
        return false;
    };
    if let Source::Hole(i) = stand.sources[hole.what]
        && hole.far < asked::reach(stand.joint.extent())
        && let Some(Path::Circle(c)) = holes.get_mut(i).map(|l| &mut l.path)
        && diameter.is_finite()
        && diameter > 0.0
    {
        c.radius = 0.5 * diameter;
        return true;
    }
    false
}

/// A hint and what it asks for.
#[derive(Clone)]
struct Wanted<'a> {
    hint: &'a Hint,
    asked: Asked,
}

impl Asked {
    /// A later hint says the same thing anew.
    fn is_replaced_by(&self, later: &Self) -> bool {
        match (self.conditions.as_slice(), later.conditions.as_slice()) {
            ([a], [b]) => {
                let one = |c: &Condition| c.constraints.len() == 1;
                let terms = |c: &Condition| c.constraints.first().map(|c| c.terms.clone());
                one(a) && one(b) && terms(a) == terms(b)
            }
            _ => false,
        }
    }
}

/// All bodies where they stand, and what was found of them.
struct Stand {
    sources: Vec<Source>,
    factors: Vec<f64>,
    joint: Joint,
    found: Vec<Condition>,
    /// So many of these are said of one body.
    own: usize,
    spans: Vec<Span>,
    holders: Vec<Option<usize>>,
}

/// Bodies moved, and what was found that still holds.
struct Moved {
    joint: Joint,
    found: Vec<Condition>,
    dropped: Vec<Condition>,
}

impl Stand {
    fn of(taken: &[Taken], holes: &[Loop], marks: &[Mark], together: Option<&Together>) -> Self {
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
    fn follow<'a>(
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
                            format!("{} at ({:.0}, {:.0})", h.words(), h.at.x, h.at.y)
                        })
                        .collect();
                    let why = match rivals.as_slice() {
                        [] if done.is_empty() => why.to_owned(),
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
    fn solved(&self, wanted: &[Wanted<'_>]) -> Result<Moved, &'static str> {
        let moved = self.solve(wanted)?;
        let is_other = |w: &Wanted<'_>| match asked(&moved.joint, w.hint) {
            Some(Ok(again)) => (w.asked.conditions.iter().zip(&again.conditions))
                .any(|(a, b)| a.kind == b.kind && a.of == b.of && !b.is_met(&moved.joint)),
            _ => false,
        };
        if wanted.iter().any(is_other) {
            return Err("with it the short side beside it would be too long for a clipped corner");
        }
        Ok(moved)
    }

    /// All bodies moved so that this holds, or why they cannot be.
    fn solve(&self, wanted: &[Wanted<'_>]) -> Result<Moved, &'static str> {
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
        if let Some(joint) = self.aligned(wanted, &asked, &found, &wishes) {
            let square = self.square_patterns(wanted);
            let found = found.into_iter().chain(square).collect();
            return Ok(Moved {
                joint,
                found,
                dropped,
            });
        }
        let with = |found: &[Condition]| {
            let all = [asked.as_slice(), found].concat();
            let joint = least_change(&self.joint, &wishes, &all)?;
            self.is_sound(&joint).then_some(joint)
        };
        if let Some(joint) = with(&found) {
            return Ok(Moved {
                joint,
                found,
                dropped,
            });
        }
        let (firm, soft): (Vec<_>, Vec<_>) = found.into_iter().partition(|c| is_firm(c, turns));
        let mut best = with(&firm).ok_or("the outline falls apart under it")?;
        let mut kept = firm;
        for c in soft {
            if self.joint.numbers() > MOST_TRIED {
                dropped.push(c);
                continue;
            }
            kept.push(c);
            match with(&kept) {
                Some(joint) => best = joint,
                None => dropped.extend(kept.pop()),
            }
        }
        Ok(Moved {
            joint: best,
            found: kept,
            dropped,
        })
    }

    /// What a hint says otherwise of the same things. Things that are alike stay so where the size asked of one is
    /// hardly another than it had; else one is asked and the others stay what they are.
    fn is_replaced(&self, found: &Condition, wanted: &[Wanted<'_>]) -> bool {
        let angle = found.constraints.iter().all(Constraint::is_angle);
        let pattern = matches!(
            found.kind,
            RelationKind::HoleRow | RelationKind::HoleCircle | RelationKind::HoleRectangle
        );
        let asked = || wanted.iter().flat_map(|w| w.asked.conditions.iter());
        let other = |c: &Constraint| c.off(&self.joint).is_some_and(|o| o.abs() > HARDLY);
        let sized = |m: &(usize, Option<usize>)| {
            let of = |a: &&Condition| a.kind == RelationKind::Size && a.of == [*m];
            asked().filter(of).any(|a| a.constraints.iter().any(other))
        };
        let named = |m: &(usize, Option<usize>)| {
            asked().any(|a| a.kind == RelationKind::Size && a.of == [*m])
        };
        let alike =
            is_alike(found.kind) && (found.of.iter().any(sized) || found.of.iter().all(named));
        let same = |a: &Condition| {
            a.of.len() == found.of.len() && a.of.iter().all(|m| found.of.contains(m))
        };
        let one_size = found.kind == RelationKind::Size
            && asked().any(|a| a.kind == RelationKind::Size && a.of == found.of);
        alike
            || (angle && asked().any(|a| a.constraints.iter().all(Constraint::is_angle) && same(a)))
            || (pattern
                && wanted
                    .iter()
                    .any(|w| w.asked.pattern && found.of.iter().any(|m| w.asked.names(&[m.0]))))
            || one_size
    }

    /// As [`Self::solve`], with patterns of holes that are placed by an edge parallel to it.
    fn aligned(
        &self,
        wanted: &[Wanted<'_>],
        asked: &[Condition],
        found: &[Condition],
        wishes: &[Wish],
    ) -> Option<Joint> {
        let square = self.square_patterns(wanted);
        if square.is_empty() {
            return None;
        }
        let joint = least_change(&self.joint, wishes, &[asked, found, &square].concat())?;
        self.is_sound(&joint).then_some(joint)
    }

    /// A pattern of which one hole is placed by its distance from an edge is meant along that edge, if it was touched
    /// nearly so. Where two of its holes are placed by one edge, that has been said already.
    fn square_patterns(&self, wanted: &[Wanted<'_>]) -> Vec<Condition> {
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
            let [p, q] = [a, b].map(|h| super::together::place_of(&self.joint.bodies[h]));
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
    fn wishes(&self, wanted: &[Wanted<'_>]) -> Vec<Wish> {
        let instead = |kind| wanted.iter().any(|w| w.asked.instead.contains(&kind));
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
                    for m in crate::relate::measures::all(f, parallel) {
                        if instead(m.kind) {
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
        let sure = |s: Side| turned[s.body].get(s.edge).copied().unwrap_or(1e-3);
        out.extend(wishes::places(&self.joint, sure));
        out.extend(wishes::beside(&self.joint, &self.holders));
        let patterned = |s: &Span| {
            let of = [s.from.body, s.to.body];
            wanted.iter().any(|w| w.asked.pattern && w.asked.names(&of))
        };
        let spans = self.spans.iter().filter(|s| !patterned(s));
        out.extend(spans.filter_map(|s| wishes::spaced(&self.joint, s.quantity())));
        out
    }

    /// No loop crosses itself that did not, none turned over or lost an edge.
    fn is_sound(&self, joint: &Joint) -> bool {
        let pairs = joint.bodies.iter().zip(&self.joint.bodies);
        pairs
            .into_iter()
            .all(|(now, before)| match (&now.shape, &before.shape) {
                (Form::Chain(f), Form::Chain(g)) => {
                    let [now, before] = [f, g].map(|f| Path::Chain(f.to_chain()));
                    let as_before = now.area() * before.area() > 0.0 || !now.is_closed();
                    as_before
                        && is_whole(f, LEAST_EDGE)
                        && (crossing(&now).is_none() || crossing(&before).is_some())
                }
                (Form::Round { radius, .. }, _) => *radius > 0.0,
                _ => true,
            })
    }

    /// The sizes of every loop before it is changed, and the ± of each.
    fn sizes(&self, taken: &[Taken]) -> Vec<Vec<(Measured, f64)>> {
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
    fn also(
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
                let Some(by) = m.constraint.off(f).filter(|_| !is_asked) else {
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
    fn moved_holes(&self, done: &[Wanted<'_>], solved: &Moved) -> Vec<Also> {
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
                    at: super::together::place_of(&solved.joint.bodies[body]),
                });
            }
        }
        out
    }

    /// Of each hole and mark the nearest edge of each direction of the part about it.
    fn edges_about_holes(&self) -> Vec<(usize, Side, Quantity)> {
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
            let at = super::together::place_of(b);
            let near = wishes::lines_about(f, &lines, at);
            let nearest = near.into_iter().filter(|(_, k)| *k <= 1.0 + 1e-9);
            out.extend(
                nearest.map(|(line, _)| (body, line, Quantity::Offset(line, near::middle(body)))),
            );
        }
        out
    }

    /// What was found and could not go on.
    fn undone(&self, solved: &Moved) -> Vec<Note> {
        let said = |c: &Condition| {
            let at =
                c.of.first()
                    .and_then(|m| match &self.joint.bodies.get(m.0)?.shape {
                        Form::Chain(f) => f.corners.get(m.1.unwrap_or(0)).copied(),
                        Form::Round { center, .. } | Form::Spot(center) => Some(*center),
                    });
            let text = format!("a correction undid this: {}", c.kind.row().counted[0]);
            match at {
                Some(at) => Note::at(text, at),
                None => Note::new(text),
            }
        };
        solved.dropped.iter().map(said).collect()
    }

    fn write_back(
        &self,
        done: &[Wanted<'_>],
        solved: &Moved,
        taken: &mut [Taken],
        holes: &mut [Loop],
        marks: &mut [Mark],
    ) {
        let asked = || done.iter().flat_map(|w| &w.asked.conditions);
        for (i, b) in solved.joint.bodies.iter().enumerate() {
            match (self.sources[i], &b.shape) {
                (Source::Loop(t), shape) => {
                    let own = asked().chain(&solved.found);
                    let own = own.filter(|c| c.of.iter().all(|m| m.0 == i));
                    let mut conditions: Vec<Condition> = Vec::new();
                    for c in own.map(|c| of_body(c, 0)) {
                        if !conditions.contains(&c) {
                            conditions.push(c);
                        }
                    }
                    moved(&mut taken[t], shape, conditions);
                }
                (Source::Hole(h), Form::Spot(at)) => {
                    if let Path::Circle(c) = &mut holes[h].path {
                        c.center = *at;
                    }
                }
                (Source::Mark(m), Form::Spot(at)) => marks[m].at = *at,
                _ => {}
            }
        }
    }

    /// What ties the loops together from now on.
    fn tied(
        &self,
        done: &[Wanted<'_>],
        solved: &Moved,
        taken: &[Taken],
        holes: &[Loop],
        marks: &[Mark],
    ) -> Option<Together> {
        let asked = done.iter().flat_map(|w| &w.asked.conditions);
        let across = |c: &&Condition| c.of.iter().any(|m| Some(m.0) != c.of.first().map(|f| f.0));
        let of_circle = |c: &&Condition| {
            c.kind == RelationKind::Size
                && c.of
                    .first()
                    .is_some_and(|m| matches!(self.joint.bodies[m.0].shape, Form::Round { .. }))
        };
        let all: Vec<&Condition> = asked.chain(&solved.found).collect();
        let ties: Vec<Condition> = all
            .iter()
            .filter(|c| across(c) || of_circle(c))
            .map(|c| (*c).clone())
            .collect();
        let is_any = all.iter().any(across);
        let (sources, bodies, factors) = bodies(taken, holes, marks);
        if !is_any || sources != self.sources {
            return None;
        }
        let joint = Joint::new(bodies);
        let held = joint.held(&ties)?;
        let mut spans: Vec<Span> = Vec::new();
        for w in done.iter().filter(|w| w.asked.pattern) {
            let sides: Vec<Side> = match w.asked.conditions.first() {
                Some(c) => c.of.iter().map(|m| Side::new(m.0, 0)).collect(),
                None => continue,
            };
            let both = w.asked.conditions[0].kind == RelationKind::HoleRectangle;
            for pair in sides.windows(2).take(if both { 2 } else { 1 }) {
                let fixed = w.asked.conditions.iter().skip(1).any(|c| {
                    c.of.len() == 2 && c.of[0].0 == pair[0].body && c.of[1].0 == pair[1].body
                });
                spans.push(Span {
                    from: pair[0],
                    to: pair[1],
                    fixed,
                });
            }
        }
        let own = self.spans.iter().filter(|s| {
            let of = [s.from.body, s.to.body];
            !done.iter().any(|w| w.asked.pattern && w.asked.names(&of))
        });
        spans.extend(own.cloned());
        Some(Together {
            joint,
            held,
            sources,
            factors,
            ties,
            spans,
        })
    }
}

/// Of more free numbers, it is not tried one by one what gives way and what a hint fights; nor of more hints.
const MOST_TRIED: usize = 240;
const MOST_RIVALS: usize = 12;
/// A size that changes by no more than this hardly changes, mm.
const HARDLY: f64 = 0.6;
/// By how much two touches may lie askew that are meant along an edge, mm.
const TOUCHED_OFF: f64 = 8.0;
/// An edge shorter than a twentieth of this is none, mm.
const LEAST_EDGE: f64 = 0.2;
/// Smaller changes are not worth telling, mm and radians.
const LEAST_TOLD: f64 = 0.01;
const LEAST_TOLD_ANGLE: f64 = 1e-4;
/// A hole that comes to lie no further off than this has stayed, mm.
const HOLE_STAYS: f64 = 0.3;

impl Asked {
    /// It is about all these bodies.
    fn names(&self, bodies: &[usize]) -> bool {
        let of = |b: &usize| {
            self.conditions
                .iter()
                .flat_map(|c| &c.of)
                .any(|m| m.0 == *b)
        };
        bodies.iter().all(of)
    }
}

/// One thing is as large as another.
const fn is_alike(kind: RelationKind) -> bool {
    matches!(kind, RelationKind::EqualLength | RelationKind::EqualRadius)
}

/// What was found that does not give way: a smooth joint, and to sizes a right angle and what is parallel.
fn is_firm(c: &Condition, turns: bool) -> bool {
    match c.kind {
        RelationKind::Tangent => true,
        RelationKind::Square | RelationKind::Parallel => !turns,
        _ => false,
    }
}

/// The same said of one body among others, or of the only one.
fn of_body(c: &Condition, body: usize) -> Condition {
    Condition {
        kind: c.kind,
        of: c.of.iter().map(|m| (body, m.1)).collect(),
        constraints: c.constraints.iter().map(|c| c.of_body(body)).collect(),
    }
}

/// What is said of the lengths of sides, said of them over all where that is so too.
fn over_all(joint: &Joint, c: &Condition) -> Condition {
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

/// Everything that can be moved.
fn bodies(taken: &[Taken], holes: &[Loop], marks: &[Mark]) -> (Vec<Source>, Vec<Body>, Vec<f64>) {
    let (mut sources, mut all, mut factors) = (Vec::new(), Vec::new(), Vec::new());
    let mut add = |source, body: Option<(Body, f64)>| {
        if let Some((body, factor)) = body {
            sources.push(source);
            all.push(body);
            factors.push(factor);
        }
    };
    for (i, t) in taken.iter().enumerate() {
        let body = match t.told {
            Some(_) => body_of(t),
            None => drawn(&t.made.path).map(|b| (b, 1.0)),
        };
        add(Source::Loop(i), body);
    }
    for (i, l) in holes.iter().enumerate() {
        if let Path::Circle(c) = &l.path {
            add(Source::Hole(i), spot(c.center, TOUCH).map(|b| (b, 1.0)));
        }
    }
    for (i, m) in marks.iter().enumerate() {
        add(Source::Mark(i), spot(m.at, TOUCH).map(|b| (b, 1.0)));
    }
    (sources, all, factors)
}

/// How surely a drawing says where its corners are, mm.
const DRAWN: f64 = 0.05;

/// A path that was drawn rather than traced: what is square, parallel or smooth in it was meant so.
fn drawn(path: &Path) -> Option<Body> {
    let (shape, numbers, own) = match path {
        Path::Circle(c) => {
            let shape = Form::Round {
                center: c.center,
                radius: c.radius,
            };
            (shape, 3, Vec::new())
        }
        Path::Chain(chain) => {
            let f = figure_of(chain, path.is_closed());
            let own = relations_of(&f);
            let numbers = f.numbers();
            (Form::Chain(f), numbers, own)
        }
    };
    let mut h = vec![0.0; numbers * numbers];
    h.iter_mut()
        .step_by(numbers + 1)
        .for_each(|d| *d = 1.0 / (DRAWN * DRAWN));
    Some(Body {
        shape,
        own,
        normal: Normal::new(h, &vec![0.0; numbers])?,
        factor: 1.0,
    })
}

/// A chain's corners and bulges.
fn figure_of(chain: &Chain, closed: bool) -> Figure {
    let bulge = |s: &Shape| match s {
        Shape::Line => (Kind::Line, 0.0),
        Shape::Arc { sweep } => (Kind::Arc, libm::tan(0.25 * sweep)),
    };
    let (kinds, bulges) = chain.shapes.iter().map(bulge).unzip();
    Figure {
        corners: chain.corners.clone(),
        bulges,
        kinds,
        closed,
    }
}

/// More edges of a drawing are not looked at for what is parallel.
const MOST_DRAWN: usize = 60;

/// What is square, parallel or smooth in a figure to the last written digits.
fn relations_of(f: &Figure) -> Vec<Condition> {
    let mut out = Vec::new();
    let m = f.len();
    let joints = if f.closed { m } else { m.saturating_sub(1) };
    for e in (0..joints).filter(|_| m > 1) {
        let next = (e + 1) % m;
        let curved = f.kinds[e] == Kind::Arc || f.kinds[next] == Kind::Arc;
        if curved && f.turn_after(e).abs() < DRAWN_SO {
            out.push(Condition::tangent(e));
        }
    }
    if m > MOST_DRAWN {
        return out;
    }
    // Of each direction the first line speaks for the others.
    let lines = (0..m).filter(|e| f.kinds[*e] == Kind::Line);
    let mut first: Vec<usize> = Vec::new();
    for e in lines {
        let b = straight(f, Side::new(0, e));
        for &o in &first {
            let a = straight(f, Side::new(0, o));
            let quarter = (b.angle - a.angle) / FRAC_PI_2;
            if (quarter - libm::round(quarter)).abs() * FRAC_PI_2 < DRAWN_SO {
                let turn = libm::round(quarter) * FRAC_PI_2;
                let even = (turn / PI - libm::round(turn / PI)).abs() < 1e-9;
                let kind = if even {
                    RelationKind::Parallel
                } else {
                    RelationKind::Square
                };
                out.push(at_angle(kind, &a, &b, turn));
                break;
            }
        }
        if !out
            .iter()
            .any(|c| c.of.last() == Some(&(0, Some(e))) && c.kind != RelationKind::Tangent)
        {
            first.push(e);
        }
    }
    out
}

/// What a drawing says to this many radians was meant so.
const DRAWN_SO: f64 = 1e-6;

/// A loop where it stands now.
fn moved(t: &mut Taken, shape: &Form, conditions: Vec<Condition>) {
    let counter_clockwise = t.made.path.area() > 0.0;
    let Some((study, best)) = &mut t.told else {
        t.made.path = match shape {
            Form::Chain(f) => Path::Chain(f.to_chain()),
            Form::Round { center, radius } => Path::Circle(Circle {
                center: *center,
                radius: *radius,
                counter_clockwise,
            }),
            Form::Spot(_) => return,
        };
        return;
    };
    match (&mut best.course, shape) {
        (Course::Chain(s), Form::Chain(f)) => {
            let Some(problem) = study.problem(best.variant) else {
                return;
            };
            let (starts, width) = (s.starts.clone(), s.corner_width);
            match standing(&problem, f.clone(), starts, width, &conditions) {
                Some(mut now) => {
                    now.residuals = s.residuals.clone();
                    **s = now;
                }
                None => s.figure = f.clone(),
            }
        }
        (Course::Circle(c), Form::Round { center, radius }) => {
            (c.center, c.radius) = (*center, *radius);
        }
        _ => return,
    }
    best.conditions = conditions;
    if let Some(stations) = study.forms.get(best.variant) {
        t.made.deviation = Some(describe::deviation(best, stations));
    }
    t.made.path = best.course.path(counter_clockwise);
}

/// The hints that name something near them; the others are refused with the distance. Of corners, sizes and holes it
/// is told once it is known what was read.
pub(super) fn in_reach(
    clean: &CleanTrace,
    drawn: &[Path],
    hints: &[Hint],
) -> (Vec<Hint>, Vec<Doubt>) {
    let lines = clean.paths.iter().map(|p| p.points.as_slice());
    let drawn: Vec<Vec<Point>> = drawn.iter().map(|p| p.flatten(0.1)).collect();
    let lines: Vec<&[Point]> = lines.chain(drawn.iter().map(Vec::as_slice)).collect();
    let all = lines.iter().flat_map(|l| l.iter()).chain(&clean.marks);
    let bounds = Bounds::of_points(all.copied());
    let reach = asked::reach(bounds.map_or(0.0, |b| b.diagonal()));
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

/// More free numbers, and it is not told how far holes lie from edges.
const MOST_TOLD: usize = 300;

/// How far each hole and mark lies from the edges about it; `loops` loops were traced, holes made of marks follow
/// them. Edges are numbered as the loops were made.
pub(super) fn to_edges(
    taken: &[Taken],
    holes: &[Loop],
    marks: &[Mark],
    loops: usize,
    together: Option<&Together>,
) -> Vec<Size> {
    if places(taken, holes, marks) > MOST_TOLD {
        return Vec::new();
    }
    let stand = Stand::of(taken, holes, marks, together);
    let about = stand.edges_about_holes();
    if about.is_empty() || stand.joint.numbers() > MOST_TOLD {
        return Vec::new();
    }
    let Some(held) = stand.joint.held(&stand.found[stand.own..]) else {
        return Vec::new();
    };
    // What a drawing states has no ±.
    let is_drawn = |body: usize| match stand.sources[body] {
        Source::Loop(i) => taken[i].told.is_none(),
        Source::Hole(_) | Source::Mark(_) => false,
    };
    let size = |(body, line, across): (usize, Side, Quantity)| {
        if is_drawn(body) || is_drawn(line.body) {
            return None;
        }
        let linear = Constraint::at(across, 0.0).linear(&stand.joint)?;
        let Source::Loop(loop_index) = stand.sources[line.body] else {
            return None;
        };
        let (hole, mark) = match stand.sources[body] {
            Source::Loop(i) => (Some(i), None),
            Source::Hole(i) => (Some(loops + i), None),
            Source::Mark(i) => (None, Some(i)),
        };
        let sure = held.predict(&linear.gradient).0.max(0.0).sqrt();
        let fixed = sure < FIXED;
        Some(Size {
            kind: SizeKind::ToEdge,
            loop_index,
            edges: vec![line.edge],
            value: linear.value.abs(),
            plus_minus: if fixed { 0.0 } else { SPREAD_95 * sure },
            fixed,
            at: super::together::place_of(&stand.joint.bodies[body]),
            hole,
            mark,
        })
    };
    about.into_iter().filter_map(size).collect()
}

/// A distance surer than this is fixed, mm.
const FIXED: f64 = 1e-4;

/// What is said of a size that moved along.
pub(super) fn sentence(also: &Also, outline: &Outline) -> String {
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
        SizeKind::ToEdge => "the distance of a hole from ",
        SizeKind::Distance | SizeKind::Centers | SizeKind::Spacing => "the distance of ",
    };
    format!("{what}{of} went from {from:.2} to {to:.2}{unit} with it ({by:+.2}{unit})")
}

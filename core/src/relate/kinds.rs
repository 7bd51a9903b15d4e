//! The table of relations: one row each. Reports, documents, hints, words, prices and searches go by its rows.
//!
//! To add a relation, write its row, with a function that proposes it of what [`Ask`] lists; the walker of the
//! tests will not compile until it knows how to see that it holds.

use super::ask::{Ask, Joint, Middle, Proposal, Straight};
use super::choose::Meant;
use super::constraint::{Condition, Constraint};
use super::figure::Figure;
use super::mirror::mirrored;
use super::quantity::{Quantity, Side};
use crate::fit::partition::Kind;
use crate::geom::normalize_angle;
use core::f64::consts::{FRAC_PI_2, PI};
use serde::{Deserialize, Serialize};

/// What is known of a relation.
pub struct Row {
    /// So many of them, in words: of one, and of more.
    pub counted: [&'static str; 2],
    /// What is said of loops that it ties together; empty where nothing is.
    pub across: &'static str,
    /// The number that is told beside it.
    pub(crate) tells: Tells,
    /// When it is asked for.
    pub(crate) when: When,
    /// Further off than this it is not even asked: radians of a direction, else as a part or a factor.
    pub(crate) reach: f64,
    /// How seldom it is meant, nats.
    pub(crate) prior: f64,
    /// How it is favoured where it is nearly so.
    pub(crate) meant: Option<Meant>,
    /// It asks for a length or a radius, and waits until all directions are settled.
    pub(crate) late: bool,
    /// What could be asked.
    pub(crate) propose: fn(&Row, &Ask<'_>, &mut Vec<Proposal>),
}

/// A number that a relation tells.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Tells {
    Nothing,
    /// What its edges share: the quantity its first constraint begins with.
    Shared,
    /// What it is held to.
    Value,
}

/// When a relation is asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum When {
    /// While readings compete.
    Competing,
    /// Of a figure that is settled: asked earlier, it excuses too many readings.
    Settled,
    /// It is said, or shows by itself.
    Never,
}

/// A row that says nothing, for the rows to start from.
const PLAIN: Row = Row {
    counted: ["", ""],
    across: "",
    tells: Tells::Nothing,
    when: When::Competing,
    reach: 0.0,
    prior: 0.0,
    meant: None,
    late: false,
    propose: |_, _, _| {},
};

macro_rules! relations {
    ($($(#[$doc:meta])+ $kind:ident: $row:expr;)+) => {
        /// The kinds of relation.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
        #[cfg_attr(feature = "types", derive(ts_rs::TS))]
        #[serde(rename_all = "snake_case")]
        pub enum RelationKind { $($(#[$doc])+ $kind,)+ }

        impl RelationKind {
            /// All kinds, in the order they are asked for.
            pub const ALL: &'static [Self] = &[$(Self::$kind,)+];

            /// What is known of it.
            #[must_use]
            pub fn row(self) -> &'static Row {
                match self { $(Self::$kind => { const ROW: Row = $row; &ROW })+ }
            }
        }
    };
}

relations! {
    /// Two edges meet without a kink.
    Tangent: Row {
        counted: ["smooth joint", "smooth joints"],
        reach: 0.6,
        prior: 0.7,
        meant: Some(Meant::TANGENT),
        propose: |row, ask, out| {
            let near = |j: &&Joint| j.curved && j.turn.abs() < row.reach;
            out.extend(ask.joints.iter().filter(near).map(|j| joint(RelationKind::Tangent, j.after, 0.0)));
        },
        ..PLAIN
    };
    /// Two straight edges meet, or would meet, at 90°; or two edges of which one is an arc meet so.
    Square: Row {
        counted: ["corner squared", "corners squared"],
        across: SQUARED,
        reach: ANGLE_REACH,
        prior: 1.0,
        meant: Some(Meant::SQUARE),
        propose: |row, ask, out| {
            let near = |j: &&Joint| j.curved && (j.turn.abs() - FRAC_PI_2).abs() < row.reach;
            let at_arc = |j: &Joint| Proposal {
                // A line seldom meets an arc squarely.
                prior: 2.0,
                meant: None,
                ..joint(RelationKind::Square, j.after, FRAC_PI_2.copysign(j.turn))
            };
            out.extend(ask.joints.iter().filter(near).map(at_arc));
            turned(RelationKind::Square, ask, out, |turn| {
                let half_turns = libm::round(turn / PI - 0.5);
                Some((FRAC_PI_2 + half_turns * PI, 0.0))
            });
        },
        ..PLAIN
    };
    /// Two straight edges have one direction.
    Parallel: Row {
        counted: ["pair parallel", "pairs parallel"],
        across: SQUARED,
        reach: ANGLE_REACH,
        prior: 1.0,
        meant: Some(Meant::SQUARE),
        propose: |_, ask, out| {
            turned(RelationKind::Parallel, ask, out, |turn| Some((libm::round(turn / PI) * PI, 0.0)));
        },
        ..PLAIN
    };
    /// Two straight edges at a round angle (a multiple of 15°).
    AngleStep: Row {
        counted: ["round angle", "round angles"],
        tells: Tells::Value,
        reach: ANGLE_REACH,
        prior: 3.5,
        propose: |_, ask, out| {
            turned(RelationKind::AngleStep, ask, out, |turn| {
                let steps = libm::round(turn / STEP);
                // 45° is meant oftener than 30° or 60°, and those than 15° or 75°.
                let seldom = match (steps as i64).rem_euclid(6) {
                    // Loops lie at any angle to one another.
                    _ if ask.across => return None,
                    0 => return None,
                    3 => 0.0,
                    2 | 4 => 1.0,
                    _ => 2.0,
                };
                Some((steps * STEP, seldom))
            });
        },
        ..PLAIN
    };
    /// Straight edges of one length.
    EqualLength: Row {
        counted: ["length shared", "lengths shared"],
        across: "were given sides of one length",
        tells: Tells::Shared,
        reach: 1.6,
        prior: 3.0,
        late: true,
        propose: |row, ask, out| alike(RelationKind::EqualLength, row, ask, out),
        ..PLAIN
    };
    /// Arcs of one radius.
    EqualRadius: Row {
        counted: ["radius shared", "radii shared"],
        across: "were given one radius",
        tells: Tells::Shared,
        reach: 1.6,
        prior: 0.7,
        late: true,
        propose: |row, ask, out| alike(RelationKind::EqualRadius, row, ask, out),
        ..PLAIN
    };
    /// Arcs, circles, loops and patterns of holes about one centre.
    OneCenter: Row {
        counted: ["centre shared", "centres shared"],
        across: "were put about one centre",
        reach: 0.25,
        prior: 2.0,
        propose: |row, ask, out| {
            for (a, b) in ask.pairs(&ask.middles, &ask.middle_pairs) {
                if a.at.distance(b.at) < row.reach * a.radius.max(b.radius).min(ask.size) {
                    out.push(Proposal::of(one_center(a, b), ask.size));
                }
            }
        },
        ..PLAIN
    };
    /// All sides and all corners alike.
    Regular: Row {
        counted: ["regular loop", "regular loops"],
        tells: Tells::Shared,
        reach: 0.5,
        prior: 3.0,
        propose: |row, ask, out| {
            let all = ask.loops.iter().filter_map(|(body, f)| regular(*body, f, row.reach));
            out.extend(all.map(|c| Proposal::of(c, ask.size)));
        },
        ..PLAIN
    };
    /// The loop is its own mirror image.
    Mirrored: Row {
        counted: ["loop mirrored", "loops mirrored"],
        when: When::Settled,
        prior: 3.0,
        propose: |_, ask, out| {
            let all = ask.loops.iter().flat_map(|(body, f)| mirrored(*body, f));
            out.extend(all.map(|c| Proposal::of(c, ask.size)));
        },
        ..PLAIN
    };
    /// Two straight edges lie on one line.
    InLine: Row {
        counted: ["pair in line", "pairs in line"],
        when: When::Settled,
        reach: 0.15,
        prior: 3.0,
        propose: |row, ask, out| {
            for (a, b) in ask.pairs(&ask.straights, &ask.straight_pairs) {
                out.extend(in_line(a, b, row.reach).map(|c| Proposal::of(c, ask.size)));
            }
        },
        ..PLAIN
    };
    /// A size set to a whole step or by a hint.
    Size: Row {
        counted: ["size given", "sizes given"],
        tells: Tells::Value,
        when: When::Never,
        ..PLAIN
    };
    /// Holes or marks in a row at one pitch.
    HoleRow: Row {
        counted: ["row of holes", "rows of holes"],
        when: When::Never,
        ..PLAIN
    };
    /// Holes or marks on one circle at one pitch; four are a square.
    HoleCircle: Row {
        counted: ["circle of holes", "circles of holes"],
        when: When::Never,
        ..PLAIN
    };
    /// Four holes or marks at the corners of a rectangle.
    HoleRectangle: Row {
        counted: ["rectangle of holes", "rectangles of holes"],
        when: When::Never,
        ..PLAIN
    };
}

/// Of loops that were made square or parallel.
const SQUARED: &str = "were made square with one another";
/// Lines further than this from a step of angle are not even asked, radians.
const ANGLE_REACH: f64 = 0.35;
/// Round angles are multiples of this, radians.
const STEP: f64 = PI / 12.0;

fn joint(kind: RelationKind, after: Side, turn: f64) -> Proposal {
    let constraint = Constraint::at(Quantity::Turn(after), turn);
    Proposal::of(Condition::new(kind, &[after], vec![constraint]), PI)
}

/// Pairs of straight edges held to the angle that is nearest to the turn from one to the other (and how much more
/// seldom it is meant than the relation, nats), where it is near.
fn turned(
    kind: RelationKind,
    ask: &Ask<'_>,
    out: &mut Vec<Proposal>,
    nearest: impl Fn(f64) -> Option<(f64, f64)>,
) {
    for (a, b) in ask.pairs(&ask.straights, &ask.straight_pairs) {
        let turn = b.angle - a.angle;
        if let Some((angle, seldom)) = nearest(turn)
            && normalize_angle(turn - angle).abs() < kind.row().reach
        {
            let mut proposal = Proposal::of(at_angle(kind, a, b, angle), PI);
            proposal.prior += seldom;
            out.push(proposal);
        }
    }
}

/// The second of two straight edges turned so far from the first.
pub(crate) fn at_angle(kind: RelationKind, a: &Straight, b: &Straight, angle: f64) -> Condition {
    Condition {
        kind,
        of: [a.of.as_slice(), &b.of].concat(),
        constraints: vec![Constraint::difference(b.direction, a.direction, angle)],
    }
}

/// Pairs of one length, or of one radius.
fn alike(kind: RelationKind, row: &Row, ask: &Ask<'_>, out: &mut Vec<Proposal>) {
    for (a, b) in ask.pairs(&ask.sizes, &ask.size_pairs) {
        let near = a.value.max(b.value) < row.reach * a.value.min(b.value);
        let radii = matches!(a.quantity, Quantity::Radius(_));
        if near && radii == (kind == RelationKind::EqualRadius) {
            let alike = Constraint::difference(a.quantity, b.quantity, 0.0);
            let range = if radii {
                5.0 * a.value.min(b.value)
            } else {
                ask.size
            };
            out.push(Proposal::of(
                Condition::new(kind, &[a.of, b.of], vec![alike]),
                range,
            ));
        }
    }
}

/// Two middles are one.
pub(crate) fn one_center(a: &Middle, b: &Middle) -> Condition {
    let less = |p: &[(f64, Quantity)], q: &[(f64, Quantity)]| {
        let minus = q.iter().map(|(k, n)| (-k, *n));
        Constraint::none(p.iter().copied().chain(minus).collect())
    };
    Condition {
        kind: RelationKind::OneCenter,
        of: [a.of.as_slice(), &b.of].concat(),
        constraints: vec![less(&a.x, &b.x), less(&a.y, &b.y)],
    }
}

/// A regular polygon as one relation.
fn regular(body: usize, f: &Figure, reach: f64) -> Option<Condition> {
    let m = f.len();
    let straight = f.kinds.iter().all(|k| *k == Kind::Line);
    if !(f.closed && straight && [3, 4, 5, 6, 8].contains(&m)) {
        return None;
    }
    let want = 2.0 * PI / m as f64 * f.turn_after(0).signum();
    if !(0..m).all(|e| (f.turn_after(e) - want).abs() < reach) {
        return None;
    }
    let sides: Vec<Side> = (0..m).map(|e| Side::new(body, e)).collect();
    let first = *sides.first()?;
    let of_pair = |(a, b): (&Side, &Side)| {
        let alike = Constraint::difference(Quantity::Length(first), Quantity::Length(*b), 0.0);
        let (from, to) = (Quantity::Direction(*a), Quantity::Direction(*b));
        [alike, Constraint::difference(to, from, want)]
    };
    let all = sides.iter().zip(sides.iter().skip(1)).flat_map(of_pair);
    Some(Condition::new(RelationKind::Regular, &sides, all.collect()))
}

/// Two straight edges that do not meet, on one line: the same direction, and no step between them.
fn in_line(a: &Straight, b: &Straight, reach: f64) -> Option<Condition> {
    let ([a_from, a_to], [b_from, b_to]) = (a.ends?, b.ends?);
    let turn = b.angle - a.angle;
    let angle = libm::round(turn / PI) * PI;
    let along = (a_to - a_from).unit()?;
    let step = along.cross(b_from - a_from).abs();
    let meet = a_to == b_from || b_to == a_from;
    let near = normalize_angle(turn - angle).abs() < reach
        && step < IN_LINE_STEP * a_from.distance(b_from);
    (!meet && near).then(|| lined_up(a, b, angle)).flatten()
}

/// Edges further from one line than this are not asked to be on it, against their distance.
const IN_LINE_STEP: f64 = 0.08;

/// The second of two straight edges on the line of the first.
pub(crate) fn lined_up(a: &Straight, b: &Straight, angle: f64) -> Option<Condition> {
    let mut out = at_angle(RelationKind::InLine, a, b, angle);
    let (a, b) = (a.side()?, b.side()?);
    let step = Quantity::Offset(a, super::quantity::Place::Corner(b));
    out.constraints.push(Constraint::at(step, 0.0));
    Some(out)
}

//! What a hint asks for, as conditions on the bodies it names.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure they belong to, bodies by the joint they stand in"
)]

use super::near::{self, Corner, Ends, Found, virtual_corner};
use crate::fit::partition::Kind;
use crate::geom::{Point, Sorted as _, Vec2, normalize_angle};
use crate::hint::{CornerKind, Hint, Pattern, PatternKind, Says};
use crate::relate::across::{Form, Joint};
use crate::relate::ask::straight;
use crate::relate::constraint::{Condition, Constraint};
use crate::relate::figure::Figure;
use crate::relate::kinds::{RelationKind, at_angle};
use crate::relate::measures::{of_edge, slot};
use crate::relate::quantity::{Axis, Place, Quantity, Side};
use crate::report::SizeKind;
use core::f64::consts::{FRAC_PI_2, PI, TAU};

/// What one hint asks for.
#[derive(Clone, Debug, Default)]
pub(super) struct Asked {
    pub conditions: Vec<Condition>,
    /// It turns edges: what was found of their angles gives way.
    pub turns: bool,
    /// The edges that it may turn, rather the first.
    pub turned: Vec<Side>,
    /// Holes and marks that come to lie elsewhere.
    pub moves: Vec<usize>,
    /// A pattern of holes: what was found of those holes as a pattern gives way.
    pub pattern: bool,
    /// Sizes that go with what is asked, by kind, body and edges: others stay.
    pub along: Vec<(SizeKind, usize, Vec<usize>)>,
}

/// The most a thing may lie from where a hint says it is, mm.
pub(in super::super) fn reach(extent: f64) -> f64 {
    (0.15 * extent).clamp(10.0, 60.0)
}

/// What `hint` asks for. Nothing where it asks for nothing that is moved to.
pub(super) fn asked(joint: &Joint, hint: &Hint) -> Option<Result<Asked, String>> {
    let at = hint.at;
    let far = Looking {
        joint,
        reach: reach(joint.extent()),
    };
    Some(match &hint.says {
        Says::Size(v) => far.size(at, *v),
        Says::Diameter(v) => far.radius(at, *v, 0.5),
        Says::Radius(v) => far.radius(at, *v, 1.0),
        Says::Corner(CornerKind::Radius(v)) => far.corner_radius(at, *v),
        Says::Corner(CornerKind::Square) => far.angle(at, 90.0, RelationKind::Square),
        Says::Corner(CornerKind::Angle(a)) => far.angle(at, *a, RelationKind::AngleStep),
        Says::Distance(v, to) => far.distance(at, *to, *v),
        Says::Parallel(to) => far.parallel(at, *to),
        Says::InLine(to) => far.in_line(at, *to),
        Says::Equal(to) => far.equal(at, *to),
        Says::Pattern(p) => far.pattern(at, p),
        Says::Datum(to) => far.datum(at, *to),
        _ => return None,
    })
}

/// Things are looked for near places.
struct Looking<'a> {
    joint: &'a Joint,
    reach: f64,
}

fn positive(v: f64, what: &str) -> Result<f64, String> {
    match v.is_finite() && v > 0.0 {
        true => Ok(v),
        false => Err(format!("{what} must be more than 0, not {v}")),
    }
}

impl Looking<'_> {
    /// What was found, if it is near enough.
    fn near<T>(&self, found: Option<Found<T>>, what: &str) -> Result<T, String> {
        match found {
            None => Err(format!("there is no {what}")),
            Some(f) if f.far > self.reach => {
                Err(format!("the nearest {what} is {:.0} mm away", f.far))
            }
            Some(f) => Ok(f.what),
        }
    }

    fn edge(&self, at: Point) -> Result<Side, String> {
        self.near(near::edge(self.joint, at), "edge")
    }

    fn line(&self, at: Point) -> Result<Side, String> {
        self.near(near::line(self.joint, at), "straight edge")
    }

    fn figure(&self, s: Side) -> Option<&Figure> {
        match &self.joint.bodies.get(s.body)?.shape {
            Form::Chain(f) => Some(f),
            _ => None,
        }
    }

    fn terms(&self, s: Side) -> (SizeKind, Vec<(f64, Quantity)>) {
        match self.figure(s) {
            Some(f) => of_edge(f, s.body, s.edge),
            None => (SizeKind::Diameter, vec![(2.0, Quantity::Radius(s))]),
        }
    }

    fn sized(of: &[Side], terms: Vec<(f64, Quantity)>, value: f64) -> Asked {
        // A diameter is said as the radius, so that a later word about either goes for both.
        let held = match terms.as_slice() {
            [(k, q)] => Constraint::at(*q, value / k),
            _ => Constraint { terms, value },
        };
        Asked {
            conditions: vec![Condition::new(RelationKind::Size, of, vec![held])],
            ..Asked::default()
        }
    }

    fn size(&self, at: Point, v: f64) -> Result<Asked, String> {
        let v = positive(v, "a size")?;
        let side = self.edge(at)?;
        let (_, terms) = self.terms(side);
        let ends = self.figure(side).and_then(|f| slot(f, side.edge));
        let centers = ends.map(|[a, b]| (SizeKind::Centers, side.body, vec![a.min(b), a.max(b)]));
        Ok(Asked {
            along: centers.into_iter().collect(),
            ..Self::sized(&[side], terms, v)
        })
    }

    fn radius(&self, at: Point, v: f64, k: f64) -> Result<Asked, String> {
        let what = if k < 1.0 { "a diameter" } else { "a radius" };
        let v = positive(v, what)?;
        let side = self.near(near::round(self.joint, at), "circle or arc")?;
        Ok(Self::sized(
            &[side],
            vec![(1.0, Quantity::Radius(side))],
            k * v,
        ))
    }

    fn corner_radius(&self, at: Point, v: f64) -> Result<Asked, String> {
        let v = positive(v, "a radius")?;
        let round = |side| Self::sized(&[side], vec![(1.0, Quantity::Radius(side))], v);
        let found = near::any_corner(self.joint, at, Ends::Corners);
        if let Some(f) = found.filter(|f| f.far <= self.reach)
            && let (body, Corner::Soft(e, _)) = f.what
            && self
                .figure(Side::new(body, e))
                .is_some_and(|f| f.kinds[e] == Kind::Arc)
        {
            return Ok(round(Side::new(body, e)));
        }
        // Rounded a moment ago, where an arc meets something or far from where a sharp corner was.
        if let Some(bend) = near::bend(self.joint, at, v).filter(|f| f.far <= FAR_BEND * v) {
            return Ok(round(bend.what));
        }
        // What could not be rounded has been told by whoever tried.
        self.near(found, "corner").map(|_| Asked::default())
    }

    fn angle(&self, at: Point, degrees: f64, kind: RelationKind) -> Result<Asked, String> {
        if !(degrees > 1.0 && degrees < 359.0) {
            return Err(format!("a corner of {degrees}° can't be made"));
        }
        let ends = match kind {
            RelationKind::Square => Ends::Clipped,
            _ => Ends::Corners,
        };
        let (body, corner) = self.near(near::any_corner(self.joint, at, ends), "corner")?;
        let (before, after) = match corner {
            Corner::Plain(a, b) => (a, b),
            Corner::Soft(_, [a, b]) => (a, b),
        };
        let Some(f) = self.figure(Side::new(body, before)) else {
            return Err("there is no corner here".into());
        };
        if f.kinds[before] != Kind::Line || f.kinds[after] != Kind::Line {
            return Err("a corner has an angle where two straight edges meet".into());
        }
        let [a, b] = [before, after].map(|e| straight(f, Side::new(body, e)));
        let left = crate::Path::Chain(f.to_chain()).area() >= 0.0;
        let turn = normalize_angle(b.angle - a.angle);
        let inside = PI - degrees.to_radians();
        let turn = match kind {
            RelationKind::Square => FRAC_PI_2.copysign(turn),
            _ if left => inside,
            _ => -inside,
        };
        // The longer of the two is what the shorter stands on.
        let turned = match f.chord(before) < f.chord(after) {
            true => [before, after],
            false => [after, before],
        };
        Ok(Asked {
            conditions: vec![at_angle(kind, &a, &b, turn)],
            turns: true,
            turned: turned.map(|e| Side::new(body, e)).to_vec(),
            ..Asked::default()
        })
    }

    fn parallel(&self, at: Point, to: Point) -> Result<Asked, String> {
        let pair = self.two_lines(at, to)?;
        self.near_parallel(pair)?;
        Ok(Asked {
            conditions: vec![self.side_by_side(pair)],
            turns: true,
            turned: vec![pair[0]],
            ..Asked::default()
        })
    }

    fn two_lines(&self, at: Point, to: Point) -> Result<[Side; 2], String> {
        let (a, b) = (self.line(at)?, self.line(to)?);
        match a == b {
            true => Err("both places are nearest to one edge".into()),
            false => Ok([a, b]),
        }
    }

    fn side_by_side(&self, pair: [Side; 2]) -> Condition {
        let [a, b] = pair.map(|s| self.figure(s).map(|f| straight(f, s)));
        match (a, b) {
            (Some(a), Some(b)) => {
                let turn = libm::round((b.angle - a.angle) / PI) * PI;
                at_angle(RelationKind::Parallel, &a, &b, turn)
            }
            _ => Condition::new(RelationKind::Parallel, &pair, Vec::new()),
        }
    }

    fn in_line(&self, at: Point, to: Point) -> Result<Asked, String> {
        let pair = self.two_lines(at, to)?;
        self.near_parallel(pair)?;
        let [a, b] = pair;
        let mut condition = self.side_by_side(pair);
        condition.kind = RelationKind::InLine;
        let corner = Place::Corner(b);
        condition
            .constraints
            .push(Constraint::at(Quantity::Offset(a, corner), 0.0));
        Ok(Asked {
            conditions: vec![condition],
            turns: true,
            turned: vec![a],
            ..Asked::default()
        })
    }

    fn equal(&self, at: Point, to: Point) -> Result<Asked, String> {
        let (a, b) = (self.edge(at)?, self.edge(to)?);
        if a == b {
            return Err("both places are nearest to one edge".into());
        }
        let straight = |s| {
            self.figure(s)
                .is_some_and(|f| f.kinds[s.edge] == Kind::Line)
        };
        let (kind, [p, q]) = match (straight(a), straight(b)) {
            (true, true) => (RelationKind::EqualLength, [a, b].map(|s| self.terms(s).1)),
            (false, false) => {
                let radius = |s| vec![(1.0, Quantity::Radius(s))];
                (RelationKind::EqualRadius, [a, b].map(radius))
            }
            _ => return Err("a straight edge and an arc can't be equal".into()),
        };
        let less = q.into_iter().map(|(k, q)| (-k, q));
        let alike = Constraint::none(p.into_iter().chain(less).collect());
        Ok(Asked {
            conditions: vec![Condition::new(kind, &[a, b], vec![alike])],
            ..Asked::default()
        })
    }

    fn datum(&self, at: Point, to: Point) -> Result<Asked, String> {
        let d = to - at;
        if d.length() < 1e-6 {
            return Err("a datum is said by two places apart".into());
        }
        let side = self.line(at)?;
        let Some(f) = self.figure(side) else {
            return Err("a datum is said of a straight edge".into());
        };
        let n = Vec2::from_angle(d.angle()).left();
        let on_it = |c| {
            let at_axis = |axis| Quantity::At(Place::Corner(Side::new(side.body, c)), axis);
            Constraint {
                terms: vec![(n.x, at_axis(Axis::X)), (n.y, at_axis(Axis::Y))],
                value: n.dot(at.to_vec()),
            }
        };
        let both = [side.edge, f.end_corner(side.edge)].map(on_it).to_vec();
        Ok(Asked {
            conditions: vec![Condition::new(RelationKind::Size, &[side], both)],
            turns: true,
            ..Asked::default()
        })
    }

    /// The hole, mark or round end that a place names rather than an edge.
    fn center(&self, at: Point) -> Option<Found<Side>> {
        let (center, line) = (near::center(self.joint, at), near::line(self.joint, at));
        let nearer = |h: &Found<Side>| line.is_none_or(|l| h.far <= l.far);
        center.filter(|h| h.far <= self.reach).filter(nearer)
    }

    fn distance(&self, at: Point, to: Point, v: f64) -> Result<Asked, String> {
        let v = positive(v, "a distance")?;
        match (self.center(at), self.center(to)) {
            (Some(a), Some(b)) if a.what == b.what => {
                Err("both places are nearest to one hole".into())
            }
            (Some(a), Some(b)) => Ok(self.between_centers(a.what, b.what, v)),
            (Some(hole), None) => self.to_edge(hole.what, self.line(to)?, v),
            (None, Some(hole)) => self.to_edge(hole.what, self.line(at)?, v),
            (None, None) => self.between(self.two_lines(at, to)?, v),
        }
    }

    /// The first of two comes to lie elsewhere; where they are the ends of a slot, that becomes longer.
    fn between_centers(&self, a: Side, b: Side, v: f64) -> Asked {
        let span = Quantity::Span(Place::Center(a), Place::Center(b));
        let sides = self.figure(a).filter(|_| a.body == b.body).map(|f| {
            let of_both = |e: &usize| {
                slot(f, *e).is_some_and(|ends| ends == [a.edge, b.edge] || ends == [b.edge, a.edge])
            };
            (0..f.len()).filter(of_both).collect::<Vec<_>>()
        });
        let along = |e| (SizeKind::Length, a.body, vec![e]);
        Asked {
            moves: vec![a.body],
            along: sides.into_iter().flatten().map(along).collect(),
            ..Self::sized(&[a, b], vec![(1.0, span)], v)
        }
    }

    fn to_edge(&self, hole: Side, line: Side, v: f64) -> Result<Asked, String> {
        let across = Quantity::Offset(line, Place::Center(hole));
        let now = Constraint::at(across, 0.0).off(self.joint).unwrap_or(0.0);
        Ok(Asked {
            moves: vec![hole.body],
            ..Self::sized(&[hole, line], vec![(1.0, across)], v.copysign(now))
        })
    }

    /// By how much two lines are not parallel, radians.
    fn lean(&self, [a, b]: [Side; 2]) -> f64 {
        let way = |s: Side| self.figure(s).map_or(0.0, |f| f.start_direction(s.edge));
        normalize_angle(2.0 * (way(a) - way(b))).abs() / 2.0
    }

    /// Two edges that run nearly across one another are hardly meant to be parallel.
    fn near_parallel(&self, pair: [Side; 2]) -> Result<(), String> {
        let lean = self.lean(pair);
        match lean < ACROSS {
            true => Ok(()),
            false => Err(format!("they are {:.0}° from it", lean.to_degrees())),
        }
    }

    fn between(&self, pair: [Side; 2], v: f64) -> Result<Asked, String> {
        let [a, b] = pair;
        let turn = self.lean(pair);
        if turn > NEARLY_PARALLEL {
            return Err(format!(
                "the two edges are {:.0}° from parallel, and have no distance",
                turn.to_degrees()
            ));
        }
        let across = Quantity::Offset(a, Place::Corner(b));
        let now = Constraint::at(across, 0.0).off(self.joint).unwrap_or(0.0);
        let mut out = Self::sized(&pair, vec![(1.0, across)], v.copysign(now));
        if turn > 1e-9 {
            out.conditions.push(self.side_by_side(pair));
            out.turns = true;
        }
        Ok(out)
    }

    fn pattern(&self, at: Point, p: &Pattern) -> Result<Asked, String> {
        let mut holes: Vec<usize> = Vec::new();
        for place in core::iter::once(&at).chain(&p.with) {
            let hole = self.near(near::hole(self.joint, *place), "hole or mark")?;
            if holes.contains(&hole) {
                return Err("two of its places are nearest to one hole or mark".into());
            }
            holes.push(hole);
        }
        let need = match p.kind {
            PatternKind::Row => 2..usize::MAX,
            PatternKind::Circle => 3..usize::MAX,
            PatternKind::Rectangle => 4..5,
        };
        if !need.contains(&holes.len()) {
            return Err(format!(
                "{} holes or marks are not enough for it, or too many",
                holes.len()
            ));
        }
        let places: Vec<Point> = holes.iter().map(|h| self.place(*h)).collect();
        let order = in_order(p.kind, &places);
        let sides: Vec<Side> = order.iter().map(|i| Side::new(holes[*i], 0)).collect();
        let ordered: Vec<Point> = order.iter().map(|i| places[*i]).collect();
        let mut out = Asked {
            pattern: true,
            moves: holes.clone(),
            ..Asked::default()
        };
        let kind = match p.kind {
            PatternKind::Row => RelationKind::HoleRow,
            PatternKind::Circle => RelationKind::HoleCircle,
            PatternKind::Rectangle => RelationKind::HoleRectangle,
        };
        let of_centers = super::super::together::of_centers(kind, &sides);
        out.conditions
            .push(Condition::new(kind, &sides, of_centers));
        let mut span = |a: usize, b: usize, v: f64| -> Result<(), String> {
            let v = positive(v, "a spacing")?;
            let of = [sides[a], sides[b]];
            let span = Quantity::Span(Place::Center(of[0]), Place::Center(of[1]));
            let held = Constraint::at(span, v);
            out.conditions
                .push(Condition::new(RelationKind::Size, &of, vec![held]));
            Ok(())
        };
        if let Some([a, b]) = p.sides {
            let (along, across) = (
                ordered[0].distance(ordered[1]),
                ordered[1].distance(ordered[2]),
            );
            let as_said = (along - a).abs() + (across - b).abs();
            let turned = (along - b).abs() + (across - a).abs();
            let (a, b) = if as_said <= turned { (a, b) } else { (b, a) };
            span(0, 1, a)?;
            span(1, 2, b)?;
        }
        if let Some(d) = p.diameter {
            span(0, 1, d * libm::sin(PI / sides.len() as f64))?;
        }
        if let Some(pitch) = p.pitch {
            span(0, 1, pitch)?;
        }
        Ok(out)
    }

    fn place(&self, body: usize) -> Point {
        super::super::together::place_of(&self.joint.bodies[body])
    }
}

/// Edges told to be so far apart are made parallel where they lack no more than this, radians.
const NEARLY_PARALLEL: f64 = 0.26;

/// A fillet lies within so many radii of the corner that it rounds.
const FAR_BEND: f64 = 10.0;

/// Edges further than this from parallel are not made so, radians.
const ACROSS: f64 = 0.8;

/// Holes in the order of their pattern: along a row, round a circle.
fn in_order(kind: PatternKind, places: &[Point]) -> Vec<usize> {
    let n = places.len() as f64;
    let mean = places.iter().fold(Vec2::default(), |s, p| s + p.to_vec()) * (1.0 / n);
    let off: Vec<Vec2> = places.iter().map(|p| p.to_vec() - mean).collect();
    // The direction of the longest spread, for a row.
    let (xx, xy, yy) = off.iter().fold((0.0, 0.0, 0.0), |(a, b, c), d| {
        (a + d.x * d.x, b + d.x * d.y, c + d.y * d.y)
    });
    let along = Vec2::from_angle(0.5 * libm::atan2(2.0 * xy, xx - yy));
    let key = |d: &Vec2| match kind {
        PatternKind::Row => d.dot(along),
        PatternKind::Circle | PatternKind::Rectangle => {
            let a = d.angle();
            if a < 0.0 { a + TAU } else { a }
        }
    };
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.order_by(|a, b| key(&off[*a]).total_cmp(&key(&off[*b])));
    order
}

/// A place in the middle of what an asked condition is about, for sentences.
pub(super) fn corner_place(f: &Figure, corner: Corner) -> Point {
    match corner {
        Corner::Plain(_, next) => f.corners[next],
        Corner::Soft(e, sides) => virtual_corner(f, sides).unwrap_or(f.corners[e]),
    }
}

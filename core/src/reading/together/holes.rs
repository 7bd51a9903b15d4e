//! Holes and marks that form a pattern: a row, a circle, a square, a rectangle.
//!
//! Which pattern, and whether any, is told by [`mod@crate::fit::pattern`], from the places alone and a
//! hand's usual error. What it says becomes conditions on the centres, all of them linear but one: on a
//! circle of `n` holes all waves but the mean and the first round of the discrete Fourier transform are
//! nothing, in a row all second differences are, in a rectangle the diagonals halve one another and one
//! corner is square.
//!
//! A traced hole is known better than it was placed: the misses that the pattern shows are added to what
//! its stations say of its centre, not of its radius.
#![allow(
    clippy::indexing_slicing,
    reason = "holes are taken in the order the pattern gives them, modulo their number"
)]

use super::{Span, Taken};
use crate::fit::pattern::{Pattern, PatternKind, PatternSettings, pattern};
use crate::geom::Point;
use crate::outline::nesting::parents;
use crate::outline::{Circle, Loop, Path, Role};
use crate::relate::across::{Body, Form};
use crate::relate::ask::HolePattern;
use crate::relate::constraint::{Condition, Constraint, Member};
use crate::relate::normal::Normal;
use crate::relate::quantity::{Axis, Place, Quantity, Side};
use crate::report::{Note, RelationKind};
use core::f64::consts::{FRAC_PI_2, TAU};

/// A pattern less sure than this is none.
const SURE: f64 = 0.85;
/// Fewest holes that form one.
const FEWEST: usize = 3;
/// Circles whose radii differ by no more than this factor are holes of one kind.
const ONE_KIND: f64 = 1.15;

/// Holes that form a pattern.
pub(super) struct Group {
    /// The holes, in the pattern's order.
    pub sides: Vec<Side>,
    pub pattern: Pattern,
    /// They are circles of one radius.
    alike: bool,
}

/// A place that was touched.
pub(in super::super) fn spot(at: Point, error: f64) -> Option<Body> {
    let k = 1.0 / (error * error);
    Some(Body {
        shape: Form::Spot(at),
        own: Vec::new(),
        normal: Normal::new(vec![k, 0.0, 0.0, k], &[0.0, 0.0])?,
        factor: 1.0,
    })
}

/// The patterns among the bodies; what is known of their places becomes what the pattern shows of it.
pub(super) fn patterns(bodies: &mut [Body], taken: &[Taken]) -> Vec<Group> {
    let mut out = Vec::new();
    for group in groups(bodies, taken) {
        let places: Vec<Point> = group.iter().map(|&b| place(&bodies[b])).collect();
        let Ok(found) = pattern(&places, &PatternSettings::default()) else {
            continue;
        };
        let none = matches!(found.kind, PatternKind::Single | PatternKind::Free);
        // Touches taken together are no holes of their own.
        if none || found.sure < SURE || found.order().len() != group.len() {
            continue;
        }
        let alike = one_radius(bodies, &group);
        for &b in &group {
            if let Some(less_sure) = placed(&bodies[b], found.touch_error) {
                bodies[b] = less_sure;
            }
        }
        let side = |&k: &usize| Side::new(group[k], 0);
        out.push(Group {
            sides: found.order().iter().map(side).collect(),
            pattern: found,
            alike,
        });
    }
    out
}

pub(in super::super) fn place(b: &Body) -> Point {
    match &b.shape {
        Form::Round { center, .. } | Form::Spot(center) => *center,
        Form::Chain(_) => Point::default(),
    }
}

/// Holes of one kind in one part: what could form a pattern.
fn groups(bodies: &[Body], taken: &[Taken]) -> Vec<Vec<usize>> {
    let holder = holders(bodies, taken);
    let radius = |b: usize| match &bodies[b].shape {
        Form::Round { radius, .. } => Some(*radius),
        Form::Spot(_) => Some(0.0),
        Form::Chain(_) => None,
    };
    let mut out: Vec<Vec<usize>> = Vec::new();
    for b in 0..bodies.len() {
        let Some(r) = radius(b) else { continue };
        let alike = |g: &&mut Vec<usize>| {
            let first = g[0];
            let s = radius(first).unwrap_or(0.0);
            holder[first] == holder[b] && r <= ONE_KIND * s && s <= ONE_KIND * r
        };
        match out.iter_mut().find(alike) {
            Some(g) => g.push(b),
            None => out.push(vec![b]),
        }
    }
    out.retain(|g| g.len() >= FEWEST);
    out
}

/// The loop that each hole or mark lies in.
fn holders(bodies: &[Body], taken: &[Taken]) -> Vec<Option<usize>> {
    // A mark as the smallest of circles.
    let dot = |at: Point| Loop {
        role: Role::Hole,
        path: Path::Circle(Circle {
            center: at,
            radius: 1e-3,
            counter_clockwise: false,
        }),
        deviation: None,
    };
    let mut loops: Vec<Loop> = taken.iter().map(|t| t.made.clone()).collect();
    let first = loops.len();
    loops.extend(bodies.iter().map(|b| dot(place(b))));
    let area = |i: &usize| loops[*i].path.area().abs();
    let all = parents(&loops);
    all.into_iter()
        .skip(first)
        .zip(bodies)
        .map(|(above, b)| {
            let above = above?.into_iter().filter(|i| *i < first);
            let own = match &b.shape {
                Form::Round { radius, .. } => 3.2 * radius * radius,
                _ => 0.0,
            };
            // A circle's centre lies in the circle itself, too.
            above
                .filter(|i| area(i) > own)
                .min_by(|a, b| area(a).total_cmp(&area(b)))
        })
        .collect()
}

/// Whether holes that form a pattern may well have one radius: none is further from their mean than its
/// own stations bear.
fn one_radius(bodies: &[Body], group: &[usize]) -> bool {
    let known = |&b: &usize| match &bodies[b].shape {
        Form::Round { radius, .. } => {
            let variance = bodies[b].normal.free_variance(&[0.0, 0.0, 1.0]);
            Some((*radius, bodies[b].factor * variance))
        }
        _ => None,
    };
    let Some(known) = group.iter().map(known).collect::<Option<Vec<_>>>() else {
        return false;
    };
    let (sum, weight) = known
        .iter()
        .fold((0.0, 0.0), |(s, w), (r, v)| (s + r / v, w + 1.0 / v));
    let off = |(r, v): &(f64, f64)| (r - sum / weight).abs() / v.sqrt();
    known.iter().all(|k| off(k) < UNLIKE)
}

/// Holes of one pattern have one radius unless one is further off than so many standard deviations.
const UNLIKE: f64 = 5.0;

/// The body with the error of its place added to what its stations say.
fn placed(b: &Body, error: f64) -> Option<Body> {
    let Form::Round { .. } = &b.shape else {
        return spot(place(b), error);
    };
    let variance = |g: [f64; 3]| b.factor * b.normal.free_variance(&g);
    let unit = |i: usize| core::array::from_fn::<f64, 3, _>(|k| f64::from(u8::from(k == i)));
    let mut c = [[0.0; 3]; 3];
    for (i, row) in c.iter_mut().enumerate() {
        for (j, covariance) in row.iter_mut().enumerate() {
            let (a, b) = (unit(i), unit(j));
            let both = variance(core::array::from_fn(|k| a[k] + b[k]));
            *covariance = 0.5 * (both - variance(a) - variance(b));
        }
    }
    c[0][0] += error * error;
    c[1][1] += error * error;
    let inverse = inverted(&c)?;
    Some(Body {
        normal: Normal::new(inverse.as_flattened().to_vec(), &[0.0; 3])?,
        factor: 1.0,
        ..b.clone()
    })
}

/// The inverse of a symmetric matrix by its cofactors.
fn inverted(c: &[[f64; 3]; 3]) -> Option<[[f64; 3]; 3]> {
    let cofactor = |i: usize, j: usize| {
        let at = |r: usize, s: usize| c[(i + r) % 3][(j + s) % 3];
        at(1, 1) * at(2, 2) - at(1, 2) * at(2, 1)
    };
    let whole: f64 = (0..3).map(|j| c[0][j] * cofactor(0, j)).sum();
    let fine = whole.is_finite() && whole > 0.0;
    fine.then(|| core::array::from_fn(|i| core::array::from_fn(|j| cofactor(j, i) / whole)))
}

impl Group {
    /// What the pattern asks of the holes.
    pub fn conditions(&self) -> Vec<Condition> {
        let kind = match self.pattern.kind {
            PatternKind::Row => RelationKind::HoleRow,
            PatternKind::Rectangle => RelationKind::HoleRectangle,
            PatternKind::Square | PatternKind::Circle => RelationKind::HoleCircle,
            PatternKind::Single | PatternKind::Free => return Vec::new(),
        };
        let placed = Condition::new(kind, &self.sides, of_centers(kind, &self.sides));
        let pairs = self
            .sides
            .windows(2)
            .map(|w| Constraint::difference(Quantity::Radius(w[1]), Quantity::Radius(w[0]), 0.0));
        let alike = Condition::new(RelationKind::EqualRadius, &self.sides, pairs.collect());
        [placed]
            .into_iter()
            .chain(self.alike.then_some(alike))
            .collect()
    }

    /// The pattern as other things may be told by it.
    pub fn as_asked(&self, bodies: &[Body]) -> HolePattern {
        let member = |s: &Side| -> Member { (s.body, Some(s.edge)) };
        HolePattern {
            of: self.sides.iter().map(member).collect(),
            places: (self.sides.iter())
                .map(|s| (Place::Center(*s), place(&bodies[s.body])))
                .collect(),
            is_straight: matches!(
                self.pattern.kind,
                PatternKind::Row | PatternKind::Rectangle | PatternKind::Square
            ),
            is_round: self.pattern.kind != PatternKind::Row,
        }
    }

    /// The distances that make it: of neighbours, and of a rectangle both.
    pub fn spans(&self) -> Vec<Span> {
        let span = |a: usize, b: usize| Span {
            from: self.sides[a],
            to: self.sides[b],
            fixed: false,
        };
        match self.pattern.kind {
            PatternKind::Rectangle => vec![span(0, 1), span(1, 2)],
            _ => vec![span(0, 1)],
        }
    }

    pub fn note(&self) -> Note {
        Note::at(self.pattern.sentence(), self.pattern.center)
    }
}

/// What a pattern of this kind asks of the centres of holes, which are in its order.
pub(in super::super) fn of_centers(kind: RelationKind, sides: &[Side]) -> Vec<Constraint> {
    let n = sides.len();
    let holes = Centers { sides };
    match kind {
        RelationKind::HoleRow => (1..n.saturating_sub(1))
            .flat_map(|k| holes.sums(&[(k - 1, 1.0), (k, -2.0), (k + 1, 1.0)]))
            .collect(),
        RelationKind::HoleRectangle if n == 4 => {
            let mut out = holes
                .sums(&[(0, 1.0), (1, -1.0), (2, 1.0), (3, -1.0)])
                .to_vec();
            let way = |a, b| Quantity::Heading(holes.center(a), holes.center(b));
            out.push(Constraint::difference(way(1, 2), way(0, 1), FRAC_PI_2));
            out
        }
        RelationKind::HoleCircle => (2..n).flat_map(|wave| holes.wave(wave)).collect(),
        _ => Vec::new(),
    }
}

/// The centres of holes in a pattern's order.
struct Centers<'a> {
    sides: &'a [Side],
}

impl Centers<'_> {
    /// Weighted sums of the centres, x and y, that are nothing.
    fn sums(&self, weights: &[(usize, f64)]) -> [Constraint; 2] {
        [Axis::X, Axis::Y].map(|axis| {
            let term = |&(k, w): &(usize, f64)| (w, Quantity::At(self.center(k), axis));
            Constraint::none(weights.iter().map(term).collect())
        })
    }

    /// One wave of the centres' discrete Fourier transform, its real and its imaginary part.
    fn wave(&self, wave: usize) -> [Constraint; 2] {
        let n = self.sides.len();
        let (mut real, mut imaginary) = (Vec::new(), Vec::new());
        for k in 0..n {
            let angle = TAU * ((wave * k) % n) as f64 / n as f64;
            let (s, c) = libm::sincos(angle);
            let [x, y] = [Axis::X, Axis::Y].map(|axis| Quantity::At(self.center(k), axis));
            real.extend([(c, x), (s, y)]);
            imaginary.extend([(-s, x), (c, y)]);
        }
        [real, imaginary].map(Constraint::none)
    }

    fn center(&self, k: usize) -> Place {
        Place::Center(self.sides[k])
    }
}

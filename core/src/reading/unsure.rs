//! Which sizes are hardly known, and matter.
//!
//! A length is as unsure as the corners at its ends. Where two edges hardly turn into one another nobody can tell
//! where one ends and the other begins, and nobody has to: the outline lies where it lies. So a length is doubted
//! only where a corner of it may lie off to the side, seen along either edge that meets there, or where the outline
//! turns back there. Nor is the short edge that clips a corner by less than readings may lie apart: that corner is as
//! near, clipped, rounded or sharp.

use super::Reading;
use super::describe::SPREAD_95;
use crate::fit::partition::{BACK, Kind};
use crate::geom::Vec2;
use crate::relate::constraint::Constraint;
use crate::relate::figure::Figure;
use crate::relate::quantity::{Axis, Place, Quantity, Side};
use crate::report::{About, Doubt, Size, SizeKind};
use core::f64::consts::FRAC_PI_2;

/// A size is hardly known where its ± is this part of it, and more than a hand leaves of the end of a slit, mm.
const HARDLY: f64 = 0.2;
const LEAST: f64 = 1.5;
/// Edges run into one another where they turn by less than this, radians.
const RUNS_ON: f64 = 0.15;

/// The ± of numbers of a reading.
pub(super) struct Spread<'a> {
    /// The reading.
    pub best: &'a Reading,
    /// What its slow error multiplies variances by.
    pub factor: f64,
    /// The variance of a number, where other loops say more of it.
    pub known: &'a dyn Fn(&[f64]) -> Option<f64>,
}

impl Spread<'_> {
    /// The ± of a number with this gradient, as unsure as its loop and the loops that it is tied to leave it.
    pub fn of(&self, gradient: &[f64]) -> f64 {
        let Some(s) = self.best.chain() else {
            return 0.0;
        };
        let own = || s.normal.predict(gradient).0;
        let variance = (self.known)(gradient).unwrap_or_else(own);
        SPREAD_95 * (self.factor * variance.max(0.0)).sqrt()
    }
}

/// What is doubtful of the sizes of the reading of a `spread`, whose edges are numbered by `number`: those that are
/// hardly known and change the outline. Readings lie no further apart than `apart`, mm. An edge that runs into its
/// neighbours at both ends is a piece of a curve; where it ends there nobody measures.
pub(super) fn of_sizes(
    sizes: &[Size],
    number: impl Fn(usize) -> usize,
    spread: &Spread<'_>,
    apart: f64,
) -> Vec<Doubt> {
    let Some(s) = spread.best.chain() else {
        return Vec::new();
    };
    let f = &s.figure;
    let m = f.len();
    let runs_on = |e: usize| f.joins(e) && f.turn_after(e).abs() < RUNS_ON;
    let harmless = |e: &usize| {
        let within = runs_on(*e) && runs_on((e + m - 1) % m);
        within || clips(f, *e, apart) || aside(f, *e, spread, apart) < LEAST
    };
    let harmless: Vec<usize> = (0..m).filter(harmless).map(&number).collect();
    let hardly = |s: &&Size| {
        let bound = LEAST.max(HARDLY * s.value.abs());
        let passed = matches!(s.edges.as_slice(), [e] if harmless.contains(e));
        s.kind == SizeKind::Length && !s.fixed && !passed && s.plus_minus > bound
    };
    let doubts = sizes.iter().filter(hardly).map(|s| {
        let text = format!(
            "this edge is {:.1} mm ± {:.1} mm long, hardly known: measure it and say its size, or take it on where the outline lies on the line",
            s.value, s.plus_minus
        );
        Doubt::at(About::Reading, text, s.at)
    });
    doubts.collect()
}

/// The ± of the corners at the ends of an edge across the edges that meet there, the larger, mm. How a short edge
/// that clips a corner runs is no matter.
fn aside(f: &Figure, e: usize, spread: &Spread<'_>, apart: f64) -> f64 {
    let m = f.len();
    let (before, after) = ((e + m - 1) % m, (e + 1) % m);
    let at = |corner: usize, direction: f64| {
        let across = Vec2::from_angle(direction).left();
        let place = |axis| Quantity::At(Place::Corner(Side::new(0, corner)), axis);
        let terms = vec![(across.x, place(Axis::X)), (across.y, place(Axis::Y))];
        let linear = Constraint::none(terms).linear(f);
        linear.map_or(0.0, |l| spread.of(&l.gradient))
    };
    let (from, to) = (e, f.end_corner(e));
    let mut all = vec![at(from, f.start_direction(e)), at(to, f.end_direction(e))];
    if f.joins(before) && !clips(f, before, apart) {
        all.push(at(from, f.end_direction(before)));
    }
    if f.joins(e) && !clips(f, after, apart) {
        all.push(at(to, f.start_direction(after)));
    }
    // Where the outline turns back, as at the end of a slit, it lies elsewhere when the corner slides along it.
    for (corner, joint) in [(from, before), (to, e)] {
        if f.joins(joint) && f.turn_after(joint).abs() > BACK {
            all.push(at(corner, f.end_direction(joint) + FRAC_PI_2));
        }
    }
    all.into_iter().fold(0.0, f64::max)
}

/// A straight edge clips the corner of two straight ones by less than this, mm.
fn clips(f: &Figure, e: usize, by: f64) -> bool {
    clips_by(f, e).is_some_and(|d| d < by)
}

/// How far a straight edge that clips the corner of two straight ones lies from that corner, mm.
fn clips_by(f: &Figure, e: usize) -> Option<f64> {
    let m = f.len();
    let (before, after) = ((e + m - 1) % m, (e + 1) % m);
    let straight = |e: usize| f.kinds.get(e) == Some(&Kind::Line);
    let joined = m > 3 && f.joins(before) && f.joins(e);
    if !(joined && [before, e, after].into_iter().all(straight)) {
        return None;
    }
    let (a, b) = (f.turn_after(before), f.turn_after(e));
    let whole = libm::sin(libm::fabs(a + b));
    let convex = a * b > 0.0 && libm::fabs(a + b) < core::f64::consts::PI && whole > 0.0;
    convex.then(|| f.chord(e) * libm::fabs(libm::sin(a) * libm::sin(b)) / whole)
}

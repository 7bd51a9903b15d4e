//! One loop against its stations: the joint solve of all its edges under all its conditions.
//!
//! **Problem.** Given stations, a figure to start from and conditions that must hold exactly, find
//! the figure nearest to the stations in the sense of the wander ([`super::equations`] says what the stations
//! want, [`super::descent`] goes there). No edge is fitted alone and bent afterwards. On the way each joint is cut
//! again where the sum of squares of the two neighbouring edges is least, and a solve is given up when an edge has
//! run far away from the stations it stands for: two edges that hardly turn meet anywhere.
//!
//! **Fails** where the start is far off (an edge assigned to the wrong stretch stays there): the
//! caller starts from a partition. An arc flatter than the wander keeps its weak prior's bulge.
#![allow(
    clippy::indexing_slicing,
    reason = "every edge, corner and free number has its place in tables made for the figure at hand"
)]

use super::blocks::{EdgeResiduals, Noise};
use super::conditioned::Conditioned;
use super::constraint::{Condition, constraints};
pub use super::descent::Care;
use super::descent::{Constraints, Evidence};
use super::equations::{Problem, State, System, Weighing, stretch};
use super::figure::Figure;
use super::normal::{Added, Normal};
use super::start::start_figure;
use crate::fit::partition::{Kind, Partition};
use crate::geom::Point;
use crate::trace::Stations;

/// A solved figure with what is known of it.
#[derive(Clone, Debug)]
pub struct Solved {
    /// The figure.
    pub figure: Figure,
    /// First station of each edge.
    pub starts: Vec<usize>,
    /// Residuals of each edge, block by block, for the evidence of slow errors.
    pub residuals: Vec<EdgeResiduals>,
    /// Mean square distance of the stations from the figure, mm² (corner rounding taken off).
    pub mean_square: f64,
    /// Width of the smoothing that rounded the corners, mm.
    pub corner_width: f64,
    /// Normal equations at the solution, conditioned.
    pub normal: Normal,
    /// The same without the conditions.
    pub free: Normal,
    /// The conditions do not contradict one another.
    pub consistent: bool,
    /// Largest condition left unmet (radians or mm).
    pub residual: f64,
}

impl Solved {
    /// Where its edges start and what they are.
    #[must_use]
    pub fn partition(&self) -> Partition {
        Partition {
            starts: self.starts.clone(),
            kinds: self.figure.kinds.clone(),
        }
    }
}

/// How far a joint may move at one re-cut, in units.
const RECUT_REACH: f64 = 12.0;
/// No corner moves by more than this part of the drawing at once, no bulge by more than that.
const LONGEST_STEP: f64 = 0.15;
const LARGEST_BULGE: f64 = 0.4;
/// An edge shorter than this is none, and an arc that bows by less, in units.
const SPECK: f64 = 0.05;
const FLATTEST: f64 = 2e-3;
/// The bulges of arcs that turn by 1e-4 radians (0.006°), and by all but 1e-3 of a whole turn: the one has its
/// centre so far away, the other its ends so near, that rounding moves it by more than a written digit.
const BULGES: core::ops::Range<f64> = 2.5e-5..4e3;
/// A figure that has run away so far is given up.
const RUN_AWAY: f64 = 1.5;

/// Solves `figure` against the stations under `conditions`. `None` where the equations break down, an edge
/// shrinks to nothing, or one runs away from its stations though no size or place is held that might ask for it.
///
/// Where a corner comes out at another meeting of its edges than the one that was traced, it is solved once more
/// from edges that meet there.
#[must_use]
pub fn solve(
    problem: &Problem,
    figure: Figure,
    starts: Vec<usize>,
    conditions: &[Condition],
    care: Care,
) -> Option<Solved> {
    let (stations, noise) = (problem.stations, &problem.noise);
    let solved = once(problem, figure, starts, conditions, care)?;
    if !strayed(&solved.figure, &solved.starts, stations, noise) {
        return Some(solved);
    }
    let figure = start_figure(stations, &solved.partition())?;
    once(problem, figure, solved.starts, conditions, care)
}

/// A figure where it stands, though its stations would have it elsewhere, with what they say of it there.
#[must_use]
pub fn standing(
    problem: &Problem,
    figure: Figure,
    starts: Vec<usize>,
    corner_width: f64,
    conditions: &[Condition],
) -> Option<Solved> {
    let state = State {
        figure,
        starts,
        corner_width,
    };
    let mut solved = Traced { problem, state }.finish(conditions)?;
    // It rests here: whoever moves it on from here is not to be told where the stations would have it.
    let (h, g) = solved.free.equations();
    solved.free = Normal::new(h, &vec![0.0; g.len()])?;
    Some(solved)
}

/// As [`solve`], wherever it comes out.
fn once(
    problem: &Problem,
    figure: Figure,
    starts: Vec<usize>,
    conditions: &[Condition],
    care: Care,
) -> Option<Solved> {
    let corner_width = problem.widths().map_or(0.0, |_| 0.6 * problem.rounding());
    let state = State {
        figure,
        starts,
        corner_width,
    };
    let mut traced = Traced { problem, state };
    let all: Vec<_> = constraints(conditions).collect();
    let held = Constraints {
        firm: all.len(),
        all,
        said: conditions.iter().any(Condition::is_said),
    };
    held.solve(&mut traced, care)?;
    traced.finish(conditions)
}

/// Every edge is about as long as the stretch of stations it stands for. (An edge may fit its
/// stations well and run on beyond them, over its neighbour.) `loose` widens the bounds.
#[must_use]
pub fn covers(
    figure: &Figure,
    starts: &[usize],
    stations: &Stations,
    noise: &Noise,
    loose: f64,
) -> bool {
    (0..figure.len()).all(|e| {
        let traced = traced(starts, e, stations);
        let length = figure.edge_length(e);
        (length - traced).abs() <= loose * slack(length, traced, noise)
    })
}

/// How far apart a length may be from what was traced of it, mm.
#[must_use]
pub fn slack(length: f64, traced: f64, noise: &Noise) -> f64 {
    room(noise, LENGTH_SHARE * traced.max(length))
}

/// How much of the trace an edge stands for, mm.
fn traced(starts: &[usize], e: usize, stations: &Stations) -> f64 {
    let (from, to) = stretch(starts, e, stations.len());
    (to - from) as f64 * stations.step
}

/// What a hand that rounds corners and wanders may be off besides some `share` of a length, mm.
fn room(noise: &Noise, share: f64) -> f64 {
    LENGTH_SLACK * noise.unit + 4.0 * noise.size + share
}

/// A corner lies where its two edges meet a second time, though the stations pass from one to the other where they
/// meet first: a line and a circle, or two circles, come as near to the stations from either.
fn strayed(figure: &Figure, starts: &[usize], stations: &Stations, noise: &Noise) -> bool {
    let (m, n) = (figure.len(), stations.len());
    let first = usize::from(!figure.closed);
    let plainly = STRAYED * (noise.unit + noise.size);
    (first..m).any(|e| {
        let joint = stations.points[starts[e] % n];
        let other = other_meeting(figure, (e + m - 1) % m, e);
        other.is_some_and(|p| p.distance(joint) + plainly < figure.corners[e].distance(joint))
    })
}

/// Where edge `e` and the one before it meet besides at their corner: its mirror image about the line through
/// the middles of both circles, or through that of the circle square to the line. Nothing for two lines.
fn other_meeting(figure: &Figure, before: usize, e: usize) -> Option<Point> {
    let (a, b) = (figure.center(before), figure.center(e));
    let (middle, axis) = match (a, b) {
        (Some(a), Some(b)) => (a, (b - a).unit()?),
        (Some(a), None) => (a, figure.view(e)?.left()),
        (None, Some(b)) => (b, figure.view(before)?.left()),
        (None, None) => return None,
    };
    let across = axis.left();
    let corner = figure.corners[e];
    Some(corner - across * (2.0 * (corner - middle).dot(across)))
}

/// By how much nearer to its joint another meeting must be, against a unit and the wander together.
const STRAYED: f64 = 4.0;

/// How much an edge may be longer or shorter than its stretch of stations: in units, and as a share.
const LENGTH_SLACK: f64 = 8.0;
const LENGTH_SHARE: f64 = 0.4;

/// Every edge is one: none has shrunk to nothing, and no arc is as good as straight or all round (from ends
/// that are one place nobody can tell where its centre lies).
#[must_use]
pub fn is_whole(figure: &Figure, unit: f64) -> bool {
    lost(figure, unit).is_none()
}

/// The first edge that is none any more.
#[must_use]
pub fn lost(figure: &Figure, unit: f64) -> Option<usize> {
    let bowed = |e: usize| match figure.kinds[e] {
        Kind::Line => true,
        Kind::Arc => {
            figure.sagitta(e) > FLATTEST * unit && BULGES.contains(&figure.bulges[e].abs())
        }
    };
    let there = |e: usize| {
        let [from, to] = [e, figure.end_corner(e)].map(|c| figure.corners[c].is_finite());
        from && to && figure.chord(e) > SPECK * unit && bowed(e)
    };
    (0..figure.len()).find(|e| !there(*e))
}

/// A figure and the stations it was traced by.
struct Traced<'a> {
    problem: &'a Problem<'a>,
    state: State,
}

impl Evidence for Traced<'_> {
    type Bodies = Figure;
    type State = State;

    fn bodies(&self) -> &Figure {
        &self.state.figure
    }

    fn state(&self) -> State {
        self.state.clone()
    }

    fn set(&mut self, state: State) {
        self.state = state;
    }

    fn equations(&self, weighing: Weighing) -> Option<System> {
        self.problem.system(&self.state, weighing, None)
    }

    fn unit(&self) -> f64 {
        self.problem.noise.unit
    }

    fn uncut(&mut self, before: &State) {
        self.state.starts.clone_from(&before.starts);
    }

    /// A corner width that would leave its bounds is held to them.
    fn bounded(&self, equations: &mut Conditioned) -> Vec<f64> {
        let step = equations.step();
        let (Some((low, top)), Some(more)) = (self.problem.widths(), step.last()) else {
            return step;
        };
        let width = self.state.corner_width + more;
        if (low..=top).contains(&width) {
            return step;
        }
        let mut of_width = vec![0.0; step.len()];
        if let Some(last) = of_width.last_mut() {
            *last = 1.0;
        }
        let bound = width.clamp(low, top) - self.state.corner_width;
        equations.add(0.0, &of_width, bound);
        equations.step()
    }

    fn is_lost(&self) -> bool {
        let (s, p) = (&self.state, self.problem);
        !s.figure.corners.iter().all(|c| c.is_finite())
            || !covers(&s.figure, &s.starts, p.stations, &p.noise, RUN_AWAY)
    }

    fn apply(&mut self, step: &[f64]) -> f64 {
        let corners = 2 * self.state.figure.corners.len();
        let most = step[..corners].iter().fold(0.0_f64, |a, s| a.max(s.abs()));
        let bulge = step[corners..step.len() - 1]
            .iter()
            .fold(0.0_f64, |a, s| a.max(s.abs()));
        let reach = LONGEST_STEP * self.problem.extent();
        let k = (reach / most.max(1e-300))
            .min(LARGEST_BULGE / bulge.max(1e-300))
            .min(1.0);
        let taken: Vec<f64> = step.iter().map(|s| s * k).collect();
        self.state.figure.shift(&taken);
        if let Some((low, top)) = self.problem.widths() {
            let width = self.state.corner_width + taken.last().copied().unwrap_or(0.0);
            self.state.corner_width = width.clamp(low, top);
        }
        most * k
    }

    /// Cuts every joint again where the two neighbouring edges together fit best.
    fn recut(&mut self) -> bool {
        let stations = self.problem.stations;
        let State { figure, starts, .. } = &mut self.state;
        let n = stations.len();
        let m = figure.len();
        let reach = RECUT_REACH * self.problem.noise.unit / stations.step;
        let reach = (libm::round(reach) as usize).max(1);
        let mut changed = false;
        let joints = if figure.closed { 0..m } else { 1..m };
        if m < 2 {
            return false;
        }
        for e in joints {
            let before = (e + m - 1) % m;
            let (Some(prev), Some(next)) = (figure.view(before), figure.view(e)) else {
                continue;
            };
            let at = starts[e];
            let (p_from, p_to) = stretch(starts, before, n);
            let (from, to) = stretch(starts, e, n);
            let back = reach.min((p_to - p_from) / 2);
            let ahead = reach.min((to - from) / 2);
            // From `at - back` to `at + ahead`.
            let mut i = if at >= back { at - back } else { at + n - back };
            let mut sum = 0.0;
            let (mut best, mut best_sum) = (i, 0.0);
            for _ in 0..back + ahead {
                let point = stations.points[i];
                let (a, b) = (prev.distance(point), next.distance(point));
                sum += stations.weights[i] * (a * a - b * b);
                i = if i + 1 < n { i + 1 } else { 0 };
                if sum < best_sum {
                    (best, best_sum) = (i, sum);
                }
            }
            if best != at {
                starts[e] = best;
                changed = true;
            }
        }
        changed
    }
}

impl Traced<'_> {
    fn finish(self, conditions: &[Condition]) -> Option<Solved> {
        let figure = &self.state.figure;
        if !is_whole(figure, self.problem.noise.unit) {
            return None;
        }
        let mut residuals = Vec::with_capacity(figure.len());
        let system = self
            .problem
            .system(&self.state, Weighing::Known, Some(&mut residuals))?;
        let free = system.normal()?;
        let mut normal = free.clone();
        let mut consistent = true;
        let mut residual = 0.0_f64;
        for c in constraints(conditions) {
            let linear = c.linear(figure)?;
            let slack = if c.is_angle() {
                1e-7
            } else {
                1e-6 * self.problem.extent()
            };
            if let Added::Against(_) = normal.condition(&linear.gradient, -linear.value, slack) {
                consistent = false;
            }
            residual = residual.max(linear.value.abs());
        }
        Some(Solved {
            residuals,
            mean_square: system.mean_square,
            corner_width: self.state.corner_width,
            normal,
            free,
            consistent,
            residual,
            figure: self.state.figure,
            starts: self.state.starts,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outline::Path;

    /// A keyhole whose side runs on through its round end, to where it meets the circle again.
    #[test]
    fn a_side_that_runs_through_a_circle_has_strayed() {
        let (half, far) = (8.0, libm::sqrt(20.0 * 20.0 - 8.0 * 8.0));
        let keyhole = |side: f64| {
            let (a, b) = (Point::new(side, half), Point::new(-far, -half));
            let turn = libm::atan2(b.y, b.x) - libm::atan2(a.y, a.x);
            let turn = if turn > 0.0 {
                turn - core::f64::consts::TAU
            } else {
                turn
            };
            Figure {
                corners: vec![b, Point::new(-60.0, -half), Point::new(-60.0, half), a],
                bulges: vec![0.0, 0.0, 0.0, libm::tan(0.25 * turn)],
                kinds: vec![Kind::Line, Kind::Line, Kind::Line, Kind::Arc],
                closed: true,
            }
        };
        let meant = Path::Chain(keyhole(-far).to_chain());
        let stations = Stations::along(&meant.flatten(1e-3), true, &[], 1.0, 1.0);
        let nearest = |p: &Point| {
            let far = |i: &usize| stations.points[*i].distance(*p);
            (0..stations.len()).min_by(|i, j| far(i).total_cmp(&far(j)))
        };
        let starts: Vec<usize> = keyhole(-far).corners.iter().filter_map(nearest).collect();
        let noise = Noise {
            size: 0.2,
            correlation: 3.0,
            ..Noise::default()
        };
        assert!(!strayed(&keyhole(-far), &starts, &stations, &noise));
        assert!(strayed(&keyhole(far), &starts, &stations, &noise));
    }

    /// Finds of the fuzzer and the soak: an arc all round from ends 0.6 mm apart on a radius of 10 m, one 100 m
    /// long that bows by nothing, and one whose ends are one place.
    #[test]
    fn arcs_whose_centre_nobody_can_tell_are_none() {
        let arc = |chord: f64, sweep: f64| Figure {
            corners: vec![Point::new(0.0, 0.0), Point::new(chord, 0.0)],
            bulges: vec![libm::tan(0.25 * sweep)],
            kinds: vec![Kind::Arc],
            closed: false,
        };
        let turn = core::f64::consts::TAU;
        for (chord, sweep) in [(0.6, turn - 6e-5), (1e5, 4e-9), (5e-4, turn - 9e-6)] {
            assert!(!is_whole(&arc(chord, sweep), 1.0), "{chord} {sweep}");
        }
        for (chord, sweep) in [(3.0, turn - 6e-3), (200.0, 0.01), (40.0, 1.0)] {
            assert!(is_whole(&arc(chord, sweep), 1.0), "{chord} {sweep}");
        }
    }
}

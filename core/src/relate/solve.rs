//! The joint solve: all edges of a figure and all its conditions at once, against the stations.
//!
//! **Problem.** Given stations, a figure to start from and conditions that must hold exactly, find
//! the figure nearest to the stations in the sense of the wander: an equality-constrained least
//! squares problem ([`super::equations`] says what the stations want). No edge is fitted alone and
//! bent afterwards.
//!
//! **Steps** of each iteration (Gauss–Newton with linearised conditions, damped after Levenberg and
//! Marquardt; Nocedal and Wright, ch. 10 and 18):
//! 1. The step is taken under the conditions, then joints are cut again where the sum of squares of
//!    the two neighbouring edges is least.
//! 2. It is kept when the *merit* falls: the cost, and how far the conditions are from being met,
//!    whitened, weighed a little more than their multipliers (the exact penalty of ch. 15). Else it is
//!    tried without cutting joints again, and else taken back and damped more.
//! 3. A candidate ends when the next step promises half a nat, and any solve when an edge has run
//!    far away from the stations it stands for: two edges that hardly turn meet anywhere.
//!
//! **Fails** where the start is far off (an edge assigned to the wrong stretch stays there): the
//! caller starts from a partition. An arc flatter than the wander keeps its weak prior's bulge.
#![allow(
    clippy::indexing_slicing,
    reason = "every edge, corner and free number has its place in tables made for the figure at hand"
)]

use super::blocks::{EdgeResiduals, Noise};
use super::condition::Condition;
use super::conditioned::Conditioned;
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

/// How far a solve goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Care {
    /// Most iterations.
    pub iterations: usize,
    /// Done when no corner moves by more than this, in units.
    pub still: f64,
    /// Done when the next step promises less than this, nats.
    pub gain: f64,
    /// Damping of the first step.
    pub damping: f64,
    /// Last steps on the conditions alone.
    pub polish: usize,
    /// What blocks weigh, and how many there are.
    pub weighing: Weighing,
}

impl Care {
    /// Good enough to be compared: a candidate.
    pub const CANDIDATE: Self = Self {
        iterations: 12,
        still: 5e-3,
        gain: 0.5,
        damping: 1e-2,
        polish: 0,
        weighing: Weighing::Coarse,
    };
    /// On the way to the last digits: conditions are met, the rest will be solved again.
    pub const NEARLY: Self = Self {
        iterations: 6,
        gain: 1e-3,
        ..Self::FINAL
    };
    /// To the last digits: what leaves the tool.
    pub const FINAL: Self = Self {
        iterations: 30,
        still: 1e-7,
        gain: 1e-9,
        damping: 1e-6,
        polish: 5,
        weighing: Weighing::Descent,
    };
}

/// Iterations after which joints stay where they are cut.
const RECUTS: usize = 6;
/// How far a joint may move at one re-cut, in units.
const RECUT_REACH: f64 = 12.0;
/// A condition of which less than this part is new counts as implied while the figure is on its way: away
/// from the solution what follows from the others does so only nearly.
const NEARLY_IMPLIED: f64 = 0.03;
/// The same at the last, close to the solution.
const IMPLIED: f64 = 3e-3;
/// How much more than their multipliers unmet conditions weigh.
const PENALTY: f64 = 1.5;
/// By how much damping grows where a step is taken back, each time twice as much more; the least it is
/// then, and where there is nothing more to be had.
const STIFFENING: f64 = 4.0;
const REFUSED_FIRST: f64 = 1e-3;
const STIFFEST: f64 = 1e6;
/// No corner moves by more than this part of the drawing at once, no bulge by more than that.
const LONGEST_STEP: f64 = 0.15;
const LARGEST_BULGE: f64 = 0.4;
/// An edge shorter than this is none, and an arc that bows by less, in units.
const SPECK: f64 = 0.05;
const FLATTEST: f64 = 2e-3;
/// The bulges of arcs that turn by 1e-4 radians (0.006°), and by all but 1e-3 of a whole turn: the one has its
/// centre so far away, the other its ends so near, that rounding moves it by more than a written digit.
const BULGES: core::ops::Range<f64> = 2.5e-5..4e3;
/// Iterations after which a figure is given up that has run away, and how far.
const PATIENCE: usize = 2;
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
    let (stations, noise) = (problem.stations, problem.noise);
    let solved = once(problem, figure, starts, conditions, care)?;
    if !strayed(&solved.figure, &solved.starts, stations, noise) {
        return Some(solved);
    }
    let figure = start_figure(stations, &solved.partition())?;
    once(problem, figure, solved.starts, conditions, care)
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
    let mut work = Work { problem, state };
    work.descend(conditions, care)?;
    if !conditions.is_empty() {
        work.polish(conditions, care.polish)?;
    }
    work.finish(conditions)
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
    let bowed = |e: usize| match figure.kinds[e] {
        Kind::Line => true,
        Kind::Arc => {
            figure.sagitta(e) > FLATTEST * unit && BULGES.contains(&figure.bulges[e].abs())
        }
    };
    figure.corners.iter().all(|p| p.is_finite())
        && (0..figure.len()).all(|e| figure.chord(e) > SPECK * unit && bowed(e))
}

/// By how much damping changes after a step that did `part` of what it promised (Madsen, Nielsen and
/// Tingleff 2004).
fn eased(part: f64) -> f64 {
    let k = 2.0 * part - 1.0;
    (1.0 - k * k * k).clamp(EASED_MOST, 2.0)
}

/// Damping falls by no more than this at once.
const EASED_MOST: f64 = 0.15;

/// Iterations of so many conditions on so many numbers: each costs their product with the conditions.
fn affordable(iterations: usize, conditions: usize, numbers: usize) -> usize {
    let each = conditions
        .saturating_mul(conditions)
        .saturating_mul(numbers);
    iterations.min((BUDGET / each.max(1)).max(FEWEST))
}

/// Products and sums that the conditions of one solve may take, and the fewest iterations nevertheless.
const BUDGET: usize = 500_000_000;
const FEWEST: usize = 3;

struct Work<'a> {
    problem: &'a Problem<'a>,
    state: State,
}

/// Equations held to conditions, and those of the conditions that count.
struct Held {
    equations: Conditioned,
    new: Vec<Condition>,
    /// How far they are from being met, whitened.
    off: f64,
}

impl Work<'_> {
    /// Goes downhill until there is nothing to be had. `None` where the figure breaks down.
    fn descend(&mut self, conditions: &[Condition], care: Care) -> Option<()> {
        let unit = self.problem.noise.unit;
        let mut here = self.problem.system(&self.state, care.weighing, None)?;
        let mut damping = care.damping;
        let mut penalty = 0.0_f64;
        let mut stiffening = STIFFENING;
        let iterations = affordable(care.iterations, conditions.len(), here.len());
        // What a person said may ask for an edge far longer or shorter than was traced.
        let gives_up = !conditions.iter().any(Condition::is_said);
        for round in 0..iterations {
            let normal = here.damped(damping, self.state.figure.corners.len())?;
            let mut held = self.hold(normal, conditions)?;
            let step = self.bounded_step(&mut held.equations);
            penalty = penalty.max(PENALTY * held.equations.pull());
            let promised = here.foreseen(&step) - penalty * held.off;
            let before = self.state.clone();
            let moved = self.apply(&step);
            let mut recut = round < RECUTS && self.recut();
            let mut there = self.better(&here, &held, penalty, care.weighing);
            if there.is_none() && recut {
                self.state.starts.clone_from(&before.starts);
                recut = false;
                there = self.better(&here, &held, penalty, care.weighing);
            }
            if let Some((system, change)) = there {
                here = system;
                damping *= eased(change / promised);
                stiffening = STIFFENING;
            } else {
                self.state = before;
                damping = (stiffening * damping).max(REFUSED_FIRST);
                stiffening *= 2.0;
                if damping > STIFFEST {
                    break;
                }
            }
            if gives_up && round >= PATIENCE && self.has_run_away() {
                return None;
            }
            if !recut && (moved < care.still * unit || -promised < care.gain) {
                break;
            }
        }
        Some(())
    }

    /// Holds the equations to the conditions at the present figure; contradictions are left out here
    /// and told by [`Work::finish`].
    fn hold(&self, normal: Normal, conditions: &[Condition]) -> Option<Held> {
        let mut equations = Conditioned::new(normal);
        let mut new = Vec::with_capacity(conditions.len());
        let mut values = Vec::with_capacity(conditions.len());
        for c in conditions {
            let linear = c.at(&self.state.figure, 1)?;
            if equations.add(NEARLY_IMPLIED, &linear.gradient, -linear.value) {
                new.push(*c);
                values.push(linear.value);
            }
        }
        let off = equations.distance(values.into_iter());
        Some(Held {
            equations,
            new,
            off,
        })
    }

    /// The step under the conditions; a corner width that would leave its bounds is held to them.
    fn bounded_step(&self, equations: &mut Conditioned) -> Vec<f64> {
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

    /// The equations at the present state and the change of merit, where it did not rise.
    fn better(
        &self,
        before: &System,
        held: &Held,
        penalty: f64,
        weighing: Weighing,
    ) -> Option<(System, f64)> {
        let there = self.problem.system(&self.state, weighing, None)?;
        let figure = &self.state.figure;
        let values: Option<Vec<f64>> = held.new.iter().map(|c| c.value(figure)).collect();
        let off = held.equations.distance(values?.into_iter());
        let change = there.cost - before.cost + penalty * (off - held.off);
        let rounding = 1e-9 * (1.0 + before.cost.abs());
        (change < rounding).then_some((there, change))
    }

    fn has_run_away(&self) -> bool {
        let (s, p) = (&self.state, self.problem);
        !s.figure.corners.iter().all(|c| c.is_finite())
            || !covers(&s.figure, &s.starts, p.stations, p.noise, RUN_AWAY)
    }

    /// Takes a step, shortened where it would throw corners about; returns the largest move, mm.
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

    /// Newton steps on the conditions alone, the least move each: what is square is square to the
    /// last digits.
    fn polish(&mut self, conditions: &[Condition], times: usize) -> Option<()> {
        let numbers = self.state.figure.parameters();
        for _ in 0..affordable(times, conditions.len(), numbers) {
            let system = self.problem.system(&self.state, Weighing::Known, None)?;
            let mut equations = Conditioned::new(system.normal()?);
            for c in conditions {
                let linear = c.at(&self.state.figure, 1)?;
                equations.add(IMPLIED, &linear.gradient, -linear.value);
            }
            let step = equations.correction();
            if self.apply(&step) == 0.0 {
                break;
            }
        }
        Some(())
    }

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
        for c in conditions {
            let linear = c.at(figure, 1)?;
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
            unit: 1.0,
            rounds_corners: true,
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

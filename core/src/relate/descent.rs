//! The one solver: bodies moved to where what is known of them fits best, under constraints that hold exactly.
//!
//! **Problem.** Equality-constrained least squares: some evidence (the stations of one loop, or what is settled of
//! several) says how dear it is that bodies stand where they do, to second order; constraints must hold.
//!
//! **Steps** of each iteration (Gauss–Newton with linearised constraints, damped after Levenberg and
//! Marquardt; Nocedal and Wright, ch. 10 and 18):
//! 1. The step is taken under the constraints; evidence of stations then cuts joints again.
//! 2. It is kept when the *merit* falls: the cost, and how far the constraints are from being met,
//!    whitened, weighed a little more than their multipliers (the exact penalty of ch. 15). Else it is
//!    tried without cutting joints again, and else taken back and damped more.
//! 3. It ends when the next step promises nothing worth having, or nothing moves any more.
//!
//! At the last come steps on the constraints alone: what is square is square to the last digits.
//!
//! **Fails** where the start is far off, and where constraints contradict one another: those that come later are
//! left unmet, and whoever asked looks which.

use super::conditioned::Conditioned;
use super::constraint::Constraint;
use super::equations::{System, Weighing};
use super::quantity::Bodies;

/// What says where bodies should stand.
pub(super) trait Evidence {
    type Bodies: Bodies;
    /// All that moves.
    type State: Clone;

    fn bodies(&self) -> &Self::Bodies;
    fn state(&self) -> Self::State;
    fn set(&mut self, state: Self::State);
    /// The equations where all stand now.
    fn equations(&self, weighing: Weighing) -> Option<System>;
    /// Takes a step, shortened where it would throw things about; returns the largest move, mm.
    fn apply(&mut self, step: &[f64]) -> f64;
    /// The length that moves are told against, mm.
    fn unit(&self) -> f64;
    /// Cuts joints again; tells whether any was.
    fn recut(&mut self) -> bool {
        false
    }
    /// Takes back the last such cut.
    fn uncut(&mut self, _before: &Self::State) {}
    /// The step, where it would leave bounds held to them.
    fn bounded(&self, equations: &mut Conditioned) -> Vec<f64> {
        equations.step()
    }
    /// There is no way back from here.
    fn is_lost(&self) -> bool {
        false
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
    /// Last steps on the constraints alone.
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
/// A constraint of which less than this part is new counts as implied while bodies are on their way: away
/// from the solution what follows from the others does so only nearly.
const NEARLY_IMPLIED: f64 = 0.03;
/// The same at the last, close to the solution.
const IMPLIED: f64 = 3e-3;
/// How much more than their multipliers unmet constraints weigh.
const PENALTY: f64 = 1.5;
/// By how much damping grows where a step is taken back, each time twice as much more; the least it is
/// then, and where there is nothing more to be had.
const STIFFENING: f64 = 4.0;
const REFUSED_FIRST: f64 = 1e-3;
const STIFFEST: f64 = 1e6;
/// Iterations after which what is lost is given up.
const PATIENCE: usize = 2;

/// What must hold. Of the constraints from `firm` on it is told how new they are against what those before leave
/// of them: ties between loops, each of which is nearly rigid.
pub(super) struct Constraints<'a> {
    pub all: Vec<&'a Constraint>,
    pub firm: usize,
    /// Some of them are sizes that a person said, which may ask for an edge far longer or shorter than was traced.
    pub said: bool,
}

/// Equations held to constraints, and those of them that count.
struct Held<'a> {
    equations: Conditioned,
    new: Vec<&'a Constraint>,
    /// How far they are from being met, whitened.
    off: f64,
}

impl<'a> Constraints<'a> {
    /// Moves what `evidence` speaks of to where it fits best. `None` where it breaks down.
    pub fn solve<E: Evidence>(&self, evidence: &mut E, care: Care) -> Option<()> {
        self.descend(evidence, care)?;
        if self.all.is_empty() {
            return Some(());
        }
        for _ in 0..self.affordable(care.polish, evidence.bodies().numbers()) {
            let normal = evidence.equations(Weighing::Known)?.normal()?;
            let step = self
                .held(evidence.bodies(), Conditioned::new(normal), IMPLIED)?
                .equations
                .correction();
            if evidence.apply(&step) == 0.0 {
                break;
            }
        }
        Some(())
    }

    /// Goes downhill until there is nothing to be had.
    fn descend<E: Evidence>(&self, evidence: &mut E, care: Care) -> Option<()> {
        let mut here = evidence.equations(care.weighing)?;
        let mut damping = care.damping;
        let mut penalty = 0.0_f64;
        let mut stiffening = STIFFENING;
        for round in 0..self.affordable(care.iterations, here.len()) {
            let normal = here.damped(damping)?;
            let mut held =
                self.held(evidence.bodies(), Conditioned::new(normal), NEARLY_IMPLIED)?;
            let step = evidence.bounded(&mut held.equations);
            penalty = penalty.max(PENALTY * held.equations.pull());
            let promised = here.foreseen(&step) - penalty * held.off;
            let before = evidence.state();
            let moved = evidence.apply(&step);
            let mut recut = round < RECUTS && evidence.recut();
            let mut there = better(evidence, &here, &held, penalty, care.weighing);
            if there.is_none() && recut {
                evidence.uncut(&before);
                recut = false;
                there = better(evidence, &here, &held, penalty, care.weighing);
            }
            if let Some((system, change)) = there {
                here = system;
                damping *= eased(change / promised);
                stiffening = STIFFENING;
            } else {
                evidence.set(before);
                damping = (stiffening * damping).max(REFUSED_FIRST);
                stiffening *= 2.0;
                if damping > STIFFEST {
                    break;
                }
            }
            if !self.said && round >= PATIENCE && evidence.is_lost() {
                return None;
            }
            if !recut && (moved < care.still * evidence.unit() || -promised < care.gain) {
                break;
            }
        }
        Some(())
    }

    /// Holds the equations to the constraints where the bodies stand now; contradictions are left out.
    fn held<B: Bodies>(
        &self,
        bodies: &B,
        mut equations: Conditioned,
        implied: f64,
    ) -> Option<Held<'a>> {
        let mut new = Vec::with_capacity(self.all.len());
        let mut values = Vec::with_capacity(self.all.len());
        let (firm, tied) = self.all.split_at(self.firm.min(self.all.len()));
        let mut add = |equations: &mut Conditioned, c, linear: &super::constraint::Linear, part| {
            if equations.add(part, &linear.gradient, -linear.value) {
                new.push(c);
                values.push(linear.value);
            }
        };
        for &c in firm {
            add(&mut equations, c, &c.linear(bodies)?, implied);
        }
        let left = |c: &&'a Constraint| {
            let linear = c.linear(bodies)?;
            let part = implied * equations.left(&linear.gradient).sqrt();
            Some((*c, linear, part))
        };
        let tied: Option<Vec<_>> = tied.iter().map(left).collect();
        for (c, linear, part) in tied? {
            add(&mut equations, c, &linear, part);
        }
        let off = equations.distance(values.into_iter());
        Some(Held {
            equations,
            new,
            off,
        })
    }

    /// Iterations of so many constraints on so many numbers: each costs their product with the constraints.
    fn affordable(&self, iterations: usize, numbers: usize) -> usize {
        let count = self.all.len();
        let each = count.saturating_mul(count).saturating_mul(numbers);
        iterations.min((BUDGET / each.max(1)).max(FEWEST))
    }
}

/// The equations where all stand now and the change of merit, where it did not rise.
fn better<E: Evidence>(
    evidence: &E,
    before: &System,
    held: &Held<'_>,
    penalty: f64,
    weighing: Weighing,
) -> Option<(System, f64)> {
    let there = evidence.equations(weighing)?;
    let values: Option<Vec<f64>> = held.new.iter().map(|c| c.off(evidence.bodies())).collect();
    let off = held.equations.distance(values?.into_iter());
    let change = there.cost - before.cost + penalty * (off - held.off);
    let rounding = 1e-9 * (1.0 + before.cost.abs());
    (change < rounding).then_some((there, change))
}

/// By how much damping changes after a step that did `part` of what it promised (Madsen, Nielsen and
/// Tingleff 2004).
fn eased(part: f64) -> f64 {
    let k = 2.0 * part - 1.0;
    (1.0 - k * k * k).clamp(EASED_MOST, 2.0)
}

/// Damping falls by no more than this at once.
const EASED_MOST: f64 = 0.15;

/// Products and sums that the constraints of one solve may take, and the fewest iterations nevertheless.
const BUDGET: usize = 500_000_000;
const FEWEST: usize = 3;

//! The least change: bodies moved so that what was asked holds, and everything else stays as it was read.
//!
//! **Problem.** A correction asks for a few sizes. The trace says nothing of them any more: a person does, and goes
//! before it. Solving against the stations again would let them pull at what nobody asked about: the part would turn,
//! grow a radius, or shrink another side.
//!
//! **How.** Every size, direction and place that was read becomes a *wish*: it costs as much to change it as
//! its ± says it is sure. What was asked and every relation that was found are conditions that hold exactly. The
//! sum of squares of broken wishes is made least by Gauss–Newton steps under the linearised conditions (Nocedal and
//! Wright 2006, ch. 18); wishes are measured anew at every step, so a large correction is no worse than a small one.
//! A condition that others imply already is left out of a step; it shows at the end whether it holds.
//!
//! **Fails** where conditions contradict one another; whoever asked leaves some out and asks again.
#![allow(
    clippy::indexing_slicing,
    reason = "the gradient of every wish has a place for each number of the bodies"
)]

use super::across::{Form, Joint};
use super::conditioned::Conditioned;
use super::constraint::{Condition, Constraint, constraints};
use super::normal::Normal;
use super::quantity::Bodies;

/// Something that should stay as it is.
#[derive(Clone, Debug)]
pub(crate) struct Wish {
    /// What, held at the value it had.
    pub constraint: Constraint,
    /// A change of so much costs half a nat: mm or radians.
    pub deviation: f64,
}

/// What keeps every number where it is when no wish speaks of it.
const HELD_LIGHTLY: f64 = 1e-6;
/// No place moves by more than this part of the drawing at once, no bulge by more than that.
const LONGEST_STEP: f64 = 0.2;
const LARGEST_BULGE: f64 = 0.3;
/// Steps at most; of the first so many, conditions nearly implied by others are left out.
const STEPS: usize = 40;
const CAUTIOUS: usize = 10;
/// Less than this part of a condition must be new.
const NEARLY_IMPLIED: f64 = 1e-3;
const IMPLIED: f64 = 1e-5;
/// Nothing moves by more than this any more, mm.
const STILL: f64 = 1e-9;

/// The bodies where all of `firm` holds and the `wishes` are broken least. `None` where it cannot all hold.
pub(crate) fn least_change(joint: &Joint, wishes: &[Wish], firm: &[Condition]) -> Option<Joint> {
    let mut here = joint.clone();
    let mut gone = vec![0.0; joint.numbers()];
    let longest = LONGEST_STEP * joint.extent();
    for round in 0..STEPS {
        let mut held = Conditioned::new(equations(&here, wishes, &gone)?);
        let part = if round < CAUTIOUS {
            NEARLY_IMPLIED
        } else {
            IMPLIED
        };
        for c in constraints(firm) {
            let linear = c.linear(&here)?;
            held.add(part, &linear.gradient, -linear.value);
        }
        let step = held.step();
        let (place, bulge) = here.largest(&step);
        let k = (longest / place.max(1e-300))
            .min(LARGEST_BULGE / bulge.max(1e-300))
            .min(1.0);
        let taken: Vec<f64> = step.iter().map(|s| s * k).collect();
        if !taken.iter().all(|s| s.is_finite()) {
            return None;
        }
        here.shift(&taken);
        for (gone, s) in gone.iter_mut().zip(&taken) {
            *gone += s;
        }
        if round > CAUTIOUS && place.max(bulge) < STILL {
            break;
        }
    }
    let met = constraints(firm).all(|c| c.is_met(&here));
    met.then_some(here)
}

/// What the wishes say where the bodies stand, when each number has gone so far.
fn equations(joint: &Joint, wishes: &[Wish], gone: &[f64]) -> Option<Normal> {
    let n = joint.numbers();
    let (mut h, mut g) = (vec![0.0; n * n], vec![0.0; n]);
    for (i, gone) in gone.iter().enumerate() {
        h[i * n + i] = HELD_LIGHTLY;
        g[i] = HELD_LIGHTLY * gone;
    }
    for w in wishes {
        // A size that is not there any more wishes nothing.
        let Some(linear) = w.constraint.linear(joint) else {
            continue;
        };
        let k = 1.0 / (w.deviation * w.deviation);
        let own: Vec<(usize, f64)> = (linear.gradient.iter().copied().enumerate())
            .filter(|(_, v)| *v != 0.0)
            .collect();
        for &(i, a) in &own {
            g[i] += k * a * linear.value;
            for &(j, b) in &own {
                h[i * n + j] += k * a * b;
            }
        }
    }
    Normal::new(h, &g)
}

impl Joint {
    /// The largest of a step's moves of a place or radius, mm, and of a bulge.
    fn largest(&self, step: &[f64]) -> (f64, f64) {
        let (mut place, mut bulge) = (0.0_f64, 0.0_f64);
        for (b, body) in self.bodies.iter().enumerate() {
            let Some((_, at)) = self.body(b) else {
                continue;
            };
            let (places, bulges) = match &body.shape {
                Form::Chain(f) => (2 * f.corners.len(), f.parameters() - 2 * f.corners.len()),
                Form::Round { .. } => (3, 0),
                Form::Spot(_) => (2, 0),
            };
            let own = step.iter().skip(at).map(|s| s.abs());
            place = own.clone().take(places).fold(place, f64::max);
            bulge = own.skip(places).take(bulges).fold(bulge, f64::max);
        }
        (place, bulge)
    }
}

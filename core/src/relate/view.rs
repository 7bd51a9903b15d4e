//! A condition as the equations see it: made linear, whitened, less what other conditions say of it.
#![allow(
    clippy::indexing_slicing,
    reason = "tables of as many rows and columns as there are conditions"
)]

use super::constraint::Linear;
use super::dense::{add, dot, square};
use super::normal::Normal;
use core::f64::consts::PI;
use std::borrow::Cow;

/// Below this part of its free variance a condition is implied by those already taken.
const IMPLIED: f64 = 0.003;
/// Below this part it is known altogether.
const NOTHING: f64 = 1e-6;

/// A condition made linear at the figure, whitened, with what the conditions taken so far leave of it.
#[derive(Clone, Debug)]
pub(crate) struct View {
    /// Its number and gradient at the figure.
    pub linear: Linear,
    /// Whitened gradient outside the conditions taken.
    rest: Vec<f64>,
    /// The square of its length: the variance that the conditions taken leave.
    variance: f64,
    /// What the condition's number comes to under them.
    expected: f64,
    /// What those conditions fix of it.
    fixed: f64,
    /// Variance before any condition.
    free: f64,
    /// Prior range, natural logarithm.
    log_range: f64,
}

impl View {
    /// A condition whose number could have been `range` away, before those of `normal` are taken.
    pub fn new(linear: Linear, normal: &Normal, range: f64) -> Self {
        let rest = normal.whiten(&linear.gradient);
        let free = square(&rest);
        Self {
            expected: linear.value + dot(&rest, normal.free_step()),
            linear,
            rest,
            variance: free,
            fixed: 0.0,
            free,
            log_range: libm::log(range),
        }
    }

    /// As [`Self::new`], under all the conditions of `normal`.
    pub fn under(linear: Linear, normal: &Normal, range: f64) -> Self {
        let mut view = Self::new(linear, normal, range);
        for (unit, offset) in normal.conditions() {
            view.condition(&Plane::of(unit, offset, normal.free_step()));
        }
        view
    }

    /// The same, with what is free of it now as what there was to be known; nothing where nothing is.
    pub fn afresh(mut self) -> Option<Self> {
        let new = self.variance > NOTHING * self.free;
        self.free = self.variance;
        new.then_some(self)
    }

    /// Variance before any condition.
    pub fn free_variance(&self) -> f64 {
        self.free
    }

    /// Covariance with another, of what the conditions taken leave of both.
    pub fn shared(&self, other: &Self) -> f64 {
        dot(&self.rest, &other.rest)
    }

    /// Takes out of the view what a new condition fixes.
    pub fn condition(&mut self, plane: &Plane<'_>) {
        let along = dot(&plane.unit, &self.rest);
        self.fixed += along * plane.offset;
        self.expected += along * plane.pull;
        add(&mut self.rest, -along, &plane.unit);
        self.variance = square(&self.rest);
    }

    /// Variance that the conditions taken leave of it.
    pub fn variance(&self) -> f64 {
        self.variance
    }

    /// What the condition's number comes to under the conditions taken.
    pub fn expected(&self) -> f64 {
        self.expected
    }

    /// It follows from the conditions taken, or as good as.
    pub fn is_implied(&self) -> bool {
        self.implied_by(self.variance)
    }

    fn implied_by(&self, variance: f64) -> bool {
        variance < IMPLIED * self.free
    }

    /// Gain and what speaks against, nats, of a number of this variance that comes to `expected`; nothing
    /// where it is implied already.
    fn gain(&self, variance: f64, expected: f64, noise_factor: f64) -> (f64, f64) {
        if self.implied_by(variance) {
            return (0.0, 0.0);
        }
        let v = variance * noise_factor;
        // Where nothing is known of the number, holding it costs nothing.
        let known = (self.log_range - 0.5 * libm::log(2.0 * PI * v)).max(0.0);
        (known, expected * expected / (2.0 * v))
    }
}

/// Gain of conditions that are all to hold and what speaks against them, nats: each under those before it.
///
/// What the others leave of a condition is told by the Cholesky factor of their inner products.
pub(crate) fn gain(views: &[View], noise_factor: f64) -> (f64, f64) {
    if let [view] = views {
        return view.gain(view.variance, view.expected, noise_factor);
    }
    // Of each condition that says something new: how much of it each later one shares.
    let mut shared: Vec<Vec<f64>> = Vec::with_capacity(views.len());
    let mut variance: Vec<f64> = views.iter().map(|v| v.variance).collect();
    let mut expected: Vec<f64> = views.iter().map(|v| v.expected).collect();
    let (mut gain, mut against) = (0.0, 0.0);
    for (i, view) in views.iter().enumerate() {
        let (v, c) = (variance[i], expected[i]);
        let (g, a) = view.gain(v, c, noise_factor);
        gain += g;
        against += a;
        if view.implied_by(v) || v <= 0.0 {
            continue;
        }
        let length = v.sqrt();
        let mut row = vec![0.0; views.len()];
        for j in i + 1..views.len() {
            let before: f64 = shared.iter().map(|s| s[i] * s[j]).sum();
            let along = (dot(&view.rest, &views[j].rest) - before) / length;
            row[j] = along;
            variance[j] -= along * along;
            expected[j] -= along * c / length;
        }
        shared.push(row);
    }
    (gain, against)
}

/// A condition in whitened coordinates: a unit normal and how far along it the plane lies.
#[derive(Clone, Debug)]
pub(crate) struct Plane<'a> {
    unit: Cow<'a, [f64]>,
    offset: f64,
    /// From the free step to the plane.
    pull: f64,
}

impl<'a> Plane<'a> {
    /// The plane of a unit normal and an offset along it, seen from the free step.
    pub fn of(unit: impl Into<Cow<'a, [f64]>>, offset: f64, free_step: &[f64]) -> Self {
        let unit = unit.into();
        let pull = offset - dot(&unit, free_step);
        Self { unit, offset, pull }
    }
}

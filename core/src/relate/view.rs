//! A condition as the equations see it: made linear, whitened, less what other conditions say of it.

use super::condition::Linear;
use super::normal::Normal;
use core::f64::consts::PI;

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
    pub rest: Vec<f64>,
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
        let free = rest.iter().map(|v| v * v).sum();
        Self {
            linear,
            rest,
            fixed: 0.0,
            free,
            log_range: libm::log(range),
        }
    }

    /// As [`Self::new`], under all the conditions of `normal`.
    pub fn under(linear: Linear, normal: &Normal, range: f64) -> Self {
        let mut view = Self::new(linear, normal, range);
        for (unit, offset) in normal.conditions() {
            view.condition(unit, offset);
        }
        view
    }

    /// The same, with what is free of it now as what there was to be known; nothing where nothing is.
    pub fn afresh(mut self) -> Option<Self> {
        let left = self.variance();
        let new = left > NOTHING * self.free;
        self.free = left;
        new.then_some(self)
    }

    /// Variance before any condition.
    pub fn free_variance(&self) -> f64 {
        self.free
    }

    /// Its unit normal outside the conditions taken, and the offset along it that makes its number zero;
    /// nothing where they imply it.
    pub fn as_condition(&self) -> Option<(Vec<f64>, f64)> {
        let new = self.variance() > IMPLIED * self.free;
        new.then(|| self.held_to(self.linear.value)).flatten()
    }

    /// As [`Self::as_condition`] where the number is off by `value`, however little of it is new.
    pub fn held_to(&self, value: f64) -> Option<(Vec<f64>, f64)> {
        let length = self.variance().sqrt();
        (length > 0.0).then(|| {
            let unit = self.rest.iter().map(|v| v / length).collect();
            (unit, -(value + self.fixed) / length)
        })
    }

    /// Takes out of the view what a new condition (unit normal, offset along it) fixes.
    pub fn condition(&mut self, normal: &[f64], offset: f64) {
        let along: f64 = normal.iter().zip(&self.rest).map(|(a, b)| a * b).sum();
        self.fixed += along * offset;
        for (r, q) in self.rest.iter_mut().zip(normal) {
            *r -= along * q;
        }
    }

    /// Variance that the conditions taken leave of it.
    pub fn variance(&self) -> f64 {
        self.rest.iter().map(|v| v * v).sum()
    }

    /// What the condition's number comes to under the conditions taken.
    pub fn expected(&self, free_step: &[f64]) -> f64 {
        let shift: f64 = self.rest.iter().zip(free_step).map(|(a, b)| a * b).sum();
        self.linear.value + self.fixed + shift
    }

    /// It follows from the conditions taken, or as good as.
    pub fn is_implied(&self) -> bool {
        self.variance() < IMPLIED * self.free
    }

    /// Gain and what speaks against, nats; nothing where the condition is implied already.
    pub fn gain(&self, free_step: &[f64], noise_factor: f64) -> (f64, f64) {
        let variance = self.variance();
        if self.is_implied() {
            return (0.0, 0.0);
        }
        let c = self.expected(free_step);
        let v = variance * noise_factor;
        // Where nothing is known of c, holding it costs nothing.
        let known = (self.log_range - 0.5 * libm::log(2.0 * PI * v)).max(0.0);
        (known, c * c / (2.0 * v))
    }
}

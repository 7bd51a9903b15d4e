//! Normal equations held to many conditions at once: what a step of the joint solve needs.
//!
//! As [`super::normal`] keeps them, conditions are an orthonormal basis, and each new one is taken out of
//! all before it, twice: `2k²n` products for `k` conditions on `n` numbers, which is what a figure of a
//! hundred edges costs. A step needs no basis, only the Cholesky factor `R` of the conditions' inner products
//! (`Z` their whitened normals, `R Rᵀ = Z Zᵀ`): `y = y₀ + Zᵀ R⁻ᵀ (o − u)`, with `R o = b`, `R u = Z y₀`. Half
//! the products, and no condition is written to.
//!
//! The price is digits: a condition of which the part ε is new is known to 1e-16/ε² only (Björck 1996, on
//! normal equations of the second kind). Its users ask for ε of some thousandths; where rank is to be told to
//! the last digit the basis is the way.
#![allow(
    clippy::indexing_slicing,
    reason = "rows of the factor are as long as their number; vectors are as long as the equations"
)]

use super::dense::{add, dot, square};
use super::normal::Normal;

/// Of a condition of which no more than this part is new, too few digits are known.
const LEAST_PART: f64 = 1e-5;

/// Equations and the conditions they are held to.
pub(crate) struct Conditioned {
    normal: Normal,
    rows: Vec<Row>,
}

/// One condition that counts.
struct Row {
    /// Its whitened normal from the first number that is not zero on, and which that is.
    along: Vec<f64>,
    begin: usize,
    /// What it shares with those before it, and the length of what is new of it.
    shared: Vec<f64>,
    length: f64,
    /// How far along its new part the condition lies, and the free step.
    offset: f64,
    free: f64,
}

impl Conditioned {
    /// No conditions yet.
    pub fn new(normal: Normal) -> Self {
        Self {
            normal,
            rows: Vec::new(),
        }
    }

    /// Adds the condition `a·δ = b`, unless less than `new_part` of it is new; tells whether it was.
    pub fn add(&mut self, new_part: f64, a: &[f64], b: f64) -> bool {
        let (along, begin, whole) = self.whitened(a);
        let shared = self.shared(&along, begin);
        let new = whole - square(&shared);
        let least = new_part.max(LEAST_PART);
        if new <= least * least * whole || whole == 0.0 {
            return false;
        }
        let length = new.sqrt();
        let so_far = |of: fn(&Row) -> f64| -> f64 {
            shared.iter().zip(&self.rows).map(|(s, r)| s * of(r)).sum()
        };
        let free = dot(&along, &self.normal.free_step()[begin..]);
        self.rows.push(Row {
            offset: (b - so_far(|r| r.offset)) / length,
            free: (free - so_far(|r| r.free)) / length,
            along,
            begin,
            shared,
            length,
        });
        true
    }

    /// Which part of the variance of `a·δ` the conditions leave.
    pub fn left(&self, a: &[f64]) -> f64 {
        let (along, begin, whole) = self.whitened(a);
        ((whole - square(&self.shared(&along, begin))) / whole).max(0.0)
    }

    /// The whitened normal from its first number on, which that is, and its square length.
    fn whitened(&self, a: &[f64]) -> (Vec<f64>, usize, f64) {
        let mut z = self.normal.whiten(a);
        let begin = z.iter().position(|v| *v != 0.0).unwrap_or(z.len());
        let along = z.split_off(begin);
        let whole = square(&along);
        (along, begin, whole)
    }

    /// What a normal shares with the new part of each condition.
    fn shared(&self, along: &[f64], begin: usize) -> Vec<f64> {
        let mut shared: Vec<f64> = Vec::with_capacity(self.rows.len());
        for row in &self.rows {
            let from = begin.max(row.begin);
            let both = dot(&along[from - begin..], &row.along[from - row.begin..]);
            shared.push((both - dot(&row.shared, &shared)) / row.length);
        }
        shared
    }

    /// How far a point is from the conditions, whitened, when they are off by `values` there.
    pub fn distance(&self, values: impl Iterator<Item = f64>) -> f64 {
        let mut along: Vec<f64> = Vec::with_capacity(self.rows.len());
        for (row, value) in self.rows.iter().zip(values) {
            along.push((value - dot(&row.shared, &along)) / row.length);
        }
        square(&along).sqrt()
    }

    /// How hard the conditions pull the step away from the free one (their multipliers, whitened).
    pub fn pull(&self) -> f64 {
        let pulls: Vec<f64> = self.rows.iter().map(|r| r.offset - r.free).collect();
        square(&pulls).sqrt()
    }

    /// The step that makes the sum least under the conditions.
    pub fn step(&self) -> Vec<f64> {
        let free = self.normal.free_step().to_vec();
        self.pulled(free, |r| r.offset - r.free)
    }

    /// The least step that meets the conditions, the sum aside.
    pub fn correction(&self) -> Vec<f64> {
        self.pulled(vec![0.0; self.normal.size()], |r| r.offset)
    }

    /// A whitened step moved so far along each condition's new part, in the equations' own numbers.
    fn pulled(&self, mut y: Vec<f64>, far: impl Fn(&Row) -> f64) -> Vec<f64> {
        // Rᵀ λ = far, then y + Zᵀ λ.
        let mut multipliers: Vec<f64> = self.rows.iter().map(far).collect();
        for (i, row) in self.rows.iter().enumerate().rev() {
            let (before, own) = multipliers.split_at_mut(i);
            own[0] /= row.length;
            add(before, -own[0], &row.shared);
            add(&mut y[row.begin..], own[0], &row.along);
        }
        self.normal.unwhitened(y)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn conditions_are_met_at_the_least_sum() {
        let h = [4.0, 1.0, 0.0, 1.0, 3.0, 0.5, 0.0, 0.5, 2.0];
        let g = [1.0, -2.0, 0.5];
        let normal = Normal::new(h.to_vec(), &g).unwrap();
        let mut held = Conditioned::new(normal.clone());
        assert!(held.add(1e-6, &[1.0, 1.0, 0.0], 0.25));
        assert!(!held.add(1e-6, &[2.0, 2.0, 0.0], 0.5));
        assert!(
            (held.left(&[0.0, 0.0, 1.0]) - 1.0).abs() < 0.1 && held.left(&[1.0, 1.0, 0.0]) < 1e-12
        );
        let d = held.step();
        assert!((d[0] + d[1] - 0.25).abs() < 1e-14);
        let grad = |i: usize| (0..3).map(|j| h[i * 3 + j] * d[j]).sum::<f64>() + g[i];
        assert!((grad(0) - grad(1)).abs() < 1e-13 && grad(2).abs() < 1e-13);
        assert!(held.add(1e-6, &[0.0, 1.0, 1.0], -0.5));
        let least = held.correction();
        assert!((least[0] + least[1] - 0.25).abs() < 1e-14);
        assert!((least[1] + least[2] + 0.5).abs() < 1e-14);
        // Met where it stands, the figure is off by nothing; one step away by the step's length.
        assert!(held.distance([0.0, 0.0].into_iter()) == 0.0);
        let off = [-0.25, 0.5];
        let whitened: f64 = (0..3)
            .map(|i| {
                (0..3)
                    .map(|j| least[i] * h[i * 3 + j] * least[j])
                    .sum::<f64>()
            })
            .sum();
        assert!((held.distance(off.into_iter()) - whitened.sqrt()).abs() < 1e-12);
        assert!(held.pull() > 0.0);
    }
}

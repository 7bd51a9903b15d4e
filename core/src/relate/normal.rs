//! Normal equations with exact linear conditions: the small dense algebra of the joint solve.
//!
//! `H = L Lᵀ` (Cholesky). In the whitened coordinates `y = Lᵀ δ` the posterior is a unit ball, a
//! condition `a·δ = b` is a plane with normal `z = L⁻¹a`, and a set of conditions is kept as an
//! orthonormal basis of their normals (modified Gram–Schmidt, twice: Giraud and Langou 2005). What is
//! left of a new normal outside that basis says whether the condition is new, implied by the others,
//! or against them: rank decides, never luck. The same remainder is the variance of any size.
//!
//! Own code rather than a library's because every bit must be the same natively and in wasm:
//! fixed order of sums, no blocking, no fused multiply.
#![allow(
    clippy::indexing_slicing,
    reason = "a square matrix whose side is fixed when it is made; loops run below that side"
)]

use super::dense::{add, dot, square};

/// A condition's normal less than this part of which is new is implied by the others.
const NEW_PART: f64 = 1e-7;

/// Normal equations being conditioned.
#[derive(Clone, Debug)]
pub struct Normal {
    n: usize,
    /// The Cholesky factor, row by row; what stands above its diagonal means nothing.
    l: Vec<f64>,
    /// The first number that stands in each row: a chain's equations know only neighbours, and the
    /// factor fills in nothing before that (the envelope of George and Liu 1981).
    first: Vec<usize>,
    /// Orthonormal normals of the conditions so far, with the offset along each.
    basis: Vec<Vec<f64>>,
    /// The first number that stands in each.
    begins: Vec<usize>,
    offsets: Vec<f64>,
    /// `L⁻¹ (−gradient)`: the free step, whitened.
    free: Vec<f64>,
    log_det: f64,
}

/// The logarithm of a product, taken once for as many factors as a number can hold.
#[derive(Clone, Copy, Debug)]
pub struct LogProduct {
    product: f64,
    sum: f64,
}

impl Default for LogProduct {
    fn default() -> Self {
        Self {
            product: 1.0,
            sum: 0.0,
        }
    }
}

impl LogProduct {
    /// Takes in a factor, more than 0.
    pub fn times(&mut self, factor: f64) {
        self.product *= factor;
        if !(1e-150..1e150).contains(&self.product) {
            self.sum += libm::log(self.product);
            self.product = 1.0;
        }
    }

    /// Its logarithm.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.sum + libm::log(self.product)
    }
}

/// What became of a condition.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Added {
    /// It takes one freedom away.
    New,
    /// It followed from the others already.
    Implied,
    /// It contradicts the others by this much (in its own unit).
    Against(f64),
}

impl Normal {
    /// Factors `h` (n×n, row-major, symmetric positive definite) with the gradient `g` of the sum
    /// to be made least. `None` where `h` is not positive definite.
    #[must_use]
    pub fn new(h: Vec<f64>, g: &[f64]) -> Option<Self> {
        let n = g.len();
        if h.len() != n * n {
            return None;
        }
        // In place: what is read of `h` has not been written over yet.
        let mut l = h;
        let mut first = Vec::with_capacity(n);
        let mut log_det = LogProduct::default();
        for i in 0..n {
            let start = l[i * n..i * n + i]
                .iter()
                .position(|v| *v != 0.0)
                .unwrap_or(i);
            first.push(start);
            for j in start..=i {
                let from = start.max(first[j]);
                let (ri, rj) = (&l[i * n + from..i * n + j], &l[j * n + from..j * n + j]);
                let sum = l[i * n + j] - dot(ri, rj);
                if i == j {
                    if sum <= 0.0 || !sum.is_finite() {
                        return None;
                    }
                    l[i * n + i] = sum.sqrt();
                    log_det.times(sum);
                } else {
                    l[i * n + j] = sum / l[j * n + j];
                }
            }
        }
        let mut out = Self {
            n,
            l,
            first,
            basis: Vec::new(),
            begins: Vec::new(),
            offsets: Vec::new(),
            free: Vec::new(),
            log_det: log_det.total(),
        };
        let minus: Vec<f64> = g.iter().map(|v| -v).collect();
        out.free = out.whiten(&minus);
        Some(out)
    }

    /// Number of free numbers.
    #[must_use]
    pub fn size(&self) -> usize {
        self.n
    }

    /// The second derivatives and the gradient that were factored, conditions aside.
    #[must_use]
    pub fn equations(&self) -> (Vec<f64>, Vec<f64>) {
        let n = self.n;
        let row = |i: usize| &self.l[i * n..=i * n + i];
        let mut h = vec![0.0; n * n];
        let mut g = Vec::with_capacity(n);
        for i in 0..n {
            for j in self.first[i]..=i {
                h[i * n + j] = dot(row(i), row(j));
                h[j * n + i] = h[i * n + j];
            }
            g.push(-dot(row(i), &self.free));
        }
        (h, g)
    }

    /// Natural logarithm of the determinant of `h`, conditions aside.
    #[must_use]
    pub fn log_det(&self) -> f64 {
        self.log_det
    }

    /// The free step (least sum, no conditions) in whitened coordinates.
    #[must_use]
    pub fn free_step(&self) -> &[f64] {
        &self.free
    }

    /// Unit normal and offset of the condition added last.
    #[must_use]
    pub fn last_condition(&self) -> Option<(&[f64], f64)> {
        Some((self.basis.last()?.as_slice(), *self.offsets.last()?))
    }

    /// Unit normals and offsets of all conditions, each outside those before it.
    pub fn conditions(&self) -> impl Iterator<Item = (&[f64], f64)> {
        let offsets = self.offsets.iter().copied();
        self.basis.iter().map(Vec::as_slice).zip(offsets)
    }

    /// Freedoms left.
    #[must_use]
    pub fn freedoms(&self) -> usize {
        self.n - self.basis.len()
    }

    /// `L⁻¹ a`.
    #[must_use]
    pub fn whiten(&self, a: &[f64]) -> Vec<f64> {
        let n = self.n;
        let mut z = vec![0.0; n];
        // Nothing comes before the first number that counts.
        let first = a.iter().position(|v| *v != 0.0).unwrap_or(n);
        for i in first..n {
            let from = first.max(self.first[i]);
            let sum = a[i] - dot(&self.l[i * n + from..i * n + i], &z[from..i]);
            z[i] = sum / self.l[i * n + i];
        }
        z
    }

    /// The part of `z` outside the conditions, its square length, and how far along the conditions
    /// `z` is already fixed.
    fn remainder(&self, z: &[f64]) -> (Vec<f64>, f64, f64) {
        let mut rest = z.to_vec();
        let mut fixed = 0.0;
        self.take_out(&mut rest, |i, along| fixed += along * self.offsets[i]);
        let square = square(&rest);
        (rest, square, fixed)
    }

    /// Takes the conditions' normals out of `rest`, telling how much of each was in it.
    fn take_out(&self, rest: &mut [f64], mut told: impl FnMut(usize, f64)) {
        let mut left = square(rest);
        for _ in 0..2 {
            for (i, (q, &begin)) in self.basis.iter().zip(&self.begins).enumerate() {
                let along = dot(&q[begin..], &rest[begin..]);
                told(i, along);
                add(&mut rest[begin..], -along, &q[begin..]);
            }
            // Once is enough where most of it is left.
            let now = square(rest);
            if now > 0.5 * left {
                break;
            }
            left = now;
        }
    }

    /// Variance of the linear form `a·δ` given the conditions, and its expected value.
    #[must_use]
    pub fn predict(&self, a: &[f64]) -> (f64, f64) {
        let z = self.whiten(a);
        let (rest, variance, fixed) = self.remainder(&z);
        (variance, fixed + dot(&rest, &self.free))
    }

    /// Variance of `a·δ` before any condition.
    #[must_use]
    pub fn free_variance(&self, a: &[f64]) -> f64 {
        square(&self.whiten(a))
    }

    /// Adds the condition `a·δ = b`. `slack` is how far apart, in the condition's own unit, two
    /// conditions on the same thing may be and still agree.
    pub fn condition(&mut self, a: &[f64], b: f64, slack: f64) -> Added {
        let z = self.whiten(a);
        let whole = square(&z);
        let (rest, square, fixed) = self.remainder(&z);
        if square <= NEW_PART * NEW_PART * whole || whole == 0.0 {
            let off = b - fixed;
            return if off.abs() <= slack {
                Added::Implied
            } else {
                Added::Against(off)
            };
        }
        let length = square.sqrt();
        self.offsets.push((b - fixed) / length);
        let begin = rest.iter().position(|v| *v != 0.0).unwrap_or(self.n);
        self.begins.push(begin);
        self.basis.push(rest.iter().map(|v| v / length).collect());
        Added::New
    }

    /// The step that makes the sum least under the conditions.
    #[must_use]
    pub fn step(&self) -> Vec<f64> {
        let (mut y, _, _) = self.remainder(&self.free);
        for (q, &b) in self.basis.iter().zip(&self.offsets) {
            add(&mut y, b, q);
        }
        self.unwhitened(y)
    }

    /// A whitened step in the equations' own numbers: `L⁻ᵀ y`.
    #[must_use]
    pub fn unwhitened(&self, mut y: Vec<f64>) -> Vec<f64> {
        let n = self.n;
        for i in (0..n).rev() {
            y[i] /= self.l[i * n + i];
            let (before, after) = y.split_at_mut(i);
            let from = self.first[i];
            add(
                &mut before[from..],
                -after[0],
                &self.l[i * n + from..i * n + i],
            );
        }
        y
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn conditions_are_met_and_rank_is_told() {
        let h = [4.0, 1.0, 0.0, 1.0, 3.0, 0.5, 0.0, 0.5, 2.0];
        let mut n = Normal::new(h.to_vec(), &[1.0, -2.0, 0.5]).unwrap();
        assert_eq!(n.condition(&[1.0, 1.0, 0.0], 0.25, 1e-9), Added::New);
        assert_eq!(n.condition(&[2.0, 2.0, 0.0], 0.5, 1e-9), Added::Implied);
        assert!(
            matches!(n.condition(&[1.0, 1.0, 0.0], 0.35, 1e-9), Added::Against(d) if (d - 0.1).abs() < 1e-12)
        );
        let d = n.step();
        assert!((d[0] + d[1] - 0.25).abs() < 1e-14);
        let (same, gradient) = n.equations();
        assert!(same.iter().zip(h).all(|(a, b)| (a - b).abs() < 1e-14));
        assert!(
            gradient
                .iter()
                .zip([1.0, -2.0, 0.5])
                .all(|(a, b)| (a - b).abs() < 1e-14)
        );
        // Least sum under the condition: the gradient is along the condition's normal.
        let grad =
            |i: usize| (0..3).map(|j| h[i * 3 + j] * d[j]).sum::<f64>() + [1.0, -2.0, 0.5][i];
        assert!((grad(0) - grad(1)).abs() < 1e-13 && grad(2).abs() < 1e-13);
    }
}

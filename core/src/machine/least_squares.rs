//! Small non-linear least squares: Levenberg–Marquardt on the singular value decomposition.
//!
//! The problems of this room have three to a dozen unknowns and at most some thousand residuals, so
//! clarity and sure footing count for more than speed. One decomposition of the Jacobian serves
//! everything: the damped step, the covariance of the unknowns, and the question this room must
//! answer before all others: *which combinations of unknowns did the measurements leave open?* The
//! normal equations would square the condition number and blur just that.
//!
//! 1. Unknowns are scaled by what is a large change of each, so that a millimetre and a radian can be
//!    compared and a singular value means "mm of residual per large change".
//! 2. The Jacobian comes from central differences (the models here are smooth and cheap).
//! 3. One-sided Jacobi (Hestenes 1958): rotate pairs of columns until all are orthogonal; their
//!    lengths are the singular values. Slow for large matrices, accurate to the last digits for small.
//! 4. Damping after Marquardt (1963): grow tenfold on a bad step, shrink on a good one.
//!
//! Sums run in a fixed order and no platform mathematics is used: the same bits everywhere. Fails where
//! the start lies in another valley; every caller has a start close by.

/// A matrix by columns.
pub(crate) type Columns = Vec<Vec<f64>>;

/// A minimum and what is known about it.
#[derive(Clone, Debug)]
pub(crate) struct Fit {
    /// The unknowns.
    pub values: Vec<f64>,
    /// Residuals at the minimum.
    pub residuals: Vec<f64>,
    scale: Vec<f64>,
    svd: Svd,
}

/// Singular values with their directions in (scaled) unknowns, largest first.
#[derive(Clone, Debug)]
pub(crate) struct Svd {
    /// Orthogonal columns `U·Σ`.
    us: Columns,
    /// Unit directions in the unknowns.
    pub v: Columns,
    /// Singular values.
    pub sigma: Vec<f64>,
}

pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// Rotates the columns `p < q` of a matrix by the cosine `c` and sine `s`.
fn rotate(columns: &mut Columns, p: usize, q: usize, c: f64, s: f64) {
    let middle = q.min(columns.len());
    let (left, right) = columns.split_at_mut(middle);
    let (Some(a), Some(b)) = (left.get_mut(p), right.first_mut()) else {
        return;
    };
    for (x, y) in a.iter_mut().zip(b.iter_mut()) {
        (*x, *y) = (c * *x - s * *y, s * *x + c * *y);
    }
}

impl Svd {
    /// Decomposes a matrix given by columns.
    pub fn new(mut us: Columns) -> Self {
        let n = us.len();
        let unit = |i: usize| (0..n).map(|j| f64::from(u8::from(i == j))).collect();
        let mut v: Columns = (0..n).map(unit).collect();
        for _sweep in 0..60 {
            let mut rotated = false;
            for p in 0..n {
                for q in p + 1..n {
                    rotated |= orthogonalize(&mut us, &mut v, p, q);
                }
            }
            if !rotated {
                break;
            }
        }
        let mut triples: Vec<(f64, Vec<f64>, Vec<f64>)> = us
            .into_iter()
            .zip(v)
            .map(|(u, v)| (dot(&u, &u).sqrt(), u, v))
            .collect();
        triples.sort_by(|a, b| b.0.total_cmp(&a.0));
        let mut out = Self {
            us: Vec::new(),
            v: Vec::new(),
            sigma: Vec::new(),
        };
        for (s, u, v) in triples {
            out.sigma.push(s);
            out.us.push(u);
            out.v.push(v);
        }
        out
    }

    /// The smallest singular value.
    pub fn least(&self) -> f64 {
        self.sigma.last().copied().unwrap_or(0.0)
    }

    /// The step that minimises `|J·step + r|² + damping·|step|²`.
    fn step(&self, residuals: &[f64], damping: f64) -> Vec<f64> {
        let mut step = vec![0.0; self.v.len()];
        for ((us, v), s) in self.us.iter().zip(&self.v).zip(&self.sigma) {
            let below = s * s + damping;
            if below > 0.0 {
                let along = -dot(us, residuals) / below;
                for (out, x) in step.iter_mut().zip(v) {
                    *out += along * x;
                }
            }
        }
        step
    }
}

/// One rotation of the one-sided method; false when the pair is orthogonal already.
fn orthogonalize(us: &mut Columns, v: &mut Columns, p: usize, q: usize) -> bool {
    let (Some(a), Some(b)) = (us.get(p), us.get(q)) else {
        return false;
    };
    let (aa, bb, ab) = (dot(a, a), dot(b, b), dot(a, b));
    let skew = ab.abs();
    if skew.is_nan() || skew <= 1e-15 * (aa * bb).sqrt() || skew < 1e-300 {
        return false;
    }
    let zeta = (bb - aa) / (2.0 * ab);
    let t = zeta.signum() / (zeta.abs() + (1.0 + zeta * zeta).sqrt());
    let c = 1.0 / (1.0 + t * t).sqrt();
    rotate(us, p, q, c, c * t);
    rotate(v, p, q, c, c * t);
    true
}

/// Jacobian by columns with respect to the scaled unknowns, by central differences.
pub(crate) fn jacobian(
    values: &[f64],
    scale: &[f64],
    residuals: &dyn Fn(&[f64]) -> Vec<f64>,
) -> Columns {
    // Error of the difference: 1e-10 of the third derivative; of rounding: 1e-11 of the residual.
    const STEP: f64 = 1e-5;
    let moved = |i: usize, by: f64| {
        let mut at = values.to_vec();
        if let (Some(x), Some(s)) = (at.get_mut(i), scale.get(i)) {
            *x += by * s;
        }
        residuals(&at)
    };
    (0..values.len())
        .map(|i| {
            let (above, below) = (moved(i, STEP), moved(i, -STEP));
            let pairs = above.iter().zip(&below);
            pairs.map(|(a, b)| (a - b) / (2.0 * STEP)).collect()
        })
        .collect()
}

/// Minimises the sum of squared residuals from a start that is near. `scale` says what is a large
/// change of each unknown. `None` when figures overflow.
pub(crate) fn minimize(
    start: &[f64],
    scale: &[f64],
    residuals: &dyn Fn(&[f64]) -> Vec<f64>,
) -> Option<Fit> {
    let mut values = start.to_vec();
    let mut r = residuals(&values);
    let mut cost = dot(&r, &r);
    let mut svd = Svd::new(jacobian(&values, scale, residuals));
    let mut damping = 1e-6;
    for _ in 0..200 {
        let largest = svd.sigma.first().copied().unwrap_or(0.0);
        let step = svd.step(&r, damping * largest * largest);
        let trial: Vec<f64> = values
            .iter()
            .zip(scale)
            .zip(&step)
            .map(|((x, s), d)| x + s * d)
            .collect();
        let trial_r = residuals(&trial);
        let trial_cost = dot(&trial_r, &trial_r);
        let small = dot(&step, &step).sqrt() < 1e-13;
        if trial_cost <= cost {
            let done = small || cost - trial_cost <= 1e-16 * cost;
            (values, r, cost) = (trial, trial_r, trial_cost);
            svd = Svd::new(jacobian(&values, scale, residuals));
            damping = (damping * 0.1).max(1e-15);
            if done {
                break;
            }
        } else {
            damping *= 10.0;
            if small || damping > 1e12 {
                break;
            }
        }
    }
    let fine = cost.is_finite() && values.iter().all(|v| v.is_finite());
    fine.then(|| Fit {
        values,
        residuals: r,
        scale: scale.to_vec(),
        svd,
    })
}

impl Fit {
    /// Sum of squared residuals.
    pub fn cost(&self) -> f64 {
        dot(&self.residuals, &self.residuals)
    }

    /// Decomposition of the scaled Jacobian at the minimum.
    pub fn svd(&self) -> &Svd {
        &self.svd
    }

    /// Standard deviation of a quantity with this gradient in the unknowns, for residuals of
    /// standard deviation 1.
    pub fn deviation_of(&self, gradient: &[f64]) -> f64 {
        self.covariance_of(gradient, gradient).sqrt()
    }

    /// Covariance of two quantities given by their gradients, for residuals of standard deviation 1.
    pub fn covariance_of(&self, a: &[f64], b: &[f64]) -> f64 {
        let scaled =
            |g: &[f64]| -> Vec<f64> { g.iter().zip(&self.scale).map(|(g, s)| g * s).collect() };
        let (a, b) = (scaled(a), scaled(b));
        let along = |v: &Vec<f64>, s: &f64| dot(&a, v) * dot(&b, v) / (s * s).max(1e-300);
        self.svd
            .v
            .iter()
            .zip(&self.svd.sigma)
            .map(|(v, s)| along(v, s))
            .sum()
    }

    /// Standard deviation of unknown `i`, for residuals of standard deviation 1.
    pub fn deviation(&self, i: usize) -> f64 {
        let unit = |j: usize| f64::from(u8::from(i == j));
        let gradient: Vec<f64> = (0..self.values.len()).map(unit).collect();
        self.deviation_of(&gradient)
    }

    /// How much of residual `i` the fit absorbs, 0..1 (its leverage).
    pub fn leverage(&self, i: usize) -> f64 {
        let share = |us: &Vec<f64>, s: &f64| {
            let x = us.get(i).copied().unwrap_or(0.0) / s.max(1e-150);
            x * x
        };
        let pairs = self.svd.us.iter().zip(&self.svd.sigma);
        pairs
            .map(|(us, s)| share(us, s))
            .sum::<f64>()
            .clamp(0.0, 1.0)
    }
}

/// Half-width of a 95 % interval in standard deviations: Student's t at 97.5 % for so many spare
/// measurements (Fisher's expansion, within 1 % from 3 on; 1 and 2 exact).
pub(crate) fn student_95(spare: usize) -> f64 {
    const Z: f64 = 1.959_963_984_540_054;
    match spare {
        0 => f64::INFINITY,
        1 => 12.706_204_736,
        2 => 4.302_652_73,
        n => {
            let n = n as f64;
            let (z3, z5) = (Z * Z * Z, Z * Z * Z * Z * Z);
            let z7 = z5 * Z * Z;
            Z + (z3 + Z) / (4.0 * n)
                + (5.0 * z5 + 16.0 * z3 + 3.0 * Z) / (96.0 * n * n)
                + (3.0 * z7 + 19.0 * z5 + 17.0 * z3 - 15.0 * Z) / (384.0 * n * n * n)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn decomposition_rebuilds_the_matrix() {
        let a: Columns = vec![
            vec![1.0, 2.0, 3.0, 4.0],
            vec![2.0, -1.0, 0.5, 7.0],
            vec![0.0, 1.0, 1.0, -2.0],
        ];
        let svd = Svd::new(a.clone());
        for (j, column) in a.iter().enumerate() {
            for (i, want) in column.iter().enumerate() {
                let got: f64 = (0..3).map(|k| svd.us[k][i] * svd.v[k][j]).sum();
                assert!((got - want).abs() < 1e-13);
            }
        }
        assert!(svd.sigma.windows(2).all(|w| w[0] >= w[1]));
    }

    #[test]
    fn a_dependent_column_has_a_singular_value_of_nothing() {
        let a = vec![vec![1.0, 2.0, 3.0], vec![2.0, 4.0, 6.0]];
        assert!(Svd::new(a).least() < 1e-15);
    }

    #[test]
    fn finds_the_circle_three_points_lie_on() {
        // Through (0,0), (4,0), (0,3): centre (2, 1.5), radius 2.5 (Thales).
        let points = [(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)];
        let r = |p: &[f64]| {
            points
                .iter()
                .map(|(x, y)| libm::hypot(x - p[0], y - p[1]) - p[2])
                .collect()
        };
        let fit = minimize(&[1.0, 1.0, 1.0], &[1.0; 3], &r).unwrap();
        for (got, want) in fit.values.iter().zip([2.0, 1.5, 2.5]) {
            assert!((got - want).abs() < 1e-12);
        }
    }

    #[test]
    fn student_matches_the_printed_table() {
        // Two-sided 5 % points as printed in every statistics text, from memory.
        for (n, t) in [
            (1, 12.706),
            (2, 4.303),
            (3, 3.182),
            (5, 2.571),
            (10, 2.228),
            (30, 2.042),
        ] {
            assert!(
                (student_95(n) / t - 1.0).abs() < 0.01,
                "{n}: {}",
                student_95(n)
            );
        }
    }
}

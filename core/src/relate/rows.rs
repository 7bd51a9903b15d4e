//! Blocks as rows of equations, and their sums: of one edge in its own few numbers.
#![allow(
    clippy::indexing_slicing,
    reason = "rows and sums have as many places as an edge has numbers; slots are those of the figure"
)]

use super::figure::EdgeView;

/// One block: the residual and its derivatives by an edge's own numbers, the corner width last, and
/// the second derivative by that width.
#[derive(Clone, Copy)]
pub(super) struct Row<const N: usize> {
    pub residual: f64,
    pub d: [f64; N],
    pub bend: f64,
}

impl<const N: usize> Row<N> {
    /// `k (self − share · before)`.
    pub fn less(&self, before: &Self, share: f64, k: f64) -> Self {
        let mut d = self.d;
        for (a, b) in d.iter_mut().zip(&before.d) {
            *a = k * (*a - share * b);
        }
        Self {
            residual: k * (self.residual - share * before.residual),
            d,
            bend: k * (self.bend - share * before.bend),
        }
    }

    pub fn scaled(&self, k: f64) -> Self {
        Self {
            residual: k * self.residual,
            d: self.d.map(|v| k * v),
            bend: k * self.bend,
        }
    }
}

/// Sums over the blocks of all edges.
#[derive(Default)]
pub(super) struct Sums {
    pub misfit: f64,
    pub bend: f64,
    pub square: f64,
    pub weight: f64,
}

/// Normal equations of one edge in its own numbers; the lower triangle of `h`.
pub(super) struct EdgeNormal<const N: usize> {
    pub h: [[f64; N]; N],
    pub g: [f64; N],
}

impl<const N: usize> Default for EdgeNormal<N> {
    fn default() -> Self {
        Self {
            h: [[0.0; N]; N],
            g: [0.0; N],
        }
    }
}

impl<const N: usize> EdgeNormal<N> {
    #[inline]
    pub fn add(&mut self, row: &Row<N>, k: f64, less: f64) {
        for i in 0..N {
            let ka = k * row.d[i];
            self.g[i] += ka * row.residual;
            let ka = ka * less;
            for j in 0..=i {
                self.h[i][j] += ka * row.d[j];
            }
        }
    }

    pub fn scatter(&self, h: &mut [f64], g: &mut [f64], slots: &[usize; N]) {
        let p = g.len();
        for (i, &a) in slots.iter().enumerate() {
            g[a] += self.g[i];
            h[a * p + a] += self.h[i][i];
            for (j, &b) in slots.iter().enumerate().take(i) {
                h[a * p + b] += self.h[i][j];
                h[b * p + a] += self.h[i][j];
            }
        }
    }
}

impl EdgeNormal<3> {
    /// From offsets at either end to the places of both corners: an offset is the corner's way to the
    /// left of the line.
    pub fn of_line(&self, view: &EdgeView) -> EdgeNormal<5> {
        let n = view.left();
        let parts: [(usize, f64); 5] = [(0, n.x), (0, n.y), (1, n.x), (1, n.y), (2, 1.0)];
        let mut out = EdgeNormal::default();
        for (i, &(a, ka)) in parts.iter().enumerate() {
            out.g[i] = ka * self.g[a];
            for (j, &(b, kb)) in parts.iter().enumerate().take(i + 1) {
                out.h[i][j] = ka * kb * self.h[a.max(b)][a.min(b)];
            }
        }
        out
    }
}

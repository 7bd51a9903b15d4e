//! Numbers in rows: a picture of one channel, and the few filters this room needs.
//!
//! Means and extremes over squares cost the same whatever the square's size (running sums; van Herk's
//! and Gil and Werman's two-way maxima, 1992 and 1993). Three means in a row are near enough to a Gaussian.

use crate::geom::Point;

/// A picture of one channel. Pixel (0, 0) is the upper left one, its middle at (0, 0).
#[derive(Clone, Debug, Default)]
pub(super) struct Grid {
    pub width: usize,
    pub height: usize,
    pub values: Vec<f32>,
}

impl Grid {
    pub fn new(width: usize, height: usize) -> Self {
        Self {
            width,
            height,
            values: vec![0.0; width * height],
        }
    }

    pub fn rows(&self) -> impl Iterator<Item = &[f32]> {
        self.values.chunks_exact(self.width.max(1))
    }

    /// The value of a pixel; beyond the rim, of the pixel at the rim.
    #[inline]
    pub fn at(&self, x: isize, y: isize) -> f32 {
        let x = x.clamp(0, self.width as isize - 1) as usize;
        let y = y.clamp(0, self.height as isize - 1) as usize;
        self.values.get(y * self.width + x).copied().unwrap_or(0.0)
    }

    /// The value between pixels.
    #[inline]
    pub fn between(&self, p: Point) -> f32 {
        let x = (p.x as f32).clamp(0.0, self.width as f32 - 1.0);
        let y = (p.y as f32).clamp(0.0, self.height as f32 - 1.0);
        let (i, j) = (x as usize, y as usize);
        let (u, v) = (x - i as f32, y - j as f32);
        let (i, j) = (i as isize, j as isize);
        let low = self.at(i, j) * (1.0 - u) + self.at(i + 1, j) * u;
        let high = self.at(i, j + 1) * (1.0 - u) + self.at(i + 1, j + 1) * u;
        low * (1.0 - v) + high * v
    }

    pub fn map(&self, f: impl Fn(f32) -> f32) -> Self {
        Self {
            values: self.values.iter().map(|v| f(*v)).collect(),
            ..*self
        }
    }

    /// Two grids of one size made one.
    pub fn with(&self, other: &Self, f: impl Fn(f32, f32) -> f32) -> Self {
        let pairs = self.values.iter().zip(&other.values);
        Self {
            values: pairs.map(|(a, b)| f(*a, *b)).collect(),
            ..*self
        }
    }

    /// Means of squares of `by` pixels.
    pub fn reduced(&self, by: usize) -> Self {
        if by < 2 {
            return self.clone();
        }
        let mut out = Self::new(self.width / by, self.height / by);
        let weight = 1.0 / (by * by) as f32;
        let wide = out.width.max(1);
        for (to, band) in out
            .values
            .chunks_exact_mut(wide)
            .zip(self.values.chunks_exact(self.width.max(1) * by))
        {
            for row in band.chunks_exact(self.width) {
                for (t, cell) in to.iter_mut().zip(row.chunks_exact(by)) {
                    *t += weight * cell.iter().sum::<f32>();
                }
            }
        }
        out
    }

    /// Columns become rows.
    fn turned(&self) -> Self {
        let mut out = Self::new(self.height, self.width);
        // Squares of 32: rows of both grids stay at hand.
        const TILE: usize = 32;
        for y0 in (0..self.height).step_by(TILE) {
            for x0 in (0..self.width).step_by(TILE) {
                for y in y0..(y0 + TILE).min(self.height) {
                    for x in x0..(x0 + TILE).min(self.width) {
                        let v = self.values.get(y * self.width + x).copied();
                        if let Some(t) = out.values.get_mut(x * self.height + y) {
                            *t = v.unwrap_or(0.0);
                        }
                    }
                }
            }
        }
        out
    }

    /// A filter of rows along both ways.
    fn both_ways(&self, filter: impl Fn(&[f32], &mut [f32])) -> Self {
        let along = |g: &Self| {
            let mut out = Self::new(g.width, g.height);
            let wide = g.width.max(1);
            for (row, to) in g.rows().zip(out.values.chunks_exact_mut(wide)) {
                filter(row, to);
            }
            out
        };
        along(&along(self).turned()).turned()
    }

    /// Means over squares reaching `by` pixels to each side.
    pub fn mean(&self, by: usize) -> Self {
        if by == 0 {
            return self.clone();
        }
        self.both_ways(|row, to| mean_row(row, to, by))
    }

    /// Softened by a bell of about this standard deviation, pixels.
    pub fn soft(&self, sigma: f64) -> Self {
        // Three means of a reach r have the variance r (r + 1).
        let reach = (libm::sqrt(sigma * sigma + 0.25) - 0.5).max(0.0);
        match libm::round(reach) as usize {
            0 if sigma > 0.35 => self.both_ways(|row, to| {
                let at = |i: usize| {
                    row.get(i.min(row.len().saturating_sub(1)))
                        .copied()
                        .unwrap_or(0.0)
                };
                for (i, t) in to.iter_mut().enumerate() {
                    *t = 0.25 * (at(i.saturating_sub(1)) + at(i + 1)) + 0.5 * at(i);
                }
            }),
            0 => self.clone(),
            r => self.mean(r).mean(r).mean(r),
        }
    }

    /// Largest values over squares reaching `by` pixels to each side.
    pub fn highest(&self, by: usize) -> Self {
        if by == 0 {
            return self.clone();
        }
        self.both_ways(|row, to| highest_row(row, to, by))
    }

    pub fn lowest(&self, by: usize) -> Self {
        self.map(|v| -v).highest(by).map(|v| -v)
    }

    /// What a share of the values lies below, of a sample of them.
    pub fn quantile(&self, share: f64) -> f32 {
        let step = (self.values.len() / 20_000).max(1);
        let mut sample: Vec<f32> = self.values.iter().step_by(step).copied().collect();
        quantile(&mut sample, share)
    }
}

/// The value that a share of a list lies below; 0 of nothing.
pub(super) fn quantile(list: &mut [f32], share: f64) -> f32 {
    if list.is_empty() {
        return 0.0;
    }
    let k = ((list.len() - 1) as f64 * share.clamp(0.0, 1.0)) as usize;
    *list.select_nth_unstable_by(k, f32::total_cmp).1
}

fn mean_row(row: &[f32], to: &mut [f32], by: usize) {
    let n = row.len();
    let at = |i: isize| {
        row.get(i.clamp(0, n as isize - 1) as usize)
            .copied()
            .unwrap_or(0.0)
    };
    let b = by as isize;
    let mut sum: f32 = (-b..=b).map(at).sum();
    let weight = 1.0 / (2 * by + 1) as f32;
    for (i, t) in to.iter_mut().enumerate() {
        *t = sum * weight;
        let i = i as isize;
        sum += at(i + b + 1) - at(i - b);
    }
}

/// Blocks of the square's size, maxima from the left and from the right in each: a window reaches over
/// two blocks at the most.
fn highest_row(row: &[f32], to: &mut [f32], by: usize) {
    let n = row.len();
    let size = 2 * by + 1;
    let edge = |i: usize| {
        let i = i.saturating_sub(by).min(n.saturating_sub(1));
        row.get(i).copied().unwrap_or(0.0)
    };
    let wide = n + 2 * by;
    let padded: Vec<f32> = (0..wide).map(edge).collect();
    let (mut left, mut right) = (padded.clone(), padded);
    for block in left.chunks_mut(size) {
        let mut most = f32::NEG_INFINITY;
        for v in block {
            most = most.max(*v);
            *v = most;
        }
    }
    for block in right.chunks_mut(size) {
        let mut most = f32::NEG_INFINITY;
        for v in block.iter_mut().rev() {
            most = most.max(*v);
            *v = most;
        }
    }
    for ((t, r), l) in to.iter_mut().zip(&right).zip(left.iter().skip(2 * by)) {
        *t = r.max(*l);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn some(width: usize, height: usize) -> Grid {
        let mut seed = 7u32;
        let mut g = Grid::new(width, height);
        for v in &mut g.values {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            *v = (seed >> 8) as f32 / 1e6;
        }
        g
    }

    #[test]
    fn means_and_extremes_are_what_a_look_at_each_square_gives() {
        for (w, h) in [(1, 1), (5, 3), (17, 40)] {
            let g = some(w, h);
            for by in [1isize, 2, 7] {
                let (mean, high, low) = (
                    g.mean(by as usize),
                    g.highest(by as usize),
                    g.lowest(by as usize),
                );
                for y in 0..h as isize {
                    for x in 0..w as isize {
                        let square = (-by..=by).flat_map(|j| (-by..=by).map(move |i| (i, j)));
                        let all: Vec<f32> = square.map(|(i, j)| g.at(x + i, y + j)).collect();
                        let sum: f32 = all.iter().sum();
                        assert!((mean.at(x, y) - sum / all.len() as f32).abs() < 1e-3);
                        assert_eq!(high.at(x, y), all.iter().copied().fold(f32::MIN, f32::max));
                        assert_eq!(low.at(x, y), all.iter().copied().fold(f32::MAX, f32::min));
                    }
                }
            }
        }
    }
}

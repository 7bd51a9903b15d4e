//! Running moments: all a line or circle fit needs to know of a run of points, in ten sums.
//!
//! Sums are kept about a local origin that the caller chooses (a station of the run), never about
//! the drawing's: fourth powers of coordinates lose all digits a metre away from it.

use super::{Point, Vec2};

/// Weighted sums of x, y, x², xy, y², and of z = x² + y² with each and itself.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Moments {
    /// Total weight (mm of path).
    pub w: f64,
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
    xz: f64,
    yz: f64,
    zz: f64,
}

/// Moments about the mean, divided by the weight.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Central {
    /// The mean, from the same origin as the sums.
    pub mean: Vec2,
    /// Mean of x².
    pub xx: f64,
    /// Mean of xy.
    pub xy: f64,
    /// Mean of y².
    pub yy: f64,
    /// Mean of xz, z = x² + y².
    pub xz: f64,
    /// Mean of yz.
    pub yz: f64,
    /// Mean of z².
    pub zz: f64,
}

impl Moments {
    /// Adds one point, given from the run's origin.
    pub fn add(&mut self, p: Vec2, weight: f64) {
        let z = p.length_squared();
        let (wx, wy) = (weight * p.x, weight * p.y);
        self.w += weight;
        self.x += wx;
        self.y += wy;
        self.xx += wx * p.x;
        self.xy += wx * p.y;
        self.yy += wy * p.y;
        self.xz += wx * z;
        self.yz += wy * z;
        self.zz += weight * z * z;
    }

    /// Adds the moments of another run, whose origin lies at `shift` from this one's.
    pub fn merge(&mut self, other: &Self, shift: Vec2) {
        let (a, b) = (shift.x, shift.y);
        let s = a * a + b * b;
        let o = other;
        // With x' = x + a, y' = y + b: z' = z + 2(ax + by) + s.
        let z = o.xx + o.yy;
        let ax = a * o.x + b * o.y;
        let axx = a * o.xx + b * o.xy;
        let axy = a * o.xy + b * o.yy;
        let z1 = z + 2.0 * ax + s * o.w;
        let xz = o.xz + 2.0 * axx + s * o.x;
        let yz = o.yz + 2.0 * axy + s * o.y;
        let quad = a * axx + b * axy;
        self.w += o.w;
        self.x += o.x + a * o.w;
        self.y += o.y + b * o.w;
        self.xx += o.xx + a * (2.0 * o.x + a * o.w);
        self.xy += o.xy + a * o.y + b * o.x + a * b * o.w;
        self.yy += o.yy + b * (2.0 * o.y + b * o.w);
        self.xz += xz + a * z1;
        self.yz += yz + b * z1;
        self.zz += o.zz
            + 4.0 * (a * o.xz + b * o.yz)
            + 2.0 * s * z
            + 4.0 * quad
            + 4.0 * s * ax
            + s * s * o.w;
    }

    /// The mean, from the origin; `None` for an empty run.
    #[must_use]
    pub fn mean(&self) -> Option<Vec2> {
        (self.w > 0.0).then(|| Vec2::new(self.x / self.w, self.y / self.w))
    }

    /// Second central moments only (enough for a line): mean, xx, xy, yy.
    #[must_use]
    pub fn second(&self) -> Central {
        if self.w <= 0.0 {
            return Central::default();
        }
        let k = 1.0 / self.w;
        let (mx, my) = (self.x * k, self.y * k);
        Central {
            mean: Vec2::new(mx, my),
            xx: (self.xx * k - mx * mx).max(0.0),
            xy: self.xy * k - mx * my,
            yy: (self.yy * k - my * my).max(0.0),
            ..Central::default()
        }
    }

    /// All central moments.
    #[must_use]
    pub fn central(&self) -> Central {
        let Some(mean) = self.mean() else {
            return Central::default();
        };
        let mut about = Self::default();
        about.merge(self, -mean);
        let k = 1.0 / self.w;
        Central {
            mean,
            xx: (about.xx * k).max(0.0),
            xy: about.xy * k,
            yy: (about.yy * k).max(0.0),
            xz: about.xz * k,
            yz: about.yz * k,
            zz: (about.zz * k).max(0.0),
        }
    }

    /// Moments of unweighted points about `origin`.
    #[must_use]
    pub fn of(points: &[Point], origin: Point) -> Self {
        let mut m = Self::default();
        for &p in points {
            m.add(p - origin, 1.0);
        }
        m
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn merging_with_a_shift_is_adding_the_shifted_points() {
        let points = [
            Vec2::new(1.0, 2.0),
            Vec2::new(-3.0, 0.5),
            Vec2::new(4.0, -1.5),
        ];
        let shift = Vec2::new(7.0, -11.0);
        let mut own = Moments::default();
        let mut whole = Moments::default();
        for (i, &p) in points.iter().enumerate() {
            let w = 1.0 + i as f64;
            own.add(p, w);
            whole.add(p + shift, w);
        }
        let mut merged = Moments::default();
        merged.merge(&own, shift);
        let close = |a: f64, b: f64| (a - b).abs() <= 1e-12 * b.abs().max(1.0);
        assert!(close(merged.zz, whole.zz) && close(merged.xz, whole.xz));
        assert!(close(merged.yz, whole.yz) && close(merged.xy, whole.xy));
        assert!(close(merged.xx, whole.xx) && close(merged.yy, whole.yy));
        assert!(close(merged.x, whole.x) && close(merged.y, whole.y));
    }
}

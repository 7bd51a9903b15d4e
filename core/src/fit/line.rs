//! The straight line nearest to a run of points, orthogonally.
//!
//! Total least squares: through the mean, along the larger principal axis (Pearson 1901). The
//! smaller eigenvalue of the second moments is the mean square distance.

use crate::geom::{Central, Moments, Point, Vec2};

/// A fitted line: a point on it, its unit direction, and the mean square distance of the points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineFit {
    /// A point on the line (the points' mean).
    pub through: Point,
    /// Unit direction.
    pub direction: Vec2,
    /// Mean square distance, mm².
    pub mean_square: f64,
}

/// Mean square distance of the run from its best line, mm².
#[must_use]
pub fn line_misfit(c: &Central) -> f64 {
    let half_sum = 0.5 * (c.xx + c.yy);
    let half_gap = 0.5 * (c.xx - c.yy);
    let root = (half_gap * half_gap + c.xy * c.xy).sqrt();
    let large = half_sum + root;
    // The product of the eigenvalues over the larger one: no cancellation.
    if large > 0.0 {
        ((c.xx * c.yy - c.xy * c.xy) / large).max(0.0)
    } else {
        0.0
    }
}

/// Unit direction of the larger principal axis.
#[must_use]
pub fn principal_direction(c: &Central) -> Vec2 {
    Vec2::from_angle(0.5 * libm::atan2(2.0 * c.xy, c.xx - c.yy))
}

/// The line nearest to unweighted points; `None` for fewer than two distinct points.
#[must_use]
pub fn fit_line(points: &[Point]) -> Option<LineFit> {
    let origin = *points.first()?;
    let c = Moments::of(points, origin).second();
    (c.xx + c.yy > 0.0).then(|| LineFit {
        through: origin + c.mean,
        direction: principal_direction(&c),
        mean_square: line_misfit(&c),
    })
}

//! Repeats, dwell and oversampling: many samples of one place become one.
//!
//! A resting pen leaves hundreds of samples in one spot and a fast digitiser a hundred to the
//! millimetre. Neither says more about the outline, and both mislead whatever counts samples or
//! measures length along them: with noise larger than the step, the raw path is many times as long
//! as the line. So neighbouring samples are gathered while they stay within a small *reach* of the
//! first of the group, and the group's mean stands for all of it. The mean uses every sample, which
//! keeping one of them would not.
//!
//! The reach is 0.35 mm (for 1 mm stations), or twice the sample-to-sample noise where that is
//! larger. A pen whose steps are longer than the reach passes through untouched, every sample a
//! group of its own. A corner is displaced by a third of the reach at most.
//!
//! One pass, in order, no memory besides the result.

use super::measure;
use crate::geom::{Point, Vec2};

/// Samples nearer than this to the first of their group are one place, mm at 1 mm stations.
const REACH: f64 = 0.35;

/// The run with every group of samples in one place replaced by its mean. `unit` is the length that
/// stands for 1 mm.
pub(super) fn thin(points: &[Point], unit: f64) -> Vec<Point> {
    let noise = measure::deviation(points, 1) / 1.44;
    // Curvature of a sparse pen counts as deviation too; there steps are longer than the reach anyway.
    let reach = (REACH * unit).max((2.0 * noise).min(unit));
    let reach2 = reach * reach;
    let mut kept = Vec::new();
    let Some(&first) = points.first() else {
        return kept;
    };
    let (mut anchor, mut sum, mut count) = (first, Vec2::default(), 0.0);
    for &p in points {
        let off = p - anchor;
        if off.length_squared() > reach2 {
            kept.push(anchor + sum / count);
            (anchor, sum, count) = (p, Vec2::default(), 1.0);
        } else {
            sum += off;
            count += 1.0;
        }
    }
    kept.push(anchor + sum / count);
    kept
}

//! Angles, radians.

use super::Vec2;
use core::f64::consts::{PI, TAU};

/// The same direction in (-π, π].
#[must_use]
pub fn normalize_angle(angle: f64) -> f64 {
    let a = libm::remainder(angle, TAU);
    if a <= -PI { a + TAU } else { a }
}

/// The turn from direction `a` to direction `b`, in (-π, π]; positive is to the left.
#[must_use]
pub fn turn_between(a: Vec2, b: Vec2) -> f64 {
    libm::atan2(a.cross(b), a.dot(b))
}

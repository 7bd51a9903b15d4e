//! Points and vectors, kept distinct so that nonsense such as adding two points does not compile.

use core::ops::{Add, AddAssign, Div, Mul, Neg, Sub};
use serde::{Deserialize, Serialize};

/// A place on the plate, in mm, y up. In documents it is `[x, y]`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
#[cfg_attr(
    feature = "types",
    derive(ts_rs::TS),
    ts(rename = "Place", type = "[number, number]")
)]
pub struct Point {
    /// Across, mm.
    pub x: f64,
    /// Up, mm.
    pub y: f64,
}

/// A step from one place to another, in mm.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(from = "[f64; 2]", into = "[f64; 2]")]
#[cfg_attr(
    feature = "types",
    derive(ts_rs::TS),
    ts(rename = "Step", type = "[number, number]")
)]
pub struct Vec2 {
    /// Across, mm.
    pub x: f64,
    /// Up, mm.
    pub y: f64,
}

impl Point {
    /// The place `(x, y)`.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Distance to another place, mm.
    #[must_use]
    pub fn distance(self, other: Self) -> f64 {
        (other - self).length()
    }

    /// The place a fraction `t` of the way to `other`.
    #[must_use]
    pub fn lerp(self, other: Self, t: f64) -> Self {
        self + (other - self) * t
    }

    /// Half way to `other`.
    #[must_use]
    pub fn midpoint(self, other: Self) -> Self {
        Self::new(0.5 * (self.x + other.x), 0.5 * (self.y + other.y))
    }

    /// The step from the origin to here.
    #[must_use]
    pub const fn to_vec(self) -> Vec2 {
        Vec2::new(self.x, self.y)
    }

    /// Neither coordinate is NaN or infinite.
    #[must_use]
    pub fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite()
    }
}

impl Vec2 {
    /// The step `(x, y)`.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// The unit step in the direction `angle` (radians, counter-clockwise from +x).
    #[must_use]
    pub fn from_angle(angle: f64) -> Self {
        let (sin, cos) = libm::sincos(angle);
        Self::new(cos, sin)
    }

    /// Dot product.
    #[must_use]
    pub fn dot(self, other: Self) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// Cross product: positive when `other` lies to the left.
    #[must_use]
    pub fn cross(self, other: Self) -> f64 {
        self.x * other.y - self.y * other.x
    }

    /// Length, mm.
    #[must_use]
    pub fn length(self) -> f64 {
        (self.x * self.x + self.y * self.y).sqrt()
    }

    /// Squared length, mm².
    #[must_use]
    pub fn length_squared(self) -> f64 {
        self.dot(self)
    }

    /// Direction, radians in (-π, π].
    #[must_use]
    pub fn angle(self) -> f64 {
        libm::atan2(self.y, self.x)
    }

    /// Turned a quarter turn to the left.
    #[must_use]
    pub const fn left(self) -> Self {
        Self::new(-self.y, self.x)
    }

    /// The same direction with length 1, or `None` where there is no direction.
    #[must_use]
    pub fn unit(self) -> Option<Self> {
        let length = self.length();
        (length > 0.0 && length.is_finite()).then(|| self * (1.0 / length))
    }
}

impl From<[f64; 2]> for Point {
    fn from([x, y]: [f64; 2]) -> Self {
        Self::new(x, y)
    }
}

impl From<Point> for [f64; 2] {
    fn from(p: Point) -> Self {
        [p.x, p.y]
    }
}

impl From<[f64; 2]> for Vec2 {
    fn from([x, y]: [f64; 2]) -> Self {
        Self::new(x, y)
    }
}

impl From<Vec2> for [f64; 2] {
    fn from(v: Vec2) -> Self {
        [v.x, v.y]
    }
}

impl Add<Vec2> for Point {
    type Output = Self;
    fn add(self, step: Vec2) -> Self {
        Self::new(self.x + step.x, self.y + step.y)
    }
}

impl Sub<Vec2> for Point {
    type Output = Self;
    fn sub(self, step: Vec2) -> Self {
        Self::new(self.x - step.x, self.y - step.y)
    }
}

impl Sub for Point {
    type Output = Vec2;
    fn sub(self, other: Self) -> Vec2 {
        Vec2::new(self.x - other.x, self.y - other.y)
    }
}

impl Add for Vec2 {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.x + other.x, self.y + other.y)
    }
}

impl AddAssign for Vec2 {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sub for Vec2 {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.x - other.x, self.y - other.y)
    }
}

impl Mul<f64> for Vec2 {
    type Output = Self;
    fn mul(self, k: f64) -> Self {
        Self::new(self.x * k, self.y * k)
    }
}

impl Div<f64> for Vec2 {
    type Output = Self;
    fn div(self, k: f64) -> Self {
        Self::new(self.x / k, self.y / k)
    }
}

impl Neg for Vec2 {
    type Output = Self;
    fn neg(self) -> Self {
        Self::new(-self.x, -self.y)
    }
}

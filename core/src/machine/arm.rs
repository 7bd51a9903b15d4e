//! A two-link arm: joint angles to tip and back, and re-reading a trace taken with another tip.
//!
//! Words as in robotics texts (Lynch and Park, *Modern Robotics*, ch. 4 and 6): the arm turns about
//! its **base**; **link 1** runs from the base to the elbow, **link 2** from the elbow to the wrist;
//! **joint 1** is the angle of link 1 from the base angle, **joint 2** the angle of link 2 from the
//! direction of link 1. A **tip** (stylus, pen, torch) is fixed to link 2, its **offset** measured
//! from the wrist along link 2 and to the left of it.
//!
//! Two poses reach almost every place: they mirror each other across the line from base to tip. Which
//! one is in use is a property of the machine: the elbow lies to the left or to the right of that
//! line, seen from the base.
//!
//! A machine that believes it carries one tip while another did the tracing reports the wrong places.
//! Its joint angles, though, were right. [`retip`] goes back to them through the believed tip and forward
//! through the true one. That is no shift: the offset turns with the last link.

use crate::Refusal;
use crate::geom::{Point, Vec2, normalize_angle};
use crate::trace::{Stroke, Trace};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// On which side of the line from base to tip the elbow lies, seen from the base.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub enum Elbow {
    /// To the left: joint 2 turns to the right (negative) for a tip on the link's line.
    #[default]
    Left,
    /// To the right: joint 2 turns to the left (positive) for a tip on the link's line.
    Right,
}

/// The geometry of an arm with the tips it can carry.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "types", derive(ts_rs::TS))]
pub struct Arm {
    /// Base to elbow, mm.
    pub link1: f64,
    /// Elbow to wrist, mm.
    pub link2: f64,
    /// Where the base is on the plate, mm.
    #[serde(default)]
    pub base: Point,
    /// Direction of link 1 when joint 1 is 0, radians from +x (degrees in files).
    #[serde(default, rename = "base_angle_deg", with = "super::profile::degrees")]
    #[cfg_attr(feature = "types", ts(type = "number"))]
    pub base_angle: f64,
    /// On which side the elbow lies.
    #[serde(default)]
    pub elbow: Elbow,
    /// Offset of each tip from the wrist, mm: along link 2, and to the left of it.
    #[serde(default)]
    pub tips: BTreeMap<String, Vec2>,
}

/// The two joint angles, radians.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Joints {
    /// Link 1 from the base angle.
    pub first: f64,
    /// Link 2 from the direction of link 1.
    pub second: f64,
}

/// A place the arm cannot reach with the tip in question.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unreachable {
    /// Stroke, counted from 0.
    pub stroke: usize,
    /// Point in the stroke, counted from 0.
    pub point: usize,
    /// The place.
    pub at: Point,
    /// How far beyond reach (positive), or too near the base (negative), mm.
    pub beyond: f64,
}

/// A trace re-read with the true tip.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Retipped {
    /// The trace as the true tip drew it; points out of reach are left out.
    pub trace: Trace,
    /// Points that the arm cannot have reached with the believed tip.
    pub unreachable: Vec<Unreachable>,
}

impl Arm {
    /// Says what makes no arm.
    ///
    /// # Errors
    /// Links must be lengths, everything finite and within the documented limit.
    pub fn check(&self) -> Result<(), Refusal> {
        for (name, length) in [("link1", self.link1), ("link2", self.link2)] {
            if !(length > 0.0 && length <= crate::limits::MAX_COORDINATE) {
                return Err(Refusal::Setting(format!(
                    "{name} of the arm is {length}: it must be a length over 0"
                )));
            }
        }
        if !(self.base.is_finite() && self.base_angle.is_finite()) {
            return Err(Refusal::Setting("the arm's base is no place".into()));
        }
        for (name, tip) in &self.tips {
            let size = tip.length();
            if !size.is_finite() || size > crate::limits::MAX_COORDINATE {
                return Err(Refusal::Setting(format!(
                    "the offset of tip {name} is {size} mm: that is no offset"
                )));
            }
            if (*tip + Vec2::new(self.link2, 0.0)).length() == 0.0 {
                return Err(Refusal::Setting(format!(
                    "tip {name} lies on the elbow: its offset cannot be right"
                )));
            }
        }
        Ok(())
    }

    /// Offset of a tip by name.
    ///
    /// # Errors
    /// Names the tips there are.
    pub fn tip(&self, name: &str) -> Result<Vec2, Refusal> {
        self.tips.get(name).copied().ok_or_else(|| {
            let names: Vec<&str> = self.tips.keys().map(String::as_str).collect();
            Refusal::Setting(format!(
                "the arm has no tip called {name}; it has: {}",
                if names.is_empty() {
                    "none".into()
                } else {
                    names.join(", ")
                }
            ))
        })
    }

    /// Where a tip is at these joint angles.
    #[must_use]
    pub fn forward(&self, joints: Joints, tip: Vec2) -> Point {
        let first = self.base_angle + joints.first;
        let last = Vec2::from_angle(first + joints.second);
        self.base
            + Vec2::from_angle(first) * self.link1
            + last * (self.link2 + tip.x)
            + last.left() * tip.y
    }

    /// The joint angles that bring a tip to a place, on the arm's own elbow side.
    ///
    /// # Errors
    /// How far the place is beyond reach, mm (positive), or too near the base (negative).
    pub fn inverse(&self, at: Point, tip: Vec2) -> Result<Joints, f64> {
        // The tip makes link 2 longer and turns it: solve for that effective link.
        let effective = Vec2::new(self.link2 + tip.x, tip.y);
        let (l1, l2) = (self.link1, effective.length());
        let to = at - self.base;
        let distance = to.length();
        if distance.is_nan() || distance > l1 + l2 {
            return Err(distance - (l1 + l2));
        }
        if distance < (l1 - l2).abs() {
            return Err(distance - (l1 - l2).abs());
        }
        // Half-angle form of the law of cosines: keeps its digits where the arm is nearly straight
        // or folded, where an arc cosine loses half of them.
        let outer = ((l1 + l2) - distance) * ((l1 + l2) + distance);
        let inner = (distance - (l1 - l2)) * (distance + (l1 - l2));
        let bend = 2.0 * libm::atan2(outer.max(0.0).sqrt(), inner.max(0.0).sqrt());
        let bend = match self.elbow {
            Elbow::Left => -bend,
            Elbow::Right => bend,
        };
        let (sin, cos) = libm::sincos(bend);
        let toward = to.angle() - libm::atan2(l2 * sin, l1 + l2 * cos);
        Ok(Joints {
            first: normalize_angle(toward - self.base_angle),
            second: normalize_angle(bend - effective.angle()),
        })
    }

    /// On which side of the line from base to tip the elbow lies at these joint angles.
    #[must_use]
    pub fn side(&self, joints: Joints, tip: Vec2) -> Elbow {
        let bend = joints.second + Vec2::new(self.link2 + tip.x, tip.y).angle();
        if normalize_angle(bend) < 0.0 {
            Elbow::Left
        } else {
            Elbow::Right
        }
    }

    /// Nearest and farthest distance from the base that a tip reaches, mm.
    #[must_use]
    pub fn reach(&self, tip: Vec2) -> [f64; 2] {
        let l2 = Vec2::new(self.link2 + tip.x, tip.y).length();
        [(self.link1 - l2).abs(), self.link1 + l2]
    }
}

impl Unreachable {
    /// One sentence naming the point.
    #[must_use]
    pub fn sentence(&self) -> String {
        let how = if self.beyond > 0.0 {
            "beyond the arm's reach"
        } else {
            "too near the base"
        };
        format!(
            "stroke {}, point {} at ({:.3}, {:.3}) is {:.3} mm {how}",
            self.stroke + 1,
            self.point + 1,
            self.at.x,
            self.at.y,
            self.beyond.abs()
        )
    }
}

/// Re-reads a trace: the machine believed `believed`, but `actual` did the tracing. Geometry that was
/// drawn rather than traced is left as it is. Exact: the only error is that of the arithmetic, below
/// 1e-9 mm for arms of shop size.
///
/// # Errors
/// Refuses an arm that is none.
pub fn retip(trace: &Trace, arm: &Arm, believed: Vec2, actual: Vec2) -> Result<Retipped, Refusal> {
    arm.check()?;
    let mut out = Retipped {
        trace: Trace {
            drawn: trace.drawn.clone(),
            ..Trace::default()
        },
        unreachable: Vec::new(),
    };
    for (number, stroke) in trace.strokes.iter().enumerate() {
        let mut read = Stroke::default();
        for (i, &at) in stroke.points.iter().enumerate() {
            match arm.inverse(at, believed) {
                Ok(joints) => {
                    read.points.push(arm.forward(joints, actual));
                    read.times.extend(stroke.times.get(i));
                }
                Err(beyond) => out.unreachable.push(Unreachable {
                    stroke: number,
                    point: i,
                    at,
                    beyond,
                }),
            }
        }
        if !read.points.is_empty() {
            out.trace.strokes.push(read);
        }
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::f64::consts::PI;

    fn arm(link1: f64, link2: f64, elbow: Elbow) -> Arm {
        Arm {
            link1,
            link2,
            base: Point::new(0.0, 0.0),
            base_angle: 0.0,
            elbow,
            tips: BTreeMap::new(),
        }
    }

    fn assert_joints(arm: &Arm, at: [f64; 2], want: [f64; 2]) {
        let at = Point::from(at);
        let joints = arm.inverse(at, Vec2::default()).unwrap();
        assert!((joints.first - want[0]).abs() < 1e-12, "{joints:?}");
        assert!((joints.second - want[1]).abs() < 1e-12, "{joints:?}");
        assert!(arm.forward(joints, Vec2::default()).distance(at) < 1e-12);
        assert_eq!(arm.side(joints, Vec2::default()), arm.elbow);
    }

    /// Lynch and Park, Modern Robotics, Example 6.1 (the wrist), seen second-hand; answers recomputed.
    #[test]
    fn links_3_and_2_at_3_2() {
        assert_joints(&arm(3.0, 2.0, Elbow::Right), [3.0, 2.0], [0.0, PI / 2.0]);
        let up = 67.380_135_051_959_6_f64.to_radians();
        assert_joints(&arm(3.0, 2.0, Elbow::Left), [3.0, 2.0], [up, -PI / 2.0]);
    }

    /// A textbook exercise, second-hand; answers recomputed.
    #[test]
    fn links_1_and_2_at_2_5_1_4() {
        let bend = 0.639_322_791_093_279;
        let right = [0.080_933_565_496_552_2, bend];
        assert_joints(&arm(1.0, 2.0, Elbow::Right), [2.5, 1.4], right);
        let left = [0.940_043_078_336_999, -bend];
        assert_joints(&arm(1.0, 2.0, Elbow::Left), [2.5, 1.4], left);
    }

    #[test]
    fn says_how_far_out_of_reach() {
        let arm = arm(3.0, 2.0, Elbow::Left);
        let beyond = arm.inverse(Point::new(7.0, 0.0), Vec2::default());
        assert_eq!(beyond, Err(2.0));
        let near = arm.inverse(Point::new(0.25, 0.0), Vec2::default());
        assert_eq!(near, Err(-0.75));
        assert!(
            arm.inverse(Point::new(f64::NAN, 0.0), Vec2::default())
                .is_err()
        );
    }
}

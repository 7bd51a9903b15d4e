//! What must hold of every outline that leaves a stage, whatever the input was.
//!
//! Independent of the code it checks: it looks at the numbers as they are stored and at nothing
//! derived from them by the outline's own methods.

use super::{Chain, Circle, Loop, Outline, Path, Role, Shape};
use core::f64::consts::TAU;

impl Outline {
    /// Checks the structure: counts, finite numbers, turns in range, roles that go with closed or
    /// open courses. Geometry (crossings, nesting) is [`check`](super::check::check)'s business.
    ///
    /// # Errors
    /// Says the first thing that does not hold, with loop and edge counted from 1, as everywhere a person reads.
    pub fn check_invariants(&self) -> Result<(), String> {
        for (i, l) in self.loops.iter().enumerate() {
            holds(l).map_err(|e| format!("loop {}: {e}", i + 1))?;
        }
        match self.marks.iter().position(|m| !m.at.is_finite()) {
            Some(i) => Err(format!("mark {} is not finite", i + 1)),
            None => Ok(()),
        }
    }
}

fn holds(l: &Loop) -> Result<(), String> {
    let closed = match &l.path {
        Path::Circle(c) => circle(c).map(|()| true)?,
        Path::Chain(c) => chain(c)?,
    };
    if closed == (l.role == Role::Open) {
        return Err(format!(
            "role {:?} on a course that is closed: {closed}",
            l.role
        ));
    }
    match l.deviation {
        Some(d) if !(d.rms.is_finite() && d.max.is_finite() && d.rms >= 0.0 && d.max >= 0.0) => {
            Err(format!("its deviation is {d:?}"))
        }
        _ => Ok(()),
    }
}

fn circle(c: &Circle) -> Result<(), String> {
    if c.center.is_finite() && c.radius.is_finite() && c.radius > 0.0 {
        Ok(())
    } else {
        Err(format!("{c:?} is no circle"))
    }
}

/// Whether the chain is closed.
fn chain(c: &Chain) -> Result<bool, String> {
    let (corners, shapes) = (c.corners.len(), c.shapes.len());
    let closed = corners == shapes;
    if !closed && corners != shapes + 1 {
        return Err(format!("{corners} corners and {shapes} edges"));
    }
    if shapes == 0 || (closed && shapes < 2) {
        return Err(format!("{shapes} edges are too few"));
    }
    let ends = c.corners.iter().zip(c.corners.iter().cycle().skip(1));
    for (i, ((from, to), shape)) in ends.zip(&c.shapes).enumerate() {
        if !(from.is_finite() && to.is_finite()) {
            return Err(format!("edge {} is not finite", i + 1));
        }
        if from == to {
            return Err(format!(
                "edge {} starts and ends in ({}, {})",
                i + 1,
                from.x,
                from.y
            ));
        }
        if let Shape::Arc { sweep } = shape
            && !(sweep.abs() > 0.0 && sweep.abs() < TAU)
        {
            return Err(format!("edge {} turns by {sweep}", i + 1));
        }
    }
    Ok(closed)
}

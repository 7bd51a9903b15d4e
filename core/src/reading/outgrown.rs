//! Holes that corrections made too large for the part they lie in.
//!
//! Which loop is a hole is told by how loops lie in one another, and a hole that outgrows its part turns that over:
//! the part would become the hole in it. So what lay where before the corrections is remembered.

use super::Taken;
use crate::hint::Hint;
use crate::outline::nesting::{CHORD, Place, Region, parents};
use crate::outline::numbers::{Numbered, numbers};
use crate::outline::{Bounds, Loop, Outline, Path, Role};
use crate::report::{About, Doubt};

/// A hole and the part it lies in, by the numbers of their loops.
pub(super) type Held = (usize, usize);

/// The holes as they lie before corrections, those made of marks after the loops.
pub(super) fn held(taken: &[Taken], holes: &[Loop], hints: &[Hint]) -> Vec<Held> {
    if hints.is_empty() {
        return Vec::new();
    }
    let loops: Vec<Loop> = taken.iter().map(|t| t.made.clone()).collect();
    let around = parents(&loops);
    let depth = |i: &usize| around.get(*i).and_then(Option::as_ref).map_or(0, Vec::len);
    let innermost = |all: &[usize]| all.iter().copied().max_by_key(depth);
    let mut out: Vec<Held> = Vec::new();
    for (i, own) in around.iter().enumerate() {
        let own = own.as_ref().filter(|own| own.len() % 2 == 1);
        out.extend(own.and_then(|own| innermost(own)).map(|part| (i, part)));
    }
    if holes.is_empty() {
        return out;
    }
    let closed = loops.iter().enumerate().filter(|(_, l)| l.path.is_closed());
    let regions: Vec<(usize, Region)> = closed
        .map(|(i, l)| (i, Region::of(&l.path, CHORD)))
        .collect();
    for (k, hole) in holes.iter().enumerate() {
        let Path::Circle(c) = &hole.path else {
            continue;
        };
        let holds = |r: &&(usize, Region)| r.1.place(c.center) == Place::Inside;
        let own: Vec<usize> = regions.iter().filter(holds).map(|r| r.0).collect();
        let part = innermost(&own).filter(|_| own.len() % 2 == 1);
        out.extend(part.map(|part| (loops.len() + k, part)));
    }
    out
}

/// Holes that lie in their part no more are holes all the same; what one of them swallows is doubted. One that
/// breaks out of the rim is seen where it is cut.
pub(super) fn outgrown(outline: &mut Outline, held: &[Held], doubts: &mut Vec<Doubt>) {
    for &(hole, part) in held {
        let path = |i: usize| outline.loops.get(i).map(|l| l.path.clone());
        let (Some(inner), Some(outer)) = (path(hole), path(part)) else {
            continue;
        };
        if Region::of(&outer, CHORD).holds(&inner) {
            continue;
        }
        let larger = Region::of(&inner, CHORD).holds(&outer);
        set(outline, hole, Role::Hole);
        set(outline, part, Role::Part);
        if let Some(at) = Bounds::of_path(&inner).filter(|_| larger) {
            let text = format!(
                "{} is larger than the part it is in, which would come out without it: look whether the figure is \
                 right, and which of the two was meant",
                named(outline, hole, &at)
            );
            doubts.push(Doubt::at(About::Hint, text, at.min.midpoint(at.max)));
        }
    }
}

fn set(outline: &mut Outline, index: usize, role: Role) {
    if let Some(l) = outline.loops.get_mut(index) {
        let back = clockwise(&l.path);
        l.path = match role {
            Role::Hole => back,
            _ => back.reversed(),
        };
        l.role = role;
    }
}

/// The hole by its number and size.
fn named(outline: &Outline, index: usize, size: &Bounds) -> String {
    let all = numbers(outline);
    let mut holes = all.iter().filter(|n| n.what == Numbered::Hole);
    match holes.find(|n| n.loop_index == Some(index)) {
        Some(n) => format!("hole h{} of {:.1} mm", n.number, size.width()),
        None => format!("the hole of {:.1} x {:.1} mm", size.width(), size.height()),
    }
}

/// The way round that holes run.
pub(super) fn clockwise(path: &Path) -> Path {
    if path.area() > 0.0 {
        path.reversed()
    } else {
        path.clone()
    }
}

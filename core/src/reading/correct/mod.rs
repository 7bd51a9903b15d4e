//! Corrections: what a person asks for holds, and as little else changes as can be.
//!
//! 1. Corners are rounded and made sharp on each figure where it stands ([`mod@reshape`]).
//! 2. Once all loops stand together, what hints ask for ([`asked`]) becomes conditions, and every size, direction and
//!    place that was read a wish ([`wishes`]); all bodies move by the least change ([`crate::relate::change`]).
//!    The trace itself is not asked again: it would pull at what the person just told better.
//! 3. What was found of the edges goes on to hold. It gives way only where a hint says otherwise: what makes things
//!    alike or steps of an angle to sizes, every angle to a hint about an angle.
//! 4. A hint that cannot hold is refused, and told with what it fights; what else moved by more than its ± is told
//!    with its amount.
//! 5. Scale, level and zero move everything as one ([`frame`]).
#![allow(
    clippy::indexing_slicing,
    reason = "bodies are numbered by the joint they stand in"
)]

mod also;
mod asked;
mod back;
mod bodies;
pub(super) mod frame;
mod gives;
mod near;
mod reach;
mod reshape;
mod stand;
mod to_edges;
mod wishes;

pub(super) use also::{is_said, sentence};
pub(super) use reach::in_reach;
pub(super) use reshape::reshape;
pub(super) use to_edges::to_edges;

use self::asked::{Asked, asked};
use super::Taken;
use super::together::{Source, Together};
use crate::hint::{Hint, Says};
use crate::outline::{Bounds, Loop, Mark, Path};
use crate::relate::constraint::Condition;
use crate::relate::quantity::Bodies as _;
use crate::report::{About, Also, Doubt, Note};
use stand::Stand;

/// More free numbers of all bodies are not moved together.
const MOST_NUMBERS: usize = 900;

/// What came of the corrections.
#[derive(Default)]
pub(super) struct Corrected {
    pub together: Option<Together>,
    /// Hints that were refused.
    pub doubts: Vec<Doubt>,
    pub notes: Vec<Note>,
    /// What else moved by more than its ±; edges as the loops were made.
    pub also: Vec<Also>,
}

/// A hint refused, as a doubt.
pub(super) fn refused(hint: &Hint, why: &str) -> Doubt {
    Doubt::at(
        About::Hint,
        format!("{} can't be followed: {why}", hint.words()),
        hint.at,
    )
}

/// Moves everything so that what the hints ask for holds.
pub(super) fn apply(
    taken: &mut [Taken],
    holes: &mut [Loop],
    marks: &mut [Mark],
    together: Option<Together>,
    hints: &[Hint],
) -> Corrected {
    let mut out = Corrected::default();
    if hints.is_empty() {
        out.together = together;
        return out;
    }
    if places(taken, holes, marks) > MOST_NUMBERS {
        out.doubts = hints.iter().map(|h| refused(h, TOO_MANY)).collect();
        out.together = together;
        return out;
    }
    let stand = Stand::of(taken, holes, marks, together.as_ref());
    let mut wanted: Vec<Wanted<'_>> = Vec::new();
    for hint in hints {
        if given_diameter(&stand, holes, hint) {
            continue;
        }
        match asked(&stand.joint, hint) {
            None => {}
            Some(Err(why)) => out.doubts.push(refused(hint, &why)),
            Some(Ok(asked)) if asked.conditions.is_empty() => {}
            // Said again of one thing, the last word counts.
            Some(Ok(asked)) => {
                wanted.retain(|w| !w.asked.is_replaced_by(&asked));
                wanted.push(Wanted { hint, asked });
            }
        }
    }
    if wanted.is_empty() {
        out.together = together;
        return out;
    }
    if stand.joint.numbers() > MOST_NUMBERS {
        let all = wanted.iter().map(|w| refused(w.hint, TOO_MANY));
        out.doubts.extend(all);
        out.together = together;
        return out;
    }
    let Some((done, solved)) = stand.follow(wanted, &mut out.doubts) else {
        out.together = together;
        return out;
    };
    let before = stand.sizes(taken);
    let reached = bounds(taken);
    stand.write_back(&done, &solved, taken, holes, marks);
    out.also = stand.also(&before, &done, &solved, taken);
    out.notes.extend(stand.undone(&solved));
    out.doubts.extend(stretched(&reached, &bounds(taken)));
    out.together = stand.tied(&done, &solved, taken, holes, marks);
    out
}

/// A loop stretched by more than this one way and not the other is a slip of a figure.
const STRETCHED: f64 = 5.0;

fn bounds(taken: &[Taken]) -> Vec<Option<Bounds>> {
    let all = taken.iter().map(|t| Bounds::of_path(&t.made.path));
    all.collect()
}

/// Loops that came out of all proportion: a nought too many in one size, say.
fn stretched(before: &[Option<Bounds>], after: &[Option<Bounds>]) -> Vec<Doubt> {
    let pairs = before.iter().zip(after).enumerate();
    let doubt = |(i, pair): (usize, (&Option<Bounds>, &Option<Bounds>))| {
        let (was, is) = (pair.0.as_ref()?, pair.1.as_ref()?);
        let [wider, higher] = [is.width() / was.width(), is.height() / was.height()];
        let most = (wider / higher).max(higher / wider);
        let text = format!(
            "loop {} was read {:.1} x {:.1} mm large, and corrections make it {:.1} x {:.1} mm: look whether their \
             figures are right",
            i + 1,
            was.width(),
            was.height(),
            is.width(),
            is.height()
        );
        (most > STRETCHED).then(|| Doubt::at(About::Hint, text, is.min.midpoint(is.max)))
    };
    pairs.filter_map(doubt).collect()
}

const TOO_MANY: &str = "the drawing has more edges than are corrected together";

/// How many corners, holes and marks there are: no more numbers than these are ever free to be corrected.
fn places(taken: &[Taken], holes: &[Loop], marks: &[Mark]) -> usize {
    let corners = |l: &Loop| match &l.path {
        Path::Chain(c) => c.corners.len(),
        Path::Circle(_) => 1,
    };
    let made = taken.iter().map(|t| corners(&t.made));
    made.sum::<usize>() + holes.iter().map(corners).sum::<usize>() + marks.len()
}

/// The diameter of a hole that was made of a mark is what a hint says.
fn given_diameter(stand: &Stand, holes: &mut [Loop], hint: &Hint) -> bool {
    let diameter = match hint.says {
        Says::Diameter(d) | Says::Size(d) => d,
        Says::Radius(r) => 2.0 * r,
        _ => return false,
    };
    let (hole, edge) = (
        near::hole(&stand.joint, hint.at),
        near::edge(&stand.joint, hint.at),
    );
    let Some(hole) = hole.filter(|h| edge.is_none_or(|e| h.far < e.far)) else {
        return false;
    };
    if let Source::Hole(i) = stand.sources[hole.what]
        && hole.far < asked::reach(stand.joint.extent())
        && let Some(Path::Circle(c)) = holes.get_mut(i).map(|l| &mut l.path)
        && diameter.is_finite()
        && diameter > 0.0
    {
        c.radius = 0.5 * diameter;
        return true;
    }
    false
}

/// A hint and what it asks for.
#[derive(Clone)]
struct Wanted<'a> {
    hint: &'a Hint,
    asked: Asked,
}

impl Asked {
    /// A later hint says the same thing anew.
    fn is_replaced_by(&self, later: &Self) -> bool {
        match (self.conditions.as_slice(), later.conditions.as_slice()) {
            ([a], [b]) => {
                let one = |c: &Condition| c.constraints.len() == 1;
                let terms = |c: &Condition| c.constraints.first().map(|c| c.terms.clone());
                one(a) && one(b) && terms(a) == terms(b)
            }
            _ => false,
        }
    }
}

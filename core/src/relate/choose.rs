//! Which of the relations that could be asked the stations speak for: the greedy choice.
//!
//! **Idea.** The evidence for a condition `c = 0` against `c` free is the Savage–Dickey ratio (Dickey
//! 1971): the posterior density of `c` at 0 over its prior density there,
//!
//! ```text
//! gain = ln(range) − ½ ln(2πv) − c²/(2v) − price
//! ```
//!
//! with `v` the variance of `c` from the wander, `range` how far `c` could reasonably have been, and
//! `price` how seldom people mean it. Conditions are taken one after the other, the largest gain first,
//! each conditioning the others, those of directions before those of lengths (of a slot with one radius and
//! three tangents the fourth tangent follows only by a square root: by steps that never end): what is already implied earns nothing (its `v` is gone), and what the
//! stations testify against (`c²/2v` large) is refused. A right angle that is hardly off is given more
//! room than any other, and so is a kink where a line runs into an arc: nobody means 88.5 degrees.
//!
//! **Fails** where two relations exclude each other and the greedy order takes the wrong one first.

use super::constraint::Linear;
use super::normal::{Added, Normal};
use super::view::{self, Plane, View};

/// A relation against which the stations testify by more than this (nats a condition: some three and
/// a half standard deviations) is refused whatever it would gain.
const REFUSED: f64 = 6.0;

/// How a relation is favoured that is meant wherever it is nearly so.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Meant {
    /// Nats, however far off it is.
    always: f64,
    /// Nats besides where it is hardly off, which nobody means.
    hardly_off: f64,
    /// How far that is, radians.
    reach: f64,
}

impl Meant {
    /// A right angle.
    pub const SQUARE: Self = Self {
        always: 2.0,
        hardly_off: 4.0,
        reach: 0.052,
    };
    /// An edge that runs into the next without a kink.
    pub const TANGENT: Self = Self {
        always: 0.0,
        hardly_off: 6.0,
        reach: 0.25,
    };
}

/// What is known of a proposal besides its conditions.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Terms {
    /// How seldom it is meant, nats.
    pub price: f64,
    /// It is meant wherever it is nearly so, unless the stations plainly say otherwise.
    pub meant: Option<Meant>,
    /// It asks for a length or a radius, and waits until all directions are settled.
    pub late: bool,
}

/// A proposal made linear: conditions, all or none.
pub(crate) struct Asked {
    /// Its place among those asked.
    pub index: usize,
    pub terms: Terms,
    pub views: Vec<View>,
}

impl Asked {
    /// What speaks for a relation that is hardly off however the stations speak, nats: the nearer, the more.
    fn lenience(&self) -> f64 {
        match (self.terms.meant, self.views.as_slice()) {
            (Some(meant), [view]) => {
                let off = view.expected() / meant.reach;
                meant.hardly_off * libm::exp(-off * off)
            }
            _ => 0.0,
        }
    }
}

/// What is still asked, and what the conditions taken so far leave free.
pub(crate) struct Choice {
    /// The equations with all that was taken.
    pub normal: Normal,
    /// Proposals neither taken nor refused.
    pub left: Vec<Asked>,
    /// All variances are so much larger.
    pub noise_factor: f64,
}

impl Choice {
    /// The proposal that gains most over its price and what speaks against it: its place in `left`.
    pub fn best(&self) -> Option<usize> {
        self.best_of(false).or_else(|| self.best_of(true))
    }

    fn best_of(&self, late: bool) -> Option<usize> {
        let mut best: Option<(usize, f64)> = None;
        let asked = self.left.iter().enumerate();
        for (i, asked) in asked.filter(|a| a.1.terms.late == late) {
            let (gain, against) = view::gain(&asked.views, self.noise_factor);
            let mut net = gain - against - asked.terms.price;
            let lenience = asked.lenience();
            let most = REFUSED * asked.views.len() as f64 + lenience;
            if let Some(meant) = asked.terms.meant
                && gain > 0.0
            {
                net += meant.always + lenience;
            }
            if against <= most && net > best.map_or(0.0, |b| b.1) {
                best = Some((i, net));
            }
        }
        best.map(|b| b.0)
    }

    /// Takes a proposal; tells it and what it gains, nats, without what speaks against it: that is in the
    /// misfit of the bound figure.
    pub fn take(&mut self, i: usize) -> (Asked, f64) {
        let asked = self.left.swap_remove(i);
        let gain = view::gain(&asked.views, self.noise_factor).0;
        for view in &asked.views {
            self.condition(&view.linear);
        }
        (asked, gain)
    }

    /// Takes a condition that is to hold anyway.
    pub fn condition(&mut self, linear: &Linear) {
        let added = self
            .normal
            .condition(&linear.gradient, -linear.value, f64::INFINITY);
        if added == Added::New
            && let Some((normal, offset)) = self.normal.last_condition()
        {
            let plane = Plane::of(normal, offset, self.normal.free_step());
            let views = self.left.iter_mut().flat_map(|a| &mut a.views);
            // What is implied stays so.
            for view in views.filter(|v| !v.is_implied()) {
                view.condition(&plane);
            }
        }
    }
}

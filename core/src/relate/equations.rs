//! The equations of the joint solve: what every block of stations says of the figure.
//!
//! 1. Every station belongs to one edge. Its signed distance and derivatives are averaged over blocks
//!    of some 3 mm, and blocks are whitened along each edge: a hand's wander is an Ornstein–Uhlenbeck
//!    process to good approximation, so neighbouring blocks are not independent evidence, and a
//!    sudden step weighs more than a slow drift of the same size.
//! 2. The hand rounds corners: near a sharp joint the offset of a smoothed corner is subtracted, its
//!    one width `c` being solved for with the rest (trimming stations instead throws away evidence).
//! 3. Blocks beyond 4 standard deviations count linearly (Huber 1964).
//!
//! Each edge gathers its equations in its own few numbers (three of a line: the offsets at either end
//! and the width; six of an arc), which are then added to the whole.
#![allow(
    clippy::indexing_slicing,
    reason = "every edge, corner and free number has its place in tables made for the figure at hand"
)]

use super::blocks::{
    EdgeResiduals, MOST_PASSES, Noise, Rounding, Running, Slow, block_noise, rounded,
};
use super::constraint::Constraint;
use super::dense::dot;
use super::figure::Figure;
use super::normal::Normal;
use super::quantity::{Quantity, Side};
use super::rows::{EdgeNormal, Row, Sums};
use crate::fit::partition::Kind;
use crate::geom::{Point, Vec2};
use crate::trace::Stations;
use core::f64::consts::PI;

/// Length of a block, in units.
const BLOCK: f64 = 3.0;
/// Most blocks of an edge, and while a candidate is on its way.
const MOST: usize = 60;
const MOST_COARSE: usize = 30;
/// Blocks of more stations are asked for what their means hide.
const LONG: usize = 6;
/// How far a hand bows a stretch: against its length, and at most, in units.
const BOWED: f64 = 0.15;
const BOWED_MOST: f64 = 6.0;
/// Standard deviations beyond which a block counts linearly.
const ROBUST: f64 = 4.0;
/// Narrowest and widest rounding of a corner by the hand: in units, and against half a unit and the
/// wander together.
const NARROWEST_CORNER: f64 = 0.05;
const WIDEST_CORNER: f64 = 2.2;
/// Beyond so many widths from a corner nothing of its rounding is left.
const ROUNDED_REACH: f64 = 3.5;
/// A joint turns enough to be rounded by the hand from this sine on.
const SHARP_SINE: f64 = 0.3;

/// A joint that turns more than this is where the hand turned, radians.
pub const TURNING: f64 = 0.3;
/// How far from there the corner may be, in wanders, besides its rounding.
const TURNS: f64 = 2.0;
/// Stations before and after a corner that must have been traced for it to have been seen.
const SEEN: usize = 2;

/// What is solved: the stations and how the hand errs. Made once for all readings of a path.
pub struct Problem<'a> {
    /// The conditioned path.
    pub stations: &'a Stations,
    /// How the hand errs.
    pub noise: Noise,
    /// Both parts of it as one.
    whole: Noise,
    /// The drawing's diagonal, mm.
    pub size: f64,
    /// These are all the stations, not a stretch of them.
    pub all: bool,
    running: Running,
}

/// What moves in a solve.
#[derive(Clone, Debug)]
pub(super) struct State {
    pub figure: Figure,
    /// First station of each edge.
    pub starts: Vec<usize>,
    /// Width of the smoothing that rounded the corners, mm.
    pub corner_width: f64,
}

/// The equations at a state.
pub(super) struct System {
    pub h: Vec<f64>,
    pub g: Vec<f64>,
    /// Where the coordinates of places stand in a row, x before y, and how many places.
    pub places: Vec<(usize, usize)>,
    /// What the corner width's own curvature adds to its place in `h`, if the rest bears it.
    pub bend: f64,
    /// Misfit and what the priors add to it, nats.
    pub cost: f64,
    /// Mean square distance, mm².
    pub mean_square: f64,
}

/// What a block beyond [`ROBUST`] weighs in the second derivatives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Weighing {
    /// As in the gradient: what is known of the figure.
    Known,
    /// Less: nearer to the true curvature, for quicker descent.
    Descent,
    /// As that, with few blocks an edge.
    Coarse,
}

impl Weighing {
    /// Most blocks of an edge.
    fn most(self) -> usize {
        match self {
            Self::Known | Self::Descent => MOST,
            Self::Coarse => MOST_COARSE,
        }
    }

    /// What a block counts in the second derivatives, against the gradient, when it is so robust there.
    fn less(self, robust: f64) -> f64 {
        match self {
            Self::Known => 1.0,
            Self::Descent | Self::Coarse => robust,
        }
    }
}

/// One edge on its stretch: its blocks, the sines of the joints at either end, its noise.
struct Stretch {
    from: usize,
    count: usize,
    parts: usize,
    sines: [f64; 2],
    noise: (f64, f64, f64),
    weighing: Weighing,
}

impl<'a> Problem<'a> {
    /// The problem of these stations.
    #[must_use]
    pub fn new(stations: &'a Stations, noise: &Noise) -> Self {
        Self {
            all: true,
            ..Self::of_part(stations, noise, stations.diagonal())
        }
    }

    /// The problem of these stations, which are part of a drawing of diagonal `size`, mm.
    #[must_use]
    pub fn of_part(stations: &'a Stations, noise: &Noise, size: f64) -> Self {
        Self {
            stations,
            noise: *noise,
            whole: noise.whole(),
            size,
            all: false,
            running: Running::new(stations),
        }
    }

    /// Takes a slow error for known from here on.
    pub fn with_slow(&mut self, slow: Slow) {
        self.noise.slow = slow;
        self.whole = self.noise.whole();
    }

    /// The length that places are told by, mm: never less than a unit.
    pub(super) fn extent(&self) -> f64 {
        self.size.max(self.noise.unit)
    }

    /// The ordinary rounding of a corner by the hand, mm.
    #[must_use]
    pub fn rounding(&self) -> f64 {
        0.5 * self.noise.unit + self.noise.size
    }

    /// Least and largest corner width, mm; `None` where corners are not rounded.
    pub(super) fn widths(&self) -> Option<(f64, f64)> {
        self.noise.rounds_corners.then(|| {
            let low = NARROWEST_CORNER * self.noise.unit;
            (low, WIDEST_CORNER * self.rounding())
        })
    }

    /// How edge `e` is cut into blocks: first station, number of stations, number of blocks.
    fn cut(&self, state: &State, e: usize, most: usize) -> (usize, usize, usize) {
        let (from, to) = stretch(&state.starts, e, self.stations.len());
        let count = to.saturating_sub(from).max(1);
        let length = (BLOCK * self.noise.unit).max(self.stations.sample_step);
        let parts = libm::round(count as f64 * self.stations.step / length) as usize;
        (from, count, parts.clamp(1, count).min(most))
    }

    /// The equations at `state`; with `residuals`, those of each edge are put there.
    pub(super) fn system(
        &self,
        state: &State,
        weighing: Weighing,
        mut residuals: Option<&mut Vec<EdgeResiduals>>,
    ) -> Option<System> {
        let f = &state.figure;
        let p = f.parameters() + 1;
        let (mut h, mut g) = (vec![0.0; p * p], vec![0.0; p]);
        let mut sums = Sums::default();
        let sharp = self.sharp_sines(f)?;
        for e in 0..f.len() {
            let view = f.view(e)?;
            let (from, count, parts) = self.cut(state, e, weighing.most());
            let length = count as f64 * self.stations.step / parts as f64;
            let before = if e == 0 && !f.closed {
                0.0
            } else {
                sharp[(e + f.len() - 1) % f.len()]
            };
            let stretch = Stretch {
                from,
                count,
                parts,
                sines: [before, sharp[e]],
                noise: block_noise(&self.whole, length),
                weighing,
            };
            let mut seen = residuals.is_some().then(|| EdgeResiduals {
                blocks: Vec::with_capacity(parts),
                length,
                freedoms: if f.kinds[e] == Kind::Arc { 3 } else { 2 },
                hidden: 0.0,
                seam: None,
            });
            let c = state.corner_width;
            let (a, b) = (2 * e, 2 * f.end_corner(e));
            if let Some(slot) = f.bulge_slot(e) {
                let see = |p| {
                    let s = view.see(p);
                    let d = [
                        s.by_from.x,
                        s.by_from.y,
                        s.by_to.x,
                        s.by_to.y,
                        s.by_bulge,
                        0.0,
                    ];
                    (s.distance, d)
                };
                let sag = view.curvature() / 24.0;
                let own = self.gather(&stretch, c, sag, see, &mut sums, seen.as_mut());
                own.scatter(&mut h, &mut g, &[a, a + 1, b, b + 1, slot, p - 1]);
            } else {
                let own = self.gather(
                    &stretch,
                    c,
                    0.0,
                    |p| view.see_line(p),
                    &mut sums,
                    seen.as_mut(),
                );
                own.of_line(&view)
                    .scatter(&mut h, &mut g, &[a, a + 1, b, b + 1, p - 1]);
            }
            if let Some(out) = residuals.as_mut() {
                out.extend(seen);
            }
        }
        let cost = sums.misfit + self.add_priors(state, &mut h, &mut g);
        if weighing == Weighing::Known {
            self.add_grazes(f, &mut h)?;
        }
        if residuals.is_some() {
            // What is known in the end; on the way it would only shorten steps.
            self.add_turns(state, &mut h);
        }
        Some(System {
            h,
            g,
            places: vec![(0, f.corners.len())],
            bend: sums.bend,
            cost,
            mean_square: sums.square / sums.weight.max(1e-12),
        })
    }

    /// Sine of the turn after each edge, where it is sharp enough to be rounded; 0 where not.
    fn sharp_sines(&self, f: &Figure) -> Option<Vec<f64>> {
        let m = f.len();
        let mut out = vec![0.0; m];
        if !self.noise.rounds_corners || m == 0 {
            return Some(out);
        }
        let first = f.view(0)?.ends();
        let mut here = first;
        for (e, sine) in out.iter_mut().enumerate() {
            let next = if e + 1 < m {
                f.view(e + 1)?.ends()
            } else {
                first
            };
            if e + 1 < m || f.closed {
                let s = here.1.cross(next.0);
                *sine = if s.abs() > SHARP_SINE { s } else { 0.0 };
            }
            here = next;
        }
        Some(out)
    }

    /// Gathers the blocks of one edge. `see` gives the distance of a place and its derivatives, `sag`
    /// what the mean of a block lies inside an arc, against its length squared.
    #[inline]
    fn gather<const N: usize>(
        &self,
        stretch: &Stretch,
        width: f64,
        sag: f64,
        see: impl Fn(Point) -> (f64, [f64; N]),
        sums: &mut Sums,
        mut residuals: Option<&mut EdgeResiduals>,
    ) -> EdgeNormal<N> {
        let Stretch {
            from,
            count,
            parts,
            sines,
            weighing,
            ..
        } = *stretch;
        let (first, later, rho) = stretch.noise;
        let step = self.stations.step;
        let reach = ROUNDED_REACH * width;
        let mut normal = EdgeNormal::default();
        let mut before: Option<Row<N>> = None;
        let (whole, part) = (count / parts, count % parts);
        let (mut lo, mut over) = (0, 0);
        let seam = self.seam_after(from, count);
        for block in 0..parts {
            // Block b ends before station (b + 1) · count / parts, rounded down.
            let mut hi = lo + whole;
            over += part;
            if over >= parts {
                over -= parts;
                hi += 1;
            }
            let (mean, weight) = self.running.mean(from + lo, from + hi);
            let len = (hi - lo) as f64 * step;
            let (distance, d) = see(mean);
            let mut row = Row {
                residual: distance + sag * len * len,
                d,
                bend: 0.0,
            };
            let ends = [(lo, hi), (count - hi, count - lo)];
            for ((near, far), sine) in ends.into_iter().zip(sines) {
                let near = near as f64 * step;
                if sine != 0.0 && near < reach {
                    let r: Rounding = rounded(near, far as f64 * step, width);
                    row.residual += sine * r.offset;
                    row.d[N - 1] += sine * r.slope;
                    row.bend += sine * r.bend;
                }
            }
            let share = (weight / len).min(MOST_PASSES);
            sums.square += weight * row.residual * row.residual;
            sums.weight += weight;
            if let Some(out) = residuals.as_mut() {
                out.blocks.push(row.residual * share.min(1.0));
                if hi - lo > LONG {
                    out.hidden += self.hidden(from + lo, from + hi, distance, &see);
                }
            }
            if seam.is_some_and(|s| lo < s + whole / 2 && s + whole / 2 <= hi) && block > 0 {
                before = None;
                if let Some(out) = residuals.as_mut() {
                    out.seam = Some(block);
                }
            }
            let white = match &before {
                Some(b) => row.less(b, rho, later),
                None => row.scaled(first),
            };
            before = Some(row);
            let size = white.residual.abs();
            let robust = if size > ROBUST { ROBUST / size } else { 1.0 };
            sums.misfit += share
                * if size > ROBUST {
                    ROBUST * (size - 0.5 * ROBUST)
                } else {
                    0.5 * size * size
                };
            sums.bend += share * robust * white.residual * white.bend;
            normal.add(&white, share * robust, weighing.less(robust));
            lo = hi;
        }
        normal
    }

    /// How many stations after `from` the pen was set down, if that is within the next `count`.
    fn seam_after(&self, from: usize, count: usize) -> Option<usize> {
        let n = self.stations.len();
        let seam = self.stations.seam?;
        let after = (seam + n - from % n.max(1)) % n.max(1);
        (after > 0 && after < count).then_some(after)
    }

    /// What the mean of stations `from..to` hides, nats: their scatter about it, beyond what a hand bows
    /// a stretch so long and twice the wander's. The teeth of a comb average to nothing.
    fn hidden<const N: usize>(
        &self,
        from: usize,
        to: usize,
        mean: f64,
        see: &impl Fn(Point) -> (f64, [f64; N]),
    ) -> f64 {
        let n = self.stations.len();
        let scatter: f64 = (from..to)
            .map(|k| {
                let off = see(self.stations.points[k % n]).0 - mean;
                self.stations.weights[k % n] * off * off
            })
            .sum();
        let variance = self.noise.size * self.noise.size;
        let length = (to - from) as f64 * self.stations.step;
        let bow = (BOWED * length).min(BOWED_MOST * self.noise.unit);
        let beyond = scatter - (2.0 * variance + bow * bow) * length;
        (beyond / self.noise.scale()).max(0.0)
    }

    /// Weak priors: corners somewhere on the drawing, bulges of any sweep, and the ends of an
    /// open path where the hand left them. Returns what they cost, nats.
    fn add_priors(&self, state: &State, h: &mut [f64], g: &mut [f64]) -> f64 {
        let f = &state.figure;
        let p = g.len();
        let place = 2.0 * PI / (self.extent() * self.extent());
        for i in 0..2 * f.corners.len() {
            h[i * p + i] += place;
        }
        for e in 0..f.len() {
            if let Some(slot) = f.bulge_slot(e) {
                let b = f.bulges[e];
                h[slot * p + slot] += 2.0 / (PI * (1.0 + b * b) * (1.0 + b * b));
            }
        }
        let last = p - 1;
        let width = self.rounding();
        let part = state.corner_width / width;
        h[last * p + last] += 1.0 / (width * width);
        g[last] += part / width;
        let mut cost = 0.5 * part * part;
        if !f.closed {
            cost += self.anchor_ends(f, h, g);
        }
        cost
    }

    /// What the equations leave out where an edge hardly turns into an arc: to first order the joint may
    /// then slide anywhere. It cannot: at a kink `θ` the neighbours are apart by `θ²/(2Δκ)`, `Δκ` how
    /// much more one bends than the other, and what is within the wander bounds the kink.
    fn add_grazes(&self, f: &Figure, h: &mut [f64]) -> Option<()> {
        let p = f.parameters() + 1;
        for e in f.joints() {
            let next = (e + 1) % f.len();
            let bends = f.view(next)?.curvature() - f.view(e)?.curvature();
            if bends == 0.0 {
                continue;
            }
            let k = 1.0 / (2.0 * self.noise.size * bends.abs());
            let turn = Constraint::at(Quantity::Turn(Side::new(0, e)), 0.0).linear(f)?;
            let of_turn = || turn.gradient.iter().enumerate().filter(|g| *g.1 != 0.0);
            for (i, a) in of_turn() {
                for (j, b) in of_turn() {
                    h[i * p + j] += k * a * b;
                }
            }
        }
        Some(())
    }

    /// What the equations leave out where the line turns: residuals stand across an edge, so a corner between a long
    /// edge and one too short to have a direction of its own may slide along the long one (the end of a slot by its
    /// whole length). It cannot: the hand went on from where the corner is, give or take its rounding and its wander.
    fn add_turns(&self, state: &State, h: &mut [f64]) {
        let f = &state.figure;
        let (p, n) = (f.parameters() + 1, self.stations.len());
        let (fast, slow) = (TURNS * self.noise.size, self.noise.slow.size);
        let (round, step) = (state.corner_width, 0.5 * self.stations.step);
        let known = 1.0 / (fast * fast + slow * slow + round * round + step * step);
        for e in f.joints().filter(|&e| f.turn_after(e).abs() > TURNING) {
            let at = state.starts[(e + 1) % f.len()] + n;
            let mut about = at.saturating_sub(SEEN)..=at + SEEN;
            if about.any(|i| self.stations.is_bridged(i % n)) {
                continue;
            }
            let corner = 2 * f.end_corner(e);
            for i in [corner, corner + 1] {
                h[i * p + i] += known;
            }
        }
    }

    fn anchor_ends(&self, f: &Figure, h: &mut [f64], g: &mut [f64]) -> f64 {
        let p = g.len();
        let spread = self.noise.size.max(0.25 * self.noise.unit);
        let k = 1.0 / (spread * spread);
        let (first, last) = (0, f.corners.len() - 1);
        let ends = [
            (first, self.stations.points[0], f.start_direction(0)),
            (
                last,
                self.stations.points[self.stations.len() - 1],
                f.end_direction(f.len() - 1),
            ),
        ];
        let mut cost = 0.0;
        for (corner, at, direction) in ends {
            let u = Vec2::from_angle(direction);
            let off = (f.corners[corner] - at).dot(u);
            cost += 0.5 * k * off * off;
            for (i, a) in [u.x, u.y].into_iter().enumerate() {
                let r = 2 * corner + i;
                g[r] += k * a * off;
                for (j, b) in [u.x, u.y].into_iter().enumerate() {
                    h[r * p + 2 * corner + j] += k * a * b;
                }
            }
        }
        cost
    }
}

impl System {
    /// How many numbers there are.
    pub fn len(&self) -> usize {
        self.g.len()
    }

    /// The equations, factored.
    pub fn normal(&self) -> Option<Normal> {
        Normal::new(self.h.clone(), &self.g)
    }

    /// The equations with every number held to where it is, by `damping` times its own weight
    /// (Levenberg–Marquardt; one weight for both places of a corner, whatever way it is turned).
    pub fn damped(&self, damping: f64) -> Option<Normal> {
        let stiffened = |bend: f64| {
            let p = self.g.len();
            let mut h = self.h.clone();
            let mut next = 0;
            for &(from, count) in self.places.iter().chain([&(p, 0)]) {
                for i in next..from {
                    h[i * p + i] *= 1.0 + damping;
                }
                next = from + 2 * count;
                for i in (from..next).step_by(2) {
                    let (x, y) = (i * p + i, (i + 1) * p + i + 1);
                    let mean = 0.5 * (h[x] + h[y]);
                    h[x] += damping * mean;
                    h[y] += damping * mean;
                }
            }
            if let Some(last) = h.last_mut() {
                *last += bend;
            }
            Normal::new(h, &self.g)
        };
        stiffened(self.bend).or_else(|| stiffened(0.0))
    }

    /// By how much the cost changes with a step, to second order.
    pub fn foreseen(&self, step: &[f64]) -> f64 {
        let p = self.g.len();
        let rows = self.h.chunks_exact(p).zip(&self.g).zip(step);
        rows.map(|((row, g), s)| {
            let along = dot(row, step);
            s * (g + 0.5 * along)
        })
        .sum()
    }
}

/// Stations of edge `e`: from its first up to the next edge's first (past `n` where it wraps).
#[must_use]
pub fn stretch(starts: &[usize], e: usize, n: usize) -> (usize, usize) {
    let from = starts[e];
    let next = starts.get(e + 1).or(starts.first()).copied().unwrap_or(0);
    let count = if next > from {
        next - from
    } else {
        next + n - from
    };
    (from, from + count)
}

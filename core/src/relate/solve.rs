//! The joint solve: all edges of a figure and all its conditions at once, against the stations.
//!
//! **Problem.** Given stations, a figure to start from and conditions that must hold exactly, find
//! the figure nearest to the stations in the sense of the wander: an equality-constrained least
//! squares problem. No edge is fitted alone and bent afterwards.
//!
//! **Steps** of each iteration (Gauss–Newton with linearised conditions; Nocedal and Wright, ch. 18):
//! 1. Every station belongs to one edge. Its signed distance and derivatives are averaged over blocks
//!    of some 4 mm, and blocks are whitened along each edge: a hand's wander is an Ornstein–Uhlenbeck
//!    process to good approximation, so neighbouring blocks are not independent evidence, and a
//!    sudden step weighs more than a slow drift of the same size.
//! 2. The hand rounds corners: near a sharp joint the offset of a smoothed corner is subtracted, its
//!    one width `c` being solved for with the rest (trimming stations instead throws away evidence).
//! 3. Blocks beyond 4 standard deviations count linearly (Huber 1964).
//! 4. The step is taken under the conditions; joints are cut again where the sum of squares of the
//!    two neighbouring edges is least.
//!
//! **Fails** where the start is far off (an edge assigned to the wrong stretch stays there): the
//! caller starts from a partition. An arc flatter than the wander keeps its weak prior's bulge.
#![allow(
    clippy::indexing_slicing,
    reason = "every edge, corner and free number has its place in tables made for the figure at hand"
)]

use super::blocks::{EdgeResiduals, Noise, Running, block_noise, rounded};
use super::condition::Condition;
use super::figure::{EdgeView, Figure};
use super::normal::{Added, Normal};
use crate::fit::partition::{Kind, Partition};
use crate::geom::Vec2;
use crate::trace::Stations;
use core::f64::consts::PI;

/// A solved figure with what is known of it.
#[derive(Clone, Debug)]
pub struct Solved {
    /// The figure.
    pub figure: Figure,
    /// First station of each edge.
    pub starts: Vec<usize>,
    /// Half the (robust) sum of squares of the whitened blocks, nats.
    pub misfit: f64,
    /// How many blocks there are: twice the misfit expected of a true reading.
    pub blocks: usize,
    /// Residuals of each edge, block by block, for the evidence of slow errors.
    pub residuals: Vec<EdgeResiduals>,
    /// Mean square distance of the stations from the figure, mm² (corner rounding taken off).
    pub mean_square: f64,
    /// Width of the smoothing that rounded the corners, mm.
    pub corner_width: f64,
    /// Normal equations at the solution, conditioned.
    pub normal: Normal,
    /// The same without the conditions.
    pub free: Normal,
    /// The conditions do not contradict one another.
    pub consistent: bool,
    /// Largest condition left unmet (radians or mm).
    pub residual: f64,
}

impl Solved {
    /// Where its edges start and what they are.
    #[must_use]
    pub fn partition(&self) -> Partition {
        Partition {
            starts: self.starts.clone(),
            kinds: self.figure.kinds.clone(),
        }
    }
}

/// How far a solve goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Care {
    /// Most iterations.
    pub iterations: usize,
    /// Done when no corner moves by more than this, in units.
    pub still: f64,
    /// Done when the next step promises less than this, nats.
    pub gain: f64,
    /// Damping of the first step.
    pub damping: f64,
    /// Last steps on the conditions alone.
    pub polish: usize,
}

impl Care {
    /// Good enough to be compared: a candidate.
    pub const CANDIDATE: Self = Self {
        iterations: 12,
        still: 5e-3,
        gain: 0.1,
        damping: 1e-2,
        polish: 0,
    };
    /// To the last digits: what leaves the tool.
    pub const FINAL: Self = Self {
        iterations: 30,
        still: 1e-7,
        gain: 0.0,
        damping: 1e-6,
        polish: 5,
    };
}

/// Iterations after which joints stay where they are cut.
const RECUTS: usize = 6;
/// Length of a block, in units.
const BLOCK: f64 = 4.0;
/// Standard deviations beyond which a block counts linearly.
const ROBUST: f64 = 4.0;
/// Widest rounding of a corner by the hand, against half a unit and the wander together.
const WIDEST_CORNER: f64 = 2.2;
/// A joint turns enough to be rounded by the hand from this sine on.
const SHARP_SINE: f64 = 0.3;
/// How far a joint may move at one re-cut, in units.
const RECUT_REACH: f64 = 12.0;

/// Stations of edge `e`: from its first up to the next edge's first (past `n` where it wraps).
#[must_use]
pub fn stretch(starts: &[usize], e: usize, n: usize) -> (usize, usize) {
    let from = starts[e];
    let next = starts.get(e + 1).or(starts.first()).copied().unwrap_or(0);
    let count = (next + n - from) % n;
    (from, from + if count == 0 { n } else { count })
}

/// Solves `figure` against the stations under `conditions`. `None` where the equations break down.
#[must_use]
pub fn solve(
    stations: &Stations,
    figure: Figure,
    starts: Vec<usize>,
    noise: &Noise,
    conditions: &[Condition],
    care: Care,
) -> Option<Solved> {
    let mut work = Work {
        stations,
        running: Running::new(stations),
        noise,
        size: stations.diagonal().max(noise.unit),
        figure,
        starts,
        corner_width: if noise.rounds_corners {
            0.6 * (0.5 * noise.unit + noise.size)
        } else {
            0.0
        },
    };
    work.descend(conditions, care)?;
    if !conditions.is_empty() {
        work.polish(conditions, care.polish)?;
    }
    work.finish(conditions)
}

/// Every edge is about as long as the stretch of stations it stands for. (An edge may fit its
/// stations well and run on beyond them, over its neighbour.)
#[must_use]
pub fn covers(figure: &Figure, starts: &[usize], stations: &Stations, noise: &Noise, loose: f64) -> bool {
    (0..figure.len()).all(|e| {
        let (from, to) = stretch(starts, e, stations.len());
        let traced = (to - from) as f64 * stations.step;
        let length = figure.edge_length(e);
        let slack = LENGTH_SLACK * noise.unit + 4.0 * noise.size + LENGTH_SHARE * traced.max(length);
        (length - traced).abs() <= loose * slack
    })
}

/// How much an edge may be longer or shorter than its stretch of stations: in units, and as a share.
const LENGTH_SLACK: f64 = 8.0;
const LENGTH_SHARE: f64 = 0.4;

struct Work<'a> {
    stations: &'a Stations,
    running: Running,
    noise: &'a Noise,
    size: f64,
    figure: Figure,
    starts: Vec<usize>,
    corner_width: f64,
}

struct System {
    h: Vec<f64>,
    g: Vec<f64>,
    /// Misfit and what the priors add to it, nats.
    cost: f64,
    residuals: Vec<EdgeResiduals>,
    misfit: f64,
    blocks: usize,
    mean_square: f64,
}

/// One row of the least squares problem: the residual and its derivatives by the two corners, the
/// bulge and the corner width.
#[derive(Clone, Copy, Default)]
struct Row {
    residual: f64,
    d: [f64; 6],
}

impl Row {
    fn add(&mut self, other: &Self, k: f64) {
        self.residual += k * other.residual;
        for (a, b) in self.d.iter_mut().zip(&other.d) {
            *a += k * b;
        }
    }
}

impl System {
    fn normal(&self) -> Option<Normal> {
        Normal::new(&self.h, &self.g)
    }

    /// The equations with every number held to where it is, by `damping` times its own weight.
    fn damped(&self, damping: f64, corners: usize) -> Option<Normal> {
        let p = self.g.len();
        let mut h = self.h.clone();
        for c in 0..corners {
            let (x, y) = (2 * c * p + 2 * c, (2 * c + 1) * p + 2 * c + 1);
            let mean = 0.5 * (h[x] + h[y]);
            h[x] += damping * mean;
            h[y] += damping * mean;
        }
        for i in 2 * corners..p {
            h[i * p + i] *= 1.0 + damping;
        }
        Normal::new(&h, &self.g)
    }

    /// By how much the cost changes with a step, to second order.
    fn foreseen(&self, step: &[f64]) -> f64 {
        let p = self.g.len();
        let rows = self.h.chunks_exact(p).zip(&self.g).zip(step);
        rows.map(|((row, g), s)| {
            let along: f64 = row.iter().zip(step).map(|(h, t)| h * t).sum();
            s * (g + 0.5 * along)
        })
        .sum()
    }
}

impl Work<'_> {
    fn descend(&mut self, conditions: &[Condition], care: Care) -> Option<()> {
        let mut here = self.system(true)?;
        let mut damping = care.damping;
        let mut weight = 0.0_f64;
        let recutting = true;
        let mut refused = false;
        let mut trail = String::new();
        for round in 0..care.iterations {
            let mut normal = here.damped(damping, self.figure.corners.len())?;
            let mut new = Vec::with_capacity(conditions.len());
            let mut values = Vec::with_capacity(conditions.len());
            for c in conditions {
                let linear = c.at(&self.figure, 1)?;
                let added = normal.condition_beyond(0.03, &linear.gradient, -linear.value, f64::INFINITY);
                if added == Added::New {
                    new.push(*c);
                    values.push(linear.value);
                }
            }
            let mut step = normal.step();
            // A width beyond its bounds is held at the bound.
            if let (Some((low, top)), Some(wanted)) = (self.widths(), step.last()) {
                let width = self.corner_width + wanted;
                if width < low || width > top {
                    let mut last = vec![0.0; step.len()];
                    *last.last_mut()? = 1.0;
                    normal.condition(&last, width.clamp(low, top) - self.corner_width, f64::INFINITY);
                    step = normal.step();
                }
            }
            weight = weight.max(1.5 * normal.pull());
            let off = normal.distance(values.iter().copied());
            let foreseen = here.foreseen(&step) - weight * off;
            let before = (self.figure.clone(), self.starts.clone(), self.corner_width);
            let moved = self.apply(&step);
            let merit = |w: &Self| -> Option<(System, f64)> {
                let there = w.system(true)?;
                let values: Option<Vec<f64>> = new.iter().map(|c| Some(c.at(&w.figure, 1)?.value)).collect();
                let left = normal.distance(values?.into_iter());
                let change = there.cost - here.cost + weight * (left - off);
                (change < 1e-9 * (1.0 + here.cost.abs())).then_some((there, change))
            };
            let mut recut = recutting && round < RECUTS && self.recut();
            let mut taken = merit(self);
            if taken.is_none() && recut {
                self.starts.clone_from(&before.1);
                recut = false;
                taken = merit(self);
            }
            { use std::fmt::Write; let _ = write!(trail, " {}{:.3}/{:.3}/{:.3}/{:.0e}", if recut {"r"} else {""}, moved, foreseen, taken.as_ref().map_or(f64::NAN, |t| t.1), damping); }
            if let Some((there, change)) = taken {
                here = there;
                let was = refused; refused = false; let refused = was;
                damping *= if change < 0.75 * foreseen { if refused { 0.7 } else { 0.1 } } else if change < 0.25 * foreseen { 0.5 } else { 3.0 };
            } else {
                (self.figure, self.starts, self.corner_width) = before;
                refused = true;
                damping = (10.0 * damping).max(1e-3);
                if damping > 1e6 { break; }
            }
            if care.polish == 0 && round >= 2 && !self.covers(1.5) { return None; }
            if !recut && (moved < care.still * self.noise.unit || -foreseen < care.gain) {
                break;
            }
        }
        if std::env::var("TRAIL").is_ok() {
        eprintln!("{} m{} c{}{trail}", if care.polish > 0 {"F"} else {"S"}, self.figure.len(), conditions.len());
        }
        Some(())
    }

    fn sharpness(&self) -> Vec<f64> {
        let m = self.figure.len();
        let joints = if self.figure.closed {
            m
        } else {
            m.saturating_sub(1)
        };
        let mut out = vec![0.0; m];
        if self.noise.rounds_corners {
            for (e, s) in out.iter_mut().enumerate().take(joints) {
                let sine = libm::sin(self.figure.turn_after(e));
                *s = if sine.abs() > SHARP_SINE { sine } else { 0.0 };
            }
        }
        out
    }

    fn system(&self, fast: bool) -> Option<System> {
        let f = &self.figure;
        let p = f.parameters() + 1;
        let mut h = vec![0.0; p * p];
        let mut g = vec![0.0; p];
        let sharp = self.sharpness();
        let (mut misfit, mut blocks) = (0.0, 0);
        let (mut square, mut weight) = (0.0, 0.0);
        let mut residuals = Vec::with_capacity(f.len());
        for e in 0..f.len() {
            let mut edge = EdgeResiduals::default();
            let view = f.view(e)?;
            let slots = self.slots(e);
            let before = if e > 0 {
                sharp[e - 1]
            } else if f.closed {
                sharp[f.len() - 1]
            } else {
                0.0
            };
            let mut previous: Option<Row> = None;
            let mut normal = EdgeNormal::default();
            let (_, count, parts) = self.cut(e);
            edge.freedoms = if f.kinds[e] == Kind::Arc { 3 } else { 2 };
            edge.length = count as f64 * self.stations.step / parts as f64;
            let (first, later, rho) = block_noise(self.noise, edge.length);
            for (row, share, w) in self.blocks(e, &view, before, sharp[e]) {
                square += w * row.residual * row.residual;
                weight += w;
                edge.blocks.push(row.residual * share);
                let mut white = Row::default();
                white.add(&row, if previous.is_some() { later } else { first });
                if let Some(prev) = &previous {
                    white.add(prev, -rho * later);
                }
                previous = Some(row);
                let size = white.residual.abs();
                let robust = if size > ROBUST { ROBUST / size } else { 1.0 };
                misfit += share
                    * if size > ROBUST {
                        ROBUST * (size - 0.5 * ROBUST)
                    } else {
                        0.5 * size * size
                    };
                blocks += 1;
                normal.add(&white, share * robust, if fast { robust } else { 1.0 });
            }
            normal.scatter(&mut h, &mut g, p, &slots);
            residuals.push(edge);
        }
        let cost = misfit + self.add_priors(&mut h, &mut g, p);
        Some(System {
            h,
            g,
            cost,
            residuals,
            misfit,
            blocks,
            mean_square: square / weight.max(1e-12),
        })
    }

    /// Columns of edge `e`'s six derivatives; a line's bulge goes nowhere.
    fn slots(&self, e: usize) -> [Option<usize>; 6] {
        let (a, b) = (e, self.figure.end_corner(e));
        let last = self.figure.parameters();
        [
            Some(2 * a),
            Some(2 * a + 1),
            Some(2 * b),
            Some(2 * b + 1),
            self.figure.bulge_slot(e),
            Some(last),
        ]
    }

    /// How edge `e` is cut into blocks: first station, number of stations, number of blocks.
    fn cut(&self, e: usize) -> (usize, usize, usize) {
        let (from, to) = stretch(&self.starts, e, self.stations.len());
        let count = to.saturating_sub(from).max(1);
        let length = (BLOCK * self.noise.unit).max(self.stations.sample_step);
        let parts = libm::round(count as f64 * self.stations.step / length) as usize;
        (from, count, parts.clamp(1, count))
    }

    /// Blocks of edge `e`: row at the block's mean, share of it traced, weight.
    fn blocks<'b>(
        &'b self,
        e: usize,
        view: &'b EdgeView,
        sharp_before: f64,
        sharp_after: f64,
    ) -> impl Iterator<Item = (Row, f64, f64)> + 'b {
        let step = self.stations.step;
        let (from, count, parts) = self.cut(e);
        let c = self.corner_width;
        let bend = view.curvature() / 24.0;
        (0..parts).map(move |b| {
            let (lo, hi) = (b * count / parts, (b + 1) * count / parts);
            let (mean, weight) = self.running.mean(from + lo, from + hi);
            let len = (hi - lo) as f64 * step;
            let seen = view.see(mean);
            let mut row = Row {
                // The mean of a stretch of arc lies inside it, by the square of its length over 24 R.
                residual: seen.distance + bend * len * len,
                d: [
                    seen.by_from.x,
                    seen.by_from.y,
                    seen.by_to.x,
                    seen.by_to.y,
                    seen.by_bulge,
                    0.0,
                ],
            };
            if c > 0.0 {
                let ends = [
                    (lo as f64 * step, hi as f64 * step, sharp_before),
                    (
                        (count - hi) as f64 * step,
                        (count - lo) as f64 * step,
                        sharp_after,
                    ),
                ];
                for (near, far, sine) in ends {
                    if sine != 0.0 && near < 3.5 * c {
                        let (offset, slope) = rounded(near, far, c);
                        row.residual += sine * offset;
                        row.d[5] += sine * slope;
                    }
                }
            }
            (row, (weight / len).min(1.0), weight)
        })
    }

    /// Weak priors: corners somewhere on the drawing, bulges of any sweep, and the ends of an
    /// open path where the hand left them.
    fn add_priors(&self, h: &mut [f64], g: &mut [f64], p: usize) -> f64 {
        let f = &self.figure;
        let place = 2.0 * PI / (self.size * self.size);
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
        let width = 0.5 * self.noise.unit + self.noise.size;
        h[last * p + last] += 1.0 / (width * width);
        g[last] += self.corner_width / (width * width);
        let mut cost = 0.5 * (self.corner_width / width) * (self.corner_width / width);
        if !f.closed {
            cost += self.anchor_ends(h, g, p);
        }
        cost
    }

    fn anchor_ends(&self, h: &mut [f64], g: &mut [f64], p: usize) -> f64 {
        let mut cost = 0.0;
        let f = &self.figure;
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

    /// Holds the system to the conditions at the present figure; contradictions are left out here
    /// and told by [`Work::finish`].
    fn condition(&self, normal: &mut Normal, conditions: &[Condition]) -> Option<()> {
        for c in conditions {
            let linear = c.at(&self.figure, 1)?;
            normal.condition(&linear.gradient, -linear.value, f64::INFINITY);
        }
        Some(())
    }

    /// Takes a step, shortened where it would throw corners about; returns the largest move, mm.
    fn apply(&mut self, step: &[f64]) -> f64 {
        let corners = 2 * self.figure.corners.len();
        let most = step[..corners].iter().fold(0.0_f64, |a, s| a.max(s.abs()));
        let bulge = step[corners..step.len() - 1]
            .iter()
            .fold(0.0_f64, |a, s| a.max(s.abs()));
        let reach = 0.15 * self.size;
        let k = (reach / most.max(1e-300))
            .min(0.4 / bulge.max(1e-300))
            .min(1.0);
        let taken: Vec<f64> = step.iter().map(|s| s * k).collect();
        self.figure.shift(&taken);
        if let Some((low, top)) = self.widths() {
            let width = self.corner_width + taken.last().copied().unwrap_or(0.0);
            self.corner_width = width.clamp(low, top);
        }
        most * k
    }

    /// Every edge is about as long as the stretch of stations it stands for, `slack` times as loosely
    /// as a reading is held to it.
    fn covers(&self, slack: f64) -> bool {
        covers(&self.figure, &self.starts, self.stations, self.noise, slack)
    }

    fn widths(&self) -> Option<(f64, f64)> {
        let top = WIDEST_CORNER * (0.5 * self.noise.unit + self.noise.size);
        self.noise.rounds_corners.then_some((0.05 * self.noise.unit, top))
    }

    /// Cuts every joint again where the two neighbouring edges together fit best.
    fn recut(&mut self) -> bool {
        let n = self.stations.len();
        let m = self.figure.len();
        let reach =
            (libm::round(RECUT_REACH * self.noise.unit / self.stations.step) as usize).max(1);
        let mut changed = false;
        let joints = if self.figure.closed { 0..m } else { 1..m };
        if m < 2 {
            return false;
        }
        for e in joints {
            let before = (e + m - 1) % m;
            let (Some(prev), Some(next)) = (self.figure.view(before), self.figure.view(e)) else {
                continue;
            };
            let at = self.starts[e];
            let (p_from, p_to) = stretch(&self.starts, before, n);
            let (from, to) = stretch(&self.starts, e, n);
            let back = reach.min((p_to - p_from) / 2);
            let ahead = reach.min((to - from) / 2);
            // Scan from `at - back` to `at + ahead`, in unwrapped numbers.
            let base = at + n - back;
            let mut sum = 0.0;
            let (mut best, mut best_sum) = (0, 0.0);
            for k in 0..back + ahead {
                let i = (base + k) % n;
                let point = self.stations.points[i];
                let (a, b) = (prev.distance(point), next.distance(point));
                sum += self.stations.weights[i] * (a * a - b * b);
                if sum < best_sum {
                    (best, best_sum) = (k + 1, sum);
                }
            }
            let cut = (base + best) % n;
            if cut != at {
                self.starts[e] = cut;
                changed = true;
            }
        }
        changed
    }

    /// Newton steps on the conditions alone, the least move each: what is square is square to the
    /// last digits.
    fn polish(&mut self, conditions: &[Condition], times: usize) -> Option<()> {
        for _ in 0..times {
            let mut normal = self.system(false)?.normal()?;
            self.condition(&mut normal, conditions)?;
            let step = normal.correction();
            if self.apply(&step) == 0.0 {
                break;
            }
        }
        Some(())
    }

    fn finish(self, conditions: &[Condition]) -> Option<Solved> {
        let system = self.system(false)?;
        let free = system.normal()?;
        let mut normal = free.clone();
        let mut consistent = true;
        let mut residual = 0.0_f64;
        for c in conditions {
            let linear = c.at(&self.figure, 1)?;
            let slack = if c.is_angle() { 1e-7 } else { 1e-6 * self.size };
            if let Added::Against(_) =
                normal
                    .condition(&linear.gradient, -linear.value, slack)
            {
                consistent = false;
            }
            residual = residual.max(linear.value.abs());
        }
        Some(Solved {
            figure: self.figure,
            starts: self.starts,
            misfit: system.misfit,
            residuals: system.residuals,
            blocks: system.blocks,
            mean_square: system.mean_square,
            corner_width: self.corner_width,
            normal,
            free,
            consistent,
            residual,
        })
    }
}

/// Normal equations of one edge in its own six numbers: gathered there, then added to the whole.
#[derive(Default)]
struct EdgeNormal {
    h: [[f64; 6]; 6],
    g: [f64; 6],
}

impl EdgeNormal {
    fn add(&mut self, row: &Row, k: f64, more: f64) {
        for (line, (g, a)) in self.h.iter_mut().zip(self.g.iter_mut().zip(&row.d)) {
            let ka = k * a;
            *g += ka * row.residual;
            let ka = ka * more;
            for (h, b) in line.iter_mut().zip(&row.d) {
                *h += ka * b;
            }
        }
    }

    fn scatter(&self, h: &mut [f64], g: &mut [f64], p: usize, slots: &[Option<usize>; 6]) {
        for (i, (line, gradient)) in slots.iter().zip(self.h.iter().zip(&self.g)) {
            let Some(i) = *i else { continue };
            g[i] += gradient;
            for (j, v) in slots.iter().zip(line) {
                if let Some(j) = *j {
                    h[i * p + j] += v;
                }
            }
        }
    }
}

//! What is measured of a reading: everything its price is made of.
//!
//! Six measures are evidence in nats and count in full: what the reading leaves unexplained, what its free numbers
//! cost and give back, what its relations gain and cost, and corners that were not reached ([`Measure::Misfit`] to
//! [`Measure::CornersMissed`]). The others
//! say what kind of outline it is: how many edges of which kind, how short, how blunt their corners, how
//! alike. What people draw and cut is not evenly spread over those, and [`super::price`] knows how.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure that is measured; each measure has its place"
)]

use super::evidence::Evidence;
use crate::fit::partition::Kind;
use crate::relate::blocks::Noise;
use crate::relate::constraint::Condition;
use crate::relate::equations::TURNING;
use crate::relate::figure::Figure;
use crate::relate::find::Found;
use crate::relate::kinds::RelationKind;
use crate::relate::mirror::mirrored;
use crate::relate::round::Round;
use crate::relate::solve::Solved;
use crate::trace::Stations;
use core::f64::consts::{FRAC_PI_2, PI};
use core::ops::{Index, IndexMut};

macro_rules! measures {
    ($($(#[$doc:meta])+ $name:ident,)+) => {
        /// One measure of a reading.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Measure { $($(#[$doc])+ $name,)+ }

        impl Measure {
            /// All of them, in order.
            pub const ALL: &'static [Self] = &[$(Self::$name,)+];
            /// How many there are.
            pub const COUNT: usize = Self::ALL.len();

            /// Its name.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$name => stringify!($name),)+ }
            }
        }
    };
}

measures! {
    /// What the reading leaves unexplained, nats.
    Misfit,
    /// How sharply the stations know its free numbers: half the logarithm of their determinant.
    Occam,
    /// How much room its free numbers had before.
    Room,
    /// What its relations gain.
    Gain,
    /// How seldom they are meant.
    Seldom,
    /// What speaks against corners that the line turns back from before it reaches them.
    CornersMissed,
    /// Straight edges.
    Lines,
    /// Arcs tangent to their neighbours at both ends.
    SmoothArcs,
    /// Arcs tangent at one end.
    HalfArcs,
    /// Arcs that meet both neighbours at a corner.
    SharpArcs,
    /// Arcs tangent at both ends that turn less than a half turn: rounded corners.
    Fillets,
    /// Of these, those of the radius of another, but for the first.
    FilletsAlike,
    /// How blunt the corners between straight edges are, summed: 1 of none, 0 from 30° on.
    Blunt,
    /// The same where an arc is one of the two and not tangent.
    Kinks,
    /// How flat arcs are, summed: 1 of none, 0 from a turn of 63° on.
    Flat,
    /// How much larger than the drawing radii are, as logarithms.
    Wide,
    /// How short edges are in units: squares of what they lack of 16.
    ShortUnits,
    /// The same against the drawing: of what they lack of an eighth of it.
    ShortPart,
    /// Corners with two edges that turn the same way and a short one between them.
    Chamfers,
    /// Steps: a short edge between two that turn to either side.
    Steps,
    /// Joints said to be smooth.
    Tangents,
    /// Right angles.
    RightAngles,
    /// Parallels.
    Parallels,
    /// Edges of equal length.
    EqualLengths,
    /// Arcs of one radius.
    EqualRadii,
    /// Arcs about one centre.
    OneCenters,
    /// Any other relation.
    OtherRelations,
    /// Mirror axes, two at most.
    Mirrored,
    /// The square of how wide corners are rounded, against what this hand does.
    CornerWidth,
    /// Neighbours that are nearly one circle.
    SameCircle,
    /// An open path.
    Open,
    /// A whole circle.
    Circle,
    /// By how much that is off round other than by being oval.
    OffRound,
    /// A closed outline of fewer than four edges.
    Few,
}

/// The measures of one reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measures([f64; Measure::COUNT]);

impl Default for Measures {
    fn default() -> Self {
        Self([0.0; Measure::COUNT])
    }
}

impl Index<Measure> for Measures {
    type Output = f64;

    fn index(&self, m: Measure) -> &f64 {
        &self.0[m as usize]
    }
}

impl IndexMut<Measure> for Measures {
    fn index_mut(&mut self, m: Measure) -> &mut f64 {
        &mut self.0[m as usize]
    }
}

impl Measures {
    /// All of them, in order.
    #[must_use]
    pub const fn all(&self) -> &[f64; Measure::COUNT] {
        &self.0
    }

    /// Of a solved chain with its relations; `e` is what its residuals say, `size` the drawing's diagonal, mm.
    #[must_use]
    pub fn of_chain(s: &Solved, found: &Found, e: &Evidence, noise: &Noise, size: f64) -> Self {
        use Measure as M;
        let f = &s.figure;
        let mut m = Self::default();
        let p = f.parameters() as f64;
        m[M::Misfit] = e.misfit;
        m[M::Occam] = 0.5 * s.free.log_det() - 0.5 * p * libm::log(2.0 * PI);
        m[M::Room] = 2.0 * f.corners.len() as f64 * libm::log(size)
            + f.bulges
                .iter()
                .filter(|b| **b != 0.0)
                .map(|b| libm::log(PI * (1.0 + b * b)))
                .sum::<f64>();
        m[M::Gain] = found.gain;
        m[M::Seldom] = found.price;
        m.relations(&found.conditions);
        m[M::Mirrored] = mirrored(0, f).len().min(2) as f64;
        m.edges(f, noise.unit, size);
        m.arcs(f, &found.conditions);
        m.joints(f);
        m.cut_corners(f);
        let rounding = 0.5 * noise.unit + noise.size;
        m[M::CornerWidth] = (s.corner_width / rounding) * (s.corner_width / rounding);
        m[M::Open] = f64::from(u8::from(!f.closed));
        m[M::Few] = f64::from(u8::from(f.closed && f.len() < 4));
        m
    }

    /// Of a whole circle.
    #[must_use]
    pub fn of_circle(c: &Round, e: &Evidence, noise: &Noise, size: f64) -> Self {
        use Measure as M;
        let mut m = Self::default();
        m[M::Misfit] = e.misfit;
        m[M::Occam] = 0.5 * c.normal.log_det() - 1.5 * libm::log(2.0 * PI);
        m[M::Room] = 3.0 * libm::log(size);
        m[M::Circle] = 1.0;
        m[M::OffRound] = off_round(c, noise);
        m
    }

    fn relations(&mut self, conditions: &[Condition]) {
        use Measure as M;
        use RelationKind as R;
        for c in conditions {
            let measure = match c.kind {
                R::Tangent => M::Tangents,
                R::Square => M::RightAngles,
                R::Parallel => M::Parallels,
                R::EqualLength => M::EqualLengths,
                R::EqualRadius => M::EqualRadii,
                R::OneCenter => M::OneCenters,
                R::AngleStep
                | R::Regular
                | R::Mirrored
                | R::InLine
                | R::Size
                | R::HoleRow
                | R::HoleCircle
                | R::HoleRectangle => M::OtherRelations,
            };
            self[measure] += 1.0;
        }
    }

    fn edges(&mut self, f: &Figure, unit: f64, size: f64) {
        use Measure as M;
        for e in 0..f.len() {
            let length = f.edge_length(e);
            let short = (1.0 - length / (16.0 * unit)).max(0.0);
            let of_drawing = (1.0 - length / (0.12 * size)).max(0.0);
            self[M::ShortUnits] += short * short;
            self[M::ShortPart] += of_drawing * of_drawing;
            match f.kinds[e] {
                Kind::Line => self[M::Lines] += 1.0,
                Kind::Arc => {
                    self[M::Flat] += (1.0 - f.sweep(e).abs() / 1.1).max(0.0);
                    self[M::Wide] += libm::log((f.radius(e) / size).max(1.0));
                }
            }
        }
    }

    fn arcs(&mut self, f: &Figure, conditions: &[Condition]) {
        use Measure as M;
        let n = f.len();
        let tangent = |e: usize| conditions.iter().any(|c| c.is(RelationKind::Tangent, &[e]));
        let tangents =
            |e: usize| usize::from(tangent(e)) + usize::from(n > 1 && tangent((e + n - 1) % n));
        let is_fillet =
            |e: usize| f.kinds[e] == Kind::Arc && f.sweep(e).abs() < 0.9 * PI && tangents(e) == 2;
        let alike = |e: usize| {
            conditions.iter().any(|c| match c.of.as_slice() {
                [(_, Some(a)), (_, Some(b))] if c.kind == RelationKind::EqualRadius => {
                    (*a == e && is_fillet(*b)) || (*b == e && is_fillet(*a))
                }
                _ => false,
            })
        };
        let mut same = 0.0;
        for e in (0..n).filter(|&e| f.kinds[e] == Kind::Arc) {
            let kind = match tangents(e) {
                0 => M::SharpArcs,
                1 => M::HalfArcs,
                _ => M::SmoothArcs,
            };
            self[kind] += 1.0;
            if is_fillet(e) {
                self[M::Fillets] += 1.0;
                same += f64::from(u8::from(alike(e)));
            }
        }
        self[M::FilletsAlike] = (same - 1.0_f64).max(0.0);
    }

    fn joints(&mut self, f: &Figure) {
        use Measure as M;
        let n = f.len();
        for e in f.joints() {
            let next = (e + 1) % n;
            let turn = f.turn_after(e);
            let blunt = (1.0 - 2.0 * libm::sin(turn.abs().min(FRAC_PI_2))).max(0.0);
            match (f.kinds[e], f.kinds[next]) {
                (Kind::Line, Kind::Line) => self[M::Blunt] += blunt,
                _ if turn.abs() > 0.02 => self[M::Kinks] += blunt,
                _ => {}
            }
            if f.kinds[e] == Kind::Arc && f.kinds[next] == Kind::Arc {
                let (r, s) = (f.radius(e), f.radius(next));
                let same_way = f.bulges[e] * f.bulges[next] > 0.0;
                if same_way && turn.abs() < 0.35 && r.max(s) < 1.6 * r.min(s) {
                    self[M::SameCircle] += 1.0;
                }
            }
        }
    }

    /// Short edges between longer ones: chamfers and steps.
    fn cut_corners(&mut self, f: &Figure) {
        use Measure as M;
        let n = f.len();
        let inner = if f.closed && n > 3 {
            0..n
        } else {
            1..n.saturating_sub(1)
        };
        for e in inner.filter(|&e| f.kinds[e] == Kind::Line) {
            let (before, next) = ((e + n - 1) % n, (e + 1) % n);
            let (a, b) = (f.turn_after(before), f.turn_after(e));
            let longer = f.edge_length(before).min(f.edge_length(next));
            if f.edge_length(e) > 0.7 * longer {
                continue;
            }
            if a * b < 0.0 {
                self[M::Steps] += 1.0;
            } else if a.abs().max(b.abs()) < 1.3 {
                self[M::Chamfers] += 1.0;
            }
        }
    }

    /// Adds what speaks against corners that the line turns back from, beyond how the hand rounds corners.
    ///
    /// Residuals stand across an edge, so beside a sharp tip they hardly see that the line never came near it: 7 mm
    /// from the tip of 40° it lies 2 mm from either side. A hand that follows such a tip rounds it by a smoothing of
    /// the width `w` that was solved for, which misses it by `w √(2/π) sin(turn / 2)`, give or take its wander and
    /// what is not known of the corner's own place. Of what was bridged nothing is known.
    pub fn add_missed_corners(&mut self, s: &Solved, stations: &Stations, noise: &Noise) {
        let f = &s.figure;
        for e in f.joints().filter(|&e| f.turn_after(e).abs() > TURNING) {
            let place = f.end_corner(e);
            let corner = f.corners[place];
            let gap = stations.nearest(corner) - corner;
            let usual = s.corner_width * (2.0 / PI).sqrt() * libm::sin(0.5 * f.turn_after(e).abs());
            let beyond = gap.length() - usual - 0.5 * stations.step.min(stations.sample_step);
            let Some(way) = gap.unit().filter(|_| beyond > 0.0) else {
                continue;
            };
            let about = gap.length() + 1.5 * stations.step;
            let near = |k: usize| stations.points[k].distance(corner) < about;
            if (0..stations.len()).any(|k| stations.is_bridged(k) && near(k)) {
                continue;
            }
            let mut along = vec![0.0; s.free.size()];
            (along[2 * place], along[2 * place + 1]) = (way.x, way.y);
            let (fast, slow) = (noise.size, noise.slow.size);
            let uneven = UNEVEN * usual;
            let variance =
                s.free.free_variance(&along) + fast * fast + slow * slow + uneven * uneven;
            self[Measure::CornersMissed] += (0.5 * beyond * beyond / variance).min(MOST_MISSED);
        }
    }
}

/// How unevenly a hand rounds corners, against how it does on the whole.
const UNEVEN: f64 = 0.3;
/// One corner tells no more than this, nats: a cleaner may have taken its tip for a spike.
const MOST_MISSED: f64 = 8.0;

/// By how much a circle is off round other than by being oval, against [`ANGULAR`], as a logarithm: people
/// draw circles as ovals, but what goes out and in three times and more has corners.
fn off_round(c: &Round, noise: &Noise) -> f64 {
    let mut off = c.residuals.blocks.clone();
    let n = off.len() as f64;
    if off.len() < FEWEST_BLOCKS {
        return 0.0;
    }
    let mean = off.iter().sum::<f64>() / n;
    for v in &mut off {
        *v -= mean;
    }
    let waves = [libm::cos as fn(f64) -> f64, libm::sin];
    for (rounds, wave) in [1.0, 2.0].into_iter().flat_map(|k| waves.map(|w| (k, w))) {
        let at = |i: usize| wave(2.0 * PI * (i as f64 + 0.5) / n * rounds);
        let along: f64 = off.iter().enumerate().map(|(i, v)| v * at(i)).sum();
        for (i, v) in off.iter_mut().enumerate() {
            *v -= 2.0 * along / n * at(i);
        }
    }
    let left = off.iter().map(|v| v * v).sum::<f64>() / n - noise.size * noise.size;
    let part = left.max(0.0).sqrt() / (ANGULAR * c.radius);
    libm::log(1.0 + part * part)
}

/// Of 133 circles drawn by many people nine in ten are off by less than this part of their radius beyond
/// being oval, of 46 squares one in twenty.
const ANGULAR: f64 = 0.05;
/// A circle of fewer blocks tells nothing of its form.
const FEWEST_BLOCKS: usize = 8;

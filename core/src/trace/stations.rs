//! Stations: the conditioned path, evenly spaced means of the trace.
//!
//! A hand's samples are no measure of anything: a slow hand leaves more of them, and jitter
//! lengthens the raw path by up to 40 %. So the path is measured along a smoothed copy of itself,
//! cut into equal lengths, and each station is the mean of the trace over one of them, taken by mm
//! of raw path (a sparse pen's long steps are integrated as the straight lines they are). A station
//! knows how many mm of trace it stands for: what was bridged and not traced counts next to nothing,
//! so a gap at a corner is no chamfer; what was gone over twice is the mean of both and counts twice
//! ([`Stations::gone_over`]).
//!
//! Fails where the hand's jitter is as large as the features: the smoothed copy then cuts them.
#![allow(
    clippy::indexing_slicing,
    reason = "places along the path are found by walking the path's own tables, never past their last"
)]

use crate::geom::{Line, Point, Vec2};

/// What bridged path counts, against traced path.
const BRIDGE_WEIGHT: f64 = 0.05;
/// A station that stands for less than this part of its step was bridged.
const TRACED: f64 = 0.5;
/// Half-width of the smoothing that length is measured along, in stations.
const SMOOTHING: f64 = 2.0;
/// Cosine of the turn within which a piece runs the way of what it goes over, or back.
const SAME_WAY: f64 = 0.8;
/// Fewest stations of a path however short, and most however long.
const MIN_STATIONS: usize = 24;
const MAX_STATIONS: usize = 6000;

/// Evenly spaced means along one clean path.
#[derive(Clone, Debug, PartialEq)]
pub struct Stations {
    /// The means, in order of travel.
    pub points: Vec<Point>,
    /// Weight of each: mm of trace it stands for (bridged mm count a twentieth).
    pub weights: Vec<f64>,
    /// The path runs back from the last station to the first.
    pub closed: bool,
    /// Spacing, mm.
    pub step: f64,
    /// Typical step between the trace's samples, mm: below it nothing was seen.
    pub sample_step: f64,
    /// Of a closed path the station where the pen was set down: the hand's error does not run on over it.
    pub seam: Option<usize>,
}

impl Stations {
    /// Stations about `spacing` mm apart along `points`; `bridged` lists steps `i` → `i + 1`
    /// (the last wraps round) that were not traced.
    #[must_use]
    pub fn along(
        points: &[Point],
        closed: bool,
        bridged: &[usize],
        sample_step: f64,
        spacing: f64,
    ) -> Self {
        let raw = RawPath::new(points, closed, bridged);
        let smooth = raw.smoothed_length(SMOOTHING * spacing);
        let total = smooth.last().copied().unwrap_or(0.0);
        let wanted = total / spacing;
        let count = if wanted.is_finite() {
            libm::round(wanted) as usize
        } else {
            0
        };
        let count = count.clamp(MIN_STATIONS, MAX_STATIONS);
        let step = total / count as f64;
        let mut out = Self {
            points: Vec::with_capacity(count),
            weights: Vec::with_capacity(count),
            closed,
            step,
            sample_step,
            seam: None,
        };
        // A path without length has no places along it.
        if smooth.len() < 2 {
            return out;
        }
        let mut i = 0;
        let mut from = 0.0;
        for k in 1..=count {
            let target = if k == count { total } else { step * k as f64 };
            while i + 2 < smooth.len() && smooth[i + 1] < target {
                i += 1;
            }
            let span = smooth[i + 1] - smooth[i];
            let t = if span > 0.0 {
                ((target - smooth[i]) / span).clamp(0.0, 1.0)
            } else {
                1.0
            };
            let to = raw.length[i] + t * (raw.length[i + 1] - raw.length[i]);
            if let Some(mean) = raw.mean(from, to) {
                out.points.push(mean);
                out.weights.push(step * raw.traced_share(from, to));
            }
            from = to;
        }
        out
    }

    /// Takes in a piece of path that goes over these stations again, wherever it lies along them and within
    /// `reach` mm: the mean of two passes errs less than either. Places move across the line only.
    pub fn gone_over(&mut self, pass: &Self, reach: f64) {
        let mut sums = vec![(0.0, 0.0); self.len()];
        for (i, (&q, &weight)) in pass.points.iter().zip(&pass.weights).enumerate() {
            let near = |k: usize| (self.points[k] - q).length_squared();
            let nearest = (0..self.len()).min_by(|a, b| near(*a).total_cmp(&near(*b)));
            let (Some(k), Some(along)) = (nearest, pass.direction(i)) else {
                continue;
            };
            let Some(way) = self.direction(k) else {
                continue;
            };
            let off = q - self.points[k];
            let across = off.dot(way.left());
            let beside = across.abs() < reach && off.dot(way).abs() <= self.step;
            if beside && along.dot(way).abs() > SAME_WAY {
                sums[k].0 += weight * across;
                sums[k].1 += weight;
            }
        }
        for (k, (sum, weight)) in sums.into_iter().enumerate() {
            if weight > 0.0
                && let Some(way) = self.direction(k)
            {
                let whole = self.weights[k] + weight;
                self.points[k] = self.points[k] + way.left() * (sum / whole);
                self.weights[k] = whole;
            }
        }
    }

    /// Which way the path runs at a station.
    fn direction(&self, k: usize) -> Option<Vec2> {
        let last = self.len().checked_sub(1)?;
        let (before, after) = if self.closed {
            ((k + last) % self.len(), (k + 1) % self.len())
        } else {
            (k.saturating_sub(1), (k + 1).min(last))
        };
        (self.points[after] - self.points[before]).unit()
    }

    /// The path was bridged here rather than traced.
    #[must_use]
    pub fn is_bridged(&self, k: usize) -> bool {
        self.weights[k] < TRACED * self.step
    }

    /// The place of the path nearest to `p`: of the steps beside the nearest station. `p` itself of no stations.
    #[must_use]
    pub fn nearest(&self, p: Point) -> Point {
        let squares = self.points.iter().map(|s| (*s - p).length_squared());
        let Some((at, _)) = squares.enumerate().min_by(|a, b| a.1.total_cmp(&b.1)) else {
            return p;
        };
        let n = self.points.len();
        let (before, after) = if self.closed {
            ((at + n - 1) % n, (at + 1) % n)
        } else {
            (at.saturating_sub(1), (at + 1).min(n - 1))
        };
        let on_step_to = |to: usize| {
            let (from, to) = (self.points[at], self.points[to]);
            Line { from, to }.nearest(p).0
        };
        let (a, b) = (on_step_to(before), on_step_to(after));
        if a.distance(p) < b.distance(p) { a } else { b }
    }

    /// Number of stations.
    #[must_use]
    pub fn len(&self) -> usize {
        self.points.len()
    }

    /// No stations at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.points.is_empty()
    }

    /// Length along the stations, mm.
    #[must_use]
    pub fn length(&self) -> f64 {
        self.step * self.len() as f64
    }

    /// Diagonal of the box around the stations, mm.
    #[must_use]
    pub fn diagonal(&self) -> f64 {
        let mut lo = Vec2::new(f64::INFINITY, f64::INFINITY);
        let mut hi = -lo;
        for p in &self.points {
            lo = Vec2::new(lo.x.min(p.x), lo.y.min(p.y));
            hi = Vec2::new(hi.x.max(p.x), hi.y.max(p.y));
        }
        if self.is_empty() {
            0.0
        } else {
            (hi - lo).length()
        }
    }
}

/// The raw polyline with its running length and the running integral of position over length.
struct RawPath {
    points: Vec<Point>,
    length: Vec<f64>,
    integral: Vec<Vec2>,
    traced: Vec<f64>,
    closed: bool,
}

impl RawPath {
    fn new(points: &[Point], closed: bool, bridged: &[usize]) -> Self {
        let mut all: Vec<Point> = points.to_vec();
        if closed && let Some(&first) = points.first() {
            all.push(first);
        }
        let n = all.len();
        let (mut length, mut integral, mut traced) =
            (vec![0.0; n], vec![Vec2::default(); n], vec![0.0; n]);
        let mut bridges = bridged.iter().copied().peekable();
        let origin = all.first().copied().unwrap_or_default();
        for i in 1..n {
            let d = all[i - 1].distance(all[i]);
            let mid = all[i - 1].midpoint(all[i]) - origin;
            let bridge = bridges.next_if_eq(&(i - 1)).is_some();
            length[i] = length[i - 1] + d;
            integral[i] = integral[i - 1] + mid * d;
            traced[i] = traced[i - 1] + d * if bridge { BRIDGE_WEIGHT } else { 1.0 };
        }
        Self {
            points: all,
            length,
            integral,
            traced,
            closed,
        }
    }

    fn total(&self) -> f64 {
        self.length.last().copied().unwrap_or(0.0)
    }

    /// The segment that holds length `s`, found from a guess by walking (queries come in order).
    fn segment(&self, s: f64, guess: usize) -> usize {
        let last = self.length.len().saturating_sub(2);
        let mut i = guess.min(last);
        while i < last && self.length[i + 1] < s {
            i += 1;
        }
        while i > 0 && self.length[i] > s {
            i -= 1;
        }
        i
    }

    fn integral_at(&self, s: f64, i: usize) -> Vec2 {
        let (Some(&a), Some(&b)) = (self.points.get(i), self.points.get(i + 1)) else {
            return Vec2::default();
        };
        let origin = self.points[0];
        let d = self.length[i + 1] - self.length[i];
        let u = (s - self.length[i]).clamp(0.0, d);
        let t = if d > 0.0 { u / d } else { 0.0 };
        self.integral[i] + ((a - origin) + (b - a) * (0.5 * t)) * u
    }

    fn mean(&self, from: f64, to: f64) -> Option<Point> {
        let origin = *self.points.first()?;
        let near = self.length.partition_point(|&l| l < from).saturating_sub(1);
        let i = self.segment(from, near);
        let j = self.segment(to, i);
        if to - from <= 0.0 {
            return None;
        }
        Some(origin + (self.integral_at(to, j) - self.integral_at(from, i)) / (to - from))
    }

    fn traced_share(&self, from: f64, to: f64) -> f64 {
        let at = |s: f64| {
            let i = self.length.partition_point(|&l| l < s).saturating_sub(1);
            let i = i.min(self.length.len().saturating_sub(2));
            let d = self.length[i + 1] - self.length[i];
            let t = if d > 0.0 {
                ((s - self.length[i]) / d).clamp(0.0, 1.0)
            } else {
                0.0
            };
            self.traced[i] + t * (self.traced[i + 1] - self.traced[i])
        };
        if to > from {
            (at(to) - at(from)) / (to - from)
        } else {
            0.0
        }
    }

    /// Running length along a copy smoothed over ± `half` mm of raw path.
    fn smoothed_length(&self, half: f64) -> Vec<f64> {
        let total = self.total();
        let n = self.points.len();
        let mut out = Vec::with_capacity(n);
        let whole = self.integral.last().copied().unwrap_or_default();
        let (mut lo_at, mut hi_at) = (0, 0);
        let mut previous: Option<Vec2> = None;
        let mut sum = 0.0;
        for i in 0..n {
            let s = self.length[i];
            let reach = if self.closed {
                half.min(0.25 * total)
            } else {
                half.min(s).min(total - s)
            };
            let (lo, hi) = (s - reach, s + reach);
            let q = if reach <= 0.0 {
                self.points[i] - self.points[0]
            } else {
                let wrap = |v: f64| {
                    if v < 0.0 {
                        v + total
                    } else if v > total {
                        v - total
                    } else {
                        v
                    }
                };
                let (a, b) = (wrap(lo), wrap(hi));
                lo_at = self.segment(a, lo_at);
                hi_at = self.segment(b, hi_at);
                let mut sum = self.integral_at(b, hi_at) - self.integral_at(a, lo_at);
                if b < a {
                    sum += whole;
                }
                sum / (2.0 * reach)
            };
            if let Some(p) = previous {
                sum += (q - p).length();
            }
            previous = Some(q);
            out.push(sum);
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn straight(y: f64, from: f64, to: f64) -> Stations {
        let ends = [Point::new(from, y), Point::new(to, y)];
        Stations::along(&ends, false, &[], 0.5, 1.0)
    }

    #[test]
    fn a_second_pass_is_taken_in_where_it_lies_along() {
        let once = straight(0.2, 0.0, 100.0);
        let mut twice = once.clone();
        twice.gone_over(&straight(-0.2, 60.0, 30.0), 1.0);
        let heights = |range: core::ops::Range<usize>| twice.points[range].iter().map(|p| p.y);
        assert!(heights(32..58).all(|y| y.abs() < 0.05));
        assert!(heights(0..29).chain(heights(61..100)).all(|y| y == 0.2));
        let weight: f64 = twice.weights.iter().sum();
        assert!((weight - 130.0).abs() < 1e-9, "{weight}");
    }

    #[test]
    fn what_lies_beside_or_crosses_is_no_second_pass() {
        let once = straight(0.0, 0.0, 100.0);
        let mut twice = once.clone();
        twice.gone_over(&straight(3.0, 30.0, 60.0), 1.0);
        let across = [Point::new(50.0, -20.0), Point::new(50.0, 20.0)];
        twice.gone_over(&Stations::along(&across, false, &[], 0.5, 1.0), 1.0);
        assert_eq!(twice, once);
    }
}

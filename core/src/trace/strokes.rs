//! Several strokes become chains: in any order, in any direction, with overlaps and gaps.
//!
//! Every end of every open stroke may join one other end. All pairs of ends that lie near enough are
//! priced by the same search that closes a path ([`close`](super::close)): gap plus path cut away.
//! Then the cheapest joint whose two ends are still free is taken, and the next, until none is left
//! (greedy matching; for ends in pairs, as outlines have them, it finds the best matching unless
//! two corners nearly coincide). An end that touches the middle of another stroke finds no
//! partner and its stroke stays a path of its own.
//!
//! A stroke that plainly closes by itself is set aside first, so that an outline and the opening
//! beside its start are not tied together.

use super::close::{End, Joint, Tail, best_joint, self_joint};
use super::measure::{self, at};
use crate::geom::Point;
use crate::geom::Sorted as _;

/// A stroke or a chain of strokes.
#[derive(Clone, Debug, Default)]
pub(super) struct Run {
    /// In order.
    pub(super) points: Vec<Point>,
    /// Steps `i → i+1` that were not traced.
    pub(super) bridged: Vec<usize>,
    /// What was taken out because it goes over the line again, piece by piece.
    pub(super) again: Vec<Vec<Point>>,
    /// Typical step, mm.
    pub(super) step: f64,
    /// Strokes it is made of.
    pub(super) strokes: usize,
}

/// Cost over span under which a stroke closes by itself whatever else is near.
const PLAINLY_CLOSED: f64 = 0.12;
/// Most strokes whose ends are all tried against each other; beyond it only near ones are.
const ALL_PAIRS: usize = 48;

struct Candidate {
    cost: f64,
    ends: [(usize, End); 2],
    joint: Joint,
}

/// Joins open strokes end to end as far as they meet.
pub(super) fn join(runs: Vec<Run>, unit: f64) -> Vec<Run> {
    if runs.len() < 2 {
        return runs;
    }
    let sizes: Vec<Size> = runs.iter().map(|r| Size::of(r, unit)).collect();
    let mut candidates = candidates(&runs, &sizes, unit);
    candidates.order_by(|a, b| a.cost.total_cmp(&b.cost));
    let mut links = Links::new(runs.len());
    for c in candidates {
        links.take(&c);
    }
    links.assemble(runs)
}

struct Size {
    length: f64,
    span: f64,
    closed: bool,
}

impl Size {
    fn of(run: &Run, unit: f64) -> Self {
        let length = measure::length(&run.points);
        let span = measure::span(&run.points);
        let joint = self_joint(&run.points, length, span, unit, run.step);
        Self {
            length,
            span,
            closed: joint.is_some_and(|j| j.cost < PLAINLY_CLOSED * span),
        }
    }
}

fn extremity(run: &Run, end: End) -> Point {
    match end {
        End::Start => at(&run.points, 0),
        End::Finish => at(&run.points, run.points.len().saturating_sub(1)),
    }
}

/// All joints worth having between ends of different open strokes.
fn candidates(runs: &[Run], sizes: &[Size], unit: f64) -> Vec<Candidate> {
    let mut ends: Vec<(usize, End)> = Vec::new();
    for (i, s) in sizes.iter().enumerate() {
        if !s.closed {
            ends.extend([(i, End::Start), (i, End::Finish)]);
        }
    }
    let tails: Vec<Tail> = ends
        .iter()
        .filter_map(|&(i, end)| {
            let (run, size) = (runs.get(i)?, sizes.get(i)?);
            let lag = (2.0 * unit).max(1.5 * run.step).max(0.02 * size.span);
            Some(Tail::new(&run.points, end, 0.35 * size.length, lag))
        })
        .collect();
    let mut out = Vec::new();
    for (k, &(i, end_i)) in ends.iter().enumerate() {
        let others: Vec<usize> = if ends.len() <= 2 * ALL_PAIRS {
            (k + 1..ends.len()).collect()
        } else {
            nearest_ends(runs, &ends, k)
        };
        for l in others {
            let Some(&(j, end_j)) = ends.get(l) else {
                continue;
            };
            let (Some(a), Some(b)) = (sizes.get(i), sizes.get(j)) else {
                continue;
            };
            let (Some(ri), Some(rj)) = (runs.get(i), runs.get(j)) else {
                continue;
            };
            if i == j {
                continue;
            }
            let far = extremity(ri, other(end_i)).distance(extremity(rj, other(end_j)));
            let most = (0.5 * a.length.min(b.length)).min(0.2 * a.span.max(b.span).max(far));
            let raw = extremity(ri, end_i).distance(extremity(rj, end_j));
            if raw > most + 0.35 * (a.length + b.length) {
                continue;
            }
            let (Some(ta), Some(tb)) = (tails.get(k), tails.get(l)) else {
                continue;
            };
            if let Some(joint) = best_joint(ta, tb)
                && joint.cost <= most
            {
                out.push(Candidate {
                    cost: joint.cost,
                    ends: [(i, end_i), (j, end_j)],
                    joint,
                });
            }
        }
    }
    out
}

fn other(end: End) -> End {
    match end {
        End::Start => End::Finish,
        End::Finish => End::Start,
    }
}

/// The nearest few ends after the `k`-th in the list, for traces of very many strokes: only the
/// next strokes drawn are looked at, as a hand that draws an outline in pieces draws them in a run.
fn nearest_ends(runs: &[Run], ends: &[(usize, End)], k: usize) -> Vec<usize> {
    let Some(&(i, end)) = ends.get(k) else {
        return Vec::new();
    };
    let Some(run) = runs.get(i) else {
        return Vec::new();
    };
    let p = extremity(run, end);
    let mut near: Vec<(f64, usize)> = (k + 1..ends.len().min(k + 1 + 2 * ALL_PAIRS))
        .filter_map(|l| {
            let &(j, e) = ends.get(l)?;
            Some((extremity(runs.get(j)?, e).distance(p), l))
        })
        .collect();
    near.order_by(|a, b| a.0.total_cmp(&b.0));
    near.into_iter().take(8).map(|n| n.1).collect()
}

/// Which end is joined to which, and where each stroke is cut.
struct Links {
    /// For each stroke and end: the partner's stroke and end, and the own index kept last.
    partner: Vec<[Option<(usize, End, usize)>; 2]>,
    /// Representative of the chain each stroke belongs to.
    chain: Vec<usize>,
}

fn slot(end: End) -> usize {
    match end {
        End::Start => 0,
        End::Finish => 1,
    }
}

impl Links {
    fn new(n: usize) -> Self {
        Self {
            partner: vec![[None; 2]; n],
            chain: (0..n).collect(),
        }
    }

    fn root(&self, mut i: usize) -> usize {
        while let Some(&up) = self.chain.get(i) {
            if up == i {
                break;
            }
            i = up;
        }
        i
    }

    fn get(&self, i: usize, end: End) -> Option<(usize, End, usize)> {
        *self.partner.get(i)?.get(slot(end))?
    }

    fn set(&mut self, i: usize, end: End, value: (usize, End, usize)) {
        if let Some(s) = self.partner.get_mut(i).and_then(|p| p.get_mut(slot(end))) {
            *s = Some(value);
        }
    }

    fn take(&mut self, c: &Candidate) {
        let [(i, end_i), (j, end_j)] = c.ends;
        let (ri, rj) = (self.root(i), self.root(j));
        // The last joint of a ring is found again when the whole chain is closed.
        if ri == rj || self.get(i, end_i).is_some() || self.get(j, end_j).is_some() {
            return;
        }
        self.set(i, end_i, (j, end_j, c.joint.a));
        self.set(j, end_j, (i, end_i, c.joint.b));
        if let Some(up) = self.chain.get_mut(ri.max(rj)) {
            *up = ri.min(rj);
        }
    }

    /// Walks each chain from its first free end.
    fn assemble(&self, mut runs: Vec<Run>) -> Vec<Run> {
        let mut used = vec![false; runs.len()];
        let mut out = Vec::new();
        for first in 0..runs.len() {
            let start = [End::Start, End::Finish]
                .into_iter()
                .find(|&e| self.get(first, e).is_none());
            let fresh = used.get(first) == Some(&false);
            if let (Some(end), true) = (start, fresh) {
                out.push(self.walk(first, end, &mut runs, &mut used));
            }
        }
        out
    }

    /// The chain that begins at the free end `end` of stroke `i`.
    fn walk(&self, mut i: usize, mut end: End, runs: &mut [Run], used: &mut [bool]) -> Run {
        let mut chain = Run::default();
        loop {
            if let Some(u) = used.get_mut(i) {
                *u = true;
            }
            let run = runs.get_mut(i).map(core::mem::take).unwrap_or_default();
            let last = run.points.len().saturating_sub(1);
            let from = self.get(i, End::Start).map_or(0, |p| p.2);
            let to = self.get(i, End::Finish).map_or(last, |p| p.2);
            chain.append(run, from, to, end == End::Finish);
            match self.get(i, other(end)) {
                Some((j, e, _)) if used.get(j) == Some(&false) => (i, end) = (j, e),
                _ => return chain,
            }
        }
    }
}

impl Run {
    /// Adds the points `from..=to` of a stroke at the end, backwards when `reversed`.
    fn append(&mut self, run: Run, from: usize, to: usize, reversed: bool) {
        let mut points = run.points;
        let past = points.split_off(to.saturating_add(1).min(points.len()));
        let kept = points.split_off(from.min(points.len()));
        let before = core::mem::replace(&mut points, kept);
        self.again.extend(run.again);
        self.again
            .extend([before, past].into_iter().filter(|p| p.len() > 1));
        let last = points.len().saturating_sub(1);
        let inner = run.bridged.into_iter().filter(|&i| from <= i && i < to);
        let mut bridged: Vec<usize> = inner.map(|i| i - from).filter(|&i| i < last).collect();
        if reversed {
            points.reverse();
            bridged.reverse();
            bridged.iter_mut().for_each(|i| *i = last - 1 - *i);
        }
        // One step stands for all: the finest.
        self.step = if self.strokes == 0 {
            run.step
        } else {
            self.step.min(run.step)
        };
        self.strokes += run.strokes;
        if self.points.is_empty() {
            self.points = points;
            self.bridged = bridged;
            return;
        }
        if let (Some(&p), Some(&q)) = (self.points.last(), points.first())
            && p.distance(q) > self.step
        {
            self.bridged.push(self.points.len() - 1);
        }
        let count = self.points.len();
        self.bridged.extend(bridged.into_iter().map(|i| count + i));
        self.points.append(&mut points);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_that_were_not_traced_stay_so_in_a_chain() {
        let run = |from: f64| Run {
            points: (0..10)
                .map(|k| Point::new(from + f64::from(k), 0.0))
                .collect(),
            bridged: vec![2, 6],
            step: 1.0,
            strokes: 1,
            ..Run::default()
        };
        let mut chain = Run::default();
        chain.append(run(0.0), 1, 9, false);
        chain.append(run(10.0), 0, 8, true);
        // The first without its first point; the step between the two; the second without its last, backwards.
        assert_eq!(chain.bridged, [1, 5, 8, 10, 14]);
        let step = |i: usize| [chain.points[i].x, chain.points[i + 1].x];
        assert_eq!(
            [1, 5, 10, 14].map(step),
            [[2.0, 3.0], [6.0, 7.0], [17.0, 16.0], [13.0, 12.0]]
        );
        assert_eq!(chain.again, Vec::<Vec<Point>>::new());
    }
}

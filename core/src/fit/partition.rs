//! The exact best partition of a path into lines and arcs, at many prices of misfit.
//!
//! **Problem.** Cut a path of stations into spans, each explained by one line or one arc, so that
//! `misfit / scale + price per edge` is least. A careful hand asks for a small scale, a hand that
//! draws freely for a large one, and which it was is not known here: so the best partition is found
//! at every rung of a ladder of scales, and the readings compete later.
//!
//! **Idea.** Spans begin and end at *nodes*: the places where the path turns most, and enough others
//! between them. The misfit of every span (node to node, line and circle) comes from running moments
//! in constant time and is computed once; each rung is then a plain dynamic programme over nodes
//! (Bellman 1961; for lines and arcs Pei and Horng 1996). On a closed path the programme starts at a
//! node; it is run again from a joint it found itself, far from the first start, so that no joint is
//! forced where none belongs. (That second start is a heuristic; the optimum given a start is exact.)
//!
//! **Fails** where two joints lie closer than the nodes, and where a joint is so soft that no node is
//! near it: both are mended later, when joints are cut again.
#![allow(
    clippy::indexing_slicing,
    reason = "tables are laid out for all spans at once; rows and columns are computed from the sizes they were made with"
)]

use super::{line_misfit, taubin};
use crate::geom::{Moments, Point, turn_between};
use crate::trace::Stations;

/// What a span is explained by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Kind {
    /// A straight line.
    Line,
    /// A circular arc.
    Arc,
}

/// A partition: where each span starts (station number, rising) and what explains it.
/// On an open path the first span starts at 0 and the last ends at the last station.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Partition {
    /// First station of each span.
    pub starts: Vec<usize>,
    /// What explains each span.
    pub kinds: Vec<Kind>,
}

/// Prices of one rung: a misfit of `scale` mm³ (∫d²ds) costs 1, an edge its kind's price.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rung {
    /// mm³ of squared distance along the path that cost one nat.
    pub scale: f64,
    /// Price of a line, nats.
    pub line: f64,
    /// Price of an arc, nats.
    pub arc: f64,
}

/// Nodes of a path and the misfit of every span between two of them.
#[derive(Clone, Debug)]
pub struct SpanTable {
    pub(super) nodes: Vec<usize>,
    pub(super) stations: usize,
    pub(super) closed: bool,
    /// The node where the path turns most.
    sharpest: usize,
    /// `[start * stride + steps]`: mm³ of a line over `steps` node steps.
    line: Vec<f64>,
    arc: Vec<f64>,
    pub(super) stride: usize,
}

impl SpanTable {
    /// Measures all spans between about `most_nodes` nodes. A span whose line leaves less than `floor`
    /// mm³ is not tried as an arc, which could gain no more than that.
    #[must_use]
    pub fn measure(stations: &Stations, most_nodes: usize, floor: f64) -> Self {
        let (nodes, sharpest) = choose_nodes(stations, most_nodes);
        let n = nodes.len();
        let closed = stations.closed;
        // Blocks between neighbouring nodes, each about its own first station.
        let block_count = if closed { n } else { n.saturating_sub(1) };
        let blocks: Vec<Moments> = (0..block_count)
            .map(|b| block(stations, nodes[b], end_of(&nodes, b, stations)))
            .collect();
        let stride = block_count + 1;
        let mut line = vec![f64::INFINITY; n * stride];
        let mut arc = vec![f64::INFINITY; n * stride];
        for i in 0..n {
            let origin = stations.points[nodes[i]];
            let mut run = Moments::default();
            let most = if closed { block_count } else { block_count - i };
            for k in 1..=most {
                let b = (i + k - 1) % n;
                run.merge(&blocks[b], stations.points[nodes[b]] - origin);
                let (l, a) = misfits(&run, floor);
                line[i * stride + k] = l;
                arc[i * stride + k] = a;
            }
        }
        Self {
            nodes,
            stations: stations.len(),
            closed,
            sharpest,
            line,
            arc,
            stride,
        }
    }

    /// Number of nodes.
    #[must_use]
    pub fn node_count(&self) -> usize {
        self.nodes.len()
    }

    /// Misfit of the span from step `i` to step `j` after node `start`, as a line and as an arc, mm³.
    pub(super) fn span(&self, start: usize, i: usize, j: usize) -> (f64, f64) {
        let at = ((start + i) % self.nodes.len()) * self.stride + (j - i);
        (self.line[at], self.arc[at])
    }

    /// The best partition at one rung.
    #[must_use]
    pub fn best(&self, rung: &Rung) -> Option<Partition> {
        if !self.closed {
            return self.run(rung, 0).map(|(_, p)| p);
        }
        let n = self.nodes.len();
        let (mut cost, mut best) = self.run(rung, 0)?;
        for _ in 0..2 {
            // A joint of the solution far from its start: the start itself was forced.
            let start = best.starts.first().copied().unwrap_or(0);
            let target = (start + self.stations / 2) % self.stations;
            let away = |s: &usize| {
                let d = s.abs_diff(target);
                d.min(self.stations - d)
            };
            let joint = best.starts.iter().skip(1).min_by_key(|s| away(s)).copied();
            let Some(node) = joint.and_then(|s| self.nodes.iter().position(|&v| v == s)) else {
                break;
            };
            let (next_cost, next) = self.run(rung, node % n)?;
            if next_cost >= cost - 1e-9 {
                break;
            }
            (cost, best) = (next_cost, next);
        }
        best.rotate_to_front();
        Some(best)
    }

    /// The best partition of every number of lines and arcs, up to [`COUNTED`] edges together.
    ///
    /// No price and no scale is needed for these. The ladder of [`Self::best`] only meets partitions
    /// on the convex hull of edges against misfit, and steps over a hexagon whose misfit falls when
    /// the last of its sides is there and not before.
    #[must_use]
    pub fn by_counts(&self) -> Vec<Counted> {
        let first = if self.closed { self.sharpest } else { 0 };
        let mut out = Counts::run(self, first).all(self);
        if self.closed {
            // Again from the joint that most of them have: the first start was forced on them.
            let mut votes = vec![0_usize; self.nodes.len()];
            for node in out.iter().filter(|c| c.partition.len() > 2).flat_map(|c| {
                let joints = c.partition.starts.iter();
                joints.filter_map(|s| self.nodes.binary_search(s).ok())
            }) {
                votes[node] += 1;
            }
            if let Some(v) = votes.get_mut(first) {
                *v = 0;
            }
            let common = votes.iter().enumerate().max_by_key(|(_, v)| **v);
            if let Some((start, 1..)) = common {
                let again = Counts::run(self, start).all(self);
                for (a, b) in out.iter_mut().zip(again) {
                    if b.misfit < a.misfit {
                        *a = b;
                    }
                }
            }
            for c in &mut out {
                c.partition.rotate_to_front();
            }
        }
        out
    }

    /// Dynamic programme from node `start`, once round (or to the end of an open path).
    fn run(&self, rung: &Rung, start: usize) -> Option<(f64, Partition)> {
        let n = self.nodes.len();
        let steps = self.stride - 1;
        if steps == 0 {
            return None;
        }
        let mut best = vec![f64::INFINITY; steps + 1];
        let mut from = vec![(0usize, Kind::Line); steps + 1];
        best[0] = 0.0;
        let per = 1.0 / rung.scale;
        for i in 0..steps {
            let base = best[i];
            let row = ((start + i) % n) * self.stride;
            let most = steps - i;
            let lines = &self.line[row + 1..=row + most];
            let arcs = &self.arc[row + 1..=row + most];
            for (k, (&l, &a)) in lines.iter().zip(arcs).enumerate() {
                let as_line = l * per + rung.line;
                let as_arc = a * per + rung.arc;
                let (price, kind) = if as_line <= as_arc {
                    (as_line, Kind::Line)
                } else {
                    (as_arc, Kind::Arc)
                };
                let total = base + price;
                let j = i + k + 1;
                if total < best[j] {
                    best[j] = total;
                    from[j] = (i, kind);
                }
            }
        }
        let mut out = Partition {
            starts: Vec::new(),
            kinds: Vec::new(),
        };
        let mut j = steps;
        while j > 0 {
            let (i, kind) = from[j];
            out.starts.push(self.nodes[(start + i) % n]);
            out.kinds.push(kind);
            j = i;
        }
        out.starts.reverse();
        out.kinds.reverse();
        best[steps].is_finite().then_some((best[steps], out))
    }
}

/// The best partition of a number of lines and arcs.
#[derive(Clone, Debug)]
pub struct Counted {
    /// Where the spans start, and what explains them.
    pub partition: Partition,
    /// Its number of lines.
    pub lines: usize,
    /// Its number of arcs.
    pub arcs: usize,
    /// mm³ of squared distance along the path.
    pub misfit: f64,
}

/// The dynamic programme of [`SpanTable::by_counts`]: the least misfit of the path from node `start`
/// to each node, for each number of lines and arcs.
struct Counts {
    start: usize,
    /// Of each node step, mm³ by lines and arcs. Beyond [`COUNTED`] together they are not asked for: the
    /// innermost loops go through whole rows, whose length the compiler knows.
    least: Vec<Least>,
}

/// By lines, then by arcs.
type Least = [[f64; COUNTED + 1]; COUNTED + 1];

/// Up to so many edges the numbers of lines and arcs are gone through one by one.
pub const COUNTED: usize = 9;

impl Counts {
    fn run(table: &SpanTable, start: usize) -> Self {
        let steps = table.stride - 1;
        let mut least: Vec<Least> = vec![[[f64::INFINITY; COUNTED + 1]; COUNTED + 1]; steps + 1];
        if let Some(first) = least.first_mut() {
            first[0][0] = 0.0;
        }
        for j in 1..=steps {
            let (before, rest) = least.split_at_mut(j);
            let here = &mut rest[0];
            for (i, there) in before.iter().enumerate() {
                let (line, arc) = table.span(start, i, j);
                one_edge_more(here, there, line, arc);
            }
        }
        Self { start, least }
    }

    fn at(&self, node: usize, lines: usize, arcs: usize) -> f64 {
        let row = self.least.get(node).and_then(|l| l.get(lines));
        row.and_then(|r| r.get(arcs))
            .copied()
            .unwrap_or(f64::INFINITY)
    }

    /// Every number of lines and arcs for which there is a partition, in a fixed order.
    fn all(&self, table: &SpanTable) -> Vec<Counted> {
        let pairs = (0..=COUNTED).flat_map(|l| (0..=COUNTED - l).map(move |a| (l, a)));
        pairs.filter_map(|(l, a)| self.trace(table, l, a)).collect()
    }

    /// Back from the end: the span before each node is the one whose sum comes out the same.
    fn trace(&self, table: &SpanTable, lines: usize, arcs: usize) -> Option<Counted> {
        let mut j = table.stride - 1;
        let (mut l, mut a) = (lines, arcs);
        let misfit = self.at(j, l, a);
        if !misfit.is_finite() || lines + arcs == 0 {
            return None;
        }
        let mut partition = Partition {
            starts: Vec::with_capacity(lines + arcs),
            kinds: Vec::with_capacity(lines + arcs),
        };
        while j > 0 {
            let goal = self.at(j, l, a);
            let (i, kind) = (0..j).find_map(|i| {
                let (line, arc) = table.span(self.start, i, j);
                if l > 0 && self.at(i, l - 1, a) + line <= goal {
                    Some((i, Kind::Line))
                } else if a > 0 && self.at(i, l, a - 1) + arc <= goal {
                    Some((i, Kind::Arc))
                } else {
                    None
                }
            })?;
            let node = (self.start + i) % table.nodes.len();
            partition.starts.push(table.nodes[node]);
            partition.kinds.push(kind);
            match kind {
                Kind::Line => l -= 1,
                Kind::Arc => a -= 1,
            }
            j = i;
        }
        partition.starts.reverse();
        partition.kinds.reverse();
        Some(Counted {
            partition,
            lines,
            arcs,
            misfit,
        })
    }
}

/// Lowers `here` to what `there` costs with one line more, or one arc more. Not inlined: only of two
/// references given to it does the compiler know that they lie apart, and takes two numbers at once.
#[inline(never)]
fn one_edge_more(here: &mut Least, there: &Least, line: f64, arc: f64) {
    let lesser = |a: f64, b: f64| if a < b { a } else { b };
    for (to, from) in here[1..].iter_mut().zip(there) {
        for (t, f) in to.iter_mut().zip(from) {
            *t = lesser(f + line, *t);
        }
    }
    for (to, from) in here.iter_mut().zip(there) {
        for (t, f) in to[1..].iter_mut().zip(from) {
            *t = lesser(f + arc, *t);
        }
    }
}

impl Partition {
    /// Spans in rising order of their first station, so that equal partitions compare equal.
    fn rotate_to_front(&mut self) {
        let smallest = self
            .starts
            .iter()
            .enumerate()
            .min_by_key(|(_, s)| **s)
            .map_or(0, |(i, _)| i);
        self.starts.rotate_left(smallest);
        self.kinds.rotate_left(smallest);
    }

    /// Number of edges.
    #[must_use]
    pub fn len(&self) -> usize {
        self.kinds.len()
    }

    /// No edges.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.kinds.is_empty()
    }
}

fn end_of(nodes: &[usize], b: usize, stations: &Stations) -> usize {
    match nodes.get(b + 1) {
        // On an open path the last node is the last station and belongs to the last block.
        Some(&next) if !stations.closed && b + 2 == nodes.len() => next + 1,
        Some(&next) => next,
        None => stations.len() + nodes.first().copied().unwrap_or(0),
    }
}

/// Moments of stations `from..to`, which may run past the last to the first, about station `from`.
#[must_use]
pub fn block(stations: &Stations, from: usize, to: usize) -> Moments {
    let n = stations.len();
    let origin = stations.points[from % n];
    let mut m = Moments::default();
    for k in from..to {
        m.add(stations.points[k % n] - origin, stations.weights[k % n]);
    }
    m
}

/// Misfit of the run as a line and as an arc, mm³.
fn misfits(run: &Moments, floor: f64) -> (f64, f64) {
    let c = run.central();
    let line = line_misfit(&c);
    // An arc can only gain what the line leaves.
    let arc = if line > 1e-9 && line * run.w > floor {
        taubin(&c).map_or(line, |(_, _, m)| m.min(line))
    } else {
        line
    };
    (line * run.w, arc * run.w)
}

/// What turns more than this is a corner, radians, and no other is within so many stations of it.
const SHARP: f64 = 0.6;
const NEAR: usize = 6;

/// A corner about which the path comes back by more than this, radians, is the end of something narrow: a slit, a tab.
/// It may be two corners closer together than a turn can tell apart, so all stations that turn nearly as much are nodes.
pub const BACK: f64 = 2.2;
/// Nearly as much: this part of it.
const NEARLY: f64 = 0.7;

/// Nodes: stations where the path turns most within their neighbourhood, and others between them
/// so that no gap is longer than `length / most`. Also which of them turns most.
fn choose_nodes(stations: &Stations, most: usize) -> (Vec<usize>, usize) {
    let n = stations.len();
    if n == 0 {
        return (Vec::new(), 0);
    }
    let turns = local_turns(stations);
    let gap = n.div_ceil(most.max(8)).max(4);
    let at = |i: isize| {
        if stations.closed {
            Some(i.rem_euclid(n as isize) as usize)
        } else {
            usize::try_from(i).ok().filter(|&i| i < n)
        }
    };
    // Corners count however near they are to others; slighter turns only where nothing else is near.
    let is_peak = |i: usize| {
        let reach = if turns[i] > SHARP { gap.min(NEAR) } else { gap };
        (1..=reach as isize).all(|d| {
            let before = at(i as isize - d).is_none_or(|j| turns[j] < turns[i]);
            let after = at(i as isize + d).is_none_or(|j| turns[j] <= turns[i]);
            before && after
        })
    };
    let mut nodes: Vec<usize> = (0..n).filter(|&i| turns[i] > 0.1 && is_peak(i)).collect();
    let peaks = nodes.iter().copied();
    let narrow = peaks.filter(|&i| turns[i] > SHARP && comes_back(stations, i) > BACK);
    let mut beside = Vec::new();
    for i in narrow {
        let reach = NEAR as isize;
        let near = (-reach..=reach).filter_map(|d| at(i as isize + d));
        beside.extend(near.filter(|&j| turns[j] > NEARLY * turns[i]));
    }
    nodes.extend(beside);
    nodes.sort_unstable();
    nodes.dedup();
    if !stations.closed {
        nodes.retain(|&i| i > 1 && i + 2 < n);
        nodes.insert(0, 0);
        nodes.push(n - 1);
    } else if nodes.is_empty() {
        nodes.push(0);
    }
    let mut filled = Vec::with_capacity(2 * most);
    for (k, &a) in nodes.iter().enumerate() {
        filled.push(a);
        let b = match nodes.get(k + 1) {
            Some(&b) => b,
            None if stations.closed => nodes[0] + n,
            None => break,
        };
        let parts = (b - a).div_ceil(gap);
        filled.extend((1..parts).map(|p| (a + p * (b - a) / parts) % n));
    }
    filled.sort_unstable();
    filled.dedup();
    let mut sharpest = (0, 0.0);
    for (k, turn) in filled.iter().filter_map(|&i| turns.get(i)).enumerate() {
        if *turn > sharpest.1 {
            sharpest = (k, *turn);
        }
    }
    (filled, sharpest.0)
}

/// How much the path has turned once it is past all that is near a station, radians.
#[must_use]
pub fn comes_back(stations: &Stations, i: usize) -> f64 {
    let n = stations.len() as isize;
    let get = |d: isize| {
        let j = i as isize + d;
        let j = if stations.closed {
            j.rem_euclid(n)
        } else {
            j.clamp(0, n - 1)
        };
        stations.points[j as usize]
    };
    let near = NEAR as isize;
    turn_between(get(-near) - get(-2 * near), get(2 * near) - get(near)).abs()
}

/// How much the path turns about each station, radians, between chords to the mean of the
/// neighbours on either side.
fn local_turns(stations: &Stations) -> Vec<f64> {
    const ARM: isize = 6;
    let n = stations.len() as isize;
    let get = |i: isize| -> Point {
        let j = if stations.closed {
            i.rem_euclid(n)
        } else {
            i.clamp(0, n - 1)
        };
        stations.points[j as usize]
    };
    let mean = |from: isize, to: isize| -> Point {
        let mut sum = crate::geom::Vec2::default();
        let origin = get(from);
        for i in from..=to {
            sum += get(i) - origin;
        }
        origin + sum / (to - from + 1) as f64
    };
    (0..n)
        .map(|i| {
            let (a, b, c) = (
                mean(i - ARM, i - ARM / 2),
                mean(i - 1, i + 1),
                mean(i + ARM / 2, i + ARM),
            );
            turn_between(b - a, c - b).abs()
        })
        .collect()
}

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
    nodes: Vec<usize>,
    stations: usize,
    closed: bool,
    /// `[start * stride + steps]`: mm³ of a line over `steps` node steps.
    line: Vec<f64>,
    arc: Vec<f64>,
    stride: usize,
}

impl SpanTable {
    /// Measures all spans between about `most_nodes` nodes.
    #[must_use]
    pub fn measure(stations: &Stations, most_nodes: usize) -> Self {
        let nodes = choose_nodes(stations, most_nodes);
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
                let (l, a) = misfits(&run);
                line[i * stride + k] = l;
                arc[i * stride + k] = a;
            }
        }
        Self {
            nodes,
            stations: stations.len(),
            closed,
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

fn block(stations: &Stations, from: usize, to: usize) -> Moments {
    let n = stations.len();
    let origin = stations.points[from];
    let mut m = Moments::default();
    for k in from..to {
        m.add(stations.points[k % n] - origin, stations.weights[k % n]);
    }
    m
}

/// Misfit of the run as a line and as an arc, mm³.
fn misfits(run: &Moments) -> (f64, f64) {
    let c = run.central();
    let line = line_misfit(&c);
    // An arc can only gain what the line leaves.
    let arc = if line > 1e-9 {
        taubin(&c).map_or(line, |(_, _, m)| m.min(line))
    } else {
        line
    };
    (line * run.w, arc * run.w)
}

/// Nodes: stations where the path turns most within their neighbourhood, and others between them
/// so that no gap is longer than `length / most`.
fn choose_nodes(stations: &Stations, most: usize) -> Vec<usize> {
    let n = stations.len();
    if n == 0 {
        return Vec::new();
    }
    let turns = local_turns(stations);
    let gap = n.div_ceil(most.max(8)).max(2);
    let reach = gap.max(3);
    let at = |i: isize| {
        if stations.closed {
            Some(i.rem_euclid(n as isize) as usize)
        } else {
            usize::try_from(i).ok().filter(|&i| i < n)
        }
    };
    let is_peak = |i: usize| {
        (1..=reach as isize).all(|d| {
            let before = at(i as isize - d).is_none_or(|j| turns[j] < turns[i]);
            let after = at(i as isize + d).is_none_or(|j| turns[j] <= turns[i]);
            before && after
        })
    };
    let mut nodes: Vec<usize> = (0..n).filter(|&i| turns[i] > 0.1 && is_peak(i)).collect();
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
    filled
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

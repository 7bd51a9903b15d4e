//! Other ways through a stretch of a reading: each tried on that stretch alone, what gains is tried on the whole.
//!
//! **Problem.** The ladder of scales finds the right partition of most of a path, and misses a chamfer here and
//! a fillet there: one price of misfit for the whole path is right for none of its corners. All combinations of
//! what could be at each are too many to solve.
//!
//! **Idea.** What is right at one corner hardly depends on what is at the others. So for every two and three
//! neighbouring edges the exact best other ways between the middles of the edges around them are found
//! ([`SpanTable::ways`]), and each is solved and priced on a *window*: these stations alone, as an open path. All
//! that gain there and do not overlap are taken together; the nearest are also tried one by one, since relations
//! with the rest may yet tip them.
//!
//! **Fails** where two changes gain only together and lie further apart than a window.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the partition that is changed"
)]

use super::evidence::Instrument;
use super::measures::Measure;
use super::proposed::{Proposed, in_order, is_sound, with_tangents};
use super::search::read_partition;
use crate::fit::partition::{Kind, Partition, SpanTable};
use crate::fit::ways::{BETWEEN, Way};
use crate::geom::Sorted as _;
use crate::relate::equations::{Problem, stretch};
use crate::relate::solve::Solved;
use crate::trace::Stations;
use std::collections::{BTreeMap, BTreeSet};

/// Of the edges beside a stretch so much is taken into the window, in units.
const BESIDE: f64 = 40.0;
/// Only stretches no longer than this part of the path are looked at, and of no more edges.
const MOST_OF_PATH: f64 = 0.75;
const WIDEST: usize = 3;
/// Ways that by themselves cost this much more than the cheapest, nats, are not solved, and only so many are.
const WITHIN: f64 = 12.0;
const WAYS: usize = 5;
/// What an edge costs while ways are chosen, nats.
const EDGE: [f64; 2] = [4.0, 6.0];
/// A way that loses more than this on its window, nats, does not win on the whole.
const LOSES: f64 = 6.0;
/// So many changes of a reading are tried.
const MOST: usize = 14;
/// Stretches of three edges are looked at up to this length, in units.
const FEATURE: f64 = 90.0;
/// Stations within which the edges about a stretch are the same.
const COARSE: usize = 6;
/// A way must gain this on its window to be taken together with others, nats.
const GAINS: f64 = 0.5;

/// A change of a stretch and what it gains there.
#[derive(Clone, Debug)]
struct Change {
    /// Stations of the joints it may move: from the first, so many on.
    from: usize,
    reach: usize,
    /// First and last edge that go.
    edges: (usize, usize),
    /// What comes in their place.
    instead: Vec<(usize, Kind)>,
    /// Price on the window, less that of what is there, nats.
    price: f64,
}

/// Where other ways are looked for, and what was found on windows that were looked at.
pub struct Local<'a> {
    problem: &'a Problem<'a>,
    table: &'a SpanTable,
    instrument: Instrument,
    seen: BTreeMap<Vec<(usize, Kind)>, Vec<Change>>,
}

impl<'a> Local<'a> {
    /// On the stations of a problem.
    #[must_use]
    pub fn new(problem: &'a Problem<'a>, table: &'a SpanTable, instrument: Instrument) -> Self {
        Self {
            problem,
            table,
            instrument,
            seen: BTreeMap::new(),
        }
    }

    /// All changes of a reading worth trying: those that gain together first, then one by one.
    #[must_use]
    pub fn changes(&mut self, s: &Solved) -> Vec<Proposed> {
        let stations = self.problem.stations;
        let mut all: Vec<Change> = Vec::new();
        let m = s.figure.len();
        for width in 1..=WIDEST.min(m.saturating_sub(1)) {
            let first = if stations.closed {
                0..m
            } else {
                1..m.saturating_sub(width)
            };
            for e in first.filter(|&e| width < WIDEST || is_short(s, e, width, self.problem)) {
                all.extend(self.of_stretch(s, e, width));
            }
        }
        all.order_by(|a, b| a.price.total_cmp(&b.price));
        let base = s.partition();
        let mut out = Vec::new();
        let gaining = disjoint(all.iter().filter(|c| c.price < -GAINS), stations.len());
        if gaining.len() > 1 {
            out.push(changed(&base, &gaining));
        }
        let near = all.iter().filter(|c| c.price < LOSES);
        out.extend(near.map(|c| changed(&base, &[c])));
        out.retain(|p| is_sound(p, stations));
        let mut seen = BTreeSet::new();
        out.retain(|p| seen.insert(p.clone()));
        out.truncate(MOST);
        out.into_iter().map(Proposed::free).collect()
    }

    /// Other ways for `width` edges from `e` on, as found before where the edges about them are the same.
    fn of_stretch(&mut self, s: &Solved, e: usize, width: usize) -> Vec<Change> {
        let m = s.figure.len();
        let key: Vec<(usize, Kind)> = (0..width + 3)
            .map(|k| (e + m + k - 1) % m)
            .map(|e| ((s.starts[e] + COARSE / 2) / COARSE, s.figure.kinds[e]))
            .collect();
        if let Some(known) = self.seen.get(&key) {
            let moved = |c: &Change| Change {
                edges: (e, (e + width) % m),
                ..c.clone()
            };
            return known.iter().map(moved).collect();
        }
        let found = of_stretch(s, self.problem, self.table, self.instrument, e, width);
        self.seen.insert(key, found.clone());
        found
    }
}

/// The edges are short enough together that more than two of them are one feature.
fn is_short(s: &Solved, e: usize, width: usize, problem: &Problem<'_>) -> bool {
    let m = s.figure.len();
    let length: f64 = (0..width).map(|k| s.figure.edge_length((e + k) % m)).sum();
    length < FEATURE * problem.noise.unit
}

/// The changes that do not overlap, those that gain most first.
fn disjoint<'a>(all: impl Iterator<Item = &'a Change>, n: usize) -> Vec<&'a Change> {
    let mut out: Vec<&Change> = Vec::new();
    for c in all {
        let apart = |o: &&Change| {
            let (ahead, back) = ((o.from + n - c.from) % n, (c.from + n - o.from) % n);
            ahead > c.reach && back > o.reach
        };
        if out.iter().all(apart) {
            out.push(c);
        }
    }
    out
}

/// The partition with some stretches gone another way.
fn changed(base: &Partition, changes: &[&Change]) -> Partition {
    let m = base.len();
    let goes = |e: usize| {
        changes.iter().any(|c| {
            let (first, last) = c.edges;
            (e + m - first) % m <= (last + m - first) % m
        })
    };
    let kept = (0..m).filter(|&e| !goes(e));
    let mut spans: Vec<(usize, Kind)> = kept.map(|e| (base.starts[e], base.kinds[e])).collect();
    for c in changes {
        spans.extend(&c.instead);
    }
    in_order(spans)
}

/// A stretch of a path by itself.
struct Window {
    /// First station, and how many.
    from: usize,
    count: usize,
    stations: Stations,
    /// Kind of the edge it begins with.
    first: Kind,
}

impl Window {
    fn new(stations: &Stations, from: usize, to: usize, first: Kind) -> Self {
        let n = stations.len();
        let count = (to + n - from) % n;
        let at = |k: usize| (from + k) % n;
        let seam = stations.seam.map(|s| (s + n - from) % n);
        Self {
            from,
            count,
            stations: Stations {
                points: (0..count).map(|k| stations.points[at(k)]).collect(),
                weights: (0..count).map(|k| stations.weights[at(k)]).collect(),
                closed: false,
                step: stations.step,
                sample_step: stations.sample_step,
                seam: seam.filter(|s| *s > 0 && *s < count),
            },
            first,
        }
    }

    /// The edges after the first, as a partition of the window. Nothing where they are not in order there.
    fn partition(&self, edges: &[(usize, Kind)], n: usize) -> Option<Partition> {
        let mut out = Partition {
            starts: vec![0],
            kinds: vec![self.first],
        };
        for (start, kind) in edges {
            let at = (start + n - self.from) % n;
            let last = out.starts.last().copied().unwrap_or(0);
            if at <= last || at + 1 >= self.count {
                return None;
            }
            out.starts.push(at);
            out.kinds.push(*kind);
        }
        Some(out)
    }
}

/// A way as it comes out on its window.
struct Priced {
    price: f64,
    /// What the stations say against it as it is solved free, nats.
    misfit: f64,
    /// Where its edges start on the path, the first aside.
    edges: Vec<(usize, Kind)>,
}

/// Price of a way on its window of a path of `n` stations, the cheaper of free and with nearly smooth joints
/// smooth. Nothing where the free one is so much dearer than `least` that no smooth joint mends it.
fn priced(
    window: &Window,
    part: &Problem<'_>,
    edges: &[(usize, Kind)],
    n: usize,
    instrument: Instrument,
    least: f64,
) -> Option<Priced> {
    let partition = window.partition(edges, n)?;
    let free = read_partition(part, &Proposed::free(partition), instrument)?;
    if free.price > least + MENDED {
        return None;
    }
    let misfit = free.measures[Measure::Misfit];
    let tied = free.chain().and_then(with_tangents);
    let tied = tied.and_then(|p| read_partition(part, &p, instrument));
    let best = match tied {
        Some(t) if t.price < free.price => t,
        _ => free,
    };
    let solved = best.chain()?;
    let starts = solved.starts.iter().map(|s| (s + window.from) % n);
    let edges = starts.zip(solved.figure.kinds.iter().copied());
    Some(Priced {
        price: best.price,
        misfit,
        edges: edges.skip(1).collect(),
    })
}

/// Smooth joints gain no more than this, nats (in 99 of 100 that come to anything).
const MENDED: f64 = 28.0;
/// Where the stations say no more than this against a stretch, nats, it is not two edges short (one in 200).
const EXPLAINED: f64 = 5.0;

/// Other ways for `width` edges from `e` on.
fn of_stretch(
    s: &Solved,
    problem: &Problem<'_>,
    table: &SpanTable,
    instrument: Instrument,
    e: usize,
    width: usize,
) -> Vec<Change> {
    let stations = problem.stations;
    let (n, m) = (stations.len(), s.figure.len());
    let (before, after) = ((e + m - 1) % m, (e + width) % m);
    let beside = libm::round(BESIDE * problem.noise.unit / stations.step) as usize;
    let (a, joint) = stretch(&s.starts, before, n);
    let (last, b) = stretch(&s.starts, after, n);
    let half = |from: usize, to: usize| {
        if before == after {
            (to - from) / 2
        } else {
            to - from
        }
    };
    let from = (joint + 2 * n - half(a, joint).min(beside)) % n;
    let to = (last + half(last, b).min(beside)) % n;
    let (from, to) = (table.node_near(from), table.node_near(to));
    let ends = (s.figure.kinds[before], s.figure.kinds[after]);
    let window = Window::new(
        stations,
        table.station_of(from),
        table.station_of(to),
        ends.0,
    );
    let most = MOST_OF_PATH * n as f64;
    if window.count < FEWEST || (stations.closed && window.count as f64 > most) {
        return Vec::new();
    }
    let own: Vec<(usize, Kind)> = (0..=width)
        .map(|k| (e + k) % m)
        .map(|e| (s.starts[e], s.figure.kinds[e]))
        .collect();
    // Its running sums serve all ways through it.
    let part = Problem::of_part(&window.stations, &problem.noise, problem.size);
    let price =
        |edges: &[(usize, Kind)], least: f64| priced(&window, &part, edges, n, instrument, least);
    let Some(here) = price(&own, f64::INFINITY) else {
        return Vec::new();
    };
    let most = own.len() + if here.misfit < EXPLAINED { 1 } else { BETWEEN };
    let mut ways = table.ways(from, to, ends);
    ways.retain(|w| w.edges.len() <= most && !same(&w.edges, &own, n));
    let scale = problem.noise.whole().scale();
    let mut out = Vec::new();
    for way in cheapest(ways, scale) {
        let Some(other) = price(&way.edges, here.price) else {
            continue;
        };
        out.push(Change {
            from: window.from,
            reach: window.count,
            edges: (e, after),
            instead: other.edges,
            price: other.price - here.price,
        });
    }
    out
}

/// A window of fewer stations says nothing.
const FEWEST: usize = 12;

/// The few ways that cost least by themselves.
fn cheapest(ways: Vec<Way>, scale: f64) -> Vec<Way> {
    let cost = |w: &Way| {
        let edges = w.edges.iter().map(|e| EDGE[usize::from(e.1 == Kind::Arc)]);
        w.misfit / scale + edges.sum::<f64>()
    };
    let mut priced: Vec<(f64, Way)> = ways.into_iter().map(|w| (cost(&w), w)).collect();
    priced.order_by(|a, b| a.0.total_cmp(&b.0));
    let least = priced.first().map_or(0.0, |p| p.0);
    let near = priced.into_iter().take_while(|p| p.0 < least + WITHIN);
    near.take(WAYS).map(|p| p.1).collect()
}

/// The same kinds of edges that start within a few stations of one another.
fn same(a: &[(usize, Kind)], b: &[(usize, Kind)], n: usize) -> bool {
    let near = |(s, t): (&(usize, Kind), &(usize, Kind))| {
        let apart = s.0.abs_diff(t.0);
        s.1 == t.1 && apart.min(n - apart.min(n)) <= AS_ONE
    };
    a.len() == b.len() && a.iter().zip(b).all(near)
}

/// Stations within which two joints are one.
const AS_ONE: usize = 3;

//! Thin lines become chains: what was drawn in one go, told apart where lines cross.
//!
//! Pixels with two neighbours are branches, others ends and crossings. Short spurs go (a thick line's
//! thinning has hairs), crossings that lie within a line's width of one another are one (two thick lines cross in
//! two forks). At a crossing the two branches that run on most nearly straight belong together; what is left
//! over ends there. Free ends that look at one another over a small gap are one line that was worn or
//! blinded away between them.

use super::thin::AROUND;
use crate::geom::{Point, Sorted as _, Vec2};
use std::collections::BTreeMap;

/// A line in pixels of the ink's grid.
#[derive(Clone, Debug)]
pub(super) struct Chain {
    pub points: Vec<Point>,
    pub closed: bool,
}

/// Branches turn by less than this where they run on over a crossing, cosine (about 40°).
const RUNS_ON: f64 = 0.77;
/// And over a gap each end looks at the other within this, cosine (about 50°).
const LOOKS: f64 = 0.64;
/// Or they meet at a corner, at this much of an angle at least, sine (about 30°).
const TURNS: f64 = 0.5;

#[derive(Clone, Debug)]
struct Branch {
    points: Vec<Point>,
    /// The crossing at either end; a free end has none.
    nodes: [Option<usize>; 2],
}

impl Branch {
    fn length(&self) -> f64 {
        let pairs = self.points.iter().zip(self.points.iter().skip(1));
        pairs.map(|(a, b)| a.distance(*b)).sum()
    }

    fn end(&self, which: usize) -> Point {
        let end = if which == 0 {
            self.points.first()
        } else {
            self.points.last()
        };
        end.copied().unwrap_or_default()
    }

    /// The direction in which an end looks out, over so many pixels.
    fn looks(&self, which: usize, over: f64) -> Vec2 {
        let end = self.end(which);
        let n = self.points.len();
        let at = |i: usize| {
            if which == 0 {
                self.points.get(i)
            } else {
                self.points.get(n.wrapping_sub(1 + i))
            }
        };
        let far = (0..n)
            .filter_map(at)
            .find(|p| p.distance(end) > over)
            .copied();
        let far = far.unwrap_or_else(|| self.end(1 - which));
        // From a little inside: at a crossing thinning pulls ends aside.
        let near = (0..n)
            .filter_map(at)
            .find(|p| p.distance(end) > 0.3 * over)
            .copied();
        (near.unwrap_or(end) - far).unit().unwrap_or_default()
    }
}

/// An end of a branch.
type End = (usize, usize);

/// Branches and who continues whom.
struct Net {
    branches: Vec<Branch>,
    on: BTreeMap<End, End>,
    /// Width of the line, pixels.
    wide: f64,
}

/// The chains of a thinned mask; `wide` is the line's width and `gap` the widest gap that is bridged, pixels.
pub(super) fn chains(bits: &[bool], width: usize, wide: f64, gap: f64) -> Vec<Chain> {
    let mut net = Net {
        branches: branches(bits, width),
        on: BTreeMap::new(),
        wide,
    };
    // Ends of a line beside a crossing of nothing else, which a step of the thinned line makes, are no spurs.
    net.join();
    for _ in 0..3 {
        net.prune(1.1 * wide);
        net.join();
    }
    net.merge(1.3 * wide);
    net.join();
    net.prune(1.1 * wide);
    net.join();
    net.pair(RUNS_ON);
    net.bridge(gap);
    let mut out = net.follow();
    if !out.iter().any(|c| c.closed) {
        // A guide line may have been taken for the outline's next side: without loose ends there is less choice.
        let mut core = Net {
            branches: net.branches.clone(),
            on: BTreeMap::new(),
            wide,
        };
        for _ in 0..40 {
            core.prune(f64::INFINITY);
            core.join();
        }
        core.pair(-1.0);
        out.extend(core.follow().into_iter().filter(|c| c.closed));
    }
    out
}

fn branches(bits: &[bool], width: usize) -> Vec<Branch> {
    let is = |i: usize| bits.get(i).copied().unwrap_or(false);
    let next = |i: usize| {
        let x = (i % width.max(1)) as isize;
        AROUND.iter().filter_map(move |(dx, dy)| {
            let j = usize::try_from(i as isize + dy * width as isize + dx).ok()?;
            (x + dx >= 0 && x + dx < width as isize && is(j)).then_some(j)
        })
    };
    let degree: BTreeMap<usize, usize> = (0..bits.len())
        .filter(|i| is(*i))
        .map(|i| (i, next(i).count()))
        .collect();
    let is_node = |i: &usize| degree.get(i).is_some_and(|d| *d > 2);
    let place = |i: usize| Point::new((i % width) as f64, (i / width) as f64);
    // Crossings: pixels of more than two neighbours that touch are one.
    let mut node_of: BTreeMap<usize, usize> = BTreeMap::new();
    let mut count = 0;
    for &start in degree.keys().filter(|i| is_node(i)) {
        if node_of.contains_key(&start) {
            continue;
        }
        let mut open = vec![start];
        while let Some(i) = open.pop() {
            if node_of.insert(i, count).is_none() {
                open.extend(next(i).filter(|j| is_node(j) && !node_of.contains_key(j)));
            }
        }
        count += 1;
    }
    let mut used: BTreeMap<usize, ()> = BTreeMap::new();
    let mut out = Vec::new();
    let mut walk = |from: Option<usize>, start: usize, out: &mut Vec<Branch>| {
        if used.contains_key(&start) {
            return;
        }
        let mut points: Vec<Point> = from.map(place).into_iter().collect();
        let mut at = start;
        let mut end_node = None;
        let mut last = from;
        loop {
            used.insert(at, ());
            points.push(place(at));
            let node = next(at).find(|j| is_node(j) && (Some(*j) != last || points.len() > 2));
            let onward = next(at).find(|j| !is_node(j) && !used.contains_key(j));
            match (onward, node) {
                (Some(j), _) => {
                    last = Some(at);
                    at = j;
                }
                (None, Some(j)) => {
                    points.push(place(j));
                    end_node = node_of.get(&j).copied();
                    break;
                }
                (None, None) => break,
            }
        }
        let begin = from.and_then(|f| node_of.get(&f).copied());
        // A pixel beside two of a crossing's own leads nowhere.
        if begin.is_some() && begin == end_node && points.len() < 4 {
            return;
        }
        out.push(Branch {
            points,
            nodes: [begin, end_node],
        });
    };
    for (&i, _) in degree.iter().filter(|(i, _)| is_node(i)) {
        for j in next(i).filter(|j| !is_node(j)) {
            walk(Some(i), j, &mut out);
        }
    }
    for (&i, _) in degree.iter().filter(|(_, d)| **d == 1) {
        walk(None, i, &mut out);
    }
    for (&i, _) in degree.iter().filter(|(_, d)| **d == 2) {
        walk(None, i, &mut out);
    }
    out
}

impl Net {
    fn at_node(&self) -> BTreeMap<usize, Vec<End>> {
        let mut out: BTreeMap<usize, Vec<End>> = BTreeMap::new();
        for (i, b) in self.branches.iter().enumerate() {
            for (which, node) in b.nodes.iter().enumerate() {
                if let Some(n) = node {
                    out.entry(*n).or_default().push((i, which));
                }
            }
        }
        out
    }

    /// Takes out branches shorter than `least` that end free at one end.
    fn prune(&mut self, least: f64) {
        let loose = |b: &Branch| {
            let free = b.nodes.iter().filter(|n| n.is_none()).count();
            let ring = free == 2 && b.points.len() > 8 && b.end(0).distance(b.end(1)) < 2.0;
            (free == 1 && b.length() < least) || (free == 2 && !ring && least.is_infinite())
        };
        self.branches.retain(|b| !loose(b));
    }

    /// Makes crossings one that lie within a length of one another.
    fn merge(&mut self, within: f64) {
        while let Some(i) = self
            .branches
            .iter()
            .position(|b| matches!(b.nodes, [Some(a), Some(c)] if a != c) && b.length() < within)
        {
            let gone = self.branches.swap_remove(i);
            if let [Some(a), Some(c)] = gone.nodes {
                for node in self.branches.iter_mut().flat_map(|b| b.nodes.iter_mut()) {
                    if *node == Some(c) {
                        *node = Some(a);
                    }
                }
            }
        }
        // What now leads from a crossing to itself, and is short, is part of it.
        self.branches.retain(|b| {
            !(b.nodes.iter().all(Option::is_some)
                && b.nodes.first() == b.nodes.last()
                && b.length() < 2.0 * within)
        });
    }

    /// Where a crossing is left with two branches they are one.
    fn join(&mut self) {
        loop {
            let nodes = self.at_node();
            let two = nodes.values().find_map(|ends| match ends.as_slice() {
                [a, b] if a.0 != b.0 => Some((*a, *b)),
                _ => None,
            });
            let Some(((i, end_i), (j, end_j))) = two else {
                break;
            };
            let (Some(a), Some(b)) = (self.branches.get(i).cloned(), self.branches.get(j).cloned())
            else {
                break;
            };
            let mut points = a.points;
            if end_i == 0 {
                points.reverse();
            }
            let mut rest = b.points;
            if end_j == 1 {
                rest.reverse();
            }
            points.append(&mut rest);
            let far = |b: [Option<usize>; 2], end: usize| if end == 0 { b[1] } else { b[0] };
            let joined = Branch {
                points,
                nodes: [far(a.nodes, end_i), far(b.nodes, end_j)],
            };
            let (low, high) = (i.min(j), i.max(j));
            self.branches.swap_remove(high);
            self.branches.swap_remove(low);
            self.branches.push(joined);
        }
        // A ring that hangs on a crossing of nothing else is closed.
        let nodes = self.at_node();
        for ends in nodes.values() {
            if let [a, b] = ends.as_slice()
                && a.0 == b.0
                && let Some(branch) = self.branches.get_mut(a.0)
            {
                branch.nodes = [None, None];
            }
        }
    }

    /// At every crossing: who runs on into whom.
    fn pair(&mut self, least: f64) {
        for ends in self.at_node().values() {
            let over = 2.2 * self.wide;
            let looks: Vec<(End, Vec2)> = ends
                .iter()
                .filter_map(|e| Some((*e, self.branches.get(e.0)?.looks(e.1, over))))
                .collect();
            let mut pairs: Vec<(f64, End, End)> = Vec::new();
            for (i, (a, u)) in looks.iter().enumerate() {
                for (b, v) in looks.iter().skip(i + 1) {
                    pairs.push((-u.dot(*v), *a, *b));
                }
            }
            pairs.order_by(|a, b| b.0.total_cmp(&a.0));
            for (straight, a, b) in pairs {
                if straight > least && !self.on.contains_key(&a) && !self.on.contains_key(&b) {
                    self.on.insert(a, b);
                    self.on.insert(b, a);
                }
            }
        }
    }

    /// Free ends that look at one another over a gap.
    fn bridge(&mut self, gap: f64) {
        let free: Vec<(End, Point, Vec2)> = self
            .branches
            .iter()
            .enumerate()
            .flat_map(|(i, b)| [(i, 0), (i, 1)].map(|e| (e, b)))
            .filter(|(e, b)| !self.on.contains_key(e) && b.length() > self.wide)
            .map(|(e, b)| (e, b.end(e.1), b.looks(e.1, 2.5 * self.wide)))
            .collect();
        let mut pairs: Vec<(f64, End, End)> = Vec::new();
        for (i, (a, p, u)) in free.iter().enumerate() {
            for (b, q, v) in free.iter().skip(i + 1) {
                let far = p.distance(*q);
                let across = (*q - *p).unit().unwrap_or(*u);
                let sees = u.dot(across) > LOOKS && v.dot(-across) > LOOKS;
                if far < gap && (sees || far < 1.5 * self.wide || self.corner(*p, *u, *q, *v, gap))
                {
                    pairs.push((far, *a, *b));
                }
            }
        }
        pairs.order_by(|a, b| a.0.total_cmp(&b.0));
        for (_, a, b) in pairs {
            if !self.on.contains_key(&a) && !self.on.contains_key(&b) {
                self.on.insert(a, b);
                self.on.insert(b, a);
            }
        }
    }

    /// Whether two ends, carried on, meet at a corner that was not seen.
    fn corner(&self, p: Point, u: Vec2, q: Point, v: Vec2, gap: f64) -> bool {
        let sine = u.cross(v);
        let (s, t) = ((q - p).cross(v) / sine, (q - p).cross(u) / sine);
        let ahead = |t: f64| t > -0.5 * self.wide && t < gap;
        sine.abs() > TURNS && ahead(s) && ahead(t)
    }

    /// Runs of branches from end to end.
    fn follow(&self) -> Vec<Chain> {
        let mut used = vec![false; self.branches.len()];
        let mut out = Vec::new();
        let ends = (0..self.branches.len()).flat_map(|i| [(i, 0), (i, 1)]);
        // First those that begin somewhere, then those that go round.
        let (starts, rings): (Vec<End>, Vec<End>) = ends.partition(|e| !self.on.contains_key(e));
        for start in starts.into_iter().chain(rings) {
            if used.get(start.0).copied().unwrap_or(true) {
                continue;
            }
            let mut points: Vec<Point> = Vec::new();
            let (mut at, mut closed) = (start, false);
            while let Some(branch) = self.branches.get(at.0) {
                match used.get_mut(at.0) {
                    Some(u) if !*u => *u = true,
                    _ => {
                        closed = at.0 == start.0;
                        break;
                    }
                }
                let far = (at.0, 1 - at.1);
                match at.1 {
                    0 => points.extend(&branch.points),
                    _ => points.extend(branch.points.iter().rev()),
                }
                match self.on.get(&far) {
                    Some(next) => at = *next,
                    None => break,
                }
            }
            let ring = match (points.first(), points.last()) {
                (Some(a), Some(b)) => points.len() > 8 && a.distance(*b) < 2.5,
                _ => false,
            };
            out.push(Chain {
                closed: closed || ring,
                points,
            });
        }
        out
    }
}

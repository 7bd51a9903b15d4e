//! Small changes to a reading, each a new partition to try: the neighbourhood that the ladder of
//! scales may have stepped over.
//!
//! A corner gets a fillet, all corners do, a short arc becomes a corner, two arcs get a line between them, two
//! neighbours become one edge, an edge goes, a line becomes an arc or an arc a line. Whether the change is right is for the
//! price to say; here only changes that the stations do not plainly speak against are proposed.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the partition that is changed, which has as many kinds as starts"
)]

use crate::fit::partition::{Kind, Partition, stretch_misfits};
use crate::geom::Sorted as _;
use crate::relate::constraint::Condition;
use crate::relate::equations::{Problem, stretch};
use crate::relate::figure::Figure;
use crate::relate::solve::Solved;
use crate::trace::Stations;

/// A corner is only offered a fillet when the trace misses it by more than this many widths of an
/// ordinary rounding by hand.
const FILLET_MISS: f64 = 0.6;
/// Arcs shorter than this part of the path may be corners.
const SHORT: f64 = 0.12;

/// A partition to try, with conditions that are part of the proposal.
#[derive(Clone, Debug)]
pub struct Proposed {
    /// Where edges start and what they are.
    pub partition: Partition,
    /// Conditions to hold from the start: a fillet is tangent at both ends.
    pub held: Vec<Condition>,
}

impl Proposed {
    /// A partition without conditions.
    #[must_use]
    pub fn free(partition: Partition) -> Self {
        Self {
            partition,
            held: Vec::new(),
        }
    }
}

/// All changes to `s` worth trying.
#[must_use]
pub fn neighbours(s: &Solved, problem: &Problem, rounding: f64) -> Vec<Proposed> {
    let stations = problem.stations;
    let n = stations.len();
    let m = s.figure.len();
    let base = s.partition();
    let mut out: Vec<Proposed> = Vec::new();
    // Whoever rounds some corners rounds them by more than the hand rounds the rest: the one that is
    // rounded most, the two, and so on to all of them.
    let mut most = fillet_spans(s, stations, rounding);
    most.order_by(|a, b| b.reach.cmp(&a.reach));
    out.extend((1..=most.len()).map(|k| with_fillets(&base, &most[..k], n)));
    out.extend(tied(s));
    out.extend(chamfers_as_fillets(s, &base));
    out.extend(lines_between_arcs(s, n));
    let is_short = |e: usize| {
        let (from, to) = stretch(&s.starts, e, n);
        ((to - from) as f64) < SHORT * n as f64
    };
    let short_arcs: Vec<usize> = (0..m)
        .filter(|&e| base.kinds[e] == Kind::Arc && is_short(e))
        .collect();
    if short_arcs.len() > 1 && m > short_arcs.len() {
        out.extend(without(&base, &short_arcs, n, stations.closed).map(Proposed::free));
    }
    let testimony = Testimony::of(s, problem);
    let closed = stations.closed;
    // Of each kind of change those that the stations speak least against.
    let (mut flips, mut removals, mut mergers) = (Vec::new(), Vec::new(), Vec::new());
    for e in 0..m {
        flips.extend(testimony.flip(e).map(|cost| (cost, e, Kind::Line)));
        removals.push((testimony.removal(e), e, Kind::Line));
        if e + 1 < m || (closed && m > 2) {
            for kind in [Kind::Line, Kind::Arc] {
                mergers.extend(testimony.merger(e, kind).map(|cost| (cost, e, kind)));
            }
        }
    }
    let flips = cheapest(flips, MOST_FLIPS).map(|(e, _)| Some(flipped(&base, e)));
    let removals = cheapest(removals, MOST_REMOVALS).map(|(e, _)| without(&base, &[e], n, closed));
    let mergers = cheapest(mergers, MOST_MERGERS).map(|(e, kind)| Some(merged(&base, e, kind)));
    let changed = flips.chain(removals).chain(mergers).flatten();
    out.extend(changed.map(Proposed::free));
    out.retain(|p| is_sound(&p.partition, stations));
    out
}

/// How many changes of each kind are tried. (Twice as many read one more of 845 recorded drawings, and none of
/// 2,700 generated ones.)
const MOST_FLIPS: usize = 3;
const MOST_REMOVALS: usize = 4;
const MOST_MERGERS: usize = 4;

/// The few that cost least.
fn cheapest(mut all: Vec<(f64, usize, Kind)>, most: usize) -> impl Iterator<Item = (usize, Kind)> {
    all.order_by(|a, b| a.0.total_cmp(&b.0));
    all.into_iter().take(most).map(|(_, e, kind)| (e, kind))
}

/// What the stations say of stretches by themselves, joints left where they are: misfits as lines and as
/// arcs, in nats of the wander.
struct Testimony<'a> {
    problem: &'a Problem<'a>,
    starts: &'a [usize],
    kinds: &'a [Kind],
    /// Of each edge, as a line and as an arc.
    own: Vec<(f64, f64)>,
    /// Of the whole reading.
    whole: f64,
}

impl<'a> Testimony<'a> {
    fn of(s: &'a Solved, problem: &'a Problem<'a>) -> Self {
        let mut out = Self {
            problem,
            starts: &s.starts,
            kinds: &s.figure.kinds,
            own: Vec::with_capacity(s.figure.len()),
            whole: 0.0,
        };
        for e in 0..s.figure.len() {
            let (from, to) = stretch(&s.starts, e, problem.stations.len());
            let own = out.misfits(from, to);
            out.whole += out.as_read(e, own);
            out.own.push(own);
        }
        out
    }

    fn misfits(&self, from: usize, to: usize) -> (f64, f64) {
        let k = 1.0 / self.problem.noise.scale();
        let (line, arc) = stretch_misfits(self.problem.stations, from, to);
        (k * line, k * arc)
    }

    fn as_read(&self, e: usize, (line, arc): (f64, f64)) -> f64 {
        if self.kinds[e] == Kind::Line {
            line
        } else {
            arc
        }
    }

    /// What edge `e` costs as the other kind; nothing for a line that as an arc would gain nothing.
    fn flip(&self, e: usize) -> Option<f64> {
        let (line, arc) = self.own[e];
        match self.kinds[e] {
            Kind::Arc => Some(line - arc),
            Kind::Line => (line - arc > FLIP_GAIN).then_some(arc - line),
        }
    }

    /// What it costs to give half of edge `e` to either neighbour.
    fn removal(&self, e: usize) -> f64 {
        let n = self.problem.stations.len();
        let m = self.own.len();
        let (before, next) = ((e + m - 1) % m, (e + 1) % m);
        let (from, to) = stretch(self.starts, e, n);
        let middle = (from + to) / 2;
        let (a, b) = stretch(self.starts, before, n);
        let (c, d) = stretch(self.starts, next, n);
        let longer = self.as_read(before, self.misfits(a, b + middle - from))
            + self.as_read(next, self.misfits(middle, to + d - c));
        longer
            - [before, e, next]
                .iter()
                .map(|&e| self.as_read(e, self.own[e]))
                .sum::<f64>()
    }

    /// What edge `e` and the next cost as one edge of `kind`; nothing where that is far too much.
    fn merger(&self, e: usize, kind: Kind) -> Option<f64> {
        let n = self.problem.stations.len();
        let next = (e + 1) % self.own.len();
        let (from, to) = stretch(self.starts, e, n);
        let (a, b) = stretch(self.starts, next, n);
        let (line, arc) = self.misfits(from, to + b - a);
        let rise = if kind == Kind::Line { line } else { arc };
        let rise = rise - self.as_read(e, self.own[e]) - self.as_read(next, self.own[next]);
        (rise < MERGER_RISE + MERGER_SHARE * self.whole).then_some(rise)
    }
}

/// What an arc must gain over a line, nats.
const FLIP_GAIN: f64 = 2.0;
/// What a merger may cost: nats, and against the misfit of the whole reading.
const MERGER_RISE: f64 = 60.0;
const MERGER_SHARE: f64 = 3.0;

/// The same partition with edge `e` of the other kind.
fn flipped(base: &Partition, e: usize) -> Partition {
    let mut out = base.clone();
    out.kinds[e] = if base.kinds[e] == Kind::Line {
        Kind::Arc
    } else {
        Kind::Line
    };
    out
}

/// The same partition with every nearly tangent joint tangent, and in a second proposal all arcs of
/// nearly one radius equal as well: shapes that people mean, which a free solve may miss by more
/// than one relation at a time can mend.
#[must_use]
pub fn tied(s: &Solved) -> Vec<Proposed> {
    let f = &s.figure;
    let m = f.len();
    let tangent: Vec<Condition> = (0..m)
        .filter(|e| runs_on(f, *e))
        .map(Condition::tangent)
        .collect();
    if tangent.is_empty() {
        return Vec::new();
    }
    let mut equal = tangent.clone();
    equal.extend(alike((0..m).map(|e| radius(f, e))));
    let with = |held: Vec<Condition>| Proposed {
        partition: s.partition(),
        held,
    };
    if equal.len() > tangent.len() {
        vec![with(tangent), with(equal)]
    } else {
        vec![with(tangent)]
    }
}

/// Lines that cut a corner off, as arcs tangent at both ends: each alone, all, and all of one radius. A
/// fillet is first met as the chord of it, which an arc without ties hardly leaves.
fn chamfers_as_fillets(s: &Solved, base: &Partition) -> Vec<Proposed> {
    let f = &s.figure;
    let m = f.len();
    let before = |e: usize| (e + m - 1) % m;
    let inner = |e: usize| f.closed || (e > 0 && e + 1 < m);
    let cuts_a_corner = |e: &usize| {
        let (a, b) = (f.turn_after(before(*e)), f.turn_after(*e));
        let turn = a.abs() + b.abs();
        let longest = f.edge_length(before(*e)).max(f.edge_length((*e + 1) % m));
        inner(*e)
            && f.kinds[*e] == Kind::Line
            && a * b > 0.0
            && a.abs().min(b.abs()) > CHAMFER_TURN
            && turn < CHAMFER_TURNS
            && f.edge_length(*e) < longest
    };
    if m < 3 {
        return Vec::new();
    }
    let all: Vec<usize> = (0..m).filter(cuts_a_corner).collect();
    let rounded = |edges: &[usize], equal: bool| {
        let mut partition = base.clone();
        let mut held = Vec::new();
        for (i, &e) in edges.iter().enumerate() {
            partition.kinds[e] = Kind::Arc;
            for joint in [before(e), e] {
                let tangent = Condition::tangent(joint);
                if !held.contains(&tangent) {
                    held.push(tangent);
                }
            }
            if equal && i > 0 {
                held.push(Condition::equal_radius(edges[0], e));
            }
        }
        Proposed { partition, held }
    };
    let mut out: Vec<Proposed> = all.iter().map(|e| rounded(&[*e], false)).collect();
    if all.len() > 1 && all.len() < m {
        out.push(rounded(&all, false));
        out.push(rounded(&all, true));
    }
    out
}

/// Arcs that run into one another the same way, with a line between them, tangent to both: at each such joint
/// alone, and at all. Between two large fillets the line is short, and an arc reaches over it unseen.
fn lines_between_arcs(s: &Solved, n: usize) -> Vec<Proposed> {
    let f = &s.figure;
    let m = f.len();
    let before = |e: usize| (e + m - 1) % m;
    let between_arcs =
        |e: &usize| f.bulges[before(*e)] * f.bulges[*e] > 0.0 && runs_on(f, before(*e));
    let all: Vec<usize> = (0..m).filter(between_arcs).collect();
    let part = |e: usize| {
        let (from, to) = stretch(&s.starts, e, n);
        libm::round(LINE_OF_ARC * (to - from) as f64) as usize
    };
    let with_lines = |joints: &[usize]| {
        let mut pieces: Vec<Piece> = Vec::new();
        for e in 0..m {
            let own = Piece {
                start: s.starts[e],
                kind: f.kinds[e],
                tangent: runs_on(f, before(e)),
                radius: radius(f, e),
            };
            if joints.contains(&e) {
                pieces.push(Piece {
                    start: (own.start + n - part(before(e))) % n,
                    kind: Kind::Line,
                    tangent: true,
                    radius: None,
                });
                pieces.push(Piece {
                    start: (own.start + part(e)) % n,
                    ..own
                });
            } else {
                pieces.push(own);
            }
        }
        pieces.order_by_key(|p| p.start);
        pieces.dedup_by_key(|p| p.start);
        let count = pieces.len();
        let tangents = (0..count).filter(|i| pieces[*i].tangent);
        let tangents = tangents.map(|i| (i + count - 1) % count);
        let mut held: Vec<Condition> = tangents.map(Condition::tangent).collect();
        held.extend(alike(pieces.iter().map(|p| p.radius)));
        let partition = Partition {
            starts: pieces.iter().map(|p| p.start).collect(),
            kinds: pieces.iter().map(|p| p.kind).collect(),
        };
        Proposed { partition, held }
    };
    let mut out: Vec<Proposed> = all.iter().map(|e| with_lines(&[*e])).collect();
    if all.len() > 1 {
        out.push(with_lines(&all));
    }
    out
}

/// An edge of a partition that is being made.
struct Piece {
    start: usize,
    kind: Kind,
    /// It goes on from the one before without a kink.
    tangent: bool,
    /// Of an arc.
    radius: Option<f64>,
}

/// Edge `e` runs into the next nearly without a kink, and one of them is an arc.
fn runs_on(f: &Figure, e: usize) -> bool {
    let m = f.len();
    let next = (e + 1) % m;
    let joined = m > 1 && (f.closed || next > 0);
    let curved = f.kinds[e] == Kind::Arc || f.kinds[next] == Kind::Arc;
    joined && curved && f.turn_after(e).abs() < NEARLY_TANGENT
}

/// The radius of edge `e`, of an arc.
fn radius(f: &Figure, e: usize) -> Option<f64> {
    (f.kinds[e] == Kind::Arc).then(|| f.radius(e))
}

/// How much of either arc goes to a line between them at first.
const LINE_OF_ARC: f64 = 0.2;

/// Of edges' radii, those that may be equal, each with the first such before it.
fn alike(radii: impl Iterator<Item = Option<f64>>) -> Vec<Condition> {
    let arcs: Vec<(usize, f64)> = radii
        .enumerate()
        .filter_map(|(e, r)| Some((e, r?)))
        .collect();
    let near = |r: f64, q: f64| r.max(q) < NEARLY_EQUAL * r.min(q);
    let mut out = Vec::new();
    for (i, &(e, r)) in arcs.iter().enumerate() {
        if let Some(&(g, _)) = arcs[..i].iter().find(|(_, q)| near(r, *q)) {
            out.push(Condition::equal_radius(g, e));
        }
    }
    out
}

/// A chamfer turns at least this at either end, and at both together less than that, radians.
const CHAMFER_TURN: f64 = 0.2;
const CHAMFER_TURNS: f64 = 2.7;

/// Joints that turn less than this may be tangent ones, radians.
const NEARLY_TANGENT: f64 = 0.7;
/// Arcs whose radii differ by less than this factor may be equal.
const NEARLY_EQUAL: f64 = 1.8;

/// A closed path needs three edges, or two of which one is an arc.
#[must_use]
pub fn is_sound(p: &Partition, stations: &Stations) -> bool {
    let arcs = p.kinds.iter().filter(|k| **k == Kind::Arc).count();
    match p.len() {
        0 => false,
        1 => !stations.closed,
        2 => !stations.closed || arcs > 0,
        _ => true,
    }
}

/// Where a fillet would begin and end, in stations from the joint.
#[derive(Clone, Copy, Debug)]
struct Fillet {
    /// The edge that starts at the corner.
    edge: usize,
    /// Tangent length, stations.
    reach: usize,
    /// Its radius, mm, where a person said it.
    radius: Option<f64>,
}

/// The fillets that would account for how far the trace misses its corners.
fn fillet_spans(s: &Solved, stations: &Stations, rounding: f64) -> Vec<Fillet> {
    let n = stations.len();
    let m = s.figure.len();
    (0..m)
        .filter_map(|edge| {
            if !stations.closed && edge == 0 {
                return None;
            }
            let before = (edge + m - 1) % m;
            let turn = s.figure.turn_after(before);
            if turn.abs() < 0.3 || turn.abs() > 2.8 {
                return None;
            }
            let corner = s.figure.corners[edge];
            let squares = stations
                .points
                .iter()
                .map(|p| (*p - corner).length_squared());
            let near = squares.fold(f64::INFINITY, f64::min).sqrt();
            if near < FILLET_MISS * rounding {
                return None;
            }
            let half = 0.5 * turn.abs();
            let radius = near / (1.0 / libm::cos(half) - 1.0);
            let tangent = radius * libm::tan(half);
            let room = |e: usize| {
                let (from, to) = stretch(&s.starts, e, n);
                (to - from) / 2
            };
            let reach = (libm::round(tangent / stations.step) as usize)
                .min(room(before))
                .min(room(edge));
            (reach >= 2).then_some(Fillet {
                edge,
                reach,
                radius: None,
            })
        })
        .collect()
}

fn with_fillets(base: &Partition, fillets: &[Fillet], n: usize) -> Proposed {
    let mut spans: Vec<(usize, Kind)> = Vec::new();
    let mut arcs = Vec::new();
    for (e, (&start, &kind)) in base.starts.iter().zip(&base.kinds).enumerate() {
        match fillets.iter().find(|f| f.edge == e) {
            Some(f) => {
                let from = (start + n - f.reach) % n;
                arcs.push((from, f.radius));
                spans.push((from, Kind::Arc));
                spans.push(((start + f.reach) % n, kind));
            }
            None => spans.push((start, kind)),
        }
    }
    let partition = in_order(spans);
    let m = partition.len();
    let mut held = Vec::new();
    for e in (0..m).filter(|&e| partition.kinds[e] == Kind::Arc) {
        let Some((_, radius)) = arcs.iter().find(|a| a.0 == partition.starts[e]) else {
            continue;
        };
        held.push(Condition::tangent((e + m - 1) % m));
        held.push(Condition::tangent(e));
        held.extend(radius.map(|r| Condition::radius(e, r)));
    }
    Proposed { partition, held }
}

/// The partition without some edges: each one's stretch goes half to either neighbour.
fn without(base: &Partition, gone: &[usize], n: usize, closed: bool) -> Option<Partition> {
    let m = base.len();
    if m <= gone.len() {
        return None;
    }
    let mut spans: Vec<(usize, Kind)> = Vec::new();
    for e in 0..m {
        if gone.contains(&e) {
            continue;
        }
        let before = (e + m - 1) % m;
        let start = if gone.contains(&before) && (closed || e > 0) {
            let (from, to) = stretch(&base.starts, before, n);
            let middle = if !closed && before == 0 {
                0
            } else {
                (from + to) / 2
            };
            middle % n
        } else {
            base.starts[e]
        };
        spans.push((start, base.kinds[e]));
    }
    if !closed && let Some(first) = spans.first_mut() {
        first.0 = 0;
    }
    Some(in_order(spans))
}

/// Edge `e` and the next as one of `kind`.
fn merged(base: &Partition, e: usize, kind: Kind) -> Partition {
    let next = (e + 1) % base.len();
    let spans = (0..base.len())
        .filter(|&i| i != next)
        .map(|i| (base.starts[i], if i == e { kind } else { base.kinds[i] }))
        .collect();
    in_order(spans)
}

fn in_order(mut spans: Vec<(usize, Kind)>) -> Partition {
    spans.order_by_key(|s| s.0);
    spans.dedup_by_key(|s| s.0);
    Partition {
        starts: spans.iter().map(|s| s.0).collect(),
        kinds: spans.iter().map(|s| s.1).collect(),
    }
}

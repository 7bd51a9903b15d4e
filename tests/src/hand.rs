//! Models of a hand that traces a known outline.
//!
//! A trace is made in four steps: the course the pen means to take (the outline with its corners
//! rounded or run past), where along it the pen is at each sample (speed, dwell, going back,
//! overrun or gap), how far off the course it is there (the wander), and what the recording
//! does to it (lost samples, spikes, sparse pens). All lengths are mm, times seconds.
//!
//! The wander comes in several forms, so that a reader tuned to one of them is found out:
//! an Ornstein–Uhlenbeck process along the path, a smooth drift of long waves, and a drift with a
//! tremor of 6 to 12 Hz in time (the band of Lakie et al., J. Physiol. 593, 2015).

use crate::rng::Rng;
use crate::shapes::Case;
use core::f64::consts::{FRAC_PI_4, TAU};
use trued::{Edge, Path, Point, Stroke, Trace, Vec2};

/// How large the hand's error is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// Wander 0.2 mm, a square corner missed by about 0.3 mm.
    Steady,
    /// Wander 0.5 mm, a square corner missed by about 0.7 mm.
    Ordinary,
    /// Wander 1.0 mm, a square corner missed by about 1.1 mm.
    Shaky,
}

impl Level {
    /// All three.
    pub const ALL: [Self; 3] = [Self::Steady, Self::Ordinary, Self::Shaky];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Steady => "steady",
            Self::Ordinary => "ordinary",
            Self::Shaky => "shaky",
        }
    }

    /// Standard deviation across the path, mm.
    #[must_use]
    pub const fn wander(self) -> f64 {
        match self {
            Self::Steady => 0.2,
            Self::Ordinary => 0.5,
            Self::Shaky => 1.0,
        }
    }

    /// By how much a square corner is missed, mm.
    #[must_use]
    pub const fn corner_miss(self) -> f64 {
        match self {
            Self::Steady => 0.3,
            Self::Ordinary => 0.7,
            Self::Shaky => 1.1,
        }
    }
}

/// The form of the wander.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Ornstein–Uhlenbeck along the path, correlated over 3 to 8 mm.
    Ou,
    /// A smooth drift of waves 20 to 60 mm long.
    Drift,
    /// Half drift, half a tremor of 6 to 12 Hz.
    Tremor,
    /// Ornstein–Uhlenbeck, with corners run past and come back to instead of rounded.
    Overrun,
    /// As people err who trace a template: by 0.38 to 0.59 % of the diagonal whatever the level, most of it slow
    /// (measured on the better hands in the sample data of an open toolkit for drawn spirals).
    People,
}

impl Form {
    /// All five.
    pub const ALL: [Self; 5] = [
        Self::Ou,
        Self::Drift,
        Self::Tremor,
        Self::Overrun,
        Self::People,
    ];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Ou => "ou",
            Self::Drift => "drift",
            Self::Tremor => "tremor",
            Self::Overrun => "overrun",
            Self::People => "people",
        }
    }
}

/// What kind of input the hand gives.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Input {
    /// One stroke round the outline.
    Stroke,
    /// Two to four strokes in any order and direction.
    Strokes,
    /// A few touched points: each corner once, arcs by touches no further than 45° apart.
    Touched,
    /// Points in no order.
    Cloud,
}

impl Input {
    /// All four.
    pub const ALL: [Self; 4] = [Self::Stroke, Self::Strokes, Self::Touched, Self::Cloud];

    /// Its name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Stroke => "stroke",
            Self::Strokes => "strokes",
            Self::Touched => "touched",
            Self::Cloud => "cloud",
        }
    }
}

/// A hand: how large its error, of which form, and what input it gives.
#[derive(Clone, Copy, Debug)]
pub struct Hand {
    /// Size of the error.
    pub level: Level,
    /// Form of the wander.
    pub form: Form,
    /// Kind of input.
    pub input: Input,
}

/// The trace a hand leaves of a case.
#[must_use]
pub fn trace(case: &Case, hand: Hand, rng: &mut Rng) -> Trace {
    trace_of(&case.path, hand, &Extra::default(), rng)
}

/// What a hand may do besides.
#[derive(Clone, Debug, Default)]
pub struct Extra {
    /// Errors that were recorded of people, laid along the path instead of made ones.
    pub errors: Option<Errors>,
    /// Samples evenly so far apart, mm, and no times.
    pub even: Option<f64>,
}

/// Errors across the line that were recorded of people tracing, as parts of the drawing's diagonal.
#[derive(Clone, Debug)]
pub struct Errors {
    /// Between neighbouring values, as a part of the diagonal.
    pub step: f64,
    /// One list for each recording.
    pub recordings: Vec<Vec<f64>>,
}

impl Errors {
    /// A file whose first line is the step, each further line the errors of a recording, separated by commas.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let mut lines = text.lines();
        let step = lines.next()?.trim().parse().ok()?;
        let numbers = |l: &str| l.split(',').filter_map(|v| v.trim().parse().ok()).collect();
        Some(Self {
            step,
            recordings: lines.map(numbers).collect(),
        })
    }
}

/// The trace a hand leaves of a closed path.
#[must_use]
pub fn trace_of(path: &Path, hand: Hand, extra: &Extra, rng: &mut Rng) -> Trace {
    match hand.input {
        Input::Touched => touched(path, hand.level, rng),
        Input::Cloud => cloud(path, hand, extra, rng),
        Input::Stroke => laid(path, hand, extra, rng, 1),
        Input::Strokes => {
            let n = 2 + rng.below(3);
            laid(path, hand, extra, rng, n)
        }
    }
}

// ---------------------------------------------------------------- the course the pen means to take

/// Step of the dense course, mm.
const FINE: f64 = 0.1;

/// A closed course as dense points, with the distance to the nearest sharp corner at each.
struct Course {
    points: Vec<Point>,
    corner: Vec<f64>,
}

impl Course {
    fn new(path: &Path, hand: Hand, rng: &mut Rng) -> Self {
        let path = if rng.chance(0.5) {
            path.reversed()
        } else {
            path.clone()
        };
        let mut points = densified(&path);
        let start = rng.below(points.len());
        points.rotate_left(start);
        let corner = corner_distances(&points);
        // A Gaussian of standard deviation s misses a square corner by s/sqrt(pi).
        let s = hand.level.corner_miss() * rng.range(0.8, 1.2) * 1.7725;
        if hand.form == Form::Overrun {
            return Self::overrun(&path, hand, rng);
        }
        Self {
            points: smoothed(&points, s / FINE),
            corner,
        }
    }

    /// Corners run past along the incoming edge, then come back to.
    fn overrun(path: &Path, hand: Hand, rng: &mut Rng) -> Self {
        let edges = path.edges();
        let n = edges.len();
        let mut points = Vec::new();
        for (i, edge) in edges.iter().enumerate() {
            append_dense(&mut points, edge);
            let next = &edges[(i + 1) % n];
            let (into, out) = (edge.direction_at(1.0), next.direction_at(0.0));
            if n > 1 && into.cross(out).abs().max(-into.dot(out)) > 0.4 {
                let past = hand.level.corner_miss() * rng.range(1.0, 2.5);
                let tip = edge.to() + into * past;
                let back = edge.to() + out * (0.8 * past);
                append_line(&mut points, edge.to(), tip);
                append_line(&mut points, tip, back);
                append_line(&mut points, back, edge.to() + out * (0.81 * past));
                // The next edge starts again at the corner; the doubled bit is part of the mess.
                append_line(&mut points, edge.to() + out * (0.81 * past), edge.to());
            }
        }
        let start = rng.below(points.len());
        points.rotate_left(start);
        let corner = corner_distances(&points);
        let s = 0.4 * hand.level.corner_miss() / FINE;
        Self {
            points: smoothed(&points, s),
            corner,
        }
    }

    fn length(&self) -> f64 {
        self.points.len() as f64 * FINE
    }

    /// Of the box around it, mm.
    fn diagonal(&self) -> f64 {
        let start = (Vec2::new(f64::MAX, f64::MAX), Vec2::new(f64::MIN, f64::MIN));
        let (lo, hi) = self.points.iter().fold(start, |(l, h), p| {
            (
                Vec2::new(l.x.min(p.x), l.y.min(p.y)),
                Vec2::new(h.x.max(p.x), h.y.max(p.y)),
            )
        });
        (hi - lo).length()
    }

    fn at(&self, s: f64) -> usize {
        let n = self.points.len() as f64;
        let k = s / FINE;
        let k = k - n * libm::floor(k / n);
        (k as usize).min(self.points.len() - 1)
    }

    /// The place at `s` and the unit step to the left of travel there.
    fn frame(&self, s: f64) -> (Point, Vec2) {
        let n = self.points.len();
        let i = self.at(s);
        let ahead = self.points[(i + 3) % n] - self.points[(i + n - 3) % n];
        (self.points[i], ahead.unit().unwrap_or_default().left())
    }
}

fn append_line(points: &mut Vec<Point>, from: Point, to: Point) {
    append_dense(points, &Edge::Line(trued::Line { from, to }));
}

fn append_dense(points: &mut Vec<Point>, edge: &Edge) {
    let n = libm::ceil(edge.length() / FINE).max(1.0) as usize;
    points.extend((0..n).map(|i| edge.point_at(i as f64 / n as f64)));
}

fn densified(path: &Path) -> Vec<Point> {
    let mut points = Vec::new();
    for edge in path.edges() {
        append_dense(&mut points, &edge);
    }
    points
}

/// Distance along a closed dense course to the nearest sharp corner.
fn corner_distances(points: &[Point]) -> Vec<f64> {
    let n = points.len();
    let mut d = vec![f64::INFINITY; n];
    for i in 0..n {
        let a = points[i] - points[(i + n - 1) % n];
        let b = points[(i + 1) % n] - points[i];
        if a.cross(b).abs().max(-a.dot(b)) > 0.3 * a.length() * b.length() {
            d[i] = 0.0;
        }
    }
    for _ in 0..2 {
        for i in 0..n {
            d[i] = d[i].min(d[(i + n - 1) % n] + FINE);
        }
        for i in (0..n).rev() {
            d[i] = d[i].min(d[(i + 1) % n] + FINE);
        }
    }
    d
}

/// A closed course smoothed by a Gaussian of `s` steps.
fn smoothed(points: &[Point], s: f64) -> Vec<Point> {
    let n = points.len();
    let reach = (libm::ceil(4.0 * s) as usize).min(n / 2);
    let weights: Vec<f64> = (0..=2 * reach)
        .map(|k| {
            let t = (k as f64 - reach as f64) / s.max(1e-9);
            libm::exp(-0.5 * t * t)
        })
        .collect();
    let total: f64 = weights.iter().sum();
    (0..n)
        .map(|i| {
            let (mut x, mut y) = (0.0, 0.0);
            for (k, w) in weights.iter().enumerate() {
                let p = points[(i + n + k - reach) % n];
                x += w * p.x;
                y += w * p.y;
            }
            Point::new(x / total, y / total)
        })
        .collect()
}

// ---------------------------------------------------------------- the wander

/// One running error across the course.
struct Wander {
    form: Form,
    size: f64,
    correlation: f64,
    state: f64,
    waves: Vec<(f64, f64)>,
    tremor: [(f64, f64); 2],
    travelled: f64,
    people: Option<People>,
    /// Recorded errors: their spacing, mm, and values, mm, from some place on.
    recorded: Option<(f64, Vec<f64>)>,
}

/// The error of people: a slow process (Matérn 3/2, value and slope) and a fast one, mm.
struct People {
    slow: f64,
    length: f64,
    value: f64,
    slope: f64,
    fast: f64,
}

impl People {
    fn new(diagonal: f64, rng: &mut Rng) -> Self {
        let whole = rng.range(0.0038, 0.0059) * diagonal;
        let fast = rng.range(0.0005, 0.0012) * diagonal;
        let slow = libm::sqrt(whole * whole - fast * fast);
        let length = rng.range(0.018, 0.06) * diagonal;
        Self {
            slow,
            length,
            value: slow * rng.normal(),
            slope: slow / length * rng.normal(),
            fast,
        }
    }

    /// The slow error after another `step` mm.
    fn next(&mut self, step: f64, rng: &mut Rng) -> f64 {
        let a = 1.0 / self.length;
        let (u, decay) = (a * step, libm::exp(-a * step));
        let f = [
            [decay * (1.0 + u), decay * step],
            [-decay * a * u, decay * (1.0 - u)],
        ];
        let (p, q) = (self.slow * self.slow, a * a * self.slow * self.slow);
        let left = |i: usize, j: usize| f[i][0] * p * f[j][0] + f[i][1] * q * f[j][1];
        let (x, xy, y) = (
            (p - left(0, 0)).max(0.0),
            -left(0, 1),
            (q - left(1, 1)).max(0.0),
        );
        let sx = libm::sqrt(x);
        let along = if sx > 0.0 { xy / sx } else { 0.0 };
        let (m, n) = (rng.normal(), rng.normal());
        let (v, s) = (self.value, self.slope);
        self.value = f[0][0] * v + f[0][1] * s + sx * m;
        self.slope =
            f[1][0] * v + f[1][1] * s + along * m + libm::sqrt((y - along * along).max(0.0)) * n;
        self.value
    }
}

impl Wander {
    fn new(hand: Hand, course: &Course, extra: &Extra, rng: &mut Rng) -> Self {
        let diagonal = course.diagonal();
        let recorded = extra.errors.as_ref().map(|e| {
            let one = &e.recordings[rng.below(e.recordings.len())];
            let from = rng.below(one.len());
            let sign = if rng.chance(0.5) { diagonal } else { -diagonal };
            let ahead = rng.chance(0.5);
            let n = one.len();
            let values = (0..n).map(|k| {
                // There and back, so that nothing jumps where the recording ends.
                let k = (from + k) % (2 * n);
                let k = if k < n { k } else { 2 * n - 1 - k };
                sign * one[if ahead { k } else { n - 1 - k }]
            });
            (e.step * diagonal, values.collect())
        });
        Self {
            people: (hand.form == Form::People).then(|| People::new(diagonal, rng)),
            recorded,
            form: hand.form,
            size: hand.level.wander(),
            correlation: rng.range(3.0, 8.0),
            state: rng.normal(),
            waves: (0..6)
                .map(|_| (rng.range(20.0, 60.0), rng.range(0.0, TAU)))
                .collect(),
            tremor: [(); 2].map(|()| (rng.range(6.0, 12.0), rng.range(0.0, TAU))),
            travelled: 0.0,
        }
    }

    /// The error after another `step` mm of path, at time `t`.
    fn next(&mut self, step: f64, t: f64, rng: &mut Rng) -> f64 {
        self.travelled += step;
        let rho = libm::exp(-step / self.correlation);
        self.state = rho * self.state + libm::sqrt(1.0 - rho * rho) * rng.normal();
        let drift = self
            .waves
            .iter()
            .map(|&(length, phase)| libm::sin(TAU * self.travelled / length + phase))
            .sum::<f64>()
            / libm::sqrt(0.5 * self.waves.len() as f64);
        let tremor = self
            .tremor
            .iter()
            .map(|&(hz, phase)| libm::sin(TAU * hz * t + phase))
            .sum::<f64>();
        if let Some((spacing, values)) = &self.recorded {
            let at = self.travelled / spacing;
            let i = at as usize;
            let value = |i: usize| values[i % values.len()];
            return value(i) + (at - i as f64) * (value(i + 1) - value(i));
        }
        if let Some(people) = &mut self.people {
            return people.next(step, rng) + people.fast * self.state;
        }
        self.size
            * match self.form {
                Form::Ou | Form::Overrun | Form::People => self.state,
                Form::Drift => drift,
                Form::Tremor => libm::sqrt(0.5) * (drift + tremor),
            }
    }
}

// ---------------------------------------------------------------- strokes

/// How one stroke goes: places along the course in order of time.
struct Run {
    s: Vec<f64>,
    t: Vec<f64>,
}

/// The pen from `from` to `to` along the course at its speed, slower near corners.
fn run(course: &Course, from: f64, to: f64, rng: &mut Rng) -> Run {
    let speed = rng.range(30.0, 80.0);
    let rate = rng.range(90.0, 125.0);
    let way = if to < from { -1.0 } else { 1.0 };
    let mut r = Run {
        s: Vec::new(),
        t: Vec::new(),
    };
    let (mut s, mut t) = (from, 0.0);
    let dwell = rng.below(25);
    for _ in 0..dwell {
        r.s.push(s);
        r.t.push(t);
        t += 1.0 / rate;
    }
    while (to - s) * way > 0.0 {
        r.s.push(s);
        r.t.push(t);
        let d = course.corner[course.at(s)] / 5.0;
        let slow = 1.0 - 0.65 * libm::exp(-d * d);
        s += way * slow * speed / rate * rng.range(0.85, 1.15);
        t += 1.0 / rate;
    }
    r.s.push(to);
    r.t.push(t);
    r
}

/// Goes back over a bit somewhere in the middle.
fn retrace(r: &mut Run, rng: &mut Rng) {
    let n = r.s.len();
    if n < 60 {
        return;
    }
    let i = n / 4 + rng.below(n / 2);
    let length = rng.range(6.0, 16.0);
    let mut k = i;
    while k > 0 && (r.s[i] - r.s[k]).abs() < length {
        k -= 1;
    }
    let mut back: Vec<f64> = r.s[k..i].iter().rev().copied().collect();
    back.extend_from_slice(&r.s[k..i]);
    let step = r.t[1] - r.t[0];
    let added = back.len() as f64 * step;
    let times: Vec<f64> = (0..back.len())
        .map(|j| r.t[i] + step * (j as f64 + 1.0))
        .collect();
    for t in &mut r.t[i + 1..] {
        *t += added;
    }
    r.s.splice(i + 1..i + 1, back);
    r.t.splice(i + 1..i + 1, times);
}

/// The stroke a run leaves: the course, the wander across it, a little recording noise.
fn stroke(course: &Course, r: &Run, wander: &mut Wander, rng: &mut Rng) -> Stroke {
    let mut points = Vec::with_capacity(r.s.len());
    let mut before = r.s[0];
    for (&s, &t) in r.s.iter().zip(&r.t) {
        let (at, left) = course.frame(s);
        let off = wander.next((s - before).abs(), t, rng);
        let noise = Vec2::new(rng.normal(), rng.normal()) * 0.03;
        points.push(at + left * off + noise);
        before = s;
    }
    Stroke {
        points,
        times: r.t.clone(),
    }
}

/// Lost samples, spikes, sparse pens: what the recording does.
fn recorded(mut stroke: Stroke, rng: &mut Rng) -> Stroke {
    if rng.chance(0.1) {
        stroke = thinned(&stroke, rng.range(2.0, 5.0));
    }
    for _ in 0..rng.below(3) {
        lose(&mut stroke, rng);
    }
    let n = stroke.points.len();
    for _ in 0..rng.below(3) {
        if n > 20 {
            let i = 5 + rng.below(n - 10);
            let jump = Vec2::from_angle(rng.range(0.0, TAU)) * rng.range(6.0, 40.0);
            if i < stroke.points.len() {
                stroke.points[i] = stroke.points[i] + jump;
            }
        }
    }
    stroke
}

/// Only every few mm a sample.
fn thinned(stroke: &Stroke, spacing: f64) -> Stroke {
    let mut out = Stroke::default();
    let mut travelled = spacing;
    let mut before = stroke.points[0];
    for (&p, &t) in stroke.points.iter().zip(&stroke.times) {
        travelled += p.distance(before);
        before = p;
        if travelled >= spacing {
            out.points.push(p);
            out.times.push(t);
            travelled = 0.0;
        }
    }
    out
}

/// Loses 3 to 8 mm of samples somewhere.
fn lose(stroke: &mut Stroke, rng: &mut Rng) {
    let n = stroke.points.len();
    if n < 40 {
        return;
    }
    let i = 10 + rng.below(n - 20);
    let length = rng.range(3.0, 8.0);
    let mut k = i;
    while k < n - 5 && stroke.points[k].distance(stroke.points[i]) < length {
        k += 1;
    }
    stroke.points.drain(i + 1..k.max(i + 1));
    stroke.times.drain(i + 1..k.max(i + 1));
}

/// The trace of a closed path in so many strokes, whatever the hand's kind of input.
#[must_use]
pub fn sampled(path: &Path, hand: Hand, rng: &mut Rng, pieces: usize) -> Trace {
    laid(path, hand, &Extra::default(), rng, pieces)
}

fn laid(path: &Path, hand: Hand, extra: &Extra, rng: &mut Rng, pieces: usize) -> Trace {
    let course = Course::new(path, hand, rng);
    let length = course.length();
    let mut wander = Wander::new(hand, &course, extra, rng);
    // One stroke: the close overruns, misses or just meets. Several: each joint does, by less.
    let close = |rng: &mut Rng, pieces: usize| {
        let k = if pieces == 1 { 1.0 } else { 0.6 };
        match rng.below(3) {
            0 => k * rng.range(0.0, 15.0),
            1 => -k * rng.range(0.0, 7.0),
            _ => rng.range(-1.0, 1.0),
        }
    };
    let mut cuts: Vec<f64> = (0..pieces)
        .map(|i| length * (i as f64 + rng.range(-0.25, 0.25)) / pieces as f64)
        .collect();
    cuts[0] = 0.0;
    cuts.push(length);
    let mut strokes = Vec::new();
    for w in cuts.windows(2) {
        let (mut from, mut to) = (w[0], w[1] + close(rng, pieces));
        if pieces > 1 && rng.chance(0.5) {
            core::mem::swap(&mut from, &mut to);
        }
        let mut r = run(&course, from, to, rng);
        if rng.chance(0.3) {
            retrace(&mut r, rng);
        }
        let s = stroke(&course, &r, &mut wander, rng);
        // Before spikes: a spike is one sample.
        let s = match extra.even {
            Some(spacing) => thinned(&s, spacing),
            None => s,
        };
        strokes.push(recorded(s, rng));
    }
    if extra.even.is_some() {
        strokes.iter_mut().for_each(|s| s.times.clear());
    }
    rng.shuffle(&mut strokes);
    Trace {
        strokes,
        drawn: Vec::new(),
    }
}

// ---------------------------------------------------------------- touches and clouds

fn touched(path: &Path, level: Level, rng: &mut Rng) -> Trace {
    let path = if rng.chance(0.5) {
        path.reversed()
    } else {
        path.clone()
    };
    let mut points = Vec::new();
    for edge in path.edges() {
        let n = match &edge {
            Edge::Line(_) => 1,
            Edge::Arc(a) if a.is_full() => 9 + rng.below(6),
            Edge::Arc(a) => (libm::ceil(a.sweep.abs() / (0.93 * FRAC_PI_4)) as usize).max(2),
        };
        for i in 0..n {
            let jitter = if i == 0 { 0.0 } else { rng.range(-0.03, 0.03) };
            points.push(edge.point_at((i as f64 + jitter) / n as f64));
        }
    }
    let start = rng.below(points.len());
    points.rotate_left(start);
    let s = level.wander();
    for p in &mut points {
        *p = *p + Vec2::new(rng.normal(), rng.normal()) * s;
    }
    Trace::from_strokes([points])
}

fn cloud(path: &Path, hand: Hand, extra: &Extra, rng: &mut Rng) -> Trace {
    let course = Course::new(path, hand, rng);
    let mut wander = Wander::new(hand, &course, extra, rng);
    let r = run(&course, 0.0, course.length(), rng);
    let s = stroke(&course, &r, &mut wander, rng);
    let spacing = rng.range(0.5, 1.5);
    let mut points = thinned(&s, spacing).points;
    rng.shuffle(&mut points);
    Trace::from_strokes([points])
}

/// A single touch: one point, or a dot scribbled a few tenths of a mm wide.
#[must_use]
pub fn mark(at: Point, level: Level, rng: &mut Rng) -> Stroke {
    let off = |rng: &mut Rng, s: f64| Vec2::new(rng.normal(), rng.normal()) * s;
    let at = at + off(rng, 0.6 * level.wander());
    let n = if rng.chance(0.5) { 1 } else { 4 + rng.below(6) };
    let points = (0..n).map(|_| at + off(rng, 0.12)).collect();
    Stroke {
        points,
        times: (0..n).map(|i| 0.01 * i as f64).collect(),
    }
}

/// The trace as the project's CSV, with a first line that says what it is.
#[must_use]
pub fn to_csv(trace: &Trace, title: &str) -> String {
    use core::fmt::Write as _;
    let mut text = format!("# {title}\n# units: mm\nx,y,t,stroke\n");
    for (i, stroke) in trace.strokes.iter().enumerate() {
        for (k, p) in stroke.points.iter().enumerate() {
            let t = stroke.times.get(k).copied().unwrap_or(0.01 * k as f64);
            let _ = writeln!(text, "{:.3},{:.3},{t:.3},{i}", p.x, p.y);
        }
    }
    text
}

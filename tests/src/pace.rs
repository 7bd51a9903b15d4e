//! What the measurements of speed have in common: a stopwatch, and traces of any length and kind.
//!
//! **Times.** On a shared machine a mean says more of the neighbours than of the program. Cases that
//! are compared take turns, so that a busy minute falls on all of them, and the smallest time of
//! each is what it costs; the median shows how busy the machine was.
//!
//! **Traces.** Two hands. One *wanders*: off the line by an Ornstein–Uhlenbeck process along it, as
//! a hand is, with a little noise of the digitiser on every sample. The other only *scatters*: every
//! sample off by itself, which no hand does, but which is hardest on whatever walks along the samples.

use crate::rng::Rng;
use crate::shapes::{Case, family};
use core::fmt::Write as _;
use core::hint::black_box;
use std::time::Instant;
use trued::{Chain, Circle, Loop, Outline, Path, Point, Role, Shape, Vec2};

/// One thing whose time is taken.
pub struct Timed<'a> {
    /// What it is.
    pub name: String,
    run: Box<dyn FnMut() + 'a>,
    seconds: Vec<f64>,
}

impl<'a> Timed<'a> {
    /// A case that runs `work` and throws its result away.
    pub fn new<T>(name: &str, mut work: impl FnMut() -> T + 'a) -> Self {
        Self {
            name: name.to_owned(),
            run: Box::new(move || {
                black_box(work());
            }),
            seconds: Vec::new(),
        }
    }

    fn once(&mut self) {
        let start = Instant::now();
        (self.run)();
        self.seconds.push(start.elapsed().as_secs_f64());
    }

    /// The smallest time, s.
    #[must_use]
    pub fn least(&self) -> f64 {
        self.seconds.iter().copied().fold(f64::INFINITY, f64::min)
    }

    /// The median, s.
    #[must_use]
    pub fn median(&self) -> f64 {
        let mut all = self.seconds.clone();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied().unwrap_or(f64::NAN)
    }
}

/// Runs all cases in turns until each has had `seconds` or `most` runs, and three at least.
pub fn take_turns(cases: &mut [Timed], seconds: f64, most: usize) {
    const LEAST: usize = 3;
    loop {
        let mut again = false;
        for c in cases.iter_mut() {
            let spent: f64 = c.seconds.iter().sum();
            let runs = c.seconds.len();
            if runs < LEAST || (spent < seconds && runs < most) {
                c.once();
                again = true;
            }
        }
        if !again {
            return;
        }
    }
}

/// The shape that the long traces run along: 300 by 200 with corners rounded to 30.
#[must_use]
pub fn rounded_rectangle() -> Path {
    shape("rounded rectangle", &[300.0, 200.0, 30.0, 20.0, 15.0, 0.1])
}

/// A shape of a known family, placed.
#[must_use]
pub fn shape(name: &str, numbers: &[f64]) -> Path {
    match family(name) {
        Some(f) => Case::new(f, numbers.to_vec()).path,
        None => unreachable!("measurements name known families only: {name}"),
    }
}

/// `n` samples once round, evenly spaced, by a hand that wanders 0.3 mm, correlated over 5 mm, under
/// a digitiser with 0.02 mm of noise.
#[must_use]
pub fn wandering(path: &Path, n: usize, seed: u64) -> Vec<Point> {
    const SIZE: f64 = 0.3;
    const CORRELATION: f64 = 5.0;
    let mut rng = Rng::new(seed);
    let step: f64 = path.edges().iter().map(trued::Edge::length).sum::<f64>() / n as f64;
    let keep = libm::exp(-step / CORRELATION);
    let fresh = SIZE * (1.0 - keep * keep).sqrt();
    let mut off = SIZE * rng.normal();
    round(path, n, |p, left| {
        off = keep * off + fresh * rng.normal();
        let noise = Vec2::new(rng.normal(), rng.normal()) * 0.02;
        p + left * off + noise
    })
}

/// `n` samples once round, evenly spaced, each off by itself by 0.15 mm.
#[must_use]
pub fn scattering(path: &Path, n: usize, seed: u64) -> Vec<Point> {
    let mut rng = Rng::new(seed);
    round(path, n, |p, _| {
        p + Vec2::new(rng.normal(), rng.normal()) * 0.15
    })
}

/// `n` places evenly round a path, each handed to `hand` with the direction to the left of travel.
fn round(path: &Path, n: usize, mut hand: impl FnMut(Point, Vec2) -> Point) -> Vec<Point> {
    let edges = path.edges();
    let total: f64 = edges.iter().map(trued::Edge::length).sum();
    let mut points = Vec::with_capacity(n);
    let mut before = 0.0;
    for e in &edges {
        let length = e.length();
        while points.len() < n {
            let s = total * points.len() as f64 / n as f64 - before;
            if s > length {
                break;
            }
            let t = s / length;
            points.push(hand(e.point_at(t), e.direction_at(t).left()));
        }
        before += length;
    }
    points
}

/// An outline of `edges` edges (a multiple of 4): a wall with square teeth, every edge 25 mm long
/// but the base and its sides.
#[must_use]
pub fn toothed(edges: usize) -> Path {
    const SIDE: f64 = 25.0;
    let teeth = (edges / 4).max(1);
    let mut corners = vec![Point::new(0.0, 0.0)];
    for k in 0..teeth {
        let x = 2.0 * SIDE * (k as f64);
        let at = |x: f64, y: f64| Point::new(x, -y);
        if k > 0 {
            corners.extend([at(x - SIDE, 2.0 * SIDE), at(x - SIDE, SIDE), at(x, SIDE)]);
        }
        corners.push(at(x, 2.0 * SIDE));
    }
    corners.push(Point::new(2.0 * SIDE * teeth as f64 - SIDE, -2.0 * SIDE));
    corners.push(Point::new(2.0 * SIDE * teeth as f64 - SIDE, 0.0));
    Path::Chain(Chain {
        shapes: vec![Shape::Line; corners.len()],
        corners,
    })
}

/// A gear-like outline of `edges` edges (a multiple of 4): lines and arcs in turn.
#[must_use]
pub fn scalloped(edges: usize) -> Path {
    let n = (edges / 2).max(3);
    let radius = 12.0 * n as f64 / core::f64::consts::TAU;
    let mut corners = Vec::new();
    let mut shapes = Vec::new();
    for k in 0..n {
        let a = core::f64::consts::TAU * k as f64 / n as f64;
        let b = a + 0.5 * core::f64::consts::TAU / n as f64;
        let r = if k % 2 == 0 { 0.0 } else { 2.0 };
        for (angle, shape) in [(a, Shape::Line), (b, Shape::Arc { sweep: 1.2 })] {
            corners.push(Point::default() + Vec2::from_angle(angle) * (radius + r));
            shapes.push(shape);
        }
    }
    Path::Chain(Chain { corners, shapes })
}

/// An outline of `parts` plates of 90 by 60, each with two round holes.
#[must_use]
pub fn plates(parts: usize) -> Outline {
    let columns = libm::ceil((parts as f64).sqrt()).max(1.0) as usize;
    let mut loops = Vec::new();
    for k in 0..parts {
        let (x, y) = (100.0 * (k % columns) as f64, 70.0 * (k / columns) as f64);
        let add = |loops: &mut Vec<Loop>, role: Role, path: Path| {
            loops.push(Loop {
                role,
                path,
                deviation: None,
            });
        };
        let plate = shape("rounded rectangle", &[90.0, 60.0, 12.0, x, y, 0.0]);
        add(&mut loops, Role::Part, plate);
        for (dx, dy) in [(20.0, 20.0), (70.0, 40.0)] {
            let hole = Circle {
                center: Point::new(x + dx, y + dy),
                radius: 6.0,
                counter_clockwise: false,
            };
            add(&mut loops, Role::Hole, Path::Circle(hole));
        }
    }
    Outline {
        loops,
        marks: Vec::new(),
    }
}

/// Points as the project's CSV, 0.0001 mm.
#[must_use]
pub fn to_csv(points: &[Point]) -> String {
    let mut text = String::with_capacity(20 * points.len() + 30);
    text.push_str("# units: mm\nx,y\n");
    for p in points {
        let _ = writeln!(text, "{:.4},{:.4}", p.x, p.y);
    }
    text
}

/// A time as a person reads it.
#[must_use]
pub fn shown(seconds: f64) -> String {
    match seconds {
        s if s < 1e-3 => format!("{:.1} µs", s * 1e6),
        s if s < 1.0 => format!("{:.2} ms", s * 1e3),
        s => format!("{s:.2} s"),
    }
}

//! The patterns that marks may form, each fitted to them in closed form, with what its evidence is made of.

use super::{LEAST_APART, MAX_CIRCLE, PatternKind, SAME_PLACE, mean};
use crate::geom::Sorted as _;
use crate::geom::{Point, Vec2};
use core::f64::consts::{PI, TAU};

/// A pattern's exact form.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Form {
    /// Evenly round a centre; the spoke leads to the first hole.
    Ring { center: Point, spoke: Vec2 },
    /// Half sides along a unit direction and to its left.
    Box {
        center: Point,
        along: Vec2,
        half: [f64; 2],
    },
    /// From the middle, one step from hole to hole.
    Row { middle: Point, step: Vec2 },
    /// As touched.
    Free { center: Point },
}

/// A candidate with its fit.
pub(super) struct Candidate {
    pub kind: PatternKind,
    pub form: Form,
    /// `order[k]` is the mark that is hole k of the form.
    pub order: Vec<usize>,
    pub squares: f64,
    /// Measurements less parameters.
    pub spare: usize,
    /// Everything in the log evidence that does not depend on the error.
    pub constant: f64,
}

/// Complex product, for turning.
pub(super) fn times(a: Vec2, b: Vec2) -> Vec2 {
    Vec2::new(a.x * b.x - a.y * b.y, a.x * b.y + a.y * b.x)
}

/// All patterns so many marks can form, each fitted.
pub(super) fn candidates(marks: &[Point]) -> Vec<Candidate> {
    let n = marks.len();
    let size = size(marks);
    let mut out = Vec::new();
    if (3..=MAX_CIRCLE).contains(&n) {
        out.push(ring(marks, size));
    }
    if n == 4 {
        out.push(rectangle(marks, size));
    }
    if n >= 2 {
        out.push(row(marks, size));
    }
    out
}

/// Twice the largest distance from the mean: what the figure spans.
pub(super) fn size(marks: &[Point]) -> f64 {
    let middle = mean(marks);
    2.0 * marks
        .iter()
        .map(|m| m.distance(middle))
        .fold(0.0, f64::max)
        .max(SAME_PLACE)
}

/// Marks counter-clockwise round their mean.
fn around(marks: &[Point]) -> (Point, Vec<usize>) {
    let middle = mean(marks);
    let mut order: Vec<(f64, usize)> = marks
        .iter()
        .enumerate()
        .map(|(i, m)| ((*m - middle).angle(), i))
        .collect();
    order.order_by(|a, b| a.0.total_cmp(&b.0));
    (middle, order.into_iter().map(|o| o.1).collect())
}

pub(super) fn at(marks: &[Point], order: &[usize], k: usize) -> Point {
    order
        .get(k)
        .and_then(|i| marks.get(*i))
        .copied()
        .unwrap_or_default()
}

/// Sum of squared distances from the marks to the form's places.
fn squares(marks: &[Point], order: &[usize], form: &Form) -> f64 {
    let n = order.len();
    (0..n)
        .map(|k| (at(marks, order, k) - form.place(k, n)).length_squared())
        .sum()
}

/// The mean of the marks, each turned back to the first: their best common spoke.
fn ring(marks: &[Point], size: f64) -> Candidate {
    let n = marks.len();
    let (center, order) = around(marks);
    let turned = (0..n).map(|k| {
        let back = Vec2::from_angle(-TAU * k as f64 / n as f64);
        times(at(marks, &order, k) - center, back)
    });
    let spoke = turned.fold(Vec2::default(), |s, v| s + v) / n as f64;
    let form = Form::Ring { center, spoke };
    let count = n as f64;
    Candidate {
        kind: if n == 4 {
            PatternKind::Square
        } else {
            PatternKind::Circle
        },
        squares: squares(marks, &order, &form),
        spare: 2 * n - 4,
        // Centre within the size, spoke within half of it; any of n marks may be the first.
        constant: -2.0 * libm::log(count)
            - 2.0 * libm::log(size)
            - libm::log(PI * 0.25 * size * size)
            + libm::log(count),
        order,
        form,
    }
}

/// With `p` and `q` the mean half diagonals of opposite sides, the direction `u` that maximises
/// `Re(p·ū)² + Re(−iq·ū)²` is half the argument of `p² − q²`.
fn rectangle(marks: &[Point], size: f64) -> Candidate {
    let (center, order) = around(marks);
    let corner = |k: usize| at(marks, &order, k) - center;
    let p = (corner(0) - corner(1) - corner(2) + corner(3)) / 4.0;
    let q = (corner(0) + corner(1) - corner(2) - corner(3)) / 4.0;
    let along = Vec2::from_angle(0.5 * (times(p, p) - times(q, q)).angle());
    let (mut along, mut half) = (along, [p.dot(along), q.dot(along.left())]);
    // Of the two directions a half turn apart take the one with positive sides.
    if half.iter().sum::<f64>() < 0.0 {
        along = -along;
        half = half.map(|h| -h);
    }
    let form = Form::Box {
        center,
        along,
        half,
    };
    // How much the sides differ: as likely 5 to 10 mm as 50 to 100, even below (nobody means less).
    let apart = (2.0 * (half[0] - half[1]).abs()).max(LEAST_APART);
    let density = 1.0 / (apart * (1.0 + libm::log((size / LEAST_APART).max(1.0))));
    let spread = half.iter().map(|h| h * h).sum::<f64>().max(1e-12);
    Candidate {
        kind: PatternKind::Rectangle,
        squares: squares(marks, &order, &form),
        spare: 3,
        constant: -0.5 * libm::log(16.0 * 16.0 * 4.0 * spread)
            - 2.0 * libm::log(size)
            - libm::log(TAU * 0.5 * size)
            + libm::log(density)
            + libm::log(4.0),
        order,
        form,
    }
}

/// Along the main direction, numbered from the middle.
fn row(marks: &[Point], size: f64) -> Candidate {
    let n = marks.len();
    let middle = mean(marks);
    let (mut twice, mut xx) = (Vec2::default(), 0.0);
    for m in marks {
        let d = *m - middle;
        twice += times(d, d);
        xx += d.length_squared();
    }
    let main = if xx > 0.0 {
        Vec2::from_angle(0.5 * twice.angle())
    } else {
        Vec2::new(1.0, 0.0)
    };
    let mut order: Vec<(f64, usize)> = marks
        .iter()
        .enumerate()
        .map(|(i, m)| ((*m - middle).dot(main), i))
        .collect();
    order.order_by(|a, b| a.0.total_cmp(&b.0));
    let order: Vec<usize> = order.into_iter().map(|o| o.1).collect();
    let numbers = numbers_squared(n);
    let step = (0..n).fold(Vec2::default(), |s, k| {
        s + (at(marks, &order, k) - middle) * from_middle(k, n)
    }) / numbers;
    let form = Form::Row { middle, step };
    let reach = size / (n.max(2) - 1) as f64;
    Candidate {
        kind: PatternKind::Row,
        squares: squares(marks, &order, &form),
        spare: 2 * n - 4,
        constant: -libm::log(n as f64)
            - libm::log(numbers)
            - 2.0 * libm::log(size)
            - libm::log(PI * reach * reach)
            + libm::log(2.0),
        order,
        form,
    }
}

fn from_middle(k: usize, n: usize) -> f64 {
    k as f64 - 0.5 * (n as f64 - 1.0)
}

/// Sum of the squared numbers of a row counted from its middle.
pub(super) fn numbers_squared(n: usize) -> f64 {
    let n = n as f64;
    n * (n * n - 1.0) / 12.0
}

impl Form {
    /// The place of hole k of n.
    pub fn place(&self, k: usize, n: usize) -> Point {
        match *self {
            Self::Ring { center, spoke } => {
                center + times(spoke, Vec2::from_angle(TAU * k as f64 / n as f64))
            }
            Self::Box {
                center,
                along,
                half: [a, b],
            } => {
                let (s, t) = match k {
                    0 => (a, b),
                    1 => (-a, b),
                    2 => (-a, -b),
                    _ => (a, -b),
                };
                center + along * s + along.left() * t
            }
            Self::Row { middle, step } => middle + step * from_middle(k, n),
            Self::Free { center } => center,
        }
    }
}

//! What pattern hole marks were meant to form, and its true pitch.
//!
//! **The problem.** A hand touches hole centres and misses each by half a millimetre. Four marks may
//! be the corners of a square, or of a rectangle a few millimetres from square, or a row, or just
//! four holes. Which?
//!
//! **The idea.** Every pattern is a family of places with few parameters, linear in the right
//! coordinates, so its least-squares fit is closed form:
//!
//! | pattern | parameters | form (points as complex numbers) |
//! |---|---|---|
//! | circle of n (a square is the circle of 4) | centre, spoke: 4 | `c + s·e^(2πik/n)` |
//! | rectangle | centre, direction, two half sides: 5 | `c ± a·u ± b·iu` |
//! | row | middle, step: 4 | `c + k·s` |
//!
//! Patterns with more parameters always fit better; the fair comparison is the *evidence*: the
//! probability of the marks averaged over all parameters and over the hand's error. For a linear
//! family with flat priors the average over parameters is exact, and leaves
//! `σ^−(2n−p) · exp(−S/2σ²) · |JᵀJ|^−½ · prior` with S the sum of squares. The error σ is not known:
//! it is averaged over what hands do, a log-normal about 0.45 mm in which 0.2 and 1 mm are two
//! deviations away (or about what the person states).
//!
//! Marks that form *no* pattern still lie at some distance from the nearest one. "None" is that: the same
//! families, missed not by a hand's error but by any amount from three times a hand's error up to
//! half the figure. So one comparison answers both which pattern and whether any.
//!
//! After MacKay 1992 (Bayesian interpolation) for the evidence; the fits are textbook least squares.
//!
//! **Where it fails.** Deviations of the size of the hand's error cannot be told from it: a
//! rectangle 101 by 100 touched at 0.5 mm is called a square. Then say the pattern
//! ([`PatternKind`]) or touch each hole several times. Two touches within [`SAME_PLACE`] are taken as one.

mod candidates;

use crate::Refusal;
use crate::geom::Sorted as _;
use crate::geom::{Point, Vec2};
use candidates::{Candidate, Form, candidates, numbers_squared, size, times};
use core::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI, TAU};
use serde::{Deserialize, Serialize};

/// Touches nearer to each other than this are of one hole, mm.
pub const SAME_PLACE: f64 = 1.5;
/// Most marks that are looked at together.
pub const MAX_MARKS: usize = 1000;
/// Most holes of a circle that is recognised.
const MAX_CIRCLE: usize = 12;
/// The hand's error when nothing is known: median, mm, and spread of its logarithm.
const HAND: (f64, f64) = (0.45, 0.40);
/// The spread when the error is stated.
const STATED_SPREAD: f64 = 0.15;
/// No pattern: off by at least so many times the hand's error.
const NONE_FROM: f64 = 3.0;
/// Rectangles whose sides differ by less are seldom meant, mm.
const LEAST_APART: f64 = 5.0;
const Z95: f64 = 1.959_963_984_540_054;

/// The patterns that are looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "types", derive(ts_rs::TS), ts(rename = "HolePattern"))]
#[serde(rename_all = "snake_case")]
pub enum PatternKind {
    /// One hole.
    Single,
    /// Four corners of a square: also the circle of four.
    Square,
    /// Four corners of a rectangle.
    Rectangle,
    /// Three, or five to twelve, holes evenly round a circle.
    Circle,
    /// Holes in line at one pitch.
    Row,
    /// None of these: every hole stays where it was touched.
    Free,
}

/// What was read from marks.
#[derive(Clone, Debug, PartialEq)]
pub struct Pattern {
    /// Which pattern.
    pub kind: PatternKind,
    /// Its centre: of the circle, square or rectangle, the middle of the row, the mean of free holes.
    pub center: Point,
    /// Direction, radians: of the side nearest to +x for square and rectangle (within ±45°, or ±90°
    /// where the other side is meant), of the row (within ±90°), of the first hole of a circle.
    pub angle: f64,
    /// Half-width of the angle's 95 % interval.
    pub angle_plus_minus: f64,
    /// Distance between neighbours, mm: along the angle and, for a rectangle, across it. Empty for
    /// single and free holes.
    pub pitch: Vec<f64>,
    /// Half-width of each pitch's 95 % interval, mm; 0 where it was set to a whole step.
    pub pitch_plus_minus: Vec<f64>,
    /// Diameter of the circle through the holes, mm, for circle and square.
    pub circle: Option<f64>,
    /// The true place of each hole, in the order of the marks.
    pub holes: Vec<Point>,
    /// How far each mark was from it.
    pub off: Vec<Vec2>,
    /// Standard deviation of one touch in each direction that explains the misses, mm.
    pub touch_error: f64,
    /// Probability of this pattern among those looked for.
    pub sure: f64,
    /// The next likely pattern with its probability, where there is one.
    pub else_maybe: Option<(PatternKind, f64)>,
    /// What was done, in sentences.
    pub notes: Vec<String>,
    form: Form,
    order: Vec<usize>,
}

/// How marks are to be read.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PatternSettings {
    /// The pattern, where the person says it.
    pub kind: Option<PatternKind>,
    /// Standard deviation of one touch in each direction, mm, where known.
    pub touch_error: Option<f64>,
    /// Set pitches to whole multiples of this step, mm, where one lies within the ±.
    pub whole: Option<f64>,
}

/// Reads the pattern.
///
/// # Errors
/// Refuses no marks, too many, marks that are no places, and a stated pattern these cannot form.
pub fn pattern(marks: &[Point], settings: &PatternSettings) -> Result<Pattern, Refusal> {
    check(marks, settings)?;
    let (marks, notes) = merge(marks);
    let candidates = candidates(&marks);
    let mut out = match settings.kind {
        Some(PatternKind::Free) => free(&marks, 1.0),
        Some(kind) => {
            let told = candidates
                .into_iter()
                .find(|c| c.kind == kind)
                .ok_or_else(|| {
                    Refusal::Setting(format!("{} marks cannot form {}", marks.len(), kind.name()))
                })?;
            build(&marks, told, 1.0, None, settings.touch_error)
        }
        None => choose(&marks, candidates, settings.touch_error),
    };
    out.notes.extend(notes);
    if let Some(step) = settings.whole {
        out.set_whole(&marks, step);
    }
    Ok(out)
}

fn check(marks: &[Point], settings: &PatternSettings) -> Result<(), Refusal> {
    if marks.is_empty() {
        return Err(Refusal::Trace(
            "there are no marks: touch each hole once".into(),
        ));
    }
    if marks.len() > MAX_MARKS {
        return Err(Refusal::Limit {
            what: "the number of marks",
            value: marks.len().to_string(),
            limit: MAX_MARKS.to_string(),
        });
    }
    let far = |p: &&Point| !crate::limits::holds(**p);
    if let Some(p) = marks.iter().find(far) {
        return Err(Refusal::Trace(format!(
            "a mark at ({}, {}) lies off every plate",
            p.x, p.y
        )));
    }
    for (name, value) in [
        ("the touch error", settings.touch_error),
        ("the whole step", settings.whole),
    ] {
        if let Some(v) = value.filter(|v| !(v.is_finite() && *v > 0.0)) {
            return Err(Refusal::Setting(format!(
                "{name} is {v}: it must be a length over 0"
            )));
        }
    }
    Ok(())
}

/// Marks within [`SAME_PLACE`] of an earlier one count as touches of the same hole: their mean is taken.
fn merge(marks: &[Point]) -> (Vec<Point>, Vec<String>) {
    let mut groups: Vec<(Point, Vec<Point>)> = Vec::new();
    for &m in marks {
        match groups.iter_mut().find(|g| g.0.distance(m) < SAME_PLACE) {
            Some(group) => group.1.push(m),
            None => groups.push((m, vec![m])),
        }
    }
    let notes = (groups.len() < marks.len()).then(|| {
        format!(
            "{} touches are of {} holes: touches within {SAME_PLACE} mm were taken together",
            marks.len(),
            groups.len()
        )
    });
    let places = groups.iter().map(|g| mean(&g.1)).collect();
    (places, notes.into_iter().collect())
}

fn mean(points: &[Point]) -> Point {
    let sum = points.iter().fold(Vec2::default(), |s, p| s + p.to_vec());
    Point::default() + sum / points.len().max(1) as f64
}

/// Log of a sum of exponentials.
fn log_sum(logs: &[f64]) -> f64 {
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if top == f64::NEG_INFINITY {
        return top;
    }
    top + libm::log(logs.iter().map(|l| libm::exp(l - top)).sum())
}

/// A prior of the error: log density per unit of log σ.
type Prior<'a> = &'a dyn Fn(f64) -> f64;

impl Candidate {
    /// Log evidence, and the mean square error it implies, averaged over the error's prior.
    fn evidence(&self, prior: Prior) -> (f64, f64) {
        const STEPS: i32 = 240;
        const LOW: f64 = -5.0;
        const HIGH: f64 = 11.0;
        let width = (HIGH - LOW) / f64::from(STEPS);
        let spare = self.spare as f64;
        let at = |i: i32| {
            let log_sigma = LOW + (f64::from(i) + 0.5) * width;
            let inverse = libm::exp(-2.0 * log_sigma);
            prior(log_sigma)
                - spare * (log_sigma + 0.5 * libm::log(TAU))
                - 0.5 * self.squares * inverse
        };
        let logs: Vec<f64> = (0..STEPS).map(at).collect();
        let all = log_sum(&logs);
        let square = |(i, l): (i32, &f64)| {
            libm::exp(l - all) * libm::exp(2.0 * (LOW + (f64::from(i) + 0.5) * width))
        };
        let mean_square = if all.is_finite() {
            (0..).zip(&logs).map(square).sum()
        } else {
            0.0
        };
        (all + libm::log(width) + self.constant, mean_square)
    }
}

/// The hand's error: log-normal.
fn hand_prior(stated: Option<f64>) -> impl Fn(f64) -> f64 {
    let (median, spread) = stated.map_or(HAND, |s| (s, STATED_SPREAD));
    let (middle, norm) = (libm::log(median), libm::log(spread) + 0.5 * libm::log(TAU));
    move |log_sigma: f64| {
        let z = (log_sigma - middle) / spread;
        -0.5 * z * z - norm
    }
}

/// No pattern: even in the logarithm from some hand's errors up to half the figure.
fn none_prior(stated: Option<f64>, size: f64) -> impl Fn(f64) -> f64 {
    let low = libm::log(NONE_FROM * stated.unwrap_or(HAND.0));
    let high = libm::log(0.5 * size).max(low + 0.1);
    let density = -libm::log(high - low);
    move |log_sigma: f64| {
        if (low..=high).contains(&log_sigma) {
            density
        } else {
            f64::NEG_INFINITY
        }
    }
}

/// Takes the most probable of the patterns and none.
fn choose(marks: &[Point], candidates: Vec<Candidate>, stated: Option<f64>) -> Pattern {
    let (hand, none) = (hand_prior(stated), none_prior(stated, size(marks)));
    let mut all: Vec<(f64, Option<Candidate>)> = Vec::new();
    let mut missed = Vec::new();
    let ways = libm::log(candidates.len().max(1) as f64);
    for c in candidates {
        // Two marks are a row whatever the error: there is nothing to be off from.
        if c.spare > 0 {
            missed.push(c.evidence(&none).0 - ways);
        }
        all.push((c.evidence(&hand).0, Some(c)));
    }
    all.push((log_sum(&missed), None));
    let total = log_sum(&all.iter().map(|a| a.0).collect::<Vec<_>>());
    all.order_by(|a, b| b.0.total_cmp(&a.0));
    let mut ranked = all.into_iter();
    let Some((best, first)) = ranked.next().filter(|f| f.0.is_finite()) else {
        return free(marks, 1.0);
    };
    let kind = |c: &Option<Candidate>| c.as_ref().map_or(PatternKind::Free, |c| c.kind);
    let second = ranked
        .next()
        .filter(|s| s.0.is_finite())
        .map(|(log, c)| (kind(&c), libm::exp(log - total)));
    let sure = libm::exp(best - total);
    match first {
        Some(c) => build(marks, c, sure, second, stated),
        None => Pattern {
            else_maybe: second,
            ..free(marks, sure)
        },
    }
}

/// No pattern: every hole where it was touched.
fn free(marks: &[Point], sure: f64) -> Pattern {
    let center = mean(marks);
    Pattern {
        kind: if marks.len() == 1 {
            PatternKind::Single
        } else {
            PatternKind::Free
        },
        center,
        angle: 0.0,
        angle_plus_minus: 0.0,
        pitch: Vec::new(),
        pitch_plus_minus: Vec::new(),
        circle: None,
        holes: marks.to_vec(),
        off: vec![Vec2::default(); marks.len()],
        touch_error: 0.0,
        sure,
        else_maybe: None,
        notes: Vec::new(),
        form: Form::Free { center },
        order: (0..marks.len()).collect(),
    }
}

/// A pattern from its fitted candidate.
fn build(
    marks: &[Point],
    c: Candidate,
    sure: f64,
    else_maybe: Option<(PatternKind, f64)>,
    stated: Option<f64>,
) -> Pattern {
    let error = match stated {
        Some(e) => e,
        None => c.evidence(&hand_prior(None)).1.sqrt(),
    };
    let mut out = Pattern {
        else_maybe,
        ..free(marks, sure)
    };
    (out.kind, out.form, out.order, out.touch_error) = (c.kind, c.form, c.order, error);
    let n = marks.len() as f64;
    let (pitch_error, arm) = match out.form {
        Form::Ring { spoke, .. } => (
            vec![2.0 * libm::sin(PI / n) * error / n.sqrt()],
            spoke.length() * n.sqrt(),
        ),
        Form::Box { half: [a, b], .. } => (vec![error; 2], 2.0 * libm::hypot(a, b)),
        Form::Row { step, .. } => {
            let root = numbers_squared(marks.len()).sqrt();
            (vec![error / root], step.length() * root)
        }
        Form::Free { .. } => (Vec::new(), f64::INFINITY),
    };
    out.pitch_plus_minus = pitch_error.iter().map(|e| Z95 * e).collect();
    out.angle_plus_minus = (Z95 * error / arm.max(1e-9)).min(PI);
    out.upright();
    out.settle(marks);
    out
}

impl Pattern {
    /// Which mark is which hole of the pattern: counter-clockwise round it, or along the row.
    #[must_use]
    pub fn order(&self) -> &[usize] {
        &self.order
    }

    /// Starts the form where a person would: the rectangle's side nearest to +x, the row left to
    /// right, the first hole of a circle at the least positive angle.
    fn upright(&mut self) {
        let n = self.order.len();
        match &mut self.form {
            Form::Box { along, half, .. } => {
                while along.angle() > FRAC_PI_4 || along.angle() <= -FRAC_PI_4 {
                    // A quarter turn of the frame to the right: sides change places, corners move on by one.
                    *along = -along.left();
                    half.reverse();
                    self.pitch_plus_minus.reverse();
                    self.order.rotate_left(n.min(3));
                }
            }
            Form::Row { step, .. } => {
                if step.angle() > FRAC_PI_2 || step.angle() <= -FRAC_PI_2 {
                    *step = -*step;
                    self.order.reverse();
                }
            }
            Form::Ring { spoke, .. } => {
                let each = TAU / n.max(1) as f64;
                let before = libm::floor(spoke.angle() / each + 1e-12);
                *spoke = times(*spoke, Vec2::from_angle(-before * each));
                let turns = (before as i64).rem_euclid(n.max(1) as i64) as usize;
                self.order.rotate_right(turns);
            }
            Form::Free { .. } => {}
        }
    }

    /// Derives everything that hangs on the form.
    fn settle(&mut self, marks: &[Point]) {
        let n = self.order.len();
        match self.form {
            Form::Ring { center, spoke } => {
                self.center = center;
                let chord = 2.0 * spoke.length() * libm::sin(PI / n as f64);
                self.pitch = vec![chord];
                self.circle = Some(2.0 * spoke.length());
                self.angle = spoke.angle();
                if self.kind == PatternKind::Square {
                    // The side rather than the diagonal: an eighth turn back.
                    self.angle -= FRAC_PI_4;
                }
            }
            Form::Box {
                center,
                along,
                half,
            } => {
                self.center = center;
                self.pitch = half.iter().map(|h| 2.0 * h).collect();
                self.angle = along.angle();
            }
            Form::Row { middle, step } => {
                self.center = middle;
                self.pitch = vec![step.length()];
                self.angle = step.angle();
            }
            Form::Free { center } => self.center = center,
        }
        if matches!(self.form, Form::Free { .. }) {
            return;
        }
        for (k, mark) in self.order.iter().enumerate() {
            let place = self.form.place(k, n);
            if let (Some(hole), Some(off), Some(m)) = (
                self.holes.get_mut(*mark),
                self.off.get_mut(*mark),
                marks.get(*mark),
            ) {
                *hole = place;
                *off = *m - place;
            }
        }
    }

    /// Sets pitches to whole multiples of a step where one lies within the ±. The figure of a circle of
    /// holes is its diameter, as in every drawing; of the others the distance of neighbours.
    fn set_whole(&mut self, marks: &[Point], step: f64) {
        let n = self.order.len();
        let chord = 2.0 * libm::sin(PI / n.max(1) as f64);
        let by_diameter = self.kind == PatternKind::Circle;
        let mut refused = Vec::new();
        for i in 0..self.pitch.len() {
            let (Some(pitch), Some(plus_minus)) =
                (self.pitch.get(i).copied(), self.pitch_plus_minus.get_mut(i))
            else {
                continue;
            };
            let k = if by_diameter { 2.0 / chord } else { 1.0 };
            let figure = pitch * k;
            let whole = (libm::round(figure / step) * step).max(step);
            if (whole - figure).abs() > *plus_minus * k {
                refused.push(format!("{figure:.2} mm is farther from a whole step of {step} mm than its ± of {:.2} mm and was left", *plus_minus * k));
                continue;
            }
            *plus_minus = 0.0;
            let to = whole / figure;
            match &mut self.form {
                Form::Ring { spoke, .. } => *spoke = *spoke * to,
                Form::Row { step, .. } => *step = *step * to,
                Form::Box { half, .. } => {
                    if let Some(h) = half.get_mut(i) {
                        *h *= to;
                    }
                }
                Form::Free { .. } => {}
            }
        }
        self.notes.extend(refused);
        self.settle(marks);
        // Exactly the whole figure, not its last digit's neighbour.
        if !by_diameter {
            for (pitch, pm) in self.pitch.iter_mut().zip(&self.pitch_plus_minus) {
                if *pm == 0.0 {
                    *pitch = libm::round(*pitch / step) * step;
                }
            }
        }
    }

    /// The pattern in one sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        let n = self.holes.len();
        let figure = |i: usize| {
            let value = self.pitch.get(i).copied().unwrap_or(0.0);
            match self.pitch_plus_minus.get(i) {
                Some(pm) if *pm > 0.0 => format!("{value:.2} ± {pm:.2} mm"),
                _ => format!("{value:.2} mm"),
            }
        };
        let turned = format!(
            "at {:.2}° ± {:.2}°",
            self.angle.to_degrees(),
            self.angle_plus_minus.to_degrees()
        );
        match self.kind {
            PatternKind::Single => "one hole".into(),
            PatternKind::Square => format!("four holes on a square, pitch {}, {turned}", figure(0)),
            PatternKind::Rectangle => {
                format!(
                    "four holes on a rectangle, pitch {} by {}, {turned}",
                    figure(0),
                    figure(1)
                )
            }
            PatternKind::Circle => format!(
                "{n} holes round a circle of {:.2} mm, pitch {}, first {turned}",
                self.circle.unwrap_or(0.0),
                figure(0)
            ),
            PatternKind::Row => format!("{n} holes in a row, pitch {}, {turned}", figure(0)),
            PatternKind::Free => {
                format!("{n} holes in no pattern: each stays where it was touched")
            }
        }
    }
}

impl PatternKind {
    /// In words, with its article.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Single => "a single hole",
            Self::Square => "a square",
            Self::Rectangle => "a rectangle",
            Self::Circle => "a circle of holes",
            Self::Row => "a row",
            Self::Free => "no pattern",
        }
    }
}

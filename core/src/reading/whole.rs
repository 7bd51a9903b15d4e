//! Sizes on whole steps, where the step lies inside a size's ±.
//!
//! Sizes hang together: what a set size implies for the others is known before they are asked, and which of two
//! steps a size goes to may show only at a later one. So the likeliest whole sizes are sought together, as an
//! integer least-squares problem: sizes in turn, those that a person measures first ([`Rank`]) and of these the
//! surest; of each the nearest steps are tried, or that it is none; dearer beginnings are dropped (Schnorr and
//! Euchner 1994, from memory; Teunissen 1999 shows that no rounding one by one comes out right more often).
//! What only follows from others, and slanting edges, are set afterwards one by one: their sizes seldom were
//! chosen.
//!
//! Who asks for whole sizes takes them for likely, 19 to 1. That is weighed against how far the step lies: a
//! sure size (of ± far less than the step) may go a little further than its ±, which is told; any other
//! stays inside it. What goes to no step is left, and told. Sizes move so little that the figure is as good as
//! linear: it is solved once, when all are chosen.
//!
//! **Fails** where sizes depend on one another through a bend so sharp that they cannot all be held: those
//! taken last are left out. A relation that only nearly holds (a side 36 across over 134 up is nearly 15
//! degrees off) makes sizes not whole that were. Of two choices that fit alike the wrong one is wrong in
//! several sizes at once.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure whose sizes are rounded"
)]

use super::describe::{Measured, SPREAD_95, factor_of, measure, parallel, square};
use super::search::hold;
use super::{Course, Reading, Study};
use crate::fit::partition::Kind;
use crate::relate::constraint::{Condition, Constraint, constraints};
use crate::relate::equations::Problem;
use crate::relate::figure::Figure;
use crate::relate::measures::of_edge;
use crate::relate::quantity::Side;
use crate::relate::round::solve_circle;
use crate::relate::solve::{Care, Solved};
use crate::relate::view::View;
use crate::report::{Note, RelationKind, SizeKind};
use core::f64::consts::PI;

/// A size of less than this part of its free variance is fixed by the others.
const FIXED: f64 = 1e-6;
/// Minus twice the logarithm of the odds that a size is not meant whole where whole sizes are asked for: 1 to 19.
const ODDS: f64 = 5.9;
/// Nearer than this part of a step a size counts as whole that the others fix.
const NEARLY: f64 = 0.02;
/// Sizes that are weighed together, and choices that are looked at.
const MOST_TOGETHER: usize = 48;
const MOST_TAKEN: usize = 2000;
/// A condition is held that is met this nearly, mm or radians.
const MET: f64 = 1e-6;

/// Rounds the sizes of a reading to multiples of `step` mm.
pub(super) fn round_sizes(study: &Study, best: &mut Reading, step: f64, notes: &mut Vec<Note>) {
    let Some(problem) = study.problem(best.variant) else {
        return;
    };
    if !(step.is_finite() && step > 0.0) {
        return;
    }
    let Some(factor) = factor_of(study, best) else {
        return;
    };
    match &best.course {
        Course::Circle(c) => {
            // A circle is drawn to its diameter.
            let (variance, _) = c.normal.predict(&[0.0, 0.0, 2.0]);
            let size = Size {
                rank: Rank::Square,
                step,
                least_variance: 0.0,
                value: 2.0 * c.radius,
                variance: factor * variance.max(0.0),
            };
            if !best.conditions.is_empty() {
                return;
            }
            let whole = size.nearest(size.value);
            let held = || solve_circle(problem.stations, &problem.noise, Some(0.5 * whole));
            let round = size.may_be(whole).then(held).flatten();
            let became = round.as_ref().map_or(Became::Free, |_| Became::Step(whole));
            let text = size.told(size.value, became);
            notes.extend(text.map(|t| Note::at(t, c.center)));
            if let Some(round) = round {
                best.course = Course::Circle(Box::new(round));
                best.conditions = vec![Condition::radius(0, 0.5 * whole)];
            }
        }
        Course::Chain(s) => {
            let (measured, views) = measured_sizes(s);
            let sizes = sizes_of(s, &measured, &views, step, factor);
            let chosen = chosen(&sizes, Choice::of(&sizes, &views, factor));
            let held = |&(i, whole): &(usize, f64)| at_value(&measured[i], whole);
            let conditions: Vec<Condition> = chosen.set.iter().map(held).collect();
            let held = held_to(s, &problem, &mut best.conditions, conditions);
            let kept = held.as_ref().map_or(0, |h| h.1);
            notes.extend(told(&sizes, &chosen, kept, &measured));
            if let Some((last, _)) = held {
                best.course = Course::Chain(Box::new(last));
            }
        }
    }
}

/// Who measures a size first. A slanting edge has the length that the others leave it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Rank {
    /// An edge that stands at a right angle to another, and a radius.
    Square,
    /// An edge that has a parallel.
    Parallel,
    /// Between parallels.
    Between,
    /// Any other edge.
    Slanting,
}

fn rank(f: &Figure, m: &Measured) -> Rank {
    let n = f.len();
    let straight = |e: usize| f.kinds[e] == Kind::Line;
    match (m.kind, m.edges.as_slice()) {
        (SizeKind::Length, &[e]) => {
            let others = |g: &usize| *g != e && straight(*g);
            if (0..n).filter(others).any(|g| square(f, e, g)) {
                Rank::Square
            } else if (0..n).filter(others).any(|g| parallel(f, e, g)) {
                Rank::Parallel
            } else {
                Rank::Slanting
            }
        }
        (SizeKind::Distance | SizeKind::Centers, _) => Rank::Between,
        _ => Rank::Square,
    }
}

/// Lengths, radii and distances of a solved figure, and what its conditions leave of them.
fn measured_sizes(s: &Solved) -> (Vec<Measured>, Vec<View>) {
    let view = |m: Measured| {
        let linear = m.constraint.linear(&s.figure)?;
        Some((m, View::under(linear, &s.normal, 1.0)))
    };
    measure(s, |_| None)
        .into_iter()
        .filter(|m| m.kind != SizeKind::Angle)
        .filter_map(view)
        .unzip()
}

/// The same as sizes that may be set; `factor` is the slow error's, on variances.
fn sizes_of(
    s: &Solved,
    measured: &[Measured],
    views: &[View],
    step: f64,
    factor: f64,
) -> Vec<Size> {
    let size = |(m, v): (&Measured, &View)| Size {
        rank: rank(&s.figure, m),
        step,
        least_variance: FIXED * factor * v.free_variance(),
        value: m.value + v.expected(),
        variance: factor * v.variance(),
    };
    measured.iter().zip(views).map(size).collect()
}

/// What a person is to know of a choice of which `kept` sizes could be held.
fn told(sizes: &[Size], chosen: &Choice, kept: usize, measured: &[Measured]) -> Vec<Note> {
    let mut became = vec![Became::Implied; sizes.len()];
    for (place, &(i, whole)) in chosen.set.iter().enumerate() {
        became[i] = if place < kept {
            Became::Step(whole)
        } else {
            Became::Dropped(whole)
        };
    }
    for &i in &chosen.left_free {
        became[i] = Became::Free;
    }
    let text = |i: usize| sizes[i].told(chosen.values[i], became[i]);
    let note = |i: usize| Some(Note::at(text(i)?, measured[i].at));
    (0..sizes.len()).filter_map(note).collect()
}

/// What became of a size.
#[derive(Clone, Copy, Debug)]
enum Became {
    /// It was set to a step.
    Step(f64),
    /// It is no step.
    Free,
    /// It could not be held to this step.
    Dropped(f64),
    /// It has what the others leave it.
    Implied,
}

/// A size that may be set.
struct Size {
    rank: Rank,
    /// Whole steps of it, mm.
    step: f64,
    /// Of less variance it is fixed by the others.
    least_variance: f64,
    /// As measured, mm, and its variance, mm².
    value: f64,
    variance: f64,
}

impl Size {
    fn nearest(&self, value: f64) -> f64 {
        self.step * libm::round(value / self.step)
    }

    /// What it costs that a size of this variance is no whole step, against one that lies where it is measured.
    fn free(&self, variance: f64) -> f64 {
        let density = libm::log(2.0 * PI * variance / (self.step * self.step));
        (ODDS - density).max(SPREAD_95 * SPREAD_95)
    }

    /// What was measured does not speak against a step.
    fn may_be(&self, whole: f64) -> bool {
        let off = whole - self.value;
        whole > 0.0 && off * off <= self.free(self.variance) * self.variance
    }

    /// What a person is to know of it, which came to `value` under those before it; nothing where it went to
    /// a step inside its ±.
    fn told(&self, value: f64, became: Became) -> Option<String> {
        let (measured, step) = (self.value, self.step);
        let half = SPREAD_95 * self.variance.sqrt();
        match became {
            Became::Step(whole) => ((whole - measured).abs() > half).then(|| {
                format!("{measured:.2} ±{half:.2} mm is taken for {whole} mm, just beyond its ±")
            }),
            Became::Free => Some(format!(
                "{value:.2} mm is no whole step of {step} mm within its ±, and stays"
            )),
            Became::Dropped(whole) => Some(format!(
                "{value:.2} mm cannot be {whole} mm beside the other sizes, and stays"
            )),
            // What lies between edges follows from their lengths, and nobody asks.
            Became::Implied => {
                let off = (value - self.nearest(value)).abs();
                (self.rank != Rank::Between && off > NEARLY * step).then(|| {
                    format!("{value:.2} mm follows from the other sizes and is no whole step of {step} mm")
                })
            }
        }
    }
}

/// Sizes set so far, and what the others come to under them.
#[derive(Clone)]
struct Choice {
    /// Sizes not asked yet.
    left: Vec<usize>,
    /// What each size comes to, mm.
    values: Vec<f64>,
    /// How they vary together, mm², row by row.
    covariance: Vec<f64>,
    /// What was set, mm.
    set: Vec<(usize, f64)>,
    /// What was asked and is no whole step.
    left_free: Vec<usize>,
    /// Minus twice the logarithm of how likely all that is, up to a constant.
    cost: f64,
}

impl Choice {
    fn of(sizes: &[Size], views: &[View], factor: f64) -> Self {
        let row = |a: &View| -> Vec<f64> { views.iter().map(|b| factor * a.shared(b)).collect() };
        Self {
            left: (0..sizes.len()).collect(),
            values: sizes.iter().map(|s| s.value).collect(),
            covariance: views.iter().flat_map(row).collect(),
            set: Vec::new(),
            left_free: Vec::new(),
            cost: 0.0,
        }
    }

    fn variance(&self, i: usize) -> f64 {
        self.covariance[i * self.values.len() + i]
    }

    /// The size to be asked next: by rank, and the surest of these. What is fixed by now is asked no more.
    fn next(&mut self, sizes: &[Size]) -> Option<usize> {
        let mut left = core::mem::take(&mut self.left);
        left.retain(|&i| self.variance(i) >= sizes[i].least_variance);
        self.left = left;
        let by_rank = |a: usize, b: usize| sizes[a].rank.cmp(&sizes[b].rank);
        let surer = |a, b| self.variance(a).total_cmp(&self.variance(b));
        let left = self.left.iter().copied();
        left.min_by(|&a, &b| by_rank(a, b).then(surer(a, b)))
    }

    /// What may become of a size, the likeliest first: steps, or none.
    fn options(&self, sizes: &[Size], i: usize) -> Vec<Option<f64>> {
        let (size, value, variance) = (&sizes[i], self.values[i], self.variance(i));
        let nearest = size.nearest(value);
        let second = nearest + size.step.copysign(value - nearest);
        let steps = [nearest, second, 2.0 * nearest - second].into_iter();
        let near = |w: &f64| (w - value) * (w - value) <= size.free(variance) * variance;
        let may = steps.filter(|w| near(w) && size.may_be(*w));
        may.map(Some).chain([None]).collect()
    }

    /// The choice that goes on with this of a size.
    fn after(mut self, sizes: &[Size], i: usize, option: Option<f64>) -> Self {
        self.left.retain(|&j| j != i);
        match option {
            Some(whole) => self.set(i, whole),
            None => {
                self.cost += sizes[i].free(self.variance(i));
                self.left_free.push(i);
            }
        }
        self
    }

    /// One size, which is left no longer, set to a value.
    fn set(&mut self, i: usize, whole: f64) {
        let n = self.values.len();
        let (variance, off) = (self.variance(i), whole - self.values[i]);
        let row: Vec<f64> = self.covariance[i * n..(i + 1) * n].to_vec();
        for &j in &self.left {
            let share = row[j] / variance;
            self.values[j] += share * off;
            for &k in &self.left {
                self.covariance[j * n + k] -= share * row[k];
            }
        }
        self.set.push((i, whole));
        self.cost += off * off / variance;
    }
}

/// The likeliest whole sizes: those that are chosen together, then the others one by one.
fn chosen(sizes: &[Size], start: Choice) -> Choice {
    let mut best = likeliest(sizes, start);
    while let Some(i) = best.next(sizes) {
        let Some(&nearest) = best.options(sizes, i).first() else {
            break;
        };
        best = best.after(sizes, i, nearest);
    }
    best
}

/// The search among those that are chosen together.
fn likeliest(sizes: &[Size], start: Choice) -> Choice {
    let together = |i: &usize| sizes[*i].rank <= Rank::Parallel;
    let (mut open, mut taken) = (vec![start.clone()], 0);
    let mut best: Option<Choice> = None;
    while let Some(mut at) = open.pop() {
        let next = at.next(sizes).filter(together);
        if best.as_ref().is_some_and(|b| at.cost >= b.cost) {
            continue;
        }
        let Some(i) = next else {
            best = Some(at);
            continue;
        };
        taken += 1;
        let options = at.options(sizes, i);
        if sizes.len() > MOST_TOGETHER || taken > MOST_TAKEN {
            // Too much to weigh: straight on, or no further where there is a choice already.
            let first = options.first().filter(|_| best.is_none());
            open = first.map(|&o| at.after(sizes, i, o)).into_iter().collect();
            continue;
        }
        let ways = options.iter().rev();
        open.extend(ways.map(|&o| at.clone().after(sizes, i, o)));
    }
    best.unwrap_or(start)
}

/// The figure held to as many of `sizes` as can be held together with `conditions`, which take them in, and
/// how many: where all cannot, those taken last are left out.
fn held_to(
    s: &Solved,
    problem: &Problem,
    conditions: &mut Vec<Condition>,
    mut sizes: Vec<Condition>,
) -> Option<(Solved, usize)> {
    for tried in 0..TRIES {
        if sizes.is_empty() {
            return None;
        }
        let all = [conditions.as_slice(), &sizes].concat();
        let met = |solved: &Solved| {
            let met = |c: &Constraint| c.off(&solved.figure).is_some_and(|off| off.abs() < MET);
            constraints(&all).all(met) && sizes.iter().all(|c| as_measured(c, &solved.figure))
        };
        if let Some(solved) = hold(s, problem, &all, Care::FINAL).filter(met) {
            *conditions = all;
            return Some((solved, sizes.len()));
        }
        let fewer = sizes.len() - 1;
        sizes.truncate(if tried < 2 { fewer } else { fewer / 2 });
    }
    None
}

/// Whether a rule still measures the size of an edge by the same quantities: what ended at a virtual corner may end
/// at a round end once it is held to whole sizes.
fn as_measured(size: &Condition, figure: &Figure) -> bool {
    let ([(_, Some(e))], [held]) = (size.of.as_slice(), size.constraints.as_slice()) else {
        return true;
    };
    of_edge(figure, 0, *e).1 == held.terms
}

/// How often sizes that cannot be held together are thinned out.
const TRIES: usize = 6;

fn at_value(m: &Measured, whole: f64) -> Condition {
    let of: Vec<Side> = m.edges.iter().map(|e| Side::new(0, *e)).collect();
    let mut sized = m.constraint.clone();
    sized.value = whole.copysign(sized.value);
    Condition::new(RelationKind::Size, &of, vec![sized])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn size(rank: Rank, value: f64, variance: f64) -> Size {
        Size {
            rank,
            step: 1.0,
            least_variance: 1e-9,
            value,
            variance,
        }
    }

    fn choice(sizes: &[Size], covariance: &[f64]) -> Choice {
        Choice {
            left: (0..sizes.len()).collect(),
            values: sizes.iter().map(|s| s.value).collect(),
            covariance: covariance.to_vec(),
            set: Vec::new(),
            left_free: Vec::new(),
            cost: 0.0,
        }
    }

    /// The first alone would go to 10, and leave the second at 20.5, of which no more than a tenth is open.
    #[test]
    fn a_later_size_tells_which_step_was_meant() {
        let sizes = [
            size(Rank::Square, 10.48, 0.09),
            size(Rank::Parallel, 20.74, 0.025),
        ];
        let chosen = chosen(&sizes, choice(&sizes, &[0.09, 0.045, 0.045, 0.025]));
        assert_eq!(chosen.set, [(0, 11.0), (1, 21.0)]);
        assert!(chosen.left_free.is_empty());
    }

    #[test]
    fn a_size_far_from_its_step_is_left_and_told() {
        let sizes = [size(Rank::Slanting, 50.5, 0.01)];
        let chosen = chosen(&sizes, choice(&sizes, &[0.01]));
        assert!(chosen.set.is_empty());
        assert_eq!(chosen.left_free, [0]);
        assert!(sizes[0].told(50.5, Became::Free).is_some());
        assert!(sizes[0].told(50.5, Became::Step(50.6)).is_none());
        assert!(sizes[0].told(50.5, Became::Step(50.8)).is_some());
        assert!(sizes[0].told(50.5, Became::Implied).is_some());
        assert!(sizes[0].told(51.0, Became::Implied).is_none());
    }

    /// More sizes than are weighed together still come to an end, one by one.
    #[test]
    fn many_sizes_are_taken_one_by_one() {
        let sizes: Vec<Size> = (0..100)
            .map(|i| size(Rank::Square, 10.0 + 0.1 * f64::from(i % 4), 0.04))
            .collect();
        let mut covariance = vec![0.0; 10_000];
        for i in 0..100 {
            covariance[101 * i] = 0.04;
        }
        let chosen = chosen(&sizes, choice(&sizes, &covariance));
        assert_eq!(chosen.set.len(), 100);
        assert!(chosen.set.iter().all(|(_, whole)| *whole == 10.0));
    }
}

//! From a trace to clean paths: what the hand did on the way is taken out, what it drew stays.
//!
//! 1. The door ([`validate`](super::validate)).
//! 2. Marks: a stroke of one point, or a whole stroke no wider than [`Settings::mark_size`].
//! 3. Each stroke: samples of one place become one ([`thin`](super::thin)), spikes go
//!    ([`spikes`](super::spikes)), what was gone over again goes ([`retrace`](super::retrace)) and is kept
//!    aside: it says once more where the line is.
//! 4. Strokes that meet end to end become chains ([`strokes`](super::strokes)).
//! 5. Each chain is closed or stays open ([`close`](super::close)); a path that plainly crosses
//!    itself stays open and its crossings are told ([`crossing`](super::crossing)).
//!    Lines into a closed one and back are open lines of their own ([`slits`](super::slits)).
//! 6. What was traced in two strokes is one line ([`twice`](super::twice)).
//!
//! Every length is stated for 1 mm stations and grows with [`Settings::station`], so a trace and its
//! settings scaled alike give the same result scaled. Nothing depends on the direction of the axes.

use super::measure::{self, at};
use super::strokes::Run;
use super::{
    Stroke, Trace, close, cloud, crossing, dense, kind, retrace, slits, spikes, thin, touched,
    twice, validate,
};
use crate::error::Refusal;
use crate::geom::{Point, Vec2};
use crate::report::Note;
use crate::settings::Settings;

/// A trace without what the hand did on the way.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CleanTrace {
    /// Closed and open paths, in the order their first strokes came.
    pub paths: Vec<CleanPath>,
    /// Single touches, mm.
    pub marks: Vec<Point>,
    /// What was done, in sentences.
    pub notes: Vec<Note>,
}

/// How a path was given.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PathKind {
    /// Many samples along the line.
    #[default]
    Sampled,
    /// A few touches: corners and places on arcs.
    Touched,
    /// Points in no order, put in order.
    Cloud,
}

/// One path, in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CleanPath {
    /// Where the hand went, in order. A closed path does not repeat its first point.
    pub points: Vec<Point>,
    /// Steps that were not traced, ascending: `i` stands for the step from point `i` to the next
    /// (from the last to the first on a closed path). Gaps between strokes, lost samples, the
    /// closing gap.
    pub bridged: Vec<usize>,
    /// The last point is followed by the first.
    pub closed: bool,
    /// How it was given.
    pub kind: PathKind,
    /// What was taken out because it goes over the line again, piece by piece.
    pub again: Vec<Vec<Point>>,
    /// Typical step between samples, mm.
    pub step: f64,
    /// What was found at the two ends.
    pub ends: Ends,
    /// Places where the path plainly crosses itself, mm. Such a path stays open.
    pub crossings: Vec<Point>,
}

/// What was found where the path begins and ends.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Ends {
    /// Between the two ends after trimming, mm.
    pub gap: f64,
    /// Path that was trimmed off the start because it ran past or hooked, in order, mm. Empty on an
    /// open path.
    pub before: Vec<Point>,
    /// The same at the finish.
    pub after: Vec<Point>,
    /// Where an open path would be trimmed if it were closed after all: first and last index kept.
    pub if_closed: Option<(usize, usize)>,
    /// How sure the choice between closed and open is: positive closed, negative open, beyond ±1
    /// plain, 0 even. From the log of the cost of closing beside the span.
    pub sureness: f64,
}

impl CleanPath {
    /// The same path with the other choice made: open if it is closed, closed if it is open. `None`
    /// where there is no other way to take it.
    #[must_use]
    pub fn other_way(&self) -> Option<Self> {
        if self.closed {
            let before = self.ends.before.len();
            let last = self.points.len().checked_sub(1)?;
            let joined = [
                self.ends.before.as_slice(),
                self.points.as_slice(),
                self.ends.after.as_slice(),
            ]
            .concat();
            let inner = self.bridged.iter().filter(|&&i| i != last);
            return Some(Self {
                points: joined,
                bridged: inner.map(|i| i + before).collect(),
                closed: false,
                ends: Ends {
                    gap: self.ends.gap,
                    if_closed: Some((before, before + last)),
                    sureness: self.ends.sureness,
                    ..Ends::default()
                },
                ..self.clone()
            });
        }
        let (first, last) = self.ends.if_closed?;
        let mut other = self.clone();
        other.close_at(first, last);
        Some(other)
    }

    /// Makes this a closed path of the points `first..=last`.
    pub(super) fn close_at(&mut self, first: usize, last: usize) {
        let after = self.points.split_off((last + 1).min(self.points.len()));
        let kept = self.points.split_off(first.min(self.points.len()));
        self.ends.before = core::mem::replace(&mut self.points, kept);
        self.ends.after = after;
        self.ends.if_closed = None;
        let n = self.points.len();
        self.bridged.retain(|&i| i >= first && i < last);
        for i in &mut self.bridged {
            *i -= first;
        }
        self.ends.gap = at(&self.points, 0).distance(at(&self.points, n.saturating_sub(1)));
        if self.ends.gap > 1.5 * self.step && n > 0 {
            self.bridged.push(n - 1);
        }
        self.closed = true;
        self.crossings.clear();
    }
}

/// Takes what the hand did on the way out of a trace.
///
/// # Errors
///
/// A [`Refusal`] with one sentence where there is nothing to read or a documented limit is passed.
pub fn clean(trace: &Trace, settings: &Settings) -> Result<CleanTrace, Refusal> {
    validate::validate(trace, settings)?;
    let unit = settings.station;
    let mut out = CleanTrace::default();
    let mut strokes = Vec::new();
    for stroke in &trace.strokes {
        match mark(stroke, settings.mark_size) {
            Some(p) => out.marks.push(p),
            None if stroke.points.is_empty() => {}
            None => strokes.push(stroke),
        }
    }
    let mut there = twice::dropped(&strokes).into_iter();
    let before = strokes.len();
    strokes.retain(|_| there.next() != Some(true));
    if strokes.len() < before {
        out.notes
            .push(Note::new("a stroke that is there twice was taken once"));
    }
    let strokes: Vec<&[Point]> = strokes.iter().map(|s| s.points.as_slice()).collect();
    let kinds = kind::of(strokes.iter().copied(), settings);
    let mut runs = Vec::new();
    for (points, kind) in strokes.into_iter().zip(kinds) {
        match kind {
            PathKind::Sampled => runs.push(clean_stroke(points, unit, &mut out.notes)),
            PathKind::Touched => out.paths.push(touched::path(points, unit)),
            PathKind::Cloud => out.put_in_order(points, unit),
        }
    }
    let again = "a piece that was gone over again in another stroke was taken once";
    let over = twice::join_strokes(&mut runs, unit).into_iter();
    out.notes.extend(over.map(|place| Note::at(again, place)));
    let count = runs.len();
    let chains = super::strokes::join(runs, unit);
    if chains.len() < count {
        let text = format!("{count} strokes were joined into {}", paths(chains.len()));
        out.notes.push(Note::new(text));
    }
    for run in chains {
        let mut path = finish(run, unit, &mut out.notes);
        let slits = slits::take(&mut path, unit);
        let text = "the line runs in from the rim and back along itself; it is a slit, cut once";
        let begins = slits.iter().filter_map(|s| s.points.first());
        out.notes.extend(begins.map(|at| Note::at(text, *at)));
        out.paths.push(path);
        out.paths.extend(slits);
    }
    for (place, round) in twice::join(&mut out.paths, unit) {
        let text = match round {
            true => "a loop that was gone round again was taken once",
            false => again,
        };
        out.notes.push(Note::at(text, place));
    }
    Ok(out)
}

impl CleanTrace {
    fn put_in_order(&mut self, points: &[Point], unit: f64) {
        let found = cloud::order(points, unit);
        let text = format!(
            "points in no order were put in order along {}",
            paths(found.len())
        );
        self.notes.push(Note::new(text));
        for o in found {
            let last = o.points.len().saturating_sub(1);
            let gap = at(&o.points, 0).distance(at(&o.points, last));
            let mut path = CleanPath {
                points: o.points,
                closed: o.closed,
                kind: PathKind::Cloud,
                step: o.step,
                ends: Ends {
                    gap,
                    if_closed: (!o.closed).then_some((0, last)),
                    sureness: if o.closed { 2.0 } else { -1.0 },
                    ..Ends::default()
                },
                ..CleanPath::default()
            };
            mark_lost(&mut path, unit);
            if path.closed && gap > (3.0 * unit).max(4.0 * path.step) {
                path.bridged.push(last);
            }
            self.paths.push(path);
        }
    }
}

fn paths(n: usize) -> String {
    if n == 1 {
        "one path".into()
    } else {
        format!("{n} paths")
    }
}

/// The middle of a stroke that is a mark.
fn mark(stroke: &Stroke, size: f64) -> Option<Point> {
    let &first = stroke.points.first()?;
    if stroke.points.iter().any(|p| p.distance(first) > size) {
        return None;
    }
    if measure::span(&stroke.points) > size {
        return None;
    }
    let sum = stroke
        .points
        .iter()
        .fold(Vec2::default(), |s, &p| s + (p - first));
    Some(first + sum / stroke.points.len() as f64)
}

fn clean_stroke(stroke: &[Point], unit: f64, notes: &mut Vec<Note>) -> Run {
    let averaged = dense::averaged(stroke, unit);
    let mut points = thin::thin(averaged.as_deref().unwrap_or(stroke), unit);
    let step = measure::typical_step(&points);
    let spikes = spikes::remove(&mut points, step, unit);
    if let Some(place) = spikes.place {
        let text = match spikes.count {
            1 => "a stray sample was left out".to_string(),
            n => format!("{n} stray samples were left out"),
        };
        notes.push(Note::at(text, place));
    }
    let mut bridged = spikes.across;
    let lag = (2.5 * unit / step.max(0.1 * unit)).clamp(1.0, 25.0) as usize;
    let jitter = measure::deviation(&points, lag) / 1.44;
    let span = measure::span(&points);
    let again = retrace::remove(&mut points, &mut bridged, unit, step, jitter, span);
    if let Some(place) = again.place {
        let text = if again.folded {
            "the line runs there and back; it was taken once"
        } else {
            "a piece that was gone over again was taken once"
        };
        notes.push(Note::at(text, place));
    }
    Run {
        points,
        bridged,
        again: again.again,
        step,
        strokes: 1,
    }
}

/// Closes a chain or leaves it open.
fn finish(mut run: Run, unit: f64, notes: &mut Vec<Note>) -> CleanPath {
    if let Some(end) = close::one_lap(&run.points, unit) {
        let place = at(&run.points, end);
        run.points.truncate(end + 1);
        run.bridged.retain(|&i| i < end);
        let text = "the line runs round more than once; the first time round was taken";
        notes.push(Note::at(text, place));
    }
    let total = measure::length(&run.points);
    let span = measure::span(&run.points);
    let joint = close::self_joint(&run.points, total, span, unit, run.step);
    let mut path = CleanPath {
        points: run.points,
        bridged: run.bridged,
        again: run.again,
        step: run.step,
        ..CleanPath::default()
    };
    mark_lost(&mut path, unit);
    if let Some(joint) = joint
        && joint.b > joint.a + 2
    {
        path.ends.sureness = joint.sureness(span);
        path.ends.if_closed = Some((joint.a, joint.b));
        path.ends.gap = joint.gap;
        let wide_enough = {
            let inner = path.points.get(joint.a..=joint.b).unwrap_or_default();
            2.0 * measure::area(inner).abs() > (0.02 * span).max(1.2 * unit) * total
        };
        if !wide_enough {
            path.ends.sureness = path.ends.sureness.min(-1.0);
        }
        if look_for_crossings(&mut path, joint.a, joint.b, unit, notes) {
            path.ends.sureness = path.ends.sureness.min(-1.0);
            path.ends.if_closed = None;
        } else if path.ends.sureness > 0.0 {
            path.close_at(joint.a, joint.b);
        }
    }
    path
}

/// Whether the path, closed, would plainly cross itself; if so it says where.
fn look_for_crossings(
    path: &mut CleanPath,
    first: usize,
    last: usize,
    unit: f64,
    notes: &mut Vec<Note>,
) -> bool {
    let inner = path.points.get(first..=last).unwrap_or_default();
    // A path that stays open anyway has no closing step to cross.
    path.crossings = crossing::crossings(inner, path.ends.sureness > 0.0, unit);
    let Some(&place) = path.crossings.first() else {
        return false;
    };
    let text = "the path crosses itself here; it stays open";
    notes.push(Note::at(text, place));
    true
}

/// Marks steps so long that samples must have been lost. A pen that samples by distance betrays one lost
/// sample; one that samples by the clock takes long steps wherever it is fast.
fn mark_lost(path: &mut CleanPath, unit: f64) {
    let steps: Vec<f64> = path
        .points
        .windows(2)
        .map(|w| measure::step_of(w).length())
        .collect();
    let by_distance = measure::quantile(&mut steps.clone(), 0.9) < EVEN * path.step;
    let many = if by_distance { LOST_BY_DISTANCE } else { LOST };
    let long = (3.0 * unit).max(many * path.step);
    let lost = steps.iter().enumerate().filter(|s| *s.1 > long);
    path.bridged.extend(lost.map(|(i, _)| i));
    path.bridged.sort_unstable();
    path.bridged.dedup();
}

/// Steps are even nine in ten of which are shorter than so many typical ones.
const EVEN: f64 = 1.2;
/// Samples were lost in a step of so many typical ones; the same where steps are even.
const LOST: f64 = 4.0;
const LOST_BY_DISTANCE: f64 = 1.7;

//! Competing readings of each path; the cheapest wins.
//!
//! 1. Every clean path becomes stations; its wander is measured on them ([`crate::trace`]).
//! 2. Candidates from all scales, and the neighbours of the best, are each solved with the
//!    relations the stations speak for, and priced ([`search`], [`price`]).
//! 3. Hints choose among them or change them ([`follow`]); sizes go to whole steps ([`whole`]).
//! 4. What was done and how sure it is becomes the report ([`describe`]).
//!
//! A touched outline has few points and no samples between them: it is read by [`touched`].
#![allow(
    clippy::indexing_slicing,
    reason = "pairs of `windows(2)` have two points"
)]

mod correct;
mod describe;
pub mod evidence;
mod faith;
mod follow;
mod kept;
mod local;
pub mod measures;
mod outgrown;
pub mod price;
mod proposed;
pub mod search;
mod starts;
mod study;
mod together;
mod touched;
mod unsure;
mod whole;

use crate::fit::partition::Kind;
use crate::geom::Point;
use crate::hint::Says;
use crate::limits::MAX_COORDINATE;
use crate::outline::check;
use crate::outline::nesting::{assign_roles, is_flat, path_of_drawn};
use crate::outline::{Bounds, Circle, Loop, Mark, Path, Role};
use crate::relate::across::Form;
use crate::relate::solve::is_whole;
use crate::report::{Doubt, Note, Size, SizeKind, Wander};
use crate::settings::Hand;
use crate::trace::{CleanPath, clean, pace, untraced};
use crate::{Outline, Refusal, Report, Settings, Trace, hint::Hint};
use kept::Studies;
use outgrown::clockwise;
pub use study::{Course, Reading, Study};

/// The outline that was meant, and what is to be said of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trued {
    /// Loops, open paths and marks.
    pub outline: Outline,
    /// Relations, sizes, other readings, notes.
    pub report: Report,
}

/// Readings of a clean path, cheapest first: both closed and open where either is possible.
#[must_use]
pub fn read_clean(path: &CleanPath, settings: &Settings) -> (Vec<Reading>, Wander) {
    let study = Study::of(path, settings, false);
    let hand = study.hands.first().map(|h| h.0).unwrap_or_default();
    (study.readings, hand)
}

/// A loop on its way into the outline, with what its report is made of.
struct Taken {
    made: Loop,
    told: Option<(Study, Reading)>,
}

impl Taken {
    /// The loop where it was found to stand together with the others; nothing where it would leave what was
    /// traced of it, lose an edge, cross itself, or bound nothing.
    fn moved_to(&self, shape: &Form) -> Option<(Reading, Loop)> {
        let (study, best) = self.told.as_ref()?;
        let mut moved = best.clone();
        match (&mut moved.course, shape) {
            (Course::Chain(s), Form::Chain(figure)) => s.figure = figure.clone(),
            (Course::Circle(c), Form::Round { center, radius }) => {
                (c.center, c.radius) = (*center, *radius);
            }
            _ => return None,
        }
        let deviation = describe::deviation(&moved, study.forms.get(best.variant)?);
        let before = self.made.deviation.unwrap_or_default();
        let unit = study.hands.get(best.variant)?.1.unit;
        let whole = match &moved.course {
            Course::Chain(s) => is_whole(&s.figure, unit),
            Course::Circle(_) => true,
        };
        let stays = whole && deviation.max < 2.0 * before.max + unit;
        let path = moved.course.path(self.made.path.area() > 0.0);
        if !stays || uncuttable(&path).is_some() {
            return None;
        }
        let made = Loop {
            path,
            deviation: Some(deviation),
            ..self.made.clone()
        };
        Some((moved, made))
    }
}

/// Reads a trace and gives back the outline that was meant.
///
/// # Errors
/// Refuses, with a sentence, a trace that holds nothing to read or passes a documented limit.
pub fn true_up(trace: &Trace, settings: &Settings, hints: &[Hint]) -> Result<Trued, Refusal> {
    Reader::default().true_up(trace, settings, hints)
}

/// Reads traces, and remembers how it read the last one: a correction of it takes a fraction of its reading.
///
/// ```
/// use trued::hint::{Hint, Says};
/// use trued::{Point, Reader, Settings, Trace, true_up};
///
/// let line: Vec<Point> = (0..=300)
///     .map(|i| {
///         let along = f64::from(i);
///         match i {
///             0..=90 => Point::new(along, 0.0),
///             91..=150 => Point::new(90.0, along - 90.0),
///             151..=240 => Point::new(240.0 - along, 60.0),
///             _ => Point::new(0.0, 300.0 - along),
///         }
///     })
///     .collect();
/// let trace = Trace::from_strokes([line]);
/// let (settings, mut reader) = (Settings::default(), Reader::default());
/// let first = reader.true_up(&trace, &settings, &[])?;
///
/// let size = Hint { at: Point::new(45.0, 0.0), says: Says::Size(91.0) };
/// let corrected = reader.true_up(&trace, &settings, &[size.clone()])?;
/// assert_eq!(corrected, true_up(&trace, &settings, &[size])?);
/// # Ok::<(), trued::Refusal>(())
/// ```
#[derive(Clone, Debug, Default)]
pub struct Reader {
    studies: Studies,
}

impl Reader {
    /// As [`true_up`], with the same result, sooner where trace and settings are those of the last time: only what the
    /// hints and whole sizes change is done anew.
    ///
    /// # Errors
    /// Those of [`true_up`].
    pub fn true_up(
        &mut self,
        trace: &Trace,
        settings: &Settings,
        hints: &[Hint],
    ) -> Result<Trued, Refusal> {
        self.studies.turn();
        correct::frame::framed(hints, |hints, scale| {
            let whole = settings.whole.map(|w| w / scale);
            let settings = Settings {
                whole,
                ..settings.clone()
            };
            in_place(trace, &settings, hints, &mut self.studies)
        })
    }
}

/// As [`true_up`], where the trace lies.
fn in_place(
    trace: &Trace,
    settings: &Settings,
    hints: &[Hint],
    studies: &mut Studies,
) -> Result<Trued, Refusal> {
    let clean = clean(trace, settings)?;
    let mut notes = clean.notes.clone();
    let by_pace = (settings.hand == Hand::Unsaid)
        .then(|| pace::of_a_drawing(trace, settings.station))
        .flatten();
    let settings = &Settings {
        hand: by_pace.map_or(settings.hand, |_| Hand::Drawn),
        ..settings.clone()
    };
    if let Some(speed) = by_pace {
        notes.push(Note::new(format!(
            "the hand went at {speed:.0} mm/s, so this is taken for a drawing from memory; say that it was traced if it \
             followed a line"
        )));
    }
    let drawn: Vec<Path> = trace
        .drawn
        .iter()
        .filter_map(|c| path_of_drawn(c))
        .collect();
    let (hints, mut doubts) = correct::in_reach(&clean, &drawn, hints);
    let hints = hints.as_slice();
    let mut taken: Vec<Taken> = Vec::new();
    for (i, path) in clean.paths.iter().enumerate() {
        let own = follow::hints_of(i, &clean, hints);
        let both = own.iter().any(|h| matches!(h.says, Says::Loop(_)));
        let study = studies.of(path, settings, both);
        taken.extend(read_one(
            path,
            study,
            settings,
            &own,
            &mut notes,
            &mut doubts,
        ));
    }
    // What a drawing states exactly goes through as it is.
    for path in drawn {
        taken.push(Taken {
            made: Loop {
                role: Role::Open,
                path,
                deviation: None,
            },
            told: None,
        });
    }
    let (mut holes, mut marks) = marks_and_holes(&clean.marks, hints, &mut notes);
    let together = settings
        .tied
        .then(|| {
            let whole = settings.whole;
            together::tie(&mut taken, &mut holes, &mut marks, whole, hints, &mut notes)
        })
        .flatten();
    let held = outgrown::held(&taken, &holes, hints);
    let corrected = correct::apply(&mut taken, &mut holes, &mut marks, together, hints);
    let together = corrected.together;
    notes.extend(corrected.notes);
    doubts.extend(corrected.doubts);
    let first_hole = taken.len();
    let to_edges = correct::to_edges(&taken, &holes, &marks, first_hole, together.as_ref());
    taken.extend(holes.into_iter().map(|made| Taken { made, told: None }));
    if taken.is_empty() && marks.is_empty() {
        return Err(Refusal::Trace(
            "there is nothing to read an outline from".into(),
        ));
    }
    within_limits(&taken)?;
    let loops = taken.iter().map(|t| t.made.clone()).collect();
    let mut out = Trued {
        outline: Outline {
            loops: assign_roles(loops),
            marks,
        },
        ..Trued::default()
    };
    // A mark that was called a hole is one, whether or not a part lies around it.
    for l in out.outline.loops.iter_mut().skip(first_hole) {
        *l = Loop {
            role: Role::Hole,
            path: clockwise(&l.path),
            deviation: None,
        };
    }
    outgrown::outgrown(&mut out.outline, &held, &mut doubts);
    follow::roles(&mut out.outline, hints, &mut notes);
    for (i, t) in taken.iter().enumerate() {
        describe::loop_report(
            i,
            &t.made,
            out.outline.loops.get(i),
            t.told.as_ref(),
            |gradient| together.as_ref()?.variance(i, gradient),
            &mut out.report,
        );
    }
    let number = |i: usize, edge: usize| match (taken.get(i), out.outline.loops.get(i)) {
        (Some(t), Some(laid)) => describe::numbering(&t.made, laid)(edge),
        _ => edge,
    };
    if let Some(together) = together {
        together.report(first_hole, number, &mut out.report);
    }
    // Holes made of marks have the diameter that was said.
    for (i, t) in taken.iter().enumerate().skip(first_hole) {
        if let Path::Circle(c) = &t.made.path {
            out.report.sizes.push(Size {
                kind: SizeKind::Diameter,
                loop_index: i,
                edges: vec![0],
                value: 2.0 * c.radius,
                plus_minus: 0.0,
                fixed: true,
                at: Point::new(c.center.x + c.radius, c.center.y),
                hole: None,
                mark: None,
            });
        }
    }
    for mut size in to_edges {
        let edges = size.edges.iter().map(|e| number(size.loop_index, *e));
        size.edges = edges.collect();
        out.report.sizes.push(size);
    }
    for mut also in corrected.also {
        let edges = also.edges.iter().map(|e| number(also.loop_index, *e));
        also.edges = edges.collect();
        if !correct::is_said(&also, &out.report.also, &out.report.sizes) {
            notes.push(Note::at(correct::sentence(&also, &out.outline), also.at));
        }
        out.report.also.push(also);
    }
    out.report.doubts.extend(doubts);
    out.report.notes.splice(0..0, notes);
    tell_crossings(&mut out);
    Ok(out)
}

/// What is traced beside the limit may be meant beyond it, and hints that no hand's trace can follow may take
/// an outline anywhere.
fn within_limits(taken: &[Taken]) -> Result<(), Refusal> {
    let reach = |t: &Taken| Bounds::of_path(&t.made.path);
    let mut beyond = taken.iter().filter_map(|t| reach(t)?.beyond_limits());
    match beyond.next() {
        None => Ok(()),
        Some(p) => Err(Refusal::Trace(format!(
            "the outline would come to ({}, {}), beyond the limit of {MAX_COORDINATE} mm",
            p.x, p.y
        ))),
    }
}

/// The best reading of one path that follows its hints, as a loop.
fn read_one(
    path: &CleanPath,
    mut study: Study,
    settings: &Settings,
    hints: &[&Hint],
    notes: &mut Vec<Note>,
    doubts: &mut Vec<Doubt>,
) -> Option<Taken> {
    let mut best = follow::choose(&mut study, hints, doubts)?;
    if let Some(step) = settings.whole {
        whole::round_sizes(&study, &mut best, step, notes);
    }
    follow::settle(&study, &mut best);
    let refused = correct::reshape(&study, &mut best, hints, notes);
    doubts.extend(refused.iter().map(|(h, why)| correct::refused(h, why)));
    let stations = study.forms.get(best.variant)?;
    let course = best.course.path(points_area(&stations.points) > 0.0);
    let course = open_where_crossed(course, notes);
    let role = if course.is_closed() {
        Role::Part
    } else {
        Role::Open
    };
    let wander = study.hands.get(best.variant)?.0.size;
    // Each form is read with each instrument: whether it is the path's own form is told by whether it is closed.
    let other = (stations.closed != path.closed)
        .then(|| path.other_way())
        .flatten();
    let form = other.as_ref().unwrap_or(path);
    let (told, doubted) = untraced::told(form, wander, settings.station);
    notes.extend(told);
    doubts.extend(doubted);
    let deviation = describe::deviation(&best, stations);
    Some(Taken {
        made: Loop {
            role,
            path: course,
            deviation: Some(deviation),
        },
        told: Some((study, best)),
    })
}

/// Marks that stay marks, and those a hint calls holes.
fn marks_and_holes(
    marks: &[Point],
    hints: &[Hint],
    notes: &mut Vec<Note>,
) -> (Vec<Loop>, Vec<Mark>) {
    let (mut holes, mut left) = (Vec::new(), Vec::new());
    let said: Vec<(Point, f64)> = hints
        .iter()
        .filter_map(|h| match &h.says {
            Says::Hole(diameter, with) => Some((h.at, *diameter, with)),
            _ => None,
        })
        .flat_map(|(at, d, with)| {
            core::iter::once(&at)
                .chain(with)
                .map(move |p| (*p, d))
                .collect::<Vec<_>>()
        })
        .collect();
    let nearest = |p: Point| {
        let near = marks.iter().enumerate().map(|(i, m)| (i, m.distance(p)));
        near.fold(None, |best: Option<(usize, f64)>, next| match best {
            Some(b) if b.1 <= next.1 => Some(b),
            _ => Some(next),
        })
    };
    for (i, &center) in marks.iter().enumerate() {
        let diameter = said
            .iter()
            .rev()
            .find(|s| nearest(s.0).is_some_and(|n| n.0 == i));
        match diameter {
            Some(&(at, d)) if !(d > 0.0 && d.is_finite()) => {
                notes.push(Note::at(
                    format!("a hole of diameter {d} mm can't be made"),
                    at,
                ));
                left.push(Mark { at: center });
            }
            Some(&(_, d)) => {
                let circle = Circle {
                    center,
                    radius: 0.5 * d,
                    counter_clockwise: false,
                };
                holes.push(Loop {
                    role: Role::Hole,
                    path: Path::Circle(circle),
                    deviation: None,
                });
            }
            None => left.push(Mark { at: center }),
        }
    }
    (holes, left)
}

/// Loops that cross one another, or are drawn across themselves, can't be cut: told, with the place.
fn tell_crossings(out: &mut Trued) {
    for problem in check::check(&out.outline) {
        let own = problem.loop_index + 1;
        let text = match problem.reason {
            check::Reason::CrossesLoop { other_loop, .. } => {
                format!("loops {own} and {} cross here", other_loop + 1)
            }
            check::Reason::CrossesItself { .. } => format!("loop {own} crosses itself here"),
            _ => continue,
        };
        out.report.notes.push(Note::at(text, problem.at));
    }
}

/// Why and where a closed course can't be cut: it crosses itself, or bounds nothing.
fn uncuttable(course: &Path) -> Option<(&'static str, Point)> {
    let Path::Chain(chain) = course else {
        return None;
    };
    if let Some(at) = follow::crossing(course) {
        return Some(("the loop crosses itself here", at));
    }
    let at = *chain.corners.first()?;
    (course.is_closed() && is_flat(course))
        .then_some(("the loop goes out and back over one line", at))
}

/// A closed course that can't be cut is opened at its first corner, and told.
fn open_where_crossed(course: Path, notes: &mut Vec<Note>) -> Path {
    let (why, at, mut chain) = match (uncuttable(&course), course) {
        (Some((why, at)), Path::Chain(chain)) => (why, at, chain),
        (_, course) => return course,
    };
    chain.corners.extend(chain.corners.first().copied());
    notes.push(Note::at(format!("{why}, so it is left open"), at));
    Path::Chain(chain)
}

fn points_area(points: &[Point]) -> f64 {
    let Some(&o) = points.first() else {
        return 0.0;
    };
    points
        .windows(2)
        .map(|w| 0.5 * (w[0] - o).cross(w[1] - o))
        .sum()
}

/// Kinds of the edges of a reading, in order: `L` and `A`; a circle is `O`.
#[must_use]
pub fn kinds(reading: &Reading) -> String {
    match &reading.course {
        Course::Circle(_) => "O".into(),
        Course::Chain(s) => s
            .figure
            .kinds
            .iter()
            .map(|k| if *k == Kind::Line { 'L' } else { 'A' })
            .collect(),
    }
}

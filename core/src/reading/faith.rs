//! Whether a reading can be trusted: what is said, as data, where it may be wrong.
//!
//! A loop is doubted where the trace goes further from it than a hand does, and where another reading is as likely
//! and lies elsewhere. An ordinary trace has none of these.
//!
//! **Fails** where a wrong reading keeps as near to the trace as the right one and is plainly cheaper.

use super::evidence::Instrument;
use super::proposed::narrow_ends;
use super::{Course, Reading, Study, describe};
use crate::fit::partition::BACK;
use crate::geom::{Edge, Point, Sorted as _};
use crate::outline::Path;
use crate::relate::blocks::{EdgeResiduals, Noise};
use crate::relate::equations::stretch;
use crate::report::{About, Doubt};
use crate::trace::Stations;

/// A hand goes this far from the line it follows, against its fast error, and besides against the diagonal.
const FAST: f64 = 3.8;
const SLOW: [f64; 2] = [0.009, 0.08];
/// The same against the slow error that the reading shows.
const OF_SLOW: f64 = 2.5;
/// So many times further is no hand's error.
const OFTEN: usize = 4;
/// Slow errors of more than so many times the fast ones, and of more than this against the diagonal, are hardly a hand's
/// that follows a line (people's are 0.4 to 0.6 % of it): the teeth of a wheel look so beside its circle.
const TO_AND_FRO: (f64, f64) = (3.0, 0.01);
/// What it cuts of a corner, in units.
const CUT: f64 = 1.2;
/// At no place does it go further than this, against how far it goes on most of the line.
const OUTLYING: f64 = 4.3;
/// Readings are as likely within this, nats; they lie elsewhere from so many times the hand's error on, and so many
/// units: first of those by the same instrument, then of those by the other.
const AS_LIKELY: [f64; 2] = [4.0, 3.0];
const ELSEWHERE: [(f64, f64); 2] = [(4.0, 1.5), (4.0, 2.0)];
/// A hand that follows a line is nowhere further from it, in its errors and in units.
const FOLLOWS: (f64, f64) = (4.0, 1.0);
/// What it errs by, rms against the diagonal, is taken for no more than this: the better of the hands measured.
const MOST_FOLLOWING: f64 = 0.006;
/// A single place of the line may lie so much further off than means over a few mm do, in units.
const BY_ITSELF: f64 = 2.0;
/// A hand runs so much further past an end of the line, against the diagonal.
const PAST_END: f64 = 0.06;
/// Of so many readings it is looked whether they lie elsewhere.
const COMPARED: usize = 12;

/// What is doubtful of a loop read so.
#[must_use]
pub(super) fn doubts(study: &Study, best: &Reading, loop_index: usize) -> Vec<Doubt> {
    let (Some(stations), Some((_, noise))) =
        (study.forms.get(best.variant), study.hands.get(best.variant))
    else {
        return Vec::new();
    };
    let mut out = Vec::new();
    let (far, at) = furthest(best, stations);
    // Of a line that may as well have been traced no more is excused than of one that was.
    let mut all = study.readings.iter();
    let traced = all.any(|r| r.instrument == Instrument::Traced);
    let ever = ever(best, traced, stations, noise);
    // A hand that follows a line goes no further from it at one place than it does elsewhere, however far
    // others go.
    let here = match best.instrument {
        Instrument::Traced => OUTLYING * middling(best).max(noise.size) + noise.unit,
        Instrument::Drawn => f64::INFINITY,
    };
    // What was solved as part of an edge may lie beyond its end, where the outline goes elsewhere. What a correction
    // moved is no guess.
    let before = origin(study, best).unwrap_or(best);
    let off = describe::furthest(before, stations).filter(|o| o.0 > ever + BY_ITSELF * noise.unit);
    let far = (far > ever.min(here)).then_some((far, at));
    let left_out = || left_out(study, before, ever, stations.diagonal());
    let away = || away(before, stations, ever, noise);
    if let Some((far, at)) = off.or(far).or_else(left_out).or_else(away) {
        let text = format!(
            "loop {} leaves the trace here by {far:.1} mm, further than the hand that drew it: look whether something \
             is missing there, and trace it again or say what it is by a hint",
            loop_index + 1
        );
        out.push(Doubt::at(About::Reading, text, at));
    }
    let slow = best.slow.size;
    if best.instrument == Instrument::Traced
        && slow > TO_AND_FRO.0 * noise.size
        && slow > TO_AND_FRO.1 * stations.diagonal()
        && out.is_empty()
    {
        let text = format!(
            "loop {} was taken for smoother than the line, which goes to and fro by {:.1} mm: look whether teeth, waves or \
             notches are missing, and trace them larger or one by one",
            loop_index + 1,
            2.0 * slow
        );
        out.push(Doubt::at(About::Reading, text, at));
    }
    if let Some((off, at)) = elsewhere(study, best, stations, noise) {
        let text = format!(
            "loop {} can as well be read another way, {off:.1} mm from this one here: choose among its readings, or say \
             by a hint what this edge is",
            loop_index + 1
        );
        out.push(Doubt::at(About::Reading, text, at));
    }
    out
}

/// A hand goes no further than this from the line it follows, mm, nor from one it draws from memory.
fn ever(r: &Reading, traced: bool, stations: &Stations, noise: &Noise) -> f64 {
    let slow = SLOW[usize::from(!traced)];
    // A line that shows no slow error excuses none.
    let slow = (slow * stations.diagonal()).min(OF_SLOW * r.slow.size + noise.unit);
    FAST * noise.size + CUT * noise.unit + slow
}

/// Whether a reading as traced leaves the line again and again, further than a hand ever does: that is the line, and
/// not the hand.
#[must_use]
pub(super) fn often_leaves(r: &Reading, stations: &Stations, noise: &Noise) -> bool {
    if r.instrument != Instrument::Traced {
        return false;
    }
    let bound = ever(r, true, stations, noise);
    let mut times = 0;
    for edge in residuals(r) {
        let sides = edge
            .blocks
            .iter()
            .map(|b| b.signum() * f64::from(u8::from(b.abs() > bound)));
        // Each time it goes out to one side.
        times += sides
            .scan(0.0, |last, s| {
                Some((s != 0.0 && s != core::mem::replace(last, s)) as usize)
            })
            .sum::<usize>();
    }
    times >= OFTEN
}

fn residuals(r: &Reading) -> &[EdgeResiduals] {
    match &r.course {
        Course::Circle(c) => core::slice::from_ref(&c.residuals),
        Course::Chain(s) => s.residuals.as_slice(),
    }
}

/// The place furthest from the reading of what the hand drew and was taken for line gone over again, or for running
/// past an end, where it lies further off than that leaves it.
fn left_out(study: &Study, r: &Reading, ever: f64, diagonal: f64) -> Option<(f64, Point)> {
    let [again, past] = study.besides.get(r.variant)?;
    let edges = r.course.path(true).edges();
    let past_end = ever + PAST_END * diagonal;
    let places = again.iter().map(|p| (p, ever));
    let places = places.chain(past.iter().map(|p| (p, past_end)));
    beyond(places.map(|(p, bound)| (from_edges(&edges, *p), bound, *p)))
}

/// Of distances, each with its bound and place, the greatest that is out of bounds.
fn beyond(all: impl Iterator<Item = (f64, f64, Point)>) -> Option<(f64, Point)> {
    let far = all.filter(|(off, bound, _)| off > bound);
    far.map(|(off, _, p)| (off, p))
        .max_by(|a, b| a.0.total_cmp(&b.0))
}

/// How far a place is from the nearest of some edges, mm.
fn from_edges(edges: &[Edge], p: Point) -> f64 {
    let all = edges.iter().map(|e| e.distance(p));
    all.fold(f64::INFINITY, f64::min)
}

/// The place of the outline furthest from the line, and how far, where that is further than the hand explains: the
/// sides of something narrow may meet far beyond where the hand turned back, which no drift of the hand explains.
fn away(r: &Reading, stations: &Stations, ever: f64, noise: &Noise) -> Option<(f64, Point)> {
    let anywhere = ever + BY_ITSELF * noise.unit;
    let at_tip = FAST * noise.size + (CUT + 1.0) * noise.unit;
    let along = |e: Edge| (0..=LOOKS).map(move |k| e.point_at(k as f64 / LOOKS as f64));
    let edges = r.course.path(true).edges();
    let places = edges.into_iter().flat_map(along).map(|p| (p, anywhere));
    let tips = r.chain().into_iter().flat_map(|s| {
        let m = s.figure.len();
        let joints = (s.figure.joints()).filter(|e| s.figure.turn_after(*e).abs() > BACK);
        joints.filter_map(move |e| Some((*s.figure.corners.get((e + 1) % m)?, at_tip)))
    });
    beyond(places.chain(tips).map(|(p, bound)| {
        let squares = stations.points.iter().map(|s| (*s - p).length_squared());
        (squares.fold(f64::INFINITY, f64::min).sqrt(), bound, p)
    }))
}

/// Whether a reading leaves the line further than a hand does that follows it, which keeps nearer than `near`, mm.
#[must_use]
pub(super) fn leaves(r: &Reading, stations: &Stations, near: f64, noise: &Noise) -> bool {
    let off = describe::furthest(r, stations).map_or(0.0, |o| o.0);
    furthest(r, stations).0 >= near || off >= near + BY_ITSELF * noise.unit
}

/// A hand that follows a line keeps nearer to it than this, mm, by what the reading as traced leaves of it.
#[must_use]
pub(super) fn following(traced: &Reading, stations: &Stations, noise: &Noise) -> f64 {
    FOLLOWS.0 * wander(traced, stations, noise) + FOLLOWS.1 * noise.unit
}

/// How far the hand goes from the line, mm: of a smooth hand the fast error says little. What a wrong reading leaves
/// of the line says no more than a hand may err.
fn wander(r: &Reading, stations: &Stations, noise: &Noise) -> f64 {
    let most = MOST_FOLLOWING * stations.diagonal();
    noise.size.max(middling(r).min(most))
}

/// How far apart the readings by either instrument may lie, mm, before that is another place.
pub(super) fn apart(study: &Study, best: &Reading) -> Option<f64> {
    let stations = study.forms.get(best.variant)?;
    let noise = &study.hands.get(best.variant)?.1;
    Some(apart_by(best, stations, noise)[1])
}

/// From how far apart on readings lie elsewhere, mm: first those by one instrument, then those by two.
fn apart_by(r: &Reading, stations: &Stations, noise: &Noise) -> [f64; 2] {
    let wander = wander(r, stations, noise);
    ELSEWHERE.map(|(wanders, units)| wanders * wander + units * noise.unit)
}

/// How far the line goes from a reading on most of it: the standard deviation of a normal error with the same
/// middling distance, mm. What one edge that is wrong leaves does not change it.
fn middling(best: &Reading) -> f64 {
    let mut all: Vec<(f64, f64)> = residuals(best)
        .iter()
        .flat_map(|e| e.blocks.iter().map(|b| (b.abs(), e.length)))
        .collect();
    all.order_by(|a, b| a.0.total_cmp(&b.0));
    let half = 0.5 * all.iter().map(|b| b.1).sum::<f64>();
    let mut sum = 0.0;
    let mid = all.iter().find(|b| {
        sum += b.1;
        sum >= half
    });
    mid.map_or(0.0, |b| b.0 * FROM_MIDDLING)
}

/// The standard deviation of a normal number against its middling size.
const FROM_MIDDLING: f64 = 1.4826;

/// How far the trace goes from a reading, mm, by means over a few mm with what the hand rounds of corners taken
/// off, and where.
fn furthest(best: &Reading, stations: &Stations) -> (f64, Point) {
    let n = stations.len().max(1);
    let round = match &best.course {
        Course::Circle(c) => vec![(0, n, &c.residuals.blocks)],
        Course::Chain(s) => (s.residuals.iter().enumerate())
            .map(|(e, r)| {
                let (from, to) = stretch(&s.starts, e, n);
                (from, to - from, &r.blocks)
            })
            .collect(),
    };
    let mut most = (0.0, 0);
    for (from, count, blocks) in round {
        for (i, b) in blocks.iter().enumerate() {
            if b.abs() > most.0 {
                let along = (2 * i + 1) * count / (2 * blocks.len().max(1));
                most = (b.abs(), from + along);
            }
        }
    }
    let at = stations.points.get(most.1 % n).copied();
    (most.0, at.unwrap_or_default())
}

/// The reading that corrections made another of: the one of its price. What was not corrected is its own.
pub(super) fn origin<'a>(study: &'a Study, best: &Reading) -> Option<&'a Reading> {
    let mut own = study.readings.iter();
    own.find(|r| {
        (r.price, r.variant) == (best.price, best.variant) && r.instrument == best.instrument
    })
}

/// Where another reading that is as likely lies elsewhere than the best, and how far off, mm. Whether the end
/// of something narrow is round or square is no other place: half its width, which the torch rounds anyway. And what a
/// correction moved is no guess: where the reading stood before it is no other place either.
fn elsewhere(
    study: &Study,
    best: &Reading,
    stations: &Stations,
    noise: &Noise,
) -> Option<(f64, Point)> {
    let apart = apart_by(best, stations, noise);
    let own = best.course.path(true);
    let before = origin(study, best).map_or_else(|| own.clone(), |r| r.course.path(true));
    let ends = best
        .chain()
        .map_or_else(Vec::new, |s| narrow_ends(&s.figure, noise.unit));
    let at_end = |p: Point, off: f64| {
        let mut ends = ends.iter();
        ends.any(|(end, wide)| end.distance(p) < *wide && off < 0.5 * wide)
    };
    let other = |r: &Reading| usize::from(r.instrument != best.instrument);
    let near = |r: &&Reading| (r.price - best.price).abs() < AS_LIKELY[other(r)];
    let others = study.readings.iter().filter(near).take(COMPARED);
    let mut most: Option<(f64, Point)> = None;
    for r in others {
        let path = r.course.path(true);
        let (now, was) = (off(&path, &own, at_end), off(&path, &before, at_end));
        let (off, at) = if was.0 < now.0 { was } else { now };
        if off > apart[other(r)] && most.is_none_or(|m| off > m.0) {
            most = Some((off, at));
        }
    }
    most
}

/// What is doubtful of a reading that was taken instead of one before it, which crosses itself: that it lies
/// elsewhere.
pub(super) fn instead(study: &Study, before: &Reading, taken: &Reading) -> Option<Doubt> {
    let (stations, noise) = (
        study.forms.get(before.variant)?,
        &study.hands.get(before.variant)?.1,
    );
    let [apart, _] = apart_by(before, stations, noise);
    let (was, now) = (before.course.path(true), taken.course.path(true));
    let here = |_, _| false;
    let (there, back) = (off(&was, &now, here), off(&now, &was, here));
    let (far, at) = if there.0 < back.0 { back } else { there };
    let text = format!(
        "a loop that comes nearest to the trace crosses itself; the one taken instead goes {far:.1} mm from it here: \
         look whether the trace crosses itself, and trace it again"
    );
    (far > apart).then(|| Doubt::at(About::Reading, text, at))
}

/// How far a path goes from another, mm, and where; what is `excused` there is passed over.
fn off(path: &Path, from: &Path, excused: impl Fn(Point, f64) -> bool) -> (f64, Point) {
    let edges = from.edges();
    let mut most = (0.0, Point::default());
    for e in path.edges() {
        for k in 0..LOOKS {
            let p = e.point_at(k as f64 / LOOKS as f64);
            let near = from_edges(&edges, p);
            if near > most.0 && !excused(p, near) {
                most = (near, p);
            }
        }
    }
    most
}

/// So many places of an edge are looked at.
const LOOKS: usize = 8;

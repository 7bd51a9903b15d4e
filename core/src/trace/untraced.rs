//! Stretches of a path that nobody traced: where its two ends were closed, where strokes were joined, where a pen
//! lost samples.
//!
//! A hand that goes round an outline stops a few mm short, which is a note at most. A gap longer than that and
//! than the wander explains may hide a notch or a tab: it is a doubt, with its length and its middle. A sparse pen's
//! gaps are measured against its steps. Touched outlines are left out: all of such a path lies between touches.
//!
//! Fails on: a stretch left out where the line turns back, so that its two ends lie near each other.

use super::clean::{CleanPath, PathKind};
use super::measure::at;
use crate::geom::{Line, Point, Sorted as _};
use crate::report::{About, Doubt, Note};

/// A closing gap longer than this and a step is doubted, units: a hand stops short by as much.
const CLOSED: f64 = 8.0;
/// The same of a gap on the way: a pen that slips loses up to 8 mm now and then, and what was lost round a corner
/// is not missed.
const CARRIED_ON: f64 = 12.0;
/// A closing gap longer than this is told, units.
const TOLD: f64 = 3.0;
/// A hand's two ends miss each other by no more than so many times its wander.
const WANDERS: f64 = 4.0;
/// Nor by more than so many of the pen's steps.
const STEPS: f64 = 2.5;
/// A piece lies along a gap within this, units; looked at in so many steps for each such stretch, and at most so many.
const BESIDE: f64 = 2.5;
const LOOKS: f64 = 4.0;
const MOST_PLACES: f64 = 200.0;
/// So many gaps of one path are told one by one, the longest; the rest are counted.
const MOST: usize = 4;

/// A gap between two samples.
struct Gap {
    length: f64,
    middle: Point,
    /// Between the path's last point and its first.
    closing: bool,
}

/// What is to be said about the gaps of a path in the form it was read in; `wander` is its hand's, `unit` the
/// spacing of stations, mm.
pub(crate) fn told(path: &CleanPath, wander: f64, unit: f64) -> (Vec<Note>, Vec<Doubt>) {
    let (mut notes, mut doubts) = (Vec::new(), Vec::new());
    if path.kind == PathKind::Touched {
        return (notes, doubts);
    }
    let explained = (WANDERS * wander).max(STEPS * path.step);
    let gaps = gaps(path, unit);
    let long = |g: &&Gap| {
        let most = if g.closing { CLOSED } else { CARRIED_ON };
        g.length > explained.max(most * unit + path.step)
    };
    let mut doubted: Vec<&Gap> = gaps.iter().filter(long).collect();
    doubted.order_by(|a, b| b.length.total_cmp(&a.length));
    let rest = doubted.len().saturating_sub(MOST);
    for gap in doubted.iter().take(MOST) {
        let done = if gap.closing {
            "the outline was closed across them"
        } else {
            "the line was carried on across them"
        };
        let text = format!(
            "{:.1} mm were never traced here; {done}: trace what is missing, or look whether the outline is right",
            gap.length
        );
        doubts.push(Doubt::at(About::Closing, text, gap.middle));
    }
    if rest > 0 {
        let text = format!(
            "{rest} more stretches as long as that were never traced; the line was carried on across them"
        );
        doubts.push(Doubt::new(About::Closing, text));
    }
    let closing = gaps.iter().find(|g| g.closing);
    if let Some(gap) = closing.filter(|g| !long(g) && g.length > explained.max(TOLD * unit)) {
        let text = format!(
            "the outline was closed across {:.1} mm that were not traced",
            gap.length
        );
        notes.push(Note::at(text, gap.middle));
    }
    (notes, doubts)
}

/// The bridged steps of a path, less what was traced all the same: by a piece that goes over the line there and was
/// taken out where strokes were joined.
fn gaps(path: &CleanPath, unit: f64) -> Vec<Gap> {
    let n = path.points.len();
    let one = |&i: &usize| {
        let closing = i + 1 >= n;
        let next = if closing { 0 } else { i + 1 };
        let (a, b) = (at(&path.points, i), at(&path.points, next));
        let (from, to) = untraced(path, a, b, BESIDE * unit);
        Gap {
            length: from.distance(to),
            middle: from.midpoint(to),
            closing,
        }
    };
    let real = |&&i: &&usize| path.closed || i + 1 < n;
    path.bridged.iter().filter(real).map(one).collect()
}

/// The longest stretch between two places that no piece gone over again lies along, within `reach`.
fn untraced(path: &CleanPath, a: Point, b: Point, reach: f64) -> (Point, Point) {
    let steps = || path.again.iter().flat_map(|piece| piece.windows(2));
    if steps().next().is_none() {
        return (a, b);
    }
    let along = |step: &[Point], p: Point| {
        let [from, to] = step else { return false };
        let line = Line {
            from: *from,
            to: *to,
        };
        (line.nearest(p).0 - p).length_squared() < reach * reach
    };
    let places = (a.distance(b) * LOOKS / reach.max(1e-9)).ceil();
    let places = places.clamp(1.0, MOST_PLACES) as usize;
    let place = |k: usize| a + (b - a) * (k as f64 / places as f64);
    let (mut longest, mut from) = (None, None);
    for k in 0..=places {
        if steps().any(|step| along(step, place(k))) {
            from = None;
            continue;
        }
        let start = *from.get_or_insert(k);
        if longest.is_none_or(|(s, e)| k - start > e - s) {
            longest = Some((start, k));
        }
    }
    // A piece is within reach for a while after its end.
    let beyond = (reach * places as f64 / a.distance(b).max(1e-9)) as usize;
    match longest {
        None => (a, a),
        Some((start, end)) => (
            place(start.saturating_sub(beyond)),
            place((end + beyond).min(places)),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::Settings;
    use crate::trace::{Trace, clean};
    use core::f64::consts::TAU;

    /// An arc of a circle of radius 40 from an angle on, a sample a degree, without some of them.
    fn arc(from: usize, to: usize, lost: core::ops::Range<usize>) -> CleanPath {
        let point = |k: usize| {
            let (s, c) = libm::sincos(TAU * k as f64 / 360.0);
            Point::new(40.0 * c, 40.0 * s)
        };
        let points = (from..to)
            .filter(|k| !lost.contains(k))
            .map(point)
            .collect();
        let trace = Trace::from_strokes([points]);
        let clean = clean(&trace, &Settings::default()).expect("a readable trace");
        clean.paths.into_iter().next().expect("a path")
    }

    fn counts(path: &CleanPath) -> (usize, usize) {
        let (notes, doubts) = told(path, 0.2, 1.0);
        (notes.len(), doubts.len())
    }

    #[test]
    fn a_closing_gap_is_nothing_a_note_or_a_doubt_by_its_length() {
        // 0.7 mm a degree.
        for (to, want) in [(359, (0, 0)), (353, (1, 0)), (344, (0, 1))] {
            let path = arc(0, to, 0..0);
            assert!(path.closed, "{to}");
            assert_eq!(counts(&path), want, "{to}");
        }
    }

    #[test]
    fn the_doubt_names_length_and_place() {
        let (_, doubts) = told(&arc(0, 341, 0..0), 0.2, 1.0);
        let d = &doubts[0];
        assert_eq!(d.about, About::Closing);
        assert!(d.text.starts_with("13.9 mm"), "{}", d.text);
        let at = d.at.expect("a place");
        assert!(at.distance(Point::new(39.0, -6.8)) < 1.0, "{at:?}");
    }

    #[test]
    fn lost_samples_are_doubted_and_a_shaky_hand_explains_more() {
        assert_eq!(counts(&arc(0, 360, 100..111)), (0, 0));
        let path = arc(0, 360, 100..120);
        assert_eq!(counts(&path), (0, 1));
        assert_eq!(told(&path, 4.0, 1.0).1.len(), 0);
    }

    #[test]
    fn what_a_piece_taken_out_goes_over_was_traced() {
        let mut path = arc(0, 360, 100..120);
        let whole = arc(0, 360, 0..0).points;
        path.again.push(whole[95..125].to_vec());
        assert_eq!(counts(&path), (0, 0));
        // What lies elsewhere says nothing of it, nor does one that goes over an end of it.
        path.again = vec![whole[200..240].to_vec(), whole[94..102].to_vec()];
        assert_eq!(counts(&path), (0, 1));
    }

    /// A rectangle of 120 by 80 with 12 mm of its lower side left out, as a hand that wanders slowly traces it.
    fn rectangle_with_a_gap(seed: u32) -> Trace {
        let corners = [
            (42.0, 0.0),
            (120.0, 0.0),
            (120.0, 80.0),
            (0.0, 80.0),
            (0.0, 0.0),
            (30.0, 0.0),
        ];
        let mut state = seed;
        let mut random = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(state >> 8) / f64::from(1_u32 << 24) - 0.5
        };
        let (mut x, mut y) = (0.0, 0.0);
        let mut points = Vec::new();
        for w in corners.windows(2) {
            let (a, b) = (Point::new(w[0].0, w[0].1), Point::new(w[1].0, w[1].1));
            let steps = a.distance(b) as usize;
            for k in 0..steps {
                let p = a.lerp(b, k as f64 / steps as f64);
                x = 0.95 * x + 0.27 * random();
                y = 0.95 * y + 0.27 * random();
                points.push(Point::new(p.x + x, p.y + y));
            }
        }
        Trace::from_strokes([points])
    }

    #[test]
    fn a_closing_gap_is_doubted_whichever_instrument_the_reading_is_of() {
        for seed in 0..8 {
            let trace = rectangle_with_a_gap(seed);
            let trued = crate::true_up(&trace, &Settings::default(), &[]).expect("an outline");
            let closing = trued
                .report
                .doubts
                .iter()
                .filter(|d| d.about == About::Closing);
            assert_eq!(closing.count(), 1, "{seed}");
        }
    }
}

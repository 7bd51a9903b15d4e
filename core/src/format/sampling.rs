//! Exact or sampled: what becomes of the courses of a drawing.
//!
//! A drawing may hold two quite different things in one notation: geometry that somebody stated
//! (four straight edges, a circle), and what a hand or a scanner left (a polyline of nine hundred
//! points). The first must stay what it is, to the digit; the second is a trace and wants reading.
//! Nothing in SVG or DXF says which, so this rule does where our own writers have not said it
//! ([`super::stated`]):
//!
//! 1. A course that holds a Bézier curve or an ellipse is sampled every [`STEP`], since neither is
//!    a line or an arc.
//! 2. A course that is as stated stays exact.
//! 3. A course of straight edges only, more than [`MOST_DRAWN_EDGES`] of them, whose middle length
//!    is at most [`SHORT_EDGE`] or at most [`SHORT_SHARE`] of its diagonal, is a sampled trace.
//! 4. Everything else (few or long straight edges, any circular arc) is drawn and stays exact.
//!
//! It fails on a drawn outline of more than two dozen tiny straight edges (fine teeth), which is
//! read as a trace, and on a trace of fewer than two dozen points, which stays as it is unless the
//! person says how it was touched.
//!
//! Open exact courses whose ends meet are joined first ([`join`]).

use super::course::Course;
use super::{join, numbers};
use crate::geom::{Arc, Edge, Point};
use crate::outline::Bounds;
use crate::{Refusal, Stroke, Trace, limits};

/// Spacing, in mm, of the points that stand for a curve which is neither line nor arc.
pub const STEP: f64 = 0.5;
/// A polyline of no more straight edges than this was drawn.
pub const MOST_DRAWN_EDGES: usize = 24;
/// Straight edges of a middle length up to this, in mm, are samples.
pub const SHORT_EDGE: f64 = 2.5;
/// Straight edges of a middle length up to this share of the diagonal are samples.
pub const SHORT_SHARE: f64 = 1.0 / 40.0;
/// Most points that stand for one curve.
const MOST_CURVE_POINTS: f64 = 4096.0;

/// Collects courses into a trace within the documented limits.
pub(crate) struct Collector {
    exact: Vec<Course>,
    circles: Vec<Arc>,
    strokes: Vec<Stroke>,
    points: usize,
    /// Points that stand for curves, and how many of those there may be.
    curve_points: usize,
    most_curve_points: usize,
    curves: usize,
}

/// How many steps cut a length into pieces no longer than [`STEP`].
pub(crate) fn steps(length: f64) -> usize {
    libm::ceil(length / STEP).clamp(1.0, MOST_CURVE_POINTS) as usize
}

fn over(what: &'static str, limit: usize) -> Refusal {
    Refusal::File(format!("the number of {what} passes the limit of {limit}"))
}

impl Collector {
    /// Ready for a file of so many bytes. Curves become points, and how many stays within a bound
    /// of the file's size.
    pub(crate) fn for_file(bytes: usize) -> Self {
        Self {
            exact: Vec::new(),
            circles: Vec::new(),
            strokes: Vec::new(),
            points: 0,
            curve_points: 0,
            most_curve_points: (1_000_000 + bytes / 8).min(limits::MAX_POINTS),
            curves: 0,
        }
    }

    /// Makes sure that so many more points for curves are within the limit, before they are made.
    pub(crate) fn room_for(&self, points: usize) -> Result<(), Refusal> {
        if self.curve_points.saturating_add(points) <= self.most_curve_points {
            return Ok(());
        }
        Err(over("points that its curves need", self.most_curve_points))
    }

    /// Counts points that the file itself states.
    fn count(&mut self, points: usize) -> Result<(), Refusal> {
        self.points = self.points.saturating_add(points);
        if self.points <= limits::MAX_POINTS {
            return Ok(());
        }
        Err(over("points", limits::MAX_POINTS))
    }

    /// Takes a course that has ended.
    pub(crate) fn add(&mut self, mut course: Course) -> Result<(), Refusal> {
        course.settle();
        if course.curved {
            self.curves += 1;
            let points = self.resampled(&course)?;
            self.curve_points += points.len();
            return self.stroke(points);
        }
        if course.points.len() == 1 {
            return self.stroke(course.points);
        }
        self.count(course.points.len())?;
        if self.exact.len() >= limits::MAX_EDGES {
            return Err(over("edges", limits::MAX_EDGES));
        }
        self.exact.push(course);
        Ok(())
    }

    /// Takes a whole circle.
    pub(crate) fn circle(&mut self, arc: Arc) -> Result<(), Refusal> {
        if self.circles.len() >= limits::MAX_EDGES {
            return Err(over("edges", limits::MAX_EDGES));
        }
        self.circles.push(arc);
        Ok(())
    }

    /// A single touch.
    pub(crate) fn mark(&mut self, at: Point) -> Result<(), Refusal> {
        self.stroke(vec![at])
    }

    /// The whole course as points no further apart than [`STEP`].
    fn resampled(&self, course: &Course) -> Result<Vec<Point>, Refusal> {
        let edges = course.edges();
        let counts: Vec<usize> = edges.iter().map(|e| steps(e.length())).collect();
        self.room_for(counts.iter().sum())?;
        let mut points = vec![course.start()];
        for (edge, n) in edges.iter().zip(counts) {
            points.extend((1..=n).map(|i| edge.point_at(i as f64 / n as f64)));
        }
        // An arc or an ellipse may bulge out of what its ends lie in.
        match points.iter().find(|p| !limits::holds(**p)) {
            None => Ok(points),
            Some(p) => Err(Refusal::File(format!(
                "a curve comes by ({}, {}), further from the origin than the limit of {} mm",
                p.x,
                p.y,
                limits::MAX_COORDINATE
            ))),
        }
    }

    fn stroke(&mut self, points: Vec<Point>) -> Result<(), Refusal> {
        self.count(points.len())?;
        if self.strokes.len() >= limits::MAX_STROKES {
            return Err(over("strokes", limits::MAX_STROKES));
        }
        self.strokes.push(Stroke::new(points));
        Ok(())
    }

    /// The trace and what is to be said of it, or a refusal where nothing came together.
    pub(crate) fn finish(mut self) -> Result<(Trace, Vec<String>), Refusal> {
        let joined = join::joined(core::mem::take(&mut self.exact));
        let mut drawn: Vec<Vec<Edge>> = self.circles.iter().map(|c| vec![Edge::Arc(*c)]).collect();
        let (mut edges, mut polylines) = (0, 0);
        for course in joined.courses {
            if is_sampled(&course) {
                polylines += 1;
                self.points -= course.points.len().min(self.points);
                self.stroke(course.points)?;
                continue;
            }
            edges += course.points.len();
            if edges > limits::MAX_EDGES {
                return Err(over("edges", limits::MAX_EDGES));
            }
            drawn.push(course.edges());
        }
        let notes = said(self.curves, polylines, joined.branches, joined.twice);
        let trace = Trace {
            strokes: self.strokes,
            drawn,
        };
        if trace.strokes.is_empty() && trace.drawn.is_empty() {
            return Err(Refusal::File("there is no geometry in the file".into()));
        }
        Ok((trace, notes))
    }
}

/// What the person should know, in sentences.
fn said(curves: usize, polylines: usize, branches: usize, twice: usize) -> Vec<String> {
    let mut notes = Vec::new();
    if curves > 0 {
        let n = numbers::counted(curves, "course", "courses");
        notes.push(format!(
            "{n} with curves that are neither straight nor circular: sampled every {STEP} mm and read as traces"
        ));
    }
    if polylines > 0 {
        let n = numbers::counted(polylines, "polyline", "polylines");
        notes.push(format!("{n} of many short edges: read as traces"));
    }
    if branches > 0 {
        let n = numbers::counted(branches, "place", "places");
        notes.push(format!(
            "{n} where three or more ends meet: not joined there"
        ));
    }
    if twice > 0 {
        let n = numbers::counted(twice, "edge", "edges");
        notes.push(format!("{n} drawn twice: taken once"));
    }
    notes
}

/// Rule 3 above.
fn is_sampled(course: &Course) -> bool {
    let pieces = course.points.len().saturating_sub(1);
    if course.stated.is_some() || pieces <= MOST_DRAWN_EDGES || !course.bends.is_empty() {
        return false;
    }
    let pairs = course.points.iter().zip(course.points.iter().skip(1));
    let mut lengths: Vec<f64> = pairs.map(|(p, q)| p.distance(*q)).collect();
    let middle = lengths.len() / 2;
    let (_, median, _) = lengths.select_nth_unstable_by(middle, f64::total_cmp);
    let bounds = Bounds::of_points(course.points.iter().copied());
    let diagonal = bounds.map_or(0.0, |b| b.diagonal());
    *median <= SHORT_EDGE || *median <= SHORT_SHARE * diagonal
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::f64::consts::TAU;

    #[test]
    fn few_long_edges_are_drawn_and_many_short_ones_sampled() {
        let ring = |n: usize| {
            let at = |i: usize| {
                let a = TAU * i as f64 / n as f64;
                Point::new(60.0 * libm::cos(a), 40.0 * libm::sin(a))
            };
            let mut course = Course::at(at(0));
            for i in 1..n {
                course.line_to(at(i));
            }
            course.closed = true;
            let mut c = Collector::for_file(0);
            assert_eq!(c.add(course), Ok(()));
            c.finish().expect("one course was added").0
        };
        assert_eq!(ring(12).drawn.len(), 1);
        assert_eq!(ring(24).drawn.len(), 1);
        let sampled = ring(300);
        assert_eq!((sampled.drawn.len(), sampled.point_count()), (0, 301));
    }
}

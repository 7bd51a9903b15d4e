//! A course: what one run of a drawing's pen left.
//!
//! A drawing may hold a polyline of a million points, so a course keeps its corners as bare points
//! and only notes beside them which of the pieces between are arcs.

use super::layers::Layer;
use crate::geom::{Arc, Edge, Line, Point, turn_between};
use core::f64::consts::TAU;

/// Ends this close, in mm, are one point: what drawing programs leave between ends that were meant to meet.
pub const JOIN: f64 = 0.05;
/// Ends of an open course no further apart than this, in mm, were meant to meet.
pub const GAP: f64 = 3.0;
/// Arcs that meet and whose centres and radii agree as well, in mm, are one arc.
pub const ONE_ARC: f64 = 0.01;
/// Ends closer than this, in mm, differ by rounding alone.
pub const ROUNDING: f64 = 1e-4;

/// How the inside of a course is painted: to the eye a filled one is closed, whether its line is or not.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Inside {
    /// Not at all, as far as anybody knows.
    #[default]
    Clear,
    /// And the line around it is drawn too, or may be meant.
    Lined,
    /// Alone.
    Filled,
}

/// One run of pieces, each starting where the one before ends.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Course {
    /// The start and the end of every piece.
    pub(crate) points: Vec<Point>,
    /// The pieces that are arcs: their number and how far they turn, ascending.
    pub(crate) bends: Vec<(usize, f64)>,
    /// The layer it was drawn on.
    pub(crate) layer: Layer,
    /// The file says that a hand left it.
    pub(crate) traced: bool,
    pub(crate) inside: Inside,
    /// Some of the points are samples of a curve that is neither straight nor circular.
    pub(crate) curved: bool,
    /// Runs back to its start.
    pub(crate) closed: bool,
    /// The file says that its edges and ends are what was meant, and of how many pieces each edge is:
    /// nothing is joined or read anew.
    pub(crate) stated: Option<Vec<usize>>,
}

impl Course {
    /// A course on no layer that begins here.
    pub(crate) fn at(start: Point) -> Self {
        Self::on(Layer::default(), start)
    }

    /// A course on a layer that begins here.
    pub(crate) fn on(layer: Layer, start: Point) -> Self {
        Self {
            points: vec![start],
            bends: Vec::new(),
            layer,
            traced: false,
            inside: Inside::Clear,
            curved: false,
            closed: false,
            stated: None,
        }
    }

    /// Where it starts.
    pub(crate) fn start(&self) -> Point {
        self.points.first().copied().unwrap_or_default()
    }

    /// Where it has got to.
    pub(crate) fn end(&self) -> Point {
        self.points.last().copied().unwrap_or_default()
    }

    /// A straight piece; nothing where there is no way to go.
    pub(crate) fn line_to(&mut self, to: Point) {
        if to != self.end() {
            self.points.push(to);
        }
    }

    /// A circular piece that turns by `sweep`; straight where that is no turn at all.
    pub(crate) fn arc_to(&mut self, to: Point, sweep: f64) {
        if Arc::from_sweep(self.end(), to, sweep).is_some() {
            self.bends.push((self.points.len() - 1, sweep));
        }
        self.line_to(to);
    }

    /// Samples of a curve that is neither.
    pub(crate) fn curve_through(&mut self, points: &[Point]) {
        self.curved = true;
        self.points.extend_from_slice(points);
    }

    /// Closed, or with no way left to go to be so.
    pub(crate) fn is_closed(&self) -> bool {
        self.closed || (self.points.len() > 2 && self.start() == self.end())
    }

    /// Takes what the file says of its edges, if it fits the pieces there are.
    pub(crate) fn state(&mut self, pieces: &[usize]) {
        let closing = usize::from(self.closed && self.start() != self.end());
        let there = self.points.len().saturating_sub(1) + closing;
        let said = pieces.iter().fold(0_usize, |n, k| n.saturating_add(*k));
        if said == there && !pieces.contains(&0) {
            self.stated = Some(pieces.to_vec());
        }
    }

    /// Its last piece, where that is an arc: the turn.
    fn last_bend(&mut self) -> Option<&mut f64> {
        let last = self.points.len().checked_sub(2)?;
        let bend = self.bends.last_mut()?;
        (bend.0 == last).then_some(&mut bend.1)
    }

    /// Moves the end a little, to where something else begins. An arc keeps its circle: of a nearly full one
    /// the ends lie so close that the same turn between other ends would be a circle of another size.
    fn end_at(&mut self, to: Point) {
        let Some(from) = self
            .points
            .len()
            .checked_sub(2)
            .and_then(|i| self.points.get(i))
        else {
            return;
        };
        let (from, end) = (*from, self.end());
        if let Some(sweep) = self.last_bend()
            && let Some(arc) = Arc::from_sweep(from, end, *sweep)
        {
            *sweep += turn_between(end - arc.center, to - arc.center);
        }
        if let Some(end) = self.points.last_mut() {
            *end = to;
        }
    }

    /// Ends a closed course exactly on its start: a gap up to [`JOIN`] moves the end, a wider one
    /// is closed by a straight piece. A course that comes back that close unasked is closed, unless it is as
    /// stated.
    pub(crate) fn settle(&mut self) {
        let start = self.start();
        let gap = self.end().distance(start);
        let join = if self.stated.is_some() { 0.0 } else { JOIN };
        // What is hardly longer than the gap is no loop.
        let round = || self.points.iter().any(|p| p.distance(start) > 4.0 * gap);
        if self.points.len() > 2 && gap <= join && round() {
            self.closed = true;
            self.end_at(start);
        } else if self.closed && self.points.len() > 1 {
            self.points.push(start);
        }
    }

    /// The same course travelled the other way.
    pub(crate) fn reversed(mut self) -> Self {
        let pieces = self.points.len().saturating_sub(1);
        self.points.reverse();
        self.bends.reverse();
        for (piece, sweep) in &mut self.bends {
            *piece = pieces.saturating_sub(*piece + 1);
            *sweep = -*sweep;
        }
        self
    }

    /// Goes on with another course, whose start lies near the end of this one: whichever of the two pieces
    /// is straight gives way.
    pub(crate) fn append(&mut self, next: &Self) {
        // What was filled was a piece of it.
        self.inside = Inside::Clear;
        if next.bends.first().is_some_and(|(piece, _)| *piece == 0) || self.last_bend().is_none() {
            self.end_at(next.start());
        }
        let shift = self.points.len().saturating_sub(1);
        self.points.extend(next.points.iter().skip(1));
        self.bends
            .extend(next.bends.iter().map(|(i, sweep)| (i + shift, *sweep)));
    }

    /// The pieces as exact edges, pieces of one circle joined.
    pub(crate) fn edges(&self) -> Vec<Edge> {
        let mut bends = self.bends.iter().peekable();
        let pairs = self.points.iter().zip(self.points.iter().skip(1));
        let edges = pairs.enumerate().map(|(i, (from, to))| {
            let line = Edge::Line(Line {
                from: *from,
                to: *to,
            });
            match bends.next_if(|(piece, _)| *piece == i) {
                Some((_, sweep)) => Arc::from_sweep(*from, *to, *sweep).map_or(line, Edge::Arc),
                None => line,
            }
        });
        match &self.stated {
            None => whole_arcs(edges.collect()),
            Some(pieces) => stated_arcs(&edges.collect::<Vec<_>>(), pieces),
        }
    }
}

/// The edges of which so many pieces each are one.
fn stated_arcs(pieces: &[Edge], counts: &[usize]) -> Vec<Edge> {
    let mut rest = pieces;
    let mut edges = Vec::with_capacity(counts.len());
    for count in counts {
        let Some((own, others)) = rest.split_at_checked(*count) else {
            break;
        };
        rest = others;
        let sweep = |e: &Edge| match e {
            Edge::Line(_) => None,
            Edge::Arc(arc) => Some(arc.sweep),
        };
        let whole = match own {
            [first, .., last] => (own.iter().map(sweep).sum::<Option<f64>>())
                .and_then(|sweep| Arc::from_sweep(first.from(), last.to(), sweep)),
            _ => None,
        };
        match whole {
            Some(arc) => edges.push(Edge::Arc(arc)),
            None => edges.extend_from_slice(own),
        }
    }
    edges
}

/// Joins neighbouring pieces of one circle, also over the closing corner.
pub(super) fn whole_arcs(edges: Vec<Edge>) -> Vec<Edge> {
    let mut joined: Vec<Edge> = Vec::with_capacity(edges.len());
    for edge in edges {
        let before = joined.last().filter(|last| last.from() != edge.to());
        match before.and_then(|last| one_arc(last, &edge)) {
            Some(arc) => {
                joined.pop();
                joined.push(Edge::Arc(arc));
            }
            None => joined.push(edge),
        }
    }
    // A whole circle is a course of its own: one that others run to and from stays in pieces.
    if let [first, .., last] = joined.as_slice()
        && last.to() == first.from()
        && (last.from() != first.to() || joined.len() == 2)
        && let Some(arc) = one_arc(last, first)
    {
        joined.pop();
        if let Some(first) = joined.first_mut() {
            *first = Edge::Arc(arc);
        }
    }
    joined
}

/// The arc that two arcs are pieces of, if they are.
fn one_arc(a: &Edge, b: &Edge) -> Option<Arc> {
    let (Edge::Arc(a), Edge::Arc(b)) = (a, b) else {
        return None;
    };
    let same = a.center.distance(b.center) <= ONE_ARC
        && (a.radius - b.radius).abs() <= ONE_ARC
        && a.sweep.signum() == b.sweep.signum()
        && a.to == b.from;
    let sweep = a.sweep + b.sweep;
    if !same {
        return None;
    }
    if a.from == b.to {
        let center = a.center.midpoint(b.center);
        let radius = 0.5 * (a.radius + b.radius);
        return Some(Arc::circle(center, radius, sweep > 0.0));
    }
    // An arc that runs over its own start is left in pieces. So is one that all but comes back to it: between ends
    // micrometres apart the turn's last digits decide where the centre lies, and the whole would lie beside its pieces.
    let whole = (sweep.abs() < TAU).then(|| Arc::from_sweep(a.from, b.to, sweep));
    whole.flatten().filter(|whole| {
        [a, b].iter().all(|piece| {
            whole.center.distance(piece.center) <= 2.0 * ONE_ARC
                && (whole.radius - piece.radius).abs() <= 2.0 * ONE_ARC
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::f64::consts::PI;

    #[test]
    fn a_circle_in_halves_is_one_circle() {
        let (a, b) = (Point::new(0.0, 0.0), Point::new(10.0, 0.0));
        let mut course = Course::at(a);
        course.arc_to(b, PI);
        course.arc_to(a, PI);
        let edges = course.edges();
        let [Edge::Arc(arc)] = edges.as_slice() else {
            panic!("{edges:?}");
        };
        assert!(arc.is_full() && (arc.radius - 5.0).abs() < 1e-12);
        assert!(arc.center.distance(Point::new(5.0, 0.0)) < 1e-12);
    }

    /// A round hole drawn with a step of 4 µm where it closes: as one arc it came out 0.09 mm beside itself.
    #[test]
    fn what_all_but_closes_stays_where_it_was_drawn() {
        let (r, gap) = (0.4, 0.004);
        let mut course = Course::at(Point::new(r, 0.0));
        course.arc_to(Point::new(-r, 0.0), PI);
        course.arc_to(Point::new(r, -gap), PI - 1.4 * gap / r);
        course.line_to(Point::new(r, 0.0));
        for edge in course.edges() {
            for i in 0..=20 {
                let off = edge.point_at(f64::from(i) / 20.0).to_vec().length() - r;
                assert!(off.abs() < 0.02, "{off}");
            }
        }
    }

    /// A hole that a line joins to the rim, there and back: its two halves are no edge that ends where it starts.
    #[test]
    fn a_circle_on_the_way_stays_in_pieces() {
        let (a, b, c) = (
            Point::new(0.0, 0.0),
            Point::new(10.0, 0.0),
            Point::new(-20.0, 0.0),
        );
        let mut course = Course::at(c);
        course.line_to(a);
        course.arc_to(b, PI);
        course.arc_to(a, PI);
        course.line_to(c);
        course.line_to(Point::new(-20.0, 9.0));
        course.line_to(c);
        let edges = course.edges();
        assert_eq!(edges.len(), 6);
        assert!(edges.iter().all(|e| e.from() != e.to()));
    }

    #[test]
    fn reversed_twice_is_the_same() {
        let mut course = Course::at(Point::new(0.0, 0.0));
        course.line_to(Point::new(5.0, 0.0));
        course.arc_to(Point::new(5.0, 5.0), 1.0);
        course.line_to(Point::new(0.0, 5.0));
        let back = course.clone().reversed();
        assert_eq!(back.bends, [(1, -1.0)]);
        assert_eq!(back.reversed(), course);
    }
}

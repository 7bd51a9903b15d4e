//! What becomes of the courses of a drawing: joined, told, and handed on as a trace.

mod told;

use super::bridges;
use super::chords::{Count, Rounded, put_back};
use super::course::{Course, Inside, JOIN, ROUNDING};
use super::doubles::{loops_once, taken_once};
use super::ellipse::place;
use super::join::{Cells, joined};
use super::layers::{Layer, Layers};
use super::left::{Kind, Left};
use crate::format::{Content, Input, Wanted};
use crate::geom::{Arc, Edge, Point};
use crate::outline::Bounds;
use crate::outline::crowd::refuse_crowds;
use crate::outline::nesting::{drawn_loops, index_of, parents, path_of_drawn};
use crate::report::{About, Doubt, Note};
use crate::{Refusal, Stroke, Trace, limits};
use kurbo::Affine;

/// Spacing, in mm, of the points that stand for a curve which a hand left.
pub(crate) const STEP: f64 = 0.5;
/// How far a curve may be off its arcs, in mm, where chords are left alone.
const CLOSE: f64 = 0.01;
/// A polyline of more straight edges than this may be a trace,
const FEW_EDGES: usize = 24;
/// if their middle length is up to this, in mm,
const SHORT_EDGE: f64 = 2.5;
/// or up to this share of its diagonal.
const SHORT_SHARE: f64 = 1.0 / 40.0;
/// Places of an arc that tell how far it reaches askew.
const MANY: usize = 128;
/// Most points that stand for one curve.
const MOST_CURVE_POINTS: f64 = 4096.0;

/// How near to what is drawn, mm, the rim of a filled area is drawn itself.
const RIM: f64 = 0.1;
/// Most filled areas that are looked at, and places of each.
const MOST_FILLS: usize = 20_000;
const MOST_OF_RIM: usize = 200;

/// Collects courses into a trace within the documented limits.
pub(crate) struct Collector {
    traced: bool,
    units_said: bool,
    chords: f64,
    pub(crate) layers: Layers,
    pub(crate) left: Left,
    exact: Vec<Course>,
    circles: Vec<(Arc, Layer)>,
    strokes: Vec<Stroke>,
    /// Filled areas by their kind, and places of their rims.
    fills: Vec<(String, Vec<Point>)>,
    /// Where filled shapes were closed.
    filled: Vec<Point>,
    points: usize,
    /// Points and arcs that stand for curves, and how many of those there may be.
    curve_points: usize,
    most_curve_points: usize,
    curves: usize,
    notes: Vec<Note>,
    pub(crate) doubts: Vec<Doubt>,
    /// The first place beyond the limit.
    pub(crate) far: Option<Point>,
}

/// The bounds of an edge under a map: exact where it leaves upright what is upright.
fn mapped_bounds(edge: &Edge, map: &Affine) -> Bounds {
    let [a, b, c, d, ..] = map.as_coeffs();
    let upright = b == 0.0 && c == 0.0 || a == 0.0 && d == 0.0;
    let n = match edge {
        Edge::Arc(_) if upright => {
            let bounds = Bounds::of_edge(edge);
            let [p, q] = [bounds.min, bounds.max].map(|p| Bounds::of_point(place(map, p)));
            return p.union(&q);
        }
        Edge::Arc(_) => MANY,
        Edge::Line(_) => 1,
    };
    let at = |i: usize| Bounds::of_point(place(map, edge.point_at(i as f64 / n as f64)));
    (1..=n).map(at).fold(at(0), |a, b| a.union(&b))
}

/// How many steps cut a length into pieces no longer than [`STEP`].
pub(crate) fn steps(length: f64) -> usize {
    libm::ceil(length / STEP).clamp(1.0, MOST_CURVE_POINTS) as usize
}

fn over(what: &'static str, limit: usize) -> Refusal {
    Refusal::File(format!("the number of {what} passes the limit of {limit}"))
}

impl Collector {
    /// Ready for a file of so many bytes. How many arcs or points stand for its curves stays within a bound
    /// of its size.
    pub(crate) fn for_file(bytes: usize, wanted: &Wanted) -> Self {
        Self {
            traced: wanted.traced,
            units_said: wanted.units_said,
            chords: wanted.chords,
            layers: Layers::new(&wanted.layers),
            left: Left::default(),
            exact: Vec::new(),
            circles: Vec::new(),
            strokes: Vec::new(),
            fills: Vec::new(),
            filled: Vec::new(),
            points: 0,
            curve_points: 0,
            most_curve_points: (1_000_000 + bytes / 8).min(limits::MAX_POINTS),
            curves: 0,
            notes: Vec::new(),
            doubts: Vec::new(),
            far: None,
        }
    }

    /// Makes sure that a place, in mm, is within the limit.
    pub(crate) fn within(&mut self, p: Point) -> Result<(), Refusal> {
        if limits::holds(p) {
            return Ok(());
        }
        self.far = Some(p);
        let Point { x, y } = p;
        Err(Refusal::File(format!(
            "({x}, {y}) mm is further from the origin than the limit of {} mm",
            limits::MAX_COORDINATE
        )))
    }

    /// All of the drawing is a hand's trace.
    pub(crate) fn is_traced(&self) -> bool {
        self.traced
    }

    /// How far a curve may be off its arcs, mm.
    pub(crate) fn tolerance(&self) -> f64 {
        if self.chords > 0.0 {
            self.chords
        } else {
            CLOSE
        }
    }

    /// How many more points or arcs may stand for curves.
    pub(crate) fn room(&self) -> usize {
        self.most_curve_points.saturating_sub(self.curve_points)
    }

    pub(crate) fn no_room(&self) -> Refusal {
        over("points that its curves need", self.most_curve_points)
    }

    /// Makes sure that so many more points for curves are within the limit, before they are made.
    pub(crate) fn room_for(&self, points: usize) -> Result<(), Refusal> {
        if points <= self.room() {
            return Ok(());
        }
        Err(self.no_room())
    }

    /// A curve became so many arcs.
    pub(crate) fn curve_became(&mut self, arcs: usize) {
        self.curves += 1;
        self.curve_points += arcs;
    }

    /// How much has been taken so far.
    pub(crate) fn mark_here(&self) -> [usize; 3] {
        [self.exact.len(), self.circles.len(), self.strokes.len()]
    }

    /// How far reaches what was taken since, under a map.
    pub(crate) fn bounds_since(
        &self,
        [exact, circles, strokes]: [usize; 3],
        map: &Affine,
    ) -> Option<Bounds> {
        let courses = self.exact.iter().skip(exact).flat_map(Course::edges);
        let circles = self.circles.iter().skip(circles).map(|c| Edge::Arc(c.0));
        let strokes = self.strokes.iter().skip(strokes).flat_map(|s| &s.points);
        let edges = courses.chain(circles).map(|e| mapped_bounds(&e, map));
        let points = strokes.map(|p| Bounds::of_point(place(map, *p)));
        edges.chain(points).reduce(|a, b| a.union(&b))
    }

    pub(crate) fn note(&mut self, text: impl Into<String>) {
        self.notes.push(Note::new(text));
    }

    pub(crate) fn doubt(&mut self, about: About, text: impl Into<String>) {
        self.doubts.push(Doubt::new(about, text));
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
        self.close_filled(&mut course);
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
        if course.traced && course.bends.is_empty() {
            return self.stroke(course.points);
        }
        self.count(course.points.len())?;
        if self.exact.len() >= limits::MAX_EDGES {
            return Err(over("edges", limits::MAX_EDGES));
        }
        self.exact.push(course);
        Ok(())
    }

    /// Of what is filled and has no line the eye sees the area alone, which a straight line closes (SVG 2,
    /// 13.4). What encloses nothing shows nothing, and can have been meant only for a line.
    fn close_filled(&mut self, course: &mut Course) {
        let filled = course.inside == Inside::Filled;
        let open = !course.closed && course.start().distance(course.end()) > JOIN;
        if filled && open && !course.traced && !self.traced && bridges::encloses(&course.edges()) {
            course.closed = true;
            self.filled.push(course.start());
        }
    }

    /// Where closed courses taken since run the way round of what they lie in: a fill by winding numbers leaves no
    /// hole there.
    pub(crate) fn wound_alike(&self, since: [usize; 3]) -> Vec<Point> {
        let closed = self.exact.iter().skip(since[0]).filter(|c| c.is_closed());
        let chains: Vec<Vec<Edge>> = closed.map(Course::edges).collect();
        // What is too crowded to be asked is refused in the end.
        if chains.len() < 2 || refuse_crowds(chains.iter().map(Vec::as_slice)).is_err() {
            return Vec::new();
        }
        let loops = drawn_loops(&chains);
        let turn = |i: usize| match loops.get(i) {
            Some(l) if l.path.area() < 0.0 => -1,
            _ => 1,
        };
        let around = parents(&loops).into_iter().map(Option::unwrap_or_default);
        let alike = around.enumerate().filter(|(i, around)| {
            let outside: i64 = around.iter().map(|k| turn(*k)).sum();
            outside != 0 && outside + turn(*i) != 0
        });
        let start = |i: usize| loops.get(i)?.path.edges().first().map(Edge::from);
        alike.filter_map(|(i, _)| start(i)).collect()
    }

    /// Takes a whole circle.
    pub(crate) fn circle(&mut self, arc: Arc, layer: Layer) -> Result<(), Refusal> {
        if self.circles.len() >= limits::MAX_EDGES {
            return Err(over("edges", limits::MAX_EDGES));
        }
        self.circles.push((arc, layer));
        Ok(())
    }

    /// Takes note of a filled area, with places of its rim.
    pub(crate) fn fill(&mut self, kind: &str, rim: impl Iterator<Item = Point>) {
        if self.fills.len() < MOST_FILLS {
            let rim = rim.take(MOST_OF_RIM).collect();
            self.fills.push((kind.to_owned(), rim));
        } else {
            self.left.add(Kind::Lost, kind);
        }
    }

    /// Filled areas whose rims are drawn as well are left aside; of any other an outline is lost.
    fn sort_fills(&mut self, drawn: &[Vec<Edge>]) {
        let fills = core::mem::take(&mut self.fills);
        let edges: Vec<&Edge> = drawn.iter().flatten().collect();
        let index = index_of(edges.iter().map(|e| Bounds::of_edge(e)));
        let near = RIM + self.tolerance();
        let is_drawn = |p: &Point| {
            let found = index
                .as_ref()
                .map(|i| i.query(p.x - near, p.y - near, p.x + near, p.y + near));
            let mut found = found.into_iter().flatten().filter_map(|k| edges.get(k));
            found.any(|e| e.distance(*p) <= near)
        };
        for (kind, rim) in fills {
            if self.traced || (!rim.is_empty() && rim.iter().all(is_drawn)) {
                self.left.add(Kind::Aside, &kind);
            } else {
                self.left
                    .add(Kind::Lost, &format!("{kind} whose rim is not drawn"));
            }
        }
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
        match points.iter().find(|p| !limits::holds(**p)) {
            None => Ok(points),
            Some(p) => Err(beyond(*p)),
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

    /// The input that a file came to, or a refusal where nothing came together.
    pub(crate) fn finish(mut self) -> Result<Input, Refusal> {
        self.layers.check()?;
        let circles = core::mem::take(&mut self.circles);
        let (circles, again) = once(circles.into_iter().map(|c| c.0));
        let (runs, twice) = taken_once(core::mem::take(&mut self.exact));
        let joined = joined(runs);
        let mut drawn: Vec<Vec<Edge>> = circles.into_iter().map(|c| vec![Edge::Arc(c)]).collect();
        let mut put = Count::default();
        let (mut like_traces, mut open, mut lined) = (Vec::new(), Vec::new(), Vec::new());
        let mut to_holes = Vec::new();
        let mut edges = 0;
        for course in joined.courses {
            if self.traced && course.bends.is_empty() && course.stated.is_none() {
                self.points -= course.points.len().min(self.points);
                self.stroke(course.points)?;
                continue;
            }
            let like_trace = is_like_trace(&course);
            let start = course.start();
            let tolerance = if course.traced { 0.0 } else { self.chords };
            let (rounded, count) = put_back(course, tolerance);
            if like_trace.is_some_and(|edges| 2 * count.chords < edges) {
                like_traces.push(start);
            }
            put.chords += count.chords;
            put.arcs += count.arcs;
            let chains = match rounded {
                Rounded::Circle(arc) => vec![vec![Edge::Arc(arc)]],
                Rounded::Course(course) if course.stated.is_some() => vec![course.edges()],
                Rounded::Course(course) => {
                    // What bounds nothing is no loop, whether or not it comes round.
                    if path_of_drawn(&course.edges()).is_none_or(|p| !p.is_closed()) {
                        if course.inside == Inside::Lined && bridges::encloses(&course.edges()) {
                            lined.push(course.start());
                        }
                        open.push((course.start(), course.end(), size(&course)));
                    }
                    let (chains, found) = bridges::apart(course.edges());
                    to_holes.extend(found);
                    chains
                }
            };
            edges += chains.iter().map(Vec::len).sum::<usize>();
            if edges > limits::MAX_EDGES {
                return Err(over("edges", limits::MAX_EDGES));
            }
            drawn.extend(chains);
        }
        if let Some(p) = drawn
            .iter()
            .flatten()
            .find_map(|e| Bounds::of_edge(e).beyond_limits())
        {
            return Err(beyond(p));
        }
        refuse_crowds(drawn.iter().map(Vec::as_slice))?;
        let again = again + loops_once(&mut drawn);
        self.sort_fills(&drawn);
        self.tell_size(&drawn);
        self.tell(&put, again + twice, (&joined.branches, &joined.stars));
        self.tell_open(&open, &drawn);
        self.tell_filled(&lined);
        self.doubts.extend(bridges::doubts(&to_holes));
        self.tell_like_traces(&like_traces);
        if self.strokes.is_empty() && drawn.is_empty() {
            return Err(self.nothing());
        }
        let trace = Trace {
            strokes: self.strokes,
            drawn,
        };
        Ok(Input {
            notes: self.notes,
            doubts: self.doubts,
            ..Input::of(Content::Trace(trace))
        })
    }
}

/// What is no further from the origin than the limit need not bulge no further.
fn beyond(p: Point) -> Refusal {
    Refusal::File(format!(
        "a curve comes by ({}, {}), further from the origin than the limit of {} mm",
        p.x,
        p.y,
        limits::MAX_COORDINATE
    ))
}

/// The circles of which none is another, and how many went.
fn once(circles: impl Iterator<Item = Arc>) -> (Vec<Arc>, usize) {
    let mut cells: Cells<Arc> = Cells::new(2.0 * ROUNDING);
    let (mut kept, mut again) = (Vec::new(), 0);
    for arc in circles {
        let same = |other: &Arc| {
            let off = (other.radius - arc.radius).abs();
            off.max(other.center.distance(arc.center)) <= ROUNDING
        };
        // Circles about one centre differ in their rightmost place.
        let right = Point::new(arc.center.x + arc.radius, arc.center.y);
        if cells.around(right).any(same) {
            again += 1;
        } else {
            cells.put(right, arc);
            kept.push(arc);
        }
    }
    (kept, again)
}

fn size(course: &Course) -> f64 {
    let bounds = Bounds::of_points(course.points.iter().copied());
    bounds.map_or(0.0, |b| b.diagonal())
}

/// How many edges a polyline has that looks like what a hand or a scanner left: many short ones.
fn is_like_trace(course: &Course) -> Option<usize> {
    let pieces = course.points.len().saturating_sub(1);
    if course.stated.is_some() || pieces <= FEW_EDGES || !course.bends.is_empty() {
        return None;
    }
    let pairs = course.points.iter().zip(course.points.iter().skip(1));
    let mut lengths: Vec<f64> = pairs.map(|(p, q)| p.distance(*q)).collect();
    let middle = lengths.len() / 2;
    let (_, median, _) = lengths.select_nth_unstable_by(middle, f64::total_cmp);
    (*median <= SHORT_EDGE || *median <= SHORT_SHARE * size(course)).then_some(pieces)
}

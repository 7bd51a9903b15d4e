//! One layout: pieces set down one after the other, each as low and then as far left as it goes.
//!
//! For every shape that is still to come, the list of *stands* is kept: places of its lower left
//! corner where it touches on two sides and overlaps nothing. Setting a piece down strikes the
//! stands it covers and adds those on the border of its own no-fit region.

use super::cells::Cell;
use super::shape::{Room, Shape};
use crate::geom::Sorted as _;
use crate::geom::{Point, Vec2};
use crate::outline::Bounds;

/// The no-fit region of one shape about another: overlapping convex cells, and what of their sides
/// lies on the border of the whole.
#[derive(Clone, Debug)]
struct NoFit {
    cells: Vec<Cell>,
    border: Vec<(Point, Point)>,
    extent: Option<Bounds>,
}

/// No-fit regions, made when first asked for, and where each shape can stand on the empty plate.
pub(super) struct Table<'a> {
    shapes: Vec<&'a Shape>,
    pairs: Vec<Option<NoFit>>,
    /// For each shape: the room of its lower left corner, what the plate blocks, the first stands.
    rooms: Vec<ShapeRoom>,
    /// Crossings tried so far: the measure of work done.
    pub(super) work: u64,
}

#[derive(Clone, Debug)]
struct ShapeRoom {
    min: Point,
    max: Point,
    blocked: NoFit,
    stands: Vec<Point>,
}

/// Which way pieces are pushed, and what is held low.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Push {
    /// Lowest, then leftmost.
    Down,
    /// Leftmost, then lowest.
    Left,
    /// With its upper edge lowest, then leftmost.
    TopDown,
}

/// A piece set down: which shape and where its lower left corner stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Set {
    pub(super) shape: usize,
    pub(super) at: Point,
}

impl NoFit {
    fn new(cells: Vec<Cell>) -> Self {
        let extent = cells.iter().map(|c| c.extent).reduce(|a, b| a.union(&b));
        let border = border(&cells);
        Self {
            cells,
            border,
            extent,
        }
    }

    fn holds(&self, p: Point) -> bool {
        self.extent
            .is_some_and(|e| p.x > e.min.x && p.x < e.max.x && p.y > e.min.y && p.y < e.max.y)
            && self.cells.iter().any(|c| c.holds(p))
    }
}

/// The cells' sides less what lies inside another cell.
fn border(cells: &[Cell]) -> Vec<(Point, Point)> {
    let mut all = Vec::new();
    for (i, cell) in cells.iter().enumerate() {
        let next = cell.corners.iter().cycle().skip(1);
        for (&from, &to) in cell.corners.iter().zip(next) {
            let mut covered: Vec<(f64, f64)> = cells
                .iter()
                .enumerate()
                .filter(|(j, _)| *j != i)
                .filter_map(|(_, other)| other.covers(from, to))
                .collect();
            covered.order_by(|a, b| a.0.total_cmp(&b.0));
            let mut free = 0.0;
            for (enter, leave) in covered {
                if enter > free {
                    all.push((from.lerp(to, free), from.lerp(to, enter)));
                }
                free = leave.max(free);
            }
            if free < 1.0 {
                all.push((from.lerp(to, free), to));
            }
        }
    }
    all
}

fn crossing(a: (Point, Point), b: (Point, Point)) -> Option<Point> {
    let apart = a.0.x.min(a.1.x) > b.0.x.max(b.1.x)
        || b.0.x.min(b.1.x) > a.0.x.max(a.1.x)
        || a.0.y.min(a.1.y) > b.0.y.max(b.1.y)
        || b.0.y.min(b.1.y) > a.0.y.max(a.1.y);
    if apart {
        return None;
    }
    let (u, v, w) = (a.1 - a.0, b.1 - b.0, b.0 - a.0);
    let span = u.cross(v);
    if span.abs() <= 1e-12 * u.length() * v.length() {
        return None;
    }
    let (s, t) = (w.cross(v) / span, w.cross(u) / span);
    let on = -1e-9..=1.0 + 1e-9;
    (on.contains(&s) && on.contains(&t)).then(|| a.0.lerp(a.1, s))
}

impl ShapeRoom {
    fn holds(&self, p: Point) -> bool {
        const SLACK: f64 = 1e-7;
        p.x >= self.min.x - SLACK
            && p.x <= self.max.x + SLACK
            && p.y >= self.min.y - SLACK
            && p.y <= self.max.y + SLACK
    }

    fn sides(&self) -> [(Point, Point); 4] {
        let (a, c) = (self.min, self.max);
        let (b, d) = (Point::new(c.x, a.y), Point::new(a.x, c.y));
        [(a, b), (b, c), (c, d), (d, a)]
    }

    fn is_empty(&self) -> bool {
        self.max.x < self.min.x - 1e-7 || self.max.y < self.min.y - 1e-7
    }
}

impl<'a> Table<'a> {
    pub(super) fn new(shapes: Vec<&'a Shape>, room: &Room) -> Self {
        let rooms = shapes.iter().map(|s| shape_room(s, room)).collect();
        let pairs = vec![None; shapes.len() * shapes.len()];
        Self {
            shapes,
            pairs,
            rooms,
            work: 0,
        }
    }

    /// The shape fits on the empty plate at all.
    pub(super) fn can_stand(&self, shape: usize) -> bool {
        self.rooms.get(shape).is_some_and(|r| !r.stands.is_empty())
    }

    fn make_pair(&mut self, fixed: usize, moving: usize) -> usize {
        let slot = fixed * self.shapes.len() + moving;
        if self.pairs.get(slot).is_some_and(Option::is_none) {
            let no_fit = match (self.shapes.get(fixed), self.shapes.get(moving)) {
                (Some(f), Some(m)) => no_fit(&f.cells, &m.cells),
                _ => NoFit::new(Vec::new()),
            };
            if let Some(place) = self.pairs.get_mut(slot) {
                *place = Some(no_fit);
            }
        }
        slot
    }
}

fn no_fit(fixed: &[Cell], moving: &[Cell]) -> NoFit {
    let cells = fixed
        .iter()
        .flat_map(|f| moving.iter().filter_map(|m| m.no_fit(f)))
        .collect();
    NoFit::new(cells)
}

fn shape_room(shape: &Shape, room: &Room) -> ShapeRoom {
    let blocked = no_fit(&room.blocked, &shape.cells);
    let mut own = ShapeRoom {
        min: room.extent.min,
        max: room.extent.max + Vec2::new(-shape.width, -shape.height),
        blocked,
        stands: Vec::new(),
    };
    // A piece that fills the stock to a hair still fits.
    own.max = Point::new(
        own.max.x.max(own.min.x - 1e-6),
        own.max.y.max(own.min.y - 1e-6),
    );
    if own.max.x < own.min.x && room.extent.width() - shape.width > -1e-7 {
        own.max.x = own.min.x;
    }
    if own.max.y < own.min.y && room.extent.height() - shape.height > -1e-7 {
        own.max.y = own.min.y;
    }
    if own.is_empty() {
        return own;
    }
    let mut stands: Vec<Point> = own.sides().iter().map(|s| s.0).collect();
    let sides: Vec<(Point, Point)> = own
        .sides()
        .into_iter()
        .chain(own.blocked.border.iter().copied())
        .collect();
    for (i, &a) in sides.iter().enumerate() {
        stands.push(a.0);
        stands.extend(sides.iter().take(i).filter_map(|&b| crossing(a, b)));
    }
    stands.retain(|&p| own.holds(p) && !own.blocked.holds(p));
    own.stands = stands;
    own
}

/// A layout being made.
pub(super) struct Plate<'t, 'a> {
    table: &'t mut Table<'a>,
    pub(super) set: Vec<Set>,
    /// Stands, shape by shape; emptied when a shape is no longer wanted.
    stands: Vec<Vec<Point>>,
}

impl<'t, 'a> Plate<'t, 'a> {
    pub(super) fn new(table: &'t mut Table<'a>, wanted: &[bool]) -> Self {
        let stands = table
            .rooms
            .iter()
            .zip(wanted)
            .map(|(r, w)| if *w { r.stands.clone() } else { Vec::new() })
            .collect();
        Self {
            table,
            set: Vec::new(),
            stands,
        }
    }

    /// The best stand of any of these shapes.
    pub(super) fn find(&self, shapes: &[usize], push: Push) -> Option<Set> {
        let key = |s: &Set| {
            let height = self.table.shapes.get(s.shape).map_or(0.0, |s| s.height);
            match push {
                Push::Down => (s.at.y, s.at.x),
                Push::Left => (s.at.x, s.at.y),
                Push::TopDown => (s.at.y + height, s.at.x),
            }
        };
        let less = |a: &(f64, f64), b: &(f64, f64)| {
            a.0 < b.0 - 1e-7 || (a.0 <= b.0 + 1e-7 && a.1 < b.1 - 1e-7)
        };
        let mut best: Option<(Set, (f64, f64))> = None;
        for &shape in shapes {
            for &at in self.stands.get(shape).into_iter().flatten() {
                let set = Set { shape, at };
                let k = key(&set);
                if best.as_ref().is_none_or(|(_, b)| less(&k, b)) {
                    best = Some((set, k));
                }
            }
        }
        best.map(|(set, _)| set)
    }

    /// Shapes that are no longer wanted need no stands.
    pub(super) fn forget(&mut self, shape: usize) {
        if let Some(stands) = self.stands.get_mut(shape) {
            *stands = Vec::new();
        }
    }

    /// Sets a piece down and brings all stands up to date.
    pub(super) fn put(&mut self, new: Set) {
        for moving in 0..self.stands.len() {
            if self.stands.get(moving).is_some_and(|s| !s.is_empty()) {
                self.update(moving, new);
            }
        }
        self.set.push(new);
    }

    fn update(&mut self, moving: usize, new: Set) {
        let slot = self.table.make_pair(new.shape, moving);
        let slots: Vec<(usize, Vec2)> = {
            let set = self.set.clone();
            set.iter()
                .map(|s| (self.table.make_pair(s.shape, moving), s.at.to_vec()))
                .collect()
        };
        let Some(no_fit) = self.table.pairs.get(slot).and_then(Option::as_ref) else {
            return;
        };
        let (Some(room), Some(stands)) =
            (self.table.rooms.get(moving), self.stands.get_mut(moving))
        else {
            return;
        };
        let by = new.at.to_vec();
        stands.retain(|&p| !no_fit.holds(p - by));
        let Some(extent) = no_fit.extent else { return };
        // Only what overlaps the new region matters to the stands on its border.
        let near: Vec<(&NoFit, Vec2)> = slots
            .iter()
            .filter_map(|&(s, at)| Some((self.table.pairs.get(s)?.as_ref()?, at)))
            .filter(|(other, at)| {
                other.extent.is_some_and(|o| {
                    o.min.x + at.x <= extent.max.x + by.x
                        && o.max.x + at.x >= extent.min.x + by.x
                        && o.min.y + at.y <= extent.max.y + by.y
                        && o.max.y + at.y >= extent.min.y + by.y
                })
            })
            .collect();
        let still = (&room.blocked, Vec2::default());
        let sides = room.sides();
        let mut fresh: Vec<Point> = Vec::new();
        let mut work = 0;
        for &(from, to) in &no_fit.border {
            let own = (from + by, to + by);
            fresh.push(own.0);
            fresh.extend(sides.iter().filter_map(|&s| crossing(own, s)));
            for (other, at) in near.iter().copied().chain([still]) {
                work += other.border.len() as u64;
                let back = (own.0 - at, own.1 - at);
                fresh.extend(
                    other
                        .border
                        .iter()
                        .filter_map(|&s| crossing(back, s))
                        .map(|p| p + at),
                );
            }
        }
        fresh.retain(|&p| {
            room.holds(p)
                && !no_fit.holds(p - by)
                && !room.blocked.holds(p)
                && !near.iter().any(|(other, at)| other.holds(p - *at))
        });
        stands.extend(fresh);
        self.table.work += work;
    }
}

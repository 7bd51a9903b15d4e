//! What could be asked about: the joints, straight edges, sizes and middles of bodies, and which of them in pairs.
//!
//! Within a loop every edge is asked about near ones, and the longest about one another; of many edges all pairs
//! would cost their fourth power. Across loops the longest straight edges and the patterns of holes have a
//! direction, circles and loops of the same edges in the same order (the same opening twice) have sizes, and
//! everything that is alike about a place has a middle.
#![allow(
    clippy::indexing_slicing,
    reason = "edges are counted by the figure that is looked at, pairs by the lists they point into"
)]

use super::choose::Meant;
use super::constraint::{Condition, Member};
use super::figure::Figure;
use super::quantity::{Axis, Place, Quantity, Side};
use crate::fit::partition::Kind;
use crate::geom::{Point, Sorted as _, Vec2};
use crate::outline::{Bounds, Circle, Path};
use crate::relate::across::{Form, Joint as Bodies};
use core::f64::consts::{PI, TAU};

/// A relation that could hold.
#[derive(Clone, Debug)]
pub struct Proposal {
    /// What it says.
    pub condition: Condition,
    /// How seldom it is meant, nats.
    pub prior: f64,
    /// How far each constraint's number could have been from its value.
    pub range: f64,
    pub(crate) meant: Option<Meant>,
}

impl Proposal {
    /// A condition as its row has it; its numbers could have been so far from their values.
    pub(crate) fn of(condition: Condition, range: f64) -> Self {
        let row = condition.kind.row();
        Self {
            condition,
            prior: row.prior,
            range,
            meant: row.meant,
        }
    }
}

/// What has a direction: a straight edge, or a pattern of holes.
pub(crate) struct Straight {
    pub of: Vec<Member>,
    pub direction: Quantity,
    /// Where that stands, radians.
    pub angle: f64,
    /// Of an edge.
    pub ends: Option<[Point; 2]>,
}

impl Straight {
    /// The edge, if it is one.
    pub fn side(&self) -> Option<Side> {
        match self.direction {
            Quantity::Direction(side) => Some(side),
            _ => None,
        }
    }
}

/// What has a length or a radius.
pub(crate) struct Sized {
    pub of: Side,
    pub quantity: Quantity,
    pub value: f64,
}

/// Two edges that meet.
pub(crate) struct Joint {
    /// The edge before it.
    pub after: Side,
    pub turn: f64,
    /// One of them at least is an arc.
    pub curved: bool,
}

/// The middle of a circle, an arc, a pattern of holes, or a loop that is alike about it.
pub(crate) struct Middle {
    pub of: Vec<Member>,
    pub x: Vec<(f64, Quantity)>,
    pub y: Vec<(f64, Quantity)>,
    pub at: Point,
    /// How far it reaches about it, mm.
    pub radius: f64,
}

impl Middle {
    /// The mean of some places of one thing or several.
    fn mean(of: Vec<Member>, places: &[(Place, Point)], radius: f64) -> Self {
        let share = 1.0 / places.len() as f64;
        let sum = |axis| {
            let term = |p: &(Place, Point)| (share, Quantity::At(p.0, axis));
            places.iter().map(term).collect()
        };
        let mean = |of: fn(&Point) -> f64| places.iter().map(|p| share * of(&p.1)).sum();
        Self {
            of,
            x: sum(Axis::X),
            y: sum(Axis::Y),
            at: Point::new(mean(|p| p.x), mean(|p| p.y)),
            radius,
        }
    }
}

/// All that could be asked about, and in which pairs.
#[derive(Default)]
pub(crate) struct Ask<'a> {
    /// How far things could be apart, mm.
    pub size: f64,
    pub joints: Vec<Joint>,
    pub straights: Vec<Straight>,
    pub straight_pairs: Vec<(usize, usize)>,
    pub sizes: Vec<Sized>,
    pub size_pairs: Vec<(usize, usize)>,
    pub middles: Vec<Middle>,
    pub middle_pairs: Vec<(usize, usize)>,
    /// Of several bodies.
    pub across: bool,
    /// Whole loops.
    pub loops: Vec<(usize, &'a Figure)>,
}

/// Joints that turn less than this may be tangent ones, radians.
const RUNS_ON: f64 = 0.6;
/// How many of the longest edges are asked about one another, and how near to one another the rest.
const LONGEST: usize = 16;
const NEAR: usize = 3;
/// Of more edges than this only neighbours are asked besides.
const MANY: usize = 24;
const NEAR_OF_MANY: usize = 1;

impl<'a> Ask<'a> {
    /// Of a single chain; `size` is the drawing's diagonal, mm.
    pub fn within(f: &'a Figure, size: f64) -> Self {
        let mut out = Self {
            size,
            loops: vec![(0, f)],
            ..Self::default()
        };
        let m = f.len();
        for e in f.joints() {
            let next = (e + 1) % m;
            out.joints.push(Joint {
                after: Side::new(0, e),
                turn: f.turn_after(e),
                curved: f.kinds[e] == Kind::Arc || f.kinds[next] == Kind::Arc,
            });
        }
        // Of each edge, where it stands among the straights or the middles.
        let mut place = Vec::with_capacity(m);
        for e in 0..m {
            let side = Side::new(0, e);
            place.push(match (f.kinds[e], middle_of_arc(f, side)) {
                (Kind::Line, _) => {
                    out.straights.push(straight(f, side));
                    out.straights.len() - 1
                }
                (Kind::Arc, Some(middle)) => {
                    out.middles.push(middle);
                    out.middles.len() - 1
                }
                // As good as straight: its centre is nowhere.
                (Kind::Arc, None) => usize::MAX,
            });
            out.sizes.push(sized(f, side));
        }
        let asked = pairs(f);
        let both = |e: usize, g: usize, kind| f.kinds[e] == kind && f.kinds[g] == kind;
        for e in 0..m {
            for g in (e + 1..m).filter(|&g| asked(e, g)) {
                if both(e, g, Kind::Line) {
                    out.straight_pairs.push((place[e], place[g]));
                    out.size_pairs.push((e, g));
                } else if both(e, g, Kind::Arc) && !is_one_arc(f, e, g) {
                    out.middle_pairs.push((place[e], place[g]));
                    out.size_pairs.push((e, g));
                }
            }
        }
        out
    }

    /// Across several bodies; `patterns` are holes whose places form one, in its order.
    pub fn across(joint: &'a Bodies, patterns: &[HolePattern]) -> Self {
        let mut out = Self {
            size: joint.extent(),
            across: true,
            ..Self::default()
        };
        let boxes: Vec<Option<Bounds>> = joint.bodies.iter().map(|b| bounds(&b.shape)).collect();
        let apart = |a: usize, b: usize| a != b && !is_same_place(boxes[a], boxes[b]);
        out.list_straights(joint, patterns);
        out.list_sizes(joint, &apart);
        out.list_middles(joint, patterns);
        let all_apart =
            |a: &[Member], b: &[Member]| a.iter().all(|p| b.iter().all(|q| apart(p.0, q.0)));
        out.straight_pairs = paired(&out.straights, |a, b| apart(a.of[0].0, b.of[0].0));
        out.middle_pairs = paired(&out.middles, |a, b| all_apart(&a.of, &b.of));
        out
    }

    /// The listed pairs of a list.
    pub fn pairs<'b, T>(
        &self,
        list: &'b [T],
        pairs: &'b [(usize, usize)],
    ) -> impl Iterator<Item = (&'b T, &'b T)> + use<'b, T> {
        pairs
            .iter()
            .filter_map(|&(a, b)| Some((list.get(a)?, list.get(b)?)))
    }

    fn list_straights(&mut self, joint: &Bodies, patterns: &[HolePattern]) {
        let most = if joint.bodies.len() > MANY_LOOPS {
            LONGEST_OF_MANY
        } else {
            LONGEST_OF_LOOP
        };
        for (body, b) in joint.bodies.iter().enumerate() {
            if let Form::Chain(f) = &b.shape {
                let lines = longest(f, most, |e| f.kinds[e] == Kind::Line);
                let lines = lines.into_iter().map(|e| straight(f, Side::new(body, e)));
                self.straights.extend(lines);
            }
        }
        for p in patterns.iter().filter(|p| p.is_straight) {
            if let [a, b, ..] = p.places.as_slice() {
                self.straights.push(Straight {
                    of: p.of.clone(),
                    direction: Quantity::Heading(a.0, b.0),
                    angle: (b.1 - a.1).angle(),
                    ends: None,
                });
            }
        }
    }

    /// Circles, and loops of the same edges in the same order: each edge with the one it is laid on.
    fn list_sizes(&mut self, joint: &Bodies, apart: &dyn Fn(usize, usize) -> bool) {
        let mut first = Vec::with_capacity(joint.bodies.len());
        for (body, b) in joint.bodies.iter().enumerate() {
            first.push(self.sizes.len());
            match &b.shape {
                Form::Chain(f) => {
                    let all = (0..f.len()).map(|e| sized(f, Side::new(body, e)));
                    self.sizes.extend(all);
                }
                Form::Round { radius, .. } => {
                    let of = Side::new(body, 0);
                    self.sizes.push(Sized {
                        of,
                        quantity: Quantity::Radius(of),
                        value: *radius,
                    });
                }
                Form::Spot(_) => {}
            }
        }
        let bodies = &joint.bodies;
        for a in 0..bodies.len() {
            for b in (a + 1..bodies.len()).filter(|b| apart(a, *b)) {
                match (&bodies[a].shape, &bodies[b].shape) {
                    (Form::Chain(f), Form::Chain(g)) => {
                        if let Some(by) = laid_on(f, g) {
                            let n = f.len();
                            let all = (0..n).map(|e| (first[a] + e, first[b] + (e + by) % n));
                            self.size_pairs.extend(all);
                        }
                    }
                    (Form::Round { .. }, Form::Round { .. }) => {
                        self.size_pairs.push((first[a], first[b]));
                    }
                    _ => {}
                }
            }
        }
    }

    fn list_middles(&mut self, joint: &Bodies, patterns: &[HolePattern]) {
        for (body, b) in joint.bodies.iter().enumerate() {
            let side = Side::new(body, 0);
            let spot = |at, radius| {
                Middle::mean(vec![(body, Some(0))], &[(Place::Center(side), at)], radius)
            };
            match &b.shape {
                Form::Chain(f) => {
                    let arcs = (0..f.len()).filter(|&e| f.bulges[e] != 0.0);
                    let arcs = arcs.filter_map(|e| middle_of_arc(f, Side::new(body, e)));
                    self.middles.extend(arcs);
                    self.middles.extend(middle_of_loop(body, f));
                }
                Form::Round { center, radius } => self.middles.push(spot(*center, *radius)),
                Form::Spot(at) => self.middles.push(spot(*at, 0.0)),
            }
        }
        for p in patterns.iter().filter(|p| p.is_round) {
            let mut middle = Middle::mean(p.of.clone(), &p.places, 0.0);
            let reach = p.places.iter().map(|p| p.1.distance(middle.at));
            middle.radius = reach.fold(0.0, f64::max);
            self.middles.push(middle);
        }
    }
}

/// Holes or marks whose places form a pattern.
pub(crate) struct HolePattern {
    pub of: Vec<Member>,
    /// Their centres, in the pattern's order.
    pub places: Vec<(Place, Point)>,
    /// The way from the first to the second is the pattern's own direction.
    pub is_straight: bool,
    /// They lie round a middle.
    pub is_round: bool,
}

/// How many of the longest edges of a loop are asked about those of others, and of each where there are many loops.
const LONGEST_OF_LOOP: usize = 4;
const LONGEST_OF_MANY: usize = 2;
const MANY_LOOPS: usize = 8;
/// Loops whose edges differ by more than this factor are not the same opening twice.
const TWINS: f64 = 1.3;
/// A loop whose corners miss themselves by more than this part of its radius, turned, has no middle.
const LIKE_ITSELF: f64 = 0.03;
/// Loops whose boxes differ by less than this part of them lie on one another.
const SAME_PLACE: f64 = 0.1;

fn paired<T>(list: &[T], may: impl Fn(&T, &T) -> bool) -> Vec<(usize, usize)> {
    let all = (0..list.len()).flat_map(|a| (a + 1..list.len()).map(move |b| (a, b)));
    all.filter(|&(a, b)| may(&list[a], &list[b])).collect()
}

pub(crate) fn straight(f: &Figure, side: Side) -> Straight {
    Straight {
        of: vec![(side.body, Some(side.edge))],
        direction: Quantity::Direction(side),
        angle: f.start_direction(side.edge),
        ends: Some([f.corners[side.edge], f.corners[f.end_corner(side.edge)]]),
    }
}

fn sized(f: &Figure, of: Side) -> Sized {
    match f.kinds[of.edge] {
        Kind::Line => Sized {
            of,
            quantity: Quantity::Length(of),
            value: f.edge_length(of.edge),
        },
        Kind::Arc => Sized {
            of,
            quantity: Quantity::Radius(of),
            value: f.radius(of.edge),
        },
    }
}

fn middle_of_arc(f: &Figure, side: Side) -> Option<Middle> {
    let at = f.center(side.edge)?;
    let of = vec![(side.body, Some(side.edge))];
    Some(Middle::mean(
        of,
        &[(Place::Center(side), at)],
        f.radius(side.edge),
    ))
}

/// The middle of a closed loop that a half turn, or the turn of a regular figure, lays on itself.
fn middle_of_loop(body: usize, f: &Figure) -> Option<Middle> {
    let n = f.len();
    if !f.closed || n < 3 {
        return None;
    }
    let corner = |c: usize| (Place::Corner(Side::new(body, c)), f.corners[c]);
    let corners: Vec<_> = (0..n).map(corner).collect();
    let mut middle = Middle::mean(vec![(body, None)], &corners, 0.0);
    let reach = |at: Point| f.corners.iter().map(move |c| c.distance(at));
    let largest = reach(middle.at).fold(0.0, f64::max);
    middle.radius = reach(middle.at).fold(f64::INFINITY, f64::min);
    let lays_on_itself = |by: usize, angle: f64| {
        let (s, k) = libm::sincos(angle);
        (0..n).all(|c| {
            let d = f.corners[c] - middle.at;
            let turned = middle.at + Vec2::new(k * d.x - s * d.y, s * d.x + k * d.y);
            let image = (c + by) % n;
            f.kinds[c] == f.kinds[image]
                && turned.distance(f.corners[image]) < LIKE_ITSELF * largest
        })
    };
    let way = Path::Chain(f.to_chain()).area().signum();
    let half = n.is_multiple_of(2) && lays_on_itself(n / 2, PI);
    let regular = || lays_on_itself(1, way * TAU / n as f64);
    (half || regular()).then_some(middle)
}

/// By how many edges one loop is turned on another of the same edges in the same order.
fn laid_on(f: &Figure, g: &Figure) -> Option<usize> {
    let n = f.len();
    if n != g.len() || f.closed != g.closed {
        return None;
    }
    let unlike = |by: usize| -> f64 {
        let of_edge = |e: usize| {
            let h = (e + by) % n;
            if f.kinds[e] == g.kinds[h] {
                libm::log(f.edge_length(e) / g.edge_length(h)).abs()
            } else {
                f64::INFINITY
            }
        };
        (0..n).map(of_edge).fold(0.0, f64::max)
    };
    let turns = if f.closed { n } else { 1 };
    let all = (0..turns).map(|by| (unlike(by), by));
    let (apart, by) = all.min_by(|x, y| x.0.total_cmp(&y.0))?;
    (apart < libm::log(TWINS)).then_some(by)
}

/// Two arcs that run into one another the same way: with one radius they would be one, met anywhere.
fn is_one_arc(f: &Figure, e: usize, g: usize) -> bool {
    let m = f.len();
    let runs_on = |a: usize, b: usize| {
        let joined = (a + 1) % m == b && f.joins(a);
        joined && libm::fabs(f.turn_after(a)) < RUNS_ON
    };
    f.bulges[e] * f.bulges[g] > 0.0 && (runs_on(e, g) || runs_on(g, e))
}

/// Which edges are asked about one another: the longest, and near ones.
pub fn pairs(f: &Figure) -> impl Fn(usize, usize) -> bool + use<> {
    let m = f.len();
    let mut long = vec![false; m];
    for e in longest(f, LONGEST, |_| true) {
        long[e] = true;
    }
    let near = if m > MANY { NEAR_OF_MANY } else { NEAR };
    move |e, g| e.abs_diff(g).min(m - e.abs_diff(g)) <= near || (long[e] && long[g])
}

/// The longest edges of a figure that may be, `most` of them.
pub(crate) fn longest(f: &Figure, most: usize, may: impl Fn(usize) -> bool) -> Vec<usize> {
    let mut order: Vec<usize> = (0..f.len()).filter(|e| may(*e)).collect();
    order.order_by(|a, b| f.edge_length(*b).total_cmp(&f.edge_length(*a)));
    order.truncate(most);
    order
}

/// The box that a body takes up; none for a mark.
fn bounds(shape: &Form) -> Option<Bounds> {
    match shape {
        Form::Chain(f) => Bounds::of_path(&Path::Chain(f.to_chain())),
        Form::Round { center, radius } => Bounds::of_path(&Path::Circle(Circle {
            center: *center,
            radius: *radius,
            counter_clockwise: true,
        })),
        Form::Spot(_) => None,
    }
}

/// Two loops that lie on one another: one traced twice, with which nothing is to be made the same.
fn is_same_place(a: Option<Bounds>, b: Option<Bounds>) -> bool {
    let (Some(a), Some(b)) = (a, b) else {
        return false;
    };
    let off = a.min.distance(b.min).max(a.max.distance(b.max));
    off < SAME_PLACE * a.diagonal().max(b.diagonal())
}

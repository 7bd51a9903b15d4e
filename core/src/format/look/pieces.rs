//! The pieces of a plan by kind: how many are alike, how large, with which holes.

use crate::cut::layout::Placement;
use crate::cut::tolerance::Class;
use crate::format::figures::{Said, count};
use crate::geom::Sorted as _;
use crate::geom::{Edge, Point, Vec2};
use crate::outline::nesting::{CHORD, parents};
use crate::outline::{Bounds, Loop, Outline, Path, Role};
use geo::{ConvexHull as _, LineString};

/// Pieces alike within this are of one kind, mm (and mm² per mm of edge).
const ALIKE: f64 = 0.02;
/// Sides along which the smallest rectangle about a piece is looked for.
const MOST_SIDES: usize = 40;

/// Pieces that are all alike.
pub(crate) struct Kind {
    /// A, B, C…
    pub(crate) letter: String,
    /// The smallest rectangle about one, longer side first, mm.
    pub(crate) size: (f64, f64),
    /// Diameters of its round holes, mm.
    round: Vec<f64>,
    /// Its other openings.
    others: usize,
    area: f64,
    length: f64,
    /// Where on the plate each of them has its letter.
    pub(crate) places: Vec<Point>,
}

impl Kind {
    /// One line: how many, how large, which holes.
    pub(crate) fn line(&self, said: Said, tolerance: Option<Class>) -> String {
        let (w, h) = self.size;
        let off = |mm: f64| {
            let allowed = tolerance.and_then(|class| class.linear(mm));
            allowed.map_or(String::new(), |a| format!(" ± {}", said.off(a)))
        };
        let size = match (w - h).abs() < ALIKE && self.is_disc() {
            true => format!("⌀ {}{} {}", said.bare(w), off(w), said.0.name()),
            false => format!(
                "{}{} × {}{} {}",
                said.bare(w),
                off(w),
                said.bare(h),
                off(h),
                said.0.name()
            ),
        };
        let mut holes: Vec<String> = Vec::new();
        let mut left = self.round.as_slice();
        while let [first, ..] = left {
            let n = left
                .iter()
                .take_while(|d| (*d - first).abs() < ALIKE)
                .count();
            holes.push(format!(
                "{} ⌀ {}{}",
                count(n, "hole"),
                said.bare(*first),
                off(*first)
            ));
            left = left.get(n.max(1)..).unwrap_or_default();
        }
        if self.others > 0 {
            holes.push(count(self.others, "opening"));
        }
        match holes.is_empty() {
            true => size,
            false => format!("{size}, {}", holes.join(", ")),
        }
    }

    /// As round as a disc: no other figure has so short an edge for its width.
    fn is_disc(&self) -> bool {
        (self.length - core::f64::consts::PI * self.size.0).abs() < ALIKE
    }

    fn is_like(&self, other: &Self) -> bool {
        let near = |a: f64, b: f64| (a - b).abs() < ALIKE;
        let same_holes = self.round.len() == other.round.len()
            && self
                .round
                .iter()
                .zip(&other.round)
                .all(|(a, b)| near(*a, *b));
        near(self.size.0, other.size.0)
            && near(self.size.1, other.size.1)
            && near(self.length, other.length)
            && (self.area - other.area).abs() < ALIKE * self.length.max(1.0)
            && self.others == other.others
            && same_holes
    }
}

/// All that is cut; marks left alone do not count.
pub(crate) fn extent(outline: &Outline) -> Option<Bounds> {
    let loops = outline
        .loops
        .iter()
        .filter_map(|l| Bounds::of_path(&l.path));
    loops.reduce(|a, b| a.union(&b))
}

/// Each part with the holes that lie directly in it.
pub(crate) fn parts(outline: &Outline) -> Vec<(&Loop, Vec<&Loop>)> {
    let around = parents(&outline.loops);
    let depth = |i: usize| around.get(i).and_then(Option::as_ref).map_or(0, Vec::len);
    let innermost = |i: usize| {
        let all = around.get(i).and_then(Option::as_ref)?;
        all.iter().copied().max_by_key(|&j| depth(j))
    };
    let loops = outline.loops.iter().enumerate();
    loops
        .clone()
        .filter(|(_, l)| l.role == Role::Part)
        .map(|(i, l)| {
            let own = loops
                .clone()
                .filter(|(j, h)| h.role == Role::Hole && innermost(*j) == Some(i));
            (l, own.map(|(_, h)| h).collect())
        })
        .collect()
}

/// All kinds of pieces, in the order in which the outline lists them.
pub(crate) fn kinds(outline: &Outline) -> Vec<Kind> {
    let mut all: Vec<Kind> = Vec::new();
    for (part, holes) in parts(outline) {
        let mut one = kind_of(part, &holes);
        match all.iter_mut().find(|k| k.is_like(&one)) {
            Some(kind) => kind.places.append(&mut one.places),
            None => {
                one.letter = letter(all.len());
                all.push(one);
            }
        }
    }
    all
}

fn kind_of(part: &Loop, holes: &[&Loop]) -> Kind {
    let mut round = Vec::new();
    for hole in holes {
        if let Path::Circle(c) = &hole.path {
            round.push(2.0 * c.radius);
        }
    }
    round.order_by(f64::total_cmp);
    Kind {
        letter: String::new(),
        size: size(part),
        others: holes.len() - round.len(),
        round,
        area: part.path.area().abs(),
        length: part.path.length(),
        places: vec![middle(part, holes)],
    }
}

/// A, B … Z, then A2, B2 …
fn letter(i: usize) -> String {
    let letter = char::from(b'A' + (i % 26) as u8);
    match i / 26 {
        0 => letter.to_string(),
        more => format!("{letter}{}", more + 1),
    }
}

/// Sides of the smallest rectangle about a loop, the longer first: one side of it lies along an edge of
/// the loop's convex hull (Freeman and Shapira 1975), of which the longest are tried.
fn size(part: &Loop) -> (f64, f64) {
    let points = part.path.flatten(CHORD);
    let ring: LineString = points.iter().map(|p| (p.x, p.y)).collect();
    let hull = ring.convex_hull();
    let mut sides: Vec<(f64, Vec2)> = hull
        .exterior()
        .lines()
        .map(|l| Vec2::new(l.dx(), l.dy()))
        .filter(|way| way.length() > 0.0)
        .map(|way| (way.length(), way))
        .collect();
    sides.order_by(|a, b| b.0.total_cmp(&a.0));
    let alone = Outline {
        loops: vec![part.clone()],
        marks: Vec::new(),
    };
    let along = |way: Vec2| {
        let turned = Placement {
            piece: 0,
            copy: 0,
            turn: -way.angle(),
            shift: Vec2::new(0.0, 0.0),
        };
        let b = Bounds::of_outline(&turned.apply(&alone))?;
        Some((b.width(), b.height()))
    };
    let ways = sides.iter().take(MOST_SIDES).map(|s| s.1);
    let all = core::iter::once(Vec2::new(1.0, 0.0)).chain(ways);
    let least = all
        .filter_map(along)
        .map(|(w, h)| (w.max(h), w.min(h)))
        .reduce(|a, b| {
            // Of two as small (about an acute triangle all are) the narrower: it fits more stock.
            let (p, q) = (a.0 * a.1, b.0 * b.1);
            let as_small = (p - q).abs() <= 1e-9 * p;
            if (as_small && a.1 <= b.1) || (!as_small && p < q) {
                a
            } else {
                b
            }
        });
    least.unwrap_or_default()
}

/// A place on the metal of a part, well away from its edges: the best of a coarse grid.
fn middle(part: &Loop, holes: &[&Loop]) -> Point {
    const STEPS: usize = 9;
    let edges = part.path.edges();
    let Some(b) = Bounds::of_path(&part.path) else {
        return Point::default();
    };
    let openings: Vec<Vec<Edge>> = holes.iter().map(|h| h.path.edges()).collect();
    let clear = |p: Point| {
        let on_metal = crate::geom::near::inside(&edges, p)
            && !openings.iter().any(|o| crate::geom::near::inside(o, p));
        let all = edges.iter().chain(openings.iter().flatten());
        let room = all.map(|e| e.distance(p)).fold(f64::INFINITY, f64::min);
        if on_metal { room } else { -room }
    };
    let mut best = (f64::NEG_INFINITY, b.min.midpoint(b.max));
    for i in 0..STEPS * STEPS {
        let share = |k: usize| (k as f64 + 0.5) / STEPS as f64;
        let p = Point::new(
            b.min.x + share(i % STEPS) * b.width(),
            b.min.y + share(i / STEPS) * b.height(),
        );
        let room = clear(p);
        if room > best.0 + 1e-9 {
            best = (room, p);
        }
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::outline::{Chain, Shape};
    use geo::{Area as _, MinimumRotatedRect as _};

    fn part(corners: &[(f64, f64)]) -> Loop {
        Loop {
            role: Role::Part,
            path: Path::Chain(Chain {
                corners: corners.iter().map(|c| Point::new(c.0, c.1)).collect(),
                shapes: vec![Shape::Line; corners.len()],
            }),
            deviation: None,
        }
    }

    /// Freeman and Shapira 1975 (one side lies on an edge of the hull); sides recomputed.
    #[test]
    fn the_smallest_rectangle_about_a_triangle() {
        let (long, short) = size(&part(&[(0.0, 0.0), (7.0, 1.0), (3.0, 5.0)]));
        assert!((long - 7.071_067_811_865_48).abs() < 1e-12, "{long}");
        assert!((short - 4.525_483_399_593_9).abs() < 1e-12, "{short}");
    }

    /// Against another's minimum rotated rectangle, for stars whose hull has edges they have not.
    #[test]
    fn the_smallest_rectangle_about_a_star() {
        for k in 3..40_u32 {
            let spoke = |i: u32| {
                let r = 20.0 + 15.0 * libm::sin(f64::from(i * i + 3 * k));
                let turn = core::f64::consts::TAU * f64::from(i) / f64::from(k);
                (r * libm::cos(turn), r * libm::sin(turn))
            };
            let corners: Vec<(f64, f64)> = (0..k).map(spoke).collect();
            let (long, short) = size(&part(&corners));
            let ring: LineString = corners.into_iter().collect();
            let other = ring
                .minimum_rotated_rect()
                .map_or(0.0, |r| r.unsigned_area());
            assert!(
                (long * short / other - 1.0).abs() < 1e-9,
                "{k}: {long} x {short}, {other}"
            );
        }
    }
}

//! Families of shapes with known truth.
//!
//! A family turns a short list of numbers into an outline; every relation it was drawn with is in
//! the way it is built (a square has one number, its side). So the same list serves as the truth,
//! and as the unknowns of a fit that is told everything but the numbers.

use crate::rng::Rng;
use core::f64::consts::{FRAC_PI_2, PI, TAU};
use trued::geom::turn_between;
use trued::{Chain, Circle, Edge, Path, Point, Shape, Vec2};

/// A family: how its numbers are drawn by chance, and the outline they make, unturned, near the origin.
pub struct Family {
    /// Its name, as the scoreboard prints it.
    pub name: &'static str,
    /// Numbers by chance: lengths in whole mm, angles in radians.
    pub draw: fn(&mut Rng) -> Vec<f64>,
    /// The outline of the numbers, counter-clockwise.
    pub build: fn(&[f64]) -> Path,
    /// Has corners 4° to 7° away from square, which only a steady hand can show.
    pub near_square: bool,
}

/// A shape placed on the plate.
#[derive(Clone)]
pub struct Case {
    /// Name of its family.
    pub family: &'static str,
    /// The family's numbers, then x, y and turn of the placing.
    pub numbers: Vec<f64>,
    /// The outline it truly is.
    pub path: Path,
    build: fn(&[f64]) -> Path,
}

impl Case {
    /// A case of a family by chance: within the sizes the families promise, turned and moved anyhow.
    #[must_use]
    pub fn draw(family: &'static Family, rng: &mut Rng) -> Self {
        loop {
            let mut numbers = (family.draw)(rng);
            let local = (family.build)(&numbers);
            if !is_fair(&local, family.near_square) {
                continue;
            }
            numbers.extend([
                rng.range(-300.0, 300.0),
                rng.range(-300.0, 300.0),
                rng.range(-PI, PI),
            ]);
            return Self::new(family, numbers);
        }
    }

    /// The case of given numbers: the family's own, then x, y and turn of the placing.
    #[must_use]
    pub fn new(family: &'static Family, numbers: Vec<f64>) -> Self {
        Self {
            family: family.name,
            path: placed(family.build, &numbers),
            numbers,
            build: family.build,
        }
    }

    /// The outline that other numbers of the same family make, in the same form as `numbers`.
    #[must_use]
    pub fn with_numbers(&self, numbers: &[f64]) -> Path {
        placed(self.build, numbers)
    }

    /// Kinds of its edges in order, `L` and `A`.
    #[must_use]
    pub fn kinds(&self) -> String {
        kinds(&self.path)
    }
}

/// Kinds of a path's edges in order, `L` for a line and `A` for an arc.
#[must_use]
pub fn kinds(path: &Path) -> String {
    path.edges()
        .iter()
        .map(|e| match e {
            Edge::Line(_) => 'L',
            Edge::Arc(_) => 'A',
        })
        .collect()
}

/// The family of a name.
#[must_use]
pub fn family(name: &str) -> Option<&'static Family> {
    FAMILIES.iter().find(|f| f.name == name)
}

fn placed(build: fn(&[f64]) -> Path, numbers: &[f64]) -> Path {
    let n = numbers.len() - 3;
    let shift = Vec2::new(numbers[n], numbers[n + 1]);
    let turn = Vec2::from_angle(numbers[n + 2]);
    let place =
        |p: Point| Point::new(p.x * turn.x - p.y * turn.y, p.x * turn.y + p.y * turn.x) + shift;
    match build(&numbers[..n]) {
        Path::Circle(c) => Path::Circle(Circle {
            center: place(c.center),
            ..c
        }),
        Path::Chain(c) => Path::Chain(Chain {
            corners: c.corners.into_iter().map(place).collect(),
            shapes: c.shapes,
        }),
    }
}

/// Interior angle at the start of edge `i` of a closed counter-clockwise path, radians.
#[must_use]
pub fn interior(edges: &[Edge], i: usize) -> f64 {
    let before = &edges[(i + edges.len() - 1) % edges.len()];
    PI - turn_between(before.direction_at(1.0), edges[i].direction_at(0.0))
}

/// Within the promised sizes, every joint either tangent or a plain corner, every corner between
/// lines either square or well away from it.
fn is_fair(path: &Path, near_square: bool) -> bool {
    let edges = path.edges();
    let n = edges.len();
    let sizes = edges.iter().all(|e| match e {
        Edge::Line(l) => l.length() >= 20.0,
        Edge::Arc(a) => a.radius >= 12.0 && a.length() >= 15.0,
    });
    let points = path.flatten(0.1);
    let span = |f: fn(&Point) -> f64| {
        let lo = points.iter().map(f).fold(f64::INFINITY, f64::min);
        let hi = points.iter().map(f).fold(f64::NEG_INFINITY, f64::max);
        hi - lo
    };
    let (w, h) = (span(|p| p.x), span(|p| p.y));
    let extent = w.max(h) <= 250.0 && w.min(h) >= 24.0;
    let joints = n == 1
        || (0..n).all(|i| {
            let angle = interior(&edges, i);
            let turn = (PI - angle).abs();
            let off = ((angle.min(TAU - angle)) - FRAC_PI_2).abs();
            let both_lines = matches!(edges[i], Edge::Line(_))
                && matches!(edges[(i + n - 1) % n], Edge::Line(_));
            if both_lines {
                let least = if near_square { 4.0 } else { 7.0 };
                turn > 0.5 && (off < 1e-9 || off >= least * PI / 180.0)
            } else {
                !(1e-9..=0.5).contains(&turn)
            }
        });
    sizes && extent && joints && is_simple(&edges)
}

/// Turns once to the left in all, with no corner sharper than 25°: so no course built of too large a
/// radius, and none that crosses itself among the families here.
fn is_simple(edges: &[Edge]) -> bool {
    if edges.len() == 1 {
        return true;
    }
    let mut total = 0.0;
    for (i, edge) in edges.iter().enumerate() {
        let turn = PI - interior(edges, i);
        if turn.abs() > 155.0 * PI / 180.0 {
            return false;
        }
        total += turn;
        if let Edge::Arc(a) = edge {
            total += a.sweep;
        }
    }
    (total - TAU).abs() < 1e-6
}

fn polygon(corners: &[(f64, f64)]) -> Path {
    let sharp: Vec<_> = corners.iter().map(|&(x, y)| (x, y, 0.0)).collect();
    filleted(&sharp)
}

/// A polygon whose corner `(x, y, r)` is rounded to radius `r`, sharp where it is 0.
fn filleted(corners: &[(f64, f64, f64)]) -> Path {
    let n = corners.len();
    let at = |i: usize| Point::new(corners[i % n].0, corners[i % n].1);
    let mut chain = Chain {
        corners: Vec::new(),
        shapes: Vec::new(),
    };
    for (i, &(_, _, r)) in corners.iter().enumerate() {
        let (before, here, after) = (at(i + n - 1), at(i), at(i + 1));
        if r == 0.0 {
            chain.corners.push(here);
            chain.shapes.push(Shape::Line);
            continue;
        }
        let unit = |v: Vec2| v.unit().unwrap_or_default();
        let (into, out) = (unit(here - before), unit(after - here));
        let turn = turn_between(into, out);
        let t = r * libm::tan(0.5 * turn.abs());
        chain.corners.push(here - into * t);
        chain.shapes.push(Shape::Arc { sweep: turn });
        chain.corners.push(here + out * t);
        chain.shapes.push(Shape::Line);
    }
    Path::Chain(chain)
}

/// A chain given as corner and sweep of the edge that leaves it, 0 for a line.
fn chain(edges: &[(f64, f64, f64)]) -> Path {
    Path::Chain(Chain {
        corners: edges.iter().map(|e| Point::new(e.0, e.1)).collect(),
        shapes: edges
            .iter()
            .map(|e| match e.2 {
                0.0 => Shape::Line,
                sweep => Shape::Arc { sweep },
            })
            .collect(),
    })
}

fn regular(n: usize, side: f64) -> Path {
    let r = 0.5 * side / libm::sin(PI / n as f64);
    let corners: Vec<_> = (0..n)
        .map(|i| {
            let d = Vec2::from_angle(TAU * i as f64 / n as f64) * r;
            (d.x, d.y)
        })
        .collect();
    polygon(&corners)
}

fn rounded_rectangle(w: f64, h: f64, r: [f64; 4]) -> Path {
    filleted(&[
        (0.0, 0.0, r[0]),
        (w, 0.0, r[1]),
        (w, h, r[2]),
        (0.0, h, r[3]),
    ])
}

fn triangle(a: f64, b: f64, c: f64) -> Path {
    // Sides a (along x), b and c; the third corner by the law of cosines.
    let x = (a * a + c * c - b * b) / (2.0 * a);
    let y = libm::sqrt((c * c - x * x).max(0.0));
    polygon(&[(0.0, 0.0), (a, 0.0), (x, y)])
}

fn sheared(a: f64, b: f64, angle: f64) -> Path {
    let d = Vec2::from_angle(angle) * b;
    polygon(&[(0.0, 0.0), (a, 0.0), (a + d.x, d.y), (d.x, d.y)])
}

fn keyhole(r: f64, half: f64, length: f64) -> Path {
    let y = -libm::sqrt((r * r - half * half).max(0.0));
    let open = 2.0 * libm::asin((half / r).min(1.0));
    chain(&[
        (half, y, TAU - open),
        (-half, y, 0.0),
        (-half, y - length, 0.0),
        (half, y - length, 0.0),
    ])
}

fn annular_sector(r: f64, width: f64, angle: f64) -> Path {
    let (a, b) = (
        Vec2::from_angle(-0.5 * angle),
        Vec2::from_angle(0.5 * angle),
    );
    let outer = r + width;
    chain(&[
        (a.x * r, a.y * r, 0.0),
        (a.x * outer, a.y * outer, angle),
        (b.x * outer, b.y * outer, 0.0),
        (b.x * r, b.y * r, -angle),
    ])
}

fn teardrop(r: f64, d: f64) -> Path {
    // The tip lies at (0, -d); the lines touch the circle about the origin.
    let half = libm::acos((r / d).min(1.0));
    let touch = Vec2::from_angle(-FRAC_PI_2 + half) * r;
    chain(&[
        (0.0, -d, 0.0),
        (touch.x, touch.y, TAU - 2.0 * half),
        (-touch.x, touch.y, 0.0),
    ])
}

fn notched(w: f64, h: f64, x: f64, nw: f64, nd: f64) -> Path {
    polygon(&[
        (0.0, 0.0),
        (w, 0.0),
        (w, h),
        (x + nw, h),
        (x + nw, h - nd),
        (x, h - nd),
        (x, h),
        (0.0, h),
    ])
}

/// All families: straight, mixed and round; with every corner square, some, and none.
pub static FAMILIES: &[Family] = &[
    Family {
        name: "square",
        draw: |r| vec![r.mm(25.0, 170.0)],
        build: |p| polygon(&[(0.0, 0.0), (p[0], 0.0), (p[0], p[0]), (0.0, p[0])]),
        near_square: false,
    },
    Family {
        name: "rectangle",
        draw: |r| vec![r.mm(30.0, 240.0), r.mm(25.0, 150.0)],
        build: |p| polygon(&[(0.0, 0.0), (p[0], 0.0), (p[0], p[1]), (0.0, p[1])]),
        near_square: false,
    },
    Family {
        name: "right triangle",
        draw: |r| vec![r.mm(30.0, 220.0), r.mm(30.0, 150.0)],
        build: |p| polygon(&[(0.0, 0.0), (p[0], 0.0), (0.0, p[1])]),
        near_square: false,
    },
    Family {
        name: "odd triangle",
        draw: |r| vec![r.mm(30.0, 220.0), r.mm(30.0, 220.0), r.mm(30.0, 220.0)],
        build: |p| triangle(p[0], p[1], p[2]),
        near_square: false,
    },
    Family {
        name: "parallelogram",
        draw: |r| vec![r.mm(30.0, 200.0), r.mm(30.0, 150.0), r.range(0.8, 1.44)],
        build: |p| sheared(p[0], p[1], p[2]),
        near_square: false,
    },
    Family {
        name: "diamond",
        draw: |r| vec![r.mm(30.0, 140.0), r.range(0.8, 1.44)],
        build: |p| sheared(p[0], p[0], p[1]),
        near_square: false,
    },
    Family {
        name: "trapezoid",
        draw: |r| vec![r.mm(40.0, 240.0), r.mm(20.0, 200.0), r.mm(25.0, 150.0)],
        build: |p| {
            let (a, b) = (0.5 * p[0], 0.5 * p[1]);
            polygon(&[(-a, 0.0), (a, 0.0), (b, p[2]), (-b, p[2])])
        },
        near_square: false,
    },
    Family {
        name: "half-square trapezoid",
        draw: |r| vec![r.mm(40.0, 240.0), r.mm(20.0, 200.0), r.mm(25.0, 150.0)],
        build: |p| polygon(&[(0.0, 0.0), (p[0], 0.0), (p[1], p[2]), (0.0, p[2])]),
        near_square: false,
    },
    Family {
        name: "odd quadrilateral",
        draw: |r| {
            let (w, h) = (r.mm(40.0, 200.0), r.mm(35.0, 150.0));
            let s = 0.35 * w.min(h);
            vec![
                w,
                w + r.range(-s, s),
                h + r.range(-s, s),
                r.range(-s, s),
                h + r.range(-s, s),
            ]
        },
        build: |p| polygon(&[(0.0, 0.0), (p[0], 0.0), (p[1], p[2]), (p[3], p[4])]),
        near_square: false,
    },
    Family {
        name: "pentagon",
        draw: |r| vec![r.mm(24.0, 120.0)],
        build: |p| regular(5, p[0]),
        near_square: false,
    },
    Family {
        name: "hexagon",
        draw: |r| vec![r.mm(20.0, 110.0)],
        build: |p| regular(6, p[0]),
        near_square: false,
    },
    Family {
        name: "rounded rectangle",
        draw: |r| vec![r.mm(50.0, 240.0), r.mm(44.0, 150.0), r.mm(12.0, 40.0)],
        build: |p| rounded_rectangle(p[0], p[1], [p[2]; 4]),
        near_square: false,
    },
    Family {
        name: "one rounded corner",
        draw: |r| vec![r.mm(40.0, 220.0), r.mm(35.0, 150.0), r.mm(12.0, 50.0)],
        build: |p| rounded_rectangle(p[0], p[1], [0.0, 0.0, p[2], 0.0]),
        near_square: false,
    },
    Family {
        name: "tab",
        draw: |r| vec![r.mm(46.0, 200.0), r.mm(34.0, 150.0), r.mm(12.0, 40.0)],
        build: |p| rounded_rectangle(p[0], p[1], [0.0, 0.0, p[2], p[2]]),
        near_square: false,
    },
    Family {
        name: "rounded triangle",
        draw: |r| vec![r.mm(65.0, 230.0), r.mm(12.0, 40.0)],
        build: |p| {
            let y = p[0] * libm::sqrt(0.75);
            filleted(&[(0.0, 0.0, p[1]), (p[0], 0.0, p[1]), (0.5 * p[0], y, p[1])])
        },
        near_square: false,
    },
    Family {
        name: "slot",
        draw: |r| vec![r.mm(20.0, 180.0), r.mm(12.0, 40.0)],
        build: |p| {
            let (l, d) = (p[0], p[1]);
            chain(&[(0.0, -d, 0.0), (l, -d, PI), (l, d, 0.0), (0.0, d, PI)])
        },
        near_square: false,
    },
    Family {
        name: "circle",
        draw: |r| vec![0.5 * r.mm(25.0, 220.0)],
        build: |p| {
            Path::Circle(Circle {
                center: Point::new(0.0, 0.0),
                radius: p[0],
                counter_clockwise: true,
            })
        },
        near_square: false,
    },
    Family {
        name: "half disc",
        draw: |r| vec![r.mm(24.0, 110.0)],
        build: |p| chain(&[(-p[0], 0.0, 0.0), (p[0], 0.0, PI)]),
        near_square: false,
    },
    Family {
        name: "flat on a disc",
        draw: |r| vec![r.mm(16.0, 110.0), r.range(0.3, 0.8)],
        build: |p| {
            let half = libm::acos(p[1].clamp(-1.0, 1.0));
            let d = Vec2::from_angle(-FRAC_PI_2 + half) * p[0];
            chain(&[(-d.x, d.y, 0.0), (d.x, d.y, TAU - 2.0 * half)])
        },
        near_square: false,
    },
    Family {
        name: "keyhole",
        draw: |r| vec![r.mm(14.0, 70.0), 0.5 * r.mm(20.0, 80.0), r.mm(20.0, 120.0)],
        build: |p| keyhole(p[0], p[1].min(0.8 * p[0]), p[2]),
        near_square: false,
    },
    Family {
        name: "annular sector",
        draw: |r| vec![r.mm(20.0, 120.0), r.mm(20.0, 80.0), r.range(0.6, 2.8)],
        build: |p| annular_sector(p[0], p[1], p[2]),
        near_square: false,
    },
    Family {
        name: "sector",
        draw: |r| vec![r.mm(30.0, 160.0), r.range(0.7, 2.4)],
        build: |p| {
            let (a, b) = (Vec2::from_angle(0.0) * p[0], Vec2::from_angle(p[1]) * p[0]);
            chain(&[(0.0, 0.0, 0.0), (a.x, a.y, p[1]), (b.x, b.y, 0.0)])
        },
        near_square: false,
    },
    Family {
        name: "clipped corner",
        draw: |r| vec![r.mm(40.0, 220.0), r.mm(36.0, 150.0), r.mm(15.0, 60.0)],
        build: |p| {
            let (w, h, c) = (p[0], p[1], p[2]);
            polygon(&[(0.0, 0.0), (w, 0.0), (w, h - c), (w - c, h), (0.0, h)])
        },
        near_square: false,
    },
    Family {
        name: "gusset",
        draw: |r| vec![r.mm(45.0, 220.0), r.mm(45.0, 150.0), r.mm(15.0, 40.0)],
        build: |p| {
            let (w, h, c) = (p[0], p[1], p[2]);
            polygon(&[(c, 0.0), (w, 0.0), (0.0, h), (0.0, c)])
        },
        near_square: false,
    },
    Family {
        name: "bracket",
        draw: |r| {
            vec![
                r.mm(45.0, 220.0),
                r.mm(45.0, 200.0),
                r.mm(20.0, 80.0),
                r.mm(20.0, 80.0),
            ]
        },
        build: |p| {
            let (w, h, s, t) = (p[0], p[1], p[2], p[3]);
            polygon(&[(0.0, 0.0), (w, 0.0), (w, s), (t, s), (t, h), (0.0, h)])
        },
        near_square: false,
    },
    Family {
        name: "channel",
        draw: |r| {
            vec![
                r.mm(65.0, 240.0),
                r.mm(45.0, 180.0),
                r.mm(20.0, 60.0),
                r.mm(20.0, 60.0),
            ]
        },
        build: |p| notched(p[0], p[1], p[2], p[0] - 2.0 * p[2], p[1] - p[3]),
        near_square: false,
    },
    Family {
        name: "tee",
        draw: |r| {
            vec![
                r.mm(65.0, 240.0),
                r.mm(45.0, 180.0),
                r.mm(20.0, 80.0),
                r.mm(20.0, 80.0),
            ]
        },
        build: |p| {
            let (w, h, s, t) = (0.5 * p[0], p[1], 0.5 * p[2], p[3]);
            polygon(&[
                (-s, 0.0),
                (s, 0.0),
                (s, h - t),
                (w, h - t),
                (w, h),
                (-w, h),
                (-w, h - t),
                (-s, h - t),
            ])
        },
        near_square: false,
    },
    Family {
        name: "notch",
        draw: |r| {
            let (w, h) = (r.mm(65.0, 240.0), r.mm(45.0, 150.0));
            let depth = r.mm(20.0, 80.0).min(h - 20.0);
            vec![w, h, r.mm(20.0, 100.0), r.mm(20.0, 80.0), depth]
        },
        build: |p| notched(p[0], p[1], p[2], p[3], p[4]),
        near_square: false,
    },
    Family {
        name: "round notch",
        draw: |r| {
            vec![
                r.mm(65.0, 240.0),
                r.mm(35.0, 150.0),
                r.mm(20.0, 100.0),
                r.mm(12.0, 50.0),
            ]
        },
        build: |p| {
            let (w, h, x, r) = (p[0], p[1], p[2], p[3].min(p[1] - 20.0));
            chain(&[
                (0.0, 0.0, 0.0),
                (w, 0.0, 0.0),
                (w, h, 0.0),
                (x + 2.0 * r, h, -PI),
                (x, h, 0.0),
                (0.0, h, 0.0),
            ])
        },
        near_square: false,
    },
    Family {
        name: "arch",
        draw: |r| vec![r.mm(26.0, 150.0), r.mm(20.0, 150.0)],
        build: |p| {
            let (w, h) = (p[0], p[1]);
            chain(&[(0.0, 0.0, 0.0), (w, 0.0, 0.0), (w, h, PI), (0.0, h, 0.0)])
        },
        near_square: false,
    },
    Family {
        name: "teardrop",
        draw: |r| vec![r.mm(13.0, 60.0), r.mm(30.0, 180.0)],
        build: |p| teardrop(p[0], p[1].clamp(1.75 * p[0], 3.5 * p[0])),
        near_square: false,
    },
    Family {
        name: "lens",
        draw: |r| vec![r.mm(40.0, 200.0), r.range(1.3, 2.4)],
        build: |p| chain(&[(-0.5 * p[0], 0.0, p[1]), (0.5 * p[0], 0.0, p[1])]),
        near_square: false,
    },
    Family {
        name: "near parallelogram",
        draw: |r| {
            let off = r.range(4.0, 7.0) * PI / 180.0;
            vec![r.mm(50.0, 200.0), r.mm(50.0, 150.0), FRAC_PI_2 - off]
        },
        build: |p| sheared(p[0], p[1], p[2]),
        near_square: true,
    },
    Family {
        name: "near rectangle",
        draw: |r| {
            let off = r.range(4.0, 7.0) * PI / 180.0;
            vec![r.mm(60.0, 220.0), r.mm(50.0, 150.0), off]
        },
        build: |p| {
            let top = p[0] - p[1] * libm::tan(p[2]);
            polygon(&[(0.0, 0.0), (p[0], 0.0), (top, p[1]), (0.0, p[1])])
        },
        near_square: true,
    },
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_family_draws_fair_closed_outlines() {
        for family in FAMILIES {
            let mut rng = Rng::named(1, family.name);
            for _ in 0..20 {
                let case = Case::draw(family, &mut rng);
                assert!(case.path.is_closed(), "{}", family.name);
                assert!(case.path.area() > 0.0, "{} runs clockwise", family.name);
            }
        }
    }
}

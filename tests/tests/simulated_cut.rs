//! Cuts the plan in a plate of numbers and looks at what is left.
//!
//! Every move with the torch on is flattened to 0.001 mm and swept by a disc as wide as the kerf,
//! with the polygon operations of crate `geo`, which the planning does not use. What is left of the
//! plate is then compared with the outline: nothing of a part missing, nothing left on it but the
//! fillets of concave corners, slugs free, pierces in the waste, holes before parts.

use geo::algorithm::buffer::{Buffer, BufferStyle, LineCap, LineJoin};
use geo::{
    Area, BooleanOps, Contains, Distance, Euclidean, MultiPolygon, Point as GeoPoint, Polygon,
    unary_union,
};
use geo_types::{Coord, LineString};
use trued::cut::{Cut, CutSettings, Plan, WarningKind, plan};
use trued::{Chain, Circle, Edge, Loop, Outline, Path, Point, Role, Shape, Vec2};

const FINE: f64 = 0.001;

fn line(edges: &[Edge]) -> Vec<Coord<f64>> {
    let mut all: Vec<Coord<f64>> = Vec::new();
    for p in edges.iter().flat_map(|e| e.flatten(FINE)) {
        let c = Coord { x: p.x, y: p.y };
        if all.last() != Some(&c) {
            all.push(c);
        }
    }
    all
}

fn polygon(path: &Path) -> Polygon<f64> {
    Polygon::new(LineString(line(&path.edges())), vec![])
}

fn all_moves(cut: &Cut) -> Vec<Coord<f64>> {
    line(&cut.moves().copied().collect::<Vec<Edge>>())
}

/// What the jet takes away on one cut.
fn swept(cut: &Cut, kerf: f64) -> MultiPolygon<f64> {
    let style = BufferStyle::new(0.5 * kerf)
        .line_join(LineJoin::Round(0.04))
        .line_cap(LineCap::Round(0.04));
    LineString(all_moves(cut)).buffer_with_style(style)
}

/// The plate after all cuts, piece by piece.
fn left_over(made: &Plan) -> MultiPolygon<f64> {
    let kerf = made.settings.kerf;
    let gone: Vec<Polygon<f64>> = made.cuts.iter().flat_map(|c| swept(c, kerf).0).collect();
    let all: Vec<Coord<f64>> = made.cuts.iter().flat_map(all_moves).collect();
    let low = |f: fn(&Coord<f64>) -> f64| all.iter().map(f).fold(f64::INFINITY, f64::min) - 30.0;
    let high =
        |f: fn(&Coord<f64>) -> f64| all.iter().map(f).fold(f64::NEG_INFINITY, f64::max) + 30.0;
    let corner = (low(|c| c.x), low(|c| c.y));
    let plate = geo::Rect::new(corner, (high(|c| c.x), high(|c| c.y))).to_polygon();
    plate.difference(&unary_union(&gone))
}

/// The mean distance of a part's edges from what is left, and what is left on it besides.
fn look_at_part(
    made: &Plan,
    pieces: &MultiPolygon<f64>,
    part: &Loop,
    holes: &[&Loop],
) -> (f64, Vec<Polygon<f64>>) {
    let holes_of: Vec<Polygon<f64>> = holes.iter().map(|h| polygon(&h.path)).collect();
    let meant = polygon(&part.path).difference(&MultiPolygon::new(holes_of.clone()));
    let shared = |p: &Polygon<f64>| p.intersection(&meant).unsigned_area();
    let piece = pieces
        .0
        .iter()
        .max_by(|a, b| shared(a).total_cmp(&shared(b)))
        .expect("metal");
    let mut border = vec![piece.exterior().clone()];
    border.extend(piece.interiors().iter().cloned());
    let (mut sum, mut count) = (0.0, 0.0);
    for l in std::iter::once(part).chain(holes.iter().copied()) {
        let solid = if (l.path.area() > 0.0) == (l.role == Role::Part) {
            1.0
        } else {
            -1.0
        };
        for edge in l.path.edges() {
            let n = (edge.length() / 2.0).ceil().max(1.0) as usize;
            for t in (0..n).map(|i| (i as f64 + 0.5) / n as f64) {
                let at = edge.point_at(t);
                let inner = at + edge.direction_at(t).left() * (0.05 * solid);
                let inner = GeoPoint::new(inner.x, inner.y);
                // 0.05 mm inside the edge there is metal, unless the part is thinner (a tip).
                assert!(
                    piece.contains(&inner) || !meant.contains(&inner),
                    "more than 0.05 mm is missing at ({:.2}, {:.2})",
                    at.x,
                    at.y
                );
                let p = GeoPoint::new(at.x, at.y);
                let near = border.iter().map(|b| Euclidean.distance(&p, b));
                sum += near.fold(f64::INFINITY, f64::min);
                count += 1.0;
            }
        }
    }
    for hole in &holes_of {
        let core = hole.buffer(-1.001 * made.settings.kerf);
        let hangs = piece.intersection(&core).unsigned_area();
        assert!(hangs < 1e-6, "a slug hangs on the part");
    }
    let rest = piece.difference(&meant).0;
    let rest = rest
        .into_iter()
        .filter(|p| p.unsigned_area() > 0.01)
        .collect();
    (sum / count, rest)
}

/// Corners where the metal turns inwards: a round jet leaves a fillet there.
fn concave(l: &Loop) -> Vec<Point> {
    let edges = l.path.edges();
    let solid = if (l.path.area() > 0.0) == (l.role == Role::Part) {
        1.0
    } else {
        -1.0
    };
    let before = edges.iter().cycle().skip(edges.len().saturating_sub(1));
    let turn = |b: &Edge, e: &Edge| b.direction_at(1.0).cross(e.direction_at(0.0)) * solid;
    let pairs = edges.iter().zip(before);
    pairs
        .filter(|(e, b)| turn(b, e) < -1e-6)
        .map(|(e, _)| e.from())
        .collect()
}

fn check(outline: &Outline, settings: &CutSettings) -> Plan {
    let made = plan(outline, settings).expect("it can be planned");
    let pieces = left_over(&made);
    let half = 0.5 * settings.kerf;
    let loops = &made.outline.loops;
    for part in loops.iter().filter(|l| l.role == Role::Part) {
        let whole = polygon(&part.path);
        let is_in = |l: &&Loop| l.role == Role::Hole && whole.contains(&polygon(&l.path));
        let holes: Vec<&Loop> = loops.iter().filter(is_in).collect();
        let (mean, rest) = look_at_part(&made, &pieces, part, &holes);
        assert!(mean <= 0.02, "mean deviation {mean} mm");
        let all = std::iter::once(part).chain(holes.iter().copied());
        let corners: Vec<Point> = all.flat_map(concave).collect();
        for rest in &rest {
            let near = |c: &Point| Euclidean.distance(rest, &GeoPoint::new(c.x, c.y)) < half;
            let area = rest.unsigned_area();
            assert!(
                corners.iter().any(near),
                "{area} mm2 left away from any concave corner"
            );
        }
        let no_lead = made.warnings.iter().any(|w| w.kind == WarningKind::NoLead);
        let openings = MultiPolygon::new(holes.iter().map(|h| polygon(&h.path)).collect());
        let metal = whole.difference(&openings);
        for cut in &made.cuts {
            let at = GeoPoint::new(cut.pierce.at.x, cut.pierce.at.y);
            let apart = Euclidean.distance(&at, &metal);
            assert!(
                no_lead || apart > half,
                "a pierce is {apart} mm from a part"
            );
        }
        let order = |l: &Loop| made.cuts.iter().position(|c| loops[c.loop_index] == *l);
        let own = order(part).expect("the part is cut");
        let first = holes.iter().filter_map(|h| order(h)).all(|h| h < own);
        assert!(first, "a hole is cut after its part");
    }
    made
}

fn closed(corners: &[(f64, f64)], shapes: Vec<Shape>) -> Path {
    let corners = corners.iter().map(|&(x, y)| Point::new(x, y)).collect();
    Path::Chain(Chain { corners, shapes })
}

fn straight(corners: &[(f64, f64)]) -> Path {
    closed(corners, vec![Shape::Line; corners.len()])
}

fn round(x: f64, y: f64, radius: f64) -> Path {
    let center = Point::new(x, y);
    Path::Circle(Circle {
        center,
        radius,
        counter_clockwise: false,
    })
}

fn outline(part: Path, holes: Vec<Path>) -> Outline {
    let hole = |path| Loop {
        role: Role::Hole,
        path,
        deviation: None,
    };
    let mut loops = vec![Loop {
        role: Role::Part,
        path: part,
        deviation: None,
    }];
    loops.extend(holes.into_iter().map(hole));
    Outline {
        loops,
        marks: Vec::new(),
    }
}

fn settings() -> CutSettings {
    CutSettings {
        thickness: Some(3.0),
        ..CutSettings::new(1.5, 2400.0, 0.4)
    }
}

const QUARTER: f64 = std::f64::consts::FRAC_PI_2;

/// Burner plate, vent collar, shelf gusset, a panel with a peep slot, a bracket with inner corners.
fn demo() -> Vec<Outline> {
    let rounded = Shape::Arc { sweep: QUARTER };
    let half = Shape::Arc {
        sweep: -2.0 * QUARTER,
    };
    let plate = [
        (10.0, 0.0),
        (170.0, 0.0),
        (180.0, 10.0),
        (180.0, 110.0),
        (170.0, 120.0),
        (10.0, 120.0),
        (0.0, 110.0),
        (0.0, 10.0),
    ];
    let gusset = [
        (0.0, 0.0),
        (120.0, 0.0),
        (120.0, 18.0),
        (18.0, 120.0),
        (0.0, 120.0),
    ];
    let bracket = [
        (0.0, 0.0),
        (90.0, 0.0),
        (90.0, 30.0),
        (30.0, 30.0),
        (30.0, 70.0),
        (0.0, 70.0),
    ];
    let window = straight(&[(5.0, 5.0), (5.0, 25.0), (70.0, 25.0), (70.0, 5.0)]);
    let bolts = (0..4).map(|i| Vec2::from_angle(QUARTER * f64::from(i)) * 70.0);
    let mut collar: Vec<Path> = bolts.map(|v| round(v.x, v.y, 4.5)).collect();
    collar.push(round(0.0, 0.0, 55.0));
    let slot = closed(
        &[(40.0, 40.0), (40.0, 52.0), (90.0, 52.0), (90.0, 40.0)],
        vec![half, Shape::Line, half, Shape::Line],
    );
    let panel = straight(&[(0.0, 0.0), (130.0, 0.0), (130.0, 90.0), (0.0, 90.0)]);
    vec![
        outline(
            closed(&plate, [Shape::Line, rounded].repeat(4)),
            vec![round(90.0, 60.0, 30.0)],
        ),
        outline(round(0.0, 0.0, 90.0), collar),
        outline(straight(&gusset), vec![]),
        outline(panel, vec![slot]),
        outline(straight(&bracket), vec![window]),
    ]
}

#[test]
fn the_demo_pieces_come_out_to_size() {
    for (i, o) in demo().iter().enumerate() {
        for kerf in [0.8, 1.5, 3.0] {
            let made = check(o, &CutSettings { kerf, ..settings() });
            assert!(
                made.warnings.is_empty(),
                "piece {i}, kerf {kerf}: {:?}",
                made.warnings
            );
        }
    }
}

#[test]
fn a_part_inside_the_hole_of_a_part_is_cut_first() {
    let frame = straight(&[(0.0, 0.0), (200.0, 0.0), (200.0, 150.0), (0.0, 150.0)]);
    let mut o = outline(frame, vec![round(100.0, 75.0, 60.0)]);
    let inner = straight(&[(75.0, 55.0), (125.0, 55.0), (125.0, 95.0), (75.0, 95.0)]);
    o.loops.push(Loop {
        role: Role::Part,
        path: inner,
        deviation: None,
    });
    o.loops.push(Loop {
        role: Role::Hole,
        path: round(100.0, 75.0, 8.0),
        deviation: None,
    });
    let made = plan(&o, &settings()).unwrap();
    let order: Vec<usize> = made.cuts.iter().map(|c| c.loop_index).collect();
    assert_eq!(order, [3, 2, 1, 0]);
}

/// The same numbers on every machine: xorshift (Marsaglia 2003).
struct Dice(u64);

impl Dice {
    fn unit(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
}

fn random(dice: &mut Dice) -> Outline {
    let n = 3 + (dice.unit() * 9.0) as usize;
    let size = 25.0 + 60.0 * dice.unit();
    let corners: Vec<(f64, f64)> = (0..n)
        .map(|i| {
            let angle = 4.0 * QUARTER * (i as f64 + 0.6 * dice.unit()) / n as f64;
            let p = Vec2::from_angle(angle) * (size * (0.55 + 0.45 * dice.unit()));
            (p.x, p.y)
        })
        .collect();
    let mut shape = || match dice.unit() {
        u if u < 0.3 => Shape::Arc {
            sweep: 0.9 * (dice.unit() - 0.5),
        },
        _ => Shape::Line,
    };
    let shapes = (0..n).map(|_| shape()).collect();
    let holes = (0..3)
        .map(|k| {
            let way = QUARTER * (f64::from(k) + 0.3 * dice.unit());
            let v = Vec2::from_angle(way) * (0.2 * size);
            round(v.x, v.y, (0.03 + 0.09 * dice.unit()) * size)
        })
        .collect();
    outline(closed(&corners, shapes), holes)
}

#[test]
fn a_thousand_random_pieces_come_out_to_size() {
    let mut dice = Dice(0x5EED_0F7A_1E00);
    let mut simulated = 0;
    for _ in 0..1000 {
        let o = random(&mut dice);
        let s = CutSettings {
            kerf: 0.8 + 2.0 * dice.unit(),
            ..settings()
        };
        let valid = trued::outline::check::first_problem(&o).is_none();
        let Ok(made) = plan(&o, &s) else {
            assert!(!valid, "a valid outline was refused");
            continue;
        };
        // What the plan itself names as spoilt by the kerf is not expected to come out.
        let spoilt = [
            WarningKind::Eaten,
            WarningKind::ClosedMouth,
            WarningKind::Swallowed,
            WarningKind::Split,
        ];
        if valid && !made.warnings.iter().any(|w| spoilt.contains(&w.kind)) {
            check(&o, &s);
            simulated += 1;
        }
    }
    println!("{simulated} of 1000 simulated");
    assert!(simulated > 600, "only {simulated} could be simulated");
}

use super::kerf::{Offset, Side, offset};
use super::layout::Dice;
use super::*;
use crate::geom::near::{crossings, nearest};
use crate::geom::{Edge, Point, Vec2};
use crate::outline::{Chain, Circle, Loop, Mark, Outline, Path, Role, Shape};
use core::f64::consts::{FRAC_PI_2, PI, TAU};

pub(super) fn closed(corners: &[(f64, f64)]) -> Path {
    Path::Chain(Chain {
        corners: corners.iter().map(|&(x, y)| Point::new(x, y)).collect(),
        shapes: vec![Shape::Line; corners.len()],
    })
}

fn circle(x: f64, y: f64, radius: f64) -> Path {
    Path::Circle(Circle {
        center: Point::new(x, y),
        radius,
        counter_clockwise: false,
    })
}

fn of(role: Role, path: Path) -> Loop {
    Loop {
        role,
        path,
        deviation: None,
    }
}

fn outline(loops: Vec<Loop>) -> Outline {
    Outline {
        loops,
        marks: Vec::new(),
    }
}

/// A 100 x 60 plate with 10 mm corners, the burner plate of the kiln cart, with a port in it.
fn burner_plate() -> Outline {
    let quarter = Shape::Arc { sweep: FRAC_PI_2 };
    let corners = [
        (10.0, 0.0),
        (90.0, 0.0),
        (100.0, 10.0),
        (100.0, 50.0),
        (90.0, 60.0),
        (10.0, 60.0),
        (0.0, 50.0),
        (0.0, 10.0),
    ];
    let path = Path::Chain(Chain {
        corners: corners.map(|(x, y)| Point::new(x, y)).to_vec(),
        shapes: [Shape::Line, quarter].repeat(4),
    });
    outline(vec![
        of(Role::Part, path),
        of(Role::Hole, circle(50.0, 30.0, 12.0)),
    ])
}

fn one(path: &Path, side: Side, d: f64) -> Path {
    match offset(path, side, d).unwrap() {
        Offset::One(p) => p,
        other => panic!("{other:?}"),
    }
}

#[test]
fn steiner_holds_outside_convex_outlines() {
    // Steiner's formula: area A + P r + pi r^2, perimeter P + 2 pi r.
    let triangle = one(
        &closed(&[(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)]),
        Side::Outside,
        2.0,
    );
    assert!((triangle.area() - 42.5663706143592).abs() < 1e-6);
    assert!((triangle.length() - 24.5663706143592).abs() < 1e-6);
    let plate = one(
        &closed(&[(0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (0.0, 20.0)]),
        Side::Outside,
        1.5,
    );
    assert!((plate.area() - 757.068583470577).abs() < 1e-6);
    assert!((plate.length() - 109.424777960769).abs() < 1e-6);
    assert_eq!(plate.edges().len(), 8);
    // Inwards a triangle stays like itself: area A (1 - d / rho)^2 with rho = 1.
    let triangle = one(
        &closed(&[(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)]),
        Side::Inside,
        0.25,
    );
    assert!((triangle.area() - 3.375).abs() < 1e-6 && (triangle.length() - 9.0).abs() < 1e-6);
}

#[test]
fn arcs_stay_arcs_and_vanish_exactly() {
    // Closed forms for a rounded rectangle and a stadium.
    let plate = burner_plate().loops[0].path.clone();
    assert!(
        (plate.area() - 5914.15926535898).abs() < 1e-6
            && (plate.length() - 302.831853071796).abs() < 1e-6
    );
    let stadium = Path::Chain(Chain {
        corners: [(0.0, 0.0), (50.0, 0.0), (50.0, 20.0), (0.0, 20.0)]
            .map(|(x, y)| Point::new(x, y))
            .to_vec(),
        shapes: [Shape::Line, Shape::Arc { sweep: PI }].repeat(2),
    });
    assert!(
        (stadium.area() - 1314.15926535898).abs() < 1e-6
            && (stadium.length() - 162.831853071796).abs() < 1e-6
    );
    for (path, area, length) in [
        (plate, 5914.15926535898, 302.831853071796),
        (stadium, 1314.15926535898, 162.831853071796),
    ] {
        let out = one(&path, Side::Outside, 0.75);
        assert!((out.area() - (area + 0.75 * length + PI * 0.5625)).abs() < 1e-6);
        assert_eq!(out.edges().len(), path.edges().len());
        let back = one(&out, Side::Inside, 0.75);
        assert!((back.area() - area).abs() < 1e-6);
    }
}

#[test]
fn an_arc_over_half_a_turn_goes_through() {
    // A keyhole: 300 degrees of arc and a chord.
    let c = Path::Chain(Chain {
        corners: vec![Point::new(5.0, 0.0), Point::new(-5.0, 0.0)],
        shapes: vec![
            Shape::Arc {
                sweep: TAU * 300.0 / 360.0,
            },
            Shape::Line,
        ],
    });
    let inner = one(&c, Side::Inside, 1.0);
    assert_eq!(inner.edges().len(), 2);
    let radius = |p: &Path| match p.edges()[0] {
        Edge::Arc(a) => a.radius,
        _ => match p.edges()[1] {
            Edge::Arc(a) => a.radius,
            Edge::Line(_) => panic!("no arc"),
        },
    };
    assert!((radius(&c) - radius(&inner) - 1.0).abs() < 1e-9);
}

#[test]
fn inwards_until_it_vanishes() {
    let plate = burner_plate();
    for l in &plate.loops {
        let mut last = f64::INFINITY;
        for k in 0..80 {
            let area: f64 = offset(&l.path, Side::Inside, f64::from(k) * 0.5)
                .unwrap()
                .into_loops()
                .iter()
                .map(|p| p.area().abs())
                .sum();
            assert!(area <= last);
            last = area;
        }
        assert_eq!(last, 0.0);
    }
}

#[test]
fn crossing_loops_are_refused_by_place() {
    let bow = closed(&[(0.0, 0.0), (10.0, 10.0), (12.0, 0.0), (0.0, 9.0)]);
    assert!(matches!(
        offset(&bow, Side::Outside, 0.5),
        Err(kerf::Crossing::At(_))
    ));
    let said = plan(&outline(vec![of(Role::Part, bow)]), &settings())
        .unwrap_err()
        .to_string();
    assert!(said.contains("part 1 crosses"), "{said}");
}

fn settings() -> CutSettings {
    CutSettings {
        thickness: Some(3.0),
        ..CutSettings::new(1.5, 2400.0, 0.4)
    }
}

/// What must hold for every plan, asked without the code that made it.
pub(super) fn check_plan(plan: &Plan) {
    let half = 0.5 * plan.settings.kerf;
    let mut lit: Vec<(usize, Vec<Edge>)> = Vec::new();
    for (i, cut) in plan.cuts.iter().enumerate() {
        let moves: Vec<Edge> = cut.moves().copied().collect();
        assert_eq!(moves[0].from(), cut.pierce.at);
        for w in moves.windows(2) {
            assert!(
                w[0].to().distance(w[1].from()) < 1e-6,
                "moves of cut {i} hang together"
            );
        }
        if cut.closed {
            let (a, b) = (cut.path[0].from(), cut.path[cut.path.len() - 1].to());
            assert!(a.distance(b) < 1e-6);
        }
        let total: f64 = moves.iter().map(Edge::length).sum();
        assert!((total - cut.length).abs() < 1e-9);
        let mut leads = cut.lead_in.clone();
        leads.extend(cut.lead_out.last().filter(|_| cut.lead_out.len() > 1));
        // No lead nearer than half a kerf to any outline.
        for lead in &leads {
            for l in plan.outline.loops.iter().filter(|l| l.role != Role::Open) {
                for e in l.path.edges() {
                    assert!(
                        nearest(lead, &e).distance >= half - 2e-6,
                        "a lead is {} from an outline",
                        nearest(lead, &e).distance
                    );
                }
            }
        }
        for (other, theirs) in &lit {
            for lead in &leads {
                for e in theirs {
                    assert!(
                        crossings(lead, e).is_empty(),
                        "the leads of cuts {i} and {other} cross"
                    );
                }
            }
        }
        lit.push((i, leads));
    }
    // Holes come before what lies around them.
    let around = crate::outline::nesting::parents(&plan.outline.loops);
    for (i, cut) in plan.cuts.iter().enumerate() {
        for earlier in &plan.cuts[..i] {
            let inside_out = around[cut.loop_index]
                .as_ref()
                .is_some_and(|a| a.contains(&earlier.loop_index));
            assert!(!inside_out, "a hole is cut after its part");
        }
    }
}

#[test]
fn a_plate_with_a_port() {
    let made = plan(&burner_plate(), &settings()).unwrap();
    check_plan(&made);
    assert_eq!(made.cuts.len(), 2);
    assert_eq!(made.cuts[0].role, Role::Hole);
    assert!(made.warnings.is_empty(), "{:?}", made.warnings);
    // 5914.159 - pi 144 mm2 of 3 mm steel at 7850 kg/m3 (common practice).
    let kg = (5914.15926535898 - PI * 144.0) * 3.0 * 7850.0e-9;
    assert!((made.totals.weight_kg.unwrap() - kg).abs() < 1e-9);
    let time = 60.0 * made.totals.cut_length / 2400.0 + 2.0 * 0.4;
    assert!((made.totals.time_s - time).abs() < 1e-9 && !made.totals.time_has_travel);
    // Outside clockwise, hole counter-clockwise: part on the right of travel.
    let turn = |c: &Cut| {
        c.path
            .iter()
            .map(|e| e.from().to_vec().cross(e.to().to_vec()))
            .sum::<f64>()
    };
    assert!(turn(&made.cuts[1]) < 0.0);
    assert!(
        matches!(made.cuts[0].path[0], Edge::Arc(a) if a.sweep > 0.0 && (a.radius - 11.25).abs() < 1e-12)
    );
}

#[test]
fn what_the_kerf_does_is_said() {
    // A slot of 1 mm, a hole of 1.2 mm, a web of 0.6 mm, a neighbour 1 mm away.
    let slotted = closed(&[
        (0.0, 0.0),
        (80.0, 0.0),
        (80.0, 40.0),
        (41.0, 40.0),
        (41.0, 10.0),
        (40.0, 10.0),
        (40.0, 40.0),
        (0.0, 40.0),
    ]);
    let mut o = outline(vec![
        of(Role::Part, slotted),
        of(Role::Hole, circle(10.0, 20.0, 0.6)),
        of(Role::Hole, circle(20.0, 20.0, 5.0)),
        of(Role::Hole, circle(30.6, 20.0, 5.0)),
        of(
            Role::Part,
            closed(&[(81.0, 0.0), (120.0, 0.0), (120.0, 30.0)]),
        ),
    ]);
    o.marks.push(Mark {
        at: Point::new(60.0, 20.0),
    });
    let made = plan(&o, &settings()).unwrap();
    let kinds: Vec<WarningKind> = made.warnings.iter().map(|w| w.kind).collect();
    for kind in [
        WarningKind::Swallowed,
        WarningKind::ClosedMouth,
        WarningKind::Eaten,
        WarningKind::ThinWeb,
        WarningKind::MarkLeft,
        WarningKind::SmallHole,
    ] {
        assert!(kinds.contains(&kind), "{kind:?} in {:#?}", made.warnings);
    }
    assert!(
        made.warnings
            .iter()
            .all(|w| w.at.is_some() && w.text.contains("mm"))
    );
    let holed = plan(
        &o,
        &CutSettings {
            hole: Some(9.0),
            ..settings()
        },
    )
    .unwrap();
    assert!(holed.outline.marks.is_empty() && holed.cuts.len() == made.cuts.len() + 1);
}

#[test]
fn the_stock_is_minded() {
    let stock = Stock::rectangle(120.0, 80.0).unwrap();
    let at = |x: f64, y: f64| {
        Placement {
            piece: 0,
            copy: 0,
            turn: 0.0,
            shift: Vec2::new(x, y),
        }
        .apply(&burner_plate())
    };
    let with = |o: &Outline| {
        plan(
            o,
            &CutSettings {
                stock: Some(stock.clone()),
                reach: Some((110.0, 90.0)),
                ..settings()
            },
        )
        .unwrap()
    };
    let good = with(&at(5.0, 5.0));
    assert!(
        good.warnings
            .iter()
            .all(|w| w.kind != WarningKind::OffStock)
    );
    let over = with(&at(25.0, 5.0));
    assert!(
        over.warnings
            .iter()
            .any(|w| w.kind == WarningKind::OffStock)
    );
    assert!(
        over.warnings
            .iter()
            .any(|w| w.kind == WarningKind::OutOfReach)
    );
    assert!(
        (good.totals.stock_use.unwrap() - (5914.15926535898 - PI * 144.0) / 9600.0).abs() < 1e-9
    );
}

#[test]
fn bridges_hold_a_part() {
    let made = plan(
        &burner_plate(),
        &CutSettings {
            bridges: 3,
            ..settings()
        },
    )
    .unwrap();
    check_plan(&made);
    let part: Vec<&Cut> = made.cuts.iter().filter(|c| c.role == Role::Part).collect();
    assert_eq!(part.len(), 3);
    let path: f64 = part.iter().flat_map(|c| &c.path).map(Edge::length).sum();
    let whole = 302.831853071796 + TAU * 0.75;
    assert!((whole - path - 3.0 * (1.5 + 1.5)).abs() < 1e-6);
}

/// A random star of lines and arcs about a place, with round holes in it.
fn random_outline(dice: &mut Dice, at: Point) -> Outline {
    let unit = |d: &mut Dice| d.below(10_000) as f64 / 10_000.0;
    let n = 3 + dice.below(9);
    let size = 15.0 + 60.0 * unit(dice);
    let corners: Vec<Point> = (0..n)
        .map(|i| {
            let angle = TAU * (i as f64 + 0.6 * unit(dice)) / n as f64;
            at + Vec2::from_angle(angle) * (size * (0.55 + 0.45 * unit(dice)))
        })
        .collect();
    let shapes = (0..n)
        .map(|_| match dice.below(3) {
            0 => Shape::Arc {
                sweep: (unit(dice) - 0.5) * 0.9,
            },
            _ => Shape::Line,
        })
        .collect();
    let mut loops = vec![of(Role::Part, Path::Chain(Chain { corners, shapes }))];
    for k in 0..dice.below(4) {
        let way = Vec2::from_angle(TAU * (k as f64 + 0.3 * unit(dice)) / 4.0);
        let center = at + way * (0.22 * size);
        loops.push(of(
            Role::Hole,
            circle(center.x, center.y, (0.02 + 0.11 * unit(dice)) * size),
        ));
    }
    outline(loops)
}

#[test]
fn a_thousand_random_outlines() {
    let mut dice = Dice(0x1234_5678_9ABC_DEF1);
    let mut planned = 0;
    for _ in 0..1000 {
        let o = random_outline(&mut dice, Point::new(300.0, -200.0));
        let kerf = 0.8 + 0.1 * dice.below(20) as f64;
        match plan(&o, &CutSettings { kerf, ..settings() }) {
            Ok(made) => {
                check_plan(&made);
                planned += 1;
            }
            Err(e) => assert!(e.to_string().contains("crosses"), "{e}"),
        }
    }
    assert!(planned > 900, "{planned}");
}

#[test]
fn two_hundred_parts_with_holes_in_order() {
    let mut all = outline(Vec::new());
    let mut dice = Dice(99);
    for i in 0..200 {
        let at = Point::new(f64::from(i % 20) * 160.0, f64::from(i / 20) * 160.0);
        all.loops.extend(random_outline(&mut dice, at).loops);
    }
    let begin = std::time::Instant::now();
    let made = plan(&all, &settings()).unwrap();
    let took = begin.elapsed();
    check_plan(&made);
    let ratio = made.totals.travel / made.totals.travel_bound;
    println!(
        "{} cuts, {took:?}, travel {:.0}, bound {:.0}, ratio {ratio:.3}, warm {}",
        made.cuts.len(),
        made.totals.travel,
        made.totals.travel_bound,
        made.totals.warm_in_a_row
    );
    assert!(ratio < 1.25);
}

#[test]
fn a_hole_hardly_wider_than_the_kerf_is_pierced_in_its_middle() {
    let plate = outline(vec![
        of(
            Role::Part,
            closed(&[(0.0, 0.0), (60.0, 0.0), (60.0, 40.0), (0.0, 40.0)]),
        ),
        of(Role::Hole, circle(30.0, 20.0, 0.8)),
    ]);
    let made = plan(&plate, &CutSettings::new(1.5, 2400.0, 0.4)).unwrap();
    let hole = made.cuts.iter().find(|c| c.role == Role::Hole).unwrap();
    assert!(hole.pierce.at.distance(Point::new(30.0, 20.0)) < 1e-9);
    assert!((hole.lead_in[0].length() - 0.05).abs() < 1e-9);
    assert!(made.warnings.iter().any(|w| w.kind == WarningKind::NoLead));
}

/// What is kept as data is the same when it comes back, bit for bit: the plan with its outline, settings and doubts.
#[test]
fn a_plan_and_its_outline_read_back_as_they_were() {
    let mut settings = settings();
    settings.stock = Some(Stock::rectangle(700.0, 500.0).unwrap());
    settings.hole = Some(6.0);
    let made = plan(&burner_plate(), &settings).unwrap();
    let text = serde_json::to_string(&made).unwrap();
    assert_eq!(serde_json::from_str::<Plan>(&text).unwrap(), made);
    let round = Circle {
        center: Point::new(1.0 / 3.0, -0.1),
        radius: 7.7,
        counter_clockwise: true,
    };
    let outline = outline(vec![of(Role::Part, Path::Circle(round))]);
    let text = serde_json::to_string(&outline).unwrap();
    assert_eq!(
        text,
        "{\"loops\":[{\"role\":\"part\",\"path\":{\"circle\":{\"center\":[0.3333333333333333,-0.1],\"radius\":7.7,\"counter_clockwise\":true}}}],\"marks\":[]}"
    );
    assert_eq!(serde_json::from_str::<Outline>(&text).unwrap(), outline);
}

#[test]
fn what_falls_from_a_hole_with_a_bridged_part_in_it_is_bridged_too() {
    let square = |a: f64, b: f64| closed(&[(a, a), (b, a), (b, b), (a, b)]);
    let nested = outline(vec![
        of(Role::Part, square(0.0, 160.0)),
        of(Role::Hole, square(20.0, 140.0).reversed()),
        of(Role::Part, square(50.0, 110.0)),
    ]);
    let settings = CutSettings {
        bridges: 3,
        ..CutSettings::new(1.5, 2000.0, 0.5)
    };
    let plan = plan(&nested, &settings).unwrap();
    assert_eq!(
        (
            plan.cuts.len(),
            plan.cuts.iter().filter(|c| c.closed).count()
        ),
        (9, 0)
    );
}

#[test]
fn an_inner_fillet_smaller_than_the_torch_is_no_closed_mouth() {
    let window = |r: f64| {
        let corners = [(r, 0.0), (40.0 - r, 0.0), (40.0, r), (40.0, 20.0 - r)];
        let back = [(40.0 - r, 20.0), (r, 20.0), (0.0, 20.0 - r), (0.0, r)];
        let path = Path::Chain(Chain {
            corners: corners
                .iter()
                .chain(&back)
                .map(|&(x, y)| Point::new(x + 40.0, y + 30.0))
                .collect(),
            shapes: [Shape::Line, Shape::Arc { sweep: FRAC_PI_2 }].repeat(4),
        });
        let plate = closed(&[(0.0, 0.0), (120.0, 0.0), (120.0, 80.0), (0.0, 80.0)]);
        outline(vec![of(Role::Part, plate), of(Role::Hole, path.reversed())])
    };
    for r in [0.2, 0.5, 0.74, 1.0] {
        let plan = plan(&window(r), &CutSettings::new(1.5, 2000.0, 0.5)).unwrap();
        assert!(plan.doubts.is_empty(), "{r}: {:?}", plan.doubts);
    }
}

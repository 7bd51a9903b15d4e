//! Blanks from scrap, checked by an independent polygon library (`geo`) and written out for another
//! (`tests/outside/blanks.py` reads `target/blanks/*.json`).

use crate::chance::Chance;
use core::f64::consts::{PI, TAU};
use geo::{Area, BoundingRect, Contains, Distance, Euclidean, Intersects};
use geo_types::{Coord, LineString, Polygon};
use std::time::Instant;
use trued::cut::layout::Turns;
use trued::cut::stock::Stock;
use trued::jobs::blanks::rectangle;
use trued::jobs::{Blanks, BlanksSettings, blanks};
use trued::{Chain, Circle, Loop, Outline, Path, Point, Role, Shape, Vec2};

fn chain(corners: &[(f64, f64)]) -> Path {
    Path::Chain(Chain {
        corners: corners.iter().map(|&(x, y)| Point::new(x, y)).collect(),
        shapes: vec![Shape::Line; corners.len()],
    })
}

fn part(path: Path) -> Outline {
    Outline {
        loops: vec![Loop {
            role: Role::Part,
            path,
            deviation: None,
        }],
        marks: Vec::new(),
    }
}

/// The blanks of the kiln cart and its hood: hinge leaf, gusset with a clipped corner, round-ended tab, disc.
pub fn blank(which: usize) -> (&'static str, Outline) {
    let hole = |x: f64, y: f64, radius: f64| Loop {
        role: Role::Hole,
        path: Path::Circle(Circle {
            center: Point::new(x, y),
            radius,
            counter_clockwise: false,
        }),
        deviation: None,
    };
    match which % 5 {
        0 => {
            let mut leaf = part(chain(&[(0.0, 0.0), (80.0, 0.0), (80.0, 50.0), (0.0, 50.0)]));
            leaf.loops
                .extend([hole(15.0, 25.0, 4.0), hole(65.0, 25.0, 4.0)]);
            ("hinge leaf", leaf)
        }
        1 => (
            "gusset",
            part(chain(&[
                (0.0, 0.0),
                (90.0, 0.0),
                (90.0, 20.0),
                (20.0, 90.0),
                (0.0, 90.0),
            ])),
        ),
        2 => {
            let end = Shape::Arc { sweep: PI };
            let corners = [(15.0, 0.0), (75.0, 0.0), (75.0, 30.0), (15.0, 30.0)];
            let path = Path::Chain(Chain {
                corners: corners.iter().map(|&(x, y)| Point::new(x, y)).collect(),
                shapes: vec![Shape::Line, end, Shape::Line, end],
            });
            ("round-ended tab", part(path))
        }
        3 => {
            let disc = Circle {
                center: Point::new(30.0, 30.0),
                radius: 30.0,
                counter_clockwise: true,
            };
            ("damper disc", part(Path::Circle(disc)))
        }
        _ => (
            "angle bracket",
            part(chain(&[
                (0.0, 0.0),
                (100.0, 0.0),
                (100.0, 30.0),
                (30.0, 30.0),
                (30.0, 80.0),
                (0.0, 80.0),
            ])),
        ),
    }
}

/// A scrap: a ragged round outline or a sheared off corner piece, with an opening or two.
pub fn scrap(c: &mut Chance) -> Stock {
    let border = if c.below(2) == 0 {
        let n = 10 + c.below(8);
        let corners: Vec<(f64, f64)> = (0..n)
            .map(|k| {
                let p = Vec2::from_angle(TAU * k as f64 / n as f64) * c.within(170.0, 260.0);
                (p.x * 1.3 + 300.0, p.y + 260.0)
            })
            .collect();
        chain(&corners)
    } else {
        let (w, h) = (c.within(400.0, 600.0), c.within(250.0, 450.0));
        let bite = (c.within(0.3, 0.6) * w, c.within(0.3, 0.6) * h);
        chain(&[
            (0.0, 0.0),
            (w, 0.0),
            (w, h - bite.1),
            (w - bite.0, h - bite.1),
            (w - bite.0 - 20.0, h),
            (0.0, h),
        ])
    };
    let middle = Point::new(c.within(150.0, 250.0), c.within(120.0, 220.0));
    let hole = Circle {
        center: middle,
        radius: c.within(10.0, 35.0),
        counter_clockwise: true,
    };
    Stock {
        border,
        openings: vec![Path::Circle(hole)],
    }
}

fn polygon(path: &Path, holes: &[Path]) -> Polygon {
    let ring = |p: &Path| -> LineString {
        LineString(
            p.flatten(1e-3)
                .iter()
                .map(|p| Coord { x: p.x, y: p.y })
                .collect(),
        )
    };
    Polygon::new(ring(path), holes.iter().map(ring).collect())
}

/// Inside the scrap, off its edge, apart from each other; by `geo`, on outlines flattened to 0.001 mm.
fn check(b: &Blanks, scrap: &Stock, s: &BlanksSettings) -> f64 {
    let plate = polygon(&scrap.border, &scrap.openings);
    let pieces: Vec<Polygon> = b
        .outline
        .loops
        .iter()
        .filter(|l| l.role == Role::Part)
        .map(|l| polygon(&l.path, &[]))
        .collect();
    assert_eq!(pieces.len(), b.layout.fits_in_all());
    let (between, edge) = (s.kerf + s.gap, 0.5 * s.kerf + s.edge);
    let mut tightest = f64::INFINITY;
    for (i, p) in pieces.iter().enumerate() {
        assert!(plate.contains(p), "blank {i} leaves the scrap");
        let mut rings = vec![plate.exterior()];
        rings.extend(plate.interiors());
        for ring in rings {
            let room = Euclidean.distance(p.exterior(), ring);
            assert!(room > edge - 0.003, "blank {i} is {room} from the edge");
        }
        for q in &pieces[..i] {
            assert!(!p.intersects(q));
            let room = Euclidean.distance(p, q);
            assert!(room > between - 0.003, "{room}");
            tightest = tightest.min(room);
        }
    }
    tightest
}

/// A case as JSON: rings in mm, distances, which turns, and the pieces as laid out.
fn case(blank: &Outline, scrap: &Stock, s: &BlanksSettings, b: &Blanks) -> String {
    let ring = |p: &Path| -> String {
        let points: Vec<String> = p
            .flatten(0.02)
            .iter()
            .map(|p| format!("[{},{}]", p.x, p.y))
            .collect();
        format!("[{}]", points.join(","))
    };
    let rings = |paths: &[&Path]| -> String {
        format!(
            "[{}]",
            paths.iter().map(|p| ring(p)).collect::<Vec<_>>().join(",")
        )
    };
    let placed: Vec<&Path> = b
        .outline
        .loops
        .iter()
        .filter(|l| l.role == Role::Part)
        .map(|l| &l.path)
        .collect();
    format!(
        "{{\"blank\":{},\"border\":{},\"openings\":{},\"between\":{},\"edge\":{},\"turns\":\"{:?}\",\"placed\":{}}}",
        ring(&blank.loops[0].path),
        ring(&scrap.border),
        rings(&scrap.openings.iter().collect::<Vec<_>>()),
        s.kerf + s.gap,
        0.5 * s.kerf + s.edge,
        s.turns,
        rings(&placed)
    )
}

#[test]
fn every_layout_lies_inside_and_keeps_its_gaps() {
    let mut cases = Vec::new();
    let (mut tightest, mut placed, mut slowest) = (f64::INFINITY, 0, 0.0f64);
    for seed in 0..20 {
        let mut c = Chance::new(seed);
        let (_, blank) = blank(seed as usize);
        let scrap = scrap(&mut c);
        let mut s = BlanksSettings::new(60, 1.5);
        s.turns = [
            Turns::None,
            Turns::Half,
            Turns::Quarter,
            Turns::QuarterAndEdges,
        ][c.below(4)];
        s.missing = false;
        let start = Instant::now();
        let b = blanks(&blank, &scrap, &s).unwrap();
        slowest = slowest.max(start.elapsed().as_secs_f64());
        placed += b.layout.fits_in_all();
        tightest = tightest.min(check(&b, &scrap, &s) - 4.5);
        cases.push(case(&blank, &scrap, &s, &b));
    }
    // For the other polygon library, which packs the same cases at random.
    let file = concat!(env!("CARGO_TARGET_TMPDIR"), "/blanks.json");
    std::fs::write(file, format!("[\n{}\n]\n", cases.join(",\n"))).unwrap();
    println!(
        "blanks: 20 layouts, {placed} blanks: all inside, least room beyond the gap {tightest:.4} mm; slowest {slowest:.2} s"
    );
    assert!(placed > 200);
}

#[test]
fn says_what_the_scrap_lacks_and_that_is_enough() {
    // Two rows of four 80 × 50 leaves: 4.5 mm between, 5.75 mm to the edge.
    let (_, leaf) = blank(0);
    let long = |n: f64| n * 80.0 + (n - 1.0) * 4.5 + 2.0 * 5.75;
    let scrap = Stock::rectangle(long(4.0) - 22.0, 2.0 * 50.0 + 4.5 + 11.5 + 0.5).unwrap();
    let mut s = BlanksSettings::new(8, 1.5);
    s.turns = Turns::None;
    let b = blanks(&leaf, &scrap, &s).unwrap();
    println!("blanks: {}", b.sentence);
    assert_eq!(b.layout.fits_in_all(), 6);
    let missing = b.missing.unwrap();
    assert!((22.0..=24.0).contains(&missing.length), "{missing:?}");
    assert!(
        b.sentence.starts_with("6 of 8 fit; the scrap would need 2"),
        "{}",
        b.sentence
    );
    let longer = Stock::rectangle(long(4.0) - 22.0 + missing.length, 116.5).unwrap();
    assert_eq!(blanks(&leaf, &longer, &s).unwrap().sentence, "all 8 fit");
}

#[test]
fn the_growth_is_enough_on_ragged_scraps() {
    for seed in 0..4 {
        let mut c = Chance::new(100 + seed);
        let (name, blank) = blank(seed as usize);
        let scrap = scrap(&mut c);
        let mut s = BlanksSettings::new(1, 1.5);
        s.missing = false;
        s.count = blanks(&blank, &scrap, &BlanksSettings { count: 60, ..s })
            .unwrap()
            .layout
            .fits_in_all()
            + 3;
        s.missing = true;
        let start = Instant::now();
        let b = blanks(&blank, &scrap, &s).unwrap();
        println!(
            "blanks: {name}: {} ({:.1} s)",
            b.sentence,
            start.elapsed().as_secs_f64()
        );
        assert!(
            b.missing
                .is_some_and(|m| m.length > 0.0 && m.length < 400.0)
        );
    }
}

#[test]
fn grain_is_kept_where_asked() {
    let (_, leaf) = blank(0);
    let scrap = Stock::rectangle(400.0, 300.0).unwrap();
    let mut s = BlanksSettings::new(12, 1.5);
    s.turns = Turns::None;
    let b = blanks(&leaf, &scrap, &s).unwrap();
    assert!(b.layout.placements.iter().all(|p| p.turn == 0.0));
    s.turns = Turns::Half;
    let b = blanks(&leaf, &scrap, &s).unwrap();
    assert!(
        b.layout
            .placements
            .iter()
            .all(|p| p.turn.abs() < 1e-12 || (p.turn.abs() - PI).abs() < 1e-12)
    );
    // Holes come along.
    assert_eq!(b.outline.loops.len(), 3 * b.layout.fits_in_all());
}

#[test]
fn nonsense_is_refused() {
    let scrap = Stock::rectangle(400.0, 300.0).unwrap();
    let leaf = rectangle(80.0, 50.0).unwrap();
    let refuse = |o: &Outline, s: BlanksSettings| blanks(o, &scrap, &s).unwrap_err().to_string();
    assert!(refuse(&leaf, BlanksSettings::new(0, 1.5)).contains("how many"));
    assert!(refuse(&leaf, BlanksSettings::new(3, f64::NAN)).contains("kerf"));
    assert!(refuse(&leaf, BlanksSettings::new(3_000_000, 1.0)).contains("limit"));
    assert!(rectangle(-1.0, 5.0).is_err());
    let _ = refuse(&Outline::default(), BlanksSettings::new(3, 1.5));
    let large = rectangle(390.0, 250.0).unwrap();
    let b = blanks(&large, &scrap, &BlanksSettings::new(1, 1.5)).unwrap();
    assert_eq!(b.layout.fits_in_all(), 0);
    println!("blanks: {}", b.sentence);
    assert!(
        polygon(&large.loops[0].path, &[])
            .bounding_rect()
            .unwrap()
            .width()
            > 389.0
    );
    assert!(polygon(&large.loops[0].path, &[]).unsigned_area() > 1.0);
}

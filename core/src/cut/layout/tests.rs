use super::*;
use crate::Role;
use crate::geom::Edge;
use crate::geom::near;
use crate::outline::Shape as EdgeShape;

fn closed(corners: &[(f64, f64)]) -> Path {
    Path::Chain(Chain {
        corners: corners.iter().map(|&(x, y)| Point::new(x, y)).collect(),
        shapes: vec![EdgeShape::Line; corners.len()],
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

fn rectangle(w: f64, h: f64) -> Outline {
    part(closed(&[(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)]))
}

fn circle(r: f64) -> Outline {
    part(Path::Circle(Circle {
        center: Point::new(7.0, -3.0),
        radius: r,
        counter_clockwise: true,
    }))
}

fn gusset() -> Outline {
    part(closed(&[
        (0.0, 0.0),
        (80.0, 0.0),
        (80.0, 15.0),
        (15.0, 80.0),
        (0.0, 80.0),
    ]))
}

fn corner_plate() -> Outline {
    part(closed(&[
        (0.0, 0.0),
        (90.0, 0.0),
        (90.0, 30.0),
        (30.0, 30.0),
        (30.0, 70.0),
        (0.0, 70.0),
    ]))
}

fn edges(o: &Outline) -> Vec<Edge> {
    o.loops.iter().flat_map(|l| l.path.edges()).collect()
}

/// Independent of the no-fit regions: true distances between true edges.
fn check(pieces: &[(Outline, usize)], stock: &Stock, spacing: Spacing, found: &Layout) {
    let set: Vec<Vec<Edge>> = found
        .placements
        .iter()
        .map(|p| edges(&p.apply(&pieces[p.piece].0)))
        .collect();
    let gap = |a: &[Edge], b: &[Edge]| {
        a.iter()
            .flat_map(|e| b.iter().map(|f| near::nearest(e, f).distance))
            .fold(f64::INFINITY, f64::min)
    };
    for (i, a) in set.iter().enumerate() {
        for b in set.iter().take(i) {
            assert!(
                gap(a, b) >= spacing.between - 1e-6,
                "pieces {} apart",
                gap(a, b)
            );
            assert!(!near::inside(a, b[0].from()) && !near::inside(b, a[0].from()));
        }
        let border = stock.border.edges();
        assert!(near::inside(&border, a[0].point_at(0.5)));
        assert!(gap(a, &border) >= spacing.edge - 1e-6);
        for opening in &stock.openings {
            assert!(gap(a, &opening.edges()) >= spacing.edge - 1e-6);
            assert!(!near::inside(&opening.edges(), a[0].from()));
        }
    }
}

const TIGHT: Spacing = Spacing {
    between: 0.0,
    edge: 0.0,
};
const USUAL: Spacing = Spacing {
    between: 4.5,
    edge: 4.5,
};

#[test]
fn squares_that_fill_the_plate_exactly_all_fit() {
    let stock = Stock::rectangle(1000.0, 200.0).unwrap();
    let pieces = [(rectangle(100.0, 100.0), 25)];
    let found = layout(&pieces, &stock, TIGHT, Turns::Quarter).unwrap();
    check(&pieces, &stock, TIGHT, &found);
    assert_eq!((found.fits_in_all(), found.asked_in_all()), (20, 25));
    assert!((found.use_of_stock - 1.0).abs() < 1e-12);
}

#[test]
fn one_piece_as_large_as_the_plate_fits_only_turned() {
    let stock = Stock::rectangle(300.0, 200.0).unwrap();
    let pieces = [(rectangle(191.0, 291.0), 2)];
    let found = layout(&pieces, &stock, USUAL, Turns::Quarter).unwrap();
    check(&pieces, &stock, USUAL, &found);
    assert_eq!(found.fits, [1]);
    let found = layout(&pieces, &stock, USUAL, Turns::Half).unwrap();
    assert_eq!(found.fits, [0]);
}

#[test]
fn gussets_nest_head_to_tail() {
    // Two gussets make a block; side by side in their own boxes only 12 would fit.
    let stock = Stock::rectangle(340.0, 265.0).unwrap();
    let pieces = [(gusset(), 40)];
    let found = layout(&pieces, &stock, USUAL, Turns::Quarter).unwrap();
    check(&pieces, &stock, USUAL, &found);
    assert!(found.fits_in_all() > 12, "{}", found.fits_in_all());
}

#[test]
fn mixed_pieces_keep_their_distances() {
    let stock = Stock::rectangle(600.0, 400.0).unwrap();
    let pieces = [
        (gusset(), 12),
        (corner_plate(), 12),
        (circle(22.0), 20),
        (rectangle(120.0, 35.0), 9),
    ];
    let found = layout(&pieces, &stock, USUAL, Turns::Quarter).unwrap();
    check(&pieces, &stock, USUAL, &found);
    assert!(found.use_of_stock > 0.55, "{}", found.use_of_stock);
    assert_eq!(
        found,
        layout(&pieces, &stock, USUAL, Turns::Quarter).unwrap()
    );
}

#[test]
fn a_scrap_with_an_opening_and_a_slanted_side() {
    let outline = Outline {
        loops: vec![
            Loop {
                role: Role::Part,
                path: closed(&[
                    (0.0, 0.0),
                    (400.0, 60.0),
                    (430.0, 300.0),
                    (150.0, 340.0),
                    (-20.0, 200.0),
                ]),
                deviation: None,
            },
            Loop {
                role: Role::Hole,
                path: Path::Circle(Circle {
                    center: Point::new(200.0, 170.0),
                    radius: 60.0,
                    counter_clockwise: false,
                }),
                deviation: None,
            },
        ],
        marks: Vec::new(),
    };
    let stock = Stock::from_outline(&outline, 12.0).unwrap();
    let pieces = [(rectangle(80.0, 40.0), 40), (circle(20.0), 10)];
    for turns in [Turns::None, Turns::Quarter, Turns::QuarterAndEdges] {
        let found = layout(&pieces, &stock, USUAL, turns).unwrap();
        check(&pieces, &stock, USUAL, &found);
        assert!(found.fits_in_all() >= 18, "{}", found.fits_in_all());
    }
}

#[test]
fn nonsense_is_refused_in_a_sentence() {
    let stock = Stock::rectangle(100.0, 100.0).unwrap();
    let pieces = [(rectangle(10.0, 10.0), 1)];
    let bad = Spacing {
        between: f64::NAN,
        edge: 0.0,
    };
    assert!(layout(&pieces, &stock, bad, Turns::None).is_err());
    assert!(
        layout(
            &[(rectangle(1.0, 1.0), MAX_PIECES + 1)],
            &stock,
            TIGHT,
            Turns::None
        )
        .is_err()
    );
    assert!(layout(&[(Outline::default(), 1)], &stock, TIGHT, Turns::None).is_err());
    assert!(Stock::rectangle(-1.0, 5.0).is_err());
    let bow = part(closed(&[(0.0, 0.0), (10.0, 10.0), (12.0, 0.0), (0.0, 9.0)]));
    assert!(layout(&[(bow, 1)], &stock, USUAL, Turns::None).is_err());
}

use super::*;
use crate::outline::{Chain, Circle, Loop, Shape};

fn polygon(corners: &[(f64, f64)]) -> Loop {
    Loop {
        role: Role::Part,
        path: Path::Chain(Chain {
            corners: corners.iter().map(|(x, y)| Point::new(*x, *y)).collect(),
            shapes: vec![Shape::Line; corners.len()],
        }),
        deviation: None,
    }
}

fn circle(x: f64, y: f64, radius: f64, role: Role) -> Loop {
    Loop {
        role,
        path: Path::Circle(Circle {
            center: Point::new(x, y),
            radius,
            counter_clockwise: role == Role::Part,
        }),
        deviation: None,
    }
}

fn reasons(loops: Vec<Loop>) -> Vec<Reason> {
    let outline = Outline {
        loops,
        marks: Vec::new(),
    };
    let problems = check(&outline);
    assert_eq!(problems.first().copied(), first_problem(&outline));
    problems.iter().map(|p| p.reason).collect()
}

const SQUARE: [(f64, f64); 4] = [(0.0, 0.0), (50.0, 0.0), (50.0, 50.0), (0.0, 50.0)];

#[test]
fn a_plate_with_holes_is_sound() {
    let loops = vec![
        polygon(&SQUARE),
        circle(15.0, 15.0, 5.0, Role::Hole),
        circle(35.0, 35.0, 8.0, Role::Hole),
    ];
    assert_eq!(reasons(loops), []);
}

#[test]
fn a_figure_of_eight_is_named_with_its_place() {
    let eight = polygon(&[(0.0, 0.0), (40.0, 30.0), (40.0, 0.0), (0.0, 20.0)]);
    let problems = check(&Outline {
        loops: vec![eight],
        marks: Vec::new(),
    });
    let crossing = problems
        .iter()
        .find(|p| p.reason == Reason::CrossesItself { other_edge: 2 });
    let at = crossing.map(|p| p.at);
    // Where y = 3x/4 meets y = 20 - x/2.
    assert!(
        at.is_some_and(|p| p.distance(Point::new(16.0, 12.0)) < 1e-9),
        "{problems:?}"
    );
}

#[test]
fn what_goes_back_over_itself_is_named() {
    let spike = polygon(&[
        (0.0, 0.0),
        (50.0, 0.0),
        (50.0, 50.0),
        (50.0, 20.0),
        (0.0, 50.0),
    ]);
    let found = reasons(vec![spike]);
    assert!(
        found.contains(&Reason::CrossesItself { other_edge: 2 }),
        "{found:?}"
    );
}

#[test]
fn loops_that_cross_lie_wrong_or_run_wrong() {
    let crossing = reasons(vec![polygon(&SQUARE), circle(50.0, 25.0, 10.0, Role::Hole)]);
    assert!(crossing.contains(&Reason::CrossesLoop {
        other_loop: 1,
        other_edge: 0
    }));
    let outside = reasons(vec![polygon(&SQUARE), circle(80.0, 25.0, 10.0, Role::Hole)]);
    assert_eq!(outside, [Reason::HoleOutside]);
    let inside = reasons(vec![polygon(&SQUARE), circle(25.0, 25.0, 10.0, Role::Part)]);
    assert_eq!(inside, [Reason::PartInside]);
    let mut wrong_way = circle(0.0, 0.0, 5.0, Role::Part);
    wrong_way.path = wrong_way.path.reversed();
    assert_eq!(reasons(vec![wrong_way]), [Reason::WrongWay]);
}

#[test]
fn short_edges_no_area_and_no_numbers() {
    let short = polygon(&[(0.0, 0.0), (50.0, 0.0), (50.0, 0.05), (50.0, 50.0)]);
    assert!(matches!(
        reasons(vec![short]).first(),
        Some(Reason::ShortEdge { .. })
    ));
    let flat = polygon(&[(0.0, 0.0), (50.0, 0.0), (25.0, 0.0)]);
    assert!(reasons(vec![flat]).contains(&Reason::NoArea));
    let nan = polygon(&[(0.0, 0.0), (f64::NAN, 0.0), (25.0, 5.0)]);
    assert_eq!(reasons(vec![nan]), [Reason::NotFinite]);
}

/// A circle that comes through the side of a square by five micrometres: half of what chords show.
#[test]
fn a_hole_that_comes_through_a_side_by_micrometres_is_named() {
    let through = circle(10.0 - 5e-3, 25.0, 10.0, Role::Hole);
    let found = reasons(vec![polygon(&SQUARE), through]);
    let crossed = |r: &Reason| matches!(r, Reason::CrossesLoop { other_loop: 1, .. });
    assert!(found.iter().any(crossed), "{found:?}");
    let inside = circle(10.0 + 5e-3, 25.0, 10.0, Role::Hole);
    assert_eq!(reasons(vec![polygon(&SQUARE), inside]), []);
}

/// An arc and a line that goes back along it, into the circle by a few micrometres and out again.
#[test]
fn an_edge_that_goes_back_through_the_one_before_is_named() {
    let mut cusp = polygon(&[
        (0.0, -20.0),
        (20.0, 0.0),
        (19.925, -3.0),
        (40.0, -3.0),
        (40.0, 40.0),
    ]);
    let quarter = Shape::Arc {
        sweep: core::f64::consts::FRAC_PI_2,
    };
    if let Path::Chain(chain) = &mut cusp.path {
        chain.shapes = vec![quarter, Shape::Line, Shape::Line, Shape::Line, Shape::Line];
    }
    let found = reasons(vec![cusp]);
    assert!(
        found.contains(&Reason::CrossesItself { other_edge: 1 }),
        "{found:?}"
    );
}

#[test]
fn a_slot_of_two_lines_and_two_half_circles_is_sound() {
    let half = Shape::Arc {
        sweep: core::f64::consts::PI,
    };
    let mut slot = polygon(&[(0.0, 0.0), (40.0, 0.0), (40.0, 12.0), (0.0, 12.0)]);
    if let Path::Chain(chain) = &mut slot.path {
        chain.shapes = vec![Shape::Line, half, Shape::Line, half];
    }
    assert_eq!(reasons(vec![slot]), []);
    // A lens of two arcs shares both corners and nothing else.
    let mut lens = polygon(&[(0.0, 0.0), (40.0, 0.0)]);
    if let Path::Chain(chain) = &mut lens.path {
        chain.shapes = vec![Shape::Arc { sweep: 1.0 }; 2];
    }
    assert_eq!(reasons(vec![lens]), []);
}

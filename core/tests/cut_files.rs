//! What is written from a plan: the program for the machine, the sheet, the template.

use trued::cut::tolerance::Class;
use trued::cut::{Accepted, CutSettings, Lay, Stock, Turns, job, pieces, plan};
use trued::format::figures;
use trued::format::look::Seen;
use trued::format::rs274::{self, Options};
use trued::format::template::Paper;
use trued::format::{Units, plan_dxf, plan_json, plan_svg, sheet, template};
use trued::{Chain, Circle, Loop, Mark, Outline, Path, Point, Role, Shape};

fn of(role: Role, path: Path) -> Loop {
    Loop {
        role,
        path,
        deviation: None,
    }
}

fn rectangle(x: f64, y: f64, w: f64, h: f64) -> Path {
    Path::Chain(Chain {
        corners: [(x, y), (x + w, y), (x + w, y + h), (x, y + h)]
            .map(|(x, y)| Point::new(x, y))
            .to_vec(),
        shapes: vec![Shape::Line; 4],
    })
}

fn circle(x: f64, y: f64, radius: f64) -> Path {
    Path::Circle(Circle {
        center: Point::new(x, y),
        radius,
        counter_clockwise: true,
    })
}

fn outline(loops: Vec<Loop>) -> Outline {
    Outline {
        loops,
        marks: Vec::new(),
    }
}

fn settings() -> CutSettings {
    let mut s = CutSettings::new(1.5, 2400.0, 0.4);
    s.title = "kiln cart <3>".into();
    s
}

fn program(outline: &Outline, options: Options) -> Vec<String> {
    let made = plan(outline, &settings()).unwrap();
    let text = rs274::write(made.cleared(&Accepted::All).unwrap(), options);
    text.lines().map(str::to_owned).collect()
}

#[test]
fn an_arc_as_the_standard_writes_it() {
    // NIST IR 6556, 3.5.3.2: G17 G2 x10 y16 i3 j4 from (7, 7) is an arc about (10, 11) of radius 5
    // that turns by -143.130102354156 degrees.
    let turn = -143.130_102_354_156_f64.to_radians();
    let arc = Path::Chain(Chain {
        corners: vec![Point::new(7.0, 7.0), Point::new(10.0, 16.0)],
        shapes: vec![Shape::Arc { sweep: turn }],
    });
    let lines = program(&outline(vec![of(Role::Open, arc)]), Options::default());
    assert!(lines.contains(&"G0 X7 Y7".to_owned()), "{lines:?}");
    assert!(lines.contains(&"G2 X10 Y16 I3 J4".to_owned()), "{lines:?}");
}

#[test]
fn the_torch_is_off_at_both_ends_and_on_every_way_between() {
    let both = outline(vec![
        of(Role::Part, rectangle(0.0, 0.0, 80.0, 50.0)),
        of(Role::Hole, circle(40.0, 25.0, 10.0)),
    ]);
    for units in [Units::Mm, Units::Inch] {
        let lines = program(
            &both,
            Options {
                units,
                dry_run: false,
            },
        );
        let bare: Vec<&String> = lines.iter().filter(|l| !l.starts_with('(')).collect();
        assert_eq!(bare[1], "M5");
        assert_eq!(bare[bare.len() - 2..], ["M5", "M2"]);
        let mut on = false;
        for line in &bare {
            on = match line.as_str() {
                "M3" => true,
                "M5" => false,
                _ => on,
            };
            assert!(!(on && line.starts_with("G0")), "{line}");
        }
        assert!(lines.iter().any(|l| l.contains("Local codes")));
        let dry = program(
            &both,
            Options {
                units,
                dry_run: true,
            },
        );
        let moves = |all: &[String]| -> Vec<String> {
            let moving = |l: &&String| {
                l.starts_with("G0")
                    || l.starts_with("G1 ")
                    || l.starts_with("G2 ")
                    || l.starts_with("G3 ")
            };
            all.iter().filter(moving).cloned().collect()
        };
        assert_eq!(moves(&lines), moves(&dry));
        assert!(!dry.contains(&"M3".to_owned()));
    }
}

/// Two plates alike but turned, a third kind, and a mark.
fn mixed() -> Outline {
    let mut all = outline(vec![
        of(Role::Part, rectangle(0.0, 0.0, 80.0, 50.0)),
        of(Role::Hole, circle(20.0, 25.0, 4.0)),
        of(Role::Hole, circle(60.0, 25.0, 4.0)),
        of(Role::Part, rectangle(100.0, 0.0, 50.0, 80.0)),
        of(Role::Hole, circle(125.0, 20.0, 4.0)),
        of(Role::Hole, circle(125.0, 60.0, 4.0)),
        of(Role::Part, circle(200.0, 40.0, 15.0)),
    ]);
    all.marks.push(Mark {
        at: Point::new(40.0, 10.0),
    });
    all
}

#[test]
fn the_sheet_counts_the_pieces_by_kind() {
    let mut s = settings();
    s.thickness = Some(3.0);
    s.tolerance = Some(Class::Coarse);
    let made = plan(&mixed(), &s).unwrap();
    let page = sheet::write(&made, &Seen::default(), Paper::A4, Units::Mm);
    // ISO 2768-1 c: 0.8 mm at 80 and 50, 0.5 mm at 8 and 30.
    for said in [
        "<td>A</td><td>2 ×</td><td>80.0 ± 0.8 × 50.0 ± 0.8 mm, 2 holes ⌀ 8.0 ± 0.5</td>",
        "<td>B</td><td>1 ×</td><td>⌀ 30.0 ± 0.5 mm</td>",
        "kiln cart &lt;3&gt;",
        "<dd>2400 mm/min</dd>",
        "left alone",
        "Local codes",
        "size:A4",
    ] {
        assert!(page.contains(said), "{said} is missing in\n{page}");
    }
    let inches = sheet::write(&made, &Seen::default(), Paper::Letter, Units::Inch);
    for said in ["3.150", "94.49 in/min", "0.0591 in", "size:letter"] {
        assert!(inches.contains(said), "{said} is missing in\n{inches}");
    }
}

#[test]
fn many_notes_of_a_kind_are_counted() {
    let mut many = outline(vec![of(Role::Part, rectangle(0.0, 0.0, 400.0, 50.0))]);
    many.marks = (0..30)
        .map(|i| Mark {
            at: Point::new(10.0 + 12.0 * f64::from(i), 25.0),
        })
        .collect();
    let made = plan(&many, &settings()).unwrap();
    assert_eq!(made.warnings.len(), 30);
    let notes = figures::notes(&made, Units::Mm);
    assert_eq!(notes.len(), 4);
    assert!(notes[3].contains("27 more"), "{notes:?}");
    // The plan itself keeps them all.
    assert_eq!(plan_json::write(&made).matches("left alone").count(), 30);
}

#[test]
fn a_template_takes_no_more_pages_than_it_must() {
    let pages = |path: Path| {
        let made = plan(&outline(vec![of(Role::Part, path)]), &settings()).unwrap();
        let page = template::write(&made, Paper::A4);
        (page.matches("class=\"page\"").count(), page)
    };
    // 186 x 257 mm are shown upright, 273 x 170 mm lying.
    let (count, page) = pages(circle(0.0, 0.0, 92.0));
    assert_eq!(count, 1);
    assert!(page.contains("must measure 100 mm") && page.contains("h100"));
    assert!(page.contains("local codes"));
    let (count, page) = pages(rectangle(0.0, 0.0, 260.0, 150.0));
    assert_eq!(count, 1);
    assert!(page.contains("A4 landscape"));
    // A ring of a frame: the middle of its three by three pages stays white.
    let (count, _) = pages(rectangle(0.0, 0.0, 540.0, 740.0));
    assert_eq!(count, 8);
    // The line is drawn in mm, nothing scaled.
    let (_, page) = pages(rectangle(0.0, 0.0, 120.0, 30.0));
    assert!(page.contains("M0.5 30.5 L120.5 30.5"), "{page}");
}

#[test]
fn drawings_name_roles_and_number_the_order() {
    let made = plan(&mixed(), &settings()).unwrap();
    let drawing = plan_svg::write(&made, Units::Mm);
    for i in 1..=made.cuts.len() {
        assert_eq!(drawing.matches(&format!("id=\"cut-{i}\"")).count(), 1);
    }
    let dxf = plan_dxf::write(
        made.cleared(&Accepted::All).unwrap(),
        Units::Mm,
        plan_dxf::Entities::Polylines,
    );
    for said in ["CUT_PARTS", "CUT_HOLES", "PIERCES", "Local codes"] {
        assert!(dxf.contains(said) && (said.starts_with("Local") == drawing.contains(said)));
    }
}

#[test]
fn all_of_one_input_is_moved_and_copied_together() {
    let line = Path::Chain(Chain {
        corners: vec![Point::new(300.0, 0.0), Point::new(350.0, 0.0)],
        shapes: vec![Shape::Line],
    });
    let mut s = settings();
    s.stock = Some(Stock::rectangle(900.0, 600.0).unwrap());
    let lay = Lay {
        copies: 2,
        gap: None,
        turns: Turns::Quarter,
    };
    let mut all = mixed();
    all.loops.push(of(Role::Open, line));
    let made = job(&[all.clone().into()], Some(lay), &s).unwrap();
    assert_eq!(made.layout.placements.len(), 2);
    let plan = made.plan.unwrap();
    assert_eq!(plan.outline.loops.len(), 2 * all.loops.len());
    // In each copy everything lies to everything else as it was traced.
    // A circle's start does not turn with it, its centre does.
    let place = |l: &Loop| match &l.path {
        Path::Circle(c) => c.center,
        Path::Chain(c) => c.corners[0],
    };
    let starts = |o: &Outline| -> Vec<Point> {
        let loops = o.loops.iter().map(place);
        loops.chain(o.marks.iter().map(|m| m.at)).collect()
    };
    for placement in &made.layout.placements {
        let (here, there) = (starts(&all), starts(&placement.apply(&all)));
        for (i, a) in here.iter().enumerate() {
            for (j, b) in here.iter().enumerate() {
                assert!((a.distance(*b) - there[i].distance(there[j])).abs() < 1e-9);
            }
        }
    }
    // Parts may be asked for one by one; what lies outside them is one group more.
    assert_eq!(pieces(&all).len(), 4);
}

#[test]
fn a_piece_that_only_fits_with_short_leads_is_not_left_out() {
    let mut s = settings();
    let piece = [outline(vec![of(Role::Part, rectangle(0.0, 0.0, 80.0, 50.0))]).into()];
    let lay = |gap| Lay {
        copies: 1,
        gap,
        turns: Turns::None,
    };
    // 3 mm of lead and the kerf of 1.5 mm about it would need 89 x 59 mm.
    s.stock = Some(Stock::rectangle(85.0, 55.0).unwrap());
    let made = job(&piece, Some(lay(None)), &s).unwrap();
    assert_eq!(made.layout.fits_in_all(), 1);
    assert!(made.plan.unwrap().warnings.is_empty());
    // An asked gap is kept, and what does not fit is said with its size.
    let made = job(&piece, Some(lay(Some(3.0))), &s).unwrap();
    assert!(made.plan.is_none());
    let said = made.layout.left_out();
    assert!(said[0].0.contains("80.0 x 50.0") && said[0].0.contains("85.0 x 55.0"));
}

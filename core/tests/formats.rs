//! The readers against values from outside, and against broken input.

use proptest::prelude::*;
use trued::cut::{Figures, Turns};
use trued::format::{Content, Format, Input, Units, Wanted, document, read};
use trued::outline::Bounds;
use trued::outline::nesting::{loops_of_drawn, path_of_drawn};
use trued::report::{About, Doubt, Note};
use trued::{Arc, Chain, Edge, Loop, Outline, Path, Point, Refusal, Report, Role, Shape, Trace};

fn trace_of(name: &str, text: &str) -> (Trace, Vec<Note>) {
    match read(name, text.as_bytes(), Units::Mm) {
        Ok(Input {
            content: Content::Trace(trace),
            notes,
            ..
        }) => (trace, notes),
        other => panic!("{other:?}"),
    }
}

fn svg(attributes: &str, inside: &str) -> Trace {
    let text = format!("<svg xmlns=\"http://www.w3.org/2000/svg\" {attributes}>{inside}</svg>");
    trace_of("a.svg", &text).0
}

fn only(trace: &Trace) -> &[Edge] {
    match trace.drawn.as_slice() {
        [one] => one,
        other => panic!("{other:?}"),
    }
}

fn arc(edge: &Edge) -> Arc {
    match edge {
        Edge::Arc(arc) => *arc,
        Edge::Line(_) => panic!("{edge:?}"),
    }
}

fn close(a: f64, b: f64) {
    assert!((a - b).abs() <= 1e-9 * (1.0 + b.abs()), "{a} is not {b}");
}

fn dxf(header: &str, entities: &str) -> String {
    let lines = |text: &str| text.replace(' ', "\n");
    let header = if header.is_empty() {
        String::new()
    } else {
        format!("0\nSECTION\n2\nHEADER\n{}\n0\nENDSEC\n", lines(header))
    };
    format!(
        "{header}0\nSECTION\n2\nENTITIES\n{}\n0\nENDSEC\n0\nEOF\n",
        lines(entities)
    )
}

/// The published DXF reference, group code 42 (known at second hand, values recomputed): the bulge is the
/// tangent of a quarter of the included angle, negative when clockwise. Chord 10.
#[test]
fn bulges_are_a_quarter_of_the_included_angle() {
    let cases = [
        (0.414_213_562_373_095_f64, 90.0_f64, 7.071_067_811_87),
        (1.0, 180.0, 5.0),
        (2.414_213_562_373_09, 270.0, 7.071_067_811_87),
        (-0.414_213_562_373_095, -90.0, 7.071_067_811_87),
    ];
    for (bulge, degrees, radius) in cases {
        let text = dxf(
            "",
            &format!("0 LWPOLYLINE 90 2 70 0 10 0 20 0 42 {bulge} 10 10 20 0"),
        );
        let (trace, _) = trace_of("a.dxf", &text);
        let arc = arc(&only(&trace)[0]);
        assert!((arc.sweep.to_degrees() - degrees).abs() < 1e-9, "{arc:?}");
        assert!((arc.radius - radius).abs() < 1e-9, "{arc:?}");
    }
}

/// The same reference: on a closed polyline the last corner's bulge shapes the closing edge.
#[test]
fn the_last_bulge_of_a_closed_polyline_closes_it() {
    let new = "0 LWPOLYLINE 90 3 70 1 10 0 20 0 10 10 20 0 10 10 20 10 42 1";
    let old = "0 POLYLINE 66 1 70 1 0 VERTEX 10 0 20 0 0 VERTEX 10 10 20 0 0 VERTEX 10 10 20 10 42 1 0 SEQEND";
    for entities in [new, old] {
        let (trace, _) = trace_of("a.dxf", &dxf("", entities));
        let edges = only(&trace);
        assert_eq!(edges.len(), 3);
        let arc = arc(&edges[2]);
        close(arc.sweep, core::f64::consts::PI);
        assert_eq!(
            (arc.from, arc.to),
            (Point::new(10.0, 10.0), Point::new(0.0, 0.0))
        );
    }
}

#[test]
fn the_units_of_a_drawing_are_those_of_its_header() {
    let line = "0 LINE 10 1 20 0 11 3 21 0";
    let cases = [
        ("9 $INSUNITS 70 4", 2.0, 0),
        ("9 $INSUNITS 70 1", 50.8, 0),
        ("9 $INSUNITS 70 5", 20.0, 0),
        ("9 $INSUNITS 70 0 9 $MEASUREMENT 70 0", 50.8, 1),
        ("9 $MEASUREMENT 70 1", 2.0, 1),
        ("9 $INSUNITS 70 99", 2.0, 1),
        ("9 $INSUNITS 70 1 9 $MEASUREMENT 70 1", 50.8, 1),
        ("9 $INSUNITS 70 21", 2.0 * 1_200_000.0 / 3937.0, 0),
        ("", 2.0, 1),
    ];
    for (header, length, doubted) in cases {
        let input = read("a.dxf", dxf(header, line).as_bytes(), Units::Mm).expect("a line");
        let about: Vec<About> = input.doubts.iter().map(|d| d.about).collect();
        assert_eq!(about, vec![About::Units; doubted], "{header}");
        let Content::Trace(trace) = input.content else {
            panic!("a trace");
        };
        close(only(&trace)[0].length(), length);
    }
}

#[test]
fn lines_and_arcs_of_a_drawing_join_to_a_slot() {
    let slot = "0 LINE 10 0 20 0 11 40 21 0 0 LINE 10 0 20 12 11 40 21 12 \
                0 ARC 10 40 20 6 40 6 50 270 51 90 0 ARC 10 0 20 6 40 6 50 90 51 270";
    let (trace, _) = trace_of("a.dxf", &dxf("", slot));
    let path = path_of_drawn(only(&trace)).expect("edges");
    assert!(path.is_closed());
    // A rectangle and two half discs: 40·12 + π·6².
    close(path.area().abs(), 480.0 + core::f64::consts::PI * 36.0);
}

#[test]
fn what_is_seen_from_below_is_mirrored() {
    let (trace, _) = trace_of(
        "a.dxf",
        &dxf("", "0 ARC 10 5 20 0 40 2 50 0 51 90 210 0 220 0 230 -1"),
    );
    let arc = arc(&only(&trace)[0]);
    assert!(arc.center.distance(Point::new(-5.0, 0.0)) < 1e-9);
    assert!(arc.from.distance(Point::new(-7.0, 0.0)) < 1e-9 && arc.sweep < 0.0);
}

#[test]
fn sizes_of_a_picture_are_real() {
    let rect = "<rect x=\"0\" y=\"0\" width=\"30\" height=\"20\"/>";
    let cases = [
        (
            "width=\"60mm\" height=\"40mm\" viewBox=\"0 0 60 40\"",
            30.0,
            20.0,
        ),
        (
            "width=\"6cm\" height=\"4cm\" viewBox=\"0 0 600 400\"",
            3.0,
            2.0,
        ),
        ("width=\"3in\" viewBox=\"0 0 3 2\"", 762.0, 508.0),
        (
            "width=\"96px\" height=\"96px\"",
            30.0 * 25.4 / 96.0,
            20.0 * 25.4 / 96.0,
        ),
        ("width=\"60\" height=\"40\"", 30.0, 20.0),
        ("", 30.0, 20.0),
        (
            "width=\"60mm\" height=\"80mm\" viewBox=\"0 0 60 40\"",
            30.0,
            20.0,
        ),
        (
            "width=\"60mm\" height=\"80mm\" viewBox=\"0 0 60 40\" preserveAspectRatio=\"none\"",
            30.0,
            40.0,
        ),
        (
            "width=\"60mm\" height=\"80mm\" viewBox=\"0 0 60 40\" preserveAspectRatio=\"xMidYMid slice\"",
            60.0,
            40.0,
        ),
    ];
    for (attributes, width, height) in cases {
        let trace = svg(attributes, rect);
        let lengths: Vec<f64> = only(&trace).iter().map(Edge::length).collect();
        let [a, b, c, d] = lengths.as_slice() else {
            panic!("{attributes}: {lengths:?}");
        };
        for (got, want) in [(a, width), (c, width), (b, height), (d, height)] {
            assert!((got - want).abs() < 1e-9, "{attributes}: {lengths:?}");
        }
    }
}

/// A box of 40 by 40 on a page of 80 by 40 mm or of 40 by 80: where the square (10, 10) to (20, 20) of it lies, y up.
#[test]
fn a_picture_lies_on_its_page_as_its_aspect_says() {
    let square = r#"<rect x="10" y="10" width="10" height="10"/>"#;
    let (wide, high) = ((80, 40), (40, 80));
    let cases = [
        (wide, "", [30.0, 20.0, 40.0, 30.0]),
        (wide, "xMinYMid", [10.0, 20.0, 20.0, 30.0]),
        (wide, "xMaxYMin meet", [50.0, 20.0, 60.0, 30.0]),
        (wide, "none", [20.0, 20.0, 40.0, 30.0]),
        (wide, "xMidYMid slice", [20.0, 20.0, 40.0, 40.0]),
        (wide, "xMidYMin slice", [20.0, 0.0, 40.0, 20.0]),
        (wide, "xMidYMax slice", [20.0, 40.0, 40.0, 60.0]),
        (high, "", [10.0, 40.0, 20.0, 50.0]),
        (high, "xMidYMin", [10.0, 60.0, 20.0, 70.0]),
        (high, "xMidYMax", [10.0, 20.0, 20.0, 30.0]),
        (high, "xMinYMid slice", [20.0, 40.0, 40.0, 60.0]),
        (high, "xMaxYMid slice", [-20.0, 40.0, 0.0, 60.0]),
    ];
    for ((w, h), aspect, want) in cases {
        let said = format!(
            r#"width="{w}mm" height="{h}mm" viewBox="0 0 40 40" preserveAspectRatio="{aspect}""#
        );
        let reach = |trace: &Trace| {
            let b = trace
                .drawn
                .iter()
                .flatten()
                .map(Bounds::of_edge)
                .reduce(|a, b| a.union(&b));
            let b = b.expect("a square");
            [b.min.x, b.min.y, b.max.x, b.max.y]
        };
        let alone = reach(&svg(&said, square));
        // The same picture within another, and by a use.
        let page = r#"width="100mm" height="100mm" viewBox="0 0 100 100""#;
        let inner = format!(
            r#"width="{w}" height="{h}" viewBox="0 0 40 40" preserveAspectRatio="{aspect}""#
        );
        let sizeless = format!(r#"viewBox="0 0 40 40" preserveAspectRatio="{aspect}""#);
        let y = 100 - h;
        let nested = [
            format!(r#"<svg y="{y}" {inner}>{square}</svg>"#),
            format!(
                r##"<symbol id="s" {sizeless}>{square}</symbol><use href="#s" y="{y}" width="{w}" height="{h}"/>"##
            ),
            format!(r##"<symbol id="s" {inner}>{square}</symbol><use href="#s" y="{y}"/>"##),
            format!(
                r##"<defs><svg id="s" width="7" {sizeless}>{square}</svg></defs><use href="#s" y="{y}" width="{w}" height="{h}"/>"##
            ),
        ];
        let nested = nested.iter().map(|inside| reach(&svg(page, inside)));
        for got in nested.chain([alone]) {
            let off = got
                .iter()
                .zip(want)
                .map(|(a, b)| (a - b).abs())
                .fold(0.0, f64::max);
            assert!(off < 1e-9, "{w} {h} {aspect}: {got:?}");
        }
    }
}

#[test]
fn pictures_stand_upright_where_they_lie() {
    let trace = svg(
        "width=\"100mm\" height=\"50mm\" viewBox=\"0 0 100 50\"",
        "<path d=\"M10 40H30V10Z\"/>",
    );
    let corners: Vec<Point> = only(&trace).iter().map(Edge::from).collect();
    let want = [(10.0, 10.0), (30.0, 10.0), (30.0, 40.0)];
    assert_eq!(corners, want.map(|(x, y)| Point::new(x, y)));
}

#[test]
fn every_notation_of_one_square_is_one_square() {
    let notations = [
        "<path d=\"M10 10h20v20h-20z\"/>",
        "<path d=\"m10,10 20,0 0,20 -20,0z\"/>",
        "<path d=\"M10 10L30 10 30 30 10 30 10 10\"/>",
        "<polygon points=\"10,10 30,10 30 30 10 30\"/>",
        "<polyline points=\"10 10 30 10 30 30 10 30 10 10\"/>",
        "<rect x=\"10\" y=\"10\" width=\"20\" height=\"20\"/>",
        "<g transform=\"translate(10 10)\"><g transform=\"scale(20)\"><path d=\"M0 0h1v1h-1z\"/></g></g>",
        "<svg x=\"10\" y=\"10\" width=\"20\" height=\"20\" viewBox=\"0 0 2 2\"><rect width=\"2\" height=\"2\"/></svg>",
        "<line x1=\"10\" y1=\"10\" x2=\"30\" y2=\"10\"/><line x1=\"10\" y1=\"30\" x2=\"30\" y2=\"30\"/>\
         <line x1=\"10\" y1=\"10\" x2=\"10\" y2=\"30\"/><line x1=\"30\" y1=\"30\" x2=\"30\" y2=\"10\"/>",
        "<rect style=\"fill:none;display:none\" width=\"5\" height=\"5\"/><defs><rect width=\"9\" height=\"9\"/></defs>\
         <a><rect x=\"10\" y=\"10\" width=\"20\" height=\"20\"/></a>",
    ];
    for inside in notations {
        let trace = svg("viewBox=\"0 0 40 40\"", inside);
        assert!(trace.strokes.is_empty(), "{inside}");
        let edges = only(&trace);
        let path = path_of_drawn(edges).expect("edges");
        assert!(path.is_closed() && edges.len() == 4, "{inside}: {edges:?}");
        assert!((path.area().abs() - 400.0).abs() < 1e-9, "{inside}");
        for corner in [(10.0, 10.0), (30.0, 10.0), (30.0, 30.0), (10.0, 30.0)] {
            let corner = Point::new(corner.0, corner.1);
            assert!(
                edges.iter().any(|e| e.from().distance(corner) < 1e-9),
                "{inside}"
            );
        }
    }
}

#[test]
fn circles_in_any_notation_are_circles() {
    let notations = [
        "<circle cx=\"20\" cy=\"20\" r=\"8\"/>",
        "<ellipse cx=\"20\" cy=\"20\" rx=\"8\" ry=\"8\"/>",
        "<path d=\"M12 20a8 8 0 1 0 16 0a8 8 0 1 0-16 0z\"/>",
        "<path d=\"M28 20A8 8 0 0 1 20 28A8 8 0 0 1 12 20A8 8 0 0 1 20 12A8 8 0 0 1 28 20\"/>",
        "<rect x=\"12\" y=\"12\" width=\"16\" height=\"16\" rx=\"20\"/>",
        "<circle transform=\"rotate(30 20 20) matrix(2 0 0 -2 0 40)\" cx=\"10\" cy=\"10\" r=\"4\"/>",
    ];
    for inside in notations {
        let trace = svg("viewBox=\"0 0 40 40\"", inside);
        let Some(Path::Circle(c)) = path_of_drawn(only(&trace)) else {
            panic!("{inside}: {trace:?}");
        };
        assert!(
            c.center.distance(Point::new(20.0, 20.0)) < 1e-9,
            "{inside}: {c:?}"
        );
        assert!((c.radius - 8.0).abs() < 1e-9, "{inside}: {c:?}");
    }
}

/// W3C SVG 2, implementation notes B.2.4 and B.2.5 (values recomputed): seen y up, turns change sign.
#[test]
fn arcs_of_path_data_follow_the_w3c_notes() {
    let cases = [
        ("M0 0A3 3 0 0 1 10 0", 5.0, 0.0, 5.0, 180.0),
        (
            "M10 20A30 30 0 0 1 40 60",
            11.733_500_838_6,
            49.949_874_371_1,
            30.0,
            112.885_380_476,
        ),
        (
            "M10 20A30 30 0 1 1 40 60",
            38.266_499_161_4,
            30.050_125_628_9,
            30.0,
            247.114_619_524,
        ),
    ];
    for (d, x, y, radius, degrees) in cases {
        let trace = svg("", &format!("<path d=\"{d}\"/>"));
        let arc = arc(&only(&trace)[0]);
        assert!(
            arc.center.distance(Point::new(x, -y)) < 1e-8,
            "{d}: {arc:?}"
        );
        assert!((arc.radius - radius).abs() < 1e-9, "{d}: {arc:?}");
        assert!(
            (arc.sweep.to_degrees() + degrees).abs() < 1e-7,
            "{d}: {arc:?}"
        );
    }
}

/// Closed forms: a rectangle 100 × 60 with corners of 10 has the area 5914.15926535898 and the
/// perimeter 302.831853071796; a stadium 50 + r 10 has 1314.15926535898 (a straight part of 50
/// between half circles of 10) and 162.831853071796. A segment of chord 21 and height 6 has radius
/// 12.1875, angle 118.979525187769° (help.matheass.eu, "Circular sections") and area 89.2541483923753.
#[test]
fn areas_and_perimeters_with_arcs_are_exact() {
    let area = |inside: &str| {
        let trace = svg("", inside);
        let path = path_of_drawn(only(&trace)).expect("edges");
        (path.area().abs(), path.length())
    };
    let (a, p) = area("<rect width=\"100\" height=\"60\" rx=\"10\"/>");
    close(a, 5_914.159_265_358_98);
    close(p, 302.831_853_071_796);
    let (a, p) = area("<rect width=\"70\" height=\"20\" rx=\"10\"/>");
    close(a, 1_314.159_265_358_98);
    close(p, 162.831_853_071_796);
    let (a, _) = area("<path d=\"M0 0H21A12.1875 12.1875 0 0 0 0 0Z\"/>");
    close(a, 89.254_148_392_375_3);
    let trace = svg("", "<path d=\"M21 0A12.1875 12.1875 0 0 0 0 0\"/>");
    close(
        arc(&only(&trace)[0]).sweep.to_degrees(),
        118.979_525_187_769,
    );
}

#[test]
fn curves_and_many_short_edges_are_traces_where_that_is_said() {
    let traced = |inside: &str| {
        let text = format!("<svg xmlns=\"http://www.w3.org/2000/svg\">{inside}</svg>");
        let wanted = Wanted {
            traced: true,
            ..Wanted::default()
        };
        match read("a.svg", text.as_bytes(), wanted).map(|i| i.content) {
            Ok(Content::Trace(trace)) => trace,
            other => panic!("{other:?}"),
        }
    };
    let bezier = "<path d=\"M0 0C30 0 60 20 60 50S40 90 10 80Q-10 70 0 40T0 0Z\"/>";
    let trace = traced(bezier);
    assert_eq!((trace.drawn.len(), trace.strokes.len()), (0, 1));
    let points = &trace.strokes[0].points;
    assert_eq!(points.first(), points.last());
    for pair in points.windows(2) {
        assert!(pair[0].distance(pair[1]) < 0.75, "{pair:?}");
    }
    let trace = traced("<ellipse rx=\"30\" ry=\"20\"/>");
    for p in &trace.strokes[0].points {
        let (u, v) = (p.x / 30.0, p.y / 20.0);
        close(u * u + v * v, 1.0);
    }
    let many: String = (0..200).map(|i| format!("{} {} ", i, (i % 3))).collect();
    let many = format!("<polyline fill=\"none\" points=\"{many}\" stroke=\"red\"/>");
    let trace = traced(&many);
    assert_eq!((trace.drawn.len(), trace.point_count()), (0, 200));
    // A file may say so itself; a drawing that does not is a drawing.
    let said = svg("", &format!("<g data-trace=\"stylus\">{many}</g>{bezier}"));
    assert_eq!((said.drawn.len(), said.point_count()), (1, 200));
    let drawn = svg("", &many);
    assert_eq!((drawn.drawn[0].len(), drawn.strokes.len()), (199, 0));
}

/// A find of the soak: written and read back, fine teeth were a trace, and two arcs of one circle one arc.
#[test]
fn what_was_written_comes_back_edge_by_edge() {
    let tooth = |i: u32| Point::new(f64::from(i), f64::from(i % 2));
    let mut corners: Vec<Point> = (0..60).map(tooth).collect();
    corners.extend([
        Point::new(59.0, -20.0),
        Point::new(29.5, -49.5),
        Point::new(0.0, -20.0),
    ]);
    let mut shapes = vec![Shape::Line; 63];
    // Quarters of one circle, and most of a circle.
    for at in [60, 61] {
        shapes[at] = Shape::Arc {
            sweep: -core::f64::consts::FRAC_PI_2,
        };
    }
    shapes[62] = Shape::Arc { sweep: 5.0 };
    let written = Path::Chain(Chain { corners, shapes });
    let open = Path::Chain(Chain {
        corners: vec![Point::new(200.0, 0.0), Point::new(210.0, 0.0)],
        shapes: vec![Shape::Line],
    });
    let outline = Outline {
        loops: [
            (Role::Part, written.clone()),
            (Role::Open, open.clone()),
            (Role::Open, open.clone()),
        ]
        .map(|(role, path)| Loop {
            role,
            path,
            deviation: None,
        })
        .to_vec(),
        marks: Vec::new(),
    };
    for units in [Units::Mm, Units::Inch] {
        for (name, text) in [
            ("a.svg", trued::format::svg::write(&outline, units)),
            ("a.dxf", trued::format::dxf::write(&outline, units)),
        ] {
            let (trace, notes) = trace_of(name, &text);
            assert!(trace.strokes.is_empty(), "{name}: {notes:?}");
            let told = [written.edges(), open.edges(), open.edges()];
            assert_eq!(trace.drawn.len(), told.len(), "{name}");
            for (drawn, told) in trace.drawn.iter().zip(&told) {
                assert_eq!(drawn.len(), told.len(), "{name}");
                for (a, b) in drawn.iter().zip(told) {
                    close(a.from().distance(b.from()), 0.0);
                    close(a.length(), b.length());
                }
            }
        }
    }
}

/// A find of the fuzzer: the same by an arc that is sampled with the ellipse before it.
#[test]
fn an_arc_that_bulges_past_the_limit_is_refused_where_it_is_sampled() {
    let text = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 200 200\">\
        <path d=\"M93 88A0.5 20 0 0 0 59 88A99000 99000 0 1 0 59.7 88\"/></svg>";
    let said = read("a.svg", text.as_bytes(), Units::Mm)
        .map(|_| ())
        .map_err(|e| e.to_string());
    assert!(said.is_err_and(|e| e.contains("the limit of 100000 mm")));
}

/// A find of the fuzzer: the ends of an ellipse's arc lie within the limit, its middle does not.
#[test]
fn an_ellipse_that_bulges_past_the_limit_is_refused() {
    let text = "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"200mm\" viewBox=\"0 0 200 200\">\
        <path d=\"M29 158A2061157 20 0 0 0 50 177\"/></svg>";
    let said = read("a.svg", text.as_bytes(), Units::Mm)
        .map(|_| ())
        .map_err(|e| e.to_string());
    assert!(said.is_err_and(|e| e.contains("the limit of 100000 mm")));
}

#[test]
fn what_cannot_be_read_is_named() {
    let text = "<svg xmlns=\"http://www.w3.org/2000/svg\"><use href=\"#a\"/><use href=\"#b\"/>\
                <image/><circle r=\"4\"/></svg>";
    let (_, notes) = trace_of("a.svg", text);
    assert!(
        notes.iter().any(|n| n.text.contains("1 image")),
        "{notes:?}"
    );
    let text = dxf("", "0 POINT 10 1 20 1 0 HATCH 10 0 0 SPLINE 10 0 20 0");
    let input = read("a.dxf", text.as_bytes(), Units::Mm).expect("a mark");
    let lost = |d: &Doubt| {
        d.about == About::File && d.text.contains("1 HATCH whose rim is not drawn, 1 SPLINE")
    };
    assert!(input.doubts.iter().any(lost), "{:?}", input.doubts);
}

#[test]
fn deep_nesting_is_refused_not_followed() {
    let text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\">{}<circle r=\"3\"/>{}</svg>",
        "<g>".repeat(100_000),
        "</g>".repeat(100_000)
    );
    let refused = read("a.svg", text.as_bytes(), Units::Mm);
    assert!(matches!(refused, Err(Refusal::Limit { .. })), "{refused:?}");
    let text = format!("{}1{}", "[".repeat(100_000), "]".repeat(100_000));
    assert!(read("a.json", text.as_bytes(), Units::Mm).is_err());
}

#[test]
fn strokes_begin_at_labels_and_blank_lines() {
    let text = "stroke,x,y,t\na,0,0,0\na,1,0,5\nb,2,0,1\nb,3,0,\n\nb,4,0,2\na,5,0,3\n";
    let (trace, _) = trace_of("a.csv", text);
    let lengths: Vec<usize> = trace.strokes.iter().map(|s| s.points.len()).collect();
    assert_eq!(lengths, [2, 2, 1, 1]);
    let times: Vec<usize> = trace.strokes.iter().map(|s| s.times.len()).collect();
    assert_eq!(times, [2, 0, 1, 1]);
}

#[test]
fn ten_thousand_marks_are_read() {
    let rows: String = (0..10_000)
        .map(|i| format!("{i},{},{}\n", i % 100, i / 100))
        .collect();
    let (trace, _) = trace_of("a.csv", &format!("stroke,x,y\n{rows}"));
    assert_eq!(trace.strokes.len(), 10_000);
}

#[test]
fn hints_in_inches_become_mm() {
    let text = br#"{ "trued_hints": 1, "units": "in", "hints": [
        { "at": [1, 2], "size": 2 }, { "at": [0, 0], "corner": { "radius": 0.5 } },
        { "at": [0, 0], "corner": "sharp" }, { "at": [0, 0], "loop": "hole" } ] }"#;
    let hints = document::read_hints(text).expect("hints");
    let first = &hints[0];
    assert_eq!(first.at, Point::new(25.4, 50.8));
    assert_eq!(first.says, trued::hint::Says::Size(50.8));
    let again = document::read_hints(document::write_hints(&hints).as_bytes());
    assert_eq!(again, Ok(hints));
}

#[test]
fn a_saved_job_reads_back_byte_for_byte() {
    let (mut trace, _) = trace_of("a.csv", "x,y,t\n0,0,0\n0.1,0.30000000000000004,1\n9,9,2\n");
    trace.drawn = svg("", "<circle r=\"4\"/><path d=\"M0 0h50v20\"/>").drawn;
    let job = document::Job {
        scrap: Some(trace.clone()),
        trace,
        doubts: vec![Doubt::new(About::Units, "which unit")],
        cut: Box::new(Figures {
            kerf: Some(1.5),
            turns: Turns::None,
            title: "shelf".into(),
            ..Figures::default()
        }),
        ..document::Job::default()
    };
    let text = document::write_job(&job);
    assert!(text.contains("\"cut\": {\"kerf\":1.5,"), "{text}");
    let input = read("job.json", text.as_bytes(), Units::Mm).unwrap();
    let Content::Job(back) = input.content else {
        panic!("{:?}", input.content);
    };
    let back = document::Job {
        doubts: input.doubts,
        ..back
    };
    assert_eq!(back, job);
    assert_eq!(document::write_job(&back), text);
}

#[test]
fn a_turn_of_few_digits_is_worked_out_from_the_centre() {
    let text = br#"{ "trued": 1, "units": "mm", "loops": [ { "closed": false, "role": "open", "edges": [
        { "arc": { "from": [50,0], "to": [50,30], "center": [50,15], "radius": 15, "sweep": 3.14159 } } ] } ] }"#;
    let Ok(Content::Document(d)) = read("a.json", text, Units::Mm).map(|i| i.content) else {
        panic!("a document");
    };
    let edges = d.outline.loops[0].path.edges();
    close(arc(&edges[0]).sweep, core::f64::consts::PI);
    close(arc(&edges[0]).center.x, 50.0);
}

#[test]
fn documents_that_contradict_themselves_are_refused() {
    let document = |edges: &str, closed: bool, role: &str| {
        format!(
            "{{\"trued\":1,\"units\":\"mm\",\"loops\":[{{\"closed\":{closed},\"role\":\"{role}\",\"edges\":[{edges}]}}]}}"
        )
    };
    let line = |a: &str, b: &str| format!("{{\"line\":{{\"from\":{a},\"to\":{b}}}}}");
    let open = line("[0,0]", "[5,0]");
    let cases = [
        (document("", true, "part"), "no edges"),
        (
            document(&open, true, "part"),
            "not where the edge before it ends",
        ),
        (document(&open, false, "part"), "role says otherwise"),
        (
            document(&format!("{open},{}", line("[6,0]", "[9,9]")), false, "open"),
            "edge 2 starts at (6, 0)",
        ),
        (
            document(&line("[0,0]", "[1e9,0]"), false, "open"),
            "further from the origin",
        ),
        (
            document(&line("[0,0]", "[0,0]"), false, "open"),
            "starts and ends",
        ),
        (
            document(
                "{\"arc\":{\"from\":[0,0],\"to\":[9,0],\"center\":[0,5],\"radius\":3,\"sweep\":1}}",
                false,
                "open",
            ),
            "do not agree",
        ),
    ];
    for (text, sentence) in cases {
        let said = read("a.json", text.as_bytes(), Units::Mm).map_err(|e| e.to_string());
        assert!(
            said.as_ref().is_err_and(|e| e.contains(sentence)),
            "{sentence}: {said:?}"
        );
    }
}

/// How many broken files are tried: 2000, or as many as `BROKEN_FILES` says.
fn broken_files() -> u32 {
    let said = std::env::var("BROKEN_FILES").ok();
    said.and_then(|n| n.parse().ok()).unwrap_or(2000)
}

/// Files of every format to break.
fn whole_files() -> Vec<(&'static str, Vec<u8>)> {
    let entities = "0 LINE 10 0 20 0 11 40 21 0 0 ARC 10 40 20 6 40 6 50 270 51 90 0 POLYLINE 66 1 70 1 \
        0 VERTEX 10 0 20 0 42 1 0 VERTEX 10 9 20 0 0 SEQEND 0 LWPOLYLINE 90 2 70 1 10 0 20 0 42 .5 10 9 20 9 \
        0 CIRCLE 10 1 20 1 40 3 0 POINT 10 1 20 1";
    let picture = "<?xml version=\"1.0\"?><svg xmlns=\"http://www.w3.org/2000/svg\" width=\"60mm\" viewBox=\"0 0 60 40\">\
        <g transform=\"rotate(10) translate(3,4)\"><path d=\"M0 0L10 0A5 5 0 0 1 20 0C1 2 3 4 5 6S7 8 9 9Q1 1 2 2T3 3Z\"/>\
        <rect width=\"30\" height=\"20\" rx=\"3\"/><polyline points=\"1,2 3,4 5,6\"/><circle cx=\"50%\" cy=\"1cm\" r=\"5\"/></g></svg>";
    let drawn = svg(
        "",
        "<rect width=\"30\" height=\"20\" rx=\"3\"/><circle r=\"5\"/>",
    )
    .drawn;
    let outline = Outline {
        loops: loops_of_drawn(&drawn),
        marks: Vec::new(),
    };
    assert_eq!(outline.loops[0].role, Role::Part);
    vec![
        (
            "a.csv",
            b"# units: mm\nx,y,t,stroke\n0,0,0,a\n1.5,2e1,1,a\n\n3,4,,\"b\"\n".to_vec(),
        ),
        ("a.svg", picture.as_bytes().to_vec()),
        ("a.dxf", dxf("9 $INSUNITS 70 1", entities).into_bytes()),
        (
            "a.json",
            document::write(&outline, &Report::default()).into_bytes(),
        ),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(broken_files()) })]

    /// Bits flipped, cut, glued: an input or a sentence, never a panic.
    #[test]
    fn broken_files_give_a_sentence(
        which in 0..4_usize,
        flips in proptest::collection::vec((any::<proptest::sample::Index>(), any::<u8>()), 0..6),
        cut in any::<proptest::sample::Index>(),
        glue in any::<proptest::sample::Index>(),
        cuts in any::<bool>(),
    ) {
        let files = whole_files();
        let (name, whole) = &files[which];
        let mut bytes = whole.clone();
        for (at, byte) in flips {
            let at = at.index(bytes.len());
            bytes[at] = byte;
        }
        if cuts {
            bytes.truncate(cut.index(whole.len()));
            bytes.extend_from_slice(&whole[glue.index(whole.len())..]);
        }
        if let Err(refusal) = read(name, &bytes, Units::Mm) {
            let said = refusal.to_string();
            prop_assert!(!said.is_empty() && said.len() < 500, "{}", said);
            prop_assert!(!said.contains('\n'), "{}", said);
        }
        let _ = Format::of_bytes(&bytes);
        let _ = read("", &bytes, Units::Inch);
    }
}

/// A find of the fuzzer: a hint took an outline 283 m far by an arc whose ends lie within the limit.
#[test]
fn an_outline_whose_arc_bulges_past_the_limit_is_refused() {
    let text = r#"{ "trued": 1, "units": "mm", "loops": [ { "closed": false, "role": "open", "edges": [
        {"arc":{"from":[0,0],"to":[90000,0],"center":[45000,60000],"radius":75000,"sweep":5.0}} ] } ], "marks": [] }"#;
    let sweep = 2.0 * (std::f64::consts::PI - libm::atan2(45000.0, 60000.0));
    let text = text.replace("5.0", &format!("-{sweep}"));
    let refusal = read("arc.json", text.as_bytes(), Units::Mm)
        .unwrap_err()
        .to_string();
    assert!(
        refusal.contains("edge 1") && refusal.contains("135000"),
        "{refusal}"
    );
}

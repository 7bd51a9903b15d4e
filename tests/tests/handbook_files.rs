//! What files say against the standards that define them. The source stands beside each check.

use trued::format::{self, Content, Units};
use trued::{Arc, Edge, Trace};

fn read(name: &str, text: &str) -> Trace {
    match format::read(name, text.as_bytes(), Units::Mm).map(|i| i.content) {
        Ok(Content::Trace(trace)) => trace,
        other => panic!("{name}: {other:?}"),
    }
}

fn only_arc(path: &str) -> Arc {
    let svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"100mm\" height=\"100mm\" \
         viewBox=\"0 0 100 100\"><path d=\"{path}\"/></svg>"
    );
    match read("arc.svg", &svg).drawn.as_slice() {
        [chain] => match chain.as_slice() {
            [Edge::Arc(a)] => *a,
            other => panic!("{other:?}"),
        },
        other => panic!("{other:?}"),
    }
}

#[test]
fn arcs_of_svg_by_their_ends() {
    // W3C, SVG 2, implementation notes B.2.4 and B.2.5. The file's y points down, ours up: sweeps
    // change sign, and y is measured from the other edge of the drawing.
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
    for (path, x, y, r, degrees) in cases {
        let arc = only_arc(path);
        // Where the drawing's upper left corner lies is the reader's choice: measured from the
        // arc's own start.
        let start: Vec<f64> = path[1..path.find('A').expect("an arc")]
            .split(' ')
            .map(|w| w.parse().expect("a number"))
            .collect();
        let center = arc.center - arc.from;
        assert!((center.x - (x - start[0])).abs() < 1e-8, "{path}: {arc:?}");
        assert!((-center.y - (y - start[1])).abs() < 1e-8, "{path}: {arc:?}");
        assert!((arc.radius - r).abs() < 1e-8, "{path}: {arc:?}");
        assert!(
            (arc.sweep.to_degrees() + degrees).abs() < 1e-7,
            "{path}: {arc:?}"
        );
    }
}

#[test]
fn an_inch_is_25_4_mm() {
    // NBS Circular 572, addendum (1959): exactly.
    let trace = read("inch.csv", "# units: in\nx,y\n0,0\n1,0\n1,2\n0,2\n");
    let p = trace.strokes[0].points[2];
    assert_eq!((p.x, p.y), (25.4, 50.8));
}

#[test]
fn bulges_of_dxf() {
    // The published DXF reference, group code 42: tan(included angle / 4), negative clockwise; on a
    // closed polyline the last vertex's bulge shapes the closing edge.
    let dxf = "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n\
               0\nLWPOLYLINE\n8\n0\n90\n3\n70\n1\n10\n0.0\n20\n0.0\n42\n0.414213562373095\n\
               10\n10.0\n20\n0.0\n10\n0.0\n20\n10.0\n42\n2.41421356237309\n0\nENDSEC\n0\nEOF\n";
    let trace = read("bulge.dxf", dxf);
    let [chain] = trace.drawn.as_slice() else {
        panic!("{:?}", trace.drawn)
    };
    let [Edge::Arc(a), Edge::Line(_), Edge::Arc(b)] = chain.as_slice() else {
        panic!("{chain:?}")
    };
    for (arc, degrees) in [(a, 90.0), (b, 270.0)] {
        assert!((arc.radius - 7.071_067_811_87).abs() < 1e-9, "{arc:?}");
        assert!((arc.sweep.to_degrees() - degrees).abs() < 1e-9, "{arc:?}");
    }
    assert_eq!(b.to, a.from);
}

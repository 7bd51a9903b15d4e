//! What a drawing shows otherwise than it comes in is told: what is clipped, off the page, in space, elsewhere.

use trued::format::{Content, Input, Units, read};
use trued::outline::Bounds;
use trued::{Edge, Trace};

fn input(name: &str, text: &str) -> Input {
    read(name, text.as_bytes(), Units::Mm).unwrap_or_else(|e| panic!("{name}: {e}"))
}

fn trace(input: &Input) -> &Trace {
    match &input.content {
        Content::Trace(trace) => trace,
        other => panic!("{other:?}"),
    }
}

fn doubted(input: &Input, words: &str) -> bool {
    input.doubts.iter().any(|d| d.text.contains(words))
}

fn noted(input: &Input, words: &str) -> bool {
    input.notes.iter().any(|d| d.text.contains(words))
}

/// From left, bottom to right, top, mm.
fn reach(input: &Input) -> [f64; 4] {
    let all = trace(input).drawn.iter().flatten().map(Bounds::of_edge);
    let b = all.reduce(|a, b| a.union(&b)).expect("something is drawn");
    [b.min.x, b.min.y, b.max.x, b.max.y].map(|v| (v * 1e6).round() / 1e6)
}

/// A page of 100 by 100 mm.
fn svg(inside: &str) -> Input {
    let page = r#"width="100mm" height="100mm" viewBox="0 0 100 100""#;
    let space = r#"xmlns="http://www.w3.org/2000/svg""#;
    input("a.svg", &format!("<svg {space} {page}>{inside}</svg>"))
}

/// Groups written in one line, in mm.
fn dxf(blocks: &str, entities: &str) -> Input {
    let section = |name: &str, groups: &str| format!("0 SECTION 2 {name} {groups} 0 ENDSEC ");
    let all = format!(
        "{}{}{}0 EOF",
        section("HEADER", "9 $INSUNITS 70 4"),
        section("BLOCKS", blocks),
        section("ENTITIES", entities)
    );
    let words: Vec<&str> = all.split_whitespace().collect();
    input("a.dxf", &(words.join("\n") + "\n"))
}

#[test]
fn letters_sizes_are_what_em_counts_by() {
    let rect = r#"<rect x="1em" y="0" width="2em" height="10"/>"#;
    assert_eq!(reach(&svg(rect)), [16.0, 90.0, 48.0, 100.0]);
    let sized = format!(r#"<g style="font-size:10px"><g font-size="50%">{rect}</g></g>"#);
    assert_eq!(reach(&svg(&sized)), [5.0, 90.0, 15.0, 100.0]);
}

#[test]
fn what_a_picture_in_the_picture_cuts_off_is_doubted() {
    let nested = |said: &str, inside: &str| {
        svg(&format!(
            r#"<svg x="10" y="10" width="40" height="40" viewBox="0 0 20 20" {said}>{inside}</svg>"#
        ))
    };
    let (small, wide) = (
        r#"<rect x="5" y="5" width="10" height="10"/>"#,
        r#"<rect x="5" y="5" width="30" height="10"/>"#,
    );
    assert!(nested("", small).doubts.is_empty());
    assert!(doubted(&nested("", wide), "1 shape is clipped"));
    assert!(nested(r#"overflow="visible""#, wide).doubts.is_empty());
    // Turned, it is still held against its own sides.
    let turned = |inside: &str| {
        svg(&format!(
            r##"<symbol id="s" viewBox="0 0 20 20">{inside}</symbol>
            <use href="#s" width="20" height="20" transform="translate(50 30) rotate(30)"/>"##
        ))
    };
    let full = r#"<rect width="20" height="20"/>"#;
    assert!(turned(full).doubts.is_empty() && doubted(&turned(wide), "clipped"));
}

#[test]
fn one_clip_does_not_undo_another() {
    let clips = r#"<clipPath id="half"><rect width="20" height="100"/></clipPath>
        <clipPath id="all"><rect width="100" height="100"/></clipPath>"#;
    let shape = r#"<rect x="10" y="10" width="30" height="10" clip-path="url(#all)"/>"#;
    let both = svg(&format!(r#"{clips}<g clip-path="url(#half)">{shape}</g>"#));
    assert!(doubted(&both, "clipped"));
    assert!(svg(&format!("{clips}{shape}")).doubts.is_empty());
    let own = r#"<rect width="30" height="10" style="clip-path: circle(5px)"/>"#;
    assert!(doubted(&svg(own), "clipped"));
}

#[test]
fn what_lies_off_the_page_comes_in_and_is_told() {
    let off =
        svg(r#"<rect x="10" y="10" width="20" height="10"/><circle cx="150" cy="50" r="9"/>"#);
    assert_eq!(trace(&off).drawn.len(), 2);
    assert!(off.doubts.is_empty() && noted(&off, "1 shape lies outside the page"));
    let over = svg(r#"<rect x="90" y="10" width="20" height="10"/>"#);
    assert!(over.doubts.is_empty() && noted(&over, "1 shape reaches beyond the page"));
    let on = svg(r#"<rect width="100" height="100"/>"#);
    assert!(on.doubts.is_empty() && !noted(&on, "page"));
}

#[test]
fn what_is_painted_with_nothing_is_left_out_and_named() {
    let rect = |id: &str, said: &str| {
        format!(r#"<rect id="{id}" x="10" y="10" width="20" height="10" {said}/>"#)
    };
    let line = |id: &str, said: &str| rect(id, &format!(r#"fill="none" stroke="red" {said}"#));
    let all = [
        rect("a", ""),
        rect("b", r#"fill-opacity="0""#),
        rect("c", r#"style="fill:#00000000""#),
        line("d", r#"stroke-width="0""#),
        line("e", r#"stroke-opacity="0""#),
    ];
    let drawn = svg(&all.concat());
    assert_eq!(trace(&drawn).drawn.len(), 1);
    assert!(
        ["b", "c", "d", "e"]
            .iter()
            .all(|id| noted(&drawn, &format!("nor stroked (\"{id}\")")))
    );
    let shown = [
        line("d", r#"stroke-width="0.01""#),
        rect("b", r#"fill-opacity="0" stroke="red""#),
    ];
    assert!(shown.iter().all(|s| trace(&svg(s)).drawn.len() == 1));
}

#[test]
fn markers_patterns_and_rules_that_are_not_read_are_told() {
    let drawn = svg(r##"<pattern id="p"/><marker id="m"/>
        <path d="M10 10H50V30Z" style="marker-end:url(#m)" fill="url(#p)"/>"##);
    assert!(noted(&drawn, "1 marker, 1 pattern") && drawn.doubts.is_empty());
    // At every corner they may be holes; where there is no such marker nothing is painted.
    let marked = |said: &str| {
        svg(&format!(
            r##"<marker id="m"/><g {said}><path d="M10 10H50V30Z"/></g>"##
        ))
    };
    assert!(doubted(
        &marked("marker-mid='url(#m)'"),
        "1 marker at corners"
    ));
    assert!(noted(&marked("marker-start='url(#m)'"), "1 marker"));
    assert!(!noted(&marked("marker-end='url(#none)'"), "marker"));
    let styled = |rules: &str| {
        svg(&format!(
            r#"<style>{rules}</style><rect width="9" height="9"/>"#
        ))
    };
    for rules in [
        "@media screen { rect { display: none } }",
        "rect:nth-child(2) { display: none }",
    ] {
        assert!(
            doubted(&styled(rules), "1 rule of its style sheets"),
            "{rules}"
        );
    }
    // A sheet in another file; moves and sizes said alone; lines with gaps.
    let file = r#"<?xml-stylesheet href="a.css"?><svg xmlns="http://www.w3.org/2000/svg" width="9mm" height="9mm"><rect width="9" height="9"/></svg>"#;
    assert!(doubted(&input("a.svg", file), "1 rule of its style sheets"));
    let moved = svg(
        r#"<rect width="9" height="5" style="scale: 2 1; translate: 10px 20px; rotate: 90deg; transform: translate(0, -5px)"/>"#,
    );
    assert_eq!(reach(&moved), [10.0, 62.0, 15.0, 80.0]);
    let dashed = |said: &str| {
        doubted(
            &svg(&format!(
                r#"<g stroke="red" stroke-dasharray="{said}"><path d="M0 9h9" fill="none"/></g>"#
            )),
            "broken line",
        )
    };
    assert!(dashed("4 2") && !dashed("none") && !dashed("0, 0"));
    for rules in [
        "@media print { rect { display: none } }",
        "@font-face { font-family: x }",
        ".a, rect { fill: none; stroke: red }",
    ] {
        assert!(styled(rules).doubts.is_empty(), "{rules}");
    }
}

#[test]
fn what_is_filled_and_not_closed_is_closed_as_it_shows_or_doubted() {
    let path = |said: &str| svg(&format!(r#"<path d="M10 10H50V40" {said}/>"#));
    let edges = |input: &Input| trace(input).drawn[0].len();
    let filled = path(r#"fill="red""#);
    assert!(edges(&filled) == 3 && filled.doubts.is_empty());
    assert!(noted(&filled, "1 filled shape is closed"));
    let unsaid = path("");
    assert!(edges(&unsaid) == 2 && doubted(&unsaid, "the line does not come round"));
    let both = path(r#"fill="red" stroke="black""#);
    assert!(edges(&both) == 2 && doubted(&both, "the line does not come round"));
    let line = path(r#"fill="none" stroke="black""#);
    assert!(edges(&line) == 2 && line.doubts.is_empty());
    // What encloses nothing is a line; what others close is closed; a hand's trace is no shape.
    let straight = svg(r#"<path d="M10 10H50"/>"#);
    assert!(edges(&straight) == 1 && straight.doubts.is_empty());
    let halves = svg(r#"<g stroke="red"><path d="M10 10H50V40"/><path d="M50 40H10V10"/></g>"#);
    assert!(edges(&halves) == 4 && halves.doubts.is_empty());
    assert!(!doubted(&path("data-trace=''"), "painted"));
}

#[test]
fn loops_that_the_fill_rule_shows_filled_are_doubted() {
    let (alike, against) = ("M20 20H40V40H20Z", "M20 20V40H40V20Z");
    let drawn = |inner: &str, said: &str| {
        let drawn = svg(&format!(r#"<path d="M10 10H80V80H10Z{inner}" {said}/>"#));
        assert_eq!(trace(&drawn).drawn.len(), 2);
        doubted(&drawn, "runs the same way round")
    };
    assert!(drawn(alike, "") && !drawn(against, ""));
    assert!(!drawn(alike, r#"style="fill-rule: evenodd""#));
    assert!(!drawn(alike, r#"fill="none" stroke="red""#) && !drawn(alike, r#"stroke="red""#));
    // Beside one another there is nothing to doubt.
    let beside = svg(r#"<path d="M10 10H20V20H10ZM30 10H40V20H30Z"/>"#);
    assert!(beside.doubts.is_empty());
}

#[test]
fn fills_whose_rims_are_drawn_are_noted_and_others_missed() {
    let square = "0 LWPOLYLINE 8 0 90 4 70 1 10 0 20 0 10 40 20 0 10 40 20 40 10 0 20 40 ";
    let hole = "0 CIRCLE 8 0 10 20 20 20 40 8 ";
    let outer = "92 2 72 0 73 1 93 4 10 0 20 0 10 40 20 0 10 40 20 40 10 0 20 40 97 0 ";
    let inner = "92 0 93 1 72 2 10 20 20 20 40 8 50 0 51 360 73 1 97 0 ";
    let hatch = format!(
        "0 HATCH 8 0 10 0 20 0 30 0 210 0 220 0 230 1 2 SOLID 70 1 71 0 91 2 {outer}{inner}75 1 76 1 98 1 10 9 20 9 "
    );
    let both = dxf("", &[square, hole, &hatch].concat());
    assert!(both.doubts.is_empty() && noted(&both, "1 HATCH"));
    let lost = dxf("", &[square, &hatch].concat());
    assert!(doubted(&lost, "missing are 1 HATCH whose rim is not drawn"));
    let solid = |corners: &str| dxf("", &format!("{square} 0 SOLID 8 0 {corners}"));
    let corners = "10 0 20 0 11 40 21 0 12 0 22 40 13 40 23 40";
    assert!(solid(corners).doubts.is_empty());
    assert!(doubted(&solid(&corners.replace("40", "30")), "1 SOLID"));
}

#[test]
fn what_is_not_for_all_is_not_shown_and_what_bounds_nothing_is_no_loop() {
    let rect = r#"<rect width="9" height="9"/>"#;
    let extra = r#"<g systemLanguage="de" id="d"><rect x="20" width="9" height="9"/></g>"#;
    let both = svg(&format!("{rect}{extra}"));
    assert!(trace(&both).drawn.len() == 1 && noted(&both, "1 invisible (\"d\")"));
    let bow = svg(r#"<path d="M10 10L40 40V10L10 40Z"/>"#);
    assert!(noted(&bow, "1 line stays open"));
    let star = svg(r#"<path d="M50 5L79 95L3 39L97 39L21 95Z"/>"#);
    let trued = trued::true_up(trace(&star), &trued::Settings::default(), &[]).expect("a star");
    let crossed =
        |n: &trued::report::Note| n.text == "loop 1 crosses itself here" && n.at.is_some();
    assert!(trued.report.notes.iter().any(crossed));
}

#[test]
fn layers_that_are_not_plotted_come_in_and_are_doubted() {
    let lines = "0 LINE 8 AID 10 0 20 0 11 50 21 0";
    let tables = |plotted: u8| {
        let groups = format!("0 SECTION 2 TABLES 0 LAYER 2 AID 70 0 290 {plotted} 0 ENDSEC");
        let all = format!(
            "0 SECTION 2 HEADER 9 $INSUNITS 70 4 0 ENDSEC {groups} 0 SECTION 2 ENTITIES {lines} 0 ENDSEC 0 EOF"
        );
        let words: Vec<&str> = all.split_whitespace().collect();
        input("a.dxf", &(words.join("\n") + "\n"))
    };
    assert!(tables(1).doubts.is_empty());
    let aid = tables(0);
    assert!(
        trace(&aid).drawn.len() == 1 && doubted(&aid, "shows on the screen and is not plotted")
    );
}

#[test]
fn what_rises_out_of_the_plane_is_doubted() {
    let flat = "0 LINE 10 0 20 0 30 5 11 80 21 0 31 5";
    assert!(dxf("", flat).doubts.is_empty());
    for up in [
        "0 LINE 10 0 20 0 11 80 21 0 31 5",
        "0 POLYLINE 70 8 0 VERTEX 10 0 20 0 30 0 0 VERTEX 10 80 20 0 30 9 0 SEQEND",
        "0 SPLINE 70 8 71 3 72 8 73 4 40 0 40 0 40 0 40 0 40 1 40 1 40 1 40 1 10 0 20 0 30 0 10 9 20 9 30 7 \
         10 40 20 9 30 7 10 80 20 0 30 0",
    ] {
        assert!(doubted(&dxf("", up), "1 piece rises out of"), "{up}");
    }
}

#[test]
fn what_sloppy_programs_write_is_read_and_told() {
    // No end of the polyline, a decimal comma, a wrong number of corners.
    let open =
        "0 POLYLINE 66 1 70 1 0 VERTEX 10 0 20 0 0 VERTEX 10 60,5 20 0 0 VERTEX 10 60,5 20 40";
    let ended = dxf("", &format!("{open} 0 LINE 10 0 20 90 11 50 21 90"));
    assert_eq!(trace(&ended).drawn.len(), 2);
    assert_eq!(reach(&dxf("", open)), [0.0, 0.0, 60.5, 40.0]);
    let light = "0 LWPOLYLINE 90 7 70 1 10 0 20 0 10 60 20 0 10 60 20 40";
    let counted = dxf("", light);
    assert!(doubted(&counted, "says it has 7 corners and has 3"));
    assert!(matches!(
        trace(&counted).drawn[0].as_slice(),
        [Edge::Line(_), _, _]
    ));
}

#[test]
fn a_drawing_in_another_file_is_missed() {
    let block = "0 BLOCK 2 FAR 70 4 10 0 20 0 0 ENDBLK";
    let drawn = dxf(block, "0 INSERT 2 FAR 10 0 20 0 0 CIRCLE 10 0 20 0 40 9");
    assert!(doubted(&drawn, "1 INSERT of a drawing in another file"));
}

#[test]
fn a_drawing_far_from_its_origin_is_moved_and_told() {
    let line = |x: f64| format!("0 LINE 10 {x} 20 2566158.25 11 {} 21 2566158.25", x + 80.0);
    let far = dxf("", &line(363_340.5));
    assert_eq!(reach(&far), [340.5, 158.25, 420.5, 158.25]);
    assert!(noted(&far, "moved by (-363000, -2566000) mm") && far.doubts.is_empty());
    // What is itself too large stays refused.
    let groups = format!("0\nSECTION\n2\nENTITIES\n{}\n0\nENDSEC\n0\nEOF\n", {
        let all = format!("{} {}", line(0.0), line(900_000.0));
        all.split_whitespace().collect::<Vec<_>>().join("\n")
    });
    let refused = read("a.dxf", groups.as_bytes(), Units::Mm);
    assert!(refused.is_err_and(|e| e.to_string().contains("further from the origin")));
}

#[test]
fn pixels_of_another_size_are_doubted() {
    let file = |before: &str| {
        let svg = r#"<svg xmlns="http://www.w3.org/2000/svg" width="288px" height="96px" viewBox="0 0 288 96">"#;
        input(
            "a.svg",
            &format!(r#"{before}{svg}<rect width="288" height="96"/></svg>"#),
        )
    };
    let plain = file("");
    assert!(plain.doubts.is_empty() && noted(&plain, "96 to the inch"));
    let other = file("<!-- Generator: Adobe Illustrator 16.0 -->");
    assert!(doubted(&other, "counts 72"));
    assert_eq!(reach(&other), reach(&plain));
}

#[test]
fn a_radius_below_zero_is_none_and_the_other_serves() {
    let at = |radii: &str| {
        svg(&format!(
            r#"<rect x="10" y="10" width="80" height="80" {radii}/>"#
        ))
    };
    let round = trace(&at(r#"rx="5""#)).drawn.clone();
    assert_eq!(trace(&at(r#"rx="-10" ry="5""#)).drawn, round);
    assert_eq!(trace(&at(r#"rx="5" ry="-3""#)).drawn, round);
    assert_eq!(trace(&at(r#"rx="-1" ry="-3""#)).drawn[0].len(), 4);
}

#[test]
fn a_hole_that_a_line_joins_to_the_rim_is_a_hole_and_doubted() {
    // A half turn is a bulge of one; the hole of ⌀ 20 is reached from the right.
    let corner = |x: f64, y: f64, bulge: f64| format!("10 {x} 20 {y} 42 {bulge} ");
    let corners = [
        (100.0, 50.0, 0.0),
        (70.0, 50.0, 1.0),
        (50.0, 50.0, 1.0),
        (70.0, 50.0, 0.0),
        (100.0, 50.0, 0.0),
        (100.0, 90.0, 0.0),
        (0.0, 90.0, 0.0),
        (0.0, 0.0, 0.0),
        (100.0, 0.0, 0.0),
    ];
    let all: String = corners.iter().map(|c| corner(c.0, c.1, c.2)).collect();
    let read = dxf("", &format!("0 LWPOLYLINE 8 0 90 9 70 1 {all}"));
    let mut sizes: Vec<usize> = trace(&read).drawn.iter().map(Vec::len).collect();
    sizes.sort_unstable();
    assert_eq!(sizes, [1, 5]);
    assert!(doubted(&read, "to a hole and back"), "{:?}", read.doubts);
}

#[test]
fn broken_and_wide_lines_are_told() {
    let line = |groups: &str| dxf("", &format!("0 LINE 8 0 {groups} 10 0 20 0 11 50 21 9"));
    assert!(doubted(&line("6 CENTER"), "broken line \"CENTER\""));
    for whole in ["", "6 CONTINUOUS", "6 ByLayer", "6 BYBLOCK"] {
        assert!(line(whole).doubts.is_empty(), "{whole}");
    }
    // A type may have any name: the table says whether it has gaps, of its own or of a layer's.
    let table = |types: &str| {
        let of_layer = "0 LAYER 2 Kontur 70 0 62 7 6 Durchgehend";
        format!("0 ENDSEC 0 SECTION 2 TABLES 0 TABLE 2 LTYPE 70 1 {types} 0 ENDTAB {of_layer}")
    };
    let named = |types: &str, groups: &str| {
        dxf(
            &table(types),
            &format!("0 LINE {groups} 10 0 20 0 11 50 21 9"),
        )
    };
    let whole = "0 LTYPE 2 Durchgehend 70 0 3 Solid 72 65 73 0 40 0.0";
    let gaps = "0 LTYPE 2 Durchgehend 70 0 3 Gaps 72 65 73 2 40 3.0 49 2.0 49 -1.0";
    for groups in ["8 Kontur", "8 0 6 Durchgehend"] {
        let read = named(whole, groups);
        assert!(read.doubts.is_empty(), "{groups}: {:?}", read.doubts);
        assert!(doubted(&named(gaps, groups), "broken line"), "{groups}");
    }
    let stub = "0 LTYPE 2 CENTER 70 0 3 Line 72 65 73 0 40 0.0";
    assert!(doubted(&named(stub, "8 0 6 CENTER"), "broken line"));
    let band = |groups: &str| {
        dxf(
            "",
            &format!("0 LWPOLYLINE 8 0 90 2 70 0 {groups} 10 0 20 0 10 50 20 9"),
        )
    };
    assert!(noted(&band("43 4"), "drawn wide") && !noted(&band("43 0"), "drawn wide"));
}

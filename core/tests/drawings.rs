//! Drawings from elsewhere: all they hold comes in as drawn, and what does not is told.

use trued::format::{Content, Input, Units, Wanted, read};
use trued::outline::{Bounds, nesting::path_of_drawn};
use trued::report::About;
use trued::{Edge, Point, Trace};

fn input(name: &str, bytes: &[u8], wanted: impl Into<Wanted>) -> Input {
    read(name, bytes, wanted).unwrap_or_else(|e| panic!("{name}: {e}"))
}

fn trace(input: &Input) -> &Trace {
    match &input.content {
        Content::Trace(trace) => trace,
        other => panic!("{other:?}"),
    }
}

/// Lengths of all that is drawn, chain by chain, to 1e-6 mm.
fn lengths(input: &Input) -> Vec<f64> {
    let length = |c: &Vec<Edge>| c.iter().map(Edge::length).sum::<f64>();
    trace(input)
        .drawn
        .iter()
        .map(|c| (length(c) * 1e6).round() / 1e6)
        .collect()
}

fn bounds(input: &Input) -> [f64; 4] {
    let all = trace(input).drawn.iter().flatten().map(Bounds::of_edge);
    let b = all.reduce(|a, b| a.union(&b)).expect("something is drawn");
    [b.min.x, b.min.y, b.max.x, b.max.y].map(|v| (v * 1e6).round() / 1e6)
}

fn said(input: &Input, words: &str) -> bool {
    let doubts = input.doubts.iter().map(|d| &d.text);
    input
        .notes
        .iter()
        .map(|n| &n.text)
        .chain(doubts)
        .any(|t| t.contains(words))
}

fn doubted(input: &Input) -> Vec<About> {
    input.doubts.iter().map(|d| d.about).collect()
}

/// Groups written in one line, in mm.
fn dxf(tables: &str, blocks: &str, entities: &str) -> Vec<u8> {
    let section = |name: &str, groups: &str| format!("0 SECTION 2 {name} {groups} 0 ENDSEC ");
    let all = format!(
        "{}{}{}{}0 EOF",
        section("HEADER", "9 $INSUNITS 70 4"),
        section("TABLES", tables),
        section("BLOCKS", blocks),
        section("ENTITIES", entities)
    );
    let words: Vec<&str> = all.split_whitespace().collect();
    (words.join("\n") + "\n").into_bytes()
}

/// The same groups in the binary form, codes of two bytes or of one.
fn binary(text: &[u8], wide: bool) -> Vec<u8> {
    let mut out = b"AutoCAD Binary DXF\r\n\x1a\0".to_vec();
    let text = String::from_utf8(text.to_vec()).expect("text");
    let lines: Vec<&str> = text.lines().collect();
    for pair in lines.chunks_exact(2) {
        let code: i16 = pair[0].parse().expect("a code");
        match (wide, u8::try_from(code)) {
            (false, Ok(short)) if short < 255 => out.push(short),
            (false, _) => out.extend([&[255], code.to_le_bytes().as_slice()].concat()),
            (true, _) => out.extend(code.to_le_bytes()),
        }
        match code {
            10..=59 | 210..=239 => {
                out.extend(pair[1].parse::<f64>().expect("a number").to_le_bytes())
            }
            60..=79 => out.extend(pair[1].parse::<i16>().expect("a number").to_le_bytes()),
            90..=99 => out.extend(pair[1].parse::<i32>().expect("a number").to_le_bytes()),
            _ => out.extend([pair[1].as_bytes(), &[0]].concat()),
        }
    }
    out
}

const SQUARE: &str = "0 LWPOLYLINE 8 0 90 4 70 1 10 0 20 0 10 10 20 0 10 10 20 10 10 0 20 10";

#[test]
fn blocks_come_in_scaled_turned_mirrored_nested_and_in_rows() {
    let blocks = format!(
        "0 BLOCK 8 0 2 SQ 70 0 10 5 20 5 {SQUARE} 0 ENDBLK \
         0 BLOCK 2 ARM 10 0 20 0 0 INSERT 8 0 2 sq 10 20 20 0 41 2 42 0.5 0 LINE 8 0 10 0 20 0 11 10 21 0 0 ENDBLK \
         0 BLOCK 2 ROUND 10 0 20 0 0 CIRCLE 8 0 10 0 20 0 40 3 0 ENDBLK"
    );
    let draw = |entities: &str| input("a.dxf", &dxf("", &blocks, entities), Units::Mm);
    assert_eq!(
        bounds(&draw("0 INSERT 2 SQ 10 100 20 50")),
        [95.0, 45.0, 105.0, 55.0]
    );
    assert_eq!(
        bounds(&draw("0 INSERT 2 SQ 10 100 20 50 41 -2 42 3 50 90")),
        [85.0, 40.0, 115.0, 60.0]
    );
    assert_eq!(
        bounds(&draw("0 INSERT 2 ARM 10 0 20 0 50 180")),
        [-30.0, -2.5, 0.0, 2.5]
    );
    // Seen from below x is mirrored, place and all.
    assert_eq!(
        bounds(&draw("0 INSERT 2 ARM 10 7 20 0 230 -1")),
        [-37.0, -2.5, -7.0, 2.5]
    );
    let rows = draw("0 INSERT 2 SQ 10 0 20 0 50 90 70 3 71 2 44 20 45 30");
    assert_eq!(
        (lengths(&rows).len(), bounds(&rows)),
        (6, [-35.0, -5.0, 5.0, 45.0])
    );
    // A circle squeezed is an ellipse: within the tolerance, told.
    let squeezed = draw("0 INSERT 2 ROUND 10 0 20 0 41 4 42 2");
    let b = bounds(&squeezed);
    assert!(
        [12.0, 6.0]
            .iter()
            .zip([b[2], b[3]])
            .all(|(a, b)| (a - b).abs() < 0.05),
        "{b:?}"
    );
    assert!(said(&squeezed, "1 curve") && doubted(&squeezed).is_empty());
    let round = draw("0 INSERT 2 ROUND 10 0 20 0 41 -2 42 2 50 30");
    let path = path_of_drawn(&trace(&round).drawn[0]).expect("a circle");
    assert!(matches!(path, trued::Path::Circle(c) if (c.radius - 6.0).abs() < 1e-9));
    let bad = draw(&format!("0 INSERT 2 NONE 10 0 20 0 {SQUARE}"));
    assert!(said(&bad, "1 INSERT of a block that is not there") && doubted(&bad) == [About::File]);
}

#[test]
fn a_block_within_itself_and_blocks_without_end_do_no_harm() {
    let own = "0 BLOCK 2 A 10 0 20 0 0 INSERT 2 A 10 1 20 1 0 LINE 10 0 20 0 11 9 21 0 0 ENDBLK";
    let drawn = input("a.dxf", &dxf("", own, "0 INSERT 2 A 10 0 20 0"), Units::Mm);
    assert_eq!(
        (lengths(&drawn), doubted(&drawn)),
        (vec![9.0], vec![About::File])
    );
    let nested: String = (0..20)
        .map(|i| {
            format!(
                "0 BLOCK 2 B{i} 10 0 20 0 {} 0 ENDBLK ",
                format!("0 INSERT 2 B{} 10 1 20 0 ", i + 1).repeat(10)
            )
        })
        .collect();
    let refused = read(
        "a.dxf",
        &dxf("", &nested, "0 INSERT 2 B0 10 0 20 0"),
        Units::Mm,
    );
    assert!(refused.is_err_and(|e| e.to_string().contains("inserted so often")));
}

#[test]
fn what_is_off_frozen_invisible_or_on_a_sheet_is_left_out_and_told() {
    let tables = "0 TABLE 2 LAYER 0 LAYER 2 OFF 70 0 62 -7 0 LAYER 2 COLD 70 1 62 7 0 LAYER 2 CUT 70 0 62 7 0 LAYER 2 BEND 70 0 62 7 0 ENDTAB";
    let blocks = "0 BLOCK 2 B 10 0 20 0 0 LINE 8 0 10 0 20 0 11 6 21 0 0 LINE 8 CUT 10 0 20 9 11 7 21 9 0 ENDBLK";
    let line = |layer: &str, more: &str, length: u32| {
        format!("0 LINE 8 {layer} {more} 10 0 20 {length} 11 {length} 21 {length} ")
    };
    let entities = [
        line("OFF", "", 1),
        line("cold", "", 2),
        line("CUT", "60 1", 3),
        line("CUT", "67 1", 4),
        line("CUT", "", 5),
        "0 INSERT 8 OFF 2 B 10 0 20 50 0 INSERT 8 COLD 2 B 10 0 20 80 0 TEXT 8 CUT 10 0 20 0 40 1 1 hello".to_owned(),
    ]
    .concat();
    let file = dxf(tables, blocks, &entities);
    let shown = input("a.dxf", &file, Units::Mm);
    assert_eq!(lengths(&shown), [5.0, 7.0]);
    for words in [
        "2 on a layer that is off",
        "2 on a layer that is frozen (\"COLD\")",
        "1 on a layer that is frozen (\"CUT\")",
        "1 invisible",
        "1 on a sheet",
        "1 TEXT",
    ] {
        assert!(said(&shown, words), "{words}: {:?}", shown.notes);
    }
    assert_eq!(doubted(&shown), []);
    let asked = |layers: &[&str]| Wanted {
        layers: layers.iter().map(|l| (*l).to_owned()).collect(),
        ..Wanted::default()
    };
    assert_eq!(
        lengths(&input("a.dxf", &file, asked(&["off"]))),
        [1.0, 6.0, 7.0]
    );
    let refused = read("a.dxf", &file, asked(&["CUT", "CUTS"]))
        .map(|_| ())
        .map_err(|e| e.to_string());
    assert!(
        refused
            .as_ref()
            .is_err_and(|e| e.contains("no layer \"cuts\"") && e.contains("\"BEND\"")),
        "{refused:?}"
    );
    let bend = dxf(tables, "", &(line("BEND", "", 5) + &line("CUT", "", 8)));
    let both = input("a.dxf", &bend, Units::Mm);
    assert_eq!(
        (lengths(&both), doubted(&both)),
        (vec![5.0, 8.0], vec![About::File])
    );
    assert!(said(
        &both,
        "layer \"BEND\" seems to be for bending: its 1 piece"
    ));
    let cut = input("a.dxf", &bend, asked(&["cut"]));
    assert_eq!((lengths(&cut), doubted(&cut)), (vec![8.0], vec![]));
}

#[test]
fn splines_and_ellipses_come_in_within_the_tolerance() {
    let near = |file: &Input, on: &dyn Fn(Point) -> f64| {
        for edge in trace(file).drawn.iter().flatten() {
            for i in 0..=50 {
                let off = on(edge.point_at(f64::from(i) / 50.0));
                assert!(off.abs() < 0.05, "{off}");
            }
        }
    };
    // Three quarters of a circle of 10 as a rational quadratic (weights √½; from memory, any book on splines).
    let w = core::f64::consts::FRAC_1_SQRT_2;
    let spline = format!(
        "0 SPLINE 70 4 71 2 72 10 73 7 74 0 40 0 40 0 40 0 40 1 40 1 40 2 40 2 40 3 40 3 40 3 41 1 41 {w} 41 1 41 {w} 41 1 41 {w} 41 1 \
         10 10 20 0 10 10 20 10 10 0 20 10 10 -10 20 10 10 -10 20 0 10 -10 20 -10 10 0 20 -10"
    );
    let arc = input("a.dxf", &dxf("", "", &spline), Units::Mm);
    near(&arc, &|p| (p - Point::default()).length() - 10.0);
    assert!((lengths(&arc)[0] - 15.0 * core::f64::consts::PI).abs() < 0.01);
    assert_eq!(
        trace(&arc).drawn[0].len(),
        1,
        "one circle's arcs are one arc"
    );
    // Points on a circle: the curve through them stays near it, and goes through all of them.
    let at = |i: i32| Point::default() + trued::Vec2::from_angle(f64::from(i) * 0.1) * 40.0;
    let points: String = (0..=20)
        .map(|i| format!(" 11 {} 21 {}", at(i).x, at(i).y))
        .collect();
    let through = input(
        "a.dxf",
        &dxf(
            "",
            "",
            &format!("0 SPLINE 70 8 71 3 72 0 73 0 74 21{points}"),
        ),
        Units::Mm,
    );
    near(&through, &|p| (p - Point::default()).length() - 40.0);
    let edges = &trace(&through).drawn[0];
    for i in 0..=20 {
        assert!(
            edges
                .iter()
                .map(|e| e.distance(at(i)))
                .fold(f64::MAX, f64::min)
                < 0.05
        );
    }
    // The far half of an ellipse 30 × 10, turned by a right angle, seen from above and from below.
    for (up, side) in [(1, -1.0), (-1, 1.0)] {
        let ellipse = format!(
            "0 ELLIPSE 10 0 20 0 11 0 21 30 40 0.3333333333333333 41 0 42 3.141592653589793 210 0 220 0 230 {up}"
        );
        let half = input("a.dxf", &dxf("", "", &ellipse), Units::Mm);
        near(&half, &|p| {
            (libm::hypot(p.x / 10.0, p.y / 30.0) - 1.0) * 10.0
        });
        let middle = trace(&half).drawn[0]
            .iter()
            .map(|e| e.distance(Point::new(side * 10.0, 0.0)));
        assert!(middle.fold(f64::MAX, f64::min) < 0.05, "{up}");
    }
}

#[test]
fn a_spline_fit_polyline_is_its_curve_and_not_its_frame() {
    let vertex = |x: u32, y: u32, flags: u32| format!(" 0 VERTEX 70 {flags} 10 {x} 20 {y}");
    let fit = [
        "0 POLYLINE 66 1 70 4".to_owned(),
        vertex(0, 0, 16),
        vertex(50, 90, 16),
        vertex(0, 0, 8),
        vertex(5, 9, 8),
        vertex(12, 14, 8),
        " 0 SEQEND".to_owned(),
    ];
    let drawn = input("a.dxf", &dxf("", "", &fit.concat()), Units::Mm);
    assert_eq!(bounds(&drawn), [0.0, 0.0, 12.0, 14.0]);
}

#[test]
fn every_form_of_one_drawing_is_the_same() {
    let blocks = format!("0 BLOCK 2 SQ 10 0 20 0 {SQUARE} 0 ENDBLK");
    let entities = "0 INSERT 2 SQ 10 0.1 20 -7.25 41 1.5 42 1.5 50 33 0 ARC 10 3 20 4 40 5.5 50 10 51 300 0 LINE 10 1e-3 20 0 11 70 21 0.333333333333";
    let text = dxf("", &blocks, entities);
    let plain = input("a.dxf", &text, Units::Mm);
    let ascii = String::from_utf8(text.clone()).expect("text");
    let wide: Vec<u8> = ascii.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let others = [
        binary(&text, true),
        binary(&text, false),
        ascii.replace('\n', "\r\n").into_bytes(),
        ascii.replace('\n', "\r").into_bytes(),
        wide,
        ascii.replace("0\nEOF\n", "").into_bytes(),
    ];
    for (i, other) in others.iter().enumerate() {
        assert_eq!(
            trace(&input("a.dxf", other, Units::Mm)),
            trace(&plain),
            "{i}"
        );
    }
    let cut = binary(&text, true);
    let refused = read("a.dxf", &cut[..cut.len() - 30], Units::Mm).map_err(|e| e.to_string());
    assert!(
        refused.as_ref().is_err_and(|e| e.contains("binary file")),
        "{refused:?}"
    );
}

#[test]
fn what_shows_and_cannot_be_read_is_doubted() {
    let lost = input(
        "a.dxf",
        &dxf(
            "",
            "",
            &format!(
                "{SQUARE} 0 MLINE 10 0 20 0 0 SOLID 10 0 0 CIRCLE 10 0 20 0 40 3 210 1 220 0 230 0"
            ),
        ),
        Units::Mm,
    );
    assert_eq!(
        (lengths(&lost).len(), doubted(&lost)),
        (1, vec![About::File])
    );
    assert!(
        said(&lost, "missing are 1 CIRCLE, 1 MLINE, 1 SOLID whose rim"),
        "{:?}",
        lost.doubts
    );
    // Metres that were meant as millimetres.
    let metres = String::from_utf8(dxf("", "", "0 LINE 10 0 20 0 11 240 21 0"))
        .expect("text")
        .replace("70\n4", "70\n6");
    let metres = input("a.dxf", metres.as_bytes(), Units::Mm);
    assert_eq!(
        (lengths(&metres), doubted(&metres)),
        (vec![240.0], vec![About::Units])
    );
}

/// Before 2018 the frame of a text is a polyline of its own; only the text's extended data tell it from a part.
#[test]
fn the_frame_of_a_text_is_no_outline() {
    let square = |handle: &str, size: u32| {
        format!(
            "0 LWPOLYLINE 5 {handle} 8 0 90 4 70 1 10 0 20 0 10 {size} 20 0 10 {size} 20 {size} 10 0 20 {size} "
        )
    };
    let text = "0 MTEXT 5 A1 8 0 10 5 20 5 40 3 1 FRAMED 1001 ACAD 1000 ACAD_MTEXT_TEXT_BORDERS_BEGIN \
                1070 80 1070 16 1070 5 1005 A8 1000 ACAD_MTEXT_TEXT_BORDERS_END ";
    let both = format!("{}{text}{}", square("A8", 10), square("A9", 30));
    let input = input("framed.dxf", &dxf("", "", &both), Units::Mm);
    assert_eq!(lengths(&input), [120.0]);
    assert!(said(&input, "1 MTEXT") && said(&input, "1 frame of a text"));
    assert!(input.doubts.is_empty(), "{:?}", input.doubts);
}

#[test]
fn open_lines_and_places_where_three_meet_are_named() {
    let line = |a: [f64; 4]| format!("0 LINE 10 {} 20 {} 11 {} 21 {} ", a[0], a[1], a[2], a[3]);
    let ring = [
        [0.0, 0.0, 50.0, 0.0],
        [50.0, 0.03, 50.0, 30.0],
        [50.0, 30.0, 0.0, 30.0],
        [0.0, 30.0, 0.0, 0.04],
    ];
    let closed = input("a.dxf", &dxf("", "", &ring.map(line).concat()), Units::Mm);
    assert!(path_of_drawn(&trace(&closed).drawn[0]).is_some_and(|p| p.is_closed()));
    assert_eq!(doubted(&closed), []);
    let gap = [ring[0], ring[1], ring[2], [0.0, 30.0, 0.0, 0.4]];
    let open = input("a.dxf", &dxf("", "", &gap.map(line).concat()), Units::Mm);
    assert_eq!(doubted(&open), [About::Closing]);
    assert!(said(&open, "its ends lie 0.40 mm apart") && open.doubts[0].at.is_some());
    let star = [
        [0.0, 0.0, 50.0, 0.0],
        [0.0, 0.0, 0.0, 50.0],
        [0.0, 0.0, -50.0, -50.0],
        [50.0, 0.0, 0.0, 50.0],
        [0.0, 50.0, -50.0, -50.0],
    ];
    let drawn = |lines: &[[f64; 4]]| {
        let all: String = lines.iter().map(|l| line(*l)).collect();
        input("a.dxf", &dxf("", "", &all), Units::Mm)
    };
    let two_loops = drawn(&star);
    assert_eq!(doubted(&two_loops), [About::File, About::File]);
    assert_eq!(two_loops.doubts[0].at, Some(Point::new(0.0, 0.0)));
    // Whichever belong together, no loop comes of them; and one loop has a tail.
    let no_loop = drawn(&star[..3]);
    assert!(said(
        &no_loop,
        "three or more ends meet in 1 place where no loop"
    ));
    assert_eq!((doubted(&no_loop), lengths(&no_loop).len()), (vec![], 3));
    let tailed = drawn(&star[..4]);
    assert_eq!((doubted(&tailed), lengths(&tailed).len()), (vec![], 2));
    // Four lines that overrun the corners of a rectangle; three that cross and close nothing.
    let overrun = [
        [-3.0, 0.0, 53.0, 0.0],
        [50.0, -3.0, 50.0, 33.0],
        [53.0, 30.0, -3.0, 30.0],
        [0.0, 33.0, 0.0, -3.0],
    ];
    let hash = drawn(&overrun);
    assert!(said(&hash, "open lines cross here") && lengths(&hash).len() == 4);
    assert_eq!(doubted(&hash), [About::Closing]);
    assert_eq!(doubted(&drawn(&overrun[..3])), []);
    // One corner alone is overrun; a line that crosses another at its corner, or ends on it, closes nothing.
    let one = [
        ring[0],
        ring[1],
        [50.0, 30.0, -4.0, 30.0],
        [0.0, 35.0, 0.0, 0.0],
    ];
    assert!(said(&drawn(&one), "open lines cross here"));
    let onto_itself = [ring[0], ring[1], ring[2], [0.0, 30.0, 20.0, 0.0]];
    assert!(said(&drawn(&onto_itself), "open lines cross here"));
    let corner = [
        ring[0],
        ring[1],
        [45.0, -5.0, 55.0, 5.0],
        [20.0, 0.0, 20.0, 9.0],
    ];
    assert_eq!(doubted(&drawn(&corner)), []);
    let twice = [
        ring[0],
        ring[1],
        ring[2],
        ring[3],
        [10.0, 0.0, 40.0, 0.0],
        ring[2],
    ];
    let once = input("a.dxf", &dxf("", "", &twice.map(line).concat()), Units::Mm);
    assert!(said(&once, "2 pieces drawn twice") && lengths(&once).len() == 1);
    // A bend line on another layer takes no corner away from the outline.
    let bent = ring.map(line).concat() + "0 LINE 8 FOLD 10 0 20 0 11 50 21 30";
    let bent = input("a.dxf", &dxf("", "", &bent), Units::Mm);
    assert!(path_of_drawn(&trace(&bent).drawn[0]).is_some_and(|p| p.is_closed()));
}

fn svg(attributes: &str, inside: &str, wanted: impl Into<Wanted>) -> Input {
    let text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" \
         xmlns:i=\"urn:other\" width=\"200mm\" height=\"100mm\" viewBox=\"0 0 200 100\" {attributes}>{inside}</svg>"
    );
    input("a.svg", text.as_bytes(), wanted)
}

/// All of these are the square with corners (10, 50) and (30, 70) on the plate.
#[test]
fn uses_symbols_styles_and_transforms_say_where_a_square_is() {
    let notations = [
        "<defs><rect id=\"a\" width=\"20\" height=\"20\"/></defs><use xlink:href=\"#a\" x=\"10\" y=\"30\"/>",
        "<defs><g id=\"a\"><rect width=\"1\" height=\"1\"/></g></defs><use href=\"#a\" transform=\"translate(10 30) scale(20)\"/>",
        "<symbol id=\"a\" viewBox=\"0 0 5 5\"><rect width=\"5\" height=\"5\"/></symbol><use href=\"#a\" x=\"10\" y=\"30\" width=\"20\" height=\"20\"/>",
        "<defs><svg id=\"a\" viewBox=\"0 0 4 4\" width=\"20\" height=\"20\"><rect width=\"4\" height=\"4\"/></svg></defs><use href=\"#a\" x=\"10\" y=\"30\"/>",
        "<rect style=\"transform: translate(10px, 30px) scale(20); width: 1px; height: 1px\"/>",
        "<rect x=\"10\" y=\"30\" width=\"20\" height=\"20\" style=\"transform: rotate(90deg); transform-origin: 20px 40px\"/>",
        "<style>/* a sheet */ @media print { rect { x: 3px } } .a, #none { width: 20px; height: 20px } rect.a { x: 10px; y: 30px } rect { x: 99px }</style><rect class=\"b a\"/>",
        "<style>g > path { d: path('M10 30h20v20h-20z') }</style><g><path d=\"M0 0h9v9z\"/></g>",
        "<style>rect { width: 20px !important }</style><rect x=\"10\" y=\"30\" height=\"20\" style=\"width: 5px\"/>",
        "<rect x=\"5%\" y=\"30%\" width=\"10%\" height=\"20%\"/>",
        "<g display=\"none\"><circle r=\"9\"/></g><g visibility=\"hidden\"><circle r=\"9\"/><rect visibility=\"visible\" x=\"10\" y=\"30\" width=\"20\" height=\"20\"/></g>",
        "<style>.off { display: none }</style><circle class=\"off\" r=\"9\"/><switch><circle systemLanguage=\"xx\" r=\"9\"/><rect x=\"10\" y=\"30\" width=\"20\" height=\"20\"/><circle r=\"5\"/></switch>",
        "<path fill=\"none\" d=\"M0 0h90v90z\"/><g stroke=\"none\"><path fill=\"none\" d=\"M0 0h90v90z\"/></g><rect x=\"10\" y=\"30\" width=\"20\" height=\"20\" fill=\"none\" stroke=\"red\"/>",
        "<rect transform=\"matrix(0,20,-20,0,30,30)\" width=\"1\" height=\"1\"/>",
    ];
    for inside in notations {
        let drawn = svg("", inside, Units::Mm);
        assert_eq!(
            (lengths(&drawn), bounds(&drawn)),
            (vec![80.0], [10.0, 50.0, 30.0, 70.0]),
            "{inside}"
        );
        assert_eq!(doubted(&drawn), [], "{inside}");
    }
}

#[test]
fn what_a_picture_hides_or_shows_otherwise_is_told() {
    let rect = "<rect width=\"20\" height=\"20\"/>";
    let hidden = svg(
        "",
        &format!(
            "{rect}<g style=\"display:none\" id=\"old\"><path d=\"M0 0h5\"/></g><text>a</text><image/>"
        ),
        Units::Mm,
    );
    assert!(
        said(&hidden, "1 invisible (\"old\")") && said(&hidden, "1 image, 1 text"),
        "{:?}",
        hidden.notes
    );
    assert_eq!(doubted(&hidden), []);
    let clip = |shape: &str, under: &str| {
        svg(
            "",
            &format!("<clipPath id=\"c\">{shape}</clipPath><g clip-path=\"url(#c)\">{under}</g>"),
            Units::Mm,
        )
    };
    assert_eq!(
        doubted(&clip("<rect width=\"200\" height=\"100\"/>", rect)),
        []
    );
    let cut = clip("<rect width=\"15\" height=\"100\"/>", rect);
    assert_eq!(
        (lengths(&cut), doubted(&cut)),
        (vec![80.0], vec![About::File])
    );
    assert_eq!(doubted(&clip("<circle r=\"100\"/>", rect)), [About::File]);
    let lost = svg(
        "",
        &format!(
            "{rect}<use href=\"#nowhere\"/><path id=\"p\" fill=\"none\" stroke=\"red\" d=\"M0 50h10v10L5,x\"/>"
        ),
        Units::Mm,
    );
    assert_eq!(
        (lengths(&lost), doubted(&lost)),
        (vec![80.0, 20.0], vec![About::File, About::File])
    );
    let own = svg(
        "",
        &format!("{rect}<g id=\"a\"><use href=\"#a\"/><path d=\"M0 90h7\"/></g>"),
        Units::Mm,
    );
    assert_eq!(
        (lengths(&own), doubted(&own)),
        (vec![80.0, 7.0], vec![About::File])
    );
    let layers = "<g id=\"g1\" i:label=\"Cut\"><rect width=\"20\" height=\"20\"/></g><g i:label=\"Engrave\"><path d=\"M0 50h9\"/></g>";
    let both = svg("", layers, Units::Mm);
    assert_eq!(
        (lengths(&both), doubted(&both)),
        (vec![80.0, 9.0], vec![About::File])
    );
    let one = svg(
        "",
        layers,
        Wanted {
            layers: vec!["cut".into()],
            ..Wanted::default()
        },
    );
    assert_eq!((lengths(&one), doubted(&one)), (vec![80.0], vec![]));
    let bare = input("a.svg", b"<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 9 9\"><rect width=\"5\" height=\"5\"/></svg>", Units::Mm);
    assert_eq!(doubted(&bare), [About::Units]);
}

#[test]
fn letters_of_any_kind_do_not_matter() {
    let text = "<?xml version=\"1.0\" encoding=\"ISO-8859-1\"?><svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9mm\" viewBox=\"0 0 9 9\"><title>Größe</title><rect id=\"Maß\" width=\"5\" height=\"5\"/></svg>";
    let latin: Vec<u8> = text
        .chars()
        .map(|c| u8::try_from(u32::from(c)).expect("Latin-1"))
        .collect();
    let wide: Vec<u8> = format!("\u{feff}{text}")
        .encode_utf16()
        .flat_map(u16::to_be_bytes)
        .collect();
    for bytes in [text.as_bytes().to_vec(), latin, wide] {
        assert_eq!(lengths(&input("a.svg", &bytes, Units::Mm)), [20.0]);
    }
}

#[test]
fn uses_of_uses_are_refused_before_they_fill_the_memory() {
    let groups: String = (0..30)
        .map(|i| {
            format!(
                "<g id=\"g{i}\">{}</g>",
                format!("<use href=\"#g{}\"/>", i + 1).repeat(10)
            )
        })
        .collect();
    let text = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\">{groups}<g id=\"g30\"><path d=\"M0 0h9\"/></g></svg>"
    );
    let refused = read("a.svg", text.as_bytes(), Units::Mm)
        .map(|_| ())
        .map_err(|e| e.to_string());
    assert!(
        refused.as_ref().is_err_and(|e| e.contains("elements")),
        "{refused:?}"
    );
}

#[test]
fn chords_are_put_back_within_what_was_said() {
    let chords = |n: u32, r: f64| -> String {
        let at = |i: u32| {
            Point::new(50.0, 50.0)
                + trued::Vec2::from_angle(f64::from(i) * core::f64::consts::TAU / f64::from(n)) * r
        };
        (0..n)
            .map(|i| format!("{},{} ", at(i).x, at(i).y))
            .collect()
    };
    let polygon = |n: u32, r: f64, chords_said: f64| {
        let inside = format!("<polygon points=\"{}\"/>", chords(n, r));
        svg(
            "",
            &inside,
            Wanted {
                chords: chords_said,
                ..Wanted::default()
            },
        )
    };
    let round = polygon(90, 30.0, 0.05);
    assert!(
        said(&round, "90 chords of curves put back into 1 arc"),
        "{:?}",
        round.notes
    );
    assert_eq!(trace(&round).drawn[0].len(), 1);
    // The middles of 90 sides lie 0.018 mm inside a circle of 30.
    for (n, said) in [(90, 0.0), (90, 0.01), (24, 0.05), (6, 0.05)] {
        assert_eq!(
            trace(&polygon(n, 30.0, said)).drawn[0].len(),
            n as usize,
            "{n} {said}"
        );
    }
}

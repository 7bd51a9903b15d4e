//! Which side is kept, units, figures out of range, the coupon, profiles, what is read and what is said.

use crate::bench::{Bench, FIGURES, Hand, mm};
use std::fs;

#[test]
fn a_loop_traced_in_a_sheet_becomes_a_hole_when_told() {
    let b = Bench::new();
    b.put("hole.csv", &mm().rectangle(20.0, 30.0, 80.0, 50.0).rows);
    let said = b.good(&format!("cut hole.csv {FIGURES} -o x.ngc --look look.html"));
    assert!(
        said.contains("what is inside the line of 1 part is kept"),
        "{said}"
    );
    assert!(
        b.get("look.html")
            .contains("what is inside the line of 1 part is kept")
    );
    let (w, h) = b.plate(1.5).size(60.0, 55.0).expect("metal");
    assert!(
        (w - 80.0).abs() < 0.8 && (h - 50.0).abs() < 0.8,
        "{w} x {h}"
    );
    let said = b.good(&format!("cut hole.csv {FIGURES} --keep outside -o x.ngc"));
    assert!(
        said.contains("the sheet around 1 opening is kept"),
        "{said}"
    );
    // The slug is two kerfs smaller than the hole.
    let (w, h) = b.plate(1.5).size(60.0, 55.0).expect("metal");
    assert!(
        (w - 77.0).abs() < 0.8 && (h - 47.0).abs() < 0.8,
        "{w} x {h}"
    );
    // Marks beside the loop speak for an opening, and nothing is guessed.
    let marks = mm()
        .circle(100.0, 100.0, 40.0)
        .touch(40.0, 40.0)
        .touch(160.0, 40.0)
        .touch(160.0, 160.0)
        .touch(40.0, 160.0);
    b.put("ring.csv", &marks.rows);
    fs::remove_file(b.path("x.ngc")).unwrap();
    b.doubted(
        &format!("cut ring.csv {FIGURES} --hole 8 -o x.ngc"),
        &[
            "4 marks lie outside every part",
            "--keep inside or --keep outside",
        ],
    );
    b.good(&format!(
        "cut ring.csv {FIGURES} --hole 8 --keep outside -o x.ngc"
    ));
    let (w, _) = b.plate(1.5).size(100.0, 100.0).expect("metal");
    assert!((w - 77.0).abs() < 0.8, "{w}");
}

#[test]
fn a_trace_of_an_inch_s_size_without_a_unit_is_asked_about() {
    let b = Bench::new();
    let corners = [(0.0, 0.0), (6.0, 0.0), (6.0, 3.5), (0.0, 3.5), (0.0, 0.0)];
    b.put("bare.csv", &Hand::trace("").along(&corners, 0.04).rows);
    b.doubted(
        &format!("cut bare.csv {FIGURES} -o x.ngc"),
        &["states no unit", "6.0", "3.5", "--units in"],
    );
    let said = b.good("cut bare.csv --units in --kerf 0.06 --feed 95 --pierce 0.4 -o x.ngc");
    // Bare numbers are in inches, and inches are spoken and written.
    assert!(said.contains("kerf 0.06 in, feed 95 in/min"), "{said}");
    assert!(b.get("x.ngc").contains("G20") && b.get("x.ngc").contains("F95"));
    let (w, h) = b.plate(1.524).size(76.0, 44.0).expect("metal");
    assert!(
        (w - 152.4).abs() < 1.0 && (h - 88.9).abs() < 1.0,
        "{w} x {h}"
    );
}

#[test]
fn bare_numbers_follow_the_trace_and_a_suffix_wins() {
    let b = Bench::new();
    let corners = [(0.0, 0.0), (6.0, 0.0), (6.0, 3.5), (0.0, 3.5), (0.0, 0.0)];
    b.put(
        "in.csv",
        &Hand::trace("# units: in\n").along(&corners, 0.04).rows,
    );
    for line in [
        "cut in.csv --kerf 0.06 --feed 95 --pierce 0.4 --stock 20x10 --out-units mm -o x.ngc",
        "cut in.csv --kerf 1.524mm --feed 2413mm/min --pierce 0.4 --stock 508mmx254mm --out-units mm -o x.ngc",
    ] {
        let said = b.good(line);
        assert!(said.contains("kerf 1.524 mm, feed 2413 mm/min"), "{said}");
        assert!(b.get("x.ngc").contains("G21"));
    }
    // The document carries the unit on.
    b.good("outline in.csv -o in.json");
    let said = b.good("cut in.json --kerf 0.06 --feed 95 --pierce 0.4 -o x.ngc");
    assert!(said.contains("kerf 0.06 in, feed 95 in/min"), "{said}");
    fs::remove_file(b.path("x.ngc")).unwrap();
    // A kerf meant in mm is one of 38 mm.
    b.doubted(
        "cut in.csv --kerf 1.5 --feed 95 --pierce 0.4 -o x.ngc",
        &["the kerf is", "write 1.5mm"],
    );
}

#[test]
fn figures_out_of_any_usual_range_are_asked_about() {
    let b = Bench::new();
    b.put("tab.csv", &mm().rectangle(0.0, 0.0, 40.0, 30.0).rows);
    for (figures, about) in [
        ("--kerf 20 --feed 2400 --pierce 0.4", "the kerf is 20 mm"),
        (
            "--kerf 0.06 --feed 2400 --pierce 0.4",
            "the kerf is 0.06 mm",
        ),
        ("--kerf 1.5 --feed 95 --pierce 0.4", "the feed is 95 mm/min"),
        (
            "--kerf 1.5 --feed 60000 --pierce 0.4",
            "the feed is 60000 mm/min",
        ),
        (
            "--kerf 1.5 --feed 2400 --pierce 40",
            "the pierce delay is 40 s",
        ),
        (
            "--kerf 1.5 --feed 2400 --pierce 0.4 --thickness 0.125",
            "the thickness is 0.125 mm",
        ),
        (
            "--kerf 1.5 --feed 2400 --pierce 0.4 --cut-height 15 --pierce-height 38 --safe-height 40",
            "the cut height is 15 mm",
        ),
        (
            "--kerf 1.5 --feed 2400 --pierce 0.4 --copies 400",
            "400 copies",
        ),
        (
            "--kerf 1.5 --feed 2400 --pierce 0.4 --lead 100",
            "the lead is 100 mm",
        ),
        (
            "--kerf 1.5 --feed 2400 --pierce 0.4 --overlap 80",
            "the overlap is 80 mm",
        ),
    ] {
        b.doubted(&format!("cut tab.csv {figures} -o x.ngc"), &[about]);
    }
    let (status, said) = b.run(&format!(
        "cut tab.csv {FIGURES} --cut-height 5 --pierce-height 3 --safe-height 20 -o x.ngc"
    ));
    assert!(
        status != 0 && said.contains("the cut height must be the least") && !b.has("x.ngc"),
        "{said}"
    );
    // The usual figures of thin sheet and of thick plate are no doubt.
    for figures in [
        "--kerf 0.8 --feed 9000 --pierce 0",
        "--kerf 3 --feed 180 --pierce 2 --thickness 25",
    ] {
        b.good(&format!("cut tab.csv {figures} -o x.ngc"));
    }
}

#[test]
fn a_coupon_s_own_sequence_works_to_the_end() {
    let b = Bench::new();
    b.good("coupon --feeds 1800..3000 --kerf 1.5 --pierce 0.4 --thickness 2 -o coupon.ngc");
    let blank = b.get("coupon.csv");
    let filled = |rung: &str, slot: &str| {
        blank
            .replace("\nrung,", &format!("\nrung,{rung}"))
            .replace("\nslot,", &format!("\nslot,{slot}"))
    };
    b.put("book.csv", "name,kerf,feed\nhood 2,1.45,2500\n");
    let book = b.get("book.csv");
    // 16 for 1.6: nothing of the book is lost.
    b.put("wild.csv", &filled("3", "16"));
    let (status, said) = b.run("coupon --measured wild.csv --materials book.csv --material hood");
    assert!(
        status == 1
            && said.contains("doubt 1: the kerf is 16 mm")
            && said.contains("left as it is"),
        "{said}"
    );
    assert_eq!(b.get("book.csv"), book);
    b.put("fine.csv", &filled("3", "1.6"));
    b.good("coupon --measured fine.csv --materials book.csv --material hood");
    b.put("tab.csv", &mm().rectangle(0.0, 0.0, 40.0, 30.0).rows);
    let said = b.good("cut tab.csv --materials book.csv --material hood -o x.ngc");
    assert!(
        said.contains("kerf 1.6 mm, feed 2280 mm/min, pierce delay 0.4 s, plate 2 mm"),
        "{said}"
    );
}

#[test]
fn pieces_that_spoil_each_other_are_asked_about() {
    let b = Bench::new();
    b.put("a.csv", &mm().rectangle(0.0, 0.0, 80.0, 50.0).rows);
    b.put("b.csv", &mm().rectangle(60.0, 10.0, 80.0, 50.0).rows);
    let cut = |inputs: &str, rest: &str| format!("cut {inputs} {FIGURES} {rest} -o x.ngc");
    b.doubted(
        &cut("a.csv b.csv", ""),
        &["part 1 and part 2 overlap by", "move them apart"],
    );
    // Wholly on the other's metal.
    b.put("c.csv", &mm().rectangle(20.0, 10.0, 30.0, 20.0).rows);
    b.doubted(
        &cut("a.csv c.csv", ""),
        &["part 2 lies on the metal of part 1"],
    );
    b.put(
        "rim.csv",
        &mm().rectangle(0.0, 0.0, 80.0, 50.0).touch(77.0, 25.0).rows,
    );
    b.doubted(
        &cut("rim.csv", "--hole 10"),
        &["breaks out of the rim", "part 1 and hole 1 cross at (80."],
    );
    b.doubted(
        &cut("a.csv", "--reach 60x60"),
        &["leave the machine's reach of 60 x 60 mm by"],
    );
    b.doubted(
        &cut("rim.csv", "--hole 1"),
        &["no wider than the kerf", "it is not cut"],
    );
    // Apart they are cut.
    b.good(&cut("a.csv b.csv", "--copies 1"));
}

#[test]
fn a_profile_is_applied_once_and_said() {
    let b = Bench::new();
    b.put("shop.json", r#"{ "trued_machine": 1, "square": { "scale_x": 1.01, "scale_y": 0.99, "out_of_square_deg": 0.5 } }"#);
    b.put("a.csv", &mm().rectangle(0.0, 0.0, 80.0, 50.0).rows);
    for kind in ["dxf", "svg"] {
        let said = b.good(&format!("outline a.csv --machine shop.json -o a.{kind}"));
        assert!(
            said.contains("pre-distorted for the machine \"shop\""),
            "{said}"
        );
        let (status, said) = b.run(&format!(
            "cut a.{kind} --machine shop.json {FIGURES} -o x.ngc"
        ));
        assert!(
            status == 1
                && said.contains("already")
                && said.contains("leave --machine out")
                && !b.has("x.ngc"),
            "{said}"
        );
        b.good(&format!("cut a.{kind} {FIGURES} -o x.ngc"));
        fs::remove_file(b.path("x.ngc")).unwrap();
        // What is made of it remembers.
        b.good(&format!("outline a.{kind} -o again.json"));
        assert_eq!(
            b.run(&format!(
                "cut again.json --machine shop.json {FIGURES} -o x.ngc"
            ))
            .0,
            1
        );
    }
    // The document stays true, and is corrected once.
    let said = b.good("outline a.csv --machine shop.json -o a.json");
    assert!(said.contains("not in the document"), "{said}");
    let said = b.good(&format!(
        "cut a.json --machine shop.json {FIGURES} -o x.ngc"
    ));
    assert!(
        said.contains("corrected for the machine \"shop\""),
        "{said}"
    );
    let once = b.get("x.ngc");
    b.good(&format!("cut a.csv --machine shop.json {FIGURES} -o x.ngc"));
    assert_eq!(b.get("x.ngc"), once);
}

#[test]
fn what_is_read_is_never_overwritten() {
    let b = Bench::new();
    fs::create_dir(b.path("t")).unwrap();
    b.put("a.csv", &mm().rectangle(0.0, 0.0, 80.0, 50.0).rows);
    b.good("outline a.csv -o t/a.dxf");
    let before = b.get("t/a.dxf");
    for line in [
        "outline t/a.dxf --out-dir t --format dxf".to_owned(),
        "outline t/a.dxf -o t/../t/a.dxf".to_owned(),
        format!("cut t/a.dxf {FIGURES} -o t/a.dxf"),
        format!("cut a.csv --stock t/a.dxf {FIGURES} -o t/a.dxf"),
        format!("cut a.csv {FIGURES} -o x.ngc --sheet s.html --look s.html"),
    ] {
        let (status, said) = b.run(&line);
        assert!(
            status == 2
                && (said.contains("would be overwritten") || said.contains("written twice")),
            "{line}: {said}"
        );
    }
    assert_eq!(b.get("t/a.dxf"), before);
}

#[test]
fn an_open_path_that_goes_round_is_asked_about() {
    let b = Bench::new();
    let round = |turns: f64| -> String {
        let arc = |i: usize| {
            let a = turns * std::f64::consts::TAU * i as f64 / 300.0;
            format!(r#"[{},{}]"#, 40.0 * libm::cos(a), 40.0 * libm::sin(a))
        };
        let sweep = turns * std::f64::consts::TAU / 300.0;
        let edges: Vec<String> = (0..300)
            .map(|i| format!(r#"{{ "arc": {{ "from": {}, "to": {}, "center": [0,0], "radius": 40, "sweep": {sweep} }} }}"#, arc(i), arc(i + 1)))
            .collect();
        format!(
            r#"{{ "trued": 1, "units": "mm", "loops": [ {{ "closed": false, "role": "open", "edges": [ {} ] }} ] }}"#,
            edges.join(",")
        )
    };
    b.put("thrice.json", &round(2.97));
    b.doubted(
        &format!("cut thrice.json {FIGURES} -o x.ngc"),
        &["open path", "is cut along its line", "hint"],
    );
    // A slit is a slit.
    b.put("slit.json", r#"{ "trued": 1, "units": "mm", "loops": [ { "closed": false, "role": "open", "edges": [ { "line": { "from": [0,0], "to": [80,0] } } ] } ] }"#);
    b.good(&format!("cut slit.json {FIGURES} -o x.ngc"));
}

#[test]
fn touches_in_a_ring_are_offered_as_corners() {
    let b = Bench::new();
    let ring = mm()
        .touch(0.0, 0.0)
        .touch(100.2, 0.1)
        .touch(100.0, 60.0)
        .touch(50.0, 80.3)
        .touch(0.1, 60.0);
    b.put("ring.csv", &ring.rows);
    assert!(
        b.good("outline ring.csv -o ring.json")
            .contains("--kind touched")
    );
    let (status, said) = b.run(&format!("cut ring.csv {FIGURES} -o x.ngc"));
    assert!(
        status == 1 && said.contains("--kind touched") && said.contains("--hole"),
        "{said}"
    );
    b.good(&format!("cut ring.csv --kind touched {FIGURES} -o x.ngc"));
    let (w, h) = b.plate(1.5).size(50.0, 40.0).expect("metal");
    assert!(
        (w - 100.0).abs() < 0.8 && (h - 80.0).abs() < 0.8,
        "{w} x {h}"
    );
}

#[test]
fn comments_of_machine_files_are_short_and_plain() {
    let b = Bench::new();
    b.put(
        "a.csv",
        &mm().rectangle(0.0, 0.0, 80.0, 50.0).touch(20.0, 20.0).rows,
    );
    b.good(&format!("cut a.csv {FIGURES} -o x.ngc"));
    let text = b.get("x.ngc");
    for line in text.lines() {
        assert!(
            line.len() <= 80 && !line.contains(';') && line.matches('(').count() <= 1,
            "{line}"
        );
    }
    // The cautions are the first thing in the file, and one line on the screen.
    let head: Vec<&str> = text.lines().take(30).collect();
    assert!(head.iter().any(|l| l.contains("Local codes")), "{head:?}");
}

//! No wrong cut without a word: what a new user would try, through the program, its files cut in a plate of
//! numbers. Each test ends right: cut right where right can be known, else refused with exit 1, nothing
//! written, and a numbered sentence that says what, where, and what to do about it.

mod again;
mod bench;
mod figures;
mod narrow;
#[path = "../../../tests/src/plate.rs"]
mod plate;
#[allow(dead_code, reason = "the programs are cut, not held against a plan")]
#[path = "../../../tests/src/rs274.rs"]
mod rs274;
mod slips;

use bench::{Bench, FIGURES, document, mm};
use std::fs;

#[test]
fn a_document_s_doubts_are_numbered_and_stop_the_cut() {
    let b = Bench::new();
    b.put(
        "plate.json",
        &document("", r#"{ "text": "a slit was traced there and back and is not in the outline", "at": [40, 25], "about": "reading" },
                        { "text": "40 mm of the left side were never traced", "at": [0, 25], "about": "closing" }"#),
    );
    let cut = format!("cut plate.json {FIGURES} -o x.ngc");
    let said = b.doubted(
        &cut,
        &[
            "doubt 1: a slit",
            "at (40.0, 25.0) mm",
            "doubt 2: 40 mm of the left",
            "doubts 1,2 stand",
        ],
    );
    assert!(!said.contains("doubt 3"), "{said}");
    // One of two is not enough; pictures and sheets are written all the same and show them.
    let (status, said) = b.run(&format!(
        "{cut} --accept-doubts 2 --look look.html --sheet sheet.html"
    ));
    assert!(
        status == 1 && !b.has("x.ngc") && said.contains("doubt 1 stands"),
        "{said}"
    );
    for page in ["look.html", "sheet.html"] {
        let page = b.get(page);
        assert!(page.contains("a slit was traced") && page.contains("never traced"));
    }
    b.good(&format!("{cut} --accept-doubts 1,2"));
    assert!(b.get("x.ngc").contains("(doubt 1, taken on: a slit"));
    // What no machine runs is written, and the drawing that one runs is not.
    b.good(&format!("cut plate.json {FIGURES} -o x.svg"));
    b.good(&format!("cut plate.json {FIGURES} -o plan.json"));
    assert!(b.get("plan.json").contains("never traced"));
    assert_eq!(b.run(&format!("cut plate.json {FIGURES} -o x.dxf")).0, 1);
    assert!(!b.has("x.dxf"));
    // They go on through every document.
    let said = b.good("outline plate.json -o again.json");
    assert!(
        said.contains("doubt 2:") && b.get("again.json").contains("never traced"),
        "{said}"
    );
}

#[test]
fn one_input_that_cannot_be_read_leaves_no_file() {
    let b = Bench::new();
    b.put("a.csv", &mm().rectangle(0.0, 0.0, 80.0, 50.0).rows);
    b.put("b.csv", "x,y\n1,wide\n");
    let (status, said) = b.run(&format!("cut a.csv b.csv {FIGURES} -o x.ngc"));
    assert!(
        status == 1 && said.contains("b.csv") && !b.has("x.ngc"),
        "{said}"
    );
}

#[test]
fn an_opening_with_its_holes_stays_together_on_the_stock() {
    let b = Bench::new();
    let marks = mm()
        .touch(60.0, 60.0)
        .touch(180.2, 59.9)
        .touch(180.0, 180.1)
        .touch(59.9, 180.0);
    b.put("marks.csv", &marks.circle(120.0, 120.0, 49.0).rows);
    let said = b.good("opening marks.csv --hole 8 --series -o op.json");
    assert!(
        said.contains("round, 100 mm across: step 100 of the preferred sizes R10"),
        "{said}"
    );
    for rest in [
        "--stock 600x400",
        "--copies 2",
        "--copies 2 --stock 600x400",
    ] {
        let said = b.good(&format!("cut op.json {FIGURES} {rest} -o x.ngc"));
        assert!(said.contains("the sheet around"), "{said}");
        let program = rs274::read(&b.get("x.ngc")).expect("a program");
        let plate = plate::cut(&program, 1.5);
        let copies = 1 + usize::from(rest.contains("copies"));
        assert_eq!(plate.pierces.len(), 5 * copies, "{rest}");
        // Slugs: one of 100 and four of 8 mm less two kerfs a copy, the four 84.85 mm about the large one.
        let mut middles: Vec<(f64, f64, f64)> = Vec::new();
        for piece in &plate.pieces {
            use geo::{BoundingRect, Centroid};
            let (w, c) = (
                piece.bounding_rect().unwrap().width(),
                piece.centroid().unwrap(),
            );
            middles.push((w, c.x(), c.y()));
        }
        let large: Vec<_> = middles
            .iter()
            .filter(|m| (m.0 - 97.0).abs() < 0.1)
            .collect();
        let small: Vec<_> = middles.iter().filter(|m| (m.0 - 5.0).abs() < 0.1).collect();
        assert_eq!(
            (large.len(), small.len()),
            (copies, 4 * copies),
            "{rest}: {middles:?}"
        );
        for l in large {
            let near = small
                .iter()
                .filter(|s| (libm::hypot(s.1 - l.1, s.2 - l.2) - 84.85).abs() < 0.3);
            assert_eq!(near.count(), 4, "{rest}");
        }
        fs::remove_file(b.path("x.ngc")).unwrap();
    }
}

#[test]
fn several_inputs_keep_their_places() {
    let b = Bench::new();
    b.put("a.csv", &mm().rectangle(20.0, 30.0, 80.0, 50.0).rows);
    b.put("b.csv", &mm().circle(200.0, 90.0, 25.0).rows);
    b.good(&format!("cut a.csv b.csv {FIGURES} -o x.ngc"));
    let plate = b.plate(1.5);
    let (w, h) = plate.size(60.0, 55.0).expect("metal");
    assert!(
        (w - 80.0).abs() < 0.8 && (h - 50.0).abs() < 0.8,
        "{w} x {h}"
    );
    let (w, h) = plate.size(200.0, 90.0).expect("metal");
    assert!(
        (w - 50.0).abs() < 0.8 && (h - 50.0).abs() < 0.8,
        "{w} x {h}"
    );
}

#[test]
fn blanks_keep_off_touched_holes_and_slits_of_a_scrap() {
    let b = Bench::new();
    let scrap = mm()
        .rectangle(0.0, 0.0, 300.0, 200.0)
        .touch(75.0, 60.0)
        .touch(220.0, 130.0);
    b.put(
        "scrap.csv",
        &scrap.along(&[(150.0, 40.0), (150.0, 160.0)], 1.0).rows,
    );
    let said = b.good(&format!(
        "blanks --size 60x40 --count 12 --scrap scrap.csv --quick {FIGURES} -o x.ngc"
    ));
    assert!(
        said.contains("2 touched holes of the scrap are kept clear as if 12 mm wide"),
        "{said}"
    );
    let plate = b.plate(1.5);
    // What was there already must still be on the skeleton, with its surroundings.
    for (x, y) in [(75.0, 60.0), (220.0, 130.0)] {
        for (dx, dy) in [(0.0, 0.0), (6.0, 0.0), (-6.0, 0.0), (0.0, 6.0), (0.0, -6.0)] {
            assert!(
                plate.hangs(x + dx, y + dy),
                "a blank lies over the hole at ({x}, {y})"
            );
        }
    }
    for y in [40.0, 80.0, 120.0, 160.0] {
        assert!(plate.hangs(150.0, y), "a blank lies over the slit at {y}");
    }
    // What `cut` takes, `blanks` takes.
    let said = b.good(&format!("blanks --size 60x40 --count 2 --scrap scrap.csv --quick {FIGURES} --lead 4 --bridges 2 --reach 400x300 --cut-height 1.5 --pierce-height 4 --safe-height 20 -o x.ngc"));
    assert!(b.get("x.ngc").contains("G0 Z20"), "{said}");
}

#[test]
fn bridges_hold_the_piece() {
    let b = Bench::new();
    b.put("a.csv", &mm().rectangle(20.0, 30.0, 80.0, 50.0).rows);
    b.put("c.csv", &mm().circle(60.0, 60.0, 35.0).rows);
    for (input, x, y) in [("a.csv", 60.0, 55.0), ("c.csv", 60.0, 60.0)] {
        for (kerf, width) in [
            (1.5, "--bridge-width 1"),
            (3.0, "--bridge-width 2"),
            (1.0, ""),
            (1.5, ""),
            (0.8, "--bridge-width 1.2"),
        ] {
            b.good(&format!(
                "cut {input} --kerf {kerf} --feed 2400 --pierce 0.4 --bridges 3 {width} -o x.ngc"
            ));
            let plate = b.plate(kerf);
            assert!(
                plate.hangs(x, y),
                "{input}, kerf {kerf} {width}: the piece falls"
            );
            assert_eq!(plate.pierces.len(), 3);
            // Without the bridges it is a piece of its own: they are all that holds it, each as wide as asked.
            b.good(&format!(
                "cut {input} --kerf {kerf} --feed 2400 --pierce 0.4 -o x.ngc"
            ));
            assert!(!b.plate(kerf).hangs(x, y));
        }
    }
    fs::remove_file(b.path("x.ngc")).unwrap();
    b.doubted(
        &format!("cut a.csv {FIGURES} --bridges 3 --bridge-width 0.5 -o x.ngc"),
        &["bridges of 0.5 mm melt through", "1.0 mm or wider"],
    );
    // As wide as asked: a kerf as much wider than the said one as the bridge is cuts it through.
    b.good(&format!(
        "cut a.csv {FIGURES} --bridges 3 --bridge-width 2 -o x.ngc"
    ));
    assert!(b.plate(1.5 + 1.9).hangs(60.0, 55.0) && !b.plate(1.5 + 2.1).hangs(60.0, 55.0));
}

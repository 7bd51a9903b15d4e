//! No wrong cut without a word: what a new user would try, through the program, its files cut in a plate of
//! numbers. Each test ends right: cut right where right can be known, else refused with exit 1, nothing
//! written, and a numbered sentence that says what, where, and what to do about it.

#[path = "../../tests/src/plate.rs"]
mod plate;
#[allow(dead_code, reason = "the programs are cut, not held against a plan")]
#[path = "../../tests/src/rs274.rs"]
mod rs274;

use plate::Plate;
use std::fmt::Write as _;
use std::fs;
use std::path::PathBuf;
use std::process::Command;

const FIGURES: &str = "--kerf 1.5 --feed 2400 --pierce 0.4";

/// A bench: a folder with files, and the program run in it.
struct Bench(tempfile::TempDir);

impl Bench {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn put(&self, name: &str, text: &str) {
        fs::write(self.path(name), text).expect("a file");
    }

    fn has(&self, name: &str) -> bool {
        self.path(name).exists()
    }

    fn get(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
    }

    /// Status and what was said.
    fn run(&self, line: &str) -> (i32, String) {
        let output = Command::new(env!("CARGO_BIN_EXE_trued"))
            .args(line.split_whitespace())
            .current_dir(self.0.path())
            .output()
            .expect("the program runs");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        (output.status.code().unwrap_or(-1), said)
    }

    fn good(&self, line: &str) -> String {
        let (status, said) = self.run(line);
        assert_eq!(status, 0, "trued {line}\n{said}");
        said
    }

    /// Refused for a doubt that says all of `words`; `x.ngc` is not there. Accepted, it is.
    fn doubted(&self, line: &str, words: &[&str]) -> String {
        let (status, said) = self.run(line);
        assert_eq!(status, 1, "trued {line}\n{said}");
        assert!(
            said.contains("doubt 1: ") && said.contains("--accept-doubts"),
            "{said}"
        );
        for word in words {
            assert!(said.contains(word), "\"{word}\" in\n{said}");
        }
        assert!(!self.has("x.ngc"), "a file was written in doubt");
        self.good(&format!("{line} --accept-doubts"));
        fs::remove_file(self.path("x.ngc")).expect("it was accepted");
        said
    }

    /// `x.ngc` cut in a plate.
    fn plate(&self, kerf: f64) -> Plate {
        let program = rs274::read(&self.get("x.ngc")).unwrap_or_else(|e| panic!("{e}"));
        plate::cut(&program, kerf)
    }
}

/// Strokes as a hand leaves them: a sample a mm, some 0.2 mm off, slowly.
#[derive(Default)]
struct Hand {
    rows: String,
    strokes: usize,
}

impl Hand {
    fn trace(units: &str) -> Self {
        Self {
            rows: format!("{units}x,y,stroke\n"),
            strokes: 0,
        }
    }

    fn along(mut self, corners: &[(f64, f64)], step: f64) -> Self {
        self.strokes += 1;
        let mut s: f64 = 0.0;
        for w in corners.windows(2) {
            let (dx, dy) = (w[1].0 - w[0].0, w[1].1 - w[0].1);
            let n = (libm::hypot(dx, dy) / step).ceil().max(1.0);
            for i in 0..n as usize {
                let t = i as f64 / n;
                s += step;
                let off = 0.2
                    * step
                    * (libm::sin(0.31 * s / step)
                        + 0.7 * libm::cos(0.173 * s / step + self.strokes as f64));
                let l = libm::hypot(dx, dy);
                let (x, y) = (
                    w[0].0 + t * dx - off * dy / l,
                    w[0].1 + t * dy + off * dx / l,
                );
                let _ = writeln!(self.rows, "{x:.4},{y:.4},{}", self.strokes);
            }
        }
        self
    }

    fn loop_of(self, corners: &[(f64, f64)]) -> Self {
        let mut all = corners.to_vec();
        all.push(corners[0]);
        self.along(&all, 1.0)
    }

    fn rectangle(self, x: f64, y: f64, w: f64, h: f64) -> Self {
        self.loop_of(&[(x, y), (x + w, y), (x + w, y + h), (x, y + h)])
    }

    fn circle(self, x: f64, y: f64, r: f64) -> Self {
        let n = (6.0 * r) as usize;
        let at = |i: usize| {
            let a = std::f64::consts::TAU * i as f64 / n as f64;
            (x + r * libm::cos(a), y + r * libm::sin(a))
        };
        let corners: Vec<(f64, f64)> = (0..=n).map(at).collect();
        self.along(&corners, 1.0)
    }

    fn touch(mut self, x: f64, y: f64) -> Self {
        self.strokes += 1;
        let _ = writeln!(self.rows, "{x},{y},{}", self.strokes);
        self
    }
}

fn mm() -> Hand {
    Hand::trace("# units: mm\n")
}

#[test]
fn a_document_s_doubts_are_numbered_and_stop_the_cut() {
    let b = Bench::new();
    b.put(
        "plate.json",
        r#"{ "trued": 1, "units": "mm", "loops": [ { "closed": true, "role": "part", "edges": [
            { "line": { "from": [0,0], "to": [80,0] } }, { "line": { "from": [80,0], "to": [80,50] } },
            { "line": { "from": [80,50], "to": [0,50] } }, { "line": { "from": [0,50], "to": [0,0] } } ] } ],
            "doubts": [ { "text": "a slit was traced there and back and is not in the outline", "at": [40, 25], "about": "reading" },
                        { "text": "40 mm of the left side were never traced", "at": [0, 25], "about": "closing" } ] }"#,
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

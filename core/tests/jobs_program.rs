//! The jobs through the program, on the demo data, as a person with the pages of `examples/jobs` runs them.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The project's own folder.
fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// A folder of a test's own, empty.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// Runs the program in the project's folder; OUT in an argument stands for the test's own folder.
fn run(out: &Path, line: &str) -> (Output, String) {
    let out = out.to_str().unwrap();
    let args = line.split_whitespace().map(|a| a.replace("OUT", out));
    let output = Command::new(env!("CARGO_BIN_EXE_trued"))
        .current_dir(root())
        .args(args)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    (output, said)
}

fn good(out: &Path, line: &str) -> String {
    let (output, said) = run(out, line);
    assert_eq!(output.status.code(), Some(0), "trued {line}\n{said}");
    said
}

fn bad(out: &Path, line: &str, status: i32) -> String {
    let (output, said) = run(out, line);
    assert_eq!(output.status.code(), Some(status), "trued {line}\n{said}");
    said
}

fn read(out: &Path, name: &str) -> String {
    std::fs::read_to_string(out.join(name)).unwrap_or_else(|e| panic!("{name}: {e}"))
}

#[test]
fn an_opening_goes_on_to_the_cut() {
    let out = folder("job-opening");
    let said = good(
        &out,
        "opening examples/marks/vent_collar.csv --hole 8 --series --thickness 2 --whole 1 -o OUT/collar.json",
    );
    assert!(
        said.contains("four holes on a square, pitch 180.00 mm"),
        "{said}"
    );
    assert!(
        said.contains("onto the centre of the holes") && said.contains("Cautions"),
        "{said}"
    );
    // Every hole is one full-circle arc edge of role hole.
    let json: serde_json::Value = serde_json::from_str(&read(&out, "collar.json")).unwrap();
    let loops = json["loops"].as_array().unwrap();
    assert_eq!(loops.len(), 5);
    for l in loops {
        assert_eq!(
            (l["role"].as_str(), l["closed"].as_bool()),
            (Some("hole"), Some(true))
        );
        let edges = l["edges"].as_array().unwrap();
        assert_eq!(edges.len(), 1);
        assert_eq!(edges[0]["arc"]["from"], edges[0]["arc"]["to"]);
    }
    assert_eq!(loops[0]["edges"][0]["arc"]["radius"], 80.0);
    good(
        &out,
        "cut OUT/collar.json --kerf 1.5 --feed 2400 --pierce 0.4 -o OUT/collar.ngc",
    );
    for (shape, kind) in [
        ("--rect 60x40", "svg"),
        ("--round-ended 60x40", "dxf"),
        ("--round 50", "json"),
    ] {
        good(
            &out,
            &format!("opening examples/marks/caster_pad.csv --hole 9 {shape} -o OUT/pad.{kind}"),
        );
    }
    let said = good(
        &out,
        "opening examples/marks/peep_cover.csv --hole 6 --round 80 -o OUT/peep.json",
    );
    assert!(said.contains("6 holes round a circle of 120"), "{said}");
    let said = good(
        &out,
        "opening examples/marks/hinge_strip.csv --hole 4 --round-ended 30x8 --web 2 -o OUT/strip.json",
    );
    assert!(said.contains("4 holes in a row"), "{said}");
    let said = bad(
        &out,
        "opening examples/marks/caster_pad.csv --hole 9 --round 140 -o OUT/none.json",
        1,
    );
    assert!(
        said.contains("opening") && !out.join("none.json").exists(),
        "{said}"
    );
    bad(
        &out,
        "opening examples/marks/caster_pad.csv --hole 9 -o OUT/none.json",
        2,
    );
    bad(
        &out,
        "opening examples/marks/caster_pad.csv --hole 9 --round 50 -o OUT/none.png",
        2,
    );
}

#[test]
fn blanks_say_what_is_missing() {
    let out = folder("job-blanks");
    let figures = "--kerf 1.5 --feed 2400 --pierce 0.4 --gap 3 --edge 5";
    let said = good(
        &out,
        &format!(
            "blanks examples/traces/hinge_blank.csv --count 20 --scrap examples/scrap/bin_piece.csv {figures} -o OUT/hinges.ngc --sheet OUT/hinges.html"
        ),
    );
    assert!(said.contains(" of 20 fit; the scrap would need "), "{said}");
    assert!(read(&out, "hinges.ngc").contains("M2") || read(&out, "hinges.ngc").contains("M30"));
    assert!(read(&out, "hinges.html").contains("</html>"));
    let said = good(
        &out,
        &format!(
            "blanks --size 80x50 --count 4 --turns none --scrap 400x200 {figures} -o OUT/leaves.svg"
        ),
    );
    assert!(said.contains("all 4 fit"), "{said}");
    let said = bad(
        &out,
        &format!(
            "blanks --size 800x50 --count 4 --scrap 400x200 --quick {figures} -o OUT/none.svg"
        ),
        1,
    );
    assert!(
        said.contains("0 of 4 fit") && !out.join("none.svg").exists(),
        "{said}"
    );
    let said = bad(
        &out,
        "blanks --size 80x50 --count 4 --scrap 400x200 -o OUT/none.svg",
        2,
    );
    assert!(said.contains("cutter's own book"), "{said}");
}

#[test]
fn a_coupon_and_what_it_says() {
    let out = folder("job-coupon");
    let said = good(
        &out,
        "coupon --feeds 1800..3000 --kerf 1.5 --pierce 0.4 -o OUT/coupon.ngc",
    );
    assert!(said.contains("rung 3: 2280 mm/min"), "{said}");
    let program = read(&out, "coupon.ngc");
    for feed in ["F1800", "F2040", "F2280", "F2520", "F2760", "F3000"] {
        assert!(program.contains(feed), "{feed}");
    }
    // The sheet beside it is never overwritten.
    std::fs::write(out.join("coupon.csv"), "what,value\nslot,1.6\n").unwrap();
    good(
        &out,
        "coupon --feeds 1800..3000 --kerf 1.5 --pierce 0.4 -o OUT/coupon.svg",
    );
    assert_eq!(read(&out, "coupon.csv"), "what,value\nslot,1.6\n");
    std::fs::copy(
        root().join("examples/measurements/material_book.csv"),
        out.join("book.csv"),
    )
    .unwrap();
    let (measured, keep) = (
        "coupon --measured examples/measurements/coupon_filled.csv",
        "--materials OUT/book.csv",
    );
    let said = good(&out, &format!("{measured} --material cart-2 {keep}"));
    assert!(
        said.contains("kerf 1.59 ± 0.06 mm") && said.contains("feed 2280"),
        "{said}"
    );
    let book = read(&out, "book.csv");
    assert!(
        book.contains("cart 5,5,1.9,1200,0.6,\n")
            && book.contains("cart-2,2,1.587,2280,0.4,from a coupon\n"),
        "{book}"
    );
    let said = bad(&out, "coupon --measured OUT/book.csv", 1);
    assert!(said.contains("line"), "{said}");
}

#[test]
fn a_crooked_machine() {
    let out = folder("job-square");
    let piece = "square --nominal 400x300 --sides 404.1,297.0,403.9,297.1";
    let said = good(
        &out,
        &format!("{piece} --diagonals 499.5,503.3 -o OUT/m.json"),
    );
    assert!(said.contains("out of square +0.455°"), "{said}");
    let cut = "--kerf 1.5 --feed 2400 --pierce 0.4";
    good(
        &out,
        &format!("cut examples/traces/hood_panel.csv {cut} -o OUT/plain.ngc"),
    );
    good(
        &out,
        &format!("cut examples/traces/hood_panel.csv {cut} --machine OUT/m.json -o OUT/bent.ngc"),
    );
    assert_ne!(read(&out, "plain.ngc"), read(&out, "bent.ngc"));
    // The document stays true, drawings for a machine do not.
    for (kind, same) in [("json", true), ("dxf", false), ("svg", false)] {
        good(
            &out,
            &format!("outline examples/traces/hood_panel.csv -o OUT/a.{kind}"),
        );
        good(
            &out,
            &format!("outline examples/traces/hood_panel.csv --machine OUT/m.json -o OUT/b.{kind}"),
        );
        assert_eq!(
            read(&out, &format!("a.{kind}")) == read(&out, &format!("b.{kind}")),
            same,
            "{kind}"
        );
    }
    let said = bad(
        &out,
        &format!("{piece} --diagonals 490,503.3 -o OUT/none.json"),
        1,
    );
    assert!(
        said.contains("contradict") && !out.join("none.json").exists(),
        "{said}"
    );
    bad(
        &out,
        "square --nominal 400x300 --sides 1,2,3 --diagonals 4,5",
        2,
    );
}

#[test]
fn the_arm_and_the_right_tip() {
    let out = folder("job-arm");
    let machine = "--machine examples/machines/as_delivered.json --tip stylus";
    good(
        &out,
        "square --nominal 400x300 --sides 404.1,297.0,403.9,297.1 --diagonals 499.5,503.3 -o OUT/m.json",
    );
    let said = good(
        &out,
        &format!(
            "arm examples/touches/shelf_plate.csv {machine} --table -50,-50,500,400 -o OUT/m.json"
        ),
    );
    assert!(
        said.contains("link 1") && said.contains("expected error over the table"),
        "{said}"
    );
    let profile = read(&out, "m.json");
    assert!(
        profile.contains("\"square\"") && profile.contains("\"arm\""),
        "{profile}"
    );
    let said = bad(
        &out,
        &format!("arm examples/touches/one_reach.csv {machine} -o OUT/none.json"),
        1,
    );
    assert!(
        said.contains("one elbow angle") && !out.join("none.json").exists(),
        "{said}"
    );
    let tip =
        "tip examples/touches/gusset_wrong_tip.csv --machine examples/machines/shop_machine.json";
    good(
        &out,
        &format!("{tip} --believed stylus --true torch -o OUT/gusset.csv"),
    );
    good(
        &out,
        &format!("{tip} --believed torch --true stylus -o OUT/back.csv"),
    );
    assert_eq!(read(&out, "gusset.csv").lines().count(), 477 + 2);
    let said = bad(
        &out,
        &format!("{tip} --believed pen --true torch -o OUT/none.csv"),
        2,
    );
    assert!(said.contains("stylus, torch"), "{said}");
    std::fs::write(out.join("far.csv"), "x,y\n100,100\n5000,0\n").unwrap();
    let far = "tip OUT/far.csv --machine examples/machines/shop_machine.json --believed stylus --true torch -o OUT/far-true.csv";
    let said = bad(&out, far, 1);
    assert!(
        said.contains("stroke 1, point 2") && !out.join("far-true.csv").exists(),
        "{said}"
    );
    good(&out, &format!("{far} --leave-out"));
}

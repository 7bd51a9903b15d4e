//! What was given twice, grew too large, went missing or lost its doubts on the way.

use crate::bench::{Bench, FIGURES, document, mm};

/// Refused, and `file` is as it was.
fn kept(b: &Bench, line: &str, file: &str, words: &[&str]) {
    let before = b.has(file).then(|| b.get(file));
    let (status, said) = b.run(line);
    assert!(status != 0, "trued {line}\n{said}");
    for word in words {
        assert!(said.contains(word), "\"{word}\" in\n{said}");
    }
    assert_eq!(b.has(file).then(|| b.get(file)), before, "trued {line}");
}

#[test]
fn no_door_writes_over_what_it_reads() {
    let b = Bench::new();
    b.put("a.csv", &mm().rectangle(20.0, 30.0, 120.0, 80.0).rows);
    b.put("p.json", "{}");
    for (line, file) in [
        (
            "tip a.csv --machine p.json --believed a --true b -o a.csv",
            "a.csv",
        ),
        (
            "tip a.csv --machine p.json --believed a --true b -o p.json",
            "p.json",
        ),
        ("arm a.csv --machine p.json -o a.csv", "a.csv"),
        ("photo a.csv --frame a4 -o ./a.csv", "a.csv"),
        (
            "coupon --measured a.csv --material m --materials a.csv",
            "a.csv",
        ),
        ("outline a.csv --look a.csv -o x.json", "a.csv"),
        ("opening p.json --hole 8 --round 100 -o p.json", "p.json"),
        (
            "blanks p.json --count 2 --scrap 300x200 -o p.json",
            "p.json",
        ),
        ("cut p.json -o p.json", "p.json"),
    ] {
        kept(&b, line, file, &["is read and would be overwritten"]);
        assert_eq!(b.run(line).0, 2, "{line}");
    }
}

#[test]
fn wild_figures_of_a_coupon_are_not_kept() {
    let b = Bench::new();
    b.put("book.csv", "name,kerf,feed\nhood 2,1.45,2500\n");
    for (pierce, thickness, words) in [
        ("40", "2", "the pierce delay is 40 s"),
        ("0.4", "200", "the thickness is 200 mm"),
        ("-1", "2", "the pierce delay is -1 s"),
    ] {
        let sheet = format!(
            "what,value\nunits,mm\nfeed_from,1800\nfeed_to,3000\nrungs,6\nkerf,1.5\npierce,{pierce}\n\
             thickness,{thickness}\nrung,3\nslot,1.6\n"
        );
        b.put("c.csv", &sheet);
        let line = "coupon --measured c.csv --materials book.csv --material new";
        kept(&b, line, "book.csv", &[words]);
    }
    // A coupon that is refused leaves no sheet either.
    let line = "coupon --feeds 1800..3000 --kerf 16 --pierce 0.4 -o c16.ngc";
    kept(&b, line, "c16.csv", &["the kerf is 16 mm"]);
    b.good(&format!("{line} --accept-doubts"));
    assert!(b.has("c16.csv") && b.has("c16.ngc"));
}

#[test]
fn two_sizes_of_one_thing_are_refused() {
    let b = Bench::new();
    let plate = mm().rectangle(20.0, 30.0, 120.0, 80.0);
    b.put("a.csv", &plate.circle(70.0, 70.0, 5.0).rows);
    let hint =
        |says: &str| format!("{{ \"trued_hints\": 1, \"units\": \"mm\", \"hints\": [ {says} ] }}");
    b.put(
        "h.json",
        &hint("{ \"at\": [80, 30], \"size\": 120 }, { \"at\": [81, 30], \"size\": 80 }"),
    );
    for (said, words) in [
        (
            "--size 80,30=120 --size 75,30=80",
            "is given as 120 mm and as 80 mm: say one",
        ),
        (
            "--size 1=120 --size 1=80",
            "side 1 is given as 120 mm and as 80 mm: say one",
        ),
        (
            "--diameter h1=8 --diameter h1=10",
            "hole h1 is given as 8 mm and as 10 mm",
        ),
        (
            "--radius c1=5 --radius c1=8",
            "corner c1 is given as 5 mm and as 8 mm",
        ),
        ("--hints h.json", "is given as 120 mm and as 80 mm: say one"),
    ] {
        let line = format!("cut a.csv {FIGURES} {said} -o x.ngc");
        kept(&b, &line, "x.ngc", &[words]);
    }
    for said in [
        "--size 1=120 --size 1=120",
        "--size 1=120 --size 2=80",
        "--radius c1=5 --radius c2=8 --diameter h1=10",
    ] {
        b.good(&format!("cut a.csv {FIGURES} {said} -o x.ngc"));
    }
}

#[test]
fn the_same_piece_twice_at_one_place_is_asked_about() {
    let b = Bench::new();
    let plate = mm().rectangle(20.0, 30.0, 120.0, 80.0);
    b.put("a.csv", &plate.circle(70.0, 70.0, 10.0).rows);
    b.put("b.csv", &b.get("a.csv"));
    let words = [
        "part 1 and part 2 are the same piece at one place",
        "leave one out",
        "doubt 1 stands",
    ];
    for inputs in ["a.csv a.csv", "a.csv b.csv"] {
        b.doubted(&format!("cut {inputs} {FIGURES} -o x.ngc"), &words);
    }
    let edges = "\"edges\": [ { \"line\": { \"from\": [0,0], \"to\": [80,0] } }, { \"line\": { \"from\": [80,0], \"to\": \
                 [80,50] } }, { \"line\": { \"from\": [80,50], \"to\": [0,0] } } ]";
    let one = format!("{{ \"closed\": true, \"role\": \"part\", {edges} }}");
    b.put(
        "twice.json",
        &format!("{{ \"trued\": 1, \"units\": \"mm\", \"loops\": [ {one}, {one} ] }}"),
    );
    b.doubted(&format!("cut twice.json {FIGURES} -o x.ngc"), &words);
    // Laid on a stock they are two.
    b.good(&format!(
        "cut a.csv b.csv {FIGURES} --stock 400x300 -o x.ngc"
    ));
}

#[test]
fn a_hole_that_outgrows_its_part_is_asked_about() {
    let b = Bench::new();
    let plate = mm().rectangle(20.0, 30.0, 120.0, 80.0);
    b.put("a.csv", &plate.circle(80.0, 70.0, 10.0).rows);
    let cut = |said: &str| format!("cut a.csv {FIGURES} {said} -o x.ngc");
    b.doubted(
        &cut("--diameter h1=200"),
        &[
            "hole h1 of 200.0 mm is larger than the part it is in",
            "doubt 1 stands",
        ],
    );
    b.doubted(
        &cut("--diameter h1=100"),
        &["part 1 and hole 1 cross", "the hole breaks out of the rim"],
    );
    b.good(&cut("--diameter h1=60"));
    let plate = mm().rectangle(20.0, 30.0, 120.0, 80.0);
    b.put("a.csv", &plate.touch(80.0, 70.0).rows);
    std::fs::remove_file(b.path("x.ngc")).expect("it was written");
    b.doubted(
        &cut("--diameter h1=200"),
        &["hole h1 of 200.0 mm is larger than"],
    );
}

#[test]
fn an_input_that_is_missing_from_the_plan_is_asked_about() {
    let b = Bench::new();
    b.put("big.csv", &mm().rectangle(0.0, 0.0, 700.0, 500.0).rows);
    b.put("mid.csv", &mm().rectangle(0.0, 0.0, 160.0, 100.0).rows);
    b.put("small.csv", &mm().rectangle(0.0, 0.0, 120.0, 80.0).rows);
    let cut = |rest: &str| format!("cut {rest} {FIGURES} -o x.ngc");
    b.doubted(
        &cut("big.csv small.csv --stock 400x300"),
        &[
            "big.csv is missing from the plan",
            "does not fit on the stock of 400.0 x 300.0 mm",
        ],
    );
    let said = b.doubted(
        &cut("mid.csv small.csv --stock 190x130"),
        &[
            "small.csv is missing from the plan",
            "the stock of 190.0 x 130.0 mm is full",
        ],
    );
    assert!(!said.contains("does not fit"), "{said}");
    // Fewer copies than asked are no other piece.
    let said = b.good(&cut("mid.csv small.csv --copies 3 --stock 300x220"));
    assert!(said.contains(" of 3 pieces of "), "{said}");
}

#[test]
fn a_drawing_of_a_plan_is_not_cut_again() {
    let b = Bench::new();
    let plate = mm().rectangle(20.0, 30.0, 120.0, 80.0);
    b.put("a.csv", &plate.circle(80.0, 70.0, 10.0).rows);
    for plan in ["plan.dxf", "single.dxf --single", "plan.svg"] {
        b.good(&format!("cut a.csv {FIGURES} -o {plan}"));
        let plan = plan.split(' ').next().unwrap_or_default();
        let words = ["already compensated for kerf: cut the outline it was made of"];
        kept(
            &b,
            &format!("cut {plan} {FIGURES} -o x.ngc"),
            "x.ngc",
            &words,
        );
    }
    for outline in ["part.dxf", "part.svg"] {
        b.good(&format!("outline a.csv -o {outline}"));
        b.good(&format!("cut {outline} {FIGURES} -o x.ngc"));
    }
}

#[test]
fn a_hole_beside_its_part_is_asked_about() {
    let b = Bench::new();
    let holed = |x: f64, r: f64| {
        let (right, full) = (x + r, -core::f64::consts::TAU);
        let hole = format!(
            ", {{ \"closed\": true, \"role\": \"hole\", \"edges\": [ {{ \"arc\": {{ \"from\": [{right}, 25], \"to\": \
             [{right}, 25], \"center\": [{x}, 25], \"radius\": {r}, \"sweep\": {full} }} }} ] }}"
        );
        document(&hole, "")
    };
    let cut = format!("cut a.json {FIGURES} -o x.ngc");
    b.put("a.json", &holed(120.0, 5.0));
    b.doubted(
        &cut,
        &[
            "hole 1 at (120.0, 25.0) mm lies outside every part",
            "--keep",
        ],
    );
    b.put("a.json", &holed(40.0, 90.0));
    b.doubted(&cut, &["hole 1 of 180.0 x 180.0 mm is larger than part 1"]);
    b.put("a.json", &holed(40.0, 5.0));
    b.good(&cut);
}

#[test]
fn drawings_take_their_doubts_along() {
    let b = Bench::new();
    b.put(
        "gap.json",
        &document("", r#"{ "text": "30 mm ± 1 of the left side were never traced, \"so\" & so: <look>", "at": [0, 25], "about": "closing" }"#),
    );
    for drawing in ["gap.dxf", "gap.svg"] {
        b.good(&format!("outline gap.json -o {drawing}"));
        b.doubted(
            &format!("cut {drawing} {FIGURES} -o x.ngc"),
            &[
                "doubt 1: 30 mm ± 1 of the left side",
                "<look>",
                "(0.0, 25.0) mm",
            ],
        );
    }
}

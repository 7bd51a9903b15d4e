//! Corrections as a person says them on the command line.

use super::Shop;
use core::f64::consts::PI;

/// A hand round 80 by 50, one corner after the other, with a mark and a wobble of a tenth of a mm.
fn blank() -> String {
    let corners = [
        (0.0, 0.0),
        (80.0, 0.0),
        (80.0, 50.0),
        (0.0, 50.0),
        (0.0, 0.0),
    ];
    let mut text = String::from("# units: mm\nx,y,stroke\n");
    let mut k = 0.0_f64;
    for pair in corners.windows(2) {
        let [(ax, ay), (bx, by)] = [pair[0], pair[1]];
        let steps = libm::hypot(bx - ax, by - ay) as usize;
        for i in 0..steps {
            let t = i as f64 / steps as f64;
            k += 1.0;
            let (dx, dy) = (0.1 * libm::sin(0.31 * k), 0.1 * libm::cos(0.23 * k));
            let (x, y) = (ax + t * (bx - ax) + dx, ay + t * (by - ay) + dy);
            text.push_str(&format!("{x:.3},{y:.3},1\n"));
        }
    }
    text.push_str("20,15,2\n");
    text
}

/// What the table numbers, one flag corrects; places and numbers mean the same.
#[test]
fn corrections_are_said_in_one_flag() {
    let shop = Shop::new();
    shop.put("blank.csv", blank());
    let run = shop.run(&["outline", "blank.csv", "-o", "plain.json"]);
    assert_eq!(run.status, 0, "{}", run.said);
    for word in ["edge 1:", "4 lines (1-4)", "hole 1 to edge"] {
        assert!(run.said.contains(word), "{word}: {}", run.said);
    }
    let sizes = |args: &[&str]| -> Vec<(String, f64)> {
        let run = shop.run(&[&["outline", "blank.csv", "-q"], args].concat());
        assert_eq!(run.status, 0, "{args:?}: {}", run.said);
        let document: serde_json::Value = serde_json::from_str(&run.out).expect("a document");
        let all = document["sizes"].as_array().expect("sizes");
        all.iter()
            .map(|s| (s["kind"].to_string(), s["value"].as_f64().expect("a value")))
            .collect()
    };
    let has = |args: &[&str], kind: &str, value: f64| {
        let kind = format!("\"{kind}\"");
        let all = sizes(args);
        let near = |s: &&(String, f64)| s.0 == kind && (s.1 - value).abs() < 1e-6;
        assert!(all.iter().any(|s| near(&s)), "{args:?}: {all:?}");
    };
    has(&["--size", "40,0=82"], "length", 82.0);
    has(&["--size", "40,0=3.25in"], "length", 82.55);
    has(&["--size", "1=77"], "length", 77.0);
    has(&["--radius", "c3=8"], "radius", 8.0);
    has(
        &["--radius", "80,50=8", "--size", "40,0=82"],
        "length",
        82.0,
    );
    has(&["--hole", "h1=9"], "diameter", 9.0);
    has(&["--distance", "h1:0,25=22"], "to_edge", 22.0);
    has(&["--scale", "40,0=40"], "length", 40.0);
    let arcs = |args: &[&str]| sizes(args).iter().filter(|s| s.0 == "\"radius\"").count();
    assert_eq!(
        arcs(&["--square", "3", "--sharp", "2", "--straight", "1"]),
        0
    );
    let run = shop.run(&["outline", "blank.csv", "--zero", "0,0", "--level", "40,0"]);
    assert!(run.out.contains("\"placed\""), "{}", run.out);
    for (args, sentence) in [
        (["--size", "99=5"], "there is no edge 99; there are 4"),
        (["--sharp", "c9"], "there is no corner c9; there are 4"),
    ] {
        let run = shop.run(&["outline", "blank.csv", args[0], args[1]]);
        assert_eq!(run.status, 1, "{args:?}");
        assert!(run.said.contains(sentence), "{args:?}: {}", run.said);
    }
    let run = shop.run(&["outline", "blank.csv", "--size", "1=200", "--size", "3=190"]);
    assert!(run.said.contains("fights"), "{}", run.said);
    let far = shop.run(&["outline", "blank.csv", "--size", "400,0=20"]);
    assert!(far.said.contains("mm away"), "{}", far.said);
    let usage = shop.run(&["outline", "blank.csv", "--size", "1"]);
    assert_eq!(usage.status, 2, "{}", usage.said);
}

/// Where the drawing was scaled or turned, what is said after it is still said of the drawing as it was looked at.
#[test]
fn what_moves_the_whole_goes_by_one_picture() {
    let shop = Shop::new();
    shop.put("blank.csv", blank());
    for whole in [
        &["--scale", "1=40"][..],
        &["--level", "2"],
        &["--scale", "1=200", "--level", "2"],
    ] {
        for corner in ["c3", "80,50"] {
            let args = [&["outline", "blank.csv", "-q"], whole, &["--zero", corner]].concat();
            let run = shop.run(&args);
            assert_eq!(run.status, 0, "{args:?}: {}", run.said);
            let document: serde_json::Value = serde_json::from_str(&run.out).expect("a document");
            assert!(
                document["doubts"].as_array().is_none_or(Vec::is_empty),
                "{}",
                run.out
            );
            let third = &document["loops"][0]["edges"][2]["line"]["from"];
            let at = [0, 1].map(|k| third[k].as_f64().expect("a coordinate"));
            assert!(at[0].abs() + at[1].abs() < 1e-9, "{args:?}: {third}");
        }
    }
}

/// A mark with a diameter is a hole; a straight edge has none.
#[test]
fn a_diameter_makes_a_mark_a_hole() {
    let shop = Shop::new();
    shop.put("blank.csv", blank());
    for place in ["h1", "20,15"] {
        let flag = format!("{place}=9");
        let run = shop.run(&["outline", "blank.csv", "-q", "--diameter", &flag]);
        assert_eq!(run.status, 0, "{}", run.said);
        assert!(
            run.out
                .contains("\"diameter\",\"loop\":1,\"edges\":[0],\"value\":9.0"),
            "{place}: {}",
            run.out
        );
    }
    let run = shop.run(&["outline", "blank.csv", "--diameter", "e1=9"]);
    assert_eq!(run.status, 1, "{}", run.said);
    assert!(run.said.contains("is straight"), "{}", run.said);
}

/// What is cut straight from a trace is corrected by the same flags.
#[test]
fn a_trace_that_is_cut_is_corrected_too() {
    let shop = Shop::new();
    shop.put("blank.csv", blank());
    let figures = [
        "--kerf",
        "1.5",
        "--feed",
        "2400",
        "--pierce",
        "0.4",
        "-o",
        "plan.json",
    ];
    let cut = |args: &[&str]| shop.run(&[&["cut", "blank.csv"], args, &figures].concat());
    let run = cut(&["--size", "1=100", "--radius", "c3=8", "--hole", "9"]);
    assert_eq!(run.status, 0, "{}", run.said);
    let plan: serde_json::Value =
        serde_json::from_str(&super::text(&shop.path("plan.json"))).expect("a plan");
    let area = plan["totals"]["part_area"].as_f64().expect("an area");
    let meant = 100.0 * 50.0 - (4.0 - PI) * 16.0 - PI * 4.5 * 4.5;
    assert!((area - meant).abs() < 10.0, "{area} {meant}");
    let run = shop.run(
        &[
            &["cut", "blank.csv", "blank.csv", "--size", "1=100"][..],
            &figures,
        ]
        .concat(),
    );
    assert_eq!(run.status, 2, "{}", run.said);
    assert!(run.said.contains("one trace"), "{}", run.said);
}

/// A key nobody knows, or one without what it goes with, is refused with its name.
#[test]
fn hints_that_nobody_knows_are_refused() {
    let shop = Shop::new();
    shop.put("blank.csv", blank());
    for (hint, word) in [
        ("{ \"at\": [0, 0], \"sise\": 5 }", "sise"),
        ("{ \"at\": [0, 0], \"scale\": true }", "\"scale\" goes with"),
        ("{ \"at\": [0, 0], \"distance\": 5 }", "\"to\""),
        ("{ \"at\": [0, 0] }", "says nothing"),
        (
            "{ \"at\": [0, 0], \"size\": 5, \"radius\": 2 }",
            "two things",
        ),
    ] {
        shop.put(
            "h.json",
            format!("{{ \"trued_hints\": 1, \"hints\": [ {hint} ] }}"),
        );
        let run = shop.run(&["outline", "blank.csv", "--hints", "h.json"]);
        assert_eq!(run.status, 2, "{hint}: {}", run.said);
        assert!(run.said.contains(word), "{hint}: {}", run.said);
    }
}

//! Slips of the hand and of the figure: a side gone over again, a nought too many, a chamfer nobody can measure.

use crate::bench::{Bench, FIGURES, mm};

#[test]
fn a_side_gone_over_again_is_no_second_cut() {
    let b = Bench::new();
    let plate = || mm().rectangle(20.0, 30.0, 110.0, 70.0);
    let again = [(40.0, 30.4), (95.0, 29.7)];
    b.put("a.csv", &plate().along(&again, 1.0).rows);
    let said = b.good(&format!("cut a.csv {FIGURES} -o x.ngc"));
    assert!(said.contains("gone over again in another stroke"), "{said}");
    let plate_cut = b.plate(1.5);
    assert_eq!(plate_cut.pierces.len(), 1);
    let (w, h) = plate_cut.size(60.0, 60.0).expect("metal");
    assert!(
        (w - 110.0).abs() < 0.8 && (h - 70.0).abs() < 0.8,
        "{w} x {h}"
    );
    // Along the edge, then off into the metal: no slit is meant so.
    let off = [(40.0, 30.3), (95.0, 29.8), (95.0, 60.0)];
    b.put("b.csv", &plate().along(&off, 1.0).rows);
    std::fs::remove_file(b.path("x.ngc")).expect("it was written");
    b.doubted(
        &format!("cut b.csv {FIGURES} -o x.ngc"),
        &[
            "open path 1",
            "follows the edge of part 1 for",
            "leave it out",
        ],
    );
    // A slit from the edge inwards is what it is.
    b.put(
        "c.csv",
        &plate().along(&[(95.0, 28.0), (80.0, 60.0)], 1.0).rows,
    );
    b.good(&format!("cut c.csv {FIGURES} -o x.ngc"));
    assert_eq!(b.plate(1.5).pierces.len(), 2);
}

#[test]
fn a_nought_too_many_is_asked_about() {
    let b = Bench::new();
    let plate = mm().rectangle(20.0, 20.0, 90.0, 60.0).touch(50.0, 50.0);
    b.put("a.csv", &plate.rows);
    b.doubted(
        &format!("cut a.csv {FIGURES} --hole 200 -o x.ngc"),
        &["hole of 200 mm", "is larger than part 1"],
    );
    b.good(&format!("cut a.csv {FIGURES} --hole 20 -o x.ngc"));
    std::fs::remove_file(b.path("x.ngc")).expect("it was written");
    b.doubted(
        &format!("cut a.csv {FIGURES} --size 65,20=900 -o x.ngc"),
        &[
            "corrections make it 900.0 x",
            "look whether their figures are right",
        ],
    );
    // A sketch set to its sizes is no slip.
    b.good(&format!(
        "cut a.csv {FIGURES} --size 65,20=900 --size 20,50=600 -o x.ngc"
    ));
}

#[test]
fn a_clipped_corner_and_a_bend_that_hardly_shows_are_cut() {
    let b = Bench::new();
    // The upper left corner clipped by 3 mm, the lower side bent by half a degree in its middle.
    let corners = [
        (0.0, 0.0),
        (90.0, -0.8),
        (180.0, 0.0),
        (180.0, 110.0),
        (2.2, 110.0),
        (0.0, 107.8),
    ];
    for turn in [0.0, 0.2, 0.9] {
        let (sin, cos) = (libm::sin(turn), libm::cos(turn));
        let turned = corners.map(|(x, y)| (200.0 + x * cos - y * sin, 200.0 + x * sin + y * cos));
        b.put("a.csv", &mm().loop_of(&turned).rows);
        let said = b.good(&format!("cut a.csv {FIGURES} -o x.ngc"));
        assert!(!said.contains("hardly known"), "{said}");
        let at = |x: f64, y: f64| (200.0 + x * cos - y * sin, 200.0 + x * sin + y * cos);
        let (x, y) = at(90.0, 55.0);
        let area = b.plate(1.5).area(x, y);
        assert!((area - 19_870.0).abs() < 100.0, "{area} at {turn}");
    }
}

#[test]
fn a_saved_job_is_cut_as_it_was_saved() {
    let b = Bench::new();
    b.put("a.csv", &mm().rectangle(20.0, 30.0, 80.0, 50.0).rows);
    // As the page saves it: trace, settings, hints, figures of the cut.
    let points: Vec<String> = mm()
        .rectangle(20.0, 30.0, 80.0, 50.0)
        .rows
        .lines()
        .skip(2)
        .map(|l| {
            let xy: Vec<&str> = l.split(',').take(2).collect();
            format!("[{}]", xy.join(","))
        })
        .collect();
    let job = |cut: &str| {
        format!(
            "{{ \"trued_job\": 1, \"trace\": {{ \"strokes\": [ {{ \"points\": [{}] }} ] }}, \"settings\": {{}}, \
             \"hints\": [], \"cut\": {cut} }}",
            points.join(",")
        )
    };
    b.put(
        "job.json",
        &job(r#"{ "kerf": 2.0, "feed": 1800, "pierce": 0.6, "copies": 2, "width": 300, "height": 200 }"#),
    );
    let said = b.good("cut job.json -o x.ngc");
    assert!(
        said.contains("was saved with it and holds where no flag says otherwise: the kerf, the feed, the pierce delay")
            && said.contains("kerf 2 mm, feed 1800 mm/min, pierce delay 0.6 s")
            && said.contains("2 of 2 copies fit"),
        "{said}"
    );
    assert_eq!(b.plate(2.0).pierces.len(), 2);
    // A flag goes before it.
    let said = b.good("cut job.json --kerf 1.5 --copies 1 -o x.ngc");
    assert!(said.contains("kerf 1.5 mm, feed 1800 mm/min"), "{said}");
    assert_eq!(b.plate(1.5).pierces.len(), 1);
    // What it does not say is asked for.
    b.put("bare.json", &job(r#"{ "kerf": 1.5 }"#));
    let (status, said) = b.run("cut bare.json -o y.ngc");
    assert!(
        status == 2 && said.contains("the feed and the pierce delay must be given"),
        "{said}"
    );
    // Several together: whose figures are meant nobody knows.
    let said = b.good(&format!(
        "cut job.json a.csv {FIGURES} --stock 400x300 -o x.ngc"
    ));
    assert!(
        said.contains("saved with job.json is passed over"),
        "{said}"
    );
}

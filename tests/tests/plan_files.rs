//! A plan in every form it is written: the same cuts, read back by other readers than wrote them, and
//! the cautions in each.

use rayon::prelude::*;
use std::sync::LazyLock;
use trued::cut::{
    Accepted, Cleared, CutSettings, Group, Heights, Lay, Plan, Stock, Turns, job, plan,
};
use trued::format::look::Seen;
use trued::format::{self, Content, Units, plan_dxf, plan_json, plan_svg, rs274, sheet, template};
use trued::{Edge, Outline, Settings, true_up};
use trued_tests::demos;
use trued_tests::rs274 as standard;

static OUTLINES: LazyLock<Vec<Outline>> = LazyLock::new(|| {
    let all: Vec<Outline> = demos::all()
        .par_iter()
        .filter_map(|d| true_up(&d.trace, &Settings::default(), &[]).ok())
        .map(|t| t.outline)
        .collect();
    assert!(all.len() >= 12, "{}", all.len());
    all
});

fn settings() -> CutSettings {
    let mut s = CutSettings::new(1.5, 2500.0, 0.5);
    s.thickness = Some(3.0);
    s.hole = Some(8.0);
    s.title = "hood <blink>&\"panel\"</blink> (3 mm)\nsecond line".into();
    s
}

static PLANS: LazyLock<Vec<Plan>> = LazyLock::new(|| {
    let plans: Vec<Plan> = OUTLINES
        .par_iter()
        .filter_map(|o| plan(o, &settings()).ok())
        .filter(|p| !p.cuts.is_empty())
        .collect();
    assert!(plans.len() >= 12, "{}", plans.len());
    plans
});

fn length_with_torch(plan: &Plan) -> f64 {
    plan.cuts
        .iter()
        .flat_map(|c| c.moves())
        .map(Edge::length)
        .sum()
}

/// Lengths of everything drawn in a file.
fn drawn_length(name: &str, text: &str) -> f64 {
    match format::read(name, text.as_bytes(), Units::Mm).map(|i| i.content) {
        Ok(Content::Trace(trace)) => trace.drawn.iter().flatten().map(Edge::length).sum(),
        other => panic!("{name}: {other:?}"),
    }
}

fn cleared(plan: &Plan) -> Cleared<'_> {
    plan.cleared(&Accepted::All).expect("all is accepted")
}

/// NIST IR 6556, read by the tests' own reader: every place within half its last digit.
#[test]
fn machine_programs_do_what_the_plan_says() {
    for (i, plan) in PLANS.iter().enumerate() {
        for units in [Units::Mm, Units::Inch] {
            let text = rs274::write(
                cleared(plan),
                rs274::Options {
                    units,
                    dry_run: false,
                },
            );
            let program = standard::read(&text).unwrap_or_else(|e| panic!("{i}: {e}"));
            standard::agrees(plan, &program, units).unwrap_or_else(|e| panic!("{i}: {e}"));
            let dry = rs274::write(
                cleared(plan),
                rs274::Options {
                    units,
                    dry_run: true,
                },
            );
            let dry = standard::read(&dry).unwrap_or_else(|e| panic!("{i}: {e}"));
            assert_eq!(dry.lit, 0);
            // The first travel comes from wherever the machine stands and is no move.
            assert_eq!(dry.moves.len(), program.moves.len());
        }
    }
}

#[test]
fn heights_bridges_and_a_stock_are_written_too() {
    let mut s = settings();
    s.heights = Some(Heights {
        cut: 1.5,
        pierce: 4.0,
        safe: 20.0,
    });
    s.bridges = 2;
    let with: Vec<Plan> = OUTLINES
        .iter()
        .filter_map(|o| plan(o, &s).ok())
        .filter(|p| !p.cuts.is_empty())
        .collect();
    assert!(with.len() >= 12);
    for plan in &with {
        let text = rs274::write(cleared(plan), rs274::Options::default());
        let program = standard::read(&text).unwrap_or_else(|e| panic!("{e}"));
        standard::agrees(plan, &program, Units::Mm).unwrap_or_else(|e| panic!("{e}"));
        // Up before every travel, down to the pierce, down to the cut; up at the end.
        assert_eq!(text.matches("G0 Z20").count(), plan.cuts.len() + 1);
        assert_eq!(text.matches("G1 Z4 ").count(), plan.cuts.len());
        assert_eq!(text.matches("G1 Z1.5 ").count(), plan.cuts.len());
    }
    assert!(
        with.iter().any(|p| p.cuts.iter().any(|c| !c.closed)),
        "no bridge"
    );
}

/// Polylines and single entities alike, in mm and inches: what is read is as long as what is cut.
#[test]
fn drawings_of_a_plan_are_as_long_as_the_cut() {
    for plan in PLANS.iter() {
        let want = length_with_torch(plan);
        for units in [Units::Mm, Units::Inch] {
            for entities in [plan_dxf::Entities::Polylines, plan_dxf::Entities::Single] {
                let text = plan_dxf::write(cleared(plan), units, entities);
                let got = drawn_length("a.dxf", &text);
                // An overlap runs on over the path's own start and may be taken once.
                let over: f64 = plan
                    .cuts
                    .iter()
                    .flat_map(|c| &c.lead_out)
                    .map(Edge::length)
                    .sum();
                assert!(
                    got <= want + 1e-6 && got >= want - over - 1e-6,
                    "{got} of {want}, {over} over"
                );
                // Every caution, in lines short enough for any reader.
                let lines: Vec<&str> = text.lines().collect();
                let comments = lines.windows(2).filter(|w| w[0] == "999").map(|w| w[1]);
                let comments: Vec<&str> = comments.collect();
                assert!(comments.iter().all(|c| c.len() <= 72 && !c.contains(';')));
                let said = comments.join(" ");
                for caution in trued::cautions::CAUTIONS {
                    assert!(said.contains(&caution.replace(';', ",")), "{caution}");
                }
            }
        }
    }
}

#[test]
fn the_document_of_a_plan_has_every_cut() {
    for plan in PLANS.iter() {
        let text = plan_json::write(plan);
        let document: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        assert_eq!(document["trued_plan"], 1);
        assert_eq!(
            document["cuts"].as_array().map(Vec::len),
            Some(plan.cuts.len())
        );
        let length: f64 = document["cuts"]
            .as_array()
            .expect("cuts")
            .iter()
            .filter_map(|c| c["length"].as_f64())
            .sum();
        assert!((length - length_with_torch(plan)).abs() < 1e-6);
        assert!(
            document["cautions"]
                .as_array()
                .is_some_and(|c| !c.is_empty())
        );
    }
}

/// A name from a file never becomes markup; every page parses; cautions are on each.
#[test]
fn pages_and_pictures_hold_names_as_text() {
    for plan in PLANS.iter() {
        for text in [
            plan_svg::write(plan, Units::Mm),
            plan_svg::write(plan, Units::Inch),
            sheet::write(plan, &Seen::default(), template::Paper::A4, Units::Mm),
            sheet::write(plan, &Seen::default(), template::Paper::Letter, Units::Inch),
            template::write(plan, template::Paper::A4),
            template::write(plan, template::Paper::Letter),
        ] {
            assert!(!text.contains("<blink>"), "a name became markup");
            assert!(text.contains("&lt;blink&gt;"), "the name is gone");
            assert!(!text.contains("NaN") && !text.contains("<script"));
        }
        let svg = plan_svg::write(plan, Units::Mm);
        assert!(format::read("a.svg", svg.as_bytes(), Units::Mm).is_ok());
    }
}

#[test]
fn copies_are_laid_out_on_a_sheet_and_without_one() {
    let lay = Lay {
        copies: 3,
        gap: None,
        turns: Turns::default(),
    };
    let mut s = settings();
    for outline in OUTLINES.iter().take(4) {
        let group = [Group::from(outline.clone())];
        s.stock = None;
        let made = job(&group, Some(lay), &s).expect("a square is large enough");
        assert_eq!(made.layout.fits_in_all(), made.layout.asked_in_all());
        assert!(made.plan.is_some_and(|p| p.outline.loops.len() >= 3));
        s.stock = Stock::rectangle(900.0, 600.0).ok();
        if let Some(plan) = job(&group, Some(lay), &s).expect("a sheet").plan {
            let text = rs274::write(cleared(&plan), rs274::Options::default());
            let program = standard::read(&text).unwrap_or_else(|e| panic!("{e}"));
            standard::agrees(&plan, &program, Units::Mm).unwrap_or_else(|e| panic!("{e}"));
        }
    }
    // A sheet too small for anything says so.
    s.stock = Stock::rectangle(5.0, 5.0).ok();
    let made = job(&[OUTLINES[0].clone().into()], Some(lay), &s).expect("an answer");
    assert_eq!((made.layout.fits_in_all(), made.plan), (0, None));
}

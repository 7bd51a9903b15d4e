//! What the fuzz targets do with the bytes that the fuzzer makes up, and what must hold then.
//!
//! Readers get the bytes as they are. Traces and outlines are spelt by bytes ([`spell`]), so that
//! nearly every string of bytes means one and the fuzzer does not waste its time on syntax.
#![forbid(unsafe_code)]

#[path = "../../src/invariants.rs"]
#[allow(dead_code)]
pub mod invariants;
#[path = "../../src/rs274.rs"]
#[allow(dead_code)]
pub mod rs274;
pub mod spell;

use trued::cut::{Accepted, CutSettings, plan};
use trued::format::look::Seen;
use trued::format::{
    self, Content, Decimal, Units, Wanted, document, dxf, plan_dxf, plan_json, plan_svg, sheet, svg, template,
};
use trued::outline::nesting::loops_of_drawn;
use trued::{Hint, Outline, Refusal, Report, Settings, Trace, limits, true_up};

/// A refusal is one sentence, not too long to read.
fn sentence(refusal: &Refusal) {
    let said = refusal.to_string();
    assert!(
        !said.trim().is_empty() && said.chars().count() < 700,
        "{said}"
    );
    assert!(!said.contains('\n'), "{said}");
}

/// A file by its name's ending: an input within the limits or a sentence. Documents are written and
/// read again, byte for byte the same.
pub fn file(name: &str, bytes: &[u8]) {
    // What a person may say of a file, chosen by its bytes, beside nothing at all.
    let by = bytes.iter().fold(0_usize, |sum, b| sum.wrapping_mul(31) + usize::from(*b));
    let said = Wanted {
        units: Units::Inch,
        units_said: by % 2 == 0,
        traced: by % 3 == 0,
        chords: [0.0, 1e-6, 0.5, 1e3][by % 4],
        layers: if by % 5 == 0 { vec!["0".into(), "CUT".into()] } else { Vec::new() },
        decimal: [None, Some(Decimal::Point), Some(Decimal::Comma)][by % 3],
        columns: if by % 7 == 0 { vec!["x".into(), "y".into()] } else { Vec::new() },
    };
    for wanted in [Wanted::default(), said] {
        let units = wanted.units;
        let input = match format::read(name, bytes, wanted) {
            Ok(input) => input,
            Err(refusal) => {
                sentence(&refusal);
                continue;
            }
        };
        match input.content {
            Content::Trace(trace) => within_limits(&trace),
            Content::Document(d) => {
                d.outline.check_invariants().expect("a reader checks");
                let once = document::write(&d.outline, &d.report);
                let Ok(Content::Document(again)) =
                    format::read("a.json", once.as_bytes(), units).map(|i| i.content)
                else {
                    panic!("what was written is not read: {once}");
                };
                assert_eq!(document::write(&again.outline, &again.report), once);
                made(&d.outline, &CutSettings::new(1.5, 2500.0, 0.5));
            }
            Content::Job(job) => {
                let once = document::write_job(&job);
                let Ok(Content::Job(again)) =
                    format::read("a.json", once.as_bytes(), units).map(|i| i.content)
                else {
                    panic!("what was written is not read: {once}");
                };
                assert_eq!(document::write_job(&again), once);
            }
            Content::Hints(hints) => {
                let once = document::write_hints(&hints);
                assert!(document::read_hints(once.as_bytes()).is_ok(), "{once}");
            }
        }
    }
}

fn within_limits(trace: &Trace) {
    assert!(trace.point_count() <= limits::MAX_POINTS);
    let points = trace.strokes.iter().flat_map(|s| &s.points);
    for p in points {
        assert!(
            p.x.abs() <= limits::MAX_COORDINATE && p.y.abs() <= limits::MAX_COORDINATE,
            "{p:?}"
        );
    }
    for edge in trace.drawn.iter().flatten() {
        assert!(
            edge.from().is_finite() && edge.length().is_finite(),
            "{edge:?}"
        );
    }
}

/// The files beside a trace: hints, machine, material book, filled-in sheet, touches.
pub fn side_file(which: u8, bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    match which % 5 {
        0 => drop(document::read_hints(bytes).map_err(|e| sentence(&e))),
        1 => match trued::machine::Profile::read(&text) {
            Ok(profile) => {
                let once = profile.write().expect("what was read is written");
                let again = trued::machine::Profile::read(&once);
                assert!(again.is_ok(), "{once}");
                let p = profile.correct_point(trued::Point::new(100.0, 50.0));
                assert!(p.is_finite(), "{p:?}");
            }
            Err(refusal) => sentence(&refusal),
        },
        2 => drop(trued::cut::material::read(&text).map_err(|e| sentence(&e))),
        3 => drop(trued::jobs::coupon::read_sheet(&text).map_err(|e| sentence(&e))),
        _ => drop(trued::jobs::touches::read(bytes, "tip").map_err(|e| sentence(&e))),
    }
}

/// A trace: an outline that keeps its promises, written and read back, or a sentence.
pub fn trace(trace: &Trace, settings: &Settings, hints: &[Hint]) {
    let trued = match true_up(trace, settings, hints) {
        Ok(trued) => trued,
        Err(refusal) => return sentence(&refusal),
    };
    if let Err(what) = invariants::whole(&trued.outline) {
        panic!("{what}");
    }
    trued
        .outline
        .check_invariants()
        .expect("the core's own walker");
    let json = document::write(&trued.outline, &trued.report);
    let Ok(Content::Document(again)) =
        format::read("a.json", json.as_bytes(), Units::Mm).map(|i| i.content)
    else {
        panic!("what was written is not read");
    };
    assert_eq!(document::write(&again.outline, &again.report), json);
    written(&trued.outline);
    made(&trued.outline, &CutSettings::new(1.5, 2500.0, 0.5));
}

/// As SVG and DXF, in both units, as many loops come back, as long as before.
fn written(outline: &Outline) {
    if outline.loops.is_empty() {
        return;
    }
    let total = |loops: &[trued::Loop]| loops.iter().map(|l| l.path.length()).sum::<f64>();
    let length = total(&outline.loops);
    for units in [Units::Mm, Units::Inch] {
        for (name, text) in [
            ("a.svg", svg::write(outline, units)),
            ("a.dxf", dxf::write(outline, units)),
        ] {
            let Ok(Content::Trace(back)) =
                format::read(name, text.as_bytes(), Units::Mm).map(|i| i.content)
            else {
                panic!("{name}: what was written is not read");
            };
            let back = loops_of_drawn(&back.drawn);
            if ends_meet(outline) {
                // Read as one, or as closed: a drawing does not say.
                continue;
            }
            assert_eq!(back.len(), outline.loops.len(), "{name}");
            let off = (total(&back) - length).abs();
            assert!(
                off <= 1e-6 * (1.0 + outline.loops.len() as f64),
                "{name}: {off}"
            );
        }
    }
}

/// Whether two ends of open paths lie so near that readers of drawings take them for one corner.
fn ends_meet(outline: &Outline) -> bool {
    let mut ends = Vec::new();
    for edges in outline
        .loops
        .iter()
        .filter(|l| !l.path.is_closed())
        .map(|l| l.path.edges())
    {
        if let (Some(a), Some(b)) = (edges.first(), edges.last()) {
            ends.extend([a.from(), b.to()]);
        }
    }
    ends.iter()
        .enumerate()
        .any(|(i, p)| ends.iter().skip(i + 1).any(|q| p.distance(*q) < 0.02))
}

/// An outline: a plan whose every move is finite, in every form it is written, or a sentence. The
/// machine program is read by a reader of the standard and does what the plan says.
pub fn made(outline: &Outline, settings: &CutSettings) {
    let plan = match plan(outline, settings) {
        Ok(plan) => plan,
        Err(refusal) => return sentence(&refusal),
    };
    for edge in plan.cuts.iter().flat_map(trued::cut::Cut::moves) {
        assert!(
            edge.from().is_finite() && edge.to().is_finite() && edge.length().is_finite(),
            "{edge:?}"
        );
    }
    let Ok(cleared) = plan.cleared(&Accepted::All) else {
        panic!("all doubts are accepted");
    };
    for units in [Units::Mm, Units::Inch] {
        for dry_run in [false, true] {
            let text = format::rs274::write(cleared, format::rs274::Options { units, dry_run });
            let program = rs274::read(&text).unwrap_or_else(|e| panic!("{e}"));
            if dry_run {
                assert!(program.moves.iter().all(|m| !m.lit), "lit in a dry run");
            } else if let Err(e) = rs274::agrees(&plan, &program, units) {
                panic!("{units:?}: {e}");
            }
        }
        for text in [
            plan_svg::write(&plan, units),
            plan_dxf::write(cleared, units, plan_dxf::Entities::Polylines),
            plan_dxf::write(cleared, units, plan_dxf::Entities::Single),
            sheet::write(&plan, &Seen::default(), template::Paper::A4, units),
            plan_json::write(&plan),
        ] {
            assert!(!text.contains("NaN"), "a number that is none was written");
        }
    }
    drop(template::write(&plan, template::Paper::Letter));
}

/// A document's report is not looked at.
#[must_use]
pub fn document_of(outline: &Outline) -> String {
    document::write(outline, &Report::default())
}

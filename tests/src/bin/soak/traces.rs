//! One random trace through every stage, every writer and every reader.

use crate::{Done, sentence};
use trued::cut::{Accepted, CutSettings, Plan, plan};
use trued::format::look::Seen;
use trued::format::{
    self, Content, Units, document, dxf, plan_dxf, plan_json, plan_svg, rs274, sheet, svg, template,
};
use trued::outline::nesting::loops_of_drawn;
use trued::{Edge, Loop, Outline, Point, Settings, Trace, true_up};
use trued_tests::hand::{self, Form, Hand, Input, Level};
use trued_tests::rng::Rng;
use trued_tests::shapes::{Case, FAMILIES};
use trued_tests::{invariants, nasty};

/// How far a place may lie from where it was written, mm.
const SAME: f64 = 1e-6;

/// The trace of a seed, and how it is read.
pub fn made(rng: &mut Rng) -> (Trace, Settings) {
    let trace = if rng.chance(0.7) {
        nasty::trace(rng)
    } else {
        let case = Case::draw(&FAMILIES[rng.below(FAMILIES.len())], rng);
        let hand = Hand {
            level: Level::ALL[rng.below(3)],
            form: Form::ALL[rng.below(4)],
            input: Input::ALL[rng.below(4)],
        };
        hand::trace(&case, hand, rng)
    };
    let settings = Settings {
        whole: rng.chance(0.2).then_some(1.0),
        ..Settings::default()
    };
    (trace, settings)
}

/// Reads, writes and plans the trace of a seed.
pub fn one(rng: &mut Rng) -> Result<Done, String> {
    let (trace, settings) = made(rng);
    let size = 16 * trace.point_count();
    let trued = match true_up(&trace, &settings, &[]) {
        Ok(trued) => trued,
        Err(refusal) => return sentence(&refusal).map(|read| Done { read, size }),
    };
    let json = document::write(&trued.outline, &trued.report);
    match read("a.json", json.as_bytes())? {
        Content::Document(d) if document::write(&d.outline, &d.report) == json => {}
        other => return Err(format!("JSON came back as {other:?}")),
    }
    for units in [Units::Mm, Units::Inch] {
        through("a.svg", &svg::write(&trued.outline, units), &trued.outline)?;
        through("a.dxf", &dxf::write(&trued.outline, units), &trued.outline)?;
    }
    match plan(&trued.outline, &CutSettings::new(1.5, 2500.0, 0.5)) {
        Ok(plan) => planned(&plan)?,
        Err(refusal) => drop(sentence(&refusal)?),
    }
    // Last, so that a crossing outline is nevertheless written, read and planned.
    invariants::check(&trued)?;
    Ok(Done { read: true, size })
}

fn read(name: &str, bytes: &[u8]) -> Result<Content, String> {
    format::read(name, bytes, Units::Mm)
        .map(|input| input.content)
        .map_err(|refusal| format!("{name}: what was written is refused: {refusal}"))
}

fn through(name: &str, text: &str, outline: &Outline) -> Result<(), String> {
    if outline.loops.is_empty() {
        return Ok(());
    }
    match read(name, text.as_bytes())? {
        Content::Trace(trace) => {
            let back = loops_of_drawn(&trace.drawn);
            same(&outline.loops, &back).map_err(|e| format!("{name}: {e}"))
        }
        other => Err(format!("{name}: it came back as {other:?}")),
    }
}

/// Every loop has one of its own in the other list that runs along the same line, edge by edge.
fn same(a: &[Loop], b: &[Loop]) -> Result<(), String> {
    if a.len() != b.len() {
        return Err(format!("{} loops came back as {}", a.len(), b.len()));
    }
    let mut left: Vec<&Loop> = b.iter().collect();
    for (i, l) in a.iter().enumerate() {
        let Some(found) = left.iter().position(|other| matches(l, other)) else {
            return Err(format!(
                "loop {i} did not come back: {l:?}; left is {left:?}"
            ));
        };
        left.swap_remove(found);
    }
    Ok(())
}

/// The same line in as many edges. Of an open path that ends where it began a drawing does not say that it
/// is open.
fn matches(a: &Loop, b: &Loop) -> bool {
    let (p, q) = (a.path.edges(), b.path.edges());
    let (la, lb) = (a.path.length(), b.path.length());
    let returns = |e: &[Edge]| match e {
        [first, .., last] => first.from().distance(last.to()) <= SAME,
        _ => false,
    };
    let as_closed = a.path.is_closed() == b.path.is_closed()
        && (a.path.area().abs() - b.path.area().abs()).abs() <= SAME * la.max(1.0);
    (as_closed || returns(&p))
        && p.len() == q.len()
        && (la - lb).abs() <= SAME * (1.0 + p.len() as f64)
        && along(&p, &q, SAME)
        && along(&q, &p, SAME)
}

/// Every corner, and places between the corners, lie on the other edges.
fn along(a: &[Edge], b: &[Edge], tolerance: f64) -> bool {
    let places = a
        .iter()
        .flat_map(|e| [0.0, 0.25, 0.5, 0.75, 1.0].map(|t| e.point_at(t)));
    let off = |p: Point| {
        b.iter()
            .map(|e| e.nearest(p).0.distance(p))
            .fold(f64::INFINITY, f64::min)
    };
    places.into_iter().all(|p| off(p) <= tolerance)
}

/// Every move is finite, in every form that is written; the machine program does what the plan says.
fn planned(plan: &Plan) -> Result<(), String> {
    if plan
        .cuts
        .iter()
        .flat_map(|c| c.moves())
        .any(|e| !e.length().is_finite())
    {
        return Err("a plan with a move that is not finite".into());
    }
    for units in [Units::Mm, Units::Inch] {
        let dry_run = false;
        let cleared = (plan.cleared(&Accepted::All)).map_err(|e| e.to_string())?;
        let text = rs274::write(cleared, rs274::Options { units, dry_run });
        let program = trued_tests::rs274::read(&text).map_err(|e| format!("RS-274: {e}"))?;
        trued_tests::rs274::agrees(plan, &program, units).map_err(|e| format!("RS-274: {e}"))?;
        for text in [
            plan_dxf::write(cleared, units, plan_dxf::Entities::Polylines),
            plan_dxf::write(cleared, units, plan_dxf::Entities::Single),
            plan_svg::write(plan, units),
            plan_json::write(plan),
            sheet::write(plan, &Seen::default(), template::Paper::A4, units),
        ] {
            if text.contains("NaN") {
                return Err("a number that is none was written".into());
            }
        }
        let drawn = plan_dxf::write(cleared, units, plan_dxf::Entities::Polylines);
        if !plan.cuts.is_empty() {
            read("a.dxf", drawn.as_bytes())?;
        }
    }
    drop(template::write(plan, template::Paper::Letter));
    Ok(())
}

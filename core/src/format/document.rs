//! The documents of this tool, as JSON: an outline with its report, a saved job, a list of hints.
//!
//! Lengths are mm and angles radians always, whatever the units of other files. Numbers are
//! written with as many digits as it takes to read the same f64 back, so a document that is read
//! and written again is the same, byte for byte. Keys nobody knows are passed over.
//!
//! ```json
//! { "trued": 1, "units": "mm", "loops": [ … ], "marks": [ … ], … }
//! { "trued_job": 1, "trace": { … }, "settings": { … }, "hints": [ … ], "cut": { … }, "scrap": { … } }
//! { "trued_hints": 1, "units": "mm", "hints": [ … ] }
//! ```
//!
//! An outline keeps each corner once and an arc as its sweep; the document spells out both ends,
//! centre and radius of every edge for whoever reads it without this tool. Reading it back checks
//! that they agree within [`AGREE`] and then goes by corners and sweep.

use super::{Content, Input, Units, numbers, text};
use crate::cautions::CAUTIONS;
#[cfg(feature = "cut")]
use crate::cut::Figures;
use crate::geom::{Arc, Edge, Point, turn_between};
use crate::hint::Hint;
use crate::outline::crowd::refuse_crowds;
use crate::outline::{Bounds, Chain, Circle, Deviation, Loop, Mark, Outline, Path, Role, Shape};
use crate::report::{Also, Alternative, Doubt, Note, Placed, Relation, Report, Size, Wander};
use crate::{Refusal, Settings, Trace, limits};
use core::f64::consts::TAU;
use serde::Deserialize;

mod layout;

/// How far apart, in mm, the ends of neighbouring edges or the stated and the derived centre of an
/// arc may lie in a document. Written by this tool they agree to rounding; by hand, to a few digits.
pub const AGREE: f64 = 1e-3;
/// Up to this share of 1 mm and the radius, derived and stated centres differ by rounding alone.
const EXACT: f64 = 1e-9;

/// An outline already trued, with what was said of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Document {
    /// Loops, open paths and marks.
    pub outline: Outline,
    /// Relations, sizes, other readings, notes.
    pub report: Report,
}

/// A saved job: all that is needed to read the trace again.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Job {
    /// What the hand left.
    pub trace: Trace,
    /// How it is to be read.
    pub settings: Settings,
    /// Corrections by the person.
    pub hints: Vec<Hint>,
    /// What the file of the trace left doubtful; read back, they are the input's.
    pub doubts: Vec<Doubt>,
    /// How it is to be cut, as far as that was said.
    #[cfg(feature = "cut")]
    pub cut: Box<Figures>,
    /// The stock as it was traced, where it was.
    #[cfg(feature = "cut")]
    pub scrap: Option<Trace>,
}

#[derive(Deserialize)]
struct OutlineFile {
    units: String,
    loops: Vec<LoopFile>,
    #[serde(default)]
    marks: Vec<Mark>,
    #[serde(default)]
    relations: Vec<Relation>,
    #[serde(default)]
    sizes: Vec<Size>,
    #[serde(default)]
    readings: Vec<Alternative>,
    #[serde(default)]
    notes: Vec<Note>,
    #[serde(default)]
    doubts: Vec<Doubt>,
    #[serde(default)]
    wander: Vec<Wander>,
    #[serde(default)]
    moved: Vec<Vec<f64>>,
    traced_in: Option<Units>,
    made_for: Option<String>,
    #[serde(default)]
    also: Vec<Also>,
    placed: Option<Placed>,
}

#[derive(Deserialize)]
struct LoopFile {
    closed: bool,
    role: Role,
    edges: Vec<Edge>,
    deviation: Option<Deviation>,
}

#[derive(Deserialize)]
struct JobFile {
    trace: Trace,
    #[serde(default)]
    settings: Settings,
    #[serde(default)]
    hints: Vec<Hint>,
    #[serde(default)]
    doubts: Vec<Doubt>,
    #[cfg(feature = "cut")]
    #[serde(default)]
    cut: Box<Figures>,
    #[cfg(feature = "cut")]
    scrap: Option<Trace>,
}

#[derive(Deserialize)]
struct HintsFile {
    #[serde(default)]
    units: Units,
    hints: Vec<Hint>,
}

/// Which of the documents a file is, by the key that names it.
#[derive(Deserialize)]
struct Kind {
    trued: Option<serde_json::Value>,
    trued_job: Option<serde_json::Value>,
    trued_hints: Option<serde_json::Value>,
}

/// Reads any of the three documents.
///
/// # Errors
/// Refuses text that is not JSON or not one of the documents, and values that make no sense.
pub fn read(bytes: &[u8]) -> Result<Input, Refusal> {
    let bytes = text::decoded(bytes);
    let text: &str = &text::of_any(&bytes);
    let kind: Kind = parse(text)?;
    let mut content = if let Some(version) = kind.trued {
        version_one("trued", &version)?;
        Content::Document(outline_of(parse(text)?)?)
    } else if let Some(version) = kind.trued_job {
        version_one("trued_job", &version)?;
        Content::Job(job_of(parse(text)?)?)
    } else if let Some(version) = kind.trued_hints {
        version_one("trued_hints", &version)?;
        Content::Hints(hints_of(parse(text)?)?)
    } else {
        return Err(Refusal::File(
            "the file is JSON but no outline, job or hints of this tool (none of the keys \
             \"trued\", \"trued_job\", \"trued_hints\")"
                .into(),
        ));
    };
    let (units, made_for) = match &content {
        Content::Document(d) => (d.report.traced_in, d.report.made_for.clone()),
        _ => (None, None),
    };
    let doubts = match &mut content {
        Content::Job(job) => core::mem::take(&mut job.doubts),
        _ => Vec::new(),
    };
    Ok(Input {
        units,
        made_for,
        doubts,
        ..Input::of(content)
    })
}

/// The hints in a hints file.
///
/// # Errors
/// Refuses what is not a hints file.
pub fn read_hints(bytes: &[u8]) -> Result<Vec<Hint>, Refusal> {
    match read(bytes)?.content {
        Content::Hints(hints) => Ok(hints),
        Content::Job(job) => Ok(job.hints),
        _ => Err(Refusal::File("the file holds no hints".into())),
    }
}

fn parse<'a, T: Deserialize<'a>>(text: &'a str) -> Result<T, Refusal> {
    serde_json::from_str(text).map_err(|e| {
        let problem = e.to_string();
        let place = format!(" at line {} column {}", e.line(), e.column());
        Refusal::Line {
            line: e.line().max(1),
            problem: numbers::shown(problem.replace(&place, "").as_bytes()),
        }
    })
}

fn version_one(key: &str, version: &serde_json::Value) -> Result<(), Refusal> {
    if version.as_u64() == Some(1) {
        return Ok(());
    }
    let version = numbers::shown(version.to_string().as_bytes());
    Err(Refusal::File(format!(
        "\"{key}\" is {version}; only version 1 is known"
    )))
}

fn outline_of(file: OutlineFile) -> Result<Document, Refusal> {
    if file.units != "mm" {
        let units = numbers::shown(file.units.as_bytes());
        return Err(Refusal::File(format!(
            "\"units\" is \"{units}\"; an outline document is always in mm"
        )));
    }
    let edges: usize = file.loops.iter().map(|l| l.edges.len()).sum();
    if edges > limits::MAX_EDGES {
        return Err(Refusal::Limit {
            what: "the number of edges",
            value: edges.to_string(),
            limit: limits::MAX_EDGES.to_string(),
        });
    }
    let loops = file.loops.iter().enumerate();
    let loops: Result<Vec<Loop>, Refusal> = loops.map(|(i, l)| loop_of(i, l)).collect();
    for (i, mark) in file.marks.iter().enumerate() {
        in_range(&format!("mark {}", i + 1), mark.at)?;
    }
    let outline = Outline {
        loops: loops?,
        marks: file.marks,
    };
    let chains: Vec<Vec<Edge>> = outline.loops.iter().map(|l| l.path.edges()).collect();
    refuse_crowds(chains.iter().map(Vec::as_slice))?;
    outline.check_invariants().map_err(Refusal::File)?;
    Ok(Document {
        outline,
        report: Report {
            relations: file.relations,
            sizes: file.sizes,
            readings: file.readings,
            notes: file.notes,
            doubts: file.doubts,
            wander: file.wander,
            moved: file.moved,
            traced_in: file.traced_in,
            made_for: file.made_for,
            also: file.also,
            placed: file.placed,
        },
    })
}

fn job_of(file: JobFile) -> Result<Job, Refusal> {
    sound("", &file.trace)?;
    #[cfg(feature = "cut")]
    if let Some(scrap) = &file.scrap {
        sound("the scrap's ", scrap)?;
    }
    Ok(Job {
        trace: file.trace,
        settings: file.settings,
        hints: file.hints,
        doubts: file.doubts,
        #[cfg(feature = "cut")]
        cut: file.cut,
        #[cfg(feature = "cut")]
        scrap: file.scrap,
    })
}

/// Within the limits, each time at its point, each chain one path.
fn sound(whose: &str, trace: &Trace) -> Result<(), Refusal> {
    let points = trace.point_count();
    if points > limits::MAX_POINTS {
        return Err(Refusal::Limit {
            what: "the number of points",
            value: points.to_string(),
            limit: limits::MAX_POINTS.to_string(),
        });
    }
    for (i, stroke) in trace.strokes.iter().enumerate() {
        for (j, point) in stroke.points.iter().enumerate() {
            if !limits::holds(*point) {
                in_range(&format!("{whose}stroke {i}, point {j}"), *point)?;
            }
        }
        if !stroke.times.is_empty() && stroke.times.len() != stroke.points.len() {
            return Err(Refusal::Trace(format!(
                "{whose}stroke {i} has {} points and {} times",
                stroke.points.len(),
                stroke.times.len()
            )));
        }
    }
    for (i, chain) in trace.drawn.iter().enumerate() {
        let round = matches!(chain.as_slice(), [Edge::Arc(arc)] if arc.is_full());
        path_of(&format!("{whose}drawn chain {i}"), chain, round)?;
    }
    Ok(())
}

fn hints_of(file: HintsFile) -> Result<Vec<Hint>, Refusal> {
    let k = file.units.in_mm();
    let hints: Vec<Hint> = file.hints.iter().map(|h| h.scaled(k)).collect();
    for (i, hint) in hints.iter().enumerate() {
        in_range(&format!("hint {i}"), hint.at)?;
    }
    Ok(hints)
}

fn loop_of(index: usize, file: &LoopFile) -> Result<Loop, Refusal> {
    let name = format!("loop {}", index + 1);
    let path = path_of(&name, &file.edges, file.closed)?;
    if (file.role == Role::Open) == path.is_closed() {
        return Err(Refusal::File(format!(
            "{name} is {} but its role says otherwise",
            if path.is_closed() { "closed" } else { "open" }
        )));
    }
    Ok(Loop {
        role: file.role,
        path,
        deviation: file.deviation,
    })
}

/// The path that edges make, each starting where the one before ends.
fn path_of(name: &str, edges: &[Edge], closed: bool) -> Result<Path, Refusal> {
    if let [edge @ Edge::Arc(arc)] = edges
        && arc.is_full()
    {
        in_range(name, arc.center)?;
        reach_in_range(|| name.into(), edge)?;
        let off = (arc.from.distance(arc.center) - arc.radius).abs();
        if arc.radius > 0.0 && off <= AGREE && arc.from.distance(arc.to) <= AGREE && closed {
            return Ok(Path::Circle(Circle {
                center: arc.center,
                radius: arc.radius,
                counter_clockwise: arc.sweep > 0.0,
            }));
        }
        return Err(disagrees(name, 0, arc));
    }
    chain_of(name, edges, closed).map(Path::Chain)
}

fn chain_of(name: &str, edges: &[Edge], closed: bool) -> Result<Chain, Refusal> {
    let (Some(first), Some(last)) = (edges.first(), edges.last()) else {
        return Err(Refusal::File(format!("{name} has no edges")));
    };
    let mut chain = Chain {
        corners: Vec::with_capacity(edges.len() + 1),
        shapes: Vec::with_capacity(edges.len()),
    };
    let mut at = if closed { last.to() } else { first.from() };
    for (i, edge) in edges.iter().enumerate() {
        reach_in_range(|| format!("{name}, edge {}", i + 1), edge)?;
        if at.distance(edge.from()) > AGREE {
            let (p, q) = (at, edge.from());
            return Err(Refusal::File(format!(
                "{name}, edge {} starts at ({}, {}) and not where the edge before it ends, ({}, {})",
                i + 1,
                q.x,
                q.y,
                p.x,
                p.y
            )));
        }
        chain.corners.push(edge.from());
        chain.shapes.push(shape_of(name, i, edge)?);
        at = edge.to();
    }
    if !closed {
        chain.corners.push(at);
    }
    Ok(chain)
}

fn shape_of(name: &str, i: usize, edge: &Edge) -> Result<Shape, Refusal> {
    let Edge::Arc(arc) = edge else {
        return Ok(Shape::Line);
    };
    let Some(derived) = Arc::from_sweep(arc.from, arc.to, arc.sweep).filter(|_| !arc.is_full())
    else {
        return Err(disagrees(name, i, arc));
    };
    let off = derived
        .center
        .distance(arc.center)
        .max((derived.radius - arc.radius).abs());
    if off <= EXACT * (1.0 + derived.radius) {
        return Ok(Shape::Arc { sweep: arc.sweep });
    }
    // A turn written with few digits is worked out again from the centre, if that is sound.
    let (a, b) = (arc.from - arc.center, arc.to - arc.center);
    let turn = turn_between(a, b);
    let turn = [turn, turn + TAU, turn - TAU]
        .into_iter()
        .min_by(|p, q| (p - arc.sweep).abs().total_cmp(&(q - arc.sweep).abs()))
        .unwrap_or(turn);
    let round = [a, b]
        .iter()
        .all(|v| (v.length() - arc.radius).abs() <= AGREE);
    let agrees = (turn - arc.sweep).abs() * arc.radius <= AGREE * (1.0 + 1e-3 * arc.radius);
    if round && agrees && turn != 0.0 && turn.abs() < TAU {
        return Ok(Shape::Arc { sweep: turn });
    }
    Err(disagrees(name, i, arc))
}

fn disagrees(name: &str, i: usize, arc: &Arc) -> Refusal {
    Refusal::File(format!(
        "{name}, edge {}: the arc's ends, centre ({}, {}), radius {} and sweep {} do not agree",
        i + 1,
        arc.center.x,
        arc.center.y,
        arc.radius,
        arc.sweep
    ))
}

/// Its ends lie within the limit, and the rest of it: an arc may reach far beyond them.
fn reach_in_range(name: impl FnOnce() -> String, edge: &Edge) -> Result<(), Refusal> {
    let end = [edge.from(), edge.to()]
        .into_iter()
        .find(|p| !limits::holds(*p));
    let beyond = end.or_else(|| Bounds::of_edge(edge).beyond_limits());
    beyond.map_or(Ok(()), |p| in_range(&name(), p))
}

fn in_range(name: &str, p: Point) -> Result<(), Refusal> {
    if limits::holds(p) {
        return Ok(());
    }
    Err(Refusal::File(format!(
        "{name}: ({}, {}) is further from the origin than the limit of {} mm",
        p.x,
        p.y,
        limits::MAX_COORDINATE
    )))
}

/// The outline document as text.
#[must_use]
pub fn write(outline: &Outline, report: &Report) -> String {
    let mut text = String::from("{ \"trued\": 1, \"units\": \"mm\",");
    // Millimetres go without saying.
    if let Some(units) = report.traced_in.filter(|u| *u != Units::Mm) {
        text.push_str(" \"traced_in\": ");
        text.push_str(&layout::compact(&units));
        text.push(',');
    }
    if let Some(machine) = &report.made_for {
        text.push_str(" \"made_for\": ");
        text.push_str(&layout::compact(machine));
        text.push(',');
    }
    if let Some(placed) = &report.placed {
        text.push_str(" \"placed\": ");
        text.push_str(&layout::compact(placed));
        text.push(',');
    }
    text.push_str("\n  \"loops\": [");
    for (i, l) in outline.loops.iter().enumerate() {
        text.push_str(if i == 0 { "\n" } else { ",\n" });
        text.push_str("    { \"closed\": ");
        text.push_str(&layout::compact(&l.path.is_closed()));
        text.push_str(", \"role\": ");
        text.push_str(&layout::compact(&l.role));
        if let Some(deviation) = &l.deviation {
            text.push_str(", \"deviation\": ");
            text.push_str(&layout::compact(deviation));
        }
        text.push_str(",\n      \"edges\": [");
        layout::items(&mut text, &l.path.edges(), 8);
        text.push_str("] }");
    }
    text.push(']');
    layout::list(&mut text, "marks", &outline.marks);
    layout::list(&mut text, "relations", &report.relations);
    layout::list(&mut text, "sizes", &report.sizes);
    layout::list(&mut text, "readings", &report.readings);
    layout::list(&mut text, "notes", &report.notes);
    layout::list(&mut text, "doubts", &report.doubts);
    if !report.also.is_empty() {
        layout::list(&mut text, "also", &report.also);
    }
    layout::list(&mut text, "wander", &report.wander);
    layout::list(&mut text, "moved", &report.moved);
    layout::list(&mut text, "cautions", &CAUTIONS);
    text.push_str(" }\n");
    text
}

/// A job document as text.
#[must_use]
pub fn write_job(job: &Job) -> String {
    let mut text = String::from("{ \"trued_job\": 1");
    write_trace(&mut text, "trace", &job.trace);
    text.push_str(",\n  \"settings\": ");
    text.push_str(&layout::compact(&job.settings));
    layout::list(&mut text, "hints", &job.hints);
    if !job.doubts.is_empty() {
        layout::list(&mut text, "doubts", &job.doubts);
    }
    #[cfg(feature = "cut")]
    if *job.cut != Figures::default() {
        text.push_str(",\n  \"cut\": ");
        text.push_str(&layout::compact(&job.cut.said()));
    }
    #[cfg(feature = "cut")]
    if let Some(scrap) = &job.scrap {
        write_trace(&mut text, "scrap", scrap);
    }
    text.push_str(" }\n");
    text
}

fn write_trace(text: &mut String, key: &str, trace: &Trace) {
    text.push_str(",\n  \"");
    text.push_str(key);
    text.push_str("\": { \"strokes\": [");
    layout::items(text, &trace.strokes, 4);
    text.push(']');
    if !trace.drawn.is_empty() {
        layout::list(text, "drawn", &trace.drawn);
    }
    text.push_str(" }");
}

/// A hints file as text.
#[must_use]
pub fn write_hints(hints: &[Hint]) -> String {
    let mut text = String::from("{ \"trued_hints\": 1, \"units\": \"mm\"");
    layout::list(&mut text, "hints", hints);
    text.push_str(" }\n");
    text
}

//! Results as plain values, and their TypeScript names.

use serde::Serialize;
use trued::{Deviation, Edge, Mark, Outline, Report, Role, Trace, Trued};
use wasm_bindgen::prelude::*;

/// One loop with its edges spelled out.
#[derive(Serialize)]
pub struct LoopView {
    role: Role,
    closed: bool,
    edges: Vec<Edge>,
    deviation: Option<Deviation>,
}

/// An outline with its report.
#[derive(Serialize)]
pub struct Outcome<'a> {
    loops: Vec<LoopView>,
    marks: &'a [Mark],
    report: &'a Report,
    found: String,
    took: Option<f64>,
}

/// The view of a reading that took so many milliseconds.
pub fn outcome(trued: &Trued, took: Option<f64>) -> Outcome<'_> {
    Outcome {
        loops: loop_views(&trued.outline),
        marks: &trued.outline.marks,
        report: &trued.report,
        found: trued.report.found(),
        took,
    }
}

/// The loops with their edges.
pub fn loop_views(outline: &Outline) -> Vec<LoopView> {
    let view = |l: &trued::Loop| LoopView {
        role: l.role,
        closed: l.path.is_closed(),
        edges: l.path.edges(),
        deviation: l.deviation,
    };
    outline.loops.iter().map(view).collect()
}

/// An outline that is already true, as a drawing states it; its marks as touches.
pub fn as_drawn(outline: &Outline) -> Trace {
    let mut trace = Trace::from_strokes(outline.marks.iter().map(|m| vec![m.at]));
    trace.drawn = outline.loops.iter().map(|l| l.path.edges()).collect();
    trace
}

#[wasm_bindgen(typescript_custom_section)]
const TYPES: &str = r#"
/** A place, mm, y up. */
export type Place = [number, number];
export interface LineEdge { line: { from: Place; to: Place } }
export interface ArcEdge { arc: { from: Place; to: Place; center: Place; radius: number; sweep: number } }
export type Edge = LineEdge | ArcEdge;
export type Role = "part" | "hole" | "open";
export interface LoopView {
  role: Role; closed: boolean; edges: Edge[];
  deviation: { rms: number; max: number } | null;
}
export interface Relation {
  kind: string; loop: number; edges: number[]; value?: number;
  /** Edges of other loops; all of a loop where no edge is named. Where `edges` is empty, all that is tied. */
  with?: { loop: number; edge?: number }[];
  marks?: number[];
}
/** What a rule measures. A length is over all: to where rounded or clipped corners would be. */
export type SizeKind = "length" | "radius" | "diameter" | "centers" | "to_edge" | "distance" | "spacing" | "angle";
export interface Size {
  kind: SizeKind;
  loop: number; edges: number[]; value: number; plus_minus: number; fixed: boolean; at: Place;
  /** The loop that is a hole, or the mark, for its distance to an edge. */
  hole?: number; mark?: number;
}
/** A size nobody asked for that a correction changed by more than its ±. */
export interface Also {
  kind: SizeKind; loop: number; edges: number[]; from: number; to: number; plus_minus: number; at: Place;
}
export interface Alternative {
  loop: number; summary: string; price_above_best: number; edges: Edge[]; closed: boolean; hints: Hint[];
}
export interface Note { text: string; at?: Place }
export interface Doubt {
  text: string; at?: Place;
  about: "reading" | "closing" | "units" | "role" | "file" | "hint" | "machine" | "plan";
}
export interface Report {
  relations: Relation[]; sizes: Size[]; readings: Alternative[]; notes: Note[]; doubts: Doubt[];
  wander: { size: number; correlation: number; slow: number }[]; moved: number[][];
  also: Also[];
  /** How the trace was scaled, turned about (0, 0) and moved, where a correction asked for it. */
  placed: { scale: number; turn: number; to: Place } | null;
}
export interface Outcome {
  loops: LoopView[]; marks: { at: Place }[]; report: Report;
  /** The relations in words, counted. */
  found: string;
  /** Milliseconds of the reading; null without a clock. */
  took: number | null;
}
export interface Settings {
  kind?: "auto" | "sampled" | "touched" | "cloud"; hand?: "unsaid" | "traced" | "drawn";
  whole?: number | null; mark_size?: number; station?: number;
}
export interface Hint {
  at: Place;
  edge?: "straight" | "arc"; size?: number; scale?: true; diameter?: number; radius?: number;
  corner?: "sharp" | "square" | "keep" | { radius: number } | { angle: number };
  distance?: number; to?: Place;
  parallel?: Place; equal?: Place; in_line?: Place; datum?: Place;
  loop?: "part" | "hole" | "open" | "circle" | "rectangle" | "alone";
  hole?: number; with?: Place[];
  pattern?: "row" | "circle" | "rectangle"; sides?: [number, number]; pitch?: number;
  level?: number; zero?: true;
}
export interface PlanView {
  cuts: { role: Role; pierce: Place; pierce_seconds: number; feed: number; length: number; edges: Edge[] }[];
  loops: LoopView[]; stock: Edge[][]; kerf: number; cut_length: number; travel: number; seconds: number;
  weight: number | null; asked: number; fits: number; warnings: { text: string; at: Place | null }[];
  doubts: Doubt[];
}
export interface Figures {
  kerf: number | null; feed: number | null; pierce: number | null; lead: number | null; thickness: number | null; hole: number | null;
  width: number | null; height: number | null; copies: number;
}
export interface Opened {
  kind: "trace" | "job" | "hints";
  points: Float64Array; starts: Uint32Array; times: Float64Array;
  drawn: Edge[][]; settings: Settings | null; hints: Hint[]; notes: Note[]; doubts: Doubt[]; inches: boolean;
}
export interface Retipped {
  points: Float64Array; starts: Uint32Array; times: Float64Array; drawn: Edge[][]; notes: string[];
}
"#;

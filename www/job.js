// The job: what the hand left, how it is read, what the person said, how it is to be cut.
// A job is never changed in place: each change makes the next one, so undo is going back to the one
// before, and whoever holds an old one holds it whole.

/** @import { Edge, Figures, Hint, Settings } from "./pkg/trued_web.js" */

import { NO_FIGURES } from "./pkg/forms.js";

/**
 * One pen-down run: x, y by turns in mm; seconds where known.
 * @typedef {{ points: Float64Array, times: Float64Array | null }} Stroke
 */

/**
 * @typedef {object} Trace
 * @property {Stroke[]} strokes
 * @property {Edge[][]} drawn exact edges of a drawing
 * @property {boolean} [inches] it was traced in inches, by what its file says
 * @property {import("./pkg/trued_web.js").Doubt[]} [doubts] what its file left doubtful
 */

/**
 * Figures of the cut as they were typed, a figure not yet given null (`core/src/cut/figures.rs` lists them); and the stock
 * as it was traced.
 * @typedef {Figures & { scrap: Trace | null }} Cut
 */

/**
 * An opening to be made from the marks, as it was asked for.
 * @typedef {object} Opening
 * @property {number | null} hole mm
 * @property {"next" | "round" | "rectangle" | "ended" | "traced"} shape
 * @property {number | null} width mm, or the diameter
 * @property {number | null} height mm
 * @property {boolean} stay where it was traced
 * @property {string} pattern empty: found by itself
 * @property {number | null} whole mm, step of the pitch
 * @property {number | null} thickness mm
 * @property {number | null} stockWidth mm
 * @property {number | null} stockHeight mm
 */

/**
 * @typedef {object} Job
 * @property {Trace} trace
 * @property {Partial<Settings>} settings what is left out has the library's default
 * @property {Hint[]} hints
 * @property {Cut} cut
 * @property {Opening | null} opening
 */

/** @type {Cut} */
export const NO_CUT = { ...NO_FIGURES, scrap: null };

/** @type {Opening} */
export const NO_OPENING = {
  hole: null,
  shape: "next",
  width: null,
  height: null,
  stay: false,
  pattern: "",
  whole: null,
  thickness: null,
  stockWidth: null,
  stockHeight: null,
};

/** @returns {Job} */
export function emptyJob() {
  return { trace: { strokes: [], drawn: [] }, settings: {}, hints: [], cut: NO_CUT, opening: null };
}

/** @param {Job} job */
export function isEmpty(job) {
  return job.trace.strokes.length === 0 && job.trace.drawn.length === 0;
}

/** @param {Trace} trace */
export function pointCount(trace) {
  return trace.strokes.reduce((sum, s) => sum + s.points.length / 2, 0);
}

/**
 * A single touch, or a whole stroke too small to be anything else.
 * @param {Stroke} stroke
 */
export function isMark(stroke) {
  const p = stroke.points;
  for (let i = 2; i < p.length; i += 2) {
    if (Math.hypot(p[i] - p[0], p[i + 1] - p[1]) > 1.5) return false;
  }
  return p.length >= 2;
}

/**
 * The strokes end to end, as the library takes them.
 * @param {Trace} trace
 */
export function asArrays(trace) {
  const count = pointCount(trace);
  const timed = trace.strokes.some((s) => s.times);
  const points = new Float64Array(2 * count);
  const starts = new Uint32Array(trace.strokes.length);
  const times = new Float64Array(timed ? count : 0);
  let at = 0;
  trace.strokes.forEach((stroke, i) => {
    starts[i] = at / 2;
    points.set(stroke.points, at);
    if (timed) {
      if (stroke.times) times.set(stroke.times, at / 2);
      else times.fill(Number.NaN, at / 2, (at + stroke.points.length) / 2);
    }
    at += stroke.points.length;
  });
  return { points, starts, times, drawn: trace.drawn, inches: trace.inches === true, doubts: trace.doubts ?? [] };
}

/**
 * @param {{ points: Float64Array, starts: Uint32Array, times: Float64Array, drawn: Edge[][], inches?: boolean, doubts?: import("./pkg/trued_web.js").Doubt[] }} arrays
 * @returns {Trace}
 */
export function fromArrays({ points, starts, times, drawn, inches, doubts }) {
  /** @type {Stroke[]} */
  const strokes = [];
  starts.forEach((start, i) => {
    const end = i + 1 < starts.length ? starts[i + 1] : points.length / 2;
    const clock = times.length ? times.slice(start, end) : null;
    strokes.push({
      points: points.slice(2 * start, 2 * end),
      times: clock?.every(Number.isFinite) ? clock : null,
    });
  });
  return { strokes, drawn, inches, doubts };
}

/** The jobs so far, and those undone. */
export class History {
  /** @param {Job} job */
  constructor(job) {
    this.job = job;
    /** @type {Job[]} */
    this.before = [];
    /** @type {Job[]} */
    this.after = [];
    /** The blank that is being typed into. */
    this.blank = "";
  }

  /**
   * The next job. What is said of one blank while it is being typed is one step back, not one a letter.
   * @param {Job} job
   * @param {string} [blank] the blank it is typed into
   */
  push(job, blank = "") {
    const goesOn = blank !== "" && blank === this.blank && this.before.length > 0;
    this.blank = blank;
    if (!goesOn) this.before.push(this.job);
    if (this.before.length > 200) this.before.shift();
    this.after = [];
    this.job = job;
  }

  /** Goes on where another history stood. @param {{ job: Job, before: Job[], after: Job[] }} steps */
  take({ job, before, after }) {
    this.job = job;
    this.before = [...before];
    this.after = [...after];
    this.blank = "";
  }

  undo() {
    const job = this.before.pop();
    this.blank = "";
    if (!job) return false;
    this.after.push(this.job);
    this.job = job;
    return true;
  }

  redo() {
    const job = this.after.pop();
    if (!job) return false;
    this.before.push(this.job);
    this.job = job;
    return true;
  }
}

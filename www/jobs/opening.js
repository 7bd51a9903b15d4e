// An opening with its holes from touched marks. What is asked for is part of the job, so undo and a
// reload treat it like everything else that was said.

/** @import { OpeningAsked } from "../pkg/trued_web.js" */
/** @import { Opening } from "../job.js" */
/** @import { Shown } from "../tag.js" */

import { button, make } from "../dom.js";
import { choice, lacking, lengthBlank } from "../form.js";
import { NO_OPENING } from "../job.js";
import { INCH } from "../units.js";

const SHAPES = [["next duct size", "next"], ["round", "round"], ["rectangular", "rectangle"], ["round ends", "ended"], ["as traced", "traced"]];
const PATTERNS = [["as they look", ""], ["a square", "square"], ["a rectangle", "rectangle"], ["round a circle", "circle"], ["in a row", "row"], ["no pattern", "free"]];

/** What is missing before there can be an opening. @param {Opening} o */
export function openingLacks(o) {
  return lacking([
    o.hole === null && "the holes' diameter",
    o.shape === "round" && o.width === null && "the opening's diameter",
    (o.shape === "rectangle" || o.shape === "ended") && (o.width === null || o.height === null) && "the opening's width and height",
  ]);
}

/** @param {Opening | null} o @returns {OpeningAsked | null} as the library takes it; null while something is missing */
export function openingAsked(o) {
  if (!o || openingLacks(o)) return null;
  const [w, h] = [o.width ?? 0, o.height ?? 0];
  /** @type {Record<string, OpeningAsked["shape"]>} */
  const shapes = { next: { next_round: o.width }, round: { round: w }, rectangle: { rectangle: [w, h] }, ended: { round_ended: [w, h] }, traced: "traced" };
  return {
    hole: o.hole ?? 0,
    shape: shapes[o.shape],
    stay: o.stay,
    pattern: /** @type {OpeningAsked["pattern"]} */ (o.pattern || null),
    whole: o.whole,
    thickness: o.thickness,
    width: o.stockWidth,
    height: o.stockHeight,
  };
}

/** @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
export function openingSide(s, on) {
  const o = s.job.opening ?? NO_OPENING;
  const set = (/** @type {Partial<Opening>} */ change) => on.opening(change);
  const whole = s.unit === "mm" ? [["as they are", 0], ["whole mm", 1], ["whole 5 mm", 5]] : [["as they are", 0], ["to 1/16 in", INCH / 16], ["to 1/8 in", INCH / 8]];
  const two = o.shape === "rectangle" || o.shape === "ended";
  const lacks = openingLacks(o);
  const notes = !lacks && s.outcome && s.job.opening ? s.outcome.report.notes : [];
  return [
    make("p", {}, "Touch each hole once with the soapstone and draw round the opening roughly, or open a file of marks. Then say what is wanted:"),
    make(
      "div",
      { class: "pairs" },
      lengthBlank("Holes ⌀", "hole", o.hole, s.unit, (hole) => set({ hole })),
      choice("Opening", "shape", SHAPES, o.shape, (shape) => set({ shape })),
      o.shape !== "traced" && lengthBlank(two ? "Width" : o.shape === "next" ? "Not below ⌀" : "Opening ⌀", "wide", o.width, s.unit, (width) => set({ width }), o.shape === "next" ? "empty: not below the traced one" : ""),
      two && lengthBlank("Height", "high", o.height, s.unit, (height) => set({ height })),
      choice("Goes", "stay", [["amid the holes", "no"], ["as it was traced", "yes"]], o.stay ? "yes" : "no", (v) => set({ stay: v === "yes" })),
      choice("Holes lie", "pattern", PATTERNS, o.pattern, (pattern) => set({ pattern })),
      choice("Pitch", "whole-pitch", whole, o.whole ?? 0, (v) => set({ whole: Number(v) || null })),
      lengthBlank("Plate thickness", "thick", o.thickness, s.unit, (thickness) => set({ thickness }), "to check webs and small holes"),
      lengthBlank("Plate width", "plate-w", o.stockWidth, s.unit, (stockWidth) => set({ stockWidth }), "empty: not checked"),
      lengthBlank("Plate height", "plate-h", o.stockHeight, s.unit, (stockHeight) => set({ stockHeight })),
    ),
    lacks ? make("p", { class: "problem", role: "status" }, lacks) : false,
    notes.length > 0 && make("h3", {}, "What it is"),
    notes.length > 0 && make("ul", { class: "answer", "data-key": "answer" }, ...notes.map((n) => make("li", {}, n.text))),
    make(
      "div",
      { class: "row" },
      notes.length > 0 && button("Ready the cut", () => on.turn("cut"), { class: "strong", "data-key": "cut" }),
      notes.length > 0 && button("Save", () => on.turn("save"), { "data-key": "save" }),
      s.job.opening !== null && button("Leave the marks as they were", () => on.opening(null), { class: "quiet", "data-key": "no-opening" }),
    ),
  ].filter((c) => c !== false);
}

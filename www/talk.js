// What the page says. One line on the plate and read out by a screen reader.

import { grab, fill } from "./dom.js";
import { all, angleAt, isSquare } from "./things.js";
import { degrees, length, measured } from "./units.js";

/** @import { Hint, Outcome } from "./pkg/trued_web.js" */
/** @import { Thing } from "./things.js" */
/** @import { Unit } from "./units.js" */

/**
 * @param {string} words
 * @param {"said" | "busy" | "failed"} [how]
 * @param {HTMLElement} [act] something to press
 */
export function talk(words, how = "said", act) {
  const line = grab("talk", HTMLElement);
  line.dataset.how = how;
  fill(line, [words, act ?? null]);
}

/**
 * What was read, and what can be done now.
 * @param {Outcome} outcome
 * @param {import("./pointer.js").Hand} hand
 */
export function readOut(outcome, hand) {
  const count = (/** @type {number} */ n, /** @type {string} */ one) => n > 0 && `${n} ${one}${n === 1 ? "" : "s"}`;
  const things = all(outcome);
  const square = things.filter((t) => t.kind === "corner" && isSquare(angleAt(outcome, t))).length;
  const bits = [count(outcome.loops.length, "loop"), count(things.filter((t) => t.kind === "edge").length, "edge"), count(square, "square corner"), count(outcome.marks.length, "mark")];
  const next = { draw: "Draw on, or tap an edge to correct it.", mark: "Tap where the next hole goes, or take another tool.", rub: "Rub on, or take another tool.", look: "Tap an edge, a corner or a mark to correct it." };
  return `${bits.filter(Boolean).join(", ")}. ${next[hand]}`;
}

/** A hint in words. @param {Hint} hint @param {Unit} unit */
export function hintWords(hint, unit) {
  if (hint.edge) return `this edge is ${hint.edge === "arc" ? "an arc" : "straight"}`;
  if (hint.size !== undefined) return `${hint.scale ? "everything is scaled so that this is" : "this size is"} ${length(hint.size, unit)} ${unit}`;
  if (hint.corner === "sharp") return "this corner is sharp";
  if (hint.corner === "keep") return "this corner keeps its angle";
  if (hint.corner === "square") return "this corner is square";
  if (hint.corner && "angle" in hint.corner) return `this corner has ${hint.corner.angle}°`;
  if (hint.corner) return `this corner is rounded, radius ${length(hint.corner.radius, unit)} ${unit}`;
  if (hint.loop === "alone") return "this is tied to no other";
  if (hint.loop) return `this loop is ${{ part: "a part", hole: "a hole", open: "open", circle: "a circle", rectangle: "a rectangle" }[hint.loop]}`;
  if (hint.hole !== undefined) return `${hint.with?.length ? "these marks are holes" : "this mark is a hole"} of ${length(hint.hole, unit)} ${unit}`;
  if (hint.pattern) return { row: "these are a row", circle: "these lie on a circle", rectangle: "these are a rectangle" }[hint.pattern];
  if (hint.diameter !== undefined) return `this diameter is ${length(hint.diameter, unit)} ${unit}`;
  if (hint.radius !== undefined) return `this radius is ${length(hint.radius, unit)} ${unit}`;
  if (hint.distance !== undefined) return `this lies ${length(hint.distance, unit)} ${unit} from there`;
  if (hint.in_line) return "these edges are in line";
  if (hint.level !== undefined) return hint.level % 180 === 0 ? "this edge lies level" : "this edge stands upright";
  if (hint.zero) return "the zero is here";
  if (hint.parallel) return "these edges are parallel";
  if (hint.equal) return "these edges are alike";
  return "this edge lies along a given line";
}

/**
 * "Straight edge, 76.0 ±0.2 mm"
 * @param {import("./pkg/trued_web.js").Size | null} size
 * @param {Unit} unit
 */
export function sizeWords(size, unit) {
  if (!size) return "";
  if (size.kind === "angle") return degrees(size.value) + (size.fixed ? "" : ` ±${degrees(size.plus_minus)}`);
  return `${size.kind === "radius" ? "R " : size.kind === "diameter" ? "⌀ " : ""}${measured(size.value, size.fixed ? 0 : size.plus_minus, unit)} ${unit}`;
}

/** @param {Thing} thing */
export function thingName(thing) {
  return { edge: `Edge ${thing.index + 1}`, corner: `Corner ${thing.index + 1}`, loop: `Loop ${thing.loop + 1}`, mark: `Mark ${thing.loop + 1}` }[thing.kind];
}

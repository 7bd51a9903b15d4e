// Blanks to fill in, as every side of the tag uses them. Lengths are mm inside, the person's unit to
// the eye.

/** @import { Unit } from "./units.js" */

import { make } from "./dom.js";
import { INCH, parse } from "./units.js";

/**
 * A choice of a few.
 * @param {string} label
 * @param {string} key
 * @param {(string | number)[][]} options words, value
 * @param {string | number} now
 * @param {(value: any) => void} done
 */
export function choice(label, key, options, now, done) {
  const select = make("select", { "data-key": key, onchange: (/** @type {any} */ e) => done(e.currentTarget.value) }, ...options.map(([words, value]) => make("option", { value, selected: value === now }, String(words))));
  return make("label", {}, make("span", {}, label), select);
}

/**
 * A blank on the form. What is typed counts as it is typed: nothing is lost with a tab that closes.
 * @param {string} label
 * @param {string} unit
 * @param {string} key
 * @param {string} value
 * @param {string} hint
 * @param {(text: string) => void} done
 */
export function figure(label, unit, key, value, hint, done) {
  const input = make("input", { type: "text", inputmode: "decimal", autocomplete: "off", size: 7, value, "data-key": key, name: key, oninput: (/** @type {any} */ e) => done(e.currentTarget.value) });
  return make("label", { title: hint || null }, make("span", {}, label), make("span", { class: "with" }, input, make("span", {}, unit)));
}

/**
 * A blank for a length.
 * @param {string} label
 * @param {string} key
 * @param {number | null | undefined} mm
 * @param {Unit} unit
 * @param {(mm: number | null) => void} done
 * @param {string} [hint]
 */
export function lengthBlank(label, key, mm, unit, done, hint = "") {
  return figure(label, unit, key, written(mm, unit), hint, (text) => done(size(text, unit)));
}

/**
 * A blank for a plain number.
 * @param {string} label
 * @param {string} unit
 * @param {string} key
 * @param {number | null | undefined} value
 * @param {(value: number | null) => void} done
 * @param {number} [per] how much one of the unit is inside
 * @param {string} [hint]
 */
export function numberBlank(label, unit, key, value, done, per = 1, hint = "") {
  return figure(label, unit, key, value === null || value === undefined ? "" : trim(value / per), hint, (text) => done(number(text, per)));
}

/**
 * A blank for a whole number; an empty one and 0 are none.
 * @param {string} label
 * @param {string} key
 * @param {number | null} value
 * @param {(value: number | null) => void} done
 * @param {string} [hint]
 */
export function countBlank(label, key, value, done, hint = "") {
  return figure(label, "", key, value === null ? "" : String(value), hint, (text) => done(Math.round(number(text, 1) ?? 0) || null));
}

/**
 * A blank for words.
 * @param {string} label
 * @param {string} key
 * @param {string} value
 * @param {(value: string) => void} done
 */
export function plain(label, key, value, done) {
  return make("label", {}, make("span", {}, label), make("input", { type: "text", autocomplete: "off", value, "data-key": key, name: key, oninput: (/** @type {any} */ e) => done(e.currentTarget.value) }));
}

/** @param {string} text @param {number} per */
export function number(text, per) {
  const value = Number(text.replace(",", "."));
  return text.trim() !== "" && Number.isFinite(value) && value >= 0 ? value * per : null;
}

/** @param {string} text @param {Unit} unit */
export function size(text, unit) {
  const mm = parse(text, unit);
  return mm !== null && mm >= 0 ? mm : null;
}

/** A length as it stands in a blank. @param {number | null | undefined} mm @param {Unit} unit */
export function written(mm, unit) {
  return mm === null || mm === undefined ? "" : trim(unit === "mm" ? mm : mm / INCH);
}

/** @param {number} value */
export function trim(value) {
  return String(Number(value.toFixed(4)));
}

/** "Fill in a, b and c." of those that are missing. @param {(string | false)[]} names */
export function lacking(names) {
  const list = names.filter(Boolean);
  if (list.length === 0) return "";
  const last = list.length > 1 ? ` and ${list.at(-1)}` : "";
  return `Fill in ${list.slice(0, list.length > 1 ? -1 : 1).join(", ")}${last}; the answer follows at once.`;
}

/** What is wrong with the answer of a form. @param {{ problems: Record<string, string> }} s @param {string} form */
export function problem(s, form) {
  const words = s.problems[form];
  return words ? make("p", { class: "problem", role: "status" }, words) : false;
}

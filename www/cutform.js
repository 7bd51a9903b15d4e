// The blanks for the figures of a cut. Which there are, what they are called, what holds while they are empty and what is
// usual is said once, in core/src/cut/figures.rs; `trued-web build` puts it into pkg/forms.js.

/** @import { Figures } from "./pkg/trued_web.js" */
/** @import { Cut } from "./job.js" */
/** @import { Shown } from "./tag.js" */

import { choice, countBlank, lengthBlank, numberBlank, plain } from "./form.js";
import { CUT_FORM } from "./pkg/forms.js";
import { INCH } from "./units.js";

/** @typedef {{ job: { cut: Cut }, unit: Shown["unit"] }} Of */

/** The headings of the form, in its order; "" is what every cut asks for. */
export const PARTS = [...new Set(CUT_FORM.map((row) => row.part))];

/** All blanks under a heading. @param {string} part @param {Of} s @param {(change: Partial<Cut>) => void} set */
export function cutBlanks(part, s, set) {
  return CUT_FORM.filter((row) => row.part === part).map((row) => cutBlank(/** @type {keyof Figures} */ (row.key), s, set));
}

/**
 * The blank of one figure.
 * @param {keyof Figures} key
 * @param {Of} s
 * @param {(change: Partial<Cut>) => void} set
 * @param {string} [words] what it is called here, where its own name would not do
 */
export function cutBlank(key, { job: { cut }, unit }, set, words = "") {
  const row = CUT_FORM.find((r) => r.key === key);
  if (!row) throw new Error(`no figure ${key}`);
  const { ask } = row;
  const label = words || row.label;
  const hint = [row.help, row.empty && `empty: ${row.empty}`].filter(Boolean).join("; ");
  const value = cut[key];
  const figure = typeof value === "number" ? value : null;
  const said = (/** @type {any} */ v) => set({ [key]: v });
  if (ask === "length") return lengthBlank(label, key, figure, unit, said, hint);
  if (ask === "speed") return numberBlank(label, `${unit}/min`, key, figure, said, unit === "mm" ? 1 : INCH, hint);
  if (ask === "count") return countBlank(label, key, figure, said, hint);
  if (ask === "words") return plain(label, key, String(value ?? ""), said);
  if ("number" in ask) return numberBlank(label, ask.number, key, figure, said, 1, hint);
  // What the library knows as none is "" in a choice.
  const options = ask.choice.map(([is, name]) => [name, is]);
  return choice(label, key, options, String(value ?? ""), (v) => said(v || null));
}

// As many true blanks as fit on a scrap.

/** @import { BlanksAsked, BlanksView } from "../pkg/trued_web.js" */
/** @import { Cut, Job } from "../job.js" */
/** @import { Shown } from "../tag.js" */

import { button, make } from "../dom.js";
import { choice, lacking, lengthBlank, numberBlank, problem } from "../form.js";
import { INCH } from "../units.js";

const TURNS = [["quarter turns", "quarter"], ["half turns", "half"], ["none: the grain matters", "none"], ["also along long sides", "edges"]];

/** @param {Job} job @param {boolean} piece whether there is a piece on the plate */
export function blanksLacks({ cut }, piece) {
  const sized = cut.blankWidth !== null && cut.blankHeight !== null;
  if (!sized && !piece) return "Draw or open the tab first, or say the blank's size.";
  if (!cut.scrap && (cut.width === null || cut.height === null)) return "Say the scrap: its size, or trace it, or open its file.";
  const left = lacking([cut.kerf === null && "kerf", cut.feed === null && "feed", cut.pierce === null && "pierce"]);
  return left && left.replace("; the answer follows at once", "");
}

/** @param {Cut} cut @returns {BlanksAsked} */
export function blanksAsked(cut) {
  return {
    count: cut.copies,
    size: cut.blankWidth !== null && cut.blankHeight !== null ? [cut.blankWidth, cut.blankHeight] : null,
    gap: cut.gap,
    edge: cut.edge,
    turns: cut.turns,
  };
}

/** @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
export function blanksSide(s, on) {
  const { cut } = s.job;
  const set = (/** @type {Partial<Cut>} */ change) => on.blanks(change);
  const per = s.unit === "mm" ? 1 : INCH;
  const mm = (/** @type {string} */ label, /** @type {keyof Cut} */ key, hint = "") =>
    lengthBlank(label, key, /** @type {number | null} */ (cut[key]), s.unit, (v) => set({ [key]: v }), hint);
  const answer = /** @type {BlanksView | undefined} */ (s.answers.blanks);
  const lacks = blanksLacks(s.job, s.outcome !== null);
  return [
    make("p", {}, "Trace the scrap round its edge and round every hole in it and lay it by; then trace one tab."),
    make("h3", {}, "The scrap"),
    cut.scrap
      ? make("p", { class: "said" }, "A traced scrap is laid by. ", button("Lay it aside", () => set({ scrap: null }), { class: "quiet", "data-key": "no-scrap" }))
      : make("div", { class: "pairs" }, mm("Width", "width"), mm("Height", "height")),
    !cut.scrap &&
      make(
        "div",
        { class: "row" },
        s.outcome !== null && button("Take this tracing as the scrap", () => on.scrap("blanks"), { "data-key": "scrap" }),
        button("Open the scrap's file", () => on.fileFor("scrap"), { "data-key": "scrap-file" }),
      ),
    make("h3", {}, "The blank"),
    make("p", {}, s.outcome !== null ? "The piece on the plate, or a rectangle of" : "Draw it, open it, or a rectangle of"),
    make("div", { class: "pairs" }, mm("Width ", "blankWidth", "empty: the piece on the plate"), mm("Height ", "blankHeight")),
    make(
      "div",
      { class: "pairs" },
      numberBlank("How many", "", "copies", cut.copies, (n) => set({ copies: Math.max(1, Math.round(n ?? 1)) })),
      choice("Turned by", "turns", TURNS, cut.turns, (turns) => set({ turns })),
      mm("Metal between", "gap", "empty: room for the leads"),
      mm("Metal to the edge", "edge", "empty: room for the leads"),
      mm("Kerf", "kerf", "width the torch takes away"),
      numberBlank("Feed", `${s.unit}/min`, "feed", cut.feed, (feed) => set({ feed }), per),
      numberBlank("Pierce", "s", "pierce", cut.pierce, (pierce) => set({ pierce })),
      mm("Plate thickness", "thickness"),
    ),
    lacks ? make("p", { class: "problem", role: "status" }, lacks) : problem(s, "blanks"),
    answer && make("p", { class: "answer", "data-key": "answer", role: "status" }, `${answer.sentence}.`),
    ...(s.alone === "blanks" ? s.planParts : []),
    make(
      "div",
      { class: "row" },
      button("Lay them out", () => on.work("blanks"), { class: s.alone === "blanks" ? "" : "strong", "data-key": "lay" }),
      s.alone === "blanks" && button("Save", () => on.turn("save"), { class: "strong", "data-key": "save" }),
    ),
  ].filter((c) => c !== false && c !== undefined);
}

// As many true blanks as fit on a scrap.

/** @import { BlanksView, Figures } from "../pkg/trued_web.js" */
/** @import { Job } from "../job.js" */
/** @import { Shown } from "../tag.js" */

import { button, make } from "../dom.js";
import { cutBlank } from "../cutform.js";
import { lacking, problem } from "../form.js";

/** @param {Job} job @param {boolean} piece whether there is a piece on the plate */
export function blanksLacks({ cut }, piece) {
  const sized = cut.blank_width !== null && cut.blank_height !== null;
  if (!sized && !piece) return "Draw or open the tab first, or say the blank's size.";
  if (!cut.scrap && (cut.width === null || cut.height === null)) return "Say the scrap: its size, or trace it, or open its file.";
  const left = lacking([cut.kerf === null && "kerf", cut.feed === null && "feed", cut.pierce === null && "pierce"]);
  return left && left.replace("; the answer follows at once", "");
}

/** @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
export function blanksSide(s, on) {
  const { cut } = s.job;
  const blank = (/** @type {keyof Figures} */ key, words = "") => cutBlank(key, s, (change) => on.blanks(change), words);
  const answer = /** @type {BlanksView | undefined} */ (s.answers.blanks);
  const lacks = blanksLacks(s.job, s.outcome !== null);
  return [
    make("p", {}, "Trace the scrap round its edge and round every hole in it and lay it by; then trace one tab."),
    make("h3", {}, "The scrap"),
    cut.scrap
      ? make("p", { class: "said" }, "A traced scrap is laid by. ", button("Lay it aside", () => on.blanks({ scrap: null }), { class: "quiet", "data-key": "no-scrap" }))
      : make("div", { class: "pairs" }, blank("width"), blank("height")),
    !cut.scrap &&
      make(
        "div",
        { class: "row" },
        s.outcome !== null && button("Take this tracing as the scrap", () => on.scrap("blanks"), { "data-key": "scrap" }),
        button("Open the scrap's file", () => on.fileFor("scrap"), { "data-key": "scrap-file" }),
      ),
    make("h3", {}, "The blank"),
    make("p", {}, s.outcome !== null ? "The piece on the plate, or a rectangle of" : "Draw it, open it, or a rectangle of"),
    make("div", { class: "pairs" }, blank("blank_width"), blank("blank_height")),
    make(
      "div",
      { class: "pairs" },
      blank("copies", "How many"),
      ...["turns", "gap", "edge", "kerf", "feed", "pierce", "thickness"].map((key) => blank(/** @type {keyof Figures} */ (key))),
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

// The cut's side of the tag: three figures from the cutter's own book, the stock, the plan; and folded away, what
// most cuts leave as it is.

/** @import { Cut } from "./job.js" */
/** @import { Shown } from "./tag.js" */

import { button, make } from "./dom.js";
import { PARTS, cutBlanks } from "./cutform.js";
import { choice } from "./form.js";
import { clock, length } from "./units.js";

/** @param {Shown} s @param {Record<string, (...given: any[]) => void>} on @returns {any[]} */
export function cutSide(s, on) {
  const { cut } = s.job;
  return [
    make("h2", {}, "The cut"),
    make("p", { class: "ask" }, "Kerf, feed and pierce come from your cutter's own book, for this plate and these consumables."),
    s.materials.length > 0 && make("div", { class: "pairs" }, choice("From my material book", "material", [["fill in by hand", ""], ...s.materials.map((m) => [m.name, m.name])], "", (name) => on.material(name))),
    make("div", { class: "pairs" }, ...cutBlanks("", s, on.cut)),
    ...marksAsHoles(s, on),
    make("h3", {}, "Stock"),
    cut.scrap
      ? make("p", { class: "said" }, "A traced scrap. ", button("Lay it aside", () => on.cut({ scrap: null }), { class: "quiet" }))
      : make("div", { class: "pairs" }, ...cutBlanks("Stock", s, on.cut)),
    !cut.scrap && make("div", { class: "row" }, button("Take this tracing as the scrap to cut from", () => on.scrap("piece"), { "data-key": "scrap" })),
    ...(s.plan ? s.planParts : [make("p", { class: "problem", role: "status" }, s.planProblem)]),
    rare(s, on.cut),
    make("div", { class: "row" }, s.plan && button("Save", () => on.turn("save"), { class: "strong", "data-key": "save" }), button("Back to the piece", () => on.turn("piece"), { class: "quiet", "data-key": "back" })),
  ];
}

/** Marks become holes by a word about the piece, so that every file knows of them. @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
function marksAsHoles(s, on) {
  const marks = s.outcome?.marks.map((m) => m.at) ?? [];
  if (marks.length === 0) return [];
  const [at, ...others] = marks;
  const make1 = (/** @type {any} */ e) => on.holes(at, others, e.currentTarget.closest(".blank").querySelector("input").value);
  const input = make("input", { type: "text", inputmode: "decimal", size: 6, autocomplete: "off", "data-own": "", "data-key": "holes", "aria-label": `Diameter of the holes at the marks (${s.unit})`, onkeydown: (/** @type {any} */ e) => e.key === "Enter" && make1(e) });
  const words = marks.length === 1 ? "The mark is no hole yet. ⌀" : `The ${marks.length} marks are no holes yet. ⌀`;
  return [make("div", { class: "blank" }, make("span", {}, words), make("span", { class: "with" }, input, make("span", {}, s.unit)), button(marks.length === 1 ? "Make it one" : "Make them holes", make1, { "data-key": "make-holes" }))];
}

/** @param {Shown} s @param {(change: Partial<Cut>) => void} set */
function rare(s, set) {
  const parts = PARTS.filter((part) => !["", "Stock", "Blank", "Marks"].includes(part));
  return make(
    "details",
    { "data-key": "rare", class: "rare" },
    make("summary", { "data-key": "rare-fold" }, "What most cuts leave as it is"),
    ...parts.flatMap((part) => [make("h3", {}, part), make("div", { class: "pairs" }, ...cutBlanks(part, s, set))]),
  );
}

/** What the plan amounts to, and the dot that runs along it. @param {Omit<Shown, "planParts">} s @param {Record<string, (...given: any[]) => void>} on @returns {HTMLElement[]} */
export function planParts({ plan, unit }, on) {
  const facts = [
    `${plan.cuts.length} ${plan.cuts.length === 1 ? "cut" : "cuts"}`,
    `${length(plan.cut_length, unit)} ${unit} of kerf`,
    `${clock(plan.seconds)} of cutting`,
    plan.weight !== null && `${plan.weight.toFixed(2)} kg`,
    plan.asked > 1 && `${plan.fits} of ${plan.asked} fit`,
  ];
  return [
    make("h3", {}, "Plan"),
    make("p", {}, facts.filter(Boolean).join(" · ")),
    make(
      "div",
      { class: "row torch" },
      button("Show how it runs", () => on.run(), { "data-key": "run" }),
      make("input", { type: "range", min: 0, max: 1000, value: 0, "aria-label": "Along the plan", "data-key": "torch", "data-own": "", oninput: (/** @type {any} */ e) => on.seek(Number(e.currentTarget.value) / 1000) }),
      make("output", { class: "time", "data-key": "time" }),
    ),
    plan.warnings.length > 0 && make("ul", { class: "warnings" }, ...plan.warnings.map((/** @type {{ text: string }} */ w) => make("li", {}, w.text))),
  ].filter((c) => c instanceof HTMLElement);
}

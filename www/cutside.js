// The cut's side of the tag: three figures from the cutter's own book, the stock, the plan; and folded away, what
// most cuts leave as it is.

/** @import { Cut } from "./job.js" */
/** @import { Shown } from "./tag.js" */

import { button, make } from "./dom.js";
import { choice, lengthBlank, numberBlank, plain } from "./form.js";
import { INCH, clock, length } from "./units.js";

/** @param {Shown} s @param {Record<string, (...given: any[]) => void>} on @returns {any[]} */
export function cutSide(s, on) {
  const { cut } = s.job;
  const set = (/** @type {Partial<Cut>} */ change) => on.cut(change);
  const mm = (/** @type {string} */ label, /** @type {keyof Cut} */ key, hint = "") =>
    lengthBlank(label, key, /** @type {number | null} */ (cut[key]), s.unit, (v) => set({ [key]: v }), hint);
  const per = s.unit === "mm" ? 1 : INCH;
  return [
    make("h2", {}, "The cut"),
    make("p", { class: "ask" }, "Kerf, feed and pierce come from your cutter's own book, for this plate and these consumables."),
    s.materials.length > 0 && make("div", { class: "pairs" }, choice("From my material book", "material", [["fill in by hand", ""], ...s.materials.map((m) => [m.name, m.name])], "", (name) => on.material(name))),
    make(
      "div",
      { class: "pairs" },
      mm("Kerf", "kerf", "width the torch takes away"),
      numberBlank("Feed", `${s.unit}/min`, "feed", cut.feed, (feed) => set({ feed }), per, "speed of the cut"),
      numberBlank("Pierce", "s", "pierce", cut.pierce, (pierce) => set({ pierce }), 1, "wait before moving"),
      mm("Plate thickness", "thickness", "for weight and small holes"),
      numberBlank("Copies", "", "copies", cut.copies, (n) => set({ copies: Math.max(1, Math.round(n ?? 1)) })),
    ),
    ...marksAsHoles(s, on),
    make("h3", {}, "Stock"),
    cut.scrap
      ? make("p", { class: "said" }, "A traced scrap. ", button("Lay it aside", () => set({ scrap: null }), { class: "quiet" }))
      : make("div", { class: "pairs" }, mm("Width", "width"), mm("Height", "height")),
    !cut.scrap && make("div", { class: "row" }, button("Take this tracing as the scrap to cut from", () => on.scrap("piece"), { "data-key": "scrap" })),
    ...(s.plan ? s.planParts : [make("p", { class: "problem", role: "status" }, s.planProblem)]),
    rare(s, on),
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

/** @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
function rare(s, on) {
  const { cut } = s.job;
  const set = (/** @type {Partial<Cut>} */ change) => on.cut(change);
  const mm = (/** @type {string} */ label, /** @type {keyof Cut} */ key, hint = "") => lengthBlank(label, key, /** @type {number | null} */ (cut[key]), s.unit, (v) => set({ [key]: v }), hint);
  const num = (/** @type {string} */ label, /** @type {string} */ unit, /** @type {keyof Cut} */ key, k = 1, hint = "") => numberBlank(label, unit, key, /** @type {number | null} */ (cut[key]), (v) => set({ [key]: v }), k, hint);
  const pick = (/** @type {string} */ label, /** @type {keyof Cut} */ key, /** @type {string[][]} */ options) => choice(label, key, options, String(cut[key] ?? ""), (v) => set({ [key]: v }));
  const per = s.unit === "mm" ? 1 : INCH;
  const part = (/** @type {string} */ title, /** @type {any[]} */ ...blanks) => [make("h3", {}, title), make("div", { class: "pairs" }, ...blanks)];
  return make(
    "details",
    { "data-key": "rare", class: "rare" },
    make("summary", { "data-key": "rare-fold" }, "What most cuts leave as it is"),
    ...part(
      "Leads",
      mm("Lead-in", "lead", "empty: chosen to fit"),
      mm("Lead-out", "leadOut", "empty: half the lead-in"),
      pick("Shape", "leadStyle", [["a quarter arc", "arc"], ["straight", "straight"]]),
      mm("Overlap", "overlap", "empty: one kerf"),
    ),
    ...part(
      "Way round and order",
      pick("Outsides run", "outside", [["clockwise", "cw"], ["counter-clockwise", "ccw"]]),
      pick("Kept is", "keep", [["as the roles say", ""], ["what is enclosed", "inside"], ["what lies around", "outside"]]),
      num("Travel may grow", "%", "spread", 1, "so that neighbours are not cut in a row; empty: 5"),
      mm("Hot within", "heatDistance", "empty: 12 mm"),
      mm("Metal between", "gap", "empty: room for the leads"),
      pick("Turned by", "turns", [["quarter turns", "quarter"], ["half turns", "half"], ["none: the grain matters", "none"], ["also along long sides", "edges"]]),
      mm("Touched holes of a scrap", "scrapHole", "empty: 12 mm"),
    ),
    ...part("Bridges", num("Bridges a part", "", "bridges"), mm("Metal at each", "bridgeWidth", "empty: enough to hold")),
    ...part(
      "The machine",
      num("Travel speed", `${s.unit}/min`, "rapid", per, "to count it in the time"),
      mm("Reach across", "reachWidth", "from its zero; empty: not checked"),
      mm("Reach up", "reachHeight"),
      mm("Shortest edge", "leastEdge", "empty: 0.5 mm"),
      mm("Height, cutting", "cutHeight", "heights are written when all three are said"),
      mm("Height, piercing", "pierceHeight"),
      mm("Height, travelling", "safeHeight"),
    ),
    ...part(
      "The sheet",
      plain("Called", "title", cut.title, (title) => set({ title })),
      pick("General tolerance", "tolerance", [["none", ""], ["fine", "f"], ["medium", "m"], ["coarse", "c"], ["very coarse", "v"]]),
      num("Density", "kg/m³", "density", 1, "empty: steel"),
      num("Least hole", "thicknesses", "holeRatio", 1, "empty: 1.5"),
    ),
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

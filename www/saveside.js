// The side of the tag from which files leave: what they are, what is doubtful, and the cautions.

/** @import { Doubt } from "./pkg/trued_web.js" */
/** @import { Shown } from "./tag.js" */

import { button, make } from "./dom.js";
import { machineWords } from "./jobs/square.js";

/** What a machine runs: written only when each doubt was looked at. */
const FOR_MACHINES = ["rs274", "plan-dxf"];

/** @param {Shown} s @param {Record<string, (...given: any[]) => void>} on @returns {any[]} */
export function saveSide(s, on) {
  const ready = Boolean(s.plan);
  const doubts = /** @type {Doubt[]} */ (s.plan?.doubts ?? []);
  const open = doubts.filter((_, i) => !s.accepted.includes(i + 1)).length;
  const item = (/** @type {string} */ words, /** @type {string} */ what, /** @type {string} */ kind, can = true) =>
    make("li", {}, button(words, () => on.save(kind), { "data-key": kind, disabled: !can, "aria-describedby": `for-${kind}` }), make("span", { id: `for-${kind}` }, what));
  const cut = (/** @type {string} */ words, /** @type {string} */ what, /** @type {string} */ kind) =>
    item(words, !ready ? "first ready the cut" : FOR_MACHINES.includes(kind) && open ? "first look at the doubts" : what, kind, ready && !(FOR_MACHINES.includes(kind) && open));
  const back = s.alone || (s.job.opening ? "opening" : "piece");
  const names = /** @type {Record<string, string>} */ ({ blanks: "Back to the blanks", coupon: "Back to the coupon", opening: "Back to the opening" });
  const { square } = s.shop.machine;
  return [
    make("h2", {}, "Save"),
    make("p", { class: "caution" }, s.cautions.line),
    square && make("p", { class: "said", "data-key": "corrected" }, `What goes to the machine is corrected for it, the outline's DXF and SVG too: ${machineWords(square).join("; ")}. `, button("Stop correcting", () => on.machine({ ...s.shop.machine, square: undefined }), { class: "quiet", "data-key": "uncorrect" })),
    ...doubted(doubts, s, on),
    make("h3", {}, "For the cutter"),
    make(
      "ul",
      { class: "saves" },
      cut("RS-274", "the program: path with kerf, leads and order", "rs274"),
      cut("Dry run", "the same path, torch off throughout", "dry"),
      cut("Plan DXF", "the torch's path, roles by name", "plan-dxf"),
      cut("Plan SVG", "the same as a picture in true size", "plan-svg"),
      cut("Sheet", "to print: sizes, order, cautions", "sheet"),
      cut("Template", "to print 1:1 and stick on the plate", "template"),
      s.alone === "coupon" && item("Measuring sheet", "CSV, to fill in at the bench", "measuring"),
    ),
    !s.alone && make("h3", {}, "The outline"),
    !s.alone && make("ul", { class: "saves" }, item("DXF", "true size, arcs as arcs", "dxf"), item("SVG", "true size", "svg"), item("Outline", "JSON, with sizes and notes", "outline"), item("Look picture", "hand and outline, to trust before any spark", "look"), item("Job", "trace and all you said, to go on later", "job")),
    make("h3", {}, "Before the torch is lit"),
    make("ul", { class: "cautions" }, ...s.cautions.all.map((c) => make("li", {}, c))),
    make("div", { class: "row" }, !ready && button("Ready the cut", () => on.turn("cut"), { class: "strong", "data-key": "cut" }), button(names[back] ?? "Back to the piece", () => on.turn(back), { class: "quiet", "data-key": "back" })),
  ];
}

/** Each doubt to be looked at, numbered as its ring on the plate. @param {Doubt[]} doubts @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
function doubted(doubts, s, on) {
  if (doubts.length === 0) return [];
  const item = (/** @type {Doubt} */ d, /** @type {number} */ i) => {
    const taken = s.accepted.includes(i + 1);
    return make(
      "li",
      {},
      make("label", { class: "tick" }, make("input", { type: "checkbox", checked: taken, "data-key": `doubt${i + 1}`, onchange: () => on.accept(i + 1, !taken) }), make("span", {}, `${i + 1}. ${d.text}`)),
    );
  };
  return [make("h3", {}, "Look at these on the plate, and tick what you take on"), make("ul", { class: "doubts" }, ...doubts.map(item))];
}

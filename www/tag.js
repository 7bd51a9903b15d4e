// The tag tied to the piece. Its sides: what the piece is, how it is cut, what is saved of it, and the
// plate itself. Controls call back; what they do is decided in main.js.

/** @import { Alternative, Hint, Material, Outcome } from "./pkg/trued_web.js" */
/** @import { Cut, Job } from "./job.js" */
/** @import { Unit } from "./units.js" */

import { button, fill, grab, make } from "./dom.js";
import { choice, figure, number, size, trim, written } from "./form.js";
import { isJob, jobSide, listSide } from "./jobs/list.js";
import { machineWords } from "./jobs/square.js";
import { INCH, clock, length, small } from "./units.js";
import { hintWords } from "./talk.js";
import { extent } from "./things.js";

/** Another reading this much dearer is still close, nats. */
const CLOSE = 5;

/** @import { JobSide } from "./jobs/list.js" */
/** @import { Shop } from "./shop.js" */

/** @typedef {"piece" | "cut" | "save" | "plate" | "jobs" | JobSide} Side */

/**
 * @typedef {object} Shown
 * @property {Job} job
 * @property {Outcome | null} outcome
 * @property {Unit} unit
 * @property {any} plan
 * @property {string} planProblem
 * @property {{ line: string, all: string[] }} cautions
 * @property {{ name: string, title: string }[]} demos
 * @property {string} light
 * @property {Shop} shop
 * @property {Record<string, any>} answers of the shop jobs
 * @property {Record<string, string>} problems with them
 * @property {"" | "blanks" | "coupon"} alone the job whose own plan is on the plate
 * @property {Material[]} materials rows of the material book
 * @property {HTMLElement[]} planParts
 */

export class Tag {
  /** @param {Record<string, (...given: any[]) => void>} on */
  constructor(on) {
    this.on = on;
    this.element = grab("tag", HTMLElement);
    /** @type {Side} */
    this.side = "piece";
    this.folded = false;
    /** @type {any} the torch's own slider, kept while it plays */
    this.torch = null;
  }

  /** @param {Side} side */
  turn(side) {
    this.side = side;
    this.folded = false;
    this.element.scrollTop = 0;
  }

  /** Whether the side says something of its own, piece or not. @param {Side} side */
  stands(side = this.side) {
    return side === "plate" || side === "jobs" || isJob(side);
  }

  /** @param {Omit<Shown, "planParts">} shown */
  show(shown) {
    const { side } = this;
    const own = this.stands() || (side === "save" && shown.alone !== "");
    this.element.hidden = !(shown.outcome !== null || own);
    if (this.element.hidden) {
      this.side = "piece";
      return;
    }
    this.torch = null;
    const s = { ...shown, planParts: shown.plan ? this.#plan(shown) : [] };
    const sides = { piece: () => this.#piece(s), cut: () => this.#cut(s), save: () => this.#save(s), plate: () => this.#plate(s), jobs: () => listSide(this.on) };
    const body = isJob(side) ? jobSide(side, s, this.on) : sides[side]();
    const fold = button(this.folded ? "Unfold the tag" : "Fold the tag", () => {
      this.folded = !this.folded;
      this.on.redraw();
    }, { class: "quiet fold", "data-key": "fold", "aria-expanded": String(!this.folded) });
    this.element.dataset.side = this.side;
    this.element.dataset.folded = String(this.folded);
    fill(this.element, [make("i", { class: "eyelet", "aria-hidden": "true" }), ...(this.folded ? body.slice(0, 1) : body), fold]);
  }

  /** @param {Shown} s */
  #piece(s) {
    const outcome = /** @type {Outcome} */ (s.outcome);
    const { report } = outcome;
    return [
      make("h2", {}, counted(outcome)),
      make(
        "div",
        { class: "row main" },
        button("Ready the cut", () => this.on.turn("cut"), { class: "strong", "data-key": "cut" }),
        button("Save", () => this.on.turn("save"), { "data-key": "save" }),
      ),
      make("p", {}, overall(outcome, s.unit)),
      make("p", {}, outcome.found),
      ...this.#others(report.readings),
      ...this.#said(s.job.hints, s.unit),
      this.#reading(s),
      report.notes.length > 0 && make("h3", {}, "Notes"),
      report.notes.length > 0 && make("ul", {}, ...report.notes.map((n) => make("li", {}, n.text))),
    ].filter((c) => c !== false);
  }

  /** @param {Alternative[]} readings */
  #others(readings) {
    const close = readings.filter((r) => r.price_above_best < CLOSE && r.hints.length > 0);
    if (close.length === 0) return [];
    const item = (/** @type {Alternative} */ r) => {
      const look = () => this.on.look(r.edges);
      const away = () => this.on.look(null);
      return make("li", {}, `${r.summary} `, button("Take it", () => this.on.take(r.hints), { onpointerenter: look, onfocus: look, onpointerleave: away, onblur: away }));
    };
    return [make("h3", {}, "It could also be"), make("ul", { class: "choices" }, ...close.map(item))];
  }

  /** @param {Hint[]} hints @param {Unit} unit */
  #said(hints, unit) {
    if (hints.length === 0) return [];
    const item = (/** @type {Hint} */ h, /** @type {number} */ i) =>
      make("li", {}, `${hintWords(h, unit)} `, button("Drop", () => this.on.drop(h), { "data-key": `drop${i}`, "aria-label": `Drop: ${hintWords(h, unit)}` }));
    return [make("h3", {}, "You said"), make("ul", { class: "choices" }, ...hints.map(item))];
  }

  /** @param {Shown} s */
  #reading(s) {
    const { settings } = s.job;
    const whole = s.unit === "mm" ? [["as they are", 0], ["to ½ mm", 0.5], ["to 1 mm", 1], ["to 5 mm", 5]] : [["as they are", 0], ["to 1/16 in", INCH / 16], ["to 1/8 in", INCH / 8], ["to 1/4 in", INCH / 4]];
    const kinds = [["by itself", "auto"], ["a pen's line", "sampled"], ["touched points", "touched"], ["points in no order", "cloud"]];
    return make(
      "div",
      { class: "pairs" },
      choice("Sizes", "whole", whole, settings.whole ?? 0, (v) => this.on.set({ whole: Number(v) || null })),
      choice("Read as", "kind", kinds, settings.kind ?? "auto", (v) => this.on.set({ kind: v })),
    );
  }

  /** @param {Shown} s */
  #cut(s) {
    const { cut } = s.job;
    const set = (/** @type {Partial<Cut>} */ change) => this.on.cut(change);
    const mm = (/** @type {string} */ label, /** @type {keyof Cut} */ key, /** @type {string} */ hint) =>
      figure(label, s.unit, key, cut[key] === null ? "" : written(Number(cut[key]), s.unit), hint, (t) => set({ [key]: size(t, s.unit) }));
    const per = s.unit === "mm" ? 1 : INCH;
    return [
      make("h2", {}, "The cut"),
      make("p", { class: "ask" }, "Kerf, feed and pierce come from your cutter's own book, for this plate and these consumables."),
      s.materials.length > 0 && make("div", { class: "pairs" }, choice("From my material book", "material", [["fill in by hand", ""], ...s.materials.map((m) => [m.name, m.name])], "", (name) => this.on.material(name))),
      make(
        "div",
        { class: "pairs" },
        mm("Kerf", "kerf", "width the torch takes away"),
        figure("Feed", `${s.unit}/min`, "feed", cut.feed === null ? "" : trim(cut.feed / per), "speed of the cut", (t) => set({ feed: number(t, per) })),
        figure("Pierce", "s", "pierce", cut.pierce === null ? "" : String(cut.pierce), "wait before moving", (t) => set({ pierce: number(t, 1) })),
        mm("Lead", "lead", "empty: chosen to fit"),
        mm("Plate thickness", "thickness", "for weight and small holes"),
        s.outcome && s.outcome.marks.length > 0 && mm("Holes at marks ⌀", "hole", "empty: marks are left alone"),
        figure("Copies", "", "copies", String(cut.copies), "", (t) => set({ copies: Math.max(1, Math.round(number(t, 1) ?? 1)) })),
      ),
      make("h3", {}, "Stock"),
      cut.scrap
        ? make("p", { class: "said" }, "A traced scrap. ", button("Lay it aside", () => set({ scrap: null }), { class: "quiet" }))
        : make("div", { class: "pairs" }, mm("Width", "width", ""), mm("Height", "height", "")),
      !cut.scrap && make("div", { class: "row" }, button("Take this tracing as the scrap to cut from", () => this.on.scrap("piece"), { "data-key": "scrap" })),
      ...(s.plan ? s.planParts : [make("p", { class: "problem", role: "status" }, s.planProblem)]),
      make("div", { class: "row" }, s.plan && button("Save", () => this.on.turn("save"), { class: "strong", "data-key": "save" }), button("Back to the piece", () => this.on.turn("piece"), { class: "quiet", "data-key": "back" })),
    ].filter((c) => c !== false);
  }

  /** @param {Omit<Shown, "planParts">} s @returns {HTMLElement[]} */
  #plan({ plan, unit }) {
    const facts = [
      `${plan.cuts.length} ${plan.cuts.length === 1 ? "cut" : "cuts"}`,
      `${length(plan.cut_length, unit)} ${unit} of kerf`,
      `${clock(plan.seconds)} with the torch lit`,
      plan.weight !== null && `${plan.weight.toFixed(2)} kg`,
      plan.asked > 1 && `${plan.fits} of ${plan.asked} fit`,
    ];
    const slider = make("input", { type: "range", min: 0, max: 1000, value: 0, "aria-label": "Torch along the plan", "data-key": "torch", oninput: () => this.on.seek(Number(slider.value) / 1000) });
    const run = button("Run the torch", () => this.on.run(), { "data-key": "run" });
    const time = make("output", { class: "time" });
    this.torch = { slider, run, time };
    return [
      make("h3", {}, "Plan"),
      make("p", {}, facts.filter(Boolean).join(" · ")),
      make("div", { class: "row torch" }, run, slider, time),
      plan.warnings.length > 0 && make("ul", { class: "warnings" }, ...plan.warnings.map((/** @type {{ text: string }} */ w) => make("li", {}, w.text))),
    ].filter((c) => c instanceof HTMLElement);
  }

  /** @param {Shown} s */
  #save(s) {
    const item = (/** @type {string} */ words, /** @type {string} */ what, /** @type {string} */ kind, /** @type {boolean} */ can = true) =>
      make("li", {}, button(words, () => this.on.save(kind), { "data-key": kind, disabled: !can, "aria-describedby": `for-${kind}` }), make("span", { id: `for-${kind}` }, what));
    const ready = Boolean(s.plan);
    const back = s.alone || (s.job.opening ? "opening" : "piece");
    const names = /** @type {Record<string, string>} */ ({ blanks: "Back to the blanks", coupon: "Back to the coupon", opening: "Back to the opening" });
    const { square } = s.shop.machine;
    return [
      make("h2", {}, "Save"),
      make("p", { class: "caution" }, s.cautions.line),
      square && make("p", { class: "said", "data-key": "corrected" }, `What goes to the machine is corrected for it, the outline's DXF and SVG too: ${machineWords(square).join("; ")}. `, button("Stop correcting", () => this.on.machine({ ...s.shop.machine, square: undefined }), { class: "quiet", "data-key": "uncorrect" })),
      make("h3", {}, "For the cutter"),
      make(
        "ul",
        { class: "saves" },
        item("RS-274", ready ? "torch path with kerf, leads and order" : "first ready the cut", "rs274", ready),
        item("Dry run", "the same path, torch off throughout", "dry", ready),
        item("Plan DXF", "the torch's path, roles by name", "plan-dxf", ready),
        item("Plan SVG", "the same as a picture in true size", "plan-svg", ready),
        item("Sheet", "to print: sizes, order, cautions", "sheet", ready),
        item("Template", "to print 1:1 and stick on the plate", "template", ready),
        s.alone === "coupon" && item("Measuring sheet", "CSV, to fill in at the bench", "measuring"),
      ),
      !s.alone && make("h3", {}, "The outline"),
      !s.alone && make("ul", { class: "saves" }, item("DXF", "true size, arcs as arcs", "dxf"), item("SVG", "true size", "svg"), item("Outline", "JSON, with sizes and notes", "outline"), item("Job", "trace and all you said, to go on later", "job")),
      make("h3", {}, "Before the torch is lit"),
      make("ul", { class: "cautions" }, ...s.cautions.all.map((c) => make("li", {}, c))),
      make("div", { class: "row" }, !ready && button("Ready the cut", () => this.on.turn("cut"), { class: "strong", "data-key": "cut" }), button(names[back] ?? "Back to the piece", () => this.on.turn(back), { class: "quiet", "data-key": "back" })),
    ].filter((c) => c !== false && c !== undefined);
  }

  /** @param {Shown} s */
  #plate(s) {
    const text = make("textarea", { rows: 4, "aria-label": "Points, one x,y in a row", placeholder: "x,y\n0,0\n80,0\n80,50\n0,50", spellcheck: "false" });
    return [
      make("h2", {}, "The plate"),
      make(
        "div",
        { class: "row" },
        button("Open a file", () => this.on.file(), { class: "strong", "data-key": "file" }),
        button("Wipe the plate", () => this.on.wipe(), { "data-key": "wipe" }),
        button("Show all", () => this.on.fit(), { "data-key": "fit" }),
      ),
      make(
        "div",
        { class: "pairs" },
        choice("Measured in", "unit", [["millimetres", "mm"], ["inches", "in"]], s.unit, (v) => this.on.unit(v)),
        choice("Light", "light", [["as the device", "auto"], ["dark shop", "dark"], ["bright yard", "bright"]], s.light, (v) => this.on.light(v)),
      ),
      make("h3", {}, "Demos"),
      make("ul", { class: "choices" }, ...s.demos.map((d) => make("li", {}, button(d.title, () => this.on.demo(d.name), { "data-key": d.name })))),
      make("h3", {}, "Typed or pasted points"),
      text,
      make("div", { class: "row" }, button("Take these points", () => this.on.typed(text.value), { "data-key": "typed" })),
      make("h3", {}, "Keys"),
      make("p", {}, "Arrows step through edges, corners and marks, Enter opens one. + and − zoom, 0 shows all, Shift with arrows moves the plate. S: soapstone. Ctrl Z and Ctrl Shift Z: undo, redo. Ctrl O opens, Ctrl S saves the job."),
      make("div", { class: "row" }, button(s.outcome ? "Back to the piece" : "Back", () => this.on.turn("piece"), { class: "quiet", "data-key": "back" })),
    ];
  }
}

/** @param {Outcome} outcome */
function counted(outcome) {
  const n = (/** @type {string} */ role) => outcome.loops.filter((l) => l.role === role).length;
  const words = (/** @type {number} */ k, /** @type {string} */ one) => k > 0 && `${k} ${one}${k === 1 ? "" : "s"}`;
  const list = [words(n("part"), "part"), words(n("hole"), "hole"), words(n("open"), "open line"), words(outcome.marks.length, "mark")];
  return list.filter(Boolean).join(", ") || "Nothing to cut yet";
}

/** @param {Outcome} outcome @param {Unit} unit */
function overall(outcome, unit) {
  const e = extent(outcome.loops.map((l) => l.edges), outcome.marks.map((m) => m.at));
  if (!e) return "";
  const wander = Math.max(0, ...outcome.report.wander.map((w) => w.size));
  const moved = Math.max(0, ...outcome.report.moved.flat());
  const bits = [`${length(e[2] - e[0], unit)} × ${length(e[3] - e[1], unit)} ${unit} over all`];
  if (wander > 0) bits.push(`the hand wandered ${small(wander, unit)}`);
  if (moved > 0) bits.push(`most moved ${small(moved, unit)}`);
  return bits.join(" · ");
}

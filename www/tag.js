// The tag tied to the piece. Its sides: what the piece is, how it is cut, what is saved of it, and the
// plate itself. Controls call back; what they do is decided in main.js.

/** @import { Alternative, Doubt, Hint, Material, Outcome } from "./pkg/trued_web.js" */
/** @import { Job } from "./job.js" */
/** @import { Unit } from "./units.js" */

import { cutSide, planParts } from "./cutside.js";
import { button, fill, grab, make } from "./dom.js";
import { choice } from "./form.js";
import { isMark } from "./job.js";
import { isJob, jobSide, listSide } from "./jobs/list.js";
import { photoSide } from "./photo.js";
import { saveSide } from "./saveside.js";
import { sentence } from "./start.js";
import { hintWords } from "./talk.js";
import { extent } from "./things.js";
import { INCH, length, small } from "./units.js";

/** Another reading this much dearer is still close, nats. */
const CLOSE = 5;

/** @import { JobSide } from "./jobs/list.js" */
/** @import { Shop } from "./shop.js" */

/** @typedef {"piece" | "cut" | "save" | "plate" | "jobs" | "photo" | JobSide} Side */

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
 * @property {number[]} accepted numbers of the doubts that were taken on
 * @property {Job[]} elsewhere jobs of tabs that are closed
 * @property {import("./photo.js").Photo} photo
 * @property {HTMLElement[]} planParts
 */

export class Tag {
  /** @param {Record<string, (...given: any[]) => void>} on */
  constructor(on) {
    this.on = on;
    this.element = grab("tag", HTMLElement);
    /** @type {Side} */
    this.side = "piece";
  }

  /** @param {Side} side */
  turn(side) {
    this.side = side;
    this.element.scrollTop = 0;
  }

  /** Whether the side says something of its own, piece or not. @param {Side} side */
  stands(side = this.side) {
    return side === "plate" || side === "jobs" || side === "photo" || isJob(side);
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
    const s = { ...shown, planParts: shown.plan ? planParts(shown, this.on) : [] };
    const sides = { piece: () => this.#piece(s), cut: () => cutSide(s, this.on), save: () => saveSide(s, this.on), plate: () => this.#plate(s), jobs: () => listSide(this.on), photo: () => photoSide(s, this.on) };
    const body = isJob(side) ? jobSide(side, s, this.on) : sides[side]();
    this.element.dataset.side = this.side;
    // Nothing of one side is patched into another.
    fill(this.element, [make("i", { class: "eyelet", "aria-hidden": "true" }), make("div", { "data-key": `side-${side}` }, ...body.filter((/** @type {any} */ c) => c !== false && c !== undefined))]);
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
      ...this.#hand(s),
      this.#reading(s),
      ...this.#doubts(report.doubts),
      report.notes.length > 0 && make("h3", {}, "Notes"),
      report.notes.length > 0 && make("ul", {}, ...report.notes.map((n) => make("li", {}, n.text))),
    ].filter((c) => c !== false);
  }

  /** What to look at first, numbered as the rings on the plate. @param {Doubt[]} doubts */
  #doubts(doubts) {
    if (doubts.length === 0) return [];
    return [make("h3", {}, "Look here before you cut"), make("ul", { class: "doubts" }, ...doubts.map((d, i) => make("li", {}, `${i + 1}. ${d.text}`)))];
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

  /** How the line came about, where there is one. @param {Shown} s */
  #hand(s) {
    if (!s.job.trace.strokes.some((stroke) => !isMark(stroke))) return [];
    const now = s.job.settings.hand ?? "unsaid";
    const way = (/** @type {string} */ words, /** @type {"drawn" | "traced"} */ hand) => button(words, () => this.on.set({ hand: now === hand ? undefined : hand }), { "data-key": hand, "aria-pressed": String(now === hand) });
    return [make("div", { class: "row ways", role: "group", "aria-label": "How the line came about" }, way("Drawn freely", "drawn"), way("Traced along something", "traced"))];
  }

  /** @param {Shown} s */
  #reading(s) {
    const { settings } = s.job;
    const whole = s.unit === "mm" ? [["as they are", 0], ["to ½ mm", 0.5], ["to 1 mm", 1], ["to 5 mm", 5]] : [["as they are", 0], ["to 1/16 in", INCH / 16], ["to 1/8 in", INCH / 8], ["to 1/4 in", INCH / 4]];
    const kinds = [["what it looks like", "auto"], ["a pen's line", "sampled"], ["touched points", "touched"], ["points in no order", "cloud"]];
    return make(
      "div",
      { class: "pairs" },
      choice("Sizes", "whole", whole, settings.whole ?? 0, (v) => this.on.set({ whole: Number(v) || null })),
      choice("Taken as", "kind", kinds, settings.kind ?? "auto", (v) => this.on.set({ kind: v })),
    );
  }

  /** @param {Shown} s */
  #plate(s) {
    const text = make("textarea", { rows: 4, "data-key": "points", "data-own": "", "aria-label": "Points, one x,y in a row", placeholder: "x,y\n0,0\n80,0\n80,50\n0,50", spellcheck: "false" });
    return [
      make("h2", {}, "The plate"),
      make(
        "div",
        { class: "row" },
        button("Open a file", () => this.on.file(), { class: "strong", "data-key": "file" }),
        button("Wipe the plate", () => this.on.wipe(), { "data-key": "wipe" }),
        button("Show all", () => this.on.fit(), { "data-key": "fit" }),
        button("From a photo", () => this.on.turn("photo"), { "data-key": "photo" }),
        button("Shop jobs", () => this.on.turn("jobs"), { "data-key": "jobs" }),
      ),
      make(
        "div",
        { class: "pairs" },
        choice("Measured in", "unit", [["millimetres", "mm"], ["inches", "in"]], s.unit, (v) => this.on.unit(v)),
        choice("Light", "light", [["as the device", "auto"], ["dark shop", "dark"], ["bright yard", "bright"]], s.light, (v) => this.on.light(v)),
      ),
      make("h3", {}, "Demos"),
      make("ul", { class: "choices" }, ...s.demos.map((d) => make("li", {}, button(d.title, () => this.on.demo(d.name), { "data-key": d.name })))),
      s.elsewhere.length > 0 && make("h3", {}, "Kept by tabs that are closed"),
      s.elsewhere.length > 0 && make("ul", { class: "choices" }, ...s.elsewhere.map((job, i) => make("li", {}, button(`A piece of ${job.trace.strokes.length + job.trace.drawn.length} lines`, () => this.on.takeUp(job), { "data-key": `elsewhere${i}` })))),
      make("h3", {}, "Typed or pasted points"),
      text,
      make("div", { class: "row" }, button("Take these points", (e) => this.on.typed(e.currentTarget.parentElement.previousElementSibling.value), { "data-key": "typed" })),
      make("h3", {}, "Keys"),
      make("p", {}, "Arrows step through edges, corners and marks, Enter opens one. + and − zoom, 0 shows all, Shift with arrows moves the plate. L looks, S takes the soapstone, M the punch, R the rag; C, held, shows the hand's line alone. Ctrl Z and Ctrl Shift Z: undo, redo. Ctrl O opens, Ctrl S saves the job."),
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
  const size = `${length(e[2] - e[0], unit)} × ${length(e[3] - e[1], unit)} ${unit} over all.`;
  const hand = [wander > 0 && `Your line wanders by ${small(wander, unit)} ${unit}`, moved > 0 && `the outline keeps within ${small(moved, unit)} ${unit} of it`].filter(Boolean).join("; ");
  return hand ? `${size} ${sentence(hand)}` : size;
}

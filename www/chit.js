// The slip about one thing: what it is, and what can be said of it. Each thing said becomes a hint in the job.
// It hangs where the tag hangs, on a string to its thing, and so never lies over the piece.

/** @import { Hint, Outcome, Place, Size } from "./pkg/trued_web.js" */
/** @import { Plate } from "./plate.js" */
/** @import { Thing } from "./things.js" */
/** @import { Unit } from "./units.js" */

import { button, fill, grab, make } from "./dom.js";
import { degrees, length, measured, parse, small } from "./units.js";
import { hintWords, sizeWords, thingName } from "./talk.js";
import { along, angleAt, isRound, isSquare, pick, saidOf, sideName, sizeOf } from "./things.js";

/**
 * @typedef {object} Says
 * @property {(hints: Hint[]) => void} say
 * @property {(hint: Hint) => void} drop
 * @property {(thing: Thing) => void} rub
 * @property {(thing: Thing) => void} show
 * @property {() => void} closed
 */

/** Widest angle to an axis at which an edge is laid along it, degrees. */
const QUARTER = 90;

export class Chit {
  /** @param {Plate} plate @param {Says} on */
  constructor(plate, on) {
    this.plate = plate;
    this.on = on;
    this.element = grab("chit", HTMLElement);
    /** @type {Thing | null} */
    this.thing = null;
    /** Where the slip goes on once this was read. @type {Place | null} */
    this.next = null;
    /** Whether it is just going on, to where the hole lies. */
    this.goesOn = false;
    this.element.addEventListener("keydown", (e) => {
      if (e.key === "Escape") this.close();
    });
  }

  /**
   * @param {Thing} thing
   * @param {Outcome} outcome
   * @param {Hint[]} hints
   * @param {Unit} unit
   */
  open(thing, outcome, hints, unit) {
    const other = this.thing?.kind !== thing.kind || this.thing.loop !== thing.loop || this.thing.index !== thing.index || this.element.hidden;
    this.thing = thing;
    const parts = {
      edge: () => this.#edge(thing, outcome, unit),
      corner: () => this.#corner(thing, outcome, unit),
      loop: () => this.#loop(thing, outcome),
      mark: () => this.#mark(thing, outcome, unit),
    }[thing.kind]();
    const said = saidOf(hints, thing, Math.max(2, this.plate.reach)).map((hint) =>
      make("p", { class: "said" }, `You said ${hintWords(hint, unit)}. `, button("Drop it", () => this.on.drop(hint), { class: "quiet" })),
    );
    if (other) fill(this.element, []);
    fill(this.element, [make("i", { class: "eyelet", "aria-hidden": "true" }), ...parts, ...said, button("Close", () => this.close(), { class: "quiet shut", "data-key": "shut" })]);
    this.element.hidden = false;
    this.element.parentElement?.setAttribute("data-slip", "open");
    if (other) this.element.scrollTop = 0;
    const first = ((this.goesOn || (thing.kind === "edge" && sizeOf(outcome, thing)?.fixed)) && this.element.querySelector(".places input")) || this.element.querySelector("input, button");
    this.goesOn = false;
    if (other && first instanceof HTMLElement) first.focus({ preventScroll: true });
  }

  close() {
    this.next = null;
    if (this.element.hidden) return;
    const inside = this.element.contains(document.activeElement);
    this.element.hidden = true;
    this.element.parentElement?.removeAttribute("data-slip");
    this.thing = null;
    if (inside) this.plate.element.focus({ preventScroll: true });
    this.on.closed();
  }

  /**
   * There is a new outline: the slip goes on where it has more to ask, stays where something is being written on
   * it and its thing is still there, and is taken down otherwise.
   * @param {Outcome} outcome
   */
  follow(outcome) {
    const { thing, next } = this;
    this.next = null;
    if (!thing) return;
    const writing = [...this.element.querySelectorAll("input")].some((i) => i.value !== "" && i.type === "text");
    const again = next ? pick(outcome, next, this.plate.reach) : writing ? pick(outcome, thing.at, this.plate.reach) : null;
    this.goesOn = next !== null;
    if (again && (next || again.kind === thing.kind)) this.on.show(again);
    else this.close();
  }

  /** @param {Hint[]} hints @param {Place} [next] where to go on */
  #say(hints, next) {
    for (const input of this.element.querySelectorAll("input")) if (input.type === "text") input.value = "";
    this.next = next ?? null;
    this.on.say(hints);
  }

  /** @param {Thing} thing @param {Outcome} outcome @param {Unit} unit */
  #edge(thing, outcome, unit) {
    const { loop, index, at } = thing;
    const edge = outcome.loops[loop].edges[index];
    const moved = outcome.report.moved[loop]?.[index];
    const arc = "arc" in edge;
    const round = isRound(edge);
    const found = sizeOf(outcome, thing);
    const words = /** @type {Record<string, string>} */ ({ radius: "Its radius is", diameter: "Its diameter is" });
    const facts = [sizeWords(found, unit), moved !== undefined && `${small(moved, unit)} ${unit} off the hand's line at most`];
    return [
      make("h2", {}, round ? `${outcome.loops[loop].role === "hole" ? "Hole" : "Circle"} ${sizeWords(found, unit)}` : `${thingName(thing)}: ${arc ? "an arc" : "straight"}`),
      !round && make("p", {}, facts.filter(Boolean).join(" · ")),
      this.#blank(words[found?.kind ?? ""] ?? "Over all it is", "Set", unit, (mm) => this.#say([{ at, size: mm }]), round || arc ? undefined : ["Scale all by it", (mm) => this.#say([{ at, size: mm, scale: true }])]),
      ...(round ? this.#places(outcome, unit, "hole", loop, center(edge)) : []),
      make(
        "div",
        { class: "row" },
        !round && button("Straight", () => this.#say([{ at, edge: "straight" }]), { "aria-pressed": String(!arc) }),
        !round && button("Arc", () => this.#say([{ at, edge: "arc" }]), { "aria-pressed": String(arc) }),
        !arc && button("Level to this edge", () => this.#say([{ at, level: levelOf(edge) }])),
        round && button("Machine's zero here", () => this.#say([{ at: center(edge), zero: true }])),
        button("The whole loop…", () => this.on.show({ kind: "loop", loop, index: 0, at })),
      ),
    ];
  }

  /** @param {Thing} thing @param {Outcome} outcome @param {Unit} unit */
  #corner(thing, outcome, unit) {
    const { at } = thing;
    const angle = angleAt(outcome, thing);
    const smooth = Math.PI - angle < 1e-7;
    return [
      make("h2", {}, `${thingName(thing)}: ${smooth ? "smooth" : degrees(angle)}`),
      make("p", {}, smooth ? "one edge runs into the next" : isSquare(angle) ? "squared" : "as traced"),
      this.#blank("Rounded, radius", "Round it", unit, (mm) => this.#say([{ at, corner: { radius: mm } }])),
      make(
        "div",
        { class: "row" },
        button("Sharp", () => this.#say([{ at, corner: "sharp" }])),
        button("Square", () => this.#say([{ at, corner: "square" }])),
        button("Keep the traced angle", () => this.#say([{ at, corner: "keep" }])),
        button("Machine's zero here", () => this.#say([{ at, zero: true }])),
      ),
    ];
  }

  /** @param {Thing} thing @param {Outcome} outcome */
  #loop(thing, outcome) {
    const { at } = thing;
    const loop = outcome.loops[thing.loop];
    const now = { part: "a part", hole: "a hole", open: "an open line" }[loop.role];
    /** @type {[string, NonNullable<Hint["loop"]>][]} */
    const kinds = [["Part", "part"], ["Hole", "hole"], ["Open line", "open"], ["Circle", "circle"], ["Rectangle", "rectangle"], ["Tied to no other", "alone"]];
    return [
      make("h2", {}, `${thingName(thing)}: ${now}`),
      make("p", {}, "It is meant as"),
      make("div", { class: "row" }, ...kinds.map(([words, kind]) => button(words, () => this.#say([{ at, loop: kind }]), { "aria-pressed": String(loop.role === kind) }))),
      make("div", { class: "row" }, button("Rub the whole loop out", () => this.on.rub(thing))),
    ];
  }

  /** @param {Thing} thing @param {Outcome} outcome @param {Unit} unit */
  #mark(thing, outcome, unit) {
    const { at } = thing;
    const others = outcome.marks.map((m) => m.at).filter((p) => p[0] !== at[0] || p[1] !== at[1]);
    const hole = (/** @type {Place[]} */ more) => (/** @type {number} */ mm) => this.#say([{ at, hole: mm, ...(more.length ? { with: more } : {}) }], at);
    return [
      make("h2", {}, thingName(thing)),
      make("p", {}, `at ${length(at[0], unit)}, ${length(at[1], unit)} ${unit}`),
      this.#blank("A hole of diameter", "Make it", unit, hole([]), others.length ? [`All ${others.length + 1} marks`, hole(others), "all-marks"] : undefined),
      ...this.#places(outcome, unit, "mark", thing.loop, at),
      make(
        "div",
        { class: "row" },
        button("Leave it where I touched", () => this.#say([{ at, loop: "alone" }])),
        button("Machine's zero here", () => this.#say([{ at, zero: true }])),
        button("Rub the mark out", () => this.on.rub(thing)),
      ),
    ];
  }

  /**
   * How far a hole or mark lies from the edges nearest to it: two blanks, set together.
   * @param {Outcome} outcome
   * @param {Unit} unit
   * @param {"hole" | "mark"} what
   * @param {number} number of the loop or mark
   * @param {Place} at its middle
   */
  #places(outcome, unit, what, number, at) {
    const near = nearest(outcome, outcome.report.sizes.filter((s) => s.kind === "to_edge" && s[what] === number));
    if (near.length === 0) return [];
    const blank = (/** @type {Size} */ s) => {
      const edge = outcome.loops[s.loop].edges[s.edges[0]];
      const name = sideName(outcome, s.loop, s.edges[0]);
      const show = () => {
        this.plate.also = edge;
        this.plate.redraw("over");
      };
      const input = make("input", { type: "text", inputmode: "decimal", size: 6, autocomplete: "off", "data-own": "", "data-to": along(edge, 0.5).join(), "data-key": `from ${name}`, placeholder: measured(s.value, 0, unit === "mm" ? "mm" : "in").slice(0, 6), "aria-label": `From ${name} (${unit})`, onfocus: show, onkeydown: (/** @type {any} */ e) => e.key === "Enter" && set(e) });
      return make("label", {}, make("span", {}, `From ${name}`), make("span", { class: "with" }, input, make("span", {}, unit)));
    };
    const set = (/** @type {any} */ e) => {
      const form = e.currentTarget.closest(".places");
      const typed = [...form.querySelectorAll("input")].filter((i) => i.value.trim() !== "");
      const hints = typed.map((i) => ({ at, distance: parse(i.value, unit) ?? Number.NaN, to: /** @type {Place} */ (i.dataset.to.split(",").map(Number)) }));
      if (hints.length && hints.every((h) => h.distance > 0)) this.#say(hints);
      else form.querySelector(".wrong").textContent = `Write a distance over 0 in ${unit}.`;
    };
    return [make("div", { class: "places" }, make("div", { class: "pairs" }, ...near.map(blank)), make("div", { class: "row" }, button("Place it so", set, { "data-key": "place" }), make("span", { class: "wrong", role: "alert" })))];
  }

  /**
   * A figure to fill in.
   * @param {string} label
   * @param {string} verb
   * @param {Unit} unit
   * @param {(mm: number) => void} done
   * @param {[string, (mm: number) => void, string?]} [more] another verb
   */
  #blank(label, verb, unit, done, more) {
    const set = (/** @type {(mm: number) => void} */ does) => (/** @type {any} */ e) => {
      const form = e.currentTarget.closest(".blank");
      const mm = parse(form.querySelector("input").value, unit);
      if (mm !== null && mm > 0) does(mm);
      else form.querySelector(".wrong").textContent = `Write a size over 0 in ${unit}, such as ${unit === "mm" ? "25" : "1 1/2"}.`;
    };
    const input = make("input", { type: "text", inputmode: "decimal", size: 6, autocomplete: "off", "data-own": "", "data-key": `blank ${label}`, "aria-label": `${label} (${unit})`, onkeydown: (/** @type {any} */ e) => e.key === "Enter" && set(done)(e) });
    return make("div", { class: "blank" }, make("span", {}, label), make("span", { class: "with" }, input, make("span", {}, unit)), button(verb, set(done)), more && button(more[0], set(more[1]), { "data-key": more[2] ?? null }), make("span", { class: "wrong", role: "alert" }));
  }
}

/** @param {import("./pkg/trued_web.js").Edge} edge @returns {Place} */
function center(edge) {
  return "arc" in edge ? edge.arc.center : along(edge, 0.5);
}

/** The axis an edge is nearest to, degrees: it is not turned over. @param {import("./pkg/trued_web.js").Edge} edge */
function levelOf(edge) {
  if (!("line" in edge)) return 0;
  const { from, to } = edge.line;
  const angle = (Math.atan2(to[1] - from[1], to[0] - from[0]) * 180) / Math.PI;
  return Math.round(angle / QUARTER) * QUARTER;
}

/** The nearest edge, and the nearest that is not parallel to it. @param {Outcome} outcome @param {Size[]} sizes */
function nearest(outcome, sizes) {
  const heading = (/** @type {Size} */ s) => {
    const edge = outcome.loops[s.loop].edges[s.edges[0]];
    const [a, b] = [along(edge, 0), along(edge, 1)];
    return Math.atan2(b[1] - a[1], b[0] - a[0]);
  };
  const [first, ...rest] = sizes.toSorted((a, b) => a.value - b.value);
  if (!first) return [];
  const second = rest.find((s) => Math.abs(Math.sin(heading(s) - heading(first))) > 0.5);
  return second ? [first, second] : [first];
}

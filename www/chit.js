// The slip of paper beside a thing: what it is, and what can be said of it. Each thing said becomes
// one hint in the job.

/** @import { Hint, Outcome } from "./pkg/trued_web.js" */
/** @import { Plate } from "./plate.js" */
/** @import { Thing } from "./things.js" */
/** @import { Unit } from "./units.js" */

import { button, fill, grab, make } from "./dom.js";
import { degrees, length, parse, small } from "./units.js";
import { hintWords, sizeWords, thingName } from "./talk.js";
import { angleAt, isRound, isSquare, pick, saidOf, sizeOf } from "./things.js";

/**
 * @typedef {object} Says
 * @property {(hint: Hint) => void} say
 * @property {(hint: Hint) => void} drop
 * @property {(thing: Thing) => void} rub
 * @property {(thing: Thing) => void} show
 * @property {() => void} closed
 */

export class Chit {
  /** @param {Plate} plate @param {Says} on */
  constructor(plate, on) {
    this.plate = plate;
    this.on = on;
    this.element = grab("chit", HTMLElement);
    /** @type {Thing | null} */
    this.thing = null;
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
    this.thing = thing;
    const parts = {
      edge: () => this.#edge(thing, outcome, unit),
      corner: () => this.#corner(thing, outcome, unit),
      loop: () => this.#loop(thing, outcome),
      mark: () => this.#mark(thing, unit),
    }[thing.kind]();
    const said = saidOf(hints, thing, Math.max(2, this.plate.reach)).map((hint) =>
      make("p", { class: "said" }, `You said ${hintWords(hint, unit)}. `, button("Drop it", () => this.on.drop(hint), { class: "quiet" })),
    );
    fill(this.element, [...parts, ...said, button("Close", () => this.close(), { class: "quiet shut", "data-key": "shut" })]);
    this.element.hidden = false;
    this.place();
    const first = this.element.querySelector("button, input");
    if (first instanceof HTMLElement) first.focus({ preventScroll: true });
  }

  close() {
    if (this.element.hidden) return;
    const inside = this.element.contains(document.activeElement);
    this.element.hidden = true;
    this.thing = null;
    if (inside) this.plate.element.focus({ preventScroll: true });
    this.on.closed();
  }

  /**
   * There is a new outline: what is being written stays where its thing is still there, else the slip closes.
   * @param {Outcome} outcome
   */
  follow(outcome) {
    const blank = this.element.querySelector("input");
    const again = this.thing && blank?.value ? pick(outcome, this.thing.at, this.plate.reach) : null;
    if (!blank || !again || again.kind !== this.thing?.kind) return this.close();
    const { value, selectionStart, selectionEnd } = blank;
    const inHand = document.activeElement === blank;
    this.on.show(again);
    const next = this.element.querySelector("input");
    if (!next) return;
    next.value = value;
    if (!inHand) return;
    next.focus({ preventScroll: true });
    next.setSelectionRange(selectionStart, selectionEnd);
  }

  /** Beside its thing, wherever there is room, and never over it. */
  place() {
    if (!this.thing || this.element.hidden) return;
    const [x, y] = this.plate.toScreen(this.thing.at);
    const { offsetWidth: w, offsetHeight: h } = this.element;
    const { width, height } = this.plate;
    const clamp = (/** @type {number} */ v, /** @type {number} */ most) => Math.max(8, Math.min(v, most - 8));
    let left = clamp(x - w / 2, width - w);
    let top = y + 24;
    if (top + h > height - 8) top = y - 24 - h;
    if (top < 8) {
      top = clamp(y - h / 2, height - h);
      left = x + 24 + w < width ? x + 24 : clamp(x - 24 - w, width - w);
    }
    this.element.style.transform = `translate(${Math.round(left)}px, ${Math.round(top)}px)`;
  }

  /** @param {Thing} thing @param {Outcome} outcome @param {Unit} unit */
  #edge(thing, outcome, unit) {
    const { loop, index, at } = thing;
    const edge = outcome.loops[loop].edges[index];
    const moved = outcome.report.moved[loop]?.[index];
    const arc = "arc" in edge;
    const round = isRound(edge);
    const size = sizeWords(sizeOf(outcome, thing), unit);
    return [
      make("h2", {}, round ? "Circle" : arc ? `${thingName(thing)}: arc` : `${thingName(thing)}: straight`),
      make("p", {}, [size, moved !== undefined && `moved ${small(moved, unit)} ${unit} from the hand's line`].filter(Boolean).join(" · ")),
      !round &&
        make(
          "div",
          { class: "row" },
          button("Straight", () => this.on.say({ at, edge: "straight" }), { "aria-pressed": String(!arc) }),
          button("Arc", () => this.on.say({ at, edge: "arc" }), { "aria-pressed": String(arc) }),
        ),
      this.#blank(/** @type {Record<string, string>} */ ({ radius: "Its radius is", diameter: "Its diameter is" })[sizeOf(outcome, thing)?.kind ?? ""] ?? "Over all it is", "Set", unit, (mm) => this.on.say({ at, size: mm })),
      make(
        "div",
        { class: "row" },
        button("The whole loop…", () => this.on.show({ kind: "loop", loop, index: 0, at })),
        button("Rub this line out", () => this.on.rub(thing)),
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
      make(
        "div",
        { class: "row" },
        button("Sharp", () => this.on.say({ at, corner: "sharp" })),
        button("Keep the traced angle", () => this.on.say({ at, corner: "keep" })),
      ),
      this.#blank("Rounded, radius", "Round it", unit, (mm) => this.on.say({ at, corner: { radius: mm } })),
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
      make("div", { class: "row" }, ...kinds.map(([words, kind]) => button(words, () => this.on.say({ at, loop: kind }), { "aria-pressed": String(loop.role === kind) }))),
    ];
  }

  /** @param {Thing} thing @param {Unit} unit */
  #mark(thing, unit) {
    const { at } = thing;
    return [
      make("h2", {}, thingName(thing)),
      make("p", {}, `at ${length(at[0], unit)}, ${length(at[1], unit)} ${unit}`),
      this.#blank("A hole of diameter", "Make it", unit, (mm) => this.on.say({ at, hole: mm })),
      make(
        "div",
        { class: "row" },
        button("Leave it where I touched", () => this.on.say({ at, loop: "alone" })),
        button("Rub the mark out", () => this.on.rub(thing)),
      ),
    ];
  }

  /**
   * A figure to fill in.
   * @param {string} label
   * @param {string} verb
   * @param {Unit} unit
   * @param {(mm: number) => void} done
   */
  #blank(label, verb, unit, done) {
    const input = make("input", { type: "text", inputmode: "decimal", size: 6, autocomplete: "off", "aria-label": `${label} (${unit})` });
    const wrong = make("span", { class: "wrong", role: "alert" });
    const set = () => {
      const mm = parse(input.value, unit);
      if (mm !== null && mm > 0) {
        // It is said: nothing is being written any more.
        input.value = "";
        done(mm);
      } else wrong.textContent = `Write a size over 0 in ${unit}, such as ${unit === "mm" ? "25" : "1 1/2"}.`;
    };
    input.addEventListener("keydown", (e) => {
      if (e.key === "Enter") set();
    });
    return make("div", { class: "blank" }, make("span", {}, label), input, make("span", {}, unit), button(verb, set), wrong);
  }
}

// Where the piece may stand: on what strip, hand and words leave free of the plate. The piece is never hidden
// by what is said of it: whenever the free part or the piece changes so that it no longer lies wholly within,
// the view is fitted anew. Whoever moved the view by hand keeps it, and is offered to see all; the thing that is
// being asked about is brought into view even then. While anything is pressed on the plate the view stands still.

/** @import { Edge, Place } from "./pkg/trued_web.js" */
/** @import { Plate } from "./plate.js" */
/** @import { Unit } from "./units.js" */

import { button, fill, grab } from "./dom.js";
import { all, along, extent } from "./things.js";

/** Room about the piece for the sizes beside its edges: so many pixels, or this share of what is free. */
const LABELS = { across: 104, up: 46, share: 0.14 };
/** Nearer to the rim than this the piece is not wholly visible, pixels. */
const RIM = 6;
/** Less of what is free than this, along either side, is a speck. */
const SPECK = 0.3;

/** @typedef {{ left: number, top: number, right: number, bottom: number }} Box */

export class Stage {
  /** @param {Plate} plate @param {() => Unit} unit */
  constructor(plate, unit) {
    this.plate = plate;
    this.unit = unit;
    /** Something is pressed on the plate. */
    this.held = false;
    this.parts = ["tag", "chit", "hand", "talk", "rule"].map((id) => grab(id, HTMLElement));
    const watch = new ResizeObserver(() => this.settle());
    for (const part of [...this.parts, plate.element]) watch.observe(part);
  }

  /** What strip, hand and words leave of the plate, pixels. @returns {Box} */
  free() {
    const { width, height } = this.plate;
    const [tag, chit, hand, talk] = this.parts.map((p) => (p.checkVisibility() ? p.getBoundingClientRect() : null));
    const box = { left: 0, top: 44, right: width, bottom: hand ? hand.top : height };
    const strip = chit ?? tag;
    if (strip && strip.width > 0) {
      if (strip.left > 0.3 * width) box.right = Math.min(box.right, strip.left);
      else box.bottom = Math.min(box.bottom, strip.top);
    }
    // Words come and go, and the view would jump with each: their usual room stays free.
    const said = talk && talk.height > 0 ? talk : null;
    const below = getComputedStyle(grab("words", HTMLElement)).justifyContent === "end";
    if (below) box.bottom = Math.min(box.bottom - 56, said?.top ?? Infinity);
    else box.top = Math.max(box.top + 44, said?.bottom ?? 0);
    return box;
  }

  /** The extent of all that stands on the plate, mm. */
  extent() {
    const { trace, outcome, plan } = this.plate;
    /** @type {Place[]} */
    const places = outcome?.marks.map((m) => m.at) ?? [];
    for (const s of trace.strokes) {
      const step = Math.max(2, 2 * Math.floor(s.points.length / 4000));
      for (let i = 0; i + 1 < s.points.length; i += step) places.push([s.points[i], s.points[i + 1]]);
    }
    const shown = plan?.plan;
    const chains = [...trace.drawn, ...(outcome?.loops.map((l) => l.edges) ?? []), ...(shown?.stock ?? []), ...(shown?.loops.map((l) => l.edges) ?? []), ...(shown?.cuts.map((c) => c.edges) ?? [])];
    return extent(/** @type {Edge[][]} */ (chains), places);
  }

  /** Where the piece lies on the screen, pixels. @returns {Box | null} */
  piece() {
    const e = this.extent();
    if (!e) return null;
    const [left, bottom] = this.plate.toScreen([e[0], e[1]]);
    const [right, top] = this.plate.toScreen([e[2], e[3]]);
    return { left, top, right, bottom };
  }

  /** Shows all. */
  fit() {
    const e = this.extent();
    if (!e) return;
    const free = this.free();
    const { width, height } = this.plate;
    const room = (/** @type {number} */ size, /** @type {number} */ most) => Math.max(RIM + 2, Math.min(most, LABELS.share * size));
    const [x, y] = [room(free.right - free.left, LABELS.across), room(free.bottom - free.top, LABELS.up)];
    this.plate.fit(e, { left: free.left + x, top: free.top + y, right: width - free.right + x, bottom: height - free.bottom + y });
  }

  /** Sees to it that the piece is visible, and no speck where there is room, now that another side is up. */
  turn() {
    const [piece, free] = [this.piece(), this.free()];
    if (piece === null || this.plate.moved) return;
    const share = Math.max((piece.right - piece.left) / (free.right - free.left), (piece.bottom - piece.top) / (free.bottom - free.top));
    if (share < SPECK) this.fit();
  }

  /** Sees to it that the piece is visible, now that something may have changed. */
  settle() {
    if (this.held) return;
    const piece = this.piece();
    const free = this.free();
    this.plate.keepLabels(free);
    const hidden = piece !== null && !within(piece, free);
    if (hidden && !this.plate.moved) this.fit();
    else this.#bring();
    this.#offer(hidden && this.plate.moved);
  }

  /** Moves the view just so far that what is asked about is seen. */
  #bring() {
    const { chosen } = this.plate;
    if (!chosen) return;
    const free = this.free();
    const [x, y] = this.plate.toScreen(chosen.at);
    const edge = 24;
    const dx = Math.max(free.left + edge - x, 0) || Math.min(free.right - edge - x, 0);
    const dy = Math.max(free.top + edge - y, 0) || Math.min(free.bottom - edge - y, 0);
    if (dx || dy) this.plate.pan(dx, dy);
  }

  /** @param {boolean} hidden */
  #offer(hidden) {
    const again = grab("again", HTMLElement);
    if (again.hidden !== !hidden) again.hidden = !hidden;
    if (hidden && !again.firstChild) {
      fill(again, [button("Show all", () => {
        this.fit();
        this.settle();
      }, { "data-key": "all" })]);
    }
  }

  /** Draws the string from the strip's eyelet to what it speaks of, and the rule. @param {boolean} tied */
  dress(tied) {
    const { plate } = this;
    const path = grab("string", SVGElement).firstElementChild;
    const strip = this.parts.slice(0, 2).reverse().find((p) => p.checkVisibility());
    path?.setAttribute("d", tied && strip && plate.outcome ? this.#string(strip) : "");
    const unit = this.unit();
    const per = unit === "mm" ? 1 : 25.4;
    const most = Math.min(200, plate.width * 0.3) / plate.view.scale / per;
    const power = 10 ** Math.floor(Math.log10(most));
    const span = [5, 2, 1].find((k) => k * power <= most) ?? 1;
    const [bar, label] = this.parts[4].children;
    /** @type {HTMLElement} */ (bar).style.width = `${span * power * per * plate.view.scale}px`;
    const words = `${Number((span * power).toPrecision(3))} ${unit}`;
    if (label.textContent !== words) label.textContent = words;
  }

  /** @param {HTMLElement} strip */
  #string(strip) {
    const { plate } = this;
    const { outcome, chosen } = plate;
    if (!outcome) return "";
    const box = strip.getBoundingClientRect();
    const [ex, ey] = [box.left + 27, box.top + 27];
    const edge = chosen?.kind === "edge" ? outcome.loops[chosen.loop]?.edges[chosen.index] : null;
    const places = edge ? [0, 0.25, 0.5, 0.75, 1].map((t) => along(edge, t)) : chosen ? [chosen.at] : (outcome.loops[0]?.edges.map((e) => along(e, 0)) ?? all(outcome).map((t) => t.at));
    const far = (/** @type {[number, number]} */ p) => Math.hypot(p[0] - ex, p[1] - ey);
    const [at] = places.map((p) => plate.toScreen(p)).sort((a, b) => far(a) - far(b));
    if (!at) return "";
    const [x, y] = at;
    return `M${x.toFixed(1)} ${y.toFixed(1)} Q${((x + ex) / 2).toFixed(1)} ${(Math.max(y, ey) + 30).toFixed(1)} ${ex.toFixed(1)} ${ey.toFixed(1)}`;
  }
}

/** @param {Box} a @param {Box} b */
function within(a, b) {
  return a.left >= b.left + RIM - 1 && a.top >= b.top + RIM - 1 && a.right <= b.right - RIM + 1 && a.bottom <= b.bottom - RIM + 1;
}

// Drawing the plate: the hand's line in soapstone, the outline scribed, the plan in kerfs.
//
// Three layers. The soapstone layer is one path, which the library thins to what the eye can tell apart;
// a line being drawn is only added to it: so a hundred thousand points cost little per frame. The
// scribed layer changes when the outline or the view does. The top layer holds what moves.

/** @import { Edge, Outcome, Place } from "./pkg/trued_web.js" */
/** @import { Trace } from "./job.js" */
/** @import { Thing } from "./things.js" */
/** @import { Unit } from "./units.js" */

import { HandLine, default as load } from "./pkg/trued_web.js";
import { isMark, pointCount } from "./job.js";
import { grab } from "./dom.js";
import { length, small } from "./units.js";
import { along, angleAt, edgeLength, ends, isRound, isSquare } from "./things.js";

/** @typedef {{ scale: number, x: number, y: number }} View pixels per mm; where (0, 0) lies, pixels */

/** So many points of a trace are drawn while the library is not there. */
const PLAIN = 4000;

export class Plate {
  constructor() {
    this.element = grab("plate", HTMLElement);
    this.layers = ["chalk", "scribe", "over"].map((id) => grab(id, HTMLCanvasElement));
    this.pens = this.layers.map((c) => /** @type {CanvasRenderingContext2D} */ (c.getContext("2d")));
    /** @type {View} */
    this.view = { scale: 2, x: 80, y: 500 };
    /** @type {Trace} */
    this.trace = { strokes: [], drawn: [] };
    /** @type {Outcome | null} */
    this.outcome = null;
    /** @type {import("./cut.js").Cutting | null} */
    this.plan = null;
    /** @type {Thing | null} */
    this.chosen = null;
    /** @type {Edge[] | null} another reading, looked at */
    this.other = null;
    /** @type {Unit} */
    this.unit = "mm";
    /** @type {() => void} */
    this.onframe = () => {};
    this.dirty = new Set(["chalk", "scribe", "over"]);
    this.frame = 0;
    this.width = 1;
    this.height = 1;
    this.ratio = 1;
    this.loaded = false;
    /** @type {{ trace: Trace, line: HandLine } | null} the trace's line as the library holds it */
    this.held = null;
    /** @type {number[]} the line being drawn */
    this.growing = [];
    this.colors = /** @type {Record<string, string>} */ ({});
    new ResizeObserver(() => this.resize()).observe(this.element);
    this.recolor();
    this.resize();
  }

  resize() {
    const { clientWidth: w, clientHeight: h } = this.element;
    this.ratio = Math.min(2, window.devicePixelRatio || 1);
    for (const canvas of this.layers) {
      canvas.width = Math.max(1, Math.round(w * this.ratio));
      canvas.height = Math.max(1, Math.round(h * this.ratio));
    }
    this.width = w;
    this.height = h;
    this.redraw();
  }

  /** Takes the colours of the light it stands in from the style sheet. */
  recolor() {
    const style = getComputedStyle(document.documentElement);
    for (const name of ["chalk", "scribe", "scribe-edge", "dye", "ink-on-plate", "halo", "torch", "choose", "kerf"]) {
      this.colors[name] = style.getPropertyValue(`--${name}`).trim();
    }
    this.texture = chalkTexture(this.colors.chalk);
    this.redraw();
  }

  /** @param {...string} what */
  redraw(...what) {
    for (const layer of what.length ? what : ["chalk", "scribe", "over"]) this.dirty.add(layer);
    if (!this.frame) this.frame = requestAnimationFrame(() => this.#draw());
  }

  /** How near to a thing a finger means it, mm. */
  get reach() {
    return 20 / this.view.scale;
  }

  /** @param {Place} p @returns {[number, number]} */
  toScreen(p) {
    return [this.view.x + p[0] * this.view.scale, this.view.y - p[1] * this.view.scale];
  }

  /** @param {number} x @param {number} y @returns {Place} */
  toPlate(x, y) {
    return [(x - this.view.x) / this.view.scale, (this.view.y - y) / this.view.scale];
  }

  /** @param {number} factor @param {number} x @param {number} y */
  zoom(factor, x, y) {
    const scale = Math.min(200, Math.max(0.005, this.view.scale * factor));
    const k = scale / this.view.scale;
    this.view = { scale, x: x + (this.view.x - x) * k, y: y + (this.view.y - y) * k };
    this.redraw();
  }

  /** @param {number} dx @param {number} dy */
  pan(dx, dy) {
    this.view = { ...this.view, x: this.view.x + dx, y: this.view.y + dy };
    this.redraw();
  }

  /**
   * Shows all of an extent inside the free part of the plate.
   * @param {[number, number, number, number]} e
   * @param {{ left: number, top: number, right: number, bottom: number }} margin pixels
   */
  fit(e, margin) {
    const w = Math.max(60, this.width - margin.left - margin.right);
    const h = Math.max(60, this.height - margin.top - margin.bottom);
    const scale = Math.min(60, w / Math.max(e[2] - e[0], 1), h / Math.max(e[3] - e[1], 1));
    this.view = {
      scale,
      x: margin.left + w / 2 - ((e[0] + e[2]) / 2) * scale,
      y: margin.top + h / 2 + ((e[1] + e[3]) / 2) * scale,
    };
    this.redraw();
  }

  /** Has the line drawn by the library from now on; where that fails, as before. @param {WebAssembly.Module} module */
  async load(module) {
    try {
      await load({ module_or_path: module });
      this.loaded = true;
      this.redraw("chalk");
    } catch (problem) {
      console.warn(problem);
    }
  }

  /** The line being drawn, of which all from a number on is new. @param {number[]} points @param {number} from */
  addLine(points, from) {
    this.growing = points;
    this.#chalkPen(this.pens[0]);
    this.#grow(this.pens[0], Math.max(0, from - 2));
  }

  /** The line being drawn has become a stroke, or none. */
  endLine() {
    this.growing = [];
    this.redraw("chalk");
  }

  /** @param {CanvasRenderingContext2D} pen @param {number} from */
  #grow(pen, from) {
    const path = new Path2D();
    this.#along(path, this.growing, from, 2);
    pen.stroke(path);
  }

  #draw() {
    this.frame = 0;
    if (this.dirty.delete("chalk")) this.#drawChalk();
    if (this.dirty.delete("scribe")) this.#drawScribe();
    if (this.dirty.delete("over")) this.#drawOver();
    this.onframe();
  }

  #drawChalk() {
    const pen = this.#clean(0);
    this.#chalkPen(pen);
    pen.stroke(this.#handLine());
    if (this.growing.length) this.#grow(pen, 0);
    for (const stroke of this.trace.strokes) if (isMark(stroke)) this.#chalkMark(pen, stroke.points);
  }

  /** All strokes of the trace as one path; marks are none. */
  #handLine() {
    const { scale, x, y } = this.view;
    try {
      if (this.loaded) return this.#hold().path(scale, x, y, this.width, this.height);
    } catch (problem) {
      // Out of memory, as an enormous trace may leave it: from now on without the library.
      this.loaded = false;
      console.warn(problem);
    }
    return this.#plainLine();
  }

  #hold() {
    if (this.held?.trace === this.trace) return this.held.line;
    this.held?.line.free();
    this.held = null;
    const line = new HandLine();
    for (const stroke of this.trace.strokes) if (!isMark(stroke)) line.add(stroke.points);
    this.held = { trace: this.trace, line };
    return line;
  }

  /** The same without the library; of a long trace only some points. */
  #plainLine() {
    const path = new Path2D();
    const step = 2 * Math.ceil(pointCount(this.trace) / PLAIN);
    for (const stroke of this.trace.strokes) if (!isMark(stroke)) this.#along(path, stroke.points, 0, step);
    return path;
  }

  /** Adds a line's points from one on. @param {Path2D} path @param {Float64Array | number[]} p @param {number} from @param {number} step */
  #along(path, p, from, step) {
    path.moveTo(...this.toScreen([p[from], p[from + 1]]));
    for (let i = from + step; i < p.length; i += step) path.lineTo(...this.toScreen([p[i], p[i + 1]]));
  }

  /** @param {CanvasRenderingContext2D} pen */
  #chalkPen(pen) {
    pen.lineWidth = 4.5;
    pen.strokeStyle = (this.texture && pen.createPattern(this.texture, "repeat")) || this.colors.chalk;
  }

  /** @param {CanvasRenderingContext2D} pen @param {Float64Array} p */
  #chalkMark(pen, p) {
    const [x, y] = this.toScreen([p[0], p[1]]);
    pen.beginPath();
    pen.moveTo(x - 8, y - 8);
    pen.lineTo(x + 8, y + 8);
    pen.moveTo(x - 8, y + 8);
    pen.lineTo(x + 8, y - 8);
    pen.stroke();
  }

  /** @param {number} layer */
  #clean(layer) {
    const pen = this.pens[layer];
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.clearRect(0, 0, this.layers[layer].width, this.layers[layer].height);
    pen.setTransform(this.ratio, 0, 0, this.ratio, 0, 0);
    pen.setLineDash([]);
    pen.lineCap = pen.lineJoin = "round";
    return pen;
  }

  /** Adds edges to the current path. @param {CanvasRenderingContext2D} pen @param {Edge[]} edges */
  course(pen, edges) {
    edges.forEach((edge, i) => {
      const [x, y] = this.toScreen(ends(edge).from);
      if (i === 0) pen.moveTo(x, y);
      if ("line" in edge) {
        pen.lineTo(...this.toScreen(edge.line.to));
      } else {
        const { from, center, radius, sweep } = edge.arc;
        const start = -Math.atan2(from[1] - center[1], from[0] - center[0]);
        pen.arc(...this.toScreen(center), radius * this.view.scale, start, start - sweep, sweep > 0);
      }
    });
  }

  #drawScribe() {
    const pen = this.#clean(1);
    const { outcome } = this;
    const closed = (this.plan?.plan.loops ?? outcome?.loops ?? []).filter((l) => l.closed);
    pen.beginPath();
    for (const loop of closed) this.course(pen, loop.edges);
    pen.fillStyle = this.colors.dye;
    pen.fill("evenodd");
    if (this.plan) {
      this.plan.paint(pen, this);
      return;
    }
    if (!outcome) return;
    this.#scribed(pen, outcome.loops.map((l) => l.edges));
    for (const mark of outcome.marks) this.#punch(pen, mark.at);
    this.#squares(pen, outcome);
    this.#sizes(pen, outcome);
  }

  /** A scratch: bright, with the burr's shadow beside it. @param {CanvasRenderingContext2D} pen @param {Edge[][]} chains */
  #scribed(pen, chains) {
    for (const [color, width, shift] of /** @type {[string, number, number][]} */ ([
      [this.colors["scribe-edge"], 2.6, 0.9],
      [this.colors.scribe, 1.7, 0],
    ])) {
      pen.save();
      pen.translate(shift, shift);
      pen.strokeStyle = color;
      pen.lineWidth = width;
      pen.beginPath();
      for (const chain of chains) this.course(pen, chain);
      pen.stroke();
      pen.restore();
    }
  }

  /** A centre punch's dimple. @param {CanvasRenderingContext2D} pen @param {Place} at */
  #punch(pen, at) {
    const [x, y] = this.toScreen(at);
    pen.fillStyle = this.colors["scribe-edge"];
    pen.beginPath();
    pen.arc(x, y, 5, 0, 7);
    pen.fill();
    pen.strokeStyle = this.colors.scribe;
    pen.lineWidth = 1.7;
    pen.beginPath();
    pen.arc(x, y, 5, 0, 7);
    pen.stroke();
    pen.fillStyle = this.colors.scribe;
    pen.beginPath();
    pen.arc(x, y, 1.6, 0, 7);
    pen.fill();
  }

  /** The little square in every squared corner. @param {CanvasRenderingContext2D} pen @param {Outcome} outcome */
  #squares(pen, outcome) {
    pen.strokeStyle = this.colors.scribe;
    pen.lineWidth = 1.2;
    outcome.loops.forEach((loop, l) => {
      const n = loop.edges.length;
      loop.edges.forEach((edge, i) => {
        if ((!loop.closed && i === 0) || n < 2) return;
        const before = loop.edges[(i + n - 1) % n];
        if (!("line" in edge) || !("line" in before)) return;
        const thing = /** @type {Thing} */ ({ kind: "corner", loop: l, index: i, at: edge.line.from });
        if (!isSquare(angleAt(outcome, thing))) return;
        const [x, y] = this.toScreen(edge.line.from);
        const leg = (/** @type {Place} */ to) => {
          const [tx, ty] = this.toScreen(to);
          const d = Math.hypot(tx - x, ty - y) || 1;
          const r = Math.min(11, d / 3);
          return [((tx - x) / d) * r, ((ty - y) / d) * r];
        };
        const [ax, ay] = leg(edge.line.to);
        const [bx, by] = leg(before.line.from);
        pen.beginPath();
        pen.moveTo(x + ax, y + ay);
        pen.lineTo(x + ax + bx, y + ay + by);
        pen.lineTo(x + bx, y + by);
        pen.stroke();
      });
    });
  }

  /** Sizes beside their edges, the longest first; one that has no room waits for a closer look. @param {CanvasRenderingContext2D} pen @param {Outcome} outcome */
  #sizes(pen, outcome) {
    /** @type {[number, number, number, number][]} */
    const taken = [];
    const list = outcome.report.sizes
      .filter((s) => (s.kind === "length" || s.kind === "radius" || s.kind === "diameter") && s.edges.length >= 1)
      .map((s) => ({ s, edge: outcome.loops[s.loop]?.edges[s.edges[0]] }))
      .filter(({ edge }) => edge)
      .sort((a, b) => edgeLength(b.edge) - edgeLength(a.edge));
    for (const { s, edge } of list) {
      const round = s.kind === "radius" ? "R " : s.kind === "diameter" ? "⌀ " : "";
      const words = [`${round}${length(s.value, this.unit)}${s.fixed || !s.plus_minus ? "" : ` ±${small(s.plus_minus, this.unit)}`}`];
      const moved = outcome.report.moved[s.loop]?.[s.edges[0]];
      if (moved !== undefined && edgeLength(edge) * this.view.scale > 130) words.push(`moved ${small(moved, this.unit)}`);
      this.#label(pen, words, edge, outcome.loops[s.loop].edges, taken);
    }
  }

  /**
   * @param {CanvasRenderingContext2D} pen
   * @param {string[]} words
   * @param {Edge} edge
   * @param {Edge[]} loop
   * @param {[number, number, number, number][]} taken
   */
  #label(pen, words, edge, loop, taken) {
    const [x, y] = this.toScreen(along(edge, isRound(edge) ? 0.125 : 0.5));
    const [a, b] = [this.toScreen(along(edge, 0.49)), this.toScreen(along(edge, 0.51))];
    const d = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
    const middle = loop.map((e) => this.toScreen(along(e, 0.5)));
    const cx = middle.reduce((sum, p) => sum + p[0], 0) / middle.length;
    const cy = middle.reduce((sum, p) => sum + p[1], 0) / middle.length;
    let [nx, ny] = isRound(edge) ? [0.707, -0.707] : [-(b[1] - a[1]) / d, (b[0] - a[0]) / d];
    if (!isRound(edge) && nx * (x - cx) + ny * (y - cy) < 0) [nx, ny] = [-nx, -ny];
    pen.font = LABEL;
    const w = Math.max(pen.measureText(words[0]).width, words[1] ? 60 : 0) + 8;
    const h = 18 * words.length + 4;
    const off = 10 + (Math.abs(nx) * w + Math.abs(ny) * h) / 2;
    // A label belongs on the part of the plate that is seen, if its edge is.
    const seen = x > 0 && x < this.width && y > 0 && y < this.height;
    const within = (/** @type {number} */ v, /** @type {number} */ half, /** @type {number} */ most) => (seen ? Math.max(half + 3, Math.min(v, most - half - 3)) : v);
    const [px, py] = [within(x + nx * off, w / 2, this.width), within(y + ny * off, h / 2, this.height)];
    /** @type {[number, number, number, number]} */
    const box = [px - w / 2, py - h / 2, px + w / 2, py + h / 2];
    if (taken.some((t) => box[0] < t[2] && t[0] < box[2] && box[1] < t[3] && t[1] < box[3])) return;
    taken.push(box);
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    words.forEach((line, i) => {
      pen.font = i ? SMALL : LABEL;
      const ly = py + (i - (words.length - 1) / 2) * 17;
      pen.lineWidth = 4;
      pen.strokeStyle = this.colors.halo;
      pen.strokeText(line, px, ly);
      pen.fillStyle = this.colors["ink-on-plate"];
      pen.fillText(line, px, ly);
    });
  }

  #drawOver() {
    const pen = this.#clean(2);
    const { outcome, chosen } = this;
    if (this.other) {
      pen.strokeStyle = this.colors.choose;
      pen.lineWidth = 3;
      pen.setLineDash([2, 7]);
      pen.beginPath();
      this.course(pen, this.other);
      pen.stroke();
      pen.setLineDash([]);
    }
    if (outcome && chosen) this.#choose(pen, outcome, chosen);
    this.plan?.over(pen, this);
  }

  /** @param {CanvasRenderingContext2D} pen @param {Outcome} outcome @param {Thing} chosen */
  #choose(pen, outcome, chosen) {
    pen.strokeStyle = this.colors.choose;
    pen.beginPath();
    if (chosen.kind === "edge" || chosen.kind === "loop") {
      const loop = outcome.loops[chosen.loop];
      if (!loop) return;
      pen.lineWidth = 5;
      this.course(pen, chosen.kind === "loop" ? loop.edges : loop.edges.slice(chosen.index, chosen.index + 1));
    } else {
      pen.lineWidth = 3;
      pen.arc(...this.toScreen(chosen.at), 13, 0, 7);
    }
    pen.stroke();
  }
}

const FACE = '"Bahnschrift", "DIN Alternate", "Roboto Condensed", "Arial Narrow", "DejaVu Sans Condensed", sans-serif';
export const LABEL = `600 15px ${FACE}`;
export const SMALL = `13px ${FACE}`;

/** Soapstone leaves more in the valleys of the steel than on its ridges. @param {string} color */
function chalkTexture(color) {
  const tile = document.createElement("canvas");
  tile.width = tile.height = 64;
  const pen = tile.getContext("2d");
  if (!pen) return null;
  pen.fillStyle = color;
  let seed = 7;
  for (let y = 0; y < 64; y += 1) {
    for (let x = 0; x < 64; x += 1) {
      seed = (seed * 1103515245 + 12345) % 2147483648;
      pen.globalAlpha = 0.3 + 0.55 * (seed / 2147483648);
      pen.fillRect(x, y, 1, 1);
    }
  }
  return tile;
}

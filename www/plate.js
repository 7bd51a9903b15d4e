// Drawing the plate: the hand's line in soapstone, the outline scribed, the plan in kerfs.
//
// Four layers. The dye, at the bottom, shows what is metal and what is not. The soapstone layer is one path, which
// the library thins to what the eye can tell apart; a line being drawn is only added to it: so a hundred thousand
// points cost little per frame. The scribed layer changes when the outline or the view does, and is taken away while
// hand and outline are compared. The top layer holds what moves.

/** @import { Edge, Outcome, Place } from "./pkg/trued_web.js" */
/** @import { Trace } from "./job.js" */
/** @import { Thing } from "./things.js" */
/** @import { Unit } from "./units.js" */

import { HandLine, default as load } from "./pkg/trued_web.js";
import { isMark, pointCount } from "./job.js";
import { grab } from "./dom.js";
import { LABEL, sizes, squares, texture } from "./scribing.js";
import { ends } from "./things.js";

/** @typedef {{ scale: number, x: number, y: number }} View pixels per mm; where (0, 0) lies, pixels */

/** So many points of a trace are drawn while the library is not there. */
const PLAIN = 4000;

export class Plate {
  constructor() {
    this.element = grab("plate", HTMLElement);
    this.layers = ["chalk", "scribe", "over", "dye"].map((id) => grab(id, HTMLCanvasElement));
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
    /** Only the hand's line is shown, to compare. */
    this.handOnly = false;
    /** The person moved the view: it is not fitted behind their back. */
    this.moved = false;
    /** An edge that is spoken of beside what is chosen. @type {Edge | null} */
    this.also = null;
    /** Places of doubts, numbered. @type {{ at: Place, number: number }[]} */
    this.doubts = [];
    /** A picture that lies under this trace: straight from above, the middle of its upper left pixel at a place.
     * @type {{ picture: ImageBitmap, step: number, from: Place, stroke: import("./job.js").Stroke } | null} */
    this.under = null;
    this.labelBox = { left: 0, top: 0, right: Infinity, bottom: Infinity };
    /** Where sizes are written, and of what. @type {{ box: [number, number, number, number], thing: Thing }[]} */
    this.labels = [];
    this.frame = 0;
    this.width = 1;
    this.height = 1;
    this.ratio = 1;
    this.loaded = false;
    /** @type {{ trace: Trace, line: HandLine } | null} the trace's line as the library holds it */
    this.held = null;
    /** @type {number[]} the line being drawn */
    this.growing = [];
    /** @type {number[]} where the rag went so far */
    this.rub = [];
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
    this.texture = texture(this.colors.chalk);
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
    this.moved = true;
    const scale = Math.min(200, Math.max(0.005, this.view.scale * factor));
    const k = scale / this.view.scale;
    this.view = { scale, x: x + (this.view.x - x) * k, y: y + (this.view.y - y) * k };
    this.redraw();
  }

  /** @param {number} dx @param {number} dy */
  pan(dx, dy) {
    this.moved = true;
    this.view = { ...this.view, x: this.view.x + dx, y: this.view.y + dy };
    this.redraw();
  }

  /**
   * Shows all of an extent inside the free part of the plate.
   * @param {[number, number, number, number]} e
   * @param {{ left: number, top: number, right: number, bottom: number }} margin pixels
   */
  fit(e, margin) {
    this.moved = false;
    const w = Math.max(40, this.width - margin.left - margin.right);
    const h = Math.max(40, this.height - margin.top - margin.bottom);
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

  /** Where the rag goes. @param {number[]} points */
  addRub(points) {
    this.rub = points;
    this.redraw("over");
  }

  /** The line being drawn has become a stroke, or none. */
  endLine() {
    if (this.rub.length) this.redraw("over");
    this.rub = [];
    this.growing = [];
    this.redraw("chalk");
  }

  /** How wide the rag is to each side, mm. */
  get rag() {
    return 11 / this.view.scale;
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
    pen.strokeStyle = (!this.handOnly && this.texture && pen.createPattern(this.texture, "repeat")) || this.colors.chalk;
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
    this.labels = [];
    this.#dye();
    if (this.handOnly) return;
    if (this.plan) {
      this.plan.paint(pen, this);
      return;
    }
    if (!outcome) return;
    this.#scribed(pen, outcome.loops.map((l) => l.edges));
    for (const mark of outcome.marks) this.#punch(pen, mark.at);
    squares(pen, this, outcome);
    this.labels = sizes(pen, this, outcome);
  }

  /** What stays metal. */
  #dye() {
    const pen = this.#clean(3);
    const { under } = this;
    if (under && this.trace.strokes.includes(under.stroke)) {
      const k = under.step * this.view.scale;
      const [x, y] = this.toScreen([under.from[0] - under.step / 2, under.from[1] + under.step / 2]);
      pen.globalAlpha = this.handOnly ? 1 : 0.5;
      pen.drawImage(under.picture, x, y, under.picture.width * k, under.picture.height * k);
      pen.globalAlpha = 1;
    }
    if (this.handOnly) return;
    const closed = (this.plan?.plan.loops ?? this.outcome?.loops ?? []).filter((l) => l.closed);
    pen.beginPath();
    for (const loop of closed) this.course(pen, loop.edges);
    pen.fillStyle = this.colors.dye;
    pen.fill("evenodd");
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

  /** Labels are written within this box of the screen. @param {{ left: number, top: number, right: number, bottom: number }} box */
  keepLabels(box) {
    const was = this.labelBox;
    if (was.left === box.left && was.top === box.top && was.right === box.right && was.bottom === box.bottom) return;
    this.labelBox = box;
    this.redraw("scribe");
  }

  /** The thing whose size is written at a place of the screen. @param {Place} at mm */
  labelAt(at) {
    const [x, y] = this.toScreen(at);
    return this.labels.find(({ box }) => x > box[0] - 4 && x < box[2] + 4 && y > box[1] - 6 && y < box[3] + 6)?.thing ?? null;
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
    if (this.also && chosen) {
      pen.strokeStyle = this.colors.choose;
      pen.lineWidth = 5;
      pen.setLineDash([10, 8]);
      pen.beginPath();
      this.course(pen, [this.also]);
      pen.stroke();
      pen.setLineDash([]);
    }
    if (this.rub.length) {
      pen.strokeStyle = this.colors.choose;
      pen.globalAlpha = 0.45;
      pen.lineWidth = 22;
      const path = new Path2D();
      this.#along(path, this.rub, 0, 2);
      pen.stroke(path);
      pen.globalAlpha = 1;
    }
    for (const { at, number } of this.doubts) this.#doubt(pen, at, String(number));
    this.plan?.over(pen, this);
  }

  /** A place to look at: a ring of dashes with its number. @param {CanvasRenderingContext2D} pen @param {Place} at @param {string} number */
  #doubt(pen, at, number) {
    const [x, y] = this.toScreen(at);
    pen.strokeStyle = pen.fillStyle = this.colors.choose;
    pen.lineWidth = 3;
    pen.setLineDash([7, 5]);
    pen.beginPath();
    pen.arc(x, y, 19, 0, 7);
    pen.stroke();
    pen.setLineDash([]);
    pen.font = LABEL;
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.lineWidth = 4;
    pen.strokeStyle = this.colors.halo;
    pen.strokeText(`${number}?`, x + 28, y - 18);
    pen.fillText(`${number}?`, x + 28, y - 18);
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

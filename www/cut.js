// The plan on the plate, and the torch that runs along it.
// Told apart by weight and dash: the kerf is a broad band, travel a thin dashed line, a pierce a punch
// mark with the number of its cut.

/** @import { Edge, Place, PlanView } from "./pkg/trued_web.js" */
/** @import { Plate } from "./plate.js" */

import { LABEL } from "./scribing.js";
import { along, edgeLength } from "./things.js";

export class Cutting {
  /** @param {PlanView} plan */
  constructor(plan) {
    this.plan = plan;
    /** Seconds into the plan; null while the torch is put away. @type {number | null} */
    this.at = null;
    this.running = false;
    /** How long each cut burns, and how long the way to it is shown for, s. */
    this.spans = plan.cuts.map((cut, i) => {
      const from = i > 0 ? endOf(plan.cuts[i - 1]) : cut.pierce;
      const way = Math.hypot(cut.pierce[0] - from[0], cut.pierce[1] - from[1]);
      return { burn: cut.pierce_seconds + (60 * cut.length) / cut.feed, travel: (60 * way) / (4 * cut.feed) };
    });
    this.total = this.spans.reduce((sum, s) => sum + s.burn + s.travel, 0);
  }

  /** @param {CanvasRenderingContext2D} pen @param {Plate} plate */
  paint(pen, plate) {
    const { plan } = this;
    const { colors, view } = plate;
    if (plan.stock.length) {
      pen.strokeStyle = colors["ink-on-plate"];
      pen.lineWidth = 2;
      pen.setLineDash([14, 5]);
      for (const border of plan.stock) {
        pen.beginPath();
        plate.course(pen, border);
        pen.stroke();
      }
    }
    pen.setLineDash([3, 6]);
    pen.lineWidth = 1.4;
    pen.strokeStyle = colors["ink-on-plate"];
    pen.beginPath();
    plan.cuts.forEach((cut, i) => {
      const from = i > 0 ? endOf(plan.cuts[i - 1]) : null;
      if (!from) return;
      pen.moveTo(...plate.toScreen(from));
      pen.lineTo(...plate.toScreen(cut.pierce));
    });
    pen.stroke();
    pen.setLineDash([]);
    for (const [color, width] of /** @type {[string, number][]} */ ([
      [colors.kerf, Math.max(5, plan.kerf * view.scale)],
      [colors.scribe, 1.3],
    ])) {
      pen.strokeStyle = color;
      pen.lineWidth = width;
      pen.beginPath();
      for (const cut of plan.cuts) plate.course(pen, cut.edges);
      pen.stroke();
    }
    plan.cuts.forEach((cut, i) => this.#pierce(pen, plate, cut.pierce, String(i + 1)));
  }

  /** @param {CanvasRenderingContext2D} pen @param {Plate} plate @param {Place} at @param {string} order */
  #pierce(pen, plate, at, order) {
    const [x, y] = plate.toScreen(at);
    pen.fillStyle = plate.colors["ink-on-plate"];
    pen.beginPath();
    pen.moveTo(x, y - 5);
    pen.lineTo(x + 5, y + 4);
    pen.lineTo(x - 5, y + 4);
    pen.fill();
    pen.font = LABEL;
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.lineWidth = 4;
    pen.strokeStyle = plate.colors.halo;
    pen.strokeText(order, x + 14, y - 8);
    pen.fillText(order, x + 14, y - 8);
  }

  /** @param {CanvasRenderingContext2D} pen @param {Plate} plate */
  over(pen, plate) {
    if (this.at === null) return;
    const { place, lit } = this.where(this.at);
    const [x, y] = plate.toScreen(place);
    pen.strokeStyle = plate.colors.torch;
    pen.fillStyle = plate.colors.torch;
    pen.lineWidth = 3;
    pen.beginPath();
    pen.arc(x, y, 12, 0, 7);
    pen.stroke();
    if (!lit) return;
    pen.beginPath();
    pen.arc(x, y, 6, 0, 7);
    pen.fill();
  }

  /** Where the torch is after so many seconds. @param {number} seconds @returns {{ place: Place, lit: boolean, cut: number }} */
  where(seconds) {
    let left = seconds;
    /** @type {Place | null} */
    let from = null;
    for (const [i, cut] of this.plan.cuts.entries()) {
      const { burn, travel } = this.spans[i];
      if (left < travel) {
        const t = left / travel;
        const a = from ?? cut.pierce;
        return { place: [a[0] + t * (cut.pierce[0] - a[0]), a[1] + t * (cut.pierce[1] - a[1])], lit: false, cut: i };
      }
      left -= travel;
      if (left < burn) return { place: on(cut, left, burn), lit: true, cut: i };
      left -= burn;
      from = endOf(cut);
    }
    return { place: from ?? [0, 0], lit: false, cut: this.plan.cuts.length - 1 };
  }
}

/** @param {PlanView["cuts"][number]} cut @returns {Place} */
function endOf(cut) {
  const last = cut.edges.at(-1);
  return last ? along(last, 1) : cut.pierce;
}

/** @param {PlanView["cuts"][number]} cut @param {number} seconds @param {number} burn @returns {Place} */
function on(cut, seconds, burn) {
  const moving = burn - cut.pierce_seconds;
  const whole = cut.edges.reduce((sum, e) => sum + edgeLength(e), 0);
  let left = moving > 0 ? (Math.max(0, seconds - cut.pierce_seconds) / moving) * whole : 0;
  for (const edge of cut.edges) {
    const l = edgeLength(edge);
    if (left <= l) return along(edge, l > 0 ? left / l : 0);
    left -= l;
  }
  return endOf(cut);
}

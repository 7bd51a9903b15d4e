// What is scribed beside the outline: little squares in square corners, sizes, and the soapstone's grain.

/** @import { Edge, Outcome, Place } from "./pkg/trued_web.js" */
/** @import { Plate } from "./plate.js" */
/** @import { Thing } from "./things.js" */

import { along, angleAt, edgeLength, isRound, isSquare } from "./things.js";
import { measured } from "./units.js";

const FACE = '"Bahnschrift", "DIN Alternate", "Roboto Condensed", "Arial Narrow", "DejaVu Sans Condensed", sans-serif';
export const LABEL = `600 15px ${FACE}`;

/**
 * The little square in every squared corner.
 * @param {CanvasRenderingContext2D} pen
 * @param {Plate} plate
 * @param {Outcome} outcome
 */
export function squares(pen, plate, outcome) {
  pen.strokeStyle = plate.colors.scribe;
  pen.lineWidth = 1.2;
  outcome.loops.forEach((loop, l) => {
    const n = loop.edges.length;
    loop.edges.forEach((edge, i) => {
      if ((!loop.closed && i === 0) || n < 2) return;
      const before = loop.edges[(i + n - 1) % n];
      if (!("line" in edge) || !("line" in before)) return;
      const thing = /** @type {Thing} */ ({ kind: "corner", loop: l, index: i, at: edge.line.from });
      if (!isSquare(angleAt(outcome, thing))) return;
      const [x, y] = plate.toScreen(edge.line.from);
      const leg = (/** @type {Place} */ to) => {
        const [tx, ty] = plate.toScreen(to);
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

/**
 * Sizes beside their edges, the longest first; one that has no room waits for a closer look.
 * @param {CanvasRenderingContext2D} pen
 * @param {Plate} plate
 * @param {Outcome} outcome
 * @returns {Plate["labels"]} where each is written
 */
export function sizes(pen, plate, outcome) {
  /** @type {Plate["labels"]} */
  const labels = [];
  /** @type {[number, number, number, number][]} */
  const taken = [];
  const list = outcome.report.sizes
    .filter((s) => (s.kind === "length" || s.kind === "radius" || s.kind === "diameter") && s.edges.length >= 1)
    .map((s) => ({ s, edge: outcome.loops[s.loop]?.edges[s.edges[0]] }))
    .filter(({ edge }) => edge)
    .sort((a, b) => edgeLength(b.edge) - edgeLength(a.edge));
  for (const { s, edge } of list) {
    const round = s.kind === "radius" ? "R " : s.kind === "diameter" ? "⌀ " : "";
    const words = `${round}${measured(s.value, s.fixed ? 0 : s.plus_minus, plate.unit)}`;
    const box = label(pen, plate, words, edge, outcome.loops[s.loop].edges, taken);
    if (box) labels.push({ box, thing: { kind: "edge", loop: s.loop, index: s.edges[0], at: along(edge, 0.5) } });
  }
  return labels;
}

/**
 * @param {CanvasRenderingContext2D} pen
 * @param {Plate} plate
 * @param {string} words
 * @param {Edge} edge
 * @param {Edge[]} loop
 * @param {[number, number, number, number][]} taken
 * @returns {[number, number, number, number] | null}
 */
function label(pen, plate, words, edge, loop, taken) {
  const [x, y] = plate.toScreen(along(edge, isRound(edge) ? 0.125 : 0.5));
  const [a, b] = [plate.toScreen(along(edge, 0.49)), plate.toScreen(along(edge, 0.51))];
  const d = Math.hypot(b[0] - a[0], b[1] - a[1]) || 1;
  const middle = loop.map((e) => plate.toScreen(along(e, 0.5)));
  const cx = middle.reduce((sum, p) => sum + p[0], 0) / middle.length;
  const cy = middle.reduce((sum, p) => sum + p[1], 0) / middle.length;
  let [nx, ny] = isRound(edge) ? [0.707, -0.707] : [-(b[1] - a[1]) / d, (b[0] - a[0]) / d];
  if (!isRound(edge) && nx * (x - cx) + ny * (y - cy) < 0) [nx, ny] = [-nx, -ny];
  pen.font = LABEL;
  const w = pen.measureText(words).width + 8;
  const h = 22;
  const off = 10 + (Math.abs(nx) * w + Math.abs(ny) * h) / 2;
  // A label belongs on the part of the plate that is seen, if its edge is.
  const { left, top, right, bottom } = plate.labelBox;
  const seen = x > left && x < right && y > top && y < bottom;
  const within = (/** @type {number} */ v, /** @type {number} */ half, /** @type {number} */ least, /** @type {number} */ most) => (seen ? Math.max(least + half + 3, Math.min(v, most - half - 3)) : v);
  const beside = (/** @type {number} */ side) => [within(x + side * nx * off, w / 2, left, right), within(y + side * ny * off, h / 2, top, bottom)];
  // Where there is no room outside it is written inside, rather than across its edge.
  const outside = beside(1);
  const across = Math.abs(outside[0] - x) < w / 2 && Math.abs(outside[1] - y) < h / 2;
  const [px, py] = across ? beside(-1) : outside;
  /** @type {[number, number, number, number]} */
  const box = [px - w / 2, py - h / 2, px + w / 2, py + h / 2];
  if (taken.some((t) => box[0] < t[2] && t[0] < box[2] && box[1] < t[3] && t[1] < box[3])) return null;
  taken.push(box);
  pen.textAlign = "center";
  pen.textBaseline = "middle";
  pen.lineWidth = 4;
  pen.strokeStyle = plate.colors.halo;
  pen.strokeText(words, px, py);
  pen.fillStyle = plate.colors["ink-on-plate"];
  pen.fillText(words, px, py);
  return box;
}

/** Soapstone leaves more in the valleys of the steel than on its ridges. @param {string} color */
export function texture(color) {
  const tile = document.createElement("canvas");
  tile.width = tile.height = 64;
  const pen = tile.getContext("2d");
  if (!pen) return null;
  pen.fillStyle = color;
  let seed = 7;
  for (let y = 0; y < 64; y += 1) {
    for (let x = 0; x < 64; x += 1) {
      seed = (seed * 1103515245 + 12345) % 2147483648;
      pen.globalAlpha = 0.6 + 0.38 * (seed / 2147483648);
      pen.fillRect(x, y, 1, 1);
    }
  }
  return tile;
}

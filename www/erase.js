// The rag: takes of the trace what it goes over, and nothing else.
//
// A stroke is cut where it enters and leaves the path of the rag, between its points if need be: the places are
// put in, so that a long straight run of few points loses the stretch and not the whole. Exact edges of a
// drawing are lines and arcs that cannot lose a stretch and stay what they were: the edges that are touched go.

/** @import { Edge, Place } from "./pkg/trued_web.js" */
/** @import { Stroke, Trace } from "./job.js" */

import { isMark } from "./job.js";
import { along, distance } from "./things.js";

/** Steps along a piece of a stroke are no longer than this share of the rag's reach. */
const STEP = 0.25;
/** What is left of a stroke and is shorter than this share of the reach is dust. */
const DUST = 0.5;
/** Most pairs of piece and rag that are looked at one by one; beyond, only the stroke's own points are. */
const MOST = 4e6;

/**
 * The trace without what lies within reach of the rag's path; the same trace where nothing does.
 * @param {Trace} trace
 * @param {number[]} path x, y by turns, mm
 * @param {number} reach mm
 * @returns {Trace}
 */
export function rubbed(trace, path, reach) {
  const rag = thinned(path, reach * STEP);
  const touched = (/** @type {number} */ x, /** @type {number} */ y) => {
    for (let i = 0; i < rag.length; i += 2) {
      const [dx, dy] = [rag[i] - x, rag[i + 1] - y];
      if (dx * dx + dy * dy <= reach * reach) return true;
    }
    return false;
  };
  const strokes = trace.strokes.flatMap((s) => rest(s, touched, reach, rag.length));
  const drawn = trace.drawn.flatMap((loop) => restOfLoop(loop, rag, reach));
  const same = strokes.length === trace.strokes.length && strokes.every((s, i) => s === trace.strokes[i]) && drawn.length === trace.drawn.length && drawn.every((l, i) => l === trace.drawn[i]);
  return same ? trace : { ...trace, strokes, drawn };
}

/** @param {number[]} path @param {number} step */
function thinned(path, step) {
  const out = path.slice(0, 2);
  for (let i = 2; i < path.length; i += 2) {
    const [x, y] = out.slice(-2);
    const far = Math.hypot(path[i] - x, path[i + 1] - y);
    if (far < step && i + 2 < path.length) continue;
    const n = Math.max(1, Math.ceil(far / (2 * step)));
    for (let k = 1; k <= n; k += 1) out.push(x + ((path[i] - x) * k) / n, y + ((path[i + 1] - y) * k) / n);
  }
  return out;
}

/**
 * @param {Stroke} stroke
 * @param {(x: number, y: number) => boolean} touched
 * @param {number} reach
 * @param {number} rag how many figures its path has
 * @returns {Stroke[]}
 */
function rest(stroke, touched, reach, rag) {
  const { points: p, times } = stroke;
  if (isMark(stroke)) return touched(p[0], p[1]) ? [] : [stroke];
  const fine = (p.length * rag) / 4 < MOST;
  /** @type {{ points: number[], times: number[] }[]} */
  const runs = [];
  let open = false;
  let whole = true;
  const put = (/** @type {number} */ x, /** @type {number} */ y, /** @type {number} */ t, /** @type {boolean} */ own) => {
    if (touched(x, y)) {
      open = whole = false;
      return;
    }
    // A place put in counts only where the stroke begins anew: otherwise it lies between two that stay.
    if (!own && open) return;
    if (!open) runs.push({ points: [], times: [] });
    open = true;
    runs[runs.length - 1].points.push(x, y);
    runs[runs.length - 1].times.push(t);
  };
  for (let i = 0; i < p.length; i += 2) {
    const t = times?.[i / 2] ?? 0;
    if (i > 0 && fine) {
      const [x, y, s] = [p[i - 2], p[i - 1], times?.[i / 2 - 1] ?? 0];
      const n = Math.min(2000, Math.ceil(Math.hypot(p[i] - x, p[i + 1] - y) / (reach * STEP)));
      let last = /** @type {[number, number, number] | null} */ (null);
      for (let k = 1; k < n; k += 1) {
        const f = k / n;
        const at = /** @type {[number, number, number]} */ ([x + f * (p[i] - x), y + f * (p[i + 1] - y), s + f * (t - s)]);
        if (touched(at[0], at[1])) {
          // The last place before the rag ends the run.
          if (open && last) {
            runs[runs.length - 1].points.push(last[0], last[1]);
            runs[runs.length - 1].times.push(last[2]);
          }
          open = whole = false;
        } else {
          put(...at, false);
          last = at;
        }
      }
    }
    put(p[i], p[i + 1], t, true);
  }
  if (whole) return [stroke];
  return runs
    .filter((run) => lengthOf(run.points) > DUST * reach)
    .map((run) => ({ points: Float64Array.from(run.points), times: times && Float64Array.from(run.times) }));
}

/** @param {number[]} p */
function lengthOf(p) {
  let sum = 0;
  for (let i = 2; i < p.length; i += 2) sum += Math.hypot(p[i] - p[i - 2], p[i + 1] - p[i - 1]);
  return sum;
}

/** Runs of the edges that are not touched. @param {Edge[]} loop @param {number[]} rag @param {number} reach @returns {Edge[][]} */
function restOfLoop(loop, rag, reach) {
  const hit = loop.map((edge) => {
    for (let i = 0; i < rag.length; i += 2) if (distance(edge, [rag[i], rag[i + 1]]) <= reach) return true;
    return false;
  });
  const first = hit.indexOf(true);
  if (first < 0) return [loop];
  const [a, b] = [along(loop[0], 0), along(loop[loop.length - 1], 1)];
  const closed = Math.hypot(a[0] - b[0], a[1] - b[1]) < 1e-9;
  /** @type {Edge[][]} */
  const runs = [];
  let open = false;
  for (let k = closed ? 1 : 0; k < loop.length + (closed ? 1 : 0); k += 1) {
    const i = closed ? (first + k) % loop.length : k;
    if (hit[i]) {
      open = false;
      continue;
    }
    if (!open) runs.push([]);
    open = true;
    runs[runs.length - 1].push(loop[i]);
  }
  return runs;
}

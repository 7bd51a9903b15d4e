// The things on the plate that something can be done to: edges, corners, loops, marks.

/** @import { Edge, Hint, Outcome, Place, Size } from "./pkg/trued_web.js" */

/**
 * @typedef {object} Thing
 * @property {"edge" | "corner" | "loop" | "mark"} kind
 * @property {number} loop number of the loop, or of the mark
 * @property {number} index number of the edge or corner
 * @property {Place} at the place that names it in a hint
 */

/** @param {Edge} edge */
export function ends(edge) {
  return "line" in edge ? edge.line : edge.arc;
}

/** @param {Edge} edge @param {number} t @returns {Place} */
export function along(edge, t) {
  if ("line" in edge) {
    const { from, to } = edge.line;
    return [from[0] + t * (to[0] - from[0]), from[1] + t * (to[1] - from[1])];
  }
  const { from, center, radius, sweep } = edge.arc;
  const angle = Math.atan2(from[1] - center[1], from[0] - center[0]) + t * sweep;
  return [center[0] + radius * Math.cos(angle), center[1] + radius * Math.sin(angle)];
}

/** @param {Edge} edge */
export function edgeLength(edge) {
  if ("arc" in edge) return edge.arc.radius * Math.abs(edge.arc.sweep);
  const { from, to } = edge.line;
  return Math.hypot(to[0] - from[0], to[1] - from[1]);
}

/** Distance from a place to an edge, mm. @param {Edge} edge @param {Place} p */
export function distance(edge, p) {
  if ("line" in edge) {
    const { from, to } = edge.line;
    const [dx, dy] = [to[0] - from[0], to[1] - from[1]];
    const t = ((p[0] - from[0]) * dx + (p[1] - from[1]) * dy) / (dx * dx + dy * dy || 1);
    const [x, y] = along(edge, Math.min(1, Math.max(0, t)));
    return Math.hypot(p[0] - x, p[1] - y);
  }
  const { from, to, center, radius, sweep } = edge.arc;
  const start = Math.atan2(from[1] - center[1], from[0] - center[0]);
  const angle = (Math.atan2(p[1] - center[1], p[0] - center[0]) - start) * Math.sign(sweep);
  const turned = angle - 2 * Math.PI * Math.floor(angle / (2 * Math.PI));
  if (turned <= Math.abs(sweep)) return Math.abs(Math.hypot(p[0] - center[0], p[1] - center[1]) - radius);
  return Math.min(Math.hypot(p[0] - from[0], p[1] - from[1]), Math.hypot(p[0] - to[0], p[1] - to[1]));
}

/** A whole circle. @param {Edge} edge */
export function isRound(edge) {
  return "arc" in edge && Math.abs(edge.arc.sweep) >= 2 * Math.PI - 1e-9;
}

/** Points along an edge, close enough for a picture. @param {Edge} edge @returns {Place[]} */
function samples(edge) {
  const n = "line" in edge ? 1 : 24;
  return Array.from({ length: n + 1 }, (_, i) => along(edge, i / n));
}

/**
 * Left, low, right, high of some edges; null of none.
 * @param {Edge[][]} chains
 * @param {Place[]} [places]
 * @returns {[number, number, number, number] | null}
 */
export function extent(chains, places = []) {
  /** @type {[number, number, number, number]} */
  const e = [Infinity, Infinity, -Infinity, -Infinity];
  /** @param {Place} p */
  const take = (p) => {
    e[0] = Math.min(e[0], p[0]);
    e[1] = Math.min(e[1], p[1]);
    e[2] = Math.max(e[2], p[0]);
    e[3] = Math.max(e[3], p[1]);
  };
  for (const chain of chains) for (const edge of chain) samples(edge).forEach(take);
  places.forEach(take);
  return e[0] <= e[2] ? e : null;
}

/** @param {Edge[]} edges @param {Place} p */
function inside(edges, p) {
  const ring = edges.flatMap((e) => samples(e).slice(1));
  let odd = false;
  ring.forEach((a, i) => {
    const b = ring[(i + 1) % ring.length];
    if (a[1] > p[1] !== b[1] > p[1] && p[0] < a[0] + ((p[1] - a[1]) / (b[1] - a[1])) * (b[0] - a[0])) odd = !odd;
  });
  return odd;
}

/** Everything, in the order the arrow keys step through it. @param {Outcome} outcome @returns {Thing[]} */
export function all(outcome) {
  /** @type {Thing[]} */
  const things = [];
  outcome.loops.forEach((loop, l) => {
    loop.edges.forEach((edge, i) => {
      const corner = loop.closed || i > 0;
      if (corner && !isRound(edge)) things.push({ kind: "corner", loop: l, index: i, at: ends(edge).from });
      things.push({ kind: "edge", loop: l, index: i, at: along(edge, 0.5) });
    });
    if (loop.edges.length) things.push({ kind: "loop", loop: l, index: 0, at: along(loop.edges[0], 0.5) });
  });
  outcome.marks.forEach((mark, i) => things.push({ kind: "mark", loop: i, index: 0, at: mark.at }));
  return things;
}

/** Share of the reach within which a mark or corner goes before a long edge. */
const CORNER = 0.6;

/**
 * The thing at a place: a mark or corner before the edge it lies on, an edge before its loop. A short
 * edge, whose corners would leave nothing of it, goes by the nearest.
 * @param {Outcome} outcome
 * @param {Place} p
 * @param {number} reach mm
 * @returns {Thing | null}
 */
export function pick(outcome, p, reach) {
  /** @type {{ thing: Thing, far: number } | null} */
  let best = null;
  for (const thing of all(outcome)) {
    if (thing.kind === "loop") continue;
    const edge = thing.kind === "edge" ? outcome.loops[thing.loop].edges[thing.index] : null;
    const d = edge ? distance(edge, p) : Math.hypot(p[0] - thing.at[0], p[1] - thing.at[1]);
    if (d > reach) continue;
    const far = edge ? d + (edgeLength(edge) > 4 * reach ? CORNER * reach : 0) : d * CORNER;
    if (!best || far < best.far) best = { thing, far };
  }
  return best?.thing ?? null;
}

/** The innermost closed loop about a place. @param {Outcome} outcome @param {Place} p @returns {Thing | null} */
export function pickLoop(outcome, p) {
  let found = -1;
  let least = Infinity;
  outcome.loops.forEach((loop, i) => {
    const e = loop.closed && inside(loop.edges, p) ? extent([loop.edges]) : null;
    const size = e ? (e[2] - e[0]) * (e[3] - e[1]) : Infinity;
    if (size < least) [found, least] = [i, size];
  });
  return found < 0 ? null : { kind: "loop", loop: found, index: 0, at: along(outcome.loops[found].edges[0], 0.5) };
}

/** What an edge is called by whoever looks at the piece: "the left edge", or "edge 3" where it is not the only left one. @param {Outcome} outcome @param {number} loop @param {number} index */
export function sideName(outcome, loop, index) {
  const { edges } = outcome.loops[loop];
  const e = extent([edges]);
  const side = (/** @type {Edge} */ edge) => {
    if (!e || !("line" in edge)) return "";
    const { from, to } = edge.line;
    const [dx, dy] = [Math.abs(to[0] - from[0]), Math.abs(to[1] - from[1])];
    const [x, y] = along(edge, 0.5);
    if (dx < 0.3 * dy) return x < (e[0] + e[2]) / 2 ? "left" : "right";
    if (dy < 0.3 * dx) return y < (e[1] + e[3]) / 2 ? "bottom" : "top";
    return "";
  };
  const own = side(edges[index]);
  return own && edges.filter((x) => side(x) === own).length === 1 ? `the ${own} edge` : `edge ${index + 1}`;
}

/** The size written on an edge or corner. @param {Outcome} outcome @param {Thing} thing @returns {Size | null} */
export function sizeOf(outcome, thing) {
  const kinds = thing.kind === "corner" ? ["angle"] : ["length", "radius", "diameter"];
  const own = outcome.report.sizes.filter((s) => s.loop === thing.loop && kinds.includes(s.kind));
  if (thing.kind === "corner") {
    const near = own.filter((s) => Math.hypot(s.at[0] - thing.at[0], s.at[1] - thing.at[1]) < 1e-6);
    return near[0] ?? own.find((s) => s.edges.at(-1) === thing.index) ?? null;
  }
  return own.find((s) => s.edges.length === 1 && s.edges[0] === thing.index) ?? own.find((s) => s.edges.includes(thing.index)) ?? null;
}

/** The turn inside a corner, radians. @param {Outcome} outcome @param {Thing} thing */
export function angleAt(outcome, thing) {
  const { edges } = outcome.loops[thing.loop];
  const after = edges[thing.index];
  const before = edges[(thing.index + edges.length - 1) % edges.length];
  const heading = (/** @type {Edge} */ e, /** @type {number} */ t) => {
    if ("line" in e) return Math.atan2(e.line.to[1] - e.line.from[1], e.line.to[0] - e.line.from[0]);
    const [x, y] = along(e, t);
    return Math.atan2(y - e.arc.center[1], x - e.arc.center[0]) + (Math.PI / 2) * Math.sign(e.arc.sweep);
  };
  const turn = Math.abs(heading(after, 0) - heading(before, 1)) % (2 * Math.PI);
  return Math.PI - Math.min(turn, 2 * Math.PI - turn);
}

/** @param {number} angle */
export function isSquare(angle) {
  return Math.abs(angle - Math.PI / 2) < 1e-8;
}

/** Hints the person gave about this thing. @param {Hint[]} hints @param {Thing} thing @param {number} reach mm */
export function saidOf(hints, thing, reach) {
  const keys = { edge: ["edge", "size", "diameter", "radius", "parallel", "equal", "in_line", "datum", "level", "distance"], corner: ["corner", "zero"], loop: ["loop"], mark: ["hole", "loop", "distance", "zero"] }[thing.kind];
  return hints.filter(
    (h) => keys.some((k) => k in h) && Math.hypot(h.at[0] - thing.at[0], h.at[1] - thing.at[1]) <= reach,
  );
}

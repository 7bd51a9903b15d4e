// Keeping the job and the way to it in this browser, so that a closed tab loses nothing and undo reaches behind it.
// Few points go to localStorage at once and as one string: they are there even if the tab dies in
// the next moment. More, whose string would take longer to make than their reading takes, go to
// IndexedDB, whose transactions are all or nothing. Each carries the time it was kept, and the newer is
// taken up. Where neither has room the page says so, and asks before it closes.
//
// Jobs of one history share what did not change between them; it is kept once (`Pool`; IndexedDB's own copying does the
// same). Steps that lie so far back that their points are many are let go of first, the job itself never.

/** @import { Job, Stroke, Trace } from "./job.js" */

import { emptyJob, isEmpty, NO_CUT } from "./job.js";

/** Points in all that still go into one string. */
const SMALL = 3_000;
/** Points of the steps back and forth that are kept with a job, beside its own. */
const BEHIND = 1_000_000;
/** Most tabs that keep a job of their own. */
const MOST = 12;
/** A reload's old page lets go of its place within this time, ms; a tab that was doubled never does, and waits less. */
const LETS_GO = { reload: 3000, other: 400 };

/** The place this tab keeps its job in. */
let place = 1;

/** @param {number} [n] */
function key(n = place) {
  return n === 1 ? "trued-job" : `trued-job-${n}`;
}

/**
 * Takes a place that no other tab has, the one from before a reload first: so two tabs never overwrite each other's
 * job. Where a browser has no locks, all share the first.
 */
export async function claim() {
  if (!navigator.locks) return;
  const before = Number(sessionStorage.getItem("trued-place") ?? 0);
  const [came] = /** @type {PerformanceNavigationTiming[]} */ (performance.getEntriesByType("navigation"));
  const patience = came?.type === "reload" ? LETS_GO.reload : LETS_GO.other;
  const wanted = [...(before ? [before] : []), ...Array.from({ length: MOST }, (_, i) => i + 1)];
  for (const [i, n] of wanted.entries()) {
    if (!(await held(n, before && i === 0 ? patience : 0))) continue;
    place = n;
    sessionStorage.setItem("trued-place", String(n));
    return;
  }
}

/** Takes a place and keeps it until the tab closes. @param {number} n @param {number} patience ms @returns {Promise<boolean>} */
function held(n, patience) {
  return new Promise((resolve) => {
    const how = patience ? { signal: AbortSignal.timeout(patience) } : { ifAvailable: true };
    navigator.locks
      .request(key(n), how, (lock) => {
        resolve(lock !== null);
        return lock && new Promise(() => {});
      })
      .catch(() => resolve(false));
  });
}

/** Jobs that other tabs kept and that no open tab holds. @returns {Promise<Job[]>} */
export async function others() {
  if (!navigator.locks) return [];
  const taken = new Set((await navigator.locks.query()).held?.map((l) => l.name));
  /** @type {Job[]} */
  const jobs = [];
  for (let n = 1; n <= MOST; n += 1) {
    const kept = n === place || taken.has(key(n)) ? null : await recall(n);
    if (kept && !isEmpty(kept.job)) jobs.push(kept.job);
  }
  return jobs;
}

/** @typedef {"kept" | "not kept"} Kept */

/** A job with the way to it. @typedef {{ job: Job, before: Job[], after: Job[] }} Steps */

/**
 * @param {Steps} steps
 * @returns {Promise<Kept>}
 */
export async function keep(steps) {
  const at = Date.now();
  const { points, before, after } = within(steps);
  const { job } = steps;
  if (points <= SMALL) {
    try {
      localStorage.setItem(key(), JSON.stringify({ at, ...packed({ job, before, after }) }));
      return "kept";
    } catch {
      // Full or forbidden: the other store may still have room.
    }
  }
  try {
    await put({ at, job, before, after });
    drop();
    return "kept";
  } catch {
    return "not kept";
  }
}

/** The steps that can be kept with their job, and the points in all of it; the nearest steps first. @param {Steps} steps */
function within({ job, before, after }) {
  /** @type {Set<Stroke>} */
  const seen = new Set();
  const added = (/** @type {Job} */ j) => {
    let points = 0;
    for (const stroke of [...j.trace.strokes, ...(j.cut.scrap?.strokes ?? [])]) {
      if (seen.has(stroke)) continue;
      seen.add(stroke);
      points += stroke.points.length / 2;
    }
    return points;
  };
  const own = added(job);
  let behind = 0;
  const near = (/** @type {Job[]} */ jobs) => {
    let first = jobs.length;
    while (first > 0 && behind <= BEHIND) {
      behind += added(jobs[first - 1]);
      if (behind <= BEHIND) first -= 1;
    }
    return jobs.slice(first);
  };
  return { before: near(before), after: near(after), points: own + behind };
}

/** The job kept in a place, and the way to it. @returns {Promise<Steps | null>} */
export async function recall(n = place) {
  /** @type {(Steps & { at: number }) | null} */
  let best = null;
  try {
    const text = localStorage.getItem(key(n));
    if (text) {
      const kept = JSON.parse(text);
      best = { at: kept.at, ...unpacked(kept) };
    }
  } catch {
    // Nothing that can be read is nothing.
  }
  try {
    const large = await get(n);
    if (large && (!best || large.at > best.at)) best = large;
  } catch {
    // Likewise.
  }
  if (!best) return null;
  // A figure that the page has learned of since is not yet given. What jobs shared they share again.
  /** @type {Map<import("./job.js").Cut, import("./job.js").Cut>} */
  const cuts = new Map();
  const cut = (/** @type {import("./job.js").Cut} */ c) => cuts.get(c) ?? cuts.set(c, { ...NO_CUT, ...c }).get(c) ?? NO_CUT;
  const whole = (/** @type {Job} */ job) => ({ ...emptyJob(), ...job, cut: cut(job.cut), opening: job.opening ?? null });
  return { job: whole(best.job), before: (best.before ?? []).map(whole), after: (best.after ?? []).map(whole) };
}

/** A large job is the newer one now. */
function drop() {
  try {
    localStorage.removeItem(key());
  } catch {
    // It carries an older time and loses on recall.
  }
}

/** What jobs share, by the numbers of its places in one list. */
class Pool {
  constructor() {
    /** @type {any[]} */
    this.list = [];
    /** @type {Map<any, number>} */
    this.places = new Map();
  }

  /**
   * The number of a thing, which is put into the list, spelled out, the first time.
   * @template {object | null | undefined} T
   * @param {T} thing
   * @param {(thing: NonNullable<T>) => any} [spelled]
   */
  number(thing, spelled = (t) => t) {
    if (thing === null || thing === undefined) return -1;
    const known = this.places.get(thing);
    if (known !== undefined) return known;
    const plain = spelled(thing);
    this.places.set(thing, this.list.length);
    return this.list.push(plain) - 1;
  }
}

/** @param {Steps} steps */
function packed({ job, before, after }) {
  const pool = new Pool();
  const stroke = (/** @type {Stroke} */ s) => pool.number(s, () => [Array.from(s.points), s.times && Array.from(s.times)]);
  const trace = (/** @type {Trace | null} */ t) => pool.number(t, ({ strokes, drawn, ...rest }) => ({ ...rest, strokes: strokes.map(stroke), drawn: pool.number(drawn) }));
  const one = (/** @type {Job} */ j) => [trace(j.trace), pool.number(j.settings), pool.number(j.hints), pool.number(j.cut, (cut) => ({ ...cut, scrap: trace(cut.scrap) })), pool.number(j.opening)];
  return { job: one(job), before: before.map(one), after: after.map(one), pool: pool.list };
}

/** @param {any} kept @returns {Steps} */
function unpacked({ job, before, after, pool }) {
  // Each is made once, so that what was shared is shared again.
  /** @type {Map<number, any>} */
  const made = new Map();
  const once = (/** @type {number} */ n, /** @type {(plain: any) => any} */ make) => {
    if (n < 0) return null;
    if (!made.has(n)) made.set(n, make(pool[n]));
    return made.get(n);
  };
  const same = (/** @type {number} */ n) => once(n, (plain) => plain);
  const stroke = (/** @type {number} */ n) => once(n, ([points, times]) => ({ points: Float64Array.from(points), times: times && Float64Array.from(times) }));
  const trace = (/** @type {number} */ n) => once(n, ({ strokes, drawn, ...rest }) => ({ ...rest, strokes: strokes.map(stroke), drawn: same(drawn) }));
  if (!pool) return { job: unpooled(job), before: [], after: [] };
  const one = (/** @type {number[]} */ [t, settings, hints, cut, opening]) => ({ trace: trace(t), settings: same(settings), hints: same(hints), cut: once(cut, (c) => ({ ...c, scrap: trace(c.scrap) })), opening: same(opening) });
  return { job: one(job), before: before.map(one), after: after.map(one) };
}

/** A job as it was kept before steps were kept with it. @param {any} job @returns {Job} */
function unpooled(job) {
  const stroke = (/** @type {[number[], number[] | null]} */ [points, times]) => ({ points: Float64Array.from(points), times: times && Float64Array.from(times) });
  const trace = (/** @type {any} */ kept) => ({ ...kept, strokes: kept.strokes.map(stroke) });
  const scrap = job.cut?.scrap;
  return { ...job, trace: trace(job.trace), cut: { ...job.cut, scrap: scrap ? trace(scrap) : null } };
}

/** @returns {Promise<IDBDatabase>} */
function base() {
  return new Promise((resolve, reject) => {
    const asked = indexedDB.open("trued", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("jobs");
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
}

/** @param {Steps & { at: number }} record @returns {Promise<void>} */
async function put(record) {
  const db = await base();
  try {
    await new Promise((resolve, reject) => {
      const change = db.transaction("jobs", "readwrite");
      change.objectStore("jobs").put(record, key() === "trued-job" ? "last" : key());
      change.oncomplete = () => resolve(undefined);
      change.onabort = () => reject(change.error);
      change.onerror = () => reject(change.error);
    });
  } finally {
    db.close();
  }
}

/** @param {number} n @returns {Promise<(Steps & { at: number }) | null>} */
async function get(n) {
  const db = await base();
  try {
    return await new Promise((resolve, reject) => {
      const asked = db.transaction("jobs").objectStore("jobs").get(n === 1 ? "last" : key(n));
      asked.onsuccess = () => resolve(asked.result ?? null);
      asked.onerror = () => reject(asked.error);
    });
  } finally {
    db.close();
  }
}

/**
 * A small preference of this browser (units, light).
 * @param {string} name
 * @param {string} value
 */
export function prefer(name, value) {
  try {
    localStorage.setItem(`trued-${name}`, value);
  } catch {
    // Not worth a word: it holds until the tab closes.
  }
}

/** @param {string} name */
export function preferred(name) {
  try {
    return localStorage.getItem(`trued-${name}`);
  } catch {
    return null;
  }
}

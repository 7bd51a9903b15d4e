// Keeping the job in this browser, so that a closed tab loses nothing.
// A small job goes to localStorage at once and as one string: it is there even if the tab dies in
// the next moment. A larger one, whose string would take longer to make than its reading takes, goes to
// IndexedDB, whose transactions are all or nothing. Each carries the time it was kept, and the newer is
// taken up. Where neither has room the page says so, and asks before it closes.

/** @import { Job, Stroke, Trace } from "./job.js" */

import { emptyJob, isEmpty, NO_CUT, pointCount } from "./job.js";

const SMALL = 3_000;
/** Most tabs that keep a job of their own. */
const MOST = 12;
/** A reload's old page lets go of its place within this time, ms. */
const LETS_GO = 400;

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
  const wanted = [...(before ? [before] : []), ...Array.from({ length: MOST }, (_, i) => i + 1)];
  for (const [i, n] of wanted.entries()) {
    if (!(await held(n, before && i === 0 ? LETS_GO : 0))) continue;
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
    const job = n === place || taken.has(key(n)) ? null : await recall(n);
    if (job && !isEmpty(job)) jobs.push(job);
  }
  return jobs;
}

/** @typedef {"kept" | "not kept"} Kept */

/**
 * @param {Job} job
 * @returns {Promise<Kept>}
 */
export async function keep(job) {
  const at = Date.now();
  const size = pointCount(job.trace) + (job.cut.scrap ? pointCount(job.cut.scrap) : 0);
  if (size <= SMALL) {
    try {
      localStorage.setItem(key(), JSON.stringify({ at, job: packed(job) }));
      return "kept";
    } catch {
      // Full or forbidden: the other store may still have room.
    }
  }
  try {
    await put({ at, job });
    drop();
    return "kept";
  } catch {
    return "not kept";
  }
}

/** The job kept in a place. @returns {Promise<Job | null>} */
export async function recall(n = place) {
  /** @type {{ at: number, job: Job } | null} */
  let best = null;
  try {
    const text = localStorage.getItem(key(n));
    if (text) {
      const { at, job } = JSON.parse(text);
      best = { at, job: unpacked(job) };
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
  return best ? { ...emptyJob(), ...best.job, cut: { ...NO_CUT, ...best.job.cut }, opening: best.job.opening ?? null } : null;
}

/** A large job is the newer one now. */
function drop() {
  try {
    localStorage.removeItem(key());
  } catch {
    // It carries an older time and loses on recall.
  }
}

/** @param {Trace} trace */
function packedTrace(trace) {
  const strokes = trace.strokes.map((s) => [Array.from(s.points), s.times && Array.from(s.times)]);
  return { strokes, drawn: trace.drawn, inches: trace.inches, doubts: trace.doubts };
}

/** @param {any} kept @returns {Trace} */
function unpackedTrace(kept) {
  /** @param {[number[], number[] | null]} pair @returns {Stroke} */
  const stroke = ([points, times]) => ({
    points: Float64Array.from(points),
    times: times && Float64Array.from(times),
  });
  return { strokes: kept.strokes.map(stroke), drawn: kept.drawn, inches: kept.inches, doubts: kept.doubts };
}

/** @param {Job} job */
function packed(job) {
  const { scrap } = job.cut;
  return {
    ...job,
    trace: packedTrace(job.trace),
    cut: { ...job.cut, scrap: scrap && packedTrace(scrap) },
  };
}

/** @param {any} kept @returns {Job} */
function unpacked(kept) {
  const scrap = kept.cut?.scrap ? unpackedTrace(kept.cut.scrap) : null;
  return { ...kept, trace: unpackedTrace(kept.trace), cut: { ...kept.cut, scrap } };
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

/** @param {{ at: number, job: Job }} record @returns {Promise<void>} */
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

/** @param {number} n @returns {Promise<{ at: number, job: Job } | null>} */
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

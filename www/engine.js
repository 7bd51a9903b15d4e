// Asking the library. One request runs at a time; of the readings that wait only the newest is kept,
// a reading that has become stale is dropped when it arrives, and given up on when it takes long.
// A worker that broke is replaced by a new one, which holds nothing until it is sent the trace again.

/** @import { BlanksView, Outcome, Opened, PlanView } from "./pkg/trued_web.js" */
/** @import { Cut, Job, Trace } from "./job.js" */

import { asArrays } from "./job.js";
import { openingAsked } from "./jobs/opening.js";
import { moduleOf, workerOf } from "./parts.js";

/** A stale reading that has run this long is not waited for, ms. */
const PATIENCE = 400;

export class Refused extends Error {}
export class Broken extends Error {}
export class Stale extends Error {}

/**
 * @typedef {object} Request
 * @property {string} task
 * @property {any} asked
 * @property {(value: any) => void} resolve
 * @property {(problem: Error) => void} reject
 * @property {Trace} [needs] the trace the worker must hold
 */

export class Engine {
  constructor() {
    /** @type {Worker | null} */
    this.worker = null;
    /** @type {Promise<WebAssembly.Module> | null} */
    this.module = null;
    /** @type {Request[]} */
    this.queue = [];
    /** @type {(Request & { since: number, id: number }) | null} */
    this.running = null;
    /** @type {Trace | null} */
    this.held = null;
    this.lastId = 0;
  }

  /** Resolves when the library answers, to its module. */
  async start() {
    this.module ??= moduleOf("trued_web_bg");
    const module = await this.module;
    const worker = await workerOf("worker");
    this.worker = worker;
    this.held = null;
    worker.onmessage = (event) => this.#answered(event.data);
    worker.onerror = (event) => {
      event.preventDefault();
      this.#broke("the reader stopped");
    };
    await new Promise((resolve, reject) => {
      this.queue.unshift({ task: "start", asked: { module }, resolve, reject });
      this.#next();
    });
    return module;
  }

  /**
   * Reads a job's trace.
   * @param {Job} job
   * @returns {Promise<Outcome>}
   */
  read(job) {
    this.queue = this.queue.filter((r) => {
      if (r.task !== "read") return true;
      r.reject(new Stale());
      return false;
    });
    const { settings, hints } = job;
    const answer = this.#ask("read", { settings, hints, opening: openingAsked(job.opening) }, job.trace);
    const running = this.running;
    if (running?.task === "read" && performance.now() - running.since > PATIENCE) this.giveUp();
    return answer;
  }

  /**
   * @param {string} name
   * @param {Uint8Array} bytes
   * @param {boolean} inches
   * @returns {Promise<Opened>}
   */
  open(name, bytes, inches) {
    return this.#ask("open", { name, bytes, inches });
  }

  /**
   * The plan for what was read last.
   * @param {Cut} cut
   * @returns {Promise<PlanView>}
   */
  plan(cut) {
    return this.#ask("plan", figuresAndScrap(cut));
  }

  /**
   * Blanks laid out on the cut's stock, of what was read last or of a size.
   * @param {Cut} cut
   * @returns {Promise<BlanksView>}
   */
  blanks(cut) {
    return this.#ask("blanks", figuresAndScrap(cut));
  }

  /**
   * Any other request; `needs` is the trace it is about, where it is about one.
   * @param {string} task
   * @param {any} [asked]
   * @param {Trace} [needs]
   * @returns {Promise<any>}
   */
  ask(task, asked = {}, needs) {
    return this.#ask(task, asked, needs);
  }

  /**
   * Reads three small lines that nobody drew, one after the other and only while nothing is asked: a browser makes the
   * module's code fast once it has run, and the first line of the person should not wait for that.
   */
  async warm() {
    for (const points of [rough(4), rough(40), slot()]) {
      if (this.running || this.queue.length) return;
      await this.#ask("warm", { points });
      await new Promise((done) => setTimeout(done, 60));
    }
  }

  /** Ends what is running; what waits goes on in a new worker. */
  giveUp() {
    const running = this.running;
    this.running = null;
    this.#replace();
    running?.reject(new Stale());
  }

  /**
   * @param {string} task
   * @param {any} asked
   * @param {Trace} [needs]
   * @returns {Promise<any>}
   */
  #ask(task, asked, needs) {
    return new Promise((resolve, reject) => {
      this.queue.push({ task, asked, resolve, reject, needs });
      this.#next();
    });
  }

  #next() {
    if (this.running || !this.worker) return;
    const request = this.queue.shift();
    if (!request) return;
    const { needs } = request;
    const asked = { ...request.asked };
    if (needs && needs !== this.held) {
      asked.trace = asArrays(needs);
      this.held = needs;
    }
    this.lastId += 1;
    this.running = { ...request, since: performance.now(), id: this.lastId };
    this.worker.postMessage({ id: this.lastId, task: request.task, asked });
  }

  /** @param {{ id: number, value?: any, refused?: string, broken?: boolean }} answer */
  #answered({ id, value, refused, broken }) {
    const running = this.running;
    if (!running || running.id !== id) return;
    if (broken) {
      this.#broke(refused ?? "");
      return;
    }
    this.running = null;
    if (refused === undefined) {
      running.resolve(value);
    } else {
      if (running.needs) this.held = null;
      running.reject(new Refused(refused));
    }
    this.#next();
  }

  /** @param {string} why */
  #broke(why) {
    const running = this.running;
    this.running = null;
    this.#replace();
    running?.reject(new Broken(why));
  }

  #replace() {
    this.worker?.terminate();
    this.worker = null;
    void this.start();
  }
}

/** @param {Cut} cut */
export function figuresAndScrap({ scrap, ...figures }) {
  return { figures, scrap: scrap && asArrays(scrap) };
}

/** A rough polygon of so many corners. @param {number} corners */
function rough(corners) {
  const at = (/** @type {number} */ k) => [80 * Math.cos((2 * Math.PI * k) / corners), 60 * Math.sin((2 * Math.PI * k) / corners)];
  return shaken((share) => {
    const s = share * corners;
    const [a, b] = [at(Math.floor(s)), at(Math.floor(s) + 1)];
    return [0, 1].map((k) => a[k] + (s % 1) * (b[k] - a[k]));
  });
}

/** A rough slot: two lines, and two arcs that run into them. */
function slot() {
  return shaken((share) => {
    const half = (2 * share) % 1;
    const turn = Math.PI * Math.max(0, 2 * half - 1);
    const [x, y] = [30 - 60 * Math.min(1, 2 * half) - 25 * Math.sin(turn), 25 * Math.cos(turn)];
    return share < 0.5 ? [x, y] : [-x, -y];
  });
}

/** Places along a course, a little off it, x, y by turns. @param {(share: number) => number[]} place */
function shaken(place) {
  const n = 400;
  return Float64Array.from({ length: 2 * n }, (_, i) => place(Math.floor(i / 2) / n)[i % 2] + 0.3 * Math.sin(i * 0.7));
}

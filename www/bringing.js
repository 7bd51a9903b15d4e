// What is brought to the plate: files, demos, a scrap to cut from.

/** @import { History } from "./job.js" */
/** @import { Engine } from "./engine.js" */
/** @import { ShopJobs } from "./shopjobs.js" */
/** @import { Tag } from "./tag.js" */

import { button } from "./dom.js";
import { Broken, Refused, Stale } from "./engine.js";
import { choose, unpack } from "./files.js";
import { emptyJob, fromArrays } from "./job.js";
import { JOB_DEMOS } from "./jobs/demo.js";
import { isJob } from "./jobs/list.js";
import { isPicture } from "./photo.js";
import { demos } from "./pkg/demos.js";
import { talk } from "./talk.js";

/**
 * @typedef {object} Desk what a file may do to the page
 * @property {Engine} engine
 * @property {History} history
 * @property {ShopJobs} jobs
 * @property {Tag} tag
 * @property {() => boolean} lacksReader
 * @property {() => boolean} inches
 * @property {(job: import("./job.js").Job, words?: string) => Promise<void>} setJob
 * @property {(words?: string) => Promise<void>} settle shows the job there is now
 * @property {(name: string, bytes: Uint8Array) => Promise<void>} picture
 * @property {() => void} clear the plate is made ready for another piece
 * @property {() => void} fit
 * @property {() => void} show
 * @property {() => void} keep
 * @property {(which: "blanks" | "coupon") => void} unlone
 */

export class Bringing {
  /** @param {Desk} desk */
  constructor(desk) {
    this.desk = desk;
    /** What the file being chosen is for. */
    this.purpose = "";
  }

  /** @param {string} [purpose] */
  ask(purpose = "") {
    this.purpose = purpose;
    choose();
  }

  /** A file, for the plate or for what it was asked for. @param {string} name @param {Uint8Array} bytes */
  async take(name, bytes) {
    const { desk } = this;
    if (desk.lacksReader()) return;
    /** @type {string} */
    const purpose = this.purpose || (isProfile(name, bytes) ? "profile" : "");
    this.purpose = "";
    if (!purpose && isPicture(bytes)) return desk.picture(name, bytes);
    if (purpose === "scrap") return this.#scrap(name, bytes);
    if (purpose) return desk.jobs.file(purpose, name, bytes);
    talk(`Opening ${name || "what was pasted"}…`, "busy");
    try {
      await this.#onPlate(name, bytes);
    } catch (problem) {
      if (problem instanceof Refused) talk(`${name ? `${name}: ` : ""}${problem.message}. What was on the plate is still there.`, "failed", button("Open another", choose));
      else if (problem instanceof Broken) talk(`${name || "That"} could not be read, and broke the reader; a new one is ready. What was on the plate is still there.`, "failed", button("Open another", choose));
      else if (!(problem instanceof Stale)) throw problem;
    }
  }

  /** @param {string} name @param {Uint8Array} bytes */
  async #onPlate(name, bytes) {
    const { desk } = this;
    const { tag, history } = desk;
    const opened = await desk.engine.open(name, bytes, desk.inches());
    const { job } = history;
    if (opened.kind === "hints") {
      await desk.setJob({ ...job, hints: [...job.hints, ...opened.hints] }, "The hints are taken.");
      return;
    }
    // A form that waits for a trace stays up.
    if (!isJob(tag.side)) tag.turn("piece");
    // How the line came about is what the file says; where it says nothing, nobody does.
    // How it is cut, too; else the cut is as it was.
    const cut = opened.cut ? { ...opened.cut, scrap: opened.scrap && fromArrays(opened.scrap) } : job.cut;
    const next = { ...emptyJob(), cut, trace: fromArrays(opened), settings: opened.settings ?? {}, hints: opened.hints ?? [], opening: tag.side === "opening" ? job.opening : null };
    desk.clear();
    history.push(next);
    desk.fit();
    await desk.settle(opened.notes.map((n) => n.text).join(" ") || undefined);
    desk.fit();
  }

  /** A scrap's file: laid by, and the plate as it was. @param {string} name @param {Uint8Array} bytes */
  async #scrap(name, bytes) {
    const { desk } = this;
    try {
      const opened = await desk.engine.open(name, bytes, desk.inches());
      if (opened.kind === "hints") throw new Refused("these are hints without a trace");
      const { job } = desk.history;
      desk.history.push({ ...job, cut: { ...job.cut, scrap: fromArrays(opened) } });
      delete desk.jobs.answers.blanks;
      desk.unlone("blanks");
      desk.keep();
      talk("The scrap is laid by.");
      desk.show();
    } catch (problem) {
      if (!(problem instanceof Refused || problem instanceof Broken)) throw problem;
      talk(`${name}: ${problem.message}. What was laid by is as it was.`, "failed");
    }
  }

  /** @param {string} name @param {string} [purpose] */
  async demo(name, purpose = "") {
    const found = demos.find((d) => d.name === name);
    this.purpose = purpose;
    if (found) await this.take(found.name, new Uint8Array(await unpack(found.packed)));
  }

  /** Fills a job's form with the demo's figures. @param {import("./jobs/list.js").JobSide} side */
  async demoJob(side) {
    const { desk } = this;
    const { history, jobs } = desk;
    const given = JOB_DEMOS[side];
    jobs.set({ figures: { ...jobs.shop.figures, ...given.figures }, words: { ...jobs.shop.words, ...given.words } });
    for (const [purpose, name] of Object.entries(given.files ?? {})) await this.demo(name, purpose);
    if (given.trace) await this.demo(given.trace);
    if (given.scrap) await this.demo(given.scrap, "scrap");
    if (given.opening) await desk.setJob({ ...history.job, opening: given.opening });
    if (given.cut) history.push({ ...history.job, cut: { ...history.job.cut, ...given.cut } });
    await jobs.enter(side);
    talk("The demo's figures: not yours. Yours come from your cutter's own book and your own calipers.");
    desk.show();
  }
}

/** A machine profile, by what it says or is called. @param {string} name @param {Uint8Array} bytes */
function isProfile(name, bytes) {
  return /machine[^/]*\.json$/i.test(name) || new TextDecoder().decode(bytes.subarray(0, 200)).includes('"trued_machine"');
}

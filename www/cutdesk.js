// How the piece is cut and what leaves the page: figures become a plan, doubts are taken on, files and the printer's
// sheet are asked for.

/** @import { Outcome } from "./pkg/trued_web.js" */
/** @import { Engine } from "./engine.js" */
/** @import { Cut, History } from "./job.js" */
/** @import { Plate } from "./plate.js" */
/** @import { ShopJobs } from "./shopjobs.js" */
/** @import { Stage } from "./stage.js" */
/** @import { Torch } from "./torch.js" */
/** @import { Unit } from "./units.js" */

import { Cutting } from "./cut.js";
import { Refused, Stale } from "./engine.js";
import { Printer } from "./print.js";
import { save } from "./saving.js";
import { sentence } from "./start.js";

/** What the printer gets is made ready so long after the last change, ms. */
const PRINT_AFTER = 1500;

/**
 * @typedef {object} Page
 * @property {() => Outcome | null} outcome
 * @property {() => boolean} alone whether a shop job's own plan is on the plate
 * @property {() => boolean} wanted whether a plan is to be seen
 * @property {() => Unit} unit
 * @property {(cutting: Cutting | null) => void} onPlate
 * @property {() => void} show
 * @property {() => void} keep
 */

export class CutDesk {
  /**
   * @param {{ engine: Engine, history: History, plate: Plate, torch: Torch, stage: Stage }} at
   * @param {Page} page
   */
  constructor(at, page) {
    this.at = at;
    this.page = page;
    /** @type {ShopJobs | null} */
    this.jobs = null;
    /** Why there is no plan. */
    this.problem = "";
    /** Numbers of the doubts that were taken on, and the doubts they are of. @type {{ of: string, numbers: number[] }} */
    this.taken = { of: "", numbers: [] };
    this.printer = new Printer();
    this.printing = 0;
  }

  /** Figures of the cut; what is typed into one blank is one step back. @param {Partial<Cut>} part */
  by(part) {
    const { history } = this.at;
    history.push({ ...history.job, cut: { ...history.job.cut, ...part } }, `cut ${Object.keys(part)}`);
    this.page.keep();
  }

  async plan() {
    const { engine, history, plate, torch, stage } = this.at;
    const { page } = this;
    const { job } = history;
    const { cut } = job;
    const lacks = [cut.kerf === null && "kerf", cut.feed === null && "feed", cut.pierce === null && "pierce"].filter(Boolean);
    this.problem = lacks.length ? `Fill in ${lacks.join(", ")}; the plan follows at once.` : "";
    if (this.problem || !page.outcome()) {
      page.onPlate(null);
      page.show();
      return;
    }
    try {
      const plan = await engine.plan(cut);
      // It comes too late for who has turned back to the piece.
      if (job !== history.job || page.alone() || !page.wanted()) return;
      if (plan.fits === 0) throw new Refused("not one copy fits on this stock: take a larger one, or fewer mm of lead");
      const first = !plate.plan;
      const at = torch.cutting?.at ?? null;
      const cutting = new Cutting(plan);
      cutting.at = at !== null ? Math.min(at, cutting.total) : null;
      page.onPlate(cutting);
      page.show();
      if (first) stage.fit();
    } catch (problem) {
      if (problem instanceof Stale || !page.wanted()) return;
      page.onPlate(null);
      this.problem = sentence(problem instanceof Error ? problem.message : String(problem));
      page.show();
    }
  }

  /** The doubts about the plan as they stand. */
  #said() {
    return (this.at.plate.plan?.plan.doubts ?? []).map((d) => d.text).join("\n");
  }

  /** Numbers of the doubts that were taken on: of these very doubts, and no others. */
  accepted() {
    return this.taken.of === this.#said() ? this.taken.numbers : [];
  }

  /** @param {number} number @param {boolean} yes */
  accept(number, yes) {
    const numbers = this.accepted().filter((n) => n !== number);
    this.taken = { of: this.#said(), numbers: yes ? [...numbers, number] : numbers };
    this.page.show();
  }

  /** @param {string} kind */
  save(kind) {
    const { engine, history, plate } = this.at;
    return save(kind, { engine, job: history.job, unit: this.page.unit(), machine: this.jobs?.shop.machine ?? {}, accepted: this.accepted(), answers: this.jobs?.answers ?? {}, plan: plate.plan !== null });
  }

  /** Hands the printer the sheet of the plan, or the look picture where there is none. */
  async loadPrinter() {
    const { engine, plate } = this.at;
    const plan = plate.plan !== null;
    try {
      const asked = { kind: plan ? "sheet" : "look", inches: this.page.unit() === "in", machine: null, accepted: [], plan };
      this.printer.load(plan || this.page.outcome() ? await engine.ask("file", asked) : "");
    } catch (problem) {
      if (!(problem instanceof Stale)) console.warn(problem);
    }
  }

  /** For whoever prints by the browser's own menu, which does not wait. */
  soonPrinted() {
    clearTimeout(this.printing);
    this.printing = window.setTimeout(() => void this.loadPrinter(), PRINT_AFTER);
  }
}

// What the shop jobs ask of the library, and where their answers go. Figures that were typed are the
// shop's and stay; an answer belongs to the figures it was found for and goes with them.

/** @import { Arm, ArmView, BlanksView, CouponSays, CouponView, Profile, Retipped } from "./pkg/trued_web.js" */
/** @import { Engine } from "./engine.js" */
/** @import { Job, Trace } from "./job.js" */
/** @import { JobSide } from "./jobs/list.js" */
/** @import { Shop } from "./shop.js" */

import { Stale } from "./engine.js";
import { fromArrays } from "./job.js";
import { NO_ARM } from "./jobs/arm.js";
import { blanksLacks } from "./jobs/blanks.js";
import { couponAsked, couponLacks, couponMeasured, ofSheet } from "./jobs/coupon.js";
import { squareLacks, squareMeasured } from "./jobs/square.js";
import { keepShop, recallShop } from "./shop.js";

/**
 * @typedef {object} Page what the jobs may do to the page
 * @property {() => Job} job
 * @property {() => boolean} piece whether one was read
 * @property {() => void} show
 * @property {(which: "blanks" | "coupon", plan: BlanksView["plan"]) => void} alone shows a job's own plan
 * @property {(which: "blanks" | "coupon") => void} unlone puts it away
 * @property {(words: string, how?: "said" | "busy" | "failed") => void} say
 * @property {(trace: Trace, words: string) => void} retrace
 */

export class ShopJobs {
  /** Until the last of the arm's figures is taken. @type {Promise<void>} */
  #arms = Promise.resolve();

  /** @param {Engine} engine @param {Page} page */
  constructor(engine, page) {
    this.engine = engine;
    this.page = page;
    /** @type {Shop} */
    this.shop = recallShop();
    /** @type {Record<string, any>} */
    this.answers = {};
    /** @type {Record<string, string>} */
    this.problems = {};
    /** @type {import("./pkg/trued_web.js").Material[]} */
    this.materials = [];
  }

  /** Checks what was kept, as a file would be. */
  async begin() {
    const { machine, book } = this.shop;
    try {
      if (machine.square || machine.arm) await this.engine.ask("profileText", { machine });
    } catch {
      this.shop = { ...this.shop, machine: {} };
    }
    await this.#openBook(book);
  }

  /** Takes over what another tab kept. */
  recall() {
    this.shop = recallShop();
    return true;
  }

  /** @param {Partial<Shop>} part */
  set(part) {
    this.shop = { ...this.shop, ...part };
    if (!keepShop(this.shop)) this.page.say("This browser has no room to keep what you typed. Save the profile or the book as a file before you close the page.", "failed");
  }

  /** Called when a job's side is turned up. @param {JobSide} side */
  async enter(side) {
    if (side === "square") await this.square();
    if (side === "coupon") await this.coupon();
  }

  /** @param {string} form @param {string} key @param {number | null} value */
  figure(form, key, value) {
    this.set({ figures: { ...this.shop.figures, [key]: value } });
    void this.enter(/** @type {JobSide} */ (form));
    this.page.show();
  }

  /** @param {string} key @param {string} value @param {string} [form] */
  word(key, value, form) {
    this.set({ words: { ...this.shop.words, [key]: value } });
    if (form) void this.enter(/** @type {JobSide} */ (form));
    this.page.show();
  }

  /** @param {string} rows */
  touches(rows) {
    this.set({ touches: rows });
    delete this.answers.arm;
    this.page.show();
  }

  /** Takes a profile for every cut file. @param {Profile} machine @param {string} [form] */
  async machine(machine, form) {
    try {
      // A figure that is not filled in yet is no fault of the profile.
      if (machine.arm && !(machine.arm.link1 > 0 && machine.arm.link2 > 0)) await this.engine.ask("profileText", { machine: { square: machine.square } });
      else await this.engine.ask("profileText", { machine });
      this.set({ machine });
      if (form !== "arm") delete this.answers.square;
      if (form === "arm") delete this.answers.arm;
      else this.page.say(machine.square ? "Every cut file is corrected for this machine from now on." : "Cut files are written as for a true machine.");
      delete this.problems[form ?? "square"];
    } catch (problem) {
      this.#failed(form ?? "square", problem);
    }
    this.page.show();
  }

  /** One figure of the arm, each after the one before: two filled in quickly are both kept. @param {(arm: Arm) => Partial<Arm>} change */
  arm(change) {
    this.#arms = this.#arms.then(() => {
      const arm = this.shop.machine.arm ?? NO_ARM;
      return this.machine({ ...this.shop.machine, arm: { ...arm, ...change(arm) } }, "arm");
    });
    return this.#arms;
  }

  async square() {
    if (squareLacks(this.shop)) {
      delete this.answers.square;
      return;
    }
    const used = this.shop.words["square.through"] === "no" ? null : (this.shop.machine.square ?? null);
    await this.#answer("square", () => this.engine.ask("square", { measured: squareMeasured(this.shop), used }));
  }

  async coupon() {
    const measured = couponMeasured(this.shop);
    if (measured) await this.#answer("couponSays", () => this.engine.ask("couponSays", { measured }));
    else delete this.answers.couponSays;
    if (couponLacks(this.shop)) {
      delete this.answers.coupon;
      this.page.unlone("coupon");
      return;
    }
    const made = /** @type {CouponView | null} */ (await this.#answer("coupon", () => this.engine.ask("coupon", { coupon: couponAsked(this.shop) })));
    if (made) this.page.alone("coupon", made.plan);
    else this.page.unlone("coupon");
  }

  async blanks() {
    const job = this.page.job();
    const lacks = blanksLacks(job, this.page.piece());
    this.page.unlone("blanks");
    delete this.answers.blanks;
    if (lacks) {
      this.page.say(lacks, "failed");
      return;
    }
    this.page.say("Laying out…", "busy");
    const laid = /** @type {BlanksView | null} */ (await this.#answer("blanks", () => this.engine.blanks(job.cut)));
    if (laid) this.page.say(`${laid.sentence.charAt(0).toUpperCase()}${laid.sentence.slice(1)}.`);
    else this.page.say(this.problems.blanks, "failed");
    if (laid && laid.plan.fits > 0) this.page.alone("blanks", laid.plan);
  }

  /** The job that is worked at a press. @param {JobSide} side @param {boolean} [leaveOut] */
  async work(side, leaveOut) {
    if (side === "blanks") await this.blanks();
    if (side === "arm") {
      const { arm } = this.shop.machine;
      const tips = Object.keys(arm?.tips ?? {});
      const said = this.shop.words["arm.tip"];
      const tip = tips.includes(said) ? said : (tips[0] ?? "tip");
      const found = /** @type {ArmView | null} */ (await this.#answer("arm", () => this.engine.ask("arm", { rows: this.shop.touches, asked: { arm, tip, touch_error: null } })));
      if (found) this.page.say("Found. Look at each ± before you keep it.");
    }
    if (side === "tip") await this.#retip(leaveOut ?? false);
    this.page.show();
  }

  /** @param {boolean} leaveOut */
  async #retip(leaveOut) {
    const { arm } = this.shop.machine;
    const { trace } = this.page.job();
    const tips = Object.keys(arm?.tips ?? {});
    const chosen = (/** @type {string} */ key) => (tips.includes(this.shop.words[key]) ? this.shop.words[key] : tips[0]);
    const [believed, actual] = [chosen("tip.believed"), chosen("tip.actual")];
    delete this.answers.tip;
    try {
      const read = /** @type {Retipped} */ (await this.engine.ask("retip", { arm, believed, actual }, trace));
      delete this.problems.tip;
      if (read.notes.length > 0 && !leaveOut) {
        this.answers.tip = read.notes;
        this.problems.tip = `${read.notes.length} ${read.notes.length === 1 ? "point" : "points"} cannot have been reached with tip ${believed}: is this the right tip and arm?`;
      } else {
        this.page.retrace(fromArrays(read), `Re-read as drawn by tip ${actual}. Undo brings the first back.`);
      }
    } catch (problem) {
      this.#failed("tip", problem);
    }
  }

  /** A file for one of the forms. @param {string} purpose @param {string} name @param {Uint8Array} bytes */
  async file(purpose, name, bytes) {
    const text = new TextDecoder().decode(bytes);
    try {
      if (purpose === "profile") await this.machine(/** @type {Profile} */ (await this.engine.ask("profile", { text })));
      if (purpose === "touches") this.touches(text);
      if (purpose === "sheet") {
        const measured = await this.engine.ask("couponSheet", { text });
        this.set({ figures: { ...this.shop.figures, ...ofSheet(measured) } });
        await this.coupon();
      }
      if (purpose === "book" && (await this.#openBook(text))) this.page.say(`The book's ${this.materials.length} rows are here, and stay.`);
    } catch (problem) {
      if (problem instanceof Stale) return;
      this.page.say(`${name}: ${problem instanceof Error ? problem.message : problem}. What was here is as it was.`, "failed");
    }
    this.page.show();
  }

  /** @param {string} book */
  async #openBook(book) {
    this.materials = await this.engine.ask("materials", { book });
    if (book !== this.shop.book) this.set({ book });
    return true;
  }

  /** Writes what a coupon said into the book. @param {CouponSays} says @param {string} name @returns {Promise<string | null>} the book */
  async keepBook(says, name) {
    try {
      // Figures in doubt do not go over those of the book.
      if (says.doubts.length > 0) throw new Error("nothing is kept while a doubt stands");
      const { pierce, thickness } = couponMeasured(this.shop) ?? {};
      const row = { name, kerf: says.kerf?.[0], feed: says.feed ?? undefined, pierce: pierce ?? undefined, thickness: thickness ?? undefined };
      const book = await this.engine.ask("keepMaterial", { book: this.shop.book, row });
      await this.#openBook(book);
      delete this.problems.couponSays;
      return book;
    } catch (problem) {
      this.#failed("couponSays", problem);
      return null;
    } finally {
      this.page.show();
    }
  }

  /**
   * Asks and keeps the answer or the problem.
   * @param {string} form
   * @param {() => Promise<any>} ask
   */
  async #answer(form, ask) {
    try {
      this.answers[form] = await ask();
      delete this.problems[form];
    } catch (problem) {
      delete this.answers[form];
      this.#failed(form, problem);
    }
    this.page.show();
    return this.answers[form] ?? null;
  }

  /** @param {string} form @param {unknown} problem */
  #failed(form, problem) {
    if (problem instanceof Stale) return;
    const words = problem instanceof Error ? problem.message : String(problem);
    this.problems[form] = `${words.charAt(0).toUpperCase()}${words.slice(1)}${/[.!?]$/.test(words) ? "" : "."}`;
  }
}

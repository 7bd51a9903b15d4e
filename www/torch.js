// Showing how the cut runs: a dot that goes along the plan, in at most a minute.

/** @import { Cutting } from "./cut.js" */

import { grab } from "./dom.js";
import { clock } from "./units.js";

/** Longest showing, s. */
const LONGEST = 60;

export class Torch {
  /** @param {import("./plate.js").Plate} plate */
  constructor(plate) {
    this.plate = plate;
    /** @type {Cutting | null} */
    this.cutting = null;
  }

  /** @param {number} share */
  seek(share) {
    if (!this.cutting) return;
    this.cutting.at = share * this.cutting.total;
    this.tell();
    this.plate.redraw("over");
  }

  run() {
    const { cutting } = this;
    if (!cutting) return;
    cutting.running = !cutting.running;
    if (cutting.at === null || cutting.at >= cutting.total) cutting.at = 0;
    // A person who asked for less motion steers the slider.
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) {
      cutting.running = false;
      cutting.at = cutting.total;
    }
    this.tell();
    this.plate.redraw("over");
    if (cutting.running) this.#play(cutting);
  }

  /** @param {Cutting} cutting */
  #play(cutting) {
    const speed = Math.max(1, cutting.total / LONGEST);
    let last = performance.now();
    const step = (/** @type {number} */ now) => {
      if (!cutting.running || this.cutting !== cutting) return;
      cutting.at = Math.min(cutting.total, (cutting.at ?? 0) + ((now - last) / 1000) * speed);
      last = now;
      if (cutting.at >= cutting.total) cutting.running = false;
      this.tell();
      this.plate.redraw("over");
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  }

  /** Says where it is, on the strip. */
  tell() {
    const { cutting } = this;
    const [slider, run, time] = ["[data-key=torch]", "[data-key=run]", ".time"].map((s) => grab("tag", HTMLElement).querySelector(s));
    if (!cutting || cutting.at === null || !(slider instanceof HTMLInputElement) || !run || !time) return;
    const { cut } = cutting.where(cutting.at);
    time.textContent = `cut ${cut + 1}, ${clock(cutting.at)} of ${clock(cutting.total)}`;
    slider.value = String(Math.round((1000 * cutting.at) / (cutting.total || 1)));
    run.textContent = cutting.running ? "Pause" : "Show how it runs";
  }
}

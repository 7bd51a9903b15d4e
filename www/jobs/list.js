// The shop jobs: what there is, and which side of the tag each is on.

/** @import { Shown } from "../tag.js" */

import { button, make } from "../dom.js";
import { armSide } from "./arm.js";
import { blanksSide } from "./blanks.js";
import { couponSide } from "./coupon.js";
import { openingSide } from "./opening.js";
import { squareSide } from "./square.js";
import { tipSide } from "./tip.js";

/** @typedef {"opening" | "blanks" | "coupon" | "square" | "arm" | "tip"} JobSide */

/**
 * @typedef {object} Listed
 * @property {string} title
 * @property {string} what
 * @property {(s: Shown, on: Record<string, (...given: any[]) => void>) => any[]} side
 */

/** @type {Record<JobSide, Listed>} */
export const JOBS = {
  opening: { title: "Opening from marks", what: "touch the holes, draw round the pipe: a true opening on their centre", side: openingSide },
  blanks: { title: "Blanks from scrap", what: "one tab and a piece from the bin: as many as fit", side: blanksSide },
  coupon: { title: "Coupon for a new sheet", what: "a test piece, and what calipers on it say of kerf and feed", side: couponSide },
  square: { title: "Square the machine", what: "six lengths of a cut rectangle, and every cut file is corrected", side: squareSide },
  tip: { title: "The right tip", what: "a trace taken with another tip than the machine believed, re-read", side: tipSide },
  arm: { title: "The arm's own lengths", what: "from touches of points whose places you know", side: armSide },
};

/** @param {string} side @returns {side is JobSide} */
export function isJob(side) {
  return side in JOBS;
}

/** The list itself. @param {Record<string, (...given: any[]) => void>} on */
export function listSide(on) {
  const item = (/** @type {[string, Listed]} */ [side, job]) =>
    make("li", {}, button(job.title, () => on.turn(side), { "data-key": side, "aria-describedby": `what-${side}` }), make("span", { id: `what-${side}` }, job.what));
  return [
    make("h2", {}, "Shop jobs"),
    make("ul", { class: "jobs" }, ...Object.entries(JOBS).map(item)),
    make("div", { class: "row" }, button("Back", () => on.turn("piece"), { class: "quiet", "data-key": "back" })),
  ];
}

/** One job: its heading, its form with the answer, the ways out. @param {JobSide} side @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
export function jobSide(side, s, on) {
  return [
    make("h2", {}, JOBS[side].title),
    ...JOBS[side].side(s, on),
    make(
      "div",
      { class: "row" },
      button("Fill in the demo", () => on.demoJob(side), { class: "quiet", "data-key": "demo-job" }),
      button("All jobs", () => on.turn("jobs"), { class: "quiet", "data-key": "back" }),
    ),
  ].filter((c) => c !== false);
}

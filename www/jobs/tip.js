// A trace that was taken with one tip while the machine believed another.

/** @import { Shown } from "../tag.js" */

import { button, make } from "../dom.js";
import { problem } from "../form.js";
import { tipChoice } from "./arm.js";
import { machineParts } from "./square.js";

/** @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
export function tipSide(s, on) {
  const tips = Object.keys(s.shop.machine.arm?.tips ?? {});
  const out = /** @type {string[] | undefined} */ (s.answers.tip);
  const traced = s.job.trace.strokes.length > 0;
  const lacks = tips.length < 2 ? "Open a profile with the arm and both tips, or fill them in under the arm's own lengths." : traced ? "" : "Draw or open the trace that is to be re-read.";
  return [
    make("p", {}, "The stylus was in the profile and the torch in the holder, or the other way round. The trace is not merely shifted: a tip's offset turns with the last link. Each point goes back to the joint angles and forward through the true tip."),
    tips.length >= 2 && make("div", { class: "pairs" }, tipChoice("The machine believed", "tip.believed", s, on), tipChoice("The tip was", "tip.actual", s, on)),
    lacks ? make("p", { class: "problem", role: "status" }, lacks) : problem(s, "tip"),
    out && out.length > 0 && make("ul", { class: "answer", "data-key": "answer" }, ...out.slice(0, 5).map((w) => make("li", {}, w)), out.length > 5 && make("li", {}, `and ${out.length - 5} points more`)),
    make(
      "div",
      { class: "row" },
      button("Re-read the trace", () => on.work("tip"), { class: "strong", "data-key": "retip", disabled: lacks !== "" }),
      out && out.length > 0 && button("Leave those points out", () => on.work("tip", true), { "data-key": "leave-out" }),
      tips.length < 2 && button("The arm's own lengths", () => on.turn("arm"), { "data-key": "arm" }),
    ),
    ...machineParts(s, on),
  ].filter((c) => c !== false && c !== undefined);
}

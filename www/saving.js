// Files that leave the page.

/** @import { Engine } from "./engine.js" */
/** @import { Job } from "./job.js" */
/** @import { Unit } from "./units.js" */

import { figuresAndScrap } from "./engine.js";
import { offer } from "./files.js";
import { talk } from "./talk.js";

/** @type {Record<string, [string, string]>} name and media type */
const FILES = {
  outline: ["outline.json", "application/json"],
  job: ["job.json", "application/json"],
  svg: ["outline.svg", "image/svg+xml"],
  dxf: ["outline.dxf", "image/vnd.dxf"],
  rs274: ["cut.ngc", "text/plain"],
  dry: ["dry-run.ngc", "text/plain"],
  "plan-dxf": ["cut.dxf", "image/vnd.dxf"],
  "plan-svg": ["cut.svg", "image/svg+xml"],
  look: ["look.html", "text/html"],
  sheet: ["sheet.html", "text/html"],
  template: ["template.html", "text/html"],
  profile: ["machine.json", "application/json"],
  measuring: ["coupon.csv", "text/csv"],
};
/** @type {Record<string, string>} what the worker is asked, where it is no file of the plan */
const TASKS = { outline: "document", job: "job", svg: "svg", dxf: "dxf", profile: "profileText" };

/**
 * @param {string} kind
 * @param {object} of
 * @param {Engine} of.engine
 * @param {Job} of.job
 * @param {Unit} of.unit
 * @param {import("./shop.js").Shop["machine"]} of.machine
 * @param {number[]} of.accepted numbers of the doubts that were taken on
 * @param {Record<string, any>} of.answers
 * @param {boolean} of.plan whether there is one on the plate
 */
export async function save(kind, { engine, job, unit, machine, accepted, answers, plan }) {
  const [name, type] = FILES[kind];
  try {
    const asked = { kind, inches: unit === "in", machine, accepted, plan, settings: job.settings, hints: job.hints, ...figuresAndScrap(job.cut) };
    const text = kind === "measuring" ? answers.coupon.sheet : await engine.ask(TASKS[kind] ?? "file", asked);
    offerFile(name, text, type);
    if (kind === "job" && job.opening) talk("job.json is saved. It holds the marks, the trace and the cut; say the opening anew.");
  } catch (problem) {
    talk(`Not saved: ${problem instanceof Error ? problem.message : problem}. Nothing else is changed; try it again.`, "failed");
  }
}

/** @param {string} name @param {string} text @param {string} type */
export function offerFile(name, text, type) {
  offer(name, text, type);
  talk(`${name} is saved where this browser saves files.`);
}

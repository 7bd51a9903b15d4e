// The empty plate: what to do first, and what to do where the reader does not start.

import { button, fill, grab, make } from "./dom.js";

/**
 * @param {{ name: string, title: string }[]} demos
 * @param {Record<string, (...given: any[]) => void>} on
 */
export function startWords(demos, on) {
  const demo = (/** @type {{ name: string, title: string }} */ d) => button(`Demo: ${d.title.split(",")[0].toLowerCase()}`, () => on.demo(d.name), { "aria-label": `Demo: ${d.title}` });
  fill(grab("start", HTMLElement), [
    make("h2", {}, "Draw the shape here"),
    make("p", {}, "Rough is fine. Finger, pen or mouse, one stroke or several. Holes are marked with the punch."),
    make("div", { class: "row" }, button("Open a file", on.file), button("From a photo", on.photo), ...demos.slice(0, 2).map(demo), button("Shop jobs", on.jobs)),
  ]);
}

/** @param {unknown} problem */
export function notStarted(problem) {
  const { name, message } = problem instanceof Error ? problem : { name: "", message: String(problem) };
  // The second where a browser has no WebAssembly, or has it switched off.
  if (name === "CompileError" || name === "ReferenceError") return "This browser cannot run the reader: that takes one of 2023 or newer, with WebAssembly switched on. Update it, or open the page in another.";
  return `${sentence(`The reader did not start: ${message}`)} Load the page again.`;
}

/** @param {string} text */
export function sentence(text) {
  const upper = text.charAt(0).toUpperCase() + text.slice(1);
  return /[.!?]$/.test(upper) ? upper : `${upper}.`;
}

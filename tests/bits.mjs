// Compares what tests/bits.sh had made with one another and with the WebAssembly module.

import { readFileSync, readdirSync, existsSync } from "node:fs";
import { join } from "node:path";
import { Bench, initSync } from "../www/pkg/trued_web.js";

const out = process.argv[2];
initSync({ module: readFileSync(new URL("../www/pkg/trued_web_bg.wasm", import.meta.url)) });

// The numbers of all doubts there may be: what is compared is the plan.
const ALL = Uint32Array.from({ length: 100 }, (_, i) => i + 1);
const figures = { kerf: 1.5, feed: 2000, pierce: 0.5, lead: null, thickness: null, hole: 6, width: null, height: null, copies: 1 };
const rounded = (text) => text.replace(/-?\d+\.\d+(e-?\d+)?/g, (n) => String(Math.round(Number(n) * 1e9) / 1e9 + 0));
// The heading names the file that the plan was made of.
const drawing = (text) => rounded(text.split("\n").filter((line) => !line.includes("lengths in mm")).join("\n"));
const read = (...parts) => readFileSync(join(out, ...parts), "utf8");

const wrong = [];
let plans = 0;
let cut = 0;
const names = readdirSync(join(out, "in")).map((n) => n.slice(0, -4)).sort();
for (const name of names) {
  const want = read("checks", `${name}.json`);
  for (const way of ["debug", "one", "many"]) {
    if (read(way, `${name}.json`) !== want) wrong.push(`${name}: another document (${way})`);
  }
  const bench = new Bench();
  const trace = bench.open(`${name}.csv`, readFileSync(join(out, "in", `${name}.csv`)), false);
  bench.hold(trace.points, trace.starts, trace.times, trace.drawn, trace.inches, trace.doubts ?? []);
  bench.read({}, [], null);
  if (bench.document() !== want) wrong.push(`${name}: another document (wasm)`);

  plans += 1;
  const made = (way) => {
    const file = join(out, "plans", way, `${name}.dxf`);
    return existsSync(file) ? drawing(readFileSync(file, "utf8")) : "refused";
  };
  const native = made("checks");
  if (made("debug") !== native) wrong.push(`${name}: another plan (debug)`);
  let wasm = "refused";
  let why = "";
  try {
    bench.plan(figures, new Float64Array(), new Uint32Array(), []);
    wasm = drawing(bench.plan_file("plan-dxf", false, null, ALL));
    cut += 1;
  } catch (refusal) {
    why = `: ${refusal}`;
  }
  if (wasm !== native) wrong.push(`${name}: another plan (wasm)${why}`);
}
for (const sentence of wrong) console.log(sentence);
console.log(`bits: ${names.length} documents the same from debug, optimised, one thread, many and wasm; ${plans} plans (${cut} cut, the rest refused) to 1e-9: ${wrong.length} differ`);
process.exit(wrong.length > 0 || cut < names.length / 2 ? 1 : 0);

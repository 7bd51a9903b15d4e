// Compares what tests/bits.sh had made with one another and with the WebAssembly module.

import { readFileSync, readdirSync, existsSync } from "node:fs";
import { join } from "node:path";
import { Bench, initSync } from "../www/pkg/trued_web.js";

const out = process.argv[2];
initSync({ module: readFileSync(new URL("../www/pkg/trued_web_bg.wasm", import.meta.url)) });

const figures = { kerf: 1.5, feed: 2000, pierce: 0.5, lead: null, thickness: null, hole: 6, width: null, height: null, copies: 1 };
const rounded = (text) => text.replace(/-?\d+\.\d+(e-?\d+)?/g, (n) => String(Math.round(Number(n) * 1e9) / 1e9 + 0));
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
  bench.hold(trace.points, trace.starts, trace.times, trace.drawn);
  bench.read({}, []);
  if (bench.document() !== want) wrong.push(`${name}: another document (wasm)`);

  plans += 1;
  const made = (way) => {
    const file = join(out, "checks", `${name}.${way}.dxf`);
    return existsSync(file) ? rounded(readFileSync(file, "utf8")) : `refused: ${read("checks", `${name}.${way}.said`).replace(/^.*?\.json: /, "")}`;
  };
  const native = made("checks");
  if (made("debug") !== native) wrong.push(`${name}: another plan (debug)`);
  let wasm;
  try {
    bench.plan(figures, new Float64Array(), new Uint32Array(), undefined);
    wasm = rounded(bench.plan_file("plan-dxf", false));
    cut += 1;
  } catch {
    wasm = null;
  }
  if (wasm === null ? !native.startsWith("refused") : wasm !== native) wrong.push(`${name}: another plan (wasm)`);
}
for (const sentence of wrong) console.log(sentence);
console.log(`bits: ${names.length} documents the same from debug, optimised, one thread, many and wasm; ${plans} plans (${cut} cut, the rest refused) to 1e-9: ${wrong.length} differ`);
process.exit(wrong.length > 0 || cut < names.length / 2 ? 1 : 0);

// The library's side of the page: a worker, so that a long trace never freezes the plate.

import { Bench, initSync, cautions } from "./pkg/trued_web.js";

/** @type {Bench | null} */
let bench = null;

/** @type {Record<string, (bench: Bench, asked: any) => any>} */
const TASKS = {
  read(bench, { trace, settings, hints }) {
    if (trace) bench.hold(trace.points, trace.starts, trace.times, trace.drawn);
    return bench.read(settings, hints);
  },
  open: (bench, { name, bytes, inches }) => bench.open(name, bytes, inches),
  plan: (bench, { figures, scrap }) =>
    bench.plan(figures, scrap?.points ?? new Float64Array(), scrap?.starts ?? new Uint32Array(), scrap?.drawn),
  file(bench, { kind, inches }) {
    const text = bench.plan_file(kind, inches);
    if (text === undefined) throw new Error("there is no plan yet");
    return text;
  },
  document: (bench) => bench.document(),
  job: (bench, { settings, hints }) => bench.job(settings, hints),
  svg: (bench, { inches }) => bench.svg(inches),
  dxf: (bench, { inches }) => bench.dxf(inches),
  cautions: () => cautions(),
};

self.onmessage = (event) => {
  const { id, task, asked } = event.data;
  try {
    if (task === "start") {
      initSync({ module: asked.module });
      bench = new Bench();
      self.postMessage({ id, value: null });
      return;
    }
    if (!bench) throw new Error("not started");
    const value = TASKS[task](bench, asked);
    const moved = value?.points instanceof Float64Array ? [value.points.buffer, value.starts.buffer, value.times.buffer] : [];
    self.postMessage({ id, value }, { transfer: moved });
  } catch (problem) {
    // A refusal is an answer. Anything the module itself broke on leaves it unfit for more.
    const broken = problem instanceof WebAssembly.RuntimeError || problem instanceof RangeError;
    self.postMessage({ id, refused: problem instanceof Error ? problem.message : String(problem), broken });
  }
};

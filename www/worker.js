// The library's side of the page: a worker, so that a long trace never freezes the plate.

import { Bench, arm, caution_line, cautions, coupon_says, coupon_sheet, initSync, keep_material, materials, profile, profile_text, square } from "./pkg/trued_web.js";

/** @type {Bench | null} */
let bench = null;

/** @type {Record<string, (bench: Bench, asked: any) => any>} */
const TASKS = {
  read: (bench, { settings, hints, opening }) => bench.read(settings, hints, opening),
  warm: (_, { points }) => {
    const other = new Bench();
    other.hold(points, Uint32Array.of(0), new Float64Array(), [], false, []);
    other.read({ hand: "drawn" }, [], null);
    other.free();
  },
  retip: (bench, { arm, believed, actual }) => bench.retip(arm, believed, actual),
  open: (bench, { name, bytes, inches }) => bench.open(name, bytes, inches),
  plan: (bench, { figures, scrap }) => bench.plan(figures, ...taken(scrap)),
  blanks: (bench, { figures, scrap }) => bench.blanks(figures, ...taken(scrap)),
  coupon: (bench, { coupon }) => bench.coupon(coupon),
  couponSays: (_, { measured }) => coupon_says(measured),
  couponSheet: (_, { text }) => coupon_sheet(text),
  square: (_, { measured, used }) => square(measured, used),
  arm: (_, { rows, asked }) => arm(rows, asked),
  profile: (_, { text }) => profile(text),
  profileText: (_, { machine }) => profile_text(machine),
  materials: (_, { book }) => materials(book),
  keepMaterial: (_, { book, row }) => keep_material(book, row),
  file(bench, { kind, inches, machine, accepted, plan }) {
    if (kind === "look" && !plan) return bench.look(inches);
    const text = bench.plan_file(kind, inches, machine, Uint32Array.from(accepted ?? []));
    if (text === undefined) throw new Error("there is no plan yet");
    return text;
  },
  document: (bench) => bench.document(),
  job: (bench, { settings, hints, figures, scrap }) => bench.job(settings, hints, figures, ...taken(scrap)),
  svg: (bench, { inches, machine }) => bench.svg(inches, machine),
  dxf: (bench, { inches, machine }) => bench.dxf(inches, machine),
  cautions: () => ({ line: caution_line(), all: cautions() }),
};

/** A traced scrap as the library takes it. @param {any} scrap @returns {[Float64Array, Uint32Array, any]} */
function taken(scrap) {
  return [scrap?.points ?? new Float64Array(), scrap?.starts ?? new Uint32Array(), scrap?.drawn];
}

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
    const { trace } = asked;
    if (trace) bench.hold(trace.points, trace.starts, trace.times, trace.drawn, trace.inches, trace.doubts);
    const value = TASKS[task](bench, asked);
    const moved = value?.points instanceof Float64Array ? [value.points.buffer, value.starts.buffer, value.times.buffer] : [];
    self.postMessage({ id, value }, { transfer: moved });
  } catch (problem) {
    // A refusal is an answer. Anything the module itself broke on leaves it unfit for more.
    const broken = problem instanceof WebAssembly.RuntimeError || problem instanceof RangeError;
    self.postMessage({ id, refused: problem instanceof Error ? problem.message : String(problem), broken });
  }
};

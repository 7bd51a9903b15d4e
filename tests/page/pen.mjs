// From pen-up to the outline on the plate, over the scoreboard's shapes at 1,000 points each: `npm run pen` in tests/page
// (`npm run pen -- ordinary 2 5`: which hand, the seed, and how many strokes a shape; `-- … file` in the one file).
// Each shape is drawn on a page just opened, a second after it is ready: its first outline, which a browser has to make
// fast code for; then other lines of that shape, each after an undo. Of each span, how much is the reading itself, by the
// worker's own clock; the rest is what the page costs. The span ends when the outline is painted on its canvas.

import { execFileSync } from "node:child_process";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { browse, hearReadings, median, openPage, root, serve, target } from "./support.mjs";

const [hand = "ordinary", seed = "1", again = "5", where = "folder"] = process.argv.slice(2);
const COUNT = 1_000;
/** Where on the screen nothing hides a piece, so that the view stands still: px. */
const ROOM = { left: 120, top: 140, width: 760, height: 560 };
const PX_PER_MM = 2;
/** A person takes this long to begin, ms. */
const PAUSE = 1_000;

const families = [...readFileSync(join(root, "tests/src/shapes.rs"), "utf8").matchAll(/^ {8}name: "([^"]+)"/gm)].map((m) => m[1]);

/** A shape's trace, of those the one with that number, as so many places of the screen. */
function course(family, number) {
  const text = execFileSync(join(target, "checks/scoreboard"), ["--dump", family, String(number), "--hand", hand], { encoding: "utf8" });
  const rows = text.split("\n").filter((l) => /^[-\d]/.test(l)).map((l) => l.split(",").slice(0, 2).map(Number));
  const points = Array.from({ length: COUNT }, (_, i) => {
    const at = (i / (COUNT - 1)) * (rows.length - 1);
    const [a, b] = [rows[Math.floor(at)], rows[Math.min(Math.ceil(at), rows.length - 1)]];
    return [0, 1].map((k) => a[k] + (b[k] - a[k]) * (at % 1));
  });
  const [xs, ys] = [0, 1].map((k) => points.map((p) => p[k]));
  const size = [Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
  const k = Math.min(PX_PER_MM, ROOM.width / size[0], ROOM.height / size[1]);
  return points.map(([x, y]) => [ROOM.left + k * (x - Math.min(...xs)), ROOM.top + k * (Math.max(...ys) - y)]);
}

const server = await serve();
const address = where === "file" ? `file://${join(target, "trued.html")}` : server.address;
const lines = [];
for (const family of families) {
  const browser = await browse();
  await hearReadings(browser.context);
  const page = await openPage(browser.context, address);
  await page.waitForTimeout(PAUSE);
  const spans = await page.evaluate(async (courses) => {
    const plate = document.getElementById("plate");
    const send = (type, [clientX, clientY]) => plate.dispatchEvent(new PointerEvent(type, { pointerId: 7, pointerType: "pen", clientX, clientY, button: 0, bubbles: true }));
    const read = () => Number(document.documentElement.dataset.read ?? 0);
    const task = () => new Promise((done) => { const c = new MessageChannel(); c.port1.onmessage = done; c.port2.postMessage(0); });
    const spans = [];
    for (const points of courses) {
      send("pointerdown", points[0]);
      for (const p of points.slice(1)) send("pointermove", p);
      for (let f = 0; f < 3; f += 1) await new Promise(requestAnimationFrame);
      const before = read();
      const start = performance.now();
      send("pointerup", points.at(-1));
      while (read() === before) await task();
      const shown = performance.now() - start;
      await new Promise(requestAnimationFrame);
      await task();
      spans.push({ shown, painted: performance.now() - start, reading: window.took });
      document.querySelector('[data-key="undo"]').click();
      await new Promise((done) => setTimeout(done, 150));
    }
    return spans;
  }, Array.from({ length: 1 + Number(again) }, (_, k) => course(family, Number(seed) + k)));
  await browser.close();
  const [first, ...later] = spans;
  const of = (key) => median(later.map((s) => s[key]));
  lines.push({ family, first, later: { shown: of("shown"), painted: of("painted"), reading: of("reading") } });
  const one = (s) => `${s.shown.toFixed(1)} ms (painted ${s.painted.toFixed(1)}, reading ${s.reading.toFixed(1)})`;
  console.log(`${family.padEnd(24)} first ${one(first)}   later ${one(lines.at(-1).later)}`);
}
for (const which of ["first", "later"]) {
  const [shown, painted, reading] = ["shown", "painted", "reading"].map((key) => median(lines.map((l) => l[which][key])).toFixed(1));
  console.log(`pen-up to outline, ${COUNT} points, ${hand} hand, ${lines.length} shapes, ${which}: median ${shown} ms, painted ${painted} ms, of which ${reading} ms the reading`);
}
server.stop();
process.exit(0);

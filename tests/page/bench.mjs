// How fast the page is, printed: `npm run bench` in tests/page.
// From pen-up to the outline on the plate, for lines of 1,000 and 10,000 points, and how much of it is the
// reading itself; the time to be ready; the time between frames while a line of 100,000 points grows, and
// while the plate moves under a trace of as many (`npm run bench -- 1000000`: of so many); the weights.

import { browse, give, hearReadings, median, openPage, readAfter, serve, share, wobbly } from "./support.mjs";

const traced = Number(process.argv[2] ?? 100_000);
const server = await serve();
console.log(server.said.trim());
const browser = await browse();
await hearReadings(browser.context);

const ready = [];
for (let i = 0; i < 5; i += 1) {
  const start = Date.now();
  const page = await openPage(browser.context, server.address);
  ready.push(Date.now() - start);
  await page.close();
}
console.log(`ready: median ${median(ready)} ms`);

const page = await openPage(browser.context, server.address);
/** Sends pointer events from inside the page, so that what is timed is the page and not the driver. */
const pen = (count, times) =>
  page.evaluate(
    async ({ count, times }) => {
      const plate = document.getElementById("plate");
      const send = (type, x, y) =>
        plate.dispatchEvent(new PointerEvent(type, { pointerId: 7, pointerType: "pen", clientX: x, clientY: y, button: 0, bubbles: true }));
      const at = (i) => {
        const s = (i / count) * 4;
        const [x, y] = s < 1 ? [s, 0] : s < 2 ? [1, s - 1] : s < 3 ? [3 - s, 1] : [0, 4 - s];
        return [300 + 500 * x + Math.sin(i / 9), 200 + 400 * y + Math.cos(i / 7)];
      };
      const read = () => Number(document.documentElement.dataset.read ?? 0);
      const spans = [];
      for (let k = 0; k < times; k += 1) {
        send("pointerdown", ...at(0));
        for (let i = 1; i < count; i += 1) send("pointermove", ...at(i));
        // What was drawn before the pen is lifted is on the plate by then.
        for (let f = 0; f < 2; f += 1) await new Promise(requestAnimationFrame);
        const before = read();
        const start = performance.now();
        send("pointerup", ...at(count - 1));
        while (read() === before) await new Promise((done) => { const c = new MessageChannel(); c.port1.onmessage = done; c.port2.postMessage(0); });
        spans.push([performance.now() - start, window.took]);
        document.querySelector('[data-key="undo"]').click();
        await new Promise((done) => setTimeout(done, 120));
      }
      return spans;
    },
    { count, times },
  );
for (const count of [1_000, 10_000]) {
  await pen(count, 3);
  const spans = await pen(count, 11);
  const [whole, reading] = [0, 1].map((i) => median(spans.map((s) => s[i])));
  console.log(`pen-up to outline, ${count} points: median ${whole.toFixed(1)} ms, of which ${reading.toFixed(1)} ms the reading`);
}

const frames = await page.evaluate(async () => {
  const plate = document.getElementById("plate");
  const send = (type, x, y) => plate.dispatchEvent(new PointerEvent(type, { pointerId: 7, clientX: x, clientY: y, button: 0, bubbles: true }));
  send("pointerdown", 500, 400);
  const gaps = [];
  const work = [];
  let last = await new Promise(requestAnimationFrame);
  for (let i = 0; i < 100_000; ) {
    const start = performance.now();
    for (let k = 0; k < 500; k += 1, i += 1) send("pointermove", 700 + 300 * Math.cos(i / 900) + (i % 7), 400 + 250 * Math.sin(i / 777) + (i % 5));
    work.push(performance.now() - start);
    const now = await new Promise(requestAnimationFrame);
    gaps.push(now - last);
    last = now;
  }
  send("pointercancel", 500, 400);
  return { gaps, work };
});
console.log(`drawing 100,000 points: median ${median(frames.gaps).toFixed(1)} ms between frames, longest ${Math.max(...frames.gaps).toFixed(1)} ms, of which ${median(frames.work).toFixed(1)} ms for 500 points a frame`);

const [w, h] = [400, 250];
const course = wobbly([[0, 0], [w, 0], [w, h], [0, h]], { step: (2 * (w + h)) / traced, wander: 0.1 });
await readAfter(page, () => give(page, "long.csv", `x,y\n${course.map((p) => p.map((v) => v.toFixed(3)).join()).join("\n")}\n`));
/** The times between frames while the wheel turns in each of them. */
const turning = (wheel) =>
  page.evaluate(async (wheel) => {
    const plate = document.getElementById("plate");
    const gaps = [];
    let last = await new Promise(requestAnimationFrame);
    for (let i = 0; i < 120; i += 1) {
      // There, and back again.
      const deltaY = i < 60 ? wheel.deltaY : -wheel.deltaY;
      plate.dispatchEvent(new WheelEvent("wheel", { ...wheel, deltaY, clientX: 250, clientY: 300, bubbles: true, cancelable: true }));
      const now = await new Promise(requestAnimationFrame);
      gaps.push(now - last);
      last = now;
    }
    return gaps;
  }, wheel);
for (const [name, wheel] of [["moving", { deltaY: 8, shiftKey: true }], ["zooming", { deltaY: -40 }]]) {
  const gaps = await turning(wheel);
  console.log(`${name} the plate under ${course.length} points: median ${median(gaps).toFixed(1)} ms between frames, 19 of 20 within ${share(gaps, 0.95).toFixed(1)} ms, longest ${Math.max(...gaps).toFixed(1)} ms`);
}
await browser.close();
server.stop();
process.exit(0);

// How fast the page is, printed: `npm run bench` in tests/page.
// From pen-up to the outline on the plate, for lines of 1,000 and 10,000 points; the time to be ready;
// the time between frames while a line of 100,000 points grows; the weights.

import { browse, openPage, readAfter, serve } from "./support.mjs";

const median = (list) => list.toSorted((a, b) => a - b)[Math.floor(list.length / 2)];
const server = await serve();
console.log(server.said.trim());
const browser = await browse();

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
        const before = read();
        const start = performance.now();
        send("pointerup", ...at(count - 1));
        while (read() === before) await new Promise((done) => { const c = new MessageChannel(); c.port1.onmessage = done; c.port2.postMessage(0); });
        spans.push(performance.now() - start);
        document.querySelector('[data-key="undo"]').click();
        await new Promise((done) => setTimeout(done, 120));
      }
      return spans;
    },
    { count, times },
  );
for (const count of [1_000, 10_000]) {
  await pen(count, 3);
  console.log(`pen-up to outline, ${count} points: median ${median(await pen(count, 11)).toFixed(1)} ms`);
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
await readAfter(page, () => Promise.resolve(page.locator("#file").setInputFiles({ name: "a.csv", mimeType: "text/csv", buffer: Buffer.from("x,y\n0,0\n100,0\n100,60\n0,60\n") })));
await browser.close();
server.stop();
process.exit(0);

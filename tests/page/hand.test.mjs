// The hand is respected: what is drawn stays, what is tapped is only looked at, a palm is none.

import assert from "node:assert/strict";
import { RECTANGLE, draw, give, outline, readAfter, ring, saved, served, take, wobbly } from "./support.mjs";

const { inBrowser } = served();

/** The job as the page would save it. */
async function job(page) {
  const shut = page.locator("#chit [data-key=shut]");
  if (await shut.isVisible()) await shut.click();
  await page.locator('#tag [data-key="save"]').click();
  const text = await saved(page, "Job");
  await page.locator('#tag [data-key="back"]').click();
  return JSON.parse(text);
}

const pause = (page) => page.waitForTimeout(500);

inBrowser("a line drawn here is set down as drawn, one of a file as the file says, and a tap changes it", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  assert.equal((await job(page)).settings.hand, "drawn");
  assert.equal(await page.locator('#tag [data-key="drawn"]').getAttribute("aria-pressed"), "true");
  await readAfter(page, () => page.locator('#tag [data-key="traced"]').click());
  const said = await job(page);
  assert.equal(said.settings.hand, "traced");
  await readAfter(page, () => draw(page, ring(550, 425, 60)));
  assert.equal((await job(page)).settings.hand, "traced", "drawing on changes nothing that was said");
  await readAfter(page, () => give(page, "line.csv", "x,y\n0,0\n40,0.2\n80,0\n80,50\n40,50.1\n0,50\n0,0\n"));
  assert.equal((await job(page)).settings.hand ?? "unsaid", "unsaid");
  await readAfter(page, () => give(page, "job.json", JSON.stringify(said)));
  assert.equal((await job(page)).settings.hand, "traced");
});

inBrowser("a tap looks and never marks, unless the punch is in hand; its echo does nothing", {}, async (page) => {
  const marks = async () => JSON.parse(await outline(page)).marks.length;
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  const before = await outline(page);
  for (const hand of ["look", "draw"]) {
    await take(page, hand);
    for (const at of [[150, 150], [550, 425], [950, 700]]) {
      await page.mouse.click(...at);
      await page.mouse.dblclick(...at);
      await pause(page);
    }
    assert.equal(await outline(page), before, hand);
  }
  // A size label opens its edge.
  await page.mouse.click(550, 232);
  await page.locator("#chit h2", { hasText: /^Edge/ }).waitFor();
  await take(page, "mark");
  await readAfter(page, () => page.mouse.click(450, 400));
  await pause(page);
  await readAfter(page, () => page.mouse.dblclick(600, 400));
  await pause(page);
  assert.equal(await marks(), 2);
  // On a mark that is there the punch looks.
  await page.mouse.click(450, 400);
  await page.locator("#chit h2", { hasText: /^Mark/ }).waitFor();
  await pause(page);
  assert.equal(await marks(), 2);
});

/** Sends pointer events as a pen and a hand would. */
async function pointers(page, events) {
  await page.evaluate((events) => {
    const plate = document.getElementById("plate");
    for (const [type, id, kind, x, y] of events) {
      plate.dispatchEvent(new PointerEvent(`pointer${type}`, { pointerId: id, pointerType: kind, clientX: x, clientY: y, button: type === "move" ? -1 : 0, buttons: 1, bubbles: true, width: kind === "touch" ? 40 : 1, height: kind === "touch" ? 40 : 1 }));
    }
  }, events);
}

const along = (id, kind, course) => course.map(([x, y]) => ["move", id, kind, x, y]);

inBrowser("a palm before, during and after a pen's stroke leaves the stroke and nothing else", {}, async (page) => {
  const course = wobbly(RECTANGLE);
  const half = Math.floor(course.length / 2);
  const palm = (x, y) => [["down", 5, "touch", x, y], ["move", 5, "touch", x + 12, y + 4], ["move", 5, "touch", x + 18, y - 9]];
  await readAfter(page, () =>
    pointers(page, [
      ...palm(700, 700),
      ["down", 1, "pen", ...course[0]],
      ...along(1, "pen", course.slice(1, half)),
      ["move", 5, "touch", 640, 720],
      ["down", 6, "touch", 820, 740],
      ["move", 6, "touch", 860, 700],
      ...along(1, "pen", course.slice(half)),
      ["up", 5, "touch", 640, 720],
      ["up", 1, "pen", ...course.at(-1)],
      ["up", 6, "touch", 860, 700],
      ["down", 7, "touch", 500, 720],
      ["move", 7, "touch", 700, 760],
      ["up", 7, "touch", 700, 760],
    ]));
  const { trace } = await job(page);
  assert.equal(trace.strokes.length, 1);
  assert.equal(JSON.parse(await outline(page)).loops[0].edges.length, 4);
});

inBrowser("a second finger amid a stroke is a palm; what the system breaks off is kept until undone", {}, async (page) => {
  const course = wobbly(RECTANGLE);
  await readAfter(page, async () => {
    await pointers(page, [["down", 1, "touch", ...course[0]], ...along(1, "touch", course.slice(1, 60))]);
    await page.waitForTimeout(300);
    await pointers(page, [["down", 2, "touch", 700, 700], ["move", 2, "touch", 760, 640], ...along(1, "touch", course.slice(60)), ["up", 2, "touch", 760, 640], ["up", 1, "touch", ...course.at(-1)]]);
  });
  const before = await outline(page);
  assert.equal(JSON.parse(before).loops[0].edges.length, 4);
  const open = ring(550, 425, 70).slice(0, 40);
  await readAfter(page, () => pointers(page, [["down", 3, "touch", ...open[0]], ...along(3, "touch", open), ["cancel", 3, "touch", ...open.at(-1)]]));
  assert.equal((await job(page)).trace.strokes.length, 2);
  await readAfter(page, () => page.locator('[data-key="undo"]').click());
  assert.equal(await outline(page), before);
});

inBrowser("the rag takes the stretch it goes over, and undo brings it back", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  const before = await job(page);
  const length = (strokes) => strokes.reduce((sum, s) => sum + s.points.slice(1).reduce((l, p, i) => l + Math.hypot(p[0] - s.points[i][0], p[1] - s.points[i][1]), 0), 0);
  await take(page, "rub");
  await readAfter(page, () => draw(page, [[500, 240], [540, 252], [600, 248]]));
  const left = await job(page);
  const gone = length(before.trace.strokes) - length(left.trace.strokes);
  // 100 pixels and the rag's own width are some 60 mm at two pixels a mm.
  assert.ok(gone > 45 && gone < 75, `${gone} mm`);
  assert.equal(left.trace.strokes.length, 2);
  for (const s of left.trace.strokes) for (const [x, y] of s.points) assert.ok(before.trace.strokes[0].points.some((p) => Math.hypot(p[0] - x, p[1] - y) < 2.2));
  await readAfter(page, () => page.locator('[data-key="undo"]').click());
  assert.deepEqual((await job(page)).trace, before.trace);
  // A rag that goes over nothing says nothing.
  await draw(page, [[100, 700], [200, 720]]);
  assert.deepEqual((await job(page)).trace, before.trace);
});

for (const colorScheme of ["dark", "light"]) {
  inBrowser(`hand and outline are told apart from the plate and from each other in the ${colorScheme}`, { colorScheme }, async (page) => {
    await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
    await page.waitForTimeout(200);
    const lowest = () =>
      page.evaluate(() => {
        const style = getComputedStyle(document.documentElement);
        const probe = document.createElement("canvas").getContext("2d");
        const rgba = (color) => {
          probe.clearRect(0, 0, 1, 1);
          probe.fillStyle = color;
          probe.fillRect(0, 0, 1, 1);
          return [...probe.getImageData(0, 0, 1, 1).data];
        };
        const over = ([r, g, b, a], under) => [r, g, b].map((v, i) => (v * a + under[i] * (255 - a)) / 255);
        const light = (rgb) => rgb.slice(0, 3).map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)).reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
        const contrast = (a, b) => (Math.max(light(a), light(b)) + 0.05) / (Math.min(light(a), light(b)) + 0.05);
        const steel = ["--steel-1", "--steel-2"].map((name) => rgba(style.getPropertyValue(name)));
        const dyed = steel.map((s) => over(rgba(style.getPropertyValue("--dye")), s));
        const canvas = document.getElementById("chalk");
        const { data } = canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height);
        const sum = [0, 0, 0, 0];
        let n = 0;
        for (let i = 0; i < data.length; i += 4) {
          if (data[i + 3] < 100) continue;
          for (let k = 0; k < 4; k += 1) sum[k] += data[i + k];
          n += 1;
        }
        const ink = sum.map((v) => v / n);
        const scribe = rgba(style.getPropertyValue("--scribe"));
        const grounds = [...steel, ...dyed];
        return { hand: Math.min(...grounds.map((g) => contrast(over(ink, g), g))), outline: Math.min(...grounds.map((g) => contrast(scribe, g))) };
      });
    const both = await lowest();
    assert.ok(both.hand >= 3 && both.outline >= 3, JSON.stringify(both));
    // Held, by finger or by key, only the hand's line is left; let go, the outline is back.
    const scribed = (yes) =>
      page.waitForFunction((yes) => {
        const canvas = document.getElementById("scribe");
        return canvas.getContext("2d").getImageData(0, 0, canvas.width, canvas.height).data.some((v) => v > 0) === yes;
      }, yes);
    await page.locator("#compare").hover();
    await page.mouse.down();
    await scribed(false);
    await page.mouse.up();
    await scribed(true);
    await page.locator("#plate").focus();
    await page.keyboard.down("c");
    await scribed(false);
    await page.keyboard.up("c");
    await scribed(true);
  });
}

// What the person in the shop does, done in a real browser.

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync, readdirSync, statSync } from "node:fs";
import { join } from "node:path";
import { test } from "node:test";
import { gunzipSync, gzipSync } from "node:zlib";
import { pairs, polylines, runProgram } from "./readers.mjs";
import { RECTANGLE, accessible, browse, draw, fillCut, give, openDemo, openPage, outline, picture, readAfter, ring, root, saved, served, settled, target, wobbly } from "./support.mjs";

const { inBrowser, server } = served();

/** Interior angles at the corners of a loop of straight edges, degrees. */
function angles(loop) {
  return loop.edges.map((edge, i) => {
    const a = loop.edges.at(i - 1).line;
    const b = edge.line;
    const turn = Math.atan2(b.to[1] - b.from[1], b.to[0] - b.from[0]) - Math.atan2(a.to[1] - a.from[1], a.to[0] - a.from[0]);
    return 180 - Math.abs((Math.atan2(Math.sin(turn), Math.cos(turn)) * 180) / Math.PI);
  });
}

inBrowser("a wobbly rectangle gives four edges and four corners at 90 degrees", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  const { loops } = JSON.parse(await outline(page));
  assert.equal(loops.length, 1);
  assert.equal(loops[0].edges.length, 4);
  assert.ok(loops[0].closed && loops[0].edges.every((e) => e.line));
  for (const angle of angles(loops[0])) assert.ok(Math.abs(angle - 90) < 1e-7, `${angle}`);
});

inBrowser("a ring gives a circle", {}, async (page) => {
  await readAfter(page, () => draw(page, ring(500, 430, 160)));
  const { loops } = JSON.parse(await outline(page));
  assert.equal(loops.length, 1);
  assert.equal(loops[0].edges.length, 1);
  assert.ok(Math.abs(loops[0].edges[0].arc.sweep) > 6.28);
  assert.ok(Math.abs(loops[0].edges[0].arc.radius - 80) < 1.5);
});

inBrowser("a reading says how long it took", {}, async (page) => {
  const took = await page.evaluate(async () => {
    const { Engine } = await import("./engine.js");
    const engine = new Engine();
    await engine.start();
    const points = Float64Array.from({ length: 200 }, (_, i) => (i % 2 ? Math.sin(i / 32) : Math.cos(i / 32)) * 40);
    return (await engine.read({ trace: { strokes: [{ points, times: null }], drawn: [] }, settings: {}, hints: [], opening: null })).took;
  });
  assert.ok(took > 0 && took < 10_000, `${took} ms`);
});

inBrowser("four taps and a rough ring give a ring with four holes of the diameter said", {}, async (page) => {
  await readAfter(page, () => draw(page, ring(500, 430, 200)));
  const taps = [[400, 330], [600, 330], [600, 530], [400, 530]];
  await page.locator('[data-key="mark"]').click();
  for (const at of taps) await readAfter(page, () => page.mouse.click(...at));
  assert.equal(JSON.parse(await outline(page)).marks.length, 4);
  for (const at of taps) {
    await page.mouse.click(...at);
    await page.locator("#chit .blank input").fill("8");
    await readAfter(page, () => page.locator("#chit .blank input").press("Enter"));
  }
  const { loops, marks } = JSON.parse(await outline(page));
  const holes = loops.filter((l) => l.role === "hole");
  assert.equal(marks.length, 0);
  assert.equal(holes.length, 4);
  for (const hole of holes) assert.ok(Math.abs(hole.edges[0].arc.radius - 4) < 1e-9);
});

inBrowser("a hint changes the outline and undo restores the bytes", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  const plain = await outline(page);
  await page.mouse.click(300, 425);
  await page.locator("#chit .blank input").fill("180");
  await readAfter(page, () => page.locator("#chit .blank input").press("Enter"));
  const said = await outline(page);
  assert.notEqual(said, plain);
  const lengths = JSON.parse(said).loops[0].edges.map(({ line }) => Math.hypot(line.to[0] - line.from[0], line.to[1] - line.from[1]));
  assert.ok(lengths.some((l) => Math.abs(l - 180) < 1e-6), `${lengths}`);
  await readAfter(page, () => page.locator('[data-key="undo"]').click());
  assert.equal(await outline(page), plain);
  await readAfter(page, () => page.locator('[data-key="redo"]').click());
  assert.equal(await outline(page), said);
  await readAfter(page, () => page.locator('[data-key="drop0"]').click());
  assert.equal(await outline(page), plain);
});

inBrowser("a size being written on the slip outlives a reading that ends meanwhile", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  await readAfter(page, () => draw(page, ring(500, 430, 50)));
  await page.mouse.click(300, 425);
  await page.locator("#chit input").pressSequentially("18");
  await readAfter(page, () => page.evaluate(() => document.querySelector(`[data-key="undo"]`).click()));
  await page.keyboard.type("0");
  assert.equal(await page.locator("#chit input").inputValue(), "180");
  await readAfter(page, () => page.keyboard.press("Enter"));
  assert.ok(await page.locator("#chit").isHidden());
  const { loops } = JSON.parse(await outline(page));
  const lengths = loops[0].edges.map(({ line }) => Math.hypot(line.to[0] - line.from[0], line.to[1] - line.from[1]));
  assert.equal(loops.length, 1);
  assert.ok(lengths.some((l) => Math.abs(l - 180) < 1e-6), `${lengths}`);
});

/** Says something of what lies at a place of the screen. */
async function say(page, at, button, { whole = false, fill = "" } = {}) {
  await page.mouse.click(...at);
  await page.locator("#chit").waitFor();
  if (whole) await page.locator("#chit").getByRole("button", { name: "The whole loop…" }).click();
  if (fill) await page.locator("#chit .blank input").fill(fill);
  await readAfter(page, () => page.locator("#chit").getByRole("button", { name: button, exact: true }).click());
}

inBrowser("hints on edges, corners and loops change the outline, and undo restores the bytes each time", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  const plain = await outline(page);
  const loop = async () => JSON.parse(await outline(page)).loops[0];
  const undo = async () => {
    await readAfter(page, () => page.locator('[data-key="undo"]').click());
    assert.equal(await outline(page), plain);
  };
  await say(page, [550, 250], "Arc");
  assert.ok((await loop()).edges.some((e) => e.arc));
  await undo();
  await say(page, [550, 250], "Hole", { whole: true });
  assert.equal((await loop()).role, "hole");
  await undo();
  await say(page, [550, 250], "Circle", { whole: true });
  assert.equal((await loop()).edges.length, 1);
  await undo();
  await say(page, [800, 250], "Keep the traced angle");
  await say(page, [300, 250], "Sharp");
  assert.equal(await page.locator('#tag [data-key^="drop"]').count(), 2);
});

inBrowser("a corner that is said to be rounded has that radius", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  await say(page, [800, 250], "Round it", { fill: "20" });
  const rounded = JSON.parse(await outline(page)).loops[0].edges.filter((e) => e.arc);
  assert.equal(rounded.length, 1);
  assert.ok(Math.abs(rounded[0].arc.radius - 20) < 1e-6, `${rounded[0].arc.radius}`);
});

inBrowser("the job is there again after a reload, the small and the large", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  const before = await outline(page);
  await page.reload();
  await settled(page);
  assert.equal(await outline(page), before);
  await readAfter(page, () => give(page, "long.csv", long(30_000)));
  const large = await outline(page);
  await page.waitForTimeout(300);
  await page.reload();
  await settled(page);
  assert.equal(await outline(page), large);
});

inBrowser("a job is kept through full storage, or the page says that it is not", {}, async (page) => {
  await page.evaluate(() => {
    Storage.prototype.setItem = () => { throw new DOMException("full", "QuotaExceededError"); };
  });
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  const before = await outline(page);
  await page.waitForTimeout(300);
  await page.reload();
  await settled(page);
  assert.equal(await outline(page), before);
  await page.evaluate(() => {
    Storage.prototype.setItem = () => { throw new DOMException("full", "QuotaExceededError"); };
    IDBFactory.prototype.open = () => { throw new DOMException("full", "QuotaExceededError"); };
  });
  await page.locator('[data-key="draw"]').click();
  await draw(page, ring(500, 420, 60));
  await page.locator("#talk", { hasText: "no room to keep the job" }).waitFor();
});

inBrowser("each saved file is read back", {}, async (page) => {
  await openDemo(page, "vent_collar.csv");
  const doc = JSON.parse(await outline(page));
  const perimeter = doc.loops.flatMap((l) => l.edges).reduce((sum, e) => sum + edgeLength(e), 0);
  await fillCut(page);
  await page.locator('#tag [data-key="save"]').click();
  const svg = await saved(page, "SVG");
  const { length: measured } = await measure(page, svg, "path, circle, line, polyline");
  assert.ok(Math.abs(measured - perimeter) < 1e-3 * perimeter + doc.marks.length * 20, `${measured} for ${perimeter}`);
  const circles = pairs(await saved(page, "DXF")).filter(([code, value]) => code === 0 && value === "CIRCLE").length;
  assert.ok(circles >= 2);
  const job = JSON.parse(await saved(page, "Job"));
  assert.equal(job.trued_job, 1);
  const program = runProgram(await saved(page, "RS-274"));
  assert.ok(program.lit > 0.95 * perimeter && program.lit < 1.2 * perimeter, `${program.lit} for ${perimeter}`);
  assert.equal(runProgram(await saved(page, "Dry run")).lit, 0);
  // Each once: a browser stops a page that saves more than ten files at a go.
  const printed = {};
  for (const kind of ["Sheet", "Template", "Plan SVG"]) {
    const text = await saved(page, kind);
    printed[kind] = text;
    assert.match(text, /<svg[\s\S]*<\/svg>/, kind);
    assert.match(text, /fumes/i, kind);
  }
  // The torch's path is one and the same in all three: by RS-274, by bulges, by the browser's own measure.
  const byBulges = polylines(await saved(page, "Plan DXF"));
  assert.ok(Math.abs(byBulges - program.lit) < 0.01, `${byBulges} for ${program.lit}`);
  const plan = await measure(page, printed["Plan SVG"], "[id^=cut-] path, [id^=cut-] circle, [id^=lead] path");
  assert.ok(Math.abs(plan.length - program.lit) < 0.02 * program.lit, `${plan.length} for ${program.lit}`);
  assert.ok(Math.abs(plan.perMm - 1) < 1e-6);
  const [, paper, box] = /<svg class="page"[^>]* width="([\d.]+)mm"[^>]* viewBox="0 0 ([\d.]+) /.exec(printed.Template);
  assert.equal(paper, box, "the template is 1:1");
  assert.equal(await page.locator("#tag .cautions li").count(), 11);
  assert.match(await page.locator("#tag .caution").innerText(), /fumes.*dry run first/);
  await give(page, "job.json", JSON.stringify(job));
  await page.waitForTimeout(500);
  assert.deepEqual(JSON.parse(await outline(page)).loops, doc.loops);
});

inBrowser("a bad file shows its sentence and loses nothing", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  const before = await outline(page);
  for (const [name, text, said] of [
    ["bad.csv", "x,y\n1,2\n3,four\n", /bad\.csv: line 3/],
    ["empty.csv", "", /empty/],
    ["cut.svg", "<svg xmlns='http://www.w3.org/2000/svg'><path d='M0 0", /cut\.svg/],
    ["<img src=x onerror=alert(1)>.csv", "x,y\n<b>,2\n", /<img src=x/],
  ]) {
    await give(page, name, text);
    await page.locator('#talk[data-how="failed"]', { hasText: said }).waitFor();
    assert.equal(await page.locator("#talk img, #talk b").count(), 0);
    assert.equal(await outline(page), before, name);
  }
});

test("the hand's line looks the same drawn by the library and without it", async () => {
  const inked = async (spoil) => {
    const browser = await browse();
    try {
      await browser.context.addInitScript(spoil);
      const page = await openPage(browser.context, server().address);
      await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
      return await page.evaluate(() => {
        const { width, height } = document.getElementById("chalk");
        const { data } = document.getElementById("chalk").getContext("2d").getImageData(0, 0, width, height);
        return Array.from({ length: width * height }, (_, i) => i).filter((i) => data[4 * i + 3] > 40);
      });
    } finally {
      await browser.close();
    }
  };
  const fine = await inked(() => {});
  const plain = await inked(() => { WebAssembly.instantiate = () => Promise.reject(new Error("none here")); });
  const [inFine, inPlain] = [new Set(fine), new Set(plain)];
  const apart = fine.filter((i) => !inPlain.has(i)).length + plain.filter((i) => !inFine.has(i)).length;
  console.log(`ink: ${fine.length} and ${plain.length} pixels, ${apart} of them apart`);
  assert.ok(fine.length > 5000 && apart < 0.05 * fine.length);
});

inBrowser("a line being drawn stays on the plate when the reading of the one before arrives", {}, async (page) => {
  await page.evaluate(() => {
    const post = Worker.prototype.postMessage;
    Worker.prototype.postMessage = function (message, ...rest) {
      if (message.task !== "read") return post.call(this, message, ...rest);
      window.goOn = () => post.call(this, message, ...rest);
    };
  });
  const inkAlong = (course) =>
    page.evaluate((course) => {
      const chalk = document.getElementById("chalk");
      const k = chalk.width / chalk.clientWidth;
      const pen = chalk.getContext("2d");
      return course.filter(([x, y]) => pen.getImageData(Math.round(k * x) - 1, Math.round(k * y) - 1, 3, 3).data.some((v, i) => i % 4 === 3 && v > 40)).length / course.length;
    }, course);
  const frames = () => page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
  const first = wobbly(RECTANGLE);
  await draw(page, first);
  const next = ring(550, 425, 60);
  await page.mouse.move(...next[0]);
  await page.mouse.down();
  for (const p of next.slice(1)) await page.mouse.move(...p);
  assert.ok((await inkAlong(next)) > 0.95, "drawn");
  await readAfter(page, () => page.evaluate(() => window.goOn()));
  await frames();
  assert.ok((await inkAlong(next)) > 0.95, "after the reading");
  await page.setViewportSize({ width: 1400, height: 880 });
  await frames();
  assert.ok((await inkAlong(next)) > 0.95, "in a window of another size");
  await page.mouse.up();
  await readAfter(page, () => page.evaluate(() => window.goOn()));
  await frames();
  assert.ok((await inkAlong(next)) > 0.95 && (await inkAlong(first)) > 0.95, "when it is done");
  // A line that the system breaks off is kept as far as it came, and undo takes it away.
  const given = wobbly([[900, 200], [980, 200], [980, 300]]);
  await page.mouse.move(...given[0]);
  await page.mouse.down();
  for (const p of given.slice(1)) await page.mouse.move(...p);
  assert.ok((await inkAlong(given)) > 0.95);
  await page.evaluate(() => document.getElementById("plate").dispatchEvent(new PointerEvent("pointercancel", { pointerId: 1 })));
  await readAfter(page, () => page.evaluate(() => window.goOn()));
  await page.mouse.up();
  await readAfter(page, async () => {
    await page.locator('[data-key="undo"]').click();
    await page.evaluate(() => window.goOn());
  });
  await frames();
  assert.equal(await inkAlong(given), 0, "undone");
});

inBrowser("a trace of 10 MB keeps the page answering", {}, async (page) => {
  await page.evaluate(() => {
    window.gaps = [];
    let last = performance.now();
    const step = (now) => {
      window.gaps.push(now - last);
      last = now;
      requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  });
  const text = long(560_000);
  assert.ok(text.length > 10_000_000, `${text.length}`);
  await give(page, "long.csv", text);
  await page.evaluate(() => (window.gaps.length = 0));
  const start = Date.now();
  while (Date.now() - start < 20_000 && !(await page.evaluate(() => document.documentElement.dataset.read))) {
    const asked = Date.now();
    await page.evaluate(() => 1);
    assert.ok(Date.now() - asked < 1500, "the page did not answer");
    await page.waitForTimeout(50);
  }
  const worst = Math.max(...(await page.evaluate(() => window.gaps.slice(1))));
  console.log(`10 MB trace: longest time between frames ${worst.toFixed(0)} ms, read in ${((Date.now() - start) / 1000).toFixed(1)} s`);
  assert.ok(worst < 1500, `${worst} ms`);
});

inBrowser("every way in: opened, dropped, pasted, typed; CSV, SVG, DXF, outline and job", {}, async (page) => {
  const sizes = async () => {
    const [loop] = JSON.parse(await outline(page)).loops;
    assert.equal(loop.edges.length, 4);
    return loop.edges.map(({ line }) => Math.hypot(line.to[0] - line.from[0], line.to[1] - line.from[1])).map((l) => Math.round(l * 10) / 10).sort((x, y) => x - y);
  };
  const same = async (way) => assert.deepEqual(await sizes(), [50, 50, 80, 80], way);
  const points = "x,y\n0,0\n80,0\n80,50\n0,50\n";
  await page.locator('#hand [data-key="plate"]').click();
  await page.locator("#tag textarea").fill(points);
  await readAfter(page, () => page.locator('#tag [data-key="typed"]').click());
  await same("typed");
  await page.locator('#tag [data-key="save"]').click();
  const files = {};
  for (const [name, words] of [["a.svg", "SVG"], ["a.dxf", "DXF"], ["outline.json", "Outline"], ["job.json", "Job"]]) files[name] = await saved(page, words);
  await page.locator('#tag [data-key="back"]').click();
  await openDemo(page, "damper_disc.csv");
  const hand = (name, text, event) =>
    page.evaluate(([name, text, event]) => {
      const data = new DataTransfer();
      if (name) data.items.add(new File([text], name));
      else data.setData("text/plain", text);
      const init = { bubbles: true, cancelable: true };
      document.body.dispatchEvent(event === "drop" ? new DragEvent("drop", { ...init, dataTransfer: data }) : new ClipboardEvent("paste", { ...init, clipboardData: data }));
    }, [name, text, event]);
  await readAfter(page, () => hand("a.csv", points, "drop"));
  await same("dropped");
  await readAfter(page, () => hand("", points, "paste"));
  await same("pasted text");
  await readAfter(page, () => hand("a.csv", points, "paste"));
  await same("pasted file");
  for (const [name, text] of Object.entries(files)) {
    await readAfter(page, () => give(page, name, text));
    await same(name);
  }
  await readAfter(page, () => give(page, "in.csv", "# units: in\nx,y\n0,0\n2,0\n2,1\n0,1\n"));
  assert.deepEqual(await sizes(), [25.4, 25.4, 50.8, 50.8]);
});

inBrowser("two fingers move and zoom the plate and leave no line", { hasTouch: true, viewport: { width: 360, height: 740 } }, async (page, context) => {
  await openDemo(page, "hinge_blank.csv");
  const before = await outline(page);
  const rule = () => page.evaluate(() => [document.querySelector("#rule b").textContent, document.querySelector("#rule i").offsetWidth].join());
  const at = await rule();
  const touch = await context.newCDPSession(page);
  const send = (type, points) => touch.send("Input.dispatchTouchEvent", { type, touchPoints: points.map(([x, y], id) => ({ x, y, id })) });
  await send("touchStart", [[150, 200]]);
  await send("touchStart", [[150, 200], [210, 200]]);
  for (let i = 1; i <= 10; i += 1) await send("touchMove", [[150 - 5 * i, 200], [210 + 5 * i, 200]]);
  await send("touchEnd", []);
  await page.waitForFunction((was) => [document.querySelector("#rule b").textContent, document.querySelector("#rule i").offsetWidth].join() !== was, at);
  assert.equal(await outline(page), before);
  // One finger draws when the soapstone is in hand.
  await page.locator('[data-key="wipe"], [data-key="plate"]').first().click();
  await page.locator('#tag [data-key="wipe"]').click();
  await page.locator('#tag [data-key="back"]').click();
  await page.locator('[data-key="draw"]').click();
  const course = wobbly([[60, 120], [300, 120], [300, 330], [60, 330]], { step: 6 });
  await send("touchStart", [course[0]]);
  for (const p of course.slice(1)) await send("touchMove", [p]);
  await readAfter(page, () => send("touchEnd", []));
  assert.equal(JSON.parse(await outline(page)).loops[0].edges.length, 4);
});

inBrowser("the torch runs along the plan, and jumps to its end where less motion is wanted", {}, async (page) => {
  await openDemo(page, "hinge_blank.csv");
  await fillCut(page);
  const slider = page.locator("#tag [data-key=torch]");
  await page.locator("#tag [data-key=run]").click();
  await page.waitForFunction(() => Number(document.querySelector("#tag [data-key=torch]").value) > 30);
  await page.locator("#tag [data-key=run]").click();
  const stopped = await slider.inputValue();
  await page.waitForTimeout(200);
  assert.equal(await slider.inputValue(), stopped);
  assert.match(await page.locator("#tag .time").innerText(), /^cut \d+, \d+ s of/);
  await page.emulateMedia({ reducedMotion: "reduce" });
  await page.locator("#tag [data-key=run]").click();
  await page.waitForFunction(() => document.querySelector("#tag [data-key=torch]").value === "1000");
});

inBrowser("inches: shown, typed as fractions, and written with their unit", {}, async (page) => {
  await openDemo(page, "hinge_blank.csv");
  await page.locator('[data-key="plate"]').click();
  await page.locator('#tag [data-key="unit"]').selectOption("in");
  await page.locator('#tag [data-key="back"]').click();
  await page.locator("#tag", { hasText: / in over all/ }).waitFor();
  await page.locator('#tag [data-key="cut"]').click();
  for (const [key, value] of [["kerf", "1/16"], ["feed", "95"], ["pierce", "0.6"]]) {
    await page.locator(`#tag [data-key="${key}"]`).fill(value);
    await page.keyboard.press("Tab");
  }
  await page.locator("#tag [data-key=run]").waitFor();
  await page.locator('#tag [data-key="save"]').click();
  const text = await saved(page, "RS-274");
  assert.match(text, /G20/);
  const { runs } = runProgram(text);
  assert.ok(runs.every((r) => Math.abs(r.feed - 95 * 25.4) < 1), "feed in inches a minute");
  const across = Math.max(...runs.flatMap((r) => r.points.map((p) => p[0]))) - Math.min(...runs.flatMap((r) => r.points.map((p) => p[0])));
  assert.ok(across > 60 && across < 110, `${across} mm`);
  await page.reload();
  await settled(page);
  assert.match(await page.locator("#rule b").innerText(), /in$/);
});

inBrowser("keys alone lead through the work", {}, async (page) => {
  await openDemo(page, "hinge_blank.csv");
  await page.locator("#plate").focus();
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("ArrowRight");
  await page.keyboard.press("Enter");
  await page.locator("#chit").waitFor();
  assert.ok(await page.evaluate(() => document.getElementById("chit").contains(document.activeElement)));
  await page.keyboard.press("Escape");
  assert.ok(await page.evaluate(() => document.activeElement.id === "plate"));
  const before = await page.locator("#rule b").textContent();
  for (let i = 0; i < 8; i += 1) await page.keyboard.press("+");
  await page.waitForFunction((b) => document.querySelector("#rule b").textContent !== b, before);
});

for (const [width, height] of [[1440, 900], [360, 740]]) {
  for (const colorScheme of ["dark", "light"]) {
    inBrowser(`every state is accessible at ${width} in the ${colorScheme}`, { viewport: { width, height }, colorScheme, hasTouch: width < 500 }, async (page) => {
      const look = async (state) => {
        await accessible(page, state);
        await picture(page, `${state}-${width}-${colorScheme}`);
      };
      await look("empty");
      await give(page, "bad.csv", "x,y\n1,2\n3,four\n");
      await page.locator('#talk[data-how="failed"]').waitFor();
      await look("failed");
      await openDemo(page, "tab_blank.csv");
      await look("piece");
      await page.locator('[data-key="plate"]').click();
      await look("plate");
      await page.locator('[data-key="plate"]').click();
      await page.locator("#plate").focus();
      for (const kind of ["corner", "edge"]) {
        await page.keyboard.press("ArrowRight");
        await page.keyboard.press("Enter");
        await page.locator("#chit h2", { hasText: new RegExp(`^${kind} `, "i") }).waitFor();
        await look(kind);
        await page.keyboard.press("Escape");
      }
      await fillCut(page);
      await page.locator("#tag [data-key=torch]").fill("420");
      await look("plan");
      await page.locator('#tag [data-key="save"]').click();
      await look("save");
    });
  }
}

inBrowser("every demo gives the same document natively and in the page, byte for byte", {}, async (page) => {
  const folder = join(root, "examples/traces");
  const names = readdirSync(folder).filter((name) => name.endsWith(".csv"));
  assert.ok(names.length >= 12);
  for (const name of names) {
    const text = readFileSync(join(folder, name), "utf8");
    await readAfter(page, () => give(page, name, text));
    const here = await outline(page);
    const there = execFileSync(join(target, "checks/trued"), ["outline", join(folder, name), "--format", "json"], { encoding: "utf8", stdio: ["ignore", "pipe", "ignore"], maxBuffer: 1e9 });
    assert.equal(here, there, name);
  }
  for (const { name, packed } of await page.evaluate(async () => (await import("./pkg/demos.js")).demos)) {
    const there = readFileSync(join(root, "examples", name.includes("/") ? "" : "traces", name));
    assert.ok(gunzipSync(Buffer.from(packed, "base64")).equals(there), `the page carries another ${name}`);
  }
});

for (const [width, height] of [[1440, 900], [360, 740]]) {
  test(`without the module the page says what to do, and loses nothing, at ${width}`, async () => {
    const browser = await browse({ viewport: { width, height } });
    try {
      const page = await openPage(browser.context, server().address);
      const without = async (name, answer, said, act = async () => {}) => {
        await browser.context.route("**/*.wasm", answer);
        await page.reload();
        const sentence = page.locator('#talk[data-how="failed"]', { hasText: said });
        await sentence.waitFor();
        await settled(page);
        await act();
        await page.waitForTimeout(400);
        assert.ok(await sentence.isVisible(), name);
        await accessible(page, name);
        await picture(page, `${name}-${width}`);
        await browser.context.unroute("**/*.wasm");
        await page.locator("#talk button").click();
        await settled(page);
      };
      await without("no-module", (route) => route.abort(), /did not start.*Load the page again/);
      // What a browser too old for the module makes of it: a section that it does not know.
      const strange = Buffer.from([0, 0x61, 0x73, 0x6d, 1, 0, 0, 0, 0x7f, 0]);
      const old = [(route) => route.fulfill({ contentType: "application/wasm", body: strange }), /cannot run the reader: that takes one of 2023 or newer/];
      await without("old-browser", ...old);
      await readAfter(page, () => draw(page, wobbly([[60, 240], [300, 240], [300, 520], [60, 520]])));
      const edges = async () => JSON.parse(await outline(page)).loops.map((l) => l.edges.length).sort();
      assert.deepEqual(await edges(), [4]);
      await without("old-browser-line", ...old, async () => {
        await page.locator('[data-key="draw"]').click();
        await draw(page, ring(180, 380, 60));
        await give(page, "a.csv", "x,y\n0,0\n80,0\n80,50\n0,50\n");
      });
      assert.deepEqual(await edges(), [1, 4]);
    } finally {
      await browser.close();
    }
  });
}

inBrowser("a module that breaks on a line is replaced, and the line is still there", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  const before = await outline(page);
  // A worker that ends amid a reading, as one out of memory would.
  await page.evaluate(() => {
    const post = Worker.prototype.postMessage;
    Worker.prototype.postMessage = function (message, ...rest) {
      if (message.task !== "read") return post.call(this, message, ...rest);
      Worker.prototype.postMessage = post;
      this.onmessage(new MessageEvent("message", { data: { id: message.id, refused: "out of memory", broken: true } }));
    };
  });
  await draw(page, ring(550, 425, 60));
  await page.locator('#talk[data-how="failed"]', { hasText: "nothing of it is lost" }).waitFor();
  await readAfter(page, () => page.locator("#talk button").click());
  assert.equal(await outline(page), before);
});

test("the one file opens from disk with everything inside", async () => {
  const browser = await browse();
  try {
    const address = `file://${join(target, "trued.html")}`;
    const page = await openPage(browser.context, address);
    await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
    const before = await outline(page);
    assert.equal(JSON.parse(before).loops[0].edges.length, 4);
    await page.reload();
    await settled(page);
    assert.equal(await outline(page), before);
    assert.deepEqual(page.wrong, []);
  } finally {
    await browser.close();
  }
});

test("the policy forbids everything external", async () => {
  for (const text of [readFileSync(join(root, "www/index.html"), "utf8"), readFileSync(join(target, "trued.html"), "utf8")]) {
    const policy = /http-equiv="Content-Security-Policy" content="([^"]*)"/.exec(text)[1];
    assert.match(policy, /default-src 'none'/);
    assert.doesNotMatch(policy, /unsafe-inline|'unsafe-eval'|https?:|\*/);
  }
});

// DEVELOPERS.md says what weighs. The bounds lie a little over what was measured; what packs here makes 5 kB more of the
// module than the builder, whose figures those are.
test("weights", () => {
  const files = /everything\s+(\d+) B/.exec(server().said)[1];
  const wasm = gzipSync(readFileSync(join(root, "www/pkg/trued_web_bg.wasm")), { level: 9 }).length;
  const one = statSync(join(target, "trued.html")).size;
  console.log(`wasm ${wasm} B gzipped, everything ${files} B gzipped, one file ${one} B`);
  assert.ok(wasm < 1_092_000 && Number(files) < 1_235_000 && one < 1_272_000, `${wasm} ${files} ${one}`);
});

test("no path or host of the machine it was built on is in what ships", () => {
  const text = readFileSync(join(root, "www/pkg/trued_web_bg.wasm"), "latin1");
  for (const word of [root, "/registry/", process.env.HOME ?? "/home"]) assert.ok(!text.includes(`${word}/`), word);
});

/** A long wobbly rectangle as CSV, dense like a fast pen. */
function long(count) {
  const rows = ["x,y,t"];
  const [w, h] = [400, 250];
  for (let i = 0; i < count; i += 1) {
    const s = (i / count) * 2 * (w + h);
    const [x, y] = s < w ? [s, 0] : s < w + h ? [w, s - w] : s < 2 * w + h ? [2 * w + h - s, h] : [0, 2 * (w + h) - s];
    rows.push(`${(x + 0.2 * Math.sin(s / 7)).toFixed(3)},${(y + 0.2 * Math.cos(s / 9)).toFixed(3)},${(i / 500).toFixed(3)}`);
  }
  return `${rows.join("\n")}\n`;
}

function edgeLength(edge) {
  if (edge.arc) return edge.arc.radius * Math.abs(edge.arc.sweep);
  return Math.hypot(edge.line.to[0] - edge.line.from[0], edge.line.to[1] - edge.line.from[1]);
}

/** An SVG as the browser takes it: how long its shapes are, and how many of its units a printed mm holds. */
function measure(page, text, which) {
  return page.evaluate(([svg, choose]) => {
    const drawing = new DOMParser().parseFromString(svg.includes("xmlns=") ? svg : svg.replace("<svg", '<svg xmlns="http://www.w3.org/2000/svg"'), "image/svg+xml");
    if (drawing.querySelector("parsererror")) throw new Error(drawing.documentElement.textContent);
    const root = document.importNode(drawing.documentElement, true);
    document.body.append(root);
    const shapes = [...root.querySelectorAll(choose)].filter((s) => !s.closest("defs"));
    const length = shapes.reduce((sum, s) => sum + s.getTotalLength(), 0);
    const perMm = root.viewBox.baseVal.width / parseFloat(root.getAttribute("width"));
    root.remove();
    return { length, perMm };
  }, [text, which]);
}

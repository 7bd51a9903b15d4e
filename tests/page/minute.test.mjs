// A newcomer's first minute, from a fresh profile: a rough plate of 120 × 80, both sizes, one corner of R10, two holes
// of 8 mm 15 mm from the edges, saved as RS-274. By mouse, by touch, by keys alone. What counts is the file, read
// without the project's help, and how often something had to be pressed besides drawing and typing figures.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { draw, picture, readAfter, served, wobbly } from "./support.mjs";
import { runProgram } from "./readers.mjs";

const { inBrowser } = served();

const MOST = 25;
const KERF = 1.5;

/** Where the piece is painted, CSS pixels: left, top, right, bottom. */
async function piece(page) {
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => requestAnimationFrame(done)))));
  return page.evaluate(() => {
    const canvas = document.getElementById("dye");
    const { width, height } = canvas;
    const k = canvas.clientWidth / width;
    const { data } = canvas.getContext("2d").getImageData(0, 0, width, height);
    const box = [Infinity, Infinity, -Infinity, -Infinity];
    for (let i = 3; i < data.length; i += 4) {
      if (data[i] < 30) continue;
      const [x, y] = [((i - 3) / 4) % width, Math.floor((i - 3) / 4 / width)];
      box[0] = Math.min(box[0], x * k);
      box[1] = Math.min(box[1], y * k);
      box[2] = Math.max(box[2], (x + 1) * k);
      box[3] = Math.max(box[3], (y + 1) * k);
    }
    return box;
  });
}

/** What the program cuts, the kerf put back: the outside's extent, its rounded corner, the holes. */
function checkProgram(text) {
  const { runs } = levelled(runProgram(text).runs);
  assert.equal(runs.length, 3);
  const box = (points) => [0, 1].map((k) => [Math.min(...points.map((p) => p[k])), Math.max(...points.map((p) => p[k]))]);
  const sizes = runs.map((run) => ({ run, box: box(run.points) })).sort((a, b) => b.box[0][1] - b.box[0][0] - (a.box[0][1] - a.box[0][0]));
  const [outside, ...holes] = sizes;
  // The lead of the outside may reach further out than its path: the extent is that of the loop after it.
  const path = closed(outside.run.points);
  const [x, y] = box(path).map(([low, high]) => [low + KERF / 2, high - KERF / 2]);
  const near = (a, b, what) => assert.ok(Math.abs(a - b) < 0.01, `${what}: ${a} and not ${b}`);
  near(x[1] - x[0], 120, "width");
  near(y[1] - y[0], 80, "height");
  // How far the path keeps from each corner of the plate tells how it is rounded.
  const gaps = [[0, 0], [1, 0], [1, 1], [0, 1]].map(([i, j]) => Math.min(...path.map((p) => Math.hypot(p[0] - x[i], p[1] - y[j]))));
  const round = gaps.filter((g) => g > 1.5);
  assert.equal(round.length, 1, `${gaps}`);
  near(round[0], (10 + 0) * (Math.SQRT2 - 1) - KERF / 2, "the rounded corner");
  assert.equal(holes.length, 2);
  for (const { run } of holes) {
    const loop = closed(run.points);
    const [hx, hy] = box(loop);
    near(hx[1] - hx[0] + KERF, 8, "hole");
    near(hy[1] - hy[0] + KERF, 8, "hole");
    const [cx, cy] = [(hx[0] + hx[1]) / 2, (hy[0] + hy[1]) / 2];
    near(Math.min(cx - x[0], x[1] - cx), 15, "from a side");
    near(Math.min(cy - y[0], y[1] - cy), 15, "from top or bottom");
  }
}

/** A plate may lie askew on the table: turned so that its longest straight run lies level. */
function levelled(runs) {
  let [long, angle] = [0, 0];
  for (const { points } of runs) {
    points.slice(1).forEach((p, i) => {
      const [dx, dy] = [p[0] - points[i][0], p[1] - points[i][1]];
      if (Math.hypot(dx, dy) > long) [long, angle] = [Math.hypot(dx, dy), Math.atan2(dy, dx)];
    });
  }
  const [c, s] = [Math.cos(angle), Math.sin(angle)];
  return { runs: runs.map((run) => ({ ...run, points: run.points.map(([x, y]) => [c * x + s * y, c * y - s * x]) })) };
}

/** The loop of a run: from where it first comes back to a place it was at. */
function closed(points) {
  for (let i = 0; i < points.length; i += 1) {
    for (let j = points.length - 1; j > i + 3; j -= 1) {
      if (Math.hypot(points[i][0] - points[j][0], points[i][1] - points[j][1]) < 2e-3) return points.slice(i, j + 1);
    }
  }
  return points;
}

/** The minute by mouse or finger. */
async function byHand(page, press, drawn) {
  let taps = 0;
  const tap = async (x, y) => {
    taps += 1;
    await page.waitForTimeout(60);
    await press.at(x, y);
  };
  const button = async (scope, name, act = (f) => f()) => {
    taps += 1;
    const found = page.locator(scope).getByRole("button", { name, exact: true });
    await act(() => press.on(found));
  };
  const blank = (words) => page.getByRole("textbox", { name: new RegExp(words) });
  await readAfter(page, () => press.draw(drawn));
  // Both sizes.
  let [l, t, r, b] = await piece(page);
  for (const [at, size] of [[() => [(l + r) / 2, b], "120"], [() => [l, (t + b) / 2], "80"]]) {
    [l, t, r, b] = await piece(page);
    await tap(...at());
    await page.keyboard.type(size);
    await button("#chit", "Set", (act) => readAfter(page, act));
  }
  // One corner.
  [l, t, r, b] = await piece(page);
  await tap(r, t);
  await page.keyboard.type("10");
  await button("#chit", "Round it", (act) => readAfter(page, act));
  // Two holes: touched, then made, then placed.
  await button("#hand", "Mark");
  [l, t, r, b] = await piece(page);
  const mm = (r - l) / 120;
  const marks = [[l + 17 * mm, b - 13 * mm], [r - 16 * mm, b - 17 * mm]];
  for (const at of marks) {
    await readAfter(page, () => tap(...at));
    await page.waitForTimeout(500);
  }
  await tap(...marks[0]);
  await page.keyboard.type("8");
  await button("#chit", "All 2 marks", (act) => readAfter(page, act));
  for (const [i, side] of ["left", "right"].entries()) {
    await page.waitForTimeout(500);
    if (i > 0) await tap(...marks[i]);
    await page.locator("#chit .places").waitFor();
    // The nearer edge's blank waits already.
    await page.keyboard.type("15");
    const [first, second] = [blank(`From the ${side} edge`), blank("From the bottom edge")];
    taps += 1;
    await press.on((await first.inputValue()) === "" ? first : second);
    await page.keyboard.type("15");
    assert.deepEqual([await first.inputValue(), await second.inputValue()], ["15", "15"]);
    await button("#chit", "Place it so", (act) => readAfter(page, act));
  }
  await picture(page, `minute-${(await page.viewportSize()).width}`);
  await button("#tag", "Ready the cut");
  for (const [key, value] of [["kerf", String(KERF)], ["feed", "2400"], ["pierce", "0.6"]]) {
    taps += 1;
    await press.on(page.locator(`#tag [data-key="${key}"]`));
    await page.keyboard.type(value);
  }
  await page.locator("#tag [data-key=run]").waitFor();
  taps += 1;
  await press.on(page.locator('#tag [data-key="save"]'));
  for (const tick of await page.locator("#tag .doubts label").all()) {
    taps += 1;
    await press.on(tick);
  }
  taps += 1;
  const [file] = await Promise.all([page.waitForEvent("download"), press.on(page.locator('#tag [data-key="rs274"]'))]);
  return { taps, text: readFileSync(await file.path(), "utf8") };
}

inBrowser("a newcomer's minute by mouse", {}, async (page) => {
  const press = { at: (x, y) => page.mouse.click(x, y), on: (what) => what.click(), draw: (course) => draw(page, course) };
  const { taps, text } = await byHand(page, press, wobbly([[320, 220], [565, 228], [560, 390], [318, 384]], { seed: 3 }));
  console.log(`by mouse: ${taps} presses`);
  checkProgram(text);
  assert.ok(taps <= MOST, `${taps}`);
});

inBrowser("a newcomer's minute by touch, on a phone", { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true }, async (page, context) => {
  const touch = await context.newCDPSession(page);
  const send = (type, points) => touch.send("Input.dispatchTouchEvent", { type, touchPoints: points.map(([x, y], id) => ({ x, y, id })) });
  const press = {
    at: (x, y) => page.touchscreen.tap(x, y),
    on: (what) => what.tap(),
    draw: async (course) => {
      await send("touchStart", [course[0]]);
      for (const p of course.slice(1)) await send("touchMove", [p]);
      await send("touchEnd", []);
    },
  };
  const { taps, text } = await byHand(page, press, wobbly([[70, 210], [320, 206], [322, 374], [72, 378]], { seed: 5 }));
  console.log(`by touch: ${taps} presses`);
  checkProgram(text);
  assert.ok(taps <= MOST, `${taps}`);
});

inBrowser("a newcomer's minute by keys alone", {}, async (page) => {
  const focus = async (key) => {
    for (let i = 0; i < 80; i += 1) {
      if (await page.evaluate((k) => document.activeElement?.getAttribute("data-key") === k, key)) return;
      await page.keyboard.press("Tab");
    }
    assert.fail(`the keys do not lead to ${key}`);
  };
  const onPlate = async () => {
    for (let i = 0; i < 80 && !(await page.evaluate(() => document.activeElement?.id === "plate")); i += 1) await page.keyboard.press("Tab");
  };
  // Steps to the thing with this heading and opens it.
  const open = async (heading, more = async () => true) => {
    for (let i = 0; i < 40; i += 1) {
      await page.keyboard.press("Escape");
      await onPlate();
      await page.keyboard.press("ArrowRight");
      await page.keyboard.press("Enter");
      if (heading.test(await page.locator("#chit h2").innerText()) && (await more())) return;
    }
    assert.fail(`the arrows do not lead to ${heading}`);
  };
  const type = async (text) => {
    await page.keyboard.type(text);
    await readAfter(page, () => page.keyboard.press("Enter"));
  };
  // A plate and two touches, typed.
  await focus("plate");
  await page.keyboard.press("Enter");
  await focus("points");
  const corners = [[0.4, -0.3], [118.7, 0.4], [118.9, 79.1], [0.2, 79.3]];
  const rows = ["stroke,x,y", ...corners.map((p) => `1,${p.join()}`), "2,16.5,13.8", "3,102.4,16.1"];
  for (const row of rows) {
    await page.keyboard.type(row);
    await page.keyboard.press("Enter");
  }
  await focus("typed");
  await readAfter(page, () => page.keyboard.press("Enter"));
  const facts = () => page.locator("#chit").innerText();
  await open(/^Edge/, async () => /^(118|119)/m.test(await facts()));
  await type("120");
  await open(/^Edge/, async () => /^(78|79)/m.test(await facts()));
  await type("80");
  await open(/^Corner/);
  await type("10");
  await open(/^Mark/);
  await page.keyboard.type("8");
  await focus("all-marks");
  await readAfter(page, () => page.keyboard.press("Enter"));
  for (const side of ["left", "right"]) {
    await open(/^Hole/, async () => (await page.getByRole("textbox", { name: new RegExp(`From the ${side} edge`) }).count()) > 0);
    for (const key of [`from the ${side} edge`, "from the bottom edge"]) {
      await focus(key);
      await page.keyboard.type("15");
    }
    await focus("place");
    await readAfter(page, () => page.keyboard.press("Enter"));
  }
  await focus("cut");
  await page.keyboard.press("Enter");
  for (const [key, value] of [["kerf", String(KERF)], ["feed", "2400"], ["pierce", "0.6"]]) {
    await focus(key);
    await page.keyboard.type(value);
  }
  await page.locator("#tag [data-key=run]").waitFor();
  await focus("save");
  await page.keyboard.press("Enter");
  for (let i = 1; i <= (await page.locator("#tag .doubts label").count()); i += 1) {
    await focus(`doubt${i}`);
    await page.keyboard.press(" ");
  }
  await focus("rs274");
  const [file] = await Promise.all([page.waitForEvent("download"), page.keyboard.press("Enter")]);
  checkProgram(readFileSync(await file.path(), "utf8"));
});

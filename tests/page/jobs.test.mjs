// The shop jobs on the page: what each is asked, what it answers, and what its files say to readers that
// share nothing with the project.

import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { arm, circles, insidePolygon, runProgram, strokes } from "./readers.mjs";
import { accessible, give, openDemo, outline, picture, readAfter, ring, root, saved, served, settled, wobbly } from "./support.mjs";

const { inBrowser } = served();

const example = (name) => readFileSync(join(root, "examples", name), "utf8");

async function openJob(page, job) {
  await page.locator('#hand [data-key="plate"]').click();
  await page.locator('#tag [data-key="jobs"]').click();
  await page.locator(`#tag [data-key="${job}"]`).click();
}

/** Opens a job and fills in its demo; resolves when the page has said so. */
async function demo(page, job) {
  await openJob(page, job);
  await page.locator('#tag [data-key="demo-job"]').click();
  await page.locator("#talk", { hasText: "not yours" }).waitFor();
}

async function fill(page, figures) {
  for (const [key, value] of Object.entries(figures)) {
    await page.locator(`#tag [data-key="${key}"]`).fill(value);
    await page.keyboard.press("Tab");
  }
}

/** What the job answers, once it says something like this. */
async function answer(page, like = /./) {
  const said = page.locator('#tag [data-key="answer"]', { hasText: like });
  await said.waitFor();
  return said.innerText();
}

async function toSave(page) {
  await page.locator('#tag [data-key="save"]').first().click();
  await page.locator('#tag[data-side="save"]').waitFor();
}

inBrowser("an opening from marks: holes true to each other, the opening on their centre", {}, async (page) => {
  await demo(page, "opening");
  await answer(page, /four holes on a square, pitch 180\.00 mm/);
  await toSave(page);
  const [port, ...holes] = circles(await saved(page, "DXF")).sort((a, b) => b.r - a.r);
  assert.equal(holes.length, 4);
  // The next R10 size not below the pipe that was drawn.
  const rough = strokes(example("marks/vent_collar.csv")).sort((a, b) => b.length - a.length)[0];
  const middle = [0, 1].map((k) => rough.reduce((sum, p) => sum + p[k], 0) / rough.length);
  const traced = (2 * rough.reduce((sum, p) => sum + Math.hypot(p[0] - middle[0], p[1] - middle[1]), 0)) / rough.length;
  const sizes = [100, 125, 160, 200, 250, 315, 400];
  assert.ok(Math.abs(2 * port.r - sizes.find((d) => d >= 0.97 * traced)) < 1e-9, `${2 * port.r} for ${traced}`);
  const far = holes.map((h) => Math.hypot(h.x - port.x, h.y - port.y));
  for (const d of far) assert.ok(Math.abs(d - 90 * Math.SQRT2) < 1e-6, `${far}`);
  for (const h of holes) assert.ok(Math.abs(h.r - 4) < 1e-9);
  const touched = strokes(example("marks/vent_collar.csv")).filter((s) => s.length < 10).map((s) => s[0]);
  await page.locator('#tag [data-key="back"]').click();
  await page.locator('#tag[data-side="opening"]').waitFor();
  await page.locator('#tag [data-key="cut"]').click();
  await fill(page, { kerf: "1.5", feed: "2400", pierce: "0.6" });
  await page.locator("#tag [data-key=run]").waitFor();
  await toSave(page);
  // Each opening is cut inside its line by half the kerf.
  const { runs } = runProgram(await saved(page, "RS-274"));
  const cut = runs.map((run) => {
    const around = [...holes, port].find((o) => Math.hypot(o.x - run.points[0][0], o.y - run.points[0][1]) < o.r);
    const out = Math.max(...run.points.map((p) => Math.hypot(p[0] - around.x, p[1] - around.y)));
    assert.ok(Math.abs(out - (around.r - 0.75)) < 2e-3, `${out} for ${around.r}`);
    return around;
  });
  assert.equal(new Set(cut).size, 5);
  for (const t of touched) assert.ok(Math.min(...holes.map((h) => Math.hypot(h.x - t[0], h.y - t[1]))) < 2);
});

inBrowser("an opening is asked for by hand, undone, kept through a reload, and refused with its sentence", {}, async (page) => {
  await openJob(page, "opening");
  await readAfter(page, () => give(page, "pad.csv", example("marks/caster_pad.csv")));
  assert.match(await page.locator("#tag .problem").innerText(), /holes' diameter/);
  await page.locator('#tag [data-key="shape"]').selectOption("rectangle");
  await fill(page, { wide: "40", high: "30" });
  await readAfter(page, () => fill(page, { hole: "9" }));
  await answer(page, /four holes on a rectangle/);
  await page.reload();
  await settled(page);
  await openJob(page, "opening");
  await answer(page, /four holes on a rectangle/);
  const doc = JSON.parse(await (await toSave(page), saved(page, "Outline")));
  assert.equal(doc.loops.length, 5);
  assert.ok(doc.loops.every((l) => l.role === "hole"));
  await page.locator('#tag [data-key="back"]').click();
  await readAfter(page, () => fill(page, { high: "75" }));
  await readAfter(page, () => fill(page, { wide: "110" }));
  await page.locator('#talk[data-how="failed"]', { hasText: /hole \d/i }).waitFor();
  await readAfter(page, () => page.locator('[data-key="undo"]').click());
  await answer(page, /four holes on a rectangle/);
});

inBrowser("what is being typed stays when a reading arrives, and counts", {}, async (page) => {
  await openJob(page, "opening");
  await readAfter(page, () => give(page, "pad.csv", example("marks/caster_pad.csv")));
  await page.evaluate(() => {
    const post = Worker.prototype.postMessage;
    Worker.prototype.postMessage = function (message, ...rest) {
      if (message.task !== "read") return post.call(this, message, ...rest);
      window.asked = message.asked.opening;
      window.goOn = () => post.call(this, message, ...rest);
    };
  });
  const blank = (key) => page.locator(`#tag [data-key="${key}"]`);
  await fill(page, { hole: "9" });
  await blank("wide").focus();
  await page.keyboard.type("12");
  await readAfter(page, () => page.evaluate(() => window.goOn()));
  await page.keyboard.type("5");
  assert.equal(await blank("wide").inputValue(), "125");
  await page.keyboard.press("Tab");
  await readAfter(page, () => page.evaluate(() => window.goOn()));
  assert.equal(await blank("wide").inputValue(), "125");
  assert.deepEqual(await page.evaluate(() => [window.asked.hole, window.asked.shape]), [9, { next_round: 125 }]);
});

inBrowser("blanks from scrap: inside the scrap, clear of its hole and of each other, as many as is said", {}, async (page) => {
  await demo(page, "blanks");
  // A scrap of a shape that leaves no doubt: what is checked here is the laying, against the hand's own line.
  const edge = wobbly([[0, 0], [450, 0], [450, 150], [250, 150], [250, 260], [0, 260]], { step: 2, wander: 0.2 }).slice(0, -1);
  const hole = ring(120, 150, 35, 90, { step: 2, wander: 0.1 });
  const rows = [edge, hole].flatMap((points, i) => points.map(([x, y]) => `${x.toFixed(3)},${y.toFixed(3)},${i}`));
  await page.locator('#tag [data-key="no-scrap"]').click();
  await page.locator('#tag [data-key="scrap-file"]').click();
  await give(page, "scrap.csv", `x,y,stroke\n${rows.join("\n")}\n`);
  await page.locator('#tag [data-key="no-scrap"]').waitFor();
  await page.locator('#tag [data-key="lay"]').click();
  await page.locator('#tag [data-key="answer"]').waitFor({ timeout: 120_000 });
  const said = await answer(page, /fit/);
  const [, fits] = /(\d+) of 20 fit/.exec(said) ?? /all (20) fit/.exec(said);
  await toSave(page);
  assert.equal(await page.locator("#tag .cautions li").count(), 11);
  const { runs } = runProgram(await saved(page, "RS-274"));
  // A hinge blank is cut by one run for its outside and one for each hole; outsides are the long ones.
  const length = (run) => run.points.slice(1).reduce((sum, p, i) => sum + Math.hypot(p[0] - run.points[i][0], p[1] - run.points[i][1]), 0);
  const outsides = runs.filter((r) => length(r) > 150);
  assert.equal(outsides.length, Number(fits), said);
  for (const run of runs) {
    for (const p of run.points) {
      assert.ok(insidePolygon(edge, p), `${p} is off the scrap`);
      assert.ok(!insidePolygon(hole, p), `${p} is in the scrap's hole`);
    }
  }
  outsides.forEach((a, i) => outsides.forEach((b, j) => assert.ok(i === j || !insidePolygon(a.points, b.points[Math.floor(b.points.length / 2)]), `${i} lies in ${j}`)));
});

inBrowser("blanks of a size on a plate of a size: what was typed before the press counts", {}, async (page) => {
  await openJob(page, "blanks");
  await fill(page, { width: "330", height: "220", blank_width: "80", blank_height: "50", copies: "4", gap: "5", edge: "5", kerf: "1.5", feed: "2400" });
  await page.locator('#tag [data-key="lay"]').click();
  await page.locator("#talk", { hasText: /fill in pierce/i }).waitFor();
  // Typed and pressed at once, without leaving the blank first.
  await page.locator('#tag [data-key="pierce"]').fill("0.4");
  await page.locator('#tag [data-key="lay"]').click();
  await page.locator('#tag [data-key="answer"]').waitFor();
  await answer(page, /all 4 fit/);
  await toSave(page);
  const { runs } = runProgram(await saved(page, "RS-274"));
  assert.equal(runs.length, 4);
  for (const run of runs) {
    const [xs, ys] = [0, 1].map((k) => run.points.map((p) => p[k]));
    assert.ok(Math.min(...xs) > 0 && Math.min(...ys) > 0 && Math.max(...xs) < 330 && Math.max(...ys) < 220);
  }
});

inBrowser("a coupon: its feeds in the program, its figures from the calipers, kept in the book", {}, async (page) => {
  await openJob(page, "coupon");
  await fill(page, { "coupon.from": "1800", "coupon.to": "3000", "coupon.kerf": "1.5", "coupon.pierce": "0.4" });
  await toSave(page);
  const { runs } = runProgram(await saved(page, "RS-274"));
  const feeds = runs.map((r) => r.feed);
  for (const feed of [1800, 2040, 2280, 2520, 2760, 3000]) assert.ok(feeds.includes(feed), `${feed} in ${feeds}`);
  assert.equal(runProgram(await saved(page, "Dry run")).lit, 0);
  assert.match(await saved(page, "Measuring sheet"), /^rung,$/m);
  assert.equal(await page.locator("#tag .cautions li").count(), 11);
  await page.locator('#tag [data-key="back"]').click();
  await fill(page, { "coupon.rung": "3", "coupon.slot": "1.62", "coupon.plug": "28.66", "coupon.hole": "31.80" });
  // hole - plug = 2 kerf with half the variance of a reading; the slot is one reading.
  const kerf = (2 * 0.5 * (31.8 - 28.66) + 1.62) / 3;
  const spread = (1.959964 * 0.05) / Math.sqrt(3);
  await answer(page, new RegExp(`kerf ${kerf.toFixed(2)} ± ${spread.toFixed(2)} mm[\\s\\S]*feed 2280 mm/min`));
  await page.locator('#tag [data-key="coupon.name"]').fill("hood 2");
  const [download] = await Promise.all([page.waitForEvent("download"), page.locator('#tag [data-key="keep-book"]').click()]);
  const [head, row, ...more] = readFileSync(await download.path(), "utf8").trim().split("\n").filter((line) => !line.startsWith("#"));
  assert.equal(head, "name,thickness,kerf,feed,pierce,remark");
  const [name, , kept, feed, pierce] = row.split(",");
  assert.deepEqual([name, feed, pierce, more.length], ["hood 2", "2280", "0.4", 0]);
  assert.ok(Math.abs(Number(kept) - kerf) < 1e-3);
  await page.locator('#tag [data-key="take-coupon"]').click();
  await readAfter(page, () => openDemo(page, "hinge_blank.csv").then(() => {}));
  await page.locator('#tag [data-key="cut"]').click();
  assert.equal(await page.locator('#tag [data-key="feed"]').inputValue(), "2280");
  assert.ok(Math.abs(Number(await page.locator('#tag [data-key="kerf"]').inputValue()) - kerf) < 1e-3);
  // The row is there after a reload.
  await page.reload();
  await settled(page);
  await page.locator('#tag [data-key="cut"]').click();
  assert.match(await page.locator('#tag [data-key="material"]').innerText(), /hood 2/);
});

inBrowser("squaring the machine: every cut file is sent where the machine has to be sent", {}, async (page) => {
  await readAfter(page, () => give(page, "plate.csv", "x,y\n0,0\n200,0\n200,120\n0,120\n"));
  const program = async () => {
    await page.locator('#tag [data-key="cut"]').click();
    await toSave(page);
    const texts = [await saved(page, "RS-274"), await saved(page, "Template"), await saved(page, "DXF"), await saved(page, "Outline")];
    await page.locator('#tag [data-key="back"]').click();
    return texts;
  };
  await page.locator('#tag [data-key="cut"]').click();
  await fill(page, { kerf: "1.5", feed: "2400", pierce: "0.6" });
  await page.locator("#tag [data-key=run]").waitFor();
  await page.locator('#tag [data-key="back"]').click();
  const before = await program();
  await demo(page, "square");
  const said = await answer(page, /corners meet/);
  const [across, up, corner] = [...said.matchAll(/(-?[\d.]+)(?:°)? (?:done )?±/g)].map((m) => Number(m[1]));
  // Mean sides, and the law of cosines for the angle.
  const [w, h] = [(404.1 + 403.9) / 2, (297 + 297.1) / 2];
  const lean = (Math.asin((503.3 ** 2 - 499.5 ** 2) / (4 * w * h)) * 180) / Math.PI;
  assert.ok(Math.abs(across - (100 * w) / 400) < 0.05 && Math.abs(up - (100 * h) / 300) < 0.05, said);
  assert.ok(Math.abs(corner - 90 - lean) < 0.02, said);
  await page.locator('#tag [data-key="correct"]').click();
  await page.locator('#tag [data-key="save-profile"]').waitFor();
  const [download] = await Promise.all([page.waitForEvent("download"), page.locator('#tag [data-key="save-profile"]').click()]);
  const { square } = JSON.parse(readFileSync(await download.path(), "utf8"));
  await page.locator('#tag [data-key="back"]').click();
  await page.locator('#tag [data-key="back"]').click();
  const after = await program();
  assert.equal(after[1], before[1], "the template shows the piece as it will be");
  assert.equal(after[3], before[3], "the document stays true");
  assert.notEqual(after[2], before[2]);
  // What the machine makes of each straight move of the new program is the old program's move.
  const angle = (square.out_of_square_deg * Math.PI) / 180;
  const done = ([x, y]) => [square.scale_x * x - square.scale_y * y * Math.sin(angle), square.scale_y * y * Math.cos(angle)];
  const ends = (text) => runProgram(text).runs.flatMap((r) => r.ends);
  const [told, made] = [ends(before[0]), ends(after[0]).map(done)];
  assert.ok(told.length >= 4);
  for (const p of told) assert.ok(Math.min(...made.map((q) => Math.hypot(p[0] - q[0], p[1] - q[1]))) < 2e-3, `${p}`);
  // It holds after a reload, and a second piece that comes out true needs no more.
  await page.reload();
  await settled(page);
  const again = await program();
  assert.equal(again[0], after[0]);
  await openJob(page, "square");
  await fill(page, { "square.bottom": "400", "square.top": "400", "square.left": "300", "square.right": "300", "square.rising": "500", "square.falling": "500" });
  await answer(page, /100\.00 done[\s\S]*90\.00°/);
  await page.locator('#tag [data-key="correct"]').click();
  await page.locator('#tag [data-key="back"]').click();
  await page.locator('#tag [data-key="back"]').click();
  const third = ends((await program())[0]);
  for (const p of ends(after[0])) assert.ok(Math.min(...third.map((q) => Math.hypot(p[0] - q[0], p[1] - q[1]))) < 2e-3, `${p}`);
});

inBrowser("a file that is no profile, no sheet and no book says so and changes nothing", {}, async (page) => {
  await demo(page, "square");
  await page.locator('#tag [data-key="correct"]').click();
  await page.locator('#tag [data-key="profile"]', { hasText: "In use for every" }).waitFor();
  const now = await page.locator('#tag [data-key="profile"]').innerText();
  for (const [text, said] of [['{ "trued_machine": 1, "square": { "scale_x": 9, "scale_y": 1, "out_of_square_deg": 0 } }', /scale_x/], ['{ "trued_machine": 1,\n"square": { "scale_x": "wide" } }', /line 2/], ["\u0000\u0001", /machine\.json/]]) {
    await give(page, "machine.json", text);
    await page.locator('#talk[data-how="failed"]', { hasText: said }).waitFor();
    assert.equal(await page.locator('#tag [data-key="profile"]').innerText(), now);
  }
  await openJob(page, "coupon");
  await page.locator('#tag [data-key="sheet-file"]').click();
  await give(page, "sheet.csv", "what,value\nslot,wide\n");
  await page.locator('#talk[data-how="failed"]', { hasText: /sheet\.csv: line 2/ }).waitFor();
});

inBrowser("figures that contradict each other are named and correct nothing", {}, async (page) => {
  await demo(page, "square");
  await fill(page, { "square.top": "409" });
  await page.locator("#tag .wrong", { hasText: "measure the top side" }).waitFor();
  assert.equal(await page.locator('#tag [data-key="correct"]').count(), 0);
});

inBrowser("the right tip: each point by the joint angles, and those out of reach are named", {}, async (page) => {
  await demo(page, "tip");
  const profile = JSON.parse(example("machines/shop_machine.json"));
  await readAfter(page, () => page.locator('#tag [data-key="retip"]').click());
  await page.locator('#tag [data-key="back"]').click();
  await page.locator('#tag [data-key="back"]').click();
  await toSave(page);
  const job = JSON.parse(await saved(page, "Job"));
  const read = job.trace.strokes.flatMap((s) => s.points);
  const told = strokes(example("touches/gusset_wrong_tip.csv")).flat();
  assert.equal(read.length, told.length);
  const { stylus, torch } = profile.arm.tips;
  told.forEach((p, i) => {
    const [x, y] = arm.forward(profile.arm, torch, arm.inverse(profile.arm, stylus, p));
    const [gx, gy] = Array.isArray(read[i]) ? read[i] : [read[i].x, read[i].y];
    assert.ok(Math.hypot(gx - x, gy - y) < 1e-9, `point ${i}`);
  });
  await readAfter(page, () => give(page, "far.csv", "x,y\n100,100\n140,100\n140,150\n2000,100\n"));
  await openJob(page, "tip");
  await page.locator('#tag [data-key="retip"]').click();
  await page.locator('#tag [data-key="answer"]', { hasText: "point 4" }).waitFor();
  await readAfter(page, () => page.locator('#tag [data-key="leave-out"]').click());
});

inBrowser("the arm from touches: the saved profile puts every touch where it was", {}, async (page) => {
  await demo(page, "arm");
  await page.locator('#tag [data-key="find-arm"]').click();
  await page.locator('#tag [data-key="keep-arm"]').click();
  const [download] = await Promise.all([page.waitForEvent("download"), page.locator('#tag [data-key="save-profile"]').click()]);
  const found = JSON.parse(readFileSync(await download.path(), "utf8")).arm;
  const believed = JSON.parse(example("machines/as_delivered.json")).arm;
  const rows = example("touches/shelf_plate.csv").split("\n").filter((l) => /^\d/.test(l)).map((l) => l.split(",").map(Number));
  const off = rows.map(([kx, ky, rx, ry]) => {
    const [x, y] = arm.forward(found, found.tips.stylus, arm.inverse(believed, believed.tips.stylus, [rx, ry]));
    return Math.hypot(x - kx, y - ky);
  });
  assert.ok(Math.max(...off) < 0.8 && off.reduce((a, b) => a + b * b, 0) / off.length < 0.2, `${off}`);
  // Figures filled in faster than they are checked are all kept.
  await page.evaluate(() => {
    for (const [key, value] of [["link1", "401"], ["base-x", "-12.5"], ["base-y", "33"], ["link2", "352"]]) {
      const blank = document.querySelector(`#tag [data-key="${key}"]`);
      blank.value = value;
      blank.dispatchEvent(new Event("input", { bubbles: true }));
    }
  });
  await page.waitForFunction(() => document.querySelector('#tag [data-key="link2"]')?.value === "352" && document.querySelector('#tag [data-key="base-y"]')?.value === "33");
  await page.waitForTimeout(400);
  const [again] = await Promise.all([page.waitForEvent("download"), page.locator('#tag [data-key="save-profile"]').click()]);
  const typed = JSON.parse(readFileSync(await again.path(), "utf8")).arm;
  assert.deepEqual([typed.link1, typed.link2, ...typed.base], [401, 352, -12.5, 33]);
  // Touches that leave the arm open are refused.
  await page.locator('#tag [data-key="touches"]').fill(example("touches/one_reach.csv"));
  await page.locator('#tag [data-key="find-arm"]').click();
  await page.locator("#tag .problem", { hasText: /distance|determine|touch/i }).waitFor();
});

for (const [width, height] of [[1440, 900], [360, 740]]) {
  for (const colorScheme of ["dark", "light"]) {
    inBrowser(`every job is accessible at ${width} in the ${colorScheme}`, { viewport: { width, height }, colorScheme, hasTouch: width < 500 }, async (page) => {
      const look = async (state) => {
        await accessible(page, state);
        await picture(page, `${state}-${width}-${colorScheme}`);
      };
      await page.locator('#hand [data-key="plate"]').click();
      await page.locator('#tag [data-key="jobs"]').click();
      await look("jobs");
      for (const job of ["opening", "coupon", "square", "tip", "arm"]) {
        await page.locator(`#tag [data-key="${job}"]`).click();
        await look(`job-${job}-empty`);
        await page.locator('#tag [data-key="demo-job"]').click();
        await page.locator("#talk", { hasText: "not yours" }).waitFor();
        await page.locator(`#tag ${{ opening: '[data-key="answer"]', coupon: '[data-key="take-coupon"]', square: '[data-key="correct"]', tip: '[data-key="tip.actual"]', arm: '[data-key="find-arm"]:enabled' }[job]}`).waitFor();
        if (job === "arm") {
          await page.locator('#tag [data-key="find-arm"]').click();
          await page.locator('#tag [data-key="keep-arm"]').waitFor();
        }
        await look(`job-${job}`);
        await page.locator('#tag [data-key="back"]').click();
      }
      await page.locator('#tag [data-key="blanks"]').click();
      await look("job-blanks");
    });
  }
}

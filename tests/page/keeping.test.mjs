// Nothing is lost: two tabs, figures typed and not left, a reload in every state; and what the printer gets.

import assert from "node:assert/strict";
import { RECTANGLE, browse, draw, fillCut, give, openDemo, openPage, outline, readAfter, ring, saved, served, settled, wobbly } from "./support.mjs";

const { inBrowser, server } = served();

inBrowser("two tabs keep a piece each, through reloads, and a closed tab's piece can be taken up", {}, async (page, context) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  const first = await outline(page);
  const other = await openPage(context, server().address);
  await readAfter(other, () => draw(other, ring(500, 430, 160)));
  const second = await outline(other);
  assert.notEqual(second, first);
  for (const [tab, kept] of [[page, first], [other, second]]) {
    await tab.reload();
    await settled(tab);
    assert.equal(await outline(tab), kept);
  }
  await other.close();
  await page.reload();
  await settled(page);
  assert.equal(await outline(page), first);
  await page.locator('#hand [data-key="plate"]').click();
  await readAfter(page, () => page.locator('#tag [data-key="elsewhere0"]').click());
  await page.locator('#tag [data-key="back"]').click();
  assert.equal(await outline(page), second);
  await readAfter(page, () => page.locator('[data-key="undo"]').click());
  assert.equal(await outline(page), first);
});

inBrowser("a figure that is still being typed outlives a reload, and typing it is one step back", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  await page.locator('#tag [data-key="cut"]').click();
  await page.locator('#tag [data-key="kerf"]').pressSequentially("1.75");
  await page.reload();
  await settled(page);
  await page.locator('#tag [data-key="cut"]').click();
  assert.equal(await page.locator('#tag [data-key="kerf"]').inputValue(), "1.75");
  await page.locator('#tag [data-key="feed"]').pressSequentially("2400");
  await page.locator("#plate").focus();
  await readAfter(page, () => page.locator('[data-key="undo"]').click());
  assert.equal(await page.locator('#tag [data-key="feed"]').inputValue(), "");
  assert.equal(await page.locator('#tag [data-key="kerf"]').inputValue(), "1.75");
});

/** What is on the plate after a reload. */
async function reloaded(page) {
  await page.reload();
  await settled(page);
  return outline(page);
}

const press = (page, key) => readAfter(page, () => page.locator(`#hand [data-key="${key}"]`).click());

inBrowser("a piece that an earlier page kept, without its steps, is still there", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  const drawn = await outline(page);
  await page.evaluate(() => {
    const key = Object.keys(localStorage).find((k) => localStorage.getItem(k)?.includes('"pool"'));
    const { at, job: [trace, settings, hints], pool } = JSON.parse(localStorage.getItem(key));
    const { strokes, ...rest } = pool[trace];
    const kept = { ...rest, drawn: pool[rest.drawn] ?? null, strokes: strokes.map((n) => pool[n]) };
    const job = { trace: kept, settings: pool[settings], hints: pool[hints], cut: { scrap: null }, opening: null };
    const older = JSON.stringify({ at: at + 1e6, job });
    // As late as can be: the page keeps what is on it when it is left.
    addEventListener("pagehide", () => localStorage.setItem(key, older));
  });
  assert.equal(await reloaded(page), drawn);
});

inBrowser("undo and redo reach behind a reload", {}, async (page) => {
  const steps = [];
  for (const line of [wobbly(RECTANGLE), ring(550, 430, 90), ring(400, 330, 30)]) {
    await page.locator('#hand [data-key="draw"]').click();
    await readAfter(page, () => draw(page, line));
    steps.push(await outline(page));
  }
  assert.equal(await reloaded(page), steps[2]);
  await press(page, "undo");
  assert.equal(await reloaded(page), steps[1]);
  await press(page, "redo");
  assert.equal(await outline(page), steps[2]);
  await press(page, "undo");
  await press(page, "undo");
  assert.equal(await reloaded(page), steps[0]);
  await page.locator('#hand [data-key="undo"]').click();
  await page.reload();
  await settled(page);
  assert.ok(await page.locator('#hand [data-key="undo"]').isDisabled());
  for (const step of steps) {
    await press(page, "redo");
    assert.equal(await outline(page), step);
  }
});

inBrowser("undo reaches behind a reload to a long trace", {}, async (page) => {
  const points = Array.from({ length: 9_000 }, (_, i) => [80 * Math.cos(i / 1432), 50 * Math.sin(i / 1432)].map((v) => v.toFixed(3)));
  await readAfter(page, () => give(page, "long.csv", `x,y\n${points.join("\n")}\n`));
  const long = await outline(page);
  await openDemo(page, "hinge_blank.csv");
  const short = await outline(page);
  assert.equal(await reloaded(page), short);
  await press(page, "undo");
  assert.equal(await outline(page), long);
  assert.equal(await reloaded(page), long);
  await press(page, "redo");
  assert.equal(await outline(page), short);
});

inBrowser("a saved job holds the cut and the scrap, and brings them to another browser", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  await page.locator('#tag [data-key="cut"]').click();
  await page.locator('#tag [data-key="scrap"]').click();
  await page.locator('#hand [data-key="draw"]').click();
  await readAfter(page, () => draw(page, ring(450, 400, 60)));
  await fillCut(page);
  await page.locator('#tag [data-key="copies"]').fill("2");
  await page.locator("#tag summary").click();
  await page.locator('#tag [data-key="overlap"]').fill("3");
  await page.locator('#tag [data-key="outside"]').selectOption("ccw");
  await page.locator('#tag [data-key="save"]').click();
  const text = await saved(page, "Job");
  const { cut, scrap } = JSON.parse(text);
  assert.deepEqual(cut, { copies: 2, feed: 2400, kerf: 1.5, outside: "ccw", overlap: 3, pierce: 0.6 });
  assert.equal(scrap.strokes.length, 1);
  const other = await browse();
  try {
    const there = await openPage(other.context, server().address);
    await readAfter(there, () => give(there, "job.json", text));
    await there.locator('#tag [data-key="cut"]').click();
    await there.locator("#tag [data-key=run]").waitFor();
    for (const [key, value] of [["kerf", "1.5"], ["copies", "2"], ["overlap", "3"], ["outside", "ccw"]]) {
      assert.equal(await there.locator(`#tag [data-key="${key}"]`).inputValue(), value);
    }
    await there.locator('#tag [data-key="save"]').click();
    assert.equal(await saved(there, "Job"), text);
    assert.deepEqual(there.wrong, []);
  } finally {
    await other.close();
  }
});

inBrowser("a plan that comes when the piece is up again does not lie over it", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  await fillCut(page);
  await page.locator('#tag [data-key="back"]').click();
  await page.evaluate(() => {
    for (const key of ["cut", "back"]) document.querySelector(`#tag [data-key="${key}"]`).click();
  });
  await page.waitForTimeout(1_000);
  await page.locator('#tag [data-key="save"]').click();
  assert.ok(await page.locator('#tag [data-key="rs274"]').isDisabled());
});

inBrowser("the printer gets the sheet of the plan, or the look picture, and never the page", {}, async (page) => {
  await page.evaluate(() => {
    // As a browser does it, but for the paper.
    window.print = () => {
      dispatchEvent(new Event("beforeprint"));
      window.printed = getComputedStyle(document.getElementById("print")).display;
    };
  });
  const printed = async (words) => {
    await page.emulateMedia({ media: "print" });
    await page.locator("#plate").focus();
    await page.evaluate(() => (window.printed = undefined));
    await page.keyboard.press("Control+p");
    await page.waitForFunction(() => window.printed === "block");
    assert.match(await page.locator("#print").innerText(), words);
    assert.ok(await page.locator("#print svg").first().isVisible());
    assert.ok(await page.locator("#shop").isHidden());
    await page.evaluate(() => dispatchEvent(new Event("afterprint")));
    await page.emulateMedia({ media: "screen" });
    assert.ok(await page.locator("#shop").isVisible());
  };
  await readAfter(page, () => draw(page, wobbly(RECTANGLE)));
  await printed(/Look before you cut/);
  await fillCut(page);
  await printed(/Cut sheet/);
});

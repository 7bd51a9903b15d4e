// Nothing is lost: two tabs, figures typed and not left, a reload in every state; and what the printer gets.

import assert from "node:assert/strict";
import { RECTANGLE, draw, fillCut, openPage, outline, readAfter, ring, served, settled, wobbly } from "./support.mjs";

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

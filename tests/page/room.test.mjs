// The piece and what is asked of it, both wholly visible, on every screen and in every state. Where the piece lies
// is measured by what is painted, and not asked of the page.

import assert from "node:assert/strict";
import { draw, picture, readAfter, served, take, wobbly } from "./support.mjs";

const { inBrowser } = served();

/** Boxes of what is painted of the piece, and of all that lies over the plate, CSS pixels. */
async function boxes(page, layers) {
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => requestAnimationFrame(done)))));
  return page.evaluate((layers) => {
    let box = [Infinity, Infinity, -Infinity, -Infinity];
    for (const id of layers) {
      const canvas = document.getElementById(id);
      const { width, height } = canvas;
      const k = canvas.clientWidth / width;
      const { data } = canvas.getContext("2d").getImageData(0, 0, width, height);
      for (let y = 0; y < height; y += 1) {
        for (let x = 0; x < width; x += 1) {
          if (data[4 * (y * width + x) + 3] < 30) continue;
          box = [Math.min(box[0], x * k), Math.min(box[1], y * k), Math.max(box[2], (x + 1) * k), Math.max(box[3], (y + 1) * k)];
        }
      }
    }
    const over = ["tag", "chit", "hand", "talk", "compare", "again"].map((id) => document.getElementById(id)).filter((e) => e.checkVisibility());
    const rects = over.map((e) => [e.id, e.getBoundingClientRect()]).filter(([, r]) => r.width > 0);
    return { piece: box, over: rects.map(([id, r]) => [id, r.left, r.top, r.right, r.bottom]), screen: [innerWidth, innerHeight] };
  }, layers);
}

async function visible(page, state, layers = ["dye", "chalk"]) {
  const { piece, over, screen } = await boxes(page, layers);
  const [l, t, r, b] = piece;
  assert.ok(l > 1 && t > 1 && r < screen[0] - 1 && b < screen[1] - 1, `${state}: cut off by the screen: ${piece} in ${screen}`);
  assert.ok(Math.max(r - l, b - t) > 0.18 * Math.min(...screen), `${state}: too small to see: ${piece}`);
  for (const [id, left, top, right, bottom] of over) {
    assert.ok(l >= right || left >= r || t >= bottom || top >= b, `${state}: ${id} (${[left, top, right, bottom].map(Math.round)}) lies over the piece (${piece.map(Math.round)})`);
    assert.ok(left >= 0 && top >= 0 && right <= screen[0] && bottom <= screen[1], `${state}: ${id} leaves the screen`);
  }
}

// The last two are the first two, zoomed to 200 %.
for (const [width, height] of [[1440, 900], [1024, 768], [390, 844], [360, 640], [720, 450], [512, 384]]) {
  inBrowser(`the piece is never hidden at ${width} × ${height}`, { viewport: { width, height }, hasTouch: width < 500 }, async (page) => {
    // All over the free plate, so that whatever appears has to be made room for.
    const [l, t, r, b] = [0.06 * width, 0.2 * height, 0.94 * width, 0.8 * height];
    await readAfter(page, () => draw(page, wobbly([[l, t], [r, t], [r, b], [l, b]])));
    await visible(page, "drawn");
    await picture(page, `room-drawn-${width}`);
    await page.locator("#plate").focus();
    for (const kind of ["corner", "edge"]) {
      await page.keyboard.press("ArrowRight");
      await page.keyboard.press("Enter");
      await page.locator("#chit h2", { hasText: new RegExp(`^${kind} `, "i") }).waitFor();
      await visible(page, `slip about a ${kind}`);
      await picture(page, `room-${kind}-${width}`);
      await page.keyboard.press("Escape");
    }
    await take(page, "mark");
    const { piece } = await boxes(page, ["dye"]);
    await readAfter(page, () => page.mouse.click((piece[0] + piece[2]) / 2, (piece[1] + piece[3]) / 2));
    await visible(page, "a mark");
    await page.mouse.click((piece[0] + piece[2]) / 2, (piece[1] + piece[3]) / 2, { delay: 10 });
    await page.waitForTimeout(600);
    await page.mouse.click((piece[0] + piece[2]) / 2, (piece[1] + piece[3]) / 2);
    await page.locator("#chit h2", { hasText: /^mark /i }).waitFor();
    await visible(page, "slip about a mark");
    await picture(page, `room-slip-mark-${width}`);
    await page.locator("#chit [data-key=shut]").click();
    await page.locator('#tag [data-key="cut"]').click();
    await visible(page, "the cut");
    for (const [key, value] of [["kerf", "1.5"], ["feed", "2400"], ["pierce", "0.6"]]) await page.locator(`#tag [data-key="${key}"]`).fill(value);
    await page.locator("#tag [data-key=run]").waitFor();
    await visible(page, "a plan", ["dye", "chalk", "scribe"]);
    await picture(page, `room-plan-${width}`);
    for (const [key, value] of [["width", "3000"], ["height", "2000"]]) await page.locator(`#tag [data-key="${key}"]`).fill(value);
    await page.locator("#tag [data-key=run]").waitFor();
    await page.waitForTimeout(500);
    await visible(page, "a stock typed", ["dye", "scribe"]);
    await picture(page, `room-stock-${width}`);
    await page.locator('#tag [data-key="save"]').click();
    await visible(page, "saving", ["dye", "scribe"]);
    await page.locator('#hand [data-key="plate"]').click();
    await visible(page, "more", ["dye", "scribe"]);
    await page.locator('#tag [data-key="back"]').click();
    await visible(page, "back at the piece");
  });
}

inBrowser("a view that the person moved stays, and all of it is one press away", {}, async (page) => {
  await readAfter(page, () => draw(page, wobbly([[300, 250], [800, 250], [800, 600], [300, 600]])));
  await page.mouse.move(300, 250);
  for (let i = 0; i < 4; i += 1) await page.mouse.wheel(0, -300);
  await page.locator('#again [data-key="all"]').waitFor();
  const at = await boxes(page, ["dye"]);
  await page.locator('#tag [data-key="cut"]').click();
  assert.deepEqual((await boxes(page, ["dye"])).piece, at.piece);
  await page.locator('#again [data-key="all"]').click();
  await visible(page, "all");
  assert.ok(await page.locator("#again").isHidden());
});

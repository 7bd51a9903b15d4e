// A picture becomes a trace on the page: found by itself, refused with what to do, and compared with what was read.

import assert from "node:assert/strict";
import { accessible, outline, picture, readAfter, saved, served } from "./support.mjs";

const { inBrowser } = served();

/** Four dots at the corners of 240 × 160 mm and a line round 120 × 80, seen straight from above at 5 pixels a mm. */
async function drawn(page) {
  const text = await page.evaluate(async () => {
    const canvas = new OffscreenCanvas(1600, 1200);
    const pen = canvas.getContext("2d");
    const ground = pen.createLinearGradient(0, 0, 1600, 1200);
    ground.addColorStop(0, "#cfcfca");
    ground.addColorStop(1, "#b4b6b2");
    pen.fillStyle = ground;
    pen.fillRect(0, 0, 1600, 1200);
    let seed = 5;
    for (let i = 0; i < 90_000; i += 1) {
      seed = (Math.imul(seed, 1664525) + 1013904223) >>> 0;
      pen.fillStyle = i % 2 ? "#0000000a" : "#ffffff0c";
      pen.fillRect(seed % 1600, Math.floor(seed / 1600) % 1200, 2, 2);
    }
    pen.fillStyle = pen.strokeStyle = "#1b1b1d";
    for (const [x, y] of [[200, 200], [1400, 200], [1400, 1000], [200, 1000]]) {
      pen.beginPath();
      pen.arc(x, y, 18, 0, 7);
      pen.fill();
    }
    pen.lineWidth = 12;
    pen.strokeRect(500, 400, 600, 400);
    const bytes = new Uint8Array(await (await canvas.convertToBlob({ type: "image/png" })).arrayBuffer());
    return Array.from(bytes, (b) => String.fromCharCode(b)).join("");
  });
  return { name: "plate.png", mimeType: "image/png", buffer: Buffer.from(text, "latin1") };
}

for (const [width, height] of [[1440, 900], [390, 844]]) {
  inBrowser(`a photo of a drawn line becomes its outline in mm, at ${width}`, { viewport: { width, height }, hasTouch: width < 500 }, async (page) => {
    await page.locator("#file").setInputFiles(await drawn(page));
    await page.locator('#tag [data-key="photo-read"]').waitFor();
    assert.match(await page.locator("#tag .problem").innerText(), /four marks/);
    await accessible(page, "photo");
    await picture(page, `photo-${width}`);
    for (const [key, value] of [["photo-w", "240"], ["photo-h", "160"]]) await page.locator(`#tag [data-key="${key}"]`).fill(value);
    const began = Date.now();
    await readAfter(page, () => page.locator('#tag [data-key="photo-read"]').click());
    console.log(`photo read in ${((Date.now() - began) / 1000).toFixed(1)} s`);
    await picture(page, `photo-read-${width}`);
    const { loops } = JSON.parse(await outline(page));
    assert.deepEqual(loops.map((l) => l.edges.length), [4]);
    const sizes = loops[0].edges.map(({ line: { from, to } }) => Math.hypot(to[0] - from[0], to[1] - from[1])).sort((a, b) => a - b);
    [80, 80, 120, 120].forEach((size, i) => assert.ok(Math.abs(sizes[i] - size) < 0.2, `${sizes}`));
    const low = [0, 1].map((k) => Math.min(...loops[0].edges.map((e) => e.line.from[k])));
    assert.ok(Math.hypot(low[0] - 60, low[1] - 40) < 0.3, `from the lower left mark: ${low}`);
    // The picture lies under the plate.
    const under = await page.evaluate(() => {
      const dye = document.getElementById("dye");
      const { data } = dye.getContext("2d").getImageData(0, 0, dye.width, dye.height);
      return data.filter((v, i) => i % 4 === 3 && v > 100 && v < 200).length / (data.length / 4);
    });
    assert.ok(under > 0.1, `${under}`);
  });
}

inBrowser("the marks that were found are shown, and one that is dragged goes to the mark it is let go by", {}, async (page) => {
  await page.locator("#file").setInputFiles(await drawn(page));
  await page.locator('#tag [data-key="photo-read"]').waitFor();
  for (const [key, value] of [["photo-w", "240"], ["photo-h", "160"]]) await page.locator(`#tag [data-key="${key}"]`).fill(value);
  await page.locator('#tag [data-key="photo-h"]').blur();
  const marks = page.locator('#tag [data-key="marks"]');
  await marks.filter({ hasText: /rings/ }).waitFor({ timeout: 60_000 });
  await picture(page, "photo-marks");
  const canvas = page.locator("#tag canvas.preview");
  await canvas.scrollIntoViewIfNeeded();
  const drag = async (from, to) => {
    const box = await canvas.boundingBox();
    const at = ([x, y]) => [box.x + (x * box.width) / 1600, box.y + (y * box.height) / 1200];
    await page.mouse.move(...at(from));
    await page.mouse.down();
    await page.mouse.move(...at(from.map((v, i) => (v + to[i]) / 2)));
    await page.mouse.move(...at(to));
    await picture(page, "photo-dragged");
    await page.mouse.up();
  };
  // Away from the mark, where nothing is, it stays as it is let go; back near the mark it finds it.
  await drag([200, 1000], [330, 900]);
  await page.locator("#tag button", { hasText: "Forget them" }).waitFor();
  await marks.filter({ hasText: /rings/ }).waitFor({ timeout: 60_000 });
  await drag([330, 900], [214, 990]);
  await marks.filter({ hasText: /rings/ }).waitFor({ timeout: 60_000 });
  await readAfter(page, () => page.locator('#tag [data-key="photo-read"]').click());
  const { loops } = JSON.parse(await outline(page));
  const sizes = loops[0].edges.map(({ line: { from, to } }) => Math.hypot(to[0] - from[0], to[1] - from[1])).sort((a, b) => a - b);
  [80, 80, 120, 120].forEach((size, i) => assert.ok(Math.abs(sizes[i] - size) < 0.2, `${sizes}`));
});

inBrowser("a picture that cannot serve is refused with what to do, and the plate keeps what it had", {}, async (page) => {
  const whole = await drawn(page);
  await page.locator("#file").setInputFiles(whole);
  await page.locator('#tag [data-key="photo-scale"]').selectOption("target");
  await page.locator('#tag [data-key="photo-read"]').click();
  const problem = page.locator('#tag .problem[role="alert"]');
  await problem.waitFor({ timeout: 60_000 });
  assert.match(await problem.innerText(), /\w{4}/);
  await page.locator("#file").setInputFiles({ name: "cut.png", mimeType: "image/png", buffer: whole.buffer.subarray(0, 900) });
  await page.locator('#talk[data-how="failed"]', { hasText: /cut\.png/ }).waitFor();
  assert.match(await saved(page, "Target to print"), /<svg/);
});

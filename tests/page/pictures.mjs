// Makes the two pictures of the page that the README shows: `npm run pictures` in tests/page. The pictures of all
// states, dark and bright, wide and narrow, are left in target/page by the checks.

import { mkdirSync } from "node:fs";
import { join } from "node:path";
import { browse, openPage, picture, readAfter, root, serve } from "./support.mjs";

const folder = join(root, "examples/pictures");
mkdirSync(folder, { recursive: true });
const server = await serve();
for (const [name, width, height, colorScheme] of [
  ["page-desktop", 1440, 900, "dark"],
  ["page-phone", 360, 740, "light"],
]) {
  const browser = await browse({ viewport: { width, height }, colorScheme, hasTouch: width < 500 });
  const page = await openPage(browser.context, server.address);
  await page.locator('[data-key="plate"]').click();
  await readAfter(page, () => page.locator(`[data-key="${width < 500 ? "hinge_blank" : "vent_collar"}.csv"]`).click());
  if (width >= 500) {
    await page.locator('#tag [data-key="cut"]').click();
    for (const [key, value] of [["kerf", "1.5"], ["feed", "2400"], ["pierce", "0.6"], ["thickness", "3"]]) {
      await page.locator(`#tag [data-key="${key}"]`).fill(value);
      await page.keyboard.press("Tab");
    }
    await page.locator("#tag [data-key=torch]").fill("480");
  }
  await page.evaluate(() => document.activeElement instanceof HTMLElement && document.activeElement.blur());
  await page.waitForTimeout(300);
  await picture(page, name);
  await page.screenshot({ path: join(folder, `${name}.jpg`), type: "jpeg", quality: 82 });
  await browser.close();
}
server.stop();
process.exit(0);

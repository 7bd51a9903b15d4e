// The page in a real browser: the project's own server, Chromium, and what every check watches for.

import assert from "node:assert/strict";
import { execFileSync, spawn } from "node:child_process";
import { createRequire } from "node:module";
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { after, before, test } from "node:test";
import { chromium } from "playwright-core";

export const root = resolve(import.meta.dirname, "../..");
export const target = join(root, "target");
export const pictures = join(target, "page");
mkdirSync(pictures, { recursive: true });

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

/** Builds all programs as tests/all.sh does, so that nothing is built twice. */
export function build() {
  execFileSync("cargo", ["build", "-q", "--profile", "checks", "--workspace", "--all-features", "--bins"], { cwd: root });
}

/** The part of a list that lies under so much of it. */
export const share = (list, part) => list.toSorted((a, b) => a - b)[Math.floor((list.length - 1) * part)];
export const median = (list) => share(list, 0.5);

/** In every page of a context `window.took` is how long the worker says that its last reading took, ms: heard along the way. */
export function hearReadings(context) {
  return context.addInitScript(() => {
    window.Worker = class extends Worker {
      constructor(...how) {
        super(...how);
        this.addEventListener("message", ({ data }) => (window.took = data.value?.took ?? window.took));
      }
    };
  });
}

/** Builds the page and serves it; resolves to its address and how to stop it. `PAGE=http://…/` takes one that is served. */
export function serve() {
  const { PAGE } = process.env;
  if (PAGE) return Promise.resolve({ address: PAGE, said: "", stop: () => {} });
  build();
  const server = spawn(join(target, "checks/trued-web"), ["serve", "--port", "0"], { cwd: root });
  return new Promise((done, fail) => {
    let said = "";
    let wrong = "";
    server.stderr.on("data", (d) => (wrong += d));
    server.stdout.on("data", (d) => {
      said += d;
      const found = /http:\/\/127\.0\.0\.1:\d+\//.exec(said);
      if (found) done({ address: found[0], said, stop: () => server.kill() });
    });
    server.on("exit", (code) => fail(new Error(`the server ended (${code}):\n${said}\n${wrong}`)));
  });
}

/** A browser with a profile of its own. */
export async function browse(options = {}) {
  const profile = mkdtempSync(join(tmpdir(), "trued-page-"));
  const context = await chromium.launchPersistentContext(profile, {
    executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
    headless: true,
    args: ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"],
    viewport: { width: 1440, height: 900 },
    acceptDownloads: true,
    ...options,
  });
  return { context, close: async () => { await context.close(); rmSync(profile, { recursive: true, force: true }); } };
}

/**
 * The page, opened and ready. `page.wrong` collects what must never happen: a console error, an
 * uncaught error, a request to anywhere but the page's own files.
 */
export async function openPage(context, address) {
  const page = await context.newPage();
  page.setDefaultTimeout(12_000);
  page.wrong = [];
  page.on("console", (m) => m.type() === "error" && page.wrong.push(`console: ${m.text()}`));
  page.on("pageerror", (e) => page.wrong.push(`error: ${e.message}`));
  page.on("request", (r) => {
    const own = [address, "data:", "blob:"].some((a) => r.url().startsWith(a));
    if (!own) page.wrong.push(`request: ${r.url()}`);
  });
  await page.goto(address);
  await settled(page);
  return page;
}

export async function settled(page) {
  await page.waitForFunction(() => document.documentElement.dataset.settled === "yes");
}

/** Does something and waits until what follows from it has been read. */
export async function readAfter(page, act) {
  const before = await page.evaluate(() => Number(document.documentElement.dataset.read ?? 0));
  await act();
  await page.waitForFunction((n) => Number(document.documentElement.dataset.read ?? 0) > n, before, { timeout: 25_000 });
}

/** A pen-down run along some places of the screen. */
export async function draw(page, points) {
  await page.mouse.move(...points[0]);
  await page.mouse.down();
  for (const p of points.slice(1)) await page.mouse.move(...p);
  await page.mouse.up();
}

/** A seeded source of numbers in -1..1. */
export function shaker(seed) {
  let state = seed >>> 0;
  return () => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return state / 2 ** 31 - 1;
  };
}

/** Points around a course of corners, as a hand would leave them: a slow wander, a step of some pixels. */
export function wobbly(corners, { step = 4, wander = 1.2, seed = 1 } = {}) {
  const shake = shaker(seed);
  let [dx, dy] = [0, 0];
  const out = [];
  corners.forEach((a, i) => {
    const b = corners[(i + 1) % corners.length];
    const n = Math.max(2, Math.round(Math.hypot(b[0] - a[0], b[1] - a[1]) / step));
    for (let k = 0; k < n; k += 1) {
      dx = 0.8 * dx + 0.6 * wander * shake();
      dy = 0.8 * dy + 0.6 * wander * shake();
      out.push([a[0] + ((b[0] - a[0]) * k) / n + dx, a[1] + ((b[1] - a[1]) * k) / n + dy]);
    }
  });
  out.push([corners[0][0] + 2, corners[0][1] + 1]);
  return out;
}

export function ring(x, y, r, n = 90, options = {}) {
  const corners = Array.from({ length: n }, (_, i) => [x + r * Math.cos((2 * Math.PI * i) / n), y + r * Math.sin((2 * Math.PI * i) / n)]);
  return wobbly(corners, { step: 8, wander: 0.8, ...options });
}

/** Presses a button that saves, and gives back the file's text. */
export async function saved(page, name) {
  const [download] = await Promise.all([page.waitForEvent("download"), page.locator("#tag").getByRole("button", { name, exact: true }).click()]);
  return readFileSync(await download.path(), "utf8");
}

/** The outline document as the page would save it. */
export async function outline(page) {
  const shut = page.locator("#chit [data-key=shut]");
  if (await shut.isVisible()) await shut.click();
  await page.locator('#tag [data-key="save"]').click();
  const text = await saved(page, "Outline");
  await page.locator('#tag [data-key="back"]').click();
  return text;
}

/** No violation in the state the page is in. */
export async function accessible(page, state) {
  await page.evaluate(axe);
  const found = await page.evaluate(() => window.axe.run(document, { resultTypes: ["violations"] }));
  const said = found.violations.map((v) => `${v.id}: ${v.help}\n  ${v.nodes.map((n) => `${n.html} ${n.failureSummary}`).join("\n  ")}`);
  assert.deepEqual(said, [], `accessibility, ${state}`);
  // A label is pressed as well as what it names.
  const small = await page.evaluate(() => [...document.querySelectorAll("button, select, textarea, input[type=text], input[type=range], label:has(input[type=checkbox])")]
    .filter((e) => e.checkVisibility() && !e.closest(".unseen")).map((e) => [e.textContent, e.getBoundingClientRect()])
    .filter(([, b]) => b.width < 44 || b.height < 44).map(([t, b]) => `${t} ${b.width}x${b.height}`));
  assert.deepEqual(small, [], `targets, ${state}`);
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `width, ${state}`);
  const covered = await page.evaluate(() => {
    const said = document.getElementById("talk").getBoundingClientRect();
    return [...document.querySelectorAll("#start h2, #start p, #start button, #hand button")]
      .filter((e) => e.checkVisibility() && said.width > 0)
      .filter((e) => { const b = e.getBoundingClientRect(); return b.left < said.right && said.left < b.right && b.top < said.bottom && said.top < b.bottom; })
      .map((e) => e.textContent);
  });
  assert.deepEqual(covered, [], `covered by what is said, ${state}`);
}

export async function picture(page, name) {
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done))));
  await page.screenshot({ path: join(pictures, `${name}.png`) });
}

export async function openDemo(page, name) {
  await page.locator('[data-key="plate"]').click();
  await readAfter(page, () => page.locator(`[data-key="${name}"]`).click());
}

export async function give(page, name, text) {
  await page.locator("#file").setInputFiles({ name, mimeType: "text/plain", buffer: Buffer.from(text) });
}

export async function fillCut(page) {
  await page.locator('#tag [data-key="cut"]').click();
  for (const [key, value] of [["kerf", "1.5"], ["feed", "2400"], ["pierce", "0.6"]]) {
    await page.locator(`#tag [data-key="${key}"]`).fill(value);
    await page.keyboard.press("Tab");
  }
  await page.locator("#tag [data-key=run]").waitFor();
}

/** What is in hand. */
export async function take(page, hand) {
  await page.locator(`#hand [data-key="${hand}"]`).click();
}

/** Where the checks draw a plate, in px of the page. */
export const RECTANGLE = [[300, 250], [800, 250], [800, 600], [300, 600]];

/**
 * The page served to the checks of one file, and what makes them: each has a browser of its own at one width, and nothing
 * that must never happen may have happened in it.
 */
export function served() {
  let running;
  before(async () => {
    running = await serve();
  });
  after(() => running?.stop());
  const server = () => running;
  const inBrowser = (name, { todo, ...options }, run) =>
    test(name, { todo }, async () => {
      const browser = await browse(options);
      try {
        const page = await openPage(browser.context, server().address);
        await run(page, browser.context);
        assert.deepEqual(page.wrong, []);
      } finally {
        await browser.close();
      }
    });
  return { inBrowser, server };
}

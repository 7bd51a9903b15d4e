// A test piece for a new sheet, and what calipers on it say.

/** @import { CouponAsked, CouponFigures, CouponSays, CouponView } from "../pkg/trued_web.js" */
/** @import { Shop } from "../shop.js" */
/** @import { Shown } from "../tag.js" */

import { button, make } from "../dom.js";
import { lacking, lengthBlank, numberBlank, problem } from "../form.js";
import { INCH, small } from "../units.js";
import { machineWords, rectangleBlanks } from "./square.js";

/** @param {Shop} shop */
export function couponLacks({ figures: f }) {
  return lacking([
    !(f["coupon.from"] && f["coupon.to"]) && "the first and last feed",
    !f["coupon.kerf"] && "the kerf",
    (f["coupon.pierce"] ?? null) === null && "the pierce",
  ]);
}

/** @param {Shop} shop @returns {CouponAsked} */
export function couponAsked({ figures: f }) {
  return {
    feed_from: f["coupon.from"] ?? 0,
    feed_to: f["coupon.to"] ?? 0,
    rungs: f["coupon.rungs"] ?? 6,
    kerf: f["coupon.kerf"] ?? 0,
    pierce: f["coupon.pierce"] ?? 0,
    thickness: f["coupon.thickness"] ?? null,
  };
}

/** @param {Shop} shop @returns {CouponFigures | null} null while nothing was measured */
export function couponMeasured({ figures: f }) {
  const list = (/** @type {string[]} */ keys) => {
    const all = keys.map((k) => f[`coupon.${k}`] ?? null);
    return all.every((v) => v !== null) ? /** @type {number[]} */ (all) : null;
  };
  const one = (/** @type {string} */ key) => f[`coupon.${key}`] ?? null;
  /** @type {CouponFigures} */
  const measured = {
    feed_from: one("from"),
    feed_to: one("to"),
    rungs: f["coupon.rungs"] ?? 6,
    rung: one("rung"),
    slot: one("slot"),
    plug: one("plug"),
    hole: one("hole"),
    sides: /** @type {CouponFigures["sides"]} */ (list(["bottom", "right", "top", "left"])),
    diagonals: /** @type {CouponFigures["diagonals"]} */ (list(["rising", "falling"])),
    caliper: f["coupon.caliper"] ?? 0.05,
    kerf: one("kerf"),
    pierce: one("pierce"),
    thickness: one("thickness"),
  };
  const some = [measured.rung, measured.slot, measured.plug, measured.hole, measured.sides, measured.diagonals].some((v) => v !== null);
  return some ? measured : null;
}

/** Figures of a filled-in sheet, by the keys of their blanks. @param {CouponFigures} m @returns {Record<string, number>} */
export function ofSheet(m) {
  const [bottom, right, top, left] = m.sides ?? [];
  const [rising, falling] = m.diagonals ?? [];
  const named = { from: m.feed_from, to: m.feed_to, rungs: m.rungs, rung: m.rung, slot: m.slot, plug: m.plug, hole: m.hole, caliper: m.caliper, kerf: m.kerf, pierce: m.pierce, thickness: m.thickness, bottom, right, top, left, rising, falling };
  return Object.fromEntries(Object.entries(named).flatMap(([k, v]) => (typeof v === "number" ? [[`coupon.${k}`, v]] : [])));
}

/** @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
export function couponSide(s, on) {
  const f = s.shop.figures;
  const per = s.unit === "mm" ? 1 : INCH;
  const set = (/** @type {string} */ key) => (/** @type {number | null} */ v) => on.figure("coupon", `coupon.${key}`, v);
  const mm = (/** @type {string} */ label, /** @type {string} */ key, hint = "") => lengthBlank(label, `coupon.${key}`, f[`coupon.${key}`], s.unit, set(key), hint);
  const plain = (/** @type {string} */ label, /** @type {string} */ unit, /** @type {string} */ key, k = 1, hint = "") => numberBlank(label, unit, `coupon.${key}`, f[`coupon.${key}`], set(key), k, hint);
  const made = /** @type {CouponView | undefined} */ (s.answers.coupon);
  const says = /** @type {CouponSays | undefined} */ (s.answers.couponSays);
  const lacks = couponLacks(s.shop);
  const feeds = made?.feeds.map((feed, i) => `${i + 1}: ${Math.round(feed / per)}`).join(" · ");
  return [
    make("p", {}, "Cut it before the first part on a new sheet: rungs each at their own feed, a slot and a plug for the kerf, a square for squareness. The range, kerf and pierce come from your cutter's own book."),
    make(
      "div",
      { class: "pairs" },
      plain("First feed", `${s.unit}/min`, "from", per),
      plain("Last feed", `${s.unit}/min`, "to", per),
      plain("Rungs", "", "rungs", 1, "empty: 6"),
      mm("Kerf", "kerf", "as the book says it"),
      plain("Pierce", "s", "pierce"),
      mm("Plate thickness", "thickness"),
    ),
    lacks ? make("p", { class: "problem", role: "status" }, lacks) : problem(s, "coupon"),
    feeds && make("p", {}, `Feeds by the notches below each rung, ${s.unit}/min: ${feeds}`),
    ...(s.alone === "coupon" ? s.planParts : []),
    s.alone === "coupon" && make("div", { class: "row" }, button("Save", () => on.turn("save"), { class: "strong", "data-key": "save" })),
    make("h3", {}, "After the cut"),
    make("p", {}, "Let it cool. Count the best rung by its notches: least dross, lines leaning a little back. Leave out what was not measured."),
    make(
      "div",
      { class: "pairs" },
      plain("Best rung", "", "rung"),
      mm("Slot, width", "slot"),
      mm("Plug, side", "plug"),
      mm("Hole it left, side", "hole"),
      mm("Calipers within ±", "caliper", "empty: 0.05 mm"),
    ),
    ...rectangleBlanks("coupon", "The square, cut 100 × 100 mm", s, set),
    make("div", { class: "row" }, button("Open a filled-in sheet", () => on.fileFor("sheet"), { "data-key": "sheet-file" })),
    problem(s, "couponSays"),
    ...(says ? said(says, s, on) : []),
  ].filter((c) => c !== false && c !== undefined && c !== "");
}

/** @param {CouponSays} says @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
function said(says, s, on) {
  const per = s.unit === "mm" ? 1 : INCH;
  const name = make("input", { type: "text", value: s.shop.words["coupon.name"] ?? "", "data-key": "coupon.name", autocomplete: "off", oninput: (/** @type {any} */ e) => on.word("coupon.name", e.currentTarget.value) });
  return [
    make("h3", {}, "What it says"),
    make(
      "ul",
      { class: "answer", "data-key": "answer" },
      says.kerf && make("li", {}, `kerf ${small(says.kerf[0], s.unit)} ± ${small(says.kerf[1], s.unit)} ${s.unit}`),
      says.feed !== null && make("li", {}, `feed ${Math.round(says.feed / per)} ${s.unit}/min`),
      ...(says.square ? machineWords(says.square.machine, says.square.plus_minus).map((w) => make("li", {}, w)) : []),
      ...says.notes.map((n) => make("li", {}, n)),
      ...says.doubts.map((d) => make("li", {}, make("b", {}, "In doubt: "), d.text)),
    ),
    make("div", { class: "row" }, button("Take them for the cut", () => on.takeCoupon(says), { class: "strong", "data-key": "take-coupon" })),
    make("label", {}, make("span", {}, "Keep them in the material book as"), name),
    make("div", { class: "row" }, button("Keep and save the book", () => on.keepBook(says, s.shop.words["coupon.name"] ?? ""), { "data-key": "keep-book" }), button("Open my book first", () => on.fileFor("book"), { class: "quiet", "data-key": "book-file" })),
  ];
}

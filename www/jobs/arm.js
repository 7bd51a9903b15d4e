// The arm's own lengths from touches of known points.

/** @import { Arm, ArmView } from "../pkg/trued_web.js" */
/** @import { Shown } from "../tag.js" */

import { button, make } from "../dom.js";
import { choice, lengthBlank, problem } from "../form.js";
import { small } from "../units.js";
import { machineParts } from "./square.js";

/** The figures of an arm that nothing is known of yet. @type {Arm} */
export const NO_ARM = { link1: 0, link2: 0, base: [0, 0], base_angle_deg: 0, elbow: "left", tips: {} };

/** @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
export function armSide(s, on) {
  const arm = s.shop.machine.arm ?? NO_ARM;
  /** @type {(change: (arm: Arm) => Partial<Arm>) => void} */
  const set = on.arm;
  const found = /** @type {ArmView | undefined} */ (s.answers.arm);
  const rows = make("textarea", { rows: 5, "data-key": "touches", "aria-label": "Touches, one in a row", placeholder: "known_x,known_y,reported_x,reported_y\n0,0,6.502,-9.193\n150,0,154.475,-12.779", spellcheck: "false", oninput: (/** @type {any} */ e) => on.touches(e.currentTarget.value) });
  rows.value = s.shop.touches;
  const ready = arm.link1 > 0 && arm.link2 > 0;
  return [
    make("p", {}, "Put the tip on ten or more points whose places you know, spread over the whole table, and note what the machine reports. Torch disconnected: the machine can move at any moment."),
    make("h3", {}, "What the machine believes"),
    make(
      "div",
      { class: "pairs" },
      lengthBlank("Link 1", "link1", arm.link1 || null, s.unit, (v) => set(() => ({ link1: v ?? 0 }))),
      lengthBlank("Link 2", "link2", arm.link2 || null, s.unit, (v) => set(() => ({ link2: v ?? 0 }))),
      signed("Base x", "base-x", arm.base[0], (v) => set(({ base }) => ({ base: [v, base[1]] }))),
      signed("Base y", "base-y", arm.base[1], (v) => set(({ base }) => ({ base: [base[0], v] }))),
      signed("Base angle", "base-angle", arm.base_angle_deg, (v) => set(() => ({ base_angle_deg: v })), "°"),
      choice("Elbow", "elbow", [["to the left", "left"], ["to the right", "right"]], arm.elbow, (elbow) => set(() => ({ elbow }))),
    ),
    ...tipRows(arm, set),
    make("h3", {}, "Touches"),
    rows,
    make("div", { class: "row" }, button("Open a file of touches", () => on.fileFor("touches"), { "data-key": "touches-file" })),
    make("div", { class: "pairs" }, tipChoice("Touched with", "arm.tip", s, on)),
    !ready ? make("p", { class: "problem", role: "status" }, "Open a profile, or fill in both links as the maker says them.") : problem(s, "arm"),
    make("div", { class: "row" }, button("Find the arm", () => on.work("arm"), { class: "strong", "data-key": "find-arm", disabled: !ready || s.shop.touches.trim() === "" })),
    ...(found ? answer(found, s, on) : []),
    ...machineParts(s, on),
  ].filter((c) => c !== false);
}

/** A figure that may be below zero. @param {string} label @param {string} key @param {number} value @param {(v: number) => void} done */
function signed(label, key, value, done, unit = "mm") {
  const input = make("input", { type: "text", inputmode: "text", autocomplete: "off", size: 7, value: String(Number(value.toFixed(6))), "data-key": key, name: key, oninput: (/** @type {any} */ e) => {
    const v = Number(e.currentTarget.value.replace(",", ".").replace("−", "-"));
    if (Number.isFinite(v)) done(v);
  } });
  return make("label", {}, make("span", {}, label), make("span", { class: "with" }, input, make("span", {}, unit)));
}

/** Each tip with its offset from the wrist: along link 2, and to the left of it. @param {Arm} arm @param {(change: (arm: Arm) => Partial<Arm>) => void} set */
function tipRows(arm, set) {
  const row = (/** @type {[string, [number, number]]} */ [name, [along, left]]) =>
    make(
      "div",
      { class: "pairs" },
      signed(`${name}: along link 2`, `tip-${name}-x`, along, (v) => set(({ tips }) => ({ tips: { ...tips, [name]: [v, tips[name]?.[1] ?? left] } }))),
      signed(`${name}: to its left`, `tip-${name}-y`, left, (v) => set(({ tips }) => ({ tips: { ...tips, [name]: [tips[name]?.[0] ?? along, v] } }))),
    );
  const input = make("input", { type: "text", "data-key": "new-tip", "data-own": "", autocomplete: "off" });
  const add = (/** @type {any} */ e) => {
    const name = e.currentTarget.closest(".last").querySelector("input").value.trim();
    if (name && !(name in arm.tips)) set(({ tips }) => ({ tips: { ...tips, [name]: [0, 0] } }));
  };
  return [make("h3", {}, "Tips, mm from the wrist"), ...Object.entries(arm.tips).map(row), make("div", { class: "row last" }, make("label", {}, make("span", {}, "Another tip, by name"), input), button("Add it", add, { "data-key": "add-tip" }))];
}

/** @param {string} label @param {string} key @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
export function tipChoice(label, key, s, on) {
  const tips = Object.keys(s.shop.machine.arm?.tips ?? {});
  const list = tips.length ? tips : ["tip"];
  const now = s.shop.words[key];
  return choice(label, key, list.map((t) => [t, t]), now && list.includes(now) ? now : list[0], (v) => on.word(key, v));
}

/** @param {ArmView} found @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
function answer(found, s, on) {
  const figure = (/** @type {ArmView["figures"][number]} */ f) =>
    f.angle ? `${f.name} ${f.value.toFixed(3)}° ± ${f.plus_minus.toFixed(3)}°` : `${f.name} ${small(f.value, s.unit)} ± ${small(f.plus_minus, s.unit)} ${s.unit}`;
  return [
    make("h3", {}, "What the arm is"),
    make("ul", { class: "answer", "data-key": "answer" }, ...found.figures.map((f) => make("li", {}, figure(f))), make("li", {}, `${found.touches} touches, off by ${small(found.touch_error, s.unit)} ${s.unit} each way, the worst by ${small(found.worst, s.unit)}`), ...found.notes.map((n) => make("li", {}, n))),
    errorMap(found, s),
    make("div", { class: "row" }, button("Keep this arm", () => on.machine({ ...s.shop.machine, arm: found.arm }, "arm"), { class: "strong", "data-key": "keep-arm" })),
  ];
}

/** What error to expect where on the table, as the table lies. @param {ArmView} found @param {Shown} s */
function errorMap(found, s) {
  const ys = [...new Set(found.map.map((e) => e.at[1]))].sort((a, b) => b - a);
  const row = (/** @type {number} */ y) => make("tr", {}, ...found.map.filter((e) => e.at[1] === y).map((e) => make("td", {}, small(e.within, s.unit))));
  return make("table", { class: "map" }, make("caption", {}, `Error to expect over the table, ${s.unit} (95 in 100 within)`), make("tbody", {}, ...ys.map(row)));
}

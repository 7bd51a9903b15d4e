// A machine out of square or out of scale, found with calipers on one cut rectangle. The form is laid
// out as the piece lies.

/** @import { Measured, Squareness, SquareView } from "../pkg/trued_web.js" */
/** @import { Shop } from "../shop.js" */
/** @import { Shown } from "../tag.js" */

import { button, drawing, make } from "../dom.js";
import { lacking, lengthBlank, problem } from "../form.js";

const SIX = ["bottom", "right", "top", "left", "rising", "falling"];

/** @param {Shop} shop */
export function squareLacks({ figures: f }) {
  return lacking([
    !(f["square.width"] && f["square.height"]) && "the size that was told",
    SIX.some((k) => !f[`square.${k}`]) && "all four sides and both diagonals",
  ]);
}

/** @param {Shop} shop @returns {Measured} */
export function squareMeasured({ figures: f }) {
  const [bottom, right, top, left, rising, falling] = SIX.map((k) => f[`square.${k}`] ?? 0);
  return {
    nominal: [f["square.width"] ?? 0, f["square.height"] ?? 0],
    sides: [bottom, right, top, left],
    diagonals: [rising, falling],
    caliper: f["square.caliper"] ?? 0.1,
  };
}

/** Scale and angle in words. @param {Squareness} m @param {[number, number, number]} [pm] */
export function machineWords(m, pm) {
  const scale = (/** @type {string} */ axis, /** @type {number} */ v, /** @type {number | undefined} */ d) =>
    `${axis}: 100 told are ${(100 * v).toFixed(2)} done${d === undefined ? "" : ` ± ${(100 * d).toFixed(2)}`}`;
  const out = m.out_of_square_deg;
  return [scale("across", m.scale_x, pm?.[0]), scale("up", m.scale_y, pm?.[1]), `corners meet at ${(90 + out).toFixed(2)}°${pm ? ` ± ${pm[2].toFixed(2)}°` : ""}`];
}

/**
 * Four sides and two diagonals, each blank where its length lies on the piece.
 * @param {string} form
 * @param {string} title
 * @param {Shown} s
 * @param {(key: string) => (mm: number | null) => void} set
 */
export function rectangleBlanks(form, title, s, set) {
  /** Where each lies: a stroke of the small rectangle beside its name. */
  const names = { top: ["Top", "M2 2H22"], left: ["Left", "M2 2V15"], rising: ["Rising", "M2 15 22 2", " diagonal, from bottom left to top right"], falling: ["Falling", "M2 2 22 15", " diagonal, from bottom right to top left"], right: ["Right", "M22 2V15"], bottom: ["Bottom", "M2 15H22"] };
  return [
    make("h3", {}, title),
    make(
      "div",
      { class: "rectangle" },
      ...Object.entries(names).map(([key, [label, course, more]]) => {
        const blank = lengthBlank(label, `${form}.${key}`, s.shop.figures[`${form}.${key}`], s.unit, set(key));
        blank.classList.add(key);
        if (more) blank.firstElementChild?.append(make("span", { class: "unseen" }, more));
        blank.firstElementChild?.prepend(drawing("0 0 24 17", "M2 2H22V15H2Z", course));
        return blank;
      }),
    ),
  ];
}

/** @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
export function squareSide(s, on) {
  const f = s.shop.figures;
  const set = (/** @type {string} */ key) => (/** @type {number | null} */ v) => on.figure("square", `square.${key}`, v);
  const mm = (/** @type {string} */ label, /** @type {string} */ key, hint = "") => lengthBlank(label, `square.${key}`, f[`square.${key}`], s.unit, set(key), hint);
  const lacks = squareLacks(s.shop);
  const found = /** @type {SquareView | undefined} */ (s.answers.square);
  const now = s.shop.machine.square;
  const through = s.shop.words["square.through"] !== "no";
  return [
    make("p", {}, "Set the kerf first. Cut one large rectangle, let it cool, and measure its sides and both diagonals."),
    make("div", { class: "pairs" }, mm("Told: width", "width"), mm("Told: height", "height")),
    ...rectangleBlanks("square", "Measured", s, set),
    make("div", { class: "pairs" }, mm("Calipers within ±", "caliper", "empty: 0.1 mm")),
    now &&
      make("label", { class: "tick" }, make("input", { type: "checkbox", checked: through, "data-key": "square.through", onchange: () => on.word("square.through", through ? "no" : "yes", "square") }), make("span", {}, "This rectangle was cut with the correction in use")),
    lacks ? make("p", { class: "problem", role: "status" }, lacks) : problem(s, "square"),
    !lacks && found && make("h3", {}, "What the machine does"),
    !lacks && found && make("ul", { class: "answer", "data-key": "answer" }, ...machineWords(found.machine, found.plus_minus).map((w) => make("li", {}, w)), found.contradiction && make("li", { class: "wrong" }, found.contradiction)),
    !lacks && found && !found.contradiction && make("div", { class: "row" }, button("Correct every cut file for it", () => on.machine({ ...s.shop.machine, square: found.kept }), { class: "strong", "data-key": "correct" })),
    ...machineParts(s, on),
  ].filter((c) => c !== false && c !== undefined);
}

/** The profile there is, and its file. @param {Shown} s @param {Record<string, (...given: any[]) => void>} on */
export function machineParts(s, on) {
  const { square, arm } = s.shop.machine;
  return [
    make("h3", {}, "The machine's profile"),
    make("p", { "data-key": "profile" }, square ? `In use for every cut file: ${machineWords(square).join("; ")}.` : "No correction is in use."),
    arm ? make("p", {}, `Its arm: links of ${arm.link1.toFixed(2)} and ${arm.link2.toFixed(2)} mm, tips ${Object.keys(arm.tips).join(", ") || "none"}.`) : false,
    make(
      "div",
      { class: "row" },
      button("Open a profile", () => on.fileFor("profile"), { "data-key": "profile-file" }),
      (square || arm) && button("Save the profile", () => on.save("profile"), { "data-key": "save-profile" }),
      square && button("Stop correcting", () => on.machine({ ...s.shop.machine, square: undefined }), { class: "quiet", "data-key": "uncorrect" }),
    ),
  ].filter((c) => c !== false);
}

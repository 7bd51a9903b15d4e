// What lies in the hand: nothing, the soapstone, the punch or the rag; and the way back.

/** @import { Hand } from "./pointer.js" */

import { button, fill, grab } from "./dom.js";

/** @type {[Hand, string, string, string][]} the hand, its word, its key, what is said */
export const HANDS = [
  ["look", "Look", "l", "Nothing in hand: a tap opens what can be said of a thing, a drag moves the plate."],
  ["draw", "Draw", "s", "Soapstone in hand: drag to draw. A tap only looks."],
  ["mark", "Mark", "m", "Punch in hand: each tap leaves a mark where a hole's centre will be."],
  ["rub", "Rub out", "r", "Rag in hand: what you drag over goes, and nothing else."],
];

/**
 * @param {Hand} now
 * @param {object} can
 * @param {boolean} can.undo
 * @param {boolean} can.redo
 * @param {boolean} can.compare
 * @param {boolean} can.more
 * @param {object} on
 * @param {(hand: Hand) => void} on.take
 * @param {() => void} on.undo
 * @param {() => void} on.redo
 * @param {() => void} on.more
 */
export function showHand(now, can, on) {
  const tool = (/** @type {[Hand, string, string, string]} */ [hand, word]) => button(word, () => on.take(hand), { class: `tool ${hand}`, "data-key": hand, "aria-pressed": String(hand === now) });
  fill(grab("hand", HTMLElement), [
    ...HANDS.map(tool),
    button("Undo", on.undo, { "data-key": "undo", disabled: !can.undo }),
    button("Redo", on.redo, { "data-key": "redo", disabled: !can.redo }),
    button("More", on.more, { class: "more", "data-key": "plate", "aria-expanded": String(can.more) }),
  ]);
  const compare = grab("compare", HTMLElement);
  compare.hidden = !can.compare;
}

/**
 * Held, it shows the hand's line alone; let go, the outline again.
 * @param {(handOnly: boolean) => void} show
 */
export function listenCompare(show) {
  const element = grab("compare", HTMLButtonElement);
  const begin = () => {
    element.setAttribute("aria-pressed", "true");
    show(true);
  };
  const end = () => {
    element.setAttribute("aria-pressed", "false");
    show(false);
  };
  element.addEventListener("pointerdown", (e) => {
    element.setPointerCapture(e.pointerId);
    begin();
  });
  for (const over of ["pointerup", "pointercancel", "lostpointercapture", "blur"]) element.addEventListener(over, end);
  element.addEventListener("keydown", (e) => {
    if ((e.key === " " || e.key === "Enter") && !e.repeat) begin();
  });
  element.addEventListener("keyup", end);
  element.addEventListener("contextmenu", (e) => e.preventDefault());
  return { begin, end };
}

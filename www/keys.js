// Keys on the plate, and those that count everywhere.

/** @import { Plate } from "./plate.js" */

import { HANDS } from "./hand.js";

/** How far Shift with an arrow moves the plate, pixels. @type {Record<string, [number, number]>} */
const ARROWS = { ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] };

/**
 * @param {Plate} plate
 * @param {Record<string, (...given: any[]) => void>} on
 */
export function listenKeys(plate, on) {
  plate.element.addEventListener("keydown", (e) => {
    if (onPlate(plate, on, e)) e.preventDefault();
  });
  // Only what the key began ends with it: the button that is pressed takes the focus too.
  let held = false;
  const letGo = () => {
    if (held) on.compare(false);
    held = false;
  };
  plate.element.addEventListener("keydown", (e) => {
    held ||= !e.ctrlKey && !e.metaKey && !e.altKey && e.key.toLowerCase() === "c";
  });
  plate.element.addEventListener("keyup", (e) => {
    if (e.key.toLowerCase() === "c") letGo();
  });
  plate.element.addEventListener("blur", letGo);
  window.addEventListener("keydown", (e) => {
    if ((e.ctrlKey || e.metaKey) && anywhere(on, e)) e.preventDefault();
  });
}

/** @param {Plate} plate @param {Record<string, (...given: any[]) => void>} on @param {KeyboardEvent} e */
function onPlate(plate, on, e) {
  if (e.ctrlKey || e.metaKey || e.altKey) return false;
  const middle = /** @type {[number, number]} */ ([plate.width / 2, plate.height / 2]);
  const key = e.key.length === 1 ? e.key.toLowerCase() : e.key;
  const hand = HANDS.find(([, , letter]) => letter === key);
  if (key in ARROWS && e.shiftKey) plate.pan(...ARROWS[key]);
  else if (key === "ArrowRight" || key === "ArrowDown") on.step(1);
  else if (key === "ArrowLeft" || key === "ArrowUp") on.step(-1);
  else if (key === "Enter") on.open();
  else if (key === "+" || key === "=") plate.zoom(1.25, ...middle);
  else if (key === "-") plate.zoom(0.8, ...middle);
  else if (key === "0") on.fit();
  else if (key === "c") on.compare(true);
  else if (hand) on.take(hand[0]);
  else if (key === "Escape") on.close();
  else if (key === "Delete" || key === "Backspace") on.rub();
  else return false;
  return true;
}

/** @param {Record<string, (...given: any[]) => void>} on @param {KeyboardEvent} e */
function anywhere(on, e) {
  const typing = e.target instanceof HTMLInputElement || e.target instanceof HTMLTextAreaElement;
  const key = e.key.toLowerCase();
  if (key === "o") on.choose();
  else if (key === "s") on.save();
  else if (key === "p") on.print();
  else if (typing) return false;
  else if (key === "z" && e.shiftKey) on.redo();
  else if (key === "z") on.undo();
  else if (key === "y") on.redo();
  else return false;
  return true;
}

// Finger, pen and mouse on the plate.
// With the soapstone in hand a drag draws and a tap touches; laid down, a drag moves the plate. Two
// fingers, the wheel, the middle or right button, or the space bar held, always move it. Pressure is
// not asked: a glove has none.

/** @import { Plate } from "./plate.js" */
/** @import { Place } from "./pkg/trued_web.js" */

/** A press that moves no further than this is a tap, pixels. */
const TAP = 6;

/**
 * @param {Plate} plate
 * @param {object} on
 * @param {() => boolean} on.inHand
 * @param {() => void} on.start
 * @param {(points: number[], times: number[]) => void} on.stroke
 * @param {(at: Place, x: number, y: number) => void} on.tap
 */
export function listen(plate, on) {
  const { element } = plate;
  /** @type {Map<number, { x: number, y: number }>} */
  const down = new Map();
  /** @type {{ points: number[], times: number[], start: number, x: number, y: number, far: number } | null} */
  let line = null;
  let moving = false;
  let space = false;
  /** @type {{ x: number, y: number } | null} */
  let pressed = null;

  const local = (/** @type {PointerEvent | WheelEvent} */ e) => {
    const box = element.getBoundingClientRect();
    return { x: e.clientX - box.left, y: e.clientY - box.top };
  };

  element.addEventListener("pointerdown", (e) => {
    try {
      element.setPointerCapture(e.pointerId);
    } catch {
      // A pointer that is already gone cannot be held.
    }
    const at = local(e);
    down.set(e.pointerId, at);
    on.start();
    if (down.size === 2) {
      line = null;
      plate.endLine();
      pressed = null;
      moving = true;
      return;
    }
    if (down.size > 2) return;
    pressed = at;
    moving = e.button !== 0 || space || !on.inHand();
    if (e.button !== 0) pressed = null;
    if (!moving) line = { points: [...plate.toPlate(at.x, at.y)], times: [0], start: e.timeStamp, ...at, far: 0 };
  });

  element.addEventListener("pointermove", (e) => {
    const before = down.get(e.pointerId);
    if (!before) return;
    const at = local(e);
    if (line) {
      const box = element.getBoundingClientRect();
      const from = line.points.length;
      const moves = e.getCoalescedEvents?.() ?? [];
      for (const m of moves.length ? moves : [e]) {
        const [x, y] = [m.clientX - box.left, m.clientY - box.top];
        line.points.push(...plate.toPlate(x, y));
        line.times.push((m.timeStamp - line.start) / 1000);
        line.far = Math.max(line.far, Math.hypot(x - line.x, y - line.y));
      }
      if (line.far > TAP) plate.addLine(line.points, from);
      return;
    }
    if (pressed && Math.hypot(at.x - pressed.x, at.y - pressed.y) > TAP) pressed = null;
    if (!moving) return;
    const others = [...down].filter(([id]) => id !== e.pointerId).map(([, p]) => p);
    down.set(e.pointerId, at);
    if (others.length === 0) {
      if (!pressed) plate.pan(at.x - before.x, at.y - before.y);
      return;
    }
    const o = others[0];
    const [was, is] = [Math.hypot(before.x - o.x, before.y - o.y), Math.hypot(at.x - o.x, at.y - o.y)];
    if (was > 1) plate.zoom(is / was, (at.x + o.x) / 2, (at.y + o.y) / 2);
    plate.pan((at.x - before.x) / 2, (at.y - before.y) / 2);
  });

  const up = (/** @type {PointerEvent} */ e) => {
    if (!down.delete(e.pointerId)) return;
    const at = local(e);
    if (line && e.type === "pointerup") {
      const { points, times, far } = line;
      line = null;
      plate.endLine();
      if (far > TAP) on.stroke(points, times);
      else on.tap(plate.toPlate(at.x, at.y), at.x, at.y);
    } else if (pressed && e.type === "pointerup") {
      on.tap(plate.toPlate(at.x, at.y), at.x, at.y);
    } else if (line) {
      line = null;
      plate.endLine();
    }
    pressed = null;
    if (down.size === 0) moving = false;
  };
  element.addEventListener("pointerup", up);
  element.addEventListener("pointercancel", up);
  element.addEventListener("contextmenu", (e) => e.preventDefault());
  element.addEventListener(
    "wheel",
    (e) => {
      e.preventDefault();
      const at = local(e);
      if (e.shiftKey) plate.pan(-e.deltaY - e.deltaX, 0);
      else plate.zoom(Math.exp(-e.deltaY * (e.deltaMode === 1 ? 0.05 : 0.0015)), at.x, at.y);
    },
    { passive: false },
  );
  element.addEventListener("keydown", (e) => {
    if (e.key === " ") {
      space = true;
      e.preventDefault();
    }
  });
  element.addEventListener("keyup", (e) => {
    if (e.key === " ") space = false;
  });
}

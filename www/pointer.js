// Finger, pen and mouse on the plate.
//
// With the soapstone in hand a drag draws, with the rag it rubs out; otherwise a drag moves the plate. A tap is
// a tap whatever is in hand. Two fingers, the wheel, the middle or right button, or the space bar held, always
// move the plate. Pressure is not asked: a glove has none.
//
// A hand that writes lies on the plate. So once a pen was seen, one finger alone neither draws nor moves; while
// a pen is down no finger counts; and a further touch while a stroke is on its way is a palm, unless both came
// so shortly after one another that they are a pinch. A stroke that the system breaks off is kept as far as it
// came: undo takes it away, nothing brings back what was thrown away.

/** @import { Plate } from "./plate.js" */
/** @import { Place } from "./pkg/trued_web.js" */

/** @typedef {"look" | "draw" | "mark" | "rub"} Hand */

/** A press that moves no further than this is a tap, pixels; a glove rolls further than a mouse. */
const TAP = { mouse: 6, pen: 6, touch: 10 };
/** A second finger within this time, while the first has hardly moved, makes a pinch. ms, pixels */
const PINCH = { soon: 250, near: 24 };
/** A finger that was drawing when a pen came, and had got no further, was a palm, pixels. */
const PALM = 40;

/** @typedef {{ id: number, type: string, rub: boolean, points: number[], times: number[], start: number, x: number, y: number, far: number }} Line */

/**
 * @param {Plate} plate
 * @param {object} on
 * @param {() => Hand} on.hand
 * @param {() => void} on.start
 * @param {() => void} on.end no finger, pen or button is down any more
 * @param {(points: number[], times: number[]) => void} on.stroke
 * @param {(points: number[]) => void} on.rub
 * @param {(at: Place, when: number) => void} on.tap
 */
export function listen(plate, on) {
  const { element } = plate;
  /** Those that count. @type {Map<number, { x: number, y: number, type: string }>} */
  const down = new Map();
  /** @type {Line | null} */
  let line = null;
  let moving = false;
  let space = false;
  let penSeen = false;
  /** @type {{ x: number, y: number, id: number } | null} */
  let pressed = null;

  const local = (/** @type {PointerEvent | WheelEvent} */ e) => {
    const box = element.getBoundingClientRect();
    return { x: e.clientX - box.left, y: e.clientY - box.top };
  };
  const slack = (/** @type {string} */ type) => TAP[/** @type {keyof typeof TAP} */ (type)] ?? TAP.mouse;
  const penDown = () => [...down.values()].some((p) => p.type === "pen");

  /** The line ends: it becomes a stroke or a rubbing; one too short for either becomes nothing. */
  const finish = () => {
    const done = line;
    line = null;
    plate.endLine();
    if (!done || done.far <= slack(done.type)) return;
    if (done.rub) on.rub(done.points);
    else on.stroke(done.points, done.times);
  };
  const withdraw = () => {
    line = null;
    plate.endLine();
  };

  /** Whether a touch that comes now is no more than a palm. @param {PointerEvent} e */
  const isPalm = (e) => {
    if (e.pointerType !== "touch") return false;
    if (penDown()) return true;
    if (!line) return false;
    return e.timeStamp - line.start > PINCH.soon || line.far > PINCH.near;
  };

  element.addEventListener("pointerdown", (e) => {
    // The mouse events made up after a touch would take the focus from what the touch has opened.
    if (e.pointerType !== "mouse") e.preventDefault();
    if (isPalm(e)) return;
    const at = local(e);
    if (e.pointerType === "pen") {
      penSeen = true;
      if (line && line.type === "touch") {
        if (line.far > PALM) finish();
        else withdraw();
      }
      for (const [id, p] of down) if (p.type === "touch") down.delete(id);
    }
    try {
      element.setPointerCapture(e.pointerId);
    } catch {
      // A pointer that is already gone cannot be held.
    }
    down.set(e.pointerId, { ...at, type: e.pointerType });
    on.start();
    if (down.size === 2) {
      withdraw();
      pressed = null;
      moving = true;
      return;
    }
    if (down.size > 2) return;
    pressed = e.button === 0 ? { ...at, id: e.pointerId } : null;
    const hand = on.hand();
    const rub = hand === "rub" || (e.pointerType === "pen" && e.button === 5);
    const makes = (hand === "draw" || rub) && (e.button === 0 || e.button === 5) && !space;
    const palm = penSeen && e.pointerType === "touch";
    moving = !makes && !(palm && hand !== "look");
    if (makes && !palm) line = { id: e.pointerId, type: e.pointerType, rub, points: [...plate.toPlate(at.x, at.y)], times: [0], start: e.timeStamp, ...at, far: 0 };
  });

  element.addEventListener("pointermove", (e) => {
    if (e.pointerType === "pen") penSeen = true;
    const before = down.get(e.pointerId);
    if (!before) return;
    const at = local(e);
    if (pressed?.id === e.pointerId && Math.hypot(at.x - pressed.x, at.y - pressed.y) > slack(e.pointerType)) pressed = null;
    if (line) {
      if (line.id === e.pointerId) extend(line, e);
      return;
    }
    if (!moving) return;
    const others = [...down].filter(([id]) => id !== e.pointerId).map(([, p]) => p);
    down.set(e.pointerId, { ...at, type: e.pointerType });
    if (others.length === 0) {
      if (!pressed) plate.pan(at.x - before.x, at.y - before.y);
      return;
    }
    const o = others[0];
    const [was, is] = [Math.hypot(before.x - o.x, before.y - o.y), Math.hypot(at.x - o.x, at.y - o.y)];
    if (was > 1) plate.zoom(is / was, (at.x + o.x) / 2, (at.y + o.y) / 2);
    plate.pan((at.x - before.x) / 2, (at.y - before.y) / 2);
  });

  /** @param {Line} line @param {PointerEvent} e */
  const extend = (line, e) => {
    const box = element.getBoundingClientRect();
    const from = line.points.length;
    const moves = e.getCoalescedEvents?.() ?? [];
    for (const m of moves.length ? moves : [e]) {
      const [x, y] = [m.clientX - box.left, m.clientY - box.top];
      line.points.push(...plate.toPlate(x, y));
      line.times.push((m.timeStamp - line.start) / 1000);
      line.far = Math.max(line.far, Math.hypot(x - line.x, y - line.y));
    }
    if (line.far <= slack(line.type)) return;
    if (line.rub) plate.addRub(line.points);
    else plate.addLine(line.points, from);
  };

  const up = (/** @type {PointerEvent} */ e) => {
    if (!down.delete(e.pointerId)) return;
    const at = local(e);
    const tap = pressed?.id === e.pointerId && e.type === "pointerup";
    if (line?.id === e.pointerId) finish();
    pressed = null;
    if (down.size === 0) moving = false;
    if (tap) on.tap(plate.toPlate(at.x, at.y), e.timeStamp);
    if (down.size === 0) on.end();
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
    if (e.key !== " ") return;
    space = true;
    e.preventDefault();
  });
  element.addEventListener("keyup", (e) => {
    if (e.key === " ") space = false;
  });
}

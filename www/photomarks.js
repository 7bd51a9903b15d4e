// The picture, small, with what tells its scale: rings where the marks were found, to be dragged right where they were
// found wrongly, or set by four taps where they were not found.

/** @import { Place } from "./pkg/trued_web.js" */
/** @import { Photo, PhotoForm } from "./photo.js" */

import { button, grab, make } from "./dom.js";

/** As near as this to a ring, CSS pixels, a finger means it. */
const NEAR = 26;
/** Side of the square that shows the picture's own pixels while a ring is dragged. */
const LOUPE = 180;

/** @param {Photo} photo @param {(part: Partial<PhotoForm>) => void} set */
export function preview(photo, set) {
  const picture = /** @type {ImageData} */ (photo.picture);
  const at = (/** @type {any} */ e, /** @type {number} */ x, /** @type {number} */ y) => {
    const box = e.currentTarget.getBoundingClientRect();
    const k = picture.width / box.width;
    return { place: /** @type {Place} */ ([(x - box.left) * k, (y - box.top) * k]), near: NEAR * k };
  };
  const ring = (/** @type {Place} */ place, /** @type {number} */ near) => {
    const marks = photo.marks();
    if (marks.length !== 4) return -1;
    const off = marks.map(([x, y]) => Math.hypot(x - place[0], y - place[1]));
    const i = off.indexOf(Math.min(...off));
    return off[i] < near ? i : -1;
  };
  const canvas = make("canvas", {
    class: "preview",
    "data-key": "preview",
    role: "img",
    "aria-label": "The picture. Rings stand where the marks were found and can be dragged; a tap on each of the four marks shows where they are.",
    // A finger on a ring drags it; elsewhere it scrolls the page.
    ontouchstart: (/** @type {any} */ e) => {
      const { place, near } = at(e, e.touches[0].clientX, e.touches[0].clientY);
      if (ring(place, near) >= 0) e.preventDefault();
    },
    onpointerdown: (/** @type {any} */ e) => {
      const { place, near } = at(e, e.clientX, e.clientY);
      const index = ring(place, near);
      if (index < 0) return;
      const [x, y] = photo.marks()[index];
      photo.drag = { index, marks: [...photo.marks()], from: [place[0] - x, place[1] - y], moved: false };
      e.currentTarget.setPointerCapture(e.pointerId);
    },
    onpointermove: (/** @type {any} */ e) => {
      const { drag } = photo;
      if (!drag) return;
      const { place } = at(e, e.clientX, e.clientY);
      drag.marks[drag.index] = [place[0] - drag.from[0], place[1] - drag.from[1]];
      drag.moved = true;
      paint(e.currentTarget, photo);
    },
    onpointercancel: () => (photo.drag = null),
    onclick: (/** @type {any} */ e) => {
      const { drag } = photo;
      photo.drag = null;
      if (drag) {
        if (drag.moved) set({ corners: drag.marks });
        return;
      }
      const { corners } = photo.form;
      set({ corners: corners.length >= 4 ? [at(e, e.clientX, e.clientY).place] : [...corners, at(e, e.clientX, e.clientY).place] });
    },
  });
  requestAnimationFrame(() => {
    const shown = grab("tag", HTMLElement).querySelector("canvas.preview");
    if (shown instanceof HTMLCanvasElement) paint(shown, photo);
  });
  const { corners } = photo.form;
  return make("div", {}, canvas, make("p", { class: "small", role: "status", "data-key": "marks" }, `${words(photo)} `, corners.length > 0 && button("Forget them", () => set({ corners: [] }), { class: "quiet" })));
}

/** What is known of the marks. @param {Photo} photo */
function words(photo) {
  const { corners } = photo.form;
  if (photo.looking) return "Looking for what tells the scale…";
  if (corners.length % 4) return `${corners.length} of 4 marks shown.`;
  if (photo.found.length) return "The scale is told by what the rings are at. Drag one that is wrong.";
  if (photo.unseen) return photo.unseen;
  return corners.length ? "4 of 4 marks shown." : "Marks are found by themselves. Where they are not, tap them.";
}

/** @param {HTMLCanvasElement} canvas @param {Photo} photo */
function paint(canvas, photo) {
  const { small, picture, drag } = photo;
  const pen = canvas.getContext("2d");
  if (!pen || !small || !picture) return;
  const k = small.width / picture.width;
  [canvas.width, canvas.height] = [small.width, small.height];
  pen.drawImage(small, 0, 0);
  const marks = drag ? drag.marks : photo.marks();
  const twice = (/** @type {() => void} */ path) => {
    for (const [color, width] of /** @type {[string, number][]} */ ([["#fff", 7], ["#000", 3]])) {
      [pen.strokeStyle, pen.lineWidth] = [color, width];
      pen.beginPath();
      path();
      pen.stroke();
    }
  };
  if (marks.length === 4) {
    pen.setLineDash([12, 12]);
    twice(() => {
      for (const [x, y] of [...marks, marks[0]]) pen.lineTo(x * k, y * k);
    });
    pen.setLineDash([]);
  }
  for (const [x, y] of marks) twice(() => pen.arc(x * k, y * k, 20, 0, 7));
  if (!drag) return;
  // The picture's own pixels about the ring, in the corner that it is not in.
  const [x, y] = drag.marks[drag.index].map(Math.round);
  const left = x * k < small.width / 2 ? small.width - LOUPE : 0;
  pen.putImageData(picture, left - x + LOUPE / 2, -y + LOUPE / 2, x - LOUPE / 2, y - LOUPE / 2, LOUPE, LOUPE);
  twice(() => {
    pen.rect(left, 0, LOUPE, LOUPE);
    pen.moveTo(left + LOUPE / 2 - 12, LOUPE / 2);
    pen.lineTo(left + LOUPE / 2 + 12, LOUPE / 2);
    pen.moveTo(left + LOUPE / 2, LOUPE / 2 - 12);
    pen.lineTo(left + LOUPE / 2, LOUPE / 2 + 12);
  });
}

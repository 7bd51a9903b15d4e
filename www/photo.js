// A marker line, or a part itself, from a photo: the picture is decoded by the browser, read by a module that is
// loaded for it, and lies under the plate afterwards, straight from above, to compare.

/** @import { Doubt, Note, Place } from "./pkg/trued_web.js" */
/** @import { Shown } from "./tag.js" */

import { button, grab, make } from "./dom.js";
import { choice, lengthBlank } from "./form.js";
import { moduleOf, workerOf } from "./parts.js";

/** More pixels than this are brought down to it: no line gets better by them, and a phone holds them. */
const MOST_PIXELS = 24e6;
/** Width of the preview on the strip, pixels. */
const PREVIEW = 320;

/**
 * @typedef {object} PhotoForm as filled in; kept while the picture is there
 * @property {"frame" | "a4" | "letter" | "target" | "across"} scale
 * @property {number | null} width mm
 * @property {number | null} height mm
 * @property {"middle" | "inside" | "outside"} line
 * @property {boolean} part
 * @property {number | null} thickness mm
 * @property {Place[]} corners in the picture, pixels
 */

/**
 * @typedef {object} PhotoRead
 * @property {Float64Array} points
 * @property {Uint32Array} starts
 * @property {{ notes: Note[], doubts: Doubt[], corners: Place[], plus_minus: number, step: number, from: Place }} told
 * @property {{ width: number, data: Uint8Array }} flat
 */

/** Whether a file is a picture, by how it begins. @param {Uint8Array} b */
export function isPicture(b) {
  const text = String.fromCharCode(...b.subarray(0, 12));
  return text.startsWith("\xff\xd8\xff") || text.startsWith("\x89PNG") || (text.startsWith("RIFF") && text.endsWith("WEBP"));
}

export class Photo {
  constructor() {
    /** @type {ImageData | null} */
    this.picture = null;
    /** @type {PhotoForm} */
    this.form = { scale: "frame", width: null, height: null, line: "middle", part: false, thickness: null, corners: [] };
    /** How far the reading is, 0 to 1; null while none runs. @type {number | null} */
    this.share = null;
    this.problem = "";
    /** The picture, small. @type {OffscreenCanvas | null} */
    this.small = null;
    /** @type {Worker | null} */
    this.worker = null;
    /** @type {Promise<WebAssembly.Module> | null} */
    this.module = null;
  }

  /** Decodes a picture, upright. @param {Uint8Array} bytes */
  async open(bytes) {
    const bitmap = await createImageBitmap(new Blob([new Uint8Array(bytes)]), { imageOrientation: "from-image" });
    const k = Math.min(1, Math.sqrt(MOST_PIXELS / (bitmap.width * bitmap.height)));
    const canvas = new OffscreenCanvas(Math.round(bitmap.width * k), Math.round(bitmap.height * k));
    const pen = canvas.getContext("2d");
    if (!pen) throw new Error("this browser gives no room for the picture");
    pen.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
    this.small = new OffscreenCanvas(PREVIEW, Math.round((PREVIEW * bitmap.height) / bitmap.width));
    this.small.getContext("2d")?.drawImage(bitmap, 0, 0, this.small.width, this.small.height);
    bitmap.close();
    this.picture = pen.getImageData(0, 0, canvas.width, canvas.height);
    this.form.corners = [];
    this.problem = "";
  }

  /** What is missing before it can be read. */
  lacks() {
    const { scale, width, height, corners } = this.form;
    if (scale === "frame" && (width === null || height === null)) return "Say how far apart the four marks lie.";
    if (scale === "across" && width === null) return "Say how much the picture shows across.";
    if (corners.length % 4 !== 0) return `Tap the other ${4 - corners.length} marks in the picture.`;
    return "";
  }

  /** @param {() => void} tell called when it got further @returns {Promise<PhotoRead>} */
  async read(tell) {
    const { scale, width, height, line, part, thickness, corners } = this.form;
    /** @type {Record<PhotoForm["scale"], any>} */
    const scales = { frame: { frame: [width, height] }, across: { across: width }, a4: "a4", letter: "letter", target: { target: width !== null && height !== null ? [width, height] : null } };
    const asked = { scale: scales[scale], corners: corners.length === 4 ? corners : null, line, part, thickness };
    const picture = this.picture;
    if (!picture) throw new Error("there is no picture");
    this.share = 0;
    tell();
    try {
      return await this.#ask({ picture, asked }, (share) => {
        this.share = share;
        tell();
      });
    } finally {
      this.share = null;
    }
  }

  /** The target to print. @param {boolean} letter @returns {Promise<string>} */
  async target(letter) {
    return (await this.#ask({ letter }, () => {})).target;
  }

  stop() {
    this.worker?.terminate();
    this.worker = null;
    this.share = null;
  }

  /** @param {object} what @param {(share: number) => void} tell @returns {Promise<any>} */
  async #ask(what, tell) {
    this.module ??= moduleOf("trued_photo_bg");
    const module = await this.module;
    this.worker?.terminate();
    const worker = await workerOf("photoworker");
    this.worker = worker;
    return new Promise((resolve, reject) => {
      worker.onmessage = ({ data }) => {
        if (data.share !== undefined) tell(data.share);
        else if (data.refused !== undefined) reject(new Error(data.refused));
        else resolve(data);
      };
      worker.onerror = (e) => {
        e.preventDefault();
        reject(new Error("the picture broke the reader: take a smaller one"));
      };
      worker.postMessage({ module, ...what });
    });
  }
}

/** The side of the tag about a picture. @param {Shown} s @param {Record<string, (...given: any[]) => void>} on @returns {any[]} */
export function photoSide(s, on) {
  const { photo } = s;
  const f = photo.form;
  const set = (/** @type {Partial<PhotoForm>} */ part) => on.photo(part);
  const scales = [["four marks", "frame"], ["an A4 sheet", "a4"], ["a Letter sheet", "letter"], ["the printed target", "target"], ["nothing: taken from above", "across"]];
  /** @type {Record<PhotoForm["scale"], string[]>} what is asked of each */
  const names = { frame: ["Marks apart, across", "Marks apart, up"], across: ["Shown across", ""], a4: ["", ""], letter: ["", ""], target: ["Discs apart, measured across", "Discs apart, up"] };
  const lacks = photo.lacks();
  const busy = photo.share !== null;
  return [
    make("h2", {}, "From a photo"),
    !photo.picture && make("p", {}, "A line drawn on the plate, or the part itself. Something of known size must lie beside it in the same plane: four like marks at the corners of a rectangle, a sheet of paper, or the printed target."),
    make("div", { class: "row" }, button(photo.picture ? "Another photo" : "Open a photo", () => on.file(), { class: photo.picture ? "" : "strong", "data-key": "photo-file" }), matchMedia("(pointer: coarse)").matches && button("Take one now", () => on.camera(), { "data-key": "camera" })),
    photo.picture && preview(photo, set),
    make(
      "div",
      { class: "pairs" },
      choice("Its scale is told by", "photo-scale", scales, f.scale, (scale) => set({ scale })),
      choice("Wanted is", "photo-line", [["the line's middle", "middle"], ["its inner edge", "inside"], ["its outer edge", "outside"]], f.line, (line) => set({ line })),
      names[f.scale][0] && lengthBlank(names[f.scale][0], "photo-w", f.width, s.unit, (width) => set({ width })),
      names[f.scale][1] && lengthBlank(names[f.scale][1], "photo-h", f.height, s.unit, (height) => set({ height })),
    ),
    make("label", { class: "tick" }, make("input", { type: "checkbox", checked: f.part, "data-key": "photo-part", onchange: () => set({ part: !f.part }) }), make("span", {}, "The part itself lies there")),
    f.part && make("div", { class: "pairs" }, lengthBlank("Its thickness", "photo-thick", f.thickness, s.unit, (thickness) => set({ thickness }))),
    busy && make("p", { role: "status" }, make("progress", { max: 1, value: photo.share ?? 0, "aria-label": "How far the picture is read" }), " ", button("Stop", () => on.stopPhoto(), { class: "quiet" })),
    !busy && photo.picture && lacks && make("p", { class: "problem", role: "status" }, lacks),
    !busy && photo.problem && make("p", { class: "problem", role: "alert" }, photo.problem),
    make(
      "div",
      { class: "row" },
      photo.picture && button("Read the picture", () => on.readPhoto(), { class: "strong", "data-key": "photo-read", disabled: busy || lacks !== "" }),
      button("Target to print", () => on.target(), { "data-key": "photo-target" }),
      button("Back", () => on.turn("piece"), { class: "quiet", "data-key": "back" }),
    ),
  ];
}

/** The picture, small; four taps show its marks where they are not found. @param {Photo} photo @param {(part: Partial<PhotoForm>) => void} set */
function preview(photo, set) {
  const picture = /** @type {ImageData} */ (photo.picture);
  const { corners } = photo.form;
  const place = (/** @type {any} */ e) => {
    const box = e.currentTarget.getBoundingClientRect();
    const at = /** @type {Place} */ ([((e.clientX - box.left) / box.width) * picture.width, ((e.clientY - box.top) / box.height) * picture.height]);
    set({ corners: corners.length >= 4 ? [at] : [...corners, at] });
  };
  const canvas = make("canvas", { class: "preview", "data-key": "preview", role: "img", "aria-label": "The picture. A tap on each of the four marks shows where they are.", onclick: place });
  requestAnimationFrame(() => {
    const shown = grab("tag", HTMLElement).querySelector("canvas.preview");
    if (shown instanceof HTMLCanvasElement && photo.small) paint(shown, photo.small, corners, photo.small.width / picture.width);
  });
  return make("div", {}, canvas, make("p", { class: "small" }, corners.length ? `${corners.length} of 4 marks shown. ` : "Marks are found by themselves. Where they are not, tap them.", corners.length > 0 && button("Forget them", () => set({ corners: [] }), { class: "quiet" })));
}

/** @param {HTMLCanvasElement} canvas @param {OffscreenCanvas} small @param {Place[]} corners @param {number} k */
function paint(canvas, small, corners, k) {
  const pen = canvas.getContext("2d");
  if (!pen) return;
  [canvas.width, canvas.height] = [small.width, small.height];
  pen.drawImage(small, 0, 0);
  for (const [x, y] of corners) {
    for (const [color, width] of /** @type {[string, number][]} */ ([["#fff", 5], ["#000", 2]])) {
      pen.strokeStyle = color;
      pen.lineWidth = width;
      pen.beginPath();
      pen.arc(x * k, y * k, 9, 0, 7);
      pen.stroke();
    }
  }
}

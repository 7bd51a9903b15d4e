// A marker line, or a part itself, from a photo: the picture is decoded by the browser, read by a module that is
// loaded for it, and lies under the plate afterwards, straight from above, to compare.

/** @import { Doubt, Note, Place } from "./pkg/trued_web.js" */
/** @import { Shown } from "./tag.js" */

import { button, make } from "./dom.js";
import { choice, lengthBlank } from "./form.js";
import { moduleOf, workerOf } from "./parts.js";
import { preview } from "./photomarks.js";

/** More pixels than this are brought down to it: no line gets better by them, and a phone holds them. */
const MOST_PIXELS = 24e6;
/** Width of the preview on the strip, pixels. */
const PREVIEW = 720;

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
    /** Where what tells the scale was found, pixels: four places, or none yet. @type {Place[]} */
    this.found = [];
    /** Why it was not found. */
    this.unseen = "";
    this.looking = false;
    /** Counts what was looked for, so that an older answer is dropped. */
    this.looks = 0;
    /** A ring that is being dragged. @type {{ index: number, marks: Place[], from: Place, moved: boolean } | null} */
    this.drag = null;
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
    this.forget();
  }

  /** What was found holds no longer. */
  forget() {
    this.found = [];
    this.unseen = "";
    this.looking = false;
    this.looks += 1;
  }

  /** Where what tells the scale is, as far as it is known. */
  marks() {
    return this.found.length ? this.found : this.form.corners;
  }

  /** Finds what tells the scale, to be shown before anything is read. @param {() => void} tell called when that changes */
  async look(tell) {
    this.forget();
    const { picture, looks } = this;
    if (!picture || this.lacks() || this.form.scale === "across" || this.share !== null) return;
    this.looking = true;
    tell();
    try {
      const { framed } = await this.#ask({ picture, asked: this.#asked(), find: true }, () => {});
      if (looks !== this.looks) return;
      this.found = framed.corners;
    } catch (problem) {
      if (looks !== this.looks) return;
      const said = problem instanceof Error ? problem.message : String(problem);
      this.unseen = `${said.charAt(0).toUpperCase()}${said.slice(1)}.`;
    }
    this.looking = false;
    tell();
  }

  /** What is asked of the picture, as the reader has it. */
  #asked() {
    const { scale, width, height, line, part, thickness, corners } = this.form;
    /** @type {Record<PhotoForm["scale"], any>} */
    const scales = { frame: { frame: [width, height] }, across: { across: width }, a4: "a4", letter: "letter", target: { target: width !== null && height !== null ? [width, height] : null } };
    return { scale: scales[scale], corners: corners.length === 4 ? corners : null, line, part, thickness };
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
    const picture = this.picture;
    if (!picture) throw new Error("there is no picture");
    // A look that still runs is stopped by it.
    if (this.looking) this.forget();
    this.share = 0;
    tell();
    try {
      return await this.#ask({ picture, asked: this.#asked() }, (share) => {
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

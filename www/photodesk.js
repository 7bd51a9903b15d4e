// What a picture does to the page: it is brought, asked about on its side of the tag, read, and laid under the plate.

/** @import { Plate } from "./plate.js" */
/** @import { Job } from "./job.js" */
/** @import { PhotoForm } from "./photo.js" */

import { offerFile } from "./saving.js";
import { emptyJob, fromArrays } from "./job.js";
import { Photo } from "./photo.js";
import { sentence } from "./start.js";
import { talk } from "./talk.js";

export class PhotoDesk {
  /**
   * @param {Plate} plate
   * @param {object} page what a picture may do to it
   * @param {() => Job} page.job
   * @param {(job: Job, words: string) => Promise<void>} page.bring puts another piece on the plate
   * @param {() => void} page.turn turns up the picture's side of the tag
   * @param {() => void} page.show
   */
  constructor(plate, page) {
    this.plate = plate;
    this.page = page;
    this.photo = new Photo();
  }

  /** @param {string} name @param {Uint8Array} bytes */
  async open(name, bytes) {
    talk(`Opening ${name || "the picture"}…`, "busy");
    try {
      await this.photo.open(bytes);
      talk("");
      this.page.turn();
      void this.photo.look(this.page.show);
    } catch {
      talk(`${name || "That"} cannot be shown by this browser: save it as JPEG or PNG. What was on the plate is still there.`, "failed");
    }
  }

  /** Something else is asked of the picture. @param {Partial<PhotoForm>} part */
  change(part) {
    Object.assign(this.photo.form, part);
    const { page } = this;
    page.show();
    const told = ["scale", "width", "height", "corners"].some((name) => name in part);
    if (told) void this.photo.look(page.show);
  }

  async read() {
    const { photo, page } = this;
    photo.problem = "";
    try {
      const { points, starts, told, flat } = await photo.read(page.show);
      const doubts = told.doubts;
      const trace = { ...fromArrays({ points, starts, times: new Float64Array(), drawn: [] }), doubts };
      const height = flat.data.length / 4 / flat.width;
      const pixels = new ImageData(new Uint8ClampedArray(flat.data), flat.width, height);
      const picture = await createImageBitmap(pixels);
      const { cut } = page.job();
      await page.bring({ ...emptyJob(), cut, trace, settings: { hand: "traced" } }, sentence(told.notes.map((n) => n.text).join("; ")));
      this.plate.under = { picture, step: told.step, from: told.from, stroke: trace.strokes[0] };
      this.plate.redraw();
    } catch (problem) {
      const words = problem instanceof Error ? problem.message : String(problem);
      photo.problem = `${words.charAt(0).toUpperCase()}${words.slice(1)}.`;
    }
    page.show();
  }

  stop() {
    this.photo.stop();
    talk("Stopped. The picture is still here.");
    this.page.show();
  }

  async target() {
    try {
      offerFile("target.svg", await this.photo.target(navigator.language === "en-US"), "image/svg+xml");
    } catch (problem) {
      talk(`Not saved: ${problem instanceof Error ? problem.message : problem}.`, "failed");
    }
  }
}

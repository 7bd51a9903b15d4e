// Reading pictures, in a worker and a module of its own that is there only while a picture is.

import { Seen, find_frame, initSync, target_to_print } from "./pkg/trued_photo.js";

self.onmessage = (event) => {
  const { module, picture, asked, find, letter } = event.data;
  try {
    initSync({ module });
    if (!picture) {
      self.postMessage({ target: target_to_print(letter) });
      return;
    }
    const { width, height, data } = picture;
    if (find) {
      self.postMessage({ framed: JSON.parse(find_frame(width, height, new Uint8Array(data.buffer), JSON.stringify(asked))) });
      return;
    }
    const seen = new Seen(width, height, new Uint8Array(data.buffer), JSON.stringify(asked), (/** @type {number} */ share) => self.postMessage({ share }));
    const [points, starts, flat] = [seen.points(), seen.starts(), seen.flat()];
    const answer = { points, starts, told: JSON.parse(seen.told()), flat: { width: seen.flat_width(), data: flat } };
    self.postMessage(answer, { transfer: [points.buffer, starts.buffer, flat.buffer] });
  } catch (problem) {
    self.postMessage({ refused: problem instanceof Error ? problem.message : String(problem) });
  }
};

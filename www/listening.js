// Everything the page listens to: hand, keys, files, other tabs, the light.

/** @import { Bringing } from "./bringing.js" */
/** @import { Chit } from "./chit.js" */
/** @import { CutDesk } from "./cutdesk.js" */
/** @import { HandDesk } from "./handdesk.js" */
/** @import { Plate } from "./plate.js" */
/** @import { Stage } from "./stage.js" */

import { bring, choose } from "./files.js";
import { listenCompare } from "./hand.js";
import { listenKeys } from "./keys.js";
import { listen } from "./pointer.js";
import { SHOP } from "./shop.js";
import { talk } from "./talk.js";

/**
 * @param {{ plate: Plate, stage: Stage, hands: HandDesk, chit: Chit, cutting: CutDesk, bringing: Bringing }} at
 * @param {Record<string, (...given: any[]) => any>} on
 */
export function listenAll({ plate, stage, hands, chit, cutting, bringing }, on) {
  listen(plate, {
    hand: () => hands.hand,
    start: () => {
      stage.held = true;
    },
    end: () => {
      stage.held = false;
      stage.settle();
    },
    stroke: (points, times) => hands.draw({ points: Float64Array.from(points), times: Float64Array.from(times) }),
    rub: (path) => hands.rub(path),
    tap: (at, when) => hands.tap(at, when),
  });
  const { begin, end } = listenCompare((handOnly) => {
    if (plate.handOnly === handOnly) return;
    plate.handOnly = handOnly && plate.outcome !== null;
    plate.redraw();
  });
  listenKeys(plate, {
    step: (by) => hands.step(by),
    open: () => {
      // What was said of stepping there is done.
      talk("");
      if (plate.chosen) on.open(plate.chosen);
    },
    fit: () => stage.fit(),
    compare: (held) => (held ? begin() : end()),
    take: on.take,
    close: () => chit.close(),
    rub: () => plate.chosen && hands.rubThing(plate.chosen),
    choose,
    save: () => void cutting.save("job"),
    print: () => void cutting.loadPrinter().then(() => window.print()),
    undo: on.undo,
    redo: on.redo,
  });
  addEventListener("beforeunload", (e) => {
    if (on.unkept()) e.preventDefault();
  });
  // The shop is one, in however many tabs.
  window.addEventListener("storage", (e) => {
    if (e.key === SHOP) on.shop();
  });
  matchMedia("(prefers-color-scheme: light)").addEventListener("change", () => plate.recolor());
  bring((name, bytes) => void bringing.take(name, bytes), (problem) => talk(problem, "failed"));
}

// What the hand does to the trace: strokes, marks and the rag; what a tap means; where the keys have got to.

/** @import { Outcome, Place } from "./pkg/trued_web.js" */
/** @import { Chit } from "./chit.js" */
/** @import { History, Job, Stroke } from "./job.js" */
/** @import { Plate } from "./plate.js" */
/** @import { Hand } from "./pointer.js" */
/** @import { Thing } from "./things.js" */

import { rubbed } from "./erase.js";
import { isEmpty, isMark } from "./job.js";
import { talk, thingName } from "./talk.js";
import { all, isRound, pick, pickLoop } from "./things.js";

/** A second tap this soon and this near is the first one's echo: ms, pixels. */
const ECHO = { soon: 450, near: 24 };
const RUBBED = "Rubbed out. Undo brings it back.";

export class HandDesk {
  /**
   * @param {{ history: History, plate: Plate, chit: Chit }} at
   * @param {object} page
   * @param {(part: Partial<Job>, words?: string) => void} page.change
   * @param {(thing: Thing) => void} page.open
   */
  constructor(at, page) {
    this.at = at;
    this.page = page;
    /** @type {Hand} */
    this.hand = "draw";
    /** The last tap, and what it left: the job, and whether the slip lies open. */
    this.tapped = { when: -Infinity, x: 0, y: 0, job: at.history.job, open: false };
    /** Where the keys have got to, though what was chosen there is closed. @type {Thing | null} */
    this.stepped = null;
  }

  /** Takes a stroke or touch. @param {Stroke} stroke */
  draw(stroke) {
    const { job } = this.at.history;
    const { trace, settings } = job;
    // What is drawn here follows nothing. What a file brought came about as the file says, and stays so.
    const own = isEmpty(job) && settings.hand === undefined;
    this.page.change({ trace: { ...trace, strokes: [...trace.strokes, stroke] }, settings: own ? { ...settings, hand: "drawn" } : settings });
  }

  /** @param {number[]} path */
  rub(path) {
    const { trace } = this.at.history.job;
    const left = rubbed(trace, path, this.at.plate.rag);
    if (left !== trace) this.page.change({ trace: left }, RUBBED);
  }

  /** Rubs out the stroke nearest to a thing, or the loop of a drawing. @param {Thing} thing */
  rubThing(thing) {
    const { trace } = this.at.history.job;
    const [x, y] = thing.at;
    let best = -1;
    let least = Infinity;
    trace.strokes.forEach((s, i) => {
      if ((thing.kind === "mark") !== isMark(s)) return;
      for (let k = 0; k < s.points.length; k += 2) {
        const d = Math.hypot(s.points[k] - x, s.points[k + 1] - y);
        if (d < least) [best, least] = [i, d];
      }
    });
    if (best >= 0) this.page.change({ trace: { ...trace, strokes: trace.strokes.filter((_, i) => i !== best) } }, RUBBED);
    else if (trace.drawn.length > thing.loop) this.page.change({ trace: { ...trace, drawn: trace.drawn.filter((_, i) => i !== thing.loop) } }, RUBBED);
  }

  /**
   * A tap looks, but with the punch in hand, which says so beforehand. The echo of a tap, as a bouncing finger or a
   * double click leaves it, is none; where something else was done meanwhile it is no echo.
   * @param {Place} at
   * @param {number} when ms
   */
  tap(at, when) {
    const [x, y] = this.at.plate.toScreen(at);
    const { tapped } = this;
    const soon = when - tapped.when < ECHO.soon && Math.hypot(x - tapped.x, y - tapped.y) < ECHO.near;
    if (!soon || tapped.job !== this.at.history.job || tapped.open !== this.isOpen()) this.act(at);
    this.tapped = { when, x, y, job: this.at.history.job, open: this.isOpen() };
  }

  /** Whether the slip lies open. */
  isOpen() {
    return !this.at.chit.element.hidden;
  }

  /** What a tap does that is no echo. @param {Place} at */
  act(at) {
    const { plate, chit } = this.at;
    const { hand } = this;
    const { outcome } = plate;
    const thing = outcome && (pick(outcome, at, plate.reach) ?? plate.labelAt(at));
    if (hand === "mark" && !(outcome && thing && isPunched(outcome, thing))) this.draw({ points: Float64Array.from(at), times: null });
    else if (hand === "rub") this.rub([...at]);
    else if (thing) this.page.open(thing);
    else {
      const loop = outcome && hand === "look" && chit.element.hidden ? pickLoop(outcome, at) : null;
      if (loop) this.page.open(loop);
      else chit.close();
    }
  }

  /** @param {number} by */
  step(by) {
    const { plate } = this.at;
    const list = plate.outcome ? all(plate.outcome) : [];
    if (!list.length) return;
    const chosen = plate.chosen ?? this.stepped;
    const now = chosen ? list.findIndex((t) => t.kind === chosen.kind && t.loop === chosen.loop && t.index === chosen.index) : -1;
    const next = list[(now + by + list.length) % list.length] ?? list[0];
    plate.chosen = this.stepped = next;
    plate.redraw("over");
    talk(`${thingName(next)}. Enter opens what can be done to it.`);
  }
}

/** Where a hole is or will be. @param {Outcome} outcome @param {Thing} thing */
function isPunched(outcome, thing) {
  return thing.kind === "mark" || (thing.kind === "edge" && isRound(outcome.loops[thing.loop].edges[thing.index]));
}

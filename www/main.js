// The one place that decides: what is pressed elsewhere ends here, becomes the next job, is read, and is
// shown.

/** @import { Hint, Outcome } from "./pkg/trued_web.js" */
/** @import { Cut, Job, Stroke } from "./job.js" */
/** @import { Hand } from "./pointer.js" */
/** @import { Thing } from "./things.js" */
/** @import { Unit } from "./units.js" */

import { demos } from "./pkg/demos.js";
import { Bringing } from "./bringing.js";
import { Chit } from "./chit.js";
import { Cutting } from "./cut.js";
import { button, grab } from "./dom.js";
import { Broken, Engine, Refused, Stale } from "./engine.js";
import { rubbed } from "./erase.js";
import { bring, choose } from "./files.js";
import { HANDS, listenCompare, showHand } from "./hand.js";
import { History, NO_CUT, NO_OPENING, emptyJob, isEmpty, isMark } from "./job.js";
import { isJob } from "./jobs/list.js";
import { openingLacks } from "./jobs/opening.js";
import { keep, prefer, preferred, recall } from "./keep.js";
import { listenKeys } from "./keys.js";
import { Plate } from "./plate.js";
import { listen } from "./pointer.js";
import { offerFile, save } from "./saving.js";
import { ShopJobs } from "./shopjobs.js";
import { Stage } from "./stage.js";
import { notStarted, sentence, startWords } from "./start.js";
import { Tag } from "./tag.js";
import { hintWords, readOut, talk, thingName } from "./talk.js";
import { parse } from "./units.js";
import { all, isRound, pick, pickLoop } from "./things.js";
import { Torch } from "./torch.js";

/** A second tap this soon and this near is the first one's echo: ms, pixels. */
const ECHO = { soon: 450, near: 24 };

/** Demos that are pieces; the others are only for the shop jobs. */
const pieces = demos.filter((d) => d.title !== "-");
const engine = new Engine();
const plate = new Plate();
const torch = new Torch(plate);
const history = new History(emptyJob());
const page = {
  /** @type {Outcome | null} */ outcome: null,
  planProblem: "",
  /** The job whose own plan is on the plate instead of the piece. @type {"" | "blanks" | "coupon"} */ alone: "",
  /** @type {Hand} */ hand: "draw",
  /** @type {Unit} */ unit: preferred("unit") === "in" ? "in" : "mm",
  light: preferred("light") ?? "auto",
  /** @type {{ line: string, all: string[] }} */ cautions: { line: "", all: [] },
  /** Why there is no reader, where none started. */ lack: "",
  unkept: false,
  /** Numbers of the doubts about the plan that were taken on, and the doubts they are of. @type {{ of: string, numbers: number[] }} */ accepted: { of: "", numbers: [] },
  /** Where the keys have got to, though what was chosen there is closed. @type {Thing | null} */ stepped: null,
  /** The last tap. */ tapped: { when: -Infinity, x: 0, y: 0 },
};
const stage = new Stage(plate, () => page.unit);

const chit = new Chit(plate, {
  say: (hints) => say(hints),
  drop,
  rub: rubThing,
  show: (thing) => open(thing),
  closed: () => {
    plate.chosen = plate.also = null;
    plate.redraw("over");
    stage.settle();
  },
});

const tag = new Tag({
  turn: (side) => turn(side),
  redraw: show,
  take: (hints) => change({ hints: [...history.job.hints, ...hints] }, "Read the other way. Undo brings the first back."),
  look: (edges) => {
    plate.other = edges;
    plate.redraw("over");
  },
  drop,
  // What a form says is set in the job as it is by then: the form may be of one before.
  set: (part) => change({ settings: { ...history.job.settings, ...part } }),
  cut: (part) => {
    cutBy(part);
    void planCut();
  },
  scrap: (back) => {
    const { trace, cut } = history.job;
    void setJob({ ...emptyJob(), cut: { ...cut, scrap: trace } }, "The scrap is laid by. Now draw or open the piece to cut from it.");
    take("draw");
    tag.turn(back);
    show();
  },
  opening: (part) => {
    history.push({ ...history.job, opening: part && { ...(history.job.opening ?? NO_OPENING), ...part } }, part ? `opening ${Object.keys(part)}` : "");
    void settle();
  },
  blanks: (part) => {
    cutBy(part);
    delete jobs.answers.blanks;
    unlone("blanks");
    show();
  },
  figure: (form, key, value) => jobs.figure(form, key, value),
  accept: (number, yes) => {
    const numbers = accepted().filter((n) => n !== number);
    page.accepted = { of: doubtsSaid(), numbers: yes ? [...numbers, number] : numbers };
    show();
  },
  holes: (at, others, text) => {
    const mm = parse(text, page.unit);
    if (mm !== null && mm > 0) say([{ at, hole: mm, ...(others.length ? { with: others } : {}) }]);
    else talk(`Write a diameter over 0 in ${page.unit}.`, "failed");
  },
  word: (key, value, form) => jobs.word(key, value, form),
  touches: (rows) => jobs.touches(rows),
  machine: (machine, form) => void jobs.machine(machine, form),
  arm: (change) => void jobs.arm(change),
  work: (side, leaveOut) => void jobs.work(side, leaveOut),
  fileFor: (purpose) => bringing.ask(purpose),
  takeCoupon: (says) => {
    const { cut } = history.job;
    cutBy({ kerf: says.kerf?.[0] ?? cut.kerf, feed: says.feed ?? cut.feed, pierce: cut.pierce ?? jobs.shop.figures["coupon.pierce"] ?? null });
    talk("Taken for the cut. The kerf changes with the feed and as consumables wear.");
    show();
  },
  keepBook: async (says, name) => {
    const book = await jobs.keepBook(says, name);
    if (book !== null) offerFile("materials.csv", book, "text/csv");
  },
  material: (name) => {
    const row = jobs.materials.find((m) => m.name === name);
    if (!row) return;
    const { cut } = history.job;
    cutBy({ kerf: row.kerf ?? cut.kerf, feed: row.feed ?? cut.feed, pierce: row.pierce ?? cut.pierce, thickness: row.thickness ?? cut.thickness });
    void planCut();
  },
  demoJob: (side) => void bringing.demoJob(side),
  seek: (share) => torch.seek(share),
  run: () => torch.run(),
  save: (kind) => void saveFile(kind),
  file: () => bringing.ask(),
  wipe: () => {
    void setJob({ ...emptyJob() }, "The plate is clean. Undo brings the piece back.");
    take("draw");
    talk("The plate is clean. Undo brings the piece back.");
  },
  fit: () => stage.fit(),
  unit: (unit) => {
    page.unit = unit;
    plate.unit = unit;
    prefer("unit", unit);
    plate.redraw("scribe");
    show();
  },
  light: (light) => {
    page.light = light;
    prefer("light", light);
    lightUp();
    show();
  },
  demo: (name) => void bringing.demo(name),
  typed: (text) => void bringing.take("", new TextEncoder().encode(text)),
});

const jobs = new ShopJobs(engine, {
  job: () => history.job,
  piece: () => page.outcome !== null,
  show,
  alone: (which, plan) => {
    if (tag.side !== which && tag.side !== "save") return;
    const first = page.alone !== which;
    page.alone = which;
    onPlate(new Cutting(plan));
    show();
    if (first) stage.fit();
  },
  unlone,
  say: talk,
  retrace: (trace, words) => {
    void setJob({ ...history.job, trace, hints: [] }, words).then(() => stage.fit());
  },
});

const bringing = new Bringing({
  engine,
  history,
  jobs,
  tag,
  lacksReader,
  inches: () => page.unit === "in",
  setJob,
  settle,
  clear: () => {
    page.hand = "look";
    page.alone = "";
    page.outcome = null;
    chit.close();
    onPlate(null);
  },
  fit: () => stage.fit(),
  show,
  keep: () => void keepJob(),
  unlone,
});

/** Turns up a side of the tag. @param {import("./tag.js").Side} side */
function turn(side) {
  const { alone } = page;
  chit.close();
  tag.turn(side);
  if (grab("talk", HTMLElement).dataset.how === "said") talk("");
  if (alone && side !== alone && side !== "save") unlone(alone);
  if (side === "cut") void planCut();
  if (side === "piece") onPlate(null);
  if (isJob(side)) {
    if (side !== alone) onPlate(null);
    void jobs.enter(side);
  }
  show();
  stage.turn();
}

/** Puts a job's own plan away and the piece back. @param {"blanks" | "coupon"} which */
function unlone(which) {
  if (page.alone !== which) return;
  page.alone = "";
  onPlate(null);
}

/** Shows the piece with its trace and this plan, or a job's own plan by itself. @param {Cutting | null} cutting */
function onPlate(cutting) {
  const { alone } = page;
  // Laid out on a stock, the piece lies elsewhere than the hand's line.
  const laid = cutting !== null && (cutting.plan.stock.length > 0 || history.job.cut.copies > 1);
  plate.trace = alone || laid ? emptyJob().trace : history.job.trace;
  plate.outcome = alone ? null : page.outcome;
  plate.plan = torch.cutting = cutting;
  plate.redraw();
  stage.settle();
}

/** Edge, corner, loop or mark: a new word on one replaces the old. @param {Hint} a @param {Hint} b */
function sameSubject(a, b) {
  const subject = (/** @type {Hint} */ h) => Object.keys(h).find((k) => k !== "at");
  const near = (/** @type {import("./pkg/trued_web.js").Place} */ p, /** @type {import("./pkg/trued_web.js").Place} */ q) => Math.hypot(p[0] - q[0], p[1] - q[1]) < 0.5;
  return subject(a) === subject(b) && near(a.at, b.at) && (!a.to || !b.to || near(a.to, b.to));
}

/** @param {Hint[]} hints */
function say(hints) {
  const kept = history.job.hints.filter((h) => !hints.some((n) => sameSubject(h, n)));
  change({ hints: [...kept, ...hints] }, sentence(hints.map((h) => hintWords(h, page.unit)).join("; ")));
}

/** @param {Hint} hint */
function drop(hint) {
  change({ hints: history.job.hints.filter((h) => h !== hint) }, "No longer said.");
}

/** @param {Partial<Job>} part @param {string} [words] */
function change(part, words) {
  void setJob({ ...history.job, ...part }, words);
}

/** Figures of the cut; what is typed into one blank is one step back. @param {Partial<Cut>} part */
function cutBy(part) {
  history.push({ ...history.job, cut: { ...history.job.cut, ...part } }, `cut ${Object.keys(part)}`);
  void keepJob();
}

/** @param {Job} job @param {string} [words] */
function setJob(job, words) {
  history.push(job);
  return settle(words);
}

/** Shows the job there is now: keeps it, reads it, draws it. @param {string} [words] */
async function settle(words) {
  const { job } = history;
  if (page.alone) {
    page.alone = "";
    torch.cutting = plate.plan = null;
    if (!tag.stands()) tag.turn("piece");
  }
  void keepJob();
  if (isEmpty(job)) {
    page.outcome = null;
    onPlate(null);
    chit.close();
    talk(words ?? "");
    show();
    return;
  }
  onPlate(plate.plan);
  if (lacksReader()) show();
  else await reading(job, words);
}

/** @param {Job} job @param {string} [words] */
async function reading(job, words) {
  const slow = setTimeout(() => page.lack || talk("Reading the line…", "busy", button("Stop", () => stopReading())), 200);
  try {
    const outcome = await engine.read(job);
    if (job.trace !== history.job.trace || job.hints !== history.job.hints || job.settings !== history.job.settings || job.opening !== history.job.opening) return;
    page.outcome = outcome;
    onPlate(plate.plan);
    if (page.unkept) sayUnkept();
    else talk(words ?? readOut(outcome, page.hand));
    chit.follow(outcome);
    if (tag.side === "cut" || (plate.plan && !page.alone)) await planCut();
  } catch (problem) {
    if (problem instanceof Stale) return;
    page.outcome = null;
    chit.close();
    onPlate(null);
    if (problem instanceof Refused && job.opening) talk(sentence(problem.message), "failed", button("Undo", undo));
    else if (problem instanceof Refused) talk(`${sentence(problem.message)} Draw on, undo, or open another file.`, "failed", button("Undo", undo));
    else if (problem instanceof Broken) talk("The reading broke off on this line; nothing of it is lost. Undo the last step, or save the job and go on with another.", "failed", button("Undo", undo));
    else throw problem;
  } finally {
    clearTimeout(slow);
    show();
    plate.redraw("scribe", "over");
    document.documentElement.dataset.read = String(Number(document.documentElement.dataset.read ?? 0) + 1);
  }
}

function stopReading() {
  engine.giveUp();
  talk("Stopped. The trace is still here.", "said", button("Read it again", () => void settle()));
}

async function keepJob() {
  const { job } = history;
  const kept = await keep(job);
  if (job !== history.job) return;
  page.unkept = kept === "not kept";
  if (page.unkept) sayUnkept();
}

function sayUnkept() {
  talk("This browser has no room to keep the job. Save it as a file before you close the page.", "failed", button("Save the job", () => void saveFile("job")));
}

function undo() {
  if (history.undo()) void settle("Undone.");
}

function redo() {
  if (history.redo()) void settle("Done again.");
}

/** Takes a stroke or touch of the hand. @param {Stroke} stroke */
function draw(stroke) {
  const { trace, settings } = history.job;
  // What is drawn here follows nothing. What a file brought came about as the file says, and stays so.
  const own = isEmpty(history.job) && settings.hand === undefined;
  change({ trace: { ...trace, strokes: [...trace.strokes, stroke] }, settings: own ? { ...settings, hand: "drawn" } : settings });
}

/** @param {number[]} path */
function rub(path) {
  const { trace } = history.job;
  const left = rubbed(trace, path, plate.rag);
  if (left !== trace) change({ trace: left }, "Rubbed out. Undo brings it back.");
}

/** The stroke nearest to a thing, or the loop of a drawing. @param {Thing} thing */
function rubThing(thing) {
  const { trace } = history.job;
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
  if (best >= 0) {
    change({ trace: { ...trace, strokes: trace.strokes.filter((_, i) => i !== best) } }, "Rubbed out. Undo brings it back.");
  } else if (trace.drawn.length > thing.loop) {
    change({ trace: { ...trace, drawn: trace.drawn.filter((_, i) => i !== thing.loop) } }, "Rubbed out. Undo brings it back.");
  }
}

/** @param {Thing} thing */
function open(thing) {
  if (!page.outcome) return;
  if (history.job.opening && !openingLacks(history.job.opening)) {
    turn("opening");
    talk("This is the opening that was asked for: change it on its tag.");
    return;
  }
  plate.chosen = page.stepped = thing;
  plate.also = null;
  plate.redraw("over");
  chit.open(thing, page.outcome, history.job.hints, page.unit);
  stage.settle();
}

/**
 * A tap looks, but with the punch in hand, which says so beforehand. The echo of a tap, as a bouncing finger or a
 * double click leaves it, is none.
 * @param {import("./pkg/trued_web.js").Place} at
 * @param {number} when ms
 */
function tap(at, when) {
  const [x, y] = plate.toScreen(at);
  const { tapped } = page;
  const echo = when - tapped.when < ECHO.soon && Math.hypot(x - tapped.x, y - tapped.y) < ECHO.near;
  page.tapped = { when, x, y };
  if (echo) return;
  const { outcome } = plate;
  const thing = outcome && (pick(outcome, at, plate.reach) ?? plate.labelAt(at));
  const punched = thing?.kind === "mark" || (outcome && thing?.kind === "edge" && isRound(outcome.loops[thing.loop].edges[thing.index]));
  if (page.hand === "mark" && !punched) draw({ points: Float64Array.from(at), times: null });
  else if (page.hand === "rub") rub([...at]);
  else if (thing) open(thing);
  else {
    const loop = outcome && page.hand === "look" ? pickLoop(outcome, at) : null;
    if (loop && chit.element.hidden) open(loop);
    else chit.close();
  }
}

async function planCut() {
  const { job } = history;
  const { cut } = job;
  const lacks = [cut.kerf === null && "kerf", cut.feed === null && "feed", cut.pierce === null && "pierce"].filter(Boolean);
  page.planProblem = lacks.length ? `Fill in ${lacks.join(", ")}; the plan follows at once.` : "";
  if (page.planProblem || !page.outcome) {
    onPlate(null);
    show();
    return;
  }
  try {
    const plan = await engine.plan(cut);
    if (job !== history.job || page.alone) return;
    if (plan.fits === 0) throw new Refused("not one copy fits on this stock: take a larger one, or fewer mm of lead");
    const first = !plate.plan;
    const at = torch.cutting?.at ?? null;
    const cutting = new Cutting(plan);
    cutting.at = at !== null ? Math.min(at, cutting.total) : null;
    onPlate(cutting);
    page.planProblem = "";
    show();
    if (first) stage.fit();
  } catch (problem) {
    if (problem instanceof Stale) return;
    onPlate(null);
    page.planProblem = sentence(problem instanceof Error ? problem.message : String(problem));
    show();
  }
}

/** @param {string} kind */
function saveFile(kind) {
  return save(kind, { engine, job: history.job, unit: page.unit, machine: jobs.shop.machine, accepted: accepted(), answers: jobs.answers });
}

/** The doubts about the plan as they stand. */
function doubtsSaid() {
  return (plate.plan?.plan.doubts ?? []).map((d) => d.text).join("\n");
}

/** Numbers of the doubts that were taken on: of these very doubts, and no others. */
function accepted() {
  return page.accepted.of === doubtsSaid() ? page.accepted.numbers : [];
}

/** Takes something else into the hand. @param {Hand} hand */
function take(hand) {
  page.hand = hand;
  chit.close();
  talk(HANDS.find(([h]) => h === hand)?.[3] ?? "");
  show();
}

function show() {
  const empty = isEmpty(history.job);
  grab("start", HTMLElement).hidden = !empty || tag.stands() || page.alone !== "";
  tag.show({
    job: history.job,
    outcome: page.outcome,
    unit: page.unit,
    plan: plate.plan?.plan ?? null,
    planProblem: page.planProblem,
    cautions: page.cautions,
    demos: pieces,
    light: page.light,
    shop: jobs.shop,
    answers: jobs.answers,
    problems: jobs.problems,
    alone: page.alone,
    materials: jobs.materials,
    accepted: accepted(),
  });
  const doubts = plate.plan?.plan.doubts ?? plate.outcome?.report.doubts ?? [];
  plate.doubts = ["piece", "cut", "save"].includes(tag.side) ? doubts.flatMap((d, i) => (d.at ? [{ at: d.at, number: i + 1 }] : [])) : [];
  const more = tag.side === "plate" || tag.side === "jobs" || isJob(tag.side);
  showHand(page.hand, { undo: history.before.length > 0, redo: history.after.length > 0, compare: plate.outcome !== null && history.job.trace.strokes.some((s) => !isMark(s)), more }, {
    take,
    undo,
    redo,
    more: () => turn(tag.side === "plate" ? "piece" : "plate"),
  });
  plate.redraw("over");
  plate.element.dataset.hand = page.hand;
  torch.tell();
  stage.settle();
}

function lightUp() {
  document.documentElement.dataset.light = page.light;
  plate.recolor();
}

/** @param {number} step */
function stepThrough(step) {
  if (!plate.outcome) return;
  const list = all(plate.outcome);
  if (!list.length) return;
  const chosen = plate.chosen ?? page.stepped;
  const now = chosen ? list.findIndex((t) => t.kind === chosen.kind && t.loop === chosen.loop && t.index === chosen.index) : -1;
  const next = list[(now + step + list.length) % list.length] ?? list[0];
  plate.chosen = page.stepped = next;
  plate.redraw("over");
  talk(`${thingName(next)}. Enter opens what can be done to it.`);
}

/** Whether there is no reader; it is said. */
function lacksReader() {
  if (page.lack) talk(page.lack, "failed", button("Load again", () => location.reload()));
  return page.lack !== "";
}

/** @param {boolean} handOnly */
function compare(handOnly) {
  if (plate.handOnly === handOnly) return;
  plate.handOnly = handOnly && plate.outcome !== null;
  plate.redraw();
}

function listenAll() {
  listen(plate, {
    hand: () => page.hand,
    start: () => {
      stage.held = true;
    },
    end: () => {
      stage.held = false;
      stage.settle();
    },
    stroke: (points, times) => draw({ points: Float64Array.from(points), times: Float64Array.from(times) }),
    rub,
    tap,
  });
  const { begin, end } = listenCompare(compare);
  listenKeys(plate, {
    step: stepThrough,
    open: () => plate.chosen && open(plate.chosen),
    fit: () => stage.fit(),
    compare: (held) => (held ? begin() : end()),
    take,
    close: () => chit.close(),
    rub: () => plate.chosen && rubThing(plate.chosen),
    choose,
    save: () => void saveFile("job"),
    print: () => window.print(),
    undo,
    redo,
  });
  addEventListener("beforeunload", (e) => {
    if (page.unkept) e.preventDefault();
  });
  matchMedia("(prefers-color-scheme: light)").addEventListener("change", () => plate.recolor());
  bring((name, bytes) => void bringing.take(name, bytes), (problem) => talk(problem, "failed"));
}

async function begin() {
  lightUp();
  plate.unit = page.unit;
  plate.onframe = () => stage.dress(!tag.stands() || tag.side === "opening" || !chit.element.hidden);
  startWords(pieces, { file: () => bringing.ask(), demo: (name) => void bringing.demo(name), jobs: () => turn("jobs") });
  listenAll();
  show();
  // Before the reader: what was kept is drawn on and not over, though none may start.
  const kept = await recall();
  const old = kept !== null && (!isEmpty(kept) || kept.cut !== NO_CUT);
  if (old) {
    history.job = kept;
    page.hand = isEmpty(kept) ? "draw" : "look";
    onPlate(null);
    stage.fit();
    show();
  }
  try {
    const module = await engine.start();
    page.cautions = await engine.ask("cautions");
    await jobs.begin();
    document.documentElement.dataset.ready = "yes";
    void plate.load(module);
    if (old) {
      await settle(isEmpty(kept) ? undefined : "Your last job is here again.");
      stage.fit();
    }
  } catch (problem) {
    page.lack = notStarted(problem);
    lacksReader();
  }
  document.documentElement.dataset.settled = "yes";
}

void begin();

// The one place that decides: what is pressed elsewhere ends here, becomes the next job, is read, and is
// shown.

/** @import { Hint, Outcome } from "./pkg/trued_web.js" */
/** @import { Job } from "./job.js" */
/** @import { Hand } from "./pointer.js" */
/** @import { Thing } from "./things.js" */
/** @import { Unit } from "./units.js" */

import { demos } from "./pkg/demos.js";
import { Bringing } from "./bringing.js";
import { Chit } from "./chit.js";
import { Cutting } from "./cut.js";
import { CutDesk } from "./cutdesk.js";
import { button, grab } from "./dom.js";
import { Broken, Engine, Refused, Stale } from "./engine.js";
import { HANDS, showHand } from "./hand.js";
import { HandDesk } from "./handdesk.js";
import { History, NO_OPENING, emptyJob, isEmpty, isMark } from "./job.js";
import { isJob } from "./jobs/list.js";
import { openingLacks } from "./jobs/opening.js";
import { claim, keep, others, prefer, preferred, recall } from "./keep.js";
import { PhotoDesk } from "./photodesk.js";
import { listenAll } from "./listening.js";
import { Plate } from "./plate.js";
import { offerFile } from "./saving.js";
import { ShopJobs } from "./shopjobs.js";
import { Stage } from "./stage.js";
import { notStarted, sentence, startWords } from "./start.js";
import { Tag } from "./tag.js";
import { hintWords, readOut, talk } from "./talk.js";
import { parse } from "./units.js";
import { Torch } from "./torch.js";

/** Demos that are pieces; the others are only for the shop jobs. */
const pieces = demos.filter((d) => d.title !== "-");
const engine = new Engine();
const plate = new Plate();
const torch = new Torch(plate);
const history = new History(emptyJob());
const page = {
  /** @type {Outcome | null} */ outcome: null,
  /** The job whose own plan is on the plate instead of the piece. @type {"" | "blanks" | "coupon"} */ alone: "",
  /** @type {Unit} */ unit: preferred("unit") === "in" ? "in" : "mm",
  light: preferred("light") ?? "auto",
  /** @type {{ line: string, all: string[] }} */ cautions: { line: "", all: [] },
  /** Why there is no reader, where none started. */ lack: "",
  unkept: false,
  /** Jobs of tabs that are closed. @type {Job[]} */ elsewhere: [],
};
const stage = new Stage(plate, () => page.unit);

/** @type {CutDesk} */
const cutting = new CutDesk({ engine, history, plate, torch, stage }, {
  outcome: () => page.outcome,
  alone: () => page.alone !== "",
  wanted: () => tag.side !== "piece",
  unit: () => page.unit,
  onPlate: (plan) => onPlate(plan),
  show: () => show(),
  keep: () => void keepJob(),
});

const chit = new Chit(plate, {
  say: (hints) => say(hints),
  drop,
  rub: (thing) => hands.rubThing(thing),
  show: (thing) => open(thing),
  closed: () => {
    plate.chosen = plate.also = null;
    plate.redraw("over");
    stage.settle();
  },
});

const hands = new HandDesk({ history, plate, chit }, { change, open });

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
    cutting.by(part);
    void cutting.plan();
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
    cutting.by(part);
    delete jobs.answers.blanks;
    unlone("blanks");
    show();
  },
  figure: (form, key, value) => jobs.figure(form, key, value),
  accept: (number, yes) => cutting.accept(number, yes),
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
    cutting.by({ kerf: says.kerf?.[0] ?? cut.kerf, feed: says.feed ?? cut.feed, pierce: cut.pierce ?? jobs.shop.figures["coupon.pierce"] ?? null });
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
    cutting.by({ kerf: row.kerf ?? cut.kerf, feed: row.feed ?? cut.feed, pierce: row.pierce ?? cut.pierce, thickness: row.thickness ?? cut.thickness });
    void cutting.plan();
  },
  demoJob: (side) => void bringing.demoJob(side),
  seek: (share) => torch.seek(share),
  run: () => torch.run(),
  save: (kind) => void cutting.save(kind),
  file: () => bringing.ask(),
  wipe: () => {
    void setJob({ ...emptyJob() }, "The plate is clean. Undo brings the piece back.");
    take("draw");
    talk("The plate is clean. Undo brings the piece back.");
  },
  photo: (part) => desk.change(part),
  readPhoto: () => void desk.read(),
  stopPhoto: () => desk.stop(),
  target: () => void desk.target(),
  camera: () => grab("camera", HTMLInputElement).click(),
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
  takeUp: (job) => void setJob(job, "The other piece is here. Undo brings back the one before.").then(() => stage.fit()),
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

const desk = new PhotoDesk(plate, {
  job: () => history.job,
  turn: () => turn("photo"),
  show,
  bring: async (job, words) => {
    tag.turn("piece");
    clear();
    await setJob(job, words);
    stage.fit();
  },
});

/** Makes ready for another piece. */
function clear() {
  hands.hand = "look";
  page.alone = "";
  page.outcome = null;
  chit.close();
  onPlate(null);
}

cutting.jobs = jobs;

const bringing = new Bringing({
  engine,
  history,
  jobs,
  tag,
  lacksReader,
  inches: () => page.unit === "in",
  setJob,
  settle,
  clear,
  picture: (name, bytes) => desk.open(name, bytes),
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
  if (side === "cut") void cutting.plan();
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

/** Shows the piece with its trace and this plan, or a job's own plan by itself. @param {Cutting | null} plan */
function onPlate(plan) {
  const { alone } = page;
  // Laid out on a stock, the piece lies elsewhere than the hand's line and what was read of it.
  const laid = plan !== null && (plan.plan.stock.length > 0 || (history.job.cut.copies ?? 1) > 1);
  plate.trace = alone || laid ? emptyJob().trace : history.job.trace;
  plate.outcome = alone || laid ? null : page.outcome;
  plate.plan = torch.cutting = plan;
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
  if (isEmpty(job)) {
    void keepJob();
    page.outcome = null;
    onPlate(null);
    chit.close();
    talk(words ?? "");
    show();
    return;
  }
  // The worker reads while the job is kept and drawn.
  const read = lacksReader() ? null : reading(job, words);
  void keepJob();
  onPlate(plate.plan);
  if (read) await read;
  else show();
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
    else talk(words ?? readOut(outcome, hands.hand));
    chit.follow(outcome);
    if (tag.side === "cut" || (plate.plan && !page.alone)) await cutting.plan();
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
  const { job, before, after } = history;
  const kept = await keep({ job, before, after });
  if (job !== history.job) return;
  page.unkept = kept === "not kept";
  if (page.unkept) sayUnkept();
}

function sayUnkept() {
  talk("This browser has no room to keep the job. Save it as a file before you close the page.", "failed", button("Save the job", () => void cutting.save("job")));
}

function undo() {
  if (history.undo()) void settle("Undone.");
}

function redo() {
  if (history.redo()) void settle("Done again.");
}

/** @param {Thing} thing */
function open(thing) {
  if (!page.outcome) return;
  if (history.job.opening && !openingLacks(history.job.opening)) {
    turn("opening");
    talk("This is the opening that was asked for: change it on its tag.");
    return;
  }
  plate.chosen = hands.stepped = thing;
  plate.also = null;
  plate.redraw("over");
  chit.open(thing, page.outcome, history.job.hints, page.unit);
  stage.settle();
}

/** Takes something else into the hand. @param {Hand} hand */
function take(hand) {
  hands.hand = hand;
  chit.close();
  talk(HANDS.find(([h]) => h === hand)?.[3] ?? "");
  show();
}

/** @returns {void} */
function show() {
  const empty = isEmpty(history.job);
  grab("start", HTMLElement).hidden = !empty || tag.stands() || page.alone !== "";
  tag.show({
    job: history.job,
    outcome: page.outcome,
    unit: page.unit,
    plan: plate.plan?.plan ?? null,
    planProblem: cutting.problem,
    cautions: page.cautions,
    demos: pieces,
    light: page.light,
    shop: jobs.shop,
    answers: jobs.answers,
    problems: jobs.problems,
    alone: page.alone,
    materials: jobs.materials,
    accepted: cutting.accepted(),
    elsewhere: page.elsewhere,
    photo: desk.photo,
  });
  const doubts = plate.plan?.plan.doubts ?? plate.outcome?.report.doubts ?? [];
  plate.doubts = ["piece", "cut", "save"].includes(tag.side) ? doubts.flatMap((d, i) => (d.at ? [{ at: d.at, number: i + 1 }] : [])) : [];
  const more = ["plate", "jobs", "photo"].includes(tag.side) || isJob(tag.side);
  showHand(hands.hand, { undo: history.before.length > 0, redo: history.after.length > 0, compare: plate.outcome !== null && history.job.trace.strokes.some((s) => !isMark(s)), more }, {
    take,
    undo,
    redo,
    more: () => turn(tag.side === "plate" ? "piece" : "plate"),
  });
  cutting.soonPrinted();
  plate.redraw("over");
  plate.element.dataset.hand = hands.hand;
  torch.tell();
  stage.settle();
}

function lightUp() {
  document.documentElement.dataset.light = page.light;
  plate.recolor();
}

/** Whether there is no reader; it is said. */
function lacksReader() {
  if (page.lack) talk(page.lack, "failed", button("Load again", () => location.reload()));
  return page.lack !== "";
}

async function begin() {
  lightUp();
  plate.unit = page.unit;
  plate.onframe = () => stage.dress(!tag.stands() || tag.side === "opening" || !chit.element.hidden);
  startWords(pieces, { file: () => bringing.ask(), photo: () => turn("photo"), demo: (name) => void bringing.demo(name), jobs: () => turn("jobs") });
  listenAll({ plate, stage, hands, chit, cutting, bringing }, {
    open,
    take,
    undo,
    redo,
    unkept: () => page.unkept,
    shop: () => {
      jobs.recall();
      show();
    },
  });
  show();
  // Before the reader: what was kept is drawn on and not over, though none may start.
  await claim();
  page.elsewhere = await others();
  const kept = await recall();
  const old = kept !== null;
  if (old) {
    history.take(kept);
    hands.hand = isEmpty(kept.job) ? "draw" : "look";
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
    if (isEmpty(history.job)) void engine.warm().catch(() => {});
    if (old) {
      await settle(isEmpty(kept.job) ? undefined : "Your last job is here again.");
      stage.fit();
    }
  } catch (problem) {
    page.lack = notStarted(problem);
    lacksReader();
  }
  document.documentElement.dataset.settled = "yes";
}

void begin();

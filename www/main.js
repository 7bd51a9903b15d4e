// The one place that decides: what is pressed elsewhere ends here, becomes the next job, is read, and is
// shown.

/** @import { Hint, Outcome, Place } from "./pkg/trued_web.js" */
/** @import { Cut, Job, Stroke, Trace } from "./job.js" */
/** @import { Thing } from "./things.js" */
/** @import { Unit } from "./units.js" */

import { demos } from "./pkg/demos.js";
import { Chit } from "./chit.js";
import { Cutting } from "./cut.js";
import { button, fill, grab, make } from "./dom.js";
import { Broken, Engine, Refused, Stale } from "./engine.js";
import { bring, choose, offer, unpack } from "./files.js";
import { History, NO_CUT, NO_OPENING, emptyJob, fromArrays, isEmpty, isMark } from "./job.js";
import { JOB_DEMOS } from "./jobs/demo.js";
import { isJob } from "./jobs/list.js";
import { openingLacks } from "./jobs/opening.js";
import { keep, prefer, preferred, recall } from "./keep.js";
import { Plate } from "./plate.js";
import { ShopJobs } from "./shopjobs.js";
import { listen } from "./pointer.js";
import { Tag } from "./tag.js";
import { talk, thingName } from "./talk.js";
import { all, along, extent, pick, pickLoop } from "./things.js";
import { clock } from "./units.js";

/** From this width on the tag hangs beside the piece, below it lies under it, pixels. */
const WIDE = 760;
/** A released press that has not become a click by then becomes none, ms. */
const CLICK = 400;

/** Demos that are pieces; the others are only for the shop jobs. */
const pieces = demos.filter((d) => d.title !== "-");
const engine = new Engine();
const plate = new Plate();
const history = new History(emptyJob());
const page = {
  /** @type {Outcome | null} */ outcome: null,
  /** @type {Cutting | null} */ cutting: null,
  planProblem: "",
  /** The job whose own plan is on the plate instead of the piece. @type {"" | "blanks" | "coupon"} */ alone: "",
  /** What the file being chosen is for. */ filePurpose: "",
  inHand: true,
  /** @type {Unit} */ unit: preferred("unit") === "in" ? "in" : "mm",
  light: preferred("light") ?? "auto",
  /** @type {{ line: string, all: string[] }} */ cautions: { line: "", all: [] },
  busy: 0,
  /** Why there is no reader, where none started. */ lack: "",
  /** Whether a press on the tag is not over yet, or a blank there half filled in; and the tag is owed a change. */ pressed: false,
  typing: false,
  owed: false,
  unkept: false,
};

const chit = new Chit(plate, {
  say: (hint) => change({ hints: [...history.job.hints.filter((h) => !sameSubject(h, hint)), hint] }, "Done as you said."),
  drop,
  rub,
  show: (thing) => open(thing),
  closed: () => {
    plate.chosen = null;
    plate.redraw("over");
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
    history.push({ ...history.job, cut: { ...history.job.cut, ...part } });
    void keepJob();
    void planCut();
  },
  scrap: (back) => {
    const { trace, cut } = history.job;
    setJob({ ...emptyJob(), cut: { ...cut, scrap: trace } }, "The scrap is laid by. Now draw or open the piece to cut from it.");
    tag.turn(back);
    show();
  },
  opening: (part) => change({ opening: part && { ...(history.job.opening ?? NO_OPENING), ...part } }),
  blanks: (part) => {
    history.push({ ...history.job, cut: { ...history.job.cut, ...part } });
    delete jobs.answers.blanks;
    unlone("blanks");
    void keepJob();
    show();
  },
  figure: (form, key, value) => jobs.figure(form, key, value),
  word: (key, value, form) => jobs.word(key, value, form),
  touches: (rows) => jobs.touches(rows),
  machine: (machine, form) => void jobs.machine(machine, form),
  arm: (change) => void jobs.arm(change),
  work: (side, leaveOut) => void jobs.work(side, leaveOut),
  fileFor: (purpose) => {
    page.filePurpose = purpose;
    choose();
  },
  takeCoupon: (says) => {
    const { cut } = history.job;
    const { figures } = jobs.shop;
    history.push({ ...history.job, cut: { ...cut, kerf: says.kerf?.[0] ?? cut.kerf, feed: says.feed ?? cut.feed, pierce: cut.pierce ?? figures["coupon.pierce"] ?? null } });
    void keepJob();
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
    history.push({ ...history.job, cut: { ...cut, kerf: row.kerf ?? cut.kerf, feed: row.feed ?? cut.feed, pierce: row.pierce ?? cut.pierce, thickness: row.thickness ?? cut.thickness } });
    void keepJob();
    void planCut();
  },
  demoJob: (side) => void demoJob(side),
  seek: (share) => seek(share),
  run: () => run(),
  save: (kind) => void save(kind),
  file: () => {
    page.filePurpose = "";
    choose();
  },
  wipe: () => setJob({ ...emptyJob(), settings: history.job.settings }, "The plate is clean. Undo brings the piece back."),
  fit,
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
  demo: (name) => void demo(name),
  typed: (text) => void take("", new TextEncoder().encode(text)),
});

const jobs = new ShopJobs(engine, {
  job: () => history.job,
  piece: () => page.outcome !== null,
  show,
  alone: (which, plan) => {
    if (tag.side !== which && tag.side !== "save") return;
    const first = page.alone !== which;
    page.alone = which;
    page.cutting = new Cutting(plan);
    stage();
    show();
    if (first) fit();
  },
  unlone,
  say: talk,
  retrace: (trace, words) => {
    void setJob({ ...history.job, trace, hints: [] }, words).then(fit);
  },
});

/** Turns up a side of the tag. @param {import("./tag.js").Side} side */
function turn(side) {
  const { alone } = page;
  tag.turn(side);
  if (grab("talk", HTMLElement).dataset.how === "said") talk("");
  if (alone && side !== alone && side !== "save") unlone(alone);
  if (side === "cut") void planCut();
  if (side === "piece") putPlanAway();
  if (isJob(side)) {
    if (side !== alone) putPlanAway();
    void jobs.enter(side);
  }
  show();
  if (plate.width < WIDE || alone) fit();
}

/** Puts a job's own plan away and the piece back. @param {"blanks" | "coupon"} which */
function unlone(which) {
  if (page.alone !== which) return;
  page.alone = "";
  putPlanAway();
}

/** What is on the plate: the piece with its trace, or a job's own plan by itself. */
function stage() {
  const { alone } = page;
  plate.trace = alone ? emptyJob().trace : history.job.trace;
  plate.outcome = alone ? null : page.outcome;
  plate.plan = page.cutting;
  plate.redraw();
}

/** Edge, corner, loop or mark: a new word on one replaces the old. @param {Hint} a @param {Hint} b */
function sameSubject(a, b) {
  const subject = (/** @type {Hint} */ h) => Object.keys(h).find((k) => k !== "at");
  return subject(a) === subject(b) && Math.hypot(a.at[0] - b.at[0], a.at[1] - b.at[1]) < 0.5;
}

/** @param {Hint} hint */
function drop(hint) {
  change({ hints: history.job.hints.filter((h) => h !== hint) }, "Dropped.");
}

/** @param {Partial<Job>} part @param {string} [words] */
function change(part, words) {
  setJob({ ...history.job, ...part }, words);
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
    page.cutting = null;
    if (!tag.stands()) tag.turn("piece");
  }
  stage();
  void keepJob();
  if (isEmpty(job)) {
    page.outcome = null;
    putPlanAway();
    chit.close();
    talk(words ?? "");
    show();
    plate.redraw();
    return;
  }
  if (lacksReader()) show();
  else await reading(job, words);
}

/** @param {Job} job @param {string} [words] */
async function reading(job, words) {
  page.busy += 1;
  const slow = setTimeout(() => page.lack || talk("Reading the line…", "busy", button("Stop", () => stopReading())), 200);
  try {
    const outcome = await engine.read(job);
    if (job.trace !== history.job.trace || job.hints !== history.job.hints || job.settings !== history.job.settings || job.opening !== history.job.opening) return;
    page.outcome = outcome;
    stage();
    if (page.unkept) sayUnkept();
    else talk(words ?? readOut(outcome));
    chit.follow(outcome);
    if (tag.side === "cut" || (page.cutting && !page.alone)) await planCut();
  } catch (problem) {
    if (problem instanceof Stale) return;
    page.outcome = null;
    putPlanAway();
    if (problem instanceof Refused && job.opening) talk(sentence(problem.message), "failed", button("Undo", undo));
    else if (problem instanceof Refused) talk(`${sentence(problem.message)} Draw on, undo, or open another file.`, "failed", button("Undo", undo));
    else if (problem instanceof Broken) talk("The reading broke off on this line; nothing of it is lost. Undo the last step, or save the job and go on with another.", "failed", button("Undo", undo));
    else throw problem;
  } finally {
    clearTimeout(slow);
    page.busy -= 1;
    document.documentElement.dataset.read = String(Number(document.documentElement.dataset.read ?? 0) + 1);
    show();
    plate.redraw("scribe", "over");
  }
}

function stopReading() {
  engine.giveUp();
  talk("Stopped. The trace is still here.", "said", button("Read it again", () => void settle()));
}

/** @param {Outcome} outcome */
function readOut(outcome) {
  const edges = outcome.loops.reduce((sum, l) => sum + l.edges.length, 0);
  const square = outcome.report.relations.filter((r) => r.kind === "square" && !r.with && !r.marks).length;
  const bits = [`${outcome.loops.length} ${outcome.loops.length === 1 ? "loop" : "loops"}`, `${edges} ${edges === 1 ? "edge" : "edges"}`];
  if (square) bits.push(`${square} ${square === 1 ? "corner" : "corners"} squared`);
  if (outcome.marks.length) bits.push(`${outcome.marks.length} ${outcome.marks.length === 1 ? "mark" : "marks"}`);
  return `${bits.join(", ")}. ${page.inHand ? "Draw on, or tap an edge to correct it." : "Tap an edge, a corner or a mark to correct it."}`;
}

/** @param {string} text */
function sentence(text) {
  const upper = text.charAt(0).toUpperCase() + text.slice(1);
  return /[.!?]$/.test(upper) ? upper : `${upper}.`;
}

async function keepJob() {
  const { job } = history;
  const kept = await keep(job);
  if (job !== history.job) return;
  page.unkept = kept === "not kept";
  if (page.unkept) sayUnkept();
}

function sayUnkept() {
  talk("This browser has no room to keep the job. Save it as a file before you close the page.", "failed", button("Save the job", () => void save("job")));
}

function undo() {
  if (history.undo()) void settle("Undone.");
}

function redo() {
  if (history.redo()) void settle("Done again.");
}

/** Takes a stroke or touch of the hand. @param {Stroke} stroke */
function draw(stroke) {
  const { trace } = history.job;
  change({ trace: { ...trace, strokes: [...trace.strokes, stroke] } });
}

/** @param {Thing} thing */
function rub(thing) {
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
  plate.chosen = thing;
  plate.redraw("over");
  chit.open(thing, page.outcome, history.job.hints, page.unit);
}

/** A machine profile, by what it says or is called. @param {string} name @param {Uint8Array} bytes */
function isProfile(name, bytes) {
  return /machine[^/]*\.json$/i.test(name) || new TextDecoder().decode(bytes.subarray(0, 200)).includes('"trued_machine"');
}

/** A file, for the plate or for what it was asked for. @param {string} name @param {Uint8Array} bytes */
async function take(name, bytes) {
  if (lacksReader()) return;
  const purpose = page.filePurpose || (isProfile(name, bytes) ? "profile" : "");
  page.filePurpose = "";
  if (purpose === "scrap") return takeScrap(name, bytes);
  if (purpose) return jobs.file(purpose, name, bytes);
  talk(`Opening ${name || "what was pasted"}…`, "busy");
  try {
    const opened = await engine.open(name, bytes, page.unit === "in");
    const { job } = history;
    if (opened.kind === "hints") {
      await setJob({ ...job, hints: [...job.hints, ...opened.hints] }, "The hints are taken.");
      return;
    }
    const settings = opened.settings ?? {};
    page.inHand = false;
    // A form that waits for a trace stays up.
    if (!isJob(tag.side)) tag.turn("piece");
    page.alone = "";
    putPlanAway();
    const next = { ...emptyJob(), cut: job.cut, trace: fromArrays(opened), settings, hints: opened.hints ?? [], opening: tag.side === "opening" ? job.opening : null };
    page.outcome = null;
    history.push(next);
    fit();
    await settle(opened.notes.map((n) => n.text).join(" ") || undefined);
    fit();
  } catch (problem) {
    if (problem instanceof Refused) talk(`${name ? `${name}: ` : ""}${problem.message}. What was on the plate is still there.`, "failed", button("Open another", choose));
    else if (problem instanceof Broken) talk(`${name || "That"} could not be read, and broke the reader; a new one is ready. What was on the plate is still there.`, "failed", button("Open another", choose));
    else if (!(problem instanceof Stale)) throw problem;
  }
}

/** A scrap's file: laid by, and the plate as it was. @param {string} name @param {Uint8Array} bytes */
async function takeScrap(name, bytes) {
  try {
    const opened = await engine.open(name, bytes, page.unit === "in");
    if (opened.kind === "hints") throw new Refused("these are hints without a trace");
    const { job } = history;
    history.push({ ...job, cut: { ...job.cut, scrap: fromArrays(opened) } });
    delete jobs.answers.blanks;
    unlone("blanks");
    void keepJob();
    talk("The scrap is laid by.");
    show();
  } catch (problem) {
    if (!(problem instanceof Refused || problem instanceof Broken)) throw problem;
    talk(`${name}: ${problem.message}. What was laid by is as it was.`, "failed");
  }
}

/** @param {string} name @param {string} [purpose] */
async function demo(name, purpose = "") {
  const found = demos.find((d) => d.name === name);
  page.filePurpose = purpose;
  if (found) await take(found.name, new Uint8Array(await unpack(found.packed)));
}

/** Fills a job's form with the demo's figures. @param {import("./jobs/list.js").JobSide} side */
async function demoJob(side) {
  const given = JOB_DEMOS[side];
  jobs.set({ figures: { ...jobs.shop.figures, ...given.figures }, words: { ...jobs.shop.words, ...given.words } });
  for (const [purpose, name] of Object.entries(given.files ?? {})) await demo(name, purpose);
  if (given.trace) await demo(given.trace);
  if (given.scrap) await demo(given.scrap, "scrap");
  if (given.opening) await setJob({ ...history.job, opening: given.opening });
  if (given.cut) history.push({ ...history.job, cut: { ...history.job.cut, ...given.cut } });
  await jobs.enter(side);
  talk("The demo's figures: not yours. Yours come from your cutter's own book and your own calipers.");
  show();
}

// ---- the cut ----

/** @param {Cut} cut */
function missing(cut) {
  const list = [cut.kerf === null && "kerf", cut.feed === null && "feed", cut.pierce === null && "pierce"].filter(Boolean);
  return list.length ? `Fill in ${list.join(", ")}; the plan follows at once.` : "";
}

async function planCut() {
  const { job } = history;
  const { cut } = job;
  page.planProblem = missing(cut);
  if (page.planProblem || !page.outcome) {
    putPlanAway();
    show();
    return;
  }
  try {
    const plan = await engine.plan(cut);
    if (job !== history.job || page.alone) return;
    if (plan.fits === 0) throw new Refused("not one copy fits on this stock: take a larger one, or fewer mm of lead");
    const first = !page.cutting;
    page.cutting = new Cutting(plan);
    stage();
    page.planProblem = "";
    if (first) {
      show();
      fit();
    }
  } catch (problem) {
    if (problem instanceof Stale) return;
    putPlanAway();
    page.planProblem = sentence(problem instanceof Error ? problem.message : String(problem));
  }
  show();
  plate.redraw("scribe", "over");
}

function putPlanAway() {
  page.cutting = null;
  stage();
}

/** @param {number} share */
function seek(share) {
  const { cutting } = page;
  if (!cutting) return;
  cutting.at = share * cutting.total;
  torchTime();
  plate.redraw("over");
}

function run() {
  const { cutting } = page;
  if (!cutting) return;
  cutting.running = !cutting.running;
  if (cutting.at === null || cutting.at >= cutting.total) cutting.at = 0;
  // The whole plan in at most a minute; a person who asked for less motion steers the slider.
  const speed = Math.max(1, cutting.total / 60);
  let last = performance.now();
  const step = (/** @type {number} */ now) => {
    if (!cutting.running || page.cutting !== cutting) return;
    cutting.at = Math.min(cutting.total, (cutting.at ?? 0) + ((now - last) / 1000) * speed);
    last = now;
    if (cutting.at >= cutting.total) cutting.running = false;
    torchTime();
    plate.redraw("over");
    requestAnimationFrame(step);
  };
  if (matchMedia("(prefers-reduced-motion: reduce)").matches) {
    cutting.running = false;
    cutting.at = cutting.total;
  }
  torchTime();
  plate.redraw("over");
  requestAnimationFrame(step);
}

function torchTime() {
  const { cutting } = page;
  if (!cutting || !tag.torch || cutting.at === null) return;
  const { cut } = cutting.where(cutting.at);
  tag.torch.time.textContent = `cut ${cut + 1}, ${clock(cutting.at)} of ${clock(cutting.total)}`;
  tag.torch.slider.value = String(Math.round((1000 * cutting.at) / (cutting.total || 1)));
  tag.torch.run.textContent = cutting.running ? "Stop the torch" : "Run the torch";
}

/** @param {string} kind */
async function save(kind) {
  const { job } = history;
  const inches = page.unit === "in";
  const files = /** @type {Record<string, [string, string]>} */ ({
    outline: ["outline.json", "application/json"],
    job: ["job.json", "application/json"],
    svg: ["outline.svg", "image/svg+xml"],
    dxf: ["outline.dxf", "image/vnd.dxf"],
    rs274: ["cut.ngc", "text/plain"],
    dry: ["dry-run.ngc", "text/plain"],
    "plan-dxf": ["cut.dxf", "image/vnd.dxf"],
    "plan-svg": ["cut.svg", "image/svg+xml"],
    sheet: ["sheet.html", "text/html"],
    template: ["template.html", "text/html"],
    profile: ["machine.json", "application/json"],
    measuring: ["coupon.csv", "text/csv"],
  });
  const [name, type] = files[kind];
  const tasks = /** @type {Record<string, string>} */ ({ outline: "document", job: "job", svg: "svg", dxf: "dxf", profile: "profileText" });
  const { machine } = jobs.shop;
  try {
    const text = kind === "measuring" ? jobs.answers.coupon.sheet : await engine.ask(tasks[kind] ?? "file", { kind, inches, machine, settings: job.settings, hints: job.hints });
    offerFile(name, text, type);
    if (kind === "job" && job.opening) talk("job.json is saved. It holds the marks and the trace; the opening is made anew from them.");
  } catch (problem) {
    talk(`Not saved: ${problem instanceof Error ? problem.message : problem}. Nothing else is changed; try it again.`, "failed");
  }
}

/** @param {string} name @param {string} text @param {string} type */
function offerFile(name, text, type) {
  offer(name, text, type);
  talk(`${name} is saved where this browser saves files.`);
}

// ---- showing ----

function fit() {
  const { trace } = plate;
  /** @type {Place[]} */
  const places = [];
  for (const s of trace.strokes) {
    const step = Math.max(2, 2 * Math.floor(s.points.length / 4000));
    for (let i = 0; i + 1 < s.points.length; i += step) places.push([s.points[i], s.points[i + 1]]);
  }
  const chains = [...trace.drawn, ...(plate.outcome?.loops.map((l) => l.edges) ?? []), ...(page.cutting?.plan.stock ?? []), ...(page.cutting?.plan.loops.map((l) => l.edges) ?? [])];
  const e = extent(chains, places);
  const wide = plate.width >= WIDE;
  const room = tag.element.hidden ? 0 : 1;
  if (e) plate.fit(e, wide ? { left: 90, top: 90, right: 90 + room * 400, bottom: 170 } : { left: 84, top: 138, right: 84, bottom: 120 + room * tagHeight() });
}

function tagHeight() {
  return Math.min(tag.element.offsetHeight, plate.height * 0.56);
}

function show() {
  // A press on the tag ends in a click on what was pressed, and what is typed into a blank counts when it
  // is left: nothing may be put in their place before.
  page.owed = page.pressed || page.typing;
  if (page.owed) return;
  const empty = isEmpty(history.job);
  grab("start", HTMLElement).hidden = !empty || tag.stands() || page.alone !== "";
  tag.show({
    job: history.job,
    outcome: page.outcome,
    unit: page.unit,
    plan: page.cutting?.plan ?? null,
    planProblem: page.planProblem,
    cautions: page.cautions,
    demos: pieces,
    light: page.light,
    shop: jobs.shop,
    answers: jobs.answers,
    problems: jobs.problems,
    alone: page.alone,
    materials: jobs.materials,
  });
  fill(grab("hand", HTMLElement), [
    button("Undo", undo, { "data-key": "undo", disabled: history.before.length === 0 }),
    button("Redo", redo, { "data-key": "redo", disabled: history.after.length === 0 }),
    button(page.inHand ? "Soapstone in hand" : "Take up the soapstone", pickUp, { class: "stone", "data-key": "stone", "aria-pressed": String(page.inHand) }),
    button("Jobs", () => turn(tag.side === "jobs" ? "piece" : "jobs"), { class: "magnet", "data-key": "jobs", "aria-expanded": String(tag.side === "jobs" || isJob(tag.side)) }),
    button("Plate", () => turn(tag.side === "plate" ? "piece" : "plate"), { class: "magnet", "data-key": "plate", "aria-expanded": String(tag.side === "plate") }),
  ]);
  plate.redraw("over");
  plate.element.dataset.hand = page.inHand ? "draw" : "look";
  torchTime();
}

/** A press on the tag is over, and so is the click that it ended in. */
function released() {
  page.pressed = false;
  if (page.owed) show();
}

/** A blank on the tag is left. */
function typed() {
  page.typing = false;
  if (page.owed) show();
}

function pickUp() {
  page.inHand = !page.inHand;
  talk(page.inHand ? "Soapstone in hand: drag to draw, tap to touch a point." : "Soapstone laid down: drag moves the plate, tap opens a thing.");
  show();
}

/** The string from the tag's eyelet to the piece, and the rule. */
function tieAndRule() {
  chit.place();
  const path = grab("string", SVGElement).firstElementChild;
  const e = plate.outcome && extent(plate.outcome.loops.map((l) => l.edges), plate.outcome.marks.map((m) => m.at));
  let course = "";
  if (e && !tag.element.hidden && (!tag.stands() || tag.side === "opening")) {
    const box = tag.element.getBoundingClientRect();
    const [ex, ey] = [box.left + 27, box.top + 27];
    const loop = plate.outcome?.loops[0];
    const candidates = (loop ? loop.edges.map((x) => along(x, 0)) : [[e[2], e[3]]]).map((p) => plate.toScreen(/** @type {Place} */ (p)));
    candidates.sort((a, b) => Math.hypot(a[0] - ex, a[1] - ey) - Math.hypot(b[0] - ex, b[1] - ey));
    const [x, y] = candidates[0];
    course = `M${x.toFixed(1)} ${y.toFixed(1)} Q${((x + ex) / 2).toFixed(1)} ${(Math.max(y, ey) + 30).toFixed(1)} ${ex.toFixed(1)} ${ey.toFixed(1)}`;
  }
  path?.setAttribute("d", course);
  const per = page.unit === "mm" ? 1 : 25.4;
  const most = Math.min(220, plate.width * 0.4) / plate.view.scale / per;
  const power = 10 ** Math.floor(Math.log10(most));
  const span = [5, 2, 1].find((k) => k * power <= most) ?? 1;
  const rule = grab("rule", HTMLElement);
  const bar = /** @type {HTMLElement} */ (rule.firstElementChild);
  bar.style.width = `${span * power * per * plate.view.scale}px`;
  const label = /** @type {HTMLElement} */ (rule.lastElementChild);
  label.textContent = `${Number((span * power).toPrecision(3))} ${page.unit}`;
}

function lightUp() {
  document.documentElement.dataset.light = page.light;
  plate.recolor();
}

/** Where the keys have got to, though what was chosen there is closed. @type {Thing | null} */
let stepped = null;

/** @param {number} step */
function stepThrough(step) {
  if (!plate.outcome) return;
  const list = all(plate.outcome);
  if (!list.length) return;
  const chosen = plate.chosen ?? stepped;
  const now = chosen ? list.findIndex((t) => t.kind === chosen.kind && t.loop === chosen.loop && t.index === chosen.index) : -1;
  const next = list[(now + step + list.length) % list.length] ?? list[0];
  plate.chosen = stepped = next;
  plate.redraw("over");
  talk(`${thingName(next)}. Enter opens what can be done to it.`);
}

/** @param {KeyboardEvent} e */
function onPlateKey(e) {
  if (e.ctrlKey || e.metaKey || e.altKey) return;
  const middle = /** @type {[number, number]} */ ([plate.width / 2, plate.height / 2]);
  const arrows = /** @type {Record<string, [number, number]>} */ ({ ArrowLeft: [60, 0], ArrowRight: [-60, 0], ArrowUp: [0, 60], ArrowDown: [0, -60] });
  if (e.key in arrows && e.shiftKey) plate.pan(...arrows[e.key]);
  else if (e.key === "ArrowRight" || e.key === "ArrowDown") stepThrough(1);
  else if (e.key === "ArrowLeft" || e.key === "ArrowUp") stepThrough(-1);
  else if (e.key === "Enter" && plate.chosen) open(plate.chosen);
  else if (e.key === "+" || e.key === "=") plate.zoom(1.25, ...middle);
  else if (e.key === "-") plate.zoom(0.8, ...middle);
  else if (e.key === "0") fit();
  else if (e.key === "s" || e.key === "S") pickUp();
  else if (e.key === "Escape") chit.close();
  else if ((e.key === "Delete" || e.key === "Backspace") && plate.chosen) rub(plate.chosen);
  else return;
  e.preventDefault();
}

/** @param {KeyboardEvent} e */
function onShopKey(e) {
  if (!(e.ctrlKey || e.metaKey)) return;
  const typing = e.target instanceof HTMLInputElement || e.target instanceof HTMLTextAreaElement;
  const key = e.key.toLowerCase();
  if (key === "o") choose();
  else if (key === "s") void save("job");
  else if (typing) return;
  else if (key === "z" && e.shiftKey) redo();
  else if (key === "z") undo();
  else if (key === "y") redo();
  else return;
  e.preventDefault();
}

function startWords() {
  fill(grab("start", HTMLElement), [
    make("h2", {}, "Draw the shape here"),
    make("p", {}, "Rough is fine. Finger, pen or mouse, one stroke or several; a tap is a hole's mark."),
    make("div", { class: "row" }, button("Open a file", choose), ...pieces.slice(0, 2).map((d) => button(`Demo: ${d.title.split(",")[0].toLowerCase()}`, () => void demo(d.name), { "aria-label": `Demo: ${d.title}` })), button("Shop jobs", () => turn("jobs")), button("More ways", () => turn("plate"))),
  ]);
}

/** What to do where the library does not start. @param {unknown} problem */
function notStarted(problem) {
  const { name, message } = problem instanceof Error ? problem : { name: "", message: String(problem) };
  // The second where a browser has no WebAssembly, or has it switched off.
  if (name === "CompileError" || name === "ReferenceError") return "This browser cannot run the reader: that takes one of 2023 or newer, with WebAssembly switched on. Update it, or open the page in another.";
  return `${sentence(`The reader did not start: ${message}`)} Load the page again.`;
}

/** Whether there is no reader; it is said. */
function lacksReader() {
  if (page.lack) talk(page.lack, "failed", button("Load again", () => location.reload()));
  return page.lack !== "";
}

async function begin() {
  lightUp();
  plate.unit = page.unit;
  plate.onframe = tieAndRule;
  startWords();
  listen(plate, {
    inHand: () => page.inHand,
    start: () => chit.close(),
    stroke: (points, times) => draw({ points: Float64Array.from(points), times: Float64Array.from(times) }),
    tap: (at, x, y) => {
      const { outcome } = plate;
      const thing = outcome && (pick(outcome, at, plate.reach) ?? (page.inHand ? null : pickLoop(outcome, at)));
      if (thing) open(thing);
      else if (page.inHand) draw({ points: Float64Array.from(at), times: null });
      void x;
      void y;
    },
  });
  plate.element.addEventListener("keydown", onPlateKey);
  addEventListener("keydown", onShopKey);
  tag.element.addEventListener("pointerdown", (e) => {
    page.pressed = e.target instanceof Element && e.target.closest("button") !== null;
  });
  tag.element.addEventListener("input", (e) => {
    page.typing = e.target instanceof HTMLTextAreaElement || (e.target instanceof HTMLInputElement && e.target.type === "text");
  });
  // Before what was typed is taken and shown.
  tag.element.addEventListener("change", () => (page.typing = false), true);
  tag.element.addEventListener("focusout", typed);
  for (const over of ["pointerup", "pointercancel", "blur"]) addEventListener(over, () => page.pressed && setTimeout(released, CLICK), true);
  addEventListener("click", released);
  addEventListener("beforeunload", (e) => {
    if (page.unkept) e.preventDefault();
  });
  matchMedia("(prefers-color-scheme: light)").addEventListener("change", () => plate.recolor());
  bring((name, bytes) => void take(name, bytes), (problem) => talk(problem, "failed"));
  show();
  // Before the reader: what was kept is drawn on and not over, though none may start.
  const kept = await recall();
  const old = kept !== null && (!isEmpty(kept) || kept.cut !== NO_CUT);
  if (old) {
    history.job = kept;
    page.inHand = isEmpty(kept);
    stage();
    fit();
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
      fit();
    }
  } catch (problem) {
    page.lack = notStarted(problem);
    lacksReader();
  }
  document.documentElement.dataset.settled = "yes";
}

void begin();

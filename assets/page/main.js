// The page: what is looked at, and what happens when the file, the text or the hand changes it.

import { at, askJson, clock, el, put, Refused, say, tell, warn } from "./dom.js";
import { Outlines, paint, sharpen } from "./outlines.js";
import { beatAt, begun, placeOf, secondsOf, stepAt } from "./places.js";
import { Line } from "./line.js";
import { Player } from "./player.js";
import { Text } from "./text.js";
import { findingRows, markRow, mistakeRows, Panels, repetitionRows, steppedRows } from "./panels.js";
import { watchKeys } from "./keys.js";
import { markSegment, showSegments } from "./strip.js";
import { pictured, sectionLines, soundingRow } from "./words.js";
import { dress, keysSheet, remembered } from "./settings.js";
import { Stepper } from "./bars.js";
import { bothPanel } from "./both.js";
import { Films } from "./render.js";
import { Taps } from "./taps.js";
import { Begin } from "./begin.js";

const outlines = new Outlines();
const canvas = at("canvas");
const seen = { file: null, edition: null, laid: null, facts: null, segment: 1, show: null, speed: 100, text: "" };
const player = new Player(at("sound"), outlines, shown);
const line = new Line(at("posts"), at("names"), at("slider"));
const text = new Text(at("words"), at("shown"), typed);
const panels = new Panels(at("tabs"), at("panels"), opened);
const stepper = new Stepper(at("over"), { query: () => seen, take: takeStepped });
let lastFrame = null;
let findings = null;

const isDirty = () => seen.file !== null && text.value !== seen.file.text;
const query = (more = {}) => ({ laid: seen.facts.number, segment: seen.segment, speed: seen.speed === 100 ? null : seen.speed, ...more });

// ---- what is seen

function shown(frame, head) {
  lastFrame = [frame, head];
  sharpen(canvas);
  paint(canvas, frame, head.size, head.ground);
  if (!player.playing) stepper.counts(head, canvas);
  canvas.dataset.shown = `${seen.facts.number}:${seen.segment}:${player.frameOf(player.seconds)}`;
}

// Take an edition: what is looked at stays where it is, in bars and beats.
async function take(edition) {
  seen.edition = edition;
  const facts = edition.laid;
  document.body.classList.toggle("dimmed", edition.mistakes.length > 0 && facts !== null);
  at("before").hidden = !(edition.mistakes.length && facts);
  text.setMistakes(edition.mistakes);
  const changed = facts && facts.number !== seen.facts?.number;
  if (changed) await look(facts, follow(facts));
  title();
  tabs();
  if (changed || !facts) findings = null;
  fill(panels.now);
  return changed;
}

// The segment of another edition that is the one looked at: the same show, and the same of several.
function follow(facts) {
  if (!seen.facts) return (facts.segments.findLast(({ show }) => show === "play") ?? facts.segments[0])?.number ?? 0;
  const before = seen.facts.segments.filter((one) => one.show === seen.show);
  const which = before.findIndex((one) => one.number === seen.segment);
  const same = facts.segments.filter((one) => one.show === seen.show);
  return (same[Math.max(0, which)] ?? same.at(-1) ?? facts.segments[Math.min(seen.segment, facts.segments.length) - 1])?.number ?? 0;
}

let looks = 0;
// Look at a segment; the place is kept where there was one, else it is `seconds`.
async function look(facts, segment, { seconds = null, speed = seen.speed } = {}) {
  const number = ++looks;
  const one = facts.segments[segment - 1];
  if (!one) {
    seen.facts = facts;
    dress(facts, seen);
    put(at("strip"));
    return;
  }
  const asked = { laid: facts.number, segment, speed: speed === 100 ? null : speed };
  const made = await askJson("line", asked);
  if (number !== looks) return;
  const kept = player.line && seconds === null ? secondsOf(made, placeOf(player.line, player.seconds, seen.facts.sections), facts.sections) : seconds ?? 0;
  const loop = player.loop && player.line && { from: placeOf(player.line, player.loop.from, seen.facts.sections), to: placeOf(player.line, player.loop.to - 1e-3, seen.facts.sections) };
  const fresh = seen.facts?.number !== facts.number;
  const before = { facts: seen.facts, segment: seen.segment, speed: seen.speed, show: seen.show };
  Object.assign(seen, { facts, segment, speed, show: one.show });
  if (fresh) dress(facts, seen);
  if (loop && seconds === null) player.loop = { from: secondsOf(made, loop.from, facts.sections), to: Math.min(made.seconds, secondsOf(made, loop.to, facts.sections) + 1e-3) };
  else if (seconds !== null) player.loop = null;
  let done;
  try {
    done = await player.look(asked, made, kept);
  } catch (error) {
    Object.assign(seen, before);
    throw error;
  }
  if (!done || number !== looks) return;
  line.set(made, facts, one.show, (section, button) => stepper.open(section, button));
  if (fresh) showSegments(seen, player, lookAt);
  markSegment(seen.segment);
  table();
  moved();
}

async function lookAt(segment) {
  if (segment === seen.segment || !seen.facts?.segments[segment - 1]) return;
  player.stop();
  await look(seen.facts, segment, { seconds: 0 }).catch(refused);
  const one = seen.facts.segments[segment - 1];
  await player.go(one.cover);
  say(`${one.show}, segment ${segment} of ${seen.facts.segments.length}`);
}

// ---- around the picture

function moved() {
  const { seconds } = player;
  line.moved(seconds, player.loop, player.round);
  const made = player.line;
  if (!made) return;
  const beat = beatAt(made, seconds);
  const index = begun(made.steps, seconds);
  const words = made.real || (beat && begun(made.beats, seconds) < made.beats.length - 1 && made.beats.length)
    ? beat ? ["bar ", el("b", { class: "meter" }, String(beat[2])), "beat ", el("b", {}, String(beat[3]))] : ["count-in"]
    : ["step ", el("b", {}, String(index + 1)), `of ${made.steps.length}`];
  const told = words.map((word) => word.textContent ?? word).join("|");
  if (told !== seen.told) put(at("place-words"), ...words);
  seen.told = told;
  at("place-hint").textContent = made.real ? "← → a beat, with Shift a bar" : "← → a step, with Ctrl a frame";
  at("time-now").textContent = clock(seconds, true);
  at("time-all").textContent = `of ${clock(made.seconds)}`;
  at("play-word").textContent = player.playing ? "Stop" : "Play";
  document.body.classList.toggle("plays", player.playing);
  at("loop").setAttribute("aria-pressed", player.loop !== null);
  at("loop-word").firstChild.data = player.loop ? "end loop " : "loop ";
  const row = soundingRow(player.line, seconds);
  markRow(panels.panel("repetitions"), row);
  const slider = at("slider");
  slider.setAttribute("aria-valuenow", seconds.toFixed(1));
  const which = row === null ? "" : `, repetition ${seen.facts.repetitions[row].no ?? seen.facts.repetitions[row].name}`;
  const value = beat ? `bar ${beat[2]}, beat ${beat[3]}${which}` : `${stepAt(made, seconds)?.[0] ?? ""}, ${clock(seconds, true)}`;
  if (slider.getAttribute("aria-valuetext") !== value && !player.playing) {
    slider.setAttribute("aria-valuetext", value);
    canvas.setAttribute("aria-label", pictured(seen, player.line, row, seconds));
  }
  if (beat) text.setSounding(sectionLines(text.value, seen.facts.sections[beat[0]]));
  canvas.dataset.seconds = seconds.toFixed(4);
  canvas.dataset.sound = player.playing ? at("sound").currentTime.toFixed(4) : "";
}

function title() {
  const { edition } = seen;
  at("name").textContent = edition.name;
  const count = edition.mistakes.length;
  const wrong = count ? `, with ${count} ${count === 1 ? "mistake" : "mistakes"}` : "";
  const saved = seen.written === text.value ? `written${wrong}; undo takes it back` : `saved${wrong}`;
  at("saved").textContent = seen.both ? "changed elsewhere" : isDirty() ? `not saved yet${wrong}` : saved;
  const [first] = edition.mistakes;
  at("wrong").textContent = first ? `${first.line ? `Line ${first.line}: ` : ""}${first.problem} ${first.hint}` : "";
  at("save").hidden = !isDirty();
  at("save").disabled = Boolean(seen.both);
  document.title = `${isDirty() ? "• " : ""}${seen.facts?.title ?? edition.name}`;
}

// ---- what follows

function tabs() {
  const wrong = seen.edition.mistakes.length;
  const rows = [["segments", "Segments", 0, "narrow"], ["text", "Text", 0, "narrow"], ["repetitions", "Repetitions", 0]];
  if (seen.both) rows.push(["both", "Two texts", 0]);
  else if (wrong) rows.push(["mistakes", "Mistakes", wrong]);
  else rows.push(["findings", "Findings", findings?.ways.length ?? 0]);
  for (const [name, words] of extra) rows.push([name, words, 0, "wide"]);
  rows.push(["more", "More", 0, "narrow more"]);
  const forced = seen.both ? "both" : wrong ? "mistakes" : null;
  const now = panels.now;
  const own = ["mistakes", "both"].includes(now);
  // What is new is raised, but nobody is taken from the text, where mistakes are told too.
  const raised = forced !== seen.forced && (forced === "both" || !["segments", "text"].includes(now));
  seen.forced = forced;
  if (forced && (raised || own || ["repetitions", "findings"].includes(now))) {
    if (!own) seen.before = now;
    panels.now = forced;
  }
  if (!forced && own) panels.now = seen.before ?? "repetitions";
  panels.set([...rows, ["keys", "Keys", "?", "last"]]);
}

const films = new Films(seen, player);
films.filled = () => { if (panels.now === "render") panels.rise(); };
const taps = new Taps(at("over"), at("sound"), { seen, player, text, written: write });
taps.filled = () => { if (panels.now === "recording") panels.rise(); };
const extra = [["recording", "Recording"], ["render", "Render"]];
const fillers = { repetitions: () => {}, mistakes: fillMistakes, findings: fillFindings, recording: (panel) => taps.fill(panel), render: (panel) => films.fill(panel), more: fillMore, both: (panel) => bothPanel(panel, seen.both, text.value, resolved).catch(refused) };

function fill(name) {
  fillers[name]?.(panels.panel(name));
}

function opened(name) {
  if (name === "keys") keysSheet(at("keys"), seen, redress);
  else fill(name);
}

function table() {
  put(panels.panel("repetitions"), ...repetitionRows(seen.facts, player.line, (seconds) => player.go(seconds)));
}

function fillMistakes(panel) {
  put(panel, ...mistakeRows(seen.edition.mistakes, (mistake) => text.goTo(mistake.line, mistake.start), write));
  panels.rise();
}

// Tabs that a narrow window has no room for.
function fillMore(panel) {
  put(panel, el("div", { class: "buttons" }, ...extra.map(([name, words]) => el("button", { class: "hull", onclick: () => panels.open(name) }, words))));
}

async function fillFindings(panel) {
  if (!seen.facts || seen.edition.mistakes.length) return;
  const { number } = seen.facts;
  if (findings?.number !== number) {
    const found = await askJson("findings", { laid: number }).catch(() => null);
    if (!found || number !== seen.facts.number) return;
    findings = { ...found, number };
    tabs();
  }
  put(panel, ...steppedRows(seen.stepped), ...findingRows(findings, write));
  panels.rise();
}

// ---- the text

let typing;
let drafts = 0;
function typed() {
  if (text.quiet) return;
  seen.written = null;
  clearTimeout(typing);
  title();
  typing = setTimeout(draft, 150);
}

// Read what is in the text; the picture follows.
async function draft() {
  clearTimeout(typing);
  const number = ++drafts;
  const edition = await tell("draft", { text: text.value, laid: seen.facts?.number ?? 0 }).catch(refused);
  if (edition && number === drafts && edition.text === text.value) await take(edition);
}

// A text that a button writes: into the file at once, unless something else is not saved yet.
async function write(choice) {
  const clean = !isDirty();
  drafts += 1;
  text.set(choice.text);
  if (clean) {
    await save(choice.text);
  } else {
    await draft();
    say("written into the text, not saved yet");
  }
}

// One after the other, and not before a stepped number of bars is in the text; `byButton` is a text that a button has written.
let saves = Promise.resolve();
function save(byButton = null) {
  saves = saves.catch(() => {}).then(() => saveNow(byButton));
  return saves;
}

async function saveNow(byButton) {
  await stepper.answering;
  if (seen.both || !isDirty()) return;
  clearTimeout(typing);
  drafts += 1;
  const written = seen.saving = text.value;
  try {
    const edition = await tell("save", { text: written, seen: seen.file.edition });
    seen.file = edition;
    seen.written = byButton;
    if (text.value === written) await take(edition);
    else await draft();
    say(byButton === written ? "written; undo takes it back" : "saved");
  } catch (error) {
    if (error instanceof Refused && error.status === 409) twoTexts(error.answer.file, error.message);
    else refused(error);
  } finally {
    seen.saving = null;
  }
  title();
}

// The file says something new.
async function filed(edition) {
  if (edition.text === seen.saving || edition.edition === seen.file?.edition) return; // what is saved here has its own answer
  const clean = seen.file === null || !isDirty();
  if (!clean && edition.text !== text.value) {
    twoTexts(edition, `${edition.name} was changed elsewhere. Nothing is overwritten.`);
    return;
  }
  seen.file = edition;
  if (clean) text.set(edition.text, false);
  drafts += 1;
  await take(edition).catch(refused);
}

function twoTexts(file, told) {
  seen.both = { base: seen.both?.base ?? seen.file, file };
  warn(`${told} Choose below what to keep, then save.`);
  title();
  tabs();
  fill("both");
}

// The two texts have become one.
async function resolved(file, merged) {
  seen.both = null;
  seen.file = file;
  warn("");
  text.set(merged);
  if (isDirty()) await draft();
  else await take(file);
  title();
}

function takeStepped(edition, changed) {
  drafts += 1;
  text.set(changed);
  return take(edition);
}

function refused(error) {
  if (error instanceof Refused && error.status === 410) { // the server has let it go
    if (!isDirty()) location.reload();
    return undefined;
  }
  if (error instanceof Refused) warn(error.message);
  else if (error instanceof TypeError && /fetch/i.test(error.message)) warn("barcross preview has ended. Start it again in the terminal.");
  else throw error;
  return undefined;
}

// ---- the hand

function redress() {
  dress(seen.facts, seen);
  line.redraw();
  if (lastFrame) shown(...lastFrame);
}

const slider = at("slider");
const POSTS = 43;
let dragged = null; // where a loop is begun: along the posts, below the line
function slid(event) {
  const box = slider.getBoundingClientRect();
  player.go(((event.clientX - box.left) / box.width) * player.line.seconds);
}
slider.addEventListener("pointerdown", (event) => {
  if (!player.line) return;
  slider.setPointerCapture(event.pointerId);
  dragged = event.offsetY > POSTS ? event.clientX : null;
  if (dragged === null) slid(event);
});
slider.addEventListener("pointermove", (event) => { if (dragged === null && slider.hasPointerCapture(event.pointerId)) slid(event); });
slider.addEventListener("pointerup", (event) => {
  if (dragged === null) return;
  const row = Math.abs(event.clientX - dragged) < 8 ? [] : line.barsBetween(dragged, event.clientX);
  dragged = null;
  if (row.length) player.setLoop(row[0].start, row.at(-1).end);
  else slid(event);
});

async function setSpeed(speed) {
  const next = Math.max(25, Math.min(100, speed));
  if (next === seen.speed || !seen.facts) return;
  await look(seen.facts, seen.segment, { speed: next }).catch(refused);
  showSpeed();
  say(`${next} per cent`);
}

function showSpeed() {
  at("speed-now").textContent = `${seen.speed} %`;
  const tempo = Number(seen.facts?.tempo);
  at("speed-tempo").textContent = tempo ? `quarter = ${Math.round((tempo * seen.speed) / 100)}` : "";
}

at("play").addEventListener("click", () => player.toggle());
at("slower").addEventListener("click", () => setSpeed(seen.speed - 5));
at("faster").addEventListener("click", () => setSpeed(seen.speed + 5));
at("loop").addEventListener("click", () => hands.loop());
at("save").addEventListener("click", () => save());
player.told = moved;
player.failed = () => warn("The sound can't be played. A recording or a voice file may be missing.");

export const hands = watchKeys({ player, seen, text, panels, stepper, line, lookAt, setSpeed, save });
stepper.leave = () => {
  seen.stepped = null;
  at("play").focus();
};
stepper.told = (name, rows) => {
  seen.stepped = { name, rows };
  if (!seen.edition.mistakes.length) panels.open("findings");
};

let resizing;
new ResizeObserver(() => {
  cancelAnimationFrame(resizing);
  resizing = requestAnimationFrame(() => {
    if (lastFrame) shown(...lastFrame);
    if (player.line) {
      line.redraw();
      line.place((section, button) => stepper.open(section, button));
      moved();
    }
  });
}).observe(document.body);

// ---- listening

function listen() {
  const socket = new WebSocket(new URL("notices", location.href.replace(/^http/, "ws")));
  socket.addEventListener("message", (event) => {
    const news = JSON.parse(event.data);
    if (news.edition !== undefined) filed(news);
    else if (news.render) films.take(news.render);
  });
  socket.addEventListener("open", async () => {
    if (!seen.lost) return;
    seen.lost = false;
    warn("");
    const edition = await askJson("state").catch(() => null);
    if (edition && edition.text !== seen.file?.text) filed(edition);
  });
  socket.addEventListener("close", () => {
    if (!seen.lost) warn("barcross preview has ended. Start it again in the terminal.");
    seen.lost = true;
    setTimeout(listen, 2000);
  });
}

// A lesson that is begun: its text to come, and what it says.
function beginning(edition) {
  seen.file = null;
  text.set(edition.text, false);
  text.setMistakes(edition.mistakes);
  at("name").textContent = edition.name;
  at("saved").textContent = "will be written";
  at("save").hidden = true;
  if (edition.laid) dress(edition.laid, seen);
  panels.set([["findings", "Findings", 0], ["keys", "Keys", "?", "last"]]);
  panels.open("findings", false);
  put(panels.panel("findings"), ...edition.words.map((words) => el("p", {}, words)), el("p", { class: "mute" }, "Groups may be typed as 5 3 3, 5+3+3 or X....x..x.."));
}

async function begin() {
  remembered(seen);
  await document.fonts.load('16px "Source Sans 3"').catch(() => {});
  const edition = await askJson("state");
  seen.file = seen.edition = edition;
  films.take(edition.render);
  tabs();
  if (edition.begins) {
    new Begin(at("over"), { take: beginning, written: filed }).open();
    listen();
    document.body.dataset.ready = "true";
    return;
  }
  text.set(edition.text, false);
  await take(edition);
  const one = seen.facts?.segments[seen.segment - 1];
  if (one) await player.go(0);
  showSpeed();
  listen();
  document.body.dataset.ready = "true";
  fill("findings");
}

window.addEventListener("beforeunload", (event) => { if (isDirty()) event.preventDefault(); });
globalThis.barcross = { player, seen, text, taps };
begin().catch(refused);

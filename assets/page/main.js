// The page: its parts are put together here, and listen to the server.

import { at, askJson, el, put, warn } from "./dom.js";
import { Begin } from "./begin.js";
import { dress, remembered } from "./settings.js";
import { Films } from "./render.js";
import { Follows } from "./follows.js";
import { Looking } from "./looking.js";
import { Panels } from "./panels.js";
import { Stepper } from "./bars.js";
import { Taps } from "./taps.js";
import { Text } from "./text.js";
import { watchKeys } from "./keys.js";
import { watchSlider } from "./sliding.js";
import { Writing } from "./writing.js";

const seen = { file: null, edition: null, facts: null, segment: 1, show: null, speed: 100 };
const refused = (error) => writing.refused(error);
const write = (choice) => writing.write(choice);
const text = new Text(at("words"), at("shown"));
const panels = new Panels(at("tabs"), at("panels"));
const stepper = new Stepper(at("over"), { query: () => seen, take: (edition, changed) => writing.takeStepped(edition, changed) });
const looking = new Looking(seen, { text, panels, stepper, refused });
const { player, line } = looking;
const follows = new Follows(seen, panels);
const writing = new Writing(seen, { text, stepper, looking, follows });
const films = new Films(seen, player);
const taps = new Taps(at("over"), at("sound"), { seen, player, text, written: write });
follows.connect({ films, taps, text, write, refused, resolved: (file, merged) => writing.resolved(file, merged), redress: () => looking.redress(), foresee: (way) => looking.foresee(way) });

// ---- the hand

const lookAt = (segment) => looking.lookAt(segment);
const setSpeed = (speed) => looking.setSpeed(speed);
const save = () => writing.save();
const hands = watchKeys({ player, seen, text, panels, stepper, line, lookAt, setSpeed, save });
watchSlider(at("slider"), player, line);
at("play").addEventListener("click", () => player.toggle());
at("slower").addEventListener("click", () => setSpeed(seen.speed - 5));
at("faster").addEventListener("click", () => setSpeed(seen.speed + 5));
at("loop").addEventListener("click", () => hands.loop());
at("save").addEventListener("click", save);
player.late = () => warn("The sound is still being read. It plays as soon as it is there.");
player.failed = () => warn("The sound can't be played. A recording or a voice file may be missing.");
stepper.leave = () => {
  seen.stepped = line.stepped = null;
  looking.moved();
  at("play").focus();
};
stepper.told = (stepped) => {
  seen.stepped = line.stepped = stepped;
  looking.moved();
  if (!seen.edition.mistakes.length) panels.open("findings");
};
window.addEventListener("beforeunload", (event) => { if (writing.dirty) event.preventDefault(); });

// ---- listening

function listen() {
  const socket = new WebSocket(new URL("notices", location.href.replace(/^http/, "ws")));
  socket.addEventListener("message", (event) => {
    const news = JSON.parse(event.data);
    if (news.edition !== undefined && document.body.classList.contains("begins")) beginner.begun(news); // written by another page, or in a shell
    else if (news.edition !== undefined) writing.filed(news);
    else if (news.render) films.take(news.render);
  });
  socket.addEventListener("open", async () => {
    if (!seen.lost) return;
    seen.lost = false;
    warn("");
    const edition = await askJson("state").catch(() => null);
    if (edition && edition.text !== seen.file?.text) writing.filed(edition);
  });
  socket.addEventListener("close", () => {
    if (!seen.lost) warn("barcross preview has ended. Start it again in the terminal.");
    seen.lost = true;
    setTimeout(listen, 2000);
  });
}

// A lesson that is begun: its text to come, and what it says; `rows` stand beside it, by tab.
const TABS = { repetitions: "Repetitions", findings: "Findings" };
function beginning(edition, rows = { findings: [...edition.words.map((words) => el("p", {}, words)), el("p", { class: "mute" }, "Groups may be typed as 5 3 3, 5+3+3 or X....x..x..")] }, opened = null) {
  seen.file = null;
  text.set(edition.text, false);
  text.setMistakes(edition.mistakes);
  at("name").textContent = edition.name;
  at("saved").textContent = "will be written";
  at("save").hidden = true;
  if (edition.laid) dress(edition.laid, seen);
  const names = Object.keys(rows);
  panels.set([...names.map((name) => [name, TABS[name], 0]), ["text", "Text", 0, "narrow"], ["keys", "Keys", "?", "last"]]);
  for (const [name, children] of Object.entries(rows)) put(panels.panel(name), ...children);
  const tab = opened ?? panels.now;
  panels.open(names.includes(tab) ? tab : names[0], false);
}

const beginner = new Begin(at("over"), { take: beginning, written: (begun) => writing.filed(begun) });

async function begin() {
  remembered(seen);
  await document.fonts.load('16px "Source Sans 3"').catch(() => {});
  const edition = await askJson("state");
  seen.file = seen.edition = edition;
  films.take(edition.render);
  follows.tabs();
  if (edition.begins) {
    beginner.open();
  } else {
    text.set(edition.text, false);
    await writing.take(edition);
    if (seen.facts?.segments[seen.segment - 1]) await player.go(0);
    looking.showSpeed();
    follows.fill("findings");
  }
  listen();
  document.body.dataset.ready = "true";
}

globalThis.barcross = { player, seen, text, taps };
begin().catch(refused);

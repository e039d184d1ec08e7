// Keys: everywhere but in fields, and single ones only if they are switched on.

import { ask } from "./asking.js";
import { at, say } from "./dom.js";
import { askedBars, askedPlace, begun, EPSILON } from "./places.js";
import { RATE } from "./player.js";

export function watchKeys({ player, seen, text, panels, stepper, line, lookAt, setSpeed, save }) {
  const beats = () => player.line.beats;

  // To the beat, bar or step before or after.
  function step(way, bars) {
    const made = player.line;
    const here = player.seconds;
    let times = made.real ? beats().filter(([, , , beat], index) => !bars || beat === 1 || index === 0).map((row) => row[4]) : made.steps.map((row) => row[1]);
    times = [0, ...times, made.seconds].sort((a, b) => a - b);
    const next = way > 0 ? times.find((time) => time > here + 2 * EPSILON) : times.findLast((time) => time < here - 2 * EPSILON);
    if (next !== undefined) player.go(next);
  }

  function frame(way) {
    player.go((player.frameOf(player.seconds) + way) / RATE);
  }

  // Loop the bars of a row: four from the present one on, as far as its section goes; or end the loop.
  function loop() {
    if (player.loop) return player.endLoop();
    const { bars } = line;
    if (!bars?.length) return undefined;
    const now = Math.max(0, begun(bars, player.seconds, (bar) => bar.start));
    const inside = bars.filter((bar) => bar.section === bars[now].section);
    const place = inside.indexOf(bars[now]);
    const row = inside.slice(place - (place % 4), place - (place % 4) + 4);
    player.setLoop(row[0].start, row.at(-1).end);
    say(`loop of bars ${row[0].number} to ${row.at(-1).number}`);
    return undefined;
  }

  function chosenLoop() {
    const { bars } = line;
    const now = bars[Math.max(0, begun(bars, player.seconds, (bar) => bar.start))]?.number ?? 1;
    ask(at("asks"), { words: "Loop bars", example: "9-12, or 9 alone; -4 to -1 are the last four", value: `${now}-${now}`, take: (answer) => {
      if (!answer) return "";
      const { row, wrong } = askedBars(answer, bars, seen.facts.sections);
      if (!wrong) player.setLoop(row[0].start, row.at(-1).end);
      return wrong;
    } });
  }

  function goTo() {
    ask(at("asks"), { words: "Go to bar", example: "9, or bar and beat, 9.3; -1 is the last bar", value: "", take: (answer) => {
      if (!answer) return "";
      const { seconds, wrong } = askedPlace(answer, player.line, seen.facts.sections);
      if (!wrong) player.go(seconds);
      return wrong;
    } });
  }

  function open(name) {
    panels.open(name);
    at(`tab-${name}`)?.focus();
  }

  function mistake() {
    const button = at("panels").querySelector(".mistake .choices button, .mistake .at");
    if (button) { panels.open("mistakes"); button.focus(); }
  }

  function alone() {
    const picture = at("picture");
    if (document.fullscreenElement) document.exitFullscreen();
    else picture.requestFullscreen?.().catch(() => {});
  }

  const single = {
    " ": () => player.toggle(),
    "[": () => lookAt(seen.segment - 1),
    "]": () => lookAt(seen.segment + 1),
    l: loop,
    L: chosenLoop,
    "-": () => setSpeed(seen.speed - 5),
    "+": () => setSpeed(seen.speed + 5),
    "=": () => setSpeed(seen.speed + 5),
    g: goTo,
    e: () => { if (panels.known.length && at("text").offsetParent === null) panels.open("text"); at("words").focus(); },
    r: () => open("repetitions"),
    f: () => open("findings"),
    d: () => open("recording"),
    p: () => open("render"),
    m: mistake,
    b: () => stepper.openAt(line, player),
    v: alone,
    "?": () => panels.open("keys"),
    Home: () => player.go(0),
    End: () => player.go(player.line.seconds),
    ArrowLeft: (event) => (event.ctrlKey || event.altKey ? frame(-1) : step(-1, event.shiftKey)),
    ArrowRight: (event) => (event.ctrlKey || event.altKey ? frame(1) : step(1, event.shiftKey)),
  };
  for (let number = 1; number <= 9; number++) single[number] = () => lookAt(number);

  document.addEventListener("keydown", (event) => {
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "s") {
      event.preventDefault();
      save();
      return;
    }
    const { target } = event;
    const dialog = document.querySelector("dialog[open]");
    const field = target.matches?.("textarea, input, select, [contenteditable]");
    if (field) {
      if (target.id === "words" && (event.key === "Escape" || (event.key === "Tab" && !event.shiftKey))) {
        event.preventDefault();
        if (event.key === "Escape") at("play").focus();
        else [...at("tabs").querySelectorAll("[aria-selected=true]")].find((tab) => tab.offsetParent)?.focus();
      }
      return;
    }
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && !dialog) {
      event.preventDefault();
      text.undo(event.shiftKey);
      return;
    }
    if (dialog || event.defaultPrevented || event.metaKey) return;
    if (!seen.facts || !player.line) return;
    const arrow = event.key.startsWith("Arrow");
    if (event.ctrlKey && !arrow) return;
    if (event.altKey && !arrow) return;
    if (event.key === " " && target.matches?.("button, a, [role=tab]") && target.id !== "play") return;
    const slider = target.id === "slider";
    const letter = event.key.length === 1 && event.key !== " ";
    if (letter && !seen.single && !slider) return;
    const run = single[event.key];
    if (!run) return;
    event.preventDefault();
    if (target.id === "play" && event.key === " " && event.repeat) return;
    run(event);
  });
  return { loop };
}

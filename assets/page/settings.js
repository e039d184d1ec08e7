// How the page is dressed, which keys it takes, and the sheet that lists them.

import { el, put } from "./dom.js";

const KEEPS = "barcross";

export function remembered(seen) {
  let kept = {};
  try { kept = JSON.parse(localStorage.getItem(KEEPS) || "{}"); } catch { /* nothing is kept here */ }
  seen.theme = ["lesson", "system", "dark", "light"].includes(kept.theme) ? kept.theme : "lesson";
  seen.single = kept.single !== false;
  seen.less = kept.less === true;
  document.body.classList.toggle("still", seen.less);
}

function remember({ theme, single, less }) {
  try { localStorage.setItem(KEEPS, JSON.stringify({ theme, single, less })); } catch { /* nothing can be kept here */ }
}

// Put the theme's colours on.
export function dress(facts, seen) {
  if (!facts) return;
  const dark = matchMedia("(prefers-color-scheme: dark)").matches;
  const name = seen.theme === "system" ? (dark ? "dark" : "light") : seen.theme;
  const own = name === "lesson" ? facts.theme : name;
  const { style } = document.documentElement;
  for (const [role, colour] of Object.entries(facts.colours[name === "lesson" ? "lesson" : name])) style.setProperty(`--${role}`, colour);
  style.colorScheme = own;
}

const KEYS = [
  ["Play", [["space", "play, stop; turn the volume down before you play for the first time"], ["← →", "a beat; a step where time is not real"], ["Shift ← →", "a bar"], ["Ctrl ← →", "a frame"], ["Home, End", "the segment's ends"], ["[ ]", "segment before, after"]]],
  ["Practise", [["L", "loop the bars of this row, end it"], ["Shift L", "loop other bars: 9-12; or drag along the posts"], ["− +", "slower, faster, 25 to 100 %"], ["G", "go to a bar or beat: 9.3"], ["1 to 9", "a segment by its number"], ["V", "the picture alone"]]],
  ["Write", [["E", "into the text; Esc leaves it"], ["Ctrl S", "save"], ["Ctrl Z", "take back"], ["M", "next mistake; Enter writes its word"], ["B", "bars of this section; ↑ ↓ step"]]],
  ["Begin from a file", [["O", "choose a MIDI or MusicXML file"], ["↑ ↓", "another reading"], ["space", "hear it, stop"], ["Enter", "write it"], ["Esc", "stop reading; back to the sentence"]]],
  ["What follows", [["R", "repetitions"], ["F", "findings"], ["D", "recording; there T taps a downbeat"], ["P", "films and pictures"], ["?", "this sheet"]]],
];

export function keysSheet(dialog, seen, changed) {
  const choice = (key, words, rows) => el("div", { class: "choices-row", role: "radiogroup", "aria-label": words }, words, ...rows.map(([value, text]) => el(
    "button",
    { class: "hull", role: "radio", "aria-checked": String(seen[key] === value), onclick: (event) => {
      seen[key] = value;
      for (const other of event.currentTarget.parentElement.querySelectorAll("button")) other.setAttribute("aria-checked", String(other === event.currentTarget));
      document.body.classList.toggle("still", seen.less);
      remember(seen);
      changed();
    } },
    text,
  )));
  put(
    dialog,
    el("header", {}, el("h2", { id: "keys-head" }, "Keys"), el("span", { class: "mute" }, "They work everywhere but in a field; Esc leaves the field."), el("button", { class: "hull", onclick: () => dialog.close() }, "Close ", el("small", {}, "Esc"))),
    el("div", { class: "columns" }, ...KEYS.map(([name, rows]) => el("section", {}, el("b", {}, name), el("dl", {}, ...rows.flatMap(([key, words]) => [el("dt", {}, key), el("dd", {}, words)]))))),
    el("div", { class: "settings" },
      choice("theme", "Page", [["lesson", "as the lesson"], ["system", "as the system"], ["dark", "dark"], ["light", "light"]]),
      choice("single", "Single keys", [[true, "on"], [false, "off"]]),
      choice("less", "Motion", [[false, "as the system"], [true, "less"]])),
  );
  if (!dialog.open) dialog.showModal();
}

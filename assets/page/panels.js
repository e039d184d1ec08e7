// What follows: tabs, and under each its panel.

import { at, el, put } from "./dom.js";

export class Panels {
  constructor(tabs, panels) {
    Object.assign(this, { tabs, panels, known: [], now: "repetitions" });
    tabs.addEventListener("keydown", (event) => {
      const way = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
      if (!way) return;
      const buttons = [...tabs.querySelectorAll("[role=tab]")].filter((tab) => tab.offsetParent);
      const next = buttons[(buttons.indexOf(document.activeElement) + way + buttons.length) % buttons.length];
      next.focus();
      this.open(next.dataset.name);
      event.preventDefault();
      event.stopPropagation();
    });
  }

  // Rows of name, words, how many (0: not told), and whether it is for narrow windows alone.
  set(rows) {
    if (String(rows) === String(this.known)) return;
    this.known = rows;
    for (const [name] of rows) {
      if (!this.panel(name)) this.panels.append(el("div", { id: `panel-${name}`, role: "tabpanel", "aria-labelledby": `tab-${name}`, tabindex: "-1" }));
    }
    const focused = document.activeElement?.dataset?.name;
    put(this.tabs, ...rows.map(([name, words, count, kind]) => el(
      "button",
      { role: "tab", id: `tab-${name}`, "data-name": name, class: kind || null, "aria-controls": `panel-${name}`, onclick: () => this.open(name) },
      words, count ? el("b", {}, ` ${count}`) : null,
    )));
    this.open(rows.some(([name]) => name === this.now) ? this.now : "repetitions", false);
    if (focused && this.tabs.contains(at(`tab-${focused}`))) at(`tab-${focused}`).focus();
  }

  // A panel whose content needs it rises, but leaves room for fourteen lines of text.
  rise() {
    const { style } = document.body;
    style.removeProperty("--rise");
    if (window.innerWidth <= 1180 || this.now === "repetitions") return;
    const needed = (this.panel(this.now)?.scrollHeight ?? 0) + 70;
    const free = this.panels.getBoundingClientRect().height;
    if (needed > free + 70) style.setProperty("--rise", `${Math.min(490, needed, window.innerHeight - 410)}px`);
  }

  panel(name) {
    return at(`panel-${name}`);
  }

  open(name, told = true) {
    if (name === "keys") return this.opened("keys");
    if (this.now !== name) this.panels.scrollTop = 0;
    this.now = name;
    for (const tab of this.tabs.children) {
      const chosen = tab.dataset.name === name || (tab.dataset.name === "more" && ["recording", "render"].includes(name));
      tab.setAttribute("aria-selected", chosen);
      tab.tabIndex = chosen ? 0 : -1;
    }
    for (const panel of this.panels.children) panel.classList.toggle("open", panel.id === `panel-${name}`);
    document.body.classList.toggle("tab-segments", name === "segments");
    document.body.classList.toggle("tab-text", name === "text");
    this.rise();
    if (told) this.opened(name);
    return undefined;
  }
}

// The table of repetitions; `go` takes a row's number in the lesson's list.
export function repetitionRows(facts, line, go) {
  const shown = new Map(line.sails.map(([row, start]) => [row, start]));
  const several = facts.voices.length > 1;
  const head = el("div", { class: "row head", "aria-hidden": "true" }, el("span", {}, "no"), el("span", {}, "starts at"), el("span", {}, "offset"), el("span", {}, "what happens"));
  const rows = facts.repetitions.map((row, index) => el(
    "button",
    { class: "row", "data-row": index, disabled: !shown.has(index), onclick: () => go(shown.get(index)) },
    el("span", { class: "no" }, row.no === null ? "" : String(row.no)),
    el("span", { class: "at" }, row.at),
    el("span", {}, row.offset === "0" ? "0" : `+${row.offset}`),
    el("span", { class: "notes" }, several ? el("span", { class: "figure" }, row.voice) : null, row.name === "tail" ? "tail" : null, ...row.notes.map(([kind, words]) => el("span", { class: `note ${kind}` }, words))),
  ));
  return [head, ...rows];
}

export function markRow(panel, index) {
  const now = panel.querySelector("[aria-current]");
  const next = index === null ? null : panel.querySelector(`[data-row="${index}"]`);
  if (now === next) return;
  now?.removeAttribute("aria-current");
  next?.setAttribute("aria-current", "true");
  showRow(panel);
}

// Bring the row that is marked into view.
export function showRow(panel) {
  const row = panel.querySelector("[aria-current]")?.getBoundingClientRect();
  if (!row || !panel.offsetParent) return;
  const scroller = panel.parentElement;
  const box = scroller.getBoundingClientRect();
  if (row.top < box.top + 40 || row.bottom > box.bottom - 70) scroller.scrollTop += row.top - box.top - Math.min(110, box.height / 3);
}

// Mistakes: line, what is wrong, its words, and words to write instead.
export function mistakeRows(mistakes, go, write) {
  return mistakes.map((mistake, number) => {
    const { excerpt, start, length } = mistake;
    return el(
      "div",
      { class: "mistake" },
      mistake.line ? el("button", { class: "at", "aria-label": `Line ${mistake.line}`, onclick: () => go(mistake) }, String(mistake.line)) : el("span"),
      el("p", {}, mistake.where ? el("b", {}, `${mistake.where}: `) : null, mistake.problem),
      excerpt ? el("p", { class: "excerpt" }, excerpt.slice(0, start).trimStart(), el("mark", {}, excerpt.slice(start, start + length)), excerpt.slice(start + length)) : null,
      mistake.hint ? el("p", { class: "hint" }, mistake.hint) : null,
      el("div", { class: "choices" }, ...mistake.choices.map((choice) => el("button", { class: "hull", "data-mistake": number, onclick: () => write(choice) }, `Write ${choice.word}`))),
    );
  });
}

// Where the pointer was last.
const pointer = { x: null, y: null };
document.addEventListener("pointermove", ({ clientX: x, clientY: y }) => Object.assign(pointer, { x, y }), { capture: true });

// What `check` tells, and ways to land; the one that is looked at is foreseen, and none when the hand leaves it.
// A list that moves under a pointer at rest is not looked at.
export function findingRows(findings, write, foresee) {
  const rows = [];
  let looked = null;
  const rests = { ...pointer };
  if (findings.ways.length) {
    let section = null;
    for (const way of findings.ways) {
      if (way.section !== section) {
        section = way.section;
        rows.push(el("p", { class: "cut", tabindex: "-1" }, el("b", {}, `The last repetition of ${section} is cut.`), " To make it come out, choose one. What you look at is shown before it is written; Ctrl Z takes it back."), el("div", { class: "ways" }));
      }
      const look = () => { if (looked !== way) foresee(looked = way); };
      const leave = () => { looked = null; foresee(null); };
      const moved = ({ clientX, clientY }) => { if (clientX !== rests.x || clientY !== rests.y) look(); };
      rows.at(-1).append(el("button", { class: "hull", onclick: () => write(way), onfocus: look, onblur: leave, onpointermove: moved, onpointerleave: leave }, way.words, el("small", {}, `plays: ${way.plays}`)));
    }
  }
  rows.push(el("h3", { tabindex: "-1" }, "How the sections add up"));
  for (const text of findings.lines) {
    if (/^ +(to land|plays:|figures:)/.test(text)) continue;
    rows.push(el("p", { class: text.startsWith(" ") ? "found more" : "found" }, text.trim()));
  }
  return rows;
}

// What a stepped number of bars has changed: before, and now.
export function steppedRows(stepped) {
  if (!stepped?.rows.length) return [];
  const cells = stepped.rows.flatMap(([what, before, now]) => [el("i", {}, what), el("span", {}, before), el(before === now ? "span" : "b", {}, now)]);
  return [el("h3", {}, `Since you stepped ${stepped.name}`), el("div", { class: "facts" }, el("small"), el("small", {}, "before"), el("small", {}, "now"), ...cells)];
}

// The text: numbered lines coloured by what they mean, mistakes at their line, and changes that undo takes back.

import { el, put } from "./dom.js";

const PLAIN = /((?<=^|\s)#.*$)|("(?:[^"\\]|\\.)*"|'[^']*')|([A-Za-zÀ-ž][^\s:,{}[\]#]*(?: [A-Za-zÀ-ž][^\s:,{}[\]#]*)*)(?=:(?:\s|$))|(-?\d+(?:[./]\d+)*)|([^\s,{}[\]:]+)/gu;
const NAMES = new Set(["title", "section", "recording", "again"]);
const FIGURES = new Set(["figures", "plays", "figure", "groups", "hits", "accents", "tail", "first", "of", "rest"]);

export class Text {
  constructor(area, shown) {
    Object.assign(this, { area, shown, mistakes: [], sounding: [0, -1] });
    area.addEventListener("input", (event) => { this.draw(); this.changed?.(event); });
    area.addEventListener("selectionchange", () => this.mark());
    document.addEventListener("selectionchange", () => { if (document.activeElement === area) this.mark(); });
    area.addEventListener("focus", () => this.mark());
    this.sheet = shown.closest("#sheet");
    this.high = this.sheet.clientHeight;
    new ResizeObserver(() => this.resized()).observe(this.sheet);
    area.addEventListener("keydown", (event) => {
      if (event.key === "Enter" && !event.ctrlKey && !event.isComposing) {
        event.preventDefault();
        const line = area.value.slice(area.value.lastIndexOf("\n", area.selectionStart - 1) + 1, area.selectionStart);
        document.execCommand("insertText", false, `\n${line.match(/^ */)[0]}`);
      }
    });
  }

  get value() {
    return this.area.value;
  }

  // Write another text; only what differs is replaced, so undo takes back just that and the cursor stays.
  set(text, undoable = true) {
    const old = this.area.value;
    if (old === text) return;
    let start = 0;
    while (start < Math.min(old.length, text.length) && old[start] === text[start]) start++;
    let end = 0;
    while (end < Math.min(old.length, text.length) - start && old.at(-1 - end) === text.at(-1 - end)) end++;
    const written = text.slice(start, text.length - end);
    const cursor = [this.area.selectionStart, this.area.selectionEnd];
    if (undoable) {
      this.quiet = true;
      this.inside(() => {
        this.area.setSelectionRange(start, old.length - end);
        const done = written ? document.execCommand("insertText", false, written) : document.execCommand("delete");
        if (!done || this.area.value !== text) this.area.value = text;
      });
      this.quiet = false;
    } else {
      this.area.value = text;
      const moved = cursor.map((place) => (place <= start ? place : Math.max(start, place + text.length - old.length)));
      this.area.setSelectionRange(...moved);
    }
    this.draw();
  }

  // Take back the last change, or make it again.
  undo(again = false) {
    this.inside(() => document.execCommand(again ? "redo" : "undo"));
  }

  // Do something in the text as if it were typed: only what has focus, and is not hidden, can be undone.
  inside(act) {
    const { activeElement, body } = document;
    body.classList.add("writes");
    this.area.focus({ preventScroll: true });
    act();
    body.classList.remove("writes");
    if (activeElement === body) this.area.blur();
    else if (activeElement !== this.area) activeElement?.focus({ preventScroll: true });
  }

  // What is wrong; a first mistake is brought into sight, unless somebody writes.
  setMistakes(mistakes) {
    const first = !this.mistakes.length && mistakes.length > 0 && document.activeElement !== this.area;
    this.mistakes = mistakes;
    this.draw();
    if (first) this.bring(this.shown.querySelector(".wrong"));
  }

  // The lines of the section that sounds, from 0, both ends.
  setSounding(lines) {
    if (String(lines) === String(this.sounding)) return;
    this.sounding = lines;
    this.shown.querySelectorAll(".sounds").forEach((line) => line.classList.remove("sounds"));
    for (let index = lines[0]; index <= lines[1]; index++) this.shown.children[index]?.classList.add("sounds");
  }

  // Show a text that is not written yet, what differs with a dashed edge; null: what is there again.
  foresee(text) {
    if (text === null) {
      if (this.shown.querySelector(".tocome")) this.draw();
      return;
    }
    const before = new Set(this.area.value.split("\n"));
    const rows = text.split("\n");
    this.draw(rows, (index) => !before.has(rows[index]));
    this.bring([...this.shown.querySelectorAll(".tocome")].at(-1));
  }

  // Bring a line into sight, where the text has a room of its own to scroll in.
  bring(line) {
    if (!line?.offsetParent) return;
    const [sheet, box] = [this.sheet.getBoundingClientRect(), line.getBoundingClientRect()];
    if (box.top < sheet.top) this.sheet.scrollTop += box.top - sheet.top;
    else if (box.bottom > sheet.bottom) this.sheet.scrollTop += box.bottom - sheet.bottom + box.height;
  }

  draw(rows = this.area.value.split("\n"), comes = () => false) {
    const inside = { key: "", depth: 0, indent: 0 };
    const lines = rows.map((line, index) => {
      const drawn = el("div", { "data-number": index + 1, class: comes(index) ? "tocome" : null }, ...coloured(line, inside));
      const wrong = this.mistakes.filter((mistake) => mistake.line === index + 1);
      if (wrong.length) {
        drawn.classList.add("wrong");
        put(drawn, ...marked(line, wrong));
      }
      if (!drawn.hasChildNodes()) drawn.append("\u200b");
      return drawn;
    });
    put(this.shown, ...lines);
    const [from, to] = this.sounding;
    this.sounding = [0, -1];
    this.setSounding([from, to]);
    this.mark();
  }

  mark() {
    this.shown.querySelector(".present")?.classList.remove("present");
    if (document.activeElement !== this.area) return;
    const line = this.area.value.slice(0, this.area.selectionStart).split("\n").length - 1;
    this.shown.children[line]?.classList.add("present");
  }

  // Where the cursor stands in the window.
  cursor() {
    const before = this.area.value.slice(0, this.area.selectionEnd).split("\n");
    const line = this.shown.children[before.length - 1];
    if (!line) return null;
    let left = before.at(-1).length;
    const walker = document.createTreeWalker(line, NodeFilter.SHOW_TEXT);
    for (let node = walker.nextNode(); node; node = walker.nextNode()) {
      if (left > node.length) { left -= node.length; continue; }
      const range = document.createRange();
      range.setStart(node, left);
      const box = range.getBoundingClientRect();
      if (box.height) return box;
    }
    return line.getBoundingClientRect();
  }

  // The room for the text has become smaller or larger: a cursor that was seen is seen still.
  resized() {
    const before = this.high;
    this.high = this.sheet.clientHeight;
    if (document.activeElement !== this.area || this.high >= before) return;
    const [sheet, cursor] = [this.sheet.getBoundingClientRect(), this.cursor()];
    const below = cursor ? cursor.bottom + 12 - sheet.top : 0;
    if (below > this.high && cursor.top < sheet.top + before) this.sheet.scrollTop += below - this.high;
  }

  // Put the cursor at a line, from 1, and a column, from 0, and bring it into view.
  goTo(line, column = 0, focus = true) {
    const lines = this.area.value.split("\n");
    const place = lines.slice(0, line - 1).reduce((sum, text) => sum + text.length + 1, 0) + column;
    this.shown.children[line - 1]?.scrollIntoView({ block: "nearest" });
    if (!focus) return;
    this.area.focus({ preventScroll: true });
    this.area.setSelectionRange(place, place);
  }
}

function marked(line, mistakes) {
  const parts = [];
  let at = 0;
  for (const { start, length } of [...mistakes].sort((a, b) => a.start - b.start)) {
    if (start < at) continue;
    parts.push(line.slice(at, start), el("mark", {}, line.slice(start, start + length)));
    at = start + length;
  }
  return [...parts, line.slice(at)];
}

// A line's words, each in the colour of what it means; `inside` remembers which key is open.
function coloured(line, inside) {
  const parts = [];
  const indent = line.match(/^[ -]*/)[0].length;
  if (line.trim() && !line.trim().startsWith("#") && indent <= inside.indent && !inside.depth) inside.key = "";
  let at = 0;
  for (const found of line.matchAll(PLAIN)) {
    const [word, comment, quoted, key, number] = found;
    parts.push(line.slice(at, found.index));
    at = found.index + word.length;
    let kind = "";
    if (comment !== undefined) kind = "comment";
    else if (key !== undefined) {
      kind = "key";
      if (!inside.key || !["harmony", "figures", "plays", "parts"].includes(inside.key) || indent <= inside.indent) {
        if (!inside.depth || !inside.key) { inside.key = key; inside.indent = indent; }
      }
      if (inside.key === "figures" && key !== "figures" && !FIGURES.has(key)) kind = "figure";
      inside.last = key;
    } else kind = meaning(inside, word, number, quoted);
    parts.push(kind ? el("span", { class: kind }, word) : word);
  }
  parts.push(line.slice(at));
  for (const mark of line.replace(/(^|\s)#.*$/, "")) inside.depth += "[{".includes(mark) ? 1 : "]}".includes(mark) ? -1 : 0;
  if (inside.depth < 0) inside.depth = 0;
  return parts.filter((part) => part !== "");
}

function meaning(inside, word, number) {
  if (word === "-") return "";
  if (NAMES.has(inside.last) && !inside.depth) return "name";
  if (inside.key === "harmony") return number !== undefined ? "number" : "harmony";
  if (FIGURES.has(inside.key) || FIGURES.has(inside.last)) return inside.last === "times" ? "number" : "figure";
  if (inside.key === "parts") return word === "meter" || number !== undefined ? "number" : word === "tacet" ? "" : "figure";
  if (number !== undefined || ["meter", "beat"].includes(word)) return "number";
  return "";
}

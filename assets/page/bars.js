// A bar count, stepped: the number in the text changes, and all follows.

import { at, el, put, say, tell, warn } from "./dom.js";

export class Stepper {
  constructor(over, { query, take }) {
    Object.assign(this, { over, query, take, box: null, wanted: null, answering: null });
  }

  // The numbers of bars in the form's picture can be pressed.
  counts({ labels = [], size }, canvas) {
    const { facts, segment } = this.query();
    this.over.querySelectorAll(".count").forEach((button) => button.remove());
    if (facts.segments[segment - 1]?.show !== "form" || labels.length !== facts.sections.length) return;
    const scale = canvas.getBoundingClientRect().width / size[0];
    labels.forEach(([left, top, right, bottom], index) => {
      const section = facts.sections[index];
      if (section.entry === null) return;
      const button = el("button", { class: "count", "aria-label": `${section.name} has ${section.bars} bars: change it`, onclick: (event) => this.open(index, event.currentTarget) });
      Object.assign(button.style, { left: `${(left - 12) * scale}px`, top: `${(top - 14) * scale}px`, width: `${Math.max(44, (right - left + 24) * scale)}px`, height: `${Math.max(32, (bottom - top + 28) * scale)}px` });
      this.over.append(button);
    });
  }

  openAt(line, player) {
    const row = line.bars?.findLast((bar) => bar.start <= player.seconds + 1e-3) ?? line.bars?.[0];
    if (row) this.open(row.section, null);
  }

  // Step the bars of a section; `from` is what was pressed, and what it stands at.
  open(index, from) {
    const seen = this.query();
    const section = seen.facts.sections[index];
    if (!section || section.entry === null) return;
    const [mistake] = seen.edition.mistakes;
    if (mistake) {
      warn(mistake.line ? `Mend line ${mistake.line} first.` : "Mend the mistake first.");
      return;
    }
    this.close();
    Object.assign(this, { index, entry: section.entry, name: section.name, count: section.bars, first: section.bars, taken: section.bars, from: seen.facts.number });
    this.output = el("output", { role: "spinbutton", tabindex: "0", "aria-label": `Bars of ${section.name}`, "aria-valuemin": "1", "aria-valuenow": String(section.bars) });
    const hint = el("small", { class: "of" }, "↑ ↓ one more, one less   Enter keep   Esc back to ", String(section.bars));
    this.box = el("div", { class: "stepper", role: "group", "aria-label": `Bars of ${section.name}`, onkeydown: (event) => this.key(event) },
      el("button", { class: "hull small", "aria-label": "One bar less", onclick: () => this.step(-1) }, "−"), this.output,
      el("button", { class: "hull small", "aria-label": "One bar more", onclick: () => this.step(1) }, "+"), hint);
    this.over.append(this.box);
    const room = this.over.getBoundingClientRect();
    const left = from ? from.getBoundingClientRect().left - room.left : room.width / 2 - 120;
    this.box.style.left = `${Math.max(8, Math.min(left, room.width - 330))}px`;
    this.show();
    this.output.focus();
  }

  show() {
    const words = `${this.count} ${this.count === 1 ? "bar" : "bars"}`;
    put(this.output, words);
    this.output.setAttribute("aria-valuenow", String(this.count));
    this.output.setAttribute("aria-valuetext", words);
  }

  key(event) {
    const way = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (way) this.step(way);
    else if (event.key === "Enter" && event.target === this.output) this.close(true);
    else if (event.key === "Escape") this.back();
    else if (["ArrowLeft", "ArrowRight", "Home", "End"].includes(event.key)) { /* they would move the picture */ }
    else return;
    event.preventDefault();
    event.stopPropagation();
  }

  async step(way) {
    if (this.count + way < 1) return;
    this.count += way;
    this.show();
    await this.write();
  }

  // One request at a time; the last number counts. `answering` is there until it is in the text.
  write() {
    const { entry, index, name, count, from, first } = this;
    this.wanted = { entry, index, name, count, from, before: first };
    this.answering ??= this.ask().finally(() => { this.answering = null; });
    return this.answering;
  }

  async ask() {
    while (this.wanted) {
      const { name, ...wanted } = this.wanted;
      this.wanted = null;
      try {
        const answer = await tell("bars", { ...wanted, text: at("words").value, laid: this.query().facts.number });
        await this.take(answer.edition, answer.text);
        this.told?.({ name, rows: answer.rows, index: wanted.index, before: wanted.before });
        say(`${name}, ${wanted.count} bars`);
        if (this.entry === wanted.entry) this.taken = wanted.count;
      } catch (error) {
        warn(error.message);
        if (this.entry !== wanted.entry) continue;
        this.count = this.taken;
        if (this.box) this.show();
      }
    }
  }

  async back() {
    const { box } = this;
    this.count = this.first;
    await this.write();
    if (this.box === box) this.close(true);
  }

  close(left = false) {
    this.box?.remove();
    this.box = null;
    if (left) this.leave?.();
  }
}

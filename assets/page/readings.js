// A lesson begins from the notes: a MIDI or MusicXML file is read, its readings stand side by side, to be seen and heard,
// surest first; the one that is taken is written.

import { ask, askJson, at, el, put, Refused, say, tell, warn } from "./dom.js";
import { Outlines, paintPart, sharpen } from "./outlines.js";
import { Player, RATE } from "./player.js";
import { repetitionRows } from "./panels.js";

const MOST_BYTES = 32e6;
const KINDS = ".mid,.midi,.musicxml,.xml,.mxl";
const ASKS = { figure: "come round again. Where do they begin?", ostinato: "come round in step with the bar.", none: "Nothing comes round again that bars alone do not explain.", long: "This part is too long to be looked at for a figure.", carried: "barcross wrote this file: its spec is in it." };
const ALONE = { none: "The form alone", long: "The form alone", carried: "The spec in the file" };
const COLUMNS = [["found", "Found"], ["left out", "Left out"], ["unsure", "Not sure"]];

export class Readings {
  // `take` shows a text to come with what stands beside it, `written` goes on with the file, `back` goes to the sentence.
  constructor(over, { take, written, back }) {
    Object.assign(this, { over, take, written, back, outlines: new Outlines(), chosen: 0, found: null });
    this.player = new Player(at("sound"), this.outlines, (frame, head) => this.paint(this.chosen, frame, head));
    this.player.told = () => this.told();
    this.player.failed = () => warn("The sound can't be played.");
    this.input = el("input", { type: "file", class: "unseen", accept: KINDS, tabindex: "-1", "aria-hidden": "true", onchange: () => this.picked(this.input.files) });
    this.on = new AbortController();
    const { signal } = this.on;
    window.addEventListener("dragover", (event) => { event.preventDefault(); document.body.classList.add("dropping"); }, { signal });
    window.addEventListener("dragleave", (event) => { if (!event.relatedTarget) document.body.classList.remove("dropping"); }, { signal });
    window.addEventListener("drop", (event) => {
      event.preventDefault();
      document.body.classList.remove("dropping");
      this.picked(event.dataTransfer.files);
    }, { signal });
    document.addEventListener("keydown", (event) => this.pressed(event), { signal });
  }

  // The place under the sentence that a file can be dropped on.
  offer() {
    return el("div", { class: "drop" }, this.input,
      el("div", {}, el("b", {}, "Or begin from the notes"), el("span", { class: "mute" }, "Drop a MIDI or MusicXML file anywhere on this page, at most 32 MB. What comes round again in it is found.")),
      el("button", { class: "hull", type: "button", onclick: () => this.input.click() }, "Choose a file ", el("small", {}, "O")));
  }

  picked(files) {
    if (files.length > 1) warn("Drop one file.");
    else if (files.length) {
      this.file = files[0];
      this.tempo = null;
      this.read(null);
    }
    this.input.value = "";
  }

  // ---- reading

  async read(part) {
    this.stop();
    if (this.player.playing) this.player.stop();
    const { file } = this;
    const run = this.run = new AbortController();
    this.wait(file.name);
    if (file.size > MOST_BYTES) {
      this.fail(`${file.name}: it is larger than 32 MB. Save the part that you need alone.`);
      return;
    }
    try {
      const { colorScheme } = document.documentElement.style;
      const query = { name: file.name, part, tempo: this.tempo, theme: colorScheme };
      const response = await ask("read", query, { method: "POST", body: file, signal: run.signal });
      for await (const step of lines(response)) {
        if (run !== this.run) return;
        if (step.step) this.progress(step.step);
        else if (step.found) await this.show(step.found);
        else this.fail(step.problem ?? step.untimed, step.untimed !== undefined);
      }
    } catch (error) {
      if (error.name === "AbortError" || run !== this.run) return;
      this.fail(error instanceof Refused ? error.message : error.name === "NotReadableError" ? `${file.name} can't be read any more. Choose it again.` : "The reading has ended. Is barcross preview still running?");
    }
  }

  // End what is being read: the server lets it go when nobody waits for it.
  stop() {
    this.run?.abort();
    this.run = null;
    clearInterval(this.ticks);
  }

  frame(found, ...children) {
    clearInterval(this.ticks);
    document.body.classList.add("reads");
    document.body.classList.toggle("waits", !found);
    this.found = found;
    put(this.over, el("form", { id: "readings", onsubmit: (event) => { event.preventDefault(); this.write(); } }, this.input, ...children));
  }

  wait(name) {
    const began = performance.now();
    this.step = el("h1", { tabindex: "-1" }, `Reading ${name}`);
    this.steps = el("ol", { class: "steps" });
    const time = el("span", { class: "mute" });
    this.frame(null, el("span", { class: "mute" }, "nothing is written yet"), this.steps, this.step, el("div", { class: "buttons" },
      el("button", { class: "hull", type: "button", onclick: () => this.leave() }, "Stop ", el("small", {}, "Esc")), time));
    this.step.focus();
    const tick = () => { time.textContent = `${Math.floor((performance.now() - began) / 1000)} s`; };
    this.ticks = setInterval(tick, 500);
    tick();
  }

  progress(words) {
    if (this.step.textContent === words) return;
    this.steps.append(el("li", {}, this.step.textContent));
    this.step.textContent = words;
    say(words);
  }

  fail(words, untimed = false) {
    const tempo = el("input", { type: "text", inputmode: "decimal", size: "5", "aria-label": "Tempo, quarters a minute", autocomplete: "off" });
    const again = (event) => {
      event.preventDefault();
      this.tempo = tempo.value.trim();
      if (this.tempo) this.read(null);
    };
    const other = el("button", { class: "hull", type: "button", onclick: () => this.input.click() }, "Choose another file ", el("small", {}, "O"));
    this.frame(null, el("span", { class: "mute" }, "nothing is written"), el("p", { id: "reading-wrong", role: "alert" }, words),
      untimed ? el("p", { class: "named" }, "A quarter at ", tempo, " ", el("button", { class: "hull lit", type: "button", onclick: again }, "Read it")) : null,
      el("div", { class: "buttons" }, other, this.backButton()));
    tempo.addEventListener("keydown", (event) => { if (event.key === "Enter") again(event); });
    (untimed ? tempo : other).focus();
  }

  backButton() {
    return el("button", { class: "hull", type: "button", onclick: () => this.leave() }, "Back to the sentence ", el("small", {}, "Esc"));
  }

  leave() {
    this.stop();
    if (this.player.playing) this.player.stop();
    document.body.classList.remove("reads", "waits");
    this.found = null;
    this.back();
  }

  // ---- what was found

  async show(found) {
    this.stop();
    const first = found.readings[0];
    const bars = found.bars ? `, bars ${found.bars[0]} to ${found.bars[1]}` : "";
    const part = el("select", { "aria-label": "The part that plays the figure", onchange: () => this.read(part.value || null) },
      found.carried ? el("option", { value: "", selected: first.kind === "carried" }, "as barcross wrote it") : null,
      ...found.parts.map(({ name, notes }) => el("option", { value: name, selected: first.kind !== "carried" && name === found.part }, `${name}, ${notes} ${notes === 1 ? "note" : "notes"}`)));
    this.pictures = found.readings.map(() => el("canvas"));
    this.radios = found.readings.map((reading, index) => el("button",
      { type: "button", role: "radio", class: "reading", "aria-checked": "false", tabindex: "-1", onclick: () => this.choose(index) },
      el("span", { class: "pictured" }, this.pictures[index]),
      el("span", { class: "words" }, el("b", {}, reading.label.replaceAll("+", " + ") || ALONE[reading.kind]), ...[...reading.counts, reading.sure].filter(Boolean).map((words) => el("span", { class: words === reading.sure ? "mute" : null }, words)))));
    this.hear = el("button", { class: "hull lit", id: "hear", type: "button", onclick: () => this.toggle() }, el("span", { class: "sign", "aria-hidden": "true" }), el("span", {}, el("b", {}, "Hear it"), el("small", { class: "key" }, "space")));
    this.button = el("button", { class: "hull lit", type: "submit" }, el("b"), el("small", { class: "key" }, "Enter"));
    this.name = el("input", { type: "text", value: found.name, "aria-label": "Name of the new file", autocomplete: "off", spellcheck: "false", readonly: found.named, oninput: () => this.renamed() });
    this.columns = el("div", { class: "columns" });
    const several = found.readings.length > 1;
    this.frame(
      found,
      el("p", { class: "mute from" }, `${found.file}, `, part, bars),
      el("h1", {}, first.label ? `${sentence(first.length)} ${ASKS[first.kind]}` : ASKS[first.kind]),
      el("div", { role: "radiogroup", "aria-label": "Readings, the surest first", class: found.readings.length > 3 ? "rows many" : "rows" }, ...this.radios),
      el("div", { class: "buttons act" }, this.hear,
        el("div", { class: "mute" }, el("div", { class: "softly" }, "Turn the volume down first."), several ? el("div", {}, el("b", {}, "↑ ↓"), " another reading") : null),
        el("span", { class: "taking" }, el("label", { class: "named" }, "as ", this.name, found.suffix), this.button)),
      this.columns,
      el("div", { class: "buttons" }, el("button", { class: "hull", type: "button", onclick: () => this.input.click() }, "Choose another file ", el("small", {}, "O")), this.backButton()),
    );
    this.tab = "repetitions";
    this.chosen = 0;
    this.lines = [];
    say(`${found.readings.length} ${several ? "readings" : "reading"} of ${found.part}`);
    await this.choose(0);
    this.radios[0].focus();
    for (let index = 1; index < found.readings.length; index++) await this.picture(index);
  }

  get reading() {
    return this.found.readings[this.chosen];
  }

  choose(index) {
    this.choosing = this.chosenNow(index);
    return this.choosing;
  }

  async chosenNow(index) {
    const { found } = this;
    const before = this.chosen;
    this.chosen = index;
    const { reading } = this;
    this.radios.forEach((radio, number) => {
      radio.setAttribute("aria-checked", String(number === index));
      radio.tabIndex = number === index ? 0 : -1;
    });
    this.renamed();
    const said = { ...reading.said, found: [found.summary, ...reading.said.found] };
    const columns = COLUMNS.filter(([kind]) => kind !== "unsure" || said.unsure.length);
    put(this.columns, ...columns.map(([kind, words]) => el("section", {}, el("b", {}, words), ...(said[kind].length ? said[kind] : ["Nothing."]).map((text) => el("p", {}, text)))));
    const query = { laid: reading.laid.number, segment: 1 };
    const line = this.lines[index] ??= await askJson("line", query).catch((error) => warn(error.message));
    if (!line || found !== this.found || index !== this.chosen) return;
    this.beside();
    await this.player.look(query, line, this.player.playing ? this.player.seconds : lit(line)).catch((error) => warn(error.message));
    if (before !== index) await this.picture(before);
  }

  // The text to come, and its repetitions beside it.
  beside() {
    const { reading } = this;
    const edition = { name: `${this.name.value}${this.found.suffix}`, text: reading.text, mistakes: [], laid: reading.laid, words: [] };
    const rows = repetitionRows(reading.laid, this.lines[this.chosen], (seconds) => this.player.start(seconds));
    const shell = el("pre", {}, `barcross new ${this.name.value} ${reading.command}`);
    this.take(edition, { repetitions: rows, findings: [el("h3", {}, "The same in a shell"), shell] }, this.tab);
    this.tab = null;
  }

  renamed() {
    this.button.firstChild.textContent = this.reading.label ? `Write it with ${this.reading.label.replaceAll("+", " + ")} ` : "Write it ";
    this.button.disabled = !this.name.value.trim();
    at("name").textContent = `${this.name.value}${this.found.suffix}`;
  }

  // A reading that is not the chosen one: as it is before it sounds.
  async picture(index) {
    const reading = this.found?.readings[index];
    if (!reading) return;
    const response = await ask("frames", { laid: reading.laid.number, segment: 1, first: 0, count: 1 }).catch(() => null);
    if (!response || reading !== this.found?.readings[index] || index === this.chosen) return;
    const head = this.outlines.read(await response.arrayBuffer());
    this.paint(index, head.frames[0], head);
  }

  paint(index, frame, head) {
    const canvas = this.pictures?.[index];
    if (!canvas?.isConnected) return;
    const { seen } = this.found.readings[index];
    canvas.style.aspectRatio = `${seen[2] - seen[0]} / ${seen[3] - seen[1]}`;
    sharpen(canvas);
    paintPart(canvas, frame, seen, head.ground);
    canvas.dataset.shown = index === this.chosen ? "chosen" : "other";
  }

  // ---- the hand

  async toggle() {
    await this.choosing; // what is heard is what is chosen
    if (this.player.playing) this.player.stop(lit(this.player.line));
    else if (this.found && this.player.line) this.player.start(0);
  }

  told() {
    if (this.hear) this.hear.querySelector("b").textContent = this.player.playing ? "Stop" : "Hear it";
    document.body.classList.toggle("plays", this.player.playing);
    if (this.player.playing) document.body.classList.add("heard");
  }

  pressed(event) {
    const { target, key } = event;
    if (event.defaultPrevented || event.ctrlKey || event.altKey || event.metaKey || document.querySelector("dialog[open]")) return;
    const field = target.matches?.("input, select, textarea");
    const reads = document.body.classList.contains("reads");
    if (key === "Escape" && reads) this.leave();
    else if (field) return;
    else if (key === "o" || key === "O") this.input.click();
    else if (!this.found) return;
    else if (key === "ArrowDown" || key === "ArrowUp") {
      const count = this.radios.length;
      const next = (this.chosen + (key === "ArrowDown" ? 1 : count - 1)) % count;
      this.choose(next);
      this.radios[next].focus();
    } else if (key === " " && (!target.matches?.("button, a, [role=tab]") || target.matches(".reading, #hear"))) this.toggle();
    else if (key === "Enter" && (!target.matches?.("button, a, [role=tab]") || target.matches(".reading"))) this.write();
    else return;
    event.preventDefault();
  }

  async write() {
    if (!this.found || this.button.disabled) return;
    try {
      const edition = await tell("take", { text: this.reading.text, name: this.name.value });
      if (this.player.playing) this.player.stop();
      this.close();
      await this.written(edition);
    } catch (error) {
      warn(error.message);
    }
  }

  // The lesson has begun: files are no longer taken.
  close() {
    this.stop();
    this.on.abort();
    document.body.classList.remove("reads", "waits", "dropping");
    this.found = null;
  }
}

// The moment at which all of a picture has sounded.
const lit = (line) => Math.max(0, line.seconds - 1 / RATE);
const sentence = (words) => `${words[0].toUpperCase()}${words.slice(1)}`;

// The answer's lines as they come.
async function* lines(response) {
  const reader = response.body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return;
    const whole = (rest + value).split("\n");
    rest = whole.pop();
    for (const line of whole) if (line) yield JSON.parse(line);
  }
}

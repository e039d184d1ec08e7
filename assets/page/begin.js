// A lesson begins: one sentence with fields. The picture and the text to come change with every key; Enter writes the file.

import { ask, at, el, put, tell, warn } from "./dom.js";
import { Outlines, paint, sharpen } from "./outlines.js";
import { RATE } from "./player.js";
import { Readings } from "./readings.js";

const FIELDS = [
  ["A figure of ", "groups", "5 + 3 + 3", "figure", "Groups of the figure"],
  [" ", "pulse", "sixteenths", "", "What they are counted in"],
  [" over bars of ", "meter", "4/4", "meter", "Meter"],
  [", a quarter at ", "tempo", "96", "meter", "Tempo, quarters a minute"],
  [". It is called ", "name", "kettle", "figure", "The figure's name"],
  [", the piece ", "title", "Kettle Weir", "", "The piece's title"],
];

export class Begin {
  constructor(over, { take, written }) {
    Object.assign(this, { over, take, written, outlines: new Outlines(), number: 0, told: "" });
  }

  open() {
    document.body.classList.add("begins");
    this.readings = new Readings(this.over, { take: this.take, written: (edition) => this.begun(edition), back: () => this.sentence() });
    at("words").readOnly = true;
    this.fields = {};
    const sentence = el("p", { class: "sentence" });
    for (const [before, name, value, kind, label] of FIELDS) {
      const field = name === "pulse"
        ? el("select", { "aria-label": label, onchange: () => this.ask() }, el("option", {}, value))
        : el("input", { value, class: kind || null, "aria-label": label, size: String(Math.max(3, value.length)), autocomplete: "off", spellcheck: "false", oninput: (event) => this.typed(event.target) });
      this.fields[name] = field;
      sentence.append(before, field);
    }
    sentence.append(".");
    this.wrong = el("p", { id: "begin-wrong", role: "alert" });
    this.canvas = el("canvas", { role: "img", "aria-label": "The figure, as it will be shown" });
    this.button = el("button", { class: "hull lit", type: "submit" }, el("b"), el("small", { class: "key" }, "Enter"));
    const form = el("form", { id: "begin", onsubmit: (event) => { event.preventDefault(); this.write(); } },
      el("span", { class: "mute" }, "a new lesson"), sentence, this.wrong, this.canvas,
      el("div", { class: "buttons" }, this.button, el("span", { class: "mute" }, "Three sections of 8 bars to begin with, all yours to change.")));
    this.form = form;
    this.sentence();
  }

  // The sentence stands there, and under it the place for a file.
  sentence() {
    this.form.querySelector(".drop")?.remove();
    this.form.append(this.readings.offer());
    put(this.over, this.form);
    this.fields.groups.focus();
    this.fields.groups.select();
    this.ask();
  }

  typed(field) {
    field.size = Math.max(3, field.value.length);
    clearTimeout(this.waits);
    this.waits = setTimeout(() => this.ask(), 60);
  }

  get said() {
    return Object.fromEntries(Object.entries(this.fields).map(([name, field]) => [name, field.value]));
  }

  async ask() {
    const number = ++this.number;
    const edition = await tell("begin", { ...this.said, write: false }).catch((error) => warn(error.message));
    if (!edition || number !== this.number || !this.form.isConnected) return;
    const { pulse } = this.fields;
    if (pulse.options.length === 1) put(pulse, ...edition.pulses.map((words) => el("option", { selected: words === "sixteenths" }, words)));
    this.button.firstChild.textContent = `Write ${edition.name} `;
    this.button.disabled = edition.mistakes.length > 0;
    const wrong = new Set(edition.wrong.map(([name]) => name));
    for (const [name, field] of Object.entries(this.fields)) {
      if (wrong.has(name)) field.setAttribute("aria-invalid", "true");
      else field.removeAttribute("aria-invalid");
    }
    const told = edition.wrong.map(([, words]) => words);
    if (told.join() !== this.told) put(this.wrong, ...told.map((words) => el("span", {}, words)));
    this.told = told.join();
    this.take(edition);
    if (edition.mistakes.length || !edition.laid) return;
    const { cover } = edition.laid.segments[0];
    const response = await ask("frames", { laid: edition.laid.number, segment: 1, first: Math.floor(cover * RATE), count: 1 }).catch(() => null);
    if (!response || number !== this.number) return;
    const head = this.outlines.read(await response.arrayBuffer());
    sharpen(this.canvas);
    paint(this.canvas, head.frames[0], head.size, head.ground);
  }

  async write() {
    if (this.button.disabled) return;
    try {
      const edition = await tell("begin", { ...this.said, write: true });
      await this.begun(edition);
    } catch (error) {
      warn(error.message);
    }
  }

  // The file is there: the page goes on with it.
  async begun(edition) {
    this.readings.close();
    put(this.over);
    document.body.classList.remove("begins");
    at("words").readOnly = false;
    await this.written(edition);
    at("play").focus();
  }
}

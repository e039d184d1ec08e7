// A recording, tapped: attacks above, posts below, the tempo as steps; a tap is moved to the attack next to it.

import { address, askJson, at, clock, el, put, say, tell, warn } from "./dom.js";

const SPEEDS = [50, 75, 100];
const SAMPLES = 48000;
const MARGIN = 50;

export class Taps {
  constructor(over, sound, { seen, player, text, written }) {
    Object.assign(this, { over, sound, seen, player, text, written, taps: [], points: [], speed: 75, from: 0, on: false });
    document.addEventListener("keydown", (event) => this.key(event), true);
    over.addEventListener("pointerdown", (event) => { if (this.on && event.target === this.canvas) this.tap(); });
  }

  // The panel: the points as a table, what can be done with them.
  async fill(panel) {
    this.panel = panel;
    if (!this.seen.facts?.recording) {
      put(panel, el("p", {}, "The spec names no recording."), el("pre", {}, "recording: take.wav\nsync: {1: 0}"), el("p", { class: "mute" }, "Write these two lines, with the name of a sound file beside the spec. Then tap its downbeats here."));
      return;
    }
    if (this.facts?.file !== this.seen.facts.recording) {
      put(panel, el("p", { class: "mute" }, `Listening to ${this.seen.facts.recording}.`));
      try {
        this.facts = { ...await askJson("recording", { laid: this.seen.facts.number }), file: this.seen.facts.recording };
      } catch (error) {
        put(panel, el("p", {}, error.message));
        return;
      }
    }
    this.table();
  }

  table() {
    if (!this.panel) return;
    const { points } = this;
    const open = el("button", { class: "hull lit", onclick: () => (this.on ? this.end() : this.begin()) }, this.on ? "End tapping " : "Tap the downbeats ", el("small", { class: "key" }, this.on ? "Esc" : "T"));
    const rows = points.map((point, index) => el(
      "button",
      { class: "row tap", "data-tap": index, "aria-current": index === points.length - 1 ? "true" : null, onkeydown: (event) => this.move(event, index) },
      el("span", { class: "at" }, `bar ${point.bar}`), el("span", {}, point.seconds.toFixed(3)), el("span", {}, this.told(point)), el("b", {}, point.tempo === null ? "–" : point.tempo.toFixed(1)),
    ));
    const before = this.facts.points.length ? `${pointsAre(this.facts.points.length)} written.` : "";
    put(
      this.panel,
      points.length ? el("div", { class: "row tap head", "aria-hidden": "true" }, el("span", {}, "downbeat"), el("span", {}, "in the file"), el("span", {}, "your tap was"), el("span", {}, "tempo")) : el("p", { class: "mute" }, `${this.facts.name}, ${clock(this.facts.seconds)}. ${before} Tap on every downbeat, or on some: each tap is moved to the attack next to it.`),
      ...rows,
      points.length ? el("p", { class: "mute" }, "On a row: ← → to the attack before or after, with Shift 1 ms. Delete takes it out.") : null,
      el("div", { class: "buttons" },
        points.length ? el("button", { class: "hull lit", onclick: () => this.write() }, `Write ${points.length} ${points.length === 1 ? "point" : "points"} `, el("small", { class: "key" }, "W")) : null, open,
        points.length ? el("button", { class: "hull", onclick: () => { this.taps = []; this.settle(); } }, "Begin again") : null),
      el("div", { class: "buttons", role: "group", "aria-label": "Speed" }, ...SPEEDS.map((speed) => el("button", { class: "hull", "aria-pressed": String(speed === this.speed), onclick: () => this.setSpeed(speed) }, `${speed} %`))),
    );
    this.filled?.();
  }

  told({ bar, moved }) {
    if (this.taps.find((tap) => tap.bar === bar)?.kept) return "put by hand";
    if (moved === null) return "no attack near, as tapped";
    const ms = Math.round(Math.abs(moved) * 1000);
    return ms ? `${ms} ms ${moved < 0 ? "late" : "early"}, moved` : "on the attack";
  }

  get next() {
    const last = this.taps.at(-1);
    return last ? last.bar + 1 : this.first ?? 1;
  }

  begin() {
    if (!this.facts || this.on) return;
    this.player.stop();
    this.on = true;
    this.canvas = el("canvas", { class: "taps", role: "img", "aria-label": "Attacks and taps" });
    this.head = el("p", { class: "tap-head" });
    put(this.over, el("div", { class: "tapping" }, this.head, this.canvas));
    this.now = Math.max(0, (this.taps.at(-1)?.seconds ?? 2) - 2);
    this.table();
    this.start();
    say("Tap T on every downbeat");
  }

  start() {
    this.from = this.now;
    this.sound.src = address("recorded", { laid: this.seen.facts.number, start: Math.round(this.from * SAMPLES), speed: this.speed });
    this.sound.play().catch(() => {});
    this.plays = true;
    const tick = () => {
      if (!this.on || !this.plays) return;
      this.now = this.heard();
      if (this.now >= this.facts.seconds) this.pause();
      this.draw();
      requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
  }

  heard() {
    return Math.min(this.facts.seconds, this.from + (this.sound.currentTime * this.speed) / 100);
  }

  pause() {
    this.now = this.heard();
    this.plays = false;
    this.sound.pause();
    this.draw();
  }

  setSpeed(speed) {
    const again = this.on && this.plays;
    if (again) this.pause();
    this.speed = speed;
    if (again) this.start();
    this.table();
  }

  end() {
    this.on = false;
    this.plays = false;
    this.sound.pause();
    this.sound.removeAttribute("src");
    put(this.over);
    this.table();
  }

  tap() {
    if (!this.plays) return;
    const seconds = this.heard();
    if (this.taps.length && seconds <= this.taps.at(-1).seconds) return;
    this.taps.push({ bar: this.next, seconds, kept: false });
    this.settle();
  }

  async settle() {
    const number = (this.asked = (this.asked ?? 0) + 1);
    if (!this.taps.length) {
      Object.assign(this, { points: [], changed: null });
      this.table();
      this.draw();
      return;
    }
    try {
      const base = this.text.value;
      const answer = await tell("taps", { laid: this.seen.facts.number, text: base, taps: this.taps.map(({ bar, seconds, kept }) => [bar, seconds, kept]) });
      if (number !== this.asked) return;
      this.points = answer.points;
      this.changed = { text: answer.text, base };
      const last = this.points.at(-1);
      say(`bar ${last.bar}, ${this.told(last)}`);
    } catch (error) {
      this.taps.pop();
      warn(error.message);
    }
    this.table();
    this.draw();
  }

  async write() {
    if (!this.changed) return;
    const { changed } = this;
    this.end();
    Object.assign(this, { taps: [], points: [], changed: null, facts: null });
    await this.written(changed);
    if (this.panel) this.fill(this.panel);
  }

  // A row's keys: to the attack before or after, by a millisecond, or out.
  move(event, index) {
    const tap = this.taps.find(({ bar }) => bar === this.points[index].bar);
    const way = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (event.key === "Delete") this.taps = this.taps.filter((other) => other !== tap);
    else if (way && event.shiftKey) Object.assign(tap, { seconds: this.points[index].seconds + way / 1000, kept: true });
    else if (way) {
      const here = this.points[index].seconds;
      const attack = way > 0 ? this.facts.attacks.find((one) => one > here + 0.0015) : this.facts.attacks.findLast((one) => one < here - 0.0015);
      if (attack === undefined) return;
      Object.assign(tap, { seconds: attack, kept: true });
    } else return;
    event.preventDefault();
    event.stopPropagation();
    this.settle().then(() => this.panel.querySelector(`[data-tap="${Math.min(index, this.points.length - 1)}"]`)?.focus());
  }

  key(event) {
    if (event.target.matches?.("textarea, input, select") || document.querySelector("dialog[open]") || event.ctrlKey || event.metaKey || event.altKey) return;
    const open = this.panel?.classList.contains("open");
    const pressed = event.key.toLowerCase();
    const run = this.on
      ? { t: () => this.tap(), w: () => this.write(), backspace: () => { this.taps.pop(); this.settle(); }, escape: () => this.end(), " ": () => (this.plays ? this.pause() : this.start()) }[pressed]
      : open && pressed === "t" ? () => this.begin() : null;
    if (!run || (event.repeat && pressed !== "backspace")) return;
    if (pressed === " " && event.target.matches?.("button") && event.target.id !== "play") return;
    event.preventDefault();
    event.stopPropagation();
    run();
  }

  draw() {
    if (!this.on) return;
    put(this.head, el("span", { class: "mute" }, `${this.facts.name}, heard at ${this.speed} %${this.speed < 100 ? ", pitch kept" : ""}`), el("br"), el("b", {}, "Tap on every downbeat. ", el("span", { class: "meter" }, `Bar ${this.next} is next.`)));
    const box = this.canvas.getBoundingClientRect();
    const scale = window.devicePixelRatio || 1;
    Object.assign(this.canvas, { width: Math.round(box.width * scale), height: Math.round(box.height * scale) });
    const context = this.canvas.getContext("2d");
    context.setTransform(scale, 0, 0, scale, 0, 0);
    const colours = getComputedStyle(document.documentElement);
    const colour = (name) => colours.getPropertyValue(`--${name}`).trim();
    const span = 14;
    const first = Math.max(0, Math.min(this.now - span * 0.7, Math.max(0, this.facts.seconds - span)));
    const x = (seconds) => MARGIN + ((seconds - first) / span) * (box.width - 2 * MARGIN);
    const seen = (seconds) => seconds >= first && seconds <= first + span;
    context.fillStyle = colour("sky_one");
    context.fillRect(MARGIN - 12, 10, box.width - 2 * MARGIN + 24, 90);
    context.fillStyle = colour("line");
    context.fillRect(MARGIN - 12, 100, box.width - 2 * MARGIN + 24, 3);
    context.fillStyle = colour("mute");
    for (const attack of this.facts.attacks) if (seen(attack) && attack <= this.now + 0.02) context.fillRect(x(attack) - 1, 40, 2, 60);
    context.font = '600 20px "Source Sans 3"';
    this.points.forEach((point, index) => {
      if (!seen(point.seconds)) return;
      context.fillStyle = colour("meter_line");
      if (point.moved === null) { context.strokeStyle = colour("meter_line"); context.strokeRect(x(point.seconds) - 2, 104, 5, 28); }
      else context.fillRect(x(point.seconds) - 2, 103, 5, 30);
      context.fillStyle = colour("meter_text");
      context.fillText(String(point.bar), x(point.seconds) + 8, 130);
      const next = this.points[index + 1];
      if (!next || point.tempo === null) return;
      const high = 170 - (point.tempo / Number(this.seen.facts.tempo) - 1) * 200;
      context.fillStyle = colour("ink");
      context.fillRect(x(point.seconds), Math.max(145, Math.min(195, high)), x(next.seconds) - x(point.seconds), 3);
      context.font = '600 16px "Source Sans 3"';
      context.fillText(point.tempo.toFixed(1), (x(point.seconds) + x(next.seconds)) / 2 - 16, Math.max(140, Math.min(190, high)) - 4);
      context.font = '600 20px "Source Sans 3"';
    });
    context.fillStyle = colour("rest");
    context.fillRect(MARGIN, 170, box.width - 2 * MARGIN, 1);
    context.fillStyle = colour("mute");
    context.font = '400 16px "Source Sans 3"';
    const written = `${this.seen.facts.tempo} is written`;
    context.fillText(written, box.width - MARGIN - context.measureText(written).width, 164);
    context.fillStyle = colour("ink");
    context.fillRect(x(this.now) - 1.5, 6, 3, 130);
    this.enlarge(context, box, colour);
  }

  // The last tap close up: where it was, and where the attack is.
  enlarge(context, box, colour) {
    const point = this.points.at(-1);
    const tap = point && this.taps.find(({ bar }) => bar === point.bar);
    if (!tap || box.height < 360) return;
    const [top, high, half] = [225, Math.min(190, box.height - 240), 0.2];
    const x = (seconds) => box.width / 2 + ((seconds - tap.seconds) / half) * (box.width / 2 - MARGIN);
    context.strokeStyle = colour("line");
    context.strokeRect(MARGIN, top, box.width - 2 * MARGIN, high);
    context.fillStyle = colour("sky_one");
    context.fillRect(MARGIN + 1, top + 1, box.width - 2 * MARGIN - 2, high * 0.55);
    context.fillStyle = colour("mute");
    for (const attack of this.facts.attacks) if (Math.abs(attack - tap.seconds) < half) context.fillRect(x(attack) - 2, top + high * 0.15, 4, high * 0.4);
    context.setLineDash([4, 4]);
    context.strokeStyle = colour("meter_line");
    context.strokeRect(x(tap.seconds) - 3, top + high * 0.55, 6, high * 0.35);
    context.setLineDash([]);
    context.fillStyle = colour("ink");
    context.fillRect(x(point.seconds) - 2, top + high * 0.1, 4, high * 0.8);
    context.font = '600 20px "Source Sans 3"';
    context.fillText(`bar ${point.bar}: ${this.told(point)}`, Math.min(x(tap.seconds) + 16, box.width - 330), top + high * 0.8);
  }
}

const pointsAre = (count) => (count === 1 ? "1 point is" : `${count} points are`);

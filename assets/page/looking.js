// What is looked at: a segment of an edition, at a place and a speed, and what the page says of that.

import { askJson, at, clock, el, put, say, tell } from "./dom.js";
import { Outlines, paint, sharpen } from "./outlines.js";
import { beatAt, begun, placeOf, secondsOf, stepAt } from "./places.js";
import { Line } from "./line.js";
import { Player } from "./player.js";
import { markRow, repetitionRows } from "./panels.js";
import { markSegment, showSegments } from "./strip.js";
import { pictured, sectionLines, soundingRow } from "./words.js";
import { dress } from "./settings.js";

export class Looking {
  // `refused` is told what the server did not answer; `stepper` steps numbers of bars.
  constructor(seen, { text, panels, stepper, refused }) {
    Object.assign(this, { seen, text, panels, stepper, refused, looks: 0, foreseen: 0, ahead: null, last: null, canvas: at("canvas") });
    this.player = new Player(at("sound"), new Outlines(), (frame, head) => this.shown(frame, head));
    this.player.told = () => this.moved();
    this.line = new Line(at("posts"), at("names"), at("slider"));
    this.onBars = (section, button) => stepper.open(section, button);
    let resizing;
    new ResizeObserver(() => {
      cancelAnimationFrame(resizing);
      resizing = requestAnimationFrame(() => this.resized());
    }).observe(document.body);
  }

  shown(frame, head) {
    const { canvas, player, seen } = this;
    this.last = [frame, head];
    this.foreseen += 1;
    document.body.classList.remove("foreseen");
    if (this.ahead) {
      this.ahead = null;
      this.moved();
    }
    sharpen(canvas);
    paint(canvas, frame, head.size, head.ground);
    if (!player.playing) this.stepper.counts(head, canvas);
    canvas.dataset.shown = `${seen.facts.number}:${seen.segment}:${player.frameOf(player.seconds)}`;
  }

  // The segment of another edition that is the one looked at: the same show, and the same of several.
  follow(facts) {
    const { seen } = this;
    if (!seen.facts) return (facts.segments.findLast(({ show }) => show === "play") ?? facts.segments[0])?.number ?? 0;
    const before = seen.facts.segments.filter((one) => one.show === seen.show);
    const which = before.findIndex((one) => one.number === seen.segment);
    const same = facts.segments.filter((one) => one.show === seen.show);
    return (same[Math.max(0, which)] ?? same.at(-1) ?? facts.segments[Math.min(seen.segment, facts.segments.length) - 1])?.number ?? 0;
  }

  // Look at a segment; the place is kept where there was one, else it is `seconds`.
  async look(facts, segment, { seconds = null, speed = this.seen.speed } = {}) {
    const { seen, player } = this;
    const number = ++this.looks;
    const one = facts.segments[segment - 1];
    if (!one) {
      seen.facts = facts;
      dress(facts, seen);
      put(at("strip"));
      return;
    }
    const asked = { laid: facts.number, segment, speed: speed === 100 ? null : speed };
    const made = await askJson("line", asked);
    if (number !== this.looks) return;
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
    if (!done || number !== this.looks) return;
    this.line.set(made, facts, one.show, this.onBars);
    if (fresh) showSegments(seen, player, (chosen) => this.lookAt(chosen));
    markSegment(seen.segment);
    put(this.panels.panel("repetitions"), ...repetitionRows(facts, made, (to) => player.go(to)));
    this.moved();
  }

  async lookAt(segment) {
    const { seen, player } = this;
    if (segment === seen.segment || !seen.facts?.segments[segment - 1]) return;
    player.stop();
    await this.look(seen.facts, segment, { seconds: 0 }).catch(this.refused);
    const one = seen.facts.segments[segment - 1];
    await player.go(one.cover);
    say(`${one.show}, segment ${segment} of ${seen.facts.segments.length}`);
  }

  // Show what a text would give, where its section ends; null: what is there again. Nothing is written, nobody goes there.
  async foresee(way) {
    const { seen, player, canvas, text } = this;
    if (way && text.quiet) return; // a button writes it: the focus comes back to it by itself
    const number = ++this.foreseen;
    text.foresee(way ? way.text : null);
    if (!way) {
      if (document.body.classList.contains("foreseen") && this.last) this.shown(...this.last);
      return;
    }
    await new Promise((done) => setTimeout(done, 80));
    if (number !== this.foreseen || player.playing || !player.line) return;
    const edition = await tell("draft", { text: way.text, laid: seen.facts.number }).catch(() => null);
    if (number !== this.foreseen || !edition?.laid || edition.mistakes.length) return;
    const section = seen.facts.sections.findIndex(({ name }) => name === way.section);
    const seconds = player.line.beats.findLast(([index]) => index === section)?.[4] ?? player.seconds;
    const asked = { ...player.query, laid: edition.laid.number, segment: this.follow(edition.laid) };
    const head = await player.fetch(asked, player.frameOf(seconds), 1).catch(() => null);
    if (number !== this.foreseen || !head) return;
    paint(canvas, head.frames[0], head.size, head.ground);
    document.body.classList.add("foreseen");
    this.ahead = { seconds, text: way.text };
    this.moved();
    say("shown, not written yet");
  }

  async setSpeed(speed) {
    const { seen } = this;
    const next = Math.max(25, Math.min(100, speed));
    if (next === seen.speed || !seen.facts) return;
    await this.look(seen.facts, seen.segment, { speed: next }).catch(this.refused);
    this.showSpeed();
    say(`${next} per cent`);
  }

  showSpeed() {
    const { seen } = this;
    at("speed-now").textContent = `${seen.speed} %`;
    const tempo = Number(seen.facts?.tempo);
    at("speed-tempo").textContent = tempo ? `quarter = ${Math.round((tempo * seen.speed) / 100)}` : "";
  }

  // Say what the picture shows: where one is, or the end of a section that is shown before it is written.
  moved() {
    const { seen, player, canvas } = this;
    const { seconds, text } = this.ahead ?? { seconds: player.seconds, text: this.text.value };
    this.line.moved(seconds, player.loop, player.round);
    const made = player.line;
    if (!made) return;
    const beat = beatAt(made, seconds);
    this.tellPlace(made, beat, seconds);
    at("time-now").textContent = clock(seconds, true);
    at("time-all").textContent = `of ${clock(made.seconds)}`;
    at("play-word").textContent = player.playing ? "Stop" : "Play";
    document.body.classList.toggle("plays", player.playing);
    at("loop").setAttribute("aria-pressed", player.loop !== null);
    at("loop-word").firstChild.data = player.loop ? "end loop " : "loop ";
    const row = soundingRow(made, seconds);
    markRow(this.panels.panel("repetitions"), row);
    const slider = at("slider");
    slider.setAttribute("aria-valuenow", seconds.toFixed(1));
    const which = row === null ? "" : `, repetition ${seen.facts.repetitions[row].no ?? seen.facts.repetitions[row].name}`;
    const value = beat ? `bar ${beat[2]}, beat ${beat[3]}${which}` : `${stepAt(made, seconds)?.[0] ?? ""}, ${clock(seconds, true)}`;
    if (slider.getAttribute("aria-valuetext") !== value && !player.playing) {
      slider.setAttribute("aria-valuetext", value);
      canvas.setAttribute("aria-label", pictured(seen, made, row, seconds));
    }
    if (beat) this.text.setSounding(sectionLines(text, seen.facts.sections[beat[0]]));
    canvas.dataset.seconds = seconds.toFixed(4);
    canvas.dataset.sound = player.playing ? at("sound").currentTime.toFixed(4) : "";
  }

  // Bar and beat where time is real, else the step.
  tellPlace(made, beat, seconds) {
    const index = begun(made.steps, seconds);
    const words = made.real || (beat && begun(made.beats, seconds) < made.beats.length - 1 && made.beats.length)
      ? beat ? ["bar ", el("b", { class: "meter" }, String(beat[2])), "beat ", el("b", {}, String(beat[3]))] : ["count-in"]
      : ["step ", el("b", {}, String(index + 1)), `of ${made.steps.length}`];
    const told = words.map((word) => word.textContent ?? word).join("|");
    if (told !== this.place) put(at("place-words"), ...words);
    this.place = told;
    if (this.player.playing) document.body.classList.add("heard");
    const heard = document.body.classList.contains("heard");
    at("place-hint").textContent = !heard ? "Turn the volume down before you play." : made.real ? "← → a beat, with Shift a bar" : "← → a step, with Ctrl a frame";
  }

  // Draw all anew: in other colours, or at another size.
  redraw() {
    if (this.last) this.shown(...this.last);
    if (this.player.line) this.line.redraw();
  }

  redress() {
    dress(this.seen.facts, this.seen);
    this.redraw();
  }

  resized() {
    this.redraw();
    if (!this.player.line) return;
    this.line.place(this.onBars);
    this.moved();
  }
}

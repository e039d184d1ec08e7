// Playing: the sound's clock leads, the picture follows it. One line of time for each segment.
//
// The server makes the sound, slowed and looped, and sends it as it is heard; the browser only plays it. So every click is
// as clean as in the film, and a loop is exact.

import { address, ask } from "./dom.js";

export const RATE = 30;
const PIECES = [6, 15, 15, 30, 60];
const AHEAD = 75;
const KEPT = 3600;
const SAMPLES = 48000;
const LATEST = 20;

export class Player {
  constructor(sound, outlines, shown) {
    this.sound = sound;
    this.outlines = outlines;
    this.shown = shown;
    this.seconds = 0;
    this.playing = false;
    this.loop = null;
    this.round = 0;
    this.missed = 0;
    this.frames = new Map();
    this.version = 0;
    this.refresh = 1 / 60;
    this.refreshes = [];
    this.sound.addEventListener("ended", () => { if (this.playing) this.stop(this.line.seconds); });
    this.sound.addEventListener("error", () => { if (this.playing) this.fail(); });
  }

  // What is looked at from now on: a segment of an edition at a speed, and from where. Resolves when its picture is there.
  async look(query, line, seconds) {
    const version = ++this.version;
    const head = await this.fetch(query, this.frameOf(seconds, line), 1);
    if (version !== this.version) return false;
    this.frames = new Map();
    this.query = query;
    this.line = line;
    this.seconds = Math.min(seconds, line.seconds);
    if (this.loop && this.loop.to > line.seconds) this.loop = null;
    this.keep(head);
    this.show();
    if (this.playing) this.start(); // it may have been started or stopped meanwhile
    return true;
  }

  frameOf(seconds, line = this.line) {
    const last = Math.max(0, Math.round(line.seconds * RATE) - 1);
    return Math.max(0, Math.min(last, Math.floor(seconds * RATE + 0.5 + 1e-6)));
  }

  async fetch(query, first, count) {
    const response = await ask("frames", { ...query, first, count, rate: RATE });
    return this.outlines.read(await response.arrayBuffer());
  }

  keep(head) {
    this.head = head;
    head.frames.forEach((frame, index) => this.frames.set(head.first + index, frame));
    if (this.frames.size > KEPT) {
      const here = this.frameOf(this.seconds);
      for (const index of this.frames.keys()) if (index < here - 60 || index > here + KEPT / 2) this.frames.delete(index);
    }
  }

  show() {
    const frame = this.frames.get(this.frameOf(this.seconds));
    if (frame) this.shown(frame, this.head);
    return Boolean(frame);
  }

  // Go to a time; while it plays it plays on from there.
  async go(seconds) {
    this.seconds = Math.max(0, Math.min(seconds, this.line.seconds));
    if (this.playing) return this.start();
    this.told?.();
    if (this.show()) return undefined;
    if (this.going) { this.again = true; return undefined; }
    this.going = true;
    const version = this.version;
    do {
      this.again = false;
      const head = await this.fetch(this.query, this.frameOf(this.seconds), 1).catch(() => null);
      if (head && version === this.version) { this.keep(head); this.show(); }
    } while (this.again && version === this.version);
    this.going = false;
    return undefined;
  }

  toggle() {
    if (this.playing) this.stop();
    else if (this.line) this.start(this.seconds >= this.line.seconds - 1 / RATE ? (this.loop?.from ?? 0) : this.seconds);
  }

  async start(from = this.seconds) {
    const run = this.run = {};
    const wasPlaying = this.playing;
    this.playing = true;
    if (this.loop && (from >= this.loop.to || (from < this.loop.from && !wasPlaying))) from = this.loop.from;
    this.base = Math.round(from * SAMPLES) / SAMPLES;
    this.seconds = this.base;
    this.round = 0;
    this.missed = 0;
    const loop = this.loop && { from: Math.round(this.loop.from * SAMPLES), to: Math.round(this.loop.to * SAMPLES) };
    const asked = performance.now();
    this.sound.src = address("sound", { ...this.query, start: Math.round(this.base * SAMPLES), ...loop });
    this.feed(run);
    const heard = new Promise((done) => this.sound.addEventListener("canplay", done, { once: true }));
    const late = setTimeout(() => { if (run === this.run) this.late?.(); }, 2000);
    while (run === this.run && !this.frames.has(this.frameOf(this.base))) await new Promise((done) => setTimeout(done, 5));
    await heard;
    clearTimeout(late);
    if (run !== this.run) return;
    try {
      await this.sound.play();
    } catch (error) {
      if (run === this.run && error.name !== "AbortError") this.fail(error);
      return;
    }
    this.startedAfter = performance.now() - asked;
    this.told?.();
    let last;
    const tick = (now) => {
      if (run !== this.run) return;
      if (last) this.refreshed((now - last) / 1000);
      last = now;
      this.seconds = this.timeNow();
      if (!this.show()) this.missed += 1;
      this.told?.();
      requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
  }

  // How long a refresh of the screen lasts: the shortest of the latest, because a busy machine skips some.
  refreshed(seconds) {
    this.refreshes.push(seconds);
    if (this.refreshes.length > LATEST) this.refreshes.shift();
    this.refresh = Math.max(1 / 240, Math.min(1 / 30, ...this.refreshes));
  }

  // The film's time that the next refresh of the screen will show.
  timeNow() {
    const seconds = this.base + this.sound.currentTime + this.refresh;
    if (!this.loop || seconds < this.loop.to) return Math.min(seconds, this.line.seconds);
    const length = this.loop.to - this.loop.from;
    const over = seconds - this.loop.to;
    this.round = 1 + Math.floor(over / length);
    return this.loop.from + (over % length);
  }

  // Fetch frames ahead of what is seen, small pieces first.
  async feed(run) {
    let piece = 0;
    while (run === this.run) {
      const here = this.frameOf(this.seconds);
      const { query } = this;
      const missing = this.missing(here);
      if (missing === null) {
        await new Promise((done) => setTimeout(done, 60));
        continue;
      }
      const head = await this.fetch(query, missing, PIECES[Math.min(piece++, PIECES.length - 1)]).catch(() => null);
      if (run !== this.run) return;
      if (head) this.keep(head);
      else await new Promise((done) => setTimeout(done, 300));
    }
  }

  // The first frame that is not there of those that come next.
  missing(here) {
    const last = this.frameOf(this.line.seconds);
    const end = this.loop ? Math.min(last, this.frameOf(this.loop.to)) : last;
    for (let index = here; index <= Math.min(end, here + AHEAD); index++) if (!this.frames.has(index)) return index;
    if (this.loop && here + AHEAD > end) {
      const first = this.frameOf(this.loop.from);
      for (let index = first; index <= Math.min(end, first + AHEAD); index++) if (!this.frames.has(index)) return index;
    }
    return null;
  }

  stop(seconds = this.seconds) {
    this.run = null;
    this.playing = false;
    this.sound.pause();
    this.sound.removeAttribute("src");
    this.sound.load();
    this.seconds = Math.min(seconds, this.line.seconds);
    this.go(this.seconds);
  }

  fail(error) {
    this.stop();
    this.failed?.(error);
  }

  setLoop(from, to) {
    this.loop = to > from ? { from, to } : null;
    this.round = 0;
    if (this.playing) this.start(this.loop && (this.seconds < from || this.seconds >= to) ? from : this.seconds);
    else if (this.loop && (this.seconds < from || this.seconds >= to)) this.go(from);
    this.told?.();
  }

  endLoop() {
    const from = this.seconds;
    this.loop = null;
    this.round = 0;
    if (this.playing) this.start(from);
    this.told?.();
  }
}

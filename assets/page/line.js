// The line: repetitions above it, bars and beats below, names and steps over all; what has sounded is lit.

import { at, el, put } from "./dom.js";
import { barsOf, begun } from "./places.js";

const SAILS = 56, HULL = 67, AXIS = 72, LINE = 3;
const LEAST = 5;

export class Line {
  constructor(canvas, names, slider) {
    Object.assign(this, { canvas, names, slider, soft: new OffscreenCanvas(1, 1), lit: new OffscreenCanvas(1, 1) });
  }

  // Draw the line of a segment; `facts` are the lesson's, `loop` a loop in seconds.
  set(line, facts, show, onBars) {
    Object.assign(this, { line, facts, show });
    this.bars = barsOf(line);
    this.redraw();
    this.place(onBars);
  }

  x(seconds) {
    const edge = this.edge();
    return edge + (seconds / Math.max(0.001, this.line.seconds)) * (this.wide - 2 * edge);
  }

  seconds(x) {
    const edge = this.edge();
    return Math.max(0, Math.min(1, (x - edge) / (this.wide - 2 * edge))) * this.line.seconds;
  }

  // The bars between two places of the window.
  barsBetween(one, other) {
    const left = this.canvas.getBoundingClientRect().left;
    const [from, to] = [one, other].map((x) => this.seconds(x - left)).sort((a, b) => a - b);
    return this.bars.filter((bar) => bar.end > from && bar.start < to);
  }

  edge() {
    return parseFloat(getComputedStyle(this.slider).left) || 20;
  }

  redraw() {
    if (!this.line) return;
    const { width, height } = this.canvas.getBoundingClientRect();
    const scale = window.devicePixelRatio || 1;
    this.wide = width;
    this.scale = scale;
    for (const canvas of [this.canvas, this.soft, this.lit]) {
      canvas.width = Math.round(width * scale);
      canvas.height = Math.round(height * scale);
    }
    this.colours = getComputedStyle(document.documentElement);
    this.drawSails(this.soft.getContext("2d"), false);
    this.drawSails(this.lit.getContext("2d"), true);
    this.drawBars(this.soft.getContext("2d"));
    this.drawBars(this.lit.getContext("2d"));
    this.moved(this.now ?? 0, this.loop);
  }

  colour(name) {
    return this.colours.getPropertyValue(`--${name}`).trim();
  }

  drawSails(context, lit) {
    context.setTransform(this.scale, 0, 0, this.scale, 0, 0);
    const first = this.facts.voices[0];
    const rows = this.line.sails.filter(([row]) => this.facts.repetitions[row].voice === first);
    const widths = rows.map(([, start, end]) => this.x(end) - this.x(start));
    const middle = widths.length ? [...widths].sort((a, b) => a - b)[widths.length >> 1] : 0;
    const every = Math.max(1, 2 ** Math.ceil(Math.log2(LEAST / Math.max(0.01, middle))));
    for (let index = 0; index < rows.length; index += every) {
      const [row, start, , kind] = rows[index];
      const end = rows[Math.min(rows.length, index + every) - 1][2];
      const [left, right] = [this.x(start), this.x(end)];
      const tall = kind === "tail" ? 22 : 26;
      const sail = new Path2D();
      const wide = Math.max(1, right - left - 0.7);
      sail.moveTo(left, SAILS);
      sail.lineTo(left, SAILS - tall);
      sail.bezierCurveTo(left + 0.46 * wide, SAILS - 0.97 * tall, left + 0.94 * wide, SAILS - 0.62 * tall, left + wide, SAILS);
      sail.closePath();
      const hull = new Path2D();
      hull.rect(left, SAILS + 1.5, wide, HULL - SAILS - 1.5);
      const odd = this.facts.repetitions[row].number % 2;
      context.fillStyle = context.strokeStyle = this.colour(lit ? (odd ? "sail_one" : "sail_two") : "sail_soft");
      context.lineWidth = 1;
      if (kind === "tail") {
        context.stroke(sail);
        context.stroke(hull);
      } else {
        context.fill(sail);
        context.fill(hull);
        if (!lit && this.colour("soft_edge") !== this.colour("sail_soft")) {
          context.strokeStyle = this.colour("soft_edge");
          context.stroke(sail);
        }
      }
    }
  }

  drawBars(context) {
    context.fillStyle = this.colour("line");
    context.fillRect(0, AXIS, this.wide, LINE);
    let free = -Infinity;
    this.bars.forEach((bar, index) => {
      const x = this.x(bar.start);
      const first = index === 0 || this.bars[index - 1].section !== bar.section;
      context.fillStyle = this.colour("meter_line");
      const near = index && x - this.x(this.bars[index - 1].start) < 4;
      if (first || !near) context.fillRect(x - (first ? 2 : 1), AXIS + LINE, first ? 5 : 3, first ? 18 : 9);
      context.font = `${first ? 600 : 400} ${first ? 15 : 14}px "Source Sans 3"`;
      const text = String(bar.number);
      const width = context.measureText(text).width;
      if (!near && x + 6 > free + (first ? 4 : 14)) {
        context.fillStyle = this.colour("meter_text");
        context.fillText(text, x + 6, AXIS + LINE + 17);
        free = x + 6 + width;
      }
    });
    if (!this.line.real) {
      context.fillStyle = this.colour("ink");
      for (const [, seconds] of this.line.steps) context.fillRect(this.x(seconds) - 1, 18, 2, AXIS - 18);
    }
  }

  // The playhead's place, and the loop.
  moved(seconds, loop, round = 0) {
    this.now = seconds;
    this.loop = loop;
    if (!this.line) return;
    const context = this.canvas.getContext("2d");
    const high = this.canvas.height;
    const x = this.x(seconds);
    const edge = Math.max(0, Math.round(x * this.scale));
    context.setTransform(1, 0, 0, 1, 0, 0);
    context.clearRect(0, 0, this.canvas.width, high);
    if (edge > 0) context.drawImage(this.lit, 0, 0, edge, high, 0, 0, edge, high);
    if (edge < this.canvas.width) context.drawImage(this.soft, edge, 0, this.canvas.width - edge, high, edge, 0, this.canvas.width - edge, high);
    context.setTransform(this.scale, 0, 0, this.scale, 0, 0);
    if (loop) this.drawLoop(context, loop, round);
    this.drawBefore(context);
    context.fillStyle = this.colour("ground");
    context.fillRect(x - 4, 24, 8, 74);
    context.fillStyle = this.colour("ink");
    context.fillRect(x - 1.75, 24, 3.5, 74);
  }

  // Where a section ended before its number of bars was stepped: a dashed line.
  drawBefore(context) {
    const section = this.stepped && this.facts.sections[this.stepped.index];
    const number = section && section.bars !== this.stepped.before ? section.first + this.stepped.before : null;
    const bar = this.bars.find((one) => one.number === number);
    this.canvas.dataset.before = bar ? bar.number : "";
    if (!bar) return;
    context.strokeStyle = this.colour("ink");
    context.lineWidth = 2;
    context.setLineDash([4, 4]);
    context.beginPath();
    context.moveTo(this.x(bar.start), 24);
    context.lineTo(this.x(bar.start), 98);
    context.stroke();
    context.setLineDash([]);
  }

  drawLoop(context, loop, round) {
    const [left, right] = [this.x(loop.from), this.x(loop.to)];
    context.fillStyle = this.colour("ink");
    for (const [x, way] of [[left, 1], [right, -1]]) {
      context.fillRect(x - 2.5, 26, 5, 68);
      context.fillRect(x + way * 6 - 1, 26, 2, AXIS - 26); // above the bars' numbers
      for (const y of [38, 52]) {
        context.beginPath();
        context.arc(x + way * 13, y, 3, 0, 7);
        context.fill();
      }
    }
    context.fillRect(left, 104, right - left, 2);
    context.fillRect(left, 98, 2, 8);
    context.fillRect(right - 2, 98, 2, 8);
    context.font = '400 15px "Source Sans 3"';
    const text = loopWords(this.bars, loop, round);
    const width = context.measureText(text).width;
    context.fillText(text, right + 10 + width > this.wide ? Math.max(4, left - width - 10) : right + 10, 111);
  }

  // Names over the line: sections with their bars, else steps.
  place(onBars) {
    const names = [];
    let free = -Infinity;
    const { facts, line } = this;
    const add = (x, made, from = free) => {
      if (x < from) return null;
      made.style.left = `${Math.max(0, x)}px`;
      names.push(made);
      this.names.append(made);
      free = x + made.getBoundingClientRect().width + 10;
      return made;
    };
    put(this.names);
    if (line.real) {
      const seen = new Set();
      for (const bar of this.bars) {
        if (seen.has(bar.section)) continue;
        seen.add(bar.section);
        const section = facts.sections[bar.section];
        const group = el("span", {}, el("b", {}, section.name));
        const words = `${section.bars} ${section.bars === 1 ? "bar" : "bars"}`;
        if (section.entry !== null) {
          group.append(el("button", { class: "bars", "data-section": bar.section, "aria-label": `${section.name} has ${words}: change it`, onclick: (event) => onBars(bar.section, event.currentTarget) }, words));
        } else group.append(el("span", { class: "bars mute" }, words));
        const made = add(this.x(bar.start), group);
        if (made) {
          const next = this.bars.find((other) => other.section === bar.section + 1);
          if ((next && free > this.x(next.start)) || free - 10 > this.wide) {
            made.lastChild.remove();
            free = this.x(bar.start) + made.getBoundingClientRect().width + 10;
          }
        }
      }
    } else {
      for (const [name, seconds] of line.steps) {
        const made = el("span", {}, el("b", {}, name));
        const x = this.x(seconds) + 6;
        add(x, made);
      }
    }
    this.slider.setAttribute("aria-valuemax", line.seconds.toFixed(1));
  }
}

export function loopWords(bars, loop, round) {
  const inside = bars.filter((bar) => bar.start >= loop.from - 1e-3 && bar.start < loop.to - 1e-3);
  const times = ["", "the second", "the third", "the fourth", "the fifth"];
  const which = round ? `, now ${times[round] || `number ${round + 1}`}${round < 5 ? " time" : ""}` : "";
  if (!inside.length) return `round and round${which}`;
  const [first, last] = [inside[0].number, inside.at(-1).number];
  return `${first === last ? `bar ${first}` : `bars ${first} to ${last}`} round and round${which}`;
}

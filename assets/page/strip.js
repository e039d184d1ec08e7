// All segments as small pictures with their names.

import { ask, at, clock, el, put } from "./dom.js";
import { Outlines, paint, sharpen } from "./outlines.js";
import { RATE } from "./player.js";

const outlines = new Outlines();

export function showSegments(seen, player, lookAt) {
  put(at("strip"), ...seen.facts.segments.map((one) => el("li", {}, el(
    "button",
    { "data-segment": one.number, "aria-label": `${one.number} ${one.show}, ${clock(one.seconds)}`, onclick: () => lookAt(one.number) },
    el("canvas", { width: 282, height: 158 }), el("span", {}, one.show), el("small", {}, clock(one.seconds)),
  ))));
  covers(seen, player, seen.facts);
}

export function markSegment(number) {
  for (const button of at("strip").querySelectorAll("button")) {
    if (Number(button.dataset.segment) === number) button.setAttribute("aria-current", "true");
    else button.removeAttribute("aria-current");
  }
}

// Small pictures, one after another, when nothing else is to be done.
async function covers(seen, player, facts) {
  await new Promise((done) => setTimeout(done, 700));
  for (const one of facts.segments) {
    while (player.playing && seen.facts === facts) await new Promise((done) => setTimeout(done, 500));
    if (seen.facts !== facts) return;
    const first = Math.max(0, Math.floor(one.cover * RATE));
    const response = await ask("frames", { laid: facts.number, segment: one.number, first, count: 1 }).catch(() => null);
    const small = at("strip").querySelector(`[data-segment="${one.number}"] canvas`);
    if (!response || !small || seen.facts !== facts) continue;
    const head = outlines.read(await response.arrayBuffer());
    sharpen(small);
    paint(small, head.frames[0], head.size, head.ground);
  }
}

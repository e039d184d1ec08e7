// Films and pictures: begun, watched, stopped and opened here; the same in a shell beside them.

import { clock, el, put, say, tell, warn } from "./dom.js";

export class Films {
  constructor(seen, player) {
    Object.assign(this, { seen, player, state: { state: "none", films: [] }, draft: false, quarter: 0 });
  }

  // The server's word on how far it is.
  take(state) {
    if (state.state === "running" && this.state.state !== "running") this.began = { at: performance.now(), frames: null };
    this.state = state;
    const [done, all] = this.frames();
    if (state.state === "running" && all) {
      this.began ??= { at: performance.now(), frames: null };
      this.began.frames ??= done;
      const quarter = Math.floor((4 * done) / all);
      if (quarter > this.quarter) say(`${quarter * 25} per cent of the films are drawn`);
      this.quarter = quarter;
    } else if (state.state === "done") say("all films are there");
    if (this.panel) this.fill(this.panel);
  }

  frames() {
    const { films } = this.state;
    const all = films.every((film) => film.frame_count) ? films.reduce((sum, film) => sum + film.frame_count, 0) : 0;
    return [films.reduce((sum, film) => sum + film.frames, 0), all];
  }

  left() {
    const [done, all] = this.frames();
    const since = (performance.now() - (this.began?.at ?? 0)) / 1000;
    const drawn = done - (this.began?.frames ?? 0);
    if (!all || drawn < 30) return "just begun";
    const seconds = Math.ceil((since / drawn) * (all - done));
    return seconds < 60 ? `${seconds} s left` : `${Math.floor(seconds / 60)} min ${seconds % 60} s left`;
  }

  fill(panel) {
    this.panel = panel;
    const running = this.state.state === "running";
    put(panel, ...(running ? this.running() : this.choices()));
    this.filled?.();
  }

  running() {
    const [done, all] = this.frames();
    const fill = el("div");
    fill.style.width = `${all ? (100 * done) / all : 0}%`;
    return [
      el("h3", {}, this.left()),
      el("div", { class: "bar", role: "progressbar", "aria-label": "Films", "aria-valuemin": "0", "aria-valuemax": "100", "aria-valuenow": String(all ? Math.round((100 * done) / all) : 0) }, fill),
      el("p", { class: "mute" }, "Draws the text as it is saved. You can go on writing."),
      this.list(),
      el("div", { class: "buttons" }, el("button", { class: "hull", onclick: () => tell("stop", {}).catch((error) => warn(error.message)) }, "Stop, keep what is drawn")),
      el("p", { class: "mute" }, this.state.quality === "draft" ? "960 × 540, 30 a second" : "1920 × 1080, 60 a second", `, into ${this.state.folder}`),
    ];
  }

  list() {
    return el("div", { class: "films" }, ...this.state.films.flatMap((film) => {
      const share = film.frame_count ? Math.floor((100 * film.frames) / film.frame_count) : 0;
      const state = film.done ? el("a", { href: `film/${film.number}`, target: "_blank", rel: "noopener" }, "Open") : el("span", {}, `${share} %`);
      return [el("span", {}, film.name), el("span", { class: "mute" }, film.kept ? "partly kept" : ""), state];
    }));
  }

  choices() {
    const { seen, player, state } = this;
    if (!seen.facts) return [];
    const { segments } = seen.facts;
    const one = segments[seen.segment - 1];
    const start = (numbers) => tell("render", { segments: numbers, draft: this.draft }).catch((error) => warn(error.message));
    const quality = (draft, words) => el("button", { class: "hull", "aria-pressed": String(this.draft === draft), onclick: () => { this.draft = draft; this.fill(this.panel); } }, words);
    const still = async (kind) => {
      try {
        const { path } = await tell("still", { laid: seen.facts.number, segment: seen.segment, seconds: player.seconds, kind });
        this.told = `Wrote ${path}`;
        say(this.told);
        this.fill(this.panel);
      } catch (error) {
        warn(error.message);
      }
    };
    const draft = this.draft ? " --draft" : "";
    const ended = { done: "All films are there.", stopped: "Stopped. What is drawn is kept: the next render goes on from there.", failed: state.message }[state.state];
    return [
      ended ? el("p", {}, el("b", {}, ended)) : null,
      ended && state.films.length ? this.list() : null,
      el("h3", {}, "Films"),
      el("div", { class: "buttons" }, el("button", { class: "hull lit", onclick: () => start(segments.map(({ number }) => number)) }, `Render all ${segments.length}`), one ? el("button", { class: "hull", onclick: () => start([one.number]) }, `Only ${one.show}`) : null),
      el("div", { class: "buttons" }, quality(false, "1920 × 1080, 60"), quality(true, "draft")),
      el("p", { class: "mute" }, "Films are drawn from the text as it is saved."),
      el("h3", {}, `This picture, ${one?.show ?? ""} at ${clock(player.seconds, true)}`),
      el("div", { class: "buttons" }, ...[["png", "PNG"], ["svg", "SVG"], ["transparent", "Transparent"], ["slide", "Slide"]].map(([kind, words]) => el("button", { class: "hull", onclick: () => still(kind) }, words))),
      el("h3", {}, "The lesson in one picture"),
      el("div", { class: "buttons" }, ...[["thumbnail", "Thumbnail"], ["sheet", "Sheet of all steps"]].map(([kind, words]) => el("button", { class: "hull", onclick: () => still(kind) }, words))),
      this.told ? el("p", {}, this.told) : null,
      el("h3", {}, "The same in a shell"),
      el("pre", {}, `barcross render ${seen.edition.name}${draft}\nbarcross still ${seen.edition.name} ${seen.segment}@${player.seconds.toFixed(2)}s`),
    ];
  }
}

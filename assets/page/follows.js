// What follows: which tabs there are, which one is raised, and what stands under each.

import { askJson, at, el, put } from "./dom.js";
import { findingRows, mistakeRows, showRow, steppedRows } from "./panels.js";
import { bothPanel } from "./both.js";
import { keysSheet } from "./settings.js";

const EXTRA = [["recording", "Recording"], ["render", "Render"]];

export class Follows {
  constructor(seen, panels) {
    Object.assign(this, { seen, panels, findings: null, forced: null, before: null });
    panels.opened = (name) => this.opened(name);
  }

  // What fills the panels: films, taps, the text, who writes what a button says, and who is told of other colours.
  connect(parts) {
    Object.assign(this, parts);
    for (const [name, part] of [["render", this.films], ["recording", this.taps]]) {
      part.filled = () => { if (this.panels.now === name) this.panels.rise(); };
    }
  }

  // Another edition.
  take() {
    this.tabs();
    const { laid } = this.seen.edition;
    if (!laid || laid.number !== this.findings?.number) this.findings = null; // those of this lesson are kept, and what is looked at
    this.fill(this.panels.now);
  }

  tabs() {
    const { seen, panels } = this;
    const wrong = seen.edition.mistakes.length;
    const rows = [["segments", "Segments", 0, "narrow"], ["text", "Text", 0, "narrow"], ["repetitions", "Repetitions", 0]];
    if (seen.both) rows.push(["both", "Two texts", 0]);
    else if (wrong) rows.push(["mistakes", "Mistakes", wrong]);
    else rows.push(["findings", "Findings", this.findings?.ways.length ?? 0]);
    for (const [name, words] of EXTRA) rows.push([name, words, 0, "wide"]);
    rows.push(["more", "More", 0, "narrow more"]);
    this.raise(seen.both ? "both" : wrong ? "mistakes" : null);
    panels.set([...rows, ["keys", "Keys", "?", "last"]]);
  }

  // What is new is raised, but nobody is taken from the text, where mistakes are told too.
  raise(forced) {
    const { panels } = this;
    const now = panels.now;
    const own = ["mistakes", "both"].includes(now);
    const raised = forced !== this.forced && (forced === "both" || !["segments", "text"].includes(now));
    this.forced = forced;
    if (forced && (raised || own || ["repetitions", "findings"].includes(now))) {
      if (!own) this.before = now;
      panels.now = forced;
    }
    if (!forced && own) panels.now = this.before ?? "repetitions";
  }

  fill(name) {
    const panel = this.panels.panel(name);
    if (name === "repetitions") showRow(panel);
    else if (name === "mistakes") this.fillMistakes(panel);
    else if (name === "findings") this.fillFindings(panel);
    else if (name === "recording") this.taps.fill(panel);
    else if (name === "render") this.films.fill(panel);
    else if (name === "more") this.fillMore(panel);
    else if (name === "both") bothPanel(panel, this.seen.both, this.text.value, this.resolved).catch(this.refused);
  }

  opened(name) {
    if (name === "keys") keysSheet(at("keys"), this.seen, this.redress);
    else this.fill(name);
  }

  fillMistakes(panel) {
    const { mistakes, text: base } = this.seen.edition;
    put(panel, ...mistakeRows(mistakes, (mistake) => this.text.goTo(mistake.line, mistake.start), (choice) => this.write({ ...choice, base })));
    this.panels.rise();
  }

  // Tabs that a narrow window has no room for.
  fillMore(panel) {
    put(panel, el("div", { class: "buttons" }, ...EXTRA.map(([name, words]) => el("button", { class: "hull", onclick: () => this.panels.open(name) }, words))));
  }

  // Where one goes on when a way has been written: the section that is cut next, the last one, or what follows them.
  nextCut(panel, index) {
    const cuts = [...panel.querySelectorAll(".cut")];
    return cuts[index] ?? cuts.at(-1) ?? panel.querySelector("h3:last-of-type");
  }

  async fillFindings(panel) {
    const { seen } = this;
    if (!seen.facts || seen.edition.mistakes.length) return;
    const { number } = seen.facts;
    if (this.findings?.number !== number) {
      const base = seen.edition.text;
      const found = await askJson("findings", { laid: number }).catch(() => null);
      if (!found || number !== seen.facts.number) return;
      if (this.findings?.number !== number) this.findings = { ...found, number, base };
      this.tabs();
    }
    if (panel.made?.findings === this.findings && panel.made.stepped === seen.stepped) return; // what has focus keeps it
    panel.made = { findings: this.findings, stepped: seen.stepped };
    const pressed = document.activeElement?.closest(".ways");
    const cut = [...panel.querySelectorAll(".ways")].indexOf(pressed);
    put(panel, ...steppedRows(seen.stepped), ...findingRows(this.findings, (way) => this.write({ ...way, base: this.findings.base }), this.foresee));
    if (cut >= 0) this.nextCut(panel, cut).focus(); // not a way: that would be shown in place of what is written
    this.panels.rise();
  }
}

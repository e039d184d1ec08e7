// The text as it is written here, and the file: drafts while typing, saving, and what was changed elsewhere.

import { at, Refused, say, tell, warn } from "./dom.js";

// What is told of a text that is in the file, before and after its mistakes.
const SAVED = ["saved", ""];
const WRITTEN = ["written", "; undo takes it back"];
const BACK = ["taken back", ", in the file too"];

export class Writing {
  constructor(seen, { text, stepper, looking, follows }) {
    Object.assign(this, { seen, text, stepper, looking, follows, drafts: 0, saves: Promise.resolve(), byButtons: [] });
    text.changed = (event) => this.typed(event);
  }

  get dirty() {
    return this.seen.file !== null && this.text.value !== this.seen.file.text;
  }

  // Take an edition: what is looked at stays where it is, in bars and beats.
  async take(edition) {
    const { seen, looking } = this;
    seen.edition = edition;
    const facts = edition.laid;
    document.body.classList.toggle("dimmed", edition.mistakes.length > 0 && facts !== null);
    at("before").hidden = !(edition.mistakes.length && facts);
    this.text.setMistakes(edition.mistakes);
    const changed = facts && facts.number !== seen.facts?.number;
    if (changed) await looking.look(facts, looking.follow(facts));
    this.title();
    this.follows.take();
    return changed;
  }

  title() {
    const { seen, text } = this;
    const { edition } = seen;
    at("name").textContent = edition.name;
    const count = edition.mistakes.length;
    const wrong = count ? `, with ${count} ${count === 1 ? "mistake" : "mistakes"}` : "";
    const [words, after] = seen.written?.text === text.value ? seen.written.words : SAVED;
    const saved = `${words}${wrong}${after}`;
    at("saved").textContent = seen.both ? "changed elsewhere" : this.dirty ? `not saved yet${wrong}` : saved;
    const [first] = edition.mistakes;
    at("wrong").textContent = first ? `${first.line ? `Line ${first.line}: ` : ""}${first.problem} ${first.hint}` : "";
    at("save").hidden = !this.dirty;
    at("save").disabled = Boolean(seen.both);
    document.title = `${this.dirty ? "• " : ""}${seen.facts?.title ?? edition.name}`;
  }

  typed({ inputType }) {
    if (this.text.quiet) return;
    this.seen.written = null;
    clearTimeout(this.typing);
    this.title();
    this.typing = setTimeout(() => this.draft(), 150);
    this.takenBack(inputType);
  }

  // What a button has written at once is taken back at once, and made again: in the file too, if that holds nothing else.
  takenBack(inputType) {
    const now = this.text.value;
    const filed = this.seen.saving ?? this.seen.file?.text;
    const back = inputType === "historyUndo" && this.byButtons.some(({ before, after }) => before === now && after === filed);
    const again = inputType === "historyRedo" && this.byButtons.some(({ before, after }) => before === filed && after === now);
    if (back || again) this.save({ text: now, words: back ? BACK : WRITTEN });
  }

  // Read what is in the text; the picture follows.
  async draft() {
    clearTimeout(this.typing);
    const number = ++this.drafts;
    const edition = await tell("draft", { text: this.text.value, laid: this.seen.facts?.number ?? 0 }).catch((error) => this.refused(error));
    if (edition && number === this.drafts && edition.text === this.text.value) await this.take(edition);
  }

  // A text that a button writes: into the file at once, unless something else is not saved yet. `base` is the text that
  // the button has seen; what has been stepped or typed since stays.
  async write({ text: wanted, base }) {
    await this.stepper.answering;
    const now = this.text.value;
    const clean = !this.dirty;
    const written = base === undefined || base === now ? wanted : await both(base, now, wanted).catch((error) => this.refused(error));
    if (written === undefined || this.text.value !== now) {
      warn("The text has changed meanwhile. Press it again.");
      return;
    }
    this.drafts += 1;
    this.text.set(written);
    if (clean) {
      this.byButtons.push({ before: now, after: written });
      await this.save({ text: written, words: WRITTEN });
    } else {
      await this.draft();
      say("written into the text, not saved yet");
    }
  }

  // One after the other, and not before a stepped number of bars is in the text; `byButton` is a text that a button has
  // written, or that stands there again, and the words for it.
  save(byButton = null) {
    this.saves = this.saves.catch(() => {}).then(() => this.saveNow(byButton));
    return this.saves;
  }

  async saveNow(byButton) {
    const { seen, text } = this;
    await this.stepper.answering;
    if (seen.both || !this.dirty) return;
    clearTimeout(this.typing);
    this.drafts += 1;
    const written = seen.saving = text.value;
    try {
      const edition = await tell("save", { text: written, seen: seen.file.edition });
      seen.file = edition;
      seen.written = byButton;
      if (text.value === written) await this.take(edition);
      else await this.draft();
      say((byButton?.text === written ? byButton.words : SAVED).join(""));
    } catch (error) {
      if (error instanceof Refused && error.status === 409) this.twoTexts(error.answer.file, error.message);
      else this.refused(error);
    } finally {
      seen.saving = null;
    }
    this.title();
  }

  // The file says something new.
  async filed(edition) {
    const { seen, text } = this;
    if (edition.text === seen.saving || edition.edition === seen.file?.edition) return; // what is saved here has its own answer
    const clean = seen.file === null || !this.dirty;
    if (!clean && edition.text !== text.value) {
      this.twoTexts(edition, `${edition.name} was changed elsewhere. Nothing is overwritten.`);
      return;
    }
    seen.file = edition;
    if (clean) text.set(edition.text, false);
    this.drafts += 1;
    await this.take(edition).catch((error) => this.refused(error));
  }

  twoTexts(file, told) {
    const { seen } = this;
    seen.both = { base: seen.both?.base ?? seen.file, file };
    warn(`${told} Choose below what to keep, then save.`);
    this.title();
    this.follows.tabs();
    this.follows.fill("both");
  }

  // The two texts have become one.
  async resolved(file, merged) {
    this.seen.both = null;
    this.seen.file = file;
    warn("");
    this.text.set(merged);
    if (this.dirty) await this.draft();
    else await this.take(file);
    this.title();
  }

  takeStepped(edition, changed) {
    this.drafts += 1;
    this.text.set(changed);
    return this.take(edition);
  }

  refused(error) {
    if (error instanceof Refused && error.status === 410) { // the server has let it go
      if (!this.dirty) location.reload();
      return undefined;
    }
    if (error instanceof Refused) warn(error.message);
    else if (error instanceof TypeError && /fetch/i.test(error.message)) warn("barcross preview has ended. Start it again in the terminal.");
    else throw error;
    return undefined;
  }
}

// One text of two that have come from one; undefined where both have changed the same place.
async function both(base, mine, file) {
  const { stretches } = await tell("both", { base, mine, file });
  if (stretches.some(({ changed }) => changed === "both")) return undefined;
  return stretches.flatMap(({ changed, mine: own, file: others }) => (changed === "file" ? others : own)).join("\n");
}

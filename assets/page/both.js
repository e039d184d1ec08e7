// Two texts: what only one has changed is taken, what both have changed is chosen place by place.

import { el, put, tell } from "./dom.js";

export async function bothPanel(panel, both, mine, resolved) {
  if (panel.made?.both === both && panel.made.mine === mine) return;
  panel.made = { both, mine };
  const { stretches } = await tell("both", { base: both.base.text, mine, file: both.file.text });
  const chosen = stretches.map(({ changed }) => (changed === "both" ? null : changed === "file" ? "file" : "mine"));
  const merged = () => stretches.flatMap((stretch, index) => stretch[chosen[index]]).join("\n");
  const use = el("button", { class: "hull lit", onclick: () => resolved(both.file, merged()) }, "Use these lines");
  const head = el("b");
  const count = () => {
    const open = chosen.filter((one) => one === null).length;
    const all = stretches.filter(({ changed }) => changed === "both").length;
    head.textContent = all ? `${all} ${all === 1 ? "place" : "places"} to choose, ${all - open} chosen.` : "No line was changed in both.";
    use.disabled = open > 0;
  };
  const places = stretches.map((stretch, index) => {
    if (!stretch.changed) return null;
    const told = { both: "changed in both: choose one", mine: "only you changed it", file: "only the file changed it" }[stretch.changed];
    const choice = (whose, words) => el("label", {}, el("input", { type: "radio", name: `stretch-${index}`, checked: chosen[index] === whose, onchange: () => { chosen[index] = whose; count(); } }), el("span", {}, stretch[whose].join("\n") || "(nothing)"), el("small", {}, words));
    return el("fieldset", { class: stretch.changed === "both" ? null : "free" }, el("legend", {}, `line ${stretch.line}, ${told}`), choice("mine", "yours"), choice("file", "the file"));
  });
  put(
    panel,
    el("p", {}, head, " Nothing is overwritten. Choose what to keep, then save."),
    el("div", { class: "both" }, ...places),
    el("div", { class: "buttons" }, use,
      el("button", { class: "hull", onclick: () => resolved(both.file, both.file.text) }, "Take all of the file"),
      el("button", { class: "hull", onclick: () => resolved(both.file, mine) }, "Keep all of mine")),
  );
  count();
}

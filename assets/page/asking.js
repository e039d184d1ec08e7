// A question with one field: what is answered stands under it until it is right.

import { el, put } from "./dom.js";

// Ask in a dialog; `take` an answer and say what is wrong with it, or nothing.
export function ask(dialog, { words, example, value, take }) {
  const wrong = el("p", { id: "asked-wrong", role: "alert" });
  const field = el("input", { id: "asked", value, size: "10", autocomplete: "off", spellcheck: "false", "aria-describedby": "asked-example asked-wrong", oninput: () => answer("") });
  function answer(told) {
    wrong.textContent = told;
    if (told) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
  }
  const form = el("form", { onsubmit: (event) => {
    event.preventDefault();
    const told = take(field.value.trim());
    if (told) {
      answer(told);
      field.select();
    } else dialog.close();
  } },
    el("label", { id: "asked-words", for: "asked" }, words), field, el("span", { id: "asked-example", class: "mute" }, example),
    el("div", { class: "buttons" }, el("button", { class: "hull lit", type: "submit" }, "Go ", el("small", { class: "key" }, "Enter")), el("button", { class: "hull", type: "button", onclick: () => dialog.close() }, "Close ", el("small", {}, "Esc"))),
    wrong);
  put(dialog, form);
  dialog.showModal();
  field.select();
}

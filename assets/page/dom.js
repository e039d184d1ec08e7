// Elements, and what is asked of the server. A text is always put down as text, never read as markup.

export const at = (id) => document.getElementById(id);

export function el(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key.startsWith("on")) made.addEventListener(key.slice(2), value);
    else if (value === true) made.setAttribute(key, "");
    else if (value !== false && value != null) made.setAttribute(key, value);
  }
  made.append(...children.filter((child) => child != null));
  return made;
}

export function put(parent, ...children) {
  parent.replaceChildren(...children.filter((child) => child != null));
}

export class Refused extends Error {
  constructor(status, answer) {
    super(answer.problem || "No answer.");
    this.status = status;
    this.answer = answer;
  }
}

async function answered(response) {
  if (response.ok) return response;
  const answer = await response.json().catch(() => ({}));
  throw new Refused(response.status, answer);
}

export function address(name, query = {}) {
  const asked = new URLSearchParams(Object.entries(query).filter(([, value]) => value != null));
  return asked.size ? `${name}?${asked}` : name;
}

export const ask = async (name, query, options) => answered(await fetch(address(name, query), options));
export const askJson = async (name, query) => (await ask(name, query)).json();
export const tell = async (name, body) =>
  (await answered(await fetch(name, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(body) }))).json();

export const say = (text) => { at("status").textContent = text; };

let goes;
export function warn(text) {
  clearTimeout(goes);
  at("alert").textContent = text;
  at("alert").hidden = !text;
  if (text) goes = setTimeout(() => { at("alert").hidden = true; }, 8000);
}

export function clock(seconds, tenths = false) {
  const shown = Math.max(0, tenths ? Math.floor(seconds * 10 + 1e-6) / 10 : Math.round(seconds));
  const rest = tenths ? (shown % 60).toFixed(1).padStart(4, "0") : String(shown % 60).padStart(2, "0");
  return `${Math.floor(shown / 60)}:${rest}`;
}

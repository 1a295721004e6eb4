"use strict";
// What every page does by itself: a scan goes where it leads, a code is looked up while it is
// typed, and what was typed into a form is kept until it was taken.

// A scanner types and presses Enter. Where nothing else is being typed into, it types here.
document.addEventListener("keydown", (event) => {
  const find = document.getElementById("find");
  const at = document.activeElement;
  const isTyping = at && (at.matches("input, textarea, select") || at.isContentEditable);
  if (!find || isTyping || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.key === "/") { event.preventDefault(); find.focus(); return; }
  if (event.key.length === 1 && event.key !== " ") find.focus();
});

// Codes of a list, offered below a field.
const looking = new Map();
async function look(input) {
  const list = document.getElementById(input.getAttribute("list"));
  const asked = input.value;
  if (looking.get(input) === asked) return;
  looking.set(input, asked);
  const address = `/choices/${input.dataset.look}/?search=${encodeURIComponent(asked)}`;
  const answer = await fetch(address, { headers: { "HX-Request": "true" } }).catch(() => null);
  if (!answer || !answer.ok || input.value !== asked) return;
  list.innerHTML = await answer.text();
}
let waiting = 0;
document.addEventListener("focusin", (event) => {
  if (event.target.dataset && event.target.dataset.look) look(event.target);
});
document.addEventListener("input", (event) => {
  if (!event.target.dataset || !event.target.dataset.look) return;
  clearTimeout(waiting);
  waiting = setTimeout(look, 200, event.target);
});

// In a row of a form the first amount takes the unit of its lot or item, whose name is shown.
const about = {
  lots: ({ lot }) => [lot.on_hand.unit, `${lot.item} ${lot.item_name}`],
  items: (item) => [item.display_unit, item.name],
};
document.addEventListener("change", async (event) => {
  const input = event.target;
  const row = input.closest("fieldset.row");
  const folder = input.dataset.look;
  const code = input.value.trim();
  if (!row || !(folder in about)) return;
  const answer = code && await fetch(`/api/v1/${folder}/${encodeURIComponent(code)}/`).catch(() => null);
  if (input.value.trim() !== code) return;
  const [unit, name] = answer && answer.ok ? about[folder](await answer.json()) : ["", ""];
  const select = row.querySelector(".amount select");
  if (select && unit) select.value = unit;
  let said = row.querySelector(".about");
  if (!said) {
    said = document.createElement("p");
    said.className = "about";
    row.querySelector("legend").after(said);
  }
  said.textContent = name;
});

// A scanner's Enter in a field goes to the next one: it must not send a half-filled form.
document.addEventListener("keydown", (event) => {
  const input = event.target;
  if (event.key !== "Enter" || !input.matches || !input.matches("form[data-keep] input")) return;
  event.preventDefault();
  const fields = [...input.form.querySelectorAll("input:not([type=hidden]), select, textarea, button")];
  const next = fields[fields.indexOf(input) + 1];
  if (next) next.focus();
});

// What was typed is kept in the page's session storage until it was taken: a sign-in that ended or
// a connection that dropped loses nothing.
const SENT = "sent";
const kept = (form) => `typed:${location.pathname}${form.id}`;
function keep(form, state) {
  const secret = new Set([...form.querySelectorAll("[type=password], [type=file]")].map((each) => each.name));
  const typed = [...new FormData(form)].filter(([name]) => name !== "csrfmiddlewaretoken" && !secret.has(name));
  try { sessionStorage.setItem(kept(form), JSON.stringify({ state, typed })); } catch { /* forbidden or full */ }
}
function kept_of(form) {
  try { return JSON.parse(sessionStorage.getItem(kept(form))); } catch { return null; }
}
function put_back(form, typed) {
  for (const element of form.elements) {
    if (!element.name || element.name === "csrfmiddlewaretoken") continue;
    const values = typed.filter(([name]) => name === element.name).map(([, value]) => value);
    if (element.type === "checkbox") element.checked = values.includes(element.value);
    else if (values.length && element.type !== "hidden") element.value = values[values.length - 1];
    else if (element.name === "idempotency_key" && values.length) element.value = values[0];
  }
}
document.addEventListener("input", (event) => {
  const form = event.target.form;
  if (form && form.matches("form[data-keep]")) keep(form, "typed");
});
document.addEventListener("submit", (event) => {
  if (event.target.matches("form[data-keep]")) keep(event.target, SENT);
});
document.addEventListener("DOMContentLoaded", () => {
  const wrong = document.querySelector("[aria-invalid]");
  if (wrong) wrong.focus();
  if (document.querySelector(".notes")) {
    for (const name of Object.keys(sessionStorage)) {
      if (name.startsWith("typed:") && sessionStorage[name].includes(`"state":"${SENT}"`)) sessionStorage.removeItem(name);
    }
  }
  for (const form of document.querySelectorAll("form[data-keep]")) {
    const before = kept_of(form);
    if (!before || form.hasAttribute("data-filled") || document.querySelector(".problem")) continue;
    const offer = document.createElement("p");
    offer.className = "notes";
    const button = document.createElement("button");
    button.type = "button";
    button.className = "plain";
    button.textContent = "Put it back";
    button.addEventListener("click", () => { put_back(form, before.typed); offer.remove(); });
    offer.append("You typed something here before that was not taken. ", button);
    form.before(offer);
  }
});

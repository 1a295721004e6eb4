"use strict";
// Recording a run at the bench. What is entered is a draft, kept in the browser at every tap; Save
// hands it to the outbox (outbox.js), which brings it to the shop.
{
const SCAN_AT_FAULT = /^(scan|lot_|material_|share_|scanned_|named_twice|amounts_|balance_|override_)/;
const LOOK_AGAIN = 5000;
const LOOK_AFTER = 250;  // milliseconds after the last tap until the lots to take are asked for

const bench = document.getElementById("bench");
const by = (selector) => [...document.querySelectorAll(selector)];
const make = (tag, text, classes = "") => Object.assign(document.createElement(tag), { textContent: text, className: classes });

const EMPTY = () => ({ counts: {}, taps: [], lots: [], equipment: null, factors: null, another: { name: "", value: "" }, note: "", override: "" });
let draft = EMPTY();
let chosen = "good";  // what the numbers go to
let tapped_as = "";   // the scrap reason that stations and cavities count as
let pending = Promise.resolve();

const draft_name = () => `bench-draft:${bench.dataset.batch}`;
const is_empty = () => !draft.taps.length && !draft.lots.length && !Object.values(draft.counts).some((text) => Number(text));
const reasons = () => by("[data-count^='scrap:']").map((button) => button.dataset.count.slice("scrap:".length));
const is_pieces = () => "pieces" in bench.dataset;
const label_of = (count) => document.querySelector(`[data-count="${CSS.escape(count)}"] span`).textContent;

function changed() {
  const is_untouched = is_empty() && draft.equipment === null && draft.factors === null && !draft.another.name;
  kept_here.set(draft_name(), is_untouched ? null : draft);
  draw();
  look_soon();
}

// --- Numbers ---

function number_of(count) { return Number(draft.counts[count] || 0); }
function tapped(reason, part = null) {
  return draft.taps.filter((tap) => tap.reason === reason && (part === null || tap.part === part)).length;
}
function total_of(count) {
  return number_of(count) + (count.startsWith("scrap:") ? tapped(count.slice("scrap:".length)) : 0);
}
function choose(count) {
  chosen = count;
  if (count.startsWith("scrap:")) tapped_as = count.slice("scrap:".length);
  fresh = true;
  draw();
}
let fresh = true;  // the next digit begins the number anew

function press(key) {
  const lot = draft.lots.find((each) => `lot:${each.code}` === chosen);
  const before = fresh ? "" : String((lot ? lot.amount : draft.counts[chosen]) || "");
  const may_point = Boolean(lot) || (!is_pieces() && chosen !== "minutes");
  let after = before;
  if (key === "back") after = String((lot ? lot.amount : draft.counts[chosen]) || "").slice(0, -1);
  else if (key === "left") { chosen = "good"; draft.counts.good = bench.dataset.left; fresh = true; changed(); return; }
  else if (key !== "." || (may_point && !before.includes("."))) after = (before + key).replace(/^0+(?=\d)/, "").replace(/^\./, "0.").slice(0, 9);
  fresh = false;
  if (lot) lot.amount = after; else draft.counts[chosen] = after;
  changed();
}

// --- Scans ---

// Every scan is taken as it comes and looked at in its turn: none is lost, none runs into the next.
function scan(text) {
  const code = text.trim();
  if (!code) return;
  if (draft.lots.some((lot) => lot.code === code)) return;
  draft.lots = [{ code, unit: "", says: "", amount: "", is_unjudged: true }, ...draft.lots];
  changed();
  queue(code);
}
const queued = new Set();
function queue(code) {
  if (queued.has(code)) return;
  queued.add(code);
  const judge = () => judged(code).finally(() => queued.delete(code));
  pending = pending.then(judge, judge);
}
async function judged(code) {
  let found = null;
  try {
    const answer = await outbox.ask(`${bench.dataset.address}scan/?code=${encodeURIComponent(code)}`);
    if (answer.ok) found = scanned_of(await answer.text());
  } catch { /* no connection: it is looked at before it is sent */ }
  const at = draft.lots.findIndex((lot) => lot.code === code && lot.is_unjudged);
  if (!found || at < 0) return;
  const { lot, unit } = found.dataset;
  const is_there = draft.lots.some((each) => each.code === lot && !each.is_unjudged);
  const right = { code: lot, unit, says: found.querySelector("p").innerHTML, amount: "" };
  draft.lots.splice(at, 1, ...(lot && !is_there ? [right] : []));
  if (!lot) wrong_scan(found);
  changed();
}
function wrong_scan(row) {
  const away = make("button", "Put it back", "plain");
  away.type = "button";
  away.addEventListener("click", () => row.remove());
  row.append(away);
  document.getElementById("taken").prepend(row);
}

// --- Lots to take ---

let looking = 0;
function look_soon() { clearTimeout(looking); looking = setTimeout(look, LOOK_AFTER); }
async function look() {
  const good = total_of("good") + total_of("second") + reasons().reduce((sum, reason) => sum + total_of(`scrap:${reason}`), 0);
  const amount = good || Number(bench.dataset.left) || 1;
  const lots = draft.lots.filter((lot) => !lot.is_unjudged).map((lot) => lot.code).reverse();
  const asked = new URLSearchParams({ amount, unit: bench.dataset.unit, lots: lots.join(",") });
  try {
    const answer = await outbox.ask(`${bench.dataset.address}lots/?${asked}`);
    if (answer.status === 401) draw_kept();
    if (answer.ok) {
      document.getElementById("lots").innerHTML = await answer.text();
      judge_again();
      if (!good) document.getElementById("lots").prepend(make("p", `For ${amount} ${is_pieces() ? (amount === 1 ? "piece" : "pieces") : bench.dataset.unit}:`, "quiet"));
    }
  } catch { looking = setTimeout(look, LOOK_AGAIN); /* what stood there stands */ }
}
function judge_again() {
  for (const lot of draft.lots.filter((each) => each.is_unjudged).reverse()) queue(lot.code);
}

// --- Drawing ---

function draw() {
  for (const button of by("[data-count]")) {
    const count = button.dataset.count, is_minutes = count === "minutes";
    button.setAttribute("aria-pressed", String(count === chosen));
    button.querySelector("output").textContent = is_minutes ? draft.counts.minutes || "" : count.startsWith("scrap:") ? total_of(count) : draft.counts[count] || "0";
  }
  draw_lots();
  draw_parts();
  draw_factors();
  const scrap = reasons().reduce((sum, reason) => sum + total_of(`scrap:${reason}`), 0);
  const unit = is_pieces() ? "" : ` ${bench.dataset.unit}`;
  const told = [`${number_of("good")}${unit} good`, number_of("second") ? `${number_of("second")} seconds` : "", scrap ? `${scrap}${unit} scrapped` : "", draft.lots.length ? `${draft.lots.length} lot${draft.lots.length > 1 ? "s" : ""} scanned` : ""];
  document.getElementById("sum").textContent = is_empty() ? "Nothing entered yet." : `${told.filter(Boolean).join(", ")}.`;
  draw_kept();
}
function draw_lots() {
  const list = document.getElementById("taken");
  for (const row of list.querySelectorAll("[data-taken]")) row.remove();
  for (const lot of draft.lots) {
    const row = make("li", "", lot.is_unjudged ? "looking" : "fit");
    row.dataset.taken = lot.code;
    const words = document.createElement("p");
    if (lot.is_unjudged) words.append(make("strong", lot.code), " is not looked at yet. It will be, before the entry is saved.");
    else words.innerHTML = lot.says;
    row.append(words);
    const weigh = make("button", lot.amount ? `Took ${lot.amount} ${lot.unit === "each" ? "pieces" : lot.unit}` : "Weighed or counted", "plain");
    weigh.type = "button";
    weigh.setAttribute("aria-pressed", String(chosen === `lot:${lot.code}`));
    weigh.addEventListener("click", () => choose(`lot:${lot.code}`));
    const off = make("button", "Take it off", "plain");
    off.type = "button";
    off.addEventListener("click", () => {
      draft.lots = draft.lots.filter((each) => each !== lot);
      if (chosen === `lot:${lot.code}`) chosen = "good";
      changed();
    });
    if (!lot.is_unjudged) row.append(weigh);
    row.append(off);
    list.append(row);
  }
}
function draw_parts() {
  const used = equipment();
  for (const button of by("[data-equipment]")) button.setAttribute("aria-pressed", String(used.includes(button.dataset.equipment)));
  for (const box of by("[data-parts-of]")) {
    box.hidden = !used.includes(box.dataset.partsOf);
    for (const button of box.querySelectorAll("[data-part]")) {
      const count = draft.taps.filter((tap) => tap.part === button.dataset.part).length;
      button.querySelector("output").textContent = count ? `${count} bad` : "";
      button.classList.toggle("hit", count > 0);
      button.setAttribute("aria-label", `Number ${button.dataset.number}, ${count} bad`);
      button.disabled = !tapped_as;
    }
    const inside = new Set([...box.querySelectorAll("[data-part]")].map((button) => button.dataset.part));
    box.querySelector("[data-untap]").hidden = !draft.taps.some((tap) => inside.has(tap.part));
  }
  for (const words of by(".tapped-as")) words.textContent = tapped_as ? label_of(`scrap:${tapped_as}`) : "nothing: there are no scrap reasons";
}
function equipment() {
  return draft.equipment || by("[data-was-last]").map((button) => button.dataset.equipment);
}

// --- Circumstances ---

// What the last entry of today noted holds until something else is chosen.
function factors() {
  if (draft.factors) return draft.factors;
  return Object.fromEntries(by("[data-factor][data-today]").map((box) => [box.dataset.factor, box.dataset.today]));
}
function note_factor(name, value) {
  draft.factors = { ...factors(), [name]: value };
  changed();
}
function draw_factors() {
  const noted = factors();
  for (const box of by("[data-factor]")) {
    const value = noted[box.dataset.factor] || "";
    const chips = [...box.querySelectorAll("[data-value]")];
    for (const chip of chips) chip.setAttribute("aria-pressed", String(chip.dataset.value === value));
    const typed = box.querySelector("[data-typed]");
    if (typed !== document.activeElement) typed.value = chips.some((chip) => chip.dataset.value === value) ? "" : value;
  }
  for (const part of ["name", "value"]) {
    const field = document.getElementById(`factor-${part}`);
    if (field !== document.activeElement) field.value = draft.another[part];
  }
  if (draft.another.name) document.getElementById("factor-name").closest("details").open = true;
}
function factor_rows() {
  const another = draft.another, noted = { ...factors() };
  if (another.name.trim() && another.value.trim()) noted[another.name.trim()] = another.value;
  return Object.entries(noted).filter(([, value]) => value.trim()).map(([name, value]) => ({ name, value: value.trim() }));
}

// What is saved and what is not, in words.
const TROUBLE = {
  "no connection": "There is no connection. It is kept on this tablet and sent by itself.",
  "not answered": "The shop's computer does not answer yet. It is kept on this tablet and sent by itself.",
};
let last_saved = null;
function draw_kept() {
  const list = document.getElementById("kept");
  const rows = [];
  if (!kept_here.is_safe) rows.push(kept_row("no", "This browser keeps nothing: do not close this page before all is saved."));
  for (const entry of outbox.all()) rows.push(waiting_row(entry));
  if (outbox.trouble === "signed out" && !rows.length) {
    const row = kept_row("no", "You are signed out. What you enter is kept on this tablet and sent after you sign in.");
    row.append(sign_in());
    rows.push(row);
  }
  if (last_saved) rows.push(last_saved);
  if (!is_empty()) rows.push(kept_row("open", "Not saved yet. What you entered is kept on this tablet."));
  const texts = rows.map((row) => row.textContent).join("|");
  if (list.dataset.shown === texts) return;  // a screen reader says it once
  list.dataset.shown = texts;
  list.replaceChildren(...rows);
}
function kept_row(state, text) {
  const row = make("div", "", state);
  row.append(make("span", text));
  return row;
}
function waiting_row(entry) {
  const row = kept_row("no", `Not saved: ${entry.sum} for ${entry.batch}. `);
  const words = row.firstChild;
  if (entry.problem) {
    words.append(entry.problem.detail || "It was refused.", " ");
    row.append(row_button("Put it back to change it", () => put_back(entry)), row_button("Throw it away", () => { outbox.drop(entry.key); draw(); }));
  } else if (entry.person !== bench.dataset.person) {
    words.append(`${entry.person} entered it and must sign in to send it.`);
    row.append(row_button("Throw it away", () => { outbox.drop(entry.key); draw(); }));
  } else if (outbox.trouble === "signed out") {
    words.append("You are signed out. It is kept on this tablet and sent after you sign in.");
    row.append(sign_in());
  } else {
    words.append(TROUBLE[outbox.trouble] || "It is on its way.");
    if (outbox.trouble) row.append(row_button("Try now", () => outbox.send_now()));
  }
  return row;
}
function sign_in() {
  const link = make("a", "Sign in", "button");
  link.href = `/sign-in/?next=${encodeURIComponent(location.pathname)}`;
  return link;
}
function row_button(text, act) {
  const button = make("button", text, "plain");
  button.type = "button";
  button.addEventListener("click", act);
  return button;
}
function put_back(entry) {
  if (entry.batch !== bench.dataset.batch) {
    kept_here.set(`bench-draft:${entry.batch}`, entry.draft);
    outbox.drop(entry.key);
    location.assign(entry.page);
    return;
  }
  draft = { ...EMPTY(), ...entry.draft };
  outbox.drop(entry.key);
  changed();
  show_problem(entry.problem);
}
function show_problem(problem) {
  for (const place of by("[data-problem-of]")) place.replaceChildren();
  if (!problem) return;
  const fields = Object.keys(problem.facts?.fields || {});
  const is_lots = SCAN_AT_FAULT.test(problem.code) || fields.includes("lots");
  const is_equipment = Boolean(problem.facts?.equipment);
  const where = is_lots ? "lots" : is_equipment ? "equipment" : fields.includes("factors") ? "factors" : "counts";
  const place = document.querySelector(`[data-problem-of=${where}]`) || document.querySelector("[data-problem-of=counts]");
  place.append(make("p", problem.detail, "wrong"));
  for (const text of Object.values(problem.facts?.fields || {}).flatMap(said)) place.append(make("p", text, "wrong"));
  for (const lot of (Array.isArray(problem.facts?.lots) ? problem.facts.lots : [problem.facts?.lot]).filter(Boolean)) {
    document.querySelector(`[data-taken="${CSS.escape(lot.lot || lot)}"]`)?.classList.add("unfit");
  }
  place.scrollIntoView({ block: "nearest" });
}
const said = (value) => typeof value === "string" ? [value] : Object.values(value || {}).flatMap(said);

// --- Save ---

function quantity(text) {
  return is_pieces() ? { pieces: Number(text) } : { amount: String(text), unit: bench.dataset.unit };
}
function body() {
  const scrap = reasons().flatMap((reason) => {
    const parts = [...new Set(draft.taps.filter((tap) => tap.reason === reason).map((tap) => tap.part))];
    const rest = number_of(`scrap:${reason}`);
    return [
      ...parts.map((part) => ({ scrap_reason: reason, equipment: part, ...quantity(tapped(reason, part)) })),
      ...(rest ? [{ scrap_reason: reason, ...quantity(draft.counts[`scrap:${reason}`]) }] : []),
    ];
  });
  return {
    at: outbox.now(),
    done_by: bench.dataset.person,
    good: [
      ...(number_of("good") ? [quantity(draft.counts.good)] : []),
      ...(number_of("second") ? [{ grade: "second", ...quantity(draft.counts.second) }] : []),
    ],
    scrap,
    lots: draft.lots.filter((lot) => !lot.is_unjudged).reverse().map((lot) => Number(lot.amount) ? { lot: lot.code, amount: lot.amount, unit: lot.unit } : { lot: lot.code }),
    equipment: equipment(),
    factors: factor_rows(),
    ...(number_of("minutes") ? { minutes: number_of("minutes") } : {}),
    ...(draft.note ? { reason: draft.note } : {}),
    ...(draft.override ? { override_reason: draft.override } : {}),
  };
}
async function save() {
  const button = document.getElementById("save");
  button.disabled = true;
  await pending;  // scans that are still looked at
  button.disabled = false;
  const made = body();
  if (draft.another.name.trim() && !draft.another.value.trim()) {
    show_problem({ code: "invalid_input", detail: `Say how ${draft.another.name.trim()} is, or leave it out.`, facts: { fields: { factors: [] } } });
    return;
  }
  if (!made.good.length && !made.scrap.length) {
    show_problem({ code: "nothing_recorded", detail: "Enter how many are good, or how many were scrapped." });
    return;
  }
  show_problem(null);
  outbox.put({
    key: outbox.new_key(),
    person: bench.dataset.person,
    batch: bench.dataset.batch,
    page: bench.dataset.address,
    address: `/api/v1/batches/${encodeURIComponent(bench.dataset.batch)}/entries/`,
    sum: document.getElementById("sum").textContent.replace(/\.$/, ""),
    body: made,
    draft,
    unjudged: draft.lots.filter((lot) => lot.is_unjudged).map((lot) => lot.code),
  });
  draft = EMPTY();
  chosen = "good";
  fresh = true;
  for (const id of ["note", "override"]) if (document.getElementById(id)) document.getElementById(id).value = "";
  for (const row of by("#taken .unfit")) row.remove();
  changed();
  outbox.send();
}
outbox.heard = async ({ kind, entry, said: answer }) => {
  if (kind === "saved") {
    last_saved = kept_row("yes", `Saved: ${answer.code}, ${entry.sum} for ${entry.batch}. `);
    for (const lot of answer.made.map((row) => row.lot)) {
      const link = make("a", `Sticker ${lot}`, "button plain");
      Object.assign(link, { href: `/api/v1/labels/lots/${encodeURIComponent(lot)}.pdf`, target: "_blank", rel: "noopener" });
      last_saved.append(link);
    }
    const undo = make("a", "Undo", "button plain");
    undo.href = `/entries/${answer.code}/reverse/?bench=1&reason=Entered%20wrong`;
    last_saved.append(undo);
    await renew();
  }
  if (kind === "refused" && entry.batch === bench.dataset.batch && is_empty()) { put_back(entry); return; }
  draw();
};

// The numbers of the batch and what was recorded last, as they are now.
async function renew() {
  look_soon();
  try {
    const answer = await outbox.ask(location.pathname);
    if (!answer.ok) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    for (const id of ["numbers", "latest", "all-left", ...(draft.factors ? [] : ["made-under"])]) {
      const now = page.getElementById(id);
      if (now) document.getElementById(id).replaceWith(document.adoptNode(now));
    }
    const left = page.getElementById("bench")?.dataset.left;
    if (left) bench.dataset.left = left;
    draw_factors();
  } catch { /* it stands as it was */ }
}

// --- What the page listens to ---

function begin() {
  draft = { ...EMPTY(), ...kept_here.get(draft_name()) };
  tapped_as = reasons()[0] || "";
  for (const id of ["note", "override"]) {
    const field = document.getElementById(id);
    if (!field) continue;
    field.value = draft[id];
    field.addEventListener("input", () => { draft[id] = field.value; changed(); });
  }
  document.getElementById("scanning").addEventListener("submit", (event) => {
    event.preventDefault();
    const field = document.getElementById("took"), code = field.value;
    field.value = "";
    field.focus();
    scan(code);
  });
  bench.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    const { count, key, equipment: code, part, untap, timer, value } = button.dataset;
    if (count) choose(count);
    else if (value) {
      const { factor } = button.closest("[data-factor]").dataset;
      note_factor(factor, factors()[factor] === value ? "" : value);
    }
    else if (key) press(key);
    else if (code) {
      const used = equipment();
      draft.equipment = used.includes(code) ? used.filter((each) => each !== code) : [...used, code];
      changed();
    } else if (part) { draft.taps.push({ part, reason: tapped_as }); changed(); }
    else if (untap) {
      const inside = new Set([...button.closest("[data-parts-of]").querySelectorAll("[data-part]")].map((each) => each.dataset.part));
      const at = draft.taps.map((tap) => inside.has(tap.part)).lastIndexOf(true);
      draft.taps.splice(at, 1);
      changed();
    } else if (timer) start_timer(`${bench.dataset.item} ${equipment().join(" ")}`.trim(), Number(timer));
    else if (button.id === "save") save();
  });
  bench.addEventListener("input", (event) => {
    const field = event.target, box = field.closest("[data-factor]");
    if (box) note_factor(box.dataset.factor, field.value);
    else if (field.id === "factor-name" || field.id === "factor-value") {
      draft.another = { ...draft.another, [field.id.slice("factor-".length)]: field.value };
      changed();
    }
  });
  document.addEventListener("visibilitychange", () => { if (!document.hidden) renew(); });
  for (const wheel of by("ol.wheel")) {
    const stations = [...wheel.children];
    wheel.style.setProperty("--stations", stations.length);
    stations.forEach((station, at) => station.style.setProperty("--turn", `${(360 * at) / stations.length}deg`));
  }
  draw();
  look();
  outbox.send();
}

// A scanner types wherever it is: here into the field for lots, unless somebody types elsewhere.
document.addEventListener("keydown", (event) => {
  const at = document.activeElement, took = document.getElementById("took");
  if (!bench || !took || event.ctrlKey || event.metaKey || event.altKey) return;
  if (at && (at.matches("input, textarea, select") || at.isContentEditable)) return;
  if (event.key.length === 1 && event.key !== " " && event.key !== "/") took.focus();
}, true);

if (bench) begin();
}

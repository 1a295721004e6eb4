"use strict";
// Entries on their way to the shop. Each is kept in the browser until the shop has answered, and is
// sent under one key: however often it is tried, it is recorded once.
{
const OUTBOX = "bench-outbox";
const CLOCK = "bench-clock";
const RETRY_FIRST = 2000, RETRY_LAST = 30000;

// The browser's storage; where it is forbidden or full, what this page remembers.
const kept_here = {
  memory: new Map(),
  is_safe: true,
  get(name) {
    if (this.memory.has(name)) return this.memory.get(name);
    try { return JSON.parse(localStorage.getItem(name)); } catch { return null; }
  },
  set(name, value) {
    try {
      if (value === null) localStorage.removeItem(name); else localStorage.setItem(name, JSON.stringify(value));
      this.memory.delete(name);
    } catch {
      this.is_safe = false;
      this.memory.set(name, value);
    }
  },
};

const SIGNED_OUT = "signed out";
class Away extends Error {}

const outbox = {
  sending: null,
  again: 0,
  wait: RETRY_FIRST,
  trouble: "",
  heard: () => {},

  all() { return kept_here.get(OUTBOX) || []; },
  put(entry) {
    const all = this.all(), at = all.findIndex((each) => each.key === entry.key);
    kept_here.set(OUTBOX, at < 0 ? [...all, entry] : [...all.slice(0, at), entry, ...all.slice(at + 1)]);
  },
  drop(key) { kept_here.set(OUTBOX, this.all().filter((each) => each.key !== key)); },

  // 128 random bits: `crypto.randomUUID` is not there without https.
  new_key() {
    return [...crypto.getRandomValues(new Uint8Array(16))].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  },

  // The shop's clock, as far as its last answer told: an entry is recorded at the time it was made.
  now() { return new Date(Date.now() + (kept_here.get(CLOCK) || 0)).toISOString(); },
  hear_clock(answer) {
    const told = Date.parse(answer.headers.get("Date"));
    if (!Number.isNaN(told)) kept_here.set(CLOCK, told - Date.now());
  },

  async ask(address) {
    const answer = await fetch(address, { headers: { "HX-Request": "true" } });
    this.hear_clock(answer);
    if (answer.status === 401) this.trouble = SIGNED_OUT;
    else if (this.trouble === SIGNED_OUT) this.trouble = "";
    return answer;
  },

  send_now() {
    this.wait = RETRY_FIRST;
    return this.send();
  },
  // One try at all that waits; they go one after the other, in the order they were made.
  send() {
    clearTimeout(this.again);
    this.sending = this.sending || this._send().finally(() => { this.sending = null; });
    return this.sending;
  },
  async _send() {
    this.trouble = "";
    for (const entry of this.all().filter((each) => each.person === person() && !each.problem)) {
      this.trouble = await this._try(entry);
      if (this.trouble) break;
    }
    if (this.trouble) {
      this.again = setTimeout(() => this.send(), this.wait);
      this.wait = Math.min(this.wait * 2, RETRY_LAST);
    } else this.wait = RETRY_FIRST;
    this.heard({ kind: "state" });
  },

  // Empty when the shop has answered for good; else what is in the way.
  async _try(entry) {
    try {
      const wrong = await this._judge(entry);
      if (wrong) return this._refused(entry, { code: "scan", detail: wrong, facts: {} });
      if (entry.is_tried && await this._signed_in() !== entry.person) return SIGNED_OUT;
      entry.is_tried = true;
      this.put(entry);
      const answer = await fetch(entry.address, {
        method: "POST",
        headers: { "Content-Type": "application/json", "Idempotency-Key": entry.key, "X-CSRFToken": csrf() },
        body: JSON.stringify(entry.body),
      });
      this.hear_clock(answer);
      if (answer.ok) {
        const said = await answer.json();
        this.drop(entry.key);
        this.heard({ kind: "saved", entry, said });
        return "";
      }
      const problem = await answer.json().catch(() => ({ code: "", detail: "", facts: {} }));
      if (answer.status === 401) return SIGNED_OUT;
      if (problem.code === "csrf_failed") return await this._new_token();
      if (answer.status === 429 || answer.status >= 500 || !problem.code) return "not answered";
      if (problem.code === "time_in_future" && entry.body.at) {
        delete entry.body.at;  // this tablet's clock is ahead: then it is now
        this.put(entry);
        return await this._try(entry);
      }
      return this._refused(entry, problem);
    } catch (error) {
      return error instanceof Away ? error.message : "no connection";
    }
  },
  _refused(entry, problem) {
    entry.problem = problem;
    this.put(entry);
    this.heard({ kind: "refused", entry });
    return "";
  },

  // A key counts for one person: another must not send an entry whose answer was lost.
  async _signed_in() {
    const answer = await this.ask("/api/v1/me/");
    return answer.ok ? (await answer.json()).username : "";
  },

  // Scans that could not be looked at when they were made; the first that is wrong, in words.
  async _judge(entry) {
    for (const code of [...entry.unjudged]) {
      const answer = await this.ask(`${entry.page}scan/?code=${encodeURIComponent(code)}`);
      if (!answer.ok) throw new Away(answer.status === 401 ? SIGNED_OUT : "not answered");
      const found = scanned_of(await answer.text());
      if (!found.dataset.lot) return found.textContent.trim();
      if (!entry.body.lots.some((lot) => lot.lot === found.dataset.lot)) entry.body.lots.push({ lot: found.dataset.lot });
      entry.unjudged = entry.unjudged.filter((each) => each !== code);
      this.put(entry);
    }
    return "";
  },

  // Signing in changes the token against forgery; any page brings the cookie with the new one.
  async _new_token() {
    const answer = await this.ask("/me/");
    return answer.status === 401 ? SIGNED_OUT : "not answered";
  },
};

function person() { return document.getElementById("bench")?.dataset.person || ""; }
function csrf() {
  const found = document.cookie.match(/(?:^|; )(?:__Host-csrf|csrftoken)=([^;]+)/);
  return found ? found[1] : "";
}
function scanned_of(html) {
  const holder = document.createElement("template");
  holder.innerHTML = html.trim();
  return holder.content.firstElementChild;
}

window.addEventListener("online", () => outbox.send_now());
document.addEventListener("visibilitychange", () => { if (!document.hidden) outbox.send_now(); });

Object.assign(window, { outbox, kept_here, scanned_of });
}

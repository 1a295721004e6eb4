"use strict";
// Timers of the bench. What is kept is when each began, so that it goes on while no page is open.
{
const TIMERS = "bench-timers";
const SECOND = 1000, MINUTE = 60 * SECOND;
const FORGOTTEN = 12 * 60 * MINUTE;  // after its end nobody waits for it any more

function timers_kept() {
  try { return JSON.parse(localStorage.getItem(TIMERS)) || []; } catch { return []; }
}
function keep_timers(timers) {
  try { localStorage.setItem(TIMERS, JSON.stringify(timers)); } catch { /* forbidden or full */ }
}
function start_timer(name, minutes) {
  keep_timers([...timers_kept(), { name, minutes, began: Date.now() }]);
  draw_timers();
}
function clock(ms) {
  const seconds = Math.floor(ms / SECOND), two = (number) => String(number).padStart(2, "0");
  const hours = Math.floor(seconds / 3600), minutes = Math.floor(seconds / 60) % 60;
  return (hours ? `${hours}:${two(minutes)}` : String(minutes)) + `:${two(seconds % 60)}`;
}
function draw_timers() {
  const list = document.getElementById("timers");
  if (!list) return;
  const now = Date.now();
  const timers = timers_kept().filter((each) => now - each.began < each.minutes * MINUTE + FORGOTTEN);
  const keys = timers.map((each) => `${each.began} ${each.name}`);
  for (const item of [...list.children]) if (!keys.includes(item.dataset.key)) item.remove();
  timers.forEach((timer, at) => {
    let item = list.children[at];
    if (!item || item.dataset.key !== keys[at]) {
      item = document.createElement("li");
      item.dataset.key = keys[at];
      const stop = document.createElement("button");
      stop.type = "button";
      stop.className = "plain";
      stop.textContent = "Stop";
      stop.addEventListener("click", () => {
        keep_timers(timers_kept().filter((each) => `${each.began} ${each.name}` !== keys[at]));
        draw_timers();
      });
      item.append(document.createElement("span"), stop);
      list.insertBefore(item, list.children[at] || null);
    }
    const left = timer.began + timer.minutes * MINUTE - now;
    const is_done = left <= 0;
    item.firstChild.textContent = is_done
      ? `${timer.name}, ${timer.minutes} min: done ${clock(-left)} ago`
      : `${timer.name}, ${timer.minutes} min: ${clock(left)} left`;
    if (is_done && !item.classList.contains("done")) {
      item.classList.add("done");
      item.firstChild.setAttribute("role", "alert");
    }
  });
  const plain = document.title.replace(/^Timer done: /, "");
  document.title = list.querySelector(".done") ? `Timer done: ${plain}` : plain;
}
document.addEventListener("DOMContentLoaded", () => { draw_timers(); setInterval(draw_timers, SECOND); });

window.start_timer = start_timer;
}

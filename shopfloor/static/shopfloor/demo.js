"use strict";
// Goes on when the program has started anew; until then it does not answer, or says the same.
{
const ASK_AGAIN = 2000;
const place = document.querySelector("[data-wait]");
async function look() {
  try {
    const answer = await fetch(place.dataset.wait);
    if (answer.ok && !(await answer.text()).includes("data-wait")) { location.assign("/"); return; }
  } catch { /* it is just starting */ }
  setTimeout(look, ASK_AGAIN);
}
if (place) setTimeout(look, ASK_AGAIN);
}

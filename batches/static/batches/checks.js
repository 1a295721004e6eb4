"use strict";
// Counts at the bench: a large button on both sides of each number.
document.addEventListener("DOMContentLoaded", () => {
  for (const input of document.querySelectorAll(".counts fieldset.row input[inputmode=numeric]")) {
    const label = document.querySelector(`label[for="${input.id}"]`).firstChild.textContent.trim();
    const step = (sign, by, words) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "plain step";
      button.textContent = sign;
      button.setAttribute("aria-label", `${label}: ${words}`);
      button.addEventListener("click", () => {
        input.value = Math.max(0, (parseInt(input.value, 10) || 0) + by);
        input.dispatchEvent(new Event("input", { bubbles: true }));
      });
      return button;
    };
    const around = document.createElement("div");
    around.className = "steps";
    input.before(around);
    around.append(step("−", -1, "one less"), input, step("+", 1, "one more"));
  }
});

// A written sheet is typed with one hand on the paper: Enter goes on to the next box, as Tab does.
(() => {
  "use strict";
  const form = document.querySelector("form.grid");
  if (!form) return;
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing || event.ctrlKey || event.metaKey) return;
    if (!event.target.matches("input:not([type=hidden]), select")) return;
    event.preventDefault();
    const boxes = [...form.querySelectorAll("input:not([type=hidden]), select, button")];
    boxes[boxes.indexOf(event.target) + 1]?.focus();
  });
})();

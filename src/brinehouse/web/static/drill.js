// The clock of a drill. The server says when it began and what time it is there; the page only counts on, so that a
// reload or a sleeping phone changes nothing. A tick writes its minute beside the step. Without this file the elapsed
// time stands as the server gave it, and the minutes are typed.
(() => {
  const shown = document.querySelector("time[data-began]");
  if (!shown) return;
  const bar = document.querySelector("progress.passed");
  const ahead = Date.parse(shown.dataset.now) - Date.now();
  const began = Date.parse(shown.dataset.began);
  const seconds = () => Math.max(0, Math.floor((Date.now() + ahead - began) / 1000));
  const two = (n) => String(n).padStart(2, "0");
  const tick = () => {
    const now = seconds();
    const text = `${Math.floor(now / 3600)}:${two(Math.floor(now / 60) % 60)}:${two(now % 60)}`;
    if (shown.textContent !== text) shown.textContent = text;
    if (bar) bar.value = Math.min(now, bar.max);
  };
  tick();
  setInterval(tick, 1000);
  document.addEventListener("visibilitychange", tick);
  for (const box of document.querySelectorAll("input[type=checkbox][data-step]")) {
    const minute = document.getElementById(box.dataset.step);
    if (!minute) continue;
    box.addEventListener("change", () => {
      if (box.checked && !minute.value) minute.value = (Math.floor(seconds() / 6) / 10).toFixed(1);
    });
  }
})();

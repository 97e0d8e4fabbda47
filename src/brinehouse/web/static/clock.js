// The clock of a gas trial. The server says when it began and what time it is there; the page only counts on,
// so that a reload, a sleeping phone or a phone with a wrong clock changes nothing. Without this file the
// minutes stand as the server gave them.
(() => {
  const shown = document.querySelector("time[data-began]");
  const box = document.querySelector("input[name=minute]");
  if (!shown) return;
  const ahead = Date.parse(shown.dataset.now) - Date.now();
  const began = Date.parse(shown.dataset.began);
  let touched = box !== null && box.value !== shown.textContent.trim();
  if (box) box.addEventListener("input", () => { touched = true; });
  const tick = () => {
    const seconds = Math.max(0, Math.floor((Date.now() + ahead - began) / 1000));
    const tenths = (Math.floor(seconds / 6) / 10).toFixed(1);
    if (shown.textContent !== tenths) shown.textContent = tenths;
    if (box && !touched && document.activeElement !== box) box.value = tenths;
  };
  tick();
  setInterval(tick, 1000);
  document.addEventListener("visibilitychange", tick);
})();

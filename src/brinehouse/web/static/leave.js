// Says, before someone leaves, how many entries still wait on this phone; they stay on it.
(() => {
  const place = document.querySelector("[data-unsent]");
  let count = 0;
  try { count = Number(localStorage.getItem("brinehouse.waiting")) || 0; } catch { /* then nothing waits here */ }
  if (!place || !count) return;
  place.textContent = place.dataset.unsent.replace("{count}", count);
  place.hidden = false;
})();

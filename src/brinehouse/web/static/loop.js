// What a mark of the loop profile says, in one quiet line under the picture; pressed, it leads to its row of the
// table. Without this file the marks still carry their words as titles, and the table stands below.
for (const system of document.querySelectorAll(".loop-system")) {
  const line = system.querySelector(".loop-said");
  const drawn = system.querySelector(".loop-drawn");
  if (!line || !drawn) continue;
  const first = line.textContent;
  line.hidden = false;
  const marked = (event) => event.target.closest?.(".l-mark");
  const say = (event) => {
    const mark = marked(event);
    if (mark) line.textContent = mark.getAttribute("aria-label");
  };
  const rest = () => { line.textContent = first; };
  const go = (event) => {
    const row = marked(event) && document.getElementById(marked(event).dataset.row);
    if (!row) return;
    row.closest("details").open = true;
    row.scrollIntoView({ block: "center" });
    row.tabIndex = -1;
    row.focus({ preventScroll: true });
  };
  drawn.addEventListener("pointerover", say);
  drawn.addEventListener("focusin", say);
  drawn.addEventListener("pointerleave", rest);
  drawn.addEventListener("focusout", rest);
  drawn.addEventListener("dblclick", go);
  drawn.addEventListener("keydown", (event) => { if (event.key === "Enter") go(event); });
}

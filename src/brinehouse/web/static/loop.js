// What a mark of the loop profile says, in one quiet line under the picture. Without this file the marks still
// carry their words as titles, and lead to their rows of the table.
for (const system of document.querySelectorAll(".loop-system")) {
  const line = system.querySelector(".loop-said");
  if (!line) continue;
  const first = line.textContent;
  line.hidden = false;
  const say = (event) => {
    const mark = event.target.closest?.(".l-mark");
    if (mark) line.textContent = mark.getAttribute("aria-label");
  };
  const rest = () => { line.textContent = first; };
  const drawn = system.querySelector(".loop-drawn");
  drawn.addEventListener("pointerover", say);
  drawn.addEventListener("focusin", say);
  drawn.addEventListener("pointerleave", rest);
  drawn.addEventListener("focusout", rest);
}

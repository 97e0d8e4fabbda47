// The outermost thing that stands out on the right.
const width = document.documentElement.clientWidth;
  const over = [...document.body.querySelectorAll('*')].filter(e => e.getBoundingClientRect().right > width + 1);
  const e = over.find(e => !over.some(o => o !== e && e.contains(o))) || document.body;
  return e.outerHTML.replace(/\s+/g, ' ').slice(0, 110);

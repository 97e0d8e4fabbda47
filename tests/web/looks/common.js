// What the looks share: what can be seen, what it is called, and how colours differ (WCAG 2.2, relative luminance).
const seen = e => {
  if (!e.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true })) return false;
  const r = e.getBoundingClientRect();
  return r.width > 0 && r.height > 0;
};
const called = e => (e.id ? `${e.tagName.toLowerCase()}#${e.id}` : e.outerHTML.replace(/\s+/g, ' ')).slice(0, 110);
const paint = document.createElement('canvas').getContext('2d', { willReadFrequently: true });
const rgba = text => {
  paint.clearRect(0, 0, 1, 1); paint.fillStyle = '#000'; paint.fillStyle = text; paint.fillRect(0, 0, 1, 1);
  const [r, g, b, a] = paint.getImageData(0, 0, 1, 1).data;
  return [r, g, b, a / 255];
};
const over = (top, under) => [0, 1, 2].map(i => top[i] * top[3] + under[i] * (1 - top[3])).concat(1);
const light = c => {
  const [r, g, b] = c.map(v => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};
const ratio = (a, b) => { const [x, y] = [light(a), light(b)].sort((p, q) => q - p); return (x + 0.05) / (y + 0.05); };
const ground = e => {
  const layers = [];
  for (let p = e; p; p = p.parentElement) {
    const c = rgba(getComputedStyle(p).backgroundColor);
    if (c[3] > 0) layers.push(c);
    if (c[3] === 1) break;
  }
  return layers.reverse().reduce((under, top) => over(top, under), rgba('Canvas'));
};

// A page as it stands: titles, targets, boxes, drawn text and values. Run after common.js, inside one function.
const found = [];
const say = (id, e, message) => found.push([id, typeof e === 'string' ? e : called(e), message]);
if (!document.title.trim()) say('brine-title', 'head', 'the page has no title');

const targets = 'a[href], button, input:not([type=hidden]), select, textarea, summary, [role=button], [role=link]';
for (const e of document.querySelectorAll(targets)) {
  if (!seen(e)) continue;
  const whole = e.matches('[type=checkbox], [type=radio]') && e.closest('label') || e;
  const { width, height, bottom } = whole.getBoundingClientRect();
  // a link among words may be as low as its line; one that stands alone must be hit by a wet thumb, or by a mouse
  const among = e.tagName === 'A' && getComputedStyle(e).display === 'inline'
    && e.parentElement.textContent.trim() !== e.textContent.trim();
  const least = e.tagName === 'A' && matchMedia('(pointer: fine)').matches && e.closest('table, .depths') ? 24 : 44;
  if (bottom + scrollY > 0 && !among && (width < least || height < least))
    say('brine-target', e, `can be hit on ${Math.round(width)} by ${Math.round(height)} px, under ${least} by ${least}`);
}

const boxes = 'input:not([type=hidden], [type=checkbox], [type=radio], [type=range], [type=submit], [type=button]), select, textarea';
for (const e of document.querySelectorAll(boxes)) {
  if (!seen(e)) continue;
  const style = getComputedStyle(e);
  if (parseFloat(style.fontSize) < 16) say('brine-input', e, `is written in ${style.fontSize}: under 16 px a phone zooms the page`);
  const around = ground(e.parentElement);
  const fill = over(rgba(style.backgroundColor), around);
  const edged = ['Top', 'Bottom', 'Left', 'Right'].map(side =>
    parseFloat(style[`border${side}Width`]) >= 1 && style[`border${side}Style`] !== 'none'
      ? ratio(over(rgba(style[`border${side}Color`]), around), around) : 1);
  const best = Math.max(ratio(fill, around), Math.min(...edged), edged[1]);
  if (best < 3) say('brine-box', e, `stands out from the page by ${best.toFixed(2)}:1, under 3:1`);
}

for (const e of document.querySelectorAll('svg text')) {
  if (!e.textContent.trim() || !seen(e)) continue;
  const matrix = e.getScreenCTM();
  const size = parseFloat(getComputedStyle(e).fontSize) * Math.hypot(matrix.b, matrix.d);
  if (size < 11.95) say('brine-drawn-text', e, `is drawn ${size.toFixed(1)} px high, under 12`);
}

for (const e of document.querySelectorAll('.figure > .number, .figure > .spread, svg text.value, svg text.name')) {
  if (!seen(e)) continue;
  const style = getComputedStyle(e);
  const under = ground(e);
  const colour = over(rgba(e instanceof SVGElement ? style.fill : style.color), under);
  const got = ratio(colour, under);
  if (got < 7) say('brine-value', e, `a value differs from its ground by ${got.toFixed(2)}:1, under 7:1`);
}
return found;

// After one press of Tab the browser shows focus as it does for a keyboard; the rest of the walk is one call.
const found = [];
const stops = [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex]')]
  .filter(e => e.tabIndex >= 0 && !e.disabled && e.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true }));
const looks = e => [e, ...e.querySelectorAll('*')].slice(0, 12).map(one => {
  const s = getComputedStyle(one);
  const ring = s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) > 0 ? `${s.outlineStyle} ${s.outlineWidth} ${s.outlineColor}` : '';
  return [ring, s.boxShadow, s.borderTopColor, s.borderBottomColor, s.borderBottomWidth, s.backgroundColor, s.textDecorationLine, s.top];
}).join('|');
for (const e of stops) {
  document.activeElement?.blur?.();
  const off = looks(e);
  e.focus();
  if (document.activeElement !== e) continue;
  if (looks(e) === off) found.push(['brine-focus', called(e), 'nothing changes when it takes focus by keyboard']);
  const r = e.getBoundingClientRect();
  const [x, y] = [r.left + r.width / 2, r.top + r.height / 2];
  const top = x >= 0 && y >= 0 && x < innerWidth && y < innerHeight ? document.elementFromPoint(x, y) : null;
  const free = !top || top === e || e.contains(top) || top.contains(e) || top.closest('label')?.control === e
    || (e instanceof SVGElement && e.ownerSVGElement?.contains(top));
  if (r.width > 0 && !free) found.push(['brine-covered', called(e), `its middle is covered by ${called(top)}`]);
}
return found;

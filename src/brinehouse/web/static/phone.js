// What every page of the phone shares: small pieces of a page, the line that says what waits here and whether there is
// a network, the worker that opens the pages without one, and a word before someone leaves with entries unsent.
(() => {
  "use strict";
  const brine = globalThis.brine ??= {};
  const told = document.querySelector("[data-words]");
  const catalogue = told ? JSON.parse(told.dataset.words) : {};
  const words = (key, gaps = {}) => (catalogue[key] ?? key).replace(/\{(\w+)\}/g, (_, gap) => gaps[gap] ?? "");

  function put(made, attributes, children) {
    for (const [name, value] of Object.entries(attributes)) {
      if (value === undefined || value === null || value === false) continue;
      if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
      else if (name === "value") made.value = value;
      else made.setAttribute(name, value === true ? "" : value);
    }
    made.append(...children.filter((child) => child !== null && child !== undefined && child !== false));
    return made;
  }
  const h = (tag, attributes = {}, ...children) => put(document.createElement(tag), attributes, children);
  const svg = (tag, attributes = {}, ...children) => put(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);

  // Shapes of our own: a ring on this phone, half full on the way, full when the hall has it.
  const RING = () => svg("circle", { cx: 6, cy: 6, r: 4.75, class: "hollow" });
  const DRAWN = {
    phone: () => [RING()],
    sent: () => [RING(), svg("path", { d: "M6 1.25a4.75 4.75 0 0 1 0 9.5z" })],
    stored: () => [svg("circle", { cx: 6, cy: 6, r: 5.25 })],
    needs: () => [svg("path", { d: "M6 0l6 6-6 6-6-6z" })],
    "given-up": () => [RING(), svg("path", { d: "M2.6 2.6l6.8 6.8", class: "hollow" })],
    undone: () => [RING(), svg("path", { d: "M2.6 2.6l6.8 6.8", class: "hollow" })],
    skipped: () => [svg("path", { d: "M1 6h10", class: "hollow" })],
    open: () => [svg("path", { d: "M1.5 1.5h9v9h-9z", class: "hollow", "stroke-dasharray": "2 2" })],
    up: () => [svg("path", { d: "M0 6h12", class: "hollow" }), svg("circle", { cx: 6, cy: 6, r: 2.5 })],
    down: () => [svg("path", { d: "M0 6h3.5M8.5 6h3.5M4.5 2.5l3 7", class: "hollow" })],
    watch: () => [svg("path", { d: "M6 1l6 10.5H0z" })],
    act: () => [svg("path", { d: "M6 0l6 6-6 6-6-6z" })],
    ask: () => [svg("circle", { cx: 6, cy: 6, r: 4.75, class: "hollow" }), svg("path", { d: "M6 3v3.5M6 8v1.2", class: "hollow" })],
  };
  const shape = (kind) => svg("svg", { viewBox: "0 0 12 12", class: `shape ${kind}`, "aria-hidden": "true" }, ...DRAWN[kind]());
  const stateMark = (state) => h("span", { class: `state ${state}` }, shape(state), ` ${words(`state_${state.replace("-", "_")}`)}`);

  const two = (n) => String(n).padStart(2, "0");
  function clockTime(iso, zone) {
    try {
      return new Intl.DateTimeFormat("en-GB", { hour: "2-digit", minute: "2-digit", hourCycle: "h23", ...(zone ? { timeZone: zone } : {}) }).format(new Date(iso));
    } catch { const at = new Date(iso); return `${two(at.getHours())}:${two(at.getMinutes())}`; }
  }
  function ago(ms) {
    const minutes = Math.max(0, ms / 6e4);
    if (minutes < 90) return words("minutes", { count: Math.round(minutes) });
    if (minutes < 2880) return words("hours", { count: Math.round(minutes / 60) });
    return words("days", { count: Math.round(minutes / 1440) });
  }
  brine.ui = { h, svg, words, shape, stateMark, clockTime, ago };

  // ---- the line -------------------------------------------------------------------------------------------------------
  const line = document.getElementById("phone-line");
  const network = h("span", { class: "network", role: "status" });
  const held = h("span", { class: "held" });
  let latest = { waiting: 0 };
  function paint(now) {
    latest = now;
    const part = (state, count, always) => (count || always ? [h("span", { class: `state ${state}` }, shape(state), ` ${count} ${words(`state_${state}`)}`)] : []);
    held.replaceChildren(...part("phone", now.phone ?? 0, true), ...part("sent", now.sent), ...part("stored", now.stored ?? 0, true),
      ...(now.photos ? [h("span", {}, words("photos_wait", { count: now.photos }))] : []),
      ...(now.needs ? [h("a", { href: "/phone", class: "state needs" }, shape("needs"), ` ${now.needs} ${words("state_needs")}`)] : []));
    const kind = now.up ? "up" : "down";
    const text = now.broken ? words("disk_broken") : words(now.up ? "network" : "no_network");
    if (network.dataset.said !== text) {
      network.dataset.said = text;
      network.replaceChildren(shape(kind), ` ${text}`);
    }
    line.dataset.up = String(Boolean(now.up));
    const extra = [];
    if (now.signIn && now.waiting) extra.push(h("a", { href: `/enter?next=${encodeURIComponent(location.pathname)}` }, words("sign_in_to_send")));
    if (now.ahead !== null && Math.abs(now.ahead) > 120_000) extra.push(h("span", {}, words("clock_off", { age: ago(Math.abs(now.ahead)) })));
    line.replaceChildren(held, network, ...extra);
  }
  if (line) { brine.queue.watch(paint); brine.queue.start(); }

  // ---- leaving with entries unsent: said once, kept in any case ----------------------------------------------------------
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.matches("[action$='/leave']") || !latest.waiting || form.dataset.warned) return;
    event.preventDefault();
    form.dataset.warned = "yes";
    form.append(h("p", { class: "said watch", role: "alert" }, shape("watch"), ` ${words("leave_warning", { count: latest.waiting })}`));
  });

  // ---- the worker -----------------------------------------------------------------------------------------------------
  if (navigator.serviceWorker) {
    navigator.serviceWorker.register("/phone-worker.js", { scope: "/" }).then((kept) => {
      const take = () => { if (kept.waiting && !document.getElementById("walk")) kept.waiting.postMessage("take over"); };
      take();
      kept.addEventListener("updatefound", () => kept.installing?.addEventListener("statechange", take));
    }, () => {});
  }
})();

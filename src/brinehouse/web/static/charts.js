// Charts that can be taken nearer, moved and read point by point. Without this file the same charts stand there,
// drawn by the server, with their tables.
/* global uPlot */
"use strict";
(() => {
  const DASHES = [[], [7, 3], [2, 3], [9, 3, 2, 3]];
  const INKS = ["--ink", "--water-line", "--gas", "--soft"];
  const LEAST = 120; // seconds: nothing is drawn nearer than that
  const SLIP = 6; // pixels a finger may slip and still have tapped

  const root = document.querySelector(".charts");
  if (!root || typeof uPlot === "undefined") return;
  const words = JSON.parse(root.dataset.words);
  const zone = root.dataset.zone;
  const query = new URLSearchParams(root.dataset.query);
  const clock = new Intl.DateTimeFormat("en-GB", { timeZone: zone, hour: "2-digit", minute: "2-digit" });
  const day = new Intl.DateTimeFormat("en-GB", { timeZone: zone, day: "numeric", month: "short" });
  const month = new Intl.DateTimeFormat("en-GB", { timeZone: zone, month: "short", year: "numeric" });
  const whole = new Intl.DateTimeFormat("en-GB", {
    timeZone: zone, weekday: "short", day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit",
  });
  const ink = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  const amount = (value) => String(Number(value.toPrecision(6))).replace("-", "−");

  let full = null; // the stretch that was asked for
  let shown = null; // the stretch that is drawn
  let asking = null;
  const panels = [];

  const stamp = (at, step) => {
    const date = new Date(at * 1000);
    if (step >= 27 * 86400) return month.format(date);
    const time = clock.format(date);
    return step < 86400 && time !== "00:00" ? time : day.format(date);
  };

  // ---- data ------------------------------------------------------------------------------------------------
  const flat = (panel) => panel.series.flatMap((series, index) => series.lines.map((line) => ({ ...line, series, index })));

  const table = (line) => {
    const hollow = new Set(line.hollow);
    const times = [], values = [];
    let before = null;
    line.times.forEach((at, place) => {
      if (hollow.has(place)) return;
      if (before !== null && line.gap > 0 && at - before > line.gap) { times.push(before + 0.001); values.push(null); }
      times.push(at); values.push(line.values[place]);
      before = at;
    });
    return [times, values];
  };

  const joined = (lines) => {
    const tables = lines.map(table).filter((one) => one[0].length);
    return tables.length ? uPlot.join(tables) : [[], ...lines.map(() => [])];
  };

  const reach = (panel) => {
    const edges = panel.bands.flatMap((band) => [band.low, band.high]).filter((edge) => edge !== null);
    const values = flat(panel).flatMap((line) => [...(line.low || line.values), ...(line.high || line.values)]);
    if (!values.length) return edges.length > 1 ? [Math.min(...edges), Math.max(...edges)] : [0, 1];
    let low = values.reduce((a, b) => Math.min(a, b)), high = values.reduce((a, b) => Math.max(a, b));
    const room = (high - low || Math.abs(high) * 0.01 || 1) * 1.6;
    for (const edge of edges) { low = Math.min(low, Math.max(edge, low - room)); high = Math.max(high, Math.min(edge, high + room)); }
    const spare = 0.04 * (high - low) || 0.5;
    return [low - spare, high + spare];
  };

  // ---- drawing ---------------------------------------------------------------------------------------------
  const shape = (pen, kind, x, y, size) => {
    pen.beginPath();
    if (kind === 0) pen.arc(x, y, size, 0, 2 * Math.PI);
    if (kind === 1) pen.rect(x - size, y - size, 2 * size, 2 * size);
    if (kind === 2) { pen.moveTo(x, y - 1.25 * size); pen.lineTo(x + 1.15 * size, y + 0.85 * size); pen.lineTo(x - 1.15 * size, y + 0.85 * size); pen.closePath(); }
    if (kind === 3) { pen.moveTo(x, y - 1.3 * size); pen.lineTo(x + 1.3 * size, y); pen.lineTo(x, y + 1.3 * size); pen.lineTo(x - 1.3 * size, y); pen.closePath(); }
  };

  const bands = (u, panel) => {
    const pen = u.ctx, { left, top, width, height } = u.bbox;
    pen.save();
    pen.beginPath(); pen.rect(left, top, width, height); pen.clip();
    for (const band of panel.bands) {
      const y = (edge, end) => (edge === null ? end : u.valToPos(edge, "y", true));
      if (band.level === "aim") {
        const upper = y(band.high, top), lower = y(band.low, top + height);
        pen.fillStyle = ink("--water");
        pen.fillRect(left, upper, width, lower - upper);
        continue;
      }
      pen.strokeStyle = pen.fillStyle = ink(`--${band.level}`);
      pen.lineWidth = 1.25 * devicePixelRatio;
      pen.setLineDash([8 * devicePixelRatio, 4 * devicePixelRatio]);
      for (const edge of [band.low, band.high]) {
        if (edge === null) continue;
        const at = u.valToPos(edge, "y", true);
        pen.beginPath(); pen.moveTo(left, at); pen.lineTo(left + width, at); pen.stroke();
        shape(pen, band.level === "act" ? 3 : 2, left + width - 8 * devicePixelRatio, at, 4 * devicePixelRatio); pen.fill();
      }
    }
    pen.restore();
  };

  const marks = (u, panel, events) => {
    const pen = u.ctx, { left, top, width, height } = u.bbox, size = 3.4 * devicePixelRatio;
    pen.save();
    pen.beginPath(); pen.rect(left, top - size, width, height + 2 * size); pen.clip();
    for (const line of flat(panel)) {
      const kind = line.index % 4, hollow = new Set(line.hollow);
      pen.strokeStyle = pen.fillStyle = ink(INKS[kind]);
      pen.lineWidth = 1.25 * devicePixelRatio;
      if (line.low) {
        pen.globalAlpha = 0.55;
        pen.beginPath();
        line.times.forEach((at, place) => {
          const x = u.valToPos(at, "x", true);
          pen.moveTo(x, u.valToPos(line.high[place], "y", true)); pen.lineTo(x, u.valToPos(line.low[place], "y", true));
        });
        pen.stroke();
        pen.globalAlpha = 1;
      }
      line.times.forEach((at, place) => {
        if (line.sensor && !hollow.has(place)) return;
        shape(pen, kind, u.valToPos(at, "x", true), u.valToPos(line.values[place], "y", true), size);
        pen.fillStyle = hollow.has(place) ? ink("--sheet") : ink(INKS[kind]);
        pen.fill(); pen.stroke();
      });
    }
    pen.strokeStyle = ink("--ink"); pen.lineWidth = 1.25 * devicePixelRatio;
    for (const event of events) {
      const x = u.valToPos(event.at, "x", true);
      pen.beginPath(); pen.moveTo(x, top + height); pen.lineTo(x, top + height - 9 * devicePixelRatio); pen.stroke();
    }
    pen.restore();
  };

  const options = (made) => ({
    width: Math.max(made.plot.clientWidth, 240),
    height: made.plot.clientWidth < 600 ? 230 : 260,
    tzDate: (at) => uPlot.tzDate(new Date(at * 1000), zone),
    legend: { show: false },
    cursor: { drag: { x: false, y: false }, points: { show: false }, y: false, sync: { key: "charts" } },
    scales: { x: { range: () => [shown.since, shown.until] }, y: { range: () => reach(made.panel) } },
    series: [{}, ...flat(made.panel).filter((line) => table(line)[0].length).map((line) => ({
      stroke: () => ink(INKS[line.index % 4]), width: line.sensor ? 1.75 : 0.75, dash: DASHES[line.index % 4], points: { show: false },
    }))],
    axes: [
      { stroke: () => ink("--soft"), grid: { show: false }, ticks: { stroke: () => ink("--soft"), size: 4 }, font: "13px B612, Verdana, sans-serif", space: 74,
        values: (u, splits, axis, space, step) => splits.map((at) => stamp(at, step)) },
      { stroke: () => ink("--soft"), grid: { stroke: () => ink("--rule"), width: 0.75 }, ticks: { show: false }, font: "13px B612, Verdana, sans-serif", size: 56,
        values: (u, splits) => splits.map(amount) },
    ],
    hooks: { drawClear: [(u) => bands(u, made.panel)], draw: [(u) => marks(u, made.panel, made.events)] },
  });

  const draw = (made) => {
    if (made.chart) made.chart.destroy();
    made.chart = new uPlot(options(made), joined(flat(made.panel)), made.plot);
    made.points = flat(made.panel).map((line) => line.times.map((at, place) => ({ at, place, line })));
    point(made);
  };

  // ---- moving ----------------------------------------------------------------------------------------------
  const ask = async (since, until) => {
    asking?.abort();
    asking = new AbortController();
    const wanted = new URLSearchParams(query);
    wanted.delete("days"); wanted.set("since", String(since)); wanted.set("until", String(until));
    try {
      const answer = await fetch(`${root.dataset.source}?${wanted}`, { signal: asking.signal });
      if (!answer.ok) return;
      take(await answer.json());
    } catch (fault) { if (fault.name !== "AbortError") return; } // what is drawn stays
  };

  const take = (data) => {
    panels.forEach((made, place) => {
      made.panel = data.panels[place] || made.panel;
      made.events = data.events;
      draw(made);
    });
  };

  let later = 0;
  const show = (since, until, { load = true } = {}) => {
    const width = Math.max(until - since, LEAST), middle = (since + until) / 2;
    shown = { since: middle - width / 2, until: middle + width / 2 };
    for (const made of panels) made.chart.setScale("x", { min: shown.since, max: shown.until });
    clearTimeout(later);
    if (load) later = setTimeout(() => ask(shown.since, shown.until), 200);
  };

  const scale = (times, about = (shown.since + shown.until) / 2) => {
    show(about - (about - shown.since) * times, about + (shown.until - about) * times);
  };

  const back = () => show(full.since, full.until);

  const point = (made) => {
    const over = made.chart.over, held = new Map();
    let start = null, moved = false;
    const value = (x) => made.chart.posToVal(x - over.getBoundingClientRect().left, "x");
    const begin = () => {
      const xs = [...held.values()];
      start = { since: shown.since, until: shown.until, xs, at: xs.map(value), width: over.clientWidth };
    };
    over.addEventListener("pointerdown", (event) => {
      if (event.button > 0) return;
      over.setPointerCapture(event.pointerId);
      held.set(event.pointerId, event.clientX);
      if (held.size === 1) moved = false;
      if (held.size <= 2) begin();
    });
    over.addEventListener("pointermove", (event) => {
      if (!held.has(event.pointerId)) return;
      held.set(event.pointerId, event.clientX);
      const xs = [...held.values()], left = over.getBoundingClientRect().left;
      if (xs.length === 1) {
        const slid = xs[0] - start.xs[0];
        if (Math.abs(slid) < SLIP && !moved) return;
        moved = true;
        const seconds = -slid * (start.until - start.since) / start.width;
        show(start.since + seconds, start.until + seconds, { load: false });
      } else if (xs.length === 2) {
        moved = true;
        const [a, b] = xs.map((x) => x - left);
        if (Math.abs(b - a) < 12) return;
        const each = (start.at[1] - start.at[0]) / (b - a); // seconds in a pixel
        if (each > 0) show(start.at[0] - a * each, start.at[0] + (start.width - a) * each, { load: false });
      }
    });
    const end = (event) => {
      if (!held.delete(event.pointerId)) return;
      if (held.size) { begin(); return; }
      if (moved) show(shown.since, shown.until);
      else if (event.type === "pointerup") tell(made, nearest(made, value(event.clientX), event.clientY));
    };
    over.addEventListener("pointerup", end);
    over.addEventListener("pointercancel", end);
  };

  // ---- telling ---------------------------------------------------------------------------------------------
  const nearest = (made, at, clientY) => {
    let found = null, least = Infinity;
    const box = made.chart.over.getBoundingClientRect();
    made.points.forEach((points, line) => points.forEach((one, place) => {
      const x = made.chart.valToPos(one.at, "x") - made.chart.valToPos(at, "x");
      const y = made.chart.valToPos(one.line.values[one.place], "y") - (clientY - box.top);
      const far = Math.hypot(x, 0.3 * y);
      if (far < least) { least = far; found = { line, place }; }
    }));
    return found;
  };

  const tell = (made, place) => {
    if (!place || !made.points[place.line]?.[place.place]) { made.said.textContent = words.none; return; }
    made.at = place;
    const one = made.points[place.line][place.place], line = one.line;
    const parts = [whole.format(new Date(one.at * 1000)), line.series.name, `${amount(line.values[one.place])} ${made.panel.unit === "1" ? "" : made.panel.unit}`.trim()];
    if (line.counts && line.counts[one.place] > 1) {
      parts.push(words.between.replace("{low}", amount(line.low[one.place])).replace("{high}", amount(line.high[one.place])).replace("{count}", line.counts[one.place]));
    }
    parts.push(line.sensor ? words.sensor : words.hand);
    if (line.hollow.includes(one.place)) parts.push(words.doubtful);
    const step = (shown.until - shown.since) / made.chart.over.clientWidth * 8;
    const near = made.events.filter((event) => Math.abs(event.at - one.at) < step).map((event) => event.words);
    if (near.length) parts.push(words.event.replace("{words}", near[0]));
    made.said.textContent = parts.join(", ");
    made.chart.setCursor({ left: made.chart.valToPos(one.at, "x"), top: made.chart.valToPos(line.values[one.place], "y") });
  };

  const step = (made, by) => {
    const line = made.at?.line ?? 0, points = made.points[line] || [];
    if (!points.length) { tell(made, null); return; }
    const place = made.at ? Math.min(Math.max(made.at.place + by, 0), points.length - 1) : by < 0 ? points.length - 1 : 0;
    const one = points[place];
    if (one.at < shown.since || one.at > shown.until) {
      const half = (shown.until - shown.since) / 2;
      show(one.at - half, one.at + half, { load: false });
    }
    tell(made, { line, place });
  };

  const other = (made, by) => {
    const lines = made.points.length;
    if (!lines) return;
    const before = made.at ? made.points[made.at.line]?.[made.at.place] : null;
    const line = ((made.at?.line ?? 0) + by + lines) % lines;
    const points = made.points[line];
    let place = 0;
    points.forEach((one, at) => { if (before && Math.abs(one.at - before.at) < Math.abs(points[place].at - before.at)) place = at; });
    tell(made, { line, place });
  };

  const keys = (made, event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const here = made.at ? made.points[made.at.line]?.[made.at.place]?.at : undefined;
    const does = {
      ArrowLeft: () => step(made, -1), ArrowRight: () => step(made, 1), ArrowUp: () => other(made, -1), ArrowDown: () => other(made, 1),
      Home: () => step(made, -1e9), End: () => step(made, 1e9), PageUp: () => step(made, -10), PageDown: () => step(made, 10),
      "+": () => scale(0.5, here), "=": () => scale(0.5, here), "-": () => scale(2, here), Escape: back,
    }[event.key];
    if (!does) return;
    event.preventDefault();
    does();
  };

  // ---- setting up ------------------------------------------------------------------------------------------
  const button = (text, work) => {
    const made = document.createElement("button");
    made.type = "button"; made.textContent = text;
    made.addEventListener("click", work);
    return made;
  };

  const begin = (data) => {
    full = shown = { since: data.since, until: data.until };
    document.querySelectorAll(".plot").forEach((plot, place) => {
      const drawn = plot.querySelector(".chart-drawn"), name = plot.parentElement.querySelector("h2").textContent.trim();
      const said = document.createElement("p"), tools = document.createElement("div");
      said.className = "chart-said"; said.setAttribute("aria-live", "polite");
      if (!place && matchMedia("(pointer: fine)").matches) said.textContent = words.keys;
      tools.className = "chart-tools";
      tools.append(button(words.in, () => scale(0.5)), button(words.out, () => scale(2)), button(words.back, back));
      drawn.hidden = true;
      plot.tabIndex = 0; plot.setAttribute("role", "application"); plot.setAttribute("aria-label", `${name}. ${words.keys}`);
      plot.after(said);
      if (!place) said.after(tools); // all charts move together
      const made = { plot, said, panel: data.panels[place], events: data.events, at: null };
      panels.push(made);
      draw(made);
      plot.addEventListener("keydown", (event) => keys(made, event));
    });
    const again = () => panels.forEach(draw);
    let width = window.innerWidth;
    window.addEventListener("resize", () => { if (window.innerWidth !== width) { width = window.innerWidth; again(); } });
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
    document.fonts?.ready.then(again);
  };

  fetch(`${root.dataset.source}?${query}`).then((answer) => (answer.ok ? answer.json() : null)).then((data) => { if (data) begin(data); }, () => {});
})();

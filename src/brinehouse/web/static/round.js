// A round, walked on this phone with or without a network: the plan is kept here, each answer goes into the queue
// before the next stop is shown, and how far the walk is survives a reload, a crash and an empty battery.
(() => {
  "use strict";
  const { queue, judging, ui } = globalThis.brine;
  const { h, svg, words: t, clockTime, ago, stateMark } = ui;
  const root = document.getElementById("walk");
  if (!root) return;
  document.querySelector("main > h1")?.remove();
  const name = decodeURIComponent(/^\/(?:phone\/round|rounds)\/([^/]+)/.exec(location.pathname)?.[1] || root.dataset.round || "");
  const REASONS = t("skip_reasons").split("|"), UNUSUAL = t("unusual_reasons").split("|");
  let plan, signIn = false, walk, screens = [], states = new Map(), undoable = null, undoTimer, drawn = null;

  // ---- plan and walk ------------------------------------------------------------------------------------------------
  async function begin() {
    try { [plan, walk] = await Promise.all([queue.get("plans", name), queue.get("walks", name)]); } catch { plan = walk = undefined; }
    if (plan) { lay(); show(); }
    const fresh = await fetched();
    if (fresh && fresh.version !== plan?.version) {
      plan = fresh;
      lay();
      if (!drawn || !walk || !busy()) show();
    } else if (fresh) { plan = fresh; if (drawn === "start") show(); }
    if (!plan) sayNoPlan();
  }
  const busy = () => Boolean(root.querySelector("input")?.value);
  async function fetched() {
    const stop = new AbortController();
    const limit = setTimeout(() => stop.abort(), plan ? 4000 : 20_000);
    try {
      const answer = await fetch(`/rounds/${encodeURIComponent(name)}/plan.json`, {
        signal: stop.signal, redirect: "manual", headers: { Accept: "application/json", "X-Brinehouse-Phone": "1" } });
      signIn = answer.status === 401 || answer.type === "opaqueredirect";
      if (!answer.ok) return null;
      const got = await answer.json();
      if (!Array.isArray(got?.stops)) return null;
      got.keptAt = Date.now();
      got.ref = name;
      await queue.put("plans", { ...got, round: name }).catch(() => {});
      return got;
    } catch { return null; } finally { clearTimeout(limit); }
  }
  function lay() {
    screens = plan.stops.flatMap((stop, number) => [
      ...(stop.zone_change ? [{ key: `${stop.key}~zone`, kind: "zone", stop, number }] : []),
      ...asksOf(stop).map((ask, at) => ({ key: `${stop.key}~${at}`, kind: ask.kind, stop, ask, number, at })),
    ]);
  }
  // Several signs looked for at one stop are one screen, and usually one tap.
  function asksOf(stop) {
    const signs = stop.asks.filter((ask) => ask.kind === "observation");
    if (signs.length < 2) return stop.asks;
    const together = { kind: "look", label: signs.map((sign) => sign.label).join(", "), signs, last: null };
    return [together, ...stop.asks.filter((ask) => ask.kind !== "observation")];
  }
  const screenOf = (key) => screens.find((one) => one.key === key);
  const settled = (one) => Boolean(walk.done[one.key]) || one.stop.key in walk.skipped;
  const nextOpen = (from) => {
    const at = screens.indexOf(from) + 1;
    return [...screens.slice(at), ...screens.slice(0, at)].find((one) => !settled(one));
  };
  const stopOver = (stop, done = walk.done) => screens.filter((one) => one.stop === stop).every((one) => done[one.key]);
  const draft = (one) => walk.drafts[one.key] ??= queue.newId();

  function newWalk(person, taken) {
    const done = {};
    const entered = new Set(taken?.zones || []), passed = new Set(taken?.done || []);
    for (const one of screens) if (one.kind === "zone" ? entered.has(one.stop.zone) : passed.has(one.stop.key)) done[one.key] = { far: true };
    return { round: name, id: taken?.id || queue.newId(), person, begun: new Date().toISOString(), done, drafts: {},
      skipped: { ...taken?.skipped }, from: taken?.by || "", ended: "" };
  }
  const entry = (kind, stop, body, about, id) => ({
    id: id || queue.newId(), made: new Date().toISOString(), person: walk.person, round: name, walk: walk.id, stop: stop?.key ?? "",
    kind, body, about });

  // Keeps an answer with what it settles, and goes on to the next stop.
  async function answer(one, entries, said) {
    const done = { ...walk.done, [one.key]: { id: entries[0].id, said, at: entries[0].made } };
    const over = stopOver(one.stop, done) && !(one.stop.key in walk.skipped);
    if (over) entries.push(entry("stop", one.stop, { what: "done", reason: "" }, { title: one.stop.title, said: t("stop_done") }));
    await commit(one, entries, { ...walk, done }, said);
  }
  async function skip(one, reason) {
    const kept = entry("stop", one.stop, { what: "skipped", reason }, { title: one.stop.title, said: `${t("skipped")}: ${reason}` }, draft(one));
    await commit(one, [kept], { ...walk, skipped: { ...walk.skipped, [one.stop.key]: reason } }, t("skipped"));
  }
  async function commit(one, entries, next, said) {
    const hold = Date.now() + queue.HOLD;
    const before = walk;
    next.drafts = { ...next.drafts };
    delete next.drafts[one.key];
    try {
      await queue.keep(entries.map((row) => ({ ...row, hold })), next);
    } catch (fault) {
      say(t("not_kept", { why: fault?.name === "QuotaExceededError" ? t("room_full") : String(fault?.message || fault) }), "act");
      return;
    }
    walk = next;
    undoable = { ids: entries.map((row) => row.id), walk: before, key: one.key, said: `${one.stop.title}: ${said}`, until: hold };
    const follows = nextOpen(one);
    go(follows ? follows.key : "end");
  }
  async function undo() {
    const back = undoable;
    if (!back) return;
    undoable = null;
    const taken = await Promise.all(back.ids.map((id) => queue.undo(id)));
    if (!taken.some(Boolean)) { paintUndo(); say(t("undo_late")); return; }
    walk = { ...back.walk, id: walk.id, drafts: {} };
    await queue.put("walks", walk);
    go(back.key);
  }

  // ---- which screen -----------------------------------------------------------------------------------------------------
  const asked = () => decodeURIComponent(location.hash.slice(1));
  function go(key) {
    if (asked() === key) show();
    else location.hash = encodeURIComponent(key);
  }
  function show() {
    const key = asked();
    const one = walk && !walk.ended ? screenOf(key) : null;
    drawn = one ? one.kind : walk && !walk.ended && (key === "end" || key === "all") ? key : "start";
    const make = { start: drawStart, end: drawEnd, all: drawAll, zone: drawZone, reading: drawReading, observation: drawChoice, look: drawLook, feeding: drawFeeding };
    const made = (make[drawn] || drawChoice)(one);
    root.replaceChildren(...made.filter(Boolean));
    paintUndo();
    const first = root.querySelector("[data-first]") || root.querySelector("h1");
    first?.focus({ preventScroll: true });
    scrollTo(0, 0);
    document.title = `${root.querySelector("h1").textContent} – ${plan?.name || name}`;
  }
  addEventListener("hashchange", () => { if (plan) show(); });
  root.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || event.isComposing) return;
    const open = root.querySelector("[data-opened]");
    if (open) open.dispatchEvent(new Event("shut"));
    else if (drawn !== "start") back();
  });
  function back() {
    const at = screens.findIndex((one) => one.key === asked());
    go(at > 0 ? screens[at - 1].key : at === 0 ? "all" : drawn === "end" && screens.length ? screens.at(-1).key : "");
  }

  // ---- parts of a screen -----------------------------------------------------------------------------------------------
  const title = (text) => h("h1", { tabindex: -1 }, text);
  const line = (...parts) => h("p", { class: "soft" }, ...parts.filter(Boolean));
  const button = (text, act, more = {}) => h("button", { type: "button", ...more, onclick: act }, text);
  function topOf(one) {
    const many = screens.filter((other) => other.stop === one.stop && other.kind !== "zone");
    const part = many.length > 1 && one.kind !== "zone" ? `, ${t("part_of", { part: one.at + 1, parts: many.length })}` : "";
    return h("p", { class: "walk-top" }, h("a", { href: "#all" }, `${plan.name}, ${t("stop_of", { stop: one.number + 1, stops: plan.stops.length })}${part}`));
  }
  function say(text, level = "") {
    const place = root.querySelector(".said") || root.appendChild(h("p", { class: "said", role: "status" }));
    place.className = `said ${level}`;
    place.replaceChildren(...(level ? [ui.shape(level), " "] : []), text);
  }
  function foot(one) {
    const chosen = h("input", { type: "file", accept: "image/*", capture: "environment", hidden: true, id: "photo",
      onchange: (event) => takePhoto(one, event.target.files[0]) });
    return h("div", { class: "walk-foot" },
      button(t("skip"), () => openSkip(one), { class: "plain" }),
      chosen, button(t("photo"), () => chosen.click(), { class: "plain" }),
      button(t("back"), back, { class: "plain" }));
  }
  function reasons(choices, done, label, { optional = false, answerText }) {
    const box = h("input", { id: "why", name: "why", autocomplete: "off", maxlength: 200, "data-first": "" });
    const form = h("form", { class: "why", "data-opened": "", onsubmit: (event) => {
      event.preventDefault();
      if (box.value.trim() || optional) done(box.value.trim());
      else { say(t("reason_needed"), "ask"); box.focus(); }
    } },
    h("div", { class: "field" }, h("label", { for: "why" }, label), box),
    h("div", { class: "choices" }, ...choices.map((one) => button(one, () => done(one)))),
    h("button", { class: "answer" }, answerText));
    form.addEventListener("shut", show);
    return form;
  }
  function openSkip(one) {
    const form = reasons(REASONS, (why) => skip(one, why), t("skip_why"), { answerText: t("skip_now") });
    root.replaceChildren(topOf(one), title(one.stop.title), form, h("div", { class: "walk-foot" }, button(t("back"), show, { class: "plain" })));
    form.querySelector("input").focus();
  }
  function paintUndo() {
    clearTimeout(undoTimer);
    root.querySelector(".undo")?.remove();
    const left = undoable ? undoable.until - Date.now() : 0;
    if (left < 500) { undoable = null; return; }
    root.append(h("p", { class: "undo" }, h("span", {}, t("kept_here", { what: undoable.said })), " ", button(t("undo"), undo, { class: "plain" })));
    undoTimer = setTimeout(() => { undoable = null; paintUndo(); }, left - 400);
  }
  function earlier(one) {
    const had = walk.done[one.key];
    if (one.stop.key in walk.skipped) return line(`${t("skipped")}: ${walk.skipped[one.stop.key]}`);
    if (!had) return null;
    if (had.far) return line(t("done_far", { by: walk.from }));
    return line(stateMark(states.get(had.id) || "phone"), ` ${had.said}, ${clockTime(had.at, plan.zone)}. `, t("beside"));
  }

  // ---- begin, overview, end -----------------------------------------------------------------------------------------------
  function drawStart() {
    if (!plan) return [title(t("fetching"))];
    const taken = plan.walk, made = [];
    const ongoing = walk && !walk.ended;
    const far = taken && (!walk || taken.id !== walk.id) ? taken : null;
    made.push(title(t("start_title", { name: plan.name, stops: plan.stops.length })),
      line(t("plan_kept", { age: ago(Date.now() - plan.keptAt) })),
      h("div", { class: "safe", "aria-live": "polite" }));
    tellRoom(made[2]);
    const open = (person, from) => async () => {
      walk = newWalk(person, from);
      try {
        if (from) await queue.put("walks", walk);
        else await queue.keep([entry("walk", null, { what: "begun", zone: screens[0]?.stop.zone || "" }, { title: plan.name, said: t("begun") })], walk);
      } catch (fault) { walk = undefined; say(t("not_kept", { why: String(fault?.message || fault) }), "act"); return; }
      go((screens.find((one) => !settled(one)) || { key: "end" }).key);
    };
    if (ongoing) {
      const at = screens.find((one) => !settled(one));
      const count = plan.stops.filter((stop) => stopOver(stop) || stop.key in walk.skipped).length;
      made.push(button(t("go_on", { done: count, stops: plan.stops.length }), () => go(at ? at.key : "end"), { class: "answer wide", "data-first": "" }));
    }
    const everybody = plan.people || [], people = plan.who ? [] : everybody;
    const tiles = (label, from) => {
      const list = people.length ? people.map((one) => button(one.name, open(one.number, from), { class: "tile" }))
        : plan.who ? [button(t("begin_as", { name: plan.who.name }), open(plan.who.number, from), { class: ongoing ? "wide" : "answer wide" })] : [button(t("begin"), open(null, from), { class: ongoing ? "wide" : "answer wide", ...(ongoing ? {} : { "data-first": "" }) })];
      return [h("h2", {}, label), h("div", { class: people.length ? "tiles" : "" }, ...list)];
    };
    if (far) made.push(...tiles(t("go_on_far", { by: far.by || t("somebody"), done: far.done.length, stops: plan.stops.length }), far));
    if (ongoing) made.push(h("details", { class: "more" }, h("summary", {}, t("begin_anew")), ...tiles(people.length ? t("who_walks") : t("begin_anew"))));
    else made.push(...tiles(people.length ? t("who_walks") : t("begin")));
    const others = plan.who ? everybody.filter((one) => one.number !== plan.who.number) : [];
    if (others.length) {
      made.push(h("details", { class: "more" }, h("summary", {}, t("somebody_else")), h("p", { class: "soft" }, t("somebody_else_hint")),
        h("div", { class: "tiles" }, ...others.map((one) => button(one.name, open(one.number, far), { class: "tile" })))));
    }
    return made;
  }
  async function tellRoom(place) {
    const found = await queue.room();
    const unsafe = found.reasons.length > 0;
    place.replaceChildren(...(unsafe ? [h("p", { class: "said act" }, ui.shape("act"), " ", h("strong", {}, `${t("not_safe")}: `),
      found.reasons.map((one) => t(`room_${one}`)).join("; "))] : [h("p", { class: "soft" }, t("safe"))]),
    ...found.cautions.map((one) => h("p", { class: "soft" }, t(`room_${one}`))));
  }
  function sayNoPlan() {
    const door = `/enter?next=${encodeURIComponent(location.pathname)}`;
    root.replaceChildren(title(t("no_plan")), line(t(signIn ? "no_plan_sign_in" : "no_plan_hint")),
      signIn && h("p", {}, h("a", { href: door, class: "button answer" }, t("sign_in"))), h("p", {}, h("a", { href: "/phone", class: "link" }, t("to_phone"))));
  }
  function drawAll() {
    const rows = plan.stops.map((stop, number) => {
      const mine = screens.filter((one) => one.stop === stop);
      const state = stateOf(stop);
      return h("li", {}, h("a", { href: `#${encodeURIComponent((mine.find((one) => !settled(one)) || mine[0]).key)}` },
        h("span", { class: "number" }, number + 1), h("span", {}, stop.title)), h("span", { class: "soft", "data-stop": stop.key }, stateMark(state)));
    });
    return [title(t("all_title", { name: plan.name })), h("ol", { class: "stops" }, ...rows),
      h("div", { class: "actions" }, h("a", { href: "#end", class: "button" }, t("to_end")), h("a", { href: "/phone" }, t("to_phone")))];
  }
  function stateOf(stop) {
    const mine = screens.filter((one) => one.stop === stop);
    const done = mine.map((one) => walk.done[one.key]).filter(Boolean);
    return stop.key in walk.skipped ? "skipped" : done.length < mine.length ? "open" : worst(done);
  }
  function worst(done) {
    const all = done.map((one) => (one.far ? "stored" : states.get(one.id) || "phone"));
    return ["needs", "phone", "sent", "stored"].find((state) => all.includes(state)) || "stored";
  }
  function drawEnd() {
    const open = plan.stops.filter((stop) => !stopOver(stop) && !(stop.key in walk.skipped));
    const skipped = Object.entries(walk.skipped);
    const titleOf = (key) => plan.stops.find((stop) => stop.key === key)?.title || key;
    const made = [title(open.length ? t("end_open", { open: open.length }) : t("end_title", { name: plan.name }))];
    if (open.length) made.push(h("ul", { class: "stops" }, ...open.map((stop) => h("li", {},
      h("a", { href: `#${encodeURIComponent(screens.find((one) => one.stop === stop && !settled(one)).key)}` }, stop.title)))));
    if (skipped.length) made.push(h("h2", {}, t("skipped_title")), h("ul", {}, ...skipped.map(([key, why]) => h("li", {}, `${titleOf(key)}: ${why}`))));
    made.push(button(t("end_now"), async () => {
      await queue.releaseHolds();
      const loose = await loosePictures();
      const ended = { ...walk, ended: new Date().toISOString() };
      await queue.keep([...loose, entry("walk", null, { what: "ended" }, { title: plan.name, said: t("ended") })], ended);
      walk = ended;
      location.assign("/phone");
    }, { class: "answer wide", "data-first": "" }), h("div", { class: "walk-foot" }, button(t("back"), back, { class: "plain" })));
    return made;
  }
  async function loosePictures() {
    const had = new Set((await queue.photos()).map((photo) => photo.about));
    return Object.entries(walk.drafts).filter(([, id]) => had.has(id)).map(([key, id]) => {
      const stop = screenOf(key)?.stop;
      return entry("note", stop, { place: stop?.place || "", text: t("picture_only") }, { title: stop?.title || "", said: t("picture_only") }, id);
    });
  }

  // ---- a change of zone --------------------------------------------------------------------------------------------------
  function drawZone(one) {
    const wanted = one.stop.zone_change, ticks = {};
    const tick = (key) => wanted[key] && h("label", { class: "tick" }, ticks[key] = h("input", { type: "checkbox", name: key }), t(`zone_${key}`));
    const leave = async () => {
      const body = { what: "zone", zone: one.stop.zone, foot_bath: Boolean(ticks.foot_bath?.checked), tools: Boolean(ticks.tools?.checked) };
      const missing = Object.values(ticks).some((box) => !box.checked);
      if (missing && !root.querySelector("[data-warned]")) {
        root.querySelector(".said")?.remove();
        go_in.before(h("p", { class: "said watch", role: "status", "data-warned": "" }, ui.shape("watch"), " ", t("zone_missing")));
        go_in.textContent = t("zone_without");
        return;
      }
      await answer(one, [entry("walk", one.stop, body, { title: one.stop.zone_name, said: t(missing ? "zone_without" : "zone_in") })], one.stop.zone_name);
    };
    const go_in = h("button", { class: "answer" }, t("zone_in"));
    return [topOf(one), title(t("zone_title", { zone: one.stop.zone_name })), line(t("zone_next", { stop: one.stop.title })), earlier(one),
      h("form", { onsubmit: (event) => { event.preventDefault(); leave(); } }, tick("foot_bath"), tick("tools"), go_in), foot(one)];
  }

  // ---- a reading ----------------------------------------------------------------------------------------------------------
  function drawReading(one) {
    const { ask } = one;
    const units = [ask.unit, ...Object.keys(ask.scales || {})].filter((unit, at, all) => all.indexOf(unit) === at);
    const box = h("input", { id: "value", name: "value", class: "typed", inputmode: "none", autocomplete: "off", enterkeyhint: "done", maxlength: 40,
      "aria-describedby": "context", "data-first": "", "aria-label": `${ask.label}, ${ask.unit}` });
    const unit = units.length > 1 ? h("select", { "aria-label": t("unit"), onchange: () => retell() }, ...units.map((it) => h("option", { value: it }, it)))
      : h("span", { class: "unit" }, judging.behind(ask.unit));
    const basis = ask.bases?.length ? h("select", { id: "basis" }, h("option", { value: "" }, t("choose")), ...ask.bases.map((it) => h("option", { value: it }, t(`basis_${it}`).replace(/^basis_/, "")))) : null;
    const picture = h("div", { class: "week" });
    const said = h("p", { class: "said" }), aloud = h("p", { class: "seen-by-readers", "aria-live": "polite" });
    const keep = h("button", { class: "answer" }, t("keep"));
    let judged, telling;
    const retell = () => {
      judged = box.value.trim() ? judging.judge(ask, box.value, units.length > 1 ? unit.value : "") : null;
      const level = { unusual: "watch", impossible: "act" }[judged?.answer] || "";
      const meant = judged?.slip && judged.slip.value !== null
        ? [" ", button(t("meant", { text: judged.slip.text }), () => { box.value = plainOf(judged.slip); unit.value = ask.unit; retell(); box.focus(); }, { class: "plain" })] : [];
      const hint = meant.length ? "" : judged?.hint;
      const text = judged ? [judged.sentence, hint, judged.note].filter(Boolean).map(capital).join(". ") : "";
      said.className = `said ${level}`;
      said.replaceChildren(...(level ? [ui.shape(level), " "] : []), text || (judged ? t("inside") : t("type_it")), ...meant);
      keep.textContent = judged?.answer === "unusual" ? t("keep_reason") : t("keep");
      keep.disabled = judged?.answer === "impossible";
      box.setAttribute("aria-invalid", String(judged?.answer === "impossible"));
      picture.replaceChildren(weekLine(ask, judged?.value ?? null, level));
      clearTimeout(telling);
      telling = setTimeout(() => { aloud.textContent = judged ? text || t("inside") : ""; }, 600);
    };
    box.addEventListener("input", retell);
    const form = h("form", { onsubmit: (event) => {
      event.preventDefault();
      if (!judged) { said.className = "said ask"; said.replaceChildren(ui.shape("ask"), " ", t("type_it_first")); box.focus(); return; }
      if (judged.answer === "impossible") { box.focus(); return; }
      if (basis && !basis.value && !judged.missing) { said.className = "said ask"; said.replaceChildren(ui.shape("ask"), " ", t("basis_first")); basis.focus(); return; }
      const given = { text: box.value, unit: units.length > 1 ? unit.value : ask.unit, basis: basis ? basis.value : ask.basis || "" };
      if (judged.answer === "unusual") askWhy(one, judged, given);
      else keepReading(one, judged, given, false, "");
    } }, h("p", { class: "typing" }, box, unit), basis && h("div", { class: "field" }, h("label", { for: "basis" }, t("basis")), basis),
    picture, said, aloud, keypad(box, ask, retell), keep);
    const last = ask.last ? t("last", { text: ask.last.text, age: ago(Date.now() - Date.parse(ask.last.at)), by: ask.last.by || "" }).replace(/, $/, "") : t("never_read");
    retell();
    return [topOf(one), title(labelOf(one)), h("p", { class: "soft", id: "context" }, [ask.instrument_note || ask.instrument, last].filter(Boolean).join(" · ")),
      earlier(one), form, foot(one)];
  }
  const capital = (text) => text[0].toUpperCase() + text.slice(1);
  const labelOf = (one) => (one.stop.title.includes(one.ask.label) ? one.stop.title : `${one.stop.title}, ${one.ask.label}`);
  const plainOf = (slip) => slip.text.replace("−", "-").replace(/[^\d.\-].*$/, "");
  function askWhy(one, judged, given) {
    const form = reasons(UNUSUAL, (why) => keepReading(one, judged, given, true, why), t("unusual_why"),
      { optional: true, answerText: t("keep_so", { text: judged.stored.replace("-", "−") }) });
    form.addEventListener("shut", () => { const box = root.querySelector("#value"); box.value = given.text; box.dispatchEvent(new Event("input")); });
    root.replaceChildren(topOf(one), title(labelOf(one)), h("p", { class: "said watch" }, ui.shape("watch"), " ", judged.sentence), form,
      h("div", { class: "walk-foot" }, button(t("back"), () => form.dispatchEvent(new Event("shut")), { class: "plain" })));
    form.querySelector("input").focus();
  }
  function keepReading(one, judged, { text, unit, basis }, sure, reason) {
    const { ask } = one;
    const body = { place: one.stop.point || one.stop.place, quantity: ask.quantity, text: judged.missing ? judged.stored : text.trim(), unit,
      instrument: ask.instrument || "", basis, sure, reason };
    const said = judged.stored.replace("-", "−");
    return answer(one, [entry("reading", one.stop, body, { title: labelOf(one), said }, draft(one))], said);
  }

  // Keys as large as a thumb; a decimal sign, and a minus only where one can be.
  function keypad(box, ask, retell) {
    const type = (sign) => {
      const [from, to] = [box.selectionStart ?? box.value.length, box.selectionEnd ?? box.value.length];
      if (sign === "⌫") box.setRangeText("", from === to ? Math.max(0, from - 1) : from, to, "end");
      else if (sign === "−") box.value = box.value.startsWith("-") ? box.value.slice(1) : `-${box.value}`;
      else if (sign === "<") box.value = box.value.startsWith("<") ? box.value.slice(1) : `<${box.value}`;
      else box.setRangeText(sign, from, to, "end");
      retell();
      box.focus({ preventScroll: true });
    };
    const below = ask.possible?.[0] === 0 && ask.expected?.[0] === 0;
    const low = [...(ask.negative ? ["−"] : below ? ["<"] : []), ".", "0", "⌫"];
    const spoken = { "⌫": t("key_back"), "−": t("key_minus"), ".": t("key_point"), "<": t("key_below") };
    const key = (sign) => h("button", { type: "button", tabindex: -1, class: low.length > 3 && low.includes(sign) ? "fourth" : "third",
      "aria-label": spoken[sign], onclick: () => type(sign) }, sign);
    return h("div", { class: "keys", role: "group", "aria-label": t("keys") }, ..."789456123".split("").map(key), ...low.map(key));
  }

  // The last seven days, what is expected as a band, and where the typed value falls.
  function weekLine(ask, value, level) {
    const WIDE = 358, HIGH = 76, LEFT = 4, RIGHT = 330, TOP = 8, LOW = 66;
    const [low, high] = ask.expected || [null, null];
    const trace = (ask.trace || []).filter(([hours]) => hours <= 168);
    const known = trace.map((pair) => pair[1]);
    const inView = value !== null && ask.possible && value >= ask.possible[0] && value <= ask.possible[1];
    const all = [...known, ...(low === null ? [] : [low, high]), ...(inView ? [value] : [])];
    if (!all.length) return h("p", { class: "soft" }, t("no_week"));
    let least = Math.min(...all), most = Math.max(...all);
    if (most === least) { least -= 1; most += 1; }
    const y = (v) => LOW - ((Math.min(Math.max(v, least), most) - least) / (most - least)) * (LOW - TOP);
    const x = (hours) => RIGHT - (Math.min(hours, 168) / 168) * (RIGHT - LEFT);
    const parts = [];
    if (low !== null) parts.push(svg("rect", { class: "d-aim", x: LEFT, width: RIGHT - LEFT, y: y(high), height: Math.max(y(low) - y(high), 1) }));
    parts.push(svg("path", { class: "d-rule", d: `M${LEFT} ${LOW + 4}H${RIGHT}` }));
    if (trace.length > 1) parts.push(svg("path", { class: "d-trace", d: trace.map(([hours, v], at) => `${at ? "L" : "M"}${x(hours).toFixed(1)} ${y(v).toFixed(1)}`).join("") }));
    for (const [hours, v] of trace) parts.push(svg("circle", { class: "d-dot", cx: x(hours).toFixed(1), cy: y(v).toFixed(1), r: 2 }));
    if (low !== null) {
      parts.push(svg("text", { x: LEFT + 3, y: y(high) - 2 < 12 ? y(high) + 12 : y(high) - 2 }, judging.plain(high)),
        svg("text", { x: LEFT + 3, y: y(low) - y(high) < 28 ? Math.min(y(low) + 12, HIGH) : y(low) - 3 }, judging.plain(low)));
    }
    if (value !== null) {
      const at = y(value), fill = level === "act" ? "d-act-fill" : level === "watch" ? "d-watch-fill" : "d-ink-fill";
      parts.push(svg("path", { class: fill, d: `M${RIGHT + 12} ${at - 8}l8 8l-8 8l-8-8z` }));
    }
    const told = [low === null ? "" : t("week_band", { low: judging.plain(low), high: judging.plain(high) }),
      known.length ? t("week_range", { low: judging.plain(Math.min(...known)), high: judging.plain(Math.max(...known)) }) : t("no_week")];
    return svg("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img", "aria-label": told.filter(Boolean).join("; ") }, ...parts);
  }

  // ---- one tap: appetite, breathing, behaviour, a check ------------------------------------------------------------------
  const choiceOf = (one) => (typeof one === "string" ? { value: one, label: one } : { value: one.value ?? one.word ?? one[0], label: one.label ?? one.name ?? one[1], ...one });
  function drawChoice(one) {
    const { ask } = one;
    const words = h("input", { id: "words", autocomplete: "off", maxlength: 400 });
    const keep = (choice) => answer(one, [entry(ask.kind, one.stop, { place: one.stop.place, animals: ask.animals || "", sign: ask.sign || ask.quantity,
      answer: choice.value, words: words.value.trim() }, { title: labelOf(one), said: choice.label }, draft(one))], choice.label);
    const choices = (ask.choices || []).map(choiceOf);
    return [topOf(one), title(labelOf(one)), line(ask.last ? t("last", { text: ask.last.text, age: ago(Date.now() - Date.parse(ask.last.at)), by: ask.last.by || "" }) : t("never_seen")),
      earlier(one), h("div", { class: "big-choices" }, ...choices.map((choice, at) => button(choice.label, () => keep(choice), at ? {} : { "data-first": "" }))),
      h("div", { class: "field" }, h("label", { for: "words" }, t("in_words")), words), foot(one)];
  }
  function drawLook(one) {
    const { signs } = one.ask, chosen = {};
    const words = h("input", { id: "words", autocomplete: "off", maxlength: 400 });
    const keep = button(t("look_all"), () => {
      const answers = signs.map((sign) => chosen[sign.sign] || choiceOf(sign.choices[0]));
      const unlike = answers.flatMap((choice, at) => (chosen[signs[at].sign] ? [`${signs[at].label} ${choice.label}`] : []));
      const said = unlike.join(", ") || t("look_all");
      const entries = signs.map((sign, at) => entry("observation", one.stop, { place: one.stop.place, animals: sign.animals || "", sign: sign.sign,
        answer: answers[at].value, words: words.value.trim() }, { title: `${one.stop.title}, ${sign.label}`, said: answers[at].label }, at ? "" : draft(one)));
      return answer(one, entries, said);
    }, { class: "answer wide", "data-first": "" });
    const row = (sign) => {
      const made = sign.choices.map(choiceOf).map((choice) => button(choice.label, (event) => {
        const on = event.currentTarget.getAttribute("aria-pressed") !== "true";
        for (const other of made) other.setAttribute("aria-pressed", "false");
        event.currentTarget.setAttribute("aria-pressed", String(on));
        if (on) chosen[sign.sign] = choice; else delete chosen[sign.sign];
        keep.textContent = t(Object.keys(chosen).length ? "look_rest" : "look_all");
      }, { "aria-pressed": "false" }));
      return h("fieldset", { class: "sign" }, h("legend", {}, sign.label), h("div", { class: "choices" }, ...made));
    };
    return [topOf(one), title(one.stop.title), earlier(one), ...signs.map(row),
      h("div", { class: "field" }, h("label", { for: "words" }, t("in_words")), words), keep, foot(one)];
  }
  function drawFeeding(one) {
    const { ask } = one;
    const food = h("input", { id: "food", autocomplete: "off", maxlength: 80, value: ask.food || "" });
    const grams = h("input", { id: "grams", class: "typed", inputmode: "none", autocomplete: "off", maxlength: 10, "data-first": "", "aria-label": t("grams"),
      value: ask.grams === null || ask.grams === undefined ? "" : String(ask.grams) });
    const keep = (eaten) => {
      const amount = grams.value.trim().replace(",", ".");
      if (!/^\d+(\.\d+)?$/.test(amount)) { say(t("grams_needed"), "ask"); grams.focus(); return; }
      if (!food.value.trim()) { say(t("food_needed"), "ask"); food.focus(); return; }
      answer(one, [entry("feeding", one.stop, { place: one.stop.place, food: food.value.trim(), grams: Number(amount), eaten: eaten.value },
        { title: labelOf(one), said: `${amount} g, ${eaten.label}` }, draft(one))], `${amount} g`);
    };
    const eaten = (ask.choices || []).map(choiceOf);
    return [topOf(one), title(labelOf(one)), earlier(one),
      h("form", { onsubmit: (event) => { event.preventDefault(); root.querySelector(".big-choices button").focus(); } },
        ask.food ? null : h("div", { class: "field" }, h("label", { for: "food" }, t("food")), food),
        h("p", { class: "typing" }, grams, h("span", { class: "unit" }, "g")), keypad(grams, { possible: [0, 1], expected: [1, 2] }, () => {})),
      h("h2", {}, t("eaten_title")), h("div", { class: "big-choices" }, ...eaten.map((one_) => button(one_.label, () => keep(one_)))), foot(one)];
  }

  // ---- a picture: turned upright and made small here, sent after the readings -----------------------------------------------
  async function takePhoto(one, file) {
    if (!file) return;
    try {
      const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
      const scale = Math.min(1, Math.sqrt(12e6 / (picture.width * picture.height)), 3200 / Math.max(picture.width, picture.height));
      const canvas = document.createElement("canvas");
      canvas.width = Math.max(1, Math.round(picture.width * scale));
      canvas.height = Math.max(1, Math.round(picture.height * scale));
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      const blob = await new Promise((done) => { canvas.toBlob(done, "image/jpeg", 0.85); });
      const about = draft(one);
      await queue.put("walks", walk);
      await queue.keepPhoto({ about, made: new Date().toISOString(), type: "image/jpeg", bytes: await blob.arrayBuffer() });
      say(t("photo_kept"));
    } catch (fault) {
      say(t("photo_not_kept", { why: fault?.name === "QuotaExceededError" ? t("room_full") : t("photo_unreadable") }), "watch");
    }
  }

  navigator.serviceWorker?.addEventListener("controllerchange", () => {
    const place = root.querySelector(".safe");
    if (place) tellRoom(place);
  });

  // ---- what has become of the answers ------------------------------------------------------------------------------------
  let refreshing;
  queue.watch(() => {
    clearTimeout(refreshing);
    refreshing = setTimeout(async () => {
      if (!walk) return;
      const mine = (await queue.list()).filter((row) => row.walk === walk.id);
      states = new Map(mine.map((row) => [row.id, row.state]));
      for (const place of root.querySelectorAll("[data-stop]")) {
        place.replaceChildren(stateMark(stateOf(plan.stops.find((stop) => stop.key === place.dataset.stop))));
      }
    }, 250);
  });
  begin();
})();

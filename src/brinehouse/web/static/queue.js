// The queue of this phone. What was typed is written to the phone's own disk before anything is sent, leaves the
// queue only after the hall has said that it has it, and is kept a week longer, should the hall be set back to an
// older copy. Works on plain http too, where a browser gives neither locks nor a worker.
(() => {
  "use strict";
  const brine = globalThis.brine ??= {};
  const DAY = 864e5, KEPT_DAYS = 7, BATCH = 50, HOLD = 10_000, LEASE = 9000, PATIENCE = 25_000;
  const SENT_FIELDS = ["id", "made", "person", "round", "walk", "stop", "kind", "body"];
  const HAS_IT = new Set(["stored", "same", "aside", "late"]);
  const strict = { durability: "strict" };
  const net = { up: navigator.onLine !== false, signIn: false, said: "", ahead: null, evicted: 0, fault: "" };
  const listeners = new Set();
  const tab = newId();
  let opened, ready, leased = false, running, again = false, failures = 0, timer, notBefore = 0, order = 0;

  function newId() {
    return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  // ---- the phone's own disk ------------------------------------------------------------------------------------
  function base() {
    opened ??= idb.openDB("brinehouse", 1, {
      upgrade(made) {
        made.createObjectStore("entries", { keyPath: "id" }).createIndex("state", "state");
        made.createObjectStore("photos", { keyPath: "id" }).createIndex("state", "state");
        made.createObjectStore("plans", { keyPath: "round" });
        made.createObjectStore("walks", { keyPath: "round" });
        made.createObjectStore("keep");
      },
      blocking(_, __, event) { event.target.close(); opened = ready = undefined; },
      terminated() { opened = ready = undefined; },
    }).then(async (made) => { await settle(made); ready = made; return made; });
    opened.catch(() => { opened = undefined; });
    return opened;
  }

  // Who this phone is, and whether the browser has thrown away what waited here.
  async function settle(made) {
    if (await made.get("keep", "device")) return;
    net.evicted = Number(remembered("waiting")) || 0;
    const writing = made.transaction("keep", "readwrite", strict);
    if (!await writing.store.get("device")) await writing.store.put(newId(), "device");
    await writing.done;
  }
  function remembered(name) { try { return localStorage.getItem(`brinehouse.${name}`); } catch { return null; } }
  function remember(name, value) { try { localStorage.setItem(`brinehouse.${name}`, value); } catch { /* it is only a help */ } }
  const get = async (store, key) => (await base()).get(store, key);
  const put = async (store, value, key) => {
    const writing = (await base()).transaction(store, "readwrite", strict);
    await Promise.all([writing.store.put(value, key), writing.done]);
  };

  // Writes entries, and how far the walk is, in one step; done when the disk has it.
  async function keep(entries, walk) {
    const made = await base();
    const rows = entries.map((entry) => ({ hold: 0, ...entry, order: stamp(), state: "phone", tries: 0 }));
    const write = async () => {
      const writing = made.transaction(["entries", "walks"], "readwrite", strict);
      for (const row of rows) writing.objectStore("entries").put(row);
      if (walk) writing.objectStore("walks").put(walk);
      await writing.done;
    };
    try { await write(); } catch (fault) {
      if (!full(fault) || !await makeRoom()) throw fault;
      await write();
    }
    changed();
    soon(rows.some((row) => row.hold) ? HOLD + 50 : 0);
    return rows.map((row) => row.id);
  }
  const full = (fault) => fault?.name === "QuotaExceededError" || fault?.inner?.name === "QuotaExceededError";
  function stamp() { order = Math.max(order + 1, Date.now() * 1000); return order; }

  // Pictures the hall has are the first to go, then what it has had for a week.
  async function makeRoom() {
    const writing = (await base()).transaction(["photos", "entries"], "readwrite");
    let freed = 0;
    for (const photo of await writing.objectStore("photos").index("state").getAll("stored")) {
      writing.objectStore("photos").delete(photo.id);
      freed += 1;
    }
    await writing.done;
    return freed + await prune() > 0;
  }

  // Entries and pictures the hall has had for a week are let go; what was never stored is not.
  async function prune() {
    const old = Date.now() - KEPT_DAYS * DAY;
    const writing = (await base()).transaction(["entries", "photos"], "readwrite");
    let freed = 0;
    for (const store of ["entries", "photos"]) {
      for (const row of await writing.objectStore(store).index("state").getAll("stored")) {
        if (row.storedAt < old) { writing.objectStore(store).delete(row.id); freed += 1; }
      }
    }
    await writing.done;
    return freed;
  }

  const list = async (state) => {
    const made = await base();
    const rows = state ? await made.getAllFromIndex("entries", "state", state) : await made.getAll("entries");
    return rows.sort((one, other) => one.order - other.order);
  };

  async function change(id, how) {
    const writing = (await base()).transaction("entries", "readwrite", strict);
    const row = await writing.store.get(id);
    const next = row && how(row);
    if (next) await writing.store.put(next);
    await writing.done;
    changed();
    return next;
  }

  // Within ten seconds, before it is sent, an entry can be taken back without ceremony.
  const undo = (id) => change(id, (row) => row.state === "phone" && row.hold > Date.now() && { ...row, state: "undone", hold: 0 });
  const giveUp = (id, reason) => change(id, (row) => row.state === "needs" && { ...row, state: "given-up", reason, endedAt: Date.now() });
  const tryAgain = (id) => change(id, (row) => row.state === "needs" && { ...row, state: "phone", hold: 0 }).then(() => flush());
  async function mend(id, body, about) {
    const row = await get("entries", id);
    const next = { ...row, id: newId(), body: { ...row.body, ...body }, about: { ...row.about, ...about }, hold: 0, from: id };
    await keep([next]);
    await change(id, (old) => ({ ...old, state: "given-up", reason: "", became: next.id, endedAt: Date.now() }));
    return next.id;
  }
  async function releaseHolds() {
    const writing = (await base()).transaction("entries", "readwrite");
    for (const row of await writing.store.index("state").getAll("phone")) {
      if (row.hold) writing.store.put({ ...row, hold: 0 });
    }
    await writing.done;
  }

  // The hall was set back to an older copy: all of the last week goes again; what is there already stays once.
  async function sendWeekAgain() {
    for (const store of ["entries", "photos"]) {
      const writing = (await base()).transaction(store, "readwrite", strict);
      for (const row of await writing.store.index("state").getAll("stored")) {
        if (row.storedAt > Date.now() - KEPT_DAYS * DAY && (store === "entries" || row.bytes)) {
          writing.store.put({ ...row, state: "phone", again: true });
        }
      }
      await writing.done;
    }
    changed();
    return flush();
  }

  // ---- one tab at a time -----------------------------------------------------------------------------------------
  async function alone(run) {
    if (navigator.locks) {
      return navigator.locks.request("brinehouse-queue", { ifAvailable: true }, (lock) => (lock ? run() : "busy"));
    }
    const take = async () => {
      const writing = (await base()).transaction("keep", "readwrite", strict);
      const held = await writing.store.get("lease");
      const free = !held || held.tab === tab || held.until < Date.now() || held.until > Date.now() + 2 * LEASE;
      if (free) await writing.store.put({ tab, until: Date.now() + LEASE }, "lease");
      await writing.done;
      return free;
    };
    if (!await take()) return "busy";
    leased = true;
    const renewing = setInterval(() => take().catch(() => {}), LEASE / 3);
    try { return await run(); } finally {
      clearInterval(renewing);
      leased = false;
      const writing = (await base()).transaction("keep", "readwrite");
      if ((await writing.store.get("lease"))?.tab === tab) writing.store.delete("lease");
      await writing.done;
    }
  }

  // ---- sending ---------------------------------------------------------------------------------------------------
  function flush() {
    if (running) { again = true; return running; }
    running = (async () => {
      let done;
      do { again = false; done = await attempt(); } while (again && done === "clear");
      running = undefined;
      return done;
    })();
    return running;
  }
  async function attempt() {
    clearTimeout(timer);
    if (Date.now() < notBefore) { schedule(); return "wait"; }
    try {
      const done = await alone(sendAll);
      if (done === "clear") { failures = 0; notBefore = 0; await prune(); }
      else if (done !== "busy") failures += 1;
      changed();
      schedule(done === "busy" ? 2000 : 0);
      return done;
    } catch (fault) {
      net.fault = String(fault?.message || fault);
      failures += 1;
      changed();
      schedule();
      return "fault";
    }
  }

  async function sendAll() {
    const tried = new Set();
    let most = BATCH, slow = false;
    for (;;) {
      const batch = (await sendable()).filter((row) => !tried.has(row.id)).slice(0, most);
      if (!batch.length) break;
      for (const row of batch) tried.add(row.id);
      await mark(batch, "sent");
      const answer = await ask("POST", "/phone/entries", JSON.stringify(await letter(batch)), { "Content-Type": "application/json" });
      if (answer.kind === "told") {
        slow = await believe(batch, answer.told) || slow;
      } else {
        await mark(batch, "phone");
        if (answer.kind !== "unfit") return answer.kind;
        if (batch.length > 1) { for (const row of batch) tried.delete(row.id); most = 1; continue; }
        await believe(batch, [{ id: batch[0].id, state: "refused", code: `http/${answer.status}`, text: answer.text, hint: "" }]);
      }
    }
    const photos = await sendPhotos();
    return slow && photos === "clear" ? "again" : photos;
  }
  const sendable = async () => {
    const rows = [...await list("phone"), ...await list("sent")];
    return rows.filter((row) => !(row.hold > Date.now() && row.hold < Date.now() + 2 * HOLD)).sort((one, other) => one.order - other.order);
  };
  async function letter(batch) {
    const entries = batch.map((row) => Object.fromEntries(SENT_FIELDS.map((name) => [name, row[name] ?? null])));
    return { device: await get("keep", "device"), sent: new Date().toISOString(), entries };
  }
  async function mark(batch, state) {
    const writing = (await base()).transaction("entries", "readwrite");
    for (const { id } of batch) {
      const row = await writing.store.get(id);
      if (row && (row.state === "phone" || row.state === "sent")) writing.store.put({ ...row, state, tries: row.tries + (state === "sent") });
    }
    await writing.done;
    changed();
  }

  // What the hall says of each entry; true where one has to go again.
  async function believe(batch, told, store = "entries") {
    const by = new Map(told.map((one) => [one.id, one]));
    const writing = (await base()).transaction(store, "readwrite", strict);
    let later = false;
    for (const { id } of batch) {
      const row = await writing.store.get(id);
      const one = by.get(id);
      if (!row) continue;
      if (one && HAS_IT.has(one.state)) writing.store.put({ ...row, state: "stored", storedAt: Date.now(), answer: one });
      else if (one?.state === "refused") writing.store.put({ ...row, state: "needs", answer: one });
      else { writing.store.put({ ...row, state: "phone" }); later = true; }
    }
    await writing.done;
    changed();
    return later;
  }

  // One request and what became of it: told, unfit (these entries, not the hall), sign-in, wait, or no network.
  async function ask(method, where, body, headers) {
    const stop = new AbortController();
    const limit = setTimeout(() => stop.abort(), PATIENCE);
    try {
      const answer = await fetch(where, {
        method, body, signal: stop.signal, redirect: "manual", cache: "no-store", credentials: "same-origin",
        headers: { ...headers, Accept: "application/json", "X-Brinehouse-Phone": "1" },
      });
      const text = answer.type === "opaqueredirect" ? "" : await answer.text();
      up(true);
      return understood(answer, text);
    } catch {
      up(false);
      return { kind: "no-network" };
    } finally {
      clearTimeout(limit);
    }
  }
  function understood(answer, text) {
    let told;
    try { told = JSON.parse(text); } catch { told = null; }
    const signIn = answer.type === "opaqueredirect" || answer.status === 401 || answer.status === 403;
    net.signIn = signIn;
    if (signIn) return { kind: "sign-in" };
    if (answer.status === 200 && Array.isArray(told?.entries)) {
      net.ahead = Date.parse(told.now) ? Date.now() - Date.parse(told.now) : null;
      net.fault = "";
      return { kind: "told", told: told.entries };
    }
    if ([400, 413, 415, 422].includes(answer.status)) return { kind: "unfit", status: answer.status, text: told?.text || "" };
    const pause = Number(answer.headers.get("Retry-After"));
    if (pause > 0) notBefore = Date.now() + Math.min(pause, 600) * 1000;
    net.fault = answer.status === 200 ? "" : String(answer.status);
    return { kind: "wait" };
  }

  // ---- pictures: after the readings, one by one, and never in their way -------------------------------------------
  async function keepPhoto(photo) {
    const row = { ...photo, id: newId(), state: "phone", order: stamp() };
    try { await put("photos", row); } catch (fault) {
      if (!full(fault) || !await makeRoom()) throw fault;
      await put("photos", row);
    }
    changed();
    soon(0);
    return row.id;
  }
  async function sendPhotos() {
    let outcome = "clear";
    const made = await base();
    const waiting = await made.getAllFromIndex("photos", "state", "phone");
    for (const photo of waiting.sort((one, other) => one.order - other.order)) {
      const about = await made.get("entries", photo.about);
      if (about && (about.state === "undone" || about.state === "given-up")) {
        await put("photos", { ...photo, state: about.state });
        continue;
      }
      if (about?.state === "phone" || about?.state === "sent") outcome = "again";
      if (about?.state !== "stored") continue;
      const answer = await ask("PUT", `/phone/photo/${photo.id}`, photo.bytes, {
        "Content-Type": photo.type, "X-About": photo.about, "X-Made": photo.made,
      });
      if (answer.kind === "told") { if (await believe([photo], answer.told, "photos")) outcome = "again"; }
      else if (answer.kind === "unfit") {
        await believe([photo], [{ id: photo.id, state: "refused", code: `http/${answer.status}`, text: answer.text, hint: "" }], "photos");
      } else return answer.kind;
    }
    return outcome;
  }

  // ---- when to try -----------------------------------------------------------------------------------------------
  function soon(after) {
    if (after) setTimeout(() => flush(), after);
    else flush();
  }
  function schedule(given = 0) {
    clearTimeout(timer);
    const step = given ? given : failures ? Math.min(60_000, 1000 * 2 ** Math.min(failures, 6)) : 15_000;
    const wait = Math.max(step * (0.5 + Math.random()), notBefore - Date.now());
    timer = setTimeout(() => flush(), wait);
  }
  function up(now) {
    const before = net.up;
    net.up = now;
    if (before !== now) changed();
  }
  let heard = 0;
  async function beat() {
    if (navigator.onLine === false) { up(false); return; }
    const begun = performance.now();
    const stop = new AbortController();
    const limit = setTimeout(() => stop.abort(), 1300);
    try {
      const answer = await fetch("/phone/beat", { cache: "no-store", redirect: "manual", signal: stop.signal });
      const was = net.up;
      heard = Math.max(heard, begun);
      up(answer.ok);
      if (answer.ok && !was) { failures = 0; flush(); }
    } catch { if (heard <= begun) up(false); } finally { clearTimeout(limit); }
  }

  // Asks often while someone works on this page, seldom otherwise: a battery is worth something.
  let touched = Date.now(), beating;
  const listen = () => {
    clearTimeout(beating);
    if (document.visibilityState === "visible") beat();
    const often = Date.now() - touched < 60_000;
    beating = setTimeout(listen, often && document.visibilityState === "visible" ? 1000 : 15_000);
  };

  // ---- who watches ----------------------------------------------------------------------------------------------
  async function counts() {
    const made = await base();
    const reading = made.transaction(["entries", "photos"]);
    const entries = reading.objectStore("entries").index("state"), photos = reading.objectStore("photos").index("state");
    const [phone, sent, stored, needs, pictures, refused] = await Promise.all([
      ...["phone", "sent", "stored", "needs"].map((state) => entries.count(state)), photos.count("phone"), photos.count("needs"),
    ]);
    return { phone, sent, stored, needs: needs + refused, photos: pictures, waiting: phone + sent, ...net };
  }
  const channel = "BroadcastChannel" in globalThis ? new BroadcastChannel("brinehouse-queue") : null;
  let telling = false;
  function changed(far) {
    if (!far) channel?.postMessage("changed");
    if (telling) { telling = "once more"; return; }
    telling = true;
    counts().then((now) => {
      remember("waiting", now.waiting);
      for (const tell of listeners) tell(now);
    }).catch((fault) => { for (const tell of listeners) tell({ ...net, broken: String(fault?.message || fault) }); }).finally(() => {
      const more = telling === "once more";
      telling = false;
      if (more) changed(true);
    });
  }
  if (channel) channel.onmessage = () => changed(true);

  function start() {
    addEventListener("online", () => { notBefore = 0; failures = 0; beat().then(() => flush()); });
    addEventListener("offline", () => up(false));
    addEventListener("pagehide", () => { if (leased) ready?.delete("keep", "lease").catch(() => {}); });
    for (const name of ["pointerdown", "keydown"]) addEventListener(name, () => {
      const slept = Date.now() - touched > 60_000;
      touched = Date.now();
      if (slept) listen();
    }, { passive: true, capture: true });
    document.addEventListener("visibilitychange", () => {
      if (document.visibilityState === "visible") { touched = Date.now(); listen(); }
      releaseHolds().then(() => flush(), () => {});
    });
    listen();
    changed();
    flush();
  }

  // ---- is it safe to go where there is no network? ------------------------------------------------------------------
  async function room() {
    const found = { reasons: [], cautions: [], used: null, quota: null, persisted: null };
    const trial = new Uint8Array(2 * 1024 * 1024);
    try {
      await put("keep", trial, "trial");
      const writing = (await base()).transaction("keep", "readwrite");
      writing.store.delete("trial");
      await writing.done;
    } catch (fault) {
      found.reasons.push(full(fault) ? "full" : "no_disk");
    }
    if (navigator.storage?.estimate) {
      const { usage, quota } = await navigator.storage.estimate();
      Object.assign(found, { used: usage, quota });
      if (quota - usage < 20 * 1024 * 1024 && !found.reasons.includes("full")) found.reasons.push("nearly_full");
      found.persisted = await navigator.storage.persisted().catch(() => false) || await navigator.storage.persist().catch(() => false);
    }
    if (net.evicted) found.reasons.push("evicted");
    if (!navigator.serviceWorker) found.cautions.push("plain_http");
    else if (!navigator.serviceWorker.controller) found.cautions.push("no_worker_yet");
    if (found.persisted === false) found.cautions.push("may_be_evicted");
    return found;
  }

  // All that is not stored, as the hall takes it from a file; pictures too.
  async function asFile() {
    const made = await base();
    const rows = (await made.getAll("entries")).filter((row) => ["phone", "sent", "needs"].includes(row.state));
    const photos = (await made.getAllFromIndex("photos", "state", "phone")).map(({ id, about, made: at, type, bytes }) => (
      { id, about, made: at, type, base64: inLetters(new Uint8Array(bytes)) }));
    return { ...await letter(rows.sort((one, other) => one.order - other.order)), photos };
  }
  function inLetters(bytes) {
    let text = "";
    for (let from = 0; from < bytes.length; from += 32768) text += String.fromCharCode(...bytes.subarray(from, from + 32768));
    return btoa(text);
  }

  brine.queue = {
    newId, keep, keepPhoto, undo, giveUp, tryAgain, mend, list, flush, start, counts, room, asFile, sendWeekAgain, releaseHolds, get, put,
    HOLD, beat,
    photos: async () => (await base()).getAll("photos"),
    plans: async () => (await base()).getAll("plans"),
    walks: async () => (await base()).getAll("walks"),
    watch(tell) { listeners.add(tell); changed(true); },
  };
})();

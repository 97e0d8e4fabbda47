// Opens the pages of a round where there is no network. Kept pages and their files carry the digest of this build in
// the name of their store, so an older page keeps its own files. What is written never passes through here.
"use strict";
const BUILD = "__BUILD__";
const FILES = __FILES__;
const PAGES = ["/phone", "/phone/round/-"];
const STORE = `brinehouse-${BUILD}`;
const LIMIT = 4000;

async function keepPage(store, address, answer) {
  if (answer?.ok && !answer.redirected && answer.headers.get("X-Build") === BUILD) await store.put(address, answer);
}

addEventListener("install", (event) => event.waitUntil((async () => {
  const store = await caches.open(STORE);
  await store.addAll(FILES);
  for (const address of PAGES) {
    const answer = await fetch(address, { cache: "no-store" });
    if (answer.headers.get("X-Build") !== BUILD) throw new Error("pages of another build");
    await keepPage(store, address, answer);
  }
})()));

// The store before this one stays: a page that is still open asks for its own files.
addEventListener("activate", (event) => event.waitUntil((async () => {
  const kept = await caches.open("brinehouse-order");
  const order = (await (await kept.match("/order"))?.json()) ?? [];
  const now = [...order.filter((name) => name !== STORE), STORE].slice(-2);
  await kept.put("/order", new Response(JSON.stringify(now)));
  for (const name of await caches.keys()) {
    if (name.startsWith("brinehouse-") && name !== "brinehouse-order" && !now.includes(name)) await caches.delete(name);
  }
  await clients.claim();
})()));
addEventListener("message", (event) => { if (event.data === "take over") skipWaiting(); });

addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  if (request.method !== "GET" || origin !== location.origin) return;
  if (pathname.startsWith("/static/")) event.respondWith(fromStore(request));
  else if (request.mode === "navigate") event.respondWith(networkFirst(event, pathname));
});

async function fromStore(request) {
  return (await caches.match(request)) ?? fetch(request);
}

// A round that cannot be fetched in time is opened from this phone; any other page becomes what is on this phone.
async function networkFirst(event, pathname) {
  const kept = /^\/(phone\/round|rounds)\/[^/]/.test(pathname) ? "/phone/round/-" : "/phone";
  const own = kept === "/phone" ? pathname === "/phone" : pathname.startsWith("/phone/");
  const held = await (await caches.open(STORE)).match(kept);
  const asked = fetch(event.request).then((answer) => {
    if (own && answer.status >= 500 && held) return held;
    if (own && answer.ok) {
      const copy = answer.clone();
      event.waitUntil(caches.open(STORE).then((store) => keepPage(store, kept, copy)));
    }
    return answer;
  });
  if (!held) return asked;
  const limit = new Promise((_, late) => { setTimeout(late, LIMIT, new Error("too slow")); });
  const timed = own || pathname.startsWith("/rounds/") ? Promise.race([asked, limit]) : asked;
  return timed.catch(() => held);
}

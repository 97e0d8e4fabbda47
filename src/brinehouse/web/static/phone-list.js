// The sheet `on this phone`: what waits here, what needs a person, what the hall has, and how to take it out by hand.
(() => {
  "use strict";
  const { queue, ui } = globalThis.brine;
  const { h, words: t, stateMark, shape, ago, clockTime } = ui;
  const part = (name) => document.getElementById(`phone-${name}`);
  const byteText = (bytes) => (bytes < 1e6 ? `${Math.round(bytes / 1e3)} kB` : bytes < 1e9 ? `${Math.round(bytes / 1e6)} MB` : `${(bytes / 1e9).toFixed(1)} GB`);
  const inSentences = (answer) => [answer?.text, answer?.hint].filter(Boolean).map((one) => one[0].toUpperCase() + one.slice(1)).join(". ");
  const day = (iso) => `${String(iso).slice(0, 10)} ${clockTime(iso)}`;
  const row = (entry, ...more) => h("li", {}, h("div", {}, h("strong", {}, entry.about?.title || entry.stop || entry.kind), " ", entry.about?.said || "",
    h("span", { class: "age" }, ` ${day(entry.made)}`)), h("div", {}, stateMark(entry.state)), ...more);
  const section = (name, rows) => {
    part(name).hidden = !rows.length;
    part(name).querySelector("ul").replaceChildren(...rows);
  };

  function needing(entry) {
    const answer = entry.answer || {};
    const why = h("p", { class: "said act" }, shape("act"), ` ${inSentences(answer) || t("refused")}`,
      answer.code ? h("span", { class: "code" }, ` ${answer.code}`) : null);
    const value = h("input", { autocomplete: "off", value: entry.body?.text ?? "", "aria-label": t("value_of", { what: entry.about?.title || "" }) });
    const reason = h("input", { autocomplete: "off", maxlength: 200, "aria-label": t("give_up_why") });
    const said = h("p", { class: "said", role: "status" });
    const send = entry.kind === "reading" ? h("form", { onsubmit: async (event) => {
      event.preventDefault();
      await queue.mend(entry.id, { text: value.value.trim() }, { said: `${value.value.trim()} ${entry.body.unit || ""}`.trim() });
      await draw();
    } }, h("div", { class: "with-unit" }, value, h("span", {}, entry.body.unit || "")), h("button", {}, t("mend")))
      : h("button", { type: "button", onclick: async () => { await queue.tryAgain(entry.id); await draw(); } }, t("again"));
    const drop = h("details", { class: "more" }, h("summary", {}, t("give_up")), h("form", { onsubmit: async (event) => {
      event.preventDefault();
      if (!reason.value.trim()) { said.textContent = t("reason_needed"); reason.focus(); return; }
      await queue.giveUp(entry.id, reason.value.trim());
      await draw();
    } }, h("div", { class: "field" }, h("span", { class: "label" }, t("give_up_why")), reason), h("button", {}, t("give_up")), said));
    return row(entry, why, send, drop);
  }

  async function draw() {
    const [entries, photos, plans, walks] = await Promise.all([queue.list(), queue.photos(), queue.plans(), queue.walks()]);
    const of = (...states) => entries.filter((entry) => states.includes(entry.state));
    const waiting = of("phone", "sent"), needs = of("needs"), stored = of("stored").reverse(), gone = of("given-up").reverse();
    const badPhotos = photos.filter((photo) => photo.state === "needs");
    const title = needs.length + badPhotos.length ? t("title_needs", { waiting: waiting.length, needs: needs.length + badPhotos.length })
      : waiting.length ? t(waiting.length === 1 ? "title_one" : "title_waiting", { waiting: waiting.length }) : t("title_none");
    document.querySelector("h1").textContent = title;
    section("needs", [...needs.map(needing), ...badPhotos.map((photo) => h("li", {}, h("strong", {}, t("picture")), ` ${day(photo.made)}`,
      h("p", { class: "said act" }, shape("act"), ` ${inSentences(photo.answer) || t("refused")}`),
      h("button", { type: "button", onclick: async () => { await queue.put("photos", { ...photo, state: "given-up", bytes: null }); await draw(); } }, t("drop_picture"))))]);
    section("waiting", [...waiting.map((entry) => row(entry)),
      ...photos.filter((photo) => photo.state === "phone").map((photo) => h("li", {}, h("strong", {}, t("picture")), ` ${day(photo.made)}, ${byteText(photo.bytes.byteLength)} `, stateMark("phone")))]);
    section("stored", stored.slice(0, 100).map((entry) => row(entry, entry.answer && ["aside", "late"].includes(entry.answer.state)
      ? h("p", { class: "soft" }, inSentences(entry.answer)) : null)));
    part("stored-count").textContent = t("stored_week", { count: stored.length });
    section("gone", gone.map((entry) => row(entry, h("p", { class: "soft" }, entry.became ? t("became") : `${t("gone_because")} ${entry.reason}`))));
    section("rounds", plans.map((plan) => {
      const walk = walks.find((one) => one.round === plan.round);
      const open = walk && !walk.ended;
      return h("li", {}, h("a", { href: `/phone/round/${encodeURIComponent(plan.round)}`, class: "link" }, plan.name),
        h("span", { class: "soft" }, ` ${t("plan_kept", { age: ago(Date.now() - plan.keptAt) })}${open ? ` ${t("walk_open")}` : ""}`));
    }));
  }

  async function drawRoom() {
    const found = await queue.room();
    const place = part("room");
    place.replaceChildren(h("p", found.reasons.length ? { class: "said act" } : {}, ...(found.reasons.length ? [shape("act"), ` ${t("not_safe")}: ${found.reasons.map((one) => t(`room_${one}`)).join("; ")}`] : [t("safe")])),
      ...found.cautions.map((one) => h("p", {}, t(`room_${one}`))),
      ...(found.quota ? [h("p", { class: "soft" }, t("room_used", { used: byteText(found.used), quota: byteText(found.quota) }))] : []));
  }

  part("file").addEventListener("click", async () => {
    const text = JSON.stringify(await queue.asFile());
    const link = h("a", { href: URL.createObjectURL(new Blob([text], { type: "application/json" })), download: `phone-queue-${new Date().toISOString().slice(0, 16).replace(":", "")}.json` });
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
  });
  part("send").addEventListener("click", async () => { await queue.releaseHolds(); await queue.flush(); await draw(); });
  part("again").addEventListener("click", async () => { await queue.sendWeekAgain(); await draw(); });
  for (const name of ["file", "send", "again"]) part(name).disabled = false;
  let drawing;
  const later = () => { clearTimeout(drawing); drawing = setTimeout(() => { if (!document.activeElement?.closest("#phone-needs form, #phone-needs details")) draw().catch(broken); }, 200); };
  const broken = () => { document.querySelector("h1").textContent = t("disk_broken"); };
  queue.watch(later);
  drawRoom().catch(broken);
})();

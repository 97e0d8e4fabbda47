// Passkeys: asks the browser, and sends what it says. Without this file a password does the same.
"use strict";
(() => {
  const able = window.isSecureContext && window.PublicKeyCredential && navigator.credentials;
  const told = document.querySelector("[data-passkey-said]");
  const say = (text) => { if (told) { told.textContent = text; told.hidden = !text; } };

  const bytes = (text) => {
    const plain = atob(text.replace(/-/g, "+").replace(/_/g, "/"));
    return Uint8Array.from(plain, (sign) => sign.charCodeAt(0));
  };
  const text = (buffer) => {
    const plain = Array.from(new Uint8Array(buffer), (one) => String.fromCharCode(one)).join("");
    return btoa(plain).replace(/\+/g, "-").replace(/\//g, "_").replace(/=+$/, "");
  };

  async function post(address, body) {
    const answer = await fetch(address, {
      method: "POST",
      headers: { "content-type": "application/json" },
      body: JSON.stringify(body),
    });
    const said = await answer.json();
    if (!answer.ok) throw new Error(said.hint ? `${said.text}: ${said.hint}` : said.text);
    return said;
  }

  function wanted(options) {
    const made = { ...options, challenge: bytes(options.challenge) };
    if (options.user) made.user = { ...options.user, id: bytes(options.user.id) };
    for (const name of ["excludeCredentials", "allowCredentials"]) {
      if (options[name]) made[name] = options[name].map((one) => ({ ...one, id: bytes(one.id) }));
    }
    return made;
  }

  function plain(credential) {
    const response = {};
    for (const name of ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"]) {
      if (credential.response[name]) response[name] = text(credential.response[name]);
    }
    return { id: credential.id, rawId: text(credential.rawId), type: credential.type, response };
  }

  async function enter(button) {
    const asked = await post("/enter/passkey/ask.json", {});
    const found = await navigator.credentials.get({ publicKey: wanted(asked.wanted) });
    const said = await post("/enter/passkey.json", {
      number: asked.number, answer: plain(found), next: button.dataset.next,
    });
    window.location.assign(said.to);
  }

  async function make() {
    const asked = await post("/me/passkey/ask.json", {});
    const found = await navigator.credentials.create({ publicKey: wanted(asked.wanted) });
    const name = document.querySelector("[name='passkey name']");
    const said = await post("/me/passkey.json", {
      number: asked.number, answer: plain(found), name: name ? name.value : "",
    });
    window.location.assign(said.to);
  }

  for (const button of document.querySelectorAll("[data-passkey]")) {
    if (!able) continue;
    button.hidden = false;
    const row = button.closest("[data-passkey-row]");
    if (row) row.hidden = false;
    for (const one of document.querySelectorAll("[data-passkey-none]")) one.hidden = true;
    button.addEventListener("click", () => {
      say("");
      (button.dataset.passkey === "make" ? make() : enter(button)).catch((fault) => say(fault.message));
    });
  }
})();

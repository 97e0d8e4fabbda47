// What was read last, beside the form, and the units to choose from, as soon as place and quantity are chosen. Without this file it appears
// when the form is opened with both in its address.
(() => {
  const aside = document.getElementById("beside");
  const place = document.querySelector("select[name=place]");
  const quantity = document.querySelector("select[name=quantity]");
  if (!aside || !place || !quantity) return;
  const unit = document.querySelector("select[name=unit]");
  const offer = (names) => {
    if (!unit) return;
    const kept = [...unit.options].slice(0, 1);
    unit.replaceChildren(...kept, ...names.map((name) => new Option(name, name)));
    if (names.length) unit.value = names[0];
  };
  const ask = async () => {
    if (!place.value || !quantity.value) { aside.replaceChildren(); return; }
    const asked = new URLSearchParams({ place: place.value, quantity: quantity.value });
    try {
      const answer = await fetch(`${aside.dataset.from}?${asked}`);
      if (!answer.ok) return;
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      aside.replaceChildren(...page.body.childNodes);
      offer((aside.querySelector("[data-units]")?.dataset.units || "").split(" ").filter(Boolean));
    } catch { /* without the hall's computer the form still works */ }
  };
  place.addEventListener("change", ask);
  quantity.addEventListener("change", ask);
})();

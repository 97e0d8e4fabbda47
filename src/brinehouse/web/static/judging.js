// Three answers to a typed value: inside, unusual (one more tap), impossible (not kept); and likely slips. The hall
// judges by the same rules (workbench/judging.py); one table of cases holds both to the same words.
(() => {
  "use strict";
  const LONGEST = 40, SAME = 4, NEAR = 0.15;
  const SHIFTS = [[1, "x10"], [-1, "/10"], [2, "x100"], [-2, "/100"], [3, "x1000"], [-3, "/1000"]];
  const ENTRY = /^([<>]?)\s*([+−-]?)(\d+)(?:[.,](\d+))?$/;
  const MISSING = /^not measured\s*(?::\s*([\s\S]*))?$/i;

  function judge(ask, text, unitBeside = "") {
    const body = text.trim();
    if (!body) return no("round/nothing", "Nothing is written", "write the value, or skip the stop and say why");
    const missing = MISSING.exec(body);
    if (missing) return judged({ missing: (missing[1] || "").trim() || "not measured", stored: body });
    const unit = unitBeside || ask.unit;
    const entry = ENTRY.exec(bare(body, unit));
    if ([...body].length > LONGEST || !entry) return notANumber(body, unit);
    if (unit !== ask.unit && !(unit in (ask.scales || {}))) {
      return no("round/unit", `${ask.quantity} is not kept in ${unit} here`, `write it in ${ask.unit}`);
    }
    return measured(ask, entry, unit);
  }

  function measured(ask, entry, unit) {
    const typed = digits(entry), bound = entry[1];
    const [factor, offset] = (ask.scales || {})[unit] || [1, 0];
    const value = unit === ask.unit ? Number(typed) : Number(typed) * factor + offset;
    const said = `${bound}${minus(typed)}${behind(unit)}`;
    const slip = bound ? null : slipOf(ask, typed, value, unit);
    const told = { value, stored: `${bound}${typed} ${unit}`.trimEnd(), bound, slip };
    const [least, most] = ask.possible, [low, high] = ask.expected;
    if ((value < least && bound !== ">") || (value > most && bound !== "<")) {
      return judged({ ...told, answer: "impossible", code: "round/impossible",
        sentence: `${said} cannot be: ${ask.quantity} lies within ${span(ask, "possible")} here${last(ask)}`,
        hint: meant(slip) || "look at the meter and its unit again" });
    }
    if (bound) return judged(told);
    const inside = low <= value && value <= high;
    if (inside && !slip) return judged({ ...told, note: same(ask, value) });
    if (inside) {
      return judged({ ...told, answer: "unusual", code: "round/slip", sentence: `${said}?${last(ask, " Last was ")}`, hint: meant(slip) });
    }
    return judged({ ...told, answer: "unusual", code: "round/unusual",
      sentence: `${said} is unusual: ${span(ask, "expected")} is expected${last(ask)}`,
      hint: meant(slip) || "keep it, with a reason, if it is so", note: same(ask, value) });
  }
  const judged = (told) => ({ answer: "inside", code: "", value: null, stored: "", bound: "", missing: "", sentence: "", hint: "",
    slip: null, note: "", ...told });
  const no = (code, sentence, hint) => judged({ answer: "impossible", code, sentence, hint });

  // ---- what was typed ----------------------------------------------------------------------------------------------
  const bare = (body, unit) => (unit && unit !== "1" && body.endsWith(unit) ? body.slice(0, -unit.length).trimEnd() : body);
  const digits = (entry) => `${entry[2] === "-" || entry[2] === "−" ? "-" : ""}${entry[3]}${entry[4] ? `.${entry[4]}` : ""}`;
  function notANumber(body, unit) {
    const letters = [...body];
    const shown = letters.length <= LONGEST ? body : `${letters.slice(0, LONGEST).join("")}…`;
    if (/^[<>]?\s*[+−-]?[\d., ]+$/.test(body) && letters.filter((one) => one === "." || one === ",").length > 1) {
      return no("round/two-signs", `'${shown}' has more than one decimal sign`, "write one, e.g. 24.6");
    }
    return no("round/not-a-number", `'${shown}' is not a plain number`,
      `write the number alone, in ${unit || "its unit"}, or 'not measured' and why`);
  }

  // ---- slips: what would bring it back to the last value, or, without one, to what is expected -----------------------
  function slipOf(ask, typed, value, unit) {
    if (!far(ask, value)) return null;
    const home = homeOf(ask);
    return [...powers(ask, typed, value, unit), ...swaps(ask, typed, unit), ...units(ask, value)].find(home) || null;
  }
  const known = (ask) => (ask.last && ask.last.value != null ? Number(ask.last.value) : null);
  const values = (ask) => (ask.trace || []).map((pair) => Number(pair[1]));
  function noise(ask) {
    const all = values(ask), steps = 2 * 10 ** -ask.decimals;
    return all.length > 1 ? Math.max(Math.max(...all) - Math.min(...all), steps) : steps;
  }
  function far(ask, value) {
    const centre = known(ask);
    if (centre === null) return !(ask.expected[0] <= value && value <= ask.expected[1]);
    const all = [...values(ask), centre], reach = 2 * noise(ask);
    return !(Math.min(...all) - reach <= value && value <= Math.max(...all) + reach);
  }
  function homeOf(ask) {
    const centre = known(ask), [low, high] = ask.expected;
    if (centre === null) return (slip) => slip.value === null || (low <= slip.value && slip.value <= high);
    const moved = noise(ask);
    const wide = Math.max(NEAR * Math.abs(centre), Math.min(moved, 0.5 * Math.abs(centre)));
    return (slip) => slip.value === null
      || (slip.value !== 0 && Math.abs(slip.value - centre) <= (slip.kind === "swapped" ? moved : wide) + 1e-9);
  }
  const powers = (ask, typed, value, unit) => (unit !== ask.unit || value === 0 ? []
    : SHIFTS.map(([places, kind]) => plainly(kind, shifted(typed, -places), unit)));
  function shifted(typed, places) {
    const sign = typed.startsWith("-") ? "-" : "";
    let [whole, part = ""] = typed.slice(sign.length).split(".");
    if (places > 0) {
      part = part.padEnd(places, "0");
      [whole, part] = [whole + part.slice(0, places), part.slice(places)];
    } else {
      whole = whole.padStart(1 - places, "0");
      [whole, part] = [whole.slice(0, places), whole.slice(places) + part];
    }
    whole = whole.replace(/^0+/, "") || "0";
    part = part.replace(/0+$/, "");
    return part ? `${sign}${whole}.${part}` : `${sign}${whole}`;
  }
  function swaps(ask, typed, unit) {
    if (unit !== ask.unit) return [];
    const places = [...typed].flatMap((sign, at) => (/\d/.test(sign) ? [at] : []));
    return places.slice(1).flatMap((other, at) => {
      const one = places[at], signs = [...typed];
      if (signs[one] === signs[other]) return [];
      [signs[one], signs[other]] = [signs[other], signs[one]];
      return [plainly("swapped", signs.join(""), unit)];
    });
  }
  function plainly(kind, typed, unit) {
    const text = `${minus(typed)}${behind(unit)}`;
    return { kind, value: Number(typed), text, asks: `was ${text} meant?` };
  }
  function units(ask, value) {
    return (ask.slips || []).flatMap((other) => {
      const typed = `${plain(value)}${behind(other.unit)}`;
      if ("factor" in other) {
        const moved = value * other.factor + (other.offset || 0);
        const text = `${minus(fixed(moved, ask.decimals))}${behind(ask.unit)}`;
        return [{ kind: "unit", value: moved, text, asks: `was ${typed} meant? That is ${text}` }];
      }
      if (!(other.low <= value && value <= other.high)) return [];
      return [{ kind: "quantity", value: null, text: "", asks: `${typed} would be ${other.says}: is it the right meter?` }];
    });
  }
  function same(ask, value) {
    const step = 0.5 * 10 ** -ask.decimals;
    let run = 0;
    for (const one of values(ask).reverse()) {
      if (Math.abs(one - value) >= step) break;
      run += 1;
    }
    return run === SAME ? `The same value ${SAME + 1} times now: does the meter still follow?` : "";
  }

  // ---- how it is said ---------------------------------------------------------------------------------------------------
  const meant = (slip) => (slip ? slip.asks : "");
  const last = (ask, before = "; last was ") => (ask.last && ask.last.text ? before + ask.last.text : "");
  const span = (ask, which) => `${plain(ask[which][0])} to ${plain(ask[which][1])}${behind(ask.unit)}`;
  const behind = (unit) => (["", "1", "pH"].includes(unit) ? "" : ` ${unit}`);
  const minus = (text) => text.replace(/-/g, "−");
  // Halves go to the even digit, as in the hall: a half is exact only where 2 to the places + 1 makes it whole and odd.
  function fixed(value, places) {
    const twice = Math.abs(value) * 2 ** (places + 1);
    if (!Number.isInteger(twice) || twice % 2 !== 1) return value.toFixed(places);
    const lower = Math.floor(Math.abs(value) * 10 ** places);
    return ((Math.sign(value) * (lower + (lower % 2))) / 10 ** places).toFixed(places);
  }
  function plain(value) {
    const six = Number((Number(value) + 0).toPrecision(6));
    const text = String(six);
    return minus(text.includes("e") ? six.toFixed(Math.min(100, Math.max(0, 6 - Math.floor(Math.log10(Math.abs(six))))))
      .replace(/(\.\d*?)0+$/, "$1").replace(/\.$/, "") : text);
  }

  (globalThis.brine ??= {}).judging = { judge, plain, behind };
})();

/* A run goes on where there is no connection: what comes next by the owner's own rules, as the page
   brought them, and what can hardly be true of an entry. Nothing here is accepted or in service. */
(() => {
  "use strict";
  const { afterPurge, afterReading, judge, judgeReading } = globalThis.riserbook;
  const isCommaDecimal = document.documentElement.lang === "es";
  const stored = (text, unit, dimension, isNitrogen) =>
    globalThis.riserbook.stored(text, unit, dimension, isNitrogen, isCommaDecimal ? "," : ".");
  const data = (id) => JSON.parse(document.getElementById(id)?.textContent || "null");
  const fields = (entry) => Object.fromEntries(entry.data.filter(([, value]) => typeof value === "string"));

  /* One answer of an entry in the stored unit; what was meant by a one-tap answer goes before. */
  function answer(entry, name, dimension) {
    const typed = fields(entry);
    const [of, meant] = (typed.instead || "").split("=");
    const isMeant = of === name && meant;
    const unit = isMeant ? "" : typed[`${name}_unit`] || (dimension === "percent" ? "" : "psi");
    return stored(isMeant ? meant : typed[name], unit, dimension, name === "n2_percent");
  }

  const nitrogenOf = (entry) => answer(entry, "n2_percent", "percent");

  /* When it was done; undefined where a time was typed, which only the book can place. */
  const doneAt = (entry) => (fields(entry).occurred_at ? undefined : entry.madeAt);

  function holdOf(entry) {
    const pressure = (name) => answer(entry, name, "pressure");
    const warmth = (name) => answer(entry, name, "temperature");
    const typed = fields(entry);
    const hold = {
      start_gauge_pa: pressure("start_gauge_pa"),
      end_gauge_pa: pressure("end_gauge_pa"),
      duration_s: stored(typed.duration_s, "min", "duration"),
    };
    if (Object.values(hold).includes(undefined)) return undefined;
    for (const name of ["start_temperature_k", "end_temperature_k"]) {
      if (!typed[name]) continue;
      hold[name] = warmth(name);
      if (hold[name] === undefined) return undefined;
    }
    return hold;
  }

  /* Absolute, as the gauge showed it after the step; one tap says that it shows zero. Undefined where
     only the book can read it: then nothing is asked about the band from there on. */
  function pressureOf(state, entry) {
    const { at_zero: isZero, pressure_gauge_pa: typed } = fields(entry);
    const gauge = isZero && !typed ? 0 : answer(entry, "pressure_gauge_pa", "pressure");
    return gauge === undefined ? undefined : gauge + state.atmosphere_pa;
  }

  /* The run as it is once an entry is done, as far as this phone can tell. */
  function after(state, entry) {
    const [name, number] = entry.token.split("-");
    const fill = Number(number || 0);
    const next = { ...state, judged: false, lacks: false };
    if (name === "checked") return { ...next, at: "filled-1" };
    if (name === "filled") {
      const reached = pressureOf(state, entry);
      const band = state.band && reached ? { ...state.band, reached_pa: reached } : null;
      return { ...next, at: `read-${fill}`, fill, filledAt: doneAt(entry), readings: [], hold: null, band };
    }
    if (name === "purged") {
      const [left, last] = [pressureOf(state, entry), state.readings.at(-1)];
      const isClear = state.band && left && !(last && last.n2_percent === undefined);
      const band = isClear ? afterPurge(state.band, last?.n2_percent, left) : null;
      return { ...next, at: `filled-${fill + 1}`, band };
    }
    if (name === "read") return judged({ ...next, readings: [...state.readings, readingOf(state, entry)] }, fill);
    if (name === "held") {
      const hold = holdOf(entry);
      return hold ? judged({ ...next, hold }, fill) : { ...next, at: "book" };
    }
    const following = state.closing[state.closing.indexOf(name) + 1];
    return { ...next, at: following || "end" };
  }

  function readingOf(state, entry) {
    const at = doneAt(entry);
    const isTimed = at !== undefined && state.filledAt !== undefined;
    return {
      n2_percent: nitrogenOf(entry),
      where: fields(entry).where || "",
      after_fill_s: isTimed ? (at - state.filledAt) / 1000 : undefined,
    };
  }

  function judged(state, fill) {
    const isClear = state.readings.every(
      (one) => one.n2_percent !== undefined && (one.after_fill_s !== undefined || !state.demands.wait_s),
    );
    if (!isClear) return { ...state, at: "book" };
    const next = afterReading(state.demands, fill, state.readings, state.hold, state.atmosphere_pa);
    if (next !== "closing") return { ...state, at: next, lacks: !next.startsWith("purged") };
    return { ...state, at: state.closing[0], judged: true };
  }

  /* As the book last said it, before anything that waits on this phone. */
  function beginning() {
    const told = data("state");
    if (!told) return null;
    const filledAt = told.filled_at ? Date.parse(told.filled_at) : undefined;
    const readings = told.readings.map((one) => ({
      ...one,
      after_fill_s: filledAt === undefined ? undefined : (Date.parse(one.at) - filledAt) / 1000,
    }));
    return { ...told, filledAt, readings, judged: false, lacks: false };
  }

  /* Where the run stands once all of these are done; they follow each other, or it stops there. */
  function ahead(entries) {
    let state = beginning();
    for (const entry of entries) if (state && mayFollow(state, entry.token)) state = after(state, entry);
    if (state && entries.some((entry) => entry.token === "stopped")) return { ...state, at: "stopped" };
    return state;
  }

  /* The analyser may be passed over; a fill that was read may be read again, or purged. */
  function mayFollow({ at, fill, readings }, token) {
    if (token === at) return true;
    if (at === "checked") return token === "filled-1";
    const isReadable = /^(read|held|purged|book)/.test(at) && readings.length > 0;
    return isReadable && [`read-${fill}`, `held-${fill}`, `purged-${fill}`].includes(token);
  }

  const DIMENSION = { nitrogen: "percent", pressure: "pressure", regulator: "pressure", temperature: "temperature", wall: "wall", air_check: "percent", zero_check: "percent" };

  function doubtsOf(form, entry) {
    const { senses = {}, known = {} } = JSON.parse(form.dataset.rules || "{}");
    const typed = fields(entry);
    if (typed.is_kept || typed.instead) return [];
    return Object.entries(senses).flatMap(([name, sense]) => {
      const text = (typed[name] || "").trim();
      const dimension = DIMENSION[sense];
      if (!text || !dimension) return [];
      const value = sense === "nitrogen" ? nitrogenOf(entry) : stored(text, typed[`${name}_unit`] || usual(form, name, dimension), dimension);
      const found = value === undefined ? null : judge(data("plausibility") || [], sense, value, known);
      return found ? [{ name, text, dimension, unit: typed[`${name}_unit`] || usual(form, name, dimension), found }] : [];
    });
  }

  const usual = (form, name, dimension) =>
    dimension === "percent" ? "%" : form.elements[name]?.dataset.unit || "";

  /* In the unit that was typed. */
  function shown(value, unit, dimension) {
    if (dimension === "percent") return `${Number(value.toFixed(2))} %`;
    const zero = stored("0", unit, dimension);
    const one = stored("1", unit, dimension);
    return `${Number(((value - zero) / (one - zero)).toFixed(2))} ${unit}`;
  }

  /* With the decimal sign of the page; what is sent keeps the point. */
  const spoken = (words) => (isCommaDecimal ? words.replace(".", ",") : words);

  function paragraph(text, ...more) {
    const made = document.createElement("p");
    made.append(text, ...more);
    return made;
  }

  function question({ name, dimension, unit, found }, causesWord) {
    const { limit, value, of, meant } = found;
    const says = limit.says
      .replace("{value}", spoken(shown(value, unit, dimension)))
      .replace("{of}", of ? spoken(shown(of, unit, dimension)) : "");
    const causes = document.createElement("ul");
    for (const cause of limit.causes) causes.append(Object.assign(document.createElement("li"), { textContent: cause }));
    const buttons = meant.map(({ answer: row, value: said }) => {
      const words = shown(said, unit, dimension);
      const button = Object.assign(document.createElement("button"), { type: "submit", className: "wide" });
      Object.assign(button, { name: "instead", value: `${name}=${words}` });
      button.textContent = row.words.replace("{answer}", spoken(words));
      return paragraph(button);
    });
    return [paragraph(`${says} ${causesWord}`), causes, ...buttons];
  }

  /* A reading outside the band of the plan and of what the fills before taught; null where it fits,
     where nothing tells, or where it was asked about already. */
  function unexpected(entry, state) {
    const typed = fields(entry);
    const isAnswered = typed.is_kept && (!typed.asked_by_phone || typed.band_asked === typed.n2_percent);
    const n2 = nitrogenOf(entry);
    if (isAnswered || !state?.band || n2 === undefined || entry.token !== `read-${state.fill}`) return null;
    const found = judgeReading(state.band, n2);
    return found && !found.isPlausible ? found : null;
  }

  function bandQuestion({ low, high, causes }) {
    const { lang } = document.documentElement;
    const one = (value) => value.toLocaleString(lang, { minimumFractionDigits: 1, maximumFractionDigits: 1 });
    const words = document.getElementById("kept").dataset;
    const list = document.createElement("ul");
    const known = data("state").causes;
    for (const code of causes) list.append(Object.assign(document.createElement("li"), { textContent: known[code] }));
    return [paragraph(words.band.replace("{low}", one(low)).replace("{high}", one(high))), list];
  }

  /* Asks in the form itself; says whether there was something to ask. `state`: where the run stood. */
  function askHere(form, entry, state = null) {
    form.querySelector("section.doubts")?.remove();
    const doubts = doubtsOf(form, entry);
    const band = unexpected(entry, state);
    if (!doubts.length && !band) return false;
    const asked = document.getElementById("ask-here").content.cloneNode(true);
    const words = document.getElementById("kept").dataset.causes;
    asked.querySelector("[data-part=doubts]").append(...doubts.flatMap((doubt) => question(doubt, words)));
    if (band) asked.querySelector("[data-part=doubts]").append(...bandQuestion(band));
    if (doubts.some(({ found }) => !found.limit.can_be_true)) asked.querySelector("[data-part=keep]").remove();
    const marks = [["asked_by_phone", "1"], ...doubts.map(({ name, text, unit, dimension }) => ["asked", `${name}=${askedAs(text, unit, dimension, form, name)}`])];
    if (band) marks.push(["band_asked", fields(entry).n2_percent]);
    for (const [name, value] of marks) {
      asked.querySelector("section").append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
    }
    form.querySelector(".thumb, .actions").before(asked);
    form.classList.add("asked");
    form.querySelector("#asked-here").focus();
    return true;
  }

  /* As the book reads it: with the unit beside it where that is not the usual one. */
  function askedAs(text, unit, dimension, form, name) {
    const choice = form.elements[`${name}_unit`];
    const first = dimension === "percent" ? choice?.options[0]?.value : form.elements[name]?.dataset.unit;
    const isBare = /^[+-]?[\d.,/ ]*\d$/.test(text);
    return !choice || !isBare || choice.value === first ? text : `${text} ${choice.value}`;
  }

  globalThis.riserbook = { ...globalThis.riserbook, after, ahead, askHere, nitrogenOf };
})();

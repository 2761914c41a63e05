/* What this phone thinks of an entry while the book is out of reach: the table of what can hardly be
   true, and what the owner asks of an acceptance, both as the page brought them. Pure: no page, no
   clock. `tests/registry/phone` holds it against the book on the same cases. */
(() => {
  "use strict";
  const PSI = 6894.757293168361;
  const ROUNDING_PA = 1.0;
  const SCALES = {
    pressure: { psi: [PSI, 0], bar: [1e5, 0], kPa: [1e3, 0] },
    temperature: { "°F": [5 / 9, 459.67 * (5 / 9)], "°C": [1, 273.15] },
    wall: { in: [25.4, 0], mm: [1, 0] },
    percent: { "%": [1, 0] },
    duration: { s: [1, 0], min: [60, 0], h: [3600, 0] },
  };

  /* By the rule of `registry/quantities/numerals.py`; undefined for what is to be asked, or is no
     number. `decimal`: the sign before decimals in the reader's language. */
  function number(text, decimal = ".") {
    const plain = text.trim().replace("−", "-").replace(/[\u00a0\u202f\u2009]/g, " ");
    const [, sign, typed] = /^([+-]?) ?(.*)$/.exec(plain);
    const digits = /^[1-9]\d{0,2}( \d{3})+([.,]\d+)?$/.test(typed) ? typed.replaceAll(" ", "") : typed;
    const value = unsigned(digits, decimal);
    return value === undefined || sign !== "-" ? value : -value;
  }

  function unsigned(digits, decimal) {
    const open = /^[1-9]\d{0,2}([.,])\d{3}$/.exec(digits);
    if (open && open[1] !== decimal) return undefined; // a thousand, or a part
    if (/^(\d+[.,]?\d*|[.,]\d+)$/.test(digits)) return Number(digits.replace(",", "."));
    if (/^[1-9]\d{0,2}(,\d{3})+(\.\d+)?$/.test(digits)) return Number(digits.replaceAll(",", ""));
    if (/^[1-9]\d{0,2}(\.\d{3})+(,\d+)?$/.test(digits)) return Number(digits.replaceAll(".", "").replace(",", "."));
    return undefined;
  }

  /* What was typed, in the unit that the book stores; undefined where only the book can read it. */
  function stored(text, unit, dimension, isNitrogen, decimal) {
    const [, digits, own] = /^\s*([+\-−]?[\d.,\s]*\d)\s*(.*?)\s*$/.exec(text || "") || [];
    if (digits === undefined) return undefined;
    const value = number(digits, decimal);
    const said = own || unit || "";
    if (value === undefined) return undefined;
    if (isNitrogen) {
      const gas = said.toLowerCase().replace(/[\s%]/g, "");
      if (["", "n2", "nitrogen"].includes(gas)) return value;
      return ["o2", "oxygen"].includes(gas) ? 100 - value : undefined;
    }
    const scale = SCALES[dimension]?.[said];
    return scale && value * scale[0] + scale[1];
  }

  function meets(limit, value, known) {
    const unit = limit.of ? known[limit.of] : 1;
    if (!unit || (limit.only && !known[limit.only])) return false;
    const isLow = limit.below !== null && value < limit.below * unit;
    return isLow || (limit.above !== null && value > limit.above * unit);
  }

  /* The first limit of the table that a value passes, with what was probably meant. */
  function judge(table, sense, value, known = {}) {
    const limit = table.find((row) => row.sense === sense && meets(row, value, known));
    if (!limit) return null;
    const of = limit.of ? known[limit.of] : null;
    const unit = limit.of ? known.planned || of || 1 : 1;
    const meant = limit.answers
      .map((answer) => ({ answer, value: round(answer.scale * value + answer.shift) }))
      .filter(({ answer, value: said }) => {
        const share = said / unit;
        return share >= (answer.least ?? -Infinity) && share <= (answer.most ?? Infinity);
      });
    return { limit, value, of, meant };
  }

  const round = (value) => Math.round(value * 1e9) / 1e9;
  const point = (reading) => (reading.where || "").toLowerCase().split(/\s+/).filter(Boolean).join(" ");

  function latest(demands, readings) {
    if (demands.points === 1) return readings.slice(-1);
    return [...new Map(readings.map((reading) => [point(reading), reading])).values()];
  }

  function lacksOfReadings(demands, read) {
    const below = read.filter((one) => one.n2_percent < demands.target_n2_percent);
    if (below.length) return below.map(() => "below_target");
    const early = read.filter((one) => (one.after_fill_s || 0) < demands.wait_s).map(() => "too_early");
    if (demands.points === 1) return early;
    const named = read.filter(point).length;
    if (named >= demands.points) return early;
    return [...early, ...read.filter((one) => !point(one)).map(() => "point_not_named"), "more_points"];
  }

  function lacksOfHold(demands, hold, atmosphere) {
    if (demands.hold_s <= 0) return [];
    if (!hold) return ["no_hold"];
    if (hold.duration_s < demands.hold_s) return ["hold_too_short"];
    let end = hold.end_gauge_pa + atmosphere;
    if (hold.start_temperature_k && hold.end_temperature_k) {
      end *= hold.start_temperature_k / hold.end_temperature_k;
    }
    const fall = hold.start_gauge_pa + atmosphere - end;
    return fall > demands.hold_fall_pa + ROUNDING_PA ? ["hold_fell"] : [];
  }

  const USUAL = { wait_s: 0, points: 1, hold_s: 0, hold_fall_pa: 0.5 * PSI };

  /* What the readings of a fill lack of an acceptance; nothing where they earn it. */
  function lacks(asked, readings, hold, atmosphere) {
    const demands = { ...USUAL, ...asked };
    const read = latest(demands, readings);
    if (!read.length) return ["no_reading"];
    const found = lacksOfReadings(demands, read);
    return found.length ? found : lacksOfHold(demands, hold, atmosphere);
  }

  const OF_THE_HOLD = ["no_hold", "hold_too_short", "hold_fell"];

  /* The step after a reading or a hold of this fill. "closing": by this phone's judgement only. */
  function afterReading(asked, fill, readings, hold, atmosphere) {
    const found = lacks(asked, readings, hold, atmosphere);
    if (!found.length) return "closing";
    if (found.some((code) => ["no_reading", "below_target"].includes(code))) return `purged-${fill}`;
    return found.every((code) => OF_THE_HOLD.includes(code)) ? `held-${fill}` : `read-${fill}`;
  }

  const book = { afterReading, judge, lacks, number, stored };
  globalThis.riserbook = { ...globalThis.riserbook, ...book };
})();

/* Which readings of a fill can be believed, for a phone that has lost the book: the belief about the
   mixing index, what each fill taught, and the band of the next reading, computed as the book does
   (registry/corrosion/mixing.py). Oxygen as mole fractions, pressures absolute in Pa. Pure: no page,
   no clock. `tests/registry/phone` holds it against the book on the same cases. */
(() => {
  "use strict";
  const READING_SD = 0.002;
  const FILL_SCATTER = 0.05;
  const TAIL = 0.01;
  const [LOWEST, HIGHEST, COUNT] = [0.02, 2.5, 497];
  const STEP = (HIGHEST - LOWEST) / (COUNT - 1);
  const NODES = Array.from({ length: COUNT }, (_, at) => LOWEST + at * STEP);
  const HALF_ERRORS = [0.126, 0.385, 0.674, 1.036, 1.645];
  const ERRORS = [...HALF_ERRORS.map((one) => -one), ...HALF_ERRORS];
  const LOOKS_LIKE_OXYGEN = 25;
  const sum = (numbers) => numbers.reduce((whole, one) => whole + one, 0);
  const shares = (numbers) => {
    const whole = sum(numbers);
    return numbers.map((one) => one / whole);
  };
  const isExact = ({ sd }) => sd < STEP;
  const weights = ({ mean, sd }) => shares(NODES.map((node) => Math.exp(-0.5 * ((node - mean) / sd) ** 2)));
  const oxygen = (n2Percent) => 1 - n2Percent / 100;

  /* The reading's standard deviation for a given index: two meter errors and scatter of the fill. */
  function spread(aboveFeed, ratio, left, scatter) {
    const slope = aboveFeed * left * Math.log(ratio);
    return Math.sqrt(READING_SD ** 2 * (1 + left ** 2) + (slope * scatter) ** 2);
  }

  function logLikelihood({ start, oxygen: read, feed, ratio }, index) {
    const left = ratio ** index;
    const sd = spread(start - feed, ratio, left, FILL_SCATTER);
    return -0.5 * ((read - feed - (start - feed) * left) / sd) ** 2 - Math.log(sd);
  }

  /* What is believed of the index after these fills. */
  function belief(prior, fills) {
    if (isExact(prior)) return prior;
    const teaching = fills.filter(({ start, feed }) => start > feed);
    const scores = weights(prior).map((weight, at) =>
      Math.log(weight) + sum(teaching.map((fill) => logLikelihood(fill, NODES[at]))));
    const best = Math.max(...scores);
    const after = shares(scores.map((score) => Math.exp(score - best)));
    const mean = sum(after.map((weight, at) => weight * NODES[at]));
    return { mean, sd: Math.sqrt(sum(after.map((weight, at) => weight * (NODES[at] - mean) ** 2))) };
  }

  /* Linear between the sorted numbers. */
  function quantile(sorted, share) {
    const place = share * (sorted.length - 1);
    const low = Math.floor(place);
    const high = Math.min(low + 1, sorted.length - 1);
    return sorted[low] + (sorted[high] - sorted[low]) * (place - low);
  }

  function indexes(mixing) {
    const wanted = Array.from({ length: 200 }, (_, at) => (at + 0.5) / 200);
    if (isExact(mixing)) return wanted.map(() => mixing.mean);
    let before = 0;
    const middles = weights(mixing).map((weight) => {
      before += weight;
      return before - 0.5 * weight;
    });
    let at = 0;
    return wanted.map((share) => {
      while (at < COUNT && middles[at] < share) at += 1;
      if (at === 0) return NODES[0];
      if (at === COUNT) return NODES[COUNT - 1];
      const part = (share - middles[at - 1]) / (middles[at] - middles[at - 1]);
      return NODES[at - 1] + part * STEP;
    });
  }

  /* Equally likely readings of oxygen, sorted. */
  function possible(mixing, { start, feed, ratio }) {
    const scatter = isExact(mixing) ? 0 : FILL_SCATTER;
    const found = indexes(mixing).flatMap((index) => {
      const left = ratio ** index;
      const sd = spread(start - feed, ratio, left, scatter);
      return ERRORS.map((error) => Math.min(1, Math.max(0, feed + (start - feed) * left + sd * error)));
    });
    return found.sort((a, b) => a - b);
  }

  function causesOf(fill, { belowFeed, tooRich, tooPoor }) {
    if (belowFeed) return ["analyser", "feed"];
    if (tooRich) return ["short_circuit", "too_early", "analyser"];
    if (tooPoor && fill.oxygen >= fill.start) return ["air_in", "analyser", "feed"];
    return tooPoor ? ["water_left", "dead_leg", "too_early", "air_in", "analyser"] : [];
  }

  /* Whether a reading fits what was believed before it; null where nothing tells. `run` is the run
     as a phone follows it: {prior, feed_n2_percent, start_n2_percent, left_pa, reached_pa, fills}. */
  function judgeReading(run, n2Percent) {
    const { prior, fills, left_pa: left, reached_pa: reached } = run;
    const ratio = left / reached;
    if (!(ratio > 0 && ratio < 1) || n2Percent < 0 || n2Percent > 100) return null;
    const feed = oxygen(run.feed_n2_percent);
    const fill = { start: oxygen(run.start_n2_percent), oxygen: oxygen(n2Percent), feed, ratio };
    const readings = possible(belief(prior, fills), fill);
    const belowFeed = fill.oxygen < feed - 2 * READING_SD;
    const tooRich = belowFeed || fill.oxygen < quantile(readings, TAIL) - READING_SD;
    const tooPoor = fill.oxygen > quantile(readings, 1 - TAIL) + READING_SD;
    const causes = causesOf(fill, { belowFeed, tooRich, tooPoor });
    if (causes.length && n2Percent < LOOKS_LIKE_OXYGEN) causes.unshift("oxygen_shown");
    const n2 = (share) => 100 * (1 - quantile(readings, share));
    return { isPlausible: !(tooRich || tooPoor), low: n2(0.9), high: n2(0.1), causes };
  }

  /* The run as it is for the next fill, once this one was read and let out to `left` (Pa absolute). */
  function afterPurge(run, n2Percent, left) {
    const isRead = n2Percent !== undefined;
    const ratio = run.left_pa / run.reached_pa;
    const feed = oxygen(run.feed_n2_percent);
    const teaches = isRead && ratio > 0 && ratio < 1;
    const fill = { start: oxygen(run.start_n2_percent), oxygen: isRead ? oxygen(n2Percent) : 0, feed, ratio };
    return {
      ...run,
      fills: teaches ? [...run.fills, fill] : run.fills,
      start_n2_percent: isRead ? n2Percent : run.start_n2_percent,
      left_pa: left,
      reached_pa: null,
    };
  }

  globalThis.riserbook = { ...globalThis.riserbook, afterPurge, judgeReading };
})();

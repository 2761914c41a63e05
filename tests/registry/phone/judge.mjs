/* Reads cases on standard input, judges each with the program of the page, and writes what it says. */
import { readFileSync } from "node:fs";

for (const program of process.argv.slice(2)) (0, eval)(readFileSync(program, "utf8"));
const { afterPurge, afterReading, judge, judgeReading, lacks, number, stored } = globalThis.riserbook;
const { table, cases } = JSON.parse(readFileSync(0, "utf8"));

/* What a phone makes of a run that goes on without the book: [reading, left, reached] for each fill. */
const followed = (run, steps) =>
  steps.reduce((now, [n2, left, reached]) => ({ ...afterPurge(now, n2, left), reached_pa: reached }), run);

const judged = ({ sense, value, known }) => {
  const found = judge(table, sense, value, known || {});
  return found && { code: found.limit.code, meant: found.meant.map((one) => one.value) };
};
const does = {
  number: ({ typed, decimal }) => number(typed, decimal) ?? null,
  band: ({ run, n2, steps = [] }) => judgeReading(followed(run, steps), n2),
  judge: judged,
  lacks: ({ demands, readings, hold, atmosphere }) => lacks(demands, readings, hold, atmosphere),
  next: ({ demands, fill, readings, hold, atmosphere }) => afterReading(demands, fill, readings, hold, atmosphere),
  stored: ({ text, unit, dimension, is_nitrogen: isNitrogen }) => stored(text, unit, dimension, isNitrogen) ?? null,
};
console.log(JSON.stringify(cases.map(([what, given]) => does[what](given))));

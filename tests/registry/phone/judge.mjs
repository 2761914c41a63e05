/* Reads cases on standard input, judges each with the program of the page, and writes what it says. */
import { readFileSync } from "node:fs";

const [, , program] = process.argv;
(0, eval)(readFileSync(program, "utf8"));
const { afterReading, judge, lacks, stored } = globalThis.riserbook;
const { table, cases } = JSON.parse(readFileSync(0, "utf8"));

const judged = ({ sense, value, known }) => {
  const found = judge(table, sense, value, known || {});
  return found && { code: found.limit.code, meant: found.meant.map((one) => one.value) };
};
const does = {
  judge: judged,
  lacks: ({ demands, readings, hold, atmosphere }) => lacks(demands, readings, hold, atmosphere),
  next: ({ demands, fill, readings, hold, atmosphere }) => afterReading(demands, fill, readings, hold, atmosphere),
  stored: ({ text, unit, dimension, is_nitrogen: isNitrogen }) => stored(text, unit, dimension, isNitrogen) ?? null,
};
console.log(JSON.stringify(cases.map(([what, given]) => does[what](given))));

/* Drag a booking to another day: fills the form that its page would send, and sends it. Where that
   is refused, the server answers with the form and the reason, as it does without this script. */
"use strict";

dragOverDays({
  table: ".days",
  what: "[data-step]",
  cells: "td[data-day]",
  drop: ({ step, seen, begins, ends, crew }, cell) => {
    const form = document.getElementById("move");
    const answers = { seen, begins, ends, day: cell.day, crew: cell.crew || crew };
    for (const [name, value] of Object.entries(answers)) form.elements[name].value = value;
    form.action = step;
    form.submit();
  },
});

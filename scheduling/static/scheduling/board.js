/* Drag a job to a crew's day: opens the page that says what that would cost, with the day chosen.
   Without this script the same page opens by the link “Move”. */
"use strict";

dragOverDays({
  table: ".board",
  what: "[data-move]",
  cells: "td[data-day][data-crew]",
  drop: (job, { day, crew }) => {
    const where = new URLSearchParams({ on: day, where: `${crew}-${day}` });
    window.location.assign(`${job.move}?${where}`);
  },
});

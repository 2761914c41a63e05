/* Drag a job to a crew's day: opens the page that says what that would cost, with the day chosen.
   Without this script the same page opens by the link “Move”. */
"use strict";

(() => {
  let dragged = null;

  const cellOf = (event) => event.target.closest("td[data-day][data-crew]");

  const mark = (cell) => {
    document.querySelectorAll(".board td.over").forEach((one) => one.classList.remove("over"));
    if (cell) cell.classList.add("over");
  };

  document.addEventListener("dragstart", (event) => {
    dragged = event.target.closest("[data-move]");
    if (!dragged) return;
    event.dataTransfer.effectAllowed = "move";
    event.dataTransfer.setData("text/plain", dragged.textContent.trim());
  });

  document.addEventListener("dragover", (event) => {
    if (!dragged || !cellOf(event)) return;
    event.preventDefault();
    mark(cellOf(event));
  });

  document.addEventListener("dragend", () => {
    dragged = null;
    mark(null);
  });

  document.addEventListener("drop", (event) => {
    const cell = cellOf(event);
    if (!dragged || !cell) return;
    event.preventDefault();
    const { day, crew } = cell.dataset;
    const where = new URLSearchParams({ on: day, where: `${crew}-${day}` });
    window.location.assign(`${dragged.dataset.move}?${where}`);
  });
})();

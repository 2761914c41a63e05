/* Dragging a job over a table of days, for the scripts of the board, the week and the month: they
   say what can be dragged, over which cells, and what a drop does. */
"use strict";

const dragOverDays = ({ table, what, cells, drop }) => {
  let dragged = null;

  const cellOf = (event) => event.target.closest(cells);

  const mark = (cell) => {
    document.querySelectorAll(`${table} td.over`).forEach((one) => one.classList.remove("over"));
    if (cell) cell.classList.add("over");
  };

  document.addEventListener("dragstart", (event) => {
    dragged = event.target.closest(what);
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
    drop(dragged.dataset, cell.dataset);
  });
};

/* Drag a booking to another day: fills the form that its page would send, and sends it. Where that
   is refused, the server answers with the form and the reason, as it does without this script. */
"use strict";

(() => {
  const form = document.getElementById("move");
  let dragged = null;

  const cellOf = (event) => event.target.closest("td[data-day]");

  const mark = (cell) => {
    document.querySelectorAll(".days td.over").forEach((one) => one.classList.remove("over"));
    if (cell) cell.classList.add("over");
  };

  document.addEventListener("dragstart", (event) => {
    dragged = event.target.closest("[data-step]");
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
    const { step, seen, begins, ends, crew } = dragged.dataset;
    const answers = { seen, begins, ends, day: cell.dataset.day, crew: cell.dataset.crew || crew };
    for (const [name, value] of Object.entries(answers)) form.elements[name].value = value;
    form.action = step;
    form.submit();
  });
})();

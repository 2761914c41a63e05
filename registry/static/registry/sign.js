/* A signature drawn with whatever points: its strokes become a PNG in the form. Nothing is sent
   unless something was drawn, and clearing the box takes it out of the form again. */
(() => {
  "use strict";
  const form = document.getElementById("sign");
  const box = form?.querySelector("[data-pad]");
  if (!box) return;
  const pad = box.querySelector("canvas");
  const said = box.querySelector("[data-drawn]");
  const ink = pad.getContext("2d");
  const field = form.elements.drawn;
  let last = null;

  function clear() {
    ink.fillStyle = "#fff";
    ink.fillRect(0, 0, pad.width, pad.height);
    field.value = "";
    said.textContent = "";
  }

  const at = (event) => {
    const edge = pad.getBoundingClientRect();
    return [
      ((event.clientX - edge.left) * pad.width) / edge.width,
      ((event.clientY - edge.top) * pad.height) / edge.height,
    ];
  };

  function line(from, to) {
    ink.strokeStyle = "#111";
    ink.lineWidth = 5;
    ink.lineCap = "round";
    ink.beginPath();
    ink.moveTo(...from);
    ink.lineTo(...to);
    ink.stroke();
  }

  pad.addEventListener("pointerdown", (event) => {
    pad.setPointerCapture(event.pointerId);
    last = at(event);
    line(last, last);
    event.preventDefault();
  });
  pad.addEventListener("pointermove", (event) => {
    if (!last) return;
    const now = at(event);
    line(last, now);
    last = now;
  });
  const lift = () => {
    if (!last) return;
    last = null;
    field.value = pad.toDataURL("image/png");
    said.textContent = said.dataset.some;
  };
  pad.addEventListener("pointerup", lift);
  pad.addEventListener("pointercancel", lift);
  box.querySelector("[data-clear]").addEventListener("click", clear);

  /* The box is there while "on this screen" is chosen. */
  const show = () => {
    box.hidden = form.elements.way.value !== "screen";
  };
  form.addEventListener("change", show);
  clear();
  show();
})();

/* Mark where a site lies on the blank grid: a click, or arrow keys once it has the focus, write the
   degrees into the field, which can be typed as well. */
"use strict";

(() => {
  const sketch = document.getElementById("sketch");
  const field = document.getElementById("id_where");
  if (!sketch || !field) return;
  const own = document.getElementById("sketch-own");
  const { width, height } = sketch.viewBox.baseVal;
  const number = (name) => Number(sketch.dataset[name]);
  let x = own.dataset.x ? Number(own.dataset.x) : width / 2;
  let y = own.dataset.y ? Number(own.dataset.y) : height / 2;

  const put = () => {
    x = Math.min(width, Math.max(0, x));
    y = Math.min(height, Math.max(0, y));
    own.setAttribute("cx", x);
    own.setAttribute("cy", y);
    own.removeAttribute("hidden");
    const latitude = number("north") - y * number("perY");
    const longitude = number("east") + x * number("perX");
    field.value = `${latitude.toFixed(5)}, ${longitude.toFixed(5)}`;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  };

  sketch.addEventListener("click", (event) => {
    const box = sketch.getBoundingClientRect();
    x = ((event.clientX - box.left) / box.width) * width;
    y = ((event.clientY - box.top) / box.height) * height;
    put();
  });

  const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  sketch.addEventListener("keydown", (event) => {
    const step = STEPS[event.key];
    if (!step) return;
    event.preventDefault();
    const size = event.shiftKey ? 1 : 8;
    x += size * step[0];
    y += size * step[1];
    put();
  });

  sketch.setAttribute("tabindex", "0");
})();

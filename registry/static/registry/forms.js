/* A form is sent once: a second tap while the first is under way does nothing.
   The server does not rely on this; its records carry a key of their own. */
(() => {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post") return;
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    form.querySelector("button[type=submit]")?.setAttribute("aria-busy", "true");
  });

  /* A button beside a form takes along what stands in that form now, and not what stood there when
     the page last heard from the book: a hand on the button is quicker than the answer. */
  document.addEventListener("submit", ({ target }) => {
    const source = document.getElementById(target.dataset.takesFrom || "");
    if (!source) return;
    for (const [name, value] of new FormData(source)) {
      const known = target.elements.namedItem(name);
      const field = known || Object.assign(document.createElement("input"), { type: "hidden", name });
      field.value = value;
      if (!known) target.append(field);
    }
  }, true);

  /* What the page of a run laid on the shelf of this phone goes with the person who signs out. */
  const SHELF = "riserbook-run";
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!("signOut" in form.dataset) || !window.caches) return;
    event.preventDefault();
    caches.delete(SHELF).catch(() => undefined).then(() => form.submit());
  });
  const isSignedOut = document.getElementById("menu") === null;
  if (isSignedOut && window.caches) caches.delete(SHELF).catch(() => undefined);

  /* The page kept for the way back must accept a new attempt. */
  window.addEventListener("pageshow", () => {
    for (const form of document.querySelectorAll("form[data-sent]")) {
      delete form.dataset.sent;
      form.querySelector("[aria-busy]")?.removeAttribute("aria-busy");
    }
  });
})();

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

  /* The page kept for the way back must accept a new attempt. */
  window.addEventListener("pageshow", () => {
    for (const form of document.querySelectorAll("form[data-sent]")) {
      delete form.dataset.sent;
      form.querySelector("[aria-busy]")?.removeAttribute("aria-busy");
    }
  });
})();

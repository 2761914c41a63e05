/* At the riser: after every step a spoken word and the focus on the next answer, a stopwatch since
   the gas was shut off, and photos sent without leaving the page. Without this script the same
   forms are posted as any other. */
(() => {
  "use strict";
  const spoken = document.createElement("div");
  spoken.className = "for-readers";
  spoken.setAttribute("role", "status");
  document.body.append(spoken);

  const stepOf = () => document.getElementById("step");
  const tokenOf = () => stepOf()?.querySelector("[name=token]")?.value || "";
  let seen = { step: stepOf(), token: tokenOf() };

  /* The field that the step is about; where one tap is the usual answer, that button. */
  function next(form) {
    const zero = form.querySelector("button[name=at_zero]");
    const fields = form.querySelectorAll("input:not([type=hidden]), select, textarea");
    const asked = [...fields].filter((field) => !field.closest("details:not([open])"));
    const empty = asked.find((field) => field.required && !field.value);
    return zero || empty || asked[0];
  }

  function turned() {
    const step = stepOf();
    const token = tokenOf();
    if (step === seen.step && token === seen.token) return;
    const isHeld = step !== null && step === seen.step; // the phone went on without the book
    seen = { step, token };
    const heading = document.querySelector("main h1")?.textContent.trim() || "";
    const said = isHeld ? step.dataset.kept : step?.dataset.said;
    spoken.textContent = [said, heading].filter(Boolean).join(" ");
    const form = step?.querySelector("form[data-step]");
    if (form) window.htmx?.process(document.querySelector("main")); // echoes and hints follow the typing
    if (form && !document.querySelector("main [autofocus]")) next(form)?.focus();
  }

  /* An echo needs the book; without a connection it would only fill the console with errors. */
  document.addEventListener("htmx:beforeRequest", (event) => {
    if (!navigator.onLine) event.preventDefault();
  });

  new MutationObserver(turned).observe(document.body, { childList: true, subtree: true });

  function tick() {
    for (const watch of document.querySelectorAll("[data-stopwatch]")) {
      const seconds = Math.max(0, Math.floor((Date.now() - Date.parse(watch.dataset.stopwatch)) / 1000));
      const hours = Math.floor(seconds / 3600);
      const rest = [Math.floor(seconds / 60) % 60, seconds % 60].map((n) => String(n).padStart(2, "0"));
      watch.textContent = (hours ? [hours, ...rest] : rest).join(":");
    }
  }
  setInterval(tick, 1000);
  tick();

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!form.matches("[data-photo]")) return;
    event.preventDefault();
    const said = form.querySelector("[data-photo-said]");
    const button = form.querySelector("button[type=submit]");
    button.setAttribute("aria-busy", "true");
    try {
      const body = new FormData(form);
      const answer = await fetch(form.action, { method: "POST", body, credentials: "same-origin" });
      if (answer.status === 422) return mend(form, await answer.text());
      if (!answer.ok || new URL(answer.url).pathname !== window.location.pathname) throw answer;
      shown(form, await answer.text());
    } catch {
      said.textContent = said.dataset.waits;
    } finally {
      button.removeAttribute("aria-busy");
    }
  });

  const parsed = (html) => new DOMParser().parseFromString(html, "text/html");

  /* What is half typed for the step stays: only the log and the form of the photo are new. */
  function shown(form, html) {
    const page = parsed(html);
    const log = page.querySelector("section[aria-labelledby=log]");
    document.querySelector("section[aria-labelledby=log]").replaceWith(document.adoptNode(log));
    const blank = document.adoptNode(page.querySelector("form[data-photo]"));
    form.replaceWith(blank);
    blank.querySelector("[data-photo-said]").textContent = form.querySelector("[data-photo-said]").dataset.sent;
  }

  function mend(form, html) {
    const asked = parsed(html).querySelector("main form");
    asked.dataset.photo = "";
    form.replaceWith(document.adoptNode(asked));
    asked.querySelector("[autofocus]")?.focus();
  }
})();

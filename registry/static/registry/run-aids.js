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

  /* A photo waits in the same queue as the steps, sealed like them. */
  const { flush, outbox } = globalThis.riserbook;
  const sent = new Map();

  function entryOf(form) {
    const { run, system, seen, head } = document.getElementById("kept").dataset;
    const data = [...new FormData(form)].filter(([name]) => name !== "csrfmiddlewaretoken");
    const files = data.filter(([, value]) => typeof value !== "string");
    return {
      key: form.elements.client_key.value.replaceAll("-", ""),
      to: form.action,
      page: run,
      run,
      system,
      data,
      step: form.dataset.photo,
      words: files.map(([, file]) => file.name).join(", "),
      seen: { sequence: seen, hash: head },
      madeAt: Date.now(),
    };
  }

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!("photo" in form.dataset) || !outbox.isPossible || form.dataset.plain) return;
    event.preventDefault();
    if (form.dataset.sent) return;
    form.dataset.sent = "yes";
    const entry = entryOf(form);
    const said = form.querySelector("[data-photo-said]");
    const button = form.querySelector("button[type=submit]");
    button.setAttribute("aria-busy", "true");
    try {
      await outbox.keep(entry);
      sent.set(entry.key, form);
      await flush();
      await outbox.change(entry.key, { tried: true });
      const left = await outbox.find(entry.key);
      said.textContent = left ? (left.asked ? left.says : said.dataset.waits) : said.dataset.sent;
      if (left && !left.asked) renew(form);
    } catch {
      said.textContent = said.dataset.lost;
    } finally {
      sent.delete(entry.key);
      delete form.dataset.sent;
      button.removeAttribute("aria-busy");
    }
  }, true);

  /* The next photo is another entry. */
  function renew(form) {
    form.elements.client_key.value = outbox.newKey();
    form.querySelector("input[type=file]").value = "";
  }

  const parsed = (html) => new DOMParser().parseFromString(html, "text/html");

  /* A photo that the book does not take is shown as it asks for it, and waits here no longer. */
  document.addEventListener("outbox:result", ({ detail: { entry, result } }) => {
    const form = sent.get(entry.key);
    if (!form || result.is !== "asked" || !result.html) return;
    const asked = parsed(result.html).querySelector("main form");
    asked.dataset.photo = form.dataset.photo;
    form.replaceWith(document.adoptNode(asked));
    asked.querySelector("[autofocus]")?.focus();
    outbox.drop(entry.key);
  });
})();

/* Events, readings and restorations logged where there is no connection: kept on this phone first, as
   the steps of a run are, and sent when the book can be reached. */
(() => {
  "use strict";
  const { askHere, flush, outbox } = globalThis.riserbook;
  const formOf = () => document.querySelector("form.entry[data-keeps]");
  const facts = document.getElementById("kept")?.dataset;
  if (!facts || !formOf() || !outbox.isPossible) return;

  /* A clock where the system stands, as the field shows it. */
  function localNow(zone) {
    const parts = new Intl.DateTimeFormat("sv-SE", {
      timeZone: zone, year: "numeric", month: "2-digit", day: "2-digit", hour: "2-digit", minute: "2-digit",
    });
    return parts.format(new Date()).replace(" ", "T");
  }

  /* A page that this phone kept has the time and the key of another day. */
  function renew(form) {
    if (!document.body.dataset.shelf) return;
    if (form.elements.occurred_at?.value) form.elements.occurred_at.value = localNow(facts.zone);
    form.elements.client_key.value = outbox.newKey();
  }

  function entryOf(form, submitter) {
    const data = [...new FormData(form, submitter)].filter(([name, value]) =>
      name !== "csrfmiddlewaretoken" && (typeof value === "string" || value.size > 0));
    const shown = [...form.querySelectorAll("input:not([type=hidden], [type=datetime-local]), select, textarea")];
    const told = shown.filter((one) => one.value && one.type !== "file" && (!["radio", "checkbox"].includes(one.type) || one.checked));
    return {
      key: form.elements.client_key.value.replaceAll("-", ""),
      to: form.action,
      page: location.pathname,
      run: facts.runEnded || "",
      token: facts.runEnded ? "stopped" : "", // after every step of its run
      system: facts.system,
      data,
      step: facts.step,
      words: told.map((one) => one.value).join(", ").slice(0, 120),
      seen: { sequence: facts.seen, hash: facts.head },
      madeAt: Date.now(),
    };
  }

  /* An echo needs the book; without a connection it would only fill the console with errors. */
  document.addEventListener("htmx:beforeRequest", (event) => {
    if (!navigator.onLine) event.preventDefault();
  });

  let mine = null;
  let asked = null;

  async function take(form, submitter) {
    const entry = entryOf(form, submitter);
    try {
      await outbox.keep(entry);
    } catch {
      form.dataset.plain = "yes";
      delete form.dataset.sent;
      return form.requestSubmit(submitter || undefined);
    }
    mine = entry.key;
    asked = null;
    await flush();
    mine = null;
    delete form.dataset.sent;
    form.querySelector("[aria-busy]")?.removeAttribute("aria-busy");
    const left = await outbox.find(entry.key);
    if (!left) return location.assign(facts.after);
    if (left.asked) return asked ? turnTo(asked) : says(left.says);
    await outbox.change(entry.key, { tried: true });
    if (askHere(form, entry)) await outbox.change(entry.key, { asked: true, byPhone: true, says: "" });
    else waits(form);
  }

  function says(text) {
    const line = document.querySelector("#kept [data-part=says]");
    line.textContent = text;
    line.hidden = false;
  }

  function turnTo(html) {
    const next = new DOMParser().parseFromString(html, "text/html");
    document.querySelector("main").replaceWith(document.adoptNode(next.querySelector("main")));
    document.querySelector("main [autofocus], main h1")?.focus();
    window.scrollTo(0, 0);
  }

  function waits(form) {
    const told = document.getElementById("waits").content.cloneNode(true);
    form.hidden = true;
    form.before(told);
    document.querySelector("main h1").tabIndex = -1;
    document.querySelector("main h1").focus();
    window.scrollTo(0, 0);
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!("keeps" in form.dataset) || form.dataset.plain) return;
    event.preventDefault();
    event.stopPropagation();
    if (form.dataset.sent) return;
    form.dataset.sent = "yes";
    event.submitter?.setAttribute("aria-busy", "true");
    take(form, event.submitter);
  }, true);

  document.addEventListener("outbox:result", ({ detail: { entry, result } }) => {
    if (entry.key === mine && result.is === "asked") asked = result.html || null;
  });

  async function mend() {
    const [, key] = /^#kept-(\w+)$/.exec(location.hash) || [];
    const entry = key && (await outbox.find(key));
    const form = formOf();
    if (!entry) return renew(form);
    form.hidden = false;
    for (const told of document.querySelectorAll("main .note.waits")) told.remove();
    for (const field of form.querySelectorAll("input:not([type=hidden], [type=file]), select, textarea")) {
      const [, value] = entry.data.find(([name]) => name === field.name) || [];
      if (["radio", "checkbox"].includes(field.type)) field.checked = field.value === value;
      else field.value = value ?? field.value;
    }
    form.elements.client_key.value = entry.key;
    says(entry.says || "");
  }
  mend().catch(() => undefined);
  window.addEventListener("hashchange", () => mend().catch(() => undefined));
})();

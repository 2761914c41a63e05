/* An entry made at the riser is never lost: it is written down on this phone first, sent, and
   crossed out only when the book has it. Each entry carries a key of its own, so that sending it
   twice writes it once; and how long it waited, so that the book knows when it was made.
   Without this script the same form is posted as any other. */
(() => {
  "use strict";
  const { ahead, askHere, flush, lanes, nitrogenOf, outbox } = globalThis.riserbook;
  const box = () => document.getElementById("kept");
  const step = () => document.getElementById("step");
  const { run, system } = box().dataset;
  const GIVE_UP_MS = 12000;
  let draft = null; // what is half typed, should the page turn meanwhile
  const mine = new Map(); // forms whose person waits for the answer, by key of the entry

  function entryOf(form, submitter) {
    const data = [...new FormData(form, submitter)].filter(([name]) => name !== "csrfmiddlewaretoken");
    const answers = [...form.querySelectorAll("input:not([type=hidden]), select, textarea")];
    const told = answers.filter((a) => a.value && a.type !== "file" && (a.type !== "radio" || a.checked));
    const { seen, head } = box().dataset;
    return {
      key: data.find(([name]) => name === "client_key")[1].replaceAll("-", ""),
      to: form.action,
      page: run,
      run,
      system,
      data,
      token: form.elements.token?.value || "",
      step: form.dataset.step,
      words: told.map((a) => a.value).join(", "),
      seen: { sequence: seen, hash: head },
      madeAt: Date.now(),
    };
  }

  const ours = async () => lanes(await outbox.all()).get(run) || [];

  /* Shows a page of the book; what is half typed for the step it asks for is carried over. */
  function turnTo(html) {
    const next = new DOMParser().parseFromString(html, "text/html");
    document.querySelector("main").replaceWith(document.adoptNode(next.querySelector("main")));
    document.title = next.title;
    history.replaceState(null, "", run);
    window.scrollTo(0, 0);
    document.querySelector("main [autofocus], main h1")?.focus();
    restoreDraft();
    tick();
  }

  document.addEventListener("input", ({ target }) => {
    const form = target.closest("form[data-step]");
    if (form?.elements.token) draft = { token: form.elements.token.value, data: [...new FormData(form)] };
  });

  function restoreDraft() {
    const form = document.querySelector("#step form[data-step]");
    if (!draft || form?.elements.token?.value !== draft.token) return;
    takeUp(form, draft.data);
  }

  function takeUp(form, data) {
    for (const field of form.querySelectorAll("input:not([type=hidden], [type=file]), select, textarea")) {
      const [, value] = data.find(([name]) => name === field.name) || [];
      if (field.type === "radio") field.checked = field.value === value;
      else field.value = value ?? field.value;
    }
  }

  /* Without a connection the work goes on: the page itself holds the questions that may follow. */
  function ask(token, state) {
    const [name, fill] = token.split("-");
    const found = document.getElementById("ahead")?.content.querySelector(`[data-step-name="${name}"]`);
    if (!found || !step()) return null;
    const part = found.cloneNode(true);
    const form = part.querySelector("form");
    const heading = part.querySelector("h1");
    if (fill) heading.textContent = heading.textContent.replace("1", fill);
    const before = step().querySelector("h1").textContent;
    document.title = document.title.replace(before, heading.textContent);
    if (form) {
      form.dataset.step = heading.textContent;
      form.elements.token.value = token;
      form.elements.client_key.value = outbox.newKey();
      part.querySelector("[data-part=judged]").hidden = !state?.judged;
      part.querySelector("[data-part=lacks]").hidden = !state?.lacks;
    }
    step().replaceChildren(part);
    return form;
  }

  const { lang } = document.documentElement;
  const ONE_DECIMAL = { minimumFractionDigits: 1, maximumFractionDigits: 1 };

  function showLast(entries) {
    const n2 = entries.map(nitrogenOf).findLast((value) => value !== undefined);
    if (n2 !== undefined) document.querySelector("[data-last]").textContent = `${n2.toLocaleString(lang, ONE_DECIMAL)} %`;
    const later = Object.assign(document.createElement("span"), { className: "empty" });
    later.textContent = box().dataset.later;
    document.querySelector("[data-next]").replaceChildren(later);
  }

  /* What the book has taken and the page that is open does not show yet. */
  const shown = new Set();
  const takenSince = async () =>
    (lanes(await outbox.doneOf(run)).get(run) || []).filter((entry) => !shown.has(entry.key));

  /* Brings the page to where the phone is: the book's state, and what waits here on top of it. */
  async function catchUp() {
    const waiting = (await ours()).filter((entry) => !entry.byPhone);
    const entries = [...(await takenSince()), ...waiting];
    const state = entries.length ? ahead(entries) : null;
    if (!state || !document.getElementById("state")) return;
    const form = step()?.querySelector("form[data-step]");
    const key = form?.elements.client_key.value.replaceAll("-", "");
    const isNew = !entries.some((entry) => entry.key === key);
    if (form?.elements.token?.value === state.at && isNew) return;
    ask(state.at, state);
    showLast(entries);
    restoreDraft();
    watch(state);
    window.scrollTo(0, 0);
  }

  /* Since the gas was shut off, and since when a reading counts, also where the fill is only here. */
  function watch({ at, filledAt, demands }) {
    if (!/^(read|held)/.test(at) || filledAt === undefined) return;
    const line = Object.assign(document.createElement("p"), { className: "stopwatch" });
    const clock = Object.assign(document.createElement("span"), { className: "clock" });
    clock.dataset.stopwatch = new Date(filledAt).toISOString();
    line.append(step().dataset.shut, " ", clock);
    if (demands.wait_s > 0) {
      const from = new Date(filledAt + 1000 * demands.wait_s).toLocaleTimeString(lang === "en" ? [] : lang);
      line.append(" ", step().dataset.counts.replace("{at}", from));
    }
    step().querySelector("h1").after(line);
  }

  const release = (form) => {
    delete form.dataset.sent;
    form.querySelector("[aria-busy]")?.removeAttribute("aria-busy");
  };

  /* A browser that keeps nothing, or no key yet: the form is posted as any other. */
  function asAnyOther(form, submitter) {
    if (!navigator.onLine) {
      box().querySelector("[data-part=not-kept]").hidden = false;
      return release(form);
    }
    release(form);
    form.dataset.plain = "yes";
    form.requestSubmit(submitter || undefined);
  }

  async function take(form, submitter) {
    const entry = entryOf(form, submitter);
    try {
      await outbox.keep(entry);
    } catch {
      return asAnyOther(form, submitter);
    }
    const replaced = (form.dataset.replaces || "").replaceAll("-", "");
    if (replaced && replaced !== entry.key) await outbox.drop(replaced);
    draft = null;
    mine.set(entry.key, form);
    await flush();
    mine.delete(entry.key);
    release(form);
    const left = await outbox.find(entry.key);
    if (!left || left.asked) return;
    await outbox.change(entry.key, { tried: true });
    const { order } = left;
    const before = [...(await takenSince()), ...(await ours()).filter((one) => one.order < order)];
    if (form.isConnected && askHere(form, entry, ahead(before))) {
      const says = form.querySelector("[data-part=doubts] p").textContent;
      await outbox.change(entry.key, { asked: true, byPhone: true, says });
    }
    else await catchUp();
  }

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.dataset.step || form.dataset.plain || !outbox.isPossible) return;
    event.preventDefault();
    if (form.dataset.sent) return;
    form.dataset.sent = "yes";
    event.submitter?.setAttribute("aria-busy", "true");
    take(form, event.submitter);
  }, true);

  document.addEventListener("outbox:result", ({ detail: { entry, result } }) => {
    const form = mine.get(entry.key);
    if (form?.isConnected && result.is === "asked" && result.html) turnTo(result.html);
  });

  /* The book has taken what this run had here: its page shows what it made of it. Where something
     still waits, or is asked about, the page under the hand stays as it is. What was taken leaves the
     phone when that page lies on its shelf, from where the older one would open otherwise. */
  document.addEventListener("outbox:sent", async ({ detail: { done } }) => {
    if (!done.some((entry) => entry.run === run)) return;
    if ((await ours()).length) return;
    try {
      const finished = (await outbox.doneOf(run)).map((entry) => entry.key);
      const signal = AbortSignal.timeout(GIVE_UP_MS);
      const answer = await fetch(run, { credentials: "same-origin", redirect: "manual", signal });
      if (!answer.ok) throw new Error(String(answer.status));
      const html = await answer.text();
      if (!html.includes("</html>")) throw new Error("cut off");
      if ((await ours()).length) return await catchUp(); // the hand was quicker than the answer
      turnTo(html);
      for (const key of finished) shown.add(key);
      await catchUp();
      const { layTurned } = globalThis.riserbook;
      const isLaid = layTurned ? await layTurned(html, answer.headers) : true;
      if (isLaid) for (const key of finished) await outbox.drop(key);
    } catch {
      await catchUp();
    }
  });

  document.addEventListener("click", async (event) => {
    const discard = event.target.closest("[data-discard]");
    if (!discard) return;
    event.preventDefault();
    await outbox.drop(discard.dataset.discard.replaceAll("-", ""));
    location.assign(discard.href);
  });
  document.addEventListener("outbox:thrown", () => location.reload());

  /* An entry that is opened to be mended keeps its key and its place. */
  async function mend() {
    const [, key] = /^#kept-(\w+)$/.exec(location.hash) || [];
    const entry = key && (await outbox.find(key));
    if (!entry?.token || entry.run !== run) return false;
    const form = ask(entry.token, null);
    if (!form) return false;
    form.elements.client_key.value = entry.key;
    takeUp(form, entry.data);
    step().querySelector("[data-part=kept]").textContent = entry.says || "";
    history.replaceState(null, "", run);
    form.querySelector("input:not([type=hidden]), select")?.focus();
    return true;
  }
  window.addEventListener("hashchange", mend);

  function tick() {
    for (const clock of document.querySelectorAll("[data-since]")) {
      const minutes = Math.floor((Date.now() - Date.parse(clock.dataset.since)) / 60000);
      clock.textContent = `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;
    }
  }

  tick();
  setInterval(tick, 10000);
  if (!outbox.isPossible) return;
  /* A page that the book has just given shows all that it took. It is dropped when that page lies on
     the shelf too: an older one would come back from there with nothing to bring it forward. */
  async function forgetShown() {
    const taken = (await outbox.doneOf(run)).map((entry) => entry.key);
    for (const key of taken) shown.add(key);
    const drop = () => taken.forEach((key) => outbox.drop(key).catch(() => undefined));
    if (!("serviceWorker" in navigator) || !("caches" in window)) return drop();
    document.addEventListener("run:laid", drop, { once: true });
  }

  async function begin() {
    if (!document.body.dataset.shelf) await forgetShown();
    if (await mend()) return;
    await catchUp();
    await flush();
  }
  begin().catch(() => undefined);
})();

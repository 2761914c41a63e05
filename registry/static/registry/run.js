/* An entry made at the riser is never lost: it is written down on this phone first, sent, and
   crossed out only when the book has it. Each entry carries a key of its own, so that sending it
   twice writes it once; and how long it waited, so that the book knows when it was made.
   Without this script the same form is posted as any other. */
(() => {
  "use strict";
  const RETRY_MS = 15000;
  const GIVE_UP_MS = 12000;
  const store = window.localStorage;
  let busy = false;
  let draft = null; // what is half typed, should the page turn meanwhile

  const ORDER = ["filled", "read", "held", "purged", "final_purge", "water_filled", "returned"];
  const box = () => document.getElementById("kept");
  const ahead = () => document.getElementById("ahead");
  const { run, person } = box().dataset;
  const place = `riserbook.kept.${run}`;
  const read = () => JSON.parse(store.getItem(place) || "[]");
  const write = (entries) => {
    if (entries.length) store.setItem(place, JSON.stringify(entries));
    else store.removeItem(place);
    show();
  };
  const keep = (entry) => {
    const entries = read();
    const earlier = entries.find((e) => e.key === entry.key);
    if (!earlier) return write([...entries, entry]);
    entry.madeAt = earlier.madeAt;
    write(entries.map((e) => (e === earlier ? entry : e)));
  };
  const drop = (key) => write(read().filter((e) => e.key !== key));
  const change = (key, facts) =>
    write(read().map((e) => (e.key === key ? { ...e, ...facts } : e)));

  function show(why) {
    const form = document.querySelector("form[data-step]");
    const answered = [form?.elements.client_key.value, form?.dataset.replaces];
    const entries = read().filter((e) => e.tried && !(e.asked && answered.includes(e.key)));
    box().hidden = entries.length === 0;
    box().querySelector("[data-number]").textContent = entries.length;
    if (entries.some((e) => e.asked)) box().querySelector("details").open = true;
    box().querySelector("ul").replaceChildren(
      ...entries.map((entry) => {
        const line = document.createElement("li");
        const at = new Date(entry.madeAt).toLocaleTimeString([], { timeStyle: "short" });
        const mark = entry.asked ? ": needs an answer from you" : "";
        line.textContent = `${entry.step} ${entry.words}, ${at}${mark}`;
        return line;
      }),
    );
    if (why === undefined) return;
    box().querySelector("[data-why]").textContent = why;
  }

  function entryOf(form, submitter) {
    const data = [...new FormData(form, submitter)].filter(([, value]) => typeof value === "string");
    const answers = [...form.querySelectorAll("input:not([type=hidden]), select, textarea")];
    const words = answers.filter((a) => a.value && (a.type !== "radio" || a.checked));
    return {
      key: data.find(([name]) => name === "client_key")[1],
      to: form.action,
      data: data.filter(([name]) => name !== "csrfmiddlewaretoken"),
      token: form.querySelector("[name=token]").value,
      step: form.dataset.step,
      words: words.map((a) => a.value).join(", "),
      person,
      madeAt: Date.now(),
    };
  }

  /* What became of it: "done", "asked" (the book has a question), or "waits". */
  async function send(entry) {
    const body = new URLSearchParams(entry.data);
    const token = document.querySelector("[name=csrfmiddlewaretoken]");
    body.set("held_ms", String(Math.max(0, Date.now() - entry.madeAt)));
    body.set("csrfmiddlewaretoken", token?.value || "");
    let answer;
    try {
      const signal = AbortSignal.timeout(GIVE_UP_MS);
      answer = await fetch(entry.to, { method: "POST", body, credentials: "same-origin", signal });
    } catch {
      return { is: "waits", why: "No connection." };
    }
    const at = new URL(answer.url).pathname;
    if (answer.ok && at === run) {
      return { is: "done", html: await answer.text(), headers: answer.headers };
    }
    if ([409, 422].includes(answer.status)) return { is: "asked", html: await answer.text() };
    if (answer.redirected) return { is: "waits", why: "You are signed out: sign in and come back." };
    if (answer.status === 403) return { is: "waits", why: "Load this page again to send it." };
    return { is: "waits", why: `The book cannot take it now (${answer.status}).` };
  }

  /* Shows the book's answer; what is half typed for the step it asks for is carried over. */
  function turnTo(html) {
    const next = new DOMParser().parseFromString(html, "text/html");
    document.querySelector("main").replaceWith(document.adoptNode(next.querySelector("main")));
    document.title = next.title;
    history.replaceState(null, "", run);
    window.scrollTo(0, 0);
    document.querySelector("main [autofocus], main h1")?.focus();
    restoreDraft();
    tick();
    show();
  }

  document.addEventListener("input", ({ target }) => {
    const form = target.closest("form[data-step]");
    if (form) draft = { token: form.elements.token.value, data: [...new FormData(form)] };
  });

  function restoreDraft() {
    const form = document.querySelector("#step form[data-step]");
    if (!draft || form?.elements.token.value !== draft.token) return;
    for (const field of form.querySelectorAll("input:not([type=hidden], [type=radio]), select")) {
      field.value = draft.data.find(([name]) => name === field.name)?.[1] ?? field.value;
    }
  }

  /* Where a step stands in a run. What lies ahead of the book waits for the step before it. */
  function rank(token) {
    if (!token) return Infinity;
    if (token === "checked") return 10; // may be passed over: the first fill follows it either way
    const [name, fill] = token.split("-");
    return (fill ? 10 * Number(fill) : 10000) + ORDER.indexOf(name);
  }

  const nextToSend = () =>
    read().find((e) => !e.asked && e.person === person && rank(e.token) <= rank(box().dataset.at));

  /* One at a time, oldest first; stops at the first that does not get through. */
  async function sendAll() {
    if (busy) return;
    busy = true;
    let why;
    try {
      for (let entry = nextToSend(); entry; entry = nextToSend()) {
        const result = await send(entry);
        if (result.is === "waits") {
          why = result.why;
          return;
        }
        if (result.is === "done") drop(entry.key);
        else change(entry.key, { asked: true, tried: true });
        turnTo(result.html);
        if (result.is === "asked") return;
        document.dispatchEvent(new CustomEvent("run:turned", { detail: result }));
      }
    } finally {
      busy = false;
      release();
      if (why) write(read().map((e) => ({ ...e, tried: true })));
      show(why);
    }
  }

  /* As the book reads it: with a comma or a point, and of a meter that shows oxygen. */
  function nitrogenOf({ n2_percent: typed = "", n2_percent_unit: unit = "", instead = "" }) {
    const meant = instead.split("=");
    const text = meant[0] === "n2_percent" ? meant[1] : typed;
    const shown = Number.parseFloat(text.replace(",", "."));
    return /o2/i.test(text + (text === typed ? unit : "")) ? 100 - shown : shown;
  }

  /* Whether the owner asks for more than one reading at target before the fills end. */
  function asksForMore() {
    const asked = JSON.parse(document.getElementById("acceptance")?.textContent || "{}");
    return asked.wait_s > 0 || asked.points > 1 || asked.hold_s > 0;
  }

  /* The step after this one, as the book will see it unless somebody else was there first. */
  function following({ token, data }) {
    const [name, fill] = token.split("-");
    const parts = [...ahead().content.querySelectorAll("[data-step-name]")];
    const names = parts.map((part) => part.dataset.stepName);
    const n2 = nitrogenOf(Object.fromEntries(data));
    if (name === "checked") return "filled-1";
    if (name === "filled") return `read-${fill}`;
    if (name === "purged") return `filled-${Number(fill) + 1}`;
    if (name === "read" && !(n2 >= Number(ahead().dataset.target))) return `purged-${fill}`;
    if (name === "held" || (name === "read" && asksForMore())) return undefined; // the book judges
    const closing = names.filter((other) => ORDER.indexOf(other) > 3);
    return closing[closing.indexOf(name) + 1];
  }

  /* Without a connection the work goes on: the page itself holds the questions that may follow. */
  function goOn(entry) {
    const token = ahead() && following(entry);
    if (!token) return;
    const [name, fill] = token.split("-");
    const part = ahead().content.querySelector(`[data-step-name="${name}"]`).cloneNode(true);
    const form = part.querySelector("form");
    const heading = part.querySelector("h1");
    heading.textContent = heading.textContent.replace("Fill 1", `Fill ${fill}`);
    const before = document.querySelector("#step h1").textContent;
    document.title = document.title.replace(before, heading.textContent);
    form.dataset.step = heading.textContent;
    form.elements.token.value = token;
    form.elements.client_key.value = newKey();
    document.getElementById("step").replaceChildren(part);
    const n2 = nitrogenOf(Object.fromEntries(entry.data));
    if (n2) document.querySelector("[data-last]").textContent = `${n2.toFixed(1)} %`;
    const later = Object.assign(document.createElement("span"), { className: "empty" });
    later.textContent = "once sent";
    document.querySelector("[data-next]").replaceChildren(later);
    window.scrollTo(0, 0);
  }

  /* A page from before the connection went knows nothing of the steps that wait on this phone. */
  function catchUp() {
    for (const entry of read()) {
      const form = document.querySelector("#step form[data-step]");
      const isNext = form?.elements.token.value === entry.token;
      if (isNext && entry.person === person && !entry.asked) goOn(entry);
    }
  }

  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  const release = () => {
    for (const form of document.querySelectorAll("form[data-step]")) delete form.dataset.sent;
    document.querySelector("form[data-step] [aria-busy]")?.removeAttribute("aria-busy");
  };

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!form.dataset.step) return;
    if (form.dataset.sent) return event.preventDefault();
    const entry = entryOf(form, event.submitter);
    if (form.dataset.replaces) drop(form.dataset.replaces);
    keep(entry); // a phone that cannot keep it posts the form as any other
    event.preventDefault();
    draft = null;
    form.dataset.sent = "yes";
    event.submitter?.setAttribute("aria-busy", "true");
    await sendAll();
    const waiting = read().find((e) => e.key === entry.key);
    if (!waiting || waiting.asked) return;
    change(entry.key, { tried: true });
    if (form.isConnected) goOn(waiting);
  }, true);

  document.addEventListener("click", (event) => {
    const discard = event.target.closest("[data-discard]");
    if (discard) drop(discard.dataset.discard);
    if (event.target.closest("[data-send]")) {
      write(read().map((entry) => ({ ...entry, asked: false })));
      sendAll();
    }
  });

  function tick() {
    for (const clock of document.querySelectorAll("[data-since]")) {
      const minutes = Math.floor((Date.now() - Date.parse(clock.dataset.since)) / 60000);
      clock.textContent = `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")}`;
    }
  }

  tick();
  setInterval(tick, 10000);
  show();
  sendAll().then(catchUp);
  window.addEventListener("online", sendAll);
  setInterval(() => read().some((entry) => !entry.asked) && sendAll(), RETRY_MS);
})();

/* An entry made at the riser is never lost: it is written down on this phone first, sent, and
   crossed out only when the book has it. Each entry carries a key of its own, so that sending it
   twice writes it once; and how long it waited, so that the book knows when it was made.
   Without this script the same form is posted as any other. */
(() => {
  "use strict";
  const RETRY_MS = 15000;
  const store = window.localStorage;
  let busy = false;

  const ORDER = ["filled", "read", "purged", "final_purge", "water_filled", "returned"];
  const box = () => document.getElementById("kept");
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
    const answered = document.querySelector("form[data-step] [name=client_key]")?.value;
    const entries = read().filter((e) => !(e.asked && e.key === answered));
    box().hidden = busy || entries.length === 0;
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
    box().scrollIntoView({ block: "center" });
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
      answer = await fetch(entry.to, { method: "POST", body, credentials: "same-origin" });
    } catch {
      return { is: "waits", why: "No connection." };
    }
    const at = new URL(answer.url).pathname;
    if (answer.ok && at === run) return { is: "done", html: await answer.text() };
    if ([409, 422].includes(answer.status)) return { is: "asked", html: await answer.text() };
    if (answer.redirected) return { is: "waits", why: "You are signed out: sign in and come back." };
    if (answer.status === 403) return { is: "waits", why: "Load this page again to send it." };
    return { is: "waits", why: `The book cannot take it now (${answer.status}).` };
  }

  function turnTo(html) {
    const next = new DOMParser().parseFromString(html, "text/html");
    document.querySelector("main").replaceWith(document.adoptNode(next.querySelector("main")));
    document.title = next.title;
    history.replaceState(null, "", run);
    window.scrollTo(0, 0);
    document.querySelector("main [autofocus], main h1")?.focus();
    tick();
    show();
  }

  /* Where a step stands in a run. What lies ahead of the book waits for the step before it. */
  function rank(token) {
    if (!token) return Infinity;
    const [name, fill] = token.split("-");
    return (fill ? 10 * Number(fill) : 10000) + ORDER.indexOf(name);
  }

  const nextToSend = () =>
    read().find((e) => !e.asked && e.person === person && rank(e.token) <= rank(box().dataset.at));

  /* One at a time, oldest first; stops at the first that does not get through. */
  async function sendAll() {
    if (busy) return;
    busy = true;
    show();
    let why;
    try {
      for (let entry = nextToSend(); entry; entry = nextToSend()) {
        const result = await send(entry);
        if (result.is === "waits") {
          why = result.why;
          return;
        }
        if (result.is === "done") drop(entry.key);
        else change(entry.key, { asked: true });
        turnTo(result.html);
        if (result.is === "asked") return;
      }
    } finally {
      busy = false;
      release();
      show(why);
    }
  }

  const release = () => {
    for (const form of document.querySelectorAll("form[data-step]")) delete form.dataset.sent;
    document.querySelector("form[data-step] [aria-busy]")?.removeAttribute("aria-busy");
  };

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!form.dataset.step) return;
    if (form.dataset.sent) return event.preventDefault();
    keep(entryOf(form, event.submitter)); // a phone that cannot keep it posts the form as any other
    event.preventDefault();
    form.dataset.sent = "yes";
    event.submitter?.setAttribute("aria-busy", "true");
    await sendAll();
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
  sendAll();
  window.addEventListener("online", sendAll);
  setInterval(() => read().some((entry) => !entry.asked) && sendAll(), RETRY_MS);
})();

/* Sends what waits on this phone: on load, when there is a connection, when the page is seen, now and
   then. In order within a run; an entry that the book asks about holds up its own run and nothing
   else. No entry is crossed out before the book said that it has it. */
(() => {
  "use strict";
  const { outbox } = globalThis.riserbook;
  const RETRY_MS = 15000;
  const GIVE_UP_MS = 12000;
  const LARGE_GIVE_UP_MS = 120000;
  const ORDER = ["filled", "read", "held", "purged", "final_purge", "water_filled", "returned"];
  const words = document.getElementById("outbox")?.dataset || {};
  let token = document.querySelector("[name=csrfmiddlewaretoken]")?.value || "";
  let sending = null;
  let why = "";

  /* Where a step stands in a run; a reading and a hold of one fill may follow each other. */
  function rank(of) {
    if (!of) return Infinity;
    if (of === "checked") return 5;
    if (of === "stopped") return 20000;
    const [name, fill] = of.split("-");
    const place = ["read", "held"].includes(name) ? 1 : ORDER.indexOf(name);
    return fill ? 10 * Number(fill) + place : 10000 + place;
  }

  /* Of one run by its steps, and of one step as they were made; photos and events each alone. */
  function lanes(entries) {
    const found = new Map();
    for (const entry of entries) {
      const lane = entry.token ? entry.run : entry.key;
      found.set(lane, [...(found.get(lane) || []), entry]);
    }
    for (const lane of found.values()) {
      lane.sort((a, b) => rank(a.token) - rank(b.token) || a.order - b.order);
    }
    return found;
  }

  /* The oldest that may go now: the first of its run, unless it waits for an answer. */
  function nextOf(entries, passed) {
    const heads = [...lanes(entries).values()].map((lane) => lane[0]);
    const free = heads.filter((entry) => !entry.asked && !passed.has(entry.key));
    return free.sort((a, b) => a.order - b.order)[0];
  }

  function body(entry) {
    const sent = new FormData();
    for (const [name, value] of entry.data) sent.append(name, value);
    sent.set("held_ms", String(Math.max(0, Date.now() - entry.madeAt)));
    sent.set("seen_sequence", entry.seen?.sequence ?? "");
    sent.set("seen_hash", entry.seen?.hash ?? "");
    sent.set("csrfmiddlewaretoken", token);
    return sent;
  }

  async function post(entry) {
    const isLarge = entry.data.some(([, value]) => typeof value !== "string");
    return fetch(entry.to, {
      method: "POST",
      body: body(entry),
      headers: { "X-Kept-By": outbox.person },
      credentials: "same-origin",
      redirect: "manual",
      signal: AbortSignal.timeout(isLarge ? LARGE_GIVE_UP_MS : GIVE_UP_MS),
    });
  }

  /* A session that was begun anew has another token. */
  async function freshToken() {
    const answer = await fetch("/phone/", { credentials: "same-origin", redirect: "manual" });
    if (!answer.ok) return false;
    const given = await answer.json();
    token = given.csrf;
    return given.person === outbox.person;
  }

  /* What became of it: "done", "asked" (the book has a question), "waits" (nothing gets through),
     or "stays" (this one does not, others may). */
  async function send(entry) {
    try {
      let answer = await post(entry);
      if (answer.status === 403 && !isJson(answer) && (await freshToken())) answer = await post(entry);
      return await told(entry, answer);
    } catch {
      return { is: "waits", why: words.noConnection };
    }
  }

  const isJson = (answer) => (answer.headers.get("content-type") || "").includes("json");

  /* Throws for an answer that was cut off, which says nothing of what became of the entry: a browser
     takes even the beginning of its head for an answer. */
  async function told(entry, answer) {
    if (answer.type === "opaqueredirect") return { is: "waits", why: words.signedOut };
    if (answer.ok && isJson(answer)) return { ...(await answer.json()), is: "done" };
    if (isJson(answer)) {
      const said = await answer.json();
      if (said.is === "second_step") return { is: "waits", why: said.says };
      if (said.is === "someone_else") return { is: "waits", why: words.someoneElse };
      return { is: "asked", says: said.says };
    }
    if (answer.status >= 500) return { is: "stays", why: `${words.notNow} (${answer.status})` };
    const html = await answer.text();
    if (!html.includes("</html>")) throw new Error("cut off");
    if (answer.ok || [409, 422].includes(answer.status)) return question(entry, html);
    if ([403, 404].includes(answer.status)) return { is: "asked", says: words.notYours };
    return { is: "stays", why: `${words.notNow} (${answer.status})` };
  }

  function question(entry, html) {
    const page = new DOMParser().parseFromString(html, "text/html");
    const at = page.getElementById("kept")?.dataset.at;
    if (at && entry.token && rank(entry.token) > rank(at)) return { is: "asked", says: words.tooEarly };
    const found = [...page.querySelectorAll("main .errorlist li, main .doubts p, main h1")];
    const says = found.map((one) => one.textContent.trim().replace(/\s+/g, " "));
    return { is: "asked", html, says: says.slice(0, 3).join(" ") };
  }

  async function sendAll() {
    why = "";
    const passed = new Set();
    const done = [];
    for (;;) {
      const entry = nextOf(await outbox.all(), passed);
      if (!entry) break;
      document.dispatchEvent(new CustomEvent("outbox:sends", { detail: entry }));
      const result = await send(entry);
      if (result.is === "done") {
        await outbox.finish(entry);
        done.push(entry);
      } else if (result.is === "asked") {
        await outbox.change(entry.key, { asked: true, byPhone: false, tried: true, says: result.says });
      } else {
        why = result.why;
        passed.add(entry.key);
        if (!entry.tried) await outbox.change(entry.key, { tried: true });
      }
      document.dispatchEvent(new CustomEvent("outbox:result", { detail: { entry, result } }));
      if (result.is === "waits") break;
    }
    document.dispatchEvent(new CustomEvent("outbox:sent", { detail: { done } }));
    document.dispatchEvent(new CustomEvent("outbox:changed"));
  }

  /* One at a time, of all the pages of this phone: two of them would overtake each other. */
  const alone = (work) =>
    navigator.locks ? navigator.locks.request("riserbook-outbox", work) : work();

  /* A call while one is under way makes it look once more: an entry may have come meanwhile. */
  function flush() {
    if (!outbox.isPossible || !outbox.person) return Promise.resolve();
    const before = sending || Promise.resolve();
    const mine = before.then(() => alone(sendAll)).catch((error) => {
      why = error.says || words.cannotKeep;
      console.info(String(error));
    });
    sending = mine;
    mine.then(() => {
      if (sending === mine) sending = null;
    });
    return mine;
  }

  globalThis.riserbook = { ...globalThis.riserbook, flush, lanes, rank, whyWaiting: () => why };
  if (!outbox.isPossible || !outbox.person) return;
  const calmly = async () => {
    if (!sending && (await outbox.count())) flush();
  };
  document.addEventListener("DOMContentLoaded", calmly);
  window.addEventListener("online", calmly);
  document.addEventListener("visibilitychange", () => document.hidden || calmly());
  setInterval(calmly, RETRY_MS);
})();

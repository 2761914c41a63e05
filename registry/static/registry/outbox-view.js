/* What waits on this phone, shown on every page: how many, how old, why; each can be opened and mended
   or thrown away. And the question at sign-out, so that nothing is left behind unsaid. */
(() => {
  "use strict";
  const { outbox, flush } = globalThis.riserbook;
  const box = document.getElementById("outbox");
  if (!box) return;
  const words = box.dataset;
  const part = (name) => box.querySelector(`[data-part=${name}]`);
  const fill = (pattern, values) => pattern.replace(/\{(\w+)\}/g, (all, name) => values[name] ?? all);
  const SHELF = "riserbook-pages";
  /* English is left to the phone, which knows whether its clock has twelve hours. */
  const tongue = () => (document.documentElement.lang === "en" ? [] : document.documentElement.lang);

  function age(since) {
    const minutes = Math.max(0, Math.floor((Date.now() - since) / 60000));
    if (minutes < 1) return words.moment;
    if (minutes < 60) return fill(words.minutes, { minutes });
    return fill(words.hours, { hours: Math.floor(minutes / 60), minutes: minutes % 60 });
  }

  function button(pattern, name, key) {
    const made = Object.assign(document.createElement("button"), { type: "button" });
    made.className = "second";
    made.textContent = pattern;
    made.dataset[name] = key;
    return made;
  }

  function line(entry) {
    const item = document.createElement("li");
    const said = document.createElement("p");
    const at = new Date(entry.madeAt).toLocaleTimeString(tongue(), { timeStyle: "short" });
    said.textContent = [entry.system, entry.step, entry.words, at].filter(Boolean).join(", ");
    item.append(said);
    if (entry.asked) {
      const why = document.createElement("p");
      why.textContent = `${entry.byPhone ? words.asksHere : words.asks} ${entry.says || ""}`;
      item.append(why);
    }
    const open = document.createElement("a");
    open.className = "button second";
    open.href = `${entry.page}#kept-${entry.key}`;
    open.textContent = words.open;
    const acts = document.createElement("p");
    acts.className = "actions";
    if (!entry.data.some(([, value]) => typeof value !== "string")) acts.append(open, " ");
    acts.append(button(words.throwAway, "throwAway", entry.key));
    item.append(acts);
    return item;
  }

  async function show() {
    let entries;
    try {
      entries = (await outbox.all()).filter((entry) => entry.tried);
    } catch (error) {
      const count = await outbox.count().catch(() => 0);
      box.hidden = !count;
      part("count").textContent = count ? fill(error.says ? words.shut : words.locked, { count }) : "";
      part("why").textContent = error.says || "";
      return;
    }
    box.hidden = entries.length === 0;
    box.dataset.entries = entries.length;
    if (!entries.length) return;
    const oldest = age(Math.min(...entries.map((entry) => entry.madeAt)));
    const pattern = entries.length === 1 ? words.one : words.many;
    part("count").textContent = fill(pattern, { count: entries.length, age: oldest });
    const asked = entries.filter((entry) => entry.asked).length;
    const why = globalThis.riserbook.whyWaiting();
    part("why").textContent = [asked ? fill(words.asked, { count: asked }) : "", why].filter(Boolean).join(" ");
    if (!box.querySelector("[data-sure]")) part("list").replaceChildren(...entries.map(line));
    const isHeld = await navigator.storage?.persisted?.().catch(() => false);
    part("may-go").hidden = Boolean(isHeld);
  }

  box.addEventListener("click", async ({ target }) => {
    if (target.dataset.throwAway) {
      const entry = await outbox.find(target.dataset.throwAway);
      target.textContent = entry?.tried && !entry.asked ? words.sureSent : words.sure;
      target.dataset.sure = target.dataset.throwAway;
      delete target.dataset.throwAway;
    } else if (target.dataset.sure) {
      const key = target.dataset.sure;
      delete target.dataset.sure;
      await outbox.drop(key);
      document.dispatchEvent(new CustomEvent("outbox:thrown", { detail: key }));
    } else if (target.matches("[data-send]")) {
      for (const entry of await outbox.all()) {
        if (entry.asked) await outbox.change(entry.key, { asked: false });
      }
      await flush();
    }
    await show();
  });

  /* A page that this phone kept says so, and from when it is. */
  const laidAt = Number(document.body.dataset.shelf || 0);
  if (laidAt) {
    const old = document.getElementById("old-page");
    const at = new Date(laidAt).toLocaleString(tongue(), { dateStyle: "medium", timeStyle: "short" });
    old.textContent = fill(old.dataset.says, { at });
    old.hidden = false;
  }

  const ask = document.getElementById("leaving");
  let leaving = null;

  async function signOut(keepsEntries) {
    await outbox.leave(keepsEntries);
    if (globalThis.caches) await caches.delete(SHELF).catch(() => undefined);
    leaving.submit();
  }

  async function leaveAsked() {
    const entries = await outbox.all();
    ask.querySelector("[data-part=left]").textContent = fill(ask.dataset.left, { count: entries.length });
    ask.querySelector("[data-part=said]").textContent = "";
    ask.showModal();
  }

  document.addEventListener("submit", async (event) => {
    if (!("signOut" in event.target.dataset) || !outbox.isPossible) return;
    event.preventDefault();
    event.stopPropagation();
    leaving = event.target;
    if (await outbox.count()) await leaveAsked().catch(() => signOut(true));
    else await signOut(true);
  }, true);

  async function discard() {
    const entries = await outbox.all();
    const told = entries.map((one) => `${one.system || ""} ${one.step}: ${one.words}`.trim());
    const sent = new FormData();
    sent.set("csrfmiddlewaretoken", leaving.elements.csrfmiddlewaretoken.value);
    entries.forEach((one, index) => {
      sent.append("what", told[index]);
      sent.append("made_at", new Date(one.madeAt).toISOString());
    });
    const answer = await fetch(ask.dataset.discard, { method: "POST", body: sent, redirect: "manual" });
    if (!answer.ok) throw new Error(String(answer.status));
    await signOut(false);
  }

  ask?.addEventListener("click", async ({ target }) => {
    const said = ask.querySelector("[data-part=said]");
    try {
      if (target.matches("[data-leave=send]")) {
        await flush();
        if (!(await outbox.count())) return await signOut(true);
        said.textContent = `${ask.dataset.notAll} ${globalThis.riserbook.whyWaiting()}`;
      } else if (target.matches("[data-leave=keep]")) await signOut(true);
      else if (target.matches("[data-leave=discard]")) await discard();
      else if (target.matches("[data-leave=stay]")) ask.close();
    } catch {
      said.textContent = ask.dataset.noConnection;
    }
  });

  if (!outbox.isPossible) return;
  document.addEventListener("outbox:changed", show);
  setInterval(show, 20000);
  show();
})();

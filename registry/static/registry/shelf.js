/* Lays pages of the book on a shelf of this phone, so that they open again where there is no
   connection: the run under way, and the work booked for the person who is signed in. Taken down at
   sign-out and when another person signs in (forms.js). */
(() => {
  "use strict";
  if (!("serviceWorker" in navigator) || !("caches" in window)) return; // not over plain http
  const SHELF = "riserbook-pages";
  const place = document.querySelector("[data-worker]");
  const { laid = "", list = "", stop = "", worker } = place.dataset;
  const isUnderWay = (html) => html.includes("data-step=");

  function partsOf(html) {
    const page = new DOMParser().parseFromString(html, "text/html");
    const found = page.querySelectorAll("link[rel=stylesheet], link[rel=icon], head script[src]");
    return [...found].map((one) => new URL(one.getAttribute("href") || one.getAttribute("src"), location).href);
  }

  /* The answer to a step is a page after a redirect, which a browser would not take for a visit; so
     it is written anew, with the policy under which the book sent it, and from when it is. */
  function asVisited(html, headers) {
    const kept = new Headers(headers);
    for (const name of ["content-encoding", "content-length"]) kept.delete(name);
    kept.set("x-laid-at", String(Date.now()));
    return new Response(html, { headers: kept });
  }

  async function put(address, html, headers) {
    if (!html.includes("</html>")) return; // cut off on its way
    const shelf = await caches.open(SHELF);
    // Its programs first: a page without them would open and do nothing.
    for (const part of partsOf(html)) if (!(await shelf.match(part))) await shelf.add(part);
    await shelf.put(address, asVisited(html, headers));
  }

  async function layRun(html, headers) {
    if (isUnderWay(html) || !html.includes("</html>")) return put(laid, html, headers);
    const shelf = await caches.open(SHELF);
    await shelf.delete(laid);
    return shelf.delete(stop);
  }

  /* A phone without room, or without a connection, goes on without the shelf. */
  const quietly = (work) => work.catch(() => undefined);

  async function fetched(address) {
    const answer = await fetch(address, { credentials: "same-origin" });
    const isIt = answer.ok && new URL(answer.url).pathname === new URL(address, location).pathname;
    return isIt ? answer : null;
  }

  /* One after the other, so that the newest lies there in the end. */
  let laying = Promise.resolve();
  let turns = 0;
  const inTurn = (work) => (laying = laying.then(work, work));

  /* The page as it is after a step; false where it could not be laid. */
  function layTurned(html, headers) {
    turns += 1;
    return inTurn(() => layRun(html, headers)).then(() => true, () => false);
  }

  async function layThisPage() {
    const before = turns;
    const answer = await fetched(laid);
    if (!answer) return;
    const html = await answer.text();
    if (turns > before) return; // older than what was laid meanwhile
    await inTurn(() => layRun(html, answer.headers));
    document.dispatchEvent(new CustomEvent("run:laid"));
    const page = stop && isUnderWay(html) ? await fetched(stop) : null;
    if (page) await put(stop, await page.text(), page.headers);
  }

  /* One after the other: they are for later, and the page that is open now goes first. What is not
     booked any more is taken down. */
  async function layBooked() {
    const answer = await fetched(list);
    if (!answer) return;
    const { pages } = await answer.json();
    const shelf = await caches.open(SHELF);
    const wanted = new Set(pages.map((address) => new URL(address, location).href));
    for (const old of await shelf.keys()) {
      const isPage = !new URL(old.url).pathname.startsWith("/static/");
      const isRun = /^\/runs\//.test(new URL(old.url).pathname);
      if (isPage && !isRun && !wanted.has(old.url)) await shelf.delete(old);
    }
    for (const address of pages) {
      const page = await fetched(address);
      if (page) await put(address, await page.text(), page.headers);
    }
    place.dataset.laidCount = String(pages.length);
  }

  if (laid) globalThis.riserbook = { ...globalThis.riserbook, layTurned };
  quietly(navigator.serviceWorker.register(worker, { scope: "/" }));
  if (laid) quietly(layThisPage());
  if (list) quietly(layBooked());
})();

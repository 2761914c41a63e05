/* Lays the page of the run under way on a shelf of this phone, so that it opens again where there
   is no connection. One run at a time; taken down when the run ends and at sign-out (forms.js). */
(() => {
  "use strict";
  if (!("serviceWorker" in navigator) || !("caches" in window)) return; // not over plain http
  const SHELF = "riserbook-run";
  const { run, worker } = document.getElementById("kept").dataset;
  const isUnderWay = () => document.querySelector("form[data-step]") !== null;

  function parts() {
    const links = document.querySelectorAll("head link[rel=stylesheet], head link[rel=icon]");
    const scripts = document.querySelectorAll("head script[src]");
    return [...[...links].map((link) => link.href), ...[...scripts].map((script) => script.src)];
  }

  /* The answer to a step is a page after a redirect, which a browser would not take for a visit; so
     it is written anew, with the policy under which the book sent it. */
  function asVisited(html, headers) {
    const kept = new Headers(headers);
    for (const name of ["content-encoding", "content-length"]) kept.delete(name);
    return new Response(html, { headers: kept });
  }

  async function lay(html, headers) {
    if (!isUnderWay()) return caches.delete(SHELF);
    const shelf = await caches.open(SHELF);
    const wanted = [new URL(run, location).href, ...parts()];
    await shelf.put(run, asVisited(html, headers));
    for (const part of parts()) if (!(await shelf.match(part))) await shelf.add(part);
    for (const old of await shelf.keys()) if (!wanted.includes(old.url)) await shelf.delete(old);
  }

  /* A phone without room, or without a connection, goes on without the shelf. */
  const quietly = (work) => work.catch(() => undefined);

  async function layThisPage() {
    const answer = await fetch(run, { credentials: "same-origin" });
    const isRun = answer.ok && new URL(answer.url).pathname === run;
    if (isRun) await lay(await answer.text(), answer.headers);
  }

  document.addEventListener("run:turned", ({ detail }) => quietly(lay(detail.html, detail.headers)));
  quietly(navigator.serviceWorker.register(worker, { scope: "/runs/" }));
  quietly(layThisPage());
})();

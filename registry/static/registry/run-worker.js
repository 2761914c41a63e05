/* Opens the page of a run where there is no connection: what the network does not give comes from
   the shelf that the page itself has filled. It stores nothing, and answers nothing but the page of
   a run and the parts of that page. */
"use strict";
const SHELF = "riserbook-run";
const RUN = /^\/runs\/\d+\/$/;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  const isPage = request.mode === "navigate";
  if (request.method !== "GET" || origin !== self.location.origin) return;
  if (isPage && !RUN.test(pathname)) return;
  event.respondWith(fetch(request).catch((lost) => fromShelf(request, isPage, lost)));
});

async function fromShelf(request, isPage, lost) {
  const shelf = await self.caches.open(SHELF);
  const kept = await shelf.match(request, { ignoreSearch: isPage });
  if (!kept) throw lost;
  return kept;
}

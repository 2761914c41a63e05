/* Opens pages where there is no connection: what the network does not give comes from the shelf that
   the pages themselves have filled. It stores nothing, and marks what it gives with its age. */
"use strict";
const SHELF = "riserbook-pages";
const RUN = /^\/runs\/\d+\/$/;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const { origin, pathname } = new URL(request.url);
  const isPage = request.mode === "navigate";
  if (request.method !== "GET" || origin !== self.location.origin) return;
  if (!isPage && !pathname.startsWith("/static/")) return;
  event.respondWith(whole(request, isPage).catch((lost) => fromShelf(request, isPage, pathname, lost)));
});

/* The answer of the network once all of it is here: a page or program cut off in its middle would
   look like one, and do nothing. */
async function whole(request, isPage) {
  const answer = await fetch(request);
  if (answer.type === "opaqueredirect" || [204, 205, 304].includes(answer.status)) return answer;
  const body = await answer.blob();
  const type = answer.headers.get("content-type");
  if (!type || (isPage && type.includes("html") && !(await body.text()).includes("</html>"))) {
    throw new TypeError("cut off");
  }
  const { status, statusText } = answer;
  const headers = new Headers(answer.headers);
  for (const name of ["content-encoding", "content-length"]) headers.delete(name);
  return new Response(body, { status, statusText, headers });
}

async function fromShelf(request, isPage, pathname, lost) {
  const shelf = await self.caches.open(SHELF);
  // Some engines hold the request's own headers against "Vary", and then find nothing that was laid
  // there by its address. The shelf is one person's, and holds one page for each address.
  const kept = await shelf.match(request, { ignoreVary: true, ignoreSearch: isPage && RUN.test(pathname) });
  if (!kept) throw lost;
  return isPage ? marked(kept) : kept;
}

async function marked(kept) {
  const html = await kept.text();
  const at = kept.headers.get("x-laid-at") || "1";
  return new Response(html.replace("<body ", `<body data-shelf="${at}" `), { headers: kept.headers });
}

/* A form is sent once: a second tap while the first is under way does nothing.
   The server does not rely on this; its records carry a key of their own. */
(() => {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post") return;
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    form.querySelector("button[type=submit]")?.setAttribute("aria-busy", "true");
  });

  /* A button beside a form takes along what stands in that form now, and not what stood there when
     the page last heard from the book: a hand on the button is quicker than the answer. */
  document.addEventListener("submit", ({ target }) => {
    const source = document.getElementById(target.dataset.takesFrom || "");
    if (!source) return;
    for (const [name, value] of new FormData(source)) {
      const known = target.elements.namedItem(name);
      const field = known || Object.assign(document.createElement("input"), { type: "hidden", name });
      field.value = value;
      if (!known) target.append(field);
    }
  }, true);

  /* What this phone keeps of the book's pages goes with the person who signs out, and so does the key
     to what is not yet sent: the entries stay, and nobody else can open them. */
  const SHELF = "riserbook-pages";
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!("signOut" in form.dataset) || !window.caches) return;
    event.preventDefault();
    caches.delete(SHELF).catch(() => undefined).then(() => form.submit());
  });
  const { person = "" } = document.body.dataset;
  const before = window.localStorage.getItem("riserbook.person") || "";
  if (person !== before || !person) {
    window.localStorage.setItem("riserbook.person", person);
    window.caches?.delete(SHELF).catch(() => undefined);
  }
  if (!person && window.indexedDB?.databases) {
    indexedDB.databases().then((all) => {
      if (!all.some(({ name }) => name === "riserbook")) return;
      const asked = indexedDB.open("riserbook");
      asked.onsuccess = () => {
        asked.result.transaction("keys", "readwrite").objectStore("keys").clear();
        asked.result.close();
      };
    }).catch(() => undefined);
  }

  /* The page kept for the way back must accept a new attempt. */
  window.addEventListener("pageshow", () => {
    for (const form of document.querySelectorAll("form[data-sent]")) {
      delete form.dataset.sent;
      form.querySelector("[aria-busy]")?.removeAttribute("aria-busy");
    }
  });
})();

/* What was written down on this phone and is not yet in the book. Each entry is sealed with a key of
   its person, which the book gives to whoever is signed in and which leaves the phone at sign-out:
   what stays then can be opened by nobody until that person is back. */
(() => {
  "use strict";
  const isPossible = Boolean(globalThis.indexedDB && globalThis.crypto?.subtle);
  const person = document.body.dataset.person || "";
  const text = new TextEncoder();
  let opening;

  const settled = (request) =>
    new Promise((resolve, reject) => {
      request.onsuccess = () => resolve(request.result);
      request.onerror = () => reject(request.error);
    });

  function open() {
    opening ??= new Promise((resolve, reject) => {
      const asked = indexedDB.open("riserbook", 1);
      asked.onupgradeneeded = () => {
        const entries = asked.result.createObjectStore("entries", { keyPath: "order", autoIncrement: true });
        entries.createIndex("person", "person");
        entries.createIndex("key", ["person", "key"], { unique: true });
        asked.result.createObjectStore("keys", { keyPath: "person" });
      };
      asked.onsuccess = () => resolve(asked.result);
      asked.onerror = () => reject(asked.error);
    });
    return opening;
  }

  /* One transaction, done when the phone says that it is written down. */
  async function within(store, mode, work) {
    const change = (await open()).transaction(store, mode);
    const done = new Promise((resolve, reject) => {
      change.oncomplete = resolve;
      change.onabort = change.onerror = () => reject(change.error);
    });
    const result = await work(change.objectStore(store));
    await done;
    return result;
  }

  /* Why the book gives no key, where it says so. */
  const saysOf = (answer) => answer.json().then((told) => told.says || "", () => "");

  /* Given by the book to the person who is signed in; held so that no script can read it out. */
  async function keyOf() {
    const held = await within("keys", "readonly", (store) => settled(store.get(person)));
    if (held) return held.key;
    const answer = await fetch("/phone/", { credentials: "same-origin", redirect: "manual" });
    if (!answer.ok) throw Object.assign(new Error("no key"), { says: await saysOf(answer) });
    const given = await answer.json();
    if (given.person !== person) throw new Error("another person");
    const raw = Uint8Array.from(atob(given.key), (sign) => sign.charCodeAt(0));
    const key = await crypto.subtle.importKey("raw", raw, "AES-GCM", false, ["encrypt", "decrypt"]);
    await within("keys", "readwrite", (store) => settled(store.put({ person, key })));
    return key;
  }

  const isFile = (value) => typeof value !== "string";

  async function sealed(key, bytes) {
    const iv = crypto.getRandomValues(new Uint8Array(12));
    return { iv, data: await crypto.subtle.encrypt({ name: "AES-GCM", iv }, key, bytes) };
  }
  const opened = (key, { iv, data }) => crypto.subtle.decrypt({ name: "AES-GCM", iv }, key, data);

  /* Files apart, as they are large: a photo is sealed in a piece of its own. */
  async function seal(key, entry) {
    const files = [];
    const data = [];
    for (const [name, value] of entry.data) {
      if (!isFile(value)) data.push([name, value]);
      else {
        data.push([name, { file: files.length, name: value.name, type: value.type }]);
        files.push(await sealed(key, await value.arrayBuffer()));
      }
    }
    return { said: await sealed(key, text.encode(JSON.stringify({ ...entry, data }))), files };
  }

  async function unseal(key, row) {
    const entry = JSON.parse(new TextDecoder().decode(await opened(key, row.said)));
    for (const pair of entry.data) {
      const held = pair[1];
      if (typeof held === "string") continue;
      const bytes = await opened(key, row.files[held.file]);
      pair[1] = new File([bytes], held.name, { type: held.type });
    }
    return { ...entry, order: row.order };
  }

  const everyRow = () =>
    within("entries", "readonly", (store) => settled(store.index("person").getAll(person)));
  const rows = async () => (await everyRow()).filter((row) => !row.done);

  /* In the order in which they were made. */
  const all = async () => unsealed(await rows());

  async function unsealed(found) {
    if (!found.length) return [];
    const key = await keyOf();
    return Promise.all(found.map((row) => unseal(key, row)));
  }

  async function put(entry, order) {
    const { order: _, ...plain } = entry;
    const sealedEntry = await seal(await keyOf(), plain);
    const row = { person, key: entry.key, run: entry.run || "", done: Boolean(entry.done), ...sealedEntry };
    await within("entries", "readwrite", async (store) => {
      if (order === undefined) return settled(store.add(row));
      const isThere = (await settled(store.getKey(order))) !== undefined;
      if (isThere) await settled(store.put({ ...row, order })); // or it was sent meanwhile
    });
    changed();
  }

  const find = async (key) => (await all()).find((one) => one.key === key);

  /* An entry of the same key takes the place of the earlier one, and keeps its time and its place. */
  async function keep(entry) {
    const earlier = await find(entry.key);
    if (!earlier) navigator.storage?.persist?.().catch(() => undefined);
    await put(earlier ? { ...entry, madeAt: earlier.madeAt } : entry, earlier?.order);
  }

  async function change(key, facts) {
    const entry = await find(key);
    if (entry) await put({ ...entry, ...facts }, entry.order);
  }

  async function drop(key) {
    await within("entries", "readwrite", async (store) => {
      const order = await settled(store.index("key").getKey([person, key]));
      if (order !== undefined) await settled(store.delete(order));
    });
    changed();
  }

  /* A step that the book has stays until its page is here again, so that the run can go on from it
     should the connection be lost between the two. */
  const finish = (entry) =>
    entry.run && entry.token ? change(entry.key, { done: true, tried: false }) : drop(entry.key);
  const doneOf = async (run) => unsealed((await everyRow()).filter((row) => row.done && row.run === run));

  /* At sign-out: what is not to be kept goes, and the key in any case. */
  async function leave(keepsEntries) {
    for (const row of await everyRow()) if (row.done || !keepsEntries) await drop(row.key);
    await within("keys", "readwrite", (store) => settled(store.delete(person)));
  }

  /* Whoever is signed in here now, nobody else's key may lie on this phone. */
  const forgetOthers = () =>
    within("keys", "readwrite", async (store) => {
      for (const held of await settled(store.getAllKeys())) {
        if (held !== person) await settled(store.delete(held));
      }
    });

  const changed = () => document.dispatchEvent(new CustomEvent("outbox:changed"));

  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    return [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  const count = async () => (await rows()).length;
  const outbox = { all, change, count, doneOf, drop, find, finish, isPossible, keep, leave, newKey, person, ready: keyOf };
  globalThis.riserbook = { ...globalThis.riserbook, outbox };
  if (!isPossible) return;
  forgetOthers().catch(() => undefined);
  if (person) keyOf().catch(() => undefined);
})();

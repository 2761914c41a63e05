/* What cannot wait on a phone: a correction, the signature of the hand-over. Whether the book can be
   reached is tried before such a page opens and before its form goes; where it cannot, that is said,
   and the page that is open stays. */
(() => {
  "use strict";
  const GIVE_UP_MS = 5000;
  const place = () => document.getElementById("needs-book"); // of the page that is shown now
  if (!place()) return;
  const formOf = () => document.querySelector("form[data-needs-book]");

  async function isThere() {
    if (!navigator.onLine) return false;
    try {
      const signal = AbortSignal.timeout(GIVE_UP_MS);
      const answer = await fetch("/phone/", { credentials: "same-origin", redirect: "manual", signal });
      return answer.type === "opaqueredirect" || answer.status < 500; // whoever is signed in: it is there
    } catch {
      return false;
    }
  }

  /* What is shown is the newest answer: one asked while there was a connection may come after the loss. */
  let asked = 0;
  async function ask() {
    const mine = ++asked;
    const found = await isThere();
    return { found, isNewest: mine === asked };
  }

  const show = (isMissing) => {
    const told = place();
    if (!told) return;
    told.querySelector("[data-part=form]").hidden = !formOf();
    told.hidden = !isMissing;
    if (isMissing) told.scrollIntoView({ block: "nearest" });
  };

  document.addEventListener("click", async (event) => {
    const link = event.target.closest("a[data-needs-book]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    const { found, isNewest } = await ask();
    if (found) location.assign(link.href);
    else if (isNewest) show(true);
  });

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!("needsBook" in form.dataset) || form.dataset.tried) return;
    event.preventDefault();
    event.stopPropagation();
    const { found, isNewest } = await ask();
    if (isNewest) show(!found);
    if (!found) return;
    form.dataset.tried = "yes";
    form.requestSubmit(event.submitter || undefined);
    delete form.dataset.tried;
  }, true);

  async function look() {
    if (!formOf()) return navigator.onLine && show(false); // nothing is typed: asked when a link is followed
    const { found, isNewest } = await ask();
    if (isNewest) show(!found);
  }
  window.addEventListener("offline", look);
  window.addEventListener("online", look);
  look();
})();

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
    if (await isThere()) location.assign(link.href);
    else show(true);
  });

  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!("needsBook" in form.dataset) || form.dataset.tried) return;
    event.preventDefault();
    event.stopPropagation();
    const found = await isThere();
    show(!found);
    if (!found) return;
    form.dataset.tried = "yes";
    form.requestSubmit(event.submitter || undefined);
    delete form.dataset.tried;
  }, true);

  const look = async () => formOf() && show(!(await isThere()));
  window.addEventListener("offline", look);
  window.addEventListener("online", async () => show(Boolean(formOf()) && !(await isThere())));
  look();
})();

/* What a gas meter shows, oxygen or nitrogen, is remembered on this phone for each meter by its
   name, so that the switch beside the field stands right the next time. */
(() => {
  "use strict";
  const store = window.localStorage;
  const place = (form) => {
    const named = form.elements.analyser?.value || form.dataset.meter || "";
    return `riserbook.meter.${named.trim().toLowerCase()}`;
  };

  function recall(form) {
    const choice = form.elements.n2_percent_unit;
    const shown = choice && store.getItem(place(form));
    if (!shown || choice.dataset.chosen || form.elements.n2_percent.value) return;
    if ([...choice.options].some((option) => option.value === shown)) choice.value = shown;
  }

  const recallAll = () => document.querySelectorAll("form.entry").forEach(recall);

  document.addEventListener("change", ({ target }) => {
    const form = target.closest("form.entry");
    if (target.name === "n2_percent_unit") {
      target.dataset.chosen = "yes";
      store.setItem(place(form), target.value);
    }
    if (target.name === "analyser") recall(form);
  });
  document.addEventListener("submit", ({ target }) => {
    const choice = target.elements.n2_percent_unit;
    if (choice && target.elements.n2_percent.value) store.setItem(place(target), choice.value);
  }, true);
  recallAll();
  new MutationObserver(recallAll).observe(document.body, { childList: true, subtree: true });
})();

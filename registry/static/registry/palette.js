// The palette: “/” or Find opens it, arrows walk through what is found, Enter opens the first.
(() => {
  const palette = document.getElementById("palette");
  if (!palette) return;
  const words = document.getElementById("palette-words");
  const found = document.getElementById("palette-found");
  const links = () => [...found.querySelectorAll("a")];
  let isWanted = false;

  const open = () => {
    if (!palette.open) palette.showModal();
    words.select();
  };
  const isTyping = (element) =>
    element.isContentEditable || /^(INPUT|TEXTAREA|SELECT)$/.test(element.tagName);

  document.addEventListener("keydown", (event) => {
    const isSlash = event.key === "/" && !isTyping(event.target);
    const isK = event.key === "k" && (event.ctrlKey || event.metaKey);
    if (event.altKey || (!isSlash && !isK) || (isSlash && (event.ctrlKey || event.metaKey))) return;
    event.preventDefault();
    open();
  });
  document.querySelectorAll("[data-palette]").forEach((link) =>
    link.addEventListener("click", (event) => {
      if (event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      open();
    }),
  );
  palette.addEventListener("click", (event) => {
    if (event.target === palette) palette.close();
  });
  palette.addEventListener("keydown", (event) => {
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    const all = [words, ...links()];
    const next = all.indexOf(document.activeElement) + step;
    (all[next] || (step > 0 ? all[all.length - 1] : words)).focus();
  });
  // Enter before the answer has come waits for it: whoever types quickly gets what was typed.
  words.form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (found.dataset.of === words.value && links().length) links()[0].click();
    else isWanted = true;
  });
  found.addEventListener("htmx:afterSwap", () => {
    found.dataset.of = words.value;
    if (isWanted && links().length) links()[0].click();
    isWanted = false;
  });
})();

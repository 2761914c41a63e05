/* A drawn chart can be read with a pointer: the script that does it is fetched when the reader
   first points at a chart or asks, and draws the same specification over the drawing.
   Without it the drawing stays, and so does the table of its numbers. */
(() => {
  const here = document.currentScript;
  const options = {
    ast: true, // expressions are interpreted, as the page's policy allows no evaluation
    renderer: "svg",
    actions: false,
    defaultStyle: false,
    tooltip: { disableDefaultStyle: true, id: "chart-values" },
  };
  let loading = null;

  function load() {
    loading ??= import(here.dataset.bundle).catch((error) => {
      loading = null;
      throw error;
    });
    return loading;
  }

  async function upgrade(drawing) {
    if (drawing.dataset.upgraded) return;
    drawing.dataset.upgraded = "yes";
    try {
      await load();
      const fresh = document.createElement("div");
      const spec = JSON.parse(drawing.querySelector("script").textContent);
      await window.vegaEmbed(fresh, spec, options);
      drawing.querySelector(".drawn").replaceChildren(...fresh.childNodes);
    } catch (error) {
      delete drawing.dataset.upgraded;
      throw error;
    }
  }

  function ready(figure) {
    const drawings = [...figure.querySelectorAll("[data-drawing]")];
    const button = figure.querySelector("[data-read-values]");
    const said = figure.querySelector("[aria-live]");
    const isShown = (drawing) => drawing.getClientRects().length > 0;

    async function read() {
      try {
        await Promise.all(drawings.filter(isShown).map(upgrade));
        button.hidden = true;
        said.textContent = said.dataset.how;
      } catch {
        said.textContent = said.dataset.failed;
      }
    }

    button.hidden = false;
    button.addEventListener("click", read);
    for (const drawing of drawings) drawing.addEventListener("pointerenter", read);
  }

  for (const figure of document.querySelectorAll("[data-chart]")) ready(figure);
})();

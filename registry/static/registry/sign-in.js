/* A password can be looked at before it is sent; and a passkey that does not come is said in words. */
(() => {
  "use strict";
  const words = document.currentScript?.dataset ?? {};

  for (const field of document.querySelectorAll("input[type=password]")) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "plain show-typed";
    button.setAttribute("aria-pressed", "false");
    button.setAttribute("aria-controls", field.id);
    button.textContent = words.show || "Show what is typed";
    button.addEventListener("click", () => {
      const isShown = field.type === "text";
      field.type = isShown ? "password" : "text";
      button.setAttribute("aria-pressed", String(!isShown));
    });
    field.form?.addEventListener("submit", () => { field.type = "password"; });
    field.after(button);
  }

  document.addEventListener("allauth.error", (event) => {
    const said = document.getElementById("passkey-said");
    if (!said) return;
    event.preventDefault();
    said.textContent = said.dataset.says;
    said.hidden = false;
  });
})();

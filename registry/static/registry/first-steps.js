/* The clock of the machine that the site is entered from, offered and not sent unseen. */
(() => {
  const choice = document.querySelector("select[data-own-zone]");
  if (!choice || choice.value) return;
  choice.value = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if (!choice.value) choice.value = "";
})();

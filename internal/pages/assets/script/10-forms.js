// A form that is under way is not sent again: the server would take it once anyway, but nobody has to wonder.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  setTimeout(() => form.querySelectorAll("button").forEach((button) => { button.disabled = true; }), 0);
});
addEventListener("pageshow", () => document.querySelectorAll("button[disabled]").forEach((button) => { button.disabled = false; }));

// What is shown once does not stay in what the browser remembers of the page.
const shown = document.querySelectorAll("[data-once]");
shown.forEach((once) => {
  once.querySelectorAll(".secret").forEach((secret) => {
    if (!navigator.clipboard) return;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "quiet";
    button.textContent = "Copy";
    button.addEventListener("click", async () => {
      await navigator.clipboard.writeText(secret.querySelector("code").textContent);
      button.textContent = "Copied";
    });
    secret.append(button);
  });
});
if (shown.length) addEventListener("pagehide", () => shown.forEach((once) => once.replaceChildren("It was shown once.")));

// A new passkey is made by the browser, which asks for the finger or the face.
const adding = document.querySelector("form.new-passkey");
if (adding && window.PublicKeyCredential && PublicKeyCredential.parseCreationOptionsFromJSON) {
  const fault = adding.querySelector(".fault");
  adding.querySelector(".without").textContent = "Now the browser asks for it.";
  adding.querySelector(".send").hidden = false;
  adding.addEventListener("submit", async (event) => {
    if (adding.elements.response.value) return;
    event.preventDefault();
    fault.hidden = true;
    try {
      const asked = JSON.parse(adding.dataset.asks);
      const made = await navigator.credentials.create({ publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(asked.publicKey || asked) });
      adding.elements.response.value = JSON.stringify(made.toJSON());
      adding.submit();
    } catch (problem) {
      fault.textContent = "No passkey was made. Try again.";
      fault.hidden = false;
      adding.querySelectorAll("button").forEach((button) => { button.disabled = false; });
    }
  });
}

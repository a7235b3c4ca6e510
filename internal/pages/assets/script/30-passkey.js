// The second step with a passkey.
const passkey = document.querySelector("form.passkey");
if (passkey && window.PublicKeyCredential && PublicKeyCredential.parseRequestOptionsFromJSON) {
  passkey.hidden = false;
  passkey.addEventListener("submit", async (event) => {
    if (passkey.elements.response.value) return;
    event.preventDefault();
    const fault = passkey.querySelector(".fault");
    fault.hidden = true;
    try {
      const asked = JSON.parse(passkey.dataset.asks);
      const answer = await navigator.credentials.get({ publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(asked.publicKey || asked) });
      passkey.elements.response.value = JSON.stringify(answer.toJSON());
      passkey.submit();
    } catch (problem) {
      fault.textContent = "The passkey gave no answer. Try again, or use a recovery code.";
      fault.hidden = false;
      passkey.querySelectorAll("button").forEach((button) => { button.disabled = false; });
    }
  });
}

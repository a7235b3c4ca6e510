// A signature that is proved by a passkey: it is asked for this very digest, and its answer goes along with the form.
const proof = document.querySelector("form.proof");
const byPasskey = proof?.querySelector(".by-passkey");
if (byPasskey && window.PublicKeyCredential && PublicKeyCredential.parseRequestOptionsFromJSON) {
  byPasskey.hidden = false;
  const button = byPasskey.querySelector("button");
  const fault = byPasskey.querySelector(".fault");
  button.addEventListener("click", async () => {
    button.disabled = true;
    fault.hidden = true;
    try {
      const answer = await fetch("/v1/proofs", {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-Form-Token": proof.elements.form_token.value },
        body: JSON.stringify({ digest: proof.dataset.digest }),
      });
      if (!answer.ok) throw new Error(answer.statusText);
      const asked = await answer.json();
      const credential = await navigator.credentials.get({
        publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(asked.options.publicKey || asked.options),
      });
      proof.elements.challenge.value = asked.challenge;
      proof.elements.response.value = JSON.stringify(credential.toJSON());
      proof.submit();
    } catch (problem) {
      fault.textContent = "The passkey gave no answer. Nothing was signed: try again, or use your password.";
      fault.hidden = false;
      button.disabled = false;
    }
  });
}

// What the pages do quicker with a script. Everything here works without it, save for passkeys, which only a script can ask.
"use strict";

// A form that is under way is not sent again: the server would take it once anyway, but nobody has to wonder.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  setTimeout(() => form.querySelectorAll("button").forEach((button) => { button.disabled = true; }), 0);
});
addEventListener("pageshow", () => document.querySelectorAll("button[disabled]").forEach((button) => { button.disabled = false; }));

// Suggestions out of the typed words: what has most of them in its names comes first.
const about = document.querySelector(".squawk-form select[name=about]");
if (about) {
  const words = document.querySelector(".squawk-form textarea[name=words]");
  const suggested = document.querySelector(".suggested");
  const kinds = document.querySelectorAll(".squawk-form input[name=kind]");
  const options = [...about.options].filter((option) => option.value).map((option, place) => ({
    option, place, found: (option.text + " " + (option.dataset.found || "")).toLowerCase().split(/[^a-z0-9]+/),
  }));
  let said = [...kinds].some((kind) => kind.checked);
  kinds.forEach((kind) => kind.addEventListener("change", () => { said = true; }));
  const proposeKind = () => {
    const kind = about.selectedOptions[0].dataset.kind;
    if (!said && kind) kinds.forEach((radio) => { radio.checked = radio.value === kind; });
  };
  about.addEventListener("change", proposeKind);
  const like = (word, typed) => word === typed || (typed.length > 3 && (word.startsWith(typed) || (word.length > 3 && typed.startsWith(word))));
  const suggest = () => {
    const typed = [...new Set(words.value.toLowerCase().split(/[^a-z0-9]+/))].filter((word) => word.length > 2);
    const best = options
      .map((o) => ({ ...o, score: typed.filter((t) => o.found.some((word) => like(word, t))).length }))
      .filter((o) => o.score > 0)
      .sort((a, b) => b.score - a.score || a.place - b.place)
      .slice(0, 4);
    suggested.replaceChildren(...best.map(({ option }) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = option.text;
      button.addEventListener("click", () => { about.value = option.value; proposeKind(); about.focus(); });
      return button;
    }));
    suggested.hidden = best.length === 0;
  };
  words.addEventListener("input", suggest);
  suggest();
}

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

// What changes while a page is looked at: a page of lists is brought up to date; one with an answer, or one that somebody is
// at work on, says that it is no longer what it was.
const main = document.querySelector("main[data-live]");
if (main) {
  const notice = document.querySelector(".changed");
  let since = main.dataset.since;
  let following = null;
  let soon = 0;

  const atWork = () => main.querySelector("details[open]") !== null || main.contains(document.activeElement) && document.activeElement !== main;

  const announce = () => {
    if (notice.childElementCount) return;
    main.classList.add("stale");
    const again = document.createElement("a");
    again.href = location.href;
    again.className = "button";
    again.textContent = "Load anew";
    again.addEventListener("click", (event) => { event.preventDefault(); location.reload(); });
    notice.append("Something has changed since. ", again);
  };

  const renew = async () => {
    const answer = await fetch(location.href, { headers: { Accept: "text/html" } });
    if (!answer.ok || answer.redirected) return announce();
    const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("main");
    if (!fresh || atWork()) return announce();
    main.replaceChildren(...fresh.childNodes);
  };

  const changed = () => {
    clearTimeout(soon);
    soon = setTimeout(() => {
      if (main.dataset.live === "renewed" && !atWork()) renew().catch(announce);
      else announce();
    }, 200);
  };

  const bears = (data) => !main.dataset.about || !data.includes('"aircraft"') || data.includes(main.dataset.about);

  const read = async (signal) => {
    const answer = await fetch("/v1/events?since=" + since, { headers: { Accept: "text/event-stream" }, signal });
    if (!answer.ok) return answer.status >= 500;
    const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
    for (let rest = ""; ;) {
      const { done, value } = await reader.read();
      if (done) return true;
      const lines = (rest + value).split("\n");
      rest = lines.pop();
      for (const line of lines) {
        if (line.startsWith("id:")) since = line.slice(3).trim();
        if (line.startsWith("data:") && bears(line)) changed();
      }
    }
  };

  const follow = async () => {
    if (following) return;
    following = new AbortController();
    const { signal } = following;
    while (!signal.aborted) {
      const goOn = await read(signal).catch(() => true);
      if (!goOn) return;
      await new Promise((done) => setTimeout(done, 3000));
    }
  };
  const rest = () => { following?.abort(); following = null; };

  document.addEventListener("visibilitychange", () => { if (document.hidden) rest(); else follow(); });
  addEventListener("pagehide", rest);
  addEventListener("pageshow", follow);
}

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

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

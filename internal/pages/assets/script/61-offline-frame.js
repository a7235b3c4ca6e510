// What stands in the frame of every page: how much waits on this phone, and what has just become of it. Whatever waits is
// sent as soon as there is network, by whichever page is open.
const { person } = document.body.dataset;
const badge = document.querySelector(".waits");
const note = document.querySelector(".held-note");
const sayOf = {
  squawk: "Your squawk is", start: "The beginning of the walkaround is", station: "What you said at this station is", finding: "The squawk of the finding is",
  complete: "The end of the walkaround is", note: "Your note is", photo: "Your photo is",
};

const count = async () => {
  const records = (await phone.all()).filter((r) => !person || r.person === person);
  const waiting = records.filter((r) => r.state === "waiting").length;
  const trouble = person ? records.filter((r) => r.state === "refused" || (r.state === "sent" && r.says.length > 0)).length : 0;
  const said = [];
  if (waiting) said.push(`${waiting} to send`);
  if (trouble) said.push(`${trouble} to look at`);
  if (waiting && !person) said.push("sign in to send");
  badge.textContent = said.join(", ");
  badge.classList.toggle("trouble", trouble > 0);
  badge.hidden = said.length === 0;
  if (waiting) navigator.storage?.persist?.().catch(() => {}); // what waits is not to be thrown away for want of room
  return waiting;
};

const say = (text, href, label) => {
  const link = document.createElement("a");
  link.className = "button";
  link.href = href;
  link.textContent = label;
  const words = document.createElement("span");
  words.textContent = text;
  note.replaceChildren(words, ...(href === location.pathname ? [] : [link]));
  setTimeout(() => note.replaceChildren(), 15000); // the frame goes on saying how much waits
};

// pauses grow while nothing gets through.
const pauses = [5, 10, 20, 40, 80, 160, 300];
let failed = 0;
let soon = 0;
const sendWhatWaits = async () => {
  clearTimeout(soon);
  const waiting = await count();
  if (!waiting || !person) return;
  const outcome = await phone.flush(false);
  const left = await count();
  if (outcome?.sent && location.pathname !== "/outbox") say(`${outcome.sent === 1 ? "What waited is" : `${outcome.sent} things that waited are`} sent.`, "/outbox", "See it");
  if (outcome?.asks) say("Sign in to send what waits.", `/sign-in?next=${encodeURIComponent(location.pathname + location.search)}`, "Sign in");
  failed = outcome?.sent ? 0 : failed + 1;
  if (left && !outcome?.asks) soon = setTimeout(sendWhatWaits, pauses[Math.min(failed, pauses.length - 1)] * 1000);
};

// A page that is kept tells its age as time goes by, and that there is network again.
const { kept } = document.documentElement.dataset;
const notice = document.querySelector(".kept");
if (kept && notice) {
  setInterval(() => { notice.querySelector(".age").textContent = phone.age(Date.now() - kept); }, 60000);
  addEventListener("online", () => {
    notice.querySelector("strong").textContent = "There is network again.";
    notice.querySelector(".button").textContent = "Load anew";
  });
}

// What may be needed without network is fetched once a page is there: of the chosen aircraft its forms, and of a walkaround
// that has been begun every station and the review.
const ahead = () => {
  const wanted = [{ href: "/outbox", stamp: "" }];
  const [, aircraft] = location.pathname.match(/^\/aircraft\/([^/]+)$/) || [];
  if (aircraft) wanted.push({ href: `/aircraft/${aircraft}/squawk`, stamp: "" }, { href: `/aircraft/${aircraft}/walkaround`, stamp: "" });
  for (const link of document.querySelectorAll(".stations a")) {
    if (link.getAttribute("href") !== location.pathname + location.search) wanted.push({ href: link.getAttribute("href"), stamp: link.textContent });
  }
  return wanted;
};

// A walkaround can begin without network: its identifier is on the page where it begins, and its stations are kept under it
// before there is any. They are fetched once for an aircraft, and serve until a walkaround has begun with them.
const begin = document.querySelector("form.begin");
const notBegun = async () => {
  if (!begin) return [];
  const { aircraft } = begin.dataset;
  const list = begin.querySelector(".ahead");
  const given = begin.elements.walkaround;
  const pagesOf = (id) => [...list.children].map((link) => ({
    href: `/walkarounds/${id}${link.getAttribute("href")}`, stamp: `not begun: ${list.textContent}`,
    from: `/aircraft/${aircraft}/walkaround/ahead${link.getAttribute("href").replace("/review", "?")}&walkaround=${id}`,
  }));
  const before = await phone.recall(`ahead ${aircraft}`);
  if (before && await phone.kept(pagesOf(before)[0].href)) given.value = before;
  else await phone.remember(`ahead ${aircraft}`, given.value);
  begin.addEventListener("submit", () => { phone.remember(`ahead ${aircraft}`, ""); });
  return pagesOf(given.value);
};

if ("serviceWorker" in navigator && "locks" in navigator && badge) {
  navigator.serviceWorker.register("/worker.js").catch(() => {});
  phone.heard.addEventListener("message", count);
  addEventListener("online", sendWhatWaits);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) sendWhatWaits(); });
  const work = async () => {
    const [, what, id] = location.hash.match(/^#(kept|refused)-(\d+)$/) || [];
    const record = id && (await phone.all()).find((r) => r.id === +id);
    if (record && what === "kept" && record.state === "waiting") {
      say(`${sayOf[record.kind]} kept on this phone. It will be sent when there is network.`, "/outbox", "See what waits");
    }
    await sendWhatWaits();
    if (person && !kept) {
      (await navigator.serviceWorker.ready).active.postMessage([...ahead(), ...await notBegun()]);
    }
  };
  addEventListener("load", () => work().catch(() => {}));
}

// The worker stands between the pages and the network. With network everything goes as it would without it; without, pages
// that were kept are shown with their age, and what is sent is put into the queue. It leaves alone whatever is no page: the
// interface, events, photos and papers.
const shellName = `shell ${version}`;
const readPatience = 4000;
const formPatience = 20000;
const photoPatience = 60000;

addEventListener("install", (event) => {
  skipWaiting();
  event.waitUntil(caches.open(shellName).then((cache) => cache.addAll(shell)));
});

addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name !== shellName && name !== phone.pages) await caches.delete(name);
    }
    await clients.claim();
  })());
});

addEventListener("sync", (event) => {
  if (event.tag !== "outbox") return;
  event.waitUntil(phone.flush(true).then((outcome) => {
    if (!outcome.network || outcome.later) throw new Error("not everything is sent"); // the browser tries again
  }));
});

const after = (ms) => new Promise((done) => { setTimeout(done, ms); });
const goTo = (path) => Response.redirect(new URL(path, location.origin).href, 303);

// A kept page says before anything else that it is one. What it loads is that of this version, and it follows nothing.
const { words, age } = phone;
const asKept = async (copy, path, why) => {
  const at = +copy.headers.get("Tiedown-Kept");
  const moment = new Date(at);
  let text = await copy.text();
  text = text.replace(/\/assets\/([a-z-]+)\.[0-9a-f]{12}\.([a-z]+)/g, (old, name, ending) => current[`${name}.${ending}`] || old);
  if (path !== "/outbox") {
    const notice = `<div class="kept" role="status"><p><strong>${why}</strong></p><a class="button quiet" href="">Try again</a>` +
      `<p>This page is as it was <span class="age">${age(Date.now() - at)}</span>, <time datetime="${moment.toISOString()}">${words(moment)}</time>. ` +
      `Do not decide by it: look again with network.</p></div>`;
    text = text.replace(/(<main [^>]*?)( data-live="[^"]*")?(>| data-since[^>]*>)/, (_, head, live, rest) => `${head} class="stale"${rest}${notice}`)
      .replace("<html ", `<html data-kept="${at}" `);
  }
  const headers = new Headers(copy.headers);
  return new Response(text, { headers });
};

const withoutNetwork = async () => await (await caches.open(shellName)).match("/no-network") || Response.error();

// byMark finds the page of an aircraft whose code was scanned.
const byMark = async (path) => {
  const mark = decodeURIComponent(path.slice("/a/".length)).toLowerCase();
  const found = (await phone.atHand()).find(({ href, title }) => /^\/aircraft\/[^/]+$/.test(new URL(href).pathname) && title.toLowerCase() === mark);
  return found && goTo(new URL(found.href).pathname);
};

// read is the network first. On a slow line a kept page is shown after a while, and the newer one is kept once it has come.
const read = async (event) => {
  const { request } = event;
  const path = new URL(request.url).pathname;
  const asked = fetch(request).then(async (answer) => {
    const copy = answer.type === "basic" && answer.ok ? answer.clone() : null;
    await phone.noted(answer).catch(() => {}); // a browser that keeps nothing shows pages all the same
    if (copy) event.waitUntil(phone.keep(request.url, copy).catch(() => {}));
    return answer;
  });
  event.waitUntil(asked.catch(() => {}));
  const copy = await phone.kept(request.url).catch(() => undefined);
  const answer = await Promise.race([asked.catch(() => null), ...(copy ? [after(readPatience).then(() => "slow")] : [])]);
  if (answer === "slow") return asKept(copy, path, "The network is slow.");
  if (answer && copy && answer.status > 501) return asKept(copy, path, "The server cannot answer.");
  if (answer) return answer;
  if (copy) return asKept(copy, path, "No network.");
  return (path.startsWith("/a/") && await byMark(path)) || withoutNetwork();
};

// onward is where somebody goes on who has just left a station without network: the next one at which something is left.
const onward = async (record) => {
  const at = record.path.replace(/\/results$/, "");
  const here = phone.valueOf(record, "station");
  const page = await phone.kept(`${at}?station=${here}`);
  const text = page ? await page.text() : "";
  const stations = [...text.matchAll(/<a href="[^"]*\?station=([a-z-]+)"([^>]*)>/g)].filter(([whole]) => whole.includes(at));
  const said = new Set((await phone.all()).filter((r) => r.kind === "station" && r.path === record.path && r.state !== "discarded").map((r) => phone.valueOf(r, "station")));
  const place = stations.findIndex(([, station]) => station === here);
  for (let i = 1; i <= stations.length; i++) {
    const [, station, rest] = stations[(place + i) % stations.length];
    if (!said.has(station) && !rest.includes("full") && await phone.kept(`${at}?station=${station}`)) return `${at}?station=${station}`;
  }
  return await phone.kept(`${at}/review`) ? `${at}/review` : "/outbox";
};

const whereTo = async (record) => {
  if (record.kind === "station") return `${await onward(record)}#kept-${record.id}`;
  if (record.kind === "start") {
    const begun = (await phone.atHand()).find(({ href }) => href.includes(`/walkarounds/${phone.valueOf(record, "walkaround")}?station=`));
    if (begun) return `${new URL(begun.href).pathname}${new URL(begun.href).search}#kept-${record.id}`;
  }
  return `/outbox#kept-${record.id}`;
};

// send is the network too, at once: whatever does not get through is put into the queue. The form has a name of its own, by
// which the server knows it if it comes again after all. What has others of its lane before it queues behind them.
const send = async (event) => {
  const { request } = event;
  const path = new URL(request.url).pathname;
  const multipart = (request.headers.get("Content-Type") || "").startsWith("multipart/");
  const copy = request.clone();
  const entries = [...(await copy.formData()).entries()];
  const form = phone.formOf(path);
  const lane = `${form.of} ${form.kind === "start" ? (entries.find(([n]) => n === "walkaround") || [])[1] : form.record}`;
  const before = (await phone.all().catch(() => [])).some((r) => r.state === "waiting" && r.lane === lane);
  if (!before) {
    const asked = fetch(request).catch(() => null);
    const patience = entries.some(([, value]) => value instanceof File && value.size > 0) ? photoPatience : formPatience;
    const answer = await Promise.race([asked, after(patience)]);
    const ours = answer && (answer.type === "opaqueredirect" || answer.headers.has("Tiedown-Problem") || answer.headers.has("Tiedown-Person"));
    if (ours && answer.status < 500 && answer.status !== 401) return answer;
  }
  const record = await phone.add(path, multipart, entries)
    .catch(() => phone.add(path, multipart, entries.filter(([, value]) => !(value instanceof File)), "There was no room on this phone for the photo: add it once this is sent."))
    .catch(() => null);
  if (!record) return goTo("/no-network?not-kept");
  registration.sync?.register("outbox").catch(() => {});
  if (before) {
    await Promise.race([phone.flush(true), after(formPatience)]);
    const now = (await phone.all()).find((r) => r.id === record.id);
    if (now?.state === "sent") return goTo(now.to);
    if (now?.state === "refused") return goTo(`/outbox#refused-${record.id}`);
  }
  return goTo(await whereTo(record));
};

// leave deletes what is kept before anything else: also without network, when the server hears of it only later.
const leave = async (request) => {
  await phone.forget();
  return fetch(request).catch(() => goTo("/no-network?sign-out"));
};

// load gets a file as without a worker: the browser has it already, as it never changes. Where it has thrown it away there is
// another of it here.
const load = async (request) => {
  const asked = fetch(request).catch(() => null);
  return await Promise.race([asked, after(readPatience)]) || await caches.match(request) || await asked || Response.error();
};

// What may be needed is fetched one page after the other, also once whoever looked at the page has gone on.
let ahead = Promise.resolve();
addEventListener("message", (event) => {
  ahead = ahead.then(() => phone.fetchToKeep(event.data)).catch(() => {});
  event.waitUntil(ahead);
});

addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "GET" && url.pathname.startsWith("/assets/")) {
    event.respondWith(load(request));
    return;
  }
  if (request.mode !== "navigate" || url.pathname.startsWith("/v1/")) return;
  if (request.method === "GET") {
    event.respondWith(url.pathname === "/no-network" ? withoutNetwork() : read(event));
  } else if (request.method === "POST" && url.pathname === "/sign-out") {
    event.respondWith(leave(request));
  } else if (request.method === "POST" && phone.formOf(url.pathname)) {
    event.respondWith(send(event));
  }
});

// What is kept on this phone: who was here last, pages to read without network, and what waits to be sent. Pages and the
// worker share it, so that there is one queue, whoever fills or empties it.
self.phone = (() => {
  const database = () => new Promise((done, fail) => {
    const asked = indexedDB.open("tiedown", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("queue", { keyPath: "id", autoIncrement: true });
      asked.result.createObjectStore("state");
    };
    asked.onsuccess = () => done(asked.result);
    asked.onerror = () => fail(asked.error);
  });

  // within is one transaction; what work gives is its result, once it is written for good.
  const within = async (store, mode, work) => {
    const open = await database();
    try {
      return await new Promise((done, fail) => {
        const change = open.transaction(store, mode, { durability: "strict" });
        let result;
        change.oncomplete = () => done(result);
        change.onerror = change.onabort = () => fail(change.error);
        work(change.objectStore(store), (value) => { result = value; });
      });
    } finally {
      open.close();
    }
  };

  const recall = (key) => within("state", "readonly", (s, give) => { s.get(key).onsuccess = (e) => give(e.target.result); });
  const remember = (key, value) => within("state", "readwrite", (s) => { s.put(value, key); });

  // Who is here. A page tells in a header whom it was made for: nothing of one session is left for another.
  const pages = "kept pages";
  const mostForms = 20;
  const meet = (told) => within("state", "readwrite", (s, give) => {
    s.get("person").onsuccess = (e) => {
      const was = e.target.result;
      if (told === "nobody") {
        if (was && !was.over) s.put({ ...was, over: true }, "person");
        give(was && !was.over ? "another" : "same");
        return;
      }
      const { person, name, session, form, began, until } = Object.fromEntries(new URLSearchParams(told));
      const now = { person, name, session, began: +began, until: +until, over: false };
      const same = was && was.session === session;
      if (was && (same ? was.over : now.began < was.began)) {
        give("former"); // it was under way while somebody else signed in, or while this one signed out
        return;
      }
      s.put(now, "person");
      if (!same) {
        s.get("forms").onsuccess = (f) => s.put([...(f.target.result || []), [form, person, name]].slice(-mostForms), "forms");
      }
      give(same ? "same" : "another");
    };
  });

  const noted = async (answer) => {
    const told = answer.headers.get("Tiedown-Person");
    if (!told) return "unknown";
    const who = await meet(told);
    if (who === "another") await caches.delete(pages);
    return told === "nobody" ? "nobody" : who;
  };

  const forget = async () => {
    await meet("nobody");
    await caches.delete(pages);
  };

  // here is who may be shown what is kept: nobody once the session would be over by itself.
  const here = async () => {
    const who = await recall("person");
    return who && !who.over && Date.now() < who.until ? who : null;
  };

  // Pages to read. Only those of the ramp, the hangar and the desk are kept: none that shows a secret or asks for one.
  const id = "[0-9a-f-]{36}";
  const readable = [`/`, `/more`, `/outbox`, `/squawks`, `/board`, `/week`, `/squawks/${id}`, `/flights/${id}`, `/aircraft/${id}`, `/aircraft/${id}/squawk`,
    `/aircraft/${id}/walkaround`, `/walkarounds/${id}`, `/walkarounds/${id}/review`].map((path) => new RegExp(`^${path}$`));
  const mostPages = 150;
  const mayKeep = (url) => readable.some((path) => path.test(url.pathname)) && !url.searchParams.has("filed");

  const plain = (address) => {
    const url = new URL(address, self.location.origin);
    url.hash = "";
    return url;
  };

  // keep takes in a page that the server has just sent, under an address, with a stamp that tells whether it is still good.
  const keep = async (address, answer, stamp = "") => {
    const url = plain(address);
    const who = await noted(answer);
    if (!answer.ok || answer.redirected || !mayKeep(url) || (who !== "same" && who !== "another")) return false;
    const text = await answer.text();
    const title = (text.match(/<title>([^<]*)<\/title>/) || ["", ""])[1];
    const cache = await caches.open(pages);
    await cache.put(url.href, new Response(text, {
      headers: {
        "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": answer.headers.get("Content-Security-Policy") || "default-src 'none'",
        "X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin", "Cross-Origin-Opener-Policy": "same-origin", "Tiedown-Kept": String(Date.now()),
        "Tiedown-Title": encodeURIComponent(title), "Tiedown-Stamp": encodeURIComponent(stamp),
      },
    }));
    const keys = await cache.keys();
    for (const old of keys.slice(0, Math.max(0, keys.length - mostPages))) await cache.delete(old);
    return true;
  };

  const kept = async (address) => {
    if (!await here() || !await caches.has(pages)) return undefined;
    return (await caches.open(pages)).match(plain(address).href);
  };

  const atHand = async () => {
    if (!await here() || !await caches.has(pages)) return [];
    const cache = await caches.open(pages);
    const all = [];
    for (const request of await cache.keys()) {
      const { headers } = await cache.match(request);
      all.push({ href: request.url, title: decodeURIComponent(headers.get("Tiedown-Title")).replace(/ · Tiedown$/, ""), at: +headers.get("Tiedown-Kept") });
    }
    return all;
  };

  // fetchToKeep gets pages that may be needed, one after the other, unless they are kept with the same stamp and not old.
  const fresh = 20 * 60 * 1000;
  const fetchToKeep = async (wanted) => {
    for (const { href, from, stamp } of wanted) {
      const copy = await kept(href);
      if (copy && decodeURIComponent(copy.headers.get("Tiedown-Stamp")) === stamp && Date.now() - copy.headers.get("Tiedown-Kept") < fresh) continue;
      const answer = await fetch(from || href, { headers: { Accept: "text/html" }, redirect: "manual" });
      await keep(href, answer, stamp);
    }
  };

  // The queue. A record has the form as it was filled in, whose it is, and its lane: what is in one lane is sent in order.
  const forms = [
    [new RegExp(`^/aircraft/(${id})/squawk$`), "squawk", "aircraft"],
    [new RegExp(`^/aircraft/(${id})/walkaround$`), "start", "walkaround"],
    [new RegExp(`^/walkarounds/(${id})/results$`), "station", "walkaround"],
    [new RegExp(`^/walkarounds/(${id})/findings/${id}$`), "finding", "walkaround"],
    [new RegExp(`^/walkarounds/(${id})/complete$`), "complete", "walkaround"],
    [new RegExp(`^/squawks/(${id})/notes$`), "note", "squawk"],
    [new RegExp(`^/squawks/(${id})/photos$`), "photo", "squawk"],
  ];
  const formOf = (path) => {
    for (const [pattern, kind, of] of forms) {
      const found = path.match(pattern);
      if (found) return { kind, of, record: found[1] };
    }
    return null;
  };
  const valueOf = (record, name) => (record.entries.find(([n]) => n === name) || ["", ""])[1];

  const heard = new BroadcastChannel("tiedown outbox");
  const tell = () => {
    heard.postMessage("changed");
    heard.dispatchEvent(new MessageEvent("message")); // a channel does not hear itself
  };

  const all = () => within("queue", "readonly", (s, give) => { s.getAll().onsuccess = (e) => give(e.target.result); });
  const change = async (key, how) => {
    const changed = await within("queue", "readwrite", (s, give) => {
      s.get(key).onsuccess = (e) => {
        const record = e.target.result;
        if (!record) return;
        how(record);
        s.put(record);
        give(record);
      };
    });
    tell();
    return changed;
  };

  // add puts a form into the queue of whoever it was made for. A form of nobody who is known here is not taken: nothing is
  // ever sent under another name.
  const add = async (path, multipart, entries, later = "") => {
    const form = formOf(path);
    const token = (entries.find(([name]) => name === "form_token") || [])[1];
    const [, person, name] = (await recall("forms") || []).find(([known]) => known === token) || [];
    if (!form || !person) return null;
    const record = {
      path, multipart, kind: form.kind, person, name, at: Date.now(), state: "waiting", tries: 0, later,
      entries: entries.filter(([n, value]) => n !== "form_token" && !(value instanceof File && value.size === 0)),
    };
    record.lane = `${form.of} ${form.kind === "start" ? valueOf(record, "walkaround") : form.record}`;
    record.id = await within("queue", "readwrite", (s, give) => { s.add(record).onsuccess = (e) => give(e.target.result); });
    tell();
    return record;
  };

  // Sending. One at a time in the whole browser, whichever tabs are open: the lock is its.
  const patience = 90 * 1000;
  const again = [408, 425, 429];
  const pass = async () => {
    const answer = await fetch("/outbox/pass", { headers: { Accept: "application/json" }, cache: "no-store", signal: AbortSignal.timeout(15000) });
    if (!(answer.headers.get("Content-Type") || "").startsWith("application/json")) throw new TypeError("something else answers");
    return answer.json();
  };

  const post = async (record, form) => {
    const body = record.multipart ? new FormData() : new URLSearchParams();
    for (const [name, value] of record.entries) body.append(name, value);
    body.append("form_token", form);
    const headers = { Accept: "text/html", "Tiedown-Queued": "yes", "Tiedown-Written": new Date(record.at).toISOString() };
    const answer = await fetch(record.path, { method: "POST", body, headers, redirect: "error", signal: AbortSignal.timeout(patience) });
    const problem = answer.headers.get("Tiedown-Problem");
    if (answer.ok && (answer.headers.get("Content-Type") || "").startsWith("application/json")) return { done: await answer.json() };
    if (answer.status >= 500 || again.includes(answer.status)) return { later: `The server could not take it (${answer.status}).` };
    if (!problem) throw new TypeError("something else answers"); // such as the page of a network that asks to be paid first
    if (answer.status === 401) return { asks: true };
    if (problem === "cross-site") return { passAgain: true };
    return { refused: { status: answer.status, problem, page: await answer.text() } };
  };

  // held says that a record has to wait for a decision about an earlier one of its lane: nothing is reported on a walkaround
  // whose beginning was refused, and none ends while something of it is not on record.
  const held = (record, records) => records.some((r) => r.id < record.id && r.person === record.person && r.lane === record.lane &&
    r.state === "refused" && (r.kind === "start" || record.kind === "complete"));

  const drain = async () => {
    const outcome = { network: true, asks: false, later: false };
    if (!(await all()).some((r) => r.state === "waiting")) return outcome;
    const stuck = new Set();
    const sent = [];
    try {
      let who = await pass();
      for (let renewed = false; ;) {
        if (!who.person) outcome.asks = true;
        const records = await all();
        const record = records.find((r) => r.state === "waiting" && r.person === who.person && !stuck.has(r.lane) && !held(r, records));
        if (!record) break;
        await change(record.id, (r) => { r.tries++; });
        const { done, later, asks, passAgain, refused } = await post(record, who.form);
        if (asks) outcome.asks = true;
        if (asks || (passAgain && renewed)) break;
        if (passAgain) {
          renewed = true;
          who = await pass();
          continue;
        }
        if (later) {
          outcome.later = true;
          stuck.add(record.lane);
          await change(record.id, (r) => { r.later = later; });
        } else if (refused) {
          await change(record.id, (r) => Object.assign(r, { state: "refused", refused }));
        } else {
          await change(record.id, (r) => Object.assign(r, { state: "sent", sent: Date.now(), to: done.to, says: done.says || [], later: "" }));
          sent.push(record);
        }
      }
    } catch {
      outcome.network = false;
    }
    await prune();
    outcome.sent = sent.length;
    for (const record of sent) await renew(record).catch(() => {});
    return outcome;
  };

  // renew has the pages of a walkaround kept as they are after something was sent.
  const renew = (record) => {
    const [of, which] = record.lane.split(" ");
    if (of !== "walkaround") return Promise.resolve();
    const at = `/walkarounds/${which}`;
    const station = valueOf(record, "station");
    return fetchToKeep([...(station ? [{ href: `${at}?station=${station}`, stamp: `after ${record.id}` }] : []), { href: `${at}/review`, stamp: `after ${record.id}` }]);
  };

  // What was sent is shown for a day, and what was thrown away can be taken back for a week.
  const day = 24 * 60 * 60 * 1000;
  const prune = () => within("queue", "readwrite", (s) => {
    s.openCursor().onsuccess = (e) => {
      const at = e.target.result;
      if (!at) return;
      const { state, sent, says, left } = at.value;
      if ((state === "sent" && says.length === 0 && Date.now() - sent > day) || (state === "discarded" && Date.now() - left > 7 * day)) at.delete();
      at.continue();
    };
  });

  const lock = "tiedown outbox";
  const flush = (wait) => navigator.locks.request(lock, wait ? {} : { ifAvailable: true }, (mine) => (mine ? drain() : null));
  const alone = (work) => navigator.locks.request(lock, work);

  // An instant in the zone of the phone, with the zone, and how long ago it is.
  const format = new Intl.DateTimeFormat("en-GB", {
    weekday: "short", day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit", timeZoneName: "short",
  });
  const words = (at) => format.format(at).replace(",", "");
  const age = (ms) => {
    const minutes = Math.floor(ms / 60000);
    const told = (n, one) => `${n} ${one}${n === 1 ? "" : "s"} ago`;
    if (minutes < 1) return "less than a minute ago";
    if (minutes < 60) return told(minutes, "minute");
    return minutes < 2880 ? told(Math.floor(minutes / 60), "hour") : told(Math.floor(minutes / 1440), "day");
  };

  return { words, age, noted, forget, here, recall, remember, keep, kept, atHand, fetchToKeep, pages, formOf, valueOf, add, all, change, flush, alone, heard };
})();

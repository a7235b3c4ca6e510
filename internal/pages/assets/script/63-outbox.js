// The page of what is kept on this phone: what waits, what was refused with what to do about it, what was sent, and what can
// be read. It shows of other people that something of theirs waits, and nothing of what it says.
const list = document.querySelector(".outbox");
if (list && "locks" in navigator) {
  const here = document.body.dataset.person;
  const make = (tag, properties, ...children) => {
    const element = Object.assign(document.createElement(tag), properties);
    element.append(...children);
    return element;
  };
  const moment = (at) => make("time", { dateTime: new Date(at).toISOString() }, phone.words(at));
  const names = {
    squawk: "A squawk", start: "The beginning of a walkaround", station: "A station of a walkaround", finding: "The squawk of a finding",
    complete: "The end of a walkaround", note: "A note", photo: "A photo",
  };
  const button = (text, press) => {
    const b = make("button", { type: "button", className: "quiet" }, text);
    b.addEventListener("click", press);
    return b;
  };
  const link = (text, href) => make("a", { className: "button", href }, text);

  // problemOf reads what the server's page said of the form: its title, what is wrong, and what to do.
  const problemOf = ({ page, status }) => {
    const doc = new DOMParser().parseFromString(page, "text/html");
    const said = [...doc.querySelectorAll(".fault, .lead, .lead + p")].map((e) => e.textContent.replace(/\s+/g, " ").trim()).filter((text) => text)
      .map((text) => text[0].toUpperCase() + text.slice(1));
    return { title: status === 422 ? "Something in it is not right" : doc.querySelector("h1")?.textContent || `Refused (${status})`, said: [...new Set(said)] };
  };

  const discard = (record) => phone.alone(() => phone.change(record.id, (r) => Object.assign(r, { state: "discarded", was: r.state, left: Date.now() })));
  const restore = (record) => phone.change(record.id, (r) => Object.assign(r, { state: r.was || "refused", why: "" }));

  const card = async (record) => {
    const { title, lines } = await forms.annotate(record);
    const at = make("p", { className: "soft" }, "Written ", moment(record.at), ".");
    const what = make("dl", { className: "wrote" }, ...lines.flatMap(([name, value]) => [make("dt", {}, name), make("dd", {}, value)]));
    const item = make("li", { className: `card o-${record.state}`, id: `record-${record.id}` }, make("h3", {}, title ? `${names[record.kind]}: ${title}` : names[record.kind]), at);
    if (record.state === "refused") {
      const { title: problem, said } = problemOf(record.refused);
      item.append(make("div", { className: "fault" }, make("p", {}, make("strong", {}, `Not taken. ${problem}.`)), ...said.map((text) => make("p", {}, text))), what,
        make("p", { className: "hint" }, "Open the form again with this filled in, correct it and send it; or throw it away."),
        make("div", { className: "actions" }, link("Open it again", `${forms.pageOf(record)}#again-${record.id}`), button("Throw away", () => discard(record))));
    } else if (record.state === "waiting") {
      item.append(what, ...(record.later ? [make("p", { className: "hint" }, `${record.later} It is tried again.`)] : []),
        make("div", { className: "actions" }, button("Throw away", () => discard(record))));
    } else if (record.state === "sent") {
      item.append(...record.says.map((text) => make("p", { className: "fault" }, text)), make("p", {}, "Sent ", moment(record.sent), "."),
        make("div", { className: "actions" }, link("Look at it", record.to),
          ...(record.says.length ? [button("I have seen it", () => phone.change(record.id, (r) => { r.says = []; }))] : [])));
    } else {
      item.append(make("p", {}, record.why === "sent again" ? "It was filled in again." : "Thrown away."), what,
        make("div", { className: "actions" }, button("Take it back", () => restore(record))));
    }
    return item;
  };

  const section = async (heading, records) => (records.length ? [make("h2", {}, heading), make("ul", { className: "cards" }, ...await Promise.all(records.map(card)))] : []);

  let turn = 0;
  const show = async () => {
    const mine = ++turn;
    const all = await phone.all();
    const own = all.filter((r) => r.person === here);
    const of = (state) => own.filter((r) => r.state === state);
    const others = {};
    for (const r of all.filter((one) => one.person !== here && one.state !== "sent" && one.state !== "discarded")) others[r.name] = (others[r.name] || 0) + 1;
    const seen = [
      ...await section("Not taken", of("refused")), ...await section("Waits to be sent", of("waiting")),
      ...Object.entries(others).map(([name, n]) => make("p", { className: "theirs" }, `${n} of ${name}: sent when ${name} signs in on this phone.`)),
      ...await section("Sent", of("sent").reverse()), ...await section("Thrown away", of("discarded")),
    ];
    if (mine !== turn) return; // something has changed since
    if (seen.length) list.replaceChildren(...seen);
    else list.replaceChildren(make("p", { className: "empty" }, "Nothing waits to be sent."));
  };

  document.querySelectorAll("[data-for]").forEach((words) => { words.hidden = words.dataset.for !== location.search; });

  const hand = document.querySelector(".at-hand");
  const clear = document.querySelector(".clear-kept");
  const showHand = async () => {
    const pages = (await phone.atHand()).filter(({ href }) => !/\/outbox$|\/walkarounds\/[^/?]+$/.test(href)); // one of these is this page, the other a station's
    hand.replaceChildren(...pages.sort((a, b) => a.title.localeCompare(b.title)).map(({ href, title, at }) => make("li", {}, make("a", { href }, title), make("span", { className: "soft" }, "as of ", moment(at)))));
    hand.previousElementSibling.hidden = pages.length > 0;
    clear.hidden = pages.length === 0;
  };
  clear.addEventListener("click", async () => {
    await caches.delete(phone.pages);
    await showHand();
    hand.previousElementSibling.textContent = "Nothing is kept to be read. Pages are kept again as you look at them.";
    hand.previousElementSibling.focus();
  });
  phone.heard.addEventListener("message", show);
  show().then(showHand);
}

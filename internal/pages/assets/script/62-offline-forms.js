// Forms on a phone that had no network: one that is kept makes names of its own, as the server knows each name once; a
// station shows what was said at it and is not sent yet; and what was refused can be filled in again.
const random = (n) => crypto.getRandomValues(new Uint8Array(n));
const newOnce = () => btoa(String.fromCharCode(...random(16))).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
// newID is a UUID of version 7: identifiers come in the order of time.
const newID = () => {
  const bytes = random(16);
  const now = Date.now();
  for (let i = 0; i < 6; i++) bytes[i] = Math.floor(now / 2 ** (8 * (5 - i))) % 256;
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((b) => b.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
};

// pathOf is where a form is sent: one that does not say is sent to its own page.
const pathOf = (form, page = location.pathname) => new URL(form.getAttribute("action") || page, location.origin).pathname;
const queueable = (doc, page) => [...doc.querySelectorAll("form[method=post]")].filter((form) => phone.formOf(pathOf(form, page)));

const renameForms = (doc) => {
  for (const form of queueable(doc)) {
    if (form.elements.once) form.elements.once.value = newOnce();
    for (const field of form.querySelectorAll("input[name$='.id']")) field.value = newID();
  }
};

// fill puts what was written into a form again. What names the form and its results stays the form's own.
const own = (name) => name === "once" || name === "form_token" || name === "station" || name === "walkaround" || name.endsWith(".id") || name.endsWith(".replaces");
const fill = (form, entries) => {
  for (const [name, value] of entries) {
    if (own(name)) continue;
    for (const field of form.querySelectorAll(`[name="${CSS.escape(name)}"]`)) {
      if (value instanceof File) {
        const files = new DataTransfer();
        files.items.add(value);
        field.files = files.files;
      } else if (field.type === "radio" || field.type === "checkbox") {
        field.checked = field.value === value;
      } else {
        field.value = value;
      }
      const folded = field.closest("details");
      if (folded) folded.open = true;
    }
  }
};

const labelOf = (field) => (field.labels?.[0]?.textContent || field.name).replace(/\s+/g, " ").trim();
const size = (file) => `${Math.max(1, Math.round(file.size / 1024))} kB`;

// describe says a form in words, as whoever filled it in has read it. What it is about comes first.
const describe = (form, entries) => {
  const lines = [];
  for (const [name, value] of entries) {
    if (own(name) || value === "") continue;
    const field = [...form.elements].find((f) => f.name === name && (f.type !== "radio" || f.value === value));
    const check = field?.closest(".check")?.querySelector(".check-words")?.firstChild.textContent.trim();
    const legend = field?.closest("fieldset")?.querySelector("legend:not(.unseen)")?.textContent.trim();
    let said = value instanceof File ? `photo, ${size(value)}` : value;
    if (field?.type === "radio") said = labelOf(field);
    if (field?.tagName === "SELECT") said = [...field.options].find((o) => o.value === value)?.text || value;
    const what = check || legend || (field ? labelOf(field) : name);
    const last = lines.at(-1);
    if (check && last?.[0] === check) last[1] += `, ${said}`;
    else lines.push([what, said]);
  }
  return lines;
};

// plainly says it where the page with the form is not at hand.
const plainly = (entries) => entries.filter(([name, value]) => !own(name) && value !== "").map(([name, value]) => [name.replace(".", ", "), value instanceof File ? `photo, ${size(value)}` : value]);

const pageOf = (record) => {
  const station = phone.valueOf(record, "station");
  if (record.kind === "station") return `${record.path.replace(/\/results$/, "")}?station=${station}`;
  if (record.kind === "finding" || record.kind === "complete") return `${record.path.replace(/\/(findings\/.*|complete)$/, "")}/review`;
  return record.path.replace(/\/(notes|photos)$/, "");
};

// annotate keeps the words of a record with it, as the page that they come from may be gone when somebody looks.
const annotate = async (record) => {
  if (record.lines) return record;
  const copy = await phone.kept(pageOf(record));
  const page = copy && new DOMParser().parseFromString(await copy.text(), "text/html");
  const form = page && queueable(page, pageOf(record)).find((f) => pathOf(f, pageOf(record)) === record.path);
  if (!form) return { ...record, lines: plainly(record.entries), title: "" };
  fill(form, record.entries);
  const lines = describe(form, record.entries);
  const title = page.title.replace(/ · Tiedown$/, "");
  return phone.change(record.id, (r) => Object.assign(r, { lines, title }));
};
self.forms = { annotate, pageOf };

// showHeld shows at a station what was said at it on this phone and is not on record yet: whatever is said now replaces it.
const showHeld = async () => {
  const form = document.querySelector("form.walk");
  if (!form) return;
  const station = form.elements.station.value;
  for (const record of await phone.all()) {
    if (record.kind !== "station" || record.path !== pathOf(form) || phone.valueOf(record, "station") !== station || record.state !== "waiting") continue;
    const lines = (await annotate(record)).lines;
    for (const [name, id] of record.entries.filter(([n]) => n.endsWith(".id"))) {
      const check = name.slice(0, -".id".length);
      const saysSomething = record.entries.some(([n, value]) => n.startsWith(`${check}.`) && !own(n) && value !== "");
      const field = form.querySelector(`input[name="${CSS.escape(name)}"]`);
      if (!saysSomething || !field) continue;
      const at = field.closest(".check");
      const words = at.querySelector(".check-words").firstChild.textContent.trim();
      const held = document.createElement("p");
      held.className = "held";
      held.textContent = `Kept on this phone: ${(lines.find(([what]) => what === words) || ["", "said"])[1]}`;
      at.querySelector(".check-words").after(held);
      let replaces = form.querySelector(`input[name="${CSS.escape(check)}.replaces"]`);
      if (!replaces) {
        replaces = document.createElement("input");
        Object.assign(replaces, { type: "hidden", name: `${check}.replaces`, value: "" });
        field.after(replaces);
      }
      replaces.value = `${replaces.value} ${id}`;
    }
  }
};

// showBegun leads on to the walkaround that was begun on this phone: a second one with its identifier would be the same. A kept
// page begins one only if its stations are at hand.
const showBegun = async () => {
  const form = document.querySelector("form.begin");
  if (!form) return;
  const instead = (text, href) => {
    const held = document.createElement("p");
    held.className = "held";
    held.textContent = text;
    const go = document.createElement("a");
    Object.assign(go, { className: "button", href, textContent: "Go on" });
    form.replaceWith(held, ...(href ? [go] : []));
  };
  const stationOf = async (id) => id && (await phone.atHand()).find(({ href }) => href.includes(`/walkarounds/${id}?station=`))?.href;
  const begun = (await phone.all()).find((r) => r.kind === "start" && r.state === "waiting" && r.path === pathOf(form));
  if (begun) {
    instead("A walkaround is begun on this phone. It will be sent when there is network.", await stationOf(phone.valueOf(begun, "walkaround")) || "/outbox");
    return;
  }
  if (!document.documentElement.dataset.kept) return;
  const id = await phone.recall(`ahead ${form.dataset.aircraft}`);
  if (await stationOf(id)) form.elements.walkaround.value = id;
  else instead("To begin a walkaround takes network now: its stations are not on this phone.");
};

// reopen fills in again what was refused. It counts as done with once it is sent.
const reopen = async () => {
  const [, id] = location.hash.match(/^#again-(\d+)$/) || [];
  const record = id && (await phone.all()).find((r) => r.id === +id && r.person === document.body.dataset.person);
  const form = record && queueable(document).find((f) => pathOf(f) === record.path);
  if (!form) return;
  fill(form, record.entries);
  form.scrollIntoView();
  form.addEventListener("submit", () => { phone.change(record.id, (r) => Object.assign(r, { state: "discarded", left: Date.now(), why: "sent again" })); });
};

if ("locks" in navigator) {
  if (document.documentElement.dataset.kept) renameForms(document);
  showHeld().then(showBegun).then(reopen).catch(() => {});
}

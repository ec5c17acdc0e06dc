// Running Order: the outbox on the page. A form with data-keep is kept on the phone first, then sent; what waits is shown.
// Without script, or where this phone cannot keep anything, the form is sent as any other.

const { Outbox } = self;
const KEPT = "/phone/kept/";
const body = document.body;
const here = location.pathname;
let person = body.dataset.person ?? "";
const SAVED = "Saved on this phone. Will send when there is signal.";
const BEHIND = "Saved on this phone. It waits behind the one that was not taken.";
const many = (count, one, more) => (count === 1 ? one : more.replace("#", count));
const say = (sentence) => document.dispatchEvent(new CustomEvent("say", { detail: { value: sentence } }));

function made(tag, css, words) {
  const part = document.createElement(tag);
  if (css) part.className = css;
  if (words) part.textContent = words;
  return part;
}

function ago(since) {
  const minutes = Math.max(0, Math.round((Date.now() - since) / 60000)); // coarse, so that it is not read aloud each minute
  if (minutes < 10) return "a moment";
  if (minutes < 55) return `${Math.round(minutes / 10) * 10} minutes`;
  if (minutes < 48 * 60) return many(Math.round(minutes / 60), "1 hour", "# hours");
  return `${Math.round(minutes / 1440)} days`;
}

// ---- a form is kept ----

const busy = new WeakSet(); // being kept, or just kept: a second press is not a second entry
const direct = new WeakSet(); // could not be kept here: the next press sends it as any other form

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !form.hasAttribute("data-keep") || direct.has(form)) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  if (busy.has(form)) { say("Kept already."); return; }
  if (!form.checkValidity()) { form.reportValidity(); return; }
  busy.add(form);
  const wait = form.querySelector("input[name=done]") ? 0 : 1200; // a tick may be taken back at once
  keepForm(form, event.submitter).finally(() => setTimeout(() => busy.delete(form), wait));
}, true);

async function keepForm(form, submitter) {
  const rows = await Outbox.all().catch(() => []);
  if (await waitsForCautions(form, rows)) { busy.delete(form); return; }
  const entry = entryOf(form, submitter);
  const place = form.dataset.place ? Number(form.dataset.place) : undefined;
  try {
    await Outbox.keep(entry, place);
  } catch (trouble) {
    busy.delete(form);
    notKept(form, trouble);
    return;
  }
  askToStay();
  form.dispatchEvent(new CustomEvent("kept", { bubbles: true })); // a page may show what it makes of it at once
  document.dispatchEvent(new CustomEvent("taken", { detail: { value: form.elements.key?.value } })); // its draft is not needed any more
  clean(form);
  await show();
  say(SAVED);
  const ready = await navigator.serviceWorker?.getRegistration?.().catch(() => null);
  ready?.sync?.register("outbox").catch(() => {});
  send();
}

function entryOf(form, submitter) {
  const fields = [];
  const files = [];
  const secrets = [];
  const secret = new Set([...form.querySelectorAll("input[type=password]")].map((field) => field.name));
  for (const [name, value] of new FormData(form, submitter)) {
    if (["csrfmiddlewaretoken", "key", "version"].includes(name)) continue;
    if (value instanceof File) { if (value.size) files.push([name, value, value.name]); }
    else if (secret.has(name)) secrets.push([name, value]);
    else fields.push([name, value]);
  }
  const slip = form.dataset.keep === "slip";
  const url = new URL(form.getAttribute("action") || here, location.href).pathname;
  return {
    owner: slip ? "slip" : person, name: slip ? "" : body.dataset.name ?? "", url,
    lane: form.dataset.keep ? `${url}#${Outbox.newKey()}` : url, // on a card the order counts, elsewhere it does not
    page: here, form: form.id, follow: form.hasAttribute("data-follow"), act: form.elements.act?.value ?? "", target: form.elements.target?.value ?? "",
    version: form.elements.version?.value ?? "", fields, files, secrets,
    where: document.title.split(" · ")[0], what: whatOf(form, submitter), typed: typedOf(form),
  };
}

function whatOf(form, submitter) {
  if (form.dataset.says) return form.dataset.says;
  const step = form.querySelector(".stx");
  if (step) return `Step ${form.querySelector(".sn")?.textContent ?? ""}: ${step.firstChild.textContent.trim()}`;
  const head = form.closest(".read")?.querySelector(".rname") ?? form.closest("section")?.querySelector("h2") ?? document.querySelector("h1");
  const press = submitter ?? form.querySelector("button:not([type=button])");
  const words = [head?.firstChild?.textContent, pressWords(press) || form.querySelector("[type=file]")?.getAttribute("aria-label")];
  return [...new Set(words.map((one) => one?.trim()).filter(Boolean))].join(": ");
}

/** What stands on the button, without the small print below it. */
function pressWords(press) {
  const copy = press?.cloneNode(true);
  for (const small of copy?.querySelectorAll("small") ?? []) small.remove();
  return copy?.textContent.replace(/\s+/g, " ") ?? "";
}

/** [what it is called, what was typed] of each field, to be read on this phone while it waits. */
function typedOf(form) {
  const found = [];
  for (const field of form.elements) {
    if (!field.name || ["hidden", "password", "file", "submit", "button"].includes(field.type)) continue;
    if (["radio", "checkbox"].includes(field.type) && !field.checked) continue;
    const words = field.type === "radio" || field.type === "checkbox" ? field.closest("label")?.textContent.trim()
      : field.tagName === "SELECT" ? field.selectedOptions[0]?.textContent : field.value.trim();
    if (!words || field.closest(".step")) continue;
    const name = ["radio", "checkbox"].includes(field.type) ? field.closest("fieldset")?.querySelector("legend")?.textContent : field.labels?.[0]?.textContent;
    found.push([(name ?? "").replace("(may stay empty)", "").replace(/^\s*\d+\s+/, "").trim(), words]);
  }
  return found;
}

/** Nothing is ticked or taken off before the cautions are read: said at once, where there is no server to say it. */
async function waitsForCautions(form, rows) {
  if (form.dataset.after !== "cautions" || rows.some((row) => row.act === "cautions" && row.page === here && row.owner === person)) return false;
  const box = form.querySelector("input[type=checkbox]");
  if (box) box.checked = box.defaultChecked;
  refuse(form, "Read the cautions first, and say so at the top of this job.");
  return true;
}

function notKept(form, trouble) {
  direct.add(form);
  const full = trouble?.name === "QuotaExceededError" || trouble?.inner?.name === "QuotaExceededError";
  const why = full ? "This phone is full, so it could not be kept." : "This phone could not keep it.";
  refuse(form, `${why} What you typed is still here. Make room on the phone, or press again where there is signal: then it is sent straight away.`);
}

function refuse(form, words) {
  form.querySelector(":scope > .refused")?.remove();
  const box = made("div", "refused");
  box.setAttribute("role", "alert");
  box.tabIndex = -1;
  box.append(made("h3", "", "Not taken yet"), made("p", "", words));
  form.prepend(box);
  const fold = form.closest("details");
  if (fold) fold.open = true;
  box.focus();
}

function clean(form) {
  form.querySelector(":scope > .refused")?.remove();
  for (const mark of form.querySelectorAll(".errorlist.onphone")) mark.remove();
  delete form.dataset.place;
  const tick = form.querySelector(".step input[type=checkbox], .step > label > input") ?? form.querySelector("label > input[name=done]");
  if (tick) { tick.defaultChecked = tick.checked; return; }
  form.reset();
  for (const words of form.querySelectorAll("[data-photo-words]")) words.textContent = "Photograph";
  const fold = form.closest("details.more");
  if (fold) fold.open = false;
}

async function askToStay() {
  if (await navigator.storage?.persisted?.().catch(() => false)) return;
  navigator.storage?.persist?.().catch(() => {});
}

// ---- what is kept is shown ----

async function show() {
  const rows = await Outbox.all().catch(() => []);
  strip(rows);
  onCard(rows.filter((row) => (row.page === here || row.url === here) && (row.owner === person || row.owner === "slip")));
  await keptPage(rows);
}

let lastSaid = "";
let sending = false;

async function strip(rows) {
  const box = document.querySelector("[data-sending]");
  if (!box) return;
  const waiting = rows.filter((row) => row.state === "waiting");
  const back = rows.filter((row) => row.state === "refused" && (row.owner === person || row.owner === "slip"));
  const others = waiting.filter((row) => row.owner !== person && row.owner !== "slip");
  const end = await Outbox.note("end").catch(() => "");
  const asOf = body.dataset.keptAt;
  let state = "sent";
  let head = "";
  let detail = "";
  if (back.length) [state, head] = ["refused", many(back.length, "1 entry not taken", "# entries not taken")];
  else if (waiting.length) [state, head] = [sending ? "sending" : "kept", many(waiting.length, "1 waiting to send", "# waiting to send")];
  else if (asOf) [state, head] = ["kept", "No answer from the server: this is the phone's own copy"];
  else if (lastSaid) [head, detail] = ["All sent", lastSaid];
  if (back.length) detail = `${waiting.length ? `${many(waiting.length, "1 more waits", "# more wait")}. ` : ""}What you wrote is here.`;
  else if (waiting.length) detail = sending ? "Sending." : waitWords(waiting, others, end);
  else if (asOf) detail = `As it was ${ago(Number(asOf))} ago. What you do is kept and sent later.`;
  box.hidden = !head;
  box.dataset.state = state;
  box.querySelector("[data-sending-mark]").setAttribute("href", `#send-${{ kept: "pocket", sending: "arrow", sent: "tick", refused: "cross" }[state]}`);
  const put = (part, words) => { if (part.textContent !== words) part.textContent = words; };
  put(box.querySelector("[data-sending-head]"), head);
  put(box.querySelector("[data-sending-detail]"), detail);
  let acts = box.querySelector(".kacts");
  if (!acts) {
    acts = made("span", "kacts");
    const now = made("button", "btn", "Send now");
    now.type = "button";
    now.addEventListener("click", () => send(true));
    const look = made("a", "", "Look");
    look.href = KEPT;
    acts.append(now, look);
    box.append(acts);
  }
  const out = end === "signed out" && waiting.length > 0 && here !== "/sign-in/";
  acts.lastChild.href = out ? `/sign-in/?next=${encodeURIComponent(here)}` : KEPT;
  acts.lastChild.textContent = out ? "Sign in again" : "Look";
  acts.hidden = !(waiting.length || back.length) || here === KEPT;
  acts.firstChild.hidden = !waiting.length;
}

function waitWords(waiting, others, end) {
  const oldest = `The oldest was kept ${ago(Math.min(...waiting.map((row) => row.made)))} ago.`;
  if (others.length === waiting.length || (end === "signed out" && others.length)) {
    const names = [...new Set(others.map((row) => row.name))].join(", ");
    return `${oldest} Of ${names}: sent when they sign in again.`;
  }
  if (end === "signed out") return `${oldest} Your sign-in has ended: sign in again. Nothing is lost.`;
  return `${oldest} ${SAVED}`;
}

/** On the card itself: each kept entry under its own form, so that nobody does it twice. */
function onCard(rows) {
  for (const line of document.querySelectorAll(".onphone")) line.remove();
  for (const box of document.querySelectorAll("[data-keep] [data-was]")) { box.checked = box.dataset.was === "1"; delete box.dataset.was; }
  for (const form of document.querySelectorAll("[data-hushed]")) { form.hidden = false; form.removeAttribute("data-hushed"); }
  for (const row of rows) {
    if (row.state === "aside") continue;
    const form = formOf(row);
    const line = made("div", `onphone ${row.state === "refused" ? "refused" : "told"}`);
    if (row.state === "refused") {
      line.append(made("h3", "", "Not taken"), made("p", "", row.why));
    } else line.append(made("p", "", rows.some((one) => one.state === "refused" && one.lane === row.lane && one.seq < row.seq) ? BEHIND : SAVED));
    line.append(made("p", "hint", wordsOf(row)));
    if (row.state === "refused") line.append(actsOf(row, form));
    if (row.act === "off" && row.state === "waiting") line.append(...backOn(row, rows));
    const spot = form?.closest("details.more") ?? form;
    if (!spot) { document.getElementById("main")?.prepend(line); continue; }
    spot.after(line);
    const tick = form.querySelector("input[name=done]");
    if (tick && row.state === "waiting") {
      tick.dataset.was ??= tick.defaultChecked ? "1" : "0";
      tick.checked = row.fields.some(([name]) => name === "done");
    }
    const bareForm = ![...form.elements].some((field) => field.name && field.type !== "hidden" && field.type !== "submit");
    if (bareForm && row.state === "waiting") { form.hidden = true; form.setAttribute("data-hushed", ""); }
  }
}

/** The form on this page that an entry came from, or its like. */
const formOf = (row) => document.getElementById((row.page === here && row.form) || (row.target ? `f-${row.act}-${row.target}` : `f-${row.act}`));

const wordsOf = (row) =>
  [row.what, ...row.typed.map(([name, value]) => (name ? `${name}: ${value}` : value)), row.files?.length ? many(row.files.length, "1 photograph", "# photographs") : ""].filter(Boolean).join(". ");

/** What came off without signal can go back on without signal: known by the key of its own entry. */
function backOn(row, rows) {
  if (rows.some((one) => one.act === "back" && one.target === `key:${row.key}`)) return [];
  const button = made("button", "btn wide", "Back on");
  button.type = "button";
  button.addEventListener("click", async () => {
    button.setAttribute("aria-disabled", "true");
    const item = row.typed[0]?.[1] ?? "";
    const { seq, key, made: when, contact, ...rest } = row;
    const target = `key:${key}`;
    await Outbox.keep({ ...rest, act: "back", target, form: "", fields: [["act", "back"], ["target", target]], files: [], secrets: [], what: `Back on: ${item}`, typed: [] });
    await show();
    send();
  });
  return [button];
}

function actsOf(row, form) {
  const acts = made("div", "acts");
  const press = (words, work, css = "btn") => {
    const button = made("button", css, words);
    button.type = "button";
    button.addEventListener("click", () => work(button));
    acts.append(button);
  };
  if (form) press("Change it", () => fill(form, row));
  else if (here !== row.page) {
    const link = made("a", "btn", "Change it on its page");
    link.href = `${row.page}#again-${row.seq}`;
    acts.append(link);
  }
  if (row.act !== "sign") press("Send it again", async () => { await Outbox.sendAgain(row.seq); await show(); });
  press("Set aside", async (button) => {
    if (!button.dataset.sure) { button.dataset.sure = "1"; button.textContent = "Set aside: press again"; say("Press again to set it aside."); return; }
    delete button.dataset.sure;
    await Outbox.setAside(row.seq);
    await show();
    send();
  });
  return acts;
}

/** What came back stands in its form again, with the reason; handed in anew it takes the place of the old one. */
function fill(form, row) {
  form.reset();
  for (const [name, value] of row.fields) {
    const field = form.elements[name];
    if (!field || ["act", "target"].includes(name)) continue;
    if (field instanceof RadioNodeList || ["radio", "checkbox"].includes(field.type)) {
      for (const one of field instanceof RadioNodeList ? field : [field]) if (one.value === value) one.checked = true;
    } else field.value = value;
  }
  for (const [name, data, called] of row.files ?? []) {
    const field = form.elements[name];
    if (!field) continue;
    const bag = new DataTransfer();
    bag.items.add(new File([data], called, { type: data.type }));
    field.files = bag.files;
  }
  form.dataset.place = row.seq;
  refuse(form, row.why);
  for (const [name, words] of Object.entries(row.marks ?? {})) {
    const field = form.elements[name];
    const at = field instanceof RadioNodeList ? field[0]?.closest("fieldset") : field;
    if (!at) continue;
    const list = made("ul", "errorlist onphone");
    list.append(made("li", "", words));
    at.after(list);
  }
}

// ---- the page of all that this phone keeps ----

const GROUPS = [
  ["refused", "Not taken", "Read why, change it and send it again, or set it aside."],
  ["waiting", "Waiting to send", ""],
  ["aside", "Set aside", "Kept here for 30 days, then gone."],
];

async function keptPage(rows) {
  const list = document.querySelector("[data-kept-page]");
  if (!list || list.contains(document.activeElement) && document.activeElement.dataset.sure) return;
  document.querySelector("[data-not-here]").hidden = here === KEPT;
  const own = rows.filter((row) => row.owner === person || row.owner === "slip");
  const parts = [];
  if (!own.length) parts.push(made("p", "told", "Nothing of yours waits on this phone. All of it has been sent."));
  for (const [state, head, hint] of GROUPS) {
    const group = own.filter((row) => row.state === state);
    if (!group.length) continue;
    const title = made("h2", "jh", `${head} `);
    title.append(made("span", "", String(group.length)));
    parts.push(title);
    if (hint) parts.push(made("p", "hint", hint));
    if (state === "waiting") {
      const now = made("button", "btn wide go", "Send now");
      now.type = "button";
      now.addEventListener("click", () => send(true));
      parts.push(now);
    }
    const lines = made("ul", "klist");
    for (const row of group) lines.append(keptLine(row, own));
    parts.push(lines);
  }
  for (const [name, count] of countBy(rows.filter((row) => !own.includes(row) && row.state !== "aside"))) {
    parts.push(made("p", "told", `${many(count, "1 entry", "# entries")} of ${name} ${count === 1 ? "waits" : "wait"} here. Sent when ${name} signs in on this phone.`));
  }
  list.replaceChildren(...parts);
  storeWords();
}

function keptLine(row, own) {
  const line = made("li");
  const head = made("p");
  head.append(made("b", "", row.where));
  line.append(head, made("p", "", wordsOf(row)), made("small", "", `Kept ${ago(row.made)} ago`));
  const ahead = own.find((one) => one.state === "refused" && one.lane === row.lane && one.seq < row.seq);
  if (row.state === "waiting" && ahead) line.append(made("p", "hint", `Waits behind one on the same job that was not taken: ${ahead.what}.`));
  if (row.format > Outbox.FORMAT) line.append(made("p", "hint", "Written by a newer version of the program. Open this page with signal once, then it is sent."));
  if (row.state === "waiting" && row.why) line.append(made("p", "hint", row.why));
  if (row.state === "refused") { const why = made("div", "refused"); why.append(made("p", "", row.why)); line.append(why, actsOf(row, null)); }
  if (row.state === "aside") {
    const button = made("button", "btn", "Take it back");
    button.type = "button";
    button.addEventListener("click", async () => { await Outbox.sendAgain(row.seq); await show(); });
    line.append(button);
  }
  return line;
}

function countBy(rows) {
  const counts = new Map();
  for (const row of rows) counts.set(row.name || "somebody else", (counts.get(row.name || "somebody else") ?? 0) + 1);
  return counts;
}

async function storeWords() {
  const line = document.querySelector("[data-store]");
  const firm = await navigator.storage?.persisted?.().catch(() => false);
  const { quota = 0, usage = 0 } = (await navigator.storage?.estimate?.().catch(() => ({}))) ?? {};
  const words = quota ? `Room for about ${Math.max(0, Math.round((quota - usage) / 1048576)).toLocaleString("en-GB")} MB more. ` : "";
  line.textContent = `${words}${firm ? "" : "This phone may clear what it keeps when it is short of room, or after some days without use: open this page where there is signal."}`;
}

// ---- sending, and what the page shows afterwards ----

let backOff = 5000;
let timer = 0;

async function send(pressed = false) {
  if (pressed) backOff = 5000;
  clearTimeout(timer);
  const end = await Outbox.drain();
  sending = false;
  await show();
  const rows = await Outbox.all().catch(() => []);
  if (pressed && end === "offline" && rows.length) say("No signal yet. It stays on this phone.");
  if (end === "done" || !rows.some((row) => row.state === "waiting")) { backOff = 5000; return; }
  backOff = Math.min(backOff * 2, 300000);
  timer = setTimeout(send, backOff);
}

const results = [];
let fresh = false;

Outbox.watch((news) => {
  if (news.kind === "sending") sending = true;
  if (news.kind === "refused" && news.row.page === here) say(`Not taken. ${news.row.why}`);
  if (news.kind === "taken" && (news.row.page === here || news.row.url === here)) results.push(news);
  if (news.kind === "end") { sending = false; settle(); }
  if (["kept", "changed", "refused", "taken", "sending"].includes(news.kind)) show();
});

/** After a whole round of sending: what the server said, and the page as it is now. */
async function settle() {
  const taken = results.splice(0);
  const last = taken.at(-1);
  if (!last) { bringBack(); return; }
  lastSaid = taken.length > 1 ? `${taken.length} taken. ${last.told.words}` : last.told.words;
  if (last.told.next && last.row.follow && !writesElsewhere(last.row.form)) {
    follow(last.told.next, taken.flatMap((one) => one.told.others ?? []));
    return;
  }
  const others = taken.flatMap((one) => one.told.others ?? []);
  if (others.length) lastSaid += ` Another was at this job meanwhile: ${others.join(" ")}`;
  say(lastSaid);
  if (!fresh) {
    fresh = true;
    try { await renew(); } finally { fresh = false; }
  }
  await show();
  bringBack();
  navigator.serviceWorker?.controller?.postMessage({ keep: true });
}

/** To the page that shows it, where the strip says once more what was said. */
function follow(address, others) {
  const words = [lastSaid, ...others].join(" ");
  try { sessionStorage.setItem("said", words); } catch { say(words); }
  location.assign(address);
}

function saidBefore() {
  try {
    lastSaid = sessionStorage.getItem("said") ?? "";
    sessionStorage.removeItem("said");
  } catch { /* no storage: it was said aloud */ }
}

/** Whether somebody is in the middle of another form: then the page stays as it is. */
function writesElsewhere(id) {
  const form = document.activeElement?.closest?.("form[data-keep]");
  return Boolean(form && form.id !== id);
}

/** One that was refused while its writer looks on stands in its form at once. */
async function bringBack() {
  const rows = await Outbox.all().catch(() => []);
  for (const row of rows) {
    if (row.state !== "refused" || row.page !== here || row.owner !== person || Date.now() - row.made > 60000) continue;
    const form = document.getElementById(row.form);
    if (!form || form.dataset.place || form.dataset.tried === String(row.seq + row.key)) continue;
    form.dataset.tried = String(row.seq + row.key);
    fill(form, row);
    return;
  }
}

/** The parts of the page that changed, swapped; words half typed stay (phone.js has them in its drafts). */
async function renew() {
  if (!body.hasAttribute("data-renew")) return;
  const answer = await fetch(here, { headers: { Accept: "text/html" }, cache: "no-store" }).catch(() => null);
  if (!answer?.ok || answer.redirected) return;
  const next = new DOMParser().parseFromString(await answer.text(), "text/html");
  const parts = (doc) => [...doc.querySelectorAll("#main > section[id], #job-foot, #main > ul, #main > h2")];
  document.body.dispatchEvent(new CustomEvent("htmx:beforeSwap", { bubbles: true }));
  const [was, now] = [parts(document), parts(next)];
  const alike = was.every((part) => part.id) && was.map((part) => part.id).join() === now.map((part) => part.id).join();
  if (alike) was.forEach((part, place) => { if (part.outerHTML !== now[place].outerHTML) swap(part, now[place]); });
  else swap(document.getElementById("main"), next.getElementById("main"));
  for (const field of document.querySelectorAll('input[name="version"]')) field.value = next.querySelector('input[name="version"]')?.value ?? field.value;
  delete body.dataset.keptAt;
  document.body.dispatchEvent(new CustomEvent("htmx:afterSettle", { bubbles: true }));
}

function swap(old, part) {
  const copy = document.importNode(part, true);
  old.replaceWith(copy);
  self.htmx?.process(copy);
}

// ---- when to send: on load, when the signal or the eyes come back, by the clock, by hand ----

window.addEventListener("online", () => send(true));
document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") send(); });
window.addEventListener("pageshow", (event) => { if (event.persisted) send(); });
setInterval(show, 300000);

// ---- the worker keeps the shell and this person's pages ----

async function worker() {
  if (!navigator.serviceWorker || !(person || body.dataset.keepShell !== undefined)) return;
  await navigator.serviceWorker.register("/sw.js", { scope: "/", updateViaCache: "none" });
  const ready = await navigator.serviceWorker.ready;
  if (person && person !== "slip") ready.active?.postMessage({ keep: true });
}

// ---- a shared phone: whoever signs out leaves no card behind; what is unsent stays, under their name ----

document.addEventListener("submit", async (event) => {
  const form = event.target;
  if (new URL(form.getAttribute?.("action") || here, location.href).pathname !== "/sign-out/" || !self.caches || form.dataset.wiped) return;
  event.preventDefault();
  form.dataset.wiped = "1";
  try {
    await Outbox.setNote("person", "");
    for (const name of await caches.keys()) if (name.startsWith("pages-")) await caches.delete(name);
  } finally { form.submit(); }
});

/** Another day than that on which this copy was made, both by the phone's clock: the cautions are read anew. */
function anewToday() {
  const since = Number(body.dataset.keptAt ?? 0);
  if (!since || new Date(since).toDateString() === new Date().toDateString()) return;
  for (const part of document.querySelectorAll("[data-next-day]")) part.hidden = false;
  for (const part of document.querySelectorAll("[data-this-day]")) part.hidden = true;
  for (const form of document.querySelectorAll("form[data-keep]")) if (["step", "off"].includes(form.elements.act?.value)) form.dataset.after = "cautions";
}

async function begin() {
  if (!person && here !== "/sign-in/") person = body.hasAttribute("data-anybody") ? (await Outbox.note("person")) || "" : "";
  anewToday();
  saidBefore();
  await show();
  const again = /^#again-(\d+)$/.exec(location.hash);
  if (again) {
    const row = (await Outbox.all()).find((one) => one.seq === Number(again[1]) && one.owner === person);
    const form = row && document.getElementById(row.form);
    if (form) fill(form, row);
  }
  Outbox.sweep().catch(() => {});
  send();
  worker().catch(() => {});
}

begin().catch(() => {});

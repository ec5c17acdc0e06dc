// Running Order: keeps the shell and a person's own pages on the phone. VERSION, SHELL, KEPT and the outbox come above this.
"use strict";

const SHELL_NAME = `shell-${VERSION}`;
const PAGES = "pages-";
const MARKS = "/phone/marks/";
const WAIT = 3000; // a thin signal: after this the phone's own copy is shown

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const shell = await caches.open(SHELL_NAME);
    // Without the cookie: the page of what is kept is everybody's, and must carry nobody's name.
    await shell.addAll(SHELL.map((url) => new Request(url, { cache: "no-cache", credentials: "omit" })));
    await self.skipWaiting();
  })());
});

// The queue is in no cache and an older shell stays until the pages that were made for it are fetched anew.
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
self.addEventListener("sync", (event) => {
  if (event.tag === "outbox") event.waitUntil(Outbox.drain().then((end) => { if (end === "offline" && !event.lastChance) throw new Error("no signal yet"); }));
});
self.addEventListener("message", (event) => {
  if (event.data?.keep) event.waitUntil(once(keepPages));
  if (event.data?.forget) event.waitUntil(forgetPages());
});

let keeping = null;
function once(work) {
  keeping ??= work().catch(() => {}).finally(() => { keeping = null; });
  return keeping;
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== self.location.origin) return;
  if (request.method === "POST" && (url.pathname === "/sign-out/" || url.pathname.startsWith("/sign-in/"))) event.waitUntil(forgetPages());
  if (request.method !== "GET") return;
  if (SHELL.includes(url.pathname) && url.pathname !== KEPT) event.respondWith(fromShell(request));
  else if (url.pathname.startsWith("/static/")) event.respondWith(fetch(request).catch(() => anyCopy(request)));
  else if (url.pathname.startsWith("/photos/")) event.respondWith(kept(url).then((copy) => copy ?? fetch(request)));
  else if (request.mode === "navigate") event.respondWith(page(event, url));
});

async function fromShell(request) {
  const shell = await caches.open(SHELL_NAME);
  return (await shell.match(request, { ignoreVary: true, ignoreSearch: true })) ?? (await caches.match(request, { ignoreVary: true })) ?? fetch(request);
}

const anyCopy = async (request) => (await caches.match(request, { ignoreVary: true })) ?? Response.error();

async function mine() {
  const person = await Outbox.note("person").catch(() => null);
  return person ? caches.open(PAGES + person) : null;
}

async function kept(url) {
  const pages = await mine();
  return pages ? pages.match(url.pathname, { ignoreVary: true, ignoreSearch: true }) : undefined;
}

/** From the server where it answers in time; else this phone's copy; else the page of what the phone keeps. */
async function page(event, url) {
  const asked = fetch(event.request);
  const slow = new Promise((done) => { setTimeout(done, WAIT, null); });
  const copy = await kept(url);
  const first = await Promise.race([asked.catch(() => null), ...(copy ? [slow] : [])]);
  if (first && (first.status < 502 || first.status > 504)) {
    if (copy && first.ok && !first.redirected) event.waitUntil(first.clone().text().then((text) => putPage(url.pathname, text, first)).catch(() => {}));
    return first;
  }
  asked.catch(() => {});
  if (copy) return copy;
  const shell = await caches.open(SHELL_NAME);
  return first ?? (await shell.match(KEPT, { ignoreVary: true })) ?? Response.error();
}

/** A page is kept for the person whose name it carries, and says that it comes from this phone. */
async function putPage(path, text, answer) {
  const person = await Outbox.note("person");
  if (!person || !text.includes(` data-person="${person}"`)) return false;
  const headers = new Headers();
  for (const name of ["Content-Type", "Content-Security-Policy", "X-Content-Type-Options", "Referrer-Policy", "X-Frame-Options"]) {
    if (answer.headers.has(name)) headers.set(name, answer.headers.get(name));
  }
  const pages = await caches.open(PAGES + person);
  await pages.put(path, new Response(text.replace("<body ", `<body data-kept-at="${Date.now()}" `), { headers }));
  return true;
}

async function forgetPages(but = "") {
  if (!but) await Outbox.setNote("person", "");
  for (const name of await caches.keys()) if (name.startsWith(PAGES) && name !== but) await caches.delete(name);
}

/** A worker that is being replaced must not clear away the shell of the one that comes after it. */
function isLatest() {
  const { installing, waiting } = self.registration;
  return !installing && !waiting && (self.serviceWorker?.state ?? "activated") === "activated";
}

/** Fetch what is new for this person, drop what is theirs no more. A page with something unsent on it stays. */
async function keepPages() {
  const answer = await fetch("/phone/keep/", { cache: "no-store", headers: { Accept: "application/json" }, redirect: "error" });
  if (!answer.ok) return;
  const list = await answer.json();
  const person = String(list.person);
  await Outbox.setNote("person", person);
  await Outbox.setNote("contact", list.now);
  await forgetPages(PAGES + person);
  const store = await caches.open(PAGES + person);
  const before = await store.match(MARKS).then((found) => found?.json() ?? {});
  const marks = {};
  let whole = true;
  for (const [path, mark] of Object.entries(list.pages)) {
    if (before[path] === mark && (await store.match(path, { ignoreVary: true }))) { marks[path] = mark; continue; }
    try {
      const found = await fetch(path, { cache: "no-store", headers: { Accept: "text/html" } });
      if (found.ok && !found.redirected && (await putPage(path, await found.text(), found))) marks[path] = mark;
      else if (before[path]) marks[path] = "";
    } catch { whole = false; if (before[path]) marks[path] = before[path]; }
  }
  for (const path of list.pictures) {
    if (marks[path] = before[path] === "picture" ? "picture" : "") continue;
    try {
      const found = await fetch(path);
      if (found.ok) { await store.put(path, found); marks[path] = "picture"; }
    } catch { whole = false; }
  }
  const unsent = new Set((await Outbox.all()).flatMap((row) => [row.page, row.url]));
  if (whole) {
    for (const request of await store.keys()) {
      const path = new URL(request.url).pathname;
      if (path !== MARKS && !(path in marks) && !unsent.has(path)) await store.delete(request);
    }
    if (isLatest()) for (const name of await caches.keys()) if (name.startsWith("shell-") && name !== SHELL_NAME) await caches.delete(name);
  }
  await store.put(MARKS, new Response(JSON.stringify(marks)));
  for (const client of await self.clients.matchAll()) client.postMessage({ pagesKept: Object.keys(list.pages).length, whole });
}

// Running Order: what was done at the vehicle, kept on this phone until the server has it. Runs in pages and in the worker.
// Written to disk before anything is sent; forgotten only when the server says that it has it. The key makes a thing
// that is sent twice count once.
"use strict";

self.Outbox = (() => {
  const NAME = "running-order";
  const FORMAT = 1;
  const LIFTS = []; // LIFTS[n] makes an entry of format n one of format n + 1, so that an older queue is never dropped
  const TOKEN = "/phone/token/";
  const TRIES = 5; // a server that breaks on one entry this often: the entry comes back to its writer
  const ASIDE_DAYS = 30;
  const AWAY = new Set([0, 408, 425, 502, 503, 504]);
  const channel = "BroadcastChannel" in self ? new BroadcastChannel(NAME) : null;
  const watchers = new Set();
  let opened = null;

  // ---- the store ----

  function open() {
    opened ??= opening(1).catch((trouble) => {
      if (trouble?.name === "VersionError") return opening(); // a newer program was here: its store is as good
      throw trouble;
    }).catch((trouble) => { opened = null; throw trouble; });
    return opened;
  }

  function opening(version) {
    return new Promise((done, fail) => {
      const ask = version ? indexedDB.open(NAME, version) : indexedDB.open(NAME);
      ask.onupgradeneeded = () => {
        const db = ask.result;
        if (db.objectStoreNames.contains("entries")) return;
        db.createObjectStore("entries", { keyPath: "seq", autoIncrement: true }).createIndex("key", "key", { unique: true });
        db.createObjectStore("notes");
      };
      ask.onerror = () => fail(ask.error);
      ask.onsuccess = () => {
        const db = ask.result;
        db.onversionchange = () => { db.close(); opened = null; };
        db.onclose = () => { opened = null; };
        done(db);
      };
    });
  }

  const asked = (request) => new Promise((done, fail) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => fail(request.error);
  });

  /** One transaction, on disk when this returns; nothing of it if it fails. */
  async function work(mode, act) {
    const db = await open();
    const deal = db.transaction(["entries", "notes"], mode, { durability: "strict" });
    const whole = new Promise((done, fail) => {
      deal.oncomplete = done;
      deal.onabort = () => fail(deal.error ?? new DOMException("not kept", "AbortError"));
    });
    whole.catch(() => {});
    let result;
    try {
      result = await act(deal.objectStore("entries"), deal.objectStore("notes"));
    } catch (trouble) {
      try { deal.abort(); } catch { /* it has ended by itself */ }
      throw trouble;
    }
    await whole;
    return result;
  }

  function lift(row, lifts = LIFTS, to = FORMAT) {
    let now = row;
    while (now.format < to) now = { ...lifts[now.format](now), format: now.format + 1 };
    return now;
  }

  const all = async () => (await work("readonly", (entries) => asked(entries.getAll()))).map((row) => lift(row));
  const note = (name) => work("readonly", (_, notes) => asked(notes.get(name)));
  const setNote = (name, value) => work("readwrite", (_, notes) => asked(notes.put(value, name)));

  function newKey() {
    if (crypto.randomUUID) return crypto.randomUUID();
    return [...crypto.getRandomValues(new Uint8Array(16))].map((one) => one.toString(16).padStart(2, "0")).join("");
  }

  /** Keep an entry. `place`: the number of a refused one that it stands for; what waits behind that stays behind. */
  async function keep(entry, place) {
    const contact = (await note("contact")) ?? null;
    const row = { ...entry, format: FORMAT, key: newKey(), made: Date.now(), contact, state: "waiting", why: "", tries: 0 };
    for (const pair of row.secrets ?? []) pair[1] = await seal(pair[1]);
    row.seq = await work("readwrite", async (entries, notes) => {
      const lane = await asked(notes.get(`lane:${row.lane}`));
      if (lane?.seen.includes(row.version)) row.version = lane.now;
      if (place === undefined) return asked(entries.add(row));
      return asked(entries.put({ ...row, seq: place }));
    });
    tell({ kind: "kept", row: bare(row) });
    return row;
  }

  const change = (seq, made) => work("readwrite", async (entries) => {
    const row = await asked(entries.get(seq));
    if (row) await asked(entries.put({ ...row, ...made }));
  });

  /** Out of the way, not away: it can be taken back for a month. What waited behind it goes on. */
  async function setAside(seq) { await change(seq, { state: "aside", asideAt: Date.now() }); tell({ kind: "changed" }); }
  async function sendAgain(seq) { await change(seq, { state: "waiting", why: "", tries: 0 }); tell({ kind: "changed" }); return drain(); }

  const sweep = () => work("readwrite", async (entries) => {
    const old = Date.now() - ASIDE_DAYS * 86400000;
    for (const row of await asked(entries.getAll())) if (row.state === "aside" && row.asideAt < old) await asked(entries.delete(row.seq));
  });

  // ---- a password or PIN rests only under a key that this browser does not hand out, and is gone after one try ----

  async function sealer() {
    const there = await note("sealer");
    if (there) return there;
    await setNote("sealer", await crypto.subtle.generateKey({ name: "AES-GCM", length: 256 }, false, ["encrypt", "decrypt"]));
    return note("sealer");
  }

  async function seal(text) {
    if (!self.crypto?.subtle) throw new DOMException("no way to seal it here", "NotSupportedError");
    const iv = crypto.getRandomValues(new Uint8Array(12));
    return { iv, data: await crypto.subtle.encrypt({ name: "AES-GCM", iv }, await sealer(), new TextEncoder().encode(text)) };
  }

  const unseal = async (sealed) =>
    new TextDecoder().decode(await crypto.subtle.decrypt({ name: "AES-GCM", iv: sealed.iv }, await sealer(), sealed.data));

  // ---- sending ----

  const laneOf = (row) => `${row.owner} ${row.lane}`;

  /** The next that may go: in order on each card, and one that came back holds only its own card. */
  function nextOf(rows, shut) {
    const closed = new Set(shut);
    for (const row of rows) {
      const lane = laneOf(row);
      if (row.state === "aside" || closed.has(lane)) continue;
      if (row.state === "waiting" && row.format === FORMAT && !closed.has(row.owner)) return row;
      closed.add(lane);
    }
    return null;
  }

  let running = null;
  let again = false;

  /** Send what waits. One at a time over all pages and the worker. Returns how it ended: done, offline or signed out. */
  function drain() {
    if (running) { again = true; return running; }
    running = (async () => {
      let end;
      do { again = false; end = await (navigator.locks ? navigator.locks.request(NAME, pass) : pass()); } while (again);
      return end;
    })().catch(() => "offline").finally(() => { running = null; });
    return running;
  }

  async function pass() {
    const shut = new Set();
    let who = null;
    let end = "done";
    for (;;) {
      const row = nextOf(await all(), shut);
      if (!row) break;
      who ??= await whoIsHere();
      if (!who) { end = "offline"; break; }
      if (row.owner !== "slip" && String(who.person) !== row.owner) { shut.add(row.owner); end = "signed out"; continue; }
      tell({ kind: "sending", row: bare(row) });
      const answer = await send(row, who);
      const settled = await settle(row, answer);
      if (settled === "offline") { end = "offline"; break; }
      if (settled === "token") { who = null; if (shut.has("token")) { end = "offline"; break; } shut.add("token"); continue; }
      if (settled === "signed out") { shut.add(row.owner); end = "signed out"; }
      if (settled === "later") { shut.add(laneOf(row)); end = "offline"; }
    }
    await setNote("end", end);
    tell({ kind: "end", end });
    return end;
  }

  async function whoIsHere() {
    try {
      const answer = await fetch(TOKEN, { cache: "no-store", credentials: "same-origin", headers: { Accept: "application/json" }, redirect: "error" });
      if (!answer.ok) return null;
      const told = await answer.json();
      await setNote("contact", told.now);
      return told;
    } catch { return null; }
  }

  /** Seconds since it was made, for no phone's clock is believed: never below nought, nor longer ago than the last contact before it. */
  function keptFor(row, now) {
    const longest = row.contact ? Math.max(0, now - row.contact) : Infinity;
    return Math.round(Math.min(Math.max(0, Date.now() - row.made), longest) / 1000);
  }

  async function send(row, who) {
    const body = new FormData();
    for (const [name, value] of row.fields) body.append(name, value);
    body.set("key", row.key);
    if (row.version) body.set("version", row.version);
    let size = 0;
    for (const [name, data, called] of row.files) { body.append(name, data, called); size += data.size; }
    const headers = { Accept: "application/json", "X-CSRFToken": who.token, "X-Kept-For": String(keptFor(row, who.now)) };
    if (row.owner !== "slip") headers["X-Person"] = row.owner;
    const stop = new AbortController();
    const timer = setTimeout(() => stop.abort(), 45000 + size / 4);
    try {
      for (const [name, sealed] of row.secrets ?? []) body.set(name, await unseal(sealed));
      const answer = await fetch(row.url, { method: "POST", body, headers, credentials: "same-origin", redirect: "manual", signal: stop.signal });
      const plain = answer.headers.get("Content-Type")?.startsWith("application/json");
      return { status: answer.status, told: plain ? await answer.json() : null };
    } catch {
      return { status: 0, told: null };
    } finally { clearTimeout(timer); }
  }

  async function settle(row, { status, told }) {
    if (told?.taken === true) return taken(row, told);
    if (status === 401) return "signed out";
    if (told?.retry) return told.retry;
    if (AWAY.has(status)) return "offline";
    if (status === 429) { await change(row.seq, { why: told?.words ?? "" }); return "later"; }
    if (told?.taken === false && status < 500) return refused(row, told.words, told.fields);
    if (status === 413) return refused(row, "It is too large to be taken.");
    // Not our server's words: a hotspot's page, or a fault. Nothing was said about the entry, so it waits.
    if (status < 500 || row.tries + 1 < TRIES) { await change(row.seq, { tries: row.tries + 1 }); return status < 500 ? "offline" : "later"; }
    return refused(row, "The server broke on this one, several times. Tell the administrator, then send it again.");
  }

  async function taken(row, told) {
    await work("readwrite", async (entries, notes) => {
      await asked(entries.delete(row.seq));
      if (!told.clean || !row.version) return;
      // Only this phone moved the job on: what it wrote meanwhile was written with that in mind.
      const now = String(told.version);
      const lane = (await asked(notes.get(`lane:${row.lane}`))) ?? { seen: [], now: row.version };
      const seen = lane.now === row.version ? [...lane.seen, row.version].slice(-200) : [row.version];
      await asked(notes.put({ seen, now }, `lane:${row.lane}`));
      for (const later of await asked(entries.getAll())) {
        if (laneOf(later) === laneOf(row) && later.version === row.version) await asked(entries.put({ ...later, version: now }));
      }
    });
    tell({ kind: "taken", row: bare(row), told });
    return "taken";
  }

  async function refused(row, why, fields) {
    await change(row.seq, { state: "refused", why: why || "It was not taken, and no reason came with it.", marks: fields ?? null, secrets: [] });
    tell({ kind: "refused", row: { ...bare(row), why } });
    return "refused";
  }

  // ---- telling every page ----

  const bare = ({ files, secrets, ...row }) => ({ ...row, photos: files?.length ?? 0 });
  function tell(news) { for (const watcher of watchers) watcher(news); channel?.postMessage(news); }
  if (channel) channel.onmessage = (event) => { for (const watcher of watchers) watcher(event.data); };
  const watch = (watcher) => { watchers.add(watcher); };

  return { FORMAT, all, change, drain, keep, keptFor, lift, newKey, nextOf, note, open, sendAgain, setAside, setNote, sweep, watch };
})();

// Running Order: what helps on a phone at the vehicle. Every page works without it.

// ---- the verdict of a reading, by the same rules as the server's: exact, in fractions of whole numbers ----

function gcd(a, b) { while (b) [a, b] = [b, a % b]; return a < 0n ? -a : a; }
function frac(n, d = 1n) {
  if (d < 0n) { n = -n; d = -d; }
  const g = gcd(n, d) || 1n;
  return { n: n / g, d: d / g };
}
const ZERO = frac(0n);
const plus = (a, b) => frac(a.n * b.d + b.n * a.d, a.d * b.d);
const minus = (a, b) => frac(a.n * b.d - b.n * a.d, a.d * b.d);
const times = (a, b) => frac(a.n * b.n, a.d * b.d);
const over = (a, b) => frac(a.n * b.d, a.d * b.n);
const size = (a) => frac(a.n < 0n ? -a.n : a.n, a.d);
const order = (a, b) => { const x = a.n * b.d - b.n * a.d; return x < 0n ? -1 : x > 0n ? 1 : 0; };
const least = (all) => all.reduce((a, b) => (order(b, a) < 0 ? b : a));
const most = (all) => all.reduce((a, b) => (order(b, a) > 0 ? b : a));

/** A figure as it is written, or "a/b": exact. Null where it is no number. */
export function exact(text) {
  const said = String(text).trim();
  const split = /^([+-]?\d+)\/(\d+)$/.exec(said);
  if (split) return frac(BigInt(split[1]), BigInt(split[2]));
  const parts = /^([+-]?)(\d*)(?:\.(\d*))?$/.exec(said);
  if (!parts || !(parts[2] || parts[3])) return null;
  const after = parts[3] ?? "";
  const whole = BigInt((parts[2] || "0") + after);
  return frac(parts[1] === "-" ? -whole : whole, 10n ** BigInt(after.length));
}

/** Rounded to so many places, half away from nought as a person rounds, without noughts at the end. */
function rounded(value, places) {
  const scale = 10n ** BigInt(places);
  const top = size(value).n * scale;
  const d = value.d;
  let whole = top / d;
  const rest = (top % d) * 2n;
  if (rest >= d) whole += 1n;
  const digits = whole.toString().padStart(places + 1, "0");
  const body = digits.slice(0, digits.length - places);
  const tail = digits.slice(digits.length - places).replace(/0+$/, "");
  const text = tail ? `${body}.${tail}` : body;
  return value.n < 0n && whole !== 0n ? `-${text}` : text;
}

const RELATIVE = new Set(["spread", "drop", "trend"]);
const unsure = (reason) => ({ word: "not sure", by: null, unit: "", sentence: `Not sure: ${reason}`, flagged: [] });

function look(limit, values) {
  const words = values.map((value) => (value === null ? "not sure" : limit.choices[value] ?? "not sure"));
  const ranked = ["past", "not sure", "near", "within"];
  const word = words.length ? words.reduce((a, b) => (ranked.indexOf(b) < ranked.indexOf(a) ? b : a)) : "not sure";
  const flagged = words.flatMap((one, place) => (one === word && word !== "within" ? [place] : []));
  const said = { within: "As it should be", near: "Passes, but watch it", past: "Not as it should be", "not sure": "Not sure: look again" }[word];
  const seen = flagged.map((place) => values[place]).filter((value) => value !== null).join(", ");
  return { word, by: null, unit: "", sentence: seen && (word === "near" || word === "past") ? `${said}: ${seen}` : said, flagged };
}

function valueMargins(limit, known) {
  const takesLow = limit.kind === "min" || limit.kind === "range";
  const takesHigh = limit.kind !== "min";
  return known.map(([place, value]) => {
    const found = [];
    if (takesLow && limit.low != null) found.push(minus(value, exact(limit.low)));
    if (takesHigh && limit.high != null) found.push(minus(exact(limit.high), value));
    return [least(found), [place]];
  });
}

function spreadMargins(limit, known, whole) {
  if (known.length < 2) return "a spread needs two readings or more";
  const values = known.map(([, value]) => value);
  const low = least(values);
  const high = most(values);
  const at = (figure) => known.filter(([, value]) => order(value, figure) === 0).map(([place]) => place);
  const bound = limit.high != null ? exact(limit.high) : ZERO;
  const measure = limit.measure ?? "difference";
  const way = limit.way ?? "fall";
  const hundred = frac(100n);
  if (measure === "difference") {
    if (way === "both") return [[minus(bound, minus(high, low)), [...new Set([...at(low), ...at(high)])].sort((a, b) => a - b)]];
    return known.map(([place, value]) => [minus(bound, way === "fall" ? minus(high, value) : minus(value, low)), [place]]);
  }
  if (order(high, ZERO) <= 0) return "all readings are nought or below";
  if (measure === "lowest of highest") {
    const floor = limit.low != null ? exact(limit.low) : ZERO;
    return known.map(([place, value]) => [minus(times(over(value, high), hundred), floor), [place]]);
  }
  if (measure === "share of highest") return [[minus(bound, times(over(minus(high, low), high), hundred)), at(low)]];
  if (!whole) return "an average needs every reading";
  const average = over(values.reduce(plus, ZERO), frac(BigInt(values.length)));
  if (order(average, ZERO) <= 0) return "the average is nought or below";
  return known.map(([place, value]) => [minus(bound, times(over(minus(average, value), average), hundred)), [place]]);
}

function change(limit, before, now) {
  let moved = minus(now, before);
  if (limit.measure === "percent") {
    if (order(before, ZERO) <= 0) return null;
    moved = times(over(moved, before), frac(100n));
  }
  const way = limit.way ?? "fall";
  return way === "fall" ? frac(-moved.n, moved.d) : way === "rise" ? moved : size(moved);
}

function dropMargins(limit, known, previous, elapsed) {
  let scale = frac(1n);
  if (limit.per != null) {
    if (elapsed === null || order(elapsed, ZERO) <= 0) return "the time between the two readings is not known";
    scale = over(exact(limit.per), elapsed);
  }
  const bound = limit.high != null ? exact(limit.high) : ZERO;
  const found = [];
  for (const [place, value] of known) {
    const before = place < previous.length ? previous[place] : null;
    if (before === null) return "there is no reading before to compare with";
    const moved = change(limit, before, value);
    if (moved === null) return "the figure before is nought or below";
    found.push([minus(bound, times(moved, scale)), [place]]);
  }
  return found;
}

function trendMargins(limit, known, history) {
  const past = history.filter((value) => value !== null).sort(order);
  const fewest = limit.fewest ?? 3;
  if (past.length < fewest) return `own history is too short: ${past.length} of ${fewest} readings`;
  const half = Math.floor(past.length / 2);
  const usual = past.length % 2 ? past[half] : over(plus(past[half - 1], past[half]), frac(2n));
  const bound = limit.high != null ? exact(limit.high) : ZERO;
  const found = [];
  for (const [place, value] of known) {
    const moved = change(limit, usual, value);
    if (moved === null) return "the figure before is nought or below";
    found.push([minus(bound, moved), [place]]);
  }
  return found;
}

function shown(amount, unit) {
  const places = unit === "%" ? 1 : 3;
  const by = rounded(amount, places);
  const gap = unit && unit !== "%" && unit !== "°" ? " " : "";
  if (by === "0" && amount.n !== 0n) return [null, `less than ${rounded(frac(1n, 10n ** BigInt(places)), places)}${gap}${unit}`];
  return [by, `${by}${gap}${unit}`];
}

/**
 * Judge one set of readings against one limit, as a stored row. `options`: previous, elapsed (minutes), names, and for
 * readings in another unit `scale` and `shift` as exact text: value in the limit's unit = value x scale + shift.
 */
export function judge(limit, values, options = {}) {
  if (limit.kind === "look") return look(limit, values);
  const scale = options.scale ? exact(options.scale) : frac(1n);
  const shift = options.shift ? exact(options.shift) : ZERO;
  const read = (value) => (value === null || value === undefined ? null : plus(times(exact(value), scale), shift));
  const numbers = values.map(read);
  const earlier = (options.previous ?? []).map(read);
  const known = numbers.flatMap((value, place) => (value === null ? [] : [[place, value]]));
  if (!known.length) return unsure("no reading");
  const whole = known.length === numbers.length;
  const margins =
    limit.kind === "spread" ? spreadMargins(limit, known, whole)
    : limit.kind === "drop" ? dropMargins(limit, known, earlier, options.elapsed != null ? exact(options.elapsed) : null)
    : limit.kind === "trend" ? trendMargins(limit, known, earlier)
    : valueMargins(limit, known);
  return typeof margins === "string" ? unsure(margins) : worded(limit, margins, !whole, options.names);
}

function worded(limit, margins, missing, names) {
  const worst = least(margins.map(([margin]) => margin));
  const unit = RELATIVE.has(limit.kind) && (limit.measure ?? "difference") !== "difference" ? "%" : limit.unit ?? "";
  const [by, amount] = shown(size(worst), unit);
  const near = limit.near != null ? exact(limit.near) : null;
  const within = (test) => margins.filter(([margin]) => test(margin)).flatMap(([, places]) => places).sort((a, b) => a - b);
  let word = "within";
  let sentence = `${amount} to spare`;
  let flagged = [];
  if (order(worst, ZERO) < 0) {
    flagged = within((margin) => order(margin, ZERO) < 0);
    [word, sentence] = ["past", `Past the limit by ${amount}`];
  } else if (missing) {
    return unsure("not every reading was taken");
  } else if (near && order(worst, near) <= 0) {
    flagged = within((margin) => order(margin, near) <= 0);
    [word, sentence] = ["near", `Near the limit: ${amount} to spare`];
  }
  if (worst.n === 0n) sentence = "At the limit, which passes";
  if (names && flagged.length) {
    sentence = `${flagged.map((place) => names[place]).join(", ")}: ${sentence[0].toLowerCase()}${sentence.slice(1)}`;
    sentence = sentence[0].toUpperCase() + sentence.slice(1);
  }
  return { word, by, unit, sentence, flagged };
}

const HEADS = { within: "Within the limit", near: "Within, near the limit", past: "Past the limit", "not sure": "Not sure" };
const CUT = { near: "Near the limit: ", past: "Past the limit ", "not sure": "Not sure: " };
const SHAPES = { within: ["fit", "okv"], near: ["fit", "nearv"], past: ["unlikely", "badv"], "not sure": ["unjudged", "unsurev"] };

if (typeof document !== "undefined") begin();

function begin() {
  document.addEventListener("input", (event) => { if (event.target.hasAttribute?.("data-value")) answer(event.target.closest(".read")); });
  document.addEventListener("change", (event) => { if (event.target.name === "outcome") readyToClose(event.target.form); });
  document.addEventListener("click", nudge);
  document.addEventListener("change", shrinkFirst, true);
  drafts();
  for (const form of document.querySelectorAll("form:has([name=outcome])")) readyToClose(form);
  document.addEventListener("htmx:afterSettle", () => { for (const form of document.querySelectorAll("form:has([name=outcome])")) readyToClose(form); });
  document.addEventListener("card-version", (event) => {
    for (const field of document.querySelectorAll('input[name="version"]')) field.value = event.detail?.value ?? field.value;
  });
  document.addEventListener("htmx:responseError", (event) => { if (event.detail?.xhr?.status === 401) signInAgain(); });
}

/** The verdict at once, while typing; the server says the same when the field is left. */
function answer(box) {
  const told = JSON.parse(box.dataset.measure);
  const fields = [...box.querySelectorAll("[data-value]")];
  const values = fields.map((field) => field.value.trim().replace(",", ".") || null);
  const line = box.querySelector(".answer");
  if (!line) return;
  if (told.limit.kind !== "look" && values.some((value) => value !== null && exact(value) === null)) { unjudged(line); point(box, null); return; }
  const found = values.every((value) => value === null) ? null : judge(told.limit, values, told);
  const word = found?.word ?? "not sure";
  const cut = CUT[word] ?? "";
  const detail = !found ? "" : found.sentence.startsWith(cut) ? found.sentence.slice(cut.length) : found.sentence;
  say(line, word, found ? HEADS[word] : "Not read yet", detail);
  point(box, values[0]);
}

function say(line, word, head, detail) {
  const [shape, css] = SHAPES[word];
  line.className = `answer ${css}`;
  line.querySelector("svg").setAttribute("class", `shp shp-${shape}`);
  line.querySelector("use").setAttribute("href", `#st-${shape}`);
  const bold = line.querySelector("b");
  bold.textContent = head;
  bold.nextSibling ? (bold.nextSibling.textContent = ` ${detail}`) : bold.after(` ${detail}`);
}

/** "30 psi" into a reading in bar: the server has the table of units, so nothing is said before it has judged. */
function unjudged(line) { say(line, "not sure", "Not judged yet", "It is not a plain figure. With a unit of its own it is converted and judged when it is sent."); }

function point(box, value) {
  const pointer = box.querySelector("[data-sight-pointer]");
  if (!pointer || box.dataset.low === undefined) return;
  if (value === null) { pointer.setAttribute("display", "none"); return; }
  const [low, high] = [Number(box.dataset.low), Number(box.dataset.high)];
  const share = Math.min(Math.max((Number(value) - low) / (high - low), 0), 1) * 100;
  pointer.setAttribute("x", `${share.toFixed(2)}%`);
  pointer.removeAttribute("display");
}

/** Minus and plus move by the last place that is written: 3.4 by 0.1, 250 by 1. */
function nudge(event) {
  const button = event.target.closest?.("[data-nudge]");
  if (!button) return;
  const field = button.parentElement.querySelector("[data-value]");
  const text = field.value.trim().replace(",", ".") || "0";
  if (exact(text) === null) return;
  const places = text.split(".")[1]?.length ?? 0;
  const moved = plus(exact(text), frac(BigInt(button.dataset.nudge), 10n ** BigInt(places)));
  const plain = rounded(moved, places);
  const [whole, tail = ""] = plain.split(".");
  field.value = places ? `${whole}.${tail.padEnd(places, "0")}` : whole;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

/** "Must not run" and "put back as found" wait for nothing; the server decides all the same. */
function readyToClose(form) {
  const button = form?.querySelector("[data-close]");
  const why = form?.querySelector("#why-close");
  if (!button || !why) return;
  const chosen = form.querySelector("[name=outcome]:checked")?.value;
  if (chosen === "not run" || chosen === "as found") button.removeAttribute("aria-disabled");
  else button.setAttribute("aria-disabled", "true");
}

// ---- a photograph is made smaller before it is sent: the signal in a hull is thin ----
const SIDE = 2000;
const ready = new WeakSet();

async function shrinkFirst(event) {
  const field = event.target;
  if (!(field instanceof HTMLInputElement) || !field.hasAttribute("data-shrink") || ready.has(field)) { ready.delete?.(field); return; }
  event.stopImmediatePropagation();
  const words = field.closest("label")?.querySelector("[data-photo-words]");
  try {
    const file = field.files[0];
    if (file) {
      const smaller = await smallerOf(file);
      if (smaller) {
        const bag = new DataTransfer();
        bag.items.add(smaller);
        field.files = bag.files;
      }
      if (words) words.textContent = `Photograph ready, ${Math.max(1, Math.round(field.files[0].size / 1024))} KB. Press to take another`;
    }
  } catch { /* a picture that this phone cannot open is sent as it is; the server says what is wrong with it */ }
  ready.add(field);
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

async function smallerOf(file) {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const share = Math.min(1, SIDE / Math.max(picture.width, picture.height));
  if (share === 1 && file.size < 900000) return null;
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * share));
  canvas.height = Math.max(1, Math.round(picture.height * share));
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  const data = await new Promise((done) => canvas.toBlob(done, "image/jpeg", 0.85));
  return data && data.size < file.size ? new File([data], "photograph.jpg", { type: "image/jpeg" }) : null;
}

// ---- what is typed is kept in this tab until it is taken: signing in again, or a lost signal, loses nothing ----
function drafts() {
  const owner = document.body.dataset.person ?? "";
  const head = "draft:";
  const mine = `${head}${owner}:${location.pathname}:`;
  const each = (work) => { try { for (const name of Object.keys(sessionStorage)) if (name.startsWith(head)) work(name); } catch { /* no storage: nothing is kept */ } };
  each((name) => { if (!name.startsWith(`${head}${owner}:`)) sessionStorage.removeItem(name); }); // another person has this phone now
  const forget = (key) => each((name) => { if (JSON.parse(sessionStorage.getItem(name)).key === key) sessionStorage.removeItem(name); });
  const words = (form) => [...form.elements].filter((field) => field.name && !["hidden", "password", "file", "submit", "button"].includes(field.type) && !field.closest(".step"));

  function keep(form) {
    if (!form?.id || !form.hasAttribute("data-draft")) return;
    const fields = words(form).map((field) => [field.name, field.value, ["radio", "checkbox"].includes(field.type) ? field.checked : null]);
    try { sessionStorage.setItem(mine + form.id, JSON.stringify({ key: form.elements.key?.value, fields })); } catch { /* full: nothing is kept */ }
  }

  function restore() {
    for (const form of document.querySelectorAll("form[data-draft]")) {
      const kept = form.id && sessionStorage.getItem(mine + form.id);
      if (!kept || form.dataset.restored || form.querySelector(".refused")) continue;
      form.dataset.restored = "1";
      for (const [name, value, checked] of JSON.parse(kept).fields) {
        const field = words(form).find((one) => one.name === name && (checked === null || one.value === value));
        if (!field) continue;
        if (checked === null) field.value = value; else field.checked = checked;
      }
      keep(form); // under the key that this page will send
      const fold = form.closest("details");
      if (fold && JSON.parse(kept).fields.some(([, value, checked]) => value && checked === null)) fold.open = true;
      const box = form.closest(".read");
      if (box) answer(box);
    }
  }

  document.addEventListener("input", (event) => keep(event.target.form));
  document.addEventListener("change", (event) => keep(event.target.form));
  document.addEventListener("taken", (event) => forget(event.detail?.value));
  document.addEventListener("htmx:afterSettle", restore);
  const here = new URL(location.href);
  const taken = here.searchParams.get("taken");
  if (taken) {
    forget(taken);
    here.searchParams.delete("taken");
    history.replaceState(null, "", here);
  }
  try { restore(); } catch { /* no storage */ }
}

/** The refusal line of app.js says that the sign-in has ended; this adds the way back. */
function signInAgain() {
  const box = document.getElementById("refusal");
  if (!box || box.querySelector("a")) return;
  const link = document.createElement("a");
  link.href = `/sign-in/?next=${encodeURIComponent(location.pathname)}`;
  link.textContent = "Sign in again";
  link.className = "btn wide";
  box.append(link);
}

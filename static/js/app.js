// Running Order: what every page shares. All of it is comfort: each page works without script.

const live = () => document.getElementById("live");

/** Say one sentence aloud, politely. Emptied first, so that the same sentence twice is said twice. */
export function say(sentence) {
  const box = live();
  if (!box || !sentence) return;
  box.textContent = "";
  setTimeout(() => { box.textContent = sentence; }, 60);
}

/** Mark rows that an act has changed, by element id, until the next load. */
export function markChanged(ids) {
  for (const id of [].concat(ids)) document.getElementById(id)?.classList.add("changed");
}

// The server speaks through the HX-Trigger header: {"say": "B 02 is now Doubtful.", "rows-changed": ["row-7"]}
document.addEventListener("say", (event) => say(event.detail?.value));
document.addEventListener("rows-changed", (event) => markChanged(event.detail?.value ?? []));

// ---- focus and scroll stay where they were over a swap ----
let kept = null;

function address(element) {
  if (!element || element === document.body) return null;
  if (element.id) return `#${CSS.escape(element.id)}`;
  if (element.name) {
    const form = element.form?.id ? `#${CSS.escape(element.form.id)} ` : "";
    const value = ["radio", "checkbox", "submit"].includes(element.type) ? `[value="${CSS.escape(element.value)}"]` : "";
    return `${form}[name="${CSS.escape(element.name)}"]${value}`;
  }
  const href = element.getAttribute("href");
  return href ? `a[href="${CSS.escape(href)}"]` : null;
}

document.addEventListener("htmx:beforeSwap", () => {
  kept = { where: address(document.activeElement), x: window.scrollX, y: window.scrollY };
});

document.addEventListener("htmx:afterSettle", (event) => {
  const refusal = event.target.querySelector?.("[data-takes-focus]");
  if (refusal) {
    refusal.focus();
    kept = null;
    return;
  }
  if (!kept) return;
  const lost = document.activeElement === document.body || document.activeElement === null;
  if (lost && kept.where) document.querySelector(kept.where)?.focus({ preventScroll: true });
  window.scrollTo({ left: kept.x, top: kept.y, behavior: "instant" });
  kept = null;
});

/** An act that failed says so where it is seen, and takes the focus so that it is heard. */
function refuse(sentence) {
  const main = document.getElementById("main");
  if (!main) return;
  document.getElementById("refusal")?.remove();
  const box = document.createElement("div");
  box.id = "refusal";
  box.className = "refused";
  box.tabIndex = -1;
  box.setAttribute("role", "alert");
  const line = document.createElement("p");
  line.textContent = sentence;
  box.append(line);
  main.prepend(box);
  box.focus();
}

// A verdict is worked out on the phone as well: asking the server for it in vain is no failure of an act.
document.addEventListener("htmx:sendError", (event) => event.detail?.elt?.hasAttribute?.("data-value") || refuse("No answer from the server. Nothing was changed. Try again when there is signal."));
document.addEventListener("htmx:timeout", () => refuse("No answer from the server in time. Look before you try again: it may have been taken."));
document.addEventListener("htmx:responseError", (event) => {
  const answer = event.detail?.xhr;
  const plain = answer?.getResponseHeader("Content-Type")?.startsWith("text/plain") || answer?.status === 401;
  refuse(plain && answer.responseText ? answer.responseText : "The server could not do that. Nothing was changed.");
});

// ---- an act is sent once: a second press is held back, and nothing typed is lost ----
const HELD_FOR = 10000; // a download leaves the page where it is, so the hold must end by itself
const underway = new WeakSet();

function hold(form) {
  underway.add(form);
  setTimeout(() => release(form), HELD_FOR);
}

function release(form) {
  underway.delete(form);
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method === "get" || !underway.has(form)) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  say("Already sent. Wait for the answer.");
}, true);

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "get" && !event.defaultPrevented) hold(form);
});

document.addEventListener("htmx:beforeRequest", (event) => {
  if (event.target instanceof HTMLFormElement && event.target.method !== "get") hold(event.target);
});
document.addEventListener("htmx:afterRequest", (event) => release(event.target));
window.addEventListener("pageshow", (event) => {
  if (event.persisted) for (const form of document.forms) release(form);
});

// ---- leaving a form half filled asks first; only forms that say data-guard ----
const touched = new Set();

document.addEventListener("input", (event) => {
  const form = event.target.form;
  if (form?.hasAttribute("data-guard")) touched.add(form);
});
document.addEventListener("submit", (event) => { if (!event.defaultPrevented) touched.delete(event.target); });
document.addEventListener("htmx:afterRequest", (event) => { if (event.detail?.successful) touched.delete(event.target); });
document.addEventListener("reset", (event) => touched.delete(event.target));

window.addEventListener("beforeunload", (event) => {
  for (const form of touched) if (!form.isConnected) touched.delete(form);
  if (touched.size) event.preventDefault();
});

// ---- a field changed by hand in a form that says data-auto sends the form (a filter); its button stays for no script ----
document.addEventListener("change", (event) => {
  const form = event.target.form;
  if (form?.hasAttribute("data-auto")) form.requestSubmit();
});

document.querySelector("[data-takes-focus]")?.focus();

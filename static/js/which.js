// Which part: chances worked out on the spot, so that a phone with no signal shows what a result would make of them.
// Comfort only: the server works out the same and is right.

const holder = document.getElementById("which-figures");
const figures = holder ? JSON.parse(holder.textContent) : null;

/** Chances of the causes after these results: prior times the chance of each result, scaled to one. */
export function posterior(causes, tests, known) {
  const logs = causes.map((cause, place) => {
    let sum = Math.log(cause.chance);
    for (const [test, result] of Object.entries(known)) {
      const row = (tests[test] ?? []).find(([name]) => name === result);
      if (row) sum += Math.log(row[1][place]);
    }
    return sum;
  });
  const top = Math.max(...logs);
  const weights = logs.map((one) => Math.exp(one - top));
  const total = weights.reduce((a, b) => a + b, 0);
  return weights.map((one) => one / total);
}

/** Whole percent, and never a certainty; as the server writes it. */
export function percent(chance) {
  if (chance * 100 >= 99.5) return "over 99%";
  return chance * 100 >= 1 ? `${Math.round(chance * 100)}%` : "under 1%";
}

function ranked(known) {
  const chances = posterior(figures.causes, figures.tests, known);
  return figures.causes.map((cause, place) => ({ ...cause, now: chances[place] })).sort((a, b) => b.now - a.now);
}

function preview(form) {
  const line = form.querySelector("[data-if]");
  const picked = form.querySelector("[name=result]:checked")?.value;
  if (!line) return;
  if (!picked || !(figures.tests[form.dataset.test] ?? []).some(([name]) => name === picked)) {
    line.textContent = picked ? "No evidence: the chances stay as they are." : "";
    return;
  }
  const [first, second] = ranked({ ...known(), [form.dataset.test]: picked });
  line.textContent = `Then: ${first.name}, ${percent(first.now)}` + (second ? `; ${second.name}, ${percent(second.now)}.` : ".");
}

// ---- results that lie on this phone count here until the page comes fresh from the server ----
const shelf = figures ? `which-${figures.sheet}` : "";

function kept() {
  try {
    const found = JSON.parse(sessionStorage.getItem(shelf) ?? "{}");
    return Object.fromEntries(Object.entries(found).filter(([test]) => !(test in figures.known)));
  } catch { return {}; }
}

function known() {
  return { ...kept(), ...figures.known };
}

function drawBars() {
  const waiting = Object.keys(kept());
  if (!waiting.length) return;
  const order = ranked(known());
  for (const cause of order) {
    const row = document.querySelector(`[data-cause="${CSS.escape(cause.key)}"]`);
    if (!row) continue;
    row.classList.add("kept");
    row.classList.toggle("lead", cause === order[0]);
    row.querySelector(".wpc").textContent = percent(cause.now);
    row.querySelector(".v").setAttribute("width", `${Math.round(cause.now * 100)}%`);
  }
  const verdict = document.querySelector("#verdict b");
  if (verdict) verdict.textContent = `With ${waiting.length} kept on this phone (*): ${order[0].name}, ${percent(order[0].now)}.`;
}

if (figures) {
  for (const form of document.querySelectorAll("form[data-test]")) {
    form.addEventListener("change", () => preview(form));
  }
  // The outbox says that it has kept a form; until it is sent, what was picked lies here and is counted here.
  document.addEventListener("kept", (event) => {
    const test = event.target.dataset?.test;
    if (!test || navigator.onLine && !document.body.dataset.keptAt) return;
    const result = event.target.querySelector("[name=result]:checked")?.value;
    if (!result || !figures.tests[test]?.some(([name]) => name === result)) return;
    sessionStorage.setItem(shelf, JSON.stringify({ ...kept(), [test]: result }));
    drawBars();
  });
  if (navigator.onLine && !document.body.dataset.keptAt) sessionStorage.removeItem(shelf);
  drawBars();
  // A link to a test opens it.
  const open = () => document.querySelector(`#${CSS.escape(location.hash.slice(1))}.wt > details`)?.setAttribute("open", "");
  window.addEventListener("hashchange", open);
  if (location.hash.length > 1) open();
}

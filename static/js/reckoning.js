// Running Order: seven reckonings worked out on the phone, for a hull where no signal comes. The sums are those of
// maintenance/reckoning; tests/maintenance/reckoning/cases.json is the one table of cases that both must meet.

const FIGURE = /^\s*([+-]?\d+(?:[.,]\d+)?|[+-]?[.,]\d+)\s*(\S.*?)?\s*$/;
const rad = (degrees) => (degrees * Math.PI) / 180;
const deg = (radians) => (radians * 180) / Math.PI;
let known = { units: {}, names: {}, beside: {} };

/** Units, their short names, and the other system's unit of each, as the server wrote them. */
export function useUnits(table) { known = table; }

/** What an input is refused for. */
export class Refused extends Error {
  constructor(name, words) { super(words); this.name = name; }
}

/** Rounded half away from nought, without trailing noughts. */
export function text(value, places = 1) {
  const scale = 10 ** places;
  const whole = Math.round((Math.abs(value) + 1e-10) * scale) / scale;
  const shown = whole.toFixed(places);
  const bare = shown.includes(".") ? shown.replace(/0+$/, "").replace(/\.$/, "") : shown;
  return value < 0 && whole > 0 ? `-${bare}` : bare;
}

function converted(value, from, to) {
  const [quantity, factor, offset] = known.units[from] ?? [];
  const [other, divisor, less] = known.units[to] ?? [];
  if (!quantity || quantity !== other) throw new Error(`${from} cannot be read in ${to || "a count"}.`);
  return ((value + offset) * factor) / divisor - less;
}

/** A typed figure in `unit`; null when nothing is typed. */
export function figure(typed, unit) {
  if (!(typed ?? "").trim()) return null;
  const found = FIGURE.exec(typed);
  if (!found) throw new Error(`${typed.trim()} is not a number.`);
  const value = Number(found[1].replace(",", "."));
  const given = found[2] ?? "";
  if (!given) return value;
  const named = known.names[given.toLowerCase()] ?? given;
  return named === unit ? value : converted(value, named, unit);
}

function also(value, unit) {
  const other = known.beside[unit];
  if (!other) return "";
  const there = converted(value, unit, other);
  const whole = Math.trunc(Math.abs(there));
  return `${text(there, Math.max(0, 3 - (whole ? String(whole).length : 0)))} ${other}`;
}

const line = (label, value, unit = "", places = 1) => {
  const shown = text(value, places);
  return { label, value: shown, unit, beside: also(Number(shown), unit) };
};
const words = (label, value) => ({ label, value, unit: "", beside: "" });
const between = (label, one, other, unit, places) => {
  const [low, high] = [one, other].sort((a, b) => a - b);
  return { label, value: `between ${text(low, places)} and ${text(high, places)}`, unit, beside: "" };
};

/** Reads inputs one by one, refusing each at its own name. */
class Given {
  constructor(typed) { this.typed = typed; }
  figure(name, { unit = "", needed = true, low = -Infinity, high = Infinity, above = false } = {}) {
    let value;
    try { value = figure(this.typed[name], unit); } catch (trouble) { throw new Refused(name, trouble.message); }
    if (value === null) {
      if (needed) throw new Refused(name, "It is needed.");
      return null;
    }
    if (value < low || (above && value === low)) throw new Refused(name, `It must be ${above ? "above" : "at least"} ${low || "nought"}.`);
    if (value > high) throw new Refused(name, `It can be ${high} at most.`);
    return value;
  }
  whole(name) {
    const typed = (this.typed[name] ?? "").trim();
    if (!/^\d{1,2}$/.test(typed) || Number(typed) < 1 || Number(typed) > 36) throw new Refused(name, "A whole number from 1 to 36.");
    return Number(typed);
  }
  word(name, start) { return this.typed[name] || start; }
}

// ---- crank and rod ----
const SHORT_ROD = 1.4;
const BOUND = "No rod was given: the two figures are bounds, that of an endlessly long rod and that of a rod of 1.4 "
  + "strokes, shorter than any usual one (common practice). Measure the rod before you time by this.";

export function travelFromDegrees(degrees, stroke, rod) {
  const r = stroke / 2;
  const side = (r * Math.sin(rad(degrees))) ** 2;
  return 2 * r * Math.sin(rad(degrees) / 2) ** 2 + side / (rod + Math.sqrt(rod * rod - side));
}

export function degreesFromTravel(travel, stroke, rod) {
  const r = stroke / 2;
  const y = r + rod - travel;
  const square = ((rod - (y - r)) * (rod + (y - r))) / (4 * r * y);
  return deg(2 * Math.asin(Math.sqrt(Math.min(1, Math.max(0, square)))));
}

const rimTravel = (degrees, diameter) => (Math.PI * diameter * degrees) / 360;

function degrees(given) {
  const asked = {
    degrees: given.figure("degrees", { unit: "°", needed: false, low: 0, high: 180 }),
    travel: given.figure("travel", { unit: "mm", needed: false, low: 0 }),
    rim: given.figure("rim", { unit: "mm", needed: false, low: 0 }),
  };
  const stroke = given.figure("stroke", { unit: "mm", low: 0, above: true });
  const rod = given.figure("rod", { unit: "mm", needed: false, low: 0, above: true });
  const wide = given.figure("diameter", { unit: "mm", needed: false, low: 0, above: true });
  const there = Object.keys(asked).filter((name) => asked[name] !== null);
  if (there.length > 1) throw new Refused(there[1], "Give one of degrees, travel and rim.");
  if (!there.length) throw new Refused("degrees", "Give one of degrees, travel and rim.");
  if (rod !== null && rod <= stroke / 2) throw new Refused("rod", "A connecting rod is longer than half the stroke.");
  const flags = rod === null ? [BOUND] : [];
  const lines = [];
  if (there[0] === "travel") {
    if (asked.travel > stroke) throw new Refused("travel", "The piston travels no farther than the stroke.");
    if (rod === null) {
      const long = deg(2 * Math.asin(Math.sqrt(Math.min(1, asked.travel / stroke))));
      const short = degreesFromTravel(asked.travel, stroke, SHORT_ROD * stroke);
      lines.push(between("Crank degrees", long, short, "°", 2));
      if (wide !== null) lines.push(between("Along the rim", rimTravel(long, wide), rimTravel(short, wide), "mm", 1));
      return { lines, flags };
    }
    const turned = degreesFromTravel(asked.travel, stroke, rod);
    lines.push(line("Crank degrees", turned, "°", 2));
    if (wide !== null) lines.push(line("Along the rim", rimTravel(turned, wide), "mm", 1));
    return { lines, flags };
  }
  let turned = asked.degrees;
  if (there[0] === "rim") {
    if (wide === null) throw new Refused("diameter", "A length along the rim needs the diameter of the rim.");
    turned = asked.rim / rimTravel(1, wide);
    if (turned > 180) throw new Refused("rim", "That is more than half a turn of the rim.");
    lines.push(line("Crank degrees", turned, "°", 2));
  }
  if (rod === null) {
    const long = stroke * Math.sin(rad(turned) / 2) ** 2;
    lines.push(between("Piston travel", long, travelFromDegrees(turned, stroke, SHORT_ROD * stroke), "mm", 2));
  } else {
    lines.push(line("Piston travel", travelFromDegrees(turned, stroke, rod), "mm", 2));
  }
  if (wide !== null && there[0] === "degrees") lines.push(line("Along the rim", rimTravel(turned, wide), "mm", 1));
  return { lines, flags };
}

// ---- sparks ----
function firingOrder(given) {
  const cylinders = given.whole("cylinders");
  const step = (180 * Number(given.word("strokes", "4"))) / cylinders;
  const lines = [line("A spark every, crank", step, "°", 2), line("At a half-speed rotor", step / 2, "°", 2)];
  const typed = (given.typed.order ?? "").trim();
  if (!typed) return { lines };
  if (!/^[\d\s,;.-]+$/.test(typed)) throw new Refused("order", "Write cylinder numbers with spaces or dashes between.");
  const order = (typed.match(/\d{1,3}/g) ?? []).map(Number);
  if (order.length !== cylinders) throw new Refused("order", `${order.length} cylinders are in the order, ${cylinders} are asked for.`);
  if ([...order].sort((a, b) => a - b).some((one, at) => one !== at + 1)) throw new Refused("order", "A firing order names every cylinder once.");
  return { lines, rows: order.map((one, at) => [String(at + 1), String(one), `${text(at * step, 2)}°`]) };
}

function magneto(given) {
  const cylinders = given.whole("cylinders");
  const sparks = given.whole("sparks");
  const strokes = Number(given.word("strokes", "4"));
  const ratio = (2 * cylinders) / (strokes * sparks);
  const lines = [
    line("Turns of the magneto for one of the crank", ratio, "", 4),
    line("Degrees of the magneto between sparks", 360 / sparks, "°", 2),
    line("Crank degrees between sparks", (180 * strokes) / cylinders, "°", 2),
  ];
  const speed = given.figure("speed", { unit: "rev/min", needed: false, low: 0 });
  if (speed !== null) {
    lines.splice(1, 0, line("Magneto speed", speed * ratio, "rev/min", 0));
    lines.push(line("Sparks a minute", speed * ratio * sparks, "", 0));
  }
  const turns = given.figure("turns", { needed: false, low: 0 });
  if (turns !== null) lines.push(line(`Turns of the magneto for ${text(turns, 2)} of the crank`, turns * ratio, "", 3));
  return { lines };
}

const OTHER = { clockwise: "anticlockwise", anticlockwise: "clockwise" };

function timing(given) {
  const found = given.figure("found", { unit: "°", low: -180, high: 180 });
  const wanted = given.figure("wanted", { unit: "°", low: -180, high: 180 });
  const tolerance = given.figure("tolerance", { unit: "°", low: 0 });
  const ratio = given.figure("ratio", { low: 0, above: true });
  const wide = given.figure("diameter", { unit: "mm", needed: false, low: 0, above: true });
  const off = Math.abs(found - wanted);
  const rim = wide === null ? [] : [line("Off along the rim", rimTravel(off, wide), "mm", 1)];
  if (off <= tolerance + 1e-9) {
    return { lines: [line("Off at the crank", off, "°", 1), ...rim], said: { kind: "within", head: "On its mark", detail: "On its mark. Leave it." } };
  }
  const early = found > wanted;
  const stamped = given.word("mark", "R") === "R" ? "clockwise" : "anticlockwise";
  const runs = given.word("seen", "drive") === "drive" ? stamped : OTHER[stamped];
  const turn = early ? runs : OTHER[runs];
  const body = off * ratio;
  const word = early ? "early" : "late";
  return {
    lines: [
      line(`Off at the crank, ${word}`, off, "°", 1),
      line(`Turn the body ${turn}, seen from its drive end`, body, "°", 1),
      words("Seen from its other end, that is", OTHER[turn]),
      ...rim,
    ],
    said: {
      kind: "past",
      head: early ? "Early" : "Late",
      detail: `${off.toFixed(1)}° ${word} at the crank. Turn the body ${body.toFixed(1)}° ${turn}, seen from its drive end `
        + `(${early ? "with" : "against"} the rotation).`,
    },
  };
}

// ---- bench ----
function torque(given) {
  const wanted = given.figure("wanted", { unit: "Nm", low: 0, above: true });
  const spanner = given.figure("spanner", { unit: "mm", low: 0, above: true });
  const more = given.figure("extension", { unit: "mm", low: 0 });
  const arm = spanner + more * Math.cos(rad(given.figure("angle", { unit: "°", low: 0, high: 180 })));
  if (arm <= 1e-9 * spanner) throw new Refused("extension", "The extension is folded back to the grip: no torque reaches the nut.");
  const set = (wanted * spanner) / arm;
  return {
    lines: [line("Set the wrench to", set, "Nm", 1), line("Set to the figure itself, the nut would get", (wanted * arm) / spanner, "Nm", 1)],
    flags: set <= wanted * 1.0001 ? [] : ["Folded back, the wrench must be set higher."],
  };
}

function oilInFuel(given) {
  const fuel = given.figure("fuel", { unit: "L", low: 0, above: true });
  const oil = fuel / given.figure("parts", { low: 0, above: true });
  return { lines: [line("Oil", oil * 1000, "mL", 0), line("Oil, in pints", (oil * 1000) / 568.26125, "pt", 2), line("Mixture in all", oil + fuel, "L", 2)] };
}

function coolant(given) {
  const volume = given.figure("volume", { unit: "L", low: 0, above: true });
  const [now, wanted, fill] = ["now", "wanted", "fill"].map((name) => given.figure(name, { unit: "%", low: 0, high: 100 }));
  const share = wanted === now ? 0 : (wanted - now) / (fill - now);
  if (wanted !== now && !(share > 0 && share <= 1)) throw new Refused("wanted", "That filling cannot bring it there.");
  return { lines: [line("Drain", volume * share, "L", 2), line("Fill in its place", volume * share, "L", 2)] };
}

const SUMS = { "firing-order": firingOrder, magneto, degrees, timing, torque, "oil-in-fuel": oilInFuel, coolant };

/** What a reckoning says of what is typed: lines, said, flags, rows; or refused, the name of an input, and why. */
export function work(slug, typed) {
  try {
    return { lines: [], flags: [], ...SUMS[slug](new Given(typed)) };
  } catch (trouble) {
    if (trouble instanceof Refused) return { refused: trouble.name, why: trouble.message };
    throw trouble;
  }
}

// ---- the page ----
const CLOSE = new Set(["°", "%"]); // written without a space

function element(tag, words, name) {
  const made = document.createElement(tag);
  if (words !== undefined) made.textContent = words;
  if (name) made.className = name;
  return made;
}

function shown(result) {
  const parts = [element("p", "Worked out on this phone. Nothing is kept.", "fine")];
  const list = element("dl", undefined, "rklines");
  for (const one of result.lines) {
    const row = element("div");
    const value = element("dd", one.value + (CLOSE.has(one.unit) ? one.unit : ""));
    if (one.unit && !CLOSE.has(one.unit)) value.append(" ", element("span", one.unit));
    if (one.beside) value.append(element("small", one.beside));
    row.append(element("dt", one.label), value);
    list.append(row);
  }
  parts.push(list);
  if (result.said) {
    const answer = document.querySelector(`template[data-answer="${result.said.kind}"]`).content.cloneNode(true);
    const box = answer.querySelector("span");
    box.replaceChildren(element("b", result.said.head), ` ${result.said.detail}`);
    parts.push(answer);
  }
  if (result.rows) {
    const table = element("ol", undefined, "rkflags");
    for (const [, cylinder, at] of result.rows) table.append(element("li", `cylinder ${cylinder}, ${at} after the first`));
    parts.push(table);
  }
  if (result.flags.length) {
    const flags = element("ul", undefined, "rkflags");
    flags.append(...result.flags.map((one) => element("li", one)));
    parts.push(flags);
  }
  return parts;
}

function start(form) {
  const slug = form.dataset.reckoning;
  const table = document.getElementById("reckon-units");
  if (!SUMS[slug] || !table) return;
  useUnits(JSON.parse(table.textContent));
  const out = document.getElementById("worked");
  const here = out.querySelector("[data-here]");
  const refresh = (always) => {
    const result = work(slug, Object.fromEntries(new FormData(form)));
    out.querySelector("[data-sent]")?.setAttribute("hidden", "");
    const parts = result.refused
      ? [element("p", `${form.elements[result.refused].labels[0].firstChild.textContent.trim()}: ${result.why}`, "empty")]
      : shown(result);
    here.replaceChildren(...parts);
    here.hidden = Boolean(result.refused) && !always;
    out.hidden = here.hidden;
  };
  form.addEventListener("input", () => refresh(false));
  form.addEventListener("submit", (event) => {
    if (navigator.onLine) return;
    event.preventDefault(); // no signal: the phone's own answer stands in
    refresh(true);
    out.scrollIntoView();
  });
}

if (typeof document !== "undefined") for (const form of document.querySelectorAll("form[data-reckoning]")) start(form);

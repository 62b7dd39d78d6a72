/** Names, units and numbers as they stand on the page; the twin of optim/export/notation.py. */

const UNITS = {
  "N*m": "N·m",
  "N*m/kg": "N·m/kg",
  "N*m/L": "N·m/L",
  "N*m/A": "N·m/A",
  "A/mm^2": "A/mm²",
  "kg*m^2": "kg·m²",
  "cm^3": "cm³",
  "m^2": "m²",
  "mm^2/s": "mm²/s",
  degC: "°C",
  mOhm: "mΩ",
  deg: "°",
  rpm: "r/min",
};
const CAPITALS = { ac: "AC", emf: "EMF", v: "V" };
const entries = new Map();

/** Take the service's list of metrics and parameters. */
export function learn({ metrics, parameters }) {
  for (const entry of [...metrics, ...parameters]) {
    entries.set(entry.name, entry);
    entries.set(entry.key, entry);
  }
}

/** Return the entry of a metric or parameter, by name or by key with unit; a bare one if unknown. */
export function entryOf(name) {
  return entries.get(name) ?? { name, key: name, unit: "", definition: "" };
}

export const unitText = (unit) => UNITS[unit] ?? unit ?? "";

/** Return a name in words: `back_emf_line_peak` is `Back EMF line peak`. */
export function words(name) {
  const text = name
    .split("_")
    .map((w) => CAPITALS[w] ?? w)
    .join(" ");
  return text.charAt(0).toUpperCase() + text.slice(1);
}

/** Return a metric or parameter in words, by name or key. */
export const title = (name) => words(entryOf(name).name);

/** Return words with the unit in brackets, for axes and headings. */
export function axisText(name) {
  const { name: plain, unit } = entryOf(name);
  return unit ? `${words(plain)} [${unitText(unit)}]` : words(plain);
}

/** Return a number to so many significant digits, without an exponent between 1e-3 and 1e6. */
export function numberText(value, digits = 4) {
  if (value === null || value === undefined || Number.isNaN(value)) return "–";
  if (typeof value !== "number") return String(value);
  if (value === 0) return "0";
  const size = Math.floor(Math.log10(Math.abs(value)));
  if (size <= -4 || size >= 6) return minus(value.toExponential(digits - 1));
  return minus(value.toFixed(Math.max(0, digits - 1 - size)));
}

const minus = (text) => text.replace(/^-/, "−");

/** Return a metric's value in shown units, without its unit; a count (pieces, orders) has no decimals. */
export function metricNumber(name, value) {
  return !entryOf(name).unit && Number.isInteger(value) ? String(value) : numberText(value);
}

/** Return a number without needless zeros, as bounds are written. */
export function plainText(value, digits = 6) {
  return typeof value === "number" ? minus(String(Number(value.toPrecision(digits)))) : numberText(value);
}

/** Return a value with its unit, by metric or parameter name or key. */
export function valueText(name, value, digits = 4) {
  const { unit, kind } = entryOf(name);
  const text = kind === "integer" || kind === "choice" ? String(value) : numberText(value, digits);
  return unit ? `${text} ${unitText(unit)}` : text;
}

export const countText = (count) => (count ?? 0).toLocaleString("en-GB");

export function percentText(value, digits = 1) {
  if (!Number.isFinite(value)) return "–";
  const text = value.toFixed(digits);
  return `${Number(text) === 0 ? text.replace("-", "") : minus(text)} %`;
}

/**
 * Return what becomes of a metric or parameter from `a` to `b`: the change in percent, in points of
 * what is in percent itself, or in kelvins, and its kind: good, bad, or empty where it is neither.
 */
export function changeOf(name, a, b) {
  if (typeof a !== "number" || typeof b !== "number" || a === 0) return { text: "", kind: "" };
  const { unit, better } = entryOf(name);
  const share = (100 * (b - a)) / Math.abs(a);
  const absolute = { "%": [2, "points"], degC: [1, "K"] }[unit];
  const text = absolute ? `${minus((b - a).toFixed(absolute[0]))} ${absolute[1]}` : percentText(share);
  if (/^−?0\.0+ /.test(text)) return { text: "unchanged", kind: "" };
  const isPlain = !better || Math.abs(share) < 0.05;
  return { text: b > a ? `+${text}` : text, kind: isPlain ? "" : share > 0 === (better === "more") ? "good" : "bad" };
}

/** Return a time in the two largest units that matter. */
export function durationText(seconds) {
  if (!Number.isFinite(seconds)) return "–";
  const whole = Math.round(seconds);
  if (whole < 60) return `${whole} s`;
  const two = (n) => String(n).padStart(2, "0");
  if (whole < 3600) return `${Math.floor(whole / 60)} min ${two(whole % 60)} s`;
  return `${Math.floor(whole / 3600)} h ${two(Math.floor((whole % 3600) / 60))} min`;
}

export function dateText(unixSeconds) {
  const date = new Date(1000 * unixSeconds);
  const day = date.toLocaleDateString("en-CA");
  return `${day} ${date.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" })}`;
}

const GREEK = { alpha: "α", eta: "η", psi: "ψ", tau: "τ", theta: "θ" };

/** Return a textbook symbol as [text, isLowered] pieces: `theta_w` is θ with w below the line. */
export function symbolPieces(symbol) {
  if (symbol.includes("(")) return [[symbol, false]];
  return symbol.split("/").flatMap((part, k) => {
    const [letter, below] = part.split(/_(.*)/s);
    const pieces = [[(k ? "/" : "") + (GREEK[letter] ?? letter), false]];
    return below ? [...pieces, [below, true]] : pieces;
  });
}

const STATES = {
  queued: ["○", "in the queue"],
  running: ["▶", "running"],
  paused: ["‖", "paused"],
  interrupted: ["◐", "interrupted"],
  done: ["●", "done"],
  failed: ["▼", "failed"],
  cancelled: ["×", "cancelled"],
};

/** Return a run's state as [sign, words]: told apart by more than colour. */
export const stateText = (state) => STATES[state] ?? ["?", state];

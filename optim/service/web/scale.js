/** Axes of every picture: a linear scale, round ticks, and colours for values. */

/** Return a function from a domain [low, high] to a range [from, to]. */
export function linear([low, high], [from, to]) {
  const slope = high === low ? 0 : (to - from) / (high - low);
  const scale = (value) => from + (value - low) * slope;
  scale.back = (place) => (slope === 0 ? low : low + (place - from) / slope);
  return scale;
}

/** Return round values inside a domain, about `count` of them. */
export function ticks([low, high], count = 5) {
  if (!(high > low)) return [low];
  const raw = (high - low) / count;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = power * [1, 2, 2.5, 5, 10].find((m) => m * power >= raw * 0.999);
  const first = Math.ceil(low / step - 1e-9);
  const last = Math.floor(high / step + 1e-9);
  return Array.from({ length: last - first + 1 }, (_, k) => Number(((first + k) * step).toPrecision(12)));
}

/** Return a tick as text: no more digits than its step needs. */
export function tickText(value, all) {
  const step = all.length > 1 ? Math.abs(all[1] - all[0]) : Math.abs(value) || 1;
  const digits = Math.max(0, Math.min(6, 2 - Math.floor(Math.log10(step) + 1e-9) - 1));
  const text = value.toFixed(digits);
  const short = text.includes(".") ? text.replace(/\.?0+$/, "") : text;
  return (short === "-0" ? "0" : short).replace("-", "−");
}

/** Return the smallest and largest of numbers with some room around, or null of none. */
export function extent(values, room = 0) {
  let [low, high] = [Infinity, -Infinity];
  for (const v of values) {
    if (v < low) low = v;
    if (v > high) high = v;
  }
  if (low > high) return null;
  const width = high - low || Math.abs(high) * 0.1 || 1;
  return [low - room * width, high + room * width];
}

/**
 * Even steps of lightness from deep blue to pale yellow, the same to readers with a colour-vision
 * deficiency: every eighth of the map that exported plots use (cividis, from matplotlib, whose
 * licence is BSD-compatible).
 */
const MAP = [
  [0, 34, 78],
  [26, 56, 111],
  [67, 78, 108],
  [97, 101, 111],
  [125, 124, 120],
  [155, 148, 118],
  [188, 174, 108],
  [222, 201, 88],
  [254, 232, 56],
];

/** Return the colour of a share 0..1. */
export function mapColour(share) {
  const at = Math.min(Math.max(share, 0), 1) * (MAP.length - 1);
  const k = Math.min(Math.floor(at), MAP.length - 2);
  const mixed = MAP[k].map((c, i) => Math.round(c + (at - k) * (MAP[k + 1][i] - c)));
  return `rgb(${mixed.join(",")})`;
}

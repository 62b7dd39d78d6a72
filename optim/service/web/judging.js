/**
 * Judges, filters and ranks designs in the page, so that a slider answers at once.
 *
 * The same rules as optim/study/judge.py, optim/ranking/archive.py, scale.py and preferences.py; a
 * browser test compares both on random designs. All values are in shown units, keyed by metric name.
 */

/** Share of the weighted sum added to the largest term; AUGMENTATION of preferences.py. */
export const AUGMENTATION = 0.01;

/** A limit met by less than this part of its bound binds; BINDING_MARGIN of binding.py. */
export const BINDING = 0.02;

/** Return how far a value is inside a limit, in parts of the limit's scale; negative when missed. */
export function marginOf(limit, value) {
  const gap = limit.relation === ">=" ? value - limit.bound : limit.bound - value;
  return gap / (limit.bound !== 0 ? Math.abs(limit.bound) : limit.plausible.high - limit.plausible.low);
}

/** Return the margins of a design, tightest first: [{limit, value, share}], but of what it has not. */
export function marginsOf(limits, metrics) {
  const bound = limits.filter((limit) => binds(limit, metrics));
  const margins = bound.map((limit) => {
    const value = metrics[limit.metric];
    return { limit, value, share: marginOf(limit, value) };
  });
  return margins.sort((a, b) => a.share - b.share);
}

/** A limit on what a family of rotors does not have does not bind its designs. */
const binds = (limit, metrics) => metrics[limit.metric] !== undefined;

export function isWithin(limits, metrics) {
  return limits.every((limit) => !binds(limit, metrics) || marginOf(limit, metrics[limit.metric]) >= 0);
}

/**
 * Return the fixed range of each objective as minimised: [{best, worst}].
 *
 * A range that the study gives holds; else the plausible range, cut at limits on the objective.
 */
export function scaleOf(objectives, limits) {
  return objectives.map(({ metric, sense, given, plausible }) => {
    let { low, high } = given ?? plausible;
    const width = high - low;
    for (const limit of given ? [] : limits.filter((l) => l.metric === metric)) {
      if (limit.relation === "<=") {
        high = limit.bound;
        low = low < high ? low : high - width;
      } else {
        low = limit.bound;
        high = high > low ? high : low + width;
      }
    }
    return sense === "minimise" ? { best: low, worst: high } : { best: -high, worst: -low };
  });
}

/** Return a design's objectives, minimised. */
export function minimised(objectives, metrics) {
  return objectives.map(({ metric, sense }) => (sense === "minimise" ? metrics[metric] : -metrics[metric]));
}

/**
 * Return the non-dominated rows of [{number, values}]; of equal rows the lowest number stays.
 *
 * Sorted by sum, then value by value, a row can only be dominated by one before it.
 */
export function frontOf(rows) {
  const sorted = rows.map((row) => ({ row, sum: row.values.reduce((a, b) => a + b, 0) }));
  sorted.sort((a, b) => a.sum - b.sum || byValues(a.row.values, b.row.values) || a.row.number - b.row.number);
  const front = [];
  for (const { row } of sorted) {
    const k = front.findIndex(({ values }) => values.every((v, i) => v <= row.values[i]));
    if (k < 0) front.push(row);
    else if (k > 8) front.unshift(...front.splice(k, 1)); // who beats one often beats the next
  }
  return front;
}

function byValues(a, b) {
  const k = a.findIndex((v, i) => v !== b[i]);
  return k < 0 ? 0 : a[k] - b[k];
}

/** Return weights by metric as numbers that sum to 1; all equal if none is given. */
export function weightsOf(objectives, given) {
  const missing = Object.keys(given).length ? 0 : 1;
  const raw = objectives.map(({ metric }) => given[metric] ?? missing);
  const total = raw.reduce((a, b) => a + b, 0);
  return total > 0 ? raw.map((w) => w / total) : raw.map(() => 1 / raw.length);
}

/** Return normalised objectives: 0 at the best and 1 at the worst end of the fixed range. */
export function normalised(values, scale) {
  return values.map((v, i) => (v - scale[i].best) / (scale[i].worst - scale[i].best));
}

/** Return max w z + rho sum w z: the weighted compromise, lower is better. */
export function compromise(z, weights) {
  const terms = z.map((v, i) => v * weights[i]);
  return Math.max(...terms) + AUGMENTATION * terms.reduce((a, b) => a + b, 0);
}

/** Return members in order: [{number, values, z, score, rank}]. */
export function ranked(members, scale, weights) {
  const scored = members.map((member) => {
    const z = normalised(member.values, scale);
    return { ...member, z, score: compromise(z, weights), sum: z.reduce((a, b) => a + b, 0) };
  });
  scored.sort((a, b) => a.score - b.score || a.sum - b.sum || a.number - b.number);
  return scored.map((member, k) => ({ ...member, rank: k + 1 }));
}

/** What the page knows of one run, and what it makes of it under the weights and limits in force. */

import { frontOf, isWithin, marginsOf, minimised, ranked, scaleOf, weightsOf } from "./judging.js";
import { entryOf } from "./wording.js";

export class RunModel extends EventTarget {
  constructor(run, study) {
    super();
    this.run = run;
    this.study = study;
    this.status = null;
    this.families = study.family.split("+");
    this.last = "";
    this.points = [];
    this.byNumber = new Map();
    this.brushes = new Map();
    this.picked = null;
    this.limits = study.limit_table.map((limit) => ({ ...limit, plausible: plausible(limit.metric) }));
    this.bounds = this.limits.map((limit) => limit.bound);
    this.objectives = study.objectives.map((o) => ({ ...o, plausible: plausible(o.metric), given: null }));
    // A range that does not follow from the limits is one that the study gives.
    scaleOf(this.objectives, this.limits).forEach((range, k) => {
      const o = this.objectives[k];
      const [low, high] = [Math.min(o.best, o.worst), Math.max(o.best, o.worst)];
      const followed = [range.best, range.worst].map(Math.abs).sort((a, b) => a - b);
      const isNear = (a, b) => Math.abs(a - b) <= 1e-9 * Math.max(1, Math.abs(b));
      if (!isNear(followed[0], low) || !isNear(followed[1], high)) o.given = { low, high };
    });
    this.weights = Object.fromEntries(
      this.objectives.map(({ metric }) => [
        metric,
        study.weights[metric] ?? (Object.keys(study.weights).length ? 0 : 1),
      ]),
    );
    this.startWeights = { ...this.weights };
    this.judge();
  }

  /** The family by which a design on the front is marked: none where the study has but one. */
  markOf({ family }) {
    return this.families.length > 1 ? family : "";
  }

  /** Metrics of objectives and limits, then variables: what may be an axis or a colour. */
  get dimensions() {
    const metrics = [...this.objectives, ...this.limits].map((entry) => entry.metric);
    const variables = this.study.variables.filter((v) => v.kind !== "choice").map((v) => v.name);
    return [...new Set([...metrics, ...variables])];
  }

  /** Limits under the bounds in force. */
  get limitsNow() {
    return this.limits.map((limit, k) => ({ ...limit, bound: this.bounds[k] }));
  }

  /** Limits that were made tighter, as people write them: `magnet_mass <= 1.2 kg`. */
  get tightened() {
    return this.limitsNow
      .filter((limit, k) => limit.bound !== this.limits[k].bound)
      .map(({ metric, relation, bound, unit }) => `${metric} ${relation} ${bound} ${unit}`.trim());
  }

  /** Weights in force, as the command line takes them: `cost=2,magnet_mass=1`. */
  get weightsText() {
    const given = Object.entries(this.weights).filter(([, weight]) => weight > 0);
    return given.map(([metric, weight]) => `${metric}=${weight}`).join(",");
  }

  /** Take newly evaluated designs; what is known already is passed over. */
  add(points) {
    const fresh = [];
    for (const point of points) {
      if (this.byNumber.has(point.candidate)) continue;
      const metrics = named(point.metrics);
      const known = {
        number: point.candidate,
        outcome: point.outcome,
        reason: point.reason ?? "",
        family: point.family ?? this.families[0],
        values: { ...named(point.parameters), ...metrics },
        hasPlace: Object.keys(metrics).length > 0,
      };
      fresh.push(known);
      this.points.push(known);
      this.byNumber.set(known.number, known);
    }
    this.#admit(fresh);
  }

  setWeight(metric, value) {
    this.weights[metric] = value;
    this.#rank();
  }

  setBound(k, value) {
    this.bounds[k] = value;
    this.judge();
  }

  reset() {
    this.weights = { ...this.startWeights };
    this.bounds = this.limits.map((limit) => limit.bound);
    this.brushes.clear();
    this.judge();
  }

  brush(name, range) {
    if (range) this.brushes.set(name, range);
    else this.brushes.delete(name);
    this.dispatchEvent(new Event("change"));
  }

  clearBrushes() {
    this.brushes.clear();
    this.dispatchEvent(new Event("change"));
  }

  pick(number) {
    this.picked = number;
    this.dispatchEvent(new Event("pick"));
  }

  /** Judge everything anew under the limits and weights in force. */
  judge() {
    this.counts = { feasible: 0, infeasible: 0, failed: 0, front: 0, all: 0 };
    this.front = [];
    this.#admit(this.points);
  }

  /** Judge some designs; the front of all is that of the front so far and of these. */
  #admit(points) {
    const limits = this.limitsNow;
    const feasible = [];
    for (const point of points) {
      point.shape = "infeasible";
      if (point.outcome === "failed") point.shape = "failed";
      else if (point.hasPlace && isWithin(limits, point.values)) {
        point.shape = "feasible";
        feasible.push({ number: point.number, values: minimised(this.objectives, point.values) });
      }
      this.counts[point.shape] += 1;
    }
    for (const { number } of this.front) this.byNumber.get(number).shape = "feasible";
    if (feasible.length) this.front = frontOf([...this.front, ...feasible]);
    for (const { number } of this.front) this.byNumber.get(number).shape = "front";
    this.counts.front = this.front.length;
    this.counts.all = this.points.length;
    this.#rank();
  }

  #rank() {
    const scale = scaleOf(this.objectives, this.limitsNow);
    this.ranking = ranked(this.front, scale, weightsOf(this.objectives, this.weights));
    this.rankOf = new Map(this.ranking.map(({ number, rank }) => [number, rank]));
    this.dispatchEvent(new Event("change"));
  }

  /** Whether a design lies inside every brush. */
  isInBrush(point) {
    for (const [name, [low, high]] of this.brushes) {
      const value = point.values[name];
      if (!(value >= low && value <= high)) return false;
    }
    return true;
  }

  /** Ranked members inside the brushes. */
  get shown() {
    return this.ranking.filter(({ number }) => this.isInBrush(this.byNumber.get(number)));
  }

  marginsOf(point) {
    return point.hasPlace ? marginsOf(this.limitsNow, point.values) : [];
  }
}

function plausible(name) {
  const { low, high } = entryOf(name);
  return { low, high };
}

function named(values) {
  return Object.fromEntries(Object.entries(values ?? {}).map(([key, v]) => [entryOf(key).name, v]));
}

/**
 * The live picture of a run: every design at its place, its outcome told by shape and colour.
 *
 * Marks are drawn on a canvas (thousands at once), axes as SVG over it. With the keyboard, arrows go
 * along the front from design to design and Enter opens the candidate.
 */

import { choice, h, onceAFrame, put, s } from "./elements.js";
import { axes, frontItems, PAD, ramp, tipText } from "./front_parts.js";
import { drawMark, drawMember, legendMark, memberLook, MARKS } from "./marks.js";
import { extent, linear, mapColour } from "./scale.js";
import { stripPlot } from "./strip_plot.js";
import { axisText, countText, numberText, title, valueText } from "./wording.js";

const REACH = 16;

/** Return the element of the picture; it redraws itself whenever the model changes. */
export function frontPlot(model, { onOpen }) {
  const [first, second] = model.objectives;
  const view = { x: first.metric, y: (second ?? first).metric, colour: "", isWide: false };
  const canvas = h("canvas", { "aria-hidden": "true" });
  const overlay = s("svg", { class: "axes", "aria-hidden": "true" });
  const tip = h("div", { class: "tip", hidden: true });
  const readout = h("p", { class: "sr-only", "aria-live": "polite" });
  const field = h(
    "div",
    {
      class: "field",
      tabindex: 0,
      role: "application",
      "data-part": "front-plot",
      "aria-label": "Front. Left and right arrow go along it, Enter opens the candidate.",
      onpointermove: (event) => hover(event),
      onpointerleave: () => showTip(null),
      onclick: (event) => pickAt(event),
      ondblclick: () => model.picked !== null && onOpen(model.picked),
      onkeydown: (event) => step(event),
    },
    canvas,
    overlay,
    tip,
  );
  const legend = h("ul", { class: "legend" });
  let places = [];
  let scales = null;
  let told = 0;

  const names = model.dimensions.map((name) => [name, axisText(name)]);
  const controls = h(
    "div",
    { class: "plot-controls" },
    choice("across", names, view.x, (v) => set({ x: v })),
    choice("up", names, view.y, (v) => set({ y: v })),
    choice("colour", [["", "outcome"], ...names], "", (v) => set({ colour: v })),
    h(
      "label",
      { class: "tick" },
      h("input", { type: "checkbox", onchange: (event) => set({ isWide: event.target.checked }) }),
      "all designs",
    ),
  );
  function set(change) {
    Object.assign(view, change);
    redraw();
  }

  const redraw = onceAFrame(() => {
    const box = field.getBoundingClientRect();
    if (!box.width) return;
    const ratio = window.devicePixelRatio || 1;
    canvas.width = Math.round(box.width * ratio);
    canvas.height = Math.round(box.height * ratio);
    overlay.setAttribute("viewBox", `0 0 ${box.width} ${box.height}`);
    const placed = model.points.filter((p) => isFinitePlace(p));
    const kept = placed.filter((p) => view.isWide || p.shape === "front" || p.shape === "feasible");
    const basis = kept.length ? kept : placed;
    const across = extent(
      basis.map((p) => p.values[view.x]),
      0.07,
    ) ?? [0, 1];
    const up = extent(
      basis.map((p) => p.values[view.y]),
      0.07,
    ) ?? [0, 1];
    scales = {
      x: linear(across, [PAD.left, box.width - PAD.right]),
      y: linear(up, [box.height - PAD.bottom, PAD.top]),
      colour: colourScale(kept),
    };
    drawMarks(canvas.getContext("2d"), ratio, box, placed);
    put(overlay, axes(box, across, up, view));
    drawRing(box);
    drawLegend();
    const fresh = model.points.slice(told).map((p) => p.number);
    told = model.points.length;
    if (fresh.length) field.dispatchEvent(new CustomEvent("drawn", { bubbles: true, detail: fresh }));
  });

  const isFinitePlace = (p) => Number.isFinite(p.values[view.x]) && Number.isFinite(p.values[view.y]);

  function colourScale(points) {
    const range = view.colour
      ? extent(points.map((p) => p.values[view.colour]).filter(Number.isFinite))
      : null;
    return range && { range, of: linear(range, [0, 1]) };
  }

  function drawMarks(pen, ratio, box, placed) {
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, box.width, box.height);
    pen.save();
    pen.beginPath();
    pen.rect(
      PAD.left - 6,
      PAD.top - 6,
      box.width - PAD.left - PAD.right + 12,
      box.height - PAD.top - PAD.bottom + 12,
    );
    pen.clip();
    places = [];
    const style = getComputedStyle(field);
    const looks = new Map(model.families.map((family) => [family, memberLook(style, model.markOf({ family }))]));
    const rim = style.getPropertyValue("--soft-ink");
    for (const shape of Object.keys(MARKS)) {
      const look = MARKS[shape].look(style);
      for (const point of placed) {
        if (point.shape !== shape) continue;
        const [x, y] = [scales.x(point.values[view.x]), scales.y(point.values[view.y])];
        const isDim = !model.isInBrush(point);
        const value = point.values[view.colour];
        const hasColour =
          scales.colour && (shape === "front" || shape === "feasible") && Number.isFinite(value);
        pen.globalAlpha = isDim ? 0.15 : MARKS[shape].alpha;
        const shown = hasColour ? { colour: mapColour(scales.colour.of(value)), edge: rim } : look;
        if (shape === "front") {
          drawMember(pen, model.markOf(point), x, y, hasColour ? shown : looks.get(point.family));
        } else drawMark(pen, shape, x, y, shown);
        if (!isDim) places.push({ x, y, point });
      }
    }
    pen.restore();
  }

  function drawRing(box) {
    const point = model.byNumber.get(model.picked);
    if (!point || !isFinitePlace(point)) return;
    const [x, y] = [scales.x(point.values[view.x]), scales.y(point.values[view.y])];
    if (x < PAD.left || x > box.width - PAD.right || y < PAD.top || y > box.height - PAD.bottom) return;
    overlay.append(
      s("circle", { class: "ring", cx: x, cy: y, r: 10 }),
      s("text", { class: "ring-text", x: x + 14, y: y - 9 }, String(point.number)),
    );
  }

  function drawLegend() {
    const counts = model.counts;
    put(
      legend,
      frontItems(model),
      [
        ["feasible", "feasible, dominated"],
        ["infeasible", "infeasible"],
        ["failed", "failed"],
      ].map(([shape, text]) =>
        h(
          "li",
          { "data-shape": shape },
          legendMark(shape),
          ` ${text} `,
          h("b", {}, countText(shape === "feasible" ? counts.feasible - counts.front : counts[shape])),
        ),
      ),
      scales?.colour &&
        h(
          "li",
          { class: "ramp" },
          numberText(scales.colour.range[0]),
          ramp(),
          `${numberText(scales.colour.range[1])} ${axisText(view.colour)}`,
        ),
    );
  }

  function nearest(event) {
    const box = field.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left, event.clientY - box.top];
    let found = null;
    let best = REACH ** 2;
    for (const place of places) {
      // members of the front are what is looked for: they win over a nearer mark of another kind
      const bonus = place.point.shape === "front" ? 0.35 : 1;
      const distance = ((place.x - x) ** 2 + (place.y - y) ** 2) * bonus;
      if (distance < best) [found, best] = [place, distance];
    }
    return found;
  }

  function hover(event) {
    showTip(nearest(event));
  }

  function showTip(place) {
    tip.hidden = !place;
    if (!place) return;
    put(tip, tipText(model, place.point, view));
    const width = field.clientWidth;
    tip.style.left = `${Math.min(place.x + 14, width - 190)}px`;
    tip.style.top = `${Math.max(0, place.y - 20)}px`;
  }

  function pickAt(event) {
    const place = nearest(event);
    model.pick(place ? place.point.number : null);
  }

  function step(event) {
    if (event.key === "Enter" && model.picked !== null) return onOpen(model.picked);
    const move = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
    if (!move) return;
    event.preventDefault();
    const along = model.shown.map(({ number }) => model.byNumber.get(number));
    along.sort((a, b) => a.values[view.x] - b.values[view.x] || a.number - b.number);
    if (!along.length) return;
    const at = along.findIndex((p) => p.number === model.picked);
    const next = along[at < 0 ? 0 : Math.min(Math.max(at + move, 0), along.length - 1)];
    model.pick(next.number);
    put(
      readout,
      `candidate ${next.number}, rank ${model.rankOf.get(next.number)}, ` +
        model.objectives
          .map((o) => `${title(o.metric)} ${valueText(o.metric, next.values[o.metric])}`)
          .join(", "),
    );
  }

  model.addEventListener("change", redraw);
  model.addEventListener("pick", redraw);
  new ResizeObserver(redraw).observe(field);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  return h(
    "section",
    { class: "panel front-plot" },
    h("h2", {}, "Front"),
    controls,
    legend,
    field,
    readout,
    stripPlot(model),
  );
}

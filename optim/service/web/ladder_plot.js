/**
 * Parallel coordinates as a ladder: a rung for each metric, a line down the rungs for each design.
 *
 * Better is to the right wherever the study says what is better. A rung's two stops cut designs off;
 * they move by pointer and by arrow keys. Lying rungs leave room for words and fit a narrow screen.
 */

import { h, onceAFrame, put, s } from "./elements.js";
import { memberLook } from "./marks.js";
import { extent, linear } from "./scale.js";
import { axisText, countText, numberText, title } from "./wording.js";

const PAD = 16;
const RUNG = 58;
const AXIS = 34;

export function ladderPlot(model, { onOpen }) {
  let names = model.objectives.map((o) => o.metric);
  const isTurned = (name) => {
    const aim = model.objectives.find((o) => o.metric === name);
    if (aim) return aim.sense === "minimise";
    return model.limits.some((l) => l.metric === name && l.relation === "<=");
  };
  const hasBetter = (name) => [...model.objectives, ...model.limits].some((e) => e.metric === name);
  const canvas = h("canvas", { "aria-hidden": "true" });
  const overlay = s("svg", { class: "axes rungs" });
  const field = h(
    "div",
    {
      class: "ladder",
      onclick: (event) => pickAt(event),
      ondblclick: () => model.picked !== null && onOpen(model.picked),
    },
    canvas,
    overlay,
  );
  const count = h("p", { class: "strip", "aria-live": "polite" });
  const clear = h("button", { type: "button", class: "quiet", onclick: () => clearAll() }, "clear ranges");
  let rungs = [];

  function clearAll() {
    model.clearBrushes();
  }

  const boxes = h(
    "details",
    { class: "rows" },
    h("summary", {}, "axes"),
    h(
      "div",
      { class: "boxes" },
      model.dimensions.map((name) =>
        h(
          "label",
          { class: "tick" },
          h("input", {
            type: "checkbox",
            checked: names.includes(name),
            onchange: (event) => toggle(name, event.target.checked),
          }),
          title(name),
        ),
      ),
    ),
  );

  function toggle(name, isOn) {
    names = model.dimensions.filter((n) => (n === name ? isOn : names.includes(n)));
    build();
    model.brush(name, null);
  }

  function build() {
    rungs = names.map((name, k) => makeRung(name, k));
    put(
      overlay,
      rungs.map((rung) => rung.group),
    );
    field.style.height = `${names.length * RUNG + 12}px`;
    redraw();
  }

  function makeRung(name, k) {
    const y = k * RUNG + AXIS;
    const line = s("line", { class: "spine", y1: y, y2: y });
    const kept = s("line", { class: "kept", y1: y, y2: y });
    const label = s("text", { class: "rung-name", x: PAD, y: y - 17 }, axisText(name));
    const better = s(
      "text",
      { class: "better", y: y - 17, "text-anchor": "end" },
      hasBetter(name) ? "better →" : "",
    );
    const rung = { name, y, line, kept, better, domain: [0, 1], scale: null };
    rung.stops = ["low", "high"].map((end) => makeStop(rung, end));
    rung.group = s(
      "g",
      {},
      line,
      kept,
      label,
      better,
      rung.stops.map((stop) => stop.group),
    );
    return rung;
  }

  function makeStop(rung, end) {
    const text = s("text", { y: rung.y + 20 });
    const shape = s("path", { class: "stop", d: `M0 ${rung.y - 8}V${rung.y + 8}` });
    const grip = s("rect", { class: "grip", x: -12, y: rung.y - 14, width: 24, height: 28 });
    const group = s(
      "g",
      {
        class: "handle",
        role: "slider",
        tabindex: 0,
        "data-metric": rung.name,
        "data-end": end,
        "aria-label": `${title(rung.name)}, ${end === "low" ? "least" : "most"}`,
        onpointerdown: (event) => {
          group.setPointerCapture(event.pointerId);
          event.preventDefault();
          group.focus();
        },
        onpointermove: (event) =>
          group.hasPointerCapture(event.pointerId) &&
          move(rung, end, rung.scale.back(event.clientX - field.getBoundingClientRect().left)),
        onkeydown: (event) => stepStop(event, rung, end),
        onclick: (event) => event.stopPropagation(),
      },
      grip,
      shape,
      text,
    );
    return { end, group, text, shape };
  }

  function stepStop(event, rung, end) {
    const toRight = rung.scale(rung.domain[1]) > rung.scale(rung.domain[0]) ? 1 : -1;
    const by = {
      ArrowRight: toRight,
      ArrowLeft: -toRight,
      ArrowUp: 1,
      ArrowDown: -1,
      PageUp: 5,
      PageDown: -5,
    }[event.key];
    if (!by) return;
    event.preventDefault();
    const [low, high] = model.brushes.get(rung.name) ?? rung.domain;
    move(rung, end, (end === "low" ? low : high) + (by * (rung.domain[1] - rung.domain[0])) / 50);
  }

  function move(rung, end, value) {
    let [low, high] = model.brushes.get(rung.name) ?? [-Infinity, Infinity];
    const [least, most] = rung.domain;
    const edge = 0.004 * (most - least);
    if (end === "low") low = value <= least + edge ? -Infinity : Math.min(value, Math.min(high, most));
    else high = value >= most - edge ? Infinity : Math.max(value, Math.max(low, least));
    model.brush(rung.name, low === -Infinity && high === Infinity ? null : [low, high]);
  }

  const redraw = onceAFrame(() => {
    const box = field.getBoundingClientRect();
    if (!box.width) return;
    const ratio = window.devicePixelRatio || 1;
    canvas.width = Math.round(box.width * ratio);
    canvas.height = Math.round(box.height * ratio);
    overlay.setAttribute("viewBox", `0 0 ${box.width} ${box.height}`);
    const members = model.ranking.map(({ number }) => model.byNumber.get(number));
    for (const rung of rungs) placeRung(rung, box.width, members);
    drawLines(canvas.getContext("2d"), ratio, box, members);
    put(
      count,
      members.length > 0 &&
        `${countText(model.shown.length)} of ${countText(members.length)} on the front lie within the ranges`,
    );
    clear.hidden = model.brushes.size === 0;
  });

  function placeRung(rung, width, members) {
    const values = members.map((p) => p.values[rung.name]);
    const [least, most] = extent(values, 0.02) ?? [0, 1];
    // Room at the ends, but none below zero for what is never negative.
    rung.domain = [values.every((v) => v >= 0) ? Math.max(least, 0) : least, most];
    const ends = isTurned(rung.name) ? [width - PAD, PAD] : [PAD, width - PAD];
    rung.scale = linear(rung.domain, ends);
    const brush = model.brushes.get(rung.name) ?? [-Infinity, Infinity];
    const [low, high] = [Math.max(brush[0], rung.domain[0]), Math.min(brush[1], rung.domain[1])];
    for (const [key, x] of [
      ["x1", PAD],
      ["x2", width - PAD],
    ])
      rung.line.setAttribute(key, x);
    rung.kept.setAttribute("x1", rung.scale(low));
    rung.kept.setAttribute("x2", rung.scale(high));
    rung.kept.classList.toggle("brushed", model.brushes.has(rung.name));
    rung.better.setAttribute("x", width - PAD);
    rung.stops.forEach((stop, k) => {
      const value = k === 0 ? low : high;
      const x = rung.scale(value);
      stop.group.setAttribute("transform", `translate(${x} 0)`);
      stop.group.setAttribute("aria-valuemin", rung.domain[0]);
      stop.group.setAttribute("aria-valuemax", rung.domain[1]);
      stop.group.setAttribute("aria-valuenow", value);
      stop.group.setAttribute("aria-valuetext", numberText(value));
      stop.text.setAttribute("text-anchor", x < 60 ? "start" : x > width - 60 ? "end" : "middle");
      stop.text.textContent = numberText(value);
    });
  }

  function drawLines(pen, ratio, box, members) {
    const style = getComputedStyle(field);
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, box.width, box.height);
    const outside = style.getPropertyValue("--grid");
    const colourOf = (point) => memberLook(style, model.markOf(point)).colour;
    const colours = new Map(model.families.map((family) => [family, colourOf({ family })]));
    const order = [...members].reverse(); // the best last, on top
    for (const isIn of [false, true]) {
      pen.lineWidth = 1;
      for (const point of order) {
        if (model.isInBrush(point) !== isIn) continue;
        pen.strokeStyle = isIn ? colours.get(point.family) : outside;
        pen.globalAlpha = isIn ? Math.max(0.16, Math.min(0.9, 60 / members.length)) : 0.6;
        trace(pen, point);
      }
    }
    const picked = model.byNumber.get(model.picked);
    if (picked?.hasPlace) {
      pen.globalAlpha = 1;
      pen.lineWidth = 2.5;
      pen.strokeStyle = style.getPropertyValue("--ink");
      trace(pen, picked);
    }
  }

  function trace(pen, point) {
    pen.beginPath();
    rungs.forEach((rung, k) => {
      const x = Math.min(Math.max(rung.scale(point.values[rung.name]), 3), field.clientWidth - 3);
      if (k === 0) pen.moveTo(x, rung.y);
      else pen.lineTo(x, rung.y);
    });
    pen.stroke();
  }

  /** Pick the design whose line passes nearest. */
  function pickAt(event) {
    const box = field.getBoundingClientRect();
    const [x, y] = [event.clientX - box.left, event.clientY - box.top];
    const at = Math.min(Math.max((y - AXIS) / RUNG, 0), rungs.length - 1.000001);
    const [k, share] = [Math.floor(at), at - Math.floor(at)];
    const below = rungs[Math.min(k + 1, rungs.length - 1)];
    let [found, best] = [null, 12];
    for (const { number } of model.shown) {
      const values = model.byNumber.get(number).values;
      const here =
        rungs[k].scale(values[rungs[k].name]) * (1 - share) + below.scale(values[below.name]) * share;
      if (Math.abs(here - x) < best) [found, best] = [number, Math.abs(here - x)];
    }
    model.pick(found);
  }

  model.addEventListener("change", redraw);
  model.addEventListener("pick", redraw);
  new ResizeObserver(redraw).observe(field);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redraw);
  build();
  return h(
    "section",
    { class: "panel" },
    h("div", { class: "panel-head" }, h("h2", {}, "Trade-offs"), boxes, clear),
    field,
    count,
  );
}

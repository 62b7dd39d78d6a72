/** Curves and bars of a candidate, drawn as SVG with units on every axis and a reading under the pointer. */

import { h, put, s } from "./elements.js";
import { extent, linear, tickText, ticks } from "./scale.js";
import { numberText } from "./wording.js";

const W = 460;
const H = 260;
const PAD = { left: 52, right: 24, top: 10, bottom: 40 };
const STROKES = ["", "7 4", "2 3", "10 3 2 3"];

/**
 * Return curves over a common abscissa.
 *
 * `series` are {name, values, colour}, false ones left out; each has its own dash too. `marks` are {x, y, text};
 * `levels` are {value, text}, lines across.
 */
export function curves({ label, x, xTitle, yTitle, series: wanted, marks = [], levels = [], from0 = true }) {
  const series = wanted.filter(Boolean);
  const all = series.flatMap((c) => c.values.filter((v) => v !== null));
  const range = extent([...all, ...levels.map((l) => l.value), ...(from0 ? [0] : [])], 0.04) ?? [0, 1];
  if (from0 && range[0] < 0 && Math.min(...all) >= 0) range[0] = 0;
  const toX = linear([x[0], x.at(-1)], [PAD.left, W - PAD.right]);
  const toY = linear(range, [H - PAD.bottom, PAD.top]);
  const pointer = s("line", { class: "pointer", y1: PAD.top, y2: H - PAD.bottom, visibility: "hidden" });
  const reading = h("p", { class: "reading", "aria-live": "off" });
  const lines = series.map((c, k) =>
    s("path", {
      d: pathOf(x, c.values, toX, toY),
      fill: "none",
      stroke: `var(--${c.colour})`,
      "stroke-width": 2,
      "stroke-dasharray": STROKES[k % STROKES.length],
    }),
  );
  const picture = s(
    "svg",
    { class: "chart", viewBox: `0 0 ${W} ${H}`, role: "img", "aria-label": label, tabindex: 0 },
    frame(toX, toY, [x[0], x.at(-1)], range, xTitle, yTitle),
    levels.map((l) => [
      s("line", { class: "level", x1: PAD.left, x2: W - PAD.right, y1: toY(l.value), y2: toY(l.value) }),
      s("text", { class: "note", x: PAD.left + 6, y: toY(l.value) - 4 }, l.text),
    ]),
    lines,
    marks.map((m) => [
      s("circle", { class: "ring", cx: toX(m.x), cy: toY(m.y), r: 5 }),
      s("text", { class: "note", x: toX(m.x), y: toY(m.y) - 9, "text-anchor": "middle" }, m.text),
    ]),
    pointer,
  );
  let at = -1;
  const read = (k) => {
    at = Math.min(Math.max(k, 0), x.length - 1);
    pointer.setAttribute("x1", toX(x[at]));
    pointer.setAttribute("x2", toX(x[at]));
    pointer.setAttribute("visibility", "visible");
    put(
      reading,
      `${xTitle.replace(/ \[.*/, "")} ${numberText(x[at])}: `,
      series.map((c, i) => [i ? ", " : "", `${c.name} `, h("b", {}, numberText(c.values[at]))]),
    );
  };
  picture.addEventListener("pointermove", (event) => {
    const box = picture.getBoundingClientRect();
    const value = toX.back(((event.clientX - box.left) * W) / box.width);
    read(nearestIndex(x, value));
  });
  picture.addEventListener("keydown", (event) => {
    const move = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!move) return;
    event.preventDefault();
    read(at < 0 ? 0 : at + move);
  });
  return h("figure", { class: "curves" }, keyOf(series), picture, reading);
}

function keyOf(series) {
  return h(
    "figcaption",
    { class: "key" },
    series.map((c, k) =>
      h(
        "span",
        {},
        s(
          "svg",
          { viewBox: "0 0 26 8", width: 26, height: 8, "aria-hidden": "true" },
          s("path", {
            d: "M0 4H26",
            stroke: `var(--${c.colour})`,
            "stroke-width": 2,
            "stroke-dasharray": STROKES[k % STROKES.length],
          }),
        ),
        ` ${c.name}`,
      ),
    ),
  );
}

/** Return grid, ticks and titles of a picture's axes. */
export function frame(toX, toY, across, up, xTitle, yTitle, { width = W, height = H } = {}) {
  const xs = ticks(across, 6);
  const ys = ticks(up, 5);
  const foot = height - PAD.bottom;
  return [
    xs.map((v) => s("line", { class: "grid", x1: toX(v), x2: toX(v), y1: PAD.top, y2: foot })),
    ys.map((v) => s("line", { class: "grid", x1: PAD.left, x2: width - PAD.right, y1: toY(v), y2: toY(v) })),
    xs.map((v) => s("text", { x: toX(v), y: foot + 15, "text-anchor": "middle" }, tickText(v, xs))),
    ys.map((v) => s("text", { x: PAD.left - 7, y: toY(v) + 4, "text-anchor": "end" }, tickText(v, ys))),
    s("path", { class: "spine", d: `M${PAD.left} ${PAD.top}V${foot}H${width - PAD.right}` }),
    s("text", { class: "axis", x: width - PAD.right, y: height - 6, "text-anchor": "end" }, xTitle),
    s(
      "text",
      { class: "axis", "text-anchor": "end", transform: `translate(13 ${PAD.top}) rotate(-90)` },
      yTitle,
    ),
  ];
}

function pathOf(x, values, toX, toY) {
  let isPen = false;
  return values
    .map((v, k) => {
      if (v === null || !Number.isFinite(v)) {
        isPen = false;
        return "";
      }
      const step = `${isPen ? "L" : "M"}${toX(x[k]).toFixed(1)} ${toY(v).toFixed(1)}`;
      isPen = true;
      return step;
    })
    .join("");
}

function nearestIndex(x, value) {
  let best = 0;
  x.forEach((v, k) => {
    if (Math.abs(v - value) < Math.abs(x[best] - value)) best = k;
  });
  return best;
}

/** Return stacked bars, one a case, with their parts told in words and numbers below. */
export function stacked({ label, parts, cases, unit }) {
  const most = Math.max(...cases.map((c) => c.total), 1e-9);
  return h(
    "figure",
    { class: "stacked", "aria-label": label },
    h(
      "figcaption",
      { class: "key" },
      parts.map((p) => h("span", {}, h("i", { class: `swatch ${p.name}` }), ` ${p.text}`)),
    ),
    cases.map((c) =>
      h(
        "div",
        { class: "case" },
        h(
          "div",
          { class: "case-head" },
          h("b", {}, c.name),
          h("span", { class: "soft" }, ` ${c.condition}`),
          h("b", { class: "number" }, `${numberText(c.total)} ${unit}`),
        ),
        barOf(parts, c.values, most),
        h(
          "p",
          { class: "soft" },
          parts.map((p, k) => [k ? ", " : "", `${p.text} ${smallText(c.values[k])}`]),
        ),
      ),
    ),
  );
}

/** Return a loss as short as its place in the sum deserves. */
const smallText = (value) => (Math.abs(value) < 0.05 ? "0" : value.toFixed(value >= 10 ? 0 : 1));

function barOf(parts, values, most) {
  let x = 0;
  const pieces = values.map((v, k) => {
    const width = (100 * Math.max(v, 0)) / most;
    const piece = s("rect", { class: `swatch ${parts[k].name}`, x, y: 0, width, height: 10 });
    x += width;
    return piece;
  });
  return s(
    "svg",
    { class: "bar", viewBox: "0 0 100 10", preserveAspectRatio: "none", "aria-hidden": "true" },
    pieces,
  );
}

/** What stands around the marks of the front's picture: axes, colour ramp, the words of a mark. */

import { h, s } from "./elements.js";
import { memberMark } from "./marks.js";
import { linear, mapColour, tickText, ticks } from "./scale.js";
import { axisText, countText, title, valueText } from "./wording.js";

/** Room around the marks. */
export const PAD = { left: 58, right: 14, top: 12, bottom: 44 };

/** Return grid, ticks and titles of the picture's axes. */
export function axes(box, across, up, view) {
  const { left, right, top, bottom } = PAD;
  const x = linear(across, [left, box.width - right]);
  const y = linear(up, [box.height - bottom, top]);
  const xs = ticks(across, Math.max(4, Math.round(box.width / 110)));
  const ys = ticks(up, Math.max(3, Math.round(box.height / 70)));
  const foot = box.height - bottom;
  return [
    xs.map((v) => s("line", { class: "grid", x1: x(v), x2: x(v), y1: top, y2: foot })),
    ys.map((v) => s("line", { class: "grid", x1: left, x2: box.width - right, y1: y(v), y2: y(v) })),
    xs.map((v) => s("text", { x: x(v), y: foot + 16, "text-anchor": "middle" }, tickText(v, xs))),
    ys.map((v) => s("text", { x: left - 8, y: y(v) + 4, "text-anchor": "end" }, tickText(v, ys))),
    s("path", { class: "spine", d: `M${left} ${top}V${foot}H${box.width - right}` }),
    s(
      "text",
      { class: "axis", x: box.width - right, y: box.height - 8, "text-anchor": "end" },
      axisText(view.x),
    ),
    s(
      "text",
      { class: "axis", "text-anchor": "end", transform: `translate(14 ${top}) rotate(-90)` },
      axisText(view.y),
    ),
  ];
}

/** Return the colours of a range from its least to its most. */
export function ramp() {
  const steps = Array.from({ length: 16 }, (_, k) =>
    s("rect", { x: 5 * k, y: 0, width: 5.5, height: 10, fill: mapColour(k / 15) }),
  );
  return s("svg", { viewBox: "0 0 80 10", width: 80, height: 10, "aria-hidden": "true" }, steps);
}

/** Return what is told of the design under the pointer. */
export function tipText(model, point, view) {
  const rank = model.rankOf.get(point.number);
  const shown = [...new Set([...model.objectives.map((o) => o.metric), view.x, view.y])];
  const words = {
    front: `rank ${rank}`,
    feasible: "feasible, dominated",
    infeasible: "infeasible",
    failed: "failed",
  };
  const missed = point.shape === "infeasible" ? model.marginsOf(point).filter((m) => m.share < 0) : [];
  return [
    h("b", {}, `design ${point.number}`),
    ` ${words[point.shape]}`,
    model.families.length > 1 && `, ${point.family}`,
    shown.map((name) => h("div", {}, `${title(name)} `, h("b", {}, valueText(name, point.values[name])))),
    missed.length > 0 &&
      h(
        "div",
        { class: "missed" },
        `misses ${missed.map((m) => title(m.limit.metric).toLowerCase()).join(", ")}`,
      ),
  ];
}

/** Return the legend's lines of the front: one, or one for each family of rotors. */
export function frontItems(model) {
  const isOne = model.families.length === 1;
  return model.families.map((family) => {
    const members = model.front.filter(({ number }) => isOne || model.byNumber.get(number).family === family);
    const text = isOne ? "front" : `front, ${family}`;
    return h(
      "li",
      { "data-shape": "front" },
      memberMark(model.markOf({ family })),
      ` ${text} `,
      h("b", {}, countText(members.length)),
    );
  });
}
